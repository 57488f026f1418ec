//! Time as waits and timers know it: it only grows, and holds what passed while the program watched.
//!
//! The moments of commands come from a clock that grows steadily while a session lasts, but from one session to the next
//! it may have been set, or the machine may have none that runs without power. So what passed in between is not known,
//! ends no wait, and is asked about. This time begins as the moment at which the job was begun.

use super::work::Work;
use super::{At, Command, Edition, Job, Question, Say, answer};

/// So long a job may well lie. A clock that goes on by more was set: 400 days.
const LONG: i64 = 400 * 24 * 3_600_000;

/// How a job comes to its time.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Watch {
    /// The time at the last command that changed the job.
    time: At,
    /// The moment of that command.
    seen: At,
    /// The time at which the job was last taken up again.
    taken_up: Option<At>,
}

impl Watch {
    /// The watch after this command.
    fn after(self, begun: bool, edition: Edition, command: &Command, at: At) -> Watch {
        if !begun || edition < Edition::Second {
            return Watch { time: at, seen: at, taken_up: None };
        }
        match command {
            Command::Resume => Watch { seen: at, taken_up: Some(self.time), ..self },
            _ => Watch { time: self.at(at), seen: at, ..self },
        }
    }

    /// Was the job taken up again at this time or later?
    pub(super) fn is_taken_up_since(self, time: At) -> bool {
        self.taken_up.is_some_and(|taken_up| taken_up >= time)
    }

    /// The time at a moment of the same session.
    fn at(self, at: At) -> At {
        At(self.time.0.saturating_add(at.0.saturating_sub(self.seen.0).max(0)))
    }
}

impl Job {
    /// The watch, if the command being applied changes the job.
    pub(super) fn watch_after(&self, command: &Command, at: At) -> Watch {
        self.watch.after(self.phase.is_some(), self.edition, command, at)
    }

    /// The time of the command being applied.
    pub(super) fn time(&self) -> At {
        self.now.time
    }

    /// Milliseconds from a moment of the session that runs until the next timer is due; not more than 0 once it is.
    pub fn until_due(&self, at: At) -> Option<i64> {
        Some(self.next_due()?.0.saturating_sub(self.watch.at(at).0))
    }

    /// Was the machine's clock set since the last entry, as far as can be seen?
    pub(super) fn clock_was_set(&self) -> bool {
        let away = self.now.seen.0.saturating_sub(self.watch.seen.0);
        self.edition >= Edition::Second && !(0..=LONG).contains(&away)
    }

    /// Was the job ever taken up again, so that a timer may have begun before that?
    pub(super) fn was_away(&self) -> bool {
        self.now.taken_up.is_some()
    }

    /// Asks whether the time of a wait has passed.
    pub(super) fn ask_wait(&mut self, minutes: u32, due: At) -> Vec<Say> {
        let began = At(due.0.saturating_sub(i64::from(minutes) * 60_000));
        let unwatched = self.now.taken_up.is_some_and(|taken_up| taken_up >= began);
        let minutes_left = answer::minutes_until(due, self.time());
        self.ask(Question::Wait { minutes_left, unwatched })
    }

    /// A job is taken up again in the middle of a wait: how much of it passed meanwhile, only the user knows.
    pub(super) fn wait_taken_up(&mut self) -> Option<Vec<Say>> {
        if !matches!(self.question, None | Some(Question::Wait { .. })) {
            return None;
        }
        let Work::Wait { minutes } = self.work() else { return None };
        let due = self.ledger.due(self.step)?;
        Some(self.ask_wait(minutes, due))
    }

    /// What is left on the timers of a job that is taken up again, but for the wait of the step in hand.
    pub(super) fn timers_left(&self) -> Vec<Say> {
        let wait = self.ledger.due(self.step);
        let limit = |due: At| (0..self.book.steps.len()).any(|step| self.ledger.limit(step) == Some(due));
        let mut timers: Vec<At> = self.timers.iter().copied().filter(|&due| Some(due) != wait && !limit(due)).collect();
        timers.sort_unstable();
        timers.into_iter().map(|due| Say::TimerLeft { minutes: answer::minutes_until(due, self.time()) }).collect()
    }
}
