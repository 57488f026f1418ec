//! A short digest of where a job stands, written with each line of a journal, so that a program which makes something
//! else of the same lines is noticed.
//!
//! It holds the ledger, the position, the question that stands, the facts, the timers, the points left open. It leaves
//! out what only chooses words. It is made from names and numbers, as serde writes them in the order of the source, so
//! whoever renames a variant or a field of what is in it changes the digest of every journal there is: give it its old
//! name with `#[serde(rename)]`. A field that is added is left out while it says nothing
//! (`#[serde(skip_serializing_if)]`), so that journals from before it keep theirs.

use super::{At, Job, Open, Question, Recorded, sum};
use crate::procedure::Phase;
use serde::Serialize;

/// Facts that the digest holds whole: no command makes more at once. Those before them are in the digests before.
const LAST_FACTS: usize = 3;

#[derive(Serialize)]
struct Stand<'a> {
    ledger: u64,
    step: usize,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    came_back: bool,
    phase: Option<Phase>,
    question: Option<&'a Question>,
    facts: usize,
    last_facts: &'a [Recorded],
    standing: usize,
    last_standing: Option<usize>,
    timers: &'a [At],
    paused: bool,
    confirmed_open: &'a [Open],
    closed: Option<&'a [Open]>,
}

impl Job {
    /// The digest of where the job stands.
    pub fn digest(&self) -> u64 {
        sum::of(&Stand {
            ledger: self.ledger.sum(),
            step: self.step,
            came_back: self.came_back,
            phase: self.phase,
            question: self.question.as_ref(),
            facts: self.facts.len(),
            last_facts: &self.facts[self.facts.len().saturating_sub(LAST_FACTS)..],
            standing: self.live.len(),
            last_standing: self.live.last().copied(),
            timers: &self.timers,
            paused: self.paused,
            confirmed_open: &self.confirmed_open,
            closed: self.closed.as_deref(),
        })
    }
}
