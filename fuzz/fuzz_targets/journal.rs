//! Any bytes as a journal, and any commands as a job.
//!
//! A line of the input that is a command in JSON is given to a job and, if it is recorded, appended to the journal, with
//! good checksums, which chance would never make. A line that begins with a number lets so many milliseconds pass. From
//! the first line that is neither, the input is added to the journal as it stands. The job that is taken up again must
//! be the job that was left.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::fs::{self, OpenOptions};
use std::io::Write;
use std::path::Path;
use std::sync::{Arc, LazyLock};
use tempfile::TempDir;
use wrenchside::job::{At, Command, Job};
use wrenchside::journal::{Folder, JournalError};
use wrenchside::procedure::{self, Procedure};

const BOOK: &str = include_str!("../seeds/procedure/tarnfell-front-brakes.toml");

/// In memory where that can be had: what is tried is what is made of the bytes, not how long a disk takes.
static ROOT: LazyLock<TempDir> =
    LazyLock::new(|| tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir()).expect("a folder"));
static READ: LazyLock<Arc<Procedure>> =
    LazyLock::new(|| Arc::new(procedure::parse("brakes", BOOK).expect("the procedure is good")));

fn same(a: &Job, b: &Job) -> bool {
    (a.ledger(), a.position(), a.question(), a.facts()) == (b.ledger(), b.position(), b.question(), b.facts())
        && (a.last_change(), a.next_due(), a.closed()) == (b.last_change(), b.next_due(), b.closed())
        && a.digest() == b.digest()
}

fn try_it(path: &Path, mut folder: Folder, data: &[u8]) {
    let mut job = Job::new(READ.clone());
    let mut now = 0i64;
    let mut rest = data;
    while !rest.is_empty() {
        let end = rest.iter().position(|b| *b == b'\n').unwrap_or(rest.len());
        let Ok(line) = std::str::from_utf8(&rest[..end]) else { break };
        if let Ok(wait) = line.parse::<i64>() {
            now = now.saturating_add(wait);
        } else if let Ok(command) = serde_json::from_str::<Command>(line) {
            if job.apply(command.clone(), At(now)).recorded {
                folder.append(&command, At(now), &job).expect("room to write");
            }
        } else {
            break;
        }
        rest = rest.get(end + 1..).unwrap_or_default();
    }
    drop(folder);
    let journal = path.join("journal.jsonl");
    let good = fs::read(&journal).expect("it is there");
    let lines = good.iter().filter(|b| **b == b'\n').count();
    let mut file = OpenOptions::new().append(true).open(&journal).expect("it is there");
    file.write_all(rest).expect("room to write");
    drop(file);

    match Folder::open(path, false) {
        Ok(opened) => {
            assert!(same(&opened.job, &job), "taken up as another job");
            assert_eq!(opened.notices.is_empty(), rest.is_empty());
        }
        Err(JournalError::Damaged { line, .. }) => {
            assert!(rest.contains(&b'\n'), "what was written well is damaged at line {line}");
            assert_eq!(line, lines + 1);
        }
        Err(other) => panic!("{other}"),
    }
    let opened = Folder::open(path, true).expect("good lines can be saved");
    assert!(same(&opened.job, &job), "saved as another job");
    drop(opened);

    // The bytes alone, without a good line before them.
    fs::write(&journal, data).expect("room to write");
    if let Err(error) = Folder::open(path, true) {
        let _ = error.to_string();
    }
}

fuzz_target!(|data: &[u8]| {
    let folder = Folder::create(ROOT.path(), BOOK, &READ, At(0)).expect("room to write");
    let path = folder.path().to_owned();
    try_it(&path, folder, data);
    fs::remove_dir_all(&path).expect("it can be taken away");
});
