//! Voices that are learnt before they are played: a folder with `manifest.tsv` of file, text and voice, whose recordings are the
//! takes.
//!
//! A take is cut and copied as a person's is who learns it in the program. Files are told from the folder; one that is also
//! in the set is not played, so that no take is ever compared with itself.

use super::HearingError;
use crate::listen::{Judge, OwnVoice, RATE, read_sound, spoken};
use crate::own_voice::{Matcher, Origin, Profile, Take, rows};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

const COLUMNS: &str = "file\ttext\tvoice";
/// Room on either side of a take, in samples.
const BESIDE: usize = RATE as usize * 4 / 10;

/// The takes of a folder.
pub struct Takes {
    /// By voice, what is said in which file.
    voices: BTreeMap<String, Vec<(String, PathBuf)>>,
}

impl Takes {
    /// Reads the manifest in `folder`.
    pub fn read(folder: &Path) -> Result<Self, HearingError> {
        let path = folder.join("manifest.tsv");
        let text = crate::files::text(&path).map_err(|e| HearingError::set(&path, e.to_string()))?;
        let mut lines = text.lines();
        let first = lines.next().unwrap_or_default();
        if first != COLUMNS {
            let named = COLUMNS.replace('\t', ", ");
            return Err(HearingError::set(&path, format!("its first line must be \"{named}\", but is \"{first}\"")));
        }
        let mut voices: BTreeMap<String, Vec<(String, PathBuf)>> = BTreeMap::new();
        for (at, line) in lines.enumerate() {
            let [file, text, voice] = line.split('\t').collect::<Vec<_>>()[..] else {
                return Err(HearingError::set(&path, format!("line {}: three columns are expected", at + 2)));
            };
            voices.entry(voice.into()).or_default().push((text.into(), folder.join(file)));
        }
        Ok(Self { voices })
    }

    /// Is a recording of the set one of them?
    pub fn has(&self, file: &Path) -> bool {
        let name = |file: &Path| file.canonicalize().ok();
        let played = name(file);
        self.voices.values().flatten().any(|(_, take)| take.file_name() == file.file_name() && name(take) == played)
    }

    /// Everything that is said in them.
    pub fn texts(&self) -> Vec<&str> {
        let texts: BTreeSet<&str> = self.voices.values().flatten().map(|(text, _)| text.as_str()).collect();
        texts.into_iter().collect()
    }

    /// The voices.
    pub fn voices(&self) -> impl Iterator<Item = &str> {
        self.voices.keys().map(String::as_str)
    }

    /// Learns every voice; what is in a take that cannot be learnt is told to `told`.
    pub fn learn(
        &self,
        judge: &mut dyn Judge,
        told: &mut dyn FnMut(String),
    ) -> Result<BTreeMap<String, Arc<dyn OwnVoice>>, HearingError> {
        let mut known: BTreeMap<String, Arc<dyn OwnVoice>> = BTreeMap::new();
        for (voice, takes) in &self.voices {
            let mut profile = Profile::new(voice, "", "", "");
            for (at, (text, file)) in (0i64..).zip(takes) {
                let take = take(judge, file, at)?;
                if !take.is_some_and(|take| profile.learn(text, take)) {
                    told(format!("{}: no voice is found in it, left out", file.display()));
                }
            }
            known.insert(voice.clone(), Arc::new(Matcher::new(&profile)));
        }
        Ok(known)
    }
}

fn take(judge: &mut dyn Judge, file: &Path, learnt: i64) -> Result<Option<Take>, HearingError> {
    // The faint hiss of a room on either side, as the bench puts it around what it plays.
    let mut chance = super::noise::Chance::of(&["room", &file.display().to_string()]);
    let mut hiss = |sample: i16| sample.saturating_add(chance.below(5) as i16 / 2 - 1);
    let recorded = read_sound(file)?;
    let sound: Vec<i16> = std::iter::repeat_n(0, 2 * BESIDE)
        .chain(recorded)
        .chain(std::iter::repeat_n(0, 3 * BESIDE))
        .map(&mut hiss)
        .collect();
    let stretches = spoken(&sound);
    let (Some(first), Some(last)) = (stretches.first(), stretches.last()) else { return Ok(None) };
    let from = first.start.saturating_sub(BESIDE);
    let to = (last.end + BESIDE).min(sound.len());
    let sound: Vec<f32> = sound[from..to].iter().map(|sample| f32::from(*sample) / 32_768.0).collect();
    let voice = first.start - from..last.end - from;
    let rows = rows(&sound, voice, |copy| judge.encode(copy))?;
    Ok((!rows.is_empty()).then_some(Take { learnt, origin: Origin::Learning, copies: rows }))
}
