//! The voice: phonemes to sound by a piper model.
//!
//! Knows the model's folder, `phonemes` and [`crate::onnx`]. Leaves it to its caller to cut long texts, to keep what
//! was said, and to play it.

use std::fs;
use std::path::{Path, PathBuf};

use piper_rs::ModelConfig;

use super::clauses::clauses;
use super::phonemes::Phonemiser;
use super::{SpeakError, Voice};
use crate::onnx;

/// Slowest and fastest speech that is still speech; what lies outside is drawn to the nearer end.
pub const PACE: std::ops::RangeInclusive<f32> = 0.5..=3.0;
/// What is not foreseen is waited for, and a second core makes it a fifth to a quarter sooner (docs/voice.md).
const THREADS: usize = 2;

/// A piper voice whose files are in order as far as that can be known at once; its network is not loaded yet.
pub struct Found {
    model: PathBuf,
    config: ModelConfig,
    phonemiser: Phonemiser,
}

/// A piper voice, loaded.
pub struct Piper {
    engine: piper_rs::Piper,
    phonemiser: Phonemiser,
    rate: u32,
    /// The model's own stretching of time; pace divides it.
    length_scale: f32,
}

impl Piper {
    /// Loads the voice in `folder` (one `*.onnx` and its `*.onnx.json`), for text phonemised with the data in
    /// `phonemes`. [`onnx::load`] must have succeeded before. Takes about a second.
    pub fn load(folder: &Path, phonemes: &Path) -> Result<Self, SpeakError> {
        Self::find(folder, phonemes, None)?.load()
    }

    /// Looks at the files only, for a voice that is to be loaded by and by. `language`: text in another language than the
    /// voice names itself, by espeak-ng's name.
    pub fn find(folder: &Path, phonemes: &Path, language: Option<&str>) -> Result<Found, SpeakError> {
        let model = only_model(folder)?;
        onnx::look(&model)?;
        let mut config_path = model.clone().into_os_string();
        config_path.push(".json");
        let config_path = PathBuf::from(config_path);
        let refuse = |reason: String| SpeakError::NotAVoice { path: config_path.clone(), reason };
        let text = crate::files::text(&config_path).map_err(|e| refuse(e.to_string()))?;
        let config: ModelConfig = serde_json::from_str(&text).map_err(|e| refuse(e.to_string()))?;
        if config.audio.sample_rate == 0 {
            return Err(refuse("it gives a rate of 0 samples a second".into()));
        }
        let length_scale = config.inference.length_scale;
        if !(length_scale.is_finite() && length_scale > 0.0) {
            return Err(refuse(format!("its length_scale is {length_scale}")));
        }
        let phonemiser = Phonemiser::new(phonemes, language.unwrap_or(&config.espeak.voice))?;
        Ok(Found { model, config, phonemiser })
    }
}

impl Found {
    /// Loads the network. [`onnx::load`] must have succeeded before. Takes about a second.
    pub fn load(self) -> Result<Piper, SpeakError> {
        let Found { model, config, phonemiser } = self;
        let (rate, length_scale) = (config.audio.sample_rate, config.inference.length_scale);
        let session = onnx::session(&model, THREADS)?;
        Ok(Piper { engine: piper_rs::Piper::from_session(session, config), phonemiser, rate, length_scale })
    }
}

impl Voice for Piper {
    fn rate(&self) -> u32 {
        self.rate
    }

    fn say(&mut self, text: &str, pace: f32) -> Result<Vec<f32>, SpeakError> {
        // The phonemiser drops punctuation and the model needs it: so it works clause by clause, and the marks are
        // put back.
        let mut phonemes = String::new();
        for clause in clauses(text) {
            if !phonemes.is_empty() {
                phonemes.push(' ');
            }
            phonemes.push_str(&self.phonemiser.phonemes(clause.text)?);
            phonemes.extend(clause.mark);
        }
        if phonemes.is_empty() {
            return Ok(Vec::new());
        }
        let pace = if pace.is_finite() { pace.clamp(*PACE.start(), *PACE.end()) } else { 1.0 };
        let (samples, _) = self
            .engine
            .create(&phonemes, true, None, Some(self.length_scale / pace), None, None)
            .map_err(|e| SpeakError::Synthesis { text: text.into(), reason: e.to_string() })?;
        Ok(samples)
    }
}

/// The one `*.onnx` in `folder`.
fn only_model(folder: &Path) -> Result<PathBuf, SpeakError> {
    let refuse = |reason: String| SpeakError::NotAVoice { path: folder.into(), reason };
    let mut models = Vec::new();
    for entry in fs::read_dir(folder).map_err(|e| refuse(e.to_string()))? {
        let path = entry.map_err(|e| refuse(e.to_string()))?.path();
        if path.extension().is_some_and(|extension| extension == "onnx") {
            models.push(path);
        }
    }
    match models.len() {
        1 => Ok(models.remove(0)),
        0 => Err(refuse("it holds no *.onnx file".into())),
        more => Err(refuse(format!("it holds {more} *.onnx files, and has to hold one"))),
    }
}
