//! Compares what happened in a turn with what its scenario says must have happened.

use super::scenario::Then;
use super::{ScenarioTurn, TurnReport};
use crate::job::{ItemState, Job, Pending};
use crate::procedure::FastenerIx;

/// Everything that differs, in words; empty if nothing does.
pub(super) fn differences(turn: &ScenarioTurn, outcome: &TurnReport, job: Option<&Job>) -> Vec<String> {
    let said = outcome.said.join("\n");
    let mut found = Vec::new();
    let mut check = |name: &str, want: String, got: String| {
        if want != got {
            found.push(format!("{name}: {got} instead of {want}"));
        }
    };
    if let Some(want) = &turn.heard {
        check("heard", quote(want), quote(&outcome.heard.join(" | ")));
    }
    if let Some(want) = turn.recordings {
        check("recordings", want.to_string(), outcome.recordings.to_string());
    }
    match job {
        Some(job) => stands(turn, job, &mut check),
        None if turn.then == Then::default() => {}
        None => check("then", "a job".to_owned(), "no job yet".to_owned()),
    }
    let mut rest = said.as_str();
    for piece in &turn.said {
        match rest.find(piece.as_str()) {
            Some(at) => rest = &rest[at + piece.len()..],
            None => found.push(format!("said: {} is missing in {}", quote(piece), quote(rest))),
        }
    }
    for piece in turn.not_said.iter().filter(|piece| said.contains(piece.as_str())) {
        found.push(format!("said: {} must not be in {}", quote(piece), quote(&said)));
    }
    found
}

/// What must be true in the job.
fn stands(turn: &ScenarioTurn, job: &Job, check: &mut impl FnMut(&str, String, String)) {
    if let Some(step) = turn.then.step {
        check("step", step.to_string(), (job.position() + 1).to_string());
    }
    if let Some(pending) = &turn.then.pending {
        check("pending", quote(pending), quote(&job.pending().map_or(String::new(), |p| stage(job, &p))));
    }
    for (place, want) in &turn.then.state {
        let got = item(job, place).map_or_else(|| "no such fastener".to_owned(), state_word);
        check(place, want.clone(), got);
    }
    if let Some(open) = turn.then.open {
        check("open points", open.to_string(), job.open_points(job.position()).len().to_string());
    }
    if let Some(closed) = turn.then.closed {
        check("closed", closed.to_string(), job.closed().is_some().to_string());
    }
}

fn quote(text: &str) -> String {
    format!("\"{text}\"")
}

/// A stage as scenarios name it: `group/place/stage`, counted from 1.
pub(super) fn stage(job: &Job, pending: &Pending) -> String {
    let fastener = &job.book().fasteners[pending.group.0];
    format!("{}/{}/{}", fastener.id, fastener.places[pending.item], pending.stage + 1)
}

fn item(job: &Job, place: &str) -> Option<ItemState> {
    let (group, place) = place.split_once('/')?;
    let ix = job.book().fasteners.iter().position(|f| f.id == group)?;
    let item = job.book().fasteners[ix].places.iter().position(|p| p == place)?;
    Some(job.ledger().item(FastenerIx(ix), item).state)
}

/// A state as scenarios name it.
pub(super) fn state_word(state: ItemState) -> String {
    match state {
        ItemState::AsFound => "as found".into(),
        ItemState::Slackened => "slackened".into(),
        ItemState::Out => "out".into(),
        ItemState::Trapped => "trapped".into(),
        ItemState::Holding => "holding".into(),
        ItemState::HandStarted => "hand-started".into(),
        ItemState::AtStage(k) => format!("at stage {k}"),
        ItemState::Final => "final".into(),
        ItemState::Locked => "locked".into(),
        ItemState::Unlocked => "unlocked".into(),
        ItemState::InDoubt => "in doubt".into(),
        ItemState::Scrapped => "scrapped".into(),
    }
}
