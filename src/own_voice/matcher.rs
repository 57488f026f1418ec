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
