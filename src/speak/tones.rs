//! The short sounds that are no speech: something was heard, something is dangerous. Made here, not recorded.
//!
//! Knows what each sound has to tell; not when it is due. The four signal words follow the sense of ISO 7731: the
//! more urgent, the higher, the louder, the denser the pulses; the most urgent one sweeps; all have their strength
//! between 500 and 2,500 Hz, where noise and hearing protection leave most. Sounds that only acknowledge are soft and
//! short.

use std::f64::consts::TAU;
use std::time::Duration;

use super::sentence::{count, ramp};

/// A sound with a meaning of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Tone {
    /// A command was understood.
    Heard,
    /// Something was said that is not understood.
    NotUnderstood,
    /// A stage of tightening is in the record.
    Recorded,
    /// Before a note.
    Note,
    /// Before a caution: something could be damaged.
    Caution,
    /// Before a warning: somebody could be hurt.
    Warning,
    /// Before a danger: somebody will be hurt.
    Danger,
    /// From now on commands are not taken.
    ListeningOff,
    /// From now on commands are taken again.
    ListeningOn,
}

/// A stretch of sound that glides from one frequency to another, or of silence.
struct Beep {
    from: f64,
    to: f64,
    millis: u64,
    level: f64,
}

const fn beep(from: f64, to: f64, millis: u64, level: f64) -> Beep {
    Beep { from, to, millis, level }
}

const fn rest(millis: u64) -> Beep {
    beep(0.0, 0.0, millis, 0.0)
}

impl Tone {
    /// All of them.
    pub const ALL: [Tone; 9] = [
        Tone::Heard,
        Tone::NotUnderstood,
        Tone::Recorded,
        Tone::Note,
        Tone::Caution,
        Tone::Warning,
        Tone::Danger,
        Tone::ListeningOff,
        Tone::ListeningOn,
    ];

