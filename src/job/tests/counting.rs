//! Measurements that are remembered, and limits and torques that count from them.

use super::*;
use Command::{Done, Next, Undo, Yes};
use ItemState::{Final, HandStarted};
use procedure::{Bounds, MeasureIx, Measurement, Named};
use quantity::{Limits, Quantity, Torque};

fn amount(text: &str) -> Quantity {
    text.parse().unwrap()
}

fn bounds(least: &str, most: &str) -> Bounds {
    Bounds { least: Some(amount(least)), most: Some(amount(most)) }
}

/// A measurement without limits, in this unit, that others count from.
fn remembered(unit: &str) -> Act {
    Act::Measure(Measurement {
        what: "drag".into(),
        name: Some(MeasureIx(0)),
        unit: unit.parse().unwrap(),
        from: None,
        more: Vec::new(),
        leads: false,
        among: None,
        limits: Bounds { least: None, most: None },
        otherwise: String::new(),
        source: None,
    })
}

/// One whose limits count from it.
fn counted(least: &str, most: &str) -> Act {
    Act::Measure(Measurement {
        what: "preload".into(),
        name: None,
        unit: amount(most).unit(),
        from: Some(MeasureIx(0)),
        more: Vec::new(),
        leads: false,
        among: None,
        limits: bounds(least, most),
        otherwise: "Choose another shim.".into(),
        source: None,
    })
}

fn bay(unit: &str, second: Act, by: &str) -> Bay {
    let mut nut = group("nut", &["only"], vec![torque(by)]);
    if let procedure::Finish::Stages(stages) = &mut nut.finish {
        stages[0].from = Some(MeasureIx(0));
    }
    let steps = vec![
        step(vec![remembered(unit)]),
        step(vec![second]),
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        step(vec![fasten(0, &[0], Deed::Tighten(None))]),
        step(Vec::new()),
    ];
    let mut book = book::book(vec![nut], steps);
    book.named = vec![Named { id: "drag".into(), what: "drag".into(), step: 0, act: 0 }];
    Bay::with(book)
}

fn preload() -> Bay {
    bay("N·m", counted("1.1 N·m", "4.5 N·m"), "25 N·m")
}

fn shown(limits: &Bounds) -> String {
    let text = |q: &Option<Quantity>| q.map_or_else(String::new, |q| q.to_string());
    format!("{}..{}", text(&limits.least), text(&limits.most))
}

fn awaited(says: &[Say]) -> Option<String> {
    says.iter().find_map(|say| match say {
        Say::AwaitCounted { limits, counted, .. } => Some(format!("{} + {}", counted.base, shown(limits))),
        _ => None,
    })
}

fn asked(bay: &Bay) -> Option<String> {
    bay.job.pending().and_then(|pending| match pending.kind {
        Some(StageKind::Torque(limits)) => Some(limits.to_string()),
        _ => None,
    })
}

#[test]
fn what_has_no_limits_is_recorded_and_nothing_else() {
    let mut bay = preload();
    assert_eq!(refused(&bay.say(Next)), Some(&Refusal::Unmeasured { step: 0, act: 0 }));
    assert_eq!(bay.job.expects().reading.map(|about| about.unit().to_string()).as_deref(), Some("N·m"));
    let says = bay.read("0.9");
    assert!(matches!(&says[0], Say::ReadingTaken { verdict: Verdict::Within, limits, .. } if shown(limits) == ".."));
    assert_eq!((bay.job.ledger().measured(0, 0), bay.job.ledger().step(0)), (Some(amount("0.9 N·m")), StepState::Done));
    assert!(bay.job.open_points(0).is_empty());
    // Of another kind it is none.
    let mut bay = preload();
    let says = bay.say(Command::Reading(Reading { amount: 3.into(), unit: Some(amount("1 mm").unit()) }));
    assert!(matches!(refused(&says), Some(Refusal::WrongKind { .. })), "{says:?}");
}

#[test]
fn limits_count_from_what_was_measured() {
    let mut bay = preload();
    bay.read("0.9");
    let says = bay.say(Done);
    assert_eq!(awaited(&says).as_deref(), Some("0.9 N·m + 2.0 N·m..5.4 N·m"), "{says:?}");
    for out in ["1.9", "5.5"] {
        let unit = Some(amount("1 N·m").unit());
        let says = bay.say(Command::Reading(Reading { amount: out.parse().unwrap(), unit }));
        assert!(matches!(says[..], [Say::Question(Question::Reading { .. })]), "{out}: {says:?}");
        bay.say(Command::No);
    }
    let says = bay.read("5.4");
    assert!(matches!(says[0], Say::ReadingTaken { verdict: Verdict::Within, .. }), "{says:?}");
    assert!(bay.job.open_points(0).is_empty());
}

