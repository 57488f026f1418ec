//! What is claimed when the time for a step may be over: whichever way it is claimed, it is asked about.

use super::*;
use crate::procedure::Within;
use Command::{Done, Finished, GoTo, No, NotBegun, Resume, Skip, Undo, Yes};

const ASKED: Say = Say::Question(Question::InTime { step: 1, reading: None });

fn ten_minutes_after(after: usize) -> Option<Within> {
    Some(Within { time: "10 min".parse().unwrap(), after, late: "Take it off.".into() })
}

/// Sealant goes on, with the bolt put in; then comes a step that has to be done within ten minutes.
fn sealing(next: Step) -> Bay {
    let bolt = group("bolt", &["left"], vec![torque("8 N·m"), angle("90°")]);
    let first =
        step(vec![Act::Apply("sealant".into()), fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]);
    Bay::new(vec![bolt], vec![first, Step { within: ten_minutes_after(0), ..next }, step(Vec::new())])
}

fn plain() -> Step {
    step(vec![Act::Clean("rim".into())])
}

/// The question stands that these bring about while there is time. It is answered when there is none any more.
fn answered_late(next: Step, in_time: &[Command], answer: &Command) {
    let mut bay = sealing(next);
    bay.say(Done);
    let says = in_time.iter().map(|command| bay.say(command.clone())).last().unwrap_or_default();
    assert!(bay.job.question().is_some(), "{answer:?}: {says:?}");
    bay.now += 11 * MINUTE;
    let before = bay.job.ledger().clone();
    assert_eq!(bay.say(answer.clone()), [ASKED], "{in_time:?}");
    assert_eq!(*bay.job.ledger(), before, "asked, not taken");
    assert_eq!(bay.say(No)[0], Say::Refused(Refusal::TooLate { step: 1 }));
    assert_eq!(*bay.job.ledger(), before);
}

#[test]
fn a_question_put_in_time_and_answered_late_claims_nothing_unasked() {
    answered_late(Step { hold: Some("Is it flush?".into()), ..plain() }, &[Done], &Yes);
    for answer in [Yes, No] {
        answered_late(Step { ask: Some("Is it flush?".into()), ..plain() }, &[Done], &answer);
    }
    answered_late(Step { until: until(1, None), ..plain() }, &[Done], &Yes);
    answered_late(Step { wait_minutes: Some(5), ..plain() }, &[Done, Done], &Yes);
    let tighten = || step(vec![fasten(0, &[0], Deed::Tighten(None))]);
    answered_late(tighten(), &[Done, GoTo(1), GoTo(2)], &Finished);
}

#[test]
fn that_nothing_was_begun_is_believed_late_too() {
    let mut bay = sealing(step(vec![fasten(0, &[0], Deed::Tighten(None))]));
    bay.all([Done, Done, GoTo(1)]);
    assert!(asks_angle(&bay.say(GoTo(2))));
    bay.now += 11 * MINUTE;
    let says = bay.say(NotBegun);
    assert!(!says.contains(&ASKED), "{says:?}");
    assert_eq!(bay.pending(), Some((0, 1)));
    assert_eq!(bay.say(Done), [ASKED]);
}

#[test]
fn the_yes_of_a_hold_point_is_asked_for_once_more_behind_the_question_about_the_time() {
    let mut bay = sealing(Step { hold: Some("Is it flush?".into()), ..plain() });
    bay.all([Done, Done]);
    bay.now += 11 * MINUTE;
    assert_eq!(bay.say(Yes), [ASKED]);
    assert_eq!(bay.say(Yes), [Say::Question(Question::Hold { step: 1 })]);
    bay.say(Yes);
    assert_eq!(bay.job.ledger().step(1), StepState::Done);
}

