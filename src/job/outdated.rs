//! Steps that stood on what was done before them, which is done anew: what has to follow it within a time, and what the book puts
//! on behind what is applied. They were done too early now.
//!
//! Under a cover that is on nothing is sealed, but it may only be claimed late what was done before the cover went on; so it is
//! asked whether what such a step puts together has come apart. If it has, it is as it was before, and is claimed once more as it
//! was the first time: the part, and every fastener that holds it with all of its stages. If not, it stays as it is, and only
//! what has a time to be done in is open. A step that only tightens leaves what is tight as it is: no stage is repeated on
//! what was never loosened.

use super::ledger::{Change, Item};
use super::work::Work;
use super::{Act, Edition, ItemState, Job, Question, Say, StepState};
use crate::procedure::{ComponentIx, Deed, FastenerIx, lawful::ComponentState};

impl Job {
    /// Asks whether what these changes would leave standing too early has come apart, where that has to be asked.
    pub(super) fn apart_first(&mut self, made: &[Change], anew: bool) -> Option<Vec<Say>> {
        if self.apart.is_some() {
            return None;
        }
        let steps: Vec<usize> =
            self.outdated_by(made, anew).into_iter().filter(|&step| self.is_together(step)).collect();
        (!steps.is_empty()).then(|| self.ask(Question::Apart { steps, again: anew }))
    }

    /// The same before the acts that are due are recorded, if they can be.
    pub(super) fn acts_that_outdate(&mut self) -> Option<Vec<Say>> {
        let Work::Acts { from, to } = self.work() else { return None };
        if self.lawful_acts(from, to).is_err() {
            return None;
        }
        let step = self.step;
        let due = (from..to).filter(|&act| !self.ledger.act_recorded(step, act));
        let made: Vec<Change> = due.map(|act| Change::Act(step, act, false)).collect();
        self.apart_first(&made, false)
    }

    /// It was answered whether it has.
    pub(super) fn apart_answered(&mut self, apart: bool, again: bool, at: super::At) -> Vec<Say> {
        self.apart = Some(apart);
        if again { self.again(at) } else { self.done(at) }
    }

    /// Is anything that a step put together still so?
    fn is_together(&self, step: usize) -> bool {
        let ledger = &self.ledger;
        let mut acts = self.book.steps[step].acts.iter().enumerate();
        acts.any(|(n, act)| {
            let together = match act {
                Act::PutOn(ix) => ledger.component(*ix) == ComponentState::On,
                Act::Connect(ix) => ledger.connected(*ix),
                Act::Fasten { group, items, deed: Deed::HandStart | Deed::Hold } => {
                    items.iter().any(|&item| is_in(ledger.item(*group, item).state))
                }
                _ => false,
            };
            together && ledger.act_recorded(step, n)
        })
    }

    /// Steps that stood on what was done just now as it was before. `anew`: all of the step in hand was done again.
    pub(super) fn outdated_by(&self, made: &[Change], anew: bool) -> Vec<usize> {
        let (step, steps) = (self.step, &self.book.steps);
        let again = anew || made.contains(&Change::Step(step, StepState::Done));
        let recorded = |act: usize| anew || made.contains(&Change::Act(step, act, false));
        let acts = &steps[step].acts;
        if self.edition < Edition::Fourth || !(again || (0..acts.len()).any(recorded)) {
            return Vec::new();
        }
        let applied = (0..acts.len()).any(|act| matches!(acts[act], Act::Apply(_)) && recorded(act));
        // Only what comes next is known to go on top of it.
        let joins = |s: &usize| {
            let plain = |act: &Act| matches!(act, Act::Clean(_) | Act::Apply(_) | Act::Measure(_));
            self.ledger.step(*s) != StepState::NotNeeded && steps[*s].acts.iter().any(|act| !plain(act))
        };
        let puts_on = |s: &usize| steps[*s].acts.iter().any(|act| matches!(act, Act::PutOn(_)));
        let on_top = applied && self.apart != Some(false);
        let next = (step + 1..steps.len()).find(joins).filter(puts_on).filter(|_| on_top);
        let mut outdated: Vec<usize> = Vec::new();
        for (later, this) in steps.iter().enumerate().skip(step + 1) {
            let after = this.within.as_ref().map(|within| within.after);
            if next == Some(later) || after.is_some_and(|after| after == step || outdated.contains(&after)) {
                outdated.push(later);
            }
        }
        outdated
    }

