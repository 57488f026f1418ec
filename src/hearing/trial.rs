//! What is played: a command at a moment in a noise, or a stretch of sound in which nothing is meant.
//!
//! Knows which recordings meet which moments and noises. A trial is made of indices and names; `mix` makes its sound when it is
//! played, so that a set of hours fits into memory.

use super::bed::Bed;
use super::moment::{Allowed, Moment};
use super::noise::{Chance, Noise};
use super::recorded::{Piece, Recorded};
use super::set::{Clip, Kind, Part};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Speech power over noise power, in decibels, that commands are played at, the quiet room first.
pub const LEVELS: [Option<i32>; 5] = [None, Some(20), Some(10), Some(5), Some(0)];
/// People are recorded as they are, with their own rooms: the last level would be below zero for many.
const LEVELS_OF_PEOPLE: usize = 4;
/// Recordings in a stretch of talk.
const SENTENCES: usize = 15;
/// Stretches of noise of each machine and of the radio: an hour in all.
const MACHINES: usize = 3;
const RADIOS: usize = 15;

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

/// What lies between a voice and the listener, noise aside.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// Nothing.
    #[default]
    Plain,
    /// The band of a telephone, as a headset by radio gives it.
    Telephone,
    /// A room, by the file of its impulse response.
    Room(String),
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
    /// If people speak, where their recordings come from.
    pub person: Option<String>,
    /// What lies between.
    pub way: Way,
    /// How far the voice is above the noise.
    pub level: Option<i32>,
    /// The noise.
    pub noise: Option<Bed>,
    /// Which recordings, one after the other.
    pub clips: Vec<usize>,
    /// Tells stretches of one kind apart.
    pub number: usize,
}

/// How noises are chosen.
#[derive(Default)]
pub struct Noises<'a> {
    /// Each command of a synthetic voice with each kind of generated noise, not with one in turn.
    pub all: bool,
    /// Recorded ones, which people meet in turn in place of the generated ones.
    pub recorded: Option<&'a Recorded>,
    /// Synthetic voices meet the recorded ones as well.
    pub for_all: bool,
}

impl Noises<'_> {
    fn recorded(&self, part: Part, person: bool) -> &[Piece] {
        self.recorded.filter(|_| person || self.for_all).map_or(&[], |recorded| recorded.noises(part))
    }

    /// The one whose turn it is.
    fn one(&self, part: Part, person: bool, turn: usize) -> Bed {
        match self.recorded(part, person) {
            [] => Bed::Made(Noise::ALL[turn % Noise::ALL.len()]),
            recorded => recorded[turn % recorded.len()].bed(),
        }
    }
}

/// Phrases that no moment offers, and the trials.
pub struct Plan {
    /// The trials.
    pub trials: Vec<Trial>,
    /// Texts that mean nothing at any moment, as they may when the language has changed since the set was made.
    pub unknown: Vec<String>,
}

/// What there is to play: of each command every level with one noise in turn; of people's also the telephone's band and a room.
pub fn plan(clips: &[Clip], moments: &[(Moment, Allowed)], noises: &Noises) -> Plan {
    let mut trials = Vec::new();
    let mut unknown = Vec::new();
    let mut talk = Vec::new();
    let mut voices: Vec<&str> = Vec::new();
    let mut texts: Vec<&str> = Vec::new();
    let mut turns = 0;
    for (at, clip) in clips.iter().enumerate() {
        if clip.kind == Kind::Talk {
            talk.push(at);
        }
        if !matches!(clip.kind, Kind::Command | Kind::Said) {
            continue;
        }
        // Where it is in the list of a state of a job, rather than where it is one of the readings of which there is no list.
        let listed = moments.iter().find(|(moment, allowed)| moment.is_of_a_job() && allowed.lists(&clip.text));
        let anywhere = || moments.iter().find(|(_, allowed)| allowed.means(&clip.text));
        let Some((moment, _)) = listed.or_else(anywhere) else {
            match clip.kind {
                Kind::Said => talk.push(at),
                _ if unknown.contains(&clip.text) => {}
                _ => unknown.push(clip.text.clone()),
            }
            continue;
        };
        let trial = command(at, clip, *moment);
        if clip.person.is_some() {
            person(&mut trials, &trial, moments, noises, &mut turns);
            continue;
        }
        let (voice, text) = (number_of(&mut voices, &clip.voice), number_of(&mut texts, &clip.text));
        for (turn, level) in LEVELS.iter().enumerate() {
            let beds = match level {
                None => vec![None],
                Some(_) if noises.all => Noise::ALL.map(|noise| Some(Bed::Made(noise))).to_vec(),
                // Each text meets all noises, and so does each voice.
                Some(_) => vec![Some(noises.one(clip.part, false, text + voice + turn))],
            };
            trials.extend(beds.into_iter().map(|noise| Trial { level: *level, noise, ..trial.clone() }));
        }
    }
    for part in Part::ALL {
        denials(&mut trials, clips, part);
        let talk: Vec<usize> = talk.iter().copied().filter(|&at| clips[at].part == part).collect();
        stretches(&mut trials, clips, &talk, part, noises);
        alone(&mut trials, clips, part, noises);
    }
    Plan { trials, unknown }
}

