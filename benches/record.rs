//! How long a record takes: that of a job of 300 steps is to be made in less than 100 ms, from its journal to the page.

use criterion::{Criterion, criterion_group, criterion_main};
use std::collections::HashMap;
use std::fmt::Write;
use std::hint::black_box;
use std::path::Path;
use std::sync::Arc;
use wrenchside::dialogue::{Language, Manner};
use wrenchside::job::{At, Command, Job, Reading};
use wrenchside::procedure::{self, Procedure};
use wrenchside::record::{Evidence, Given, collect, html, markdown};

const STEPS: usize = 300;

/// The lower arm, with its steps followed by as many again of its clamp being slackened and tightened.
fn long_procedure() -> Procedure {
    let arm = procedure::open("procedures/tarnfell-front-lower-arm-left.toml".as_ref()).expect("the lower arm is read");
    let mut text = arm.text().to_owned();
    let there = text.matches("\n[[step]]").count();
    for n in (there..STEPS).step_by(2) {
        write!(
            text,
            r#"
[[step]]
id = "clamp-slack-{n}"
phase = "close"
say = "Slacken the bolts of the left anti-roll bar clamp."
cautions = [{{ caution = "The bar is under load until both bolts are loose." }}]
minutes = 5
do = [{{ slacken = "clamp" }}]

[[step]]
id = "clamp-tight-{n}"
phase = "close"
say = "Tighten the bolts of the anti-roll bar clamp."
hold = "Does the rubber sit square in the clamp?"
minutes = 6
do = [{{ hand_start = "clamp" }}, {{ tighten = "clamp" }}]
"#
        )
        .expect("writing to a string");
    }
    procedure::parse("bench", &text).expect("the procedure loads")
}

/// Every command of the whole job, by doing what is asked for.
fn commands(book: &Arc<Procedure>) -> Vec<(At, Command)> {
    let mut job = Job::new(book.clone());
    let mut all = Vec::new();
    let mut give = |job: &mut Job, command: Command| {
        let at = At(1_767_600_000_000 + all.len() as i64 * 45_000);
        if job.apply(command.clone(), at).recorded {
            all.push((at, command));
        }
    };
    give(&mut job, Command::Open);
    for _ in 0..STEPS * 40 {
        let expects = job.expects();
        let command = if job.closed().is_some() {
            break;
        } else if expects.angle {
            Command::Finished
        } else if expects.yes_no {
            Command::Yes
        } else if job.ledger().step(STEPS - 1) == wrenchside::job::StepState::Done {
            Command::Finish
        } else if let (Some(value), None) = (expects.reading, job.pending()) {
            Command::Reading(Reading { amount: value.amount(), unit: None })
        } else {
            Command::Done
        };
        give(&mut job, command);
    }
    assert_eq!(job.closed(), Some(&[][..]), "the job is done to its end, with nothing open");
    all
}

fn record(c: &mut Criterion) {
    let book = Arc::new(long_procedure());
    assert_eq!(book.steps.len(), STEPS);
    let commands = commands(&book);
    let language = Language::english();
    let manner = Manner::default();
    let gather = |commands: &[(At, Command)]| {
        let (mut job, mut evidence) = (Job::new(book.clone()), Evidence::default());
        for (at, command) in commands {
            let reply = job.apply(command.clone(), *at);
            evidence.see(&job, command, *at, &reply);
        }
        (job, evidence)
    };
    let put_right = HashMap::new();
    let made = |(job, evidence): &(Job, Evidence)| {
        let given = Given {
            name: "bench",
            sha256: "",
            began: commands[0].0,
            now: commands[0].0,
            zone: jiff::tz::TimeZone::UTC,
            read_note: &|_: &Path| None,
            read_picture: &|_| None,
            put_right: &put_right,
            unchecked: 0,
            broken: None,
        };
        let words = language.words(&book, &manner);
        let record = collect(job, evidence, &given, &words);
        let json = serde_json::to_string_pretty(&record).expect("JSON");
        (html::page(&record, &words), markdown::document(&record, &words), json)
    };
    let evidence = gather(&commands);
    let (page, ..) = made(&evidence);
    println!("{} commands, a page of {} KB", commands.len(), page.len() / 1024);
    c.bench_function("play the journal of 300 steps", |b| b.iter(|| gather(black_box(&commands))));
    c.bench_function("page, Markdown and JSON of 300 steps", |b| b.iter(|| made(black_box(&evidence))));
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20);
    targets = record
}
criterion_main!(benches);
