//! Changes procedure files byte by byte and word by word, for as long as it is told, and loads, checks, drafts from and walks
//! what comes of it: `cargo run --release --example mutate_procedures -- SECONDS [SEED]`.
//!
//! What `fuzz/fuzz_targets/procedure.rs` looks for, where no fuzzer is at hand: a panic, a promise that is broken, a text that takes
//! long. The same seed makes the same changes. Ends with 1 if anything was found, and keeps each such text in the folder for temporary files.

use std::collections::BTreeMap;
use std::panic::{self, AssertUnwindSafe};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};
use wrenchside::job::{At, Command, Job, Question, Reading, Say};
use wrenchside::procedure::{self, Procedure};

/// A text that takes longer than this would keep its author waiting.
const SLOW: Duration = Duration::from_secs(5);

/// Numbers that look as if drawn by lot (SplitMix64).
struct Lot(u64);

impl Lot {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.next() % (n.max(1) as u64)).unwrap_or(0)
    }

    fn of<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[self.below(all.len())]
    }
}

fn files(folder: &Path, all: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.is_dir() {
            files(&path, all);
        } else if path.extension().is_some_and(|e| e == "toml") {
            all.push(path);
        }
    }
    all.sort();
}

/// Words, numbers and signs of a text, each by itself.
fn tokens(text: &str) -> Vec<String> {
    let mut tokens: Vec<String> = Vec::new();
    for c in text.chars() {
        let word = |c: char| c.is_alphanumeric() || c == '-' || c == '_';
        match tokens.last_mut() {
            Some(last) if word(c) && last.chars().last().is_some_and(word) => last.push(c),
            _ => tokens.push(c.to_string()),
        }
    }
    tokens
}

