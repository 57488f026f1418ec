//! Numbers as they are said and typed: every form of them, whole or not at all.

mod common;

use common::{degrees, millimetres, nm};
use proptest::prelude::*;
use rust_decimal::Decimal;
use std::sync::{Arc, LazyLock};
use wrenchside::dialogue::{Grammar, Language, Meaning};
use wrenchside::job::{Command, Expect, Job, Reading};
use wrenchside::quantity::{Kind, Quantity, Unit};

fn plain() -> Expect {
    let begun = Job::new(Arc::new(common::book())).expects();
    Expect { yes_no: false, angle: false, reading: None, fastener: false, places: vec![], ..begun }
}

fn tightening() -> Expect {
    Expect { reading: Some(Quantity::Torque(nm(70, 0))), fastener: true, ..plain() }
}

static MEASURING: LazyLock<(Expect, Grammar)> = LazyLock::new(|| {
    let expect = Expect { reading: Some(millimetres(5, 2)), ..plain() };
    let grammar = Language::english().grammar(&expect, true);
    (expect, grammar)
});

fn command(command: Command) -> Meaning {
    Meaning::Command(command)
}

fn typed(line: &str, expect: &Expect) -> Option<Meaning> {
    Language::english().understand_typed(line, expect).ok()
}

/// Words after "reading", what they come to, and the unit if it is said.
const SPOKEN: &[(&str, &str, &str)] = &[
    ("nought", "0", ""),
    ("zero", "0", ""),
    ("seven", "7", ""),
    ("thirteen", "13", ""),
    ("thirty", "30", ""),
    ("thirty eight", "38", ""),
    ("ninety nine", "99", ""),
    ("one hundred", "100", ""),
    ("a hundred", "100", ""),
    ("a hundred and five", "105", ""),
    ("one hundred five", "105", ""),
    ("one oh five", "105", ""),
    ("three oh two", "302", ""),
    ("one hundred and fifteen", "115", ""),
    ("three hundred and seventy", "370", ""),
    ("nine hundred ninety nine", "999", ""),
    ("one thousand", "1000", ""),
    ("a thousand", "1000", ""),
    ("a thousand and five", "1005", ""),
    ("one thousand and fifty", "1050", ""),
    ("one thousand two hundred", "1200", ""),
    ("one thousand two hundred and fifty", "1250", ""),
    ("a thousand two hundred", "1200", ""),
    ("eleven hundred", "1100", ""),
    ("twelve hundred", "1200", ""),
    ("twelve hundred and fifty", "1250", ""),
    ("ninety nine hundred ninety nine", "9999", ""),
    ("two thousand and fourteen", "2014", ""),
    ("nine thousand nine hundred and ninety nine", "9999", ""),
    ("twenty five thousand", "25000", ""),
    ("thirty eight point five", "38.5", ""),
    ("thirty eight point zero", "38.0", ""),
    ("thirty eight point oh five", "38.05", ""),
    ("one hundred and four point two five", "104.25", ""),
    ("one thousand two hundred point five", "1200.5", ""),
    ("zero point three", "0.3", ""),
    ("nought point three", "0.3", ""),
    ("naught point three", "0.3", ""),
    ("oh point five", "0.5", ""),
    ("point five", "0.5", ""),
    ("point zero one two", "0.012", ""),
    ("point oh one two", "0.012", ""),
    ("zero point zero zero five", "0.005", ""),
    ("two point seven five", "2.75", ""),
    ("half", "0.5", ""),
    ("a half", "0.5", ""),
    ("one half", "0.5", ""),
    ("a quarter", "0.25", ""),
    ("three quarters", "0.75", ""),
    ("twenty seven and a half", "27.5", ""),
    ("twenty seven and a quarter", "27.25", ""),
    ("twenty seven and three quarters", "27.75", ""),
    ("a hundred and a half", "100.5", ""),
    ("one thousand two hundred and a half", "1200.5", ""),
    ("an eighth", "0.125", "inches"),
    ("one eighth", "0.125", "inches"),
    ("five eighths", "0.625", "inches"),
    ("seven eighths of an inch", "0.875", "inches"),
    ("one sixteenth", "0.0625", "inches"),
    ("three sixteenths", "0.1875", "inches"),
    ("three sixteenths inch", "0.1875", "inches"),
    ("three sixteenths of an inch", "0.1875", "inches"),
    ("fifteen sixteenths", "0.9375", "inches"),
    ("one and three sixteenths", "1.1875", "inches"),
    ("two and five eighths inches", "2.625", "inches"),
    ("seven thirty seconds", "0.21875", "inches"),
    ("half an inch", "0.5", "inches"),
    ("three quarters of an inch", "0.75", "inches"),
    ("one and a half inches", "1.5", "inches"),
    ("a thou", "0.001", "inches"),
    ("eleven thou", "0.011", "inches"),
    ("eleven thousandths", "0.011", "inches"),
    ("eleven thousandths of an inch", "0.011", "inches"),
    ("twelve thou", "0.012", "inches"),
    ("one hundred and five thou", "0.105", "inches"),
    ("two and a half thou", "0.0025", "inches"),
    ("half a thou", "0.0005", "inches"),
    ("zero point five thou", "0.0005", "inches"),
    ("thirty eight newton metres", "38", "newton metres"),
    ("thirty eight point five newton metres", "38.5", "newton metres"),
    ("twelve hundred newton metres", "1200", "newton metres"),
    ("twenty eight foot pounds", "28", "foot pounds"),
    ("twenty eight and a half foot pounds", "28.5", "foot pounds"),
    ("three hundred and thirty six inch pounds", "336", "inch pounds"),
    ("two point eight kilogram metres", "2.8", "kilogram metres"),
    ("sixty eight degrees", "68", "degrees"),
    ("half a flat", "0.5", "flats"),
    ("one flat", "1", "flats"),
    ("one and a half flats", "1.5", "flats"),
    ("three quarter turns", "3", "quarter turns"),
    ("two points", "2", "points"),
    ("zero point two five millimetres", "0.25", "millimetres"),
    ("minus two millimetres", "-2", "millimetres"),
    ("minus point six bar", "-0.6", "bar"),
    ("two point two bar", "2.2", "bar"),
    ("thirty two pounds per square inch", "32", "pounds per square inch"),
    ("two hundred and twenty kilopascals", "220", "kilopascals"),
    ("twelve grams", "12", "grams"),
];

