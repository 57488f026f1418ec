//! A session about values and no job, and its listener, on a thread of their own, so that the loop round them can end
//! whatever they wait for.
//!
//! It is handed sound in order and gives back what was heard and what is to be said.

use super::awaited::Key;
use super::ear::{HOLE, listen_for};
use super::no_job::NoJob;
use super::{Delivery, Turn, now};
use crate::dialogue::Notice;
use crate::listen::{Halt, ListenError, Listener, RATE, Utterance};
use crate::parting;
use std::collections::HashSet;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread::JoinHandle;
use std::time::Duration;
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};

/// Sound that may wait; what comes beyond it is dropped. Everything can be asked again.
const ROOM: usize = RATE as usize * 15;
/// How long the thread gets to end.
const PARTING: Duration = Duration::from_millis(120);

/// What is asked of it.
pub(super) enum Work {
    /// The next piece of sound, and how much ahead of it never came, if anything is missing there.
    Hear(Vec<i16>, Option<usize>),
    /// What was heard so far was not meant.
    Reset,
    /// There is no more sound.
    Finish,
}

/// What it tells.
pub(super) enum Told {
    /// Something was heard.
    Heard(Box<Utterance>),
    /// This is to be said, and how.
    Say(Turn, Delivery),
    /// Something said was lost.
    Trouble(String),
    /// What was asked is done.
    Done,
    /// Nothing more will be heard.
    Over,
    /// It cannot go on.
    Failed(ListenError),
}

/// What both sides look at.
#[derive(Default)]
struct Shared {
    /// Samples that wait.
    waiting: AtomicUsize,
    /// Samples dropped since the last that was taken.
    lost: AtomicUsize,
    /// Nobody wants to know any more.
    over: AtomicBool,
}

/// The thread, as its loop knows it.
pub(super) struct ValuesThread {
    work: Sender<Work>,
    told: UnboundedReceiver<Told>,
    shared: Arc<Shared>,
    halt: Option<Halt>,
    thread: JoinHandle<()>,
}

impl ValuesThread {
    /// Hands both to a thread. `pauses`: while something is said there is a pause in the sound, which ends with
    /// [`Work::Reset`].
    pub fn start(talk: Box<dyn NoJob>, listener: Listener, pauses: bool) -> std::io::Result<ValuesThread> {
        let (work, inbox) = mpsc::channel();
        let (tell, told) = unbounded_channel();
        let shared = Arc::new(Shared::default());
        let halt = listener.halt();
        let worker = Worker {
            talk,
            listener,
            pauses,
            pause: false,
            known: None,
            unknown: HashSet::new(),
            said_missed: false,
            tell,
            shared: shared.clone(),
        };
        let thread = std::thread::Builder::new().name("values".into()).spawn(move || worker.run(&inbox))?;
        Ok(ValuesThread { work, told, shared, halt, thread })
    }

    /// Asks for something, and does not wait.
    pub fn ask(&self, mut work: Work) {
        if let Work::Hear(piece, gap) = &mut work {
            if self.shared.waiting.load(Ordering::SeqCst) > ROOM {
                self.shared.lost.fetch_add(gap.unwrap_or(0) + piece.len(), Ordering::SeqCst);
                return;
            }
            self.shared.waiting.fetch_add(piece.len(), Ordering::SeqCst);
            let lost = self.shared.lost.swap(0, Ordering::SeqCst);
            if lost > 0 {
                *gap = Some(gap.unwrap_or(0) + lost);
            }
        }
        // One that is gone has told why.
        let _ = self.work.send(work);
    }

    /// What it tells next.
    pub async fn next(&mut self) -> Told {
        let silent = || ListenError::Engine { engine: "hearing", reason: "its thread ended without a word".into() };
        self.told.recv().await.unwrap_or_else(|| Told::Failed(silent()))
    }

