//! Moving through the steps: what is said on coming to one, what "done" and "next" record before going on.

use super::ledger::Change;
use super::work::{self, Work};
use super::{Act, At, Edition, Fact, Job, Pending, Question, Refusal, Remedy, Say, StepState};
use crate::procedure::{Deed, FastenerIx};
use crate::quantity::Quantity;

impl Job {
    /// Comes to a step: cautions first, then the step, then what it needs first.
    pub(super) fn enter(&mut self, step: usize) -> Vec<Say> {
        // What it says is not to be taken for what is to be done.
        if let Some(on) = self.hangs_on(step) {
            self.stand_at(step, self.phase, false);
            return vec![Say::Undecided { steps: vec![step], on }];
        }
        let phase = self.book.steps[step].phase;
        let new_phase = (self.phase != Some(phase)).then_some(phase);
        let came_back = self.ledger.is_over(step);
        self.stand_at(step, Some(phase), came_back);
        let mut says = self.standing(|cause| new_phase.is_some() || self.touches(cause));
        if !came_back {
            says.extend(self.forewarnings());
        }
        says.extend(self.book.steps[step].cautions.iter().cloned().map(Say::Caution));
        says.extend(self.time_for(step));
        if self.book.steps[step].later.is_some() && !self.ledger.is_over(step) {
            says.push(Say::DueLater { steps: vec![step] });
        }
        says.push(Say::Step { step, phase: new_phase });
        if self.ledger.step(step) == StepState::NotNeeded {
            says.push(Say::NotNeeded { steps: vec![step] });
        }
        match self.step_in_the_way().filter(|_| !self.ledger.is_over(step)) {
            Some(needs) => says.push(Say::Refused(Refusal::NotInState(needs))),
            None => says.extend(self.announce()),
        }
        says
    }

    /// "Next": like "done" where nothing is tightened, measured or confirmed; refused while something of that is missing.
    pub(super) fn next(&mut self, at: At) -> Vec<Say> {
        if self.ledger.is_over(self.step) {
            return self.onward();
        }
        match self.work() {
            // How far it went has to be known before anything else is said of it.
            Work::Doubtful(pending) if self.edition >= Edition::Second => self.ask(Question::Angle(pending)),
            Work::Stage(pending) | Work::Doubtful(pending) => {
                let (items, stages) = work::left(&self.book, &self.ledger, self.step);
                vec![Say::Refused(Refusal::Unfinished { items, stages, pending })]
            }
            Work::Remedy { group, item, remedy } => {
                vec![Say::Refused(Refusal::RemedyFirst { group, item, remedy })]
            }
            Work::Untold { group } => vec![Say::Untold { group }],
            Work::Measure { act } => vec![Say::Refused(Refusal::Unmeasured { step: self.step, act })],
            Work::Unmeasured { step, act } => vec![Say::Refused(Refusal::Unmeasured { step, act })],
            Work::NoTorque(counted) => vec![Say::Refused(Refusal::NoTorque(counted))],
            Work::Unmet { act } => self.unmet(act),
            Work::Undecided(_) => self.onward(),
            // Nobody was told to go on: what locks it has to be fitted first, and whether it is, that word does not say.
            Work::Acts { from, to } if self.to_lock(from, to).is_some() => {
                self.to_lock(from, to).map(|group| Say::Refused(Refusal::NotLocked { group })).into_iter().collect()
            }
            Work::Acts { .. }
            | Work::Wait { .. }
            | Work::Hold
            | Work::Ask
            | Work::Until
            | Work::Blocked { .. }
            | Work::Nothing => self.done(at),
        }
    }

