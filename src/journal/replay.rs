//! From the bytes of a journal to the job: the one way that taking up, record, list and page all go.
//!
//! Each line is applied by the rules of the version that wrote it, and what comes of it must have the digest that was
//! written with it. Where a line is damaged or cannot be followed the replay ends: nothing behind it is used, and
//! whoever asked decides what that means.

use super::JournalError;
use super::disk::{JOURNAL, PROCEDURE, sha256};
use super::line::{self, Entry, Format, Head};
use super::version;
use crate::files;
use crate::job::{At, Command, Edition, Job, Reply};
use crate::procedure::{self, Procedure};
use std::collections::HashMap;
use std::path::Path;
use std::sync::Arc;

/// A command of the journal as it was applied.
pub struct Seen<'a> {
    /// The job after it.
    pub job: &'a Job,
    /// The command.
    pub command: &'a Command,
    /// When it was given.
    pub at: At,
    /// What the job answered.
    pub reply: &'a Reply,
}

/// What came of a journal.
pub(super) struct Replayed {
    pub head: Head,
    pub job: Job,
    /// Number of the line to be written next, and the checksum it follows on.
    pub next: u64,
    pub sum: u32,
    /// Where the bytes end that are good.
    pub good: usize,
    /// The end of the file, for which no line end was written.
    pub torn: Option<usize>,
    /// Where it could not be followed further.
    pub broken: Option<Broken>,
    /// Moments of sessions in which the clock was set, by the clock as it was set.
    pub put_right: HashMap<At, At>,
    /// The last line's moment.
    pub last: Option<At>,
}

/// A line that could not be followed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Broken {
    /// Which, from 1.
    pub line: usize,
    /// Why.
    pub why: Why,
}

/// Why a line could not be followed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Why {
    /// It is not as it was written.
    Damaged(String),
    /// It is as it was written, but this program makes something else of the lines up to it than the one that wrote it.
    Differs {
        /// The version that wrote it.
        by: String,
        /// What differs.
        reason: &'static str,
    },
    /// A newer program wrote it.
    Newer(String),
}

