//! The procedure as the job sees it: every reference resolved, every pattern worked out.
//!
//! Built only by [`super::load`]; so whoever holds a [`Procedure`] may index with the typed indices in it. Leaves to others how it
//! is written down (`written`), whether it is wise (`check`) and where the work stands (`job`).

pub use super::conduct::{Until, When, Within};
pub use super::fastener::{Deed, Fastener, Finish, OverRule, Runs, Stage, StageKind};
pub use super::index::*;
pub use super::measurement::{Bounds, Measurement, Term};
pub use super::stock::Stock;

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

/// What the vehicle may be like.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Variant {
    /// Key in the file.
    pub id: String,
    /// Spoken after "the vehicle" ("with anti-lock brakes").
    pub name: String,
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
