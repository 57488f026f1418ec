//! Numbers read from a tool: judged against what the book asks for, asked back when they are off, then recorded.
//!
//! A number said without its unit has the one that the user heard last of what is read; the session fills that in. Where
//! it does not fit so and would in another unit that there is reason to think of, it is asked which was meant: that of the book,
//! that of the user's own tool, one in which the user has read before. In a unit that just happens to fit nothing is offered.

use super::counted;
use super::ledger::Change;
use super::verdict::{far, place};
use super::work::{self, Work};
use super::{
    Act, At, Command, Counted, Edition, Fact, ItemState, Job, Pending, Question, Refusal, Say, StepState, Verdict,
};
use crate::procedure::{Bounds, Finish, Measurement, Stage, StageKind};
use crate::quantity::{Angle, Limits, Quantity, Torque, Unit};
use rust_decimal::Decimal;

/// A value of the kind and unit that a reading of this stage would have; `None` where no number can be read.
pub(super) fn awaited(pending: &Pending) -> Option<Quantity> {
    target(pending).map(|limits| limits.high())
}

fn target(pending: &Pending) -> Option<Limits<Quantity>> {
    match pending.kind.as_ref()? {
        StageKind::Torque(limits) => Some(limits.map(Quantity::Torque)),
        StageKind::Angle(limits) => Some(limits.map(Quantity::Angle)),
        StageKind::BackOff(limits) => Some(limits.map(Quantity::Angle)),
        StageKind::Slot(most) => {
            let none = Angle::new(Decimal::ZERO, most.unit);
            Some(Limits::Window { low: Quantity::Angle(none), high: Quantity::Angle(*most) })
        }
        StageKind::Slacken => None,
    }
}

/// A number as it was said.
#[derive(Debug, Clone, Copy)]
pub(super) struct Said {
    amount: Decimal,
    unit: Option<Unit>,
    /// Nobody said the unit.
    bare: bool,
    /// The unit of the user's own tool, where that is another.
    own: Option<Unit>,
}

impl Said {
    fn by(command: &Command) -> Option<Said> {
        match *command {
            Command::Reading(reading) => {
                Some(Said { amount: reading.amount, unit: reading.unit, bare: reading.unit.is_none(), own: None })
            }
            Command::Number { amount, unit, own } => Some(Said { amount, unit: Some(unit), bare: true, own }),
            Command::FromTool { amount, unit, .. } => Some(Said { amount, unit: Some(unit), bare: false, own: None }),
            _ => None,
        }
    }

    /// The number with its unit: the one said, else that of what is awaited. Refused if it is of another kind.
    pub(super) fn value(&self, awaited: Unit) -> Result<Quantity, Box<Refusal>> {
        let value = Quantity::new(self.amount, self.unit.unwrap_or(awaited));
        match value.in_unit(awaited) {
            Some(_) => Ok(value),
            None => Err(Box::new(Refusal::WrongKind { value, wanted: awaited })),
        }
    }
}

/// Where a number lies.
#[derive(Debug, Clone)]
pub(super) struct Judged {
    pub value: Quantity,
    pub verdict: Verdict,
    /// So far off that it was probably misheard.
    pub far: bool,
    /// What it was held against.
    pub limits: Bounds,
}

impl Judged {
    pub(super) fn question(self, from: Option<String>) -> Question {
        Question::Reading { value: self.value, verdict: self.verdict, far: self.far, from, limits: self.limits }
    }
}

impl Job {
    /// The measurement of this step that a number may be given for: the one due, else the first that came out outside
    /// its limits, to be taken again once what the book says about it was done, else one that leaves a torque nothing.
    pub fn measurement_awaited(&self) -> Option<usize> {
        match self.work() {
            Work::Measure { act } | Work::Unmet { act } => return Some(act),
            Work::Stage(_) | Work::Doubtful(_) | Work::Remedy { .. } | Work::Untold { .. } | Work::Undecided(_) => {
                return None;
            }
            _ => {}
        }
        let unmet = |act: &usize| work::unmet(&self.book, &self.ledger, self.step, *act);
        (0..self.book.steps[self.step].acts.len()).find(unmet).or_else(|| self.leaves_no_torque())
    }

