//! Steps that are done only after a measurement outside its limits, or after a "no".

use super::*;
use crate::procedure::{Bounds, MeasureIx, Measurement, Named, Term, Until, When};
use Command::{Back, Correct, Done, GoTo, Next, No, Undo, Yes};

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
    assert_eq!(bay.job.open_points(6), [], "the reading is no open point: its steps were done");
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
fn what_was_done_stays_done_when_it_is_measured_again() {
    let mut bay = valve(false);
    bay.read("3.5");
    bay.all([Yes, Next, Done, GoTo(1)]);
    assert_eq!(bay.job.position(), 0);
    bay.read("2.5");
    assert_eq!(steps(&bay)[..3], [OK, OK, NotNeeded]);
    // What came off is open by itself.
    assert_eq!(bay.job.open_points(0), [Open::Component(ComponentIx(0), ComponentState::Off)]);
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
