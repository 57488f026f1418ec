//! One question at a time, and "yes" answers the one that was asked last. Going to a step past others that are not done.

use super::*;
use Command::{Correct, Done, Finish, GoTo, No, Resume, Skip, Undo, Yes};

fn asked(says: &[Say]) -> Option<&Question> {
    says.iter().rev().find_map(|say| match say {
        Say::Question(question) => Some(question),
        Say::Refused(Refusal::AnswerFirst(question)) => Some(question),
        _ => None,
    })
}

fn held() -> Bay {
    let hold = Step { hold: Some("Does the meter read 24 volts?".into()), ..step(Vec::new()) };
    let mut bay = Bay::new(Vec::new(), vec![step(Vec::new()), hold, step(Vec::new())]);
    bay.all([Done, Done]);
    assert!(matches!(bay.job.question(), Some(Question::Hold { step: 1 })));
    bay
}

#[test]
fn yes_after_skip_leaves_the_step_open_and_confirms_nothing() {
    let mut bay = held();
    assert_eq!(bay.say(Skip), [Say::Question(Question::Skip { step: 1 })]);
    bay.say(Yes);
    assert_eq!((bay.job.ledger().step(1), bay.job.position()), (StepState::Skipped, 2));
    assert!(!bay.job.ledger().held(1));
}

#[test]
fn whatever_asks_takes_the_place_of_the_question_that_stands() {
    for (command, new) in [
        (Skip, Question::Skip { step: 1 }),
        (GoTo(3), Question::GoTo { step: 2, not_done: vec![1], between: vec![Between::Hold(1)] }),
    ] {
        let mut bay = held();
        assert_eq!(bay.say(command.clone()), [Say::Question(new.clone())]);
        assert_eq!(bay.job.question(), Some(&new));
        bay.say(Yes);
        assert!(!bay.job.ledger().held(1), "{command:?}");
    }
    let mut bay = held();
    assert!(matches!(bay.say(Finish)[..], [Say::Question(Question::Finish { .. })]));
    // And the other way round: no "yes" meant for the skipping closes the job.
    bay.all([Skip, Yes]);
    assert_eq!((bay.job.closed(), bay.job.position()), (None, 2));
}

/// Nothing is recorded of what is asked about: "undo" takes that back, and no step before it.
#[test]
fn undo_said_to_a_question_is_about_what_is_asked() {
    let reading = |amount: &str| Command::Reading(Reading { amount: amount.parse().unwrap(), unit: None });
    let measuring = || {
        let steps = vec![step(Vec::new()), step(vec![measure("2 mm", "3 mm")]), step(Vec::new())];
        let mut bay = Bay::new(Vec::new(), steps);
        bay.say(Done);
        bay
    };
    for asks in [
        vec![reading("5")],
        vec![Command::Number { amount: "0.1".parse().unwrap(), unit: "mm".parse().unwrap(), own: None }],
        vec![Skip],
        vec![GoTo(3)],
        vec![Finish],
        vec![reading("5"), Yes, Skip],
        vec![reading("2.5"), Correct],
        vec![reading("2.5"), Correct, reading("5")],
    ] {
        let mut bay = measuring();
        bay.all(asks.clone());
        assert!(bay.job.question().is_some(), "{asks:?}");
        let (before, facts) = (bay.job.ledger().clone(), bay.job.facts().to_vec());
        assert_eq!(bay.say(Undo), [Say::LeftAsItIs], "{asks:?}");
        assert_eq!((bay.job.question(), bay.job.ledger(), bay.job.facts()), (None, &before, &facts[..]));
        // Said once more, it names what it would take back.
        assert!(matches!(bay.say(Undo)[..], [Say::Question(Question::Undo(_))]), "{asks:?}");
    }
    let mut bay = held();
    assert_eq!(bay.say(Undo), [Say::LeftAsItIs]);
    assert_eq!((bay.job.question(), bay.job.ledger().step(0)), (None, StepState::Done));
    // A question that waits behind a break comes back.
    let mut bay = held();
    assert_eq!(bay.all([Command::TakeBreak, Undo]), [Say::Question(Question::Hold { step: 1 })]);
    // To version 0.3 it asked about the step before.
    let mut bay = held();
    bay.job.follow(Edition::Third);
    assert_eq!(bay.say(Undo), [Say::Question(Question::Undo(Fact::StepDone(0)))]);
}

