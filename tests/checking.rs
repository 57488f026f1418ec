//! The checker: silent on what is right, and not on what is wrong.

use serde::Deserialize;
use std::path::{Path, PathBuf};
use wrenchside::dialogue::{Language, Manner};
use wrenchside::job::{Follows, Pending, Say};
use wrenchside::procedure::{self, Code, FastenerIx, Severity, StageKind};
use wrenchside::quantity::TorqueUnit;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn toml_files(folder: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(root().join(folder)).expect("a folder");
    let mut files: Vec<_> = entries.map(|e| e.expect("an entry").path()).collect();
    files.retain(|f| f.extension().is_some_and(|e| e == "toml"));
    files.sort();
    files
}

fn read(file: &Path) -> String {
    std::fs::read_to_string(file).expect("a file")
}

/// With what it includes.
fn whole(file: &Path) -> String {
    procedure::open(file).expect("a procedure").text().to_owned()
}

#[test]
fn the_procedures_that_come_along_are_clean() {
    let files = toml_files("procedures");
    assert!(!files.is_empty());
    for file in files {
        let report = procedure::open(&file).unwrap_or_else(|e| panic!("{e}")).check();
        assert!(report.findings.is_empty(), "{report}");
    }
}

/// Every torque in a text: where its number or its window stands, those numbers, and where its unit stands.
fn torques(text: &str) -> Vec<(std::ops::Range<usize>, Vec<f64>, std::ops::Range<usize>)> {
    let mut found = Vec::new();
    for key in ["torque = \"", "also = \""] {
        for (at, _) in text.match_indices(key) {
            let number = at + key.len();
            // What counts from a measurement is no value by itself.
            if !text[number..].starts_with(|c: char| c.is_ascii_digit()) {
                continue;
            }
            let unit = number + text[number..].find(' ').expect("a space before the unit") + 1;
            let end = unit + text[unit..].find('"').expect("a closing quote");
            // A share of the final torque is told by that, and "also" of a measurement is a length.
            if ["%", "thou"].contains(&&text[unit..end]) {
                continue;
            }
            let numbers = text[number..unit - 1].split('-').map(|number| number.parse().expect("a number")).collect();
            found.push((number..unit - 1, numbers, unit..end));
        }
    }
    found
}

fn caught(text: &str, span: std::ops::Range<usize>, with: &str) -> bool {
    let mut mutant = text.to_owned();
    mutant.replace_range(span, with);
    let errors = procedure::findings(&mutant).into_iter().filter(|f| f.severity() == Severity::Error);
    errors.map(|f| f.code).any(|c| matches!(c, Code::AlsoDisagrees | Code::TorqueImplausible))
}

#[test]
fn a_slipped_digit_or_unit_in_any_torque_is_caught() {
    for file in toml_files("procedures") {
        let text = whole(&file);
        let torques = torques(&text);
        assert!(torques.len() >= 2, "{}: {}", file.display(), torques.len());
        for (number, values, unit) in torques {
            let value = &text[number.clone()];
            for slip in [|value: &f64| value * 10.0, |value: &f64| value / 10.0] {
                let with = values.iter().map(|value| slip(value).to_string()).collect::<Vec<_>>().join("-");
                assert!(caught(&text, number.clone(), &with), "{}: {value} as {with}", file.display());
            }
            for with in ["N·m", "kgf·m", "lbf·ft", "lbf·in"] {
                let same = text[unit.clone()].replace("ft. lbs.", "lbf·ft") == with;
                assert_eq!(!caught(&text, unit.clone(), with), same, "{}: {value} in {with}", file.display());
            }
        }
    }
}

#[derive(Deserialize)]
struct Manifest {
    fault: Vec<Fault>,
}

#[derive(Deserialize)]
struct Fault {
    /// Name of the file, without its ending.
    file: String,
    code: String,
    line: usize,
}

