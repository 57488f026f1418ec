//! One sampling rate to another, for mono sound: in one go, or as it comes.
//!
//! Knows samples only. Used on both sides of the house: microphone to recogniser, voice to loudspeaker.

use rubato::audioadapter_buffers::direct::SequentialSlice;
use rubato::{Fft, FixedSync, Indexing, Resampler as _};

/// Rates that are taken; what lies outside is no sound device's.
pub const RATES: std::ops::RangeInclusive<u32> = 1_000..=768_000;

/// Why a rate cannot be converted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ResampleError {
    /// A rate outside of [`RATES`].
    #[error("sound cannot be converted from {from} to {to} samples a second")]
    Rate {
        /// Samples a second of what comes in.
        from: u32,
        /// Samples a second of what is wanted.
        to: u32,
    },
    /// The converter failed; the rates were fine.
    #[error("sound could not be converted: {0}")]
    Failed(String),
}

/// A converter for sound that comes in pieces. What comes out is in step with what went in: the converter's own delay
/// is cut off at the start and made up for at the end.
pub struct Resampler {
    /// `None` if the rates are the same.
    inner: Option<Inner>,
}

struct Inner {
    engine: Fft<f32>,
    from: u64,
    to: u64,
    /// Came in and waits for a whole block.
    waiting: Vec<f32>,
    /// Room for one block of output.
    block: Vec<f32>,
    /// Output samples still to be dropped: the delay.
    to_drop: usize,
    taken: u64,
    given: u64,
}

impl Resampler {
    /// A converter from `from` to `to` samples a second.
    pub fn new(from: u32, to: u32) -> Result<Self, ResampleError> {
        if !RATES.contains(&from) || !RATES.contains(&to) {
            return Err(ResampleError::Rate { from, to });
        }
        if from == to {
            return Ok(Self { inner: None });
        }
        // Blocks of about 20 ms: short enough for live sound, long enough for a steep filter.
        let block = (from / 50).max(64) as usize;
        let engine = Fft::new(from as usize, to as usize, block, 1, FixedSync::Input)
            .map_err(|e| ResampleError::Failed(e.to_string()))?;
        let to_drop = engine.output_delay();
        let block = vec![0.0; engine.output_frames_max()];
        Ok(Self {
            inner: Some(Inner {
                engine,
                from: from.into(),
                to: to.into(),
                waiting: Vec::new(),
                block,
                to_drop,
                taken: 0,
                given: 0,
            }),
        })
    }

    /// Takes `samples` and appends to `out` what is ready.
    pub fn push(&mut self, samples: &[f32], out: &mut Vec<f32>) -> Result<(), ResampleError> {
        let Some(inner) = &mut self.inner else {
            out.extend_from_slice(samples);
            return Ok(());
        };
        inner.taken += samples.len() as u64;
        inner.waiting.extend_from_slice(samples);
        let mut used = 0;
        while inner.waiting.len() - used >= inner.engine.input_frames_next() {
            let wanted = inner.engine.input_frames_next();
            inner.convert(used, wanted, u64::MAX, out)?;
            used += wanted;
        }
        inner.waiting.drain(..used);
        Ok(())
    }

    /// Ends the sound: appends to `out` what is left, and is ready for another sound. Over the whole sound, the
    /// samples given are those taken times the ratio of the rates, rounded up.
    pub fn finish(&mut self, out: &mut Vec<f32>) -> Result<(), ResampleError> {
        let Some(inner) = &mut self.inner else {
            return Ok(());
        };
        let goal = (inner.taken * inner.to).div_ceil(inner.from);
        let mut left = inner.waiting.len();
        while inner.given < goal {
            inner.convert(0, left, goal, out)?;
            left = 0;
        }
        inner.engine.reset();
        inner.waiting.clear();
        inner.to_drop = inner.engine.output_delay();
        (inner.taken, inner.given) = (0, 0);
        Ok(())
    }
}

impl Inner {
    /// Converts one block: `length` samples of what is waiting, from `start`, and silence for the rest of the block.
    /// Gives no more than `goal` samples in all.
    fn convert(&mut self, start: usize, length: usize, goal: u64, out: &mut Vec<f32>) -> Result<(), ResampleError> {
        let failed = |e: &dyn std::fmt::Display| ResampleError::Failed(e.to_string());
        let input = &self.waiting[start..start + length];
        let frames = self.engine.output_frames_next();
        let input = SequentialSlice::new(input, 1, length).map_err(|e| failed(&e))?;
        let room = self.block.len();
        let mut output = SequentialSlice::new_mut(&mut self.block, 1, room).map_err(|e| failed(&e))?;
        let indexing = Indexing::new().partial_len(length);
        let (_, made) =
            self.engine.process_into_buffer(&input, &mut output, Some(&indexing)).map_err(|e| failed(&e))?;
        debug_assert_eq!(made, frames);
        let dropped = self.to_drop.min(made);
        self.to_drop -= dropped;
        let kept = &self.block[dropped..made];
        let kept = &kept[..kept.len().min(usize::try_from(goal - self.given).unwrap_or(usize::MAX))];
        out.extend_from_slice(kept);
        self.given += kept.len() as u64;
        Ok(())
    }
}

