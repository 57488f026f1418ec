//! Steps written once for several places: the same as if each were written out, and told of where they stand.

use proptest::prelude::*;
use wrenchside::procedure::{self, Code, Finding, Procedure};

const HEAD: &str = r#"format = 1

[procedure]
id = "bleeding"
title = "Brakes: bleed"
vehicle = "Tarnfell 15, light van"
language = "en"
revision = "1"
author = "The Wrenchside authors"

[source]
title = "Tarnfell 15 Workshop Manual"
edition = "first edition, invented"

[[tool]]
id = "spanner"
name = "9 millimetre spanner"

[[connection]]
id = "hose-rear-left"
name = "rear left hose"

[[connection]]
id = "hose-front-right"
name = "front right hose"

[[fastener]]
id = "nipples"
name = "bleed nipple"
plural = "bleed nipples"
places = ["rear left", "front right"]
drive = "9 mm hex"
tool = "spanner"
preparation = "clean and dry"
pattern = "in turn"
runs = "one at a time"
stages = [{ torque = "8 N·m", also = "71 lbf·in" }]
over = "restart"
source = "page 5-31"
"#;

/// What is done at a place.
const RUN: &str = r#"
[[step]]
id = "open"
phase = "strip"
say = "Open the nipple, {place}."
why = "{place} lies farthest away."
stuck = "Warm the nipple, {place}."
cautions = [{ caution = "Mind the paint, {place}." }]
hold = "Is it open, {place}?"
source = "page 5-31, {place}"
do = [{ disconnect = "hose-{id}" }, { slacken = "nipples", items = ["{place}"] }]

[[step]]
id = "look"
phase = "strip"
say = "{place}: look at the fluid."
do = [
    { measure = "fluid, {place}", name = "fluid-{id}", unit = "ml" },
    { measure = "fluid after a minute, {place}", least = "fluid-{id} - 1 ml", otherwise = "Wait, {place}." },
]

[[step]]
id = "shut"
phase = "rebuild"
say = "Shut the nipple, {place}."
mirrors = "open"

[[step]]
id = "tight"
phase = "rebuild"
say = "Tighten the nipple, {place}."
until = "Is it dry, {place}?"
again_from = "shut"
at_most = 4
otherwise = "Renew the nipple, {place}."
do = [{ slacken = "nipples", items = ["{place}"] }, { hand_start = "nipples", items = ["{place}"] }, { tighten = "nipples", items = ["{place}"] }]
"#;

/// The run once, for these places.
fn once(places: &[&str]) -> String {
    let places: Vec<String> = places.iter().map(|place| format!("{place:?}")).collect();
    let each = format!("id = \"open\"\nfor_each = [{}]\nup_to = \"tight\"", places.join(", "));
    format!("{HEAD}{}", RUN.replace("{id}", "{place}").replacen("id = \"open\"", &each, 1))
}

/// The run for each of these places, written out.
fn written_out(places: &[(&str, &str)]) -> String {
    let mut text = HEAD.to_owned();
    for (place, id) in places {
        let mut run = RUN.replace("{id}", id);
        for step in ["open", "look", "shut", "tight"] {
            for key in ["id", "mirrors", "again_from"] {
                run = run.replace(&format!("{key} = \"{step}\""), &format!("{key} = \"{step}-{id}\""));
            }
        }
        let capital = format!("{}{}", place[..1].to_uppercase(), &place[1..]);
        run = run
            .replace("\"{place} lies", &format!("\"{capital} lies"))
            .replace("\"{place}: look", &format!("\"{capital}: look"));
        text.push_str(&run.replace("{place}", place));
    }
    text
}

fn read(text: &str) -> Procedure {
    procedure::parse("bleeding.toml", text).unwrap_or_else(|report| panic!("{report}"))
}

#[test]
fn what_is_written_once_is_the_same_as_written_out() {
    let once = read(&once(&["rear left", "front right"]));
    let out = read(&written_out(&[("rear left", "rear-left"), ("front right", "front-right")]));
    assert_eq!(once, out);
    let ids: Vec<&str> = once.steps.iter().map(|step| step.id.as_str()).collect();
    assert_eq!(
        &ids[..5],
        ["open-rear-left", "look-rear-left", "shut-rear-left", "tight-rear-left", "open-front-right"]
    );
    assert_eq!(
        once.steps[7].until.as_ref().map(|until| until.from),
        Some(6),
        "its own round, not that of the first place"
    );
}

/// Findings of a text, each with its line.
fn found(text: &str) -> Vec<(usize, Finding)> {
    let report = procedure::check("bleeding.toml", text);
    report.findings.iter().map(|finding| (report.position(finding.span.start).0, finding.clone())).collect()
}

fn line_of(text: &str, part: &str) -> usize {
    1 + text.lines().position(|line| line.contains(part)).unwrap_or_else(|| panic!("{part}"))
}

