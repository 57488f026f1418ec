//! The recordings: a folder with `manifest.tsv`, as `scripts/make-hearing-set` writes it.
//!
//! Knows files, texts and voices. What a text means is for `moment`.

use super::HearingError;
use serde::{Deserialize, Serialize};
use std::fs;
use std::path::{Path, PathBuf};

const COLUMNS: &str = "file\tkind\ttext\tmeaning\tvoice\tpart\ttrained";

/// What voices are for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// Thresholds may be chosen on them.
    Tune,
    /// Results are reported on them.
    HeldOut,
    /// Real people: looked at, never tuned on.
    People,
}

impl Part {
    /// All of them.
    pub const ALL: [Part; 3] = [Part::Tune, Part::HeldOut, Part::People];

    /// As the manifest writes it.
    pub fn name(self) -> &'static str {
        match self {
            Part::Tune => "tune",
            Part::HeldOut => "held-out",
            Part::People => "people",
        }
    }
}

/// What is said in a recording.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A phrase of the language.
    Command,
    /// A number by itself.
    Number,
    /// A sentence that denies, doubts, asks for or comes close to what a command would do.
    Denial,
    /// Talk that is not for the program.
    Talk,
    /// Somebody on the radio.
    Radio,
}

/// A recording.
#[derive(Debug, Clone)]
pub struct Clip {
    /// Where it is.
    pub path: PathBuf,
    /// What kind of thing is said.
    pub kind: Kind,
    /// The words.
    pub text: String,
    /// Who says them.
    pub voice: String,
    /// What the voice is for.
    pub part: Part,
    /// Was the voice, or one near to it, in the training of the model?
    pub trained: bool,
}

/// Reads the manifest in `folder`.
pub fn read(folder: &Path) -> Result<Vec<Clip>, HearingError> {
    let path = folder.join("manifest.tsv");
    let text = fs::read_to_string(&path)
        .map_err(|e| HearingError::set(&path, format!("{e}; scripts/make-hearing-set makes the set")))?;
    parse(folder, &text).map_err(|reason| HearingError::set(&path, reason))
}

fn parse(folder: &Path, text: &str) -> Result<Vec<Clip>, String> {
    let mut lines = text.lines();
    if lines.next() != Some(COLUMNS) {
        return Err(format!("its first line must be {}", COLUMNS.replace('\t', ", ")));
    }
    let clips: Result<Vec<Clip>, String> =
        lines.enumerate().map(|(at, line)| clip(folder, line).map_err(|e| format!("line {}: {e}", at + 2))).collect();
    match clips {
        Ok(clips) if clips.is_empty() => Err("it names no recordings".into()),
        clips => clips,
    }
}

fn clip(folder: &Path, line: &str) -> Result<Clip, String> {
    let fields: Vec<&str> = line.split('\t').collect();
    let [file, kind, text, _, voice, part, trained] = fields[..] else {
        return Err(format!("{} columns, 7 expected", fields.len()));
    };
    let kind = match kind {
        "command" => Kind::Command,
        "number" => Kind::Number,
        "denial" => Kind::Denial,
        "talk" => Kind::Talk,
        "radio" => Kind::Radio,
        other => return Err(format!("there is no kind \"{other}\"")),
    };
    let known = Part::ALL.into_iter().find(|known| known.name() == part);
    let part = known.ok_or_else(|| format!("there is no part \"{part}\""))?;
    Ok(Clip {
        path: folder.join(file),
        kind,
        text: text.to_owned(),
        voice: voice.to_owned(),
        part,
        trained: trained == "yes",
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_manifest_is_read_and_a_bad_line_named() {
        let good = format!("{COLUMNS}\na.wav\tcommand\tnext step\tnext\tked\theld-out\tno\n");
        let clips = parse(Path::new("set"), &good).unwrap();
        assert_eq!(clips.len(), 1);
        assert_eq!((clips[0].part, clips[0].kind, clips[0].trained), (Part::HeldOut, Kind::Command, false));
        assert_eq!(clips[0].path, Path::new("set/a.wav"));
        for (from, to) in [("held-out", "both"), ("command", "song"), ("\tno", "")] {
            let told = parse(Path::new("set"), &good.replace(from, to)).unwrap_err();
            assert!(told.starts_with("line 2: "), "{told}");
        }
        assert!(parse(Path::new("set"), COLUMNS).unwrap_err().contains("no recordings"));
        assert!(parse(Path::new("set"), "").unwrap_err().contains("first line"));
    }
}
