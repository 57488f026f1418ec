//! Trying a microphone, on recorded sound: what is measured, what is taken, and why what is not is not.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::fs::{self, File, OpenOptions};
use std::io::Read;
use std::path::Path;
use std::process::Stdio;
use wrenchside::listen::{RATE, read_sound};
use wrenchside::speak::wav::write_mono;

const ARM: &str = "procedures/tarnfell-front-lower-arm-left.toml";
/// Seconds of quiet that are measured.
const QUIET: usize = 2;

/// A recording from the fixtures, so many times as loud.
fn sound(name: &str, times: f32) -> Vec<f32> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("audio-fixtures").join(name);
    let samples = read_sound(&path).unwrap();
    samples.into_iter().map(|s| (f32::from(s) / 32_768.0 * times).clamp(-1.0, 1.0)).collect()
}

fn noise(seconds: usize, level: f32) -> Vec<f32> {
    let mut state = 1u32;
    let mut next = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as f32 / (1 << 23) as f32 - 1.0
    };
    (0..seconds * RATE as usize).map(|_| next() * level).collect()
}

/// Tries three recordings after some quiet; gives the exit code and what was shown.
fn tried(quiet: f32, takes: [Vec<f32>; 3]) -> (i32, String) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("trial.wav");
    let mut all = noise(QUIET, quiet);
    for take in takes {
        all.extend(take);
        all.extend(noise(1, 0.0003));
    }
    write_mono(&path, RATE, &all).unwrap();
    let output = wrenchside().args(["try-microphone", "--seconds", "2", "--wav"]).arg(&path).output().unwrap();
    let shown = String::from_utf8_lossy(&output.stdout).into_owned();
    (output.status.code().unwrap(), shown)
}

#[test]
fn what_is_said_plainly_is_taken() {
    let takes = ["stage-complete", "next-step", "say-again"].map(|name| sound(&format!("clean/f3-{name}.flac"), 1.0));
    let (code, shown) = tried(0.001, takes);
    assert_eq!(code, 0, "{shown}");
    assert!(shown.contains("noise floor -6"), "{shown}");
    for words in
        ["Say: stage complete.\n  taken", "Say: next step.\n  taken", "Say: say again.\n  taken", "3 of 3 phrases"]
    {
        assert!(shown.contains(words), "{words}: {shown}");
    }
}

#[test]
fn what_is_not_taken_is_told_with_its_reason() {
    let takes = [
        sound("clean/f3-stage-complete.flac", 60.0),
        sound("clean/f3-stage-complete.flac", 1.0),
        sound("chatter/40-f3.flac", 0.01),
    ];
    let (code, shown) = tried(0.1, takes);
    assert_eq!(code, 1, "{shown}");
    assert!(shown.contains("a noise as loud as this costs commands"), "{shown}");
    let of = |phrase: &str| shown.split("Say: ").find(|part| part.starts_with(phrase)).unwrap().to_owned();
    assert!(of("stage complete").contains("cut off at full scale: turn the microphone down"), "{shown}");
    assert!(of("next step").contains("\"stage complete\""), "another phrase: {shown}");
    assert!(of("say again").contains("too faint") || of("say again").contains("nothing heard"), "{shown}");
}

/// On a terminal a line shows it meanwhile, and changes.
#[test]
fn the_level_is_shown_while_it_is_measured() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("trial.wav");
    write_mono(&path, RATE, &[noise(1, 0.001), noise(1, 0.5)].concat()).unwrap();
    let far = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
    grantpt(&far).unwrap();
    unlockpt(&far).unwrap();
    let near = ptsname(&far, Vec::new()).unwrap().into_string().unwrap();
    let near = OpenOptions::new().read(true).write(true).open(near).unwrap();
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_wrenchside"));
    command.current_dir(env!("CARGO_MANIFEST_DIR")).env("XDG_CONFIG_HOME", "/nonexistent");
    command.args(["try-microphone", "--seconds", "2", "--loudspeaker", "none of that name", "--wav"]).arg(&path);
    let mut child = command.stdin(Stdio::null()).stdout(near).stderr(Stdio::null()).spawn().unwrap();
    drop(command);
    let mut shown = Vec::new();
    // Once nobody has the near end open any more, reading fails.
    let _ = File::from(far).read_to_end(&mut shown);
    child.wait().unwrap();
    let shown = String::from_utf8_lossy(&shown);
    let marks: Vec<usize> =
        shown.split('\r').filter(|line| line.contains("dBFS, loudest")).map(|line| line.matches('#').count()).collect();
    assert!(marks.len() > 5, "{shown}");
    let (least, most) = (marks.iter().min().unwrap(), marks.iter().max().unwrap());
    assert!(*most >= least + 8, "as loud as it is: {marks:?}");
}

#[test]
fn dead_silence_is_told_and_ends() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("silent.wav");
    write_mono(&path, RATE, &vec![0.0; RATE as usize * 3]).unwrap();
    let output = wrenchside().args(["try-microphone", "--seconds", "2", "--wav"]).arg(&path).output().unwrap();
    let shown = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(output.status.code(), Some(1), "{shown}");
    assert!(shown.contains("is the microphone muted?") && shown.contains("0 of 3 phrases taken"), "{shown}");
    assert_eq!(shown.matches("nothing heard").count(), 3, "{shown}");
}

/// What `hear` says of a recording at a moment.
fn heard(args: &[&str], name: &str) -> String {
    let file = format!("audio-fixtures/clean/{name}.flac");
    let output = wrenchside().args(args).arg(file).output().unwrap();
    String::from_utf8_lossy(&output.stdout).into_owned()
}

#[test]
fn a_recording_is_heard_by_what_may_be_said_at_that_moment() {
    let number = "f3-reading-ninety-two";
    let first = heard(&["hear", "--procedure", ARM], number);
    assert!(first.contains("nothing understood"), "{first}");
    assert!(first.contains("(nothing that can be said now)"), "{first}");
    // At a step that asks for one.
    let (gearbox, reading) = ("procedures/tarnfell-angle-gearbox.toml", "joe-reading-zero-point-three");
    let steps = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(gearbox)).unwrap();
    let step = steps.split("gap between bearing and cover").next().unwrap().matches("[[step]]").count().to_string();
    let there = heard(&["hear", "--procedure", gearbox, "--step", &step], reading);
    assert!(there.contains("\"reading zero point three\""), "{there}");
    assert!(heard(&["hear", "--procedure", gearbox], reading).contains("nothing understood"));
    // A job, at the stage that awaits a torque.
    let jobs = tempfile::tempdir().unwrap();
    let book = "tests/data/bench-bracket.toml";
    let lines = "done\nyes\ndone\ndone\n";
    let mut start = wrenchside();
    start.arg("--jobs").arg(jobs.path()).args(["start", book, "--typed"]).write_stdin(lines).output().unwrap();
    let name = fs::read_dir(jobs.path()).unwrap().next().unwrap().unwrap().file_name();
    let there = heard(&["--jobs", jobs.path().to_str().unwrap(), "hear", "--job", name.to_str().unwrap()], number);
    assert!(there.contains("\"reading ninety two\""), "{there}");
    let none = wrenchside().args(["hear", "--procedure", ARM, "--step", "999", "x.wav"]).output().unwrap();
    assert_eq!(none.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&none.stderr).contains("it has no step 999"));
    let no_job = wrenchside().args(["--jobs", "/nonexistent", "hear", "--job", "none", "x.wav"]).output().unwrap();
    assert_eq!(no_job.status.code(), Some(2));
}
