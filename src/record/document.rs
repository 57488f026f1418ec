//! The record as data: what JSON holds, and what the pages are made from.
//!
//! Numbers of steps and stages count from 1. An amount is a text of a number and a unit ("38 N·m"). What is not known is
//! left out, never filled in.

pub use super::states::{ItemStateName, JobState, PartHeld, StepStateName};
use crate::procedure::Signal;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The format of the JSON that this program writes.
pub const FORMAT: u32 = 1;

/// The JSON schema of [`Record`].
pub fn json_schema() -> serde_json::Value {
    let mut schema = schemars::schema_for!(Record);
    schema.insert("title".into(), "Record of a job".into());
    schema.into()
}

/// The record of one job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Record {
    /// Number of this format.
    pub format: u32,
    /// The program that wrote it, with its version.
    pub program: String,
    /// When it was written; the job may have gone on since.
    pub written: Moment,
    /// So many mistakes had been found in the procedure when the job was begun all the same; none where there were none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unchecked: Option<usize>,
    /// Where the journal could not be followed; nothing that comes behind is in this record.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub broken: Option<BrokenInfo>,
    /// The job.
    pub job: JobInfo,
    /// The procedure the job goes by.
    pub procedure: ProcedureInfo,
    /// Where the values come from.
    pub source: SourceInfo,
    /// Whose word comes first.
    pub deference: String,
    /// Every group of fasteners.
    pub fasteners: Vec<Group>,
    /// Measurements that were taken or are still to be taken.
    pub measurements: Vec<MeasurementInfo>,
    /// New parts the procedure asks for, and what the ledger holds of them.
    pub parts: Vec<PartInfo>,
    /// Every step.
    pub steps: Vec<StepInfo>,
    /// Cautions that were given.
    pub cautions: Vec<CautionInfo>,
    /// What is open. For a closed job, what was open when it was closed.
    pub open: Vec<String>,
    /// Questions of the program that were answered with yes.
    pub confirmed: Vec<ConfirmedInfo>,
    /// Notes, spoken and typed.
    pub notes: Vec<NoteInfo>,
    /// All facts in order, those taken back among them.
    pub facts: Vec<FactInfo>,
    /// Pictures that can be shown; left out of the JSON.
    #[serde(skip)]
    pub pictures: Vec<PictureInfo>,
}

/// A line of the journal that could not be followed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct BrokenInfo {
    /// Which, from 1.
    pub line: usize,
    /// Why.
    pub reason: String,
}

/// A moment, twice.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Moment {
    /// In UTC, as RFC 3339 writes it.
    pub utc: String,
    /// In the time zone of whoever wrote the record, with its offset, as RFC 3339 writes it.
    pub local: String,
    /// What is to be known of it: that the clock cannot have been right.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remark: Option<String>,
}

/// The job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JobInfo {
    /// Its name.
    pub name: String,
    /// What it is.
    pub title: String,
    /// The vehicle.
    pub vehicle: String,
    /// The variant of the vehicle that was chosen, where the procedure knows several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub variant: Option<String>,
    /// How far it is.
    pub state: JobState,
    /// When it was begun.
    pub began: Moment,
    /// When something was last said to be done.
    pub last: Option<Moment>,
    /// When it was closed.
    pub closed: Option<Moment>,
    /// The step it stands at, from 1.
    pub step: usize,
}

/// The procedure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ProcedureInfo {
    /// Its short name.
    pub id: String,
    /// Its revision.
    pub revision: String,
    /// Who wrote it down.
    pub author: String,
    /// SHA-256 of the file the job goes by.
    pub sha256: String,
}

/// Where values come from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SourceInfo {
    /// Title of the manual.
    pub title: String,
    /// Its edition.
    pub edition: String,
    /// Its chapter.
    pub chapter: Option<String>,
    /// What a reader must know about the values.
    pub note: Option<String>,
}

