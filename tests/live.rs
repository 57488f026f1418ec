//! The whole way in real time: recordings spoken into a microphone, the answers taken from a loudspeaker and heard back.
//! Both are virtual (see `sound_server`); the program is the real one, as a user starts it. Without a PulseAudio server
//! these tests say so and do nothing; in CI that is a failure.

#[path = "common/children.rs"]
mod children;
#[path = "common/cost.rs"]
mod cost;
mod sound_server;

use children::{interrupt, recogniser, signal};
use sound_server::{Recording, Server};
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::os::fd::AsRawFd;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use wrenchside::assets::Places;
use wrenchside::listen::{Harm, Hypothesis, Phrase, Recogniser, VoskRecogniser};
use wrenchside::resample;

const ANGLES: &str = "tests/data/bench-angles.toml";
const BOOK: &str = "tests/data/bench-bracket.toml";
/// Longer than any pause inside an answer.
const SILENCE: Duration = Duration::from_millis(1_200);

/// Nothing that hangs is given up as soon.
const MOMENT: Duration = Duration::from_millis(900);

/// What the program shows of a command that it has not taken, and of sound that it has lost.
const REFUSALS: [&str; 3] = ["(not taken:", "I did not get that.", "Some of what was said is lost."];

/// In MB, of both processes.
const MOST_MEMORY: u64 = 420;

/// A recording of a command, by somebody else than the program's own voice where there is a choice.
fn recording(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("audio-fixtures/clean");
    let voices = ["slt", "rp", "us", "joe"].iter().map(|voice| folder.join(format!("{voice}-{name}.flac")));
    voices.into_iter().find(|path| path.exists()).unwrap_or_else(|| panic!("no recording of {name}"))
}

fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_wrenchside"));
    command.current_dir(env!("CARGO_MANIFEST_DIR")).env("NO_COLOR", "1").env_remove("WRENCHSIDE_LOG");
    command
}

/// The program at work, with what it has written so far.
struct Session {
    process: Child,
    written: Arc<Mutex<String>>,
}

impl Session {
    fn start(server: &Server, jobs: &Path, args: &[&str]) -> Session {
        Session::of(server.around(program()), jobs, args)
    }

    fn of(mut command: Command, jobs: &Path, args: &[&str]) -> Session {
        command.arg("--jobs").arg(jobs).args(args).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
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
        Session { process, written }
    }

    fn written(&self) -> String {
        self.written.lock().unwrap().clone()
    }

