//! What is awaited of the user: on it depends what may be said, and so what is listened for.

use crate::dialogue::StripExpect;
use crate::job::Expect;

/// What a `Moment` depends on. Two of the same key are the same.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Key {
    pub(super) expect: Expect,
    /// The same, while something is taken apart.
    pub(super) strip: Option<StripExpect>,
    pub(super) listening: bool,
    /// The number of the note, if one is recorded.
    pub(super) noting: Option<u64>,
    pub(super) waiting: bool,
    /// What was offered of the values, and whether one was told.
    pub(super) offers: (Vec<usize>, bool),
    pub(super) said: String,
}
