//! How well the program hears, in counts: plays a set of recordings through the very listener that it uses.
//!
//! - [`set`]: the recordings and what is said in them, as `scripts/make-hearing-set` lays them.
//! - [`moment`]: the states of a job that phrases belong to, with what may be said in each.
//! - [`noise`]: the noises of a workshop, generated.
//! - [`recorded`]: noises and rooms that were recorded.
//! - [`trial`]: what is played: a recording at a moment in a noise, or a stretch of talk or noise that must do nothing.
//! - [`mix`]: the sound of that.
//! - [`learnt`]: voices that are learnt before they are played.
//! - [`play`]: plays trials and keeps what both listeners made of them.
//! - [`tally`]: what a rule would have done with that, counted.
//! - [`losses`]: where the commands that were not heard are lost.
//! - [`calibrate`]: the rule that does best on one part of the voices.
//! - [`report`]: the tables; [`people`]: those of people alone.
//!
//! Listening costs and counting does not: what the listeners made of the sound is kept, so that every rule is counted on
//! the same hearing. Holds no rule itself, that is `listen`'s; and knows of meanings only whether two are the same.

pub mod bed;
pub mod calibrate;
pub mod learnt;
pub mod losses;
pub mod mix;
pub mod moment;
pub mod noise;
pub mod people;
pub mod play;
pub mod recorded;
pub mod report;
pub mod set;
pub mod tally;
pub mod trial;

use std::path::{Path, PathBuf};

/// Why hearing cannot be measured.
#[derive(Debug, thiserror::Error)]
pub enum HearingError {
    /// The set is not there or not as it should be.
    #[error("{}: {reason}", path.display())]
    Set {
        /// The file.
        path: PathBuf,
        /// What is wrong with it, and the way out.
        reason: String,
    },
    /// A listener failed.
    #[error(transparent)]
    Listen(#[from] crate::listen::ListenError),
}

impl HearingError {
    fn set(path: &Path, reason: impl Into<String>) -> Self {
        HearingError::Set { path: path.to_owned(), reason: reason.into() }
    }
}
