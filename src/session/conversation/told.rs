//! What the book says, told while the job is under way: typed, by the words of a strip-down, or taken from a page of values by its
//! name.
//!
//! Turns words into commands of the job; what is asked, said back and kept is the job's.

use super::super::told_book;
use super::{Conversation, Turn};
use crate::dialogue::{Meaning, Sentence, StripMeaning};
use crate::job::{At, BookAwaits, BookValue, Command, Say};
use crate::journal::{BookFile, JournalError};
use crate::strip;
use crate::strip::book::Words;
use crate::values::{self, Value};
use std::path::Path;

impl Conversation {
    /// What a typed line tells of the book, where something of it is awaited.
    pub(super) fn typed_of_the_book(&self, line: &str) -> Option<Meaning> {
        let awaits = self.expect().book?;
        let fits = |told: &strip::Command| match awaits {
            BookAwaits::Value => matches!(told, strip::Command::NoValue | strip::Command::Later),
            BookAwaits::Page => {
                matches!(told, strip::Command::Page(_) | strip::Command::NoPage | strip::Command::Later)
            }
            BookAwaits::Order => matches!(told, strip::Command::Order(_) | strip::Command::Later),
        };
        let told = match self.language.strip_meant(line) {
            StripMeaning::Told(told) if fits(&told) => told,
            _ => match awaits {
                // "Yes" to what is said back is no value, and what begins with a figure is nothing else.
                BookAwaits::Value if line.trim_start().starts_with(|c: char| c.is_ascii_digit()) => {
                    self.language.value_typed(line)
                }
                BookAwaits::Page if values::names_a_page(line.trim(), true) => {
                    strip::Command::Page(line.trim().to_owned())
                }
                _ => return None,
            },
        };
        Some(Meaning::Strip(told))
    }

    /// What was told in the words of a strip-down, given to the job.
    pub(super) fn of_the_book(
        &mut self,
        told: strip::Command,
        spoken: Option<At>,
        at: At,
    ) -> Result<Option<Turn>, JournalError> {
        let words = |key| self.language.text(key, "");
        let worded = |page: &str| self.language.page_written(page);
        let command = match told {
            strip::Command::Value { stages, page } => {
                if let Some(why) = values::no_stages(&stages, page.as_deref()) {
                    let mut sentences = vec![self.language.strip_no_value(&why)];
                    let untold = self.job.untold().map(|group| Say::Untold { group });
                    sentences.extend(self.language.render(&Vec::from_iter(untold), self.job.book(), &self.manner));
                    self.remember(&sentences, false);
                    return Ok(Some(Turn { sentences, ..Turn::default() }));
                }
                let page = page.map(|page| worded(&page));
                Command::BookValue(BookValue { stages: Some(stages), page, list: None, instead: None })
            }
            strip::Command::NoValue => {
                let instead = Some(words("strip_book_no_value"));
                Command::BookValue(BookValue { stages: None, page: None, list: None, instead })
            }
            strip::Command::Page(page) => Command::BookPage(worded(&page)),
            strip::Command::NoPage => Command::NoBookPage(words("strip_book_no_page")),
            strip::Command::Order(order) => Command::BookOrder(order),
            // The step stays open.
            strip::Command::Later => Command::Skip,
            _ => return Ok(None),
        };
        self.give(command, spoken, at).map(Some)
    }

    /// The book of a strip-down is written again once its rebuild is closed, and where it is, is told.
    pub(super) fn book_closed(&self) -> Option<Sentence> {
        let written = told_book::write(&self.language, self.folder.path(), &self.job)?;
        let name = |path: &Path| path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        match written {
            Ok(BookFile::Written(path)) => Some(self.language.book_written(&name(&path), false)),
            Ok(BookFile::Beside(path)) => Some(self.language.book_written(&name(&path), true)),
            Ok(BookFile::There(_)) => None,
            Err(error) => Some(self.language.book_not_written(&error.to_string())),
        }
    }

    /// The value of the pages that was just told by its name, where one is to be told to the job.
    pub(super) fn by_name(&self, meaning: &Meaning) -> Option<Command> {
        let asked = matches!(meaning, Meaning::Value(_)) && self.expect().book == Some(BookAwaits::Value);
        let (page, entry) = self.lookup.told().filter(|_| asked)?;
        let Value::Stages(stages) = &entry.value else { return None };
        let list = Some((page.source.title.clone(), page.source.edition.clone()));
        let at = self.language.page_written(&entry.page);
        Some(Command::BookValue(BookValue {
            stages: Some(strip::written(stages)),
            page: Some(at),
            list,
            instead: None,
        }))
    }
}