fn by_bytes(lot: &mut Lot, text: &str) -> String {
    let mut bytes = text.as_bytes().to_vec();
    for _ in 0..=lot.below(6) {
        if bytes.is_empty() {
            break;
        }
        let (at, other) = (lot.below(bytes.len()), lot.below(bytes.len()));
        match lot.below(5) {
            0 => bytes[at] = u8::try_from(lot.below(256)).unwrap_or(0),
            1 => bytes.insert(at, *lot.of(b"\"[]{}=,.-+ \n0919'\\%")),
            2 => drop(bytes.remove(at)),
            3 => {
                let (from, to) = (at.min(other), at.max(other).min(at.min(other) + 200));
                bytes.drain(from..to);
            }
            _ => {
                let (from, to) = (at.min(other), at.max(other).min(at.min(other) + 400));
                let piece = bytes[from..to].to_vec();
                let into = lot.below(bytes.len());
                bytes.splice(into..into, piece);
            }
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

fn by_words(lot: &mut Lot, text: &str, words: &[String]) -> String {
    let mut tokens = tokens(text);
    for _ in 0..=lot.below(8) {
        if tokens.is_empty() {
            break;
        }
        let (at, other) = (lot.below(tokens.len()), lot.below(tokens.len()));
        match lot.below(5) {
            0 => tokens[at].clone_from(lot.of(words)),
            1 => tokens.swap(at, other),
            2 => drop(tokens.remove(at)),
            3 => tokens[at] = tokens[other].clone(),
            _ => {
                let numbers = [
                    "0",
                    "-1",
                    "99999999999999999999",
                    "0.0000000000000000000000000001",
                    "1e9",
                    "1/3",
                    "79228162514264337593543950335",
                ];
                tokens[at] = (*lot.of(&numbers)).to_owned();
            }
        }
    }
    tokens.concat()
}

/// Whole lines or entries moved, doubled or left out.
fn by_entries(lot: &mut Lot, text: &str) -> String {
    let mark = *lot.of(&["\n[[", "\n"]);
    let mut parts: Vec<&str> = text.split(mark).collect();
    for _ in 0..=lot.below(4) {
        let (at, other) = (lot.below(parts.len()), lot.below(parts.len()));
        match lot.below(3) {
            0 => parts.swap(at, other),
            1 => parts.insert(at, parts[other]),
            _ if parts.len() > 1 => drop(parts.remove(at)),
            _ => {}
        }
    }
    parts.join(mark)
}

/// Says something that fits or does not, some hundred times.
fn walk(book: Procedure, lot: &mut Lot) {
    let mut job = Job::new(Arc::new(book));
    let mut at = At(1_800_000_000_000);
    let mut command = Command::Open;
    for _ in 0..400 {
        at = At(at.0 + i64::try_from(lot.below(700_000)).unwrap_or(0));
        let reply = job.apply(command, at);
        assert!(!reply.says.is_empty(), "every command is answered");
        let _ = job.digest();
        if job.closed().is_some() {
            break;
        }
        command = match (job.question(), job.expects().reading) {
            (Some(Question::Angle(_)), _) => lot.of(&[Command::Finished, Command::NotBegun, Command::NotSure]).clone(),
            (Some(_), _) => lot.of(&[Command::Yes, Command::Yes, Command::No, Command::Undo]).clone(),
            _ if reply.says.contains(&Say::LastStepDone) => Command::Finish,
            (None, Some(about)) if lot.below(3) > 0 => {
                let amount = about.amount().checked_mul((lot.below(4) as i64).into()).unwrap_or(about.amount());
                Command::Reading(Reading { amount, unit: None })
            }
            _ => lot
                .of(&[
                    Command::Done,
                    Command::Done,
                    Command::Done,
                    Command::Next,
                    Command::Skip,
                    Command::Back,
                    Command::TimeUp,
                    Command::Resume,
                ])
                .clone(),
        };
    }
}

fn look(text: &str, lot: &mut Lot) -> &'static str {
    let loaded = procedure::parse("changed", text);
    let checked = procedure::check("changed", text);
    let _ = (checked.to_string(), checked.to_json());
    for finding in &checked.findings {
        assert!(text.get(finding.span.clone()).is_some(), "{finding:?}");
    }
    assert!(loaded.is_ok() || checked.errors() > 0, "checked without an error, and not loaded");
    let Ok(book) = loaded else { return "not loaded" };
    if let Ok(draft) = procedure::draft_rebuild("changed", text)
        && let Err(report) = procedure::parse("draft", &draft)
    {
        panic!("{report}\n{draft}");
    }
    let clean = checked.errors() == 0;
    walk(book, lot);
    if clean { "without an error" } else { "loaded, with errors" }
}

fn main() {
    let mut args = std::env::args().skip(1);
    let seconds: u64 = args.next().and_then(|n| n.parse().ok()).unwrap_or(60);
    let seed: u64 = args.next().and_then(|n| n.parse().ok()).unwrap_or(1);
    let mut paths = Vec::new();
    for folder in ["procedures", "tests/faulty", "tests/data", "fuzz/seeds/procedure"] {
        files(Path::new(folder), &mut paths);
    }
    let texts: Vec<String> = paths
        .iter()
        .map(|path| match procedure::open(path) {
            Ok(whole) => whole.text().to_owned(),
            Err(_) => std::fs::read_to_string(path).unwrap_or_default(),
        })
        .collect();
    let mut words: Vec<String> = texts.iter().flat_map(|text| tokens(text)).collect();
    words.sort();
    words.dedup();
    let mut lot = Lot(seed);
    let (begun, mut counts, mut found) = (Instant::now(), BTreeMap::<&str, usize>::new(), 0);
    let mut slowest = Duration::ZERO;
    while begun.elapsed() < Duration::from_secs(seconds) {
        let text = lot.of(&texts).clone();
        let changed = match lot.below(4) {
            0 => by_bytes(&mut lot, &text),
            1 => by_entries(&mut lot, &text),
            _ => by_words(&mut lot, &text, &words),
        };
        let now = Instant::now();
        let outcome = panic::catch_unwind(AssertUnwindSafe(|| look(&changed, &mut lot)));
        slowest = slowest.max(now.elapsed());
        let slow = now.elapsed() > SLOW;
        if outcome.is_err() || slow {
            found += 1;
            let kept = std::env::temp_dir().join(format!("changed-{seed}-{found}.toml"));
            let _ = std::fs::write(&kept, &changed);
            println!("{}: {}", if slow { "slow" } else { "panic" }, kept.display());
        }
        *counts.entry(outcome.unwrap_or("panic")).or_default() += 1;
    }
    let all: usize = counts.values().sum();
    println!(
        "{} files, {all} changed texts in {} s: {counts:?}; the slowest took {slowest:?}",
        texts.len(),
        begun.elapsed().as_secs()
    );
    if found > 0 {
        std::process::exit(1);
    }
}
