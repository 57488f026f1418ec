//! Nothing that hangs holds up the end of the program, and nothing that ends it is silent. Recorded sound takes the same way
//! as the microphone's, so none of this needs a sound server.

#[path = "common/children.rs"]
mod children;
#[path = "common/talk.rs"]
mod talk;

use std::fs;
use std::io::{BufRead, BufReader, PipeReader, Read, Write};
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use children::{Ended, ends_interrupted, interrupt, recogniser, stop};
use wrenchside::listen::{RATE, Utterance, read_sound};
use wrenchside::session::live::Input;
use wrenchside::session::{Habits, Screen, Shown, Turn, Ways, run};

const BOOK: &str = "tests/data/bench-bracket.toml";

fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_wrenchside"));
    command.current_dir(env!("CARGO_MANIFEST_DIR")).env("NO_COLOR", "1").env("XDG_CONFIG_HOME", "/nonexistent");
    command.env_remove("WRENCHSIDE_LOG").stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

/// Recordings one after the other, as a WAV file in a folder.
fn sound(folder: &Path, names: &[&str], times: usize) -> PathBuf {
    let path = folder.join("sound.wav");
    let spec =
        hound::WavSpec { channels: 1, sample_rate: RATE, bits_per_sample: 16, sample_format: hound::SampleFormat::Int };
    let mut file = hound::WavWriter::create(&path, spec).unwrap();
    for name in std::iter::repeat_n(names, times).flatten() {
        let recording = read_sound(Path::new(&format!("{}/audio-fixtures/{name}.flac", env!("CARGO_MANIFEST_DIR"))));
        for sample in recording.unwrap().into_iter().chain([0; RATE as usize]) {
            file.write_sample(sample).unwrap();
        }
    }
    file.finalize().unwrap();
    path
}

/// Waits for a line that holds this; gives what comes after it as it comes.
fn read_until(process: &mut Child, text: &str) -> impl BufRead + use<> {
    let mut lines = BufReader::new(process.stdout.take().unwrap());
    let mut line = String::new();
    while !line.contains(text) {
        line.clear();
        assert!(lines.read_line(&mut line).unwrap() > 0, "{text:?} does not come");
    }
    lines
}

/// How the program ends once it is asked to, with its recogniser stopped; and what it says then.
fn ends(mut process: Child, mut lines: impl BufRead) -> (Ended, String) {
    stop(recogniser(process.id()));
    std::thread::sleep(Duration::from_millis(300));
    let ended = interrupted(&mut process);
    let mut rest = String::new();
    lines.read_to_string(&mut rest).unwrap();
    assert!(ended.status.success(), "{}: {rest}", ended.status);
    (ended, rest)
}

fn interrupted(process: &mut Child) -> Ended {
    ends_interrupted(process, Duration::from_secs(30)).expect("it ends")
}

#[test]
fn a_session_whose_recogniser_hangs_ends_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let wav = sound(folder.path(), &["clean/joe-say-again", "clean/joe-where-am-i"], 40);
    let mut process = program()
        .arg("--jobs")
        .arg(folder.path().join("jobs"))
        .args(["start", BOOK, "--wav"])
        .arg(wav)
        .arg("--out")
        .arg(folder.path().join("out.wav"))
        .spawn()
        .unwrap();
    let lines = read_until(&mut process, "> say again");
    let (ended, rest) = ends(process, lines);
    assert!(rest.contains("To go on: wrenchside resume"), "{rest}");
    // The rest of a clause may still be made for the file.
    assert!(ended.took < Duration::from_millis(1_500), "{ended:?}");
}

/// The same where nothing is left to be written.
#[test]
fn a_session_whose_recogniser_hangs_and_whose_answers_are_printed_ends_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let wav = sound(folder.path(), &["clean/joe-say-again", "clean/joe-where-am-i"], 40);
    let mut command = program();
    command.arg("--jobs").arg(folder.path().join("jobs"));
    command.args(["start", BOOK, "--loudspeaker", "none of that name", "--wav"]).arg(wav);
    let mut process = command.spawn().unwrap();
    let lines = read_until(&mut process, "> say again");
    let (ended, rest) = ends(process, lines);
    assert!(rest.contains("To go on: wrenchside resume"), "{rest}");
    assert!(ended.took < Duration::from_millis(300), "{ended:?}");
}

