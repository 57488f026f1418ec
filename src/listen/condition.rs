//! What is wrong with the sound of a microphone that works: dead silence, too faint a voice, too loud a one, a steady
//! noise beside it.
//!
//! Knows the samples, and who is speaking while they come in. Each fault is told once; what to say about it is for
//! others to know. The limits are this program's own: they lie well outside of what a voice at a microphone that is set
//! up right gives, so that nobody is told of a fault that costs nothing.

use super::RATE;

/// Who is speaking.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Speaking {
    /// Nobody.
    Nobody,
    /// The user, as far as it is known.
    User,
    /// The program, whose voice may be in the microphone.
    Program,
}

/// A fault of the sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// Not one sample since it was opened that is not zero: it is muted, or not plugged in.
    DeadSilence,
    /// The voice is so faint that much of it is lost.
    Faint,
    /// The voice is cut off at full scale.
    Clipped,
    /// A steady noise, such as a fan's, hardly below a voice.
    Hum,
}

/// Dead silence of this length, while nobody speaks, is a fault.
const SILENCE: usize = RATE as usize * 15;
/// Samples at full scale next to each other that no voice makes, only a converter at its end.
const FLAT: usize = 4;
const FULL: i16 = 32_700;
/// An utterance with so many flat stretches is distorted.
pub(super) const STRETCHES: usize = 5;
/// Utterances in a row with the same fault before it is told.
const UTTERANCES: u32 = 2;
/// The loudest block of an utterance below this, in dB below full scale, is faint.
const FAINT: f32 = -42.0;
/// No more of an utterance than this is looked at.
const LONGEST: usize = RATE as usize * 10;
/// Blocks that levels are taken of: 100 ms.
const BLOCK: usize = RATE as usize / 10;
/// Blocks in a row without a voice that make a noise a steady one: 10 s.
const STEADY: usize = 100;
/// A steady noise louder than this costs commands.
const LOUD: f32 = -40.0;
/// How far a steady noise strays from its mean, in dB.
const STRAYS: f32 = 2.0;

/// The condition of one microphone.
#[derive(Debug, Default)]
pub struct Condition {
    told: Vec<Fault>,
    /// Has it ever brought a sample that is not zero?
    alive: bool,
    /// Zeros so far.
    zeros: usize,
    /// The utterance that goes on.
    utterance: Vec<i16>,
    faint: u32,
    clipped: u32,
    block: Vec<i16>,
    /// Levels of the last blocks without a voice.
    levels: Vec<f32>,
}

impl Condition {
    /// Takes a piece of 16 kHz mono sound; gives a fault that shows by it and was not told before.
    pub fn hear(&mut self, piece: &[i16], speaking: Speaking) -> Option<Fault> {
        self.alive |= piece.iter().any(|&sample| sample != 0);
        let fault = match speaking {
            Speaking::User => {
                if self.utterance.len() < LONGEST {
                    self.utterance.extend_from_slice(piece);
                }
                self.forget_noise();
                None
            }
            Speaking::Nobody => self.ended().or_else(|| self.quiet(piece)),
            Speaking::Program => {
                self.forget_noise();
                self.ended()
            }
        };
        let fault = fault.filter(|fault| !self.told.contains(fault))?;
        self.told.push(fault);
        Some(fault)
    }

    fn forget_noise(&mut self) {
        self.block.clear();
        self.levels.clear();
    }

    /// Looks at the utterance that has ended, if one has.
    fn ended(&mut self) -> Option<Fault> {
        let utterance = std::mem::take(&mut self.utterance);
        if utterance.is_empty() {
            return None;
        }
        let faults = of_voice(&utterance);
        let count = |so_far: u32, fault| if faults.contains(&fault) { so_far + 1 } else { 0 };
        self.faint = count(self.faint, Fault::Faint);
        self.clipped = count(self.clipped, Fault::Clipped);
        match () {
            () if self.clipped >= UTTERANCES => Some(Fault::Clipped),
            () if self.faint >= UTTERANCES => Some(Fault::Faint),
            () => None,
        }
    }

    fn quiet(&mut self, piece: &[i16]) -> Option<Fault> {
        if !self.alive {
            self.zeros += piece.len();
            return (self.zeros >= SILENCE).then_some(Fault::DeadSilence);
        }
        self.block.extend_from_slice(piece);
        let whole = self.block.len() / BLOCK * BLOCK;
        self.levels.extend(self.block[..whole].chunks_exact(BLOCK).map(level));
        self.block.drain(..whole);
        let surplus = self.levels.len().saturating_sub(STEADY);
        self.levels.drain(..surplus);
        let mean = self.levels.iter().sum::<f32>() / STEADY as f32;
        let steady = self.levels.len() == STEADY && self.levels.iter().all(|level| (level - mean).abs() <= STRAYS);
        (steady && mean > LOUD).then_some(Fault::Hum)
    }
}

