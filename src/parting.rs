//! Going without waiting for what hangs.
//!
//! A thread inside a library written in C++ cannot be ended from outside, and a process that ends while one is there is
//! brought down by the library's own tidying up. So a thread gets a moment to end by itself; if it does not, the program goes
//! without that tidying up. What matters is on disk before.

use crate::printing;
use std::process::ExitCode;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

const LOOK: Duration = Duration::from_millis(2);

/// A thread of this process was left behind.
static LEFT_BEHIND: AtomicBool = AtomicBool::new(false);

/// A thread that is not waited for any more may be inside a library at the end.
pub(crate) fn leave_behind() {
    LEFT_BEHIND.store(true, Ordering::SeqCst);
}

/// Waits so long for a thread to end, and gives what came of it. One that does not end is left behind.
pub(crate) fn part<T>(thread: JoinHandle<T>, patience: Duration) -> Option<thread::Result<T>> {
    let until = Instant::now() + patience;
    while !thread.is_finished() {
        if Instant::now() >= until {
            leave_behind();
            return None;
        }
        thread::sleep(LOOK);
    }
    Some(thread.join())
}

/// What a panic said.
pub(crate) fn panic_words(panic: &(dyn std::any::Any + Send)) -> String {
    let words = panic.downcast_ref::<String>().map(String::as_str).or_else(|| panic.downcast_ref::<&str>().copied());
    format!("a fault of the program: {}", words.unwrap_or("it does not say which"))
}

/// The last thing the program does: gives its exit code, or goes with it at once if a thread was left behind.
pub(crate) fn leave(code: u8) -> ExitCode {
    let printed = printing::finish();
    if !printed || LEFT_BEHIND.load(Ordering::SeqCst) {
        go(code);
    }
    ExitCode::from(code)
}

/// Goes at once, whatever the other threads do.
#[cfg(target_os = "linux")]
#[allow(unsafe_code)]
pub(crate) fn go(code: u8) -> ! {
    // SAFETY: ends the process and touches none of its memory.
    unsafe { libc::_exit(i32::from(code)) }
}

#[cfg(not(target_os = "linux"))]
pub(crate) fn go(code: u8) -> ! {
    std::process::exit(i32::from(code))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc;

    #[test]
    fn a_thread_that_ends_gives_what_came_of_it_and_one_that_hangs_is_left() {
        assert_eq!(part(thread::spawn(|| 7), Duration::from_secs(5)).and_then(Result::ok), Some(7));
        let (go, wait) = mpsc::channel::<()>();
        let began = Instant::now();
        assert!(part(thread::spawn(move || wait.recv()), Duration::from_millis(20)).is_none());
        assert!(began.elapsed() < Duration::from_secs(2));
        drop(go);
    }
}
