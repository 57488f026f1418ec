//! Limits of measurements: windows that decide nothing or let nothing pass, limits far off from their like, two of one
//! measurement that contradict each other.
//!
//! Knows the values as written. What counts from a measurement has no value yet, and is left alone.

use super::Sight;
use super::also::{What, agree};
use super::values::{narrow, too_narrow, wide};
use crate::procedure::code::Code;
use crate::procedure::finding::Finding;
use crate::procedure::resolve::added;
use crate::procedure::written::{Act, Text};
use crate::quantity::{Kind, Limits, Quantity};
use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::collections::hash_map::{Entry, HashMap};

/// A limit where it stands, and its value.
type Limit<'a> = (&'a Text, Quantity);

/// A measurement with limits.
struct Measured<'a> {
    what: &'a str,
    /// The variant of the vehicle that it is for, if not for all.
    only: Option<&'a str>,
    least: Option<Limit<'a>>,
    most: Option<Limit<'a>>,
}

pub(super) fn check(sight: &Sight<'_>, findings: &mut Vec<Finding>) {
    let mut all = Vec::new();
    for step in &sight.written.step {
        let only = step.only.as_ref().map(|only| only.value.as_str());
        all.extend(step.acts.iter().filter_map(|act| measured(&act.value, only)));
        step.acts.iter().for_each(|act| second_unit(&act.value, findings));
    }
    for measured in &all {
        window(measured, findings);
    }
    apart(&all, findings);
    far(all.iter().filter_map(|m| m.least), false, findings);
    far(all.iter().filter_map(|m| m.most), true, findings);
}

fn measured<'a>(act: &'a Act, only: Option<&'a str>) -> Option<Measured<'a>> {
    let what = act.measure.as_ref()?.value.as_str();
    let limit = |text: Option<&'a Text>| text.and_then(|text| Some((text, text.parse::<Quantity>().ok()?)));
    let (least, most) = (limit(act.least.as_deref()), limit(act.most.as_deref()));
    (least.is_some() || most.is_some()).then_some(Measured { what, only, least, most })
}

/// Are the limits in a second unit the same limits?
fn second_unit(act: &Act, findings: &mut Vec<Finding>) {
    let Some((also, text)) = act.also.as_deref().zip(act.least.as_deref().or(act.most.as_deref())) else { return };
    let read = |limit: &Text| {
        let (by, less) = added(limit)?;
        let by = by.parse::<Quantity>().ok()?;
        Some(if less { Quantity::new(-by.amount(), by.unit()) } else { by })
    };
    let ends: Vec<&Text> = act.least.as_deref().into_iter().chain(act.most.as_deref()).collect();
    let Some(read) = ends.iter().map(|end| read(end)).collect::<Option<Vec<Quantity>>>() else { return };
    let counts = ends.iter().any(|end| added(end).is_some_and(|(by, _)| by != end.trim()));
    // What is taken away is printed as what it is, the smaller number first.
    let less = counts && read.iter().all(|end| end.amount().is_sign_negative());
    let turned = |end: &Quantity| Quantity::new(-end.amount(), end.unit());
    let read: Vec<Quantity> = if less { read.iter().rev().map(turned).collect() } else { read };
    let value = match read[..] {
        [low, high] if low < high => Limits::Window { low, high },
        [value, ..] => Limits::Exactly(value),
        [] => return,
    };
    if let Ok(other) = Quantity::limits(value.low().kind(), also) {
        let what = if counts { What::Step } else { What::Size };
        agree((text, &value), (also, &other), what, findings);
    }
}

/// How many times its low end the limits of a measurement go up to: a float may be a hundredth to a tenth.
const LIMITS_TIMES: f64 = 10.0;

/// Kinds of which the ends may well lie further apart, since they change by powers of ten, or since nought is no nothing.
fn goes_far(kind: Kind) -> bool {
    matches!(kind, Kind::Temperature | Kind::Resistance | Kind::Current | Kind::Percentage)
}

/// Kinds of which a window may be as narrow as can be measured: fits, weights, shares.
fn is_fine(kind: Kind) -> bool {
    matches!(kind, Kind::Length | Kind::Mass | Kind::Temperature | Kind::Percentage)
}

