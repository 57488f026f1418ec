//! Steps that are done only after a measurement outside its limits, or after a "no".

use super::*;
use crate::procedure::{Bounds, MeasureIx, Measurement, Named, Term, Until, When};
use Command::{Back, Correct, Done, GoTo, Next, No, Skip, Undo, Yes};

/// A gap between 2 and 3 mm that is measured; a ring changed where it is off; a question, and a plug opened after a "no".
fn valve(again: bool) -> Bay {
    let mut gap = measure("2 mm", "3 mm");
    if let Act::Measure(m) = &mut gap {
        (m.name, m.leads) = (Some(MeasureIx(0)), true);
    }
    let outside = Some(When::Outside(MeasureIx(0)));
    let round = again.then_some(Until { ask: None, from: 0, at_most: None, otherwise: None });
    let steps = vec![
        step(vec![gap]),
        Step { when: outside, ..step(vec![Act::TakeOff(ComponentIx(0))]) },
        Step { when: outside, until: round, ..step(vec![Act::PutOn(ComponentIx(0))]) },
        Step { ask: Some("Does it run?".into()), ..step(Vec::new()) },
        Step { when: Some(When::No(3)), ..step(vec![Act::Disconnect(ConnectionIx(0)), Act::Connect(ConnectionIx(0))]) },
        step(Vec::new()),
    ];
    let mut book = book::book(Vec::new(), steps);
    book.named = vec![Named { id: "gap".into(), what: "gap".into(), step: 0, act: 0 }];
    Bay::with(book)
}

fn steps(bay: &Bay) -> Vec<StepState> {
    (0..6).map(|step| bay.job.ledger().step(step)).collect()
}

use StepState::{NotNeeded, Open as NotDone};
const OK: StepState = StepState::Done;

#[test]
fn what_is_in_order_needs_no_steps_and_says_so() {
    let mut bay = valve(false);
    bay.read("2.5");
    assert_eq!(steps(&bay), [OK, NotNeeded, NotNeeded, NotDone, NotDone, NotDone]);
    let says = bay.say(Next);
    assert_eq!(says[0], Say::NotNeeded { steps: vec![1, 2] });
    assert_eq!(bay.job.position(), 3);
    assert_eq!(bay.say(Done), [Say::Question(Question::Ask { step: 3 })]);
    assert!(
        bay.job.expects().no_claims,
        "a no says that steps are to be done, so it is listened to as closely as a claim"
    );
    let says = bay.say(Yes);
    assert_eq!(says[0], Say::NotNeeded { steps: vec![4] });
    assert_eq!(bay.job.position(), 5);
    bay.say(Done);
    assert_eq!(bay.job.open_points(6), [], "what is not needed is not open");
    assert_eq!(bay.say(Back)[0], Say::Step { step: 3, phase: None }, "nor is it gone back to");
}

#[test]
fn what_is_outside_holds_nothing_up_where_the_book_has_steps_for_it() {
    let mut bay = valve(false);
    bay.read("3.5");
    let says = bay.say(Yes);
    assert!(says.contains(&Say::OutsideLimits { step: 0, act: 0 }), "{says:?}");
    assert_eq!(steps(&bay)[..3], [OK, NotDone, NotDone]);
    bay.say(Next);
    assert_eq!(bay.job.position(), 1);
    bay.all([Done, Done]);
    assert_eq!((steps(&bay)[..3].to_vec(), bay.job.position()), (vec![OK, OK, OK], 3));
    bay.all([Done, No]);
    assert_eq!(bay.job.position(), 4);
    assert!(bay.job.facts().iter().any(|f| f.fact == Fact::Answered { step: 3, yes: false }));
    bay.all([Done, Done]);
    // What was done about it is one thing, whether it is in order now another.
    let value = "3.5 mm".parse().unwrap();
    let open = Open::Outside { step: 0, act: 0, value };
    assert_eq!(bay.job.open_points(6), std::slice::from_ref(&open));
    bay.say(Done);
    let question = Question::Finish { open: vec![open.clone()] };
    assert_eq!(bay.say(Command::Finish), [Say::Question(question)]);
    let mut closed = bay.job.clone();
    closed.apply(Yes, At(bay.now));
    assert_eq!(closed.closed(), Some(&[open][..]));
    // Come back to, it is asked for; measured again inside, nothing is open.
    let says = bay.all([No, GoTo(1)]);
    assert!(
        says.ends_with(&[Say::OutsideLimits { step: 0, act: 0 }, Say::AwaitMeasure { step: 0, act: 0 }]),
        "{says:?}"
    );
    bay.read("2.5");
    assert_eq!((bay.job.open_points(6), steps(&bay)[..3].to_vec()), (vec![], vec![OK, OK, OK]));
}