    /// The group that these acts lock, where it was tightened in the same step just before: that is a part of tightening.
    pub(super) fn to_lock(&self, from: usize, to: usize) -> Option<FastenerIx> {
        let acts = &self.book.steps[self.step].acts;
        let tightened = |ix: FastenerIx| {
            let tightens = |act: &Act| matches!(act, Act::Fasten { group, deed: Deed::Tighten(_), .. } if *group == ix);
            acts[..from].iter().any(tightens)
        };
        let not_recorded = (from..to).filter(|&act| !self.ledger.act_recorded(self.step, act));
        let mut locked = not_recorded.filter_map(|act| match acts[act] {
            Act::Fasten { group, deed: Deed::Lock, .. } => Some(group),
            _ => None,
        });
        locked.find(|&group| tightened(group)).filter(|_| self.edition >= Edition::Third)
    }

    /// "Done": records what the step needs next, and goes on.
    pub(super) fn done(&mut self, at: At) -> Vec<Say> {
        let step = self.step;
        if let Some(refusal) = self.not_to_be_claimed() {
            return vec![Say::Refused(refusal)];
        }
        if self.ledger.is_over(step) {
            return self.done_already();
        }
        if let Some(needs) = self.step_in_the_way() {
            return self.missing_state(needs);
        }
        if self.records_by_done() && self.may_be_late() {
            return self.ask_in_time();
        }
        if let Some(asked) = self.acts_that_outdate() {
            return asked;
        }
        match self.work() {
            Work::Acts { from, to } => match self.plain_acts(from, to) {
                Ok(made) => {
                    self.advance(at, Fact::Acts { step, from, to }, None, made);
                    self.go_on(at)
                }
                Err(refusal) => vec![Say::Refused(*refusal)],
            },
            Work::Stage(pending) => match pending.waits {
                Some(needs) => self.missing_state(needs),
                None => self.stage_done(&pending, None, at),
            },
            Work::Doubtful(pending) => self.ask(Question::Angle(pending)),
            Work::Remedy { group, item, remedy } => self.remedied(group, item, remedy, at),
            Work::Blocked { act, item, state } => vec![Say::Refused(self.unlawful(act, item, state))],
            Work::Untold { group } => vec![Say::Untold { group }],
            Work::Measure { act } => vec![Say::Refused(Refusal::Unmeasured { step, act })],
            Work::Unmeasured { step, act } => vec![Say::Refused(Refusal::Unmeasured { step, act })],
            Work::NoTorque(counted) => vec![Say::Refused(Refusal::NoTorque(counted))],
            Work::Unmet { act } => self.unmet(act),
            Work::Undecided(on) => vec![Say::Refused(Refusal::Undecided { step, on })],
            Work::Wait { minutes } => self.wait_over(minutes, at),
            Work::Hold => self.ask(Question::Hold { step }),
            Work::Ask => self.ask_which_way(),
            Work::Until => self.ask_until(at),
            // It stays open for its measurement, and that was said before.
            Work::Nothing if self.ledger.step(step) == self.end_state() => self.onward(),
            Work::Nothing => self.step_done(at, Vec::new()),
        }
    }

    /// Would "done" record something, and not only ask or refuse?
    fn records_by_done(&self) -> bool {
        match self.work() {
            Work::Acts { .. } | Work::Wait { .. } | Work::Hold | Work::Ask | Work::Until => true,
            Work::Stage(pending) => pending.waits.is_none(),
            Work::Nothing => self.ledger.step(self.step) != self.end_state(),
            _ => false,
        }
    }

    /// What comes next once the user said "done": the next step, or what is left of this one.
    pub(super) fn go_on(&mut self, at: At) -> Vec<Say> {
        match self.work() {
            Work::Nothing if self.ledger.step(self.step) == StepState::Open && self.may_be_late() => self.ask_in_time(),
            Work::Nothing => self.onward(),
            Work::Hold => self.ask(Question::Hold { step: self.step }),
            Work::Ask => self.ask_which_way(),
            Work::Until => self.ask_until(at),
            _ => self.announce_next(),
        }
    }

    /// What is left of this step after a part of it was recorded. A hold point waits until the user says "done".
    pub(super) fn announce_next(&mut self) -> Vec<Say> {
        match self.work() {
            // The clock has just started.
            Work::Wait { minutes } => vec![Say::TimerStarted { minutes }],
            _ => self.announce(),
        }
    }

