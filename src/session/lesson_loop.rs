//! The loop that runs a lesson for a person: sound in, voice out, Ctrl-C.
//!
//! The voice and the user take turns: what the microphone brings while the program speaks is thrown away, so nothing of it is
//! ever learnt. What was learnt is handed out to be kept every few takes, and at the end however it comes.

use super::interrupts::Interrupts;
use super::lesson_thread::{LessonThread, SoFar, Told, Work};
use super::{Delivery, Learning, Order, SessionError, Source, Turn, VoiceThread, now};
use crate::listen::{Listener, Utterance};
use crate::own_voice::{Profile, ProfileError};
use std::time::{Duration, Instant};

/// How often a live source is asked for new sound.
const TICK: Duration = Duration::from_millis(20);
/// So long after its last sample the voice is still in the air.
const IN_THE_AIR: Duration = Duration::from_millis(250);
/// After so long without an answer what is to be said is said again, so many times; then the lesson ends for today.
const PATIENCE: Duration = Duration::from_secs(8);
const REMINDERS: u32 = 3;
/// So many takes at most are lost to a power cut.
const UNSAVED: usize = 10;
/// So long the last words of a lesson may take.
const LAST_WORDS: Duration = Duration::from_secs(60);

/// What a lesson shows, and where its takes are kept.
pub trait Desk {
    /// Something was heard.
    fn heard(&mut self, said: &Utterance);
    /// What is said.
    fn turn(&mut self, turn: &Turn);
    /// Something about the sound.
    fn notice(&mut self, text: &str);
    /// Keeps what was learnt.
    fn keep(&mut self, profile: &Profile) -> Result<(), ProfileError>;
}

/// Why a lesson ended early.
#[derive(Debug, thiserror::Error)]
pub enum LessonError {
    /// The sound failed.
    #[error(transparent)]
    Session(#[from] SessionError),
    /// The profile cannot be kept.
    #[error(transparent)]
    Profile(#[from] ProfileError),
}

/// Runs a lesson until all is learnt, the user stops it, or the sound ends. The listener must [keep](Listener::keeping) its
/// sound.
pub fn learn(
    mut lesson: Learning,
    listener: Listener,
    source: Box<dyn Source>,
    voice: Option<&VoiceThread>,
    delivery: Delivery,
    desk: &mut dyn Desk,
) -> Result<SoFar, LessonError> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(SessionError::Setup)?;
    let mut end = Interrupts::listen().map_err(SessionError::Setup)?;
    let (first, so_far) = (lesson.begin(), Box::new(SoFar::of(&lesson)));
    let moment = || now().0 / 1_000;
    let ear = LessonThread::start(lesson, listener, source.is_live() && voice.is_some(), moment)
        .map_err(SessionError::Setup)?;
    let mut run = Loop {
        ear,
        source,
        voice,
        delivery,
        desk,
        so_far,
        unsaved: 0,
        quiet: Instant::now(),
        spoke: None,
        reminded: 0,
        waits: false,
        ending: false,
        interrupted: false,
    };
    let over = run.show(&first);
    let ended = if over { Ok(()) } else { runtime.block_on(run.run(&mut end)) };
    end.over();
    runtime.block_on(run.last_words(&mut end));
    if run.interrupted {
        run.desk.turn(&run.so_far.stopped);
    }
    // Whatever went wrong, what was learnt is kept.
    let kept = run.keep();
    run.ear.end();
    ended.and(kept).map(|()| *run.so_far)
}

struct Loop<'a> {
    ear: LessonThread,
    source: Box<dyn Source>,
    voice: Option<&'a VoiceThread>,
    delivery: Delivery,
    desk: &'a mut dyn Desk,
    so_far: Box<SoFar>,
    /// Takes that are not kept yet.
    unsaved: usize,
    /// Since when nobody speaks.
    quiet: Instant,
    /// When the program spoke last, if what it said may still be in the air.
    spoke: Option<Instant>,
    reminded: u32,
    /// The last piece of a recording is not worked through yet.
    waits: bool,
    /// There is no more sound.
    ending: bool,
    /// Somebody asked from outside for the end.
    interrupted: bool,
}

