//! The loop that runs a conversation for a person: sound or typed lines in, terminal and voice out, timers, Ctrl-C.

use super::announcing::Announcing;
use super::bay::Bay;
use super::overhear::Overhear;
use super::{Conversation, Delivery, Ear, Order, Source, Trouble, Turn, VoiceThread, clock, notes, now};
use crate::dialogue::Notice;
use crate::job::{At, Command, Job};
use crate::journal::JournalError;
use crate::listen::{Condition, Fault, ListenError, RATE, Speaking, Utterance};
use crate::speak::SpeakError;
use std::time::{Duration, Instant};
use tokio::io::{AsyncBufReadExt, BufReader, Lines, Stdin};
use tokio::signal::unix::{Signal, SignalKind, signal};

/// Why a session ended early. What was acknowledged before is on disk in every case.
#[derive(Debug, thiserror::Error)]
pub enum SessionError {
    /// The job could not be written.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// Hearing failed.
    #[error(transparent)]
    Listen(#[from] ListenError),
    /// Speaking failed.
    #[error(transparent)]
    Speak(#[from] SpeakError),
    /// Standard input failed.
    #[error("standard input: cannot be read: {0}")]
    Input(std::io::Error),
    /// The runtime could not be set up.
    #[error("the session cannot be set up: {0}")]
    Setup(std::io::Error),
}

/// What the session shows. Everything spoken is shown too.
pub trait Screen {
    /// Something was heard, understood or not.
    fn heard(&mut self, utterance: &Utterance);
    /// What follows from it, and the job after it.
    fn turn(&mut self, turn: &Turn, job: &Job);
    /// Something that happens from outside in a replay.
    fn happens(&mut self, _what: &str) {}
    /// Something about the session itself.
    fn notice(&mut self, text: &str);
}

/// What a session listens to.
pub enum Input {
    /// Lines from standard input.
    Typed,
    /// Sound. Typed lines are not read.
    Sound(Box<Ear>, Box<dyn Source>),
}

/// How often a live source is asked for new sound.
const TICK: Duration = Duration::from_millis(30);

/// How often the clock is looked after.
const SECOND: Duration = Duration::from_secs(1);

/// So long after its last sample the voice may still be in the air, or on its way through the microphone.
const IN_THE_AIR: Duration = Duration::from_millis(1_000);

/// A recording goes on at once after an answer, however long that took to say, so its own time tells whether its speaker had
/// heard one: a claim that begins less than so many samples behind the words before it repeats them.
const HEARD_RECORDED: u64 = 3 * RATE as u64;

/// Runs a conversation until the job is put down, closed, or the input ends. The first turn has been made by the
/// caller, who knows whether the job is new.
pub fn run(
    talk: &mut Conversation,
    first: &Turn,
    input: Input,
    voice: Option<&VoiceThread>,
    headset: bool,
    screen: &mut dyn Screen,
) -> Result<(), SessionError> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(SessionError::Setup)?;
    let ended = runtime.block_on(async {
        let mut end = Interrupts::listen().map_err(SessionError::Setup)?;
        let overhear = (!headset).then(Overhear::default);
        let mut session = Session {
            talk,
            voice,
            overhear,
            mute: false,
            said: String::new(),
            spoke: Instant::now(),
            clock: Instant::now(),
            announcing: Announcing::default(),
            heard: (0, now()),
            bay: Bay::default(),
            condition: Condition::default(),
            screen,
        };
        session.show(first);
        match input {
            Input::Typed => session.typed(&mut end).await?,
            Input::Sound(ear, source) => session.sound(*ear, source, &mut end).await?,
        }
        session.last_words(&mut end).await;
        Ok(())
    });
    // A read of standard input that still waits must not hold the end up.
    runtime.shutdown_background();
    ended
}

/// What asks from outside for the end: Ctrl-C, a polite kill, a terminal that closes. Listened to from the start to the
/// end of the session, so that none is lost while something else is being done.
pub(super) struct Interrupts([Signal; 3]);

impl Interrupts {
    pub(super) fn listen() -> std::io::Result<Interrupts> {
        let kinds = [SignalKind::interrupt(), SignalKind::terminate(), SignalKind::hangup()];
        let [a, b, c] = kinds.map(signal);
        Ok(Interrupts([a?, b?, c?]))
    }

    pub(super) async fn next(&mut self) {
        let [a, b, c] = &mut self.0;
        tokio::select! {
            _ = a.recv() => {}
            _ = b.recv() => {}
            _ = c.recv() => {}
        }
    }
}

struct Session<'a> {
    talk: &'a mut Conversation,
    voice: Option<&'a VoiceThread>,
    /// Takes the voice out of what the microphone hears, unless it never gets there.
    overhear: Option<Overhear>,
    /// The loudspeaker is lost.
    mute: bool,
    /// What the voice says, or has just said.
    said: String,
    /// When it last spoke.
    spoke: Instant,
    /// When the clock was last looked after.
    clock: Instant,
    announcing: Announcing,
    /// A position in the sound, and when that was.
    heard: (u64, At),
    bay: Bay,
    condition: Condition,
    screen: &'a mut dyn Screen,
}

