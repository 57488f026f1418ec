//! Readings for a listener: of numbers there is no list, so it asks about the words that it heard; and which phrases of the
//! list ask for one value.
//!
//! Knows a grammar and what is being said; leaves to `dialogue` which words are a number or a name.

use super::phrasing::{contains, harm, words};
use crate::dialogue::{Grammar, Meaning};
use crate::job::{Command, Reading};
use crate::listen::{Harm, Open, Phrase};
use crate::strip;
use std::sync::Arc;

/// The readings of a grammar, in any words.
pub(super) struct Readings {
    grammar: Grammar,
    /// What the program is saying, in words.
    said: Vec<String>,
}

/// The readings of a grammar, for a listener.
pub fn readings(grammar: Grammar) -> Arc<dyn Open> {
    Arc::new(Readings::beside(grammar, ""))
}

impl Readings {
    /// Those that may be said while the program says `said`: its own words, heard as themselves, do nothing.
    pub(super) fn beside(grammar: Grammar, said: &str) -> Readings {
        Readings { grammar, said: words(said) }
    }
}

impl Open for Readings {
    fn phrase(&self, text: &str) -> Option<Phrase> {
        let meaning = self.grammar.reading(text)?;
        let harm = if contains(&self.said, &words(text)) { Harm::Decoy } else { harm(Some(&meaning)) };
        Some(Phrase { text: text.to_owned(), harm })
    }

    fn same(&self, one: &str, other: &str) -> bool {
        let number = || self.grammar.reading(one).is_some_and(|meaning| self.grammar.reading(other) == Some(meaning));
        // "Value for the sump bolt" and "value for sump bolt" ask for one thing, and sound so.
        match (self.grammar.lookup(one), self.grammar.lookup(other)) {
            (Some(Meaning::Value(one)), Some(Meaning::Value(other))) => one.found == other.found,
            _ => number(),
        }
    }

    fn could_go_on(&self, text: &str) -> bool {
        match self.grammar.meaning(text) {
            Some(Meaning::Command(Command::Reading(Reading { unit: None, .. }))) => true,
            // A width may follow; another stage, or the page; the rest of its number.
            Some(Meaning::Strip(told)) => matches!(
                told,
                strip::Command::Fasteners { size: None, .. } | strip::Command::Value { .. } | strip::Command::Page(_)
            ),
            _ => false,
        }
    }

    fn instead_of(&self, text: &str) -> Vec<String> {
        self.grammar.instead_of(text)
    }

    fn near(&self, heard: &str) -> Vec<Phrase> {
        self.grammar.perhaps(heard).iter().filter_map(|text| self.phrase(text)).collect()
    }

    fn every_word_counts(&self) -> bool {
        !self.grammar.is_of_a_strip_down()
    }

    fn a_word_off(&self, heard: &str) -> Vec<Phrase> {
        let decoy = |text: String| Phrase { text, harm: Harm::Decoy };
        self.grammar
            .a_word_off(heard)
            .into_iter()
            .map(|text| self.phrase(&text).unwrap_or_else(|| decoy(text)))
            .collect()
    }
}
