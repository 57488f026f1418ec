//! The whole way from sound to utterances: voice activity, the recogniser, endpointing, the second listener, the
//! decision.
//!
//! Deterministic: it works through the sound in frames of its own, so that the same sound gives the same utterances
//! at the same positions whatever pieces it comes in. The only clock it reads measures how long it took to think.

use std::time::Instant;

use tracing::{debug, warn};

use super::activity::{Activity, Earshot, FRAME};
use super::endpoint::{Endpointer, Step};
use super::phrases::PhraseBook;
use super::{Hypothesis, Judge, Judgement, ListenError, Phrase, RATE, Recogniser, Utterance, decide, phrases};

/// Sound kept from before the voice was noticed, and after it had ended: the engines need some room around words.
const ROOM: usize = RATE as usize * 4 / 10;
/// Frames handed to the recogniser at a time.
const BLOCK: usize = 3 * FRAME;

/// Listens for phrases in a stream of sound.
pub struct Listener {
    recogniser: Box<dyn Recogniser + Send>,
    judge: Option<Box<dyn Judge + Send>>,
    activity: Box<dyn Activity + Send>,
    endpointer: Endpointer,
    phrases: Vec<Phrase>,
    book: PhraseBook,
    /// Came in and is not worked through yet; less than a frame, except after an utterance.
    inbox: Vec<i16>,
    /// Samples worked through since the listener began.
    position: u64,
    /// Between utterances the last [`ROOM`] of sound; in one, all of it from [`ROOM`] before it.
    sound: Vec<i16>,
    /// How much of `sound` the recogniser has had.
    fed: usize,
    /// First sample of the voice.
    began: u64,
    words: String,
    /// What went wrong and is mended; to be told.
    troubles: Vec<String>,
}

impl Listener {
    /// A listener that has nothing to listen for yet.
    pub fn new(recogniser: Box<dyn Recogniser + Send>, judge: Option<Box<dyn Judge + Send>>) -> Self {
        Self::with_activity(recogniser, judge, Box::new(Earshot::default()))
    }

    /// The same with another judge of voice activity.
    pub fn with_activity(
        recogniser: Box<dyn Recogniser + Send>,
        judge: Option<Box<dyn Judge + Send>>,
        activity: Box<dyn Activity + Send>,
    ) -> Self {
        Self {
            recogniser,
            judge,
            activity,
            endpointer: Endpointer::default(),
            phrases: Vec::new(),
            book: PhraseBook::default(),
            inbox: Vec::new(),
            position: 0,
            sound: Vec::new(),
            fed: 0,
            began: 0,
            words: String::new(),
            troubles: Vec::new(),
        }
    }

    /// Allows exactly these phrases from now on. In the middle of an utterance its sound so far is heard again with
    /// them, so that nothing is lost to a change of phrases while somebody speaks.
    pub fn listen_for(&mut self, phrases: &[Phrase]) -> Result<(), ListenError> {
        if self.phrases == phrases && !phrases.is_empty() {
            return Ok(());
        }
        phrases::check(phrases)?;
        self.recogniser.listen_for(phrases)?;
        self.phrases = phrases.to_vec();
        self.book = PhraseBook::new(phrases);
        self.words.clear();
        self.fed = 0;
        self.endpointer.words(self.book.progress(""), false);
        if !self.endpointer.speaking() {
            return Ok(());
        }
        self.feed().or_else(|error| self.outlive(error).map(|_| ()))
    }

    /// Takes the next piece of 16 kHz mono sound, of any length. Stops at the end of an utterance; what is left of the
    /// piece is worked through with the next one. To go on at once, push an empty piece until it gives nothing.
    pub fn push(&mut self, chunk: &[i16]) -> Result<Option<Utterance>, ListenError> {
        let started = Instant::now();
        if self.phrases.is_empty() {
            return Err(ListenError::NoPhrases);
        }
        if let Some(judge) = &mut self.judge {
            judge.look()?;
        }
        self.inbox.extend_from_slice(chunk);
        let mut used = 0;
        let mut outcome = Ok(None);
        while let Some(frame) = self.inbox[used..].first_chunk::<FRAME>().copied() {
            used += FRAME;
            outcome = self.frame(&frame, started).or_else(|error| self.outlive(error));
            if !matches!(outcome, Ok(None)) {
                break;
            }
        }
        self.inbox.drain(..used);
        outcome
    }

    /// Ends the sound: gives the utterance that was going on, if any. To be called until it gives nothing.
    pub fn finish(&mut self) -> Result<Option<Utterance>, ListenError> {
        if let Some(utterance) = self.push(&[])? {
            return Ok(Some(utterance));
        }
        let started = Instant::now();
        self.position += self.inbox.len() as u64;
        self.sound.append(&mut self.inbox);
        match self.endpointer.cut() {
            Some(silence) => self.conclude(silence, started).or_else(|error| self.outlive(error)),
            None => Ok(None),
        }
    }

    /// A recogniser that has died of what was being said, twice, and is there again: that is lost, and no more.
    fn outlive(&mut self, error: ListenError) -> Result<Option<Utterance>, ListenError> {
        let ListenError::Died { .. } = error else { return Err(error) };
        warn!("{error}");
        self.troubles.push(error.to_string());
        self.activity.reset();
        self.endpointer = Endpointer::default();
        self.clear();
        Ok(None)
    }

