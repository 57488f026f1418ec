//! Steps that are not always done: what becomes of things where they are left out.

use super::course::{Fault, course_through};
use crate::procedure::conduct::When;
use crate::procedure::model::Procedure;

/// So many things that steps are done after are followed one by one; of more, all of them and none.
const MOST_WAYS: usize = 16;

/// A file with so many faults on its plain way has those to be put right first.
const MOST_FAULTS: usize = 200;

/// What is wrong where steps are not done that are not always done: none of them, all but those after one thing, only those
/// after one thing.
pub(super) fn other_ways(book: &Procedure, plain: &[Fault]) -> Vec<Fault> {
    let mut whens: Vec<When> = Vec::new();
    for when in book.steps.iter().filter_map(|step| step.when) {
        if whens.len() <= MOST_WAYS && !whens.contains(&when) {
            whens.push(when);
        }
    }
    let mut faults: Vec<Fault> = Vec::new();
    let mut follow = |way: &str, came: &dyn Fn(When) -> bool| {
        for fault in course_through(book, came).faults() {
            let known = plain.iter().chain(&faults).any(|known| fault.repeats(known));
            if !known && faults.len() < MOST_FAULTS {
                faults.push(fault.clone().on(way));
            }
        }
    };
    if whens.is_empty() || plain.len() > MOST_FAULTS {
        return faults;
    }
    follow("where all is found in order", &|_| false);
    if whens.len() > MOST_WAYS {
        return faults;
    }
    for &one in &whens {
        let name = match one {
            When::Outside(ix) => book.named.get(ix.0).map_or("", |named| named.id.as_str()),
            When::No(step) => book.steps.get(step).map_or("", |step| step.id.as_str()),
        };
        follow(&format!("where \"{name}\" is in order"), &|when| when != one);
        follow(&format!("where only \"{name}\" is not in order"), &|when| when == one);
    }
    faults
}
