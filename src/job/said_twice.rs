//! Said twice counts once: a spoken claim is about what had been announced when its first sound began.
//!
//! Knows what was last put to the user, and, once it is told, when that had been said to its end. A claim that began
//! before then can only repeat the one before it: nothing is recorded, and what is pending is said again. So nothing of
//! this is in the journal. Who tells is the session; what is typed is deliberate, and never comes this way.

use super::work::Work;
use super::{Answer, At, Command, Job, Question, Refusal, Reply, Say, Stake};
use crate::quantity::Quantity;

/// What was last put to the user.
#[derive(Debug, Clone, Default)]
pub(super) struct Announcement {
    says: Vec<Say>,
    /// When it had been said to its end; `None` before that.
    ended: Option<At>,
}

/// What a claim can be about: step, question, and what the step needs next.
pub(super) type Matter = (usize, Option<Question>, Work);

impl Job {
    /// Applies a command that was spoken, its first sound at `began`, or one that a tool sent, its first byte then.
    pub fn hear(&mut self, command: Command, began: At, at: At) -> Reply {
        if let Command::FromTool { amount, unit, .. } = command {
            return self.hear_tool(Quantity::new(amount, unit), command, began, at);
        }
        if !self.repeats(&command, began) {
            return self.apply(command, at);
        }
        self.announcement.ended = None;
        let mut says = self.announcement.says.clone();
        if says.is_empty() {
            says = self.where_am_i();
        }
        Reply { says, recorded: false, announces: true }
    }

    /// What was put to the user last had been said to its end at this moment.
    pub fn announced(&mut self, at: At) {
        self.announcement.ended.get_or_insert(at);
    }

    /// Can a claim that began then only repeat what was claimed before, because what is pending now had not been put to
    /// the user to its end?
    pub fn repeats(&self, command: &Command, began: At) -> bool {
        let claims = match command {
            // Nothing is claimed by walking on from a step that is done.
            Command::Next => !self.ledger.is_over(self.step),
            // Takes a claim back as if it had never been, ends a round, goes on to another variant.
            Command::No => self.no_claims() || self.is_round_just_begun(),
            other => claims_what_is_pending(other),
        };
        claims && self.closed.is_none() && self.announcement.ended.is_none_or(|ended| began < ended)
    }

    /// Does "no" to the question that stands change the ledger?
    pub(super) fn no_claims(&self) -> bool {
        matches!(
            self.question,
            Some(
                Question::Turned { .. }
                    | Question::Until { .. }
                    | Question::Variant { .. }
                    | Question::Ask { .. }
                    | Question::Apart { .. }
            )
        )
    }

    pub(super) fn matter(&self) -> Matter {
        (self.step, self.question.clone(), self.work())
    }

    /// Remembers what a reply puts to the user; says whether it does. It does where something else is pending than
    /// before or something was claimed, and where it names again what has not been heard to its end.
    pub(super) fn announce_by(&mut self, says: &[Say], news: bool) -> bool {
        let named: Vec<Say> = says.iter().filter(|say| names_what_is_pending(say)).cloned().collect();
        let again = self.announcement.ended.is_none() && !named.is_empty();
        if news {
            self.announcement.ended = None;
        }
        if news || again {
            self.announcement.says = named;
        }
        news || again
    }
}

/// Is it a claim about what was put to the user last? All that can claim something is, but for a mark, which is set
/// wherever the job stands.
pub(super) fn claims_what_is_pending(command: &Command) -> bool {
    command.stake() == Stake::Ledger && *command != Command::Mark
}

/// What has to be heard before anything can be claimed.
fn names_what_is_pending(say: &Say) -> bool {
    match say {
        Say::Caution(_)
        | Say::Standing(_)
        | Say::Forewarning(_)
        | Say::Step { .. }
        | Say::Pending(_)
        | Say::AwaitMeasure { .. }
        | Say::AwaitCounted { .. }
        | Say::OutsideLimits { .. }
        | Say::Remedy { .. }
        | Say::Lock { .. }
        | Say::TimerStarted { .. }
        | Say::LastStepDone
        | Say::Answer(Answer::Value(_))
        | Say::Question(_) => true,
        Say::Refused(refusal) => matches!(
            refusal,
            Refusal::NotInState(_)
                | Refusal::Unfinished { .. }
                | Refusal::Unmeasured { .. }
                | Refusal::NoTorque(_)
                | Refusal::Outside { .. }
                | Refusal::RemedyFirst { .. }
                | Refusal::NotLocked { .. }
                | Refusal::RoundsOver { .. }
                | Refusal::TooLate { .. }
                | Refusal::AnswerFirst(_)
        ),
        _ => false,
    }
}
