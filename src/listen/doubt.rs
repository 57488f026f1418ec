//! What stops a phrase that the rule believes: words of denial or doubt that were heard beside it, and what the second listener
//! writes down when it is let write freely.
//!
//! Both listeners look for phrases, so what is near to one is drawn to it: "that one is never done" to "that one is done". Written
//! freely the denial is there in most cases, and where it is not, what stands there is mostly far from the phrase and much
//! likelier than it. On noise the second listener makes sentences up, so what it writes freely is never believed: it can only
//! stop; and of what it finds no likelier than the phrase it does not even that ("carry on" is written "Kerryon"). It costs some
//! 100 ms, so it is asked for a claim and for a move only.
//!
//! Knows words, and how a phrase may be written; not what one means, and no sound. Its limits were set by the cases that the
//! voices that may be tuned on gave, not by the calibration, and what it leaves to a sure first listener after a look at voices
//! that results are reported on (`docs/hearing.md` says so).

use super::judge::spellings;
use super::{Harm, Hypothesis, Phrase, Written};

/// What was written with a denial stops a phrase if it is so much likelier than that; if it is not, it is asked back unless the first
/// listener heard the phrase. On the voices and people that may be tuned on
/// 11 of 12 right phrases beside which a denial was made up stay below this, and what had to be stopped begins at 10.
const DENIED: f32 = 5.0;
/// What was written without one counts from here on.
const AHEAD: f32 = 6.0;
/// But for what is as like to the phrase as this.
const ALIKE: f64 = 0.85;
/// Below this the phrase is not even worth a question.
const NEAR: f64 = 0.5;
/// The first listener is sure of a phrase from this confidence on.
const SURE: f32 = 0.95;

/// Words that deny, doubt or come close, in the language that is spoken.
#[derive(Debug, Clone, Default)]
pub struct Denying {
    words: Vec<String>,
    endings: Vec<String>,
}

/// Is the first listener sure of this phrase? Its denied forms stand beside it in the grammar. Then a word of denial still
/// counts, but not that the second writes something else, as it does in noise and of voices that it does not know.
pub fn plainly(phrase: &Phrase, heard: &Hypothesis) -> bool {
    heard.text == phrase.text && heard.confidence >= SURE
}

/// What is to be made of a phrase.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Nothing speaks against it.
    Stands,
    /// Something else was said that is like it: it may be asked back.
    Doubtful,
    /// It was denied, or something else was said.
    Falls,
}

impl Denying {
    /// Words, and ends of words.
    pub fn new(words: &[String], endings: &[String]) -> Self {
        Self { words: words.to_vec(), endings: endings.to_vec() }
    }

    /// Does a text deny more often than the phrase does? "Not sure" is a phrase of its own.
    pub fn denies(&self, phrase: &str, text: &str) -> bool {
        self.count(&plain(text)) > self.count(phrase)
    }

    fn count(&self, text: &str) -> usize {
        let denies = |word: &str| {
            self.words.iter().any(|known| known == word) || self.endings.iter().any(|end| word.ends_with(end.as_str()))
        };
        text.split(' ').filter(|word| denies(word)).count()
    }

    /// What becomes of a phrase that is believed, or nearly: `heard` are the first listener's words, `written` is what the second
    /// wrote, if it was asked; `plain` tells whether the first heard it [`plainly`].
    pub fn verdict(&self, phrase: &Phrase, heard: &str, written: Option<&Written>, plain: bool) -> Verdict {
        if phrase.harm <= Harm::None {
            return Verdict::Stands;
        }
        if self.denies(&phrase.text, heard) {
            return Verdict::Falls;
        }
        let Some(written) = written else { return Verdict::Stands };
        if self.denies(&phrase.text, &written.text) {
            match heard == phrase.text {
                _ if written.ahead > DENIED => return Verdict::Falls,
                // The first listener lost words, too: perhaps that very one.
                false => return Verdict::Doubtful,
                true => {}
            }
        }
        match likeness(&phrase.text, &written.text) {
            _ if plain => Verdict::Stands,
            alike if alike >= ALIKE || written.ahead <= AHEAD => Verdict::Stands,
            alike if alike >= NEAR => Verdict::Doubtful,
            _ => Verdict::Falls,
        }
    }
}

/// How like a text is to a phrase, 0 to 1, by the letters: to that of its spellings that is most like it.
pub fn likeness(phrase: &str, written: &str) -> f64 {
    let written = plain(written);
    let all = spellings(phrase).into_iter().map(|spelled| strsim::normalized_levenshtein(&plain(&spelled), &written));
    all.fold(0.0, f64::max)
}

