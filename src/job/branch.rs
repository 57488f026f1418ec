//! Steps that are done only after a measurement that lies outside its limits, or after a "no".
//!
//! Whether they are to be done follows from the reading or the answer that stands, whenever one is recorded, put right or
//! taken back; what is not to be done is told, and is no open point. A step that was done stays done, and what was begun
//! is brought to its end: where one of the steps that depend on the same was worked at in this round, the others are to be
//! done too, for they put right what that one left. While it is not known whether they are to be done, they are passed over
//! and told, and nothing can be claimed of them.

use super::ledger::Change;
use super::{At, Fact, Job, On, Question, Refusal, Say, StepState, counted, work};
use crate::procedure::When;

impl Job {
    /// Is a step to be done, by what it depends on? `None` while that is neither measured nor answered, and while the limits
    /// cannot be told.
    pub(super) fn needed(&self, when: When) -> Option<bool> {
        // What will not be asked has no steps that follow from it.
        let comes = |step: usize| self.ledger.step(step) != StepState::NotNeeded;
        match when {
            When::Outside(ix) => {
                let named = &self.book.named[ix.0];
                if !comes(named.step) {
                    return Some(false);
                }
                self.ledger.measured(named.step, named.act)?;
                counted::limits(&self.book, &self.ledger, named.step, named.act).ok()?;
                Some(work::unmet(&self.book, &self.ledger, named.step, named.act))
            }
            When::No(asking) if !comes(asking) => Some(false),
            When::No(asking) => self.ledger.answered(asking).map(|yes| !yes),
        }
    }

    /// Was one of the steps that depend on this worked at in the round that goes on?
    fn begun(&self, when: When) -> bool {
        let mut anew = Vec::new();
        for fact in self.live.iter().rev().map(|&live| &self.facts[live]) {
            if let Fact::Round { step, round } = fact.fact
                && let Some(until) = &self.book.steps[step].until
            {
                // The last of the rounds goes on when it came out with no.
                if round < until.at_most.unwrap_or(u32::MAX) {
                    anew.push(until.from..=step);
                }
                continue;
            }
            let depends = self.book.steps[fact.step].when == Some(when);
            if depends && is_work(&fact.fact) && !anew.iter().any(|round| round.contains(&fact.step)) {
                return true;
            }
        }
        false
    }

    /// What decides whether a step is to be done, while that is not known.
    pub(super) fn hangs_on(&self, step: usize) -> Option<On> {
        let when = self.book.steps[step].when.filter(|_| !self.ledger.is_over(step))?;
        if self.needed(when).is_some() || self.begun(when) {
            return None;
        }
        Some(self.decided_by(when))
    }

    /// The measurement or the answer that is missing, or that decided.
    fn decided_by(&self, when: When) -> On {
        match when {
            When::No(asking) => On::Answer { step: asking },
            When::Outside(ix) => {
                let named = &self.book.named[ix.0];
                match counted::limits(&self.book, &self.ledger, named.step, named.act) {
                    Err((step, act)) if self.ledger.measured(named.step, named.act).is_some() => {
                        On::Measurement { step, act }
                    }
                    _ => On::Measurement { step: named.step, act: named.act },
                }
            }
        }
    }

    /// Is a step passed over on the way to the next one?
    pub(super) fn is_passed_over(&self, step: usize) -> bool {
        self.ledger.step(step) == StepState::NotNeeded || self.hangs_on(step).is_some()
    }

    /// What is said of these steps that are passed over: which of them are not to be done, and of which that is not known.
    pub(super) fn passed_over(&self, steps: &[usize]) -> Vec<Say> {
        let (mut not_needed, mut unknown) = (Vec::new(), Vec::<(On, Vec<usize>)>::new());
        for &step in steps {
            let Some(on) = self.hangs_on(step) else {
                not_needed.push(step);
                continue;
            };
            match unknown.iter_mut().find(|(other, _)| *other == on) {
                Some((_, steps)) => steps.push(step),
                None => unknown.push((on, vec![step])),
            }
        }
        let mut says = Vec::new();
        if !not_needed.is_empty() {
            says.push(Say::NotNeeded { steps: not_needed });
        }
        says.extend(unknown.into_iter().map(|(on, steps)| Say::Undecided { steps, on }));
        says
    }

    /// Why nothing can be claimed of the step in hand, where it is not to be done or that is not known.
    pub(super) fn not_to_be_claimed(&self) -> Option<Refusal> {
        let step = self.step;
        if self.ledger.step(step) == StepState::NotNeeded {
            let when = self.book.steps[step].when?;
            // What is not to be done because what decides is not to be done either was decided by nothing of its own.
            let decides = match when {
                When::No(asking) => asking,
                When::Outside(ix) => self.book.named[ix.0].step,
            };
            let itself = self.ledger.step(decides) != StepState::NotNeeded;
            return Some(Refusal::NotNeeded { step, on: itself.then(|| self.decided_by(when)) });
        }
        self.hangs_on(step).map(|on| Refusal::Undecided { step, on })
    }

    /// Brings the steps that are not always done in line with what stands in the ledger by now.
    pub(super) fn settle_branches(&mut self, made: &mut Vec<Change>) {
        for step in 0..self.book.steps.len() {
            let Some(when) = self.book.steps[step].when else { continue };
            let was = self.ledger.step(step);
            let to = match (self.needed(when), was) {
                (_, StepState::Done) => continue,
                (Some(false), StepState::Open | StepState::Skipped) if !self.begun(when) => StepState::NotNeeded,
                (Some(true) | None, StepState::NotNeeded) => StepState::Open,
                _ => continue,
            };
            if was == StepState::Skipped {
                self.not_needed_now.push(step);
            }
            made.push(self.make(Change::Step(step, to)));
        }
    }

    /// Settles what follows from the fact that was recorded last, as a part of it.
    pub(super) fn settle(&mut self) {
        let Some(&last) = self.live.last() else { return };
        let mut made = std::mem::take(&mut self.facts[last].made);
        self.settle_branches(&mut made);
        self.settle_limits(&mut made);
        self.facts[last].made = made;
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

/// Does a fact say that the step at which it was recorded was worked at?
fn is_work(fact: &Fact) -> bool {
    match fact {
        Fact::StepDone(_)
        | Fact::Again(_)
        | Fact::Answered { .. }
        | Fact::Stage { .. }
        | Fact::Measured { .. }
        | Fact::LeftOutside { .. }
        | Fact::Acts { .. }
        | Fact::WaitBegun(_)
        | Fact::Waited(_)
        | Fact::InTime(_)
        | Fact::Reading { .. }
        | Fact::Item { .. } => true,
        Fact::Variant(_)
        | Fact::StepSkipped(_)
        | Fact::Round { .. }
        | Fact::NotBegun { .. }
        | Fact::Scrapped { .. }
        | Fact::State(_)
        | Fact::Book(_)
        | Fact::Mark(_)
        | Fact::Note { .. } => false,
    }
}
