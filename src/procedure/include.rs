//! What several procedures share, put in its place: a file, and the files that it includes, become one text.
//!
//! An included file holds entries only ([[tool]], [[step]] and the like), whole or in groups, so its text can stand wherever an
//! entry can. Each is read by itself first: nothing of it can change what the procedure says around it. From here on
//! nobody knows of includes; the text is one, and remembers where its pieces stand. Opens no file itself.

use super::code::Code;
use super::finding::Finding;
use super::report::Report;
use super::shape::{self, Shape, list};
use super::whole::{Builder, Whole};
use super::written::{Include, Includes, Shared};
use super::{load, shape_of};
use crate::files;
use serde::Deserialize;
use std::collections::{HashMap, HashSet};
use std::ops::Range;
use std::sync::LazyLock;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Gets an included file: what it is called and its text, or why not.
pub type Fetch<'a> = &'a mut dyn FnMut(&str) -> Result<(String, String), String>;

static INCLUDES: LazyLock<Shape> = LazyLock::new(shape_of::<Includes>);
static SHARED: LazyLock<Shape> = LazyLock::new(shape_of::<Shared>);

/// What a procedure has for itself.
const OWN: [&str; 4] = ["format", "procedure", "source", "consumables"];

/// Puts a text together with what it includes. The report says what cannot be included; what else is wrong in the text is found by
/// whoever reads it. `name` is what the file is called.
pub fn together(name: &str, text: &str, fetch: Fetch<'_>) -> Result<Whole, Report> {
    let (table, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty()
        || load::newer_format(table.get_ref(), load::FORMAT).is_some()
        || !table.get_ref().contains_key("include")
    {
        return Ok(Whole::one(name, text));
    }
    let mut findings = Vec::new();
    let blocks = blocks(text, table.get_ref(), &mut findings);
    headed(text, table.get_ref(), &mut findings);
    let mut shelf =
        Shelf { own: own_name(name), fetch, files: Vec::new(), by_name: HashMap::new(), taken: HashSet::new() };
    let mut pieces = Vec::new();
    for (include, block) in &blocks {
        if let Some(piece) = shelf.piece(include, &mut findings) {
            pieces.push((include, block.clone(), piece));
        }
    }
    if !findings.is_empty() || shelf.files.iter().any(|file| !file.findings.is_empty()) {
        return Err(refused(name, text, findings, shelf.files));
    }
    let mut builder = Builder::new(name, text);
    for file in &shelf.files {
        builder.file(&file.name, &file.text);
    }
    let mut from = 0;
    for (include, block, (file, span)) in pieces {
        builder.take(0, from..block.start);
        let group = include.group.as_ref().map_or(String::new(), |group| format!(", \"{}\"", group.value));
        // A name with a line end in it would end the remark.
        builder.write(&format!("# From {}{group}:", include.file.value).replace(char::is_control, " "));
        builder.write("\n");
        builder.take(file + 1, span);
        builder.write(if builder.ends_a_line() { "# Up to here." } else { "\n# Up to here." });
        from = block.end;
    }
    builder.take(0, from..text.len());
    if builder.len() as u64 > files::TEXT {
        let (include, _) = &blocks[blocks.len() - 1];
        let finding = Finding::new(
            Code::IncludeUnreadable,
            include.file.span.clone(),
            "with what it includes the procedure is larger than 8 MiB",
            "Include less of it",
        );
        return Err(refused(name, text, vec![finding], Vec::new()));
    }
    Ok(builder.done())
}

/// A report about a file and those that it includes, none of them put into the other.
fn refused(name: &str, text: &str, mut findings: Vec<Finding>, files: Vec<File>) -> Report {
    let mut builder = Builder::new(name, text);
    builder.take(0, 0..text.len());
    for file in files {
        let number = builder.file(&file.name, &file.text);
        builder.write("\n");
        let base = builder.take(number, 0..file.text.len());
        let moved = |span: Range<usize>| span.start + base..span.end + base;
        findings.extend(file.findings.into_iter().map(|finding| Finding {
            span: moved(finding.span),
            also: finding.also.into_iter().map(|(span, why)| (moved(span), why)).collect(),
            ..finding
        }));
    }
    Report::of(builder.done(), findings)
}

/// The [[include]] entries in the order of the text, each with all of its text.
fn blocks(text: &str, table: &DeTable<'_>, findings: &mut Vec<Finding>) -> Vec<(Include, Range<usize>)> {
    let Some((key, value)) = table.get_key_value("include") else { return Vec::new() };
    if !has_headers(text, key.span().start) {
        findings.push(Finding::new(
            Code::IncludeUnfit,
            key.span(),
            "\"include\" is no entry",
            "Write [[include]] in a line, and below it: file = \"shared/wheels.toml\"",
        ));
        return Vec::new();
    }
    let spans: Vec<Range<usize>> = entries(value).iter().map(|entry| entry.span().start..end(entry)).collect();
    inside(table, &spans, findings);
    let mut only = DeTable::new();
    only.insert(key.clone(), value.clone());
    let mut only = Spanned::new(0..0, only);
    let before = findings.len();
    shape::walk(&INCLUDES, &mut only, findings);
    match Includes::deserialize(toml::de::Deserializer::from(only)) {
        Ok(includes) if findings.len() == before => includes.include.into_iter().zip(spans).collect(),
        _ => Vec::new(),
    }
}

/// Each kind of entry that an include may bring is written in headers in the file itself, too: a [[step.do]] without a [[step]] would
/// belong to the last step of what is included above it.
fn headed(text: &str, table: &DeTable<'_>, findings: &mut Vec<Finding>) {
    let Shape::Table(kinds) = &*SHARED else { return };
    for (key, value) in table.iter().filter(|(key, _)| kinds.contains_key(key.get_ref().as_ref())) {
        if !matches!(value.get_ref(), DeValue::Array(_)) || !has_headers(text, key.span().start) {
            findings.push(without_header(key));
        }
    }
}

fn without_header(key: &Spanned<std::borrow::Cow<'_, str>>) -> Finding {
    let word = key.get_ref();
    let right = format!("Write each entry below a line [[{word}]]");
    unfit(&key.span(), format!("\"{word}\" stands in no line of its own"), right)
}

/// Is this key of the whole file one that stands in headers, [[…]], and not one with a value behind it?
fn has_headers(text: &str, key: usize) -> bool {
    text[..key].trim_end().ends_with('[')
}

fn entries<'a, 'i>(value: &'a Spanned<DeValue<'i>>) -> &'a [Spanned<DeValue<'i>>] {
    match value.get_ref() {
        DeValue::Array(all) => all,
        _ => std::slice::from_ref(value),
    }
}

