//! Trying a microphone: how loud it is while nobody has been asked anything, then some phrases to say, each with what became
//! of it.
//!
//! A recording is tried in the same way, so that the trial can be tried. Times are counted in sound. Nothing is kept, and no
//! job is there. What follows from what was heard is for whoever shows it.

use super::{Delivery, Order, Source, VoiceThread};
use crate::dialogue::{Language, LessonSay, Sentence};
use crate::listen::{Fault, ListenError, Listener, Lost, Meter, RATE, Rule, Utterance, faults};
use std::time::{Duration, Instant};

/// How often a live source is asked for new sound.
const TICK: Duration = Duration::from_millis(20);
/// So long after its last sample the voice is still in the air.
const IN_THE_AIR: Duration = Duration::from_millis(250);
/// So long a phrase is waited for, in samples; whoever is speaking then gets as long again.
const PATIENCE: usize = RATE as usize * 8;
/// A microphone that is so much later with its sound than the clock brings no more.
const LATE: Duration = Duration::from_secs(5);

/// What became of a phrase.
pub struct Tried {
    /// What was to be said.
    pub phrase: String,
    /// What was heard first, if anything was.
    pub said: Option<Utterance>,
    /// What is wrong with the sound of it.
    pub faults: Vec<Fault>,
    /// Sound that came to nothing meanwhile.
    pub lost: Lost,
    /// What it was decided by.
    pub rule: Rule,
}

impl Tried {
    /// Was it taken for what it was to be?
    pub fn taken(&self) -> bool {
        self.said.as_ref().is_some_and(|said| said.phrase.as_ref() == Some(&self.phrase))
    }
}

/// What a trial is shown on.
pub trait Panel {
    /// A little more was measured.
    fn level(&mut self, meter: &Meter);
    /// All was measured.
    fn measured(&mut self, meter: &Meter);
    /// This is to be said now.
    fn asks(&mut self, sentence: &Sentence);
    /// This became of it.
    fn tried(&mut self, tried: &Tried);
    /// Something about the sound itself.
    fn notice(&mut self, text: &str);
}

/// A microphone, or a recording, on trial.
pub struct TryOut<'a> {
    /// The words.
    pub language: &'a Language,
    /// Told what to listen for.
    pub listener: Listener,
    /// Where the sound comes from.
    pub source: Box<dyn Source>,
    /// Who asks, if there is a voice.
    pub voice: Option<&'a VoiceThread>,
    /// How it speaks.
    pub delivery: Delivery,
}

impl TryOut<'_> {
    /// Measures for so many seconds, then tries the phrases; says how many were taken.
    pub fn run(mut self, seconds: u32, phrases: &[String], panel: &mut dyn Panel) -> Result<usize, ListenError> {
        self.listener.keep_sound();
        self.measure(seconds, panel)?;
        let mut taken = 0;
        for phrase in phrases {
            self.ask(phrase, panel)?;
            let tried = self.hear(phrase, panel)?;
            taken += usize::from(tried.taken());
            panel.tried(&tried);
        }
        Ok(taken)
    }

    fn measure(&mut self, seconds: u32, panel: &mut dyn Panel) -> Result<(), ListenError> {
        let mut meter = Meter::default();
        let wanted = seconds as usize * RATE as usize;
        let began = Instant::now();
        while meter.samples() < wanted && !self.late(began, wanted) {
            let Some(piece) = self.read(panel)? else { break };
            meter.hear(&piece);
            panel.level(&meter);
        }
        panel.measured(&meter);
        Ok(())
    }

    /// Asks for a phrase. What a microphone brings meanwhile is the voice, and nobody's phrase.
    fn ask(&mut self, phrase: &str, panel: &mut dyn Panel) -> Result<(), ListenError> {
        let sentence = self.language.lesson(LessonSay::Try(phrase));
        panel.asks(&sentence);
        let Some(voice) = self.voice else { return Ok(()) };
        voice.say(Order { tone: None, sentences: vec![sentence], delivery: self.delivery, ..Order::default() });
        let mut spoke = Instant::now();
        while voice.is_speaking() || (self.source.is_live() && spoke.elapsed() < IN_THE_AIR) {
            if voice.is_speaking() {
                spoke = Instant::now();
            }
            match self.source.is_live() {
                true => drop(self.read(panel)?),
                false => std::thread::sleep(TICK),
            }
        }
        if self.source.is_live() { self.listener.reset() } else { Ok(()) }
    }

    fn hear(&mut self, phrase: &str, panel: &mut dyn Panel) -> Result<Tried, ListenError> {
        self.listener.lost();
        let (began, mut listened) = (Instant::now(), 0);
        let said = loop {
            let patience = if self.listener.speaking() { PATIENCE * 2 } else { PATIENCE };
            if listened >= patience || self.late(began, patience) {
                break None;
            }
            let Some(piece) = self.read(panel)? else { break self.listener.finish()? };
            listened += piece.len();
            let said = self.listener.push(&piece)?;
            let troubles = self.listener.troubles().into_iter().chain(self.listener.second_lost());
            troubles.collect::<Vec<_>>().iter().for_each(|trouble| panel.notice(trouble));
            if said.is_some() {
                break said;
            }
        };
        let kept = self.listener.take_kept().filter(|_| said.is_some());
        let faults = kept.as_ref().map(faults).unwrap_or_default();
        let (lost, rule) = (self.listener.lost(), self.listener.rule());
        Ok(Tried { phrase: phrase.to_owned(), said, faults, lost, rule })
    }

    fn read(&mut self, panel: &mut dyn Panel) -> Result<Option<Vec<i16>>, ListenError> {
        let piece = self.source.read()?;
        self.source.troubles().into_iter().filter_map(|trouble| trouble.reason).for_each(|told| panel.notice(&told));
        if self.source.is_live() && piece.as_ref().is_some_and(Vec::is_empty) {
            std::thread::sleep(TICK);
        }
        Ok(piece)
    }

    /// Has a microphone been silent altogether for longer than it takes to bring so many samples?
    fn late(&self, began: Instant, samples: usize) -> bool {
        let due = Duration::from_secs_f64(samples as f64 / f64::from(RATE)) + LATE;
        self.source.is_live() && began.elapsed() > due
    }
}
