//! Says a turn: its tone, then its sentences clause by clause, each serious one behind the tone of its signal word.
//!
//! Knows a voice and a place for samples. Leaves the words to `dialogue`, and whether to go on to whoever asks.

use super::Delivery;
use crate::dialogue::{Sentence, recorded};
use crate::listen::RATE;
use crate::procedure::Signal;
use crate::resample;
use crate::speak::clauses::clauses;
use crate::speak::sentence::{self, GAP};
use crate::speak::{CachedVoice, Sink, SpeakError, Tone, Voice, loudness};
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Room for about six minutes of speech at 22,050 samples a second, two bytes each.
const REMEMBERED: usize = 16 << 20;

/// Recordings that are played where a letter stands for them in what is spoken.
pub type Recordings = Arc<BTreeMap<usize, Arc<[i16]>>>;

/// What is to be said.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Order {
    /// A tone first.
    pub tone: Option<Tone>,
    /// Then these.
    pub sentences: Vec<Sentence>,
    /// How.
    pub delivery: Delivery,
    /// Names that the user has spoken.
    pub recordings: Recordings,
}

/// How soon an order was begun, from the moment it was given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Begun {
    /// The first sample was handed on, be it of a tone.
    pub sound: Duration,
    /// The first sample of speech was handed on; `None` if nothing is spoken.
    pub speech: Option<Duration>,
    /// The first clause had been made before.
    pub foreseen: bool,
}

/// A voice with its memory, and the tones.
pub struct Mouth {
    voice: CachedVoice,
    tones: bool,
    pause: Duration,
}

impl Mouth {
    /// A mouth with this voice; `name` tells voices apart in the memory of what was said before.
    pub fn new(voice: Box<dyn Voice>, name: &str, tones: bool) -> Mouth {
        Mouth { voice: CachedVoice::new(voice, name, REMEMBERED), tones, pause: GAP }
    }

    /// Changes the pause between two sentences; between the parts of one it is half as long.
    pub fn set_pause(&mut self, pause: Duration) {
        self.pause = pause;
    }

    /// Says an order for as long as `wanted`. `None` if there was nothing to say.
    pub fn say(
        &mut self,
        order: &Order,
        sink: &mut dyn Sink,
        wanted: &dyn Fn() -> bool,
    ) -> Result<Option<Begun>, SpeakError> {
        let began = Instant::now();
        let (from, to, pause) = (self.voice.rate(), sink.rate(), self.pause);
        let first_clause = order.sentences.first().and_then(|s| clauses(&s.spoken).next());
        let pace = order.delivery.pace;
        let foreseen = first_clause.is_some_and(|clause| self.voice.knows(&clause.to_text(), pace));
        let (mut first, mut speech) = (None, None);
        let mut play = |sink: &mut dyn Sink, mut samples: Vec<f32>, gain: f32| -> Result<(), SpeakError> {
            sentence::limit(&mut samples, gain);
            first.get_or_insert_with(|| began.elapsed());
            sink.play(&samples)
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
            let mut flow = ControlFlow::Continue(());
            for piece in pieces(&sentence.spoken) {
                if !wanted() {
                    break;
                }
                let text = match piece {
                    Piece::Text(text) => text,
                    Piece::Recorded(id) => {
                        let Some(recording) = order.recordings.get(&id) else { continue };
                        let samples = played(recording, to)?;
                        play(sink, samples, order.delivery.gain)?;
                        speech.get_or_insert_with(|| began.elapsed());
                        continue;
                    }
                };
                flow = sentence::say_sentence(&mut self.voice, text, order.delivery.pace, pause, &mut |clause| {
                    if !wanted() {
                        return ControlFlow::Break(());
                    }
                    let played = resample::convert(&clause, from, to)
                        .map_err(SpeakError::from)
                        .and_then(|samples| play(sink, samples, order.delivery.gain));
                    speech.get_or_insert_with(|| began.elapsed());
                    match played {
                        Ok(()) => ControlFlow::Continue(()),
                        Err(error) => {
                            failed = Some(error);
                            ControlFlow::Break(())
                        }
                    }
                })?;
                if failed.is_some() || flow.is_break() {
                    break;
                }
            }
            if let Some(error) = failed {
                return Err(error);
            }
            if flow.is_continue() && i + 1 < order.sentences.len() {
                let silence = (pause.as_secs_f32() * to as f32 / order.delivery.pace) as usize;
                sink.play(&vec![0.0; silence])?;
            }
        }
        Ok(first.map(|sound| Begun { sound, speech, foreseen }))
    }

    /// Makes about one clause of `texts` that is not remembered yet; `true` once all of them are. The first clause of
    /// each comes before the rest of any, because while one is heard there is time for the next.
    pub fn prepare(&mut self, texts: &[String], pace: f32) -> Result<bool, SpeakError> {
        for text in texts {
            let Some(first) = clauses(text).next().map(|clause| clause.to_text()) else { continue };
            if !self.voice.knows(&first, pace) {
                return self.voice.prepare(&first, pace).map(|_| false);
            }
        }
        for text in texts {
            if !self.voice.prepare(text, pace)? {
                return Ok(false);
            }
        }
        Ok(true)
    }
}

