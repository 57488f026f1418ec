//! Hours of a working day, faster than they pass: commands, talk, machines, silence, power cuts, a recogniser that dies or
//! hangs, a clock that jumps, a full disk, a sound server that dies. What grows, stops or is lost in hours shows here.
//!
//! The listeners are those in use, the recogniser in its own process, the ear on its own thread; time is the sound's. The
//! voice is a clock that runs for as long as an answer takes. Ten minutes by default; SOAK_MINUTES asks for more.

#[allow(dead_code, reason = "others look at more of it")]
#[path = "common/cost.rs"]
mod cost;
mod sound_server;

use sound_server::Server;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tempfile::TempDir;
use tokio::runtime::Runtime;
use wrenchside::assets::Places;
use wrenchside::dialogue::{Language, Manner, Notice};
use wrenchside::job::{At, Job, Question, StepState};
use wrenchside::journal::Folder;
use wrenchside::listen::{Listener, RATE, RecogniserProcess, Second, read_sound};
use wrenchside::onnx;
use wrenchside::procedure::{self, Procedure};
use wrenchside::session::ear::LiveSound;
use wrenchside::session::ear_thread::{Heard, Piece, Told};
use wrenchside::session::notes::{self, Became};
use wrenchside::session::{Conversation, Ear, EarThread, Source, Turn, denying};

const BOOK: &str = "procedures/tarnfell-front-lower-arm-left.toml";
const PIECE: usize = RATE as usize / 10;
/// Milliseconds that the voice takes for a word.
const WORD: i64 = 350;
/// Nothing that the ear is asked takes longer, a recogniser that hangs included.
const PATIENCE: Duration = Duration::from_secs(60);
/// The day in so many parts, each reported by itself.
const PARTS: i64 = 8;

/// Numbers that only look like chance, so that a day can be had again.
struct Chance(u64);

impl Chance {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % n
    }

    fn one<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.below(of.len())]
    }
}

/// What there is to hear.
struct Sounds {
    clean: Vec<(String, Vec<i16>)>,
    talk: Vec<Vec<i16>>,
    machines: Vec<Vec<i16>>,
}

fn sounds(folder: &str) -> Vec<(String, Vec<i16>)> {
    let folder = Path::new("audio-fixtures").join(folder);
    let mut files: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    let name = |file: &Path| file.file_stem().unwrap().to_str().unwrap().split_once('-').unwrap().1.to_owned();
    files.into_iter().map(|file| (name(&file), read_sound(&file).unwrap())).collect()
}

impl Sounds {
    fn read() -> Sounds {
        let bare = |folder| sounds(folder).into_iter().map(|(_, sound)| sound).collect();
        Sounds { clean: sounds("clean"), talk: bare("chatter"), machines: bare("noise") }
    }

    /// Somebody saying this.
    fn said(&self, what: &str, chance: &mut Chance) -> &[i16] {
        let all: Vec<_> = self.clean.iter().filter(|(name, _)| name == what).collect();
        assert!(!all.is_empty(), "nobody says {what}");
        &chance.one(&all).1
    }
}

/// What is counted in one part of the day.
#[derive(Debug, Default)]
struct Counts {
    said: usize,
    understood: usize,
    /// From the last word to the decision, in milliseconds of sound.
    waits: Vec<u64>,
    troubles: usize,
    computing: Duration,
    sound: u64,
}

struct Day {
    sounds: Sounds,
    chance: Chance,
    runtime: Runtime,
    book: Arc<Procedure>,
    text: String,
    jobs: TempDir,
    talk: Conversation,
    ear: EarThread,
    now: i64,
    speaks: Option<i64>,
    counts: Counts,
    /// Seconds in which nobody speaks, at most.
    longest: usize,
    /// A write failed, as it may where the disk is full.
    failed: bool,
    closed: usize,
    facts: usize,
    /// With a microphone; nothing where no such server can be had.
    server: Option<Server>,
    /// How often that has died.
    died: usize,
    /// How often it was put down.
    rested: usize,
}