/// Words after "reading" of which some are left over, or that no number has.
const NO_NUMBER: &[&str] = &[
    "",
    "point",
    "five point",
    "thirty eight point",
    "twenty twenty",
    "hundred",
    "one ten",
    "ten hundred",
    "thirty eight seven",
    "thirty eight and",
    "thirty eight and a",
    "thirty eight and a bit",
    "thirty eight point five and a half",
    "thirty eight point five point",
    "thirty eight point five seven point two",
    "thirty eight point ten",
    "thirty eight point twenty five",
    "thirty eight or nine",
    "thirty eight ish",
    "thirty eight thirty nine",
    "thirty eight feet",
    "thirty eight metres per newton",
    "about thirty eight",
    "not thirty eight",
    "nearly thirty eight",
    "thirty eight no",
    "thirty eight no forty",
    "three and a sixteenths",
    "sixteen sixteenths",
    "twenty five eighths",
    "three quarters newton metres half",
    "three sixteenths newton metres",
    "eleven thou millimetres",
    "minus",
    "minus thirty eight newton metres",
    "minus minus two inches",
    "two minus",
    "two and",
    "and a half",
    "half half",
    "half of a",
    "thirty eight of a newton metre",
    "a",
    "thou",
    "quarters",
    "one thousand thousand",
    "a thousand hundred",
    "double seven",
    "seven seven",
    "one two three",
    "sixty eight degrees newton metres",
    "sixty eight degrees five",
    "oh",
    "oh five",
    "point",
    "point five point five",
];

fn after_reading(words: &str, grammar: &Grammar) -> Option<Reading> {
    match grammar.meaning(&format!("reading {words}")) {
        Some(Meaning::Command(Command::Reading(reading))) => Some(reading),
        Some(other) => panic!("{words}: {other:?}"),
        None => None,
    }
}

