//! Recorded noises and rooms: a folder with `manifest.tsv` of file, kind, seconds, source and licence.
//!
//! What lies in its folder `train` may be met by voices that are tuned on, what lies in `held` by those held out, and impulse
//! responses lie in `rir/train` and `rir/held`. Knows files and their sound; not what is mixed with them.

use super::HearingError;
use super::bed::Bed;
use super::set::Part;
use crate::listen::{RATE, read_sound};
use std::path::{Path, PathBuf};

const COLUMNS: &str = "file\tkind\tseconds\tsource\tlicence";
/// The kind of an impulse response that is a room's, and not a loudspeaker's.
const ROOM: &str = "rir";
/// No more of a room is kept: what comes later is too faint to matter, and costs.
const LONGEST_ROOM: usize = RATE as usize;

/// A recording.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    /// Its file, from the folder.
    pub file: String,
    /// What makes it.
    pub kind: String,
}

impl Piece {
    /// As a trial names it.
    pub fn bed(&self) -> Bed {
        Bed::Recorded { file: self.file.clone(), kind: self.kind.clone() }
    }
}

/// The recordings of a folder, by part.
#[derive(Debug, Default)]
pub struct Recorded {
    folder: PathBuf,
    noises: [Vec<Piece>; Part::ALL.len()],
    rooms: [Vec<Piece>; Part::ALL.len()],
}

impl Recorded {
    /// Reads the manifest in `folder`.
    pub fn read(folder: &Path) -> Result<Self, HearingError> {
        let path = folder.join("manifest.tsv");
        let text = crate::files::text(&path).map_err(|e| HearingError::set(&path, e.to_string()))?;
        let mut read = parse(&text).map_err(|reason| HearingError::set(&path, reason))?;
        read.folder = folder.to_owned();
        Ok(read)
    }

    /// The noises that voices of this part meet.
    pub fn noises(&self, part: Part) -> &[Piece] {
        &self.noises[index(part)]
    }

    /// The rooms that people of this part are in.
    pub fn rooms(&self, part: Part) -> &[Piece] {
        &self.rooms[index(part)]
    }

    /// A noise, of mean square one.
    pub fn noise(&self, file: &str) -> Result<Vec<f32>, HearingError> {
        let sound: Vec<f32> = read_sound(&self.folder.join(file))?.into_iter().map(f32::from).collect();
        let square = sound.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / sound.len().max(1) as f64;
        if square == 0.0 {
            return Err(HearingError::set(&self.folder.join(file), "it is silent"));
        }
        let root = square.sqrt() as f32;
        Ok(sound.into_iter().map(|s| s / root).collect())
    }

    /// A room's impulse response, from its loudest sample on, so that what is heard in it is not late.
    pub fn room(&self, file: &str) -> Result<Vec<f32>, HearingError> {
        let sound: Vec<f32> = read_sound(&self.folder.join(file))?.into_iter().map(f32::from).collect();
        let loudest = (0..sound.len()).max_by(|a, b| sound[*a].abs().total_cmp(&sound[*b].abs())).unwrap_or_default();
        Ok(sound[loudest..].iter().copied().take(LONGEST_ROOM).collect())
    }
}

fn index(part: Part) -> usize {
    Part::ALL.iter().position(|one| *one == part).unwrap_or_default()
}

fn parse(text: &str) -> Result<Recorded, String> {
    let mut lines = text.lines();
    let first = lines.next().unwrap_or_default();
    if first != COLUMNS {
        let shown = |line: &str| line.replace('\t', ", ");
        return Err(format!("its first line must be \"{}\", but is \"{}\"", shown(COLUMNS), shown(first)));
    }
    let mut read = Recorded::default();
    for (at, line) in lines.enumerate() {
        let told = |reason: String| format!("line {}: {reason}", at + 2);
        let fields: Vec<&str> = line.split('\t').collect();
        let [file, kind, ..] = fields[..] else {
            return Err(told(format!("{} columns, 5 expected", fields.len())));
        };
        let piece = Piece { file: file.to_owned(), kind: kind.to_owned() };
        let (rooms, inside) = match file.strip_prefix("rir/") {
            Some(inside) => (true, inside),
            None => (false, file),
        };
        let part = match inside.split_once('/').map(|(folder, _)| folder) {
            Some("train") => index(Part::Tune),
            Some("held") => index(Part::HeldOut),
            _ => {
                return Err(told(format!(
                    "\"{file}\" lies neither in train nor in held, nor in rir/train or rir/held"
                )));
            }
        };
        match rooms {
            false => read.noises[part].push(piece),
            true if kind == ROOM => read.rooms[part].push(piece),
            true => {}
        }
    }
    if read.noises.iter().all(Vec::is_empty) {
        return Err("it names no noises".into());
    }
    Ok(read)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_gets_the_noises_that_are_for_it() {
        let text = format!(
            "{COLUMNS}\ntrain/a.flac\thammer\t1.0\tx\tCC0\nheld/b.flac\train\t2.0\tx\tCC0\n\
             rir/held/c.wav\trir\t0.5\tx\tCC0\nrir/held/d.wav\tdevice-ir\t0.1\tx\tCC0\n"
        );
        let read = parse(&text).unwrap();
        let files = |pieces: &[Piece]| pieces.iter().map(|piece| piece.file.clone()).collect::<Vec<_>>();
        assert_eq!(files(read.noises(Part::Tune)), ["train/a.flac"]);
        assert_eq!(files(read.noises(Part::HeldOut)), ["held/b.flac"]);
        assert_eq!(files(read.rooms(Part::HeldOut)), ["rir/held/c.wav"], "a loudspeaker is no room");
        assert!(read.rooms(Part::Tune).is_empty());
        let elsewhere = parse(&text.replace("train/a", "a")).unwrap_err();
        assert!(elsewhere.starts_with("line 2: \"a.flac\" lies neither"), "{elsewhere}");
        assert!(parse(COLUMNS).unwrap_err().contains("no noises"));
        assert!(parse("file\tkind\n").unwrap_err().contains("\"file, kind\""));
        assert!(parse(&format!("{COLUMNS}\ntrain/a.flac\n")).unwrap_err().starts_with("line 2: 1 columns"));
    }
}
