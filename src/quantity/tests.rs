//! Round trips, order, units kept apart, and what is said of a text that is no amount.

use super::*;
use proptest::prelude::*;
use rust_decimal::Decimal;

fn dec(text: &str) -> Decimal {
    Decimal::from_str_exact(text).expect("a number in a test")
}

fn torque(text: &str) -> Torque {
    text.parse().unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn the_usual_forms_of_torque_are_read() {
    use TorqueUnit::*;
    for (unit, forms) in [
        (NewtonMetre, ["70 N·m", "70Nm", "70 N m", "70 N.m", "70 newton metres"]),
        (KilogramForceMetre, ["70 kgf·m", "70 kgm", "70 kgf m", "70 kg-m", "70 mkg"]),
        (PoundForceFoot, ["70 lbf·ft", "70 ft-lb", "70 ft lb", "70 lb-ft", "70 ft lbs"]),
        (PoundForceInch, ["70 lbf·in", "70 in-lb", "70 in lb", "70 lb-in", "70 inch pounds"]),
    ] {
        for form in forms {
            let read = torque(form);
            assert_eq!((read.amount, read.unit), (dec("70"), unit), "{form}");
        }
    }
}

#[test]
fn the_usual_forms_of_the_other_kinds_are_read() {
    for (form, is) in [
        ("90 deg", "90°"),
        ("90°", "90°"),
        ("90 degrees", "90°"),
        ("1 quarter turn", "1 quarter turn"),
        ("2 quarter turns", "2 quarter turns"),
        ("1.5 flats", "1.5 flats"),
        ("3 points", "3 points"),
        ("2.5 mm", "2.5 mm"),
        ("0.25\"", "0.25 in"),
        ("-0.5 mm", "-0.5 mm"),
        ("40 g", "40 g"),
        ("1.5 kg", "1.5 kg"),
        ("3 lb", "3 lb"),
        ("2.4 bar", "2.4 bar"),
        ("240 kPa", "240 kPa"),
        ("35 psi", "35 psi"),
        ("1.8 kg/cm²", "1.8 kgf/cm²"),
        ("18 in.Hg", "18 inHg"),
        ("25 N/mm²", "25 MPa"),
        ("4.2 litres", "4.2 l"),
        ("4.2 L", "4.2 l"),
        ("650 cc", "650 cm³"),
        ("650 c.c.", "650 cm³"),
        ("9 US pints", "9 US pt"),
        ("9 pints (US)", "9 US pt"),
        ("7.5 Imp. pints", "7.5 imp pt"),
        ("1-1/2 U.S. gal.", "1.5 US gal"),
        ("12 US fl. oz.", "12 US fl oz"),
        ("82 °C", "82 °C"),
        ("82° C", "82 °C"),
        ("-20 deg C", "-20 °C"),
        ("180°F", "180 °F"),
        ("15 sec.", "15 s"),
        ("2.5 ms", "2.5 ms"),
        ("10 minutes", "10 min"),
        ("1/2 hour", "0.5 h"),
        ("12.6 volts", "12.6 V"),
        ("300 mV", "300 mV"),
        ("50 mA", "50 mA"),
        ("0.7 Ω", "0.7 Ω"),
        ("0.7 \u{2126}", "0.7 Ω"),
        ("5 kohm", "5 kΩ"),
        ("5 mΩ", "5 mΩ"),
        ("5 MΩ", "5 MΩ"),
        ("5 Mohms", "5 MΩ"),
        ("1.2 M Ω", "1.2 MΩ"),
        ("1.2 M·Ω", "1.2 MΩ"),
        ("5 m Ω", "5 mΩ"),
        ("5 M Pa", "5 MPa"),
        ("45 N", "45 N"),
        ("9 lbf", "9 lbf"),
        ("24 N/mm", "24 N/mm"),
        ("135 lbs/in.", "135 lbf/in"),
        ("50 km/h", "50 km/h"),
        ("30 m.p.h.", "30 mph"),
        ("850 r.p.m.", "850 rpm"),
        ("850 min⁻¹", "850 rpm"),
        ("850 1/min", "850 rpm"),
        ("0.8 l/min", "0.8 l/min"),
        ("50%", "50 %"),
    ] {
        let read: Quantity = form.parse().unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(read.to_string(), is);
    }
}

#[test]
fn factors_are_those_of_sp_811() {
    // SP 811, B.8, to the seven digits printed there, and the exact ones behind them.
    for (one, in_newton_metres) in
        [("1 lbf·ft", "1.3558179483314004"), ("1 kgf·m", "9.80665"), ("1 lbf·in", "0.1129848290276167")]
    {
        assert_eq!(torque(one).in_unit(TorqueUnit::NewtonMetre).amount, dec(in_newton_metres));
    }
    assert_eq!(torque("1 lbf·ft"), torque("12 lbf·in"));
    // lbf/in² from its parts: pound, standard gravity, inch.
    let pound_force = dec("0.45359237") * dec("9.80665");
    let kilopascal = pound_force / (dec("0.0254") * dec("0.0254")) / dec("1000");
    assert_eq!(PressureUnit::PoundForcePerSquareInch.factor().round_dp(24), kilopascal.round_dp(24));
    assert_eq!("1 quarter turn".parse::<Angle>(), "1.5 flats".parse::<Angle>());
    assert_eq!("2 points".parse::<Angle>(), "1 flat".parse::<Angle>());
    assert_eq!("1 in".parse::<Length>(), "25.4 mm".parse::<Length>());
}

#[test]
fn other_factors_are_those_of_sp_811() {
    let same = |a: &str, b: &str| {
        let read = |text: &str| text.parse::<Quantity>().unwrap_or_else(|e| panic!("{e}"));
        let (a, b) = (read(a), read(b));
        assert_eq!(a.partial_cmp(&b), Some(std::cmp::Ordering::Equal), "{a} {b}");
        assert_eq!(a.in_unit(b.unit()).expect("one kind").amount(), b.amount(), "{a} {b}");
        assert_eq!(b.in_unit(a.unit()).expect("one kind").amount(), a.amount(), "{b} {a}");
    };
    same("1 US gal", "3785.411784 ml");
    same("1 imp gal", "4546.09 ml");
    same("1 US gal", "8 US pt");
    same("1 US gal", "128 US fl oz");
    same("1 imp gal", "8 imp pt");
    same("1 imp gal", "160 imp fl oz");
    same("1 imp gal", "4 imp qt");
    same("1 l", "1000 cm³");
    same("100 °C", "212 °F");
    same("-40 °C", "-40 °F");
    same("0 K", "-273.15 °C");
    same("20 °C", "68 °F");
    same("1 h", "3600 s");
    same("1 kgf", "9.80665 N");
    same("1 kgf/cm²", "98.0665 kPa");
    same("10 MPa", "100 bar");
    same("60 mph", "96.56064 km/h");
    same("1 l/min", "60 l/h");
    same("1 kΩ", "1000 Ω");
    same("1 MΩ", "1000 kΩ");
    let round =
        |a: &str, unit: Unit| a.parse::<Quantity>().expect("one").in_unit(unit).expect("in it").amount().round_dp(6);
    assert_eq!(round("1 inHg", Unit::Pressure(PressureUnit::Kilopascal)), dec("3.386389"));
    assert_eq!(round("1 lbf", Unit::Force(ForceUnit::Newton)), dec("4.448222"));
    assert_eq!(round("1 lbf/in", Unit::SpringRate(SpringRateUnit::NewtonPerMillimetre)), dec("0.175127"));
    assert_eq!(round("1 US gal/min", Unit::Flow(FlowUnit::LitrePerMinute)), dec("3.785412"));
}

#[test]
fn a_measure_of_two_sizes_says_whose_it_is() {
    for text in ["9 pints", "2 gal", "3.5 qt", "12 fl. oz.", "2 gal/min"] {
        let error = text.parse::<Quantity>().expect_err(text).to_string();
        assert!(error.contains("two sizes"), "{error}");
    }
    assert!("9 pints".parse::<Volume>().expect_err("two sizes").to_string().contains("with US or imp"));
}

#[test]
fn no_form_names_two_units() {
    macro_rules! forms {
        ($($(#[$doc:meta])* $name:ident $unit:ident $called:literal, $forms:literal;)*) => {
            [$($unit::FORMS),*].concat()
        };
    }
    let mut forms = super::kind::kinds!(forms);
    forms.sort_unstable();
    let all = forms.len();
    forms.dedup();
    assert_eq!(forms.len(), all);
}

#[test]
fn temperatures_are_in_order_whatever_their_scale() {
    let read = |text: &str| text.parse::<Temperature>().expect("a temperature");
    let rising = ["0 K", "-300 °F", "-40 °C", "0 °F", "0 °C", "300 K", "100 °F", "100 °C", "400 K"];
    assert!(rising.windows(2).all(|two| read(two[0]) < read(two[1])));
    let window: Limits<Temperature> = "80-90 °C".parse().expect("a window");
    assert!(window.contains(read("180 °F")) && !window.contains(read("200 °F")));
    assert_eq!("-5..5 °C".parse::<Limits<Temperature>>().expect("a window").to_string(), "-5..5 °C");
    assert_eq!("85 ± 5 °C".parse::<Limits<Temperature>>().expect("a window").to_string(), "80..90 °C");
}

#[test]
fn windows_are_read_and_printed() {
    for (form, is) in [
        ("55..70 deg", "55..70°"),
        ("55 .. 70°", "55..70°"),
        ("55 deg..70 deg", "55..70°"),
        ("27 ± 3 N·m", "24..30 N·m"),
        ("27 +/- 3 Nm", "24..30 N·m"),
        ("27 Nm ± 3 Nm", "24..30 N·m"),
        ("70 N·m", "70 N·m"),
        ("1..2 flats", "1..2 flats"),
    ] {
        let printed = form
            .parse::<Limits<Torque>>()
            .map(|l| l.to_string())
            .or_else(|_| form.parse::<Limits<Angle>>().map(|l| l.to_string()));
        assert_eq!(printed.as_deref(), Ok(is), "{form}");
    }
}

#[test]
fn values_are_read_as_manuals_print_them() {
    for (printed, is) in [
        ("250-300 lb-ft", "250..300 lbf·ft"),
        ("250 - 300 ft. lbs.", "250..300 lbf·ft"),
        ("60 – 75 Nm", "60..75 N·m"),
        ("55 to 70 N·m", "55..70 N·m"),
        ("55 N·m to 70 N·m", "55..70 N·m"),
        ("24 in. lbs.", "24 lbf·in"),
        ("1/2-3/4 ft-lb", "0.5..0.75 lbf·ft"),
        ("1/2-1-1/2 ft-lb", "0.5..1.5 lbf·ft"),
    ] {
        assert_eq!(printed.parse::<Limits<Torque>>().map(|t| t.to_string()).as_deref(), Ok(is), "{printed}");
    }
    for (printed, is) in [
        ("0.003 in", "0.003 in"),
        ("0.001 to 0.003 in.", "0.001..0.003 in"),
        ("1 1/2 in", "1.5 in"),
        ("1-1/2 in", "1.5 in"),
        ("1½ in", "1.5 in"),
        ("1/64 in", "0.015625 in"),
        ("⅜ in", "0.375 in"),
        ("1 1/4-1 1/2 in", "1.25..1.5 in"),
        ("1-1/4-1-1/2 in", "1.25..1.5 in"),
        ("1-1/2-2 in", "1.5..2 in"),
        ("1-1/2 to 1-3/4 in", "1.5..1.75 in"),
        ("1 to 1-1/2 in", "1..1.5 in"),
        ("1½-2 in", "1.5..2 in"),
        // A whole of nothing before a fraction is where a window begins.
        ("0 to 1/8 in", "0..0.125 in"),
        ("0-1/8 in", "0..0.125 in"),
        ("0–⅛ in", "0..0.125 in"),
        ("-2..3 mm", "-2..3 mm"),
        ("-2 mm", "-2 mm"),
    ] {
        assert_eq!(printed.parse::<Limits<Length>>().map(|t| t.to_string()).as_deref(), Ok(is), "{printed}");
    }
}

#[test]
fn a_fraction_that_is_none_is_refused_at_any_length() {
    for text in ["½½ in", "½5 in", "1½½ in", "0 1/8 in", "00 1/2 in", "1 - 1/2 in", "1/2/3 in", "1/8-1/4-1/2 in"] {
        assert!(text.parse::<Limits<Length>>().is_err(), "{text}");
    }
    let spaces = " ".repeat(100_000);
    assert!(format!("1{spaces}1/2 in").parse::<Limits<Length>>().is_err());
    assert_eq!("0-1/2 flats".parse::<Limits<Angle>>().map(|a| a.is_window()), Ok(true));
    for piece in ["½", "1/", "1-", "1 1/2 ", "0-1/8-", "   1/2", "1 to ", "9"] {
        let long = format!("1{} in", piece.repeat(100_000));
        assert!(long.parse::<Limits<Length>>().is_err(), "{piece}");
        assert!(long.parse::<Quantity>().is_err(), "{piece}");
    }
}

#[test]
fn a_bad_text_says_what_was_read_and_what_is_allowed() {
    for (text, says) in [
        ("", "does not begin with a number"),
        ("Nm", "does not begin with a number"),
        ("70", "the unit is missing"),
        ("70 kNm", "\"kNm\" is no unit of it"),
        ("70 deg", "\"deg\" is a unit of angle"),
        ("70,5 Nm", "decimals follow a point"),
        ("7.0.5 Nm", "\"7.0.5\" is not a plain decimal number"),
        ("1e3 Nm", "\"e3 Nm\" is no unit of it"),
        ("99999999999999999999999999999999999999 Nm", "more digits than a real value"),
        ("0.00000000000000000000000000000000000001 Nm", "more digits than a real value"),
        ("75..60 Nm", "from the smaller to the larger"),
        ("55-60-70 Nm", "a window is written with two dots"),
        ("70-55 Nm", "from the smaller to the larger"),
        ("55 to Nm", "a window is written with two dots"),
        ("1/3 Nm", "is no fraction that a decimal number is equal to"),
        ("1 3/2 Nm", "is no fraction"),
        ("1/0 Nm", "is no fraction"),
        ("1.5/2 Nm", "is no fraction"),
        ("-1 1/2 Nm", "is no fraction"),
    ] {
        let error = text.parse::<Limits<Torque>>().expect_err(text).to_string();
        assert!(error.contains(says), "{text}: {error}");
        assert!(error.contains("N·m, kgf·m, lbf·ft or lbf·in"), "{error}");
    }
    // A sign or a point without a digit is no nought.
    for text in
        ["- Nm", "-Nm", "−Nm", "+ Nm", "+Nm", ". Nm", "-. Nm", ".Nm", "Nm", " Nm", "5. Nm", "-..+ Nm", "- .. 5 Nm"]
    {
        assert!(text.parse::<Limits<Torque>>().is_err() && text.parse::<Torque>().is_err(), "{text}");
    }
    let error = "55..70 Nm".parse::<Torque>().expect_err("one value").to_string();
    assert!(error.contains("one value is wanted"), "{error}");
    let error = "70 furlongs".parse::<Quantity>().expect_err("no unit").to_string();
    assert!(error.contains("furlongs") && error.contains("\"2.4 bar\"") && error.len() < 250, "{error}");
}

#[test]
fn rounding_says_when_the_result_left_the_window() {
    let exact: Limits<Torque> = "70 N·m".parse().expect("torque");
    let same = exact.round_to(TorqueUnit::NewtonMetre, dec("5")).expect("rounds");
    assert_eq!((same.value.to_string().as_str(), same.within), ("70 N·m", true));
    let other = exact.round_to(TorqueUnit::PoundForceFoot, dec("1")).expect("rounds");
    assert_eq!((other.value.to_string().as_str(), other.within), ("52 lbf·ft", false));
    let window: Limits<Torque> = "24..30 N·m".parse().expect("torque");
    let inside = window.round_to(TorqueUnit::NewtonMetre, dec("2")).expect("rounds");
    assert_eq!((inside.value.to_string().as_str(), inside.within), ("28 N·m", true));
    let coarse = window.round_to(TorqueUnit::NewtonMetre, dec("20")).expect("rounds");
    assert_eq!((coarse.value.to_string().as_str(), coarse.within), ("20 N·m", false));
    assert_eq!(exact.round_to(TorqueUnit::NewtonMetre, Decimal::ZERO), None);
    assert_eq!(exact.round_to(TorqueUnit::NewtonMetre, dec("-1")), None);
}

#[test]
fn absurd_numbers_never_panic() {
    let huge = Torque::new(Decimal::MAX, TorqueUnit::KilogramForceMetre);
    let tiny = Torque::new(Decimal::MIN, TorqueUnit::PoundForceInch);
    for unit in TorqueUnit::ALL {
        assert!(tiny.in_unit(*unit) < huge.in_unit(*unit));
    }
    let window = Limits::Window { low: tiny, high: huge };
    assert!(window.contains(torque("70 N·m")));
    let _ = window.round_to(TorqueUnit::NewtonMetre, dec("0.0000000000000000000000000001"));
    let _ = Limits::Exactly(huge).round_to(TorqueUnit::NewtonMetre, dec("0.1"));
}

#[test]
fn amounts_are_texts_to_serde() {
    let json = serde_json::to_string(&(torque("52 ft-lb"), Unit::Angle(AngleUnit::Degree))).expect("json");
    assert_eq!(json, r#"["52 lbf·ft","°"]"#);
    let back: (Torque, Unit) = serde_json::from_str(&json).expect("json");
    assert_eq!(back, (torque("52 lbf·ft"), Unit::Angle(AngleUnit::Degree)));
    assert!(serde_json::from_str::<Torque>("\"70\"").is_err());
}

#[test]
fn thousandths_of_an_inch_are_read_as_manuals_print_them() {
    for (text, inches) in [
        ("8 thou", "0.008 in"),
        ("8 Thou.", "0.008 in"),
        ("8.0 thou", "0.0080 in"),
        ("1 1/2 thou", "0.0015 in"),
        ("8 thousandths", "0.008 in"),
        ("one", ""),
        ("1 thousandth", "0.001 in"),
        ("8 thousandths of an inch", "0.008 in"),
        ("8 thousandths in.", "0.008 in"),
        ("8/1000 in", "0.008 in"),
        (".008 in.", "0.008 in"),
        ("-.008\"", "-0.008 in"),
        ("1,000 thou", ""),
        ("0.0005 thou", ""),
        ("8 thou in", ""),
        ("8 in thou", ""),
        ("thou", ""),
        ("8 N·m thou", ""),
        (". in", ""),
        ("8. in", ""),
    ] {
        let read = text.parse::<Quantity>().map_or(String::new(), |value| value.to_string());
        assert_eq!(read, inches, "{text}");
    }
    for (text, inches) in [
        ("8-10 thou", "0.008..0.010 in"),
        ("8..10 thou", "0.008..0.010 in"),
        ("8 to 10 thou", "0.008..0.010 in"),
        ("8 thou to 10 thou", "0.008..0.010 in"),
        ("8 ± 2 thou", "0.006..0.010 in"),
        (".008-.010 in", "0.008..0.010 in"),
        (".008..0.010 in", "0.008..0.010 in"),
        ("8 in to 10 thou", ""),
        ("8\"-10 thou", ""),
        ("10-8 thou", ""),
        ("0.5...9 in", ""),
    ] {
        let read = text.parse::<Limits<Length>>().map_or(String::new(), |limits| limits.to_string());
        assert_eq!(read, inches, "{text}");
    }
    assert!("8 thou".parse::<Torque>().is_err() && "8 thou".parse::<Unit>().is_err());
}

fn units() -> Vec<Unit> {
    Kind::ALL.iter().flat_map(|kind| Unit::all(*kind)).collect()
}

fn amount() -> impl Strategy<Value = Decimal> {
    (-9_999_999i64..=9_999_999, 0u32..=3).prop_map(|(n, scale)| Decimal::new(n, scale))
}

fn unit() -> impl Strategy<Value = Unit> {
    proptest::sample::select(units())
}

proptest! {
    #[test]
    fn what_is_printed_is_read_again(amount in amount(), unit in unit()) {
        let value = Quantity::new(amount, unit);
        let back: Quantity = value.to_string().parse().expect("what is printed is read");
        prop_assert_eq!((back.amount(), back.unit()), (amount, unit));
    }

    #[test]
    fn windows_printed_are_read_again(low in amount(), width in 1i64..1000, unit in proptest::sample::select(TorqueUnit::ALL)) {
        let high = low + Decimal::from(width);
        let limits = Limits::Window { low: Torque::new(low, unit), high: Torque::new(high, unit) };
        prop_assert_eq!(limits.to_string().parse::<Limits<Torque>>().expect("window"), limits);
    }

    #[test]
    fn converting_to_and_fro_changes_nothing(amount in amount(), a in unit(), b in unit()) {
        let value = Quantity::new(amount, a);
        match value.in_unit(b) {
            Some(other) => {
                prop_assert_eq!(a.kind(), b.kind());
                prop_assert_eq!(other.unit(), b);
                prop_assert_eq!(other, value);
                let back = other.in_unit(a).expect("same kind");
                prop_assert!((back.amount() - amount).abs() < dec("0.000000000001"));
            }
            None => prop_assert_ne!(a.kind(), b.kind()),
        }
    }

    #[test]
    fn order_does_not_depend_on_the_unit(x in amount(), y in amount(), a in unit(), b in unit()) {
        let first = Quantity::new(x, a);
        let second = Quantity::new(y, a);
        prop_assert_eq!(first.partial_cmp(&second), Some(x.cmp(&y)));
        let Some(second) = second.in_unit(b) else {
            // Amounts of two kinds are never in order and never equal.
            prop_assert_eq!(first.partial_cmp(&Quantity::new(y, b)), None);
            prop_assert_ne!(first, Quantity::new(y, b));
            return Ok(());
        };
        prop_assert_eq!(first.partial_cmp(&second), Some(x.cmp(&y)));
    }

    #[test]
    fn a_unit_is_never_read_as_another(a in unit(), b in unit()) {
        let text = Quantity::new(Decimal::TWO, a).to_string();
        let read: Quantity = text.parse().expect("printed form");
        prop_assert_eq!(read.unit() == b, a == b);
        prop_assert_eq!(a.symbol() == b.symbol(), a == b);
    }

    #[test]
    fn a_rounded_setting_is_the_nearest_mark(n in 1i64..2000, unit in proptest::sample::select(TorqueUnit::ALL)) {
        let limits = Limits::Exactly(Torque::new(Decimal::from(n), TorqueUnit::NewtonMetre));
        let graduation = dec("0.5");
        let set = limits.round_to(unit, graduation).expect("rounds");
        let off = (set.value.amount - limits.low().in_unit(unit).amount).abs();
        prop_assert!(off <= dec("0.25"));
        prop_assert!((set.value.amount / graduation).fract().is_zero());
        prop_assert_eq!(set.within, off.is_zero());
    }

    #[test]
    fn no_text_makes_it_panic(text in "\\PC{0,40}") {
        let _ = text.parse::<Quantity>();
        let _ = text.parse::<Limits<Torque>>();
        let _ = text.parse::<Limits<Angle>>();
        let _ = text.parse::<Unit>();
    }
}

/// By the letter alone they would be a thousand million times what they are.
#[test]
fn mega_is_never_read_as_milli_nor_milli_as_mega() {
    for text in ["5 MV", "5 M V", "5 Mvolt", "30 MA", "30 MAmp", "5 mPa", "5 m·Pa"] {
        assert!(text.parse::<Quantity>().is_err(), "{text}");
    }
}
