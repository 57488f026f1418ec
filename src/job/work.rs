//! What is to be done now: worked out from the book and the ledger each time, never stored.

use super::ledger::{ItemState, Ledger, StepState};
use super::reply::{Follows, Pending, Remedy, ThingState};
use crate::procedure::{Act, Deed, Fastener, FastenerIx, Finish, OverRule, Procedure, Runs, StageKind};

/// What a step still needs.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Work {
    /// Plain acts from `from` to before `to`, recorded together by "done".
    Acts { from: usize, to: usize },
    /// A fastener cannot be tightened as it is.
    Blocked { act: usize, item: usize, state: ThingState },
    /// A fastener has to be renewed or begun again.
    Remedy { group: FastenerIx, item: usize, remedy: Remedy },
    /// An angle stage was interrupted; the user must say how far it went.
    Doubtful(Pending),
    /// A stage of tightening.
    Stage(Pending),
    /// A measurement.
    Measure { act: usize },
    /// Time has to pass.
    Wait { minutes: u32 },
    /// The hold point.
    Hold,
    /// Nothing: the step may count as done.
    Nothing,
}

/// What the step needs next, whatever its state says.
pub(super) fn work(book: &Procedure, ledger: &Ledger, step: usize) -> Work {
    let acts = &book.steps[step].acts;
    let mut act = 0;
    while act < acts.len() {
        match &acts[act] {
            Act::Fasten { group, items, deed: Deed::Tighten(through) } => {
                if let Some(work) = tightening(book, ledger, act, *group, items, *through) {
                    return work;
                }
            }
            Act::Measure(_) if ledger.measured(step, act).is_none() => return Work::Measure { act },
            Act::Measure(_) => {}
            _ if ledger.act_recorded(step, act) => {}
            _ => {
                let plain = |a: &Act| !matches!(a, Act::Measure(_) | Act::Fasten { deed: Deed::Tighten(_), .. });
                let run = acts[act..].iter().take_while(|a| plain(a)).count();
                return Work::Acts { from: act, to: act + run };
            }
        }
        act += 1;
    }
    let this = &book.steps[step];
    // The wait comes before the hold point: the hold confirms the whole step.
    match this.wait_minutes {
        Some(minutes) if !ledger.waited(step) => Work::Wait { minutes },
        _ if this.hold.is_some() && !ledger.held(step) => Work::Hold,
        _ => Work::Nothing,
    }
}

/// Stages wanted of a group by an act.
fn wanted(fastener: &Fastener, through: Option<usize>) -> usize {
    through.unwrap_or(fastener.finish.len()).min(fastener.finish.len())
}

fn tightening(
    book: &Procedure,
    ledger: &Ledger,
    act: usize,
    group: FastenerIx,
    items: &[usize],
    through: Option<usize>,
) -> Option<Work> {
    let fastener = &book.fasteners[group.0];
    let wanted = wanted(fastener, through);
    // First whatever cannot stay as it is, in the order of tightening.
    for &item in items {
        if let Some(remedy) = remedy(fastener, ledger, group, item) {
            return Some(Work::Remedy { group, item, remedy });
        }
    }
    let mut next: Option<(usize, usize, usize)> = None; // rank, item, stages done
    for (rank, &item) in items.iter().enumerate() {
        let state = ledger.item(group, item).state;
        let Some(done) = ledger.item(group, item).stages_done(&fastener.finish) else {
            return Some(Work::Blocked { act, item, state: ThingState::Item(state) });
        };
        let sooner = match (next, fastener.runs) {
            (None, _) => true,
            (Some(_), Runs::OneAtATime) => false,
            (Some((_, _, least)), Runs::StageByStage) => done < least,
        };
        if done < wanted && sooner {
            next = Some((rank, item, done));
        }
    }
    let (rank, item, stage) = next?;
    let pending = pending(fastener, ledger, group, item, stage, rank, items.len());
    let is_angle = pending.kind.as_ref().is_some_and(StageKind::is_angle);
    Some(if is_angle && ledger.item(group, item).suspect { Work::Doubtful(pending) } else { Work::Stage(pending) })
}

