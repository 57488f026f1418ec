//! The whole way from sound to utterances: voice activity, the recogniser, endpointing, the second listener, the
//! decision.
//!
//! Deterministic: it works through the sound in frames of its own, so that the same sound gives the same utterances
//! at the same positions whatever pieces it comes in. The only clock it reads measures how long it took to think.
//!
//! The second listener takes about as long as an end has to be waited for, so it is asked when the voice pauses. If the
//! rule believes a phrase then, the end comes sooner and its answer is there already; if not, it is asked again at the
//! end, with all of the sound.

use std::ops::Range;
use std::sync::Arc;
use std::time::{Duration, Instant};

use tracing::{debug, warn};

use super::activity::{Activity, Earshot, FRAME};
use super::doubt::{self, Denying, Verdict};
use super::endpoint::{Endpointer, Rest, Step};
use super::near::Near;
use super::phrases::{PhraseBook, Progress};
use super::{
    Encoding, Halt, Harm, Hypothesis, Judge, Judgement, ListenError, Lost, Open, Opinion, OwnRule, OwnVoice, Phrase,
    RATE, Recogniser, Utterance, Word, Written, decide, near, number, phrases,
};

/// Sound kept from before the voice was noticed, and after it had ended: the engines need some room around words.
const ROOM: usize = RATE as usize * 4 / 10;
/// Sound beside words that stand out from others, which the second listener gets with them.
const BESIDE: usize = RATE as usize / 10;
/// Frames handed to the recogniser at a time.
const BLOCK: usize = 3 * FRAME;
/// How long a frame takes to be spoken.
const FRAME_TIME: Duration = Duration::from_micros(FRAME as u64 * 1_000_000 / RATE as u64);

/// Listens for phrases in a stream of sound.
pub struct Listener {
    recogniser: Box<dyn Recogniser + Send>,
    judge: Option<Box<dyn Judge + Send>>,
    activity: Box<dyn Activity + Send>,
    denying: Denying,
    near: Near,
    endpointer: Endpointer,
    /// Of what was broken off.
    rest: Rest,
    phrases: Vec<Phrase>,
    book: PhraseBook,
    /// What may be said besides.
    open: Option<Arc<dyn Open>>,
    /// The user's own voice, and what its word counts for.
    own: Option<(Arc<dyn OwnVoice>, OwnRule)>,
    /// Came in and is not worked through yet; less than a frame, except after an utterance.
    inbox: Vec<i16>,
    /// Samples worked through since the listener began.
    position: u64,
    /// Between utterances the last [`ROOM`] of sound; in one, all of it from [`ROOM`] before it.
    sound: Vec<i16>,
    /// How much of `sound` the recogniser has had.
    fed: usize,
    /// First sample of the voice.
    began: u64,
    words: String,
    /// What was asked in a pause.
    ahead: Option<Ahead>,
    /// How far the computing is behind sound that comes at its own pace.
    behind: Duration,
    /// What went wrong and is mended; to be told.
    troubles: Vec<String>,
    /// What came to nothing.
    lost: Lost,
    /// Whether the sound of utterances is kept, and that of the last one.
    keeps: bool,
    kept: Option<Kept>,
    /// Whether utterances without words are given, too.
    wordless: bool,
    /// Whether the second listener is asked only about what the first takes for a command.
    rests: bool,
}

/// The sound of an utterance.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// 16 kHz mono, -1 to 1, with what was before and after the voice.
    pub sound: Vec<f32>,
    /// Where the voice is in it.
    pub voice: Range<usize>,
}

/// What the second listener said in a pause.
struct Ahead {
    /// One past the last sample of the voice before the pause.
    ended: u64,
    /// None if it failed.
    judgement: Option<Judgement>,
}

impl Listener {
    /// A listener that has nothing to listen for yet.
    pub fn new(recogniser: Box<dyn Recogniser + Send>, judge: Option<Box<dyn Judge + Send>>) -> Self {
        Self::with_activity(recogniser, judge, Box::new(Earshot::default()))
    }

