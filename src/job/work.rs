//! What is to be done now: worked out from the book and the ledger each time, never stored.

use super::counted;
use super::edition::Edition;
use super::ledger::{Item, ItemState, Ledger};
use super::pending::{Counted, Follows, On, Pending, Remedy, ThingState};
use super::verdict::{self, Verdict};
use crate::procedure::{Act, Deed, Fastener, FastenerIx, OverRule, Procedure, Runs, StageKind};

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
    /// The value of a group is not known yet, and is told before anything of it is tightened.
    Untold { group: FastenerIx },
    /// A measurement.
    Measure { act: usize },
    /// A torque that counts from a measurement which is not taken: the step and act that take it.
    Unmeasured { step: usize, act: usize },
    /// A torque that comes to none with what was measured.
    NoTorque(Box<Counted>),
    /// A measurement that came out outside its limits: to be taken again, or expressly left so.
    Unmet { act: usize },
    /// Whether the step is to be done is not known yet.
    Undecided(On),
    /// Time has to pass.
    Wait { minutes: u32 },
    /// The hold point.
    Hold,
    /// The question on which other steps depend.
    Ask,
    /// The question that ends the rounds of the step.
    Until,
    /// Nothing: the step may count as done.
    Nothing,
}

/// What the step needs next, whatever its state says.
pub(super) fn work(book: &Procedure, ledger: &Ledger, step: usize) -> Work {
    let acts = &book.steps[step].acts;
    let mut act = 0;
    while act < acts.len() {
        match &acts[act] {
            Act::Fasten { group, items, deed: Deed::Tighten(through) } if !superseded(book, ledger, step, act) => {
                if let Some(work) = tightening(book, ledger, (step, act), *group, items, *through) {
                    return work;
                }
            }
            Act::Fasten { deed: Deed::Tighten(_), .. } => {}
            Act::Measure(_) if ledger.measured(step, act).is_none() => return Work::Measure { act },
            Act::Measure(_) if holds(book, ledger, step, act) && !ledger.left_outside(step, act) => {
                return Work::Unmet { act };
            }
            Act::Measure(_) => {}
            _ if ledger.act_recorded(step, act) => {}
            _ => {
                let plain = |a: &Act| !matches!(a, Act::Measure(_) | Act::Fasten { deed: Deed::Tighten(_), .. });
                let run = acts[act..].iter().take_while(|a| plain(a)).count();
                if let Some(remedy) = in_the_way(book, ledger, &acts[act..act + run]) {
                    return remedy;
                }
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
        _ if this.ask.is_some() && ledger.answered(step).is_none() => Work::Ask,
        // Answered with yes, it is done.
        _ if this.until.is_some() => Work::Until,
        _ => Work::Nothing,
    }
}

/// A fastener that cannot be started by hand as it is, but could be by its own rule: one in doubt, or turned too far. Without
/// that it would be refused there for ever. What these acts do to it first is left to them.
fn in_the_way(book: &Procedure, ledger: &Ledger, acts: &[Act]) -> Option<Work> {
    if ledger.edition() < Edition::Third {
        return None;
    }
    let fastened = |act: &Act, ix: FastenerIx| matches!(act, Act::Fasten { group, .. } if *group == ix);
    acts.iter().enumerate().find_map(|(n, act)| match act {
        Act::Fasten { group, items, deed: deed @ Deed::HandStart }
            if !acts[..n].iter().any(|before| fastened(before, *group)) =>
        {
            let fastener = &book.fasteners[group.0];
            items.iter().find_map(|&item| {
                let lawful = ledger.item(*group, item).state.after(*deed, fastener).on_the_day().is_some();
                let remedy = remedy(fastener, ledger, *group, item).filter(|_| !lawful)?;
                Some(Work::Remedy { group: *group, item, remedy })
            })
        }
        _ => None,
    })
}

/// Does the last reading of a measurement lie outside its limits?
pub(super) fn unmet(book: &Procedure, ledger: &Ledger, step: usize, act: usize) -> bool {
    match (counted::limits(book, ledger, step, act), ledger.measured(step, act)) {
        (Ok((limits, _)), Some(value)) => {
            let edition = ledger.judged_by(step, act, value);
            verdict::place(value, limits.least, limits.most, edition) != Verdict::Within
        }
        _ => false,
    }
}

/// Does a reading outside its limits hold its step? Not where the book has steps for that case.
pub(super) fn holds(book: &Procedure, ledger: &Ledger, step: usize, act: usize) -> bool {
    let leads = matches!(&book.steps[step].acts[act], Act::Measure(m) if m.leads);
    !leads && unmet(book, ledger, step, act)
}

/// Was a tightening act undone again by what its own step does later, as a bolt tightened to draw something together
/// and then slackened? Its stages are behind it, whatever the items say now.
pub(super) fn superseded(book: &Procedure, ledger: &Ledger, step: usize, act: usize) -> bool {
    let acts = &book.steps[step].acts;
    let Act::Fasten { group, items, deed: Deed::Tighten(_) } = &acts[act] else { return false };
    (act + 1..acts.len()).any(|later| match &acts[later] {
        // What locks it leaves the stages what they are.
        Act::Fasten { group: g, items: i, deed } if !matches!(deed, Deed::Tighten(_) | Deed::Lock | Deed::Unlock) => {
            g == group && i.iter().any(|i| items.contains(i)) && ledger.act_recorded(step, later)
        }
        _ => false,
    })
}

/// Stages wanted of a group by an act.
fn wanted(fastener: &Fastener, through: Option<usize>) -> usize {
    through.unwrap_or(fastener.finish.len()).min(fastener.finish.len())
}

fn tightening(
    book: &Procedure,
    ledger: &Ledger,
    (step, act): (usize, usize),
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
        let entry = ledger.item(group, item);
        let Some(done) = entry.stages_done(&fastener.finish) else {
            // An earlier step should have started it. Where none is left to do so, starting it is due here and now.
            let earlier = (0..step).any(|s| !ledger.is_over(s) && touches(book, s, group, item));
            return Some(match earlier {
                true => Work::Blocked { act, item, state: ThingState::Item(entry.state) },
                false => Work::Remedy { group, item, remedy: begin(fastener, entry) },
            });
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
    if is_untold(fastener, ledger, group) {
        return Some(Work::Untold { group });
    }
    if let Some((this, from)) = fastener.finish.stage(stage).and_then(|s| Some((s, s.from?))) {
        match counted::base(book, ledger, from) {
            Err((step, act)) => return Some(Work::Unmeasured { step, act }),
            Ok(base) => {
                if let Some(counted) = counted::no_torque(from, base, this) {
                    return Some(Work::NoTorque(Box::new(counted)));
                }
            }
        }
    }
    let pending = pending(book, fastener, ledger, group, item, stage, rank, items.len());
    if pending.interrupted {
        return Some(Work::Doubtful(pending));
    }
    let needs = [fastener.finish.stage(stage).and_then(|s| s.needs), book.steps[step].needs];
    let waits = needs.into_iter().flatten().find(|&needs| !ledger.is_in(needs));
    Some(Work::Stage(Pending { waits, ..pending }))
}

/// Is the value of a group still to be told? To the programs that asked afterwards whether it was kept to, a fastener that is tight
/// is so whatever the value is, and those of its group are done in the same way.
fn is_untold(fastener: &Fastener, ledger: &Ledger, group: FastenerIx) -> bool {
    let begun = |item: &Item| item.stages_done(&fastener.finish).is_some_and(|done| done > 0);
    fastener.finish.is_later() && ledger.edition() >= Edition::Fourth && !ledger.items(group).iter().any(begun)
}

/// Is it a stage that turns the fastener on or back by an angle? To do such a stage twice leaves the fastener where
/// the book does not want it, and nobody could see that it was done twice. A torque comes out the same however often
/// it is applied, and slack is slack.
pub(super) fn turns(kind: Option<&StageKind>) -> bool {
    matches!(kind, Some(StageKind::Angle(_) | StageKind::BackOff(_) | StageKind::Slot(_)))
}

/// Does an item stand before such a stage?
pub(super) fn stands_before_turn(fastener: &Fastener, item: &Item) -> bool {
    let next = item.stages_done(&fastener.finish).and_then(|done| fastener.finish.stage(done));
    turns(next.map(|s| &s.kind))
}

/// Does a step do anything to this item?
fn touches(book: &Procedure, step: usize, group: FastenerIx, item: usize) -> bool {
    book.steps[step].acts.iter().any(|act| match act {
        Act::Fasten { group: g, items, .. } => *g == group && items.contains(&item),
        _ => false,
    })
}

/// A stage of an item, as it is named to the user.
#[expect(clippy::too_many_arguments, reason = "each is a part of what is named")]
pub(super) fn pending(
    book: &Procedure,
    fastener: &Fastener,
    ledger: &Ledger,
    group: FastenerIx,
    item: usize,
    stage: usize,
    rank: usize,
    items: usize,
) -> Pending {
    let entry = ledger.item(group, item);
    let this = fastener.finish.stage(stage);
    let mut kind = this.map(|s| s.kind.clone());
    let mut counted = None;
    if let (Some(from), Some(StageKind::Torque(by))) = (this.and_then(|s| s.from), &kind)
        && let Ok(base) = counted::base(book, ledger, from)
        && let Some((limits, parts)) = counted::torque(from, base, by)
    {
        (kind, counted) = (Some(StageKind::Torque(limits)), Some(parts));
    }
    let next = entry.stages_done(&fastener.finish) == Some(stage);
    Pending {
        interrupted: next && entry.suspect && turns(kind.as_ref()),
        announced: entry.suspect && entry.announced,
        group,
        item,
        rank,
        items,
        stage,
        stages: fastener.finish.len(),
        kind,
        new: stage == 0 && entry.new,
        turned: entry.turned,
        waits: None,
        counted,
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

/// How an item that was not started by hand comes to be.
fn begin(fastener: &Fastener, item: &Item) -> Remedy {
    match item.state {
        ItemState::Out | ItemState::Holding if fastener.single_use => Remedy::Renew,
        // There is nothing left to slacken.
        ItemState::Out | ItemState::Trapped | ItemState::Holding => Remedy::Start,
        _ => Remedy::Restart,
    }
}

/// Does an item miss a stage that a tightening act wants?
pub(super) fn falls_short(fastener: &Fastener, item: &Item, through: Option<usize>) -> bool {
    item.over || item.stages_done(&fastener.finish).is_none_or(|done| done < wanted(fastener, through))
}

/// Items and stages of a step that are still to be tightened.
pub(super) fn left(book: &Procedure, ledger: &Ledger, step: usize) -> (usize, usize) {
    let (mut items_left, mut stages_left) = (0, 0);
    for (act, this) in book.steps[step].acts.iter().enumerate() {
        let Act::Fasten { group, items, deed: Deed::Tighten(through) } = this else { continue };
        if superseded(book, ledger, step, act) {
            continue;
        }
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

/// The first earlier step that is not done and could have brought what `act` is about on its way: for a fastener,
/// this very item of the group.
pub(super) fn open_step_before(
    book: &Procedure,
    ledger: &Ledger,
    step: usize,
    act: &Act,
    item: usize,
) -> Option<usize> {
    let wanted = thing(act)?;
    (0..step).filter(|&s| !ledger.is_over(s)).find(|&s| match wanted {
        Thing::Fastener(group) => touches(book, s, FastenerIx(group), item),
        _ => book.steps[s].acts.iter().any(|a| thing(a) == Some(wanted)),
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