/// A pipe that takes not a byte more, and its reader, who does not read.
fn full_pipe() -> (Stdio, PipeReader) {
    let (reader, mut writer) = std::io::pipe().unwrap();
    writer.write_all(&vec![b' '; 65_536]).unwrap();
    (writer.into(), reader)
}

/// How long the journal of the one job is.
fn journal(jobs: &Path) -> u64 {
    let job = fs::read_dir(jobs).into_iter().flatten().flatten().next();
    job.and_then(|job| fs::metadata(job.path().join("journal.jsonl")).ok()).map_or(0, |about| about.len())
}

/// Waits until the journal is longer than this, so that something was taken.
fn waits_for_more(jobs: &Path, than: u64) -> u64 {
    let began = Instant::now();
    while journal(jobs) <= than {
        assert!(began.elapsed() < Duration::from_secs(60), "nothing more is taken");
        std::thread::sleep(Duration::from_millis(20));
    }
    journal(jobs)
}

/// Neither what is said nor what is reported can be got rid of.
#[test]
fn a_session_that_nobody_reads_goes_on_and_ends_at_once() {
    for spoken in [false, true] {
        let folder = tempfile::tempdir().unwrap();
        let jobs = folder.path().join("jobs");
        let wav = sound(folder.path(), &["clean/joe-all-done", "clean/joe-yes-please", "clean/joe-previous-step"], 40);
        let ((out, unread), (err, unread_too)) = (full_pipe(), full_pipe());
        let mut command = program();
        command.arg("--jobs").arg(&jobs).args(["start", BOOK]).stdin(Stdio::piped()).stdout(out).stderr(err);
        if spoken {
            command.args(["--loudspeaker", "none of that name", "--wav"]).arg(wav);
        } else {
            command.arg("--typed");
        }
        let mut process = command.spawn().unwrap();
        drop(command);
        let mut keys = process.stdin.take().unwrap();
        let mut length = waits_for_more(&jobs, 0);
        for line in ["done\n", "yes\n", "done\n"] {
            if !spoken {
                keys.write_all(line.as_bytes()).unwrap();
            }
            length = waits_for_more(&jobs, length);
        }
        let ended = interrupted(&mut process);
        assert!(ended.status.success(), "{ended:?}");
        assert!(ended.took < Duration::from_millis(300), "{ended:?}");
        // It is put down and free, whoever did not read that.
        let resumed = program().arg("--jobs").arg(&jobs).args(["resume", "--typed"]).output().unwrap();
        assert!(resumed.status.success(), "{}", String::from_utf8_lossy(&resumed.stderr));
        drop((unread, unread_too));
    }
}

/// A screen on which the first turn takes for ever.
struct Stuck;

impl Screen for Stuck {
    fn heard(&mut self, _utterance: &Utterance) {}
    fn turn(&mut self, _turn: &Turn, _job: &Shown) {
        println!("it hangs");
        loop {
            std::thread::sleep(Duration::from_secs(60));
        }
    }
    fn notice(&mut self, _text: &str) {}
}

/// Whatever the loop hangs on. The session is this test itself, in another process.
#[test]
fn a_session_that_hangs_is_ended_by_who_asks_for_the_end() {
    const SESSION: &str = "A_SESSION_THAT_HANGS";
    if std::env::var_os(SESSION).is_some() {
        let jobs = tempfile::tempdir().unwrap();
        let mut talk = talk::talk(jobs.path());
        let habits = Habits { headset: false, pause: Duration::ZERO };
        run(&mut talk, &Turn::default(), Input::Typed, Ways::default(), None, habits, &mut Stuck).unwrap();
        return;
    }
    for twice in [false, true] {
        let mut command = Command::new(std::env::current_exe().unwrap());
        command.args(["--exact", "a_session_that_hangs_is_ended_by_who_asks_for_the_end", "--nocapture"]);
        let mut process = command.env(SESSION, "yes").stdout(Stdio::piped()).spawn().unwrap();
        let _lines = read_until(&mut process, "it hangs");
        if twice {
            interrupt(process.id());
            std::thread::sleep(Duration::from_millis(30));
        }
        let ended = interrupted(&mut process);
        assert_eq!(ended.status.code(), Some(128 + libc::SIGINT));
        let most = if twice { 100 } else { 300 };
        assert!(ended.took < Duration::from_millis(most), "{twice}: {ended:?}");
    }
}