    /// The same with another judge of voice activity.
    pub fn with_activity(
        recogniser: Box<dyn Recogniser + Send>,
        judge: Option<Box<dyn Judge + Send>>,
        activity: Box<dyn Activity + Send>,
    ) -> Self {
        Self {
            recogniser,
            judge,
            activity,
            denying: Denying::default(),
            near: Near::default(),
            endpointer: Endpointer::default(),
            rest: Rest::default(),
            phrases: Vec::new(),
            book: PhraseBook::default(),
            open: None,
            own: None,
            inbox: Vec::new(),
            position: 0,
            sound: Vec::new(),
            fed: 0,
            began: 0,
            words: String::new(),
            ahead: None,
            behind: Duration::ZERO,
            troubles: Vec::new(),
            lost: Lost::default(),
            keeps: false,
            kept: None,
            wordless: false,
            rests: false,
        }
    }

    /// The same, for learning how somebody says things: the sound of each utterance is [kept](Self::take_kept), and one in which
    /// no words are found is given too, because the speaker's way to say them may be the reason.
    pub fn keeping(mut self) -> Self {
        (self.keeps, self.wordless) = (true, true);
        self
    }

    /// Keeps the sound of each utterance from now on, and changes nothing else.
    pub fn keep_sound(&mut self) {
        self.keeps = true;
    }

    /// The sound of the last utterance, if it is kept and was not taken yet.
    pub fn take_kept(&mut self) -> Option<Kept> {
        self.kept.take()
    }

    /// What the second listener's encoder makes of a sound; nothing without one, or if the sound is too short.
    pub fn encode(&mut self, sound: &[f32]) -> Result<Option<Encoding>, ListenError> {
        match &mut self.judge {
            Some(judge) => judge.encode(sound),
            None => Ok(None),
        }
    }

    /// The same, heeding words of denial: a phrase beside which one is heard is not believed.
    pub fn heeding(mut self, denying: Denying) -> Self {
        self.denying = denying;
        self
    }

    /// Allows exactly these phrases from now on. In the middle of an utterance its sound so far is heard again with
    /// them, so that nothing is lost to a change of phrases while somebody speaks.
    pub fn listen_for(&mut self, phrases: &[Phrase]) -> Result<(), ListenError> {
        if self.phrases == phrases && !phrases.is_empty() {
            return Ok(());
        }
        phrases::check(phrases)?;
        self.recogniser.listen_for(phrases)?;
        self.phrases = phrases.to_vec();
        self.book = PhraseBook::new(phrases);
        self.words.clear();
        self.ahead = None;
        self.fed = 0;
        self.endpointer.words(self.book.progress(""), true);
        if !self.endpointer.speaking() {
            return Ok(());
        }
        self.feed().or_else(|error| self.outlive(error).map(|_| ()))
    }

    /// Allows phrases of which there is no list as well, until it is told otherwise.
    pub fn also_for(&mut self, open: Option<Arc<dyn Open>>) {
        self.open = open;
    }

    /// Listens at next to no cost from now on, or no longer so: the second listener is asked only about what the first takes for
    /// a command, so that talk and machines beside it cost as little as silence.
    pub fn rest(&mut self, rests: bool) {
        self.rests = rests;
    }

    /// Knows the user's own voice from now on, or nobody's.
    pub fn know(&mut self, own: Option<(Arc<dyn OwnVoice>, OwnRule)>) {
        self.own = own;
    }

    /// Takes the next piece of 16 kHz mono sound, of any length. Stops at the end of an utterance; what is left of the
    /// piece is worked through with the next one. To go on at once, push an empty piece until it gives nothing.
    pub fn push(&mut self, chunk: &[i16]) -> Result<Option<Utterance>, ListenError> {
        if self.phrases.is_empty() {
            return Err(ListenError::NoPhrases);
        }
        if let Some(judge) = &mut self.judge {
            judge.look()?;
        }
        self.inbox.extend_from_slice(chunk);
        let mut used = 0;
        let mut outcome = Ok(None);
        while let Some(frame) = self.inbox[used..].first_chunk::<FRAME>().copied() {
            used += FRAME;
            let started = Instant::now();
            self.behind = self.behind.saturating_sub(FRAME_TIME);
            outcome = self.frame(&frame, started).or_else(|error| self.outlive(error));
            self.behind += started.elapsed();
            if !matches!(outcome, Ok(None)) {
                break;
            }
        }
        self.inbox.drain(..used);
        outcome
    }

    /// Ends the sound: gives the utterance that was going on, if any. To be called until it gives nothing.
    pub fn finish(&mut self) -> Result<Option<Utterance>, ListenError> {
        if let Some(utterance) = self.push(&[])? {
            return Ok(Some(utterance));
        }
        let started = Instant::now();
        self.position += self.inbox.len() as u64;
        self.sound.append(&mut self.inbox);
        match self.endpointer.cut() {
            Some(silence) => self.conclude(silence, started).or_else(|error| self.outlive(error)),
            None => Ok(None),
        }
    }

