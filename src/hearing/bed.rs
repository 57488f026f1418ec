//! The noise that lies below a voice, or is played alone.

use super::noise::Noise;
use serde::{Deserialize, Serialize};

/// A noise that a voice is mixed with, or that is played alone.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Bed {
    /// A generated one.
    Made(Noise),
    /// A recorded one.
    Recorded {
        /// Its file.
        file: String,
        /// What makes it.
        kind: String,
    },
}

impl Bed {
    /// What it is called in tables.
    pub fn name(&self) -> &str {
        match self {
            Bed::Made(noise) => noise.name(),
            Bed::Recorded { kind, .. } => kind,
        }
    }
}