    /// Between which values a measurement must lie; neither for an act that is none.
    pub fn limits(&self, step: usize, act: usize) -> Bounds {
        match counted::limits(&self.book, &self.ledger, step, act) {
            Ok((limits, _)) => limits,
            Err(_) => Bounds { least: None, most: None },
        }
    }

    /// The measurement of this step with which a torque that counts from it comes to none: it was misread, or the part is not
    /// what the book takes it for.
    pub(super) fn leaves_no_torque(&self) -> Option<usize> {
        let stages = self.book.fasteners.iter().flat_map(|fastener| match &fastener.finish {
            Finish::Stages(stages) => stages.as_slice(),
            Finish::NoValue { .. } | Finish::Later { .. } => &[],
        });
        let mut counted = stages.filter_map(|stage| Some((stage, stage.from?)));
        counted.find_map(|(stage, from)| {
            let named = self.book.named.get(from.0).filter(|named| named.step == self.step)?;
            counted::no_torque(from, self.ledger.measured(named.step, named.act)?, stage)?;
            Some(named.act)
        })
    }

    /// The torque of a stage that counts from a measurement, and what it is made of; `None` of every other stage, and
    /// while that is not taken, or leaves no torque.
    pub fn counted(&self, stage: &Stage) -> Option<(Limits<Torque>, Counted)> {
        let (Some(from), StageKind::Torque(by)) = (stage.from, &stage.kind) else { return None };
        counted::torque(from, counted::base(&self.book, &self.ledger, from).ok()?, by)
    }

    /// About what a reading without limits could be: one of its unit.
    pub(super) fn only_recorded(&self, act: usize) -> Option<Quantity> {
        match &self.book.steps[self.step].acts[act] {
            Act::Measure(m) if m.limits.least.or(m.limits.most).is_none() => Some(Quantity::new(Decimal::ONE, m.unit)),
            _ => None,
        }
    }

    /// Where a reading of a measurement lies.
    pub fn judge(&self, step: usize, act: usize, value: Quantity) -> Verdict {
        of_bounds(&self.limits(step, act), value, self.ledger.judged_by(step, act, value)).verdict
    }

    /// Takes a number for whatever awaits one.
    pub(super) fn reading(&mut self, command: &Command, at: At) -> Vec<Say> {
        let Some(mut said) = Said::by(command) else { return vec![Say::Refused(Refusal::NoReadingAwaited)] };
        // To version 0.1 a nought behind the point was no digit. It matters only in another unit than the book's.
        if self.edition < Edition::Second && self.may_be_rounded(said.unit) {
            said.amount = said.amount.normalize();
        }
        if let Some(Question::Correct { fact, .. }) = self.question.clone() {
            return self.read_correction(&fact, said, at);
        }
        let awaited = matches!(self.work(), Work::Stage(_)) || self.measurement_awaited().is_some();
        // Since version 0.4 that is asked once it is known which number is to be recorded.
        if awaited && self.may_be_late() && self.edition < Edition::Fourth {
            return self.ask_in_time();
        }
        match self.work() {
            Work::Stage(pending) => self.read_stage(&pending, said, at),
            Work::Doubtful(pending) => self.ask(Question::Angle(pending)),
            _ => match self.measurement_awaited() {
                Some(act) => self.read_measurement(act, said, at),
                None => vec![Say::Refused(Refusal::NoReadingAwaited)],
            },
        }
    }

    /// Can a number in this unit be held against a value in another one?
    fn may_be_rounded(&self, unit: Option<Unit>) -> bool {
        let books = match self.work() {
            _ if matches!(self.question, Some(Question::Correct { .. })) => None,
            Work::Stage(pending) => awaited(&pending).map(|value| value.unit()),
            _ => self.measurement_awaited().and_then(|act| {
                let Bounds { least, most } = self.limits(self.step, act);
                most.or(least).map(|value| value.unit())
            }),
        };
        unit.is_none_or(|unit| books != Some(unit)) && (unit.is_some() || books.is_none())
    }

