//! The states of a job that phrases belong to, with what may be said in each.
//!
//! The same grammar as in use, for a few states that stand for all: what may not be said at a moment is not listened for
//! there, and a number can be said only where one is awaited.

use crate::dialogue::{Asks, Grammar, Language, Meaning};
use crate::job::{Ask, Command, Expect};
use crate::listen::{self, Denying, Harm, Open, Phrase};
use crate::quantity::{AngleUnit, LengthUnit, Quantity, TorqueUnit, Unit};
use crate::session::{denying, phrases, readings, without_adapters};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::collections::HashSet;
use std::sync::Arc;

/// A state of a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Moment {
    /// A torque stage is pending, with no adapter in the toolbox. The moment that most of a job is.
    Tightening,
    /// The same with adapters.
    Adapters,
    /// An angle stage is pending.
    Turning,
    /// A gap is to be measured.
    Measuring,
    /// A yes-or-no question stands.
    Question,
    /// It is asked how far an interrupted angle went.
    Interrupted,
    /// It is asked which of two is broken.
    WhichPlace,
    /// A note is being recorded.
    Note,
    /// Not listening but for the phrase to begin again.
    Asleep,
    /// A tightening at which a number is a reading without a word before it: not a state of a job so long as the language
    /// wants that word, but the nearest to one for recordings that hold a number and nothing else.
    Bare,
    /// Words of people that were learnt: not a state of a job, but the only place where words that are no commands are heard.
    Words,
    /// Only numbers: not a state of a job, but the numbers from 0 to 100 as a list, which older counts of people's numbers
    /// were made with.
    Numbers,
}

/// Phrases that may be said at a moment.
#[derive(Clone)]
pub struct Allowed {
    /// As the listener is given them.
    pub phrases: Vec<Phrase>,
    /// Readings, of which there is no list, as a session gives them to its listener.
    pub open: Option<Arc<dyn Open>>,
    /// Words that stop a phrase.
    pub denying: Denying,
    grammar: Grammar,
}

impl Moment {
    /// All of them; a phrase is played at the first where it means something.
    pub const ALL: [Moment; 12] = [
        Moment::Tightening,
        Moment::Question,
        Moment::Interrupted,
        Moment::Measuring,
        Moment::Turning,
        Moment::WhichPlace,
        Moment::Adapters,
        Moment::Note,
        Moment::Asleep,
        Moment::Bare,
        Moment::Words,
        Moment::Numbers,
    ];

    /// Is it a state that a job can be in?
    pub fn is_of_a_job(self) -> bool {
        !matches!(self, Moment::Bare | Moment::Words | Moment::Numbers)
    }

    /// Its name in tables.
    pub fn name(self) -> &'static str {
        match self {
            Moment::Tightening => "tightening",
            Moment::Adapters => "tightening, with adapters",
            Moment::Turning => "turning by an angle",
            Moment::Measuring => "measuring",
            Moment::Question => "question",
            Moment::Interrupted => "interrupted turn",
            Moment::WhichPlace => "which one",
            Moment::Note => "recording a note",
            Moment::Asleep => "not listening",
            Moment::Bare => "tightening, bare numbers",
            Moment::Words => "words learnt",
            Moment::Numbers => "numbers alone",
        }
    }

    /// What may be said then.
    pub fn allowed(self, language: &Language) -> Allowed {
        let fastener = Expect { steps: 40, fastener: true, ..Expect::default() };
        let torque = Some(Quantity::new(70.into(), Unit::Torque(TorqueUnit::NewtonMetre)));
        let tightening = Expect { reading: torque, ..fastener.clone() };
        let grammar = match self {
            Moment::Tightening => without_adapters(language.grammar(&tightening, true)),
            Moment::Adapters => language.grammar(&tightening, true),
            Moment::Turning => {
                let angle = Some(Quantity::new(60.into(), Unit::Angle(AngleUnit::Degree)));
                without_adapters(language.grammar(&Expect { reading: angle, ..fastener }, true))
            }
            Moment::Measuring => {
                let gap = Some(Quantity::new(Decimal::new(25, 1), Unit::Length(LengthUnit::Millimetre)));
                language.grammar(&Expect { reading: gap, fastener: false, ..fastener }, true)
            }
            Moment::Question => without_adapters(language.grammar(&Expect { yes_no: true, ..fastener }, true)),
            Moment::Interrupted => without_adapters(language.grammar(&Expect { angle: true, ..fastener }, true)),
            Moment::WhichPlace => {
                let places = vec!["front".to_owned(), "rear".to_owned()];
                without_adapters(language.grammar(&Expect { places, ..fastener }, true))
            }
            Moment::Note => language.note_grammar(),
            Moment::Asleep => language.grammar(&fastener, false),
            Moment::Bare => return bare(language),
            Moment::Words => return words(language, &[]),
            Moment::Numbers => return numbers(language),
        };
        let open = Some(readings(grammar.clone()));
        Allowed { phrases: phrases(&grammar), open, denying: denying(language), grammar }
    }
}

impl Allowed {
    /// The same where values can be asked for by name.
    pub fn with_values(self, language: &Language, asks: &Asks) -> Allowed {
        let grammar = language.with_values(self.grammar, asks, &[], false);
        Allowed { phrases: phrases(&grammar), open: Some(readings(grammar.clone())), grammar, ..self }
    }

    /// Is it in the list, and means something?
    pub fn lists(&self, text: &str) -> bool {
        self.phrases.iter().any(|phrase| phrase.text == text && phrase.harm != Harm::Decoy)
    }

    /// Does this phrase mean something, in the list or not?
    pub fn means(&self, text: &str) -> bool {
        self.lists(text) || self.open.as_ref().is_some_and(|open| open.phrase(text).is_some())
    }