/// A cover is taken off, sealant goes on, the cover goes on within ten minutes.
fn cover() -> Bay {
    let ix = ComponentIx(0);
    let steps = vec![
        step(vec![Act::Apply("sealant".into())]),
        Step { within: ten_minutes_after(0), ..step(vec![Act::PutOn(ix)]) },
        step(Vec::new()),
    ];
    let mut book = book::book(Vec::new(), steps);
    book.steps.insert(0, step(vec![Act::TakeOff(ix)]));
    book.steps[2].within = ten_minutes_after(1);
    let mut bay = Bay::with(book);
    bay.all([Done, Done]);
    bay
}

const COVER_ASKED: Say = Say::Question(Question::InTime { step: 2, reading: None });

#[test]
fn a_yes_to_being_in_time_counts_for_what_was_done_then_and_no_further() {
    let mut bay = cover();
    bay.now += 11 * MINUTE;
    assert_eq!(bay.say(Done), [COVER_ASKED]);
    bay.all([Yes, Done]);
    assert_eq!(bay.job.ledger().step(2), StepState::Done);
    let before = bay.job.ledger().clone();
    bay.all([GoTo(1), Done]);
    assert_eq!(bay.say(Yes)[0], Say::OpenAgain { steps: vec![2] });
    assert!(!bay.job.ledger().in_time(2));
    let mut back = bay.job.clone();
    bay.go(3);
    assert_eq!(bay.say(Done), [COVER_ASKED]);
    assert_eq!(bay.job.ledger().step(2), StepState::Open);
    // Taken back, it counts again.
    for command in [Undo, Yes] {
        bay.now += 1_000;
        back.apply(command, At(bay.now));
    }
    assert_eq!(*back.ledger(), before);
}

#[test]
fn opened_again_while_there_is_time_its_clock_runs_on() {
    let mut bay = cover();
    let due = bay.job.next_due();
    bay.say(Done);
    assert_eq!((bay.job.ledger().step(2), bay.job.next_due()), (StepState::Done, None));
    bay.all([GoTo(1), Done, Yes]);
    assert_eq!((bay.job.ledger().step(2), bay.job.next_due()), (StepState::Open, due));
    assert!(due.is_some());
    bay.all([Undo, Yes]);
    assert_eq!((bay.job.ledger().step(2), bay.job.next_due()), (StepState::Done, None));
}

#[test]
fn done_once_more_when_the_time_is_over_is_asked_about_too() {
    let nut = group("nut", &["left"], vec![torque("8 N·m")]);
    let steps = vec![
        step(vec![Act::Apply("solvent".into())]),
        Step { within: ten_minutes_after(0), ..step(vec![fasten(0, &[0], Deed::Slacken)]) },
        step(vec![fasten(0, &[0], Deed::HandStart)]),
        step(vec![fasten(0, &[0], Deed::Tighten(None))]),
    ];
    let mut bay = Bay::new(vec![nut], steps);
    bay.all([Done, Done, Done, Done]);
    bay.now += 11 * MINUTE;
    bay.say(GoTo(2));
    assert_eq!(bay.say(Done), [Say::Question(Question::Again { step: 1 })]);
    assert_eq!(bay.say(Yes).last(), Some(&ASKED));
    assert_eq!(bay.job.ledger().step(1), StepState::Open);
    bay.all([Yes, Done]);
    assert_eq!((bay.job.ledger().step(1), bay.job.ledger().in_time(1)), (StepState::Done, true));
}

/// The bead of sealant is measured in the step that puts it on.
fn bead() -> Bay {
    let first = step(vec![Act::Apply("sealant".into()), measure("2 mm", "3 mm")]);
    Bay::new(Vec::new(), vec![first, Step { within: ten_minutes_after(0), ..plain() }, step(Vec::new())])
}

