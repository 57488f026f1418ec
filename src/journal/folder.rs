//! The folder of a job: begun, taken up again, listed, found.

use super::JournalError;
use super::line::{self, Fact, Head};
use crate::job::{At, Command, Job};
use crate::procedure::{self, Procedure};
use sha2::{Digest, Sha256};
use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

const PROCEDURE: &str = "procedure.toml";
pub(super) const JOURNAL: &str = "journal.jsonl";
const LOCK: &str = "lock";

/// A job on disk, open for writing by this process alone.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
    journal: File,
    next: u64,
    sum: u32,
    /// Held as long as this value lives.
    _lock: File,
}

/// A job taken up again.
#[derive(Debug)]
pub struct Opened {
    /// Where it is written on.
    pub folder: Folder,
    /// The job as the journal left it.
    pub job: Job,
    /// What the user should know about it.
    pub notices: Vec<Notice>,
}

/// Something noticed while a job was taken up, to be told to the user.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Notice {
    /// The last line was torn, as by a power cut; its command was never answered, and it is gone.
    TornLine {
        /// Which line, from 1.
        line: usize,
    },
    /// A damaged end was cut off by request; it is kept in this file.
    Salvaged {
        /// Lines kept.
        kept: usize,
        /// Where the damaged journal is.
        aside: PathBuf,
    },
}

/// A job in a list of jobs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Summary {
    /// Its folder.
    pub path: PathBuf,
    /// Its name, the last part of the folder.
    pub name: String,
    /// When it was begun.
    pub began: At,
}

impl Folder {
    /// Begins a job in a new folder below `root`. `text` is the procedure file that `book` was loaded from.
    pub fn create(root: &Path, text: &str, book: &Procedure, at: At) -> Result<Folder, JournalError> {
        fs::create_dir_all(root).map_err(JournalError::io(root, "cannot make the folder for jobs"))?;
        let path = new_folder(root, &book.id, at)?;
        let lock = lock(&path)?;
        let copy = path.join(PROCEDURE);
        write_synced(&copy, text.as_bytes())?;
        let head = Head { format: line::FORMAT, procedure: book.id.clone(), sha256: sha256(text), began: at };
        let (text, sum) = line::write(&head, 0).map_err(|e| json(&path, e))?;
        let file = path.join(JOURNAL);
        write_synced(&file, text.as_bytes())?;
        // The names in the folder are on disk only once the folder is.
        for dir in [path.as_path(), root] {
            File::open(dir).and_then(|d| d.sync_all()).map_err(JournalError::io(dir, "cannot flush the folder"))?;
        }
        let journal = append_to(&file)?;
        Ok(Folder { path, journal, next: 1, sum, _lock: lock })
    }

    /// Takes a job up again. With `salvage`, a journal damaged in the middle keeps the good lines before the damage.
    pub fn open(path: &Path, salvage: bool) -> Result<Opened, JournalError> {
        let lock = lock(path)?;
        let file = path.join(JOURNAL);
        let bytes = fs::read(&file).map_err(JournalError::io(&file, "cannot read the journal"))?;
        let damaged = |line, reason: String| JournalError::Damaged { path: file.clone(), line, reason };

        let mut notices = Vec::new();
        let mut lines = Lines { bytes: &bytes, at: 0, number: 0 };
        let (head, mut sum) = match lines.next() {
            Some(Ok(text)) => line::read::<Head>(text, 0).map_err(|reason| damaged(1, reason))?,
            Some(Err(reason)) => return Err(damaged(1, reason)),
            None => return Err(damaged(1, "the journal is empty".into())),
        };
        if head.format > line::FORMAT {
            return Err(JournalError::Newer { path: file, found: head.format });
        }
        let book = Arc::new(copy_of_procedure(path, &head)?);
        let mut job = Job::new(book);
        let mut next = 1;
        let mut good = lines.at;
        while let Some(read) = lines.next() {
            let fact = read.and_then(|text| line::read::<Fact>(text, sum)).and_then(|(fact, sum)| match fact.n {
                n if n == next => Ok((fact, sum)),
                n => Err(format!("it is numbered {n}, not {next}")),
            });
            match fact {
                Ok((fact, new_sum)) => {
                    job.apply(fact.command, fact.at);
                    (sum, next, good) = (new_sum, next + 1, lines.at);
                }
                Err(_) if lines.at == bytes.len() => {
                    notices.push(Notice::TornLine { line: lines.number });
                    break;
                }
                Err(_) if salvage => {
                    let aside = path.join(format!("journal.damaged-{}.jsonl", lines.number));
                    fs::copy(&file, &aside).map_err(JournalError::io(&aside, "cannot keep the damaged journal"))?;
                    notices.push(Notice::Salvaged { kept: lines.number - 1, aside });
                    break;
                }
                Err(reason) => return Err(damaged(lines.number, reason)),
            }
        }
        let journal = append_to(&file)?;
        if good < bytes.len() {
            journal.set_len(good as u64).map_err(JournalError::io(&file, "cannot cut off the torn end"))?;
            journal.sync_all().map_err(JournalError::io(&file, "cannot flush the journal"))?;
        }
        let folder = Folder { path: path.to_owned(), journal, next, sum, _lock: lock };
        Ok(Opened { folder, job, notices })
    }

