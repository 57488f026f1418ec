//! A page of values as a table from a spreadsheet (CSV): first rows of a key and its text, then the row of headings, then a row
//! for each value.
//!
//! Commas, semicolons or tabs part the cells, whichever the row of headings has. The cells are parted here and by no library,
//! because a finding has to say where in the file its cell stands.

use super::lines::place;
use super::written::{Entry, Head, Written};
use crate::procedure::{Code, Finding, Spot, Text, list, nearest};

/// The headings.
const COLUMNS: [&str; 7] = ["name", "value", "page", "also", "thread", "class", "say_as"];

pub(super) fn read(text: &str, findings: &mut Vec<Finding>) -> Written {
    let is_headings = |row: &Vec<Text>| row.len() > 1 && row.first().is_some_and(|cell| heading(cell) == "name");
    let tables = [',', ';', '\t'].map(|sign| rows(text, sign));
    let Some(rows) = tables.into_iter().find(|rows| rows.iter().any(is_headings)) else {
        let right = format!("Write a row of headings; the first is \"name\", and there may be {}", list(COLUMNS));
        findings.push(Finding::new(Code::KeyMissing, 0..0, "the table has no row of headings", right));
        return Head::default().with(Vec::new(), findings);
    };
    let (mut head, mut entries) = (Head::default(), Vec::new());
    let mut columns: Option<Vec<String>> = None;
    for row in rows {
        let blank = row.iter().all(|cell| cell.is_empty());
        let Some(first) = row.first().filter(|_| !blank) else { continue };
        match &columns {
            Some(columns) => entries.extend(entry(columns, &row, findings)),
            None if is_headings(&row) => columns = Some(headings(&row, findings)),
            None => {
                let cells: Vec<&Text> = row.iter().skip(1).filter(|cell| !cell.is_empty()).collect();
                let span = cells.first().zip(cells.last()).map(|(a, b)| a.span.start..b.span.end);
                let value = cells.iter().map(|cell| cell.as_str()).collect::<Vec<_>>().join(", ");
                let told = Spot { value, span: span.unwrap_or(first.span.clone()) };
                if !head.take(&heading(first), told, findings) {
                    let what = format!("\"{}\" is no key of a page", first.value);
                    let right = format!("Above the headings there may be {}", list(Head::KEYS));
                    findings.push(Finding::new(Code::KeyUnknown, first.span.clone(), what, right));
                }
            }
        }
    }
    head.with(entries, findings)
}

fn heading(cell: &str) -> String {
    cell.trim_start_matches('\u{feff}').trim().to_lowercase().replace(' ', "_")
}

fn headings(row: &[Text], findings: &mut Vec<Finding>) -> Vec<String> {
    let columns: Vec<String> = row.iter().map(|cell| heading(cell)).collect();
    for (n, (column, cell)) in columns.iter().zip(row).enumerate() {
        if columns.iter().take(n).any(|other| other == column) && !column.is_empty() {
            let what = format!("there are two columns \"{column}\"");
            findings.push(Finding::new(Code::KeyUnknown, cell.span.clone(), what, "Keep one of them"));
        } else if !column.is_empty() && !COLUMNS.contains(&column.as_str()) {
            let near = nearest(column, COLUMNS).map_or(String::new(), |near| format!("did you mean \"{near}\"? "));
            let what = format!("there is no column \"{column}\"");
            let right = format!("{near}The columns are {}", list(COLUMNS));
            findings.push(Finding::new(Code::KeyUnknown, cell.span.clone(), what, right));
        }
    }
    if !columns.iter().any(|column| column == "value") {
        let span = row.first().map_or(0..0, |cell| cell.span.clone());
        findings.push(Finding::new(Code::KeyMissing, span, "the table has no column \"value\"", "Add it"));
    }
    columns
}

fn entry(columns: &[String], row: &[Text], findings: &mut Vec<Finding>) -> Option<Entry> {
    let cell = |column: &str| {
        let at = columns.iter().position(|known| known == column)?;
        row.get(at).filter(|cell| !cell.is_empty()).cloned()
    };
    let here = row.first().map_or(0..0, |first| first.span.clone());
    if let Some(over) = row.iter().skip(columns.len()).find(|cell| !cell.is_empty()) {
        let right = "Put a text with commas in quotes, or add the heading";
        findings.push(Finding::new(
            Code::NotReadable,
            over.span.clone(),
            "the row has more cells than headings",
            right,
        ));
    }
    let mut needed = |column: &str| {
        let cell = cell(column);
        if cell.is_none() && columns.iter().any(|known| known == column) {
            let what = format!("the row has no {column}");
            findings.push(Finding::new(Code::TextEmpty, here.clone(), what, "Write it, or leave the row out"));
        }
        cell
    };
    let (name, value) = (needed("name"), needed("value"));
    Some(Entry {
        name: name?,
        value: value?,
        say_as: cell("say_as"),
        also: cell("also"),
        thread: cell("thread"),
        class: cell("class"),
        page: cell("page"),
    })
}

/// The rows of a table, each cell without its quotes and without white space round it.
fn rows(text: &str, sign: char) -> Vec<Vec<Text>> {
    let mut rows = vec![Vec::new()];
    let mut rest = text;
    while !rest.is_empty() {
        let (cell, behind) = cell(text, rest, sign);
        if let Some(row) = rows.last_mut() {
            row.push(cell);
        }
        rest = match behind.strip_prefix(sign) {
            Some(more) => more,
            None => {
                rows.push(Vec::new());
                let line = behind.strip_prefix('\r').unwrap_or(behind);
                line.strip_prefix('\n').unwrap_or(line)
            }
        };
    }
    rows
}

/// The cell that a text begins with, and what stands behind it: a sign, the end of a line, or nothing.
fn cell<'a>(text: &'a str, rest: &'a str, sign: char) -> (Text, &'a str) {
    let ends = |c: char| c == sign || matches!(c, '\r' | '\n');
    let bare = rest.trim_start_matches(|c: char| c.is_whitespace() && !ends(c) || c == '\u{feff}');
    let Some(quoted) = bare.strip_prefix('"') else {
        let end = bare.find(ends).unwrap_or(bare.len());
        let cell = bare[..end].trim();
        return (Spot { value: cell.to_owned(), span: place(text, cell) }, &bare[end..]);
    };
    let mut value = String::new();
    let mut left = quoted;
    loop {
        let Some((piece, behind)) = left.split_once('"') else {
            // Nothing closes it: all the rest is the cell.
            value.push_str(left);
            return (Spot { value: value.trim().to_owned(), span: place(text, bare) }, "");
        };
        value.push_str(piece);
        match behind.strip_prefix('"') {
            // Two stand for one.
            Some(more) => {
                value.push('"');
                left = more;
            }
            None => {
                let cell = &bare[..bare.len() - behind.len()];
                // What stands between the closing quote and the end of the cell is part of it, rather than lost.
                let end = behind.find(ends).unwrap_or(behind.len());
                value.push_str(&behind[..end]);
                return (Spot { value: value.trim().to_owned(), span: place(text, cell) }, &behind[end..]);
            }
        }
    }
}
