use super::*;
use crate::quantity::{Angle, Length, Limits, Torque, TorqueUnit};
use proptest::prelude::*;
use rust_decimal::Decimal;

fn torque(text: &str) -> Torque {
    text.parse().expect(text)
}

fn limits(text: &str) -> Limits<Torque> {
    text.parse().expect(text)
}

fn adapter(text: &str) -> Adapter {
    text.parse().expect(text)
}

fn length(text: &str) -> Length {
    text.parse().expect(text)
}

fn example() -> Toolbox {
    Toolbox::parse("toolbox.toml", include_str!("../../docs/toolbox.toml")).expect("the example is read")
}

/// Rounded as the sources print it.
fn shown(torque: Torque, places: u32) -> String {
    torque.amount.round_dp(places).normalize().to_string()
}

#[test]
fn published_examples_of_adapters_come_out() {
    for (source, wanted, wrench, with, says, places) in [
        // FAA AC 43.13-1B, figure 7-2: lengthened, then shortened.
        ("AC 43.13-1B +", "30 lbf·in", "10 in", "1.5 in@0 deg", "26.09", 2),
        ("AC 43.13-1B -", "30 lbf·in", "10 in", "1.5 in@180 deg", "35.29", 2),
        // US Army TM 1-1500-204-23-9, attachment that adds to the lever.
        ("TM 1-1500", "300 lbf·in", "10 in", "4 in@0 deg", "214", 0),
        // US Army TM 9-2350-261-20-1, use of torque wrench adapters.
        ("TM 9-2350", "40 lbf·ft", "12 in", "4 in@0 deg", "30", 2),
        // US Navy training manual 14315, drive-end extension: 100 × 12 / 18.
        ("14315", "100 lbf·in", "12 in", "6 in@0 deg", "66.67", 2),
    ] {
        let scale = adapter(with).scale(torque(wanted), length(wrench)).expect(source);
        assert_eq!(shown(scale, places), says, "{source}");
    }
    // US Army TM 9-254, figure 4-5, the other way: 60 on the scale is 70 at the extension.
    let reached = adapter("2 in@0 deg").at_fastener(torque("60 lbf·in"), length("12 in")).expect("TM 9-254");
    assert_eq!(shown(reached, 3), "70");
}

#[test]
fn an_adapter_at_a_right_angle_changes_nothing_to_the_last_digit() {
    for text in ["50 mm@90 deg", "50 mm@270 deg", "50 mm@-90 deg", "2 in@1 quarter turn"] {
        assert!(adapter(text).changes_nothing());
        assert_eq!(adapter(text).scale(torque("70 N·m"), length("400 mm")).expect(text).amount, Decimal::from(70));
    }
    // cos 60° and cos 120° are one half.
    let scale = |text| adapter(text).scale(torque("90 N·m"), length("400 mm")).expect(text).amount.round_dp(10);
    assert_eq!(scale("100 mm@60 deg"), Decimal::from(80));
    assert_eq!(scale("80 mm@120 deg"), Decimal::from(100));
    // 45° lies between straight and square.
    assert!(scale("100 mm@45 deg") > scale("100 mm@0 deg") && scale("100 mm@45 deg") < Decimal::from(90));
}

#[test]
fn an_adapter_that_leaves_no_lever_is_refused() {
    for text in ["400 mm@180 deg", "500 mm@180 deg"] {
        let error = adapter(text).scale(torque("70 N·m"), length("400 mm")).expect_err(text);
        assert!(matches!(error, AdapterError::NoLever { .. }), "{error}");
    }
    for (text, says) in [
        ("50 mm", "LENGTH@ANGLE"),
        ("50@90 deg", "unit is missing"),
        ("50 mm@90", "unit is missing"),
        ("0 mm@0 deg", "more than 0"),
        ("-50 mm@0 deg", "more than 0"),
        ("50 N·m@0 deg", "N·m"),
    ] {
        let error = text.parse::<Adapter>().expect_err(text).to_string();
        assert!(error.contains(says) && error.contains(text), "{error}");
    }
}

#[test]
fn the_wrench_that_covers_a_value_is_taken_and_set_to_a_mark() {
    let own = example();
    // 140 N·m is 103.3 lbf·ft.
    let setting = own.choose(&limits("140 N·m"), None).expect("covered");
    assert_eq!((setting.wrench.name.as_str(), setting.set.to_string().as_str()), ("big wrench", "103 lbf·ft"));
    assert!(!setting.within && !setting.lowest_fifth);
    assert_eq!(setting.reached, torque("103 lbf·ft"));
    let setting = own.choose(&limits("25 N·m"), None).expect("covered");
    assert_eq!((setting.wrench.name.as_str(), setting.set.to_string().as_str()), ("small wrench", "25 N·m"));
    assert!(setting.within);
    // The lowest fifth of a scale to 150 is below 30.
    let low = own.choose(&limits("28 lbf·ft"), None).expect("covered");
    assert!(low.lowest_fifth);
    assert!(!own.choose(&limits("30 lbf·ft"), None).expect("covered").lowest_fifth);
    // A window is met by the mark nearest its middle.
    let window = own.choose(&limits("55..70 N·m"), None).expect("covered");
    assert_eq!((window.set.to_string().as_str(), window.within), ("46 lbf·ft", true));
    // One too narrow for the marks is left, and that is said.
    let narrow = own.choose(&limits("70.0..70.2 N·m"), None).expect("covered");
    assert_eq!((narrow.set.to_string().as_str(), narrow.within), ("52 lbf·ft", false));
}

