//! Facts: what was recorded, with the changes each made, and taking the last one back.

use super::ledger::Change;
use super::{At, Fact, ItemState, Job, Question, Refusal, Say, work};
use crate::quantity::Quantity;

/// A fact as it stands in the job.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// When.
    pub at: At,
    /// At which step, from 0.
    pub step: usize,
    /// What.
    pub fact: Fact,
    /// The reading that came with it.
    pub reading: Option<Quantity>,
    /// Was it taken back later?
    pub taken_back: bool,
    /// The reverse of each change it made.
    changes: Vec<Change>,
}

impl Job {
    /// Changes the ledger without a fact: something that nobody claims, and that cannot be taken back.
    pub(super) fn change(&mut self, mut change: Change) {
        self.ledger.swap(&mut change);
        self.changed = true;
    }

    /// Records a fact and makes its changes.
    pub(super) fn record(&mut self, at: At, fact: Fact, reading: Option<Quantity>, mut changes: Vec<Change>) {
        for change in &mut changes {
            self.ledger.swap(change);
        }
        self.facts.push(Recorded { at, step: self.step, fact, reading, taken_back: false, changes });
        self.changed = true;
    }

    /// Asks whether the last fact shall be taken back.
    pub(super) fn undo(&mut self) -> Vec<Say> {
        match self.last_fact() {
            Some(i) => self.ask(Question::Undo(self.facts[i].fact.clone())),
            None => vec![Say::Refused(Refusal::NothingToUndo)],
        }
    }

    fn last_fact(&self) -> Option<usize> {
        self.facts.iter().rposition(|f| !f.taken_back)
    }

    /// Takes the last fact back. The turn of an angle stage cannot be unmade: it leaves the item in doubt.
    pub(super) fn take_back(&mut self, at: At) -> Vec<Say> {
        let Some(i) = self.last_fact() else { return vec![Say::Refused(Refusal::NothingToUndo)] };
        self.facts[i].taken_back = true;
        self.changed = true;
        let (fact, step) = (self.facts[i].fact.clone(), self.facts[i].step);
        let mut doubtful = self.turned_by(&fact);
        let read = self.facts[i].reading.is_some();
        for mut change in std::mem::take(&mut self.facts[i].changes).into_iter().rev() {
            if let Change::Item(group, item, before) = &mut change {
                let now = self.ledger.item(*group, *item);
                // Doubt and a turn that may have been made since outlive the fact; only the user's word ends them.
                if now.state == ItemState::InDoubt && !is_doubt(&fact) {
                    continue;
                }
                if is_doubt(&fact) && before.state != ItemState::InDoubt {
                    before.suspect = true;
                } else if read && doubtful.is_none() && self.stands_before_angle(*group, before) {
                    // The number is taken back, not the turn it was read from.
                    before.suspect = true;
                } else if now.suspect && !before.suspect {
                    doubtful = Some((*group, *item));
                }
            }
            self.ledger.swap(&mut change);
        }
        let mut says = vec![Say::TakenBack(fact)];
        if let Some((group, item)) = doubtful {
            says.push(Say::NowInDoubt(self.whole(group, item)));
            self.doubt(group, item, at);
        }
        self.said = None;
        let moved = step != self.step;
        says.extend(if moved { self.enter(step) } else { self.announce() });
        says
    }

    /// The item that a fact says was turned by an angle.
    fn turned_by(&self, fact: &Fact) -> Option<(crate::procedure::FastenerIx, usize)> {
        let Fact::Stage { group, item, stage } = *fact else { return None };
        let turned = self.fastener(group).finish.stage(stage).is_some_and(|s| s.kind.is_angle());
        turned.then_some((group, item))
    }

    fn stands_before_angle(&self, group: crate::procedure::FastenerIx, item: &super::Item) -> bool {
        let finish = &self.fastener(group).finish;
        let next = item.stages_done(finish).and_then(|done| finish.stage(done));
        next.is_some_and(|s| s.kind.is_angle())
    }

    /// Declares an item in doubt.
    pub(super) fn doubt(&mut self, group: crate::procedure::FastenerIx, item: usize, at: At) {
        let mut entry = self.ledger.item(group, item).clone();
        entry.state = ItemState::InDoubt;
        entry.suspect = false;
        entry.turned = None;
        let fact = Fact::Item { group, item, state: ItemState::InDoubt };
        self.record(at, fact, None, vec![Change::Item(group, item, Box::new(entry))]);
    }

    /// The item with the stage it stands at, named by itself.
    pub(super) fn whole(&self, group: crate::procedure::FastenerIx, item: usize) -> super::Pending {
        let fastener = self.fastener(group);
        let stage = self.ledger.item(group, item).stages_done(&fastener.finish).unwrap_or(0);
        work::pending(
            fastener,
            &self.ledger,
            group,
            item,
            stage.min(fastener.finish.len() - 1),
            item,
            fastener.places.len(),
        )
    }
}

fn is_doubt(fact: &Fact) -> bool {
    matches!(fact, Fact::Item { state: ItemState::InDoubt, .. })
}
