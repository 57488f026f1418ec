//! The program itself is killed (`kill -9`) at random moments of a typed session, two hundred times, and no fact that it
//! acknowledged is lost.
//!
//! One user works on, through every kill: the program is started, or takes up the job that the kill before left, is given
//! lines, many at once or one by one, and is killed while it starts, between two lines or in the middle of writing. Beside
//! it a job that is never interrupted is given the same lines. What was printed until the kill must be what that one
//! says, so the words after taking up, which tell where the job stands, are compared too. What is on disk then must be
//! one of the states that it passed through: not before the last reply that was printed whole, and no further than one
//! line behind it.

#![cfg(unix)]

use std::collections::BTreeSet;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command as Process, Stdio};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};
use wrenchside::dialogue::{Language, Manner, Meaning, Notice};
use wrenchside::job::{At, Command, Job, Question, Reading, Say};
use wrenchside::journal;
use wrenchside::procedure::{self, Procedure};

const ARM: &str = "procedures/tarnfell-front-lower-arm-left.toml";

/// Lines that a session is given before it is killed, at most.
const LINES: usize = 40;

/// Longer than any reply takes on a busy machine.
const PATIENCE: Duration = Duration::from_secs(20);

/// Numbers that differ from round to round and are the same each time the test is run.
struct Dice(u64);

impl Dice {
    fn below(&mut self, most: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % most
    }
}

/// What a lively user types next: mostly the right thing, now and then something else.
fn line(job: &Job, dice: &mut Dice) -> String {
    let reading = |job: &Job| job.expects().reading.map(|awaited| format!("reading {}", awaited.amount()));
    let whim = dice.below(24);
    let typed = match (job.question(), whim) {
        (Some(Question::Angle(_)), 0..6) => "not sure",
        (Some(Question::Angle(_)), 6..12) => "not started",
        (Some(Question::Angle(_)), _) => "that is finished",
        (Some(Question::Which { .. }), _) | (Some(_), 0..2) => "no",
        (Some(_), _) => "yes",
        (None, 0) => "undo",
        (None, 1) => "mark",
        (None, 2) => "note the thread looks worn",
        (None, 3) => "how much torque",
        (None, 4) => "skip",
        (None, 5) => "previous step",
        (None, 6) if dice.below(3) == 0 => "stripped",
        (None, 7) if dice.below(8) == 0 => "pause",
        (None, 8) if dice.below(8) == 0 => "go to step 1",
        (None, 9..12) => return reading(job).unwrap_or_else(|| "done".into()),
        (None, _) if job.pending().is_none() && job.expects().reading.is_some() => {
            return reading(job).unwrap_or_default();
        }
        (None, _) if job.position() + 1 == job.book().steps.len() => ["done", "finish"][dice.below(2) as usize],
        (None, _) => "done",
    };
    typed.into()
}

/// A job that is never interrupted, and what the program would print about it.
struct Uninterrupted {
    language: Language,
    job: Job,
    /// What was printed so far, behind the line that names the job.
    printed: String,
    /// Commands that changed it.
    written: Vec<Command>,
    /// After each reply: the end of `printed`, the number of commands written, and the job.
    passed: Vec<(usize, usize, Job)>,
    over: bool,
    /// The kill before tore a line, which is told first.
    torn: bool,
}

impl Uninterrupted {
    fn new(job: Job, torn: bool) -> Uninterrupted {
        let (language, printed) = (Language::english(), String::new());
        Uninterrupted { language, job, printed, written: Vec::new(), passed: Vec::new(), over: false, torn }
    }

    fn command(&mut self, command: Command) {
        let reply = self.job.apply(command.clone(), At(self.job.last_change().0 + 1));
        if reply.recorded {
            self.written.push(command);
        }
        let mut sentences = self.language.render(&reply.says, self.job.book(), &Manner::default());
        if std::mem::take(&mut self.torn) {
            sentences.insert(1, self.language.notice(Notice::TornLine));
        }
        for sentence in sentences {
            self.printed.push_str(&format!("  {}\n", sentence.written));
        }
        self.over = reply.says.iter().any(|say| matches!(say, Say::Paused | Say::Closed { .. }));
        self.passed.push((self.printed.len(), self.written.len(), self.job.clone()));
    }