#[test]
fn every_faulty_procedure_is_found_faulty_where_it_is() {
    let manifest: Manifest = toml::from_str(&read(&root().join("tests/faulty/manifest.toml"))).expect("the manifest");
    assert!(manifest.fault.len() >= 40, "{}", manifest.fault.len());
    let mut wrong = Vec::new();
    for fault in &manifest.fault {
        let text = read(&root().join("tests/faulty").join(&fault.file).with_extension("toml"));
        let report = procedure::check(&fault.file, &text);
        // One fault each: one finding, of that code, on that line.
        let found: Vec<_> =
            report.findings.iter().map(|f| (f.code.as_str(), report.position(f.span.start).0)).collect();
        if found != [(fault.code.as_str(), fault.line)] {
            wrong.push(format!("{}: expected {} on line {}, found\n{report}", fault.file, fault.code, fault.line));
        }
        if report.findings.iter().any(|f| f.what.is_empty() || f.right.is_empty()) {
            wrong.push(format!("{}: a finding without words", fault.file));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
    let listed = manifest.fault.len();
    assert_eq!(toml_files("tests/faulty").len(), listed + 1, "every file is in the manifest, and the manifest itself");
    for code in Code::ALL {
        // What cannot be written as a file, or has a test of its own.
        if matches!(
            code,
            Code::NotReadable
                | Code::IncludeUnfit
                | Code::PictureMissing
                | Code::RebuildThere
                | Code::ValueTwice
                | Code::ValueNegative
                | Code::PageTwice
                | Code::NameUnheard
                | Code::WordUnheard
        ) {
            continue;
        }
        assert!(manifest.fault.iter().any(|f| f.code == code.as_str()), "no faulty procedure for {code}");
    }
}

#[test]
fn all_faults_of_a_file_are_found_in_one_run() {
    let mut text = whole(&root().join("procedures/tarnfell-front-lower-arm-left.toml"));
    for (from, to) in [
        ("consumables =", "consumable ="),
        ("count = 2", "count = \"two\""),
        ("renews = \"pinch\"", "renews = \"pinhc\""),
        ("over = \"restart\"\n", ""),
        ("torque = \"70 N·m\"", "torque = \"700 N·m\""),
        ("angle = \"55..70 deg\"", "angle = 60"),
        ("{ tighten = \"clamp\" }", "{ tighten = \"clamp\", through = 9 }"),
        ("do = [{ take_away = \"chocks\" }]", "do = [{ clean = \"the chocks\" }]"),
    ] {
        assert!(text.contains(from), "{from}");
        text = text.replacen(from, to, 1);
    }
    let report = procedure::check("many", &text);
    let codes: Vec<_> = report.findings.iter().map(|f| f.code).collect();
    for code in [
        Code::KeyUnknown,
        Code::TypeWrong,
        Code::RefUnknown,
        Code::KeyMissing,
        Code::TorqueImplausible,
        Code::AlsoDisagrees,
        Code::UnitMissing,
        Code::SupportLeft,
    ] {
        assert!(codes.contains(&code), "{code}: {report}");
    }
    assert!(report.to_string().contains("did you mean \"consumables\"?"), "{report}");
    assert!(report.to_string().contains("did you mean \"pinch\"?"), "{report}");
}

/// The codes found in a faulty procedure in which something is put right, or is otherwise.
fn codes_of(file: &str, changes: &[(&str, &str)]) -> Vec<Code> {
    let mut text = read(&root().join("tests/faulty").join(file));
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replacen(from, to, 1);
    }
    procedure::findings(&text).into_iter().map(|f| f.code).collect()
}

#[test]
fn a_state_that_the_rebuild_brings_about_is_what_the_vehicle_is_handed_back_in() {
    let early = "do = [{ reach = \"level\" }, { place = \"chocks\" }]";
    let late = "mirrors = \"cover-off\"\n\n[[step]]\nid = \"level\"\nphase = \"rebuild\"\n\
                say = \"Bring the vehicle on to level ground.\"\nminutes = 1\ndo = [{ reach = \"level\" }]";
    assert_eq!(codes_of("standing-left.toml", &[]), [Code::StandingLeft]);
    let changes = [(early, "do = [{ place = \"chocks\" }]"), ("mirrors = \"cover-off\"", late)];
    assert_eq!(codes_of("standing-left.toml", &changes), []);
    // One that can injure is handed on by no rebuild, either.
    let changes: Vec<(&str, &str)> = changes
        .into_iter()
        .chain([(
            "signal = \"caution\"\nsay = \"The vehicle may roll.\"",
            "signal = \"warning\"\nsay = \"The vehicle may roll.\"",
        )])
        .collect();
    assert_eq!(codes_of("standing-left.toml", &changes), [Code::StandingLeft]);
}

#[test]
fn a_step_that_asks_or_warns_of_something_else_is_no_doubled_one() {
    let again = "id = \"measure-again\"";
    for differs in ["needs = \"level\"", "hold = \"Is it cold?\"", "cautions = [{ note = \"It is hot.\" }]"] {
        let changed = format!("{again}\n{differs}");
        assert_eq!(codes_of("step-doubled.toml", &[(again, &changed)]), [], "{differs}");
    }
}

#[test]
fn a_small_drag_may_have_a_wide_window() {
    let small =
        ("torque = \"4..28 N·m\", also = \"3..20.7 lbf·ft\"", "torque = \"0.3..2.5 N·m\", also = \"2.7..22.1 lbf·in\"");
    assert_eq!(codes_of("window-wide.toml", &[small]), []);
}

#[test]
fn a_state_for_a_test_is_left_again_or_belongs_to_the_rebuild() {
    let reach = "do = [{ reach = \"under-test\" }]";
    let both = "do = [{ reach = \"under-test\" }, { leave = \"under-test\" }]";
    assert_eq!(codes_of("condition-left.toml", &[(reach, both)]), []);
    let tester = "phase = \"inspect\"\nsay = \"Look at tester once more.\"";
    for (phase, left) in [("strip", true), ("inspect", true), ("rebuild", false)] {
        let moved = tester.replace("inspect", phase);
        // Where the step stands then is told by its phase as well.
        let found = codes_of("condition-left.toml", &[(tester, &moved)]);
        assert_eq!(found.contains(&Code::ConditionLeft), left, "{phase}: {found:?}");
    }
    // Left on one way and not on the other.
    let text = read(&root().join("tests/faulty/condition-left-on-a-way.toml"));
    let found = procedure::findings(&text);
    assert!(found[0].what.starts_with("where all is found in order: at the end"), "{}", found[0].what);
    // The same, with a caution: it is told once, where the caution stands.
    let caution = "[[standing]]\nid = \"on\"\nsignal = \"note\"\nsay = \"It is on.\"\nwhile = { in = \"under-test\" }\n\n[[standing]]\nid = \"hose-open\"";
    let changes = [("[[standing]]\nid = \"hose-open\"", caution)];
    assert_eq!(codes_of("condition-left.toml", &changes), [Code::StandingLeft]);
}

#[test]
fn what_was_seen_to_is_judged_by_a_reading_or_a_question() {
    let repair = "if_outside = \"flange\"\ndo = [{ apply = \"brake cleaner\" }]";
    for judged in [
        "if_outside = \"flange\"\nhold = \"Is it in order?\"\ndo = [{ apply = \"brake cleaner\" }]",
        "if_outside = \"flange\"\nagain_from = \"flange\"\ndo = [{ apply = \"brake cleaner\" }]",
        "if_outside = \"flange\"\ndo = [{ apply = \"brake cleaner\" }, { measure = \"Gap of the flange\", unit = \"mm\" }]",
        // That only looks further, and writes it down.
        "if_outside = \"flange\"\ndo = [{ measure = \"gap of the lid\", unit = \"mm\" }]",
        "if_outside = \"flange\"",
    ] {
        assert_eq!(codes_of("not-judged.toml", &[(repair, judged)]), [], "{judged}");
    }
    // A state of the vehicle is brought about to look further, or to put right.
    let stop = "do = [{ leave = \"under-test\" }]";
    let looks = "do = [{ measure = \"gap of the lid\", unit = \"mm\" }, { leave = \"under-test\" }]";
    assert_eq!(codes_of("not-judged-charge.toml", &[(stop, looks)]), []);
}

#[test]
fn what_is_chosen_has_to_bring_the_gap_within_its_limits() {
    let (least, most) = ("least = \"old + flange + 0.18 mm\"", "most = \"old + flange + 0.22 mm\"");
    for (to_least, to_most, found) in [
        ("least = \"old + flange - 0.22 mm\"", "most = \"old + flange - 0.18 mm\"", vec![]),
        ("least = \"old + flange - 0.21 mm\"", "most = \"old + flange - 0.20 mm\"", vec![]),
        ("least = \"old + flange - 0.23 mm\"", "most = \"old + flange - 0.18 mm\"", vec![Code::SumUnfit]),
        ("least = \"old + flange - 0.22 mm\"", "most = \"old + flange + 0.18 mm\"", vec![Code::SumUnfit]),
        ("least = \"flange + old - 0.22 mm\"", "most = \"flange + old - 0.18 mm\"", vec![]),
        ("least = \"old - flange + 0.18 mm\"", "most = \"old - flange + 0.22 mm\"", vec![Code::SumBackwards]),
    ] {
        assert_eq!(codes_of("sum-unfit.toml", &[(least, to_least), (most, to_most)]), found, "{to_least} {to_most}");
    }
    // A spacer that makes the room is thinner where there is too much of it.
    let spacer = [("gap of the flange", "end float of the shaft")];
    assert_eq!(codes_of("sum-backwards.toml", &spacer), []);
    // Two that take from the same sizes go the same way.
    let text = read(&root().join("tests/faulty/sum-unfit.toml")).replace("flange + 0.18 mm", "flange - 0.22 mm");
    let text = text.replace("flange + 0.22 mm", "flange - 0.18 mm").replace("gap of the flange", "end float");
    let (from, to) =
        (text.find("[[step]]\nid = \"flange\"").unwrap(), text.find("[[step]]\nid = \"cover-on\"").unwrap());
    let other = text[from..to]
        .replace("flange", "shaft")
        .replace("\"old", "\"was")
        .replace("end float", "end float of the other");
    let other = other.replace("was + shaft - 0.22 mm", "was - shaft + 0.18 mm");
    let other =
        other.replace("was + shaft - 0.18 mm", "was - shaft + 0.22 mm").replace("id = \"new\"", "id = \"new-two\"");
    assert_eq!(codes(&text), Vec::<&str>::new());
    assert_eq!(codes(&format!("{}{other}{}", &text[..to], &text[to..])), ["sum-unfit"]);
}

#[test]
fn a_row_of_sizes_may_have_holes_and_two_steps() {
    let sizes = "[\"2.00 mm\", \"2.05 mm\", \n    \"2.01 mm\", \"2.15 mm\", \"2.20 mm\", \"2.25 mm\", \"2.30 mm\", \"2.35 mm\"]";
    for (row, odd) in [
        ("2.00 2.05 2.10 2.15 2.30 2.35 2.40", 0),
        ("2.40 2.35 2.30 2.25 2.20 2.15", 0),
        ("2.0 2.1 2.2 2.25 2.3 2.35 2.4 2.45 2.5 2.6", 0),
        ("2.00 2.11 2.37 2.41 2.93 3.02", 0),
        ("0.04 0.05 0.06 0.07 0.08 0.10 0.15 0.20", 0),
        ("2.00 2.05 2.10 2.15 2.20 2.52 2.30 2.35", 1),
        ("2.40 2.35 2.03 2.25 2.20 2.15 2.10 2.05", 1),
        ("0.20 2.05 2.10 2.15 2.20 2.25 2.30 2.35", 1),
        ("2.00 2.05 2.10 2.15 2.20 2.25 2.30 3.25", 1),
        ("2.00 2.10 2.05 2.15 2.20 2.25 2.30 2.35 2.40 2.45", 2),
    ] {
        let written: Vec<String> = row.split(' ').map(|size| format!("\"{size} mm\"")).collect();
        // Where none of them is the one that is looked for, that is no matter of the row.
        let found = codes_of("stock-odd.toml", &[(sizes, &format!("[{}]", written.join(", ")))]);
        assert_eq!(found, vec![Code::StockOdd; odd], "{row}");
    }
}

#[test]
fn limits_of_different_things_may_lie_far_apart() {
    assert_eq!(codes_of("limits-apart.toml", &[("voltage at rest", "voltage before")]), []);
    assert_eq!(codes_of("limits-apart.toml", &[("most = \"12.9 V\"", "most = \"13.2 V\"")]), []);
    assert_eq!(codes_of("limits-far.toml", &[("1.24 V", "12.1 V")]), []);
    assert_eq!(codes_of("limits-far.toml", &[("1.24 V", "6.2 V")]), []);
    assert_eq!(codes_of("limits-far.toml", &[("1.24 V", "1240 mV")]), [Code::LimitsFar]);
    // What must not be more may be next to nothing: a loss.
    assert_eq!(codes_of("limits-far-most.toml", &[("129 V", "0.2 V")]), []);
    assert_eq!(codes_of("window-narrow.toml", &[("12.41 V", "12.9 V")]), []);
    assert_eq!(codes_of("window-narrow-none.toml", &[("most = \"0.2 mm\"", "most = \"0.201 mm\"")]), []);
    for far in ["1 Ω", "5 mA", "1 %", "-10 °C"] {
        let unit = far.split(' ').nth(1).unwrap();
        let changes = [("1.24 V", far), ("12.9 V", &format!("90 {unit}") as &str)];
        assert_eq!(codes_of("window-wide-limits.toml", &changes), [], "{far}");
    }
}

#[test]
fn findings_are_given_to_programs_and_shown_to_people() {
    let text = read(&root().join("tests/faulty/also-disagrees.toml"));
    let report = procedure::check("also-disagrees.toml", &text);
    let json = report.to_json();
    let finding = &json["findings"][0];
    assert_eq!(json["errors"], 1);
    assert_eq!(finding["code"], "also-disagrees");
    assert_eq!(finding["severity"], "error");
    assert_eq!(finding["text"], "\"40 lbf·ft\"");
    for key in ["file", "line", "column", "end_line", "end_column", "what", "why", "right"] {
        assert!(!finding[key].is_null(), "{key}");
    }
    let mut shown = String::new();
    let handler = miette::GraphicalReportHandler::new_themed(miette::GraphicalTheme::unicode_nocolor());
    for diagnostic in report.diagnostics() {
        handler.render_report(&mut shown, &diagnostic).expect("it can be shown");
    }
    for part in ["also-disagrees", "also-disagrees.toml:", "40 lbf·ft", "here", "why:"] {
        assert!(shown.contains(part), "{part}:\n{shown}");
    }
}

#[test]
fn codes_are_words_of_their_own() {
    let mut seen = std::collections::BTreeSet::new();
    for code in Code::ALL {
        assert!(seen.insert(code.as_str()), "{code} twice");
        assert!(code.as_str().chars().all(|c| c.is_ascii_lowercase() || c == '-'), "{code}");
        assert!(!code.why().is_empty());
    }
}

#[test]
fn the_schema_for_editors_is_up_to_date() {
    let file = root().join("procedures/procedure.schema.json");
    let made = serde_json::to_string_pretty(&procedure::json_schema()).expect("json") + "\n";
    if std::env::var_os("WRENCHSIDE_WRITE_SCHEMA").is_some() {
        std::fs::write(&file, &made).expect("the schema is written");
    }
    let right = "run the test once with WRENCHSIDE_WRITE_SCHEMA set";
    assert!(read(&file) == made, "procedures/procedure.schema.json is out of date; {right}");
}

fn codes(text: &str) -> Vec<&'static str> {
    procedure::findings(text).iter().map(|f| f.code.as_str()).collect()
}

