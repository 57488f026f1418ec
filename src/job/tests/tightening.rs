//! Tightening programmes: their order, what is said to be pending, readings.

use super::*;
use Command::{Done, Next, No, Yes};
use ItemState::{AtStage, Final, HandStarted, InDoubt};

fn pivot() -> Vec<StageKind> {
    vec![torque("70 N·m"), angle("90 deg")]
}

/// Says "done" until nothing is pending, and notes what was pending each time.
fn order(bay: &mut Bay) -> Vec<(usize, usize)> {
    let mut order = Vec::new();
    while let Some(pending) = bay.pending() {
        order.push(pending);
        bay.say(Done);
    }
    order
}

#[test]
fn one_at_a_time_goes_through_all_stages_of_a_fastener_first() {
    let mut bay = tightening(|_| (), &["front", "rear"], pivot());
    assert_eq!(order(&mut bay), [(0, 0), (0, 1), (1, 0), (1, 1)]);
    assert_eq!(bay.states(), [Final, Final]);
}

#[test]
fn stage_by_stage_goes_through_all_fasteners_first_in_their_order() {
    let mut bay = tightening(
        |b| b.runs = Runs::StageByStage,
        &["a", "b", "c"],
        vec![torque("30 N·m"), back_off("180 deg"), torque("45 N·m")],
    );
    let stages = |k| [(0, k), (1, k), (2, k)];
    assert_eq!(order(&mut bay), [stages(0), stages(1), stages(2)].concat());
}

#[test]
fn a_slackening_between_passes_is_a_stage_and_the_programme_goes_on() {
    let stages = vec![torque("40 N·m"), StageKind::Slacken, torque("20 N·m"), angle("90 deg")];
    let mut bay = tightening(|b| b.runs = Runs::StageByStage, &["a", "b"], stages);
    let order = order(&mut bay);
    assert_eq!(order.len(), 8);
    assert_eq!(order[2..4], [(0, 1), (1, 1)]);
    assert_eq!(bay.states(), [Final, Final]);
}

#[test]
fn two_angle_stages_stay_two() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("20 N·m"), angle("60 deg"), angle("30 deg")]);
    bay.all([Done, Done]);
    let pending = bay.job.pending().unwrap();
    assert_eq!((pending.stage, pending.kind), (2, Some(angle("30 deg"))));
    assert_eq!(bay.state(0), AtStage(2));
}

#[test]
fn a_group_is_tightened_in_parts_by_several_steps() {
    let bolts = group("bolt", &["a", "b"], pivot());
    let steps = vec![
        step(vec![fasten(0, &[0, 1], Deed::Remove), fasten(0, &[0, 1], Deed::HandStart)]),
        step(vec![fasten(0, &[0, 1], Deed::Tighten(Some(1)))]),
        step(vec![fasten(0, &[1], Deed::Tighten(None))]),
        step(vec![fasten(0, &[0, 1], Deed::Tighten(None))]),
    ];
    let mut bay = Bay::new(vec![bolts], steps);
    bay.say(Done);
    assert_eq!(order(&mut bay), [(0, 0), (1, 0)]);
    bay.say(Next);
    assert_eq!(order(&mut bay), [(1, 1)]);
    assert_eq!(bay.states(), [AtStage(1), Final]);
    bay.say(Next);
    assert_eq!(order(&mut bay), [(0, 1)]);
}

#[test]
fn next_on_unfinished_tightening_is_refused_with_what_is_missing() {
    let mut bay = tightening(|_| (), &["front", "rear"], pivot());
    bay.say(Done);
    let says = bay.say(Next);
    let Some(Refusal::Unfinished { items: 2, stages: 3, pending }) = refused(&says) else { panic!("{says:?}") };
    assert_eq!((pending.item, pending.stage), (0, 1));
    assert_eq!(bay.job.position(), 1);
}

#[test]
fn a_group_without_a_published_value_is_one_act() {
    let mut bay =
        tightening(|b| b.finish = procedure::Finish::NoValue { instead: "By feel.".into() }, &["a", "b"], Vec::new());
    assert_eq!(bay.job.pending().unwrap().kind, None);
    assert!(matches!(bay.read("12")[..], [Say::Refused(Refusal::NoReadingAwaited)]));
    assert_eq!(order(&mut bay), [(0, 0), (1, 0)]);
    assert_eq!(bay.states(), [Final, Final]);
}

