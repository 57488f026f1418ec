//! The sound of a trial: how recordings are laid out in time, what lies between them and the listener, and the noise.
//!
//! Knows samples and files. Which of them belong together is `trial`'s.

use super::HearingError;
use super::bed::Bed;
use super::noise::{self, Chance, Noise};
use super::recorded::Recorded;
use super::set::{Clip, Kind, Part};
use super::trial::{Meant, Stretch, Trial, Way, file_name, of};
use crate::listen::{ListenError, RATE, read_sound};
use crate::resample;
use std::collections::HashMap;

/// Room before and after the words of a command, in samples.
const BEFORE: usize = RATE as usize * 3 / 10;
const AFTER: usize = RATE as usize * 12 / 10;
/// What is louder than this is the voice; the rest is a synthesiser's own silence.
const VOICE: i16 = 100;
/// Seconds of a stretch of generated noise, and of a recorded one.
const STRETCH: usize = 120;
const RECORDED: usize = 30;
/// How loud noise alone is, and a radio alone, as root of the mean square.
const LOUD: f32 = 2_500.0;
const RADIO_LOUD: f32 = 1_500.0;
/// Seconds of noise that are made of each kind to be mixed in; each command meets a cut of it.
const BED: usize = 40;
/// Samples a second of a telephone.
const TELEPHONE: u32 = 8_000;

/// The sound of a trial.
pub struct Sound {
    /// 16 kHz mono.
    pub samples: Vec<i16>,
    /// Where the words of a command end.
    pub words_end: usize,
}

/// Makes sounds.
pub struct Mixer<'a> {
    clips: &'a [Clip],
    beds: HashMap<(Part, Bed), Vec<f32>>,
    rooms: HashMap<String, Vec<f32>>,
    radios: HashMap<Part, Vec<Vec<i16>>>,
}

impl<'a> Mixer<'a> {
    /// Makes or reads the noises and rooms that are met.
    pub fn new(clips: &'a [Clip], trials: &[Trial], recorded: Option<&Recorded>) -> Result<Self, HearingError> {
        let mut radios = HashMap::new();
        for part in Part::ALL {
            let spoken = of(clips, part, Kind::Radio).into_iter().map(|at| words(&clips[at]));
            if trials.iter().any(|trial| trial.part == part && trial.noise.is_some()) {
                radios.insert(part, spoken.collect::<Result<Vec<_>, _>>()?);
            }
        }
        let mut mixer = Self { clips, beds: HashMap::new(), rooms: HashMap::new(), radios };
        for trial in trials {
            if let Some(bed) = &trial.noise {
                let key = (trial.part, bed.clone());
                let made = match (bed, recorded) {
                    _ if mixer.beds.contains_key(&key) => continue,
                    (Bed::Made(noise), _) => mixer.made(trial.part, *noise),
                    (Bed::Recorded { file, .. }, Some(recorded)) => recorded.noise(file)?,
                    (Bed::Recorded { .. }, None) => continue,
                };
                mixer.beds.insert(key, made);
            }
            if let (Way::Room(file), Some(recorded)) = (&trial.way, recorded)
                && !mixer.rooms.contains_key(file)
            {
                mixer.rooms.insert(file.clone(), recorded.room(file)?);
            }
        }
        Ok(mixer)
    }

    fn voices(&self, part: Part) -> Vec<&[i16]> {
        self.radios.get(&part).into_iter().flatten().map(Vec::as_slice).collect()
    }

    fn made(&self, part: Part, noise: Noise) -> Vec<f32> {
        let chance = Chance::of(&["bed", part.name(), noise.name()]);
        noise::make(noise, BED * RATE as usize, chance, &self.voices(part))
    }

    /// The sound of one trial.
    pub fn sound(&self, trial: &Trial) -> Result<Sound, HearingError> {
        if let (Meant::Nothing(Stretch::Noise), Some(noise)) = (&trial.meant, &trial.noise) {
            return Ok(Sound { samples: self.alone(trial, noise), words_end: 0 });
        }
        let mut chance = Chance::of(&["pauses", trial.part.name(), &trial.number.to_string()]);
        let mut voice = vec![0i16; BEFORE];
        let mut words_end = 0;
        for &at in &trial.clips {
            voice.extend(words(&self.clips[at])?);
            words_end = voice.len();
            if trial.clips.len() > 1 {
                // People who talk pause for a third of a second up to one and a half.
                let pause = chance.between(0.35, 1.5) * RATE as f32;
                voice.resize(voice.len() + pause as usize, 0);
            }
        }
        voice.resize(voice.len() + AFTER, 0);
        match &trial.way {
            Way::Plain => {}
            Way::Telephone => voice = telephone(&voice)?,
            Way::Room(file) => voice = self.rooms.get(file).map_or(voice.clone(), |room| in_room(&voice, room)),
        }
        Ok(Sound { samples: self.mixed(trial, &voice), words_end })
    }

