//! Said twice counts once: a claim is about what had been announced when its first sound began.

use super::*;
use Command::{Done, Finished, Next, No, NotBegun, NotSure, Resume, Undo, Yes};
use ItemState::{AtStage, Final, HandStarted, InDoubt};

/// Two bolts, each with a torque and an angle; the torque of the first is announced.
fn two_bolts() -> Bay {
    let mut bay = tightening(|_| (), &["left", "right"], vec![torque("70 N·m"), angle("90 deg")]);
    bay.announced();
    bay
}

/// Everything that a claim could change.
fn facts(bay: &Bay) -> (Ledger, usize, Option<Question>, usize) {
    (bay.job.ledger().clone(), bay.job.position(), bay.job.question().cloned(), bay.job.facts().len())
}

/// Says it, and again before what follows was said to its end: the second changes nothing and gets the same again.
fn counts_once(bay: &mut Bay, command: Command) {
    let first = bay.hear(command.clone(), bay.now + 2_000);
    assert!(first.recorded && first.announces, "{command:?}: {first:?}");
    let before = facts(bay);
    for _ in 0..2 {
        let again = bay.hear(command.clone(), bay.now + 300);
        assert!(!again.recorded && again.announces, "{command:?}: {again:?}");
        assert!(!again.says.is_empty());
        assert_eq!(facts(bay), before, "{command:?}");
    }
    bay.announced();
}

#[test]
fn a_stage_is_claimed_once_however_often_it_is_said() {
    let mut bay = two_bolts();
    for states in [[AtStage(1), HandStarted], [Final, HandStarted], [Final, AtStage(1)], [Final, Final]] {
        counts_once(&mut bay, Done);
        assert_eq!(bay.states(), states);
    }
}

#[test]
fn a_claim_that_began_before_the_end_of_the_announcement_came_too_soon_however_late_it_is_understood() {
    let mut bay = two_bolts();
    bay.say(Done);
    bay.now += 4_000;
    bay.announced();
    let ended = bay.now;
    bay.now += 2_000;
    assert!(!bay.hear(Done, ended - 1).recorded);
    // It was said again, so that again has to be heard.
    bay.now += 10_000;
    assert!(!bay.hear(Done, bay.now).recorded);
    bay.announced();
    assert!(bay.hear(Done, bay.now).recorded);
    assert_eq!(bay.states(), [Final, HandStarted]);
}

#[test]
fn what_is_said_again_is_what_is_pending_and_no_longer_than_the_first_time() {
    let mut bay = two_bolts();
    let first = bay.hear(Done, bay.now);
    let [Say::Pending(named)] = &first.says[..] else { panic!("{first:?}") };
    assert_eq!((named.stage, named.follows), (1, Follows::SameItem));
    assert_eq!(bay.hear(Done, bay.now).says, first.says);
    // With its cautions, but not with what was recorded before.
    let caution = Caution { signal: Signal::Danger, say: "It is hot.".into() };
    let steps = vec![
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        step(vec![fasten(0, &[0], Deed::Tighten(None))]),
        Step { cautions: vec![caution.clone()], ..step(vec![fasten(0, &[0], Deed::Slacken)]) },
    ];
    let mut bay = Bay::new(vec![group("bolt", &["only"], vec![torque("70 N·m")])], steps);
    bay.say(Done);
    let first = bay.say(Done);
    assert!(matches!(first[..], [Say::GroupDone { .. }]), "{first:?}");
    bay.announced();
    bay.hear(Next, bay.now);
    let again = bay.hear(Next, bay.now).says;
    assert_eq!(again, [Say::Caution(caution), Say::Step { step: 2, phase: None }]);
}

