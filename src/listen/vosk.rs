//! The first listener: vosk with a grammar made at run time. Says early what and, by its silence, when.
//!
//! Knows libvosk's traps, each of which would end the process or drop words silently: an empty list, a quote in a
//! phrase, a word the model lacks, a damaged model file, a grammar changed in mid-utterance. All are kept from it here. A phrase
//! with a word that the model lacks is refused if it means something; if it stands only against others, it is left out.
//! Leaves it to others to decide whether what was heard is good enough.

use std::collections::HashMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Once;

use vosk::{CompleteResult, DecodingState, LogLevel, Model, Recognizer};

use super::joined::{self, UNKNOWN};
use super::{Harm, ListenError, Phrase, RATE, Recogniser, Word, model_files, phrases, text};

/// vosk, with its model.
pub struct VoskRecogniser {
    // Before the model, because it is dropped in this order.
    recogniser: Option<Recognizer>,
    model: Model,
    /// Words asked for so far, and whether the model has them.
    known: HashMap<String, bool>,
    /// Runs of words asked for so far, and whether the model has them as one.
    joined: HashMap<String, bool>,
    /// Whether sounds that are no words can be heard as such.
    has_unknown: bool,
    dither: Dither,
    /// What vosk has closed by itself in the utterance so far, on a pause that was too short for ours.
    closed: Vec<Word>,
    /// Samples that it has had since it was made, and how many of them were before this utterance: vosk goes on counting.
    had: usize,
    before: usize,
}

impl VoskRecogniser {
    /// Loads the model in `folder`, having checked that it is whole.
    pub fn open(folder: &Path) -> Result<Self, ListenError> {
        model_files::check(folder)?;
        Self::load(folder)
    }

    /// Loads a model that somebody else has found to be whole.
    pub(super) fn load(folder: &Path) -> Result<Self, ListenError> {
        static QUIET: Once = Once::new();
        // It writes to standard error, which belongs to the program's own messages.
        QUIET.call_once(|| vosk::set_log_level(LogLevel::Error));
        let name = folder.to_str().ok_or_else(|| ListenError::model(folder, "the recogniser needs a path in UTF-8"))?;
        let mut model =
            Model::new(name).ok_or_else(|| ListenError::model(folder, "the recogniser cannot load this model"))?;
        let has_unknown = model.find_word(UNKNOWN).is_some();
        Ok(Self {
            recogniser: None,
            model,
            known: HashMap::new(),
            joined: HashMap::new(),
            has_unknown,
            dither: Dither::new(),
            closed: Vec::new(),
            had: 0,
            before: 0,
        })
    }

    /// Words of these phrases that the model lacks, each once, in the order of the phrases.
    pub fn unknown_words(&mut self, phrases: &[Phrase]) -> Vec<String> {
        let mut unknown = Vec::new();
        for word in phrases.iter().flat_map(|phrase| phrase.text.split_whitespace()) {
            if !self.knows(word) && !unknown.iter().any(|seen| seen == word) {
                unknown.push(word.to_owned());
            }
        }
        unknown
    }

    fn knows(&mut self, word: &str) -> bool {
        if let Some(&known) = self.known.get(word) {
            return known;
        }
        let known = has_word(&mut self.model, word);
        self.known.insert(word.to_owned(), known);
        known
    }

    /// The lines of the grammar for these phrases: joined words where the model has them.
    fn grammar(&mut self, phrases: &[&Phrase]) -> Vec<String> {
        let (model, seen) = (&mut self.model, &mut self.joined);
        let mut lines = joined::grammar(phrases, |run| {
            if let Some(&has) = seen.get(run) {
                return has;
            }
            let word = joined::joined(run);
            let has = has_word(model, &word) && has_word(model, &joined::broken_off(&word));
            seen.insert(run.to_owned(), has);
            has
        });
        if self.has_unknown {
            lines.push(UNKNOWN.to_owned());
        }
        lines
    }

    fn running(&mut self) -> Result<&mut Recognizer, ListenError> {
        self.recogniser.as_mut().ok_or(ListenError::NoPhrases)
    }
}

