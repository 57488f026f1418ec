//! The ear on a thread of its own, so that the session goes on whatever hearing waits for.
//!
//! It is handed sound and, whenever that changes, what may be said; both wait in one line, so that sound is heard with what
//! might be said when it came. It gives back utterances and troubles. After an utterance it waits for what became of it, for
//! what may be said next depends on that. The line is bounded: where hearing cannot keep up, sound is dropped and that is told;
//! positions in the sound count what was dropped. The echo canceller works here, too.
//!
//! A fault in here costs what was being said. One that comes again and again, or that nothing can be done about, is told as the
//! end of hearing.

use super::awaited::Key;
use super::ear::{HOLE, Moment};
use super::notes::{Became, Recorder};
use super::overhear::Cleaner;
use super::{Ear, Talker, Trouble};
use crate::dialogue::Notice;
use crate::job::At;
use crate::listen::{Halt, ListenError, RATE, Utterance};
use crate::parting::{self, panic_words};
use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread::JoinHandle;
use std::time::Duration;
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};

/// Sound that may wait: longer than it takes to notice that a recogniser hangs, and to start another.
const ROOM: usize = RATE as usize * 15;
/// Once some had to be dropped, none is taken before so much of it is worked through: one long gap is better than many.
const ROOM_AGAIN: usize = ROOM / 2;
/// So many faults in a row, with nothing heard between them, and it is given up.
const FAULTS: u32 = 3;
/// How long the thread gets to end.
const PARTING: Duration = Duration::from_millis(120);

/// Sound as it came from its source.
#[derive(Debug, Default)]
pub struct Piece {
    /// What was heard.
    pub samples: Vec<i16>,
    /// What was played meanwhile.
    pub played: Vec<i16>,
    /// When it was read.
    pub at: At,
    /// The program's own voice may be in it.
    pub voiced: bool,
    /// So many samples ahead of it never came: it does not belong to what was before.
    pub gap: Option<usize>,
    /// That they never came is told.
    pub told: bool,
}

/// What the thread tells.
pub enum Told {
    /// An utterance. The thread waits for [`EarThread::answered`].
    Heard(Box<Heard>),
    /// The note has gone on for long enough.
    NoteOver,
    /// Something that hearing goes on after.
    Trouble(Trouble),
    /// A piece of recorded sound is worked through; of live sound this is not told.
    Done,
    /// Hearing is at its end.
    Failed(ListenError),
}

/// An utterance, and what tells when it was.
pub struct Heard {
    /// What was said.
    pub said: Utterance,
    /// Its sound, where it may be words of the user's own that are kept as they were said.
    pub own_words: Option<Vec<i16>>,
    /// A position in the sound, and when that was.
    known: (u64, At),
}

impl Heard {
    /// When a sample of the sound was.
    pub fn moment(&self, position: u64) -> At {
        let (known, at) = self.known;
        let whole = |samples: u64| i64::try_from(samples).unwrap_or(i64::MAX);
        let samples = whole(position).saturating_sub(whole(known));
        At(at.0.saturating_add(samples.saturating_mul(1_000) / i64::from(RATE)))
    }
}

enum Work {
    Sound(Piece, usize),
    Attune(u64, Box<Moment>),
}

struct Answer {
    became: Became,
    moment: Option<(u64, Box<Moment>)>,
}

/// What both sides look at.
#[derive(Default)]
struct Shared {
    /// Samples that wait.
    waiting: AtomicUsize,
    /// Somebody is speaking.
    speaking: AtomicBool,
    /// The number of the moment that is listened for.
    attuned: AtomicU64,
    /// The number of the last that has come up in line: the sound from before it is worked through.
    reached: AtomicU64,
    /// Nobody wants to know any more.
    over: AtomicBool,
}

/// The thread, as the session knows it.
pub struct EarThread {
    work: Option<Sender<Work>>,
    answers: Option<Sender<Answer>>,
    told: UnboundedReceiver<Told>,
    shared: Arc<Shared>,
    note: Recorder,
    halt: Option<Halt>,
    thread: Option<JoinHandle<()>>,
    /// What may be said, as it was sent last, and the number of that.
    key: Option<Key>,
    number: u64,
    /// What the program was saying from which moment on, for all sound that is not worked through.
    sayings: VecDeque<(u64, String)>,
    /// Samples dropped since the last that was taken.
    lost: usize,
    deaf: bool,
}