    /// A recogniser that has died of what was being said, twice, and is there again: that is lost, and no more.
    fn outlive(&mut self, error: ListenError) -> Result<Option<Utterance>, ListenError> {
        let ListenError::Died { .. } = error else { return Err(error) };
        warn!("{error}");
        self.troubles.push(error.to_string());
        self.rest.begin();
        self.activity.reset();
        self.near = Near::default();
        self.endpointer = Endpointer::default();
        self.clear();
        Ok(None)
    }

    /// Troubles since the last call that it went on after, each to be told once: something said was lost.
    pub fn troubles(&mut self) -> Vec<String> {
        std::mem::take(&mut self.troubles)
    }

    /// What came to nothing since the last call, and why.
    pub fn lost(&mut self) -> Lost {
        std::mem::take(&mut self.lost)
    }

    /// Forgets the sound so far; positions go on counting. For when it was not meant, such as the program's own voice.
    pub fn reset(&mut self) -> Result<(), ListenError> {
        self.position += self.inbox.len() as u64;
        self.inbox.clear();
        self.activity.reset();
        self.near = Near::default();
        self.endpointer = Endpointer::default();
        self.clear();
        if self.phrases.is_empty() { Ok(()) } else { self.recogniser.listen_for(&self.phrases) }
    }

    /// The same where so many samples never came, or came to nothing: what follows does not belong to what was before, and up to
    /// the next silence it may be half of something.
    pub fn skip(&mut self, samples: u64) -> Result<(), ListenError> {
        self.position += samples;
        self.rest.begin();
        self.reset()
    }

    /// The same after a fault of the program in the middle of a piece: the next sample is at this position, whatever was counted.
    pub fn go_on_at(&mut self, position: u64) -> Result<(), ListenError> {
        self.inbox.clear();
        self.position = position;
        self.skip(0)
    }

    /// What breaks off a wait for the recogniser, from another thread and for good.
    pub fn halt(&self) -> Option<Halt> {
        self.recogniser.halt()
    }

    /// Whether somebody is speaking, as far as it is known.
    pub fn speaking(&self) -> bool {
        self.endpointer.speaking()
    }

    /// The words of the utterance that goes on; they may still change.
    pub fn words(&self) -> &str {
        &self.words
    }

    /// Samples worked through since the listener began.
    pub fn position(&self) -> u64 {
        self.position
    }

    fn frame(&mut self, frame: &[i16; FRAME], started: Instant) -> Result<Option<Utterance>, ListenError> {
        self.position += FRAME as u64;
        let voice = self.activity.voice(frame);
        if self.rest.goes_on(voice) {
            return Ok(None);
        }
        let mut frame = *frame;
        let behind = self.near.frame(&mut frame, self.endpointer.speaking());
        self.sound.extend_from_slice(&frame);
        match self.endpointer.frame(if behind { 0.0 } else { voice }) {
            Step::Quiet => {
                let surplus = self.sound.len().saturating_sub(ROOM);
                self.sound.drain(..surplus);
                Ok(None)
            }
            Step::Began(ago) => {
                self.began = self.position.saturating_sub(u64::from(ago) * FRAME as u64);
                self.feed()?;
                Ok(None)
            }
            Step::Going => {
                if self.sound.len() - self.fed >= BLOCK {
                    self.feed()?;
                }
                Ok(None)
            }
            Step::Paused(silence) => {
                self.feed()?;
                // A number may go on, however sure its beginning is: it gets the longer wait.
                if let Some(at) = self.look_ahead(silence)?
                    && !self.goes_on(&self.phrases[at].text)
                {
                    self.endpointer.sure(self.book.progress(&self.phrases[at].text));
                }
                Ok(None)
            }
            Step::Standing(since) => {
                let stood = self.words.clone();
                self.feed()?;
                let believed = if self.words == stood { self.look_ahead(since)? } else { None };
                // The words of a number may stand while more of it is being said: the first listener names it late.
                if believed.is_none_or(|at| self.goes_on(&self.phrases[at].text)) || self.goes_on(&self.words) {
                    return Ok(None);
                }
                self.endpointer.cut();
                self.conclude(since, started)
            }
            Step::Ended(silence) => self.conclude(silence, started),
            // A recogniser names a short word only once it is told that nothing follows.
            Step::Knock(silence) => {
                let words = self.final_words()?;
                if words.is_empty() && !self.wordless {
                    debug!(at = self.position, "a knock");
                    self.lost.knocks += 1;
                    self.clear();
                    return Ok(None);
                }
                self.conclude_with(&words, silence, started)
            }
        }
    }

