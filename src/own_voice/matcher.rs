//! All takes of a profile, ready to be compared with a sound.
//!
//! Knows texts and rows. Which phrases may be said it is told each time; what its opinion counts for is decided elsewhere.

use std::collections::HashMap;
use std::ops::Range;

use super::frames::Frames;
use super::path::{Costs, Laid, cheapest};
use super::profile::Profile;
use super::space::{Rows, Space};
use super::units::Paths;
use crate::listen::{Encoding, Opinion, OwnVoice, Phrase, Scored};

/// Found on the voices that may be tuned on.
const COSTS: Costs = Costs { beside: 0.9, standing: 0.1, leaping: 0.1 };
/// Nothing costs less than this a row: a sound that is the take itself.
const LEAST: f32 = 1e-3;

/// What a profile's takes are compared by.
#[derive(Debug, Clone)]
pub struct Matcher {
    space: Space,
    /// What was learnt, and its takes with their copies.
    units: Vec<(String, Vec<Rows>)>,
}

impl Matcher {
    /// Prepares a profile's takes.
    pub fn new(profile: &Profile) -> Self {
        let takes = || profile.phrases().flat_map(|(_, takes)| takes).flat_map(|take| &take.copies);
        let space = Space::of(profile.width().unwrap_or_default(), takes());
        let rows = |frames: &Frames| space.place(frames);
        let units = profile.phrases().map(|(text, takes)| {
            let rows = takes.iter().flat_map(|take| &take.copies).filter_map(rows).collect();
            (text.to_owned(), rows)
        });
        Self { units: units.collect(), space }
    }

    /// What was learnt: phrases and words.
    pub fn learnt(&self) -> impl Iterator<Item = &str> {
        self.units.iter().map(|(text, _)| text.as_str())
    }

    /// Are there takes that a phrase is made of?
    pub fn knows(&self, phrase: &str) -> bool {
        super::units::fewest(&self.index(), phrase).is_some()
    }

    /// Compares the voice in a sound with each phrase that it has takes of, or takes of all its words. `voice` is where in the
    /// samples somebody speaks.
    pub fn hear<'a>(
        &self,
        encoding: &Encoding,
        voice: Range<usize>,
        phrases: impl IntoIterator<Item = &'a str>,
    ) -> Opinion {
        match Frames::of(encoding, voice) {
            Some(frames) => self.compare(&frames, phrases),
            None => Opinion::default(),
        }
    }

    /// The same with the rows of the voice.
    pub fn compare<'a>(&self, heard: &Frames, phrases: impl IntoIterator<Item = &'a str>) -> Opinion {
        let Some(heard) = self.space.place(heard) else { return Opinion::default() };
        let rows = heard.count();
        let lay = |take: &Rows| Laid { length: take.count(), distances: heard.distances(take) };
        let laid: Vec<Vec<Laid>> = self.units.iter().map(|(_, takes)| takes.iter().map(lay).collect()).collect();
        let phrases: Vec<&str> = phrases.into_iter().collect();
        let paths = Paths::new(&self.index(), phrases.iter().copied());
        let costs = cheapest(&paths, &laid, rows, phrases.len(), COSTS);
        let any = anyhow(&laid, rows).max(LEAST * rows as f32);
        let scored = costs.into_iter().enumerate().filter_map(|(phrase, cost)| {
            let cost = cost?.max(LEAST * rows as f32);
            Some(Scored { phrase, cost: cost / rows as f32, likeness: (any / cost).ln().min(0.0) })
        });
        let mut scored: Vec<Scored> = scored.collect();
        scored.sort_by(|a, b| a.cost.total_cmp(&b.cost).then(a.phrase.cmp(&b.phrase)));
        Opinion { scored }
    }

    /// Bytes of memory that the takes need.
    pub fn size(&self) -> usize {
        self.units.iter().flat_map(|(_, takes)| takes).map(Rows::size).sum()
    }

    fn index(&self) -> HashMap<&str, usize> {
        self.units.iter().enumerate().map(|(at, (text, _))| (text.as_str(), at)).collect()
    }
}

