//! What somebody who knows the user's own voice says to a stretch of sound, and what that counts for.
//!
//! A third opinion beside the two listeners': how near the sound comes to the user's own takes of each phrase. It may agree to a
//! phrase that a listener heard and was not believed for; decide by itself, where a mistake does no harm; and veto what would do
//! harm and sounds nothing like the user, unless the phones are sure of it. No move and no claim is ever made on its word alone, and
//! without a profile nothing changes.
//!
//! Knows phrases and figures. Who compares, and with what, is [`crate::own_voice`]'s. Pure.

use std::ops::Range;

use super::decide::Relation;
use super::{Decided, Encoding, Harm, Hypothesis, Judgement, Phrase, Rule};

/// Knows how the user says things.
pub trait OwnVoice: Send + Sync {
    /// Compares the voice in a sound with each phrase that it knows. `voice` is where in the samples somebody speaks.
    fn hear(&self, encoding: &Encoding, voice: Range<usize>, phrases: &[Phrase]) -> Opinion;
}

/// How near a sound comes to a phrase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scored {
    /// Its index among those that were handed in.
    pub phrase: usize,
    /// How far a row of the sound is from the takes, on average: 0 where it is a take itself, 1 where it is as unlike as chance.
    pub cost: f32,
    /// How near it comes to what the speaker's own sounds in any order would cost: 0 is as near as that, below is farther. The
    /// logarithm of a ratio, so that it means the same in a quiet room and in a noisy one.
    pub likeness: f32,
}

/// What the user's own voice says to a sound: every phrase that it knows, the nearest first.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Opinion {
    /// The phrases.
    pub scored: Vec<Scored>,
}

/// A lead when there is no other phrase to be ahead of: none, for what was learnt so far may be all that there is to compare with.
const ALONE: f32 = 0.0;
/// No lead counts more than this.
const MOST: f32 = 2.0;

impl Opinion {
    /// How near it comes to a phrase; nothing if that was not learnt.
    pub fn of(&self, phrase: usize) -> Option<&Scored> {
        self.scored.iter().find(|scored| scored.phrase == phrase)
    }

    /// The nearest phrase.
    pub fn best(&self) -> Option<usize> {
        self.scored.first().map(|scored| scored.phrase)
    }

    /// How much nearer a phrase is than the nearest other: the logarithm of the ratio of what they cost, so that it means the same
    /// from phrase to phrase; below 0 another is nearer.
    pub fn lead(&self, phrase: usize) -> Option<f32> {
        let cost = self.of(phrase)?.cost;
        let other = self.scored.iter().find(|scored| scored.phrase != phrase);
        Some(other.map_or(ALONE, |other| (other.cost / cost.max(f32::MIN_POSITIVE)).ln().min(MOST)))
    }
}

/// How near a sound must come to a phrase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearness {
    /// Least lead over the next phrase.
    pub lead: f32,
    /// Least likeness.
    pub likeness: f32,
    /// Highest cost.
    pub cost: f32,
}

/// What the user's own voice may do to phrases of one harm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnNeeds {
    /// Enough to believe a phrase that the first listener heard, whatever its confidence.
    pub with_first: Nearness,
    /// Enough to believe the phrase that the second listener likes best, where the first did not hear it.
    pub with_second: Nearness,
    /// Enough by itself.
    pub alone: Nearness,
    /// Below this what the listeners believe is asked back.
    pub veto: Nearness,
}

/// The rule for the user's own voice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnRule {
    /// For [`Harm::None`].
    pub none: OwnNeeds,
    /// For [`Harm::Moves`].
    pub moves: OwnNeeds,
    /// For [`Harm::Claims`].
    pub claims: OwnNeeds,
    /// Enough to believe the phrase that a second listener likes best which looks at other rows, where the first heard no phrase.
    pub beside: Nearness,
    /// So near, and what the second listener writes freely counts only where it denies.
    pub plain: Nearness,
    /// May others than the user give commands? Then nothing is vetoed.
    pub others: bool,
}

/// However near it is, it is not enough.
const NEVER: Nearness = near(f32::INFINITY, f32::INFINITY, f32::NEG_INFINITY);
/// However far it is, it is not asked back.
const ALWAYS: Nearness = near(f32::NEG_INFINITY, f32::NEG_INFINITY, f32::INFINITY);

const fn near(lead: f32, likeness: f32, cost: f32) -> Nearness {
    Nearness { lead, likeness, cost }
}