/// Where the last of an entry ends.
fn end(value: &Spanned<DeValue<'_>>) -> usize {
    let inner = match value.get_ref() {
        DeValue::Array(all) => all.iter().map(end).max(),
        DeValue::Table(table) => table.iter().map(|(key, value)| key.span().end.max(end(value))).max(),
        _ => None,
    };
    value.span().end.max(inner.unwrap_or(0))
}

/// What cuts an entry in two: behind it, [[step.do]] would belong to another step.
fn inside(table: &DeTable<'_>, cuts: &[Range<usize>], findings: &mut Vec<Finding>) {
    for (key, value) in table {
        for entry in entries(value) {
            let next = cuts.partition_point(|cut| cut.start <= entry.span().start);
            let Some(cut) = cuts.get(next).filter(|cut| cut.start < end(entry)) else { continue };
            let what = format!("it cuts a [[{}]] in two", key.get_ref());
            let right = "Write it above the whole entry, or below all of it";
            let finding = Finding::new(Code::IncludeUnfit, cut.clone(), what, right);
            findings.push(finding.with(entry.span(), "this one goes on behind it"));
        }
    }
}

/// Files that were fetched, each once.
struct Shelf<'a> {
    own: String,
    fetch: Fetch<'a>,
    files: Vec<File>,
    /// By the name in the include; nothing where it could not be fetched.
    by_name: HashMap<String, Option<usize>>,
    taken: HashSet<(usize, Option<String>)>,
}

/// An included file.
struct File {
    name: String,
    text: String,
    findings: Vec<Finding>,
    /// Where its groups stand, by their ids; none where it is taken whole.
    groups: Vec<(String, Range<usize>)>,
}

impl Shelf<'_> {
    /// Where the piece stands that is included here: the file, and the range in it.
    fn piece(&mut self, include: &Include, findings: &mut Vec<Finding>) -> Option<(usize, Range<usize>)> {
        let name = &include.file;
        if name.value == self.own {
            findings.push(unfit(
                &name.span,
                "the file includes itself",
                "Name the file in which what is shared stands",
            ));
            return None;
        }
        let file = match self.by_name.get(&name.value) {
            Some(known) => (*known)?,
            None => {
                let fetched = (self.fetch)(&name.value);
                let number = fetched.as_ref().ok().map(|_| self.files.len());
                self.by_name.insert(name.value.clone(), number);
                match fetched {
                    Ok((name, text)) => self.files.push(File::new(name, text)),
                    Err(why) => {
                        let what = format!("\"{}\" cannot be included: {why}", name.value);
                        let right = "Name a file that lies beside the procedure, or in a folder below that";
                        findings.push(Finding::new(Code::IncludeUnreadable, name.span.clone(), what, right));
                    }
                }
                number?
            }
        };
        let groups = &self.files[file].groups;
        let there = || list(groups.iter().map(|(id, _)| id.as_str()));
        let span = match &include.group {
            // Of a file that has findings nobody knows what there is.
            _ if !self.files[file].findings.is_empty() => return None,
            None if groups.is_empty() => {
                let text = &self.files[file].text;
                text.len() - text.trim_start_matches('\u{feff}').len()..text.len()
            }
            None => {
                let what = format!("\"{}\" has groups, and none is named", name.value);
                findings.push(unfit(&name.span, what, format!("Write: group = one of {}", there())));
                return None;
            }
            Some(group) => match groups.iter().find(|(id, _)| *id == group.value) {
                Some((_, span)) => span.clone(),
                None => {
                    let what = format!("\"{}\" has no group \"{}\"", name.value, group.value);
                    let right = match groups.is_empty() {
                        true => "It has no groups: leave \"group\" out, and it is taken whole".into(),
                        false => format!("Write: group = one of {}", there()),
                    };
                    findings.push(unfit(&group.span, what, right));
                    return None;
                }
            },
        };
        let group = include.group.as_ref().map(|group| group.value.clone());
        if !self.taken.insert((file, group)) {
            let right = "Include it once; what it does twice is a step of its own each time";
            findings.push(unfit(&name.span, "this is included already", right));
            return None;
        }
        Some((file, span))
    }
}

