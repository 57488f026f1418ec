//! The user's settings: a TOML file found by the rules of the system (XDG), or named. The command line goes before it.

use super::Failure;
use super::named::Parts;
use crate::dialogue::{Meaning, Talk};
use crate::instrument::{Form, FormError};
use crate::job::Command;
use crate::quantity::TorqueUnit;
use crate::session::keyboard;
use crate::session::port::Instrument;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A night.
const PAUSE_HOURS: f64 = 12.0;

/// Settings. Each key may be left out.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
pub struct Config {
    /// Folder of a vosk model.
    pub model: Option<PathBuf>,
    /// Folder of a piper voice.
    pub voice: Option<PathBuf>,
    /// Hear with vosk alone.
    #[serde(default)]
    pub one_listener: bool,
    /// Name of the learnt voice that is listened with.
    pub own_voice: Option<String>,
    /// With a learnt voice: others may give commands that claim or move as well, and are not asked back.
    #[serde(default)]
    pub others: bool,
    /// Folder that learnt voices are kept in.
    pub voices: Option<PathBuf>,
    /// Folder that jobs are kept in.
    pub jobs: Option<PathBuf>,
    /// Folders that procedures are looked for in, by name.
    #[serde(default)]
    pub procedures: Vec<PathBuf>,
    /// Language file.
    pub language: Option<PathBuf>,
    /// File of the user's tools; `toolbox.toml` beside the settings if none is named.
    pub toolbox: Option<PathBuf>,
    /// Pages of values, which can be asked for by name.
    #[serde(default)]
    pub values: Vec<PathBuf>,
    /// So many of them, at the end, were named on the command line.
    #[serde(skip)]
    pub values_named: usize,
    /// Unit that torques are said in first: "N·m", "kgf·m", "lbf·ft" or "lbf·in"; the published one if none is given.
    pub torque_unit: Option<String>,
    /// Microphone, by name.
    pub microphone: Option<String>,
    /// Loudspeaker, by name.
    pub loudspeaker: Option<String>,
    /// The voice is heard in a headset.
    #[serde(default)]
    pub headset: bool,
    /// Hours that a job put down by voice is listened for to be taken up again; 0 ends the session at once, 12 if nothing is said.
    pub pause_hours: Option<f64>,
    /// Leave out the tones.
    #[serde(default)]
    pub no_tones: bool,
    /// Speed of the voice: 1 is its own, 2 twice as fast. "Faster" and "slower" start from here.
    pub pace: Option<f32>,
    /// Pause between two sentences, in milliseconds, at the voice's own speed.
    pub pause: Option<u64>,
    /// Folder of the phoneme data that the voice reads by, for a voice of another language than English.
    pub phonemes: Option<PathBuf>,
    /// Keys that are commands by themselves, as a foot switch types them.
    #[serde(default)]
    pub keys: Keys,
    /// A tool that sends its readings.
    pub tool: Option<Tool>,
    /// Language that the voice reads in, by espeak-ng's name, if it is not the one that the voice names itself.
    pub reads: Option<String>,
}

/// Keys by their names, each for what it says.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
pub struct Keys {
    /// The stage or the step is done.
    pub done: Option<String>,
    /// On to the next step.
    pub next: Option<String>,
    /// Say it again.
    pub repeat: Option<String>,
    /// Be silent.
    pub silence: Option<String>,
    /// Yes to what is asked.
    pub yes: Option<String>,
    /// No to what is asked.
    pub no: Option<String>,
}

/// A tool that sends its readings.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
pub struct Tool {
    /// What you call it; what the language file does if nothing is said.
    pub name: Option<String>,
    /// A serial port, a pipe with a name, or a file that grows.
    pub device: PathBuf,
    /// Bits a second of a serial port; 9600 if nothing is said.
    pub baud: Option<u32>,
    /// What a line looks like: "{number} {unit}" if nothing is said.
    pub pattern: Option<String>,
    /// What it calls units: "NM" = "N·m".
    #[serde(default)]
    pub units: BTreeMap<String, String>,
    /// The unit of its lines if they name none.
    pub unit: Option<String>,
    /// Its decimal sign, if it is a comma.
    pub decimal: Option<String>,
}

