//! Undo: the last fact, exactly, more than once, and never an angle that was turned.

use super::*;
use Command::{Done, No, NotBegun, NotSure, Resume, Undo, Yes};
use ItemState::{AtStage, Final, HandStarted, InDoubt};

fn pivot() -> Vec<StageKind> {
    vec![torque("70 N·m"), angle("90 deg")]
}

#[test]
fn undo_asks_and_no_leaves_everything() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("70 N·m")]);
    bay.say(Done);
    let before = bay.job.ledger().clone();
    let says = bay.say(Undo);
    assert!(matches!(says[..], [Say::Question(Question::Undo(Fact::Stage { item: 0, stage: 0, .. }))]), "{says:?}");
    bay.say(No);
    assert_eq!(*bay.job.ledger(), before);
}

#[test]
fn undo_takes_back_fact_after_fact_to_the_start() {
    let stages = vec![torque("30 N·m"), torque("70 N·m")];
    let mut bay = tightening(|b| b.runs = Runs::StageByStage, &["a", "b"], stages);
    let mut ledgers = Vec::new();
    for _ in 0..4 {
        ledgers.push((bay.job.ledger().clone(), bay.job.position()));
        bay.say(Done);
    }
    assert_eq!(bay.states(), [Final, Final]);
    for (ledger, position) in ledgers.into_iter().rev() {
        bay.all([Undo, Yes]);
        assert_eq!((bay.job.ledger(), bay.job.position()), (&ledger, position));
    }
    bay.all([Undo, Yes]);
    assert_eq!(bay.states(), [ItemState::AsFound, ItemState::AsFound]);
    assert_eq!(refused(&bay.say(Undo)), Some(&Refusal::NothingToUndo));
    assert!(bay.job.facts().iter().all(|f| f.taken_back), "what was taken back stays in the record");
}

#[test]
fn an_angle_taken_back_is_in_doubt_and_no_word_ends_that() {
    let mut bay = tightening(|_| (), &["only"], pivot());
    bay.all([Done, Done]);
    bay.now += MINUTE;
    let says = bay.all([Undo, Yes]);
    assert!(says.iter().any(|s| matches!(s, Say::NowInDoubt(_))) && asks_remedy(&says, Remedy::Restart), "{says:?}");
    // Further back, past the torque and the start by hand: the turn stays in it.
    for _ in 0..2 {
        bay.all([Undo, Yes]);
        assert_eq!(bay.state(0), InDoubt);
    }
    assert_eq!(refused(&bay.say(Undo)), Some(&Refusal::NothingToUndo));
    // The rule of the fastener ends it, and begins a new run.
    bay.all([Command::GoTo(2), Yes, Done]);
    let item = bay.job.ledger().item(G, 0);
    assert_eq!((item.state, item.run, item.spent), (HandStarted, 2, false));
}

#[test]
fn a_reading_of_an_angle_taken_back_leaves_the_turn_in_doubt() {
    for reading in ["50", "120"] {
        let mut bay = tightening(|_| (), &["only"], pivot());
        bay.say(Done);
        bay.read(reading);
        bay.all([Yes, Undo, Yes]);
        assert_eq!(bay.state(0), InDoubt, "{reading}");
    }
}

#[test]
fn a_torque_reading_taken_back_is_simply_gone() {
    let mut bay = tightening(|_| (), &["only"], pivot());
    bay.read("62");
    bay.all([Undo, Yes]);
    assert!(bay.job.ledger().item(G, 0).readings.is_empty());
    assert_eq!(bay.pending(), Some((0, 0)));
}

#[test]
fn a_torque_taken_back_with_the_angle_announced_is_asked_about_when_the_angle_comes() {
    let mut bay = tightening(|_| (), &["only"], pivot());
    bay.all([Done, Undo, Yes]);
    assert_eq!((bay.state(0), bay.pending()), (HandStarted, Some((0, 0))));
    assert!(asks_angle(&bay.say(Done)));
}

