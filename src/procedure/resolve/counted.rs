//! Values that count from measurements taken before: "drag + 1.1 N·m", "old-shim + gap - 0.25 mm", "drag" by itself.
//!
//! Which measurement it is, and whether the two can be added, is found out here. Whether it is taken before it is needed is for
//! `check` to say, and what comes out of it for the job.

use super::{Resolver, What};
use crate::procedure::code::Code;
use crate::procedure::model::{MeasureIx, Named, Procedure, Term};
use crate::procedure::written::{self, Text, Written};
use crate::procedure::{Act, Measurement};
use crate::quantity::{Kind, Limits, Quantity, Torque, Unit};
use rust_decimal::Decimal;
use std::collections::HashMap;

/// A value as it is written, taken apart.
struct Counted<'t> {
    name: &'t str,
    /// Further names, and whether each is taken away.
    more: Vec<(&'t str, bool)>,
    less: bool,
    /// What is added; nothing where only names stand there.
    by: Option<&'t str>,
}

fn counted(text: &str) -> Option<Counted<'_>> {
    let id = |name: &str| {
        name.starts_with(|c: char| c.is_ascii_lowercase())
            && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
    };
    let mut counted = Counted { name: "", more: Vec::new(), less: false, by: None };
    let (mut rest, mut minus) = (text.trim(), false);
    loop {
        let signs = [(" + ", false), (" - ", true), (" − ", true)].into_iter();
        let next = signs.filter_map(|(sign, less)| Some((rest.find(sign)?, sign.len(), less))).min();
        let part = next.map_or(rest, |(at, ..)| &rest[..at]).trim();
        match (counted.name.is_empty(), id(part), counted.by) {
            (true, true, _) => counted.name = part,
            (false, true, _) => counted.more.push((part, minus)),
            (false, false, None) => (counted.by, counted.less) = (Some(part), minus),
            // It begins with no name, or adds two values, which the author can add up.
            _ => return None,
        }
        let Some((at, length, less)) = next else { return Some(counted) };
        (rest, minus) = (&rest[at + length..], less);
    }
}

/// What is added to a measurement in a value that counts from one, and whether it is taken away; the value itself where it counts
/// from none. `None` where only names stand there.
pub(crate) fn added(text: &str) -> Option<(&str, bool)> {
    match counted(text) {
        Some(Counted { by, less, .. }) => Some((by?, less)),
        None => Some((text.trim(), false)),
    }
}

/// The first measurement that a value counts from, if it counts from one.
pub(crate) fn base(text: &str) -> Option<&str> {
    counted(text).map(|counted| counted.name)
}

/// Measurements that have a name, in the order of the file.
pub(crate) fn named(written: &Written) -> impl Iterator<Item = (&Text, &written::Act)> {
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
    let mut places: HashMap<usize, (usize, usize)> = HashMap::new();
    for (step, this) in procedure.steps.iter().enumerate() {
        for (at, act) in this.acts.iter().enumerate() {
            if let Act::Measure(Measurement { name: Some(name), .. }) = act {
                places.entry(name.0).or_insert((step, at));
            }
        }
    }
    let entry = |(ix, (id, act)): (usize, (&Text, &written::Act))| {
        let (step, at) = places.get(&ix).copied()?;
        let what = act.measure.as_ref().map(|what| what.value.clone()).unwrap_or_default();
        Some(Named { id: id.value.clone(), what, step, act: at })
    };
    named(written).enumerate().filter_map(entry).collect()
}

impl Resolver<'_, '_> {
    /// A limit of a measurement, and which ones it counts from. `kind`: that of its other limit, if that can be read.
    pub(super) fn limit(&mut self, text: &Text, kind: Option<Kind>) -> Option<(Vec<Term>, Quantity)> {
        let Some(Counted { name, more, less, by }) = counted(text) else {
            return Some((Vec::new(), self.amount(text, kind)?));
        };
        let names = [(name, false)].into_iter().chain(more);
        let terms: Vec<Term> = names
            .filter_map(|(name, less)| {
                let of = self.find(What::Measurement, &part(text, name))?;
                Some(Term { of: MeasureIx(of), less })
            })
            .collect();
        let first = terms.first()?.of.0;
        let by = match by {
            Some(by) => self.amount(&part(text, by), kind)?,
            None => Quantity::new(Decimal::ZERO, self.measured_in.get(first).copied().flatten()?),
        };
        for term in &terms {
            self.same_kind(text, term.of.0, by.unit())?;
        }
        let by = if less { Quantity::new(-by.amount(), by.unit()) } else { by };
        Some((terms, by))
    }

    /// The torque of a stage, and which measurement it counts from.
    pub(super) fn torque(&mut self, text: &Text) -> Option<(Option<MeasureIx>, Limits<Torque>)> {
        let Some(Counted { name, more, less, by }) = counted(text) else {
            return Some((None, self.limits(text)?));
        };
        let from = self.find(What::Measurement, &part(text, name))?;
        let (Some(by), true) = (by, more.is_empty()) else {
            let right = "Write one measurement and what the source adds to it or takes away, such as \"drag + 25 N·m\"";
            let what = format!("\"{}\" is no torque that counts from a measurement", text.value);
            self.report(Code::ValueUnreadable, text.span.clone(), what, right);
            return None;
        };
        let limits: Limits<Torque> = self.limits(&part(text, by))?;
        self.same_kind(text, from, Unit::Torque(limits.low().unit))?;
        let minus = |torque: Torque| Torque::new(-torque.amount, torque.unit);
        let limits = match (less, limits) {
            (false, limits) => limits,
            (true, Limits::Exactly(by)) => Limits::Exactly(minus(by)),
            (true, Limits::Window { low, high }) => Limits::Window { low: minus(high), high: minus(low) },
        };
        Some((Some(MeasureIx(from)), limits))
    }

    /// An amount; one that cannot be read is told of with the units of its kind alone, where that is known.
    fn amount(&mut self, text: &Text, kind: Option<Kind>) -> Option<Quantity> {
        match kind.map(|kind| Quantity::of(kind, text)) {
            Some(Err(error)) if text.parse::<Quantity>().is_err() => {
                self.unreadable(text, &error);
                None
            }
            _ => self.read(text),
        }
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
