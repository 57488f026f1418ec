//! What is wrong with a procedure file, where, why it matters and what would be right.
//!
//! The loader and the checker both speak in [`Finding`]s. Knows where in the text it is. Leaves to
//! `report` how it is shown, and the decision what to do about it to whoever asked.

use super::code::{Code, Severity};
use std::ops::Range;

/// One thing found in a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// What sort of thing, for people and programs to refer to.
    pub code: Code,
    /// The text it is about, in bytes.
    pub span: Range<usize>,
    /// What is wrong.
    pub what: String,
    /// What would be right.
    pub right: String,
    /// Other places that belong to it, each with a word on why.
    pub also: Vec<(Range<usize>, String)>,
}

impl Finding {
    /// A finding about one place.
    pub(crate) fn new(code: Code, span: Range<usize>, what: impl Into<String>, right: impl Into<String>) -> Finding {
        Finding { code, span, what: what.into(), right: right.into(), also: Vec::new() }
    }

    /// Adds another place that belongs to it.
    pub(crate) fn with(mut self, span: Range<usize>, why: impl Into<String>) -> Finding {
        self.also.push((span, why.into()));
        self
    }

    /// How much it weighs.
    pub fn severity(&self) -> Severity {
        self.code.severity()
    }
}
