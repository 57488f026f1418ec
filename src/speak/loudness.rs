//! How loud speech is, and making stretches of it equally loud.
//!
//! Knows samples. A neural voice makes each clause anew and a short one may come out at twice the level of the next; a
//! mechanic who turned the loudspeaker up for the soft one would be startled by the loud one.

/// The level that every clause is brought to, as the mean of its sounding parts: speech at it peaks at about half of
/// full scale, which leaves room for a noisy bay.
pub const LEVEL: f32 = 0.1;
/// A clause is not made softer or louder by more than this: what is so far off is a breath or a failure, not speech.
const MOST: f32 = 4.0;
/// Blocks in a second.
const BLOCKS: u32 = 50;
/// Parts so much below the loudest are pauses (20 dB).
const PAUSE: f32 = 0.1;

/// The mean level of the sounding parts: pauses do not count, however long. 0 for silence.
pub fn level(samples: &[f32], rate: u32) -> f32 {
    let length = (rate / BLOCKS).max(1) as usize;
    let power = |block: &[f32]| block.iter().map(|s| s * s).sum::<f32>() / block.len() as f32;
    let blocks: Vec<f32> = samples.chunks(length).map(power).collect();
    let floor = blocks.iter().copied().fold(0.0, f32::max) * PAUSE * PAUSE;
    let (sum, count) =
        blocks.iter().filter(|power| **power > floor).fold((0.0, 0u32), |(sum, count), power| (sum + power, count + 1));
    if count == 0 { 0.0 } else { (sum / count as f32).sqrt() }
}

/// Brings a stretch of speech to [`LEVEL`].
pub fn even(samples: &mut [f32], rate: u32) {
    let level = level(samples, rate);
    if !(level.is_finite() && level > 0.0) {
        return;
    }
    let factor = (LEVEL / level).clamp(1.0 / MOST, MOST);
    samples.iter_mut().for_each(|sample| *sample *= factor);
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn tone(level: f32, length: usize) -> Vec<f32> {
        (0..length).map(|n| level * std::f32::consts::SQRT_2 * (n as f32 * 0.3).sin()).collect()
    }

    #[test]
    fn pauses_do_not_count() {
        let speech = [tone(0.2, 8_000), vec![0.0; 16_000], tone(0.2, 8_000)].concat();
        assert!((level(&speech, 16_000) - 0.2).abs() < 0.01, "{}", level(&speech, 16_000));
        assert_eq!(level(&[], 16_000), 0.0);
        assert_eq!(level(&[0.0; 100], 16_000), 0.0);
    }

    #[test]
    fn loud_and_soft_become_alike_and_silence_stays() {
        for loud in [0.05, 0.1, 0.3] {
            let mut speech = tone(loud, 8_000);
            even(&mut speech, 16_000);
            assert!((level(&speech, 16_000) - LEVEL).abs() < 0.005, "{loud}");
        }
        let mut hiss = tone(0.001, 8_000);
        even(&mut hiss, 16_000);
        assert!(level(&hiss, 16_000) < 0.005);
        let mut silence = vec![0.0; 100];
        even(&mut silence, 16_000);
        assert_eq!(silence, vec![0.0; 100]);
    }

    proptest! {
        /// Whatever comes in, nothing that was a number stops being one.
        #[test]
        fn no_sample_gets_lost(mut samples in prop::collection::vec(-1.0f32..1.0, 0..2_000), rate in 0u32..96_000) {
            even(&mut samples, rate);
            prop_assert!(samples.iter().all(|s| s.abs() <= MOST));
        }
    }
}
