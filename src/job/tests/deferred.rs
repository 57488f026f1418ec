//! A stage that waits for a state of the vehicle is never named without it, whichever way it is reached.

use super::*;
use Command::{Done, Next, Resume};

const RIDE_HEIGHT: ConditionIx = ConditionIx(0);

/// A torque now, and another at ride height; the step that brings the vehicle there comes last.
fn deferred() -> Bay {
    let mut bolts = group("bolt", &["left", "right"], vec![torque("30 N·m"), torque("70 N·m")]);
    if let procedure::Finish::Stages(stages) = &mut bolts.finish {
        stages[1].needs = Some(RIDE_HEIGHT);
    }
    let steps = vec![
        step(vec![fasten(0, &[0, 1], Deed::Remove), fasten(0, &[0, 1], Deed::HandStart)]),
        step(vec![fasten(0, &[0, 1], Deed::Tighten(None))]),
        step(vec![Act::Reach(RIDE_HEIGHT)]),
    ];
    let mut bay = Bay::new(vec![bolts], steps);
    bay.all([Done, Done]);
    bay
}

/// The stages that are named, and what each waits for.
fn named(says: &[Say]) -> Vec<(usize, Option<ConditionIx>)> {
    let pending = says.iter().filter_map(|say| match say {
        Say::Pending(p)
        | Say::Answer(Answer::Value(p) | Answer::Which(p) | Answer::InUnit { pending: p, .. })
        | Say::Refused(Refusal::Unfinished { pending: p, .. }) => Some((p.stage, p.waits)),
        _ => None,
    });
    pending.collect()
}

#[test]
fn whichever_way_it_is_reached() {
    let mut bay = deferred();
    let ways = [
        Next,
        Command::Ask(Ask::Value),
        Command::Ask(Ask::InUnit(TorqueUnit::PoundForceFoot)),
        Command::Ask(Ask::Which),
        Command::WhereAmI,
        Resume,
        Command::NotSure,
        Command::GoTo(2),
    ];
    for way in ways {
        let says = bay.say(way.clone());
        assert_eq!(named(&says), [(1, Some(RIDE_HEIGHT))], "{way:?}: {says:?}");
    }
    assert_eq!(refused(&bay.say(Done)), Some(&Refusal::NotInState(RIDE_HEIGHT)));
}

#[test]
fn after_the_one_before_it_and_no_longer_than_it_waits() {
    let mut bolts = group("bolt", &["only"], vec![torque("30 N·m"), torque("70 N·m")]);
    if let procedure::Finish::Stages(stages) = &mut bolts.finish {
        stages[1].needs = Some(RIDE_HEIGHT);
    }
    let steps = vec![
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        step(vec![fasten(0, &[0], Deed::Tighten(None))]),
        step(vec![Act::Reach(RIDE_HEIGHT)]),
    ];
    let mut bay = Bay::new(vec![bolts], steps);
    assert_eq!(named(&bay.say(Done)), [(0, None)]);
    assert_eq!(named(&bay.say(Done)), [(1, Some(RIDE_HEIGHT))]);
    bay.go(3);
    bay.say(Done);
    assert_eq!(named(&bay.say(Command::GoTo(2))), [(1, None)]);
}

#[test]
fn a_state_that_the_whole_step_waits_for_is_named_as_well() {
    let bolts = group("bolt", &["only"], vec![torque("30 N·m")]);
    let tighten = step(vec![fasten(0, &[0], Deed::Tighten(None))]);
    let steps = vec![
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        Step { needs: Some(RIDE_HEIGHT), ..tighten },
        step(vec![Act::Reach(RIDE_HEIGHT)]),
    ];
    let mut bay = Bay::new(vec![bolts], steps);
    bay.say(Done);
    assert_eq!(named(&bay.say(Command::Ask(Ask::Value))), [(0, Some(RIDE_HEIGHT))]);
    assert_eq!(named(&bay.say(Next)), [(0, Some(RIDE_HEIGHT))]);
}

#[test]
fn a_distorted_scale_gives_no_reading_of_a_torque() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("70 N·m"), angle("90 deg")]);
    bay.job.scale_is_distorted(true);
    assert_eq!(refused(&bay.read("70")), Some(&Refusal::AdapterOn));
    bay.job.scale_is_distorted(false);
    bay.read("70");
    bay.job.scale_is_distorted(true);
    // Nor is one put in place of another.
    bay.say(Command::Correct);
    assert_eq!(refused(&bay.read("71")), Some(&Refusal::AdapterOn));
    bay.say(Command::No);
    bay.read("90");
    assert_eq!(bay.state(0), ItemState::Final, "an angle is no torque");
}
