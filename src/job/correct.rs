//! Putting a number right that was recorded a moment ago: it was misheard, or misread from the scale.
//!
//! Nothing was done to the vehicle in between, so this is no undo: a number that lies where the old one lay takes its
//! place, and one that does not is judged as if it had been the first. Only the last fact can be put right.

use super::ledger::Change;
use super::{Act, At, Fact, ItemState, Job, Question, Reading, Refusal, Say, Verdict};
use super::{reading, work};
use crate::procedure::Bounds;
use crate::quantity::{Limits, Quantity};

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
        let Some(value) = reading::as_read(said, was.unit()) else { return vec![Say::Refused(Refusal::WrongKind)] };
        let (low, high) = self.asked_of(&fact);
        let verdict = reading::place(value, low, high);
        if verdict != Verdict::Within {
            let far = reading::far(value, low, high);
            return self.ask(Question::Correct { fact, value: Some((value, verdict, far)) });
        }
        self.drop_question();
        self.put_right(value, verdict, at)
    }

    /// Records the right number in place of the other.
    pub(super) fn put_right(&mut self, value: Quantity, verdict: Verdict, at: At) -> Vec<Say> {
        let Some((fact, _)) = self.correctable() else { return vec![Say::Refused(Refusal::NothingToCorrect)] };
        match fact {
            Fact::Measured { step, act } => {
                let change = self.make(Change::Measured(step, act, Some(value)));
                self.replace_last(fact, value, change, at);
                let mut says = vec![Say::ReadingTaken { value, verdict }];
                if verdict != Verdict::Within {
                    says.push(Say::OutsideLimits { step, act });
                }
                says
            }
            Fact::Stage { group, item, stage } if verdict == Verdict::Within => {
                let mut entry = self.ledger.item(group, item).clone();
                if let Some(read) = entry.readings.iter_mut().rev().find(|(of, _)| *of == stage) {
                    read.1 = value;
                }
                let change = self.make(Change::Item(group, item, Box::new(entry)));
                self.replace_last(fact, value, change, at);
                vec![Say::ReadingTaken { value, verdict }]
            }
            Fact::Stage { group, item, .. } | Fact::Reading { group, item, .. } => {
                // What was announced after it may have been turned meanwhile.
                self.suspect_pending();
                for change in self.strike_last().into_iter().rev() {
                    self.restore(change);
                }
                self.said = None;
                let pending = self.whole(group, item);
                self.take_stage_reading(&pending, value, verdict, at)
            }
            _ => vec![Say::Refused(Refusal::NothingToCorrect)],
        }
    }

    /// The last fact again with another number; taking it back takes all of it back.
    fn replace_last(&mut self, fact: Fact, value: Quantity, change: Change, at: At) {
        let mut made = self.strike_last();
        made.push(change);
        self.keep(at, fact, Some(value), made);
    }

    fn restore(&mut self, mut change: Change) {
        if let Change::Item(group, item, before) = &mut change {
            before.suspect |= self.ledger.item(*group, *item).suspect;
        }
        self.make(change);
    }

    /// Between which values the number of a fact should lie.
    fn asked_of(&self, fact: &Fact) -> (Option<Quantity>, Option<Quantity>) {
        match *fact {
            Fact::Measured { step, act } => match &self.book.steps[step].acts[act] {
                Act::Measure(measurement) => {
                    let Bounds { least, most } = measurement.limits;
                    (least, most)
                }
                _ => (None, None),
            },
            Fact::Stage { group, item, stage } | Fact::Reading { group, item, stage } => {
                let fastener = self.fastener(group);
                let pending = work::pending(fastener, &self.ledger, group, item, stage, item, fastener.places.len());
                let target: Option<Limits<Quantity>> = reading::target(&pending);
                (target.as_ref().map(Limits::low), target.as_ref().map(Limits::high))
            }
            _ => (None, None),
        }
    }
}
