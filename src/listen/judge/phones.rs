//! A second listener that judges by phones: a network says for each row of the sound how likely each phone is, and the tree
//! of phrases how likely those make each phrase.
//!
//! Whatever is not judging, moonshine goes on doing: what it writes freely, and the encodings that a learnt voice is made of.
//!
//! Knows one kind of network, by its inputs and outputs, and what the numbers of a [`Judgement`] are by phones:
//!
//! - `average`: log P(phrase) for each of its phones, and one more.
//! - `over_noise`: log P(phrase) - [`anything`], at most [`COST`](super::tree::COST) a phone. There is no noise in it: what
//!   speaks against a phrase is that other phones were heard.
//! - `margin`: log P(phrase) less that of the next phrase that is not written alike, [`ALONE`] at most. Two phrases that sound
//!   alike have none.
//!
//! What its word counts for is for `decide`.

use std::collections::HashSet;
use std::path::Path;
use std::sync::Arc;

use ort::session::Session;
use ort::value::{TensorRef, ValueType};
use sha2::{Digest, Sha256};
use tracing::warn;

use super::kept::Kept;
use super::lexicon::Lexicon;
use super::tree::{Likely, OUTPUTS, PhoneTree, anything};
use super::{ALONE, DIGEST, Moonshine, SHORTEST, THREADS, failed, noises, nothing, spellings};
use crate::files;
use crate::listen::{Encoding, Harm, Judge, Judgement, ListenError, Phrase, Rule, Written};
use crate::onnx;

const INPUT: &str = "sound";
const OUTPUT: &str = "phones";
/// The probabilities of a row may add up to so much more or less than one.
const ROUNDED: f32 = 0.01;

/// Judges by phones, and does the rest by moonshine.
pub struct Phones {
    network: Network,
    lexicon: Arc<Lexicon>,
    trees: Kept<PhoneTree>,
    /// Words that the lexicon lacks, which were told.
    told: HashSet<String>,
    moonshine: Moonshine,
}

impl Phones {
    /// Loads the network in a file. [`crate::onnx::load`] must have succeeded before.
    pub fn open(network: &Path, lexicon: Arc<Lexicon>, moonshine: Moonshine) -> Result<Self, ListenError> {
        let (trees, told) = (Kept::default(), HashSet::new());
        Ok(Self { network: Network::open(network)?, lexicon, trees, told, moonshine })
    }

    /// What tells these files from any others.
    pub(super) fn name(files: &[&Path]) -> Result<String, ListenError> {
        let mut digest = Sha256::new();
        for path in files {
            digest.update(files::read(path, files::DATA).map_err(|e| ListenError::model(path, e.to_string()))?);
        }
        Ok(digest.finalize().iter().take(DIGEST).map(|byte| format!("{byte:02x}")).collect())
    }
}

impl Judge for Phones {
    fn judge(&mut self, samples: &[f32], phrases: &[Phrase]) -> Result<Judgement, ListenError> {
        if samples.len() < SHORTEST {
            return Ok(nothing());
        }
        let (lexicon, told) = (&*self.lexicon, &mut self.told);
        // Whoever named a thing by such a word is heard by the first listener alone.
        let mut plant = |phrases: &[Phrase]| {
            let tree = PhoneTree::new(phrases, lexicon);
            for (phrase, word) in tree.left_out() {
                if phrases[*phrase].harm > Harm::Decoy && told.insert(word.clone()) {
                    warn!(
                        phrase = phrases[*phrase].text,
                        word, "no pronunciation of a word; what has it is not judged"
                    );
                }
            }
            tree
        };
        let rows = self.network.hear(samples).map_err(failed)?;
        let (tree, count) = self.trees.of(phrases, &mut plant);
        let mut likely = tree.likely(&rows);
        if let Some(beside) = phrases.get(count..).filter(|beside| !beside.is_empty()) {
            let beside = plant(beside).likely(&rows);
            likely.extend(beside.into_iter().map(|one| Likely { phrase: one.phrase + count, ..one }));
        }
        Ok(judgement(likely, anything(&rows), phrases))
    }

    fn rule(&self) -> Rule {
        Rule::by_phones().sounding(Some(self.lexicon.clone()))
    }

    fn write(&mut self, samples: &[f32], phrase: &str) -> Result<Option<Written>, ListenError> {
        self.moonshine.write(samples, phrase)
    }

    fn encode(&mut self, samples: &[f32]) -> Result<Option<Encoding>, ListenError> {
        self.moonshine.encode(samples)
    }
}

/// The likeliest phrase, and how it stands to the others and to anything.
fn judgement(mut likely: Vec<Likely>, anything: f32, phrases: &[Phrase]) -> Judgement {
    likely.retain(|one| one.log.is_finite());
    // By number where probabilities are the same, so that the same sound is always judged the same.
    likely.sort_by(|a, b| b.log.total_cmp(&a.log).then(a.phrase.cmp(&b.phrase)));
    let Some((best, others)) = likely.split_first() else { return nothing() };
    let written = spellings(&phrases[best.phrase].text);
    // "One hundred ten" and "one hundred and ten" are one number.
    let alike = |other: &Likely| spellings(&phrases[other.phrase].text).iter().any(|text| written.contains(text));
    let next = others.iter().find(|other| best.log - other.log >= ALONE || !alike(other));
    Judgement {
        best: Some(best.phrase),
        average: best.log / (best.phones + 1) as f32,
        over_noise: best.log - anything,
        margin: next.map_or(ALONE, |next| (best.log - next.log).min(ALONE)),
    }
}

