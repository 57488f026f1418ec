//! The recordings: a folder with `manifest.tsv`, as `scripts/make-hearing-set` writes it.
//!
//! Knows files, texts and voices. What a text means is for `moment`.

use super::HearingError;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

const COLUMNS: &str = "file\tkind\ttext\tmeaning\tvoice\tpart\ttrained\twho";
/// In the last column, of a voice that is made.
const SYNTHETIC: &str = "synthetic";

/// What voices are for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// Thresholds may be chosen on them.
    Tune,
    /// Results are reported on them.
    HeldOut,
}

impl Part {
    /// All of them.
    pub const ALL: [Part; 2] = [Part::Tune, Part::HeldOut];

    /// As the manifest writes it.
    pub fn name(self) -> &'static str {
        match self {
            Part::Tune => "tune",
            Part::HeldOut => "held-out",
        }
    }
}

/// What is said in a recording.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A phrase of the language.
    Command,
    /// Whatever a person says: a phrase or a number where it is one at some moment, else talk.
    Said,
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
    /// Where the recordings of a person come from; none if the voice is synthetic.
    pub person: Option<String>,
    /// Was the voice, or one near to it, in the training of the model?
    pub trained: bool,
}

/// Reads the manifest in `folder`.
pub fn read(folder: &Path) -> Result<Vec<Clip>, HearingError> {
    let path = folder.join("manifest.tsv");
    let text = crate::files::text(&path)
        .map_err(|e| HearingError::set(&path, format!("{e}; scripts/make-hearing-set makes the set")))?;
    parse(folder, &text).map_err(|reason| HearingError::set(&path, reason))
}

fn parse(folder: &Path, text: &str) -> Result<Vec<Clip>, String> {
    let mut lines = text.lines();
    let first = lines.next().unwrap_or_default();
    if first != COLUMNS {
        let shown = |line: &str| line.replace('\t', ", ");
        return Err(format!(
            "its first line must be \"{}\", but is \"{}\"; scripts/make-hearing-set makes the set anew",
            shown(COLUMNS),
            shown(first)
        ));
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
    let [file, kind, text, _, voice, part, trained, who] = fields[..] else {
        return Err(format!("{} columns, 8 expected", fields.len()));
    };
    if who.is_empty() {
        return Err(format!("its last column must say \"{SYNTHETIC}\", or where the recordings of a person come from"));
    }
    let kind = match kind {
        "command" => Kind::Command,
        "said" => Kind::Said,
        "denial" => Kind::Denial,
        "talk" => Kind::Talk,
        "radio" => Kind::Radio,
        other => {
            return Err(format!("there is no kind \"{other}\", only command, said, denial, talk and radio"));
        }
    };
    let known = Part::ALL.into_iter().find(|known| known.name() == part);
    let part = known.ok_or_else(|| format!("there is no part \"{part}\", only tune and held-out"))?;
    Ok(Clip {
        path: folder.join(file),
        kind,
        text: text.to_owned(),
        voice: voice.to_owned(),
        part,
        person: (who != SYNTHETIC).then(|| who.to_owned()),
        trained: trained == "yes",
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_manifest_is_read_and_a_bad_line_named() {
        let good = format!("{COLUMNS}\na.wav\tcommand\tnext step\tnext\tked\theld-out\tno\tsynthetic\n");
        let clips = parse(Path::new("set"), &good).unwrap();
        assert_eq!(clips.len(), 1);
        assert_eq!((clips[0].part, clips[0].kind, clips[0].trained), (Part::HeldOut, Kind::Command, false));
        assert_eq!(clips[0].person, None);
        let person = good.replace("synthetic", "so762 child").replace("command", "said");
        let clips = parse(Path::new("set"), &person).unwrap();
        assert_eq!((clips[0].kind, clips[0].person.as_deref()), (Kind::Said, Some("so762 child")));
        assert_eq!(clips[0].path, Path::new("set/a.wav"));
        for (from, to) in [("held-out", "both"), ("command", "song"), ("\tno", ""), ("synthetic", "")] {
            let told = parse(Path::new("set"), &good.replace(from, to)).unwrap_err();
            assert!(told.starts_with("line 2: "), "{told}");
        }
        assert!(parse(Path::new("set"), COLUMNS).unwrap_err().contains("no recordings"));
        let told = parse(Path::new("set"), "file\tkind\n").unwrap_err();
        assert!(told.contains("trained, who\"") && told.contains("\"file, kind\""), "{told}");
        assert!(parse(Path::new("set"), "").unwrap_err().contains("first line"));
    }
}
