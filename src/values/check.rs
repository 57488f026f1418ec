//! Can the values of a page be right, has each a source, and can every name be told from the others by ear?
//!
//! The tests of values are those of a procedure. Knows nothing of any recogniser's words; whoever has one tells which names it
//! cannot hear.

use super::written::{self, Written};
use super::{Entry, Form, Page, Value, find, form, lines, table};
use crate::procedure::{
    Code, Finding, Programme, Report, Severity, Source, Spot, Text, WrittenStage, alike, programme, read_as, unsayable,
};
use crate::quantity::{Limits, Torque};
use std::collections::HashMap;

/// How names are heard, for whoever has a language and a recogniser.
pub struct Ears<'a> {
    /// The words that a name is heard in.
    pub as_heard: &'a dyn Fn(&str) -> String,
    /// Does the recogniser know this word?
    pub knows: &'a dyn Fn(&str) -> bool,
}

/// Checks a text and reports all that is found, in the order of the file. `name` is what the file is called. With ears it tells
/// as well which names cannot be heard.
pub fn check(name: &str, text: &str, ears: Option<&Ears<'_>>) -> Report {
    Report::new(name, text, read(form(name), text, ears).1)
}

/// The page, if there is anything of one, and all that is found.
pub(super) fn read(form: Form, text: &str, ears: Option<&Ears<'_>>) -> (Option<Page>, Vec<Finding>) {
    let mut findings = Vec::new();
    let mut stand_ins = Default::default();
    let written = match form {
        Form::Toml => {
            read_as::<Written>(text, &written::PAGE, written::FORMAT, &mut findings).map(|(written, there)| {
                stand_ins = there;
                written
            })
        }
        Form::Csv => Some(table::read(text, &mut findings)),
        Form::Lines => Some(lines::read(text, &mut findings)),
    };
    let Some(written) = written else { return (None, findings) };
    let mut found = Vec::new();
    let page = page(&written, ears, &mut found);
    findings.extend(found.into_iter().filter(|f| !stand_ins.contains(&f.span) || f.span.is_empty()));
    findings.iter_mut().for_each(|finding| worded_for(form, finding));
    (page, findings)
}

/// Advice says how the thing is written in the form that the page has.
fn worded_for(form: Form, finding: &mut Finding) {
    let (second, said) = match form {
        Form::Toml => return,
        Form::Csv => ("the column \"also\"", "the column \"say_as\""),
        Form::Lines => ("\"also …\" behind the value", "\"say …\" behind the value"),
    };
    for (toml, here) in [("also = \"…\"", second), ("`also`", second), ("say_as", said)] {
        if finding.right.contains(toml) {
            finding.right = finding.right.replace(toml, here);
        }
    }
}

/// One value by itself, as a page has it; where it cannot be read, or cannot be right, what is found.
pub(super) fn one(text: &str) -> Result<Value, Vec<Finding>> {
    let spot = |value: &str| Spot { value: value.to_owned(), span: 0..text.len() };
    let entry = written::Entry {
        name: spot(""),
        value: spot(text),
        say_as: None,
        also: None,
        thread: None,
        class: None,
        // Where it stands is asked for by itself.
        page: Some(spot("1")),
    };
    let stages = written::stages(&entry.value, None);
    let mut findings = Vec::new();
    values(&entry, &stages, &mut findings);
    match written::value(&entry.value, &stages, &mut findings) {
        Some(value) if findings.iter().all(|finding| finding.severity() != Severity::Error) => Ok(value),
        _ => Err(findings),
    }
}

