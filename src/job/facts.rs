//! Recording facts, with the changes each made, and taking the last one back.

use super::ledger::{Change, StepState};
use super::work::{self, Work};
use super::{At, Edition, Fact, Item, ItemState, Job, Question, Refusal, Say};
use crate::procedure::{Act, Deed, FastenerIx};
use crate::quantity::Quantity;
use std::sync::Arc;

/// A turn that is taken back within so many milliseconds was perhaps never made, only claimed.
const CLAIMED_JUST_NOW: i64 = 10_000;

impl Job {
    /// The stage recorded last, if it stands: group, item, stage.
    pub(super) fn last_stage(&self) -> Option<(FastenerIx, usize, usize)> {
        self.facts.iter().rev().find_map(|f| match f.fact {
            Fact::Stage { group, item, stage } if !f.taken_back => Some((group, item, stage)),
            _ => None,
        })
    }

    /// Records a fact with the changes it made.
    pub(super) fn record(&mut self, at: At, fact: Fact, reading: Option<Quantity>, mut made: Vec<Change>) {
        self.open_again(&mut made);
        self.keep(at, fact, reading, made);
        self.settle();
    }

    /// Records a fact that brings the step on. What follows from it at once belongs to it and is taken back with it:
    /// the step counts as done when nothing is left to do, and a wait begins when nothing else is left before it.
    pub(super) fn advance(&mut self, at: At, mut fact: Fact, reading: Option<Quantity>, mut made: Vec<Change>) {
        self.open_again(&mut made);
        let step = self.step;
        if self.ledger.step(step) != StepState::Done {
            match self.work() {
                // Done again, perhaps too late: that is asked first.
                Work::Nothing if matches!(fact, Fact::Again(_)) && self.may_be_late() => {}
                Work::Nothing => {
                    made.push(self.close_step());
                    if self.ledger.step(step) == StepState::Done
                        && let Fact::Acts { .. } | Fact::Waited(_) = fact
                    {
                        fact = Fact::StepDone(step);
                    }
                }
                Work::Wait { minutes } if self.ledger.due(step).is_none() => {
                    made.push(self.start_clock(minutes));
                }
                _ => {}
            }
        }
        self.keep(at, fact, reading, made);
        self.settle();
    }

    /// Nothing is left to do in the step in hand.
    pub(super) fn close_step(&mut self) -> Change {
        self.came_back = false;
        let state = self.end_state();
        self.make(Change::Step(self.step, state))
    }

    /// What the step in hand is once nothing is left to do in it: one with a measurement outside its limits stays open.
    pub(super) fn end_state(&self) -> StepState {
        let unmet = |act| work::holds(&self.book, &self.ledger, self.step, act);
        let open = self.edition >= Edition::Second && (0..self.book.steps[self.step].acts.len()).any(unmet);
        if open { StepState::Skipped } else { StepState::Done }
    }

    /// Starts the clock of the wait of this step.
    pub(super) fn start_clock(&mut self, minutes: u32) -> Change {
        let due = self.time().after_minutes(minutes);
        self.timers.push(due);
        self.make(Change::Due(self.step, Some(due)))
    }

    /// Steps that are done already, and whose work these changes undo, are open again: a fastener slackened by going
    /// back to a step that was skipped must be tightened once more. So are those that stood on it as it was (`outdated`).
    fn open_again(&mut self, made: &mut Vec<Change>) {
        if made.is_empty() {
            return;
        }
        let book = Arc::clone(&self.book);
        let anew = self.apart.is_some() && made.contains(&Change::Step(self.step, StepState::Done));
        let outdated = self.outdated_by(made, anew);
        for step in self.step..book.steps.len() {
            let (done, outdated) = (self.ledger.step(step) == StepState::Done, outdated.contains(&step));
            if outdated {
                made.extend(self.forget(step));
            }
            if !done {
                continue;
            }
            let again: Vec<usize> =
                (0..book.steps[step].acts.len()).filter(|&act| self.is_undone_by(made, step, act)).collect();
            if again.is_empty() && !outdated {
                continue;
            }
            made.push(self.make(Change::Step(step, StepState::Open)));
            for act in again {
                if self.ledger.act_recorded(step, act) {
                    made.push(self.make(Change::Act(step, act, false)));
                }
            }
            if self.ledger.held(step) {
                made.push(self.make(Change::Held(step, false)));
            }
            if self.ledger.answered(step).is_some() {
                made.push(self.make(Change::Answered(step, None)));
            }
            made.extend(self.rounds_anew(step));
            self.opened_again.push(step);
        }
    }

