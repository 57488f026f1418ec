//! The noises of a workshop, generated: the same ones each time, from a seed.
//!
//! They do to speech what a workshop's noises do (blows, whine, hum, hiss, another voice); none was recorded in one.

use crate::listen::RATE;
use serde::{Deserialize, Serialize};
use std::f32::consts::TAU;

/// A kind of noise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Noise {
    /// An impact wrench: bursts of about 25 ringing blows a second.
    Impact,
    /// A compressor: mains hum, a piston's beat, rumble.
    Compressor,
    /// A grinder: a motor's whine and a sharp hiss.
    Grinder,
    /// A radio: speech through a small loudspeaker, over music.
    Radio,
    /// A hammer: single blows on steel, now and then.
    Hammer,
    /// An air line or a fan: a hiss that swells and fades.
    Air,
}

impl Noise {
    /// All kinds.
    pub const ALL: [Noise; 6] =
        [Noise::Impact, Noise::Compressor, Noise::Grinder, Noise::Radio, Noise::Hammer, Noise::Air];

    /// Its name in tables.
    pub fn name(self) -> &'static str {
        match self {
            Noise::Impact => "impact wrench",
            Noise::Compressor => "compressor",
            Noise::Grinder => "grinder",
            Noise::Radio => "radio",
            Noise::Hammer => "hammer",
            Noise::Air => "air line",
        }
    }
}

/// Chance that can be had again: the same seed gives the same numbers on every machine.
#[derive(Debug, Clone)]
pub struct Chance(u64);

impl Chance {
    /// Numbers that depend on these words alone.
    pub fn of(words: &[&str]) -> Self {
        // FNV-1a, with a mark between the words.
        let bytes = words.iter().flat_map(|word| word.bytes().chain([0xff]));
        Self(bytes.fold(0xcbf2_9ce4_8422_2325, |sum, byte| (sum ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)))
    }

