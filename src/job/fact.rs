//! What a job records.

use super::at::At;
use super::command::{Damage, Note};
use super::ledger::{Change, ItemState};
use super::told::Telling;
use crate::procedure::{ConditionIx, FastenerIx, VariantIx};
use crate::quantity::Quantity;

/// A fact of the job, as it is named when it is taken back.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub enum Fact {
    /// The vehicle is of this variant.
    Variant(VariantIx),
    /// A step was done.
    StepDone(usize),
    /// A step was left open.
    StepSkipped(usize),
    /// A step that was done already was done once more.
    Again(usize),
    /// The question of a step on which others depend was answered.
    Answered {
        /// The step that asks.
        step: usize,
        /// Yes or no.
        yes: bool,
    },
    /// A round of steps that are done until a question is answered with yes came out with no.
    Round {
        /// The step that asks.
        step: usize,
        /// Which round, from 1.
        round: u32,
    },
    /// A stage of an item was recorded.
    Stage {
        /// Which group.
        group: FastenerIx,
        /// Which item.
        item: usize,
        /// Which stage.
        stage: usize,
    },
    /// A reading of a measurement was recorded.
    Measured {
        /// Which step.
        step: usize,
        /// Index into the acts of the step.
        act: usize,
    },
    /// A measurement was left outside its limits by the user's word.
    LeftOutside {
        /// Which step.
        step: usize,
        /// Index into the acts of the step.
        act: usize,
    },
    /// Acts of a step were recorded; it needs more than them.
    Acts {
        /// Which step.
        step: usize,
        /// First act.
        from: usize,
        /// Act behind the last.
        to: usize,
    },
    /// The clock of the wait of a step was started, by itself.
    WaitBegun(usize),
    /// The wait of a step was declared over.
    Waited(usize),
    /// A step was done in the time that there is for it, by the user's word.
    InTime(usize),
    /// A reading outside its window was recorded; the stage is still to be done.
    Reading {
        /// Which group.
        group: FastenerIx,
        /// Which item.
        item: usize,
        /// Which stage.
        stage: usize,
    },
    /// After an interruption the user said that the stage was not begun.
    NotBegun {
        /// Which group.
        group: FastenerIx,
        /// Which item.
        item: usize,
        /// Which stage.
        stage: usize,
    },
    /// An item was declared unfit for use.
    Scrapped {
        /// Which group.
        group: FastenerIx,
        /// Which item.
        item: usize,
        /// What happened to it.
        damage: Damage,
    },
    /// An item was declared in doubt, or its programme begun again.
    Item {
        /// Which group.
        group: FastenerIx,
        /// Which item.
        item: usize,
        /// Its state by that fact.
        state: ItemState,
    },
    /// The user said that the vehicle is in this state.
    State(ConditionIx),
    /// What the book says of a group was told.
    Book(Box<Telling>),
    /// A mark was set.
    Mark(usize),
    /// A note was kept.
    Note {
        /// At which step.
        step: usize,
        /// The note.
        note: Note,
    },
}

/// A fact as it stands in the job.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Recorded {
    /// When.
    pub at: At,
    /// At which step, from 0.
    pub step: usize,
    /// What.
    pub fact: Fact,
    /// The reading that came with it.
    pub reading: Option<Quantity>,
    /// The tool that sent it, if nobody said it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// Was it taken back later?
    pub taken_back: bool,
    /// The reverse of each change it made, in the order they were made.
    #[serde(skip)]
    pub(super) made: Vec<Change>,
}
