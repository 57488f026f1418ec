//! What is no file, no text or no end is told and does no harm: pipes, devices, folders, bytes, readers that go away.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use std::fs::{self, File};
use std::io::{BufRead, BufReader, Write};
use std::os::unix::fs::{FileTypeExt, PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::Duration;
use wrenchside::job::{At, Command as Order, Job, Note};
use wrenchside::journal::Folder;
use wrenchside::procedure;

const ARM: &str = "procedures/tarnfell-front-lower-arm-left.toml";
/// So long a command may take that has nothing to do but to refuse.
const PATIENCE: Duration = Duration::from_secs(20);

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A pipe that nobody writes into.
fn pipe(folder: &Path) -> PathBuf {
    let path = folder.join("pipe");
    if !path.exists() {
        assert!(std::process::Command::new("mkfifo").arg(&path).status().unwrap().success());
    }
    path
}

fn refused(args: &[&str], path: &Path, reason: &str) {
    let output = wrenchside().args(args).timeout(PATIENCE).write_stdin("").output().unwrap();
    let told = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{args:?}: {told}");
    let line = told.lines().find(|line| line.contains(reason));
    let line = line.unwrap_or_else(|| panic!("{args:?}: {told}"));
    assert!(line.starts_with(&format!("wrenchside: {}: ", path.display())), "{line}");
}

#[test]
fn what_is_no_file_is_refused_wherever_one_is_meant() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    let fifo = pipe(dir.path());
    let odd = [
        (Path::new("/dev/zero"), "it is a device, not a file"),
        (fifo.as_path(), "it is a pipe, not a file"),
        (dir.path(), "it is a folder, not a file"),
    ];
    for (path, reason) in odd {
        let named = path.to_str().unwrap();
        let verbs: [&[&str]; 13] = [
            &["start", named, "--typed"],
            &["check", named],
            &["draft-rebuild", named],
            &["layout", named],
            &["outline", named],
            &["replay", named],
            &["hear", named],
            &["start", ARM, "--wav", named],
            &["learn", "ann", "--wav", named],
            &["--config", named, "jobs"],
            &["--language", named, "start", ARM, "--typed"],
            &["--toolbox", named, "start", ARM, "--typed"],
            &["hear", "--procedure", named, "audio-fixtures"],
        ];
        for verb in verbs {
            let mut args = vec!["--jobs", jobs.to_str().unwrap()];
            args.extend(verb);
            refused(&args, path, reason);
        }
    }
    assert!(!jobs.exists(), "no job was begun");
}

#[test]
fn what_is_no_file_in_a_folder_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let own = |name: &str| {
        let folder = dir.path().join(name);
        fs::create_dir_all(folder.join("conf")).unwrap();
        folder
    };
    // A set for the bench, and a model.
    let set = own("set");
    let manifest = set.join("manifest.tsv");
    symlink("/dev/zero", &manifest).unwrap();
    let output = wrenchside().arg("bench-hearing").arg(&set).timeout(PATIENCE).output().unwrap();
    assert_eq!(output.status.code(), Some(2), "{}", text(&output.stderr));
    assert!(text(&output.stderr).contains("manifest.tsv: it is a device"), "{}", text(&output.stderr));
    let model = own("model");
    symlink(fs::canonicalize("models/listener-en/am").unwrap(), model.join("am")).unwrap();
    let config = model.join("conf/mfcc.conf");
    symlink(pipe(dir.path()), &config).unwrap();
    refused(&["--model", model.to_str().unwrap(), "hear", "audio-fixtures/none.wav"], &config, "it is a pipe");
    let voice = own("voice");
    symlink(pipe(dir.path()), voice.join("a.onnx")).unwrap();
    let out = dir.path().join("a.wav");
    let say = ["--voice", voice.to_str().unwrap(), "say", "Stage one.", "--out", out.to_str().unwrap()];
    refused(&say, &voice.join("a.onnx"), "it is a pipe");
}

#[test]
fn what_is_no_file_is_refused_wherever_one_is_to_be_written() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    let jobs = jobs.to_str().unwrap();
    wrenchside().args(["--jobs", jobs, "start", ARM, "--typed"]).write_stdin("").output().unwrap();
    let fifo = pipe(dir.path());
    let zero = dir.path().join("zero");
    symlink("/dev/zero", &zero).unwrap();
    for (path, reason) in [(&fifo, "it is a pipe, not a file"), (&zero, "it is a device, not a file")] {
        let named = path.to_str().unwrap();
        let verbs: [&[&str]; 7] = [
            &["record", "--html", named],
            &["record", "--markdown", named],
            &["record", "--json", named],
            &["layout", ARM, "--html", named],
            &["say", "Stage one.", "--out", named],
            &["replay", "audio-fixtures/scenarios/tarnfell-brake-bleeding-typed.toml", "--silent", "--report", named],
            &["start", ARM, "--typed", "--out", named],
        ];
        for verb in verbs {
            let mut command = wrenchside();
            let output = command.args(["--jobs", jobs]).args(verb).write_stdin("").timeout(PATIENCE).output().unwrap();
            let told = text(&output.stderr);
            assert_eq!(output.status.code(), Some(1), "{verb:?}: {told}");
            assert!(told.contains(named) && told.contains(reason), "{verb:?}: {told}");
        }
        assert_eq!(fs::read_dir(jobs).unwrap().count(), 1, "no other job was begun for it");
        let kind = fs::metadata(path).unwrap().file_type();
        assert!(kind.is_fifo() || kind.is_char_device(), "nothing took its place");
    }
}

