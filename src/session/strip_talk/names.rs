//! The user's own recording as the name of a thing.
//!
//! It is asked for behind each thing, and then whatever is said that is no phrase, and nothing worded like a claim, is the name. What
//! comes later than an answer would is somebody's talk. Its file is whole and on disk before the log has it, and the log before it is answered.

use super::super::kept_sound;
use super::StripTalk;
use crate::dialogue::{Sentence, recorded};
use crate::job::At;
use crate::journal::JournalError;
use crate::listen::{Utterance, likeness};
use crate::session::Turn;
use crate::speak::Tone;
use crate::strip::{Command, LONGEST_NAME, LONGEST_SPOKEN_NAME, Name, Question, Refused, Say};
use std::sync::Arc;

/// A name comes so soon after it was asked for, in milliseconds. Behind that it is talk.
const NAME_WAITS: i64 = 20_000;

/// What is as like to a phrase as this is no name: a command in other words, or half heard.
pub(super) const ALIKE: f64 = 0.7;

impl StripTalk {
    /// Words that are no phrase, where a name is awaited.
    pub(super) fn named(&mut self, said: &Utterance, sound: &[i16], began: At, at: At) -> Result<Turn, JournalError> {
        let not = Turn { tone: Some(Tone::NotUnderstood), ..Turn::default() };
        let Some(Question::Name(id)) = self.log.question() else { return Ok(not) };
        // Before it had been asked for it was no answer, or the program's own voice.
        let Some(since) = self.log.since_announced(began) else { return Ok(not) };
        // The second listener writes what it hears; the first has only its phrases to hear in it.
        let written = said.written.as_ref().map(|written| written.text.trim()).filter(|words| !words.is_empty());
        let Some(words) = written else { return Ok(not) };
        if since > NAME_WAITS {
            // Told once, and not put to the user: what is said next is too late as well.
            let told = self.late.replace(id) == Some(id);
            let sentences = if told { Vec::new() } else { vec![self.language.strip_name_late()] };
            return Ok(Turn { sentences, ..not });
        }
        if !self.language.is_name(words) || self.is_like_a_phrase(words) {
            let sentences = vec![self.language.strip_not_understood()];
            return Ok(self.puts(Turn { sentences, ..not }));
        }
        let milliseconds = kept_sound::milliseconds(sound);
        if !(1..=LONGEST_SPOKEN_NAME).contains(&milliseconds) {
            let says = [Say::Refused(Refused::NoName), Say::Question(Question::Name(id))];
            let sentences = self.worded(&says);
            return Ok(Turn { tone: not.tone, ..self.said(sentences) });
        }
        let draft = Some(words.trim_end_matches(['.', '!', '?', ',']).trim().to_owned());
        let draft = draft.filter(|text| text.chars().count() <= LONGEST_NAME);
        let file = kept_sound::write_name(self.folder.path(), sound)?;
        Arc::make_mut(&mut self.recordings).insert(id, sound.into());
        self.tell(Command::Name(Name::Sound { file, milliseconds, draft }), Some(began), at)
    }

    /// Are these words like a phrase that may be said now?
    pub(super) fn is_like_a_phrase(&self, words: &str) -> bool {
        let grammar = self.grammar();
        let mut means = grammar.iter().filter(|(_, meaning)| meaning.is_some());
        means.any(|(phrase, _)| likeness(phrase, words) >= ALIKE)
    }

    /// What is said, where each recording that is not there is the words of its draft.
    pub(super) fn with_recordings(&self, mut sentences: Vec<Sentence>) -> Vec<Sentence> {
        for sentence in &mut sentences {
            let said = |letter: char| match recorded(letter).filter(|id| !self.recordings.contains_key(id)) {
                Some(id) => {
                    let name = self.log.entries().get(id).and_then(|entry| entry.name.as_ref()?.words());
                    name.map_or_else(|| self.language.spoken_name(), str::to_owned)
                }
                None => letter.to_string(),
            };
            // In one pass: what is put in is not looked at again.
            sentence.spoken = sentence.spoken.chars().map(said).collect();
        }
        sentences
    }
}
