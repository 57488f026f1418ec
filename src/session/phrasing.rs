//! What a phrase is to a listener: what it costs if it was not meant, what denies it, and whether the program is saying it itself.

use crate::dialogue::{Language, Meaning};
use crate::job::Stake;
use crate::listen::{Denying, Harm};

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
pub(super) fn words(text: &str) -> Vec<String> {
    let words = text.split(|c: char| !(c.is_alphanumeric() || c == '\''));
    words.filter(|word| !word.is_empty()).map(str::to_lowercase).collect()
}

/// Is a phrase among the words that are being said?
pub(super) fn contains(said: &[String], phrase: &[String]) -> bool {
    !phrase.is_empty() && said.windows(phrase.len()).any(|window| window == phrase)
}

/// Is a phrase, or more than half of it in one piece, among the words that are being said? What is left of the voice in the
/// microphone is heard as what sounds like it: "how many left" as "how many more".
pub(super) fn own(said: &[String], phrase: &[String]) -> bool {
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
