//! Doing a step once more that is done already: by going back to it and saying "done".
//!
//! What it does to its things it does again: a fastener that was tight is open, its programme begins again, and the later
//! steps whose work that undoes are open again (`facts`). Since "done" may only have been said twice, it is asked first.
//! What is tight stays tight by being tightened again: no stage of a programme is ever repeated.

use super::ledger::Change;
use super::{Act, At, Edition, Fact, Job, Question, Refusal, Say, StepState, ThingState};
use crate::procedure::Deed;

impl Job {
    /// "Done" on a step that is done. Where the job did not come back to it, or doing it again would change nothing, it
    /// only goes on.
    pub(super) fn done_already(&mut self) -> Vec<Say> {
        let step = self.step;
        if self.edition < Edition::Second || !self.came_back {
            return self.onward();
        }
        // An answer that was wrong is put right so.
        let asks = self.book.steps[step].ask.is_some();
        match self.changes_again() {
            Ok(changes) if changes.is_empty() && !self.takes_time_again(step) && !asks && !self.outdates() => {
                self.onward()
            }
            Ok(_) => match self.step_in_the_way() {
                Some(needs) => self.missing_state(needs),
                None => self.ask(Question::Again { step }),
            },
            Err(refusal) => vec![Say::Refused(*refusal)],
        }
    }

    /// Does a clock run anew when a step is done again: its own, or that of what has to follow it?
    fn takes_time_again(&self, step: usize) -> bool {
        let follows = |other: &crate::procedure::Step| other.within.as_ref().is_some_and(|within| within.after == step);
        self.book.steps[step].wait_minutes.is_some() || self.book.steps.iter().any(follows)
    }

    /// Does anything stand on the step in hand as it was, that would not if it were done again?
    fn outdates(&self) -> bool {
        let outdated = self.outdated_by(&[], true);
        outdated.into_iter().any(|step| self.is_begun(step))
    }

    /// The step was done again, says the user.
    pub(super) fn again(&mut self, at: At) -> Vec<Say> {
        let step = self.step;
        let changes = match self.changes_again() {
            Ok(changes) => changes,
            Err(refusal) => return vec![Say::Refused(*refusal)],
        };
        if let Some(asked) = self.apart_first(&[], true) {
            return asked;
        }
        self.apart.get_or_insert(true);
        let mut made: Vec<Change> = changes.into_iter().map(|change| self.make(change)).collect();
        made.push(self.make(Change::Step(step, StepState::Open)));
        // Its hold point, its wait and its measurements come again with it.
        let measured = (0..self.book.steps[step].acts.len()).filter(|&act| self.ledger.measured(step, act).is_some());
        let mut again: Vec<Change> = measured.map(|act| Change::Measured(step, act, None)).collect();
        again.extend(self.ledger.held(step).then_some(Change::Held(step, false)));
        again.extend(self.ledger.answered(step).map(|_| Change::Answered(step, None)));
        again.extend(self.ledger.in_time(step).then_some(Change::InTime(step, false)));
        again.extend(self.ledger.due(step).map(|_| Change::Due(step, None)));
        again.extend(self.ledger.waited(step).then_some(Change::Waited(step, false)));
        made.extend(again.into_iter().map(|change| self.make(change)));
        made.extend(self.rounds_anew(step));
        self.advance(at, Fact::Again(step), None, made);
        self.said = None;
        self.go_on(at)
    }

    /// What doing the acts of this step again would change, each seeing what the ones before it do.
    fn changes_again(&self) -> Result<Vec<Change>, Box<Refusal>> {
        let mut ledger = self.ledger.clone();
        let mut changes = Vec::new();
        for (n, act) in self.book.steps[self.step].acts.iter().enumerate() {
            if matches!(act, Act::Fasten { deed: Deed::Tighten(_), .. }) {
                continue;
            }
            match ledger.changes(&self.book, act) {
                Ok(made) => {
                    for change in made {
                        let mut before = change.clone();
                        ledger.swap(&mut before);
                        changes.extend((before != change).then_some(change));
                    }
                }
                // What is tightened in between cannot be locked before: the lock comes again when that is done.
                Err(_) if self.is_lock_behind_tightening(n) => {
                    if ledger.act_recorded(self.step, n) {
                        changes.push(Change::Act(self.step, n, false));
                    }
                }
                Err((item, state @ ThingState::Item(_))) => return Err(Box::new(self.unlawful(n, item, state))),
                // What is on, closed or away already is so.
                Err(_) => {}
            }
        }
        Ok(changes)
    }

    /// Does an act lock what an act before it in the same step tightens?
    fn is_lock_behind_tightening(&self, act: usize) -> bool {
        let acts = &self.book.steps[self.step].acts;
        let Act::Fasten { group, deed: Deed::Lock, .. } = acts[act] else { return false };
        let tightens = |act: &Act| matches!(act, Act::Fasten { group: g, deed: Deed::Tighten(_), .. } if *g == group);
        acts[..act].iter().any(tightens)
    }
}
