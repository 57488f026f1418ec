//! Steps that have to be done within a time of an earlier one, as before a sealant skins over.
//!
//! The clock of such a step starts when the earlier one is recorded as done, anew each time that is done again. When it runs out
//! that is told, with what the book says then. A claim that comes later is asked about, for it may be about what was done in
//! time; so is one after the program was away, since nobody knows how much time passed. Nothing late counts as done by itself, and
//! no number is lost over the question: it waits for the answer.

use super::ledger::Change;
use super::work::{self, Work};
use super::{At, Command, Edition, Fact, Job, Question, Refusal, Say, StepState, Waiting};
use crate::quantity::Quantity;

impl Job {
    /// Starts the clocks of what has to follow the steps that these changes have ended, and stops those of what is opened again.
    pub(super) fn settle_limits(&mut self, made: &mut Vec<Change>) {
        self.settle_opened(made);
        for step in 0..self.book.steps.len() {
            let Some(within) = &self.book.steps[step].within else { continue };
            let (after, time) = (within.after, within.milliseconds());
            let running = self.ledger.limit(step);
            // One whose measurement lay outside its limits has ended already, and is only called done once that is put right.
            let ends = |change: &Change| {
                matches!(change, Change::Step(of, was) if *of == after
                && (running.is_none() || !matches!(was, StepState::Done | StepState::Skipped)))
            };
            let to = match self.work_has_ended(after) {
                true if made.iter().any(ends) => Some(At(self.time().0.saturating_add(time))),
                true => continue,
                false => None,
            };
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

    /// A step that is opened again is to be done in time again: the yes was about what was done before, and its clock, if there is
    /// time left on it, runs on.
    fn settle_opened(&mut self, made: &mut Vec<Change>) {
        for step in 0..self.book.steps.len() {
            // Until version 0.3 no clock ran for what came to be needed only then.
            let needed_now = self.edition >= Edition::Fourth && !self.ledger.is_over(step);
            let was_over = |change: &Change| match change {
                Change::Step(of, StepState::Done) => *of == step,
                Change::Step(of, StepState::NotNeeded) => *of == step && needed_now,
                _ => false,
            };
            if self.book.steps[step].within.is_none() || !made.iter().any(was_over) {
                continue;
            }
            if self.ledger.in_time(step) {
                made.push(self.make(Change::InTime(step, false)));
            }
            let due = self.ledger.limit(step).filter(|due| *due > self.time() && !self.timers.contains(due));
            self.timers.extend(due);
        }
    }

    /// Is nothing left to do in a step, though it may be left open because of a measurement outside its limits?
    fn work_has_ended(&self, step: usize) -> bool {
        match self.ledger.step(step) {
            StepState::Done => true,
            StepState::Skipped => {
                let mut acts = 0..self.book.steps[step].acts.len();
                acts.any(|act| work::holds(&self.book, &self.ledger, step, act))
                    && work::work(&self.book, &self.ledger, step) == Work::Nothing
            }
            StepState::Open | StepState::NotNeeded => false,
        }
    }

    /// Must it be asked whether what this answer claims was done in time? The question may have been put while there was time.
    /// That nothing was begun, or that something is left as it is, claims nothing.
    pub(super) fn may_be_late_by(&self, question: &Question, answer: &Command) -> bool {
        let claims = match question {
            Question::Ask { .. } | Question::Apart { again: false, .. } => true,
            Question::Angle(_) => *answer == Command::Finished,
            Question::Hold { .. } | Question::Until { .. } | Question::Wait { .. } => *answer == Command::Yes,
            // Since version 0.4 the number is kept while that is asked (`in_time_first`).
            Question::Reading { .. } | Question::Unit { .. } => {
                *answer == Command::Yes && self.edition < Edition::Fourth
            }
            // One that is done again is asked about once it is open again; what is known of the vehicle ends no step.
            _ => false,
        };
        claims && self.may_be_late()
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
        self.ask(Question::InTime { step: self.step, reading: None })
    }

    /// Asks that before a number is recorded, where it must be asked. The number waits: what it was read from may show it no
    /// more.
    pub(super) fn in_time_first(&mut self, value: Quantity) -> Option<Vec<Say>> {
        if self.edition < Edition::Fourth || !self.may_be_late() {
            return None;
        }
        let reading = Some(Waiting { value, from: self.from.clone() });
        Some(self.ask(Question::InTime { step: self.step, reading }))
    }

    /// It was, says the user. The number that waited for that is recorded, a question that was answered is put once more;
    /// whatever else is claimed with it is said next.
    pub(super) fn in_time(&mut self, step: usize, waiting: Option<Waiting>, at: At) -> Vec<Say> {
        let made = vec![self.make(Change::InTime(step, true))];
        self.record(at, Fact::InTime(step), None, made);
        if let Some(Waiting { value, .. }) = waiting {
            return self.reading_confirmed(value, at);
        }
        let announced = match self.work() {
            _ if self.edition < Edition::Fourth => self.announce(),
            Work::Hold => self.ask(Question::Hold { step }),
            Work::Ask => self.ask_which_way(),
            Work::Until if self.ends_with_a_question(step) => self.ask_again_of_round(),
            _ => self.announce(),
        };
        match announced {
            nothing if nothing.is_empty() => vec![Say::Step { step, phase: None }],
            announced => announced,
        }
    }

    /// It was not.
    pub(super) fn too_late(&self, step: usize, waiting: Option<Waiting>) -> Vec<Say> {
        let not_logged = waiting.map(|Waiting { value, .. }| Say::NotLogged { value });
        not_logged.into_iter().chain([Say::Refused(Refusal::TooLate { step })]).collect()
    }

    /// Steps whose time ran out by now, of those whose clock was running.
    pub(super) fn ran_out(&self, timers: &[At]) -> Vec<Say> {
        let steps = (0..self.book.steps.len()).filter(|&step| !self.ledger.is_over(step));
        let out = steps
            .filter(|&step| self.ledger.limit(step).is_some_and(|due| due <= self.time() && timers.contains(&due)));
        out.map(|step| Say::Refused(Refusal::TooLate { step })).collect()
    }

    /// The time that there is for a step, told when the job comes to it; that it is over, if it is.
    pub fn time_for(&self, step: usize) -> Option<Say> {
        self.book.steps[step].within.as_ref()?;
        if self.ledger.is_over(step) {
            return None;
        }
        let over = self.ledger.limit(step).is_some_and(|due| self.time() > due);
        Some(match () {
            () if self.ledger.in_time(step) => Say::Within { step },
            () if over => Say::Refused(Refusal::TooLate { step }),
            () if self.is_late(step) => Say::WithinUnwatched { step },
            () => Say::Within { step },
        })
    }

    /// What is known, on resuming, of the times that run for other steps than the one in hand.
    pub(super) fn times_running(&self) -> Vec<Say> {
        let others = (0..self.book.steps.len()).filter(|&step| step != self.step && self.ledger.limit(step).is_some());
        others.filter_map(|step| self.time_for(step)).collect()
    }
}
