//! One person's takes, by phrase: what was learnt, when, with which microphone and by which encoder.
//!
//! Bounded: of each phrase the last takes of each origin are kept, the oldest go. Moments are handed in. Pure; the file is
//! [`super::file`]'s.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::frames::Frames;

/// Takes of a phrase that are kept from learning, and from the job.
const LEARNT: usize = 2;
const FROM_JOB: usize = 3;
/// No profile has more phrases: the language has a tenth of it.
const PHRASES: usize = 1_000;

/// Where a take comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Origin {
    /// It was said when asked for.
    Learning,
    /// It was said in a job, and confirmed.
    Job,
}

/// A phrase or a word as it was said once.
#[derive(Debug, Clone, PartialEq)]
pub struct Take {
    /// When, in seconds since 1970.
    pub learnt: i64,
    /// Where it comes from.
    pub origin: Origin,
    /// The rows of the voice: as it was, then those of its [`super::copies`].
    pub copies: Vec<Frames>,
}

/// A person's takes.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    name: String,
    features: String,
    microphone: String,
    language: String,
    phrases: BTreeMap<String, Vec<Take>>,
}

impl Profile {
    /// A profile without takes. `features` names the encoder (`listen::Moonshine::features`).
    pub fn new(name: &str, features: &str, microphone: &str, language: &str) -> Self {
        Self {
            name: name.into(),
            features: features.into(),
            microphone: microphone.into(),
            language: language.into(),
            phrases: BTreeMap::new(),
        }
    }

    /// Whose it is.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The encoder whose rows it holds.
    pub fn features(&self) -> &str {
        &self.features
    }

    /// The microphone that it was learnt with.
    pub fn microphone(&self) -> &str {
        &self.microphone
    }

    /// The language of its phrases.
    pub fn language(&self) -> &str {
        &self.language
    }

    /// Adds a take; the oldest of the same phrase and origin goes if there are too many. False if it is not taken: it has no
    /// rows, or not the width of the others, or there are too many phrases.
    pub fn learn(&mut self, phrase: &str, take: Take) -> bool {
        let width = self.width().or(take.copies.first().map(Frames::width));
        let fits = !take.copies.is_empty() && take.copies.iter().all(|copy| Some(copy.width()) == width);
        let room = self.phrases.len() < PHRASES || self.phrases.contains_key(phrase);
        if !fits || !room || phrase.is_empty() {
            return false;
        }
        let most = match take.origin {
            Origin::Learning => LEARNT,
            Origin::Job => FROM_JOB,
        };
        let takes = self.phrases.entry(phrase.into()).or_default();
        let origin = take.origin;
        takes.push(take);
        takes.sort_by_key(|take| take.learnt);
        while takes.iter().filter(|take| take.origin == origin).count() > most {
            let Some(oldest) = takes.iter().position(|take| take.origin == origin) else { break };
            takes.remove(oldest);
        }
        true
    }

    /// Takes out the takes of a phrase that a job gave at this moment: what was done by it was taken back.
    pub fn take_back(&mut self, phrase: &str, learnt: i64) {
        if let Some(takes) = self.phrases.get_mut(phrase) {
            takes.retain(|take| take.origin != Origin::Job || take.learnt != learnt);
            if takes.is_empty() {
                self.phrases.remove(phrase);
            }
        }
    }

    /// Takes out all takes of a phrase.
    pub fn forget(&mut self, phrase: &str) {
        self.phrases.remove(phrase);
    }

    /// The takes of a phrase, the oldest first.
    pub fn takes(&self, phrase: &str) -> &[Take] {
        self.phrases.get(phrase).map_or(&[], Vec::as_slice)
    }

    /// All phrases with their takes.
    pub fn phrases(&self) -> impl Iterator<Item = (&str, &[Take])> {
        self.phrases.iter().map(|(text, takes)| (text.as_str(), takes.as_slice()))
    }

    /// Numbers in a row, if there is any take.
    pub fn width(&self) -> Option<usize> {
        self.phrases.values().flatten().flat_map(|take| &take.copies).map(Frames::width).next()
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use half::f16;
    use proptest::prelude::*;

    pub fn take(origin: Origin, learnt: i64) -> Take {
        let frames = Frames::new(2, vec![f16::from_f32(learnt as f32), f16::ONE]).unwrap();
        Take { learnt, origin, copies: vec![frames] }
    }

    /// A profile with takes of a phrase and a word.
    pub fn learnt() -> Profile {
        let mut profile = profile();
        profile.learn("next step", take(Origin::Learning, 1));
        profile.learn("next step", take(Origin::Job, 2));
        profile.learn("seven", take(Origin::Learning, 3));
        profile
    }

    pub fn profile() -> Profile {
        Profile::new("Ann", "abc", "headset", "en")
    }

    #[test]
    fn the_oldest_of_an_origin_goes_first() {
        let mut profile = profile();
        for learnt in [5, 1, 2, 3, 9] {
            assert!(profile.learn("next step", take(Origin::Job, learnt)));
        }
        for learnt in [1, 2, 3] {
            assert!(profile.learn("next step", take(Origin::Learning, learnt)));
        }
        let kept = |origin| -> Vec<i64> {
            profile.takes("next step").iter().filter(|take| take.origin == origin).map(|take| take.learnt).collect()
        };
        assert_eq!((kept(Origin::Job), kept(Origin::Learning)), (vec![3, 5, 9], vec![2, 3]));
    }

    #[test]
    fn what_was_taken_back_is_no_take() {
        let mut profile = profile();
        profile.learn("all done", take(Origin::Job, 7));
        profile.learn("all done", take(Origin::Learning, 7));
        profile.take_back("all done", 7);
        profile.take_back("next step", 7);
        assert_eq!(profile.takes("all done"), [take(Origin::Learning, 7)]);
        profile.forget("all done");
        assert_eq!(profile.phrases().count(), 0);
    }

    #[test]
    fn a_take_of_another_shape_is_not_learnt() {
        let mut profile = profile();
        assert!(!profile.learn("yes", Take { learnt: 0, origin: Origin::Job, copies: Vec::new() }));
        assert!(!profile.learn("", take(Origin::Job, 1)));
        assert!(profile.learn("yes", take(Origin::Job, 1)));
        let wide = Frames::new(3, vec![f16::ONE; 3]).unwrap();
        assert!(!profile.learn("no", Take { learnt: 0, origin: Origin::Job, copies: vec![wide] }));
        assert_eq!(profile.width(), Some(2));
    }

    proptest! {
        /// However much is learnt, a phrase has no more takes than it may, and the newest of them.
        #[test]
        fn takes_are_bounded(given in prop::collection::vec((any::<bool>(), 0i64..50), 0..40)) {
            let mut profile = profile();
            for (job, learnt) in &given {
                let origin = if *job { Origin::Job } else { Origin::Learning };
                prop_assert!(profile.learn("yes", take(origin, *learnt)));
            }
            for (job, origin, most) in [(true, Origin::Job, FROM_JOB), (false, Origin::Learning, LEARNT)] {
                let mut newest: Vec<i64> = given.iter().filter(|(from, _)| *from == job).map(|(_, at)| *at).collect();
                newest.sort_unstable();
                let newest = newest.split_off(newest.len().saturating_sub(most));
                let kept: Vec<i64> =
                    profile.takes("yes").iter().filter(|take| take.origin == origin).map(|take| take.learnt).collect();
                prop_assert_eq!(kept, newest);
            }
        }
    }
}