impl Session<'_> {
    async fn typed(&mut self, end: &mut Interrupts) -> Result<(), SessionError> {
        let mut lines: Lines<BufReader<Stdin>> = BufReader::new(tokio::io::stdin()).lines();
        let mut second = tokio::time::interval(SECOND);
        second.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Skip);
        loop {
            let over = tokio::select! {
                line = lines.next_line() => match line.map_err(SessionError::Input)? {
                    Some(line) if line.trim().is_empty() => false,
                    Some(line) => {
                        let turn = self.talk.read(&line, now())?;
                        self.show(&turn)
                    }
                    None => true,
                },
                over = self.timer() => over?,
                _ = second.tick() => {
                    self.look_after_clock();
                    false
                }
                () = end.next() => self.interrupted()?,
            };
            if over {
                return Ok(());
            }
        }
    }

    async fn sound(
        &mut self,
        mut ear: Ear,
        mut source: Box<dyn Source>,
        end: &mut Interrupts,
    ) -> Result<(), SessionError> {
        let mut tick = tokio::time::interval(if source.is_live() { TICK } else { Duration::from_micros(1) });
        tick.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Skip);
        self.heard = (ear.taken(), now());
        if !source.is_live() {
            self.talk.announced(self.heard.1);
        }
        loop {
            let over = tokio::select! {
                // Ctrl-C first, however busy the sound is.
                biased;
                () = end.next() => {
                    notes::end(self.talk, &mut ear, true, now())?;
                    self.interrupted()?
                }
                over = self.timer() => over?,
                _ = tick.tick() => self.listen(&mut ear, source.as_mut()).await?,
            };
            if over {
                return Ok(());
            }
        }
    }

    /// Takes what sound there is; says whether the session is over.
    async fn listen(&mut self, ear: &mut Ear, source: &mut dyn Source) -> Result<bool, SessionError> {
        if self.voice.is_some_and(VoiceThread::has_failed) {
            // Whoever started it tells why.
            return Ok(true);
        }
        let troubles: Vec<Trouble> = self.voice.iter().flat_map(|v| v.troubles()).chain(source.troubles()).collect();
        for trouble in troubles {
            self.trouble(trouble);
        }
        self.look_after_clock();
        let speaking = self.voice.is_some_and(VoiceThread::is_speaking);
        if speaking && !source.is_live() {
            // Recorded sound waits until the answer is said, as its speaker did.
            return Ok(false);
        }
        if speaking {
            self.spoke = Instant::now();
        } else if self.spoke.elapsed() > IN_THE_AIR {
            self.said.clear();
        }
        if source.is_live() {
            self.look_for_the_end(speaking);
        }
        let said = if source.is_live() { self.said.as_str() } else { "" };
        ear.attune(self.talk, said)?;
        let Some(mut piece) = source.read()? else { return Ok(true) };
        let read = now();
        if source.is_live() {
            let now = match (speaking || self.spoke.elapsed() <= IN_THE_AIR, ear.speaking()) {
                (true, _) => Speaking::Program,
                (_, true) => Speaking::User,
                _ => Speaking::Nobody,
            };
            if let Some(fault) = self.condition.hear(&piece, now) {
                self.trouble(Trouble::seen(told(fault)));
            }
        }
        if let (Some(overhear), Some(voice), true) = (&mut self.overhear, self.voice, source.is_live()) {
            piece = overhear.clean(&piece, &voice.played(), ear.speaking())?;
        }
        let mut utterance = ear.push(&piece)?;
        if source.is_live() && !piece.is_empty() {
            self.heard = (ear.taken(), read);
        }
        for trouble in ear.troubles() {
            self.trouble(trouble);
        }
        if speaking || ear.speaking() || utterance.is_some() || !source.is_live() {
            self.bay.interrupted();
        } else if self.spoke.elapsed() > IN_THE_AIR {
            self.bay.hear(&piece);
        }
        if let Some(voice) = self.voice {
            voice.behind(speaking && ear.speaking());
        }
        while let Some(said) = utterance {
            self.screen.heard(&said);
            let turn = notes::hear(self.talk, ear, &said, self.moment(said.began), now())?;
            if self.show(&turn) {
                return Ok(true);
            }
            if turn.announces && !source.is_live() {
                self.talk.announced(self.moment(said.ended + HEARD_RECORDED));
            }
            ear.attune(self.talk, if source.is_live() { &self.said } else { "" })?;
            utterance = ear.push(&[])?;
        }
        match notes::end(self.talk, ear, false, now())? {
            Some(turn) => Ok(self.show(&turn)),
            None => Ok(false),
        }
    }

    /// When a sample of the sound was.
    fn moment(&self, position: u64) -> At {
        let (known, at) = self.heard;
        let samples =
            i64::try_from(position).unwrap_or(i64::MAX).saturating_sub(i64::try_from(known).unwrap_or(i64::MAX));
        At(at.0.saturating_add(samples.saturating_mul(1_000) / i64::from(RATE)))
    }

    /// Tells the conversation once what was put to the user has been said to its end.
    fn look_for_the_end(&mut self, speaking: bool) {
        let ended = self.voice.map(VoiceThread::ended).unwrap_or_default();
        let silent = self.mute || !speaking || !self.voice.is_some_and(VoiceThread::is_there);
        let Some(end) = self.announcing.ended(&ended, silent, Instant::now()) else { return };
        let ms = |time: Duration| i64::try_from(time.as_millis()).unwrap_or(i64::MAX);
        let past = ms(end.elapsed()).saturating_sub(ms(end.saturating_duration_since(Instant::now())));
        self.talk.announced(At(now().0.saturating_sub(past)));
    }

    /// Tells a trouble of the sound, or its end. A lost loudspeaker says last what the user has to answer to, once it is
    /// back, so nothing is put before that.
    fn trouble(&mut self, trouble: Trouble) {
        if let Some(reason) = &trouble.reason {
            self.screen.notice(reason);
        }
        let Some(notice) = trouble.notice else { return };
        let turn = Turn { sentences: vec![self.talk.language().notice(notice)], ..Turn::default() };
        match notice {
            Notice::LoudspeakerLost | Notice::LoudspeakerBack => {
                self.mute = notice == Notice::LoudspeakerLost;
                self.screen.turn(&turn, self.talk.job());
            }
            _ if self.mute => self.screen.turn(&turn, self.talk.job()),
            _ => {
                self.show(&turn);
            }
        }
    }

    /// Now and then: was the machine's clock set?
    fn look_after_clock(&mut self) {
        if self.clock.elapsed() < SECOND {
            return;
        }
        self.clock = Instant::now();
        if let Some(ahead) = clock::look() {
            let turn = self.talk.clock_set(ahead);
            self.show(&turn);
        }
    }

    /// Waits for the next timer of the job and tells that it is over.
    async fn timer(&mut self) -> Result<bool, SessionError> {
        let Some(left) = self.talk.job().until_due(now()) else { return std::future::pending().await };
        // One that is due does not wait for its turn: the sound may come so fast that it never got one.
        if let Ok(left @ 1..) = u64::try_from(left) {
            // The machine may sleep meanwhile, which this does not see.
            tokio::time::sleep(Duration::from_millis(left).min(SECOND)).await;
            if self.talk.job().until_due(now()).is_none_or(|left| left > 0) {
                return Ok(false);
            }
        }
        let turn = self.talk.time_up(now())?;
        Ok(self.show(&turn))
    }

    /// Lets the voice say its last words, unless somebody is in a hurry.
    async fn last_words(&self, end: &mut Interrupts) {
        let Some(voice) = self.voice else { return };
        while voice.is_speaking() {
            tokio::select! {
                () = end.next() => voice.hush(),
                () = tokio::time::sleep(TICK) => {}
            }
        }
    }

    /// Ctrl-C puts the job down, as "pause the job" does.
    fn interrupted(&mut self) -> Result<bool, SessionError> {
        if let Some(voice) = self.voice {
            voice.hush();
        }
        let turn = self.talk.command(Command::Pause, now())?;
        self.screen.turn(&turn, self.talk.job());
        Ok(true)
    }

    /// Shows and says a turn; says whether the session is over.
    fn show(&mut self, turn: &Turn) -> bool {
        self.screen.turn(turn, self.talk.job());
        let mut order = None;
        if turn.hush {
            self.announcing.drop();
        }
        if let Some(voice) = self.voice {
            if turn.hush {
                voice.hush();
            }
            let wanted = self.talk.delivery();
            let delivery = Delivery { gain: wanted.gain * self.bay.gain(), ..wanted };
            if self.overhear.is_some() {
                for sentence in &turn.sentences {
                    self.said.push_str(&sentence.spoken);
                    self.said.push(' ');
                }
            }
            if turn.tone.is_some() || !turn.sentences.is_empty() {
                self.spoke = Instant::now();
                order = Some(voice.say(Order { tone: turn.tone, sentences: turn.sentences.clone(), delivery }));
            }
            if !turn.over {
                voice.foresee(self.talk.foresee(now()), delivery.pace);
            }
        }
        if turn.announces {
            self.announcing.begin(&turn.sentences, order, Instant::now());
        }
        turn.over
    }
}

/// What to say about a fault of the sound.
fn told(fault: Fault) -> Notice {
    match fault {
        Fault::DeadSilence => Notice::MicrophoneSilent,
        Fault::Faint => Notice::MicrophoneFaint,
        Fault::Clipped => Notice::MicrophoneClipped,
        Fault::Hum => Notice::MicrophoneHum,
    }
}
