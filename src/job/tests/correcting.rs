//! Putting a number right that was misheard.

use super::*;
use Command::{Correct, Done, No, Undo, Yes};
use ItemState::{AtStage, Final, HandStarted, InDoubt};

fn clamp() -> Bay {
    tightening(|_| (), &["front", "rear"], vec![torque("70 N·m"), angle("85..95 deg")])
}

fn reading(bay: &Bay, item: usize) -> Vec<String> {
    bay.job.ledger().item(G, item).readings.iter().map(|(stage, value)| format!("{stage}: {value}")).collect()
}

fn asks_which(says: &[Say]) -> bool {
    says.iter().any(|s| matches!(s, Say::Question(Question::Correct { value: None, .. })))
}

#[test]
fn a_number_that_lies_as_well_takes_the_place_of_the_other() {
    let mut bay = clamp();
    bay.say(Done);
    bay.read("92");
    assert_eq!((bay.state(0), bay.pending()), (Final, Some((1, 0))));
    assert!(asks_which(&bay.say(Correct)));
    let says = bay.read("90");
    assert!(matches!(says[..], [Say::Corrected { verdict: Verdict::Within, .. }]), "{says:?}");
    assert_eq!(reading(&bay, 0), ["1: 90°"]);
    // The job stands where it stood, and nothing is in doubt.
    assert_eq!((bay.state(0), bay.pending()), (Final, Some((1, 0))));
    let struck: Vec<bool> = bay.job.facts().iter().rev().take(2).map(|f| f.taken_back).collect();
    assert_eq!(struck, [false, true], "the record shows both");
    // Taking it back takes all of it back: the turn was made.
    bay.all([Undo, Yes]);
    assert_eq!(bay.state(0), InDoubt);
}

#[test]
fn a_torque_that_fell_short_after_all_is_pending_again() {
    let mut bay = clamp();
    bay.read("70");
    assert_eq!(bay.pending(), Some((0, 1)));
    bay.say(Correct);
    let says = bay.read("60");
    assert!(matches!(says[..], [Say::Question(Question::Correct { value: Some((_, Verdict::Under, false)), .. })]));
    assert_eq!(bay.pending(), Some((0, 1)), "nothing happens before the yes");
    bay.say(Yes);
    assert_eq!((bay.state(0), bay.pending()), (HandStarted, Some((0, 0))));
    assert_eq!(reading(&bay, 0), ["0: 60 N·m"]);
    // The turn was announced after it, so it may have been made: that is asked once it comes up again.
    assert!(asks_angle(&bay.read("70")));
}

#[test]
fn an_angle_that_fell_short_after_all_is_to_be_turned_by_the_rest() {
    let mut bay = clamp();
    bay.say(Done);
    bay.read("92");
    bay.say(Correct);
    bay.read("60");
    bay.say(Yes);
    assert_eq!((bay.state(0), bay.pending()), (AtStage(1), Some((0, 1))));
    let turned = bay.job.pending().unwrap().turned.unwrap();
    assert_eq!(turned.to_string(), "60°");
}

#[test]
fn a_no_leaves_the_number_as_it_is() {
    let mut bay = clamp();
    bay.say(Done);
    bay.read("92");
    bay.say(Correct);
    assert_eq!(bay.say(No), [Say::LeftAsItIs]);
    bay.say(Correct);
    assert!(matches!(
        bay.read("130")[..],
        [Say::Question(Question::Correct { value: Some((_, Verdict::Over, _)), .. })]
    ));
    // Another number instead.
    assert!(matches!(bay.read("91")[..], [Say::Corrected { .. }]));
    assert_eq!(reading(&bay, 0), ["1: 91°"]);
}

#[test]
fn only_the_last_number_can_be_put_right() {
    let mut bay = clamp();
    assert_eq!(bay.say(Correct), [Say::Refused(Refusal::NothingToCorrect)]);
    bay.say(Done);
    assert_eq!(bay.say(Correct), [Say::Refused(Refusal::NothingToCorrect)]);
    bay.read("92");
    bay.say(Command::Mark);
    assert_eq!(bay.say(Correct), [Say::Refused(Refusal::NothingToCorrect)]);
}

#[test]
fn a_rest_is_judged_as_a_rest() {
    let mut bay = clamp();
    bay.say(Done);
    bay.read("60");
    bay.say(Yes);
    bay.read("28");
    assert_eq!(bay.state(0), Final);
    bay.say(Correct);
    assert!(matches!(bay.read("30")[..], [Say::Corrected { verdict: Verdict::Within, .. }]));
    assert_eq!(reading(&bay, 0), ["1: 60°", "1: 30°"]);
}

#[test]
fn a_wait_that_began_by_it_has_not_begun_after_all() {
    let bolts = group("bolt", &["only"], vec![torque("70 N·m")]);
    let steps = vec![
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        Step { wait_minutes: Some(10), ..step(vec![fasten(0, &[0], Deed::Tighten(None))]) },
        step(Vec::new()),
    ];
    let mut bay = Bay::new(vec![bolts], steps);
    bay.say(Done);
    bay.read("70");
    assert!(bay.job.next_due().is_some());
    bay.say(Correct);
    bay.read("60");
    bay.say(Yes);
    assert_eq!(bay.pending(), Some((0, 0)));
    assert_eq!(bay.job.next_due(), None);
}
