//! Recordings: WAV and FLAC files of any rate and channel count, to the 16 kHz mono that this room works in.
//!
//! Knows files and samples. What is in them is for the listener.

use std::fs::File;
use std::io::{BufReader, Read, Seek};
use std::path::Path;

use super::{ListenError, RATE};
use crate::resample;

/// A sound as its file holds it, one channel.
struct Sound {
    rate: u32,
    samples: Vec<f32>,
}

/// Reads the recording in `path` as 16 kHz mono. Which kind it is, its first bytes tell, not its name.
pub fn read_sound(path: &Path) -> Result<Vec<i16>, ListenError> {
    let wrong = |reason: String| ListenError::recording(path, reason);
    let mut file = BufReader::new(File::open(path).map_err(|e| wrong(e.to_string()))?);
    let mut head = [0; 4];
    file.read_exact(&mut head).map_err(|_| wrong("the file is too short to be a recording".into()))?;
    file.rewind().map_err(|e| wrong(e.to_string()))?;
    let sound = match &head {
        b"RIFF" => wav(file),
        b"fLaC" => flac(file),
        _ => Err("this is neither a WAV nor a FLAC file".into()),
    }
    .map_err(wrong)?;
    let even = resample::convert(&sound.samples, sound.rate, RATE).map_err(|e| wrong(e.to_string()))?;
    Ok(even.into_iter().map(sample).collect())
}

/// A sample of -1 to 1 as the recogniser takes it.
pub(super) fn sample(value: f32) -> i16 {
    // The cast takes what lies outside to the nearer end, and what is no number to 0.
    (value * 32_768.0).round() as i16
}

fn wav(file: impl Read) -> Result<Sound, String> {
    let mut reader = hound::WavReader::new(file).map_err(|e| e.to_string())?;
    let spec = reader.spec();
    let samples: Result<Vec<f32>, hound::Error> = match spec.sample_format {
        hound::SampleFormat::Float => reader.samples::<f32>().collect(),
        hound::SampleFormat::Int => {
            let full = full_scale(spec.bits_per_sample.into());
            reader.samples::<i32>().map(|sample| sample.map(|value| value as f32 / full)).collect()
        }
    };
    mono(samples.map_err(|e| e.to_string())?, spec.channels.into(), spec.sample_rate)
}

fn flac(file: impl Read) -> Result<Sound, String> {
    let mut reader = claxon::FlacReader::new(file).map_err(|e| e.to_string())?;
    let info = reader.streaminfo();
    let full = full_scale(info.bits_per_sample);
    let samples: Result<Vec<f32>, claxon::Error> =
        reader.samples().map(|sample| sample.map(|value| value as f32 / full)).collect();
    mono(samples.map_err(|e| e.to_string())?, info.channels as usize, info.sample_rate)
}

fn full_scale(bits: u32) -> f32 {
    2f32.powi(bits.clamp(1, 32) as i32 - 1)
}

/// The mean of the channels.
fn mono(samples: Vec<f32>, channels: usize, rate: u32) -> Result<Sound, String> {
    if channels == 0 {
        return Err("it has no channels".into());
    }
    let samples = match channels {
        1 => samples,
        _ => samples.chunks(channels).map(|frame| frame.iter().sum::<f32>() / channels as f32).collect(),
    };
    Ok(Sound { rate, samples })
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
    fn samples_outside_are_held_at_the_ends() {
        assert_eq!([1.5, -1.5, 0.0, f32::NAN, 0.5].map(sample), [i16::MAX, i16::MIN, 0, 0, 16_384]);
    }
}
