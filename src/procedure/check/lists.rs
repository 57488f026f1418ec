//! What is listed against what is used: new parts in the right number, tools, things that no step touches.

use super::Sight;
use crate::procedure::code::Code;
use crate::procedure::finding::Finding;
use crate::procedure::model::*;
use crate::procedure::resolve::What;
use crate::procedure::written::Text;
use std::collections::HashSet;

pub(super) fn check(sight: &Sight<'_>, findings: &mut Vec<Finding>) {
    let p = sight.procedure();
    let mut used = Used::default();
    for step in &p.steps {
        used.conditions.extend(step.needs.map(|c| c.0));
        for act in &step.acts {
            used.act(act);
        }
    }
    for (ix, (fastener, written)) in p.fasteners.iter().zip(&sight.written.fastener).enumerate() {
        if fastener.single_use && sight.whole(What::Fastener) && sight.whole(What::Part) {
            new_parts(sight, ix, fastener, &written.id, &used, findings);
        }
        if used.fasteners.contains(&ix) && sight.resolved.gaps.is_empty() {
            untouched(ix, fastener, written, &used, findings);
        }
        if written.tool.is_none() {
            let what = format!("fastener \"{}\" names no tool", fastener.id);
            findings.push(Finding::new(
                Code::ToolMissing,
                written.id.span.clone(),
                what,
                "Write tool = \"the id of a tool\"",
            ));
        }
        let Finish::Stages(stages) = &fastener.finish else {
            continue;
        };
        used.conditions.extend(stages.iter().filter_map(|s| s.needs).map(|c| c.0));
    }
    doubled(sight, findings);
    let w = sight.written;
    let ids = |things: &'_ [crate::procedure::written::Thing]| things.iter().map(|t| t.id.clone()).collect::<Vec<_>>();
    unused(
        sight,
        What::Fastener,
        &w.fastener.iter().map(|f| f.id.clone()).collect::<Vec<_>>(),
        &used.fasteners,
        findings,
    );
    unused(sight, What::Support, &ids(&w.support), &used.supports, findings);
    unused(
        sight,
        What::Component,
        &w.component.iter().map(|c| c.id.clone()).collect::<Vec<_>>(),
        &used.components,
        findings,
    );
    unused(sight, What::Connection, &ids(&w.connection), &used.connections, findings);
    unused(sight, What::Condition, &ids(&w.condition), &used.conditions, findings);
    let stocks = w.stock.iter().map(|s| s.id.clone()).collect::<Vec<_>>();
    unused(sight, What::Stock, &stocks, &used.stocks, findings);
    for (standing, written) in p.standing.iter().zip(&w.standing) {
        let comes = match standing.cause {
            Cause::Placed(ix) => used.placed.contains(&ix.0),
            Cause::Hung(ix) => used.hung.contains(&ix.0),
            Cause::Off(ix) => used.off.contains(&ix.0),
            Cause::Open(ix) => used.opened.contains(&ix.0),
            Cause::In(ix) => used.reached.contains(&ix.0),
        };
        if !comes && p.standing.len() == w.standing.len() && sight.resolved.gaps.is_empty() {
            let what = format!("no step brings about the cause of \"{}\"", standing.id);
            let right = "Correct the cause, or take the caution out";
            findings.push(Finding::new(Code::StandingNever, written.cause.span.clone(), what, right));
        }
    }
}

/// Indices of the things that steps touch, and how.
#[derive(Default)]
struct Used {
    fasteners: HashSet<usize>,
    supports: HashSet<usize>,
    components: HashSet<usize>,
    connections: HashSet<usize>,
    conditions: HashSet<usize>,
    placed: HashSet<usize>,
    hung: HashSet<usize>,
    off: HashSet<usize>,
    opened: HashSet<usize>,
    reached: HashSet<usize>,
    stocks: HashSet<usize>,
    /// Fasteners that any act names: group and item.
    touched: HashSet<(usize, usize)>,
    /// Fasteners that come out, or are started by hand: group and item.
    renewed: HashSet<(usize, usize)>,
}

