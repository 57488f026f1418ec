//! The two halves of the second listener's network, run by ONNX Runtime.
//!
//! Knows the names and shapes of the tiny English model's inputs. Leaves it to `trie` which tokens are tried.

use std::borrow::Cow;
use std::path::Path;

use ort::memory::Allocator;
use ort::session::{Session, SessionInputValue, SessionOutputs};
use ort::value::{Tensor, TensorRef};

use super::trie::{BEAM, Model};
use crate::listen::ListenError;
use crate::onnx::{self, Mapped};

/// Beside the first listener, steady is worth more than fast.
pub(super) const THREADS: usize = 1;
const LAYERS: usize = 6;
const HEADS: usize = 8;
const WIDTH: usize = 36;
pub(super) const STATE: usize = 288;
/// Less sound than this the encoder cannot take.
pub(super) const SHORTEST: usize = 895;

/// The two halves, as their files are called.
pub(super) const FILES: [&str; 2] = ["encoder_model.ort", "decoder_model_merged.ort"];

/// The network.
pub(super) struct Network {
    encoder: Mapped,
    decoder: Mapped,
}

/// What the encoder made of a sound: `frames` states, each [`STATE`] wide.
pub(super) struct Encoded {
    pub(super) samples: usize,
    pub(super) frames: usize,
    pub(super) states: Vec<f32>,
}

impl Network {
    /// Loads both halves from a folder. [`onnx::load`] must have succeeded before.
    pub(super) fn open(folder: &Path) -> Result<Self, ListenError> {
        let [encoder, path] = FILES.map(|name| folder.join(name));
        let encoder = onnx::mapped(&encoder, THREADS)?;
        let decoder = onnx::mapped(&path, THREADS)?;
        let has = |layer: usize| {
            let name = past(layer, "decoder", "key");
            decoder.inputs().iter().any(|input| input.name() == name)
        };
        if !has(LAYERS - 1) || has(LAYERS) {
            return Err(ListenError::model(&path, "this is not the decoder of the tiny English model"));
        }
        Ok(Self { encoder, decoder })
    }

    /// Encodes at least [`SHORTEST`] samples of -1 to 1.
    pub(super) fn encode(&mut self, samples: &[f32]) -> ort::Result<Encoded> {
        let ones = vec![1i64; samples.len()];
        let outputs = self.encoder.run(ort::inputs![
            "input_values" => TensorRef::from_array_view(([1, samples.len()], samples))?,
            "attention_mask" => TensorRef::from_array_view(([1, samples.len()], &ones[..]))?,
        ])?;
        // Its only output, under a name that depends on how it was made.
        let output = outputs.values().next().ok_or_else(|| ort::Error::new("the encoder gives nothing"))?;
        let (_, states) = output.try_extract_tensor::<f32>()?;
        if states.is_empty() || !states.len().is_multiple_of(STATE) {
            return Err(ort::Error::new("the encoder's states are not of the tiny model's width"));
        }
        Ok(Encoded { samples: samples.len(), frames: states.len() / STATE, states: states.to_vec() })
    }

    /// Begins to write what was encoded, token by token.
    pub(super) fn write<'a>(&'a mut self, heard: &'a Encoded) -> Writer<'a> {
        Writer {
            decoder: &mut self.decoder,
            states: heard.states.repeat(BEAM),
            heard,
            ones: vec![1; heard.samples * BEAM],
            ahead: Vec::new(),
            length: 0,
            own: Vec::new(),
        }
    }

    /// Log probabilities of whole texts, any of `closings` after them included.
    pub(super) fn score(
        &mut self,
        heard: &Encoded,
        begin: u32,
        texts: &[&[u32]],
        closings: &[u32],
    ) -> ort::Result<Vec<f32>> {
        let rows = texts.len();
        let length = texts.iter().map(|text| text.len()).max().unwrap_or(0) + 1;
        // What comes after a text does not change it, so shorter ones are filled up with anything.
        let mut ids = vec![i64::from(begin); rows * length];
        for (row, text) in texts.iter().enumerate() {
            for (at, &token) in text.iter().enumerate() {
                ids[row * length + at + 1] = token.into();
            }
        }
        let states = heard.states.repeat(rows);
        let ones = vec![1i64; heard.samples * rows];
        let mut inputs = common(heard, rows, length, &ids, &states, &ones)?;
        let first = [false];
        inputs.push(("use_cache_branch".into(), TensorRef::from_array_view(([1], &first[..]))?.into()));
        no_past(&mut inputs, rows)?;
        let outputs = self.decoder.run(inputs)?;
        let logits = floats(&outputs, "logits")?;
        let width = logits.len() / (rows * length).max(1);
        let row = |text: usize, at: usize| {
            let start = (text * length + at) * width;
            logits.get(start..start + width).unwrap_or_default()
        };
        Ok(texts
            .iter()
            .enumerate()
            .map(|(number, text)| {
                let said: f32 = text.iter().enumerate().map(|(at, &token)| log_of(row(number, at), &[token])).sum();
                said + log_of(row(number, text.len()), closings)
            })
            .collect())
    }
}

/// A text being written in several ways at a time.
pub(super) struct Writer<'a> {
    decoder: &'a mut Session,
    heard: &'a Encoded,
    /// The encoder's states and its mask, once for each way; as many as needed are taken.
    states: Vec<f32>,
    ones: Vec<i64>,
    /// Keys and values of what was heard, likewise, for each layer. Made by the first call.
    ahead: Vec<[Vec<f32>; 2]>,
    /// Tokens written so far, the beginning included.
    length: usize,
    /// Keys and values of what was written, for each layer, all ways one after the other.
    own: Vec<[Vec<f32>; 2]>,
}

