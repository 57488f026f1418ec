//! The short sum of a value that the digest of a job and that of its ledger are made with.

use serde::Serialize;
use sha2::{Digest, Sha256};

/// The sum of a value, from the names and numbers that serde writes.
pub(super) fn of(value: &impl Serialize) -> u64 {
    // None of these has a map whose keys are no text, which alone cannot be written.
    let text = serde_json::to_vec(value).unwrap_or_default();
    let hash = Sha256::digest(&text);
    hash.iter().take(8).fold(0, |sum, &byte| sum << 8 | u64::from(byte))
}
