//! What can be asked of a job.

use super::answer::Ask;
use super::told::BookValue;
use crate::procedure::ToldOrder;
use crate::quantity::Unit;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// A command, whatever it was spoken, typed or read from a journal.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Command {
    /// Begins a new job: who it defers to, the sources, the first step.
    Open,
    /// Takes up a job again after the program was away.
    Resume,
    /// On to the next step. A step with nothing to confirm, measure or tighten counts as done by it.
    Next,
    /// To the step before, changing nothing else.
    Back,
    /// To a step by its number, counted from 1, changing nothing else.
    GoTo(u32),
    /// Says where the job stands.
    WhereAmI,
    /// Leaves a step open and goes on; asks first.
    Skip,
    /// A question that changes nothing.
    Ask(Ask),
    /// What was asked for is done: the stage pending, or the step.
    Done,
    /// A number read from a tool or gauge.
    Reading(Reading),
    /// The same, said without its unit: it is the one that the user heard last of what is read.
    Number {
        /// The number.
        amount: Decimal,
        /// The unit heard last.
        unit: Unit,
        /// The unit of the user's own tool, where that is another.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        own: Option<Unit>,
    },
    /// What goes on from a whole number that was taken already: its decimals, said after a pause. Asks for the number
    /// made of both.
    Rest(Decimal),
    /// A number that a tool sent by itself.
    FromTool {
        /// The number.
        amount: Decimal,
        /// Its unit, which the tool sent as well or always has.
        unit: Unit,
        /// What the user calls the tool.
        tool: String,
    },
    /// The user does not know whether the pending stage was done.
    NotSure,
    /// Answer after an interruption: the stage was not begun.
    NotBegun,
    /// Answer after an interruption: the stage was finished.
    Finished,
    /// What the book says of the group in hand, whose value was left for later; asks whether it is right.
    BookValue(BookValue),
    /// The page of it.
    BookPage(String),
    /// The page is not known; with the words that stand in its place.
    NoBookPage(String),
    /// The order of tightening that the book has for it.
    BookOrder(ToldOrder),
    /// Puts a mark in the record at this step.
    Mark,
    /// Something to be kept with the job.
    Note(Note),
    /// Takes back the last fact; asks first.
    Undo,
    /// The number recorded last is not the right one; asks for it. The answer is a reading.
    Correct,
    /// The thing will not come: help for this step.
    Stuck,
    /// The fastener in hand is no longer fit for use; asks which one where that is not plain, and whether it is so.
    Damaged(Damage),
    /// Which fastener is meant: an index into [`super::Expect::places`].
    Place(usize),
    /// Yes to the question asked.
    Yes,
    /// No to the question asked.
    No,
    /// Starts a timer of so many minutes.
    Timer(u32),
    /// A timer has run out. Given by the session, never spoken.
    TimeUp,
    /// Puts the job down for now, at once.
    Pause,
    /// The same, asked back first.
    TakeBreak,
    /// Closes the job; reads what is open and asks first.
    Finish,
}

/// A number read from a tool.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Reading {
    /// The number.
    pub amount: Decimal,
    /// Its unit, if it was said; otherwise that of the value asked for.
    pub unit: Option<Unit>,
}

/// Something to be kept with the job.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Note {
    /// Its words.
    Typed(String),
    /// Recorded sound.
    Sound {
        /// The file, below the folder of the job.
        file: String,
        /// How long it is.
        milliseconds: u64,
    },
}

/// Why a fastener is no longer fit for use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Damage {
    /// It broke.
    Broken,
    /// Its thread or head is stripped.
    Stripped,
    /// It is lost.
    Lost,
}

/// What a command puts at stake if it was not meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stake {
    /// Nothing: it only speaks.
    Nothing,
    /// The position in the job.
    Position,
    /// A claim in the ledger.
    Ledger,
}

impl Command {
    /// What it puts at stake if it was not meant.
    pub fn stake(&self) -> Stake {
        match self {
            Command::Note(_) => Stake::Nothing,
            Command::WhereAmI | Command::Ask(_) | Command::Stuck | Command::No | Command::TimeUp => Stake::Nothing,
            Command::Open | Command::Resume | Command::Back | Command::GoTo(_) | Command::Timer(_) => Stake::Position,
            // These ask before they act, so a false one costs a question.
            Command::Skip
            | Command::Undo
            | Command::Correct
            | Command::Rest(_)
            | Command::Damaged(_)
            | Command::Place(_)
            | Command::BookValue(_)
            | Command::BookPage(_)
            | Command::NoBookPage(_)
            | Command::BookOrder(_)
            | Command::Finish
            | Command::TakeBreak
            | Command::Pause => Stake::Position,
            Command::Next
            | Command::Done
            | Command::Reading(_)
            | Command::Number { .. }
            | Command::FromTool { .. }
            | Command::NotSure
            | Command::NotBegun
            | Command::Finished
            | Command::Mark
            | Command::Yes => Stake::Ledger,
        }
    }
}
