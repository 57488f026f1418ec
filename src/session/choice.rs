//! A job chosen by voice: a short numbered list is told, a number chooses from it, and a yes begins the job, in the same session.
//!
//! Knows what there is to choose from by title only; whoever made it knows how each is begun. Nothing is on disk before the yes.

use super::conversation::phrases;
use super::ear::Key;
use super::readings::Readings;
use super::{Conversation, Delivery, Talker, Turn};
use crate::dialogue::{Grammar, Language, Meaning, Notice, Sentence, Talk};
use crate::job::{At, Command, Job};
use crate::journal::JournalError;
use crate::listen::{Harm, Open, Phrase, Utterance};
use crate::quantity::Quantity;
use crate::speak::Tone;
use std::path::Path;
use std::sync::Arc;

/// Begins what stands at this place of the list: the conversation, and its first words.
pub type Begin = Box<dyn FnMut(usize, At) -> Result<(Conversation, Turn), JournalError>>;

/// The choice and, from a yes on, the job.
pub struct Choice {
    language: Language,
    delivery: Delivery,
    titles: Vec<String>,
    begin: Begin,
    /// What was chosen and waits for a yes, and when that question had been put to its end.
    chosen: Option<(usize, Option<At>)>,
    listening: bool,
    last: Vec<Sentence>,
    job: Option<Box<Conversation>>,
}

impl Choice {
    /// A choice among these, of which only as many are told as are kept in mind.
    pub fn new(language: Language, delivery: Delivery, titles: Vec<String>, begin: Begin) -> Choice {
        let (chosen, listening, last, job) = (None, true, Vec::new(), None);
        Choice { language, delivery, titles, begin, chosen, listening, last, job }
    }

    /// The first words: what there is.
    pub fn first(&mut self) -> Turn {
        let sentences = self.language.which_job(&self.titles);
        self.said(None, sentences)
    }

    /// The job, once one was begun.
    pub fn conversation(&self) -> Option<&Conversation> {
        self.job.as_deref()
    }

    fn said(&mut self, meaning: Option<Meaning>, sentences: Vec<Sentence>) -> Turn {
        self.last.clone_from(&sentences);
        let (hush, announces) = (meaning.is_some(), self.chosen.is_some());
        Turn { hush, meaning, sentences, announces, ..Turn::default() }
    }

    fn grammar(&self) -> Grammar {
        self.language.choice_grammar(self.titles.len(), self.chosen.is_some(), self.listening)
    }

    /// What was meant, its first sound at `spoken` if it was spoken.
    fn meant(&mut self, meaning: Meaning, spoken: Option<At>, at: At) -> Result<Turn, JournalError> {
        match &meaning {
            Meaning::Choose(n) if *n < self.titles.len() => {
                self.chosen = Some((*n, None));
                let sentences = vec![self.language.begin_this(&self.titles[*n])];
                Ok(self.said(Some(meaning), sentences))
            }
            Meaning::Command(Command::Yes) => match self.chosen {
                // Before it had been asked to its end it was no answer to it.
                Some((_, ended)) if spoken.is_some_and(|began| ended.is_none_or(|ended| began < ended)) => {
                    let sentences = self.last.clone();
                    Ok(self.said(Some(meaning), sentences))
                }
                Some((n, _)) => {
                    let (mut talk, turn) = (self.begin)(n, at)?;
                    talk.set_delivery(self.delivery);
                    self.job = Some(Box::new(talk));
                    Ok(Turn { meaning: Some(meaning), hush: true, ..turn })
                }
                None => Ok(Turn::default()),
            },
            Meaning::Command(Command::No) => {
                self.chosen = None;
                let sentences = self.language.which_job(&self.titles);
                Ok(self.said(Some(meaning), sentences))
            }
            Meaning::Command(Command::TakeBreak | Command::Pause) => self.put_down(at),
            Meaning::Talk(talk) => Ok(self.talk(*talk, meaning.clone())),
            _ => Ok(Turn::default()),
        }
    }

    fn talk(&mut self, talk: Talk, meaning: Meaning) -> Turn {
        let turn = Turn { meaning: Some(meaning), hush: true, ..Turn::default() };
        let (notice, tone) = match talk {
            Talk::Repeat | Talk::Help => {
                return Turn { sentences: self.last.clone(), announces: self.chosen.is_some(), ..turn };
            }
            Talk::StopListening => {
                self.listening = false;
                (Notice::ListeningOff, Some(Tone::ListeningOff))
            }
            Talk::StartListening => {
                self.listening = true;
                (Notice::ListeningOn, Some(Tone::ListeningOn))
            }
            talk => match self.delivery.turn(talk) {
                Some(notice) => (notice, None),
                None => return turn,
            },
        };
        Turn { sentences: vec![self.language.notice(notice)], tone, ..turn }
    }
}

impl Talker for Choice {
    fn language(&self) -> &Language {
        &self.language
    }

    fn delivery(&self) -> Delivery {
        self.job.as_deref().map_or(self.delivery, Conversation::delivery)
    }

