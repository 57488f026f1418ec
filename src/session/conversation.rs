//! One conversation about one job: words in, sentences out, every fact on disk in between.
//!
//! Knows the language, the job and its folder. Has no clock and no sound: it is told the moment and the words, and
//! whoever holds it listens and speaks. The microphone, a recording, a typed line and a replay all end here.
//!
//! - `allowed`: what may be said now, and what a mistake about it would cost.
//! - `measured`: what is said to readings that a tool sends.
//! - `talk`: what is no concern of the job's.
//! - `told`: what the book says, told while the job is under way.
//! - `foresee`: what may have to be said next.

mod allowed;
mod foresee;
mod measured;
mod talk;
mod told;
mod unwanted;

pub use allowed::{phrases, phrases_for, without_adapters};

use self::unwanted::Unwanted;
use super::delivery::Delivery;
use super::lookup::Lookup;
use super::repair::{Answered, Repair};
use super::spoken::Spoken;
use super::spoken_names::SpokenNames;
use super::tools::Tools;
use super::turn::Turn;
use crate::dialogue::{Language, Manner, Meaning, Notice, Sentence, Talk};
use crate::job::{Ask, At, Command, Job, Reading, Say, Stake};
use crate::journal::{self, Folder, JournalError};
use crate::listen::Utterance;
use crate::procedure::Phase;
use crate::quantity::Unit;
use crate::speak::Tone;
use crate::toolbox::Toolbox;
use crate::values::Shelf;

/// One conversation about one job.
pub struct Conversation {
    language: Language,
    manner: Manner,
    delivery: Delivery,
    job: Job,
    folder: Folder,
    listening: bool,
    /// A note is recorded.
    noting: bool,
    /// The job is put down, and taken up again by the phrase for it.
    waiting: bool,
    tools: Tools,
    /// Names that the user spoke while it was taken apart.
    names: SpokenNames,
    /// The pages of values.
    lookup: Lookup,
    /// What was said last, for "say again".
    last: Vec<Sentence>,
    /// Whether that put something to the user.
    last_announces: bool,
    repair: Repair,
    spoken: Spoken,
    /// Readings of a tool that were of no use.
    unwanted: Unwanted,
}

impl Conversation {
    /// A conversation about a job that is open on disk. Say [`Conversation::begin`] or [`Conversation::resume`] first.
    pub fn new(language: Language, manner: Manner, job: Job, folder: Folder) -> Conversation {
        let names = SpokenNames::of(&language, job.book(), folder.path());
        Conversation {
            language,
            names,
            manner,
            delivery: Delivery::default(),
            job,
            folder,
            listening: true,
            noting: false,
            waiting: false,
            tools: Tools::default(),
            lookup: Lookup::default(),
            last: Vec::new(),
            last_announces: false,
            repair: Repair::default(),
            spoken: Spoken::default(),
            unwanted: Unwanted::default(),
        }
    }

    /// Names that the user spoke while it was taken apart.
    pub(super) fn names(&self) -> &SpokenNames {
        &self.names
    }

    /// The same with the user's tools.
    pub fn with_toolbox(mut self, toolbox: Option<Toolbox>) -> Conversation {
        self.tools = Tools::new(toolbox);
        self
    }

    /// The same with pages of values, which can be asked for by name at any moment.
    pub fn with_values(mut self, shelf: Shelf) -> Conversation {
        self.lookup = Lookup::new(&self.language, shelf);
        self
    }

    /// The first words of a new job.
    pub fn begin(&mut self, at: At) -> Result<Turn, JournalError> {
        let mut turn = self.command(Command::Open, at)?;
        self.tell_pages(&mut turn);
        if self.folder.unchecked() > 0 {
            let behind = turn.sentences.len().min(1);
            turn.sentences.insert(behind, self.language.notice(Notice::Unchecked));
            self.last.clone_from(&turn.sentences);
        }
        Ok(turn)
    }

