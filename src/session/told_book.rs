//! The book of a strip-down once its rebuild is closed: written again with what was told meanwhile.
//!
//! Knows the log that the book came of, and the job. Leaves to `strip::book` how a book is written, to `journal` where.

use crate::dialogue::Language;
use crate::job::{Fact, Job, Note};
use crate::journal::{self, BookFile, JournalError};
use crate::procedure;
use crate::strip::book::{self, Known};
use crate::strip::{StripLog, of_book};
use std::fmt::Write;
use std::path::Path;

/// Writes the book of a closed job; nothing for a job that came of no strip-down.
pub(super) fn write(language: &Language, folder: &Path, job: &Job) -> Option<Result<BookFile, JournalError>> {
    let (log, vehicle) = journal::strip_told(folder)?;
    let text = text(language, log, vehicle.as_deref(), job)?;
    Some(journal::write_book(folder, &text))
}

/// The book as it would be written. What it could not be read from is left as it is.
fn text(language: &Language, log: StripLog, vehicle: Option<&str>, job: &Job) -> Option<String> {
    let fasteners = &job.book().fasteners;
    let told = job.told().fold(log, |log, telling| match fasteners.get(telling.group.0) {
        Some(fastener) => of_book::with_told(log, &fastener.id, telling),
        None => log,
    });
    let mut text = book::book(&told, Known { vehicle }, language).ok()?;
    let notes = notes(job);
    if !notes.is_empty() {
        let _ = write!(text, "\n# Notes that were taken on the job, by the number of the step:\n{notes}");
    }
    (procedure::check("book.toml", &text).errors() == 0).then_some(text)
}

fn notes(job: &Job) -> String {
    let mut out = String::new();
    for recorded in job.facts().iter().filter(|fact| !fact.taken_back) {
        let Fact::Note { step, note } = &recorded.fact else { continue };
        let text = match note {
            Note::Typed(text) => text.split_whitespace().collect::<Vec<_>>().join(" "),
            Note::Sound { file, .. } => format!("spoken, {file}"),
        };
        let plain: String = text.chars().filter(|letter| !letter.is_control()).collect();
        let _ = writeln!(out, "# {}: {plain}", step + 1);
    }
    out
}
