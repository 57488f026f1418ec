//! Sentences to samples: voice engines, pauses, cache, tones, playback.
//!
//! Knows text and samples. Leaves the choice of words to `dialogue` and devices' life cycle to `session`.
//!
//! - [`clauses`]: where a voice may pause.
//! - [`phonemes`], [`piper`]: the voice that is used.

pub mod clauses;
mod error;
pub mod phonemes;
pub mod piper;

pub use error::SpeakError;
pub use piper::Piper;

/// A synthesiser: one clause of text to samples.
pub trait Voice: Send {
    /// Samples a second of what [`Voice::say`] returns.
    fn rate(&self) -> u32;
    /// Speaks `text`; `pace` 1.0 is the voice's own speed, 2.0 twice as fast. Samples are mono, -1 to 1.
    fn say(&mut self, text: &str, pace: f32) -> Result<Vec<f32>, SpeakError>;
}