/// The network: a row for each 24 ms of sound (384 samples), with the log probabilities of "nothing new" and of each phone.
struct Network {
    session: Session,
}

impl Network {
    /// Loads it, and makes sure by its own account and by a sound that it is one of phones.
    fn open(path: &Path) -> Result<Self, ListenError> {
        let session = onnx::session(path, THREADS)?;
        let wrong = |reason: String| ListenError::model(path, format!("this is no network of phones: {reason}"));
        let inputs: Vec<&str> = session.inputs().iter().map(|input| input.name()).collect();
        if inputs != [INPUT] {
            return Err(wrong(format!("it wants {inputs:?}, and not {INPUT:?} alone")));
        }
        let Some(output) = session.outputs().iter().find(|output| output.name() == OUTPUT) else {
            let outputs: Vec<&str> = session.outputs().iter().map(|output| output.name()).collect();
            return Err(wrong(format!("it gives {outputs:?}, and not {OUTPUT:?}")));
        };
        if let ValueType::Tensor { shape, .. } = output.dtype()
            && let Some(&width) = shape.last()
            // Below 0 it is not known before it runs.
            && width >= 0
            && width != OUTPUTS as i64
        {
            return Err(wrong(format!("it gives {width} numbers a row, and not {OUTPUTS}")));
        }
        let mut network = Self { session };
        for noise in noises() {
            network.hear(&noise).map_err(|e| wrong(e.to_string()))?;
        }
        Ok(network)
    }

    /// The rows of at least [`SHORTEST`] samples of -1 to 1, one after the other.
    fn hear(&mut self, samples: &[f32]) -> ort::Result<Vec<f32>> {
        let outputs = self.session.run(ort::inputs![
            INPUT => TensorRef::from_array_view(([1, samples.len()], samples))?,
        ])?;
        let output = outputs.get(OUTPUT).ok_or_else(|| ort::Error::new(format!("the model gives no {OUTPUT}")))?;
        let (shape, rows) = output.try_extract_tensor::<f32>()?;
        if !matches!(shape[..], [1, rows, width] if rows > 0 && width == OUTPUTS as i64) {
            return Err(ort::Error::new(format!("it gives {shape:?}, and not [1, rows, {OUTPUTS}]")));
        }
        let adds_up = |sum: &f32| (sum - 1.0).abs() <= ROUNDED;
        let mut sums = rows.chunks_exact(OUTPUTS).map(|row| row.iter().map(|log| log.exp()).sum::<f32>());
        match sums.find(|sum| !adds_up(sum)) {
            Some(sum) => Err(ort::Error::new(format!("a row's probabilities add up to {sum}, and not to 1"))),
            None => Ok(rows.to_vec()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn judged(logs: &[(&str, f32)], anything: f32) -> Judgement {
        let phrases: Vec<Phrase> =
            logs.iter().map(|(text, _)| Phrase { text: (*text).into(), harm: Harm::None }).collect();
        let likely = logs.iter().enumerate().map(|(phrase, &(_, log))| Likely { phrase, phones: 3, log });
        judgement(likely.collect(), anything, &phrases)
    }

    #[test]
    fn the_likeliest_is_set_against_the_next_that_means_something_else() {
        let found = judged(&[("go back", -7.0), ("next step", -2.0), ("yes", -3.5)], -6.0);
        assert_eq!(found, Judgement { best: Some(1), average: -0.5, over_noise: 4.0, margin: 1.5 });
        let alone = judged(&[("yes", -4.0), ("no", f32::NEG_INFINITY)], -1.0);
        assert_eq!(alone, Judgement { best: Some(0), average: -1.0, over_noise: -3.0, margin: ALONE });
        assert_eq!(judged(&[("yes", -4.0), ("no", -400.0)], 0.0).margin, ALONE);
    }

    #[test]
    fn what_is_written_alike_is_no_other_phrase() {
        let numbers = [("one hundred ten", -2.0), ("one hundred and ten", -2.5), ("one hundred and two", -6.0)];
        assert_eq!(judged(&numbers, 0.0).margin, 4.0);
        // What sounds alike and is another thing cannot be told apart.
        let found = judged(&[("to", -2.0), ("two", -2.0)], 0.0);
        assert_eq!((found.best, found.margin), (Some(0), 0.0));
    }

    #[test]
    fn where_no_phrase_can_have_been_said_there_is_none() {
        assert_eq!(judged(&[("yes", f32::NEG_INFINITY)], -1.0), nothing());
        assert_eq!(judged(&[], -1.0), nothing());
    }
}