    /// The first words of a job taken up again, with what was noticed about it on disk.
    pub fn resume(&mut self, noticed: &[journal::Notice], at: At) -> Result<Turn, JournalError> {
        let mut turn = self.command(Command::Resume, at)?;
        let told = noticed.iter().map(|notice| match notice {
            journal::Notice::TornLine { .. } => Notice::TornLine,
            journal::Notice::BookChanged => Notice::BookChanged,
            journal::Notice::Unchecked => Notice::Unchecked,
            journal::Notice::Older => Notice::Older,
            journal::Notice::Salvaged { dropped, .. } => Notice::Salvaged { dropped: *dropped },
        });
        // Behind the words that name the job, before those that tell where it stands.
        // The power may have failed between the close and its book.
        if self.job.closed().is_some() {
            turn.sentences.extend(self.book_closed());
        }
        self.tell_pages(&mut turn);
        let behind = turn.sentences.len().min(1);
        turn.sentences.splice(behind..behind, told.map(|notice| self.language.notice(notice)));
        self.last.clone_from(&turn.sentences);
        Ok(turn)
    }

    /// Which pages may be asked, behind the words that name the job.
    fn tell_pages(&mut self, turn: &mut Turn) {
        let told = self.lookup.told_of_pages(&self.language, &self.manner, &self.job.book().source);
        let behind = turn.sentences.len().min(1);
        turn.sentences.splice(behind..behind, told);
        self.last.clone_from(&turn.sentences);
    }

    /// The job was put down with this turn, but whoever did it stays within hearing: from now on only the phrase that takes it up
    /// again is listened for. The turn tells so.
    pub fn wait(&mut self, turn: &Turn) -> Turn {
        self.waiting = true;
        let mut turn = Turn { over: false, tone: Some(Tone::ListeningOff), ..turn.clone() };
        turn.sentences.push(self.language.notice(Notice::Waiting));
        self.remember(&turn.sentences, false);
        turn
    }

    /// The job was closed with this turn: tells which others are unfinished, if there are any.
    pub fn with_others(&self, turn: &Turn) -> Turn {
        let others = journal::unfinished(self.folder.path()).into_iter().map(|job| job.title).collect::<Vec<_>>();
        let told = (!others.is_empty()).then(|| self.language.unfinished(&others));
        Turn { sentences: turn.sentences.iter().cloned().chain(told).collect(), ..turn.clone() }
    }

    /// Is the job put down until the phrase comes that takes it up again?
    pub fn is_waiting(&self) -> bool {
        self.waiting
    }

    /// The machine's clock was set, and is ahead by so many milliseconds of the one that the moments come from.
    pub fn clock_set(&mut self, ahead: i64) -> Turn {
        self.folder.clock_set(ahead);
        Turn { sentences: vec![self.language.notice(Notice::ClockSet)], ..Turn::default() }
    }

    /// Timers that are due by this moment.
    pub fn time_up(&mut self, at: At) -> Result<Turn, JournalError> {
        self.command(Command::TimeUp, at)
    }

    /// The words that a yes has confirmed by what was heard last, after they had been asked back.
    pub fn confirmed(&self) -> Option<&str> {
        self.repair.confirmed()
    }

    /// What was put to the user last had been said to its end at this moment.
    pub fn announced(&mut self, at: At) {
        self.job.announced(at);
        self.repair.announced(at);
    }

    /// A stretch of speech that the listener has decided on, its first sound at `began`.
    pub fn hear(&mut self, utterance: &Utterance, began: At, at: At) -> Result<Turn, JournalError> {
        let grammar = self.grammar();
        if let Some(meaning) = utterance.phrase.as_deref().and_then(|phrase| grammar.meaning(phrase)) {
            return self.understood(meaning, Some(began), at);
        }
        // Talk beside the job is met with silence. Only what nearly was a command gets a sign that it was lost.
        if !self.listening || self.noting || utterance.phrase.is_some() {
            return Ok(Turn::default());
        }
        let asked = utterance.nearly.as_deref().and_then(|nearly| Some((nearly, grammar.meaning(nearly)?)));
        // One question at a time, and none about the answer to one.
        let answer = |meaning: &Meaning| matches!(meaning, Meaning::Command(Command::Yes | Command::No));
        if let Some((phrase, meaning)) = asked.filter(|(_, m)| self.job.question().is_none() && !answer(m)) {
            let sentences = vec![self.language.did_you_say(phrase)];
            self.repair.ask(phrase, meaning, began, at);
            self.remember(&sentences, true);
            return Ok(Turn { tone: Some(Tone::NotUnderstood), sentences, announces: true, ..Turn::default() });
        }
        let heard = &utterance.heard.text;
        if grammar.meaning(heard).is_none() && !grammar.broken_reading(heard) {
            return Ok(Turn::default());
        }
        // Nobody who has put the job down wants to hear what else could be said.
        if self.waiting {
            return Ok(Turn { tone: Some(Tone::NotUnderstood), ..Turn::default() });
        }
        let sentences = if self.repair.missed() { vec![self.language.notice(Notice::Misheard)] } else { Vec::new() };
        Ok(Turn { tone: Some(Tone::NotUnderstood), sentences, ..Turn::default() })
    }

