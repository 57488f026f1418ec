//! The three forms say the same; every fault is found where it is; names find what they should and nothing else.

use super::*;
use crate::procedure::{Code, Severity};
use proptest::prelude::*;

const EXAMPLE: &str = include_str!("../../docs/values.toml");

const LINES: &str = "\u{feff}# typed in the bay
vehicle: Tarnfell 15, light van
source: Tarnfell 15 Workshop Manual
Edition: first edition, invented

gearbox mount, front: 62 N·m + 50 deg, M12 x 1.25, 10.9, page 7-1
gearbox mount, rear : 80 N·m, also 59 lbf·ft, page 7-1
driveshaft nut: 210 N·m, also 155 lbf·ft, say drive shaft nut, page 6-3, table 2
brake disc run-out: at most 0.08 mm,page 9-11
tyre pressure: 2.2..2.4 bar, 1-6\r
";

const TABLE: &str = "\u{feff}vehicle;\"Tarnfell 15, light van\"
Source;Tarnfell 15 Workshop Manual
edition;first edition, invented;;
;;
Name;Value;Page;Also;Thread;Class;Say as
\"gearbox mount, front\";62 N·m + 50 deg;page 7-1;;M12 x 1.25;10.9;
gearbox mount, rear; 80 N·m ;page 7-1;59 lbf·ft
driveshaft nut;210 N·m;\"page 6-3, table 2\";155 lbf·ft;;;drive shaft nut\r
brake disc run-out;at most 0.08 mm;page 9-11
tyre pressure;2.2..2.4 bar;1-6";

fn codes(name: &str, text: &str) -> Vec<(&'static str, usize)> {
    let report = check(name, text, None);
    report.findings.iter().map(|f| (f.code.as_str(), report.position(f.span.start).0)).collect()
}

#[test]
fn the_example_is_clean_and_says_what_it_says() {
    assert_eq!(codes("values.toml", EXAMPLE), []);
    assert!(is_page("values.toml", EXAMPLE) && is_page("a.CSV", "") && is_page("a.txt", ""));
    assert!(!is_page("a.toml", include_str!("../../procedures/tarnfell-front-brakes.toml")));
    let page = parse("values.toml", EXAMPLE).unwrap();
    assert_eq!((page.entries.len(), page.language.as_str()), (11, "en"));
    let cap = page.entries.iter().find(|entry| entry.name == "number 2 bearing cap").unwrap();
    let Value::Stages(stages) = &cap.value else { panic!("{cap:?}") };
    let kinds: Vec<_> = stages.iter().map(std::mem::discriminant).collect();
    assert!(stages.len() == 4 && kinds[0] == kinds[2] && matches!(stages[1], StageKind::BackOff(_)), "{stages:?}");
    assert_eq!(cap.page, "page 2-22");
}

#[test]
fn lines_and_a_table_say_the_same() {
    let lines = parse("values.txt", LINES).unwrap_or_else(|report| panic!("{report}"));
    let table = parse("values.csv", TABLE).unwrap_or_else(|report| panic!("{report}"));
    assert_eq!(lines, table);
    assert_eq!(lines.vehicle, "Tarnfell 15, light van");
    assert_eq!(lines.entries[2].said(), "drive shaft nut");
    assert_eq!(lines.entries[2].page, "page 6-3, table 2");
    let first = &parse("values.toml", EXAMPLE).unwrap().entries[0];
    assert_eq!(&lines.entries[0], first);
    for sign in [",", "\t"] {
        let page = parse(
            "a.csv",
            &format!(
                "vehicle{sign}van\nsource{sign}book\nedition{sign}1\nname{sign}value{sign}page\na{sign}5 N·m{sign}1"
            ),
        );
        assert_eq!(page.unwrap().entries.len(), 1);
    }
}

/// Lines 1 to 3 are the head.
fn with(lines: &str) -> Vec<(&'static str, usize)> {
    let text = format!("vehicle: van\nsource: book\nedition: 1\n{lines}");
    let mut found = codes("a.txt", &text);
    found.retain(|(code, _)| *code != "torque-unguarded");
    found
}