#[test]
fn a_step_is_claimed_once() {
    for command in [Next, Done] {
        let steps = (0..3).map(|n| step(vec![Act::Clean(format!("part {n}"))])).collect();
        let mut bay = Bay::new(Vec::new(), steps);
        bay.announced();
        counts_once(&mut bay, command.clone());
        assert_eq!(bay.job.position(), 1);
        counts_once(&mut bay, command);
        assert_eq!(bay.job.position(), 2);
    }
}

#[test]
fn walking_on_over_steps_that_are_done_claims_nothing_and_need_not_wait() {
    let steps = (0..3).map(|_| step(Vec::new())).collect();
    let mut bay = Bay::new(Vec::new(), steps);
    bay.all([Next, Next, Command::Back, Command::Back]);
    bay.hear(Next, bay.now);
    bay.hear(Next, bay.now);
    assert_eq!(bay.job.position(), 2);
}

#[test]
fn a_reading_is_taken_once() {
    let thirty = Command::Reading(Reading { amount: "60".parse().unwrap(), unit: None });
    let mut bay = two_bolts();
    counts_once(&mut bay, thirty.clone());
    assert_eq!(bay.job.ledger().item(G, 0).readings.len(), 1, "short of it, and the stage is pending as before");
    counts_once(&mut bay, thirty);
    assert_eq!(bay.job.ledger().item(G, 0).readings.len(), 2);
}

#[test]
fn a_yes_does_not_answer_a_question_that_was_not_asked_to_its_end() {
    // Two hold points in a row: "next step" asks the first, "yes" confirms it and comes to the second step.
    let hold = |text: &str| Step { hold: Some(text.into()), ..step(Vec::new()) };
    let mut bay = Bay::new(Vec::new(), vec![hold("Is it cold?"), hold("Is it dry?"), step(Vec::new())]);
    bay.announced();
    bay.hear(Next, bay.now);
    let again = bay.hear(Yes, bay.now);
    assert!(matches!(again.says[..], [Say::Question(Question::Hold { step: 0 })]), "{again:?}");
    bay.announced();
    counts_once(&mut bay, Yes);
    assert_eq!(bay.job.position(), 1);
    // The same at closing, where one question follows upon the other.
    let mut bay = two_bolts();
    bay.say(Command::Finish);
    bay.announced();
    counts_once(&mut bay, Yes);
    assert!(bay.job.closed().is_none() && bay.job.question().is_some());
}

#[test]
fn the_answers_about_an_interrupted_turn_are_taken_once() {
    for answer in [Finished, NotBegun, NotSure] {
        let mut bay = two_bolts();
        bay.all([Done, Resume]);
        assert!(!bay.hear(answer.clone(), bay.now).recorded, "{answer:?} before the question was asked to its end");
        bay.announced();
        counts_once(&mut bay, answer);
    }
}

#[test]
fn what_claims_nothing_is_followed_over_the_announcement() {
    let mut bay = two_bolts();
    bay.say(Done);
    for command in [Command::Ask(Ask::HowManyLeft), Command::Mark, Command::WhereAmI, Command::TakeBreak, No] {
        let reply = bay.hear(command.clone(), bay.now);
        assert!(!matches!(reply.says[..], [Say::Pending(_)]), "{command:?}: {reply:?}");
    }
    bay.hear(Command::Back, bay.now);
    assert_eq!(bay.job.position(), 0);
}

#[test]
fn an_answer_or_a_mark_takes_nothing_away_from_what_was_heard() {
    let mut bay = two_bolts();
    for command in [Command::Ask(Ask::Value), Command::Mark, Command::WhereAmI, Command::Timer(5)] {
        let reply = bay.hear(command.clone(), bay.now);
        assert!(!reply.announces, "{command:?}");
    }
    assert!(bay.hear(Done, bay.now).recorded);
}

#[test]
fn what_was_cut_off_is_heard_when_it_was_asked_for() {
    let mut bay = two_bolts();
    bay.say(Done);
    assert!(bay.hear(Command::Ask(Ask::Value), bay.now).announces);
    bay.announced();
    assert!(bay.hear(Done, bay.now).recorded);
}

