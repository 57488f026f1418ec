//! Tools, lay-out list, notes and the record, from outside.

use assert_cmd::Command;
use std::fs;
use std::path::{Path, PathBuf};

const ARM: &str = "procedures/tarnfell-front-lower-arm-left.toml";
const TOOLBOX: &str = "docs/toolbox.toml";

fn wrenchside() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_wrenchside"));
    // The settings of whoever runs the tests are not theirs.
    command.current_dir(env!("CARGO_MANIFEST_DIR")).env("NO_COLOR", "1").env("XDG_CONFIG_HOME", "/nonexistent");
    command
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn run(args: &[&str]) -> (i32, String, String) {
    let output = wrenchside().args(args).output().unwrap();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

/// Runs a typed session; gives what was printed.
fn typed(jobs: &Path, args: &[&str], lines: &str) -> String {
    let output = wrenchside().arg("--jobs").arg(jobs).args(args).arg("--typed").write_stdin(lines).output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    text(&output.stdout)
}

fn only_job(jobs: &Path) -> PathBuf {
    let all: Vec<_> = fs::read_dir(jobs).unwrap().map(|e| e.unwrap().path()).collect();
    assert_eq!(all.len(), 1, "{all:?}");
    all[0].clone()
}

/// The typed lines of the whole-job scenario, as far as they go before the program is started anew there.
fn whole_job() -> Vec<String> {
    let scenario: toml::Value =
        toml::from_str(&fs::read_to_string("audio-fixtures/scenarios/whole-job-typed.toml").unwrap()).unwrap();
    let turns = scenario["turn"].as_array().unwrap();
    turns.iter().filter_map(|t| Some(t.get("typed")?.as_str()?.to_owned())).collect()
}

#[test]
fn set_without_a_toolbox_converts_and_assumes_nothing() {
    let (code, out, _) = run(&["set", "70 N·m"]);
    assert_eq!(code, 0);
    assert!(out.contains("≈ 51.63 lbf·ft") && out.contains("no wrench is assumed"), "{out}");
    let (code, _, err) = run(&["set", "70 N·m", "--adapter", "48 mm@0 deg"]);
    assert_eq!(code, 2);
    assert!(err.contains("--length"), "{err}");
    // FAA AC 43.13-1B, figure 7-2.
    let (code, out, _) = run(&["set", "30 in-lb", "--adapter", "1.5 in@0 deg", "--length", "10 in"]);
    assert_eq!(code, 0);
    assert!(out.contains("26.09 lbf·in"), "{out}");
}

#[test]
fn set_takes_the_wrench_and_says_what_rounding_does() {
    let (code, out, _) = run(&["set", "150 Nm", "--toolbox", TOOLBOX]);
    assert_eq!(code, 0);
    assert!(out.contains("big wrench: set 111 lbf·ft\n"), "{out}");
    assert!(out.contains("rounded to its graduation from 110.6 lbf·ft; at the fastener that is 150.5 N·m"), "{out}");
    let (_, out, _) = run(&["set", "70.0..70.2 Nm", "--toolbox", TOOLBOX]);
    assert!(out.contains("OUTSIDE the window"), "{out}");
    let (_, out, _) = run(&["set", "28 lbf·ft", "--toolbox", TOOLBOX]);
    assert!(out.contains("lowest fifth"), "{out}");
    let (code, _, err) = run(&["set", "300 Nm", "--toolbox", TOOLBOX]);
    assert_eq!(code, 1);
    assert!(err.contains("the highest mark is 150 lbf·ft"), "{err}");
}

#[test]
fn set_refuses_what_it_cannot_read_with_code_2() {
    for (args, says) in [
        (vec!["set", "70"], "unit is missing"),
        (vec!["set", "0 Nm"], "more than 0"),
        (vec!["set", "-5 Nm"], "unexpected argument"),
        (vec!["set", "70 Nm", "--toolbox", "no-such.toml"], "no-such.toml: the toolbox cannot be read"),
        (vec!["set", "70 Nm", "--toolbox", ARM], "front-lower-arm-left.toml: line 6: unknown field"),
        (vec!["set", "70 Nm", "--toolbox", TOOLBOX, "--wrench", "huge"], "big wrench"),
        (vec!["set", "70 Nm", "--toolbox", TOOLBOX, "--adapter", "48"], "LENGTH@ANGLE"),
    ] {
        let (code, _, err) = run(&args);
        assert_eq!(code, 2, "{args:?}: {err}");
        assert!(err.contains(says), "{args:?}: {err}");
    }
}

/// Typed lines that lead to the pinch bolt, the first thing that is tightened.
fn to_the_pinch_bolt() -> String {
    let lines = whole_job();
    let mut until: Vec<String> =
        lines.iter().take_while(|l| !l.contains("torque") && *l != "how tight").cloned().collect();
    until.push("what torque".to_owned());
    until.join("\n") + "\n"
}

#[test]
fn while_tightening_the_wrench_and_the_mark_are_said() {
    let dir = tempfile::tempdir().unwrap();
    let start = ["--toolbox", TOOLBOX, "start", ARM];
    let shown = typed(dir.path(), &start, &to_the_pinch_bolt());
    assert!(shown.contains("38 N·m"), "{shown}");
    assert!(shown.contains("Take the big wrench; set 28 lbf·ft"), "{shown}");
    assert!(shown.contains("lowest fifth"), "{shown}");
    // With the adapter the setting is worked out anew, and a number is no longer the torque at the fastener.
    let lines = "what torque\nadapter 2\nadapter 1\nadapter at 0\nreading 24\nno adapter\nreading 38\n";
    let shown = typed(dir.path(), &["--toolbox", TOOLBOX, "resume"], lines);
    for piece in [
        "Settings are for no adapter.",
        "no adapter 2 in the toolbox",
        "Crowfoot, at 90°. Settings are worked out",
        "Take the big wrench with the crowfoot; set 28 lbf·ft",
        "Crowfoot, at 0°.",
        "set 25 lbf·ft (37.36 N·m at the fastener)",
        "does not show the torque at the fastener",
        "Reading taken: 38 N·m",
    ] {
        assert!(shown.contains(piece), "{piece} is missing in {shown}");
    }
    let journal = fs::read_to_string(only_job(dir.path()).join("journal.jsonl")).unwrap();
    assert!(!journal.contains("adapter") && !journal.contains("\"24\""), "{journal}");
}

#[test]
fn without_a_toolbox_nothing_is_assumed_about_tools() {
    let dir = tempfile::tempdir().unwrap();
    let lines = to_the_pinch_bolt() + "adapter 1\n";
    let shown = typed(dir.path(), &["start", ARM], &lines);
    assert!(shown.contains("38 N·m") && !shown.contains("Take the big wrench"), "{shown}");
    assert!(!shown.contains("; set "), "{shown}");
    assert!(shown.contains("No toolbox is named"), "{shown}");
}