/// A group of like fasteners.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Group {
    /// Key in the procedure.
    pub id: String,
    /// Name of one of them.
    pub name: String,
    /// Name of several.
    pub plural: String,
    /// Thread, as the procedure has it.
    pub thread: Option<String>,
    /// Property class.
    pub class: Option<String>,
    /// What the tool must fit.
    pub drive: Option<String>,
    /// Has it a left-hand thread?
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub left_hand: bool,
    /// What locks it in its end state.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lock: Option<String>,
    /// Is each one used once only?
    pub single_use: bool,
    /// The state of the thread that the values hold for.
    pub preparation: Option<String>,
    /// Page of the values.
    pub page: Option<String>,
    /// The stages of the tightening programme in order; one without a value where none is published.
    pub stages: Vec<StageInfo>,
    /// The fasteners, by place.
    pub items: Vec<ItemInfo>,
    /// The picture of the group as SVG; left out of the JSON.
    #[serde(skip)]
    pub drawing: String,
}

/// A stage of a programme.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StageInfo {
    /// What it asks for, in words, in the user's unit first if they have chosen one.
    pub asks: String,
    /// The value as it was published ("70 N·m", "55..70°"); none for a stage without one.
    pub published: Option<String>,
    /// The torque that one counting from a measurement came to, once that was taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comes_to: Option<String>,
    /// Page of this value, where it is not that of the group.
    pub page: Option<String>,
}

/// One fastener.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ItemInfo {
    /// Where it sits.
    pub place: String,
    /// Its rank in the order of tightening, from 1.
    pub order: usize,
    /// Its state.
    pub state: ItemStateName,
    /// Its state in words.
    pub state_text: String,
    /// Was it said to be a new one, fitted in this job?
    pub new: bool,
    /// How many new ones were fitted here in this job, those among them that were scrapped since.
    pub new_used: u32,
    /// Did a reading come out over, with nothing done about it yet?
    pub over: bool,
    /// How often its programme was begun.
    pub runs: u32,
    /// Stages recorded in the run that counts.
    pub stages: Vec<StageDone>,
}

/// A stage that was said to be done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StageDone {
    /// Which, from 1.
    pub stage: usize,
    /// When.
    pub at: Moment,
    /// The reading it was recorded with, if one was given.
    pub reading: Option<String>,
    /// The tool that sent the reading, if nobody said it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
}

/// A measurement.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeasurementInfo {
    /// What is measured.
    pub what: String,
    /// At which step, from 1.
    pub step: usize,
    /// Not less than this.
    pub least: Option<String>,
    /// Not more than this.
    pub most: Option<String>,
    /// The limits in words.
    pub limits: String,
    /// The reading that stands, if one was taken.
    pub reading: Option<String>,
    /// Does it lie in the limits? Nothing where there are none.
    pub within: Option<bool>,
    /// Every reading that was taken, in order, the one that stands among them.
    #[serde(default)]
    pub readings: Vec<MeasurementReading>,
    /// Was it left outside its limits by the user's word?
    #[serde(default)]
    pub left: bool,
    /// Does it belong to a step that is not to be done?
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub not_needed: bool,
    /// When it was taken.
    pub at: Option<Moment>,
    /// What the procedure says to do when it does not lie in the limits.
    pub otherwise: String,
    /// Page of the limits.
    pub page: Option<String>,
    /// Page of the sizes at hand, where one of those is chosen by it.
    #[serde(default)]
    pub sizes_page: Option<String>,
}

/// One reading of a measurement.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeasurementReading {
    /// The reading.
    pub reading: String,
    /// The tool that sent it, if nobody said it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// Does it lie in the limits? Nothing where there are none.
    #[serde(default)]
    pub within: Option<bool>,
    /// When it was taken.
    pub at: Moment,
    /// Was it taken back, or put right by another, later?
    pub taken_back: bool,
}

/// A new part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PartInfo {
    /// Its name.
    pub name: String,
    /// How many the procedure asks for; none where new ones were used that are not on its list.
    pub count: u32,
    /// Number in the maker's catalogue.
    pub number: Option<String>,
    /// What the ledger holds: how many new fasteners of the group it renews were used, or whether the component
    /// it replaces was put on again. None where the ledger holds nothing of it.
    pub held: Option<PartHeld>,
}

