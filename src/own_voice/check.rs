//! Whether a take is good enough to be learnt, and if not, why.
//!
//! Knows the sound of the take, where the voice in it is, and the takes that there are. Which sentence a fault is told in is for
//! others. Pure.

use std::ops::Range;

use super::frames::Frames;
use super::matcher::Matcher;

/// Samples a second.
const RATE: f32 = 16_000.0;
/// The voice may not be fainter, in root mean square of a full scale of one: 50 dB below it.
const FAINT: f32 = 0.003;
/// A sample from here on counts as clipped; of the voice no more than [`CLIPPED`] may be.
const FULL: f32 = 0.985;
const CLIPPED: f32 = 0.002;
/// Between the voice and either edge of the sound lies at least so much, in seconds.
const EDGE: f32 = 0.05;
/// The voice is so many decibels above what is beside it, at least.
const CLEAR: f32 = 12.0;
/// Seconds that a letter takes, at least and at most, with so much more at most for a whole take: nobody says "next step" in a tenth of
/// a second, or in five.
const LETTER: Range<f32> = 0.022..0.2;
const MORE: f32 = 0.6;
/// Two takes of one phrase may cost no more a row.
const UNLIKE: f32 = 0.6;
/// A take that is nearer to another phrase than to its own first take, or leads it by less than this, is too like that.
const LEAD: f32 = 0.12;
/// Only that counts as like that costs no more than this a row.
const LIKE: f32 = 0.45;

/// What is wrong with a take.
#[derive(Debug, Clone, PartialEq)]
pub enum Fault {
    /// The voice is too faint.
    Faint,
    /// It is too loud for the microphone.
    Clipped,
    /// It begins or ends beyond the sound.
    Cut,
    /// There is too much noise beside it.
    Noisy,
    /// Too short for the words.
    Short,
    /// Too long for the words.
    Long,
    /// Unlike the take of the same phrase that there is.
    Unlike,
    /// Too like the take of another phrase.
    Like {
        /// That phrase.
        other: String,
    },
}

/// A take that was just recorded.
#[derive(Debug, Clone, Copy)]
pub struct Recording<'a> {
    /// What was to be said.
    pub phrase: &'a str,
    /// 16 kHz mono, -1 to 1, with some room on either side.
    pub sound: &'a [f32],
    /// Where the voice is in it: first sample, one past the last.
    pub voice: (usize, usize),
    /// The rows of the voice, if the encoder has given any.
    pub frames: Option<&'a Frames>,
}

/// Everything that is wrong with a take, what matters most first; nothing if it is good. `known` are the takes that there are.
pub fn check(take: &Recording, known: &Matcher) -> Vec<Fault> {
    let mut faults = Vec::new();
    let end = take.voice.1.min(take.sound.len());
    let begin = take.voice.0.min(end);
    let voice = &take.sound[begin..end];
    if voice.is_empty() {
        return vec![Fault::Faint];
    }
    let edge = (EDGE * RATE) as usize;
    if begin < edge || take.sound.len() - end < edge {
        faults.push(Fault::Cut);
    }
    let clipped = voice.iter().filter(|sample| sample.abs() >= FULL).count() as f32;
    if clipped > CLIPPED * voice.len() as f32 {
        faults.push(Fault::Clipped);
    }
    let loud = root(voice);
    if loud < FAINT {
        faults.push(Fault::Faint);
    }
    // Without the rest of the voice, which ends a little later than is noticed.
    let beside: Vec<f32> =
        [&take.sound[..begin.saturating_sub(edge)], &take.sound[(end + edge).min(take.sound.len())..]].concat();
    if !beside.is_empty() && loud < root(&beside) * 10f32.powf(CLEAR / 20.0) {
        faults.push(Fault::Noisy);
    }
    let seconds = voice.len() as f32 / RATE;
    let letters = take.phrase.chars().filter(|c| c.is_alphabetic()).count() as f32;
    if seconds < LETTER.start * letters {
        faults.push(Fault::Short);
    } else if seconds > LETTER.end * letters + MORE {
        faults.push(Fault::Long);
    }
    if let Some(frames) = take.frames {
        faults.extend(unlike(take.phrase, frames, known));
    }
    faults
}

fn unlike(phrase: &str, frames: &Frames, known: &Matcher) -> Option<Fault> {
    let opinion = known.compare(frames, known.learnt());
    let named = |at: usize| known.learnt().nth(at).unwrap_or_default();
    let own = opinion.scored.iter().find(|scored| named(scored.phrase) == phrase).map(|scored| scored.cost);
    // A part of it, or what it is a part of, may well be like it.
    let apart = |other: &str| other != phrase && !within(other, phrase) && !within(phrase, other);
    let other = opinion.scored.iter().find(|scored| apart(named(scored.phrase)));
    let like = other.filter(|other| match own {
        Some(own) => other.cost.ln() - own.ln() < LEAD,
        None => other.cost < LIKE,
    });
    match own {
        Some(own) if own > UNLIKE => Some(Fault::Unlike),
        _ => like.map(|other| Fault::Like { other: named(other.phrase).into() }),
    }
}

/// Is one text among the words of another?
fn within(one: &str, other: &str) -> bool {
    format!(" {other} ").contains(&format!(" {one} "))
}

fn root(samples: &[f32]) -> f32 {
    (samples.iter().map(|sample| sample * sample).sum::<f32>() / samples.len().max(1) as f32).sqrt()
}
