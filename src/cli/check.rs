//! `check`: what is wrong in procedure files and pages of values, all of it. `outline`, `draft-rebuild`: what an author looks at next.

use super::args::{Check, DraftRebuild, Format, Outline};
use super::config::Config;
use super::{Failure, find, parts};
use crate::outline;
use crate::procedure::{self, LoadError, Report, Severity};
use crate::values;

/// Checks files. Exit code 0 if nothing has to be put right, 1 with findings, 2 if a file cannot be read.
pub fn check(config: &Config, args: &Check) -> Result<(), Failure> {
    let mut reports = Vec::new();
    let mut unreadable = Vec::new();
    for path in &args.files {
        match procedure::read_text(path) {
            Ok(text) => {
                let name = path.display().to_string();
                reports.push(if values::is_page(&name, &text) {
                    parts::check_values(config, &name, &text)?
                } else if procedure::is_shared(&text) {
                    procedure::check_shared(&name, &text)
                } else {
                    match procedure::open(path) {
                        Ok(whole) => whole.check(),
                        Err(LoadError::Rejected(report)) => report,
                        Err(error) => {
                            unreadable.push(error.to_string());
                            continue;
                        }
                    }
                });
            }
            Err(error) => unreadable.push(error.to_string()),
        }
    }
    match args.format {
        Format::Text => {
            for report in &reports {
                show(report);
                let advice = report.findings.iter().filter(|f| f.severity() == Severity::Advice).count();
                let (name, text) = (report.name(), report.whole.text());
                outln!("{name}: {}", counted(report.errors(), advice));
                if report.errors() == 0 && procedure::is_shared(text) && !values::is_page(name, text) {
                    outln!(
                        "{name}: to be included; its ids, steps and values are checked with each procedure that does."
                    );
                }
            }
        }
        Format::Json => {
            let all: Vec<_> = reports.iter().map(Report::to_json).collect();
            outln!("{:#}", serde_json::Value::Array(all));
        }
    }
    if !unreadable.is_empty() {
        return Err(Failure::Unreadable(unreadable.join("\nwrenchside: ")));
    }
    if reports.iter().any(|r| r.errors() > 0) { Err(Failure::Shown) } else { Ok(()) }
}

/// "no errors", "1 error, 2 warnings".
fn counted(errors: usize, warnings: usize) -> String {
    let errors = self::errors(errors);
    match warnings {
        0 => errors,
        1 => format!("{errors}, 1 warning"),
        _ => format!("{errors}, {warnings} warnings"),
    }
}

/// So many errors, in words.
pub fn errors(count: usize) -> String {
    match count {
        0 => "no errors".to_owned(),
        1 => "1 error".to_owned(),
        _ => format!("{count} errors"),
    }
}

/// Prints the steps of a procedure and every way through them.
pub fn outline(config: &Config, args: &Outline) -> Result<(), Failure> {
    let (_, book) = parts::procedure(&find::procedure(config, &args.procedure)?)?;
    out!("{}", outline::outline(&book));
    Ok(())
}

/// Prints a procedure with its rebuild proposed below its strip.
pub fn draft_rebuild(args: &DraftRebuild) -> Result<(), Failure> {
    let drafted = procedure::open(&args.file).and_then(|whole| whole.draft_rebuild().map_err(LoadError::Rejected));
    match drafted {
        Ok(drafted) => {
            out!("{drafted}");
            Ok(())
        }
        Err(LoadError::Rejected(report)) => {
            show(&report);
            Err(Failure::Shown)
        }
        Err(error) => Err(Failure::unreadable(error)),
    }
}

/// Shows findings on standard error, each with its text underlined.
pub fn show(report: &Report) {
    for finding in report.diagnostics() {
        errln!("{:?}", miette::Report::new(finding));
    }
}
