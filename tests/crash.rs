//! A process that works on a job is killed at random moments, two hundred times in one job, and no fact that it
//! acknowledged is lost.
//!
//! The process is this test binary once more, running `the_process_that_is_killed`: it takes up the job, says things to
//! it and prints a line for each fact once that is on disk, as the program speaks its reply.

#![cfg(unix)]

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command as Process, Stdio};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;
use wrenchside::job::{At, Command, Damage, Job, Question, Reading};
use wrenchside::journal::{Folder, Notice};
use wrenchside::procedure;

const BOOK: &str = include_str!("../procedures/tarnfell-front-lower-arm-left.toml");
/// Tells the child which job to work on.
const JOB: &str = "WRENCHSIDE_TEST_CRASH_JOB";

#[test]
#[ignore = "does nothing by itself: the tests here start it and kill it"]
fn the_process_that_is_killed() {
    let Some(path) = std::env::var_os(JOB).map(PathBuf::from) else { return };
    let opened = Folder::open(&path, false).expect("a killed process leaves a job that opens");
    let (mut folder, mut job) = (opened.folder, opened.job);
    let mut out = std::io::stdout();
    let first = if job.facts().is_empty() && job.question().is_none() { Command::Open } else { Command::Resume };
    let mut next = Some(first);
    for n in 0u64.. {
        let command = next.take().unwrap_or_else(|| script(&job, n));
        let at = At(job.last_change().0 + 1_000);
        if job.apply(command.clone(), at).recorded {
            folder.append(&command, at).expect("the disk takes it");
            let said = serde_json::to_string(&command).expect("a command is JSON");
            writeln!(out, "\nack {said}").and_then(|()| out.flush()).expect("somebody listens");
        }
    }
}

/// What a lively user says next: mostly the right thing, now and then something else.
fn script(job: &Job, n: u64) -> Command {
    match (job.question(), n % 11) {
        (Some(Question::Angle(_)), 0 | 5) => Command::NotSure,
        (Some(Question::Angle(_)), 1 | 3) => Command::NotBegun,
        (Some(Question::Angle(_)), _) => Command::Finished,
        (Some(Question::Finish { .. }), _) => Command::No,
        (Some(_), 3) => Command::No,
        (Some(_), _) => Command::Yes,
        (None, 2) => Command::Undo,
        (None, 4) => Command::Mark,
        (None, 6) if n.is_multiple_of(5) => Command::Damaged(Damage::Stripped),
        (None, 7) => Command::Timer(5),
        (None, 8) if job.position() + 1 == job.book().steps.len() => Command::GoTo(1),
        (None, 9) => match job.expects().reading {
            Some(awaited) => Command::Reading(Reading { amount: awaited.amount(), unit: Some(awaited.unit()) }),
            None => Command::Skip,
        },
        (None, _) => match (job.pending(), job.expects().reading) {
            (None, Some(awaited)) => Command::Reading(Reading { amount: awaited.amount(), unit: None }),
            _ => Command::Done,
        },
    }
}

/// Numbers that differ from run to run of the loop and are the same each time the test is run.
struct Dice(u64);

impl Dice {
    fn below(&mut self, most: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % most
    }
}

fn start(path: &Path) -> (Child, Receiver<String>) {
    let mut child = Process::new(std::env::current_exe().expect("this test has a file"))
        .args(["--exact", "the_process_that_is_killed", "--ignored", "--nocapture", "--test-threads=1"])
        .env(JOB, path)
        .stdout(Stdio::piped())
        .stderr(Stdio::inherit())
        .spawn()
        .expect("this test starts once more");
    let out = BufReader::new(child.stdout.take().expect("its output is piped"));
    let (send, acknowledged) = channel();
    std::thread::spawn(move || {
        for line in out.lines().map_while(Result::ok) {
            // What the kill cut off was not acknowledged.
            if let Some(said) = line.strip_prefix("ack ").filter(|s| serde_json::from_str::<Command>(s).is_ok()) {
                let _ = send.send(said.to_owned());
            }
        }
    });
    (child, acknowledged)
}

/// The commands in a journal, with their moments.
fn written(path: &Path) -> Vec<(String, At)> {
    let text = std::fs::read_to_string(path.join("journal.jsonl")).expect("there is a journal");
    let lines = text.lines().skip(1).map(|line| {
        let line: serde_json::Value = serde_json::from_str(line).expect("a line that was kept is whole");
        (line["command"].to_string(), At(line["at"].as_i64().expect("a moment")))
    });
    lines.collect()
}

fn killed(times: u32) {
    let root = tempfile::tempdir().expect("a folder for the job");
    let book = Arc::new(procedure::parse("crash.toml", BOOK).expect("the procedure is good"));
    let path = Folder::create(root.path(), BOOK, &book, At(0)).expect("a job begins").path().to_owned();
    let mut dice = Dice(20_261_125);
    let mut on_disk: Vec<(String, At)> = Vec::new();
    let (mut torn, mut unheard, mut acknowledgements) = (0, 0, 0);
    for time in 0..times {
        let (mut child, acknowledged) = start(&path);
        // One time in five while it is still taking the job up; else after some facts and a moment.
        let mut heard = Vec::new();
        if !time.is_multiple_of(5) {
            let facts = 1 + dice.below(6);
            heard.extend((0..facts).filter_map(|_| acknowledged.recv_timeout(Duration::from_secs(20)).ok()));
            assert_eq!(heard.len() as u64, facts, "time {time}: it works");
            std::thread::sleep(Duration::from_micros(dice.below(4_000)));
        } else {
            std::thread::sleep(Duration::from_micros(dice.below(20_000)));
        }
        child.kill().expect("it is killed");
        child.wait().expect("it is dead");
        heard.extend(acknowledged.iter());

        let opened = Folder::open(&path, false).unwrap_or_else(|e| panic!("time {time}: {e}"));
        match &opened.notices[..] {
            [] => {}
            [Notice::TornLine { .. }] => torn += 1,
            other => panic!("time {time}: {other:?}"),
        }
        let now = written(&path);
        let all_heard = on_disk.iter().map(|(said, _)| said).chain(&heard);
        assert!(all_heard.zip(&now).all(|(heard, (said, _))| heard == said), "time {time}: facts are as acknowledged");
        let (least, most) = (on_disk.len() + heard.len(), on_disk.len() + heard.len() + 1);
        assert!((least..=most).contains(&now.len()), "time {time}: {} acknowledged, {} on disk", least, now.len());
        unheard += now.len() - least;
        acknowledgements += heard.len();

        let mut fresh = Job::new(Arc::clone(&book));
        for (said, at) in &now {
            fresh.apply(serde_json::from_str(said).expect("a command"), *at);
        }
        assert_eq!(opened.job.ledger(), fresh.ledger(), "time {time}");
        assert_eq!((opened.job.position(), opened.job.question()), (fresh.position(), fresh.question()), "time {time}");
        on_disk = now;
    }
    println!(
        "killed {times} times: {acknowledgements} facts acknowledged, none lost; {unheard} written whose \
         acknowledgement was cut off, {torn} lines torn"
    );
    assert!(acknowledgements as u32 > times, "there was something to lose");
}

#[test]
fn killed_at_two_hundred_moments_it_loses_nothing_it_acknowledged() {
    killed(200);
}

#[test]
#[ignore = "takes minutes"]
fn killed_at_a_thousand_moments_it_loses_nothing_it_acknowledged() {
    killed(1_000);
}
