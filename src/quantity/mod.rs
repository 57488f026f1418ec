//! Torque, angle, length, mass, pressure: amounts as they were published, exact conversion, rounding to a graduation.
//!
//! An amount keeps the digits and the unit it was written with, so a published value is never rounded away.
//! Conversion factors are the exact ones of NIST SP 811 (2008), appendix B. Knows nothing else; never speaks or prints.

use rust_decimal::Decimal;

/// Units of torque.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
pub enum TorqueUnit {
    /// N·m
    NewtonMetre,
    /// kgf·m
    KilogramForceMetre,
    /// lbf·ft
    PoundForceFoot,
    /// lbf·in
    PoundForceInch,
}

/// Units of angle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
pub enum AngleUnit {
    /// 1°
    Degree,
    /// 90°
    QuarterTurn,
    /// 60°, one flat of a hexagon
    Flat,
    /// 30°, one point of a twelve-point drive
    Point,
}

/// A torque as published. Compared by size, whatever the units.
#[derive(Debug, Clone, Copy)]
pub struct Torque {
    /// Number as written.
    pub amount: Decimal,
    /// Unit as written.
    pub unit: TorqueUnit,
}

/// An angle as published.
#[derive(Debug, Clone, Copy)]
pub struct Angle {
    /// Number as written.
    pub amount: Decimal,
    /// Unit as written.
    pub unit: AngleUnit,
}

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

/// Units of length.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
pub enum LengthUnit {
    /// mm
    Millimetre,
    /// in
    Inch,
}

/// Units of mass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
pub enum MassUnit {
    /// g
    Gram,
    /// kg
    Kilogram,
    /// lb
    Pound,
}

/// Units of pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
pub enum PressureUnit {
    /// kPa
    Kilopascal,
    /// bar
    Bar,
    /// lbf/in², written psi
    PoundForcePerSquareInch,
}

/// A length as published.
#[derive(Debug, Clone, Copy)]
pub struct Length {
    /// Number as written.
    pub amount: Decimal,
    /// Unit as written.
    pub unit: LengthUnit,
}

/// A mass as published.
#[derive(Debug, Clone, Copy)]
pub struct Mass {
    /// Number as written.
    pub amount: Decimal,
    /// Unit as written.
    pub unit: MassUnit,
}

/// A pressure as published.
#[derive(Debug, Clone, Copy)]
pub struct Pressure {
    /// Number as written.
    pub amount: Decimal,
    /// Unit as written.
    pub unit: PressureUnit,
}

/// Any kind of amount.
#[derive(Debug, Clone, Copy, PartialEq)]
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
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
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