/// A recording by itself in a quiet room.
fn command(at: usize, clip: &Clip, moment: Moment) -> Trial {
    Trial {
        part: clip.part,
        moment,
        meant: Meant::Phrase(clip.text.clone()),
        voice: clip.voice.clone(),
        person: clip.person.clone(),
        way: Way::Plain,
        level: None,
        noise: None,
        clips: vec![at],
        number: 0,
    }
}

/// What one recording of a person is played as.
fn person(trials: &mut Vec<Trial>, trial: &Trial, moments: &[(Moment, Allowed)], noises: &Noises, turns: &mut usize) {
    // One turn for each recording, so that every level meets all noises.
    *turns += 1;
    for (at, level) in LEVELS[..LEVELS_OF_PEOPLE].iter().enumerate() {
        let noise = level.map(|_| noises.one(trial.part, true, *turns + at));
        trials.push(Trial { level: *level, noise, ..trial.clone() });
    }
    trials.push(Trial { way: Way::Telephone, ..trial.clone() });
    let rooms = noises.recorded.map_or(&[][..], |recorded| recorded.rooms(trial.part));
    if let Some(room) = rooms.get(*turns % rooms.len().max(1)) {
        trials.push(Trial { way: Way::Room(room.file.clone()), ..trial.clone() });
    }
    // Older counts of numbers were made in this grammar.
    let Meant::Phrase(text) = &trial.meant else { return };
    let number = moments.iter().any(|(moment, allowed)| *moment == Moment::Numbers && allowed.means(text));
    if number && trial.moment != Moment::Numbers {
        trials.push(Trial { moment: Moment::Numbers, ..trial.clone() });
    }
}

/// Where a denial could do harm.
const DENIED: [Moment; 5] =
    [Moment::Tightening, Moment::Turning, Moment::Interrupted, Moment::Question, Moment::Measuring];

/// Each denial by itself at every moment where it could be taken for a claim, in a quiet room.
fn denials(trials: &mut Vec<Trial>, clips: &[Clip], part: Part) {
    for moment in DENIED {
        for at in of(clips, part, Kind::Denial) {
            let meant = Meant::Nothing(Stretch::Denial);
            trials.push(Trial { meant, number: at, ..command(at, &clips[at], moment) });
        }
    }
}

/// A stretch of sound in which nothing is meant.
fn stretch(part: Part, person: Option<&str>, moment: Moment, stretch: Stretch, number: usize) -> Trial {
    Trial {
        part,
        moment,
        meant: Meant::Nothing(stretch),
        voice: String::new(),
        person: person.map(str::to_owned),
        way: Way::Plain,
        level: None,
        noise: None,
        clips: Vec::new(),
        number,
    }
}

/// Talk at the moments where a mistake would cost most; the synthetic voices together, people by where they come from.
fn stretches(trials: &mut Vec<Trial>, clips: &[Clip], talk: &[usize], part: Part, noises: &Noises) {
    let mut groups: BTreeMap<Option<&str>, Vec<usize>> = BTreeMap::new();
    for &at in talk {
        groups.entry(clips[at].person.as_deref()).or_default().push(at);
    }
    for (person, talk) in groups {
        for (number, some) in talk.chunks(SENTENCES).enumerate() {
            // Questions stand for seconds only; half of the talk at each is enough to know them by.
            let question = if number % 2 == 0 { Moment::Question } else { Moment::Interrupted };
            let noise = Some(noises.one(part, person.is_some(), number));
            for (moment, level, noise) in
                [(Moment::Tightening, None, None), (Moment::Tightening, Some(10), noise), (question, None, None)]
            {
                let plain = stretch(part, person, moment, Stretch::Talk, number);
                trials.push(Trial { level, noise, clips: some.to_vec(), ..plain });
            }
        }
    }
}

/// Noise alone: at the moment that most of a job is an hour of the generated ones with what a radio says, and each recording; each
/// recording at a question, too, where a knock could become a short answer.
fn alone(trials: &mut Vec<Trial>, clips: &[Clip], part: Part, noises: &Noises) {
    let mut add = |moment, noise: Bed, number| {
        let plain = stretch(part, None, moment, Stretch::Noise, number);
        trials.push(Trial { noise: Some(noise), ..plain });
    };
    if clips.iter().any(|clip| clip.part == part && clip.kind == Kind::Radio) {
        for noise in Noise::ALL {
            let count = if noise == Noise::Radio { RADIOS } else { MACHINES };
            (0..count).for_each(|number| add(Moment::Tightening, Bed::Made(noise), number));
        }
    }
    if clips.iter().any(|clip| clip.part == part) {
        for piece in noises.recorded.map_or(&[][..], |recorded| recorded.noises(part)) {
            for moment in [Moment::Tightening, Moment::Question] {
                add(moment, piece.bed(), 0);
            }
        }
    }
}