#[test]
fn to_version_0_3_a_reading_that_leads_somewhere_was_no_open_point() {
    let mut bay = valve(false);
    bay.job.follow(Edition::Third);
    bay.read("3.5");
    bay.all([Yes, Next, Done, Done, Done, Yes, Done]);
    assert_eq!(bay.say(Command::Finish), [Say::Question(Question::Finish { open: Vec::new() })]);
    bay.job.follow(Edition::NOW);
    assert!(matches!(bay.job.open_points(6)[..], [Open::Outside { step: 0, .. }]));
}

#[test]
fn steps_that_are_needed_and_were_not_done_stay_open() {
    let mut bay = valve(false);
    bay.read("3.5");
    bay.all([Yes, GoTo(4), Yes]);
    assert!(bay.job.open_points(6).contains(&Open::NotDone(vec![1, 2, 3, 4, 5])), "{:?}", bay.job.open_points(6));
}

#[test]
fn a_reading_put_right_or_taken_back_decides_anew() {
    let mut bay = valve(false);
    bay.read("3.5");
    bay.say(Yes);
    assert_eq!(steps(&bay)[1], NotDone);
    bay.say(Correct);
    bay.read("2.5");
    assert_eq!(steps(&bay)[..3], [OK, NotNeeded, NotNeeded]);
    bay.all([Undo, Yes]);
    assert_eq!(steps(&bay)[..3], [NotDone, NotDone, NotDone]);
    assert!(matches!(bay.say(Done)[..], [Say::Refused(Refusal::Unmeasured { step: 0, act: 0 })]));
    bay.read("2.5");
    bay.all([Next, Done, Yes]);
    assert_eq!(steps(&bay)[4], NotNeeded);
    let says = bay.all([Undo, Yes]);
    assert_eq!(
        says.last(),
        Some(&Say::Question(Question::Ask { step: 3 })),
        "the answer was wrong, so it is asked again"
    );
    assert_eq!(steps(&bay)[3..5], [NotDone, NotDone]);
}

#[test]
fn what_is_begun_is_brought_to_its_end_though_it_is_measured_again() {
    let mut bay = valve(false);
    bay.read("3.5");
    bay.all([Yes, Next, Done, GoTo(1)]);
    assert_eq!(bay.job.position(), 0);
    bay.read("2.5");
    assert_eq!(steps(&bay)[..3], [OK, OK, NotDone], "what came off has to be put on");
    bay.all([Next, Next]);
    assert_eq!(bay.job.position(), 2);
    bay.say(Done);
    assert_eq!((steps(&bay)[2], bay.job.open_points(0)), (OK, vec![]));
}

#[test]
fn where_it_is_in_order_by_the_end_of_a_round_no_other_round_begins() {
    let mut bay = valve(true);
    bay.read("3.5");
    bay.all([Yes, Next, Done, GoTo(1)]);
    bay.read("2.5");
    assert_eq!(steps(&bay)[..3], [OK, OK, NotDone], "what came off has to be put on");
    let says = bay.all([GoTo(3), Done]);
    assert!(!says.iter().any(|say| matches!(say, Say::Round { .. })), "{says:?}");
    assert_eq!((bay.job.position(), steps(&bay)[2], bay.job.ledger().rounds(2)), (3, OK, 0));
    assert!(bay.job.ledger().measured(0, 0).is_some(), "nor is it to be measured again");
    // To version 0.3 it did.
    let mut bay = valve(true);
    bay.job.follow(Edition::Third);
    bay.read("3.5");
    bay.all([Yes, Next, Done, GoTo(1)]);
    bay.read("2.5");
    assert_eq!(bay.all([GoTo(3), Done])[0], Say::Round { step: 2, round: 2 });
}

