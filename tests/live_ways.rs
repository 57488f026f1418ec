//! The ways in beside the sound, in a session that is spoken: a tool that sends its reading and a key that is pressed, while the
//! microphone listens and the voice answers. Both are virtual, as in `live`.

mod sound_server;

use sound_server::{Recording, Server};
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

const BOOK: &str = "tests/data/bench-bracket.toml";
/// Longer than any pause inside an answer.
const SILENCE: Duration = Duration::from_millis(1_200);

struct Session {
    process: Child,
    keys: ChildStdin,
    written: Arc<Mutex<String>>,
    folder: tempfile::TempDir,
}

impl Session {
    /// Spoken, with these settings, at the first bolt, which is to get 15 N·m and is named to its end.
    fn at_the_bolt(server: &Server, tape: &Recording, settings: &str) -> Session {
        let folder = tempfile::tempdir().unwrap();
        let config = folder.path().join("config.toml");
        fs::write(&config, settings).unwrap();
        let mut command = server.around(Command::new(env!("CARGO_BIN_EXE_wrenchside")));
        command.current_dir(env!("CARGO_MANIFEST_DIR")).env("NO_COLOR", "1").env_remove("WRENCHSIDE_LOG");
        command.arg("--config").arg(config).arg("--jobs").arg(folder.path().join("jobs")).args(["start", BOOK]);
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut process = command.spawn().unwrap();
        let written = Arc::new(Mutex::new(String::new()));
        let streams: [Box<dyn Read + Send>; 2] =
            [Box::new(process.stdout.take().unwrap()), Box::new(process.stderr.take().unwrap())];
        for stream in streams {
            let written = written.clone();
            std::thread::spawn(move || {
                for line in BufReader::new(stream).lines().map_while(Result::ok) {
                    *written.lock().unwrap() += &format!("{line}\n");
                }
            });
        }
        let keys = process.stdin.take().unwrap();
        let mut session = Session { process, keys, written, folder };
        session.waits_for("Look at the bracket.", 0);
        tape.until_silent(0, SILENCE);
        // Typed lines are deliberate: they need not wait for the voice.
        let at = tape.position();
        session.typed("done\nyes\ndone\ndone\n");
        session.waits_for("15 N·m", 0);
        tape.until_silent(at, SILENCE);
        session
    }

    fn typed(&mut self, text: &str) {
        self.keys.write_all(text.as_bytes()).and_then(|()| self.keys.flush()).unwrap();
    }

    fn written(&self) -> String {
        self.written.lock().unwrap().clone()
    }

    fn waits_for(&self, text: &str, from: usize) {
        let patience = Instant::now() + Duration::from_secs(40);
        while !self.written()[from..].contains(text) {
            assert!(Instant::now() < patience, "{text:?} does not come; so far:\n{}", self.written());
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    fn says(&self, server: &Server, name: &str, answer: &str) {
        let from = self.written().len();
        let path: PathBuf = Path::new("audio-fixtures/clean").join(format!("{name}.flac"));
        server.speak(&path, 1.0);
        self.waits_for(answer, from);
    }

    fn journal(&self) -> String {
        let job = fs::read_dir(self.folder.path().join("jobs")).unwrap().next().unwrap().unwrap().path();
        fs::read_to_string(job.join("journal.jsonl")).unwrap()
    }
}

impl Drop for Session {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

#[test]
fn a_tool_sends_its_reading_into_a_session_that_is_spoken() {
    let Some(server) = Server::with_microphone() else { return };
    let tape = server.record();
    let device = tempfile::NamedTempFile::new().unwrap();
    let settings = format!("[tool]\ndevice = \"{}\"\nunits = {{ NM = \"N·m\" }}\n", device.path().display());
    let session = Session::at_the_bolt(&server, &tape, &settings);
    let at = tape.position();
    device.as_file().write_all(b"15.0 NM\n").unwrap();
    session.waits_for("Logged 15.0 N·m from the wrench", 0);
    // The answer is spoken, and the session hears what comes after it.
    tape.until_silent(at, SILENCE);
    session.says(&server, "rp-where-am-i", "> where am i");
    assert_eq!(session.journal().matches("from_tool").count(), 1, "{}", session.journal());
}

#[test]
fn a_key_is_pressed_in_a_session_that_is_spoken() {
    let Some(server) = Server::with_microphone() else { return };
    let tape = server.record();
    let mut session = Session::at_the_bolt(&server, &tape, "[keys]\ndone = \"tab\"\n");
    let before = session.journal().matches("\"command\":\"done\"").count();
    let (from, at) = (session.written().len(), tape.position());
    // Pressed twice it counts once: the other bolt is named only then.
    session.typed("\t\t");
    session.waits_for("2 of 2", from);
    tape.until_silent(at, SILENCE);
    assert_eq!(session.journal().matches("\"command\":\"done\"").count(), before + 1, "{}", session.written());
    // Hand and voice go on in turn.
    session.says(&server, "slt-stage-complete", "fully tightened");
}
