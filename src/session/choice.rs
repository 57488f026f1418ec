//! A job chosen by voice: a short numbered list is told, a number chooses from it, and a yes begins the job, in the same session.
//! When it is closed, the list is told again, for the next one.
//!
//! Knows what there is to choose from by title only; whoever made it knows how each is begun. Nothing is on disk before the yes,
//! and one that cannot be begun leaves the choice as it was.

use super::awaited::Key;
use super::conversation::phrases;
use super::mouth::Recordings;
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

/// Begins what stands at this place of the list: the conversation, and its first words. The last number is by how many milliseconds
/// the machine's clock is ahead because it was set in this session; the folder of the job must know.
pub type Begin = Box<dyn FnMut(usize, At, i64) -> Result<(Conversation, Turn), JournalError>>;

/// What there is to choose from, by title.
#[derive(Debug, Clone, Default)]
pub struct Offers {
    titles: Vec<String>,
    /// So many of them, the first ones, are jobs that were begun before. One that is taken up is offered no more.
    begun: usize,
}

impl Offers {
    /// Jobs begun before, and behind them procedures of which new ones begin.
    pub fn new(begun: Vec<String>, procedures: Vec<String>) -> Offers {
        Offers { begun: begun.len(), titles: begun.into_iter().chain(procedures).collect() }
    }
}

impl From<Vec<String>> for Offers {
    fn from(titles: Vec<String>) -> Offers {
        Offers::new(Vec::new(), titles)
    }
}

/// The choice and, from a yes on, the job, up to its end.
pub struct Choice {
    language: Language,
    delivery: Delivery,
    titles: Vec<String>,
    /// The place that each title has for `begin`.
    places: Vec<usize>,
    /// How many of the titles are jobs begun before.
    begun: usize,
    begin: Begin,
    /// What was chosen and waits for a yes, and when that question had been put to its end.
    chosen: Option<(usize, Option<At>)>,
    listening: bool,
    last: Vec<Sentence>,
    /// The job in hand; while another one is chosen, the one that was closed last.
    job: Option<Box<Conversation>>,
    choosing: bool,
    /// By how much the machine's clock was set in this session, whichever job was in hand: it is told once.
    set: i64,
}

impl Choice {
    /// A choice among these, of which only as many are told as are kept in mind.
    pub fn new(language: Language, delivery: Delivery, offers: impl Into<Offers>, begin: Begin) -> Choice {
        let Offers { titles, begun } = offers.into();
        let places = (0..titles.len()).collect();
        let (chosen, listening, last, job) = (None, true, Vec::new(), None);
        Choice {
            language,
            delivery,
            titles,
            places,
            begun,
            begin,
            chosen,
            listening,
            last,
            job,
            choosing: true,
            set: 0,
        }
    }

    /// A choice that begins when this job is closed. Where there is nothing to choose from, the session ends with the job.
    pub fn after(job: Conversation, offers: impl Into<Offers>, begin: Begin) -> Choice {
        let (language, delivery) = (job.language().clone(), job.delivery());
        let choice = Choice::new(language, delivery, offers, begin);
        Choice { job: Some(Box::new(job)), choosing: false, ..choice }
    }

    /// In a session in which the machine's clock has been set before, by so many milliseconds.
    pub(super) fn clock_ahead(self, set: i64) -> Choice {
        Choice { set, ..self }
    }

    /// The first words: what there is.
    pub fn first(&mut self) -> Turn {
        let sentences = self.list();
        self.said(None, sentences)
    }

    /// What there is to choose from.
    fn list(&self) -> Vec<Sentence> {
        match self.job {
            Some(_) => self.language.which_next(&self.titles),
            None => self.language.which_job(&self.titles),
        }
    }

    /// The job, while it is worked on.
    fn working(&self) -> Option<&Conversation> {
        self.job.as_deref().filter(|_| !self.choosing)
    }

    fn at_work(&mut self) -> Option<&mut Conversation> {
        self.job.as_deref_mut().filter(|_| !self.choosing)
    }

    /// What follows from something in the job: once it is closed, there is the next one to choose.
    fn then(&mut self, turn: Turn) -> Turn {
        let closed = self.working().filter(|job| turn.over && job.job().closed().is_some());
        let (Some(job), false) = (closed, self.titles.is_empty()) else { return turn };
        let turn = Talker::with_others(job, &turn).unwrap_or(turn);
        (self.delivery, self.choosing, self.chosen, self.listening) = (job.delivery(), true, None, true);
        self.last = self.list();
        let sentences = turn.sentences.into_iter().chain(self.last.iter().cloned()).collect();
        Turn { sentences, over: false, announces: false, ..turn }
    }