    fn read(&mut self, line: &str) {
        let expects = self.job.expects();
        match (self.language.understand_typed(line, &expects), expects.reading) {
            // As the session does: a number gets the unit that was said last.
            (Ok(Meaning::Command(Command::Reading(Reading { amount, unit: None }))), Some(about)) => {
                self.command(Command::Number { amount, unit: about.unit(), own: None });
            }
            (Ok(Meaning::Command(command)), _) => self.command(command),
            (other, _) => panic!("{line}: {other:?}"),
        }
    }
}

/// The program, working on a job in a folder of its own.
struct Running {
    child: Child,
    /// Where lines are typed. Held open: its end would end the session.
    lines: ChildStdin,
    out: Receiver<Vec<u8>>,
    seen: Vec<u8>,
}

impl Running {
    fn start(root: &Path, job: Option<&Path>) -> Running {
        let mut program = Process::new(env!("CARGO_BIN_EXE_wrenchside"));
        program.current_dir(env!("CARGO_MANIFEST_DIR")).env("NO_COLOR", "1").env_remove("WRENCHSIDE_LOG");
        // With settings of its own, so that nobody's toolbox speaks here.
        program.arg("--jobs").arg(root.join("jobs")).arg("--config").arg(root.join("config.toml"));
        match job {
            None => program.args(["start", ARM, "--typed"]),
            Some(job) => program.arg("resume").arg(job).arg("--typed"),
        };
        program.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::inherit());
        let mut child = program.spawn().expect("the program starts");
        let lines = child.stdin.take().expect("its input is piped");
        let mut stdout = child.stdout.take().expect("its output is piped");
        let (send, out) = channel();
        std::thread::spawn(move || {
            let mut piece = [0; 4096];
            while let Ok(n @ 1..) = stdout.read(&mut piece) {
                let _ = send.send(piece[..n].to_vec());
            }
        });
        Running { child, lines, out, seen: Vec::new() }
    }

    /// Types lines. One that has ended already takes none, and that is no fault.
    fn types(&mut self, lines: &[String]) {
        let text: String = lines.iter().map(|line| format!("{line}\n")).collect();
        let _ = self.lines.write_all(text.as_bytes());
    }

    /// What was printed behind the line that names the job; `None` before that line is whole.
    fn said(&self) -> Option<&[u8]> {
        let end = self.seen.iter().position(|&b| b == b'\n')?;
        Some(&self.seen[end + 1..])
    }

    fn wait_for(&mut self, length: usize) {
        let until = Instant::now() + PATIENCE;
        while self.said().is_none_or(|said| said.len() < length) {
            match self.out.recv_timeout(until.saturating_duration_since(Instant::now())) {
                Ok(piece) => self.seen.extend(piece),
                Err(e) => panic!("waiting for {length} bytes ({e}): {}", String::from_utf8_lossy(&self.seen)),
            }
        }
    }

    fn kill(&mut self) {
        self.child.kill().expect("it is killed");
        self.child.wait().expect("it is dead");
        self.seen.extend(self.out.iter().flatten());
    }
}

/// The commands on disk, and the job they make.
fn on_disk(path: &Path) -> (Vec<Command>, Job) {
    let mut commands = Vec::new();
    let looked = journal::look(path, &mut |seen| commands.push(seen.command.clone()))
        .unwrap_or_else(|e| panic!("a killed program leaves a good journal: {e}"));
    assert_eq!(looked.broken, None, "a killed program leaves a good journal");
    (commands, looked.job)
}

fn is_torn(path: &Path) -> bool {
    std::fs::read(path.join("journal.jsonl")).is_ok_and(|bytes| bytes.last().is_some_and(|&b| b != b'\n'))
}

fn jobs(root: &Path) -> BTreeSet<PathBuf> {
    journal::list(&root.join("jobs")).expect("jobs are listed").into_iter().map(|job| job.path).collect()
}

/// Kills the program while it starts, among many lines, or behind one line.
fn killed_somewhere(program: &mut Running, beside: &Uninterrupted, lines: &[String], dice: &mut Dice) {
    let last = beside.passed.len() as u64;
    match dice.below(4) {
        0 => {
            program.types(lines);
            std::thread::sleep(Duration::from_micros(dice.below(60_000)));
        }
        1 => {
            for answered in 0..dice.below(last.min(8)) as usize {
                program.wait_for(beside.passed[answered].0);
                program.types(&lines[answered..=answered]);
            }
            std::thread::sleep(Duration::from_micros(dice.below(3_000)));
        }
        _ => {
            program.types(lines);
            program.wait_for(beside.passed[dice.below(last) as usize].0);
            std::thread::sleep(Duration::from_micros(dice.below(3_000)));
        }
    }
    program.kill();
}