fn window(measured: &Measured<'_>, findings: &mut Vec<Finding>) {
    let (Some((first, low)), Some((text, high))) = (measured.least, measured.most) else { return };
    // Ends of two units, or the wrong way round, are told of by whoever reads them.
    if low.unit() != high.unit() || low > high {
        return;
    }
    if !goes_far(high.kind()) {
        wide(text, low.approximate(), high.approximate(), LIMITS_TIMES, findings);
    }
    if low == high || !is_fine(high.kind()) && narrow(low.approximate(), high.approximate()) {
        too_narrow(text.span.clone(), &format!("{} to {}", first.value, text.value), findings);
    }
}

/// Two measurements of one thing, of which no reading lies within both.
fn apart(all: &[Measured<'_>], findings: &mut Vec<Finding>) {
    let mut first: HashMap<String, &Measured<'_>> = HashMap::new();
    for later in all {
        let earlier = match first.entry(later.what.to_lowercase()) {
            Entry::Vacant(free) => {
                free.insert(later);
                continue;
            }
            Entry::Occupied(earlier) => *earlier.get(),
        };
        // What differs from vehicle to vehicle may well differ.
        if earlier.only != later.only && earlier.only.is_some() && later.only.is_some() {
            continue;
        }
        let below = |low: Option<Limit<'_>>, high: Option<Limit<'_>>| {
            low.zip(high).is_some_and(|((_, low), (_, high))| high.partial_cmp(&low) == Some(Ordering::Less))
        };
        let (told, other) = if below(earlier.least, later.most) {
            (later.most, earlier.least)
        } else if below(later.least, earlier.most) {
            (later.least, earlier.most)
        } else {
            continue;
        };
        if let (Some((text, _)), Some((other, _))) = (told, other) {
            let what = format!("\"{}\" and \"{}\" are limits of the same measurement", text.value, other.value);
            let right = "Compare both with the source; what is another measurement has another name";
            let finding = Finding::new(Code::LimitsApart, text.span.clone(), what, right);
            findings.push(finding.with(other.span.clone(), "the other limit"));
        }
    }
}

/// So many other limits there have to be before one is held against them, each another value.
const LIKE: usize = 3;
/// How far these may lie from each other, and how far one of their kind lies from all of them that is told of.
const LIKE_TIMES: f64 = 2.0;
const FAR_TIMES: f64 = 5.0;

/// A limit far off from all others of its kind on the same side, which lie close to each other. What must not be more may
/// well be far less than the others: a loss, a leak.
fn far<'a>(limits: impl Iterator<Item = Limit<'a>>, most: bool, findings: &mut Vec<Finding>) {
    let mut kinds: BTreeMap<Kind, Vec<(f64, &Text)>> = BTreeMap::new();
    for (text, value) in limits.filter(|(_, value)| !value.kind().has_own_nought() && value.approximate() > 0.0) {
        kinds.entry(value.kind()).or_default().push((value.approximate(), text));
    }
    for mut values in kinds.into_values() {
        values.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut distinct: Vec<f64> = values.iter().map(|(value, _)| *value).collect();
        distinct.dedup();
        if let [others @ .., last] = distinct.as_slice()
            && let [low, .., high] = others
            && others.len() >= LIKE
            && *high <= low * LIKE_TIMES
            && *last > high * FAR_TIMES
        {
            told(&values, *last, findings);
        }
        if let [first, others @ ..] = distinct.as_slice()
            && let [low, .., high] = others
            && !most
            && others.len() >= LIKE
            && *high <= low * LIKE_TIMES
            && *first < low / FAR_TIMES
        {
            told(&values, *first, findings);
        }
    }
}

fn told(values: &[(f64, &Text)], far: f64, findings: &mut Vec<Finding>) {
    for (_, text) in values.iter().filter(|(value, _)| *value == far) {
        let what = format!("\"{}\" is far off from all other limits of its kind in the file", text.value);
        let right = "Compare number and unit with the source, digit by digit";
        findings.push(Finding::new(Code::LimitsFar, text.span.clone(), what, right));
    }
}
