//! Values asked by name: the pages of a session, what was offered to choose from, and the value that was told last.
//!
//! Speaks, and changes nothing: the job never hears of it, so a value asked for is never taken for that of the stage in hand;
//! the answer names the thing. Knows the moment of an offer, which lapses; leaves to its owner what else is being said.

use crate::dialogue::{Asked, Asks, Concern, Grammar, Language, Manner, Meaning, Sentence, ValueSay};
use crate::job::{Ask, At, Command};
use crate::procedure::Source;
use crate::quantity::TorqueUnit;
use crate::values::{Entry, Page, Shelf};

/// A name alone that comes later than this answers nothing.
const WAITS: i64 = 30_000;

/// The pages, and what is being said of them.
#[derive(Debug, Default)]
pub(super) struct Lookup {
    shelf: Shelf,
    asks: Asks,
    /// Entries that a name alone may choose from, and when they were offered.
    offered: Option<(Vec<usize>, At)>,
    /// The value that was told last, while nothing else has been said.
    told: Option<usize>,
}

impl Lookup {
    /// A session with these pages.
    pub fn new(language: &Language, shelf: Shelf) -> Lookup {
        Lookup { asks: language.asks(&shelf), shelf, ..Lookup::default() }
    }

    pub fn is_empty(&self) -> bool {
        self.shelf.is_empty()
    }

    pub fn shelf(&self) -> &Shelf {
        &self.shelf
    }

    /// The value that was told last, while nothing else has been said.
    pub fn told(&self) -> Option<(&Page, &Entry)> {
        self.shelf.get(self.told?)
    }

    /// What the grammar depends on: the entries offered, and whether a value was told.
    pub fn state(&self) -> (Vec<usize>, bool) {
        (self.offered().to_vec(), self.told.is_some())
    }

    fn offered(&self) -> &[usize] {
        self.offered.as_ref().map_or(&[], |(offered, _)| offered)
    }

    /// What may be said now, with what asks for values.
    pub fn grammar(&self, language: &Language, grammar: Grammar) -> Grammar {
        if self.is_empty() {
            return grammar;
        }
        language.with_values(grammar, &self.asks, self.offered(), self.told.is_some())
    }

    /// What can be said where only values are asked for.
    pub fn help(&self, language: &Language) -> Sentence {
        language.values_help(&self.asks)
    }

    /// A typed line that chooses from what is offered. It goes before everything else that the line could mean, while the
    /// offer stands.
    pub fn choice(&self, language: &Language, line: &str, at: At) -> Option<Asked> {
        if !self.offers(at) {
            return None;
        }
        language.value_meant(line, &self.asks, self.offered()).filter(|asked| asked.chosen)
    }

    /// What each page holds, and from which source, if that is not the one of the job.
    pub fn told_of_pages(&self, language: &Language, manner: &Manner, job: &Source) -> Vec<Sentence> {
        let told = Some(job);
        self.shelf.pages().flat_map(|page| language.value_says(&ValueSay::Page { page, told }, manner)).collect()
    }

    /// The source of a page, where there are several that a value could be from.
    fn one_of_several<'a>(&self, page: &'a Page) -> Option<&'a Source> {
        self.shelf.pages().any(|other| other.source != page.source).then_some(&page.source)
    }

    /// A typed line that is no command: does it ask for a value? What was offered may be chosen from however late, for the
    /// line can mean nothing else.
    pub fn read(&self, language: &Language, line: &str) -> Option<Asked> {
        let asked = language.value_meant(line, &self.asks, self.offered())?;
        Some(Asked { chosen: false, ..asked })
    }

    /// The answer to a meaning that is about values; nothing for any other, which also ends what was offered.
    pub fn answer(&mut self, meaning: &Meaning, language: &Language, manner: &Manner, at: At) -> Option<Vec<Sentence>> {
        match meaning {
            Meaning::Value(asked) => self.asked(asked, language, manner, at),
            Meaning::Command(Command::Ask(Ask::Source)) if self.told.is_some() => self.source(language, manner),
            Meaning::Command(Command::Ask(Ask::InUnit(unit))) if self.told.is_some() => {
                self.in_unit(*unit, language, manner)
            }
            // The toolbox answers: something else was said.
            Meaning::Talk(talk) if talk.concern() == Concern::Tools => {
                self.forget();
                None
            }
            Meaning::Talk(_) => {
                // Said again, slower or louder, it still stands.
                if let Some((_, offered_at)) = &mut self.offered {
                    *offered_at = at;
                }
                None
            }
            Meaning::Command(_) | Meaning::Strip(_) | Meaning::Choose(_) => {
                self.forget();
                None
            }
        }
    }

    /// Something else has been said since: what is said next is not about a value.
    pub fn forget(&mut self) {
        self.offered = None;
        self.told = None;
    }

    /// Are names offered to choose from at this moment?
    pub fn offers(&self, at: At) -> bool {
        self.offered.as_ref().is_some_and(|(_, since)| at.0.saturating_sub(since.0) <= WAITS)
    }

    /// The offer that stands, once more; from now on it waits anew.
    pub fn again(&mut self, at: At, language: &Language, manner: &Manner) -> Option<Vec<Sentence>> {
        if !self.offers(at) {
            return None;
        }
        let (offered, since) = self.offered.as_mut()?;
        *since = at;
        let entries = offered.iter().filter_map(|at| self.shelf.get(*at)).map(|(_, entry)| entry).collect();
        Some(language.value_says(&ValueSay::Which(entries), manner))
    }

    fn asked(&mut self, asked: &Asked, language: &Language, manner: &Manner, at: At) -> Option<Vec<Sentence>> {
        let offered = self.offered.take();
        if asked.chosen && offered.is_none_or(|(_, since)| at.0.saturating_sub(since.0) > WAITS) {
            return None;
        }
        self.told = None;
        let found: Vec<(&Page, &Entry)> = asked.found.iter().filter_map(|at| self.shelf.get(*at)).collect();
        let say = match (found.as_slice(), asked.found.as_slice()) {
            ([(page, entry)], [found]) => {
                self.told = Some(*found);
                ValueSay::Told { entry, unit: None, source: self.one_of_several(page) }
            }
            ([], _) => ValueSay::Nothing { words: &asked.words },
            _ => {
                self.offered = Some((asked.found.clone(), at));
                ValueSay::Which(found.iter().map(|(_, entry)| *entry).collect())
            }
        };
        Some(language.value_says(&say, manner))
    }

    fn source(&self, language: &Language, manner: &Manner) -> Option<Vec<Sentence>> {
        let (page, entry) = self.shelf.get(self.told?)?;
        Some(language.value_says(&ValueSay::Source { source: &page.source, of: Some(entry) }, manner))
    }

    fn in_unit(&self, unit: TorqueUnit, language: &Language, manner: &Manner) -> Option<Vec<Sentence>> {
        let (page, entry) = self.shelf.get(self.told?)?;
        let source = self.one_of_several(page);
        Some(language.value_says(&ValueSay::Told { entry, unit: Some(unit), source }, manner))
    }
}
