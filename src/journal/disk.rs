//! Files of a job's folder: their names, and how each comes onto disk so that a power cut leaves the old or the new.

use super::JournalError;
use crate::files;
use crate::job::At;
use sha2::{Digest, Sha256};
use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

pub(super) const PROCEDURE: &str = "procedure.toml";
pub(super) const JOURNAL: &str = "journal.jsonl";
const LOCK: &str = "lock";

/// Keeps lines that are dropped beside the journal, under a name that nothing else has.
pub(super) fn set_aside(path: &Path, kind: &str, line: usize, bytes: &[u8]) -> Result<PathBuf, JournalError> {
    let mut n = 1u32;
    loop {
        let aside = path.join(match n {
            1 => format!("{kind}.dropped-{line}.jsonl"),
            _ => format!("{kind}.dropped-{line}-{n}.jsonl"),
        });
        match write_synced(&aside, bytes) {
            Ok(()) => {
                sync_folder(path)?;
                return Ok(aside);
            }
            Err(JournalError::Io { source, .. }) if source.kind() == std::io::ErrorKind::AlreadyExists => n += 1,
            Err(e) => return Err(e),
        }
    }
}

/// The names in a folder are on disk only once the folder is.
pub(super) fn sync_folder(dir: &Path) -> Result<(), JournalError> {
    File::open(dir).and_then(|d| d.sync_all()).map_err(JournalError::io(dir, "cannot flush the folder"))
}

pub(super) fn new_folder(root: &Path, id: &str, at: At) -> Result<PathBuf, JournalError> {
    // The day that the user's own clock shows, which near midnight is another one than far away.
    let day = jiff::Timestamp::from_millisecond(at.0)
        .map(|t| t.to_zoned_datetime(jiff::tz::TimeZone::system()).strftime("%Y-%m-%d").to_string())
        .unwrap_or_else(|_| "undated".into());
    let mut n = 1u32;
    loop {
        let path = root.join(if n == 1 { format!("{id}-{day}") } else { format!("{id}-{day}-{n}") });
        match files::make_private_folder(&path) {
            Ok(()) => return Ok(path),
            Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => n += 1,
            Err(e) => return Err(JournalError::io(path, "cannot make the job's folder")(e)),
        }
    }
}

pub(super) fn lock(path: &Path) -> Result<File, JournalError> {
    let file = path.join(LOCK);
    let lock = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&file)
        .map_err(JournalError::io(&file, "cannot open the lock"))?;
    match lock.try_lock() {
        Ok(()) => Ok(lock),
        Err(fs::TryLockError::WouldBlock) => Err(JournalError::Busy { path: path.to_owned() }),
        Err(fs::TryLockError::Error(e)) => Err(JournalError::io(file, "cannot lock the job")(e)),
    }
}

/// Writes into its lock that this job is the one worked on last. The clock of the machine cannot tell that, for it may
/// be set back. Nothing but the order of a list hangs on it, so a disk that does not take it is no trouble here.
pub(super) fn take_turn(path: &Path, mut lock: &File) {
    let others = path.parent().and_then(|root| fs::read_dir(root).ok()).into_iter().flatten().flatten();
    let last = others.map(|entry| turn(&entry.path())).max().unwrap_or(0);
    let _ = lock.set_len(0).and_then(|()| lock.write_all(format!("{}\n", last.saturating_add(1)).as_bytes()));
}

/// The turn that a job had last; 0 where none is known, as of a job of version 0.1.
pub(super) fn turn(path: &Path) -> u64 {
    files::text(&path.join(LOCK)).ok().and_then(|text| text.trim().parse().ok()).unwrap_or(0)
}

pub(super) fn append_to(file: &Path) -> Result<File, JournalError> {
    OpenOptions::new().append(true).open(file).map_err(JournalError::io(file, "cannot open the journal"))
}

pub(super) fn write_synced(path: &Path, bytes: &[u8]) -> Result<(), JournalError> {
    File::create_new(path)
        .and_then(|mut f| f.write_all(bytes).and_then(|()| f.sync_all()))
        .map_err(JournalError::io(path, "cannot write"))
}

pub(super) fn sha256(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().map(|b| format!("{b:02x}")).collect()
}

pub(super) fn json(path: &Path, error: serde_json::Error) -> JournalError {
    JournalError::io(path.join(JOURNAL), "cannot write a command")(error.into())
}

/// Puts a file that is not there yet in its place, whole.
pub(super) fn put_new(path: &Path, bytes: &[u8]) -> Result<(), JournalError> {
    let mut file = files::unfinished(path).map_err(JournalError::io(path, "cannot write"))?;
    file.write_all(bytes).and_then(|()| file.as_file().sync_all()).map_err(JournalError::io(path, "cannot write"))?;
    file.persist_noclobber(path).map_err(|e| JournalError::io(path, "cannot put the file in its place")(e.error))?;
    Ok(())
}

/// Puts a file in its place whole.
pub(super) fn put(path: &Path, bytes: &[u8]) -> Result<(), JournalError> {
    let mut file = files::unfinished(path).map_err(JournalError::io(path, "cannot write"))?;
    file.write_all(bytes).and_then(|()| file.as_file().sync_all()).map_err(JournalError::io(path, "cannot write"))?;
    file.persist(path).map_err(|e| JournalError::io(path, "cannot put the file in its place")(e.error))?;
    Ok(())
}
