//! Numbers: the unit of one said without, what holds a step, every reading kept, what a correction replaces.

use super::*;
use Command::{Correct, Done, Next, No, Skip, Undo, Yes};
use ItemState::{AtStage, Final, HandStarted};
use procedure::Bounds;
use quantity::{AngleUnit, Quantity};

const POUND_FOOT: Unit = Unit::Torque(TorqueUnit::PoundForceFoot);
const NEWTON_METRE: Unit = Unit::Torque(TorqueUnit::NewtonMetre);
const DEGREE: Unit = Unit::Angle(AngleUnit::Degree);

fn bolt(stages: Vec<StageKind>) -> Bay {
    tightening(|_| (), &["only"], stages)
}

fn number(bay: &mut Bay, amount: u32, unit: Unit) -> Vec<Say> {
    bay.say(Command::Number { amount: amount.into(), unit, own: None })
}

fn with_unit(bay: &mut Bay, amount: u32, unit: Unit) -> Vec<Say> {
    bay.say(Command::Reading(Reading { amount: amount.into(), unit: Some(unit) }))
}

fn logged(says: &[Say]) -> Option<(String, Verdict, String)> {
    says.iter().find_map(|say| match say {
        Say::ReadingTaken { value, verdict, limits, .. } => {
            let text = |q: &Option<Quantity>| q.map_or_else(String::new, |q| q.to_string());
            Some((value.to_string(), *verdict, format!("{}..{}", text(&limits.least), text(&limits.most))))
        }
        _ => None,
    })
}

#[test]
fn a_number_without_a_unit_has_the_one_that_was_heard_last() {
    let mut bay = bolt(vec![torque("28 lbf·ft")]);
    let says = number(&mut bay, 38, NEWTON_METRE);
    assert_eq!(logged(&says), Some(("38 N·m".into(), Verdict::Within, "28 lbf·ft..28 lbf·ft".into())));
    let mut bay = bolt(vec![torque("38 N·m"), angle("90 deg")]);
    let says = number(&mut bay, 38, POUND_FOOT);
    let wanted = Question::Unit { value: Quantity::new(38.into(), NEWTON_METRE), not: POUND_FOOT };
    assert_eq!(says, [Say::Question(wanted)], "it fits in the other unit only");
    assert_eq!((bay.state(0), bay.job.ledger().item(G, 0).readings.len()), (HandStarted, 0));
    bay.say(No);
    assert_eq!(bay.state(0), HandStarted, "not logged");
    number(&mut bay, 38, POUND_FOOT);
    let says = bay.say(Yes);
    assert_eq!(logged(&says).map(|l| l.0), Some("38 N·m".into()));
    assert_eq!(bay.state(0), AtStage(1));
}

#[test]
fn a_unit_that_was_said_is_not_asked_about() {
    let mut bay = bolt(vec![torque("38 N·m")]);
    let says = with_unit(&mut bay, 38, POUND_FOOT);
    assert!(matches!(says[..], [Say::Question(Question::Reading { verdict: Verdict::Over, .. })]), "{says:?}");
    // Said with its unit, it answers the question about the unit as well.
    let mut bay = bolt(vec![torque("38 N·m")]);
    number(&mut bay, 38, POUND_FOOT);
    with_unit(&mut bay, 38, NEWTON_METRE);
    assert_eq!((bay.state(0), bay.job.question()), (Final, None));
}

#[test]
fn short_of_a_torque_in_one_unit_and_right_in_another_is_asked() {
    // 70 N·m is 51.6 lbf·ft. As newton metres 52 would only be on the way there.
    let mut bay = bolt(vec![torque("70 N·m")]);
    assert!(matches!(bay.read("52")[..], [Say::Question(Question::Reading { verdict: Verdict::Under, .. })]));
    assert_eq!(bay.job.ledger().item(G, 0).readings, [], "nothing is taken down unasked");
    assert!(matches!(bay.read("60")[0], Say::ReadingTaken { verdict: Verdict::Under, .. }), "it fits in none");
    assert_eq!(bay.job.question(), None);
}

