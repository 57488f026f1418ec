//! The one place where it is decided whether a phrase was said.
//!
//! Knows the phrases with the harm that a mistake could do, and what one or two listeners made of the sound. Pure.
//!
//! With two listeners a whole phrase of which vosk is sure is believed, unless the second likes another one or hears
//! something else altogether. Else the second's best phrase is the one in question, and what it needs depends on the harm
//! and on how vosk's words stand to it:
//!
//! | harm | vosk is sure: confidence | both heard the same | no phrase, half of its words | no phrase, sounds near | no phrase | another phrase | vosk alone: confidence |
//! | --- | --- | --- | --- | --- | --- | --- | --- |
//! | [`Harm::None`] | 0.95 | lax | lax | more | more | never | 0.95 |
//! | [`Harm::Moves`] | 0.95 | more, with a margin | much more, with a margin | never | never | much more, with a margin | 0.95 |
//! | [`Harm::Claims`] | 1 | more, with a margin | more, with a wide margin | never | never | never | 1 |
//! | [`Harm::Decoy`] | never | never | never | never | never | never | never |
//!
//! What sounds near is told by a lexicon ([`Relation::Near`]); a rule without one knows of nothing that does.
//!
//! A claim for the ledger is never believed on the word of the decoder alone. On that of vosk alone it is, because measured
//! on hours of talk and thousands of commands its sureness was worth more than a second opinion that knows nothing; and on that of
//! phones where vosk heard no phrase, if they are surer than of anything that was not said. What moonshine writes freely stops it
//! all the same (`doubt`).
//!
//! Its numbers stand in `numbers` and nowhere else: [`Rule::by_decoder`], [`Rule::by_phones`]. Which of them counts, whoever judges
//! says (`Judge::rule`). Unheard is better than misheard: whatever is not in the table was not said. vosk hears a phrase only as
//! a whole. The table is the decoder's.
//!
//! What is not believed may be worth a question: [`Rule::nearly`].
//!
//! `docs/hearing.md` has the operating point, measured on voices that nothing was chosen on; `tests/hearing.rs` holds the
//! figures of a fixed set, with counts, and fails when they worsen.

mod numbers;
mod relation;

use std::sync::Arc;

pub use relation::Relation;

use super::{Harm, Hypothesis, Judgement, Lexicon, Phrase};

/// What the second listener must think of its best phrase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thresholds {
    /// Least average log probability a token, or a phone.
    pub average: f32,
    /// Least lead over what noise alone would score, or any other phones.
    pub over_noise: f32,
    /// Least lead over the next phrase.
    pub margin: f32,
}

/// vosk's confidence that is enough for a question when nobody checks it.
const DOUBTFUL_CONFIDENCE: f32 = 0.6;

/// What it takes to believe a phrase of one harm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Needs {
    /// vosk's confidence where there is no second listener.
    pub alone: f32,
    /// vosk's confidence that is enough, unless the second listener is against it.
    pub sure: f32,
    /// What the second listener must think where vosk has heard the same phrase.
    pub same: Thresholds,
    /// Where vosk has heard no phrase, but half of the words of this one, in their order.
    pub half: Thresholds,
    /// Where vosk has heard no phrase, but what sounds near to this one.
    pub near: Thresholds,
    /// Where vosk has heard no phrase.
    pub nothing: Thresholds,
    /// Where vosk has heard another phrase.
    pub another: Thresholds,
}

/// What it takes to believe a phrase, by the harm that a mistake could do.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// For [`Harm::None`].
    pub none: Needs,
    /// For [`Harm::Moves`].
    pub moves: Needs,
    /// For [`Harm::Claims`].
    pub claims: Needs,
    /// Below this the second listener knows nothing: it had to name some phrase as its best.
    pub liked: Thresholds,
    /// Below this over noise it hears words that are no phrase.
    pub something_else: f32,
    /// The same where vosk's phrase claims or moves.
    pub something_else_where_it_counts: f32,
    /// Least lead over the next phrase that a number needs, however sure vosk is of it.
    pub number: f32,
    /// Enough for a question, if vosk has heard the same.
    pub doubtful: Thresholds,
    /// Enough for a question, whatever vosk has heard.
    pub plain: Thresholds,
    /// Does it look at other rows than the user's own takes, so that they are two where both like the same phrase best?
    pub apart_from_takes: bool,
    /// How words sound.
    pub sounds: Option<Arc<Lexicon>>,
}

/// Whatever the second listener thinks, it is not enough.
pub const NEVER: Thresholds = Thresholds { average: f32::INFINITY, over_noise: f32::INFINITY, margin: f32::INFINITY };

