//! Hearing and saying: numbers there and back, the grammar of each state, typed lines, broken language files.

mod common;

use common::{degrees, millimetres, nm};
use proptest::prelude::*;
use rust_decimal::Decimal;
use std::collections::{BTreeSet, HashMap};
use wrenchside::dialogue::*;
use wrenchside::job::{Ask, Command, Damage, Expect, Note, Reading};
use wrenchside::quantity::{Kind, Quantity, TorqueUnit, Unit};

fn plain() -> Expect {
    Expect {
        steps: 12,
        yes_no: false,
        no_claims: false,
        angle: false,
        reading: None,
        rest: false,
        book: None,
        fastener: false,
        places: vec![],
    }
}

fn tightening() -> Expect {
    Expect { reading: Some(Quantity::Torque(nm(70, 0))), fastener: true, ..plain() }
}

/// States of every kind, with readings of every kind and size.
fn states() -> Vec<Expect> {
    let readings = [
        Quantity::Torque(nm(70, 0)),
        Quantity::Torque(nm(275, 1)),
        Quantity::Torque(nm(200, 0)),
        Quantity::Torque(nm(950, 0)),
        Quantity::Torque(nm(125, 2)),
        Quantity::Angle(degrees(90)),
        millimetres(5, 1),
        millimetres(5, 2),
        millimetres(251, 1),
        "80 °C".parse().unwrap(),
        "4.2 l".parse().unwrap(),
        "12.6 V".parse().unwrap(),
        "850 rpm".parse().unwrap(),
    ];
    let mut all = vec![
        plain(),
        Expect { fastener: true, ..plain() },
        Expect { yes_no: true, ..plain() },
        Expect { angle: true, fastener: true, ..plain() },
        Expect { steps: 0, ..plain() },
        Expect { steps: 100_000, ..plain() },
    ];
    all.extend(readings.map(|reading| Expect { reading: Some(reading), fastener: true, yes_no: true, ..plain() }));
    all
}

fn command(command: Command) -> Meaning {
    Meaning::Command(command)
}

fn reading(amount: &str, unit: Option<TorqueUnit>) -> Meaning {
    command(Command::Reading(Reading { amount: amount.parse().unwrap(), unit: unit.map(Unit::Torque) }))
}

fn typed(line: &str, expect: &Expect) -> Option<Meaning> {
    Language::english().understand_typed(line, expect).ok()
}

#[test]
fn numbers_are_heard_as_they_are_said() {
    let language = Language::english();
    let numbers = language.numbers();
    for n in 0..=LARGEST_HEARD {
        for said in numbers.variants(n) {
            assert_eq!(numbers.hear(&said), Some(Decimal::from(n)), "{said}");
        }
        for fraction in ["0", "5", "25", "05", "75", "012"] {
            let n: Decimal = format!("{n}.{fraction}").parse().unwrap();
            assert_eq!(numbers.hear(&numbers.say(n)), Some(n), "{}", numbers.say(n));
        }
    }
    assert_eq!(numbers.hear("twenty seven and a half"), Some(Decimal::new(275, 1)));
}

#[test]
fn numbers_that_sound_alike_are_known() {
    let language = Language::english();
    let confusable = |n: &str| language.numbers().confusable(n.parse().unwrap());
    for n in ["13", "30", "15", "50", "16", "60", "19", "90", "113", "130", "215", "13.5"] {
        assert!(confusable(n), "{n}");
    }
    for n in ["0", "10", "12", "20", "42", "100", "110", "120", "65", "0.15"] {
        assert!(!confusable(n), "{n}");
    }
}

#[test]
fn large_and_odd_numbers_are_said() {
    let language = Language::english();
    let say = |n: &str| language.numbers().say(n.parse().unwrap());
    assert_eq!(say("110"), "one hundred and ten");
    assert_eq!(say("70.0"), "seventy point zero");
    assert_eq!(say("-5"), "minus five");
    assert_eq!(say("1200"), "one thousand two hundred");
    assert_eq!(say("2014"), "two thousand and fourteen");
    assert_eq!(say("1234567"), "one two three four five six seven");
}

