//! Real speech with the real voice, and what happens when its files are not as they should be.
//!
//! Needs what `scripts/setup` fetches.

use std::fs;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

use wrenchside::assets::Places;
use wrenchside::onnx::{self, OnnxError};
use wrenchside::speak::phonemes::Phonemiser;
use wrenchside::speak::sentence::GAP;
use wrenchside::speak::{CachedVoice, Piper, SpeakError, Voice, say_sentence};

fn load_runtime() -> Places {
    let places = Places::here();
    onnx::load(&places.onnx_runtime(None).unwrap()).unwrap();
    places
}

fn voice() -> Piper {
    let places = load_runtime();
    Piper::load(&places.voice(None).unwrap(), &places.phonemes(None).unwrap()).unwrap()
}

fn seconds(samples: &[f32], rate: u32) -> f64 {
    samples.len() as f64 / f64::from(rate)
}

fn rms(samples: &[f32]) -> f32 {
    (samples.iter().map(|s| s * s).sum::<f32>() / samples.len() as f32).sqrt()
}

#[test]
fn a_sentence_is_as_long_and_as_loud_as_speech_is() {
    let mut voice = voice();
    assert_eq!(voice.rate(), 22_050);
    let samples = voice.say("Step four. Torque to one hundred and ten newton metres.", 1.0).unwrap();
    let length = seconds(&samples, voice.rate());
    // Twelve words, of which nobody speaks more than six a second or fewer than one and a half.
    assert!((2.0..8.0).contains(&length), "{length} s");
    let level = rms(&samples);
    assert!((0.02..0.5).contains(&level), "level {level}");
    assert!(samples.iter().all(|s| s.is_finite()));
}

#[test]
fn punctuation_makes_pauses() {
    let mut voice = voice();
    // The voice varies a little from one time to the next: the sums of several decide.
    let mut total = |text: &str| -> f64 { (0..4).map(|_| voice.say(text, 1.0).unwrap().len() as f64).sum() };
    let (with, without) = (total("One, two, three, four."), total("One two three four."));
    assert!(with > 1.15 * without, "{with} is not longer than {without}");
}

#[test]
fn pace_changes_the_length() {
    let mut voice = voice();
    let mut length = |pace: f32| -> f64 {
        (0..3).map(|_| voice.say("Torque to seventy newton metres.", pace).unwrap().len() as f64).sum()
    };
    let (slow, normal, fast) = (length(0.75), length(1.0), length(1.5));
    assert!(slow > 1.15 * normal, "{slow} {normal}");
    assert!(normal > 1.2 * fast, "{normal} {fast}");
    // Nonsense is taken for the nearest sense.
    assert!(length(f32::NAN) > 1.0);
    assert!(length(-3.0) > slow);
}

#[test]
fn the_first_clause_is_there_long_before_the_last() {
    let mut voice = CachedVoice::new(Box::new(voice()), "joe", 10_000_000);
    let text = "Stage one: seventy newton metres. Then turn a further ninety degrees, one and a half flats.";
    let mut run = || {
        let began = Instant::now();
        let (mut first, mut length) = (None, 0);
        let end = say_sentence(&mut voice, text, 1.0, GAP, &mut |samples| {
            first.get_or_insert(began.elapsed());
            length += samples.len();
            ControlFlow::Continue(())
        });
        assert!(end.unwrap().is_continue());
        (first.unwrap(), began.elapsed(), length)
    };
    let (first, all, length) = run();
    assert!(first < all / 2, "{first:?} of {all:?}");
    // What was said once is at hand, sample for sample.
    let (_, again, same) = run();
    assert_eq!(length, same);
    assert!(again < all / 10, "{again:?}, and {all:?} the first time");
}

#[test]
fn nothing_to_say_is_no_samples() {
    let mut voice = voice();
    for text in ["", "  ", "...", "\n"] {
        assert!(voice.say(text, 1.0).unwrap().is_empty(), "{text:?}");
    }
    assert!(matches!(voice.say("zero \0 byte", 1.0), Err(SpeakError::Phonemes { .. })));
}

#[test]
fn odd_texts_are_survived() {
    let mut voice = voice();
    for text in ["M10 × 1.25, 70 N·m ± 5 %", "naïve façade crème brûlée", "Привет, 你好", "(((", "a", "🙂", "x.y,z"]
    {
        let samples = voice.say(text, 1.0).unwrap();
        assert!(samples.iter().all(|s| s.is_finite()), "{text}");
    }
}

