//! Spoken notes: the stretch of sound from "start note" to its end, kept as a WAV file in the folder of the job.
//!
//! A note ends by its phrase, after a pause, or when it has become very long. The file is on disk, whole, before the
//! note becomes a fact of the job. What the ear heard is not looked at: a note is sound.

use super::{Talker, Turn};
use crate::job::At;
use crate::journal::JournalError;
use crate::listen::{RATE, Utterance};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Silence that ends a note.
const PAUSE: usize = RATE as usize * 8;
/// The longest note.
const LONGEST: usize = RATE as usize * 300;
/// Sound kept behind the last word when a pause has ended the note.
const AFTER_SPEECH: usize = RATE as usize / 2;

/// The sound of a note so far.
#[derive(Debug, Default)]
pub struct NoteTape {
    /// Position of its first sample.
    from: u64,
    samples: Vec<i16>,
    /// How long it was when somebody last spoke; `None` if nobody has yet.
    spoken: Option<usize>,
}

impl NoteTape {
    /// A tape whose first sample has this position.
    pub fn new(from: u64) -> NoteTape {
        NoteTape { from, ..NoteTape::default() }
    }

    /// Lays down a piece; `speaking`: somebody spoke in it.
    pub fn lay(&mut self, piece: &[i16], speaking: bool) {
        self.samples.extend_from_slice(piece);
        if speaking {
            self.spoken = Some(self.samples.len());
        }
    }

    /// Lays down silence up to this position, though no more than makes the note over.
    fn fill(&mut self, until: u64) {
        let length = usize::try_from(until.saturating_sub(self.from)).unwrap_or(usize::MAX);
        self.samples.resize(length.min(LONGEST).max(self.samples.len()), 0);
    }

    /// Has it gone on for long enough without a word, or for too long?
    pub fn is_over(&self) -> bool {
        self.samples.len() - self.spoken.unwrap_or(0) >= PAUSE || self.samples.len() >= LONGEST
    }

    /// The note, up to a position or else to a little behind the last word; empty if nothing was spoken.
    fn cut(mut self, until: Option<u64>) -> Vec<i16> {
        let Some(spoken) = self.spoken else { return Vec::new() };
        let end = match until {
            Some(until) => usize::try_from(until.saturating_sub(self.from)).unwrap_or(usize::MAX),
            None => spoken.saturating_add(AFTER_SPEECH),
        };
        self.samples.truncate(end);
        self.samples
    }
}

/// The note that is being recorded, if one is. The ear lays down its sound and the conversation keeps it, on whatever thread
/// each of them is: nobody holds it for longer than that.
#[derive(Debug, Clone, Default)]
pub struct Recorder(Arc<Mutex<Notes>>);

#[derive(Debug, Default)]
struct Notes {
    tape: Option<NoteTape>,
    /// How many have ended, so that what is still told of one of them does not begin it again.
    ended: u64,
}

impl Recorder {
    /// Begins the note of this number with the sample at this position, unless it is being recorded already or has ended.
    pub fn begin(&self, number: u64, from: u64) {
        let mut notes = self.notes();
        if number == notes.ended {
            notes.tape.get_or_insert_with(|| NoteTape::new(from));
        }
    }

    /// The number of the note that is recorded, or of the next.
    pub fn number(&self) -> u64 {
        self.notes().ended
    }

    /// Lays down a piece; `speaking`: somebody spoke in it.
    pub fn lay(&self, piece: &[i16], speaking: bool) {
        if let Some(tape) = self.notes().tape.as_mut() {
            tape.lay(piece, speaking);
        }
    }

    /// The sound up to this position never came: lays down silence.
    pub fn fill(&self, until: u64) {
        if let Some(tape) = self.notes().tape.as_mut() {
            tape.fill(until);
        }
    }

    /// Has the note gone on for long enough?
    pub fn is_over(&self) -> bool {
        self.notes().tape.as_ref().is_some_and(NoteTape::is_over)
    }

