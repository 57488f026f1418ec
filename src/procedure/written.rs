//! How a procedure is written down: the shape of the file, key by key.
//!
//! These types are the one description of the format: the loader reads by them, and the JSON schema that editors
//! complete by is made from them (see `shape`). Each text keeps where it stood. What the texts mean (references, values,
//! patterns) is worked out in `resolve`.

mod act;
mod step;

pub(crate) use act::Act;
use schemars::JsonSchema;
use serde::Deserialize;
use std::ops::Range;
pub(crate) use step::Step;

/// A value and where it stood in the file, in bytes.
#[derive(Debug, Clone)]
pub(crate) struct Spot<T> {
    pub value: T,
    pub span: Range<usize>,
}

/// A text with its place.
pub(crate) type Text = Spot<String>;

/// A text that is mostly not there, kept small since an act has room for many of them.
pub(crate) type Rare = Option<Box<Text>>;

impl<T> std::ops::Deref for Spot<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.value
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Spot<T> {
    fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Spot<T>, D::Error> {
        let spanned = toml::Spanned::<T>::deserialize(from)?;
        Ok(Spot { span: spanned.span(), value: spanned.into_inner() })
    }
}

impl<T: JsonSchema> JsonSchema for Spot<T> {
    fn inline_schema() -> bool {
        T::inline_schema()
    }

    fn schema_name() -> std::borrow::Cow<'static, str> {
        T::schema_name()
    }

    fn schema_id() -> std::borrow::Cow<'static, str> {
        T::schema_id()
    }

    fn json_schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
        T::json_schema(generator)
    }
}

/// A procedure: one repair job, written down from the maker's manual.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Written {
    /// Number of this file format.
    #[schemars(range(min = 1))]
    #[allow(dead_code, reason = "looked at before the rest is read, since a newer file may hold anything")]
    pub format: u32,
    /// What the job is.
    pub procedure: Head,
    /// Where the values come from.
    pub source: Source,
    /// Greases, cleaners, compounds to have at hand.
    #[serde(default)]
    pub consumables: Vec<Text>,
    /// What the vehicle may be like, where that makes a difference; asked before the first step.
    #[serde(default)]
    pub variant: Vec<Thing>,
    /// Tools to lay out.
    #[serde(default)]
    pub tool: Vec<Tool>,
    /// New parts to have at hand.
    #[serde(default)]
    pub part: Vec<Part>,
    /// States of the vehicle that a step or a stage can wait for.
    #[serde(default)]
    pub condition: Vec<Thing>,
    /// Stands, chocks, props: what holds the vehicle or a part of it.
    #[serde(default)]
    pub support: Vec<Thing>,
    /// Things taken off, hung up or put on.
    #[serde(default)]
    pub component: Vec<Component>,
    /// Plugs, clips, hoses, lines.
    #[serde(default)]
    pub connection: Vec<Thing>,
    /// Parts that there are in several sizes, one of which is chosen on the day.
    #[serde(default)]
    pub stock: Vec<Stock>,
    /// Groups of like fasteners.
    #[serde(default)]
    pub fastener: Vec<Fastener>,
    /// Cautions that are repeated while their cause stands.
    #[serde(default)]
    pub standing: Vec<Standing>,
    /// Shared entries that stand in another file, put in this place.
    #[serde(default)]
    pub include: Vec<Include>,
    /// The steps, in order.
    pub step: Vec<Step>,
}

/// Entries of another file.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Include {
    /// The file, beside this one or in a folder below ("shared/wheels.toml").
    pub file: Text,
    /// The group of its entries, where it has groups.
    pub group: Option<Text>,
}

/// The includes of a file alone.
#[derive(Debug, Deserialize, JsonSchema)]
pub(crate) struct Includes {
    pub include: Vec<Include>,
}

