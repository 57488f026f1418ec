//! Holds the recogniser's process, so that it can be ended by whoever does not wait for it.
//!
//! The thread that listens may be waiting for an answer when the session ends. Killing the process closes its output, and
//! with that the wait is over.

use std::process::Child;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

/// A killed process is gone within a moment; one that hangs in the system's own hands is not waited for.
const GOING: Duration = Duration::from_millis(200);
const LOOK: Duration = Duration::from_millis(2);

/// At most one process at a time.
#[derive(Default)]
pub(super) struct Leash {
    child: Mutex<Option<Child>>,
    halted: AtomicBool,
}

impl Leash {
    /// Holds this one from now on; after a halt it is ended at once.
    pub fn hold(&self, child: Child) {
        *self.child() = Some(child);
        if self.is_halted() {
            self.kill();
        }
    }

    /// The number of the process, while there is one.
    pub fn id(&self) -> Option<u32> {
        self.child().as_ref().map(Child::id)
    }

    /// How it ended, if it has.
    pub fn ended(&self) -> Option<String> {
        self.child().as_mut()?.try_wait().ok().flatten().map(|status| status.to_string())
    }

    /// Ends the process, whatever it is doing.
    pub fn kill(&self) {
        let Some(mut child) = self.child().take() else { return };
        // Fails only on one that is gone already, which is what is wanted.
        let _ = child.kill();
        let patience = Instant::now() + GOING;
        while matches!(child.try_wait(), Ok(None)) && Instant::now() < patience {
            thread::sleep(LOOK);
        }
    }

    /// Ends it for good: none is started in its place.
    pub fn halt(&self) {
        self.halted.store(true, Ordering::SeqCst);
        self.kill();
    }

    /// Is it ended for good?
    pub fn is_halted(&self) -> bool {
        self.halted.load(Ordering::SeqCst)
    }

    fn child(&self) -> MutexGuard<'_, Option<Child>> {
        self.child.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
