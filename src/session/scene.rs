//! How a session stands, for whoever shows it: asked of whoever talks, never guessed from what was said.

use super::Talker;

/// How a session stands.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Scene {
    /// The job in hand goes by a procedure with mistakes that nobody put right.
    pub unchecked: bool,
    /// No job is in hand, and one is to be chosen.
    pub choosing: bool,
    /// What is taken apart, while that is no job yet.
    pub strip: Option<String>,
    /// More is heard than the phrase that begins to listen again.
    pub listening: bool,
    /// A note is recorded.
    pub noting: bool,
    /// It is put down, and the phrase that takes it up again is waited for.
    pub waiting: bool,
}

impl Scene {
    /// As it stands now.
    pub fn of(talk: &dyn Talker) -> Scene {
        Scene {
            unchecked: talk.unchecked(),
            choosing: talk.is_choosing(),
            strip: talk.taken_apart().map(str::to_owned),
            listening: talk.awaits().listening,
            noting: talk.is_noting(),
            waiting: talk.is_waiting(),
        }
    }
}
