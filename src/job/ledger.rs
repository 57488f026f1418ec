//! The state of every single thing, and the only way to change it: by a [`Change`] that leaves its reverse behind.
//!
//! Knows what is remembered of each thing. Leaves to others which act may follow which state (`procedure::lawful`),
//! when an act is due (`work`) and what is said about it.

use super::{At, Edition, sum};
use crate::procedure::lawful;
use crate::procedure::{
    Act, Cause, ComponentIx, ConditionIx, ConnectionIx, Deed, Fastener, FastenerIx, Finish, OverRule, Procedure,
    StageKind, SupportIx,
};
use crate::quantity::Quantity;

pub use crate::procedure::lawful::{ComponentState, ItemState};

/// One fastener of a group.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Item {
    /// Its state.
    pub state: ItemState,
    /// Is it a new one, fitted in this job?
    pub new: bool,
    /// How many new ones were fitted here in this job, those among them that were scrapped since.
    #[serde(skip_serializing_if = "is_none")]
    pub fitted: u32,
    /// How often its programme was begun in this job.
    pub run: u32,
    /// It may have been turned in the next stage that turns it by an angle, as when that was left half-way: once that
    /// stage is pending the user has to say how far it went.
    pub suspect: bool,
    /// It is suspect only for having stood before the user when something was taken back; nobody was interrupted. It
    /// chooses words only.
    #[serde(skip)]
    pub announced: bool,
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
            fitted: 0,
            run: 0,
            suspect: false,
            announced: false,
            spent: false,
            over: false,
            turned: None,
            readings: Vec::new(),
        }
    }

    /// The same item where no stage can follow: in doubt, or scrapped.
    pub(super) fn stopped(&self, state: ItemState) -> Item {
        Item { state, suspect: false, announced: false, spent: false, over: false, turned: None, ..self.clone() }
    }

    /// The item with its programme at the very beginning; `renewed` says that a new one was taken for it just now.
    pub(super) fn hand_started(&self, renewed: bool) -> Item {
        let (new, fitted) = (self.new || renewed, self.fitted + u32::from(renewed));
        Item { state: ItemState::HandStarted, new, fitted, run: self.run + 1, ..Item::as_found() }
    }

    /// Stages recorded in this run; `None` in a state from which no stage can follow.
    pub fn stages_done(&self, finish: &Finish) -> Option<usize> {
        self.state.stages_done(finish.len())
    }

    /// The same item with one more stage recorded.
    pub(super) fn after_stage(&self, stage: usize, finish: &Finish, reading: Option<Quantity>) -> Item {
        let mut item = self.clone();
        item.state = ItemState::with_stages(stage + 1, finish.len());
        // What may have been turned stays so until the turn itself, or the slackening that undoes it, is recorded.
        let settles = finish.stage(stage).is_none_or(|s| !matches!(s.kind, StageKind::Torque(_)));
        item.suspect &= !settles && item.state != ItemState::Final;
        item.announced &= item.suspect;
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
    /// Not to be done: what it is done after did not come about.
    NotNeeded,
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
    LeftOutside(usize, usize, bool),
    Rounds(usize, u32),
    Answered(usize, Option<bool>),
    Limit(usize, Option<At>),
    InTime(usize, bool),
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
    /// Measurements outside their limits that were left so by the user's word, by step.
    left_outside: Vec<Vec<bool>>,
    /// Rounds that came out with no, by the step that asks.
    rounds: Vec<u32>,
    /// Answers to the questions that other steps depend on, by the step that asks: yes or no.
    answered: Vec<Option<bool>>,
    /// When the time is over by the clock that there is for a step, once it runs.
    limits: Vec<Option<At>>,
    /// Steps that were done in time by the user's word.
    in_time: Vec<bool>,
    /// Readings that were taken by the rules of older versions. What those called inside its limits stays so.
    taken_by: Vec<(usize, usize, Quantity, Edition)>,
    /// The digests of everything that was changed, added up; see `digest`.
    sum: u64,
    /// Whose rules say what a step needs.
    edition: Edition,
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
            left_outside: book.steps.iter().map(|s| vec![false; s.acts.len()]).collect(),
            rounds: vec![0; book.steps.len()],
            answered: vec![None; book.steps.len()],
            limits: vec![None; book.steps.len()],
            in_time: vec![false; book.steps.len()],
            taken_by: Vec::new(),
            sum: 0,
            edition: Edition::NOW,
        }
    }

    /// From now on what a step needs is worked out by the rules of this edition.
    pub(super) fn follow(&mut self, edition: Edition) {
        self.edition = edition;
    }

    /// Whose rules say what a step needs.
    pub(super) fn edition(&self) -> Edition {
        self.edition
    }

    /// Applies a change and turns it into its reverse.
    pub(super) fn swap(&mut self, change: &mut Change) {
        use std::mem::swap;
        self.sum = self.sum.wrapping_add(sum::of(change));
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
            Change::LeftOutside(step, act, state) => swap(&mut self.left_outside[*step][*act], state),
            Change::Rounds(step, state) => swap(&mut self.rounds[*step], state),
            Change::Answered(step, state) => swap(&mut self.answered[*step], state),
            Change::Limit(step, state) => swap(&mut self.limits[*step], state),
            Change::InTime(step, state) => swap(&mut self.in_time[*step], state),
        }
        self.sum = self.sum.wrapping_sub(sum::of(change));
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

    /// Is nothing left to do in a step: is it done, or not to be done?
    pub fn is_over(&self, step: usize) -> bool {
        matches!(self.steps[step], StepState::Done | StepState::NotNeeded)
    }

    /// When the time is over by the clock that there is for a step; `None` before it runs.
    pub(super) fn limit(&self, step: usize) -> Option<At> {
        self.limits[step]
    }

    /// Was a step done in time, by the user's word?
    pub fn in_time(&self, step: usize) -> bool {
        self.in_time[step]
    }

    /// How the question of a step was answered on which other steps depend.
    pub fn answered(&self, step: usize) -> Option<bool> {
        self.answered[step]
    }

    /// The reading of a measurement, if it was taken.
    pub fn measured(&self, step: usize, act: usize) -> Option<Quantity> {
        self.measured[step][act]
    }

    /// Was a measurement left outside its limits by the user's word?
    pub fn left_outside(&self, step: usize, act: usize) -> bool {
        self.left_outside[step][act]
    }

    /// How many rounds that this step ends came out with no.
    pub fn rounds(&self, step: usize) -> u32 {
        self.rounds[step]
    }

    /// Whose rules say where a reading of a measurement lies.
    pub(super) fn judged_by(&self, step: usize, act: usize, value: Quantity) -> Edition {
        let taken = self.taken_by.iter().find(|&&(s, a, v, _)| (s, a, v) == (step, act, value));
        taken.map_or(Edition::NOW, |&(.., edition)| edition)
    }

    /// Keeps by whose rules this reading was taken. Under older rules the first that took it count for as long as it stands;
    /// by those of now it is judged anew.
    pub(super) fn taken_by(&mut self, step: usize, act: usize, value: Quantity, edition: Edition) {
        let this = |&(s, a, v, _): &(usize, usize, Quantity, Edition)| (s, a, v) == (step, act, value);
        if edition == Edition::NOW {
            self.taken_by.retain(|taken| !this(taken));
        } else if !self.taken_by.iter().any(this) {
            self.taken_by.push((step, act, value, edition));
        }
    }

    pub(super) fn act_recorded(&self, step: usize, act: usize) -> bool {
        self.acts[step][act]
    }

    /// Was the hold point of a step confirmed?
    pub fn held(&self, step: usize) -> bool {
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
        let part = |ix: ComponentIx, to| {
            let now = self.component(ix);
            one(Thing::Component(now), lawful::component(now, to), |to| Change::Component(ix, to))
        };
        let line = |ix: ConnectionIx, to| {
            let now = self.connected(ix);
            one(Thing::Connected(now), lawful::connection(now, to), |to| Change::Connection(ix, to))
        };
        let support = |ix: SupportIx, to| {
            let now = self.placed(ix);
            one(Thing::Placed(now), lawful::support(now, to), |to| Change::Support(ix, to))
        };
        let vehicle = |ix: ConditionIx, to| {
            let now = self.is_in(ix);
            one(Thing::In(now), lawful::condition(now, to), |to| Change::Condition(ix, to))
        };
        match *act {
            Act::Place(ix) => support(ix, true),
            Act::TakeAway(ix) => support(ix, false),
            Act::Reach(ix) => vehicle(ix, true),
            Act::Leave(ix) => vehicle(ix, false),
            Act::TakeOff(ix) => part(ix, ComponentState::Off),
            Act::Hang(ix) => part(ix, ComponentState::Hung),
            Act::PutOn(ix) => part(ix, ComponentState::On),
            Act::Disconnect(ix) => line(ix, false),
            Act::Connect(ix) => line(ix, true),
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

/// Of so many, is there none?
fn is_none(count: &u32) -> bool {
    *count == 0
}

/// One change, or the thing that is not in a state for it.
fn one<S>(
    now: super::ThingState,
    lawful: lawful::Lawful<S>,
    change: impl Fn(S) -> Change,
) -> Result<Vec<Change>, (usize, super::ThingState)> {
    lawful.on_the_day().map(|to| vec![change(to)]).ok_or((0, now))
}

/// The item after a deed; `None` if the deed cannot be done to it as it is. Tightening goes stage by stage, through
/// `Job`, never all at once.
fn after_deed(item: &Item, deed: Deed, fastener: &Fastener) -> Option<Item> {
    use ItemState::*;
    let to = match deed {
        Deed::Tighten(_) => return None,
        deed => item.state.after(deed, fastener).on_the_day()?,
    };
    Some(match (deed, item.state) {
        (_, was) if was == to && matches!(was, Out | HandStarted | Scrapped) => item.clone(),
        (Deed::Unlock | Deed::Lock, was) if was == to => item.clone(),
        (Deed::Unlock | Deed::Lock, _) => Item { state: to, ..item.clone() },
        (Deed::HandStart, was) => {
            let renewed = was == Scrapped
                || (fastener.single_use && matches!(was, Out | Holding))
                || (item.over && fastener.over == OverRule::Renew);
            item.hand_started(renewed)
        }
        // Another one has to hold in its place.
        (Deed::Hold, Scrapped) => Item { new: true, fitted: item.fitted + 1, ..item.stopped(Holding) },
        // That it was tightened too far is remembered until it is started again: the rule may ask for a new one then.
        _ => Item { over: item.over, ..item.stopped(to) },
    })
}
