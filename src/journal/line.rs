//! One line of the journal: written, and read back with its checksum.

use crate::job::{At, Command};
use serde::{Deserialize, Serialize};

/// The format this program writes.
pub(super) const FORMAT: u32 = 2;

/// More bytes than any first line has.
pub(super) const LONGEST_HEAD: u64 = 1 << 16;

/// What the first line of any format says, this one and those to come: which format it is.
#[derive(Debug, Deserialize)]
pub(super) struct Format {
    pub format: u32,
}

/// What the first line says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Head {
    pub format: u32,
    pub procedure: String,
    pub sha256: String,
    pub began: At,
    /// Where the procedure was read from, to notice that it was changed since.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// So many findings of the check would have stopped the job; the user began it all the same.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub unchecked: usize,
}

fn is_zero(number: &usize) -> bool {
    *number == 0
}

/// One command that changed the job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Entry {
    pub n: u64,
    /// When, by a clock that only grows while a session lasts.
    pub at: At,
    /// The clock of the machine at that moment, where it was set since the session began.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wall: Option<At>,
    pub command: Command,
    /// The version that wrote it; none in a line of version 0.1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// Digest of the job after it; none in a line of version 0.1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub state: Option<String>,
}

/// A digest as it is written.
pub(super) fn hex(digest: u64) -> String {
    format!("{digest:016x}")
}

/// The key that closes each line, with eight hexadecimal digits behind it.
const SUM: &str = ",\"sum\":\"";

/// Writes a line with its checksum; `before` is the checksum of the line before it, so that a line that was left
/// out or moved is noticed too.
pub(super) fn write(value: &impl Serialize, before: u32) -> Result<(String, u32), serde_json::Error> {
    let mut text = serde_json::to_string(value)?;
    text.pop(); // the closing brace comes after the sum
    let sum = checksum(&text, before);
    text.push_str(&format!("{SUM}{sum:08x}\"}}\n"));
    Ok((text, sum))
}

/// Reads a line without its line end back.
pub(super) fn read<T: for<'a> Deserialize<'a>>(line: &str, before: u32) -> Result<(T, u32), String> {
    let (text, tail) = line.rsplit_once(SUM).ok_or("it has no checksum")?;
    let digits = tail.strip_suffix("\"}").ok_or("its checksum is cut short")?;
    let sum = checksum(text, before);
    // Compared as it is written, so that not even a capital letter passes.
    if digits != format!("{sum:08x}") {
        return Err("its checksum does not fit".into());
    }
    let value = serde_json::from_str(&format!("{text}}}")).map_err(|e| e.to_string())?;
    Ok((value, sum))
}

fn checksum(text: &str, before: u32) -> u32 {
    let mut hash = crc32fast::Hasher::new();
    hash.update(&before.to_le_bytes());
    hash.update(text.as_bytes());
    hash.finalize()
}
