//! Drafting a rebuild from a strip.

use std::path::Path;
use wrenchside::procedure::{self, Act, Code, Deed, Phase, Severity};

fn text_of(name: &str) -> String {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures").join(name).with_extension("toml");
    procedure::open(&file).expect("a procedure").text().to_owned()
}

/// The file up to the end of its strip.
fn strip_of(name: &str) -> String {
    let text = text_of(name);
    let end = text
        .find("# ================================================================ inspect")
        .expect("its inspection");
    text[..end].to_owned()
}

const NAMES: [&str; 3] = ["tarnfell-front-lower-arm-left", "tarnfell-front-brakes", "tarnfell-cylinder-head"];

#[test]
fn a_drafted_rebuild_leaves_nothing_open() {
    for name in NAMES {
        let strip = strip_of(name);
        let open = procedure::findings(&strip);
        let pointed = open.iter().find(|f| f.code == Code::FastenerUnfinished).expect("the strip alone is not whole");
        assert_eq!(pointed.severity(), Severity::Error, "{name}");
        assert!(
            pointed.right.contains("\"wrenchside draft-rebuild FILE\" drafts it from the strip"),
            "{}",
            pointed.right
        );
        let whole = procedure::draft_rebuild(name, &strip).unwrap_or_else(|e| panic!("{e}"));
        // What the author wrote is kept as it is.
        assert!(whole.starts_with(strip.trim_end()));
        let report = procedure::check(name, &whole);
        assert_eq!(report.errors(), 0, "{report}\n{whole}");
        assert!(whole.contains("# ?? "));
        let p = procedure::parse(name, &whole).unwrap_or_else(|e| panic!("{e}"));
        for phase in [Phase::Inspect, Phase::Rebuild, Phase::Close] {
            assert!(p.steps.iter().any(|s| s.phase == phase), "{name}: {phase:?}");
        }
    }
}

#[test]
fn the_draft_of_the_lower_arm_knows_its_exceptions() {
    let name = NAMES[0];
    let whole = procedure::draft_rebuild(name, &strip_of(name)).unwrap_or_else(|e| panic!("{e}"));
    let p = procedure::parse(name, &whole).unwrap_or_else(|e| panic!("{e}"));
    let drafted: Vec<_> = p.steps.iter().filter(|s| s.phase >= Phase::Rebuild).collect();
    let pivot = p.fasteners.iter().position(|f| f.id == "pivot").expect("the pivot bolts");
    let of_pivot = |deed: fn(&Deed) -> bool| {
        drafted.iter().position(|s| {
            s.acts.iter().any(|a| matches!(a, Act::Fasten { group, deed: d, .. } if group.0 == pivot && deed(d)))
        })
    };
    // No temporary refit, and tightening only after the state it needs was reached.
    assert_eq!(of_pivot(|d| *d == Deed::Hold), None);
    let tight = of_pivot(|d| matches!(d, Deed::Tighten(None))).expect("it is tightened");
    let reach = drafted
        .iter()
        .position(|s| s.acts.iter().any(|a| matches!(a, Act::Reach(c) if p.conditions[c.0].id == "ride-height")));
    assert!(reach.expect("ride height") < tight);
    // The rear bolt comes back together with the arm, as it came out.
    let arm = drafted.iter().find(|s| s.say.contains("lower arm")).expect("the arm is fitted");
    assert_eq!(arm.say, "Fit the new lower arm, with its new pivot bolt (rear) hand-tight.");
    assert_eq!(arm.acts.len(), 2);
    // The wheel bolts: first pass at once, the rest on the wheels.
    let wheel: Vec<_> =
        drafted.iter().filter(|s| s.say.starts_with("Tighten the left wheel bolts")).map(|s| s.phase).collect();
    assert_eq!(wheel, [Phase::Rebuild, Phase::Close]);
    for mark in [
        "put something back only to hold",
        "a support that was there for a time",
        "trapped here",
        "brought into this state",
    ] {
        assert!(whole.contains(mark), "{mark}");
    }
}