    /// Waits until `text` stands in what was written from byte `from` on.
    fn waits_for(&self, text: &str, from: usize) {
        let patience = Instant::now() + Duration::from_secs(40);
        while !self.written()[from..].contains(text) {
            assert!(Instant::now() < patience, "{text:?} does not come; so far:\n{}", self.written());
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Says a command, and waits until it is heard and answered in full.
    fn say(&self, server: &Server, tape: &Recording, name: &str) -> Vec<i16> {
        let at = self.hears(server, tape, name);
        tape.until_silent(at, SILENCE)
    }

    /// Says a command, and waits until it is heard; gives where the tape was when it was said. One that the program says it has not
    /// taken is said once more, as a user would: a busy machine costs a recording a little of its sound, and some can spare none.
    fn hears(&self, server: &Server, tape: &Recording, name: &str) -> usize {
        let (from, at) = (self.written().len(), tape.position());
        server.speak(&recording(name), 1.0);
        let taken = format!("> {}", name.replace('-', " "));
        let told = |text: &str| self.written()[from..].contains(text);
        let patience = Instant::now() + Duration::from_secs(40);
        while !told(&taken) {
            assert!(Instant::now() < patience, "{taken:?} does not come; so far:\n{}", self.written());
            if REFUSALS.iter().any(|refusal| told(refusal)) {
                println!("{name} is said once more");
                let (from, at) = (self.written().len(), tape.position());
                server.speak(&recording(name), 1.0);
                self.waits_for(&taken, from);
                return at;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        at
    }

    fn interrupt(&self) {
        interrupt(self.process.id());
    }

    fn ends(&mut self, within: Duration) -> ExitStatus {
        let patience = Instant::now() + within;
        loop {
            if let Some(status) = self.process.try_wait().unwrap() {
                return status;
            }
            assert!(Instant::now() < patience, "it does not end; so far:\n{}", self.written());
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Time on a processor so far.
    fn computed(&self) -> Duration {
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

/// What a recogniser that knows only numbers, units and a few words beside them makes of an answer.
fn heard_back(samples: &[i16]) -> String {
    let model = Places::here().listener(None).unwrap();
    let mut recogniser = VoskRecogniser::open(&model).unwrap();
    let numbers =
        ["five", "fifteen", "fifty", "one five", "five zero", "sixteen", "sixty", "thirty five", "twenty five"];
    let others = [
        "newton metres",
        "bracket bolt",
        "bracket bolts",
        "left",
        "right",
        "one of two left",
        "two of two right",
        "step",
    ];
    let phrases: Vec<Phrase> =
        numbers.iter().chain(&others).map(|text| Phrase { text: (*text).to_owned(), harm: Harm::None }).collect();
    recogniser.listen_for(&phrases).unwrap();
    // Without the silence around it, which on a virtual loudspeaker is an exact one that no room has.
    let (first, last) = (Recording::loud(samples).min(), Recording::loud(samples).max());
    let margin = sound_server::RATE / 5;
    let (first, last) = (first.unwrap_or(0).saturating_sub(margin), last.unwrap_or(0) + margin);
    let samples = &samples[first..last.min(samples.len())];
    let floats: Vec<f32> = samples.iter().map(|&s| f32::from(s) / 32_768.0).collect();
    let even = resample::convert(&floats, sound_server::RATE as u32, wrenchside::listen::RATE).unwrap();
    let even: Vec<i16> = even.into_iter().map(|s| (s * 32_767.0) as i16).collect();
    for chunk in even.chunks(1_600) {
        recogniser.accept(chunk).unwrap();
    }
    Hypothesis::of(&recogniser.finish().unwrap()).text
}

fn journal(jobs: &Path) -> String {
    let job = fs::read_dir(jobs).unwrap().next().unwrap().unwrap().path();
    fs::read_to_string(job.join("journal.jsonl")).unwrap_or_else(|_| {
        let names: Vec<_> = fs::read_dir(&job).unwrap().map(|e| e.unwrap().file_name()).collect();
        panic!("no journal among {names:?}")
    })
}

#[test]
fn a_whole_job_is_spoken_and_answered() {
    let Some(server) = Server::with_microphone() else { return };
    let jobs = tempfile::tempdir().unwrap();
    let other =
        program().arg("--jobs").arg(jobs.path()).args(["start", ANGLES, "--typed"]).stdin(Stdio::null()).output();
    assert!(other.unwrap().status.success());
    let tape = server.record();
    let mut session = Session::start(&server, jobs.path(), &["start", BOOK]);
    session.waits_for("Look at the bracket.", 0);
    tape.until_silent(0, SILENCE);
    session.say(&server, &tape, "next-step");
    session.say(&server, &tape, "yes-please");
    assert!(session.written().contains("Keep your fingers out of the gap."), "{}", session.written());
    session.say(&server, &tape, "all-done");
    session.say(&server, &tape, "all-done");
    let value = heard_back(&session.say(&server, &tape, "how-much-torque"));
    // Fifteen sounds like fifty, to this ear too, so it is read digit by digit as well: that tells them apart.
    let number = ["fifteen newton metres", "fifty newton metres"].iter().any(|text| value.contains(text));
    assert!(number && value.ends_with("one five"), "{value}\n{}", session.written());
    let next = heard_back(&session.say(&server, &tape, "stage-complete"));
    // The second bolt, whatever its short words were heard as.
    assert!(session.written().contains("2 of 2, right"), "{}", session.written());
    assert!(!next.contains("one of two") && next.ends_with("one five"), "{next}");
    session.say(&server, &tape, "stage-complete");
    session.say(&server, &tape, "all-done");
    session.say(&server, &tape, "all-done");
    session.say(&server, &tape, "finish-job");
    // Well above what it had when this was written: it is to find what grows, not what a machine does differently.
    let peak = cost::peak(session.process.id());
    println!("{peak} MB at most");
    assert!(peak < MOST_MEMORY, "{peak} MB at most");
    session.hears(&server, &tape, "yes-please");
    let status = session.ends(Duration::from_secs(30));
    assert_eq!(status.code(), Some(0), "{}", session.written());
    assert!(session.written().contains("The job is closed"), "{}", session.written());
    assert!(session.written().contains("Still unfinished: "), "{}", session.written());
}

/// "Stage complete" again before the answer to it is at its end: by a user who does not know whether he was heard.
#[test]
fn a_claim_said_twice_counts_once() {
    let Some(server) = Server::with_microphone() else { return };
    // On a busy machine the second may begin only when the answer is over, and is another claim then.
    let in_time = (0..3).any(|_| claims_twice(&server));
    assert!(in_time, "this machine is too busy to speak into an answer");
}

/// Says whether the second claim was begun before the answer to the first was over; it must not count then.
fn claims_twice(server: &Server) -> bool {
    let jobs = tempfile::tempdir().unwrap();
    let tape = server.record();
    let session = Session::start(server, jobs.path(), &["start", BOOK]);
    session.waits_for("Look at the bracket.", 0);
    tape.until_silent(0, SILENCE);
    session.say(server, &tape, "next-step");
    session.say(server, &tape, "yes-please");
    session.say(server, &tape, "all-done");
    session.say(server, &tape, "all-done");
    let from = session.written().len();
    let written = || session.written()[from..].to_owned();
    let claim = recording("stage-complete");
    let length =
        wrenchside::listen::read_sound(&claim).unwrap().len() * sound_server::RATE / wrenchside::listen::RATE as usize;
    // A busy machine may pause for longer than that within an answer, and then the first does not count either.
    for _ in 0..3 {
        let at = tape.position();
        server.speak(&claim, 1.0);
        while tape.first_loud(at).is_none() {
            std::thread::sleep(Duration::from_millis(10));
        }
        // Into the answer, which names the second bolt. It is heard under the voice, or not at all.
        server.speak(&claim, 1.0);
        // By then it had begun. That the answer was still being said is known only if it is heard behind the beginning: the
        // tape lags, and so far behind it what is said has begun to sound.
        let began = tape.position().saturating_sub(length);
        tape.until_silent(at, SILENCE);
        let behind = began + sound_server::RATE * 3 / 10..began + sound_server::RATE * 6 / 10;
        let in_time = tape.samples().get(behind).is_some_and(|samples| Recording::loud(samples).next().is_some());
        if !in_time {
            return false;
        }
        assert!(!written().contains("fully tightened"), "{}", written());
        if written().contains("2 of 2, right") {
            break;
        }
    }
    assert!(written().contains("2 of 2, right"), "{}", written());
    // Behind it, it counts.
    for _ in 0..3 {
        session.say(server, &tape, "stage-complete");
        if written().contains("fully tightened") {
            return true;
        }
    }
    panic!("it does not count:\n{}", written());
}

#[test]
fn a_recogniser_that_hangs_holds_up_neither_the_job_nor_its_end() {
    let Some(server) = Server::with_microphone() else { return };
    let jobs = tempfile::tempdir().unwrap();
    let tape = server.record();
    let mut session = Session::start(&server, jobs.path(), &["start", BOOK]);
    session.waits_for("Look at the bracket.", 0);
    tape.until_silent(0, SILENCE);
    let hung = recogniser(session.process.id());
    signal(hung, "STOP");
    // Another one is started in its place, and hears what was said to the first.
    session.say(&server, &tape, "next-step");
    assert!(!Path::new(&format!("/proc/{hung}")).exists());
    signal(recogniser(session.process.id()), "STOP");
    server.speak(&recording("yes-please"), 1.0);
    let began = Instant::now();
    session.interrupt();
    let status = session.ends(Duration::from_secs(20));
    println!("ended within {:?}", began.elapsed());
    // Sooner than anything that hangs is given up, however busy the machine is; `hung` asks for more, without sound.
    assert!(began.elapsed() < MOMENT, "{:?}\n{}", began.elapsed(), session.written());
    assert_eq!(status.code(), Some(0), "{}", session.written());
    assert!(session.written().contains("To go on: wrenchside resume"), "{}", session.written());
}

/// "Take a break" within hearing: the session stays, hears nothing but what takes the job up again, and ends when that does not
/// come.
#[test]
fn a_job_put_down_by_voice_is_taken_up_by_voice() {
    let Some(server) = Server::with_microphone() else { return };
    let jobs = tempfile::tempdir().unwrap();
    let config = jobs.path().join("config.toml");
    fs::write(&config, "pause_hours = 0.007").unwrap();
    let kept = jobs.path().join("jobs");
    let tape = server.record();
    let mut session = Session::start(&server, &kept, &["--config", config.to_str().unwrap(), "start", BOOK]);
    session.waits_for("Look at the bracket.", 0);
    tape.until_silent(0, SILENCE);
    session.say(&server, &tape, "take-a-break");
    session.say(&server, &tape, "yes-please");
    assert!(session.written().contains("To go on, say: carry on."), "{}", session.written());
    let before = journal(&kept);
    let from = session.written().len();
    server.speak(&recording("next-step"), 1.0);
    std::thread::sleep(Duration::from_millis(1_500));
    assert_eq!((&session.written()[from..], journal(&kept)), ("", before), "nothing else is listened for");
    session.say(&server, &tape, "carry-on");
    assert!(session.written()[from..].contains("Resuming"), "{}", session.written());
    session.say(&server, &tape, "next-step");
    session.say(&server, &tape, "take-a-break");
    session.say(&server, &tape, "yes-please");
    let status = session.ends(Duration::from_secs(40));
    assert_eq!(status.code(), Some(0), "{}", session.written());
    assert!(session.written().contains("To go on: wrenchside resume"), "{}", session.written());
}

/// Where all tests are asked for, one that does nothing has failed.
#[test]
fn without_a_sound_server_these_tests_fail_in_ci() {
    let passes = |ci: &str| {
        let mut again = Command::new(std::env::current_exe().unwrap());
        again.args(["--exact", "a_claim_said_twice_counts_once"]).env("PATH", "").env("CI", ci);
        again.stdout(Stdio::null()).stderr(Stdio::null()).status().unwrap().success()
    };
    assert!(passes("") && !passes("true"));
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
    // Both listeners are at work. Nothing can be claimed of a step that is not announced yet, but all else can be said.
    server.speak(&recording("mark-this-step"), 1.0);
    session.waits_for("> mark this step", 0);
    assert!(session.process.try_wait().unwrap().is_none(), "{}", session.written());
    // What comes at last is no network, and that is told as if it had been seen at the start.
    kept.let_go("no network");
    let status = session.ends(Duration::from_secs(10));
    assert_eq!(status.code(), Some(1), "{}", session.written());
    let reason = format!("wrenchside: {}: the model cannot be loaded: ", network.display());
    session.waits_for(&reason, 0);
    assert!(journal(jobs.path()).lines().count() >= 2, "{}", journal(jobs.path()));
}

#[test]
#[ignore = "a measurement: docs/hearing.md has its figures"]
fn from_the_start_until_it_listens() {
    const TOLD: [&str; 3] = ["it listens", "the second listener is there", "the voice is there"];
    let Some(server) = Server::with_microphone() else { return };
    // A null sink that nobody listens to closely brings its first sound after two seconds, as no sound card does.
    let mut awake = ["mic.monitor", "spk.monitor"].map(|source| {
        let mut listener = server.command("parec");
        listener
            .args(["--latency-msec=20", "--device", source])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap()
    });
    std::thread::sleep(Duration::from_secs(3));
    let mut took: Vec<[Duration; 3]> = (0..20)
        .map(|_| {
            let jobs = tempfile::tempdir().unwrap();
            let mut command = server.around(program());
            command.env("WRENCHSIDE_LOG", "wrenchside=debug");
            let began = Instant::now();
            let session = Session::of(command, jobs.path(), &["start", BOOK]);
            let mut seen = TOLD.map(|text| (text, None));
            // The second listener is taken when it is first needed, or when sound comes after it is there.
            while seen.iter().any(|(_, at)| at.is_none()) {
                let written = session.written();
                seen.iter_mut()
                    .filter(|(text, at)| at.is_none() && written.contains(text))
                    .for_each(|(_, at)| *at = Some(began.elapsed()));
                assert!(began.elapsed() < Duration::from_secs(20), "{written}");
                std::thread::sleep(Duration::from_millis(2));
            }
            seen.map(|(_, at)| at.unwrap())
        })
        .collect();
    for (number, what) in TOLD.into_iter().enumerate() {
        took.sort_by_key(|times| times[number]);
        let ms = |at: usize| took[at][number].as_millis();
        println!(
            "{what}: after {} ms p50, {} ms at most, of {} starts",
            ms(took.len() / 2),
            ms(took.len() - 1),
            took.len()
        );
    }
    for listener in &mut awake {
        listener.kill().and_then(|()| listener.wait()).expect("parec could be started, so it can be ended");
    }
}

/// Prints what a stretch of time costs.
fn spent(program: u32, time: Duration, when: &str) {
    let (before, began) = (cost::computed(program), Instant::now());
    std::thread::sleep(time);
    let (after, took) = (cost::computed(program), began.elapsed());
    let part = |time: Duration| 100.0 * time.as_secs_f64() / took.as_secs_f64();
    let mut whole = Duration::ZERO;
    for (thread, time, given) in &after {
        let (_, earlier, given_earlier) =
            before.iter().find(|(of, ..)| of == thread).cloned().unwrap_or((thread.clone(), Duration::ZERO, 0));
        let (spent, times) = (*time - earlier, given - given_earlier);
        whole += spent;
        if times > 0 {
            let per_second = times as f64 / took.as_secs_f64();
            println!("{thread:?}: {:.2} % of a core, woken {per_second:.0} times a second", part(spent));
        }
    }
    println!("{when}: {:.2} % of a core, over {took:.0?}", part(whole));
}

/// Memory, over a session in which all kinds of things are said and answered, and time on a processor while nobody speaks.
#[test]
#[ignore = "a measurement: DEVELOPERS.md has its figures"]
fn what_a_session_costs() {
    const QUIET: Duration = Duration::from_secs(60);
    let Some(server) = Server::with_microphone() else { return };
    let jobs = tempfile::tempdir().unwrap();
    let tape = server.record();
    let session = Session::start(&server, jobs.path(), &["start", "procedures/tarnfell-front-lower-arm-left.toml"]);
    let program = session.process.id();
    let told = |when: &str| {
        let memory = cost::memory(program);
        let sum = |of: fn(&cost::Memory) -> u64| memory.iter().map(of).sum::<u64>();
        let (peak, now, own) = (sum(|m| m.peak), sum(|m| m.now), sum(|m| m.own));
        println!("{when}: peak {peak} MB, now {now} MB, of it {own} MB of its own; {memory:?}");
    };
    session.waits_for("Lay out the tools", 0);
    tape.until_silent(0, SILENCE);
    told("started");
    let mut said = 0;
    for name in ["next-step", "yes-please", "what-can-i-say", "where-am-i", "say-again", "all-done"] {
        session.say(&server, &tape, name);
        said += 1;
        told(name);
    }
    drop(tape);
    // What is foreseen is made first.
    std::thread::sleep(Duration::from_secs(15));
    told(&format!("{said} commands"));
    spent(program, QUIET, "while nobody speaks");
    let tape = server.record();
    session.say(&server, &tape, "take-a-break");
    session.say(&server, &tape, "yes-please");
    drop(tape);
    std::thread::sleep(Duration::from_secs(5));
    spent(program, QUIET, "while the job is put down");
    told("at the end");
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
    let microphones = told("The microphone is gone.");
    let loudspeakers = told("The loudspeaker is gone.");
    let threads = sound_threads(session.process.id());
    let from = session.written().len();
    server.kill();
    session.waits_for("The microphone is gone. It is tried again every few seconds.", from);
    session.waits_for("The loudspeaker is gone. It is tried again every few seconds.", from);
    let computed = session.computed();
    std::thread::sleep(Duration::from_secs(7));
    let spent = session.computed() - computed;
    // A thread that turned in circles would need all of it.
    assert!(spent < Duration::from_millis(1_400), "{spent:?} of 7 s on the processor while nothing could be done");
    assert_eq!(journal(jobs.path()), before);
    assert!(session.process.try_wait().unwrap().is_none(), "{}", session.written());
    // Each is told once, not at every trial.
    assert_eq!(told("The microphone is gone."), microphones + 1, "{}", session.written());
    assert_eq!(told("The loudspeaker is gone."), loudspeakers + 1, "{}", session.written());

    server.start_again();
    session.waits_for("The microphone is back.", from);
    session.waits_for("The loudspeaker is back.", from);
    // Nothing of the dead ones stays, neither a thread of the program nor one of the sound system.
    let patience = Instant::now() + Duration::from_secs(5);
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
    session.interrupt();
    let status = session.ends(Duration::from_secs(4));
    assert_eq!(status.code(), Some(0), "{}", session.written());
    tape.until(asked + sound_server::RATE / 2);
    let went_on = tape.last_loud(asked).map_or(0, |last| (last - asked) * 1_000 / sound_server::RATE);
    println!("spoke on for {went_on} ms after it was asked to end");
    assert!(went_on <= 250, "it spoke on for {went_on} ms");
    assert!(session.written().contains("To go on: wrenchside resume"), "{}", session.written());

    let resumed = program().arg("--jobs").arg(jobs.path()).args(["resume", "--typed"]).stdin(Stdio::null()).output();
    let resumed = resumed.unwrap();
    let text = String::from_utf8_lossy(&resumed.stdout);
    assert!(resumed.status.success() && text.contains("Step 3 of 4."), "{text}");
}

#[test]
fn silence_is_kept_within_150_ms_of_the_decision() {
    let Some(server) = Server::with_microphone() else { return };
    server.loudspeaker_into_microphone(0.3);
    let jobs = tempfile::tempdir().unwrap();
    let tape = server.record();
    let session = Session::start(&server, jobs.path(), &["start", "procedures/tarnfell-front-lower-arm-left.toml"]);
    session.waits_for("Lay out the tools", 0);
    let begun = tape.position();
    while tape.first_loud(begun).is_none() {
        std::thread::sleep(Duration::from_millis(10));
    }
    // For the first seconds the echo canceller does not know the room, and hears the user badly.
    std::thread::sleep(Duration::from_millis(3_000));
    let quiet = || session.written().contains("(quiet)");
    // Again if need be, as a user would.
    for phrase in ["stop-talking", "silence-please", "stop-talking", "silence-please"] {
        server.speak(&recording(phrase), 1.0);
        let patience = Instant::now() + Duration::from_millis(1_500);
        while !quiet() && Instant::now() < patience {
            std::thread::sleep(Duration::from_millis(1));
        }
        if quiet() {
            break;
        }
    }
    assert!(quiet(), "it is not heard over the voice:\n{}", session.written());
    let decided = tape.now();
    tape.until(decided + sound_server::RATE);
    let went_on = tape.last_loud(decided).map_or(0, |last| (last - decided) * 1_000 / sound_server::RATE);
    println!("spoke on for {went_on} ms after the decision");
    assert!(went_on <= 150, "it spoke on for {went_on} ms");
}

#[test]
fn the_programs_own_voice_does_nothing_and_can_be_talked_over() {
    let Some(server) = Server::with_microphone() else { return };
    // As loud at the microphone as the user is, or a little louder.
    server.loudspeaker_into_microphone(0.5);
    let jobs = tempfile::tempdir().unwrap();
    let tape = server.record();
    let session = Session::start(&server, jobs.path(), &["start", BOOK]);
    session.waits_for("Look at the bracket.", 0);
    tape.until_silent(0, SILENCE);
    // It reads out what may be said: its own commands, one after the other, into its own microphone.
    let from = session.written().len();
    session.say(&server, &tape, "what-can-i-say");
    let written = session.written()[from..].to_owned();
    assert_eq!(written.matches("> ").count(), 1, "it heard itself:\n{written}");
    assert_eq!(journal(jobs.path()).lines().count(), 2, "{}", journal(jobs.path()));

    let from = session.written().len();
    let heard = || session.written()[from..].contains("> where am i");
    let pause = |ms| std::thread::sleep(Duration::from_millis(ms));
    for _ in 0..3 {
        // The list once more: some seconds of voice.
        let at = tape.position();
        server.speak(&recording("say-again"), 1.0);
        while tape.first_loud(at).is_none() {
            pause(10);
        }
        pause(1_500);
        // A command over the voice; again if need be, as a user would, as long as the voice goes on.
        loop {
            let before = tape.position();
            server.speak(&recording("where-am-i"), 1.0);
            for _ in 0..20 {
                pause(100);
                if heard() {
                    return;
                }
            }
            if tape.first_loud(before).is_none() {
                break;
            }
        }
        tape.until_silent(at, SILENCE);
    }
    panic!("it cannot be talked over:\n{}", session.written());
}
