//! What is pending in a job, and in which state things are: the words that replies, questions and the ledger have in common.

use super::ledger::{ComponentState, ItemState};
use crate::procedure::{Bounds, ConditionIx, FastenerIx, MeasureIx, StageKind, Term};
use crate::quantity::Quantity;

/// The next stage to be done, worked out from the ledger.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Pending {
    /// Which group.
    pub group: FastenerIx,
    /// Which item, an index into the places of the group.
    pub item: usize,
    /// Its rank among the items in hand, in the order of tightening, from 0.
    #[serde(skip)]
    pub rank: usize,
    /// How many items are in hand.
    #[serde(skip)]
    pub items: usize,
    /// Which stage, from 0.
    pub stage: usize,
    /// How many stages the programme has.
    #[serde(skip)]
    pub stages: usize,
    /// What to do; `None` where the source publishes no value.
    #[serde(skip)]
    pub kind: Option<StageKind>,
    /// Must the item be a new one, and is that to be said now?
    #[serde(skip)]
    pub new: bool,
    /// Already turned by this much in this stage, by a reading that fell short; only the rest is left.
    pub turned: Option<Quantity>,
    /// It turns by an angle and was interrupted: nobody knows yet how far it went, so it is never said as to be done.
    pub interrupted: bool,
    /// Nobody was interrupted: it had only been announced when something was taken back.
    #[serde(skip)]
    pub announced: bool,
    /// The state that the vehicle must be in first, if it is not: until then this stage is not to be done.
    #[serde(skip)]
    pub waits: Option<ConditionIx>,
    /// What its torque is made of, if it counts from a measurement.
    #[serde(skip)]
    pub counted: Option<Counted>,
    /// Same group and stage kind as the stage said just before it: a short form is enough.
    #[serde(skip)]
    pub follows: Follows,
}

/// How a pending stage follows the one said before it, so that words can be saved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Follows {
    /// First in this step, or after other talk: say all.
    Nothing,
    /// Next item, same stage.
    SameStage,
    /// Next stage, same item.
    SameItem,
    /// Another stage and another item of the same group.
    SameGroup,
}

/// What has to be done to an item before its programme may start again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Remedy {
    /// Take it out, fit a new one, start it by hand.
    Renew,
    /// Slacken it fully, start it by hand.
    Restart,
    /// Start it by hand: it is out, or slack, already.
    Start,
}

/// State of a thing in the ledger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ThingState {
    /// A fastener.
    Item(ItemState),
    /// A support: in place or not.
    Placed(bool),
    /// A component.
    Component(ComponentState),
    /// A connection: closed or not.
    Connected(bool),
    /// A state of the vehicle: reached or not.
    In(bool),
}

/// What a value is made of: the measurement, and what the book adds to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Counted {
    /// Which measurement.
    pub from: MeasureIx,
    /// What was measured.
    pub base: Quantity,
    /// What else was measured that is added to it, or taken away from it.
    pub more: Vec<(Term, Quantity)>,
    /// What is added to it.
    pub by: Bounds,
}

/// What decides whether a step is to be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum On {
    /// Where this measurement lies.
    Measurement {
        /// Which step.
        step: usize,
        /// Index into the acts of the step.
        act: usize,
    },
    /// The answer to the question of a step.
    Answer {
        /// Which step.
        step: usize,
    },
}
