//! The ways in beside the sound, in a session that is spoken: a tool that sends its reading and a key that is pressed, while the
//! microphone listens and the voice answers.

use crate::children::{Waits, recogniser, stop};
use crate::session::{BOOK, SILENCE, Session, journal, program};
use crate::sound_server::{LOUD, RATE, Recording, Server};
use std::fs;
use std::io::Write;
use std::process::{ChildStdin, Stdio};
use std::time::Duration;

struct AtTheBolt {
    session: Session,
    keys: ChildStdin,
    folder: tempfile::TempDir,
}

impl AtTheBolt {
    /// Spoken, with these settings, at the first bolt, which is to get 15 N·m and is named to its end.
    fn new(server: &Server, tape: &Recording, settings: &str) -> AtTheBolt {
        let folder = tempfile::tempdir().unwrap();
        let config = folder.path().join("config.toml");
        fs::write(&config, settings).unwrap();
        let mut command = server.around(program());
        command.arg("--config").arg(config).stdin(Stdio::piped());
        let mut session = Session::of(command, &folder.path().join("jobs"), &["start", BOOK]);
        let keys = session.process.stdin.take().unwrap();
        session.waits_for("Look at the bracket.", 0);
        tape.until_silent(0, SILENCE);
        let mut at_the_bolt = AtTheBolt { session, keys, folder };
        // Typed lines are deliberate: they need not wait for the voice.
        let at = tape.position();
        at_the_bolt.typed("done\nyes\ndone\ndone\n");
        at_the_bolt.session.waits_for("15 N·m", 0);
        // A voice that a busy machine makes pause is not at its end.
        tape.until_silent(at, 3 * SILENCE);
        at_the_bolt
    }

    fn typed(&mut self, text: &str) {
        self.keys.write_all(text.as_bytes()).and_then(|()| self.keys.flush()).unwrap();
    }

    fn journal(&self) -> String {
        journal(&self.folder.path().join("jobs"))
    }
}

#[test]
fn a_tool_sends_its_reading_into_a_session_that_is_spoken() {
    let Some(server) = Server::with_microphone() else { return };
    let tape = server.record();
    let device = tempfile::NamedTempFile::new().unwrap();
    let settings = format!("[tool]\ndevice = \"{}\"\nunits = {{ NM = \"N·m\" }}\n", device.path().display());
    let bolt = AtTheBolt::new(&server, &tape, &settings);
    let at = tape.position();
    device.as_file().write_all(b"15.0 NM\n").unwrap();
    bolt.session.waits_for("Logged 15.0 N·m from the wrench", 0);
    // The answer is spoken, and the session hears what comes after it.
    tape.until_silent(at, SILENCE);
    bolt.session.hears(&server, &tape, "where-am-i");
    assert_eq!(bolt.journal().matches("from_tool").count(), 1, "{}", bolt.journal());
}

#[test]
fn a_key_is_pressed_in_a_session_that_is_spoken() {
    let Some(server) = Server::with_microphone() else { return };
    let tape = server.record();
    let mut bolt = AtTheBolt::new(&server, &tape, "[keys]\ndone = \"tab\"\n");
    let before = bolt.journal().matches("\"command\":\"done\"").count();
    let from = bolt.session.written().len();
    // Again if it was too soon, as a user would: the bolt is named once more then.
    let counted = (0..5).any(|_| {
        let at = tape.position();
        // Pressed twice it counts once: the other bolt is named only then.
        bolt.typed("\t\t");
        tape.until_silent(at, 3 * SILENCE);
        bolt.session.written()[from..].contains("2 of 2")
    });
    assert!(counted, "{}", bolt.session.written());
    assert_eq!(bolt.journal().matches("\"command\":\"done\"").count(), before + 1, "{}", bolt.session.written());
    // Hand and voice go on in turn.
    assert!(bolt.session.claims(&server, &tape, "stage-complete", "fully tightened"), "{}", bolt.session.written());
}

/// Where nobody hears the word for it, there is the key.
#[test]
fn the_key_for_silence_is_obeyed_while_the_recogniser_hangs() {
    let Some(server) = Server::with_microphone() else { return };
    let tape = server.record();
    let mut bolt = AtTheBolt::new(&server, &tape, "[keys]\nsilence = \"end\"\n");
    let at = tape.position();
    // It reads out all that may be said, which takes a while.
    bolt.typed("what can I say\n");
    while tape.first_loud(at).is_none() {
        std::thread::sleep(Duration::from_millis(10));
    }
    stop(recogniser(bolt.session.process.id()));
    std::thread::sleep(Duration::from_millis(700));
    bolt.typed("\x1b[F");
    let pressed = tape.now();
    let mut waits = Waits::of(&[server.processes(&[&tape]), vec![bolt.session.process.id()]].concat());
    std::thread::sleep(Duration::from_millis(300));
    let waited = waits.look();
    tape.until(pressed + RATE);
    let before = &tape.samples()[pressed - RATE / 2..pressed];
    assert!(before.iter().any(|sample| sample.unsigned_abs() > LOUD), "it was being said");
    let went_on = tape.last_loud(pressed).map_or(0, |last| (last - pressed) * 1_000 / RATE);
    println!("spoke on for {went_on} ms after the key; threads waited {waited:?} for a processor");
    assert!(went_on <= 300 + waited.as_millis() as usize, "it spoke on for {went_on} ms");
}
