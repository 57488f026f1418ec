//! Random procedures: groups with lives of their own, merged step by step, with supports, measurements, hold points,
//! waits, states of the vehicle and rounds in between.

use crate::book::{angle, back_off, book, fasten, group, measure, step, torque, until};
use crate::branches::{branches, depend, in_time, timed};
use proptest::prelude::*;
use wrenchside::procedure::*;

const PLACES: [&str; 4] = ["front", "rear", "upper", "lower"];

/// A group and all the steps that have to do with it, in order.
type Life = (Fastener, Vec<(Vec<usize>, Deed)>);

fn stage() -> impl Strategy<Value = StageKind> {
    prop_oneof![
        3 => Just(torque("70 N·m")),
        1 => Just(torque("55..70 N·m")),
        3 => Just(angle("90 deg")),
        1 => Just(angle("55..70 deg")),
        1 => Just(back_off("180 deg")),
        1 => Just(back_off("0..90 deg")),
        1 => Just(StageKind::Slot("30 deg".parse().expect("an angle"))),
        1 => Just(StageKind::Slacken),
    ]
}

/// A group of one to four fasteners with any programme.
pub fn fastener() -> impl Strategy<Value = Fastener> {
    let shape = (1..=4usize, prop::collection::vec(stage(), 1..=4), any::<[bool; 3]>());
    let rest =
        (prop::option::weighted(0.15, (0..4usize, 0..2usize)), prop::bool::weighted(0.1), prop::bool::weighted(0.25));
    (shape, rest).prop_flat_map(|((count, stages, [runs, single_use, over]), (needs, no_value, locked))| {
        Just((0..count).collect::<Vec<_>>()).prop_shuffle().prop_map(move |order| {
            let mut fastener = group("bolt", &PLACES[..count], stages.clone());
            fastener.runs = if runs { Runs::StageByStage } else { Runs::OneAtATime };
            fastener.single_use = single_use;
            fastener.lock = locked.then(|| "cotter pin".into());
            fastener.over = if over { OverRule::Renew } else { OverRule::Restart };
            fastener.order = order;
            if let (Some((stage, condition)), Finish::Stages(stages)) = (needs, &mut fastener.finish) {
                let stage = stage % stages.len();
                stages[stage].needs = Some(ConditionIx(condition));
            }
            if no_value {
                fastener.finish = Finish::NoValue { instead: "By feel.".into() };
            }
            fastener
        })
    })
}

/// How the fasteners of a group come loose.
fn strip() -> impl Strategy<Value = Vec<Deed>> {
    use Deed::*;
    prop_oneof![
        Just(vec![Slacken, Remove]),
        Just(vec![Remove]),
        Just(vec![Slacken, Trap, Remove]),
        Just(vec![Slacken, Trap]),
        Just(vec![Remove, Hold, Remove]),
        Just(vec![Slacken]),
    ]
}

fn life() -> impl Strategy<Value = Life> {
    (fastener(), strip(), any::<bool>(), prop::collection::vec((any::<prop::sample::Index>(), any::<bool>()), 0..3))
        .prop_map(|(fastener, strip, start, parts)| {
            let all = fastener.order.clone();
            let unlock = fastener.lock.is_some().then_some(Deed::Unlock);
            let mut deeds: Vec<(Vec<usize>, Deed)> =
                unlock.into_iter().chain(strip).map(|d| (all.clone(), d)).collect();
            // Now and then nobody starts them by hand, and the tightening has to see to it.
            if start || deeds.iter().filter(|(_, deed)| *deed != Deed::Unlock).count() > 1 {
                deeds.push((all.clone(), Deed::HandStart));
            }
            for (through, some) in parts {
                let items = if some { all[..all.len().div_ceil(2)].to_vec() } else { all.clone() };
                deeds.push((items, Deed::Tighten(Some(1 + through.index(fastener.finish.len())))));
            }
            deeds.push((all.clone(), Deed::Tighten(None)));
            deeds.extend(fastener.lock.is_some().then_some((all, Deed::Lock)));
            (fastener, deeds)
        })
}

/// What else there is to do, in an order that makes sense.
fn beside() -> Vec<Act> {
    vec![
        Act::Place(SupportIx(0)),
        Act::Reach(ConditionIx(0)),
        Act::Hang(ComponentIx(0)),
        Act::Disconnect(ConnectionIx(0)),
        measure("2.0 mm", "3.0 mm"),
        Act::Clean("it".into()),
        Act::TakeOff(ComponentIx(1)),
        Act::Hang(ComponentIx(1)),
        Act::Reach(ConditionIx(1)),
        Act::PutOn(ComponentIx(1)),
        Act::Connect(ConnectionIx(0)),
        Act::TakeOff(ComponentIx(0)),
        Act::PutOn(ComponentIx(0)),
        Act::Leave(ConditionIx(1)),
        Act::TakeAway(SupportIx(0)),
        Act::Leave(ConditionIx(0)),
    ]
}

