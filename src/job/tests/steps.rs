//! Going through the steps: cautions, hold points, waits, skipping, what is open, closing.

use super::*;
use Command::{Done, Next, No, Yes};

fn cautious(cause: Cause, steps: Vec<Step>) -> Bay {
    let mut book = book(Vec::new(), steps);
    let caution = Caution { signal: Signal::Caution, say: "It hangs.".into() };
    book.standing.push(StandingCaution { id: "hangs".into(), caution, cause });
    Bay::with(book)
}

fn warns(says: &[Say]) -> bool {
    says.iter().any(|s| matches!(s, Say::Standing(_)))
}

#[test]
fn a_caution_is_said_before_its_step() {
    let caution = Caution { signal: Signal::Warning, say: "Keep clear.".into() };
    let steps = vec![step(Vec::new()), Step { cautions: vec![caution.clone()], ..step(Vec::new()) }];
    let mut bay = Bay::new(Vec::new(), steps);
    let says = bay.say(Next);
    assert_eq!(says, [Say::Caution(caution.clone()), Say::Step { step: 1, phase: None }]);
    assert!(bay.say(Command::Resume).contains(&Say::Caution(caution)), "days later it is not known any more");
}

#[test]
fn a_standing_caution_comes_back_when_its_part_is_touched_at_phases_and_on_resuming_until_its_cause_ends() {
    let hang = || step(vec![Act::Hang(ComponentIx(0))]);
    let steps = vec![
        hang(),
        step(Vec::new()),
        hang(),
        Step { phase: Phase::Close, ..step(Vec::new()) },
        Step { phase: Phase::Close, ..step(vec![Act::PutOn(ComponentIx(0))]) },
        Step { phase: Phase::Prepare, ..step(vec![Act::TakeOff(ComponentIx(0))]) },
    ];
    let mut bay = cautious(Cause::Hung(ComponentIx(0)), steps);
    assert!(!warns(&bay.say(Done)), "another part");
    assert!(warns(&bay.say(Command::Resume)));
    assert!(warns(&bay.say(Done)), "the same part");
    assert!(warns(&bay.say(Done)), "a new phase");
    assert!(warns(&bay.say(Done)), "the part that hangs");
    assert!(!warns(&bay.say(Done)), "on again");
    assert!(!warns(&bay.say(Command::Resume)));
}

#[test]
fn a_hold_point_needs_its_confirmation() {
    let steps = vec![Step { hold: Some("Does it rest?".into()), ..step(Vec::new()) }, step(Vec::new())];
    let mut bay = Bay::new(Vec::new(), steps);
    assert!(matches!(bay.say(Next)[..], [Say::Question(Question::Hold { step: 0 })]));
    assert!(matches!(refused(&bay.say(Next)), Some(Refusal::AnswerFirst(_))));
    assert_eq!(bay.say(No), [Say::LeftAsItIs]);
    assert_eq!((bay.job.position(), bay.job.ledger().step(0)), (0, StepState::Open));
    bay.all([Done, Yes]);
    assert_eq!((bay.job.position(), bay.job.ledger().step(0)), (1, StepState::Done));
}

#[test]
fn a_step_waits_for_its_state_of_the_vehicle_and_its_measurements_too() {
    let steps = vec![
        Step { needs: Some(ConditionIx(0)), ..step(vec![measure("2 mm", "3 mm")]) },
        step(vec![Act::Reach(ConditionIx(0))]),
    ];
    let mut bay = Bay::new(Vec::new(), steps);
    assert_eq!(refused(&bay.say(Done)), Some(&Refusal::NotInState(ConditionIx(0))));
    assert_eq!(refused(&bay.read("2.5")), Some(&Refusal::NotInState(ConditionIx(0))));
    bay.all([Command::GoTo(2), Yes, Done, Command::Back]);
    bay.read("2.5");
    assert_eq!(bay.job.ledger().step(0), StepState::Done);
}

#[test]
fn a_wait_counts_from_what_came_before_it_and_survives() {
    let steps = vec![Step { wait_minutes: Some(10), ..step(vec![Act::Apply("sealant".into())]) }, step(Vec::new())];
    let mut bay = Bay::new(Vec::new(), steps);
    bay.say(Done);
    let due = bay.job.next_due().unwrap();
    assert_eq!(due, At(bay.now + 10 * MINUTE));
    bay.now += 4 * MINUTE;
    let says = bay.say(Done);
    assert!(matches!(says[..], [Say::Question(Question::Wait { minutes_left: 6, unwatched: false })]), "{says:?}");
    bay.say(No);
    bay.now += 6 * MINUTE;
    assert_eq!(bay.say(Command::TimeUp), [Say::TimeUp]);
    assert_eq!(bay.job.next_due(), None);
    bay.say(Done);
    assert_eq!(bay.job.position(), 1);
}