/// A clean file of which the bracket bolts are locked with wire, with these stages.
fn wired(stages: &str) -> String {
    let text = read(&root().join("tests/faulty/fastener-unlocked.toml"));
    let tight = "    { tighten = \"bracket-bolts\" },";
    let text = text.replacen(tight, &format!("{tight}\n    {{ lock = \"bracket-bolts\" }},"), 1);
    let text = text.replacen("lock = \"lock wire\"\n", "lock = \"lock wire\"\nruns = \"one at a time\"\n", 1);
    text.replacen("stages = [{ torque = \"25 N·m\", also = \"18 lbf·ft\" }]", &format!("stages = [{stages}]"), 1)
}

/// "Tighten to 50 % of the final torque", as it is printed: told with what it comes to, and with no torque beside that.
#[test]
fn a_stage_may_be_a_share_of_the_final_torque() {
    let whole = "{ torque = \"25 N·m\", also = \"18 lbf·ft\" }";
    for (stages, low, high) in [
        (format!("{{ torque = \"50 %\" }}, {whole}"), "12.5", "12.5"),
        (format!("{{ torque = \"33.3%\" }}, {{ slacken = true }}, {whole}"), "8.325", "8.325"),
        (format!("{{ torque = \"30 %\" }}, {{ torque = \"60 %\" }}, {whole}, {{ angle = \"90 deg\" }}"), "7.5", "7.5"),
        ("{ torque = \"50 %\" }, { torque = \"24-30 N·m\", also = \"18-22 lbf·ft\" }".to_owned(), "12", "15"),
    ] {
        let text = wired(&stages);
        assert_eq!(codes(&text), Vec::<&str>::new(), "{stages}");
        let book = procedure::parse("share.toml", &text).unwrap();
        let group = book.fasteners.iter().position(|f| f.lock.is_some()).unwrap();
        let first = book.fasteners[group].finish.stage(0).unwrap();
        let StageKind::Torque(limits) = &first.kind else { panic!("{first:?}") };
        assert_eq!((limits.low().amount.to_string(), limits.high().amount.to_string()), (low.into(), high.into()));
        assert_eq!(book.fasteners[group].finish.len(), stages.matches('{').count());
    }
    for (stages, code) in [
        ("{ torque = \"50 %\" }, { torque = \"60 %\" }", "share-of-nothing"),
        ("{ torque = \"25 N·m\" }, { torque = \"60 %\" }", "share-of-nothing"),
        ("{ torque = \"100 %\" }, { torque = \"25 N·m\" }", "value-unreadable"),
        ("{ torque = \"0 %\" }, { torque = \"25 N·m\" }", "value-unreadable"),
        ("{ torque = \"-5 %\" }, { torque = \"25 N·m\" }", "value-unreadable"),
        ("{ torque = \"50..60 %\" }, { torque = \"25 N·m\" }", "value-unreadable"),
        ("{ torque = \"%\" }, { torque = \"25 N·m\" }", "value-unreadable"),
        ("{ torque = \"50 %\" }, { torque = \"79228162514264337593543950335 N·m\" }", "value-unreadable"),
    ] {
        let found = codes(&wired(stages));
        assert!(found.contains(&code), "{stages}: {found:?}");
    }
}