#[test]
fn the_phonemes_come_from_the_projects_own_data() {
    let folder = Places::here().phonemes(None).unwrap();
    let ours = Phonemiser::new(&folder, "en-us").unwrap();
    assert_eq!(ours.phonemes("torque wrench").unwrap(), "tˈɔːɹk ɹˈɛntʃ");
    // A full set of data, which is what lies elsewhere on a system, would have these.
    for other in ["fr", "de", "sv"] {
        assert!(
            matches!(Phonemiser::new(&folder, other), Err(SpeakError::PhonemeData { .. })),
            "there is data for {other}"
        );
    }
}

/// Copies the phoneme data to a folder of its own.
fn copy_of_phoneme_data(to: &Path) {
    fn copy(from: &Path, to: &Path) {
        fs::create_dir_all(to).unwrap();
        for entry in fs::read_dir(from).unwrap() {
            let entry = entry.unwrap();
            let to = to.join(entry.file_name());
            if entry.file_type().unwrap().is_dir() {
                copy(&entry.path(), &to);
            } else {
                fs::copy(entry.path(), to).unwrap();
            }
        }
    }
    copy(&Places::here().phonemes(None).unwrap(), to);
}

/// One process can start the phonemiser once, so each of these cases gets a process: this test program, asked for
/// the one test below with the folder in the environment.
fn phonemes_in_another_process(folder: &Path) -> String {
    let output = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "phonemiser_with_a_given_folder", "--nocapture", "--ignored"])
        .env("PHONEMES_FOR_TEST", folder)
        // Data elsewhere must not be taken instead.
        .env("ESPEAK_DATA_PATH", "/usr/lib/x86_64-linux-gnu")
        .env("PIPER_ESPEAKNG_DATA_DIRECTORY", "/usr/lib/x86_64-linux-gnu")
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

#[test]
#[ignore = "is run by the tests below, with a folder in the environment"]
fn phonemiser_with_a_given_folder() {
    let folder = PathBuf::from(std::env::var_os("PHONEMES_FOR_TEST").unwrap());
    match Phonemiser::new(&folder, "en-us") {
        Ok(phonemiser) => println!("SAYS {}", phonemiser.phonemes("torque wrench").unwrap()),
        Err(e) => println!("REFUSES {e}"),
    }
}

#[test]
fn whole_phoneme_data_is_used_from_anywhere() {
    let folder = tempfile::tempdir().unwrap();
    copy_of_phoneme_data(folder.path());
    let told = phonemes_in_another_process(folder.path());
    assert!(told.contains("SAYS tˈɔːɹk ɹˈɛntʃ"), "{told}");
}

#[test]
fn damaged_phoneme_data_is_refused_by_name() {
    let folder = tempfile::tempdir().unwrap();
    copy_of_phoneme_data(folder.path());
    let victim = folder.path().join("espeak-ng-data/phondata");
    let bytes = fs::read(&victim).unwrap();
    fs::write(&victim, &bytes[..bytes.len() / 2]).unwrap();
    let told = phonemes_in_another_process(folder.path());
    assert!(told.contains(&format!("REFUSES {}", victim.display())), "{told}");
}

#[test]
fn missing_phoneme_data_is_refused_and_nothing_else_taken() {
    let folder = tempfile::tempdir().unwrap();
    let told = phonemes_in_another_process(folder.path());
    assert!(told.contains(&format!("REFUSES {}", folder.path().display())), "{told}");
}

#[test]
fn a_path_too_long_for_the_library_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let long = folder.path().join("x".repeat(100)).join("y".repeat(60));
    copy_of_phoneme_data(&long);
    let told = phonemes_in_another_process(&long);
    assert!(told.contains("REFUSES") && told.contains("shorter"), "{told}");
}

#[test]
fn a_missing_runtime_is_an_error_not_an_end() {
    let path = Path::new("/no/such/libonnxruntime.so");
    let e = refusal(path);
    assert!(matches!(e, OnnxError::Library { .. }), "{e}");
    assert!(e.to_string().starts_with("/no/such/libonnxruntime.so: "));
}

#[test]
fn a_file_that_is_no_library_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("libonnxruntime.so");
    fs::write(&path, "not a library at all").unwrap();
    let e = refusal(&path);
    assert!(matches!(e, OnnxError::Library { .. }), "{e}");
}

