//! How the first listener's words stand to the phrase that the second likes best.
//!
//! Knows words and how they are pronounced; not what is asked of either listener. Pure.
//!
//! [`Relation::Near`] is for short words, of which the first listener makes small words of talk that sound alike: "eight" comes
//! out as "it", "no" as "now". Two texts sound near if, of all pairs of ways to say them, there is one in which they have
//! phones in common, in the same order, not necessarily neighbours, that come to half of those of the longer one at least.
//! Two different vowels count half of one. Both are measured, so that a sentence is not near to every short word in it, and no
//! short word to every sentence.

use super::{Harm, Phrase};
use crate::listen::Lexicon;
use crate::listen::judge::is_vowel;

/// What vosk has heard, seen from the phrase that the second listener likes best.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Relation {
    /// The same.
    Same,
    /// No phrase, but half of its words.
    Half,
    /// No phrase, or a single word that means nothing, and it sounds near. Without a lexicon nothing does.
    Near,
    /// No phrase.
    Nothing,
    /// Another phrase.
    Another,
}

/// Ways to say a text that are looked at, at most: words with several ways multiply.
const MOST_WAYS: usize = 32;

impl Relation {
    /// All of them.
    pub const ALL: [Relation; 5] =
        [Relation::Same, Relation::Half, Relation::Near, Relation::Nothing, Relation::Another];

    /// How the words heard stand to the phrase `at` of those allowed.
    pub fn of(phrases: &[Phrase], at: usize, heard: &str, sounds: Option<&Lexicon>) -> Relation {
        let phrase = &phrases[at].text;
        let whole = phrases.iter().find(|phrase| phrase.text == heard);
        // A longer one that means nothing was put in the list so that it is heard as itself.
        let talk = whole.is_none_or(|whole| whole.harm == Harm::Decoy && !heard.contains(' '));
        match whole {
            _ if phrase == heard => Relation::Same,
            None if half_heard(phrase, heard) => Relation::Half,
            _ if talk && sounds.is_some_and(|sounds| sounds_near(phrase, heard, sounds)) => Relation::Near,
            None => Relation::Nothing,
            Some(_) => Relation::Another,
        }
    }
}

/// Whether at least half of the words of `phrase` are among those heard, in the same order.
fn half_heard(phrase: &str, heard: &str) -> bool {
    let (words, heard): (Vec<&str>, Vec<&str>) = (phrase.split(' ').collect(), heard.split_whitespace().collect());
    2 * common(&words, &heard, |word, said| usize::from(word == said)) >= words.len()
}

/// Whether two texts have half of their phones in common. A word without a pronunciation has none.
fn sounds_near(one: &str, other: &str, lexicon: &Lexicon) -> bool {
    let (one, other) = (ways(one, lexicon), ways(other, lexicon));
    // In halves of a phone.
    let alike = |a: &u8, b: &u8| match a == b {
        true => 2,
        false => usize::from(is_vowel(*a) && is_vowel(*b)),
    };
    let near = |a: &[u8], b: &[u8]| !a.is_empty() && !b.is_empty() && common(a, b, alike) >= a.len().max(b.len());
    one.iter().any(|a| other.iter().any(|b| near(a, b)))
}

/// The ways to say a text.
fn ways(text: &str, lexicon: &Lexicon) -> Vec<Vec<u8>> {
    let mut all = vec![Vec::new()];
    for ways in text.split_whitespace().map(|word| lexicon.ways(word)).filter(|ways| !ways.is_empty()) {
        let longer = all.iter().flat_map(|begun: &Vec<u8>| ways.iter().map(|way| [&begun[..], way].concat()));
        all = longer.take(MOST_WAYS).collect();
    }
    all
}

/// What two rows have in common in the same order, not necessarily neighbours, each pair of it counting what `alike` says.
fn common<T>(one: &[T], other: &[T], alike: impl Fn(&T, &T) -> usize) -> usize {
    // One row of the usual table.
    let mut common = vec![0; one.len() + 1];
    for b in other {
        let mut diagonal = 0;
        for (at, a) in one.iter().enumerate() {
            let above = common[at + 1];
            common[at + 1] = above.max(common[at]).max(diagonal + alike(a, b));
            diagonal = above;
        }
    }
    common[one.len()]
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::path::Path;

    fn lexicon() -> Lexicon {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        Lexicon::read(&root.join("models/listener-en/lexicon.txt")).unwrap()
    }

    #[test]
    fn words_count_in_their_order() {
        assert!(half_heard("no that is wrong", "hold wrong is wrong"));
        assert!(!half_heard("no that is wrong", "wrong is"));
        assert!(half_heard("all done", "the all done that"));
        assert!(!half_heard("all done", ""));
        assert!(half_heard("that one is done", "that is"));
    }

    #[test]
    fn small_words_sound_near_to_what_they_stand_for() {
        let lexicon = lexicon();
        let near = |one: &str, other: &str| {
            let near = sounds_near(one, other, &lexicon);
            assert_eq!(near, sounds_near(other, one, &lexicon), "{one}, {other}");
            near
        };
        for (said, heard) in
            [("eight", "it"), ("no", "now"), ("two", "to"), ("yes", "yeah"), ("next step", "next that")]
        {
            assert!(near(said, heard), "{said} as {heard}");
        }
        // A third of it; another vowel alone; the whole of it within much else; nothing.
        for (said, heard) in [("five", "i"), ("no", "i"), ("yes", "what does he say yesterday"), ("yes", ""), ("", "")]
        {
            assert!(!near(said, heard), "{said} as {heard}");
        }
        // Nothing is known of how these sound.
        assert!(!near("eight", "[unk]") && !near("wibble", "wibble"));
    }

    #[test]
    fn what_is_no_phrase_or_one_word_of_talk_may_be_near() {
        let phrase = |text: &str, harm| Phrase { text: text.into(), harm };
        let phrases = [
            phrase("no", Harm::Claims),
            phrase("now", Harm::Decoy),
            phrase("next step", Harm::Moves),
            phrase("next steps", Harm::Decoy),
            phrase("know", Harm::None),
        ];
        let lexicon = lexicon();
        for (at, heard, with, without) in [
            (0, "no", Relation::Same, Relation::Same),
            (0, "now", Relation::Near, Relation::Another),
            (0, "not", Relation::Near, Relation::Nothing),
            (0, "i", Relation::Nothing, Relation::Nothing),
            (0, "", Relation::Nothing, Relation::Nothing),
            // Heard as themselves, however they sound.
            (0, "know", Relation::Another, Relation::Another),
            (2, "next steps", Relation::Another, Relation::Another),
            (2, "next that", Relation::Half, Relation::Half),
            (2, "text that", Relation::Near, Relation::Nothing),
        ] {
            assert_eq!(Relation::of(&phrases, at, heard, Some(&lexicon)), with, "{at} {heard}");
            assert_eq!(Relation::of(&phrases, at, heard, None), without, "{at} {heard}");
        }
    }

    proptest! {
        /// In common is never more than either has, all of it with itself, and the same from both sides.
        #[test]
        fn what_is_in_common(one in prop::collection::vec(0u8..4, 0..9), other in prop::collection::vec(0u8..4, 0..9)) {
            let count = |a: &[u8], b: &[u8]| common(a, b, |a, b| usize::from(a == b));
            prop_assert_eq!(count(&one, &one), one.len());
            prop_assert_eq!(count(&one, &other), count(&other, &one));
            prop_assert!(count(&one, &other) <= one.len().min(other.len()));
        }
    }
}