/// What is put on a step beside its acts: hold point, wait, state of the vehicle, joined to the step before it.
type Trimming = (bool, bool, Option<usize>, bool);

fn trimming() -> impl Strategy<Value = Trimming> {
    (
        prop::bool::weighted(0.15),
        prop::bool::weighted(0.1),
        prop::option::weighted(0.05, 0..2usize),
        prop::bool::weighted(0.3),
    )
}

/// Steps that are done in rounds: which one asks, how many before it belong to the round, and how often it is asked.
type Round = (prop::sample::Index, usize, Option<u32>);

fn rounds() -> impl Strategy<Value = Vec<Round>> {
    let at_most = prop::option::weighted(0.5, 2..4u32);
    prop::collection::vec((any::<prop::sample::Index>(), 0..4usize, at_most), 0..3)
}

/// Puts rounds on steps where a book may have them: in one phase, not one in the other, and one question at a time.
fn in_rounds(steps: &mut [Step], rounds: Vec<Round>) {
    for (index, before, at_most) in rounds {
        if steps.is_empty() {
            return;
        }
        let last = index.index(steps.len());
        let from = last.saturating_sub(before);
        let apart = steps
            .iter()
            .enumerate()
            .all(|(n, step)| step.until.as_ref().is_none_or(|other| n < from || other.from > last));
        if apart && steps[from].phase == steps[last].phase {
            steps[last].hold = None;
            steps[last].until = until(from, at_most);
        }
    }
}

/// Makes some steps those of one variant of the vehicle or of the other, and gives the book as it is for one of them.
fn of_one_variant(mut book: Procedure, only: &[Option<usize>], variant: usize) -> Procedure {
    book.variants = ["with it", "without it"].map(|name| Variant { id: name.into(), name: name.into() }).into();
    for (step, only) in book.steps.iter_mut().zip(only) {
        step.only = only.map(VariantIx);
    }
    let of_it = book.of(VariantIx(variant));
    if of_it.steps.is_empty() { book.of(VariantIx(1 - variant)) } else { of_it }
}

/// A procedure of one to three groups, as it is for one of two variants of the vehicle.
pub fn procedures() -> impl Strategy<Value = Procedure> {
    let only = prop::collection::vec(prop::option::weighted(0.08, 0..2usize), 60);
    (whole_procedures(), only, 0..2usize, branches(), timed()).prop_map(|(book, only, variant, branches, timed)| {
        in_time(depend(of_one_variant(book, &only, variant), branches), timed)
    })
}

fn whole_procedures() -> impl Strategy<Value = Procedure> {
    let lives = prop::collection::vec(life(), 1..=3);
    let merge = prop::collection::vec((0..6usize, trimming()), 60);
    (lives, merge, prop::collection::vec(any::<bool>(), 16), rounds()).prop_map(|(lives, merge, kept, rounds)| {
        let (mut fasteners, deeds): (Vec<Fastener>, Vec<_>) = lives.into_iter().unzip();
        for (fastener, name) in fasteners.iter_mut().zip(["bolt", "nut", "screw"]) {
            fastener.name = name.into();
        }
        let mut queues: Vec<Vec<Act>> = deeds
            .into_iter()
            .enumerate()
            .map(|(g, deeds)| deeds.into_iter().map(|(items, deed)| fasten(g, &items, deed)).collect())
            .collect();
        queues.push(beside().into_iter().zip(kept).filter(|(_, kept)| *kept).map(|(act, _)| act).collect());
        let mut steps: Vec<Step> = Vec::new();
        for (from, (hold, wait, needs, joined)) in merge {
            let waiting: Vec<usize> = (0..queues.len()).filter(|&q| !queues[q].is_empty()).collect();
            if waiting.is_empty() {
                break;
            }
            let act = queues[waiting[from % waiting.len()]].remove(0);
            match steps.last_mut() {
                Some(last) if joined => last.acts.push(act),
                _ => steps.push(step(vec![act])),
            }
            let last = steps.last_mut().expect("one was pushed");
            last.hold = last.hold.take().or(hold.then(|| "Is it so?".into()));
            last.wait_minutes = last.wait_minutes.or(wait.then_some(10));
            last.needs = last.needs.or(needs.map(ConditionIx));
        }
        let third = steps.len() / 3;
        for (n, step) in steps.iter_mut().enumerate() {
            step.phase = if n < third { Phase::Strip } else { Phase::Rebuild };
            step.cautions = (n % 4 == 0)
                .then(|| Caution { signal: Signal::Warning, say: format!("Mind step {n}.") })
                .into_iter()
                .collect();
        }
        in_rounds(&mut steps, rounds);
        let mut book = book(fasteners, steps);
        let standing = [Cause::Hung(ComponentIx(0)), Cause::Placed(SupportIx(0)), Cause::Open(ConnectionIx(0))];
        book.standing = standing
            .into_iter()
            .map(|cause| {
                let say = format!("{cause:?}");
                StandingCaution { id: say.clone(), caution: Caution { signal: Signal::Caution, say }, cause }
            })
            .collect();
        book
    })
}
