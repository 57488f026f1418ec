//! Going to a step by its number.
//!
//! Back, and forward over what is done or was left open by the user's word, goes at once. Forward past steps that are
//! not done asks first, with what lies between that protects somebody: a number is soon misheard, and a jack, a hold
//! point or a group of fasteners is soon passed. Whatever the answer, no step counts as done by it.

use super::asked::Between;
use super::work;
use super::{Act, Edition, Job, Question, Refusal, Say, StepState};
use crate::procedure::Deed;

impl Job {
    /// To a step by its number, counted from 1.
    pub(super) fn go_to(&mut self, number: u32) -> Vec<Say> {
        let steps = self.book.steps.len();
        let Some(step) = (number as usize).checked_sub(1).filter(|&step| step < steps) else {
            return vec![Say::Refused(Refusal::NoSuchStep { asked: number, steps })];
        };
        let not_done: Vec<usize> = (self.step..step)
            .filter(|&s| self.ledger.step(s) == StepState::Open && self.book.steps[s].later.is_none())
            .collect();
        if not_done.is_empty() || self.edition < Edition::Second {
            return self.move_to(step);
        }
        let between = self.between(&not_done);
        self.ask(Question::GoTo { step, not_done, between })
    }

    /// What these steps would see to and did not yet, supports first.
    fn between(&self, steps: &[usize]) -> Vec<Between> {
        let (mut supports, mut holds, mut groups) = (Vec::new(), Vec::new(), Vec::new());
        for &step in steps {
            let this = &self.book.steps[step];
            for (index, act) in this.acts.iter().enumerate() {
                match *act {
                    Act::Place(ix) if !self.ledger.placed(ix) => supports.push(Between::Set(ix)),
                    Act::TakeAway(ix) if !self.ledger.act_recorded(step, index) => supports.push(Between::TakeAway(ix)),
                    Act::Fasten { group, ref items, deed: Deed::Tighten(through) } => {
                        let short = |&item: &usize| {
                            work::falls_short(self.fastener(group), self.ledger.item(group, item), through)
                        };
                        if items.iter().any(short) {
                            groups.push(Between::Tighten(group));
                        }
                    }
                    Act::Fasten { group, ref items, deed: Deed::Lock } => {
                        let settled =
                            |&item: &usize| self.ledger.item(group, item).state.is_settled(self.fastener(group));
                        if !items.iter().all(settled) {
                            groups.push(Between::Lock(group));
                        }
                    }
                    _ => {}
                }
            }
            if this.hold.is_some() && !self.ledger.held(step) {
                holds.push(Between::Hold(step));
            }
            if this.until.is_some() || this.ask.is_some() {
                holds.push(Between::Until(step));
            }
        }
        let mut all: Vec<Between> = Vec::new();
        for one in supports.into_iter().chain(holds).chain(groups) {
            if !all.contains(&one) {
                all.push(one);
            }
        }
        all
    }
}
