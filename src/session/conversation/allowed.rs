//! What may be said at a moment of a conversation, and what a mistake about it would cost.

use super::super::readings::Readings;
use super::Conversation;
use crate::dialogue::{Grammar, Meaning, Talk};
use crate::job::{Command, Expect};
use crate::listen::{Harm, Open, Phrase};
use crate::session::phrasing::{harm, own, words};
use std::sync::Arc;

impl Conversation {
    /// What may be said now.
    pub(super) fn grammar(&self) -> Grammar {
        if self.waiting {
            return self.language.waiting_grammar(self.repair.waits());
        }
        if self.noting {
            return self.language.note_grammar();
        }
        let grammar = self.language.grammar(&self.expect(), self.listening);
        let grammar = if self.tools.has_adapters() { grammar } else { without_adapters(grammar) };
        if self.listening { self.lookup.grammar(&self.language, grammar) } else { grammar }
    }

    /// What may be said now, with what a mistake would cost.
    pub fn phrases(&self) -> Vec<Phrase> {
        phrases_for(&self.grammar(), &self.job.expects())
    }

    /// What may be said while the program says `said`, or has just said it. Its own words may come back through the
    /// microphone; heard as themselves they do nothing.
    pub fn phrases_beside(&self, said: &str) -> Vec<Phrase> {
        let mut phrases = self.phrases();
        let said = words(said);
        for phrase in phrases.iter_mut().filter(|phrase| own(&said, &words(&phrase.text))) {
            phrase.harm = Harm::Decoy;
        }
        phrases
    }

    /// The readings that may be said while the program says `said`, for which there is no list.
    pub fn readings_beside(&self, said: &str) -> Arc<dyn Open> {
        Arc::new(Readings::beside(self.grammar(), said))
    }

    /// What the job awaits, to know when [`Conversation::phrases`] would differ.
    pub fn expects(&self) -> (Expect, bool) {
        (self.expect(), self.listening)
    }

    /// What was offered of the values, and whether one was told: the phrases depend on that as well.
    pub fn offers(&self) -> (Vec<usize>, bool) {
        self.lookup.state()
    }

    /// What the job awaits, and an answer to what was asked back.
    pub(super) fn expect(&self) -> Expect {
        let in_hand = self.job.pending().filter(|_| self.job.question().is_none());
        let expect = self.spoken.expect(self.job.expects(), in_hand);
        Expect { yes_no: expect.yes_no || self.repair.waits(), ..expect }
    }
}

/// A grammar for somebody who has no adapters.
pub fn without_adapters(grammar: Grammar) -> Grammar {
    grammar.without(|m| matches!(m, Meaning::Talk(Talk::Adapter(_) | Talk::AdapterAngle(_) | Talk::NoAdapter)))
}

/// The phrases of a grammar, with what a mistake would cost.
pub fn phrases(grammar: &Grammar) -> Vec<Phrase> {
    grammar.iter().map(|(text, meaning)| Phrase { text: text.to_owned(), harm: harm(meaning) }).collect()
}

/// The same for what is expected at a moment of a job, where a "no" may claim something.
pub fn phrases_for(grammar: &Grammar, expect: &Expect) -> Vec<Phrase> {
    let mut phrases = phrases(grammar);
    if expect.no_claims {
        let no = |text: &str| grammar.lookup(text) == Some(&Meaning::Command(Command::No));
        phrases.iter_mut().filter(|phrase| no(&phrase.text)).for_each(|phrase| phrase.harm = Harm::Claims);
    }
    phrases
}
