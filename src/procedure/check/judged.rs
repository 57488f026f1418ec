//! Steps that put right what was measured outside its limits: is it judged afterwards whether that helped?
//!
//! Knows which acts change something on the vehicle. A look, a note on the order, a reading taken elsewhere change nothing
//! and need no judging.

use super::Sight;
use crate::procedure::code::Code;
use crate::procedure::conduct::When;
use crate::procedure::finding::Finding;
use crate::procedure::model::*;
use std::collections::{BTreeMap, HashMap};

/// What an act is to a measurement that failed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Role {
    /// It changes nothing.
    None,
    /// It may be a remedy (charging) or only the way to a further look (load switched on, a cover taken off).
    Perhaps,
    /// It puts something in, on or together.
    Remedy,
}

fn role(act: &Act) -> Role {
    match act {
        Act::Measure(_) => Role::None,
        Act::PutOn(_) | Act::Connect(_) | Act::Clean(_) | Act::Apply(_) => Role::Remedy,
        Act::Fasten { deed: Deed::HandStart | Deed::Tighten(_) | Deed::Lock | Deed::Hold, .. } => Role::Remedy,
        _ => Role::Perhaps,
    }
}

/// Is something asked in this step?
fn asks(step: &Step) -> bool {
    step.hold.is_some() || step.ask.is_some() || step.until.as_ref().is_some_and(|until| until.ask.is_some())
}

pub(super) fn check(sight: &Sight<'_>, findings: &mut Vec<Finding>) {
    let p = sight.procedure();
    if !sight.resolved.gaps.is_empty() || p.steps.len() != sight.written.step.len() {
        return;
    }
    let mut branches: BTreeMap<MeasureIx, Vec<usize>> = BTreeMap::new();
    for (at, step) in p.steps.iter().enumerate() {
        if let Some(When::Outside(ix)) = step.when {
            branches.entry(ix).or_default().push(at);
        }
    }
    if branches.is_empty() {
        return;
    }
    let taken = last_taken(p);
    // The first step that is led back to from each step on: the least of those that later steps lead back to.
    let mut back_to = vec![usize::MAX; p.steps.len() + 1];
    for (at, step) in p.steps.iter().enumerate().rev() {
        back_to[at] = step.until.as_ref().map_or(usize::MAX, |until| until.from).min(back_to[at + 1]);
    }
    for (ix, steps) in branches {
        let Some(named) = p.named.get(ix.0) else { continue };
        let Some(at) = last_change(p, &steps) else { continue };
        let again = back_to[at] <= named.step;
        let later = taken.get(&named.what.to_lowercase()).is_some_and(|last| *last >= at && *last > named.step);
        let asked = steps.iter().any(|step| *step >= at && asks(&p.steps[*step]));
        let span = sight.written.step[at].if_outside.as_ref().map(|name| name.span.clone());
        if let (Some(span), false) = (span, again || later || asked) {
            let what = "what was measured outside its limits is seen to here, and never measured again";
            let right = "Write in the last of these steps: again_from = \"the step that measures it\"; or measure it \
                         once more, or ask with \"hold\" whether it is in order";
            findings.push(Finding::new(Code::NotJudged, span, what, right));
        }
    }
}

/// The last step in which each measurement is taken, by what it is called.
fn last_taken(p: &Procedure) -> HashMap<String, usize> {
    let mut taken = HashMap::new();
    for (at, step) in p.steps.iter().enumerate() {
        for act in &step.acts {
            if let Act::Measure(m) = act {
                taken.insert(m.what.to_lowercase(), at);
            }
        }
    }
    taken
}

/// The last of these steps that changes something on the vehicle; none where they only look further.
fn last_change(p: &Procedure, steps: &[usize]) -> Option<usize> {
    let role = |at: usize| p.steps[at].acts.iter().map(role).max().unwrap_or(Role::None);
    let strongest = steps.iter().map(|at| role(*at)).max()?;
    let looks = steps.iter().any(|at| {
        let step = &p.steps[*at];
        asks(step) || step.acts.iter().any(|act| matches!(act, Act::Measure(_)))
    });
    match strongest {
        Role::Remedy => {}
        Role::Perhaps if !looks => {}
        _ => return None,
    }
    steps.iter().rev().find(|at| role(**at) > Role::None).copied()
}
