//! Phrases as a grammar of joined words, where the model has them.
//!
//! vosk makes a word bigram of a run-time grammar: "previous step" comes out as "previous stripped", because from any word it
//! may go on to any other at a price. A model of this project therefore has the pieces of phrases as single words too
//! (`models/training/listener/joined.py`): `previous_step`, with pauses allowed inside. Each has a twin, `previous_step~`, that
//! is said like it but for the very end. While both are in the grammar vosk cannot name the word before all of it was said;
//! and what was broken off is heard as that. The single words of phrases are in it as well, as something else that talk may be
//! made of: with phrases only, vosk finds some phrase in six of 600 sentences that are none, with the words in none of them.
//!
//! Knows how joined words are written; not which of them a model has, and no engine. A model without any gives the grammar
//! as it is.

use std::collections::BTreeSet;

use super::Phrase;

/// Stands between the words that are joined; no phrase may have it.
const JOINT: char = '_';
/// Ends the twin that is broken off; likewise.
const BROKEN_OFF: char = '~';
/// What a model writes for a sound that is none of its words, if it was made with it.
pub(super) const UNKNOWN: &str = "[unk]";

/// How the model writes a run of words as one.
pub(super) fn joined(run: &str) -> String {
    run.replace(' ', &JOINT.to_string())
}

/// The twin of a joined word.
pub(super) fn broken_off(joined: &str) -> String {
    format!("{joined}{BROKEN_OFF}")
}

/// The lines of a grammar for these phrases. `has` tells whether the model has a run of words as one, with its twin.
pub(super) fn grammar(phrases: &[&Phrase], mut has: impl FnMut(&str) -> bool) -> Vec<String> {
    let mut others = BTreeSet::new();
    let mut lines = Vec::with_capacity(phrases.len());
    for phrase in phrases {
        let mut line = String::with_capacity(phrase.text.len());
        let mut rest = phrase.text.as_str();
        while !rest.is_empty() {
            let run = longest(rest, &mut has);
            if !line.is_empty() {
                line.push(' ');
            }
            if run.contains(' ') {
                let word = joined(run);
                line.push_str(&word);
                others.insert(broken_off(&word));
                others.extend(run.split(' ').map(str::to_owned));
            } else {
                line.push_str(run);
            }
            rest = rest[run.len()..].trim_start_matches(' ');
        }
        lines.push(line);
    }
    lines.extend(others);
    lines
}

/// The longest beginning of a text that the model has as one word; a single word is taken to be there.
fn longest<'a>(text: &'a str, has: &mut impl FnMut(&str) -> bool) -> &'a str {
    let ends = text.match_indices(' ').map(|(at, _)| at);
    let first = ends.clone().next().unwrap_or(text.len());
    let runs = ends.skip(1).chain((first < text.len()).then_some(text.len()));
    runs.collect::<Vec<_>>().into_iter().rev().map(|end| &text[..end]).find(|run| has(run)).unwrap_or(&text[..first])
}

/// What was heard, in words; in place of what was broken off stands the unknown.
pub(super) fn words(heard: &str) -> String {
    let parts = heard.split(' ').map(|word| match word.strip_suffix(BROKEN_OFF) {
        Some(_) => UNKNOWN.to_owned(),
        None => word.replace(JOINT, " "),
    });
    parts.collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::listen::Harm;
    use proptest::prelude::*;

    fn phrases(texts: &[&str]) -> Vec<Phrase> {
        texts.iter().map(|text| Phrase { text: (*text).into(), harm: Harm::None }).collect()
    }

    #[test]
    fn the_longest_piece_that_the_model_has_is_joined() {
        let has = ["go to step", "twenty one", "go to"];
        let said = phrases(&["go to step twenty one", "go to step two", "go back", "yes"]);
        let found = grammar(&said.iter().collect::<Vec<_>>(), |run| has.contains(&run));
        assert_eq!(
            found,
            [
                "go_to_step twenty_one",
                "go_to_step two",
                "go back",
                "yes",
                "go",
                "go_to_step~",
                "one",
                "step",
                "to",
                "twenty",
                "twenty_one~"
            ]
        );
    }

    #[test]
    fn what_was_broken_off_is_unknown() {
        assert_eq!(words("go_to_step twenty_one"), "go to step twenty one");
        assert_eq!(words("take_a_break~"), "[unk]");
        assert_eq!(words("reading twenty_one~"), "reading [unk]");
        assert_eq!(words(""), "");
    }

    #[test]
    fn a_model_without_joined_words_gets_the_phrases_as_they_are() {
        assert_eq!(grammar(&phrases(&["go back", "yes"]).iter().collect::<Vec<_>>(), |_| false), ["go back", "yes"]);
    }

    proptest! {
        /// Whatever the model has, a grammar says its phrases, single words of them, and what was broken off.
        #[test]
        fn each_line_says_its_phrase(
            texts in prop::collection::vec("[ab]( [ab]){0,4}", 1..8),
            has in prop::collection::hash_set("[ab]( [ab]){1,3}", 0..8),
        ) {
            let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
            let lines = grammar(&phrases(&texts).iter().collect::<Vec<_>>(), |run| has.contains(run));
            let (said, others) = lines.split_at(texts.len());
            for (line, text) in said.iter().zip(&texts) {
                prop_assert_eq!(&words(line), text);
                for word in line.split(' ').filter(|word| word.contains(JOINT)) {
                    prop_assert!(has.contains(&words(word)));
                    prop_assert!(others.contains(&broken_off(word)));
                }
            }
            for other in others {
                prop_assert!(words(other) == UNKNOWN || texts.iter().any(|text| text.split(' ').any(|word| word == other)));
            }
        }
    }
}
