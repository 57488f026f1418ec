//! A conversation in which values are told from the open book: asked for one by one, read back number by number, and on disk before
//! it is said that they are kept.
//!
//! Knows the language, the page and its file. Has no job, no clock and no sound. What is told is the same words as at the turning point
//! of a strip-down; the loop round it lets nothing be heard while the program speaks, so whatever is heard is about what was said.

use super::awaited::Key;
use super::conversation::phrases;
use super::lookup::Lookup;
use super::no_job::NoJob;
use super::page_file::PageFile;
use super::repair::{Answered, Repair};
use super::values_talk::{About, about};
use super::{Delivery, Turn, readings};
use crate::dialogue::{
    BookSay, Grammar, Language, Manner, Meaning, Notice, Sentence, StripExpect, StripMeaning, Talk, ValueSay,
};
use crate::job::{At, Command as JobCommand, Expect};
use crate::listen::{Open, Phrase, Utterance};
use crate::speak::Tone;
use crate::strip::{Command, Name};
use crate::values::{OpenBook, Refused, Shelf, Wanted};
use std::sync::Arc;

/// The conversation.
pub struct BookTalk {
    language: Language,
    manner: Manner,
    delivery: Delivery,
    listening: bool,
    book: OpenBook,
    file: PageFile,
    /// The values that the page has by now, as they are asked by name.
    lookup: Lookup,
    repair: Repair,
    last: Vec<Sentence>,
}

/// May it be said while values are told? A value without its page is none.
fn wanted(meaning: &Meaning) -> bool {
    match meaning {
        Meaning::Strip(command) => !matches!(command, Command::NoPage | Command::WhatCameOff),
        Meaning::Talk(talk) => !matches!(talk, Talk::StartNote),
        Meaning::Command(_) | Meaning::Value(_) | Meaning::Choose(_) => false,
    }
}

/// The values of a page, as they are asked by name.
fn asked_of(book: &OpenBook, language: &Language) -> Lookup {
    let shelf = Shelf::new(vec![(book.called().to_owned(), book.page().clone())]).unwrap_or_default();
    Lookup::new(language, shelf)
}

impl BookTalk {
    /// A conversation about this page, which is kept in this file.
    pub fn new(language: Language, manner: Manner, delivery: Delivery, book: OpenBook, file: PageFile) -> BookTalk {
        let (lookup, repair) = (asked_of(&book, &language), Repair::default());
        BookTalk { language, manner, delivery, listening: true, book, file, lookup, repair, last: Vec::new() }
    }

    fn expects(&self) -> StripExpect {
        let wanted = self.book.wanted();
        StripExpect {
            turned: true,
            yes_no: self.repair.waits() || matches!(wanted, Wanted::Yes(_)),
            // Told again it takes the place of what was read back.
            value: matches!(wanted, Wanted::Value(_) | Wanted::Yes(_)),
            page: matches!(wanted, Wanted::Page(_)),
            ..StripExpect::default()
        }
    }

    fn grammar(&self) -> Grammar {
        let grammar = self.language.strip_grammar(self.expects(), self.listening).only(wanted);
        if self.listening { self.lookup.grammar(&self.language, grammar) } else { grammar }
    }

    fn understood(&mut self, meaning: Meaning, at: At) -> Turn {
        match self.repair.understood(&meaning, None, at) {
            Answered::Yes(meant, _) => self.meant(meant, at),
            Answered::No | Answered::TooSoon => self.say(Some(meaning), &[]),
            Answered::Other => self.meant(meaning, at),
        }
    }

    fn meant(&mut self, meaning: Meaning, at: At) -> Turn {
        if let Some(mut sentences) = self.lookup.answer(&meaning, &self.language, &self.manner, at) {
            // The question that stands is put again: nothing of the page's has answered it.
            sentences.extend(self.language.book_says(&BookSay::Wanted(self.book.wanted()), &self.manner));
            self.last.clone_from(&sentences);
            return Turn { hush: true, meaning: Some(meaning), sentences, ..Turn::default() };
        }
        match meaning.clone() {
            Meaning::Strip(command) => self.told_so(command, meaning),
            Meaning::Talk(talk) => {
                let help = self.language.book_help();
                about(
                    talk,
                    meaning,
                    About {
                        language: &self.language,
                        last: &self.last,
                        listening: &mut self.listening,
                        delivery: &mut self.delivery,
                        help,
                    },
                )
            }
            Meaning::Command(_) | Meaning::Value(_) | Meaning::Choose(_) => Turn::default(),
        }
    }

