//! The loop that runs a conversation for a person: sound or typed lines in, timers, Ctrl-C.
//!
//! It waits for all of them at once and for none of them alone. What takes long is done elsewhere: hearing on the ear's thread,
//! speaking on the voice's. What is told to the user, and how, is the host's.

use super::ear_thread::{EarThread, Heard, Piece, Told};
use super::host::{Host, IN_THE_AIR, TICK};
use super::interrupts::Interrupts;
use super::lines::Line;
use super::overhear::{Cleaner, Overhear};
use super::port::Said;
use super::screen::{Screen, SessionError};
use super::ways::{Came, Ways};
use super::{Ear, Source, Talker, Trouble, Turn, VoiceThread, notes, now};
use crate::dialogue::Notice;
use crate::listen::{Fault, RATE, Speaking};
use crate::parting::panic_words;
use crate::quantity::Quantity;
use rust_decimal::Decimal;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::Duration;
use tokio::time::MissedTickBehavior;

/// How the user works.
#[derive(Debug, Clone, Copy)]
pub struct Habits {
    /// The voice is heard in a headset, not by the microphone.
    pub headset: bool,
    /// How long a job that is put down is listened for to be taken up again, where there is a microphone; nothing: not at all.
    pub pause: Duration,
}

/// What a session listens to.
pub enum Input {
    /// What is typed, and nothing beside the other ways.
    Typed,
    /// Sound, and the other ways.
    Sound(Box<Ear>, Box<dyn Source>),
}

/// How often a recording is asked for more.
const RECORDED_TICK: Duration = Duration::from_millis(1);

/// How often a microphone is looked after while the job is put down.
const RESTING_TICK: Duration = Duration::from_millis(120);

/// How often the clock is looked after.
const SECOND: Duration = Duration::from_secs(1);

/// A recording goes on at once after an answer, however long that took to say, so its own time tells whether its speaker had
/// heard one: a claim that begins less than so many samples behind the words before it repeats them.
const HEARD_RECORDED: u64 = 3 * RATE as u64;

/// Runs a conversation until the job is put down, closed, or the input ends. The first turn has been made by the
/// caller, who knows whether the job is new. Whatever makes it impossible to go on is told before it is an error here.
pub fn run(
    talk: &mut dyn Talker,
    first: &Turn,
    input: Input,
    mut ways: Ways,
    voice: Option<&VoiceThread>,
    habits: Habits,
    screen: &mut dyn Screen,
) -> Result<(), SessionError> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(SessionError::Setup)?;
    let mut end = Interrupts::listen().map_err(SessionError::Setup)?;
    // Only now: whatever ends the program before leaves the terminal as it is.
    ways.begin().map_err(SessionError::Input)?;
    let mut host = Host::new(talk, voice, habits.headset, screen);
    let work = AssertUnwindSafe(|| {
        runtime.block_on(async {
            host.show(first);
            match input {
                Input::Typed => typed(&mut host, &mut ways, &mut end).await,
                Input::Sound(ear, source) => sound(&mut host, *ear, source, habits.pause, &mut ways, &mut end).await,
            }
        })
    });
    let ended = catch_unwind(work).unwrap_or_else(|panic| Err(SessionError::Fault(panic_words(&*panic))));
    end.over();
    if ended.is_err() {
        host.has_to_stop();
    }
    runtime.block_on(host.last_words(&mut end));
    // A read of standard input that still waits must not hold the end up.
    runtime.shutdown_background();
    ended
}

async fn typed(host: &mut Host<'_>, ways: &mut Ways, end: &mut Interrupts) -> Result<(), SessionError> {
    // What may be claimed in time only has to be announced in time.
    let mut announced = tokio::time::interval(if ways.claims_in_time() { TICK } else { SECOND });
    announced.set_missed_tick_behavior(MissedTickBehavior::Skip);
    let mut second = tokio::time::interval(SECOND);
    second.set_missed_tick_behavior(MissedTickBehavior::Skip);
    loop {
        let over = tokio::select! {
            came = ways.next() => match came.map_err(SessionError::Input)? {
                Came::NoMoreLines => true,
                came => take(host, came, ways.tool())?,
            },
            _ = announced.tick(), if ways.claims_in_time() => {
                host.look_for_the_end(host.voice.is_some_and(VoiceThread::is_speaking));
                false
            }
            over = host.timer() => over?,
            _ = second.tick() => {
                host.look_after_clock();
                host.look_after_voice()
            }
            () = end.next() => host.interrupted()?,
        };
        if over {
            return Ok(());
        }
    }
}

