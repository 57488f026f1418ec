//! What decides on the day whether a step is done, and how often.

use super::index::MeasureIx;
use crate::quantity::{Time, TimeUnit};

/// By when a step has to be done.
#[derive(Debug, Clone, PartialEq)]
pub struct Within {
    /// The time there is.
    pub time: Time,
    /// The earlier step from whose end it counts.
    pub after: usize,
    /// What to do when it is over.
    pub late: String,
}

impl Within {
    /// The time there is, in milliseconds.
    pub fn milliseconds(&self) -> i64 {
        self.time.in_unit(TimeUnit::Millisecond).amount.trunc().try_into().unwrap_or(i64::MAX)
    }
}

/// Why a step is done that is not always done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// This measurement came out outside its limits.
    Outside(MeasureIx),
    /// The question of this step was answered with no.
    No(usize),
}

impl When {
    /// The measurement that decides.
    pub fn measurement(self) -> Option<MeasureIx> {
        match self {
            When::Outside(ix) => Some(ix),
            When::No(_) => None,
        }
    }
}

/// Steps that are done round by round, this one the last of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Until {
    /// The question; with yes it ends. Without one each round leads to the next, until a measurement in it that lies within its
    /// limits makes this step one that is not to be done.
    pub ask: Option<String>,
    /// The first of the steps, an index into `Procedure::steps`; no later than this one, and of the same phase.
    pub from: usize,
    /// Most rounds.
    pub at_most: Option<u32>,
    /// What to do when it is not so after the most rounds.
    pub otherwise: Option<String>,
}