#[test]
fn a_written_rebuild_is_not_drafted_again() {
    let report = procedure::draft_rebuild("whole", &text_of(NAMES[0])).expect_err("it has a rebuild");
    assert_eq!(report.findings.iter().map(|f| f.code).collect::<Vec<_>>(), [Code::RebuildThere]);
    let report = procedure::draft_rebuild("bad", "format = 1\n").expect_err("it is no procedure");
    assert!(report.errors() > 1);
}

#[test]
fn a_lock_that_was_taken_out_is_drafted_back_behind_the_tightening() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/faulty/fastener-unlocked.toml");
    let text = std::fs::read_to_string(file).expect("a procedure");
    let strip = &text[..text.find("[[step]]\nid = \"measure\"").expect("its inspection")];
    let whole = procedure::draft_rebuild("wired", strip).unwrap_or_else(|e| panic!("{e}"));
    let report = procedure::check("wired", &whole);
    assert_eq!(report.errors(), 0, "{report}\n{whole}");
    let tight = whole.find("{ tighten = \"bracket-bolts\" }").expect("it is tightened");
    let lock = whole.find("{ lock = \"bracket-bolts\" }").expect("it is locked");
    assert!(tight < lock);
    assert!(whole.contains("Lock the bracket bolts with the lock wire."));
    // Where nothing was turned, nothing is tightened.
    let only = strip
        .replace("{ unlock = \"bracket-bolts\" }, { slacken = \"bracket-bolts\" }", "{ unlock = \"bracket-bolts\" }");
    let whole = procedure::draft_rebuild("wired", &only).unwrap_or_else(|e| panic!("{e}"));
    assert!(!whole.contains("{ tighten = \"bracket-bolts\" }") && whole.contains("{ lock = \"bracket-bolts\" }"));
    assert_eq!(procedure::check("wired", &whole).errors(), 0, "{whole}");
}

#[test]
fn a_torque_that_counts_from_what_the_rebuild_measures_is_drafted_with_its_measurement() {
    let name = "tarnfell-angle-gearbox";
    let strip = strip_of(name);
    // The file is pointed to the draft, which then is made.
    let open = procedure::findings(&strip);
    let pointed =
        open.iter().filter(|f| f.right.contains("\"wrenchside draft-rebuild FILE\" drafts it from the strip"));
    assert_eq!(pointed.clone().count(), 4, "{open:?}");
    for code in [Code::ComponentOff, Code::ConnectionOpen, Code::SupportLeft] {
        assert!(pointed.clone().any(|f| f.code == code), "{code}");
    }
    let whole = procedure::draft_rebuild(name, &strip).unwrap_or_else(|e| panic!("{e}"));
    assert!(whole.starts_with(strip.trim_end()) && !whole.contains("taken-in-the-rebuild"));
    assert!(whole.contains("The torque of the flange nut counts from \"prevailing\"."), "{whole}");
    let report = procedure::check(name, &whole);
    assert_eq!(report.errors(), 0, "{report}\n{whole}");
    let p = procedure::parse(name, &whole).unwrap_or_else(|e| panic!("{e}"));
    let taken = &p.named.iter().find(|named| named.id == "prevailing").expect("it is measured");
    let nut = p.fasteners.iter().position(|f| f.id == "flange-nut").expect("the nut");
    let tight = p.steps.iter().position(|step| {
        step.acts.iter().any(|a| matches!(a, Act::Fasten { group, deed: Deed::Tighten(_), .. } if group.0 == nut))
    });
    assert!(taken.step < tight.expect("it is tightened"));
    // What else is wrong is told where it stands, and of that no draft is made.
    let wrong = strip.replace("id = \"drain\"", "id = \"chock\"");
    let report = procedure::draft_rebuild(name, &wrong).expect_err("an id twice");
    assert_eq!(report.findings.iter().map(|f| f.code).collect::<Vec<_>>(), [Code::IdTwice]);
}
