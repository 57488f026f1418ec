//! A strip-down on disk: its folder, an append-only journal of what was told, and the job that comes of it in the same folder.
//!
//! The folder is that of the job to be. Until the turning point it holds `strip.jsonl` and no `journal.jsonl`, so it is no job
//! yet; then the book is written as `procedure.toml`, and the job's journal begins beside it. Both come into their place whole,
//! so a power cut leaves one or the other.

use super::book_file::write_book;
use super::disk::{
    JOURNAL, PROCEDURE, append_to, json, lock, new_folder, put, set_aside, sha256, sync_folder, take_turn, turn,
    write_synced,
};
use super::folder::Folder;
use super::line;
use super::look::Looked;
use super::replay::{Broken, Seen, Session, Why};
use super::{JournalError, version};
use crate::files;
use crate::job::{self, At, Job};
use crate::procedure::{self, Procedure};
use crate::strip::book::slug;
use crate::strip::{Command, StripLog, of_book};
use serde::{Deserialize, Serialize};
use std::collections::HashMap;
use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The journal of a strip-down.
const STRIP: &str = "strip.jsonl";

/// The format of it.
const FORMAT: u32 = 1;

/// What the first line says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Head {
    format: u32,
    strip: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    vehicle: Option<String>,
    began: At,
}

/// One thing told.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    n: u64,
    at: At,
    /// The clock of the machine at that moment, where it was set since the session began.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    wall: Option<At>,
    /// The first thing told since it was taken up again: the moments before it are those of another session.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    again: bool,
    told: Command,
    by: String,
}

/// What was cut off a strip-down that could not be followed to its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dropped {
    /// Lines that are whole.
    pub kept: usize,
    /// Lines that were dropped.
    pub lines: usize,
    /// Where they are.
    pub aside: PathBuf,
}

/// A strip-down on disk, open for writing by this process alone.
#[derive(Debug)]
pub struct StripFolder {
    path: PathBuf,
    journal: File,
    head: Head,
    next: u64,
    sum: u32,
    /// By how much the machine's clock was set since this process began.
    set: i64,
    /// It was taken up again, and nothing was told since.
    again: bool,
    /// The moments of this session; of those before it, what was put right.
    session: Session,
    put_right: HashMap<At, At>,
    failed: bool,
    lock: File,
}

impl StripFolder {
    /// Begins a strip-down in a new folder below `root`.
    pub fn begin(root: &Path, title: &str, vehicle: Option<&str>, at: At) -> Result<StripFolder, JournalError> {
        files::make_private_folders(root).map_err(JournalError::io(root, "cannot make the folder for jobs"))?;
        let path = new_folder(root, &slug(title), at)?;
        let lock = lock(&path)?;
        take_turn(&path, &lock);
        let head = Head { format: FORMAT, strip: title.to_owned(), vehicle: vehicle.map(str::to_owned), began: at };
        let (text, sum) = line::write(&head, 0).map_err(|e| json(&path, e))?;
        let file = path.join(STRIP);
        write_synced(&file, text.as_bytes())?;
        sync_folder(&path)?;
        sync_folder(root)?;
        let session = Session { moments: vec![at], set: None };
        let (journal, put_right) = (append_to(&file)?, HashMap::new());
        Ok(StripFolder {
            journal,
            path,
            head,
            next: 1,
            sum,
            set: 0,
            again: false,
            session,
            put_right,
            failed: false,
            lock,
        })
    }

    /// Takes one up again: the folder, the log as it was left, and whether a last line was torn, as by a power cut.
    pub fn open(path: &Path) -> Result<(StripFolder, StripLog, bool), JournalError> {
        StripFolder::take_up(path, false).map(|(folder, log, torn, _)| (folder, log, torn))
    }

    /// The same; with `salvage`, one that cannot be followed to its end is cut off behind the last good line. The lines behind it are
    /// kept beside it, and it is told how many they are and where.
    pub fn take_up(path: &Path, salvage: bool) -> Result<(StripFolder, StripLog, bool, Option<Dropped>), JournalError> {
        let lock = lock(path)?;
        // It may have become one between being found and being locked.
        if path.join(JOURNAL).exists() {
            return Err(JournalError::IsJob { path: path.to_owned() });
        }
        let file = path.join(STRIP);
        let bytes = files::read(&file, files::DATA).map_err(JournalError::io(&file, "cannot read the journal"))?;
        let Replayed { head, log, next, sum, good, broken, put_right, .. } = replay(&file, &bytes)?;
        let dropped = match broken {
            None => None,
            Some(JournalError::DamagedStrip { line, .. }) if salvage => {
                let aside = set_aside(path, "strip", line, &bytes[good..])?;
                let lines = bytes[good..].split_inclusive(|&b| b == b'\n').count();
                Some(Dropped { kept: line - 1, lines, aside })
            }
            Some(broken) => return Err(broken),
        };
        take_turn(path, &lock);
        let journal = append_to(&file)?;
        let cut = good < bytes.len();
        if cut {
            journal.set_len(good as u64).map_err(JournalError::io(&file, "cannot cut off the torn end"))?;
            journal.sync_all().map_err(JournalError::io(&file, "cannot flush the journal"))?;
        }
        let (path, session) = (path.to_owned(), Session::default());
        let folder = StripFolder {
            path,
            journal,
            head,
            next,
            sum,
            set: 0,
            again: true,
            session,
            put_right,
            failed: false,
            lock,
        };
        Ok((folder, log, cut && dropped.is_none(), dropped))
    }

