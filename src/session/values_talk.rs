//! A conversation about values and nothing else: no job, nothing on disk.
//!
//! Knows the language and the pages. Has no clock and no sound, like the conversation about a job, from which it differs in
//! what may be said: values by name, their source, another unit, and the commands about the talk itself.

use super::awaited::Key;
use super::conversation::phrases;
use super::lookup::Lookup;
use super::no_job::NoJob;
use super::{Delivery, Turn, readings};
use crate::dialogue::{Concern, Grammar, Language, Manner, Meaning, Notice, Sentence, Talk, ValueSay};
use crate::job::{Ask, At, Command, Expect};
use crate::listen::{Open, Phrase, Utterance};
use crate::speak::Tone;
use crate::values::Shelf;
use std::sync::Arc;

/// The conversation.
pub struct ValuesTalk {
    language: Language,
    manner: Manner,
    delivery: Delivery,
    listening: bool,
    lookup: Lookup,
    last: Vec<Sentence>,
}

/// May it be said where there is no job?
fn wanted(meaning: &Meaning) -> bool {
    match meaning {
        Meaning::Value(_) => true,
        Meaning::Strip(_) | Meaning::Choose(_) => false,
        Meaning::Talk(talk) => talk.concern() == Concern::Talking,
        Meaning::Command(command) => {
            matches!(
                command,
                Command::Ask(Ask::Source | Ask::InUnit(_)) | Command::TakeBreak | Command::Pause | Command::Finish
            )
        }
    }
}

/// What the commands about the talk itself are about, where there is no job.
pub(super) struct About<'a> {
    pub language: &'a Language,
    /// What was said last.
    pub last: &'a [Sentence],
    pub listening: &'a mut bool,
    pub delivery: &'a mut Delivery,
    pub help: Sentence,
}

/// Follows a command about the talk itself.
pub(super) fn about(talk: Talk, meaning: Meaning, of: About<'_>) -> Turn {
    let turn = Turn { meaning: Some(meaning), hush: true, ..Turn::default() };
    let (notice, tone) = match talk {
        Talk::Repeat if of.last.is_empty() => (Notice::NothingToRepeat, None),
        Talk::Repeat => return Turn { sentences: of.last.to_vec(), ..turn },
        Talk::Help => return Turn { sentences: vec![of.help], ..turn },
        Talk::StopListening => {
            *of.listening = false;
            (Notice::ListeningOff, Some(Tone::ListeningOff))
        }
        Talk::StartListening => {
            *of.listening = true;
            (Notice::ListeningOn, Some(Tone::ListeningOn))
        }
        talk => match of.delivery.turn(talk) {
            Some(notice) => (notice, None),
            None => return turn,
        },
    };
    Turn { sentences: vec![of.language.notice(notice)], tone, ..turn }
}

impl ValuesTalk {
    /// A conversation about these pages.
    pub fn new(language: Language, manner: Manner, delivery: Delivery, shelf: Shelf) -> ValuesTalk {
        let lookup = Lookup::new(&language, shelf);
        ValuesTalk { language, manner, delivery, listening: true, lookup, last: Vec::new() }
    }

    fn meant(&mut self, meaning: Meaning, at: At) -> Turn {
        if !wanted(&meaning) {
            return self.unwanted(meaning, at);
        }
        if let Some(sentences) = self.lookup.answer(&meaning, &self.language, &self.manner, at) {
            return self.say(Some(meaning), sentences);
        }
        let says = |say: &ValueSay<'_>| self.language.value_says(say, &self.manner);
        let sentences = match &meaning {
            Meaning::Command(Command::Ask(Ask::Source)) => {
                let pages = self.lookup.shelf().pages();
                pages.flat_map(|page| says(&ValueSay::Source { source: &page.source, of: None })).collect()
            }
            Meaning::Command(Command::Ask(_)) => vec![self.language.notice(Notice::ValueFirst)],
            Meaning::Command(_) => {
                let sentences = says(&ValueSay::Over);
                return Turn { over: true, ..self.say(Some(meaning), sentences) };
            }
            Meaning::Talk(talk) => return self.talk(*talk, meaning.clone()),
            // It chose from what was offered too long ago.
            Meaning::Value(_) | Meaning::Strip(_) | Meaning::Choose(_) => return Turn::default(),
        };
        self.say(Some(meaning), sentences)
    }

    /// What means nothing without a job. It ends no offer; and where names are offered, yes and no answer none of them, so they are
    /// offered once more.
    fn unwanted(&mut self, meaning: Meaning, at: At) -> Turn {
        let answers = matches!(meaning, Meaning::Command(Command::Yes | Command::No));
        let sentences = match self.lookup.again(at, &self.language, &self.manner).filter(|_| answers) {
            Some(offer) => offer,
            None => self.language.value_says(&ValueSay::NoJob, &self.manner),
        };
        self.say(Some(meaning), sentences)
    }

    fn talk(&mut self, talk: Talk, meaning: Meaning) -> Turn {
        let help = self.lookup.help(&self.language);
        let (language, last) = (&self.language, &self.last[..]);
        about(
            talk,
            meaning,
            About { language, last, listening: &mut self.listening, delivery: &mut self.delivery, help },
        )
    }

    fn say(&mut self, meaning: Option<Meaning>, sentences: Vec<Sentence>) -> Turn {
        self.last.clone_from(&sentences);
        Turn { hush: meaning.is_some(), meaning, sentences, ..Turn::default() }
    }

    /// The end that was not asked for in words.
    pub fn end(&mut self) -> Turn {
        let sentences = self.language.value_says(&ValueSay::Over, &self.manner);
        Turn { over: true, ..self.say(None, sentences) }
    }

    /// What may be said now.
    fn grammar(&self) -> Grammar {
        let grammar = self.language.grammar(&Expect::default(), self.listening).only(wanted);
        if self.listening { self.lookup.grammar(&self.language, grammar) } else { grammar }
    }
}

impl NoJob for ValuesTalk {
    fn begin(&mut self) -> Turn {
        let pages = self.lookup.shelf().pages();
        let told = pages.flat_map(|page| self.language.value_says(&ValueSay::Page { page, told: None }, &self.manner));
        let mut sentences: Vec<Sentence> = told.collect();
        sentences.push(self.language.defers());
        self.say(None, sentences)
    }

    fn hear(&mut self, utterance: &Utterance, at: At) -> Turn {
        let grammar = self.grammar();
        match utterance.phrase.as_deref().and_then(|phrase| grammar.lookup(phrase)).cloned() {
            Some(meaning) => self.meant(meaning, at),
            // What was half heard is asked for again by a tone; nothing is at stake.
            None if self.listening && grammar.lookup(&utterance.heard.text).is_some() => {
                Turn { tone: Some(Tone::NotUnderstood), ..Turn::default() }
            }
            None => Turn::default(),
        }
    }

    fn read(&mut self, line: &str, at: At) -> Turn {
        if let Some(chosen) = self.lookup.choice(&self.language, line, at) {
            return self.meant(Meaning::Value(chosen), at);
        }
        match self.language.understand_typed(line, &Expect::default()) {
            Ok(meaning) => self.meant(meaning, at),
            Err(not) => match self.lookup.read(&self.language, line) {
                Some(asked) => self.meant(Meaning::Value(asked), at),
                None => Turn { sentences: vec![self.language.not_understood(&not)], ..Turn::default() },
            },
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
        Key { listening: self.listening, offers: self.lookup.state(), ..Key::default() }
    }

    fn listens(&self) -> bool {
        self.listening
    }

    fn delivery(&self) -> Delivery {
        self.delivery
    }
}
