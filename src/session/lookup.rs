//! Values asked by name: the pages of a session, what was offered to choose from, and the value that was told last.
//!
//! Speaks, and changes nothing: the job never hears of it, so a value asked for is never taken for that of the stage in hand;
//! the answer names the thing. Knows the moment of an offer, which lapses; leaves to its owner what else is being said.

use crate::dialogue::{Asked, Asks, Grammar, Language, Manner, Meaning, Sentence, ValueSay};
use crate::job::{Ask, At, Command};
use crate::quantity::TorqueUnit;
use crate::values::{Entry, Shelf};

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

    /// A typed line that is no command: does it ask for a value?
    pub fn read(&self, language: &Language, line: &str) -> Option<Asked> {
        language.value_meant(line, &self.asks, self.offered())
    }

    /// The answer to a meaning that is about values; nothing for any other, which also ends what was offered.
    pub fn answer(&mut self, meaning: &Meaning, language: &Language, manner: &Manner, at: At) -> Option<Vec<Sentence>> {
        match meaning {
            Meaning::Value(asked) => Some(self.asked(asked, language, manner, at)),
            Meaning::Command(Command::Ask(Ask::Source)) if self.told.is_some() => self.source(language, manner),
            Meaning::Command(Command::Ask(Ask::InUnit(unit))) if self.told.is_some() => {
                self.in_unit(*unit, language, manner)
            }
            Meaning::Talk(_) => {
                // Said again, slower or louder, it still stands.
                if let Some((_, offered_at)) = &mut self.offered {
                    *offered_at = at;
                }
                None
            }
            Meaning::Command(_) => {
                self.offered = None;
                self.told = None;
                None
            }
        }
    }

    fn asked(&mut self, asked: &Asked, language: &Language, manner: &Manner, at: At) -> Vec<Sentence> {
        let offered = self.offered.take();
        if asked.chosen && offered.is_none_or(|(_, since)| at.0.saturating_sub(since.0) > WAITS) {
            return Vec::new();
        }
        self.told = None;
        let entries: Vec<&Entry> = asked.found.iter().filter_map(|at| Some(self.shelf.get(*at)?.1)).collect();
        let say = match (entries.as_slice(), asked.found.as_slice()) {
            ([entry], [found]) => {
                self.told = Some(*found);
                ValueSay::Told { entry, unit: None }
            }
            ([], _) => ValueSay::Nothing { words: &asked.words },
            _ => {
                self.offered = Some((asked.found.clone(), at));
                ValueSay::Which(entries)
            }
        };
        language.value_says(&say, manner)
    }

    fn source(&self, language: &Language, manner: &Manner) -> Option<Vec<Sentence>> {
        let (page, entry) = self.shelf.get(self.told?)?;
        Some(language.value_says(&ValueSay::Source { source: &page.source, page: Some(&entry.page) }, manner))
    }

    fn in_unit(&self, unit: TorqueUnit, language: &Language, manner: &Manner) -> Option<Vec<Sentence>> {
        let (_, entry) = self.shelf.get(self.told?)?;
        Some(language.value_says(&ValueSay::Told { entry, unit: Some(unit) }, manner))
    }
}