#[test]
fn a_value_that_no_wrench_covers_is_said_with_the_nearest_mark() {
    let own = example();
    let error = own.choose(&limits("300 N·m"), None).expect_err("too much");
    assert!(matches!(error, Uncovered::Above { mark, .. } if mark == torque("150 lbf·ft")), "{error}");
    let error = own.choose(&limits("2 N·m"), None).expect_err("too little");
    assert!(matches!(error, Uncovered::Below { mark, .. } if mark == torque("5 N·m")), "{error}");
    // The big one begins at 20 lbf·ft, which is 27.1 N·m.
    let error = own.choose(&limits("26 N·m"), None).expect_err("between");
    assert!(
        matches!(error, Uncovered::Between { low, high, .. } if low == torque("25 N·m") && high == torque("20 lbf·ft")),
        "{error}"
    );
    let none = Toolbox { wrenches: Vec::new(), ..own };
    assert_eq!(none.choose(&limits("70 N·m"), None).expect_err("none"), Uncovered::NoWrench);
}

#[test]
fn an_adapter_can_bring_a_value_in_reach_and_out_of_it() {
    let own = example();
    let straight = adapter("100 mm@0 deg");
    // 220 N·m is 162 lbf·ft, above the scale; with the adapter the scale shows 134.
    assert!(own.choose(&limits("220 N·m"), None).is_err());
    let setting = own.choose(&limits("220 N·m"), Some(&straight)).expect("in reach");
    assert_eq!(setting.set.to_string(), "134 lbf·ft");
    assert!((setting.reached.in_unit(TorqueUnit::NewtonMetre).amount - Decimal::from(220)).abs() < Decimal::ONE);
    assert!(own.choose(&limits("200 N·m"), Some(&adapter("100 mm@180 deg"))).is_err());
    let unmeasured = Wrench { length: None, ..own.wrenches[1].clone() };
    let own = Toolbox { wrenches: vec![unmeasured], ..own };
    let error = own.choose(&limits("140 N·m"), Some(&straight)).expect_err("no length");
    assert_eq!(error, Uncovered::NoLength { name: "big wrench".into() });
    // At a right angle no length is needed.
    assert!(own.choose(&limits("140 N·m"), Some(&adapter("48 mm@90 deg"))).is_ok());
}

#[test]
fn accuracy_and_calibration_are_kept_in_mind() {
    let own = example();
    let big = &own.wrenches[1];
    let window = limits("55..70 N·m");
    assert_eq!(big.may_be_outside(&window, torque("56 N·m")), Some(true));
    assert_eq!(big.may_be_outside(&window, torque("62 N·m")), Some(false));
    assert_eq!(big.may_be_outside(&window, torque("90 N·m")), None);
    assert_eq!(big.may_be_outside(&limits("70 N·m"), torque("70 N·m")), None);
    assert_eq!(Wrench { accuracy: None, ..big.clone() }.may_be_outside(&window, torque("56 N·m")), None);
    let day = |text: &str| text.parse().expect("a day");
    assert_eq!(big.calibration_is_due(day("2027-02-10")), Some(false));
    assert_eq!(big.calibration_is_due(day("2027-02-11")), Some(true));
    assert_eq!(Wrench { calibrated: None, ..big.clone() }.calibration_is_due(day("2027-02-11")), None);
}

#[test]
fn stand_ins_are_exact_or_have_their_play() {
    let own = example();
    let exact = |drive: &str| matches!(own.fit(drive), Fit::Exact(_));
    assert!(exact("18 mm hex") && exact("T40") && exact("T55"));
    assert_eq!(own.fit("T25"), Fit::Missing);
    assert_eq!(own.fit("17 mm hex"), Fit::Missing);
    assert_eq!(own.fit("banjo spanner"), Fit::Unknown);
    // 3/8 in is 9.525 mm; 9.4 mm is not made, but shows the play.
    match own.fit("9.4 mm hex") {
        Fit::Loose { socket, play } => {
            assert_eq!((socket.written.as_str(), play.to_string().as_str()), ("3/8 in", "0.125 mm"));
        }
        other => panic!("{other:?}"),
    }
    // A recess takes a smaller key, never a larger one.
    assert_eq!(Size::parse("6 mm inner hex"), Some(Size::InnerHex(length("6 mm"))));
    assert_eq!(own.fit("10 mm inner hex"), Fit::Missing);
    assert!(
        own.has_other("Angle Gauge") && own.has_other("straight edge with feeler gauges") && !own.has_other("strap")
    );
}