/// Converts a whole sound.
pub fn convert(samples: &[f32], from: u32, to: u32) -> Result<Vec<f32>, ResampleError> {
    let mut converter = Resampler::new(from, to)?;
    let mut out = Vec::new();
    converter.push(samples, &mut out)?;
    converter.finish(&mut out)?;
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::f64::consts::TAU;

    fn sine(frequency: f64, rate: u32, seconds: f64) -> Vec<f32> {
        let count = (seconds * f64::from(rate)) as usize;
        (0..count).map(|n| (0.5 * (TAU * frequency * n as f64 / f64::from(rate)).sin()) as f32).collect()
    }

    /// What became of a sine of level 0.5: its level, how late it is in seconds, and the level of all that is not it.
    /// Both ends are left out.
    fn measure(frequency: f64, from: u32, to: u32) -> (f64, f64, f64) {
        let made = convert(&sine(frequency, from, 1.0), from, to).unwrap();
        assert_eq!(made.len(), to as usize);
        let edge = to as usize / 20;
        let phase = |n: usize| TAU * frequency * n as f64 / f64::from(to);
        // A whole number of periods, so that sine and cosine do not mix.
        let span = edge..edge + (0.9 * f64::from(to)) as usize;
        let half = span.len() as f64 / 2.0;
        let fit = |wave: fn(f64) -> f64| -> f64 {
            span.clone().map(|n| f64::from(made[n]) * wave(phase(n))).sum::<f64>() / half
        };
        let (s, c) = (fit(f64::sin), fit(f64::cos));
        let rest =
            span.clone().map(|n| (f64::from(made[n]) - s * phase(n).sin() - c * phase(n).cos()).powi(2)).sum::<f64>();
        (s.hypot(c), (-c).atan2(s) / (TAU * frequency), (rest / half).sqrt())
    }

    #[test]
    fn a_sine_keeps_frequency_level_and_place() {
        let pairs = [
            (22_050, 48_000),
            (22_050, 44_100),
            (22_050, 16_000),
            (48_000, 16_000),
            (44_100, 16_000),
            (16_000, 48_000),
            (8_000, 22_050),
        ];
        for (from, to) in pairs {
            for frequency in [200.0, 1_000.0, 3_000.0] {
                let (level, late, rest) = measure(frequency, from, to);
                let told = format!("{from} to {to}, {frequency} Hz: {level} {late} {rest}");
                assert!((level - 0.5).abs() < 0.005, "level: {told}");
                // The filter's middle may lie between two samples, and the delay is cut off in whole ones.
                assert!(late.abs() < 1.1 / f64::from(from.min(to)), "place: {told}");
                assert!(rest < 0.001, "purity: {told}");
            }
        }
    }

    #[test]
    fn what_the_new_rate_cannot_hold_is_taken_out() {
        let made = convert(&sine(11_000.0, 48_000, 1.0), 48_000, 16_000).unwrap();
        let loudest = made[800..15_200].iter().fold(0.0, |a: f32, b| a.max(b.abs()));
        assert!(loudest < 0.002, "11 kHz comes through at {loudest}");
    }

    #[test]
    fn impossible_rates_are_refused() {
        assert!(matches!(Resampler::new(0, 48_000), Err(ResampleError::Rate { from: 0, to: 48_000 })));
        assert!(Resampler::new(48_000, 0).is_err());
        assert!(Resampler::new(48_000, u32::MAX).is_err());
    }

    #[test]
    fn a_converter_can_be_used_again() {
        let sound = sine(700.0, 22_050, 0.3);
        let mut converter = Resampler::new(22_050, 48_000).unwrap();
        let mut runs = [Vec::new(), Vec::new()];
        for run in &mut runs {
            converter.push(&sound, run).unwrap();
            converter.finish(run).unwrap();
        }
        assert_eq!(runs[0], runs[1]);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]

        /// The length is right, and cutting the sound up makes no difference.
        #[test]
        fn pieces_or_whole_are_the_same(
            length in 0usize..5_000,
            piece in 1usize..700,
            rates in prop::sample::select(vec![(22_050u32, 48_000u32), (48_000, 16_000), (44_100, 16_000), (16_000, 16_000), (16_000, 22_050)]),
        ) {
            let (from, to) = rates;
            let sound: Vec<f32> = sine(440.0, from, 1.0).into_iter().cycle().take(length).collect();
            let whole = convert(&sound, from, to).unwrap();
            prop_assert_eq!(whole.len() as u64, (length as u64 * u64::from(to)).div_ceil(from.into()));
            let mut converter = Resampler::new(from, to).unwrap();
            let mut out = Vec::new();
            for piece in sound.chunks(piece) {
                converter.push(piece, &mut out).unwrap();
            }
            converter.finish(&mut out).unwrap();
            prop_assert_eq!(out, whole);
        }
    }
}
