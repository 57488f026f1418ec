//! The folder of a job: begun, taken up again, written on.

use super::disk::{
    JOURNAL, PROCEDURE, append_to, json, lock, new_folder, put_new, set_aside, sha256, sync_folder, take_turn,
    write_synced,
};
use super::line::{self, Entry, Head};
use super::replay::{Replayed, Why, replay};
use super::{JournalError, version};
use crate::files;
use crate::job::{At, Command, Job};
use crate::procedure::{self, Code, LoadError, Procedure, picture};
use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The folder of a job in which the pictures lie that its procedure names: the job shows them wherever that is by then.
pub const PICTURES: &str = "pictures";

/// The most that the pictures of a job take up.
const ALL_PICTURES: u64 = 32 << 20;

/// A job on disk, open for writing by this process alone.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
    pub(super) journal: File,
    next: u64,
    sum: u32,
    unchecked: usize,
    /// By how much the machine's clock was set since this process began.
    set: i64,
    /// Writing failed, or is under way.
    failed: bool,
    /// Held as long as this value lives.
    _lock: File,
}

/// A job to be begun.
#[derive(Debug, Clone, Copy)]
pub struct Begin<'a> {
    /// Where jobs are kept.
    pub root: &'a Path,
    /// The text of the procedure file.
    pub text: &'a str,
    /// What was loaded from it.
    pub book: &'a Procedure,
    /// Where the file lies, so that a change of it is noticed.
    pub file: Option<&'a Path>,
    /// How many findings of the check would have stopped the job, where the user begins it all the same.
    pub unchecked: usize,
    /// The moment.
    pub at: At,
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
    /// The job was begun although the check had found what must be put right in its procedure.
    Unchecked,
    /// The job was begun with version 0.1 of the program. Told once.
    Older,
    /// An end that could not be followed was cut off by request; it is kept in this file.
    Salvaged {
        /// Lines kept.
        kept: usize,
        /// Lines dropped.
        dropped: usize,
        /// Where the dropped lines are.
        aside: PathBuf,
    },
}

impl Folder {
    /// Begins a job in a new folder below `root`. `text` is the procedure file that `book` was loaded from.
    pub fn create(root: &Path, text: &str, book: &Procedure, at: At) -> Result<Folder, JournalError> {
        Folder::begin(&Begin { root, text, book, file: None, unchecked: 0, at })
    }

    /// The same, with all that there is to say about it.
    pub fn begin(begin: &Begin<'_>) -> Result<Folder, JournalError> {
        let Begin { root, text, book, file, unchecked, at } = *begin;
        files::make_private_folders(root).map_err(JournalError::io(root, "cannot make the folder for jobs"))?;
        let path = new_folder(root, &book.id, at)?;
        let lock = lock(&path)?;
        take_turn(&path, &lock);
        let copy = path.join(PROCEDURE);
        write_synced(&copy, text.as_bytes())?;
        keep_pictures(&path, file, book);
        let file = file.and_then(Path::to_str).map(str::to_owned);
        let (format, procedure) = (line::FORMAT, book.id.clone());
        let head = Head { format, procedure, sha256: sha256(text), began: at, file, unchecked };
        let (text, sum) = line::write(&head, 0).map_err(|e| json(&path, e))?;
        let file = path.join(JOURNAL);
        write_synced(&file, text.as_bytes())?;
        sync_folder(&path)?;
        sync_folder(root)?;
        let journal = append_to(&file)?;
        Ok(Folder { path, journal, next: 1, sum, unchecked, set: 0, failed: false, _lock: lock })
    }