#[test]
fn a_step_that_only_waits_starts_its_clock_by_the_first_done() {
    let mut bay = Bay::new(Vec::new(), vec![Step { wait_minutes: Some(5), ..step(Vec::new()) }, step(Vec::new())]);
    assert_eq!(bay.say(Done), [Say::TimerStarted { minutes: 5 }]);
    bay.all([Command::Undo, Yes]);
    assert_eq!(bay.job.next_due(), None, "that was a fact");
    bay.say(Done);
    bay.now += 5 * MINUTE;
    bay.say(Done);
    assert_eq!(bay.job.position(), 1);
}

#[test]
fn a_timer_rings_once_and_no_other_time_is_up() {
    let mut bay = Bay::new(Vec::new(), vec![step(Vec::new())]);
    bay.say(Command::Timer(10));
    let says = bay.say(Command::TimeUp);
    assert!(matches!(says[..], [Say::Answer(Answer::HowLong { .. })]), "nothing is up yet: {says:?}");
    bay.now += 10 * MINUTE;
    assert_eq!(bay.say(Command::TimeUp), [Say::TimeUp]);
    assert_eq!(bay.job.next_due(), None);
}

#[test]
fn moments_at_the_end_of_time_are_no_trouble() {
    let mut job = Job::new(Arc::new(book(Vec::new(), vec![step(Vec::new())])));
    job.apply(Command::Timer(u32::MAX), At(i64::MAX));
    job.apply(Command::Ask(Ask::HowLong), At(i64::MIN));
    assert_eq!(job.next_due(), Some(At(i64::MAX)));
}

#[test]
fn skip_is_confirmed_and_stays_open() {
    let mut bay = Bay::new(Vec::new(), vec![step(Vec::new()), step(Vec::new())]);
    assert!(matches!(bay.say(Command::Skip)[..], [Say::Question(Question::Skip { step: 0 })]));
    bay.say(No);
    assert_eq!((bay.job.position(), bay.job.ledger().step(0)), (0, StepState::Open));
    bay.all([Command::Skip, Yes]);
    assert_eq!((bay.job.position(), bay.job.ledger().step(0)), (1, StepState::Skipped));
    assert_eq!(bay.say(Command::Ask(Ask::Open)), [Say::Answer(Answer::Open(vec![Open::Skipped(vec![0])]))]);
    bay.say(Command::Back);
    bay.say(Command::Skip);
    assert_eq!((bay.job.position(), bay.job.question()), (1, None), "it stays open as it was: nothing to ask");
    bay.all([Command::Back, Done]);
    assert_eq!(bay.job.ledger().step(0), StepState::Done);
}

#[test]
fn skipping_a_step_that_is_done_takes_nothing_from_it() {
    let mut bay = Bay::new(Vec::new(), vec![step(Vec::new()), step(Vec::new())]);
    bay.all([Done, Command::Back, Command::Skip]);
    assert_eq!((bay.job.ledger().step(0), bay.job.position()), (StepState::Done, 1));
}

#[test]
fn an_unlawful_act_is_refused_whole_with_the_step_that_is_missing() {
    let steps =
        vec![step(vec![Act::Place(SupportIx(0))]), step(vec![Act::Place(SupportIx(1)), Act::TakeAway(SupportIx(0))])];
    let mut bay = Bay::new(Vec::new(), steps);
    bay.go(2);
    let before = bay.job.ledger().clone();
    let says = bay.say(Done);
    let Some(Refusal::Unlawful { state: ThingState::Placed(false), open_step: Some(0), .. }) = refused(&says) else {
        panic!("{says:?}")
    };
    assert_eq!(*bay.job.ledger(), before, "the act before it was not recorded either");
}

#[test]
fn tightening_what_was_never_started_points_to_the_step_that_starts_it() {
    let steps = vec![
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        step(vec![fasten(0, &[0], Deed::Tighten(None))]),
    ];
    let mut bay = Bay::new(vec![group("bolt", &["only"], vec![torque("70 N·m")])], steps);
    let says = bay.go(2);
    assert!(matches!(refused(&says), Some(Refusal::Unlawful { open_step: Some(0), .. })), "{says:?}");
}

#[test]
fn tightening_what_no_step_starts_begins_with_starting_it() {
    let mut bay = Bay::new(
        vec![group("plug", &["only"], vec![torque("30 N·m")])],
        vec![step(vec![fasten(0, &[0], Deed::Slacken)]), step(vec![fasten(0, &[0], Deed::Tighten(None))])],
    );
    assert!(asks_remedy(&bay.say(Done), Remedy::Restart));
    bay.all([Done, Done]);
    assert_eq!(bay.state(0), ItemState::Final);
}

