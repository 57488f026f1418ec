//! What a torque or a limit that counts from a measurement comes to at the ends of that measurement.
//!
//! Knows only what the file says: a measurement without limits may come out as anything, and what it leads to the job tells on the
//! day.

use super::Sight;
use super::thread::{Class, Thread};
use super::values::plausible;
use crate::procedure::code::Code;
use crate::procedure::finding::Finding;
use crate::procedure::model::*;
use crate::procedure::resolve::What;
use crate::procedure::written::Text;
use crate::quantity::{Limits, Quantity, Torque};
use rust_decimal::Decimal;
use std::ops::Range;

pub(super) fn check(sight: &Sight<'_>, findings: &mut Vec<Finding>) {
    if !sight.whole(What::Fastener) || !sight.whole(What::Measurement) {
        return;
    }
    let p = sight.procedure();
    for (written, fastener) in sight.written.fastener.iter().zip(&p.fasteners) {
        let Finish::Stages(stages) = &fastener.finish else { continue };
        let texts = written.stages.iter().flat_map(|stages| stages.value.iter());
        for (n, (text, stage)) in texts.zip(stages).enumerate() {
            let (Some(text), Some(from), StageKind::Torque(by)) = (&text.torque, stage.from, &stage.kind) else {
                continue;
            };
            let snug = stages[n + 1..].iter().any(|s| matches!(s.kind, StageKind::Torque(_) | StageKind::Angle(_)));
            let thread = written.thread.as_ref().and_then(|thread| Thread::read(thread));
            let class = written.class.as_ref().and_then(|class| Class::read(class));
            let Some(whole) = torque(text, measured(p, from), by, findings) else { continue };
            plausible(text, &whole, thread, class, snug, findings);
        }
    }
    for (at, step) in p.steps.iter().enumerate() {
        for (n, act) in step.acts.iter().enumerate() {
            if let Act::Measure(m) = act {
                limit(p, m, &sight.act(at, n), findings);
            }
        }
    }
}

/// The limits of a measurement that others count from; `None` where it counts from another itself.
fn measured(p: &Procedure, from: MeasureIx) -> Option<(&Bounds, &str)> {
    let named = p.named.get(from.0)?;
    match p.steps.get(named.step)?.acts.get(named.act)? {
        Act::Measure(m) if m.from.is_none() => Some((&m.limits, &named.what)),
        _ => None,
    }
}

/// What a torque comes to at both ends, where it is one at both.
fn torque(
    text: &Text,
    from: Option<(&Bounds, &str)>,
    by: &Limits<Torque>,
    findings: &mut Vec<Finding>,
) -> Option<Limits<Torque>> {
    let (bounds, what) = from?;
    let with = |end: Option<Quantity>, by: Torque| match end {
        Some(Quantity::Torque(end)) => Some(Torque::new(end.in_unit(by.unit).amount.checked_add(by.amount)?, by.unit)),
        _ => None,
    };
    let (low, high) = (with(bounds.least, by.low()), with(bounds.most, by.high()));
    // Where even the largest is none, that says most.
    let none = |torque: &Torque| torque.amount <= Decimal::ZERO;
    let ends = [(high.filter(none), bounds.most), (low.filter(none), bounds.least)];
    if let Some((_, Some(end))) = ends.into_iter().find(|(none, _)| none.is_some()) {
        let said = format!("with {end} of \"{what}\", \"{}\" leaves no torque to tighten to", text.value);
        findings.push(below(text.span.clone(), said));
        return None;
    }
    match (low?, high?) {
        (low, high) if low < high => Some(Limits::Window { low, high }),
        (low, _) => Some(Limits::Exactly(low)),
    }
}

/// Says so if a limit lies below nothing whatever is measured.
fn limit(p: &Procedure, m: &Measurement, span: &Range<usize>, findings: &mut Vec<Finding>) {
    let (Some(from), Some(by)) = (m.from, m.limits.most.or(m.limits.least)) else { return };
    if by.kind().may_be_negative() {
        return;
    }
    let terms = [Term { of: from, less: false }].into_iter().chain(m.more.iter().copied());
    let most = terms.into_iter().try_fold(by.amount(), |sum, term| {
        let (bounds, _) = measured(p, term.of)?;
        let end = if term.less { bounds.least } else { bounds.most };
        let end = end?.in_unit(by.unit())?.amount();
        if term.less { sum.checked_sub(end) } else { sum.checked_add(end) }
    });
    if let Some(most) = most.filter(|most| *most < Decimal::ZERO) {
        let most = Quantity::new(most.normalize(), by.unit());
        findings.push(below(span.clone(), format!("whatever is measured, this comes to {most} or less")));
    }
}

fn below(span: Range<usize>, said: String) -> Finding {
    Finding::new(
        Code::SumBelowZero,
        span,
        said,
        "Compare every sign and digit of the sum, and those limits, with the source",
    )
}