impl Model for Writer<'_> {
    type Error = ort::Error;

    fn next(&mut self, from: &[(usize, u32)]) -> ort::Result<Vec<Vec<f32>>> {
        let rows = from.len();
        let ids: Vec<i64> = from.iter().map(|&(_, token)| token.into()).collect();
        let block = HEADS * self.length * WIDTH;
        // Each way goes on from one of the last ones, so its past is copied from there.
        let pasts: Vec<[Vec<f32>; 2]> = self
            .own
            .iter()
            .map(|both| {
                both.each_ref()
                    .map(|past| from.iter().flat_map(|&(row, _)| &past[row * block..][..block]).copied().collect())
            })
            .collect();
        let mut inputs = common(self.heard, rows, 1, &ids, &self.states, &self.ones)?;
        let again = [self.length > 0];
        inputs.push(("use_cache_branch".into(), TensorRef::from_array_view(([1], &again[..]))?.into()));
        if self.length == 0 {
            no_past(&mut inputs, rows)?;
        }
        for (layer, (own, ahead)) in pasts.iter().zip(&self.ahead).enumerate() {
            for (which, name) in ["key", "value"].into_iter().enumerate() {
                let shape = [rows, HEADS, self.length, WIDTH];
                inputs.push((
                    past(layer, "decoder", name).into(),
                    TensorRef::from_array_view((shape, &own[which][..]))?.into(),
                ));
                let each = ahead[which].len() / BEAM;
                let shape = [rows, HEADS, each / (HEADS * WIDTH), WIDTH];
                let taken = &ahead[which][..each * rows];
                inputs.push((past(layer, "encoder", name).into(), TensorRef::from_array_view((shape, taken))?.into()));
            }
        }
        let outputs = self.decoder.run(inputs)?;
        let mut own = Vec::with_capacity(LAYERS);
        for layer in 0..LAYERS {
            own.push([
                present(&outputs, layer, "decoder", "key")?.to_vec(),
                present(&outputs, layer, "decoder", "value")?.to_vec(),
            ]);
            if self.length == 0 {
                let ahead = |name| present(&outputs, layer, "encoder", name).map(|past| past.repeat(BEAM));
                self.ahead.push([ahead("key")?, ahead("value")?]);
            }
        }
        let length = self.length + 1;
        if own.iter().flatten().any(|past| past.len() != rows * HEADS * length * WIDTH) {
            return Err(ort::Error::new("the decoder's memory is not of the tiny model's shape"));
        }
        let logits = floats(&outputs, "logits")?;
        let answer = logits.chunks_exact((logits.len() / rows).max(1)).map(log_softmax).collect();
        drop(outputs);
        (self.own, self.length) = (own, length);
        Ok(answer)
    }
}

type Inputs<'a> = Vec<(Cow<'static, str>, SessionInputValue<'a>)>;

/// The inputs that every call of the decoder has, for the first `rows` of `states` and `ones`.
fn common<'a>(
    heard: &Encoded,
    rows: usize,
    length: usize,
    ids: &'a [i64],
    states: &'a [f32],
    ones: &'a [i64],
) -> ort::Result<Inputs<'a>> {
    let states = &states[..rows * heard.frames * STATE];
    let ones = &ones[..rows * heard.samples];
    Ok(vec![
        ("input_ids".into(), TensorRef::from_array_view(([rows, length], ids))?.into()),
        ("encoder_hidden_states".into(), TensorRef::from_array_view(([rows, heard.frames, STATE], states))?.into()),
        ("encoder_attention_mask".into(), TensorRef::from_array_view(([rows, heard.samples], ones))?.into()),
    ])
}

/// The memory of one that has not begun.
fn no_past(inputs: &mut Inputs<'_>, rows: usize) -> ort::Result<()> {
    for layer in 0..LAYERS {
        for side in ["decoder", "encoder"] {
            for name in ["key", "value"] {
                let empty = Tensor::<f32>::new(&Allocator::default(), [rows, HEADS, 0, WIDTH])?;
                inputs.push((past(layer, side, name).into(), empty.into()));
            }
        }
    }
    Ok(())
}

fn past(layer: usize, side: &str, name: &str) -> String {
    format!("past_key_values.{layer}.{side}.{name}")
}

fn present<'o>(outputs: &'o SessionOutputs<'_>, layer: usize, side: &str, name: &str) -> ort::Result<&'o [f32]> {
    floats(outputs, &format!("present.{layer}.{side}.{name}"))
}

fn floats<'o>(outputs: &'o SessionOutputs<'_>, name: &str) -> ort::Result<&'o [f32]> {
    let output = outputs.get(name).ok_or_else(|| ort::Error::new(format!("the model gives no {name}")))?;
    Ok(output.try_extract_tensor::<f32>()?.1)
}

/// Log of the sum of all probabilities before they are made to add up to one.
fn log_total(logits: &[f32]) -> f32 {
    let most = logits.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    most + logits.iter().map(|logit| (logit - most).exp()).sum::<f32>().ln()
}

fn log_softmax(logits: &[f32]) -> Vec<f32> {
    let total = log_total(logits);
    logits.iter().map(|logit| logit - total).collect()
}

/// Log probability that one of `tokens` comes next.
fn log_of(logits: &[f32], tokens: &[u32]) -> f32 {
    let total = log_total(logits);
    let sum: f32 =
        tokens.iter().filter_map(|&token| logits.get(token as usize)).map(|logit| (logit - total).exp()).sum();
    sum.ln()
}
