//! The second listener: moonshine, a network of another make than vosk, judges a finished stretch of sound.
//!
//! It is asked how likely each allowed phrase is, by a search through all their spellings at once, and each is compared with
//! how likely it would be on mere noise. Two listeners of different make rarely make the same mistake. What it writes freely
//! is never believed, because on noise it makes sentences up; it may speak against a phrase (`super::doubt`).
//!
//! Knows English spelling and one model. What its word counts for is for `decide`.
//!
//! `phones` judges by another network, one of phones, and leaves all else to moonshine; `which` tells which of the two judges.

mod kept;
mod lexicon;
mod network;
mod phones;
mod spelling;
mod tokens;
mod tree;
mod trie;
mod which;

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::path::Path;
use std::sync::Arc;

use kept::Kept;
pub(super) use lexicon::is_vowel;
pub use lexicon::{Lexicon, PHONES};
use network::{Encoded, Network, SHORTEST, STATE, THREADS};
pub use phones::Phones;
pub(super) use spelling::spellings;
use tokens::{BEGIN, END, Tokens};
pub use tree::{Likely, PhoneTree, anything};
use trie::{Found, Model, Trie};
pub use which::{ByPhones, Second};

use super::{Encoding, Judge, Judgement, ListenError, Phrase, RATE, Written};
use crate::files;
use crate::onnx;
use sha2::{Digest, Sha256};

/// How much of a phrase's likelihood on noise counts against it.
const PRIOR: f32 = 0.5;
/// The margin when no other phrase came near enough to be scored.
const ALONE: f32 = 20.0;
/// So many of the likeliest phrases are set against noise; the rest is too far behind.
const FINAL: usize = 4;
/// Longest text that it writes freely, in tokens: no phrase is as long.
const LONGEST: usize = 24;
/// So many bytes of a digest name an encoder well enough.
const DIGEST: usize = 12;

/// The tiny English moonshine model.
pub struct Moonshine {
    network: Network,
    tokens: Tokens,
    closings: Vec<u32>,
    /// Noises that nobody spoke in.
    noises: Vec<Encoded>,
    /// Log probability of a text on noise, measured when it is first needed.
    on_noise: HashMap<Vec<u32>, f32>,
    trees: Kept<Trie>,
    /// Words that have been cut into tokens before.
    cut: HashMap<String, Vec<u32>>,
    /// The sound encoded last: it is judged, written and compared with the user's own voice, one after the other.
    last: Option<(Vec<f32>, Arc<Encoded>)>,
}

impl Moonshine {
    /// Whether the files of a model are in `folder`, as far as that can be known at once: the list of tokens is read, of
    /// the network it is only seen that it is there.
    pub fn look(folder: &Path) -> Result<(), ListenError> {
        Tokens::read(&folder.join("tokenizer.bin"))?;
        Ok(network::FILES.iter().try_for_each(|name| onnx::look(&folder.join(name)))?)
    }

    /// Loads the model in `folder` (`encoder_model.ort`, `decoder_model_merged.ort`, `tokenizer.bin`).
    /// [`crate::onnx::load`] must have succeeded before.
    pub fn open(folder: &Path) -> Result<Self, ListenError> {
        let tokens = Tokens::read(&folder.join("tokenizer.bin"))?;
        let mut network = Network::open(folder)?;
        let noises = noises().iter().map(|noise| network.encode(noise)).collect::<ort::Result<_>>();
        let mut moonshine = Self {
            network,
            closings: tokens.closings(),
            tokens,
            noises: noises.map_err(failed)?,
            on_noise: HashMap::new(),
            trees: Kept::default(),
            cut: HashMap::new(),
            last: None,
        };
        // A model that takes the encoder's states but gives other tokens than the list has would judge nonsense.
        let row = moonshine.first_row()?;
        if row != moonshine.tokens.count() {
            let reason = format!("it has {} tokens, but the network {row}", moonshine.tokens.count());
            return Err(ListenError::model(&folder.join("tokenizer.bin"), reason));
        }
        Ok(moonshine)
    }

