//! The procedure as the job sees it: every reference resolved, every pattern worked out.
//!
//! Built only by [`super::load`]; so whoever holds a [`Procedure`] may index with the typed indices in it. Knows
//! quantities. Leaves to others how it is written down (`written`), whether it is wise (`check`) and where the work
//! stands (`job`).

use super::conduct::{Until, When, Within};
use super::stock::Stock;
use super::variant::Variant;
use crate::quantity::{Angle, Limits, Quantity, Torque, TorqueUnit, Unit};
use rust_decimal::Decimal;

macro_rules! index {
    ($(#[$doc:meta] $name:ident;)*) => {$(
        #[$doc]
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub usize);
    )*};
}
index! {
    /// Which fastener group, an index into [`Procedure::fasteners`].
    FastenerIx;
    /// Which support, an index into [`Procedure::supports`].
    SupportIx;
    /// Which component, an index into [`Procedure::components`].
    ComponentIx;
    /// Which plug, clip, hose or line, an index into [`Procedure::connections`].
    ConnectionIx;
    /// Which state of the vehicle, an index into [`Procedure::conditions`].
    ConditionIx;
    /// Which tool, an index into [`Procedure::tools`].
    ToolIx;
    /// Which part, an index into [`Procedure::parts`].
    PartIx;
    /// Which named measurement, an index into [`Procedure::named`].
    MeasureIx;
    /// Which variant of the vehicle, an index into [`Procedure::variants`].
    VariantIx;
    /// Which sizes at hand, an index into [`Procedure::stocks`].
    StockIx;
}

/// A whole procedure file.
#[derive(Debug, Clone, PartialEq)]
pub struct Procedure {
    /// Short name used in file and folder names.
    pub id: String,
    /// Spoken and printed name of the job.
    pub title: String,
    /// The vehicle it is for.
    pub vehicle: String,
    /// Language of every text in it, as a BCP 47 tag.
    pub language: String,
    /// Which revision of this file.
    pub revision: String,
    /// Who wrote it down.
    pub author: String,
    /// Where the values come from.
    pub source: Source,
    /// What the vehicle may be like; none where the book makes no difference.
    pub variants: Vec<Variant>,
    /// The variant that this is for, once it is chosen.
    pub variant: Option<VariantIx>,
    /// What to lay out.
    pub tools: Vec<Tool>,
    /// New parts needed.
    pub parts: Vec<Part>,
    /// Greases, cleaners, compounds.
    pub consumables: Vec<String>,
    /// Fastener groups.
    pub fasteners: Vec<Fastener>,
    /// Stands, chocks, props.
    pub supports: Vec<Support>,
    /// Things taken off, hung up or put on.
    pub components: Vec<Component>,
    /// Plugs, clips, hoses, lines.
    pub connections: Vec<Connection>,
    /// States of the vehicle that a step can wait for ("at ride height").
    pub conditions: Vec<Condition>,
    /// Cautions that stand while their cause stands.
    pub standing: Vec<StandingCaution>,
    /// The steps, in order. Never empty.
    pub steps: Vec<Step>,
    /// Measurements that other values count from.
    pub named: Vec<Named>,
    /// Parts that there are in several sizes, one of which is chosen on the day.
    pub stocks: Vec<Stock>,
}

/// A measurement that other values count from, and where it is taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Named {
    /// Key in the file.
    pub id: String,
    /// What is measured.
    pub what: String,
    /// The step that takes it.
    pub step: usize,
    /// Index into the acts of the step.
    pub act: usize,
}

/// Where values come from.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// Title of the manual.
    pub title: String,
    /// Edition or date of it.
    pub edition: String,
    /// Chapter or section, if the procedure is in one.
    pub chapter: Option<String>,
    /// What a reader must know about the values, such as that they are invented.
    pub note: Option<String>,
}

