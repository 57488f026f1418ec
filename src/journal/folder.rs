//! The folder of a job: begun, taken up again, listed, found.

use super::JournalError;
use super::line::{self, Fact, Format, Head};
use crate::job::{At, Command, Job};
use crate::procedure::{self, Procedure};
use sha2::{Digest, Sha256};
use std::fs::{self, File, OpenOptions};
use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

pub(super) const PROCEDURE: &str = "procedure.toml";
pub(super) const JOURNAL: &str = "journal.jsonl";
const LOCK: &str = "lock";

/// A job on disk, open for writing by this process alone.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
    pub(super) journal: File,
    next: u64,
    sum: u32,
    /// Writing failed, or is under way.
    failed: bool,
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
    /// The procedure file was changed since the job began; the job goes by its copy.
    BookChanged,
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
        Folder::create_from(root, text, book, None, at)
    }

    /// The same, and remembers where the procedure file lies, so that a change of it is noticed.
    pub fn create_from(
        root: &Path,
        text: &str,
        book: &Procedure,
        file: Option<&Path>,
        at: At,
    ) -> Result<Folder, JournalError> {
        fs::create_dir_all(root).map_err(JournalError::io(root, "cannot make the folder for jobs"))?;
        let path = new_folder(root, &book.id, at)?;
        let lock = lock(&path)?;
        let copy = path.join(PROCEDURE);
        write_synced(&copy, text.as_bytes())?;
        let file = file.and_then(Path::to_str).map(str::to_owned);
        let head = Head { format: line::FORMAT, procedure: book.id.clone(), sha256: sha256(text), began: at, file };
        let (text, sum) = line::write(&head, 0).map_err(|e| json(&path, e))?;
        let file = path.join(JOURNAL);
        write_synced(&file, text.as_bytes())?;
        sync_folder(&path)?;
        sync_folder(root)?;
        let journal = append_to(&file)?;
        Ok(Folder { path, journal, next: 1, sum, failed: false, _lock: lock })
    }

    /// Takes a job up again. With `salvage`, a journal damaged in the middle keeps the good lines before the damage.
    pub fn open(path: &Path, salvage: bool) -> Result<Opened, JournalError> {
        let lock = lock(path)?;
        let file = path.join(JOURNAL);
        let bytes = fs::read(&file).map_err(JournalError::io(&file, "cannot read the journal"))?;
        let damaged = |line, reason: String| JournalError::Damaged { path: file.clone(), line, reason };

        let mut notices = Vec::new();
        let mut lines = Lines { bytes: &bytes, at: 0, number: 0 };
        let first = match lines.next() {
            Some(read) => read.map_err(|fault| damaged(1, fault.reason()))?,
            None => return Err(damaged(1, "the journal is empty".into())),
        };
        let (Format { format }, mut sum) = line::read(first, 0).map_err(|reason| damaged(1, reason))?;
        if format > line::FORMAT {
            return Err(JournalError::Newer { path: file, found: format });
        }
        let (head, _) = line::read::<Head>(first, 0).map_err(|reason| damaged(1, reason))?;
        let mut job = Job::new(Arc::new(copy_of_procedure(path, &head)?));
        // One that is not there any more, or not in this place, tells nothing.
        if head.file.as_ref().and_then(|f| fs::read_to_string(f).ok()).is_some_and(|now| sha256(&now) != head.sha256) {
            notices.push(Notice::BookChanged);
        }
        let mut next = 1;
        let mut good = lines.at;
        while let Some(read) = lines.next() {
            match read.and_then(|text| replay(&mut job, text, next, sum)) {
                Ok(new_sum) => (sum, next, good) = (new_sum, next + 1, lines.at),
                // Only what follows the last line end was never finished, so never answered.
                Err(Fault::Torn) => notices.push(Notice::TornLine { line: lines.number }),
                Err(_) if salvage => {
                    let aside = set_aside(path, lines.number, &bytes)?;
                    notices.push(Notice::Salvaged { kept: lines.number - 1, aside });
                    break;
                }
                Err(fault) => return Err(damaged(lines.number, fault.reason())),
            }
        }
        let journal = append_to(&file)?;
        if good < bytes.len() {
            journal.set_len(good as u64).map_err(JournalError::io(&file, "cannot cut off the torn end"))?;
            journal.sync_all().map_err(JournalError::io(&file, "cannot flush the journal"))?;
        }
        let folder = Folder { path: path.to_owned(), journal, next, sum, failed: false, _lock: lock };
        Ok(Opened { folder, job, notices })
    }

    /// The folder.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes one command; on disk when this returns. After an error the job must not go on: what was said to be
    /// done would not be recorded. Nothing more is written then, for it would follow on half a line.
    pub fn append(&mut self, command: &Command, at: At) -> Result<(), JournalError> {
        let io = |doing| JournalError::io(self.path.join(JOURNAL), doing);
        if std::mem::replace(&mut self.failed, true) {
            return Err(io("cannot write to the journal")(std::io::Error::other("writing to it failed before")));
        }
        let fact = Fact { n: self.next, at, command: command.clone() };
        let (text, sum) = line::write(&fact, self.sum).map_err(|e| json(&self.path, e))?;
        self.journal.write_all(text.as_bytes()).map_err(io("cannot write to the journal"))?;
        self.journal.sync_data().map_err(io("cannot flush the journal"))?;
        (self.next, self.sum, self.failed) = (self.next + 1, sum, false);
        Ok(())
    }
}

