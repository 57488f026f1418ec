//! What the job asks its user: facts to be put into words by `dialogue`, as all that it answers.

use super::command::Damage;
use super::fact::Fact;
use super::ledger::Item;
use super::open::Open;
use super::pending::Pending;
use super::verdict::Verdict;
use crate::procedure::{Bounds, ConditionIx, FastenerIx, SupportIx, VariantIx};
use crate::quantity::{Quantity, Unit};

/// Something that steps not done would see to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Between {
    /// A support to put in place.
    Set(SupportIx),
    /// A support to take away.
    TakeAway(SupportIx),
    /// The hold point of this step.
    Hold(usize),
    /// The question that ends the rounds of this step, or on which other steps depend.
    Until(usize),
    /// A group with fasteners to tighten.
    Tighten(FastenerIx),
    /// A group with fasteners to lock.
    Lock(FastenerIx),
}

/// A question of the job to the user.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub enum Question {
    /// The hold point of this step (its own text).
    Hold {
        /// Which step.
        step: usize,
    },
    /// Is the vehicle of this variant? Asked before the first step, one after the other.
    Variant {
        /// Which one.
        variant: VariantIx,
    },
    /// Was this step done in the time that there is for it?
    InTime {
        /// Which step.
        step: usize,
        /// The reading that waits for the answer.
        #[serde(skip_serializing_if = "Option::is_none")]
        reading: Option<Waiting>,
    },
    /// Has what these steps put together, on top of what is claimed or within a time of it, come apart for it?
    Apart {
        /// Which steps.
        steps: Vec<usize>,
        /// The step in hand is claimed once more.
        again: bool,
    },
    /// Is it so (the step's own text)? Other steps are done after a "no" only.
    Ask {
        /// Which step.
        step: usize,
    },
    /// Is it so (the step's own text)? With "no" the next round begins.
    Until {
        /// Which step.
        step: usize,
        /// Which round, from 1.
        round: u32,
    },
    /// This step is done already: was it done once more?
    Again {
        /// Which step.
        step: usize,
    },
    /// Leave this step open?
    Skip {
        /// Which step.
        step: usize,
    },
    /// Go to this step, past others that are not done?
    GoTo {
        /// Which step.
        step: usize,
        /// The steps before it that are not done.
        #[serde(skip)]
        not_done: Vec<usize>,
        /// What they would see to, each once: supports first, then hold points, then groups of fasteners.
        #[serde(skip)]
        between: Vec<Between>,
    },
    /// Take back this fact?
    Undo(Fact),
    /// Which number is right for this fact? With one that lies elsewhere than it should: is that right?
    Correct {
        /// The fact.
        fact: Fact,
        /// The number it was recorded with.
        was: Quantity,
        /// What the new number is held against, once there is one.
        #[serde(skip)]
        limits: Bounds,
        /// What was heard, where it lies, and whether it is so far off that it was probably misheard.
        value: Option<(Quantity, Verdict, bool)>,
    },
    /// The claim of a turn was taken back as soon as it was made, and the fastener is in doubt for it: was it turned at all?
    Turned {
        /// The stage.
        pending: Pending,
        /// The fastener as it was before the claim.
        before: Box<Item>,
    },
    /// Put the job down for now?
    Pause {
        /// The question that stood, and stands again after "no".
        instead: Option<Box<Question>>,
    },
    /// An angle stage was interrupted: not started, finished, or not sure?
    Angle(Pending),
    /// A reading off the mark: is it right?
    Reading {
        /// What was heard.
        value: Quantity,
        /// Where it lies.
        verdict: Verdict,
        /// So far off that it was probably misheard.
        far: bool,
        /// The tool that sent it, if nobody said it.
        #[serde(skip_serializing_if = "Option::is_none")]
        from: Option<String>,
        /// What it is held against.
        #[serde(skip)]
        limits: Bounds,
    },
    /// A number without a unit does not fit in the unit heard last and would fit in another: is it that one?
    Unit {
        /// The number in the unit in which it would fit.
        value: Quantity,
        /// The unit heard last.
        not: Unit,
    },
    /// Leave this measurement outside its limits?
    LeaveOutside {
        /// Which step.
        step: usize,
        /// Index into the acts of the step.
        act: usize,
        /// The last reading.
        value: Quantity,
    },
    /// Is this fastener broken, stripped, lost?
    Damaged {
        /// Which group.
        group: FastenerIx,
        /// Which item.
        item: usize,
        /// What happened to it.
        damage: Damage,
    },
    /// The step or stage waits for this state of the vehicle, and no step is left that brings it there: is it so?
    State(ConditionIx),
    /// Which fastener is broken, stripped, lost? Answered by [`super::Command::Place`].
    Which {
        /// What happened to it.
        damage: Damage,
        /// Group and item of each that it can be, named in this order by [`super::Expect::places`].
        choices: Vec<(FastenerIx, usize)>,
    },
    /// Close the job although these points of one kind are open? Asked kind by kind; empty: close the job?
    Finish {
        /// The points asked about now, all of one kind.
        open: Vec<Open>,
    },
    /// The step asks for time to pass; so many minutes are left. Has it passed?
    Wait {
        /// Minutes still to pass, of the time that the program watched.
        minutes_left: u32,
        /// The program was away since the wait began, so more of it may have passed.
        unwatched: bool,
    },
}

/// A reading that is not recorded before a question about it is answered.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Waiting {
    /// The reading.
    pub value: Quantity,
    /// The tool that sent it, if nobody said it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
}
