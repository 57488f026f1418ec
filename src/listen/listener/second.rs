//! The second listener and the user's own voice: what they are asked, when, and what it means that they fail.

use super::{InPause, Listener};
use crate::listen::{Encoding, Hypothesis, Judgement, ListenError, Opinion, Phrase, Written};
use std::ops::Range;
use tracing::warn;

impl Listener {
    /// The phrase that the rule believes already, by what both listeners make of the sound so far; the second one is asked
    /// once a pause.
    ///
    /// vosk names a joined word only when all of it is worked through, which comes some 200 ms after the sound. So what the
    /// second likes is taken to be what vosk is about to say, if its words so far are the beginning of it. That says when
    /// the end is, and not what was said: the rule is asked anew with vosk's last words.
    pub(super) fn look_ahead(&mut self, silence: u32) -> Result<Option<usize>, ListenError> {
        if self.rests || !self.judge.as_ref().is_some_and(|judge| judge.is_there()) {
            return Ok(None);
        }
        let ended = self.ended(silence);
        if self.ahead.as_ref().is_none_or(|ahead| ahead.ended != ended) {
            let judgement = self.second_opinion(0..self.sound.len(), &self.phrases.clone())?;
            self.ahead = Some(InPause { ended, judgement });
        }
        // The first listener's confidence is not known before the end, so nothing is believed for its sake.
        let liked = self.ahead.as_ref().and_then(|ahead| self.phrases.get(ahead.judgement.as_ref()?.best?));
        let text = liked.map(|phrase| &phrase.text).filter(|text| begins(text, &self.words)).unwrap_or(&self.words);
        let heard = Hypothesis { text: text.clone(), confidence: 0.0 };
        Ok(self.believed_ahead(ended, &heard).map(|(at, _)| at))
    }

    /// What the rule believes by the second listener's word in the pause after `ended`, and that word.
    pub(super) fn believed_ahead(&self, ended: u64, heard: &Hypothesis) -> Option<(usize, &Judgement)> {
        let judgement = self.ahead.as_ref().filter(|ahead| ahead.ended == ended)?.judgement.as_ref()?;
        self.rule().decide(&self.phrases, heard, Some(judgement)).map(|at| (at, judgement))
    }

    /// The second listener writes numbers in figures, in which "one hundred ten" and "one hundred and ten" are one.
    pub(super) fn read_alike(&self, phrases: &[Phrase], heard: &Hypothesis, judgement: &mut Option<Judgement>) {
        let (Some(open), Some(judgement)) = (&self.open, judgement) else { return };
        let Some(best) = judgement.best.and_then(|at| phrases.get(at)) else { return };
        if best.text != heard.text && open.same(&best.text, &heard.text) {
            judgement.best = phrases.iter().position(|phrase| phrase.text == heard.text).or(judgement.best);
        }
    }

    /// Without the second listener's word the decision is stricter, so its failure costs little. One that was promised
    /// and cannot be loaded is another matter: its user counts on it.
    pub(super) fn second_opinion(
        &mut self,
        of: Range<usize>,
        phrases: &[Phrase],
    ) -> Result<Option<Judgement>, ListenError> {
        let samples = self.samples(of);
        let Some(judge) = &mut self.judge else { return Ok(None) };
        match judge.judge(&samples, phrases) {
            Ok(judgement) => Ok(Some(judgement)),
            Err(error) => {
                judge.look()?;
                warn!("deciding without the second listener: {error}");
                Ok(None)
            }
        }
    }

    /// What the user's own voice says to a part of the sound in which somebody speaks between these two samples, counted from the
    /// beginning of all sound. Without an encoding it says nothing, and nothing is decided by it.
    pub(super) fn own_opinion(
        &mut self,
        of: &Range<usize>,
        (began, ended): (u64, u64),
        phrases: &[Phrase],
    ) -> Result<Option<Opinion>, ListenError> {
        let Some((own, _)) = self.own.clone() else { return Ok(None) };
        let start = self.position.saturating_sub(self.sound.len() as u64) + of.start as u64;
        let voice = began.saturating_sub(start) as usize..ended.saturating_sub(start) as usize;
        let encoding = self.encoding(of.clone())?;
        Ok(encoding.map(|encoding| own.hear(&encoding, voice, phrases)))
    }

    pub(super) fn encoding(&mut self, of: Range<usize>) -> Result<Option<Encoding>, ListenError> {
        let samples = self.samples(of);
        let Some(judge) = &mut self.judge else { return Ok(None) };
        judge.encode(&samples).or_else(|error| {
            judge.look()?;
            warn!("deciding without the user's own voice: {error}");
            Ok(None)
        })
    }

    /// What the second listener writes of this sound. If it fails, nothing is: that is like no phrase, and stops it.
    pub(super) fn written(&mut self, of: Range<usize>, phrase: &str) -> Result<Option<Written>, ListenError> {
        let samples = self.samples(of);
        let Some(judge) = &mut self.judge else { return Ok(None) };
        judge.write(&samples, phrase).or_else(|error| {
            judge.look()?;
            warn!("the second listener wrote nothing: {error}");
            Ok(Some(Written { text: String::new(), ahead: f32::MAX }))
        })
    }

    /// A part of the sound as the second listener takes it.
    pub(super) fn samples(&self, of: Range<usize>) -> Vec<f32> {
        let of = of.start.min(self.sound.len())..of.end.min(self.sound.len());
        self.sound[of].iter().map(|&sample| f32::from(sample) / 32_768.0).collect()
    }
}

/// Are these words the first of a text, or none yet?
pub(in crate::listen) fn begins(text: &str, words: &str) -> bool {
    text.strip_prefix(words).is_some_and(|rest| words.is_empty() || rest.is_empty() || rest.starts_with(' '))
}

#[cfg(test)]
mod tests {
    use super::begins;

    #[test]
    fn words_begin_a_text_as_words() {
        assert!(begins("go to step two", "") && begins("go to step two", "go to") && begins("go", "go"));
        assert!(!begins("go to step two", "go t") && !begins("go", "go to") && !begins("go to", "to"));
    }
}
