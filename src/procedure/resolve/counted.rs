//! Values that count from a measurement taken before: "drag + 1.1 N·m", "gap - 0.03 mm", "drag" by itself.
//!
//! Which measurement it is, and whether the two can be added, is found out here. Whether it is taken before it is needed is for
//! `check` to say, and what comes out of it for the job.

use super::{Resolver, What};
use crate::procedure::code::Code;
use crate::procedure::model::{MeasureIx, Named, Procedure};
use crate::procedure::written::{self, Text, Written};
use crate::procedure::{Act, Measurement};
use crate::quantity::{Limits, Quantity, Torque, Unit};
use rust_decimal::Decimal;

/// A value as it is written, taken apart.
struct Counted<'t> {
    name: &'t str,
    less: bool,
    /// What is added; nothing where the name stands by itself.
    by: Option<&'t str>,
}

fn counted(text: &str) -> Option<Counted<'_>> {
    let text = text.trim();
    let id = |name: &str| {
        name.starts_with(|c: char| c.is_ascii_lowercase())
            && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
    };
    let split = [(" + ", false), (" - ", true), (" − ", true)].into_iter();
    let split = split.filter_map(|(sign, less)| text.split_once(sign).map(|(name, by)| (name.trim(), less, by.trim())));
    match split.min_by_key(|(name, ..)| name.len()) {
        Some((name, less, by)) => id(name).then_some(Counted { name, less, by: Some(by) }),
        None => id(text).then_some(Counted { name: text, less: false, by: None }),
    }
}

/// Measurements that have a name, in the order of the file.
pub(super) fn named(written: &Written) -> impl Iterator<Item = (&Text, &written::Act)> {
    let acts = written.step.iter().flat_map(|step| step.acts.iter().map(|act| &act.value));
    acts.filter(|act| act.measure.is_some()).filter_map(|act| Some((act.name.as_deref()?, act)))
}

/// The unit that readings of a measurement are held against; what cannot be read is reported where it is resolved.
pub(super) fn unit(act: &written::Act) -> Option<Unit> {
    let of_limit = |text: &Text| {
        let by = counted(text).map_or(Some(text.as_str()), |counted| counted.by)?;
        Some(by.parse::<Quantity>().ok()?.unit())
    };
    let limit = act.most.as_deref().or(act.least.as_deref()).and_then(of_limit);
    limit.or_else(|| act.unit.as_ref()?.parse().ok())
}

/// Where each named measurement is taken.
pub(super) fn taken(procedure: &Procedure, written: &Written) -> Vec<Named> {
    let find = |ix: usize| {
        procedure.steps.iter().enumerate().find_map(|(step, this)| {
            let is = |act: &Act| matches!(act, Act::Measure(Measurement { name: Some(name), .. }) if name.0 == ix);
            Some((step, this.acts.iter().position(is)?))
        })
    };
    let entry = |(ix, (id, act)): (usize, (&Text, &written::Act))| {
        let (step, at) = find(ix)?;
        let what = act.measure.as_ref().map(|what| what.value.clone()).unwrap_or_default();
        Some(Named { id: id.value.clone(), what, step, act: at })
    };
    named(written).enumerate().filter_map(entry).collect()
}

impl Resolver<'_, '_> {
    /// A limit of a measurement, and which one it counts from.
    pub(super) fn limit(&mut self, text: &Text) -> Option<(Option<MeasureIx>, Quantity)> {
        let Some(Counted { name, less, by }) = counted(text) else {
            return Some((None, self.read(text)?));
        };
        let from = self.find(What::Measurement, &part(text, name))?;
        let by = match by {
            Some(by) => self.read::<Quantity>(&part(text, by))?,
            None => Quantity::new(Decimal::ZERO, self.measured_in.get(from).copied().flatten()?),
        };
        self.same_kind(text, from, by.unit())?;
        let by = if less { Quantity::new(-by.amount(), by.unit()) } else { by };
        Some((Some(MeasureIx(from)), by))
    }

    /// The torque of a stage, and which measurement it counts from.
    pub(super) fn torque(&mut self, text: &Text) -> Option<(Option<MeasureIx>, Limits<Torque>)> {
        let Some(Counted { name, less, by }) = counted(text) else {
            return Some((None, self.limits(text)?));
        };
        let from = self.find(What::Measurement, &part(text, name))?;
        let (Some(by), false) = (by, less) else {
            let right = "Write what the source adds to it, such as \"drag + 25 N·m\"";
            self.report(Code::ValueUnreadable, text.span.clone(), format!("\"{}\" adds nothing", text.value), right);
            return None;
        };
        let limits: Limits<Torque> = self.limits(&part(text, by))?;
        self.same_kind(text, from, Unit::Torque(limits.low().unit))?;
        Some((Some(MeasureIx(from)), limits))
    }

    fn same_kind(&mut self, text: &Text, from: usize, unit: Unit) -> Option<()> {
        // What has no unit was reported.
        let measured = self.measured_in.get(from).copied().flatten()?;
        if measured.kind() == unit.kind() {
            return Some(());
        }
        let what = format!("\"{}\" adds a {} to a {}", text.value, unit.kind(), measured.kind());
        let right = format!("Write what is added in {measured}, or name another measurement");
        self.report(Code::MeasureKind, text.span.clone(), what, right);
        None
    }
}

/// A part of a text, told of in its place.
fn part(text: &Text, value: &str) -> Text {
    Text { value: value.to_owned(), span: text.span.clone() }
}