impl Rule {
    /// The same, which knows how words sound.
    pub fn sounding(self, sounds: Option<Arc<Lexicon>>) -> Rule {
        Rule { sounds, ..self }
    }

    /// What a phrase of this harm needs; a decoy is never believed.
    pub fn needs(&self, harm: Harm) -> Option<&Needs> {
        match harm {
            Harm::Decoy => None,
            Harm::None => Some(&self.none),
            Harm::Moves => Some(&self.moves),
            Harm::Claims => Some(&self.claims),
        }
    }

    /// Index of the phrase that was said, if one surely was.
    pub fn decide(&self, phrases: &[Phrase], heard: &Hypothesis, judgement: Option<&Judgement>) -> Option<usize> {
        let first = phrases.iter().position(|phrase| phrase.text == heard.text);
        let Some(judgement) = judgement else {
            return first
                .filter(|&at| self.needs(phrases[at].harm).is_some_and(|needs| heard.confidence >= needs.alone));
        };
        let best = judgement.best.filter(|&at| at < phrases.len());
        if let Some(at) = self.unopposed(phrases, first, best, judgement)
            && self.needs(phrases[at].harm).is_some_and(|needs| heard.confidence >= needs.sure)
        {
            return Some(at);
        }
        let best = best?;
        let needs = self.needs(phrases[best].harm)?;
        let relation = Relation::of(phrases, best, &heard.text, self.sounds.as_deref());
        needs.of(relation).met_by(judgement).then_some(best)
    }

    /// vosk's phrase, unless the second listener likes another one, or hears in the sound what is none of them.
    pub fn unopposed(
        &self,
        phrases: &[Phrase],
        first: Option<usize>,
        best: Option<usize>,
        judgement: &Judgement,
    ) -> Option<usize> {
        let likes_another = best.is_some() && best != first && self.liked.met_by(judgement);
        first.filter(|&at| {
            let least =
                if phrases[at].harm <= Harm::None { self.something_else } else { self.something_else_where_it_counts };
            !likes_another && judgement.over_noise >= least
        })
    }

    /// Index of a phrase that was perhaps said, where none surely was: one that would do something, so that it is worth a
    /// question ("Did you say: skip this step?"). A harmless one is simply said again.
    ///
    /// Either both listeners prefer it and one of them is in doubt, or the second is plainly for it and the first has not
    /// heard it.
    pub fn nearly(&self, phrases: &[Phrase], heard: &Hypothesis, judgement: Option<&Judgement>) -> Option<usize> {
        let first = phrases.iter().position(|phrase| phrase.text == heard.text);
        let perhaps = match judgement {
            None => first.filter(|_| heard.confidence >= DOUBTFUL_CONFIDENCE),
            Some(judgement) => {
                let best = judgement.best.filter(|&at| at < phrases.len());
                let both = first.filter(|_| best == first && self.doubtful.met_by(judgement));
                both.or(best.filter(|_| self.plain.met_by(judgement)))
            }
        };
        perhaps.filter(|&at| matches!(phrases[at].harm, Harm::Moves | Harm::Claims))
    }
}

impl Needs {
    /// What the second listener must think, where vosk's words stand so.
    pub fn of(&self, relation: Relation) -> &Thresholds {
        match relation {
            Relation::Same => &self.same,
            Relation::Half => &self.half,
            Relation::Near => &self.near,
            Relation::Nothing => &self.nothing,
            Relation::Another => &self.another,
        }
    }
}

impl Thresholds {
    /// Does the second listener think well enough of its best phrase?
    pub fn met_by(&self, judgement: &Judgement) -> bool {
        judgement.average >= self.average && judgement.over_noise >= self.over_noise && judgement.margin >= self.margin
    }
}

