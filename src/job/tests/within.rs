//! Steps that have to be done within a time of an earlier one, and steps that are due only after the job is closed.

use super::*;
use crate::procedure::{Named, Within};
use Command::{Done, Finish, GoTo, Next, No, Resume, TimeUp, Undo, Yes};

/// Sealant is applied; the cover has to be on within ten minutes, its bolts are another matter; then nothing more.
fn sealing() -> Bay {
    let within = Within { time: "10 min".parse().unwrap(), after: 0, late: "Take it off.".into() };
    let steps = vec![
        step(vec![Act::Apply("sealant".into())]),
        Step { within: Some(within), ..step(vec![Act::Clean("rim".into())]) },
        step(Vec::new()),
    ];
    Bay::new(Vec::new(), steps)
}

fn late(says: &[Say]) -> bool {
    says.contains(&Say::Refused(Refusal::TooLate { step: 1 }))
}

const ASKED: Say = Say::Question(Question::InTime { step: 1, reading: None });

#[test]
fn in_time_nothing_is_asked_and_no_timer_is_left() {
    let mut bay = sealing();
    assert_eq!(bay.job.next_due(), None, "the time counts from the end of the step before");
    let says = bay.say(Done);
    assert!(says.contains(&Say::Within { step: 1 }), "{says:?}");
    assert_eq!(bay.job.next_due(), Some(At(bay.now + 10 * MINUTE)));
    bay.now += 9 * MINUTE;
    bay.say(Done);
    assert_eq!((bay.job.ledger().step(1), bay.job.next_due()), (StepState::Done, None));
}

#[test]
fn when_the_time_is_over_it_is_told_with_what_to_do() {
    let mut bay = sealing();
    bay.say(Done);
    bay.now += 10 * MINUTE;
    let says = bay.say(TimeUp);
    assert!(says[0] == Say::TimeUp && late(&says), "{says:?}");
    // What is claimed now may have been done in time: only the user knows.
    for claim in [Done, Next] {
        assert_eq!(bay.say(claim), [ASKED]);
        assert!(late(&bay.say(No)));
        assert_eq!(bay.job.ledger().step(1), StepState::Open, "late, it is not done by itself");
    }
    bay.all([Done, Yes]);
    assert!(bay.job.ledger().in_time(1));
    bay.say(Done);
    assert_eq!(bay.job.ledger().step(1), StepState::Done);
    assert!(bay.job.facts().iter().any(|f| f.fact == Fact::InTime(1)), "whose word it was stands in the record");
}

#[test]
fn done_once_more_the_time_runs_anew() {
    let mut bay = sealing();
    bay.say(Done);
    bay.now += 11 * MINUTE;
    bay.all([TimeUp, GoTo(1)]);
    let says = bay.all([Done, Yes]);
    assert!(says.contains(&Say::Within { step: 1 }) && !late(&says), "{says:?}");
    assert_eq!(bay.job.next_due(), Some(At(bay.now + 10 * MINUTE)));
    bay.say(Done);
    assert_eq!(bay.job.ledger().step(1), StepState::Done);
}

#[test]
fn after_the_program_was_away_nobody_knows_and_it_is_asked() {
    let mut bay = sealing();
    bay.all([Done, Resume]);
    assert_eq!(bay.say(Done), [ASKED]);
    bay.all([Yes, Done]);
    assert_eq!(bay.job.ledger().step(1), StepState::Done);
}

#[test]
fn taken_back_the_clock_stops_and_goes_on() {
    let mut bay = sealing();
    bay.say(Done);
    let due = bay.job.next_due();
    bay.say(Done);
    assert_eq!(bay.job.next_due(), None);
    bay.all([Undo, Yes]);
    assert_eq!(bay.job.next_due(), due, "the time for it runs on as if it had not been done");
    bay.all([Undo, Yes]);
    assert_eq!((bay.job.next_due(), bay.job.position()), (None, 0));
}

/// The last step is due only later.
fn running_in() -> Bay {
    let later = Some("after 50 kilometres".to_owned());
    let mut measured = measure("2 mm", "3 mm");
    if let Act::Measure(m) = &mut measured {
        m.what = "play".into();
    }
    let steps = vec![step(Vec::new()), step(Vec::new()), Step { later, ..step(vec![measured]) }];
    let mut book = book::book(Vec::new(), steps);
    book.named = Vec::<Named>::new();
    Bay::with(book)
}

