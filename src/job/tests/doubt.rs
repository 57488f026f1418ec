//! Interruptions: an angle stage that was left half-way, and what ends the doubt.

use super::*;
use Command::{Done, Finished, NotBegun, NotSure, Resume, Yes};
use ItemState::{AtStage, Final, HandStarted, InDoubt};

/// One bolt with its torque applied and its angle pending, in step 1.
fn before_angle(single_use: bool) -> Bay {
    let mut bay = tightening(|b| b.single_use = single_use, &["only"], vec![torque("70 N·m"), angle("90 deg")]);
    bay.say(Done);
    assert_eq!(bay.state(0), AtStage(1));
    bay
}

/// Every way to leave a step with its angle pending, and to come back to it.
fn interruptions() -> Vec<Vec<Command>> {
    vec![
        vec![Resume],
        vec![Command::Pause, Resume],
        vec![Command::Back, Command::Next],
        vec![Command::GoTo(3), Yes, Command::GoTo(2)],
        vec![Command::GoTo(2)],
        vec![Command::Skip, Yes, Command::Back],
        vec![Command::Open, Command::GoTo(2)],
    ]
}

#[test]
fn an_interrupted_angle_stage_is_asked_about() {
    for interruption in interruptions() {
        let mut bay = before_angle(false);
        let says = bay.all(interruption.clone());
        assert!(asks_angle(&says), "{interruption:?}: {says:?}");
        assert!(matches!(refused(&bay.say(Done)), Some(Refusal::AnswerFirst(_))));
        assert_eq!(bay.state(0), AtStage(1), "nothing is claimed before the answer");
    }
}

#[test]
fn an_interrupted_back_off_is_asked_about_and_a_torque_is_not() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("30 N·m"), back_off("90 deg"), torque("45 N·m")]);
    assert!(!asks_angle(&bay.say(Resume)));
    bay.say(Done);
    assert!(asks_angle(&bay.say(Resume)));
    bay.all([Finished]);
    assert!(!asks_angle(&bay.say(Resume)));
}

#[test]
fn not_begun_makes_it_pending_again() {
    let mut bay = before_angle(false);
    bay.all([Resume, NotBegun]);
    assert_eq!((bay.state(0), bay.pending(), bay.job.question()), (AtStage(1), Some((0, 1)), None));
    assert!(!bay.job.ledger().item(G, 0).suspect);
}

#[test]
fn finished_records_it() {
    let mut bay = before_angle(false);
    bay.all([Resume, Finished]);
    assert_eq!(bay.state(0), Final);
}

#[test]
fn not_sure_means_doubt_and_the_rule_of_the_fastener() {
    for (single_use, remedy) in [(false, Remedy::Restart), (true, Remedy::Renew)] {
        let mut bay = before_angle(single_use);
        let run = bay.job.ledger().item(G, 0).run;
        assert!(asks_remedy(&bay.all([Resume, NotSure]), remedy));
        assert_eq!(bay.state(0), InDoubt);
        bay.say(Done);
        let item = bay.job.ledger().item(G, 0);
        assert_eq!((item.state, item.run), (HandStarted, run + 1), "the programme begins again");
        assert_eq!(bay.pending(), Some((0, 0)));
    }
}

#[test]
fn not_sure_is_taken_without_being_asked() {
    let mut bay = before_angle(false);
    bay.say(NotSure);
    assert_eq!(bay.state(0), InDoubt);
}

#[test]
fn not_sure_about_a_torque_only_repeats_it() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("70 N·m")]);
    let says = bay.say(NotSure);
    assert!(matches!(says[..], [Say::Pending(_)]), "{says:?}");
    assert_eq!(bay.state(0), HandStarted);
}

#[test]
fn doubt_outlives_moving_about_and_coming_back() {
    let mut bay = before_angle(true);
    bay.all([Resume, NotSure, Command::Back, Command::Pause, Resume, Command::GoTo(2)]);
    assert_eq!(bay.state(0), InDoubt);
    assert!(matches!(refused(&bay.say(Command::Next)), Some(Refusal::RemedyFirst { .. })));
}

#[test]
fn doubt_is_open_at_the_end() {
    let mut bay = before_angle(true);
    bay.all([Resume, NotSure]);
    let says = bay.say(Command::Finish);
    let [Say::Question(Question::Finish { open })] = &says[..] else { panic!("{says:?}") };
    assert_eq!(open[..], [Open::Fasteners { group: G, items: vec![0], state: InDoubt, over: vec![] }]);
}

#[test]
fn taking_a_doubtful_single_use_fastener_out_asks_for_a_new_one() {
    let steps = vec![
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        step(vec![fasten(0, &[0], Deed::Tighten(None))]),
        step(vec![fasten(0, &[0], Deed::Slacken)]),
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
    ];
    let mut bolts = group("bolt", &["only"], vec![torque("70 N·m"), angle("90 deg")]);
    bolts.single_use = true;
    let mut bay = Bay::new(vec![bolts], steps);
    bay.all([Done, Done, NotSure, Command::GoTo(3), Yes]);
    assert!(matches!(refused(&bay.say(Done)), Some(Refusal::Unlawful { .. })), "slackened, it would lose its doubt");
    bay.all([Command::GoTo(4), Yes, Done]);
    let item = bay.job.ledger().item(G, 0);
    assert_eq!((item.state, item.new), (HandStarted, true));
}

#[test]
fn the_question_stands_until_it_is_answered_or_left() {
    let mut bay = before_angle(false);
    bay.say(Resume);
    assert!(bay.job.expects().angle && !bay.job.expects().yes_no);
    for other in [Done, Command::Next, Yes, Command::Mark, Command::Skip, Command::Finish] {
        assert!(matches!(refused(&bay.say(other)), Some(Refusal::AnswerFirst(_))));
    }
    bay.say(Command::Back);
    assert_eq!(bay.job.question(), None);
    assert!(asks_angle(&bay.say(Command::Next)), "left is not answered");
}

#[test]
fn a_bolt_that_broke_in_the_interrupted_stage_can_be_said_to_be_broken() {
    let mut bay = before_angle(false);
    bay.all([Resume, Command::Damaged(Damage::Broken), Yes]);
    assert_eq!(bay.state(0), ItemState::Scrapped);
}

#[test]
fn what_was_tightened_too_far_is_an_open_point_of_its_own() {
    let mut bay = tightening(|_| (), &["left", "right"], vec![torque("70 N·m"), angle("90 deg")]);
    bay.read("90");
    bay.say(Yes);
    let read = Some("90 N·m".parse().unwrap());
    let far = |remedy| vec![TooFar { item: 0, read, remedy }];
    let point = |items, over| Open::Fasteners { group: G, items, state: HandStarted, over };
    let open = |bay: &Bay| bay.job.open_points(0);
    assert_eq!(open(&bay), [point(vec![0], far(Some(Remedy::Restart))), point(vec![1], vec![])]);
    // To version 0.2 it was one point; which of them it was, is told all the same.
    bay.job.follow(Edition::Second);
    assert_eq!(open(&bay), [point(vec![0, 1], far(Some(Remedy::Restart)))]);
}
