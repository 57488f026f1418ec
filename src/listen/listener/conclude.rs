//! The end of an utterance: what both listeners made of it, and what is decided.

use super::{BESIDE, Kept, Listener, ROOM};
use crate::listen::activity::FRAME;
use crate::listen::doubt::{self, Verdict};
use crate::listen::phrases::Progress;
use crate::listen::{Harm, Hypothesis, ListenError, Utterance, Word, background, number};
use std::time::Instant;
use tracing::{debug, warn};

impl Listener {
    /// The utterance is over: what was it? Nothing, if neither listener found words in it or if it was somebody in the background.
    pub(super) fn conclude(&mut self, silence: u32, started: Instant) -> Result<Option<Utterance>, ListenError> {
        let words = self.final_words()?;
        self.conclude_with(&words, silence, started)
    }

    /// The same, with the first listener's words.
    pub(super) fn conclude_with(
        &mut self,
        words: &[Word],
        silence: u32,
        started: Instant,
    ) -> Result<Option<Utterance>, ListenError> {
        let silent = silence as usize * FRAME;
        if self.background.fainter() && !self.wordless {
            debug!(at = self.position, "fainter than who has just given a command");
            self.lost.background += 1;
            self.clear();
            return Ok(None);
        }
        let mut heard = Hypothesis::of(words);
        let command = |text: &str| self.phrases.iter().any(|p| p.text == text && p.harm > Harm::Decoy);
        if self.rests && !command(&heard.text) {
            self.clear();
            return Ok(None);
        }
        let (mut began, mut ended) = (self.began, self.ended(silence));
        let foreground = match self.is_phrase(&heard.text) {
            true => None,
            // What follows a number is part of it, however faint it is.
            false => background::standing_out(words, &self.sound, self.background.room(), |text, followed| {
                self.is_phrase(text) && !(followed && self.goes_on(text))
            }),
        };
        let mut of = 0..self.sound.len().saturating_sub(silent.saturating_sub(ROOM));
        if let Some(run) = foreground.clone() {
            let words = &words[run];
            // It takes both listeners: fragments of talk beside it are often taken for a phrase, and surely.
            heard = Hypothesis { confidence: 0.0, ..Hypothesis::of(words) };
            let (first, end) = (words[0].began, words[words.len() - 1].ended);
            let start = self.position - self.sound.len() as u64;
            // vosk's ends are rounded, perhaps beyond the last sample.
            (began, ended) = (start + first as u64, (start + end as u64).min(self.position));
            debug!(words = heard.text, "stands out");
            of = first.saturating_sub(BESIDE)..end.saturating_add(BESIDE);
            self.ahead = None;
        }
        if foreground.is_none() && self.is_number(&heard.text) {
            // With what came after the words: more of the number, perhaps.
            of = 0..self.sound.len();
        }
        let open = self.open.clone();
        let phrases = number::offered(&self.phrases, open.as_deref(), &heard.text).into_owned();
        let listed = self.phrases.len();
        let mut judgement = match self.believed_ahead(ended, &heard) {
            Some((_, judgement)) if phrases.len() == listed => Some(judgement.clone()),
            _ => self.second_opinion(of.clone(), &phrases)?,
        };
        self.read_alike(&phrases, &heard, &mut judgement);
        let best = judgement.as_ref().and_then(|judgement| judgement.best);
        let lead = self.rule().number;
        let whole = |at: &usize| number::whole(&phrases, *at, &heard.text, judgement.as_ref(), lead, open.as_deref());
        let voice = (began, ended);
        // What stands out from talk beside it takes both listeners; nobody else lets it pass.
        let own = if foreground.is_none() { self.own_opinion(&of, voice, &phrases)? } else { None };
        let by_own = self.own.as_ref().map(|(_, rule)| rule);
        let decided = self.rule().with_own(&phrases, &heard, judgement.as_ref(), by_own.zip(own.as_ref()));
        let may_be = |at: &usize| number::near(&phrases, *at, &heard.text, best, open.as_deref());
        let (mut phrase, mut nearly) = number::settled(decided.phrase, decided.nearly, whole, may_be);
        let mut written = None;
        if let Some(at) = phrase.or(nearly) {
            let meant = &phrases[at];
            if meant.harm > Harm::None && judgement.is_some() {
                written = self.written(of, &meant.text)?;
            }
            let read = written.as_ref().is_some_and(|written| !written.text.is_empty());
            let plain = (decided.plain && read && heard.text == meant.text) || doubt::plainly(meant, &heard);
            match self.denying.verdict(meant, &heard.text, written.as_ref(), plain) {
                Verdict::Stands => {}
                Verdict::Doubtful => (phrase, nearly) = (None, Some(at)),
                Verdict::Falls => (phrase, nearly) = (None, None),
            }
        }
        self.own_words = None;
        if self.awaits_words && foreground.is_none() && phrase.or(nearly).is_none() {
            let all = 0..self.sound.len();
            // Held against a phrase only because the writer wants one.
            let other = self.phrases.first().map_or_else(String::new, |phrase| phrase.text.clone());
            written = self.written(all, &other)?;
            self.own_words = Some(self.around(began, ended));
        }
        if phrase.is_some() {
            self.background.commanded();
        }
        let text = |at: usize| phrases[at].text.clone();
        let utterance = Utterance {
            phrase: phrase.map(text),
            nearly: nearly.map(text),
            heard,
            judgement,
            written,
            own,
            began,
            ended,
            decided: self.position,
            thinking: self.behind + started.elapsed(),
        };
        debug!(?utterance, "utterance");
        if self.keeps {
            let start = self.position.saturating_sub(self.sound.len() as u64);
            let within =
                |at: u64| usize::try_from(at.saturating_sub(start)).unwrap_or(usize::MAX).min(self.sound.len());
            let voice = within(utterance.began)..within(utterance.ended);
            self.kept = Some(Kept { sound: self.samples(0..self.sound.len()), voice });
        }
        let wordless = utterance.phrase.is_none() && utterance.heard.text.is_empty();
        if wordless {
            self.came_to_nothing();
        }
        self.clear();
        self.lost.wordless += usize::from(wordless);
        Ok((!wordless || self.wordless || self.awaits_words).then_some(utterance))
    }