impl Tool {
    /// What it sends.
    fn form(&self) -> Result<Form, FormError> {
        let pattern = self.pattern.as_deref().unwrap_or(match self.unit {
            None => "{number} {unit}",
            Some(_) => "{number}",
        });
        Form::new(pattern, &self.units, self.unit.as_deref(), self.decimal.as_deref())
    }
}

impl Config {
    /// The keys, each with what it sends and means.
    pub fn keys(&self) -> Result<Vec<(Vec<u8>, Meaning)>, String> {
        let Keys { done, next, repeat, silence, yes, no } = &self.keys;
        let all = [
            ("done", done, Meaning::Command(Command::Done)),
            ("next", next, Meaning::Command(Command::Next)),
            ("repeat", repeat, Meaning::Talk(Talk::Repeat)),
            ("silence", silence, Meaning::Talk(Talk::Quiet)),
            ("yes", yes, Meaning::Command(Command::Yes)),
            ("no", no, Meaning::Command(Command::No)),
        ];
        let mut keys: Vec<(Vec<u8>, Meaning)> = Vec::new();
        for (what, name, meaning) in all {
            let Some(name) = name else { continue };
            let sent = keyboard::key(name).ok_or_else(|| {
                format!("{what}: \"{name}\" is no key that can have a meaning; these can: {}", keyboard::names())
            })?;
            if keys.iter().any(|(other, _)| *other == sent) {
                return Err(format!("{what}: the key \"{name}\" has another meaning already"));
            }
            keys.push((sent, meaning));
        }
        Ok(keys)
    }

    /// The tool that sends its readings, if there is one.
    /// `called`: what a tool is called that has no name.
    pub fn instrument(&self, called: &str) -> Option<Instrument> {
        let tool = self.tool.as_ref()?;
        let form = tool.form().ok()?;
        let name = tool.name.clone().unwrap_or_else(|| called.to_owned());
        Some(Instrument { name, device: tool.device.clone(), baud: tool.baud.unwrap_or(9_600), form })
    }

    /// Reads the file named, or the user's own if there is one.
    pub fn load(named: Option<&Path>) -> Result<Config, Failure> {
        let own = directories::ProjectDirs::from("", "", "wrenchside").map(|d| d.config_dir().join("config.toml"));
        let path = match (named, own) {
            (Some(path), _) => path.to_owned(),
            (None, Some(path)) if path.exists() => path,
            _ => return Ok(Config::default()),
        };
        let text = crate::files::text(&path)
            .map_err(|e| Failure::Unreadable(format!("{}: the settings cannot be read: {e}", path.display())))?;
        let mut config: Config = toml::from_str(&text).map_err(|e| {
            let line = e.span().map_or(1, |s| text[..s.start.min(text.len())].matches('\n').count() + 1);
            Failure::Unreadable(format!("{}: line {line}: {}", path.display(), e.message()))
        })?;
        if let Err(reason) = config.unit() {
            return Err(Failure::Unreadable(format!("{}: torque_unit: {reason}", path.display())));
        }
        if let Some(name) = &config.own_voice
            && let Err(reason) = super::named::profile_name(name)
        {
            return Err(Failure::Unreadable(format!("{}: own_voice: {reason}", path.display())));
        }
        if let Some(pace) = config.pace.filter(|pace| !(0.5..=2.0).contains(pace)) {
            return Err(Failure::Unreadable(format!("{}: pace: {pace} is not from 0.5 to 2", path.display())));
        }
        if let Some(pause) = config.pause.filter(|pause| *pause > 2_000) {
            return Err(Failure::Unreadable(format!("{}: pause: {pause} is more than 2000", path.display())));
        }
        if let Some(hours) = config.pause_hours.filter(|hours| !(0.0..=1_000.0).contains(hours)) {
            return Err(Failure::Unreadable(format!("{}: pause_hours: {hours} is not from 0 to 1000", path.display())));
        }
        if let Err(reason) = config.keys() {
            return Err(Failure::Unreadable(format!("{}: [keys] {reason}", path.display())));
        }
        if let Some(Err(reason)) = config.tool.as_ref().map(Tool::form) {
            return Err(Failure::Unreadable(format!("{}: [tool] {reason}", path.display())));
        }
        // Paths in the file are meant from where the file lies.
        let folder = path.parent().unwrap_or(Path::new("")).to_owned();
        let paths = [
            &mut config.model,
            &mut config.voice,
            &mut config.jobs,
            &mut config.voices,
            &mut config.language,
            &mut config.phonemes,
            &mut config.toolbox,
        ];
        let device = config.tool.as_mut().map(|tool| &mut tool.device);
        for path in paths.into_iter().flatten().chain(&mut config.values).chain(&mut config.procedures).chain(device) {
            *path = folder.join(&path);
        }
        Ok(config)
    }