    /// Makes the changes of a run of plain acts, all or none.
    fn plain_acts(&mut self, from: usize, to: usize) -> Result<Vec<Change>, Box<Refusal>> {
        let all = self.lawful_acts(from, to)?;
        Ok(all.into_iter().map(|change| self.make(change)).collect())
    }

    /// What a run of plain acts would change, each act seeing what the ones before it do.
    pub(super) fn lawful_acts(&self, from: usize, to: usize) -> Result<Vec<Change>, Box<Refusal>> {
        let (step, book) = (self.step, &self.book);
        let mut ledger = self.ledger.clone();
        let mut all = Vec::new();
        // Some may be recorded already, where the step was opened again for one of its acts.
        for act in (from..to).filter(|&act| !self.ledger.act_recorded(step, act)) {
            match ledger.changes(book, &book.steps[step].acts[act]) {
                Ok(changes) => {
                    for change in changes.into_iter().chain([Change::Act(step, act, true)]) {
                        ledger.swap(&mut change.clone());
                        all.push(change);
                    }
                }
                Err((item, state)) => return Err(Box::new(self.unlawful(act, item, state))),
            }
        }
        Ok(all)
    }

    /// Records that nothing is left to do in the step, with these last changes, and goes on to the next.
    pub(super) fn step_done(&mut self, at: At, mut made: Vec<Change>) -> Vec<Say> {
        let step = self.step;
        made.push(self.close_step());
        let done = self.ledger.step(step) == StepState::Done;
        self.record(at, if done { Fact::StepDone(step) } else { Fact::StepSkipped(step) }, None, made);
        let mut says = if done { Vec::new() } else { vec![Say::Skipped { step }] };
        says.extend(self.onward());
        says
    }

    /// To the next step, if there is one.
    pub(super) fn onward(&mut self) -> Vec<Say> {
        let due_now = |step: &usize| self.book.steps[*step].later.is_none();
        let to_be_done = |step: &usize| due_now(step) && !self.is_passed_over(*step);
        let next = (self.step + 1..self.book.steps.len()).find(to_be_done);
        let passed = self.step + 1..next.unwrap_or(self.book.steps.len());
        let passed: Vec<usize> = passed.filter(due_now).collect();
        let mut says = self.passed_over(&passed);
        match next {
            Some(next) => says.extend(self.enter(next)),
            None => {
                let later: Vec<usize> = self.later_steps().collect();
                if !later.is_empty() {
                    says.push(Say::DueLater { steps: later });
                }
                says.push(match self.ledger.is_over(self.step) {
                    true => Say::LastStepDone,
                    false => Say::Refused(Refusal::AtLast),
                });
            }
        }
        says
    }

    /// Steps that are due only after the job is closed, and not done yet. To version 0.3 one that is not to be done was among them.
    pub(super) fn later_steps(&self) -> impl Iterator<Item = usize> {
        let over = |step: usize| match self.ledger.step(step) {
            StepState::NotNeeded => self.edition >= Edition::Fourth,
            state => state == StepState::Done,
        };
        let later = move |step: &usize| self.book.steps[*step].later.is_some() && !over(*step);
        (0..self.book.steps.len()).filter(later)
    }

    /// Records a stage of an item, and says what comes next in this step.
    pub(super) fn stage_done(&mut self, pending: &Pending, reading: Option<Quantity>, at: At) -> Vec<Say> {
        let Pending { group, item, stage, .. } = *pending;
        let after = self.ledger.item(group, item).after_stage(stage, &self.fastener(group).finish, reading);
        let state = after.state;
        let made = vec![self.make(Change::Item(group, item, Box::new(after)))];
        self.advance(at, Fact::Stage { group, item, stage }, reading, made);
        let same_group = match self.work() {
            Work::Stage(p) | Work::Doubtful(p) => p.group == group,
            Work::Remedy { group: g, .. } => g == group,
            _ => false,
        };
        let mut says = Vec::new();
        if !same_group {
            says.push(Say::GroupDone { group, items: pending.items, state });
        }
        says.extend(self.announce_next());
        says
    }