    fn next(&mut self) -> u64 {
        // SplitMix64.
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// From `low` up to `high`.
    pub fn between(&mut self, low: f32, high: f32) -> f32 {
        low + (high - low) * ((self.next() >> 40) as f32 / (1u64 << 24) as f32)
    }

    /// From 0, below `end`; 0 if there is nothing below it.
    pub fn below(&mut self, end: usize) -> usize {
        (self.next() % end.max(1) as u64) as usize
    }

    /// About normal, of spread one: the sum of three even ones.
    fn gauss(&mut self) -> f32 {
        self.between(-1.0, 1.0) + self.between(-1.0, 1.0) + self.between(-1.0, 1.0)
    }
}

/// `count` samples of a noise, of mean square one. `voices` are what a radio says; without them it only plays music.
pub fn make(noise: Noise, count: usize, mut chance: Chance, voices: &[&[i16]]) -> Vec<f32> {
    let mut out = match noise {
        Noise::Impact => {
            let mut out: Vec<f32> = (0..count).map(|_| 0.03 * chance.gauss()).collect();
            let mut at = chance.below(RATE as usize / 4);
            while at < count {
                for _ in 0..12 + chance.below(18) {
                    let (pitch, loud) = (chance.between(1_800.0, 3_200.0), chance.between(0.7, 1.3));
                    ring(&mut out, at, pitch, loud, 120.0, 0.8, &mut chance);
                    at += RATE as usize / 25 - 60 + chance.below(120);
                }
                at += RATE as usize / 5 + chance.below(RATE as usize * 3 / 5);
            }
            out
        }
        Noise::Compressor => {
            let mut slow = 0.0;
            let sample = |n: usize| {
                let time = n as f32 / RATE as f32;
                slow = 0.97 * slow + 0.35 * chance.gauss();
                let hum: f32 = [1.0, 2.0, 3.0, 4.0, 6.0].iter().map(|k| phase(50.0 * k, n).sin() / k).sum();
                let beat = 1.0 + 0.5 * (TAU * (11.7 * time).fract()).sin();
                0.7 * hum + beat * slow + 0.15 * chance.gauss()
            };
            (0..count).map(sample).collect()
        }
        Noise::Grinder => {
            let mut last = 0.0;
            let pitch = chance.between(160.0, 210.0);
            let sample = |n: usize| {
                let white = chance.gauss();
                let sway = 0.0004 * phase(1.4, n).sin();
                let whine: f32 =
                    [1.0, 2.0, 4.0, 7.0].iter().map(|k| (phase(pitch * k, n) + TAU * pitch * k * sway).sin() / k).sum();
                let sharp = white - 0.6 * last;
                last = white;
                sharp + 0.25 * whine
            };
            (0..count).map(sample).collect()
        }
        Noise::Radio => radio(count, &mut chance, voices),
        Noise::Hammer => {
            let mut out: Vec<f32> = (0..count).map(|_| 0.01 * chance.gauss()).collect();
            let mut at = chance.below(RATE as usize / 2);
            while at < count {
                let (pitch, loud) = (chance.between(900.0, 2_600.0), chance.between(0.6, 1.4));
                ring(&mut out, at, pitch, loud, 500.0, 0.5, &mut chance);
                ring(&mut out, at, pitch * 1.71, 0.5 * loud, 300.0, 0.0, &mut chance);
                at += RATE as usize / 4 + chance.below(RATE as usize / 2);
            }
            out
        }
        Noise::Air => {
            let (mut low, mut level, mut goal) = (0.0, 1.0f32, 1.0f32);
            let sample = |n: usize| {
                if n.is_multiple_of(RATE as usize) {
                    goal = chance.between(0.4, 1.4);
                }
                level += (goal - level) / 4_000.0;
                let white = chance.gauss();
                low = 0.6 * low + 0.4 * white;
                level * (white - low) + 0.15 * phase(97.0, n).sin()
            };
            (0..count).map(sample).collect()
        }
    };
    let mean = out.iter().map(|sample| f64::from(sample * sample)).sum::<f64>() / count.max(1) as f64;
    let scale = 1.0 / mean.sqrt().max(1e-6) as f32;
    out.iter_mut().for_each(|sample| *sample *= scale);
    out
}

/// The angle of a tone at a sample, exact however far along.
fn phase(pitch: f32, n: usize) -> f32 {
    (f64::from(pitch) * n as f64 / f64::from(RATE)).fract() as f32 * TAU
}

/// A blow on steel, ringing for some times `fade` samples.
fn ring(out: &mut [f32], at: usize, pitch: f32, loud: f32, fade: f32, rough: f32, chance: &mut Chance) {
    let Some(rest) = out.get_mut(at..) else { return };
    for (n, sample) in rest.iter_mut().take((6.0 * fade) as usize).enumerate() {
        *sample += loud * (-(n as f32) / fade).exp() * (phase(pitch, n).sin() + rough * chance.gauss());
    }
}

/// One speaker after the other with hardly a pause, over chords, through a small loudspeaker.
fn radio(count: usize, chance: &mut Chance, voices: &[&[i16]]) -> Vec<f32> {
    let mut out = vec![0.0; count];
    let mut chord = [220.0; 3];
    for (n, sample) in out.iter_mut().enumerate() {
        if n.is_multiple_of(RATE as usize / 2) {
            let root = 110.0 * 2f32.powf(chance.below(12) as f32 / 12.0);
            chord = [root, root * 1.26, root * 1.5];
        }
        let beat = 1.0 - (n % (RATE as usize / 2)) as f32 / RATE as f32;
        *sample = 0.05 * beat * chord.iter().map(|pitch| phase(*pitch, n).sin()).sum::<f32>();
    }
    let mut at = chance.below(RATE as usize);
    while at < count && !voices.is_empty() {
        let said = voices[chance.below(voices.len())];
        for (sample, voice) in out[at..].iter_mut().zip(said) {
            *sample += f32::from(*voice) / 4_000.0;
        }
        at += said.len() + RATE as usize / 10 + chance.below(RATE as usize / 2);
    }
    // 250 to 3,500 Hz, one pole each.
    let (down, up) = ((-TAU * 250.0 / RATE as f32).exp(), (-TAU * 3_500.0 / RATE as f32).exp());
    let (mut low, mut dull) = (0.0, 0.0);
    for sample in &mut out {
        low = down * low + (1.0 - down) * *sample;
        dull = up * dull + (1.0 - up) * (*sample - low);
        *sample = dull;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noises_have_the_level_promised_and_come_again() {
        let voice: Vec<i16> = (0..8_000).map(|n| (3_000.0 * (n as f32 * 0.3).sin()) as i16).collect();
        for noise in Noise::ALL {
            let made = make(noise, RATE as usize * 3, Chance::of(&["test"]), &[&voice]);
            assert_eq!(made.len(), RATE as usize * 3);
            let mean = made.iter().map(|s| s * s).sum::<f32>() / made.len() as f32;
            assert!((mean - 1.0).abs() < 0.01, "{noise:?}: {mean}");
            assert_eq!(made, make(noise, RATE as usize * 3, Chance::of(&["test"]), &[&voice]), "{noise:?}");
            assert_ne!(made, make(noise, RATE as usize * 3, Chance::of(&["test", "2"]), &[&voice]), "{noise:?}");
        }
        assert!(make(Noise::Radio, 0, Chance::of(&[]), &[]).is_empty());
    }

    #[test]
    fn words_make_the_seed_one_by_one() {
        assert_ne!(Chance::of(&["ab", "c"]).next(), Chance::of(&["a", "bc"]).next());
        let mut chance = Chance::of(&["range"]);
        assert!((0..1_000).all(|_| (2.0..5.0).contains(&chance.between(2.0, 5.0)) && chance.below(7) < 7));
        assert_eq!(chance.below(0), 0);
    }
}
