//! A draft as the TOML of a procedure.
//!
//! Every text of the file goes through one way of quoting, every remark through one way of making a comment.

use super::draft::{Draft, Group, Item, Step};
use super::quote::quoted;
use super::{Given, MARK, id_of};
use crate::procedure;
use std::collections::HashSet;
use std::fmt::Write;

fn ask(out: &mut String, text: &str) {
    let _ = writeln!(out, "{MARK} {}", text.replace(char::is_control, " "));
}

fn kept(out: &mut String, text: &str) {
    let _ = writeln!(out, "# {}", text.replace(char::is_control, " "));
}

/// A key of the head; one without its text asks for it.
fn key(out: &mut String, key: &str, text: &str, wanted: &str) {
    match text.is_empty() {
        true => {
            let _ = writeln!(out, "{key} = \"\" {MARK} {wanted}");
        }
        false => {
            let _ = writeln!(out, "{key} = {}", quoted(text));
        }
    }
}

fn list(texts: &[String]) -> String {
    texts.iter().map(|text| quoted(text)).collect::<Vec<_>>().join(", ")
}

fn head(out: &mut String, given: &Given, consumables: &[String]) {
    out.push_str("# A procedure. FORMAT.md explains each key by example; `wrenchside check` says what is still to be put right.\n");
    let _ = writeln!(
        out,
        "# What begins with \"??\" waits for its author: settle it with the manual open, and take it out.\n"
    );
    let _ = writeln!(out, "format = {}\nconsumables = [{}]\n", procedure::FORMAT, list(consumables));
    out.push_str("[procedure]\n");
    key(out, "id", &given.id, "a short name, like that of the file: small letters, digits, hyphens");
    key(out, "title", &given.title, "the job, as it is said");
    key(out, "vehicle", &given.vehicle, "the vehicle it is for");
    out.push_str("language = \"en\"\nrevision = \"1\"\n");
    key(out, "author", &given.author, "who writes this down");
    out.push_str("\n[source]\n");
    key(out, "title", &given.manual, "the title of the manual that the values come from");
    key(out, "edition", &given.edition, "its edition or date, as printed on it");
    if !given.chapter.is_empty() {
        key(out, "chapter", &given.chapter, "");
    }
}

/// What holds the vehicle, each with the id of its own.
fn supports(given: &Given) -> Vec<(String, &str)> {
    let mut ids = Ids::default();
    given.supports.iter().map(|name| (ids.free(name, "support"), name.as_str())).collect()
}

#[derive(Default)]
struct Ids(HashSet<String>);

impl Ids {
    fn free(&mut self, name: &str, otherwise: &str) -> String {
        let wanted = Some(id_of(name)).filter(|id| !id.is_empty()).unwrap_or_else(|| otherwise.to_owned());
        let mut id = wanted.clone();
        let mut n = 2;
        while !self.0.insert(id.clone()) {
            id = format!("{wanted}-{n}");
            n += 1;
        }
        id
    }
}

fn named(out: &mut String, kind: &str, things: &[(String, &str)]) {
    for (id, name) in things {
        let _ = writeln!(out, "\n[[{kind}]]\nid = {}\nname = {}", quoted(id), quoted(name));
    }
}

fn support_steps(out: &mut String, supports: &[(String, &str)], first: bool) {
    let (phase, verb, before, say) = match first {
        true => ("prepare", "place", "place", "Put in place"),
        false => ("close", "take_away", "away", "Take away"),
    };
    for (id, name) in supports {
        let _ = writeln!(
            out,
            "\n[[step]]\nid = {}\nphase = \"{phase}\"\nsay = {}\ndo = [{{ {verb} = {} }}]",
            quoted(&format!("{before}-{id}")),
            quoted(&format!("{say}: {name}.")),
            quoted(id)
        );
    }
}

/// A file with nothing to do yet but to set up and clear away.
pub(super) fn blank(given: &Given) -> String {
    let mut out = String::new();
    head(&mut out, given, &[]);
    let supports = supports(given);
    out.push_str(BLANK_THINGS);
    named(&mut out, "support", &supports);
    out.push_str("\n[[step]]\nid = \"lay-out\"\nphase = \"prepare\"\nsay = \"Lay out the tools and the new parts.\"\n");
    out.push_str("hold = \"Is the manual open at the page?\"\n");
    support_steps(&mut out, &supports, true);
    out.push_str(BLANK_STEPS);
    support_steps(&mut out, &supports, false);
    out
}

const BLANK_THINGS: &str = r#"
# What there is to lay out, and on the vehicle. Take the sign away from what you need.
#
# [[tool]]
# id = "socket-13"
# name = "13 millimetre socket"
#
# [[component]]
# id = "cover"
# name = "side cover"
#
# [[fastener]]
# id = "cover-bolts"
# name = "cover bolt"
# plural = "cover bolts"
# places = ["left", "right"]            # where each one sits; their number is the count
# drive = "13 mm hex"                   # if the manual has it
# tool = "socket-13"
# pattern = "in turn"                   # or "cross", "spiral"
# runs = "one at a time"                # or "stage by stage"
# stages = []                           # { torque = "…" }, { angle = "…" }: as the manual has them, or no_value = "…"
# over = "restart"                      # tightened too far: "restart" its programme, or "renew" it
# source = "page …"
#
# What other jobs on this vehicle need as well can stand in a file of its own, once. This takes it in, in its place:
#
# [[include]]
# file = "shared/this-vehicle.toml"
# group = "raise"
"#;

