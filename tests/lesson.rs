//! A voice is learnt from recordings, kept, listed, used and forgotten; what is no voice is not learnt. The recognisers really
//! listen.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;
use wrenchside::listen::{RATE, read_sound};

const SCENARIO: &str = "audio-fixtures/scenarios/own-voice-in-noise.toml";

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn run(voices: &Path, arguments: &[&str]) -> Output {
    wrenchside().arg("--voices").arg(voices).args(arguments).output().unwrap()
}

fn shown(voices: &Path, arguments: &[&str]) -> String {
    let output = run(voices, arguments);
    assert!(output.status.success(), "{arguments:?}: {}", text(&output.stderr));
    text(&output.stdout)
}

fn write(path: &Path, samples: &[i16]) {
    let spec =
        hound::WavSpec { channels: 1, sample_rate: RATE, bits_per_sample: 16, sample_format: hound::SampleFormat::Int };
    let mut file = hound::WavWriter::create(path, spec).unwrap();
    samples.iter().for_each(|&sample| file.write_sample(sample).unwrap());
    file.finalize().unwrap();
}

/// The first phrases of a lesson, as one voice says them one after the other.
fn lesson(folder: &Path, phrases: &[String]) -> PathBuf {
    let take = |phrase: &String| format!("audio-fixtures/own-voice/take-{}.flac", phrase.replace(' ', "-"));
    let samples: Vec<i16> = phrases.iter().flat_map(|phrase| read_sound(Path::new(&take(phrase))).unwrap()).collect();
    let path = folder.join("lesson.wav");
    write(&path, &samples);
    path
}

#[test]
fn a_voice_is_learnt_listed_used_and_forgotten() {
    let dir = tempfile::tempdir().unwrap();
    let voices = dir.path().join("voices");
    let all: Vec<String> = shown(&voices, &["learn", "ann", "--list"]).lines().map(str::to_owned).collect();
    let wav = lesson(dir.path(), &all[..6]);
    let told = shown(&voices, &["learn", "ann", "--wav", wav.to_str().unwrap()]);
    assert!(told.contains("6 phrases are known of ann"), "{told}");
    assert!(told.contains(&format!("Stopped, with {} left", all.len() - 6)), "{told}");

    // It goes on where it was broken off.
    let told = shown(&voices, &["learn", "ann", "--wav", wav.to_str().unwrap()]);
    assert!(told.contains(&format!("{} of them", all.len() - 6)), "{told}");

    let listed = shown(&voices, &["voices"]);
    assert!(listed.starts_with("ann  6 phrases, 6 takes"), "{listed}");
    let heard = shown(&voices, &["--own-voice", "ann", "hear", "audio-fixtures/own-voice/work-next-step.flac"]);
    assert!(heard.contains("\"next step\"") && heard.contains("own voice"), "{heard}");

    assert!(shown(&voices, &["forget", "ann"]).contains("Nothing is kept of ann"));
    assert_eq!(fs::read_dir(&voices).unwrap().count(), 0, "nothing at all is left");
    assert!(shown(&voices, &["voices"]).contains("No voice was learnt yet"));
    assert_eq!(run(&voices, &["forget", "ann"]).status.code(), Some(1));
}

#[test]
fn machines_are_not_learnt_as_phrases() {
    let dir = tempfile::tempdir().unwrap();
    let noise = ["impact-1", "grinder-1", "compressor-1", "impact-2"];
    let samples: Vec<i16> = noise
        .iter()
        .flat_map(|name| read_sound(Path::new(&format!("audio-fixtures/noise/{name}.flac"))).unwrap())
        .collect();
    let wav = dir.path().join("machines.wav");
    write(&wav, &samples);
    let told = shown(dir.path(), &["learn", "ann", "--wav", wav.to_str().unwrap()]);
    assert!(told.contains("Nothing was learnt, and nothing is kept."), "{told}");
}

#[test]
fn a_voice_that_was_never_learnt_or_cannot_be_used_is_told_with_what_to_do() {
    let dir = tempfile::tempdir().unwrap();
    let hear = ["--own-voice", "bob", "hear", "audio-fixtures/clean/us-next-step.flac"];
    let output = run(dir.path(), &hear);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("wrenchside learn bob learns it"), "{}", text(&output.stderr));
    fs::write(dir.path().join("bob.voice"), "no profile").unwrap();
    let output = run(dir.path(), &hear);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("bob.voice: this is no profile of a voice"), "{}", text(&output.stderr));
    assert!(shown(dir.path(), &["voices"]).contains("bob  this is no profile"));
    for name in ["../bob", "", "a b", "-x"] {
        assert_eq!(run(dir.path(), &["forget", "--", name]).status.code(), Some(2), "{name}");
    }
}

#[test]
fn a_learnt_voice_is_heard_in_noise_that_is_too_loud_without() {
    let with = wrenchside().args(["replay", SCENARIO, "--silent"]).output().unwrap();
    assert!(with.status.success(), "{}", text(&with.stdout));
    let dir = tempfile::tempdir().unwrap();
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let written = fs::read_to_string(SCENARIO).unwrap();
    let without: String = written
        .lines()
        .filter(|line| !line.starts_with('"') && *line != "[learn]")
        .map(|line| line.replace("../own-voice", here.join("audio-fixtures/own-voice").to_str().unwrap()))
        .map(|line| line.replace("../../tests", here.join("tests").to_str().unwrap()))
        .map(|line| line + "\n")
        .collect();
    let path = dir.path().join("without.toml");
    fs::write(&path, without).unwrap();
    let output = wrenchside().arg("replay").arg(&path).arg("--silent").output().unwrap();
    assert_eq!(output.status.code(), Some(1), "{}", text(&output.stdout));
}
