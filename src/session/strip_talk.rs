//! A conversation while something is taken apart: what is told goes into the log and onto disk before it is answered.
//!
//! Knows the language, the log, its folder and the pages of values. Has no clock, and of sound only what is kept as a name or a
//! note. It ends with the book, from which a job begins in the same folder. What was spoken is held to what a job holds it to: a
//! claim counts once, what was half heard is asked back, and a value that was spoken is taken only on a yes to its numbers.
//!
//! - `names`: the user's own recordings as names.
//! - `offers`: values that wait for a yes.
//! - `talk`: what is no concern of the log's.

mod names;
mod offers;
mod talk;

use super::awaited::Key;
use super::conversation::phrases;
use super::lookup::Lookup;
use super::mouth::Recordings;
use super::readings::Readings;
use super::repair::{Answered, Repair};
use super::spoken_names;
use super::{Delivery, Talker, Turn};
use crate::dialogue::{Grammar, Language, Manner, Meaning, Notice, Sentence, StripExpect, StripMeaning};
use crate::job::{At, Job, Stake};
use crate::journal::{Folder, JournalError, StripFolder};
use crate::listen::{Harm, Open, Phrase, Utterance, likeness};
use crate::procedure::{self, Report};
use crate::speak::Tone;
use crate::strip::{self, Command, Name, Question, Reply, Say, StripLog, book, of_book};
use crate::values::{self, Names, Shelf};
use std::path::Path;
use std::sync::Arc;

/// A value that waits for a yes.
enum Offered {
    /// That of an entry of the pages, for a group.
    Listed { group: usize, entry: usize },
    /// One that was spoken.
    Heard(Command),
}

/// The conversation.
pub struct StripTalk {
    language: Language,
    manner: Manner,
    delivery: Delivery,
    log: StripLog,
    folder: StripFolder,
    /// What may be offered as the value of a group, and how its names are found.
    shelf: Shelf,
    names: Names,
    /// The pages, as they are asked by name.
    lookup: Lookup,
    /// A value that waits for a yes.
    offered: Option<Offered>,
    /// Groups whose value on the pages was said not to be theirs.
    declined: Vec<usize>,
    repair: Repair,
    listening: bool,
    noting: bool,
    /// The sound of what is heard next, where it may be a name.
    own_words: Option<Vec<i16>>,
    recordings: Recordings,
    last: Vec<Sentence>,
    /// It was said once more because an answer to it may have been its own echo.
    echoed: bool,
    /// The thing of which it was told that its name is no longer awaited.
    late: Option<usize>,
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
    /// A conversation about a log that is open on disk, with the pages whose values may be offered.
    pub fn new(language: Language, manner: Manner, log: StripLog, folder: StripFolder, shelf: Shelf) -> StripTalk {
        let names = Names::new(
            shelf.entries().map(|(_, entry)| vec![language.as_heard(entry.said()), language.as_heard(&entry.name)]),
        );
        let lookup = Lookup::new(&language, shelf.clone());
        let recordings = spoken_names::kept(&log, folder.path());
        StripTalk {
            language,
            manner,
            delivery: Delivery::default(),
            log,
            folder,
            shelf,
            names,
            lookup,
            offered: None,
            declined: Vec::new(),
            repair: Repair::default(),
            listening: true,
            noting: false,
            own_words: None,
            recordings,
            last: Vec::new(),
            echoed: false,
            late: None,
        }
    }

    /// The same with pages that may be asked by name; of those of another vehicle, or of none, nothing is offered.
    pub fn with_values(self, shelf: Shelf) -> StripTalk {
        StripTalk { lookup: Lookup::new(&self.language, shelf), ..self }
    }