/// The disk is full for the journal itself: nothing that is said after that is acknowledged.
#[test]
fn a_journal_that_cannot_grow_is_told_and_the_job_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let jobs = folder.path().join("jobs");
    let begun = program().arg("--jobs").arg(&jobs).args(["start", BOOK, "--typed"]).output().unwrap();
    assert!(begun.status.success());
    let wav = sound(folder.path(), &["clean/joe-all-done", "clean/joe-yes-please", "clean/joe-previous-step"], 40);
    // No file may become longer than so many blocks of 512 bytes: that it is taken up again still fits, and a few lines. The signal
    // that tells so is not for it.
    let blocks = journal(&jobs).div_ceil(512) + 1;
    let limited = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" \"$@\"");
    let mut command = Command::new("sh");
    command.current_dir(env!("CARGO_MANIFEST_DIR")).env("NO_COLOR", "1").env("XDG_CONFIG_HOME", "/nonexistent");
    command.args(["-c", &limited, env!("CARGO_BIN_EXE_wrenchside"), "--jobs"]).arg(&jobs);
    let ended = command.args(["resume", "--loudspeaker", "none of that name", "--wav"]).arg(wav).output().unwrap();
    let (told, why) = (String::from_utf8_lossy(&ended.stdout), String::from_utf8_lossy(&ended.stderr));
    assert_eq!(ended.status.code(), Some(1), "{told}{why}");
    assert!(told.contains("I have to stop."), "{told}{why}");
    assert!(why.contains("journal.jsonl"), "{why}");
    let resumed = program().arg("--jobs").arg(&jobs).args(["resume", "--typed"]).output().unwrap();
    assert!(resumed.status.success(), "{}", String::from_utf8_lossy(&resumed.stderr));
}

#[test]
fn a_lesson_whose_recogniser_hangs_ends_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let wav = sound(folder.path(), &["clean/joe-say-again", "clean/joe-where-am-i"], 40);
    let mut process =
        program().arg("--voices").arg(folder.path()).args(["learn", "ann", "--wav"]).arg(wav).spawn().unwrap();
    let lines = read_until(&mut process, "(heard: ");
    let (ended, rest) = ends(process, lines);
    assert!(rest.contains("Stopped, with "), "{rest}");
    assert!(ended.took < Duration::from_millis(300), "{ended:?}");
}

/// Where the note should go there is something else: as good as a full disk.
#[test]
fn a_disk_that_takes_no_more_is_told_by_the_voice_and_the_job_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let jobs = folder.path().join("jobs");
    let begun = program().arg("--jobs").arg(&jobs).args(["start", BOOK, "--typed"]).output().unwrap();
    assert!(begun.status.success());
    let job = fs::read_dir(&jobs).unwrap().next().unwrap().unwrap().path();
    fs::write(job.join("notes"), "").unwrap();
    let wav = sound(folder.path(), &["notes/slt-start-note", "clean/joe-say-again", "notes/slt-end-of-note"], 1);
    let (kept, failed) = (folder.path().join("kept.wav"), folder.path().join("failed.wav"));
    let resume = |wav: &Path, out: &Path| {
        program().arg("--jobs").arg(&jobs).args(["resume", "--wav"]).arg(wav).arg("--out").arg(out).output().unwrap()
    };
    let ended = resume(&wav, &failed);
    let (told, why) = (String::from_utf8_lossy(&ended.stdout), String::from_utf8_lossy(&ended.stderr));
    assert_eq!(ended.status.code(), Some(1), "{told}{why}");
    assert!(told.contains("I have to stop."), "{told}{why}");
    assert!(why.contains("cannot keep the note"), "{why}");
    fs::remove_file(job.join("notes")).unwrap();
    let ended = resume(&wav, &kept);
    assert!(ended.status.success(), "the job is there: {}", String::from_utf8_lossy(&ended.stderr));
    assert_eq!(fs::read_dir(job.join("notes")).unwrap().count(), 1, "now the note is kept");
    // Both said where the job stands and that the note begins; to have to stop takes longer to say than that a note is kept.
    let length = |path: &Path| hound::WavReader::open(path).unwrap().duration();
    assert!(length(&failed) > length(&kept), "{} {}", length(&failed), length(&kept));
}

