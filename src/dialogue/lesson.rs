//! What is said while the program learns a voice, and the phrases that it learns.
//!
//! Knows the language only; which phrase comes when and what is wrong with a take is told.

use super::file::Language;
use super::meaning::{MEANINGS, Row, Shape, row_of};
use super::templates::Templates;
use super::{Sentence, Tone};
use crate::quantity::{AngleUnit, LengthUnit, TorqueUnit, Unit};
use minijinja::{Value, context};

/// What a job is worked with most, by the keys of `[phrases]`: learnt first.
const FIRST: [&str; 8] = ["done", "next", "repeat", "value", "yes", "no", "back", "undo"];

/// What can be said to somebody whose voice is learnt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LessonSay<'a> {
    /// It begins: so many phrases are to be said.
    Begins {
        /// How many.
        count: usize,
    },
    /// This is to be said.
    Say(&'a str),
    /// This is to be said, to try a microphone.
    Try(&'a str),
    /// It is to be said again, because of this.
    Again(&'a str, Flaw),
    /// It is left out: from this speaker it sounds like the other.
    Alike(&'a str, &'a str),
    /// It is left out: it was tried often enough.
    LeftOut(&'a str),
    /// So far it has come.
    Progress {
        /// How many are done.
        done: usize,
        /// Of how many.
        of: usize,
    },
    /// It is broken off, with so many left.
    Paused {
        /// How many.
        left: usize,
    },
    /// It is over; so many phrases are known.
    Over {
        /// How many.
        count: usize,
    },
}

/// Why something is to be said again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Flaw {
    /// Too faint.
    Faint,
    /// Too loud for the microphone.
    Clipped,
    /// Begun or ended beyond the sound.
    Cut,
    /// Too much noise beside it.
    Noisy,
    /// Too short for the words.
    Short,
    /// Too long for the words.
    Long,
    /// Unlike the take before it.
    Unlike,
    /// Like another phrase.
    Like,
    /// Nobody heard these words in it.
    NotHeard,
}

impl Flaw {
    /// All of them.
    pub const ALL: [Flaw; 9] = [
        Flaw::Faint,
        Flaw::Clipped,
        Flaw::Cut,
        Flaw::Noisy,
        Flaw::Short,
        Flaw::Long,
        Flaw::Unlike,
        Flaw::Like,
        Flaw::NotHeard,
    ];

    fn key(self) -> &'static str {
        match self {
            Flaw::Faint => "lesson_faint",
            Flaw::Clipped => "lesson_clipped",
            Flaw::Cut => "lesson_cut",
            Flaw::Noisy => "lesson_noisy",
            Flaw::Short => "lesson_short",
            Flaw::Long => "lesson_long",
            Flaw::Unlike => "lesson_unlike",
            Flaw::Like => "lesson_like",
            Flaw::NotHeard => "lesson_not_heard",
        }
    }
}

impl Language {
    /// What is worth learning, the most useful first: of each meaning the wording that the program itself names, what stands
    /// beside the slot of a phrase, and the words that numbers and the commonest units are made of.
    pub fn to_learn(&self) -> Vec<String> {
        let first = |key: &&str| self.patterns(key).first().map(|pattern| pattern.text.as_str());
        let plain = |key: &&str| row_of(key).is_some_and(|row| matches!(row.shape, Shape::Plain(_)));
        let mut all: Vec<&str> = FIRST.iter().filter(|key| plain(key)).filter_map(first).collect();
        let table = self.numbers().table();
        let reading = first(&"reading").into_iter().flat_map(beside_slots);
        all.extend(reading);
        all.extend(table.cardinals.iter().map(String::as_str).filter(|number| !number.contains(' ')));
        all.extend(table.hundreds.first().into_iter().flat_map(|pattern| beside_slots(pattern)));
        all.extend([table.point.as_str(), table.and.as_str()]);
        let units = TorqueUnit::ALL.iter().map(|unit| Unit::Torque(*unit)).chain([
            Unit::Angle(AngleUnit::Degree),
            Unit::Length(LengthUnit::Millimetre),
            Unit::Length(LengthUnit::Inch),
        ]);
        all.extend(units.filter_map(|unit| self.units().of(unit).heard.first()).map(String::as_str));
        let minutes = self.units().minute().many.as_str();
        for Row { key, shape, .. } in MEANINGS {
            match shape {
                Shape::Plain(_) => all.extend(first(key)),
                Shape::GoTo | Shape::Adapter | Shape::AdapterAngle => {
                    all.extend(first(key).into_iter().flat_map(beside_slots))
                }
                Shape::Timer => all.extend(first(key).into_iter().flat_map(beside_slots).chain([minutes])),
                // The words of a place are the procedure's, and "in" alone is no take.
                Shape::Reading | Shape::InUnit | Shape::Place | Shape::ValueOf => {}
            }
        }
        let mut phrases: Vec<String> = Vec::new();
        for text in all {
            if !text.is_empty() && !phrases.iter().any(|known| known == text) {
                phrases.push(text.to_owned());
            }
        }
        phrases
    }

    /// The sentence for something said in a lesson.
    pub fn lesson(&self, say: LessonSay<'_>) -> Sentence {
        let shown = |phrase: &str| self.shown(phrase);
        let told = |key, tone, context: Value| self.told(key, tone, |_| context.clone());
        match say {
            LessonSay::Begins { count } => told("lesson_begins", Tone::Plain, context! { count }),
            LessonSay::Say(phrase) => told("lesson_say", Tone::Question, context! { words => shown(phrase) }),
            LessonSay::Try(phrase) => told("lesson_try", Tone::Question, context! { words => shown(phrase) }),
            LessonSay::Again(phrase, flaw) => told(flaw.key(), Tone::Question, context! { words => shown(phrase) }),
            LessonSay::Alike(phrase, other) => {
                told("lesson_alike", Tone::Plain, context! { words => shown(phrase), other => shown(other) })
            }
            LessonSay::LeftOut(phrase) => told("lesson_left_out", Tone::Plain, context! { words => shown(phrase) }),
            LessonSay::Progress { done, of } => told("lesson_progress", Tone::Plain, context! { done, of }),
            LessonSay::Paused { left } => told("lesson_paused", Tone::Plain, context! { left }),
            LessonSay::Over { count } => told("lesson_over", Tone::Plain, context! { count }),
        }
    }
}

/// The words before and after the slots of a pattern.
fn beside_slots(pattern: &str) -> impl Iterator<Item = &str> {
    let mut rest = Some(pattern);
    std::iter::from_fn(move || {
        let text = rest?;
        let (words, after) = match text.split_once('{') {
            Some((words, after)) => (words, after.split_once('}').map(|(_, after)| after)),
            None => (text, None),
        };
        rest = after;
        Some(words.trim())
    })
}

/// Its templates of `[sentences]`, each with the variables that it may use.
pub(super) const SENTENCES: &Templates = &[
    ("lesson_begins", &["count"]),
    ("lesson_say", &["words"]),
    ("lesson_try", &["words"]),
    ("lesson_faint", &["words"]),
    ("lesson_clipped", &["words"]),
    ("lesson_cut", &["words"]),
    ("lesson_noisy", &["words"]),
    ("lesson_short", &["words"]),
    ("lesson_long", &["words"]),
    ("lesson_unlike", &["words"]),
    ("lesson_like", &["words"]),
    ("lesson_not_heard", &["words"]),
    ("lesson_alike", &["other", "words"]),
    ("lesson_left_out", &["words"]),
    ("lesson_progress", &["done", "of"]),
    ("lesson_paused", &["left"]),
    ("lesson_over", &["count"]),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_beside_slots_is_learnt() {
        assert_eq!(beside_slots("adapter at {number} degrees").collect::<Vec<_>>(), ["adapter at", "degrees"]);
        assert_eq!(beside_slots("next step").collect::<Vec<_>>(), ["next step"]);
        assert_eq!(beside_slots("{hundreds} hundred").collect::<Vec<_>>(), ["", "hundred"]);
    }

    #[test]
    fn every_meaning_and_every_number_can_be_learnt() {
        let language = Language::english();
        let all = language.to_learn();
        assert!((80..=110).contains(&all.len()), "{}: {all:?}", all.len());
        assert_eq!(all[..3], ["stage complete", "next step", "say again"]);
        for phrase in
            ["reading", "eighty", "hundred", "point", "foot pounds", "go to step", "timer", "minutes", "ears off"]
        {
            let wanted = phrase != "ears off";
            assert_eq!(all.iter().any(|known| known == phrase), wanted, "{phrase}");
        }
        let mut once = all.clone();
        once.sort();
        once.dedup();
        assert_eq!(once.len(), all.len());
    }

    #[test]
    fn every_sentence_of_a_lesson_names_its_phrase() {
        let language = Language::english();
        for flaw in Flaw::ALL {
            let sentence = language.lesson(LessonSay::Again("i am stuck", flaw));
            assert!(sentence.written.contains("I am stuck"), "{flaw:?}: {}", sentence.written);
        }
        assert_eq!(language.lesson(LessonSay::Say("next step")).written, "Next step.");
        assert_eq!(language.lesson(LessonSay::Try("next step")).written, "Say: next step.");
        let alike = language.lesson(LessonSay::Alike("next step", "next one")).written;
        assert!(alike.contains("next step") && alike.contains("next one"), "{alike}");
    }
}
