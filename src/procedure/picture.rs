//! Pictures that a step or a group of fasteners names: by the page of the manual, or by a file beside the procedure.
//!
//! Knows which texts name a file, and which files are pictures that a page can show. Opens one by `files` only, below the
//! folder of the procedure or of a job.

use super::code::Code;
use super::finding::Finding;
use super::load::{self, Reading};
use super::model::Procedure;
use crate::files;
use std::collections::{BTreeSet, HashMap};
use std::path::Path;

/// The largest picture that is shown: it becomes a part of the record.
const LARGEST: u64 = 4 << 20;

/// Endings of the files that can be shown.
const ENDINGS: [&str; 5] = ["png", "jpg", "jpeg", "gif", "webp"];

/// The file that a picture is named by; none where it is a page of the manual, such as "fig. 12, page 3-21".
pub fn file(picture: &str) -> Option<&str> {
    let name = picture.trim();
    let (stem, ending) = name.rsplit_once('.')?;
    let shown = ENDINGS.iter().any(|known| ending.eq_ignore_ascii_case(known));
    // A word with an ending is a file of another kind, or one whose ending was mistyped.
    let looks_so = (3..=4).contains(&ending.len())
        && ending.bytes().all(|b| b.is_ascii_alphabetic())
        && !name.contains(char::is_whitespace);
    (shown || looks_so && stem.len() > 1).then_some(name)
}

/// A picture below a folder, with its media type; or why it cannot be shown.
pub fn read(folder: &Path, name: &str) -> Result<(&'static str, Vec<u8>), String> {
    let bytes = files::inside(folder, Path::new(name), LARGEST).map_err(|error| error.to_string())?;
    let kind = kind(&bytes).ok_or("it is no picture in PNG, JPEG, GIF or WebP")?;
    Ok((kind, bytes))
}

/// The media type, by how the file begins: its name proves nothing.
fn kind(bytes: &[u8]) -> Option<&'static str> {
    match bytes {
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => Some("image/png"),
        [0xff, 0xd8, 0xff, ..] => Some("image/jpeg"),
        [b'G', b'I', b'F', b'8', b'7' | b'9', b'a', ..] => Some("image/gif"),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Some("image/webp"),
        _ => None,
    }
}

impl Procedure {
    /// The files of its pictures, each once.
    pub fn picture_files(&self) -> BTreeSet<&str> {
        let named = self.steps.iter().filter_map(|step| step.picture.as_deref());
        named.chain(self.fasteners.iter().filter_map(|f| f.picture.as_deref())).filter_map(file).collect()
    }
}

/// Pictures of a text that are not in the folder of its procedure, or cannot be shown.
pub(super) fn missing(text: &str, folder: &Path) -> Vec<Finding> {
    if !text.contains("picture") {
        return Vec::new();
    }
    let Reading { written: Some(written), copies, .. } = load::read(text) else { return Vec::new() };
    let mut looked: HashMap<&str, Option<String>> = HashMap::new();
    let mut findings = Vec::new();
    let named = written.step.iter().filter_map(|step| step.picture.as_ref());
    for picture in named.chain(written.fastener.iter().filter_map(|f| f.picture.as_ref())) {
        let Some(name) = file(picture) else { continue };
        let why = looked.entry(name).or_insert_with(|| read(folder, name).err());
        let Some(why) = why else { continue };
        let what = format!("the picture \"{name}\" cannot be shown: {why}");
        let right = "Put a PNG, JPEG, GIF or WebP of at most 4 MiB beside the procedure, or in a folder below it, or name \
                     the page instead, such as \"fig. 12, page 3-21\"";
        findings.push(Finding::new(Code::PictureMissing, picture.span.clone(), what, right));
    }
    copies.told(findings)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_told_from_pages() {
        for name in
            ["cover.png", "figures/nut 3.JPG", " a.webp ", "cover.pgn", "figures/nut.svg", "../x.gif", "scan.jpeg"]
        {
            assert_eq!(file(name), Some(name.trim()), "{name}");
        }
        for page in
            ["fig. 12, page 3-21", "page 3-21", "fig.12", "fig.a", "plate IV", "fig. 3 (see p. iv)", "", ".", "p.iv"]
        {
            assert_eq!(file(page), None, "{page}");
        }
    }

    #[test]
    fn a_picture_is_known_by_how_it_begins() {
        assert_eq!(kind(b"\x89PNG\r\n\x1a\n...."), Some("image/png"));
        assert_eq!(kind(b"RIFF1234WEBPVP8 "), Some("image/webp"));
        for no in [b"<svg onload=alert(1)>" as &[u8], b"", b"RIFF1234WAVE", b"\x89PNG"] {
            assert_eq!(kind(no), None);
        }
    }
}
