//! What is said beside the way of the steps: where the job stands, questions that change nothing, marks, notes and timers.

use super::work::Work;
use super::{Act, Answer, Ask, At, Edition, Fact, Job, Question, Refusal, Say};
use crate::procedure::Deed;

impl Job {
    /// A question that changes nothing.
    pub(super) fn asked(&mut self, ask: Ask) -> Vec<Say> {
        if let (Ask::Value | Ask::Which | Ask::InUnit(_), Some(first)) = (&ask, self.no_stage(&self.work())) {
            return vec![first];
        }
        self.answer(ask).map_or_else(|| self.to_do(), |answer| vec![Say::Answer(answer)])
    }

    /// What comes before the next stage of a step that does tighten: the remedy of a fastener, the measurement that a torque
    /// counts from, what keeps a fastener from being tightened.
    pub(super) fn no_stage(&self, work: &Work) -> Option<Say> {
        match *work {
            Work::Remedy { group, item, remedy } => Some(Say::Remedy { group, item, remedy }),
            Work::Unmeasured { step, act } => Some(Say::Refused(Refusal::Unmeasured { step, act })),
            Work::NoTorque(ref counted) => Some(Say::Refused(Refusal::NoTorque(counted.clone()))),
            Work::Untold { group } => Some(Say::Untold { group }),
            Work::Undecided(on) => Some(Say::Undecided { steps: vec![self.step], on }),
            Work::Blocked { act, item, state } => Some(Say::Refused(self.unlawful(act, item, state))),
            _ => None,
        }
    }

    /// Where the job stands, and what is pending.
    pub(super) fn where_am_i(&mut self) -> Vec<Say> {
        let mut says = vec![Say::Where { step: self.step, steps: self.book.steps.len() }];
        says.extend(self.round_in_hand());
        says.append(&mut self.to_do());
        says
    }

    /// What is pending here: a question that stands, a stage, a measurement, or the step.
    fn to_do(&self) -> Vec<Say> {
        match (&self.question, self.work()) {
            (Some(question), _) => vec![Say::Question(question.clone())],
            (None, Work::Stage(pending) | Work::Doubtful(pending)) => vec![Say::Answer(Answer::Value(pending))],
            (None, Work::Remedy { group, item, remedy }) => vec![Say::Remedy { group, item, remedy }],
            (None, Work::Acts { from, to }) if self.to_lock(from, to).is_some() => {
                self.to_lock(from, to).map(|group| Say::Lock { group }).into_iter().collect()
            }
            (None, Work::Untold { group }) => vec![Say::Untold { group }],
            (None, Work::Measure { act }) => vec![self.await_measure(act)],
            (None, Work::Unmeasured { step, act }) => vec![Say::Refused(Refusal::Unmeasured { step, act })],
            (None, Work::NoTorque(counted)) => vec![Say::Refused(Refusal::NoTorque(counted))],
            (None, Work::Undecided(on)) => vec![Say::Undecided { steps: vec![self.step], on }],
            (None, Work::Unmet { act }) => self.outside(act),
            _ => vec![Say::Step { step: self.step, phase: None }],
        }
    }

    pub(super) fn mark(&mut self, at: At) -> Vec<Say> {
        self.record(at, Fact::Mark(self.step), None, Vec::new());
        vec![Say::Marked { step: self.step }]
    }

    /// Keeps a note with the step in hand.
    pub(super) fn note(&mut self, note: super::Note, at: At) -> Vec<Say> {
        self.record(at, Fact::Note { step: self.step, note }, None, Vec::new());
        vec![Say::Noted { step: self.step }]
    }

    pub(super) fn start_timer(&mut self, minutes: u32) -> Vec<Say> {
        self.run_timer(self.time().after_minutes(minutes));
        vec![Say::TimerStarted { minutes }]
    }

    /// Timers that are due are over.
    pub(super) fn time_up(&mut self) -> Vec<Say> {
        let (before, now) = (self.timers.clone(), self.time());
        if !self.end_timers(now) {
            return vec![Say::Answer(self.how_long())];
        }
        let mut says = vec![Say::TimeUp];
        says.extend(self.ran_out(&before));
        let over = self.ledger.due(self.step).is_some_and(|due| due <= now);
        if over && matches!(self.question, Some(Question::Wait { .. })) && self.edition >= Edition::Second {
            says.extend(self.ask(Question::Wait { minutes_left: 0, unwatched: false }));
        }
        says
    }

    /// Does this step bring fasteners to a stage?
    pub fn tightens(&self, step: usize) -> bool {
        self.book.steps[step].acts.iter().any(|a| matches!(a, Act::Fasten { deed: Deed::Tighten(_), .. }))
    }
}