/// In a unit that only happens to fit nothing is offered, so that a plain yes cannot take it down.
#[test]
fn a_number_is_asked_about_in_a_unit_that_there_is_reason_to_think_of_and_in_no_other() {
    // 20 lbf·in is 2.3 N·m.
    let window = || bolt(vec![torque("2..15 N·m"), torque("10..15 N·m")]);
    let over = |says: &[Say]| match says {
        [Say::Question(Question::Reading { value, verdict: Verdict::Over, .. })] => value.to_string(),
        _ => panic!("{says:?}"),
    };
    let offered = |says: &[Say]| match says {
        [Say::Question(Question::Unit { value, not: NEWTON_METRE })] => value.to_string(),
        _ => panic!("{says:?}"),
    };
    let mut bay = window();
    assert_eq!(over(&number(&mut bay, 20, NEWTON_METRE)), "20 N·m");
    bay.say(Yes);
    assert_eq!(bay.job.facts().last().and_then(|f| f.reading).map(|r| r.to_string()), Some("20 N·m".into()));
    assert_eq!(over(&window().read("20")), "20 N·m");
    // By the settings it is that of the user's wrench.
    let inch_pounds: Unit = "lbf·in".parse().unwrap();
    let own = |own| Command::Number { amount: 20.into(), unit: NEWTON_METRE, own: Some(own) };
    assert_eq!(offered(&window().say(own(inch_pounds))), "20 lbf·in");
    assert_eq!(over(&window().say(own("kgf·m".parse().unwrap()))), "20 N·m", "it fits in none of theirs");
    // The book has it, too.
    let second = |fastener: &mut procedure::Fastener| {
        let procedure::Finish::Stages(stages) = &mut fastener.finish else { return };
        stages[0].also = Some(TorqueUnit::PoundForceInch);
    };
    let mut bay = tightening(second, &["only"], vec![torque("2..15 N·m")]);
    assert_eq!(offered(&bay.read("20")), "20 lbf·in");
    // Something was read in it before.
    let mut bay = window();
    with_unit(&mut bay, 40, inch_pounds);
    assert_eq!(offered(&number(&mut bay, 100, NEWTON_METRE)), "100 lbf·in");
    // Taken back, it was not.
    bay.all([No, Undo, Yes]);
    assert_eq!(over(&number(&mut bay, 100, NEWTON_METRE)), "100 N·m");
    // A measurement.
    let gap = || Bay::new(Vec::new(), vec![step(vec![measure("2 mm", "3 mm")]), step(Vec::new())]);
    let mut bay = gap();
    assert!(matches!(bay.read("0.1")[..], [Say::Question(Question::Reading { verdict: Verdict::Under, .. })]));
    // To version 0.3 any unit was offered.
    let mut bay = gap();
    bay.job.follow(Edition::Third);
    assert!(matches!(bay.read("0.1")[..], [Say::Question(Question::Unit { .. })]));
    let mut bay = window();
    bay.job.follow(Edition::Third);
    assert_eq!(offered(&bay.read("20")), "20 lbf·in");
}

#[test]
fn a_unit_of_another_kind_is_refused_and_names_what_is_awaited() {
    let mut bay = bolt(vec![torque("70 N·m"), angle("55..70 deg")]);
    let says = with_unit(&mut bay, 68, DEGREE);
    let value = Quantity::new(68.into(), DEGREE);
    assert_eq!(says, [Say::Refused(Refusal::WrongKind { value, wanted: NEWTON_METRE })]);
    bay.say(Done);
    let says = with_unit(&mut bay, 68, NEWTON_METRE);
    let value = Quantity::new(68.into(), NEWTON_METRE);
    assert_eq!(says, [Say::Refused(Refusal::WrongKind { value, wanted: DEGREE })]);
    assert_eq!(bay.state(0), AtStage(1), "never taken for an angle");
}

#[test]
fn every_reading_says_what_it_was_held_against() {
    let mut bay = bolt(vec![torque("70 N·m"), angle("55..70 deg")]);
    assert_eq!(logged(&bay.read("60")), Some(("60 N·m".into(), Verdict::Under, "70 N·m..70 N·m".into())));
    bay.read("70");
    assert_eq!(logged(&bay.read("68")), Some(("68°".into(), Verdict::Within, "55°..70°".into())));
    // Of a turn that fell short, the rest is.
    let mut bay = bolt(vec![torque("70 N·m"), angle("90 deg")]);
    bay.say(Done);
    bay.read("50");
    bay.say(Yes);
    assert_eq!(logged(&bay.read("40")), Some(("40°".into(), Verdict::Within, "40°..40°".into())));
}

