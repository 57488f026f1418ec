//! `bench-hearing` from outside, on a small set made of recordings in `audio-fixtures/`, with the real listeners.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("audio-fixtures").join(name)
}

/// Two commands and a sentence of talk of the voices held out, a command of one tuned on, and one that says nothing any
/// more.
fn lay_set(folder: &Path) {
    let rows = [
        ("clean/us-next-step.flac", "command", "next step", "us", "held-out"),
        ("clean/slt-all-done.flac", "command", "all done", "slt", "held-out"),
        ("chatter/01-joe.flac", "talk", "did you see the match last night", "joe", "held-out"),
        ("clean/rms-next-step.flac", "command", "next step", "rms", "tune"),
        ("clean/us-all-done.flac", "command", "wibble the widget", "us", "held-out"),
    ];
    let mut manifest = String::from("file\tkind\ttext\tmeaning\tvoice\tpart\ttrained\n");
    for (file, kind, text, voice, part) in rows {
        manifest += &format!("{}\t{kind}\t{text}\t\t{voice}\t{part}\tno\n", fixture(file).display());
    }
    fs::write(folder.join("manifest.tsv"), manifest).unwrap();
}

#[test]
fn a_small_set_is_counted_and_its_scores_are_kept() {
    let folder = tempfile::tempdir().unwrap();
    lay_set(folder.path());
    let (scores, report) = (folder.path().join("scores.json"), folder.path().join("report.json"));
    let run = || {
        let mut command = wrenchside();
        command.arg("bench-hearing").arg(folder.path()).arg("--scores").arg(&scores).arg("--report").arg(&report);
        command.output().unwrap()
    };
    let output = run();
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(text(&output.stderr).contains("wibble the widget"), "{}", text(&output.stderr));
    let shown = text(&output.stdout);
    assert!(shown.contains("Goals, both listeners, held-out voices"), "{shown}");
    let counts: Value = serde_json::from_str(&fs::read_to_string(&report).unwrap()).unwrap();
    let clean = |part: &str, ears: &str| {
        let rows = counts["commands"].as_array().unwrap();
        rows.iter().find(|row| row["part"] == part && row["ears"] == ears && row["level"].is_null()).unwrap().clone()
    };
    let both = clean("held-out", "both");
    assert_eq!((both["of"].as_u64(), both["right"].as_u64()), (Some(2), Some(2)), "{counts}");
    assert_eq!(clean("tune", "both")["of"], 1);
    assert_eq!(clean("held-out", "vosk-alone")["wrong"], serde_json::json!([0, 0, 0]));
    let talk = counts["nothing"].as_array().unwrap();
    assert!(talk.iter().any(|row| row["moment"] == "tightening" && row["hours"].as_f64().unwrap() > 0.0), "{counts}");
    assert!(counts["idle"].as_f64().unwrap() < 0.5, "{counts}");
    // Kept scores are counted again, without listening, to the same counts.
    fs::remove_file(&report).unwrap();
    let again = run();
    assert!(again.status.success());
    assert_eq!(text(&again.stdout), shown);
    assert_eq!(serde_json::from_str::<Value>(&fs::read_to_string(&report).unwrap()).unwrap(), counts);
}

#[test]
fn what_cannot_be_measured_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let output = wrenchside().arg("bench-hearing").arg(folder.path()).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    let told = text(&output.stderr);
    assert!(told.contains("manifest.tsv: ") && told.contains("scripts/make-hearing-set"), "{told}");
    lay_set(folder.path());
    let output = wrenchside().arg("bench-hearing").arg(folder.path()).args(["--only", "nobody"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("nothing in it is chosen"), "{}", text(&output.stderr));
}

#[test]
fn commands_are_written_out_for_another_recogniser() {
    let folder = tempfile::tempdir().unwrap();
    lay_set(folder.path());
    let sounds = folder.path().join("sounds");
    let output = wrenchside()
        .args(["bench-hearing", "--only", "held-out", "--sounds"])
        .arg(&sounds)
        .arg(folder.path())
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    let list = fs::read_to_string(sounds.join("list.tsv")).unwrap();
    // Two commands at five levels.
    assert_eq!(list.lines().count(), 1 + 2 * 5, "{list}");
    let first = list.lines().nth(1).unwrap().split('\t').next().unwrap();
    assert!(hound::WavReader::open(sounds.join(first)).unwrap().duration() > 16_000);
    let grammar = fs::read_to_string(sounds.join("tightening.jsgf")).unwrap();
    assert!(grammar.contains("| all done |") && !grammar.contains("next door"), "{grammar}");
}