impl File {
    fn new(name: String, text: String) -> File {
        let (groups, findings) = shared(&text);
        File { name, text, findings, groups }
    }
}

/// Is a text a file to be included: groups, and nothing of what a procedure has for itself? One without groups may as well be a
/// procedure whose head is missing, so it is none by itself.
pub fn is_shared(text: &str) -> bool {
    let (table, _) = DeTable::parse_recoverable(text);
    let has = |key: &str| table.get_ref().contains_key(key);
    has("group") && !OWN.iter().any(|key| has(key))
}

/// Checks a file to be included, as far as it goes by itself: its references are those of the procedures that include it.
pub fn check_shared(name: &str, text: &str) -> Report {
    Report::new(name, text, shared(text).1)
}

/// Where its groups stand, and what keeps it from being included.
fn shared(text: &str) -> (Vec<(String, Range<usize>)>, Vec<Finding>) {
    let mut findings = Vec::new();
    let (table, errors) = DeTable::parse_recoverable(text);
    for error in errors {
        findings.push(load::of_toml(&error));
    }
    if !findings.is_empty() {
        return (Vec::new(), findings);
    }
    for (key, _) in table.get_ref() {
        let word = key.get_ref().as_ref();
        if word == "include" {
            let right = "Include the other file in the procedure itself";
            findings.push(unfit(&key.span(), "an included file includes nothing itself", right));
        } else if OWN.contains(&word) {
            let right =
                "Leave it to the procedure. An included file holds entries only: [[tool]], [[step]] and the like";
            findings.push(unfit(&key.span(), format!("an included file has no \"{word}\" of its own"), right));
        } else if !has_headers(text, key.span().start) {
            findings.push(without_header(key));
        }
    }
    if !findings.is_empty() {
        return (Vec::new(), findings);
    }
    let groups = groups(text, table.get_ref(), &mut findings);
    load::read_as::<Shared>(text, &SHARED, load::FORMAT, &mut findings);
    (groups, findings)
}

/// The groups of a file, each up to the next one.
fn groups(text: &str, table: &DeTable<'_>, findings: &mut Vec<Finding>) -> Vec<(String, Range<usize>)> {
    let Some(all) = table.get("group").map(entries) else { return Vec::new() };
    let heads: Vec<Range<usize>> = all.iter().map(|head| head.span().start..end(head)).collect();
    inside(table, &heads, findings);
    let first = heads.first().map_or(0, |head| head.start);
    let before =
        table.iter().filter_map(|(_, value)| entries(value).first()).filter(|entry| entry.span().start < first);
    for entry in before {
        let right = "Write it below a [[group]]";
        let what = "it stands above the first group, so nothing takes it in";
        findings.push(Finding::new(Code::IncludeUnfit, entry.span(), what, right));
    }
    let mut groups: Vec<(String, Range<usize>)> = Vec::new();
    for (at, (entry, head)) in all.iter().zip(&heads).enumerate() {
        // One without an id is told by the shape of the file.
        let id = entry.get_ref().as_table().and_then(|table| table.get("id")?.get_ref().as_str()).unwrap_or_default();
        if let Some(other) = groups.iter().position(|(known, _)| known == id) {
            let finding = Finding::new(
                Code::IdTwice,
                head.clone(),
                format!("group \"{id}\" is there twice"),
                "Give each group an id of its own",
            );
            findings.push(finding.with(heads[other].clone(), "the other one"));
        }
        groups.push((id.to_owned(), head.end..heads.get(at + 1).map_or(text.len(), |next| next.start)));
    }
    groups
}

fn unfit(span: &Range<usize>, what: impl Into<String>, right: impl Into<String>) -> Finding {
    Finding::new(Code::IncludeUnfit, span.clone(), what, right)
}

/// The name of a file in its folder.
fn own_name(path: &str) -> String {
    std::path::Path::new(path).file_name().unwrap_or_default().to_string_lossy().into_owned()
}
