//! Values that cannot be right, and values that nothing guards.

use super::Sight;
use super::thread::{Class, Thread};
use crate::procedure::code::Code;
use crate::procedure::finding::Finding;
use crate::procedure::shape::list;
use crate::procedure::written::{self, Fastener, Spot, Text};
use crate::quantity::{Angle, AngleUnit, Limits, Torque, TorqueUnit};
use rust_decimal::Decimal;

pub(super) fn check(sight: &Sight<'_>, findings: &mut Vec<Finding>) {
    for fastener in &sight.written.fastener {
        self::fastener(fastener, findings);
    }
    for step in &sight.written.step {
        for act in step.acts.iter().filter(|a| a.measure.is_some()) {
            if act.source.is_none() && step.source.is_none() && (act.least.is_some() || act.most.is_some()) {
                let right = "Write source = \"page …\" in the measurement or the step";
                findings.push(Finding::new(Code::SourceMissing, act.span.clone(), "the limits have no source", right));
            }
        }
    }
}

/// What is tightened by stages: a fastener of a procedure, or an entry of a page of values.
pub(crate) struct Programme<'a> {
    /// What it is called in a finding.
    pub name: &'a str,
    pub thread: Option<&'a Text>,
    pub class: Option<&'a Text>,
    pub stages: &'a [Spot<written::Stage>],
}

fn fastener(f: &Fastener, findings: &mut Vec<Finding>) {
    if f.single_use && f.over == written::Over::Restart {
        let what = format!("\"{}\" is single-use and would be used again when it was tightened too far", f.id.value);
        findings.push(Finding::new(Code::OverSingleUse, f.id.span.clone(), what, "Write over = \"renew\""));
    }
    let stages: &[_] = f.stages.as_ref().map_or(&[], |stages| stages.value.as_slice());
    if f.preparation.is_none() && stages.iter().any(|s| s.torque.is_some()) {
        let what = format!("fastener \"{}\" has a torque and no \"preparation\"", f.id.value);
        let right = "Write the state of the thread, such as preparation = \"clean and dry\", as the source has it";
        findings.push(Finding::new(Code::PreparationMissing, f.id.span.clone(), what, right));
    }
    for stage in stages {
        let valued = stage.torque.is_some() || stage.angle.is_some() || stage.back_off.is_some();
        if valued && stage.source.is_none() && f.source.is_none() {
            let right = "Write source = \"page …\" in the fastener or the stage";
            findings.push(Finding::new(Code::SourceMissing, stage.span.clone(), "the value has no source", right));
        }
    }
    let (thread, class) = (f.thread.as_ref(), f.class.as_ref());
    programme(&Programme { name: &f.id, thread, class, stages }, findings);
}

/// Can the values be right, and does anything guard them?
pub(crate) fn programme(p: &Programme<'_>, findings: &mut Vec<Finding>) {
    let stages = p.stages;
    let thread = p.thread.and_then(|t| Thread::read(t));
    let class = p.class.and_then(|c| Class::read(c));
    if let (Some(text), None) = (p.thread, thread) {
        let what = format!("\"{}\" is not read as a metric thread", text.value);
        let right = "Write diameter and pitch, such as \"M12 x 1.5\"; leave another kind of thread as it is";
        findings.push(Finding::new(Code::ThreadUnreadable, text.span.clone(), what, right));
    }
    if let (Some(text), None) = (p.class, class) {
        let what = format!("\"{}\" is not a property class known here", text.value);
        let right = format!("The classes of ISO 898-1 are {}", list(Class::all()));
        findings.push(Finding::new(Code::ThreadUnreadable, text.span.clone(), what, right));
    }
    let torque = |stage: &Spot<written::Stage>| stage.torque.as_ref().and_then(|t| t.parse::<Limits<Torque>>().ok());
    let mut seated = false;
    for (ix, stage) in stages.iter().enumerate() {
        if let Some(text) = &stage.angle {
            angle(text, findings);
            if !seated && stage.torque.is_none() {
                let what = format!("the angle \"{}\" has no torque stage before it", text.value);
                let right = "Write the torque that seats the joint as a stage before it, as the source has it";
                findings.push(Finding::new(Code::AngleNoSnug, text.span.clone(), what, right));
            }
        }
        if let Some(text) = &stage.back_off {
            angle(text, findings);
        }
        if let (Some(text), Some(value)) = (&stage.torque, torque(stage)) {
            // What an angle, or a loosening, comes after only seats the joint, and so does all but the last pass.
            let snug = stages.iter().skip(ix + 1).any(|s| s.torque.is_some() || s.angle.is_some());
            plausible(text, &value, thread, class, snug, findings);
            match &stage.also {
                Some(also) => agree(text, &value, also, findings),
                None if thread.is_none() => {
                    let right = "Write the torque in a second unit as the source has it (also = \"…\"), or the thread and class";
                    let what = format!("nothing guards \"{}\" against a typing error", text.value);
                    findings.push(Finding::new(Code::TorqueUnguarded, text.span.clone(), what, right));
                }
                None => {}
            }
        }
        // After an angle the joint stays seated; after loosening it does not.
        seated = stage.torque.is_some() || (seated && stage.angle.is_some());
    }
    if let Some(last) = stages.last().filter(|s| s.back_off.is_some() || s.slacken.as_ref().is_some_and(|s| s.value)) {
        let right = "Write the stage that tightens it again, as the source has it";
        let what = format!("the programme of \"{}\" ends loosened", p.name);
        findings.push(Finding::new(Code::FinishLoose, last.span.clone(), what, right));
    }
}

