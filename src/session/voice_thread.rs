//! The mouth on a thread of its own, so that the session can listen while it speaks and cut it off at once.
//!
//! Knows a [`Mouth`], which it may have to load first, and where its samples go. A loudspeaker that dies is opened again
//! at intervals; what was to be said meanwhile stands in the terminal.

use super::Trouble;
use super::mouth::{Mouth, Order};
use super::outlet::{Hold, Outlet, Place};
use crate::dialogue::Notice;
use crate::parting::{self, panic_words};
use crate::speak::{SpeakError, Tone};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use tracing::debug;

#[cfg(test)]
mod tests;

/// A loudspeaker that fails is tried again so soon, because it may only have stumbled.
const FIRST_RETRY: Duration = Duration::from_millis(300);
/// How often it is tried again after that.
const RETRY: Duration = Duration::from_secs(3);
/// How often it looks after the loudspeaker while there is nothing to do.
const IDLE: Duration = Duration::from_millis(500);
/// So many orders in a row that cannot be said, and the voice is given up.
const FAULTS: u32 = 3;
/// How long the thread gets to end when somebody is in a hurry; it may be in the middle of a clause.
const PARTING: Duration = Duration::from_millis(120);
/// The same where a file is still to be written, or nothing is left to be said.
const WRITING: Duration = Duration::from_secs(5);
/// The same where something is: a loudspeaker may hang while it is opened.
const SPEAKING: Duration = Duration::from_secs(60);

enum Task {
    Say(Ordered),
    Foresee(Vec<String>, f32),
}

/// An order with its number; to be said as long as nobody asked for silence since.
#[derive(Clone)]
struct Ordered {
    number: u64,
    /// The count of hushes when it was ordered.
    hushes: u64,
    order: Order,
}

/// What both sides look at.
#[derive(Debug, Default)]
struct State {
    /// How often silence was asked for.
    hushes: AtomicU64,
    /// Orders given and not yet said or dropped.
    orders: AtomicU64,
    /// Orders ever given.
    given: AtomicU64,
    /// The mouth is loaded.
    there: AtomicBool,
    /// The mouth could not be loaded.
    failed: AtomicBool,
    /// Nobody waits for it any more.
    hurried: AtomicBool,
}

/// The mouth's thread.
pub struct VoiceThread {
    tasks: Option<Sender<Task>>,
    state: Arc<State>,
    to_file: bool,
    hold: Hold,
    troubles: Receiver<Trouble>,
    /// Orders that were heard to their end.
    ended: Receiver<(u64, Instant)>,
    thread: Option<JoinHandle<Result<(), SpeakError>>>,
}

impl VoiceThread {
    /// Starts it. A loudspeaker that cannot be opened at all is an error here, not later. The mouth is loaded on the
    /// thread, and what is ordered meanwhile waits for it.
    pub fn start(
        load: impl FnOnce() -> Result<Mouth, SpeakError> + Send + 'static,
        outlet: Outlet,
    ) -> Result<VoiceThread, SpeakError> {
        let to_file = matches!(outlet, Outlet::File(..));
        let hold = Hold::default();
        let sink = Place::open(&outlet, &hold)?;
        let (tasks, inbox) = mpsc::channel();
        let (trouble, troubles) = mpsc::channel();
        let (end, ended) = mpsc::channel();
        let state = Arc::new(State::default());
        let (for_worker, hold_too) = (state.clone(), hold.clone());
        let fate = state.clone();
        let work = move || {
            let mut sink = sink;
            let mouth = unless_it_panics(load).inspect_err(|_| {
                for_worker.failed.store(true, Ordering::SeqCst);
                sink.last_tone();
            })?;
            for_worker.there.store(true, Ordering::SeqCst);
            debug!("the voice is there");
            let worker = Worker {
                mouth,
                outlet,
                place: Some(sink),
                again: Instant::now(),
                stumbled: None,
                unsaid: None,
                hold: hold_too,
                state: for_worker,
                trouble,
                end,
                ahead: (Vec::new(), 1.0),
                over: None,
                faults: 0,
            };
            worker.run(&inbox)
        };
        // Whatever ends it before its time, the session is told that it has no voice.
        let work = move || unless_it_panics(work).inspect_err(|_| fate.failed.store(true, Ordering::SeqCst));
        let thread = std::thread::Builder::new().name("voice".into()).spawn(work).map_err(|e| {
            SpeakError::NoLoudspeaker { device: "the thread of the loudspeaker".into(), reason: e.to_string() }
        })?;
        Ok(VoiceThread { tasks: Some(tasks), state, to_file, hold, troubles, ended, thread: Some(thread) })
    }