#[test]
fn texts_of_a_procedure_are_spoken() {
    let language = Language::english();
    for (text, spoken) in [
        ("Bolt M12 x 1.5", "Bolt M twelve by one point five"),
        ("M8 bolts", "M eight bolts"),
        ("the 21 mm hex", "the twenty one millimetre hex"),
        ("21 mm or more", "twenty one millimetres or more"),
        ("at least 1 mm", "at least one millimetre"),
        ("19 millimetre socket", "nineteen millimetre, one nine, socket"),
        ("2 points open", "two points open"),
        ("5 minutes rest", "five minutes rest"),
        ("15 minutes", "fifteen minutes, one five"),
        ("5 A fuse, 3 a side", "five amp fuse, three a side"),
        ("5 MΩ, 5 mΩ", "five megohms, five milliohms"),
        ("4 l", "four litres"),
        ("18 mm hex", "eighteen millimetre, one eight, hex"),
        ("turn a further 55-70°", "turn a further fifty five to seventy degrees, five five to seven zero"),
        ("25..35 Nm", "twenty five to thirty five newton metres"),
        ("70N·m", "seventy newton metres, seven zero"),
        ("in N·m", "in newton metres"),
        ("51.6 lbf·ft", "fifty one point six foot pounds"),
        ("page 4-12", "page four dash twelve"),
        ("class 10.9", "class ten point nine"),
        ("T40", "T forty"),
        ("3/8 drive", "three eighths drive"),
        ("the 2nd gear", "the second gear"),
        ("at -5 °C", "at minus five degrees Celsius"),
        ("90% & more", "ninety percent, nine zero, and more"),
        ("1,200 rpm", "one thousand two hundred turns per minute"),
        ("wait 10 min.", "wait ten minutes."),
        ("number 2043001577", "number two zero four three zero zero one five seven seven"),
        ("007", "zero zero seven"),
        ("a 10 x 40 mm pin", "a ten by forty millimetre, one zero by four zero, pin"),
        ("(see below)", "see below"),
        ("Straße, наклейка", "Straße, наклейка"),
        ("", ""),
    ] {
        let found = language.speakable(text);
        assert_eq!(found, spoken, "{text:?}");
    }
}

#[test]
fn every_state_has_its_own_grammar() {
    let language = Language::english();
    let may = |expect: &Expect, text: &str| language.grammar(expect, true).lookup(text).cloned();
    assert_eq!(may(&plain(), "next step"), Some(command(Command::Next)));
    assert_eq!(may(&plain(), "go to step twelve"), Some(command(Command::GoTo(12))));
    assert_eq!(may(&plain(), "go to step thirteen"), None);
    assert_eq!(may(&plain(), "timer ten minutes"), Some(command(Command::Timer(10))));
    assert_eq!(may(&plain(), "timer one minute"), Some(command(Command::Timer(1))));
    assert_eq!(may(&plain(), "yes please"), None);
    assert_eq!(may(&plain(), "not started"), None);
    assert_eq!(may(&plain(), "reading seventy"), None);
    assert_eq!(may(&plain(), "seventy"), None);
    assert_eq!(may(&plain(), "the bolt broke"), None);
    assert_eq!(may(&plain(), "in foot pounds"), None);
    let yes_no = Expect { yes_no: true, ..plain() };
    assert_eq!(may(&yes_no, "yes please"), Some(command(Command::Yes)));
    let angle = Expect { angle: true, ..plain() };
    assert_eq!(may(&angle, "not started"), Some(command(Command::NotBegun)));
    assert_eq!(may(&angle, "not sure"), Some(command(Command::NotSure)));
    assert_eq!(may(&tightening(), "seventy"), None);
    assert_eq!(may(&tightening(), "reading ninety two"), Some(reading("92", None)));
    assert_eq!(may(&tightening(), "reading one hundred and ten"), Some(reading("110", None)));
    let newton_metres = Some(TorqueUnit::NewtonMetre);
    assert_eq!(may(&tightening(), "reading seventy newton metres"), Some(reading("70", newton_metres)));
    let foot_pounds = Some(TorqueUnit::PoundForceFoot);
    assert_eq!(may(&tightening(), "reading fifty two foot pounds"), Some(reading("52", foot_pounds)));
    assert_eq!(
        may(&tightening(), "in foot pounds"),
        Some(command(Command::Ask(Ask::InUnit(TorqueUnit::PoundForceFoot))))
    );
    assert_eq!(may(&tightening(), "the bolt broke"), Some(command(Command::Damaged(Damage::Broken))));
    let halves = Expect { reading: Some(Quantity::Torque(nm(275, 1))), ..tightening() };
    assert_eq!(may(&halves, "reading twenty seven point five"), Some(reading("27.5", None)));
    assert_eq!(may(&halves, "reading twenty seven and a half"), Some(reading("27.5", None)));
    let play = Expect { reading: Some(millimetres(5, 2)), ..plain() };
    assert_eq!(may(&play, "reading zero point zero seven"), Some(reading("0.07", None)));
}

#[test]
fn while_not_listening_only_one_thing_is_heard() {
    let language = Language::english();
    for expect in states() {
        let grammar = language.grammar(&expect, false);
        let meanings: BTreeSet<_> = grammar.iter().filter_map(|(_, m)| m.map(|m| format!("{m:?}"))).collect();
        assert_eq!(meanings, BTreeSet::from(["Talk(StartListening)".to_owned()]));
        assert_eq!(grammar.lookup("next step"), None);
        assert!(language.grammar(&expect, true).lookup("start listening").is_none());
    }
}

