//! The tables of people: by what they say, by where their recordings come from, and what it did when they said other things.
//!
//! Knows counts only.

use super::set::Part;
use super::tally::{Column, Count, Ears, False, Tally};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write;

/// The counts of one row of a table, by its columns.
type Cells<'a> = BTreeMap<Column, &'a Count>;

/// Commands by what is said and by source.
pub(super) fn tables(text: &mut String, both: &Tally) {
    let said = rows_of(both.said.iter().map(|((said, column), count)| ((*said, said.name()), *column, count)));
    let said: Vec<(&str, Cells)> = said.into_iter().map(|((_, name), cells)| (name, cells)).collect();
    table(text, "By what is said", &said);
    let sources = rows_of(both.sources.iter().map(|((source, column), count)| (source.as_str(), *column, count)));
    table(text, "By where the recordings come from", &sources.into_iter().collect::<Vec<_>>());
}

fn rows_of<'a, K: Ord>(cells: impl Iterator<Item = (K, Column, &'a Count)>) -> BTreeMap<K, Cells<'a>> {
    let mut rows: BTreeMap<K, Cells> = BTreeMap::new();
    for (row, column, count) in cells {
        rows.entry(row).or_default().insert(column, count);
    }
    rows
}

fn table(text: &mut String, title: &str, rows: &[(&str, Cells)]) {
    if rows.is_empty() {
        return;
    }
    let mut columns: Vec<Column> = rows.iter().flat_map(|(_, cells)| cells.keys().copied()).collect();
    columns.sort_unstable();
    columns.dedup();
    let _ = writeln!(text, "\n{title}, both listeners: right / wrong / of");
    let _ = write!(text, "  {:30}", "");
    for column in &columns {
        let _ = write!(text, " {:>14}", column.name());
    }
    text.push('\n');
    for (name, cells) in rows {
        let _ = write!(text, "  {name:30}");
        for column in &columns {
            let shown = cells
                .get(column)
                .map(|count| format!("{}/{}/{}", count.right, count.all_wrong(), count.of))
                .unwrap_or_default();
            let _ = write!(text, " {shown:>14}");
        }
        text.push('\n');
    }
}

/// What was done when they said other things, at all moments and levels together.
pub(super) fn talk(text: &mut String, both: &Tally) {
    if both.talk.is_empty() {
        return;
    }
    let _ = writeln!(
        text,
        "\nDone by what people say to others, both listeners: hours, harmless+moves+claims, an hour, asked"
    );
    for (source, found) in &both.talk {
        let [harmless, moves, claims] = found.actions;
        let shown = format!("{harmless}+{moves}+{claims}");
        let _ =
            writeln!(text, "  {source:30} {:6.2} {shown:>12} {:6.1} {:4}", found.hours, found.an_hour(), found.asked);
        for (phrase, times) in &found.phrases {
            let _ = writeln!(text, "    \"{phrase}\" {times}");
        }
    }
}

/// A cell of these tables, for programs.
#[derive(Debug, Serialize)]
pub struct Row<'a> {
    part: Part,
    ears: Ears,
    /// What is said, or where the recordings come from, or none for talk.
    said: Option<&'static str>,
    source: Option<&'a str>,
    column: Option<String>,
    #[serde(flatten)]
    count: Option<&'a Count>,
    talk: Option<&'a False>,
}

/// All cells.
pub(super) fn rows<'a>(part: Part, ears: Ears, tally: &'a Tally) -> Vec<Row<'a>> {
    let empty = Row { part, ears, said: None, source: None, column: None, count: None, talk: None };
    let mut rows = Vec::new();
    for ((said, column), count) in &tally.said {
        rows.push(Row { said: Some(said.name()), column: Some(column.name()), count: Some(count), ..empty });
    }
    for ((source, column), count) in &tally.sources {
        rows.push(Row { source: Some(source), column: Some(column.name()), count: Some(count), ..empty });
    }
    for (source, found) in &tally.talk {
        rows.push(Row { source: Some(source), column: None, talk: Some(found), ..empty });
    }
    rows
}