#[test]
fn what_is_due_later_is_told_at_the_end_and_the_job_closes_with_it_as_due() {
    let mut bay = running_in();
    bay.say(Done);
    assert_eq!(bay.say(Done), [Say::DueLater { steps: vec![2] }, Say::LastStepDone], "it is not gone on to");
    assert_eq!(bay.job.open_points(bay.job.position()), [], "while the job goes on it is no open point");
    let due = vec![Open::Due(vec![2])];
    assert_eq!(bay.say(Finish), [Say::Question(Question::Finish { open: due.clone() })]);
    assert_eq!(bay.say(Yes), [Say::Closed { open: 1 }]);
    assert_eq!(bay.job.closed(), Some(&due[..]));
}

#[test]
fn what_was_due_later_and_is_done_already_is_not_due() {
    let mut bay = running_in();
    bay.all([Done, Done]);
    let says = bay.say(GoTo(3));
    assert!(says.contains(&Say::DueLater { steps: vec![2] }), "{says:?}");
    bay.read("2.5");
    assert_eq!(bay.say(Done), [Say::LastStepDone]);
    bay.all([Finish, Yes]);
    assert_eq!(bay.job.closed(), Some(&[][..]));
}

/// Sealant, with the cover put on and its bolt tightened behind it.
fn covered(within: Option<Within>) -> Bay {
    let steps = vec![
        step(vec![Act::TakeOff(ComponentIx(0)), fasten(0, &[0], Deed::Remove)]),
        step(vec![Act::Clean("rim".into()), Act::Apply("sealant".into())]),
        Step { within, ..step(vec![Act::PutOn(ComponentIx(0)), fasten(0, &[0], Deed::HandStart)]) },
        step(vec![fasten(0, &[0], Deed::Tighten(None))]),
        step(vec![Act::PutOn(ComponentIx(1))]),
        step(Vec::new()),
    ];
    let mut book = book::book(vec![group("bolt", &["only"], vec![torque("8 N·m")])], steps);
    book.steps[0].acts.push(Act::TakeOff(ComponentIx(1)));
    let mut bay = Bay::with(book);
    bay.all([Done, Done, Done, Done, Done, Done]);
    assert_eq!((bay.job.position(), bay.job.open_points(5)), (5, vec![]));
    bay
}

/// Under a cover that is on nothing is sealed: what goes on top of it, and all that holds it, has to be done once more.
#[test]
fn what_was_put_on_top_is_open_again_when_what_is_under_it_is_done_again() {
    let in_time = Within { time: "10 min".parse().unwrap(), after: 1, late: "Take it off.".into() };
    for within in [Some(in_time), None] {
        let timed = within.is_some();
        let mut bay = covered(within);
        let before = bay.job.ledger().clone();
        assert_eq!(bay.all([GoTo(2), Done, Yes]), [Say::Question(Question::Apart { steps: vec![2], again: true })]);
        assert_eq!(*bay.job.ledger(), before);
        let says = bay.say(Yes);
        assert_eq!(says[0], Say::OpenAgain { steps: vec![2, 3] }, "{says:?}");
        let out = Open::Fasteners { group: G, items: vec![0], state: ItemState::Out, over: Vec::new() };
        let off = Open::Component(ComponentIx(0), ComponentState::Off);
        assert_eq!(
            bay.job.open_points(5),
            [out, off, Open::NotDone(vec![2, 3])],
            "the part beside it is not on top of it"
        );
        assert_eq!(bay.job.next_due(), timed.then_some(At(bay.now + 10 * MINUTE)));
        assert_eq!(bay.job.position(), 2);
        let mut back = bay.job.clone();
        // Each is claimed as it was the first time.
        bay.say(Done);
        assert_eq!((bay.state(0), bay.job.position(), bay.pending()), (ItemState::HandStarted, 3, Some((0, 0))));
        bay.say(Done);
        assert_eq!((bay.job.open_points(5), bay.state(0)), (vec![], ItemState::Final));
        for command in [Undo, Yes] {
            bay.now += 1_000;
            back.apply(command, At(bay.now));
        }
        assert_eq!((back.ledger(), back.next_due()), (&before, None));
    }
}

