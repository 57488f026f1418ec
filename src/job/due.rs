//! What the step in hand needs next, put to the user, where nothing has to be asked.
//!
//! Knows what is worked out from the ledger; changes nothing, so that a screen may ask as well.

use super::work::{self, Work};
use super::{Job, Refusal, Say, counted};

impl Job {
    /// How long the step in hand has to wait before it is done, by the book.
    pub fn waits(&self) -> Option<u32> {
        match self.work() {
            Work::Wait { minutes } => Some(minutes),
            _ => None,
        }
    }

    /// What the step needs next where that is neither its own sentence nor a stage, such as a new bolt or a measurement.
    pub fn due(&self) -> Vec<Say> {
        match self.work() {
            Work::Remedy { group, item, remedy } => vec![Say::Remedy { group, item, remedy }],
            Work::Untold { group } => vec![Say::Untold { group }],
            Work::Measure { act } => vec![self.await_measure(act)],
            Work::Unmeasured { step, act } => vec![Say::Refused(Refusal::Unmeasured { step, act })],
            Work::NoTorque(counted) => vec![Say::Refused(Refusal::NoTorque(counted))],
            Work::Unmet { act } => self.outside(act),
            Work::Blocked { act, item, state } => vec![Say::Refused(self.unlawful(act, item, state))],
            Work::Undecided(on) => vec![Say::Undecided { steps: vec![self.step], on }],
            // One that was left outside its limits may be taken again all the same. So may one that the book has steps for,
            // where the job comes back to it: until then it goes on with those.
            // So may one that leaves a torque nothing.
            Work::Nothing => {
                if let Some(act) = self.leaves_no_torque() {
                    return vec![self.await_measure(act)];
                }
                let held = |act: &usize| self.came_back || work::holds(&self.book, &self.ledger, self.step, *act);
                self.measurement_awaited().filter(held).map(|act| self.outside(act)).unwrap_or_default()
            }
            Work::Acts { from, to } => self.to_lock(from, to).map(|group| Say::Lock { group }).into_iter().collect(),
            // A hold point, or whether another round is due, is asked about once the user says that the step is done, not before.
            Work::Wait { .. } | Work::Hold | Work::Ask | Work::Until => Vec::new(),
            Work::Stage(_) | Work::Doubtful(_) => Vec::new(),
        }
    }

    /// A measurement outside its limits: what the book says, and that it is to be taken again.
    pub(super) fn outside(&self, act: usize) -> Vec<Say> {
        vec![Say::OutsideLimits { step: self.step, act }, self.await_measure(act)]
    }

    /// The reading that is awaited, with its limits; those that count from another are told with what they are made of.
    pub(super) fn await_measure(&self, act: usize) -> Say {
        let step = self.step;
        match counted::limits(&self.book, &self.ledger, step, act) {
            Ok((_, None)) => Say::AwaitMeasure { step, act },
            Ok((limits, Some(counted))) => Say::AwaitCounted { step, act, limits, counted },
            Err((step, act)) => Say::Refused(Refusal::Unmeasured { step, act }),
        }
    }
}
