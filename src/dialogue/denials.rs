//! What stands against a phrase: the same phrase denied, doubted, half-way or asked, so that it is heard as itself and does
//! nothing.
//!
//! Knows the forms of the language file, which say at which words of a phrase one is made and how. Leaves to `grammar` which
//! phrases have something to lose, and to `listen` what words of denial do to what was heard.

use super::pattern::{Pattern, Token};
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

/// The table as it is written.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Denials {
    /// Words that deny, doubt or come close wherever they are heard.
    pub words: Vec<String>,
    /// Ends of words that do.
    pub endings: Vec<String>,
    /// How a phrase is denied.
    pub forms: Vec<Spanned<Form>>,
}

/// One way to deny phrases.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Form {
    /// It is made at the first of these words that a phrase holds; of every phrase if there are none.
    #[serde(default)]
    at: Vec<String>,
    /// Only where that word begins the phrase.
    #[serde(default)]
    first: bool,
    /// Of phrases of these meanings only.
    #[serde(default)]
    of: Vec<String>,
    /// Not of these.
    #[serde(default)]
    but: Vec<String>,
    /// What stands for `{other}`, by the word that it is made at. Without an entry there is no such form.
    #[serde(default)]
    other: BTreeMap<String, String>,
    /// The forms, with `{before}`, `{word}`, `{other}` and `{after}`, or `{phrase}`.
    say: Vec<String>,
}

impl Form {
    /// Names of meanings that it mentions.
    pub fn keys(&self) -> impl Iterator<Item = &String> {
        self.of.iter().chain(&self.but)
    }

    /// This form of a phrase; several, or none.
    fn made(&self, key: &str, phrase: &str) -> Vec<String> {
        let named = |keys: &[String]| keys.iter().any(|named| named == key);
        if named(&self.but) || !(self.of.is_empty() || named(&self.of)) {
            return Vec::new();
        }
        let words: Vec<&str> = phrase.split(' ').collect();
        let found = words.iter().position(|word| self.at.iter().any(|at| at == word));
        let at = match found {
            Some(at) if at == 0 || !self.first => Some(at),
            None if self.at.is_empty() => None,
            _ => return Vec::new(),
        };
        let word = at.map_or("", |at| words[at]);
        let before = at.map_or_else(String::new, |at| words[..at].join(" "));
        let after = at.map_or_else(String::new, |at| words[at + 1..].join(" "));
        let other = self.other.get(word).map(String::as_str);
        let say = self.say.iter().filter(|say| other.is_some() || !say.contains("{other}"));
        say.map(|say| {
            let parts = say.split(' ').map(|part| match part {
                "{before}" => &before,
                "{word}" => word,
                "{after}" => &after,
                "{other}" => other.unwrap_or_default(),
                "{phrase}" => phrase,
                part => part,
            });
            parts.filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ")
        })
        .collect()
    }
}

impl Denials {
    /// What stands against a phrase of this meaning, each once.
    pub fn of(&self, key: &str, phrase: &str) -> Vec<String> {
        let mut all: Vec<String> = Vec::new();
        for text in self.forms.iter().flat_map(|form| form.get_ref().made(key, phrase)) {
            let twice = text.split(' ').zip(text.split(' ').skip(1)).any(|(one, next)| one == next);
            if text != phrase && !twice && !all.contains(&text) {
                all.push(text);
            }
        }
        all
    }
}

/// The words of a phrase before its first slot; what stands in a slot is too manifold to be denied.
pub(super) fn spoken_part(pattern: &Pattern) -> String {
    let words = pattern.tokens.iter().map_while(|token| match token {
        Token::Word(word) => Some(word.as_str()),
        _ => None,
    });
    words.collect::<Vec<_>>().join(" ")
}

/// Why a form cannot be heard.
pub(super) fn fault(text: &str) -> Option<String> {
    let odd = text.chars().find(|c| !(c.is_alphabetic() && !c.is_uppercase() || matches!(c, ' ' | '\'')));
    odd.map(|c| format!("only lower-case letters, apostrophes and spaces can be heard, not {c:?}"))
}

#[cfg(test)]
mod tests {
    use super::super::meaning::{MEANINGS, Row, Shape};
    use super::*;
    use crate::dialogue::{Language, Meaning};
    use crate::job::{Ask, Command, Expect};
    use crate::quantity::{Quantity, TorqueUnit, Unit};
    use std::collections::HashSet;

    fn denials(text: &str) -> Denials {
        toml::from_str(&format!("words = []\nendings = []\n{text}")).unwrap()
    }

    #[test]
    fn a_form_is_made_at_the_first_of_its_words() {
        let forms = denials(
            r#"forms = [{ at = ["is", "has"], other = { is = "isn't" }, say = ["{before} {word} not {after}", "{word} {before} {after}", "{before} {other} {after}"] }]"#,
        );
        assert_eq!(
            forms.of("done", "that one is done"),
            ["that one is not done", "is that one done", "that one isn't done"]
        );
        assert_eq!(forms.of("done", "it has gone"), ["it has not gone", "has it gone"]);
        assert!(forms.of("done", "all done").is_empty());
    }

