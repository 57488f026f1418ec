//! Readings that a tool sends by itself: what of them is said.

use super::Conversation;
use super::unwanted::Unwanted;
use crate::job::{At, Command};
use crate::journal::JournalError;
use crate::quantity::Quantity;
use crate::session::Turn;
use crate::speak::Tone;

impl Conversation {
    /// A reading that a tool sent, its first byte at `began`. It is held to the same as one that is spoken; but one that comes
    /// too soon, or is refused, was perhaps nobody's, so it is told once and cuts nothing off, however often it comes.
    pub fn measured(&mut self, value: Quantity, tool: &str, began: At, at: At) -> Result<Turn, JournalError> {
        // A job that is put down is measured by nobody, and into a note nothing is answered.
        if self.waiting || self.noting {
            return Ok(Turn::default());
        }
        let command = Command::FromTool { amount: value.amount(), unit: value.unit(), tool: tool.to_owned() };
        let last = (self.last.clone(), self.last_announces);
        let too_soon = self.job.repeats(&command, began);
        let turn = self.give(command, Some(began), at)?;
        if turn.recorded {
            self.lookup.forget();
            self.unwanted = Unwanted::default();
            // What was asked last is what a yes answers.
            self.repair.give_way();
            return Ok(Turn { hush: true, ..turn });
        }
        (self.last, self.last_announces) = last;
        let what = (!too_soon).then(|| turn.sentences.clone());
        // Nothing is said to one that was sent again.
        if turn.sentences.is_empty() || !self.unwanted.is_news(what, at) {
            return Ok(Turn::default());
        }
        self.lookup.forget();
        Ok(Turn { tone: Some(Tone::NotUnderstood), announces: false, ..turn })
    }
}