    /// Says an order behind whatever is being said; gives its number.
    pub fn say(&self, order: Order) -> u64 {
        self.state.orders.fetch_add(1, Ordering::SeqCst);
        let number = self.state.given.fetch_add(1, Ordering::SeqCst);
        self.send(Task::Say(Ordered { number, hushes: self.state.hushes.load(Ordering::SeqCst), order }));
        number
    }

    /// Numbers of the orders that were played to their last sample since the last call, and when that was. None of those
    /// that were cut off, and none that went into a file.
    pub fn ended(&self) -> Vec<(u64, Instant)> {
        self.ended.try_iter().collect()
    }

    /// Falls silent and forgets what was not said yet. A file is no sound: it holds all that was answered, even where
    /// the lines came faster than anybody could have listened.
    pub fn hush(&self) {
        if self.to_file {
            return;
        }
        self.state.hushes.fetch_add(1, Ordering::SeqCst);
        if let Ok(hold) = self.hold.lock()
            && let Some((stop, _)) = hold.as_ref()
        {
            stop.stop();
        }
    }

    /// Falls silent, a file too, and is not waited for any more.
    pub fn hurry(&self) {
        self.state.hurried.store(true, Ordering::SeqCst);
        self.state.hushes.fetch_add(1, Ordering::SeqCst);
        self.hush();
    }

    /// Does nobody wait for it any more?
    pub fn is_hurried(&self) -> bool {
        self.state.hurried.load(Ordering::SeqCst)
    }

    /// Does it speak into a file, and not to anybody?
    pub fn is_to_file(&self) -> bool {
        self.to_file
    }

    /// Speaks softly while the user speaks.
    pub fn speak_softly(&self, softly: bool) {
        if let Ok(hold) = self.hold.lock()
            && let Some((stop, _)) = hold.as_ref()
        {
            stop.play_softly(softly);
        }
    }

    /// What the loudspeaker was given since the last call, silence included, as the listeners take it. Empty where there
    /// is no loudspeaker.
    pub fn played(&self) -> Vec<i16> {
        let Ok(mut hold) = self.hold.lock() else { return Vec::new() };
        let Some((_, Some(played))) = hold.as_mut() else { return Vec::new() };
        // What cannot be converted cannot be taken out of the microphone's sound, and is no more than that.
        let samples = played.read().unwrap_or_default();
        samples.into_iter().map(|s| (s * 32_768.0).round() as i16).collect()
    }

    /// Makes the beginnings of these sentences while there is nothing else to do.
    pub fn foresee(&self, texts: Vec<String>, pace: f32) {
        self.send(Task::Foresee(texts, pace));
    }

    /// Is anything still to be heard?
    pub fn is_speaking(&self) -> bool {
        let alive = self.thread.as_ref().is_some_and(|thread| !thread.is_finished());
        alive && self.state.orders.load(Ordering::SeqCst) > 0
    }

    /// Is the mouth loaded, so that it can say what it is told to?
    pub fn is_there(&self) -> bool {
        self.state.there.load(Ordering::SeqCst)
    }

    /// Is there no mouth any more, or could it not be loaded? [`VoiceThread::finish`] says why.
    pub fn has_failed(&self) -> bool {
        self.state.failed.load(Ordering::SeqCst)
    }

    /// Troubles since the last call, each to be told once.
    pub fn troubles(&self) -> Vec<Trouble> {
        self.troubles.try_iter().collect()
    }

