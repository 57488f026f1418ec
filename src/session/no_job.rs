//! Whoever talks with the user where there is no job.

use super::awaited::Key;
use super::{Delivery, Turn};
use crate::dialogue::Notice;
use crate::job::At;
use crate::listen::{Open, Phrase, Utterance};
use std::sync::Arc;

/// What the loop and its ear need of it. Nothing is heard while the program speaks, so what is heard came behind what was said last.
pub trait NoJob: Send {
    /// The first words.
    fn begin(&mut self) -> Turn;
    /// A stretch of speech that the listener has decided on.
    fn hear(&mut self, said: &Utterance, at: At) -> Turn;
    /// A typed line.
    fn read(&mut self, line: &str, at: At) -> Turn;
    /// Something about the session itself.
    fn told(&self, notice: Notice) -> Turn;
    /// What may be said now, with what a mistake would cost.
    fn phrases(&self) -> Vec<Phrase>;
    /// Which of the phrases ask for the same, for a listener.
    fn readings(&self) -> Arc<dyn Open>;
    /// What the phrases depend on, to know when they would differ.
    fn awaits(&self) -> Key;
    /// Does it listen to more than the phrase to begin again?
    fn listens(&self) -> bool;
    /// How the voice speaks now.
    fn delivery(&self) -> Delivery;
}
