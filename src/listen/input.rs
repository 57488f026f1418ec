//! Recordings: WAV and FLAC files of any rate and channel count, to the 16 kHz mono that this room works in. They are read
//! as they are listened to, so that one of hours takes no more memory than one of seconds.
//!
//! Knows files and samples. What is in them is for the listener.

use std::fs::File;
use std::io::{BufReader, Read, Seek};
use std::path::{Path, PathBuf};

use super::{ListenError, RATE};
use crate::files;
use crate::resample::{ResampleError, Resampler};

/// Samples of all channels that are taken from a file at a time, where it has no blocks of its own.
const TAKEN: usize = 16_384;

/// A recording that is being read.
pub struct SoundFile {
    path: PathBuf,
    kind: Kind,
    channels: usize,
    /// The size of the loudest sample.
    full: f32,
    resampler: Resampler,
    /// Nothing is left in the file.
    over: bool,
}

enum Kind {
    Wav(hound::WavReader<BufReader<File>>),
    /// With room for a block.
    Flac(claxon::FlacReader<BufReader<File>>, Vec<i32>),
}

impl SoundFile {
    /// Opens the recording in `path`. Which kind it is, its first bytes tell, not its name.
    pub fn open(path: &Path) -> Result<SoundFile, ListenError> {
        let wrong = |reason: String| ListenError::recording(path, reason);
        let file = files::open(path).map_err(|e| wrong(e.to_string()))?;
        let length = file.metadata().map_err(|e| wrong(e.to_string()))?.len();
        let mut file = BufReader::new(file);
        let mut head = [0; 4];
        file.read_exact(&mut head).map_err(|_| wrong("the file is too short to be a recording".into()))?;
        file.rewind().map_err(|e| wrong(e.to_string()))?;
        match &head {
            b"RIFF" => Self::wav(path, file, length),
            b"fLaC" => Self::flac(path, file),
            _ => Err("this is neither a WAV nor a FLAC file".into()),
        }
        .map_err(wrong)
    }

    fn wav(path: &Path, file: BufReader<File>, length: u64) -> Result<SoundFile, String> {
        let reader = hound::WavReader::new(file).map_err(|e| e.to_string())?;
        let spec = reader.spec();
        // Told before anything is done with the beginning of it.
        if u64::from(reader.len()) * u64::from(spec.bits_per_sample.div_ceil(8)) > length {
            return Err("the file is cut short: it holds less sound than it says".into());
        }
        let full = match spec.sample_format {
            hound::SampleFormat::Float => 1.0,
            hound::SampleFormat::Int => full_scale(spec.bits_per_sample.into()),
        };
        Self::new(path, Kind::Wav(reader), spec.channels.into(), full, spec.sample_rate)
    }

    fn flac(path: &Path, file: BufReader<File>) -> Result<SoundFile, String> {
        let reader = claxon::FlacReader::new(file).map_err(|e| e.to_string())?;
        let info = reader.streaminfo();
        let full = full_scale(info.bits_per_sample);
        Self::new(path, Kind::Flac(reader, Vec::new()), info.channels as usize, full, info.sample_rate)
    }

    fn new(path: &Path, kind: Kind, channels: usize, full: f32, rate: u32) -> Result<SoundFile, String> {
        if channels == 0 {
            return Err("it has no channels".into());
        }
        let resampler = Resampler::new(rate, RATE).map_err(|e| e.to_string())?;
        Ok(SoundFile { path: path.to_owned(), kind, channels, full, resampler, over: false })
    }

    /// The next stretch of it as 16 kHz mono; `None` once there is no more.
    pub fn read(&mut self) -> Result<Option<Vec<i16>>, ListenError> {
        while !self.over {
            let read = self.take().and_then(|mono| {
                let mut even = Vec::new();
                self.over = mono.is_empty();
                let failed = |e: ResampleError| e.to_string();
                match self.over {
                    true => self.resampler.finish(&mut even).map_err(failed)?,
                    false => self.resampler.push(&mono, &mut even).map_err(failed)?,
                }
                Ok(even)
            });
            let even = read.map_err(|reason: String| ListenError::recording(&self.path, reason))?;
            if !even.is_empty() {
                return Ok(Some(even.into_iter().map(sample).collect()));
            }
        }
        Ok(None)
    }

    /// The next samples in the file, the mean of its channels; none at its end.
    fn take(&mut self) -> Result<Vec<f32>, String> {
        let (channels, full) = (self.channels, self.full);
        match &mut self.kind {
            Kind::Wav(reader) => {
                let most = TAKEN.next_multiple_of(channels);
                let samples: Result<Vec<f32>, hound::Error> = match reader.spec().sample_format {
                    hound::SampleFormat::Float => reader.samples::<f32>().take(most).collect(),
                    hound::SampleFormat::Int => {
                        reader.samples::<i32>().take(most).map(|s| s.map(|value| value as f32 / full)).collect()
                    }
                };
                let samples = samples.map_err(|e| e.to_string())?;
                Ok(samples.chunks(channels).map(|frame| frame.iter().sum::<f32>() / channels as f32).collect())
            }
            Kind::Flac(reader, room) => {
                let block = reader.blocks().read_next_or_eof(std::mem::take(room)).map_err(|e| e.to_string())?;
                let Some(block) = block else { return Ok(Vec::new()) };
                let mut sums = vec![0f32; block.duration() as usize];
                for channel in 0..block.channels() {
                    for (sum, &value) in sums.iter_mut().zip(block.channel(channel)) {
                        *sum += value as f32 / full;
                    }
                }
                *room = block.into_buffer();
                sums.iter_mut().for_each(|sum| *sum /= channels as f32);
                Ok(sums)
            }
        }
    }
}

