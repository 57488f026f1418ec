//! Steps done once more, and what becomes of the things in them.

use super::*;
use Command::{Done, GoTo, Next, No, Undo, Yes};

/// A nipple that is opened and started by hand again in one step, tightened in the next.
fn nipple(single_use: bool) -> Bay {
    let mut nipple = group("nipple", &["left"], vec![torque("8 N·m")]);
    nipple.single_use = single_use;
    let steps = vec![
        step(vec![fasten(0, &[0], Deed::Slacken)]),
        step(vec![fasten(0, &[0], Deed::HandStart)]),
        step(vec![fasten(0, &[0], Deed::Tighten(None))]),
        step(Vec::new()),
    ];
    let mut bay = Bay::new(vec![nipple], steps);
    bay.all([Done, Done, Done, Next]);
    assert_eq!((bay.state(0), bay.job.position()), (ItemState::Final, 3));
    bay
}

#[test]
fn what_was_tight_and_is_opened_again_is_open_and_so_is_the_step_that_tightens_it() {
    let mut bay = nipple(false);
    let before = bay.job.ledger().clone();
    bay.say(GoTo(1));
    assert_eq!(bay.say(Done), [Say::Question(Question::Again { step: 0 })]);
    assert_eq!(*bay.job.ledger(), before, "asked, not taken");
    let says = bay.say(Yes);
    assert_eq!(says[0], Say::OpenAgain { steps: vec![2] });
    assert_eq!((bay.state(0), bay.job.position()), (ItemState::Slackened, 1));
    let open = bay.job.open_points(4);
    let named = Open::Fasteners { group: FastenerIx(0), items: vec![0], state: ItemState::Slackened, over: vec![] };
    assert!(open.contains(&named) && open.contains(&Open::NotDone(vec![2, 3])), "{open:?}");
    // Its programme begins at its beginning.
    bay.all([Done, Yes, Done]);
    assert_eq!((bay.state(0), bay.job.ledger().item(G, 0).run), (ItemState::Final, 2));
    assert_eq!(bay.job.open_points(4), [Open::NotDone(vec![3])]);
}

#[test]
fn undo_takes_the_second_time_back_as_one() {
    let mut bay = nipple(false);
    bay.say(GoTo(1));
    let before = bay.job.ledger().clone();
    bay.all([Done, Yes]);
    assert_eq!(bay.say(Undo), [Say::Question(Question::Undo(Fact::Again(0)))]);
    bay.say(Yes);
    assert_eq!((bay.job.ledger(), bay.job.position()), (&before, 0));
}

#[test]
fn done_said_twice_on_a_step_that_is_done_opens_nothing() {
    let mut bay = nipple(false);
    bay.say(GoTo(1));
    let before = bay.job.ledger().clone();
    for again in [Done, Done, Next, No] {
        bay.say(again);
        assert_eq!((bay.job.ledger(), bay.job.position()), (&before, 0));
    }
    bay.say(Next);
    assert_eq!((bay.job.ledger(), bay.job.position(), bay.job.question()), (&before, 1, None), "it only goes on");
}

#[test]
fn done_after_the_last_stage_of_a_step_goes_on() {
    let acts =
        vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart), fasten(0, &[0], Deed::Tighten(None))];
    let mut bay = Bay::new(vec![group("plug", &["only"], vec![torque("30 N·m")])], vec![step(acts), step(Vec::new())]);
    bay.all([Done, Done]);
    assert_eq!((bay.state(0), bay.job.ledger().step(0)), (ItemState::Final, StepState::Done));
    bay.say(Done);
    assert_eq!((bay.job.position(), bay.job.question()), (1, None), "nobody came back to it");
    assert_eq!(bay.all([Command::Back, Done]), [Say::Question(Question::Again { step: 0 })]);
    bay.all([Yes, Done, Done]);
    assert_eq!((bay.state(0), bay.job.position()), (ItemState::Final, 1));
}