    /// A noise with nobody in it; no peak is cut off, for a recording of single blows has high ones.
    fn alone(&self, trial: &Trial, noise: &Bed) -> Vec<i16> {
        let (sound, loud) = match noise {
            Bed::Made(made) => {
                let chance = Chance::of(&["alone", trial.part.name(), made.name(), &trial.number.to_string()]);
                let loud = if *made == Noise::Radio { RADIO_LOUD } else { LOUD };
                (noise::make(*made, STRETCH * RATE as usize, chance, &self.voices(trial.part)), loud)
            }
            Bed::Recorded { .. } => {
                let bed = self.beds.get(&(trial.part, noise.clone())).map_or(&[][..], Vec::as_slice);
                let sound: Vec<f32> = bed.iter().copied().cycle().take(RECORDED * RATE as usize).collect();
                let peak = sound.iter().fold(1.0f32, |peak, s| peak.max(s.abs()));
                (sound, LOUD.min(30_000.0 / peak))
            }
        };
        sound.into_iter().map(|s| (s * loud) as i16).collect()
    }

    /// The voice over the noise, or over the faint hiss of a room.
    fn mixed(&self, trial: &Trial, voice: &[i16]) -> Vec<i16> {
        let name = trial.clips.first().map(|&at| file_name(&self.clips[at])).unwrap_or_default();
        let level = trial.level.unwrap_or_default();
        let mut chance = Chance::of(&["cut", &name, trial.noise.as_ref().map_or("", Bed::name), &level.to_string()]);
        let bed = trial.noise.as_ref().and_then(|noise| self.beds.get(&(trial.part, noise.clone())));
        let Some(bed) = bed else {
            return voice.iter().map(|s| s.saturating_add(chance.below(5) as i16 / 2 - 1)).collect();
        };
        let start = chance.below(bed.len());
        let scale = (power(voice) / 10f32.powf(level as f32 / 10.0)).sqrt();
        // A short recording is heard again and again.
        let noise = bed.iter().cycle().skip(start);
        let mixed: Vec<f32> = voice.iter().zip(noise).map(|(s, n)| f32::from(*s) + scale * n).collect();
        let peak = mixed.iter().fold(1.0f32, |peak, s| peak.max(s.abs()));
        // Blows are loud; a microphone would be set so that they do not clip.
        let gain = (30_000.0 / peak).min(1.0);
        mixed.into_iter().map(|s| (s * gain) as i16).collect()
    }
}

/// The words of a recording, without the silence around them.
fn words(clip: &Clip) -> Result<Vec<i16>, HearingError> {
    let sound = read_sound(&clip.path)?;
    let loud = |s: &i16| s.unsigned_abs() > VOICE.unsigned_abs();
    let (Some(first), Some(last)) = (sound.iter().position(loud), sound.iter().rposition(loud)) else {
        return Ok(Vec::new());
    };
    Ok(sound[first..=last].to_vec())
}

/// The voice through the band of a telephone.
fn telephone(voice: &[i16]) -> Result<Vec<i16>, HearingError> {
    let wide: Vec<f32> = voice.iter().map(|s| f32::from(*s)).collect();
    let narrow = resample::convert(&wide, RATE, TELEPHONE)
        .and_then(|narrow| resample::convert(&narrow, TELEPHONE, RATE))
        .map_err(|e| ListenError::Engine { engine: "bench", reason: e.to_string() })?;
    // Rounded up to whole samples on the way down, so that there may be one more.
    Ok(narrow.into_iter().take(voice.len()).map(|s| s as i16).collect())
}

/// The voice as it is heard in a room, as loud as before.
fn in_room(voice: &[i16], room: &[f32]) -> Vec<i16> {
    let mut heard = vec![0f32; voice.len()];
    for (at, sample) in voice.iter().enumerate().filter(|(_, sample)| **sample != 0) {
        let sample = f32::from(*sample);
        heard[at..].iter_mut().zip(room).for_each(|(sum, tap)| *sum += sample * tap);
    }
    let square = |of: &mut dyn Iterator<Item = f32>| of.map(|s| f64::from(s).powi(2)).sum::<f64>();
    let (before, after) = (square(&mut voice.iter().map(|s| f32::from(*s))), square(&mut heard.iter().copied()));
    let gain = (before / after.max(1e-9)).sqrt() as f32;
    heard.into_iter().map(|s| (s * gain) as i16).collect()
}

/// Mean square where there is sound.
fn power(samples: &[i16]) -> f32 {
    let loud = samples.iter().filter(|s| s.unsigned_abs() > VOICE.unsigned_abs());
    let (sum, count) = loud.fold((0.0, 0.0), |(sum, count), s| (sum + f64::from(*s).powi(2), count + 1.0));
    if count > 0.0 { (sum / count) as f32 } else { 1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f32::consts::TAU;

    fn sine(frequency: f32) -> Vec<i16> {
        (0..RATE as usize).map(|n| (8_000.0 * (TAU * frequency * n as f32 / RATE as f32).sin()) as i16).collect()
    }

    #[test]
    fn a_telephone_takes_out_what_is_high() {
        let power = |sound: &[i16]| sound[1_000..15_000].iter().map(|s| f64::from(*s).powi(2)).sum::<f64>();
        let (low, high) = (sine(1_000.0), sine(6_000.0));
        assert_eq!(telephone(&low).unwrap().len(), low.len());
        assert!(power(&telephone(&low).unwrap()) > 0.9 * power(&low));
        assert!(power(&telephone(&high).unwrap()) < 0.001 * power(&high));
    }

    #[test]
    fn a_room_adds_its_echo_and_keeps_the_loudness() {
        let mut voice = vec![0i16; 100];
        voice[10] = 10_000;
        let heard = in_room(&voice, &[1.0, 0.0, 0.0, -0.5]);
        assert_eq!((heard[10], heard[11], heard[13]), (8_944, 0, -4_472));
        assert_eq!(heard.len(), voice.len());
    }
}