    /// The user did what the rule of the fastener asks: it begins again.
    fn remedied(&mut self, group: FastenerIx, item: usize, remedy: Remedy, at: At) -> Vec<Say> {
        let entry = self.ledger.item(group, item);
        let fresh = entry.hand_started(remedy == Remedy::Renew);
        let fact = Fact::Item { group, item, state: fresh.state };
        let made = vec![self.make(Change::Item(group, item, Box::new(fresh)))];
        self.advance(at, fact, None, made);
        self.said = None;
        self.announce_next()
    }

    /// To the step before. Nothing else changes.
    pub(super) fn back(&mut self) -> Vec<Say> {
        let before = (0..self.step).rev().find(|&step| !self.is_passed_over(step));
        match before {
            Some(step) => self.move_to(step),
            None => vec![Say::Refused(Refusal::AtFirst)],
        }
    }

    /// To a step, leaving everything as it is.
    pub(super) fn move_to(&mut self, step: usize) -> Vec<Say> {
        self.drop_question();
        self.suspect_pending();
        self.said = None;
        self.enter(step)
    }

    /// "Skip": asks first, where that leaves something open which was not left open before. What is wrong with a
    /// measurement is named, and leaving that open is not yet leaving what else the step has.
    pub(super) fn ask_skip(&mut self) -> Vec<Say> {
        if let Work::Unmet { act } = self.work()
            && let Some(value) = self.ledger.measured(self.step, act)
        {
            return self.ask(Question::LeaveOutside { step: self.step, act, value });
        }
        match self.ledger.step(self.step) {
            StepState::Open => self.ask(Question::Skip { step: self.step }),
            StepState::Skipped => {
                self.suspect_pending();
                self.onward()
            }
            StepState::Done | StepState::NotNeeded => self.onward(),
        }
    }

    /// A measurement lies outside its limits, and nothing was done about it: what is wrong, and what the book says.
    fn unmet(&self, act: usize) -> Vec<Say> {
        let value = self.ledger.measured(self.step, act);
        value.map(|value| Say::Refused(Refusal::Outside { step: self.step, act, value })).into_iter().collect()
    }

    /// Leaves a measurement outside its limits, and goes on with what else the step has.
    pub(super) fn leave_outside(&mut self, act: usize, at: At) -> Vec<Say> {
        let step = self.step;
        let made = vec![self.make(Change::LeftOutside(step, act, true))];
        self.advance(at, Fact::LeftOutside { step, act }, None, made);
        let mut says = Vec::new();
        if self.ledger.step(step) == StepState::Skipped {
            says.push(Say::Skipped { step });
        }
        says.extend(self.go_on(at));
        says
    }

    /// Leaves the step open and goes on.
    pub(super) fn skip(&mut self, at: At) -> Vec<Say> {
        let step = self.step;
        self.suspect_pending();
        let made = vec![self.make(Change::Step(step, StepState::Skipped))];
        self.record(at, Fact::StepSkipped(step), None, made);
        let mut says = vec![Say::Skipped { step }];
        says.extend(self.onward());
        says
    }

    /// "Done" while the step asks for time to pass.
    fn wait_over(&mut self, minutes: u32, at: At) -> Vec<Say> {
        match self.ledger.due(self.step) {
            None => {
                let made = vec![self.start_clock(minutes)];
                self.record(at, Fact::WaitBegun(self.step), None, made);
                vec![Say::TimerStarted { minutes }]
            }
            Some(due) if self.time() < due => self.ask_wait(minutes, due),
            Some(_) => self.end_wait(at),
        }
    }

    /// The wait of this step is over, by the clock or by the user's word.
    pub(super) fn end_wait(&mut self, at: At) -> Vec<Say> {
        let step = self.step;
        let due = self.ledger.due(step);
        self.timers.retain(|&t| Some(t) != due);
        let made = vec![self.make(Change::Waited(step, true))];
        self.advance(at, Fact::Waited(step), None, made);
        self.go_on(at)
    }
}
