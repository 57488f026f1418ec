//! Numbers read from a tool: judged against what the book asks for, asked back when they are off, then recorded.

use super::ledger::Change;
use super::work::Work;
use super::{Act, At, Fact, Job, Pending, Question, Reading, Refusal, Say, Verdict};
use crate::procedure::{Bounds, StageKind};
use crate::quantity::{Limits, Quantity, Unit};
use rust_decimal::{Decimal, RoundingStrategy};

/// A value of the kind and unit that a reading of this stage would have; `None` where no number can be read.
pub(super) fn awaited(pending: &Pending) -> Option<Quantity> {
    target(pending).map(|limits| limits.high())
}

fn target(pending: &Pending) -> Option<Limits<Quantity>> {
    match pending.kind.as_ref()? {
        StageKind::Torque(limits) => Some(limits.map(Quantity::Torque)),
        StageKind::Angle(limits) => Some(limits.map(Quantity::Angle)),
        StageKind::BackOff(angle) => Some(Limits::Exactly(Quantity::Angle(*angle))),
        StageKind::Slacken => None,
    }
}

impl Job {
    /// Takes a number for whatever awaits one.
    pub(super) fn reading(&mut self, reading: Reading, at: At) -> Vec<Say> {
        match self.work() {
            Work::Stage(pending) => {
                if let Some(refusal) = self.stage_in_the_way(&pending) {
                    return vec![Say::Refused(refusal)];
                }
                let Some(target) = target(&pending) else { return vec![Say::Refused(Refusal::NoReadingAwaited)] };
                let Some(value) = as_read(reading, target.high().unit()) else {
                    return vec![Say::Refused(Refusal::WrongKind)];
                };
                let verdict = place(value, Some(target.low()), Some(target.high()));
                self.judged(value, verdict, far(value, Some(target.low()), Some(target.high())), |job| {
                    job.take_stage_reading(pending, value, verdict, at)
                })
            }
            Work::Measure { act } => {
                let Act::Measure(measurement) = &self.book.steps[self.step].acts[act] else {
                    return vec![Say::Refused(Refusal::NoReadingAwaited)];
                };
                let Bounds { least, most } = measurement.limits;
                let Some(unit) = most.or(least).map(|q| q.unit()) else {
                    return vec![Say::Refused(Refusal::NoReadingAwaited)];
                };
                let Some(value) = as_read(reading, unit) else { return vec![Say::Refused(Refusal::WrongKind)] };
                let verdict = place(value, least, most);
                self.judged(value, verdict, far(value, least, most), |job| {
                    job.take_measurement(act, value, verdict, at)
                })
            }
            Work::Doubtful(pending) => self.ask(Question::Angle(pending)),
            _ => vec![Say::Refused(Refusal::NoReadingAwaited)],
        }
    }

    /// Takes a reading at once when nothing hangs on it, else asks whether it was heard right.
    fn judged(
        &mut self,
        value: Quantity,
        verdict: Verdict,
        far: bool,
        take: impl FnOnce(&mut Job) -> Vec<Say>,
    ) -> Vec<Say> {
        let measuring = matches!(self.work(), Work::Measure { .. });
        // Short of a torque only means: go on. Everything else outside is a claim that costs something.
        let certain = verdict == Verdict::Within || (verdict == Verdict::Under && !far && !measuring);
        if !certain {
            return self.ask(Question::Reading { value, verdict, far });
        }
        self.drop_question();
        take(self)
    }

    /// Records a reading of the stage pending.
    pub(super) fn take_stage_reading(
        &mut self,
        pending: Pending,
        value: Quantity,
        verdict: Verdict,
        at: At,
    ) -> Vec<Say> {
        let Pending { group, item, stage, .. } = pending;
        let mut says = vec![Say::ReadingTaken { value, verdict }];
        if verdict == Verdict::Within {
            says.extend(self.stage_done(group, item, stage, Some(value), at));
            return says;
        }
        let mut entry = self.ledger.item(group, item).clone();
        entry.over = verdict == Verdict::Over;
        entry.readings.push((stage, value));
        if matches!(value, Quantity::Angle(_)) && verdict == Verdict::Under {
            entry.turned = Some(value);
        }
        let fact = Fact::Reading { group, item, stage };
        self.record(at, fact, Some(value), vec![Change::Item(group, item, Box::new(entry))]);
        says.extend(self.announce());
        says
    }

    /// Records a measurement, whatever it says; outside its limits the book says what to do.
    pub(super) fn take_measurement(&mut self, act: usize, value: Quantity, verdict: Verdict, at: At) -> Vec<Say> {
        let step = self.step;
        let mut changes = vec![Change::Measured(step, act, Some(value))];
        let mut probe = self.ledger.clone();
        probe.swap(&mut changes[0].clone());
        if super::work::work(&self.book, &probe, step) == Work::Nothing {
            changes.push(Change::Step(step, super::StepState::Done));
        }
        self.record(at, Fact::Measured { step, act }, Some(value), changes);
        let mut says = vec![Say::ReadingTaken { value, verdict }];
        if verdict != Verdict::Within {
            says.push(Say::OutsideLimits { step, act });
        }
        if !matches!(self.work(), Work::Hold) {
            says.extend(self.announce());
        }
        says
    }
}

/// The reading with its unit: the one said, else that of what is awaited. `None` if it is of another kind.
fn as_read(reading: Reading, awaited: Unit) -> Option<Quantity> {
    let value = Quantity::new(reading.amount, reading.unit.unwrap_or(awaited));
    value.in_unit(awaited).map(|_| value)
}

/// Where a reading lies. In a unit other than the published one it is compared at the resolution it was read at,
/// for a published value seldom is a whole number in the other unit.
pub(super) fn place(value: Quantity, low: Option<Quantity>, high: Option<Quantity>) -> Verdict {
    let digits = value.amount().normalize().scale();
    let bound = |q: Quantity| {
        let same = q.unit() == value.unit();
        let there = q.in_unit(value.unit())?.amount();
        Some(if same { there } else { there.round_dp_with_strategy(digits, RoundingStrategy::MidpointAwayFromZero) })
    };
    match (low.and_then(bound), high.and_then(bound)) {
        (Some(low), _) if value.amount() < low => Verdict::Under,
        (_, Some(high)) if value.amount() > high => Verdict::Over,
        _ => Verdict::Within,
    }
}

/// Is it so far off that it was more likely misheard than read? Less than half of the lower bound, more than one
/// and a half times the upper one.
fn far(value: Quantity, low: Option<Quantity>, high: Option<Quantity>) -> bool {
    let there = |q: Quantity| q.in_unit(value.unit()).map(|q| q.amount());
    let times = |a: Decimal, factor: Decimal| a.checked_mul(factor).unwrap_or(Decimal::MAX);
    let low = low.and_then(there).is_some_and(|low| times(value.amount(), Decimal::TWO) < low);
    let high = high.and_then(there).is_some_and(|high| value.amount() > times(high, Decimal::new(15, 1)));
    low || high
}