/// A slot to be measured and the bolt behind it, in one step.
fn slot() -> Bay {
    let steps = vec![
        step(vec![fasten(0, &[0], Deed::Remove), fasten(0, &[0], Deed::HandStart)]),
        step(vec![measure("2.0 mm", "3.0 mm"), fasten(0, &[0], Deed::Tighten(None))]),
        step(vec![measure("2.0 mm", "3.0 mm")]),
        step(Vec::new()),
    ];
    let mut bay = Bay::new(vec![group("bolt", &["only"], vec![torque("70 N·m")])], steps);
    bay.say(Done);
    bay
}

fn outside(bay: &Bay) -> Vec<String> {
    let open = bay.job.open_points(bay.job.book().steps.len());
    open.iter()
        .filter_map(|o| if let Open::Outside { value, .. } = o { Some(value.to_string()) } else { None })
        .collect()
}

#[test]
fn a_measurement_outside_its_limits_holds_its_step() {
    let mut bay = slot();
    bay.read("3.4");
    let says = bay.say(Yes);
    assert!(
        matches!(says[..], [Say::ReadingTaken { verdict: Verdict::Over, .. }, Say::OutsideLimits { .. }]),
        "{says:?}"
    );
    for command in [Next, Done] {
        let says = bay.say(command);
        let value = "3.4 mm".parse().map(Quantity::Length).unwrap();
        assert_eq!(says, [Say::Refused(Refusal::Outside { step: 1, act: 0, value })]);
        assert_eq!((bay.job.position(), bay.job.ledger().step(1)), (1, StepState::Open));
    }
    assert_eq!(bay.pending(), None, "what comes behind it in the step waits");
    for says in [bay.say(Command::WhereAmI), bay.say(Command::Resume)] {
        assert!(says.ends_with(&[Say::OutsideLimits { step: 1, act: 0 }, Say::AwaitMeasure { step: 1, act: 0 }]));
    }
    // Outside once more: the last one is what is wrong now.
    bay.read("3.2");
    bay.say(Yes);
    assert_eq!(outside(&bay), ["3.2 mm"]);
    bay.read("2.5");
    assert_eq!((outside(&bay).len(), bay.pending()), (0, Some((0, 0))));
    let readings: Vec<String> = bay.job.facts().iter().filter_map(|f| f.reading.map(|r| r.to_string())).collect();
    assert_eq!(readings, ["3.4 mm", "3.2 mm", "2.5 mm"], "every one is kept, in order");
    bay.say(Done);
    assert_eq!(bay.job.ledger().step(1), StepState::Done);
}

