//! The program from outside: exit codes, errors, typed sessions, replays.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::Stdio;
use wrenchside::job::At;
use wrenchside::journal::Folder;

const ARM: &str = "procedures/tarnfell-front-lower-arm-left.toml";

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Runs a typed session on a new job; gives what was printed.
fn typed(jobs: &Path, lines: &str) -> String {
    let output =
        wrenchside().args(["--jobs"]).arg(jobs).args(["start", ARM, "--typed"]).write_stdin(lines).output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    text(&output.stdout)
}

fn only_job(jobs: &Path) -> PathBuf {
    let all: Vec<_> = fs::read_dir(jobs).unwrap().map(|e| e.unwrap().path()).collect();
    assert_eq!(all.len(), 1, "{all:?}");
    all[0].clone()
}

#[test]
fn help_is_no_error_and_a_wrong_word_is_usage() {
    let help = wrenchside().arg("--help").output().unwrap();
    assert!(help.status.success());
    assert!(text(&help.stdout).contains("Exit codes"));
    assert_eq!(wrenchside().arg("strat").output().unwrap().status.code(), Some(2));
}

#[test]
fn a_missing_file_is_named_first_and_exits_2() {
    for verb in
        [vec!["start", "no-such.toml", "--typed"], vec!["check", "no-such.toml"], vec!["replay", "no-such.toml"]]
    {
        let output = wrenchside().args(&verb).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{verb:?}");
        assert!(text(&output.stderr).starts_with("wrenchside: no-such.toml: "), "{}", text(&output.stderr));
        assert!(output.stdout.is_empty(), "{}", text(&output.stdout));
    }
}

#[test]
fn check_tells_clean_from_faulty_by_its_exit_code() {
    assert_eq!(wrenchside().args(["check", ARM]).output().unwrap().status.code(), Some(0));
    let faulty = "tests/faulty/also-disagrees.toml";
    let output = wrenchside().args(["check", faulty]).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output.stderr).contains("40 lbf·ft"));
    let json = wrenchside().args(["check", faulty, ARM, "--format", "json"]).output().unwrap();
    assert_eq!(json.status.code(), Some(1));
    let reports: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert_eq!((&reports[0]["errors"], &reports[1]["errors"]), (&1.into(), &0.into()));
}

/// The lower arm with what it includes, so that it can lie anywhere.
fn book_text() -> String {
    wrenchside::procedure::open(ARM.as_ref()).unwrap().text().to_owned()
}

#[test]
fn a_faulty_procedure_is_not_started_and_leaves_no_job() {
    let dir = tempfile::tempdir().unwrap();
    let faulty = dir.path().join("faulty.toml");
    fs::write(&faulty, book_text().replacen("torque = \"38 N·m\"", "torque = \"38\"", 1)).unwrap();
    let jobs = dir.path().join("jobs");
    let output = wrenchside().arg("--jobs").arg(&jobs).arg("start").arg(&faulty).arg("--typed").output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("38"), "{}", text(&output.stderr));
    assert!(!jobs.exists());
}

#[test]
fn a_typed_session_goes_through_steps_and_is_kept() {
    let dir = tempfile::tempdir().unwrap();
    let shown = typed(dir.path(), "next step\nyes please\nwhat torque\nrubbish in the bay\nNEXT!\nyes\n");
    for piece in ["Step 1. Lay out", "Step 2. Chock", "No torque in this step", "Step 3. Slacken"] {
        assert!(shown.contains(piece), "{piece} is missing in {shown}");
    }
    let again =
        wrenchside().arg("--jobs").arg(dir.path()).args(["resume", "--typed"]).write_stdin("").output().unwrap();
    assert!(text(&again.stdout).contains("Step 3 of 36"), "{}", text(&again.stdout));
}

#[test]
fn what_is_not_understood_changes_nothing_on_disk() {
    let dir = tempfile::tempdir().unwrap();
    typed(dir.path(), "next step\n");
    let journal = only_job(dir.path()).join("journal.jsonl");
    let before = fs::read_to_string(&journal).unwrap().lines().count();
    let output = wrenchside()
        .arg("--jobs")
        .arg(dir.path())
        .args(["resume", "--typed"])
        .write_stdin("the weather is fine\nwhat torque\nwhere am i\n\n   \n42\n")
        .output()
        .unwrap();
    assert!(output.status.success());
    // Only that the job was taken up again is new.
    assert_eq!(fs::read_to_string(&journal).unwrap().lines().count(), before + 1);
}