    /// Troubles since the last call that it went on after, each to be told once: something said was lost.
    pub fn troubles(&mut self) -> Vec<String> {
        std::mem::take(&mut self.troubles)
    }

    /// Forgets the sound so far; positions go on counting. For when it was not meant, such as the program's own voice.
    pub fn reset(&mut self) -> Result<(), ListenError> {
        self.position += self.inbox.len() as u64;
        self.inbox.clear();
        self.activity.reset();
        self.endpointer = Endpointer::default();
        self.clear();
        if self.phrases.is_empty() { Ok(()) } else { self.recogniser.listen_for(&self.phrases) }
    }

    /// Whether somebody is speaking, as far as it is known.
    pub fn speaking(&self) -> bool {
        self.endpointer.speaking()
    }

    /// The words of the utterance that goes on; they may still change.
    pub fn words(&self) -> &str {
        &self.words
    }

    /// Samples worked through since the listener began.
    pub fn position(&self) -> u64 {
        self.position
    }

    fn frame(&mut self, frame: &[i16; FRAME], started: Instant) -> Result<Option<Utterance>, ListenError> {
        self.position += FRAME as u64;
        self.sound.extend_from_slice(frame);
        match self.endpointer.frame(self.activity.voice(frame)) {
            Step::Quiet => {
                let surplus = self.sound.len().saturating_sub(ROOM);
                self.sound.drain(..surplus);
                Ok(None)
            }
            Step::Began(ago) => {
                self.began = self.position.saturating_sub(u64::from(ago) * FRAME as u64);
                self.feed()?;
                Ok(None)
            }
            Step::Going => {
                if self.sound.len() - self.fed >= BLOCK {
                    self.feed()?;
                }
                Ok(None)
            }
            Step::Ended(silence) => self.conclude(silence, started),
            Step::Dropped => {
                debug!(at = self.position, "a knock");
                self.clear();
                // The recogniser has had sound of it. If it has died of that, nothing was lost.
                match self.recogniser.finish() {
                    Ok(_) | Err(ListenError::Died { .. }) => Ok(None),
                    Err(error) => Err(error),
                }
            }
        }
    }

    /// Hands to the recogniser what it has not had, and takes note of the words.
    fn feed(&mut self) -> Result<(), ListenError> {
        let words = match self.recogniser.accept(&self.sound[self.fed..]) {
            Err(error @ ListenError::Died { .. }) => {
                // The one in its place has heard nothing yet. If the sound itself is at fault, it dies of it too.
                warn!("{error}");
                self.recogniser.accept(&self.sound)?
            }
            other => other?,
        };
        self.fed = self.sound.len();
        let changed = words != self.words;
        self.words = words;
        self.endpointer.words(self.book.progress(&self.words), changed);
        Ok(())
    }

    /// The utterance is over: what was it? Nothing, if neither listener found words in it.
    fn conclude(&mut self, silence: u32, started: Instant) -> Result<Option<Utterance>, ListenError> {
        let silent = silence as usize * FRAME;
        let heard = match self.last_words() {
            Err(error @ ListenError::Died { .. }) => {
                warn!("{error}");
                self.fed = 0;
                self.last_words()?
            }
            other => other?,
        };
        let ended = self.position.saturating_sub(silent as u64).max(self.began);
        let judged = self.sound.len().saturating_sub(silent.saturating_sub(ROOM));
        let judgement = self.second_opinion(judged)?;
        let phrase = decide::decide(&self.phrases, &heard, judgement.as_ref());
        let nearly = match phrase {
            Some(_) => None,
            None => decide::nearly(&self.phrases, &heard, judgement.as_ref()),
        };
        let text = |at: usize| self.phrases[at].text.clone();
        let utterance = Utterance {
            phrase: phrase.map(text),
            nearly: nearly.map(text),
            heard,
            judgement,
            began: self.began,
            ended,
            decided: self.position,
            thinking: started.elapsed(),
        };
        debug!(?utterance, "utterance");
        self.clear();
        let wordless = utterance.phrase.is_none() && utterance.heard.text.is_empty();
        Ok((!wordless).then_some(utterance))
    }

    fn last_words(&mut self) -> Result<Hypothesis, ListenError> {
        if self.fed < self.sound.len() {
            self.recogniser.accept(&self.sound[self.fed..])?;
        }
        self.recogniser.finish()
    }

    /// Without the second listener's word the decision is stricter, so its failure costs little. One that was promised
    /// and cannot be loaded is another matter: its user counts on it.
    fn second_opinion(&mut self, length: usize) -> Result<Option<Judgement>, ListenError> {
        let Some(judge) = &mut self.judge else { return Ok(None) };
        let samples: Vec<f32> = self.sound[..length].iter().map(|&sample| f32::from(sample) / 32_768.0).collect();
        match judge.judge(&samples, &self.phrases) {
            Ok(judgement) => Ok(Some(judgement)),
            Err(error) => {
                judge.look()?;
                warn!("deciding without the second listener: {error}");
                Ok(None)
            }
        }
    }

    /// Back to silence. What was said must not be heard again as the beginning of the next utterance.
    fn clear(&mut self) {
        self.sound.clear();
        self.words.clear();
        self.fed = 0;
    }
}
