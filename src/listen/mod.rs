//! Sound to utterances: recogniser, voice activity, endpointing, rejection.
//!
//! Knows samples, a list of [`Phrase`]s and how much harm a mistaken one could do. Leaves to others what a phrase
//! means (`dialogue`), where the sound comes from and what time it is (`session`).

mod activity;
mod background;
mod capture;
mod condition;
mod decide;
mod doubt;
mod echo;
mod endpoint;
mod error;
mod input;
mod joined;
mod judge;
mod judge_thread;
mod listener;
mod lost;
mod meter;
mod model_files;
mod number;
mod own;
mod phrases;
pub mod process;
mod rest;
mod spoken;
mod vosk;
mod why;

use serde::{Deserialize, Serialize};
use std::sync::Arc;

pub use self::vosk::VoskRecogniser;
pub use activity::{Activity, Earshot, FRAME};
pub use capture::Microphone;
pub use condition::{Condition, Fault, Speaking, level};
pub use decide::{Decided, NEVER, Needs, Relation, Rule, Thresholds};
pub use doubt::{Denying, Verdict, likeness, plainly};
pub use echo::Echo;
pub use error::ListenError;
pub use input::{SoundFile, read_sound};
pub use judge::{ByPhones, Lexicon, Likely, Moonshine, PHONES, PhoneTree, Phones, Second, anything};
pub use judge_thread::JudgeThread;
pub use listener::{Kept, Listener};
pub use lost::Lost;
pub use meter::{Levels, Meter, faults};
pub use model_files::vocabulary;
pub use number::{near, offered, whole};
pub use own::{Nearness, Opinion, OwnNeeds, OwnRule, OwnVoice, Scored};
pub use process::RecogniserProcess;
pub use spoken::spoken;
pub use why::{Why, why};

/// Samples a second that every part of this room works in.
pub const RATE: u32 = 16_000;

/// What a phrase could do if it was heard by mistake; the rule for accepting it follows from this.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Harm {
    /// Not a command at all: a word near to one, put in so that it is heard as itself.
    Decoy,
    /// Only speaks, or stops speaking.
    None,
    /// Moves the position in the job.
    Moves,
    /// Claims or changes something in the ledger.
    Claims,
}

/// One whole phrase that may be said now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Phrase {
    /// Lower-case words with single spaces, as the recogniser's word list writes them.
    pub text: String,
    /// What a false acceptance could do.
    pub harm: Harm,
}

/// Phrases of which there is no list, because there is no end to them: numbers. Their pieces are in the list, so that a
/// recogniser can hear them.
pub trait Open: Send + Sync {
    /// The phrase that these words are from the first to the last, if they are one of this kind; it may be in the list as well.
    fn phrase(&self, text: &str) -> Option<Phrase>;
    /// Are these two of this kind, or two ways to ask for one value, and mean the same?
    fn same(&self, one: &str, other: &str) -> bool;
    /// Can such a phrase go on and be another one?
    fn could_go_on(&self, text: &str) -> bool;
    /// What might have been said where such a phrase was heard, outside the list: what goes on from it, what sounds like it.
    fn instead_of(&self, text: &str) -> Vec<String>;
    /// Phrases of this kind that may have been said where these words, which are none, were heard: those with the same numbers and
    /// things in them.
    fn near(&self, _heard: &str) -> Vec<Phrase> {
        Vec::new()
    }
    /// Does every word of such a phrase count, so that the next one means something else? Of two wordings of one thing neither is
    /// ahead of the other.
    fn every_word_counts(&self) -> bool {
        true
    }
    /// What was said, perhaps, where these words were heard and one of them was lost or taken for another; what is no phrase of this
    /// kind is a decoy.
    fn a_word_off(&self, _heard: &str) -> Vec<Phrase> {
        Vec::new()
    }
}

/// What a recogniser made of a stretch of sound.
#[derive(Debug, Clone, PartialEq)]
pub struct Hypothesis {
    /// The words, possibly empty.
    pub text: String,
    /// Lowest confidence of a word, 0 to 1.
    pub confidence: f32,
}

impl Hypothesis {
    /// These words together.
    pub fn of(words: &[Word]) -> Self {
        let lowest = words.iter().map(|word| word.confidence).reduce(f32::min);
        Self { text: text(words), confidence: lowest.unwrap_or(0.0) }
    }
}

/// What a recogniser heard as one piece, and where.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Word {
    /// A word, or several that the recogniser has as one.
    pub text: String,
    /// Confidence, 0 to 1.
    pub confidence: f32,
    /// First sample, counted from the beginning of the utterance's sound.
    pub began: usize,
    /// One past its last sample.
    pub ended: usize,
}

/// These words as one text.
fn text(words: &[Word]) -> String {
    words.iter().map(|word| word.text.as_str()).collect::<Vec<_>>().join(" ")
}

/// Breaks off what a recogniser is doing, for good and from any thread.
pub type Halt = Arc<dyn Fn() + Send + Sync>;