/// A step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StepInfo {
    /// Its number, from 1.
    pub number: usize,
    /// The phase it belongs to, in words.
    pub phase: String,
    /// Its sentence.
    pub say: String,
    /// What a second person does meanwhile.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub helper: Option<String>,
    /// The picture that goes with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub picture: Option<String>,
    /// The time that there was for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub within: Option<String>,
    /// When it is due, if that is only after the job is closed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub later: Option<String>,
    /// How far it is.
    pub state: StepStateName,
    /// When it was said to be done, or to be left open.
    pub at: Option<Moment>,
    /// Was a mark set at it?
    pub marked: bool,
    /// Of a step that is done until a question is answered with yes: each round that came out with no.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rounds: Vec<RoundInfo>,
    /// How many rounds there were, the one that came out with yes among them; none where there was but one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rounds_done: Option<usize>,
}

/// A round of steps that came out with no.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RoundInfo {
    /// Which, from 1.
    pub round: u32,
    /// When it ended.
    pub at: Moment,
}

/// A caution that was given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CautionInfo {
    /// How serious it is.
    pub signal: Signal,
    /// The signal word of the language.
    pub signal_word: String,
    /// What was said.
    pub say: String,
    /// Does it stand while its cause stands?
    pub standing: bool,
    /// With which steps, from 1.
    pub steps: Vec<usize>,
    /// How often.
    pub times: usize,
    /// When first.
    pub first: Moment,
}

/// A question that was answered with yes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ConfirmedInfo {
    /// When.
    pub at: Moment,
    /// At which step, from 1.
    pub step: usize,
    /// The question.
    pub question: String,
}

/// A picture that steps or groups name.
#[derive(Debug, Clone, PartialEq)]
pub struct PictureInfo {
    /// Its file, as the procedure names it.
    pub name: String,
    /// The steps that name it, from 1.
    pub steps: Vec<usize>,
    /// The groups of fasteners that name it.
    pub groups: Vec<String>,
    /// The picture as a data address.
    pub image: String,
}

/// A note.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NoteInfo {
    /// When it was kept.
    pub at: Moment,
    /// At which step, from 1.
    pub step: usize,
    /// Its words, if it was typed.
    pub text: Option<String>,
    /// The file of its sound, below the folder of the job.
    pub file: Option<String>,
    /// How long the sound is, in seconds.
    pub seconds: Option<f64>,
    /// The sound as a data address for the page; left out of the JSON.
    #[serde(skip)]
    pub sound: Option<String>,
}

/// A fact of the journal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FactInfo {
    /// When.
    pub at: Moment,
    /// At which step, from 1.
    pub step: usize,
    /// What, in words.
    pub fact: String,
    /// The reading that came with it.
    pub reading: Option<String>,
    /// The tool that sent it, if nobody said it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// Does the reading lie where the procedure asks for it?
    #[serde(default)]
    pub within: Option<bool>,
    /// When it was taken back, if it was.
    pub taken_back: Option<Moment>,
}

#[cfg(test)]
mod tests {
    use super::Group;

    /// A group as version 0.1 wrote it, which knew of no left-hand thread and had a drive always.
    const OLD: &str = r#"{
        "id": "pinch", "name": "pinch bolt", "plural": "pinch bolts", "thread": "M12 x 1.5", "class": "10.9",
        "drive": "18 mm hex", "single_use": true, "preparation": "clean and dry", "page": "page 3-2",
        "stages": [{ "asks": "70 newton metres", "published": "70 N·m", "page": null }], "items": []
    }"#;

    #[test]
    fn a_stored_record_is_still_read_and_written_as_it_was() {
        let group: Group = serde_json::from_str(OLD).expect("an old record");
        assert!(!group.left_hand);
        assert_eq!(group.drive.as_deref(), Some("18 mm hex"));
        let old: serde_json::Value = serde_json::from_str(OLD).expect("JSON");
        assert_eq!(serde_json::to_value(&group).expect("JSON"), old);
    }
}