/// Wherever a number is awaited, every form of it is heard, with units of every kind; and it is typed by the same words.
#[test]
fn every_form_of_number_is_heard_wherever_one_is_awaited() {
    assert!(SPOKEN.len() >= 80);
    let unit_of = |name: &str| -> Option<Unit> {
        Some(match name {
            "" => return None,
            "inches" => "in",
            "newton metres" => "N·m",
            "foot pounds" => "lbf·ft",
            "inch pounds" => "lbf·in",
            "kilogram metres" => "kgf·m",
            "degrees" => "°",
            "flats" => "flats",
            "quarter turns" => "quarter turns",
            "points" => "points",
            "millimetres" => "mm",
            "bar" => "bar",
            "pounds per square inch" => "psi",
            "kilopascals" => "kPa",
            "grams" => "g",
            other => panic!("{other}"),
        })
        .map(|symbol| symbol.parse().unwrap())
    };
    for about in [Quantity::Torque(nm(70, 0)), Quantity::Angle(degrees(90)), millimetres(5, 2)] {
        let expect = Expect { reading: Some(about), ..plain() };
        let grammar = Language::english().grammar(&expect, true);
        for (words, amount, unit) in SPOKEN {
            let wanted = Reading { amount: amount.parse().unwrap(), unit: unit_of(unit) };
            let heard = after_reading(words, &grammar);
            assert_eq!(heard.as_ref(), Some(&wanted), "{words}");
            // With the decimals that were said.
            assert_eq!(heard.unwrap().amount.to_string(), *amount, "{words}");
            let line = format!("reading {words}");
            assert_eq!(typed(&line, &expect), Some(command(Command::Reading(wanted))), "{words}");
        }
        for words in NO_NUMBER {
            assert_eq!(after_reading(words, &grammar), None, "{words}");
            assert_eq!(typed(&format!("reading {words}"), &expect), None, "{words}");
        }
        assert_eq!(after_reading("half a", &grammar), None);
        // Of a unit that is not awaited nothing is heard; typed it is for the job to refuse, which says why.
        for (words, unit) in [("thirty eight percent", "%"), ("thirty eight volts", "V"), ("thirty eight newtons", "N")]
        {
            assert_eq!(after_reading(words, &grammar), None, "{words}");
            let wanted = Reading { amount: 38.into(), unit: Some(unit.parse().unwrap()) };
            assert_eq!(typed(&format!("reading {words}"), &expect), Some(command(Command::Reading(wanted))), "{words}");
        }
    }
    assert_eq!(Language::english().grammar(&plain(), true).meaning("reading thirty eight point five"), None);
}

#[test]
fn less_than_nothing_is_only_what_can_be() {
    let minus = |about: Quantity| {
        let expect = Expect { reading: Some(about), ..plain() };
        after_reading("minus two point five", &Language::english().grammar(&expect, true))
    };
    assert_eq!(minus(millimetres(5, 2)), Some(Reading { amount: "-2.5".parse().unwrap(), unit: None }));
    assert_eq!(minus(Quantity::Torque(nm(70, 0))), None);
    assert_eq!(minus(Quantity::Angle(degrees(90))), None);
}

#[test]
fn a_reading_with_words_left_over_is_known_as_one() {
    let grammar = Language::english().grammar(&tightening(), true);
    for broken in [
        "reading thirty eight point",
        "reading thirty eight [unk]",
        "reading thirty eight and a bit",
        "reading five [unk] bar",
    ] {
        assert!(grammar.broken_reading(broken), "{broken}");
    }
    for other in [
        "reading",
        "reading glasses",
        "reading a book",
        "reading [unk]",
        "reading thirty eight",
        "next step",
        "reading two bar",
    ] {
        assert!(!grammar.broken_reading(other), "{other}");
    }
}

/// What a listener sets beside a number that it heard.
#[test]
fn a_number_stands_against_itself_going_on() {
    let grammar = Language::english().grammar(&tightening(), true);
    let others = grammar.instead_of("reading thirty eight");
    for other in [
        "reading thirty eight point five",
        "reading thirty eight point oh",
        "reading thirty eight and a half",
        "reading thirty eight and three quarters",
        "reading thirty eight hundred",
        "reading thirty eight thousand",
        "reading thirty eight thou",
        "reading thirty eight sixteenths",
        "reading thirty eight degrees",
        "reading thirty eight bar",
        "reading thirty eight millimetres",
    ] {
        assert!(others.iter().any(|o| o == other), "{other} is not in {others:?}");
    }
    let others = grammar.instead_of("reading thirty point five");
    assert!(
        others.contains(&"reading thirty point nine".to_owned())
            && others.contains(&"reading thirteen point five".to_owned())
    );
    assert!(grammar.instead_of("next step").is_empty() && grammar.instead_of("reading glasses").is_empty());
    for others in [others, grammar.instead_of("reading one thousand two hundred and fifty")] {
        assert!(others.len() < 100, "{}", others.len());
        assert!(others.iter().all(|other| grammar.lookup(other).is_none()));
    }
}