#[test]
fn what_it_counts_from_is_asked_for_first() {
    let mut bay = preload();
    bay.go(2);
    let base = Refusal::Unmeasured { step: 0, act: 0 };
    assert_eq!(refused(&bay.read("3")), Some(&base));
    assert_eq!(bay.job.ledger().measured(1, 0), None);
    bay.go(3);
    bay.all([Done]);
    assert_eq!((bay.state(0), bay.job.position()), (HandStarted, 3));
    for command in [Done, Next, Command::Ask(Ask::Value)] {
        let says = bay.say(command);
        assert!(says.iter().any(|say| *say == Say::Refused(base.clone())), "{says:?}");
    }
    assert_eq!((bay.state(0), bay.job.pending()), (HandStarted, None), "no torque is named without it");
    bay.go(1);
    bay.read("2.5");
    bay.go(4);
    assert_eq!(asked(&bay).as_deref(), Some("27.5 N·m"));
    bay.say(Done);
    assert_eq!(bay.state(0), Final);
}

#[test]
fn a_measurement_that_is_taken_back_is_missed_again() {
    let mut bay = preload();
    bay.read("0.9");
    bay.all([Undo, Yes]);
    assert_eq!(bay.job.ledger().measured(0, 0), None);
    bay.go(2);
    assert_eq!(refused(&bay.read("3")), Some(&Refusal::Unmeasured { step: 0, act: 0 }));
}

#[test]
fn a_torque_counts_from_what_was_measured() {
    for (base, by, sum) in
        [("2.5", "25 N·m", "27.5 N·m"), ("2.5", "20..30 N·m", "22.5..32.5 N·m"), ("2", "25 N·m", "27 N·m")]
    {
        let mut bay = bay("N·m", counted("0 N·m", "9 N·m"), by);
        bay.read(base);
        bay.go(3);
        bay.say(Done);
        assert_eq!(asked(&bay).as_deref(), Some(sum));
    }
}

#[test]
fn in_another_unit_the_limits_are_rounded_inwards_and_no_finer_than_the_readings() {
    // 8 lbf·in are 0.9039 N·m.
    let mut bay = preload();
    let pounds = amount("1 lbf·in").unit();
    bay.say(Command::Reading(Reading { amount: 8.into(), unit: Some(pounds) }));
    let says = bay.say(Done);
    assert_eq!(awaited(&says).as_deref(), Some("8 lbf·in + 2.1 N·m..5.4 N·m"), "{says:?}");
    // What has one value has the nearest.
    let limits: Limits<Torque> = "25 N·m".parse().unwrap();
    let (sum, _) = crate::job::counted::torque(MeasureIx(0), amount("8 lbf·in"), &limits).unwrap();
    assert_eq!(sum.to_string(), "25.9 N·m");
}

#[test]
fn a_limit_may_be_less_than_what_was_measured() {
    let mut bay = bay("mm", counted("-0.08 mm", "-0.03 mm"), "25 N·m");
    bay.read("0.50");
    let says = bay.say(Done);
    assert_eq!(awaited(&says).as_deref(), Some("0.50 mm + 0.42 mm..0.47 mm"), "{says:?}");
    let says = bay.read("0.45");
    assert!(matches!(says[0], Say::ReadingTaken { verdict: Verdict::Within, .. }), "{says:?}");
}

#[test]
fn a_torque_may_be_less_than_what_was_measured() {
    for (by, sum) in [("-1 N·m", "8.5 N·m"), ("-3..-1 N·m", "6.5..8.5 N·m")] {
        let mut bay = bay("N·m", counted("0 N·m", "9 N·m"), by);
        bay.read("9.5");
        bay.go(3);
        bay.say(Done);
        assert_eq!(asked(&bay).as_deref(), Some(sum));
    }
}

#[test]
fn what_leaves_no_torque_is_told_and_the_reading_taken_anew() {
    for by in ["-1 N·m", "-5..-1 N·m"] {
        for read in ["0.9", "1"] {
            let mut bay = bay("N·m", counted("0 N·m", "9 N·m"), by);
            bay.read(read);
            bay.go(3);
            bay.all([Done]);
            assert_eq!((bay.state(0), bay.job.position(), bay.job.pending()), (HandStarted, 3, None));
            let refusal = |says: &[Say]| match refused(says) {
                Some(Refusal::NoTorque(counted)) => Some((counted.base.to_string(), counted.from)),
                _ => None,
            };
            let expected = Some((format!("{read} N·m"), MeasureIx(0)));
            for command in [Done, Next, Command::WhereAmI, Command::Ask(Ask::Value)] {
                let says = bay.say(command);
                let told = says.iter().find_map(|say| refusal(std::slice::from_ref(say)));
                assert_eq!(told, expected, "{says:?}");
            }
            let says = bay.read("30");
            assert!(matches!(refused(&says), Some(Refusal::NoReadingAwaited)), "{says:?}");
            assert_eq!(bay.state(0), HandStarted);
            // It was read wrongly: it is awaited again where it was taken.
            let says = bay.go(1);
            assert_eq!(says.last(), Some(&Say::AwaitMeasure { step: 0, act: 0 }), "{says:?}");
            bay.read("12");
            bay.go(4);
            assert!(asked(&bay).is_some_and(|torque| torque.ends_with("11 N·m")), "{:?}", asked(&bay));
            bay.say(Done);
            assert_eq!(bay.state(0), Final);
        }
    }
}