#[test]
fn every_fault_is_found_where_it_is() {
    for (lines, code) in [
        ("sump bolt: 10 N·m", "source-missing"),
        ("sump bolt: 10, page 1", "unit-missing"),
        ("sump bolt: 10 sacks, page 1", "value-unreadable"),
        ("sump bolt: 27,5 N·m, page 1", "value-unreadable"),
        ("sump bolt: ten N·m, page 1", "value-unreadable"),
        ("sump bolt: 0 N·m, page 1", "value-not-positive"),
        ("sump bolt: 30 N·m + back off -30..90 deg + 20 N·m, page 1", "value-not-positive"),
        ("sump bolt: 30 N·m + 2 bar, page 1", "stage-unclear"),
        ("sump bolt: 30 N·m + nonsense, page 1", "value-unreadable"),
        ("sump bolt: 30 N·m + back off a bit + 20 N·m, page 1", "value-unreadable"),
        ("sump bolt: 90 deg, page 1", "angle-no-snug"),
        ("sump bolt: 30 N·m + 400 deg, page 1", "angle-implausible"),
        ("sump bolt: 30 N·m + slacken, page 1", "finish-loose"),
        ("sump bolt: 100 N·m, M6, 8.8, page 1", "torque-implausible"),
        ("sump bolt: 30 N·m, also 40 lbf·ft, page 1", "also-disagrees"),
        ("tyre: 2 bar, also 40 lbf·ft, page 1", "stage-extra"),
        ("sump bolt: 10 N·m, M6 x fine, 8.8, page 1", "thread-unreadable"),
        ("sump bolt 10 N·m", "not-readable"),
        ("sump bolt:", "text-empty"),
        (": 10 N·m, page 1", "text-empty"),
        ("source: another book", "not-readable"),
        ("-: 10 N·m, page 1", "name-unheard"),
        ("assy bolt: 10 N·m, page 1", "word-unsayable"),
        ("sump bolt: 62 N·m, 50 deg, page 7-1", "source-missing"),
        ("sump bolt: 62 N·m, 50 deg", "source-missing"),
        ("sump bolt: 80 N·m, 59 lbf·ft, page 7-1", "source-missing"),
        ("sump bolt: 90 N·m, with oiled thread, page 5", "source-missing"),
        ("sump bolt: 90 N·m, page 5, 50 deg", "source-missing"),
        ("sump bolt: 30 N·m, page 1, slacken", "source-missing"),
        ("sump bolt: 30 N·m, also lots, page 1", "value-unreadable"),
        ("sump bolt: 30 N·m, M8, M10, page 1", "not-readable"),
        ("#2 bearing cap: 30 N·m, page 1", "not-readable"),
        ("# bearing cap: 30 N·m, page 1", "not-readable"),
    ] {
        let found = with(&format!("valve: 5 N·m, page 1\n{lines}\n"));
        assert_eq!(found, [(code, 5)], "{lines}");
    }
    for page in ["page 7.1", "7.1", "p. 3", "pages 3-4", "BR-12", "page 6-3, table 2"] {
        assert_eq!(with(&format!("# a remark\nvalve: 5 N·m, {page}\n")), [], "{page}");
    }
    for (second, code) in [
        ("sump bolt: 12 N·m, page 1", "value-twice"),
        ("Sump-bolt: 10 N·m, page 1", "name-unheard"),
        ("sump bold: 10 N·m, page 1", "sounds-alike"),
    ] {
        assert_eq!(with(&format!("sump bolt: 10 N·m, page 1\n{second}\n")), [(code, 5)], "{second}");
    }
    assert_eq!(with("sump bolt: 10 N·m, page 1\nsump bolt: 10 N·m, page 1\n"), [], "the same twice is no harm");
    assert_eq!(with("sump bolt: 10 N·m, page 1\nsump bolt: 10 N·m, page 2\n"), [("page-twice", 5)]);
    assert_eq!(with("a bolt: 27 +/- 3 N·m, page 1\nb bolt: 27 ± 3 N·m + 2.8..3.2 kgf·m, page 1"), []);
    // Where nothing guards the values it is said once.
    let unguarded =
        |text: &str| check("a.txt", text, None).findings.iter().filter(|f| f.code == Code::TorqueUnguarded).count();
    assert_eq!(unguarded("one bolt: 10 N·m, page 1\nother nut: 12 N·m, page 1"), 1);
}

