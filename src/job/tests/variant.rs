//! Variants of the vehicle: which one it is comes before everything else.

use super::*;
use Command::{
    Ask as Asked, Back, Done, Finish, GoTo, Next, No, NotSure, Open as Begin, Pause, Resume, TakeBreak, Undo, WhereAmI,
    Yes,
};
use procedure::{Variant, VariantIx};

/// Two variants: the second step is for the first of them, the third for the other, and the last is done again from there on.
fn book() -> Procedure {
    let only = |ix, acts| Step { only: Some(VariantIx(ix)), ..step(acts) };
    let bolt = |deed| fasten(0, &[0], deed);
    let steps = vec![
        step(vec![bolt(Deed::Remove)]),
        only(0, vec![Act::Disconnect(ConnectionIx(0)), Act::Connect(ConnectionIx(0))]),
        only(1, vec![Act::Place(SupportIx(0)), Act::TakeAway(SupportIx(0))]),
        step(vec![bolt(Deed::HandStart)]),
        Step { until: until(1, None), ..step(vec![]) },
        step(vec![bolt(Deed::Tighten(None))]),
    ];
    let variant = |id: &str| Variant { id: id.into(), name: format!("with {id}") };
    let bolt = group("bolt", &["left"], vec![torque("8 N·m"), angle("90 deg")]);
    Procedure { variants: ["one", "two"].map(variant).into(), ..book::book(vec![bolt], steps) }
}

fn asks(variant: usize) -> Say {
    Say::Question(Question::Variant { variant: VariantIx(variant) })
}

#[test]
fn it_is_asked_first_said_back_and_only_its_steps_come() {
    let mut bay = Bay::with(book());
    assert_eq!(bay.job.question(), Some(&Question::Variant { variant: VariantIx(0) }));
    assert_eq!(bay.say(No), [asks(1)]);
    let says = bay.say(Yes);
    assert_eq!(says[0], Say::Variant(VariantIx(1)));
    assert!(matches!(says[1], Say::Step { step: 0, phase: Some(_) }), "{says:?}");
    assert_eq!(bay.job.facts()[0].fact, Fact::Variant(VariantIx(1)));
    assert_eq!(bay.job.book().steps.len(), 5);
    bay.all([Done, Done]);
    assert_eq!(bay.job.position(), 2);
    // The round begins with the first of its steps that there is.
    let says = bay.all([Done, Done, No]);
    assert!(says.contains(&Say::Step { step: 1, phase: None }), "{says:?}");
    assert_eq!(bay.job.book().steps[1].acts[0], Act::Place(SupportIx(0)));
}

#[test]
fn nothing_else_is_followed_before_it_is_known() {
    for command in [Done, Next, GoTo(3), Back, Finish, Undo, NotSure, WhereAmI, Asked(Ask::Open), Command::Timer(3)] {
        let mut bay = Bay::with(book());
        let before = bay.job.clone();
        let says = bay.say(command.clone());
        let first = Refusal::AnswerFirst(Box::new(Question::Variant { variant: VariantIx(0) }));
        assert_eq!(says, [Say::Refused(first)], "{command:?}");
        assert_eq!((bay.job.ledger(), bay.job.question()), (before.ledger(), before.question()), "{command:?}");
        assert!(bay.job.facts().is_empty());
    }
}

#[test]
fn none_of_them_is_told_and_asked_anew() {
    let mut bay = Bay::with(book());
    assert_eq!(bay.all([No, No]), [Say::Refused(Refusal::NoVariant), asks(0)]);
}

#[test]
fn a_break_before_it_is_known_asks_again() {
    let mut bay = Bay::with(book());
    bay.all([No, Pause]);
    assert_eq!(bay.say(Yes), [asks(0)], "no question stands, so none is answered");
    bay.say(Pause);
    assert_eq!(bay.say(Resume), [Say::Opening, asks(0)]);
    assert_eq!(bay.all([No, TakeBreak, No]), [asks(1)]);
}

#[test]
fn no_said_twice_does_not_pass_over_a_variant() {
    let mut bay = Bay::with(book());
    bay.announced();
    assert!(bay.hear(No, bay.now).recorded);
    assert!(!bay.hear(No, bay.now + 200).recorded);
    assert_eq!(bay.job.question(), Some(&Question::Variant { variant: VariantIx(1) }));
    bay.announced();
    assert!(bay.hear(Yes, bay.now).recorded);
    assert!(!bay.hear(Yes, bay.now + 200).recorded);
}

