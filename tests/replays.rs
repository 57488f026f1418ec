//! The scenarios of `audio-fixtures/scenarios`, by sound: vosk really decodes, the second listener really judges, piper
//! really speaks.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Output, Stdio};

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn replay(arguments: &[&str]) -> Output {
    wrenchside().arg("replay").args(arguments).output().unwrap()
}

fn passes(arguments: &[&str]) -> String {
    let output = replay(arguments);
    let shown = text(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{shown}{}", text(&output.stderr));
    shown
}

#[test]
fn the_whole_job_is_heard_spoken_and_closed_with_nothing_open() {
    let dir = tempfile::tempdir().unwrap();
    let (report, tape) = (dir.path().join("report.json"), dir.path().join("tape.wav"));
    let shown = passes(&[
        "audio-fixtures/scenarios/whole-job.toml",
        "--show",
        "--report",
        report.to_str().unwrap(),
        "--tape",
        tape.to_str().unwrap(),
    ]);
    assert!(shown.contains("Closed, nothing open"), "{shown}");
    let report: serde_json::Value = serde_json::from_str(&fs::read_to_string(report).unwrap()).unwrap();
    assert!(report[0]["answer_ms"].as_array().unwrap().len() > 60);
    // Both sides are on the tape, and both can be heard.
    let mut tape = hound::WavReader::open(tape).unwrap();
    assert_eq!(tape.spec().channels, 2);
    let samples: Vec<i16> = tape.samples().map(Result::unwrap).collect();
    let loudest = |side: usize| samples.iter().skip(side).step_by(2).map(|s| s.unsigned_abs()).max().unwrap();
    assert!(loudest(0) > 3000 && loudest(1) > 3000, "{} {}", loudest(0), loudest(1));
}

#[test]
fn the_same_job_by_typed_lines_comes_out_the_same() {
    // The very same scenario, each recording replaced by the line that is spoken in it.
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let spoken = fs::read_to_string("audio-fixtures/scenarios/whole-job.toml").unwrap();
    let mut typed = String::new();
    for line in spoken.lines() {
        match (line.strip_prefix("sound = "), line.strip_prefix("heard = ")) {
            (Some(_), _) => {}
            (_, Some(phrase)) => typed.push_str(&format!("typed = {phrase}\n")),
            _ => typed.push_str(&format!("{}\n", line.replace("../../", &format!("{}/", here.display())))),
        }
    }
    assert!(typed.matches("typed = ").count() > 80);
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("typed.toml");
    fs::write(&path, typed).unwrap();
    passes(&[path.to_str().unwrap(), "--silent"]);
}

#[test]
fn values_are_asked_by_name_and_the_stage_in_hand_stays() {
    passes(&["audio-fixtures/scenarios/values-asked-by-name.toml", "--silent"]);
}

#[test]
fn every_typed_scenario_passes() {
    let mut found = 0;
    for entry in fs::read_dir("audio-fixtures/scenarios").unwrap() {
        let path = entry.unwrap().path();
        let file = fs::read_to_string(&path).unwrap();
        if !file.contains("\nsound = ") {
            passes(&[path.to_str().unwrap(), "--silent"]);
            found += 1;
        }
    }
    // Each procedure, and each kind of interruption.
    assert!(found >= 9, "{found}");
}

#[test]
fn an_angle_stage_that_was_left_is_asked_about_by_sound() {
    passes(&[
        "audio-fixtures/scenarios/interruption-heard-pause.toml",
        "audio-fixtures/scenarios/interruption-heard-moving.toml",
        "--silent",
    ]);
}

/// What is chosen, done in rounds and broken off by a power cut, from the first step of a job to its end.
#[test]
fn a_job_with_a_variant_and_rounds_is_heard_to_its_end() {
    let file = "audio-fixtures/scenarios/rounds-heard.toml";
    // By sound alone, but for the power.
    assert!(!fs::read_to_string(file).unwrap().contains("\ntyped = "));
    let shown = passes(&[file, "--show", "--silent"]);
    for told in ["The vehicle without anti-lock brakes.", "Round 2.", "Resuming: Brakes", "Closed, nothing open"] {
        assert!(shown.contains(told), "{told}: {shown}");
    }
}

#[test]
fn claims_of_a_strip_down_are_heard_and_their_denials_do_nothing() {
    passes(&["audio-fixtures/scenarios/strip-claims-heard.toml", "--silent"]);
}

/// Nothing written down at the start, a power cut in the strip-down and an interruption in an angle stage; at the end a file that is
/// checked, and that the same job begins by once more.
#[test]
fn a_job_without_a_file_is_told_by_sound_and_leaves_one() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    let run = |arguments: &[&str], lines: &str| {
        let output = wrenchside().arg("--jobs").arg(&jobs).args(arguments).write_stdin(lines).output().unwrap();
        let shown = text(&output.stdout);
        assert_eq!(output.status.code(), Some(0), "{shown}{}", text(&output.stderr));
        shown
    };
    run(&["replay", "audio-fixtures/scenarios/strip-heard.toml", "--silent", "--keep"], "");
    let folder = fs::read_dir(&jobs).unwrap().next().unwrap().unwrap().path();
    assert_eq!(fs::read_dir(folder.join("names")).unwrap().count(), 3);
    let book = folder.join("book.toml").display().to_string();
    run(&["check", &book], "");
    // The same job once more, by the file, to its close.
    let lines = "done\nyes\n".repeat(40) + "finish job\nyes\n";
    let shown = run(&["start", &book, "--typed"], &lines);
    assert!(shown.contains("Take out the bolts, ") && shown.contains("Closed, nothing open"), "{shown}");
}

