//! Hearing the user over the program's own voice: keeps what is played in step with what is heard, and hands both to the
//! echo canceller.
//!
//! Knows that loudspeaker and microphone keep the same pace but bring their sound in bursts, and that either may have
//! been away for a while. Where nothing is played there is nothing to take out, and the canceller rests: it would need more
//! of a processor than all else that listens while nobody speaks.

use crate::listen::{Echo, ListenError, RATE};

/// Played sound that is held back at first, so that bursts do not leave a gap in it. It must stay below the time that
/// sound takes from the program through loudspeaker and microphone back to the program, or the echo would come before
/// its cause; the buffers of the devices alone are more than that.
const LEAD: usize = RATE as usize * 40 / 1_000;
/// More than this means that one side was away, or that their clocks have drifted apart.
const MOST: usize = RATE as usize * 300 / 1_000;

/// So long after the last sound that was played its echo may still come: longer than any way through two devices and a room
/// that the canceller can follow. After that it rests.
const ECHOES: usize = RATE as usize * 2;

/// The echo canceller with the sound that waits for it.
#[derive(Default)]
pub struct Overhear {
    echo: Echo,
    /// Played, and not yet set against what was heard.
    played: Vec<i16>,
    in_step: bool,
    /// Samples since the last that was played.
    silence: usize,
    rests: bool,
}

/// Takes the program's own voice out of what was heard.
pub trait Cleaner: Send {
    /// What was heard in `heard` besides the voice; `played` is what was played since the last call. Both are 16 kHz
    /// mono. `speaking`: somebody else speaks just then.
    fn clean(&mut self, heard: &[i16], played: &[i16], speaking: bool) -> Result<Vec<i16>, ListenError>;
}

impl Cleaner for Overhear {
    /// While somebody is `speaking` the canceller does not begin to rest: some milliseconds are lost to that.
    fn clean(&mut self, heard: &[i16], played: &[i16], speaking: bool) -> Result<Vec<i16>, ListenError> {
        let far = self.in_step(heard.len(), played);
        let silent = far.iter().all(|sample| *sample == 0);
        self.silence = if silent { self.silence.saturating_add(heard.len()) } else { 0 };
        self.rests = silent && (self.rests || (self.silence > ECHOES && !speaking));
        if self.rests { Ok(self.echo.pass(heard)) } else { self.echo.cancel(heard, &far) }
    }
}

impl Overhear {
    /// What was played that belongs to the next `heard` samples; what is missing at its end is silence.
    fn in_step(&mut self, heard: usize, played: &[i16]) -> Vec<i16> {
        self.played.extend_from_slice(played);
        if self.played.len() > MOST + heard {
            let surplus = self.played.len() - LEAD - heard;
            self.played.drain(..surplus);
        }
        if !self.in_step && self.played.len() < LEAD + heard {
            return Vec::new();
        }
        let length = self.played.len().min(heard);
        self.in_step = length == heard;
        self.played.drain(..length).collect()
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
            clean.extend(overhear.clean(&heard[taken..until_heard], &voice[given..until_played], false).unwrap());
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
            heard.chunks(480).flat_map(|piece| overhear.clean(piece, &vec![0; piece.len()], true).unwrap()).collect();
        let kept = energy(&clean[4_000..]) / energy(&heard[4_000..clean.len()]);
        assert!((0.8..1.2).contains(&kept), "{kept}");
    }

    /// A voice, a long silence with somebody in it, and the voice again.
    #[test]
    fn after_a_rest_it_still_knows_the_room() {
        let delay = 16 * 120;
        let mut voice = babble(16_000 * 6);
        let pause = 16_000 * 20;
        let again = voice.len() + pause;
        voice.resize(again, 0);
        voice.extend(babble(16_000 * 2));
        let user = |n: usize| if (16_000 * 15..16_000 * 16).contains(&n) { (n % 97) as i16 * 40 } else { 0 };
        let echo = |n: usize| if n < delay { 0 } else { voice[n - delay] / 2 };
        let heard: Vec<i16> = (0..voice.len()).map(|n| echo(n) + user(n)).collect();
        let mut overhear = Overhear::default();
        let mut clean = Vec::new();
        let mut rested = 0;
        for (heard, played) in heard.chunks(480).zip(voice.chunks(480)) {
            clean.extend(overhear.clean(heard, played, false).unwrap());
            rested += usize::from(overhear.rests) * heard.len();
        }
        assert!(rested > pause - ECHOES - 16_000, "{rested}");
        assert!(heard.len() - clean.len() <= 160, "{} of {}", clean.len(), heard.len());
        // What the user says meanwhile passes as it is, sample by sample.
        let said = 16_000 * 15..16_000 * 16;
        assert_eq!(clean[said.clone()], heard[said]);
        // And of the voice no more is left than before the rest.
        let left = |of: std::ops::Range<usize>| energy(&clean[of.clone()]) / energy(&heard[of]);
        let after = left(again + delay..again + delay + 16_000);
        assert!(after < 0.01, "{after}");
    }

    #[test]
    fn it_does_not_begin_to_rest_while_somebody_speaks() {
        let mut overhear = Overhear::default();
        for at in 0..200 {
            overhear.clean(&[1_000; 480], &[0; 480], at > 10).unwrap();
        }
        assert!(!overhear.rests);
        overhear.clean(&[0; 480], &[0; 480], false).unwrap();
        assert!(overhear.rests);
        // Speech does not end a rest, the voice does.
        overhear.clean(&[1_000; 480], &[0; 480], true).unwrap();
        assert!(overhear.rests);
        for _ in 0..3 {
            overhear.clean(&[0; 480], &[100; 480], true).unwrap();
        }
        assert!(!overhear.rests);
    }

    #[test]
    fn nothing_piles_up_while_nobody_listens() {
        let mut overhear = Overhear::default();
        overhear.clean(&[], &babble(16_000 * 10), false).unwrap();
        assert!(overhear.played.len() <= MOST);
        overhear.clean(&[0; 480], &[], false).unwrap();
        assert!(overhear.played.len() <= MOST);
    }
}
