//! Voice activity: how much a short frame of sound is like a voice.
//!
//! Knows one frame after the other; leaves beginnings and ends to `endpoint`.

use earshot::Detector;

/// Samples in a frame: 16 ms.
pub const FRAME: usize = 256;

/// Frames to likelihoods of a voice. A trait so that endpointing can be tried without sound.
pub trait Activity {
    /// How likely a voice is in this frame, 0 to 1.
    fn voice(&mut self, frame: &[i16; FRAME]) -> f32;
    /// Forgets the sound so far.
    fn reset(&mut self);
}

/// A small neural network that knows voices from machines; 0.0003 of real time.
#[derive(Default)]
pub struct Earshot(Box<Detector>);

impl Activity for Earshot {
    fn voice(&mut self, frame: &[i16; FRAME]) -> f32 {
        self.0.predict_i16(frame)
    }

    fn reset(&mut self) {
        self.0.reset();
    }
}