/// Takes what came another way than by sound; says whether the session is over.
fn take(host: &mut Host<'_>, came: Came, tool: &str) -> Result<bool, SessionError> {
    let turn = match came {
        Came::Line(Line::Text(line)) if line.trim().is_empty() => return Ok(false),
        Came::Line(Line::Text(line)) => host.talk.read(&line, now())?,
        Came::Line(Line::Unreadable) => {
            let told = vec![host.talk.language().notice(Notice::LineUnreadable)];
            Turn { sentences: told, ..Turn::default() }
        }
        Came::Key(meaning) => host.talk.press(&meaning, now())?,
        Came::Tool(said) => return tool_said(host, said, tool),
        Came::Away => {
            host.trouble(Trouble::seen(Notice::KeyboardAway));
            return Ok(false);
        }
        Came::NoMoreLines => return Ok(false),
    };
    Ok(host.show(&turn))
}

/// Takes what came from a tool.
fn tool_said(host: &mut Host<'_>, said: Said, tool: &str) -> Result<bool, SessionError> {
    match said {
        // At rest it shows nothing, or less.
        Said::Reading(Quantity::Torque(value), _) if value.amount <= Decimal::ZERO => {}
        Said::Reading(Quantity::Angle(value), _) if value.amount <= Decimal::ZERO => {}
        // Words would stand in the note.
        Said::Reading(value, _) if host.talk.is_noting() => {
            host.screen.notice(&format!("{value}, sent while a note was recorded, is not logged"));
        }
        Said::Reading(value, began) => {
            let turn = host.talk.measured(value, tool, began, now())?;
            return Ok(turn != Turn::default() && host.show(&turn));
        }
        Said::Unreadable(line) => {
            host.trouble(Trouble::lost(Notice::ToolUnreadable, format!("the tool sent {line}")));
        }
        Said::Lost(reason) => host.trouble(Trouble::lost(Notice::ToolLost, reason)),
        Said::Back => host.trouble(Trouble::over(Notice::ToolBack)),
    }
    Ok(false)
}

async fn sound(
    host: &mut Host<'_>,
    ear: Ear,
    source: Box<dyn Source>,
    pause: Duration,
    ways: &mut Ways,
    end: &mut Interrupts,
) -> Result<(), SessionError> {
    let (live, from) = (source.is_live(), now());
    if !live {
        host.talk.announced(from);
    }
    host.live = live;
    host.waits = (live && !pause.is_zero()).then_some(pause);
    // Takes the voice out of what the microphone hears, unless it never gets there.
    let cleaner =
        (live && host.overhears && host.voice.is_some()).then(|| Box::<dyn Cleaner>::from(Box::<Overhear>::default()));
    let ear = EarThread::start(ear, cleaner, live, from).map_err(SessionError::Setup)?;
    let mut hearing = Hearing { ear, source, live, back: false, waits: false };
    let mut rests = false;
    let mut tick = ticks(live, rests);
    loop {
        let over = tokio::select! {
            // Ctrl-C first, however busy the sound is.
            biased;
            () = end.next() => {
                notes::end(host.talk, hearing.ear.note(), true, now())?;
                host.interrupted()?
            }
            told = hearing.ear.next() => hearing.told(told, host)?,
            over = host.timer() => over?,
            _ = tick.tick(), if !hearing.waits => hearing.listen(host)?,
            // Last, so that nothing that floods in keeps the sound waiting.
            // Without a keyboard there is still the voice.
            came = ways.next() => hearing.came(came.unwrap_or(Came::NoMoreLines), host, ways.tool())?,
        };
        if over || host.has_waited_long() {
            return Ok(());
        }
        if rests != host.talk.is_waiting() {
            rests = !rests;
            tick = ticks(live, rests);
        }
    }
}

/// How often there is new sound to take; while the job is put down nobody is in a hurry.
fn ticks(live: bool, rests: bool) -> tokio::time::Interval {
    let mut ticks = tokio::time::interval(match (live, rests) {
        (false, _) => RECORDED_TICK,
        (true, false) => TICK,
        (true, true) => RESTING_TICK,
    });
    ticks.set_missed_tick_behavior(MissedTickBehavior::Skip);
    ticks
}

