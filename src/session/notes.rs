//! Spoken notes: the stretch of sound from "start note" to its end, kept as a WAV file in the folder of the job.
//!
//! A note ends by its phrase, after a pause, or when it has become very long. The file is on disk, whole, before the
//! note becomes a fact of the job. What the ear heard is not looked at: a note is sound.

use super::{Ear, Talker, Turn};
use crate::files;
use crate::job::{At, Note};
use crate::journal::JournalError;
use crate::listen::{RATE, Utterance};
use crate::speak::wav;
use std::fs::{self, File};
use std::io::{self, Cursor, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Silence that ends a note.
const PAUSE: usize = RATE as usize * 8;
/// The longest note.
const LONGEST: usize = RATE as usize * 300;
/// Sound kept behind the last word when a pause has ended the note.
const AFTER_SPEECH: usize = RATE as usize / 2;

/// The folder of notes, below that of the job.
const FOLDER: &str = "notes";

/// No name that was spoken is larger, in bytes.
const LARGEST: u64 = 1 << 20;

/// The folder of names that were spoken.
const NAMES: &str = "names";

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

/// The same, for an ear at hand, which may learn from what becomes of it.
pub fn hear(talk: &mut dyn Talker, ear: &mut Ear, said: &Utterance, began: At, at: At) -> Result<Turn, JournalError> {
    if let Some(sound) = ear.take_own_words() {
        talk.own_words(sound);
    }
    let (turn, became) = answer(talk, ear.note(), said, began, at)?;
    ear.learn(said, &became);
    Ok(turn)
}

/// Ends a note that has gone on for long enough without a word; `now`: whatever state it is in.
pub fn end(talk: &mut dyn Talker, note: &Recorder, now: bool, at: At) -> Result<Option<Turn>, JournalError> {
    if !talk.is_noting() || !(now || note.is_over()) {
        return Ok(None);
    }
    let sound = note.take().map_or(Vec::new(), |tape| tape.cut(None));
    talk.keep_note(&sound, at).map(Some)
}

/// Writes a note into the folder of a job: whole and flushed under a temporary name, then named.
pub(super) fn write(job: &Path, step: usize, samples: &[i16]) -> Result<Note, JournalError> {
    let file = keep(job, FOLDER, "note", &format!("-step-{}", step + 1), samples, "cannot keep the note")?;
    Ok(Note::Sound { file, milliseconds: milliseconds(samples) })
}

/// The same for a name that was spoken; the file, below the folder of the job.
pub(super) fn write_name(job: &Path, samples: &[i16]) -> Result<String, JournalError> {
    keep(job, NAMES, "name", "", samples, "cannot keep the name")
}

/// A recording that was kept in the folder of a job, as samples.
pub(super) fn read(job: &Path, file: &str) -> Option<Vec<i16>> {
    let bytes = files::inside(job, Path::new(file), LARGEST).ok()?;
    let mut reader = hound::WavReader::new(Cursor::new(bytes)).ok()?;
    let spec = reader.spec();
    let ours = spec.channels == 1 && spec.sample_rate == RATE && spec.bits_per_sample == 16;
    ours.then(|| reader.samples::<i16>().collect::<Result<_, _>>().ok()).flatten()
}

/// How long they are.
pub(super) fn milliseconds(samples: &[i16]) -> u64 {
    samples.len() as u64 * 1000 / u64::from(RATE)
}

fn keep(
    job: &Path,
    kind: &str,
    word: &str,
    ending: &str,
    samples: &[i16],
    doing: &'static str,
) -> Result<String, JournalError> {
    let folder = job.join(kind);
    let io = |path: &Path| {
        let path = path.to_owned();
        move |source: io::Error| JournalError::Io { path, doing, source }
    };
    files::make_private_folders(&folder).map_err(io(&folder))?;
    let (name, path) = free_name(&folder, word, ending);
    let bytes = wav::bytes(RATE, samples).map_err(io(&path))?;
    let mut part = files::unfinished(&path).map_err(io(&path))?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // Somebody's voice.
        part.as_file().set_permissions(fs::Permissions::from_mode(0o600)).map_err(io(&path))?;
    }
    part.write_all(&bytes).and_then(|()| part.as_file().sync_all()).map_err(io(&path))?;
    part.persist(&path).map_err(|e| io(&path)(e.error))?;
    for dir in [&folder, job] {
        File::open(dir).and_then(|d| d.sync_all()).map_err(io(dir))?;
    }
    Ok(format!("{kind}/{name}"))
}

fn free_name(folder: &Path, word: &str, ending: &str) -> (String, PathBuf) {
    let mut n = 1u32;
    loop {
        let begins = format!("{word}-{n:03}");
        let taken = fs::read_dir(folder).into_iter().flatten().flatten().any(|entry| {
            let name = entry.file_name().to_string_lossy().into_owned();
            name.strip_prefix(&begins).is_some_and(|rest| rest.starts_with(['-', '.']))
        });
        if !taken || n == u32::MAX {
            let name = format!("{begins}{ending}.wav");
            let path = folder.join(&name);
            return (name, path);
        }
        n += 1;
    }
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

    #[test]
    fn notes_are_numbered_and_whole() {
        let dir = tempfile::tempdir().expect("a folder");
        for (n, step) in [(1, 0), (2, 6)] {
            let note = write(dir.path(), step, &vec![5; 8_000]).expect("kept");
            let Note::Sound { file, milliseconds } = note else { panic!("a sound") };
            assert_eq!(
                (file.as_str(), milliseconds),
                (format!("notes/note-00{n}-step-{}.wav", step + 1).as_str(), 500)
            );
            let mut back = hound::WavReader::open(dir.path().join(file)).expect("a WAV file");
            assert_eq!(back.samples::<i16>().filter(|s| matches!(s, Ok(5))).count(), 8_000);
        }
        assert_eq!(fs::read_dir(dir.path().join("notes")).expect("notes").count(), 2);
    }
}