/// Streaming recogniser: says early when and what.
pub trait Recogniser {
    /// Allows exactly these phrases from now on and forgets the sound so far.
    fn listen_for(&mut self, phrases: &[Phrase]) -> Result<(), ListenError>;
    /// Takes a chunk of 16 kHz mono; returns the words so far.
    fn accept(&mut self, chunk: &[i16]) -> Result<String, ListenError>;
    /// Ends the utterance, gives the words of it, and starts afresh with the same phrases.
    fn finish(&mut self) -> Result<Vec<Word>, ListenError>;
    /// What ends a wait for it that may be long, if there is one: all it is asked then and later fails.
    fn halt(&self) -> Option<Halt> {
        None
    }
}

/// What the second listener thinks of a finished stretch of sound.
#[derive(Debug, Clone, PartialEq)]
pub struct Judgement {
    /// Index into the phrases it was given, of the best one.
    pub best: Option<usize>,
    /// Average log probability per token of the best one; by phones, per phone.
    pub average: f32,
    /// Best minus what noise alone would score; by phones, minus what [`anything`] scores.
    pub over_noise: f32,
    /// Best minus the next phrase.
    pub margin: f32,
}

/// What the second listener writes down freely.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Written {
    /// The text, as it writes: with capitals, digits and marks.
    pub text: String,
    /// How much likelier it finds that than the phrase, in log probability.
    pub ahead: f32,
}

/// What the second listener's encoder makes of a sound: rows of numbers, one after the other, evenly spread over it.
#[derive(Debug, Clone, PartialEq)]
pub struct Encoding {
    /// How many samples the sound has.
    pub samples: usize,
    /// Numbers in a row.
    pub width: usize,
    /// All rows.
    pub states: Vec<f32>,
}

/// Second listener: judges a finished stretch of sound against the phrases allowed.
pub trait Judge {
    /// Scores `samples` (16 kHz mono, -1 to 1) against `phrases`.
    fn judge(&mut self, samples: &[f32], phrases: &[Phrase]) -> Result<Judgement, ListenError>;
    /// What its word counts for. Whoever is not there yet may not know.
    fn rule(&self) -> Rule {
        Rule::by_decoder()
    }
    /// Writes down what it hears in `samples`, whatever that is, and holds it against a phrase; nothing if it cannot write. On
    /// noise it makes things up.
    fn write(&mut self, _samples: &[f32], _phrase: &str) -> Result<Option<Written>, ListenError> {
        Ok(None)
    }
    /// What its encoder makes of `samples`; of those that it has judged last it is there already. Nothing if it has none, or if the
    /// sound is too short for it.
    fn encode(&mut self, _samples: &[f32]) -> Result<Option<Encoding>, ListenError> {
        Ok(None)
    }
    /// Tells, without waiting, if it has turned out that there is none: one that is still being loaded may fail.
    fn look(&mut self) -> Result<(), ListenError> {
        Ok(())
    }
    /// Could it judge at once?
    fn is_there(&self) -> bool {
        true
    }
    /// Why it will answer no more, told once. It is gone on without.
    fn lost(&mut self) -> Option<String> {
        None
    }
}

impl<J: Judge + ?Sized> Judge for Box<J> {
    fn judge(&mut self, samples: &[f32], phrases: &[Phrase]) -> Result<Judgement, ListenError> {
        (**self).judge(samples, phrases)
    }

    fn rule(&self) -> Rule {
        (**self).rule()
    }

    fn write(&mut self, samples: &[f32], phrase: &str) -> Result<Option<Written>, ListenError> {
        (**self).write(samples, phrase)
    }

    fn encode(&mut self, samples: &[f32]) -> Result<Option<Encoding>, ListenError> {
        (**self).encode(samples)
    }

    fn look(&mut self) -> Result<(), ListenError> {
        (**self).look()
    }

    fn is_there(&self) -> bool {
        (**self).is_there()
    }

    fn lost(&mut self) -> Option<String> {
        (**self).lost()
    }
}

/// One stretch of speech, and what was decided about it. Positions count samples since the listener began.
#[derive(Debug, Clone, PartialEq)]
pub struct Utterance {
    /// The accepted phrase; `None` if something was said that is not understood.
    pub phrase: Option<String>,
    /// If none was accepted, the one that may have been said and is worth asking about.
    pub nearly: Option<String>,
    /// What the recogniser heard, accepted or not. Told from fainter words beside it, it has no confidence.
    pub heard: Hypothesis,
    /// The second listener's word, if there is one.
    pub judgement: Option<Judgement>,
    /// What the second listener wrote down freely, if a claim was believed or nearly.
    pub written: Option<Written>,
    /// What the user's own voice says to it, if one is known.
    pub own: Option<Opinion>,
    /// First sample of speech.
    pub began: u64,
    /// Last sample of speech.
    pub ended: u64,
    /// Sample at which the decision could be made.
    pub decided: u64,
    /// Time spent computing after that sample came in, if the sound comes at its own pace.
    pub thinking: std::time::Duration,
}