#[test]
fn whatever_can_be_measured_is_held_against_its_limits_in_its_units() {
    // Limits, a reading and its unit, where it lies.
    for ((least, most), amount, unit, verdict) in [
        (("80 °C", "90 °C"), "82", "°C", Verdict::Within),
        // 82.2 °C, and 80 °C is 176 °F.
        (("80 °C", "90 °C"), "180", "°F", Verdict::Within),
        (("80 °C", "90 °C"), "176", "°F", Verdict::Within),
        (("80 °C", "90 °C"), "175", "°F", Verdict::Under),
        (("-10 °C", "5 °C"), "-12", "°C", Verdict::Under),
        (("12.4 V", "12.8 V"), "12.6", "V", Verdict::Within),
        (("0 mA", "50 mA"), "0.06", "A", Verdict::Over),
        (("0.4 kΩ", "0.6 kΩ"), "470", "Ω", Verdict::Within),
        (("4 l", "4.4 l"), "9", "US pt", Verdict::Within),
        (("4 l", "4.4 l"), "9", "imp pt", Verdict::Over),
        (("40 N", "50 N"), "10", "lbf", Verdict::Within),
        (("800 rpm", "900 rpm"), "750", "rpm", Verdict::Under),
        (("40 %", "60 %"), "50", "%", Verdict::Within),
        (("0.5 min", "1 min"), "45", "s", Verdict::Within),
        (("48 km/h", "52 km/h"), "30", "mph", Verdict::Within),
        (("0.8 l/min", "1.2 l/min"), "60", "l/h", Verdict::Within),
        (("1.5 kgf/cm²", "1.9 kgf/cm²"), "25", "psi", Verdict::Within),
        (("22 N/mm", "26 N/mm"), "137", "lbf/in", Verdict::Within),
        // In a unit too coarse for them no limit is rounded.
        (("0 ml", "500 ml"), "1", "l", Verdict::Over),
        (("30 s", "40 s"), "1", "min", Verdict::Over),
        (("600 Ω", "900 Ω"), "1", "kΩ", Verdict::Over),
        (("4.2 l", "4.4 l"), "4", "US qt", Verdict::Under),
        (("4.2 l", "4.4 l"), "1", "US gal", Verdict::Under),
        (("34 psi", "36 psi"), "2", "bar", Verdict::Under),
        // Nor in one too coarse for how near they are to each other: 0.1 in is 2.54 mm, 0.102 in is 2.5908 mm.
        (("2.55 mm", "2.59 mm"), "0.1", "in", Verdict::Under),
        (("2.55 mm", "2.59 mm"), "0.10", "in", Verdict::Under),
        (("2.55 mm", "2.59 mm"), "0.101", "in", Verdict::Within),
        (("2.55 mm", "2.59 mm"), "0.102", "in", Verdict::Within),
        (("2.55 mm", "2.59 mm"), "0.103", "in", Verdict::Over),
        // One value has no width: 2 % of it.
        (("500 g", "500 g"), "1.1", "lb", Verdict::Within),
        (("500 g", "500 g"), "1", "lb", Verdict::Under),
    ] {
        let steps = vec![step(vec![measure(least, most)]), step(Vec::new())];
        let mut bay = Bay::new(vec![group("bolt", &["only"], vec![torque("70 N·m")])], steps);
        let unit: Unit = unit.parse().unwrap();
        let reading = Command::Reading(Reading { amount: amount.parse().unwrap(), unit: Some(unit) });
        let mut says = bay.say(reading);
        if verdict != Verdict::Within {
            assert!(matches!(says[..], [Say::Question(Question::Reading { .. })]), "{says:?}");
            says = bay.say(Yes);
        }
        let limits = format!("{least}..{most}");
        assert_eq!(logged(&says), Some((format!("{amount} {unit}"), verdict, limits)), "{amount} {unit}");
        // Of another kind nothing is logged.
        let refused = bay.say(Command::Reading(Reading { amount: 5.into(), unit: Some(NEWTON_METRE) }));
        assert!(matches!(refused[..], [Say::Refused(_), ..]), "{refused:?}");
    }
}

/// One limit by itself is not moved by more than half of its own last digit.
#[test]
fn a_limit_without_another_side_is_kept_to_its_own_last_digit() {
    // Is it the most, the limit, a reading and its unit, where it lies.
    for (most, limit, amount, unit, verdict) in [
        // 0.004 in is 0.1016 mm, to the hundredth 0.10.
        (true, "0.10 mm", "0.004", "in", Verdict::Within),
        (true, "0.100 mm", "0.004", "in", Verdict::Over),
        // 2.36 in is 59.944 mm.
        (false, "60.00 mm", "2.36", "in", Verdict::Under),
        (false, "60.0 mm", "2.36", "in", Verdict::Under),
        (false, "60 mm", "2.36", "in", Verdict::Within),
        // What is read finer than the limit is meant so.
        (true, "0.2 Ω", "201", "mΩ", Verdict::Over),
        (true, "0.2 Ω", "200", "mΩ", Verdict::Within),
        // Half a litre more is more, though the limit has no digit behind the point.
        (false, "1 l", "1", "US qt", Verdict::Under),
    ] {
        let mut gauge = measure("1 mm", limit);
        if let Act::Measure(m) = &mut gauge {
            let (one, none) = (limit.parse().ok(), None);
            m.limits = if most { Bounds { least: none, most: one } } else { Bounds { least: one, most: none } };
        }
        let mut bay = Bay::new(Vec::new(), vec![step(vec![gauge]), step(Vec::new())]);
        let unit: Unit = unit.parse().unwrap();
        let reading = Command::Reading(Reading { amount: amount.parse().unwrap(), unit: Some(unit) });
        let mut says = bay.say(reading);
        if verdict != Verdict::Within {
            says = bay.say(Yes);
        }
        assert_eq!(logged(&says).map(|logged| logged.1), Some(verdict), "{amount} {unit} against {limit}");
    }
}