#[test]
fn no_page_without_vehicle_and_source() {
    let missing = |name: &str, text: &str| {
        let report = check(name, text, None);
        assert!(parse(name, text).is_err());
        report.findings.iter().filter(|f| f.severity() == Severity::Error).map(|f| f.code).collect::<Vec<_>>()
    };
    assert_eq!(missing("a.txt", "valve: 5 N·m, page 1"), [Code::KeyMissing, Code::SourceMissing]);
    assert_eq!(missing("a.txt", "vehicle: van\nsource: book\nvalve: 5 N·m, page 1"), [Code::KeyMissing]);
    assert_eq!(missing("a.txt", "vehicle: van\nsource: book\nedition: 1"), [Code::TextEmpty]);
    let toml = "format = 1\nvehicle = \"van\"\n[[value]]\nname = \"valve\"\nvalue = \"5 N·m\"\npage = \"page 1\"";
    assert_eq!(missing("a.toml", toml), [Code::SourceMissing]);
    assert_eq!(missing("a.toml", &toml.replace("format = 1", "format = 99")), [Code::FormatNewer]);
    let number = toml.replace("\"5 N·m\"", "5");
    assert!(missing("a.toml", &number).contains(&Code::UnitMissing));
    assert!(missing("a.toml", &toml.replace("page =", "pgae =")).contains(&Code::KeyUnknown));
    assert_eq!(
        missing("a.csv", "valve,5 N·m,page 1"),
        [Code::KeyMissing, Code::KeyMissing, Code::TextEmpty, Code::SourceMissing]
    );
    let head = "vehicle,van\nsource,book\nedition,1\n";
    let slip = missing("a.csv", &format!("{head}name,vlaue,page\nvalve,5 N·m,1"));
    assert!(slip.contains(&Code::KeyUnknown) && slip.contains(&Code::KeyMissing), "{slip:?}");
    assert_eq!(missing("a.csv", &format!("{head}colour,red\nname,value,page\nvalve,5 N·m,1")), [Code::KeyUnknown]);
    assert_eq!(missing("a.csv", &format!("{head}name,value,page\nvalve,,1\nsump,6 N·m,1")), [Code::TextEmpty]);
    assert_eq!(missing("a.csv", &format!("{head}name,value,page\nsump,6 N·m,page 1,table 2")), [Code::NotReadable]);
}

#[test]
fn two_pages_that_contradict_each_other_are_not_put_together() {
    let page = |value: &str| {
        parse(
            "a.txt",
            &format!("vehicle: van\nsource: book\nedition: 1\nvalve: {value}, page 1\n{value} bolt: 9 N·m, page 2"),
        )
        .unwrap()
    };
    let both = |second| Shelf::new(vec![("a".into(), page("5 N·m")), ("b".into(), page(second))]);
    assert_eq!(both("5 N·m").unwrap().len(), 2);
    let clash = both("6 N·m").unwrap_err();
    assert_eq!((clash.name.as_str(), clash.files.1.as_str()), ("valve", "b"));
    let heard = |name: &str| name.replace('2', "two");
    let cap = |name: &str, value: u8| {
        parse("a.txt", &format!("vehicle: van\nsource: book\nedition: 1\n{name} cap: {value} N·m, page 1")).unwrap()
    };
    let both = |second| Shelf::heard(vec![("a".into(), cap("2", 5)), ("b".into(), cap("two", second))], &heard);
    assert!(both(5).is_ok() && both(6).is_err(), "heard alike, they are one thing");
}

fn names(of: &[&str]) -> Names {
    Names::new(of.iter().map(|name| vec![(*name).to_owned()]))
}

const NONE: [usize; 0] = [];

#[test]
fn names_are_found_by_whole_words() {
    let names =
        names(&["gearbox mount front", "gearbox mount rear", "gearbox mount", "front wheel bolt", "mount bolt"]);
    let find = |words: &str| names.find(&words.split(' ').collect::<Vec<_>>());
    assert_eq!(find("gearbox mount front"), [0]);
    assert_eq!(find("front gearbox mount"), [0]);
    assert_eq!(find("gearbox mount"), [2], "the exact name wins over longer ones");
    assert_eq!(find("gearbox"), [0, 1, 2]);
    assert_eq!(find("front"), [0, 3]);
    assert_eq!(find("mounts"), NONE);
    assert_eq!(find("gearbox bolt"), NONE);
    assert_eq!(find("mount mount"), NONE);
    assert_eq!(names.find_among(&[0, 1], &["rear"]), [1]);
    assert_eq!(names.find_among(&[0, 1], &["bolt"]), NONE);
    assert_eq!(names.find(&[]), NONE);
    assert_eq!(names.telling(0, &[0, 1]).as_deref(), Some("front"));
    assert_eq!(names.telling(0, &[0, 3]).as_deref(), Some("gearbox mount"));
    assert_eq!(names.telling(2, &[0, 2]), None);
}

