//! A step as it is written down.

use super::{Act, Caution, Spot, Text};
use crate::procedure::model::Phase;
use schemars::JsonSchema;
use serde::Deserialize;

/// One step.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Step {
    /// Key of it.
    pub id: Text,
    /// The step is done for each of these places in turn; {place} in its texts stands for the place.
    #[schemars(length(min = 1))]
    #[allow(dead_code, reason = "made into steps before they are read")]
    pub for_each: Option<Vec<Text>>,
    /// With `for_each`: the last of the steps that are done for each place, as one run.
    #[allow(dead_code, reason = "made into steps before they are read")]
    pub up_to: Option<Text>,
    /// The variant of the vehicle that it is for, if not for all.
    pub only: Option<Text>,
    /// The step is done only if this measurement of an earlier step came out outside its limits.
    pub if_outside: Option<Text>,
    /// The step is done only if the question (`ask`) of this earlier step was answered with no.
    pub if_no: Option<Text>,
    /// Its phase.
    pub phase: Spot<Phase>,
    /// The sentence to say.
    pub say: Text,
    /// What a second person does meanwhile, said behind the step ("Keep the pedal down.").
    pub helper: Option<Text>,
    /// The picture that goes with it, by its file or its page ("fig. 12, page 3-21"); shown, never spoken.
    pub picture: Option<Text>,
    /// Why it is done.
    pub why: Option<Text>,
    /// What to try if it will not come.
    pub stuck: Option<Text>,
    /// Said before the step.
    #[serde(default)]
    pub cautions: Vec<Spot<Caution>>,
    /// A question to be answered with yes before the step counts as done.
    pub hold: Option<Text>,
    /// A question to be answered with yes or no once the step is done; steps with `if_no` are done after a no.
    pub ask: Option<Text>,
    /// A question that ends what is done again: with "no" the step, and those before it from `again_from` on, are done
    /// once more.
    pub until: Option<Text>,
    /// With `until`: the first of the steps that are done again; without it this one alone.
    pub again_from: Option<Text>,
    /// With `until`: most times.
    #[schemars(range(min = 2))]
    pub at_most: Option<Spot<u32>>,
    /// With `at_most`: what to do when it is not so by then.
    pub otherwise: Option<Text>,
    /// The state the vehicle must be in.
    pub needs: Option<Text>,
    /// Minutes to let pass before the step counts as done.
    #[schemars(range(min = 1))]
    pub wait_minutes: Option<u32>,
    /// The step has to be done within this time ("10 min") of an earlier step (`after`).
    pub within: Option<Text>,
    /// With `within`: the earlier step from whose end the time counts.
    pub after: Option<Text>,
    /// With `within`: what to do when it is over.
    pub late: Option<Text>,
    /// The step is due only later, when the job is closed ("after 50 kilometres").
    pub later: Option<Text>,
    /// Estimated minutes of work.
    #[schemars(range(min = 1))]
    pub minutes: Option<u32>,
    /// Page of the step.
    pub source: Option<Text>,
    /// What it does, in order.
    #[serde(default, rename = "do")]
    pub acts: Vec<Spot<Act>>,
    /// The strip step that this step undoes; what it does follows from that.
    pub mirrors: Option<Text>,
}
