//! The kinds of amount. Each keeps the number and the unit it was written with and compares by size.

use super::kind::{Kind, kinds};
use super::parse::{self, ParseError, Problem};
use super::unit::{self, *};
use rust_decimal::Decimal;
use std::cmp::Ordering;

/// What the kinds of amount have in common.
pub trait Amount: Copy + Ord + std::fmt::Display + std::str::FromStr<Err = ParseError> {
    /// Its units.
    type Unit: Copy + Eq + std::fmt::Display;
    /// Which kind it is.
    const KIND: Kind;
    /// This many of that unit.
    fn of(amount: Decimal, unit: Self::Unit) -> Self;
    /// The number.
    fn number(self) -> Decimal;
    /// The unit.
    fn measured_in(self) -> Self::Unit;
    /// The same size in another unit.
    fn converted(self, unit: Self::Unit) -> Self;
    /// The unit a text names; says so if it is a unit of another kind.
    fn unit_named(text: &str) -> Result<Self::Unit, Problem>;
    /// How a number or window is printed with this unit.
    fn with_unit(number: &str, one: bool, unit: Self::Unit) -> String;
}

/// Decimal places to which sizes in the base unit are compared. Far below any value that is published, far above the
/// last digit of a conversion, so that an amount converted to and fro is still the same amount.
const COMPARED_PLACES: u32 = 15;

/// Added before sizes are rounded to be compared. Sizes that people write often end on a 5 just where the rounding
/// decides, and the last digit of a conversion would then tip them either way; none ends on these digits.
const OFF_THE_EDGE: Decimal = Decimal::from_parts(3_141_592_653, 0, 0, false, 25);

/// A number and its unit, as far as arithmetic goes: how many of the base unit one of it is, and where its nought lies.
#[derive(Debug, Clone, Copy)]
struct Sized {
    number: Decimal,
    factor: Decimal,
    nought: Decimal,
}

impl Sized {
    fn in_base(self) -> Option<Decimal> {
        self.number.checked_mul(self.factor)?.checked_add(self.nought)
    }

    fn compared(self) -> Option<Decimal> {
        Some(self.in_base()?.checked_add(OFF_THE_EDGE)?.round_dp(COMPARED_PLACES))
    }

    fn approximate(self) -> f64 {
        approximate(self.number) * approximate(self.factor) + approximate(self.nought)
    }
}

/// Compares two amounts of one kind, whatever their size: where the exact way overflows, approximately.
fn compare(a: Sized, b: Sized) -> Ordering {
    if a.factor == b.factor && a.nought == b.nought {
        return a.number.cmp(&b.number);
    }
    match (a.compared(), b.compared()) {
        (Some(a), Some(b)) => a.cmp(&b),
        // One of them is beyond anything real; its sign or its size decides.
        _ => a.approximate().total_cmp(&b.approximate()),
    }
}

/// The number as a float, for estimates only.
pub(crate) fn approximate(number: Decimal) -> f64 {
    use rust_decimal::prelude::ToPrimitive;
    number.to_f64().unwrap_or(if number.is_sign_negative() { f64::MIN } else { f64::MAX })
}

/// Converts with 28 digits; `None` if the result is too large to be held.
fn convert(from: Sized, factor: Decimal, nought: Decimal) -> Option<Decimal> {
    let result = from.in_base()?.checked_sub(nought)?.checked_div(factor)?.normalize();
    // Conversions to and fro leave traces in the last digits only; they are not part of the value. A shift of the nought
    // leaves them that much further on.
    let figures = if from.nought.is_zero() && nought.is_zero() { 27 } else { 24 };
    let kept = result.round_sf(figures).unwrap_or(result);
    Some(kept.normalize())
}