/// Who says so only now, or topped up what can be reached, took nothing off: what is on top stays as it is.
#[test]
fn what_did_not_come_off_stays_as_it_is() {
    let in_time = || Some(Within { time: "10 min".parse().unwrap(), after: 1, late: "Take it off.".into() });
    for within in [None, in_time()] {
        let timed = within.is_some();
        let mut bay = covered(within);
        let says = bay.all([GoTo(2), Done, Yes, No]);
        assert_eq!(says.iter().any(|say| matches!(say, Say::OpenAgain { .. })), timed, "{says:?}");
        let open = if timed { vec![Open::NotDone(vec![2])] } else { vec![] };
        assert_eq!((bay.job.open_points(5), bay.state(0)), (open, ItemState::Final));
        assert!(bay.job.facts().iter().any(|fact| fact.fact == Fact::Again(1)), "it was done again all the same");
        bay.all([GoTo(3), Done]);
        assert_eq!((bay.job.open_points(5), bay.state(0)), (vec![], ItemState::Final));
    }
    // Claimed late, it is asked before it is recorded; undo said to that records nothing, and so does a no of what was meant.
    let late = || {
        let steps = vec![
            step(vec![Act::TakeOff(ComponentIx(0)), fasten(0, &[0], Deed::Remove)]),
            step(vec![Act::Apply("sealant".into())]),
            step(vec![Act::PutOn(ComponentIx(0)), fasten(0, &[0], Deed::HandStart)]),
            step(vec![fasten(0, &[0], Deed::Tighten(None))]),
            step(Vec::new()),
        ];
        let mut bay = Bay::new(vec![group("bolt", &["only"], vec![torque("8 N·m")])], steps);
        bay.all([Done, Command::Skip, Yes, Done, Done, GoTo(2)]);
        assert_eq!(bay.say(Done), [Say::Question(Question::Apart { steps: vec![2], again: false })]);
        bay
    };
    let mut bay = late();
    bay.say(Undo);
    assert_eq!((bay.job.ledger().step(1), bay.job.question()), (StepState::Skipped, None));
    bay.all([Done, No]);
    assert_eq!((bay.job.open_points(5), bay.state(0)), (vec![Open::NotDone(vec![4])], ItemState::Final));
    let mut bay = late();
    let says = bay.say(Yes);
    assert_eq!((says[0].clone(), bay.state(0)), (Say::OpenAgain { steps: vec![2, 3] }, ItemState::Out));
    assert!(late().job.expects().no_claims, "no records it as well");
}

/// What of it is not done yet was begun too early, too.
#[test]
fn what_was_only_begun_on_top_is_begun_anew() {
    let steps = vec![
        step(vec![Act::TakeOff(ComponentIx(0)), fasten(0, &[0, 1], Deed::Slacken), Act::Disconnect(ConnectionIx(0))]),
        step(vec![Act::Apply("sealant".into())]),
        step(vec![
            Act::PutOn(ComponentIx(0)),
            Act::Connect(ConnectionIx(0)),
            fasten(0, &[0, 1], Deed::HandStart),
            fasten(0, &[0, 1], Deed::Tighten(None)),
            measure("2 mm", "3 mm"),
        ]),
        step(Vec::new()),
    ];
    let bolts = group("bolt", &["one", "two"], vec![torque("8 N·m")]);
    let mut bay = Bay::new(vec![bolts], steps);
    bay.all([Done, Done, Done, Done]);
    assert_eq!(bay.states(), [ItemState::Final, ItemState::HandStarted]);
    bay.all([GoTo(2), Done, Yes, Yes]);
    // They were slack in their holes before, so that is what they are again.
    assert_eq!((bay.states(), bay.job.position()), (vec![ItemState::Slackened; 2], 2));
    assert_eq!(
        (bay.job.ledger().component(ComponentIx(0)), bay.job.ledger().connected(ConnectionIx(0))),
        (ComponentState::Off, false)
    );
    assert!(matches!(bay.say(Next)[0], Say::Pending(_)), "put on and started by hand again, it is to be tightened");
    assert_eq!((bay.states(), bay.pending()), (vec![ItemState::HandStarted; 2], Some((0, 0))));
    bay.all([Done, Done]);
    bay.read("2.5");
    assert_eq!(bay.job.open_points(3), []);
    // A new one is due where it is single-use, and one that was tightened too far is not forgotten.
    let mut bay = covered(None);
    bay.all([GoTo(3), Command::Damaged(Damage::Broken), Yes, GoTo(2), Done, Yes, Yes]);
    assert_eq!(bay.state(0), ItemState::Scrapped, "it was gone already");
    bay.all([Done, Done]);
    assert_eq!(
        (bay.state(0), bay.job.ledger().item(G, 0).fitted, bay.job.open_points(5)),
        (ItemState::Final, 1, vec![])
    );
}

/// A wait on top of it ends with it, and goes on where that is taken back.
#[test]
fn a_wait_on_top_begins_anew() {
    let steps = vec![
        step(vec![Act::TakeOff(ComponentIx(0))]),
        step(vec![Act::Apply("sealant".into())]),
        Step { wait_minutes: Some(5), ..step(vec![Act::PutOn(ComponentIx(0))]) },
        step(Vec::new()),
    ];
    let mut bay = Bay::new(Vec::new(), steps);
    bay.all([Done, Done, Done]);
    let due = bay.job.next_due();
    assert!(due.is_some());
    bay.all([GoTo(2), Done, Yes, Yes]);
    assert_eq!((bay.job.next_due(), bay.job.ledger().component(ComponentIx(0))), (None, ComponentState::Off));
    bay.all([Undo, Yes]);
    assert_eq!((bay.job.next_due(), bay.job.ledger().component(ComponentIx(0))), (due, ComponentState::On));
}

