//! Why a command is not followed: facts to be put into words by `dialogue`, as all that a job answers.

use super::asked::Question;
use super::pending::{Counted, On, Pending, Remedy, ThingState};
use crate::procedure::{Act, ConditionIx, FastenerIx};
use crate::quantity::{Quantity, Unit};

/// Why a command is not followed.
#[derive(Debug, Clone, PartialEq)]
pub enum Refusal {
    /// Tightening is not finished: what is missing.
    Unfinished {
        /// Items that miss a stage.
        items: usize,
        /// Stages still to do.
        stages: usize,
        /// What comes next.
        pending: Pending,
    },
    /// That is no value of a tightening, or cannot be right.
    NoValue,
    /// That is no page.
    NoPage,
    /// So many fasteners are not two rows alike.
    NoTwoRows,
    /// This step is not to be done.
    NotNeeded {
        /// Which step.
        step: usize,
        /// What came out in order; nothing where that is not to be done either.
        on: Option<On>,
    },
    /// Whether this step is to be done is not known yet.
    Undecided {
        /// Which step.
        step: usize,
        /// What it depends on.
        on: On,
    },
    /// A measurement of this step has no reading.
    Unmeasured {
        /// Which step.
        step: usize,
        /// Index into the acts of the step.
        act: usize,
    },
    /// A torque counts from a measurement, and with what was measured it comes to none.
    NoTorque(Box<Counted>),
    /// A measurement of this step lies outside its limits.
    Outside {
        /// Which step.
        step: usize,
        /// Index into the acts of the step.
        act: usize,
        /// The last reading.
        value: Quantity,
    },
    /// The vehicle must be in this state first, and a step that is not done brings it there.
    NotInState(ConditionIx),
    /// An item is not in a state from which this can be done.
    Unlawful {
        /// What should be done.
        act: Act,
        /// The item in the way: index into the places for a fastener, 0 otherwise.
        item: usize,
        /// Its state.
        state: ThingState,
        /// The earlier step that should have brought it there and is open, if there is one.
        open_step: Option<usize>,
    },
    /// There is no such step.
    NoSuchStep {
        /// What was asked for, counted from 1.
        asked: u32,
        /// How many there are.
        steps: usize,
    },
    /// This is the first step.
    AtFirst,
    /// This is the last step: finish the job.
    AtLast,
    /// Nothing is being tightened in this step.
    NothingPending,
    /// No number is awaited.
    NoReadingAwaited,
    /// The reading is in a unit of another kind.
    WrongKind {
        /// The reading.
        value: Quantity,
        /// The unit of what is awaited.
        wanted: Unit,
    },
    /// A tool sent a reading before what it would be of had been put to the user to its end.
    TooSoon {
        /// The reading.
        value: Quantity,
    },
    /// Nothing was asked.
    NothingAsked,
    /// The question asked must be answered first.
    AnswerFirst(Box<Question>),
    /// There is no fact left to take back.
    NothingToUndo,
    /// The last fact is no number, or not of this step.
    NothingToCorrect,
    /// Decimals without the number before them: which one they belong to is not known.
    RestOfNumber,
    /// A remedy is awaited: do it and say done.
    RemedyFirst {
        /// Which group.
        group: FastenerIx,
        /// Which item.
        item: usize,
        /// What has to be done to it.
        remedy: Remedy,
    },
    /// It is none of the variants that the book has.
    NoVariant,
    /// What was done stands in the ledger by the steps of the variant, so that cannot be taken back.
    VariantStands,
    /// A group is tightened, and what locks it is not fitted.
    NotLocked {
        /// Which group.
        group: FastenerIx,
    },
    /// There were as many rounds as the book allows: what it says then. The step stays open.
    RoundsOver {
        /// The step that asks.
        step: usize,
    },
    /// The time that there is for a step is over: what the book says then. The step stays open.
    TooLate {
        /// Which step.
        step: usize,
    },
    /// An adapter is on the wrench: its scale does not show the torque at the fastener.
    AdapterOn,
    /// The job is closed.
    Closed,
}