    /// What may have been said where this was heard, as the listener takes it.
    pub fn offered(&self, heard: &str) -> Cow<'_, [Phrase]> {
        listen::offered(&self.phrases, self.open.as_deref(), heard)
    }

    /// Does whoever says this only hear what is still to do?
    pub fn is_not_done(&self, text: &str) -> bool {
        self.grammar.lookup(text) == Some(&Meaning::Command(Command::Ask(Ask::ToDo)))
    }

    /// Does a longer phrase begin with this one?
    pub fn could_go_on(&self, text: &str) -> bool {
        let longer = |phrase: &Phrase| phrase.text.strip_prefix(text).is_some_and(|rest| rest.starts_with(' '));
        self.phrases.iter().any(longer) || self.open.as_ref().is_some_and(|open| open.could_go_on(text))
    }

    /// Do two phrases mean the same?
    pub fn same(&self, one: &str, other: &str) -> bool {
        one == other || self.grammar.meaning(one).is_some_and(|meaning| self.grammar.meaning(other) == Some(meaning))
    }
}

/// The numbers that are worth a reading by themselves.
fn to_a_hundred(language: &Language) -> Vec<Phrase> {
    let numbers = (0..=100).flat_map(|n| language.numbers().variants(n));
    numbers.map(|text| Phrase { text, harm: Harm::Claims }).collect()
}

fn bare(language: &Language) -> Allowed {
    let tightening = Moment::Tightening.allowed(language);
    let mut phrases = to_a_hundred(language);
    let mut known: HashSet<String> = phrases.iter().map(|phrase| phrase.text.clone()).collect();
    phrases.extend(tightening.phrases.into_iter().filter(|phrase| known.insert(phrase.text.clone())));
    Allowed { phrases, ..tightening }
}

/// Numbers from 0 to 100, and what talk is made of.
fn numbers(language: &Language) -> Allowed {
    among(language, to_a_hundred(language))
}

/// Words by themselves as claims, and what talk is made of.
pub fn words(language: &Language, words: &[&str]) -> Allowed {
    among(language, words.iter().map(|word| Phrase { text: (*word).to_owned(), harm: Harm::Claims }).collect())
}

fn among(language: &Language, mut phrases: Vec<Phrase>) -> Allowed {
    let decoys = language.grammar(&Expect::default(), true).without(|_| true);
    for (text, _) in decoys.iter() {
        if phrases.iter().all(|phrase| phrase.text != text) {
            phrases.push(Phrase { text: text.to_owned(), harm: Harm::Decoy });
        }
    }
    Allowed { phrases, open: None, denying: denying(language), grammar: Grammar::default() }
}

/// Every moment with what may be said then; where a job listens, with values asked for by name.
pub fn all(language: &Language, asks: &Asks) -> Vec<(Moment, Allowed)> {
    let listens = |moment: Moment| moment.is_of_a_job() && !matches!(moment, Moment::Note | Moment::Asleep);
    let allowed = |moment: Moment| match moment.allowed(language) {
        allowed if listens(moment) && asks.phrases() > 0 => allowed.with_values(language, asks),
        allowed => allowed,
    };
    Moment::ALL.into_iter().map(|moment| (moment, allowed(moment))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_heard_only_where_one_is_awaited() {
        let language = Language::english();
        let all = all(&language, &Asks::default());
        let at = |moment: Moment, text: &str| all.iter().any(|(m, allowed)| *m == moment && allowed.means(text));
        assert!(at(Moment::Tightening, "reading seventy") && !at(Moment::Question, "reading seventy"));
        assert!(at(Moment::Measuring, "reading two point five") && at(Moment::Tightening, "reading two point five"));
        let listed = all.iter().find(|(_, allowed)| allowed.lists("reading two point five"));
        assert_eq!(listed.map(|(moment, _)| *moment), Some(Moment::Measuring));
        assert!(at(Moment::Question, "yes") && !at(Moment::Tightening, "yes"));
        assert!(at(Moment::Numbers, "seventy") && at(Moment::Bare, "seventy") && !at(Moment::Tightening, "seventy"));
        assert!(at(Moment::Bare, "next step") && at(Moment::Bare, "reading seventy") && !at(Moment::Bare, "yes"));
        assert!(at(Moment::WhichPlace, "the front one") && at(Moment::Asleep, "start listening"));
        assert!(at(Moment::Adapters, "no adapter") && !at(Moment::Tightening, "no adapter"));
    }

    #[test]
    fn a_reading_that_is_in_no_list_is_heard_with_its_neighbours() {
        let allowed = Moment::Tightening.allowed(&Language::english());
        let text = "reading three hundred and six point two five";
        assert!(allowed.phrases.iter().all(|phrase| phrase.text != text) && allowed.means(text));
        assert!(allowed.offered(text).iter().any(|phrase| phrase.text == text && phrase.harm == Harm::Claims));
        assert!(allowed.offered(text).len() > allowed.phrases.len() + 1);
        assert_eq!(allowed.offered("next step").len(), allowed.phrases.len());
        assert!(allowed.same(text, "reading three hundred six point two five") && allowed.could_go_on(text));
    }

    #[test]
    fn wordings_of_one_meaning_are_the_same() {
        let allowed = Moment::Tightening.allowed(&Language::english());
        assert!(allowed.same("next step", "carry on"));
        assert!(!allowed.same("reading thirty", "reading thirteen"));
        assert!(!allowed.same("next door", "next week"));
        assert!(allowed.could_go_on("reading thirty") && !allowed.could_go_on("reading thirty newton metres"));
    }
}