impl Loop<'_> {
    async fn run(&mut self, end: &mut Interrupts) -> Result<(), LessonError> {
        let live = self.source.is_live();
        let mut tick = tokio::time::interval(if live { TICK } else { Duration::from_millis(1) });
        tick.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Skip);
        loop {
            let over = tokio::select! {
                biased;
                () = end.next() => {
                    self.interrupted = true;
                    if let Some(voice) = self.voice {
                        voice.hurry();
                    }
                    true
                }
                told = self.ear.next() => self.told(told)?,
                _ = tick.tick(), if !self.waits && !self.ending => self.listen()?,
            };
            if over {
                return Ok(());
            }
        }
    }

    /// Takes what sound there is; says whether the lesson is over.
    fn listen(&mut self) -> Result<bool, LessonError> {
        if self.voice.is_some_and(VoiceThread::has_failed) {
            return Ok(true);
        }
        let troubles = self.voice.iter().flat_map(|voice| voice.troubles()).chain(self.source.troubles());
        for reason in troubles.filter_map(|trouble| trouble.reason).collect::<Vec<_>>() {
            self.desk.notice(&reason);
        }
        let live = self.source.is_live();
        let speaking = self.voice.is_some_and(VoiceThread::is_speaking);
        if speaking {
            self.spoke = Some(Instant::now());
            // Recorded sound waits until all is said, as its speaker did.
            if !live {
                return Ok(false);
            }
        }
        let Some(piece) = self.source.read().map_err(SessionError::Listen)? else {
            // The recording has ended, perhaps in the middle of a phrase.
            self.ending = true;
            self.ear.ask(Work::Finish);
            return Ok(false);
        };
        if live && let Some(spoke) = self.spoke {
            if spoke.elapsed() <= IN_THE_AIR {
                return Ok(false);
            }
            self.spoke = None;
            self.quiet = Instant::now();
            self.ear.ask(Work::Reset);
        }
        if !piece.is_empty() {
            self.waits = !live;
            self.ear.ask(Work::Hear(piece, self.source.gap()));
        }
        if self.ear.speaking() {
            self.quiet = Instant::now();
        }
        if live && self.quiet.elapsed() > PATIENCE {
            self.reminded += 1;
            self.quiet = Instant::now();
            self.ear.ask(if self.reminded > REMINDERS { Work::Stop } else { Work::Remind });
        }
        Ok(false)
    }

    /// Takes what the lesson tells; says whether it is over.
    fn told(&mut self, told: Told) -> Result<bool, LessonError> {
        match told {
            Told::Heard(said) => {
                self.desk.heard(&said);
                self.reminded = 0;
                self.quiet = Instant::now();
            }
            Told::Learnt(so_far) => {
                self.unsaved += so_far.progress.0.saturating_sub(self.so_far.progress.0);
                self.so_far = so_far;
                if self.unsaved >= UNSAVED {
                    self.keep()?;
                }
            }
            Told::Say(turn) => return Ok(self.show(&turn)),
            Told::Trouble(reason) => self.desk.notice(&reason),
            Told::Done => self.waits = false,
            Told::Failed(error) => return Err(SessionError::Listen(error).into()),
        }
        Ok(false)
    }

    fn keep(&mut self) -> Result<(), LessonError> {
        if self.so_far.profile.phrases().next().is_some() {
            self.desk.keep(&self.so_far.profile)?;
        }
        self.unsaved = 0;
        Ok(())
    }

    fn show(&mut self, turn: &Turn) -> bool {
        self.desk.turn(turn);
        if let Some(voice) = self.voice
            && !turn.sentences.is_empty()
        {
            self.spoke = Some(Instant::now());
            voice.say(Order {
                tone: turn.tone,
                sentences: turn.sentences.clone(),
                delivery: self.delivery,
                ..Order::default()
            });
        }
        turn.over
    }

    async fn last_words(&self, end: &mut Interrupts) {
        let Some(voice) = self.voice else { return };
        let patience = Instant::now() + LAST_WORDS;
        while voice.is_speaking() && !voice.is_hurried() {
            if Instant::now() > patience {
                voice.hurry();
            }
            tokio::select! {
                () = end.next() => voice.hurry(),
                () = tokio::time::sleep(TICK) => {}
            }
        }
    }
}