#[test]
fn measured_again_by_another_round_it_is_open_until_that_is_done() {
    let mut bay = valve(true);
    bay.read("3.5");
    bay.say(Yes);
    assert!(bay.job.open_points(1).iter().any(|open| matches!(open, Open::Outside { .. })));
    bay.all([Next, Done, Done]);
    assert_eq!((bay.job.position(), bay.job.ledger().measured(0, 0)), (0, None));
    assert_eq!(bay.job.open_points(1), [Open::NotDone(vec![0])], "it is to be measured");
    bay.read("2.5");
    assert_eq!(bay.job.open_points(1), []);
}

#[test]
fn without_a_question_the_rounds_end_when_it_is_in_order() {
    let mut bay = valve(true);
    for round in 1..=3 {
        bay.read("3.5");
        bay.all([Yes, Next, Done]);
        let says = bay.say(Done);
        assert_eq!(says[0], Say::Round { step: 2, round: round + 1 });
        assert_eq!((bay.job.position(), bay.job.ledger().measured(0, 0)), (0, None));
    }
    bay.all([Undo, Yes]);
    assert_eq!(
        (bay.job.position(), steps(&bay)[2]),
        (2, NotDone),
        "taken back, it stands at the end of the round before"
    );
    bay.say(Done);
    bay.read("2.5");
    bay.say(Next);
    assert_eq!((bay.job.position(), bay.job.ledger().rounds(2)), (3, 3));
    assert_eq!(bay.job.facts().iter().filter(|f| f.reading.is_some()).count(), 4, "the reading of each round is kept");
}

/// The shim that is wanted: the old one and the gap, less the gap that is wanted.
#[test]
fn limits_count_from_several_measurements() {
    let named = |ix: usize, what: &str, step: usize| Named { id: what.into(), what: what.into(), step, act: ix };
    let recorded = |what: &str, ix| {
        Act::Measure(Measurement {
            what: what.into(),
            name: Some(MeasureIx(ix)),
            unit: "mm".parse().unwrap(),
            from: None,
            more: Vec::new(),
            leads: false,
            among: None,
            limits: Bounds { least: None, most: None },
            otherwise: String::new(),
            source: None,
        })
    };
    let limits = Bounds { least: "-0.22 mm".parse().ok(), most: "-0.18 mm".parse().ok() };
    let Act::Measure(old) = recorded("new", 0) else { unreachable!() };
    let more = vec![Term { of: MeasureIx(1), less: false }];
    let new = Measurement { name: None, from: Some(MeasureIx(0)), more, limits, otherwise: "Order it.".into(), ..old };
    let steps = vec![step(vec![recorded("old", 0), recorded("gap", 1)]), step(vec![Act::Measure(new)])];
    let mut book = book::book(Vec::new(), steps);
    book.named = vec![named(0, "old", 0), named(1, "gap", 0)];
    let mut bay = Bay::with(book);
    bay.read("2.40");
    bay.say(GoTo(2));
    bay.say(Yes);
    assert!(
        matches!(bay.read("2.5")[..], [Say::Refused(Refusal::Unmeasured { step: 0, act: 1 })]),
        "one of the two is missing"
    );
    bay.say(GoTo(1));
    bay.read("0.35");
    let limits = bay.job.limits(1, 0);
    assert_eq!((limits.least, limits.most), ("2.53 mm".parse().ok(), "2.57 mm".parse().ok()));
    bay.all([Undo, Yes]);
    // In inches: four thousandths more are a tenth of a millimetre, and inwards.
    bay.say(Command::Reading(Reading { amount: "0.014".parse().unwrap(), unit: Some("in".parse().unwrap()) }));
    let limits = bay.job.limits(1, 0);
    assert_eq!((limits.least, limits.most), ("2.54 mm".parse().ok(), "2.57 mm".parse().ok()));
}

