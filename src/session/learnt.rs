//! The learnt voice in a session: what the listener knows of it, and what it learns on the job.
//!
//! A phrase that was asked back and confirmed is how the user says it under the car: its sound becomes a take, if it is fit to
//! be one. What an undo follows is given up again. Knows the profile and where it is kept.

use super::Turn;
use super::learning::rows;
use crate::dialogue::Meaning;
use crate::job::{At, Command};
use crate::listen::{Kept, Listener, OwnRule, OwnVoice, Utterance};
use crate::own_voice::{Matcher, Origin, Profile, Recording, Take, check};
use std::path::PathBuf;
use std::sync::Arc;

/// A learnt voice that goes on learning.
pub struct LearntVoice {
    profile: Profile,
    matcher: Arc<Matcher>,
    rule: OwnRule,
    /// Its file; none in a trial.
    path: Option<PathBuf>,
    /// What was asked back, with its sound.
    asked: Option<(String, Kept)>,
    /// The take that the last confirmed command gave, which an undo gives up.
    last: Option<(String, i64)>,
}

impl LearntVoice {
    /// A profile, kept in a file; without one nothing is kept of what it learns.
    pub fn new(profile: Profile, rule: OwnRule, path: Option<PathBuf>) -> LearntVoice {
        let matcher = Arc::new(Matcher::new(&profile));
        LearntVoice { profile, matcher, rule, path, asked: None, last: None }
    }

    /// As a listener knows it.
    pub fn known(&self) -> (Arc<dyn OwnVoice>, OwnRule) {
        (self.matcher.clone(), self.rule)
    }

    /// All that was learnt.
    pub fn profile(&self) -> &Profile {
        &self.profile
    }

    /// Whose it is.
    pub fn name(&self) -> &str {
        self.profile.name()
    }

    /// Takes note of what became of an utterance; says whether something was learnt or given up, or why it could not be.
    pub fn learn(
        &mut self,
        listener: &mut Listener,
        said: &Utterance,
        kept: Option<Kept>,
        turn: &Turn,
        confirmed: Option<&str>,
        at: At,
    ) -> Result<bool, String> {
        // Given up at the word, whatever becomes of the undo: a take too few does no harm.
        if turn.meaning == Some(Meaning::Command(Command::Undo)) {
            self.asked = None;
            return match self.last.take() {
                Some((phrase, learnt)) => self.changed(|profile| profile.take_back(&phrase, learnt)).map(|()| true),
                None => Ok(false),
            };
        }
        if let Some(confirmed) = confirmed {
            self.last = None;
            let asked = self.asked.take().filter(|(phrase, _)| phrase == confirmed);
            return match asked {
                Some((phrase, kept)) => self.take(listener, phrase, &kept, at.0 / 1_000),
                None => Ok(false),
            };
        }
        if turn.recorded {
            self.last = None;
        }
        // A question that is said again, because its answer came too soon, is about the same sound.
        let asks_again = turn.meaning.is_some() && turn.announces && self.asked.is_some();
        if !asks_again {
            self.asked = said.nearly.clone().filter(|_| turn.announces).zip(kept);
        }
        Ok(false)
    }

    fn take(&mut self, listener: &mut Listener, phrase: String, kept: &Kept, learnt: i64) -> Result<bool, String> {
        let copies = rows(listener, kept).map_err(|e| e.to_string())?;
        let recording = Recording {
            phrase: &phrase,
            sound: &kept.sound,
            voice: (kept.voice.start, kept.voice.end),
            frames: copies.first(),
        };
        // Only what was learnt in a lesson is learnt on: a reading would stand as one take against numbers joined from words, and a
        // stranger's words would be compared with nothing.
        let learnt_before = self.profile.takes(&phrase).iter().any(|take| take.origin == Origin::Learning);
        if !learnt_before || copies.is_empty() || !check(&recording, &self.matcher).is_empty() {
            return Ok(false);
        }
        let take = Take { learnt, origin: Origin::Job, copies };
        self.changed(|profile| {
            profile.learn(&phrase, take);
        })?;
        self.last = Some((phrase, learnt));
        Ok(true)
    }

    fn changed(&mut self, change: impl FnOnce(&mut Profile)) -> Result<(), String> {
        change(&mut self.profile);
        self.matcher = Arc::new(Matcher::new(&self.profile));
        // A file that is gone was deleted by its owner, and stays so.
        let path = self.path.as_ref().filter(|path| path.exists());
        path.map_or(Ok(()), |path| self.profile.write(path)).map_err(|e| e.to_string())
    }
}
