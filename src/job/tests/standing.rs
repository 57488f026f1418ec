//! Standing cautions: spoken as soon as their cause begins.

use super::*;
use Command::{Done, Undo, Yes};

fn warning() -> Caution {
    Caution { signal: Signal::Danger, say: "Keep clear.".into() }
}

fn under(cause: Cause, steps: Vec<Step>) -> Bay {
    let mut book = book(Vec::new(), steps);
    book.standing.push(StandingCaution { id: "clear".into(), caution: warning(), cause });
    Bay::with(book)
}

fn first_time(says: &[Say]) -> Option<usize> {
    says.iter().position(|s| *s == Say::Caution(warning()))
}

#[test]
fn it_is_spoken_as_soon_as_its_cause_is_recorded_whatever_that_is() {
    let causes = [
        (Act::Reach(ConditionIx(0)), Cause::In(ConditionIx(0))),
        (Act::Place(SupportIx(0)), Cause::Placed(SupportIx(0))),
        (Act::Hang(ComponentIx(0)), Cause::Hung(ComponentIx(0))),
        (Act::TakeOff(ComponentIx(0)), Cause::Off(ComponentIx(0))),
        (Act::Disconnect(ConnectionIx(0)), Cause::Open(ConnectionIx(0))),
    ];
    for (act, cause) in causes {
        // The next step has nothing to do with it.
        let mut bay = under(cause, vec![step(vec![act.clone()]), step(vec![Act::Clean("the flange".into())])]);
        let says = bay.say(Done);
        assert_eq!(says, [Say::Caution(warning()), Say::Step { step: 1, phase: None }], "{act:?}");
    }
}

#[test]
fn it_comes_before_what_is_left_of_the_step() {
    let run = vec![Act::Reach(ConditionIx(0)), measure("2 mm", "3 mm")];
    let mut bay = under(Cause::In(ConditionIx(0)), vec![step(run), step(Vec::new())]);
    let says = bay.say(Done);
    assert!(first_time(&says) == Some(0) && matches!(says[1], Say::AwaitMeasure { .. }), "{says:?}");
    // A new phase would repeat it: said once is enough, and not "as before".
    let close = Step { phase: Phase::Close, ..step(Vec::new()) };
    let mut bay = under(Cause::In(ConditionIx(0)), vec![step(vec![Act::Reach(ConditionIx(0))]), close]);
    let says = bay.say(Done);
    assert!(first_time(&says) == Some(0) && !says.contains(&Say::Standing(warning())), "{says:?}");
}

#[test]
fn it_is_a_forewarning_where_more_is_done_before_anything_is_recorded() {
    let both = vec![Act::Reach(ConditionIx(0)), Act::Clean("the belt".into())];
    let steps = vec![step(Vec::new()), step(both), step(vec![Act::Leave(ConditionIx(0))]), step(Vec::new())];
    let mut bay = under(Cause::In(ConditionIx(0)), steps);
    let forewarning = Say::Forewarning(warning());
    assert_eq!(bay.say(Done), [forewarning.clone(), Say::Step { step: 1, phase: None }]);
    assert!(bay.say(Command::Resume).contains(&forewarning), "days later it is not known any more");
    let says = bay.say(Done);
    assert_eq!(first_time(&says), Some(0), "{says:?}");
    // It stands no longer, and the step is done.
    bay.say(Done);
    let says = bay.say(Command::GoTo(2));
    assert!(!says.contains(&forewarning) && first_time(&says).is_none(), "{says:?}");
}

#[test]
fn a_cause_that_begins_by_a_word_or_by_taking_something_back_is_spoken_too() {
    // Nothing brings the vehicle there, so it is asked.
    let wants = Step { needs: Some(ConditionIx(0)), ..step(vec![Act::Clean("the belt".into())]) };
    let mut bay = under(Cause::In(ConditionIx(0)), vec![wants, step(Vec::new())]);
    let says = bay.all([Done, Yes]);
    assert!(first_time(&says).is_some(), "{says:?}");
    let steps =
        vec![step(vec![Act::Disconnect(ConnectionIx(0))]), step(vec![Act::Connect(ConnectionIx(0))]), step(Vec::new())];
    let mut bay = under(Cause::Open(ConnectionIx(0)), steps);
    let says = bay.all([Done, Done, Undo, Yes]);
    assert!(first_time(&says).is_some(), "open again: {says:?}");
}
