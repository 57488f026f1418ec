//! Questions of the user that change nothing, and what each is answered.

use super::open::Open;
use super::pending::Pending;
use super::work::{self, Work};
use super::{Act, At, Job};
use crate::procedure::{Caution, FastenerIx, StockIx};
use crate::quantity::TorqueUnit;
use serde::{Deserialize, Serialize};

/// Questions that change nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Ask {
    /// The pending value.
    Value,
    /// The pending value in another unit.
    InUnit(TorqueUnit),
    /// The value before the pending one.
    LastValue,
    /// The drive size of the fastener in hand.
    Size,
    /// The tools of this step.
    Tool,
    /// Where the fastener in hand sits.
    Which,
    /// Items and stages left in this step.
    HowManyLeft,
    /// The cautions that hold now.
    Cautions,
    /// Why this step is done.
    Why,
    /// Where the pending value comes from.
    Source,
    /// New parts needed.
    Parts,
    /// What is open in the whole job.
    Open,
    /// Minutes left, and timers.
    HowLong,
    /// What is still to do here: said by whoever says that something is not done.
    ToDo,
}

/// Answers to questions that change nothing.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// The pending stage: value, unit, stage.
    Value(Pending),
    /// The value of a stage in another unit; `Nothing` where it has no torque.
    InUnit {
        /// The stage.
        pending: Pending,
        /// The unit asked for.
        unit: TorqueUnit,
    },
    /// The stage recorded last.
    LastValue(Pending),
    /// No stage is pending and none was asked about.
    NothingPending,
    /// Drive sizes of the groups in this step.
    Size(Vec<FastenerIx>),
    /// Tools of this step, by group.
    Tool(Vec<FastenerIx>),
    /// Where the pending item sits.
    Which(Pending),
    /// Items and stages left in this step.
    HowManyLeft {
        /// Items that miss a stage.
        items: usize,
        /// Stages still to do.
        stages: usize,
    },
    /// The cautions that hold now, standing ones first; may be empty.
    Cautions(Vec<Caution>),
    /// Why this step is done, if the book says.
    Why {
        /// Which step.
        step: usize,
    },
    /// Help for this step, if the book has it.
    Stuck {
        /// Which step.
        step: usize,
    },
    /// Where the value or step comes from.
    Source {
        /// Page or place, the most particular one given.
        page: Option<String>,
        /// The sizes at hand that the measurement awaited chooses from: they may stand on a page of their own.
        stock: Option<StockIx>,
    },
    /// New parts needed for the job.
    Parts,
    /// What is open; may be empty.
    Open(Vec<Open>),
    /// Minutes left by the book, and timers that run with their minutes left.
    HowLong {
        /// Sum of the estimates of the steps not done.
        minutes: u32,
        /// Steps not done that have no estimate.
        without: usize,
        /// Minutes left of each running timer, rounded up.
        timers: Vec<u32>,
        /// The program was away meanwhile: that is what is left by what it saw.
        unwatched: bool,
    },
}

/// Minutes until a moment, rounded up; 0 once it is past.
pub(super) fn minutes_until(due: At, now: At) -> u32 {
    let left = due.0.saturating_sub(now.0).max(0);
    u32::try_from(left.saturating_add(59_999) / 60_000).unwrap_or(u32::MAX)
}

impl Job {
    /// The answer to a question. What is still to do is none, but what is put to the user here (`aside`).
    pub(super) fn answer(&self, ask: Ask) -> Option<Answer> {
        Some(match ask {
            Ask::ToDo => return None,
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
            Ask::Source => Answer::Source { page: self.page(), stock: self.stock() },
            Ask::Parts => Answer::Parts,
            Ask::Open => Answer::Open(self.open_points(self.step)),
            Ask::HowLong => self.how_long(),
        })
    }

    fn pending_or(&self, answer: impl FnOnce(Pending) -> Answer) -> Answer {
        self.pending().map_or(Answer::NothingPending, answer)
    }

    fn last_value(&self) -> Answer {
        let Some((group, item, stage)) = self.last_stage() else { return Answer::NothingPending };
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

    /// What the measurement that a number may be given for chooses from.
    fn stock(&self) -> Option<StockIx> {
        match &self.book.steps[self.step].acts[self.measurement_awaited()?] {
            Act::Measure(m) => m.among,
            _ => None,
        }
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

    pub(super) fn how_long(&self) -> Answer {
        let open: Vec<_> = (0..self.book.steps.len()).filter(|&s| !self.ledger.is_over(s)).collect();
        let minutes = open.iter().filter_map(|&s| self.book.steps[s].minutes).fold(0, u32::saturating_add);
        let without = open.iter().filter(|&&s| self.book.steps[s].minutes.is_none()).count();
        let mut timers: Vec<u32> = self.timers.iter().map(|&due| minutes_until(due, self.time())).collect();
        timers.sort_unstable();
        Answer::HowLong { minutes, without, timers, unwatched: self.was_away() }
    }
}