    /// The note recorded so far; none is recorded any more.
    pub fn take(&self) -> Option<NoteTape> {
        let mut notes = self.notes();
        notes.ended += 1;
        notes.tape.take()
    }

    /// No note is recorded: what there may be of one belongs to none.
    pub fn forget(&self) {
        self.notes().tape = None;
    }

    fn notes(&self) -> MutexGuard<'_, Notes> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What became of an utterance, for whoever learns from it.
#[derive(Debug, Clone)]
pub struct Became {
    /// What the conversation made of it.
    pub turn: Turn,
    /// The words that it has confirmed, after they had been asked back.
    pub confirmed: Option<String>,
    /// When that was.
    pub at: At,
}

/// Gives an utterance to the conversation, its first sound at `began`; if a note ended by it, keeps the note.
pub fn answer(
    talk: &mut dyn Talker,
    note: &Recorder,
    said: &Utterance,
    began: At,
    at: At,
) -> Result<(Turn, Became), JournalError> {
    let noting = talk.is_noting();
    let turn = talk.hear(said, began, at)?;
    let became = Became { turn: turn.clone(), confirmed: talk.confirmed().map(str::to_owned), at };
    if !noting || talk.is_noting() {
        return Ok((turn, became));
    }
    let sound = note.take().map_or(Vec::new(), |tape| tape.cut(Some(said.began)));
    let kept = talk.keep_note(&sound, at)?;
    Ok((Turn { meaning: turn.meaning, hush: turn.hush, ..kept }, became))
}

/// Ends a note that has gone on for long enough without a word; `now`: whatever state it is in.
pub fn end(talk: &mut dyn Talker, note: &Recorder, now: bool, at: At) -> Result<Option<Turn>, JournalError> {
    if !talk.is_noting() || !(now || note.is_over()) {
        return Ok(None);
    }
    let sound = note.take().map_or(Vec::new(), |tape| tape.cut(None));
    talk.keep_note(&sound, at).map(Some)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_ends_after_a_pause_and_is_cut_behind_the_last_word() {
        let mut tape = NoteTape::new(500);
        let second = vec![100i16; RATE as usize];
        tape.lay(&second, true);
        for _ in 0..7 {
            tape.lay(&second, false);
        }
        assert!(!tape.is_over());
        tape.lay(&second, false);
        assert!(tape.is_over());
        assert_eq!(tape.cut(None).len(), RATE as usize * 3 / 2);
    }

    #[test]
    fn the_phrase_that_ends_a_note_is_not_in_it() {
        let mut tape = NoteTape::new(500);
        tape.lay(&vec![1; RATE as usize * 3], true);
        assert_eq!(tape.cut(Some(500 + 32_000)).len(), 32_000);
    }

    #[test]
    fn a_note_without_a_word_is_none_and_a_long_one_ends() {
        let mut silent = NoteTape::new(0);
        silent.lay(&vec![0; PAUSE], false);
        assert!(silent.is_over());
        assert!(silent.cut(None).is_empty());
        let mut long = NoteTape::new(0);
        long.lay(&vec![0; LONGEST - 1], true);
        assert!(!long.is_over());
        long.lay(&[0], true);
        assert!(long.is_over());
    }

    #[test]
    fn a_note_that_has_ended_does_not_begin_again() {
        let recorder = Recorder::default();
        let first = recorder.number();
        recorder.begin(first, 0);
        recorder.lay(&[1; 800], true);
        // The same moment, told again while it goes on.
        recorder.begin(first, 400);
        assert_eq!(recorder.take().map(|tape| tape.samples.len()), Some(800));
        recorder.begin(first, 800);
        recorder.lay(&[1; 800], true);
        assert!(recorder.take().is_none());
    }

    #[test]
    fn what_never_came_is_silence_in_a_note_and_no_more_than_ends_it() {
        let mut tape = NoteTape::new(500);
        tape.lay(&[1; 800], true);
        tape.fill(500 + 1_600);
        assert!(tape.samples.len() == 1_600 && !tape.is_over());
        tape.fill(u64::MAX);
        assert!(tape.samples.len() == LONGEST && tape.is_over());
    }
}
