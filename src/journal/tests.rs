//! Every way a disk, a power cut or a hand can spoil a job, and what the next start makes of it.

use super::disk::{JOURNAL, PROCEDURE};
use super::*;
use crate::job::{At, Command, Job, StepState};
use crate::procedure;
use proptest::prelude::*;
use proptest::test_runner::TestRunner;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

mod versions;

const BOOK: &str = r#"
format = 1

[procedure]
id = "small"
title = "Something small"
vehicle = "Tarnfell 15"
language = "en"
revision = "1"
author = "nobody"

[source]
title = "Invented"
edition = "first"

[[step]]
id = "one"
phase = "prepare"
say = "Lay it out."

[[step]]
id = "two"
phase = "close"
say = "Put it away."
"#;

/// Each of them changes the job, so each is a line.
const COMMANDS: [Command; 8] = [
    Command::Open,
    Command::Mark,
    Command::Skip,
    Command::Timer(10),
    Command::No,
    Command::Next,
    Command::Back,
    Command::Resume,
];

/// A place for jobs, and one job in it that was given `COMMANDS` and put away.
struct Disk {
    root: TempDir,
    path: PathBuf,
    job: Job,
}

impl Disk {
    fn new() -> Disk {
        let root = scratch();
        let book = procedure::parse("small.toml", BOOK).expect("the procedure is good");
        let mut folder = Folder::create(root.path(), BOOK, &book, At(0)).unwrap();
        let mut job = Job::new(std::sync::Arc::new(book));
        for (n, command) in COMMANDS.into_iter().enumerate() {
            let at = At(1_000 * n as i64);
            assert!(job.apply(command.clone(), at).recorded, "{command:?}");
            folder.append(&command, at, &job).unwrap();
        }
        Disk { path: folder.path().to_owned(), root, job }
    }

    fn journal(&self) -> PathBuf {
        self.path.join(JOURNAL)
    }

    fn bytes(&self) -> Vec<u8> {
        fs::read(self.journal()).unwrap()
    }

    fn write(&self, bytes: &[u8]) {
        fs::write(self.journal(), bytes).unwrap();
    }

    fn lines(&self) -> Vec<String> {
        String::from_utf8(self.bytes()).unwrap().lines().map(|l| format!("{l}\n")).collect()
    }

    fn open(&self) -> Result<Opened, JournalError> {
        Folder::open(&self.path, false)
    }
}

impl Opened {
    /// Sets a mark, and writes it.
    fn mark(&mut self, at: At) -> Result<(), JournalError> {
        self.job.apply(Command::Mark, at);
        self.folder.append(&Command::Mark, at, &self.job)
    }
}

/// In memory where that can be had: what is tried here is what is made of the bytes, not how long a disk takes.
fn scratch() -> TempDir {
    tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir()).unwrap()
}

/// The job after the first `n` commands.
fn job_after(n: usize) -> Job {
    let book = procedure::parse("small.toml", BOOK).unwrap();
    let mut job = Job::new(std::sync::Arc::new(book));
    for (i, command) in COMMANDS.into_iter().take(n).enumerate() {
        job.apply(command, At(1_000 * i as i64));
    }
    job
}

fn same(a: &Job, b: &Job) -> bool {
    (a.ledger(), a.position(), a.question(), a.facts()) == (b.ledger(), b.position(), b.question(), b.facts())
        && (a.last_change(), a.next_due()) == (b.last_change(), b.next_due())
}

#[test]
fn a_job_is_taken_up_as_it_was_left_and_goes_on() {
    let disk = Disk::new();
    let Opened { mut folder, mut job, notices } = disk.open().unwrap();
    assert!(same(&job, &disk.job) && notices.is_empty(), "{notices:?}");
    job.apply(Command::Next, At(9_000));
    folder.append(&Command::Next, At(9_000), &job).unwrap();
    drop(folder);
    let again = disk.open().unwrap();
    assert!(same(&again.job, &job));
    assert_eq!((again.job.ledger().step(0), again.job.position()), (StepState::Done, 1));
}

