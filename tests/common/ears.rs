//! Listeners for sound that needs no model: a word is a stretch of samples of its own height, and the rest is silence.
#![allow(dead_code)] // Each test file uses a part of it.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use wrenchside::listen::{
    Activity, FRAME, Harm, Judge, Judgement, ListenError, Listener, Phrase, RATE, Recogniser, Word,
};

const WORDS: [&str; 6] = ["say", "again", "go", "back", "twice", "hum"];
const STEP: i16 = 1_000;
/// What goes on and says nothing, such as a machine.
pub const HUM: &str = "hum";

/// So many milliseconds of a word; of silence, if it is none.
pub fn sound(word: &str, milliseconds: usize) -> Vec<i16> {
    let height = WORDS.iter().position(|w| *w == word).map_or(0, |at| STEP * (at as i16 + 1));
    vec![height; RATE as usize * milliseconds / 1_000]
}

/// Words of 250 ms each.
pub fn speech(text: &str) -> Vec<i16> {
    text.split(' ').flat_map(|word| sound(word, 250)).collect()
}

fn read(samples: impl IntoIterator<Item = i16>) -> String {
    let mut words: Vec<&str> = Vec::new();
    for sample in samples {
        let word = (sample > 0).then(|| WORDS[(sample / STEP) as usize - 1]).filter(|word| *word != HUM);
        if let Some(word) = word.filter(|word| words.last() != Some(word)) {
            words.push(word);
        }
    }
    words.join(" ")
}

/// Every sound that is not silence is a voice.
pub struct Loud;

impl Activity for Loud {
    fn voice(&mut self, frame: &[i16; FRAME]) -> f32 {
        if frame.iter().any(|&sample| sample != 0) { 0.9 } else { 0.0 }
    }
    fn reset(&mut self) {}
}

/// Reads the words, just as surely as one listener alone must be to be believed.
#[derive(Default)]
pub struct Reader(Vec<i16>);

impl Recogniser for Reader {
    fn listen_for(&mut self, _phrases: &[Phrase]) -> Result<(), ListenError> {
        self.0.clear();
        Ok(())
    }
    fn accept(&mut self, chunk: &[i16]) -> Result<String, ListenError> {
        self.0.extend(chunk);
        Ok(read(self.0.iter().copied()))
    }
    fn finish(&mut self) -> Result<Vec<Word>, ListenError> {
        let ended = self.0.len();
        let text = read(self.0.drain(..));
        Ok(if text.is_empty() { vec![] } else { vec![Word { text, confidence: 0.95, began: 0, ended }] })
    }
}

/// Reads the words as well, and likes what it reads, or likes another phrase, though not enough to believe it. Counts how
/// often it was asked.
pub struct Second {
    pub likes: bool,
    pub asked: Arc<AtomicUsize>,
}

impl Judge for Second {
    fn judge(&mut self, samples: &[f32], phrases: &[Phrase]) -> Result<Judgement, ListenError> {
        self.asked.fetch_add(1, Ordering::Relaxed);
        let text = read(samples.iter().map(|sample| (sample * 32_768.0) as i16));
        if self.likes {
            let best = phrases.iter().position(|phrase| phrase.text == text);
            let (average, over_noise) = if best.is_some() { (-0.1, 30.0) } else { (-9.0, 0.0) };
            return Ok(Judgement { best, average, over_noise, margin: over_noise });
        }
        let best = phrases.iter().position(|phrase| phrase.text != text);
        Ok(Judgement { best, average: -1.5, over_noise: 11.0, margin: 2.5 })
    }
}

/// A listener for "say again", "go back" and "go back twice".
pub fn listener(judge: Option<Box<dyn Judge + Send>>) -> Listener {
    let mut listener = Listener::with_activity(Box::new(Reader::default()), judge, Box::new(Loud));
    let phrases = [("say again", Harm::None), ("go back", Harm::Moves), ("go back twice", Harm::Moves)];
    listener.listen_for(&phrases.map(|(text, harm)| Phrase { text: text.into(), harm })).unwrap();
    listener
}