#[test]
fn what_is_tight_is_not_started_by_hand_unless_it_was_opened() {
    let mut bay = nipple(false);
    bay.say(GoTo(2));
    let says = bay.say(Done);
    let Some(Refusal::Unlawful { state: ThingState::Item(ItemState::Final), .. }) = refused(&says) else {
        panic!("{says:?}")
    };
    assert_eq!(bay.state(0), ItemState::Final);
    bay.say(Next);
    assert_eq!(bay.job.position(), 2);
    bay.say(Done);
    assert_eq!((bay.state(0), bay.job.position()), (ItemState::Final, 3), "no stage is done twice");
}

#[test]
fn done_again_where_nothing_would_change_only_goes_on() {
    let steps = vec![
        step(vec![Act::Place(SupportIx(0)), Act::PutOn(ComponentIx(0)), Act::Clean("the face".into())]),
        step(Vec::new()),
    ];
    let mut bay =
        Bay::new(Vec::new(), vec![step(vec![Act::TakeOff(ComponentIx(0))])].into_iter().chain(steps).collect());
    bay.all([Done, Done, Command::Back, Done]);
    assert_eq!((bay.job.position(), bay.job.question()), (2, None));
}

#[test]
fn hold_point_wait_and_measurement_come_again_with_the_step() {
    let again = Step {
        hold: Some("Does it rest?".into()),
        wait_minutes: Some(10),
        ..step(vec![Act::TakeOff(ComponentIx(0)), Act::PutOn(ComponentIx(0)), measure("2 mm", "3 mm")])
    };
    let mut bay = Bay::new(Vec::new(), vec![again, step(Vec::new())]);
    let once = |bay: &mut Bay| {
        bay.read("2.5");
        assert!(bay.job.next_due().is_some());
        bay.now += 10 * MINUTE;
        assert_eq!(bay.say(Done), [Say::Question(Question::Hold { step: 0 })]);
        bay.say(Yes);
        assert_eq!((bay.job.position(), bay.job.next_due()), (1, None));
    };
    bay.say(Done);
    once(&mut bay);
    let before = bay.job.ledger().clone();
    bay.all([Command::Back, Done, Yes]);
    assert_eq!(bay.job.ledger().step(0), StepState::Open);
    assert_eq!(bay.job.ledger().measured(0, 0), None);
    once(&mut bay);
    bay.all([Undo, Yes, Undo, Yes, Undo, Yes, Undo, Yes]);
    assert_eq!(*bay.job.ledger(), before);
}

#[test]
fn a_later_step_that_opens_a_thing_again_leaves_it_open() {
    let mut bay = Bay::new(
        vec![group("nipple", &["left"], vec![torque("8 N·m")])],
        vec![
            step(vec![fasten(0, &[0], Deed::Slacken), fasten(0, &[0], Deed::HandStart)]),
            step(vec![fasten(0, &[0], Deed::Tighten(None))]),
            step(vec![fasten(0, &[0], Deed::Slacken)]),
        ],
    );
    bay.all([Done, Done, Next, Done]);
    assert_eq!(bay.state(0), ItemState::Slackened);
    assert!(matches!(bay.job.open_points(3)[..], [Open::Fasteners { state: ItemState::Slackened, .. }]));
}

#[test]
fn by_the_rules_of_the_first_version_done_on_a_done_step_only_goes_on() {
    let mut bay = nipple(false);
    bay.job.follow(Edition::First);
    let before = bay.job.ledger().clone();
    bay.all([GoTo(1), Done]);
    assert_eq!((bay.job.ledger(), bay.job.position(), bay.job.question()), (&before, 1, None));
}

#[test]
fn every_new_fastener_that_was_used_counts() {
    let mut bay =
        tightening(|bolt| bolt.single_use = true, &["left", "right"], vec![torque("70 N·m"), angle("90 deg")]);
    let fitted = |bay: &Bay| bay.job.ledger().items(G).iter().map(|i| i.fitted).collect::<Vec<_>>();
    assert_eq!(fitted(&bay), [1, 1], "single-use, and taken out");
    bay.all([Command::Damaged(Damage::Broken), Yes, Done]);
    assert_eq!(fitted(&bay), [2, 1]);
    bay.all([Done, Command::NotSure, Done]);
    assert_eq!(fitted(&bay), [3, 1], "a single-use bolt in doubt is renewed too");
    bay.all([Undo, Yes]);
    assert_eq!(fitted(&bay), [2, 1]);
}