/// A listener that loses a digit, or hears a word for one, is compared with all that it may have lost.
#[test]
fn a_number_stands_against_itself_with_a_word_more_or_another() {
    let measuring = Expect { reading: Some("0.05 mm".parse().unwrap()), ..tightening() };
    let grammar = Language::english().grammar(&measuring, true);
    let others = grammar.a_word_off("reading two point zero");
    for other in [
        "reading two point eight zero",
        "reading two point zero six",
        "reading twenty two point zero",
        "reading two point one",
    ] {
        assert!(others.iter().any(|o| o == other), "{other} is not in {others:?}");
        assert!(grammar.reading(other).is_some(), "{other}");
    }
    // What means the same is no other number, and what says that it is one stays.
    assert!(others.iter().all(|o| o != "reading two point oh" && o.starts_with("reading ")), "{others:?}");
    // Where no number was heard a word may have been one.
    let others = grammar.a_word_off("reading zero point three it");
    assert!(others.iter().any(|o| o == "reading zero point three eight"), "{others:?}");
    assert!(others.iter().all(|o| grammar.reading(o).is_some()), "{others:?}");
    for nothing in ["next step", "it", "go to", "i think so", ""] {
        assert_eq!(grammar.a_word_off(nothing), Vec::<String>::new(), "{nothing}");
    }
    // Where no reading is awaited none is made up.
    let grammar = Language::english().grammar(&Expect::default(), true);
    assert_eq!(grammar.a_word_off("reading two point zero"), Vec::<String>::new());
}

/// Decimals alone, after a whole number, go on from it; they are no number of their own.
#[test]
fn decimals_alone_go_on_from_a_whole_number() {
    let rest = |amount: &str| Some(Meaning::Command(Command::Rest(amount.parse().unwrap())));
    let begun = Expect { rest: true, ..tightening() };
    let language = Language::english();
    let grammar = language.grammar(&begun, true);
    for (words, amount) in [("point five", "0.5"), ("and a half", "0.5"), ("and three quarters", "0.75")] {
        assert_eq!(grammar.meaning(words), rest(amount), "{words}");
        assert_eq!(typed(words, &begun), rest(amount), "{words}");
        assert_eq!(language.grammar(&tightening(), true).meaning(words), None, "{words}: nothing was begun");
    }
    assert_eq!(typed("point two five", &begun), rest("0.25"));
    for line in ["reading point five", "reading 0.5", "reading zero point five"] {
        assert!(matches!(typed(line, &begun), Some(Meaning::Command(Command::Reading(_)))), "{line}");
    }
    for line in ["point zero", "point", "and", "point five and a half", "point twelve"] {
        assert!(!matches!(typed(line, &begun), Some(Meaning::Command(Command::Rest(_)))), "{line}");
    }
}

#[test]
fn a_typed_number_is_whole_or_told_what_is_left_over() {
    for (line, amount, unit) in [
        ("reading 38.5", "38.5", None),
        ("reading 70.0 nm", "70.0", Some("N·m")),
        ("reading .5", "0.5", None),
        ("reading 3/16", "0.1875", Some("in")),
        ("reading 1 3/16 inches.", "1.1875", Some("in")),
        ("reading 27½ Nm", "27.5", Some("N·m")),
        ("reading ¾", "0.75", None),
        ("reading 11 thou", "0.011", Some("in")),
        ("reading 5 sixteenths", "0.3125", Some("in")),
        ("reading 0.012\"", "0.012", Some("in")),
        ("reading 32 lbf/in²", "32", Some("psi")),
        ("-0.6 bar", "-0.6", Some("bar")),
        ("reading 27 and a half", "27.5", None),
        ("reading 38 %", "38", Some("%")),
        ("reading 38%", "38", Some("%")),
        ("\"reading 38\"", "38", None),
        ("reading 999999.999999", "999999.999999", None),
    ] {
        let wanted = Reading { amount: amount.parse().unwrap(), unit: unit.map(|unit| unit.parse().unwrap()) };
        assert_eq!(typed(line, &tightening()), Some(command(Command::Reading(wanted))), "{line}");
    }
    let left = |line: &str| Language::english().understand_typed(line, &tightening()).unwrap_err().left_over;
    for (line, more) in [
        ("reading 38 and a bit", "and a bit"),
        ("reading thirty eight point", "point"),
        ("38.5 nm or so", "or so"),
        ("reading 38'", "'"),
        ("reading 38 39", "39"),
        ("reading 1,200", "200"),
        ("reading 68 degrees nm", "nm"),
    ] {
        assert_eq!(left(line).as_deref(), Some(more), "{line}");
    }
    for line in [
        "reading >38",
        "reading <38",
        "reading ±38",
        "reading ~38",
        "reading 38..5",
        "reading 38.5.2",
        "reading 1e3",
        "reading 1000000",
        "reading 0.1234567",
        "reading 99999999999999999999999999999",
        "reading 3/0",
        "reading 3/7",
        "reading 17/16",
        "reading -38 nm",
        "reading 38 n/m",
        "reading -",
        "reading 4-12",
        "reading 3//16",
        "reading /16",
        "reading 3/",
    ] {
        assert_eq!(typed(line, &tightening()), None, "{line}");
    }
    assert_eq!(left("hello there"), None);
    let sentence = |line: &str| {
        let language = Language::english();
        language.not_understood(&language.understand_typed(line, &tightening()).unwrap_err())
    };
    assert_eq!(sentence("reading 38 and a bit").written, "I do not know what “and a bit” adds to the number.");
    assert_eq!(sentence("reading 38 and a bit").spoken, "I do not know what and a bit adds to the number.");
}