/// "Number two" by sound chooses the second of the jobs that are not closed.
#[test]
fn an_unfinished_job_is_chosen_by_sound() {
    let dir = tempfile::tempdir().unwrap();
    let run = |arguments: &[&str], lines: &str| {
        let output = wrenchside().arg("--jobs").arg(dir.path()).args(arguments).write_stdin(lines).output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        text(&output.stdout)
    };
    run(&["start", "procedures/tarnfell-front-lower-arm-left.toml", "--typed"], "done\n");
    run(&["start", "procedures/tarnfell-front-brakes.toml", "--typed"], "done\n");
    let out = dir.path().join("answers.wav").display().to_string();
    for voice in ["slt", "us"] {
        let sound = format!("audio-fixtures/strip/{voice}-number-two.flac");
        let shown = run(&["resume", "--choose", "--wav", &sound, "--out", &out], "");
        assert!(shown.contains("> number two") && shown.contains("Begin Front lower arm, left: replace?"), "{shown}");
    }
}

#[test]
fn in_a_noisy_bay_commands_are_heard_or_left_alone() {
    passes(&["audio-fixtures/scenarios/noisy.toml", "--silent"]);
}

#[test]
fn chatter_and_noise_do_nothing() {
    passes(&["audio-fixtures/scenarios/chatter.toml", "--silent"]);
}

/// The report without the times, which differ from run to run.
fn timeless(path: &Path) -> serde_json::Value {
    let mut report: serde_json::Value = serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap();
    for scenario in report.as_array_mut().unwrap() {
        scenario.as_object_mut().unwrap().remove("answer_ms");
        for turn in scenario["turns"].as_array_mut().unwrap() {
            turn.as_object_mut().unwrap().remove("times");
        }
    }
    report
}

#[test]
fn the_same_sound_gives_the_same_report() {
    let dir = tempfile::tempdir().unwrap();
    let (first, second) = (dir.path().join("1.json"), dir.path().join("2.json"));
    for path in [&first, &second] {
        passes(&["audio-fixtures/scenarios/noisy.toml", "--silent", "--report", path.to_str().unwrap()]);
    }
    assert_eq!(timeless(&first), timeless(&second));
}

#[test]
fn a_wrong_expectation_of_a_sound_fails() {
    let dir = tempfile::tempdir().unwrap();
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let path = dir.path().join("wrong.toml");
    let sound = here.join("audio-fixtures/clean/us-carry-on.flac");
    let procedure = here.join("procedures/tarnfell-front-lower-arm-left.toml");
    fs::write(
        &path,
        format!(
            "title = \"wrong\"\nprocedure = {procedure:?}\nbegin = 2026-01-05T08:00:00Z\n\
             [[turn]]\nsound = {sound:?}\nheard = \"previous step\"\n"
        ),
    )
    .unwrap();
    let output = replay(&[path.to_str().unwrap(), "--silent"]);
    assert_eq!(output.status.code(), Some(1), "{}", text(&output.stderr));
    assert!(text(&output.stdout).contains("\"carry on\" instead of \"previous step\""), "{}", text(&output.stdout));
}