fn name() -> impl Strategy<Value = String> {
    prop::collection::vec(prop::sample::select(vec!["front", "rear", "mount", "bolt", "arm", "cap", "two"]), 1..5)
        .prop_map(|words| words.join(" "))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    /// Every name gives its own thing; any words give every thing that has them all, and nothing else.
    #[test]
    fn names_give_what_has_their_words(all in prop::collection::btree_set(name(), 1..30), asked in name()) {
        let all: Vec<String> = all.into_iter().collect();
        let names = Names::new(all.iter().map(|name| vec![name.clone()]));
        for (at, name) in all.iter().enumerate() {
            prop_assert_eq!(names.find(&name.split(' ').collect::<Vec<_>>()), vec![at]);
        }
        let asked: Vec<&str> = asked.split(' ').collect();
        let count = |words: &[&str], word: &str| words.iter().filter(|w| **w == word).count();
        let has = |name: &String| {
            let words: Vec<&str> = name.split(' ').collect();
            asked.iter().all(|word| count(&words, word) >= count(&asked, word))
        };
        let having: Vec<usize> = (0..all.len()).filter(|at| has(&all[*at])).collect();
        let found = names.find(&asked);
        let just = |at: &usize| all[*at].split(' ').count() == asked.len();
        if having.iter().any(just) {
            prop_assert!(!found.is_empty() && found.iter().all(|at| having.contains(at) && just(at)));
        } else {
            prop_assert_eq!(found, having);
        }
    }

    /// What is written down in any form is read as it was meant, and whatever is written, nothing panics.
    #[test]
    fn a_page_is_read_as_it_was_written(
        entries in prop::collection::btree_map("[a-z]{3,8}( [a-z]{3,8}){0,2}", (1u32..300, 1u32..90, "[1-9]-[1-9]"), 1..20),
    ) {
        let head = ["vehicle", "source", "edition"];
        prop_assume!(!entries.keys().any(|name| head.contains(&name.as_str()) || ["chapter", "note", "language", "name"].contains(&name.as_str())));
        let lines: String = entries.iter().map(|(name, (t, a, p))| format!("{name}: {t} N·m + {a} deg, page {p}\n")).collect();
        let rows: String = entries.iter().map(|(name, (t, a, p))| format!("{name},{t} N·m+{a} deg,page {p}\r\n")).collect();
        let toml: String = entries
            .iter()
            .map(|(name, (t, a, p))| format!("[[value]]\nname = \"{name}\"\nvalue = '{t} N·m + {a}°'\npage = \"page {p}\"\n"))
            .collect();
        let toml = format!("format = 1\nvehicle = \"v\"\n[source]\ntitle = \"s\"\nedition = \"e\"\n{toml}");
        let read = |name: &str, text: &str| check::read(form(name), text, None).0.unwrap();
        let lines = read("a", &format!("vehicle: v\nsource: s\nedition: e\n{lines}"));
        prop_assert_eq!(&lines, &read("a.csv", &format!("vehicle,v\nsource,s\nedition,e\nname,value,page\n{rows}")));
        prop_assert_eq!(&lines, &read("a.toml", &toml));
        prop_assert_eq!(lines.entries.len(), entries.len());
        for (entry, (name, (_, _, page))) in lines.entries.iter().zip(&entries) {
            prop_assert_eq!((&entry.name, &entry.page), (name, &format!("page {page}")));
        }
    }

    #[test]
    fn no_text_makes_it_panic(
        text in "(vehicle|source|name|value|[\",;:+.\n\r\t#±°·é]|N·m|at most|back off|slacken|[0-9]{1,9}|[a-z ]{1,4}){0,60}|\\PC{0,200}",
        form in prop::sample::select(vec!["a.csv", "a.txt", "a.toml"]),
    ) {
        let report = check(form, &text, None);
        let _ = (report.to_string(), report.to_json());
        prop_assert!(report.findings.iter().all(|f| text.get(f.span.clone()).is_some()));
        prop_assert_eq!(parse(form, &text).is_ok(), report.errors() == 0);
    }
}
