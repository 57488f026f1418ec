//! The loop that runs a lesson for a person: sound in, voice out, Ctrl-C.
//!
//! The voice and the user take turns: what the microphone brings while the program speaks is thrown away, so nothing of it is
//! ever learnt. What was learnt is handed out to be kept every few takes, and at the end however it comes.

use super::interrupts::Interrupts;
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
) -> Result<Learning, LessonError> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(SessionError::Setup)?;
    let first = lesson.begin();
    let live = source.is_live();
    let mut run = Loop {
        lesson: &mut lesson,
        listener,
        source,
        voice,
        delivery,
        desk,
        unsaved: 0,
        quiet: Instant::now(),
        spoke: None,
        reminded: 0,
    };
    let ended = runtime.block_on(async {
        let mut end = Interrupts::listen().map_err(SessionError::Setup)?;
        run.listener.listen_for(&run.lesson.phrases()).map_err(SessionError::Listen)?;
        if run.show(&first) {
            return Ok(());
        }
        let mut tick = tokio::time::interval(if live { TICK } else { Duration::from_micros(1) });
        tick.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Skip);
        loop {
            let over = tokio::select! {
                biased;
                () = end.next() => {
                    let turn = run.lesson.stop();
                    if let Some(voice) = run.voice {
                        voice.hush();
                    }
                    run.show(&turn)
                }
                _ = tick.tick() => run.listen()?,
            };
            if over {
                break;
            }
        }
        while run.voice.is_some_and(VoiceThread::is_speaking) {
            tokio::select! {
                () = end.next() => break,
                () = tokio::time::sleep(TICK) => {}
            }
        }
        Ok(())
    });
    // Whatever went wrong, what was learnt is kept.
    let kept = run.keep();
    ended.and(kept).map(|()| lesson)
}

struct Loop<'a> {
    lesson: &'a mut Learning,
    listener: Listener,
    source: Box<dyn Source>,
    voice: Option<&'a VoiceThread>,
    delivery: Delivery,
    desk: &'a mut dyn Desk,
    unsaved: usize,
    /// Since when nobody speaks.
    quiet: Instant,
    /// When the program spoke last, if what it said may still be in the air.
    spoke: Option<Instant>,
    reminded: u32,
}

impl Loop<'_> {
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
        let Some(piece) = self.source.read().map_err(SessionError::Listen)? else { return self.end_of_sound() };
        if live && let Some(spoke) = self.spoke {
            if spoke.elapsed() <= IN_THE_AIR {
                return Ok(false);
            }
            self.spoke = None;
            self.quiet = Instant::now();
            self.listener.reset().map_err(SessionError::Listen)?;
        }
        let mut said = self.listener.push(&piece).map_err(SessionError::Listen)?;
        while let Some(utterance) = said {
            if self.answer(&utterance)? {
                return Ok(true);
            }
            said = self.listener.push(&[]).map_err(SessionError::Listen)?;
        }
        if self.listener.speaking() {
            self.quiet = Instant::now();
        }
        if live && self.quiet.elapsed() > PATIENCE {
            self.reminded += 1;
            self.quiet = Instant::now();
            let turn = if self.reminded > REMINDERS { self.lesson.stop() } else { self.lesson.remind() };
            return Ok(self.show(&turn));
        }
        Ok(false)
    }

    /// The recording has ended, perhaps in the middle of a phrase.
    fn end_of_sound(&mut self) -> Result<bool, LessonError> {
        while let Some(said) = self.listener.finish().map_err(SessionError::Listen)? {
            if self.answer(&said)? {
                return Ok(true);
            }
        }
        let turn = self.lesson.stop();
        Ok(self.show(&turn))
    }

    fn answer(&mut self, said: &Utterance) -> Result<bool, LessonError> {
        self.desk.heard(said);
        let kept = self.listener.take_kept();
        let before = self.lesson.progress().0;
        let turn =
            self.lesson.hear(said, kept.as_ref(), &mut self.listener, now().0 / 1_000).map_err(SessionError::Listen)?;
        self.reminded = 0;
        self.quiet = Instant::now();
        self.unsaved += self.lesson.progress().0.saturating_sub(before);
        if self.unsaved >= UNSAVED {
            self.keep()?;
        }
        Ok(self.show(&turn))
    }

    fn keep(&mut self) -> Result<(), LessonError> {
        if self.lesson.profile().phrases().next().is_some() {
            self.desk.keep(self.lesson.profile())?;
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
            voice.say(Order { tone: turn.tone, sentences: turn.sentences.clone(), delivery: self.delivery });
        }
        turn.over
    }
}
