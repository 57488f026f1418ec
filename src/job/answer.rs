//! Answers that change nothing, and the few commands beside the path of the steps: marks and timers.

use super::work::Work;
use super::{Act, Answer, Ask, At, Edition, Fact, FastenerIx, Job, Pending, Question, Refusal, Say, StepState, work};
use crate::procedure::Deed;

/// Minutes until a moment, rounded up; 0 once it is past.
pub(super) fn minutes_until(due: At, now: At) -> u32 {
    let left = due.0.saturating_sub(now.0).max(0);
    u32::try_from(left.saturating_add(59_999) / 60_000).unwrap_or(u32::MAX)
}

impl Job {
    pub(super) fn answer(&mut self, ask: Ask) -> Vec<Say> {
        if let (Ask::Value | Ask::Which | Ask::InUnit(_), Some(first)) = (&ask, self.no_stage(&self.work())) {
            return vec![first];
        }
        let answer = match ask {
            Ask::ToDo => return self.to_do(),
            Ask::Value => self.pending_or(Answer::Value),
            Ask::InUnit(unit) => self.pending_or(|pending| Answer::InUnit { pending, unit }),
            Ask::LastValue => self.last_value(),
            Ask::Size => Answer::Size(self.groups()),
            Ask::Tool => Answer::Tool(self.groups()),
            Ask::Which => self.pending_or(Answer::Which),
            Ask::HowManyLeft => {
                let (items, stages) = self.left();
                Answer::HowManyLeft { items, stages }
            }
            Ask::Cautions => self.cautions(),
            Ask::Why => Answer::Why { step: self.step },
            Ask::Source => Answer::Source { page: self.page() },
            Ask::Parts => Answer::Parts,
            Ask::Open => Answer::Open(self.open_points(self.step)),
            Ask::HowLong => self.how_long(),
        };
        vec![Say::Answer(answer)]
    }

    /// What comes before the next stage of a step that does tighten: the remedy of a fastener, the measurement that a torque
    /// counts from, what keeps a fastener from being tightened.
    pub(super) fn no_stage(&self, work: &Work) -> Option<Say> {
        match *work {
            Work::Remedy { group, item, remedy } => Some(Say::Remedy { group, item, remedy }),
            Work::Unmeasured { step, act } => Some(Say::Refused(Refusal::Unmeasured { step, act })),
            Work::Blocked { act, item, state } => Some(Say::Refused(self.unlawful(act, item, state))),
            _ => None,
        }
    }

    fn pending_or(&self, answer: impl FnOnce(Pending) -> Answer) -> Answer {
        self.pending().map_or(Answer::NothingPending, answer)
    }

    fn last_value(&self) -> Answer {
        let last = self.facts.iter().rev().find_map(|f| match f.fact {
            Fact::Stage { group, item, stage } if !f.taken_back => Some((group, item, stage)),
            _ => None,
        });
        let Some((group, item, stage)) = last else { return Answer::NothingPending };
        let fastener = self.fastener(group);
        Answer::LastValue(work::pending(
            &self.book,
            fastener,
            &self.ledger,
            group,
            item,
            stage,
            item,
            fastener.places.len(),
        ))
    }

    /// The groups that this step is about: the one pending, else all it touches.
    fn groups(&self) -> Vec<FastenerIx> {
        match self.work() {
            Work::Stage(Pending { group, .. }) | Work::Doubtful(Pending { group, .. }) | Work::Remedy { group, .. } => {
                return vec![group];
            }
            _ => {}
        }
        let mut groups = Vec::new();
        for act in &self.book.steps[self.step].acts {
            if let Act::Fasten { group, .. } = act
                && !groups.contains(group)
            {
                groups.push(*group);
            }
        }
        groups
    }

    fn cautions(&self) -> Answer {
        let standing = self.book.standing.iter().filter(|s| self.ledger.stands(s.cause)).map(|s| &s.caution);
        Answer::Cautions(standing.chain(&self.book.steps[self.step].cautions).cloned().collect())
    }

    /// The most particular page given for what is in hand.
    fn page(&self) -> Option<String> {
        let step = &self.book.steps[self.step];
        if let Some(pending) = self.pending() {
            let fastener = self.fastener(pending.group);
            let stage = fastener.finish.stage(pending.stage).and_then(|s| s.source.clone());
            return stage.or_else(|| fastener.source.clone()).or_else(|| step.source.clone());
        }
        let measured = self.measurement_awaited().and_then(|act| match &step.acts[act] {
            Act::Measure(m) => m.source.clone(),
            _ => None,
        });
        measured.or_else(|| step.source.clone())
    }

    fn how_long(&self) -> Answer {
        let open: Vec<_> = (0..self.book.steps.len()).filter(|&s| self.ledger.step(s) != StepState::Done).collect();
        let minutes = open.iter().filter_map(|&s| self.book.steps[s].minutes).fold(0, u32::saturating_add);
        let without = open.iter().filter(|&&s| self.book.steps[s].minutes.is_none()).count();
        let mut timers: Vec<u32> = self.timers.iter().map(|&due| minutes_until(due, self.time())).collect();
        timers.sort_unstable();
        Answer::HowLong { minutes, without, timers }
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
            (None, Work::Measure { act }) => vec![self.await_measure(act)],
            (None, Work::Unmeasured { step, act }) => vec![Say::Refused(Refusal::Unmeasured { step, act })],
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
        self.timers.push(self.time().after_minutes(minutes));
        self.changed = true;
        vec![Say::TimerStarted { minutes }]
    }

    /// Timers that are due are over. One that is not due yet stays: a clock that runs ahead must not end it.
    pub(super) fn time_up(&mut self) -> Vec<Say> {
        let (before, now) = (self.timers.len(), self.time());
        self.timers.retain(|&due| due > now);
        if self.timers.len() == before {
            return vec![Say::Answer(self.how_long())];
        }
        self.changed = true;
        let mut says = vec![Say::TimeUp];
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