/// A sound server whose microphone is the one of this process, which has no other thread at work yet.
#[allow(unsafe_code)]
fn server() -> Option<Server> {
    let mut server = Server::with_microphone()?;
    for (name, value) in server.command("true").get_envs() {
        // SAFETY: nothing else reads or changes the surroundings of this process while they are set.
        unsafe {
            match value {
                Some(value) => std::env::set_var(name, value),
                None => std::env::remove_var(name),
            }
        }
    }
    // SAFETY: as above.
    unsafe { wrenchside::sound_system::settle() };
    // It is a process of this one, which is counted with what the program has: it runs only while it is needed.
    server.kill();
    Some(server)
}

fn ear() -> EarThread {
    let places = Places::here();
    onnx::load(&places.onnx_runtime(None).unwrap()).unwrap();
    let judge = Second::find(&places, None).unwrap().open().unwrap();
    let program = Path::new(env!("CARGO_BIN_EXE_wrenchside"));
    let recogniser = RecogniserProcess::start(program, &places.listener(None).unwrap()).unwrap();
    let listener = Listener::new(Box::new(recogniser), Some(judge)).heeding(denying(&Language::english()));
    EarThread::start(Ear::new(listener), None, false, At(0)).unwrap()
}

fn conversation(job: Job, folder: Folder) -> Conversation {
    Conversation::new(Language::english(), Manner::default(), job, folder)
}

/// Everything that a job is, to be compared.
fn state(job: &Job) -> String {
    format!("{:?} {:?} {} {:?}", job.ledger(), job.facts(), job.position(), job.closed())
}

impl Day {
    fn new() -> Day {
        let server = server();
        let whole = procedure::open(Path::new(BOOK)).unwrap();
        let (text, book) = (whole.text().to_owned(), Arc::new(whole.procedure().unwrap()));
        let jobs = tempfile::tempdir().unwrap();
        let folder = Folder::create(jobs.path(), &text, &book, At(0)).unwrap();
        let mut talk = conversation(Job::new(book.clone()), folder);
        talk.begin(At(0)).unwrap();
        talk.announced(At(0));
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        Day {
            sounds: Sounds::read(),
            chance: Chance(7),
            runtime,
            book,
            text,
            jobs,
            talk,
            ear: ear(),
            now: 0,
            speaks: None,
            counts: Counts::default(),
            longest: 90,
            failed: false,
            closed: 0,
            facts: 0,
            server,
            died: 0,
            rested: 0,
        }
    }

    fn hear(&mut self, sound: &[i16]) {
        let began = Instant::now();
        for piece in sound.chunks(PIECE) {
            if let Some(end) = self.speaks.filter(|&end| self.now >= end) {
                self.talk.announced(At(end));
                self.speaks = None;
            }
            self.ear.attune(&self.talk, "");
            self.now += (piece.len() * 1_000 / RATE as usize) as i64;
            let piece = Piece { samples: piece.to_vec(), at: At(self.now), ..Piece::default() };
            assert!(self.ear.hear(piece).is_none(), "there is room: the last piece was worked through");
            loop {
                let next = async { tokio::time::timeout(PATIENCE, self.ear.next()).await };
                match self.runtime.block_on(next).expect("the ear answers") {
                    Told::Done => break,
                    Told::Heard(heard) => self.heard(&heard),
                    Told::NoteOver => {
                        notes::end(&mut self.talk, self.ear.note(), false, At(self.now)).unwrap();
                    }
                    Told::Trouble(trouble) => {
                        assert_eq!(trouble.notice, Some(Notice::Misheard), "{trouble:?}");
                        self.counts.troubles += 1;
                    }
                    Told::Failed(error) => panic!("it hears no more: {error}"),
                }
            }
        }
        self.counts.computing += began.elapsed();
        self.counts.sound += sound.len() as u64;
    }

    fn heard(&mut self, heard: &Heard) {
        let (said, at) = (&heard.said, At(self.now));
        self.counts.understood += usize::from(said.phrase.is_some());
        self.counts.waits.push(said.decided.saturating_sub(said.ended) * 1_000 / u64::from(RATE));
        let answered = notes::answer(&mut self.talk, self.ear.note(), said, heard.moment(said.began), at);
        let (turn, became) = answered.unwrap_or_else(|_| {
            self.failed = true;
            (Turn::default(), Became { turn: Turn::default(), confirmed: None, at })
        });
        // As a session does that stays within hearing.
        let turn = if turn.over && self.talk.job().is_paused() { self.talk.wait(&turn) } else { turn };
        if turn.hush {
            self.speaks = None;
        }
        if turn.announces {
            let words: usize = turn.sentences.iter().map(|s| s.spoken.split(' ').count()).sum();
            self.speaks = Some(self.now + WORD * words as i64);
        }
        self.ear.answered(became, &self.talk, "");
    }

