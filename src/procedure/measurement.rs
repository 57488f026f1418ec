//! A measurement, and the limits that it is held against.

use super::index::{MeasureIx, StockIx};
use crate::quantity::{Quantity, Unit};

/// A measurement against limits.
#[derive(Debug, Clone, PartialEq)]
pub struct Measurement {
    /// What is measured ("play at the ball joint").
    pub what: String,
    /// Its name, if other values count from it.
    pub name: Option<MeasureIx>,
    /// The unit of its limits; of one without, that of the reading.
    pub unit: Unit,
    /// The measurement that its limits count from: what is added to that.
    pub from: Option<MeasureIx>,
    /// Further measurements that are added to it, or taken away from it.
    pub more: Vec<Term>,
    /// Are there steps for the case that it lies outside its limits? Then it holds nothing up.
    pub leads: bool,
    /// What is at hand, where one of those is chosen by it.
    pub among: Option<StockIx>,
    /// Between which values it must lie; one without is only recorded.
    pub limits: Bounds,
    /// What to do when it does not; of one without limits nothing.
    pub otherwise: String,
    /// Page of the limit.
    pub source: Option<String>,
}

/// A measurement that is added to another one, or taken away from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Term {
    /// Which measurement.
    pub of: MeasureIx,
    /// Is it taken away?
    pub less: bool,
}

/// Lower and upper bound, in the same kind of quantity and the same unit; neither of what is only recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct Bounds {
    /// Not less than this.
    pub least: Option<Quantity>,
    /// Not more than this.
    pub most: Option<Quantity>,
}