#[test]
fn a_bad_file_names_line_finding_and_what_is_allowed() {
    let good = include_str!("../../docs/toolbox.toml");
    for (from, to, line, says, allowed) in [
        ("range = \"5..25 N·m\"", "range = \"25 N·m\"", 12, "one value", "lowest and the highest mark"),
        ("range = \"5..25 N·m\"", "range = \"25..5 N·m\"", 12, "smaller to the larger", "unit"),
        ("graduation = \"0.5 N·m\"", "graduation = \"0.5 lbf·ft\"", 13, "0.5 lbf·ft", "unit of the scale"),
        ("graduation = \"0.5 N·m\"", "graduation = \"0 N·m\"", 13, "graduation of 0 N·m", "more than 0"),
        ("drive = \"1/4 in\"\nlength", "drive = \"5/16 in\"\nlength", 14, "5/16 in", "\"1/2 in\""),
        ("length = \"230 mm\"", "length = \"230\"", 15, "unit is missing", "unit"),
        ("length = \"230 mm\"", "length = \"-230 mm\"", 15, "-230 mm", "more than 0"),
        ("accuracy = \"4 %\"  ", "accuracy = \"class 1\"", 17, "class 1", "\"4 %\""),
        ("calibrated = 2026-02-10      ", "calibrated = 2026-02-10T08:00:00", 16, "no day", "2026-03-01"),
        ("\"T55\"", "\"large\"", 38, "large", "\"T40\""),
        ("name = \"small wrench\"", "nmae = \"small wrench\"", 11, "unknown field `nmae`", "docs/toolbox.toml"),
        ("name = \"small wrench\"", "name = \"big wrench\"", 11, "two wrenches named", "name of its own"),
        ("angle_gauge = \"angle gauge\"", "", 1, "missing field `angle_gauge`", "docs/toolbox.toml"),
    ] {
        let bad = good.replacen(from, to, 1);
        assert_ne!(bad, good, "{from}");
        let error = Toolbox::parse("my.toml", &bad).expect_err(to).to_string();
        // Two wrenches of one name are told at the second one.
        let line = if says.starts_with("two") { 20 } else { line };
        assert!(error.starts_with(&format!("my.toml: line {line}: ")), "{error}");
        assert!(error.contains(says), "{error}");
        assert!(error.contains(allowed), "{error}");
    }
}

proptest! {
    #[test]
    fn scale_and_fastener_are_each_others_reverse(value in 1i64..2000, wrench in 100i64..1500, part in -95i64..95, degrees in 0i64..360) {
        let wrench = Length::new(Decimal::from(wrench), crate::quantity::LengthUnit::Millimetre);
        let arm = Decimal::from(part.abs().max(1)) * wrench.amount / Decimal::ONE_HUNDRED;
        let adapter = Adapter {
            length: Length::new(arm, crate::quantity::LengthUnit::Millimetre),
            angle: Angle::new(Decimal::from(degrees), crate::quantity::AngleUnit::Degree),
        };
        let value = Torque::new(Decimal::from(value), TorqueUnit::NewtonMetre);
        let back = adapter.at_fastener(adapter.scale(value, wrench).expect("scale"), wrench).expect("back");
        prop_assert!((back.amount - value.amount).abs() < Decimal::new(1, 12));
        // What lengthens the lever lowers the scale, what shortens it raises it.
        let scale = adapter.scale(value, wrench).expect("scale").amount;
        let gain = adapter.gain(wrench).expect("gain");
        prop_assert_eq!(gain > Decimal::ONE, scale < value.amount);
        prop_assert_eq!(gain == Decimal::ONE, scale == value.amount);
    }

    #[test]
    fn a_setting_is_a_mark_of_its_wrench(value in 1i64..260) {
        let own = example();
        for setting in own.settings(&Limits::Exactly(Torque::new(Decimal::from(value), TorqueUnit::NewtonMetre)), None) {
            let wrench = setting.wrench;
            prop_assert!(setting.set >= wrench.low && setting.set <= wrench.high);
            prop_assert!((setting.set.amount / wrench.graduation.amount).fract().is_zero());
            prop_assert!((setting.set.amount - setting.exact.amount).abs() * Decimal::TWO <= wrench.graduation.amount);
        }
    }

    #[test]
    fn no_text_makes_it_panic(text in "\\PC{0,200}") {
        let _ = Toolbox::parse("x", &text);
        let _ = text.parse::<Adapter>();
        let _ = Size::parse(&text);
    }
}