#[derive(Debug, Default)]
struct Tally {
    /// Rounds in which the words after taking up a job were printed whole.
    taken_up: usize,
    /// Facts whose reply was printed.
    acknowledged: usize,
    /// Facts on disk whose reply the kill cut off.
    unheard: usize,
    closed: usize,
}

fn killed(times: usize) {
    let root = tempfile::tempdir().expect("a folder for the jobs");
    std::fs::write(root.path().join("config.toml"), "").expect("settings are written");
    let book: Arc<Procedure> = Arc::new(procedure::load(Path::new(ARM)).expect("the procedure is good"));
    let mut dice = Dice(20_261_125);
    let mut known = BTreeSet::new();
    let mut path: Option<PathBuf> = None;
    let mut tally = Tally::default();
    for time in 0..times {
        let (before, job) = path.as_deref().map_or_else(|| (Vec::new(), Job::new(book.clone())), on_disk);
        let mut beside = Uninterrupted::new(job, path.as_deref().is_some_and(is_torn));
        beside.command(if path.is_some() { Command::Resume } else { Command::Open });
        let mut lines = Vec::new();
        while lines.len() < LINES && !beside.over {
            lines.push(line(&beside.job, &mut dice));
            beside.read(lines.last().expect("one was typed"));
        }

        let mut program = Running::start(root.path(), path.as_deref());
        killed_somewhere(&mut program, &beside, &lines, &mut dice);

        let said = program.said();
        let same = said.unwrap_or_default().iter().zip(beside.printed.as_bytes()).take_while(|(a, b)| a == b).count();
        let length = said.map_or(0, <[u8]>::len);
        // Behind the last words of a session comes the ledger.
        assert!(
            same == length || (beside.over && same == beside.printed.len()),
            "time {time}: printed\n{}\ninstead of\n{}",
            String::from_utf8_lossy(&program.seen),
            beside.printed
        );
        if path.is_none() {
            let now = jobs(root.path());
            path = now.difference(&known).next().cloned();
            assert!(path.is_some() || said.is_none(), "time {time}: the job that was named is there");
            known = now;
        }
        let Some(at) = path.clone() else { continue };
        let (now, job) = on_disk(&at);
        assert_eq!(now[..before.len()], before, "time {time}: what was on disk stays");
        let new = &now[before.len()..];
        assert_eq!(*new, beside.written[..new.len()], "time {time}: facts are as acknowledged");
        let replies = beside.passed.iter().take_while(|(end, ..)| *end <= same).count();
        let count = |reply: usize| beside.passed[reply].1;
        let least = replies.checked_sub(1).map_or(0, count);
        let most = count(replies.min(beside.passed.len() - 1));
        assert!((least..=most).contains(&new.len()), "time {time}: {least} acknowledged, {} on disk", new.len());
        if let Some((.., passed)) = beside.passed.iter().find(|(_, written, _)| *written == new.len()) {
            assert_eq!(job.ledger(), passed.ledger(), "time {time}");
            assert_eq!(
                (job.position(), job.question(), job.closed()),
                (passed.position(), passed.question(), passed.closed()),
                "time {time}"
            );
        }
        tally.taken_up += usize::from(!before.is_empty() && replies > 0);
        tally.acknowledged += least;
        tally.unheard += new.len() - least;
        if job.closed().is_some() {
            (path, tally.closed) = (None, tally.closed + 1);
        }
    }
    println!(
        "killed {times} times: {} facts acknowledged, none lost; {} on disk whose reply was cut off; said where it \
         stands after {} kills; {} jobs closed meanwhile",
        tally.acknowledged, tally.unheard, tally.taken_up, tally.closed
    );
    // There was something to lose, and something was cut off.
    assert!(tally.acknowledged > 5 * times && tally.unheard > 0 && tally.taken_up > times / 2, "{tally:?}");
}

#[test]
fn killed_at_two_hundred_moments_it_loses_nothing_it_acknowledged() {
    killed(200);
}

#[test]
#[ignore = "takes half a minute"]
fn killed_at_a_thousand_moments_it_loses_nothing_it_acknowledged() {
    killed(1_000);
}
