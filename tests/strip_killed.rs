//! The program itself is killed at random moments of a strip-down and of its turning point, and nothing that it answered is lost.
//!
//! The same lines are typed through every kill. What is on disk then is the beginning of what a session writes that is never killed:
//! not before the last answer that was printed, and no further than one line behind it. In the end both have written the same book.

#![cfg(unix)]

use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// Lines of which each is written into the journal, and how its answer begins.
const TOLD: &[(&str, &str)] = &[
    ("on its wheels", "It stands on its wheels."),
    ("took out four bolts 13 mm", "Out: 4 bolts, 13 mm."),
    ("head cover", "Called: head cover."),
    ("loosened a nut", "Loosened, still in: a nut."),
    ("no name", "No name."),
    ("took off a cover", "Off: a cover."),
    ("top cover", "Called: top cover."),
    ("that is everything", "Has everything come off?"),
    ("yes", "Told so far: "),
    ("later", "Left for later."),
    ("18 Nm + 90 deg", "18 N·m; then turn"),
    ("7-2", "Page 7-2."),
    ("across and across", "Across and across."),
    ("yes", "New ones for 4 bolts"),
    ("no", "Is that all for the book?"),
    ("yes", "That is all the book needs."),
];

/// Longer than any answer takes on a busy machine.
const PATIENCE: Duration = Duration::from_secs(30);

/// Numbers that are the same each time the test is run.
struct Dice(u64);

impl Dice {
    fn below(&mut self, most: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) % most.max(1) as u64) as usize
    }
}

/// So many lines at most are typed between two kills, so that there are many of those on a quick machine too.
const BETWEEN: usize = 2;

struct Running {
    child: Child,
    stdin: Option<ChildStdin>,
    out: Receiver<Vec<u8>>,
    seen: Vec<u8>,
}

impl Running {
    fn start(root: &Path, again: bool, lines: &[(&str, &str)]) -> Running {
        let mut program = Command::new(env!("CARGO_BIN_EXE_wrenchside"));
        program.env("NO_COLOR", "1").env("XDG_CONFIG_HOME", "/nonexistent").env_remove("WRENCHSIDE_LOG");
        program.arg("--jobs").arg(root.join("jobs"));
        match again {
            false => program.args(["strip", "Head cover", "--typed"]),
            true => program.args(["resume", "--typed"]),
        };
        let mut child = program.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
        let mut stdout = child.stdout.take().unwrap();
        let (send, out) = channel();
        std::thread::spawn(move || {
            let mut piece = [0; 4096];
            while let Ok(n @ 1..) = stdout.read(&mut piece) {
                let _ = send.send(piece[..n].to_vec());
            }
        });
        let text: String = lines.iter().map(|(line, _)| format!("{line}\n")).collect();
        let mut stdin = child.stdin.take();
        let _ = stdin.as_mut().unwrap().write_all(text.as_bytes());
        Running { child, stdin, out, seen: Vec::new() }
    }

    /// Nothing more is typed, which ends the session.
    fn end(&mut self) {
        self.stdin = None;
        assert!(self.child.wait().unwrap().success());
    }

    /// How many of these answers were printed, one behind the other.
    fn answered(&self, lines: &[(&str, &str)]) -> usize {
        let text = String::from_utf8_lossy(&self.seen);
        let mut rest = &*text;
        let next = |(_, answer): &&(&str, &str)| match rest.find(answer) {
            Some(at) => {
                rest = &rest[at + answer.len()..];
                true
            }
            None => false,
        };
        lines.iter().take_while(next).count()
    }

    fn wait_for(&mut self, count: usize, lines: &[(&str, &str)]) {
        let until = Instant::now() + PATIENCE;
        while self.answered(lines) < count {
            match self.out.recv_timeout(until.saturating_duration_since(Instant::now())) {
                Ok(piece) => self.seen.extend(piece),
                Err(RecvTimeoutError::Disconnected) => return,
                Err(error) => panic!("{error}: {}", String::from_utf8_lossy(&self.seen)),
            }
        }
    }

    fn kill(&mut self) {
        let _ = self.child.kill();
        self.child.wait().unwrap();
        self.seen.extend(self.out.iter().flatten());
    }
}

fn folder(root: &Path) -> Option<PathBuf> {
    fs::read_dir(root.join("jobs")).ok()?.flatten().map(|entry| entry.path()).next()
}

/// What was told, as far as its line is whole.
fn on_disk(root: &Path) -> Vec<String> {
    let journal =
        folder(root).and_then(|folder| fs::read_to_string(folder.join("strip.jsonl")).ok()).unwrap_or_default();
    let whole = journal.split_inclusive('\n').filter(|line| line.ends_with('\n')).skip(1);
    let told = |line: &str| serde_json::from_str::<serde_json::Value>(line).unwrap()["told"].to_string();
    whole.map(told).collect()
}

#[test]
fn killed_in_a_strip_down_and_at_its_turning_point_it_loses_nothing_it_answered() {
    let (beside, root) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let mut whole = Running::start(beside.path(), false, TOLD);
    whole.wait_for(TOLD.len(), TOLD);
    whole.end();
    let all = on_disk(beside.path());
    assert_eq!(all.len(), TOLD.len(), "each line is told: {all:?}");
    let mut dice = Dice(20_261_201);
    let (mut kills, mut known) = (0, 0);
    for _ in 0..60 {
        let is_job = folder(root.path()).is_some_and(|folder| folder.join("journal.jsonl").exists());
        if is_job {
            break;
        }
        let left = &TOLD[known..TOLD.len().min(known + BETWEEN)];
        let mut program = Running::start(root.path(), folder(root.path()).is_some(), left);
        if dice.below(3) == 0 {
            std::thread::sleep(Duration::from_millis(dice.below(120) as u64));
        } else {
            let until = dice.below(left.len() + 1);
            program.wait_for(until, left);
        }
        program.kill();
        let answered = program.answered(left);
        let disk = on_disk(root.path());
        assert!(disk.len() >= known + answered, "{answered} answered behind {known}, {} on disk", disk.len());
        assert_eq!(disk, all[..disk.len()], "told as it was answered");
        (known, kills) = (disk.len(), kills + 1);
    }
    assert!(kills >= TOLD.len() / BETWEEN, "{kills}");
    // What was left is told to the end.
    let book = |root: &Path| fs::read_to_string(folder(root).unwrap().join("procedure.toml"));
    if book(root.path()).is_err() || known < TOLD.len() {
        let mut program = Running::start(root.path(), true, &TOLD[known..]);
        program.end();
    }
    assert_eq!(on_disk(root.path()), all);
    assert_eq!(book(root.path()).unwrap(), book(beside.path()).unwrap());
}