    fn read_stage(&mut self, pending: &Pending, said: Said, at: At) -> Vec<Say> {
        if let Some(needs) = pending.waits {
            return self.missing_state(needs);
        }
        let Some(awaited) = awaited(pending) else { return vec![Say::Refused(Refusal::NoReadingAwaited)] };
        if self.distorted && matches!(awaited, Quantity::Torque(_)) {
            return vec![Say::Refused(Refusal::AdapterOn)];
        }
        let value = match said.value(awaited.unit()) {
            Ok(value) => value,
            Err(refusal) => return vec![Say::Refused(*refusal)],
        };
        let edition = self.edition;
        let Some(judged) = of_stage(pending, value, edition) else {
            return vec![Say::Refused(Refusal::NoReadingAwaited)];
        };
        let fitting = self.fitting(&said, &judged, |value| of_stage(pending, value, edition));
        let stage = self.fastener(pending.group).finish.stage(pending.stage);
        let also = stage.and_then(|stage| stage.also).map(Unit::Torque);
        if let Some(value) = self.meant(&said, &fitting, [Some(awaited.unit()), also]) {
            return self.ask(Question::Unit { value, not: judged.value.unit() });
        }
        // Short of a torque only means: go on. Everything else outside is a claim that costs something, and so is this where it
        // may be of another unit.
        let torque = matches!(value, Quantity::Torque(_)) && fitting.is_empty();
        let goes_on = judged.verdict == Verdict::Under && !judged.far && torque;
        if judged.verdict != Verdict::Within && !goes_on {
            return self.ask(judged.question(self.from.clone()));
        }
        if let Some(asked) = self.in_time_first(value) {
            return asked;
        }
        self.drop_question();
        self.take_stage_reading(pending, &judged, at)
    }

    fn read_measurement(&mut self, act: usize, said: Said, at: At) -> Vec<Say> {
        if !self.ledger.is_over(self.step)
            && let Some(needs) = self.book.steps[self.step].needs.filter(|&needs| !self.ledger.is_in(needs))
        {
            return self.missing_state(needs);
        }
        let Act::Measure(Measurement { unit, .. }) = self.book.steps[self.step].acts[act] else {
            return vec![Say::Refused(Refusal::NoReadingAwaited)];
        };
        // Without what its limits count from nobody could say whether it is good.
        let limits = match counted::limits(&self.book, &self.ledger, self.step, act) {
            Ok((limits, _)) => limits,
            Err((step, act)) => return vec![Say::Refused(Refusal::Unmeasured { step, act })],
        };
        let value = match said.value(unit) {
            Ok(value) => value,
            Err(refusal) => return vec![Say::Refused(*refusal)],
        };
        let edition = self.edition;
        let judged = of_bounds(&limits, value, edition);
        let fitting = self.fitting(&said, &judged, |value| Some(of_bounds(&limits, value, edition)));
        if let Some(value) = self.meant(&said, &fitting, [Some(unit), None]) {
            return self.ask(Question::Unit { value, not: judged.value.unit() });
        }
        if judged.verdict != Verdict::Within {
            return self.ask(judged.question(self.from.clone()));
        }
        if let Some(asked) = self.in_time_first(value) {
            return asked;
        }
        self.drop_question();
        self.take_measurement(act, &judged, at)
    }

    /// What a number without a unit would be in the units in which it fits, if it does not in its own.
    fn fitting(&self, said: &Said, judged: &Judged, judge: impl Fn(Quantity) -> Option<Judged>) -> Vec<Quantity> {
        if !said.bare || judged.verdict == Verdict::Within || self.edition < Edition::Second {
            return Vec::new();
        }
        let not = judged.value.unit();
        let others = Unit::all(not.kind()).into_iter().filter(|unit| *unit != not);
        let values = others.map(|unit| Quantity::new(said.amount, unit));
        values.filter(|value| judge(*value).is_some_and(|judged| judged.verdict == Verdict::Within)).collect()
    }

    /// The one of them that may have been meant: in a unit of the book, of the user's own tool, or in which the user has read
    /// before. To version 0.3 the first that there was.
    fn meant(&self, said: &Said, fitting: &[Quantity], book: [Option<Unit>; 2]) -> Option<Quantity> {
        if self.edition < Edition::Fourth {
            return fitting.first().copied();
        }
        let read = self.live.iter().rev().filter_map(|&live| self.facts[live].reading).map(|reading| reading.unit());
        let mut units = book.into_iter().chain([said.own]).flatten().chain(read);
        units.find_map(|unit| fitting.iter().find(|value| value.unit() == unit)).copied()
    }

