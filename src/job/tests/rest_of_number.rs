//! A number said in two pieces, its decimals after a pause: never left at the first piece without a word.

use super::*;
use Command::{Done, No, Rest, Yes};
use ItemState::{AtStage, HandStarted};

fn clamp() -> Bay {
    tightening(|_| (), &["front", "rear"], vec![torque("38..39 N·m"), angle("55..70 deg")])
}

fn half() -> Command {
    Rest("0.5".parse().unwrap())
}

fn reading(bay: &Bay) -> Vec<String> {
    bay.job.ledger().item(G, 0).readings.iter().map(|(stage, value)| format!("{stage}: {value}")).collect()
}

/// The number asked about, and the one it would replace.
fn asked(says: &[Say]) -> Option<(String, String)> {
    says.iter().find_map(|say| match say {
        Say::Question(Question::Correct { was, value: Some((value, ..)), .. }) => {
            Some((was.to_string(), value.to_string()))
        }
        _ => None,
    })
}

#[test]
fn decimals_after_a_pause_are_asked_about_with_the_number_before() {
    for (answer, kept) in [(Yes, "0: 38.5 N·m"), (No, "0: 38 N·m")] {
        let mut bay = clamp();
        bay.read("38");
        assert_eq!(asked(&bay.say(half())), Some(("38 N·m".into(), "38.5 N·m".into())));
        assert_eq!(reading(&bay), ["0: 38 N·m"], "nothing happens before the answer");
        bay.say(answer);
        assert_eq!(reading(&bay), [kept]);
        assert_eq!((bay.state(0), bay.pending()), (AtStage(1), Some((0, 1))));
    }
}

#[test]
fn the_whole_number_may_lie_elsewhere() {
    let mut bay = clamp();
    bay.read("39");
    let says = bay.say(half());
    assert!(
        matches!(says[..], [Say::Question(Question::Correct { value: Some((_, Verdict::Over, _)), .. })]),
        "{says:?}"
    );
}

#[test]
fn a_number_that_is_asked_about_is_asked_about_whole() {
    let mut bay = clamp();
    bay.read("390");
    let says = bay.say(half());
    let [Say::Question(Question::Reading { value, .. })] = &says[..] else { panic!("{says:?}") };
    assert_eq!(value.to_string(), "390.5 N·m");
    assert_eq!(bay.state(0), HandStarted);
}

/// What goes on from a number may be misheard more easily than a reading: it never records one by itself.
#[test]
fn a_number_that_fits_with_its_decimals_is_asked_about_all_the_same() {
    let mut bay = tightening(|_| (), &["front"], vec![angle("54.5..70 deg")]);
    assert!(matches!(bay.read("54")[..], [Say::Question(Question::Reading { verdict: Verdict::Under, .. })]));
    let says = bay.say(half());
    assert!(matches!(says[..], [Say::Question(Question::Reading { verdict: Verdict::Within, .. })]), "{says:?}");
    assert_eq!(bay.state(0), HandStarted);
    bay.say(Yes);
    assert_eq!(reading(&bay), ["0: 54.5°"]);
}

#[test]
fn decimals_alone_are_no_number() {
    let refused = [Say::Refused(Refusal::RestOfNumber)];
    let mut bay = clamp();
    assert_eq!(bay.say(half()), refused, "nothing was read");
    bay.read("38.5");
    assert_eq!(bay.say(half()), refused, "it has its decimals");
    let mut bay = clamp();
    bay.read("38");
    bay.now += 10_000;
    assert_eq!(bay.say(half()), refused, "that was some time ago");
    let mut bay = clamp();
    bay.read("38");
    bay.say(Done);
    assert_eq!(bay.say(half()), refused, "something else was said of the job since");
}