#[test]
fn a_stage_waits_for_its_state_of_the_vehicle() {
    let mut bolts = group("bolt", &["only"], pivot());
    if let procedure::Finish::Stages(stages) = &mut bolts.finish {
        stages[1].needs = Some(ConditionIx(0));
    }
    let steps = vec![
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        step(vec![fasten(0, &[0], Deed::Tighten(None))]),
        step(vec![Act::Reach(ConditionIx(0))]),
        step(vec![fasten(0, &[0], Deed::Tighten(None))]),
    ];
    let mut bay = Bay::new(vec![bolts], steps);
    bay.all([Done, Done]);
    assert_eq!(refused(&bay.say(Done)), Some(&Refusal::NotInState(ConditionIx(0))));
    assert_eq!(refused(&bay.read("90")), Some(&Refusal::NotInState(ConditionIx(0))), "a reading is no way round it");
    bay.all([Command::Skip, Yes, Done]);
    assert!(!bay.job.ledger().item(G, 0).suspect, "what was refused was not turned");
    bay.say(Done);
    assert_eq!(bay.states(), [Final]);
}

#[test]
fn a_state_that_no_step_leads_to_any_more_is_asked_about() {
    let steps = vec![
        step(vec![Act::Reach(ConditionIx(0))]),
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        Step { needs: Some(ConditionIx(0)), ..step(vec![fasten(0, &[0], Deed::Tighten(None))]) },
        step(vec![Act::Leave(ConditionIx(0))]),
    ];
    let mut bay = Bay::new(vec![group("bolt", &["only"], vec![torque("70 N·m")])], steps);
    bay.all([Done, Done, Done, Next, Done]);
    assert!(!bay.job.ledger().is_in(ConditionIx(0)));
    // Broken after all: the step is open again, and the vehicle has left the state it needs.
    bay.all([Command::GoTo(3), Command::Damaged(Damage::Broken), Yes]);
    let says = bay.say(Done);
    assert!(matches!(says[..], [Say::Question(Question::State(ConditionIx(0)))]), "{says:?}");
    let says = bay.say(Yes);
    assert!(says.contains(&Say::OpenAgain { steps: vec![3] }), "it must be left again: {says:?}");
    bay.all([Done, Done]);
    assert_eq!(bay.states(), [Final]);
}

#[test]
fn a_reading_inside_the_window_is_the_stage_done() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("55..70 N·m"), angle("90 deg")]);
    let says = bay.read("70");
    assert!(matches!(says[0], Say::ReadingTaken { verdict: Verdict::Within, .. }), "{says:?}");
    assert_eq!(bay.state(0), AtStage(1));
    assert_eq!(bay.job.ledger().item(G, 0).readings.len(), 1);
}

#[test]
fn a_reading_in_another_unit_is_compared_as_it_was_read() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("70 N·m")]);
    let pound_foot = Some(Unit::Torque(TorqueUnit::PoundForceFoot));
    // 70 N·m is 51.63 lbf·ft: on a wrench marked in whole pound-feet that is 52.
    bay.say(Command::Reading(Reading { amount: 52.into(), unit: pound_foot }));
    assert_eq!(bay.state(0), Final);
}

#[test]
fn a_reading_of_another_kind_is_refused() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("70 N·m")]);
    let millimetre = Some(Unit::Length(LengthUnit::Millimetre));
    let says = bay.say(Command::Reading(Reading { amount: 70.into(), unit: millimetre }));
    assert!(matches!(refused(&says), Some(Refusal::WrongKind { .. })));
}

#[test]
fn short_of_a_torque_goes_on_and_the_stage_stays() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("70 N·m")]);
    let says = bay.read("62");
    assert!(matches!(says[0], Say::ReadingTaken { verdict: Verdict::Under, .. }), "{says:?}");
    assert_eq!((bay.state(0), bay.pending()), (HandStarted, Some((0, 0))));
    bay.read("70");
    assert_eq!(bay.state(0), Final);
}

