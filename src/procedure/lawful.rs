//! The one table of lawful changes: which act may follow which state of a thing, and what state it leaves.
//!
//! `check` walks a file with it from the first step to the last, the job walks a day with it; so what `check` passes
//! can be done, and what cannot be done `check` finds. Knows the states of things. Leaves to others when an act is due,
//! and what else is remembered of a thing (`job`).
//!
//! A day brings more than a book: bolts break, steps are left out and gone back to. So the table has rows that no book
//! comes by, and some acts are let pass on the day although a book that asks for them is wrong.

use super::model::{Act, ConditionIx, Deed, Fastener, Step};

/// State of one fastener.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ItemState {
    /// Not touched yet.
    AsFound,
    /// Loosened, still in.
    Slackened,
    /// Out.
    Out,
    /// Unscrewed, but it cannot come out yet.
    Trapped,
    /// Put back only to hold things together.
    Holding,
    /// Started by hand.
    HandStarted,
    /// So many stages of its programme are recorded, more are to come. Never 0.
    AtStage(usize),
    /// Its programme is complete.
    Final,
    /// Its programme is complete, and what locks it is in.
    Locked,
    /// As it was found, but for what locked it, which is out.
    Unlocked,
    /// Nobody knows whether its angle stage was done.
    InDoubt,
    /// No longer fit for use; a new one takes its place.
    Scrapped,
}

/// State of a component.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ComponentState {
    /// On the vehicle.
    On,
    /// Off.
    Off,
    /// Hung up.
    Hung,
}

/// What an act may do to a thing as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lawful<S> {
    /// It leaves this state.
    Leaves(S),
    /// It is let pass on the day and leaves this state; why no book should ask for it.
    LetPass(S, &'static str),
    /// It cannot be done; what must come before it.
    Never(&'static str),
}

impl<S> Lawful<S> {
    /// The state it leaves when it is done in a job.
    pub fn on_the_day(self) -> Option<S> {
        match self {
            Lawful::Leaves(to) | Lawful::LetPass(to, _) => Some(to),
            Lawful::Never(_) => None,
        }
    }

    /// The state it leaves when a book asks for it; the error says what is wrong about that.
    pub fn by_the_book(self) -> Result<S, &'static str> {
        match self {
            Lawful::Leaves(to) => Ok(to),
            Lawful::LetPass(_, why) | Lawful::Never(why) => Err(why),
        }
    }
}

const LOCKED: &str = "take out what locks it first";

impl ItemState {
    /// What a deed may do to a fastener in this state.
    pub fn after(self, deed: Deed, fastener: &Fastener) -> Lawful<ItemState> {
        use ItemState::*;
        use Lawful::*;
        match (deed, self) {
            // A scrapped fastener is gone, whatever was to be done to it on the way out.
            (Deed::Slacken | Deed::Remove | Deed::Trap, Scrapped) => LetPass(Scrapped, "it is scrapped"),
            // Who turned it on the day has taken out what locked it.
            (Deed::Slacken, state) if state.is_locked(fastener) => LetPass(Slackened, LOCKED),
            (Deed::Remove, state) if state.is_locked(fastener) => LetPass(Out, LOCKED),
            (Deed::Trap, state) if state.is_locked(fastener) => LetPass(Trapped, LOCKED),
            (Deed::Slacken, AsFound | Holding | HandStarted | AtStage(_) | Final | Locked | Unlocked) => {
                Leaves(Slackened)
            }
            (Deed::Slacken, Slackened) => LetPass(Slackened, "only what is tight can be slackened"),
            // Slackening a fastener in doubt is a part of its remedy and does not end the doubt.
            (Deed::Slacken, Out | Trapped | InDoubt) => Never("only what is tight can be slackened"),
            (Deed::Remove, Out) => LetPass(Out, "it is out already"),
            (Deed::Remove, _) => Leaves(Out),
            (Deed::Trap, AsFound | Slackened | Holding | HandStarted | AtStage(_) | Final | Locked | Unlocked) => {
                Leaves(Trapped)
            }
            (Deed::Trap, Trapped) => LetPass(Trapped, "only what is screwed in can be unscrewed"),
            (Deed::Trap, Out | InDoubt) => Never("only what is screwed in can be unscrewed"),
            (Deed::Hold, Out | Trapped) => Leaves(Holding),
            // Another one has to hold in its place.
            (Deed::Hold, Scrapped) => Leaves(Holding),
            (Deed::Hold, Holding) => LetPass(Holding, "only what is out can be put back to hold"),
            (Deed::Hold, _) => Never("only what is out can be put back to hold"),
            (Deed::HandStart, Out | Trapped | Slackened | Scrapped) => Leaves(HandStarted),
            // On the day a new one is taken for it.
            (Deed::HandStart, Holding) if fastener.single_use => {
                LetPass(HandStarted, "it is single-use: take the old one out first")
            }
            (Deed::HandStart, Holding) => Leaves(HandStarted),
            (Deed::HandStart, HandStarted) => LetPass(HandStarted, "take it out, or slacken it, first"),
            (Deed::HandStart, AsFound | AtStage(_) | Final | Locked | Unlocked | InDoubt) => {
                Never("take it out, or slacken it, first")
            }
            (Deed::Lock, Final) => Leaves(Locked),
            // What was only taken out and put back leaves it as it was.
            (Deed::Lock, Unlocked) => Leaves(AsFound),
            (Deed::Lock, Locked) => LetPass(Locked, "it is locked already"),
            (Deed::Lock, _) => Never("bring it to its end state first"),
            (Deed::Unlock, AsFound) => Leaves(Unlocked),
            (Deed::Unlock, Locked) => Leaves(Final),
            (Deed::Unlock, _) => LetPass(self, "it is not locked"),
            (Deed::Tighten(_), AsFound | Unlocked) => Never("it was never loosened"),
            (Deed::Tighten(through), _) => {
                let stages = fastener.finish.len();
                let to = through.unwrap_or(stages).min(stages);
                match self.stages_done(stages) {
                    None => Never("start it by hand first"),
                    Some(done) if done < to => Leaves(ItemState::with_stages(to, stages)),
                    Some(_) => LetPass(self, "that stage was done already, and a stage is done once"),
                }
            }
        }
    }

