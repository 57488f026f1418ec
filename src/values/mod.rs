//! A page of values: things with their torque, stages or other limits, and the page of the manual that says so.
//!
//! What somebody has who has no procedure: a list, as TOML, as a table from a spreadsheet (CSV), or one line each as typed.
//! [`parse`] reads it, [`check()`] looks for what is wrong with it, [`Names`] finds its entries by the words of their names, and by
//! [`OpenBook`] it grows as it is told.
//! Knows quantities, and from `procedure` how values are written, checked and told of. Leaves to `dialogue` which words a
//! name is said in and what is answered.

pub(crate) mod amounts;
mod check;
mod find;
mod lines;
mod open_book;
mod table;
#[cfg(test)]
mod tests;
mod written;

pub use check::{Ears, check};
pub use find::Names;
pub(crate) use find::letters;
pub(crate) use lines::behind_value;
pub use open_book::{Head, OpenBook, Refused, Wanted};
pub use written::json_schema;
pub(crate) use written::no_page;

use crate::procedure::{self, LoadError, Report, Source, StageKind};
use crate::quantity::{Limits, Quantity, Torque};
use std::path::Path;
use std::sync::Arc;

/// A list of values from one source.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// The vehicle they are for.
    pub vehicle: String,
    /// Language of the names, as a BCP 47 tag.
    pub language: String,
    /// Where they come from.
    pub source: Source,
    /// The values, in the order of the file.
    pub entries: Vec<Entry>,
}

/// A thing with its value.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// What it is called.
    pub name: String,
    /// How that is said and heard, if it is not as it is written.
    pub say_as: Option<String>,
    /// Its value.
    pub value: Value,
    /// Its first torque in a second unit, as the source prints it.
    pub also: Option<Limits<Torque>>,
    /// The thread, as it is written.
    pub thread: Option<String>,
    /// The property class, as it is written.
    pub class: Option<String>,
    /// The page of the source that has it.
    pub page: String,
}

impl Entry {
    /// The name as it is said.
    pub fn said(&self) -> &str {
        self.say_as.as_deref().unwrap_or(&self.name)
    }
}

/// What is published for a thing.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// How it is tightened, stage by stage; never empty.
    Stages(Vec<StageKind>),
    /// Between which amounts it must lie, at least one of the two; both the same for one amount.
    Limits {
        /// Not less than this.
        least: Option<Quantity>,
        /// Not more than this.
        most: Option<Quantity>,
    },
}

/// Is it a page of values, and no procedure? By the ending of its name or, where that is TOML, by what is in it.
pub fn is_page(name: &str, text: &str) -> bool {
    match form(name) {
        Form::Toml => written::is_page(text),
        Form::Csv => true,
        Form::Lines => name.ends_with(".txt"),
    }
}

/// Reads a page from its text; `name` is what the file is called. A page with anything that must be put right is none: its
/// values are asked for one by one, and nobody would think of the rest.
pub fn parse(name: &str, text: &str) -> Result<Page, Report> {
    let (page, findings) = check::read(form(name), text, None);
    let report = Report::new(name, text, findings);
    match page {
        Some(page) if report.errors() == 0 => Ok(page),
        _ => Err(report),
    }
}

/// The stages of one value, written as a page has it; nothing where it cannot be read, is no tightening, or cannot be right.
pub fn stages(text: &str) -> Option<Vec<StageKind>> {
    match check::one(text) {
        Ok(Value::Stages(stages)) => Some(stages),
        _ => None,
    }
}

/// Why this is no value of a tightening, or that no page of it; nothing where both are right, or no more can be said.
pub fn no_stages(text: &str, page: Option<&str>) -> Option<Refused> {
    let told = |what: String, right: &str| Some(Refused::Check { what, right: right.to_owned() });
    let text = text.trim();
    match check::one(text) {
        Err(findings) => Some(open_book::refused(&Report::new("", text, findings))),
        Ok(Value::Limits { .. }) => {
            told(format!("\"{text}\" is no torque and no angle"), "Write the stages as the book has them")
        }
        Ok(Value::Stages(_)) => {
            let piece = no_page(page?, true)?;
            told(format!("\"{piece}\" is no page"), BEHIND)
        }
    }
}