    /// A room in which nobody speaks.
    fn quiet(&mut self, milliseconds: usize) {
        let hiss: Vec<i16> =
            (0..milliseconds * RATE as usize / 1_000).map(|_| self.chance.below(7) as i16 - 3).collect();
        self.hear(&hiss);
    }

    fn say(&mut self, what: &str) {
        let sound = self.sounds.said(what, &mut self.chance).to_vec();
        self.counts.said += 1;
        self.hear(&sound);
        self.quiet(1_500);
        // Until the answer is at its end.
        while self.speaks.is_some() && !self.failed {
            self.quiet(500);
        }
    }

    /// What a user who gets on with the job says next.
    fn get_on(&mut self) {
        let job = self.talk.job();
        let last = self.book.steps.len() - 1;
        let what = match job.question() {
            Some(Question::Angle(_)) => *self.chance.one(&["not-started", "already-finished", "not-sure"]),
            Some(Question::Which { .. } | Question::Correct { value: None, .. }) => "no-thanks",
            Some(_) => "yes-please",
            None if job.pending().is_some() => *self.chance.one(&["stage-complete", "that-one-is-done"]),
            None if job.expects().reading.is_some() => {
                // Typed: which number is right depends on the book.
                let value = job.expects().reading.unwrap();
                // The disk may be full.
                self.failed |= self.talk.read(&format!("reading {}", value.amount()), At(self.now)).is_err();
                return self.quiet(3_000);
            }
            None if job.position() == last && job.ledger().step(last) == StepState::Done => "finish-job",
            None => *self.chance.one(&["all-done", "next-step"]),
        };
        self.say(what);
        if self.talk.job().closed().is_some() {
            self.check();
            self.closed += 1;
            let folder = Folder::create(self.jobs.path(), &self.text, &self.book, At(self.now)).unwrap();
            self.talk = conversation(Job::new(self.book.clone()), folder);
            self.talk.begin(At(self.now)).unwrap();
            self.speaks = Some(self.now + 10_000);
        }
    }

    /// What is on disk is what was acknowledged.
    fn check(&self) {
        // Looked at as somebody else would: the job is open.
        let looked = wrenchside::journal::look(self.talk.folder().path(), &mut |_| {}).unwrap();
        assert!(looked.broken.is_none(), "{:?}", looked.broken);
        assert_eq!(state(&looked.job), state(self.talk.job()));
    }

    /// The power goes, and the job is taken up again.
    fn power_cut(&mut self) {
        self.take_up(&state(self.talk.job()));
    }

    fn take_up(&mut self, acknowledged: &str) {
        let path = self.talk.folder().path().to_owned();
        // The old one lets go of the job first.
        let elsewhere = tempfile::tempdir().unwrap();
        let nothing = Folder::create(elsewhere.path(), &self.text, &self.book, At(self.now)).unwrap();
        drop(std::mem::replace(&mut self.talk, conversation(Job::new(self.book.clone()), nothing)));
        let opened = Folder::open(&path, false).unwrap();
        assert_eq!(state(&opened.job), acknowledged, "nothing that was acknowledged is lost");
        self.talk = conversation(opened.job, opened.folder);
        let turn = self.talk.resume(&opened.notices, At(self.now)).unwrap();
        let words: usize = turn.sentences.iter().map(|s| s.spoken.split(' ').count()).sum();
        self.speaks = Some(self.now + WORD * words as i64);
    }

    /// No byte more fits on the disk, or only part of a line.
    fn disk_full(&mut self, room: u64) {
        let journal = self.talk.folder().path().join("journal.jsonl");
        let acknowledged = state(self.talk.job());
        limit(Some(fs::metadata(journal).unwrap().len() + room));
        for _ in 0..6 {
            self.get_on();
            if self.failed {
                break;
            }
        }
        limit(None);
        assert!(std::mem::take(&mut self.failed), "the disk was full, and nobody noticed");
        self.take_up(&acknowledged);
    }