    fn told_so(&mut self, command: Command, meaning: Meaning) -> Turn {
        let language = self.language.clone();
        let heard = |name: &str| language.as_heard(name);
        let meaning = Some(meaning);
        let is_yes = matches!(self.book.wanted(), Wanted::Yes(_));
        let awaits = self.expects();
        let taken = match command {
            Command::Value { stages, page } if awaits.value => {
                let page = page.map(|page| self.language.page_written(&page));
                self.book.value(&stages, page.as_deref(), &heard)
            }
            Command::Page(page) if awaits.page => self.book.on_page(&self.language.page_written(&page), &heard),
            Command::Yes if is_yes => return self.keep(meaning),
            Command::No if is_yes => {
                self.book.anew();
                Ok(())
            }
            Command::NoValue | Command::Later if awaits.value || awaits.page => {
                let later = command == Command::Later;
                self.book.leave(later);
                return self.say(meaning, &[if later { BookSay::Later } else { BookSay::NoValue }]);
            }
            Command::Undo => return self.take_back(meaning),
            Command::Where => Ok(()),
            Command::Pause => return self.over(meaning, Vec::new()),
            _ => return self.say(meaning, &[BookSay::NothingAsked]),
        };
        match taken {
            Ok(()) => self.say(meaning, &[]),
            Err(refused) => self.say(meaning, &[BookSay::Refused(&refused)]),
        }
    }

    /// What was read back is right.
    fn keep(&mut self, meaning: Option<Meaning>) -> Turn {
        let written = match self.book.to_be() {
            Some(text) => self.file.write(text),
            None => return self.say(meaning, &[BookSay::NothingAsked]),
        };
        match written {
            Ok(()) => {
                let name = self.book.keep().unwrap_or_default();
                self.lookup = asked_of(&self.book, &self.language);
                let turn = self.say(meaning, &[BookSay::Kept(&name)]);
                Turn { tone: Some(Tone::Recorded), ..turn }
            }
            // It still waits for its yes.
            Err(error) => self.say(meaning, &[BookSay::NotKept(&error.to_string())]),
        }
    }

    /// What was read back or told so far is taken back first, then a name, then what was kept last.
    fn take_back(&mut self, meaning: Option<Meaning>) -> Turn {
        if matches!(self.book.wanted(), Wanted::Yes(_) | Wanted::Page(_)) {
            self.book.anew();
            return self.say(meaning, &[]);
        }
        if let Some(name) = self.book.forget_name() {
            return self.say(meaning, &[BookSay::TakenBack(&name)]);
        }
        let written = match self.book.last() {
            Some((_, before)) => self.file.write(before),
            None => return self.say(meaning, &[BookSay::NothingToUndo]),
        };
        match written {
            Ok(()) => {
                let name = self.book.take_back().unwrap_or_default();
                self.lookup = asked_of(&self.book, &self.language);
                self.say(meaning, &[BookSay::TakenBack(&name)])
            }
            Err(error) => self.say(meaning, &[BookSay::NotKept(&error.to_string())]),
        }
    }

