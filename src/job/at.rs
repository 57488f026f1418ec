//! Moments, as a job is told them.

use serde::{Deserialize, Serialize};

/// A moment, in milliseconds since the Unix epoch. The job never asks for it; it is told.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct At(pub i64);

/// The first moment of 2025, before which this program was not.
const EARLIEST: At = At(1_735_689_600_000);

impl At {
    /// Can a clock that was right have shown it? One that nobody set shows the beginning of its own count of time.
    pub fn may_be_right(self) -> bool {
        self >= EARLIEST
    }

    /// So many minutes later.
    pub(super) fn after_minutes(self, minutes: u32) -> At {
        At(self.0.saturating_add(i64::from(minutes) * 60_000))
    }
}
