//! Putting a number right that was recorded a moment ago: it was misheard, or misread from the scale.
//!
//! Nothing was done to the vehicle in between, so this is no undo: a number that lies where the old one lay takes its
//! place, and one that does not is judged as if it had been the first. Only the last fact can be put right.

use super::ledger::Change;
use super::reading;
use super::{At, Fact, ItemState, Job, Question, Reading, Refusal, Say, Verdict};
use crate::procedure::Bounds;
use crate::quantity::Quantity;

impl Job {
    /// Asks for the right number.
    pub(super) fn correct(&mut self) -> Vec<Say> {
        match self.correctable() {
            Some((fact, _)) => self.ask(Question::Correct { fact, value: None }),
            None => vec![Say::Refused(Refusal::NothingToCorrect)],
        }
    }

    /// The last fact and its number, if it came with one and the job still stands at its step.
    pub(super) fn correctable(&self) -> Option<(Fact, Quantity)> {
        let last = &self.facts[*self.live.last()?];
        // A fastener that is in doubt or scrapped has its own way out.
        let settled = match last.fact {
            Fact::Stage { group, item, .. } | Fact::Reading { group, item, .. } => {
                matches!(self.ledger.item(group, item).state, ItemState::InDoubt | ItemState::Scrapped)
            }
            _ => false,
        };
        Some((last.fact.clone(), last.reading?)).filter(|_| last.step == self.step && !settled)
    }

    /// Takes the right number: asked back if it lies elsewhere than it should.
    pub(super) fn read_correction(&mut self, said: Reading, at: At) -> Vec<Say> {
        let Some((fact, was)) = self.correctable() else { return vec![Say::Refused(Refusal::NothingToCorrect)] };
        if self.distorted && matches!(was, Quantity::Torque(_)) {
            return vec![Say::Refused(Refusal::AdapterOn)];
        }
        let Some(value) = reading::as_read(said, was.unit()) else { return vec![Say::Refused(Refusal::WrongKind)] };
        let Some((verdict, far)) = self.judged(&fact, value) else {
            return vec![Say::Refused(Refusal::NoReadingAwaited)];
        };
        if verdict != Verdict::Within {
            return self.ask(Question::Correct { fact, value: Some((value, verdict, far)) });
        }
        self.drop_question();
        self.put_right(value, verdict, at)
    }

    /// Where a number would have lain in place of the last one, and whether far off.
    fn judged(&self, fact: &Fact, value: Quantity) -> Option<(Verdict, bool)> {
        match *fact {
            Fact::Measured { step, act } => {
                let Bounds { least, most } = self.limits(step, act);
                Some((reading::place(value, least, most), reading::far(value, least, most)))
            }
            Fact::Stage { group, item, .. } | Fact::Reading { group, item, .. } => {
                // By what was asked for then, on a copy in which the fact was never made.
                let mut before = self.clone();
                before.unmake_last();
                reading::of_stage(&before.whole(group, item), value)
            }
            _ => None,
        }
    }

    /// Records the right number in place of the other.
    pub(super) fn put_right(&mut self, value: Quantity, verdict: Verdict, at: At) -> Vec<Say> {
        match self.correctable() {
            Some((Fact::Measured { step, act }, _)) => {
                self.replace_last(Change::Measured(step, act, Some(value)), value, at);
                let mut says = vec![Say::ReadingTaken { value, verdict }];
                if verdict != Verdict::Within {
                    says.push(Say::OutsideLimits { step, act });
                }
                says
            }
            Some((Fact::Stage { group, item, stage }, _)) if verdict == Verdict::Within => {
                let mut entry = self.ledger.item(group, item).clone();
                if let Some(read) = entry.readings.iter_mut().rev().find(|(of, _)| *of == stage) {
                    read.1 = value;
                }
                self.replace_last(Change::Item(group, item, Box::new(entry)), value, at);
                vec![Say::ReadingTaken { value, verdict }]
            }
            Some((Fact::Stage { group, item, .. } | Fact::Reading { group, item, .. }, _)) => {
                // What was announced after it may have been turned meanwhile.
                self.suspect_pending();
                self.unmake_last();
                self.said = None;
                let pending = self.whole(group, item);
                self.take_stage_reading(&pending, value, verdict, at)
            }
            _ => vec![Say::Refused(Refusal::NothingToCorrect)],
        }
    }

    /// The last fact again with another number; taking it back takes all of it back.
    fn replace_last(&mut self, change: Change, value: Quantity, at: At) {
        let change = self.make(change);
        let Some((fact, mut made)) = self.strike_last() else { return };
        made.push(change);
        self.keep(at, fact, Some(value), made);
    }
}
