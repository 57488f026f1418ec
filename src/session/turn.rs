//! What follows from something that was heard, for whoever shows and says it.

use crate::dialogue::{Meaning, Sentence};
use crate::speak::Tone;

/// What follows from something that was heard.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Turn {
    /// What it was understood as; `None` when it was not understood, or when nobody said anything.
    pub meaning: Option<Meaning>,
    /// What to say.
    pub sentences: Vec<Sentence>,
    /// A tone to give before that.
    pub tone: Option<Tone>,
    /// Fall silent before anything else.
    pub hush: bool,
    /// The job was put down or closed: the session is over.
    pub over: bool,
    /// Something was written into the journal.
    pub recorded: bool,
    /// The sentences put something to the user that has to be heard to its end before it can be claimed or answered: whoever
    /// says them tells `Conversation::announced`.
    pub announces: bool,
}