    fn is_undone_by(&self, made: &[Change], step: usize, act: usize) -> bool {
        if work::superseded(&self.book, &self.ledger, step, act) {
            return false;
        }
        let act = &self.book.steps[step].acts[act];
        match act {
            Act::Fasten { group, items, deed: Deed::Tighten(through) } => made.iter().any(|change| match change {
                Change::Item(g, item, _) if g == group && items.contains(item) => {
                    work::falls_short(self.fastener(*group), self.ledger.item(*group, *item), *through)
                }
                _ => false,
            }),
            Act::Fasten { group, items, deed: Deed::Lock } => made.iter().any(|change| match change {
                Change::Item(g, item, was) if g == group && items.contains(item) => {
                    let locked = |item: &Item| item.state.is_locked(self.fastener(*group));
                    locked(was) && !locked(self.ledger.item(*g, *item))
                }
                _ => false,
            }),
            // What is out again has to be put back in where the book does so.
            Act::Fasten { group, items, deed: Deed::HandStart } if self.edition >= Edition::Third => {
                let out = |item: &Item| matches!(item.state, ItemState::Out | ItemState::Trapped);
                step != self.step
                    && made.iter().any(|change| match change {
                        Change::Item(g, item, was) if g == group && items.contains(item) => {
                            !out(was) && out(self.ledger.item(*g, *item))
                        }
                        _ => false,
                    })
            }
            // How it is started again otherwise, the tightening says.
            Act::Fasten { .. } => false,
            _ if step == self.step => false,
            _ => made.iter().any(|change| match (work::thing(act), change) {
                (Some(work::Thing::Support(a)), Change::Support(b, was)) => a == b.0 && *was != self.ledger.placed(*b),
                (Some(work::Thing::Condition(a)), Change::Condition(b, was)) => {
                    a == b.0 && *was != self.ledger.is_in(*b)
                }
                (Some(work::Thing::Component(a)), Change::Component(b, was)) => {
                    a == b.0 && *was != self.ledger.component(*b)
                }
                (Some(work::Thing::Connection(a)), Change::Connection(b, was)) => {
                    a == b.0 && *was != self.ledger.connected(*b)
                }
                _ => false,
            }),
        }
    }

    /// Takes the last fact back, with what it had made reversed.
    pub(super) fn unmake_last(&mut self) -> Option<Fact> {
        let (fact, made) = self.strike_last()?;
        for change in made.into_iter().rev() {
            self.unmake(change, &fact);
        }
        Some(fact)
    }

    /// Asks whether the last fact shall be taken back.
    pub(super) fn undo(&mut self) -> Vec<Say> {
        match self.live.last() {
            _ if self.variant_stands() => vec![Say::Refused(Refusal::VariantStands)],
            Some(&last) => self.ask(Question::Undo(self.facts[last].fact.clone())),
            None => vec![Say::Refused(Refusal::NothingToUndo)],
        }
    }

    /// Takes back the fact that was asked about. Where something was recorded since, as a note is, that comes first, and
    /// is asked about.
    pub(super) fn take_back_asked(&mut self, asked: &Fact) -> Vec<Say> {
        let last = self.live.last().map(|&last| &self.facts[last].fact);
        if self.edition >= Edition::Second && last != Some(asked) {
            return self.undo();
        }
        self.take_back()
    }