    /// The same with what the command line names.
    pub fn with(mut self, parts: &Parts) -> Config {
        self.model = parts.model.clone().or(self.model);
        self.voice = parts.voice.clone().or(self.voice);
        self.jobs = parts.jobs.clone().or(self.jobs);
        self.own_voice = parts.own_voice.clone().or(self.own_voice);
        self.voices = parts.voices.clone().or(self.voices);
        self.language = parts.language.clone().or(self.language);
        self.toolbox = parts.toolbox.clone().or(self.toolbox);
        self.values.extend(parts.pages.iter().cloned());
        self.values_named = parts.pages.len();
        self.one_listener |= parts.one_listener;
        self.no_tones |= parts.no_tones;
        self
    }

    /// How long a job put down by voice is listened for.
    pub fn pause(&self) -> Duration {
        Duration::from_secs_f64(self.pause_hours.unwrap_or(PAUSE_HOURS) * 3_600.0)
    }

    /// The unit for torques, if one was chosen.
    pub fn unit(&self) -> Result<Option<TorqueUnit>, String> {
        self.torque_unit.as_deref().map(|text| text.parse().map_err(|e| format!("{e}"))).transpose()
    }

    /// Where the toolbox file is, if one is named or there is one of the user's own.
    pub fn toolbox_file(&self) -> Option<PathBuf> {
        let own = || directories::ProjectDirs::from("", "", "wrenchside").map(|d| d.config_dir().join("toolbox.toml"));
        self.toolbox.clone().or_else(|| own().filter(|path| path.exists()))
    }

    /// Where procedures are looked for by name: the folders of the settings, or the user's own if none is named.
    pub fn procedure_folders(&self) -> Vec<PathBuf> {
        let own = || directories::ProjectDirs::from("", "", "wrenchside").map(|d| d.data_dir().join("procedures"));
        match self.procedures.is_empty() {
            true => own().into_iter().collect(),
            false => self.procedures.clone(),
        }
    }

    /// Where learnt voices are kept.
    pub fn voices_folder(&self) -> Result<PathBuf, Failure> {
        let own = || directories::ProjectDirs::from("", "", "wrenchside").map(|d| d.data_dir().join("voices"));
        let none = "there is no home folder to keep learnt voices in; name one with --voices";
        self.voices.clone().or_else(own).ok_or_else(|| Failure::Unreadable(none.into()))
    }

    /// Where jobs are kept.
    pub fn jobs_folder(&self) -> Result<PathBuf, Failure> {
        let own = || directories::ProjectDirs::from("", "", "wrenchside").map(|d| d.data_dir().join("jobs"));
        self.jobs
            .clone()
            .or_else(own)
            .ok_or_else(|| Failure::Unreadable("there is no home folder to keep jobs in; name one with --jobs".into()))
    }
}
