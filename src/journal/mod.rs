//! The job on disk: a folder with the procedure as it was, and an append-only journal of the commands that changed
//! the job. Replaying the journal rebuilds the [`Job`]; nothing else about it is stored.
//!
//! Knows the job and its folder. Decides nothing: what belongs into the journal is what [`Reply::recorded`] says,
//! and every line is on disk before [`Journal::append`] returns, so before the reply is spoken.
//!
//! A folder holds `procedure.toml` (the copy the job goes by), `journal.jsonl` and `lock` (held by the process that
//! works on the job). Each line of the journal is one JSON object:
//! `{"n":1,"at":1764040000000,"command":"open","sum":"5d41402a"}`: the line's number, milliseconds since the Unix
//! epoch, the command, and the CRC-32 of the line before it and of this one up to the sum. Line 0 is the head, with the
//! format number, the SHA-256 of the procedure and where its file lay.
//!
//! [`Job`]: crate::job::Job
//! [`Reply::recorded`]: crate::job::Reply

mod folder;
mod line;
mod look;
#[cfg(test)]
mod tests;

pub use folder::{Folder, Notice, Opened, Summary, find, list};
pub use look::{Looked, look};

use std::path::PathBuf;

/// Why a job on disk cannot be used. Each message begins with the path and ends with the way out.
#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    /// Reading or writing failed.
    #[error("{path}: {doing}: {source}")]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// Why it failed.
        source: std::io::Error,
    },
    /// Another process works on the job.
    #[error("{path}: another wrenchside is working on this job. End it there first.")]
    Busy {
        /// The job's folder.
        path: PathBuf,
    },
    /// A line is damaged, and not merely a last one that was never finished.
    #[error("{path}: line {line} is damaged: {reason}. {}", way_out(*line))]
    Damaged {
        /// The journal.
        path: PathBuf,
        /// Which line, from 1.
        line: usize,
        /// What is wrong with it.
        reason: String,
    },
    /// The journal was written by a newer program.
    #[error("{path}: journal format {found}; this program knows format {known}. Use the newer wrenchside for this job.", known = line::FORMAT)]
    Newer {
        /// The journal.
        path: PathBuf,
        /// Its format.
        found: u32,
    },
    /// The copy of the procedure is not the one the job was begun with.
    #[error("{path}: this is not the procedure the job was begun with (its checksum differs). Put the original back.")]
    OtherProcedure {
        /// The copy.
        path: PathBuf,
    },
    /// The copy of the procedure does not load.
    #[error("{path}: {reason}")]
    Procedure {
        /// The copy.
        path: PathBuf,
        /// Why.
        reason: String,
    },
    /// There is no such job.
    #[error("{root}: no job {wanted}. {known}")]
    NoSuchJob {
        /// Where jobs are kept.
        root: PathBuf,
        /// What was asked for.
        wanted: String,
        /// What there is.
        known: String,
    },
}

/// What to do about a damaged line.
fn way_out(line: usize) -> String {
    match line - 1 {
        0 => "It names the procedure, so the job cannot be taken up without it.".into(),
        good => format!(
            "The {good} good lines before it can be kept with `wrenchside resume --salvage`; the damaged journal is \
             kept beside it."
        ),
    }
}

impl JournalError {
    fn io(path: impl Into<PathBuf>, doing: &'static str) -> impl FnOnce(std::io::Error) -> JournalError {
        let path = path.into();
        move |source| JournalError::Io { path, doing, source }
    }
}