    #[test]
    fn a_form_keeps_to_its_meanings_and_to_the_first_word() {
        let forms = denials(
            r#"forms = [{ at = ["go"], first = true, say = ["don't {phrase}"] }, { but = ["back"], say = ["not {phrase}"] }, { of = ["yes"], say = ["{phrase} but"] }]"#,
        );
        assert_eq!(forms.of("back", "go back"), ["don't go back"]);
        assert_eq!(forms.of("next", "let it go"), ["not let it go"]);
        assert_eq!(forms.of("yes", "yes"), ["not yes", "yes but"]);
    }

    #[test]
    fn a_word_twice_and_the_phrase_itself_are_no_denial() {
        let forms = denials(r#"forms = [{ at = ["started"], say = ["{before} not {word}", "not {word}"] }]"#);
        assert_eq!(forms.of("not_begun", "not started"), Vec::<String>::new());
    }

    #[test]
    fn of_a_phrase_with_slots_its_beginning_is_denied() {
        let part = |text: &str| spoken_part(&Pattern::parse(text).unwrap());
        assert_eq!(part("go to step {number}"), "go to step");
        assert_eq!(part("{number} {unit}"), "");
    }

    /// The states that differ in what may be said.
    fn states() -> Vec<Expect> {
        let plain = Expect { steps: 12, ..Expect::default() };
        let reading = Some(Quantity::new(70.into(), Unit::Torque(TorqueUnit::NewtonMetre)));
        vec![
            Expect { fastener: true, reading, ..plain.clone() },
            Expect { fastener: true, yes_no: true, ..plain.clone() },
            Expect { fastener: true, angle: true, ..plain.clone() },
            Expect { fastener: true, places: vec!["front".into(), "rear".into()], ..plain.clone() },
            plain,
        ]
    }

    fn german() -> Language {
        Language::from_toml("de.toml", include_str!("languages/de.toml")).unwrap()
    }

    /// Whatever may be lost by a phrase: its denied forms stand in the grammar of every state in which it may be said, and mean
    /// nothing, or that something is still to do.
    #[test]
    fn what_has_something_to_lose_is_denied_wherever_it_may_be_said() {
        for language in [Language::english(), german()] {
            for expect in states() {
                let grammar = language.grammar(&expect, true);
                let decoys: HashSet<&str> = grammar.iter().filter(|(_, m)| m.is_none()).map(|(text, _)| text).collect();
                let phrases: Vec<(&str, String)> = MEANINGS
                    .iter()
                    .filter(|row| row.shape.can_be_denied() && row.allowed(&expect))
                    .flat_map(|Row { key, shape, .. }| {
                        let places = if *shape == Shape::Place { expect.places.clone() } else { vec![String::new()] };
                        let patterns = language.patterns(key).iter();
                        patterns.flat_map(move |pattern| {
                            let text = pattern.text.clone();
                            places.clone().into_iter().map(move |place| (*key, text.replace("{place}", &place)))
                        })
                    })
                    .collect();
                assert!(phrases.len() > 10, "{}", phrases.len());
                for (key, phrase) in phrases {
                    let forms = language.denied_forms(key, &spoken_part(&Pattern::parse(&phrase).unwrap()));
                    assert!(!forms.is_empty(), "{phrase}");
                    for form in forms {
                        let harmless = grammar.lookup(&form) == Some(&Meaning::Command(Command::Ask(Ask::ToDo)));
                        assert!(harmless || decoys.contains(&form[..]), "{form}, of {phrase}");
                    }
                }
            }
        }
    }

    /// What people say to deny, doubt, come close or ask is in the grammar of a tightening or a question, and claims nothing.
    #[test]
    fn the_denials_that_were_taken_for_claims_are_heard_as_themselves() {
        let language = Language::english();
        for (state, forms) in [
            (
                0,
                &["that one isn't done", "that one is never done", "is that one done", "nearly done", "not all done"][..],
            ),
            (
                0,
                &[
                    "don't carry on",
                    "do not skip this step",
                    "the bolt never broke",
                    "all but done",
                    "not quite done",
                    "no reading",
                ],
            ),
            (0, &["what is the next step", "should i go back", "the stage is not complete", "i am sure"]),
            (1, &["yes that is not right", "yes that isn't right", "yes but", "yes not yet"]),
            (
                2,
                &[
                    "that isn't finished",
                    "almost finished",
                    "that is nearly finished",
                    "not already finished",
                    "already half finished",
                    "already started",
                ],
            ),
            (3, &["it is not the front one", "is it the rear one"]),
        ] {
            let grammar = language.grammar(&states()[state], true);
            for form in forms {
                assert!(grammar.iter().any(|(text, _)| text == *form), "\"{form}\" is not listened for");
                assert_eq!(grammar.lookup(form), None, "{form}");
            }
            for form in ["not done", "not finished", "that one is not done"] {
                assert_eq!(grammar.lookup(form), Some(&Meaning::Command(Command::Ask(Ask::ToDo))), "{form}");
            }
        }
    }
}