/// However many numbers there are to listen for, the commands with a number of their own are among what is heard.
#[test]
fn no_command_is_crowded_out_by_readings() {
    let language = Language::english();
    let torques = (1..=400).step_by(7).map(|n| Quantity::Torque(nm(n, 0)));
    let halves = (15..=600).step_by(35).map(|tenths| Quantity::Torque(nm(tenths, 1)));
    for reading in torques.chain(halves) {
        let expect = Expect { steps: 40, reading: Some(reading), ..tightening() };
        let grammar = language.grammar(&expect, true);
        for phrase in ["timer fifteen minutes", "go to step forty", "adapter number one", "adapter at ninety degrees"] {
            assert!(grammar.lookup(phrase).is_some(), "\"{phrase}\" while {reading} is awaited");
        }
    }
}

#[test]
fn grammars_are_plain_words_of_limited_number() {
    let language = Language::english();
    for expect in states() {
        let grammar = language.grammar(&expect, true);
        assert!(grammar.len() <= LONGEST_GRAMMAR, "{}", grammar.len());
        assert_eq!(grammar.iter().map(|(text, _)| text).collect::<BTreeSet<_>>().len(), grammar.len());
        for (text, meaning) in grammar.iter() {
            let apostrophe = meaning.is_none();
            assert!(
                text.chars().all(|c| c.is_ascii_lowercase() || c == ' ' || apostrophe && c == '\'')
                    && !text.contains("  "),
                "{text:?}"
            );
            assert_eq!(text.trim(), text);
            assert_eq!(grammar.lookup(text), meaning);
            // Heard or typed, it means the same.
            if let Some(meaning) = meaning {
                assert_eq!(typed(text, &expect).as_ref(), Some(meaning), "{text}");
            }
        }
        let expected = expect.reading.is_some();
        assert_eq!(grammar.iter().any(|(text, _)| text.starts_with("reading z")), expected, "{expect:?}");
    }
}

#[test]
fn every_word_of_the_grammar_is_known_to_the_model() {
    let lexicon = lexicon();
    let language = Language::english();
    let missing: Vec<_> = language.all_words().into_iter().filter(|word| !lexicon.contains_key(word)).collect();
    assert_eq!(missing, Vec::<String>::new());
    // The words of whole grammars, however they were put together.
    for expect in states() {
        for (text, _) in language.grammar(&expect, true).iter() {
            assert!(text.split(' ').all(|word| lexicon.contains_key(word)), "{text}");
        }
    }
}

#[test]
fn typed_lines_are_understood() {
    let foot_pounds = Some(TorqueUnit::PoundForceFoot);
    let newton_metres = Some(TorqueUnit::NewtonMetre);
    for (line, meaning) in [
        ("Next step.", command(Command::Next)),
        ("  NEXT ", command(Command::Next)),
        ("go to step 12", command(Command::GoTo(12))),
        ("step 12", command(Command::GoTo(12))),
        ("step12", command(Command::GoTo(12))),
        ("step ninety nine", command(Command::GoTo(99))),
        ("reading 92", reading("92", None)),
        ("reading 27.5 nm", reading("27.5", newton_metres)),
        ("Reading 27.5N·m!", reading("27.5", newton_metres)),
        ("reading 52 ft-lb", reading("52", foot_pounds)),
        ("reading fifty two foot pounds", reading("52", foot_pounds)),
        ("reading twenty seven point five newton metres", reading("27.5", newton_metres)),
        ("70 Nm", reading("70", newton_metres)),
        ("timer 15 min", command(Command::Timer(15))),
        ("timer 15", command(Command::Timer(15))),
        ("in lbf·in", command(Command::Ask(Ask::InUnit(TorqueUnit::PoundForceInch)))),
        ("I'm stuck", command(Command::Stuck)),
        ("torque?", command(Command::Ask(Ask::Value))),
        ("help", Meaning::Talk(Talk::Help)),
    ] {
        assert_eq!(typed(line, &tightening()), Some(meaning), "{line:?}");
    }
    for line in ["", "  ", "?", "hello", "reading", "reading -5", "reading 4-12", "timer 0", "step 2.5", "92", "in mm"]
    {
        assert_eq!(typed(line, &tightening()), None, "{line:?}");
    }
    assert_eq!(typed("70 nm", &plain()), None, "a bare number where none is awaited");
}