    /// Is a step done, or was a part of it?
    pub(super) fn is_begun(&self, step: usize) -> bool {
        let (ledger, mut acts) = (&self.ledger, 0..self.book.steps[step].acts.len());
        let begun = |act| ledger.act_recorded(step, act) || ledger.measured(step, act).is_some();
        ledger.step(step) == StepState::Done || ledger.due(step).is_some() || acts.any(begun)
    }

    /// Whatever a step knows of how it was done the last time, but for its hold point and its answer; what it put together is
    /// apart.
    pub(super) fn forget(&mut self, step: usize) -> Vec<Change> {
        let book = std::sync::Arc::clone(&self.book);
        let mut made: Vec<Change> = Vec::new();
        for (n, act) in book.steps[step].acts.iter().enumerate() {
            let apart = match act {
                Act::Measure(_) => {
                    let ledger = &self.ledger;
                    let measured = ledger.measured(step, n).map(|_| Change::Measured(step, n, None));
                    let left = ledger.left_outside(step, n).then_some(Change::LeftOutside(step, n, false));
                    made.extend(measured.into_iter().chain(left).map(|change| self.make(change)));
                    continue;
                }
                _ if !self.ledger.act_recorded(step, n) => continue,
                Act::Clean(_) | Act::Apply(_) => Vec::new(),
                // What stands in the ledger as it is cannot be brought there again; that it was is said of the step.
                _ if self.apart != Some(true) => continue,
                Act::PutOn(ix) => self.off(step, n, *ix).into_iter().collect(),
                Act::Connect(ix) => vec![Change::Connection(*ix, false)],
                Act::Fasten { group, items, deed: Deed::HandStart | Deed::Hold } => {
                    items.iter().filter_map(|&item| self.out(step, n, *group, item)).collect()
                }
                _ => continue,
            };
            let apart = apart.into_iter().chain([Change::Act(step, n, false)]);
            made.extend(apart.map(|change| self.make(change)));
        }
        let ledger = &self.ledger;
        let due = ledger.due(step);
        self.timers.retain(|&timer| Some(timer) != due);
        let due = due.map(|_| Change::Due(step, None));
        let waited = ledger.waited(step).then_some(Change::Waited(step, false));
        made.extend(due.into_iter().chain(waited).map(|change| self.make(change)));
        made
    }

    /// The part as it was before this act put it on, if it is on still.
    fn off(&self, step: usize, act: usize, ix: ComponentIx) -> Option<Change> {
        if self.ledger.component(ix) != ComponentState::On {
            return None;
        }
        let before = self.before_act(step, act).iter().find_map(|change| match change {
            Change::Component(of, was) if *of == ix => Some(*was),
            _ => None,
        });
        Some(Change::Component(ix, before.unwrap_or(ComponentState::Off)))
    }

    /// The fastener as it was before this act put it in: out, but for what cannot come out. `None` where it is in no more.
    fn out(&self, step: usize, act: usize, group: FastenerIx, item: usize) -> Option<Change> {
        use ItemState::{Out, Slackened, Trapped};
        let now = self.ledger.item(group, item);
        if !is_in(now.state) {
            return None;
        }
        let before = self.before_act(step, act).iter().find_map(|change| match change {
            Change::Item(g, i, was) if (*g, *i) == (group, item) => Some(was.state),
            _ => None,
        });
        let to = before.filter(|was| matches!(was, Slackened | Trapped)).unwrap_or(Out);
        Some(Change::Item(group, item, Box::new(Item { over: now.over, ..now.stopped(to) })))
    }

    /// What an act changed when it was recorded last, as it was before.
    fn before_act(&self, step: usize, act: usize) -> &[Change] {
        let made = self.live.iter().rev().map(|&live| self.facts[live].made.as_slice());
        let recorded = |change: &Change| *change == Change::Act(step, act, false);
        let found = made.filter_map(|made| Some((made, made.iter().position(recorded)?))).next();
        let Some((made, end)) = found else { return &[] };
        let begin =
            made[..end].iter().rposition(|change| matches!(change, Change::Act(..))).map_or(0, |before| before + 1);
        &made[begin..end]
    }
}

/// Has a fastener been put in, whatever was done to it since?
fn is_in(state: ItemState) -> bool {
    use ItemState::*;
    matches!(state, HandStarted | AtStage(_) | Final | Locked | InDoubt | Holding)
}
