//! What a screen shows of a job, worked out once for each turn: a screen gets this and never the job, so it can change nothing and
//! no two screens differ.
//!
//! Knows what can be asked of the job; leaves the words and where they stand to the screen.

use crate::job::{Item, Job, Open, Pending, Question, Say, Verdict};
use crate::procedure::{Bounds, Procedure};
use crate::quantity::Quantity;
use std::sync::Arc;

/// A job as it stands.
#[derive(Debug, Clone)]
pub struct Shown {
    /// What it goes by.
    pub book: Arc<Procedure>,
    /// The step in hand, from 0.
    pub step: usize,
    /// The round in hand, where steps are repeated.
    pub round: Option<Say>,
    /// It is closed.
    pub closed: bool,
    /// It is put down.
    pub paused: bool,
    /// The stage to be done now, and the state of its group.
    pub pending: Option<(Pending, Vec<Item>)>,
    /// The question that stands.
    pub question: Option<Question>,
    /// How many minutes the step has to wait.
    pub waits: Option<u32>,
    /// The time there is for the step.
    pub time: Option<Say>,
    /// The cautions that hold.
    pub in_force: Vec<Say>,
    /// What the step needs next where that is no stage.
    pub due: Vec<Say>,
    /// The measurement that a number is awaited for.
    pub measuring: Option<Measuring>,
    /// What is open up to the step in hand, or was when the job was closed.
    pub open: Vec<Open>,
}

/// A measurement that a number is awaited for.
#[derive(Debug, Clone)]
pub struct Measuring {
    /// Which act of the step it is.
    pub act: usize,
    /// Between which values it must lie.
    pub limits: Bounds,
    /// What was measured before, if that lies outside.
    pub outside: Option<Quantity>,
}

impl Shown {
    /// What there is to show of a job.
    pub fn of(job: &Job) -> Shown {
        let step = job.position();
        let with_items = |pending: Pending| {
            let items = job.ledger().items(pending.group).to_vec();
            (pending, items)
        };
        let measuring = |act| Measuring {
            act,
            limits: job.limits(step, act),
            outside: job.ledger().measured(step, act).filter(|value| job.judge(step, act, *value) != Verdict::Within),
        };
        Shown {
            book: job.book().clone(),
            step,
            round: job.round_in_hand(),
            closed: job.closed().is_some(),
            paused: job.is_paused(),
            pending: job.pending().map(with_items),
            question: job.question().cloned(),
            waits: job.waits(),
            time: job.time_for(step),
            in_force: job.in_force(),
            due: job.due(),
            measuring: job.measurement_awaited().map(measuring),
            open: job.closed().map_or_else(|| job.open_points(step), <[Open]>::to_vec),
        }
    }

    /// The stage to be done now.
    pub fn stage(&self) -> Option<&Pending> {
        self.pending.as_ref().map(|(pending, _)| pending)
    }
}
