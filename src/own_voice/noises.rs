//! The copies of a take with noise in it, so that it is known again in a noise.
//!
//! The noise is made here and is always the same: half a hiss, half a murmur that swells and sinks as talk does. Pure.

use std::ops::Range;

use super::frames::Frames;
use crate::listen::Encoding;

/// How far the voice is above the noise in each copy, in decibels.
const LEVELS: [f32; 2] = [15.0, 8.0];
/// Samples from one loudness of the murmur to the next: a tenth of a second.
const SWELL: usize = 1_600;

/// The sounds that a take is learnt from: as it is first, then with noise. `voice` is where in `sound` (-1 to 1) somebody speaks.
pub fn copies(sound: &[f32], voice: Range<usize>) -> Vec<Vec<f32>> {
    let voice = sound.get(voice.start.min(sound.len())..voice.end.min(sound.len())).unwrap_or_default();
    let power = voice.iter().map(|sample| sample * sample).sum::<f32>() / voice.len().max(1) as f32;
    let mut copies = vec![sound.to_vec()];
    for (number, level) in (1u32..).zip(LEVELS) {
        let noise = noise(sound.len(), number);
        let square = noise.iter().map(|sample| sample * sample).sum::<f32>() / noise.len().max(1) as f32;
        let scale = (power / 10f32.powf(level / 10.0) / square.max(1e-12)).sqrt();
        let mixed: Vec<f32> = sound.iter().zip(&noise).map(|(sample, noise)| sample + scale * noise).collect();
        let peak = mixed.iter().fold(1.0f32, |peak, sample| peak.max(sample.abs()));
        copies.push(mixed.into_iter().map(|sample| sample / peak).collect());
    }
    copies
}

/// The rows of a take and of its copies, as the encoder makes them; none of a copy that it cannot take.
pub fn rows<E>(
    sound: &[f32],
    voice: Range<usize>,
    mut encode: impl FnMut(&[f32]) -> Result<Option<Encoding>, E>,
) -> Result<Vec<Frames>, E> {
    let mut rows = Vec::new();
    for copy in copies(sound, voice.clone()) {
        rows.extend(encode(&copy)?.and_then(|encoding| Frames::of(&encoding, voice.clone())));
    }
    Ok(rows)
}

fn noise(length: usize, seed: u32) -> Vec<f32> {
    // A linear congruential generator: chance enough for a hiss, and the same everywhere.
    let mut state = seed;
    let mut chance = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as f32 / (1 << 23) as f32 - 1.0
    };
    let swells: Vec<f32> = (0..length / SWELL + 2).map(|_| 1.0 + 0.6 * chance()).collect();
    let mut murmur = 0.0;
    let sample = |at: usize| {
        let hiss = chance();
        // Low, as talk from afar is.
        murmur = 0.9 * murmur + hiss;
        let (swell, between) = (at / SWELL, (at % SWELL) as f32 / SWELL as f32);
        let loud = swells[swell] * (1.0 - between) + swells[swell + 1] * between;
        0.5 * hiss + loud * murmur
    };
    (0..length).map(sample).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_noise_is_as_far_below_the_voice_as_said_and_always_the_same() {
        let mut sound = vec![0f32; 16_000];
        let voice = 4_000..12_000;
        for (at, sample) in sound[voice.clone()].iter_mut().enumerate() {
            *sample = 0.2 * (at as f32 * 0.1).sin();
        }
        let made = copies(&sound, voice.clone());
        assert_eq!(made.len(), 3);
        assert_eq!(made[0], sound);
        assert_eq!(made, copies(&sound, voice.clone()));
        let power = |of: &[f32]| of.iter().map(|s| s * s).sum::<f32>() / of.len() as f32;
        for (copy, level) in made[1..].iter().zip(LEVELS) {
            let noise: Vec<f32> = copy.iter().zip(&sound).map(|(mixed, sample)| mixed - sample).collect();
            let found = 10.0 * (power(&sound[voice.clone()]) / power(&noise)).log10();
            assert!((found - level).abs() < 0.1, "{found} for {level}");
        }
    }

    #[test]
    fn no_range_is_too_far_and_silence_stays_silent() {
        let made = copies(&[0.0; 100], 50..900);
        assert!(made.iter().flatten().all(|sample| *sample == 0.0));
        assert!(copies(&[], 5..9).iter().all(Vec::is_empty));
        assert!(copies(&[1.0; 100], 0..100).iter().flatten().all(|sample| sample.abs() <= 1.0));
    }
}