#[test]
fn a_number_is_understood_with_the_units_of_what_is_awaited() {
    let about = |value: &str| Expect { reading: Some(value.parse().unwrap()), ..plain() };
    for (awaited, line, amount, unit) in [
        ("80 °C", "reading 82 °C", "82", Some("°C")),
        ("80 °C", "82° C", "82", Some("°C")),
        ("80 °C", "reading minus five degrees celsius", "-5", Some("°C")),
        ("80 °C", "reading one hundred and eighty degrees fahrenheit", "180", Some("°F")),
        // Of what else would they be degrees?
        ("80 °C", "reading eighty two degrees", "82", None),
        ("12.6 V", "reading 12.6 V", "12.6", Some("V")),
        ("12.6 V", "reading twelve point six volts", "12.6", Some("V")),
        ("12.6 V", "300 mV", "300", Some("mV")),
        ("50 mA", "reading 0.05 amps", "0.05", Some("A")),
        ("4.2 l", "reading four point two litres", "4.2", Some("l")),
        ("4.2 l", "9 US pints", "9", Some("US pt")),
        ("4.2 l", "7 imperial pints", "7", Some("imp pt")),
        ("4.2 l", "650 cc", "650", Some("cm³")),
        ("45 N", "reading nine pounds", "9", Some("lbf")),
        ("45 N", "reading five kilograms", "5", Some("kgf")),
        ("45 N", "reading forty five newtons", "45", Some("N")),
        ("850 rpm", "reading 850 rpm", "850", Some("rpm")),
        ("850 rpm", "reading eight hundred and fifty turns per minute", "850", Some("rpm")),
        ("50 %", "38%", "38", Some("%")),
        ("50 %", "reading thirty eight percent", "38", Some("%")),
        ("15 s", "15 s", "15", Some("s")),
        ("15 s", "reading two minutes", "2", Some("min")),
        ("50 km/h", "50 km/h", "50", Some("km/h")),
        ("50 km/h", "thirty miles an hour", "30", Some("mph")),
        ("0.8 l/min", "reading 0.8 l/min", "0.8", Some("l/min")),
        ("24 N/mm", "24 N/mm", "24", Some("N/mm")),
        ("5 kΩ", "4.7 kohm", "4.7", Some("kΩ")),
        ("5 kΩ", "reading four point seven kilohms", "4.7", Some("kΩ")),
        ("5 kΩ", "reading 5 MΩ", "5", Some("MΩ")),
        ("5 kΩ", "5MΩ", "5", Some("MΩ")),
        ("5 kΩ", "5 Mohm", "5", Some("MΩ")),
        ("5 kΩ", "5 megohms", "5", Some("MΩ")),
        ("5 kΩ", "5 mΩ", "5", Some("mΩ")),
        ("5 kΩ", "reading 5 milliohms", "5", Some("mΩ")),
        ("12.6 V", "reading 300mv", "300", Some("mV")),
        ("50 mA", "50 ma", "50", Some("mA")),
        ("2.2 bar", "220 kpa", "220", Some("kPa")),
        ("2.2 bar", "0.22 MPa", "0.22", Some("MPa")),
        ("2.2 bar", "0.22 mpa", "0.22", Some("MPa")),
        ("70 N·m", "70 NM", "70", Some("N·m")),
        ("2.57 mm", "2.6 MM", "2.6", Some("mm")),
        ("2.57 mm", "2.6 mm", "2.6", Some("mm")),
        ("2.57 mm", "reading 0.10 in", "0.10", Some("in")),
        ("2.57 mm", "0.10 in", "0.10", Some("in")),
        ("2.57 mm", "reading 0.10in.", "0.10", Some("in")),
        ("2.57 mm", "reading 1/8 in", "0.125", Some("in")),
        ("2.57 mm", "reading 0.10 in please", "0.10", Some("in")),
        // What is of another kind is kept, for the job to refuse.
        ("70 N·m", "9 pounds", "9", Some("lb")),
        ("70 N·m", "38%", "38", Some("%")),
        ("70 N·m", "reading 12.6 V", "12.6", Some("V")),
    ] {
        let unit = unit.map(|unit: &str| unit.parse().unwrap());
        let wanted = command(Command::Reading(Reading { amount: amount.parse().unwrap(), unit }));
        assert_eq!(typed(line, &about(awaited)), Some(wanted), "{line:?} where {awaited} is awaited");
    }
    // A pint is of two sizes, and less than nothing is no volume.
    for (awaited, line) in
        [("4.2 l", "9 pints"), ("4.2 l", "2 gallons"), ("4.2 l", "reading -4 l"), ("2 mm", "in 5 in the")]
    {
        assert_eq!(typed(line, &about(awaited)), None, "{line:?}");
    }
}

#[test]
fn a_reading_with_its_unit_is_understood_where_nothing_is_measured_and_left_to_the_job_to_refuse() {
    for (line, amount, unit) in [
        ("reading 12.6 V", "12.6", "V"),
        ("reading 5 A", "5", "A"),
        ("reading 0.10 in", "0.10", "in"),
        ("reading 70 N·m", "70", "N·m"),
    ] {
        let reading = Reading { amount: amount.parse().unwrap(), unit: unit.parse().ok() };
        assert_eq!(typed(line, &plain()), Some(command(Command::Reading(reading))), "{line:?}");
    }
    // Without the word for it a number says nothing there.
    assert_eq!(typed("12.6 V", &plain()), None);
    // What nobody can have said there is not heard.
    assert!(!Language::english().grammar(&plain(), true).iter().any(|(text, _)| text.contains("volt")));
}

