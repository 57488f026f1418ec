//! Names that the user spoke while something was taken apart: each is played where a sentence speaks of its thing.
//!
//! In the job that has come of a strip-down the book calls things by the words of a draft, which are often wrong; the recording
//! is the name. What is written keeps the words.

use super::kept_sound;
use super::mouth::Recordings;
use crate::dialogue::{Language, Sentence, recorded, recording_letter};
use crate::journal;
use crate::procedure::Procedure;
use crate::strip::of_book::{SpokenThing, spoken_things};
use crate::strip::{Name, StripLog};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

/// What stands between the kind of a thing and its own name: "bolts, water pump".
const BETWEEN: [char; 2] = [',', ' '];

/// The recordings of a log that lie in its folder.
pub(super) fn kept(log: &StripLog, folder: &Path) -> Recordings {
    let of = log.entries().iter().enumerate().filter_map(|(id, entry)| match &entry.name {
        Some(Name::Sound { file, .. }) => Some((id, Arc::from(kept_sound::read(folder, file)?))),
        _ => None,
    });
    Arc::new(of.collect::<BTreeMap<_, _>>())
}

/// The spoken names of a job. Most jobs have none.
#[derive(Debug, Clone, Default)]
pub(super) struct SpokenNames {
    recordings: Recordings,
    /// Those with a recording, and other names of the book in which one of them stands; the longest first, so that none is taken
    /// for a part of another.
    things: Vec<Thing>,
}

/// What a thing is called in what is spoken.
#[derive(Debug, Clone)]
struct Thing {
    called: Vec<char>,
    /// Where in that its recording is played; nothing where it stays as it is.
    own: Option<Own>,
}

/// A recording, between so many letters before and behind it.
#[derive(Debug, Clone, Copy)]
struct Own {
    before: usize,
    letter: char,
    behind: usize,
}

impl SpokenNames {
    /// Those of the job in this folder, if it has come of a strip-down.
    pub fn of(language: &Language, book: &Procedure, folder: &Path) -> SpokenNames {
        let Some(log) = journal::strip_log(folder) else { return SpokenNames::default() };
        let recordings = kept(&log, folder);
        let spoken = spoken_things(&log, book).into_iter().filter_map(|thing| {
            let letter = recording_letter(thing.id).filter(|_| recordings.contains_key(&thing.id))?;
            Some((thing, letter))
        });
        SpokenNames { things: things(language, spoken, &names(book)), recordings }
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
                    let end = at + thing.called.len();
                    match thing.own {
                        Some(own) => {
                            out.extend(&text[at..at + own.before]);
                            out.push(own.letter);
                            out.extend(&text[end - own.behind..end]);
                        }
                        None => out.extend(&text[at..end]),
                    }
                    at = end;
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

/// Things that were spoken with the letters of their recordings, and those of the other names of their book in which one of them
/// stands: what has no recording is played none of another inside it.
fn things(language: &Language, spoken: impl Iterator<Item = (SpokenThing, char)>, names: &[&str]) -> Vec<Thing> {
    let mut things: Vec<Thing> = spoken.filter_map(|(thing, letter)| Thing::spoken(language, &thing, letter)).collect();
    let calls: Vec<String> = things.iter().map(|thing| String::from_iter(&thing.called).to_lowercase()).collect();
    let plain = names.iter().map(|name| language.speakable(name));
    let plain = plain.filter(|name| calls.iter().any(|called| name.to_lowercase().contains(called)));
    things.extend(plain.map(|name| Thing { called: name.chars().collect(), own: None }));
    // Of two that are called alike the one with a recording stays first.
    things.sort_by_key(|thing| std::cmp::Reverse(thing.called.len()));
    things
}

/// All that a book has a name for.
fn names(book: &Procedure) -> Vec<&str> {
    let fasteners = book.fasteners.iter().flat_map(|f| [&f.name, &f.plural]);
    let places = book.components.iter().map(|c| &c.name).chain(book.connections.iter().map(|c| &c.name));
    let others = book.supports.iter().map(|s| &s.name).chain(book.conditions.iter().map(|c| &c.name));
    let wanted = book.tools.iter().map(|t| &t.name).chain(book.parts.iter().map(|p| &p.name));
    fasteners.chain(places).chain(others).chain(wanted).map(String::as_str).collect()
}

impl Thing {
    /// One with a recording. What is said in other words as a whole than by itself has no place for it.
    fn spoken(language: &Language, thing: &SpokenThing, letter: char) -> Option<Thing> {
        let called = language.speakable(&thing.called);
        let kind = language.speakable(thing.called[..thing.own.start].trim_end_matches(BETWEEN));
        let own = language.speakable(&thing.called[thing.own.clone()]);
        let (kind, own) = (kind.trim(), own.trim());
        let name = called.strip_prefix(kind)?.trim_start_matches(BETWEEN);
        let behind = name.strip_prefix(own).filter(|_| !own.is_empty())?;
        let before = called.len() - behind.len() - own.len();
        let own = Own { before: called[..before].chars().count(), letter, behind: behind.chars().count() };
        Some(Thing { called: called.chars().collect(), own: Some(own) })
    }

    /// Is it called by its whole name here, be it at the beginning of a sentence?
    fn stands_at(&self, text: &[char], at: usize) -> bool {
        let end = at + self.called.len();
        let word = |at: usize| text.get(at).is_some_and(|letter| letter.is_alphanumeric());
        let same = |(a, b): (&char, &char)| a == b || a.to_lowercase().eq(b.to_lowercase());
        text.len() >= end && text[at..end].iter().zip(&self.called).all(same) && !(at > 0 && word(at - 1)) && !word(end)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// These names, each spoken in its own part, and others that were not, in this text.
    fn played(spoken: &[(&str, &str)], others: &[&str], text: &str) -> String {
        let language = Language::english();
        let all = spoken.iter().enumerate().map(|(id, (kind, own))| {
            let called = format!("{kind}, {own}");
            let from = called.len() - own.len();
            (SpokenThing { id, own: from..called.len(), called }, recording_letter(id).unwrap())
        });
        let names = SpokenNames { things: things(&language, all, others), ..SpokenNames::default() };
        let mark = |letter: char| recorded(letter).map_or(letter.to_string(), |id| format!("<{id}>"));
        names.in_text(text).chars().map(mark).collect()
    }

    #[test]
    fn a_recording_is_played_in_its_own_name_only() {
        let others = ["bolts, water pump", "bolts, water pump housing"];
        let text = "Bolts, water pump housing; bolts, water pump.";
        assert_eq!(played(&[("bolts", "water pump")], &others, text), "Bolts, water pump housing; bolts, <0>.");
    }

    #[test]
    fn a_name_like_the_kind_of_its_thing_is_played_in_its_place() {
        assert_eq!(played(&[("bolts", "bolt")], &[], "Take off the bolts, bolt."), "Take off the bolts, <0>.");
        assert_eq!(played(&[("part", "art")], &[], "Part, art."), "Part, <0>.");
    }
}
