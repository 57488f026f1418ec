//! The order of a tightening programme once more, as simply as it can be put: write down every stage that is still to
//! be done, sort, take the first. The job must come to the same without ever writing such a list.

use wrenchside::job::{ItemState, Job};
use wrenchside::procedure::{Act, Deed, Finish, Runs};

/// What comes next in a step.
#[derive(Debug, PartialEq, Eq)]
pub enum Due {
    /// This stage of this item of this group.
    Stage(usize, usize, usize),
    /// An item cannot be tightened as it is, or another act comes before.
    Else,
    /// All tightening of this step is done.
    Nothing,
}

/// Stages behind an item, by its state; `None` if it is in no state to be tightened.
fn behind(state: ItemState, stages: usize) -> Option<usize> {
    match state {
        ItemState::HandStarted => Some(0),
        ItemState::AtStage(k) => Some(k),
        ItemState::Final | ItemState::Locked => Some(stages),
        _ => None,
    }
}

fn stages(finish: &Finish) -> usize {
    match finish {
        Finish::Stages(stages) => stages.len(),
        Finish::NoValue { .. } | Finish::Later { .. } => 1,
    }
}

/// All that is left of one tightening act, in order: group, item, stage. `None` if an item is in no state for it.
fn list(job: &Job, act: &Act) -> Option<Vec<(usize, usize, usize)>> {
    let Act::Fasten { group, items, deed: Deed::Tighten(through) } = act else { return Some(Vec::new()) };
    let fastener = &job.book().fasteners[group.0];
    let stages = stages(&fastener.finish);
    let mut left = Vec::new();
    for (rank, &item) in items.iter().enumerate() {
        let entry = job.ledger().item(*group, item);
        let behind = behind(entry.state, stages).filter(|_| !entry.over)?;
        left.extend((behind..through.unwrap_or(stages).min(stages)).map(|stage| (rank, item, stage)));
    }
    left.sort_by_key(|&(rank, _, stage)| match fastener.runs {
        Runs::OneAtATime => (rank, stage),
        Runs::StageByStage => (stage, rank),
    });
    Some(left.into_iter().map(|(_, item, stage)| (group.0, item, stage)).collect())
}

/// What is due in the step the job stands at, as far as tightening goes. Steps that slacken what they tightened are
/// left to the job: there the states do not say how far the step has come.
pub fn due(job: &Job) -> Option<Due> {
    if job.ledger().is_over(job.position()) {
        return Some(Due::Nothing);
    }
    let acts = &job.book().steps[job.position()].acts;
    let tightens = |a: &Act| matches!(a, Act::Fasten { deed: Deed::Tighten(_), .. });
    let first = acts.iter().position(tightens)?;
    if acts[first..].iter().any(|a| matches!(a, Act::Fasten { .. }) && !tightens(a)) {
        return None;
    }
    for act in acts.iter().filter(|a| tightens(a)) {
        match list(job, act) {
            None => return Some(Due::Else),
            Some(left) => {
                if let Some(&(group, item, stage)) = left.first() {
                    return Some(Due::Stage(group, item, stage));
                }
            }
        }
    }
    Some(Due::Nothing)
}