#[test]
fn the_clock_starts_where_the_earlier_step_is_left_with_a_measurement_outside_its_limits() {
    let mut bay = bead();
    bay.say(Done);
    bay.read("5");
    bay.all([Yes, Skip, Yes]);
    let due = Some(At(bay.now + 10 * MINUTE));
    assert_eq!((bay.job.ledger().step(0), bay.job.position()), (StepState::Skipped, 1));
    assert_eq!(bay.job.next_due(), due, "the sealant is on");
    let mut late = Bay { job: bay.job.clone(), now: bay.now + 11 * MINUTE };
    assert_eq!(late.say(Done), [ASKED]);
    // Measured once more it is done, and was put on when it was.
    let mut again = Bay { job: bay.job.clone(), now: bay.now + MINUTE };
    again.say(GoTo(1));
    again.read("2.5");
    assert_eq!((again.job.ledger().step(0), again.job.next_due()), (StepState::Done, due));
    bay.all([Undo, Yes]);
    assert_eq!(bay.job.next_due(), None);
}

#[test]
fn no_clock_starts_at_a_step_whose_work_is_left_undone() {
    let mut bay = bead();
    bay.all([Skip, Yes]);
    assert_eq!((bay.job.ledger().step(0), bay.job.next_due()), (StepState::Skipped, None));
    let mut bay = bead();
    bay.say(Done);
    bay.all([Skip, Yes]);
    assert_eq!((bay.job.ledger().step(0), bay.job.next_due()), (StepState::Skipped, None));
}

#[test]
fn after_the_program_was_away_it_is_told_that_the_time_is_not_known() {
    let told = Say::WithinUnwatched { step: 1 };
    let mut bay = sealing(plain());
    bay.say(Done);
    let says = bay.say(Resume);
    assert!(says.contains(&told) && !says.contains(&Say::Within { step: 1 }), "{says:?}");
    assert!(bay.all([GoTo(3), Yes, GoTo(2)]).contains(&told), "and on coming to it");
    // One that began since is known.
    bay.all([GoTo(1), Done, Yes]);
    let says = bay.all([GoTo(1), GoTo(2)]);
    assert!(says.contains(&Say::Within { step: 1 }) && !says.contains(&told), "{says:?}");
}

#[test]
fn a_time_that_runs_for_a_step_ahead_is_told_on_resuming() {
    let mut bay = bead();
    let mut book = (**bay.job.book()).clone();
    book.steps.insert(1, step(Vec::new()));
    bay = Bay::with(book);
    bay.say(Done);
    bay.read("2.5");
    bay.say(Done);
    assert_eq!(bay.job.position(), 1);
    let says = bay.say(Resume);
    assert_eq!(says.iter().filter(|say| **say == Say::WithinUnwatched { step: 2 }).count(), 1, "{says:?}");
    // What ran out while it was watched is known.
    bay.now += 11 * MINUTE;
    let says = bay.all([Command::TimeUp, Resume]);
    assert!(says.contains(&Say::Refused(Refusal::TooLate { step: 2 })), "{says:?}");
}

#[test]
fn how_long_says_after_a_resume_that_it_is_by_what_was_seen() {
    let unwatched = |says: &[Say]| match says {
        [Say::Answer(Answer::HowLong { timers, unwatched, .. })] => (timers.clone(), *unwatched),
        says => panic!("{says:?}"),
    };
    let mut bay = sealing(plain());
    bay.say(Done);
    let ask = || Command::Ask(Ask::HowLong);
    assert_eq!(unwatched(&bay.say(ask())), (vec![10], false));
    bay.say(Resume);
    assert_eq!(unwatched(&bay.say(ask())), (vec![10], true));
}

/// The question about the time, with the reading that waits for its answer.
fn asked_with(value: &str) -> Vec<Say> {
    let reading = Some(Waiting { value: value.parse().unwrap(), from: None });
    vec![Say::Question(Question::InTime { step: 1, reading })]
}

fn measuring() -> Bay {
    let mut bay = sealing(step(vec![measure("2 mm", "3 mm")]));
    bay.say(Done);
    bay.now += 11 * MINUTE;
    bay
}

fn readings(bay: &Bay) -> Vec<String> {
    bay.job.facts().iter().filter_map(|fact| fact.reading.map(|reading| reading.to_string())).collect()
}

