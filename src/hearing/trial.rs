//! What is played: a command at a moment in a noise, or a stretch of sound in which nothing is meant.
//!
//! Knows how sound is laid out in time and mixed. A trial is made of indices and names; its sound is made when it is
//! played, so that a set of hours fits into memory.

use super::HearingError;
use super::moment::{Allowed, Moment};
use super::noise::{self, Chance, Noise};
use super::set::{Clip, Kind, Part};
use crate::listen::{RATE, read_sound};
use serde::{Deserialize, Serialize};
use std::collections::HashMap;

/// Speech power over noise power, in decibels, that commands are played at, the quiet room first.
pub const LEVELS: [Option<i32>; 5] = [None, Some(20), Some(10), Some(5), Some(0)];
/// Room before and after the words of a command, in samples.
const BEFORE: usize = RATE as usize * 3 / 10;
const AFTER: usize = RATE as usize * 12 / 10;
/// What is louder than this is the voice; the rest is a synthesiser's own silence.
const VOICE: i16 = 100;
/// Recordings in a stretch of talk.
const SENTENCES: usize = 15;
/// A stretch of noise, in seconds, and how many there are of each machine and of the radio: an hour in all.
const STRETCH: usize = 120;
const MACHINES: usize = 3;
const RADIOS: usize = 15;
/// How loud noise alone is, and a radio alone, as root of the mean square.
const LOUD: f32 = 2_500.0;
const RADIO_LOUD: f32 = 1_500.0;
/// Seconds of noise that are made of each kind to be mixed in; each command meets a cut of it.
const BED: usize = 40;

/// What a stretch of sound without commands is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stretch {
    /// One sentence that denies, doubts, asks for or comes close to what a command would do.
    Denial,
    /// Talk, with pauses, in a quiet room or over a noise.
    Talk,
    /// A machine, or a radio.
    Noise,
}

/// What is meant in a trial.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Meant {
    /// This phrase.
    Phrase(String),
    /// Nothing.
    Nothing(Stretch),
}

/// One thing to play.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Trial {
    /// What the voices are for.
    pub part: Part,
    /// The state of the job.
    pub moment: Moment,
    /// What is meant.
    pub meant: Meant,
    /// Who speaks; empty if several or none do.
    pub voice: String,
    /// How far the voice is above the noise.
    pub level: Option<i32>,
    /// The noise.
    pub noise: Option<Noise>,
    /// Which recordings, one after the other.
    pub clips: Vec<usize>,
    /// Tells stretches of one kind apart.
    pub number: usize,
}

/// Phrases that no moment offers, and the trials.
pub struct Plan {
    /// The trials.
    pub trials: Vec<Trial>,
    /// Texts that mean nothing at any moment, as they may when the language has changed since the set was made.
    pub unknown: Vec<String>,
}

/// What there is to play: of each command every level with one noise in turn, or with all.
pub fn plan(clips: &[Clip], moments: &[(Moment, Allowed)], all_noises: bool) -> Plan {
    let mut trials = Vec::new();
    let mut unknown = Vec::new();
    let mut voices: Vec<&str> = Vec::new();
    let mut texts: Vec<&str> = Vec::new();
    for (at, clip) in clips.iter().enumerate() {
        if !matches!(clip.kind, Kind::Command | Kind::Number) {
            continue;
        }
        let found = moments.iter().find(|(_, allowed)| allowed.means(&clip.text));
        let Some((moment, _)) = found else {
            if !unknown.contains(&clip.text) {
                unknown.push(clip.text.clone());
            }
            continue;
        };
        let (voice, text) = (number_of(&mut voices, &clip.voice), number_of(&mut texts, &clip.text));
        let trial = Trial {
            part: clip.part,
            moment: *moment,
            meant: Meant::Phrase(clip.text.clone()),
            voice: clip.voice.clone(),
            level: None,
            noise: None,
            clips: vec![at],
            number: 0,
        };
        // People are recorded as they are, with their own rooms; once more in noise is enough.
        let levels = if clip.part == Part::People { &LEVELS[..3] } else { &LEVELS[..] };
        for (turn, level) in levels.iter().enumerate() {
            let noises = match level {
                None => vec![None],
                Some(_) if all_noises => Noise::ALL.map(Some).to_vec(),
                // Each text meets all noises, and so does each voice.
                Some(_) => vec![Some(Noise::ALL[(text + voice + turn) % Noise::ALL.len()])],
            };
            trials.extend(noises.into_iter().map(|noise| Trial { level: *level, noise, ..trial.clone() }));
        }
    }
    for part in Part::ALL {
        denials(&mut trials, clips, part);
        stretches(&mut trials, clips, part);
    }
    Plan { trials, unknown }
}

/// Where a denial could do harm.
const DENIED: [Moment; 5] =
    [Moment::Tightening, Moment::Turning, Moment::Interrupted, Moment::Question, Moment::Measuring];

/// Each denial by itself at every moment where it could be taken for a claim, in a quiet room.
fn denials(trials: &mut Vec<Trial>, clips: &[Clip], part: Part) {
    for moment in DENIED {
        for at in of(clips, part, Kind::Denial) {
            trials.push(Trial {
                part,
                moment,
                meant: Meant::Nothing(Stretch::Denial),
                voice: clips[at].voice.clone(),
                level: None,
                noise: None,
                clips: vec![at],
                number: at,
            });
        }
    }
}

