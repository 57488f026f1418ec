//! The state of every single thing, and the only way to change it: by a [`Change`] that leaves its reverse behind.
//!
//! Knows which states there are and which deed leads from which to which. Leaves to others when a deed is due
//! (`work`) and what is said about it.

use crate::procedure::{
    Act, Cause, ComponentIx, ConditionIx, ConnectionIx, Deed, Fastener, FastenerIx, Finish, OverRule, Procedure,
    StageKind, SupportIx,
};
use crate::quantity::Quantity;

use super::{At, digest};

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

/// One fastener of a group.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Item {
    /// Its state.
    pub state: ItemState,
    /// Is it a new one, fitted in this job?
    pub new: bool,
    /// How often its programme was begun in this job.
    pub run: u32,
    /// It may have been turned in the next stage that turns it by an angle, as when that was left half-way: once that
    /// stage is pending the user has to say how far it went.
    pub suspect: bool,
    /// It is in doubt for a turn that was claimed and taken back. The turn is in it, so the doubt cannot be taken back:
    /// only the rule of the fastener ends it.
    pub spent: bool,
    /// A reading came out over: it must not stay as it is.
    pub over: bool,
    /// How far it was turned in the pending angle stage, by a reading that fell short.
    pub turned: Option<Quantity>,
    /// Readings of this run, with the stage they were taken in.
    pub readings: Vec<(usize, Quantity)>,
}

impl Item {
    fn as_found() -> Item {
        Item {
            state: ItemState::AsFound,
            new: false,
            run: 0,
            suspect: false,
            spent: false,
            over: false,
            turned: None,
            readings: Vec::new(),
        }
    }

    /// The same item where no stage can follow: in doubt, or scrapped.
    pub(super) fn stopped(&self, state: ItemState) -> Item {
        Item { state, suspect: false, spent: false, over: false, turned: None, ..self.clone() }
    }

    /// The same item with its programme at the very beginning.
    pub(super) fn hand_started(&self, new: bool) -> Item {
        Item { state: ItemState::HandStarted, new, run: self.run + 1, ..Item::as_found() }
    }

    /// Was it tightened so far that its rule asks for a new one?
    fn must_be_renewed(&self, fastener: &Fastener) -> bool {
        self.over && fastener.over == OverRule::Renew
    }

    /// Stages recorded in this run; `None` in a state from which no stage can follow.
    pub fn stages_done(&self, finish: &Finish) -> Option<usize> {
        match self.state {
            ItemState::HandStarted => Some(0),
            ItemState::AtStage(k) => Some(k),
            ItemState::Final => Some(finish.len()),
            _ => None,
        }
    }

    /// The same item with one more stage recorded.
    pub(super) fn after_stage(&self, stage: usize, finish: &Finish, reading: Option<Quantity>) -> Item {
        let mut item = self.clone();
        item.state = if stage + 1 >= finish.len() { ItemState::Final } else { ItemState::AtStage(stage + 1) };
        // What may have been turned stays so until the turn itself, or the slackening that undoes it, is recorded.
        let settles = finish.stage(stage).is_none_or(|s| !matches!(s.kind, StageKind::Torque(_)));
        item.suspect &= !settles && item.state != ItemState::Final;
        item.turned = None;
        item.readings.extend(reading.map(|r| (stage, r)));
        item
    }
}

/// How far a step has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StepState {
    /// Not done.
    Open,
    /// Left open by "skip".
    Skipped,
    /// Done.
    Done,
}

/// One change of the ledger. It names the thing and carries a state: the new one on the way in, and once applied
/// the one that was there before.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub(super) enum Change {
    Item(FastenerIx, usize, Box<Item>),
    Support(SupportIx, bool),
    Component(ComponentIx, ComponentState),
    Connection(ConnectionIx, bool),
    Condition(ConditionIx, bool),
    Step(usize, StepState),
    Act(usize, usize, bool),
    Held(usize, bool),
    Due(usize, Option<At>),
    Waited(usize, bool),
    Measured(usize, usize, Option<Quantity>),
}