#[test]
fn wrong_number_said_to_a_number_that_is_asked_about_puts_no_older_one_right() {
    let reading = |amount: &str| Command::Reading(Reading { amount: amount.parse().unwrap(), unit: None });
    let steps = vec![step(vec![measure("2 mm", "3 mm"), measure("2 mm", "3 mm")]), step(Vec::new())];
    let mut bay = Bay::new(Vec::new(), steps);
    bay.all([reading("2.5"), reading("5")]);
    let says = bay.say(Correct);
    assert_eq!(says, [Say::NotLogged { value: "5 mm".parse().unwrap() }, Say::AwaitMeasure { step: 0, act: 1 }]);
    bay.say(reading("2.6"));
    let readings: Vec<String> = bay.job.facts().iter().filter_map(|f| f.reading.map(|r| r.to_string())).collect();
    assert_eq!(readings, ["2.5 mm", "2.6 mm"]);
}

#[test]
fn what_is_refused_ends_with_the_question_that_stands() {
    let question = Question::Hold { step: 1 };
    for command in [Correct, GoTo(0), GoTo(9), Done, Command::Mark, Command::NotSure, Command::Place(0)] {
        let mut bay = held();
        let says = bay.say(command.clone());
        assert_eq!(asked(&says), Some(&question), "{command:?}: {says:?}");
        assert_eq!(bay.job.question(), Some(&question));
    }
}

#[test]
fn time_that_is_up_and_notes_say_the_question_again() {
    let mut bay = held();
    bay.say(Command::Timer(5));
    bay.now += 5 * MINUTE;
    assert_eq!(bay.say(Command::TimeUp), [Say::TimeUp, Say::Question(Question::Hold { step: 1 })]);
    let says = bay.say(Command::Note(Note::Typed("it is torn".into())));
    assert_eq!(says, [Say::Noted { step: 1 }, Say::Question(Question::Hold { step: 1 })]);
}

#[test]
fn a_wait_that_is_over_while_it_is_asked_about_is_asked_about_as_over() {
    let wait = Step { wait_minutes: Some(5), ..step(Vec::new()) };
    let mut bay = Bay::new(Vec::new(), vec![wait, step(Vec::new())]);
    bay.all([Done, Done]);
    assert!(matches!(bay.job.question(), Some(Question::Wait { minutes_left: 5, .. })));
    bay.now += 5 * MINUTE;
    assert_eq!(
        bay.say(Command::TimeUp),
        [Say::TimeUp, Say::Question(Question::Wait { minutes_left: 0, unwatched: false })]
    );
}

#[test]
fn a_note_between_the_question_and_the_yes_is_not_taken_back_in_its_place() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("70 N·m")]);
    bay.all([Done, Undo, Command::Note(Note::Typed("it is torn".into()))]);
    let says = bay.say(Yes);
    assert!(matches!(&says[..], [Say::Question(Question::Undo(Fact::Note { .. }))]), "{says:?}");
    assert!(bay.job.facts().iter().all(|fact| !fact.taken_back));
}

#[test]
fn leaving_the_step_leaves_its_question() {
    let mut bay = held();
    bay.say(Command::Back);
    assert_eq!((bay.job.position(), bay.job.question()), (0, None));
    assert_eq!(bay.say(Yes), [Say::Refused(Refusal::NothingAsked)]);
}

#[test]
fn the_question_about_a_turn_is_pushed_aside_by_nothing_and_comes_back() {
    let mut bay = tightening(|_| (), &["front", "rear"], vec![torque("70 N·m"), angle("90 deg")]);
    bay.all([Done, Resume]);
    for command in [Skip, Finish, Correct, Done, Command::Next, Yes] {
        assert!(asks_angle(&[Say::Question(asked(&bay.say(command)).unwrap().clone())]));
    }
    // Undo and "it broke" can be what the interruption was about. A no brings the question back.
    for command in [Undo, Command::Damaged(Damage::Broken), GoTo(3)] {
        bay.say(command);
        assert!(!matches!(bay.job.question(), Some(Question::Angle(_))));
        assert!(asks_angle(&bay.say(No)));
        assert!(bay.job.expects().angle);
    }
}

