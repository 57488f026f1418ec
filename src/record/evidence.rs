//! What happened in a job, found by playing its commands once more.

use crate::job::{At, Command, Job, Question, Say};
use crate::procedure::{Caution, Procedure};
use std::collections::HashMap;
use std::sync::Arc;

/// What happened.
#[derive(Debug, Clone)]
pub struct Evidence {
    /// The job after the last command.
    pub job: Job,
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
    /// Plays the commands of a journal.
    pub fn gather(book: Arc<Procedure>, commands: &[(At, Command)]) -> Evidence {
        let mut evidence = Evidence {
            job: Job::new(book),
            cautions: Vec::new(),
            confirmed: Vec::new(),
            taken_back: HashMap::new(),
            runs: HashMap::new(),
            closed: None,
            last: None,
        };
        for (at, command) in commands {
            evidence.play(*at, command);
        }
        evidence
    }

    fn play(&mut self, at: At, command: &Command) {
        let question = self.job.question().cloned();
        let (step, known) = (self.job.position(), self.job.facts().len());
        let standing: Vec<usize> = self.standing_facts();
        let reply = self.job.apply(command.clone(), at);
        self.last = Some(at);
        if let (Some(question), Command::Yes) = (question, command) {
            self.confirmed.push(Confirmed { at, step, question });
        }
        for say in &reply.says {
            match say {
                Say::Caution(caution) => self.caution(caution, false, at),
                Say::Standing(caution) => self.caution(caution, true, at),
                Say::Closed { .. } => self.closed = Some(at),
                _ => {}
            }
        }
        for fact in standing {
            if self.job.facts().get(fact).is_some_and(|f| f.taken_back) {
                self.taken_back.insert(fact, at);
            }
        }
        for fact in known..self.job.facts().len() {
            if let crate::job::Fact::Stage { group, item, .. } = self.job.facts()[fact].fact {
                self.runs.insert(fact, self.job.ledger().item(group, item).run);
            }
        }
    }

    /// Facts that were not taken back. Only the last of them can be, so it is enough to look at that.
    fn standing_facts(&self) -> Vec<usize> {
        self.job.facts().iter().rposition(|f| !f.taken_back).into_iter().collect()
    }

    fn caution(&mut self, caution: &Caution, standing: bool, at: At) {
        // The job has gone on to the step that the caution belongs to.
        let step = self.job.position();
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
