//! Questions that stand until they are answered, and what each answer does.

use super::ledger::Change;
use super::work::Work;
use super::{
    Act, At, Command, Damage, Fact, FastenerIx, ItemState, Job, Pending, Question, Refusal, Remedy, Say, Verdict,
};
use crate::procedure::Deed;

impl Job {
    /// A question that a reading cannot be the answer to.
    pub(super) fn blocks_reading(&self) -> bool {
        !matches!(self.question, Some(Question::Reading { .. }))
    }

    /// Applies an answer to the question that stands.
    pub(super) fn resolve(&mut self, answer: &Command, at: At) -> Vec<Say> {
        let Some(question) = self.question.clone() else { return vec![Say::Refused(Refusal::NothingAsked)] };
        let fits = match question {
            Question::Angle(_) => matches!(answer, Command::NotBegun | Command::Finished | Command::NotSure),
            _ => matches!(answer, Command::Yes | Command::No),
        };
        if !fits {
            return self.answer_first();
        }
        self.drop_question();
        match (question, answer) {
            (Question::Angle(pending), answer) => self.angle_answered(pending, answer, at),
            (_, Command::No) => self.left_as_it_is(),
            (Question::Hold { step }, _) => self.held(step, at),
            (Question::Skip { .. }, _) => self.skip(at),
            (Question::Undo(_), _) => self.take_back(at),
            (Question::Reading { value, verdict, .. }, _) => self.reading_confirmed(value, verdict, at),
            (Question::Damaged { group, item, damage }, _) => self.scrap(group, item, damage, at),
            (Question::Finish { open }, _) => self.finish_confirmed(open),
            (Question::Wait { .. }, _) => self.end_wait(at),
        }
    }

    fn left_as_it_is(&mut self) -> Vec<Say> {
        self.confirmed_open.clear();
        vec![Say::LeftAsItIs]
    }

    fn held(&mut self, step: usize, at: At) -> Vec<Say> {
        self.step_done(at, vec![Change::Held(step, true)])
    }

    fn angle_answered(&mut self, pending: Pending, answer: &Command, at: At) -> Vec<Say> {
        let Pending { group, item, stage, .. } = pending;
        match answer {
            Command::Finished => self.stage_done(group, item, stage, None, at),
            Command::NotBegun => {
                let mut entry = self.ledger.item(group, item).clone();
                entry.suspect = false;
                let fact = Fact::NotBegun { group, item, stage };
                self.record(at, fact, None, vec![Change::Item(group, item, Box::new(entry))]);
                self.announce()
            }
            _ => {
                self.doubt(group, item, at);
                self.announce()
            }
        }
    }

    /// "Not sure" without having been asked: only an angle stage that may have been turned is put in doubt by it.
    /// A torque stage is simply pending; to go to the same torque once more does no harm.
    pub(super) fn not_sure(&mut self, at: At) -> Vec<Say> {
        match self.work() {
            Work::Stage(p) | Work::Doubtful(p) if p.kind.as_ref().is_some_and(|k| k.is_angle()) => {
                self.doubt(p.group, p.item, at);
                self.announce()
            }
            Work::Stage(pending) => vec![Say::Pending(pending)],
            _ => vec![Say::Refused(Refusal::NothingPending)],
        }
    }

    /// Asks whether the fastener in hand is to be scrapped.
    pub(super) fn damaged(&mut self, damage: Damage) -> Vec<Say> {
        match self.in_hand() {
            Some((group, item)) => self.ask(Question::Damaged { group, item, damage }),
            None => vec![Say::Refused(Refusal::NothingPending)],
        }
    }

    /// The one fastener that the user can mean: the one pending, else the only one this step touches.
    pub(super) fn in_hand(&self) -> Option<(FastenerIx, usize)> {
        if let Some(pending) = self.pending() {
            return Some((pending.group, pending.item));
        }
        if let Work::Remedy { group, item, .. } = self.work() {
            return Some((group, item));
        }
        let mut touched = self.book.steps[self.step].acts.iter().filter_map(|act| match act {
            Act::Fasten { group, items, deed } if !matches!(deed, Deed::Tighten(_)) => Some((*group, items)),
            _ => None,
        });
        let (group, items) = touched.next()?;
        let others = touched.any(|(g, i)| g != group || i != items);
        match (items.as_slice(), others) {
            (&[item], false) => Some((group, item)),
            _ => None,
        }
    }

    fn scrap(&mut self, group: FastenerIx, item: usize, damage: Damage, at: At) -> Vec<Say> {
        let mut entry = self.ledger.item(group, item).clone();
        entry.state = ItemState::Scrapped;
        entry.suspect = false;
        entry.over = false;
        entry.turned = None;
        let fact = Fact::Scrapped { group, item, damage };
        self.record(at, fact, None, vec![Change::Item(group, item, Box::new(entry))]);
        match self.work() {
            Work::Remedy { .. } => self.announce(),
            // Taken apart as it is, the new one is due when the book starts it by hand.
            _ => vec![Say::Remedy { group, item, remedy: Remedy::Renew }],
        }
    }

    fn reading_confirmed(&mut self, value: crate::quantity::Quantity, verdict: Verdict, at: At) -> Vec<Say> {
        match self.work() {
            Work::Stage(pending) => self.take_stage_reading(pending, value, verdict, at),
            Work::Measure { act } => self.take_measurement(act, value, verdict, at),
            _ => vec![Say::Refused(Refusal::NoReadingAwaited)],
        }
    }
}