#[test]
fn a_torque_in_another_unit_is_moved_to_a_mark_and_a_narrow_window_is_not() {
    // 150 N·m is 110.6 lbf·ft; 70 N·m is 51.6 and 71 N·m 52.4; 20 N·m is 2.04 kgf·m and 22 N·m 2.24.
    for (target, amount, unit, verdict) in [
        ("150 N·m", "111", "lbf·ft", Verdict::Within),
        ("150 N·m", "113", "lbf·ft", Verdict::Over),
        ("70..71 N·m", "52", "lbf·ft", Verdict::Within),
        ("70..70.2 N·m", "52", "lbf·ft", Verdict::Over),
        ("20..22 N·m", "2.0", "kgf·m", Verdict::Under),
        ("20..22 N·m", "2.04", "kgf·m", Verdict::Within),
    ] {
        let mut bay = bolt(vec![torque(target)]);
        let unit: Unit = unit.parse().unwrap();
        let mut says = bay.say(Command::Reading(Reading { amount: amount.parse().unwrap(), unit: Some(unit) }));
        if verdict == Verdict::Over {
            says = bay.say(Yes);
        }
        assert_eq!(logged(&says).map(|logged| logged.1), Some(verdict), "{amount} {unit} against {target}");
    }
}

#[test]
fn what_version_0_3_rounded_stays_as_it_called_it() {
    let tenth = || Command::Reading(Reading { amount: "0.1".parse().unwrap(), unit: "in".parse().ok() });
    let gap = || Bay::new(Vec::new(), vec![step(vec![measure("2.55 mm", "2.59 mm")]), step(Vec::new())]);
    for edition in [Edition::Second, Edition::Third] {
        let mut bay = gap();
        bay.job.follow(edition);
        assert_eq!(logged(&bay.say(tenth())).map(|logged| logged.1), Some(Verdict::Within));
        bay.job.follow(Edition::NOW);
        bay.say(Command::Back);
        let value = bay.job.ledger().measured(0, 0).unwrap();
        assert_eq!((bay.job.judge(0, 0, value), outside(&bay).len()), (Verdict::Within, 0));
        // Read once more it is judged anew.
        bay.all([Undo, Yes]);
        assert!(matches!(bay.say(tenth())[..], [Say::Question(Question::Reading { .. })]));
        bay.say(Yes);
        assert_eq!(outside(&bay), ["0.1 in"]);
    }
}

#[test]
fn a_temperature_is_never_far_off_by_its_number_alone() {
    let mut bay = Bay::new(
        vec![group("bolt", &["only"], vec![torque("70 N·m")])],
        vec![step(vec![measure("-5 °C", "5 °C")]), step(Vec::new())],
    );
    let says = bay.read("9");
    assert!(matches!(says[..], [Say::Question(Question::Reading { far: false, .. })]), "{says:?}");
}

#[test]
fn a_measurement_is_left_outside_by_a_yes_to_what_is_wrong_with_it() {
    let mut bay = slot();
    bay.read("3.4");
    bay.say(Yes);
    let value = "3.4 mm".parse().map(Quantity::Length).unwrap();
    assert_eq!(bay.say(Skip), [Say::Question(Question::LeaveOutside { step: 1, act: 0, value })]);
    bay.say(No);
    assert!(matches!(refused(&bay.say(Next)), Some(Refusal::Outside { .. })));
    // What else the step has goes on; the step itself stays open.
    bay.all([Skip, Yes]);
    assert_eq!(bay.pending(), Some((0, 0)));
    bay.say(Done);
    assert_eq!((bay.state(0), bay.job.ledger().step(1)), (Final, StepState::Skipped));
    assert_eq!(outside(&bay), ["3.4 mm"]);
    bay.say(Done);
    assert_eq!((bay.job.position(), bay.job.ledger().step(1)), (2, StepState::Skipped), "and done makes it no better");
    // Measured again inside, it is done after all.
    bay.say(Command::Back);
    bay.read("2.9");
    assert_eq!((outside(&bay).len(), bay.job.ledger().step(1)), (0, StepState::Done));
}

#[test]
fn a_step_with_nothing_else_is_left_open_at_once() {
    let mut bay = slot();
    bay.all([Skip, Yes]);
    bay.read("1.5");
    bay.all([Yes, Skip]);
    let says = bay.say(Yes);
    assert_eq!(says[0], Say::Skipped { step: 2 });
    assert_eq!((bay.job.position(), bay.job.ledger().step(2)), (3, StepState::Skipped));
    // Another reading outside needs another yes.
    bay.say(Command::Back);
    bay.read("1.6");
    bay.say(Yes);
    assert!(matches!(refused(&bay.say(Next)), Some(Refusal::Outside { .. })));
    // And it is taken back as every fact is.
    bay.all([Skip, Yes, Undo, Yes]);
    assert!(matches!(refused(&bay.say(Next)), Some(Refusal::Outside { .. })));
}

