//! Sound that is kept in the folder of a job: notes, and names that were spoken.
//!
//! A file is on disk, whole, before the job hears of it. Leaves to `notes` what is recorded.

use crate::files;
use crate::job::Note;
use crate::journal::JournalError;
use crate::listen::RATE;
use crate::speak::wav;
use std::fs::{self, File};
use std::io::{self, Cursor, Write};
use std::path::{Path, PathBuf};

/// The folder of notes, below that of the job.
const FOLDER: &str = "notes";

/// No name that was spoken is larger, in bytes.
const LARGEST: u64 = 1 << 20;

/// The folder of names that were spoken.
const NAMES: &str = "names";

/// Writes a note into the folder of a job: whole and flushed under a temporary name, then named.
pub(super) fn write_note(job: &Path, step: usize, samples: &[i16]) -> Result<Note, JournalError> {
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
    fn notes_are_numbered_and_whole() {
        let dir = tempfile::tempdir().expect("a folder");
        for (n, step) in [(1, 0), (2, 6)] {
            let note = write_note(dir.path(), step, &vec![5; 8_000]).expect("kept");
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