#[test]
fn not_sure_taken_back_asks_again() {
    let mut bay = tightening(|_| (), &["only"], pivot());
    bay.all([Done, NotSure]);
    assert!(asks_angle(&bay.all([Undo, Yes])));
    assert_eq!(bay.state(0), AtStage(1));
}

#[test]
fn not_begun_taken_back_asks_again_and_undo_goes_on_from_there() {
    let mut bay = tightening(|_| (), &["only"], pivot());
    bay.all([Done, Resume, NotBegun]);
    assert!(asks_angle(&bay.all([Undo, Yes])));
    let says = bay.say(Undo);
    assert!(matches!(says[..], [Say::Question(Question::Undo(Fact::Stage { stage: 0, .. }))]), "{says:?}");
    bay.say(Yes);
    assert_eq!(bay.state(0), HandStarted);
    assert!(asks_angle(&bay.say(Done)));
}

#[test]
fn a_remedy_taken_back_is_due_again() {
    let mut bay = tightening(|_| (), &["only"], pivot());
    bay.all([Done, NotSure, Done]);
    assert!(asks_remedy(&bay.all([Undo, Yes]), Remedy::Restart));
    assert_eq!(bay.state(0), InDoubt);
}

#[test]
fn a_doubt_of_the_run_before_does_not_come_loose_under_a_turn_of_this_run() {
    let mut bay = tightening(|_| (), &["only"], pivot());
    // First run: not sure. Second run: turned, then everything is taken back one by one.
    bay.all([Done, NotSure, Done, Done, Done]);
    assert_eq!(bay.state(0), Final);
    while refused(&bay.say(Undo)).is_none() {
        bay.say(Yes);
        assert_eq!(bay.state(0), InDoubt);
    }
}

#[test]
fn a_step_and_its_last_acts_are_taken_back_together() {
    let stand = Act::Place(SupportIx(0));
    let steps = vec![
        Step { hold: Some("Does it stand?".into()), ..step(vec![stand, Act::TakeOff(ComponentIx(0))]) },
        step(Vec::new()),
    ];
    let mut bay = Bay::new(Vec::new(), steps);
    let fresh = bay.job.ledger().clone();
    assert!(matches!(bay.say(Done)[..], [Say::Question(Question::Hold { step: 0 })]));
    bay.say(Yes);
    assert_eq!(bay.job.position(), 1);
    bay.all([Undo, Yes]);
    assert_eq!((bay.job.position(), bay.job.ledger().step(0)), (0, StepState::Open));
    assert!(bay.job.ledger().placed(SupportIx(0)), "the acts were a fact of their own");
    bay.all([Undo, Yes]);
    assert_eq!(*bay.job.ledger(), fresh);
}

#[test]
fn the_clock_of_a_wait_is_taken_back_with_what_started_it() {
    let steps = vec![Step { wait_minutes: Some(10), ..step(vec![Act::Apply("sealant".into())]) }, step(Vec::new())];
    let mut bay = Bay::new(Vec::new(), steps);
    assert_eq!(bay.say(Done), [Say::TimerStarted { minutes: 10 }]);
    let first = bay.job.next_due();
    bay.now += 8 * MINUTE;
    bay.all([Undo, Yes]);
    assert_eq!(bay.job.next_due(), None);
    bay.say(Done);
    assert!(bay.job.next_due() > first, "it cures from now on");
    // Declared over before its time, and taken back: it rings after all.
    bay.all([Done, Yes]);
    assert_eq!((bay.job.position(), bay.job.next_due()), (1, None));
    bay.all([Undo, Yes]);
    assert!(bay.job.next_due().is_some());
}

#[test]
fn no_mark_slips_between_the_question_and_what_it_is_about() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("70 N·m")]);
    bay.all([Done, Undo, Command::Mark, Yes]);
    assert_eq!(bay.state(0), HandStarted);
}
