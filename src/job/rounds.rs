//! Steps that are done again, round by round, until a question is answered with yes.
//!
//! "No" ends a round and begins the next one: each of the steps is open again, with its acts, its readings and its
//! cautions. How often, the ledger counts; when, the facts say. At the most rounds that the book allows it is told what
//! the book says then, and the step stays open until it is answered with yes, or left so. Nothing that was done to the
//! vehicle is undone by it: what the acts find is what the round before left.

use super::ledger::Change;
use super::{At, Edition, Fact, Job, Question, Refusal, Say, StepState};

impl Job {
    /// Asks the question that ends the rounds of the step in hand. Without one the next round begins: what ends them is a
    /// measurement that lies within its limits.
    pub(super) fn ask_until(&mut self, at: At) -> Vec<Say> {
        if !self.ends_with_a_question(self.step) {
            // It was measured again on the way, and is in order: that ends them.
            let in_order = self.book.steps[self.step].when.is_some_and(|when| self.needed(when) == Some(false));
            return match in_order && self.edition >= Edition::Fourth {
                true => self.step_done(at, Vec::new()),
                false => self.another_round(self.step, at),
            };
        }
        self.ask_again_of_round()
    }

    /// Is there a question that ends the rounds of a step?
    pub(super) fn ends_with_a_question(&self, step: usize) -> bool {
        self.book.steps[step].until.as_ref().is_none_or(|until| until.ask.is_some())
    }

    /// Asks it, where there is one.
    pub(super) fn ask_again_of_round(&mut self) -> Vec<Say> {
        let (step, round) = (self.step, self.round(self.step));
        self.ask(Question::Until { step, round })
    }

    /// The round that goes on, from 1. At the most rounds that there may be it is the last of them.
    pub(super) fn round(&self, step: usize) -> u32 {
        let most = self.book.steps[step].until.as_ref().and_then(|until| until.at_most);
        self.ledger.rounds(step).saturating_add(1).min(most.unwrap_or(u32::MAX))
    }

    /// The question was answered with no: the next round begins, if there may be one.
    pub(super) fn another_round(&mut self, step: usize, at: At) -> Vec<Say> {
        let rounds = self.ledger.rounds(step);
        let Some(until) = self.book.steps[step].until.as_ref() else { return vec![Say::LeftAsItIs] };
        let (from, most) = (until.from, until.at_most.unwrap_or(u32::MAX));
        if rounds >= most {
            return vec![Say::Refused(Refusal::RoundsOver { step })];
        }
        let mut made = vec![self.make(Change::Rounds(step, rounds + 1))];
        let over = rounds + 1 == most;
        if !over {
            for step in from..=step {
                made.extend(self.begin_anew(step));
            }
        }
        self.keep(at, Fact::Round { step, round: rounds + 1 }, None, made);
        self.settle();
        if over {
            return vec![Say::Refused(Refusal::RoundsOver { step })];
        }
        self.said = None;
        let mut says = vec![Say::Round { step, round: self.round(step) }];
        if self.is_passed_over(from) {
            self.step = from;
            says.extend(self.onward());
        } else {
            says.extend(self.enter(from));
        }
        says
    }

    /// Opens a step for another round, as if nothing had been recorded in it.
    fn begin_anew(&mut self, step: usize) -> Vec<Change> {
        let (ledger, acts) = (&self.ledger, 0..self.book.steps[step].acts.len());
        let mut anew: Vec<Change> = Vec::new();
        anew.extend((ledger.step(step) != StepState::Open).then_some(Change::Step(step, StepState::Open)));
        anew.extend(
            acts.clone().filter(|&act| ledger.act_recorded(step, act)).map(|act| Change::Act(step, act, false)),
        );
        anew.extend(ledger.held(step).then_some(Change::Held(step, false)));
        anew.extend(ledger.answered(step).map(|_| Change::Answered(step, None)));
        if let Some(due) = ledger.due(step) {
            anew.push(Change::Due(step, None));
            self.timers.retain(|&timer| timer != due);
        }
        let ledger = &self.ledger;
        anew.extend(ledger.in_time(step).then_some(Change::InTime(step, false)));
        anew.extend(ledger.waited(step).then_some(Change::Waited(step, false)));
        for act in acts {
            anew.extend(ledger.measured(step, act).map(|_| Change::Measured(step, act, None)));
            anew.extend(ledger.left_outside(step, act).then_some(Change::LeftOutside(step, act, false)));
        }
        anew.into_iter().map(|change| self.make(change)).collect()
    }

    /// A step that is open again after its rounds were over begins with the first.
    pub(super) fn rounds_anew(&mut self, step: usize) -> Option<Change> {
        let counted = self.ledger.rounds(step) > 0 && self.edition >= Edition::Fourth;
        counted.then(|| self.make(Change::Rounds(step, 0)))
    }

    /// Was the round that goes on the last thing recorded?
    pub(super) fn is_round_just_begun(&self) -> bool {
        let last = self.live.last().map(|&last| &self.facts[last].fact);
        self.question.is_none() && matches!(last, Some(Fact::Round { .. }))
    }

    /// Which round the job stands in, where it is not the first: told with the place in the job.
    pub fn round_in_hand(&self) -> Option<Say> {
        let mut steps = self.book.steps.iter().enumerate().skip(self.step);
        let (step, until) = steps.find_map(|(step, this)| Some((step, this.until.as_ref()?)))?;
        let within = until.from <= self.step && self.ledger.rounds(step) > 0;
        (within && !self.ledger.is_over(step)).then(|| Say::Round { step, round: self.round(step) })
    }
}
