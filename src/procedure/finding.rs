//! What is wrong with a procedure file, where, why it matters and what would be right.
//!
//! The loader and the checker both speak in [`Finding`]s. Knows the text of the file. Leaves the decision what to do
//! about them to whoever asked.

use super::code::Code;
use serde_json::json;
use std::ops::Range;
use std::sync::Arc;

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// It may stay, but it could be better.
    Advice,
    /// It must be put right.
    Error,
}

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

/// All that was found in one file, with its text, ready to be shown.
#[derive(Debug, Clone)]
pub struct Report {
    /// Name of the file, as it is shown.
    pub name: String,
    /// Its text.
    pub text: Arc<str>,
    /// What was found, in the order of the file.
    pub findings: Vec<Finding>,
    /// Where its lines begin, so that a report of thousands of findings does not count them anew for each.
    lines: Vec<usize>,
}

impl Report {
    /// Puts findings in the order of the file.
    pub fn new(name: impl Into<String>, text: &str, mut findings: Vec<Finding>) -> Report {
        findings.sort_by_key(|f| (f.span.start, f.code));
        findings.dedup();
        let lines = std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect();
        Report { name: name.into(), text: text.into(), findings, lines }
    }

    /// How many of them must be put right.
    pub fn errors(&self) -> usize {
        self.findings.iter().filter(|f| f.severity() == Severity::Error).count()
    }

    /// Line and column of a byte offset, both counted from 1, the column in characters.
    pub fn position(&self, offset: usize) -> (usize, usize) {
        let mut end = offset.min(self.text.len());
        while !self.text.is_char_boundary(end) {
            end -= 1;
        }
        let line = self.lines.partition_point(|start| *start <= end);
        let start = line.checked_sub(1).and_then(|n| self.lines.get(n)).copied().unwrap_or(0);
        (line, self.text[start..end].chars().count() + 1)
    }

    /// One finding with the text it is about, for showing.
    pub fn diagnostics(&self) -> impl Iterator<Item = Shown> + '_ {
        let file = Arc::new(miette::NamedSource::new(&self.name, self.text.clone()).with_language("TOML"));
        self.findings.iter().map(move |finding| Shown { file: file.clone(), finding: finding.clone() })
    }

    /// For other programs: one object a finding, with line and column counted from 1.
    pub fn to_json(&self) -> serde_json::Value {
        let findings: Vec<_> = self
            .findings
            .iter()
            .map(|f| {
                let (line, column) = self.position(f.span.start);
                let (end_line, end_column) = self.position(f.span.end);
                json!({
                    "code": f.code.as_str(),
                    "severity": match f.severity() { Severity::Error => "error", Severity::Advice => "advice" },
                    "file": self.name,
                    "line": line,
                    "column": column,
                    "end_line": end_line,
                    "end_column": end_column,
                    "text": self.text.get(f.span.clone()).unwrap_or_default(),
                    "what": f.what,
                    "why": f.code.why(),
                    "right": f.right,
                })
            })
            .collect();
        json!({ "file": self.name, "errors": self.errors(), "findings": findings })
    }
}

impl std::fmt::Display for Report {
    /// One line a finding: `file:line:column: severity[code]: what; right`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (n, finding) in self.findings.iter().enumerate() {
            if n > 0 {
                writeln!(f)?;
            }
            let (line, column) = self.position(finding.span.start);
            let severity = match finding.severity() {
                Severity::Error => "error",
                Severity::Advice => "advice",
            };
            let Finding { code, what, right, .. } = finding;
            write!(f, "{}:{line}:{column}: {severity}[{code}]: {what}; {right}", self.name)?;
        }
        Ok(())
    }
}

/// A finding with its text underlined.
#[derive(Debug, Clone, thiserror::Error)]
#[error("{}", finding.what)]
pub struct Shown {
    file: Arc<miette::NamedSource<Arc<str>>>,
    finding: Finding,
}

impl miette::Diagnostic for Shown {
    fn code<'a>(&'a self) -> Option<Box<dyn std::fmt::Display + 'a>> {
        Some(Box::new(self.finding.code))
    }

    fn severity(&self) -> Option<miette::Severity> {
        Some(match self.finding.severity() {
            Severity::Error => miette::Severity::Error,
            Severity::Advice => miette::Severity::Advice,
        })
    }

    fn help<'a>(&'a self) -> Option<Box<dyn std::fmt::Display + 'a>> {
        Some(Box::new(format!("{}\nwhy: {}", self.finding.right, self.finding.code.why())))
    }

    fn source_code(&self) -> Option<&dyn miette::SourceCode> {
        Some(&*self.file)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = miette::LabeledSpan> + '_>> {
        let first = miette::LabeledSpan::new_primary_with_span(Some("here".to_owned()), self.finding.span.clone());
        let rest = self
            .finding
            .also
            .iter()
            .map(|(span, why)| miette::LabeledSpan::new_with_span(Some(why.clone()), span.clone()));
        Some(Box::new(std::iter::once(first).chain(rest)))
    }
}
