//! Limits and torques that count from what was measured in this job: worked out anew each time, never stored.
//!
//! What comes out is never finer than what it was made of. In another unit than that of what is added it is rounded to the
//! finer of the two, each as it stands in that unit, and inwards, so that no limit is ever wider than the book has it.

use super::ledger::Ledger;
use super::pending::Counted;
use crate::procedure::{Act, Bounds, MeasureIx, Procedure, Stage, StageKind, Term};
use crate::quantity::{Limits, Quantity, Torque, Unit};
use rust_decimal::{Decimal, RoundingStrategy};

/// What a value counts from; the step and the act that measure it, while they have not.
pub(super) fn base(book: &Procedure, ledger: &Ledger, from: MeasureIx) -> Result<Quantity, (usize, usize)> {
    let named = &book.named[from.0];
    ledger.measured(named.step, named.act).ok_or((named.step, named.act))
}

/// Between which values a measurement must lie, and what that is made of. `Err`: what it counts from is not measured.
pub(super) fn limits(
    book: &Procedure,
    ledger: &Ledger,
    step: usize,
    act: usize,
) -> Result<(Bounds, Option<Counted>), (usize, usize)> {
    let Act::Measure(m) = &book.steps[step].acts[act] else { return Ok((Bounds { least: None, most: None }, None)) };
    let Some(from) = m.from else { return Ok((m.limits.clone(), None)) };
    let first = base(book, ledger, from)?;
    let measured = |term: &Term| Ok((*term, base(book, ledger, term.of)?));
    let more = m.more.iter().map(measured).collect::<Result<Vec<_>, (usize, usize)>>()?;
    let limits = sum(first, &more, &m.limits);
    Ok((limits, Some(Counted { from, base: first, more, by: m.limits.clone() })))
}

/// The torque of a stage that counts from a measurement, and what it is made of; `None` if that is not more than nothing.
pub(super) fn torque(from: MeasureIx, base: Quantity, by: &Limits<Torque>) -> Option<(Limits<Torque>, Counted)> {
    let by = ends(by);
    let whole = sum(base, &[], &by);
    let (Some(Quantity::Torque(low)), Some(Quantity::Torque(high))) = (whole.least, whole.most) else { return None };
    let limits = if by.least == by.most { Limits::Exactly(low) } else { Limits::Window { low, high } };
    (low.amount > Decimal::ZERO).then(|| (limits, parts(from, base, by)))
}

/// The torque of a stage that counts from a measurement, where it comes to none: what it is made of.
pub(super) fn no_torque(from: MeasureIx, base: Quantity, stage: &Stage) -> Option<Counted> {
    let StageKind::Torque(by) = &stage.kind else { return None };
    torque(from, base, by).is_none().then(|| parts(from, base, ends(by)))
}

fn ends(by: &Limits<Torque>) -> Bounds {
    Bounds { least: Some(Quantity::Torque(by.low())), most: Some(Quantity::Torque(by.high())) }
}

fn parts(from: MeasureIx, base: Quantity, by: Bounds) -> Counted {
    Counted { from, base, more: Vec::new(), by }
}

/// Decimal places to which a reading is known in another unit: an inch pound more or less is a tenth of a newton metre.
fn places(base: Quantity, unit: Unit) -> Option<u32> {
    let last = Decimal::new(1, base.amount().scale());
    let next = Quantity::new(base.amount().checked_add(last)?, base.unit()).in_unit(unit)?;
    let step = next.amount().checked_sub(base.in_unit(unit)?.amount())?;
    (0..=Decimal::MAX_SCALE).find(|&places| Decimal::new(1, places) <= step)
}

fn sum(base: Quantity, more: &[(Term, Quantity)], by: &Bounds) -> Bounds {
    let parts = || [(false, base)].into_iter().chain(more.iter().map(|(term, value)| (term.less, *value)));
    let add = |by: Quantity, strategy: Option<RoundingStrategy>| {
        let exact = parts().try_fold(by.amount(), |sum, (less, part)| {
            let there = part.in_unit(by.unit())?.amount();
            if less { sum.checked_sub(there) } else { sum.checked_add(there) }
        })?;
        let finest = parts().map(|(_, part)| places(part, by.unit()).unwrap_or(part.amount().scale())).max();
        let digits = by.amount().scale().max(finest.unwrap_or(0));
        let strategy = strategy.filter(|_| parts().any(|(_, part)| part.unit() != by.unit()));
        let amount = strategy.map_or(exact, |strategy| exact.round_dp_with_strategy(digits, strategy));
        Some(Quantity::new(amount, by.unit()))
    };
    let ends = |up, down| Bounds {
        least: by.least.and_then(|least| add(least, up)),
        most: by.most.and_then(|most| add(most, down)),
    };
    if by.least == by.most {
        let nearest = Some(RoundingStrategy::MidpointAwayFromZero);
        return ends(nearest, nearest);
    }
    let inwards = ends(Some(RoundingStrategy::ToPositiveInfinity), Some(RoundingStrategy::ToNegativeInfinity));
    match (inwards.least, inwards.most) {
        // Too narrow to be rounded.
        (Some(least), Some(most)) if least >= most => ends(None, None),
        _ => inwards,
    }
}