/// A stage of an item, as it is named to the user.
pub(super) fn pending(
    fastener: &Fastener,
    ledger: &Ledger,
    group: FastenerIx,
    item: usize,
    stage: usize,
    rank: usize,
    items: usize,
) -> Pending {
    let entry = ledger.item(group, item);
    Pending {
        group,
        item,
        rank,
        items,
        stage,
        stages: fastener.finish.len(),
        kind: fastener.finish.stage(stage).map(|s| s.kind.clone()),
        new: stage == 0 && entry.new,
        turned: entry.turned,
        follows: Follows::Nothing,
    }
}

/// What has to be done to an item before any stage of it, by the rule of its group.
pub(super) fn remedy(fastener: &Fastener, ledger: &Ledger, group: FastenerIx, item: usize) -> Option<Remedy> {
    let entry = ledger.item(group, item);
    match entry.state {
        ItemState::Scrapped => Some(Remedy::Renew),
        ItemState::InDoubt if fastener.single_use => Some(Remedy::Renew),
        ItemState::InDoubt => Some(Remedy::Restart),
        _ if !entry.over => None,
        _ if fastener.over == OverRule::Renew => Some(Remedy::Renew),
        _ => Some(Remedy::Restart),
    }
}

/// Items and stages of a step that are still to be tightened.
pub(super) fn left(book: &Procedure, ledger: &Ledger, step: usize) -> (usize, usize) {
    let (mut items_left, mut stages_left) = (0, 0);
    for act in &book.steps[step].acts {
        let Act::Fasten { group, items, deed: Deed::Tighten(through) } = act else { continue };
        let fastener = &book.fasteners[group.0];
        let wanted = wanted(fastener, *through);
        for &item in items {
            let entry = ledger.item(*group, item);
            // An item that must begin again has all its stages before it.
            let done = match remedy(fastener, ledger, *group, item) {
                Some(_) => 0,
                None => entry.stages_done(&fastener.finish).unwrap_or(0),
            };
            if done < wanted {
                items_left += 1;
                stages_left += wanted - done;
            }
        }
    }
    (items_left, stages_left)
}

/// The first step that could have brought `item` of `group` on its way and is not done.
pub(super) fn open_step_before(book: &Procedure, ledger: &Ledger, step: usize, act: &Act) -> Option<usize> {
    let thing = thing(act);
    (0..step).find(|&s| {
        ledger.step(s) != StepState::Done
            && book.steps[s].acts.iter().any(|a| thing.is_some() && self::thing(a) == thing)
    })
}

/// The thing an act is about.
#[derive(Debug, PartialEq, Eq, Clone, Copy)]
pub(super) enum Thing {
    Support(usize),
    Condition(usize),
    Fastener(usize),
    Component(usize),
    Connection(usize),
}

pub(super) fn thing(act: &Act) -> Option<Thing> {
    Some(match act {
        Act::Place(ix) | Act::TakeAway(ix) => Thing::Support(ix.0),
        Act::Reach(ix) | Act::Leave(ix) => Thing::Condition(ix.0),
        Act::Fasten { group, .. } => Thing::Fastener(group.0),
        Act::TakeOff(ix) | Act::Hang(ix) | Act::PutOn(ix) => Thing::Component(ix.0),
        Act::Disconnect(ix) | Act::Connect(ix) => Thing::Connection(ix.0),
        Act::Measure(_) | Act::Clean(_) | Act::Apply(_) => return None,
    })
}

/// Does the group have any stage that waits for a state of the vehicle the stage says?
pub(super) fn stage_needs(finish: &Finish, stage: usize) -> Option<crate::procedure::ConditionIx> {
    finish.stage(stage).and_then(|s| s.needs)
}
