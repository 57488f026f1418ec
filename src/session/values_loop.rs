//! The loop of a session about values and no job: typed lines or sound in, voice out, Ctrl-C.
//!
//! With a microphone voice and user take turns: what it brings while the program speaks is thrown away, so that no name in an
//! answer asks anew. Hearing has a thread of its own, so Ctrl-C is heard whatever it waits for. What is kept is on disk before it is
//! said to be, so nothing has to be put away at the end.

use super::interrupts::Interrupts;
use super::keyboard::{Keyboard, Typed};
use super::lines::Line;
use super::no_job::NoJob;
use super::values_thread::{Told, ValuesThread, Work};
use super::{Delivery, Order, SessionError, Source, Turn, VoiceThread, now};
use crate::dialogue::Notice;
use crate::listen::{Listener, Utterance};
use std::time::{Duration, Instant};

/// How often a live source is asked for new sound.
const TICK: Duration = Duration::from_millis(20);
/// How often a recording is.
const RECORDED_TICK: Duration = Duration::from_millis(1);
/// So long after its last sample the voice is still in the air.
const IN_THE_AIR: Duration = Duration::from_millis(250);

/// What questions come by.
pub enum Question {
    /// Lines from standard input.
    Typed,
    /// Sound.
    Sound(Box<Listener>, Box<dyn Source>),
}

/// Where the session is shown.
pub trait Counter {
    /// Something was heard, understood or not.
    fn heard(&mut self, said: &Utterance);
    /// What is said.
    fn turn(&mut self, turn: &Turn);
    /// Something about the sound.
    fn notice(&mut self, text: &str);
}

/// Talks until the user ends it, or the input does.
pub fn look_up(
    mut talk: Box<dyn NoJob>,
    input: Question,
    voice: Option<&VoiceThread>,
    counter: &mut dyn Counter,
) -> Result<(), SessionError> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(SessionError::Setup)?;
    let ended = runtime.block_on(async {
        let mut end = Interrupts::listen().map_err(SessionError::Setup)?;
        let mut run = Loop { voice, counter, spoke: None };
        let (first, delivery) = (talk.begin(), talk.delivery());
        run.show(&first, delivery);
        match input {
            Question::Typed => run.typed(talk, &mut end).await?,
            Question::Sound(listener, source) => run.sound(talk, *listener, source, &mut end).await?,
        }
        end.over();
        while let Some(voice) = run.voice.filter(|voice| voice.is_speaking() && !voice.is_hurried()) {
            tokio::select! {
                () = end.next() => voice.hurry(),
                () = tokio::time::sleep(TICK) => {}
            }
        }
        Ok(())
    });
    // A read of standard input that still waits must not hold the end up.
    runtime.shutdown_background();
    ended
}

struct Loop<'a> {
    voice: Option<&'a VoiceThread>,
    counter: &'a mut dyn Counter,
    /// When the program spoke last, if what it said may still be in the air.
    spoke: Option<Instant>,
}