/// What is wrong with a voice by itself: cut off, or faint.
pub(super) fn of_voice(voice: &[i16]) -> Vec<Fault> {
    let loudest = voice.chunks(BLOCK / 5).map(level).fold(f32::MIN, f32::max);
    let mut faults = Vec::new();
    faults.extend((flat_stretches(voice) >= STRETCHES).then_some(Fault::Clipped));
    faults.extend((!voice.is_empty() && loudest < FAINT).then_some(Fault::Faint));
    faults
}

/// Stretches at full scale that no voice makes.
pub(super) fn flat_stretches(samples: &[i16]) -> usize {
    let flat = |run: &[i16]| run.iter().all(|&s| s >= FULL) || run.iter().all(|&s| s <= -FULL);
    samples.chunks_exact(FLAT).filter(|run| flat(run)).count()
}

/// The level in dB below full scale, -100 at the least.
pub fn level(samples: &[i16]) -> f32 {
    let power = samples.iter().map(|&s| (f32::from(s) / 32_768.0).powi(2)).sum::<f32>() / samples.len().max(1) as f32;
    10.0 * power.max(1e-10).log10()
}

#[cfg(test)]
mod tests {
    use super::*;
    use Speaking::{Nobody, Program, User};

    /// A tone of so many dB below full scale; above 0 it is cut off.
    fn tone(db: f32, seconds: f32) -> Vec<i16> {
        let amplitude = 32_768.0 * 10f32.powf(db / 20.0) * std::f32::consts::SQRT_2;
        let count = (seconds * RATE as f32) as usize;
        (0..count).map(|n| (amplitude * (n as f32 * 0.06).sin()).clamp(-32_768.0, 32_767.0) as i16).collect()
    }

    fn hear(condition: &mut Condition, sound: &[i16], speaking: Speaking) -> Vec<Fault> {
        sound.chunks(480).filter_map(|piece| condition.hear(piece, speaking)).collect()
    }

    /// A second of voice and a second of rest, some times.
    fn talk(condition: &mut Condition, db: f32, times: usize) -> Vec<Fault> {
        let (voice, rest) = (tone(db, 1.0), tone(-65.0, 1.0));
        let once = |c: &mut Condition| [hear(c, &voice, User), hear(c, &rest, Nobody)].concat();
        (0..times).flat_map(|_| once(condition)).collect()
    }

    #[test]
    fn an_ordinary_voice_in_an_ordinary_bay_is_no_fault() {
        let mut condition = Condition::default();
        assert_eq!(talk(&mut condition, -24.0, 5), []);
        assert_eq!(hear(&mut condition, &tone(-55.0, 60.0), Nobody), []);
        assert_eq!(talk(&mut condition, -38.0, 5), []);
    }

    #[test]
    fn dead_silence_is_told_once_unless_there_was_ever_a_sound() {
        let mut condition = Condition::default();
        assert_eq!(hear(&mut condition, &[0; 16_000 * 20], Program), [], "nobody listens to it yet");
        assert_eq!(hear(&mut condition, &[0; 16_000 * 60], Nobody), [Fault::DeadSilence]);
        let mut condition = Condition::default();
        talk(&mut condition, -24.0, 1);
        assert_eq!(hear(&mut condition, &[0; 16_000 * 60], Nobody), []);
    }

    #[test]
    fn a_faint_and_a_distorted_voice_are_told_at_the_second_time() {
        let mut condition = Condition::default();
        assert_eq!(talk(&mut condition, -50.0, 1), []);
        assert_eq!(talk(&mut condition, -50.0, 4), [Fault::Faint]);
        assert_eq!(talk(&mut condition, 3.0, 1), []);
        assert_eq!(talk(&mut condition, 3.0, 4), [Fault::Clipped]);
        // As loud as it can be without being cut off.
        assert_eq!(talk(&mut Condition::default(), -3.2, 5), []);
    }

    #[test]
    fn a_steady_noise_is_told_and_one_that_comes_and_goes_is_not() {
        let mut condition = Condition::default();
        assert_eq!(hear(&mut condition, &tone(-35.0, 9.0), Nobody), []);
        assert_eq!(hear(&mut condition, &tone(-35.0, 5.0), Nobody), [Fault::Hum]);
        let mut condition = Condition::default();
        for _ in 0..20 {
            assert_eq!(hear(&mut condition, &tone(-20.0, 1.0), Nobody), []);
            assert_eq!(hear(&mut condition, &tone(-45.0, 1.0), Nobody), []);
        }
    }
}