    /// Begins a job in a folder that is there and held, with a part of it done already. Its journal comes into its place whole.
    pub(super) fn begin_in(
        path: PathBuf,
        lock: File,
        text: &str,
        book: &Arc<Procedure>,
        began: At,
        done: &[(Command, At)],
    ) -> Result<(Folder, Job), JournalError> {
        let (format, procedure) = (line::FORMAT, book.id.clone());
        let head = Head { format, procedure, sha256: sha256(text), began, file: None, unchecked: 0 };
        let (mut journal, mut sum) = line::write(&head, 0).map_err(|e| json(&path, e))?;
        let mut job = Job::new(book.clone());
        let mut next = 1;
        for (command, at) in done {
            if !job.apply(command.clone(), *at).recorded {
                let reason = "the steps that were told cannot be done in the book that was written of them".to_owned();
                return Err(JournalError::Procedure { path: path.join(PROCEDURE), reason });
            }
            let (by, state) = (Some(version::OWN.to_owned()), Some(line::hex(job.digest())));
            let entry = Entry { n: next, at: *at, wall: None, command: command.clone(), by, state };
            let (line, after) = line::write(&entry, sum).map_err(|e| json(&path, e))?;
            journal.push_str(&line);
            (next, sum) = (next + 1, after);
        }
        let file = path.join(JOURNAL);
        put_new(&file, journal.as_bytes())?;
        sync_folder(&path)?;
        let journal = append_to(&file)?;
        let folder = Folder { path, journal, next, sum, unchecked: 0, set: 0, failed: false, _lock: lock };
        Ok((folder, job))
    }

    /// Takes a job up again. With `salvage`, a journal that cannot be followed to its end is cut off behind the last
    /// line that can; the lines behind it are kept beside it.
    pub fn open(path: &Path, salvage: bool) -> Result<Opened, JournalError> {
        let lock = lock(path)?;
        let file = path.join(JOURNAL);
        let bytes = files::read(&file, files::DATA).map_err(JournalError::io(&file, "cannot read the journal"))?;
        let Replayed { head, job, next, mut sum, good, torn, broken, .. } = replay(path, &bytes, &mut |_| {})?;

        let mut notices = Vec::new();
        if head.file.as_ref().is_some_and(|file| changed(Path::new(file), &head.sha256)) {
            notices.push(Notice::BookChanged);
        }
        if head.unchecked > 0 {
            notices.push(Notice::Unchecked);
        }
        notices.extend(torn.map(|line| Notice::TornLine { line }));
        match broken {
            Some(broken) if salvage && !matches!(broken.why, Why::Newer(_)) => {
                let aside = set_aside(path, "journal", broken.line, &bytes[good..])?;
                let dropped = bytes[good..].split_inclusive(|&b| b == b'\n').count();
                notices.push(Notice::Salvaged { kept: broken.line - 1, dropped, aside });
            }
            Some(broken) => return Err(JournalError::broken(file, broken)),
            None => {}
        }
        if head.format < line::FORMAT {
            sum = upgrade(path, &bytes[..good])?;
            notices.push(Notice::Older);
        }
        take_turn(path, &lock);
        let journal = append_to(&file)?;
        if head.format == line::FORMAT && good < bytes.len() {
            journal.set_len(good as u64).map_err(JournalError::io(&file, "cannot cut off the torn end"))?;
            journal.sync_all().map_err(JournalError::io(&file, "cannot flush the journal"))?;
        }
        let (path, unchecked) = (path.to_owned(), head.unchecked);
        let folder = Folder { path, journal, next, sum, unchecked, set: 0, failed: false, _lock: lock };
        Ok(Opened { folder, job, notices })
    }

    /// The folder.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// So many findings of the check would have stopped the job; the user began it all the same.
    pub fn unchecked(&self) -> usize {
        self.unchecked
    }

    /// The clock of the machine was set, and is ahead by so many milliseconds of the one that the moments come from.
    pub fn clock_set(&mut self, ahead: i64) {
        self.set = ahead;
    }

