//! What hangs, dies, or is not there yet, while somebody speaks.

use crate::children::{Waits, recogniser, stop};
use crate::cost;
use crate::session::{BOOK, SILENCE, Session, journal, program, recording};
use crate::sound_server::{self, Server};
use std::fs;
use std::io::Write;
use std::os::fd::AsRawFd;
use std::path::Path;
use std::process::Stdio;
use std::time::{Duration, Instant};
use wrenchside::assets::Places;

/// Nothing that hangs is given up as soon.
const MOMENT: Duration = Duration::from_millis(900);

#[test]
fn a_recogniser_that_hangs_holds_up_neither_the_job_nor_its_end() {
    let Some(server) = Server::with_microphone() else { return };
    let jobs = tempfile::tempdir().unwrap();
    let tape = server.record();
    let mut session = Session::start(&server, jobs.path(), &["start", BOOK]);
    session.waits_for("Look at the bracket.", 0);
    tape.until_silent(0, SILENCE);
    let hung = recogniser(session.process.id());
    stop(hung);
    // Another one is started in its place, and hears what was said to the first.
    session.say(&server, &tape, "next-step");
    assert!(!Path::new(&format!("/proc/{hung}")).exists());
    stop(recogniser(session.process.id()));
    server.speak(&recording("yes-please"), 1.0);
    let ended = session.interrupted();
    // Sooner than anything that hangs is given up, however busy the machine is; `hung` asks for more, without sound.
    assert!(ended.took < MOMENT, "{ended:?}\n{}", session.written());
    assert_eq!(ended.status.code(), Some(0), "{}", session.written());
    assert!(session.written().contains("To go on: wrenchside resume"), "{}", session.written());
}

/// A file that nobody else can open before it is let go: the kernel lets who asks for it wait, for 45 s at most.
struct Kept(fs::File);

impl Kept {
    fn new(path: &Path) -> Kept {
        let file = fs::File::create_new(path).unwrap();
        let kept = Kept(file);
        kept.lease(libc::F_WRLCK);
        kept
    }

    #[allow(unsafe_code)]
    fn lease(&self, kind: libc::c_int) {
        // SAFETY: the file is open, and nothing but numbers is handed over. The signal tells that somebody waits.
        let done = unsafe {
            libc::signal(libc::SIGIO, libc::SIG_IGN);
            libc::fcntl(self.0.as_raw_fd(), libc::F_SETLEASE, kind)
        };
        assert_eq!(done, 0, "{}", std::io::Error::last_os_error());
    }

    fn let_go(mut self, text: &str) {
        self.0.write_all(text.as_bytes()).unwrap();
        self.lease(libc::F_UNLCK);
    }
}

/// A voice whose network can be read only when the test lets it be.
#[test]
fn commands_are_heard_before_the_voice_is_loaded() {
    let Some(server) = Server::with_microphone() else { return };
    let jobs = tempfile::tempdir().unwrap();
    let voice = tempfile::tempdir().unwrap();
    let network = voice.path().join("slow.onnx");
    let kept = Kept::new(&network);
    let description = Places::here().voice(None).unwrap().join("en_US-joe-medium.onnx.json");
    fs::copy(description, voice.path().join("slow.onnx.json")).unwrap();
    let folder = voice.path().to_str().unwrap();
    let mut session = Session::start(&server, jobs.path(), &["--voice", folder, "start", BOOK]);
    session.waits_for("Look at the bracket.", 0);
    let tape = server.record();
    // Both listeners are at work. Nothing can be claimed of a step that is not announced yet, but all else can be said.
    session.hears(&server, &tape, "mark-this-step");
    assert!(session.process.try_wait().unwrap().is_none(), "{}", session.written());
    // What comes at last is no network, and that is told as if it had been seen at the start.
    kept.let_go("no network");
    let ended = session.ends();
    assert_eq!(ended.status.code(), Some(1), "{}", session.written());
    let reason = format!("wrenchside: {}: the model cannot be loaded: ", network.display());
    session.waits_for(&reason, 0);
    assert!(journal(jobs.path()).lines().count() >= 2, "{}", journal(jobs.path()));
}

