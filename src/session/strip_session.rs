//! A strip-down and, from its turning point on, the job that it has become: one session, one microphone, no break between them.
//! Behind that job stands the choice of the next one, where there is one to choose.

use super::awaited::Key;
use super::mouth::Recordings;
use super::{Begin, Choice, Conversation, Delivery, Offers, StripTalk, Talker, Turn};
use crate::dialogue::{Language, Manner, Meaning, Sentence};
use crate::job::{At, Job};
use crate::journal::{Folder, JournalError};
use crate::listen::{Open, Phrase, Utterance};
use crate::quantity::Quantity;
use crate::toolbox::Toolbox;
use crate::values::Shelf;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What the job is given that the strip-down has no use for.
#[derive(Debug, Clone, Default)]
pub struct Known {
    /// How values are said.
    pub manner: Manner,
    /// The user's tools.
    pub toolbox: Option<Toolbox>,
    /// Pages of values.
    pub shelf: Shelf,
}

/// The session.
pub struct StripSession {
    now: Now,
    known: Known,
    /// By how much the machine's clock was set in this session: it is told once, and may be before there is a job.
    set: i64,
    /// What there is to choose from behind the job, and how it is begun.
    next: Option<(Offers, Begin)>,
    /// Where the book is, once it is written.
    written: Option<PathBuf>,
}

enum Now {
    Strip(Box<StripTalk>),
    Job(Box<Conversation>),
    /// The job, and what follows it.
    Jobs(Box<Choice>),
    /// The book could not be made. Whoever holds the session has been told, and asks no more.
    Lost(Language),
}

impl StripSession {
    /// A session of a strip-down.
    pub fn new(talk: StripTalk, known: Known) -> StripSession {
        StripSession { now: Now::Strip(Box::new(talk)), known, set: 0, next: None, written: None }
    }

    /// With a choice among these behind the job.
    pub fn with_next(self, offers: impl Into<Offers>, begin: Begin) -> StripSession {
        StripSession { next: Some((offers.into(), begin)), ..self }
    }

    /// The first words.
    pub fn begin(&mut self, at: At) -> Result<Turn, JournalError> {
        let turn = match &mut self.now {
            Now::Strip(talk) => talk.begin(),
            _ => Turn::default(),
        };
        self.goes_on(turn, at)
    }

    /// The first words when it is taken up again; `torn` if the last thing told was cut off and is lost.
    pub fn resume(&mut self, torn: bool, at: At) -> Result<Turn, JournalError> {
        let turn = match &mut self.now {
            Now::Strip(talk) => talk.resume(torn),
            _ => Turn::default(),
        };
        self.goes_on(turn, at)
    }

    /// Where the book is, once it is written.
    pub fn book(&self) -> Option<&Path> {
        self.written.as_deref()
    }

    /// The job worked on last and its folder, once there is one.
    pub fn conversation(&self) -> Option<&Conversation> {
        match &self.now {
            Now::Job(talk) => Some(talk),
            Now::Jobs(talk) => talk.conversation(),
            _ => None,
        }
    }

    /// Where all is answered the book is written, and the job begins.
    fn goes_on(&mut self, turn: Turn, at: At) -> Result<Turn, JournalError> {
        if !matches!(&self.now, Now::Strip(talk) if talk.log().is_ready()) {
            return Ok(turn);
        }
        let language = self.language().clone();
        let Now::Strip(talk) = std::mem::replace(&mut self.now, Now::Lost(language.clone())) else { return Ok(turn) };
        let (delivery, path) = (talk.delivery(), Talker::folder(&*talk).to_owned());
        let (mut folder, job): (Folder, Job) = talk.turn().map_err(|error| match error {
            super::TurnError::Journal(error) => error,
            super::TurnError::Book(report) => JournalError::Procedure { path, reason: report.to_string() },
        })?;
        folder.clock_set(self.set);
        let Known { manner, toolbox, shelf } = self.known.clone();
        let mut talk = Conversation::new(language, manner, job, folder).with_toolbox(toolbox).with_values(shelf);
        talk.set_delivery(delivery);
        let more = talk.resume(&[], at)?;
        self.written = Some(talk.folder().path().join("book.toml"));
        self.now = match self.next.take() {
            Some((offers, begin)) => Now::Jobs(Box::new(Choice::after(talk, offers, begin).clock_ahead(self.set))),
            None => Now::Job(Box::new(talk)),
        };
        let sentences = turn.sentences.into_iter().chain(more.sentences).collect();
        Ok(Turn { sentences, over: false, recorded: true, announces: true, ..turn })
    }

    fn talker(&self) -> Option<&dyn Talker> {
        match &self.now {
            Now::Strip(talk) => Some(&**talk),
            Now::Job(talk) => Some(&**talk),
            Now::Jobs(talk) => Some(&**talk),
            Now::Lost(_) => None,
        }
    }

