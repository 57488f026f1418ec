//! Moving through the steps: what is said on coming to one, what "done" and "next" record before going on.

use super::ledger::Change;
use super::work::{self, Work};
use super::{At, Fact, Job, Question, Refusal, Remedy, Say, StepState};
use crate::procedure::{Act, Cause, Deed, FastenerIx};

impl Job {
    /// Comes to a step: cautions first, then the step, then what it needs first.
    pub(super) fn enter(&mut self, step: usize) -> Vec<Say> {
        if self.step != step {
            self.step = step;
            self.changed = true;
        }
        let this = &self.book.steps[step];
        let new_phase = (self.phase != Some(this.phase)).then_some(this.phase);
        self.phase = Some(this.phase);
        let mut says = self.standing(|cause| {
            new_phase.is_some() || self.book.steps[step].acts.iter().any(|act| work::thing(act) == Some(touched(cause)))
        });
        says.extend(self.book.steps[step].cautions.iter().cloned().map(Say::Caution));
        says.push(Say::Step { step, phase: new_phase });
        let needs = self.book.steps[step].needs;
        if let Some(needs) = needs.filter(|&n| self.ledger.step(step) != StepState::Done && !self.ledger.is_in(n)) {
            says.push(Say::Refused(Refusal::NotInState(needs)));
        } else if !matches!(self.work(), Work::Hold) {
            // A hold point is asked about once the user says the step is done, not before it was read.
            says.extend(self.announce());
        }
        says
    }

    /// Standing cautions whose cause stands and passes `wanted`.
    pub(super) fn standing(&self, wanted: impl Fn(Cause) -> bool) -> Vec<Say> {
        let stands = self.book.standing.iter().filter(|s| self.ledger.stands(s.cause) && wanted(s.cause));
        stands.map(|s| Say::Standing(s.caution.clone())).collect()
    }

    /// "Next": like "done" where nothing is tightened, measured or confirmed; refused while something of that is missing.
    pub(super) fn next(&mut self, at: At) -> Vec<Say> {
        match self.work() {
            Work::Stage(pending) | Work::Doubtful(pending) => {
                let (items, stages) = work::left(&self.book, &self.ledger, self.step);
                vec![Say::Refused(Refusal::Unfinished { items, stages, pending })]
            }
            Work::Remedy { group, item, remedy } => {
                vec![Say::Refused(Refusal::RemedyFirst { group, item, remedy })]
            }
            Work::Measure { act } => vec![Say::Refused(Refusal::Unmeasured { step: self.step, act })],
            Work::Acts { .. } | Work::Wait { .. } | Work::Hold | Work::Blocked { .. } | Work::Nothing => self.done(at),
        }
    }

    /// "Done": records what the step needs next, and goes on.
    pub(super) fn done(&mut self, at: At) -> Vec<Say> {
        let step = self.step;
        if self.ledger.step(step) == StepState::Done {
            return self.onward();
        }
        if let Some(needs) = self.book.steps[step].needs.filter(|&n| !self.ledger.is_in(n)) {
            return vec![Say::Refused(Refusal::NotInState(needs))];
        }
        match self.work() {
            Work::Acts { from, to } => match self.plain_acts(from, to) {
                Ok(changes) => {
                    let mut probe = self.ledger.clone();
                    for change in &changes {
                        probe.swap(&mut change.clone());
                    }
                    // The last acts of a step and the step itself are one fact, taken back together.
                    if work::work(&self.book, &probe, step) == Work::Nothing {
                        self.step_done(at, changes)
                    } else {
                        self.record(at, Fact::Acts { step, from, to }, None, changes);
                        self.start_wait(at);
                        self.announce()
                    }
                }
                Err(refusal) => vec![Say::Refused(refusal)],
            },
            Work::Stage(pending) => match self.stage_in_the_way(&pending) {
                Some(refusal) => vec![Say::Refused(refusal)],
                None => self.stage_done(pending.group, pending.item, pending.stage, None, at),
            },
            Work::Doubtful(pending) => self.ask(Question::Angle(pending)),
            Work::Remedy { group, item, remedy } => self.remedied(group, item, remedy, at),
            Work::Blocked { act, item, state } => vec![Say::Refused(self.unlawful(act, item, state))],
            Work::Measure { act } => vec![Say::Refused(Refusal::Unmeasured { step, act })],
            Work::Wait { minutes } => self.wait_over(minutes, at),
            Work::Hold => self.ask(Question::Hold { step }),
            Work::Nothing => self.step_done(at, Vec::new()),
        }
    }

    /// The changes of a run of plain acts, each seeing what the ones before it did.
    fn plain_acts(&self, from: usize, to: usize) -> Result<Vec<Change>, Refusal> {
        let mut ledger = self.ledger.clone();
        let mut all = Vec::new();
        for act in from..to {
            let changes = ledger
                .changes(&self.book, &self.book.steps[self.step].acts[act])
                .map_err(|(item, state)| self.unlawful(act, item, state))?;
            for change in changes.into_iter().chain([Change::Act(self.step, act, true)]) {
                ledger.swap(&mut change.clone());
                all.push(change);
            }
        }
        Ok(all)
    }

    /// Records the step as done, with these last changes, and goes on to the next.
    pub(super) fn step_done(&mut self, at: At, mut changes: Vec<Change>) -> Vec<Say> {
        changes.push(Change::Step(self.step, StepState::Done));
        self.record(at, Fact::StepDone(self.step), None, changes);
        self.onward()
    }