/// Reads the whole recording in `path` as 16 kHz mono.
pub fn read_sound(path: &Path) -> Result<Vec<i16>, ListenError> {
    let mut file = SoundFile::open(path)?;
    let mut samples = Vec::new();
    while let Some(piece) = file.read()? {
        samples.extend(piece);
    }
    Ok(samples)
}

/// A sample of -1 to 1 as the recogniser takes it.
pub(super) fn sample(value: f32) -> i16 {
    // The cast takes what lies outside to the nearer end, and what is no number to 0.
    (value * 32_768.0).round() as i16
}

fn full_scale(bits: u32) -> f32 {
    2f32.powi(bits.clamp(1, 32) as i32 - 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::PathBuf;

    fn write(folder: &Path, rate: u32, channels: u16, bits: u16, float: bool) -> PathBuf {
        let path = folder.join(format!("{rate}-{channels}-{bits}-{float}.wav"));
        let sample_format = if float { hound::SampleFormat::Float } else { hound::SampleFormat::Int };
        let spec = hound::WavSpec { channels, sample_rate: rate, bits_per_sample: bits, sample_format };
        let mut writer = hound::WavWriter::create(&path, spec).unwrap();
        for n in 0..rate {
            let value = 0.5 * (std::f32::consts::TAU * 440.0 * n as f32 / rate as f32).sin();
            for _ in 0..channels {
                if float {
                    writer.write_sample(value).unwrap();
                } else {
                    writer.write_sample((value * full_scale(bits.into())) as i32).unwrap();
                }
            }
        }
        writer.finalize().unwrap();
        path
    }

    #[test]
    fn every_kind_of_wav_gives_the_same_sound() {
        let folder = tempfile::tempdir().unwrap();
        let kinds = [
            (16_000, 1, 16, false),
            (16_000, 2, 16, false),
            (48_000, 1, 24, false),
            (44_100, 2, 32, true),
            (22_050, 6, 32, false),
            (8_000, 1, 8, false),
        ];
        for (rate, channels, bits, float) in kinds {
            let sound = read_sound(&write(folder.path(), rate, channels, bits, float)).unwrap();
            assert_eq!(sound.len(), RATE as usize);
            for (n, &sample) in sound.iter().enumerate().take(15_000).skip(1_000) {
                let wanted = 16_384.0 * (std::f32::consts::TAU * 440.0 * n as f32 / RATE as f32).sin();
                // Half a sample late at most: the converter works in whole ones.
                assert!(
                    (f32::from(sample) - wanted).abs() < 1_500.0,
                    "{rate} {channels} {bits}: {n} {sample} {wanted}"
                );
            }
        }
    }

    #[test]
    fn what_is_no_recording_is_told_with_its_path() {
        let folder = tempfile::tempdir().unwrap();
        let whole = std::fs::read(write(folder.path(), 16_000, 1, 16, false)).unwrap();
        let cases: [(&str, &[u8]); 5] = [
            ("empty.wav", b""),
            ("text.wav", b"not sound at all"),
            ("head.wav", &whole[..20]),
            ("cut.wav", &whole[..2_001]),
            ("head.flac", b"fLaC\0\0"),
        ];
        for (name, bytes) in cases {
            let path = folder.path().join(name);
            std::fs::write(&path, bytes).unwrap();
            let told = read_sound(&path).unwrap_err().to_string();
            assert!(told.starts_with(&path.display().to_string()), "{told}");
        }
        assert!(read_sound(&folder.path().join("none.wav")).unwrap_err().to_string().contains("none.wav"));
    }

    #[test]
    fn a_long_recording_comes_in_pieces_that_make_the_whole() {
        let folder = tempfile::tempdir().unwrap();
        for rate in [16_000, 44_100] {
            let path = write(folder.path(), rate, 2, 16, false);
            let mut file = SoundFile::open(&path).unwrap();
            let mut pieces = Vec::new();
            while let Some(piece) = file.read().unwrap() {
                assert!(piece.len() <= TAKEN && !piece.is_empty(), "{}", piece.len());
                pieces.push(piece);
            }
            assert!(pieces.len() >= 2, "{}", pieces.len());
            assert_eq!(pieces.concat(), read_sound(&path).unwrap());
            assert!(file.read().unwrap().is_none());
        }
    }

    #[test]
    fn samples_outside_are_held_at_the_ends() {
        assert_eq!([1.5, -1.5, 0.0, f32::NAN, 0.5].map(sample), [i16::MAX, i16::MIN, 0, 0, 16_384]);
    }
}
