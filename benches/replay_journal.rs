//! How long it takes to take a long job up again: 100,000 facts, from memory and from disk. The aim is 200 ms.

use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use std::sync::Arc;
use wrenchside::job::{At, Command, Job, Question, Reading};
use wrenchside::journal::Folder;
use wrenchside::procedure::{self, Procedure};

const BOOK: &str = "procedures/tarnfell-front-lower-arm-left.toml";
const FACTS: usize = 100_000;

/// A job that is done from end to end and taken back again, over and over: every kind of fact, each one live or undone.
fn long_job(book: &Arc<Procedure>) -> Vec<(Command, At)> {
    let mut job = Job::new(Arc::clone(book));
    let mut commands: Vec<(Command, At)> = Vec::new();
    let mut forward = true;
    let mut refused = 0;
    while commands.len() < FACTS {
        let at_end = job.position() + 1 == book.steps.len();
        let command = match (job.question(), job.pending(), job.expects().reading) {
            (Some(Question::Angle(_)), ..) => Command::Finished,
            (Some(_), ..) => Command::Yes,
            // What was turned and taken back stays in doubt, and its earlier steps are refused.
            _ if refused == 1 => Command::Skip,
            _ if refused > 1 || (forward && at_end) => {
                forward = !forward;
                refused = 0;
                if forward { Command::GoTo(1) } else { Command::Undo }
            }
            _ if !forward => Command::Undo,
            (None, None, Some(awaited)) => Command::Reading(Reading { amount: awaited.amount(), unit: None }),
            _ => Command::Done,
        };
        let at = At(commands.len() as i64 * 1_000);
        match job.apply(command.clone(), at).recorded {
            true => commands.push((command, at)),
            false => refused += 1,
        }
        refused = if commands.last().is_some_and(|(_, last)| *last == at) { 0 } else { refused };
    }
    commands
}

fn replay(c: &mut Criterion) {
    let whole = procedure::open(BOOK.as_ref()).expect("the procedure is read");
    let book = Arc::new(whole.procedure().expect("the procedure is good"));
    let commands = long_job(&book);

    let mut group = c.benchmark_group("100,000 facts");
    group.sample_size(20);
    group.bench_function("replayed from memory", |b| {
        b.iter(|| {
            let mut job = Job::new(Arc::clone(&book));
            for (command, at) in &commands {
                black_box(job.apply(command.clone(), *at));
            }
            job
        });
    });

    let root = tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir()).expect("a folder for the job");
    let mut folder = Folder::create(root.path(), whole.text(), &book, At(0)).expect("a job begins");
    let mut job = Job::new(Arc::clone(&book));
    for (command, at) in &commands {
        job.apply(command.clone(), *at);
        folder.append(command, *at, &job).expect("the disk takes it");
    }
    let path = folder.path().to_owned();
    drop(folder);
    group.bench_function("opened from disk", |b| {
        b.iter(|| black_box(Folder::open(&path, false).expect("it opens")));
    });
    group.finish();
}

criterion_group!(benches, replay);
criterion_main!(benches);