    /// What encodings by the model in `folder` may be compared with: those of the same name, and no others. It takes as long as
    /// reading the file does.
    pub fn features(folder: &Path) -> Result<String, ListenError> {
        let path = folder.join(network::FILES[0]);
        let bytes = files::read(&path, files::DATA).map_err(|e| ListenError::model(&path, e.to_string()))?;
        let digest = Sha256::digest(&bytes);
        Ok(digest.iter().take(DIGEST).map(|byte| format!("{byte:02x}")).collect())
    }

    /// A sound encoded, unless that was the last one.
    fn encoded(&mut self, samples: &[f32]) -> ort::Result<Arc<Encoded>> {
        if let Some((known, encoded)) = &self.last
            && known == samples
        {
            return Ok(encoded.clone());
        }
        let encoded = Arc::new(self.network.encode(samples)?);
        self.last = Some((samples.to_vec(), encoded.clone()));
        Ok(encoded)
    }

    fn first_row(&mut self) -> Result<usize, ListenError> {
        let Some(noise) = self.noises.first() else { return Ok(0) };
        let rows = self.network.write(noise).next(&[(0, BEGIN)]).map_err(failed)?;
        Ok(rows.first().map_or(0, Vec::len))
    }

    /// The tree of these phrases. That of a list is kept; what only one utterance adds at its end is put in for that one.
    fn plant(&mut self, phrases: &[Phrase]) -> Trie {
        let (tokens, cut) = (&self.tokens, &mut self.cut);
        let (tree, count) = self.trees.of(phrases, |phrases| Trie::new(spelled(tokens, cut, phrases, 0)));
        tree.with(spelled(&self.tokens, &mut self.cut, phrases, count))
    }

    /// Measures how likely these texts are on noise, where that is not known yet.
    fn measure(&mut self, found: &[Found]) -> ort::Result<()> {
        let new: Vec<&[u32]> =
            found.iter().map(|one| &one.tokens[..]).filter(|tokens| !self.on_noise.contains_key(*tokens)).collect();
        if new.is_empty() {
            return Ok(());
        }
        let mut sums = vec![0.0; new.len()];
        for noise in &self.noises {
            let logs = self.network.score(noise, BEGIN, &new, &self.closings)?;
            for (sum, log) in sums.iter_mut().zip(logs) {
                *sum += log;
            }
        }
        let count = self.noises.len().max(1) as f32;
        for (tokens, sum) in new.into_iter().zip(sums) {
            if let Entry::Vacant(place) = self.on_noise.entry(tokens.to_vec()) {
                place.insert(sum / count);
            }
        }
        Ok(())
    }

    /// What it would write, at each place the likeliest token, to the end or the longest; and how much likelier that is than a
    /// phrase in its likeliest spelling.
    fn freely(&mut self, samples: &[f32], phrase: &str) -> ort::Result<Written> {
        let heard = self.encoded(samples)?;
        let mut text = Vec::new();
        let mut log = 0.0;
        let mut writer = self.network.write(&heard);
        let mut last = BEGIN;
        while last != END && text.len() < LONGEST {
            let rows = writer.next(&[(0, last)])?;
            let best = rows.first().and_then(|row| (0u32..).zip(row).max_by(|a, b| a.1.total_cmp(b.1)));
            let Some((token, likely)) = best else { break };
            last = token;
            log += likely;
            if last != END {
                text.push(last);
            }
        }
        let spelled: Vec<Vec<u32>> =
            spellings(phrase).iter().map(|text| self.tokens.cut(text, &mut self.cut)).collect();
        let spelled: Vec<&[u32]> = spelled.iter().map(Vec::as_slice).collect();
        let logs = self.network.score(&heard, BEGIN, &spelled, &self.closings)?;
        let phrase = logs.into_iter().fold(f32::NEG_INFINITY, f32::max);
        Ok(Written { text: self.tokens.text(&text), ahead: log - phrase })
    }