impl Used {
    fn act(&mut self, act: &Act) {
        match act {
            Act::Place(ix) => {
                self.placed.insert(ix.0);
                self.supports.insert(ix.0);
            }
            Act::TakeAway(ix) => {
                self.supports.insert(ix.0);
            }
            Act::Reach(ix) => {
                self.reached.insert(ix.0);
                self.conditions.insert(ix.0);
            }
            Act::Leave(ix) => {
                self.conditions.insert(ix.0);
            }
            Act::TakeOff(ix) => {
                self.off.insert(ix.0);
                self.components.insert(ix.0);
            }
            Act::Hang(ix) => {
                self.hung.insert(ix.0);
                self.components.insert(ix.0);
            }
            Act::PutOn(ix) => {
                self.components.insert(ix.0);
            }
            Act::Disconnect(ix) => {
                self.opened.insert(ix.0);
                self.connections.insert(ix.0);
            }
            Act::Connect(ix) => {
                self.connections.insert(ix.0);
            }
            Act::Fasten { group, items, deed } => {
                self.fasteners.insert(group.0);
                self.touched.extend(items.iter().map(|item| (group.0, *item)));
                if matches!(deed, Deed::Remove | Deed::HandStart) {
                    self.renewed.extend(items.iter().map(|item| (group.0, *item)));
                }
            }
            Act::Measure(m) => self.stocks.extend(m.among.map(|ix| ix.0)),
            Act::Clean(_) | Act::Apply(_) => {}
        }
    }
}

/// A step that follows one with the same sentence, the same acts, and all that goes with them.
fn doubled(sight: &Sight<'_>, findings: &mut Vec<Finding>) {
    if !sight.resolved.gaps.is_empty() {
        return;
    }
    let same = |a: &Step, b: &Step| {
        let told = a.say == b.say && a.hold == b.hold && a.until == b.until && a.cautions == b.cautions;
        told && a.only == b.only
            && a.when == b.when
            && a.ask == b.ask
            && a.phase == b.phase
            && a.acts == b.acts
            && a.needs == b.needs
            && a.wait_minutes == b.wait_minutes
            && a.within == b.within
            && a.later == b.later
    };
    let steps = || sight.procedure().steps.iter().zip(&sight.written.step);
    for ((first, _), (second, written)) in steps().zip(steps().skip(1)) {
        if same(first, second) {
            let what = format!("step \"{}\" says and does the same as the one before it", second.id);
            let right = "Take one of the two out, or say what differs";
            findings.push(Finding::new(Code::StepDoubled, written.say.span.clone(), what, right));
        }
    }
}

/// A single-use fastener that comes out must be on the parts list, in the right number.
fn new_parts(sight: &Sight<'_>, ix: usize, fastener: &Fastener, id: &Text, used: &Used, findings: &mut Vec<Finding>) {
    let needed = (0..fastener.places.len()).filter(|item| used.renewed.contains(&(ix, *item))).count();
    if needed == 0 {
        return;
    }
    let parts =
        || sight.procedure().parts.iter().zip(&sight.written.part).filter(|(p, _)| p.renews == Some(FastenerIx(ix)));
    let have: u64 = parts().map(|(p, _)| u64::from(p.count)).sum();
    match parts().next() {
        None => {
            let what = format!("\"{}\" is single-use, and no part renews it", fastener.id);
            let right = format!("Write a [[part]] with count = {needed} and renews = \"{}\"", fastener.id);
            findings.push(Finding::new(Code::PartMissing, id.span.clone(), what, right));
        }
        Some((_, first)) if have != needed as u64 => {
            let what = format!("{needed} of \"{}\" are renewed, and the parts list has {have}", fastener.id);
            let right = format!("Write count = {needed}");
            findings.push(
                Finding::new(Code::PartCount, first.count.span.clone(), what, right)
                    .with(id.span.clone(), "the fastener"),
            );
        }
        Some(_) => {}
    }
}

/// A place that no act names, of a group that others of are worked on.
fn untouched(
    ix: usize,
    fastener: &Fastener,
    written: &crate::procedure::written::Fastener,
    used: &Used,
    findings: &mut Vec<Finding>,
) {
    for (item, place) in written.places.iter().enumerate().filter(|(item, _)| !used.touched.contains(&(ix, *item))) {
        let name = fastener.places.get(item).map_or("", String::as_str);
        let what =
            format!("no step touches the {} at \"{name}\", though others of its group are worked on", fastener.name);
        let right = "Name the place in the steps that work on the group, or take it out of \"places\"";
        findings.push(Finding::new(Code::PlaceUntouched, place.span.clone(), what, right));
    }
}

fn unused(sight: &Sight<'_>, what: What, ids: &[Text], used: &HashSet<usize>, findings: &mut Vec<Finding>) {
    if !sight.whole(what) {
        return;
    }
    for (_, id) in ids.iter().enumerate().filter(|(ix, id)| !used.contains(ix) && !id.is_empty()) {
        let said = format!("no step uses \"{}\"", id.value);
        findings.push(Finding::new(Code::ThingUnused, id.span.clone(), said, "Use it in a step, or take it out"));
    }
}