#[test]
fn another_library_is_refused() {
    let e = refusal(&compiled("int unrelated(void) { return 1; }"));
    assert!(matches!(e, OnnxError::NotOnnx { .. }), "{e}");
}

#[test]
fn a_runtime_that_is_too_old_is_refused_with_both_versions() {
    // What the library exports, in its oldest form: a table of two functions, the first of which knows no interface
    // of the version asked for.
    let e = refusal(&compiled(
        r#"
        static const void *get_api(unsigned version) { return version <= 10 ? &get_api : 0; }
        static const char *get_version(void) { return "1.10.0"; }
        static const struct { const void *(*api)(unsigned); const char *(*version)(void); } base = { get_api, get_version };
        const void *OrtGetApiBase(void) { return &base; }
        "#,
    ));
    assert!(matches!(&e, OnnxError::TooOld { found, .. } if found == "1.10.0"), "{e}");
    assert!(e.to_string().contains("scripts/setup"), "{e}");
}

/// Why a library is not taken. Tests may share a process in which the right one is loaded, so it is only checked.
fn refusal(path: &Path) -> OnnxError {
    onnx::check(path).unwrap_err()
}

/// A shared library made of `source`; the compiler is there, as the build needs it too.
fn compiled(source: &str) -> PathBuf {
    let folder = tempfile::tempdir().unwrap().keep();
    let (c, so) = (folder.join("x.c"), folder.join("libonnxruntime.so"));
    fs::write(&c, source).unwrap();
    let status = Command::new("cc").args(["-shared", "-fPIC", "-o"]).args([&so, &c]).status().unwrap();
    assert!(status.success());
    so
}

/// A folder with the voice's files, of which `change` makes something else.
fn changed_voice(change: impl FnOnce(&Path, &Path)) -> (tempfile::TempDir, Result<Piper, SpeakError>) {
    let places = load_runtime();
    let original = places.voice(None).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let model = folder.path().join("some.onnx");
    let config = folder.path().join("some.onnx.json");
    fs::copy(original.join("en_US-joe-medium.onnx"), &model).unwrap();
    fs::copy(original.join("en_US-joe-medium.onnx.json"), &config).unwrap();
    change(&model, &config);
    let loaded = Piper::load(folder.path(), &places.phonemes(None).unwrap());
    (folder, loaded)
}

#[test]
fn a_voice_may_have_any_name() {
    let (_folder, loaded) = changed_voice(|_, _| {});
    assert!(loaded.is_ok());
}

#[test]
fn a_truncated_voice_is_refused_by_name() {
    let (folder, loaded) = changed_voice(|model, _| {
        let bytes = fs::read(model).unwrap();
        fs::write(model, &bytes[..bytes.len() / 2]).unwrap();
    });
    let told = loaded.err().unwrap().to_string();
    let path = folder.path().join("some.onnx");
    assert!(told.starts_with(&format!("{}: ", path.display())), "{told}");
}

#[test]
fn a_voice_without_its_description_is_refused_by_name() {
    let (folder, loaded) = changed_voice(|_, config| fs::remove_file(config).unwrap());
    let told = loaded.err().unwrap().to_string();
    let path = folder.path().join("some.onnx.json");
    assert!(told.starts_with(&format!("{}: ", path.display())), "{told}");
}

#[test]
fn a_voice_with_a_broken_description_is_refused() {
    for text in ["", "{}", "[1", r#"{"audio":{"sample_rate":0}}"#] {
        let (_folder, loaded) = changed_voice(|_, config| fs::write(config, text).unwrap());
        assert!(matches!(loaded.err().unwrap(), SpeakError::NotAVoice { .. }), "{text}");
    }
}

#[test]
fn a_folder_with_no_voice_or_two_is_refused() {
    let places = load_runtime();
    let phonemes = places.phonemes(None).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let none = Piper::load(folder.path(), &phonemes).err().unwrap();
    assert!(matches!(none, SpeakError::NotAVoice { .. }), "{none}");
    let (folder, two) = changed_voice(|model, _| {
        fs::copy(model, model.with_file_name("other.onnx")).unwrap();
    });
    assert!(two.err().unwrap().to_string().contains("holds 2"));
    drop(folder);
    let missing = Piper::load(Path::new("/no/such/voice"), &phonemes).err().unwrap();
    assert!(missing.to_string().starts_with("/no/such/voice: "), "{missing}");
}
