//! The loop that answers questions for values: typed lines or sound in, voice out, Ctrl-C.
//!
//! With a microphone voice and user take turns: what it brings while the program speaks is thrown away, so that no name in an
//! answer asks anew. Nothing is kept, so nothing has to be put away at the end.

use super::ear::listen_for;
use super::interrupts::Interrupts;
use super::{Order, SessionError, Source, Turn, ValuesTalk, VoiceThread, now};
use crate::job::At;
use crate::listen::{Listener, Utterance};
use std::collections::HashSet;
use std::time::{Duration, Instant};
use tokio::io::{AsyncBufReadExt, BufReader};

/// How often a live source is asked for new sound.
const TICK: Duration = Duration::from_millis(20);
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

/// Answers questions for values until the user ends it, or the input does.
pub fn look_up(
    talk: ValuesTalk,
    input: Question,
    voice: Option<&VoiceThread>,
    counter: &mut dyn Counter,
) -> Result<(), SessionError> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(SessionError::Setup)?;
    let ended = runtime.block_on(async {
        let mut end = Interrupts::listen().map_err(SessionError::Setup)?;
        let mut run = Loop { talk, voice, counter, known: None, unknown: HashSet::new(), spoke: None };
        let first = run.talk.begin();
        run.show(&first);
        match input {
            Question::Typed => run.typed(&mut end).await?,
            Question::Sound(listener, source) => run.sound(*listener, source, &mut end).await?,
        }
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
    talk: ValuesTalk,
    voice: Option<&'a VoiceThread>,
    counter: &'a mut dyn Counter,
    /// What the phrases in force were made for.
    known: Option<(bool, (Vec<usize>, bool))>,
    /// Words that the model lacks.
    unknown: HashSet<String>,
    /// When the program spoke last, if what it said may still be in the air.
    spoke: Option<Instant>,
}

impl Loop<'_> {
    async fn typed(&mut self, end: &mut Interrupts) -> Result<(), SessionError> {
        let mut lines = BufReader::new(tokio::io::stdin()).lines();
        loop {
            let line = tokio::select! {
                line = lines.next_line() => line.map_err(SessionError::Input)?,
                () = end.next() => None,
            };
            let Some(line) = line else { return Ok(()) };
            if line.trim().is_empty() {
                continue;
            }
            let turn = self.talk.read(&line, now());
            if self.show(&turn) {
                return Ok(());
            }
        }
    }

    async fn sound(
        &mut self,
        mut listener: Listener,
        mut source: Box<dyn Source>,
        end: &mut Interrupts,
    ) -> Result<(), SessionError> {
        let mut tick = tokio::time::interval(if source.is_live() { TICK } else { Duration::from_micros(1) });
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
                _ = tick.tick() => self.listen(&mut listener, source.as_mut())?,
            };
            if over {
                return Ok(());
            }
        }
    }

    /// Takes what sound there is; says whether the session is over.
    fn listen(&mut self, listener: &mut Listener, source: &mut dyn Source) -> Result<bool, SessionError> {
        if self.voice.is_some_and(VoiceThread::has_failed) {
            // Whoever started it tells why.
            return Ok(true);
        }
        let troubles = self.voice.iter().flat_map(|voice| voice.troubles()).chain(source.troubles());
        for reason in troubles.filter_map(|trouble| trouble.reason).collect::<Vec<_>>() {
            self.counter.notice(&reason);
        }
        let live = source.is_live();
        if self.voice.is_some_and(VoiceThread::is_speaking) {
            self.spoke = Some(Instant::now());
            // Recorded sound waits until all is said, as its speaker did.
            if !live {
                return Ok(false);
            }
        }
        self.attune(listener)?;
        let Some(piece) = source.read()? else {
            while let Some(said) = listener.finish()? {
                if self.answer(&said) {
                    return Ok(true);
                }
            }
            return Ok(true);
        };
        if live && let Some(spoke) = self.spoke {
            if spoke.elapsed() <= IN_THE_AIR {
                return Ok(false);
            }
            self.spoke = None;
            listener.reset()?;
        }
        let mut said = listener.push(&piece)?;
        while let Some(utterance) = said {
            if self.answer(&utterance) {
                return Ok(true);
            }
            self.attune(listener)?;
            said = listener.push(&[])?;
        }
        Ok(false)
    }

    fn attune(&mut self, listener: &mut Listener) -> Result<(), SessionError> {
        let known = self.talk.expects();
        if self.known.as_ref() != Some(&known) {
            listen_for(listener, self.talk.phrases(), &mut self.unknown)?;
            listener.also_for(Some(self.talk.readings()));
            self.known = Some(known);
        }
        Ok(())
    }

    fn answer(&mut self, said: &Utterance) -> bool {
        self.counter.heard(said);
        let at: At = now();
        let turn = self.talk.hear(said, at);
        self.show(&turn)
    }

    fn show(&mut self, turn: &Turn) -> bool {
        self.counter.turn(turn);
        if let Some(voice) = self.voice {
            if turn.hush {
                voice.hush();
            }
            if turn.tone.is_some() || !turn.sentences.is_empty() {
                self.spoke = Some(Instant::now());
                let delivery = self.talk.delivery();
                voice.say(Order { tone: turn.tone, sentences: turn.sentences.clone(), delivery });
            }
        }
        turn.over
    }
}