/// A file that procedures include: entries of these kinds, as they are or in groups.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(dead_code, reason = "what stands in it is read in its place")]
pub(crate) struct Shared {
    /// Begins a group, which goes as far as the next one.
    #[serde(default)]
    pub group: Vec<Group>,
    #[serde(default)]
    pub tool: Vec<Tool>,
    #[serde(default)]
    pub part: Vec<Part>,
    #[serde(default)]
    pub condition: Vec<Thing>,
    #[serde(default)]
    pub support: Vec<Thing>,
    #[serde(default)]
    pub component: Vec<Component>,
    #[serde(default)]
    pub connection: Vec<Thing>,
    #[serde(default)]
    pub stock: Vec<Stock>,
    #[serde(default)]
    pub fastener: Vec<Fastener>,
    #[serde(default)]
    pub standing: Vec<Standing>,
    #[serde(default)]
    pub step: Vec<Step>,
}

/// The head of a group.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(dead_code, reason = "looked up in the text")]
pub(crate) struct Group {
    /// Key by which procedures include it.
    pub id: Text,
}

/// What the job is.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Head {
    /// Short name, used in file and folder names.
    pub id: Text,
    /// Spoken and printed name of the job.
    pub title: Text,
    /// The vehicle it is for.
    pub vehicle: Text,
    /// Language of the texts, as a BCP 47 tag ("en").
    pub language: Text,
    /// Revision of this file.
    pub revision: Text,
    /// Who wrote it down.
    pub author: Text,
}

/// Where the values come from.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Source {
    /// Title of the manual.
    pub title: Text,
    /// Edition or date of it.
    pub edition: Text,
    /// Chapter or section.
    pub chapter: Option<Text>,
    /// What a reader must know about the values.
    pub note: Option<Text>,
}

/// A tool to lay out.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Tool {
    /// Key by which fasteners refer to it.
    pub id: Text,
    /// Spoken name.
    pub name: Text,
    /// What stands in for it.
    pub stand_in: Option<Text>,
    /// The variant of the vehicle that it is for, if not for all.
    pub only: Option<Text>,
}

/// A new part to have at hand.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Part {
    /// Key by which components refer to it.
    pub id: Text,
    /// Spoken name.
    pub name: Text,
    /// How many.
    #[schemars(range(min = 1))]
    pub count: Spot<u32>,
    /// Number in the maker's catalogue.
    pub number: Option<Text>,
    /// The fastener group it renews.
    pub renews: Option<Text>,
    /// The variant of the vehicle that it is for, if not for all.
    pub only: Option<Text>,
}

/// Something that only has a name: a support, a connection, a state of the vehicle.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Thing {
    /// Key by which steps refer to it.
    pub id: Text,
    /// Spoken name.
    pub name: Text,
}

/// A part that there is in several sizes, one of which is chosen on the day.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Stock {
    /// Key by which measurements refer to it.
    pub id: Text,
    /// Spoken name of one of them ("shim").
    pub name: Text,
    /// The sizes that are at hand ("2.40 mm", "2.45 mm").
    #[schemars(length(min = 1))]
    pub sizes: Spot<Vec<Text>>,
    /// Page of the sizes.
    pub source: Option<Text>,
}

/// Something taken off, hung up or put on.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Component {
    /// Key by which steps refer to it.
    pub id: Text,
    /// Spoken name.
    pub name: Text,
    /// The new part that takes its place.
    pub part: Option<Text>,
}

/// A group of like fasteners.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Fastener {
    /// Key by which steps refer to it.
    pub id: Text,
    /// Spoken name of one of them.
    pub name: Text,
    /// Spoken name of several.
    pub plural: Option<Text>,
    /// Where each one sits; their number is the count.
    #[schemars(length(min = 1))]
    pub places: Spot<Vec<Text>>,
    /// Thread ("M12 x 1.5").
    pub thread: Option<Text>,
    /// Property class ("10.9").
    pub class: Option<Text>,
    /// What the tool must fit ("18 mm hex"), where the source has it.
    pub drive: Option<Text>,
    /// Has it a left-hand thread?
    #[serde(default)]
    pub left_hand: bool,
    /// What locks it once it is in its end state ("cotter pin").
    pub lock: Option<Text>,
    /// The tool for it.
    pub tool: Option<Text>,
    /// Must it be replaced once it was removed?
    #[serde(default)]
    pub single_use: bool,
    /// State of the thread that the values hold for.
    pub preparation: Option<Text>,
    /// Order of tightening by a known pattern.
    pub pattern: Option<Spot<Pattern>>,
    /// Order of tightening, place by place, where no known pattern fits.
    pub order: Option<Spot<Vec<Text>>>,
    /// How passes over the group run.
    pub runs: Option<Runs>,
    /// The tightening programme, stage by stage.
    #[schemars(length(min = 1))]
    pub stages: Option<Spot<Vec<Spot<Stage>>>>,
    /// The source publishes no value: what it says instead.
    pub no_value: Option<Text>,
    /// The value is still to be looked up; the job asks for it before anything is tightened.
    #[serde(default)]
    pub value_later: bool,
    /// What to do with one that was tightened too far.
    pub over: Over,
    /// The picture that shows where each one sits and how it is numbered.
    pub picture: Option<Text>,
    /// Page of the values.
    pub source: Option<Text>,
}