    /// Hands to the recogniser what it has not had, and takes note of the words.
    fn feed(&mut self) -> Result<(), ListenError> {
        let words = match self.recogniser.accept(&self.sound[self.fed..]) {
            Err(error @ ListenError::Died { .. }) => {
                // The one in its place has heard nothing yet. If the sound itself is at fault, it dies of it too.
                warn!("{error}");
                self.recogniser.accept(&self.sound)?
            }
            other => other?,
        };
        self.fed = self.sound.len();
        let changed = words != self.words;
        self.words = words;
        self.endpointer.words(self.progress(&self.words), changed);
        Ok(())
    }

    /// The phrase that the rule believes already, by what both listeners make of the sound so far; the second one is asked
    /// once a pause.
    ///
    /// vosk names a joined word only when all of it is worked through, which comes some 200 ms after the sound. So what the
    /// second likes is taken to be what vosk is about to say, if its words so far are the beginning of it. That says when
    /// the end is, and not what was said: the rule is asked anew with vosk's last words.
    fn look_ahead(&mut self, silence: u32) -> Result<Option<usize>, ListenError> {
        if self.rests || !self.judge.as_ref().is_some_and(|judge| judge.is_there()) {
            return Ok(None);
        }
        let ended = self.ended(silence);
        if self.ahead.as_ref().is_none_or(|ahead| ahead.ended != ended) {
            let judgement = self.second_opinion(0..self.sound.len(), &self.phrases.clone())?;
            self.ahead = Some(Ahead { ended, judgement });
        }
        // The first listener's confidence is not known before the end, so nothing is believed for its sake.
        let liked = self.ahead.as_ref().and_then(|ahead| self.phrases.get(ahead.judgement.as_ref()?.best?));
        let text = liked.map(|phrase| &phrase.text).filter(|text| begins(text, &self.words)).unwrap_or(&self.words);
        let heard = Hypothesis { text: text.clone(), confidence: 0.0 };
        Ok(self.believed_ahead(ended, &heard).map(|(at, _)| at))
    }

    /// What the rule believes by the second listener's word in the pause after `ended`, and that word.
    fn believed_ahead(&self, ended: u64, heard: &Hypothesis) -> Option<(usize, &Judgement)> {
        let judgement = self.ahead.as_ref().filter(|ahead| ahead.ended == ended)?.judgement.as_ref()?;
        decide::decide(&self.phrases, heard, Some(judgement)).map(|at| (at, judgement))
    }

    /// One past the last sample of a voice that ended so many frames ago.
    fn ended(&self, silence: u32) -> u64 {
        self.position.saturating_sub(u64::from(silence) * FRAME as u64).max(self.began)
    }

    /// The utterance is over: what was it? Nothing, if neither listener found words in it or if it was somebody behind.
    fn conclude(&mut self, silence: u32, started: Instant) -> Result<Option<Utterance>, ListenError> {
        let words = self.final_words()?;
        self.conclude_with(&words, silence, started)
    }