const BLANK_STEPS: &str = r#"
# The strip, one act and one short sentence a step. `wrenchside draft-rebuild` proposes the rebuild from it.
#
# [[step]]
# id = "cover-off"
# phase = "strip"
# say = "Take off the side cover."
# source = "page …"
# do = [{ remove = "cover-bolts" }, { take_off = "cover" }]
"#;

/// The file of a draft.
pub(super) fn file(draft: &Draft) -> String {
    let mut out = String::new();
    head(&mut out, &draft.given, &draft.consumables);
    let mut ids = Ids::default();
    let tools: Vec<(String, &str)> = draft.tools.iter().map(|tool| (ids.free(tool, "tool"), tool.as_str())).collect();
    named(&mut out, "tool", &tools);
    let mut ids = Ids::default();
    for (count, name) in &draft.parts {
        let (id, name) = (quoted(&ids.free(&format!("new {name}"), "part")), quoted(name));
        let _ = writeln!(out, "\n[[part]]\nid = {id}\nname = {name}\ncount = {count}");
    }
    let supports = supports(&draft.given);
    named(&mut out, "support", &supports);
    for (kind, things) in [("component", &draft.components), ("connection", &draft.connections)] {
        let things: Vec<(String, &str)> = things.iter().map(|(id, name)| (id.clone(), name.as_str())).collect();
        named(&mut out, kind, &things);
    }
    for group in &draft.groups {
        fastener(&mut out, group);
    }
    if supports.is_empty() {
        out.push('\n');
        ask(
            &mut out,
            "What supports the vehicle? A [[support]] for each, a step that places it, one that takes it away.",
        );
    }
    support_steps(&mut out, &supports, true);
    for item in &draft.items {
        match item {
            Item::Step(one) => step(&mut out, one),
            Item::Kept(text) => {
                out.push('\n');
                kept(&mut out, text);
            }
            Item::Ask(text) => {
                // A remark would stand within the entry before it.
                if !out.trim_end().rsplit('\n').next().is_some_and(|last| last.starts_with('#')) {
                    out.push('\n');
                }
                ask(&mut out, text);
            }
        }
    }
    support_steps(&mut out, &supports, false);
    out
}

fn fastener(out: &mut String, group: &Group) {
    out.push('\n');
    for text in &group.ask {
        ask(out, text);
    }
    let several = group.count.is_none_or(|count| count > 1);
    let count = group.count.map_or_else(String::new, |count| format!(" The text says {count}."));
    ask(
        out,
        &format!(
            "Where does each one sit (places), what fits it if the text has it (drive = \"13 mm hex\"), and tightened too far: \"restart\" or \"renew\" (over)?{count}"
        ),
    );
    if several {
        ask(
            out,
            "In which order: pattern = \"in turn\", \"cross\" or \"spiral\"; runs = \"one at a time\" or \"stage by stage\"",
        );
    }
    let _ = writeln!(out, "[[fastener]]\nid = {}\nname = {}", quoted(&group.key), quoted(&group.name));
    if let Some(plural) = &group.plural {
        let _ = writeln!(out, "plural = {}", quoted(plural));
    }
    let _ = writeln!(out, "places = [] {MARK}");
    for (key, text) in [("thread", &group.thread), ("class", &group.class)] {
        if let Some(text) = text {
            let _ = writeln!(out, "{key} = {}", quoted(text));
        }
    }
    match group.stages.is_empty() {
        true => ask(out, "stages = [{ torque = \"…\" }], or no_value = \"what the source says instead\""),
        false => {
            let _ = writeln!(out, "stages = [{}]", group.stages.join(", "));
        }
    }
    match &group.source {
        Some(source) => {
            let _ = writeln!(out, "source = {}", quoted(source));
        }
        None => ask(out, "source = \"page …\""),
    }
}

fn step(out: &mut String, step: &Step) {
    out.push('\n');
    for text in &step.kept {
        kept(out, text);
    }
    for text in &step.ask {
        ask(out, text);
    }
    let _ = writeln!(out, "[[step]]\nid = {}", quoted(&step.id));
    match step.phase {
        Some(phase) => {
            let _ = writeln!(out, "phase = \"{phase}\"");
        }
        // The word that is there keeps the file readable, and the mark above says that it is not known.
        None => {
            let _ = writeln!(out, "phase = \"\" {MARK}");
        }
    }
    let _ = writeln!(out, "say = {}", quoted(&step.say));
    if !step.cautions.is_empty() {
        let cautions = step.cautions.iter().map(|(signal, text)| format!("{{ {signal} = {} }}", quoted(text)));
        let _ = writeln!(out, "cautions = [{}]", cautions.collect::<Vec<_>>().join(", "));
    }
    if let Some(source) = &step.source {
        let _ = writeln!(out, "source = {}", quoted(source));
    }
    if !step.acts.is_empty() {
        let acts = step.acts.iter().map(|(verb, key)| format!("{{ {} = {} }}", verb.key(), quoted(key)));
        let _ = writeln!(out, "do = [{}]", acts.collect::<Vec<_>>().join(", "));
    }
}