/// A tool to lay out.
#[derive(Debug, Clone, PartialEq)]
pub struct Tool {
    /// Key in the file.
    pub id: String,
    /// Spoken name.
    pub name: String,
    /// What stands in for it.
    pub stand_in: Option<String>,
    /// The variant of the vehicle that it is for, if not for all.
    pub only: Option<VariantIx>,
}

/// A new part to have at hand.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Key in the file.
    pub id: String,
    /// Spoken name.
    pub name: String,
    /// How many.
    pub count: u32,
    /// Number in the maker's catalogue, if given.
    pub number: Option<String>,
    /// The fastener group it renews.
    pub renews: Option<FastenerIx>,
    /// The variant of the vehicle that it is for, if not for all.
    pub only: Option<VariantIx>,
}

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
    Later,
}

impl Finish {
    /// Number of things to do to reach the end state: the stages, or the one act without a value.
    pub fn len(&self) -> usize {
        match self {
            Finish::Stages(stages) => stages.len(),
            Finish::NoValue { .. } | Finish::Later => 1,
        }
    }

    /// Never true: there is always something to do. Here because `len` is.
    pub fn is_empty(&self) -> bool {
        false
    }

    /// Stage `k`, counted from 0; `None` past the end and where no value is published.
    pub fn stage(&self, k: usize) -> Option<&Stage> {
        match self {
            Finish::Stages(stages) => stages.get(k),
            Finish::NoValue { .. } | Finish::Later => None,
        }
    }
}

/// One stage of a tightening programme.
#[derive(Debug, Clone, PartialEq)]
pub struct Stage {
    /// What to do.
    pub kind: StageKind,
    /// The measurement that its torque counts from: what is added to that.
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

/// Something that holds the vehicle or a part of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Support {
    /// Key in the file.
    pub id: String,
    /// Spoken name ("axle stand, left").
    pub name: String,
}

/// Something taken off, hung up or put on.
#[derive(Debug, Clone, PartialEq)]
pub struct Component {
    /// Key in the file.
    pub id: String,
    /// Spoken name.
    pub name: String,
    /// The new part that takes its place, if it is replaced.
    pub part: Option<PartIx>,
}

/// A plug, clip, hose or line.
#[derive(Debug, Clone, PartialEq)]
pub struct Connection {
    /// Key in the file.
    pub id: String,
    /// Spoken name.
    pub name: String,
}

/// A state the vehicle can be in.
#[derive(Debug, Clone, PartialEq)]
pub struct Condition {
    /// Key in the file.
    pub id: String,
    /// Spoken after "the vehicle must be" ("at ride height").
    pub name: String,
}

/// How serious a caution is, with the signal words of ANSI Z535 and ISO 3864.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Signal {
    /// Worth knowing; no injury.
    Note,
    /// Could cause minor injury, or damage.
    Caution,
    /// Could cause death or serious injury.
    Warning,
    /// Will cause death or serious injury.
    Danger,
}

/// A caution given before a step.
#[derive(Debug, Clone, PartialEq)]
pub struct Caution {
    /// Its signal word.
    pub signal: Signal,
    /// The sentence to say.
    pub say: String,
}

/// A caution that stands while its cause stands, repeated at each step until then.
#[derive(Debug, Clone, PartialEq)]
pub struct StandingCaution {
    /// Key in the file.
    pub id: String,
    /// What is said.
    pub caution: Caution,
    /// Its cause.
    pub cause: Cause,
}

/// What keeps a standing caution alive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// This support stands under the vehicle.
    Placed(SupportIx),
    /// This component hangs.
    Hung(ComponentIx),
    /// This component is off.
    Off(ComponentIx),
    /// This connection is open.
    Open(ConnectionIx),
    /// The vehicle is in this state.
    In(ConditionIx),
}

/// The five phases of a job.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Phase {
    /// Lay out, support, make safe.
    Prepare,
    /// Take apart.
    Strip,
    /// Measure, clean.
    Inspect,
    /// Put together.
    Rebuild,
    /// Give back.
    Close,
}