#[test]
fn every_unit_is_understood_as_it_is_written_and_said() {
    let language = Language::english();
    // One that is not read digit by digit as well.
    let four = Decimal::from(4);
    for unit in Kind::ALL.iter().flat_map(|kind| Unit::all(*kind)) {
        let expect = Expect { reading: Some(Quantity::new(four, unit)), ..plain() };
        let said = match unit.symbol() {
            // By itself it is an ordinary word.
            "in" => language.speakable("4\""),
            symbol => language.speakable(&format!("4 {symbol}")),
        };
        let wanted = command(Command::Reading(Reading { amount: four, unit: Some(unit) }));
        assert_eq!(language.understand_typed(&said, &expect), Ok(wanted.clone()), "{said}");
        assert_eq!(language.understand_typed(&format!("4 {unit}"), &expect), Ok(wanted), "{unit}");
    }
}

#[test]
fn a_line_not_understood_names_what_is_near() {
    let near = |line: &str| Language::english().understand_typed(line, &plain()).unwrap_err().near;
    assert_eq!(near("nxt step").first().map(String::as_str), Some("next step"));
    assert_eq!(near("wat size"), Vec::<String>::new(), "it cannot be said in this state");
    assert_eq!(near("zzzzzz"), Vec::<String>::new());
}

#[test]
fn a_broken_language_file_says_where() {
    let english = include_str!("../src/dialogue/languages/en.toml");
    let line_of = |text: &str, needle: &str| text.lines().position(|l| l.contains(needle)).unwrap() + 1;
    let error = |from: &str, to: &str| {
        assert_eq!(english.matches(from).count(), 1, "{from:?}");
        let text = english.replace(from, to);
        let error = Language::from_toml("broken.toml", &text).unwrap_err();
        let message = error.to_string();
        assert!(message.starts_with("broken.toml:"), "{message}");
        (error, message, text)
    };
    let (e, m, text) = error("paused = \"Job", "pausd = \"Job");
    assert!(m.contains("`pausd`") && m.contains("did you mean `paused`"), "{m}");
    assert_eq!(e.line, line_of(&text, "pausd"));
    let (e, m, text) = error("paused = \"Job paused. Everything said so far is kept.\"\n", "");
    assert!(m.contains("`paused` is missing in [sentences]"), "{m}");
    assert_eq!(text.lines().nth(e.line - 1), Some("[sentences]"));
    let (e, m, text) = error("Step {{ step }} is marked.", "Step {{ stepp }} is marked.");
    assert!(m.contains("`stepp`") && m.contains("it has: step"), "{m}");
    assert_eq!(e.line, line_of(&text, "stepp"));
    let (e, m, text) = error("Step {{ step }} is marked.", "Step {{ step is marked.");
    assert!(matches!(e.problem, LanguageProblem::Template { .. }), "{m}");
    assert_eq!(e.line, line_of(&text, "{{ step is"));
    let (_, m, _) = error("Step {{ step }} is marked.", "Step {{ step | shout }} is marked.");
    assert!(m.contains("shout"), "{m}");
    let (_, m, _) =
        error("be said, say: {{ phrase('help') }}.{% endif %}", "be said, say: {{ phrase('halp') }}.{% endif %}");
    assert!(m.contains("halp"), "{m}");
    let (e, m, text) = error("back = [\"previous step\"", "back = [\"next step\"");
    assert!(m.contains("\"next step\" means both"), "{m}");
    assert!([line_of(&text, "back = ["), line_of(&text, "next = [")].contains(&e.line));
    let (_, m, _) = error("\"next door\"", "\"next step\"");
    assert!(m.contains("decoys"), "{m}");
    for odd in ["Next step", "next  step", "next \\\"step\\\"", "next 2", "i'm next", ""] {
        let (e, m, _) = error("next = [\"next step\"", &format!("next = [\"{odd}\""));
        assert!(matches!(e.problem, LanguageProblem::OddPhrase { .. }), "{m}");
    }
    let (_, m, _) = error("next = [\"next step\"", "next = [\"next {number}\"");
    assert!(m.contains("slots"), "{m}");
    let (_, m, _) = error("  \"zero\", \"one\",", "  \"one\",");
    assert!(m.contains("0 to 99"), "{m}");
    let (_, m, _) = error("  \"zero\", \"one\",", "  \"zero\", \"two\",");
    assert!(m.contains("both"), "{m}");
    let (e, _, _) = error("language = \"en\"", "language = \"en");
    assert_eq!(e.line, line_of(english, "language = \"en\""));
    let (_, m, _) = error("minus = \"minus\"", "minos = \"minus\"");
    assert!(m.contains("minos"), "{m}");
}

