//! `bench-hearing` from outside, on a small set made of recordings in `audio-fixtures/`, with the real listeners.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use serde_json::Value;
use std::fs;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::process::Command;

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
    let mut manifest = String::from("file\tkind\ttext\tmeaning\tvoice\tpart\ttrained\twho\n");
    for (file, kind, text, voice, part) in rows {
        manifest += &format!("{}\t{kind}\t{text}\t\t{voice}\t{part}\tno\tsynthetic\n", fixture(file).display());
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

/// Judged by a network that hears tones and no words (`tests/data/phones/make.py`): what it makes of speech is of no worth, but it
/// is that network which is asked, and not the decoder.
#[test]
fn a_network_of_phones_judges_where_it_is_named() {
    let folder = tempfile::tempdir().unwrap();
    lay_set(folder.path());
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let phones = folder.path().join("phones");
    fs::create_dir(&phones).unwrap();
    fs::copy(root.join("tests/data/phones/tones.onnx"), phones.join("phones.onnx")).unwrap();
    fs::copy(root.join("models/listener-en/lexicon.txt"), phones.join("lexicon.txt")).unwrap();
    let scores = |name: &str| folder.path().join(name);
    let run = |name: &str, more: &[&str]| {
        let mut command = wrenchside();
        command.arg("bench-hearing").arg(folder.path()).args(["--calibrate", "--scores"]).arg(scores(name));
        command.args(more).output().unwrap()
    };
    let named = ["--phones", phones.to_str().unwrap()];
    let kept = |name: &str| -> Value { serde_json::from_str(&fs::read_to_string(scores(name)).unwrap()).unwrap() };
    // What each stretch of the clean commands was judged to be.
    let judged = |name: &str| -> Vec<Value> {
        let (scores, clean) =
            (kept(name), |one: &&Value| one["trial"]["level"].is_null() && one["seconds"].as_f64() < Some(5.0));
        let heard =
            scores["played"].as_array().unwrap().iter().filter(clean).flat_map(|one| one["heard"].as_array().unwrap());
        heard.map(|heard| heard["judged"].clone()).collect()
    };
    // A listening model without a lexicon, beside which the decoder judges.
    let model = folder.path().join("model");
    fs::create_dir(&model).unwrap();
    for name in ["am", "conf", "graph"] {
        symlink(root.join("models/listener-en").join(name), model.join(name)).unwrap();
    }
    let decoder = ["--model", model.to_str().unwrap()];
    for (name, more) in [("phones.json", &named[..]), ("decoder.json", &decoder[..])] {
        let output = run(name, more);
        assert!(output.status.success(), "{}", text(&output.stderr));
        assert!(text(&output.stdout).contains("Goals, both listeners, held-out voices"), "{}", text(&output.stdout));
    }
    let (by_phones, by_decoder) = (judged("phones.json"), judged("decoder.json"));
    assert!(by_phones.len() >= 3 && by_decoder.len() >= 3);
    let sure = |judged: &Value| judged["over_noise"].as_f64().unwrap() > 6.0 && judged["best"] != Value::Null;
    assert!(by_decoder.iter().filter(|judged| sure(judged)).count() >= 3, "{by_decoder:?}");
    assert!(by_phones.iter().all(|judged| judged.is_object() && !sure(judged)), "{by_phones:?}");
    assert!(kept("phones.json")["phones"].is_string() && kept("decoder.json").get("phones").is_none());
    // Kept scores are those of the network that they were made with, and of no other.
    assert!(run("phones.json", &named).status.success() && run("decoder.json", &decoder).status.success());
    for (name, more) in [("phones.json", &decoder[..]), ("decoder.json", &named[..])] {
        let output = run(name, more);
        assert_eq!(output.status.code(), Some(2));
        assert!(
            text(&output.stderr).contains("these are the scores of another second listener"),
            "{}",
            text(&output.stderr)
        );
    }
}

#[test]
fn phones_that_cannot_judge_are_told_before_anything_is_played() {
    let folder = tempfile::tempdir().unwrap();
    lay_set(folder.path());
    let run = || {
        let mut command = wrenchside();
        command.arg("bench-hearing").arg(folder.path()).arg("--phones").arg(folder.path()).output().unwrap()
    };
    let refused = |reasons: &[&str]| {
        let output = run();
        let told = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{told}");
        assert!(reasons.iter().all(|reason| told.contains(reason)), "{told}");
    };
    let (lexicon, network) = (folder.path().join("lexicon.txt"), folder.path().join("phones.onnx"));
    refused(&["lexicon.txt: "]);
    fs::write(&lexicon, "next N EH K S T\nstep S T EP\n").unwrap();
    refused(&["lexicon.txt: line 2: \"EP\" is no phone; allowed are AA "]);
    fs::write(&lexicon, "next N EH K S T\n").unwrap();
    refused(&["phrase \"", "the model has no word"]);
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    fs::copy(root.join("models/listener-en/lexicon.txt"), &lexicon).unwrap();
    refused(&["phones.onnx: "]);
    fs::copy(root.join("tests/data/phones/narrow.onnx"), &network).unwrap();
    refused(&["phones.onnx: this is no network of phones: it gives 39 numbers a row, and not 40"]);
    let mut command = wrenchside();
    command.args(["--one-listener", "bench-hearing"]).arg(folder.path()).arg("--phones").arg(folder.path());
    let output = command.output().unwrap();
    assert!(!output.status.success());
    assert!(text(&output.stderr).contains("--phones needs the second listener, which is switched off"));
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

/// A person who says two commands and something else, and what the folder of noises must have.
fn lay_people(folder: &Path) -> PathBuf {
    let rows = [
        ("clean/us-next-step.flac", "next step", "sc-1", "sc"),
        ("clean/slt-all-done.flac", "all done", "so762-1", "so762 child"),
        ("chatter/01-joe.flac", "did you see the match last night", "sc-1", "sc"),
    ];
    let mut manifest = String::from("file\tkind\ttext\tmeaning\tvoice\tpart\ttrained\twho\n");
    for (file, text, voice, source) in rows {
        manifest += &format!("{}\tsaid\t{text}\t\t{voice}\ttune\tno\t{source}\n", fixture(file).display());
    }
    fs::write(folder.join("manifest.tsv"), manifest).unwrap();
    let noise = folder.join("noise");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 16_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    // A hiss of half a second, and a room with one echo.
    let hiss = (0..8_000u32).map(|n| (n.wrapping_mul(2_654_435_761) >> 18) as i16 / 4 - 2_000).collect::<Vec<_>>();
    let room = (0..2_000)
        .map(|n| {
            if n == 3 {
                30_000
            } else if n == 1_200 {
                6_000
            } else {
                0
            }
        })
        .collect::<Vec<_>>();
    for (file, samples) in [("train/hiss.wav", hiss), ("rir/train/shed.wav", room)] {
        let path = noise.join(file);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        let mut writer = hound::WavWriter::create(path, spec).unwrap();
        samples.into_iter().for_each(|sample: i16| writer.write_sample(sample).unwrap());
        writer.finalize().unwrap();
    }
    let list = "file\tkind\tseconds\tsource\tlicence\ntrain/hiss.wav\thiss\t0.5\tthis test\tCC0\n\
                rir/train/shed.wav\trir\t0.1\tthis test\tCC0\n";
    fs::write(noise.join("manifest.tsv"), list).unwrap();
    noise
}

#[test]
fn people_come_first_with_recorded_noise_and_where_their_words_are_lost() {
    let folder = tempfile::tempdir().unwrap();
    let noise = lay_people(folder.path());
    let report = folder.path().join("report.json");
    let output = wrenchside()
        .arg("bench-hearing")
        .arg(folder.path())
        .arg("--noise")
        .arg(&noise)
        .args(["--calibrate", "--report"])
        .arg(&report)
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    let shown = text(&output.stdout);
    for told in ["Commands, tune, people", "By where the recordings come from", "so762 child", "8 kHz", "room", "hiss"]
    {
        assert!(shown.contains(told), "{told}: {shown}");
    }
    assert!(
        shown.contains("Where commands are lost") && shown.contains("Done by what people say to others"),
        "{shown}"
    );
    let counts: Value = serde_json::from_str(&fs::read_to_string(&report).unwrap()).unwrap();
    let losses = counts["losses"].as_array().unwrap();
    assert_eq!(losses.len(), 2, "{counts}");
    for row in losses {
        let fates: u64 = row["fates"].as_object().unwrap().values().map(|count| count.as_u64().unwrap()).sum();
        assert_eq!((row["of"].as_u64(), fates), (Some(1), 1), "{row}");
    }
    let cells = counts["people"].as_array().unwrap();
    let clean = cells.iter().find(|c| c["ears"] == "vosk-no-rule" && c["source"] == "sc" && c["column"] == "clean");
    assert_eq!(clean.unwrap()["right"], 1, "{counts}");
    for column in ["20 dB", "10 dB", "5 dB", "8 kHz", "room"] {
        assert!(cells.iter().any(|cell| cell["column"] == column && cell["of"] == 1), "{column}: {counts}");
    }
}

#[test]
fn a_set_or_a_noise_that_is_not_as_it_should_be_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let noise = lay_people(folder.path());
    fs::write(noise.join("manifest.tsv"), "file\tkind\n").unwrap();
    let mut command = wrenchside();
    let output = command.arg("bench-hearing").arg(folder.path()).arg("--noise").arg(&noise).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("its first line must be"), "{}", text(&output.stderr));
    fs::write(folder.path().join("manifest.tsv"), "file\tkind\ttext\tmeaning\tvoice\tpart\ttrained\n").unwrap();
    let output = wrenchside().arg("bench-hearing").arg(folder.path()).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    let told = text(&output.stderr);
    assert!(told.contains("trained, who\"") && told.contains("part, trained\""), "{told}");
}