    /// The recogniser dies or hangs, and there is another one when the next command is heard.
    fn dies(&mut self, by: &str) {
        let before = self.recogniser();
        signal(before, by);
        self.say("where-am-i");
        assert_ne!(self.recogniser(), before, "it was replaced");
    }

    fn recogniser(&self) -> u32 {
        let own = std::process::id();
        *cost::processes(own).iter().find(|id| **id != own).expect("it runs in a process of its own")
    }

    /// A minute or two of a working day.
    fn round(&mut self) {
        let facts = |day: &Day| day.talk.job().facts().len();
        match self.chance.below(10) {
            0..4 | 6 => self.get_on(),
            4 => {
                let what =
                    *self.chance.one(&["say-again", "where-am-i", "how-much-torque", "any-cautions", "previous-step"]);
                self.say(what);
            }
            5 => {
                let seconds = 1 + self.chance.below(10);
                self.quiet(seconds * 1_000);
            }
            7 => {
                let before = facts(self);
                for _ in 0..3 {
                    let talk = self.chance.one(&self.sounds.talk).clone();
                    self.hear(&talk);
                    self.quiet(700);
                }
                assert_eq!(facts(self), before, "talk claims nothing");
            }
            8 => {
                let before = facts(self);
                let machine = self.chance.one(&self.sounds.machines).clone();
                self.hear(&machine);
                self.quiet(1_500);
                assert_eq!(facts(self), before, "a machine claims nothing");
            }
            _ => {
                let seconds = 1 + self.chance.below(self.longest);
                self.quiet(seconds * 1_000);
            }
        }
        self.facts = self.facts.max(facts(self));
    }

    /// The sound server dies under a microphone, which is told, and told to be back when the server is.
    fn sound_dies(&mut self) {
        let Some(server) = &mut self.server else { return };
        server.start_again();
        let mut microphone = LiveSound::open(None).unwrap();
        let mut until = |told: Option<Notice>| {
            let patience = Instant::now() + PATIENCE;
            loop {
                let piece = microphone.read().unwrap().expect("a microphone has no end");
                let troubles = microphone.troubles();
                match told {
                    Some(told) if troubles.iter().any(|trouble| trouble.notice == Some(told)) => return None,
                    None if !piece.is_empty() => return Some(microphone.gap()),
                    _ => assert!(Instant::now() < patience, "{told:?} is not told"),
                }
                std::thread::sleep(Duration::from_millis(20));
            }
        };
        // Sound may begin late, which is a gap of its own.
        while until(None) != Some(None) {}
        server.kill();
        until(Some(Notice::MicrophoneLost));
        server.start_again();
        until(Some(Notice::MicrophoneBack));
        assert!(until(None).flatten().is_some(), "what was lost meanwhile is a gap");
        drop(microphone);
        server.kill();
        self.died += 1;
    }

    /// The job is put down; people talk and machines run meanwhile, and it is taken up again.
    fn is_put_down(&mut self) {
        let mut tries = 0;
        while !self.talk.is_waiting() {
            tries += 1;
            assert!(tries < 30, "it can be put down: {:?}", self.talk.job().question());
            match self.talk.job().question() {
                Some(Question::Pause { .. }) => self.say("yes-please"),
                Some(_) => self.get_on(),
                None => self.say("take-a-break"),
            }
        }
        let facts = self.talk.job().facts().len();
        let until = self.now + 4_000 * self.longest as i64;
        while self.now < until {
            let beside = if self.chance.below(2) == 0 { &self.sounds.talk } else { &self.sounds.machines };
            let sound = self.chance.one(beside).clone();
            self.hear(&sound);
            self.quiet(5_000);
            assert!(self.talk.is_waiting() && self.talk.job().facts().len() == facts, "it listens for one thing only");
        }
        for _ in 0..5 {
            if self.talk.is_waiting() {
                self.say("carry-on");
            }
        }
        assert!(!self.talk.is_waiting(), "it is taken up again");
        self.rested += 1;
    }