/// Is a trial among one in `every`? By what is recorded, not by its place, which may be in step with the voices: so a recording is
/// there at all of its levels and moments, or at none.
pub fn chosen(trial: &Trial, clips: &[Clip], every: usize) -> bool {
    let names: Vec<String> = match (&trial.clips[..], &trial.noise) {
        ([], Some(Bed::Recorded { file, .. })) => vec![file.clone()],
        ([], noise) => vec![noise.as_ref().map_or("", Bed::name).to_owned(), trial.number.to_string()],
        (some, _) => some.iter().map(|&at| file_name(&clips[at])).collect(),
    };
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    Chance::of(&names).below(every.max(1)) == 0
}

/// The name of a recording's file, without the folders.
pub(super) fn file_name(clip: &Clip) -> String {
    clip.path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

pub(super) fn of(clips: &[Clip], part: Part, kind: Kind) -> Vec<usize> {
    let wanted = |(at, clip): (usize, &Clip)| (clip.part == part && clip.kind == kind).then_some(at);
    clips.iter().enumerate().filter_map(wanted).collect()
}

fn number_of<'a>(known: &mut Vec<&'a str>, name: &'a str) -> usize {
    known.iter().position(|one| *one == name).unwrap_or_else(|| {
        known.push(name);
        known.len() - 1
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dialogue::Language;
    use std::collections::HashSet;
    use std::path::PathBuf;

    fn clip(kind: Kind, text: &str, voice: &str, person: Option<&str>) -> Clip {
        Clip {
            path: PathBuf::from(format!("{voice}-{text}.wav")),
            kind,
            text: text.into(),
            voice: voice.into(),
            part: Part::Tune,
            person: person.map(str::to_owned),
            trained: false,
        }
    }

    fn moments() -> Vec<(Moment, Allowed)> {
        let language = Language::english();
        let some = [Moment::Tightening, Moment::Question, Moment::Bare, Moment::Numbers];
        some.map(|moment| (moment, moment.allowed(&language))).to_vec()
    }

    #[test]
    fn what_a_person_says_is_a_command_a_number_or_talk() {
        let said = |text| clip(Kind::Said, text, "p", Some("sc"));
        let clips = [said("yes"), said("seventy"), said("bird"), clip(Kind::Command, "wibble", "v", None)];
        let plan = plan(&clips, &moments(), &Noises::default());
        assert_eq!(plan.unknown, ["wibble"]);
        let of = |at: usize| -> Vec<(Moment, Option<i32>, bool)> {
            let own = plan.trials.iter().filter(|trial| trial.clips == [at]);
            own.map(|trial| (trial.moment, trial.level, trial.way == Way::Plain)).collect()
        };
        let at = |moment, levels: &[Option<i32>]| levels.iter().map(|l| (moment, *l, true)).collect::<Vec<_>>();
        let mut yes = at(Moment::Question, &LEVELS[..4]);
        yes.push((Moment::Question, None, false));
        assert_eq!(of(0), yes);
        let mut seventy = at(Moment::Bare, &LEVELS[..4]);
        seventy.extend([(Moment::Bare, None, false), (Moment::Numbers, None, true)]);
        assert_eq!(of(1), seventy);
        let talk = plan.trials.iter().filter(|trial| trial.clips == [2]);
        assert!(talk.clone().count() == 3 && talk.clone().all(|t| t.meant == Meant::Nothing(Stretch::Talk)));
        assert!(talk.clone().all(|t| t.person.as_deref() == Some("sc")));
    }

    #[test]
    fn every_level_of_people_meets_all_noises() {
        let clips: Vec<Clip> = (0..6).map(|n| clip(Kind::Said, "yes", &format!("p{n}"), Some("sc"))).collect();
        let plan = plan(&clips, &moments(), &Noises::default());
        for level in LEVELS[1..4].iter() {
            let met = plan.trials.iter().filter(|trial| trial.level == *level).filter_map(|trial| trial.noise.clone());
            assert_eq!(met.collect::<HashSet<_>>().len(), Noise::ALL.len());
        }
    }

    #[test]
    fn one_in_so_many_is_not_in_step_with_the_voices() {
        let voices = ["a", "b", "c", "d", "e", "f"];
        let texts = (0..60).map(|n| format!("text {n}"));
        let clips: Vec<Clip> =
            texts.flat_map(|text| voices.map(|voice| clip(Kind::Command, &text, voice, None))).collect();
        let trial = |at: usize| command(at, &clips[at], Moment::Tightening);
        let some: Vec<usize> = (0..clips.len()).filter(|&at| chosen(&trial(at), &clips, 3)).collect();
        assert!((90..150).contains(&some.len()), "{}", some.len());
        let met: HashSet<&str> = some.iter().map(|&at| clips[at].voice.as_str()).collect();
        assert_eq!(met.len(), voices.len());
        assert!((0..clips.len()).all(|at| chosen(&trial(at), &clips, 1)));
        // All levels of a recording, or none.
        let noisy = |at: usize| Trial { level: Some(10), noise: Some(Bed::Made(Noise::Air)), ..trial(at) };
        assert!((0..clips.len()).all(|at| chosen(&noisy(at), &clips, 3) == some.contains(&at)));
    }
}