/// One step.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Key in the file.
    pub id: String,
    /// The variant of the vehicle that it is for, if not for all.
    pub only: Option<VariantIx>,
    /// What it is done after, if it is not always done.
    pub when: Option<When>,
    /// Its phase.
    pub phase: Phase,
    /// The sentence to say.
    pub say: String,
    /// What a second person does meanwhile.
    pub helper: Option<String>,
    /// The picture that goes with it, by its file or its page.
    pub picture: Option<String>,
    /// Why it is done.
    pub why: Option<String>,
    /// What to try if it will not come.
    pub stuck: Option<String>,
    /// Said before the step.
    pub cautions: Vec<Caution>,
    /// A question that must be confirmed before the step counts as done.
    pub hold: Option<String>,
    /// A question that is answered with yes or no once the step is done; on the answer other steps depend.
    pub ask: Option<String>,
    /// It is done again, alone or with the steps before it, until a question is answered with yes.
    pub until: Option<Until>,
    /// The state the vehicle must be in.
    pub needs: Option<ConditionIx>,
    /// Minutes to let pass before the step counts as done (a cure, a soak).
    pub wait_minutes: Option<u32>,
    /// By when it has to be done.
    pub within: Option<Within>,
    /// When it is due, if that is only after the job is closed ("after 50 kilometres").
    pub later: Option<String>,
    /// Estimated minutes of work.
    pub minutes: Option<u32>,
    /// Page, where it is not that of the procedure.
    pub source: Option<String>,
    /// What it does to the ledger, in order.
    pub acts: Vec<Act>,
}

/// One thing a step does to the ledger.
#[derive(Debug, Clone, PartialEq)]
pub enum Act {
    /// Put a support in place.
    Place(SupportIx),
    /// Take a support away.
    TakeAway(SupportIx),
    /// Bring the vehicle into a state.
    Reach(ConditionIx),
    /// Take the vehicle out of a state.
    Leave(ConditionIx),
    /// Do something to items of a fastener group.
    Fasten {
        /// Which group.
        group: FastenerIx,
        /// Which items of it, in the order of tightening; never empty.
        items: Vec<usize>,
        /// What to do.
        deed: Deed,
    },
    /// Take a component off.
    TakeOff(ComponentIx),
    /// Hang a component so that nothing carries it that must not.
    Hang(ComponentIx),
    /// Put a component on.
    PutOn(ComponentIx),
    /// Open a plug, clip, hose or line.
    Disconnect(ConnectionIx),
    /// Close it again.
    Connect(ConnectionIx),
    /// Measure something against limits.
    Measure(Measurement),
    /// Clean something.
    Clean(String),
    /// Apply something from the consumables.
    Apply(String),
}

/// A measurement against limits.
#[derive(Debug, Clone, PartialEq)]
pub struct Measurement {
    /// What is measured ("play at the ball joint").
    pub what: String,
    /// Its name, if other values count from it.
    pub name: Option<MeasureIx>,
    /// The unit of its limits; of one without, that of the reading.
    pub unit: Unit,
    /// The measurement that its limits count from: what is added to that.
    pub from: Option<MeasureIx>,
    /// Further measurements that are added to it, or taken away from it.
    pub more: Vec<Term>,
    /// Are there steps for the case that it lies outside its limits? Then it holds nothing up.
    pub leads: bool,
    /// What is at hand, where one of those is chosen by it.
    pub among: Option<StockIx>,
    /// Between which values it must lie; one without is only recorded.
    pub limits: Bounds,
    /// What to do when it does not; of one without limits nothing.
    pub otherwise: String,
    /// Page of the limit.
    pub source: Option<String>,
}

/// A measurement that is added to another one, or taken away from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Term {
    /// Which measurement.
    pub of: MeasureIx,
    /// Is it taken away?
    pub less: bool,
}

/// Lower and upper bound, in the same kind of quantity and the same unit; neither of what is only recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct Bounds {
    /// Not less than this.
    pub least: Option<Quantity>,
    /// Not more than this.
    pub most: Option<Quantity>,
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