fn angle(text: &Text, findings: &mut Vec<Finding>) {
    let whole_turn = Angle::new(Decimal::from(360), AngleUnit::Degree);
    if text.parse::<Limits<Angle>>().is_ok_and(|value| value.high() > whole_turn) {
        let what = format!("\"{}\" is more than a whole turn", text.value);
        findings.push(Finding::new(Code::AngleImplausible, text.span.clone(), what, "Compare it with the source"));
    }
}

fn plausible(
    text: &Text,
    value: &Limits<Torque>,
    thread: Option<Thread>,
    class: Option<Class>,
    snug: bool,
    findings: &mut Vec<Finding>,
) {
    let Some(thread) = thread else { return };
    let (least, most) = thread.plausible(class, snug);
    let (low, high) = (value.low().approximate(), value.high().approximate());
    if low < least || high > most {
        let side = if low < least { "little" } else { "much" };
        let what = format!(
            "\"{}\" is too {side} for this thread{}",
            text.value,
            if class.is_some() { " and class" } else { "" }
        );
        let right = format!(
            "Compare number and unit with the source. By proof stress (ISO 898-1) and friction from 0.08 to 0.20, {least:.0} to \
             {most:.0} N·m would be plausible",
        );
        findings.push(Finding::new(Code::TorqueImplausible, text.span.clone(), what, right));
    }
}

/// Are the two the same value, but for the rounding of both?
fn agree(text: &Text, value: &Limits<Torque>, also: &Text, findings: &mut Vec<Finding>) {
    let Ok(other) = also.parse::<Limits<Torque>>() else {
        return;
    };
    if !in_two_units(value, &other) {
        let unit = other.low().unit;
        let shown = value.map(|t| {
            let t = t.in_unit(unit);
            Torque::new(t.amount.round_dp(other.low().amount.scale().max(1)).normalize(), t.unit)
        });
        let what = format!("\"{}\" is {shown}, and \"also\" says \"{}\"", text.value, also.value);
        let right = "Compare both with the source, and write both as it has them";
        findings.push(
            Finding::new(Code::AlsoDisagrees, also.span.clone(), what, right).with(text.span.clone(), "this value"),
        );
    }
}

/// Is it one value in two units, but for the rounding of both?
pub(crate) fn in_two_units(one: &Limits<Torque>, other: &Limits<Torque>) -> bool {
    one.is_window() == other.is_window() && same(one.low(), other.low()) && same(one.high(), other.high())
}

fn same(a: Torque, b: Torque) -> bool {
    let half =
        |t: Torque| Torque::new(Decimal::new(5, t.amount.scale() + 1), t.unit).in_unit(TorqueUnit::NewtonMetre).amount;
    let (x, y) = (a.in_unit(TorqueUnit::NewtonMetre).amount, b.in_unit(TorqueUnit::NewtonMetre).amount);
    a.unit != b.unit && (x - y).abs() <= half(a) + half(b)
}
