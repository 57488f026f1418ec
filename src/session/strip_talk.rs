//! A conversation while something is taken apart: what is told goes into the log and onto disk before it is answered.
//!
//! Knows the language, the log, its folder and the pages of values. Has no clock and no sound. It ends with the book, from which
//! a job begins in the same folder.

use super::Turn;
use crate::dialogue::{Language, Manner, Notice, Sentence, StripMeaning, Talk};
use crate::job::{self, At, Job};
use crate::journal::{Folder, JournalError, StripFolder};
use crate::procedure::{self, Report};
use crate::strip::{Command, Name, Question, Reply, Say, StripLog, What, book, written};
use crate::values::{Names, Shelf, Value};
use std::sync::Arc;

/// The conversation.
pub struct StripTalk {
    language: Language,
    manner: Manner,
    log: StripLog,
    folder: StripFolder,
    shelf: Shelf,
    names: Names,
    /// An entry of the pages that waits for a yes, for this group.
    offered: Option<(usize, usize)>,
    /// Groups whose value on the pages was said not to be theirs.
    declined: Vec<usize>,
    last: Vec<Sentence>,
    over: bool,
}

/// Why the book cannot become a job.
#[derive(Debug, thiserror::Error)]
pub enum TurnError {
    /// The book has a mistake: a fault of the program.
    #[error("{0}")]
    Book(Box<Report>),
    /// It cannot be written.
    #[error(transparent)]
    Journal(#[from] JournalError),
}

impl StripTalk {
    /// A conversation about a log that is open on disk.
    pub fn new(language: Language, manner: Manner, log: StripLog, folder: StripFolder, shelf: Shelf) -> StripTalk {
        let names = Names::new(
            shelf.entries().map(|(_, entry)| vec![language.as_heard(entry.said()), language.as_heard(&entry.name)]),
        );
        StripTalk {
            language,
            manner,
            log,
            folder,
            shelf,
            names,
            offered: None,
            declined: Vec::new(),
            last: Vec::new(),
            over: false,
        }
    }

    /// The log.
    pub fn log(&self) -> &StripLog {
        &self.log
    }

    /// The folder.
    pub fn folder(&self) -> &StripFolder {
        &self.folder
    }

    /// The first words.
    pub fn begin(&mut self) -> Turn {
        let mut sentences = vec![self.language.defers()];
        sentences.extend(self.worded(&self.log.opening()));
        self.said(sentences)
    }

    /// The first words when it is taken up again; `torn` if the last thing told was cut off and is lost.
    pub fn resume(&mut self, torn: bool) -> Turn {
        let mut sentences: Vec<Sentence> = torn.then(|| self.language.notice(Notice::TornLine)).into_iter().collect();
        let says = self.log.resumed();
        sentences.extend(self.worded_with_offer(&says));
        self.said(sentences)
    }

    /// A typed line.
    pub fn read(&mut self, line: &str, at: At) -> Result<Turn, JournalError> {
        let command = match self.language.strip_meant(line) {
            StripMeaning::Told(command) => command,
            StripMeaning::Talk(talk) => return Ok(self.talk(talk)),
            StripMeaning::Denied => return Ok(self.not_understood()),
            StripMeaning::Words => match (self.offered, self.log.question()) {
                (None, Some(Question::Name(_))) => Command::Name(Name::Typed(line.trim().to_owned())),
                (_, Some(Question::Value(_))) => self.value(line),
                (None, Some(Question::Page(_))) => Command::Page(line.trim().to_owned()),
                _ => return Ok(self.not_understood()),
            },
        };
        self.tell(command, at)
    }

    /// A value with its page: "62 N·m + 50 deg, 7-1".
    fn value(&self, line: &str) -> Command {
        match line.rsplit_once(',') {
            Some((stages, page)) => {
                let page = match self.language.strip_meant(page) {
                    StripMeaning::Told(Command::Page(page)) => page,
                    _ => page.trim().to_owned(),
                };
                Command::Value { stages: stages.trim().to_owned(), page: Some(page) }
            }
            None => Command::Value { stages: line.trim().to_owned(), page: None },
        }
    }

