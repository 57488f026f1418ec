//! Values that cannot be right, and values that nothing guards.

use super::Sight;
use super::also::{What, agree};
use super::thread::{Class, Thread};
use crate::procedure::code::Code;
use crate::procedure::finding::Finding;
use crate::procedure::shape::list;
use crate::procedure::written::{self, Fastener, Spot, Text};
use crate::quantity::{Angle, AngleUnit, Limits, Quantity, Torque, TorqueUnit};
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
    /// Is it locked in its end state, so that it need not be tight?
    pub locked: bool,
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
        let valued = [&stage.torque, &stage.angle, &stage.back_off, &stage.slot].into_iter().any(Option::is_some);
        if valued && stage.source.is_none() && f.source.is_none() {
            let right = "Write source = \"page …\" in the fastener or the stage";
            findings.push(Finding::new(Code::SourceMissing, stage.span.clone(), "the value has no source", right));
        }
    }
    let (thread, class) = (f.thread.as_ref(), f.class.as_ref());
    programme(&Programme { name: &f.id, thread, class, stages, locked: f.lock.is_some() }, findings);
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
    falls(stages, findings);
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
        if let Some(text) = &stage.slot {
            angle(text, findings);
            if let Some(next) = stages.get(ix + 1) {
                let what = format!("a stage follows the one that turns to a slot, \"{}\"", text.value);
                let right = "Make the turn to the slot the last stage, as the lock goes in then";
                findings.push(Finding::new(Code::SlotNotLast, next.span.clone(), what, right));
            } else if !p.locked {
                let what = format!("\"{}\" is turned to a slot, and nothing locks it there", p.name);
                let right =
                    "Write what goes into the slot (lock = \"…\") and the act that puts it in, as the source has it";
                findings.push(Finding::new(Code::FastenerUnlocked, stage.span.clone(), what, right));
            }
        }
        if let Some((text, value)) = stage.torque.as_ref().zip(torque(stage)) {
            // What turns a thing, rather than tightens it, may well be next to nothing.
            let newton_metre = Torque::new(Decimal::ONE, TorqueUnit::NewtonMetre);
            if value.low() >= newton_metre {
                wide(text, value.low().approximate(), value.high().approximate(), WINDOW_TIMES, findings);
                if value.is_window() && narrow(value.low().approximate(), value.high().approximate()) {
                    too_narrow(text.span.clone(), &text.value, findings);
                }
            }
        }
        if let (Some(text), Some(value)) = (&stage.torque, torque(stage)) {
            // What an angle, or a loosening, comes after only seats the joint, and so does all but the last pass.
            let snug = stages.iter().skip(ix + 1).any(|s| s.torque.is_some() || s.angle.is_some());
            plausible(text, &value, thread, class, snug, findings);
            match &stage.also {
                Some(also) => {
                    if let Ok(other) = also.parse::<Limits<Torque>>() {
                        let quantity = |limits: Limits<Torque>| limits.map(Quantity::Torque);
                        agree((text, &quantity(value)), (also, &quantity(other)), What::Size, findings);
                    }
                }
                None if thread.is_none() => {
                    let right = "Write the torque in a second unit as the source has it (also = \"…\"), or the thread and class";
                    let what = format!("nothing guards \"{}\" against a typing error", text.value);
                    findings.push(Finding::new(Code::TorqueUnguarded, text.span.clone(), what, right));
                }
                None => {}
            }
        }
        // After an angle the joint stays seated; after loosening it does not.
        seated = stage.torque.is_some() || (seated && (stage.angle.is_some() || stage.slot.is_some()));
    }
    let slack = |s: &Spot<written::Stage>| s.slacken.as_ref().is_some_and(|s| s.value);
    if let Some(last) = stages.last().filter(|s| s.back_off.is_some() && !p.locked || slack(s)) {
        let right = "Write the stage that tightens it again, or what locks it so (lock = \"…\"), as the source has it";
        let what = format!("the programme of \"{}\" ends loosened", p.name);
        findings.push(Finding::new(Code::FinishLoose, last.span.clone(), what, right));
    }
}

