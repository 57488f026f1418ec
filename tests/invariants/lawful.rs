//! One table of lawful changes: what `check` passes can be walked to its end, and ends as `check` foresaw.

use crate::{Seen, books, config};
use proptest::prelude::*;
use proptest::sample::Index;
use std::sync::Arc;
use wrenchside::job::*;
use wrenchside::procedure::{self, Act, Code, ConditionIx, Course, Deed, FastenerIx, Finish, Procedure};

/// A slip of the author's pen.
#[derive(Debug, Clone)]
enum Slip {
    Forgotten(Index),
    Twice(Index),
    Swapped(Index, Index),
    Moved(Index, Index),
    OtherDeed(Index, u8),
    FirstOnly(Index),
    Needs(Index, usize),
}

fn slips() -> impl Strategy<Value = Vec<Slip>> {
    let at = any::<Index>;
    let slip = prop_oneof![
        at().prop_map(Slip::Forgotten),
        at().prop_map(Slip::Twice),
        (at(), at()).prop_map(|(a, b)| Slip::Swapped(a, b)),
        (at(), at()).prop_map(|(a, b)| Slip::Moved(a, b)),
        (at(), any::<u8>()).prop_map(|(a, deed)| Slip::OtherDeed(a, deed)),
        at().prop_map(Slip::FirstOnly),
        (at(), 0..2usize).prop_map(|(a, ix)| Slip::Needs(a, ix)),
    ];
    prop::collection::vec(slip, 0..=2)
}

fn slip(book: &mut Procedure, slip: &Slip) {
    let places: Vec<(usize, usize)> =
        book.steps.iter().enumerate().flat_map(|(s, step)| (0..step.acts.len()).map(move |a| (s, a))).collect();
    if places.is_empty() {
        return;
    }
    let at = |index: &Index| places[index.index(places.len())];
    match slip {
        Slip::Forgotten(index) => {
            let (s, a) = at(index);
            book.steps[s].acts.remove(a);
        }
        Slip::Twice(index) => {
            let (s, a) = at(index);
            let act = book.steps[s].acts[a].clone();
            book.steps[s].acts.insert(a, act);
        }
        Slip::Swapped(one, other) => {
            let ((s, a), (t, b)) = (at(one), at(other));
            let (first, second) = (book.steps[s].acts[a].clone(), book.steps[t].acts[b].clone());
            book.steps[s].acts[a] = second;
            book.steps[t].acts[b] = first;
        }
        Slip::Moved(index, to) => {
            let (s, a) = at(index);
            let act = book.steps[s].acts.remove(a);
            let step = &mut book.steps[to.index(places.len()) % (s + 1)];
            step.acts.push(act);
        }
        Slip::OtherDeed(index, other) => {
            let (s, a) = at(index);
            if let Act::Fasten { deed, .. } = &mut book.steps[s].acts[a] {
                let deeds = [
                    Deed::Slacken,
                    Deed::Remove,
                    Deed::Trap,
                    Deed::Hold,
                    Deed::HandStart,
                    Deed::Tighten(Some(1)),
                    Deed::Tighten(None),
                    Deed::Unlock,
                    Deed::Lock,
                ];
                *deed = deeds[usize::from(*other) % deeds.len()];
            }
        }
        Slip::FirstOnly(index) => {
            let (s, a) = at(index);
            if let Act::Fasten { items, .. } = &mut book.steps[s].acts[a] {
                items.truncate(1);
            }
        }
        Slip::Needs(index, condition) => book.steps[at(index).0].needs = Some(ConditionIx(*condition)),
    }
}