/// The words of the English model with their phonemes; some have several ways of being spoken.
fn lexicon() -> HashMap<String, Vec<Vec<String>>> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("models/listener-en/lexicon.txt");
    let mut lexicon: HashMap<String, Vec<Vec<String>>> = HashMap::new();
    for line in std::fs::read_to_string(path).unwrap().lines() {
        let mut columns = line.split_whitespace().map(str::to_owned);
        let word = columns.next().unwrap();
        lexicon.entry(word).or_default().push(columns.collect());
    }
    lexicon
}

/// Every way in which these words can be spoken.
fn ways(words: &str, lexicon: &HashMap<String, Vec<Vec<String>>>) -> Vec<Vec<String>> {
    words.split(' ').fold(vec![vec![]], |ways, word| {
        let of_word = lexicon.get(word).unwrap_or_else(|| panic!("{word:?} is not in the model"));
        ways.iter().flat_map(|way| of_word.iter().map(|more| [&way[..], more].concat())).collect()
    })
}

/// Can these words be spoken so that they sound like this?
fn sounds_like(words: &[&str], sound: &[String], lexicon: &HashMap<String, Vec<Vec<String>>>) -> bool {
    let Some((word, words)) = words.split_first() else { return sound.is_empty() };
    let after = |way: &Vec<String>| sound.strip_prefix(&way[..]).is_some_and(|rest| sounds_like(words, rest, lexicon));
    lexicon[*word].iter().any(after)
}

/// A recogniser has nothing but the sound to choose by, so a command that sounds like a decoy would be lost to it.
#[test]
fn what_means_nothing_sounds_like_no_command() {
    let (language, lexicon) = (Language::english(), lexicon());
    assert_eq!(ways("know", &lexicon), ways("no", &lexicon), "the lexicon is not read as it is written");
    let mut states = states();
    states.retain(|expect| expect.steps <= 99);
    states.push(Expect { steps: 99, yes_no: true, angle: true, ..tightening() });
    for (expect, listening) in states.iter().flat_map(|expect| [(expect, true), (expect, false)]) {
        let grammar = language.grammar(expect, listening);
        let (commands, nothing): (Vec<_>, Vec<_>) = grammar.iter().partition(|(_, meaning)| meaning.is_some());
        for (decoy, way) in
            nothing.iter().flat_map(|(text, _)| ways(text, &lexicon).into_iter().map(move |w| (text, w)))
        {
            for (command, _) in &commands {
                let words: Vec<&str> = command.split(' ').collect();
                assert!(!sounds_like(&words, &way, &lexicon), "{decoy:?} sounds like the command {command:?}");
            }
        }
    }
}

#[test]
fn help_names_what_can_be_said() {
    let language = Language::english();
    let help = |expect: &Expect| language.help(expect).remove(0);
    let angle = help(&Expect { angle: true, ..plain() });
    assert_eq!(angle.spoken, "You can say: not started, that is finished, not sure.");
    assert!(!help(&plain()).written.contains("yes please"));
    for expect in states() {
        let help = help(&expect);
        for line in help.written.lines().flat_map(|line| line.split(" · ")).filter(|line| !line.contains('‹')) {
            let grammar = language.grammar(&expect, true);
            assert!(grammar.lookup(&line.to_lowercase()).is_some(), "{line}");
        }
        assert!(!help.spoken.contains(['‹', '{']) && !help.written.contains('{'));
    }
}

/// Texts like those of procedures: words, numbers, units and signs in any order.
fn workshop_text() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        any::<u32>().prop_map(|n| n.to_string()),
        (0u32..200, 0u32..100).prop_map(|(n, d)| format!("{n}.{d}")),
        (1u32..40, 1u32..9).prop_map(|(n, d)| format!("M{n} x {d}.5")),
        proptest::sample::select(vec![
            " ", "-", "..", "–", "/", "x", " x ", ", ", ". ", "°", " mm", " N·m", "Nm", "%", "&", "+", "(", ")", "T",
            "M", "page ", "bolt", " of ", "½", "±", "°C", " ft-lb", "#", "1st", ":", ";", "\"", "*", "in", "g", "=",
            "~", "_", "[", "]", "·",
        ])
        .prop_map(str::to_owned),
    ];
    proptest::collection::vec(piece, 0..12).prop_map(|pieces| pieces.concat())
}

