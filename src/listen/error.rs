//! Everything that can go wrong between a sound and an utterance, said so that a person can act on it.
//!
//! Each message begins with the file, device or phrase it is about, then says what is wrong, then what to do.

use std::path::{Path, PathBuf};

/// Why this room could not do what it was asked.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ListenError {
    /// A model folder or a file in it is missing, damaged or not of the right kind.
    #[error("{}: {reason}; {remedy}", path.display())]
    Model {
        /// The folder or file.
        path: PathBuf,
        /// What is wrong with it.
        reason: String,
        /// What the user can do.
        remedy: &'static str,
    },
    /// There is nothing to listen for.
    #[error("phrases: the list is empty; the recogniser needs at least one phrase to listen for")]
    NoPhrases,
    /// A phrase is not written as the recogniser needs it.
    #[error("phrase {phrase:?}: {reason}; write lower-case words with single spaces between them")]
    BadPhrase {
        /// The phrase as it was given.
        phrase: String,
        /// What is wrong with it.
        reason: String,
    },
    /// A phrase holds a word that the model cannot hear. The recogniser itself would leave it out silently.
    #[error("phrase {phrase:?}: the model has no word {word:?}; use another wording, or a model that knows the word")]
    UnknownWord {
        /// The phrase.
        phrase: String,
        /// The first word of it that the model lacks.
        word: String,
    },
    /// The second listener's network, or the library that runs it, cannot be loaded.
    #[error(transparent)]
    Onnx(#[from] crate::onnx::OnnxError),
    /// The recogniser or the second listener failed in the middle of its work.
    #[error("{engine}: {reason}; start listening afresh")]
    Engine {
        /// Which engine.
        engine: &'static str,
        /// What it said.
        reason: String,
    },
    /// The process of the recogniser ended, and another one was started in its place.
    #[error("the recogniser ended unexpectedly ({how}) and was started again; say it once more")]
    Died {
        /// How it ended, as the system says it.
        how: String,
    },
    /// A recording cannot be read.
    #[error("{}: {reason}; give a WAV or FLAC recording", path.display())]
    Recording {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        reason: String,
    },
    /// The microphone cannot be opened, or stopped.
    #[error("{device}: {reason}; {remedy}")]
    Microphone {
        /// The device's name, or words for the default one.
        device: String,
        /// What the sound system said.
        reason: String,
        /// What the user can do.
        remedy: &'static str,
    },
}

impl ListenError {
    /// A fault of a model folder or file.
    pub(super) fn model(path: &Path, reason: impl Into<String>) -> Self {
        Self::Model {
            path: path.to_owned(),
            reason: reason.into(),
            remedy: "fetch the model again or name another model folder",
        }
    }

    /// A fault of a recording.
    pub(super) fn recording(path: &Path, reason: impl ToString) -> Self {
        Self::Recording { path: path.to_owned(), reason: reason.to_string() }
    }
}