fn page(written: &Written, ears: Option<&Ears<'_>>, findings: &mut Vec<Finding>) -> Option<Page> {
    head(written, findings);
    if written.value.is_empty() {
        findings.push(Finding::new(Code::TextEmpty, 0..0, "the page has no values", "Write at least one"));
    }
    let language = written.language.as_ref().map_or("en", |language| &language.value);
    let (mut entries, mut unguarded) = (Vec::new(), Vec::new());
    for entry in &written.value {
        let stages = written::stages(&entry.value, entry.also.as_ref());
        let mut found = Vec::new();
        values(entry, &stages, &mut found);
        let (open, found): (Vec<_>, _) = found.into_iter().partition(|f| f.code == Code::TorqueUnguarded);
        unguarded.extend(open.into_iter().next());
        findings.extend(found);
        let Some(value) = written::value(&entry.value, &stages, findings) else { continue };
        if let Some(page) = &entry.page
            && let Some(piece) = written::no_page(page, is_english(language))
        {
            let what = format!("\"{piece}\" is no page");
            findings.push(Finding::new(Code::SourceMissing, page.span.clone(), what, super::BEHIND));
        }
        let text = |text: &Text| text.value.clone();
        entries.push((
            entry,
            Entry {
                name: text(&entry.name),
                say_as: entry.say_as.as_ref().map(text),
                value,
                // In the value itself, or beside it.
                also: stages.iter().find_map(|stage| stage.also.as_ref()).and_then(|also| also.parse().ok()),
                thread: entry.thread.as_ref().map(text),
                class: entry.class.as_ref().map(text),
                page: entry.page.as_ref().map(text).unwrap_or_default(),
            },
        ));
    }
    // One word on all of them: where there is one there are many.
    if let Some(first) = unguarded.first() {
        let what =
            format!("nothing guards {} of {} values against a typing error", unguarded.len(), written.value.len());
        findings.push(Finding { what, ..first.clone() });
    }
    names(&entries, language, ears, findings);
    let source = written.source.as_ref()?;
    let maybe = |text: &Option<Text>| text.as_ref().map(|t| t.value.clone());
    Some(Page {
        vehicle: maybe(&written.vehicle)?,
        language: language.to_owned(),
        source: Source {
            title: source.title.value.clone(),
            edition: source.edition.value.clone(),
            chapter: maybe(&source.chapter),
            note: maybe(&source.note),
        },
        entries: entries.into_iter().map(|(_, entry)| entry).collect(),
    })
}

fn head(written: &Written, findings: &mut Vec<Finding>) {
    if written.vehicle.is_none() {
        let right = "Write the vehicle that the values are for (vehicle)";
        findings.push(Finding::new(Code::KeyMissing, 0..0, "the page has no vehicle", right));
    }
    if written.source.is_none() {
        let right = "Write title and edition of the manual (source, edition)";
        findings.push(Finding::new(Code::SourceMissing, 0..0, "the page has no source", right));
    }
}

/// What a procedure's check would say of one value.
fn values(entry: &written::Entry, stages: &[Spot<WrittenStage>], findings: &mut Vec<Finding>) {
    if entry.page.is_none() {
        let what = format!("the value of \"{}\" has no page", entry.name.value);
        let right = "Write the page of the source that has it, such as \"page 7-1\"";
        findings.push(Finding::new(Code::SourceMissing, entry.value.span.clone(), what, right));
    }
    let (thread, class) = (entry.thread.as_ref(), entry.class.as_ref());
    programme(&Programme { name: &entry.name, thread, class, stages, locked: false }, findings);
    if let Some(also) = &entry.also
        && let Err(error) = also.parse::<Limits<Torque>>()
    {
        let right = "Write the torque in the second unit that the source has";
        findings.push(Finding::new(Code::ValueUnreadable, also.span.clone(), error.to_string(), right));
    } else if let Some(also) = &entry.also
        && !stages.iter().any(|stage| stage.also.is_some())
    {
        let what = format!("\"{}\" is a second unit of a torque, and there is none", also.value);
        findings.push(Finding::new(Code::StageExtra, also.span.clone(), what, "Leave it out"));
    }
}

fn is_english(language: &str) -> bool {
    language == "en" || language.starts_with("en-")
}

