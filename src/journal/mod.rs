//! The job on disk: a folder with the procedure as it was, and an append-only journal of the commands that changed
//! the job. Replaying the journal rebuilds the [`Job`]; nothing else about it is stored.
//!
//! Knows the job and its folder. Decides nothing: what belongs into the journal is what [`Reply::recorded`] says,
//! and every line is on disk before [`Journal::append`] returns, so before the reply is spoken.
//!
//! A folder holds `procedure.toml` (the copy the job goes by), `journal.jsonl` and `lock` (held by the process that
//! works on the job); `pictures` what the procedure names of those, copied when the
//! job is begun. Each line of the journal is one JSON object:
//! `{"n":1,"at":1764040000000,"command":"open","by":"0.4.0","state":"53c4…","sum":"5d41402a"}`: the line's number,
//! milliseconds since the Unix epoch, the command, the version that wrote it, a digest of the job after it, and the
//! CRC-32 of the line before it and of this one up to the sum. Line 0 is the head, with the format number, the SHA-256 of
//! the procedure and where its file lay.
//!
//! A line is applied by the rules of the version that wrote it (`version`), and the digest shows that it still means what
//! it meant then; [`Folder::open`], [`look`] and whoever uses them go through the one `replay`.
//!
//! `at` grows steadily from the start of the program to its end, whatever is done to the machine's clock meanwhile; once
//! that was set, `wall` says what it shows. From one start to the next `at` is what the clock says, and may jump.
//!
//! Format 1, of version 0.1, has neither `by` nor `state`. Such a journal is written anew in format 2 when the job is
//! taken up, its lines as they are: a line that names no version is one of 0.1.
//!
//! [`Job`]: crate::job::Job
//! [`Reply::recorded`]: crate::job::Reply

mod book_file;
mod disk;
mod folder;
mod line;
mod list;
mod look;
mod replay;
mod strip;
#[cfg(test)]
mod tests;
mod version;

pub use book_file::{BookFile, write_book};
pub use folder::{Begin, Folder, Notice, Opened, PICTURES};
pub use list::{Kept, Summary, find, find_strip, kept, list, not_closed, unfinished};
pub use look::{Looked, look};
pub use replay::{Broken, Seen, Why};
pub use strip::{Dropped, StripFolder, StripSummary, look_at_strip, strip_log, strip_told, strips};

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
    /// A line of a strip-down is damaged.
    #[error(
        "{path}: line {line} is damaged: {reason}. The lines before it are whole: `wrenchside resume --salvage` goes on behind them, and keeps the others beside the file."
    )]
    DamagedStrip {
        /// The journal.
        path: PathBuf,
        /// Which line, from 1.
        line: usize,
        /// What is wrong with it.
        reason: String,
    },
    /// The strip-down became a job meanwhile.
    #[error("{path}: this strip-down is a job now; take the job up")]
    IsJob {
        /// The folder.
        path: PathBuf,
    },
    /// The journal was written by a newer program.
    #[error("{path}: journal format {found}; this program knows format {known}. Use the newer wrenchside for this job.", known = line::FORMAT)]
    Newer {
        /// The journal.
        path: PathBuf,
        /// Its format.
        found: u32,
    },
    /// A line was written by a newer program.
    #[error("{path}: line {line} was written by wrenchside {by}; this is {own}. Use the newer wrenchside for this job.", own = version::OWN)]
    NewerLine {
        /// The journal.
        path: PathBuf,
        /// Which line, from 1.
        line: usize,
        /// The version that wrote it.
        by: String,
    },
    /// A line is as it was written, but this program makes something else of it than the one that wrote it.
    #[error("{path}: line {line} cannot be followed: {reason}. wrenchside {by} wrote it and can go on with the job. {}", way_out(*line))]
    Differs {
        /// The journal.
        path: PathBuf,
        /// Which line, from 1.
        line: usize,
        /// The version that wrote it.
        by: String,
        /// What differs.
        reason: &'static str,
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
            "The {good} good lines before it can be kept with `wrenchside resume --salvage`; the others are kept in a \
             file beside the journal."
        ),
    }
}

impl JournalError {
    fn broken(path: PathBuf, Broken { line, why }: Broken) -> JournalError {
        match why {
            Why::Damaged(reason) => JournalError::Damaged { path, line, reason },
            Why::Differs { by, reason } => JournalError::Differs { path, line, by, reason },
            Why::Newer(by) => JournalError::NewerLine { path, line, by },
        }
    }

    fn io(path: impl Into<PathBuf>, doing: &'static str) -> impl FnOnce(std::io::Error) -> JournalError {
        let path = path.into();
        move |source| JournalError::Io { path, doing, source }
    }
}
