//! Numbers beside the list of phrases: what the second listener compares one with, and when one is taken.
//!
//! Knows words only, and holds no state: what was heard once can be counted by it again.

use std::borrow::Cow;
use std::collections::HashSet;

use super::listener::begins;
use super::{Harm, Judgement, Open, Phrase};

/// What may have been said where this was heard: the list, and if it is a number, that and what sounds like it, goes on from it
/// or differs from it by a word. No list holds all of that.
pub fn offered<'a>(phrases: &'a [Phrase], open: Option<&dyn Open>, heard: &str) -> Cow<'a, [Phrase]> {
    let Some(open) = open else { return Cow::Borrowed(phrases) };
    let more = open.phrase(heard).map_or_else(|| open.near(heard), |number| vec![number]);
    let off = open.a_word_off(heard);
    if more.is_empty() && off.is_empty() {
        return Cow::Borrowed(phrases);
    }
    let mut all = phrases.to_vec();
    let others: Vec<String> = more.iter().flat_map(|phrase| open.instead_of(&phrase.text)).collect();
    all.extend(more.into_iter().filter(|more| phrases.iter().all(|phrase| phrase.text != more.text)));
    let mut seen: HashSet<String> = all.iter().map(|phrase| phrase.text.clone()).collect();
    let new = others.into_iter().filter(|text| seen.insert(text.clone()));
    let mut decoys: Vec<Phrase> = new.map(|text| Phrase { text, harm: Harm::Decoy }).collect();
    // First what means something: it may be worth a question.
    all.extend(off.into_iter().filter(|phrase| phrase.harm > Harm::Decoy || seen.insert(phrase.text.clone())));
    decoys.retain(|decoy| all.iter().all(|phrase| phrase.text != decoy.text));
    all.extend(decoys);
    Cow::Owned(all)
}

/// Is the phrase `at` one that may have been said where something else was heard? It is what the second listener likes best.
pub fn near(offered: &[Phrase], at: usize, heard: &str, best: Option<usize>, open: Option<&dyn Open>) -> bool {
    let near = || {
        let all = open.into_iter().flat_map(|open| open.near(heard).into_iter().chain(open.a_word_off(heard)));
        all.into_iter().any(|near| near.text == offered[at].text)
    };
    best == Some(at) && near()
}

/// What is taken and what is asked back, of a phrase that is believed or nearly so. What only [may have been said](near) is asked
/// back, however surely it is believed: words are missing, and more may be.
pub fn settled(
    phrase: Option<usize>,
    nearly: Option<usize>,
    whole: impl Fn(&usize) -> bool,
    may_be: impl Fn(&usize) -> bool,
) -> (Option<usize>, Option<usize>) {
    match phrase.filter(&whole) {
        None => (None, phrase.filter(&may_be).or(nearly.filter(|at| whole(at) || may_be(at)))),
        taken => (taken, None),
    }
}

/// May the phrase `at` be taken, of those offered? A number only as both listeners have heard it, with at least this lead over the
/// next one, however sure the first is of it: it loses a digit as surely as it hears one. Where one thing is told in many wordings the
/// second must not hear it go on. Anything else may.
pub fn whole(
    offered: &[Phrase],
    at: usize,
    heard: &str,
    judgement: Option<&Judgement>,
    lead: f32,
    open: Option<&dyn Open>,
) -> bool {
    let text = &offered[at].text;
    let Some(open) = open.filter(|open| open.phrase(text).is_some()) else { return true };
    // Alone the first has its own, stricter rule.
    let both = |judgement: &Judgement| match open.every_word_counts() {
        true => judgement.best == Some(at) && judgement.margin >= lead,
        false => judgement.best.is_none_or(|best| best == at || !begins(&offered[best].text, text)),
    };
    *text == heard && judgement.is_none_or(both)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Any number of "one" is a number.
    struct Ones;

    impl Open for Ones {
        fn phrase(&self, text: &str) -> Option<Phrase> {
            let number = text.split(' ').all(|word| word == "one");
            number.then(|| Phrase { text: text.into(), harm: Harm::Claims })
        }
        fn same(&self, one: &str, other: &str) -> bool {
            one == other
        }
        fn could_go_on(&self, _: &str) -> bool {
            true
        }
        fn instead_of(&self, text: &str) -> Vec<String> {
            vec![format!("{text} one"), "won".into()]
        }
    }

    fn list() -> Vec<Phrase> {
        ["next step", "one"].map(|text| Phrase { text: text.into(), harm: Harm::Claims }).to_vec()
    }

    #[test]
    fn a_number_brings_what_it_may_be_mistaken_for() {
        let list = list();
        let texts = |heard: &str, open: Option<&dyn Open>| -> Vec<String> {
            offered(&list, open, heard).iter().map(|phrase| phrase.text.clone()).collect()
        };
        assert_eq!(texts("one", Some(&Ones)), ["next step", "one", "one one", "won"]);
        assert_eq!(texts("one one", Some(&Ones)), ["next step", "one", "one one", "one one one", "won"]);
        assert_eq!(texts("next step", Some(&Ones)), ["next step", "one"]);
        assert_eq!(texts("one one", None), ["next step", "one"]);
    }

    #[test]
    fn what_only_may_have_been_said_is_asked_back() {
        let (yes, no) = (|_: &usize| true, |_: &usize| false);
        assert_eq!(settled(Some(1), None, yes, no), (Some(1), None));
        assert_eq!(settled(Some(1), None, no, yes), (None, Some(1)));
        assert_eq!(settled(Some(1), Some(2), no, yes), (None, Some(1)));
        assert_eq!(settled(None, Some(2), no, yes), (None, Some(2)));
        assert_eq!(settled(Some(1), Some(2), no, no), (None, None));
    }

    #[test]
    fn a_number_is_taken_to_its_end_only() {
        let all = offered(&list(), Some(&Ones), "one").into_owned();
        let taken = |at, heard, best, margin| {
            let judgement = Judgement { best, average: 0.0, over_noise: 9.0, margin };
            whole(&all, at, heard, Some(&judgement), 2.0, Some(&Ones))
        };
        assert!(taken(1, "one", Some(1), 2.0));
        assert!(whole(&all, 1, "one", None, 2.0, Some(&Ones)), "where nobody else listens");
        assert!(!taken(1, "one", Some(2), 2.0), "the second hears it go on");
        assert!(!taken(1, "one", None, 2.0), "the second hears none");
        assert!(!taken(1, "one", Some(1), 1.9), "to the second it may as well be another");
        assert!(!taken(1, "one one", Some(1), 2.0), "the first hears another");
        assert!(taken(0, "", Some(0), 0.0), "what is no number need not be heard by both");
    }
}