#[test]
fn it_is_taken_back_by_undo_while_nothing_else_was_recorded() {
    let mut bay = Bay::with(book());
    bay.all([No, Yes]);
    assert_eq!(bay.say(Undo), [Say::Question(Question::Undo(Fact::Variant(VariantIx(1))))]);
    assert_eq!(bay.say(Yes), [Say::TakenBack(Fact::Variant(VariantIx(1))), asks(0)]);
    assert_eq!(bay.job.book().steps.len(), 6);
    bay.say(Yes);
    assert_eq!(bay.job.book().variant, Some(VariantIx(0)));
    assert_eq!(bay.job.book().steps[1].acts[0], Act::Disconnect(ConnectionIx(0)));
    assert!(bay.job.facts()[0].taken_back && !bay.job.facts().last().unwrap().taken_back);
}

/// The facts of one variant have no place among the steps of the other, and neither has what was confirmed on the way to them.
#[test]
fn what_was_recorded_and_taken_back_belongs_to_its_variant() {
    for said in [vec![Done, Undo, Yes], vec![GoTo(5), Yes]] {
        let mut bay = Bay::with(book());
        bay.say(Yes);
        bay.all(said.clone());
        bay.say(Undo);
        let says = bay.say(Yes);
        assert_eq!(bay.job.book().variant, Some(VariantIx(0)), "{said:?}: {says:?}");
        assert_eq!(bay.say(Undo), [Say::Refused(Refusal::VariantStands)], "{said:?}");
    }
}

#[test]
fn a_turn_in_doubt_outlasts_the_wish_to_choose_again() {
    let mut bay = Bay::with(book());
    // To the end of the torque, and the turn claimed.
    bay.all([Yes, Done, Done, Done, Done, Yes, Done, Done]);
    assert_eq!(bay.state(0), ItemState::Final);
    bay.now += MINUTE;
    while bay.job.facts().iter().filter(|fact| !fact.taken_back).count() > 1 {
        bay.all([Undo, Yes]);
    }
    assert_eq!(bay.state(0), ItemState::InDoubt);
    assert_eq!(bay.say(Undo), [Say::Refused(Refusal::VariantStands)]);
    assert_eq!((bay.state(0), bay.job.book().variant), (ItemState::InDoubt, Some(VariantIx(0))));
}

#[test]
fn the_same_commands_lead_to_the_same_job() {
    let commands = [Begin, No, Yes, Undo, Yes, Yes, Done, Undo, Yes, Done];
    let play = || {
        let mut job = Job::new(Arc::new(book()));
        for (n, command) in commands.iter().enumerate() {
            job.apply(command.clone(), At(n as i64));
        }
        job
    };
    let (one, other) = (play(), play());
    assert_eq!((one.digest(), one.position(), one.facts()), (other.digest(), other.position(), other.facts()));
    assert_eq!(one.book().variant, Some(VariantIx(0)));
}

/// A measurement leads only where there are steps for it: what is to be done in the other variant says nothing of this one.
#[test]
fn a_measurement_that_failed_holds_where_its_steps_are_for_another_variant() {
    use procedure::{MeasureIx, Named, When};
    let mut gap = measure("2 mm", "3 mm");
    if let Act::Measure(m) = &mut gap {
        (m.name, m.leads) = (Some(MeasureIx(0)), true);
    }
    let steps = vec![
        step(vec![gap]),
        Step { only: Some(VariantIx(0)), when: Some(When::Outside(MeasureIx(0))), ..step(vec![]) },
        step(vec![]),
    ];
    let mut whole = Procedure { variants: book().variants, ..book::book(Vec::new(), steps) };
    whole.named = vec![Named { id: "gap".into(), what: "gap".into(), step: 0, act: 0 }];
    for (variant, held) in [(No, true), (Yes, false)] {
        let mut bay = Bay::with(whole.clone());
        bay.say(variant);
        if held {
            bay.say(Yes);
        }
        bay.read("3.5");
        bay.say(Yes);
        let outside = bay.job.open_points(0).iter().any(|open| matches!(open, Open::Outside { step: 0, .. }));
        let refused = matches!(bay.say(Next)[..], [Say::Refused(Refusal::Outside { step: 0, .. })]);
        assert_eq!((outside, refused), (true, held), "open in both, for it was not measured inside since");
    }
}
