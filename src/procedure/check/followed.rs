//! Follows a book through every variant of the vehicle and every way that its steps may go, and tells what is found there.
//!
//! Leaves to `course` what becomes of each thing, and to `ways` which ways there are.

use super::course::{Course, DRAFT, Place, course, no_rebuild};
use super::{Sight, ways};
use crate::procedure::code::Code;
use crate::procedure::finding::Finding;
use crate::procedure::model::*;
use crate::procedure::resolve::What;

/// Follows every variant of the vehicle. What is found in each of them is told once, the rest with the variant.
pub(super) fn check(sight: &Sight<'_>, findings: &mut Vec<Finding>) {
    let book = sight.procedure();
    let all: Vec<usize> = (0..book.steps.len()).collect();
    if book.variants.is_empty() || !sight.whole(What::Variant) {
        return check_one(sight, book, &all, findings);
    }
    let mut found: Vec<(Finding, Vec<usize>)> = Vec::new();
    for ix in 0..book.variants.len() {
        let mut of_it = Vec::new();
        check_one(sight, &book.of(VariantIx(ix)), &book.steps_of(VariantIx(ix)), &mut of_it);
        for finding in of_it {
            match found.iter_mut().find(|(other, _)| *other == finding) {
                Some((_, of)) => of.push(ix),
                None => found.push((finding, vec![ix])),
            }
        }
    }
    findings.extend(found.into_iter().map(|(finding, of)| match of[..] {
        [ix] if book.variants.len() > 1 => {
            Finding { what: format!("of the vehicle {}: {}", book.variants[ix].name, finding.what), ..finding }
        }
        _ => finding,
    }));
}

/// Follows one book, whose steps stand in these places of the file.
fn check_one(sight: &Sight<'_>, book: &Procedure, places: &[usize], findings: &mut Vec<Finding>) {
    let mut course = course(book);
    let told = still_standing(sight, &course, findings);
    let others = ways::other_ways(book, &course.faults);
    // The caution says it already.
    course.faults.retain(|fault| fault.code != Code::ConditionLeft || !told.contains(&fault.place));
    course.faults.extend(others);
    let at = |step: usize| places.get(step).copied().unwrap_or(usize::MAX);
    for fault in course.faults {
        if fault.what.is_some_and(|what| !sight.whole(what)) {
            continue;
        }
        let span = match fault.place {
            Place::Nowhere => None,
            Place::Phase(step) => sight.written.step.get(at(step)).map(|s| s.phase.span.clone()),
            Place::Needs(step) => {
                sight.written.step.get(at(step)).and_then(|s| s.needs.as_ref()).map(|n| n.span.clone())
            }
            Place::Act(step, act) => Some(sight.act(at(step), act)),
        };
        findings.push(Finding::new(fault.code, span.unwrap_or(0..0), fault.said, fault.right));
    }
}

/// Cautions for a state of the vehicle that no step ends. A support, component or connection left so is an error by itself.
/// A state that the rebuild brings about is what the vehicle is handed back in, unless it could injure whoever takes it.
/// Says which acts led to them.
fn still_standing(sight: &Sight<'_>, course: &Course<'_>, findings: &mut Vec<Finding>) -> Vec<Place> {
    let p = sight.procedure();
    let mut told = Vec::new();
    if p.standing.len() != sight.written.standing.len() || !sight.resolved.gaps.is_empty() {
        return told;
    }
    for (standing, written) in p.standing.iter().zip(&sight.written.standing) {
        let Cause::In(ix) = standing.cause else { continue };
        let reached = p.steps.iter().rev().find(|step| step.acts.contains(&Act::Reach(ix)));
        let injures = standing.caution.signal >= Signal::Warning;
        if course.is_in(ix) && reached.is_some_and(|step| step.phase < Phase::Rebuild || injures) {
            let name = &p.conditions[ix.0].name;
            let what =
                format!("at the end the vehicle is still {name}, and the caution \"{}\" still stands", standing.id);
            let right = if no_rebuild(p) { DRAFT } else { "Add a later step with \"leave\", where the cause ends" };
            findings.push(Finding::new(Code::StandingLeft, written.cause.span.clone(), what, right));
            told.push(course.since(ix));
        }
    }
    told
}
