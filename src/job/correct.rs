//! Putting a number right that was recorded a moment ago: it was misheard, or misread from the scale.
//!
//! Nothing was done to the vehicle in between, so this is no undo: a number that lies where the old one lay takes its
//! place, and one that does not is judged as if it had been the first. Only the last fact can be put right, and only
//! the one that was named by the question.

use super::ledger::Change;
use super::reading::{self, Judged, Said};
use super::{At, Edition, Fact, ItemState, Job, Question, Refusal, Say, Verdict, Waiting, work};
use crate::procedure::Bounds;
use crate::quantity::Quantity;
use rust_decimal::Decimal;

/// So many milliseconds after a number was recorded its decimals may still be meant.
const JUST_SAID: i64 = 10_000;

impl Job {
    /// Asks for the right number.
    pub(super) fn correct(&mut self) -> Vec<Say> {
        match self.correctable() {
            Some((fact, was)) => {
                let limits = Bounds { least: None, most: None };
                self.ask(Question::Correct { fact, was, limits, value: None })
            }
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

    /// The whole number said last, as far as its decimals could still follow: the one asked about, or the one recorded.
    pub(super) fn begun_number(&self) -> Option<Quantity> {
        let begun = match &self.question {
            // Of what a tool sent nothing is missing.
            Some(
                Question::Reading { from: Some(_), .. }
                | Question::InTime { reading: Some(Waiting { from: Some(_), .. }), .. },
            ) => None,
            Some(Question::InTime { reading: Some(Waiting { value, .. }), .. }) => Some(*value),
            Some(Question::Reading { value, .. } | Question::Correct { value: Some((value, ..)), .. }) => Some(*value),
            Some(_) => None,
            None if self.live.last().is_some_and(|last| self.facts[*last].from.is_some()) => None,
            None => self.correctable().map(|(_, was)| was),
        };
        begun.filter(|value| value.amount().fract().is_zero())
    }

    /// The decimals of a number that was taken without them: who pauses inside "thirty eight point five" must not have
    /// read 38. It only asks, for the number made of both, and says nothing of one that was recorded some time ago.
    pub(super) fn rest_of_number(&mut self, rest: Decimal, at: At) -> Vec<Say> {
        let Some(begun) = self.begun_number() else {
            return match self.question {
                Some(_) => self.answer_first(),
                None => vec![Say::Refused(Refusal::RestOfNumber)],
            };
        };
        let value = Quantity::new(begun.amount().saturating_add(rest), begun.unit());
        let recorded = self.live.last().map_or(At::default(), |last| self.facts[*last].at);
        let just_said = (0..=JUST_SAID).contains(&at.0.saturating_sub(recorded.0));
        let question = match &self.question {
            Some(Question::Reading { .. }) => self.judged_here(value).map(|judged| judged.question(None)),
            Some(Question::InTime { step, reading: Some(_) }) => {
                self.judged_here(value).map(|judged| match judged.verdict {
                    Verdict::Within => Question::InTime { step: *step, reading: Some(Waiting { value, from: None }) },
                    _ => judged.question(None),
                })
            }
            question => self.correctable().filter(|_| question.is_some() || just_said).and_then(|(fact, was)| {
                let Judged { value, verdict, far, limits } = self.judged(&fact, value)?;
                Some(Question::Correct { fact, was, limits, value: Some((value, verdict, far)) })
            }),
        };
        match question {
            Some(question) => self.ask(question),
            None => vec![Say::Refused(Refusal::RestOfNumber)],
        }
    }

    /// The number that was asked about, if that is still the last fact.
    fn asked_about(&self, asked: &Fact) -> Option<Quantity> {
        self.correctable().filter(|(fact, _)| fact == asked).map(|(_, was)| was)
    }

    /// Takes the right number: asked back if it lies elsewhere than it should.
    pub(super) fn read_correction(&mut self, fact: &Fact, said: Said, at: At) -> Vec<Say> {
        let Some(was) = self.asked_about(fact) else {
            self.drop_question();
            return vec![Say::Refused(Refusal::NothingToCorrect)];
        };
        if self.distorted && matches!(was, Quantity::Torque(_)) {
            return vec![Say::Refused(Refusal::AdapterOn)];
        }
        let value = match said.value(was.unit()) {
            Ok(value) => value,
            Err(refusal) => return vec![Say::Refused(*refusal)],
        };
        let Some(judged) = self.judged(fact, value) else {
            return vec![Say::Refused(Refusal::NoReadingAwaited)];
        };
        if judged.verdict != Verdict::Within {
            let Judged { value, verdict, far, limits } = judged;
            return self.ask(Question::Correct { fact: fact.clone(), was, limits, value: Some((value, verdict, far)) });
        }
        self.drop_question();
        self.put_right(fact, value, at)
    }

    /// Where a number would have lain in place of the last one.
    fn judged(&self, fact: &Fact, value: Quantity) -> Option<Judged> {
        match *fact {
            Fact::Measured { step, act } => Some(reading::of_bounds(&self.limits(step, act), value, self.edition)),
            Fact::Stage { group, item, .. } | Fact::Reading { group, item, .. } => {
                // By what was asked for then, on a copy in which the fact was never made.
                let mut before = self.clone();
                before.unmake_last();
                reading::of_stage(&before.whole(group, item), value, self.edition)
            }
            _ => None,
        }
    }

    /// Records the right number in place of the other.
    pub(super) fn put_right(&mut self, fact: &Fact, value: Quantity, at: At) -> Vec<Say> {
        // What the first reading would be told with is told by what it replaces.
        let nothing = vec![Say::Refused(Refusal::NothingToCorrect)];
        let (Some(was), Some(judged)) = (self.asked_about(fact), self.judged(fact, value)) else { return nothing };
        let within = judged.verdict == Verdict::Within;
        let after: Vec<Say> = match *fact {
            Fact::Measured { step, act } => {
                let same_side = within != work::unmet(&self.book, &self.ledger, step, act);
                if same_side || self.edition < Edition::Second {
                    self.ledger.taken_by(step, act, value, self.edition);
                    self.replace_last(Change::Measured(step, act, Some(value)), value, at);
                    (!within).then_some(Say::OutsideLimits { step, act }).into_iter().collect()
                } else {
                    // Whether the step is held by it is another matter now.
                    self.unmake_last();
                    self.take_measurement(act, &judged, at).split_off(1)
                }
            }
            Fact::Stage { group, item, stage } if within => {
                let mut entry = self.ledger.item(group, item).clone();
                if let Some(read) = entry.readings.iter_mut().rev().find(|(of, _)| *of == stage) {
                    read.1 = value;
                }
                self.replace_last(Change::Item(group, item, Box::new(entry)), value, at);
                Vec::new()
            }
            Fact::Stage { group, item, .. } | Fact::Reading { group, item, .. } => {
                // What was announced after it may have been turned meanwhile.
                self.suspect_announced();
                self.unmake_last();
                self.said = None;
                let pending = self.whole(group, item);
                self.take_stage_reading(&pending, &judged, at).split_off(1)
            }
            _ => return nothing,
        };
        let Judged { verdict, limits, .. } = judged;
        let mut says = vec![Say::Corrected { fact: fact.clone(), was, value, verdict, limits }];
        says.extend(after);
        says
    }

    /// The last fact again with another number; taking it back takes all of it back.
    fn replace_last(&mut self, change: Change, value: Quantity, at: At) {
        let mut anew = vec![self.make(change)];
        self.settle_branches(&mut anew);
        self.settle_limits(&mut anew);
        let Some((fact, mut made)) = self.strike_last() else { return };
        made.extend(anew);
        self.keep(at, fact, Some(value), made);
    }
}
