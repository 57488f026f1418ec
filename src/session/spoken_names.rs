//! Names that the user spoke while something was taken apart: each is played where a sentence speaks of its thing.
//!
//! In the job that has come of a strip-down the book calls things by the words of a draft, which are often wrong; the recording
//! is the name. What is written keeps the words.

use super::mouth::Recordings;
use super::notes;
use crate::dialogue::{Language, Sentence, recorded, recording_letter};
use crate::journal;
use crate::procedure::Procedure;
use crate::strip::book::spoken_things;
use crate::strip::{Name, StripLog};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

/// The recordings of a log that lie in its folder.
pub(super) fn kept(log: &StripLog, folder: &Path) -> Recordings {
    let of = log.entries().iter().enumerate().filter_map(|(id, entry)| match &entry.name {
        Some(Name::Sound { file, .. }) => Some((id, Arc::from(notes::read(folder, file)?))),
        _ => None,
    });
    Arc::new(of.collect::<BTreeMap<_, _>>())
}

/// The spoken names of a job. Most jobs have none.
#[derive(Debug, Clone, Default)]
pub(super) struct SpokenNames {
    recordings: Recordings,
    /// The longest first, so that none is taken for the beginning of another.
    things: Vec<Thing>,
}

/// What a thing is called in what is spoken, and the same with its recording.
#[derive(Debug, Clone)]
struct Thing {
    called: Vec<char>,
    before: usize,
    letter: char,
    behind: usize,
}

impl SpokenNames {
    /// Those of the job in this folder, if it has come of a strip-down.
    pub fn of(language: &Language, book: &Procedure, folder: &Path) -> SpokenNames {
        let Some(log) = journal::strip_log(folder) else { return SpokenNames::default() };
        let recordings = kept(&log, folder);
        let things = spoken_things(&log, book).into_iter().filter_map(|thing| {
            let letter = recording_letter(thing.id).filter(|_| recordings.contains_key(&thing.id))?;
            let (called, own) = (language.speakable(&thing.called), language.speakable(&thing.called[thing.own]));
            // What is said in other words as a whole than by itself stays as it is.
            let (before, behind) = called.split_once(own.trim()).filter(|_| !own.trim().is_empty())?;
            let (before, behind) = (before.chars().count(), behind.chars().count());
            Some(Thing { called: called.chars().collect(), before, letter, behind })
        });
        let mut things: Vec<Thing> = things.collect();
        things.sort_by_key(|thing| std::cmp::Reverse(thing.called.len()));
        SpokenNames { recordings, things }
    }

    pub fn recordings(&self) -> Recordings {
        self.recordings.clone()
    }

    /// Sentences with the recordings in place of their words.
    pub fn put(&self, mut sentences: Vec<Sentence>) -> Vec<Sentence> {
        for sentence in sentences.iter_mut().filter(|_| !self.things.is_empty()) {
            sentence.spoken = self.in_text(&sentence.spoken);
        }
        sentences
    }

    /// What can be made of these texts before they are said: each up to where a recording is played.
    pub fn before(&self, texts: Vec<String>) -> Vec<String> {
        if self.things.is_empty() {
            return texts;
        }
        let cut = |text: String| {
            let text = self.in_text(&text);
            let end = text.find(|letter| recorded(letter).is_some()).unwrap_or(text.len());
            text[..end].trim().to_owned()
        };
        texts.into_iter().map(cut).filter(|text| !text.is_empty()).collect()
    }

    fn in_text(&self, text: &str) -> String {
        let text: Vec<char> = text.chars().collect();
        let (mut out, mut at) = (String::new(), 0);
        while let Some(&letter) = text.get(at) {
            match self.things.iter().find(|thing| thing.stands_at(&text, at)) {
                Some(thing) => {
                    out.extend(&text[at..at + thing.before]);
                    out.push(thing.letter);
                    at += thing.called.len();
                    out.extend(&text[at - thing.behind..at]);
                }
                None => {
                    out.push(letter);
                    at += 1;
                }
            }
        }
        out
    }
}

impl Thing {
    /// Is it called by its whole name here, be it at the beginning of a sentence?
    fn stands_at(&self, text: &[char], at: usize) -> bool {
        let end = at + self.called.len();
        let word = |at: usize| text.get(at).is_some_and(|letter| letter.is_alphanumeric());
        let same = |(a, b): (&char, &char)| a == b || a.to_lowercase().eq(b.to_lowercase());
        text.len() >= end && text[at..end].iter().zip(&self.called).all(same) && !(at > 0 && word(at - 1)) && !word(end)
    }
}