    /// Writes one command that brought the job to where it stands; on disk when this returns. After an error the job
    /// must not go on: what was said to be done would not be recorded. Nothing more is written then, for it would follow
    /// on half a line.
    pub fn append(&mut self, command: &Command, at: At, job: &Job) -> Result<(), JournalError> {
        let io = |doing| JournalError::io(self.path.join(JOURNAL), doing);
        if std::mem::replace(&mut self.failed, true) {
            return Err(io("cannot write to the journal")(std::io::Error::other("writing to it failed before")));
        }
        let entry = Entry {
            n: self.next,
            at,
            wall: (self.set != 0).then(|| At(at.0.saturating_add(self.set))),
            command: command.clone(),
            by: Some(version::OWN.to_owned()),
            state: Some(line::hex(job.digest())),
        };
        let (text, sum) = line::write(&entry, self.sum).map_err(|e| json(&self.path, e))?;
        self.journal.write_all(text.as_bytes()).map_err(io("cannot write to the journal"))?;
        self.journal.sync_data().map_err(io("cannot flush the journal"))?;
        (self.next, self.sum, self.failed) = (self.next + 1, sum, false);
        Ok(())
    }
}

/// Is the procedure, with what it includes, another one than the job was begun by? One that is not there any more, or not in
/// this place, tells nothing. It is the one file outside of its folder that a journal may name: it is only compared.
fn changed(file: &Path, sha: &str) -> bool {
    match procedure::open(file) {
        Ok(whole) => sha256(whole.text()) != sha,
        Err(LoadError::Unreadable { .. }) => false,
        // What it includes is not what it was; where that is only gone, too, it tells nothing.
        Err(LoadError::Rejected(report)) => !report.findings.iter().all(|f| f.code == Code::IncludeUnreadable),
    }
}

/// Copies the pictures that the procedure names into the folder of the job. One that is missing, or for which there is no room,
/// keeps nobody from working: `check` tells of it, and the record names it.
fn keep_pictures(job: &Path, file: Option<&Path>, book: &Procedure) {
    let Some(folder) = file.and_then(|file| file.canonicalize().ok()).and_then(|file| Some(file.parent()?.to_owned()))
    else {
        return;
    };
    let mut left = ALL_PICTURES;
    for name in book.picture_files() {
        let Ok((_, bytes)) = picture::read(&folder, name) else { continue };
        let to = job.join(PICTURES).join(name);
        let Some(rest) = left.checked_sub(bytes.len() as u64) else { continue };
        let made = to.parent().is_some_and(|parent| files::make_private_folders(parent).is_ok());
        if made && write_synced(&to, &bytes).is_ok() {
            left = rest;
        }
    }
}

/// Writes a journal of format 1 anew in the format of today, line by line as it was, and puts it in the place of the old
/// one in one move, so that there is a whole one at any moment. An older program then says that it does not know the
/// format, where it would call the lines of this one damaged. Returns the last checksum.
fn upgrade(path: &Path, good: &[u8]) -> Result<u32, JournalError> {
    let file = path.join(JOURNAL);
    let damaged = |line, reason| JournalError::Damaged { path: file.clone(), line, reason };
    let (mut text, mut old_sum, mut sum) = (String::new(), 0, 0);
    for (n, line) in String::from_utf8_lossy(good).lines().enumerate() {
        let bad = |reason| damaged(n + 1, reason);
        let (written, before) = match n {
            0 => {
                let (head, before) = line::read::<Head>(line, old_sum).map_err(bad)?;
                (line::write(&Head { format: line::FORMAT, ..head }, sum), before)
            }
            _ => {
                let (entry, before) = line::read::<Entry>(line, old_sum).map_err(bad)?;
                (line::write(&entry, sum), before)
            }
        };
        let (line, after) = written.map_err(|e| json(path, e))?;
        text.push_str(&line);
        (old_sum, sum) = (before, after);
    }
    let mut new = files::unfinished(&file).map_err(JournalError::io(&file, "cannot write it anew"))?;
    new.write_all(text.as_bytes())
        .and_then(|()| new.as_file().sync_all())
        .map_err(JournalError::io(new.path(), "cannot write"))?;
    new.persist(&file).map_err(|e| JournalError::io(&file, "cannot put the journal in its place")(e.error))?;
    sync_folder(path)?;
    Ok(sum)
}