/// Hours of sound are read as they are listened to: the file is as large as the memory that it must not take.
#[test]
fn a_recording_of_hours_takes_no_room() {
    const HOURS: u32 = 6;
    let dir = tempfile::tempdir().unwrap();
    let wav = dir.path().join("day.wav");
    let data = HOURS * 3_600 * 48_000 * 2;
    let mut file = File::create(&wav).unwrap();
    let mut head = b"RIFF".to_vec();
    head.extend((data + 36).to_le_bytes());
    head.extend(b"WAVEfmt \x10\0\0\0\x01\0\x01\0");
    head.extend(48_000u32.to_le_bytes());
    head.extend(96_000u32.to_le_bytes());
    head.extend(b"\x02\0\x10\0data");
    head.extend(data.to_le_bytes());
    file.write_all(&head).unwrap();
    // Holes cost no disk.
    file.set_len(u64::from(data) + head.len() as u64).unwrap();
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_wrenchside"));
    command.current_dir(env!("CARGO_MANIFEST_DIR")).env("XDG_CONFIG_HOME", "/nonexistent");
    command.arg("--jobs").arg(dir.path().join("jobs"));
    command.args(["start", ARM, "--loudspeaker", "none of that name", "--wav"]).arg(&wav);
    let mut child = command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap());
    let mut line = String::new();
    // It is open, and is being listened to.
    while !line.contains("Lay out") {
        line.clear();
        assert!(lines.read_line(&mut line).unwrap() > 0, "it ended");
    }
    std::thread::sleep(Duration::from_secs(4));
    let status = fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap();
    child.kill().unwrap();
    child.wait().unwrap();
    let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap();
    let peak: u64 = peak.trim().trim_end_matches(" kB").parse().unwrap();
    assert!(peak < 500_000, "{peak} kB for a file of {} kB", data / 1_000);
}

/// Typed without a reader of their own in sight: a job, a strip-down, questions for values. The end of what is typed closes each.
#[test]
fn a_typed_line_that_is_no_text_is_told_and_the_session_goes_on() {
    let jobs = tempfile::tempdir().unwrap();
    let sessions = [
        (&["start", ARM, "--typed"][..], "next step", "To go on: "),
        (&["strip", "Water pump", "--typed"], "took out two bolts 13 mm", "The strip-down is kept in "),
        (&["values", "docs/values.toml", "--typed"], "torque for the gearbox mount", "Gearbox mount, front, or "),
    ];
    for (arguments, line, ended) in sessions {
        for rest in ["\n", "\npause job\n", ""] {
            let mut lines = [line.as_bytes(), b"\n\xff\xfe\x00\n"].concat();
            lines.extend(vec![b'x'; 100_000]);
            lines.extend(rest.as_bytes());
            let mut command = wrenchside();
            command.arg("--jobs").arg(jobs.path()).args(arguments).write_stdin(lines).timeout(PATIENCE);
            let output = command.output().unwrap();
            let said = text(&output.stdout);
            assert!(output.status.success(), "{arguments:?}: {}", text(&output.stderr));
            assert_eq!(said.matches("Couldn't read that line").count(), 2, "{said}");
            assert!(said.contains(ended), "{said}");
        }
    }
}

/// Runs a command whose readers are gone before it says a word; gives its exit code.
fn unread(args: &[&str]) -> Option<i32> {
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_wrenchside"));
    command.current_dir(env!("CARGO_MANIFEST_DIR")).env("XDG_CONFIG_HOME", "/nonexistent").args(args);
    let mut child = command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    drop((child.stdout.take(), child.stderr.take()));
    child.wait().unwrap().code()
}