impl EarThread {
    /// Hands an ear to a thread. Live sound comes at its own pace and is cleaned of the program's voice, if there is something to
    /// clean it with; of recorded sound the first sample is `from`.
    pub fn start(ear: Ear, cleaner: Option<Box<dyn Cleaner>>, live: bool, from: At) -> std::io::Result<EarThread> {
        let (work, inbox) = mpsc::channel();
        let (answers, answered) = mpsc::channel();
        let (tell, told) = unbounded_channel();
        let shared = Arc::new(Shared::default());
        let (note, halt) = (ear.note().clone(), ear.halt());
        let worker = Worker {
            known: (ear.taken(), from),
            ear,
            cleaner,
            live,
            echoes: false,
            silenced: false,
            said_missed: false,
            faults: 0,
            last: None,
            answered,
            tell,
            shared: shared.clone(),
        };
        let thread = std::thread::Builder::new().name("ear".into()).spawn(move || worker.run(&inbox))?;
        Ok(EarThread {
            work: Some(work),
            answers: Some(answers),
            told,
            shared,
            note,
            halt,
            thread: Some(thread),
            key: None,
            number: 0,
            sayings: VecDeque::new(),
            lost: 0,
            deaf: false,
        })
    }

    /// Sound from here on is heard with what may be said in the conversation now, while the program says `said`.
    pub fn attune(&mut self, talk: &dyn Talker, said: &str) {
        if let Some((number, moment)) = self.moment(talk, said, false) {
            self.says(number, said);
            self.send(Work::Attune(number, moment));
        }
    }

    /// Takes a piece of sound, and does not wait. Tells if there is no room for it, or room again.
    pub fn hear(&mut self, piece: Piece) -> Option<Trouble> {
        let waiting = self.shared.waiting.load(Ordering::SeqCst);
        let room = if self.deaf { ROOM_AGAIN } else { ROOM };
        if waiting > 0 && waiting + piece.samples.len() > room {
            self.lost += piece.gap.unwrap_or(0) + piece.samples.len();
            let told = std::mem::replace(&mut self.deaf, true);
            let reason = || format!("hearing does not keep up: {} s of sound wait for it", ROOM / RATE as usize);
            return (!told).then(|| Trouble::lost(Notice::HearingLost, reason()));
        }
        let lost = std::mem::take(&mut self.lost);
        self.shared.waiting.fetch_add(piece.samples.len(), Ordering::SeqCst);
        self.send(Work::Sound(piece, lost));
        std::mem::take(&mut self.deaf).then(|| Trouble::over(Notice::HearingBack))
    }

    /// What it tells next.
    pub async fn next(&mut self) -> Told {
        let silent = || ListenError::Engine { engine: "hearing", reason: "its thread ended without a word".into() };
        self.told.recv().await.unwrap_or_else(|| Told::Failed(silent()))
    }

    /// What became of the utterance, and what may be said after it. That counts at once, for sound that waits in line too; but
    /// the program's own voice is in such sound as it was when it came, so nothing that it was saying since then is a command.
    pub fn answered(&mut self, became: Became, talk: &dyn Talker, said: &str) {
        let in_the_air = self.in_the_air(said);
        let moment = self.moment(talk, &in_the_air, true);
        if let Some((number, _)) = &moment {
            self.says(*number, said);
        }
        if let Some(answers) = &self.answers {
            // One that is gone has told why.
            let _ = answers.send(Answer { became, moment });
        }
    }

    /// Is somebody speaking, as far as it is known?
    pub fn speaking(&self) -> bool {
        self.shared.speaking.load(Ordering::SeqCst)
    }

    /// The note being recorded, if one is.
    pub fn note(&self) -> &Recorder {
        &self.note
    }