/// What may stand behind a value.
const BEHIND: &str = "Write the page last (\"page 7-1\"), and further stages behind a \"+\" (\"62 N·m + 50 deg\")";

/// Is it the number of a page, and nothing more? Other languages than English have words of their own before it.
pub fn names_a_page(page: &str, english: bool) -> bool {
    let words = page.split_whitespace().count();
    words <= 2 && page.chars().count() <= 20 && !page.contains([':', ',']) && no_page(page, english).is_none()
}

/// Reads the file of a page.
pub fn load(path: &Path) -> Result<Page, LoadError> {
    let text = procedure::read_text(path)?;
    parse(&path.display().to_string(), &text).map_err(LoadError::Rejected)
}

/// How a page is written down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Toml,
    Csv,
    Lines,
}

fn form(name: &str) -> Form {
    let ends =
        |with: &str| name.get(name.len().saturating_sub(with.len())..).is_some_and(|e| e.eq_ignore_ascii_case(with));
    match () {
        () if ends(".toml") => Form::Toml,
        () if ends(".csv") => Form::Csv,
        () => Form::Lines,
    }
}

/// All pages that are asked, as one list.
#[derive(Debug, Clone, Default)]
pub struct Shelf {
    pages: Vec<Arc<Page>>,
    /// Page and entry.
    places: Vec<(usize, usize)>,
}

/// Two pages give one thing two values.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{name}\" has another value in {} than in {}; use one of the two pages, or give the thing two names", files.1, files.0)]
pub struct Clash {
    /// The thing.
    pub name: String,
    /// What the two files are called.
    pub files: (String, String),
}

impl Shelf {
    /// Puts pages together, each with the name of its file. What two of them say alike is there once.
    pub fn new(pages: Vec<(String, Page)>) -> Result<Shelf, Clash> {
        Shelf::heard(pages, &|name| find::letters(name).join(" "))
    }

    /// The same where names are compared in the words that they are heard in: "number 2" is "number two".
    pub fn heard(pages: Vec<(String, Page)>, as_heard: &dyn Fn(&str) -> String) -> Result<Shelf, Clash> {
        let (files, pages): (Vec<String>, Vec<Arc<Page>>) =
            pages.into_iter().map(|(file, page)| (file, Arc::new(page))).unzip();
        let mut seen = std::collections::HashMap::new();
        let mut places = Vec::new();
        for (p, page) in pages.iter().enumerate() {
            for (e, entry) in page.entries.iter().enumerate() {
                let &mut (first, there) = seen.entry(as_heard(entry.said())).or_insert((p, e));
                if (first, there) == (p, e) {
                    places.push((p, e));
                } else if pages[first].entries[there].value != entry.value {
                    return Err(Clash { name: entry.name.clone(), files: (files[first].clone(), files[p].clone()) });
                }
            }
        }
        Ok(Shelf { pages, places })
    }

    /// The pages.
    pub fn pages(&self) -> impl Iterator<Item = &Page> {
        self.pages.iter().map(Arc::as_ref)
    }

    /// All entries with their page, in their order.
    pub fn entries(&self) -> impl Iterator<Item = (&Page, &Entry)> {
        self.places.iter().map(|&(page, entry)| (&*self.pages[page], &self.pages[page].entries[entry]))
    }

    /// One entry, with its page.
    pub fn get(&self, at: usize) -> Option<(&Page, &Entry)> {
        self.places.get(at).map(|&(page, entry)| (&*self.pages[page], &self.pages[page].entries[entry]))
    }

    /// How many entries there are.
    pub fn len(&self) -> usize {
        self.places.len()
    }

    /// Is there none?
    pub fn is_empty(&self) -> bool {
        self.places.is_empty()
    }
}
