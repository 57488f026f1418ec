//! A piper model: what its settings file says, and its network from phonemes to samples.
//!
//! Knows the form in which piper models take phonemes. Leaves where they come from, and how fast they are said, to its caller.

use std::collections::HashMap;

use ort::session::Session;
use ort::value::Tensor;
use serde::Deserialize;

/// Marks of a model that stand for no sound: the beginning, the end, and what stands between sounds.
const BEGIN: char = '^';
const END: char = '$';
const BETWEEN: char = '_';

/// The speaker that is taken of a model with several.
const SPEAKER: i64 = 0;

/// The settings of a model, as far as they are needed.
#[derive(Deserialize)]
pub(super) struct Settings {
    pub audio: Audio,
    pub espeak: Espeak,
    pub inference: Inference,
    num_speakers: u32,
    phoneme_id_map: HashMap<char, Vec<i64>>,
}

#[derive(Deserialize)]
pub(super) struct Audio {
    /// Samples a second.
    pub sample_rate: u32,
}

#[derive(Deserialize)]
pub(super) struct Espeak {
    /// The language that its phonemes are of, by espeak-ng's name.
    pub voice: String,
}

#[derive(Deserialize)]
pub(super) struct Inference {
    /// The model's own stretching of time.
    pub length_scale: f32,
    noise_scale: f32,
    noise_w: f32,
}

impl Settings {
    /// The numbers that the network takes for these phonemes. Those that it does not know are left out.
    fn numbers(&self, phonemes: &str) -> Vec<i64> {
        let number = |mark: char| self.phoneme_id_map.get(&mark).and_then(|all| all.first()).copied();
        let [begin, end, between] = [BEGIN, END, BETWEEN].map(|mark| number(mark).unwrap_or(0));
        let sounds = phonemes.chars().filter_map(number).flat_map(|sound| [sound, between]);
        [begin].into_iter().chain(sounds).chain([end]).collect()
    }

    /// The samples of these phonemes, in time stretched so much.
    pub fn say(&self, network: &mut Session, phonemes: &str, length_scale: f32) -> ort::Result<Vec<f32>> {
        let numbers = self.numbers(phonemes);
        let count = numbers.len();
        let scales = vec![self.inference.noise_scale, length_scale, self.inference.noise_w];
        let numbers = Tensor::from_array(([1, count], numbers))?;
        let length = Tensor::from_array(([1], vec![count as i64]))?;
        let scales = Tensor::from_array(([3], scales))?;
        let outputs = match self.num_speakers {
            0 | 1 => network.run(ort::inputs![numbers, length, scales])?,
            _ => network.run(ort::inputs![numbers, length, scales, Tensor::from_array(([1], vec![SPEAKER]))?])?,
        };
        let output = outputs.values().next().ok_or_else(|| ort::Error::new("the network gives nothing"))?;
        Ok(output.try_extract_tensor::<f32>()?.1.to_vec())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn phonemes_stand_between_marks_and_unknown_ones_are_left_out() {
        let settings = r#"{
            "audio": { "sample_rate": 22050 }, "espeak": { "voice": "en" }, "num_speakers": 1,
            "inference": { "noise_scale": 0.6, "length_scale": 1.0, "noise_w": 0.8 },
            "phoneme_id_map": { "_": [0], "^": [1], "$": [2], "a": [14], "t": [32, 33] }
        }"#;
        let settings: Settings = serde_json::from_str(settings).unwrap();
        assert_eq!(settings.numbers("tat"), [1, 32, 0, 14, 0, 32, 0, 2]);
        assert_eq!(settings.numbers("t?a"), [1, 32, 0, 14, 0, 2]);
        assert_eq!(settings.numbers(""), [1, 2]);
    }
}
