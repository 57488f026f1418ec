//! Lines of other versions, and lines that come to something else than they did.

use super::*;

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
    let head = serde_json::json!({ "format": 1, "procedure": "small", "sha256": disk::sha256(BOOK), "began": 0 });
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
    // As versions named one that they were writing, and as this one does.
    for half in ["journal.jsonl.new", ".unfinished-a1B2c3"] {
        fs::write(disk.path.join(half), "half of a li").unwrap();
    }
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
