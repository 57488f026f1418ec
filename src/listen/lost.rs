//! Why sound in which somebody may have spoken came to nothing, counted: without it nobody could tell where words are lost.

use serde::{Deserialize, Serialize};

/// Voices that became no utterance.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Lost {
    /// Hardly any voice, and no words: taken for a knock.
    pub knocks: usize,
    /// Fainter than who had just given a command.
    #[serde(alias = "behind")]
    pub background: usize,
    /// Voice enough, but neither listener found words in it.
    pub wordless: usize,
}
