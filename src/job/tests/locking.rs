//! End states other than tight: backed off, turned on to a slot, locked; and a lock whose fastener is opened again.

use super::*;
use crate::quantity::Unit;
use Command::{Done, GoTo, Undo, Yes};
use ItemState::{AsFound, AtStage, Final, HandStarted, Locked, Out, Slackened, Unlocked};
use quantity::Angle;

fn slot(most: &str) -> StageKind {
    StageKind::Slot(most.parse::<Angle>().unwrap())
}

/// A castle nut that comes off, goes on again and is locked, each in a step of its own.
fn castle(stages: Vec<StageKind>) -> Bay {
    let nut = procedure::Fastener { lock: Some("cotter pin".into()), ..group("castle nut", &["left"], stages) };
    let deeds = [Deed::Unlock, Deed::Remove, Deed::HandStart, Deed::Tighten(None), Deed::Lock];
    let steps = deeds.map(|deed| step(vec![fasten(0, &[0], deed)]));
    Bay::new(vec![nut], steps.into_iter().chain([step(Vec::new())]).collect())
}

fn open(bay: &Bay) -> Vec<ItemState> {
    let open = bay.job.open_points(0).into_iter();
    open.filter_map(|open| if let Open::Fasteners { state, .. } = open { Some(state) } else { None }).collect()
}

#[test]
fn a_fastener_with_a_lock_is_at_its_end_when_it_is_locked() {
    let mut bay = castle(vec![torque("40 N·m"), slot("30 deg")]);
    bay.say(Done);
    assert_eq!((bay.state(0), open(&bay)), (Unlocked, vec![Unlocked]));
    bay.say(Done);
    assert_eq!(bay.state(0), Out);
    bay.all([Done, Done]);
    assert_eq!((bay.state(0), bay.pending()), (AtStage(1), Some((0, 1))));
    bay.say(Done);
    assert_eq!((bay.state(0), bay.job.position()), (Final, 3));
    assert_eq!(open(&bay), [Final], "tight, and not locked");
    bay.all([Done, Done]);
    assert_eq!((bay.state(0), open(&bay)), (Locked, vec![]));
    bay.all([Undo, Yes]);
    assert_eq!((bay.state(0), open(&bay)), (Final, vec![Final]));
}

#[test]
fn a_lock_goes_in_only_at_the_end() {
    let mut bay = castle(vec![torque("40 N·m"), slot("30 deg")]);
    bay.all([Done, Done, Done, Done]);
    bay.go(5);
    let says = bay.say(Done);
    assert!(matches!(refused(&says), Some(Refusal::Unlawful { state: ThingState::Item(AtStage(1)), .. })), "{says:?}");
    assert_eq!(bay.state(0), AtStage(1));
}

#[test]
fn a_lock_that_was_only_taken_out_leaves_the_fastener_as_it_was() {
    let nut = procedure::Fastener { lock: Some("tab".into()), ..group("nut", &["left"], vec![torque("40 N·m")]) };
    let steps = [Deed::Unlock, Deed::Lock].map(|deed| step(vec![fasten(0, &[0], deed)])).into();
    let mut bay = Bay::new(vec![nut], steps);
    bay.all([Done, Done]);
    assert_eq!((bay.state(0), open(&bay)), (AsFound, vec![]));
}

#[test]
fn what_is_turned_without_a_word_about_its_lock_has_it_out() {
    let mut bay = castle(vec![torque("40 N·m")]);
    bay.go(2);
    bay.say(Done);
    assert_eq!(bay.state(0), Out, "nobody takes it off with the pin in");
}

#[test]
fn a_back_off_may_be_less_than_its_most() {
    let to_the_turn = || {
        let mut bay = castle(vec![torque("40 N·m"), back_off("0..90 deg")]);
        bay.all([Done, Done, Done, Done]);
        assert_eq!(bay.pending(), Some((0, 1)));
        bay
    };
    for amount in ["0", "45", "90"] {
        let mut bay = to_the_turn();
        let says = bay.read(amount);
        assert!(matches!(says[0], Say::ReadingTaken { verdict: Verdict::Within, .. }), "{amount}: {says:?}");
        assert_eq!(bay.state(0), Final);
    }
    let mut bay = to_the_turn();
    let says = bay.read("100");
    assert!(matches!(says[..], [Say::Question(Question::Reading { verdict: Verdict::Over, .. })]), "{says:?}");
}

