//! What a job on disk says of itself, from outside: that nobody put its procedure right, that its journal cannot be
//! followed to the end, that it was begun before the clock was set.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Command as Process, Stdio};
use std::sync::Arc;
use wrenchside::job::{At, Command, Job};
use wrenchside::journal::Folder;
use wrenchside::procedure;

/// It loads, and the check finds one thing to put right in it.
const FAULTY: &str = "tests/faulty/support-left.toml";

const MINUTE: i64 = 60_000;

const CURING: &str = r#"
format = 1

[procedure]
id = "curing"
title = "Something glued"
vehicle = "Tarnfell 15"
language = "en"
revision = "1"
author = "nobody"

[source]
title = "Invented"
edition = "first"

[[step]]
id = "cure"
phase = "prepare"
say = "Leave it to cure."
wait_minutes = 15

[[step]]
id = "use"
phase = "close"
say = "Use it."
"#;

/// Runs the program; gives the exit code and what it printed, errors last.
fn run(jobs: &Path, args: &[&str], lines: &str) -> (i32, String) {
    let output = wrenchside().arg("--jobs").arg(jobs).args(args).write_stdin(lines).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap(), text(&output.stdout) + &text(&output.stderr))
}

fn only_job(jobs: &Path) -> PathBuf {
    fs::read_dir(jobs).unwrap().next().unwrap().unwrap().path()
}

/// Page, Markdown and JSON of the only job, and the exit code.
fn record(jobs: &Path) -> (i32, [String; 3]) {
    let files = ["page.html", "page.md", "page.json"].map(|name| jobs.with_extension(name));
    let [html, markdown, json] = files.each_ref().map(|file| file.to_str().unwrap());
    let (code, _) = run(jobs, &["record", "--html", html, "--markdown", markdown, "--json", json], "");
    (code, files.each_ref().map(|file| fs::read_to_string(file).unwrap()))
}

#[test]
fn a_job_is_not_begun_by_what_the_check_rejects_and_the_findings_are_shown() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    let (code, said) = run(&jobs, &["start", FAULTY, "--typed"], "");
    assert_eq!(code, 2, "{said}");
    for piece in ["support-left", "1 error, so no job is started", "--unchecked"] {
        assert!(said.contains(piece), "{piece} is missing in {said}");
    }
    assert!(!jobs.exists());
    // A warning stops nothing.
    let advised = dir.path().join("advised.toml");
    fs::write(&advised, CURING).unwrap();
    let (code, said) = run(&jobs, &["start", advised.to_str().unwrap(), "--typed"], "");
    assert_eq!(code, 0, "{said}");
    assert!(!said.contains("Mistakes were found"), "{said}");
}

#[test]
fn begun_unchecked_it_says_so_at_each_start_and_in_every_record() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    let told = "This procedure has errors that nobody has fixed.";
    let (code, said) = run(&jobs, &["start", FAULTY, "--typed", "--unchecked"], "done\n");
    assert!(code == 0 && said.contains(told), "{said}");
    let (code, said) = run(&jobs, &["resume", "--typed"], "");
    assert!(code == 0 && said.contains(told), "{said}");
    let head = fs::read_to_string(only_job(&jobs).join("journal.jsonl")).unwrap();
    assert!(head.lines().next().unwrap().contains("\"unchecked\":1"), "{head}");
    let (code, [html, markdown, json]) = record(&jobs);
    let face = "Errors that the check found before the job was begun anyway: 1.";
    assert!(code == 0 && html.contains(face) && markdown.contains(face), "{markdown}");
    assert_eq!(serde_json::from_str::<serde_json::Value>(&json).unwrap()["unchecked"], 1);
}

