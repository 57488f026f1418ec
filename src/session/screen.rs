//! What a session shows, and why one ended early.

use super::{Scene, Shown, Turn};
use crate::dialogue::Notice;
use crate::journal::JournalError;
use crate::listen::{ListenError, Utterance};
use crate::speak::SpeakError;

/// Why a session ended early. What was acknowledged before is on disk in every case.
#[derive(Debug, thiserror::Error)]
pub enum SessionError {
    /// The job could not be written.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// Hearing failed.
    #[error(transparent)]
    Listen(#[from] ListenError),
    /// Speaking failed.
    #[error(transparent)]
    Speak(#[from] SpeakError),
    /// Standard input failed.
    #[error("standard input: cannot be read: {0}")]
    Input(std::io::Error),
    /// The runtime could not be set up.
    #[error("the session cannot be set up: {0}")]
    Setup(std::io::Error),
    /// The program has a fault.
    #[error("{0}; please report it")]
    Fault(String),
}

/// What the session shows. Everything spoken is shown too.
pub trait Screen {
    /// Something was heard, understood or not.
    fn heard(&mut self, utterance: &Utterance);
    /// What follows from it, and the job after it.
    fn turn(&mut self, turn: &Turn, job: &Shown);
    /// What follows from it where there is no job yet.
    fn told(&mut self, _turn: &Turn) {}
    /// How the session stands; told before each turn.
    fn stands(&mut self, _scene: &Scene) {}
    /// Something has happened to the sound, or to a tool, or is over; the turn that says so follows.
    fn trouble(&mut self, _notice: Notice) {}
    /// Something that happens from outside in a replay.
    fn happens(&mut self, _what: &str) {}
    /// Something about the session itself.
    fn notice(&mut self, text: &str);
}
