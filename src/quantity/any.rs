//! An amount of any kind, for readings and measurements. Written from the one table of kinds, in `kind`.

use super::amount::*;
use super::kind::{Kind, kinds};
use super::limits::Limits;
use super::parse::{self, ParseError, Problem};
use super::unit::*;
use rust_decimal::Decimal;
use std::cmp::Ordering;

macro_rules! any {
    ($($(#[$doc:meta])* $name:ident $unit:ident $called:literal, $forms:literal;)*) => {
        /// Any kind of amount. Amounts of two kinds are never equal and never in order.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Quantity {
            $($(#[$doc])* $name($name),)*
        }

        /// Any unit.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Unit {
            $($(#[$doc])* $name($unit),)*
        }

        impl Quantity {
            /// This many of that unit.
            pub fn new(amount: Decimal, unit: Unit) -> Quantity {
                match unit { $(Unit::$name(unit) => Quantity::$name($name::new(amount, unit)),)* }
            }

            /// The number.
            pub fn amount(&self) -> Decimal {
                match self { $(Quantity::$name(value) => value.amount,)* }
            }

            /// The unit.
            pub fn unit(&self) -> Unit {
                match self { $(Quantity::$name(value) => Unit::$name(value.unit),)* }
            }

            /// The size in the base unit of its kind as a float, for estimates only.
            pub fn approximate(&self) -> f64 {
                match self { $(Quantity::$name(value) => value.approximate(),)* }
            }

            /// The same size in another unit; `None` if that is a unit of another kind.
            pub fn in_unit(&self, unit: Unit) -> Option<Quantity> {
                match (*self, unit) {
                    $((Quantity::$name(value), Unit::$name(unit)) => Some(Quantity::$name(value.in_unit(unit))),)*
                    _ => None,
                }
            }
        }

        impl PartialOrd for Quantity {
            fn partial_cmp(&self, other: &Quantity) -> Option<Ordering> {
                match (self, other) {
                    $((Quantity::$name(a), Quantity::$name(b)) => a.partial_cmp(b),)*
                    _ => None,
                }
            }
        }

        impl std::fmt::Display for Quantity {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                match self { $(Quantity::$name(value) => value.fmt(f),)* }
            }
        }

        impl Unit {
            /// What it is a unit of.
            pub fn kind(&self) -> Kind {
                match self { $(Unit::$name(_) => Kind::$name,)* }
            }

            /// All units of a kind.
            pub fn all(kind: Kind) -> Vec<Unit> {
                match kind { $(Kind::$name => $unit::ALL.iter().copied().map(Unit::$name).collect(),)* }
            }

            /// The symbol it is printed with.
            pub fn symbol(&self) -> &'static str {
                match self { $(Unit::$name(unit) => unit.symbol(),)* }
            }

            fn named(text: &str) -> Option<Unit> {
                $(if let Some(unit) = $unit::named(text) {
                    return Some(Unit::$name(unit));
                })*
                None
            }
        }

        /// Reads an amount of this kind.
        fn of_kind(kind: Kind, text: &str) -> Result<Quantity, ParseError> {
            Ok(match kind { $(Kind::$name => Quantity::$name(text.parse()?),)* })
        }

        /// Reads limits of this kind.
        fn limits_of_kind(kind: Kind, text: &str) -> Result<Limits<Quantity>, ParseError> {
            Ok(match kind { $(Kind::$name => text.parse::<Limits<$name>>()?.map(Quantity::$name),)* })
        }

        $(impl From<$name> for Quantity {
            fn from(value: $name) -> Quantity {
                Quantity::$name(value)
            }
        })*
    };
}
kinds!(any);

impl Quantity {
    /// Reads an amount of a kind.
    pub fn of(kind: Kind, text: &str) -> Result<Quantity, ParseError> {
        of_kind(kind, text)
    }

    /// Reads a value or a window of a kind.
    pub fn limits(kind: Kind, text: &str) -> Result<Limits<Quantity>, ParseError> {
        limits_of_kind(kind, text)
    }

    /// Which kind it is.
    pub fn kind(&self) -> Kind {
        self.unit().kind()
    }
}

/// A text that is not an amount of any kind.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum QuantityError {
    /// Its unit says which kind it should be, but it is not one.
    #[error(transparent)]
    Kind(#[from] ParseError),
    /// Nothing says which kind it should be.
    #[error(
        "\"{text}\" is not an amount: {problem}; an amount is a number with its unit, such as \"2.5 mm\", \"70 N·m\", \"2.4 bar\" or \
         \"12.6 V\" (FORMAT.md has all units)"
    )]
    Unknown {
        /// What was read.
        text: String,
        /// What is wrong with it.
        problem: Problem,
    },
}

impl std::str::FromStr for Quantity {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Quantity, QuantityError> {
        if parse::thousandths(text).is_some() {
            return Ok(of_kind(Kind::Length, text)?);
        }
        let (_, unit) = parse::split_number(text);
        match kind_named(unit) {
            Some(kind) => Ok(of_kind(kind, text)?),
            None => {
                let problem = match Torque::unit_named(unit) {
                    Err(problem) => problem,
                    Ok(_) => Problem::UnknownUnit(unit.to_owned()),
                };
                let text = text.trim().chars().take(60).collect();
                Err(QuantityError::Unknown { text, problem })
            }
        }
    }
}

impl std::fmt::Display for Unit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.symbol())
    }
}

impl std::str::FromStr for Unit {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Unit, QuantityError> {
        Unit::named(text).ok_or_else(|| QuantityError::Unknown {
            text: text.trim().chars().take(60).collect(),
            problem: Problem::UnknownUnit(text.trim().chars().take(40).collect()),
        })
    }
}

/// As the text that Display gives and FromStr takes.
macro_rules! as_text {
    ($($name:ident),*) => {$(
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
    )*};
}
as_text!(Quantity, Unit);