    /// Words whose meaning is clear, their first sound at `spoken` if they were spoken; they may answer what was asked back.
    fn understood(&mut self, meaning: Meaning, spoken: Option<At>, at: At) -> Result<Turn, JournalError> {
        match self.repair.understood(&meaning, spoken, at) {
            // What is meant was said when the doubtful words were.
            Answered::Yes(meant, began) => self.meant(meant, spoken.map(|_| began), at),
            Answered::No => {
                let sentences = self.language.render(&[Say::LeftAsItIs], self.job.book(), &self.manner);
                self.remember(&sentences, false);
                Ok(Turn { meaning: Some(meaning), sentences, hush: true, ..Turn::default() })
            }
            Answered::TooSoon => {
                let sentences = self.last.clone();
                Ok(Turn { meaning: Some(meaning), sentences, hush: true, announces: true, ..Turn::default() })
            }
            Answered::Other => self.meant(meaning, spoken, at),
        }
    }

    fn remember(&mut self, sentences: &[Sentence], announces: bool) {
        self.last = sentences.to_vec();
        self.last_announces = announces;
    }

    /// A typed line.
    pub fn read(&mut self, line: &str, at: At) -> Result<Turn, JournalError> {
        if self.waiting {
            let goes_on = line.trim().to_lowercase() == self.language.carry_on();
            return match goes_on {
                true => self.meant(Meaning::Command(Command::Resume), None, at),
                false => Ok(Turn { sentences: vec![self.language.notice(Notice::Waiting)], ..Turn::default() }),
            };
        }
        if let Some(chosen) = self.lookup.choice(&self.language, line, at) {
            return self.understood(Meaning::Value(chosen), None, at);
        }
        if let Some(told) = self.typed_of_the_book(line) {
            return self.understood(told, None, at);
        }
        match self.language.understand_typed(line, &self.expect()) {
            Ok(meaning) => self.understood(meaning, None, at),
            Err(not) => match self.lookup.read(&self.language, line) {
                Some(_) if self.lookup.is_empty() => {
                    Ok(Turn { sentences: vec![self.language.notice(Notice::NoValues)], ..Turn::default() })
                }
                Some(asked) => self.understood(Meaning::Value(asked), None, at),
                None => Ok(Turn { sentences: vec![self.language.not_understood(&not)], ..Turn::default() }),
            },
        }
    }

    /// A key that means this was pressed. Like words it is about what had been put to the user by then, so pressed twice it
    /// counts once.
    pub fn press(&mut self, meaning: &Meaning, at: At) -> Result<Turn, JournalError> {
        let answer = self.repair.waits() && matches!(meaning, Meaning::Command(Command::Yes | Command::No));
        if self.waiting && !answer {
            return Ok(Turn { sentences: vec![self.language.notice(Notice::Waiting)], ..Turn::default() });
        }
        self.understood(meaning.clone(), Some(at), at)
    }