    /// Breaks off whatever it waits for, and waits no longer than a moment.
    pub fn end(self) {
        self.shared.over.store(true, Ordering::SeqCst);
        if let Some(halt) = self.halt {
            halt();
        }
        drop(self.work);
        parting::part(self.thread, PARTING);
    }
}

struct Worker {
    talk: Box<dyn NoJob>,
    listener: Listener,
    pauses: bool,
    /// Something is being said: what was heard since the last answer asks for nothing.
    pause: bool,
    /// What the phrases in force were made for.
    known: Option<Key>,
    /// Words that the model lacks.
    unknown: HashSet<String>,
    /// That something could not be heard was said, and nothing has been understood since.
    said_missed: bool,
    tell: UnboundedSender<Told>,
    shared: Arc<Shared>,
}

impl Worker {
    fn run(mut self, inbox: &Receiver<Work>) {
        let mut asked = self.attune();
        while asked.is_ok() {
            let Ok(work) = inbox.recv() else { break };
            if self.shared.over.load(Ordering::SeqCst) {
                break;
            }
            let length = if let Work::Hear(piece, _) = &work { piece.len() } else { 0 };
            asked = self.work(work);
            self.shared.waiting.fetch_sub(length, Ordering::SeqCst);
            self.look();
            self.tell(Told::Done);
        }
        if let Err(error) = asked {
            self.tell(Told::Failed(error));
        }
    }

    fn work(&mut self, work: Work) -> Result<(), ListenError> {
        match work {
            Work::Hear(..) if self.pause => {}
            Work::Hear(piece, gap) => {
                if let Some(gap) = gap {
                    self.listener.skip(gap as u64)?;
                    if gap >= HOLE {
                        self.listener.missed();
                    }
                }
                let mut said = self.listener.push(&piece)?;
                while let Some(utterance) = said {
                    self.answer(&utterance);
                    if self.pause {
                        return Ok(());
                    }
                    self.attune()?;
                    said = self.listener.push(&[])?;
                }
            }
            Work::Reset => {
                self.pause = false;
                self.listener.reset()?;
                self.attune()?;
            }
            Work::Finish => {
                while let Some(said) = self.listener.finish()? {
                    self.answer(&said);
                }
                // Whoever is told that it is over listens no more.
                self.look();
                self.tell(Told::Over);
            }
        }
        Ok(())
    }

    /// Tells what went wrong: whoever asked something and is not answered has no screen in sight, perhaps.
    fn look(&mut self) {
        let troubles = self.listener.troubles();
        let missed = self.listener.take_missed() && !self.pause && self.talk.listens();
        // Said once, until something is understood: beside a radio it would never stop saying so.
        let said = missed && std::mem::replace(&mut self.said_missed, true);
        let notice = match troubles.is_empty() {
            true => (missed && !said).then_some(Notice::Unheard),
            false => Some(Notice::Misheard),
        };
        for trouble in troubles.into_iter().chain(self.listener.second_lost()).collect::<Vec<_>>() {
            self.tell(Told::Trouble(trouble));
        }
        if let Some(notice) = notice {
            let turn = self.talk.told(notice);
            self.say(turn);
        }
    }

    fn attune(&mut self) -> Result<(), ListenError> {
        let known = self.talk.awaits();
        if self.known.as_ref() != Some(&known) {
            listen_for(&mut self.listener, self.talk.phrases(), &mut self.unknown)?;
            self.listener.also_for(Some(self.talk.readings()));
            self.known = Some(known);
        }
        Ok(())
    }

    fn answer(&mut self, said: &Utterance) {
        self.said_missed &= said.phrase.is_none();
        self.tell(Told::Heard(Box::new(said.clone())));
        let turn = self.talk.hear(said, now());
        self.say(turn);
    }

    fn say(&mut self, turn: Turn) {
        self.pause = self.pauses && (turn.tone.is_some() || !turn.sentences.is_empty());
        self.tell(Told::Say(turn, self.talk.delivery()));
    }

    fn tell(&self, told: Told) {
        // Nobody there to hear it means that the session is over.
        let _ = self.tell.send(told);
    }
}
