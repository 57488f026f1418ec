//! What a step does, act by act, as it is written down.

use super::{Rare, Spot, Text};
use schemars::JsonSchema;
use serde::Deserialize;

/// One thing that a step does: one of the first twenty keys, and the keys that go with it.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Act {
    /// Put this support in place.
    pub place: Rare,
    /// Take this support away.
    pub take_away: Rare,
    /// Bring the vehicle into this state.
    pub reach: Rare,
    /// Take the vehicle out of this state.
    pub leave: Rare,
    /// Loosen fasteners of this group, leaving them in.
    pub slacken: Rare,
    /// Take fasteners of this group out.
    pub remove: Rare,
    /// Unscrew fasteners of this group that cannot come out yet.
    pub trap: Rare,
    /// Put fasteners of this group back only to hold things together.
    pub hold: Rare,
    /// Start fasteners of this group by hand.
    pub hand_start: Rare,
    /// Tighten fasteners of this group.
    pub tighten: Rare,
    /// Take out what locks fasteners of this group.
    pub unlock: Rare,
    /// Lock fasteners of this group that are in their end state.
    pub lock: Rare,
    /// Take this component off.
    pub take_off: Rare,
    /// Hang this component up.
    pub hang: Rare,
    /// Put this component on.
    pub put_on: Rare,
    /// Open this connection.
    pub disconnect: Rare,
    /// Close this connection.
    pub connect: Rare,
    /// Measure this against limits.
    pub measure: Rare,
    /// Clean this.
    pub clean: Rare,
    /// Apply this.
    pub apply: Rare,
    /// With a fastener group: only the fasteners at these places.
    #[schemars(length(min = 1))]
    pub items: Option<Box<Spot<Vec<Text>>>>,
    /// With `tighten`: only through this stage, counted from 1.
    #[schemars(range(min = 1))]
    pub through: Option<Spot<u32>>,
    /// With `measure`: the name by which later values count from what was measured.
    pub name: Rare,
    /// With `measure` and no limit: the unit of the reading, which is only recorded.
    pub unit: Rare,
    /// With `measure`: not less than this ("2 mm"), or than this counted from earlier measurements ("gap - 0.08 mm",
    /// "old-shim + gap - 0.25 mm").
    pub least: Rare,
    /// With `measure`: not more than this.
    pub most: Rare,
    /// With `measure` and limits: the same limits in a second unit, as the source prints them ("0.008..0.035 in"); of limits
    /// that count from a measurement what is added or taken away. It guards against typing errors.
    pub also: Rare,
    /// With `measure` and limits: the sizes at hand of which one is chosen.
    pub among: Rare,
    /// With `measure`: what to do when it is outside.
    pub otherwise: Rare,
    /// With `measure`: page of the limits.
    pub source: Rare,
}