    /// The user stands by a number.
    pub(super) fn reading_confirmed(&mut self, value: Quantity, at: At) -> Vec<Say> {
        if let Some(asked) = self.in_time_first(value) {
            return asked;
        }
        match (self.work(), self.measurement_awaited(), self.judged_here(value)) {
            (Work::Stage(pending), _, Some(judged)) => self.take_stage_reading(&pending, &judged, at),
            (_, Some(act), Some(judged)) => self.take_measurement(act, &judged, at),
            _ => vec![Say::Refused(Refusal::NoReadingAwaited)],
        }
    }

    /// Where a number lies for whatever awaits one.
    pub(super) fn judged_here(&self, value: Quantity) -> Option<Judged> {
        match self.work() {
            Work::Stage(pending) => of_stage(&pending, value, self.edition),
            _ => self.measurement_awaited().map(|act| of_bounds(&self.limits(self.step, act), value, self.edition)),
        }
    }

    /// Records a reading of the stage pending.
    pub(super) fn take_stage_reading(&mut self, pending: &Pending, judged: &Judged, at: At) -> Vec<Say> {
        let Pending { group, item, stage, .. } = *pending;
        let (value, verdict) = (judged.value, judged.verdict);
        let mut says =
            vec![Say::ReadingTaken { value, verdict, from: self.from.clone(), limits: judged.limits.clone() }];
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

    /// Records a measurement, whatever it says. One outside its limits holds its step until it is taken again inside
    /// them, or left so by the user's word.
    pub(super) fn take_measurement(&mut self, act: usize, judged: &Judged, at: At) -> Vec<Say> {
        let step = self.step;
        let (value, verdict) = (judged.value, judged.verdict);
        let outside = verdict != Verdict::Within;
        self.ledger.taken_by(step, act, value, self.edition);
        let mut made = vec![self.make(Change::Measured(step, act, Some(value)))];
        // To version 0.1 it was only an open point.
        let left = outside && self.edition < Edition::Second;
        if self.ledger.left_outside(step, act) != left {
            made.push(self.make(Change::LeftOutside(step, act, left)));
        }
        let held = outside && !left && !matches!(&self.book.steps[step].acts[act], Act::Measure(m) if m.leads);
        if held && self.ledger.step(step) == StepState::Done {
            made.push(self.make(Change::Step(step, StepState::Open)));
        }
        self.advance(at, Fact::Measured { step, act }, Some(value), made);
        let mut says =
            vec![Say::ReadingTaken { value, verdict, from: self.from.clone(), limits: judged.limits.clone() }];
        if outside {
            says.push(Say::OutsideLimits { step, act });
        }
        // What else is due; that it may be taken again goes without saying now.
        if !matches!(self.work(), Work::Nothing | Work::Unmet { .. }) {
            says.extend(self.announce_next());
        }
        says
    }
}

/// Where a measurement lies.
pub(super) fn of_bounds(limits: &Bounds, value: Quantity, edition: Edition) -> Judged {
    let Bounds { least, most } = *limits;
    let (verdict, far) = (place(value, least, most, edition), far(value, least, most));
    Judged { value, verdict, far, limits: limits.clone() }
}

/// Where a reading of a stage lies, what was turned before counted in. `None` where no number is read.
pub(super) fn of_stage(pending: &Pending, value: Quantity, edition: Edition) -> Option<Judged> {
    let target = target(pending)?;
    let limits = Bounds { least: Some(target.low()), most: Some(target.high()) };
    let whole = of_bounds(&limits, value, edition);
    let rest = pending.turned.and_then(|turned| rest(value.unit(), turned, &target));
    Some(match rest.filter(|_| whole.verdict == Verdict::Under) {
        Some(rest) if place(value, rest.least, rest.most, edition) == Verdict::Within => {
            Judged { verdict: Verdict::Within, limits: rest, ..whole }
        }
        _ => whole,
    })
}

/// What was left of a turn that fell short. The rest was asked for, so that may be what is read; a number that makes the
/// whole turn is good as well. Anything between is understood by nobody.
fn rest(unit: Unit, turned: Quantity, target: &Limits<Quantity>) -> Option<Bounds> {
    let rest = |whole: Quantity| {
        let turned = turned.in_unit(unit)?.amount();
        whole.in_unit(unit)?.amount().checked_sub(turned).map(|rest| Quantity::new(rest, unit))
    };
    Some(Bounds { least: Some(rest(target.low())?), most: Some(rest(target.high())?) })
}
