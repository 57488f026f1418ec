//! Steps that are done only after a measurement that failed or after a "no": when, worked out anew from what stands.

use proptest::prelude::*;
use wrenchside::job::*;
use wrenchside::procedure::{Act, MeasureIx, Named, Procedure, When, Within};

/// Is a step to be done? `None` while that is not known, and of one that always is.
pub fn needed(job: &Job, step: usize) -> Option<bool> {
    let book = job.book();
    let comes = |step: usize| job.ledger().step(step) != StepState::NotNeeded;
    match book.steps[step].when? {
        When::No(asking) if !comes(asking) => Some(false),
        When::No(asking) => job.ledger().answered(asking).map(|yes| !yes),
        When::Outside(ix) => {
            let Named { step, act, .. } = book.named[ix.0];
            if !comes(step) {
                return Some(false);
            }
            let value = job.ledger().measured(step, act)?;
            Some(job.judge(step, act, value) != Verdict::Within)
        }
    }
}

/// Was anything recorded, since they were last opened for another round, in the steps that depend on the same as this one?
pub fn begun(job: &Job, step: usize) -> bool {
    let steps = &job.book().steps;
    let Some(when) = steps[step].when else { return false };
    let standing: Vec<&Recorded> = job.facts().iter().filter(|fact| !fact.taken_back).collect();
    (0..steps.len()).filter(|&s| steps[s].when == Some(when)).any(|s| {
        let opens = |fact: &Recorded| match fact.fact {
            Fact::Round { step, round } => {
                let until = steps[step].until.as_ref().expect("it has rounds");
                until.from <= s && s <= step && until.at_most.is_none_or(|most| round < most)
            }
            _ => false,
        };
        let since = standing.iter().rposition(|fact| opens(fact)).map_or(0, |at| at + 1);
        let says_nothing = |fact: &Fact| {
            matches!(
                fact,
                Fact::Mark(_)
                    | Fact::Note { .. }
                    | Fact::StepSkipped(_)
                    | Fact::State(_)
                    | Fact::Scrapped { .. }
                    | Fact::NotBegun { .. }
                    | Fact::Round { .. }
            )
        };
        standing[since..].iter().any(|fact| fact.step == s && !says_nothing(&fact.fact))
    })
}

/// Is nothing to be claimed of a step, because it is not to be done or that is not known?
pub fn stands_aside(job: &Job, step: usize) -> bool {
    let unknown = job.book().steps[step].when.is_some() && needed(job, step).is_none() && !begun(job, step);
    let state = job.ledger().step(step);
    state == StepState::NotNeeded || (unknown && state != StepState::Done)
}

/// Is this a no by which the step in hand is done: after which other steps follow, or by which what is on top of it stays as it is?
pub fn answers_no(before: &Job, command: &Command) -> bool {
    *command == Command::No && matches!(before.question(), Some(Question::Ask { .. } | Question::Apart { .. }))
}

/// Which step depends on which, and whether it does so on a measurement.
pub type Branch = (prop::sample::Index, prop::sample::Index, bool);

pub fn branches() -> impl Strategy<Value = Vec<Branch>> {
    let index = any::<prop::sample::Index>;
    prop::collection::vec((index(), index(), prop::bool::weighted(0.4)), 0..3)
}

/// Makes some steps depend on what earlier ones ask or measure.
pub fn depend(mut book: Procedure, branches: Vec<Branch>) -> Procedure {
    for (first, second, measured) in branches {
        let last = book.steps.len() - 1;
        let at = first.index(book.steps.len());
        let measures = |act: &Act| matches!(act, Act::Measure(m) if m.limits.least.or(m.limits.most).is_some());
        let when = if measured {
            let find = |step: usize| Some((step, book.steps[step].acts.iter().position(measures)?));
            let Some((step, act)) = (0..last).find_map(find) else { continue };
            let new = MeasureIx(book.named.len());
            let Act::Measure(m) = &mut book.steps[step].acts[act] else { continue };
            m.leads = true;
            let name = *m.name.get_or_insert(new);
            if name == new {
                book.named.push(Named { id: "width".into(), what: m.what.clone(), step, act });
            }
            (step, When::Outside(name))
        } else if at < last && book.steps[at].hold.is_none() && book.steps[at].until.is_none() {
            book.steps[at].ask = Some("Is it in order?".into());
            (at, When::No(at))
        } else {
            continue;
        };
        let (from, when) = when;
        let step = from + 1 + second.index(last - from);
        book.steps[step].when = Some(when);
    }
    book
}

/// Which step has to be done within a few minutes of which.
pub fn timed() -> impl Strategy<Value = Vec<(prop::sample::Index, prop::sample::Index)>> {
    prop::collection::vec((any::<prop::sample::Index>(), any::<prop::sample::Index>()), 0..2)
}

/// Gives some steps a time within which they have to be done.
pub fn in_time(mut book: Procedure, timed: Vec<(prop::sample::Index, prop::sample::Index)>) -> Procedure {
    let last = book.steps.len() - 1;
    for (first, second) in timed.into_iter().filter(|_| last > 0) {
        let after = first.index(last);
        let step = after + 1 + second.index(last - after);
        let time = "3 min".parse().expect("a time");
        book.steps[step].within = Some(Within { time, after, late: "Begin again.".into() });
    }
    book
}

/// The same where no measurement decides: nobody who keeps to the limits finds out what is done otherwise.
pub fn by_answers(mut book: Procedure) -> Procedure {
    for step in &mut book.steps {
        step.when = step.when.filter(|when| matches!(when, When::No(_)));
        for act in &mut step.acts {
            if let Act::Measure(m) = act {
                (m.leads, m.name) = (false, None);
            }
        }
    }
    book.named.clear();
    book
}