    /// How the voice is to speak from now on, until the user changes it.
    pub fn set_delivery(&mut self, delivery: Delivery) {
        self.delivery = delivery;
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
        let mut sentences = self.worded(&self.log.opening());
        sentences.splice(0..0, [self.language.defers()]);
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
        if let Some(chosen) = self.lookup.choice(&self.language, line, at) {
            return self.understood(Meaning::Value(chosen), None, at);
        }
        let meaning = match self.language.strip_meant(line) {
            StripMeaning::Told(command) => Meaning::Strip(command),
            StripMeaning::Talk(talk) => Meaning::Talk(talk),
            StripMeaning::Denied => match self.asked_by_name(line) {
                Some(asked) => asked,
                None => return Ok(self.not_taken(line)),
            },
            StripMeaning::Asked => match self.asked_by_name(line) {
                Some(asked) => asked,
                None => return Ok(Turn { sentences: vec![self.language.was_a_question()], ..Turn::default() }),
            },
            StripMeaning::Words => match (&self.offered, self.log.question()) {
                _ if self.asked_by_name(line).is_some() => match self.asked_by_name(line) {
                    Some(asked) => asked,
                    None => return Ok(self.not_understood()),
                },
                (None, Some(Question::Name(_))) if self.is_like_a_phrase(line) => return Ok(self.not_understood()),
                (None, Some(Question::Name(_))) => Meaning::Strip(Command::Name(Name::Typed(line.trim().to_owned()))),
                (_, Some(Question::Value(_))) => Meaning::Strip(self.language.value_typed(line)),
                (None, Some(Question::Page(_))) => Meaning::Strip(Command::Page(line.trim().to_owned())),
                _ => return Ok(self.not_taken(line)),
            },
        };
        self.understood(meaning, None, at)
    }

    /// A line that asks for a value of the pages which they have: with no such name it may be the name of a thing.
    fn asked_by_name(&self, line: &str) -> Option<Meaning> {
        let asked = self.lookup.read(&self.language, line).filter(|asked| !asked.found.is_empty());
        asked.map(Meaning::Value)
    }

    /// Words whose meaning is clear, their first sound at `spoken` if they were spoken; they may answer what was asked back.
    fn understood(&mut self, meaning: Meaning, spoken: Option<At>, at: At) -> Result<Turn, JournalError> {
        match self.repair.understood(&meaning, spoken, at) {
            // What is meant was said when the doubtful words were.
            Answered::Yes(meant, began) => self.meant(meant, spoken.map(|_| began), at),
            Answered::No => {
                let says: Vec<Say> =
                    [Say::LeftAsItIs].into_iter().chain(self.log.question().map(Say::Question)).collect();
                let sentences = self.worded(&says);
                Ok(Turn { meaning: Some(meaning), hush: true, ..self.said(sentences) })
            }
            Answered::TooSoon => Ok(self.again(meaning)),
            Answered::Other => self.meant(meaning, spoken, at),
        }
    }

    fn meant(&mut self, meaning: Meaning, spoken: Option<At>, at: At) -> Result<Turn, JournalError> {
        if let Some(mut sentences) = self.lookup.answer(&meaning, &self.language, &self.manner, at) {
            // What was offered is offered no more: the question that stands is put again.
            self.offered = None;
            let says: Vec<Say> = self.log.question().map(Say::Question).into_iter().collect();
            sentences.extend(self.worded_with_offer(&says));
            return Ok(Turn { meaning: Some(meaning), hush: true, ..self.said(sentences) });
        }
        match meaning.clone() {
            Meaning::Strip(command) => {
                let turn = self.tell(command, spoken, at)?;
                Ok(Turn { meaning: turn.meaning.or(Some(meaning)), hush: true, ..turn })
            }
            Meaning::Talk(talk) => Ok(self.talk(talk, meaning, spoken.is_some(), at)),
            Meaning::Command(_) | Meaning::Value(_) | Meaning::Choose(_) => Ok(Turn::default()),
        }
    }

