//! What must be true of steps that are done round by round.

use crate::branches;
use crate::rules::{Broken, items, rule};
use wrenchside::job::*;
use wrenchside::procedure::Procedure;

/// Is this the word that ends a round without an end to it?
pub fn ends_one(before: &Job, command: &Command) -> bool {
    *command == Command::No && matches!(before.question(), Some(Question::Until { .. }))
}

/// Is this a step of the round that is told to begin?
pub fn begins_with(reply: &Reply, book: &Procedure, at: usize) -> bool {
    reply.says.iter().any(|say| match say {
        Say::Round { step, .. } => book.steps[*step].until.as_ref().is_some_and(|u| (u.from..=*step).contains(&at)),
        _ => false,
    })
}

/// Rounds are counted one by one, each by its own no, up to the most that there may be.
pub fn counted(before: &Job, command: &Command, undone: bool, reply: &Reply, after: &Job) -> Broken {
    for (n, step) in after.book().steps.iter().enumerate() {
        let (was, is) = (before.ledger().rounds(n), after.ledger().rounds(n));
        let Some(until) = &step.until else {
            rule("only what is done in rounds has them counted", is == 0)?;
            continue;
        };
        let live = after.facts().iter().filter(|f| !f.taken_back);
        let recorded = live.filter_map(|f| match f.fact {
            Fact::Round { step, round } if step == n => Some(round),
            _ => None,
        });
        let counted: Vec<u32> = recorded.collect();
        rule("each round that is counted is a fact that stands", counted.ends_with(&(1..=is).collect::<Vec<_>>()))?;
        rule("no more rounds than there may be", until.at_most.is_none_or(|most| is <= most))?;
        if was == is {
            continue;
        }
        let asked = matches!(before.question(), Some(Question::Until { step, .. }) if *step == n);
        let counted = is == was + 1 && asked && ends_one(before, command);
        let (is_open, was_done) =
            (after.ledger().step(n) != StepState::Done, before.ledger().step(n) == StepState::Done);
        let anew = is == 0 && is_open && was_done || undone && was == 0 && !is_open;
        rule(
            "a round is counted by its own no, or taken back, or begun anew",
            counted || anew || undone && is + 1 == was,
        )?;
        if !counted {
            continue;
        }
        if until.at_most == Some(is) {
            let over = reply.says.contains(&Say::Refused(Refusal::RoundsOver { step: n }));
            rule("at the most rounds it is told and held", over && after.position() == before.position())?;
        } else {
            let open = |s: usize| after.ledger().step(s) == StepState::Open;
            let passed = |s: usize| branches::stands_aside(after, s);
            let all = (until.from..=n).all(|s| open(s) || passed(s));
            let first = (until.from..after.book().steps.len()).find(|&s| !passed(s)).unwrap_or(until.from);
            rule("the next round begins at its first step with all of it open", all && after.position() == first)?;
            let begun = reply.says.contains(&Say::Round { step: n, round: is + 1 });
            rule("the next round is told", begun)?;
        }
        let things = items(after.book()).all(|(g, i)| {
            let suspect = after.ledger().item(g, i).suspect;
            *after.ledger().item(g, i) == Item { suspect, ..before.ledger().item(g, i).clone() }
        });
        rule("what was done to the vehicle stays as it is", things)?;
    }
    Ok(())
}
