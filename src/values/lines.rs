//! A page of values as lines, the way somebody types it:
//!
//! ```text
//! vehicle: Tarnfell 15, light van
//! source: Tarnfell 15 Workshop Manual
//! edition: first edition, invented
//!
//! gearbox mount, front: 62 N·m + 50 deg, M12 x 1.25, 10.9, page 7-1
//! ```
//!
//! What stands before the first colon is the name. Behind the value come, each behind a comma, what there is of: the second
//! unit ("also 46 lbf·ft"), thread, class, "say …"; the rest is the page. A line that begins
//! with "#" is a remark, unless it could be meant as a value.

use super::written::{self, Entry, Head, Written};
use crate::procedure::{Code, Finding, Spot, Text, is_property_class};
use std::ops::Range;

/// Where a piece of a text stands in it.
pub(super) fn place(text: &str, piece: &str) -> Range<usize> {
    let from = (piece.as_ptr() as usize).saturating_sub(text.as_ptr() as usize).min(text.len());
    from..(from + piece.len()).min(text.len())
}

pub(super) fn read(text: &str, findings: &mut Vec<Finding>) -> Written {
    let here = |piece: &str| Spot { value: piece.to_owned(), span: place(text, piece) };
    let (mut head, mut entries) = (Head::default(), Vec::new());
    for line in text.lines() {
        let line = line.trim_start_matches('\u{feff}').trim();
        if line.is_empty() {
            continue;
        }
        if let Some(remark) = line.strip_prefix('#') {
            if is_meant(remark) {
                let right = "Write \"number\" for the sign, or take the value out of the remark";
                let what = "a line that begins with \"#\" is left out, and this one looks like a value";
                findings.push(Finding::new(Code::NotReadable, place(text, line), what, right));
            }
            continue;
        }
        let Some((name, rest)) = line.split_once(':').map(|(name, rest)| (name.trim(), rest.trim())) else {
            let right = "Write the name, a colon, the value and the page: \"gearbox mount: 62 N·m, page 7-1\"";
            findings.push(Finding::new(Code::NotReadable, place(text, line), "the line has no colon", right));
            continue;
        };
        if head.take(&name.to_lowercase(), here(rest), findings) {
            continue;
        }
        if name.is_empty() || rest.is_empty() {
            let what = if name.is_empty() { "the value has no name" } else { "the name has no value" };
            findings.push(Finding::new(Code::TextEmpty, place(text, line), what, "Write \"name: value, page\""));
            continue;
        }
        entries.push(entry(here, name, rest, findings));
    }
    head.with(entries, findings)
}

/// "#2 bearing cap: 20 N·m": a name that begins with the sign, or a value that was put behind one.
fn is_meant(remark: &str) -> bool {
    remark.starts_with(|c: char| c.is_ascii_digit())
        || remark.split_once(':').is_some_and(|(_, rest)| written::is_value(rest.split(',').next().unwrap_or_default()))
}

fn entry(here: impl Fn(&str) -> Text, name: &str, rest: &str, findings: &mut Vec<Finding>) -> Entry {
    let (value, more) = behind_value(rest);
    let mut entry = Entry {
        name: here(name),
        value: here(value.trim()),
        say_as: None,
        also: None,
        thread: None,
        class: None,
        page: None,
    };
    let mut more = more.trim();
    while !more.is_empty() {
        let (piece, rest) = more.split_once(',').unwrap_or((more, ""));
        let piece = piece.trim();
        let (place, piece) = if let Some(said) = piece.strip_prefix("say ") {
            (&mut entry.say_as, said.trim())
        } else if let Some(also) = piece.strip_prefix("also ") {
            (&mut entry.also, also.trim())
        } else if is_thread(piece) {
            (&mut entry.thread, piece)
        } else if is_property_class(piece) {
            // "10.9", but not "7.1", which is a page.
            (&mut entry.class, piece)
        } else {
            // The page may have commas of its own.
            entry.page = Some(here(more));
            break;
        };
        let text = here(piece);
        match place {
            Some(first) => {
                let what = format!("\"{piece}\" is written where \"{}\" was before", first.value);
                let finding = Finding::new(Code::NotReadable, text.span, what, "Keep one of them");
                findings.push(finding.with(first.span.clone(), "the first one"));
            }
            None => *place = Some(text),
        }
        more = rest.trim();
    }
    entry
}

/// The value and what stands behind its comma. One between two figures is a decimal or thousands comma: it belongs to the number, whose
/// reading says that decimals follow a point.
pub(crate) fn behind_value(rest: &str) -> (&str, &str) {
    let figure = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    let parts = rest
        .match_indices(',')
        .find(|(at, _)| !(figure(rest[..*at].chars().next_back()) && figure(rest[at + 1..].chars().next())));
    parts.map_or((rest, ""), |(at, _)| (&rest[..at], &rest[at + 1..]))
}

fn is_thread(piece: &str) -> bool {
    piece.strip_prefix('M').is_some_and(|size| size.starts_with(|c: char| c.is_ascii_digit()))
}