#[test]
fn questions_for_values_whose_recogniser_hangs_end_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let wav = sound(folder.path(), &["clean/joe-say-again", "clean/joe-where-am-i"], 40);
    let mut process = program().args(["values", "docs/values.toml", "--wav"]).arg(wav).spawn().unwrap();
    let lines = read_until(&mut process, "> say again");
    let (ended, _) = ends(process, lines);
    assert!(ended.took < Duration::from_millis(300), "{ended:?}");
}

/// While the models are loaded nobody waits for the end of that, and what was begun is whole. A shell tells it as 130.
#[test]
fn who_asks_for_the_end_while_it_loads_has_it_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let jobs = folder.path().join("jobs");
    let wav = sound(folder.path(), &["clean/joe-say-again"], 10);
    let out = folder.path().join("out.wav");
    let (wav, out) = (wav.to_str().unwrap(), out.to_str().unwrap());
    for arguments in [&["start", BOOK, "--wav", wav, "--out", out][..], &["try-microphone", "--wav", wav]] {
        for pause in [20, 80, 160, 320, 640] {
            let mut process = program().arg("--jobs").arg(&jobs).args(arguments).spawn().unwrap();
            std::thread::sleep(Duration::from_millis(pause));
            let Ended { status, took, .. } = interrupted(&mut process);
            assert!(status.signal() == Some(libc::SIGINT) || status.success(), "{arguments:?} {pause}: {status}");
            // Once the session is there, the rest of a clause may still be made for the file.
            let most = if status.success() { 1_500 } else { 300 };
            assert!(took < Duration::from_millis(most), "{arguments:?} {pause}: {took:?}");
        }
    }
    for job in fs::read_dir(&jobs).into_iter().flatten() {
        let looked = wrenchside::journal::look(&job.unwrap().path(), &mut |_| {}).unwrap();
        assert!(looked.broken.is_none(), "{:?}", looked.broken);
    }
}

/// A keyboard that is there and says nothing is waited for by nobody.
#[test]
fn a_typed_session_of_any_kind_ends_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let sessions = [
        (&["start", BOOK, "--typed"][..], "Look at the bracket.", "To go on: "),
        (&["strip", "Water pump", "--typed"], "Strip-down", "To go on: "),
        (&["values", "docs/values.toml", "--typed"], "values", ""),
    ];
    for (arguments, begun, told) in sessions {
        let mut command = program();
        command.arg("--jobs").arg(folder.path()).args(arguments).stdin(Stdio::piped());
        let mut process = command.spawn().unwrap();
        let keys = process.stdin.take();
        let mut lines = read_until(&mut process, begun);
        // Until it listens to the keyboard.
        std::thread::sleep(Duration::from_millis(500));
        let ended = interrupted(&mut process);
        let mut rest = String::new();
        lines.read_to_string(&mut rest).unwrap();
        assert!(ended.status.success() && rest.contains(told), "{arguments:?}: {ended:?} {rest}");
        assert!(ended.took < Duration::from_millis(300), "{arguments:?}: {ended:?}");
        drop(keys);
    }
}

#[test]
fn a_trial_of_the_microphone_ends_at_once_and_leaves_no_recogniser() {
    let folder = tempfile::tempdir().unwrap();
    let wav = sound(folder.path(), &["clean/joe-say-again"], 60);
    let trial = ["try-microphone", "--seconds", "1", "--wav"];
    let mut process = program().args(trial).arg(wav).spawn().unwrap();
    read_until(&mut process, "Say: ");
    let recogniser = recogniser(process.id());
    let began = Instant::now();
    let ended = interrupted(&mut process);
    assert_eq!(ended.status.signal(), Some(libc::SIGINT));
    assert!(ended.took < Duration::from_millis(300), "{ended:?}");
    let there = || fs::read_to_string(format!("/proc/{recogniser}/cmdline")).is_ok_and(|line| !line.is_empty());
    while there() {
        assert!(began.elapsed() < Duration::from_secs(5), "its recogniser is still there");
        std::thread::sleep(Duration::from_millis(20));
    }
}