    /// Something that goes wrong, in turn.
    fn goes_wrong(&mut self, which: i64) {
        match which % 8 {
            6 => self.sound_dies(),
            7 => self.is_put_down(),
            0 => self.dies("KILL"),
            1 => self.power_cut(),
            2 => {
                let ahead = if which / 8 % 2 == 0 { 3_600_000 } else { -86_400_000 };
                self.talk.clock_set(ahead);
            }
            3 => self.dies("STOP"),
            4 => self.disk_full(0),
            _ => self.disk_full(30),
        }
    }
}

fn signal(process: u32, name: &str) {
    // The shell's own: not every machine has a program of this name.
    let done = Command::new("sh").args(["-c", &format!("kill -{name} {process}")]).status().unwrap();
    assert!(done.success());
}

/// No file that this process writes may become longer.
#[allow(unsafe_code)]
fn limit(bytes: Option<u64>) {
    // SAFETY: both calls read and write only what they are handed.
    unsafe {
        libc::signal(libc::SIGXFSZ, libc::SIG_IGN);
        let mut limit = libc::rlimit { rlim_cur: 0, rlim_max: 0 };
        assert_eq!(libc::getrlimit(libc::RLIMIT_FSIZE, &mut limit), 0);
        limit.rlim_cur = bytes.unwrap_or(limit.rlim_max);
        assert_eq!(libc::setrlimit(libc::RLIMIT_FSIZE, &limit), 0);
    }
}

fn threads() -> usize {
    fs::read_dir("/proc/self/task").unwrap().count()
}

/// So many of a hundred are no more than this.
fn within(waits: &mut [u64], of_hundred: usize) -> u64 {
    waits.sort_unstable();
    waits.get(waits.len().saturating_sub(1) * of_hundred / 100).copied().unwrap_or(0)
}

#[test]
fn a_day_leaves_nothing_behind() {
    let minutes: i64 = std::env::var("SOAK_MINUTES").ok().and_then(|n| n.parse().ok()).unwrap_or(10);
    let part = minutes * 60_000 / PARTS;
    let mut day = Day::new();
    day.longest = (part / 10_000).clamp(5, 90) as usize;
    let mut went_wrong = 0;
    let mut seen: Vec<(u64, u64, usize)> = Vec::new();
    for number in 1..=PARTS {
        // What goes wrong comes at the same places however long the day is; in a long one several times in each part.
        let faults = (part / 120_000).clamp(2, 12);
        for fault in 1..=faults {
            while day.now < part * (number - 1) + part * fault / (faults + 1) {
                day.round();
            }
            day.goes_wrong(went_wrong);
            went_wrong += 1;
        }
        while day.now < part * number {
            day.round();
        }
        day.check();
        let mut counts = std::mem::take(&mut day.counts);
        let memory: u64 = cost::memory(std::process::id()).iter().map(|one| one.own).sum();
        let (half, most) = (within(&mut counts.waits, 50), within(&mut counts.waits, 95));
        println!(
            "part {number}: {} s of sound in {:.0} s; {} said, {} understood; decided {half} / {most} ms behind the words \
             (half / 95 of 100); {} troubles; {memory} MB of its own, {} threads",
            counts.sound / u64::from(RATE),
            counts.computing.as_secs_f64(),
            counts.said,
            counts.understood,
            counts.troubles,
            threads(),
        );
        assert!(2 * counts.understood >= counts.said, "part {number}: {counts:?}");
        seen.push((memory, most, threads()));
    }
    println!(
        "{} jobs closed, at most {} facts in one; {went_wrong} things went wrong; put down and taken up {} times",
        day.closed, day.facts, day.rested
    );
    assert!(day.rested > 0);
    assert!(day.facts > 3 || day.closed > 0, "the job gets on");
    // The first part is when caches fill.
    let (memory, _, there) = seen[1];
    let (memory_now, _, there_now) = seen[seen.len() - 1];
    assert!(memory_now <= memory + memory / 10 + 20, "{memory} MB became {memory_now}");
    assert_eq!(there_now, there, "the sound server died {} times", day.died);
    let early = seen[..2].iter().map(|seen| seen.1).max().unwrap();
    let late = seen[seen.len() - 2..].iter().map(|seen| seen.1).max().unwrap();
    assert!(late <= early + early / 4 + 100, "95 of 100 decided within {early} ms at first, {late} at last");
}
