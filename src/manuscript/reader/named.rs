//! What a name in a text names: a thing, or a value of what is above it.

use crate::manuscript::id_of;
use crate::manuscript::phrase::{self, Thing};

/// One and the same for a thing, however many of it are named.
pub(super) fn key(thing: &Thing) -> String {
    id_of(&phrase::single(&thing.name))
}

/// What a value is of, by a name that is none of an instruction and none of a stage.
pub(super) fn named(name: &str) -> Option<Thing> {
    let of_stage = more(name).is_some() || TORQUE.contains(&name.to_lowercase().as_str());
    phrase::thing(name).filter(|_| !phrase::is_instruction(name) && !of_stage)
}

/// How a line begins that has one value, of what is above it.
pub(super) const TORQUE: [&str; 5] = ["torque", "tightening torque", "torque value", "tighten to", "value"];

/// How a line begins that has a further stage of the value above it, as it stands among stages.
pub(super) fn more(name: &str) -> Option<String> {
    let lower = name.to_lowercase();
    let stage = lower.strip_prefix("stage ").is_some_and(|n| !n.is_empty() && n.chars().all(|c| c.is_ascii_digit()));
    (stage || matches!(lower.as_str(), "angle" | "tightening angle" | "turn" | "then")).then_some(lower)
}