#[test]
fn begun_unchecked_the_page_for_the_bay_says_so() {
    let dir = tempfile::tempdir().unwrap();
    let mut program = Process::new(env!("CARGO_BIN_EXE_wrenchside"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg("--jobs")
        .arg(dir.path())
        .args(["start", FAULTY, "--typed", "--unchecked", "--glance=127.0.0.1:0"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(program.stdout.take().unwrap()).lines().map(Result::unwrap);
    let address = lines.find_map(|line| Some(line.split_once("http://")?.1.trim_end_matches('/').to_owned())).unwrap();
    let step = lines.find(|line| line.contains("Step 1."));
    let mut page = String::new();
    for _ in 0..50 {
        let mut stream = std::net::TcpStream::connect(&address).unwrap();
        write!(stream, "GET / HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n").unwrap();
        page.clear();
        stream.read_to_string(&mut page).unwrap();
        if page.contains("Step 1 of") {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    program.kill().unwrap();
    program.wait().unwrap();
    assert!(step.is_some() && page.contains("Procedure has errors"), "{page}");
}

#[test]
fn where_the_journal_cannot_be_followed_record_and_list_say_from_which_line() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    let procedure = dir.path().join("curing.toml");
    fs::write(&procedure, CURING).unwrap();
    run(&jobs, &["start", procedure.to_str().unwrap(), "--typed"], "mark\nmark\ndone\n");
    let journal = only_job(&jobs).join("journal.jsonl");
    let whole = fs::read_to_string(&journal).unwrap();
    fs::write(&journal, whole.replacen("\"n\":3,\"at\":1", "\"n\":3,\"at\":2", 1)).unwrap();
    let (code, [html, markdown, json]) = record(&jobs);
    assert_eq!(code, 1);
    let face = "Not the whole job: the journal cannot be followed from line 4: its checksum does not fit.";
    assert!(html.contains(face) && markdown.contains(face), "{markdown}");
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!((&json["broken"]["line"], json["facts"].as_array().unwrap().len()), (&4.into(), 1), "{json:#}");
    let (code, list) = run(&jobs, &["jobs"], "");
    assert!(code == 0 && list.contains("cannot be followed from line 4: its checksum does not fit"), "{list}");
    let (code, said) = run(&jobs, &["resume", "--typed"], "");
    assert!(code == 2 && said.contains("line 4 is damaged") && said.contains("--salvage"), "{said}");
    // The lines that are dropped are kept beside, and counted.
    let (code, said) = run(&jobs, &["resume", "--typed", "--salvage"], "");
    assert!(code == 0 && said.contains("The end of the journal is cut off: 2 lines."), "{said}");
    let dropped = fs::read_to_string(only_job(&jobs).join("journal.dropped-4.jsonl")).unwrap();
    assert_eq!(dropped.lines().count(), 2);
    assert_eq!(record(&jobs).0, 0);
}

#[test]
fn a_job_of_version_0_1_is_taken_up_and_that_is_told_once() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    let job = jobs.join("old");
    fs::create_dir_all(&job).unwrap();
    for file in ["procedure.toml", "journal.jsonl"] {
        fs::copy(Path::new("tests/data/journals/0.1.0/going").join(file), job.join(file)).unwrap();
    }
    assert_eq!(record(&jobs).0, 0, "it can be read as it is");
    let told = "This job was begun with version 0.1.";
    let resume = || run(&jobs, &["resume", "--typed"], "");
    assert!(resume().1.contains(told));
    let (code, said) = resume();
    assert!(code == 0 && !said.contains(told), "{said}");
}

/// A job that waits, begun at this moment, and three minutes on.
fn three_of_fifteen(jobs: &Path, began: i64) {
    let book = Arc::new(procedure::parse("curing.toml", CURING).unwrap());
    let mut folder = Folder::create(jobs, CURING, &book, At(began)).unwrap();
    let mut job = Job::new(book);
    for (command, at) in [(Command::Open, began), (Command::Done, began), (Command::Mark, began + 3 * MINUTE)] {
        assert!(job.apply(command.clone(), At(at)).recorded);
        folder.append(&command, At(at), &job).unwrap();
    }
}

#[test]
fn a_job_begun_before_the_clock_was_set_waits_on_by_what_was_watched() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    three_of_fifteen(&jobs, 4_000);
    let (_, list) = run(&jobs, &["jobs"], "");
    assert!(list.contains("begun before the clock was set"), "{list}");
    let (_, said) = run(&jobs, &["resume", "--typed"], "no\nmark\n");
    for piece in [
        "Something glued.\n  The clock was set meanwhile.",
        "By my count, 12 min to go. Has the time passed?",
        "Nothing changed.",
    ] {
        assert!(said.contains(piece), "{piece} is missing in {said}");
    }
    let (_, [html, _, json]) = record(&jobs);
    assert!(html.contains(", clock not set"), "{html}");
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(
        (&json["job"]["began"]["remark"], &json["job"]["last"]["remark"]),
        (&"clock not set".into(), &().into())
    );
}

#[test]
fn a_clock_set_back_meanwhile_ends_no_wait_and_makes_none_longer() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    let ahead = wrenchside::session::now().0 + 13_137 * MINUTE;
    three_of_fifteen(&jobs, ahead);
    let (_, said) = run(&jobs, &["resume", "--typed"], "yes\n");
    for piece in ["The clock was set meanwhile.", "y my count, 12 min to go. Has the time passed?", "Step 2. Use it."] {
        assert!(said.contains(piece), "{piece} is missing in {said}");
    }
}
