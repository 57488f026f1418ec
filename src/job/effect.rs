//! What a command can do to a job, each way of it once: whether it changed anything is known by what it did, and no
//! command says so of itself.
//!
//! Knows the parts of a job. Leaves to others when something is to be done to them, and what is said about it.

use super::ledger::Change;
use super::{At, Edition, Fact, Job, Open, Question, Recorded, Say};
use crate::procedure::Phase;
use crate::quantity::Quantity;

impl Job {
    /// Makes a change of the ledger and returns its reverse.
    pub(super) fn make(&mut self, mut change: Change) -> Change {
        if let Change::Measured(step, act, Some(value)) = change
            && self.edition < Edition::NOW
        {
            self.ledger.taken_by(step, act, value, self.edition);
        }
        self.ledger.swap(&mut change);
        self.changed = true;
        change
    }

    /// Keeps a fact that was made.
    pub(super) fn keep(&mut self, at: At, fact: Fact, reading: Option<Quantity>, made: Vec<Change>) {
        self.live.push(self.facts.len());
        let from = self.from.clone().filter(|_| reading.is_some());
        self.facts.push(Recorded { at, step: self.step, fact, reading, from, taken_back: false, made });
        self.changed = true;
    }

    /// Marks the last fact as taken back; gives it with what it had made, which still stands.
    pub(super) fn strike_last(&mut self) -> Option<(Fact, Vec<Change>)> {
        let last = self.live.pop()?;
        self.changed = true;
        let recorded = &mut self.facts[last];
        recorded.taken_back = true;
        Some((recorded.fact.clone(), std::mem::take(&mut recorded.made)))
    }

    /// Puts a question, which stands until it is answered or dropped.
    pub(super) fn ask(&mut self, question: Question) -> Vec<Say> {
        self.changed = true;
        self.question = Some(question.clone());
        vec![Say::Question(question)]
    }

    /// Drops the question that stands, if one does.
    pub(super) fn drop_question(&mut self) {
        self.changed |= self.question.take().is_some();
    }

    /// Stands at a step from now on. `came_back`: it was done already. A phase is told once.
    pub(super) fn stand_at(&mut self, step: usize, phase: Option<Phase>, came_back: bool) {
        let (was, is) = ((self.step, self.phase, self.came_back), (step, phase, came_back));
        self.changed |= was != is;
        (self.step, self.phase, self.came_back) = is;
    }

    /// Starts a timer.
    pub(super) fn run_timer(&mut self, due: At) {
        self.timers.push(due);
        self.changed = true;
    }

    /// Ends the timers that are due; were there any? One that is not due yet stays: a clock that runs ahead must not end it.
    pub(super) fn end_timers(&mut self, now: At) -> bool {
        let before = self.timers.len();
        self.timers.retain(|&due| due > now);
        let ended = self.timers.len() < before;
        self.changed |= ended;
        ended
    }

    /// Keeps points as confirmed to be left open.
    pub(super) fn confirm_open(&mut self, open: Vec<Open>) {
        self.confirmed_open.extend(open);
        self.changed = true;
    }

    /// Closes the job with the points that were confirmed; gives how many there are.
    pub(super) fn close_with_confirmed(&mut self) -> usize {
        let open = std::mem::take(&mut self.confirmed_open);
        let count = open.len();
        self.closed = Some(open);
        self.timers.clear();
        self.changed = true;
        count
    }

    /// The job is begun, put down or taken up at this moment: an event of its own, whatever else it changes.
    pub(super) fn mark_the_moment(&mut self) {
        self.changed = true;
    }
}