#[test]
fn a_job_taken_up_again_says_when_it_was_worked_on_last() {
    let dir = tempfile::tempdir().unwrap();
    let whole = wrenchside::procedure::open(ARM.as_ref()).unwrap();
    let (text, book) = (whole.text(), whole.procedure().unwrap());
    let then = At(wrenchside::session::now().0 - 5 * 3_600_000 - 60_000);
    let mut folder = Folder::create(dir.path(), text, &book, then).unwrap();
    let mut job = wrenchside::job::Job::new(std::sync::Arc::new(book.clone()));
    job.apply(wrenchside::job::Command::Open, then);
    folder.append(&wrenchside::job::Command::Open, then, &job).unwrap();
    drop(folder);
    for (ago, lines) in [(" Last worked on 5 hours ago.", "mark\n"), ("", "")] {
        let output =
            wrenchside().arg("--jobs").arg(dir.path()).args(["resume", "--typed"]).write_stdin(lines).output().unwrap();
        let shown = self::text(&output.stdout);
        assert!(shown.contains(&format!("Resuming: {}.{ago}\n  Step 1 of 36.", book.title)), "{shown}");
    }
}

#[test]
fn a_killed_session_goes_on_at_the_same_stage() {
    let dir = tempfile::tempdir().unwrap();
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_wrenchside"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg("--jobs")
        .arg(dir.path())
        .args(["start", ARM, "--typed"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    let mut output = BufReader::new(child.stdout.take().unwrap());
    let mut say = |line: &str, until: &str| {
        writeln!(input, "{line}").unwrap();
        let mut shown = String::new();
        while !shown.contains(until) {
            assert!(output.read_line(&mut shown).unwrap() > 0, "{until} is missing in {shown}");
        }
    };
    say("next step", "Is the maker's manual open");
    say("yes", "Step 2.");
    say("done", "level, firm ground");
    child.kill().unwrap();
    child.wait().unwrap();
    let again =
        wrenchside().arg("--jobs").arg(dir.path()).args(["resume", "--typed"]).write_stdin("yes\n").output().unwrap();
    let shown = text(&again.stdout);
    assert!(shown.contains("Step 2 of 36") && shown.contains("level, firm ground"), "{shown}");
    assert!(shown.contains("Step 3. Slacken"), "{shown}");
}

#[test]
fn a_second_program_on_the_same_job_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_wrenchside"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg("--jobs")
        .arg(dir.path())
        .args(["start", ARM, "--typed"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
    let second = wrenchside().arg("--jobs").arg(dir.path()).args(["resume", "--typed"]).output().unwrap();
    child.kill().unwrap();
    child.wait().unwrap();
    assert_eq!(second.status.code(), Some(1));
    assert!(text(&second.stderr).contains("another wrenchside"), "{}", text(&second.stderr));
}

#[test]
fn a_torn_last_line_is_told_and_dropped() {
    let dir = tempfile::tempdir().unwrap();
    typed(dir.path(), "next step\nyes\n");
    let journal = only_job(dir.path()).join("journal.jsonl");
    let whole = fs::read(&journal).unwrap();
    fs::write(&journal, &whole[..whole.len() - 7]).unwrap();
    let again =
        wrenchside().arg("--jobs").arg(dir.path()).args(["resume", "--typed"]).write_stdin("").output().unwrap();
    assert!(again.status.success(), "{}", text(&again.stderr));
    let shown = text(&again.stdout);
    assert!(shown.contains("The last entry was cut off by the interruption and is lost."), "{shown}");
    assert!(shown.contains("Is the maker's manual open"), "{shown}");
}

#[test]
fn a_damaged_end_that_was_cut_off_is_told() {
    let dir = tempfile::tempdir().unwrap();
    typed(dir.path(), "next step\nyes\n");
    let journal = only_job(dir.path()).join("journal.jsonl");
    let spoilt = fs::read_to_string(&journal).unwrap().replace("\"yes\"", "\"no\"");
    fs::write(&journal, spoilt).unwrap();
    let resume = |more: &[&str]| {
        let mut command = wrenchside();
        command.arg("--jobs").arg(dir.path()).args(["resume", "--typed"]).args(more).write_stdin("").output().unwrap()
    };
    assert_eq!(resume(&[]).status.code(), Some(2));
    let again = resume(&["--salvage"]);
    let shown = text(&again.stdout);
    assert!(shown.contains("The end of the journal is cut off: 1 line."), "{shown}");
    assert!(text(&again.stderr).contains("3 lines kept, 1 dropped; these are in"), "{}", text(&again.stderr));
}

#[test]
fn a_procedure_that_was_edited_meanwhile_is_told_and_changes_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let (jobs, procedure) = (dir.path().join("jobs"), dir.path().join("procedure.toml"));
    let text = book_text();
    fs::write(&procedure, &text).unwrap();
    let run = |arguments: &[&str]| {
        let mut command = wrenchside();
        let output = command.arg("--jobs").arg(&jobs).args(arguments).arg("--typed").write_stdin("").output().unwrap();
        self::text(&output.stdout)
    };
    run(&["start", procedure.to_str().unwrap()]);
    let told = "The procedure file was changed since the job began. The job goes on with its own copy.";
    assert!(!run(&["resume"]).contains(told));
    fs::write(&procedure, text.replace("Lay out the tools", "Lay out all tools")).unwrap();
    let shown = run(&["resume"]);
    assert!(shown.contains(told) && shown.contains("Lay out the tools"), "{shown}");
    // One that was taken away tells nothing.
    fs::remove_file(&procedure).unwrap();
    assert!(!run(&["resume"]).contains(told));
}

#[test]
fn resume_without_a_job_says_what_there_is() {
    let dir = tempfile::tempdir().unwrap();
    let output = wrenchside().arg("--jobs").arg(dir.path()).args(["resume", "--typed"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("wrenchside start"), "{}", text(&output.stderr));
    typed(dir.path(), "");
    let output = wrenchside().arg("--jobs").arg(dir.path()).args(["resume", "other", "--typed"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("tarnfell-front-lower-arm-left-"), "{}", text(&output.stderr));
    let jobs = wrenchside().arg("--jobs").arg(dir.path()).arg("jobs").output().unwrap();
    assert!(text(&jobs.stdout).starts_with("  1  Front lower arm, left: replace  tarnfell-front-lower-arm-left-"));
}

#[test]
fn a_reader_that_goes_away_is_no_crash() {
    let dir = tempfile::tempdir().unwrap();
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_wrenchside"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg("--jobs")
        .arg(dir.path())
        .args(["start", ARM, "--typed"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let _ = child.stdin.take().unwrap().write_all(b"next step\nyes\nhelp\n");
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{:?} {}", output.status, text(&output.stderr));
    assert!(!text(&output.stderr).contains("panicked"), "{}", text(&output.stderr));
}

#[test]
fn bad_settings_are_named_with_their_line() {
    let dir = tempfile::tempdir().unwrap();
    let settings = dir.path().join("settings.toml");
    for (content, piece) in [
        ("headset = true\nmodle = \"x\"\n", "line 2: unknown field `modle`"),
        ("torque_unit = \"stone\"\n", "torque_unit"),
        ("headset = \n", "line 1"),
    ] {
        fs::write(&settings, content).unwrap();
        let output = wrenchside().arg("--config").arg(&settings).arg("jobs").output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{content}");
        assert!(text(&output.stderr).contains(piece), "{piece} is missing in {}", text(&output.stderr));
    }
}

#[test]
fn the_unit_of_the_users_wrench_comes_first() {
    let dir = tempfile::tempdir().unwrap();
    let settings = dir.path().join("settings.toml");
    fs::write(&settings, "torque_unit = \"lbf·ft\"\n").unwrap();
    let output = wrenchside()
        .arg("--config")
        .arg(&settings)
        .arg("--jobs")
        .arg(dir.path().join("jobs"))
        .args(["start", ARM, "--typed"])
        .write_stdin("next\nyes\nnext\nyes\nwhat size\n")
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(text(&output.stdout).contains("19 mm"), "{}", text(&output.stdout));
}

#[test]
fn with_no_sound_card_start_says_so_in_a_line_and_leaves_no_job() {
    // An ALSA configuration without any device stands for the machine without a sound card.
    let dir = tempfile::tempdir().unwrap();
    let none = dir.path().join("none.conf");
    fs::write(&none, "").unwrap();
    let jobs = dir.path().join("jobs");
    let output = wrenchside()
        .env("ALSA_CONFIG_PATH", &none)
        .env("PULSE_SERVER", "none")
        .arg("--jobs")
        .arg(&jobs)
        .args(["start", ARM])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1));
    let said = text(&output.stderr);
    assert_eq!(said.lines().count(), 1, "{said}");
    assert!(said.contains("--typed"), "{said}");
    assert!(!jobs.exists());
}

#[test]
fn a_typed_replay_passes_and_one_with_a_wrong_expectation_fails() {
    let dir = tempfile::tempdir().unwrap();
    let procedure = fs::canonicalize(ARM).unwrap();
    let scenario = |step: usize| {
        format!(
            "title = \"two turns\"\nprocedure = {procedure:?}\nbegin = 2026-01-05T08:00:00Z\n\
             [[turn]]\ntyped = \"next\"\n[[turn]]\ntyped = \"yes\"\nsaid = [\"Chock\"]\nthen = {{ step = {step} }}\n"
        )
    };
    let path = dir.path().join("scenario.toml");
    for (step, code) in [(2, 0), (3, 1)] {
        fs::write(&path, scenario(step)).unwrap();
        let output = wrenchside().args(["replay", "--silent"]).arg(&path).output().unwrap();
        assert_eq!(output.status.code(), Some(code), "{}", text(&output.stdout));
    }
    fs::write(&path, scenario(2).replace("typed = \"yes\"", "typed = \"yes\"\nwait_minutes = 1")).unwrap();
    let output = wrenchside().args(["replay", "--silent"]).arg(&path).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("turn 2"), "{}", text(&output.stderr));
}

#[test]
fn a_broken_bolt_is_asked_for_by_place_and_renewed() {
    let dir = tempfile::tempdir().unwrap();
    let shown = typed(dir.path(), "next\nyes\nnext\nyes\nthe bolt broke\ntop\nyes\nwhat is open\n");
    for piece in ["Which one broke", "Is it broken: left wheel bolt, top?", "discarded"] {
        assert!(shown.contains(piece), "{piece} is missing in {shown}");
    }
}

#[test]
fn a_rebuild_is_drafted_below_the_strip() {
    let dir = tempfile::tempdir().unwrap();
    let strip = dir.path().join("strip.toml");
    let whole = book_text();
    let (strip_only, _) =
        whole.split_once("# ================================================================ inspect").unwrap();
    fs::write(&strip, strip_only).unwrap();
    let output = wrenchside().arg("draft-rebuild").arg(&strip).output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    let drafted = text(&output.stdout);
    assert!(drafted.starts_with(strip_only.trim_end()) && drafted.contains("# ?? "), "{drafted}");
    assert!(drafted.contains("phase = \"rebuild\"") && drafted.contains("tighten = \"pivot\""), "{drafted}");
}

#[test]
fn settings_of_the_voice_are_looked_at_before_anything_is_said() {
    let dir = tempfile::tempdir().unwrap();
    let config = dir.path().join("config.toml");
    for (setting, named) in [("pace = 7", "pace"), ("pause = 60000", "pause"), ("pase = 1", "pase")] {
        fs::write(&config, setting).unwrap();
        let output = wrenchside().arg("--config").arg(&config).args(["say", "one"]).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{setting}");
        let told = text(&output.stderr);
        assert!(told.contains("config.toml") && told.contains(named), "{told}");
    }
    let lengths = ["pace = 0.7", "pace = 1.6"].map(|setting| {
        fs::write(&config, setting).unwrap();
        let sound = dir.path().join("out.wav");
        let mut say = wrenchside();
        say.arg("--config").arg(&config).args(["say", "Torque to seventy newton metres.", "--out"]).arg(&sound);
        assert!(say.output().unwrap().status.success());
        fs::metadata(&sound).unwrap().len()
    });
    assert!(lengths[0] > lengths[1] * 3 / 2, "{lengths:?}");
}

#[test]
fn the_doctor_tells_of_every_part_its_version_and_what_to_do() {
    let output = wrenchside().arg("doctor").output().unwrap();
    let told = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success(), "{told}");
    for part in ["recogniser        vosk 0.3", "second listener", "ONNX Runtime      1.", "voice", "phoneme data"] {
        assert!(told.contains(&format!("ok    {part}")), "{part}: {told}");
    }
    for device in ["microphone", "loudspeaker"] {
        assert!(told.contains(device), "{told}");
    }

    let folder = tempfile::tempdir().unwrap();
    let config = folder.path().join("config.toml");
    std::fs::write(&config, "voice = \"no-such-voice\"\n").unwrap();
    let output = wrenchside().arg("--config").arg(&config).arg("doctor").output().unwrap();
    let told = String::from_utf8_lossy(&output.stdout);
    assert_eq!(output.status.code(), Some(1), "{told}");
    assert!(told.contains("FAIL  voice"), "{told}");
}

#[test]
fn the_doctor_calls_a_tool_without_a_name_as_the_session_would() {
    let folder = tempfile::tempdir().unwrap();
    let (config, device) = (folder.path().join("config.toml"), folder.path().join("readings"));
    fs::write(&device, "").unwrap();
    fs::write(&config, format!("[tool]\ndevice = \"{}\"\n", device.display())).unwrap();
    let german = ["--language", "src/dialogue/languages/de.toml"];
    let output = wrenchside().arg("--config").arg(&config).args(german).arg("doctor").output().unwrap();
    let told = String::from_utf8_lossy(&output.stdout);
    assert!(told.contains(&format!("Schlüssel at {}, opens", device.display())), "{told}");
}