    /// The folder.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The vehicle, if it was named.
    pub fn vehicle(&self) -> Option<&str> {
        self.head.vehicle.as_deref()
    }

    /// The clock of the machine was set, and is ahead by so many milliseconds of the one that the moments come from.
    pub fn clock_set(&mut self, ahead: i64) {
        self.set = ahead;
    }

    /// Writes what was told; on disk when this returns. After an error nothing more is written.
    pub fn append(&mut self, told: &Command, at: At) -> Result<(), JournalError> {
        let io = |doing| JournalError::io(self.path.join(STRIP), doing);
        if std::mem::replace(&mut self.failed, true) {
            return Err(io("cannot write to the journal")(std::io::Error::other("writing to it failed before")));
        }
        let wall = (self.set != 0).then(|| At(at.0.saturating_add(self.set)));
        let (n, again, by) = (self.next, self.again, version::OWN.to_owned());
        let entry = Entry { n, at, wall, again, told: told.clone(), by };
        let (text, sum) = line::write(&entry, self.sum).map_err(|e| json(&self.path, e))?;
        self.journal.write_all(text.as_bytes()).map_err(io("cannot write to the journal"))?;
        self.journal.sync_data().map_err(io("cannot flush the journal"))?;
        (self.next, self.sum, self.again, self.failed) = (self.next + 1, sum, false, false);
        self.session.moments.push(at);
        Ok(())
    }

    /// The strip-down becomes a job that goes by this book, in the same folder, with what was done so far: commands with their
    /// moments, of which each must bring the job further. A moment of a session in which the clock was set is put right. The job is
    /// there whole, or not at all.
    pub fn become_job(
        mut self,
        text: &str,
        book: &Arc<Procedure>,
        done: &[(job::Command, At)],
    ) -> Result<(Folder, Job), JournalError> {
        put(&self.path.join(PROCEDURE), text.as_bytes())?;
        sync_folder(&self.path)?;
        self.session.set = Some(self.set).filter(|set| *set != 0);
        self.session.end(&mut self.put_right);
        let right = |at: At| self.put_right.get(&at).copied().unwrap_or(at);
        let done: Vec<(job::Command, At)> = done.iter().map(|(command, at)| (command.clone(), right(*at))).collect();
        let began = Folder::begin_in(self.path, self.lock, text, book, right(self.head.began), &done)?;
        // The job stands. A disk that does not take this file has another chance when the job is closed.
        let _ = write_book(began.0.path(), text);
        Ok(began)
    }
}

/// What a journal holds.
struct Replayed {
    head: Head,
    log: StripLog,
    /// Number and sum of the next line.
    next: u64,
    sum: u32,
    /// The moment of its last line.
    last: At,
    /// How much of the bytes is good, and why no more is.
    good: usize,
    broken: Option<JournalError>,
    /// The moments of sessions in which the clock was set, as they are by that clock.
    put_right: HashMap<At, At>,
}

/// The log that a journal holds, and how much of it is good. A last line without its end was never answered.
fn replay(file: &Path, bytes: &[u8]) -> Result<Replayed, JournalError> {
    let damaged = |line: usize, reason: String| JournalError::DamagedStrip { path: file.to_owned(), line, reason };
    let mut good = 0;
    let mut broken = None;
    let mut state: Option<(Head, StripLog)> = None;
    let (mut next, mut sum, mut last) = (0, 0, At(0));
    let (mut session, mut put_right) = (Session::default(), HashMap::new());
    for (at, whole) in bytes.split_inclusive(|b| *b == b'\n').enumerate() {
        let Some(text) = whole.strip_suffix(b"\n") else { break };
        let bad = |reason| damaged(at + 1, reason);
        let text = std::str::from_utf8(text).map_err(|_| bad("it is not text".to_owned()));
        match &mut state {
            None => {
                let (head, after) = line::read::<Head>(text?, sum).map_err(bad)?;
                if head.format > FORMAT {
                    return Err(JournalError::Newer { path: file.to_owned(), found: head.format });
                }
                let log = StripLog::new(&head.strip);
                session.moments.push(head.began);
                last = head.began;
                (state, sum) = (Some((head, log)), after);
            }
            Some((_, log)) => match text.and_then(|text| follow(text, next, sum, log, &bad, file, at + 1)) {
                Ok((entry, after)) => {
                    if entry.again {
                        session.end(&mut put_right);
                    }
                    session.moments.push(entry.at);
                    last = entry.at;
                    session.set = entry.wall.map(|wall| wall.0.saturating_sub(entry.at.0)).or(session.set);
                    sum = after;
                }
                Err(error) => {
                    broken = Some(error);
                    break;
                }
            },
        }
        (next, good) = (next + 1, good + whole.len());
    }
    let Some((head, log)) = state else { return Err(damaged(1, "it is not whole".to_owned())) };
    session.end(&mut put_right);
    Ok(Replayed { head, log, next, sum, last, good, broken, put_right })
}