#[test]
fn what_is_typed_is_deliberate() {
    let mut bay = two_bolts();
    bay.all([Done, Done, Done, Done]);
    assert_eq!(bay.states(), [Final, Final]);
}

/// The angle of the only bolt claimed, and taken back so many milliseconds after.
fn taken_back_after(milliseconds: i64) -> (Bay, Vec<Say>) {
    let mut bay = tightening(|_| (), &["only"], vec![torque("70 N·m"), angle("90 deg")]);
    bay.all([Done, Done]);
    bay.now += milliseconds - 1_000;
    let says = bay.all([Undo, Yes]);
    (bay, says)
}

fn asks_turned(says: &[Say]) -> bool {
    says.iter().any(|s| matches!(s, Say::Question(Question::Turned { .. })))
}

#[test]
fn a_turn_taken_back_at_once_is_asked_about_and_a_plain_no_makes_it_pending_again() {
    for no in [No, NotBegun] {
        let (mut bay, says) = taken_back_after(10_000);
        assert!(asks_turned(&says), "{says:?}");
        assert_eq!(bay.state(0), InDoubt, "until it is answered");
        let says = bay.say(no);
        assert!(matches!(says[..], [Say::Pending(_)]), "{says:?}");
        assert_eq!((bay.state(0), bay.pending()), (AtStage(1), Some((0, 1))));
        assert!(!bay.job.ledger().item(G, 0).suspect);
        // That word can be taken back as well.
        bay.all([Undo, Yes]);
        assert_eq!(bay.state(0), InDoubt);
    }
}

#[test]
fn anything_but_a_no_leaves_it_in_doubt() {
    for answer in [Yes, Finished, NotSure, Command::Back, Command::Pause, Command::Open] {
        let (mut bay, _) = taken_back_after(5_000);
        bay.say(answer.clone());
        assert_eq!(bay.state(0), InDoubt, "{answer:?}");
        assert_eq!(bay.job.question(), None, "{answer:?}");
    }
    let (mut bay, _) = taken_back_after(5_000);
    assert!(bay.job.expects().no_claims && bay.job.expects().yes_no);
    assert!(matches!(refused(&bay.say(Done)), Some(Refusal::AnswerFirst(_))));
    assert!(!bay.hear(No, bay.now).recorded, "a no that began before the question was asked to its end");
    assert_eq!(bay.state(0), InDoubt);
}

#[test]
fn a_turn_taken_back_later_is_in_doubt_without_a_question() {
    let (bay, says) = taken_back_after(10_001);
    assert!(!asks_turned(&says) && asks_remedy(&says, Remedy::Restart), "{says:?}");
    assert_eq!(bay.state(0), InDoubt);
}

#[test]
fn by_the_rules_of_the_first_version_a_turn_taken_back_is_in_doubt_at_once() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("70 N·m"), angle("90 deg")]);
    bay.job.follow(Edition::First);
    let says = bay.all([Done, Done, Undo, Yes]);
    assert!(!asks_turned(&says), "{says:?}");
    assert_eq!(bay.job.question(), None);
}

#[test]
fn a_break_is_asked_back_and_the_question_that_stood_comes_again() {
    let mut bay = two_bolts();
    assert_eq!(bay.say(Command::TakeBreak), [Say::Question(Question::Pause { instead: None })]);
    assert!(!bay.job.is_paused());
    assert_eq!(bay.say(No), [Say::LeftAsItIs]);
    bay.all([Done, Resume]);
    bay.all([Command::TakeBreak, Command::TakeBreak]);
    assert!(asks_angle(&bay.say(No)));
    assert_eq!(bay.all([Command::TakeBreak, Yes]), [Say::Paused]);
    assert!(bay.job.is_paused());
    assert!(asks_angle(&bay.say(Resume)));
    assert!(!bay.job.is_paused());
}