    fn tell(&mut self, command: Command, at: At) -> Result<Turn, JournalError> {
        let command = match (self.offered.take(), command) {
            (Some((_, entry)), Command::Yes) => match self.taken(entry) {
                Some(value) => value,
                None => Command::Yes,
            },
            (Some((group, _)), Command::No) => {
                self.declined.push(group);
                let says: Vec<Say> = self.log.question().map(Say::Question).into_iter().collect();
                let sentences = self.worded(&says);
                return Ok(self.said(sentences));
            }
            (_, command) => command,
        };
        let Reply { says, recorded } = self.log.apply(command.clone(), at);
        if recorded {
            self.folder.append(&command, at)?;
        }
        self.over = command == Command::Pause;
        let sentences = self.worded_with_offer(&says);
        let turn = self.said(sentences);
        Ok(Turn { over: self.over || self.log.is_ready(), recorded, ..turn })
    }

    /// The value of an entry, as it is taken.
    fn taken(&self, entry: usize) -> Option<Command> {
        let (list, entry) = self.shelf.get(entry)?;
        let Value::Stages(stages) = &entry.value else { return None };
        let (title, edition) = (list.source.title.clone(), list.source.edition.clone());
        Some(Command::Offered { stages: written(stages), page: entry.page.clone(), title, edition })
    }

    /// The one entry of the pages that has all the words of a group's name; nothing where several have, or none.
    fn offer_for(&self, group: usize) -> Option<usize> {
        if self.declined.contains(&group) {
            return None;
        }
        let entry = self.log.entries().get(group)?;
        let name = self.language.as_heard(entry.name.as_ref()?.words()?);
        let words: Vec<&str> = name.split_whitespace().collect();
        let found: Vec<usize> = self.names.find(&words);
        let [only] = found[..] else { return None };
        let (_, entry) = self.shelf.get(only)?;
        matches!(entry.value, Value::Stages(_)).then_some(only)
    }

    fn worded(&self, says: &[Say]) -> Vec<Sentence> {
        self.language.strip_says(says, &self.log, &self.manner)
    }

    /// The same, with a value offered in place of the question for one.
    fn worded_with_offer(&mut self, says: &[Say]) -> Vec<Sentence> {
        let mut sentences = Vec::new();
        for say in says {
            let offer = match say {
                Say::Question(Question::Value(group)) => self.offer_for(*group).map(|entry| (*group, entry)),
                _ => None,
            };
            match offer.and_then(|(group, at)| Some((group, at, self.shelf.get(at)?.1))) {
                Some((group, at, entry)) => {
                    sentences.push(self.language.strip_offers(group, entry, &self.log, &self.manner));
                    self.offered = Some((group, at));
                }
                None => sentences.extend(self.worded(std::slice::from_ref(say))),
            }
        }
        sentences
    }

    fn talk(&mut self, talk: Talk) -> Turn {
        match talk {
            Talk::Repeat => Turn { sentences: self.last.clone(), ..Turn::default() },
            Talk::Help => Turn { sentences: vec![self.language.strip_help()], ..Turn::default() },
            Talk::StartNote => Turn { sentences: vec![self.language.notice(Notice::NoteTyped)], ..Turn::default() },
            _ => self.not_understood(),
        }
    }

    fn not_understood(&self) -> Turn {
        Turn { sentences: vec![self.language.strip_not_understood()], ..Turn::default() }
    }

    fn said(&mut self, sentences: Vec<Sentence>) -> Turn {
        self.last.clone_from(&sentences);
        Turn { sentences, ..Turn::default() }
    }

    /// The book, and the job that begins with what was taken apart done, each thing at the moment at which it was told.
    pub fn turn(self) -> Result<(Folder, Job), TurnError> {
        let known = book::Known { vehicle: self.folder.vehicle() };
        let broken = |report: Report| TurnError::Book(Box::new(report));
        let text = book::book(&self.log, known, &self.language).map_err(broken)?;
        let report = procedure::check("procedure.toml", &text);
        if report.errors() > 0 {
            return Err(broken(report));
        }
        let book = Arc::new(procedure::parse("procedure.toml", &text).map_err(broken)?);
        Ok(self.folder.become_job(&text, &book, &done(&self.log))?)
    }
}

/// What the job has done before it begins: the steps of the strip, and the notes taken between them.
fn done(log: &StripLog) -> Vec<(job::Command, At)> {
    let began = log.entries().first().map_or(At(0), |entry| entry.at);
    let told = log.standing().filter_map(|(_, entry)| match &entry.what {
        What::Note(note) => Some((job::Command::Note(note.clone()), entry.at)),
        What::OnWheels | What::Changed { instead: true, .. } => None,
        _ => Some((job::Command::Done, entry.at)),
    });
    [(job::Command::Open, began)].into_iter().chain(told).collect()
}