    /// Says what is left and ends; a WAV file is written now. One that hangs is left behind.
    pub fn finish(mut self) -> Result<(), SpeakError> {
        self.tasks = None;
        let Some(thread) = self.thread.take() else { return Ok(()) };
        let ended = match (self.is_hurried(), self.to_file) {
            (false, true) => Some(thread.join()),
            (false, false) if self.state.orders.load(Ordering::SeqCst) == 0 => parting::part(thread, WRITING),
            (false, false) => parting::part(thread, SPEAKING),
            (true, false) => parting::part(thread, PARTING),
            (true, true) => parting::part(thread, WRITING),
        };
        match ended {
            Some(Ok(result)) => result,
            Some(Err(panic)) => Err(SpeakError::Voice { reason: panic_words(&*panic) }),
            None => Ok(()),
        }
    }

    fn send(&self, task: Task) {
        if let Some(tasks) = &self.tasks {
            // A thread that is gone has told its trouble already.
            let _ = tasks.send(task);
        }
    }
}

/// One that was not finished, because something else failed, falls silent and is waited for, as long as that makes sense: the
/// process may not end as usual while the thread is inside the library of the voice, as with
/// [`JudgeThread`](crate::listen::JudgeThread).
impl Drop for VoiceThread {
    fn drop(&mut self) {
        self.tasks = None;
        if let Some(thread) = self.thread.take() {
            // A file, too: what it was to hold has no reader any more.
            self.hurry();
            parting::part(thread, WRITING);
        }
    }
}

/// A fault of the program as an error like any other.
fn unless_it_panics<T>(work: impl FnOnce() -> Result<T, SpeakError>) -> Result<T, SpeakError> {
    let fault = |panic: Box<dyn std::any::Any + Send>| Err(SpeakError::Voice { reason: panic_words(&*panic) });
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(fault)
}

/// An order that was given, until it is said or dropped.
struct Given(Arc<State>);

impl Drop for Given {
    fn drop(&mut self) {
        self.0.orders.fetch_sub(1, Ordering::SeqCst);
    }
}

struct Worker {
    mouth: Mouth,
    outlet: Outlet,
    /// `None` while the loudspeaker is lost.
    place: Option<Place>,
    /// When a lost one is to be tried again.
    again: Instant,
    /// Why it was lost, until it is tried again for the first time: one that merely stumbled is no news.
    stumbled: Option<String>,
    /// What could not be said for want of a loudspeaker: only the last of it, because that is what the user has to answer
    /// to.
    unsaid: Option<Ordered>,
    hold: Hold,
    state: Arc<State>,
    trouble: Sender<Trouble>,
    end: Sender<(u64, Instant)>,
    ahead: (Vec<String>, f32),
    /// Why nothing can be said any more.
    over: Option<SpeakError>,
    /// Orders in a row that could not be said for a reason that has nothing to do with the loudspeaker.
    faults: u32,
}

impl Worker {
    fn run(mut self, inbox: &Receiver<Task>) -> Result<(), SpeakError> {
        loop {
            let idle = if self.place.is_none() { FIRST_RETRY } else { IDLE };
            let patience = if self.ahead.0.is_empty() { idle } else { Duration::ZERO };
            match inbox.recv_timeout(patience) {
                Ok(Task::Say(ordered)) => {
                    let _said = Given(self.state.clone());
                    // A fault of the program costs one order.
                    let said = catch_unwind(AssertUnwindSafe(|| self.say(&ordered)));
                    if let Err(panic) = said {
                        self.fault(SpeakError::Voice { reason: panic_words(&*panic) });
                    }
                    if let Some(error) = self.over.take() {
                        return Err(error);
                    }
                }
                Ok(Task::Foresee(texts, pace)) => self.ahead = (texts, pace),
                Err(RecvTimeoutError::Timeout) => {
                    if catch_unwind(AssertUnwindSafe(|| self.prepare())).is_err() {
                        // It is tried again, and told, when it is to be said.
                        self.ahead.0.clear();
                    }
                    if let Err(panic) = catch_unwind(AssertUnwindSafe(|| self.look())) {
                        self.fault(SpeakError::Voice { reason: panic_words(&*panic) });
                    }
                    if let Some(error) = self.over.take() {
                        return Err(error);
                    }
                }
                Err(RecvTimeoutError::Disconnected) => break,
            }
        }
        match self.place {
            Some(Place::File(file)) => file.finish(),
            _ => Ok(()),
        }
    }