    /// Takes the last fact back. The turn of an angle stage cannot be unmade: it leaves the item in doubt. Where it was
    /// claimed only a moment ago the claim may be what was wrong, and not the turn: that is asked.
    fn take_back(&mut self) -> Vec<Say> {
        let Some(&last) = self.live.last() else { return vec![Say::Refused(Refusal::NothingToUndo)] };
        // A stage announced after that fact may have been turned already. Where another step comes up by this, or the
        // stage no longer is pending because of it, that is asked about once it is pending again.
        let pending = self.pending().map(|p| (p.group, p.item));
        let step = self.facts[last].step;
        let moved = step != self.step;
        if moved
            || self.facts[last].made.iter().any(|c| matches!(c, Change::Item(g, i, _) if Some((*g, *i)) == pending))
        {
            self.suspect_announced();
        }
        let soon = self.edition >= Edition::Second
            && (0..=CLAIMED_JUST_NOW).contains(&self.undo_asked.0.saturating_sub(self.facts[last].at.0));
        let Some(fact) = self.unmake_last() else { return vec![Say::Refused(Refusal::NothingToUndo)] };
        if let Fact::Variant(_) = fact {
            let mut says = vec![Say::TakenBack(fact)];
            says.extend(self.undecided_again());
            return says;
        }
        let turned = self.turned_by(&fact);
        let another_round = matches!(fact, Fact::Round { .. });
        let answered = matches!(fact, Fact::Answered { .. });
        let mut says = vec![Say::TakenBack(fact)];
        if let Some((group, item)) = turned {
            let (pending, before) = (self.whole(group, item), Box::new(self.ledger.item(group, item).clone()));
            let entry = Item { spent: true, ..before.stopped(ItemState::InDoubt) };
            self.make(Change::Item(group, item, Box::new(entry)));
            if soon {
                self.said = None;
                self.stand_at(step, Some(self.book.steps[step].phase), self.came_back);
                says.extend(self.ask(Question::Turned { pending, before }));
                return says;
            }
            says.push(Say::NowInDoubt(pending));
        }
        self.said = None;
        says.extend(if moved { self.enter(step) } else { self.announce() });
        // The answer was wrong, so it is asked for again.
        let asked = self.book.steps[self.step].until.as_ref().is_some_and(|until| until.ask.is_some());
        if another_round && asked && self.work() == Work::Until {
            says.extend(self.ask_again_of_round());
        }
        if answered && self.work() == Work::Ask {
            says.extend(self.ask_which_way());
        }
        says
    }

    /// Reverses one change of a fact that is taken back.
    fn unmake(&mut self, mut change: Change, fact: &Fact) {
        match &mut change {
            Change::Item(group, item, before) => {
                let now = self.ledger.item(*group, *item);
                // Nothing takes a turn out of it but the rule of the fastener.
                if now.spent {
                    return;
                }
                // What may have been turned meanwhile may be turned all the same, and so may what was called doubtful
                // or broken when that is taken back.
                let word = matches!(fact, Fact::Item { state: ItemState::InDoubt, .. } | Fact::Scrapped { .. });
                let suspect = now.suspect || (word && work::stands_before_turn(&self.book.fasteners[group.0], before));
                if suspect && !before.suspect {
                    (before.suspect, before.announced) = (true, now.announced || !now.suspect);
                }
            }
            Change::Due(step, before) => {
                let due = self.ledger.due(*step);
                self.timers.retain(|&timer| Some(timer) != due);
                // A wait that was cut short by another round, or by what was done again under it, goes on.
                if !self.ledger.waited(*step) {
                    self.timers.extend(*before);
                }
            }
            Change::Waited(step, false) => self.timers.extend(self.ledger.due(*step)),
            Change::Limit(step, before) => {
                let due = self.ledger.limit(*step);
                self.timers.retain(|&timer| Some(timer) != due);
                self.timers.extend(before.filter(|_| !self.ledger.is_over(*step)));
            }
            // The time for it runs on, as if it had not been done.
            Change::Step(step, before) if !matches!(before, StepState::Done | StepState::NotNeeded) => {
                let due = self.ledger.limit(*step).filter(|due| *due > self.time() && !self.timers.contains(due));
                self.timers.extend(due);
            }
            // Done as it was, it needs no clock.
            Change::Step(step, _) => {
                let due = self.ledger.limit(*step);
                self.timers.retain(|&timer| Some(timer) != due);
            }
            _ => {}
        }
        self.make(change);
    }

    /// The item that a fact says was turned by an angle, wholly or in part.
    fn turned_by(&self, fact: &Fact) -> Option<(FastenerIx, usize)> {
        let (Fact::Stage { group, item, stage } | Fact::Reading { group, item, stage }) = *fact else { return None };
        let kind = self.fastener(group).finish.stage(stage).map(|s| &s.kind);
        work::turns(kind).then_some((group, item))
    }

    /// Declares an item in doubt.
    pub(super) fn doubt(&mut self, group: FastenerIx, item: usize, at: At) {
        let entry = self.ledger.item(group, item).stopped(ItemState::InDoubt);
        let fact = Fact::Item { group, item, state: ItemState::InDoubt };
        let made = vec![self.make(Change::Item(group, item, Box::new(entry)))];
        self.record(at, fact, None, made);
    }

    /// The item with the stage it stands at, named by itself.
    pub(super) fn whole(&self, group: FastenerIx, item: usize) -> super::Pending {
        let fastener = self.fastener(group);
        let stage = self.ledger.item(group, item).stages_done(&fastener.finish).unwrap_or(0);
        let last = fastener.finish.len().saturating_sub(1);
        work::pending(&self.book, fastener, &self.ledger, group, item, stage.min(last), item, fastener.places.len())
    }
}
