//! Numbers read from a tool: judged against what the book asks for, asked back when they are off, then recorded.

use super::ledger::Change;
use super::work::{self, Work};
use super::{Act, At, Fact, ItemState, Job, Pending, Question, Reading, Refusal, Say, StepState, Verdict};
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
    /// The measurement of this step that a number may be given for: the one due, else the first that came out outside
    /// its limits, to be taken again once what the book says about it was done.
    pub(super) fn measurement_awaited(&self) -> Option<usize> {
        match self.work() {
            Work::Measure { act } => return Some(act),
            Work::Stage(_) | Work::Doubtful(_) | Work::Remedy { .. } => return None,
            _ => {}
        }
        let acts = self.book.steps[self.step].acts.iter().enumerate();
        acts.filter_map(|(act, this)| match this {
            Act::Measure(m) => Some((act, place(self.ledger.measured(self.step, act)?, m.limits.least, m.limits.most))),
            _ => None,
        })
        .find(|(_, verdict)| *verdict != Verdict::Within)
        .map(|(act, _)| act)
    }

    /// Between which values a measurement must lie; neither for an act that is none.
    pub(super) fn limits(&self, step: usize, act: usize) -> Bounds {
        match &self.book.steps[step].acts[act] {
            Act::Measure(measurement) => measurement.limits.clone(),
            _ => Bounds { least: None, most: None },
        }
    }

    /// Takes a number for whatever awaits one.
    pub(super) fn reading(&mut self, reading: Reading, at: At) -> Vec<Say> {
        if let Some(Question::Correct { .. }) = self.question {
            return self.read_correction(reading, at);
        }
        match self.work() {
            Work::Stage(pending) => self.read_stage(&pending, reading, at),
            Work::Doubtful(pending) => self.ask(Question::Angle(pending)),
            _ => match self.measurement_awaited() {
                Some(act) => self.read_measurement(act, reading, at),
                None => vec![Say::Refused(Refusal::NoReadingAwaited)],
            },
        }
    }

    fn read_stage(&mut self, pending: &Pending, reading: Reading, at: At) -> Vec<Say> {
        if let Some(needs) = pending.waits {
            return self.missing_state(needs);
        }
        let Some(target) = target(pending) else { return vec![Say::Refused(Refusal::NoReadingAwaited)] };
        if self.distorted && matches!(target.high(), Quantity::Torque(_)) {
            return vec![Say::Refused(Refusal::AdapterOn)];
        }
        let Some(value) = as_read(reading, target.high().unit()) else {
            return vec![Say::Refused(Refusal::WrongKind)];
        };
        let Some((verdict, far)) = of_stage(pending, value) else {
            return vec![Say::Refused(Refusal::NoReadingAwaited)];
        };
        // Short of a torque only means: go on. Everything else outside is a claim that costs something.
        let goes_on = verdict == Verdict::Under && !far && matches!(value, Quantity::Torque(_));
        if verdict != Verdict::Within && !goes_on {
            return self.ask(Question::Reading { value, verdict, far });
        }
        self.drop_question();
        self.take_stage_reading(pending, value, verdict, at)
    }

    fn read_measurement(&mut self, act: usize, reading: Reading, at: At) -> Vec<Say> {
        if self.ledger.step(self.step) != StepState::Done
            && let Some(needs) = self.book.steps[self.step].needs.filter(|&needs| !self.ledger.is_in(needs))
        {
            return self.missing_state(needs);
        }
        let Bounds { least, most } = self.limits(self.step, act);
        let Some(unit) = most.or(least).map(|q| q.unit()) else {
            return vec![Say::Refused(Refusal::NoReadingAwaited)];
        };
        let Some(value) = as_read(reading, unit) else { return vec![Say::Refused(Refusal::WrongKind)] };
        let verdict = place(value, least, most);
        if verdict != Verdict::Within {
            return self.ask(Question::Reading { value, verdict, far: far(value, least, most) });
        }
        self.drop_question();
        self.take_measurement(act, value, verdict, at)
    }

    /// Records a reading of the stage pending.
    pub(super) fn take_stage_reading(
        &mut self,
        pending: &Pending,
        value: Quantity,
        verdict: Verdict,
        at: At,
    ) -> Vec<Say> {
        let Pending { group, item, stage, .. } = *pending;
        let mut says = vec![Say::ReadingTaken { value, verdict }];
        if verdict == Verdict::Within {
            says.extend(self.stage_done(pending, Some(value), at));
            return says;
        }
        let mut entry = self.ledger.item(group, item).clone();
        entry.over = verdict == Verdict::Over;
        entry.readings.push((stage, value));
        if verdict == Verdict::Under && work::turns(pending.kind.as_ref()) {
            // A second number that falls short may be counted from the first one or from the start: nobody knows then
            // how far the fastener was turned.
            match entry.turned {
                Some(_) => entry = entry.stopped(ItemState::InDoubt),
                None => entry.turned = Some(value),
            }
        }
        let made = vec![self.make(Change::Item(group, item, Box::new(entry)))];
        self.record(at, Fact::Reading { group, item, stage }, Some(value), made);
        says.extend(self.announce());
        says
    }

    /// Records a measurement, whatever it says; outside its limits the book says what to do.
    pub(super) fn take_measurement(&mut self, act: usize, value: Quantity, verdict: Verdict, at: At) -> Vec<Say> {
        let step = self.step;
        let made = vec![self.make(Change::Measured(step, act, Some(value)))];
        self.advance(at, Fact::Measured { step, act }, Some(value), made);
        let mut says = vec![Say::ReadingTaken { value, verdict }];
        if verdict != Verdict::Within {
            says.push(Say::OutsideLimits { step, act });
        }
        // What else is due; that it may be taken again goes without saying now.
        if !matches!(self.work(), Work::Nothing) {
            says.extend(self.announce_next());
        }
        says
    }
}

