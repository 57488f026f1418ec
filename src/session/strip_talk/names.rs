//! The user's own recording as the name of a thing.
//!
//! It is asked for behind each thing, and then whatever is said that is no phrase, and nothing worded like a claim, is the name.
//! Its file is whole and on disk before the log has it, and the log before it is answered.

use super::super::mouth::Recordings;
use super::super::notes;
use super::{StripTalk, Turn};
use crate::dialogue::{Sentence, recorded};
use crate::job::At;
use crate::journal::JournalError;
use crate::listen::Utterance;
use crate::speak::Tone;
use crate::strip::{Command, LONGEST_NAME, LONGEST_SPOKEN_NAME, Name, Question, Refused, Say, StripLog};
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

impl StripTalk {
    /// Words that are no phrase, where a name is awaited.
    pub(super) fn named(&mut self, said: &Utterance, sound: &[i16], began: At, at: At) -> Result<Turn, JournalError> {
        let not = Turn { tone: Some(Tone::NotUnderstood), ..Turn::default() };
        let Some(Question::Name(id)) = self.log.question() else { return Ok(not) };
        // Before it had been asked for it was no answer, or the program's own voice.
        if !self.log.was_announced(began) {
            return Ok(not);
        }
        // The second listener writes what it hears; the first has only its phrases to hear in it.
        let written = said.written.as_ref().map(|written| written.text.trim());
        let words = written.unwrap_or(&said.heard.text);
        if words.is_empty() {
            return Ok(not);
        }
        if !self.language.is_name(words) {
            let sentences = vec![self.language.strip_not_understood()];
            return Ok(Turn { sentences, announces: true, ..not });
        }
        let milliseconds = notes::milliseconds(sound);
        if !(1..=LONGEST_SPOKEN_NAME).contains(&milliseconds) {
            let says = [Say::Refused(Refused::NoName), Say::Question(Question::Name(id))];
            let sentences = self.worded(&says);
            return Ok(Turn { tone: not.tone, ..self.said(sentences) });
        }
        let draft = written.map(|text| text.trim_end_matches(['.', '!', '?', ',']).trim().to_owned());
        let draft = draft.filter(|text| text.chars().count() <= LONGEST_NAME);
        let file = notes::write_name(self.folder.path(), sound)?;
        Arc::make_mut(&mut self.recordings).insert(id, sound.into());
        self.tell(Command::Name(Name::Sound { file, milliseconds, draft }), Some(began), at)
    }

    /// What is said, where each recording that is not there is the words of its draft.
    pub(super) fn with_recordings(&self, mut sentences: Vec<Sentence>) -> Vec<Sentence> {
        for sentence in &mut sentences {
            let missing = |letter: &char| recorded(*letter).is_some_and(|id| !self.recordings.contains_key(&id));
            while let Some(letter) = sentence.spoken.chars().find(missing) {
                let name = recorded(letter).and_then(|id| self.log.entries().get(id)?.name.as_ref());
                let words =
                    name.and_then(Name::words).map_or_else(|| self.language.spoken_name(), |words| words.to_owned());
                sentence.spoken = sentence.spoken.replace(letter, &words);
            }
        }
        sentences
    }
}