    /// `spoken`: when its first sound was, if it was spoken.
    fn meant(&mut self, meaning: Meaning, spoken: Option<At>, at: At) -> Result<Turn, JournalError> {
        // Names were offered last: whoever says yes or no may mean them, so the job's question is put again first.
        let unclear = matches!(meaning, Meaning::Command(Command::Yes | Command::No)) && self.lookup.offers(at);
        if unclear && self.job.question().is_some() {
            self.lookup.forget();
            return Ok(self.and_the_question(meaning, Vec::new()));
        }
        if let Some(sentences) = self.lookup.answer(&meaning, &self.language, &self.manner, at) {
            // Asked by its name where a value is to be told, it may be the one: the job asks.
            if let Some(value) = self.by_name(&meaning) {
                let turn = self.give(value, None, at)?;
                let sentences: Vec<Sentence> = sentences.into_iter().chain(turn.sentences).collect();
                self.remember(&sentences, true);
                return Ok(Turn { meaning: Some(meaning), sentences, hush: true, announces: true, ..turn });
            }
            return Ok(self.and_the_question(meaning, sentences));
        }
        match meaning.clone() {
            Meaning::Strip(told) => {
                let turn = self.of_the_book(told, spoken, at)?.unwrap_or_default();
                Ok(Turn { meaning: Some(meaning), hush: true, ..turn })
            }
            Meaning::Value(_) | Meaning::Choose(_) => Ok(Turn::default()),
            // Before the work begins "parts list" means all of what has to lie ready.
            Meaning::Command(Command::Ask(Ask::Parts)) if self.prepares() => {
                let (sentences, _) = self.talk(Talk::LayOut, spoken.is_some(), at);
                Ok(Turn { meaning: Some(meaning), sentences, hush: true, ..Turn::default() })
            }
            Meaning::Command(Command::Resume) => {
                self.waiting = false;
                let turn = self.resume(&[], at)?;
                Ok(Turn { meaning: Some(meaning), tone: Some(Tone::ListeningOn), hush: true, ..turn })
            }
            Meaning::Command(command) => {
                let turn = self.give(command, spoken, at)?;
                Ok(Turn { meaning: Some(meaning), hush: true, ..turn })
            }
            Meaning::Talk(talk) => {
                // To repeat what was put to the user is to put it again.
                let announces = talk == Talk::Repeat && self.last_announces;
                let (sentences, tone) = self.talk(talk, spoken.is_some(), at);
                self.job.scale_is_distorted(self.tools.distorts_scale());
                Ok(Turn { meaning: Some(meaning), sentences, tone, hush: true, announces, ..Turn::default() })
            }
        }
    }

    /// Applies a command that was not spoken; what it changed is on disk before its answer is returned.
    pub fn command(&mut self, command: Command, at: At) -> Result<Turn, JournalError> {
        let turn = self.give(command, None, at)?;
        if !turn.sentences.is_empty() {
            self.lookup.forget();
        }
        Ok(turn)
    }

    fn give(&mut self, command: Command, spoken: Option<At>, at: At) -> Result<Turn, JournalError> {
        let command = self.with_unit(command);
        let before = self.job.pending();
        let reply = match spoken {
            Some(began) => self.job.hear(command.clone(), began, at),
            None => self.job.apply(command.clone(), at),
        };
        if reply.recorded {
            self.folder.append(&command, at, &self.job)?;
        }
        let book = self.job.book().clone();
        let manner = Manner { now: Some(at), ..self.manner };
        let sentences = self.tools.render(&self.language, &reply.says, before.as_ref(), &book, &manner);
        self.spoken.said(&reply.says, &manner);
        if let Some(unit) = self.tools.take_said_in() {
            self.spoken.set(self.job.pending(), unit);
        }
        let mut sentences = sentences;
        if reply.says.iter().any(|say| matches!(say, Say::Closed { .. })) {
            sentences.extend(self.book_closed());
        }
        let over = reply.says.iter().any(|s| matches!(s, Say::Paused | Say::Closed { .. }));
        let claimed = command.stake() == Stake::Ledger && reply.recorded && !reply.says.iter().any(asks);
        self.remember(&sentences, reply.announces);
        Ok(Turn {
            meaning: None,
            sentences,
            tone: claimed.then_some(Tone::Recorded),
            hush: false,
            over,
            recorded: reply.recorded,
            announces: reply.announces,
        })
    }

    /// A number without a unit gets the one that was said last of what is read.
    fn with_unit(&self, command: Command) -> Command {
        match (&command, self.expect().reading) {
            (Command::Reading(Reading { amount, unit: None }), Some(about)) => {
                let (unit, own) = (about.unit(), self.manner.unit.map(Unit::Torque));
                let own = own.filter(|own| *own != unit && own.kind() == unit.kind());
                Command::Number { amount: *amount, unit, own }
            }
            _ => command,
        }
    }

    /// Is a note recorded?
    pub fn is_noting(&self) -> bool {
        self.noting
    }

    /// Is everything listened to, and not only the word to begin again?
    pub fn is_listening(&self) -> bool {
        self.listening
    }

    /// Is the job still at what comes before the work?
    fn prepares(&self) -> bool {
        self.job.book().steps[self.job.position()].phase == Phase::Prepare
    }

    /// The job.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// The language.
    pub fn language(&self) -> &Language {
        &self.language
    }

    /// The job's folder.
    pub fn folder(&self) -> &Folder {
        &self.folder
    }

    /// Lets go of the job, as the end of the process would.
    pub fn into_folder(self) -> Folder {
        self.folder
    }
}

fn asks(say: &Say) -> bool {
    matches!(say, Say::Question(_) | Say::Refused(_))
}