/// Every word that numbers and units are made of, and some that they are not.
fn number_word() -> impl Strategy<Value = &'static str> {
    proptest::sample::select(vec![
        "zero",
        "oh",
        "one",
        "two",
        "three",
        "five",
        "seven",
        "eleven",
        "thirteen",
        "thirty",
        "forty",
        "ninety",
        "hundred",
        "thousand",
        "and",
        "a",
        "an",
        "of",
        "point",
        "minus",
        "half",
        "quarter",
        "quarters",
        "eighths",
        "sixteenth",
        "sixteenths",
        "seconds",
        "thou",
        "newton",
        "metres",
        "foot",
        "pounds",
        "degrees",
        "inch",
        "inches",
        "bar",
        "bit",
        "no",
        "7",
        "38.5",
        "3/16",
        "½",
        ".5",
        "-2",
    ])
}

proptest! {
    /// What the program says is heard as what it meant, in any wording of it.
    #[test]
    fn numbers_said_are_heard(n in 0u32..1_000_000, decimals in 0u32..=6, minus in any::<bool>()) {
        let language = Language::english();
        let numbers = language.numbers();
        let n = Decimal::new(i64::from(n), decimals);
        let n = if minus && !n.is_zero() { -n } else { n };
        let said = numbers.say(n);
        prop_assert_eq!(numbers.hear(&said).map(|n| n.to_string()), Some(n.to_string()), "{}", said);
    }

    /// One text is one number: taking words away from it or adding some never leaves the same one.
    #[test]
    fn what_follows_a_number_is_part_of_it(n in 0u32..10_000, decimals in 0u32..=2, more in proptest::collection::vec(number_word(), 1..4)) {
        let language = Language::english();
        let n = Decimal::new(i64::from(n), decimals);
        let said = format!("reading {}", language.numbers().say(n));
        let grammar = &MEASURING.1;
        let plain = grammar.meaning(&said);
        let longer = grammar.meaning(&format!("{said} {}", more.join(" ")));
        prop_assert!(plain.is_some());
        // Another number, the same in another unit, or none.
        prop_assert!(longer != plain || more.iter().all(|word| ["point", "zero", "oh"].contains(word)), "{said} {more:?}");
    }

    /// Words of numbers in any order: understood or not, and typed as they are heard; units that are not awaited are only typed.
    #[test]
    fn words_of_numbers_mean_the_same_heard_and_typed(words in proptest::collection::vec(number_word(), 0..9)) {
        let (expect, grammar) = &*MEASURING;
        let text = format!("reading {}", words.join(" "));
        const ALWAYS: [Kind; 5] = [Kind::Torque, Kind::Angle, Kind::Length, Kind::Mass, Kind::Pressure];
        let awaited = expect.reading.map(|about| about.kind());
        let heard_here = |reading: &Reading| match reading.unit {
            Some(unit) => Some(unit.kind()) == awaited || ALWAYS.contains(&unit.kind()),
            None => true,
        };
        let meant = typed(&text, expect).filter(|meaning| match meaning {
            Meaning::Command(Command::Reading(reading)) => heard_here(reading),
            _ => true,
        });
        prop_assert_eq!(grammar.meaning(&text), meant, "{}", text);
    }
}

/// The listening model knows no volts, amps or ohms: a reading in them is said as a number alone, which is told.
#[test]
fn a_reading_whose_unit_cannot_be_heard_is_said_as_a_number_alone() {
    let language = Language::english();
    for (awaited, said, amount) in [
        ("12.4 V", "reading twelve point six", "12.6"),
        ("40 mA", "reading thirty eight", "38"),
        ("0.2 Ω", "reading zero point one", "0.1"),
    ] {
        let reading = awaited.parse::<Quantity>().unwrap();
        let grammar = language.grammar(&Expect { reading: Some(reading), ..plain() }, true);
        let expected = Reading { amount: amount.parse().unwrap(), unit: None };
        assert_eq!(grammar.meaning(said), Some(command(Command::Reading(expected))), "{awaited}");
    }
}