#[test]
fn a_turn_to_a_slot_is_never_more_than_its_most_and_asked_about_when_it_was_interrupted() {
    let mut bay = castle(vec![torque("40 N·m"), slot("30 deg")]);
    bay.all([Done, Done, Done, Done]);
    let says = bay.read("35");
    assert!(matches!(says[..], [Say::Question(Question::Reading { verdict: Verdict::Over, .. })]), "{says:?}");
    bay.say(Command::No);
    bay.say(Command::Pause);
    let says = bay.say(Command::Resume);
    assert!(matches!(says.last(), Some(Say::Question(Question::Angle(_)))), "{says:?}");
    bay.say(Command::Finished);
    assert_eq!(bay.state(0), Final);
}

#[test]
fn a_lock_is_to_be_seen_to_again_when_its_fastener_was_opened_again() {
    let mut bay = castle(vec![torque("40 N·m")]);
    bay.all([Done, Done, Done, Done, Done, Done]);
    assert_eq!(bay.state(0), Locked);
    bay.all([GoTo(2), Done, Yes]);
    assert_eq!(bay.state(0), Out);
    let ledger = bay.job.ledger();
    assert_eq!([2, 3, 4].map(|step| ledger.step(step)), [StepState::Open; 3], "all that follows is due again");
    bay.go(3);
    bay.say(Done);
    assert_eq!(bay.state(0), HandStarted);
    bay.all([Done, Done, Done]);
    assert_eq!((bay.state(0), open(&bay)), (Locked, vec![]));
}

#[test]
fn what_is_locked_cannot_be_started_by_hand() {
    let mut bay = castle(vec![torque("40 N·m")]);
    bay.all([Done, Done, Done, Done, Done, Done, GoTo(3)]);
    let says = bay.say(Done);
    assert!(matches!(refused(&says), Some(Refusal::Unlawful { state: ThingState::Item(Locked), .. })), "{says:?}");
}

#[test]
fn a_second_tightening_and_lock_after_a_slackening_are_one_more_end() {
    let nut = procedure::Fastener { lock: Some("tab".into()), ..group("nut", &["left"], vec![torque("40 N·m")]) };
    let deeds = [
        vec![Deed::Unlock, Deed::Slacken, Deed::HandStart],
        vec![Deed::Tighten(None), Deed::Lock],
        vec![Deed::Unlock, Deed::Slacken],
        vec![Deed::HandStart, Deed::Tighten(None), Deed::Lock],
    ];
    let steps = deeds.map(|deeds| step(deeds.into_iter().map(|deed| fasten(0, &[0], deed)).collect())).into();
    let mut bay = Bay::new(vec![nut], steps);
    bay.all([Done, Done, Done]);
    assert_eq!(bay.state(0), Locked);
    bay.say(Done);
    assert_eq!(bay.state(0), Slackened);
    bay.all([Done, Done, Done]);
    assert_eq!((bay.state(0), open(&bay)), (Locked, vec![]));
}

#[test]
fn no_angle_is_rounded_to_a_coarser_unit() {
    for (turn, amount, unit, within) in [
        (slot("30 deg"), "1", "flats", false),
        (slot("30 deg"), "0.5", "flats", true),
        (slot("30 deg"), "1", "points", true),
        (back_off("0..90 deg"), "2", "flats", false),
        (back_off("0..90 deg"), "1.5", "flats", true),
        (back_off("0..90 deg"), "1", "quarter turns", true),
        (angle("90 deg"), "2", "flats", false),
        (angle("90 deg"), "1", "flats", false),
        (angle("90 deg"), "1", "quarter turns", true),
    ] {
        let mut bay = tightening(|_| (), &["only"], vec![torque("40 N·m"), turn.clone()]);
        bay.say(Done);
        let unit: Unit = unit.parse().unwrap();
        let says = bay.say(Command::Reading(Reading { amount: amount.parse().unwrap(), unit: Some(unit) }));
        let asked = matches!(says[..], [Say::Question(Question::Reading { .. })]);
        assert_eq!((asked, bay.state(0) == Final), (!within, within), "{turn:?}, {amount} {unit}: {says:?}");
    }
}

