//! Where samples go. The loudspeaker is one such place; here are two that need no sound card.

use std::path::PathBuf;

use super::{SpeakError, wav};

/// Takes samples and makes them heard, or keeps them.
pub trait Sink: Send {
    /// Samples a second that it takes.
    fn rate(&self) -> u32;
    /// What is played from here on is wanted, until it is stopped. Whoever looks whether it is does so after this: a stop in
    /// between is not missed.
    fn begin(&mut self) {}
    /// Appends `samples` (mono, -1 to 1) to what is being played. After a stop nothing is, until the next beginning.
    fn play(&mut self, samples: &[f32]) -> Result<(), SpeakError>;
    /// Falls silent at once and forgets what was not played yet.
    fn stop(&mut self);
    /// Whether something is still to be heard.
    fn is_playing(&self) -> bool;
}

/// Takes everything and does nothing, at once.
#[derive(Debug, Clone, Copy)]
pub struct Nothing {
    /// Samples a second that it pretends to take.
    pub rate: u32,
}

impl Sink for Nothing {
    fn rate(&self) -> u32 {
        self.rate
    }
    fn play(&mut self, _samples: &[f32]) -> Result<(), SpeakError> {
        Ok(())
    }
    fn stop(&mut self) {}
    fn is_playing(&self) -> bool {
        false
    }
}

/// Keeps everything for a WAV file. Nothing passes but what is played, so there is nothing to stop.
#[derive(Debug, Clone)]
pub struct WavSink {
    path: PathBuf,
    rate: u32,
    samples: Vec<f32>,
}

impl WavSink {
    /// For a file at `path` of `rate` samples a second; nothing is written before [`WavSink::finish`].
    pub fn new(path: impl Into<PathBuf>, rate: u32) -> Self {
        Self { path: path.into(), rate, samples: Vec::new() }
    }

    /// Writes the file.
    pub fn finish(self) -> Result<(), SpeakError> {
        wav::write_mono(&self.path, self.rate, &self.samples)
    }
}

impl Sink for WavSink {
    fn rate(&self) -> u32 {
        self.rate
    }
    fn play(&mut self, samples: &[f32]) -> Result<(), SpeakError> {
        self.samples.extend_from_slice(samples);
        Ok(())
    }
    fn stop(&mut self) {}
    fn is_playing(&self) -> bool {
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_holds_all_that_was_played() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.wav");
        let mut sink = WavSink::new(&path, 16_000);
        sink.play(&[0.5, 0.5]).unwrap();
        sink.play(&[-0.5]).unwrap();
        assert!(!path.exists());
        sink.finish().unwrap();
        let samples: Vec<i16> = hound::WavReader::open(&path).unwrap().into_samples().map(Result::unwrap).collect();
        assert_eq!(samples, [16_384, 16_384, -16_384]);
    }
}