#[test]
fn a_share_is_told_with_what_it_comes_to() {
    let text = wired("{ torque = \"50 %\" }, { torque = \"25 N·m\", also = \"18 lbf·ft\" }");
    let book = procedure::parse("share.toml", &text).unwrap();
    let group = book.fasteners.iter().position(|f| f.lock.is_some()).unwrap();
    let fastener = &book.fasteners[group];
    let pending = Pending {
        group: FastenerIx(group),
        item: 0,
        rank: 0,
        items: fastener.places.len(),
        stage: 0,
        stages: 2,
        kind: Some(fastener.finish.stage(0).unwrap().kind.clone()),
        new: false,
        turned: None,
        interrupted: false,
        announced: false,
        waits: None,
        counted: None,
        follows: Follows::SameItem,
    };
    let told = |manner: Manner| {
        let sentence = Language::english().render(&[Say::Pending(pending.clone())], &book, &manner).remove(0);
        (sentence.written, sentence.spoken.to_lowercase())
    };
    let (written, spoken) = told(Manner::default());
    assert_eq!(written, "Stage 1: 50 % of the final torque, 12.5 N·m.");
    assert!(spoken.contains("fifty percent of the final torque, twelve point five newton metres"), "{spoken}");
    // It was worked out, so nobody published it.
    let (written, spoken) = told(Manner { unit: Some(TorqueUnit::PoundForceFoot), ..Manner::default() });
    assert!(written.contains("≈ 9.22 lbf·ft (12.5 N·m)") && !spoken.contains("published"), "{written} {spoken}");
}

