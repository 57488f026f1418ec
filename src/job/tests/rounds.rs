//! Steps done round by round, until a question is answered with yes.

use super::*;
use Command::{Back, Done, GoTo, Mark, Next, No, Pause, Resume, Skip, TakeBreak, Undo, WhereAmI, Yes};

/// A nipple that is opened, pumped at and closed until no air comes; then it is tightened.
fn bleeding(at_most: Option<u32>) -> Bay {
    let caution = Caution { signal: Signal::Caution, say: "Keep it off the paint.".into() };
    let steps = vec![
        step(Vec::new()),
        Step { cautions: vec![caution], ..step(vec![fasten(0, &[0], Deed::Slacken)]) },
        step(vec![measure("2 mm", "3 mm")]),
        Step { until: until(1, at_most), ..step(vec![fasten(0, &[0], Deed::HandStart)]) },
        step(vec![fasten(0, &[0], Deed::Tighten(None))]),
        step(Vec::new()),
    ];
    let mut bay = Bay::new(vec![group("nipple", &["left"], vec![torque("8 N·m")])], steps);
    bay.say(Done);
    bay
}

/// One round, up to the question.
fn round(bay: &mut Bay) -> Vec<Say> {
    bay.say(Done);
    bay.read("2.5");
    bay.all([Done, Done])
}

fn rounds(bay: &Bay) -> Vec<(u32, bool)> {
    let round = |fact: &Recorded| match fact.fact {
        Fact::Round { round, .. } => Some((round, fact.taken_back)),
        _ => None,
    };
    bay.job.facts().iter().filter_map(round).collect()
}

#[test]
fn with_no_the_next_round_begins_and_all_of_it_is_told_and_done_again() {
    let mut bay = bleeding(None);
    assert_eq!(round(&mut bay), [Say::Question(Question::Until { step: 3, round: 1 })]);
    let says = bay.say(No);
    assert_eq!(says[0], Say::Round { step: 3, round: 2 });
    assert!(matches!(says[1], Say::Caution(_)), "{says:?}");
    assert_eq!(says[2], Say::Step { step: 1, phase: None });
    assert_eq!((bay.job.position(), rounds(&bay)), (1, vec![(1, false)]));
    assert_eq!(bay.job.ledger().measured(2, 0), None);
    // What the last round left is what this one finds.
    assert_eq!(bay.state(0), ItemState::HandStarted);
    bay.say(Done);
    assert_eq!(bay.state(0), ItemState::Slackened);
    assert!(matches!(bay.say(Done)[..], [Say::Refused(Refusal::Unmeasured { .. })]), "its reading comes again");
    bay.read("2.6");
    assert_eq!(bay.all([Done, Done]), [Say::Question(Question::Until { step: 3, round: 2 })]);
    bay.say(Yes);
    assert_eq!((bay.job.position(), bay.job.ledger().rounds(3)), (4, 1));
    bay.all([Done, Done, Done]);
    assert_eq!(bay.state(0), ItemState::Final);
    assert_eq!(bay.job.open_points(6), []);
    let readings = bay.job.facts().iter().filter(|f| f.reading.is_some()).count();
    assert_eq!(readings, 2, "the reading of each round is kept");
}

#[test]
fn yes_in_the_first_round_ends_it() {
    let mut bay = bleeding(None);
    round(&mut bay);
    bay.say(Yes);
    assert_eq!((bay.job.position(), rounds(&bay)), (4, vec![]));
    assert_eq!(bay.job.ledger().step(3), StepState::Done);
}

#[test]
fn at_most_so_many_rounds_and_then_the_step_stays_open() {
    let mut bay = bleeding(Some(2));
    round(&mut bay);
    bay.say(No);
    round(&mut bay);
    let over = [Say::Refused(Refusal::RoundsOver { step: 3 })];
    assert_eq!(bay.say(No), over);
    assert_eq!((bay.job.position(), rounds(&bay)), (3, vec![(1, false), (2, false)]));
    assert_eq!(bay.job.ledger().step(3), StepState::Open);
    // It is asked again as often as the user likes, and counts no further.
    assert_eq!(bay.say(Done), [Say::Question(Question::Until { step: 3, round: 2 })]);
    assert_eq!(bay.say(No), over);
    assert_eq!(rounds(&bay).len(), 2);
    bay.all([Next, Yes]);
    assert_eq!((bay.job.position(), bay.job.ledger().step(3)), (4, StepState::Done));
}

