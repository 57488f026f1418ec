//! Is a procedure wise? Everything that can be found out about a file without a vehicle beside it.
//!
//! Begins with what the loader finds, goes on with what becomes of each thing in the course of the steps (`course`),
//! the values (`values`, `thread`, `limits`, `also`), what counts from a measurement (`sums`), what is chosen by them (`chosen`) and whether a repair is judged
//! (`judged`), the parts and things listed (`lists`) and the words (`words`). Never changes or makes
//! a value.

mod also;
mod chosen;
mod course;
mod followed;
mod judged;
mod limits;
mod lists;
mod sums;
mod thread;
mod told;
mod values;
mod ways;
mod words;

pub(crate) use also::in_two_units;
pub use course::{Course, Fault, course};
pub(crate) use thread::is_property_class;
pub(crate) use values::{Programme, programme};
pub(crate) use words::{alike, unsayable};

use super::finding::Finding;
use super::load::{self, Reading};
use super::model::Procedure;
use super::report::Report;
use super::resolve::{Resolved, What};
use super::whole::Whole;
use super::written::Written;
use std::ops::Range;

/// Checks a text and reports all that is found, in the order of the file. `name` is what the file is called.
pub fn check(name: &str, text: &str) -> Report {
    Whole::one(name, text).check()
}

impl Whole {
    /// Everything that is found in it, in the order of the text.
    pub fn check(&self) -> Report {
        let mut all = findings(self.text());
        all.extend_from_slice(self.beside());
        Report::of(self.clone(), all)
    }
}

/// All that is found in a text.
pub fn findings(text: &str) -> Vec<Finding> {
    let Reading { written, resolved, mut findings, stand_ins, copies } = load::read(text);
    if let (Some(written), Some(resolved)) = (written, resolved) {
        let sight = Sight { written: &written, resolved: &resolved };
        let mut found = Vec::new();
        followed::check(&sight, &mut found);
        values::check(&sight, &mut found);
        limits::check(&sight, &mut found);
        sums::check(&sight, &mut found);
        chosen::check(&sight, &mut found);
        judged::check(&sight, &mut found);
        lists::check(&sight, &mut found);
        words::check(&sight, &mut found);
        findings.extend(copies.told(found).into_iter().filter(|f| !stand_ins.contains(&f.span)));
    }
    findings.sort_by_key(|f| (f.span.start, f.code));
    findings.dedup();
    findings
}

/// What the checks look at: the file as written and as resolved; entries of both stand in the same order.
struct Sight<'a> {
    written: &'a Written,
    resolved: &'a Resolved,
}

impl Sight<'_> {
    fn procedure(&self) -> &Procedure {
        &self.resolved.procedure
    }

    /// Where an act stands; for an act that has no place, nowhere.
    fn act(&self, step: usize, act: usize) -> Range<usize> {
        self.resolved.act_spans.get(step).and_then(|acts| acts.get(act)).cloned().unwrap_or(0..0)
    }

    /// Could everything about this kind of thing be made out?
    fn whole(&self, what: What) -> bool {
        !self.resolved.gaps.contains(&what)
    }
}
