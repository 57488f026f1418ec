//! The one place where it is decided whether a phrase was said.
//!
//! Knows the phrases with the harm that a mistake could do, and what one or two listeners made of the sound. Pure.
//!
//! The rule, by harm:
//!
//! | harm | vosk alone: confidence | with the second listener: one of |
//! | --- | --- | --- |
//! | [`Harm::None`] | 0.7 | both agree; the second strictly, or plainly while vosk hears no phrase; vosk at 0.9 while the second prefers it or knows nothing better |
//! | [`Harm::Moves`] | 0.85 | both agree; the second strictly |
//! | [`Harm::Claims`] | 0.95 | both agree; the second strictly while vosk hears no phrase, but half of this one's words |
//! | [`Harm::Decoy`] | never | never |
//!
//! vosk hears a phrase only as a whole. "Agree": the second listener prefers the same one under its normal thresholds.
//! Unheard is better than misheard: in every other case nothing was said. `tests/hearing.rs` holds the figures of this
//! operating point, with counts, and fails when they worsen.

use super::{Harm, Hypothesis, Judgement, Phrase};

/// What the second listener must think of its best phrase.
struct Thresholds {
    average: f32,
    over_noise: f32,
    margin: f32,
}

/// Enough to confirm what another has heard.
const NORMAL: Thresholds = Thresholds { average: -2.5, over_noise: 4.0, margin: 0.5 };
/// Enough without another's word, where a mistake only speaks.
const PLAIN: Thresholds = Thresholds { average: -2.0, over_noise: 8.0, margin: 3.0 };
/// Enough against another's word or without it.
const STRICT: Thresholds = Thresholds { average: -1.2, over_noise: 6.0, margin: 2.0 };
/// Enough for a question, if vosk has heard the same.
const DOUBTFUL: Thresholds = Thresholds { average: -3.5, over_noise: 2.0, margin: 0.0 };
/// vosk's confidence that is enough for a question when nobody checks it.
const DOUBTFUL_CONFIDENCE: f32 = 0.6;
/// vosk's confidence for a harmless phrase that the second listener does not speak against.
const SURE: f32 = 0.9;

impl Thresholds {
    fn met_by(&self, judgement: &Judgement) -> bool {
        judgement.average >= self.average && judgement.over_noise >= self.over_noise && judgement.margin >= self.margin
    }
}

/// Index of the phrase that was said, if one surely was.
pub fn decide(phrases: &[Phrase], heard: &Hypothesis, judgement: Option<&Judgement>) -> Option<usize> {
    let first = phrases.iter().position(|phrase| phrase.text == heard.text);
    let accepted = match judgement {
        None => first.filter(|&at| heard.confidence >= alone(phrases[at].harm)),
        Some(judgement) => with_second(phrases, first, heard, judgement),
    };
    accepted.filter(|&at| phrases[at].harm != Harm::Decoy)
}

/// The confidence that vosk needs when nobody checks it.
fn alone(harm: Harm) -> f32 {
    match harm {
        Harm::None => 0.7,
        Harm::Moves => 0.85,
        Harm::Claims => 0.95,
        Harm::Decoy => f32::INFINITY,
    }
}

fn with_second(phrases: &[Phrase], first: Option<usize>, heard: &Hypothesis, judgement: &Judgement) -> Option<usize> {
    let Hypothesis { text, confidence } = heard;
    let best = judgement.best.filter(|&at| at < phrases.len());
    let preferred = best.filter(|_| NORMAL.met_by(judgement));
    if let Some(at) = first
        && preferred == first
    {
        return Some(at);
    }
    if let Some(at) = best {
        let phrase = &phrases[at];
        let enough = match phrase.harm {
            Harm::Decoy | Harm::Moves => STRICT.met_by(judgement),
            Harm::None => STRICT.met_by(judgement) || first.is_none() && PLAIN.met_by(judgement),
            Harm::Claims => first.is_none() && STRICT.met_by(judgement) && half_heard(&phrase.text, text),
        };
        if enough {
            return Some(at);
        }
    }
    // The two do not agree, and nothing speaks strictly for another phrase.
    first.filter(|&at| phrases[at].harm == Harm::None && *confidence >= SURE && preferred.is_none() && best == first)
}

