//! What is left of an utterance that was broken off, by a hole in the sound or a fault. By itself it could be taken for a whole
//! phrase, so it is not listened to.
//!
//! Whoever speaks in it speaks in vain, as did whoever was speaking before. That is to be told once the rest is over: by then
//! nobody is interrupted. Knows how voice-like each frame is; not the sound, and no words.

use super::endpoint::{BEGINNING, VOICE_BEGINS, VOICE_GOES_ON, frames};

/// Silence that ends it, and how long that is waited for where a machine passes for a voice.
const SILENCE: u32 = frames(420);
const LONGEST: u32 = frames(3_000);

/// The rest, frame by frame; over as it begins.
#[derive(Debug, Default)]
pub struct Rest {
    /// Silence that is still missing, and frames that are still waited.
    silence: u32,
    left: u32,
    /// The last four frames, newest in the lowest bit: voice or not.
    recent: u8,
    /// Whoever broke it off tells of it.
    told: bool,
    /// Frames since words may have been lost of which nobody tells.
    lost: Option<u32>,
}

impl Rest {
    /// Something may have been broken off here. `told`: whoever did so tells of it.
    pub fn begin(&mut self, told: bool) {
        // Holes one behind the other do not hide who speaks between them.
        let recent = if self.is_over() { 0 } else { self.recent };
        (self.silence, self.left, self.recent, self.told) = (SILENCE, LONGEST, recent, told);
    }

    /// Words may have been lost here of which nobody tells.
    pub fn lost(&mut self) {
        self.lost.get_or_insert(0);
    }

    /// Takes how voice-like the next frame is; says whether that still belongs to the rest.
    pub fn goes_on(&mut self, voice: f32) -> bool {
        self.lost = self.lost.map(|frames| frames.saturating_add(1));
        if self.is_over() {
            return false;
        }
        self.left -= 1;
        self.silence = if voice < VOICE_GOES_ON { self.silence - 1 } else { SILENCE };
        self.recent = (self.recent << 1 | u8::from(voice >= VOICE_BEGINS)) & 0b1111;
        if self.recent.count_ones() >= BEGINNING && !self.told {
            self.lost();
        }
        true
    }

    /// Is it time to tell that? Holes may follow each other for ever, so it is not put off for long.
    pub fn take_lost(&mut self) -> bool {
        let due = self.lost.is_some_and(|frames| self.is_over() || frames >= LONGEST);
        if due {
            self.lost = None;
        }
        due
    }

    fn is_over(&self) -> bool {
        self.left == 0 || self.silence == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_ends_in_silence_or_after_some_time() {
        let mut rest = Rest::default();
        assert!(!rest.goes_on(0.9), "nothing was broken off");
        rest.begin(false);
        assert!((0..50).all(|_| rest.goes_on(0.9)));
        assert!((0..SILENCE).all(|_| rest.goes_on(0.1)) && !rest.goes_on(0.9));
        rest.begin(false);
        assert!((0..LONGEST).all(|_| rest.goes_on(0.9)) && !rest.goes_on(0.9));
    }

    /// Silence, up to its end.
    fn end(rest: &mut Rest) {
        while rest.goes_on(0.0) {}
    }

    #[test]
    fn a_voice_in_it_is_told_once_it_is_over_and_once_only() {
        let mut rest = Rest::default();
        rest.begin(false);
        assert!((0..10).all(|_| rest.goes_on(0.9) && !rest.take_lost()), "nobody is interrupted");
        end(&mut rest);
        assert!(rest.take_lost() && !rest.take_lost());
        rest.begin(true);
        assert!((0..10).all(|_| rest.goes_on(0.9)));
        end(&mut rest);
        assert!(!rest.take_lost(), "it is told by somebody else");
        rest.begin(false);
        rest.goes_on(0.9);
        end(&mut rest);
        assert!(!rest.take_lost(), "a click is no voice");
    }

    #[test]
    fn holes_that_follow_each_other_for_ever_put_it_off_for_three_seconds() {
        for apart in [1, 2, 5] {
            let mut rest = Rest::default();
            let told = (0..2 * LONGEST).find(|frame| {
                if frame % apart == 0 {
                    rest.begin(false);
                }
                rest.goes_on(0.9);
                rest.take_lost()
            });
            assert!(told.is_some_and(|frame| (LONGEST..LONGEST + 5).contains(&frame)), "{apart}: {told:?}");
        }
    }
}
