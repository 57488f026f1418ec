//! The scenario file: a list of turns, each with what is given and what must follow from it.

use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A scenario as it is written.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scenario {
    /// What it shows, in a line.
    pub title: String,
    /// The procedure, relative to the scenario's folder.
    #[serde(default)]
    pub procedure: Option<PathBuf>,
    /// In its place, a strip-down of this title; the job begins when it has a book.
    pub strip: Option<String>,
    /// The vehicle of a strip-down.
    pub vehicle: Option<String>,
    /// Pages of values, relative to the scenario's folder.
    #[serde(default)]
    pub values: Vec<PathBuf>,
    /// When the job begins. The clock goes on with the sound, and by `wait`.
    pub begin: toml::value::Datetime,
    /// Phrases with recordings of the user saying them, relative to the scenario's folder: their voice is learnt before the job
    /// begins.
    #[serde(default)]
    pub learn: BTreeMap<String, PathBuf>,
    /// What is given, in order.
    #[serde(rename = "turn")]
    pub turns: Vec<ScenarioTurn>,
    /// The folder of the scenario, for relative paths.
    #[serde(skip)]
    pub folder: PathBuf,
}

/// One turn: exactly one of `sound`, `typed`, `wait_minutes`, `restart`; then what must follow. With `restart`,
/// `wait_minutes` is how long the program was away.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScenarioTurn {
    /// A recording, relative to the scenario's folder.
    pub sound: Option<PathBuf>,
    /// A typed line.
    pub typed: Option<String>,
    /// So many minutes pass.
    pub wait_minutes: Option<u32>,
    /// The program ends without a word and is started anew.
    #[serde(default)]
    pub restart: bool,
    /// The phrase that must be accepted; empty: none. Named for every turn with sound.
    pub heard: Option<String>,
    /// Pieces of text that must stand in what is said (as written in the terminal), in this order.
    #[serde(default)]
    pub said: Vec<String>,
    /// Pieces of text that must not.
    #[serde(default)]
    pub not_said: Vec<String>,
    /// How many names the voice must say in the user's own recording of them.
    pub recordings: Option<usize>,
    /// What must be true in the job afterwards.
    #[serde(default)]
    pub then: Then,
}

/// What must be true in the job after a turn. What is not named is not compared.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Then {
    /// The number of the step the job stands at, from 1.
    pub step: Option<usize>,
    /// The pending stage as `group/place/stage`, the stage counted from 1; empty: nothing pending.
    pub pending: Option<String>,
    /// States of fasteners as `"group/place" = "state"`.
    #[serde(default)]
    pub state: BTreeMap<String, String>,
    /// How many points "what is open" counts.
    pub open: Option<usize>,
    /// Whether the job is closed.
    pub closed: Option<bool>,
}

/// What a turn gives.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Given<'a> {
    /// A recording.
    Sound(&'a Path),
    /// A line.
    Typed(&'a str),
    /// Minutes.
    Wait(u32),
    /// A restart after so many minutes.
    Restart(u32),
}

/// Why a scenario cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum ScenarioError {
    /// The file cannot be read.
    #[error("{}: cannot be read: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// The file is not a scenario.
    #[error("{}: line {line}: {reason}", path.display())]
    Format {
        /// The file.
        path: PathBuf,
        /// Where, from 1.
        line: usize,
        /// What is wrong.
        reason: String,
    },
    /// A turn does not give exactly one thing, or does not say what must be heard.
    #[error("{}: turn {turn}: {reason}", path.display())]
    Turn {
        /// The file.
        path: PathBuf,
        /// Which turn, from 1.
        turn: usize,
        /// What is wrong with it.
        reason: &'static str,
    },
}

impl Scenario {
    /// Reads a scenario file.
    pub fn load(path: &Path) -> Result<Scenario, ScenarioError> {
        let text = crate::files::text(path).map_err(|source| ScenarioError::Read { path: path.to_owned(), source })?;
        Scenario::parse(path, &text)
    }

    /// Reads a scenario from its text; `path` is for messages and relative paths.
    pub fn parse(path: &Path, text: &str) -> Result<Scenario, ScenarioError> {
        let mut scenario: Scenario = toml::from_str(text).map_err(|e| ScenarioError::Format {
            path: path.to_owned(),
            line: e.span().map_or(1, |s| text[..s.start.min(text.len())].matches('\n').count() + 1),
            reason: e.message().to_owned(),
        })?;
        scenario.folder = path.parent().unwrap_or(Path::new("")).to_owned();
        if scenario.procedure.is_some() == scenario.strip.is_some() {
            let reason = "it must name either a procedure or a strip".to_owned();
            return Err(ScenarioError::Format { path: path.to_owned(), line: 1, reason });
        }
        for (i, turn) in scenario.turns.iter().enumerate() {
            let bad = |reason| ScenarioError::Turn { path: path.to_owned(), turn: i + 1, reason };
            let given = turn
                .given()
                .ok_or_else(|| bad("it must give exactly one of sound, typed, wait_minutes and restart"))?;
            if matches!(given, Given::Sound(_)) && turn.heard.is_none() {
                return Err(bad("it must say what is to be heard (heard = \"\" for nothing)"));
            }
        }
        Ok(scenario)
    }

    /// When the job begins, in milliseconds since the Unix epoch; `None` unless it is a whole date and time.
    pub fn begins(&self) -> Option<i64> {
        let text = self.begin.to_string();
        text.parse::<jiff::Timestamp>().ok().map(|t| t.as_millisecond())
    }
}

impl ScenarioTurn {
    /// What it gives, if it is exactly one thing.
    pub fn given(&self) -> Option<Given<'_>> {
        match (&self.sound, &self.typed, self.wait_minutes, self.restart) {
            (Some(path), None, None, false) => Some(Given::Sound(path)),
            (None, Some(line), None, false) => Some(Given::Typed(line)),
            (None, None, Some(minutes), false) => Some(Given::Wait(minutes)),
            (None, None, away, true) => Some(Given::Restart(away.unwrap_or(0))),
            _ => None,
        }
    }
}