    /// Says this, and behind it what is to be told next; where that is nothing, it is over.
    fn say(&mut self, meaning: Option<Meaning>, says: &[BookSay<'_>]) -> Turn {
        let says = says.iter().flat_map(|say| self.language.book_says(say, &self.manner));
        let mut sentences: Vec<Sentence> = says.collect();
        let next = self.book.wanted();
        if next == Wanted::Nothing {
            return self.over(meaning, sentences);
        }
        sentences.extend(self.language.book_says(&BookSay::Wanted(next), &self.manner));
        self.last.clone_from(&sentences);
        Turn { hush: meaning.is_some(), meaning, sentences, ..Turn::default() }
    }

    fn over(&mut self, meaning: Option<Meaning>, mut sentences: Vec<Sentence>) -> Turn {
        sentences.extend(self.language.book_says(&BookSay::Over(self.book.left()), &self.manner));
        Turn { over: true, hush: meaning.is_some(), meaning, sentences, ..Turn::default() }
    }

    /// A typed line that asks for a value by name. Where the page has no such name, only what is asked in words that can be spoken is
    /// a question: the short ones of the keyboard ("torque arm") begin names as well.
    fn asked_by_name(&self, line: &str) -> Option<Meaning> {
        let asked = self.lookup.read(&self.language, line).filter(|asked| !asked.found.is_empty());
        let spoken = || Lookup::default().read(&self.language, line);
        asked.or_else(spoken).map(Meaning::Value)
    }

    /// Is the line a command, said to a job or in a strip-down, or does it begin as a question does? Then it is no name.
    fn is_no_name(&self, line: &str) -> bool {
        let command = self.language.understand_typed(line, &Expect::default()).is_ok();
        command
            || self.language.begins_as_talk(line)
            || matches!(self.language.strip_meant(line), StripMeaning::Told(_))
    }

    /// What a typed line means, where anything may be a name or a value.
    fn typed(&self, line: &str) -> Option<Meaning> {
        let ends = |line: &str| {
            let meant = self.language.understand_typed(line, &Expect::default());
            matches!(meant, Ok(Meaning::Command(JobCommand::Finish)))
        };
        let told = match self.language.strip_meant(line) {
            StripMeaning::Talk(talk) if wanted(&Meaning::Talk(talk)) => return Some(Meaning::Talk(talk)),
            StripMeaning::Told(Command::Everything) => Command::Pause,
            StripMeaning::Told(
                command @ (Command::Undo
                | Command::Where
                | Command::Pause
                | Command::Yes
                | Command::No
                | Command::NoValue
                | Command::Later),
            ) => command,
            _ if ends(line) => Command::Pause,
            meant => match (self.book.wanted(), meant) {
                (Wanted::Name, _) => return None,
                (Wanted::Page(_), StripMeaning::Told(Command::Page(page))) => Command::Page(page),
                (Wanted::Page(_), _) => Command::Page(line.trim().to_owned()),
                _ => self.language.value_typed(line),
            },
        };
        Some(Meaning::Strip(told))
    }
}

impl NoJob for BookTalk {
    fn begin(&mut self) -> Turn {
        let mut turn = self.say(None, &[]);
        let page = ValueSay::Page { page: self.book.page(), told: None };
        let opening = self.language.value_says(&page, &self.manner);
        turn.sentences.splice(0..0, opening.into_iter().chain([self.language.defers()]));
        turn
    }

    fn hear(&mut self, said: &Utterance, at: At) -> Turn {
        let grammar = self.grammar();
        if let Some(meaning) = said.phrase.as_deref().and_then(|phrase| grammar.meaning(phrase)) {
            return self.understood(meaning, at);
        }
        if !self.listening || said.phrase.is_some() {
            return Turn::default();
        }
        let asks = matches!(self.book.wanted(), Wanted::Yes(_));
        let tone = Some(Tone::NotUnderstood);
        if let Some(question) = self.repair.ask_about(said, &grammar, asks, (at, at), &self.language) {
            self.last = vec![question.clone()];
            return Turn { tone, sentences: vec![question], ..Turn::default() };
        }
        match self.repair.lost(&said.heard.text, &grammar, &self.language) {
            Some(sentences) => Turn { tone, sentences, ..Turn::default() },
            None => Turn::default(),
        }
    }

    fn read(&mut self, line: &str, at: At) -> Turn {
        if let Some(chosen) = self.lookup.choice(&self.language, line, at) {
            return self.understood(Meaning::Value(chosen), at);
        }
        if let Some(asked) = self.asked_by_name(line) {
            return self.understood(asked, at);
        }
        if self.language.strip_meant(line) == StripMeaning::Asked {
            return Turn { sentences: vec![self.language.was_a_question()], ..Turn::default() };
        }
        if let Some(meaning) = self.typed(line) {
            return self.understood(meaning, at);
        }
        // "Name it …" gives whatever name there is.
        let name = match self.language.strip_meant(line) {
            StripMeaning::Told(Command::Name(Name::Typed(name))) => name,
            _ if self.is_no_name(line) => return self.say(None, &[BookSay::Refused(&Refused::Name)]),
            _ => line.to_owned(),
        };
        self.lookup.forget();
        let named = self.book.name(&name, &|name| self.language.as_heard(name));
        match &named {
            Ok(()) => self.say(None, &[]),
            Err(refused) => self.say(None, &[BookSay::Refused(refused)]),
        }
    }

    fn told(&self, notice: Notice) -> Turn {
        Turn { sentences: vec![self.language.notice(notice)], ..Turn::default() }
    }

    fn phrases(&self) -> Vec<Phrase> {
        phrases(&self.grammar())
    }

    fn readings(&self) -> Arc<dyn Open> {
        readings(self.grammar())
    }

    fn awaits(&self) -> Key {
        let (listening, offers) = (self.listening, self.lookup.state());
        Key { strip: Some(self.expects()), listening, offers, ..Key::default() }
    }

    fn listens(&self) -> bool {
        self.listening
    }

    fn delivery(&self) -> Delivery {
        self.delivery
    }
}
