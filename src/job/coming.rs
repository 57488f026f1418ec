//! Beginning a job, putting it down and taking it up again, and what may have been done meanwhile.
//!
//! Knows which stages can have been turned while nobody was asked: whatever angle stage was pending then is asked about.

use super::work::{self, Work};
use super::{At, Edition, Job, Question, Refusal, Say, ledger};
use crate::procedure::VariantIx;

impl Job {
    /// Begins a job that nothing was said of yet.
    pub(super) fn open(&mut self) -> Vec<Say> {
        self.mark_the_moment();
        self.drop_question();
        self.suspect_pending();
        self.said = None;
        let mut says = vec![Say::Opening];
        says.extend(match self.is_undecided() {
            true => self.ask_variant(VariantIx(0)),
            false => self.enter(0),
        });
        says
    }

    /// Takes the job up again. Whatever angle stage was pending may have been turned before the program went away. A job
    /// that ended before its first word is begun now.
    pub(super) fn resume(&mut self, last: At, at: At) -> Vec<Say> {
        if self.phase.is_none() {
            return self.open();
        }
        self.mark_the_moment();
        self.said = None;
        // How long ago that was is not known where the clock was set.
        let mut says = match self.clock_was_set() {
            true => vec![Say::Resumed { last: at }, Say::ClockSet],
            false => vec![Say::Resumed { last }],
        };
        says.push(Say::Where { step: self.step, steps: self.book.steps.len() });
        says.extend(self.round_in_hand());
        if self.closed.is_some() {
            says.push(Say::Refused(Refusal::Closed));
            return says;
        }
        self.suspect_pending();
        says.extend(self.standing(|_| true));
        says.extend(self.time_for(self.step));
        says.extend(self.times_running());
        if !self.ledger.is_over(self.step) && self.hangs_on(self.step).is_none() {
            says.extend(self.forewarnings());
            says.extend(self.book.steps[self.step].cautions.iter().cloned().map(Say::Caution));
        }
        if self.edition >= Edition::Second {
            says.extend(self.timers_left());
            if let Some(asked) = self.wait_taken_up() {
                says.extend(asked);
                return says;
            }
        }
        match &self.question {
            Some(question) => says.push(Say::Question(question.clone())),
            None => match self.announce() {
                nothing if nothing.is_empty() => says.push(Say::Step { step: self.step, phase: None }),
                announced => says.extend(announced),
            },
        }
        says
    }

    /// "Take a break": asked back, because it ends the listening as well. A question that stands waits behind it.
    pub(super) fn ask_pause(&mut self) -> Vec<Say> {
        let instead = match self.question.take() {
            Some(Question::Pause { instead }) => instead,
            other => other.map(Box::new),
        };
        self.ask(Question::Pause { instead })
    }

    /// Puts the job down for now.
    pub(super) fn pause(&mut self) -> Vec<Say> {
        self.mark_the_moment();
        self.drop_question();
        self.suspect_pending();
        vec![Say::Paused]
    }

    /// A pending stage that turns by an angle may have been turned when it is left: ask when it comes back. One that was
    /// refused, because the vehicle is not in the state for it, was not. Nobody claims it, so it is no fact.
    pub(super) fn suspect_pending(&mut self) {
        self.suspect(false);
    }

    /// The same where the user did not leave it, but took back or put right what came before it.
    pub(super) fn suspect_announced(&mut self) {
        self.suspect(true);
    }

    fn suspect(&mut self, announced: bool) {
        // Nothing was told of a step before it is known which of them are for this vehicle.
        if self.is_undecided() {
            return;
        }
        let Work::Stage(pending) = self.work() else { return };
        if work::turns(pending.kind.as_ref()) && pending.waits.is_none() {
            let mut item = self.ledger.item(pending.group, pending.item).clone();
            (item.suspect, item.announced) = (true, announced);
            self.make(ledger::Change::Item(pending.group, pending.item, Box::new(item)));
        }
    }
}