#[test]
fn a_reading_that_may_be_late_waits_for_the_answer_and_is_not_lost() {
    let mut bay = measuring();
    assert_eq!(bay.read("2.5"), asked_with("2.5 mm"));
    assert_eq!((readings(&bay).len(), bay.job.expects().reading.is_some()), (0, true));
    let says = bay.say(Yes);
    assert!(matches!(says[0], Say::ReadingTaken { verdict: Verdict::Within, .. }), "{says:?}");
    assert_eq!((readings(&bay), bay.job.ledger().step(1)), (vec!["2.5 mm".to_owned()], StepState::Done));
    assert!(bay.job.ledger().in_time(1));
    // Late, it is told that it was not taken.
    let mut bay = measuring();
    bay.read("2.5");
    let not_logged = Say::NotLogged { value: "2.5 mm".parse().unwrap() };
    assert_eq!(bay.say(No), [not_logged, Say::Refused(Refusal::TooLate { step: 1 })]);
    assert_eq!((readings(&bay).len(), bay.job.question()), (0, None));
}

#[test]
fn a_reading_outside_its_limits_is_asked_about_first_and_waits_then() {
    let mut bay = measuring();
    assert!(matches!(bay.read("5")[..], [Say::Question(Question::Reading { verdict: Verdict::Over, .. })]));
    assert_eq!(bay.say(Yes), asked_with("5 mm"));
    let says = bay.say(Yes);
    assert!(matches!(says[..2], [Say::ReadingTaken { verdict: Verdict::Over, .. }, Say::OutsideLimits { .. }]));
    assert_eq!(readings(&bay), ["5 mm"]);
}

#[test]
fn a_reading_said_to_the_question_about_the_time_waits_for_its_answer_too() {
    let mut bay = measuring();
    bay.job.apply(Command::Resume, At(bay.now));
    bay.read("2.4");
    // Another one takes its place, and its decimals are a part of it.
    assert_eq!(bay.read("2"), asked_with("2 mm"));
    assert_eq!(bay.say(Command::Rest("0.6".parse().unwrap())), asked_with("2.6 mm"));
    let tool =
        Command::FromTool { amount: "2.7".parse().unwrap(), unit: "mm".parse().unwrap(), tool: "caliper".into() };
    bay.say(tool);
    bay.say(Yes);
    assert_eq!(readings(&bay), ["2.7 mm"]);
    let from = |fact: &Recorded| (fact.fact.clone(), fact.from.clone());
    let last: Vec<_> = bay.job.facts().iter().rev().take(2).map(from).collect();
    assert_eq!(last[0], (Fact::Measured { step: 1, act: 0 }, Some("caliper".into())));
    assert_eq!(last[1], (Fact::InTime(1), None));
    // Brought about by another claim, it takes a number all the same.
    let mut bay = sealing(step(vec![Act::Clean("rim".into()), measure("2 mm", "3 mm")]));
    bay.say(Done);
    bay.now += 11 * MINUTE;
    assert_eq!(bay.say(Done), [ASKED]);
    let says = bay.read("2.5");
    assert_eq!(says, [Say::Refused(Refusal::NoReadingAwaited), ASKED], "nothing is measured yet, and it is told");
}

#[test]
fn a_number_of_a_stage_waits_as_well() {
    let mut bay = sealing(step(vec![fasten(0, &[0], Deed::Tighten(None))]));
    bay.say(Done);
    bay.now += 11 * MINUTE;
    assert_eq!(bay.read("8"), asked_with("8 N·m"));
    bay.say(Yes);
    assert_eq!((bay.state(0), readings(&bay)), (ItemState::AtStage(1), vec!["8 N·m".to_owned()]));
}

#[test]
fn to_version_0_3_a_reading_brought_the_question_and_no_more() {
    let mut bay = measuring();
    bay.job.follow(Edition::Third);
    assert_eq!(bay.read("2.5"), [ASKED]);
    let says = bay.say(Yes);
    assert!(says.contains(&Say::AwaitMeasure { step: 1, act: 0 }), "{says:?}");
    assert_eq!(readings(&bay).len(), 0);
}
