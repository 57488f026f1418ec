//! Looking at a job without working on it, for the record and the list.

use super::JournalError;
use super::disk::JOURNAL;
use super::replay::{Broken, Seen, replay};
use crate::files;
use crate::job::{At, Job};
use std::collections::HashMap;
use std::path::Path;

/// What a journal holds.
#[derive(Debug, Clone)]
pub struct Looked {
    /// The job as far as it can be followed.
    pub job: Job,
    /// SHA-256 of its procedure, as it was when the job began.
    pub sha256: String,
    /// When the job was begun.
    pub began: At,
    /// When something was recorded last, of what can be followed.
    pub last: Option<At>,
    /// So many findings of the check would have stopped the job; the user began it all the same.
    pub unchecked: usize,
    /// Where the journal could not be followed further; nothing behind it is in the job.
    pub broken: Option<Broken>,
    /// Moments of sessions in which the machine's clock was set, by the clock as it was set.
    pub put_right: HashMap<At, At>,
}

/// Reads the journal of a job, whether or not another process works on it, and shows each command to `see` as it is
/// replayed. A last line without its end is being written, or was torn; it counts for nothing, as it does for
/// [`super::Folder::open`].
pub fn look(path: &Path, see: &mut dyn FnMut(Seen<'_>)) -> Result<Looked, JournalError> {
    let file = path.join(JOURNAL);
    let bytes = files::read(&file, files::DATA).map_err(JournalError::io(&file, "cannot read the journal"))?;
    let replayed = replay(path, &bytes, see)?;
    Ok(Looked {
        job: replayed.job,
        sha256: replayed.head.sha256,
        began: replayed.head.began,
        last: replayed.last,
        unchecked: replayed.head.unchecked,
        broken: replayed.broken,
        put_right: replayed.put_right,
    })
}