/// Of a step that was opened again the next one has its time anew.
#[test]
fn what_follows_within_a_time_on_what_is_open_again_is_open_too() {
    let within = |after| Some(Within { time: "10 min".parse().unwrap(), after, late: "Take it off.".into() });
    let steps = vec![
        step(vec![Act::Apply("sealant".into())]),
        Step { within: within(0), ..step(vec![measure("2 mm", "3 mm")]) },
        Step { within: within(1), ..step(vec![Act::Clean("the edge".into())]) },
        step(Vec::new()),
    ];
    let mut bay = Bay::new(Vec::new(), steps);
    bay.say(Done);
    bay.read("2.5");
    bay.all([Done, Done]);
    let says = bay.all([GoTo(1), Done, Yes]);
    assert_eq!(says[0], Say::OpenAgain { steps: vec![1, 2] });
}

/// Needed only now, it is told when its time is over all the same.
#[test]
fn the_time_of_what_comes_to_be_needed_runs_to_its_end() {
    let within = Some(Within { time: "10 min".parse().unwrap(), after: 1, late: "Take it off.".into() });
    let steps = vec![
        Step { ask: Some("Is it dry?".into()), ..step(Vec::new()) },
        step(vec![Act::Apply("sealant".into())]),
        Step { within, when: Some(procedure::When::No(0)), later: None, ..step(vec![Act::Clean("the edge".into())]) },
        step(Vec::new()),
    ];
    for (edition, told) in [(Edition::NOW, true), (Edition::Third, false)] {
        let mut bay = Bay::new(Vec::new(), steps.clone());
        bay.job.follow(edition);
        bay.all([Done, Yes, Done]);
        assert_eq!((bay.job.ledger().step(2), bay.job.next_due()), (StepState::NotNeeded, None));
        let over = At(bay.now + 10 * MINUTE);
        bay.all([GoTo(1), Done, Yes, No]);
        assert_eq!((bay.job.ledger().step(2), bay.job.next_due()), (StepState::Open, told.then_some(over)));
        if told {
            let mut back = bay.job.clone();
            bay.now = over.0;
            let says = bay.say(Command::TimeUp);
            assert!(says.contains(&Say::Refused(Refusal::TooLate { step: 2 })), "{says:?}");
            for command in [Undo, Yes, Undo, Undo, Yes] {
                back.apply(command, At(over.0 - 1));
            }
            assert_eq!((back.ledger().step(2), back.next_due()), (StepState::NotNeeded, None));
        }
    }
}

#[test]
fn what_is_not_to_be_done_is_not_due_later() {
    let later =
        Step { later: Some("after 50 kilometres".into()), when: Some(procedure::When::No(0)), ..step(Vec::new()) };
    let steps = vec![Step { ask: Some("Is it dry?".into()), ..step(Vec::new()) }, later, step(Vec::new())];
    for (edition, due) in [(Edition::NOW, false), (Edition::Third, true)] {
        let mut bay = Bay::new(Vec::new(), steps.clone());
        bay.job.follow(edition);
        bay.all([Done, Yes]);
        let says = bay.say(Done);
        assert_eq!(says.iter().any(|say| matches!(say, Say::DueLater { .. })), due, "{says:?}");
        assert_eq!(bay.job.open_points(3).contains(&Open::Due(vec![1])), due);
    }
}

#[test]
fn what_is_measured_within_a_time_is_measured_again_when_that_begins_anew() {
    let within = Within { time: "15 s".parse().unwrap(), after: 0, late: "Wait.".into() };
    let steps = vec![
        step(vec![Act::Reach(ConditionIx(0))]),
        Step { within: Some(within), ..step(vec![measure("9 V", "12 V"), Act::Leave(ConditionIx(0))]) },
        step(Vec::new()),
    ];
    let mut bay = Bay::new(Vec::new(), steps);
    bay.say(Done);
    bay.read("10");
    bay.say(Done);
    assert_eq!(bay.job.ledger().step(1), StepState::Done);
    let says = bay.all([GoTo(1), Done, Yes]);
    assert_eq!(says[0], Say::OpenAgain { steps: vec![1] });
    assert_eq!(bay.job.ledger().measured(1, 0), None);
    assert!(matches!(bay.say(Next)[..], [Say::Refused(Refusal::Unmeasured { step: 1, act: 0 })]));
}

#[test]
fn to_version_0_3_it_stayed_done() {
    let mut bay = covered(None);
    bay.job.follow(Edition::Third);
    bay.all([GoTo(2), Done, Yes]);
    assert_eq!(bay.job.open_points(5), []);
}
