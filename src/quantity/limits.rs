//! One value or a window, what lies in it, and rounding to the graduation of a tool.

use super::amount::Amount;
use super::parse::{self, ParseError, Problem};
use rust_decimal::{Decimal, RoundingStrategy};
use std::cmp::Ordering;

/// One value, or a window that includes both its ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Limits<T> {
    /// This value.
    Exactly(T),
    /// Anything from `low` to `high`.
    Window {
        /// Lower end, included.
        low: T,
        /// Upper end, included.
        high: T,
    },
}

/// Where a value lies against limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// Below the value or window.
    Under,
    /// On the value or inside the window.
    Within,
    /// Above it.
    Over,
}

/// A value rounded to the graduation of a tool.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rounded<T> {
    /// What can be set.
    pub value: T,
    /// It is the published value itself (or lies in the window): nothing was lost.
    pub within: bool,
}

impl<T: Copy> Limits<T> {
    /// The lower end, or the value.
    pub fn low(&self) -> T {
        match *self {
            Limits::Exactly(value) => value,
            Limits::Window { low, .. } => low,
        }
    }

    /// The upper end, or the value.
    pub fn high(&self) -> T {
        match *self {
            Limits::Exactly(value) => value,
            Limits::Window { high, .. } => high,
        }
    }

    /// Is it a window?
    pub fn is_window(&self) -> bool {
        matches!(self, Limits::Window { .. })
    }

    /// The same limits of something else, such as a [`super::Quantity`] or another unit.
    pub fn map<U>(&self, mut f: impl FnMut(T) -> U) -> Limits<U> {
        match *self {
            Limits::Exactly(value) => Limits::Exactly(f(value)),
            Limits::Window { low, high } => Limits::Window { low: f(low), high: f(high) },
        }
    }
}

impl<T: Copy + PartialOrd> Limits<T> {
    /// Does `value` lie in them, ends included? What cannot be compared with them does not.
    pub fn contains(&self, value: T) -> bool {
        self.place(value) == Some(Place::Within)
    }

    /// Where `value` lies; `None` if it cannot be compared with them (another kind of quantity).
    pub fn place(&self, value: T) -> Option<Place> {
        let under = value.partial_cmp(&self.low())?;
        let over = value.partial_cmp(&self.high())?;
        Some(match (under, over) {
            (Ordering::Less, _) => Place::Under,
            (_, Ordering::Greater) => Place::Over,
            _ => Place::Within,
        })
    }
}

/// The nearest multiple of `graduation`; halves go up. `None` for a graduation that is not positive and for numbers
/// too large to be worked with.
fn nearest(number: Decimal, graduation: Decimal) -> Option<Decimal> {
    if graduation <= Decimal::ZERO {
        return None;
    }
    let steps = number.checked_div(graduation)?.round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero);
    Some(steps.checked_mul(graduation)?.normalize())
}

impl<T: Amount> Limits<T> {
    /// What to set on a tool that shows `unit` in steps of `graduation`: the multiple nearest to the value, or to the
    /// middle of the window; and whether that still lies in the limits. `None` for a graduation that is not positive
    /// and for numbers too large to be worked with.
    pub fn round_to(&self, unit: T::Unit, graduation: Decimal) -> Option<Rounded<T>> {
        let low = self.low().converted(unit).number();
        let high = self.high().converted(unit).number();
        let middle = low.checked_add(high)?.checked_div(Decimal::TWO)?;
        let value = T::of(nearest(middle, graduation)?, unit);
        Some(Rounded { value, within: self.contains(value) })
    }
}

impl<T: Amount> std::fmt::Display for Limits<T> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match *self {
            Limits::Exactly(value) => value.fmt(f),
            Limits::Window { low, high } if low.measured_in() == high.measured_in() => {
                f.write_str(&T::with_unit(&format!("{}..{}", low.number(), high.number()), false, high.measured_in()))
            }
            Limits::Window { low, high } => write!(f, "{low}..{high}"),
        }
    }
}

impl<T: Amount> std::str::FromStr for Limits<T> {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<Limits<T>, ParseError> {
        read(text).map_err(|problem| ParseError::new(text, T::KIND, problem))
    }
}

fn read<T: Amount>(text: &str) -> Result<Limits<T>, Problem> {
    if let Some(inches) = parse::thousandths(text) {
        let small = |value: T| Ok(T::of(parse::by_thousand(value.number())?, value.measured_in()));
        return Ok(match read::<T>(&inches)? {
            Limits::Exactly(value) => Limits::Exactly(small(value)?),
            Limits::Window { low, high } => Limits::Window { low: small(low)?, high: small(high)? },
        });
    }
    // Three dots are an ellipsis, and not a window up to ".9".
    if text.contains("...") {
        return Err(Problem::WindowForm);
    }
    let spread = text.split_once('±').or_else(|| text.split_once("+/-"));
    let printed = || parse::printed_window(text).filter(|_| spread.is_none());
    if let Some((low, high)) = text.split_once("..").or_else(printed) {
        let (low_number, low_unit) = parse::split_number(low);
        let (high_number, high_unit) = parse::split_number(high);
        let (low, high) = (parse::number(low_number)?, parse::number(high_number)?);
        let unit = T::unit_named(high_unit)?;
        // The unit may be written once, after the window, or with both ends.
        let low_unit = if low_unit.is_empty() { unit } else { T::unit_named(low_unit)? };
        return window(T::of(low, low_unit), T::of(high, unit));
    }
    if let Some((middle, spread)) = spread {
        let (middle_number, middle_unit) = parse::split_number(middle);
        let (spread_number, unit) = parse::split_number(spread);
        let (middle, spread) = (parse::number(middle_number)?, parse::number(spread_number)?);
        let unit = T::unit_named(unit)?;
        if !middle_unit.is_empty() && T::unit_named(middle_unit)? != unit {
            return Err(Problem::WindowForm);
        }
        // Numbers as read have few digits, so neither of these can overflow.
        return window(T::of(middle - spread, unit), T::of(middle + spread, unit));
    }
    let (number, unit) = parse::split_number(text);
    // What looks like a window and is none that was read above, such as "55-60-70 deg".
    let dashes = !number.contains('/') && number.trim_start_matches(['-', '−']).contains(['-', '−']);
    if dashes || unit.starts_with("to ") || unit.starts_with('–') {
        return Err(Problem::WindowForm);
    }
    Ok(Limits::Exactly(T::of(parse::number(number)?, T::unit_named(unit)?)))
}

fn window<T: Amount>(low: T, high: T) -> Result<Limits<T>, Problem> {
    if low < high { Ok(Limits::Window { low, high }) } else { Err(Problem::Window) }
}

impl<T: Amount> serde::Serialize for Limits<T> {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de, T: Amount> serde::Deserialize<'de> for Limits<T> {
    fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Limits<T>, D::Error> {
        let text = std::borrow::Cow::<'de, str>::deserialize(from)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}
