//! The whole way from sound to utterances: voice activity, the recogniser, endpointing, the second listener, the
//! decision.
//!
//! Deterministic: it works through the sound in frames of its own, so that the same sound gives the same utterances
//! at the same positions whatever pieces it comes in. The only clock it reads measures how long it took to think.
//!
//! The second listener takes about as long as an end has to be waited for, so it is asked when the voice pauses. If the
//! rule believes a phrase then, the end comes sooner and its answer is there already; if not, it is asked again at the
//! end, with all of the sound.
//!
//! Here stands how sound comes in and where an utterance begins; `conclude` is its end, `broken_off` what has none, `second` what
//! the second listener and the user's own voice are asked.

mod broken_off;
mod conclude;
mod second;

pub(super) use second::begins;

use std::ops::Range;
use std::sync::Arc;
use std::time::{Duration, Instant};

use tracing::{debug, warn};

use super::activity::{Activity, Earshot, FRAME};
use super::background::Background;
use super::doubt::Denying;
use super::endpoint::{Endpointer, Step};
use super::phrases::PhraseBook;
use super::rest::Rest;
use super::{
    Encoding, Halt, Judge, Judgement, ListenError, Lost, Open, OwnRule, OwnVoice, Phrase, RATE, Recogniser, Rule,
    Utterance, phrases,
};

/// Sound kept from before the voice was noticed, and after it had ended: the engines need some room around words.
const ROOM: usize = RATE as usize * 4 / 10;
/// Sound beside words that stand out from others, which the second listener gets with them.
const BESIDE: usize = RATE as usize / 10;
/// Frames handed to the recogniser at a time.
const BLOCK: usize = 3 * FRAME;
/// How long a frame takes to be spoken.
const FRAME_TIME: Duration = Duration::from_micros(FRAME as u64 * 1_000_000 / RATE as u64);

/// What the second listener said in a pause.
struct InPause {
    /// One past the last sample of the voice before the pause.
    ended: u64,
    /// None if it failed.
    judgement: Option<Judgement>,
}

/// Listens for phrases in a stream of sound.
pub struct Listener {
    recogniser: Box<dyn Recogniser + Send>,
    judge: Option<Box<dyn Judge + Send>>,
    activity: Box<dyn Activity + Send>,
    denying: Denying,
    background: Background,
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
    ahead: Option<InPause>,
    /// How far the computing is behind sound that comes at its own pace.
    behind: Duration,
    /// The recogniser was started anew within the utterance that goes on.
    stumbled: bool,
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
    /// Whether words that are no phrase are awaited, and the sound of the last that may be such.
    awaits_words: bool,
    own_words: Option<Vec<i16>>,
}

/// The sound of an utterance.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// 16 kHz mono, -1 to 1, with what was before and after the voice.
    pub sound: Vec<f32>,
    /// Where the voice is in it.
    pub voice: Range<usize>,
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
            background: Background::default(),
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
            stumbled: false,
            troubles: Vec::new(),
            lost: Lost::default(),
            keeps: false,
            kept: None,
            wordless: false,
            rests: false,
            awaits_words: false,
            own_words: None,
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

    /// The rule that is decided by: that of whoever judges.
    pub fn rule(&self) -> Rule {
        self.judge.as_ref().map_or_else(Rule::by_decoder, |judge| judge.rule())
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

    /// Awaits words of the user's own from now on, or no longer so, beside the phrases: an utterance that is none of them is given
    /// whether or not words are found in it, with what the second listener writes of it, and its sound is
    /// [kept](Self::take_own_words).
    pub fn await_words(&mut self, awaits: bool) {
        self.awaits_words = awaits;
    }

    /// The sound of the last utterance, if it may be words of the user's own and was not taken yet.
    pub fn take_own_words(&mut self) -> Option<Vec<i16>> {
        self.own_words.take()
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

    /// Troubles since the last call that it went on after, each to be told once: something said was lost.
    pub fn troubles(&mut self) -> Vec<String> {
        std::mem::take(&mut self.troubles)
    }

    /// Why the second listener answers no more, told once; from then on the stricter rule for one decides.
    pub fn second_lost(&mut self) -> Option<String> {
        self.judge.as_mut().and_then(|judge| judge.lost())
    }

    /// What came to nothing since the last call, and why.
    pub fn lost(&mut self) -> Lost {
        std::mem::take(&mut self.lost)
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
        let of_the_room = self.background.frame(&mut frame, self.endpointer.speaking());
        self.sound.extend_from_slice(&frame);
        match self.endpointer.frame(if of_the_room { 0.0 } else { voice }) {
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
                    self.came_to_nothing();
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
                self.stumbled = true;
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

    /// One past the last sample of a voice that ended so many frames ago.
    fn ended(&self, silence: u32) -> u64 {
        self.position.saturating_sub(u64::from(silence) * FRAME as u64).max(self.began)
    }

    /// Back to silence. What was said must not be heard again as the beginning of the next utterance.
    fn clear(&mut self) {
        self.sound.clear();
        self.words.clear();
        self.ahead = None;
        self.fed = 0;
        self.stumbled = false;
    }
}