    /// Stages done of so many; `None` in a state from which no stage can follow.
    pub fn stages_done(self, stages: usize) -> Option<usize> {
        match self {
            ItemState::HandStarted => Some(0),
            ItemState::AtStage(k) => Some(k),
            ItemState::Final | ItemState::Locked => Some(stages),
            _ => None,
        }
    }

    /// The state with so many stages done; at least one.
    pub fn with_stages(done: usize, stages: usize) -> ItemState {
        if done >= stages { ItemState::Final } else { ItemState::AtStage(done) }
    }

    /// May one of this group be left so at the end?
    pub fn is_settled(self, fastener: &Fastener) -> bool {
        match self {
            ItemState::AsFound | ItemState::Locked => true,
            ItemState::Final => fastener.lock.is_none(),
            _ => false,
        }
    }

    /// Is what locks one of this group in it?
    pub fn is_locked(self, fastener: &Fastener) -> bool {
        self == ItemState::Locked || self == ItemState::AsFound && fastener.lock.is_some()
    }
}

/// What may be done to a support, a component, a connection or a state of the vehicle: it is brought from where it is to
/// where the act wants it. Where it is so already, nothing is changed; but what is in its end state already was never
/// brought out of it, so the step that should have done so is missing.
fn brought<S: PartialEq>(now: S, to: S, end: S) -> Lawful<S> {
    const MISSING: &str = "the act that comes before it is missing";
    match now == to {
        false => Lawful::Leaves(to),
        true if to == end => Lawful::Never(MISSING),
        true => Lawful::LetPass(to, "it is so already"),
    }
}

/// Puts a support in place, or takes it away.
pub fn support(placed: bool, to: bool) -> Lawful<bool> {
    brought(placed, to, false)
}

/// Brings the vehicle into a state, or out of it.
pub fn condition(is_in: bool, to: bool) -> Lawful<bool> {
    brought(is_in, to, false)
}

/// Takes a component off, hangs it up or puts it on.
pub fn component(now: ComponentState, to: ComponentState) -> Lawful<ComponentState> {
    brought(now, to, ComponentState::On)
}

/// Closes a connection, or opens it.
pub fn connection(closed: bool, to: bool) -> Lawful<bool> {
    brought(closed, to, true)
}

/// The state of the vehicle that a step waits for, once these acts of it are done. A step that is still to bring the
/// vehicle there itself does not wait for it, and one that has brought it away from there needs it no longer. What it
/// tightens and measures needs the state all the same.
pub fn step_needs(step: &Step, done: impl Fn(usize) -> bool) -> Option<ConditionIx> {
    let needs = step.needs?;
    let is = |wanted: Act, by: bool| step.acts.iter().enumerate().any(|(n, act)| *act == wanted && done(n) == by);
    (!is(Act::Reach(needs), false) && !is(Act::Leave(needs), true)).then_some(needs)
}
