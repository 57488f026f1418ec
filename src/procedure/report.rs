//! All that was found in one text, ready to be shown: for people, and for other programs.
//!
//! Knows the text and the files that it is made of.

use super::code::Severity;
use super::finding::Finding;
use super::whole::Whole;
use serde_json::json;
use std::sync::Arc;

/// All that was found in one text, ready to be shown: each finding with the file and the line where it stands.
#[derive(Debug, Clone)]
pub struct Report {
    /// The text, and the files that it is made of.
    pub whole: Whole,
    /// What was found, in the order of the text.
    pub findings: Vec<Finding>,
}

impl Report {
    /// Puts findings in one file in its order.
    pub fn new(name: impl Into<String>, text: &str, findings: Vec<Finding>) -> Report {
        Report::of(Whole::one(name, text), findings)
    }

    /// Puts findings in order.
    pub fn of(whole: Whole, mut findings: Vec<Finding>) -> Report {
        findings.sort_by_key(|f| (f.span.start, f.code));
        findings.dedup();
        Report { whole, findings }
    }

    /// Name of the file, as it is shown.
    pub fn name(&self) -> &str {
        self.whole.name()
    }

    /// How many of them must be put right.
    pub fn errors(&self) -> usize {
        self.findings.iter().filter(|f| f.severity() == Severity::Error).count()
    }

    /// Line and column of a byte offset, in the file where it stands.
    pub fn position(&self, offset: usize) -> (usize, usize) {
        self.whole.place(&(offset..offset)).begins()
    }

    /// One finding with the text it is about, for showing.
    pub fn diagnostics(&self) -> impl Iterator<Item = Shown> + '_ {
        let mut file: Option<(usize, Arc<miette::NamedSource<Arc<str>>>)> = None;
        self.findings.iter().map(move |finding| {
            let place = self.whole.place(&finding.span);
            let file = match &file {
                Some((number, file)) if *number == place.file => file.clone(),
                _ => {
                    let named = miette::NamedSource::new(place.name(), place.file_text()).with_language("TOML");
                    file.insert((place.file, Arc::new(named))).1.clone()
                }
            };
            // What stands in another file cannot be underlined beside it.
            let (mut labels, mut elsewhere) = (Vec::new(), Vec::new());
            for (span, why) in &finding.also {
                let other = self.whole.place(span);
                match other.file == place.file {
                    true => labels.push((other.span, why.clone())),
                    false => {
                        let (line, column) = other.begins();
                        elsewhere.push(format!("{}:{line}:{column}: {why}", other.name()));
                    }
                }
            }
            let finding = Finding { span: place.span, also: labels, ..finding.clone() };
            Shown { file, finding, elsewhere }
        })
    }

    /// For other programs: one object a finding, with line and column counted from 1.
    pub fn to_json(&self) -> serde_json::Value {
        let findings: Vec<_> = self
            .findings
            .iter()
            .map(|f| {
                let place = self.whole.place(&f.span);
                let ((line, column), (end_line, end_column)) = (place.begins(), place.ends());
                json!({
                    "code": f.code.as_str(),
                    "severity": match f.severity() { Severity::Error => "error", Severity::Advice => "advice" },
                    "file": place.name(),
                    "line": line,
                    "column": column,
                    "end_line": end_line,
                    "end_column": end_column,
                    "text": place.text(),
                    "what": f.what,
                    "why": f.code.why(),
                    "right": f.right,
                })
            })
            .collect();
        json!({ "file": self.name(), "errors": self.errors(), "findings": findings })
    }
}

impl std::fmt::Display for Report {
    /// One line a finding: `file:line:column: severity[code]: what; right`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (n, finding) in self.findings.iter().enumerate() {
            if n > 0 {
                writeln!(f)?;
            }
            let place = self.whole.place(&finding.span);
            let ((line, column), name) = (place.begins(), place.name());
            let severity = match finding.severity() {
                Severity::Error => "error",
                Severity::Advice => "advice",
            };
            let Finding { code, what, right, .. } = finding;
            write!(f, "{name}:{line}:{column}: {severity}[{code}]: {what}; {right}")?;
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
    /// Other places that belong to it, in other files.
    elsewhere: Vec<String>,
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
        let elsewhere: String = self.elsewhere.iter().map(|place| format!("\nsee {place}")).collect();
        Some(Box::new(format!("{}{elsewhere}\nwhy: {}", self.finding.right, self.finding.code.why())))
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
