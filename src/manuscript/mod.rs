//! A procedure file from what there is: a few answers, a manual's text, the file of the other side.
//!
//! Knows how a procedure is written and how a page of values names things. Never makes a value and never loses a line: what a
//! line means is written as entries where it is plain, and everything else stands in a comment that begins with `??`, at its
//! place, for the author to settle. Leaves to `procedure` whether the outcome is right, and marks what that finds.

mod amounts;
mod draft;
mod lines;
mod mark;
mod mirror;
mod phrase;
mod quote;
mod reader;
#[cfg(test)]
mod tests;
mod words;
mod write;

pub use mirror::{Mirrored, mirror};

use crate::procedure::latin;
use crate::values::Shelf;

/// How a place that waits for its author begins.
pub const MARK: &str = "# ??";

/// What a file begins with. What is left empty is marked in it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Given {
    /// Short name, as the file is called.
    pub id: String,
    /// Title of the job.
    pub title: String,
    /// The vehicle.
    pub vehicle: String,
    /// Title of the manual.
    pub manual: String,
    /// Edition of the manual.
    pub edition: String,
    /// Its chapter; may stay empty.
    pub chapter: String,
    /// Who writes the file.
    pub author: String,
    /// What holds the vehicle; may stay empty.
    pub supports: Vec<String>,
}

/// A file as it was drafted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drafted {
    /// The text of the file.
    pub toml: String,
    /// Lines of the text that have words.
    pub lines: usize,
    /// So many of them stand in the file with nothing to settle.
    pub understood: usize,
    /// Places that are marked.
    pub marks: usize,
}

/// A file with a head, what supports the vehicle, and nothing to do yet.
pub fn blank(given: &Given) -> String {
    mark::settle(&write::blank(given)).0
}

/// A file from the text of a manual; fasteners that the pages of values name have their value from there.
pub fn from_text(given: &Given, text: &str, shelf: &Shelf) -> Drafted {
    let lines = lines::logical(text);
    let total = lines.iter().map(|line| line.raw.len()).sum();
    let draft = draft::Draft::read(given, &lines, shelf);
    let marked = draft.marked_lines();
    let (toml, marks) = mark::settle(&write::file(&draft));
    Drafted { toml, lines: total, understood: total.saturating_sub(marked), marks }
}

/// What the head of a text says by itself: "Vehicle: …", "Manual: …", its first heading.
pub fn told(text: &str) -> Given {
    draft::Draft::read(&Given::default(), &lines::logical(text), &Shelf::default()).given
}

/// An id of a name: small letters, digits, hyphens.
pub fn id_of(name: &str) -> String {
    let name = latin(name);
    let words = name.split(|c: char| !c.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
    let id = words.collect::<Vec<_>>().join("-");
    id.get(..60).unwrap_or(&id).trim_matches('-').to_owned()
}
