//! Torque wrenches, and what to set on one for a value.
//!
//! A wrench covers what lies between its lowest and its highest mark (ISO 6789: a tool is made and tested for the
//! values marked on it). Below a fifth of the highest mark the permissible deviation of the standard is not proven, so
//! such a setting is given with that advice.

use super::adapter::{Adapter, AdapterError};
use super::size::Square;
use crate::quantity::{Length, Limits, Torque, TorqueUnit};
use jiff::civil::Date;
use rust_decimal::Decimal;

/// A torque wrench, as the toolbox file says it.
#[derive(Debug, Clone, PartialEq)]
pub struct Wrench {
    /// What it is called ("big wrench").
    pub name: String,
    /// Lowest mark.
    pub low: Torque,
    /// Highest mark, in the same unit.
    pub high: Torque,
    /// From mark to mark, in the same unit.
    pub graduation: Torque,
    /// Its square.
    pub square: Square,
    /// From the square to the middle of the grip, if it was measured.
    pub length: Option<Length>,
    /// When it was calibrated last, if that is known.
    pub calibrated: Option<Date>,
    /// Permissible deviation of its class, in percent of the value, if that is known.
    pub accuracy: Option<Decimal>,
}

/// A value on a wrench.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting<'a> {
    /// The wrench.
    pub wrench: &'a Wrench,
    /// What is wanted at the fastener.
    pub wanted: Limits<Torque>,
    /// What is between the wrench and the fastener.
    pub adapter: Option<Adapter>,
    /// What the scale would have to show, before it is rounded to a mark: the value, or the middle of the window.
    pub exact: Torque,
    /// The mark to set.
    pub set: Torque,
    /// The torque at the fastener with that mark.
    pub reached: Torque,
    /// Is that the value wanted, or in the window?
    pub within: bool,
    /// Is the mark in the lowest fifth of the scale?
    pub lowest_fifth: bool,
}

/// Why no wrench can be named for a value.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Uncovered {
    /// There is no wrench at all.
    #[error("there is no torque wrench in the toolbox")]
    NoWrench,
    /// Above the highest mark.
    #[error("no wrench reaches {wanted}: the highest mark is {mark}")]
    Above {
        /// What the scale would have to show.
        wanted: Torque,
        /// The highest mark of the nearest wrench.
        mark: Torque,
    },
    /// Below the lowest mark.
    #[error("no wrench goes down to {wanted}: the lowest mark is {mark}")]
    Below {
        /// What the scale would have to show.
        wanted: Torque,
        /// The lowest mark of the nearest wrench.
        mark: Torque,
    },
    /// Above one wrench and below the next.
    #[error("no wrench covers {wanted}: one ends at {low}, the next begins at {high}")]
    Between {
        /// What the scale would have to show.
        wanted: Torque,
        /// The highest mark below it.
        low: Torque,
        /// The lowest mark above it.
        high: Torque,
    },
    /// The adapter needs a length that is not known.
    #[error("the length of the {name} is not in the toolbox file, and with an adapter it is needed")]
    NoLength {
        /// Which wrench.
        name: String,
    },
    /// The adapter does not go with the wrench.
    #[error(transparent)]
    Adapter(#[from] AdapterError),
}

impl Wrench {
    /// The unit of its scale.
    pub fn unit(&self) -> TorqueUnit {
        self.high.unit
    }

    /// What to set for a value, if this wrench covers it.
    pub fn setting(&self, wanted: &Limits<Torque>, adapter: Option<&Adapter>) -> Result<Setting<'_>, Uncovered> {
        let unit = self.unit();
        let on_scale = match adapter.filter(|a| !a.changes_nothing()) {
            None => *wanted,
            Some(adapter) => {
                let length = self.length.ok_or_else(|| Uncovered::NoLength { name: self.name.clone() })?;
                match *wanted {
                    Limits::Exactly(value) => Limits::Exactly(adapter.scale(value, length)?),
                    Limits::Window { low, high } => {
                        Limits::Window { low: adapter.scale(low, length)?, high: adapter.scale(high, length)? }
                    }
                }
            }
        };
        let exact = middle(&on_scale.map(|t| t.in_unit(unit)));
        let rounded = on_scale.round_to(unit, self.graduation.amount).ok_or(AdapterError::TooLarge)?;
        if exact > self.high || rounded.value > self.high {
            return Err(Uncovered::Above { wanted: exact, mark: self.high });
        }
        if exact < self.low || rounded.value < self.low {
            return Err(Uncovered::Below { wanted: exact, mark: self.low });
        }
        let reached = match (adapter.filter(|a| !a.changes_nothing()), self.length) {
            (Some(adapter), Some(length)) => adapter.at_fastener(rounded.value, length)?,
            _ => rounded.value,
        };
        let fifth = Torque::new(self.high.amount / Decimal::from(5), unit);
        Ok(Setting {
            wrench: self,
            wanted: *wanted,
            adapter: adapter.copied(),
            exact,
            set: rounded.value,
            reached,
            within: rounded.within,
            lowest_fifth: rounded.value < fifth,
        })
    }

    /// Is the calibration older than the twelve months after which ISO 6789 asks for a new one? `None` if the date of
    /// the last one is not known.
    pub fn calibration_is_due(&self, today: Date) -> Option<bool> {
        let next = self.calibrated?.saturating_add(jiff::Span::new().months(12));
        Some(next < today)
    }

    /// Where a reading lies in a window, may the true value lie outside for the accuracy of the wrench? `None` where
    /// the accuracy is not known, where one value is published and no window, or where the reading is outside anyway.
    pub fn may_be_outside(&self, wanted: &Limits<Torque>, reading: Torque) -> Option<bool> {
        let part = self.accuracy?.checked_div(Decimal::ONE_HUNDRED)?;
        if !wanted.is_window() || !wanted.contains(reading) {
            return None;
        }
        let off = reading.amount.checked_mul(part)?;
        let at = |amount: Decimal| Torque::new(amount, reading.unit);
        Some(!(wanted.contains(at(reading.amount - off)) && wanted.contains(at(reading.amount + off))))
    }
}

/// The value, or the middle of the window; both ends in one unit.
fn middle(limits: &Limits<Torque>) -> Torque {
    let (low, high) = (limits.low(), limits.high());
    let sum = low.amount.checked_add(high.amount).map(|sum| sum / Decimal::TWO);
    Torque::new(sum.unwrap_or(high.amount).normalize(), low.unit)
}
