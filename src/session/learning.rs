//! A lesson in which the user's voice is learnt: phrases said after the program, checked, kept or asked for again.
//!
//! Has no clock and no sound of its own: it is handed what was heard, with its sound, and gives what is to be said. Knows the
//! language and the profile that grows. The user goes on, leaves a phrase out or stops by voice, with the phrases of a job, unless
//! that phrase is the one to be learnt just then.

use super::Turn;
use crate::dialogue::{Flaw, Grammar, Language, LessonSay, Meaning, Sentence, Talk};
use crate::job::Command;
use crate::listen::{Kept, ListenError, Listener, Phrase, Utterance};
use crate::own_voice::{self, Fault, Frames, Lesson, Matcher, Origin, Outcome, Profile, Recording, Take, check};

/// It is told how far the lesson is whenever so many are done.
const TOLD: usize = 20;
/// The second listener must find what was to be said at least so much likelier than in noise, if the first has no words for it.
const LIKELIER: f32 = 0.0;

/// A lesson.
pub struct Learning {
    language: Language,
    grammar: Grammar,
    lesson: Lesson,
    profile: Profile,
    matcher: Matcher,
    /// What is said after what comes next.
    last: Vec<Sentence>,
    over: bool,
}

/// What the user does to the lesson itself.
enum Steering {
    Again,
    Leave,
    Stop,
}

impl Learning {
    /// A lesson that goes on with this profile, until it has so many takes of each phrase. `grammar` is all that may be said in
    /// a job.
    pub fn new(language: Language, grammar: Grammar, profile: Profile, takes: usize) -> Learning {
        let lesson = Lesson::new(&language.to_learn(), takes, |phrase| {
            profile.takes(phrase).iter().filter(|take| take.origin == Origin::Learning).count()
        });
        let matcher = Matcher::new(&profile);
        Learning { language, grammar, lesson, profile, matcher, last: Vec::new(), over: false }
    }

    /// What its listener is to listen for.
    pub fn phrases(&self) -> Vec<Phrase> {
        super::phrases(&self.grammar)
    }

    /// What has been learnt so far.
    pub fn profile(&self) -> &Profile {
        &self.profile
    }

    /// How many takes there are, or were given up, and how many are wanted.
    pub fn progress(&self) -> (usize, usize) {
        self.lesson.progress()
    }

    /// The first words.
    pub fn begin(&mut self) -> Turn {
        let (done, of) = self.lesson.progress();
        let begins = self.language.lesson(LessonSay::Begins { count: of - done });
        match self.lesson.now() {
            Some(_) => self.go_on(vec![begins]),
            None => self.end(Vec::new()),
        }
    }

    /// Nobody has answered: what is to be said, once more.
    pub fn remind(&self) -> Turn {
        Turn { sentences: self.last.clone(), ..Turn::default() }
    }

    /// It is broken off.
    pub fn stop(&mut self) -> Turn {
        self.over = true;
        self.stopped()
    }

    /// What is said when it is broken off here.
    pub fn stopped(&self) -> Turn {
        let (done, of) = self.lesson.progress();
        let sentences = vec![self.language.lesson(LessonSay::Paused { left: of - done })];
        Turn { sentences, over: true, ..Turn::default() }
    }

    /// Something was said, and this is its sound; `learnt`: the moment, in seconds since 1970.
    pub fn hear(
        &mut self,
        said: &Utterance,
        kept: Option<&Kept>,
        listener: &mut Listener,
        learnt: i64,
    ) -> Result<Turn, ListenError> {
        let Some(phrase) = self.lesson.now().map(str::to_owned) else { return Ok(self.end(Vec::new())) };
        match self.steering(said, &phrase) {
            Some(Steering::Again) => return Ok(self.remind()),
            Some(Steering::Leave) => {
                self.lesson.leave();
                let left = self.language.lesson(LessonSay::LeftOut(&phrase));
                return Ok(self.go_on(vec![left]));
            }
            Some(Steering::Stop) => return Ok(self.stop()),
            None => {}
        }
        let Some(kept) = kept else { return Ok(Turn::default()) };
        let rows = rows(listener, kept)?;
        let take = Recording {
            phrase: &phrase,
            sound: &kept.sound,
            voice: (kept.voice.start, kept.voice.end),
            frames: rows.first(),
        };
        let faults = match rows.is_empty() {
            true => vec![Fault::Short],
            false => check(&take, &self.matcher),
        };
        let unheard = faults.is_empty() && self.is_something_else(said, &phrase);
        let told = if unheard { vec![Fault::Unlike] } else { faults };
        match self.lesson.took(&told) {
            Outcome::Kept => {
                self.profile.learn(&phrase, Take { learnt, origin: Origin::Learning, copies: rows });
                self.matcher = Matcher::new(&self.profile);
                let (done, of) = self.lesson.progress();
                let progress = (done.is_multiple_of(TOLD) && done < of)
                    .then(|| self.language.lesson(LessonSay::Progress { done, of }));
                Ok(self.go_on(progress.into_iter().collect()))
            }
            Outcome::Again => {
                let flaw = if unheard { Flaw::NotHeard } else { told.first().map_or(Flaw::NotHeard, flaw) };
                self.last = vec![self.language.lesson(LessonSay::Again(&phrase, flaw))];
                Ok(self.remind())
            }
            Outcome::LeftOut => {
                let why = match told.first() {
                    Some(Fault::Like { other }) => LessonSay::Alike(&phrase, other),
                    _ => LessonSay::LeftOut(&phrase),
                };
                let why = self.language.lesson(why);
                Ok(self.go_on(vec![why]))
            }
        }
    }