#[test]
fn a_replay_killed_half_way_is_taken_up_at_the_same_stage() {
    let dir = tempfile::tempdir().unwrap();
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_wrenchside"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg("--jobs")
        .arg(dir.path())
        .args(["replay", "audio-fixtures/scenarios/whole-job.toml", "--show", "--keep", "--silent"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    // The first angle of the job has just been asked for: nobody can know how far it was turned when the power went.
    let asked = lines.any(|line| line.unwrap().contains("Stage 2: turn a further 55..70°"));
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(asked);
    let again = |lines: &str| {
        let output = wrenchside()
            .arg("--jobs")
            .arg(dir.path())
            .args(["resume", "--typed"])
            .write_stdin(lines.to_owned())
            .output()
            .unwrap();
        text(&output.stdout)
    };
    let shown = again("");
    assert!(shown.contains("Step 24 of 36") && shown.contains("You were interrupted on the pinch bolt"), "{shown}");
    // The user does not know: the single-use bolt is renewed and begins again with its torque, not with the angle.
    let shown = again("not sure\nstage complete\n");
    assert!(shown.contains("fit a new one"), "{shown}");
    assert!(shown.contains("New bolt. Stage 1 of 2: 38 N·m"), "{shown}");
}

/// Recordings one after the other, each behind so many milliseconds of silence.
fn recorded(path: &Path, said: &[(u32, &str)]) {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 16_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec).unwrap();
    for (silence, name) in said {
        let sound = wrenchside::listen::read_sound(Path::new(&format!("audio-fixtures/clean/{name}.flac"))).unwrap();
        let loud = |s: &i16| s.unsigned_abs() > 600;
        let (first, last) = (sound.iter().position(loud).unwrap(), sound.iter().rposition(loud).unwrap());
        (0..silence * 16).for_each(|_| writer.write_sample(0i16).unwrap());
        sound[first..=last].iter().for_each(|&s| writer.write_sample(s).unwrap());
    }
    writer.finalize().unwrap();
}

#[test]
fn in_recorded_sound_its_own_time_decides_whether_a_claim_was_said_twice() {
    let dir = tempfile::tempdir().unwrap();
    let wav = dir.path().join("said.wav");
    let claims = [
        (1_000, "joe-next-step"),
        (4_000, "us-that-one-is-done"),
        (4_000, "rp-stage-complete"),
        // Again, because its speaker did not know whether it was heard. Then the angle is done.
        (800, "rp-stage-complete"),
        (4_000, "rp-stage-complete"),
    ];
    recorded(&wav, &claims);
    let output = wrenchside()
        .arg("--jobs")
        .arg(dir.path().join("jobs"))
        .args(["start", "tests/data/bench-angles.toml", "--wav"])
        .arg(&wav)
        .arg("--out")
        .arg(dir.path().join("answer.wav"))
        .output()
        .unwrap();
    let shown = text(&output.stdout);
    assert!(output.status.success(), "{shown}{}", text(&output.stderr));
    assert_eq!(shown.matches("> stage complete").count(), 3, "{shown}");
    // The angle is asked for twice and claimed once; then comes the other bolt.
    assert_eq!(shown.matches("Stage 2: turn a further 90°").count(), 2, "{shown}");
    assert!(shown.trim_end().contains("2 of 2, right"), "{shown}");
}

#[test]
fn a_recorded_command_drives_a_session_and_is_answered_in_a_file() {
    let dir = tempfile::tempdir().unwrap();
    let (wav, out) = (dir.path().join("said.wav"), dir.path().join("answer.wav"));
    let samples = wrenchside::listen::read_sound(Path::new("audio-fixtures/clean/us-carry-on.flac")).unwrap();
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 16_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&wav, spec).unwrap();
    samples.iter().for_each(|&s| writer.write_sample(s).unwrap());
    writer.finalize().unwrap();
    let output = wrenchside()
        .arg("--jobs")
        .arg(dir.path().join("jobs"))
        .args(["start", "procedures/tarnfell-front-lower-arm-left.toml", "--wav"])
        .arg(&wav)
        .arg("--out")
        .arg(&out)
        .output()
        .unwrap();
    let shown = text(&output.stdout);
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(shown.contains("> carry on") && shown.contains("Is the maker's manual open"), "{shown}");
    // The opening, the first step and the question take well over ten seconds to say.
    assert!(hound::WavReader::open(out).unwrap().duration() > 10 * 22_050);
}
