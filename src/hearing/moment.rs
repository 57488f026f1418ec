//! The states of a job that phrases belong to, with what may be said in each.
//!
//! The same grammar as in use, for a few states that stand for all: what may not be said at a moment is not listened for
//! there, and a number can be said only where one is awaited.

use crate::dialogue::{Grammar, Language, Meaning};
use crate::job::{Ask, Command, Expect};
use crate::listen::{Denying, Harm, Phrase};
use crate::quantity::{AngleUnit, LengthUnit, Quantity, TorqueUnit, Unit};
use crate::session::{denying, phrases, without_adapters};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

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
    /// Only numbers: not a state of a job, but the numbers of a reading without the word before them, for recordings
    /// that hold nothing else.
    Numbers,
}

/// Phrases that may be said at a moment.
#[derive(Debug, Clone)]
pub struct Allowed {
    /// As the listener is given them.
    pub phrases: Vec<Phrase>,
    /// Words that stop a phrase.
    pub denying: Denying,
    grammar: Grammar,
}

impl Moment {
    /// All of them; a phrase is played at the first where it means something.
    pub const ALL: [Moment; 10] = [
        Moment::Tightening,
        Moment::Question,
        Moment::Interrupted,
        Moment::Measuring,
        Moment::Turning,
        Moment::WhichPlace,
        Moment::Adapters,
        Moment::Note,
        Moment::Asleep,
        Moment::Numbers,
    ];

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
            Moment::Numbers => "numbers alone",
        }
    }

    /// What may be said then.
    pub fn allowed(self, language: &Language) -> Allowed {
        let fastener = Expect {
            steps: 40,
            yes_no: false,
            no_claims: false,
            angle: false,
            reading: None,
            fastener: true,
            places: Vec::new(),
        };
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
            Moment::Numbers => return numbers(language),
        };
        Allowed { phrases: phrases(&grammar), denying: denying(language), grammar }
    }
}

impl Allowed {
    /// Does this phrase mean something?
    pub fn means(&self, text: &str) -> bool {
        self.phrases.iter().any(|phrase| phrase.text == text && phrase.harm != Harm::Decoy)
    }

    /// Does whoever says this only hear what is still to do?
    pub fn is_not_done(&self, text: &str) -> bool {
        self.grammar.lookup(text) == Some(&Meaning::Command(Command::Ask(Ask::ToDo)))
    }

    /// Does a longer phrase begin with this one?
    pub fn could_go_on(&self, text: &str) -> bool {
        let longer = |phrase: &Phrase| phrase.text.strip_prefix(text).is_some_and(|rest| rest.starts_with(' '));
        self.phrases.iter().any(longer)
    }

    /// Do two phrases mean the same?
    pub fn same(&self, one: &str, other: &str) -> bool {
        one == other || self.grammar.lookup(one).is_some_and(|meaning| self.grammar.lookup(other) == Some(meaning))
    }
}

fn numbers(language: &Language) -> Allowed {
    let expect = Expect {
        steps: 0,
        yes_no: false,
        no_claims: false,
        angle: false,
        reading: None,
        fastener: false,
        places: Vec::new(),
    };
    let decoys = language.grammar(&expect, true).without(|_| true);
    let numbers = (0..=100).flat_map(|n| language.numbers().variants(n));
    let mut phrases: Vec<Phrase> = numbers.map(|text| Phrase { text, harm: Harm::Claims }).collect();
    for (text, _) in decoys.iter() {
        if phrases.iter().all(|phrase| phrase.text != text) {
            phrases.push(Phrase { text: text.to_owned(), harm: Harm::Decoy });
        }
    }
    Allowed { phrases, denying: denying(language), grammar: Grammar::default() }
}

/// Every moment with what may be said then.
pub fn all(language: &Language) -> Vec<(Moment, Allowed)> {
    Moment::ALL.into_iter().map(|moment| (moment, moment.allowed(language))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_heard_only_where_one_is_awaited() {
        let language = Language::english();
        let all = all(&language);
        let at = |moment: Moment, text: &str| all.iter().any(|(m, allowed)| *m == moment && allowed.means(text));
        assert!(at(Moment::Tightening, "reading seventy") && !at(Moment::Question, "reading seventy"));
        assert!(at(Moment::Measuring, "reading two point five") && !at(Moment::Tightening, "reading two point five"));
        assert!(at(Moment::Question, "yes") && !at(Moment::Tightening, "yes"));
        assert!(at(Moment::Numbers, "seventy") && !at(Moment::Tightening, "seventy"));
        assert!(at(Moment::WhichPlace, "the front one") && at(Moment::Asleep, "start listening"));
        assert!(at(Moment::Adapters, "no adapter") && !at(Moment::Tightening, "no adapter"));
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