#[test]
fn what_is_undone_by_going_back_must_be_done_again() {
    let steps = vec![
        step(vec![fasten(0, &[0], Deed::Slacken), Act::Disconnect(procedure::ConnectionIx(0))]),
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        step(vec![fasten(0, &[0], Deed::Tighten(None))]),
        step(Vec::new()),
    ];
    let mut bay = Bay::new(vec![group("bolt", &["only"], vec![torque("70 N·m")])], steps);
    bay.all([Command::Skip, Yes, Done, Done, Next, Command::GoTo(1)]);
    let before = bay.job.ledger().clone();
    let says = bay.say(Done);
    assert_eq!(says[0], Say::OpenAgain { steps: vec![2] });
    assert_eq!((bay.state(0), bay.job.ledger().step(2)), (ItemState::Slackened, StepState::Open));
    bay.all([Command::Undo, Yes]);
    assert_eq!(*bay.job.ledger(), before, "and it is taken back as one");
    bay.say(Done);
    bay.all([Command::GoTo(3), Done, Done]);
    assert_eq!(bay.state(0), ItemState::Final);
}

#[test]
fn a_step_may_tighten_and_slacken_again() {
    let acts = vec![
        fasten(0, &[0], Deed::Remove),
        fasten(0, &[0], Deed::HandStart),
        fasten(0, &[0], Deed::Tighten(None)),
        fasten(0, &[0], Deed::Slacken),
    ];
    let mut bay = Bay::new(vec![group("bolt", &["only"], vec![torque("30 N·m")])], vec![step(acts), step(Vec::new())]);
    bay.all([Done, Done, Done]);
    assert_eq!((bay.state(0), bay.job.position()), (ItemState::Slackened, 1));
}

#[test]
fn a_measurement_outside_its_limits_stays_open_until_it_is_taken_again() {
    let mut bay = Bay::new(Vec::new(), vec![step(vec![measure("2.0 mm", "3.0 mm")]), step(Vec::new())]);
    assert!(matches!(refused(&bay.say(Done)), Some(Refusal::Unmeasured { .. })));
    let says = bay.read("3.4");
    assert!(matches!(says[..], [Say::Question(Question::Reading { verdict: Verdict::Over, .. })]), "{says:?}");
    let says = bay.say(Yes);
    assert_eq!(says[1..], [Say::OutsideLimits { step: 0, act: 0 }]);
    bay.all([Command::Skip, Yes]);
    assert!(matches!(bay.job.open_points(1)[..], [Open::Outside { step: 0, act: 0, .. }, Open::Skipped(_)]));
    assert!(bay.job.expects().reading.is_none());
    let says = bay.say(Command::Back);
    assert!(says.contains(&Say::AwaitMeasure { step: 0, act: 0 }), "{says:?}");
    assert!(bay.job.expects().reading.is_some());
    bay.read("2.5");
    assert_eq!((bay.job.open_points(1), bay.job.expects().reading), (Vec::new(), None));
    bay.all([Command::Undo, Yes]);
    assert_eq!(bay.job.open_points(1).len(), 2);
}

#[test]
fn finish_asks_kind_by_kind_and_closes_with_what_stays_open() {
    let steps = vec![
        step(vec![Act::Place(SupportIx(0)), Act::TakeOff(ComponentIx(1)), fasten(0, &[0], Deed::Slacken)]),
        step(Vec::new()),
    ];
    let mut bay = Bay::new(vec![group("bolt", &["only"], vec![torque("70 N·m")])], steps);
    bay.say(Done);
    let kinds = |says: &[Say]| match says {
        [Say::Question(Question::Finish { open })] => open.clone(),
        other => panic!("{other:?}"),
    };
    assert!(matches!(kinds(&bay.say(Command::Finish))[..], [Open::Fasteners { .. }]));
    assert!(matches!(kinds(&bay.say(Yes))[..], [Open::Component(ComponentIx(1), ComponentState::Off)]));
    bay.say(No);
    assert_eq!(bay.job.closed(), None, "one no, and it stays open");
    bay.say(Command::Finish);
    bay.all([Yes, Yes, Yes]);
    assert!(matches!(bay.job.question(), Some(Question::Finish { open }) if matches!(open[..], [Open::NotDone(_)])));
    assert_eq!(bay.say(Yes), [Say::Closed { open: 4 }]);
    assert_eq!(bay.job.closed().map(<[_]>::len), Some(4));
    let ledger = bay.job.ledger().clone();
    for command in [Done, Command::Undo, Command::Open, Command::Finish, Command::Mark] {
        assert_eq!(refused(&bay.say(command)), Some(&Refusal::Closed));
    }
    bay.say(Command::Resume);
    assert_eq!(*bay.job.ledger(), ledger);
}

