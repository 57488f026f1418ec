//! A source of sound and the listener on it, kept to the phrases of the moment.

use super::Conversation;
use super::notes::NoteTape;
use crate::job::Expect;
use crate::listen::{ListenError, Listener, Microphone, Phrase, RATE, Utterance};
use std::time::{Duration, Instant};

/// Where sound comes from: 16 kHz mono.
pub trait Source {
    /// The sound since the last call, possibly none; `None` once there will be no more.
    fn read(&mut self) -> Result<Option<Vec<i16>>, ListenError>;
    /// Does it come by itself, at the pace of the clock?
    fn is_live(&self) -> bool;
    /// Troubles since the last call that it goes on after, each to be told once.
    fn troubles(&mut self) -> Vec<String> {
        Vec::new()
    }
}

/// How often a dead microphone is tried again.
const RETRY: Duration = Duration::from_secs(3);

/// The microphone. One that dies is told, and opened again as soon as it is back.
pub struct LiveSound {
    device: Option<String>,
    microphone: Option<Microphone>,
    tried: Instant,
    troubles: Vec<String>,
}

impl LiveSound {
    /// The microphone with this name, or the default one. It must open now.
    pub fn open(device: Option<String>) -> Result<LiveSound, ListenError> {
        let microphone = Some(Microphone::open(device.as_deref())?);
        Ok(LiveSound { device, microphone, tried: Instant::now(), troubles: Vec::new() })
    }
}

impl Source for LiveSound {
    fn read(&mut self) -> Result<Option<Vec<i16>>, ListenError> {
        if self.microphone.is_none() && self.tried.elapsed() >= RETRY {
            self.tried = Instant::now();
            self.microphone = Microphone::open(self.device.as_deref()).ok();
            if self.microphone.is_some() {
                self.troubles.push("the microphone works again".into());
            }
        }
        let Some(microphone) = &mut self.microphone else { return Ok(Some(Vec::new())) };
        match microphone.read() {
            Ok(piece) => Ok(Some(piece)),
            Err(error) => {
                let seconds = RETRY.as_secs();
                self.troubles
                    .push(format!("{error}. The job is safe; the microphone is tried again every {seconds} seconds."));
                self.microphone = None;
                self.tried = Instant::now();
                Ok(Some(Vec::new()))
            }
        }
    }

    fn is_live(&self) -> bool {
        true
    }

    fn troubles(&mut self) -> Vec<String> {
        std::mem::take(&mut self.troubles)
    }
}

/// Recorded sound, given in the pieces a microphone would give.
pub struct Recording {
    samples: Vec<i16>,
    at: usize,
}

impl Recording {
    /// A recording of 16 kHz mono samples. A second of silence is added, so that its last word has an end.
    pub fn new(mut samples: Vec<i16>) -> Recording {
        samples.resize(samples.len() + RATE as usize, 0);
        Recording { samples, at: 0 }
    }
}

/// Samples in a piece of recorded sound: 100 ms.
pub const PIECE: usize = RATE as usize / 10;

impl Source for Recording {
    fn read(&mut self) -> Result<Option<Vec<i16>>, ListenError> {
        let rest = &self.samples[self.at..];
        let piece = &rest[..rest.len().min(PIECE)];
        self.at += piece.len();
        Ok((!piece.is_empty()).then(|| piece.to_vec()))
    }

    fn is_live(&self) -> bool {
        false
    }
}

/// A listener that is told what may be said whenever that changes.
pub struct Ear {
    listener: Listener,
    /// What the phrases in force were made for.
    known: Option<(Expect, bool, bool, bool)>,
    /// Samples taken, as the listener counts them.
    taken: u64,
    /// The note being recorded.
    note: Option<NoteTape>,
}

impl Ear {
    /// An ear that knows no phrases yet.
    pub fn new(listener: Listener) -> Ear {
        let taken = listener.position();
        Ear { listener, known: None, taken, note: None }
    }

    /// Listens for what may be said in the conversation now. While the program's own voice reaches the microphone,
    /// `over_voice` leaves only what the voice itself never says.
    pub fn attune(&mut self, talk: &Conversation, over_voice: bool) -> Result<(), ListenError> {
        let (expect, listening) = talk.expects();
        // The program's own voice, telling that the note begins, is no part of it.
        if talk.is_noting() && !over_voice && self.note.is_none() {
            self.note = Some(NoteTape::new(self.taken));
        }
        let known = (expect, listening, over_voice, talk.is_noting());
        if self.known.as_ref() == Some(&known) {
            return Ok(());
        }
        let phrases: Vec<Phrase> = if over_voice { talk.phrases_over_voice() } else { talk.phrases() };
        self.listen_for(phrases)?;
        self.known = Some(known);
        Ok(())
    }

    /// Places are named in the words of the procedure, and a model need not know them all: what it cannot hear is left
    /// to the keyboard. The language's own words are checked by `doctor`.
    fn listen_for(&mut self, mut phrases: Vec<Phrase>) -> Result<(), ListenError> {
        loop {
            match self.listener.listen_for(&phrases) {
                Err(ListenError::UnknownWord { phrase, word }) if phrases.len() > 1 => {
                    tracing::warn!(phrase, word, "the model does not know a word; the phrase is left out");
                    phrases.retain(|p| p.text != phrase);
                }
                other => return other,
            }
        }
    }

    /// Takes a piece of sound; gives an utterance once one is complete. Push an empty piece until there is none.
    pub fn push(&mut self, piece: &[i16]) -> Result<Option<Utterance>, ListenError> {
        let utterance = self.listener.push(piece)?;
        self.taken += piece.len() as u64;
        if let Some(note) = &mut self.note {
            note.lay(piece, utterance.is_some() || self.listener.speaking());
        }
        Ok(utterance)
    }

    /// Has the note gone on for long enough?
    pub fn note_is_over(&self) -> bool {
        self.note.as_ref().is_some_and(NoteTape::is_over)
    }

    /// The note recorded so far; none is recorded any more.
    pub fn take_note(&mut self) -> Option<NoteTape> {
        self.note.take()
    }

    /// Is somebody speaking, as far as it is known?
    pub fn speaking(&self) -> bool {
        self.listener.speaking()
    }

    /// Samples worked through.
    pub fn position(&self) -> u64 {
        self.listener.position()
    }

    /// Forgets the sound so far.
    pub fn reset(&mut self) -> Result<(), ListenError> {
        self.listener.reset()
    }
}
