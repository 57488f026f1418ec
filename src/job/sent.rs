//! What a tool sends by itself: the same number again within a moment is the same reading, and one that comes before what is
//! pending had been put to the user to its end is named and not logged.
//!
//! Neither leaves anything behind, so nothing of this is in the journal.

use super::{At, Command, Job, Refusal, Reply, Say};
use crate::quantity::Quantity;

/// A number that a tool sends again within this is the same reading, milliseconds. No fastener is tightened so soon after
/// another.
const SENT_TWICE: i64 = 3_000;

/// The last reading of a tool that was of use, and when it came last.
#[derive(Debug, Clone, Default)]
pub(super) struct Sent(Option<(Quantity, At)>);

impl Sent {
    /// Is it the last one again? Some tools send each reading twice, or go on sending it.
    fn again(&mut self, value: Quantity, began: At) -> bool {
        match &mut self.0 {
            Some((taken, last)) if *taken == value && began.0.saturating_sub(last.0) < SENT_TWICE => {
                *last = began;
                true
            }
            _ => false,
        }
    }
}

impl Job {
    /// Takes a number that a tool sent, the first byte of it at `began`. To one sent again nothing is said.
    pub(super) fn hear_tool(&mut self, value: Quantity, command: Command, began: At, at: At) -> Reply {
        if self.sent.again(value, began) {
            return Reply { says: Vec::new(), recorded: false, announces: false };
        }
        if self.repeats(&command, began) {
            return Reply { says: vec![Say::Refused(Refusal::TooSoon { value })], recorded: false, announces: false };
        }
        let reply = self.apply(command, at);
        if reply.recorded {
            self.sent = Sent(Some((value, began)));
        }
        reply
    }
}