#[test]
fn a_set_of_people_is_made_of_a_folder_of_recordings() {
    if Command::new("sox").arg("--version").output().is_err() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let (one, other, out) = (folder.path().join("one"), folder.path().join("other"), folder.path().join("set"));
    for (place, name, speaker) in [(&one, "sc-a.flac", "sc-7"), (&other, "an4-b.flac", "an4-x")] {
        fs::create_dir_all(place).unwrap();
        fs::copy(fixture("clean/us-next-step.flac"), place.join(name)).unwrap();
        let manifest = format!("file\ttext\tspeaker\tsource\tlicence\n{name}\tnext step\t{speaker}\tthis test\tCC0\n");
        fs::write(place.join("manifest.tsv"), manifest).unwrap();
    }
    let make = |tune: &Path, held: &Path| {
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("scripts/make-hearing-set");
        let mut command = Command::new(script);
        command.arg(&out).args(["--only", "people", "--people-tune"]).arg(tune).arg("--people-held").arg(held);
        command.output().unwrap()
    };
    let output = make(&one, &other);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let clips = wrenchside::hearing::set::read(&out).unwrap();
    let told: Vec<_> =
        clips.iter().map(|clip| (clip.voice.as_str(), clip.part.name(), clip.person.as_deref())).collect();
    assert_eq!(told, [("sc-7", "tune", Some("sc")), ("an4-x", "held-out", Some("an4"))]);
    assert!(clips.iter().all(|clip| clip.path.is_file()));
    let output = make(&one, &one);
    assert!(!output.status.success() && text(&output.stderr).contains("in both parts"), "{}", text(&output.stderr));
    fs::write(other.join("manifest.tsv"), "name\ttext\na\tb\n").unwrap();
    let output = make(&one, &other);
    assert!(text(&output.stderr).contains("found: name, text"), "{}", text(&output.stderr));
}