/// Gives the job the command of a line, and returns the checksum of the line.
fn replay(job: &mut Job, text: &str, n: u64, before: u32) -> Result<u32, Fault> {
    let (fact, sum) = line::read::<Fact>(text, before).map_err(Fault::Damaged)?;
    if fact.n != n {
        return Err(Fault::Damaged(format!("it is numbered {}, not {n}", fact.n)));
    }
    // Only what changed the job was written. A command that changes nothing now meets another job than it did then.
    if !job.apply(fact.command, fact.at).recorded {
        return Err(Fault::Damaged("what it says cannot follow on the lines before it".into()));
    }
    Ok(sum)
}

/// Why a line is not used.
enum Fault {
    /// It has no line end: it is the last one and was never finished.
    Torn,
    Damaged(String),
}

impl Fault {
    fn reason(self) -> String {
        match self {
            Fault::Torn => "it is cut short".into(),
            Fault::Damaged(reason) => reason,
        }
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
        Some(std::str::from_utf8(&rest[..end]).map_err(|_| Fault::Damaged("it is not text".into())))
    }
}

/// Keeps a damaged journal beside the job, under a name that no other one has.
fn set_aside(path: &Path, line: usize, bytes: &[u8]) -> Result<PathBuf, JournalError> {
    let mut n = 1u32;
    loop {
        let aside = path.join(match n {
            1 => format!("journal.damaged-{line}.jsonl"),
            _ => format!("journal.damaged-{line}-{n}.jsonl"),
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
fn sync_folder(dir: &Path) -> Result<(), JournalError> {
    File::open(dir).and_then(|d| d.sync_all()).map_err(JournalError::io(dir, "cannot flush the folder"))
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
        .map(|t| t.strftime("%Y-%m-%d").to_string())
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

pub(super) fn sha256(text: &str) -> String {
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
        let Some(head) = head(&journal) else { continue };
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let touched = fs::metadata(&journal).and_then(|m| m.modified()).unwrap_or(std::time::UNIX_EPOCH);
        jobs.push((Summary { path, name, began: head.began }, touched));
    }
    jobs.sort_by(|(a, ta), (b, tb)| (ta, &a.name).cmp(&(tb, &b.name)));
    Ok(jobs.into_iter().map(|(job, _)| job).collect())
}

/// What the first line of a journal says, without reading the others; `None` where it says nothing.
fn head(journal: &Path) -> Option<Head> {
    let mut first = String::new();
    let journal = File::open(journal).ok()?.take(line::LONGEST_HEAD);
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
