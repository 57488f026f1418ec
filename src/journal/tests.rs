//! Every way a disk, a power cut or a hand can spoil a job, and what the next start makes of it.

use super::folder::{JOURNAL, PROCEDURE};
use super::*;
use crate::job::{At, Command, Job, StepState};
use crate::procedure;
use proptest::prelude::*;
use proptest::test_runner::TestRunner;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

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
    let sha256 = folder::sha256(&text);
    head_alone(&disk, serde_json::json!({ "format": 1, "procedure": "small", "sha256": sha256, "began": 0 }));
    let error = disk.open().unwrap_err();
    assert!(matches!(&error, JournalError::Procedure { reason, .. } if reason.contains("closed")), "{error}");
}

/// The journal with one line more, whose checksum fits.
fn with_line(disk: &Disk, lines: &[String], entry: &serde_json::Value) {
    let last = lines.last().unwrap();
    let sum = u32::from_str_radix(&last[last.len() - 11..last.len() - 3], 16).unwrap();
    disk.write((lines.concat() + &line::write(entry, sum).unwrap().0).as_bytes());
}

/// A line as this program writes it, with the digest that the job has after its command.
fn entry(command: Command, n: u64, at: i64) -> serde_json::Value {
    let mut job = job_after(COMMANDS.len());
    job.apply(command.clone(), At(at));
    serde_json::json!({ "n": n, "at": at, "command": command, "by": version::OWN, "state": line::hex(job.digest()) })
}

#[test]
fn a_line_that_is_not_well_formed_is_refused_though_its_checksum_fits() {
    let disk = Disk::new();
    let lines = disk.lines();
    let with = |key: &str, value: serde_json::Value| {
        let mut entry = entry(Command::Mark, 9, 9_000);
        entry[key] = value;
        entry
    };
    let mut without = entry(Command::Mark, 9, 9_000);
    without.as_object_mut().unwrap().remove("state");
    for (entry, reason) in [
        (with("n", 10.into()), "numbered 10, not 9"),
        (with("command", "dance".into()), "dance"),
        (with("more", 1.into()), "more"),
        (without, "a version without a digest"),
    ] {
        with_line(&disk, &lines, &entry);
        match disk.open() {
            Err(JournalError::Damaged { line: 10, reason: found, .. }) => assert!(found.contains(reason), "{found}"),
            other => panic!("{entry}: {other:?}"),
        }
    }
}

#[test]
fn a_line_that_comes_to_something_else_than_it_did_is_refused_by_all_and_named() {
    let disk = Disk::new();
    let lines = disk.lines();
    let mut other = entry(Command::Mark, 9, 9_000);
    other["state"] = "0123456789abcdef".into();
    for (entry, reason) in [(other, "not where it was"), (entry(Command::Yes, 9, 9_000), "cannot follow")] {
        with_line(&disk, &lines, &entry);
        let error = disk.open().unwrap_err();
        let JournalError::Differs { line: 10, by, .. } = &error else { panic!("{error}") };
        assert_eq!(by, version::OWN);
        let told = error.to_string();
        assert!(told.contains(reason) && told.contains("9 good lines") && told.contains("--salvage"), "{told}");
        // Whoever only looks gets what stands before it, and is told.
        let mut seen = 0;
        let looked = look(&disk.path, &mut |_| seen += 1).unwrap();
        assert!(looked.broken.is_some_and(|b| b.line == 10) && seen == COMMANDS.len());
        assert!(same(&looked.job, &job_after(COMMANDS.len())), "the line itself leaves nothing behind");
        let Opened { job, notices, .. } = Folder::open(&disk.path, true).unwrap();
        assert!(matches!(notices[..], [Notice::Salvaged { kept: 9, dropped: 1, .. }]), "{notices:?}");
        assert!(same(&job, &job_after(COMMANDS.len())));
    }
}

