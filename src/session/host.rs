//! What a session tells its user: on the screen, by the voice, and when.
//!
//! Knows the conversation, the screen and the voice. Every turn and every trouble goes through here, so that what was said, and
//! when it had been heard to its end, is known in one place. Takes in nothing by itself.

use super::announcing::{Announcing, ON_ITS_WAY};
use super::bay::Bay;
use super::interrupts::Interrupts;
use super::screen::{Screen, SessionError};
use super::{Delivery, Order, Scene, Shown, Talker, Trouble, Turn, VoiceThread, clock, now};
use crate::dialogue::Notice;
use crate::job::At;
use crate::listen::Condition;
use crate::speak::Tone;
use std::time::{Duration, Instant};

/// How often a live source, and the voice at its last words, is looked after.
pub(super) const TICK: Duration = Duration::from_millis(30);

/// How often the clock is looked after.
const SECOND: Duration = Duration::from_secs(1);

/// So long after its last sample the voice may still be in the air, or on its way through the microphone.
pub(super) const IN_THE_AIR: Duration = Duration::from_millis(1_000);

/// So long the last words of a session may take. A voice that needs more hangs.
const LAST_WORDS: Duration = Duration::from_secs(60);

pub(super) struct Host<'a> {
    pub talk: &'a mut dyn Talker,
    pub voice: Option<&'a VoiceThread>,
    pub screen: &'a mut dyn Screen,
    /// The microphone hears the voice.
    pub overhears: bool,
    pub bay: Bay,
    pub condition: Condition,
    /// What the voice says, or has just said, where the microphone hears it.
    pub said: String,
    /// When it last spoke.
    pub spoke: Instant,
    /// Somebody speaks to a microphone, and may have no screen in sight.
    pub live: bool,
    /// How long a job that is put down waits to be taken up again; `None` where it is not waited for.
    pub waits: Option<Duration>,
    /// Since when it has been waiting; where a job is to be chosen, since when nothing was understood.
    since: Instant,
    /// The loudspeaker is lost.
    mute: bool,
    /// When the clock was last looked after.
    clock: Instant,
    announcing: Announcing,
}