#[test]
fn a_fastener_that_is_slackened_and_started_again_is_no_new_one() {
    let mut bay = nipple(false);
    bay.all([GoTo(1), Done, Yes, Done, Yes]);
    assert_eq!((bay.job.ledger().item(G, 0).fitted, bay.job.ledger().item(G, 0).new), (0, false));
}

#[test]
fn a_step_that_brings_the_vehicle_where_it_needs_it_does_not_wait_for_it() {
    let needs = |acts| Step { needs: Some(ConditionIx(0)), ..step(acts) };
    let steps = vec![
        needs(vec![Act::Reach(ConditionIx(0)), measure("2 mm", "3 mm")]),
        Step { hold: Some("Is it down?".into()), ..needs(vec![Act::Leave(ConditionIx(0))]) },
    ];
    let mut bay = Bay::new(Vec::new(), steps);
    assert_eq!(refused(&bay.say(Done)), None);
    assert_eq!(refused(&bay.read("2.5")), None);
    bay.all([Next, Done, No]);
    assert_eq!(
        bay.say(Done),
        [Say::Question(Question::Hold { step: 1 })],
        "what it was brought out of is not asked for"
    );
    bay.say(Yes);
    assert_eq!(bay.job.ledger().step(1), StepState::Done);
    assert!(!bay.job.ledger().is_in(ConditionIx(0)));
}

#[test]
fn what_a_step_tightens_waits_for_its_state_even_if_the_step_reaches_it_later() {
    let acts = vec![fasten(0, &[0], Deed::Tighten(None)), Act::Reach(ConditionIx(0))];
    let steps = vec![
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        Step { needs: Some(ConditionIx(0)), ..step(acts) },
    ];
    let mut bay = Bay::new(vec![group("bolt", &["only"], vec![torque("70 N·m")])], steps);
    bay.say(Done);
    assert_eq!(bay.job.pending().and_then(|p| p.waits), Some(ConditionIx(0)));
    assert_eq!(bay.say(Done), [Say::Question(Question::State(ConditionIx(0)))], "only the user can say");
    bay.all([Yes, Done, Done]);
    assert_eq!((bay.state(0), bay.job.ledger().step(1)), (ItemState::Final, StepState::Done));
}

/// A bolt that is taken out, started by hand and tightened, each in a step of its own, and all of it done.
fn bolt_and_all_done() -> Bay {
    let deeds = [Deed::Remove, Deed::HandStart, Deed::Tighten(None)];
    let steps = deeds.map(|deed| step(vec![fasten(0, &[0], deed)]));
    let mut bay = Bay::new(
        vec![group("bolt", &["left"], vec![torque("8 N·m")])],
        steps.into_iter().chain([step(Vec::new())]).collect(),
    );
    bay.all([Done, Done, Done, Next]);
    bay
}

#[test]
fn what_is_out_again_is_started_by_hand_again_where_the_book_does_so() {
    let mut bay = bolt_and_all_done();
    bay.all([GoTo(1), Done]);
    assert_eq!(bay.say(Yes)[0], Say::OpenAgain { steps: vec![1, 2] });
    assert_eq!((bay.state(0), bay.job.position()), (ItemState::Out, 1));
    bay.all([Done, Done]);
    assert_eq!((bay.state(0), bay.job.open_points(4)), (ItemState::Final, vec![Open::NotDone(vec![3])]));
}

#[test]
fn to_version_0_2_the_tightening_saw_to_it() {
    let mut bay = bolt_and_all_done();
    bay.job.follow(Edition::Second);
    bay.all([GoTo(1), Done]);
    assert_eq!(bay.say(Yes)[0], Say::OpenAgain { steps: vec![2] });
    bay.job.follow(Edition::NOW);
    let says = bay.all([Next]);
    assert!(asks_remedy(&says, Remedy::Start), "{says:?}");
    bay.all([Done, Done]);
    assert_eq!(bay.state(0), ItemState::Final);
}