#[test]
fn at_the_limit_it_can_be_left_open() {
    let mut bay = bleeding(Some(2));
    round(&mut bay);
    bay.say(No);
    round(&mut bay);
    bay.all([No, Skip, Yes]);
    assert_eq!((bay.job.position(), bay.job.ledger().step(3)), (4, StepState::Skipped));
}

#[test]
fn undo_takes_a_no_back_and_asks_again() {
    let mut bay = bleeding(None);
    round(&mut bay);
    let before = (bay.job.ledger().clone(), bay.job.position());
    bay.say(No);
    assert_eq!(bay.say(Undo), [Say::Question(Question::Undo(Fact::Round { step: 3, round: 1 }))]);
    let says = bay.say(Yes);
    assert_eq!(says.last(), Some(&Say::Question(Question::Until { step: 3, round: 1 })));
    assert_eq!((bay.job.ledger(), bay.job.position()), (&before.0, before.1));
    assert_eq!(rounds(&bay), [(1, true)]);
    // Counted anew.
    bay.say(No);
    assert_eq!(rounds(&bay), [(1, true), (1, false)]);
}

#[test]
fn undo_of_the_limit_asks_again_too() {
    let mut bay = bleeding(Some(2));
    round(&mut bay);
    bay.say(No);
    round(&mut bay);
    let says = bay.all([No, Undo, Yes]);
    assert_eq!(says.last(), Some(&Say::Question(Question::Until { step: 3, round: 2 })));
    assert_eq!(bay.job.ledger().rounds(3), 1);
}

#[test]
fn no_said_twice_begins_one_round() {
    let mut bay = bleeding(None);
    round(&mut bay);
    // Before the question was said to its end it answers nothing.
    assert!(!bay.hear(No, bay.now).recorded);
    bay.announced();
    let first = bay.hear(No, bay.now);
    assert!(first.recorded && first.announces, "{first:?}");
    let before = bay.job.ledger().clone();
    for _ in 0..2 {
        let again = bay.hear(No, bay.now + 300);
        assert!(!again.recorded && again.announces, "{again:?}");
        let step = Say::Step { step: 1, phase: None };
        assert!(again.says.contains(&step) && !again.says.iter().any(|say| matches!(say, Say::Refused(_))));
    }
    assert_eq!((bay.job.ledger(), rounds(&bay).len()), (&before, 1));
}

#[test]
fn done_said_twice_answers_nothing() {
    let mut bay = bleeding(None);
    bay.say(Done);
    bay.read("2.5");
    bay.say(Done);
    bay.announced();
    bay.hear(Done, bay.now);
    for again in [Done, Next, Done] {
        assert!(!bay.hear(again, bay.now + 300).recorded);
    }
    assert_eq!(bay.job.question(), Some(&Question::Until { step: 3, round: 1 }));
    assert!(bay.job.expects().no_claims, "a no ends the round, so it is listened to as closely as a claim");
}

#[test]
fn a_step_by_itself_is_done_again_by_itself() {
    let alone = Step { until: until(0, None), wait_minutes: Some(5), ..step(vec![Act::Clean("the port".into())]) };
    let mut bay = Bay::new(Vec::new(), vec![alone, step(Vec::new())]);
    bay.say(Done);
    bay.now += 6 * MINUTE;
    bay.say(Done);
    assert_eq!(bay.job.question(), Some(&Question::Until { step: 0, round: 1 }));
    bay.say(No);
    // Its wait runs again.
    assert_eq!(bay.say(Done), [Say::TimerStarted { minutes: 5 }]);
    assert!(bay.job.next_due().is_some());
    bay.now += 6 * MINUTE;
    bay.all([Done, Yes]);
    assert_eq!(bay.job.position(), 1);
}

#[test]
fn a_wait_that_another_round_cuts_short_ends_with_it_and_goes_on_after_undo() {
    let wait = Step { wait_minutes: Some(5), ..step(Vec::new()) };
    let steps = vec![wait, Step { until: until(0, None), ..step(Vec::new()) }];
    let mut bay = Bay::new(Vec::new(), steps);
    bay.all([Done, Skip, Yes, Done]);
    let due = bay.job.next_due();
    assert!(due.is_some());
    bay.say(No);
    assert_eq!((bay.job.next_due(), bay.job.position()), (None, 0));
    assert_eq!(bay.job.ledger().step(0), StepState::Open);
    bay.all([Undo, Yes]);
    assert_eq!((bay.job.next_due(), bay.job.position()), (due, 1));
}

