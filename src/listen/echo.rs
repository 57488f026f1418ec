//! Takes what the loudspeaker plays out of what the microphone hears, so that a command can be heard while the program
//! speaks.
//!
//! Knows two streams of 16 kHz mono sound that run at the same pace, some delay apart, and finds the delay and the room
//! by itself. What is left of the voice is faint, not gone: which phrases are safe to take meanwhile is for the session
//! to say.

use sonora::config::EchoCanceller;
use sonora::{AudioProcessing, Config, StreamConfig};

use super::{ListenError, RATE};

/// The canceller works in frames of 10 ms.
const FRAME: usize = RATE as usize / 100;

/// Of what was heard while the canceller rested it is told so much when it works again, 100 ms: what it holds of the
/// microphone's sound is then what came just before.
const BEFORE: usize = 10 * FRAME;

/// An echo canceller, with what it has learnt of the room.
pub struct Echo {
    engine: AudioProcessing,
    /// The last that passed by while it rested.
    passed: Vec<i16>,
    /// Heard, and waiting for a whole frame.
    near: Vec<i16>,
    /// Played meanwhile.
    far: Vec<i16>,
}

impl Default for Echo {
    fn default() -> Self {
        let stream = StreamConfig::new(RATE, 1);
        // Nothing but the echo is taken out: a high-pass filter, or one against noise, makes recognition worse.
        let echo = EchoCanceller { enforce_high_pass_filtering: false, ..EchoCanceller::default() };
        let config = Config { echo_canceller: Some(echo), ..Config::default() };
        let engine = AudioProcessing::builder().config(config).capture_config(stream).render_config(stream).build();
        Self { engine, passed: Vec::new(), near: Vec::new(), far: Vec::new() }
    }
}

impl Echo {
    /// Gives what was heard in `near` without what was played in `far`, in whole frames: up to 10 ms come with the
    /// next call. Where `far` is shorter than `near`, nothing was played.
    pub fn cancel(&mut self, near: &[i16], far: &[i16]) -> Result<Vec<i16>, ListenError> {
        self.near.extend_from_slice(near);
        let end = self.near.len();
        self.far.extend_from_slice(far);
        self.far.resize(end, 0);
        let frames = end / FRAME;
        let passed = std::mem::take(&mut self.passed);
        let mut unused = [0; FRAME];
        for near in passed.rchunks_exact(FRAME).rev() {
            cancel(&mut self.engine, near, &[0; FRAME], &mut unused)?;
        }
        let mut clean = vec![0; frames * FRAME];
        let pieces = self.near.chunks_exact(FRAME).zip(self.far.chunks_exact(FRAME));
        for ((near, far), clean) in pieces.zip(clean.chunks_exact_mut(FRAME)) {
            cancel(&mut self.engine, near, far, clean)?;
        }
        self.near.drain(..frames * FRAME);
        self.far.drain(..frames * FRAME);
        Ok(clean)
    }

    /// Gives what was heard as it is, with what was waiting before it: for as long as nothing is played. What it has learnt
    /// of the room it keeps. Canceling nothing takes as long as canceling a voice.
    pub fn pass(&mut self, near: &[i16]) -> Vec<i16> {
        let mut heard = std::mem::take(&mut self.near);
        heard.extend_from_slice(near);
        self.far.clear();
        self.passed.extend_from_slice(&heard);
        let surplus = self.passed.len().saturating_sub(BEFORE);
        self.passed.drain(..surplus);
        heard
    }
}

/// One frame.
fn cancel(engine: &mut AudioProcessing, near: &[i16], far: &[i16], clean: &mut [i16]) -> Result<(), ListenError> {
    engine
        .process_render_i16(far, clean)
        .and_then(|()| engine.process_capture_i16(near, clean))
        .map_err(|e| ListenError::Engine { engine: "the echo canceller", reason: e.to_string() })
}