/// Each name must lead to one value, and be told from all others by ear.
fn names(entries: &[(&written::Entry, Entry)], language: &str, ears: Option<&Ears<'_>>, findings: &mut Vec<Finding>) {
    let english = is_english(language);
    let mut heard: HashMap<Vec<String>, &(&written::Entry, Entry)> = HashMap::new();
    for both @ (written, entry) in entries {
        let said = written.say_as.as_ref().unwrap_or(&written.name);
        let words = match ears {
            Some(ears) => (ears.as_heard)(&said.value).split_whitespace().map(str::to_owned).collect(),
            None => find::letters(&said.value),
        };
        if words.is_empty() {
            let what = format!("\"{}\" has no word in it", said.value);
            findings.push(Finding::new(Code::NameUnheard, said.span.clone(), what, "Write it as it is to be said"));
            continue;
        }
        if english {
            unsayable(said, findings);
        }
        if let Some(ears) = ears {
            unheard(said, &words, ears, english, findings);
        }
        let Some((first, known)) = heard.get(&words) else {
            heard.insert(words, both);
            continue;
        };
        let other = first.say_as.as_ref().unwrap_or(&first.name).span.clone();
        if entry.name != known.name {
            let what = format!("\"{}\" is said just like \"{}\"", entry.name, known.name);
            let right = "Give one of them a name that sounds different";
            findings.push(Finding::new(Code::NameUnheard, said.span.clone(), what, right).with(other, "the other"));
        } else if entry.value != known.value {
            let what = format!("\"{}\" has two values", entry.name);
            let right = "Keep the one that the source has, or tell the two apart by a word more in their names";
            findings.push(Finding::new(Code::ValueTwice, said.span.clone(), what, right).with(other, "the first one"));
        } else if entry.page != known.page {
            let what = format!("\"{}\" has two pages, {} and {}", entry.name, known.page, entry.page);
            let right = "Keep one of the two lines, with the pages that have it: \"page 3-2, 3-3\"";
            findings.push(Finding::new(Code::PageTwice, said.span.clone(), what, right).with(other, "the first one"));
        }
    }
    if english {
        let mut apart: Vec<&Text> =
            heard.values().map(|(written, _)| written.say_as.as_ref().unwrap_or(&written.name)).collect();
        apart.sort_by_key(|name| name.span.start);
        alike(apart.into_iter(), findings);
    }
}

/// More letters than these are no abbreviation.
const LETTERS: usize = 5;

/// Words that sound like the name of a letter in English, where a recogniser may not know the letter itself.
const SOUNDS: [(char, &str); 13] = [
    ('b', "be"),
    ('c', "see"),
    ('i', "eye"),
    ('j', "jay"),
    ('l', "el"),
    ('m', "em"),
    ('n', "en"),
    ('o', "oh"),
    ('r', "are"),
    ('t', "tea"),
    ('u', "you"),
    ('x', "ex"),
    ('y', "why"),
];

/// The letters of an abbreviation, which is one where the name has it in capitals, if each of them can be heard.
fn spelled(name: &str, word: &str, ears: &Ears<'_>, english: bool) -> Option<String> {
    let capitals = |part: &str| part.to_lowercase() == word && !part.chars().any(char::is_lowercase);
    let count = word.chars().count();
    let written = name.split(|c: char| !c.is_alphanumeric()).any(capitals);
    let heard = |letter: char| {
        let sounds = SOUNDS.iter().filter(|(like, _)| english && *like == letter).map(|(_, sound)| (*sound).to_owned());
        [letter.to_string()].into_iter().chain(sounds).find(|sound| (ears.knows)(sound))
    };
    let letters: Option<Vec<String>> = word.chars().map(heard).collect();
    letters.filter(|_| (2..=LETTERS).contains(&count) && written).map(|letters| letters.join(" "))
}

/// A name with a word that the recogniser does not know can only be typed.
fn unheard(said: &Text, words: &[String], ears: &Ears<'_>, english: bool, findings: &mut Vec<Finding>) {
    let Some(word) = words.iter().find(|word| !(ears.knows)(word)) else { return };
    let what = format!("\"{}\" cannot be heard: the recogniser does not know \"{word}\"", said.value);
    let parts = word.char_indices().skip(2).map(|(at, _)| word.split_at(at));
    let split = parts
        .filter(|(a, b)| b.len() > 1 && (ears.knows)(a) && (ears.knows)(b))
        .max_by_key(|(a, b)| a.len().min(b.len()));
    let right = match (split, spelled(&said.value, word, ears, english)) {
        (_, Some(letters)) => format!("Write how it is to be said (say_as), perhaps letter by letter: \"{letters}\""),
        (Some((a, b)), None) => format!("Write how it is to be said (say_as), perhaps with \"{a} {b}\""),
        (None, None) => {
            "Write how it is to be said, in words that it knows (say_as), or give it a plain other name; typed, it \
                         is found all the same"
                .to_owned()
        }
    };
    findings.push(Finding::new(Code::WordUnheard, said.span.clone(), what, right));
}
