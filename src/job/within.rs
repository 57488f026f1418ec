//! Steps that have to be done within a time of an earlier one, as before a sealant skins over.
//!
//! The clock of such a step starts when the earlier one is recorded as done, anew each time that is done again. When it runs out
//! that is told, with what the book says then. A claim that comes later is asked about, for it may be about what was done in
//! time; so is one after the program was away, since nobody knows how much time passed. Nothing late counts as done by itself.

use super::ledger::Change;
use super::{At, Fact, Job, Question, Refusal, Say, StepState};

impl Job {
    /// Starts the clocks of what has to follow the steps that these changes have ended, and stops those of what is opened again.
    pub(super) fn settle_limits(&mut self, made: &mut Vec<Change>) {
        for step in 0..self.book.steps.len() {
            let Some(within) = &self.book.steps[step].within else { continue };
            let (after, time) = (within.after, within.milliseconds());
            let ended =
                |change: &Change| matches!(change, Change::Step(of, was) if *of == after && *was != StepState::Done);
            let to = match self.ledger.step(after) {
                StepState::Done if made.iter().any(ended) => Some(At(self.time().0.saturating_add(time))),
                StepState::Done => continue,
                _ => None,
            };
            let running = self.ledger.limit(step);
            if running == to {
                continue;
            }
            self.timers.retain(|timer| Some(*timer) != running);
            self.timers.extend(to);
            made.push(self.make(Change::Limit(step, to)));
            if self.ledger.in_time(step) {
                made.push(self.make(Change::InTime(step, false)));
            }
        }
        // What is done needs no clock any more.
        for step in (0..self.book.steps.len()).filter(|&step| self.ledger.is_over(step)) {
            if let Some(due) = self.ledger.limit(step) {
                self.timers.retain(|&timer| timer != due);
            }
        }
    }

    /// Must it be asked whether what is claimed of the step in hand was done in time?
    pub(super) fn may_be_late(&self) -> bool {
        self.is_late(self.step) && !self.ledger.in_time(self.step)
    }

    /// Is the time for a step over, or may it be, because the program was away?
    fn is_late(&self, step: usize) -> bool {
        let (Some(due), Some(within)) = (self.ledger.limit(step), &self.book.steps[step].within) else { return false };
        let began = At(due.0.saturating_sub(within.milliseconds()));
        let unwatched = self.now.is_taken_up_since(began);
        !self.ledger.is_over(step) && (self.time() > due || unwatched)
    }

    /// Asks whether the step in hand was done in time.
    pub(super) fn ask_in_time(&mut self) -> Vec<Say> {
        self.ask(Question::InTime { step: self.step })
    }

    /// It was, says the user; what is claimed with it is said next.
    pub(super) fn in_time(&mut self, step: usize, at: At) -> Vec<Say> {
        let made = vec![self.make(Change::InTime(step, true))];
        self.record(at, Fact::InTime(step), None, made);
        match self.announce() {
            nothing if nothing.is_empty() => vec![Say::Step { step, phase: None }],
            announced => announced,
        }
    }

    /// It was not.
    pub(super) fn too_late(&self, step: usize) -> Vec<Say> {
        vec![Say::Refused(Refusal::TooLate { step })]
    }

    /// Steps whose time ran out by now, of those whose clock was running.
    pub(super) fn ran_out(&self, timers: &[At]) -> Vec<Say> {
        let steps = (0..self.book.steps.len()).filter(|&step| !self.ledger.is_over(step));
        let out = steps
            .filter(|&step| self.ledger.limit(step).is_some_and(|due| due <= self.time() && timers.contains(&due)));
        out.map(|step| Say::Refused(Refusal::TooLate { step })).collect()
    }

    /// The time that there is for a step, told when the job comes to it; that it is over, if it is.
    pub(super) fn time_for(&self, step: usize) -> Option<Say> {
        self.book.steps[step].within.as_ref()?;
        if self.ledger.is_over(step) {
            return None;
        }
        let over = self.ledger.limit(step).is_some_and(|due| self.time() > due) && !self.ledger.in_time(step);
        Some(if over { Say::Refused(Refusal::TooLate { step }) } else { Say::Within { step } })
    }
}
