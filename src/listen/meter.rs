//! How loud a sound is: its level, its peaks, the noise it never falls below, and whether it is cut off at full scale.
//!
//! Knows samples only. What is too faint or too noisy for a voice is told of a single [utterance](faults) as well, by the
//! limits of `condition` and of the lessons.

use super::condition::{self, Fault};
use super::input::sample;
use super::{Kept, RATE, level};

/// Blocks that levels are taken of: 100 ms.
const BLOCK: usize = RATE as usize / 10;
/// As many of the quietest blocks make the noise floor: one in ten.
const QUIET: usize = 10;
/// A voice is so many decibels above what is beside it, at least.
const CLEAR: f32 = 12.0;

/// Levels in decibels below full scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Levels {
    /// Root mean square over all of it.
    pub rms: f32,
    /// The largest sample.
    pub peak: f32,
    /// What it falls to where it is quietest.
    pub floor: f32,
    /// Cut off at full scale again and again.
    pub clipped: bool,
    /// Not one sample that is not zero.
    pub dead: bool,
}

/// Measures sound as it comes.
#[derive(Debug, Default)]
pub struct Meter {
    block: Vec<i16>,
    blocks: Vec<f32>,
    power: f64,
    samples: usize,
    peak: u16,
    flat: usize,
}

impl Meter {
    /// Takes a piece of sound.
    pub fn hear(&mut self, piece: &[i16]) {
        self.samples += piece.len();
        self.power += piece.iter().map(|&s| (f64::from(s) / 32_768.0).powi(2)).sum::<f64>();
        self.peak = piece.iter().map(|s| s.unsigned_abs()).fold(self.peak, u16::max);
        self.block.extend_from_slice(piece);
        let whole = self.block.len() / BLOCK * BLOCK;
        for block in self.block[..whole].chunks_exact(BLOCK) {
            self.blocks.push(level(block));
            self.flat += condition::flat_stretches(block);
        }
        self.block.drain(..whole);
    }

    /// Samples so far.
    pub fn samples(&self) -> usize {
        self.samples
    }

    /// The level of the last block.
    pub fn now(&self) -> Option<f32> {
        self.blocks.last().copied()
    }

    /// What was measured so far; nothing of no sound.
    pub fn levels(&self) -> Option<Levels> {
        let mut sorted = self.blocks.clone();
        sorted.sort_by(f32::total_cmp);
        let quiet = &sorted[..sorted.len().div_ceil(QUIET)];
        (self.samples > 0 && !quiet.is_empty()).then(|| Levels {
            rms: decibels((self.power / self.samples as f64).sqrt()),
            peak: decibels(f64::from(self.peak) / 32_768.0),
            floor: quiet.iter().sum::<f32>() / quiet.len() as f32,
            clipped: self.flat >= condition::STRETCHES,
            dead: self.peak == 0,
        })
    }
}

fn decibels(share: f64) -> f32 {
    (20.0 * share.max(1e-5).log10()) as f32
}

/// What is wrong with the sound of an utterance, what matters most first.
pub fn faults(kept: &Kept) -> Vec<Fault> {
    let samples: Vec<i16> = kept.sound.iter().map(|&value| sample(value)).collect();
    let (before, rest) = samples.split_at(kept.voice.start.min(samples.len()));
    let (voice, after) = rest.split_at(kept.voice.len().min(rest.len()));
    let mut faults = condition::of_voice(voice);
    let beside: Vec<f32> = [before, after].into_iter().filter(|part| !part.is_empty()).map(level).collect();
    let noise = beside.into_iter().reduce(f32::min);
    if !voice.is_empty() && noise.is_some_and(|noise| level(voice) - noise < CLEAR) {
        faults.push(Fault::Hum);
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tone of so many dB below full scale; above 0 it is cut off.
    fn tone(db: f32, seconds: f32) -> Vec<i16> {
        let amplitude = 32_768.0 * 10f32.powf(db / 20.0) * std::f32::consts::SQRT_2;
        let count = (seconds * RATE as f32) as usize;
        (0..count).map(|n| (amplitude * (n as f32 * 0.06).sin()).clamp(-32_768.0, 32_767.0) as i16).collect()
    }

    #[test]
    fn levels_are_those_of_the_sound_however_it_is_cut_up() {
        let sound = [tone(-60.0, 1.0), tone(-20.0, 1.0)].concat();
        for size in [7, 480, 16_000] {
            let mut meter = Meter::default();
            assert_eq!(meter.levels(), None);
            sound.chunks(size).for_each(|piece| meter.hear(piece));
            let levels = meter.levels().unwrap();
            assert!((levels.rms + 23.0).abs() < 0.2 && (levels.peak + 17.0).abs() < 0.2, "{levels:?}");
            assert!((levels.floor + 60.0).abs() < 0.5 && !levels.clipped && !levels.dead, "{levels:?}");
        }
        let mut meter = Meter::default();
        meter.hear(&tone(6.0, 1.0));
        assert!(meter.levels().unwrap().clipped);
        let mut meter = Meter::default();
        meter.hear(&[0; 16_000]);
        assert!(meter.levels().unwrap().dead);
    }

    #[test]
    fn a_voice_that_is_faint_cut_off_or_in_noise_is_told() {
        let said = |voice: f32, noise: f32| {
            let (beside, voice) = (tone(noise, 0.4), tone(voice, 1.0));
            let sound = [&beside[..], &voice, &beside].concat();
            let sound = sound.into_iter().map(|s| f32::from(s) / 32_768.0).collect();
            faults(&Kept { sound, voice: 6_400..22_400 })
        };
        assert_eq!(said(-24.0, -60.0), []);
        assert_eq!(said(-50.0, -80.0), [Fault::Faint]);
        assert_eq!(said(6.0, -60.0), [Fault::Clipped]);
        assert_eq!(said(-24.0, -30.0), [Fault::Hum]);
        assert_eq!(faults(&Kept { sound: Vec::new(), voice: 0..0 }), []);
    }
}
