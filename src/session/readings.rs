//! Readings for a listener: of numbers there is no list, so it asks about the words that it heard.
//!
//! Knows a grammar and what is being said; leaves to `dialogue` which words are a number.

use super::conversation::{contains, harm, words};
use crate::dialogue::{Grammar, Meaning};
use crate::job::{Command, Reading};
use crate::listen::{Harm, Open, Phrase};
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
        self.grammar.reading(one).is_some_and(|meaning| self.grammar.reading(other) == Some(meaning))
    }

    fn could_go_on(&self, text: &str) -> bool {
        matches!(self.grammar.reading(text), Some(Meaning::Command(Command::Reading(Reading { unit: None, .. }))))
    }

    fn instead_of(&self, text: &str) -> Vec<String> {
        self.grammar.instead_of(text)
    }
}