    fn search(&mut self, tree: &Trie, samples: &[f32]) -> ort::Result<Judgement> {
        let heard = self.encoded(samples)?;
        let mut found = trie::search(tree, &mut self.network.write(&heard), BEGIN, &self.closings)?;
        // By number where probabilities are the same, so that the same sound is always judged the same.
        found.sort_by(|a, b| b.log.total_cmp(&a.log).then(a.phrase.cmp(&b.phrase)));
        found.truncate(FINAL);
        self.measure(&found)?;
        let mut scored: Vec<(f32, f32, &Found)> = found
            .iter()
            .map(|one| {
                let noise = self.on_noise.get(&one.tokens).copied().unwrap_or(0.0);
                (one.log - PRIOR * noise, noise, one)
            })
            .collect();
        scored.sort_by(|a, b| b.0.total_cmp(&a.0));
        let Some((score, noise, best)) = scored.first() else { return Ok(nothing()) };
        Ok(Judgement {
            best: Some(best.phrase as usize),
            average: best.log / (best.tokens.len() + 1) as f32,
            over_noise: best.log - noise,
            margin: scored.get(1).map_or(ALONE, |next| (score - next.0).min(ALONE)),
        })
    }
}

/// The spellings of the phrases from this one on, cut into tokens.
fn spelled(
    tokens: &Tokens,
    cut: &mut HashMap<String, Vec<u32>>,
    phrases: &[Phrase],
    from: usize,
) -> Vec<(Vec<u32>, u32)> {
    let mut spelled = Vec::new();
    for (number, phrase) in phrases.iter().enumerate().skip(from) {
        for text in spellings(&phrase.text) {
            spelled.push((tokens.cut(&text, cut), number as u32));
        }
    }
    spelled
}

impl Judge for Moonshine {
    fn judge(&mut self, samples: &[f32], phrases: &[Phrase]) -> Result<Judgement, ListenError> {
        if samples.len() < SHORTEST {
            return Ok(nothing());
        }
        let tree = self.plant(phrases);
        self.search(&tree, samples).map_err(failed)
    }

    fn write(&mut self, samples: &[f32], phrase: &str) -> Result<Option<Written>, ListenError> {
        if samples.len() < SHORTEST {
            return Ok(None);
        }
        self.freely(samples, phrase).map(Some).map_err(failed)
    }

    fn encode(&mut self, samples: &[f32]) -> Result<Option<Encoding>, ListenError> {
        if samples.len() < SHORTEST {
            return Ok(None);
        }
        let encoded = self.encoded(samples).map_err(failed)?;
        Ok(Some(Encoding { samples: encoded.samples, width: STATE, states: encoded.states.clone() }))
    }
}

/// Nothing allowed was near.
fn nothing() -> Judgement {
    Judgement { best: None, average: f32::NEG_INFINITY, over_noise: f32::NEG_INFINITY, margin: 0.0 }
}

fn failed(error: ort::Error) -> ListenError {
    ListenError::Engine { engine: "second listener", reason: error.to_string() }
}

/// A hiss, a hum and a clatter of 1.2 s each, the same ones always.
fn noises() -> Vec<Vec<f32>> {
    let length = RATE as usize * 12 / 10;
    // A linear congruential generator: chance enough for a hiss, and the same everywhere.
    let mut state = 1u32;
    let mut hiss = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as f32 / (1 << 23) as f32 - 1.0
    };
    let mut noise = |level: &dyn Fn(f32) -> f32, tone: f32| -> Vec<f32> {
        let sample = |n: usize| {
            let time = n as f32 / RATE as f32;
            let hum: f32 = [1.0, 2.0, 3.0].iter().map(|k| (std::f32::consts::TAU * 50.0 * k * time).sin() / k).sum();
            level(time) * hiss() + tone * hum
        };
        (0..length).map(sample).collect()
    };
    vec![noise(&|_| 0.05, 0.0), noise(&|_| 0.01, 0.05), noise(&|time| 0.2 * (-30.0 * (time * 8.0).fract()).exp(), 0.0)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_noises_are_unlike_and_within_range() {
        let noises = noises();
        assert_eq!(noises.len(), 3);
        for noise in &noises {
            assert!(noise.len() >= SHORTEST && noise.iter().all(|sample| sample.abs() < 0.5));
            assert!(noise.iter().map(|sample| sample * sample).sum::<f32>() / noise.len() as f32 > 1e-5);
        }
        assert_ne!(noises[0], noises[1]);
    }

    #[test]
    fn a_folder_without_the_model_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let told = Moonshine::open(folder.path()).err().unwrap().to_string();
        assert!(told.starts_with(&folder.path().join("tokenizer.bin").display().to_string()), "{told}");
    }
}
