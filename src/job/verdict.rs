//! Where a reading lies.

use super::edition::Edition;
use crate::quantity::{Quantity, Unit};
use rust_decimal::{Decimal, RoundingStrategy};

/// By how much of itself a bound may be moved by rounding it to what a reading in another unit can say.
const MOST_ROUNDED: Decimal = Decimal::from_parts(2, 0, 0, false, 2);

/// By which part of the window a bound of it may be moved so.
const OF_THE_WINDOW: Decimal = Decimal::from_parts(10, 0, 0, false, 0);

/// Where a reading lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub enum Verdict {
    /// Below the value or window.
    Under,
    /// On the value or inside the window.
    Within,
    /// Above it.
    Over,
}

/// Where a reading lies. In a unit other than the published one it is compared at the resolution it was read at,
/// for a published value seldom is a whole number in the other unit. "20.0" was read to a tenth, "20" was not. A unit too
/// coarse for that would move the bound itself, as "1 litre" does half a litre: there it is compared exactly, and an
/// angle always, for its units go into each other.
///
/// Too coarse it is where the bound would move by more than this:
/// - one published value: 2 % of it, half of what a torque wrench itself may be off by;
/// - a window: a tenth of its width, and 2 % of the bound: what is narrow was meant to be kept;
/// - a limit without another side: half of its own last digit, finer than which nobody published it, and 2 % of it.
pub(super) fn place(value: Quantity, low: Option<Quantity>, high: Option<Quantity>, edition: Edition) -> Verdict {
    let digits = value.amount().scale();
    let bound = |q: Quantity, other: Option<Quantity>| {
        let there = q.in_unit(value.unit())?.amount();
        let rounded = there.round_dp_with_strategy(digits, RoundingStrategy::MidpointAwayFromZero);
        let by = (rounded - there).abs();
        let near = match value {
            // Version 0.1 rounded whatever the unit was.
            _ if edition < Edition::Second => true,
            Quantity::Angle(_) => false,
            _ if by > there.abs() * MOST_ROUNDED => false,
            // Until version 0.3 that was all.
            _ if edition < Edition::Fourth => true,
            _ => may_be_moved(q, other, by, rounded, value.unit()),
        };
        Some(if q.unit() != value.unit() && near { rounded } else { there })
    };
    match (low.and_then(|low| bound(low, high)), high.and_then(|high| bound(high, low))) {
        (Some(low), _) if value.amount() < low => Verdict::Under,
        (_, Some(high)) if value.amount() > high => Verdict::Over,
        _ => Verdict::Within,
    }
}

/// May a bound be moved by so much, in this unit, to where it is rounded?
fn may_be_moved(bound: Quantity, other: Option<Quantity>, by: Decimal, to: Decimal, unit: Unit) -> bool {
    let (there, back) = (bound.in_unit(unit), Quantity::new(to, unit).in_unit(bound.unit()));
    match (other.and_then(|other| other.in_unit(unit)), there, back) {
        (Some(other), Some(there), _) => {
            let width = (other.amount() - there.amount()).abs();
            width.is_zero() || by.checked_mul(OF_THE_WINDOW).is_some_and(|by| by <= width)
        }
        (None, _, Some(back)) => {
            let moved = (back.amount() - bound.amount()).abs();
            let last_digit = Decimal::new(1, bound.amount().scale());
            moved.checked_mul(Decimal::TWO).is_some_and(|moved| moved <= last_digit)
        }
        _ => false,
    }
}

/// Is it so far off that it was more likely misheard than read? Less than half of the lower bound, more than one
/// and a half times the upper one.
pub(super) fn far(value: Quantity, low: Option<Quantity>, high: Option<Quantity>) -> bool {
    // Of a scale with a nought of its own half and double say nothing.
    if value.kind().has_own_nought() {
        return false;
    }
    let there = |q: Quantity| q.in_unit(value.unit()).map(|q| q.amount());
    let times = |a: Decimal, factor: Decimal| a.checked_mul(factor).unwrap_or(Decimal::MAX);
    let low = low.and_then(there).is_some_and(|low| times(value.amount(), Decimal::TWO) < low);
    let high = high.and_then(there).is_some_and(|high| value.amount() > times(high, Decimal::new(15, 1)));
    low || high
}