impl Recogniser for VoskRecogniser {
    fn listen_for(&mut self, phrases: &[Phrase]) -> Result<(), ListenError> {
        phrases::check(phrases)?;
        let mut heard = Vec::with_capacity(phrases.len());
        for phrase in phrases {
            match phrase.text.split(' ').find(|word| !self.knows(word)) {
                None => heard.push(phrase),
                Some(_) if phrase.harm == Harm::Decoy => {}
                Some(word) => {
                    return Err(ListenError::UnknownWord { phrase: phrase.text.clone(), word: word.to_owned() });
                }
            }
        }
        let grammar = self.grammar(&heard);
        let grammar: Vec<&str> = grammar.iter().map(String::as_str).collect();
        // A new one each time: changing the old one in mid-utterance crashes.
        let mut recogniser = Recognizer::new_with_grammar(&self.model, RATE as f32, &grammar)
            .ok_or_else(|| engine("it did not take the phrases"))?;
        recogniser.set_words(true);
        self.recogniser = Some(recogniser);
        self.dither = Dither::new();
        self.closed.clear();
        (self.had, self.before) = (0, 0);
        Ok(())
    }

    fn accept(&mut self, chunk: &[i16]) -> Result<String, ListenError> {
        let chunk = self.dither.add(chunk);
        let before = self.before;
        let recogniser = self.running()?;
        let state = recogniser.accept_waveform(&chunk).map_err(|e| engine(&e.to_string()))?;
        let now = match state {
            DecodingState::Running => guarded(|| joined::words(recogniser.partial_result().partial))?,
            DecodingState::Finalized => {
                let words = guarded(|| read(recogniser.result(), before))?;
                self.closed.extend(words);
                String::new()
            }
            DecodingState::Failed => return Err(engine("it failed on this sound")),
        };
        self.had += chunk.len();
        let closed = text(&self.closed);
        let space = if closed.is_empty() || now.is_empty() { "" } else { " " };
        Ok(format!("{closed}{space}{now}"))
    }

    fn finish(&mut self) -> Result<Vec<Word>, ListenError> {
        let before = self.before;
        let recogniser = self.running()?;
        // After this vosk begins afresh by itself, with the same phrases.
        let last = guarded(|| read(recogniser.final_result(), before))?;
        self.dither = Dither::new();
        self.before = self.had;
        let mut words = std::mem::take(&mut self.closed);
        words.extend(last);
        Ok(words)
    }
}

fn has_word(model: &mut Model, word: &str) -> bool {
    // Number 0 is the empty word.
    model.find_word(word).is_some_and(|number| number > 0)
}

/// The faintest of noises. In digital silence the model hears badly without, and Kaldi's own is another one each time,
/// so that the same sound would not always be heard in the same way.
struct Dither(u32);

impl Dither {
    fn new() -> Self {
        Self(1)
    }

    fn add(&mut self, chunk: &[i16]) -> Vec<i16> {
        let mut noisy = |&sample: &i16| {
            self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            // Of four bits as many as are set: from -2 to 2, one in the root of the mean square.
            sample.saturating_add((self.0 >> 28).count_ones() as i16 - 2)
        };
        chunk.iter().map(&mut noisy).collect()
    }
}

/// The words of a result, with their samples counted from `before`.
fn read(result: CompleteResult, before: usize) -> Vec<Word> {
    let sample = |seconds: f32| ((f64::from(seconds) * f64::from(RATE)) as usize).saturating_sub(before);
    // The other kind comes only when alternatives are asked for.
    let words = result.single().map(|result| result.result).unwrap_or_default();
    let word = |word: vosk::Word| Word {
        text: joined::words(word.word),
        confidence: word.conf.clamp(0.0, 1.0),
        began: sample(word.start),
        ended: sample(word.end),
    };
    words.into_iter().map(word).collect()
}

/// The binding panics if libvosk writes what is not JSON (it prints numbers without looking at them).
fn guarded<T>(work: impl FnOnce() -> T) -> Result<T, ListenError> {
    catch_unwind(AssertUnwindSafe(work)).map_err(|_| engine("its result cannot be read"))
}

fn engine(reason: &str) -> ListenError {
    ListenError::Engine { engine: "vosk", reason: reason.to_owned() }
}