proptest! {
    #[test]
    fn no_digit_or_known_sign_is_spoken(text in workshop_text()) {
        let spoken = Language::english().speakable(&text);
        let left = |c: char| c.is_numeric() || "°·%&+±=~_[]()#*½".contains(c);
        prop_assert!(!spoken.contains(left), "{text:?} → {spoken:?}");
        prop_assert!(!spoken.contains("  "), "{text:?} → {spoken:?}");
    }

    #[test]
    // No unit begins like these.
    fn words_of_a_text_are_never_dropped(words in proptest::collection::vec("x[a-z]{3,7}", 1..6), n in 0u32..5000) {
        let text = words.join(&format!(" {n} "));
        let spoken = Language::english().speakable(&text);
        for word in words {
            prop_assert!(spoken.split([' ', ',']).any(|w| w == word), "{text:?} → {spoken:?}");
        }
    }

    #[test]
    fn any_typed_line_is_taken(line in ".*") {
        for expect in [plain(), tightening()] {
            let _ = Language::english().understand_typed(&line, &expect);
        }
    }

    #[test]
    fn any_line_of_known_words_is_taken(
        words in proptest::collection::vec(proptest::sample::select(vec![
            "reading", "one", "hundred", "and", "a", "half", "point", "five", "newton", "metres", "go", "to", "step", "12",
            "27.5", "in", "foot", "pounds", "timer", "minutes", "999999999999999999999999999999999999", "nm", "°",
        ]), 0..24)
    ) {
        let _ = Language::english().understand_typed(&words.join(" "), &tightening());
    }

    #[test]
    fn any_text_can_be_spoken(text in ".*") {
        let spoken = Language::english().speakable(&text);
        prop_assert!(!spoken.contains(|c: char| c.is_ascii_digit()));
    }

    #[test]
    fn any_file_is_read_or_refused(text in ".{0,200}") {
        prop_assert!(Language::from_toml("x.toml", &text).is_err());
    }
}

#[test]
fn what_might_have_been_said_after_degrees_is_which() {
    let language = Language::english();
    let about = Some("85 °C".parse().unwrap());
    let grammar = language.grammar(&Expect { reading: about, ..Expect::default() }, true);
    let rivals = grammar.instead_of("reading one hundred eighty degrees");
    assert!(rivals.iter().all(|other| !other.contains("degrees degrees")), "{rivals:?}");
    assert!(rivals.iter().any(|other| other == "reading one hundred eighty degrees fahrenheit"), "{rivals:?}");
}

/// Whoever puts a question claims, moves and answers nothing; every question that changes nothing is answered.
#[test]
fn what_is_put_as_a_question_is_neither_a_claim_nor_a_move_nor_an_answer() {
    let language = Language::english();
    let question = Expect { yes_no: true, ..tightening() };
    let places = Expect { places: vec!["front".to_owned(), "rear".to_owned()], ..tightening() };
    let angle = Expect { angle: true, ..tightening() };
    let (mut refused, mut answered) = (0, 0);
    for expect in [plain(), tightening(), question, places, angle] {
        for written in language.help(&expect)[0].written.lines().flat_map(|line| line.split(" · ")) {
            let line = written.replace("‹number›", "3").replace("‹unit›", "N·m");
            let Ok(meaning) = language.understand_typed(&line, &expect) else { continue };
            match language.understand_typed(&format!("{line}?"), &expect) {
                Ok(asked) => {
                    assert!(meaning.only_asks() && asked == meaning, "{line}?");
                    answered += 1;
                }
                Err(not) => {
                    assert!(!meaning.only_asks() && not.odd == Some(Odd::Asked) && not.near.is_empty(), "{line}?");
                    refused += 1;
                }
            }
        }
    }
    assert!(refused > 100 && answered > 100, "{refused} {answered}");
    for line in
        ["that one is done?", "stage complete ?", "next step?", "reading 45 degrees?", "45 N·m?", "yes?", "finish job?"]
    {
        let not = language.understand_typed(line, &tightening()).unwrap_err();
        assert_eq!(not.odd, Some(Odd::Asked), "{line}");
        let told = language.not_understood(&not).written;
        assert_eq!(told, "That was a question, so nothing changed. To claim it, leave out the question mark.");
    }
    for line in ["what torque?", "what size?", "why?", "what can I say?", "where am I?", "what is not done?"] {
        assert!(language.understand_typed(line, &tightening()).is_ok(), "{line}");
    }
    let note = language.understand_typed("note is the seal torn?", &plain()).unwrap();
    assert_eq!(note, command(Command::Note(Note::Typed("is the seal torn?".to_owned()))));
    // A choice among jobs is one as well.
    for (line, chosen) in [("2?", false), ("yes?", false), ("2", true), ("what can I say?", true)] {
        assert_eq!(language.chosen(line, 3).is_some(), chosen, "{line}");
    }
}