/// What the sound costs if each of its rows may be laid on any row of any take.
fn anyhow(laid: &[Vec<Laid>], rows: usize) -> f32 {
    let mut nearest = vec![COSTS.beside; rows];
    for one in laid.iter().flatten().filter(|one| one.length > 0) {
        for (nearest, distances) in nearest.iter_mut().zip(one.distances.chunks_exact(one.length)) {
            *nearest = distances.iter().copied().fold(*nearest, f32::min);
        }
    }
    nearest.iter().sum()
}

impl OwnVoice for Matcher {
    fn hear(&self, encoding: &Encoding, voice: Range<usize>, phrases: &[Phrase]) -> Opinion {
        Matcher::hear(self, encoding, voice, phrases.iter().map(|phrase| phrase.text.as_str()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::own_voice::profile::{Origin, Take};
    use half::f16;
    use proptest::prelude::*;

    /// A sound of letters, each two rows of its own.
    fn said(text: &str) -> Frames {
        let mut halves = Vec::new();
        for letter in text.bytes().filter(u8::is_ascii_lowercase) {
            let angle = f32::from(letter - b'a') * 0.7;
            let row = [angle.sin(), angle.cos(), (2.3 * angle).sin()].map(f16::from_f32);
            halves.extend([row, row].concat());
        }
        Frames::new(3, halves).unwrap()
    }

    fn knowing(texts: &[&str]) -> Matcher {
        let mut profile = Profile::new("Ann", "abc", "headset", "en");
        for text in texts {
            let take = Take { learnt: 0, origin: Origin::Learning, copies: vec![said(text)] };
            assert!(profile.learn(text, take));
        }
        Matcher::new(&profile)
    }

    #[test]
    fn what_was_learnt_is_known_again_and_words_join() {
        let matcher = knowing(&["reading", "thirty", "eight", "next step", "stop that"]);
        let phrases = ["next step", "stop that", "reading thirty", "reading eight", "reading thirty eight", "go back"];
        for (at, phrase) in phrases.iter().enumerate() {
            let opinion = matcher.compare(&said(phrase), phrases);
            assert_eq!(matcher.knows(phrase), *phrase != "go back");
            assert!(opinion.of(5).is_none(), "it has no take of that");
            if matcher.knows(phrase) {
                assert_eq!(opinion.best(), Some(at));
                assert!(opinion.lead(at).unwrap() > 1.0 && opinion.of(at).unwrap().cost < 0.01, "{opinion:?}");
            }
        }
        let between = matcher.compare(&said("reading zzz thirty"), phrases);
        assert_eq!(between.best(), Some(2));
        assert!(between.of(2).unwrap().likeness < -1.0, "what was said between is not hers");
    }

    #[test]
    fn what_cannot_be_compared_has_no_opinion() {
        let matcher = knowing(&["yes"]);
        let wide = Frames::new(2, vec![f16::ONE; 4]).unwrap();
        assert_eq!(matcher.compare(&wide, ["yes"]), Opinion::default());
        assert_eq!(Matcher::new(&Profile::new("", "", "", "")).compare(&wide, ["yes"]), Opinion::default());
        let encoding = Encoding { samples: 0, width: 3, states: Vec::new() };
        assert_eq!(Matcher::hear(&matcher, &encoding, 0..9, ["yes"]), Opinion::default());
    }

    proptest! {
        /// Whatever is heard: the nearest stands first, a nearer one leads, and all figures are numbers.
        #[test]
        fn an_opinion_is_in_order(heard in "[a-z]{1,12}", known in prop::collection::hash_set("[a-e]{1,4}", 1..6)) {
            let texts: Vec<&str> = known.iter().map(String::as_str).collect();
            let opinion = knowing(&texts).compare(&said(&heard), texts.iter().copied());
            prop_assert!(opinion.scored.is_sorted_by(|a, b| a.cost <= b.cost));
            for scored in &opinion.scored {
                prop_assert!(scored.cost.is_finite() && scored.likeness <= 0.0 && !scored.likeness.is_nan());
                let lead = opinion.lead(scored.phrase).unwrap();
                prop_assert!(lead.is_finite() && (lead >= 0.0) == (opinion.scored[0].cost >= scored.cost));
            }
        }
    }
}
