//! Steps that are not always done: what becomes of things where they are left out.

use super::course::{Fault, course_through};
use crate::procedure::conduct::When;
use crate::procedure::model::Procedure;

/// So many things that steps are done after are followed one by one. No book of one job comes near it; a file with more of them is
/// told so, since nobody could say that it can be worked with each.
const MOST_WAYS: usize = 300;

/// A file with so many faults on its plain way has those to be put right first.
const MOST_FAULTS: usize = 200;

/// What is wrong where steps are not done that are not always done: none of them, all but those after one thing, only those
/// after one thing.
pub(super) fn other_ways(book: &Procedure, plain: &[Fault]) -> Vec<Fault> {
    let mut whens: Vec<When> = Vec::new();
    let mut faults: Vec<Fault> = Vec::new();
    for (step, when) in book.steps.iter().enumerate().filter_map(|(ix, step)| Some((ix, step.when?))) {
        if whens.contains(&when) {
            continue;
        }
        if whens.len() == MOST_WAYS {
            faults.push(Fault::not_followed(step, MOST_WAYS));
            break;
        }
        whens.push(when);
    }
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