/// Takes one line into the log; gives it, and the sum after it.
fn follow(
    text: &str,
    next: u64,
    sum: u32,
    log: &mut StripLog,
    bad: &dyn Fn(String) -> JournalError,
    file: &Path,
    line: usize,
) -> Result<(Entry, u32), JournalError> {
    let (entry, after) = line::read::<Entry>(text, sum).map_err(bad)?;
    if version::edition(&entry.by).is_none() {
        return Err(JournalError::NewerLine { path: file.to_owned(), line, by: entry.by });
    }
    if entry.n != next || !log.follow(entry.told.clone(), entry.at).recorded {
        return Err(bad("it does not follow from the lines before it".to_owned()));
    }
    Ok((entry, after))
}

/// What was told in the strip-down that the job in this folder has come of; nothing where it has come of none.
pub fn strip_log(folder: &Path) -> Option<StripLog> {
    strip_told(folder).map(|(log, _)| log)
}

/// The same with the vehicle, if it was named.
pub fn strip_told(folder: &Path) -> Option<(StripLog, Option<String>)> {
    let file = folder.join(STRIP);
    let bytes = files::read(&file, files::DATA).ok()?;
    replay(&file, &bytes).ok().map(|replayed| (replayed.log, replayed.head.vehicle))
}

/// Looks at a strip-down without working on it, as at the job that it would become now: by the book that `written` makes of it. Its
/// commands are shown as they are applied.
pub fn look_at_strip(
    folder: &Path,
    written: impl FnOnce(&StripLog, Option<&str>) -> Result<String, String>,
    see: &mut dyn FnMut(Seen<'_>),
) -> Result<Looked, JournalError> {
    let file = folder.join(STRIP);
    let bytes = files::read(&file, files::DATA).map_err(JournalError::io(&file, "cannot read the journal"))?;
    let Replayed { head, log, last, broken, put_right, .. } = replay(&file, &bytes)?;
    let no_book = |reason: String| JournalError::Procedure { path: file.clone(), reason };
    let text = written(&log, head.vehicle.as_deref()).map_err(no_book)?;
    let book = procedure::parse(PROCEDURE, &text).map_err(|report| no_book(report.to_string()))?;
    let mut job = Job::new(Arc::new(book));
    for (command, at) in of_book::already_done(&log) {
        let reply = job.apply(command.clone(), at);
        see(Seen { job: &job, command: &command, at, reply: &reply });
    }
    let broken = match broken {
        Some(JournalError::DamagedStrip { line, reason, .. }) => Some(Broken { line, why: Why::Damaged(reason) }),
        Some(JournalError::NewerLine { line, by, .. }) => Some(Broken { line, why: Why::Newer(by) }),
        Some(other) => return Err(other),
        None => None,
    };
    let (sha256, began) = (sha256(&text), head.began);
    Ok(Looked { job, sha256, began, last: Some(last), unchecked: 0, broken, put_right })
}

/// A strip-down in a list of jobs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StripSummary {
    /// Its folder.
    pub path: PathBuf,
    /// Its name, the last part of the folder.
    pub name: String,
    /// What it is called.
    pub title: String,
    /// When it was begun.
    pub began: At,
    /// When something was told last.
    pub last: At,
    /// Why it cannot be taken up as it is.
    pub broken: Option<String>,
}

/// The strip-downs below `root` that are no job yet, the one worked on last at the end.
pub fn strips(root: &Path) -> Vec<StripSummary> {
    let entries = fs::read_dir(root).into_iter().flatten().flatten();
    let mut all: Vec<(u64, StripSummary)> = entries.filter_map(|entry| summary(&entry.path())).collect();
    all.sort_by(|(na, a), (nb, b)| (na, &a.name).cmp(&(nb, &b.name)));
    all.into_iter().map(|(_, strip)| strip).collect()
}

/// A strip-down that is no job yet, with its turn.
pub(super) fn summary(path: &Path) -> Option<(u64, StripSummary)> {
    if path.join(JOURNAL).exists() {
        return None;
    }
    let file = path.join(STRIP);
    if !file.exists() {
        return None;
    }
    let name = path.file_name()?.to_string_lossy().into_owned();
    let read = files::read(&file, files::DATA).map_err(JournalError::io(&file, "cannot read the journal"));
    let (title, began, last, broken) = match read.and_then(|bytes| replay(&file, &bytes)) {
        Ok(Replayed { head, last, broken, put_right, .. }) => {
            let right = |at: At| put_right.get(&at).copied().unwrap_or(at);
            let (began, last) = (right(head.began), right(last));
            (head.strip, began, last, broken)
        }
        // Not even its first line tells anything.
        Err(error) => (name.clone(), At(0), At(0), Some(error)),
    };
    let broken = broken.map(|error| error.to_string());
    Some((turn(path), StripSummary { path: path.to_owned(), name, title, began, last, broken }))
}