impl OwnRule {
    /// The rule in use: found on people and voices that may be tuned on.
    ///
    /// Two that hear the same phrase are seldom wrong together, so little is asked of nearness where the first listener heard it. A
    /// veto makes a question of one right command in twenty. What the second listener alone likes claims and moves nothing by
    /// `with_second`, however near it is, as the decoder looks at the same rows; by `beside` it does where it looks at others
    /// ([`Rule::apart_from_takes`]).
    pub const IN_USE: OwnRule = OwnRule {
        none: OwnNeeds {
            with_first: near(0.05, -0.7, 0.7),
            with_second: near(0.15, -0.5, 0.5),
            alone: near(0.4, -0.45, 0.4),
            veto: ALWAYS,
        },
        moves: OwnNeeds {
            with_first: near(0.05, -0.6, 0.65),
            with_second: NEVER,
            alone: NEVER,
            veto: near(-0.15, -1.2, 0.75),
        },
        claims: OwnNeeds {
            with_first: near(0.05, -0.6, 0.65),
            with_second: NEVER,
            alone: NEVER,
            veto: near(-0.15, -1.2, 0.7),
        },
        beside: near(0.1, -1.0, 0.7),
        plain: near(0.5, -0.45, 0.35),
        others: false,
    };

    fn needs(&self, harm: Harm) -> Option<&OwnNeeds> {
        match harm {
            Harm::Decoy => None,
            Harm::None => Some(&self.none),
            Harm::Moves => Some(&self.moves),
            Harm::Claims => Some(&self.claims),
        }
    }

    /// The phrase that the listeners did not believe and that the user's own voice lets pass: one that the first heard, or that
    /// the second likes best, or, where that may be, neither. With the second's word comes the rule that it is taken by.
    pub fn agrees(
        &self,
        phrases: &[Phrase],
        heard: &Hypothesis,
        second: Option<(&Rule, &Judgement)>,
        own: &Opinion,
    ) -> Option<usize> {
        let at = own.best().filter(|&at| at < phrases.len())?;
        let needs = self.needs(phrases[at].harm)?;
        let met = |nearness: &Nearness| nearness.met_by(own, at);
        // What claims or moves passes only where the second listener has a word, too, and none against it: the takes are rows of
        // its encoder, and what it likes besides, or hears as none of the phrases, they may well take for the user's.
        let first = Some(at).filter(|_| phrases[at].text == heard.text);
        let first = match second {
            _ if phrases[at].harm <= Harm::None => first,
            Some((rule, judgement)) => {
                rule.unopposed(phrases, first, judgement.best.filter(|&best| best < phrases.len()), judgement)
            }
            None => None,
        };
        let first = first.is_some() && met(&needs.with_first);
        let second = second.filter(|(_, judgement)| judgement.best == Some(at));
        let liked = second.is_some() && met(&needs.with_second);
        let beside = second.is_some_and(|(rule, _)| {
            rule.apart_from_takes
                && met(&self.beside)
                && Relation::of(phrases, at, &heard.text, rule.sounds.as_deref()) != Relation::Another
        });
        (first || liked || beside || met(&needs.alone)).then_some(at)
    }

    /// Is it plainly this phrase?
    pub fn plainly(&self, phrase: usize, own: &Opinion) -> bool {
        own.best() == Some(phrase) && self.plain.met_by(own, phrase)
    }

    /// Is a phrase that the listeners believe to be asked back? Not if it was never learnt.
    pub fn vetoes(&self, phrase: usize, harm: Harm, own: &Opinion) -> bool {
        let known = own.of(phrase).is_some() && !self.others;
        known && self.needs(harm).is_some_and(|needs| !needs.veto.met_by(own, phrase))
    }
}

impl Rule {
    /// What was said, or nearly, with a word of the user's own voice; without one, by this rule alone.
    pub fn with_own(
        &self,
        phrases: &[Phrase],
        heard: &Hypothesis,
        judgement: Option<&Judgement>,
        own: Option<(&OwnRule, &Opinion)>,
    ) -> Decided {
        let believed = self.decide(phrases, heard, judgement);
        let Some((rule, own)) = own else {
            let nearly = self.nearly(phrases, heard, judgement).filter(|_| believed.is_none());
            return Decided { phrase: believed, nearly, plain: false };
        };
        let agreed = rule.agrees(phrases, heard, judgement.map(|judgement| (self, judgement)), own);
        // Takes are of one way to say a phrase, in one room. What the second listener would let pass without a word of the first is not
        // asked back because it sounds otherwise today.
        let surely = |at: usize| {
            judgement.is_some_and(|judgement| judgement.best == Some(at) && self.claims.nothing.met_by(judgement))
        };
        let (phrase, nearly) = match believed {
            Some(at) if agreed != Some(at) && !surely(at) && rule.vetoes(at, phrases[at].harm, own) => (None, Some(at)),
            Some(at) => (Some(at), None),
            None if agreed.is_some() => (agreed, None),
            None => (None, self.nearly(phrases, heard, judgement)),
        };
        Decided { phrase, nearly, plain: phrase.or(nearly).is_some_and(|at| rule.plainly(at, own)) }
    }
}

