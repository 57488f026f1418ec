//! An amount of any kind, for readings and measurements.

use super::amount::{Amount, Angle, Length, Mass, Pressure, Torque, kind_named};
use super::parse::{self, ParseError, Problem};
use super::unit::{AngleUnit, Kind, LengthUnit, MassUnit, PressureUnit, TorqueUnit};
use rust_decimal::Decimal;
use std::cmp::Ordering;

/// Any kind of amount. Amounts of two kinds are never equal and never in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// A torque.
    Torque(Torque),
    /// An angle.
    Angle(Angle),
    /// A length.
    Length(Length),
    /// A mass.
    Mass(Mass),
    /// A pressure.
    Pressure(Pressure),
}

/// Any unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unit {
    /// Of torque.
    Torque(TorqueUnit),
    /// Of angle.
    Angle(AngleUnit),
    /// Of length.
    Length(LengthUnit),
    /// Of mass.
    Mass(MassUnit),
    /// Of pressure.
    Pressure(PressureUnit),
}

/// Does the same to whichever kind it is.
macro_rules! each {
    ($on:expr, $value:ident => $body:expr) => {
        match $on {
            Quantity::Torque($value) => $body,
            Quantity::Angle($value) => $body,
            Quantity::Length($value) => $body,
            Quantity::Mass($value) => $body,
            Quantity::Pressure($value) => $body,
        }
    };
}

impl Quantity {
    /// This many of that unit.
    pub fn new(amount: Decimal, unit: Unit) -> Quantity {
        match unit {
            Unit::Torque(unit) => Quantity::Torque(Torque::new(amount, unit)),
            Unit::Angle(unit) => Quantity::Angle(Angle::new(amount, unit)),
            Unit::Length(unit) => Quantity::Length(Length::new(amount, unit)),
            Unit::Mass(unit) => Quantity::Mass(Mass::new(amount, unit)),
            Unit::Pressure(unit) => Quantity::Pressure(Pressure::new(amount, unit)),
        }
    }

    /// The number.
    pub fn amount(&self) -> Decimal {
        each!(self, value => value.amount)
    }

    /// The unit.
    pub fn unit(&self) -> Unit {
        match self {
            Quantity::Torque(value) => Unit::Torque(value.unit),
            Quantity::Angle(value) => Unit::Angle(value.unit),
            Quantity::Length(value) => Unit::Length(value.unit),
            Quantity::Mass(value) => Unit::Mass(value.unit),
            Quantity::Pressure(value) => Unit::Pressure(value.unit),
        }
    }

    /// Which kind it is.
    pub fn kind(&self) -> Kind {
        self.unit().kind()
    }

    /// The same size in another unit; `None` if that is a unit of another kind.
    pub fn in_unit(&self, unit: Unit) -> Option<Quantity> {
        Some(match (*self, unit) {
            (Quantity::Torque(value), Unit::Torque(unit)) => Quantity::Torque(value.in_unit(unit)),
            (Quantity::Angle(value), Unit::Angle(unit)) => Quantity::Angle(value.in_unit(unit)),
            (Quantity::Length(value), Unit::Length(unit)) => Quantity::Length(value.in_unit(unit)),
            (Quantity::Mass(value), Unit::Mass(unit)) => Quantity::Mass(value.in_unit(unit)),
            (Quantity::Pressure(value), Unit::Pressure(unit)) => Quantity::Pressure(value.in_unit(unit)),
            _ => return None,
        })
    }
}

impl Unit {
    /// What it is a unit of.
    pub fn kind(&self) -> Kind {
        match self {
            Unit::Torque(_) => Kind::Torque,
            Unit::Angle(_) => Kind::Angle,
            Unit::Length(_) => Kind::Length,
            Unit::Mass(_) => Kind::Mass,
            Unit::Pressure(_) => Kind::Pressure,
        }
    }

    /// All units of a kind.
    pub fn all(kind: Kind) -> Vec<Unit> {
        match kind {
            Kind::Torque => TorqueUnit::ALL.iter().copied().map(Unit::Torque).collect(),
            Kind::Angle => AngleUnit::ALL.iter().copied().map(Unit::Angle).collect(),
            Kind::Length => LengthUnit::ALL.iter().copied().map(Unit::Length).collect(),
            Kind::Mass => MassUnit::ALL.iter().copied().map(Unit::Mass).collect(),
            Kind::Pressure => PressureUnit::ALL.iter().copied().map(Unit::Pressure).collect(),
        }
    }

    /// The symbol it is printed with.
    pub fn symbol(&self) -> &'static str {
        match self {
            Unit::Torque(unit) => unit.symbol(),
            Unit::Angle(unit) => unit.symbol(),
            Unit::Length(unit) => unit.symbol(),
            Unit::Mass(unit) => unit.symbol(),
            Unit::Pressure(unit) => unit.symbol(),
        }
    }

    fn named(text: &str) -> Option<Unit> {
        TorqueUnit::named(text)
            .map(Unit::Torque)
            .or_else(|| AngleUnit::named(text).map(Unit::Angle))
            .or_else(|| LengthUnit::named(text).map(Unit::Length))
            .or_else(|| MassUnit::named(text).map(Unit::Mass))
            .or_else(|| PressureUnit::named(text).map(Unit::Pressure))
    }
}

impl PartialOrd for Quantity {
    fn partial_cmp(&self, other: &Quantity) -> Option<Ordering> {
        match (self, other) {
            (Quantity::Torque(a), Quantity::Torque(b)) => a.partial_cmp(b),
            (Quantity::Angle(a), Quantity::Angle(b)) => a.partial_cmp(b),
            (Quantity::Length(a), Quantity::Length(b)) => a.partial_cmp(b),
            (Quantity::Mass(a), Quantity::Mass(b)) => a.partial_cmp(b),
            (Quantity::Pressure(a), Quantity::Pressure(b)) => a.partial_cmp(b),
            _ => None,
        }
    }
}

macro_rules! from {
    ($($name:ident),*) => {$(
        impl From<$name> for Quantity {
            fn from(value: $name) -> Quantity {
                Quantity::$name(value)
            }
        }
    )*};
}
from!(Torque, Angle, Length, Mass, Pressure);

impl std::fmt::Display for Quantity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        each!(self, value => value.fmt(f))
    }
}

/// A text that is not an amount of any kind.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum QuantityError {
    /// Its unit says which kind it should be, but it is not one.
    #[error(transparent)]
    Kind(#[from] ParseError),
    /// Nothing says which kind it should be.
    #[error("\"{text}\" is not an amount: {problem}; an amount is written in {}", forms())]
    Unknown {
        /// What was read.
        text: String,
        /// What is wrong with it.
        problem: Problem,
    },
}

fn forms() -> String {
    Kind::ALL.map(|kind| format!("{} ({kind})", kind.forms())).join(", ")
}

impl std::str::FromStr for Quantity {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Quantity, QuantityError> {
        let (_, unit) = parse::split_number(text);
        Ok(match kind_named(unit) {
            Some(Kind::Torque) => Quantity::Torque(text.parse()?),
            Some(Kind::Angle) => Quantity::Angle(text.parse()?),
            Some(Kind::Length) => Quantity::Length(text.parse()?),
            Some(Kind::Mass) => Quantity::Mass(text.parse()?),
            Some(Kind::Pressure) => Quantity::Pressure(text.parse()?),
            None => {
                let problem = match Torque::unit_named(unit) {
                    Err(problem) => problem,
                    Ok(_) => Problem::UnknownUnit(unit.to_owned()),
                };
                let text = text.trim().chars().take(60).collect();
                return Err(QuantityError::Unknown { text, problem });
            }
        })
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
