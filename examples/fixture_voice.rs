//! Speaks many sentences to files with the program's own voice; `scripts/make-fixtures` runs it.
//!
//! `fixture_voice VOICE-FOLDER` reads lines of `FILE<TAB>PACE<TAB>TEXT` from standard input.

use std::error::Error;
use std::io::{BufRead, stdin};
use std::path::Path;

use wrenchside::assets::Places;
use wrenchside::onnx;
use wrenchside::speak::{Piper, Voice};

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args().nth(1).ok_or("usage: fixture_voice VOICE-FOLDER")?;
    let places = Places::here();
    onnx::load(&places.onnx_runtime(None)?)?;
    let mut voice = Piper::load(Path::new(&folder), &places.phonemes(None)?)?;
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: voice.rate(),
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    for line in stdin().lock().lines() {
        let line = line?;
        let mut parts = line.splitn(3, '\t');
        let (Some(file), Some(pace), Some(text)) = (parts.next(), parts.next(), parts.next()) else {
            return Err(format!("not FILE, PACE and TEXT: {line:?}").into());
        };
        let mut out = hound::WavWriter::create(file, spec)?;
        for sample in voice.say(text, pace.parse()?)? {
            out.write_sample((sample * 32_767.0).clamp(-32_768.0, 32_767.0) as i16)?;
        }
        out.finalize()?;
    }
    Ok(())
}
