//! A group of like fasteners, what is done to one, and the tightening programme that brings it to its end state.
//!
//! Knows quantities. Leaves to others which deed may follow which (`lawful`) and where the work stands (`job`).

use super::index::{ConditionIx, MeasureIx, ToolIx};
use crate::quantity::{Angle, Limits, Torque, TorqueUnit};
use rust_decimal::Decimal;

/// A group of like fasteners.
#[derive(Debug, Clone, PartialEq)]
pub struct Fastener {
    /// Key in the file.
    pub id: String,
    /// Spoken name of one of them ("pivot bolt").
    pub name: String,
    /// Spoken name of several ("pivot bolts").
    pub plural: String,
    /// Where each one sits ("front", "rear"); its length is the count. Never empty.
    pub places: Vec<String>,
    /// Thread as written ("M12 x 1.5").
    pub thread: Option<String>,
    /// Property class as written ("10.9").
    pub class: Option<String>,
    /// What the tool must fit ("18 mm hex"), where the source has it.
    pub drive: Option<String>,
    /// Has it a left-hand thread?
    pub left_hand: bool,
    /// What locks it once it is in its end state ("cotter pin"). Where there is such a thing, it is not done without.
    pub lock: Option<String>,
    /// The tool for it.
    pub tool: Option<ToolIx>,
    /// Must it be replaced once removed, or once in doubt?
    pub single_use: bool,
    /// State of the thread that the values hold for ("clean and dry").
    pub preparation: Option<String>,
    /// Order of tightening: indices into `places`, each once.
    pub order: Vec<usize>,
    /// How passes run.
    pub runs: Runs,
    /// How it is brought to its end state.
    pub finish: Finish,
    /// What to do when a reading comes out over its target.
    pub over: OverRule,
    /// The picture that shows where each one sits and how it is numbered, by its file or its page.
    pub picture: Option<String>,
    /// Page of the values ("page 4-12").
    pub source: Option<String>,
}

/// How passes over a group run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Runs {
    /// Each fastener goes through all its stages before the next one.
    OneAtATime,
    /// All fasteners go through stage 1, then all through stage 2, and so on.
    StageByStage,
}

/// What to do with a fastener tightened too far.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OverRule {
    /// Slacken it and start its programme again.
    Restart,
    /// Scrap it and fit a new one.
    Renew,
}

/// The end state of a fastener group.
#[derive(Debug, Clone, PartialEq)]
pub enum Finish {
    /// A tightening programme; never empty.
    Stages(Vec<Stage>),
    /// The source publishes no value; the text says what the source says instead.
    NoValue {
        /// What to do ("tighten by feel until the collar seats").
        instead: String,
    },
    /// The value is still to be looked up, and stands in no file yet.
    Later {
        /// So is the order of tightening: the one of the places is none of the book's.
        order: bool,
        /// So is how passes run.
        runs: bool,
    },
}

impl Finish {
    /// Number of things to do to reach the end state: the stages, or the one act without a value.
    pub fn len(&self) -> usize {
        match self {
            Finish::Stages(stages) => stages.len(),
            Finish::NoValue { .. } | Finish::Later { .. } => 1,
        }
    }

    /// Never true: there is always something to do. Here because `len` is.
    pub fn is_empty(&self) -> bool {
        false
    }

    /// Is the value still to be looked up?
    pub fn is_later(&self) -> bool {
        matches!(self, Finish::Later { .. })
    }

    /// Stage `k`, counted from 0; `None` past the end and where no value is published.
    pub fn stage(&self, k: usize) -> Option<&Stage> {
        match self {
            Finish::Stages(stages) => stages.get(k),
            Finish::NoValue { .. } | Finish::Later { .. } => None,
        }
    }
}

/// One stage of a tightening programme.
#[derive(Debug, Clone, PartialEq)]
pub struct Stage {
    /// What to do.
    pub kind: StageKind,
    /// The measurement that its torque counts from; the torque of the kind is what is added to that, or less than nothing
    /// where it is taken away.
    pub from: Option<MeasureIx>,
    /// How much of the final torque its own is, in per cent, where the source publishes it so.
    pub share: Option<Decimal>,
    /// The second unit in which the source publishes its torque.
    pub also: Option<TorqueUnit>,
    /// What is done at the same time ("turning the shaft by hand").
    pub meanwhile: Option<String>,
    /// What ends it ("a slot lines up with the hole").
    pub until: Option<String>,
    /// The state the vehicle must be in for it.
    pub needs: Option<ConditionIx>,
    /// Page of this value where it is not that of the fastener.
    pub source: Option<String>,
}

impl Stage {
    /// A stage of which no more is known than what to do.
    pub fn plain(kind: StageKind) -> Stage {
        Stage { kind, from: None, share: None, also: None, meanwhile: None, until: None, needs: None, source: None }
    }
}

/// What a stage asks for.
#[derive(Debug, Clone, PartialEq)]
pub enum StageKind {
    /// Tighten to a torque, or until a torque inside a window.
    Torque(Limits<Torque>),
    /// Turn on by an angle, or by an angle inside a window.
    Angle(Limits<Angle>),
    /// Turn back by an angle, or by an angle inside a window.
    BackOff(Limits<Angle>),
    /// Turn on to where the next slot meets the hole, by an angle at most, and never back.
    Slot(Angle),
    /// Slacken fully.
    Slacken,
}

impl StageKind {
    /// Is it turned by an angle in the tightening direction? Such a stage must never be applied twice.
    pub fn is_angle(&self) -> bool {
        matches!(self, StageKind::Angle(_) | StageKind::Slot(_))
    }
}

/// What is done to a fastener.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Deed {
    /// Loosen, leaving it in.
    Slacken,
    /// Take it out.
    Remove,
    /// Unscrew it; it cannot come out yet.
    Trap,
    /// Put it back only to hold things together.
    Hold,
    /// Start it by hand.
    HandStart,
    /// Tighten through this stage, counted from 1; `None` is to the end.
    Tighten(Option<usize>),
    /// Take out what locks it.
    Unlock,
    /// Lock it as it is in its end state.
    Lock,
}