    /// The folder.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes one command; on disk when this returns. After an error the job must not go on: what was said to be
    /// done would not be recorded.
    pub fn append(&mut self, command: &Command, at: At) -> Result<(), JournalError> {
        let fact = Fact { n: self.next, at, command: command.clone() };
        let (text, sum) = line::write(&fact, self.sum).map_err(|e| json(&self.path, e))?;
        let file = || JournalError::io(self.path.join(JOURNAL), "cannot write to the journal");
        self.journal.write_all(text.as_bytes()).map_err(file())?;
        self.journal.sync_data().map_err(file())?;
        (self.next, self.sum) = (self.next + 1, sum);
        Ok(())
    }
}

/// The lines of a journal, each with its position, damaged bytes and all.
struct Lines<'a> {
    bytes: &'a [u8],
    /// Position behind the line given last.
    at: usize,
    /// Number of the line given last, from 1.
    number: usize,
}

impl<'a> Iterator for Lines<'a> {
    type Item = Result<&'a str, String>;

    fn next(&mut self) -> Option<Self::Item> {
        let rest = &self.bytes[self.at..];
        if rest.is_empty() {
            return None;
        }
        self.number += 1;
        let Some(end) = rest.iter().position(|&b| b == b'\n') else {
            self.at = self.bytes.len();
            return Some(Err("it is cut short".into()));
        };
        self.at += end + 1;
        Some(std::str::from_utf8(&rest[..end]).map_err(|_| "it is not text".into()))
    }
}

pub(super) fn copy_of_procedure(path: &Path, head: &Head) -> Result<Procedure, JournalError> {
    let copy = path.join(PROCEDURE);
    let text = fs::read_to_string(&copy).map_err(JournalError::io(&copy, "cannot read the job's procedure"))?;
    if sha256(&text) != head.sha256 {
        return Err(JournalError::OtherProcedure { path: copy });
    }
    procedure::parse(&copy.display().to_string(), &text)
        .map_err(|e| JournalError::Procedure { path: copy, reason: e.to_string() })
}

fn new_folder(root: &Path, id: &str, at: At) -> Result<PathBuf, JournalError> {
    let day = jiff::Timestamp::from_millisecond(at.0)
        .map(|t| t.to_zoned_datetime(jiff::tz::TimeZone::UTC).strftime("%Y-%m-%d").to_string())
        .unwrap_or_else(|_| "undated".into());
    let mut n = 1u32;
    loop {
        let path = root.join(if n == 1 { format!("{id}-{day}") } else { format!("{id}-{day}-{n}") });
        match fs::create_dir(&path) {
            Ok(()) => return Ok(path),
            Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => n += 1,
            Err(e) => return Err(JournalError::io(path, "cannot make the job's folder")(e)),
        }
    }
}

fn lock(path: &Path) -> Result<File, JournalError> {
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

fn append_to(file: &Path) -> Result<File, JournalError> {
    OpenOptions::new().append(true).open(file).map_err(JournalError::io(file, "cannot open the journal"))
}

fn write_synced(path: &Path, bytes: &[u8]) -> Result<(), JournalError> {
    File::create_new(path)
        .and_then(|mut f| f.write_all(bytes).and_then(|()| f.sync_all()))
        .map_err(JournalError::io(path, "cannot write"))
}

fn sha256(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().map(|b| format!("{b:02x}")).collect()
}

fn json(path: &Path, error: serde_json::Error) -> JournalError {
    JournalError::io(path.join(JOURNAL), "cannot write a command")(error.into())
}

/// The jobs below `root`, the latest begun last. A folder that is no job is passed over.
pub fn list(root: &Path) -> Result<Vec<Summary>, JournalError> {
    let entries = match fs::read_dir(root) {
        Ok(entries) => entries,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(e) => return Err(JournalError::io(root, "cannot list the jobs")(e)),
    };
    let mut jobs: Vec<(Summary, std::time::SystemTime)> = Vec::new();
    for entry in entries {
        let path = entry.map_err(JournalError::io(root, "cannot list the jobs"))?.path();
        let journal = path.join(JOURNAL);
        let Ok(text) = fs::read(&journal) else { continue };
        let mut lines = Lines { bytes: &text, at: 0, number: 0 };
        let Some(Ok(first)) = lines.next() else { continue };
        let Ok((head, _)) = line::read::<Head>(first, 0) else { continue };
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let touched = fs::metadata(&journal).and_then(|m| m.modified()).unwrap_or(std::time::UNIX_EPOCH);
        jobs.push((Summary { path, name, began: head.began }, touched));
    }
    jobs.sort_by(|(a, ta), (b, tb)| (ta, &a.name).cmp(&(tb, &b.name)));
    Ok(jobs.into_iter().map(|(job, _)| job).collect())
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