macro_rules! kind_named {
    ($($(#[$doc:meta])* $name:ident $unit:ident $called:literal, $forms:literal;)*) => {
        /// Finds the kind that a text names a unit of.
        pub(super) fn kind_named(text: &str) -> Option<Kind> {
            $(if $unit::named(text).is_some() {
                return Some(Kind::$name);
            })*
            None
        }
    };
}
kinds!(kind_named);

macro_rules! amount {
    ($(#[$doc:meta])* $name:ident in $unit:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy)]
        pub struct $name {
            /// Number as written.
            pub amount: Decimal,
            /// Unit as written.
            pub unit: $unit,
        }

        impl $name {
            /// This many of that unit.
            pub fn new(amount: Decimal, unit: $unit) -> $name {
                $name { amount, unit }
            }

            /// The same size in another unit, exact where the factor allows it, otherwise to 27 digits. An amount too
            /// large for that keeps its unit.
            pub fn in_unit(self, unit: $unit) -> $name {
                if unit == self.unit {
                    return self;
                }
                match convert(self.sized(), unit.factor(), unit.nought()) {
                    Some(amount) => $name { amount, unit },
                    None => self,
                }
            }

            /// The size in the base unit as a float, for estimates only.
            pub fn approximate(self) -> f64 {
                self.sized().approximate()
            }

            fn sized(self) -> Sized {
                Sized { number: self.amount, factor: self.unit.factor(), nought: self.unit.nought() }
            }
        }

        impl Amount for $name {
            type Unit = $unit;
            const KIND: Kind = Kind::$name;

            fn of(amount: Decimal, unit: $unit) -> $name {
                $name::new(amount, unit)
            }

            fn number(self) -> Decimal {
                self.amount
            }

            fn measured_in(self) -> $unit {
                self.unit
            }

            fn converted(self, unit: $unit) -> $name {
                self.in_unit(unit)
            }

            fn unit_named(text: &str) -> Result<$unit, Problem> {
                if text.is_empty() {
                    return Err(Problem::NoUnit);
                }
                if let Some(unit) = $unit::named(text) {
                    return Ok(unit);
                }
                Err(match kind_named(text) {
                    Some(kind) => Problem::OtherKind { unit: text.to_owned(), kind },
                    None if unit::of_two_sizes(text) => Problem::TwoSizes(text.to_owned()),
                    None => Problem::UnknownUnit(text.chars().take(40).collect()),
                })
            }

            fn with_unit(number: &str, one: bool, unit: $unit) -> String {
                let symbol = unit.symbol();
                match symbol {
                    "°" => format!("{number}°"),
                    // Units that are words have a singular.
                    "quarter turns" | "flats" | "points" if one => format!("{number} {}", symbol.trim_end_matches('s')),
                    _ => format!("{number} {symbol}"),
                }
            }
        }

        impl PartialEq for $name {
            fn eq(&self, other: &$name) -> bool {
                self.cmp(other) == Ordering::Equal
            }
        }

        impl Eq for $name {}

        impl PartialOrd for $name {
            fn partial_cmp(&self, other: &$name) -> Option<Ordering> {
                Some(self.cmp(other))
            }
        }

        impl Ord for $name {
            fn cmp(&self, other: &$name) -> Ordering {
                compare(self.sized(), other.sized())
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(&$name::with_unit(&self.amount.to_string(), self.amount == Decimal::ONE, self.unit))
            }
        }

        impl std::str::FromStr for $name {
            type Err = ParseError;

            fn from_str(text: &str) -> Result<$name, ParseError> {
                read(text).map_err(|problem| ParseError::new(text, Kind::$name, problem))
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                to.collect_str(self)
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<$name, D::Error> {
                let text = std::borrow::Cow::<'de, str>::deserialize(from)?;
                text.parse().map_err(serde::de::Error::custom)
            }
        }
    };
}

macro_rules! amounts {
    ($($(#[$doc:meta])* $name:ident $unit:ident $called:literal, $forms:literal;)*) => {
        $(amount! {
            $(#[$doc])*
            #[doc = ""]
            #[doc = "As published. Compared by size, whatever the units."]
            $name in $unit
        })*
    };
}
kinds!(amounts);

/// Reads one amount.
fn read<T: Amount>(text: &str) -> Result<T, Problem> {
    if let Some(inches) = parse::thousandths(text) {
        let value = read::<T>(&inches)?;
        return Ok(T::of(parse::by_thousand(value.number())?, value.measured_in()));
    }
    let (number, unit) = parse::split_number(text);
    let amount = parse::number(number)?;
    if unit.starts_with("..") || unit.starts_with('±') || unit.starts_with("+/-") {
        return Err(Problem::NoWindow);
    }
    Ok(T::of(amount, T::unit_named(unit)?))
}