    fn score(self) -> &'static [Beep] {
        match self {
            Tone::Heard => const { &[beep(880.0, 880.0, 70, 0.2)] },
            Tone::NotUnderstood => const { &[beep(330.0, 260.0, 200, 0.25)] },
            Tone::Recorded => const { &[beep(660.0, 660.0, 80, 0.25), rest(30), beep(990.0, 990.0, 140, 0.25)] },
            Tone::Note => const { &[beep(520.0, 520.0, 200, 0.35)] },
            Tone::Caution => const { &[beep(740.0, 740.0, 140, 0.45), rest(80), beep(740.0, 740.0, 140, 0.45)] },
            Tone::Warning => {
                const {
                    &[
                        beep(1_050.0, 1_050.0, 110, 0.6),
                        rest(45),
                        beep(1_050.0, 1_050.0, 110, 0.6),
                        rest(45),
                        beep(1_050.0, 1_050.0, 110, 0.6),
                    ]
                }
            }
            Tone::Danger => {
                const {
                    &[
                        beep(1_200.0, 2_300.0, 125, 0.8),
                        rest(20),
                        beep(1_200.0, 2_300.0, 125, 0.8),
                        rest(20),
                        beep(1_200.0, 2_300.0, 125, 0.8),
                        rest(20),
                        beep(1_200.0, 2_300.0, 125, 0.8),
                    ]
                }
            }
            Tone::ListeningOff => const { &[beep(780.0, 390.0, 280, 0.3)] },
            Tone::ListeningOn => const { &[beep(390.0, 780.0, 280, 0.3)] },
        }
    }

    /// The sound, at `rate` samples a second; partials that the rate cannot hold are left out.
    pub fn samples(self, rate: u32) -> Vec<f32> {
        let mut sound = Vec::new();
        for beep in self.score() {
            let start = sound.len();
            let length = count(Duration::from_millis(beep.millis), rate);
            let mut phase = 0.0;
            for n in 0..length {
                let way = n as f64 / length as f64;
                let frequency = beep.from + (beep.to - beep.from) * way;
                // A second partial carries through noise that hides the first; the sum stays within the level.
                let second = if 2.0 * beep.to.max(beep.from) < 0.45 * f64::from(rate) { 0.25 } else { 0.0 };
                let wave = (phase * TAU).sin() * (1.0 - second) + (2.0 * phase * TAU).sin() * second;
                sound.push((beep.level * wave) as f32);
                phase += frequency / f64::from(rate);
            }
            ramp(&mut sound[start..], count(Duration::from_millis(8), rate));
        }
        sound
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 48_000;

    /// How strong a frequency is in a sound (Goertzel's way would be faster; this is plainer).
    fn strength(samples: &[f32], frequency: f64) -> f64 {
        let (mut re, mut im) = (0.0, 0.0);
        for (n, sample) in samples.iter().enumerate() {
            let phase = TAU * frequency * n as f64 / f64::from(RATE);
            re += f64::from(*sample) * phase.cos();
            im += f64::from(*sample) * phase.sin();
        }
        re.hypot(im)
    }

    /// The strongest frequency, to 10 Hz.
    fn pitch(samples: &[f32]) -> f64 {
        (20..300)
            .map(|n| 10.0 * f64::from(n))
            .max_by(|a, b| strength(samples, *a).total_cmp(&strength(samples, *b)))
            .unwrap()
    }

    fn rms(samples: &[f32]) -> f64 {
        (samples.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / samples.len() as f64).sqrt()
    }

    #[test]
    fn all_are_short_and_none_is_too_loud() {
        for tone in Tone::ALL {
            for rate in [8_000, 16_000, 22_050, 44_100, 48_000, 96_000] {
                let samples = tone.samples(rate);
                let length = samples.len() as f64 / f64::from(rate);
                assert!((0.05..=0.6).contains(&length), "{tone:?} takes {length} s");
                assert!(samples.iter().all(|s| s.abs() <= 0.9), "{tone:?} at {rate}");
                assert!(rms(&samples) > 0.05, "{tone:?} at {rate} is hardly there");
            }
        }
    }

    #[test]
    fn none_clicks() {
        for tone in Tone::ALL {
            let samples = tone.samples(RATE);
            assert_eq!(samples[0], 0.0);
            assert!(samples[samples.len() - 1].abs() < 0.001, "{tone:?}");
            // The steepest slope of the highest partial at full level; a step would be far steeper.
            let steepest = samples.windows(2).map(|w| (w[1] - w[0]).abs()).fold(0.0, f32::max);
            assert!(steepest < 0.36, "{tone:?} jumps by {steepest}");
        }
        // In the softest and lowest, where a click would be plainest.
        let soft = Tone::NotUnderstood.samples(RATE);
        let steepest = soft.windows(2).map(|w| (w[1] - w[0]).abs()).fold(0.0, f32::max);
        assert!(steepest < 0.02, "{steepest}");
    }

    #[test]
    fn no_two_are_alike() {
        // Length, and pitch as it starts and as it ends: up and down differ.
        let marks = Tone::ALL.map(|tone| {
            let samples = tone.samples(RATE);
            let third = samples.len() / 3;
            (tone, [samples.len() as f64, pitch(&samples[..third]), pitch(&samples[2 * third..])])
        });
        for (n, (a, of_a)) in marks.iter().enumerate() {
            for (b, of_b) in &marks[n + 1..] {
                let apart = |n: usize| (of_a[n] / of_b[n]).ln().abs();
                assert!(apart(0) > 0.2 || apart(1) > 0.15 || apart(2) > 0.15, "{a:?} {of_a:?} and {b:?} {of_b:?}");
            }
        }
    }

    #[test]
    fn urgency_rises_in_pitch_level_and_length() {
        let signals = [Tone::Note, Tone::Caution, Tone::Warning, Tone::Danger];
        for pair in signals.windows(2) {
            let (less, more) = (pair[0].samples(RATE), pair[1].samples(RATE));
            assert!(rms(&more) > 1.1 * rms(&less), "{pair:?}");
            assert!(more.len() > less.len(), "{pair:?}");
            assert!(pitch(&more) > 1.2 * pitch(&less), "{pair:?}");
        }
        for tone in signals {
            let pitch = pitch(&tone.samples(RATE));
            assert!((500.0..=2_500.0).contains(&pitch), "{tone:?}: {pitch} Hz");
        }
    }
}