#[test]
fn a_reader_that_goes_away_changes_no_exit_code() {
    let jobs = tempfile::tempdir().unwrap();
    let jobs = jobs.path().to_str().unwrap();
    assert_eq!(unread(&["check", "tests/faulty/also-disagrees.toml"]), Some(1));
    assert_eq!(unread(&["check", ARM, "--format", "json"]), Some(0));
    assert_eq!(unread(&["check", "no-such.toml"]), Some(2));
    for args in [&["record", "--schema"][..], &["layout", ARM], &["set", "70 N·m"], &["learn", "ann", "--list"]] {
        assert_eq!(unread(args), Some(0), "{args:?}");
    }
    assert_eq!(unread(&["--jobs", jobs, "start", ARM, "--typed"]), Some(0));
    assert_eq!(unread(&["--jobs", jobs, "jobs"]), Some(0));
    assert_eq!(unread(&["--jobs", jobs, "record"]), Some(0));
    assert_eq!(unread(&["--help"]), Some(0));
}

/// One that reads a line and goes is what `head` does.
#[test]
fn a_reader_that_goes_away_in_the_middle_is_no_trouble() {
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_wrenchside"));
    command.current_dir(env!("CARGO_MANIFEST_DIR")).args(["record", "--schema"]);
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut line = String::new();
    BufReader::with_capacity(64, child.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!((output.status.code(), text(&output.stderr).as_str()), (Some(0), ""));
}

#[test]
fn a_job_is_for_its_user_alone() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("kept/jobs");
    let mut start = wrenchside();
    start.arg("--jobs").arg(&jobs).args(["start", ARM, "--typed"]).write_stdin("").output().unwrap();
    let job = fs::read_dir(&jobs).unwrap().next().unwrap().unwrap().path();
    for folder in [&jobs, &job] {
        assert_eq!(fs::metadata(folder).unwrap().permissions().mode() & 0o777, 0o700, "{}", folder.display());
    }
}

/// A journal may come from anywhere, and a record goes to others: it must not carry out what the job does not hold.
#[test]
fn a_note_named_in_a_journal_is_shown_only_from_the_jobs_own_folder() {
    let dir = tempfile::tempdir().unwrap();
    let secret = dir.path().join("secret.wav");
    fs::write(&secret, "RIFF secret").unwrap();
    let outside = format!("../../{}", "secret.wav");
    let names = [
        "notes/good.wav",
        "notes/link.wav",
        &outside,
        secret.to_str().unwrap(),
        "notes/../../secret.wav",
        "notes/pipe",
    ];
    let shown: Vec<usize> = names
        .iter()
        .map(|name| {
            let jobs = tempfile::tempdir_in(dir.path()).unwrap();
            let book_text = procedure::open(ARM.as_ref()).unwrap().text().to_owned();
            let mut job = Job::new(procedure::parse(ARM, &book_text).unwrap().into());
            let mut folder = Folder::create(jobs.path(), &book_text, job.book(), At(0)).unwrap();
            let note = Order::Note(Note::Sound { file: (*name).to_owned(), milliseconds: 10 });
            for command in [Order::Open, note] {
                assert!(job.apply(command.clone(), At(1)).recorded);
                folder.append(&command, At(1), &job).unwrap();
            }
            let notes = folder.path().join("notes");
            fs::create_dir(&notes).unwrap();
            fs::write(notes.join("good.wav"), "RIFF good").unwrap();
            symlink(&secret, notes.join("link.wav")).unwrap();
            pipe(&notes);
            let page = jobs.path().join("page.html");
            let record = ["record", "--html", page.to_str().unwrap()];
            let output = wrenchside().arg("--jobs").arg(jobs.path()).args(record).timeout(PATIENCE).output().unwrap();
            assert!(output.status.success(), "{name}: {}", text(&output.stderr));
            fs::read_to_string(page).unwrap().matches("data:audio").count()
        })
        .collect();
    assert_eq!(shown, [1, 0, 0, 0, 0, 0]);
    // A folder of notes that leads out is no better.
    let jobs = tempfile::tempdir_in(dir.path()).unwrap();
    let elsewhere = dir.path().join("elsewhere");
    fs::create_dir(&elsewhere).unwrap();
    File::create(elsewhere.join("good.wav")).unwrap().write_all(b"RIFF secret").unwrap();
    let book_text = procedure::open(ARM.as_ref()).unwrap().text().to_owned();
    let mut job = Job::new(procedure::parse(ARM, &book_text).unwrap().into());
    let mut folder = Folder::create(jobs.path(), &book_text, job.book(), At(0)).unwrap();
    for command in [Order::Open, Order::Note(Note::Sound { file: "notes/good.wav".into(), milliseconds: 10 })] {
        job.apply(command.clone(), At(1));
        folder.append(&command, At(1), &job).unwrap();
    }
    symlink(&elsewhere, folder.path().join("notes")).unwrap();
    let page = jobs.path().join("page.html");
    let record = ["record", "--html", page.to_str().unwrap()];
    assert!(wrenchside().arg("--jobs").arg(jobs.path()).args(record).output().unwrap().status.success());
    assert!(!fs::read_to_string(page).unwrap().contains("data:audio"));
}
