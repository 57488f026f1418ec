//! A sentence, clause by clause: the first clause can be heard while the rest is still being made.
//!
//! Knows a [`Voice`] and the pauses between clauses. Leaves it to the caller where the samples go.

use std::ops::ControlFlow;
use std::time::Duration;

use super::clauses::clauses;
use super::{SpeakError, Voice, loudness};

/// A pause between sentences that sounds right with voices that end each clause in some silence of their own.
pub const GAP: Duration = Duration::from_millis(120);

/// Levels up to this one are left as they are.
const KNEE: f32 = 0.8;
/// No sample is louder than this, so that nothing is clipped on the way to 16 bits.
pub const CEILING: f32 = 0.98;
/// Each clause begins and ends in a ramp this long, so that it does not click against the silence beside it.
const RAMP: Duration = Duration::from_millis(3);

/// Speaks `text` clause by clause and hands each one, with the pause that follows it, to `each`: `gap` after a
/// sentence, half of it after a part of one, both shortened by `pace`; none at the end. Ends early, and says so, when
/// `each` breaks.
pub fn say_sentence(
    voice: &mut dyn Voice,
    text: &str,
    pace: f32,
    gap: Duration,
    each: &mut dyn FnMut(Vec<f32>) -> ControlFlow<()>,
) -> Result<ControlFlow<()>, SpeakError> {
    let rate = voice.rate();
    let mut clauses = clauses(text).peekable();
    while let Some(clause) = clauses.next() {
        let mut samples = voice.say(&clause.to_text(), pace)?;
        loudness::even(&mut samples, rate);
        limit(&mut samples, 1.0);
        ramp(&mut samples, count(RAMP, rate));
        if clauses.peek().is_some() {
            let gap = if clause.ends_sentence() { gap } else { gap / 2 };
            let pace = if pace.is_finite() { pace.clamp(0.5, 3.0) } else { 1.0 };
            let silence = count(gap.div_f32(pace), rate);
            samples.resize(samples.len() + silence, 0.0);
        }
        if each(samples).is_break() {
            return Ok(ControlFlow::Break(()));
        }
    }
    Ok(ControlFlow::Continue(()))
}

/// The same in one piece, for a file.
pub fn whole_sentence(voice: &mut dyn Voice, text: &str, pace: f32, gap: Duration) -> Result<Vec<f32>, SpeakError> {
    let mut whole = Vec::new();
    let _ = say_sentence(voice, text, pace, gap, &mut |samples| {
        whole.extend_from_slice(&samples);
        ControlFlow::Continue(())
    })?;
    Ok(whole)
}

/// Multiplies by `gain` and bends what would be too loud below [`CEILING`]. What is not a number becomes silence.
pub fn limit(samples: &mut [f32], gain: f32) {
    const ROOM: f32 = CEILING - KNEE;
    for sample in samples {
        let value = *sample * gain;
        *sample = if value.is_nan() {
            0.0
        } else if value.abs() <= KNEE {
            value
        } else {
            (KNEE + ROOM * ((value.abs() - KNEE) / ROOM).tanh()).copysign(value)
        };
    }
}

/// Raises the first `length` samples from silence and lowers the last ones to it.
pub(super) fn ramp(samples: &mut [f32], length: usize) {
    let length = length.min(samples.len() / 2);
    let end = samples.len();
    for n in 0..length {
        // Half a cosine: no corner at either end.
        let level = 0.5 - 0.5 * (std::f32::consts::PI * n as f32 / length as f32).cos();
        samples[n] *= level;
        samples[end - 1 - n] *= level;
    }
}

/// How many samples a time takes.
pub(super) fn count(time: Duration, rate: u32) -> usize {
    (time.as_secs_f64() * f64::from(rate)).round() as usize
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Says every text as 100 loud samples, and writes down what it was asked.
    struct Parrot(Vec<String>);

    impl Voice for Parrot {
        fn rate(&self) -> u32 {
            1_000
        }
        fn say(&mut self, text: &str, _pace: f32) -> Result<Vec<f32>, SpeakError> {
            self.0.push(text.into());
            Ok(vec![3.0; 100])
        }
    }

    #[test]
    fn pauses_stand_between_clauses_and_not_after_the_last() {
        let mut parrot = Parrot(Vec::new());
        let mut lengths = Vec::new();
        let gap = Duration::from_millis(80);
        let end = say_sentence(&mut parrot, "Stage one: seventy. Go on.", 1.0, gap, &mut |s| {
            lengths.push(s.len());
            ControlFlow::Continue(())
        });
        assert!(end.unwrap().is_continue());
        assert_eq!(parrot.0, ["Stage one:", "seventy.", "Go on."]);
        assert_eq!(lengths, [140, 180, 100]);
        let whole = whole_sentence(&mut parrot, "Stage one: seventy. Go on.", 2.0, gap).unwrap();
        assert_eq!(whole.len(), 120 + 140 + 100);
    }

    #[test]
    fn what_is_not_wanted_any_more_is_not_made() {
        let mut parrot = Parrot(Vec::new());
        let end = say_sentence(&mut parrot, "One. Two. Three.", 1.0, GAP, &mut |_| ControlFlow::Break(()));
        assert!(end.unwrap().is_break());
        assert_eq!(parrot.0, ["One."]);
    }

    #[test]
    fn a_clause_is_as_loud_as_the_next_and_does_not_click() {
        let whole = whole_sentence(&mut Parrot(Vec::new()), "One.", 1.0, GAP).unwrap();
        assert!(whole.iter().all(|s| s.abs() <= CEILING));
        assert_eq!(whole[0], 0.0);
        assert_eq!(whole[whole.len() - 1], 0.0);
        // It came thirty times too loud, which is no speech any more: it is brought down as far as that is done.
        assert!(whole[50] < 0.8 && whole[50] > loudness::LEVEL);
    }

    proptest! {
        #[test]
        fn limiting_keeps_order_sign_and_ceiling(a in any::<f32>(), b in any::<f32>(), gain in 0.0f32..8.0) {
            let mut pair = [a, b];
            limit(&mut pair, gain);
            for (before, after) in [a, b].into_iter().zip(pair) {
                prop_assert!(after.abs() <= CEILING);
                if (before * gain).abs() <= KNEE {
                    prop_assert_eq!(after, before * gain);
                }
            }
            if a * gain <= b * gain {
                prop_assert!(pair[0] <= pair[1]);
            }
        }
    }
}