    /// What may be said, if that is news. `at_once`: what waits in line is no news yet.
    fn moment(&mut self, talk: &dyn Talker, said: &str, at_once: bool) -> Option<(u64, Box<Moment>)> {
        let key = Key::of(talk, &self.note, said);
        let known = !at_once || self.shared.attuned.load(Ordering::SeqCst) == self.number;
        if known && self.key.as_ref() == Some(&key) {
            return None;
        }
        self.number += 1;
        self.key = Some(key.clone());
        Some((self.number, Box::new(key.moment(talk))))
    }

    /// Takes note of what the program says from a moment on, and forgets what is in no sound that waits.
    fn says(&mut self, number: u64, said: &str) {
        let reached = self.shared.reached.load(Ordering::SeqCst);
        while self.sayings.get(1).is_some_and(|(next, _)| *next <= reached) {
            self.sayings.pop_front();
        }
        self.sayings.push_back((number, said.to_owned()));
    }

    /// All that the program was saying in the sound that waits, and what it says now.
    fn in_the_air(&self, said: &str) -> String {
        let reached = self.shared.reached.load(Ordering::SeqCst);
        let over = self.sayings.iter().skip(1).take_while(|(next, _)| *next <= reached).count();
        let mut all = vec![said];
        for (_, said) in self.sayings.iter().skip(over) {
            if !all.contains(&said.as_str()) {
                all.push(said);
            }
        }
        all.retain(|said| !said.is_empty());
        all.join(" ")
    }

    fn send(&self, work: Work) {
        if let Some(inbox) = &self.work {
            // One that is gone has told why.
            let _ = inbox.send(work);
        }
    }
}

/// Whatever it waits for is broken off; what cannot be is left behind.
impl Drop for EarThread {
    fn drop(&mut self) {
        self.shared.over.store(true, Ordering::SeqCst);
        (self.work, self.answers) = (None, None);
        if let Some(halt) = &self.halt {
            halt();
        }
        if let Some(thread) = self.thread.take() {
            parting::part(thread, PARTING);
        }
    }
}

struct Worker {
    ear: Ear,
    cleaner: Option<Box<dyn Cleaner>>,
    live: bool,
    /// The program's voice cannot be taken out of the sound any more.
    echoes: bool,
    /// So the last sound was made silence.
    silenced: bool,
    /// That something could not be heard was said, and nothing has been understood since. Once more it is only shown: beside a radio,
    /// or on a machine that cannot keep up while it speaks, it would never stop saying so.
    said_missed: bool,
    /// A position in the sound, and when that was.
    known: (u64, At),
    faults: u32,
    /// What was to be listened for last.
    last: Option<Moment>,
    answered: Receiver<Answer>,
    tell: UnboundedSender<Told>,
    shared: Arc<Shared>,
}

impl Worker {
    fn run(mut self, inbox: &Receiver<Work>) {
        while let Ok(work) = inbox.recv() {
            if self.shared.over.load(Ordering::SeqCst) {
                return;
            }
            let length = if let Work::Sound(piece, _) = &work { piece.samples.len() } else { 0 };
            let done = catch_unwind(AssertUnwindSafe(|| self.work(work)));
            let done = done.unwrap_or_else(|panic| self.outlive(&panic_words(&*panic)));
            self.shared.waiting.fetch_sub(length, Ordering::SeqCst);
            if let Err(error) = done {
                self.tell(Told::Failed(error));
                return;
            }
            if length > 0 && !self.live {
                self.tell(Told::Done);
            }
        }
    }

    fn work(&mut self, work: Work) -> Result<(), ListenError> {
        match work {
            Work::Sound(piece, lost) => self.sound(piece, lost),
            Work::Attune(number, moment) => {
                self.shared.reached.store(number, Ordering::SeqCst);
                self.attune(number, *moment)
            }
        }
    }