#[test]
fn what_is_locked_may_end_backed_off() {
    let snug = "{ torque = \"25 N·m\", also = \"18 lbf·ft\", while = \"turning the bracket by hand\" }";
    for last in [
        "{ back_off = \"0..90 deg\", until = \"the wire holes line up\" }",
        "{ back_off = \"60-90 deg\" }",
        "{ back_off = \"90 deg\" }",
        "{ slot = \"30 deg\" }",
    ] {
        let text = wired(&format!("{snug}, {last}"));
        assert_eq!(codes(&text), Vec::<&str>::new(), "{last}");
        let unlocked = text.replacen("lock = \"lock wire\"\n", "", 1);
        assert!(codes(&unlocked).contains(&"lock-none"), "{last}");
    }
    for (last, code) in [("{ slot = \"30 deg\" }", "fastener-unlocked"), ("{ back_off = \"90 deg\" }", "finish-loose")]
    {
        let text = wired(&format!("{snug}, {last}"));
        let text =
            text.replacen("lock = \"lock wire\"\n", "", 1).replacen("    { lock = \"bracket-bolts\" },\n", "", 1);
        assert!(codes(&text).contains(&code), "{last}: {:?}", codes(&text));
    }
    assert_eq!(codes(&wired(&format!("{snug}, {{ back_off = \"-30..90 deg\" }}"))), ["value-not-positive"]);
    assert_eq!(codes(&wired(&format!("{snug}, {{ slacken = true }}"))), ["finish-loose"]);
    assert_eq!(codes(&wired(&format!("{snug}, {{ back_off = \"0 deg\" }}"))), ["value-not-positive"]);
}

