//! Which second listener there is: one by phones where its network and a lexicon are there, else moonshine's decoder.
//!
//! Knows which files each of them is made of, and loads nothing before it is asked to. Where folders lie is known to `assets`.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::{Lexicon, Moonshine, Phones};
use crate::assets::Places;
use crate::listen::{Judge, ListenError, model_files};
use crate::onnx;

/// The network of phones, and the pronunciations of words, as their files are called.
const NETWORK: &str = "phones.onnx";
const LEXICON: &str = "lexicon.txt";

/// A second listener that can be opened.
#[derive(Debug, Clone)]
pub struct Second {
    moonshine: PathBuf,
    phones: Result<ByPhones, String>,
}

/// What judging by phones takes besides moonshine.
#[derive(Debug, Clone)]
pub struct ByPhones {
    /// The network's file.
    pub network: PathBuf,
    /// The lexicon's.
    pub words: PathBuf,
    /// What stands in that.
    pub lexicon: Arc<Lexicon>,
}

impl Second {
    /// The one of these places, beside this listening model or the usual one; none where moonshine is missing. The lexicon is that
    /// of the listening model: where it has none that can be read, as one made by others, the decoder judges.
    pub fn find(places: &Places, model: Option<&Path>) -> Option<Self> {
        let moonshine = places.judge(None).ok()?;
        let phones = || {
            let folder = places.phones(None).map_err(|e| e.to_string())?;
            let words = places.listener(model).map_err(|e| e.to_string())?.join(LEXICON);
            let lexicon = Lexicon::read(&words).map_err(|e| e.to_string())?;
            Ok(ByPhones { network: folder.join(NETWORK), words, lexicon: Arc::new(lexicon) })
        };
        Some(Self { moonshine, phones: phones() })
    }

    /// The one with the network and the lexicon in this folder, whatever lies elsewhere; the folder of moonshine with it.
    pub fn by_phones(moonshine: PathBuf, folder: &Path) -> Result<Self, ListenError> {
        let words = folder.join(LEXICON);
        let lexicon = Arc::new(Lexicon::read(&words)?);
        Ok(Self { moonshine, phones: Ok(ByPhones { network: folder.join(NETWORK), words, lexicon }) })
    }

    /// Moonshine's folder.
    pub fn moonshine(&self) -> &Path {
        &self.moonshine
    }

    /// What it judges by, if by phones, and else why it does not.
    pub fn phones(&self) -> Result<&ByPhones, &str> {
        self.phones.as_ref().map_err(String::as_str)
    }

    /// Whether its files are there, as far as that can be known at once.
    pub fn look(&self) -> Result<(), ListenError> {
        Moonshine::look(&self.moonshine)?;
        if let Ok(phones) = &self.phones {
            onnx::look(&phones.network)?;
        }
        Ok(())
    }

    /// Loads it. [`onnx::load`] must have succeeded before.
    pub fn open(&self) -> Result<Box<dyn Judge + Send>, ListenError> {
        let moonshine = Moonshine::open(&self.moonshine)?;
        Ok(match &self.phones {
            Ok(phones) => Box::new(phones.open(moonshine)?),
            Err(_) => Box::new(moonshine),
        })
    }
}

impl ByPhones {
    /// Loads the network, if it is what the list of checksums beside it says, where there is one.
    pub fn open(&self, moonshine: Moonshine) -> Result<Phones, ListenError> {
        if let Some(folder) = self.network.parent() {
            model_files::check_sums(folder)?;
        }
        Phones::open(&self.network, self.lexicon.clone(), moonshine)
    }

    /// What tells it from any other.
    pub fn name(&self) -> Result<String, ListenError> {
        Phones::name(&[&self.network, &self.words])
    }
}
