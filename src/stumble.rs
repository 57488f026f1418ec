//! Tells a sound device that stumbles from one that is dead, and opens one without a wait that has no end.
//!
//! Knows when a stream reports errors and how often it works between them; used on both sides of the house. Some sound
//! servers, spoken to through ALSA, answer "I/O error" now and then and go on playing: to open such a stream anew would
//! cost half a second of speech. A dead one reports errors without end, as fast as it is let.

use crate::parting::{self, panic_words};
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::mpsc::{self, RecvTimeoutError, Sender};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// A stream that reports errors for so long, and does nothing else, is dead.
const DEAD: Duration = Duration::from_millis(300);
/// A wait after each error, so that a dead stream does not keep a processor busy until it is closed.
const WAIT: Duration = Duration::from_millis(3);

/// A device may take seconds to open and then seconds to prove that it works. What takes longer hangs.
const OPENING: Duration = Duration::from_secs(15);
/// So many that hang while they are opened, and no more are tried until one of them has ended.
const HANGING: u32 = 4;

/// Opens devices of one kind, each on a thread of its own that then owns it.
#[derive(Debug)]
pub struct Opener {
    name: &'static str,
    patience: Duration,
    /// How many hang while they are opened.
    hanging: Arc<AtomicU32>,
}

impl Opener {
    /// For threads of this name.
    pub fn new(name: &'static str) -> Opener {
        Opener { name, patience: OPENING, hanging: Arc::default() }
    }

    /// Has `own` open one. It tells what it has opened, or why not, and owns the device from then on. One that hangs is left behind;
    /// a fault in it is a reason like any other.
    pub fn open<T: Send + 'static>(
        &self,
        own: impl FnOnce(&Sender<Result<T, String>>) + Send + 'static,
    ) -> Result<(T, JoinHandle<()>), String> {
        let hangs = || "it hangs while it is opened".to_owned();
        if self.hanging.load(Ordering::SeqCst) >= HANGING {
            return Err(hangs());
        }
        let (tell, told) = mpsc::channel();
        let owner = thread::Builder::new().name(self.name.into()).spawn(move || own(&tell));
        let owner = owner.map_err(|error| error.to_string())?;
        match told.recv_timeout(self.patience) {
            Ok(opened) => opened.map(|opened| (opened, owner)),
            Err(RecvTimeoutError::Disconnected) => Err(match owner.join() {
                Err(panic) => panic_words(&*panic),
                Ok(()) => "opening it failed without a reason".into(),
            }),
            Err(RecvTimeoutError::Timeout) => {
                self.hanging.fetch_add(1, Ordering::SeqCst);
                let hanging = self.hanging.clone();
                // Whoever waits for its end costs nothing. Without it, it is taken to hang for good.
                let _ = thread::Builder::new().name("hanging".into()).spawn(move || {
                    let _ = owner.join();
                    hanging.fetch_sub(1, Ordering::SeqCst);
                });
                parting::leave_behind();
                Err(hangs())
            }
        }
    }
}

/// The errors of one stream. Its owner asks at each one, on the thread that reports it.
#[derive(Debug, Default)]
pub struct Stumbles {
    /// How often the stream had worked when the errors began, and when that was.
    began: Option<(u64, Instant)>,
}

impl Stumbles {
    /// Whether the error may pass: the stream, which has worked so many times by now, may work again. Waits a moment.
    pub fn may_pass(&mut self, worked: u64) -> bool {
        let began = match self.began {
            Some((before, began)) if before == worked => began,
            _ => {
                let now = Instant::now();
                self.began = Some((worked, now));
                now
            }
        };
        thread::sleep(WAIT);
        began.elapsed() < DEAD
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_that_hangs_or_has_a_fault_while_it_is_opened_is_told_and_holds_nobody() {
        let opener = Opener::new("device");
        let (opened, owner) = opener.open(|tell| drop(tell.send(Ok(7)))).unwrap();
        assert_eq!((opened, owner.join().is_ok()), (7, true));
        assert_eq!(opener.open::<()>(|tell| drop(tell.send(Err("busy".into())))).unwrap_err(), "busy");
        let panics = opener.open::<()>(|_| panic!("no such channel")).unwrap_err();
        assert_eq!(panics, "a fault of the program: no such channel");
        assert_eq!(opener.open::<()>(|_| ()).unwrap_err(), "opening it failed without a reason");
        // To print where a fault was can take long on a busy machine; these hang however long it is.
        let opener = Opener { patience: Duration::from_millis(50), ..opener };
        let began = Instant::now();
        let (go, wait) = mpsc::channel::<()>();
        let wait = Arc::new(std::sync::Mutex::new(wait));
        for _ in 0..HANGING {
            let wait = wait.clone();
            let hangs = opener.open::<()>(move |_| drop(wait.lock().map(|wait| wait.recv())));
            assert_eq!(hangs.unwrap_err(), "it hangs while it is opened");
        }
        // No thread for each time that it is tried, for hours.
        assert!(opener.open(|tell| drop(tell.send(Ok(7)))).is_err());
        assert!(began.elapsed() < OPENING, "{:?}", began.elapsed());
        drop(go);
        let opener = Opener { patience: OPENING, ..opener };
        while opener.open(|tell| drop(tell.send(Ok(7)))).is_err() {
            assert!(began.elapsed() < 2 * OPENING, "it is not tried again");
            thread::sleep(Duration::from_millis(5));
        }
    }

    #[test]
    fn one_that_goes_on_working_is_not_dead() {
        let mut stumbles = Stumbles::default();
        for worked in 0..150 {
            assert!(stumbles.may_pass(worked));
        }
    }

    #[test]
    fn one_that_does_nothing_else_is_dead_and_no_processor_is_kept_busy() {
        let mut stumbles = Stumbles::default();
        let began = Instant::now();
        let mut errors = 0;
        while stumbles.may_pass(7) {
            errors += 1;
        }
        assert!((DEAD..DEAD * 4).contains(&began.elapsed()), "{:?}", began.elapsed());
        assert!(errors <= 100, "{errors}");
    }
}
