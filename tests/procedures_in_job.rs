//! Every procedure that comes along runs to its end in a job, and leaves nothing open.

use std::path::Path;
use std::sync::Arc;
use wrenchside::job::{At, Command, Job, Reading, Refusal, Reply, Say};
use wrenchside::procedure::{self, Act, Procedure};

/// Says what has to be said: yes to every question, a reading inside the limits where one is missing, done otherwise.
fn run_to_the_end(book: &Arc<Procedure>) -> Job {
    let mut job = Job::new(book.clone());
    job.apply(Command::Open, At(0));
    let mut command = Command::Done;
    for n in 1..2_000 {
        // An hour goes by each time, so that no wait stands in the way.
        let reply = job.apply(command, At(n * 3_600_000));
        command = match &reply {
            _ if job.closed().is_some() => return job,
            _ if job.question().is_some() => Command::Yes,
            Reply { says, .. } if says.contains(&Say::LastStepDone) => Command::Finish,
            Reply { says, .. } => match &says[..] {
                [.., Say::AwaitMeasure { step, act }] => reading(book, *step, *act),
                [.., Say::Refused(Refusal::Unmeasured { step, act })] => reading(book, *step, *act),
                says => {
                    assert!(!says.iter().any(|s| matches!(s, Say::Refused(_))), "{}: {says:?}", book.id);
                    Command::Done
                }
            },
        };
    }
    panic!("{}: no end; step {}, {:?}", book.id, job.position(), job.question());
}

/// A reading on one of the limits.
fn reading(book: &Procedure, step: usize, act: usize) -> Command {
    let Act::Measure(m) = &book.steps[step].acts[act] else { panic!("nothing is measured in step {step}") };
    let value = m.limits.least.or(m.limits.most).expect("a limit");
    Command::Reading(Reading { amount: value.amount(), unit: Some(value.unit()) })
}

#[test]
fn every_procedure_runs_to_its_end_and_leaves_nothing_open() {
    for name in ["tarnfell-front-lower-arm-left", "tarnfell-front-brakes", "tarnfell-cylinder-head"] {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures").join(name).with_extension("toml");
        let book = Arc::new(procedure::load(&file).unwrap_or_else(|e| panic!("{e}")));
        let job = run_to_the_end(&book);
        assert_eq!(job.closed(), Some(&[][..]), "{name}");
        assert_eq!(job.position(), book.steps.len() - 1, "{name}");
    }
}
