//! The jobs there are: listed, found by name, by path or as the one worked on last.

use super::JournalError;
use super::disk::{JOURNAL, PROCEDURE, turn};
use super::line::{self, Head};
use super::look::look;
use super::strip::{StripSummary, strips, summary};
use crate::files;
use crate::job::At;
use crate::procedure;
use std::fs;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};

/// A job in a list of jobs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Summary {
    /// Its folder.
    pub path: PathBuf,
    /// Its name, the last part of the folder.
    pub name: String,
    /// The title of its procedure; its name where that cannot be read.
    pub title: String,
    /// When it was begun; nothing where its journal does not even tell that.
    pub began: Option<At>,
}

/// A job or a strip-down, as they stand in one list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Kept {
    /// A job.
    Job(Summary),
    /// A strip-down that is no job yet.
    Strip(StripSummary),
}

impl Kept {
    /// Its folder.
    pub fn path(&self) -> &Path {
        match self {
            Kept::Job(job) => &job.path,
            Kept::Strip(strip) => &strip.path,
        }
    }

    /// Its name, the last part of the folder.
    pub fn name(&self) -> &str {
        match self {
            Kept::Job(job) => &job.name,
            Kept::Strip(strip) => &strip.name,
        }
    }

    /// What it is called.
    pub fn title(&self) -> &str {
        match self {
            Kept::Job(job) => &job.title,
            Kept::Strip(strip) => &strip.title,
        }
    }

    /// When it was begun, as far as that can be told.
    pub fn began(&self) -> Option<At> {
        match self {
            Kept::Job(job) => job.began,
            Kept::Strip(strip) => Some(strip.began).filter(|_| strip.broken.is_none() || strip.began != At(0)),
        }
    }
}

/// The jobs and the strip-downs below `root`, the one worked on last at the end.
pub fn kept(root: &Path) -> Result<Vec<Kept>, JournalError> {
    let jobs = list(root)?.into_iter().map(Kept::Job);
    let mut all: Vec<Kept> = jobs.chain(strips(root).into_iter().map(Kept::Strip)).collect();
    // The order of each among its own stays.
    all.sort_by_key(|kept| turn(kept.path()));
    Ok(all)
}

/// The jobs below `root`, the one worked on last at the end. A folder that is no job is passed over.
pub fn list(root: &Path) -> Result<Vec<Summary>, JournalError> {
    let entries = match fs::read_dir(root) {
        Ok(entries) => entries,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(e) => return Err(JournalError::io(root, "cannot list the jobs")(e)),
    };
    let mut jobs = Vec::new();
    for entry in entries {
        let path = entry.map_err(JournalError::io(root, "cannot list the jobs"))?.path();
        let journal = path.join(JOURNAL);
        // One whose journal is damaged from its first line on is a job all the same, and told as one.
        let began = match head(&journal) {
            Some(head) => Some(head.began),
            None if journal.is_file() => None,
            None => continue,
        };
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let touched = fs::metadata(&journal).and_then(|m| m.modified()).unwrap_or(std::time::UNIX_EPOCH);
        let turn = turn(&path);
        let title = title(&path).unwrap_or_else(|| name.clone());
        jobs.push((Summary { path, name, title, began }, turn, touched));
    }
    jobs.sort_by(|(a, na, ta), (b, nb, tb)| (na, ta, &a.name).cmp(&(nb, tb, &b.name)));
    Ok(jobs.into_iter().map(|(job, ..)| job).collect())
}

/// The title in the job's copy of its procedure.
fn title(path: &Path) -> Option<String> {
    let text = files::text(&path.join(PROCEDURE)).ok()?;
    procedure::headline(&text).map(|head| head.title)
}

/// So many jobs are looked into for those that are unfinished, the ones worked on last, and so many of these are named.
const LOOKED_INTO: usize = 12;
const NAMED: usize = 3;

/// The jobs beside this one that are not closed, the one worked on last first. It is a courtesy: one that cannot be read is passed
/// over.
pub fn unfinished(beside: &Path) -> Vec<Summary> {
    let others = beside.parent().map(open_below).into_iter().flatten();
    others.filter(|job| job.path != beside).take(NAMED).collect()
}

/// The jobs below `root` that are not closed, the one worked on last first, likewise.
pub fn not_closed(root: &Path) -> Vec<Summary> {
    open_below(root).collect()
}

fn open_below(root: &Path) -> impl Iterator<Item = Summary> {
    let jobs = list(root).unwrap_or_default();
    let open = |job: &Summary| look(&job.path, &mut |_| {}).is_ok_and(|read| read.job.closed().is_none());
    jobs.into_iter().rev().take(LOOKED_INTO).filter(open)
}

/// What the first line of a journal says, without reading the others; `None` where it says nothing.
fn head(journal: &Path) -> Option<Head> {
    let mut first = String::new();
    let journal = files::open(journal).ok()?.take(line::LONGEST_HEAD);
    BufReader::new(journal).read_line(&mut first).ok()?;
    line::read::<Head>(first.strip_suffix('\n')?, 0).ok().map(|(head, _)| head)
}

/// The folder of the job with this name or path, or of the one worked on last.
pub fn find(root: &Path, wanted: Option<&str>) -> Result<PathBuf, JournalError> {
    let jobs = list(root)?;
    let found = match wanted {
        Some(name) if Path::new(name).join(JOURNAL).exists() => Some(PathBuf::from(name)),
        Some(name) => jobs.iter().find(|j| j.name == name).map(|j| j.path.clone()),
        None => jobs.last().map(|j| j.path.clone()),
    };
    found.ok_or_else(|| JournalError::NoSuchJob {
        root: root.to_owned(),
        wanted: wanted.map_or("to take up".into(), |w| format!("named {w:?}")),
        known: match jobs.is_empty() {
            true => "There are no jobs there yet; `wrenchside start PROCEDURE` begins one.".into(),
            false => format!("There are: {}.", jobs.iter().map(|j| j.name.as_str()).collect::<Vec<_>>().join(", ")),
        },
    })
}

/// The strip-down of this name or path; without one, the strip-down that was worked on last, if no job was since.
pub fn find_strip(root: &Path, wanted: Option<&str>) -> Option<PathBuf> {
    match wanted {
        Some(name) => {
            let named = || strips(root).into_iter().find(|strip| strip.name == name).map(|strip| strip.path);
            summary(Path::new(name)).map(|(_, strip)| strip.path).or_else(named)
        }
        None => {
            let last = strips(root).pop()?;
            let job = list(root).ok().and_then(|jobs| jobs.last().map(|job| turn(&job.path)));
            job.is_none_or(|job| turn(&last.path) > job).then_some(last.path)
        }
    }
}
