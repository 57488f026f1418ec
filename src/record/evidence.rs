//! What happened in a job, found by watching its journal being replayed.

use crate::job::{At, Command, Fact, Job, Question, Reply, Say};
use crate::procedure::Caution;
use std::collections::HashMap;

/// What happened.
#[derive(Debug, Clone, Default)]
pub struct Evidence {
    /// Cautions that were given, each once.
    pub cautions: Vec<GivenCaution>,
    /// Questions that were answered with yes.
    pub confirmed: Vec<Confirmed>,
    /// When a fact was taken back, by its index among the facts.
    pub taken_back: HashMap<usize, At>,
    /// How often the programme of the item had been begun when a stage was recorded, by the index of the fact.
    pub runs: HashMap<usize, u32>,
    /// When the job was closed.
    pub closed: Option<At>,
    /// When the last command was given.
    pub last: Option<At>,
    before: Before,
}

/// The job as it was before the command that is seen next.
#[derive(Debug, Clone, Default)]
struct Before {
    question: Option<Question>,
    step: usize,
    facts: usize,
    /// The last fact that was not taken back. Only that one can be, so it is enough to look at it.
    standing: Option<usize>,
}

/// A caution, and when it was given.
#[derive(Debug, Clone, PartialEq)]
pub struct GivenCaution {
    /// The caution.
    pub caution: Caution,
    /// Does it stand while its cause stands?
    pub standing: bool,
    /// At which steps, each once, from 0.
    pub steps: Vec<usize>,
    /// When it was given first.
    pub first: At,
    /// How often.
    pub times: usize,
}

/// A question that was answered with yes.
#[derive(Debug, Clone, PartialEq)]
pub struct Confirmed {
    /// When.
    pub at: At,
    /// At which step, from 0.
    pub step: usize,
    /// The question.
    pub question: Question,
}

impl Evidence {
    /// Sees a command as it was applied: the job after it, and what that answered.
    pub fn see(&mut self, job: &Job, command: &Command, at: At, reply: &Reply) {
        let before = std::mem::take(&mut self.before);
        self.last = Some(at);
        if let (Some(question), Command::Yes) = (before.question, command) {
            self.confirmed.push(Confirmed { at, step: before.step, question });
        }
        for say in &reply.says {
            // The job has gone on to the step that a caution belongs to.
            match say {
                Say::Caution(caution) => self.caution(caution, false, job.position(), at),
                Say::Standing(caution) | Say::Forewarning(caution) => self.caution(caution, true, job.position(), at),
                Say::Closed { .. } => self.closed = Some(at),
                _ => {}
            }
        }
        let facts = job.facts();
        if let Some(fact) = before.standing.filter(|&fact| facts[fact].taken_back) {
            self.taken_back.insert(fact, at);
        }
        for (fact, recorded) in facts.iter().enumerate().skip(before.facts) {
            if let Fact::Stage { group, item, .. } = recorded.fact {
                self.runs.insert(fact, job.ledger().item(group, item).run);
            }
        }
        self.before = Before {
            question: job.question().cloned(),
            step: job.position(),
            facts: facts.len(),
            standing: facts.iter().rposition(|f| !f.taken_back),
        };
    }

    fn caution(&mut self, caution: &Caution, standing: bool, step: usize, at: At) {
        match self.cautions.iter_mut().find(|c| c.caution == *caution) {
            Some(given) => {
                given.times += 1;
                given.standing |= standing;
                if !given.steps.contains(&step) {
                    given.steps.push(step);
                }
            }
            None => {
                let caution = caution.clone();
                self.cautions.push(GivenCaution { caution, standing, steps: vec![step], first: at, times: 1 });
            }
        }
    }
}