    fn sound(&mut self, piece: Piece, lost: usize) -> Result<(), ListenError> {
        if lost > 0 || piece.gap.is_some() {
            self.ear.skip(lost + piece.gap.unwrap_or(0))?;
        }
        // What was dropped is told where that is done.
        if piece.gap.is_some_and(|gap| gap >= HOLE) && !piece.told {
            self.ear.missed();
        }
        let at = piece.at;
        let (samples, silenced) = self.clean(piece);
        if std::mem::replace(&mut self.silenced, silenced) != silenced {
            // What was begun under the voice, or goes on under it, is heard in part only, and half a sentence may say the opposite.
            self.ear.skip(0)?;
        }
        let mut said = self.ear.push(&samples)?;
        if self.live && !samples.is_empty() {
            self.known = (self.ear.taken(), at);
        }
        self.look();
        while let Some(utterance) = said {
            self.faults = 0;
            self.said_missed &= utterance.phrase.is_none();
            let own_words = self.ear.take_own_words();
            self.tell(Told::Heard(Box::new(Heard { said: utterance.clone(), own_words, known: self.known })));
            // Nobody there to answer means that the session is over.
            let Ok(Answer { became, moment }) = self.answered.recv() else { return Ok(()) };
            if let Some((number, moment)) = moment {
                self.attune(number, *moment)?;
            }
            self.ear.learn(&utterance, &became);
            said = self.ear.push(&[])?;
            self.look();
        }
        if self.ear.note().is_over() {
            self.tell(Told::NoteOver);
        }
        Ok(())
    }

    /// One that was overtaken by an answer is not listened for any more.
    fn attune(&mut self, number: u64, moment: Moment) -> Result<(), ListenError> {
        if number <= self.shared.attuned.load(Ordering::SeqCst) {
            return Ok(());
        }
        // A fault in it does not make it less true: it is tried again.
        self.shared.attuned.store(number, Ordering::SeqCst);
        self.ear.attune_to(self.last.insert(moment))
    }

    /// The sound without the program's voice. Where that cannot be had, silence, and that it is so: unheard is better than misheard.
    fn clean(&mut self, piece: Piece) -> (Vec<i16>, bool) {
        let speaking = self.ear.speaking();
        if let Some(cleaner) = &mut self.cleaner {
            let clean = catch_unwind(AssertUnwindSafe(|| cleaner.clean(&piece.samples, &piece.played, speaking)));
            let reason = match clean {
                Ok(Ok(clean)) => return (clean, false),
                Ok(Err(error)) => error.to_string(),
                Err(panic) => panic_words(&*panic),
            };
            (self.cleaner, self.echoes) = (None, true);
            self.tell(Told::Trouble(Trouble::lost(Notice::EchoLost, reason)));
        }
        let silenced = self.echoes && piece.voiced;
        (if silenced { vec![0; piece.samples.len()] } else { piece.samples }, silenced)
    }

    fn look(&mut self) {
        for trouble in self.ear.troubles() {
            self.tell(Told::Trouble(trouble));
        }
        if self.ear.take_missed() {
            let reason = "what may have been said could not be heard in full".to_owned();
            let trouble = match std::mem::replace(&mut self.said_missed, true) {
                false => Trouble::lost(Notice::Unheard, reason),
                true => Trouble::failure(reason),
            };
            self.tell(Told::Trouble(trouble));
        }
        self.shared.speaking.store(self.ear.speaking(), Ordering::SeqCst);
    }

    /// A fault of the program itself: what was being said is lost.
    fn outlive(&mut self, reason: &str) -> Result<(), ListenError> {
        self.faults += 1;
        let fault = || ListenError::Engine { engine: "hearing", reason: reason.to_owned() };
        if self.faults >= FAULTS {
            return Err(fault());
        }
        self.tell(Told::Trouble(Trouble::lost(Notice::Misheard, fault().to_string())));
        let again = catch_unwind(AssertUnwindSafe(|| {
            self.ear.outlive()?;
            self.last.as_ref().map_or(Ok(()), |moment| self.ear.attune_to(moment))
        }));
        self.shared.speaking.store(false, Ordering::SeqCst);
        again.unwrap_or_else(|_| Err(fault()))
    }

    fn tell(&self, told: Told) {
        // Nobody there to hear it means that the session is over.
        let _ = self.tell.send(told);
    }
}
