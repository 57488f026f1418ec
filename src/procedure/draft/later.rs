//! Measurements that torques count from and that no step takes yet: those of the rebuild that is to be drafted.

use crate::procedure::model::Phase;
use crate::procedure::resolve::{added, base, named};
use crate::procedure::written::Written;
use crate::quantity::{Limits, Torque, TorqueUnit};
use std::collections::HashSet;

/// One of them.
pub(super) struct Later {
    /// The name that it is counted from by.
    pub name: String,
    /// The unit of what is added to it.
    pub unit: TorqueUnit,
    /// The fastener whose torque it is.
    pub fastener: String,
}

/// All of them, each once; none of a file whose rebuild is written.
pub(super) fn measured(written: &Written) -> Vec<Later> {
    if written.step.iter().any(|step| step.phase.value >= Phase::Rebuild) {
        return Vec::new();
    }
    let mut known: HashSet<&str> = named(written).map(|(name, _)| name.value.as_str()).collect();
    let mut later = Vec::new();
    for fastener in &written.fastener {
        for stage in fastener.stages.iter().flat_map(|stages| stages.value.iter()) {
            let Some((torque, name)) = stage.torque.as_ref().and_then(|text| Some((text, base(text)?))) else {
                continue;
            };
            let by = added(torque).and_then(|(by, _)| by.parse::<Limits<Torque>>().ok());
            if let Some(by) = by.filter(|_| known.insert(name)) {
                let (name, fastener) = (name.to_owned(), fastener.name.value.clone());
                later.push(Later { name, unit: by.low().unit, fastener });
            }
        }
    }
    later
}

/// Steps that take them, to stand behind all others while the strip is read.
pub(super) fn steps(later: &[Later]) -> String {
    let step = |(n, Later { name, unit, .. }): (usize, &Later)| {
        format!(
            "\n[[step]]\nid = \"taken-in-the-rebuild-{n}\"\nphase = \"strip\"\nsay = \"Measure.\"\n\
             do = [{{ measure = \"{name}\", name = \"{name}\", unit = \"{unit}\" }}]\n"
        )
    };
    later.iter().enumerate().map(step).collect()
}
