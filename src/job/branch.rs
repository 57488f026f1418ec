//! Steps that are done only after a measurement that lies outside its limits, or after a "no".
//!
//! Whether they are to be done follows from the reading or the answer that stands, whenever one is recorded, put right or
//! taken back; what is not to be done is told, and is no open point. A step that was done stays done.

use super::ledger::Change;
use super::{At, Fact, Job, Question, Say, StepState, work};
use crate::procedure::When;

impl Job {
    /// Is a step to be done? `None` while what it depends on is neither measured nor answered.
    fn needed(&self, step: usize) -> Option<bool> {
        match self.book.steps[step].when? {
            When::Outside(ix) => {
                let named = &self.book.named[ix.0];
                self.ledger.measured(named.step, named.act)?;
                Some(work::unmet(&self.book, &self.ledger, named.step, named.act))
            }
            When::No(asking) => self.ledger.answered(asking).map(|yes| !yes),
        }
    }

    /// Brings the steps that are not always done in line with what stands in the ledger by now.
    pub(super) fn settle_branches(&mut self, made: &mut Vec<Change>) {
        for step in 0..self.book.steps.len() {
            if self.book.steps[step].when.is_none() {
                continue;
            }
            let to = match (self.needed(step), self.ledger.step(step)) {
                (Some(false), StepState::Open | StepState::Skipped) => StepState::NotNeeded,
                (Some(true) | None, StepState::NotNeeded) => StepState::Open,
                _ => continue,
            };
            made.push(self.make(Change::Step(step, to)));
        }
    }

    /// Asks the question of the step in hand on which others depend.
    pub(super) fn ask_which_way(&mut self) -> Vec<Say> {
        self.ask(Question::Ask { step: self.step })
    }

    /// It was answered.
    pub(super) fn which_way(&mut self, step: usize, yes: bool, at: At) -> Vec<Say> {
        let made = vec![self.make(Change::Answered(step, Some(yes)))];
        self.advance(at, Fact::Answered { step, yes }, None, made);
        self.go_on(at)
    }
}
