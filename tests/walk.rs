//! Every procedure of the project can be worked through from its first step to its last with nothing left open, by
//! somebody who does what it says.

use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use wrenchside::job::{At, Command, Fact, Job, Open, Question, Reading, Reply, Say};
use wrenchside::procedure::{self, Procedure};

fn procedures() -> Vec<PathBuf> {
    let mut all: Vec<_> = fs::read_dir("procedures").unwrap().map(|e| e.unwrap().path()).collect();
    all.retain(|p| p.extension().is_some_and(|e| e == "toml"));
    all.sort();
    all
}

/// What somebody would type who has done what was asked, and the command it stands for.
fn obedient(job: &Job, last: &Reply, wanted: usize) -> (String, Command) {
    match job.question() {
        Some(Question::Variant { variant }) if variant.0 != wanted => return ("no".into(), Command::No),
        Some(Question::Angle(_)) => return ("not started".into(), Command::NotBegun),
        // The first that is done in rounds takes two of them.
        Some(Question::Until { round: 1, .. }) if !job.facts().iter().any(|f| matches!(f.fact, Fact::Round { .. })) => {
            return ("no".into(), Command::No);
        }
        Some(_) => return ("yes".into(), Command::Yes),
        None => {}
    }
    let measures = |say: &Say| matches!(say, Say::AwaitMeasure { .. } | Say::AwaitCounted { .. });
    if let Some(about) = job.expects().reading.filter(|_| last.says.iter().any(measures)) {
        let reading = Reading { amount: about.amount(), unit: None };
        return (format!("reading {}", about.amount()), Command::Reading(reading));
    }
    ("done".into(), Command::Done)
}

/// Works through a procedure, of several variants of the vehicle for this one; gives each line typed, with the step the job stood at afterwards.
fn walk(book: Arc<Procedure>, variant: usize) -> (Job, Vec<(String, usize)>) {
    let mut job = Job::new(book);
    let mut at = At(1_700_000_000_000);
    let mut reply = job.apply(Command::Open, at);
    let mut lines = Vec::new();
    for _ in 0..5_000 {
        let (line, command) = match reply.says.iter().any(|s| matches!(s, Say::LastStepDone)) {
            true => ("finish".into(), Command::Finish),
            false => obedient(&job, &reply, variant),
        };
        // An hour passes before each "done", so that no wait is ever too short, and hardly any time before what is read or answered.
        at = At(at.0 + if command == Command::Done { 3_600_000 } else { 100 });
        reply = job.apply(command, at);
        assert!(!reply.says.iter().any(|s| matches!(s, Say::Refused(_))), "{line}: {:?}", reply.says);
        lines.push((line, job.position() + 1));
        if job.closed().is_some() {
            break;
        }
    }
    (job, lines)
}

#[test]
fn every_procedure_can_be_worked_through_with_nothing_left_open() {
    assert!(procedures().len() >= 3);
    for path in procedures() {
        let book = Arc::new(procedure::load(&path).unwrap());
        for variant in 0..book.variants.len().max(1) {
            let (job, lines) = walk(Arc::clone(&book), variant);
            // What is due later is due then, and nothing else is open.
            let later = (0..job.book().steps.len()).filter(|&step| job.book().steps[step].later.is_some());
            let due: Vec<usize> = later.collect();
            let open = if due.is_empty() { Vec::new() } else { vec![Open::Due(due)] };
            assert_eq!(job.closed(), Some(&open[..]), "{}: after {} lines", path.display(), lines.len());
            assert_eq!(job.book().variant.map_or(0, |ix| ix.0), variant);
        }
    }
}

/// Where the typed scenario of a procedure lies.
fn scenario(procedure: &Path) -> PathBuf {
    Path::new("audio-fixtures/scenarios").join(format!("{}-typed.toml", procedure.file_stem().unwrap().display()))
}

fn written(path: &Path) -> String {
    let book = Arc::new(procedure::load(path).unwrap());
    let mut text = format!(
        "# Written by tests/walk.rs: every step as it comes, by somebody who does what is asked.\n\
         title = \"By typed lines: {}\"\nprocedure = \"../../{}\"\nbegin = 2026-01-05T08:00:00Z\n",
        book.title,
        path.display()
    );
    let (_, lines) = walk(book, 0);
    let last = lines.len() - 1;
    for (i, (line, step)) in lines.into_iter().enumerate() {
        if line == "done" {
            // As in the walk, so that no wait is too short.
            let _ = write!(text, "\n[[turn]]\nwait_minutes = 60\n");
        }
        let _ = write!(text, "\n[[turn]]\ntyped = \"{line}\"\nthen = {{ step = {step}");
        text.push_str(if i == last { ", closed = true, open = 0 }\n" } else { " }\n" });
    }
    text
}

#[test]
fn every_procedure_has_its_typed_scenario() {
    for path in procedures() {
        let scenario = scenario(&path);
        if std::env::var_os("WRITE_SCENARIOS").is_some() {
            fs::write(&scenario, written(&path)).unwrap();
        }
        let found = fs::read_to_string(&scenario).unwrap_or_default();
        assert_eq!(found, written(&path), "{}: write it with WRITE_SCENARIOS=1", scenario.display());
    }
}