    fn tell(&mut self, command: Command, spoken: Option<At>, at: At) -> Result<Turn, JournalError> {
        let command = self.log.meant(command);
        if self.offered.is_some()
            && matches!(command, Command::Yes | Command::No)
            && spoken.is_some_and(|began| !self.log.was_announced(began))
        {
            return Ok(self.again(Meaning::Strip(command)));
        }
        if let (Command::Value { stages, page }, Some(began), Some(Question::Value(group))) =
            (&command, spoken, self.log.question())
        {
            return Ok(match self.log.was_announced(began) {
                true => self.offer_heard(group, stages.clone(), page.clone()),
                // Whose value is asked for had not been heard yet: it may be that of the group before.
                false => self.again(Meaning::Strip(command)),
            });
        }
        let command = match (self.offered.take(), command) {
            (Some(Offered::Listed { entry, .. }), Command::Yes) => self.taken(entry).unwrap_or(Command::Yes),
            (Some(Offered::Heard(value)), Command::Yes) => value,
            // What was offered is taken back, and nothing that was answered before.
            (Some(offered), Command::No | Command::Undo) => {
                if let Offered::Listed { group, .. } = offered {
                    self.declined.push(group);
                }
                let says: Vec<Say> = self.log.question().map(Say::Question).into_iter().collect();
                let sentences = self.worded(&says);
                return Ok(self.said(sentences));
            }
            (_, command) => command,
        };
        let Reply { says, recorded } = match spoken {
            Some(began) => self.log.hear(command.clone(), began, at),
            None => self.log.apply(command.clone(), at),
        };
        if recorded {
            self.folder.append(&command, at)?;
        }
        let mut sentences = self.worded_with_offer(&says);
        if let (Some(Say::Refused(strip::Refused::NoValue)), Some(first)) = (says.first(), sentences.first_mut())
            && let Some(why) = why_no_value(&command)
        {
            *first = self.language.strip_no_value(&why);
        }
        let turn = self.said(sentences);
        let claimed = spoken.is_some() && recorded && command.stake() == Stake::Ledger;
        let over = command == Command::Pause || self.log.is_ready();
        Ok(Turn { over, recorded, tone: claimed.then_some(Tone::Recorded), ..turn })
    }

    fn worded(&self, says: &[Say]) -> Vec<Sentence> {
        self.with_recordings(self.language.strip_says(says, &self.log, &self.manner))
    }

    /// A line that is not taken, with the reason where it is known.
    fn not_taken(&self, line: &str) -> Turn {
        match self.language.strip_why_not(line) {
            Some(sentence) if !self.log.is_turned() => Turn { sentences: vec![sentence], ..Turn::default() },
            _ => self.not_understood(),
        }
    }

    fn not_understood(&self) -> Turn {
        Turn { sentences: vec![self.language.strip_not_understood()], ..Turn::default() }
    }

    /// What was said last, once more: what was just said came before it had been said to its end.
    fn again(&mut self, meaning: Meaning) -> Turn {
        let sentences = self.last.clone();
        self.puts(Turn { meaning: Some(meaning), sentences, hush: true, ..Turn::default() })
    }

    fn said(&mut self, sentences: Vec<Sentence>) -> Turn {
        self.last.clone_from(&sentences);
        self.echoed = false;
        self.puts(Turn { sentences, ..Turn::default() })
    }

    /// What is put to the user: what comes next is an answer only once this had been said to its end. Words that were asked back
    /// were said before that, and a yes to them is about what stood then.
    fn puts(&mut self, turn: Turn) -> Turn {
        if !turn.sentences.is_empty() && !self.repair.waits() {
            self.log.put();
        }
        Turn { announces: !turn.sentences.is_empty(), ..turn }
    }

    /// Are these words part of what was said last?
    fn has_just_said(&self, text: &str) -> bool {
        let said: Vec<String> = self.last.iter().flat_map(|s| super::phrasing::words(&s.spoken)).collect();
        super::phrasing::contains(&said, &super::phrasing::words(text))
    }

    fn expects(&self) -> StripExpect {
        StripExpect::of(&self.log, self.repair.waits() || self.offered.is_some())
    }

    /// What may be said now.
    fn grammar(&self) -> Grammar {
        if self.noting {
            return self.language.note_grammar();
        }
        let grammar = self.language.strip_grammar(self.expects(), self.listening);
        if self.listening { self.lookup.grammar(&self.language, grammar) } else { grammar }
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
        Ok(self.folder.become_job(&text, &book, &of_book::already_done(&self.log))?)
    }
}

impl Talker for StripTalk {
    fn language(&self) -> &Language {
        &self.language
    }

    fn delivery(&self) -> Delivery {
        self.delivery
    }

    fn folder(&self) -> &Path {
        self.folder.path()
    }

    fn job(&self) -> Option<&Job> {
        None
    }

    fn taken_apart(&self) -> Option<&str> {
        Some(self.log.title())
    }

    fn awaits(&self) -> Key {
        let (listening, offers) = (self.listening, self.lookup.state());
        Key { strip: Some(self.expects()), listening, offers, ..Key::default() }
    }