#[test]
fn each_kind_of_open_point_needs_a_yes_of_its_own() {
    let steps = vec![
        step(vec![
            fasten(0, &[0], Deed::Slacken),
            Act::TakeOff(ComponentIx(0)),
            Act::Disconnect(ConnectionIx(0)),
            Act::Place(SupportIx(0)),
        ]),
        step(vec![measure("2.0 mm", "3.0 mm")]),
        step(vec![Act::Clean("the face".into())]),
        step(Vec::new()),
    ];
    let kind = |job: &Job| match job.question() {
        Some(Question::Finish { open }) => open.iter().map(std::mem::discriminant).collect::<Vec<_>>(),
        other => panic!("{other:?}"),
    };
    let mut bay = Bay::new(vec![group("bolt", &["only"], vec![torque("70 N·m")])], steps);
    bay.say(Done);
    bay.read("3.4");
    bay.all([Yes, Command::Skip, Yes, Command::Skip, Yes, Command::Finish]);
    let mut asked = Vec::new();
    // As many as there are kinds of points.
    for n in 1..=7 {
        let kinds = kind(&bay.job);
        assert!(kinds.iter().all(|k| *k == kinds[0] && !asked.contains(k)), "one kind, and a new one: {n}");
        asked.push(kinds[0]);
        // What is no yes closes nothing and counts for nothing.
        for other in [Done, Command::Next, Command::NotSure, Command::Mark] {
            bay.say(other);
            assert_eq!(kind(&bay.job), kinds);
        }
        assert_eq!(bay.job.closed(), None);
        bay.say(Yes);
    }
    assert_eq!(bay.job.closed().map(<[_]>::len), Some(7));
}

#[test]
fn finish_with_nothing_open_still_asks() {
    let mut bay = Bay::new(Vec::new(), vec![step(Vec::new())]);
    assert_eq!(bay.say(Done), [Say::LastStepDone]);
    assert_eq!(bay.say(Command::Finish), [Say::Question(Question::Finish { open: Vec::new() })]);
    assert_eq!(bay.say(Yes), [Say::Closed { open: 0 }]);
}

#[test]
fn where_the_job_stands_is_said_in_two_sentences() {
    let mut bay = tightening(|_| (), &["only"], vec![torque("70 N·m")]);
    assert!(matches!(
        bay.say(Command::WhereAmI)[..],
        [Say::Where { step: 1, steps: 3 }, Say::Answer(Answer::Value(_))]
    ));
    let says = bay.say(Command::Resume);
    assert!(matches!(says[..], [Say::Resumed { .. }, Say::Where { step: 1, .. }, Say::Pending(_)]), "{says:?}");
    bay.say(Command::Back);
    let says = bay.say(Command::Resume);
    assert!(matches!(says[..], [Say::Resumed { .. }, Say::Where { step: 0, .. }, Say::Step { .. }]), "{says:?}");
}

#[test]
fn a_job_that_ended_before_its_first_word_begins_when_it_is_taken_up() {
    let mut job = Job::new(Arc::new(book::book(Vec::new(), vec![step(Vec::new())])));
    let reply = job.apply(Command::Resume, At(5));
    assert!(reply.recorded && reply.says[0] == Say::Opening, "{reply:?}");
    assert!(matches!(job.apply(Command::Resume, At(6)).says[0], Say::Resumed { last: At(5) }));
}

#[test]
fn a_paused_job_is_taken_up_again() {
    let mut bay = Bay::new(Vec::new(), vec![step(Vec::new())]);
    assert_eq!(bay.say(Command::Pause), [Say::Paused]);
    assert!(bay.job.is_paused());
    bay.say(Command::Resume);
    assert!(!bay.job.is_paused());
}

#[test]
fn moving_off_either_end_is_refused() {
    let mut bay = Bay::new(Vec::new(), vec![step(Vec::new()), step(Vec::new())]);
    assert_eq!(refused(&bay.say(Command::Back)), Some(&Refusal::AtFirst));
    assert_eq!(refused(&bay.say(Command::GoTo(0))), Some(&Refusal::NoSuchStep { asked: 0, steps: 2 }));
    assert_eq!(refused(&bay.say(Command::GoTo(3))), Some(&Refusal::NoSuchStep { asked: 3, steps: 2 }));
    assert_eq!(bay.job.position(), 0);
}
