//! The stages of a value, as a procedure writes them. How a text says them is read by `values`.

pub(super) use crate::values::amounts::{Stage, stages};

impl Stage {
    /// As a procedure writes it.
    pub(super) fn toml(&self) -> String {
        let quoted = super::quote::quoted;
        match self {
            Stage::Torque { amount, also: None } => format!("{{ torque = {} }}", quoted(amount)),
            Stage::Torque { amount, also: Some(also) } => {
                format!("{{ torque = {}, also = {} }}", quoted(amount), quoted(also))
            }
            Stage::Angle(amount) => format!("{{ angle = {} }}", quoted(amount)),
        }
    }
}