    fn phrases_beside(&self, said: &str) -> Vec<Phrase> {
        let grammar = self.grammar();
        let mut phrases = phrases(&grammar);
        if self.expects().no_claims {
            let no = |text: &str| grammar.lookup(text) == Some(&Meaning::Strip(Command::No));
            phrases.iter_mut().filter(|phrase| no(&phrase.text)).for_each(|phrase| phrase.harm = Harm::Claims);
        }
        let said = super::phrasing::words(said);
        let own = |phrase: &Phrase| super::phrasing::own(&said, &super::phrasing::words(&phrase.text));
        phrases.iter_mut().filter(|phrase| own(phrase)).for_each(|phrase| phrase.harm = Harm::Decoy);
        phrases
    }

    fn readings_beside(&self, said: &str) -> Arc<dyn Open> {
        Arc::new(Readings::beside(self.grammar(), said))
    }

    fn own_words(&mut self, sound: Vec<i16>) {
        self.own_words = Some(sound);
    }

    fn hear(&mut self, said: &Utterance, began: At, at: At) -> Result<Turn, JournalError> {
        let sound = self.own_words.take();
        let grammar = self.grammar();
        if let Some(meaning) = said.phrase.as_deref().and_then(|phrase| grammar.meaning(phrase)) {
            return self.understood(meaning, Some(began), at);
        }
        // Talk beside the job is met with silence. Only what nearly was a command gets a sign that it was lost.
        if !self.listening || self.noting || said.phrase.is_some() {
            return Ok(Turn::default());
        }
        let asks = self.offered.is_some() || self.log.question().is_some_and(Question::is_yes_no);
        if let Some(question) = self.repair.ask_about(said, &grammar, asks, (began, at), &self.language) {
            return Ok(Turn { tone: Some(Tone::NotUnderstood), ..self.said(vec![question]) });
        }
        // "No name", said at once: the question ended with it, and it may be heard as its echo.
        let heard = &said.heard.text;
        let other = said.written.as_ref().is_some_and(|written| likeness(heard, &written.text) < names::ALIKE);
        if let Some(meaning) =
            grammar.meaning(heard).filter(|_| self.log.was_announced(began) && !self.echoed && !other)
            && self.has_just_said(heard)
        {
            self.echoed = true;
            return Ok(self.again(meaning));
        }
        if self.expects().name
            && let Some(sound) = sound
        {
            return self.named(said, &sound, began, at);
        }
        let Some(sentences) = self.repair.lost(heard, &grammar, &self.language) else { return Ok(Turn::default()) };
        Ok(self.puts(Turn { tone: Some(Tone::NotUnderstood), sentences, ..Turn::default() }))
    }

    fn confirmed(&self) -> Option<&str> {
        self.repair.confirmed()
    }

    fn read(&mut self, line: &str, at: At) -> Result<Turn, JournalError> {
        StripTalk::read(self, line, at)
    }

    fn press(&mut self, meaning: &Meaning, at: At) -> Result<Turn, JournalError> {
        match meaning {
            Meaning::Command(command) => match strip::told_by(command) {
                Some(told) => self.understood(Meaning::Strip(told), Some(at), at),
                None => Ok(self.not_understood()),
            },
            meaning => self.understood(meaning.clone(), Some(at), at),
        }
    }

    fn announced(&mut self, at: At) {
        self.log.announced(at);
        self.repair.announced(at);
    }

    fn put_down(&mut self, at: At) -> Result<Turn, JournalError> {
        self.tell(Command::Pause, None, at)
    }

    fn clock_set(&mut self, ahead: i64) -> Turn {
        self.folder.clock_set(ahead);
        Turn { sentences: vec![self.language.notice(Notice::ClockSet)], ..Turn::default() }
    }

    fn is_noting(&self) -> bool {
        self.noting
    }

    fn keep_note(&mut self, samples: &[i16], at: At) -> Result<Turn, JournalError> {
        self.note_kept(samples, at)
    }

    fn recordings(&self) -> Recordings {
        self.recordings.clone()
    }
}

/// Why what was told is no value of a group, as far as a page of values says so.
fn why_no_value(command: &Command) -> Option<values::Refused> {
    match command {
        Command::Value { stages, page } => values::no_stages(stages, page.as_deref()),
        _ => None,
    }
}
