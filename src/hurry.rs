//! Whether somebody waits for the end: from then on little is waited for.

use std::sync::atomic::{AtomicBool, Ordering};

/// Somebody asked from outside for the end.
static HURRIED: AtomicBool = AtomicBool::new(false);

/// From now on little is waited for.
pub(crate) fn hurry() {
    HURRIED.store(true, Ordering::SeqCst);
}

/// Is little waited for?
pub(crate) fn is_hurried() -> bool {
    HURRIED.load(Ordering::SeqCst)
}