    fn say(&mut self, ordered: &Ordered) {
        self.look();
        if let Some(place) = &mut self.place {
            place.sink().begin();
        }
        let state = self.state.clone();
        let wanted = || state.hushes.load(Ordering::SeqCst) == ordered.hushes;
        if !wanted() {
            return;
        }
        let Some(place) = &mut self.place else {
            self.unsaid = Some(ordered.clone());
            return;
        };
        self.unsaid = None;
        let said = self.mouth.say(&ordered.order, place.sink(), &wanted).map(drop).and_then(|()| place.wait(&wanted));
        match said {
            Ok(()) => {
                self.faults = 0;
                if wanted() && matches!(place, Place::Loudspeaker(_)) {
                    // Nobody there to hear it means that the session is over.
                    let _ = self.end.send((ordered.number, Instant::now()));
                }
            }
            Err(error) => {
                self.lose(error);
                if self.place.is_none() {
                    self.unsaid = Some(ordered.clone());
                }
            }
        }
    }

    fn prepare(&mut self) {
        let (texts, pace) = &self.ahead;
        match self.mouth.prepare(texts, *pace) {
            Ok(false) => {}
            // What cannot be made now is tried again, and told, when it is to be said.
            Ok(true) | Err(_) => self.ahead.0.clear(),
        }
    }

    fn lose(&mut self, error: SpeakError) {
        if matches!(self.place, Some(Place::Loudspeaker(_))) && matches!(error, SpeakError::LoudspeakerLost { .. }) {
            self.place = None;
            self.again = Instant::now() + FIRST_RETRY;
            debug!("{error}");
            self.stumbled = Some(error.to_string());
        } else {
            self.fault(error);
        }
    }

    /// Something could not be said although there is a loudspeaker. A tone says that there was something, and after some of
    /// them in a row that it is no use to go on.
    fn fault(&mut self, error: SpeakError) {
        self.faults += 1;
        self.tell(Trouble::failure(error.to_string()));
        if self.faults >= FAULTS {
            self.state.failed.store(true, Ordering::SeqCst);
            self.over = Some(error);
            if let Some(place) = &mut self.place {
                place.last_tone();
            }
        } else if let Some(place) = &mut self.place {
            // If that fails as well, the next order tells.
            let _ = place.tone(Tone::NotUnderstood);
        }
    }

    /// Looks after the loudspeaker: one that has died is told, one that is lost is tried again from time to time.
    fn look(&mut self) {
        if let Some(error) = self.place.as_ref().and_then(Place::failure) {
            self.lose(error);
        }
        if self.place.is_some() || Instant::now() < self.again {
            return;
        }
        // Opening waits for the device; nothing could be said meanwhile anyway.
        self.place = Place::open(&self.outlet, &self.hold).ok();
        self.again = Instant::now() + RETRY;
        let stumbled = self.stumbled.take();
        if self.place.is_none() {
            if let Some(reason) = stumbled {
                self.tell(Trouble::lost(Notice::LoudspeakerLost, reason));
            }
        } else {
            if stumbled.is_none() {
                self.tell(Trouble::over(Notice::LoudspeakerBack));
            }
            if let Some(ordered) = self.unsaid.take() {
                self.state.orders.fetch_add(1, Ordering::SeqCst);
                let _said = Given(self.state.clone());
                self.say(&ordered);
            }
        }
    }

    fn tell(&self, trouble: Trouble) {
        // Nobody there to hear it means that the session is over.
        let _ = self.trouble.send(trouble);
    }
}