/// A user who does what is asked, to the end. Whatever is refused or doubted is an error.
fn obedient(book: &Arc<Procedure>) -> Result<Job, String> {
    let mut job = Job::new(Arc::clone(book));
    let mut command = Command::Open;
    for _ in 0..1_000 {
        let reply = job.apply(command.clone(), At(0));
        if let Some(refused) = reply.says.iter().find(|s| matches!(s, Say::Refused(_) | Say::Remedy { .. })) {
            return Err(format!("after {command:?} in step {}: {refused:?}", job.position()));
        }
        if job.closed().is_some() {
            return Ok(job);
        }
        let last_is_done = reply.says.contains(&Say::LastStepDone);
        command = match (job.question(), job.pending(), job.expects().reading) {
            // Two rounds of whatever is done in rounds.
            (Some(Question::Until { round: 1, .. }), ..) => Command::No,
            // So that every step is to be done.
            (Some(Question::Ask { .. }), ..) => Command::No,
            (Some(Question::Hold { .. } | Question::Wait { .. } | Question::Until { .. }), ..) => Command::Yes,
            (Some(Question::Finish { open }), ..) if open.is_empty() => Command::Yes,
            (Some(other), ..) => return Err(format!("asked {other:?}")),
            (None, ..) if last_is_done => Command::Finish,
            (None, None, Some(awaited)) => {
                Command::Reading(Reading { amount: awaited.amount(), unit: Some(awaited.unit()) })
            }
            (None, ..) => Command::Done,
        };
    }
    Err(format!("it comes to no end, in step {}", job.position()))
}

fn as_foreseen(course: &Course<'_>, job: &Job) -> Result<(), String> {
    let (book, ledger) = (job.book(), job.ledger());
    for (group, fastener) in book.fasteners.iter().enumerate() {
        for item in 0..fastener.places.len() {
            let (is, foreseen) = (ledger.item(FastenerIx(group), item).state, course.item(FastenerIx(group), item));
            if is != foreseen {
                return Err(format!("{} {item} is {is:?}, and {foreseen:?} was foreseen", fastener.name));
            }
        }
    }
    let differs = (0..book.conditions.len()).map(ConditionIx).find(|&ix| ledger.is_in(ix) != course.is_in(ix));
    match (job.open_points(book.steps.len()).first(), differs) {
        (Some(open), _) => Err(format!("still open: {open:?}")),
        (None, Some(ix)) => Err(format!("the vehicle is not as foreseen: {ix:?}")),
        (None, None) => Ok(()),
    }
}

/// The author corrects what `check` finds, one finding after the other, by striking it out.
fn mend(book: &mut Procedure) -> Result<(), String> {
    for _ in 0..1_000 {
        let course = procedure::course(book);
        let Some(fault) = course.faults().first() else { return Ok(()) };
        let place = fault.place();
        match (place, fault.code) {
            (Some((step, None)), _) => book.steps[step].needs = None,
            (Some((step, Some(act))), Code::ConditionUnmet) => {
                let Act::Fasten { group, .. } = book.steps[step].acts[act] else { return Err(format!("{fault:?}")) };
                if let Finish::Stages(stages) = &mut book.fasteners[group.0].finish {
                    stages.iter_mut().for_each(|stage| stage.needs = None);
                }
            }
            (Some((step, Some(act))), _) => {
                book.steps[step].acts.remove(act);
            }
            (None, _) => return Err(format!("{fault:?}")),
        }
    }
    Err("the book cannot be mended".into())
}

#[test]
fn what_check_passes_can_be_walked_to_its_end() {
    let seen = Seen::default();
    let mut runner = proptest::test_runner::TestRunner::new(config(crate::cases()));
    let outcome = runner.run(&(books::procedures(), slips()), |(mut book, slips)| {
        book = crate::branches::by_answers(book);
        slips.iter().for_each(|s| slip(&mut book, s));
        mend(&mut book).map_err(TestCaseError::fail)?;
        let book = Arc::new(book);
        let course = procedure::course(&book);
        let job = obedient(&book).map_err(TestCaseError::fail)?;
        as_foreseen(&course, &job).map_err(TestCaseError::fail)?;
        for act in book.steps.iter().flat_map(|s| &s.acts) {
            match act {
                Act::Fasten { deed, .. } => seen.note(deed),
                other => seen.note(other),
            }
        }
        job.facts().iter().filter(|f| matches!(f.fact, Fact::Round { .. })).for_each(|f| seen.note(&f.fact));
        Ok(())
    });
    if let Err(failure) = outcome {
        panic!("{failure}");
    }
    seen.has_all(
        "Slacken Remove Trap Hold HandStart Tighten Place TakeAway Reach Leave Hang TakeOff PutOn Disconnect Connect Measure Round",
    );
}
