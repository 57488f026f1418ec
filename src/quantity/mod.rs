//! Torque, angle, length and whatever else manuals print: amounts as they were published, exact conversion, rounding to a graduation.
//!
//! An amount keeps the digits and the unit it was written with, so a published value is never rounded away.
//! Conversion factors are the exact ones of NIST SP 811 (2008), appendix B. Knows nothing else; never speaks or prints.

mod amount;
mod any;
mod kind;
mod limits;
mod parse;
mod unit;

pub use amount::{
    Amount, Angle, Current, Flow, Force, Length, Mass, Percentage, Pressure, Resistance, RotationalSpeed, Speed,
    SpringRate, Temperature, Time, Torque, Voltage, Volume,
};
pub use any::{Quantity, QuantityError, Unit};
pub use kind::Kind;
pub use limits::{Limits, Place, Rounded};
pub use parse::{ParseError, Problem};
pub use unit::{
    AngleUnit, CurrentUnit, FlowUnit, ForceUnit, LengthUnit, MassUnit, PercentageUnit, PressureUnit, ResistanceUnit,
    RotationalSpeedUnit, SpeedUnit, SpringRateUnit, TemperatureUnit, TimeUnit, TorqueUnit, VoltageUnit, VolumeUnit,
};

#[cfg(test)]
mod tests;