/// A part comes off and goes on again only where the answer was no.
#[test]
fn a_branch_half_done_keeps_what_was_left_open_when_the_answer_is_changed() {
    let after_no = |acts| Step { when: Some(When::No(0)), ..step(acts) };
    let steps = vec![
        Step { ask: Some("Is it sound?".into()), ..step(Vec::new()) },
        after_no(vec![Act::TakeOff(ComponentIx(0))]),
        after_no(vec![Act::PutOn(ComponentIx(0))]),
        step(Vec::new()),
    ];
    let mut bay = Bay::new(Vec::new(), steps);
    bay.all([Done, No, Done, Skip, Yes, GoTo(1)]);
    assert_eq!(bay.all([Done, Yes]), [Say::Question(Question::Ask { step: 0 })]);
    bay.say(Yes);
    assert_eq!(bay.job.ledger().answered(0), Some(true));
    assert_eq!(bay.job.ledger().step(2), StepState::Skipped);
    assert!(bay.job.open_points(4).contains(&Open::Skipped(vec![2])));
    bay.say(Next);
    assert_eq!(bay.job.position(), 2, "it is come to again");
}

#[test]
fn what_was_left_open_and_is_not_needed_any_more_is_told() {
    let mut bay = valve(false);
    bay.read("3.5");
    bay.all([Yes, Next, Skip, Yes, GoTo(1)]);
    assert_eq!(steps(&bay)[1], StepState::Skipped);
    let says = bay.read("2.5");
    assert_eq!(says[0], Say::NotNeeded { steps: vec![1] });
    assert_eq!(steps(&bay)[..3], [OK, NotNeeded, NotNeeded]);
    bay.all([Undo, Yes]);
    assert_eq!(steps(&bay)[1], StepState::Skipped);
}

#[test]
fn nothing_is_claimed_of_a_step_that_is_not_needed() {
    let mut bay = valve(false);
    bay.read("2.5");
    bay.all([Next, GoTo(2)]);
    let facts = bay.job.facts().len();
    let on = Some(On::Measurement { step: 0, act: 0 });
    assert_eq!(bay.say(Done), [Say::Refused(Refusal::NotNeeded { step: 1, on })]);
    assert_eq!((bay.job.facts().len(), bay.job.question(), steps(&bay)[1]), (facts, None, NotNeeded));
    bay.say(Next);
    assert_eq!(bay.job.position(), 3);
    bay.all([Done, Yes, GoTo(5)]);
    let on = Some(On::Answer { step: 3 });
    assert_eq!(bay.say(Done), [Say::Refused(Refusal::NotNeeded { step: 4, on })]);
}

#[test]
fn what_nobody_knows_to_be_needed_is_passed_over_told_and_stays_open() {
    let mut bay = valve(false);
    let says = bay.all([Skip, Yes]);
    let on = On::Measurement { step: 0, act: 0 };
    assert_eq!(says[..2], [Say::Skipped { step: 0 }, Say::Undecided { steps: vec![1, 2], on }]);
    assert_eq!(bay.job.position(), 3);
    assert_eq!(bay.say(GoTo(2)), [Say::Undecided { steps: vec![1], on }], "nor does it sound like work");
    assert_eq!(bay.say(Command::WhereAmI)[1], Say::Undecided { steps: vec![1], on });
    let facts = bay.job.facts().len();
    assert_eq!(bay.say(Done), [Say::Refused(Refusal::Undecided { step: 1, on })]);
    assert_eq!((bay.job.facts().len(), steps(&bay)[1]), (facts, NotDone));
    bay.say(Next);
    assert_eq!(bay.job.position(), 3);
    bay.say(Back);
    assert_eq!(bay.job.position(), 0);
    assert!(bay.job.open_points(6).contains(&Open::NotDone(vec![1, 2, 3, 4, 5])));
    bay.read("3.5");
    bay.all([Yes, Next]);
    assert_eq!((bay.job.position(), bay.job.ledger().step(1)), (1, NotDone));
    bay.say(Done);
    assert_eq!(steps(&bay)[1], OK);
}

