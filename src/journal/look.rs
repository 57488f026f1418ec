//! Looking at a job without working on it: the commands of its journal, in order, for the record.

use super::JournalError;
use super::folder::{JOURNAL, copy_of_procedure};
use super::line::{self, Fact, Head};
use crate::job::{At, Command};
use crate::procedure::Procedure;
use std::fs;
use std::path::Path;
use std::sync::Arc;

/// What a journal holds.
#[derive(Debug, Clone)]
pub struct Looked {
    /// The copy of the procedure that the job goes by.
    pub book: Arc<Procedure>,
    /// Its SHA-256, as it was when the job began.
    pub sha256: String,
    /// When the job was begun.
    pub began: At,
    /// Every command that changed the job.
    pub commands: Vec<(At, Command)>,
}

/// Reads the journal of a job, whether or not another process works on it. A last line without its end is being
/// written, or was torn; it counts for nothing, as it does for [`super::Folder::open`].
pub fn look(path: &Path) -> Result<Looked, JournalError> {
    let file = path.join(JOURNAL);
    let bytes = fs::read(&file).map_err(JournalError::io(&file, "cannot read the journal"))?;
    let damaged = |line, reason: String| JournalError::Damaged { path: file.clone(), line, reason };
    let whole = bytes.iter().rposition(|&b| b == b'\n').map_or(0, |end| end + 1);
    let text = std::str::from_utf8(&bytes[..whole]).map_err(|_| damaged(1, "it is not text".into()))?;
    let mut lines = text.lines().enumerate();
    let (_, first) = lines.next().ok_or_else(|| damaged(1, "the journal is empty".into()))?;
    let (head, mut sum) = line::read::<Head>(first, 0).map_err(|reason| damaged(1, reason))?;
    if head.format > line::FORMAT {
        return Err(JournalError::Newer { path: file, found: head.format });
    }
    let mut commands = Vec::new();
    for (n, text) in lines {
        let (fact, next) = line::read::<Fact>(text, sum).map_err(|reason| damaged(n + 1, reason))?;
        if fact.n != n as u64 {
            return Err(damaged(n + 1, format!("it is numbered {}, not {n}", fact.n)));
        }
        sum = next;
        commands.push((fact.at, fact.command));
    }
    let book = Arc::new(copy_of_procedure(path, &head)?);
    Ok(Looked { book, sha256: head.sha256, began: head.began, commands })
}
