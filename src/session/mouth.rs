//! Says a turn: its tone, then its sentences clause by clause, each serious one behind the tone of its signal word.
//!
//! Knows a voice and a place for samples. Leaves the words to `dialogue`, and whether to go on to whoever asks.

use super::Delivery;
use crate::dialogue::Sentence;
use crate::procedure::Signal;
use crate::resample;
use crate::speak::sentence::{self, GAP};
use crate::speak::{CachedVoice, Sink, SpeakError, Tone, Voice};
use std::ops::ControlFlow;
use std::time::{Duration, Instant};

/// Room for about ten minutes of speech at 22,050 samples a second, four bytes each.
const REMEMBERED: usize = 50 << 20;

/// What is to be said.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// A tone first.
    pub tone: Option<Tone>,
    /// Then these.
    pub sentences: Vec<Sentence>,
    /// How.
    pub delivery: Delivery,
}

/// A voice with its memory, and the tones.
pub struct Mouth {
    voice: CachedVoice,
    tones: bool,
}

impl Mouth {
    /// A mouth with this voice; `name` tells voices apart in the memory of what was said before.
    pub fn new(voice: Box<dyn Voice>, name: &str, tones: bool) -> Mouth {
        Mouth { voice: CachedVoice::new(voice, name, REMEMBERED), tones }
    }

    /// Says an order for as long as `wanted`. Returns how long it took until the first sample was handed on; `None`
    /// if there was nothing to say.
    pub fn say(
        &mut self,
        order: &Order,
        sink: &mut dyn Sink,
        wanted: &dyn Fn() -> bool,
    ) -> Result<Option<Duration>, SpeakError> {
        let began = Instant::now();
        let (from, to) = (self.voice.rate(), sink.rate());
        let mut first = None;
        let mut play = |sink: &mut dyn Sink, mut samples: Vec<f32>, gain: f32| -> Result<(), SpeakError> {
            sentence::limit(&mut samples, gain);
            first.get_or_insert_with(|| began.elapsed());
            Ok(sink.play(&samples)?)
        };
        if let Some(tone) = order.tone.filter(|_| self.tones) {
            play(sink, tone.samples(to), order.delivery.gain)?;
        }
        for (i, sentence) in order.sentences.iter().enumerate() {
            if !wanted() {
                break;
            }
            if let Some(tone) = sentence.signal.map(signal_tone).filter(|_| self.tones) {
                play(sink, tone.samples(to), order.delivery.gain)?;
            }
            let mut failed = None;
            let flow =
                sentence::say_sentence(&mut self.voice, &sentence.spoken, order.delivery.pace, GAP, &mut |clause| {
                    if !wanted() {
                        return ControlFlow::Break(());
                    }
                    let played = resample::convert(&clause, from, to)
                        .map_err(SpeakError::from)
                        .and_then(|samples| play(sink, samples, order.delivery.gain));
                    match played {
                        Ok(()) => ControlFlow::Continue(()),
                        Err(error) => {
                            failed = Some(error);
                            ControlFlow::Break(())
                        }
                    }
                })?;
            if let Some(error) = failed {
                return Err(error);
            }
            if flow.is_continue() && i + 1 < order.sentences.len() {
                let pause = (GAP.as_secs_f32() * to as f32 / order.delivery.pace) as usize;
                sink.play(&vec![0.0; pause])?;
            }
        }
        Ok(first)
    }

    /// Makes about one clause of `texts` that is not remembered yet; `true` once all of them are.
    pub fn prepare<'a>(&mut self, texts: impl IntoIterator<Item = &'a str>, pace: f32) -> Result<bool, SpeakError> {
        for text in texts {
            if !self.voice.prepare(text, pace)? {
                return Ok(false);
            }
        }
        Ok(true)
    }
}

fn signal_tone(signal: Signal) -> Tone {
    match signal {
        Signal::Note => Tone::Note,
        Signal::Caution => Tone::Caution,
        Signal::Warning => Tone::Warning,
        Signal::Danger => Tone::Danger,
    }
}
