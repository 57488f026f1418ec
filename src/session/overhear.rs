//! Hearing the user over the program's own voice: keeps what is played in step with what is heard, and hands both to the
//! echo canceller.
//!
//! Knows that loudspeaker and microphone keep the same pace but bring their sound in bursts, and that either may have
//! been away for a while.

use crate::listen::{Echo, ListenError, RATE};

/// Played sound that is held back at first, so that bursts do not leave a gap in it. It must stay below the time that
/// sound takes from the program through loudspeaker and microphone back to the program, or the echo would come before
/// its cause; the buffers of the devices alone are more than that.
const LEAD: usize = RATE as usize * 40 / 1_000;
/// More than this means that one side was away, or that their clocks have drifted apart.
const MOST: usize = RATE as usize * 300 / 1_000;

/// The echo canceller with the sound that waits for it.
#[derive(Default)]
pub struct Overhear {
    echo: Echo,
    /// Played, and not yet set against what was heard.
    played: Vec<i16>,
    in_step: bool,
}

impl Overhear {
    /// What was heard in `heard` besides the voice; `played` is what was played since the last call. Both are 16 kHz
    /// mono.
    pub fn clean(&mut self, heard: &[i16], played: &[i16]) -> Result<Vec<i16>, ListenError> {
        self.played.extend_from_slice(played);
        if self.played.len() > MOST + heard.len() {
            let surplus = self.played.len() - LEAD - heard.len();
            self.played.drain(..surplus);
        }
        if !self.in_step && self.played.len() < LEAD + heard.len() {
            return self.echo.cancel(heard, &[]);
        }
        let length = self.played.len().min(heard.len());
        self.in_step = length == heard.len();
        let far: Vec<i16> = self.played.drain(..length).collect();
        self.echo.cancel(heard, &far)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sound like a voice in its changes of loudness: the canceller does not learn from a steady tone.
    fn babble(length: usize) -> Vec<i16> {
        let mut state = 1u32;
        (0..length)
            .map(|n| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                let noise = (state >> 16) as i16 / 8;
                if n / 3_000 % 3 == 2 { 0 } else { noise }
            })
            .collect()
    }

    fn energy(samples: &[i16]) -> f64 {
        samples.iter().map(|s| f64::from(*s).powi(2)).sum()
    }

    #[test]
    fn the_voice_is_taken_out_although_both_sides_come_in_bursts() {
        let voice = babble(16_000 * 6);
        let delay = 16 * 120;
        let heard: Vec<i16> = (0..voice.len()).map(|n| if n < delay { 0 } else { voice[n - delay] / 2 }).collect();
        let mut overhear = Overhear::default();
        let mut clean = Vec::new();
        // Played in bursts of 25 ms, heard in bursts of 20 ms, looked at every 30 ms.
        let (mut given, mut taken) = (0, 0);
        for look in 1..voice.len() / 480 {
            let (until_played, until_heard) = (look * 480 / 400 * 400, look * 480 / 320 * 320);
            clean.extend(overhear.clean(&heard[taken..until_heard], &voice[given..until_played]).unwrap());
            (given, taken) = (until_played, until_heard);
        }
        let late = clean.len() / 2;
        let (before, after) = (energy(&heard[late..clean.len()]), energy(&clean[late..]));
        assert!(after < before / 100.0, "{:.1} dB", 10.0 * (after / before).log10());
    }

    #[test]
    fn what_is_heard_in_silence_stays_as_it_is() {
        let heard = babble(16_000);
        let mut overhear = Overhear::default();
        let clean: Vec<i16> =
            heard.chunks(480).flat_map(|piece| overhear.clean(piece, &vec![0; piece.len()]).unwrap()).collect();
        let kept = energy(&clean[4_000..]) / energy(&heard[4_000..clean.len()]);
        assert!((0.8..1.2).contains(&kept), "{kept}");
    }

    #[test]
    fn nothing_piles_up_while_nobody_listens() {
        let mut overhear = Overhear::default();
        overhear.clean(&[], &babble(16_000 * 10)).unwrap();
        assert!(overhear.played.len() <= MOST);
        overhear.clean(&[0; 480], &[]).unwrap();
        assert!(overhear.played.len() <= MOST);
    }
}