    /// To the next step, if there is one.
    pub(super) fn onward(&mut self) -> Vec<Say> {
        if self.step + 1 < self.book.steps.len() {
            self.enter(self.step + 1)
        } else if self.ledger.step(self.step) == StepState::Done {
            vec![Say::LastStepDone]
        } else {
            vec![Say::Refused(Refusal::AtLast)]
        }
    }

    /// Records a stage of an item, and says what comes next in this step.
    pub(super) fn stage_done(
        &mut self,
        group: FastenerIx,
        item: usize,
        stage: usize,
        reading: Option<crate::quantity::Quantity>,
        at: At,
    ) -> Vec<Say> {
        let after = self.ledger.item(group, item).after_stage(stage, &self.fastener(group).finish, reading);
        let mut changes = vec![Change::Item(group, item, Box::new(after))];
        let mut probe = self.ledger.clone();
        probe.swap(&mut changes[0].clone());
        let next = work::work(&self.book, &probe, self.step);
        if next == Work::Nothing {
            changes.push(Change::Step(self.step, StepState::Done));
        }
        let same_act = match &next {
            Work::Stage(p) | Work::Doubtful(p) => p.group == group,
            Work::Remedy { group: g, .. } => *g == group,
            _ => false,
        };
        let mut says = Vec::new();
        if !same_act {
            let act = self.book.steps[self.step].acts.iter().find_map(|a| match a {
                Act::Fasten { group: g, items, deed: Deed::Tighten(_) } if *g == group => Some(items.len()),
                _ => None,
            });
            says.push(Say::GroupDone { group, items: act.unwrap_or(1), state: probe.item(group, item).state });
        }
        self.record(at, Fact::Stage { group, item, stage }, reading, changes);
        self.start_wait(at);
        if !matches!(self.work(), Work::Hold) {
            says.extend(self.announce());
        }
        says
    }

    /// The user did what the rule of the fastener asks: it begins again.
    fn remedied(&mut self, group: FastenerIx, item: usize, remedy: Remedy, at: At) -> Vec<Say> {
        let entry = self.ledger.item(group, item);
        let fresh = entry.hand_started(entry.new || remedy == Remedy::Renew);
        let fact = Fact::Item { group, item, state: fresh.state };
        self.record(at, fact, None, vec![Change::Item(group, item, Box::new(fresh))]);
        self.said = None;
        self.announce()
    }

    /// To the step before. Nothing else changes.
    pub(super) fn back(&mut self) -> Vec<Say> {
        match self.step.checked_sub(1) {
            Some(step) => self.move_to(step),
            None => vec![Say::Refused(Refusal::AtFirst)],
        }
    }

    /// To a step by its number. Nothing else changes.
    pub(super) fn go_to(&mut self, number: u32) -> Vec<Say> {
        let steps = self.book.steps.len();
        match (number as usize).checked_sub(1).filter(|&step| step < steps) {
            Some(step) => self.move_to(step),
            None => vec![Say::Refused(Refusal::NoSuchStep { asked: number, steps })],
        }
    }

    fn move_to(&mut self, step: usize) -> Vec<Say> {
        self.drop_question();
        self.suspect_pending();
        self.said = None;
        self.enter(step)
    }

    /// Leaves the step open and goes on.
    pub(super) fn skip(&mut self, at: At) -> Vec<Say> {
        let step = self.step;
        self.suspect_pending();
        if self.ledger.step(step) != StepState::Done {
            let changes = vec![Change::Step(step, StepState::Skipped)];
            self.record(at, Fact::StepSkipped(step), None, changes);
        }
        let mut says = vec![Say::Skipped { step }];
        says.extend(self.onward());
        says
    }

    /// Starts the clock of a wait once everything before it is done.
    pub(super) fn start_wait(&mut self, at: At) {
        if let Work::Wait { minutes } = self.work()
            && self.waits[self.step].is_none()
        {
            let due = At(at.0.saturating_add(i64::from(minutes) * 60_000));
            self.waits[self.step] = Some(due);
            self.timers.push(due);
            self.changed = true;
        }
    }

    /// "Done" while the step asks for time to pass.
    fn wait_over(&mut self, minutes: u32, at: At) -> Vec<Say> {
        match self.waits[self.step] {
            None => {
                self.start_wait(at);
                vec![Say::TimerStarted { minutes }]
            }
            Some(due) if at < due => self.ask(Question::Wait { minutes_left: super::answer::minutes_until(due, at) }),
            Some(_) => self.end_wait(at),
        }
    }

    /// The wait of this step is over, by the clock or by the user's word.
    pub(super) fn end_wait(&mut self, at: At) -> Vec<Say> {
        let step = self.step;
        let due = self.waits[step];
        self.timers.retain(|&t| Some(t) != due);
        if self.book.steps[step].hold.is_some() && !self.ledger.held(step) {
            self.record(at, Fact::Waited(step), None, vec![Change::Waited(step, true)]);
            return self.ask(Question::Hold { step });
        }
        self.step_done(at, vec![Change::Waited(step, true)])
    }
}

/// The thing whose being touched brings a standing caution back.
fn touched(cause: Cause) -> work::Thing {
    match cause {
        Cause::Placed(ix) => work::Thing::Support(ix.0),
        Cause::Hung(ix) | Cause::Off(ix) => work::Thing::Component(ix.0),
        Cause::Open(ix) => work::Thing::Connection(ix.0),
        Cause::In(ix) => work::Thing::Condition(ix.0),
    }
}