#[test]
fn what_is_wrong_at_one_place_is_told_in_its_line_with_the_place() {
    // The file has no hose at the front left.
    let text = once(&["rear left", "front left"]).replace("items = [\"{place}\"]", "items = [\"rear left\"]");
    let findings = found(&text);
    let (line, finding) = findings.iter().find(|(_, f)| f.code == Code::RefUnknown).expect("a reference");
    assert_eq!(*line, line_of(&text, "disconnect = "));
    assert_eq!(finding.what, "at \"front left\": there is no connection \"hose-front-left\"");
}

#[test]
fn what_is_wrong_at_every_place_alike_is_told_once() {
    let long = "say = \"Look at the fluid of this nipple here and there and up and down and look again until you have seen all of it.\"";
    let text = once(&["rear left", "front right"]).replace("say = \"{place}: look at the fluid.\"", long);
    let long: Vec<_> = found(&text).into_iter().filter(|(_, f)| f.code == Code::SayLong).collect();
    assert_eq!(long.len(), 1, "{long:?}");
    assert_eq!((long[0].0, long[0].1.what.as_str()), (line_of(&text, "say = \"Look"), "a sentence has 24 words"));
}

#[test]
fn a_step_by_itself_needs_no_end_of_its_run() {
    let text = format!(
        "{HEAD}\n[[step]]\nid = \"look\"\nphase = \"inspect\"\nfor_each = [\"Front: left!\", \"2\", \"вниз\"]\nsay = \"Look, {{place}}.\"\n"
    );
    let steps = read(&text).steps;
    let told: Vec<_> = steps.iter().map(|step| (step.id.as_str(), step.say.as_str())).collect();
    assert_eq!(told, [("look-front-left", "Look, Front: left!."), ("look-2", "Look, 2."), ("look-3", "Look, вниз.")]);
}

#[test]
fn more_text_than_a_procedure_may_have_is_refused_and_not_made() {
    let places: Vec<String> = (0..20_000).map(|n| format!("\"place {n}\"")).collect();
    let steps: String = (0..40)
        .map(|n| format!("[[step]]\nid = \"s{n}\"\nphase = \"inspect\"\nsay = \"Look, {{place}}.\"\n"))
        .collect();
    let steps = steps.replacen("phase", &format!("for_each = [{}]\nup_to = \"s39\"\nphase", places.join(", ")), 1);
    let report = procedure::parse("bleeding.toml", &format!("{HEAD}{steps}")).expect_err("too large");
    let told: Vec<_> = report.findings.iter().map(|f| (f.code, f.what.as_str())).collect();
    assert!(
        told.contains(&(Code::EachUnfit, "done for each of these places the procedure is larger than 8 MiB")),
        "{told:?}"
    );
}

#[test]
fn the_rebuild_is_drafted_of_a_strip_that_is_written_once() {
    let text = once(&["rear left", "front right"]);
    let strip = &text[..text.find("[[step]]\nid = \"shut\"").expect("the rebuild")];
    let strip = strip.replace("up_to = \"tight\"", "up_to = \"look\"");
    let drafted = procedure::draft_rebuild("bleeding.toml", &strip).unwrap_or_else(|report| panic!("{report}"));
    assert!(drafted.starts_with(strip.trim_end()) && drafted.contains("\"front right\""), "{drafted}");
    let whole = procedure::parse("bleeding.toml", &drafted).unwrap_or_else(|report| panic!("{report}\n{drafted}"));
    assert!(whole.steps.len() > 4);
    let report = procedure::draft_rebuild("bleeding.toml", &text).expect_err("it has a rebuild");
    assert_eq!(report.position(report.findings[0].span.start).0, line_of(&text, "phase = \"rebuild\""));
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever the places are called and wherever braces stand, a text is read or refused with a line that is in it.
    #[test]
    fn any_places_are_read_or_refused_in_their_line(
        places in prop::collection::vec("[a-zA-Z0-9 {}ü-]{0,8}", 0..5),
        say in "[a-z {}]{0,20}(\\{place\\})?",
        up_to in "open|look|shut|tight|none",
    ) {
        let places: Vec<&str> = places.iter().map(String::as_str).collect();
        let text = once(&places)
            .replace("up_to = \"tight\"", &format!("up_to = {up_to:?}"))
            .replace("Shut the nipple, {place}.", &say);
        let lines = text.lines().count();
        let report = procedure::check("bleeding.toml", &text);
        for finding in &report.findings {
            prop_assert!(finding.span.end <= text.len(), "{:?}", finding);
            prop_assert!(report.position(finding.span.start).0 <= lines);
            prop_assert!(finding.also.iter().all(|(span, _)| span.end <= text.len()), "{:?}", finding);
        }
        if let Ok(read) = procedure::parse("bleeding.toml", &text) {
            let plain = read.steps.iter().all(|step| !step.say.contains(['{', '}']));
            prop_assert!(plain, "{:?}", read.steps);
        }
    }
}