/// Replays the journal in a folder from its bytes, and shows each command as it is applied.
pub(super) fn replay(path: &Path, bytes: &[u8], see: &mut dyn FnMut(Seen<'_>)) -> Result<Replayed, JournalError> {
    let file = path.join(JOURNAL);
    let damaged = |reason: String| JournalError::Damaged { path: file.clone(), line: 1, reason };
    let mut lines = Lines { bytes, at: 0, number: 0 };
    let first = match lines.next() {
        Some(Ok(first)) => first,
        Some(Err(fault)) => return Err(damaged(fault.reason())),
        None => return Err(damaged("the journal is empty".into())),
    };
    let (Format { format }, sum) = line::read(first, 0).map_err(damaged)?;
    if format > line::FORMAT {
        return Err(JournalError::Newer { path: file, found: format });
    }
    let (head, _) = line::read::<Head>(first, 0).map_err(damaged)?;
    let job = Job::new(Arc::new(copy_of_procedure(path, &head)?));
    let mut replayed = Replayed {
        head,
        job,
        next: 1,
        sum,
        good: lines.at,
        torn: None,
        broken: None,
        put_right: HashMap::new(),
        last: None,
    };
    let mut session = Session::default();
    while let Some(read) = lines.next() {
        match read.and_then(|text| replayed.follow(text, &mut session, see)) {
            Ok(()) => replayed.good = lines.at,
            // Only what follows the last line end was never finished, so never answered.
            Err(Fault::Torn) => replayed.torn = Some(lines.number),
            Err(Fault::Broken(why)) => {
                replayed.broken = Some(Broken { line: lines.number, why });
                break;
            }
        }
    }
    session.end(&mut replayed.put_right);
    if replayed.broken.as_ref().is_some_and(|broken| matches!(broken.why, Why::Differs { .. })) {
        // The line was tried on the job; it is taken as it was before that.
        replayed.job = replay(path, &bytes[..replayed.good], &mut |_| {})?.job;
    }
    // What is done from now on goes by today's rules.
    replayed.job.follow(Edition::NOW);
    Ok(replayed)
}

impl Replayed {
    /// Gives the job the command of a line.
    fn follow(&mut self, text: &str, session: &mut Session, see: &mut dyn FnMut(Seen<'_>)) -> Result<(), Fault> {
        let damaged = |reason: String| Fault::Broken(Why::Damaged(reason));
        let (entry, sum) = line::read::<Entry>(text, self.sum).map_err(damaged)?;
        if entry.n != self.next {
            return Err(damaged(format!("it is numbered {}, not {}", entry.n, self.next)));
        }
        let by = entry.by.as_deref().unwrap_or(version::FIRST);
        let edition = version::edition(by).ok_or_else(|| Fault::Broken(Why::Newer(by.to_owned())))?;
        if entry.by.is_some() != entry.state.is_some() {
            return Err(damaged("it names a version without a digest, or the other way round".into()));
        }
        self.job.follow(edition);
        let reply = self.job.apply(entry.command.clone(), entry.at);
        let differs = |reason| Err(Fault::Broken(Why::Differs { by: by.to_owned(), reason }));
        // Only what changed the job was written. A command that changes nothing now meets another job than it did then.
        if !reply.recorded {
            return differs("what it says cannot follow on the lines before it");
        }
        if entry.state.as_ref().is_some_and(|state| *state != line::hex(self.job.digest())) {
            return differs("the job is not where it was after it");
        }
        if matches!(entry.command, Command::Open | Command::Resume) {
            session.end(&mut self.put_right);
        }
        session.moments.push(entry.at);
        session.set = entry.wall.map(|wall| wall.0.saturating_sub(entry.at.0)).or(session.set);
        (self.sum, self.next, self.last) = (sum, self.next + 1, Some(entry.at));
        see(Seen { job: &self.job, command: &entry.command, at: entry.at, reply: &reply });
        Ok(())
    }
}

/// The lines from one start of the program to its end.
#[derive(Debug, Default)]
pub(super) struct Session {
    pub moments: Vec<At>,
    /// By how much the clock was set in it, once it was.
    pub set: Option<i64>,
}

impl Session {
    /// Puts its moments right by the clock as it was set in the end.
    pub fn end(&mut self, put_right: &mut HashMap<At, At>) {
        if let Some(set) = self.set.take() {
            put_right.extend(self.moments.iter().map(|at| (*at, At(at.0.saturating_add(set)))));
        }
        self.moments.clear();
    }
}

/// Why a line is not used.
pub(super) enum Fault {
    /// It has no line end: it is the last one and was never finished.
    Torn,
    Broken(Why),
}

impl Fault {
    fn reason(self) -> String {
        match self {
            Fault::Torn => "it is cut short".into(),
            Fault::Broken(why) => why.to_string(),
        }
    }
}

impl std::fmt::Display for Why {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Why::Damaged(reason) => f.write_str(reason),
            Why::Differs { by, reason } => write!(f, "{reason}, as wrenchside {by} wrote it"),
            Why::Newer(by) => write!(f, "wrenchside {by} wrote it, which is newer"),
        }
    }
}

/// The lines of a journal, each with its position, damaged bytes and all.
pub(super) struct Lines<'a> {
    bytes: &'a [u8],
    /// Position behind the line given last.
    at: usize,
    /// Number of the line given last, from 1.
    number: usize,
}

impl<'a> Iterator for Lines<'a> {
    type Item = Result<&'a str, Fault>;

    fn next(&mut self) -> Option<Self::Item> {
        let rest = &self.bytes[self.at..];
        if rest.is_empty() {
            return None;
        }
        self.number += 1;
        let Some(end) = rest.iter().position(|&b| b == b'\n') else {
            self.at = self.bytes.len();
            return Some(Err(Fault::Torn));
        };
        self.at += end + 1;
        let damaged = |_| Fault::Broken(Why::Damaged("it is not text".into()));
        Some(std::str::from_utf8(&rest[..end]).map_err(damaged))
    }
}

fn copy_of_procedure(path: &Path, head: &Head) -> Result<Procedure, JournalError> {
    let copy = path.join(PROCEDURE);
    let text = files::text(&copy).map_err(JournalError::io(&copy, "cannot read the job's procedure"))?;
    if sha256(&text) != head.sha256 {
        return Err(JournalError::OtherProcedure { path: copy });
    }
    procedure::parse(&copy.display().to_string(), &text)
        .map_err(|e| JournalError::Procedure { path: copy, reason: e.to_string() })
}
