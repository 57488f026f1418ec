//! The moments that a job is told: the clock of the machine as it stood when the program started, and from then on a
//! clock that nobody can set. So while the program runs they only grow, whatever network time or a hand does meanwhile.
//!
//! Sleep of the machine counts: [`look`] finds it by the time the machine has been up. It also notices that the clock
//! was set, for whoever wants to tell it.

use crate::job::At;
use std::sync::{LazyLock, Mutex, PoisonError};
use std::time::Instant;

/// Less than this is a clock that is being kept right, milliseconds.
const SET: i64 = 60_000;

/// Less than this is two clocks that were not read at the same moment, milliseconds.
const ASLEEP: i64 = 2_000;

static STARTED: LazyLock<Instant> = LazyLock::new(Instant::now);
static CLOCK: LazyLock<Mutex<Clock>> = LazyLock::new(|| Mutex::new(Clock::new(Shown::now())));

/// The moment now.
pub fn now() -> At {
    CLOCK.lock().unwrap_or_else(PoisonError::into_inner).at(steady())
}

/// Looks whether the machine slept, and whether its clock was set: then by how many milliseconds that is ahead of
/// [`now`]. Each time it is set is told once.
pub fn look() -> Option<i64> {
    CLOCK.lock().unwrap_or_else(PoisonError::into_inner).look(Shown::now())
}

/// What the clocks of the machine show, in milliseconds.
#[derive(Debug, Clone, Copy)]
struct Shown {
    /// Since the Unix epoch; can be set.
    wall: i64,
    /// Since the program started, sleep left out.
    steady: i64,
    /// Since the machine started, sleep and all; not known everywhere.
    up: Option<i64>,
}

impl Shown {
    fn now() -> Shown {
        Shown { wall: jiff::Timestamp::now().as_millisecond(), steady: steady(), up: up() }
    }
}

fn steady() -> i64 {
    i64::try_from(STARTED.elapsed().as_millis()).unwrap_or(i64::MAX)
}

fn up() -> Option<i64> {
    let text = std::fs::read_to_string("/proc/uptime").ok()?;
    let seconds: f64 = text.split_whitespace().next()?.parse().ok()?;
    Some((seconds * 1000.0) as i64)
}

#[derive(Debug)]
struct Clock {
    began: Shown,
    /// So long the machine slept.
    asleep: i64,
    /// By how much the wall clock was ahead when that was told last.
    told: i64,
}

impl Clock {
    fn new(began: Shown) -> Clock {
        Clock { began, asleep: 0, told: 0 }
    }

    fn at(&self, steady: i64) -> At {
        At(self.began.wall.saturating_add(steady.saturating_sub(self.began.steady)).saturating_add(self.asleep))
    }

    fn look(&mut self, shown: Shown) -> Option<i64> {
        if let (Some(up), Some(before)) = (shown.up, self.began.up) {
            let asleep = (up - before) - (shown.steady - self.began.steady);
            if asleep > self.asleep + ASLEEP {
                self.asleep = asleep;
            }
        }
        let ahead = shown.wall.saturating_sub(self.at(shown.steady).0);
        (ahead.abs_diff(self.told) > SET.unsigned_abs()).then(|| {
            self.told = ahead;
            ahead
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const MINUTE: i64 = 60_000;

    #[test]
    fn a_clock_that_was_set_is_told_once_and_moves_nothing() {
        let mut clock = Clock::new(Shown { wall: 1_000, steady: 0, up: Some(0) });
        let shown = |minutes, wall| Shown { wall, steady: minutes * MINUTE, up: Some(minutes * MINUTE) };
        assert_eq!(clock.look(shown(1, MINUTE + 1_000)), None);
        let set = 1_790_000_000_000;
        assert_eq!(clock.look(shown(2, set)), Some(set - 2 * MINUTE - 1_000));
        assert_eq!(clock.look(shown(3, set + MINUTE)), None, "it was told");
        assert_eq!(clock.at(3 * MINUTE), At(3 * MINUTE + 1_000));
        assert_eq!(clock.look(shown(4, 0)), Some(-4 * MINUTE - 1_000), "and back");
    }

    #[test]
    fn sleep_of_the_machine_counts_and_is_no_set_clock() {
        let mut clock = Clock::new(Shown { wall: 0, steady: 0, up: Some(7_000) });
        let after = Shown { wall: 61 * MINUTE, steady: MINUTE, up: Some(7_000 + 61 * MINUTE) };
        assert_eq!(clock.look(after), None);
        assert_eq!(clock.at(MINUTE), At(61 * MINUTE));
    }

    proptest! {
        /// However the wall clock is set and the machine sleeps, the moments only grow, and by what passed.
        #[test]
        fn moments_only_grow(turns in prop::collection::vec((any::<i64>(), 0..10_000_000i64, 0..10_000_000i64), 1..40)) {
            let (mut steady, mut up) = (0, 500);
            let mut clock = Clock::new(Shown { wall: 1_790_000_000_000, steady, up: Some(up) });
            let mut last = clock.at(steady);
            for (wall, awake, asleep) in turns {
                let before = clock.at(steady);
                (steady, up) = (steady + awake, up + awake + asleep);
                prop_assert!(clock.at(steady) >= last, "before anybody looked");
                clock.look(Shown { wall, steady, up: Some(up) });
                let now = clock.at(steady);
                prop_assert!(now >= last);
                prop_assert!(now.0 - before.0 <= awake + asleep + ASLEEP);
                last = now;
            }
        }
    }
}