/// Is a torque written as a share of the final one ("50 %")?
pub(super) fn is_share(text: &str) -> bool {
    text.trim_end().ends_with('%')
}

/// Known orders of tightening.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
pub(crate) enum Pattern {
    /// In the order of the places.
    #[serde(rename = "in turn")]
    InTurn,
    /// Across and across, the places being written in their order round a circle.
    #[serde(rename = "cross")]
    Cross,
    /// From the middle outwards, the places being written row by row, two rows of the same length.
    #[serde(rename = "spiral")]
    Spiral,
}

/// How passes over a group run.
#[derive(Debug, Clone, Copy, Deserialize, JsonSchema)]
pub(crate) enum Runs {
    /// Each fastener goes through all its stages before the next one.
    #[serde(rename = "one at a time")]
    OneAtATime,
    /// All fasteners go through stage 1, then all through stage 2, and so on.
    #[serde(rename = "stage by stage")]
    StageByStage,
}

/// What to do with a fastener tightened too far.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub(crate) enum Over {
    /// Slacken it and start its programme again.
    Restart,
    /// Scrap it and fit a new one.
    Renew,
}

/// One stage of a tightening programme: one of torque, angle, back_off, slot, slacken.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Stage {
    /// Tighten to this torque, or to one in a window ("70 N·m", "27 ± 3 N·m"), or to one that counts from an earlier
    /// measurement ("drag + 25 N·m"), or to a share of the final torque ("50 %").
    pub torque: Option<Text>,
    /// The same torque in a second unit, as the source prints it; it guards against typing errors.
    pub also: Option<Text>,
    /// Turn on by this angle, or by one in a window ("90 deg", "55..70 deg").
    pub angle: Option<Text>,
    /// Turn back by this angle, or by one in a window ("90 deg", "0..90 deg").
    pub back_off: Option<Text>,
    /// Turn on to where the next slot meets the hole, by this angle at most, and never back.
    pub slot: Option<Text>,
    /// Slacken fully.
    pub slacken: Option<Spot<bool>>,
    /// What is done at the same time, said before the value ("turning the shaft by hand").
    #[serde(rename = "while")]
    pub meanwhile: Option<Text>,
    /// What ends it, said before the value ("a slot lines up with the hole").
    pub until: Option<Text>,
    /// The state the vehicle must be in.
    pub needs: Option<Text>,
    /// Page of this value, where it is not that of the fastener.
    pub source: Option<Text>,
}

/// A caution that is repeated while its cause stands.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Standing {
    /// Key of it.
    pub id: Text,
    /// Its signal word.
    pub signal: super::model::Signal,
    /// The sentence to say.
    pub say: Text,
    /// Its cause.
    #[serde(rename = "while")]
    pub cause: Spot<Cause>,
}

/// Cause of a standing caution: one of these.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Cause {
    /// While this support is in place.
    pub placed: Option<Text>,
    /// While this component hangs.
    pub hung: Option<Text>,
    /// While this component is off.
    pub off: Option<Text>,
    /// While this connection is open.
    pub open: Option<Text>,
    /// While the vehicle is in this state.
    #[serde(rename = "in")]
    pub within: Option<Text>,
}

/// A caution before a step: one of these signal words with the sentence to say.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Caution {
    /// Worth knowing; no injury.
    pub note: Option<Text>,
    /// Could cause minor injury, or damage.
    pub caution: Option<Text>,
    /// Could cause death or serious injury.
    pub warning: Option<Text>,
    /// Will cause death or serious injury.
    pub danger: Option<Text>,
}