/// The state of everything in the job.
#[derive(Debug, Clone, PartialEq)]
pub struct Ledger {
    items: Vec<Vec<Item>>,
    supports: Vec<bool>,
    components: Vec<ComponentState>,
    connections: Vec<bool>,
    conditions: Vec<bool>,
    steps: Vec<StepState>,
    /// Acts recorded, by step. Tightening is never in here: it is derived from the items.
    acts: Vec<Vec<bool>>,
    /// Hold points confirmed, by step.
    held: Vec<bool>,
    /// When the wait of a step is over by the clock, once that runs.
    due: Vec<Option<At>>,
    /// Waits that are over, by step.
    waited: Vec<bool>,
    measured: Vec<Vec<Option<Quantity>>>,
    /// The digests of everything that was changed, added up; see `digest`.
    sum: u64,
}

impl Ledger {
    /// The ledger at the start of a job: everything as found, the vehicle in none of the states.
    pub(super) fn new(book: &Procedure) -> Ledger {
        Ledger {
            items: book.fasteners.iter().map(|f| vec![Item::as_found(); f.places.len()]).collect(),
            supports: vec![false; book.supports.len()],
            components: vec![ComponentState::On; book.components.len()],
            connections: vec![true; book.connections.len()],
            conditions: vec![false; book.conditions.len()],
            steps: vec![StepState::Open; book.steps.len()],
            acts: book.steps.iter().map(|s| vec![false; s.acts.len()]).collect(),
            held: vec![false; book.steps.len()],
            due: vec![None; book.steps.len()],
            waited: vec![false; book.steps.len()],
            measured: book.steps.iter().map(|s| vec![None; s.acts.len()]).collect(),
            sum: 0,
        }
    }

    /// Applies a change and turns it into its reverse.
    pub(super) fn swap(&mut self, change: &mut Change) {
        use std::mem::swap;
        self.sum = self.sum.wrapping_add(digest::of_change(change));
        match change {
            Change::Item(group, item, state) => swap(&mut self.items[group.0][*item], state),
            Change::Support(ix, state) => swap(&mut self.supports[ix.0], state),
            Change::Component(ix, state) => swap(&mut self.components[ix.0], state),
            Change::Connection(ix, state) => swap(&mut self.connections[ix.0], state),
            Change::Condition(ix, state) => swap(&mut self.conditions[ix.0], state),
            Change::Step(step, state) => swap(&mut self.steps[*step], state),
            Change::Act(step, act, state) => swap(&mut self.acts[*step][*act], state),
            Change::Held(step, state) => swap(&mut self.held[*step], state),
            Change::Due(step, state) => swap(&mut self.due[*step], state),
            Change::Waited(step, state) => swap(&mut self.waited[*step], state),
            Change::Measured(step, act, state) => swap(&mut self.measured[*step][*act], state),
        }
        self.sum = self.sum.wrapping_sub(digest::of_change(change));
    }

    /// The digest of it all: the same for the same states of everything, however they came to be.
    pub(super) fn sum(&self) -> u64 {
        self.sum
    }

    /// One fastener.
    pub fn item(&self, group: FastenerIx, item: usize) -> &Item {
        &self.items[group.0][item]
    }

    /// All fasteners of a group, by place.
    pub fn items(&self, group: FastenerIx) -> &[Item] {
        &self.items[group.0]
    }

    /// Is the support in place?
    pub fn placed(&self, ix: SupportIx) -> bool {
        self.supports[ix.0]
    }

    /// State of a component.
    pub fn component(&self, ix: ComponentIx) -> ComponentState {
        self.components[ix.0]
    }

    /// Is the connection closed?
    pub fn connected(&self, ix: ConnectionIx) -> bool {
        self.connections[ix.0]
    }

    /// Is the vehicle in this state?
    pub fn is_in(&self, ix: ConditionIx) -> bool {
        self.conditions[ix.0]
    }

    /// How far a step has come.
    pub fn step(&self, step: usize) -> StepState {
        self.steps[step]
    }

    /// The reading of a measurement, if it was taken.
    pub fn measured(&self, step: usize, act: usize) -> Option<Quantity> {
        self.measured[step][act]
    }

    pub(super) fn act_recorded(&self, step: usize, act: usize) -> bool {
        self.acts[step][act]
    }

    pub(super) fn held(&self, step: usize) -> bool {
        self.held[step]
    }

    /// When the wait of a step is over by the clock; `None` before that runs.
    pub(super) fn due(&self, step: usize) -> Option<At> {
        self.due[step]
    }

    pub(super) fn waited(&self, step: usize) -> bool {
        self.waited[step]
    }