/// A torque below the one before it, with nothing loosened between.
fn falls(stages: &[Spot<written::Stage>], findings: &mut Vec<Finding>) {
    let mut reached: Option<(&Text, Torque)> = None;
    for stage in stages {
        if stage.back_off.is_some() || stage.slacken.as_ref().is_some_and(|s| s.value) {
            reached = None;
        }
        let Some(text) = &stage.torque else { continue };
        let Ok(value) = text.parse::<Limits<Torque>>() else { continue };
        if let Some((before, least)) = reached
            && value.high() < least
        {
            let what = format!("\"{}\" comes after \"{}\", and nothing is loosened between", text.value, before.value);
            let right = "Compare both with the source, or write the \"back_off\" or \"slacken\" between them";
            let finding = Finding::new(Code::TorqueFalls, text.span.clone(), what, right);
            findings.push(finding.with(before.span.clone(), "the torque before it"));
        }
        reached = Some((text, value.low()));
    }
}

/// How many times its low end a window of a stage goes up to.
const WINDOW_TIMES: f64 = 6.0;

/// What part of its high end a window is across at the least: a wrench that is good to two in a hundred is a good one.
const NARROWEST: f64 = 0.005;

/// Is a window of these ends narrower than anything is set or read?
pub(super) fn narrow(low: f64, high: f64) -> bool {
    low > 0.0 && high - low < high * NARROWEST
}

pub(super) fn too_narrow(span: std::ops::Range<usize>, window: &str, findings: &mut Vec<Finding>) {
    let what = format!("\"{window}\" leaves next to no room between its ends");
    let right = "Compare both ends with the source, digit by digit";
    findings.push(Finding::new(Code::WindowNarrow, span, what, right));
}

/// A window whose high end is so many times its low end was not printed so.
pub(super) fn wide(text: &Text, low: f64, high: f64, times: f64, findings: &mut Vec<Finding>) {
    if low > 0.0 && high > low * times {
        let what = format!("\"{}\" goes up to {:.0} times its low end", text.value, high / low);
        let right = "Compare both ends with the source, digit by digit";
        findings.push(Finding::new(Code::WindowWide, text.span.clone(), what, right));
    }
}

fn angle(text: &Text, findings: &mut Vec<Finding>) {
    let whole_turn = Angle::new(Decimal::from(360), AngleUnit::Degree);
    if let Ok(value) = text.parse::<Limits<Angle>>() {
        wide(text, value.low().approximate(), value.high().approximate(), WINDOW_TIMES, findings);
    }
    if text.parse::<Limits<Angle>>().is_ok_and(|value| value.high() > whole_turn) {
        let what = format!("\"{}\" is more than a whole turn", text.value);
        findings.push(Finding::new(Code::AngleImplausible, text.span.clone(), what, "Compare it with the source"));
    }
}

/// No fastener of a vehicle is tightened to so many newton metres, whatever its thread: wheel and hub nuts of the heaviest stay
/// far below.
const ANY_TORQUE: f64 = 10_000.0;

/// Says so if a torque does not go with its thread; of one without, if no fastener is tightened to so much.
pub(super) fn plausible(
    text: &Text,
    value: &Limits<Torque>,
    thread: Option<Thread>,
    class: Option<Class>,
    snug: bool,
    findings: &mut Vec<Finding>,
) {
    let (low, high) = (value.low().approximate(), value.high().approximate());
    let Some(thread) = thread else {
        if high > ANY_TORQUE {
            let what = format!("\"{}\" is more than any fastener of a vehicle is tightened to", text.value);
            let right = "Compare number and unit with the source, digit by digit";
            findings.push(Finding::new(Code::TorqueImplausible, text.span.clone(), what, right));
        }
        return;
    };
    let (least, most) = thread.plausible(class, snug);
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