#[test]
fn a_reading_far_off_is_asked_back_and_a_new_number_is_a_correction() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("70 N·m")]);
    let says = bay.read("17");
    assert!(matches!(says[..], [Say::Question(Question::Reading { far: true, verdict: Verdict::Under, .. })]));
    assert!(bay.job.ledger().item(G, 0).readings.is_empty());
    bay.read("70");
    assert_eq!((bay.state(0), bay.job.question()), (Final, None));
}

#[test]
fn over_is_asked_back_and_then_the_rule_of_the_fastener_holds() {
    for (rule, remedy) in [(OverRule::Restart, Remedy::Restart), (OverRule::Renew, Remedy::Renew)] {
        let mut bay = tightening(|b| b.over = rule, &["only"], vec![torque("70 N·m"), angle("90 deg")]);
        let says = bay.read("92");
        assert!(matches!(says[..], [Say::Question(Question::Reading { verdict: Verdict::Over, far: false, .. })]));
        assert!(asks_remedy(&bay.say(Yes), remedy));
        assert!(matches!(refused(&bay.say(Next)), Some(Refusal::RemedyFirst { .. })));
        bay.say(Done);
        assert_eq!((bay.state(0), bay.pending()), (HandStarted, Some((0, 0))));
        let item = bay.job.ledger().item(G, 0);
        assert_eq!((item.new, item.run), (rule == OverRule::Renew, 2));
    }
}

#[test]
fn over_is_not_forgotten_by_taking_the_fastener_out() {
    let steps = vec![
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        step(vec![fasten(0, &[0], Deed::Tighten(None))]),
        step(vec![fasten(0, &[0], Deed::Slacken)]),
        step(vec![fasten(0, &[0], Deed::HandStart)]),
    ];
    let mut bolts = group("bolt", &["only"], vec![torque("70 N·m")]);
    bolts.over = OverRule::Renew;
    let mut bay = Bay::new(vec![bolts], steps);
    bay.say(Done);
    bay.read("92");
    bay.all([Yes, Command::Skip, Yes, Done, Done]);
    assert_eq!(bay.state(0), HandStarted);
    assert!(bay.job.ledger().item(G, 0).new, "its rule asks for a new one");
}

#[test]
fn an_angle_that_fell_short_is_confirmed_and_then_only_the_rest_is_asked_for() {
    let mut bay = tightening(|_| (), &["only"], pivot());
    bay.say(Done);
    let says = bay.read("50");
    assert!(matches!(says[..], [Say::Question(Question::Reading { verdict: Verdict::Under, .. })]), "{says:?}");
    bay.say(Yes);
    assert_eq!(bay.job.pending().unwrap().turned.unwrap().to_string(), "50°");
    assert_eq!(bay.state(0), AtStage(1));
    bay.read("40");
    assert_eq!(bay.state(0), Final, "the rest was asked for and read");
}

#[test]
fn a_second_number_that_can_be_meant_two_ways_leaves_doubt() {
    for (number, state) in [("90", Final), ("60", InDoubt), ("20", InDoubt)] {
        let mut bay = tightening(|_| (), &["only"], pivot());
        bay.say(Done);
        bay.read("50");
        bay.say(Yes);
        bay.read(number);
        bay.say(Yes);
        assert_eq!(bay.state(0), state, "{number}");
    }
}

#[test]
fn what_is_said_follows_on_what_was_said_before() {
    let mut bay = tightening(|b| b.runs = Runs::StageByStage, &["a", "b"], pivot());
    let mut follows = |command| {
        bay.say(command).iter().find_map(|s| match s {
            Say::Pending(p) => Some(p.follows),
            _ => None,
        })
    };
    assert_eq!(follows(Done), Some(Follows::SameStage));
    assert_eq!(follows(Done), Some(Follows::SameGroup));
    assert_eq!(follows(Command::GoTo(2)), None, "asked about first");
    assert_eq!(follows(Command::NotBegun), Some(Follows::Nothing));
}

#[test]
fn left_counts_items_and_stages() {
    let mut bay = tightening(|_| (), &["front", "rear"], pivot());
    assert_eq!(bay.job.left(), (2, 4));
    bay.all([Done, Done]);
    assert_eq!(bay.job.left(), (1, 2));
    bay.all([Done, Command::NotSure]);
    assert_eq!(bay.job.left(), (1, 2), "all of it is before the one in doubt");
    assert_eq!(bay.say(No), [Say::Refused(Refusal::NothingAsked)]);
}