impl Loop<'_> {
    async fn typed(&mut self, mut talk: Box<dyn NoJob>, end: &mut Interrupts) -> Result<(), SessionError> {
        let mut keyboard = Keyboard::open(Vec::new());
        loop {
            let typed = tokio::select! {
                typed = keyboard.next() => typed.map_err(SessionError::Input)?,
                () = end.next() => None,
            };
            let turn = match typed {
                None => return Ok(()),
                Some(Typed::Line(Line::Text(line))) if line.trim().is_empty() => continue,
                Some(Typed::Line(Line::Text(line))) => talk.read(&line, now()),
                Some(Typed::Line(Line::Unreadable)) => talk.told(Notice::LineUnreadable),
                Some(Typed::Away) => talk.told(Notice::KeyboardAway),
                // None has a meaning here.
                Some(Typed::Key(_)) => continue,
            };
            if self.show(&turn, talk.delivery()) {
                return Ok(());
            }
        }
    }

    async fn sound(
        &mut self,
        talk: Box<dyn NoJob>,
        listener: Listener,
        source: Box<dyn Source>,
        end: &mut Interrupts,
    ) -> Result<(), SessionError> {
        let live = source.is_live();
        let ear = ValuesThread::start(talk, listener, live && self.voice.is_some()).map_err(SessionError::Setup)?;
        let mut hearing = Hearing { ear, source, live, waits: false, ending: false };
        let ended = self.hear(&mut hearing, end).await;
        hearing.ear.end();
        ended
    }

    async fn hear(&mut self, hearing: &mut Hearing, end: &mut Interrupts) -> Result<(), SessionError> {
        let mut tick = tokio::time::interval(if hearing.live { TICK } else { RECORDED_TICK });
        tick.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Skip);
        loop {
            let over = tokio::select! {
                biased;
                () = end.next() => {
                    if let Some(voice) = self.voice {
                        voice.hurry();
                    }
                    true
                }
                told = hearing.ear.next() => self.told(told, hearing)?,
                _ = tick.tick(), if !hearing.waits && !hearing.ending => self.listen(hearing)?,
            };
            if over {
                return Ok(());
            }
        }
    }

    /// Takes what sound there is; says whether the session is over.
    fn listen(&mut self, hearing: &mut Hearing) -> Result<bool, SessionError> {
        if self.voice.is_some_and(VoiceThread::has_failed) {
            // Whoever started it tells why.
            return Ok(true);
        }
        let troubles = self.voice.iter().flat_map(|voice| voice.troubles()).chain(hearing.source.troubles());
        for reason in troubles.filter_map(|trouble| trouble.reason).collect::<Vec<_>>() {
            self.counter.notice(&reason);
        }
        if self.voice.is_some_and(VoiceThread::is_speaking) {
            self.spoke = Some(Instant::now());
            // Recorded sound waits until all is said, as its speaker did.
            if !hearing.live {
                return Ok(false);
            }
        }
        let Some(piece) = hearing.source.read()? else {
            hearing.ending = true;
            hearing.ear.ask(Work::Finish);
            return Ok(false);
        };
        if hearing.live
            && let Some(spoke) = self.spoke
        {
            if spoke.elapsed() <= IN_THE_AIR {
                return Ok(false);
            }
            self.spoke = None;
            hearing.ear.ask(Work::Reset);
        }
        if !piece.is_empty() {
            hearing.waits = !hearing.live;
            hearing.ear.ask(Work::Hear(piece, hearing.source.gap()));
        }
        Ok(false)
    }

    /// Takes what hearing tells; says whether the session is over.
    fn told(&mut self, told: Told, hearing: &mut Hearing) -> Result<bool, SessionError> {
        match told {
            Told::Heard(said) => self.counter.heard(&said),
            Told::Say(turn, delivery) => return Ok(self.show(&turn, delivery)),
            Told::Trouble(reason) => self.counter.notice(&reason),
            Told::Done => hearing.waits = false,
            Told::Over => return Ok(true),
            Told::Failed(error) => return Err(error.into()),
        }
        Ok(false)
    }

    fn show(&mut self, turn: &Turn, delivery: Delivery) -> bool {
        self.counter.turn(turn);
        if let Some(voice) = self.voice {
            if turn.hush {
                voice.hush();
            }
            if turn.tone.is_some() || !turn.sentences.is_empty() {
                self.spoke = Some(Instant::now());
                voice.say(Order { tone: turn.tone, sentences: turn.sentences.clone(), delivery, ..Order::default() });
            }
        }
        turn.over
    }
}

/// Sound on its way from its source.
struct Hearing {
    ear: ValuesThread,
    source: Box<dyn Source>,
    live: bool,
    /// The last piece of a recording is not worked through yet.
    waits: bool,
    /// There is no more sound.
    ending: bool,
}