/// Lower case, without marks other than within words, single spaces.
fn plain(text: &str) -> String {
    let lower = text.to_lowercase().replace('’', "'");
    let words = lower.split(|c: char| !(c.is_alphanumeric() || c == '\'' || c == '.'));
    let words = words.map(|word| word.trim_matches(['.', '\''])).filter(|word| !word.is_empty());
    words.collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn denying() -> Denying {
        Denying::new(&["not".into(), "never".into(), "nearly".into(), "no".into()], &["n't".into()])
    }

    /// Written, and much likelier than the phrase.
    fn far(text: &str) -> Written {
        Written { text: text.into(), ahead: 20.0 }
    }

    fn claim(text: &str) -> Phrase {
        Phrase { text: text.into(), harm: Harm::Claims }
    }

    #[test]
    fn a_denial_that_is_written_stops_a_claim() {
        for (phrase, written) in [
            ("that one is done", "That one isn't done."),
            ("that one is done", "That one isn’t done"),
            ("that one is done", "That one is never done."),
            ("that is finished", "That is nearly finished."),
            ("yes that is right", "Yes, that is not right."),
            ("not sure", "I'm not, not sure."),
        ] {
            assert_eq!(
                denying().verdict(&claim(phrase), phrase, Some(&far(written)), false),
                Verdict::Falls,
                "{written}"
            );
        }
    }

    #[test]
    fn a_claim_that_is_written_as_it_is_stands() {
        for (phrase, written) in [
            ("that one is done", "That one's done."),
            ("not sure", "Not sure."),
            ("i am not sure", "I'm not sure!"),
            ("no that is wrong", "No, that's wrong."),
            ("reading thirty eight point five", "Reading 38.5."),
            ("reading seventy newton metres", "Reading 70 newton meters."),
            ("reading seventy", "Reading seventy"),
            ("stage complete", "Stage completed."),
        ] {
            assert_eq!(
                denying().verdict(&claim(phrase), phrase, Some(&far(written)), false),
                Verdict::Stands,
                "{written}"
            );
        }
    }

    #[test]
    fn what_is_no_likelier_than_the_phrase_stops_nothing() {
        for (phrase, text) in
            [("carry on", "Kerryon,"), ("next step", "Look, step, step."), ("yes that is right", "Yes, not in riot.")]
        {
            let written = Written { text: text.into(), ahead: -0.5 };
            assert_eq!(denying().verdict(&claim(phrase), phrase, Some(&written), false), Verdict::Stands, "{text}");
        }
    }

    #[test]
    fn a_denial_that_is_written_is_asked_about_where_the_first_did_not_hear_the_phrase() {
        let phrase = Phrase { text: "i have lost it".into(), harm: Harm::Moves };
        let written = Written { text: "I haven't lost it.".into(), ahead: 2.8 };
        assert_eq!(denying().verdict(&phrase, "i lost it", Some(&written), false), Verdict::Doubtful);
        assert_eq!(denying().verdict(&phrase, "i have lost it", Some(&written), false), Verdict::Stands);
    }

    #[test]
    fn what_is_far_from_the_phrase_stops_it() {
        let verdict = |phrase: &str, written| denying().verdict(&claim(phrase), phrase, Some(&far(written)), false);
        assert_eq!(verdict("the bolt broke", "The boat is in the road."), Verdict::Falls);
        assert_eq!(verdict("that one is done", "Is that one done?"), Verdict::Doubtful);
        assert_eq!(verdict("stage complete", ""), Verdict::Falls);
    }

    #[test]
    fn what_the_first_heard_plainly_is_stopped_by_a_denial_alone() {
        let verdict =
            |written| denying().verdict(&claim("stage complete"), "stage complete", Some(&far(written)), true);
        assert_eq!(verdict("Skage copy."), Verdict::Stands);
        assert_eq!(verdict("The stage is not complete."), Verdict::Falls);
        let phrase = claim("stage complete");
        let heard = |text: &str, confidence| Hypothesis { text: text.into(), confidence };
        assert!(plainly(&phrase, &heard("stage complete", SURE)));
        assert!(!plainly(&phrase, &heard("stage complete", SURE - 0.01)));
        assert!(!plainly(&phrase, &heard("all done", 1.0)));
    }

    #[test]
    fn a_denial_in_the_first_listeners_words_is_enough() {
        let step = Phrase { text: "go to step two".into(), harm: Harm::Moves };
        assert_eq!(denying().verdict(&step, "not go to step two", None, false), Verdict::Falls);
        assert_eq!(denying().verdict(&step, "go to step", None, false), Verdict::Stands);
        let again = Phrase { text: "say again".into(), harm: Harm::None };
        assert_eq!(
            denying().verdict(&again, "never say again", Some(&far("Never")), false),
            Verdict::Stands,
            "it does no harm"
        );
    }

    proptest! {
        /// Whatever is written: with a word of denial more than the phrase has it never stands.
        #[test]
        fn a_denial_anywhere_stops_it(before in "[a-z ]{0,12}", after in "[a-z ]{0,12}", word in prop::sample::select(vec!["not", "never", "don't", "NOT"])) {
            let written = format!("{before} {word} {after}");
            prop_assert_eq!(denying().verdict(&claim("all done"), "all done", Some(&far(&written)), false), Verdict::Falls);
        }

        #[test]
        fn likeness_is_a_share(phrase in "[a-z]{1,6}( [a-z]{1,6}){0,3}", written in "\\PC{0,30}") {
            prop_assert!((0.0..=1.0).contains(&likeness(&phrase, &written)));
            prop_assert!(likeness(&phrase, &phrase) > 0.999);
        }
    }
}