#[test]
fn a_lock_taken_out_once_more_is_to_be_put_in_once_more() {
    let nut = procedure::Fastener { lock: Some("tab".into()), ..group("nut", &["left"], vec![torque("40 N·m")]) };
    let steps = [Deed::Unlock, Deed::Lock].map(|deed| step(vec![fasten(0, &[0], deed)]));
    let mut bay = Bay::new(vec![nut], steps.into_iter().chain([step(Vec::new())]).collect());
    bay.all([Done, Done, GoTo(1), Done, Yes]);
    assert_eq!((bay.state(0), bay.job.ledger().step(1)), (Unlocked, StepState::Open));
    bay.all([GoTo(2), Done]);
    assert_eq!((bay.state(0), bay.job.ledger().step(1)), (AsFound, StepState::Done));
}

#[test]
fn a_jump_past_a_lock_names_it() {
    let mut bay = castle(vec![torque("40 N·m")]);
    bay.all([Done, Done, Done, Done]);
    assert_eq!(bay.state(0), Final);
    let says = bay.say(GoTo(6));
    let Some(Say::Question(Question::GoTo { between, .. })) = says.first() else { panic!("{says:?}") };
    assert_eq!(between[..], [Between::Lock(G)]);
}

#[test]
fn a_whole_cycle_in_one_step_is_done_again_to_its_lock() {
    let nut = procedure::Fastener { lock: Some("tab".into()), ..group("nut", &["left"], vec![torque("40 N·m")]) };
    let deeds = [Deed::Unlock, Deed::Slacken, Deed::HandStart, Deed::Tighten(None), Deed::Lock];
    let cycle = step(deeds.map(|deed| fasten(0, &[0], deed)).into());
    let mut bay = Bay::new(vec![nut], vec![cycle, step(Vec::new())]);
    bay.all([Done, Done, Done]);
    assert_eq!((bay.state(0), bay.job.ledger().step(0)), (Locked, StepState::Done));
    bay.all([GoTo(2), GoTo(1), Done, Yes]);
    assert_eq!((bay.state(0), bay.pending(), open(&bay)), (HandStarted, Some((0, 0)), vec![HandStarted]));
    bay.all([Done]);
    assert_eq!((bay.state(0), bay.job.ledger().step(0)), (Final, StepState::Open), "and not without its lock");
    bay.all([Done]);
    assert_eq!((bay.state(0), bay.job.ledger().step(0)), (Locked, StepState::Done));
}

/// A nut that is tightened and locked in one step.
fn locked_where_it_is_tightened() -> Bay {
    let nut = procedure::Fastener { lock: Some("pin".into()), ..group("nut", &["left"], vec![torque("40 N·m")]) };
    let steps = vec![
        step(vec![fasten(0, &[0], Deed::Unlock), fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        step(vec![fasten(0, &[0], Deed::Tighten(None)), fasten(0, &[0], Deed::Lock)]),
        step(Vec::new()),
    ];
    let mut bay = Bay::new(vec![nut], steps);
    bay.say(Done);
    bay
}

#[test]
fn who_only_goes_on_has_not_fitted_what_locks_it() {
    let mut bay = locked_where_it_is_tightened();
    let says = bay.say(Done);
    assert!(matches!(says[..], [Say::GroupDone { state: Final, .. }, Say::Lock { group: G }]), "{says:?}");
    assert_eq!(refused(&bay.say(Command::Next)), Some(&Refusal::NotLocked { group: G }));
    assert_eq!((bay.state(0), bay.job.position(), open(&bay)), (Final, 1, vec![Final]));
    assert!(matches!(bay.say(Command::Ask(Ask::ToDo))[..], [Say::Lock { group: G }]));
    bay.say(Done);
    assert_eq!((bay.state(0), bay.job.position(), open(&bay)), (Locked, 2, vec![]));
}

#[test]
fn to_version_0_2_it_had() {
    let mut bay = locked_where_it_is_tightened();
    bay.job.follow(Edition::Second);
    bay.all([Done, Command::Next]);
    assert_eq!((bay.state(0), bay.job.position()), (Locked, 2));
}

#[test]
fn the_last_stage_claimed_twice_fits_no_lock() {
    let mut bay = locked_where_it_is_tightened();
    bay.announced();
    assert!(bay.hear(Done, bay.now + 2_000).recorded);
    let again = bay.hear(Done, bay.now + 300);
    assert!(!again.recorded && again.says.contains(&Say::Lock { group: G }), "{again:?}");
    assert_eq!(bay.state(0), Final);
}
