//! The states that a record names: of the job, of its fasteners, parts and steps.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How far a job is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum JobState {
    /// It goes on.
    Running,
    /// It was put down for now.
    Paused,
    /// It was closed with nothing open.
    Closed,
    /// It was closed although points were open; they were confirmed as open.
    ClosedWithOpenPoints,
}

/// State of a fastener.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ItemStateName {
    /// Not touched.
    AsFound,
    /// Loosened, still in.
    Slackened,
    /// Out.
    Out,
    /// Unscrewed, still trapped.
    Trapped,
    /// Put back only to hold things together.
    Holding,
    /// Started by hand.
    HandStarted,
    /// Some stages are recorded.
    AtStage,
    /// Its programme is complete.
    Final,
    /// Its programme is complete, and what locks it is in.
    Locked,
    /// As it was found, but for what locked it.
    Unlocked,
    /// Nobody knows how far it is.
    InDoubt,
    /// No longer fit for use.
    Scrapped,
}

/// What the ledger holds of a new part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum PartHeld {
    /// So many fasteners were fitted as new ones, those among them that were scrapped since.
    NewFasteners(u32),
    /// The component the part stands for was taken off and put on again.
    PutOn,
    /// The component is off, or was never touched.
    NotPutOn,
    /// All steps that would fit it are not to be done.
    NotNeeded,
}

/// How far a step is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum StepStateName {
    /// Not done.
    Open,
    /// Left open by the user's word.
    Skipped,
    /// Said to be done.
    Done,
    /// Not to be done: what it is done after did not come about.
    NotNeeded,
}
