//! What hangs: the part that was just taken off, or the one that the user means.

use super::{Command, Kind, Question, Refused, Reply, Say, StripLog, Things, What};
use crate::job::At;

impl StripLog {
    /// A part that was just taken off hangs now. Behind something else, which part it is only the user knows; where no part is
    /// off, what hangs was never told, and is a part by itself. Told twice, it is that part once more.
    pub(super) fn hung_up(&mut self, at: At) -> Reply {
        match self.last().map(|last| (last, &self.entries[last].what)) {
            Some((of, What::Part { hung: false, .. })) => self.told(What::Hung { of }, at),
            Some((last, What::Hung { .. } | What::Part { hung: true, .. })) => {
                Reply { says: self.with_question(vec![Say::Told(last)]), recorded: false }
            }
            _ => self.ask_hung(self.entries.len(), at),
        }
    }

    /// What a command means that is given now. Journals keep a no by which, behind the last part that could hang, one more was taken
    /// down that nobody had told; they replay as they did, so the no that takes nothing down has a name of its own.
    pub fn meant(&self, command: Command) -> Command {
        match (&command, self.question()) {
            // Nobody who said yes before that had a name of its own was asked for an order.
            (Command::Yes, Some(Question::Everything)) => Command::GoesTogether,
            (Command::No, Some(Question::Hung(of))) if self.could_hang(of).is_none() => Command::NoneOfThem,
            _ => command,
        }
    }

    pub(super) fn none_of_them(&mut self) -> Reply {
        match self.question() {
            Some(Question::Hung(_)) => {
                self.asked_back = None;
                self.done(vec![Say::LeftAsItIs])
            }
            _ => self.refuse(Refused::NothingAsked),
        }
    }

    /// The part told last before that entry which is off and does not hang.
    pub(super) fn could_hang(&self, before: usize) -> Option<usize> {
        let off = |id: usize, what: &What| {
            matches!(what, What::Part { hung: false, .. }) && !self.has(|what| *what == What::Hung { of: id })
        };
        self.standing().rfind(|(id, entry)| *id < before && off(*id, &entry.what)).map(|(id, _)| id)
    }

    /// Asks for that part.
    pub(super) fn ask_hung(&mut self, before: usize, at: At) -> Reply {
        match self.could_hang(before) {
            Some(id) => self.ask(Question::Hung(id)),
            None => self.told(What::Part { things: Things { count: 1, kind: Kind::Part }, hung: true }, at),
        }
    }
}