/// Sound on its way from its source to the conversation.
struct Hearing {
    ear: EarThread,
    source: Box<dyn Source>,
    live: bool,
    /// That the microphone is back was told, and no sound has come since.
    back: bool,
    /// The last piece of a recording is not worked through yet: the next one waits, so that all goes in the same order each
    /// time.
    waits: bool,
}

impl Hearing {
    /// Takes what sound there is; says whether the session is over.
    fn listen(&mut self, host: &mut Host<'_>) -> Result<bool, SessionError> {
        if host.look_after_voice() {
            return Ok(true);
        }
        for trouble in self.source.troubles() {
            self.back |= trouble.notice == Some(Notice::MicrophoneBack);
            host.trouble(trouble);
        }
        host.look_after_clock();
        let speaking = host.voice.is_some_and(VoiceThread::is_speaking);
        if speaking && !self.live {
            // Recorded sound waits until the answer is said, as its speaker did.
            return Ok(false);
        }
        host.spoken(speaking);
        if self.live {
            host.look_for_the_end(speaking);
        }
        self.ear.attune(host.talk, if self.live { &host.said } else { "" });
        let Some(samples) = self.source.read()? else { return Ok(true) };
        let mut piece = Piece { samples, at: now(), ..Piece::default() };
        if self.live {
            piece.voiced = speaking || host.voice.is_some() && host.spoke.elapsed() <= IN_THE_AIR;
            piece.played = host.voice.map(VoiceThread::played).unwrap_or_default();
            self.look_at(&piece, speaking, host);
        }
        if piece.samples.is_empty() {
            return Ok(false);
        }
        piece.gap = self.source.gap();
        piece.told = std::mem::take(&mut self.back);
        self.waits = !self.live;
        if let Some(trouble) = self.ear.hear(piece) {
            host.trouble(trouble);
        }
        Ok(false)
    }

    /// What live sound tells beside words.
    fn look_at(&self, piece: &Piece, speaking: bool, host: &mut Host<'_>) {
        let user = self.ear.speaking();
        let now = match (piece.voiced, user) {
            (true, _) => Speaking::Program,
            (_, true) => Speaking::User,
            _ => Speaking::Nobody,
        };
        // Nobody speaks for hours where the job is put down, and that is no fault of the microphone.
        if !host.talk.is_waiting()
            && let Some(fault) = host.condition.hear(&piece.samples, now)
        {
            host.trouble(Trouble::seen(told(fault)));
        }
        if speaking || user {
            host.bay.interrupted();
        } else if !piece.voiced {
            host.bay.hear(&piece.samples);
        }
        if let Some(voice) = host.voice {
            voice.speak_softly(speaking && user);
        }
    }

    /// Takes what came another way. While a note is recorded, what is typed or pressed ends it and does nothing else.
    fn came(&mut self, came: Came, host: &mut Host<'_>, tool: &str) -> Result<bool, SessionError> {
        if host.talk.is_noting() && matches!(came, Came::Line(_) | Came::Key(_)) {
            let turn = notes::end(host.talk, self.ear.note(), true, now())?;
            return Ok(turn.is_some_and(|turn| host.show(&turn)));
        }
        take(host, came, tool)
    }

    /// Takes what the ear tells; says whether the session is over.
    fn told(&mut self, told: Told, host: &mut Host<'_>) -> Result<bool, SessionError> {
        match told {
            Told::Heard(heard) => return self.heard(*heard, host),
            Told::NoteOver => {
                let turn = notes::end(host.talk, self.ear.note(), false, now())?;
                return Ok(turn.is_some_and(|turn| host.show(&turn)));
            }
            Told::Trouble(trouble) => host.trouble(trouble),
            Told::Done => self.waits = false,
            Told::Failed(error) => return Err(error.into()),
        }
        Ok(false)
    }

    fn heard(&mut self, mut heard: Heard, host: &mut Host<'_>) -> Result<bool, SessionError> {
        let said = &heard.said;
        if let Some(sound) = heard.own_words.take().filter(|_| !host.was_in_the_air(heard.moment(said.began))) {
            host.talk.own_words(sound);
        }
        host.bay.interrupted();
        host.screen.heard(said);
        let (turn, became) = notes::answer(host.talk, self.ear.note(), said, heard.moment(said.began), now())?;
        if host.show(&turn) {
            return Ok(true);
        }
        if turn.announces && !self.live {
            host.talk.announced(heard.moment(said.ended + HEARD_RECORDED));
        }
        self.ear.answered(became, host.talk, if self.live { &host.said } else { "" });
        Ok(false)
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