/// What was made of a stretch of sound, before it is asked whether it was denied.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Decided {
    /// The phrase that was said.
    pub phrase: Option<usize>,
    /// One that is worth a question, if none was.
    pub nearly: Option<usize>,
    /// Is it so plainly the user's own voice that says the first, or else the second, that only a denial counts against it?
    pub plain: bool,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::listen::Scored;
    use crate::listen::{Opinion, OwnRule};
    use proptest::prelude::*;

    const HARMS: [Harm; 4] = [Harm::Decoy, Harm::None, Harm::Moves, Harm::Claims];

    fn phrases() -> Vec<Phrase> {
        HARMS.iter().map(|&harm| Phrase { text: format!("{harm:?}").to_lowercase(), harm }).collect()
    }

    fn heard(text: &str, confidence: f32) -> Hypothesis {
        Hypothesis { text: text.into(), confidence }
    }

    /// By whoever judges.
    fn rules() -> [Rule; 2] {
        [Rule::by_decoder(), Rule::by_phones()]
    }

    fn rule(phones: bool) -> Rule {
        if phones { Rule::by_phones() } else { Rule::by_decoder() }
    }

    fn judged(best: usize, average: f32, over_noise: f32, margin: f32) -> Judgement {
        Judgement { best: Some(best), average, over_noise, margin }
    }

    #[test]
    fn alone_the_confidence_needed_grows_with_the_harm() {
        let phrases = phrases();
        for rule in rules() {
            let enough = |text: &str, c: i32| rule.decide(&phrases, &heard(text, c as f32 / 100.0), None).is_some();
            let lowest = |text: &str| (0..=100).find(|&c| enough(text, c));
            assert_eq!(lowest("decoy"), None);
            let (none, moves) = (lowest("none").unwrap(), lowest("moves").unwrap());
            assert!(none <= moves && lowest("claims").is_none_or(|claims| moves <= claims), "{none} {moves}");
            assert_eq!(lowest("claims claims"), None);
            assert_eq!(lowest(""), None);
        }
    }

    /// A phrase of two words, so that half of it can be heard, for each harm but the decoy; and a decoy.
    fn two_words() -> Vec<Phrase> {
        let phrase = |text: &str, harm| Phrase { text: text.into(), harm };
        vec![
            phrase("say again", Harm::None),
            phrase("go back", Harm::Moves),
            phrase("all done", Harm::Claims),
            phrase("next door", Harm::Decoy),
        ]
    }

    #[test]
    fn each_case_has_its_thresholds_and_they_are_kept_exactly() {
        rules().iter().for_each(keeps_its_thresholds);
    }

    fn keeps_its_thresholds(rule: &Rule) {
        let phrases = two_words();
        for (at, harm) in [Harm::None, Harm::Moves, Harm::Claims].into_iter().enumerate() {
            let text = &phrases[at].text;
            let half = text.split(' ').next().unwrap();
            for (said, relation) in [
                (text.as_str(), Relation::Same),
                (half, Relation::Half),
                ("", Relation::Nothing),
                ("next door", Relation::Another),
                (&phrases[(at + 1) % 3].text, Relation::Another),
            ] {
                assert_eq!(Relation::of(&phrases, at, said, None), relation);
                let needed = *rule.needs(harm).unwrap().of(relation);
                let decided = |average, over_noise, margin| {
                    // Where vosk is sure, it is its confidence that counts.
                    rule.decide(&phrases, &heard(said, 0.3), Some(&judged(at, average, over_noise, margin)))
                };
                if needed == NEVER {
                    assert_ne!(decided(-0.01, 40.0, 20.0), Some(at), "{text} {said:?}");
                    continue;
                }
                let Thresholds { average, over_noise, margin } = needed;
                assert_eq!(decided(average, over_noise, margin), Some(at), "{text} {said:?}");
                assert_ne!(decided(average - 0.1, over_noise, margin), Some(at), "{text} {said:?}");
                assert_ne!(decided(average, over_noise - 0.1, margin), Some(at), "{text} {said:?}");
                assert_ne!(decided(average, over_noise, margin - 0.1), Some(at), "{text} {said:?}");
            }
        }
    }

    #[test]
    fn what_sounds_near_has_its_own_thresholds_where_it_is_known_how_words_sound() {
        let phrase = |text: &str, harm| Phrase { text: text.into(), harm };
        let phrases = [phrase("no", Harm::Claims), phrase("now", Harm::Decoy)];
        let lexicon = Lexicon::parse("no N OW\nnow N AW\ni AY").unwrap();
        let near = Thresholds { average: -1.0, over_noise: 2.0, margin: 3.0 };
        let deaf = Rule { claims: Needs { near, ..Rule::by_decoder().claims }, ..Rule::by_decoder() };
        let rule = deaf.clone().sounding(Some(Arc::new(lexicon)));
        let enough = judged(0, -1.0, 2.0, 3.0);
        let decided =
            |rule: &Rule, text: &str, second: &Judgement| rule.decide(&phrases, &heard(text, 0.3), Some(second));
        assert_eq!(decided(&rule, "now", &enough), Some(0));
        for less in [judged(0, -1.1, 2.0, 3.0), judged(0, -1.0, 1.9, 3.0), judged(0, -1.0, 2.0, 2.9)] {
            assert_eq!(decided(&rule, "now", &less), None);
        }
        assert_eq!(decided(&rule, "i", &enough), None, "a vowel alone is not near");
        assert_eq!(decided(&deaf, "now", &enough), None);
        let never = Rule::by_decoder().sounding(rule.sounds.clone());
        assert_eq!(decided(&never, "now", &judged(0, -0.1, 20.0, 9.0)), None);
    }

    #[test]
    fn a_sure_first_is_believed_unless_the_second_is_against_it() {
        rules().iter().for_each(believes_a_sure_first);
    }

    fn believes_a_sure_first(rule: &Rule) {
        let phrases = two_words();
        for (at, harm) in [Harm::None, Harm::Moves, Harm::Claims].into_iter().enumerate() {
            let needed = rule.needs(harm).unwrap().sure;
            let decided = |confidence, judgement: &Judgement| {
                rule.decide(&phrases, &heard(&phrases[at].text, confidence), Some(judgement))
            };
            // It knows nothing, or it likes the same too little.
            let least = if at == 0 { rule.something_else } else { rule.something_else_where_it_counts };
            let lost = [judged(3, -6.0, least, 9.0), judged((at + 1) % 3, -6.0, least, 9.0), judged(99, 0.0, 9.0, 9.0)];
            for judgement in lost.into_iter().chain([judged(at, -6.0, least, 0.0)]) {
                assert_eq!(decided(1.0, &judgement), (needed <= 1.0).then_some(at));
                assert_eq!(decided((needed - 0.01).min(1.0), &judgement), None);
            }
            let Thresholds { average, over_noise, margin } = rule.liked;
            let other = judged((at + 1) % 3, average, over_noise, margin);
            assert_eq!(decided(1.0, &other), None, "another is liked, though not believed");
            for best in [at, (at + 1) % 3, 3, 99] {
                let else_ = judged(best, -4.1, least - 0.1, 0.9);
                assert_eq!(decided(1.0, &else_), None, "it hears words that are no phrase");
            }
        }
        assert_eq!(rule.decide(&phrases, &heard("next door", 1.0), Some(&judged(0, -6.0, -3.0, 9.0))), None);
    }

    #[test]
    fn no_claim_on_the_word_of_the_second() {
        let rule = Rule::by_decoder();
        assert_eq!((rule.claims.nothing, rule.claims.another), (NEVER, NEVER));
        let phrases = ["no that is wrong", "reading thirty", "reading thirteen"]
            .map(|text| Phrase { text: text.into(), harm: Harm::Claims });
        // Not when vosk has heard another whole phrase, though half of this one is in it.
        assert_eq!(rule.decide(&phrases, &heard("reading thirteen", 0.3), Some(&judged(1, -0.1, 20.0, 9.0))), None);
        assert_eq!(rule.decide(&phrases, &heard("hold is", 0.6), Some(&judged(0, -0.1, 20.0, 9.0))), None);
    }

    #[test]
    fn what_the_second_takes_for_a_decoy_is_not_done() {
        let phrases = phrases();
        for (rule, first) in
            rules().iter().flat_map(|rule| ["decoy", "none", "moves", "claims", ""].map(|one| (rule, one)))
        {
            assert_eq!(rule.decide(&phrases, &heard(first, 1.0), Some(&judged(0, -0.1, 20.0, 9.0))), None);
        }
    }

    #[test]
    fn of_what_phones_are_sure_it_is_not_asked_back_that_it_sounds_otherwise() {
        let phrases = two_words();
        let said = heard("all done", 1.0);
        let own = Opinion {
            scored: [(1, 0.2), (2, 0.9)].map(|(phrase, cost)| Scored { phrase, cost, likeness: -2.0 }).to_vec(),
        };
        let Thresholds { average, over_noise, margin } = Rule::by_phones().claims.nothing;
        let (sure, unsure) = (judged(2, average, over_noise, margin), judged(2, average - 0.1, over_noise, margin));
        let decided = |rule: Rule, judgement: &Judgement| {
            let decided = rule.with_own(&phrases, &said, Some(judgement), Some((&OwnRule::IN_USE, &own)));
            (decided.phrase, decided.nearly)
        };
        assert_eq!(decided(Rule::by_phones(), &sure), (Some(2), None));
        assert_eq!(decided(Rule::by_phones(), &unsure), (None, Some(2)));
        assert_eq!(decided(Rule::by_decoder(), &judged(2, -0.1, 20.0, 9.0)), (None, Some(2)));
    }

    proptest! {
        /// What is accepted was heard by somebody, is no decoy, and if it claims something, never by the second against
        /// the first.
        #[test]
        fn nothing_is_made_up(
            first in prop::option::of(0usize..4), confidence in 0.0f32..=1.0, second in prop::option::of(0usize..6),
            average in -6.0f32..0.0, over_noise in -5.0f32..15.0, margin in 0.0f32..8.0, alone in any::<bool>(),
            phones in any::<bool>(),
        ) {
            let phrases = phrases();
            let vosk = heard(first.map_or("decoy none", |at| &phrases[at].text), confidence);
            let judgement = Judgement { best: second, average, over_noise, margin };
            let accepted = rule(phones).decide(&phrases, &vosk, (!alone).then_some(&judgement));
            if let Some(at) = accepted {
                prop_assert_ne!(phrases[at].harm, Harm::Decoy);
                prop_assert!(first == Some(at) || !alone && second == Some(at));
                if phrases[at].harm == Harm::Claims && !alone {
                    prop_assert!(first == Some(at) || first.is_none());
                }
            }
        }

        /// Without a word of the user's own voice everything is as it was before there was one.
        #[test]
        fn without_an_own_voice_nothing_changes(
            first in prop::option::of(0usize..4), confidence in 0.0f32..=1.0, second in prop::option::of(0usize..6),
            average in -6.0f32..0.0, over_noise in -5.0f32..15.0, margin in 0.0f32..8.0, phones in any::<bool>(),
        ) {
            let (phrases, rule) = (phrases(), rule(phones));
            let vosk = heard(first.map_or("decoy none", |at| &phrases[at].text), confidence);
            let judgement = Judgement { best: second, average, over_noise, margin };
            for judgement in [None, Some(&judgement)] {
                let phrase = rule.decide(&phrases, &vosk, judgement);
                let asked = rule.nearly(&phrases, &vosk, judgement).filter(|_| phrase.is_none());
                let plain = Decided { phrase, nearly: asked, plain: false };
                prop_assert_eq!(rule.with_own(&phrases, &vosk, judgement, None), plain);
                // Nor if it knows none of the phrases.
                let nothing = Opinion::default();
                prop_assert_eq!(rule.with_own(&phrases, &vosk, judgement, Some((&OwnRule::IN_USE, &nothing))), plain);
            }
        }

        /// Whatever the user's own voice says: what would do harm is done only if a listener heard the very same, a decoy never,
        /// and what is vetoed is asked back.
        #[test]
        fn no_harm_on_its_word_alone(
            first in prop::option::of(0usize..4), confidence in 0.0f32..=1.0, second in prop::option::of(0usize..6),
            average in -6.0f32..0.0, over_noise in -5.0f32..15.0, margin in 0.0f32..8.0,
            costs in prop::collection::vec(0.001f32..1.0, 4), likeness in -1.0f32..0.0, others in any::<bool>(),
            phones in any::<bool>(),
        ) {
            let phrases = phrases();
            let vosk = heard(first.map_or("decoy none", |at| &phrases[at].text), confidence);
            let judgement = Judgement { best: second, average, over_noise, margin };
            let mut scored: Vec<Scored> =
                costs.iter().enumerate().map(|(phrase, &cost)| Scored { phrase, cost, likeness }).collect();
            scored.sort_by(|a, b| a.cost.total_cmp(&b.cost));
            let own = Opinion { scored };
            let (rule, by_own) = (rule(phones), OwnRule { others, ..OwnRule::IN_USE });
            let before = rule.decide(&phrases, &vosk, Some(&judgement));
            let decided = rule.with_own(&phrases, &vosk, Some(&judgement), Some((&by_own, &own)));
            let by_phones = phones && second.is_some();
            if let Some(at) = decided.phrase {
                let harm = phrases[at].harm;
                let heard_another = first.is_some_and(|first| first != at);
                prop_assert!(harm != Harm::Claims || !heard_another, "vosk heard another phrase");
                prop_assert!(harm == Harm::None || before == Some(at) || first == Some(at) || by_phones);
                prop_assert_ne!(harm, Harm::Decoy);
                prop_assert!(harm == Harm::None || first == Some(at) || second == Some(at));
                prop_assert_eq!(decided.nearly, None);
            } else if let Some(at) = before {
                prop_assert_eq!(decided.nearly, Some(at), "vetoed, so asked back");
                prop_assert!(!others, "others may speak");
            }
        }

        /// More confidence never turns an acceptance into a refusal.
        #[test]
        fn confidence_only_helps(at in 0usize..4, lower in 0.0f32..=1.0, higher in 0.0f32..=1.0, phones in any::<bool>()) {
            let (phrases, rule) = (phrases(), rule(phones));
            let (lower, higher) = (lower.min(higher), lower.max(higher));
            if rule.decide(&phrases, &heard(&phrases[at].text, lower), None).is_some() {
                prop_assert!(rule.decide(&phrases, &heard(&phrases[at].text, higher), None).is_some());
            }
        }
    }
}