    /// Is it about the lesson itself?
    fn steering(&self, said: &Utterance, phrase: &str) -> Option<Steering> {
        let meaning = self.grammar.lookup(said.phrase.as_deref()?)?;
        if self.grammar.lookup(phrase) == Some(meaning) {
            return None;
        }
        match meaning {
            Meaning::Talk(Talk::Repeat) => Some(Steering::Again),
            Meaning::Command(Command::Skip) => Some(Steering::Leave),
            Meaning::Command(Command::TakeBreak) => Some(Steering::Stop),
            _ => None,
        }
    }

    /// Was something else said than what was asked for, or nothing at all? A knock must not be learnt as a phrase.
    fn is_something_else(&self, said: &Utterance, phrase: &str) -> bool {
        if let Some(heard) = &said.phrase {
            return heard != phrase;
        }
        // A whole other phrase that is no command just then, or one that was nearly heard.
        let other =
            |text: &str| text != phrase && text.contains(' ') && self.grammar.iter().any(|(known, _)| known == text);
        if other(&said.heard.text) || said.nearly.as_deref().is_some_and(|nearly| nearly != phrase) {
            return true;
        }
        let nothing = said.heard.text.is_empty();
        let unlikely = said.judgement.as_ref().is_none_or(|judgement| judgement.over_noise < LIKELIER);
        nothing && unlikely
    }

    /// What there is to tell, and the next phrase.
    fn go_on(&mut self, mut sentences: Vec<Sentence>) -> Turn {
        let Some(phrase) = self.lesson.now() else { return self.end(sentences) };
        let say = self.language.lesson(LessonSay::Say(phrase));
        self.last = vec![say.clone()];
        sentences.push(say);
        Turn { sentences, ..Turn::default() }
    }

    fn end(&mut self, mut sentences: Vec<Sentence>) -> Turn {
        self.over = true;
        let count = self.profile.phrases().count();
        sentences.push(self.language.lesson(LessonSay::Over { count }));
        Turn { sentences, over: true, ..Turn::default() }
    }
}

/// The rows of an utterance and of its copies in noise.
pub(super) fn rows(listener: &mut Listener, kept: &Kept) -> Result<Vec<Frames>, ListenError> {
    own_voice::rows(&kept.sound, kept.voice.clone(), |copy| listener.encode(copy))
}

/// A take from a recording of one phrase, unchecked; nothing if there is no voice in it. The listener must
/// [keep](Listener::keeping) its sound and listen for something.
pub fn take_of(listener: &mut Listener, samples: &[i16], learnt: i64) -> Result<Option<Take>, ListenError> {
    listener.reset()?;
    let mut said = listener.push(samples)?;
    while said.is_some() {
        said = listener.push(&[])?;
    }
    listener.finish()?;
    let Some(kept) = listener.take_kept() else { return Ok(None) };
    let copies = rows(listener, &kept)?;
    Ok((!copies.is_empty()).then_some(Take { learnt, origin: Origin::Learning, copies }))
}

fn flaw(fault: &Fault) -> Flaw {
    match fault {
        Fault::Faint => Flaw::Faint,
        Fault::Clipped => Flaw::Clipped,
        Fault::Cut => Flaw::Cut,
        Fault::Noisy => Flaw::Noisy,
        Fault::Short => Flaw::Short,
        Fault::Long => Flaw::Long,
        Fault::Unlike => Flaw::Unlike,
        Fault::Like { .. } => Flaw::Like,
    }
}
