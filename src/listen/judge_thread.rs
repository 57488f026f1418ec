//! A second listener on a thread of its own: it is loaded there, so that the first one need not wait for it, and it is waited
//! for no longer than a moment, so that one that hangs holds nobody up.
//!
//! Whoever asks for a judgement before it is there waits for it: without its word other phrases would be believed than
//! with it. The microphone goes on meanwhile; its ring holds far more than the loading takes. One that does not answer is asked
//! no more, which is told once.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender, TryRecvError};
use std::sync::{Arc, OnceLock};
use std::thread::{Builder, JoinHandle};
use std::time::Duration;

use tracing::debug;

use super::{Encoding, Judge, Judgement, ListenError, Phrase, Rule, Written};
use crate::parting::{self, panic_words};

/// What takes longer hangs. An answer takes a fraction of a second.
const PATIENCE: Duration = Duration::from_secs(4);
/// The same where it is still being loaded: less than the sound that may wait for it.
const LOADING: Duration = Duration::from_secs(12);
/// How long its thread gets to end. It may be loading still, and what is being loaded should not be left.
const PARTING: Duration = Duration::from_secs(10);

type Asked<J> = Box<dyn FnOnce(&mut J) + Send>;

/// A second listener that is being loaded, or has been.
pub struct JudgeThread<J> {
    /// Nothing once it is given up.
    ask: Option<Sender<Asked<J>>>,
    loaded: Receiver<Result<(), ListenError>>,
    /// What its word counts for, once it is there.
    there: Arc<OnceLock<Rule>>,
    thread: Option<JoinHandle<()>>,
    /// It could not be loaded, and that was told.
    failed: bool,
    /// Why it was given up, until it is told.
    lost: Option<String>,
    patience: Duration,
}

impl<J: Judge + Send + 'static> JudgeThread<J> {
    /// Begins to load it.
    pub fn load(load: impl FnOnce() -> Result<J, ListenError> + Send + 'static) -> Result<Self, ListenError> {
        let (ask, asked) = mpsc::channel::<Asked<J>>();
        let (tell, loaded) = mpsc::channel();
        let there = Arc::new(OnceLock::new());
        let for_thread = there.clone();
        let serve = move || {
            let mut judge = match load() {
                Ok(judge) => judge,
                // Nobody there to hear it means that nobody waits for one.
                Err(error) => return drop(tell.send(Err(error))),
            };
            debug!("the second listener is there");
            // Set once only, here.
            let _ = for_thread.set(judge.rule());
            let _ = tell.send(Ok(()));
            while let Ok(asked) = asked.recv() {
                asked(&mut judge);
            }
        };
        let thread = Builder::new().name("second listener".into()).spawn(serve).map_err(|e| failed(e.to_string()))?;
        let thread = Some(thread);
        Ok(Self { ask: Some(ask), loaded, there, thread, failed: false, lost: None, patience: PATIENCE })
    }

    /// The same, given up after so long without an answer.
    pub fn patient(mut self, patience: Duration) -> Self {
        self.patience = patience;
        self
    }

    /// Asks for something, and waits for it, but not for ever.
    fn ask<T: Send + 'static>(
        &mut self,
        what: impl FnOnce(&mut J) -> Result<T, ListenError> + Send + 'static,
    ) -> Result<T, ListenError> {
        let gone = || failed("it does not answer any more".into());
        let (tell, told) = mpsc::channel();
        let asked: Asked<J> = Box::new(move |judge| {
            let done = catch_unwind(AssertUnwindSafe(|| what(judge)));
            // Who has given it up wants no answer.
            let _ = tell.send(done.unwrap_or_else(|panic| Err(failed(panic_words(&*panic)))));
        });
        self.ask.as_ref().ok_or_else(gone)?.send(asked).map_err(|_| failed("it could not be loaded".into()))?;
        let patience = if self.is_there() { self.patience } else { self.patience.max(LOADING) };
        match told.recv_timeout(patience) {
            Ok(answer) => answer,
            Err(RecvTimeoutError::Disconnected) => Err(failed("it could not be loaded".into())),
            Err(RecvTimeoutError::Timeout) => {
                self.ask = None;
                self.lost = Some(format!("the second listener has not answered for {} s", patience.as_secs()));
                Err(gone())
            }
        }
    }
}

/// What is being loaded is waited for: a process that ends while a thread is inside a library written in C++ takes from
/// under it what that library put up at its start, and is brought down instead of ending. One that hangs is left behind.
impl<J> Drop for JudgeThread<J> {
    fn drop(&mut self) {
        let patience = if self.ask.take().is_some() { PARTING } else { Duration::ZERO };
        if let Some(thread) = self.thread.take() {
            // Nobody is left to hear how it went.
            parting::part(thread, patience);
        }
    }
}

impl<J: Judge + Send + 'static> Judge for JudgeThread<J> {
    fn judge(&mut self, samples: &[f32], phrases: &[Phrase]) -> Result<Judgement, ListenError> {
        let (samples, phrases) = (samples.to_vec(), phrases.to_vec());
        self.ask(move |judge| judge.judge(&samples, &phrases))
    }

    fn rule(&self) -> Rule {
        self.there.get().cloned().unwrap_or_else(Rule::by_decoder)
    }

    fn write(&mut self, samples: &[f32], phrase: &str) -> Result<Option<Written>, ListenError> {
        let (samples, phrase) = (samples.to_vec(), phrase.to_owned());
        self.ask(move |judge| judge.write(&samples, &phrase))
    }

    fn encode(&mut self, samples: &[f32]) -> Result<Option<Encoding>, ListenError> {
        let samples = samples.to_vec();
        self.ask(move |judge| judge.encode(&samples))
    }

    fn look(&mut self) -> Result<(), ListenError> {
        // One that was given up and told may come back or end as it likes.
        if self.ask.is_none() {
            return Ok(());
        }
        let told = match self.loaded.try_recv() {
            Ok(Err(error)) => error,
            Err(TryRecvError::Disconnected) if !self.is_there() => failed("loading it ended without a word".into()),
            Ok(Ok(())) | Err(_) => return Ok(()),
        };
        if std::mem::replace(&mut self.failed, true) { Ok(()) } else { Err(told) }
    }

    fn is_there(&self) -> bool {
        self.ask.is_some() && self.there.get().is_some()
    }

    fn lost(&mut self) -> Option<String> {
        self.lost.take()
    }
}

fn failed(reason: String) -> ListenError {
    ListenError::Engine { engine: "second listener", reason }
}
