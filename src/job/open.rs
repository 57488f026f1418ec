//! What can be open in a job.

use super::ledger::{ComponentState, Item, ItemState};
use super::pending::Remedy;
use crate::procedure::{ComponentIx, ConnectionIx, Fastener, FastenerIx, OverRule, SupportIx};
use crate::quantity::Quantity;

/// One point that is open in the job.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub enum Open {
    /// Fasteners of a group that are in one state, not their end state.
    Fasteners {
        /// Which group.
        group: FastenerIx,
        /// Which items.
        items: Vec<usize>,
        /// Their state.
        state: ItemState,
        /// Those among them that were tightened too far. It chooses words only: the ledger has it.
        #[serde(skip)]
        over: Vec<TooFar>,
    },
    /// A support still in place.
    Support(SupportIx),
    /// A component off or hanging.
    Component(ComponentIx, ComponentState),
    /// A connection still open.
    Connection(ConnectionIx),
    /// Steps that were left open by "skip".
    Skipped(Vec<usize>),
    /// Steps that were never done.
    NotDone(Vec<usize>),
    /// Steps that are due only after the job is closed.
    Due(Vec<usize>),
    /// A measurement outside its limits. Whatever was done about it, it was not measured inside them since.
    Outside {
        /// Which step.
        step: usize,
        /// Index into the acts of the step.
        act: usize,
        /// The reading.
        value: Quantity,
    },
}

/// A fastener that was tightened too far: how far it is otherwise says nothing of it.
#[derive(Debug, Clone, PartialEq)]
pub struct TooFar {
    /// Which item of its group.
    pub item: usize,
    /// The reading that told.
    pub read: Option<Quantity>,
    /// What has to be done to it; nothing where it is slack already and need not be renewed.
    pub remedy: Option<Remedy>,
}

impl TooFar {
    /// What is to be told of an item; `None` of one that was not tightened too far.
    pub fn of(fastener: &Fastener, item: usize, entry: &Item) -> Option<TooFar> {
        let tight = entry.stages_done(&fastener.finish).is_some();
        let remedy = match fastener.over {
            OverRule::Renew => Some(Remedy::Renew),
            OverRule::Restart => tight.then_some(Remedy::Restart),
        };
        entry.over.then(|| TooFar { item, read: entry.readings.last().map(|(_, read)| *read), remedy })
    }
}
