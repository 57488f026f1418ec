//! Sentences to samples: voice engines, pauses, cache, tones, playback.
//!
//! Knows text and samples. Leaves the choice of words to `dialogue` and devices' life cycle to `session`.
//!
//! - [`clauses`]: where a voice may pause; [`sentence`]: clause by clause, the first one as soon as it is made.
//! - [`phonemes`], [`piper`]: the voice that is used; [`cache`]: what was said before or is foreseen.
//! - [`loudness`]: one clause as loud as the next.
//! - [`tones`]: the sounds that are no speech.
//! - [`sink`]: where samples go; [`queue`], [`playback`]: to the loudspeaker; [`wav`]: to a file.

pub mod cache;
pub mod clauses;
mod error;
pub mod loudness;
pub mod phonemes;
pub mod piper;
pub mod playback;
pub mod queue;
pub mod sentence;
pub mod sink;
pub mod tones;
pub mod wav;

pub use cache::CachedVoice;
pub use error::SpeakError;
pub use piper::Piper;
pub use playback::Loudspeaker;
pub use sentence::say_sentence;
pub use sink::Sink;
pub use tones::Tone;

/// A synthesiser: one clause of text to samples.
pub trait Voice: Send {
    /// Samples a second of what [`Voice::say`] returns.
    fn rate(&self) -> u32;
    /// Speaks `text`; `pace` 1.0 is the voice's own speed, 2.0 twice as fast. Samples are mono, -1 to 1.
    fn say(&mut self, text: &str, pace: f32) -> Result<Vec<f32>, SpeakError>;
}