/// Measurements, each with a step for what is done where it lies outside its limits: a look, but where `acts` has something else.
fn measurements(count: usize, acts: impl Fn(usize) -> &'static str) -> String {
    let head = r#"format = 1
[procedure]
id = "many"
title = "Many"
vehicle = "Tarnfell 15, light van"
language = "en"
revision = "1"
author = "invented"
[source]
title = "Invented book"
edition = "first"
[[component]]
id = "lid"
name = "lid"
"#;
    let pair = |n: usize| {
        let acts = acts(n);
        format!(
            "[[step]]\nid = \"m{n}\"\nphase = \"inspect\"\nsay = \"Measure gap {n}.\"\nsource = \"page 1\"\n\
             do = [{{ measure = \"gap {n}\", name = \"g{n}\", most = \"1 mm\", otherwise = \"Change it.\", source = \"page 1\" }}]\n\
             [[step]]\nid = \"x{n}\"\nif_outside = \"g{n}\"\nphase = \"inspect\"\nsay = \"See to gap {n}.\"\nsource = \"page 1\"\n{acts}\n"
        )
    };
    head.to_owned() + &(0..count).map(pair).collect::<String>()
}

#[test]
fn steps_that_are_not_always_done_are_followed_with_and_without_each_however_many_there_are() {
    // The lid comes off after one thing and goes on after another: with both or none of them all is well.
    let acts = |n| match n {
        3 => "do = [{ take_off = \"lid\" }]",
        30 => "do = [{ put_on = \"lid\" }]",
        _ => "",
    };
    let findings = procedure::findings(&measurements(40, acts));
    let way = "where only \"g3\" is not in order";
    assert!(findings.iter().any(|f| f.what.starts_with(way)), "{findings:?}");
    assert!(!findings.iter().any(|f| f.code == Code::BranchUnfit), "{findings:?}");
}

