//! Where a reading lies.

use super::edition::Edition;
use crate::quantity::Quantity;
use rust_decimal::{Decimal, RoundingStrategy};

/// By how much of itself a bound may be moved by rounding it to what a reading in another unit can say.
const MOST_ROUNDED: Decimal = Decimal::from_parts(2, 0, 0, false, 2);

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
pub(super) fn place(value: Quantity, low: Option<Quantity>, high: Option<Quantity>, edition: Edition) -> Verdict {
    let digits = value.amount().scale();
    let bound = |q: Quantity| {
        let there = q.in_unit(value.unit())?.amount();
        let rounded = there.round_dp_with_strategy(digits, RoundingStrategy::MidpointAwayFromZero);
        // Version 0.1 rounded whatever the unit was.
        let near = match value {
            _ if edition < Edition::Second => true,
            Quantity::Angle(_) => false,
            _ => (rounded - there).abs() <= there.abs() * MOST_ROUNDED,
        };
        Some(if q.unit() != value.unit() && near { rounded } else { there })
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
