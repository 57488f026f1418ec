//! Whether it is news that a tool sent a reading that is of no use.

use crate::dialogue::Sentence;
use crate::job::At;

/// That a reading of a tool is of no use is told again after this, milliseconds.
const TOLD_AGAIN: i64 = 15_000;

/// Readings of a tool that were of no use.
#[derive(Debug, Default)]
pub(super) struct Unwanted {
    /// What was said to the last one, and when; no words if it came too soon.
    told: Option<(Option<Vec<Sentence>>, At)>,
}

impl Unwanted {
    /// Is it news that one came, to which this is said?
    pub(super) fn is_news(&mut self, what: Option<Vec<Sentence>>, at: At) -> bool {
        let told = |(said, last): &(_, At)| *said == what && at.0.saturating_sub(last.0) < TOLD_AGAIN;
        if self.told.as_ref().is_some_and(told) {
            return false;
        }
        self.told = Some((what, at));
        true
    }
}