impl Nearness {
    fn met_by(&self, own: &Opinion, phrase: usize) -> bool {
        let (Some(scored), Some(lead)) = (own.of(phrase), own.lead(phrase)) else { return false };
        lead >= self.lead && scored.likeness >= self.likeness && scored.cost <= self.cost
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn phrases() -> Vec<Phrase> {
        let phrase = |text: &str, harm| Phrase { text: text.into(), harm };
        vec![phrase("say again", Harm::None), phrase("go back", Harm::Moves), phrase("all done", Harm::Claims)]
    }

    /// The first phrase costs so much, the others much more.
    fn opinion(nearest: usize, cost: f32, likeness: f32) -> Opinion {
        let mut scored = vec![Scored { phrase: nearest, cost, likeness }];
        scored.extend((0..3).filter(|at| *at != nearest).map(|phrase| Scored { phrase, cost: 0.9, likeness: -2.0 }));
        Opinion { scored }
    }

    fn heard(text: &str) -> Hypothesis {
        Hypothesis { text: text.into(), confidence: 0.1 }
    }

    fn judged(best: Option<usize>, average: f32, over_noise: f32) -> Judgement {
        Judgement { best, average, over_noise, margin: 9.0 }
    }

    #[test]
    fn only_what_does_no_harm_is_decided_by_it_alone() {
        for at in 0..3 {
            let own = opinion(at, 0.05, -0.1);
            let alone = OwnRule::IN_USE.agrees(&phrases(), &heard("something else"), None, &own);
            assert_eq!(alone, (at == 0).then_some(0));
            let said = heard(&phrases()[at].text);
            let rule = Rule::by_decoder();
            let agrees = |judgement: Option<&Judgement>, own: &Opinion| {
                OwnRule::IN_USE.agrees(&phrases(), &said, judgement.map(|judgement| (&rule, judgement)), own)
            };
            assert_eq!(agrees(Some(&judged(None, -5.0, 0.0)), &own), Some(at), "the second has nothing against it");
            // Without a second listener, or against it, nothing that claims or moves.
            let other = judged(Some((at + 1) % 3), -0.5, 20.0);
            let none = judged(None, -9.0, -9.0);
            for judgement in [None, Some(&other), Some(&none)] {
                assert_eq!(agrees(judgement, &own), (at == 0).then_some(0), "{judgement:?}");
            }
            // What the second alone likes neither.
            let second = judged(Some(at), -0.1, 20.0);
            let liked = OwnRule::IN_USE.agrees(&phrases(), &heard("something else"), Some((&rule, &second)), &own);
            assert_eq!(liked, (at == 0).then_some(0));
            let far = opinion(at, 0.8, -0.9);
            assert_eq!(OwnRule::IN_USE.agrees(&phrases(), &heard(&phrases()[at].text), None, &far), None);
            assert!(OwnRule::IN_USE.plainly(at, &own) && !OwnRule::IN_USE.plainly(at, &far));
        }
    }

    #[test]
    fn what_phones_like_best_passes_if_the_takes_find_it_near_and_vosk_heard_no_other_phrase() {
        let (phones, decoder) = (Rule::by_phones(), Rule::by_decoder());
        let agrees = |rule: &Rule, said: &str, judgement: &Judgement, own: &Opinion| {
            OwnRule::IN_USE.agrees(&phrases(), &heard(said), Some((rule, judgement)), own)
        };
        for at in [1, 2] {
            let (near, far) = (opinion(at, 0.6, -0.9), opinion(at, 0.72, -0.9));
            let liked = judged(Some(at), -3.0, 0.0);
            let other = phrases()[3 - at].text.clone();
            assert_eq!(agrees(&phones, "mumble", &liked, &near), Some(at));
            assert_eq!(agrees(&phones, "", &liked, &near), Some(at));
            assert_eq!(agrees(&phones, &other, &liked, &near), None, "vosk heard another phrase");
            assert_eq!(agrees(&phones, "mumble", &liked, &far), None, "not near enough");
            assert_eq!(agrees(&phones, "mumble", &judged(Some(3 - at), -3.0, 0.0), &near), None, "they differ");
            assert_eq!(agrees(&decoder, "mumble", &liked, &near), None, "it looks at the same rows");
        }
    }

    #[test]
    fn a_lead_is_the_same_whatever_all_costs_are_multiplied_by() {
        let scored = |factor: f32| {
            let costs = [0.1, 0.2, 0.5].map(|cost| cost * factor);
            let score = |(phrase, cost)| Scored { phrase, cost, likeness: 0.0 };
            Opinion { scored: costs.into_iter().enumerate().map(score).collect() }
        };
        for at in 0..3 {
            let (one, other) = (scored(1.0).lead(at).unwrap(), scored(3.0).lead(at).unwrap());
            assert!((one - other).abs() < 1e-5);
        }
        assert_eq!(scored(1.0).lead(3), None);
        let only = Opinion { scored: vec![Scored { phrase: 0, cost: 0.0, likeness: 0.0 }] };
        assert_eq!(only.lead(0), Some(ALONE));
    }

    #[test]
    fn what_was_never_learnt_is_not_vetoed() {
        let mut own = opinion(0, 0.1, -0.1);
        assert!(OwnRule::IN_USE.vetoes(2, Harm::Claims, &own));
        assert!(!OwnRule { others: true, ..OwnRule::IN_USE }.vetoes(2, Harm::Claims, &own));
        own.scored.retain(|scored| scored.phrase != 2);
        assert!(!OwnRule::IN_USE.vetoes(2, Harm::Claims, &own));
    }
}