    /// The same, with the first listener's words.
    fn conclude_with(
        &mut self,
        words: &[Word],
        silence: u32,
        started: Instant,
    ) -> Result<Option<Utterance>, ListenError> {
        let silent = silence as usize * FRAME;
        if self.near.fainter() && !self.wordless {
            debug!(at = self.position, "behind who has just given a command");
            self.lost.behind += 1;
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
        let near = match self.is_phrase(&heard.text) {
            true => None,
            // What follows a number is part of it, however faint it is.
            false => near::standing_out(words, &self.sound, self.near.room(), |text, followed| {
                self.is_phrase(text) && !(followed && self.goes_on(text))
            }),
        };
        let mut of = 0..self.sound.len().saturating_sub(silent.saturating_sub(ROOM));
        if let Some(run) = near.clone() {
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
        if near.is_none() && self.is_number(&heard.text) {
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
        let whole = |at: &usize| number::whole(&phrases, *at, &heard.text, best, open.as_deref());
        let voice = (began, ended);
        // What stands out from talk beside it takes both listeners; nobody else lets it pass.
        let own = if near.is_none() { self.own_opinion(&of, voice, &phrases)? } else { None };
        let rule = self.own.as_ref().map(|(_, rule)| rule);
        let decided = decide::with_own(&phrases, &heard, judgement.as_ref(), rule.zip(own.as_ref()));
        let mut phrase = decided.phrase.filter(whole);
        let mut nearly = match phrase {
            Some(_) => None,
            None => decided.nearly.filter(whole),
        };
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
        if phrase.is_some() {
            self.near.commanded();
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
        self.clear();
        let wordless = utterance.phrase.is_none() && utterance.heard.text.is_empty();
        self.lost.wordless += usize::from(wordless);
        Ok((!wordless || self.wordless).then_some(utterance))
    }

    /// Is it one that may be said?
    fn is_phrase(&self, text: &str) -> bool {
        self.book.has(text) || self.is_number(text)
    }

    fn is_number(&self, text: &str) -> bool {
        self.open.as_ref().is_some_and(|open| open.phrase(text).is_some())
    }

    /// Is it a number that could go on?
    fn goes_on(&self, text: &str) -> bool {
        self.open.as_ref().is_some_and(|open| open.could_go_on(text))
    }

    fn progress(&self, words: &str) -> Progress {
        match self.book.progress(words) {
            Progress::Whole | Progress::Unfinished if self.goes_on(words) => Progress::CouldGoOn,
            Progress::Unfinished if self.is_number(words) => Progress::Whole,
            progress => progress,
        }
    }

    /// The second listener writes numbers in figures, in which "one hundred ten" and "one hundred and ten" are one.
    fn read_alike(&self, phrases: &[Phrase], heard: &Hypothesis, judgement: &mut Option<Judgement>) {
        let (Some(open), Some(judgement)) = (&self.open, judgement) else { return };
        let Some(best) = judgement.best.and_then(|at| phrases.get(at)) else { return };
        if best.text != heard.text && open.same(&best.text, &heard.text) {
            judgement.best = phrases.iter().position(|phrase| phrase.text == heard.text).or(judgement.best);
        }
    }

    /// The first listener's words at the end, of all the sound.
    fn final_words(&mut self) -> Result<Vec<Word>, ListenError> {
        match self.last_words() {
            Err(error @ ListenError::Died { .. }) => {
                warn!("{error}");
                self.fed = 0;
                self.last_words()
            }
            words => words,
        }
    }

    fn last_words(&mut self) -> Result<Vec<Word>, ListenError> {
        if self.fed < self.sound.len() {
            self.recogniser.accept(&self.sound[self.fed..])?;
        }
        self.recogniser.finish()
    }

    /// Without the second listener's word the decision is stricter, so its failure costs little. One that was promised
    /// and cannot be loaded is another matter: its user counts on it.
    fn second_opinion(&mut self, of: Range<usize>, phrases: &[Phrase]) -> Result<Option<Judgement>, ListenError> {
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
    fn own_opinion(
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

    fn encoding(&mut self, of: Range<usize>) -> Result<Option<Encoding>, ListenError> {
        let samples = self.samples(of);
        let Some(judge) = &mut self.judge else { return Ok(None) };
        judge.encode(&samples).or_else(|error| {
            judge.look()?;
            warn!("deciding without the user's own voice: {error}");
            Ok(None)
        })
    }

    /// What the second listener writes of this sound. If it fails, nothing is: that is like no phrase, and stops it.
    fn written(&mut self, of: Range<usize>, phrase: &str) -> Result<Option<Written>, ListenError> {
        let samples = self.samples(of);
        let Some(judge) = &mut self.judge else { return Ok(None) };
        judge.write(&samples, phrase).or_else(|error| {
            judge.look()?;
            warn!("the second listener wrote nothing: {error}");
            Ok(Some(Written { text: String::new(), ahead: f32::MAX }))
        })
    }

    /// A part of the sound as the second listener takes it.
    fn samples(&self, of: Range<usize>) -> Vec<f32> {
        let of = of.start.min(self.sound.len())..of.end.min(self.sound.len());
        self.sound[of].iter().map(|&sample| f32::from(sample) / 32_768.0).collect()
    }

    /// Back to silence. What was said must not be heard again as the beginning of the next utterance.
    fn clear(&mut self) {
        self.sound.clear();
        self.words.clear();
        self.ahead = None;
        self.fed = 0;
    }
}

/// Are these words the first of a text, or none yet?
pub(super) fn begins(text: &str, words: &str) -> bool {
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