    /// Does the cause of a standing caution stand?
    pub fn stands(&self, cause: Cause) -> bool {
        match cause {
            Cause::Placed(ix) => self.placed(ix),
            Cause::Hung(ix) => self.component(ix) == ComponentState::Hung,
            Cause::Off(ix) => self.component(ix) == ComponentState::Off,
            Cause::Open(ix) => !self.connected(ix),
            Cause::In(ix) => self.is_in(ix),
        }
    }

    /// The changes that an act makes, or the thing that is not in a state for it.
    ///
    /// A thing that already is where the act would bring it changes nothing and is no error. Tightening and
    /// measuring are not acts of this kind; they make no changes here.
    pub(super) fn changes(&self, book: &Procedure, act: &Act) -> Result<Vec<Change>, (usize, super::ThingState)> {
        use super::ThingState as Thing;
        let one = |change| Ok(vec![change]);
        match *act {
            Act::Place(ix) => one(Change::Support(ix, true)),
            Act::TakeAway(ix) if !self.placed(ix) => Err((0, Thing::Placed(false))),
            Act::TakeAway(ix) => one(Change::Support(ix, false)),
            Act::Reach(ix) => one(Change::Condition(ix, true)),
            Act::Leave(ix) if !self.is_in(ix) => Err((0, Thing::In(false))),
            Act::Leave(ix) => one(Change::Condition(ix, false)),
            Act::TakeOff(ix) => one(Change::Component(ix, ComponentState::Off)),
            Act::Hang(ix) => one(Change::Component(ix, ComponentState::Hung)),
            Act::PutOn(ix) if self.component(ix) == ComponentState::On => {
                Err((0, Thing::Component(ComponentState::On)))
            }
            Act::PutOn(ix) => one(Change::Component(ix, ComponentState::On)),
            Act::Disconnect(ix) => one(Change::Connection(ix, false)),
            Act::Connect(ix) if self.connected(ix) => Err((0, Thing::Connected(true))),
            Act::Connect(ix) => one(Change::Connection(ix, true)),
            Act::Fasten { group, ref items, deed } => {
                let fastener = &book.fasteners[group.0];
                let mut changes = Vec::new();
                for &i in items {
                    let item = self.item(group, i);
                    let after = after_deed(item, deed, fastener).ok_or((i, Thing::Item(item.state)))?;
                    if after != *item {
                        changes.push(Change::Item(group, i, Box::new(after)));
                    }
                }
                Ok(changes)
            }
            Act::Measure(_) | Act::Clean(_) | Act::Apply(_) => Ok(Vec::new()),
        }
    }
}

/// The item after a deed; `None` if the deed cannot be done to it as it is.
fn after_deed(item: &Item, deed: Deed, fastener: &Fastener) -> Option<Item> {
    use ItemState::*;
    // That it was tightened too far is remembered until it is started again: the rule may ask for a new one then.
    let to = |state| Some(Item { over: item.over, ..item.stopped(state) });
    let start = |new: bool| Some(item.hand_started(new || item.new || item.must_be_renewed(fastener)));
    match (deed, item.state) {
        // A scrapped fastener is gone, whatever was to be done to it on the way out.
        (Deed::Slacken | Deed::Remove | Deed::Trap, Scrapped) => Some(item.clone()),
        (Deed::Slacken, AsFound | Slackened | Holding | HandStarted | AtStage(_) | Final) => to(Slackened),
        (Deed::Remove, Out) => Some(item.clone()),
        // Slackening a fastener in doubt is part of its remedy; taking it out makes it as good as never fitted.
        (Deed::Remove, _) => to(Out),
        (Deed::Trap, AsFound | Slackened | Trapped | Holding | HandStarted | AtStage(_) | Final) => to(Trapped),
        (Deed::Hold, Out | Trapped | Holding) => to(Holding),
        // Another one has to hold in its place.
        (Deed::Hold, Scrapped) => Some(Item { new: true, ..item.stopped(Holding) }),
        (Deed::HandStart, HandStarted) => Some(item.clone()),
        (Deed::HandStart, Slackened | Trapped) => start(false),
        (Deed::HandStart, Out | Holding) => start(fastener.single_use),
        (Deed::HandStart, Scrapped) => start(true),
        // Tightening goes stage by stage, through `Job`, never all at once.
        _ => None,
    }
}
