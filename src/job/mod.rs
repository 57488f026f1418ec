//! The job in hand: position, ledger of every fastener and support, tightening programmes, audit.
//!
//! Pure: the same commands in give the same replies out. Knows the procedure and quantities. Never reads a clock,
//! touches a file or speaks: it is told the moment of each command, `journal` writes, `dialogue` finds the words.

pub mod command;
pub mod ledger;
pub mod reply;

pub use command::{Ask, At, Command, Damage, Reading, Stake};
pub use ledger::{ComponentState, ItemState};
pub use reply::{
    Answer, Fact, Follows, Open, Pending, Question, Refusal, Remedy, Reply, Say, ThingState, Verdict,
};

/// What may be said now, so that only that is listened for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Expect {
    /// How many steps there are to go to.
    pub steps: usize,
    /// A yes-or-no question stands.
    pub yes_no: bool,
    /// The question after an interrupted angle stage stands.
    pub angle: bool,
    /// A stage or a measurement is pending, so a reading may be said; in which unit, and about how large it may be.
    pub reading: Option<crate::quantity::Quantity>,
    /// A fastener is in hand.
    pub fastener: bool,
}
