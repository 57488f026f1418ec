//! What asks from outside for the end.
//!
//! A thread of its own listens for it, so that whoever asks has it even where the session hangs: what was asked is told to the
//! session, and one that does not end its work soon is ended, at a second Ctrl-C at once. Nothing is lost by that which was
//! acknowledged: a fact is on disk before it is told. What the session makes of the question is the loop's to say.

use super::keyboard;
use crate::{hurry, parting};
use std::io;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};
use tokio::runtime::{Builder, Runtime};
use tokio::signal::unix::{Signal, SignalKind, signal};
use tokio::sync::Notify;

/// So long a session may take to end its work.
const PATIENCE: Duration = Duration::from_millis(200);
/// How often it is looked whether it has.
const LOOK: Duration = Duration::from_millis(10);

/// The session that is asked; there is one at a time.
static SESSION: Mutex<Option<Arc<Asked>>> = Mutex::new(None);
/// Somebody listens, and does until the process ends.
static LISTENS: Mutex<bool> = Mutex::new(false);

#[derive(Default)]
struct Asked {
    told: Notify,
    /// The session has ended its work; what is left has limits of its own.
    over: AtomicBool,
}

/// Ctrl-C, a polite kill, a terminal that closes, as a session hears of them from its start to its end.
pub(super) struct Interrupts(Arc<Asked>);

impl Interrupts {
    pub(super) fn listen() -> io::Result<Interrupts> {
        let asked = Arc::new(Asked::default());
        *SESSION.lock().unwrap_or_else(PoisonError::into_inner) = Some(asked.clone());
        let mut listens = LISTENS.lock().unwrap_or_else(PoisonError::into_inner);
        if !*listens {
            let runtime = Builder::new_current_thread().enable_all().build()?;
            let signals = {
                let _within = runtime.enter();
                Signals::listen()?
            };
            thread::Builder::new().name("interrupts".into()).spawn(move || watch(&runtime, signals))?;
            *listens = true;
        }
        Ok(Interrupts(asked))
    }

    /// Somebody asks for the end.
    pub(super) async fn next(&mut self) {
        self.0.told.notified().await;
    }

    /// The session has ended its work: it was not held up by anything, and need not be ended.
    pub(super) fn over(&self) {
        self.0.over.store(true, Ordering::SeqCst);
    }
}

impl Drop for Interrupts {
    fn drop(&mut self) {
        self.over();
        let mut session = SESSION.lock().unwrap_or_else(PoisonError::into_inner);
        if session.as_ref().is_some_and(|asked| Arc::ptr_eq(asked, &self.0)) {
            *session = None;
        }
    }
}

struct Signals([Signal; 3]);

impl Signals {
    fn listen() -> io::Result<Signals> {
        let kinds = [SignalKind::interrupt(), SignalKind::terminate(), SignalKind::hangup()];
        let [a, b, c] = kinds.map(signal);
        Ok(Signals([a?, b?, c?]))
    }

    /// The number of the next one.
    async fn next(&mut self) -> i32 {
        let [a, b, c] = &mut self.0;
        tokio::select! {
            _ = a.recv() => libc::SIGINT,
            _ = b.recv() => libc::SIGTERM,
            _ = c.recv() => libc::SIGHUP,
        }
    }

    /// Ctrl-C again. A shell and its terminal both tell that they close, which is no impatience.
    async fn again(&mut self) -> i32 {
        loop {
            let next = self.next().await;
            if next == libc::SIGINT {
                return next;
            }
        }
    }
}

/// The life of the thread.
fn watch(runtime: &Runtime, mut signals: Signals) {
    runtime.block_on(async {
        let first = signals.next().await;
        hurry::hurry();
        let asked = SESSION.lock().unwrap_or_else(PoisonError::into_inner).clone();
        // Between sessions and behind the last one nobody is asked.
        let Some(asked) = asked else { go(first) };
        asked.told.notify_one();
        let (began, starved) = (Instant::now(), starved());
        while !asked.over.load(Ordering::SeqCst) && began.elapsed() < PATIENCE + self::starved().saturating_sub(starved)
        {
            tokio::select! {
                again = signals.again() => go(again),
                () = tokio::time::sleep(LOOK) => {}
            }
        }
        if !asked.over.load(Ordering::SeqCst) {
            go(first);
        }
        go(signals.again().await)
    });
}

/// How long the session was ready to go on and had no processor: on a machine that is busy with other work it does not hang.
fn starved() -> Duration {
    // Of the first thread, which runs it. Where the system does not tell, it is never.
    let told = std::fs::read_to_string("/proc/self/schedstat").unwrap_or_default();
    Duration::from_nanos(told.split(' ').nth(1).and_then(|told| told.parse().ok()).unwrap_or(0))
}

/// Ends the process as a shell tells of one that ended by this signal, and leaves the terminal as it was.
fn go(signal: i32) -> ! {
    keyboard::give_back();
    parting::go(u8::try_from(128 + signal).unwrap_or(u8::MAX))
}