#[test]
fn a_wrong_answer_is_put_right_by_going_back() {
    let mut bay = valve(false);
    bay.read("2.5");
    bay.all([Next, Done, Yes, Done, GoTo(4)]);
    assert_eq!(steps(&bay)[4], NotNeeded);
    assert_eq!(bay.say(Done), [Say::Question(Question::Again { step: 3 })]);
    assert_eq!(bay.say(Yes), [Say::Question(Question::Ask { step: 3 })]);
    bay.say(No);
    assert_eq!((bay.job.position(), steps(&bay)[4]), (4, NotDone));
}

/// A shim, a depth whose limits count from it, and a disc that is renewed where the depth is wrong.
fn counting() -> Bay {
    let measured = |what: &str, ix, leads, from, limits| {
        Act::Measure(Measurement {
            what: what.into(),
            name: Some(MeasureIx(ix)),
            unit: "mm".parse().unwrap(),
            from,
            more: Vec::new(),
            leads,
            among: None,
            limits,
            otherwise: "Tell the office.".into(),
            source: None,
        })
    };
    let between = |least: &str, most: &str| Bounds { least: least.parse().ok(), most: most.parse().ok() };
    let shim = measured("shim", 0, false, None, between("2.5 mm", "2.9 mm"));
    let depth = measured("depth", 1, true, Some(MeasureIx(0)), between("0.1 mm", "0.2 mm"));
    let steps = vec![
        step(vec![Act::TakeOff(ComponentIx(0)), shim]),
        step(vec![depth]),
        step(vec![Act::PutOn(ComponentIx(0))]),
        Step { when: Some(When::Outside(MeasureIx(1))), ..step(Vec::new()) },
        step(Vec::new()),
    ];
    let mut book = book::book(Vec::new(), steps);
    let named = |what: &str, step, act| Named { id: what.into(), what: what.into(), step, act };
    book.named = vec![named("shim", 0, 1), named("depth", 1, 0)];
    let mut bay = Bay::with(book);
    bay.say(Done);
    bay.read("2.6");
    bay.say(Next);
    bay
}

#[test]
fn without_what_the_limits_count_from_nothing_is_decided() {
    let mut bay = counting();
    bay.read("2.9");
    bay.all([Yes, Next]);
    assert_eq!(bay.job.position(), 2);
    // The shim is measured anew, since the lid comes off once more.
    bay.all([Done, GoTo(1), Done, Yes]);
    assert_eq!(bay.job.ledger().measured(0, 1), None);
    assert_eq!(bay.job.ledger().step(3), NotDone);
    let says = bay.all([Skip, Yes, Next, Done]);
    let on = On::Measurement { step: 0, act: 1 };
    assert!(says.contains(&Say::Undecided { steps: vec![3], on }), "{says:?}");
    assert_eq!(bay.job.ledger().step(3), NotDone);
}

#[test]
fn a_number_put_right_on_the_same_side_decides_anew() {
    let mut bay = counting();
    bay.read("2.75");
    assert_eq!(bay.job.ledger().step(3), NotNeeded);
    bay.all([Next, Done, GoTo(1), Done, Yes]);
    bay.read("2.6");
    assert_eq!(bay.job.ledger().step(3), NotNeeded);
    bay.say(Correct);
    bay.read("2.8");
    assert_eq!(bay.job.ledger().step(3), NotDone, "by the other number the depth lies outside");
    bay.all([Undo, Yes]);
    assert_eq!(bay.job.ledger().measured(0, 1), None);
}

/// What is not to be done asks nothing, so nothing that follows from its answer is to be done.
#[test]
fn what_depends_on_a_step_that_is_not_needed_is_not_needed() {
    let steps = vec![
        Step { ask: Some("Does it run?".into()), ..step(Vec::new()) },
        Step { when: Some(When::No(0)), ask: Some("Is the fuse whole?".into()), ..step(Vec::new()) },
        Step { when: Some(When::No(1)), ..step(Vec::new()) },
        step(Vec::new()),
    ];
    let mut bay = Bay::new(Vec::new(), steps);
    let says = bay.all([Done, Yes]);
    assert_eq!(says[0], Say::NotNeeded { steps: vec![1, 2] });
    bay.say(GoTo(3));
    assert_eq!(bay.say(Done), [Say::Refused(Refusal::NotNeeded { step: 2, on: None })]);
}