#[test]
fn a_file_with_more_of_them_than_can_be_followed_is_told_so() {
    let of = |count| procedure::findings(&measurements(count, |_| ""));
    assert!(!of(300).iter().any(|f| f.code == Code::BranchUnfit));
    let unfit: Vec<_> = of(302).into_iter().filter(|f| f.code == Code::BranchUnfit).collect();
    assert_eq!(unfit.len(), 1, "{unfit:?}");
    assert!(unfit[0].severity() == Severity::Error && unfit[0].what.contains("more than 300"), "{unfit:?}");
}

#[test]
fn a_limit_that_cannot_be_read_is_told_of_with_the_units_of_its_kind_alone() {
    let text = read(&root().join("tests/faulty/also-limits-disagrees.toml"));
    let right = "least = \"0.10 mm\", most = \"0.40 mm\", also = \"0.004..0.061 in\"";
    assert!(text.contains(right));
    let told = |limits: &str| {
        let all = procedure::findings(&text.replace(right, limits));
        assert_eq!(all.iter().map(|f| f.code).collect::<Vec<_>>(), [Code::ValueUnreadable], "{limits}");
        all[0].what.clone()
    };
    for limits in ["least = \"0.10 mm\", most = \"0.40 mn\"", "least = \"0.10 mn\", most = \"0.40 mm\""] {
        let said = told(limits);
        assert!(said.contains("is not a length") && said.contains("mm, in or thou") && !said.contains("bar"), "{said}");
    }
    // Nothing says what it should be.
    let said = told("most = \"0.40 mn\"");
    assert!(said.contains("\"mn\" is no unit") && said.len() < 200, "{said}");
}