/// Where a reading of a stage lies, what was turned before counted in; and is it far off? `None` where no number is read.
pub(super) fn of_stage(pending: &Pending, value: Quantity) -> Option<(Verdict, bool)> {
    let target = target(pending)?;
    let (low, high) = (Some(target.low()), Some(target.high()));
    let verdict = match (place(value, low, high), pending.turned) {
        (Verdict::Under, Some(turned)) if is_the_rest(value, turned, &target) => Verdict::Within,
        (verdict, _) => verdict,
    };
    Some((verdict, far(value, low, high)))
}

/// Is it what was left of a turn that fell short? The rest was asked for, so that may be what is read; a number that
/// makes the whole turn is good as well. Anything between is understood by nobody.
fn is_the_rest(value: Quantity, turned: Quantity, target: &Limits<Quantity>) -> bool {
    let rest = |whole: Quantity| {
        let turned = turned.in_unit(value.unit())?.amount();
        whole.in_unit(value.unit())?.amount().checked_sub(turned).map(|rest| Quantity::new(rest, value.unit()))
    };
    match (rest(target.low()), rest(target.high())) {
        (Some(low), Some(high)) => place(value, Some(low), Some(high)) == Verdict::Within,
        _ => false,
    }
}

/// The reading with its unit: the one said, else that of what is awaited. `None` if it is of another kind.
pub(super) fn as_read(reading: Reading, awaited: Unit) -> Option<Quantity> {
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
pub(super) fn far(value: Quantity, low: Option<Quantity>, high: Option<Quantity>) -> bool {
    let there = |q: Quantity| q.in_unit(value.unit()).map(|q| q.amount());
    let times = |a: Decimal, factor: Decimal| a.checked_mul(factor).unwrap_or(Decimal::MAX);
    let low = low.and_then(there).is_some_and(|low| times(value.amount(), Decimal::TWO) < low);
    let high = high.and_then(there).is_some_and(|high| value.amount() > times(high, Decimal::new(15, 1)));
    low || high
}
