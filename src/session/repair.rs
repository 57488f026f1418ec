//! What is done about words that were only half heard: a doubtful command is asked back, a second miss in a row brings
//! help.
//!
//! Knows what was asked last, and when. The question is the conversation's own and no question of the job: until it is
//! answered with yes nothing has happened, and whatever else is said puts an end to it.

use crate::dialogue::{Meaning, Talk};
use crate::job::{At, Command};

/// A yes that comes later than this answers something else.
const WAITS: i64 = 20_000;

/// The state of it.
#[derive(Debug, Default)]
pub(super) struct Repair {
    asked: Option<(Meaning, At)>,
    /// Commands in a row that were nearly heard.
    misses: u32,
}

/// What somebody's words are to a question that was asked back.
#[derive(Debug, PartialEq)]
pub(super) enum Answered {
    /// That was meant.
    Yes(Meaning),
    /// That was not meant.
    No,
    /// Nothing was asked, or these words are no answer to it.
    Other,
}

impl Repair {
    /// Asks whether this was meant.
    pub fn ask(&mut self, meaning: Meaning, at: At) {
        self.asked = Some((meaning, at));
        self.misses = 0;
    }

    /// May yes and no be said?
    pub fn waits(&self) -> bool {
        self.asked.is_some()
    }

    /// Something was understood. Whatever it is, nothing is asked any more; but the question may be said again.
    pub fn understood(&mut self, meaning: &Meaning, at: At) -> Answered {
        self.misses = 0;
        if let (Some((_, then)), Meaning::Talk(Talk::Repeat)) = (&mut self.asked, meaning) {
            *then = at;
            return Answered::Other;
        }
        match (self.asked.take(), meaning) {
            (Some((_, then)), _) if at.0.saturating_sub(then.0) > WAITS => Answered::Other,
            (Some((asked, _)), Meaning::Command(Command::Yes)) => Answered::Yes(asked),
            (Some(_), Meaning::Command(Command::No)) => Answered::No,
            _ => Answered::Other,
        }
    }

    /// Something was nearly heard, and lost; says whether it is the second in a row.
    pub fn missed(&mut self) -> bool {
        self.misses += 1;
        let second = self.misses == 2;
        if second {
            self.misses = 0;
        }
        second
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SKIP: Meaning = Meaning::Command(Command::Skip);
    const YES: Meaning = Meaning::Command(Command::Yes);

    #[test]
    fn a_question_is_answered_once_and_in_time() {
        let mut repair = Repair::default();
        assert_eq!(repair.understood(&YES, At(0)), Answered::Other);
        repair.ask(SKIP, At(0));
        assert!(repair.waits());
        assert_eq!(repair.understood(&YES, At(WAITS)), Answered::Yes(SKIP));
        assert_eq!(repair.understood(&YES, At(WAITS)), Answered::Other);
        repair.ask(SKIP, At(0));
        assert_eq!(repair.understood(&Meaning::Command(Command::No), At(1)), Answered::No);
        repair.ask(SKIP, At(0));
        assert_eq!(repair.understood(&YES, At(WAITS + 1)), Answered::Other);
    }

    #[test]
    fn other_words_put_an_end_to_it() {
        let mut repair = Repair::default();
        repair.ask(SKIP, At(0));
        assert_eq!(repair.understood(&Meaning::Command(Command::Next), At(1)), Answered::Other);
        assert!(!repair.waits());
        assert_eq!(repair.understood(&YES, At(2)), Answered::Other);
    }

    #[test]
    fn said_again_it_still_stands() {
        let mut repair = Repair::default();
        repair.ask(SKIP, At(0));
        assert_eq!(repair.understood(&Meaning::Talk(Talk::Repeat), At(WAITS)), Answered::Other);
        assert_eq!(repair.understood(&YES, At(2 * WAITS)), Answered::Yes(SKIP));
    }

    #[test]
    fn every_second_miss_in_a_row_counts() {
        let mut repair = Repair::default();
        assert_eq!([repair.missed(), repair.missed(), repair.missed()], [false, true, false]);
        repair.understood(&SKIP, At(0));
        assert!(!repair.missed());
    }
}