    /// The job that was begun last, closed or not.
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
                    self.chosen = None;
                    let Ok((mut talk, turn)) = (self.begin)(self.places[n], at, self.set) else {
                        // Nothing is lost with it, so whoever stands there with full hands may choose again.
                        let mut sentences = vec![self.language.cannot_begin(&self.titles[n])];
                        sentences.extend(self.list());
                        return Ok(self.said(Some(meaning), sentences));
                    };
                    talk.set_delivery(self.delivery);
                    if n < self.begun {
                        self.titles.remove(n);
                        self.places.remove(n);
                        self.begun -= 1;
                    }
                    (self.job, self.choosing) = (Some(Box::new(talk)), false);
                    Ok(Turn { meaning: Some(meaning), hush: true, ..turn })
                }
                None => Ok(Turn::default()),
            },
            Meaning::Command(Command::No) => {
                self.chosen = None;
                let sentences = self.list();
                Ok(self.said(Some(meaning), sentences))
            }
            // Nothing is put down, so a tone tells it; whoever asks for a break has heard enough of the list.
            Meaning::Command(Command::TakeBreak | Command::Pause) => {
                let turn = self.put_down(at)?;
                Ok(Turn { meaning: Some(meaning), tone: Some(Tone::ListeningOff), hush: true, ..turn })
            }
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
        self.working().map_or(self.delivery, Conversation::delivery)
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
        match self.working() {
            Some(job) => job.awaits(),
            None => {
                let chosen = self.chosen.iter().map(|(n, _)| *n).collect();
                Key { listening: self.listening, offers: (chosen, false), ..Key::default() }
            }
        }
    }

    fn phrases_beside(&self, said: &str) -> Vec<Phrase> {
        if let Some(job) = self.working() {
            return job.phrases_beside(said);
        }
        let mut phrases = phrases(&self.grammar());
        let said = super::phrasing::words(said);
        let own = |phrase: &Phrase| super::phrasing::own(&said, &super::phrasing::words(&phrase.text));
        phrases.iter_mut().filter(|phrase| own(phrase)).for_each(|phrase| phrase.harm = Harm::Decoy);
        phrases
    }

    fn readings_beside(&self, said: &str) -> Arc<dyn Open> {
        match self.working() {
            Some(job) => job.readings_beside(said),
            None => Arc::new(Readings::beside(self.grammar(), said)),
        }
    }

    fn hear(&mut self, said: &Utterance, began: At, at: At) -> Result<Turn, JournalError> {
        if let Some(job) = self.at_work() {
            let turn = job.hear(said, began, at)?;
            return Ok(self.then(turn));
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
        self.working().and_then(Conversation::confirmed)
    }

    fn read(&mut self, line: &str, at: At) -> Result<Turn, JournalError> {
        if let Some(job) = self.at_work() {
            let turn = job.read(line, at)?;
            return Ok(self.then(turn));
        }
        match self.language.chosen(line, self.titles.len()) {
            Some(meaning) => self.meant(meaning, None, at),
            None => Ok(Turn { sentences: self.list(), ..Turn::default() }),
        }
    }

    fn press(&mut self, meaning: &Meaning, at: At) -> Result<Turn, JournalError> {
        match self.at_work() {
            Some(job) => {
                let turn = job.press(meaning, at)?;
                Ok(self.then(turn))
            }
            None => self.meant(meaning.clone(), Some(at), at),
        }
    }

    fn measured(&mut self, value: Quantity, tool: &str, began: At, at: At) -> Result<Turn, JournalError> {
        self.at_work().map_or_else(|| Ok(Turn::default()), |job| job.measured(value, tool, began, at))
    }

    fn announced(&mut self, at: At) {
        if let Some(job) = self.at_work() {
            job.announced(at);
        } else if let Some((_, ended)) = &mut self.chosen {
            ended.get_or_insert(at);
        }
    }

    fn put_down(&mut self, at: At) -> Result<Turn, JournalError> {
        match self.at_work() {
            Some(job) => job.put_down(at),
            None => Ok(Turn { over: true, ..Turn::default() }),
        }
    }

    fn is_noting(&self) -> bool {
        self.working().is_some_and(Conversation::is_noting)
    }

    fn keep_note(&mut self, samples: &[i16], at: At) -> Result<Turn, JournalError> {
        self.at_work().map_or_else(|| Ok(Turn::default()), |job| job.keep_note(samples, at))
    }

    fn is_waiting(&self) -> bool {
        self.working().is_some_and(Conversation::is_waiting)
    }

    fn is_choosing(&self) -> bool {
        self.choosing
    }

    fn wait(&mut self, turn: &Turn) -> Option<Turn> {
        Talker::wait(self.at_work()?, turn)
    }

    fn with_others(&self, turn: &Turn) -> Option<Turn> {
        Talker::with_others(self.working()?, turn)
    }

    fn until_due(&self, at: At) -> Option<i64> {
        self.working()?.until_due(at)
    }

    fn time_up(&mut self, at: At) -> Result<Turn, JournalError> {
        self.at_work().map_or_else(|| Ok(Turn::default()), |job| job.time_up(at))
    }

    fn clock_set(&mut self, ahead: i64) -> Turn {
        self.set = ahead;
        self.at_work().map(|job| job.clock_set(ahead)).unwrap_or_default()
    }

    fn foresee(&self, at: At) -> Vec<String> {
        self.working().map(|job| Talker::foresee(job, at)).unwrap_or_default()
    }

    fn recordings(&self) -> Recordings {
        self.job.as_deref().map(Talker::recordings).unwrap_or_default()
    }

    fn voiced(&self, sentences: Vec<Sentence>) -> Vec<Sentence> {
        match &self.job {
            Some(job) => job.voiced(sentences),
            None => sentences,
        }
    }
}
