//! From the text of a file to a [`Procedure`], or to everything that is wrong with it.
//!
//! Five passes over the text, each reporting all it finds: TOML, the format number, the shape of every entry
//! (`shape`), steps that are written once for several places (`each`), and what the entries mean (`resolve`). Leaves the question whether the procedure is wise to `check`.

use super::code::Code;
use super::each::{self, Copies};
use super::finding::Finding;
use super::model::Procedure;
use super::report::Report;
use super::resolve::{self, Resolved};
use super::shape;
use super::whole::Whole;
use super::written::Written;
use crate::files;
use std::collections::HashSet;
use std::ops::Range;
use std::path::{Path, PathBuf};
use toml::de::{DeTable, DeValue};

/// The format this program writes. What is of an older one is read alike: each number has only added to the one before.
pub const FORMAT: u32 = 2;

/// Why there is no procedure.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LoadError {
    /// The file itself cannot be read.
    #[error("{}: cannot be read: {source}", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// The file was read and is not a procedure. The report says all that is wrong, with line and column.
    #[error("{0}")]
    Rejected(Report),
}

/// The text of a file alone.
pub fn read_text(path: &Path) -> Result<String, LoadError> {
    files::text(path).map_err(|source| LoadError::Unreadable { path: path.to_owned(), source })
}

/// What a list shows of a procedure, whether or not the rest of it is right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Headline {
    /// Its id, if it has one.
    pub id: String,
    /// Its title.
    pub title: String,
    /// The vehicle it is for.
    pub vehicle: String,
}

/// What a list shows of a procedure; nothing of a text that is none.
pub fn headline(text: &str) -> Option<Headline> {
    let (table, _) = DeTable::parse_recoverable(text);
    let DeValue::Table(head) = table.get_ref().get("procedure")?.get_ref() else { return None };
    let get = |key: &str| match head.get(key).map(toml::Spanned::get_ref) {
        Some(DeValue::String(text)) => text.clone().into_owned(),
        _ => String::new(),
    };
    let headline = Headline { id: get("id"), title: get("title"), vehicle: get("vehicle") };
    (!headline.title.is_empty()).then_some(headline)
}

/// Reads a procedure from its text; `name` is what the file is called in messages.
pub fn parse(name: &str, text: &str) -> Result<Procedure, Report> {
    Whole::one(name, text).procedure()
}

impl Whole {
    /// The procedure that it is, or what keeps it from being read.
    pub fn procedure(&self) -> Result<Procedure, Report> {
        let reading = read(self.text());
        match reading.resolved {
            Some(resolved) if reading.findings.is_empty() => Ok(resolved.procedure),
            _ => Err(Report::of(self.clone(), reading.findings)),
        }
    }
}

/// What came of reading a text. With findings, what is there is good for looking further, not for working by.
pub(super) struct Reading {
    pub written: Option<Written>,
    pub resolved: Option<Resolved>,
    pub findings: Vec<Finding>,
    /// Where something stands in for what is missing or wrong; a finding about one of these places says nothing.
    pub stand_ins: HashSet<Range<usize>>,
    /// Where the steps stand that were written once for several places. Findings are told of the text already.
    pub copies: Copies,
}

impl Reading {
    fn of_nothing(findings: Vec<Finding>) -> Reading {
        Reading { written: None, resolved: None, findings, stand_ins: HashSet::new(), copies: Copies::default() }
    }
}

pub(super) fn read(text: &str) -> Reading {
    let mut findings = Vec::new();
    let Some((mut table, mut stand_ins)) = walked(text, &shape::PROCEDURE, FORMAT, &mut findings) else {
        return Reading::of_nothing(findings);
    };
    let mut apart = Vec::new();
    let copies = each::expand(table.get_mut(), text.len(), &mut apart);
    apart.retain(|f| !stand_ins.contains(&f.span));
    stand_ins.extend(apart.iter().map(|f| f.span.clone()));
    findings.append(&mut apart);
    let Some(written) = deserialized::<Written>(table, &mut findings) else {
        return Reading::of_nothing(copies.told(findings));
    };
    for include in &written.include {
        findings.push(Finding::new(
            Code::IncludeUnreadable,
            include.file.span.clone(),
            format!("\"{}\" is not in its place: this text was not read from a file", include.file.value),
            "Keep it in a file; what it includes is found from there",
        ));
    }
    let mut meant = Vec::new();
    let resolved = resolve::resolve(&written, &mut meant);
    findings.extend(copies.told(meant).into_iter().filter(|f| !stand_ins.contains(&f.span)));
    Reading { written: Some(written), resolved: Some(resolved), findings, stand_ins, copies }
}

/// Reads a text as a file of this shape and of formats up to this one, as far as can be; with the places where something stands in for what is missing.
/// Nothing comes of a text that is no TOML or of a newer format.
pub(crate) fn read_as<T: serde::de::DeserializeOwned>(
    text: &str,
    shape: &shape::Shape,
    format: u32,
    findings: &mut Vec<Finding>,
) -> Option<(T, HashSet<Range<usize>>)> {
    let (table, stand_ins) = walked(text, shape, format, findings)?;
    Some((deserialized(table, findings)?, stand_ins))
}

/// The entries of a text, all of which fit the shape or stand in for what does not.
fn walked<'t>(
    text: &'t str,
    shape: &shape::Shape,
    format: u32,
    findings: &mut Vec<Finding>,
) -> Option<(toml::Spanned<DeTable<'t>>, HashSet<Range<usize>>)> {
    let (mut table, errors) = DeTable::parse_recoverable(text);
    for error in errors {
        findings.push(of_toml(&error));
    }
    if !findings.is_empty() {
        return None;
    }
    if let Some(newer) = newer_format(table.get_ref(), format) {
        findings.push(newer);
        return None;
    }
    let stand_ins = shape::walk(shape, &mut table, findings);
    Some((table, stand_ins))
}

fn deserialized<T: serde::de::DeserializeOwned>(
    table: toml::Spanned<DeTable<'_>>,
    findings: &mut Vec<Finding>,
) -> Option<T> {
    match T::deserialize(toml::de::Deserializer::from(table)) {
        Ok(written) => Some(written),
        Err(error) => {
            // The walk lets nothing through that does not fit, so this is a hole in the walk; the file is at fault all
            // the same, and its author must hear where.
            let span = error.span().unwrap_or(0..0);
            let right = "See FORMAT.md for what is allowed here";
            findings.push(Finding::new(Code::NotReadable, span, error.message(), right));
            None
        }
    }
}

/// A mistake in the TOML.
pub(super) fn of_toml(error: &toml::de::Error) -> Finding {
    let right = "Correct the TOML; see toml.io for its rules";
    Finding::new(Code::TomlSyntax, error.span().unwrap_or(0..0), error.message(), right)
}

/// Says so if the file is of a newer format than this program knows.
pub(super) fn newer_format(table: &DeTable<'_>, known: u32) -> Option<Finding> {
    let (key, value) = table.iter().find(|(key, _)| key.get_ref().as_ref() == "format")?;
    let DeValue::Integer(number) = value.get_ref() else {
        return None;
    };
    let number = i64::from_str_radix(number.as_str(), number.radix()).ok()?;
    (number > i64::from(known)).then(|| {
        Finding::new(
            Code::FormatNewer,
            key.span().start..value.span().end,
            format!("the file is of format {number}, and this program knows formats up to {known}"),
            "Use a newer program, or a file of an older format",
        )
    })
}
