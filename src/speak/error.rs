//! What can go wrong between a sentence and the loudspeaker.

use std::path::PathBuf;

use crate::onnx::OnnxError;
use crate::resample::ResampleError;

/// Why something is not spoken. Errors about a file begin with its path.
#[derive(Debug, thiserror::Error)]
pub enum SpeakError {
    /// The runtime or the voice's model.
    #[error(transparent)]
    Onnx(#[from] OnnxError),
    /// The folder of a voice is not one.
    #[error("{}: this is not a voice: {reason}", path.display())]
    NotAVoice {
        /// The folder, or the file in it that is wrong.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// The phoneme data cannot be used.
    #[error("{}: the phoneme data cannot be used: {reason}", path.display())]
    PhonemeData {
        /// The folder or file.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// A text that the phonemiser does not take.
    #[error("\"{text}\" cannot be turned into phonemes: {reason}")]
    Phonemes {
        /// The text.
        text: String,
        /// What is wrong.
        reason: String,
    },
    /// The voice failed on a text.
    #[error("\"{text}\" cannot be spoken: {reason}")]
    Synthesis {
        /// The text.
        text: String,
        /// What the engine said.
        reason: String,
    },
    /// The voice has a fault that no text explains.
    #[error("the voice: {reason}")]
    Voice {
        /// What went wrong.
        reason: String,
    },
    /// A rate that cannot be converted.
    #[error(transparent)]
    Resample(#[from] ResampleError),
    /// A WAV file cannot be written.
    #[error("{}: the sound cannot be written: {reason}", path.display())]
    Wav {
        /// The file.
        path: PathBuf,
        /// What the system said.
        reason: String,
    },
    /// The loudspeaker cannot be opened.
    #[error("{device}: {reason}; plug one in, or name another with --loudspeaker")]
    NoLoudspeaker {
        /// Its name, or words for the default one.
        device: String,
        /// What the system said.
        reason: String,
    },
    /// The loudspeaker worked, and then failed. It has to be opened anew.
    #[error("{device} has stopped working: {reason}")]
    LoudspeakerLost {
        /// Its name, or words for the default one.
        device: String,
        /// What the system said.
        reason: String,
    },
}
