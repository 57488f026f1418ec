//! How noisy the bay is, and how much louder the voice has to be for it.
//!
//! Knows the sound that the microphone brings while nobody speaks, neither the user nor the program. What "louder
//! please" changes comes on top of it.

use crate::listen::{RATE, level};

/// Up to this floor, in dB below full scale, a bay is quiet: the voice keeps its own level.
const QUIET: f32 = -50.0;
/// From there on the voice rises with the noise, dB for dB, so that it stays as far above it as in the quiet; but by no
/// more than this. Beyond it a loudspeaker only distorts, and a person only turns away.
const MOST: f32 = 9.0;
/// Blocks that the floor is looked for in: 100 ms.
const BLOCK: usize = RATE as usize / 10;
/// How fast the floor follows, in dB a block: up within some seconds of a machine that starts, down as slowly.
const FOLLOWS: f32 = 0.25;

/// The noise of the bay.
#[derive(Debug, Clone, Default)]
pub struct Bay {
    block: Vec<i16>,
    /// In dB below full scale; `None` until something was heard.
    floor: Option<f32>,
}

impl Bay {
    /// Takes sound in which nobody speaks.
    pub fn hear(&mut self, piece: &[i16]) {
        self.block.extend_from_slice(piece);
        let whole = self.block.len() / BLOCK * BLOCK;
        for block in self.block[..whole].chunks_exact(BLOCK) {
            let level = level(block);
            let floor = self.floor.get_or_insert(level);
            *floor += (level - *floor).clamp(-FOLLOWS, FOLLOWS);
        }
        self.block.drain(..whole);
    }

    /// Somebody has spoken: what was not looked at yet is no noise.
    pub fn interrupted(&mut self) {
        self.block.clear();
    }

    /// Factor on the voice's samples.
    pub fn gain(&self) -> f32 {
        let above = self.floor.map_or(0.0, |floor| (floor - QUIET).clamp(0.0, MOST));
        10f32.powf(above / 20.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Noise at so many dB below full scale.
    fn noise(db: f32, seconds: usize) -> Vec<i16> {
        let amplitude = 32_768.0 * 10f32.powf(db / 20.0);
        (0..seconds * RATE as usize).map(|n| if n % 2 == 0 { amplitude as i16 } else { -amplitude as i16 }).collect()
    }

    #[test]
    fn the_voice_rises_with_the_noise_and_falls_with_it() {
        let mut bay = Bay::default();
        assert_eq!(bay.gain(), 1.0);
        bay.hear(&noise(-60.0, 5));
        assert_eq!(bay.gain(), 1.0);
        bay.hear(&noise(-46.0, 20));
        let db = 20.0 * bay.gain().log10();
        assert!((3.5..4.5).contains(&db), "{db} dB");
        bay.hear(&noise(-10.0, 60));
        assert_eq!(20.0 * bay.gain().log10(), MOST);
        bay.hear(&noise(-70.0, 60));
        assert_eq!(bay.gain(), 1.0);
    }

    #[test]
    fn one_bang_is_no_noise() {
        let mut bay = Bay::default();
        bay.hear(&noise(-60.0, 5));
        bay.hear(&noise(-5.0, 1));
        assert_eq!(bay.gain(), 1.0);
    }

    proptest! {
        /// However the sound is cut up, it is the same noise.
        #[test]
        fn pieces_do_not_matter(cuts in prop::collection::vec(1usize..4_000, 1..12)) {
            let sound = noise(-40.0, 2);
            let (mut whole, mut cut) = (Bay::default(), Bay::default());
            whole.hear(&sound);
            let mut rest = &sound[..];
            for length in cuts {
                let (piece, after) = rest.split_at(length.min(rest.len()));
                cut.hear(piece);
                rest = after;
            }
            cut.hear(rest);
            prop_assert_eq!(whole.gain(), cut.gain());
        }
    }
}