#[test]
fn a_line_is_in_the_file_when_append_returns() {
    let disk = Disk::new();
    let mut opened = disk.open().unwrap();
    opened.mark(At(5)).unwrap();
    let last = disk.lines().pop().unwrap();
    let (by, state) = (version::OWN, line::hex(opened.job.digest()));
    let wanted = format!(r#"{{"n":9,"at":5,"command":"mark","by":"{by}","state":"{state}","sum":""#);
    assert!(last.starts_with(&wanted) && last.ends_with("\"}\n"), "{last}");
}

#[test]
fn cut_off_at_any_byte_it_opens_with_the_last_line_lost_at_most() {
    let disk = Disk::new();
    let whole = disk.bytes();
    let head = disk.lines()[0].len();
    for cut in 0..=whole.len() {
        disk.write(&whole[..cut]);
        if cut < head {
            assert!(matches!(disk.open(), Err(JournalError::Damaged { line: 1, .. })), "cut at {cut}");
            continue;
        }
        let complete = whole[..cut].iter().filter(|&&b| b == b'\n').count();
        let torn = whole[..cut].last() != Some(&b'\n');
        let opened = disk.open().unwrap_or_else(|e| panic!("cut at {cut}: {e}"));
        assert!(same(&opened.job, &job_after(complete - 1)), "cut at {cut}");
        let told = if torn { vec![Notice::TornLine { line: complete + 1 }] } else { Vec::new() };
        assert_eq!(opened.notices, told, "cut at {cut}");
        drop(opened);
        assert!(disk.open().unwrap().notices.is_empty(), "the torn end is gone the next time");
    }
}

#[test]
fn after_a_torn_line_the_job_is_written_on_well() {
    let disk = Disk::new();
    let whole = disk.bytes();
    disk.write(&whole[..whole.len() - 3]);
    let mut opened = disk.open().unwrap();
    opened.mark(At(8_000)).unwrap();
    drop(opened);
    let opened = disk.open().unwrap();
    assert!(opened.notices.is_empty());
    let marks = opened.job.facts().iter().filter(|f| matches!(f.fact, crate::job::Fact::Mark(_))).count();
    assert_eq!(marks, 2);
}

#[test]
fn a_flipped_bit_anywhere_is_noticed() {
    let disk = Disk::new();
    let whole = disk.bytes();
    for at in 0..whole.len() {
        // Every byte, and over neighbouring bytes every bit; the case of a letter is the one that slips through.
        for bit in [at % 8, 5] {
            let mut bytes = whole.clone();
            bytes[at] ^= 1 << bit;
            disk.write(&bytes);
            match disk.open() {
                Err(JournalError::Damaged { .. }) => {}
                // Only the very end can look unfinished.
                Ok(opened) => {
                    assert_eq!(at, whole.len() - 1, "byte {at}, bit {bit}");
                    assert_eq!(opened.notices, [Notice::TornLine { line: 9 }]);
                }
                Err(other) => panic!("byte {at}, bit {bit}: {other}"),
            }
        }
    }
}

#[test]
fn a_line_left_out_doubled_or_moved_is_noticed() {
    let disk = Disk::new();
    let lines = disk.lines();
    for line in 1..lines.len() - 1 {
        let mut without = lines.clone();
        without.remove(line);
        let mut doubled = lines.clone();
        doubled.insert(line, lines[line].clone());
        let mut moved = lines.clone();
        moved.swap(line, line + 1);
        for (what, lines, at) in
            [("left out", without, line + 1), ("doubled", doubled, line + 2), ("moved", moved, line + 1)]
        {
            disk.write(lines.concat().as_bytes());
            match disk.open() {
                Err(JournalError::Damaged { line: found, .. }) => assert_eq!(found, at, "{what}"),
                other => panic!("line {line} {what}: {other:?}"),
            }
        }
    }
}

#[test]
fn a_damaged_middle_is_refused_with_its_line_and_the_way_out() {
    let disk = Disk::new();
    let mut lines = disk.lines();
    lines[4] = lines[4].replace("10", "20");
    disk.write(lines.concat().as_bytes());
    let error = disk.open().unwrap_err().to_string();
    assert!(error.starts_with(&disk.journal().display().to_string()), "{error}");
    assert!(error.contains("line 5 is damaged: its checksum does not fit. The 4 good lines"), "{error}");
    assert!(error.contains("--salvage"), "{error}");
    assert_eq!(disk.lines(), lines, "nothing was changed by looking");
}

#[test]
fn salvage_keeps_the_good_head_and_the_lines_it_drops() {
    let disk = Disk::new();
    let mut asides = Vec::new();
    for _ in 0..2 {
        let mut lines = disk.lines();
        lines.truncate(6);
        lines[4] = lines[4].replace("timer", "tamer");
        disk.write(lines.concat().as_bytes());
        let Opened { mut folder, mut job, notices } = Folder::open(&disk.path, true).unwrap();
        assert!(same(&job, &job_after(3)));
        let [Notice::Salvaged { kept: 4, dropped: 2, aside }] = &notices[..] else { panic!("{notices:?}") };
        assert_eq!(fs::read_to_string(aside).unwrap(), lines[4..].concat());
        asides.push(aside.clone());
        for command in [Command::Timer(10), Command::No] {
            assert!(job.apply(command.clone(), At(3_000)).recorded);
            folder.append(&command, At(3_000), &job).unwrap();
        }
        drop(folder);
        assert!(disk.open().unwrap().notices.is_empty());
    }
    assert_ne!(asides[0], asides[1], "the first one is kept as well");
}

#[test]
fn a_damaged_head_cannot_be_salvaged() {
    let disk = Disk::new();
    let mut bytes = disk.bytes();
    bytes[20] ^= 1;
    disk.write(&bytes);
    for salvage in [false, true] {
        let error = Folder::open(&disk.path, salvage).unwrap_err().to_string();
        assert!(error.contains("line 1 is damaged") && error.contains("cannot be taken up"), "{error}");
    }
    assert_eq!(disk.bytes(), bytes);
}

#[test]
fn an_empty_journal_is_damaged_and_a_missing_one_is_said_to_be_missing() {
    let disk = Disk::new();
    disk.write(b"");
    assert!(matches!(disk.open(), Err(JournalError::Damaged { line: 1, .. })));
    fs::remove_file(disk.journal()).unwrap();
    assert!(matches!(disk.open(), Err(JournalError::Io { doing: "cannot read the journal", .. })));
}

#[test]
fn another_procedure_than_the_one_begun_with_is_refused() {
    let disk = Disk::new();
    let copy = disk.path.join(PROCEDURE);
    fs::write(&copy, BOOK.replace("Put it away.", "Put it back.")).unwrap();
    assert!(matches!(disk.open(), Err(JournalError::OtherProcedure { path }) if path == copy));
    fs::remove_file(&copy).unwrap();
    assert!(matches!(disk.open(), Err(JournalError::Io { path, .. }) if path == copy));
}

/// A journal of one line that says this, with a checksum that fits.
fn head_alone(disk: &Disk, head: serde_json::Value) {
    disk.write(line::write(&head, 0).unwrap().0.as_bytes());
}

#[test]
fn a_newer_format_is_refused_whatever_else_its_head_says() {
    let disk = Disk::new();
    head_alone(&disk, serde_json::json!({ "format": 3, "colour": "blue" }));
    let error = disk.open().unwrap_err();
    assert!(matches!(error, JournalError::Newer { found: 3, .. }), "{error}");
}

#[test]
fn a_copy_that_is_no_procedure_any_more_says_why() {
    let disk = Disk::new();
    let text = BOOK.replace("phase = \"close\"", "phase = \"closed\"");
    fs::write(disk.path.join(PROCEDURE), &text).unwrap();
    let sha256 = disk::sha256(&text);
    head_alone(&disk, serde_json::json!({ "format": 1, "procedure": "small", "sha256": sha256, "began": 0 }));
    let error = disk.open().unwrap_err();
    assert!(matches!(&error, JournalError::Procedure { reason, .. } if reason.contains("closed")), "{error}");
}

#[test]
fn a_second_writer_is_refused_until_the_first_lets_go() {
    let disk = Disk::new();
    let first = disk.open().unwrap();
    assert!(matches!(disk.open(), Err(JournalError::Busy { path }) if path == disk.path));
    drop(first);
    disk.open().unwrap();
}

#[test]
fn nothing_is_written_after_a_write_that_failed() {
    let disk = Disk::new();
    let before = disk.bytes();
    let mut opened = disk.open().unwrap();
    let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let good = std::mem::replace(&mut opened.folder.journal, full);
    let error = opened.mark(At(0)).unwrap_err();
    assert!(matches!(&error, JournalError::Io { source, .. } if source.kind() == std::io::ErrorKind::StorageFull));
    // The disk has room again; but what was said to be done is not in the journal.
    opened.folder.journal = good;
    let error = opened.mark(At(0)).unwrap_err().to_string();
    assert!(error.contains("failed before"), "{error}");
    assert_eq!(disk.bytes(), before);
}

#[test]
fn a_read_only_journal_is_an_error_and_no_panic() {
    let disk = Disk::new();
    let mut opened = disk.open().unwrap();
    opened.folder.journal = fs::File::open(disk.journal()).unwrap();
    assert!(opened.mark(At(0)).is_err());
}

#[test]
fn jobs_of_one_day_get_names_of_their_own() {
    let root = tempfile::tempdir().unwrap();
    let book = procedure::parse("small.toml", BOOK).unwrap();
    let noon = At(1_764_072_000_000);
    let names: Vec<String> = (0..3)
        .map(|_| Folder::create(&root.path().join("jobs"), BOOK, &book, noon).unwrap())
        .map(|f| f.path().file_name().unwrap().to_string_lossy().into_owned())
        .collect();
    assert_eq!(names, ["small-2025-11-25", "small-2025-11-25-2", "small-2025-11-25-3"]);
    let copy = root.path().join("jobs").join(&names[0]).join(PROCEDURE);
    assert_eq!(fs::read_to_string(copy).unwrap(), BOOK);
}

#[test]
fn jobs_are_listed_and_found_by_name_by_path_or_as_the_one_worked_on_last() {
    let root = tempfile::tempdir().unwrap();
    let book = procedure::parse("small.toml", BOOK).unwrap();
    let begin = |at: i64| Folder::create(root.path(), BOOK, &book, At(at)).unwrap().path().to_owned();
    let (older, newer) = (begin(0), begin(86_400_000));
    fs::create_dir(root.path().join("no job")).unwrap();
    fs::write(root.path().join("a file"), "x").unwrap();
    let touch = |path: &Path, seconds| {
        let file = fs::File::options().append(true).open(path.join(JOURNAL)).unwrap();
        file.set_modified(std::time::UNIX_EPOCH + std::time::Duration::from_secs(seconds)).unwrap();
    };
    // Not by the time of the file: the clock may have been set back.
    touch(&older, 1_000);
    touch(&newer, 2_000);
    drop(Folder::open(&older, false).unwrap());
    let names = || list(root.path()).unwrap().into_iter().map(|j| (j.name, j.began)).collect::<Vec<_>>();
    assert_eq!(names(), [("small-1970-01-02".into(), Some(At(86_400_000))), ("small-1970-01-01".into(), Some(At(0)))]);
    assert_eq!(find(root.path(), None).unwrap(), older);
    assert_eq!(find(root.path(), Some("small-1970-01-02")).unwrap(), newer);
    assert_eq!(find(Path::new("/nowhere"), Some(older.to_str().unwrap())).unwrap(), older);
    let error = find(root.path(), Some("big")).unwrap_err().to_string();
    assert!(error.contains("\"big\"") && error.contains("small-1970-01-01"), "{error}");
}

#[test]
fn where_there_are_no_jobs_the_list_is_empty_and_says_how_to_begin() {
    let root = tempfile::tempdir().unwrap();
    let nowhere = root.path().join("jobs");
    assert!(list(&nowhere).unwrap().is_empty());
    let error = find(&nowhere, None).unwrap_err().to_string();
    assert!(error.contains("wrenchside start"), "{error}");
}

#[test]
fn a_job_with_a_damaged_tail_is_listed_all_the_same() {
    let disk = Disk::new();
    let mut bytes = disk.bytes();
    bytes.extend([0xff; 200_000]);
    disk.write(&bytes);
    assert_eq!(list(disk.root.path()).unwrap().len(), 1);
}

/// Tries this with many values made by `strategy`.
fn for_any<S: Strategy>(strategy: S, test: impl Fn(S::Value) -> Result<(), TestCaseError>) {
    let config = ProptestConfig { cases: 1_000, failure_persistence: None, ..ProptestConfig::default() };
    TestRunner::new(config).run(&strategy, test).unwrap();
}

/// Whatever the bytes are, opening them is an answer, never a panic; and no job comes of bytes that have no head.
#[test]
fn arbitrary_bytes_are_answered() {
    let disk = Disk::new();
    for_any((prop::collection::vec(any::<u8>(), 0..400), any::<bool>()), |(bytes, salvage)| {
        disk.write(&bytes);
        let opened = Folder::open(&disk.path, salvage);
        prop_assert!(matches!(opened, Err(JournalError::Damaged { line: 1, .. })), "{opened:?}");
        Ok(())
    });
}

/// A good head with anything behind it: the job is the head's, or the first bad line is named; never a line more.
#[test]
fn arbitrary_lines_behind_a_good_head_are_answered() {
    let disk = Disk::new();
    let lines = disk.lines();
    let likely = "(\\{\"n\":[0-9]{1,3},\"at\":-?[0-9]{1,20},\"command\":(\"done\"|\"open\"|\\{\"timer\":1\\}),\"sum\":\"[0-9a-f]{8}\"\\}\n){0,3}";
    let tail = prop_oneof![prop::collection::vec(any::<u8>(), 0..300), likely.prop_map(String::into_bytes)];
    for_any((1..=lines.len(), tail), |(keep, tail)| {
        let mut bytes = lines[..keep].concat().into_bytes();
        bytes.extend(&tail);
        disk.write(&bytes);
        match Folder::open(&disk.path, false) {
            Ok(opened) => {
                prop_assert!(same(&opened.job, &job_after(keep - 1)));
                prop_assert_eq!(opened.notices.len(), usize::from(!tail.is_empty()));
            }
            Err(JournalError::Damaged { line, .. }) => prop_assert_eq!(line, keep + 1),
            Err(other) => prop_assert!(false, "{}", other),
        }
        disk.write(&bytes);
        let salvaged = Folder::open(&disk.path, true).map(|o| same(&o.job, &job_after(keep - 1)));
        prop_assert!(matches!(salvaged, Ok(true)), "{:?}", salvaged);
        for entry in fs::read_dir(&disk.path).unwrap().flatten() {
            if entry.file_name().to_string_lossy().starts_with("journal.dropped") {
                fs::remove_file(entry.path()).unwrap();
            }
        }
        Ok(())
    });
}