#[test]
fn after_a_break_it_is_told_which_round_it_is() {
    let mut bay = bleeding(None);
    round(&mut bay);
    bay.all([No, Done, Pause]);
    let says = bay.say(Resume);
    assert!(says.contains(&Say::Round { step: 3, round: 2 }), "{says:?}");
    assert!(bay.say(WhereAmI).contains(&Say::Round { step: 3, round: 2 }));
    // And the question stands behind a break.
    bay.read("2.5");
    bay.all([Done, Done, TakeBreak]);
    assert_eq!(bay.say(No), [Say::Question(Question::Until { step: 3, round: 2 })]);
    bay.all([TakeBreak, Yes]);
    bay.say(Resume);
    bay.all([Done, Yes]);
    assert_eq!(bay.job.position(), 4);
    assert!(!bay.say(WhereAmI).iter().any(|say| matches!(say, Say::Round { .. })), "it is over");
}

#[test]
fn what_was_skipped_in_one_round_is_due_in_the_next() {
    let mut bay = bleeding(None);
    bay.all([Done, Skip, Yes]);
    assert_eq!(bay.job.ledger().step(2), StepState::Skipped);
    bay.all([Done, No]);
    assert_eq!(bay.job.ledger().step(2), StepState::Open);
}

#[test]
fn a_question_not_answered_is_named_where_it_is_passed() {
    let mut bay = bleeding(None);
    let says = bay.say(GoTo(6));
    let [Say::Question(Question::GoTo { between, .. })] = &says[..] else { panic!("{says:?}") };
    assert!(between.contains(&Between::Until(3)), "{between:?}");
}

#[test]
fn come_back_to_after_its_end_it_asks_again_only_if_it_is_done_again() {
    let mut bay = bleeding(None);
    round(&mut bay);
    bay.say(Yes);
    bay.all([Back, Done]);
    // What its act would do is done: nothing changes, and nothing is asked.
    assert_eq!((bay.job.position(), bay.job.question()), (4, None));
    assert!(bay.say(Mark).contains(&Say::Marked { step: 4 }));
}

/// Done again, or opened again by something else, it is begun anew: the rounds before were of what was undone.
#[test]
fn begun_anew_the_rounds_are_counted_anew() {
    let question = |round| Say::Question(Question::Until { step: 1, round });
    let alone =
        || Step { until: until(1, Some(2)), wait_minutes: Some(5), ..step(vec![Act::Clean("the port".into())]) };
    let mut bay = Bay::new(Vec::new(), vec![step(Vec::new()), alone(), step(Vec::new())]);
    let to_question = |bay: &mut Bay| {
        bay.say(Done);
        bay.now += 6 * MINUTE;
        bay.say(Done)
    };
    bay.say(Done);
    to_question(&mut bay);
    bay.say(No);
    to_question(&mut bay);
    bay.say(Yes);
    let before = bay.job.ledger().clone();
    bay.all([Back, Done]);
    assert_eq!(bay.job.question(), Some(&Question::Again { step: 1 }));
    bay.say(Yes);
    let mut back = bay.job.clone();
    bay.now += 6 * MINUTE;
    assert_eq!((bay.say(Done), bay.job.ledger().rounds(1)), (vec![question(1)], 0));
    let says = bay.say(No);
    assert!(says.contains(&Say::Round { step: 1, round: 2 }), "one of two is left: {says:?}");
    for command in [Undo, Yes] {
        back.apply(command, At(bay.now));
    }
    assert_eq!(*back.ledger(), before);
    // What it tightens was taken out since.
    let steps = vec![
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        Step { until: until(1, Some(2)), ..step(vec![fasten(0, &[0], Deed::Tighten(None))]) },
        step(Vec::new()),
    ];
    for (edition, round) in [(Edition::NOW, 1), (Edition::Third, 2)] {
        let mut bay = Bay::new(vec![group("bolt", &["only"], vec![torque("8 N·m")])], steps.clone());
        bay.job.follow(edition);
        bay.all([Done, Done, Done, No, Done, Yes, GoTo(1), Done, Yes]);
        assert_eq!(bay.job.ledger().step(1), StepState::Open);
        bay.all([Next, Done]);
        assert_eq!((bay.say(Done), bay.state(0)), (vec![question(round)], ItemState::Final));
    }
}
