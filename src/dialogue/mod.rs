//! Both directions of language: phrases to commands, and what the job answers to sentences.
//!
//! - [`Language`] is one language file, read and checked: all words of the program.
//! - [`Grammar`] is what may be said now. `listen` gets its phrases; a phrase heard is looked up in it.
//! - [`Language::understand_typed`] takes the same commands from the keyboard.
//! - [`Language::render`] puts [`crate::job::Say`] into words, twice: for the voice and for the eye.
//!
//! Knows the types of the job, the procedure, pages of values and quantities. Holds no rule of the job, does no input or output, reads
//! no clock. Never says a value that is not in the procedure or the page, but for a conversion, which it calls one.

mod amounts;
mod answers;
mod check;
mod choice;
mod denials;
mod file;
mod form;
mod grammar;
mod lesson;
mod line;
mod load;
mod meaning;
mod named;
mod notice;
mod numbers;
mod open_book;
mod pattern;
mod problem;
mod questions;
mod render;
mod speakable;
mod strip;
mod strip_heard;
mod strip_phrases;
mod strip_says;
mod templates;
mod things;
mod told;
mod tools;
mod understand;
mod units;
mod values;
mod written;

pub use choice::MOST_TOLD;
pub use file::Language;
pub use grammar::{Grammar, LONGEST_GRAMMAR};
pub use lesson::{Flaw, LessonSay};
pub use meaning::{Asked, Concern, Meaning, Talk, commands};
pub use named::{Asks, LONGEST_NAMES, ValueSay};
pub use notice::Notice;
pub use numbers::{LARGEST_HEARD, Numbers};
pub use open_book::BookSay;
pub use problem::{LanguageError, LanguageProblem};
pub use strip::StripMeaning;
pub use strip_phrases::StripExpect;
pub use strip_says::{RECORDED, recorded, recording_letter};
pub use tools::ToolSay;
pub use understand::{NotUnderstood, Odd};
pub use written::Words;

use crate::job::At;
use crate::procedure::Signal;
use crate::quantity::TorqueUnit;

/// How the user wants to be told things.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Manner {
    /// The unit on the user's wrench, said first; `None` is the unit each value was published in.
    pub unit: Option<TorqueUnit>,
    /// Which numbers of values are read digit by digit as well.
    pub digits: Digits,
    /// The moment it is, to say how long ago the job was left; the caller knows it or leaves it out.
    pub now: Option<At>,
}

/// Which numbers of values are read digit by digit as well.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Digits {
    /// Those that sound like another number. Fewer is not on offer.
    #[default]
    Confusable,
    /// All of two digits and more.
    All,
}

/// One thing to say and to show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sentence {
    /// For the voice: words only.
    pub spoken: String,
    /// For the eye: digits and symbols.
    pub written: String,
    /// The signal word of a caution, which has a tone of its own.
    pub signal: Option<Signal>,
    /// What kind of thing it is.
    pub tone: Tone,
}

/// What kind of thing a sentence is, so that it can be told by ear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Tone {
    /// A plain statement or answer.
    Plain,
    /// An answer is awaited.
    Question,
    /// A command was not followed.
    Refusal,
}
