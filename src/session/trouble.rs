//! What happens to the sound while a session goes on.
//!
//! Each trouble is told once: to the user in a sentence of their language, and to whoever mends it in the words of the
//! system. Knows neither microphone nor loudspeaker.

use crate::dialogue::Notice;

/// A trouble that the session goes on after, or its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trouble {
    /// What the user is told, if there is a sentence for it.
    pub notice: Option<Notice>,
    /// What the system said about it; nothing when it is over.
    pub reason: Option<String>,
}

impl Trouble {
    /// Something is lost, for this reason.
    pub fn lost(notice: Notice, reason: String) -> Trouble {
        Trouble { notice: Some(notice), reason: Some(reason) }
    }

    /// Something that was lost is back.
    pub fn over(notice: Notice) -> Trouble {
        Trouble::seen(notice)
    }

    /// Something that the user can mend, seen by the program and not by the system.
    pub fn seen(notice: Notice) -> Trouble {
        Trouble { notice: Some(notice), reason: None }
    }

    /// A failure that the user can do nothing about and that has no sentence.
    pub fn failure(reason: String) -> Trouble {
        Trouble { notice: None, reason: Some(reason) }
    }
}
