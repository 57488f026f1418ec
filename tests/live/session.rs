//! A session of the program at work, spoken to through a sound server, as a user would speak to it.

use crate::children::{Ended, ends, ends_interrupted};
use crate::sound_server::{Recording, Server};
use std::cell::Cell;
use std::fs;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

pub const ANGLES: &str = "tests/data/bench-angles.toml";
pub const BOOK: &str = "tests/data/bench-bracket.toml";
/// Longer than any pause inside an answer.
pub const SILENCE: Duration = Duration::from_millis(1_200);
/// Nobody waits longer for an answer.
pub const PATIENCE: Duration = Duration::from_secs(40);

/// What the program shows of a command that it has not taken, and of sound that it has not heard.
const REFUSALS: [&str; 4] =
    ["(not taken:", "I did not get that.", "I could not hear you for a moment.", "Some of what was said is lost."];
/// A user says it so often, and goes to see what is wrong.
const TIMES: u32 = 5;
/// So often in a whole session something may have to be said once more. A program that drops every other claim needs more.
const SPARE: u32 = 4;

/// A recording of a command, by somebody else than the program's own voice where there is a choice.
pub fn recording(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("audio-fixtures/clean");
    let voices = ["slt", "rp", "us", "joe"].iter().map(|voice| folder.join(format!("{voice}-{name}.flac")));
    voices.into_iter().find(|path| path.exists()).unwrap_or_else(|| panic!("no recording of {name}"))
}

pub fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_wrenchside"));
    command.current_dir(env!("CARGO_MANIFEST_DIR")).env("NO_COLOR", "1").env_remove("WRENCHSIDE_LOG");
    command
}

/// The program at work, with what it has written so far.
pub struct Session {
    pub process: Child,
    pub written: Arc<Mutex<String>>,
    /// How often something was said once more.
    again: Cell<u32>,
}

impl Session {
    pub fn start(server: &Server, jobs: &Path, args: &[&str]) -> Session {
        let mut command = server.around(program());
        command.stdin(Stdio::null());
        Session::of(command, jobs, args)
    }

    pub fn of(mut command: Command, jobs: &Path, args: &[&str]) -> Session {
        command.arg("--jobs").arg(jobs).args(args).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut process = command.spawn().unwrap();
        let written = Arc::new(Mutex::new(String::new()));
        let streams: [Box<dyn Read + Send>; 2] =
            [Box::new(process.stdout.take().unwrap()), Box::new(process.stderr.take().unwrap())];
        for stream in streams {
            let written = written.clone();
            std::thread::spawn(move || {
                for line in BufReader::new(stream).lines().map_while(Result::ok) {
                    let mut written = written.lock().unwrap();
                    written.push_str(&line);
                    written.push('\n');
                }
            });
        }
        Session { process, written, again: Cell::new(0) }
    }

    pub fn written(&self) -> String {
        self.written.lock().unwrap().clone()
    }

    /// Waits until `text` stands in what was written from byte `from` on.
    pub fn waits_for(&self, text: &str, from: usize) {
        let patience = Instant::now() + PATIENCE;
        while !self.written()[from..].contains(text) {
            assert!(Instant::now() < patience, "{text:?} does not come; so far:\n{}", self.written());
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Says a command, and waits until it is heard and answered in full.
    pub fn say(&self, server: &Server, tape: &Recording, name: &str) -> Vec<i16> {
        let at = self.hears(server, tape, name);
        tape.until_silent(at, SILENCE)
    }

    /// Says a command, and waits until it is heard; gives where the tape was when it was said. One that the program says it has not
    /// taken, or not heard, is said once more, as a user would: a busy machine costs a recording a little of its sound, and some can
    /// spare none.
    pub fn hears(&self, server: &Server, tape: &Recording, name: &str) -> usize {
        let first = self.written().len();
        let taken = format!("> {}", name.replace('-', " "));
        for _ in 0..TIMES {
            let (from, at) = (self.written().len(), tape.position());
            server.speak(&recording(name), 1.0);
            let patience = Instant::now() + PATIENCE;
            let told = |text: &str, from: usize| self.written()[from..].contains(text);
            while !told(&taken, first) && !REFUSALS.iter().any(|refusal| told(refusal, from)) {
                assert!(Instant::now() < patience, "nothing is told of {name}; so far:\n{}", self.written());
                std::thread::sleep(Duration::from_millis(50));
            }
            // What was refused may be other sound than the command, which is about to be taken; and nobody speaks into a refusal.
            let patience = Instant::now() + PATIENCE;
            let refused = tape.position();
            let quiet =
                |tape: &Recording| tape.last_loud(refused).unwrap_or(refused) + samples(SILENCE) <= tape.position();
            while !told(&taken, first) && !quiet(tape) {
                assert!(Instant::now() < patience, "a refusal has no end; so far:\n{}", self.written());
                std::thread::sleep(Duration::from_millis(50));
            }
            if told(&taken, first) {
                return at;
            }
            self.says_again(name);
        }
        panic!("{name} is not taken:\n{}", self.written());
    }

    /// Claims something until it counts, as a user would: a claim that is too soon only has it named once more, and a voice that a busy
    /// machine makes pause is not at its end.
    pub fn claims(&self, server: &Server, tape: &Recording, name: &str, counted: &str) -> bool {
        let from = self.written().len();
        (0..TIMES).any(|_| {
            let at = self.hears(server, tape, name);
            tape.until_silent(at, 3 * SILENCE);
            let counts = self.written()[from..].contains(counted);
            if !counts {
                self.says_again(name);
            }
            counts
        })
    }

    fn says_again(&self, name: &str) {
        self.again.set(self.again.get() + 1);
        println!("{name} is said once more");
        assert!(self.again.get() <= SPARE, "too much has to be said once more:\n{}", self.written());
    }

    /// Asks it to end, as Ctrl-C does, and waits until it has.
    pub fn interrupted(&mut self) -> Ended {
        ends_interrupted(&mut self.process, PATIENCE)
            .unwrap_or_else(|| panic!("it does not end; so far:\n{}", self.written()))
    }

    /// Waits until it ends.
    pub fn ends(&mut self) -> Ended {
        ends(&mut self.process, PATIENCE).unwrap_or_else(|| panic!("it does not end; so far:\n{}", self.written()))
    }

    /// Time on a processor so far.
    pub fn computed(&self) -> Duration {
        let stat = fs::read_to_string(format!("/proc/{}/stat", self.process.id())).unwrap();
        let fields: Vec<&str> = stat.rsplit(')').next().unwrap().split_whitespace().collect();
        let ticks: u64 = fields[11].parse::<u64>().unwrap() + fields[12].parse::<u64>().unwrap();
        Duration::from_millis(ticks * 10)
    }
}

impl Drop for Session {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// How many samples of a tape that is.
pub fn samples(time: Duration) -> usize {
    (time.as_secs_f64() * crate::sound_server::RATE as f64) as usize
}

pub fn journal(jobs: &Path) -> String {
    let job = fs::read_dir(jobs).unwrap().next().unwrap().unwrap().path();
    fs::read_to_string(job.join("journal.jsonl")).unwrap_or_else(|_| {
        let names: Vec<_> = fs::read_dir(&job).unwrap().map(|e| e.unwrap().file_name()).collect();
        panic!("no journal among {names:?}")
    })
}