#[test]
fn a_line_of_a_newer_program_is_refused_and_never_cut_off() {
    let disk = Disk::new();
    let mut newer = entry(Command::Mark, 9, 9_000);
    newer["by"] = "99.1.0".into();
    with_line(&disk, &disk.lines(), &newer);
    let bytes = disk.bytes();
    for salvage in [false, true] {
        let error = Folder::open(&disk.path, salvage).unwrap_err().to_string();
        assert!(error.contains("line 10 was written by wrenchside 99.1.0") && error.contains("newer"), "{error}");
    }
    assert_eq!(disk.bytes(), bytes);
}

/// The journal as version 0.1 would have written it.
fn as_first_format(disk: &Disk) -> Vec<String> {
    let (mut sum, mut old) = (0, Vec::new());
    let head = serde_json::json!({ "format": 1, "procedure": "small", "sha256": folder::sha256(BOOK), "began": 0 });
    let facts = COMMANDS
        .into_iter()
        .enumerate()
        .map(|(n, command)| serde_json::json!({ "n": n + 1, "at": 1_000 * n as i64, "command": command }));
    for value in std::iter::once(head).chain(facts) {
        let (line, after) = line::write(&value, sum).unwrap();
        (sum, _) = (after, old.push(line));
    }
    disk.write(old.concat().as_bytes());
    old
}

#[test]
fn a_journal_of_version_0_1_opens_is_told_once_and_goes_on_in_todays_format() {
    let disk = Disk::new();
    as_first_format(&disk);
    let mut opened = disk.open().unwrap();
    assert_eq!(opened.notices, [Notice::Older]);
    assert!(same(&opened.job, &disk.job));
    opened.mark(At(9_000)).unwrap();
    let job = opened.job.clone();
    drop(opened);
    let again = disk.open().unwrap();
    assert!(same(&again.job, &job) && again.notices.is_empty(), "{:?}", again.notices);
    let lines = disk.lines();
    assert!(lines[0].contains("\"format\":2") && lines[8].contains("\"command\":\"resume\",\"sum\""), "{lines:?}");
    assert!(lines[9].contains("\"by\""));
}

#[test]
fn a_journal_of_version_0_1_that_was_torn_or_half_written_anew_loses_nothing_else() {
    let disk = Disk::new();
    let old = as_first_format(&disk).concat();
    disk.write(&old.as_bytes()[..old.len() - 4]);
    fs::write(disk.path.join("journal.jsonl.new"), "half of a li").unwrap();
    let opened = disk.open().unwrap();
    assert_eq!(opened.notices, [Notice::TornLine { line: 9 }, Notice::Older]);
    assert!(same(&opened.job, &job_after(7)));
    drop(opened);
    assert!(disk.open().unwrap().notices.is_empty());
    assert_eq!(disk.lines().len(), 8);
}

#[test]
fn moments_of_a_session_in_which_the_clock_was_set_are_put_right() {
    let disk = Disk::new();
    let mut opened = disk.open().unwrap();
    let resumed = At(20_000);
    opened.job.apply(Command::Resume, resumed);
    opened.folder.append(&Command::Resume, resumed, &opened.job).unwrap();
    let set = 1_790_000_000_000;
    opened.folder.clock_set(set);
    opened.mark(At(21_000)).unwrap();
    drop(opened);
    assert!(disk.lines().last().unwrap().contains("\"at\":21000,\"wall\":1790000021000,"), "{:?}", disk.lines());
    let looked = look(&disk.path, &mut |_| {}).unwrap();
    let right = |at: i64| looked.put_right.get(&At(at)).map(|at| at.0);
    assert_eq!(right(20_000), Some(set + 20_000), "all of its session, what came before that too");
    assert_eq!((right(21_000), right(6_000)), (Some(set + 21_000), None));
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
    assert_eq!(names(), [("small-1970-01-02".into(), At(86_400_000)), ("small-1970-01-01".into(), At(0))]);
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