/// Talk at the moments where a mistake would cost most, and noise at the one that most of a job is.
fn stretches(trials: &mut Vec<Trial>, clips: &[Clip], part: Part) {
    let talk: Vec<usize> = of(clips, part, Kind::Talk);
    let mut add = |moment, stretch, level, noise, clips: &[usize], number| {
        let meant = Meant::Nothing(stretch);
        let clips = clips.to_vec();
        trials.push(Trial { part, moment, meant, voice: String::new(), level, noise, clips, number });
    };
    for (number, some) in talk.chunks(SENTENCES).enumerate() {
        let noise = Some(Noise::ALL[number % Noise::ALL.len()]);
        add(Moment::Tightening, Stretch::Talk, None, None, some, number);
        add(Moment::Tightening, Stretch::Talk, Some(10), noise, some, number);
        // Questions stand for seconds only; half of the talk at each is enough to know them by.
        let question = if number % 2 == 0 { Moment::Question } else { Moment::Interrupted };
        add(question, Stretch::Talk, None, None, some, number);
    }
    if !clips.iter().any(|clip| clip.part == part && clip.kind == Kind::Radio) {
        return;
    }
    for noise in Noise::ALL {
        let count = if noise == Noise::Radio { RADIOS } else { MACHINES };
        for number in 0..count {
            add(Moment::Tightening, Stretch::Noise, None, Some(noise), &[], number);
        }
    }
}

fn of(clips: &[Clip], part: Part, kind: Kind) -> Vec<usize> {
    let wanted = |(at, clip): (usize, &Clip)| (clip.part == part && clip.kind == kind).then_some(at);
    clips.iter().enumerate().filter_map(wanted).collect()
}

fn number_of<'a>(known: &mut Vec<&'a str>, name: &'a str) -> usize {
    known.iter().position(|one| *one == name).unwrap_or_else(|| {
        known.push(name);
        known.len() - 1
    })
}

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
    beds: HashMap<(Part, Noise), Vec<f32>>,
    radios: HashMap<Part, Vec<Vec<i16>>>,
}

impl<'a> Mixer<'a> {
    /// Makes the noises that are mixed in.
    pub fn new(clips: &'a [Clip], trials: &[Trial]) -> Result<Self, HearingError> {
        let mut radios = HashMap::new();
        let mut beds = HashMap::new();
        for part in Part::ALL {
            if !trials.iter().any(|trial| trial.part == part && trial.noise.is_some()) {
                continue;
            }
            let spoken: Vec<Vec<i16>> =
                of(clips, part, Kind::Radio).into_iter().map(|at| words(&clips[at])).collect::<Result<_, _>>()?;
            for noise in Noise::ALL {
                let voices: Vec<&[i16]> = spoken.iter().map(Vec::as_slice).collect();
                let chance = Chance::of(&["bed", part.name(), noise.name()]);
                beds.insert((part, noise), noise::make(noise, BED * RATE as usize, chance, &voices));
            }
            radios.insert(part, spoken);
        }
        Ok(Self { clips, beds, radios })
    }

    /// The sound of one trial.
    pub fn sound(&self, trial: &Trial) -> Result<Sound, HearingError> {
        let number = trial.number.to_string();
        if let (Meant::Nothing(Stretch::Noise), Some(noise)) = (&trial.meant, trial.noise) {
            let voices: Vec<&[i16]> = self.radios.get(&trial.part).into_iter().flatten().map(Vec::as_slice).collect();
            let chance = Chance::of(&["alone", trial.part.name(), noise.name(), &number]);
            let loud = if noise == Noise::Radio { RADIO_LOUD } else { LOUD };
            let made = noise::make(noise, STRETCH * RATE as usize, chance, &voices);
            return Ok(Sound { samples: made.into_iter().map(|s| (s * loud) as i16).collect(), words_end: 0 });
        }
        let mut chance = Chance::of(&["pauses", trial.part.name(), &number]);
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
        Ok(Sound { samples: self.mixed(trial, &voice), words_end })
    }

    /// The voice over the noise, or over the faint hiss of a room.
    fn mixed(&self, trial: &Trial, voice: &[i16]) -> Vec<i16> {
        let file = trial.clips.first().map(|&at| self.clips[at].path.display().to_string()).unwrap_or_default();
        let name = file.rsplit('/').next().unwrap_or_default();
        let level = trial.level.unwrap_or_default();
        let mut chance = Chance::of(&["cut", name, trial.noise.map_or("", Noise::name), &level.to_string()]);
        let bed = trial.noise.and_then(|noise| self.beds.get(&(trial.part, noise)));
        let Some(bed) = bed else {
            return voice.iter().map(|s| s.saturating_add(chance.below(5) as i16 / 2 - 1)).collect();
        };
        let start = chance.below(bed.len());
        let scale = (power(voice) / 10f32.powf(level as f32 / 10.0)).sqrt();
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

/// Mean square where there is sound.
fn power(samples: &[i16]) -> f32 {
    let loud = samples.iter().filter(|s| s.unsigned_abs() > VOICE.unsigned_abs());
    let (sum, count) = loud.fold((0.0, 0.0), |(sum, count), s| (sum + f64::from(*s).powi(2), count + 1.0));
    if count > 0.0 { (sum / count) as f32 } else { 1.0 }
}
