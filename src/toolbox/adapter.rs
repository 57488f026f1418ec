//! Offset adapters: how far the scale of the wrench is from the torque at the fastener.
//!
//! `S = T · L / (L + E · cos θ)`: S is what the scale shows, T the torque at the fastener, L the length of the wrench
//! from its square to the middle of the grip, E the length of the adapter from the square to the fastener, θ the angle
//! between them, 0° where the adapter lengthens the wrench in a straight line, 180° where it points back along the
//! handle. It is the rule of FAA Advisory Circular 43.13-1B, paragraph 7-40 (public domain), which gives it for 0° and
//! 180°; in between only the part of E along the handle counts. At 90° nothing changes.

use crate::quantity::{Angle, AngleUnit, Length, LengthUnit, Torque};
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use rust_decimal::{Decimal, RoundingStrategy};

/// An adapter as it sits on the wrench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Adapter {
    /// From the centre of the wrench's square to the centre of the fastener.
    pub length: Length,
    /// Between the adapter and the wrench drawn out straight.
    pub angle: Angle,
}

/// Why an adapter cannot be reckoned with.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AdapterError {
    /// Not written as a length and an angle.
    #[error(
        "\"{found}\": an adapter is written LENGTH@ANGLE, such as \"50 mm@90 deg\"; 0 deg is straight out, 180 deg back along the handle"
    )]
    Form {
        /// What was found.
        found: String,
    },
    /// One of the two cannot be read.
    #[error("\"{found}\": {reason}")]
    Value {
        /// What was found.
        found: String,
        /// What is wrong with it.
        reason: String,
    },
    /// The length is not more than nothing.
    #[error("\"{found}\": the length of an adapter is more than 0; the angle says which way it points")]
    NotPositive {
        /// What was found.
        found: String,
    },
    /// The fastener would lie at the grip or behind it.
    #[error("an adapter that reaches back to the grip leaves no lever: the wrench is {length} long")]
    NoLever {
        /// Length of the wrench.
        length: Length,
    },
    /// Numbers beyond anything real.
    #[error("these numbers are too large to be worked with")]
    TooLarge,
}

/// Decimals kept of a cosine that has no end; far below what a ruler shows.
const COSINE_PLACES: u32 = 15;

/// The cosine, exact where it is a number that can be written down.
fn cosine(angle: Angle) -> Option<Decimal> {
    let degrees = angle.in_unit(AngleUnit::Degree).amount.checked_rem(Decimal::from(360))?.abs();
    let known = [(0, 1, 0), (60, 5, 1), (90, 0, 0), (120, -5, 1), (180, -1, 0), (240, -5, 1), (270, 0, 0), (300, 5, 1)];
    if let Some((_, digits, places)) = known.iter().find(|(at, ..)| Decimal::from(*at) == degrees) {
        return Some(Decimal::new(*digits, *places));
    }
    let cosine = Decimal::from_f64(degrees.to_f64()?.to_radians().cos())?;
    Some(cosine.round_dp_with_strategy(COSINE_PLACES, RoundingStrategy::MidpointAwayFromZero))
}

impl Adapter {
    /// How many times the torque on the scale is at the fastener, on a wrench of this length: `(L + E · cos θ) / L`.
    pub fn gain(&self, wrench: Length) -> Result<Decimal, AdapterError> {
        self.lever(wrench)?.checked_div(millimetres(wrench)).ok_or(AdapterError::TooLarge)
    }

    /// What the scale shows when `torque` is at the fastener.
    pub fn scale(&self, torque: Torque, wrench: Length) -> Result<Torque, AdapterError> {
        let lever = self.lever(wrench)?;
        let product = torque.amount.checked_mul(millimetres(wrench)).ok_or(AdapterError::TooLarge)?;
        let amount = product.checked_div(lever).ok_or(AdapterError::TooLarge)?;
        Ok(Torque::new(amount.normalize(), torque.unit))
    }

    /// The torque at the fastener when the scale shows `shown`.
    pub fn at_fastener(&self, shown: Torque, wrench: Length) -> Result<Torque, AdapterError> {
        let lever = self.lever(wrench)?;
        let product = shown.amount.checked_mul(lever).ok_or(AdapterError::TooLarge)?;
        let amount = product.checked_div(millimetres(wrench)).ok_or(AdapterError::TooLarge)?;
        Ok(Torque::new(amount.normalize(), shown.unit))
    }

    /// Does it leave the setting as it is?
    pub fn changes_nothing(&self) -> bool {
        cosine(self.angle).is_some_and(|c| c.is_zero())
    }

    /// Length of the whole lever, in millimetres.
    fn lever(&self, wrench: Length) -> Result<Decimal, AdapterError> {
        let along = cosine(self.angle).and_then(|c| c.checked_mul(millimetres(self.length)));
        let lever = along.and_then(|a| millimetres(wrench).checked_add(a)).ok_or(AdapterError::TooLarge)?;
        if lever <= Decimal::ZERO || millimetres(wrench) <= Decimal::ZERO {
            return Err(AdapterError::NoLever { length: wrench });
        }
        Ok(lever)
    }
}

fn millimetres(length: Length) -> Decimal {
    length.in_unit(LengthUnit::Millimetre).amount
}

impl std::fmt::Display for Adapter {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} at {}", self.length, self.angle)
    }
}

impl std::str::FromStr for Adapter {
    type Err = AdapterError;

    /// Reads "50 mm@90 deg".
    fn from_str(text: &str) -> Result<Adapter, AdapterError> {
        let found = || text.to_owned();
        let (length, angle) = text.split_once('@').ok_or_else(|| AdapterError::Form { found: found() })?;
        let value = |reason: String| AdapterError::Value { found: found(), reason };
        let length: Length = length.trim().parse().map_err(|e| value(format!("{e}")))?;
        let angle: Angle = angle.trim().parse().map_err(|e| value(format!("{e}")))?;
        if length.amount <= Decimal::ZERO {
            return Err(AdapterError::NotPositive { found: found() });
        }
        Ok(Adapter { length, angle })
    }
}