/// Index of a phrase that was perhaps said, where none surely was: one that would do something, so that it is worth a
/// question ("Did you say: skip this step?"). A harmless one is simply said again.
///
/// Either both listeners prefer it and one of them is in doubt, or the second would take it strictly and the first has
/// not heard it.
pub fn nearly(phrases: &[Phrase], heard: &Hypothesis, judgement: Option<&Judgement>) -> Option<usize> {
    let first = phrases.iter().position(|phrase| phrase.text == heard.text);
    let perhaps = match judgement {
        None => first.filter(|_| heard.confidence >= DOUBTFUL_CONFIDENCE),
        Some(judgement) => {
            let best = judgement.best.filter(|&at| at < phrases.len());
            let both = first.filter(|_| best == first && DOUBTFUL.met_by(judgement));
            both.or(best.filter(|_| STRICT.met_by(judgement)))
        }
    };
    perhaps.filter(|&at| matches!(phrases[at].harm, Harm::Moves | Harm::Claims))
}

/// Whether at least half of the words of `phrase` are among those heard, in the same order.
fn half_heard(phrase: &str, heard: &str) -> bool {
    let words: Vec<&str> = phrase.split(' ').collect();
    // The longest common run of words, not necessarily neighbours: one row of the usual table.
    let mut common = vec![0; words.len() + 1];
    for said in heard.split_whitespace() {
        let mut diagonal = 0;
        for (at, word) in words.iter().enumerate() {
            let above = common[at + 1];
            common[at + 1] = if *word == said { diagonal + 1 } else { above.max(common[at]) };
            diagonal = above;
        }
    }
    2 * common[words.len()] >= words.len()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const HARMS: [Harm; 4] = [Harm::Decoy, Harm::None, Harm::Moves, Harm::Claims];

    fn phrases() -> Vec<Phrase> {
        HARMS.iter().map(|&harm| Phrase { text: format!("{harm:?}").to_lowercase(), harm }).collect()
    }

    fn heard(text: &str, confidence: f32) -> Hypothesis {
        Hypothesis { text: text.into(), confidence }
    }

    fn judged(best: usize, average: f32, over_noise: f32, margin: f32) -> Judgement {
        Judgement { best: Some(best), average, over_noise, margin }
    }

    #[test]
    fn alone_the_confidence_needed_grows_with_the_harm() {
        let phrases = phrases();
        let lowest = |text: &str| (0..=100).find(|&c| decide(&phrases, &heard(text, c as f32 / 100.0), None).is_some());
        assert_eq!(lowest("decoy"), None);
        let (none, moves, claims) = (lowest("none").unwrap(), lowest("moves").unwrap(), lowest("claims").unwrap());
        assert!(none < moves && moves < claims && claims <= 95, "{none} {moves} {claims}");
        assert_eq!(lowest("claims claims"), None);
        assert_eq!(lowest(""), None);
    }

    #[test]
    fn two_that_agree_are_believed() {
        let phrases = phrases();
        for at in 1..4 {
            let vosk = heard(&phrases[at].text, 0.4);
            assert_eq!(decide(&phrases, &vosk, Some(&judged(at, -2.0, 5.0, 1.0))), Some(at));
        }
        assert_eq!(decide(&phrases, &heard("decoy", 1.0), Some(&judged(0, -0.1, 20.0, 9.0))), None);
    }

    #[test]
    fn a_claim_needs_both() {
        let phrases = phrases();
        let strict = judged(3, -0.1, 20.0, 9.0);
        assert_eq!(decide(&phrases, &heard("", 0.0), Some(&strict)), None);
        assert_eq!(decide(&phrases, &heard("none", 1.0), Some(&strict)), None);
        assert_eq!(decide(&phrases, &heard("claims", 1.0), Some(&judged(2, -2.0, 5.0, 1.0))), None);
        assert_eq!(decide(&phrases, &heard("claims", 1.0), Some(&judged(3, -2.6, 5.0, 1.0))), None);
    }

    #[test]
    fn a_claim_half_heard_needs_the_second_to_be_strict() {
        let phrases = ["no that is wrong", "reading thirty", "reading thirteen"]
            .map(|text| Phrase { text: text.into(), harm: Harm::Claims });
        let strict = judged(0, -0.4, 18.0, 9.0);
        assert_eq!(decide(&phrases, &heard("not yet is wrong", 0.6), Some(&strict)), Some(0));
        assert_eq!(decide(&phrases, &heard("hold is", 0.6), Some(&strict)), None);
        assert_eq!(decide(&phrases, &heard("not yet is wrong", 1.0), Some(&judged(0, -2.0, 9.0, 9.0))), None);
        // Not when vosk has heard another whole phrase, though half of this one is in it.
        assert_eq!(decide(&phrases, &heard("reading thirteen", 0.3), Some(&judged(1, -0.1, 20.0, 9.0))), None);
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
    fn one_strict_listener_may_move_but_a_lax_one_may_not() {
        let phrases = phrases();
        assert_eq!(decide(&phrases, &heard("", 0.0), Some(&judged(2, -1.0, 7.0, 3.0))), Some(2));
        assert_eq!(decide(&phrases, &heard("", 0.0), Some(&judged(2, -2.0, 9.0, 4.0))), None);
        assert_eq!(decide(&phrases, &heard("none", 1.0), Some(&judged(2, -2.0, 5.0, 1.0))), None);
        assert_eq!(decide(&phrases, &heard("", 0.0), Some(&judged(1, -2.0, 9.0, 4.0))), Some(1));
        assert_eq!(decide(&phrases, &heard("moves", 0.1), Some(&judged(1, -2.0, 9.0, 4.0))), None);
    }

    #[test]
    fn a_strict_second_that_hears_a_decoy_stops_a_sure_first() {
        let phrases = phrases();
        for first in ["none", "moves", "claims"] {
            assert_eq!(decide(&phrases, &heard(first, 1.0), Some(&judged(0, -0.5, 9.0, 4.0))), None);
        }
    }

    proptest! {
        /// What is accepted was heard by somebody, is no decoy, and if it claims something, by both.
        #[test]
        fn nothing_is_made_up(
            first in prop::option::of(0usize..4), confidence in 0.0f32..=1.0, second in prop::option::of(0usize..6),
            average in -6.0f32..0.0, over_noise in -5.0f32..15.0, margin in 0.0f32..8.0, alone in any::<bool>(),
        ) {
            let phrases = phrases();
            let vosk = heard(first.map_or("decoy none", |at| &phrases[at].text), confidence);
            let judgement = Judgement { best: second, average, over_noise, margin };
            let accepted = decide(&phrases, &vosk, (!alone).then_some(&judgement));
            if let Some(at) = accepted {
                prop_assert_ne!(phrases[at].harm, Harm::Decoy);
                prop_assert!(first == Some(at) || !alone && second == Some(at));
                if phrases[at].harm == Harm::Claims && !alone {
                    prop_assert!(second == Some(at) && (first == Some(at) || first.is_none()));
                }
            }
        }

        /// More confidence never turns an acceptance into a refusal.
        #[test]
        fn confidence_only_helps(at in 0usize..4, lower in 0.0f32..=1.0, higher in 0.0f32..=1.0) {
            let phrases = phrases();
            let (lower, higher) = (lower.min(higher), lower.max(higher));
            if decide(&phrases, &heard(&phrases[at].text, lower), None).is_some() {
                prop_assert!(decide(&phrases, &heard(&phrases[at].text, higher), None).is_some());
            }
        }
    }
}
