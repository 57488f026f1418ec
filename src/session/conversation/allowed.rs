//! What may be said at a moment of a conversation, and what a mistake about it would cost.

use super::super::readings::Readings;
use super::Conversation;
use crate::dialogue::{Grammar, Language, Meaning, Talk};
use crate::job::{Command, Expect, Stake};
use crate::listen::{Denying, Harm, Open, Phrase};
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

/// What a phrase costs if it was not meant. The one place that says so: the session, the bench and the tests go by it.
pub fn harm(meaning: Option<&Meaning>) -> Harm {
    match meaning.map(Meaning::stake) {
        None => Harm::Decoy,
        Some(Stake::Nothing) => Harm::None,
        Some(Stake::Position) => Harm::Moves,
        Some(Stake::Ledger) => Harm::Claims,
    }
}

/// The words of a language that stop a phrase beside which they are heard.
pub fn denying(language: &Language) -> Denying {
    let (words, endings) = language.denying();
    Denying::new(words, endings)
}

/// The words of a text in lower case, without marks.
pub(in crate::session) fn words(text: &str) -> Vec<String> {
    let words = text.split(|c: char| !(c.is_alphanumeric() || c == '\''));
    words.filter(|word| !word.is_empty()).map(str::to_lowercase).collect()
}

/// Is a phrase among the words that are being said?
pub(in crate::session) fn contains(said: &[String], phrase: &[String]) -> bool {
    !phrase.is_empty() && said.windows(phrase.len()).any(|window| window == phrase)
}

/// Is a phrase, or more than half of it in one piece, among the words that are being said? What is left of the voice in the
/// microphone is heard as what sounds like it: "how many left" as "how many more".
pub(in crate::session) fn own(said: &[String], phrase: &[String]) -> bool {
    let piece = (phrase.len() / 2 + 1).max(2).min(phrase.len());
    piece > 0 && phrase.windows(piece).any(|piece| contains(said, piece))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_being_said_is_found_whatever_stands_between_the_words() {
        let said = words("You can say: next step, Stage complete. I'm stuck.");
        for phrase in ["next step", "stage complete", "i'm stuck"] {
            assert!(contains(&said, &words(phrase)), "{phrase}");
        }
        for phrase in ["", "next stage", "complete i", "step next"] {
            assert!(!contains(&said, &words(phrase)), "{phrase}");
        }
    }

    #[test]
    fn what_begins_or_ends_like_what_is_being_said_may_be_the_voice_too() {
        let said = words("You can say: how many left, that one is done, stage complete.");
        for phrase in
            ["how many more", "how many left", "that one is not done", "stage complete", "that one is finished"]
        {
            assert!(own(&said, &words(phrase)), "{phrase}");
        }
        for phrase in
            ["", "how long", "next one", "not done", "all done", "how much torque", "how far is it", "stage two"]
        {
            assert!(!own(&said, &words(phrase)), "{phrase}");
        }
    }
}