/// For what is denied, doubted or asked no claim, move or answer is offered; where it is about something being done, that it is not.
#[test]
fn no_claim_is_offered_for_what_is_denied() {
    let language = Language::english();
    let near = |line: &str| {
        let not = language.understand_typed(line, &tightening()).unwrap_err();
        (not.near.clone(), language.not_understood(&not).written)
    };
    for line in [
        "stage not complete",
        "not complete",
        "isn't complete",
        "stage incomplete",
        "all not done",
        "almost done",
        "I haven't done it",
        "is stage complete",
        "stage complete for now?",
    ] {
        assert_eq!(near(line).0.first().map(String::as_str), Some("not done"), "{line}");
        let claims = ["stage complete", "all done", "that one is done", "done", "finish job", "whole job done"];
        assert!(!near(line).0.iter().any(|text| claims.contains(&text.as_str())), "{line}");
    }
    for line in ["the bolt isn't broken", "don't finish job", "do not skip this stp", "never carry on"] {
        assert!(near(line).0.is_empty(), "{line}: {:?}", near(line));
    }
    // What is nearly a command is still offered.
    assert_eq!(near("stage complet").0, ["stage complete"]);
    let next = command(Command::Next);
    for line in ["next step please", "please carry on", "Next step, please."] {
        assert_eq!(typed(line, &tightening()), Some(next.clone()), "{line}");
    }
    for (line, left) in
        [("please", None), ("yes please", Some(command(Command::Yes))), ("louder please", Some(Talk::Louder.into()))]
    {
        let expect = Expect { yes_no: true, ..plain() };
        assert_eq!(typed(line, &expect), left, "{line}");
    }
}

/// What is offered, and help, are words for people: no slot of a pattern is among them.
#[test]
fn no_slot_of_a_pattern_reaches_the_user() {
    let language = Language::english();
    let places = Expect { places: vec!["front".to_owned(), "rear".to_owned()], ..tightening() };
    for expect in [plain(), tightening(), places.clone()] {
        for line in [
            "reading x",
            "reading -2",
            "go to step -3",
            "timr 3 minutes",
            "in food pounds",
            "adapter x",
            "the fron one",
        ] {
            let Err(not) = language.understand_typed(line, &expect) else { continue };
            let told = language.not_understood(&not);
            assert!(!told.written.contains('{') && !told.spoken.contains('{'), "{line}: {told:?}");
        }
        let help = &language.help(&expect)[0];
        assert!(!help.written.contains('{') && !help.spoken.contains('{'), "{help:?}");
    }
    let told = |line: &str| {
        let told = language.not_understood(&language.understand_typed(line, &places).unwrap_err());
        (told.written, told.spoken)
    };
    assert_eq!(told("go to step -3").0, "I do not know that. Did you mean: go to step ‹number›?");
    assert_eq!(told("go to step -3").1, "I do not know that. Did you mean: go to step and the number?");
    assert_eq!(told("the fron one").0, "I do not know that. Did you mean: the front one?");
}

/// A thousand million lies between them.
#[test]
fn milli_and_mega_are_told_apart_by_their_capital_or_not_taken() {
    let language = Language::english();
    let about = |text: &str| Expect { reading: Some(text.parse().unwrap()), ..plain() };
    for (awaited, line) in [
        ("12.6 V", "5 MV"),
        ("50 mA", "30 MA"),
        ("2.2 bar", "reading 5 mPa"),
        ("2.2 bar", "2200 Mbar"),
        ("2.57 mm", "2.6 Mm"),
        ("15 s", "15 Ms"),
        ("4.2 l", "reading 650 ML"),
        // Nothing tells which of the two it is.
        ("5 kΩ", "5 mohm"),
        ("5 kΩ", "reading 5 mω"),
    ] {
        let not = language.understand_typed(line, &about(awaited)).unwrap_err();
        assert_eq!(not.odd, Some(Odd::Prefix), "{line}");
    }
    assert!(language.understand_typed("5 M V", &about("12.6 V")).is_err());
    let told = language.not_understood(&language.understand_typed("5 MV", &about("12.6 V")).unwrap_err());
    assert!(told.written.starts_with("Milli has a small m, mega a capital M."), "{told:?}");
    // Nor is the one spoken for the other in the words of a book.
    assert_eq!(language.speakable("4 mV"), "four millivolts");
    assert_eq!(language.speakable("4 MΩ, 4 mΩ"), "four megohms, four milliohms");
    assert!(!language.speakable("4 MV").contains("milli"), "{}", language.speakable("4 MV"));
}

/// Why a number is no reading is said as what it is.
#[test]
fn a_comma_and_a_number_below_zero_are_told_as_such() {
    let language = Language::english();
    let odd = |line: &str| language.understand_typed(line, &tightening()).unwrap_err().odd;
    for line in ["reading 20,5 N·m", "20,5 Nm", "reading 1,250", "reading 1,250 N·m", "read 0,5"] {
        assert_eq!(odd(line), Some(Odd::Comma), "{line}");
    }
    for line in ["reading -2", "reading -20 N·m", "-20 N·m", "reading minus two newton metres"] {
        assert_eq!(odd(line), Some(Odd::BelowZero), "{line}");
    }
    for line in ["reading 20 and a bit", "reading, x"] {
        assert_eq!(odd(line), None, "{line}");
    }
    let run_out = Expect { reading: Some(millimetres(1, 1)), ..plain() };
    assert!(language.understand_typed("reading 0,5 mm", &run_out).is_err_and(|not| not.odd == Some(Odd::Comma)));
}
