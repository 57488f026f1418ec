//! Broken, stripped, lost.

use super::*;
use Command::{Damaged, Done, No, Place, Yes};
use Damage::{Broken, Lost, Stripped};
use ItemState::{Final, HandStarted, Scrapped};

/// Two bolts taken out in step 0, started in step 1, tightened in step 2; a third of another group beside them.
fn strip() -> Bay {
    let steps = vec![
        step(vec![fasten(0, &[0, 1], Deed::Remove), fasten(1, &[0], Deed::Remove)]),
        step(vec![fasten(0, &[0, 1], Deed::HandStart)]),
        step(vec![fasten(0, &[0, 1], Deed::Tighten(None))]),
        step(Vec::new()),
    ];
    let bolts = group("bolt", &["front", "rear"], vec![torque("70 N·m"), angle("90 deg")]);
    Bay::new(vec![bolts, group("nut", &["front"], vec![torque("20 N·m")])], steps)
}

#[test]
fn the_fastener_pending_is_meant_and_it_is_confirmed() {
    let mut bay = tightening(|_| (), &["front", "rear"], vec![torque("70 N·m")]);
    let says = bay.say(Damaged(Stripped));
    assert!(matches!(says[..], [Say::Question(Question::Damaged { item: 0, damage: Stripped, .. })]), "{says:?}");
    bay.say(No);
    assert_eq!(bay.state(0), HandStarted);
    bay.say(Damaged(Stripped));
    assert!(asks_remedy(&bay.say(Yes), Remedy::Renew));
    assert_eq!(bay.state(0), Scrapped);
    bay.say(Done);
    let item = bay.job.ledger().item(G, 0);
    assert_eq!((item.state, item.new), (HandStarted, true));
}

#[test]
fn another_one_than_the_one_pending_is_named_by_its_place() {
    let mut bay = tightening(|_| (), &["front", "rear"], vec![torque("70 N·m")]);
    bay.say(Damaged(Broken));
    assert_eq!(bay.job.expects().places, ["front", "rear"]);
    bay.all([Place(1), Yes]);
    assert_eq!(bay.states(), [HandStarted, Scrapped]);
    assert!(bay.job.expects().places.is_empty());
}

#[test]
fn where_several_can_be_meant_it_is_asked_which() {
    let mut bay = strip();
    let says = bay.say(Damaged(Broken));
    assert!(matches!(&says[..], [Say::Question(Question::Which { choices, .. })] if choices.len() == 3), "{says:?}");
    assert_eq!(bay.job.expects().places, ["bolt front", "bolt rear", "nut front"]);
    assert!(matches!(refused(&bay.say(Yes)), Some(Refusal::AnswerFirst(_))), "yes names none");
    assert!(matches!(refused(&bay.say(Place(7))), Some(Refusal::AnswerFirst(_))));
    bay.say(Place(1));
    let says = bay.say(Yes);
    assert_eq!(says, [Say::Scrapped { group: G, item: 1 }], "the new one is due later");
    // It comes out all the same, and a new one is started by hand.
    bay.all([Done, Done]);
    assert_eq!(bay.states(), [HandStarted, HandStarted]);
    let new: Vec<bool> = bay.job.ledger().items(G).iter().map(|i| i.new).collect();
    assert_eq!(new, [false, true]);
}

#[test]
fn no_names_none() {
    let mut bay = strip();
    assert_eq!(bay.all([Damaged(Lost), No]), [Say::LeftAsItIs]);
    assert_eq!(refused(&bay.say(Place(0))), Some(&Refusal::NothingAsked));
}

#[test]
fn one_found_broken_after_it_was_tightened_opens_its_step_again() {
    let mut bay = strip();
    bay.all([Done, Done, Done, Done, Done, Done]);
    assert_eq!((bay.states(), bay.job.ledger().step(2)), (vec![Final, Final], StepState::Done));
    bay.all([Damaged(Broken), Place(0)]);
    let says = bay.say(Yes);
    assert_eq!(says[0], Say::OpenAgain { steps: vec![2] });
    assert!(asks_remedy(&says, Remedy::Renew));
    bay.all([Done, Done, Done]);
    assert_eq!((bay.states(), bay.job.ledger().step(2)), (vec![Final, Final], StepState::Done));
}

#[test]
fn in_a_step_without_fasteners_there_is_nothing_to_break() {
    let mut bay = strip();
    bay.go(4);
    assert_eq!(refused(&bay.say(Damaged(Broken))), Some(&Refusal::NothingPending));
}

#[test]
fn scrapped_taken_back_asks_how_far_its_angle_went() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("70 N·m"), angle("90 deg")]);
    bay.all([Done, Damaged(Broken), Yes]);
    assert!(asks_angle(&bay.all([Command::Undo, Yes])));
}

#[test]
fn help_and_answers_change_nothing() {
    let mut bay = strip();
    let before = bay.job.clone();
    for ask in [Ask::Value, Ask::LastValue, Ask::Size, Ask::Tool, Ask::Which, Ask::HowManyLeft, Ask::Cautions, Ask::Why]
    {
        bay.say(Command::Ask(ask));
    }
    for ask in [Ask::Source, Ask::Parts, Ask::Open, Ask::HowLong, Ask::InUnit(TorqueUnit::PoundForceFoot)] {
        bay.say(Command::Ask(ask));
    }
    bay.all([Command::Stuck, Command::WhereAmI]);
    assert_eq!(
        (bay.job.ledger(), bay.job.facts(), bay.job.last_change()),
        (before.ledger(), before.facts(), before.last_change())
    );
}
