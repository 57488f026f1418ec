//! A lesson and its listener on a thread of their own, so that the loop round them can end whatever they wait for.
//!
//! It is handed sound in order and gives back what was heard, what is to be said, and what was learnt so far.

use super::Turn;
use super::learning::Learning;
use crate::listen::{Halt, ListenError, Listener, RATE, Utterance};
use crate::own_voice::Profile;
use crate::parting;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread::JoinHandle;
use std::time::Duration;
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};

/// Sound that may wait; what comes beyond it is dropped. In a lesson everything can be said again.
const ROOM: usize = RATE as usize * 15;
/// How long the thread gets to end.
const PARTING: Duration = Duration::from_millis(120);

/// How far a lesson is.
#[derive(Debug)]
pub struct SoFar {
    /// What has been learnt.
    pub profile: Profile,
    /// How many takes there are, or were given up, and how many are wanted.
    pub progress: (usize, usize),
    /// What is said when it is broken off here.
    pub(super) stopped: Turn,
}

impl SoFar {
    pub(super) fn of(lesson: &Learning) -> SoFar {
        SoFar { profile: lesson.profile().clone(), progress: lesson.progress(), stopped: lesson.stopped() }
    }
}

/// What is asked of it.
pub(super) enum Work {
    /// The next piece of sound, and how much ahead of it never came, if anything is missing there.
    Hear(Vec<i16>, Option<usize>),
    /// What was heard so far was not meant.
    Reset,
    /// Nobody has answered: what is to be said, once more.
    Remind,
    /// There is no more sound.
    Finish,
    /// The lesson is broken off.
    Stop,
}

/// What it tells.
pub(super) enum Told {
    /// Something was heard.
    Heard(Box<Utterance>),
    /// This is to be said.
    Say(Turn),
    /// It has got further.
    Learnt(Box<SoFar>),
    /// Something said was lost.
    Trouble(String),
    /// What was asked is done.
    Done,
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
    /// Somebody is speaking.
    speaking: AtomicBool,
    /// Nobody wants to know any more.
    over: AtomicBool,
}

/// The thread, as its loop knows it.
pub(super) struct LessonThread {
    work: Sender<Work>,
    told: UnboundedReceiver<Told>,
    shared: Arc<Shared>,
    halt: Option<Halt>,
    thread: JoinHandle<()>,
}

impl LessonThread {
    /// Hands both to a thread.
    /// `pauses`: while something is said there is a pause in the sound, which ends with [`Work::Reset`].
    pub fn start(
        lesson: Learning,
        listener: Listener,
        pauses: bool,
        moment: fn() -> i64,
    ) -> std::io::Result<LessonThread> {
        let (work, inbox) = mpsc::channel();
        let (tell, told) = unbounded_channel();
        let shared = Arc::new(Shared::default());
        let halt = listener.halt();
        let worker = Worker { lesson, listener, pauses, pause: false, moment, tell, shared: shared.clone() };
        let thread = std::thread::Builder::new().name("lesson".into()).spawn(move || worker.run(&inbox))?;
        Ok(LessonThread { work, told, shared, halt, thread })
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
        let silent = || ListenError::Engine { engine: "the lesson", reason: "its thread ended without a word".into() };
        self.told.recv().await.unwrap_or_else(|| Told::Failed(silent()))
    }

    /// Is somebody speaking, as far as it is known?
    pub fn speaking(&self) -> bool {
        self.shared.speaking.load(Ordering::SeqCst)
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
    lesson: Learning,
    listener: Listener,
    pauses: bool,
    /// Something is being said: what was heard since the last answer is no answer to that.
    pause: bool,
    /// The time, in seconds since 1970.
    moment: fn() -> i64,
    tell: UnboundedSender<Told>,
    shared: Arc<Shared>,
}

impl Worker {
    fn run(mut self, inbox: &Receiver<Work>) {
        let mut asked = Ok(());
        if let Err(error) = self.listener.listen_for(&self.lesson.phrases()) {
            asked = Err(error);
        }
        while asked.is_ok() {
            let Ok(work) = inbox.recv() else { break };
            if self.shared.over.load(Ordering::SeqCst) {
                break;
            }
            let length = if let Work::Hear(piece, _) = &work { piece.len() } else { 0 };
            asked = self.work(work);
            self.shared.waiting.fetch_sub(length, Ordering::SeqCst);
            // Without the second listener no take can be kept: that ends the lesson at the next one, with what was learnt.
            let troubles = self.listener.troubles().into_iter().chain(self.listener.second_lost());
            for trouble in troubles.collect::<Vec<_>>() {
                self.tell(Told::Trouble(trouble));
            }
            self.shared.speaking.store(self.listener.speaking(), Ordering::SeqCst);
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
                // Two halves of different attempts are no take: whoever was speaking is asked again.
                if let Some(gap) = gap {
                    let speaking = self.listener.speaking();
                    self.listener.skip(gap as u64)?;
                    if speaking {
                        let again = self.lesson.remind();
                        self.pause = self.pauses && !again.sentences.is_empty();
                        self.tell(Told::Say(again));
                    }
                    if self.pause {
                        return Ok(());
                    }
                }
                let mut said = self.listener.push(&piece)?;
                while let Some(utterance) = said {
                    if self.answer(&utterance)? || self.pause {
                        return Ok(());
                    }
                    said = self.listener.push(&[])?;
                }
            }
            Work::Reset => {
                self.pause = false;
                // What is being said already was begun under the voice.
                self.listener.skip(0)?;
            }
            Work::Remind => self.tell(Told::Say(self.lesson.remind())),
            Work::Finish => {
                while let Some(said) = self.listener.finish()? {
                    if self.answer(&said)? {
                        return Ok(());
                    }
                }
                self.stop();
            }
            Work::Stop => self.stop(),
        }
        Ok(())
    }

    fn stop(&mut self) {
        let turn = self.lesson.stop();
        self.tell(Told::Say(turn));
    }

    /// Says whether the lesson is over.
    fn answer(&mut self, said: &Utterance) -> Result<bool, ListenError> {
        self.tell(Told::Heard(Box::new(said.clone())));
        let kept = self.listener.take_kept();
        let before = self.lesson.progress().0;
        let turn = self.lesson.hear(said, kept.as_ref(), &mut self.listener, (self.moment)())?;
        if self.lesson.progress().0 > before {
            self.tell(Told::Learnt(Box::new(SoFar::of(&self.lesson))));
        }
        let over = turn.over;
        self.pause = self.pauses && !turn.sentences.is_empty();
        self.tell(Told::Say(turn));
        Ok(over)
    }

    fn tell(&self, told: Told) {
        // Nobody there to hear it means that the lesson is over.
        let _ = self.tell.send(told);
    }
}