    /// The sound between two positions, with a little beside it.
    fn around(&self, began: u64, ended: u64) -> Vec<i16> {
        let start = self.position.saturating_sub(self.sound.len() as u64);
        let within = |at: u64| usize::try_from(at.saturating_sub(start)).unwrap_or(usize::MAX).min(self.sound.len());
        let of = within(began.saturating_sub(BESIDE as u64))..within(ended.saturating_add(BESIDE as u64));
        self.sound.get(of).map_or_else(Vec::new, <[i16]>::to_vec)
    }

    /// Is it one that may be said?
    pub(super) fn is_phrase(&self, text: &str) -> bool {
        self.book.has(text) || self.is_number(text)
    }

    pub(super) fn is_number(&self, text: &str) -> bool {
        self.open.as_ref().is_some_and(|open| open.phrase(text).is_some())
    }

    /// Is it a number that could go on?
    pub(super) fn goes_on(&self, text: &str) -> bool {
        self.open.as_ref().is_some_and(|open| open.could_go_on(text))
    }

    pub(super) fn progress(&self, words: &str) -> Progress {
        match self.book.progress(words) {
            Progress::Whole | Progress::Unfinished if self.goes_on(words) => Progress::CouldGoOn,
            Progress::Unfinished if self.is_number(words) => Progress::Whole,
            // A name may begin with words that are a phrase.
            Progress::Whole if self.awaits_words => Progress::CouldGoOn,
            progress => progress,
        }
    }

    /// The first listener's words at the end, of all the sound.
    pub(super) fn final_words(&mut self) -> Result<Vec<Word>, ListenError> {
        match self.last_words() {
            Err(error @ ListenError::Died { .. }) => {
                warn!("{error}");
                self.stumbled = true;
                self.fed = 0;
                self.last_words()
            }
            words => words,
        }
    }

    pub(super) fn last_words(&mut self) -> Result<Vec<Word>, ListenError> {
        if self.fed < self.sound.len() {
            self.recogniser.accept(&self.sound[self.fed..])?;
        }
        self.recogniser.finish()
    }
}