/// The names of the threads that a session has for its devices: its own, cpal's and those of the sound system.
fn sound_threads(program: u32) -> Vec<String> {
    let all = cost::computed(program).into_iter().map(|((.., name), ..)| name);
    let mut names: Vec<String> = all
        .filter(|name| {
            name.starts_with("cpal_alsa") || ["threaded-ml", "microphone", "loudspeaker"].contains(&name.as_str())
        })
        .collect();
    names.sort();
    names
}

#[test]
fn a_dead_sound_server_costs_nothing_but_the_sound() {
    let Some(mut server) = Server::with_microphone() else { return };
    let jobs = tempfile::tempdir().unwrap();
    let mut session = Session::start(&server, jobs.path(), &["start", BOOK]);
    let tape = server.record();
    session.waits_for("Look at the bracket.", 0);
    tape.until_silent(0, SILENCE);
    session.say(&server, &tape, "next-step");
    session.say(&server, &tape, "yes-please");
    let before = journal(jobs.path());
    drop(tape);

    let written = session.written.clone();
    let told = |text: &str| written.lock().unwrap().matches(text).count();
    let microphones = told("No microphone.");
    let loudspeakers = told("No loudspeaker.");
    let threads = sound_threads(session.process.id());
    let from = session.written().len();
    server.kill();
    session.waits_for("No microphone. I try again every few seconds.", from);
    session.waits_for("No loudspeaker. I try again every few seconds.", from);
    // A thread that turned in circles would need all of it, and never come to rest. What the voice foresees is made at first.
    let calm = (0..5).any(|_| {
        let computed = session.computed();
        std::thread::sleep(Duration::from_secs(7));
        let spent = session.computed() - computed;
        println!("{spent:?} of 7 s on the processor");
        spent < Duration::from_millis(1_400)
    });
    assert!(calm, "the processor is kept busy while nothing can be done");
    assert_eq!(journal(jobs.path()), before);
    assert!(session.process.try_wait().unwrap().is_none(), "{}", session.written());
    // Each is told once, not at every trial.
    assert_eq!(told("No microphone."), microphones + 1, "{}", session.written());
    assert_eq!(told("No loudspeaker."), loudspeakers + 1, "{}", session.written());

    server.start_again();
    session.waits_for("The microphone is back.", from);
    session.waits_for("The loudspeaker is back.", from);
    // Nothing of the dead ones stays, neither a thread of the program nor one of the sound system.
    let patience = Instant::now() + Duration::from_secs(20);
    while sound_threads(session.process.id()) != threads {
        let there = sound_threads(session.process.id());
        assert!(Instant::now() < patience, "{there:?} where there were {threads:?}");
        std::thread::sleep(Duration::from_millis(50));
    }
    let tape = server.record();
    let from = session.written().len();
    session.say(&server, &tape, "all-done");
    assert!(session.written()[from..].contains("Fit and tighten both bolts."), "{}", session.written());

    // Ctrl-C in the middle of speech.
    let at = session.hears(&server, &tape, "say-again");
    let patience = Instant::now() + Duration::from_secs(20);
    while tape.first_loud(at).is_none() {
        assert!(Instant::now() < patience, "nothing is said again");
        std::thread::sleep(Duration::from_millis(10));
    }
    let asked = tape.now();
    let mut waits = Waits::of(&server.processes(&[&tape]));
    let ended = session.interrupted();
    let waited = waits.look() + ended.waited;
    assert_eq!(ended.status.code(), Some(0), "{}", session.written());
    tape.until(asked + sound_server::RATE / 2);
    let went_on = tape.last_loud(asked).map_or(0, |last| (last - asked) * 1_000 / sound_server::RATE);
    println!("spoke on for {went_on} ms after it was asked to end, of which threads waited {waited:?} for a processor");
    assert!(went_on <= 250 + waited.as_millis() as usize, "it spoke on for {went_on} ms");
    assert!(session.written().contains("To go on: wrenchside resume"), "{}", session.written());

    let resumed = program().arg("--jobs").arg(jobs.path()).args(["resume", "--typed"]).stdin(Stdio::null()).output();
    let resumed = resumed.unwrap();
    let text = String::from_utf8_lossy(&resumed.stdout);
    assert!(resumed.status.success() && text.contains("Step 3 of 4."), "{text}");
}