impl<'a> Host<'a> {
    pub fn new(
        talk: &'a mut dyn Talker,
        voice: Option<&'a VoiceThread>,
        headset: bool,
        screen: &'a mut dyn Screen,
    ) -> Host<'a> {
        Host {
            talk,
            voice,
            screen,
            overhears: !headset,
            bay: Bay::default(),
            condition: Condition::default(),
            said: String::new(),
            spoke: Instant::now(),
            live: false,
            waits: None,
            since: Instant::now(),
            mute: false,
            clock: Instant::now(),
            announcing: Announcing::default(),
        }
    }

    /// Takes note of whether the voice speaks.
    pub fn spoken(&mut self, speaking: bool) {
        if speaking {
            self.spoke = Instant::now();
        } else if self.spoke.elapsed() > IN_THE_AIR {
            self.said.clear();
        }
    }

    /// Where the microphone hears the voice: was that in the air at this moment or since, whatever it said? A name that was
    /// heard then may be the program's own words.
    pub fn was_in_the_air(&self, began: At) -> bool {
        let ago = Duration::from_millis(u64::try_from(now().0.saturating_sub(began.0)).unwrap_or(0));
        self.live && self.overhears && self.voice.is_some() && self.spoke.elapsed() <= ago + ON_ITS_WAY
    }

    /// Tells what has happened to the voice; says whether the session is over for want of one.
    pub fn look_after_voice(&mut self) -> bool {
        let Some(voice) = self.voice else { return false };
        for trouble in voice.troubles() {
            self.trouble(trouble);
        }
        // Whoever started it tells why.
        let failed = voice.has_failed();
        if failed {
            self.has_to_stop();
        }
        failed
    }

    /// Is the job put down, and has nobody taken it up again for too long? Or has nobody chosen the next one? Then tells that it is
    /// listened for no longer.
    pub fn has_waited_long(&mut self) -> bool {
        let (patience, since) = (self.waits, self.since);
        let (long, notice) = match self.talk.is_choosing() {
            false => {
                (self.talk.is_waiting() && patience.is_none_or(|most| since.elapsed() >= most), Notice::WaitedLong)
            }
            true => (patience.is_some_and(|most| since.elapsed() >= most), Notice::NothingChosen),
        };
        if long {
            let sentences = vec![self.talk.language().notice(notice)];
            self.show(&Turn { sentences, tone: Some(Tone::ListeningOff), over: true, ..Turn::default() });
        }
        long
    }

    /// Tells that the session cannot go on.
    pub fn has_to_stop(&mut self) {
        let sentences = vec![self.talk.language().notice(Notice::HaveToStop)];
        self.show(&Turn { sentences, tone: Some(Tone::ListeningOff), hush: true, over: true, ..Turn::default() });
    }

    /// Tells the conversation once what was put to the user has been said to its end.
    pub fn look_for_the_end(&mut self, speaking: bool) {
        let ended = self.voice.map(VoiceThread::ended).unwrap_or_default();
        let silent = self.mute || !speaking || !self.voice.is_some_and(VoiceThread::is_there);
        let Some(end) = self.announcing.ended(&ended, silent, Instant::now()) else { return };
        let ms = |time: Duration| i64::try_from(time.as_millis()).unwrap_or(i64::MAX);
        let past = ms(end.elapsed()).saturating_sub(ms(end.saturating_duration_since(Instant::now())));
        self.talk.announced(At(now().0.saturating_sub(past)));
    }

    /// Tells a trouble of the sound, or its end. A lost loudspeaker says last what the user has to answer to, once it is
    /// back, so nothing is put before that.
    pub fn trouble(&mut self, trouble: Trouble) {
        if let Some(reason) = &trouble.reason {
            self.screen.notice(reason);
        }
        let Some(notice) = trouble.notice else { return };
        self.screen.trouble(notice);
        let turn = Turn { sentences: vec![self.talk.language().notice(notice)], ..Turn::default() };
        match notice {
            Notice::LoudspeakerLost | Notice::LoudspeakerBack => {
                self.mute = notice == Notice::LoudspeakerLost;
                self.screen(&turn);
            }
            _ if self.mute => self.screen(&turn),
            _ => {
                self.show(&turn);
            }
        }
    }

    /// Now and then: was the machine's clock set?
    pub fn look_after_clock(&mut self) {
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
    pub async fn timer(&mut self) -> Result<bool, SessionError> {
        // What is due while the job is put down is told when it is taken up.
        if self.talk.is_waiting() {
            return std::future::pending().await;
        }
        let Some(left) = self.talk.until_due(now()) else { return std::future::pending().await };
        // One that is due does not wait for its turn: the sound may come so fast that it never got one.
        if let Ok(left @ 1..) = u64::try_from(left) {
            // The machine may sleep meanwhile, which this does not see.
            tokio::time::sleep(Duration::from_millis(left).min(SECOND)).await;
            if self.talk.until_due(now()).is_none_or(|left| left > 0) {
                return Ok(false);
            }
        }
        let turn = self.talk.time_up(now())?;
        Ok(self.show(&turn))
    }

    /// Lets the voice say its last words, unless somebody is in a hurry, and tells what happened to it meanwhile.
    pub async fn last_words(&mut self, end: &mut Interrupts) {
        let Some(voice) = self.voice else { return };
        let patience = Instant::now() + LAST_WORDS;
        loop {
            let speaking = voice.is_speaking();
            // Shown only: what is said now has no end.
            for trouble in voice.troubles() {
                let words = trouble.notice.map(|notice| self.talk.language().notice(notice));
                if let Some(reason) = &trouble.reason {
                    self.screen.notice(reason);
                }
                self.screen(&Turn { sentences: words.into_iter().collect(), ..Turn::default() });
            }
            if !speaking || voice.is_hurried() {
                return;
            }
            if Instant::now() > patience && !voice.is_to_file() {
                voice.hurry();
            }
            tokio::select! {
                () = end.next() => voice.hurry(),
                () = tokio::time::sleep(TICK) => {}
            }
        }
    }

    /// Ctrl-C puts the job down, as "pause the job" does, and nothing more is said.
    pub fn interrupted(&mut self) -> Result<bool, SessionError> {
        if let Some(voice) = self.voice {
            voice.hurry();
        }
        if self.talk.is_waiting() {
            return Ok(true);
        }
        let turn = self.talk.put_down(now())?;
        self.screen(&turn);
        Ok(true)
    }

    fn screen(&mut self, turn: &Turn) {
        self.screen.stands(&Scene::of(self.talk));
        match self.talk.job() {
            Some(job) => self.screen.turn(turn, &Shown::of(job)),
            None => self.screen.told(turn),
        }
    }

    /// Shows and says a turn; says whether the session is over.
    pub fn show(&mut self, turn: &Turn) -> bool {
        if turn.over
            && self.waits.is_some()
            && let Some(turn) = self.talk.wait(turn)
        {
            self.since = Instant::now();
            return self.show(&turn);
        }
        if turn.meaning.is_some() && !self.talk.is_waiting() {
            self.since = Instant::now();
        }
        let others = if turn.over && self.live { self.talk.with_others(turn) } else { None };
        let turn = others.as_ref().unwrap_or(turn);
        self.screen(turn);
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
            if self.overhears {
                for sentence in &turn.sentences {
                    self.said.push_str(&sentence.spoken);
                    self.said.push(' ');
                }
            }
            if turn.tone.is_some() || !turn.sentences.is_empty() {
                self.spoke = Instant::now();
                let (tone, sentences) = (turn.tone, self.talk.voiced(turn.sentences.clone()));
                order = Some(voice.say(Order { tone, sentences, delivery, recordings: self.talk.recordings() }));
            }
            if !turn.over {
                let ahead = if self.talk.is_waiting() { Vec::new() } else { self.talk.foresee(now()) };
                voice.foresee(ahead, delivery.pace);
            }
        }
        if turn.announces {
            self.announcing.begin(&turn.sentences, order, Instant::now());
        }
        turn.over
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Conversation, Mouth, Outlet};
    use super::*;
    use crate::dialogue::{Language, Manner, Sentence};
    use crate::job::Job;
    use crate::journal::Folder;
    use crate::listen::Utterance;
    use crate::procedure;
    use crate::speak::{SpeakError, Voice};
    use std::path::Path;
    use std::sync::Arc;

    /// Can say nothing, and takes its time over it.
    struct Dumb;

    impl Voice for Dumb {
        fn rate(&self) -> u32 {
            8_000
        }
        fn say(&mut self, _text: &str, _pace: f32) -> Result<Vec<f32>, SpeakError> {
            std::thread::sleep(Duration::from_millis(100));
            Err(SpeakError::Voice { reason: "it has a cold".into() })
        }
    }

    #[derive(Default)]
    struct Kept(Vec<String>);

    impl Screen for Kept {
        fn heard(&mut self, _utterance: &Utterance) {}
        fn turn(&mut self, _turn: &Turn, _job: &Shown) {}
        fn notice(&mut self, text: &str) {
            self.0.push(text.to_owned());
        }
    }

    /// A typed session is over within a second often enough, and nobody looks after its voice but here.
    #[test]
    fn what_happens_to_the_voice_at_its_last_words_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let whole = procedure::open(Path::new("tests/data/bench-bracket.toml")).unwrap();
        let book = Arc::new(whole.procedure().unwrap());
        let job = Folder::create(folder.path(), whole.text(), &book, At(0)).unwrap();
        let mut talk = Conversation::new(Language::english(), Manner::default(), Job::new(book), job);
        let load = || Ok(Mouth::new(Box::new(Dumb), "dumb", false));
        let voice = VoiceThread::start(load, Outlet::File(folder.path().join("said.wav"), 8_000)).unwrap();
        let mut kept = Kept::default();
        let mut host = Host::new(&mut talk, Some(&voice), false, &mut kept);
        let sentence = Sentence {
            spoken: "One.".into(),
            written: "One.".into(),
            signal: None,
            tone: crate::dialogue::Tone::Plain,
        };
        host.show(&Turn { sentences: vec![sentence], ..Turn::default() });
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let mut end = Interrupts::listen().unwrap();
        runtime.block_on(host.last_words(&mut end));
        assert!(kept.0.len() == 1 && kept.0[0].contains("it has a cold"), "{:?}", kept.0);
    }
}