    fn folder(&self) -> &Path {
        self.job.as_deref().map_or(Path::new(""), |job| job.folder().path())
    }

    fn job(&self) -> Option<&Job> {
        self.job.as_deref().map(Conversation::job)
    }

    fn unchecked(&self) -> bool {
        self.job.as_deref().is_some_and(Talker::unchecked)
    }

    fn awaits(&self) -> Key {
        match &self.job {
            Some(job) => job.awaits(),
            None => {
                let chosen = self.chosen.iter().map(|(n, _)| *n).collect();
                Key { listening: self.listening, offers: (chosen, false), ..Key::default() }
            }
        }
    }

    fn phrases_beside(&self, said: &str) -> Vec<Phrase> {
        if let Some(job) = &self.job {
            return job.phrases_beside(said);
        }
        let mut phrases = phrases(&self.grammar());
        let said = super::conversation::words(said);
        let own = |phrase: &Phrase| super::conversation::contains(&said, &super::conversation::words(&phrase.text));
        phrases.iter_mut().filter(|phrase| own(phrase)).for_each(|phrase| phrase.harm = Harm::Decoy);
        phrases
    }

    fn readings_beside(&self, said: &str) -> Arc<dyn Open> {
        match &self.job {
            Some(job) => job.readings_beside(said),
            None => Arc::new(Readings::beside(self.grammar(), said)),
        }
    }

    fn hear(&mut self, said: &Utterance, began: At, at: At) -> Result<Turn, JournalError> {
        if let Some(job) = &mut self.job {
            return job.hear(said, began, at);
        }
        let grammar = self.grammar();
        match said.phrase.as_deref().and_then(|phrase| grammar.meaning(phrase)) {
            Some(meaning) => self.meant(meaning, Some(began), at),
            // What was half heard is asked for again by a tone; nothing has begun.
            None if self.listening && grammar.meaning(&said.heard.text).is_some() => {
                Ok(Turn { tone: Some(Tone::NotUnderstood), ..Turn::default() })
            }
            None => Ok(Turn::default()),
        }
    }

    fn confirmed(&self) -> Option<&str> {
        self.job.as_deref().and_then(Conversation::confirmed)
    }

    fn read(&mut self, line: &str, at: At) -> Result<Turn, JournalError> {
        if let Some(job) = &mut self.job {
            return job.read(line, at);
        }
        match self.language.chosen(line, self.titles.len()) {
            Some(meaning) => self.meant(meaning, None, at),
            None => Ok(Turn { sentences: self.language.which_job(&self.titles), ..Turn::default() }),
        }
    }

    fn press(&mut self, meaning: &Meaning, at: At) -> Result<Turn, JournalError> {
        match &mut self.job {
            Some(job) => job.press(meaning, at),
            None => self.meant(meaning.clone(), Some(at), at),
        }
    }

    fn measured(&mut self, value: Quantity, tool: &str, began: At, at: At) -> Result<Turn, JournalError> {
        self.job.as_deref_mut().map_or_else(|| Ok(Turn::default()), |job| job.measured(value, tool, began, at))
    }

    fn announced(&mut self, at: At) {
        match (&mut self.job, &mut self.chosen) {
            (Some(job), _) => job.announced(at),
            (None, Some((_, ended))) => {
                ended.get_or_insert(at);
            }
            (None, None) => {}
        }
    }

    fn put_down(&mut self, at: At) -> Result<Turn, JournalError> {
        match &mut self.job {
            Some(job) => job.put_down(at),
            None => Ok(Turn { over: true, ..Turn::default() }),
        }
    }

    fn is_noting(&self) -> bool {
        self.job.as_deref().is_some_and(Conversation::is_noting)
    }

    fn keep_note(&mut self, samples: &[i16], at: At) -> Result<Turn, JournalError> {
        self.job.as_deref_mut().map_or_else(|| Ok(Turn::default()), |job| job.keep_note(samples, at))
    }

    fn is_waiting(&self) -> bool {
        self.job.as_deref().is_some_and(Conversation::is_waiting)
    }

    fn wait(&mut self, turn: &Turn) -> Option<Turn> {
        Talker::wait(self.job.as_deref_mut()?, turn)
    }

    fn with_others(&self, turn: &Turn) -> Option<Turn> {
        Talker::with_others(self.job.as_deref()?, turn)
    }

    fn until_due(&self, at: At) -> Option<i64> {
        self.job.as_deref()?.until_due(at)
    }

    fn time_up(&mut self, at: At) -> Result<Turn, JournalError> {
        self.job.as_deref_mut().map_or_else(|| Ok(Turn::default()), |job| job.time_up(at))
    }

    fn clock_set(&mut self, ahead: i64) -> Turn {
        self.job.as_deref_mut().map(|job| job.clock_set(ahead)).unwrap_or_default()
    }

    fn foresee(&self, at: At) -> Vec<String> {
        self.job.as_deref().map(|job| job.foresee(at)).unwrap_or_default()
    }
}
