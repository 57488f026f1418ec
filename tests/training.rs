//! The making of the listening model (`models/training`), a Python project by itself: its own tests, and its whole chain in
//! little, from made-up voices to a word that libvosk decodes. Where Python or espeak-ng is missing it says so and does
//! nothing; in CI that is a failure.

use std::process::{Command, Stdio};

/// What `scripts/test-training` ends with if the machine has not what it needs.
const CANNOT: i32 = 77;

#[test]
fn the_training_goes_down_to_a_decoded_word() {
    let mut script = Command::new("scripts/test-training");
    let status = script.current_dir(env!("CARGO_MANIFEST_DIR")).stdin(Stdio::null()).status().unwrap();
    assert!(status.success() || status.code() == Some(CANNOT), "{status}; what failed is above");
}
