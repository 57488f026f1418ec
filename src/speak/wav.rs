//! Sound to WAV files: one voice, or two sides that are laid down independently and heard together.
//!
//! Knows samples and 16-bit WAV; nothing else in the program writes it. A file is written whole or not at all: under a temporary name, then renamed.

use std::io::{self, BufWriter, Cursor, Seek, Write};
use std::path::Path;

use hound::{SampleFormat, WavSpec, WavWriter};

use super::SpeakError;
use crate::files;

/// Writes `samples` as a mono file.
pub fn write_mono(path: &Path, rate: u32, samples: &[f32]) -> Result<(), SpeakError> {
    write(path, rate, 1, samples.iter().copied())
}

/// A mono file as bytes, for whoever keeps it in a way of its own.
pub fn bytes(rate: u32, samples: &[i16]) -> io::Result<Vec<u8>> {
    let mut bytes = Cursor::new(Vec::with_capacity(samples.len() * 2 + 64));
    encode(&mut bytes, rate, 1, samples.iter().copied())?;
    Ok(bytes.into_inner())
}

/// A side of a [`StereoTape`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
}

/// Two tracks side by side, for instance the mechanic and the assistant. What is not recorded is silence.
#[derive(Debug, Clone)]
pub struct StereoTape {
    rate: u32,
    left: Vec<f32>,
    right: Vec<f32>,
}

impl StereoTape {
    /// An empty tape of `rate` samples a second.
    pub fn new(rate: u32) -> Self {
        Self { rate, left: Vec::new(), right: Vec::new() }
    }

    /// Samples a second.
    pub fn rate(&self) -> u32 {
        self.rate
    }

    /// Length of the longer side, in samples.
    pub fn len(&self) -> usize {
        self.left.len().max(self.right.len())
    }

    /// Whether nothing is recorded.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Lays `samples` down at the end of a side.
    pub fn append(&mut self, side: Side, samples: &[f32]) {
        self.track(side).extend_from_slice(samples);
    }

    /// Lays `samples` down from sample `at` on. Where there is sound already, both are heard.
    pub fn put(&mut self, side: Side, at: usize, samples: &[f32]) {
        let track = self.track(side);
        let end = at + samples.len();
        if track.len() < end {
            track.resize(end, 0.0);
        }
        for (old, new) in track[at..].iter_mut().zip(samples) {
            *old += new;
        }
    }

    /// Cuts a side off at sample `at`, as when speech is stopped.
    pub fn cut(&mut self, side: Side, at: usize) {
        self.track(side).truncate(at);
    }

    /// Writes both sides, the shorter one filled up with silence.
    pub fn write(&self, path: &Path) -> Result<(), SpeakError> {
        let at = |track: &[f32], n: usize| track.get(n).copied().unwrap_or(0.0);
        let both = (0..self.len()).flat_map(|n| [at(&self.left, n), at(&self.right, n)]);
        write(path, self.rate, 2, both)
    }

    fn track(&mut self, side: Side) -> &mut Vec<f32> {
        match side {
            Side::Left => &mut self.left,
            Side::Right => &mut self.right,
        }
    }
}

/// To 16 bits; too loud becomes as loud as possible, and what is no number silence.
fn to_i16(sample: f32) -> i16 {
    (sample * f32::from(i16::MAX)).round() as i16
}

fn write(path: &Path, rate: u32, channels: u16, samples: impl Iterator<Item = f32>) -> Result<(), SpeakError> {
    files::write(path, |unfinished| encode(BufWriter::new(unfinished), rate, channels, samples.map(to_i16)))
        .map_err(|e| SpeakError::Wav { path: path.into(), reason: e.to_string() })
}

fn encode(into: impl Write + Seek, rate: u32, channels: u16, samples: impl Iterator<Item = i16>) -> io::Result<()> {
    let spec = WavSpec { channels, sample_rate: rate, bits_per_sample: 16, sample_format: SampleFormat::Int };
    let written = WavWriter::new(into, spec).and_then(|mut file| {
        for sample in samples {
            file.write_sample(sample)?;
        }
        file.finalize()
    });
    written.map_err(|e| match e {
        // The system's own words, without hound's.
        hound::Error::IoError(e) => e,
        e => io::Error::other(e.to_string()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    fn read(path: &Path) -> (WavSpec, Vec<i16>) {
        let mut file = hound::WavReader::open(path).unwrap();
        (file.spec(), file.samples::<i16>().map(Result::unwrap).collect())
    }

    #[test]
    fn mono_comes_back_as_it_was() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.wav");
        write_mono(&path, 22_050, &[0.0, 0.5, -0.5, 1.0, -1.0, 7.0, -7.0, f32::NAN]).unwrap();
        let (spec, samples) = read(&path);
        assert_eq!((spec.channels, spec.sample_rate, spec.bits_per_sample), (1, 22_050, 16));
        assert_eq!(samples, [0, 16_384, -16_384, 32_767, -32_767, 32_767, -32_768, 0]);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn sides_are_laid_down_independently_and_padded() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.wav");
        let mut tape = StereoTape::new(16_000);
        assert!(tape.is_empty());
        tape.append(Side::Left, &[0.5]);
        tape.put(Side::Right, 2, &[0.25, 0.25]);
        tape.put(Side::Right, 3, &[0.25]);
        tape.append(Side::Left, &[-0.5]);
        assert_eq!(tape.len(), 4);
        tape.write(&path).unwrap();
        let (spec, samples) = read(&path);
        assert_eq!((spec.channels, spec.sample_rate), (2, 16_000));
        assert_eq!(samples, [16_384, 0, -16_384, 0, 0, 8_192, 0, 16_384]);
        tape.cut(Side::Right, 3);
        assert_eq!(tape.len(), 3);
        tape.cut(Side::Right, 30);
        assert_eq!(tape.len(), 3);
    }

    #[test]
    fn errors_begin_with_the_path_and_leave_nothing_behind() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("no/such/folder/a.wav");
        let told = write_mono(&path, 16_000, &[0.0]).unwrap_err().to_string();
        assert!(told.starts_with(&format!("{}: ", path.display())), "{told}");
        assert!(write_mono(Path::new("/"), 16_000, &[0.0]).is_err());
        // A folder stands where the file should go.
        let told = write_mono(folder.path(), 16_000, &[0.0]).unwrap_err().to_string();
        assert!(told.starts_with(&format!("{}: ", folder.path().display())), "{told}");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
