//! Scenarios of recorded sound and typed lines: played into the same ear, conversation and mouth that a person has,
//! compared with what must be heard, said and true after each, measured and reported.
//!
//! Knows the session. Is not known by any room it plays into. Deterministic: the clock of the job follows the sound,
//! so the same scenario gives the same report but for the times.

mod compare;
mod report;
mod run;
mod scenario;

pub use report::{Report, TurnReport, percentile};
pub use run::{Begins, Options, ReplayError, run};
pub use scenario::{Given, Scenario, ScenarioError, ScenarioTurn, Then};
