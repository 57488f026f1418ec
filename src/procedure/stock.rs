//! Parts that there are in several sizes, one of which is chosen on the day by what was measured.
//!
//! Knows which sizes lie within limits. Chooses none: the one that is taken is measured and held against the limits.

use super::measurement::Bounds;
use crate::quantity::Quantity;

/// A part that there is in several sizes.
#[derive(Debug, Clone, PartialEq)]
pub struct Stock {
    /// Key in the file.
    pub id: String,
    /// Spoken name of one of them ("shim").
    pub name: String,
    /// The sizes, all of one kind, the smallest first. Never empty.
    pub sizes: Vec<Quantity>,
    /// Page of the sizes.
    pub source: Option<String>,
}

impl Stock {
    /// The sizes that lie within these limits.
    pub fn fitting(&self, limits: &Bounds) -> Vec<Quantity> {
        let within = |size: &&Quantity| {
            limits.least.is_none_or(|least| **size >= least) && limits.most.is_none_or(|most| **size <= most)
        };
        self.sizes.iter().filter(within).copied().collect()
    }
}
