//! What `check` finds in a draft, marked at its place, so that nothing that must be put right stands there unmarked.

use super::MARK;
use crate::procedure::{self, Severity};
use std::collections::BTreeMap;

/// The file with a mark above each line in which something must be put right, where none is there; and how many marks there are.
pub(super) fn settle(text: &str) -> (String, usize) {
    let mut missing: BTreeMap<usize, Vec<String>> = BTreeMap::new();
    let lines: Vec<&str> = text.lines().collect();
    for finding in procedure::findings(text) {
        if finding.severity() != Severity::Error {
            continue;
        }
        let at = text.as_bytes().iter().take(finding.span.start).filter(|byte| **byte == b'\n').count();
        if is_marked(&lines, at) {
            continue;
        }
        let told = missing.entry(at).or_default();
        let what = finding.what.replace(char::is_control, " ");
        if !told.contains(&what) {
            told.push(what);
        }
    }
    let mut out = String::with_capacity(text.len());
    for (at, line) in lines.iter().enumerate() {
        for what in missing.get(&at).into_iter().flatten() {
            out.push_str(&format!("{MARK} {what}\n"));
        }
        out.push_str(line);
        out.push('\n');
    }
    let marks = out.lines().filter(|line| line.contains(MARK)).count();
    (out, marks)
}

/// A line has a mark, or the comment right above it has one.
pub(super) fn is_marked(lines: &[&str], at: usize) -> bool {
    let above = lines[..at.min(lines.len())].iter().rev().take_while(|line| line.starts_with('#'));
    lines.get(at).is_some_and(|line| line.contains(MARK)) || above.into_iter().any(|line| line.starts_with(MARK))
}
