//! Numbers that a tool sends by itself: taken as spoken ones are, and no sooner.

use super::*;
use Command::Yes;
use ItemState::{AtStage, HandStarted};
use quantity::Quantity;

const NEWTON_METRE: Unit = Unit::Torque(TorqueUnit::NewtonMetre);

fn bolt(stages: Vec<StageKind>) -> Bay {
    tightening(|_| (), &["only"], stages)
}

fn sent(amount: i64) -> Command {
    Command::FromTool { amount: amount.into(), unit: NEWTON_METRE, tool: "wrench".into() }
}

#[test]
fn a_number_of_a_tool_is_logged_with_where_it_came_from() {
    let mut bay = bolt(vec![torque("70 N·m"), torque("90 N·m")]);
    let says = bay.say(sent(70));
    assert!(
        matches!(&says[0], Say::ReadingTaken { from: Some(tool), verdict: Verdict::Within, .. } if tool == "wrench")
    );
    assert_eq!(bay.state(0), AtStage(1));
    assert_eq!(bay.job.facts().last().unwrap().from.as_deref(), Some("wrench"));
    // One that is off is asked about, and stays the tool's.
    let says = bay.say(sent(110));
    assert!(matches!(&says[..], [Say::Question(Question::Reading { from: Some(_), .. })]), "{says:?}");
    bay.say(Yes);
    let last = bay.job.facts().last().unwrap();
    assert_eq!((last.reading, last.from.as_deref()), (Some(Quantity::new(110.into(), NEWTON_METRE)), Some("wrench")));
    // What is said after it is nobody's but the user's.
    let mut bay = bolt(vec![torque("70 N·m")]);
    bay.say(sent(110));
    bay.read("70");
    assert_eq!(bay.job.facts().last().unwrap().from, None);
}

#[test]
fn a_tool_puts_nothing_right_and_answers_no_question() {
    let mut bay = bolt(vec![torque("70 N·m"), torque("90 N·m")]);
    bay.read("70");
    bay.say(Command::Correct);
    let before = bay.job.facts().len();
    for _ in 0..2 {
        let says = bay.say(sent(71));
        assert!(matches!(&says[..], [Say::Refused(Refusal::AnswerFirst(_))]), "{says:?}");
    }
    assert_eq!(bay.job.facts().len(), before);
    let mut bay = bolt(vec![torque("70 N·m")]);
    bay.say(Command::Skip);
    assert!(matches!(&bay.say(sent(70))[..], [Say::Refused(Refusal::AnswerFirst(_))]));
}

#[test]
fn of_the_wrong_kind_it_is_refused() {
    let mut bay = bolt(vec![angle("90 deg")]);
    assert!(matches!(&bay.say(sent(70))[..], [Say::Refused(Refusal::WrongKind { .. })]));
    assert_eq!(bay.state(0), HandStarted);
}

#[test]
fn before_the_stage_was_announced_to_its_end_it_is_nothing() {
    let mut bay = bolt(vec![torque("70 N·m"), torque("90 N·m")]);
    let job = &mut bay.job;
    job.apply(Command::WhereAmI, At(900));
    job.announced(At(1_000));
    assert!(job.repeats(&sent(70), At(999)) && !job.repeats(&sent(70), At(1_000)));
    assert!(job.hear(sent(70), At(1_001), At(1_100)).recorded);
    // The next stage is still being said.
    assert!(job.repeats(&sent(90), At(1_200)));
    assert!(!job.hear(sent(90), At(1_200), At(1_200)).recorded);
}

/// The source is a field that says nothing where nobody sent anything, so journals keep their digests.
#[test]
fn what_was_said_leaves_no_trace_of_a_tool() {
    let mut bay = bolt(vec![torque("70 N·m")]);
    bay.read("70");
    let fact = serde_json::to_string(bay.job.facts().last().unwrap()).unwrap();
    assert!(!fact.contains("from"), "{fact}");
    let written = serde_json::to_string(&sent(70)).unwrap();
    assert_eq!(written, r#"{"from_tool":{"amount":"70","unit":"N·m","tool":"wrench"}}"#);
}

#[test]
fn nobody_says_the_rest_of_a_number_that_a_tool_sent() {
    for amount in [70, 110] {
        let mut bay = bolt(vec![torque("70 N·m"), torque("90 N·m")]);
        bay.say(sent(amount));
        let says = bay.say(Command::Rest("0.5".parse().unwrap()));
        assert!(matches!(&says[..], [Say::Refused(_), ..]), "{says:?}");
    }
}

/// 15 lbf·ft is 20.3 N·m: who reads 20 from a scale may have it, a tool that sends tenths has not.
#[test]
fn tenths_that_a_tool_sends_are_measured() {
    let sent =
        |amount: &str| Command::FromTool { amount: amount.parse().unwrap(), unit: NEWTON_METRE, tool: "wrench".into() };
    let judged = |says: &[Say]| match says {
        [Say::ReadingTaken { verdict, .. }, ..] | [Say::Question(Question::Reading { verdict, .. })] => *verdict,
        other => panic!("{other:?}"),
    };
    let mut bay = bolt(vec![torque("15..18 lbf·ft")]);
    assert_eq!(judged(&bay.say(sent("20.0"))), Verdict::Under);
    assert_eq!(judged(&bay.say(sent("20.3"))), Verdict::Within);
    let mut bay = bolt(vec![torque("15..18 lbf·ft")]);
    assert_eq!(judged(&bay.say(sent("20"))), Verdict::Within);
    // 18 lbf·ft is 24.4 N·m: the number that a yes confirms has the digits that were sent.
    let mut bay = bolt(vec![torque("15..18 lbf·ft")]);
    assert_eq!(judged(&bay.say(sent("25.0"))), Verdict::Over);
    assert_eq!(judged(&bay.say(Yes)), Verdict::Over);
}

#[test]
fn the_same_number_again_within_a_moment_is_one_reading_and_another_too_soon_is_named() {
    let mut bay = bolt(vec![torque("70 N·m"), torque("70 N·m"), torque("70 N·m")]);
    let job = &mut bay.job;
    job.apply(Command::WhereAmI, At(900));
    job.announced(At(1_000));
    assert!(job.hear(sent(70), At(2_000), At(2_000)).recorded);
    // The next stage was put to the user within the blink of an eye, and the tool goes on sending.
    job.announced(At(2_400));
    for again in [4_900, 7_800] {
        let reply = job.hear(sent(70), At(again), At(again));
        assert_eq!(reply, Reply { says: Vec::new(), recorded: false, announces: false });
    }
    assert!(job.hear(sent(70), At(20_000), At(20_000)).recorded);
    let value = Quantity::new(71.into(), NEWTON_METRE);
    assert_eq!(job.hear(sent(71), At(20_100), At(20_100)).says, [Say::Refused(Refusal::TooSoon { value })]);
    // It leaves nothing behind: what is pending was put to the user all the same.
    job.announced(At(20_500));
    assert!(job.hear(sent(71), At(24_000), At(24_000)).recorded);
}
