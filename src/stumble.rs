//! Tells a sound device that stumbles from one that is dead.
//!
//! Knows when a stream reports errors and how often it works between them; used on both sides of the house. Some sound
//! servers, spoken to through ALSA, answer "I/O error" now and then and go on playing: to open such a stream anew would
//! cost half a second of speech. A dead one reports errors without end, as fast as it is let.

use std::thread;
use std::time::{Duration, Instant};

/// A stream that reports errors for so long, and does nothing else, is dead.
const DEAD: Duration = Duration::from_millis(300);
/// A wait after each error, so that a dead stream does not keep a processor busy until it is closed.
const WAIT: Duration = Duration::from_millis(3);

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