#[test]
fn every_answer_about_an_interrupted_turn_ends_with_the_question() {
    let mut bay = tightening(|_| (), &["front", "rear"], vec![torque("70 N·m"), angle("90 deg")]);
    bay.all([Done, Resume]);
    for ask in [Ask::Value, Ask::InUnit(TorqueUnit::PoundForceFoot), Ask::Which, Ask::HowManyLeft, Ask::LastValue] {
        let says = bay.say(Command::Ask(ask));
        assert!(asks_angle(&says) && says.len() == 2, "{says:?}");
        if let Say::Answer(Answer::Value(p) | Answer::InUnit { pending: p, .. } | Answer::Which(p)) = &says[0] {
            assert!(p.interrupted, "{ask:?}");
        }
    }
    let says = bay.say(Command::WhereAmI);
    assert!(asks_angle(&says) && !says.iter().any(|s| matches!(s, Say::Answer(_) | Say::Pending(_))), "{says:?}");
    assert!(!bay.job.clone().apply(Command::Ask(Ask::Value), At(0)).recorded, "to ask changes nothing");
    bay.say(Command::NotBegun);
    let says = bay.say(Command::Ask(Ask::Value));
    assert!(matches!(&says[..], [Say::Answer(Answer::Value(p))] if !p.interrupted), "{says:?}");
}

/// A support set in step 0, bolts slackened in 1, a hold in 2, the bolts tightened in 3, the support away in 4.
fn protected() -> Bay {
    let bolts = group("bolt", &["front", "rear"], vec![torque("70 N·m")]);
    let steps = vec![
        step(vec![Act::Place(SupportIx(0))]),
        step(vec![fasten(0, &[0, 1], Deed::Remove), fasten(0, &[0, 1], Deed::HandStart)]),
        Step { hold: Some("Does it rest?".into()), ..step(Vec::new()) },
        step(vec![fasten(0, &[0, 1], Deed::Tighten(None))]),
        step(vec![Act::TakeAway(SupportIx(0))]),
        step(Vec::new()),
    ];
    Bay::new(vec![bolts], steps)
}

#[test]
fn forward_past_steps_not_done_is_asked_back_with_what_protects() {
    let mut bay = protected();
    let says = bay.say(GoTo(6));
    let between =
        vec![Between::Set(SupportIx(0)), Between::TakeAway(SupportIx(0)), Between::Hold(2), Between::Tighten(G)];
    assert_eq!(says, [Say::Question(Question::GoTo { step: 5, not_done: vec![0, 1, 2, 3, 4], between })]);
    assert_eq!(bay.job.position(), 0, "nothing happens before the yes");
    assert_eq!(bay.say(No), [Say::LeftAsItIs]);
    assert_eq!(bay.job.position(), 0);
    bay.all([GoTo(6), Yes]);
    assert_eq!(bay.job.position(), 5);
    assert!((0..5).all(|step| bay.job.ledger().step(step) == StepState::Open), "they stay open");
    // What is done meanwhile is not named.
    bay.all([GoTo(1), Done]);
    let says = bay.say(GoTo(3));
    assert_eq!(says, [Say::Question(Question::GoTo { step: 2, not_done: vec![1], between: Vec::new() })]);
}

#[test]
fn back_and_over_what_is_done_or_left_open_goes_at_once() {
    let mut bay = protected();
    bay.all([Done, Skip, Yes]);
    assert_eq!(bay.job.position(), 2);
    bay.say(GoTo(1));
    assert_eq!((bay.job.position(), bay.job.question()), (0, None));
    bay.say(GoTo(3));
    assert_eq!((bay.job.position(), bay.job.question()), (2, None));
}

#[test]
fn version_0_1_is_replayed_as_it_was() {
    let mut bay = protected();
    bay.job.follow(Edition::First);
    bay.say(GoTo(3));
    assert_eq!(bay.job.position(), 2);
    bay.say(Done);
    assert!(matches!(refused(&bay.say(Skip)), Some(Refusal::AnswerFirst(_))));
    bay.say(Yes);
    assert_eq!(bay.job.ledger().step(2), StepState::Done);
}