    fn talking(&mut self) -> Option<&mut dyn Talker> {
        match &mut self.now {
            Now::Strip(talk) => Some(&mut **talk),
            Now::Job(talk) => Some(&mut **talk),
            Now::Jobs(talk) => Some(&mut **talk),
            Now::Lost(_) => None,
        }
    }

    /// What follows from something, and what follows from that.
    fn then(
        &mut self,
        at: At,
        what: impl FnOnce(&mut dyn Talker) -> Result<Turn, JournalError>,
    ) -> Result<Turn, JournalError> {
        let turn = self.talking().map_or_else(|| Ok(Turn::default()), what)?;
        self.goes_on(turn, at)
    }
}

impl Talker for StripSession {
    fn language(&self) -> &Language {
        match &self.now {
            Now::Strip(talk) => Talker::language(&**talk),
            Now::Job(talk) => talk.language(),
            Now::Jobs(talk) => Talker::language(&**talk),
            Now::Lost(language) => language,
        }
    }

    fn delivery(&self) -> Delivery {
        self.talker().map(Talker::delivery).unwrap_or_default()
    }

    fn folder(&self) -> &Path {
        self.talker().map_or(Path::new(""), Talker::folder)
    }

    fn job(&self) -> Option<&Job> {
        self.conversation().map(Conversation::job)
    }

    fn unchecked(&self) -> bool {
        self.talker().is_some_and(Talker::unchecked)
    }

    fn is_choosing(&self) -> bool {
        self.talker().is_some_and(Talker::is_choosing)
    }

    fn taken_apart(&self) -> Option<&str> {
        self.talker().and_then(Talker::taken_apart)
    }

    fn awaits(&self) -> Key {
        self.talker().map(Talker::awaits).unwrap_or_default()
    }

    fn phrases_beside(&self, said: &str) -> Vec<Phrase> {
        self.talker().map(|talk| talk.phrases_beside(said)).unwrap_or_default()
    }

    fn readings_beside(&self, said: &str) -> Arc<dyn Open> {
        match self.talker() {
            Some(talk) => talk.readings_beside(said),
            None => super::readings(crate::dialogue::Grammar::default()),
        }
    }

    fn own_words(&mut self, sound: Vec<i16>) {
        if let Some(talk) = self.talking() {
            talk.own_words(sound);
        }
    }

    fn hear(&mut self, said: &Utterance, began: At, at: At) -> Result<Turn, JournalError> {
        self.then(at, |talk| talk.hear(said, began, at))
    }

    fn confirmed(&self) -> Option<&str> {
        self.talker().and_then(Talker::confirmed)
    }

    fn read(&mut self, line: &str, at: At) -> Result<Turn, JournalError> {
        self.then(at, |talk| talk.read(line, at))
    }

    fn press(&mut self, meaning: &Meaning, at: At) -> Result<Turn, JournalError> {
        self.then(at, |talk| talk.press(meaning, at))
    }

    fn measured(&mut self, value: Quantity, tool: &str, began: At, at: At) -> Result<Turn, JournalError> {
        self.then(at, |talk| talk.measured(value, tool, began, at))
    }

    fn announced(&mut self, at: At) {
        if let Some(talk) = self.talking() {
            talk.announced(at);
        }
    }

    fn put_down(&mut self, at: At) -> Result<Turn, JournalError> {
        self.talking().map_or_else(|| Ok(Turn::default()), |talk| talk.put_down(at))
    }

    fn is_noting(&self) -> bool {
        self.talker().is_some_and(Talker::is_noting)
    }

    fn keep_note(&mut self, samples: &[i16], at: At) -> Result<Turn, JournalError> {
        self.then(at, |talk| talk.keep_note(samples, at))
    }

    fn is_waiting(&self) -> bool {
        self.talker().is_some_and(Talker::is_waiting)
    }

    fn wait(&mut self, turn: &Turn) -> Option<Turn> {
        self.talking()?.wait(turn)
    }

    fn with_others(&self, turn: &Turn) -> Option<Turn> {
        self.talker()?.with_others(turn)
    }

    fn until_due(&self, at: At) -> Option<i64> {
        self.talker()?.until_due(at)
    }

    fn time_up(&mut self, at: At) -> Result<Turn, JournalError> {
        self.then(at, |talk| talk.time_up(at))
    }

    fn clock_set(&mut self, ahead: i64) -> Turn {
        self.set = ahead;
        self.talking().map(|talk| talk.clock_set(ahead)).unwrap_or_default()
    }

    fn foresee(&self, at: At) -> Vec<String> {
        self.talker().map(|talk| talk.foresee(at)).unwrap_or_default()
    }

    fn recordings(&self) -> Recordings {
        self.talker().map(Talker::recordings).unwrap_or_default()
    }

    fn voiced(&self, sentences: Vec<Sentence>) -> Vec<Sentence> {
        match self.talker() {
            Some(talk) => talk.voiced(sentences),
            None => sentences,
        }
    }
}
