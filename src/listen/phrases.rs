//! What can be said about a list of phrases without hearing anything: whether it is well written, and which phrases
//! are the beginnings of others.
//!
//! Knows nothing of any engine's vocabulary.

use std::collections::{HashMap, HashSet};

use super::{Harm, ListenError, Phrase};

/// Refuses what would bring a recogniser down or never match: an empty list, quotes, capitals, stray spaces.
pub(super) fn check(phrases: &[Phrase]) -> Result<(), ListenError> {
    if phrases.is_empty() {
        return Err(ListenError::NoPhrases);
    }
    for phrase in phrases {
        if let Some(reason) = fault(&phrase.text) {
            return Err(ListenError::BadPhrase { phrase: phrase.text.clone(), reason });
        }
    }
    Ok(())
}

fn fault(text: &str) -> Option<String> {
    if text.is_empty() {
        return Some("it is empty".into());
    }
    if text.split(' ').any(str::is_empty) {
        return Some("it has a space too many".into());
    }
    // The recogniser's list is handed over as JSON without escaping, so a quote or a backslash ends the process.
    let odd = text.chars().find(|c| !(c.is_alphabetic() && !c.is_uppercase() || matches!(c, ' ' | '\'' | '-')));
    odd.map(|c| format!("{c:?} is not allowed in it"))
}

/// How far the words heard so far have come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Progress {
    /// No words yet.
    Nothing,
    /// Words, but not (yet) a phrase.
    Unfinished,
    /// A phrase that could go on: it is the beginning of a longer one. Or one that goes on from another by a single word, which
    /// a recogniser may hear before it hears that nothing was said there ("twenty one" at the end of "twenty"). Or one that means
    /// nothing, which talk may begin with: were talk ended there, its rest could be taken for a phrase.
    CouldGoOn,
    /// A phrase that nothing can follow.
    Whole,
}

/// The phrases that may be said now, ready to be looked up.
#[derive(Debug, Default)]
pub(super) struct PhraseBook {
    /// Each phrase, and whether it means something.
    index: HashMap<String, bool>,
    beginnings: HashSet<String>,
}

impl PhraseBook {
    pub(super) fn new(phrases: &[Phrase]) -> Self {
        let mut book = Self::default();
        for phrase in phrases {
            book.index.entry(phrase.text.clone()).or_insert(phrase.harm != Harm::Decoy);
            for (space, _) in phrase.text.match_indices(' ') {
                book.beginnings.insert(phrase.text[..space].to_owned());
            }
        }
        book
    }

    /// Is this one of them?
    pub(super) fn has(&self, words: &str) -> bool {
        self.index.contains_key(words)
    }

    pub(super) fn progress(&self, words: &str) -> Progress {
        let means = |words: &str| self.index.get(words).copied();
        match means(words) {
            _ if words.is_empty() => Progress::Nothing,
            None => Progress::Unfinished,
            Some(true)
                if !self.beginnings.contains(words)
                    && words.rsplit_once(' ').is_none_or(|(all_but_one, _)| means(all_but_one) != Some(true)) =>
            {
                Progress::Whole
            }
            Some(_) => Progress::CouldGoOn,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn phrase(text: &str) -> Phrase {
        Phrase { text: text.into(), harm: Harm::None }
    }

    #[test]
    fn what_ends_the_recogniser_is_refused() {
        assert!(matches!(check(&[]), Err(ListenError::NoPhrases)));
        for bad in [
            "",
            " ",
            "go  back",
            " go back",
            "go back ",
            "say \"stop\"",
            "a\\b",
            "Go back",
            "step 2",
            "a\nb",
            "a\0b",
            "[unk]",
        ] {
            assert!(matches!(check(&[phrase(bad)]), Err(ListenError::BadPhrase { .. })), "{bad:?} was let through");
        }
        check(&[phrase("what's next"), phrase("go back"), phrase("größe"), phrase("re-read")]).unwrap();
    }

    #[test]
    fn a_beginning_of_a_longer_phrase_could_go_on() {
        let book = PhraseBook::new(&["go to step twenty", "go to step twenty one", "go back"].map(phrase));
        assert_eq!(book.progress(""), Progress::Nothing);
        assert_eq!(book.progress("go to"), Progress::Unfinished);
        assert_eq!(book.progress("go to step twenty"), Progress::CouldGoOn);
        assert_eq!(book.progress("go to step twenty one"), Progress::CouldGoOn, "the last word may go again");
        assert_eq!(book.progress("go back"), Progress::Whole);
        assert_eq!(book.progress("back"), Progress::Unfinished);
    }

    #[test]
    fn what_means_nothing_could_go_on_as_talk_does() {
        let decoy = |text: &str| Phrase { text: text.into(), harm: Harm::Decoy };
        let book = PhraseBook::new(&[decoy("somebody"), decoy("not"), phrase("not sure"), decoy("what time")]);
        for text in ["somebody", "not", "what time"] {
            assert_eq!(book.progress(text), Progress::CouldGoOn, "{text}");
        }
        assert_eq!(book.progress("not sure"), Progress::Whole, "\"not\" alone would mean nothing");
    }

    proptest! {
        /// Whatever passes cannot break out of the quoted list that the recogniser is handed.
        #[test]
        fn no_checked_phrase_needs_escaping(text in "\\PC{0,12}|[a-z' \"\\\\\u{0}-\u{1f}]{0,8}") {
            if check(&[phrase(&text)]).is_ok() {
                let quoted = serde_json::to_string(&text).unwrap();
                prop_assert_eq!(quoted, format!("\"{text}\""));
            }
        }

        /// A phrase that means something is always whole or could go on, and is whole exactly if no longer one begins with it and it is
        /// not one with a word more.
        #[test]
        fn every_phrase_is_found(texts in prop::collection::vec("[ab]( [ab]){0,3}", 1..8)) {
            let phrases: Vec<_> = texts.iter().map(|t| phrase(t)).collect();
            let book = PhraseBook::new(&phrases);
            for text in &texts {
                let longer = texts.iter().any(|other| other.starts_with(&format!("{text} ")));
                let a_word_more = text.rsplit_once(' ').is_some_and(|(shorter, _)| texts.iter().any(|other| other == shorter));
                let expected = if longer || a_word_more { Progress::CouldGoOn } else { Progress::Whole };
                prop_assert_eq!(book.progress(text), expected);
            }
        }
    }
}