#[test]
fn version_0_1_let_a_failed_measurement_pass() {
    let mut bay = slot();
    bay.job.follow(Edition::First);
    bay.all([Skip, Yes]);
    bay.read("3.4");
    bay.say(Yes);
    assert_eq!(bay.job.ledger().step(2), StepState::Done);
    bay.job.follow(Edition::NOW);
    bay.say(Next);
    assert_eq!(bay.job.position(), 3);
    assert_eq!(outside(&bay), ["3.4 mm"]);
}

#[test]
fn a_correction_says_what_it_replaces_before_and_after() {
    let mut bay = tightening(|_| (), &["front", "rear"], vec![torque("70 N·m"), angle("55..70 deg")]);
    bay.say(Done);
    bay.read("68");
    let fact = Fact::Stage { group: G, item: 0, stage: 1 };
    let was = Quantity::new(68.into(), DEGREE);
    let says = bay.say(Correct);
    assert!(
        matches!(&says[..], [Say::Question(Question::Correct { fact: f, was: w, value: None, .. })] if (f, w) == (&fact, &was)),
        "{says:?}"
    );
    let says = bay.read("64");
    let value = Quantity::new(64.into(), DEGREE);
    assert!(
        matches!(&says[..], [Say::Corrected { fact: f, was: w, value: v, verdict: Verdict::Within, .. }]
            if (f, w, v) == (&fact, &was, &value)),
        "{says:?}"
    );
}

#[test]
fn a_correction_never_falls_on_what_came_after_the_question() {
    let mut bay = bolt(vec![torque("70 N·m"), angle("55..70 deg")]);
    bay.say(Done);
    bay.read("68");
    bay.all([Correct, Command::Note(Note::Typed("it is torn".into()))]);
    assert_eq!(refused(&bay.read("64")), Some(&Refusal::NothingToCorrect));
    let read: Vec<String> = bay.job.ledger().item(G, 0).readings.iter().map(|(_, q)| q.to_string()).collect();
    assert_eq!((read, bay.job.question()), (vec!["68°".to_owned()], None));
}

#[test]
fn a_measurement_put_right_across_its_limit_holds_its_step_or_lets_it_go() {
    let mut bay = slot();
    bay.all([Skip, Yes]);
    bay.read("2.4");
    assert_eq!(bay.job.ledger().step(2), StepState::Done);
    bay.say(Correct);
    bay.read("3.4");
    let says = bay.say(Yes);
    assert!(
        matches!(&says[..], [Say::Corrected { verdict: Verdict::Over, .. }, Say::OutsideLimits { .. }]),
        "{says:?}"
    );
    assert_eq!(bay.job.ledger().step(2), StepState::Open);
    assert!(matches!(refused(&bay.say(Next)), Some(Refusal::Outside { .. })));
    bay.say(Correct);
    bay.read("2.4");
    assert_eq!((bay.job.ledger().step(2), outside(&bay).len()), (StepState::Done, 0));
}

/// A pressure between two values, and the same reading of it.
fn two_bar() -> (Bay, Command) {
    let steps = vec![step(vec![measure("34 psi", "36 psi")]), step(Vec::new())];
    let bay = Bay::new(vec![group("bolt", &["only"], vec![torque("70 N·m")])], steps);
    let unit: Unit = "bar".parse().unwrap();
    (bay, Command::Reading(Reading { amount: 2.into(), unit: Some(unit) }))
}

#[test]
fn what_version_0_1_rounded_stays_as_it_called_it() {
    let (mut bay, reading) = two_bar();
    bay.job.follow(Edition::First);
    let says = bay.say(reading.clone());
    assert_eq!(logged(&says).map(|l| l.1), Some(Verdict::Within));
    assert_eq!(bay.job.ledger().step(0), StepState::Done);
    // Taken up by this version, it is neither open nor due again.
    bay.job.follow(Edition::NOW);
    bay.say(Command::Back);
    let value = bay.job.ledger().measured(0, 0).unwrap();
    assert_eq!((bay.job.judge(0, 0, value), outside(&bay).len()), (Verdict::Within, 0));
    let (mut bay, _) = two_bar();
    assert!(matches!(bay.say(reading)[..], [Say::Question(Question::Reading { verdict: Verdict::Under, .. })]));
}