/// A part of what is spoken.
enum Piece<'a> {
    Text(&'a str),
    /// The recording of this number.
    Recorded(usize),
}

/// What is spoken, cut where recordings stand in it.
fn pieces(text: &str) -> Vec<Piece<'_>> {
    let (mut all, mut from) = (Vec::new(), 0);
    for (at, letter) in text.char_indices() {
        if let Some(id) = recorded(letter) {
            all.extend([Piece::Text(&text[from..at]), Piece::Recorded(id)]);
            from = at + letter.len_utf8();
        }
    }
    all.push(Piece::Text(&text[from..]));
    all
}

/// A recording as loud as the voice, and at its rate, with a short pause behind it.
fn played(recording: &[i16], rate: u32) -> Result<Vec<f32>, SpeakError> {
    let mut samples: Vec<f32> = recording.iter().map(|&sample| f32::from(sample) / 32_768.0).collect();
    loudness::even(&mut samples, RATE);
    sentence::limit(&mut samples, 1.0);
    let mut samples = resample::convert(&samples, RATE, rate)?;
    samples.resize(samples.len() + (GAP.as_secs_f32() * rate as f32) as usize, 0.0);
    Ok(samples)
}

fn signal_tone(signal: Signal) -> Tone {
    match signal {
        Signal::Note => Tone::Note,
        Signal::Caution => Tone::Caution,
        Signal::Warning => Tone::Warning,
        Signal::Danger => Tone::Danger,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dialogue;

    /// Says everything as 100 ms of the same loudness.
    struct Hum;

    impl Voice for Hum {
        fn rate(&self) -> u32 {
            8_000
        }
        fn say(&mut self, _text: &str, _pace: f32) -> Result<Vec<f32>, SpeakError> {
            Ok(vec![0.1; 800])
        }
    }

    struct Ear(Vec<f32>);

    impl Sink for Ear {
        fn rate(&self) -> u32 {
            8_000
        }
        fn play(&mut self, samples: &[f32]) -> Result<(), SpeakError> {
            self.0.extend_from_slice(samples);
            Ok(())
        }
        fn stop(&mut self) {}
        fn is_playing(&self) -> bool {
            false
        }
    }

    fn order(text: &str, signal: Option<Signal>, tone: Option<Tone>) -> Order {
        let tone_of_sentence = dialogue::Tone::Plain;
        let sentence = Sentence { spoken: text.into(), written: text.into(), signal, tone: tone_of_sentence };
        Order { tone, sentences: vec![sentence], ..Order::default() }
    }

    fn length(mouth: &mut Mouth, order: &Order) -> usize {
        let mut ear = Ear(Vec::new());
        mouth.say(order, &mut ear, &|| true).unwrap();
        ear.0.len()
    }

    #[test]
    fn tones_stand_before_what_they_belong_to_and_can_be_left_out() {
        let warning = order("Mind the gap.", Some(Signal::Warning), Some(Tone::Recorded));
        let tones = Tone::Recorded.samples(8_000).len() + Tone::Warning.samples(8_000).len();
        assert_eq!(length(&mut Mouth::new(Box::new(Hum), "hum", true), &warning), tones + 800);
        assert_eq!(length(&mut Mouth::new(Box::new(Hum), "hum", false), &warning), 800);
    }

    #[test]
    fn the_pause_is_what_it_was_set_to() {
        let mut mouth = Mouth::new(Box::new(Hum), "hum", true);
        let two = order("One. Two.", None, None);
        let usual = length(&mut mouth, &two);
        mouth.set_pause(GAP + Duration::from_millis(250));
        assert_eq!(length(&mut mouth, &two), usual + 2_000);
    }

    #[test]
    fn what_was_foreseen_is_told_from_what_was_not() {
        let mut mouth = Mouth::new(Box::new(Hum), "hum", false);
        let two = order("One. Two.", None, None);
        let begun = |mouth: &mut Mouth| mouth.say(&two, &mut Ear(Vec::new()), &|| true).unwrap().unwrap();
        assert!(!begun(&mut mouth).foreseen);
        assert!(begun(&mut mouth).foreseen);
        let mut fresh = Mouth::new(Box::new(Hum), "hum", false);
        // The first clause of every text comes before the second of any.
        let texts = ["One. Two.".to_owned(), "Three. Four.".to_owned()];
        assert!(!fresh.prepare(&texts, 1.0).unwrap() && !fresh.prepare(&texts, 1.0).unwrap());
        assert!(fresh.voice.knows("One.", 1.0) && fresh.voice.knows("Three.", 1.0) && !fresh.voice.knows("Two.", 1.0));
    }

    #[test]
    fn nothing_is_said_that_is_no_longer_wanted() {
        let mut ear = Ear(Vec::new());
        let mut mouth = Mouth::new(Box::new(Hum), "hum", false);
        assert_eq!(mouth.say(&order("One. Two.", None, None), &mut ear, &|| false).unwrap(), None);
        assert!(ear.0.is_empty());
    }
}
