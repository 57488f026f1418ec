//! From what is written to what is meant: references, values, patterns, acts.
//!
//! Everything is looked at, and everything that is wrong is reported. What cannot be made out is left out, so that the
//! checker can look at the rest; nobody else may see a procedure with findings.

mod acts;
mod branch;
mod counted;
pub(crate) mod fasten;
mod rounds;
mod stock;
mod time;
mod variants;

pub(crate) use counted::{added, base, named};

use super::code::Code;
use super::finding::Finding;
use super::model::*;
use super::shape::{list, nearest};
use super::written::{self, Spot, Text, Written};
use crate::quantity::Unit;
use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::ops::Range;

/// A procedure, and where in the text its acts stand.
pub(super) struct Resolved {
    pub procedure: Procedure,
    /// For each step the place of each of its acts; for a mirroring step that of its reference.
    pub act_spans: Vec<Vec<Range<usize>>>,
    /// Kinds of things of which a reference or an act could not be made out. What the checker would say about what
    /// becomes of them would be noise.
    pub gaps: Vec<What>,
}

/// The kinds of things that ids name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum What {
    Variant,
    Tool,
    Part,
    Condition,
    Support,
    Component,
    Connection,
    Fastener,
    Standing,
    Step,
    Measurement,
    Stock,
}

impl What {
    /// As the file calls it.
    fn word(self) -> &'static str {
        match self {
            What::Variant => "variant",
            What::Tool => "tool",
            What::Part => "part",
            What::Condition => "condition",
            What::Support => "support",
            What::Component => "component",
            What::Connection => "connection",
            What::Fastener => "fastener",
            What::Standing => "standing caution",
            What::Step => "step",
            What::Measurement => "measurement",
            What::Stock => "stock",
        }
    }
}

/// Everything that has an id, by id. An id is unique within its kind only; the other kinds are for hints.
struct Names<'a> {
    by_id: BTreeMap<What, HashMap<&'a str, (usize, &'a Text)>>,
    /// The same ids in the order of the file.
    listed: BTreeMap<What, Vec<&'a str>>,
}

/// So many ids are compared with references that lead nowhere, to say which was meant. A file with more to compare than
/// that has one mistake many times over, and would keep its author waiting for minutes.
const MOST_COMPARED: usize = 100_000;

/// What the passes below share.
struct Resolver<'a, 'f> {
    names: Names<'a>,
    findings: &'f mut Vec<Finding>,
    gaps: Vec<What>,
    /// Ids compared so far.
    compared: usize,
    /// Units of the named measurements.
    measured_in: Vec<Option<Unit>>,
    /// Where each of them is taken first: the step, and which of its acts.
    measured_at: HashMap<&'a str, (usize, usize)>,
    /// Measurements after which other steps are done if they lie outside their limits.
    leading: HashSet<String>,
    /// Units of the sizes at hand.
    stocked_in: Vec<Option<Unit>>,
}

pub(super) fn resolve(written: &Written, findings: &mut Vec<Finding>) -> Resolved {
    let names = Names { by_id: BTreeMap::new(), listed: BTreeMap::new() };
    let mut r = Resolver {
        names,
        findings,
        gaps: Vec::new(),
        compared: 0,
        measured_in: Vec::new(),
        measured_at: HashMap::new(),
        stocked_in: Vec::new(),
        leading: HashSet::new(),
    };
    r.name(What::Variant, written.variant.iter().map(|v| &v.id));
    r.name(What::Tool, written.tool.iter().map(|t| &t.id));
    r.name(What::Part, written.part.iter().map(|t| &t.id));
    r.name(What::Condition, written.condition.iter().map(|t| &t.id));
    r.name(What::Support, written.support.iter().map(|t| &t.id));
    r.name(What::Component, written.component.iter().map(|t| &t.id));
    r.name(What::Connection, written.connection.iter().map(|t| &t.id));
    r.name(What::Fastener, written.fastener.iter().map(|t| &t.id));
    r.name(What::Standing, written.standing.iter().map(|t| &t.id));
    r.name(What::Step, written.step.iter().map(|t| &t.id));
    r.name(What::Stock, written.stock.iter().map(|s| &s.id));
    r.name(What::Measurement, counted::named(written).map(|(id, _)| id));
    r.measured_in = counted::named(written).map(|(_, act)| counted::unit(act)).collect();
    for (at, step) in written.step.iter().enumerate() {
        let named = step.acts.iter().enumerate().filter(|(_, act)| act.measure.is_some());
        for (n, name) in named.filter_map(|(n, act)| Some((n, act.name.as_deref()?))) {
            r.measured_at.entry(name.as_str()).or_insert((at, n));
        }
    }
    r.id_form(&written.procedure.id);

    let text = |text: &Text| text.value.clone();
    let maybe = |text: &Option<Text>| text.as_ref().map(|t| t.value.clone());
    let fasteners = written.fastener.iter().map(|f| r.fastener(f)).collect::<Vec<_>>();
    let parts = written.part.iter().map(|p| Part {
        id: text(&p.id),
        name: text(&p.name),
        count: p.count.value,
        number: maybe(&p.number),
        renews: p.renews.as_ref().and_then(|id| r.find(What::Fastener, id)).map(FastenerIx),
        only: r.only(&p.only),
    });
    let parts = parts.collect();
    let components = written.component.iter().map(|c| Component {
        id: text(&c.id),
        name: text(&c.name),
        part: c.part.as_ref().and_then(|id| r.find(What::Part, id)).map(PartIx),
    });
    let components = components.collect();
    let standing = written.standing.iter().filter_map(|s| {
        let cause = r.cause(&s.cause)?;
        Some(StandingCaution { id: text(&s.id), caution: Caution { signal: s.signal, say: text(&s.say) }, cause })
    });
    let standing = standing.collect();
    r.leading = written.step.iter().filter_map(|step| Some(step.if_outside.as_ref()?.value.clone())).collect();
    let stocks = r.stocks(&written.stock);
    let (steps, act_spans) = r.steps(&written.step, &fasteners);
    let variants = r.variants(written, &steps);
    r.branches(written);
    r.due_later(written, &steps);
    let tools = written.tool.iter().map(|t| Tool {
        id: text(&t.id),
        name: text(&t.name),
        stand_in: maybe(&t.stand_in),
        only: r.only(&t.only),
    });
    let tools = tools.collect();
    if steps.is_empty() {
        r.report(Code::StepsMissing, 0..0, "the file has no steps", "Write at least one [[step]]");
    }

    let head = &written.procedure;
    let procedure = Procedure {
        id: text(&head.id),
        title: text(&head.title),
        vehicle: text(&head.vehicle),
        language: text(&head.language),
        revision: text(&head.revision),
        author: text(&head.author),
        source: Source {
            title: text(&written.source.title),
            edition: text(&written.source.edition),
            chapter: maybe(&written.source.chapter),
            note: maybe(&written.source.note),
        },
        variants,
        variant: None,
        tools,
        parts,
        consumables: written.consumables.iter().map(text).collect(),
        fasteners,
        supports: written.support.iter().map(|t| Support { id: text(&t.id), name: text(&t.name) }).collect(),
        components,
        connections: written.connection.iter().map(|t| Connection { id: text(&t.id), name: text(&t.name) }).collect(),
        conditions: written.condition.iter().map(|t| Condition { id: text(&t.id), name: text(&t.name) }).collect(),
        standing,
        steps,
        named: Vec::new(),
        stocks,
    };
    let named = counted::taken(&procedure, written);
    let procedure = Procedure { named, ..procedure };
    Resolved { procedure, act_spans, gaps: r.gaps }
}

impl<'a> Resolver<'a, '_> {
    fn report(&mut self, code: Code, span: Range<usize>, what: impl Into<String>, right: impl Into<String>) {
        self.findings.push(Finding::new(code, span, what, right));
    }

    /// Enters the ids of one kind.
    fn name(&mut self, what: What, ids: impl Iterator<Item = &'a Text>) {
        let mut named = HashMap::new();
        let mut listed = Vec::new();
        for (ix, id) in ids.enumerate() {
            // An entry without an id has been reported; it still counts, so that the others keep their places.
            if id.is_empty() {
                continue;
            }
            self.id_form(id);
            match named.entry(id.as_str()) {
                Entry::Vacant(free) => {
                    free.insert((ix, id));
                    listed.push(id.as_str());
                }
                Entry::Occupied(first) => {
                    let what = format!("there are two {}s with the id \"{}\"", what.word(), id.value);
                    let finding = Finding::new(Code::IdTwice, id.span.clone(), what, "Give one of them another id");
                    self.findings.push(finding.with(first.get().1.span.clone(), "the first one"));
                }
            }
        }
        self.names.by_id.insert(what, named);
        self.names.listed.insert(what, listed);
    }

    fn id_form(&mut self, id: &Text) {
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        if !id.is_empty() && (!id.chars().all(plain) || id.starts_with('-') || id.ends_with('-') || id.len() > 80) {
            self.report(
                Code::IdForm,
                id.span.clone(),
                format!("\"{}\" is not in the form of an id", id.value),
                "Write lower-case letters, digits and hyphens, such as \"pivot-bolts\"",
            );
        }
    }

    /// What an id of this kind refers to; reports one that leads nowhere.
    fn find(&mut self, what: What, id: &Text) -> Option<usize> {
        if id.is_empty() {
            self.gap(what);
            return None;
        }
        let named = self.names.by_id.get(&what);
        if let Some((ix, _)) = named.and_then(|named| named.get(id.as_str())) {
            return Some(*ix);
        }
        let ids: &[&str] = self.names.listed.get(&what).map_or(&[], Vec::as_slice);
        let other = self.names.by_id.iter().find(|(_, named)| named.contains_key(id.as_str())).map(|(other, _)| *other);
        let near = if self.compared < MOST_COMPARED { nearest(id, ids.iter().copied()) } else { None };
        self.compared += ids.len();
        let hint = match (near, other) {
            (_, Some(other)) => format!("\"{}\" is a {}. ", id.value, other.word()),
            (Some(near), None) => format!("did you mean \"{near}\"? "),
            (None, None) => String::new(),
        };
        let right = if what == What::Measurement {
            format!(
                "{hint}Give the measurement that it counts from a name: {{ measure = \"…\", name = \"{}\" }}",
                id.value
            )
        } else if ids.is_empty() {
            format!("{hint}The file has no {}; write a [[{}]] entry with this id", what.word(), what.word())
        } else {
            format!("{hint}The {}s are: {}", what.word(), list(ids.iter().copied().take(30)))
        };
        self.report(Code::RefUnknown, id.span.clone(), format!("there is no {} \"{}\"", what.word(), id.value), right);
        self.gap(what);
        None
    }

    fn gap(&mut self, what: What) {
        if !self.gaps.contains(&what) {
            self.gaps.push(what);
        }
    }

    /// The state of the vehicle a text refers to.
    fn needs(&mut self, needs: &Option<Text>) -> Option<ConditionIx> {
        needs.as_ref().and_then(|id| self.find(What::Condition, id)).map(ConditionIx)
    }

    fn cause(&mut self, cause: &Spot<written::Cause>) -> Option<Cause> {
        let c = &cause.value;
        let keys = [&c.placed, &c.hung, &c.off, &c.open, &c.within];
        if keys.iter().filter(|key| key.is_some()).count() != 1 {
            self.report(
                Code::CauseUnclear,
                cause.span.clone(),
                "a standing caution has exactly one cause",
                "Write one of \"placed\", \"hung\", \"off\", \"open\", \"in\", such as { hung = \"caliper\" }",
            );
            return None;
        }
        if let Some(id) = &c.placed {
            return self.find(What::Support, id).map(|ix| Cause::Placed(SupportIx(ix)));
        }
        if let Some(id) = &c.hung {
            return self.find(What::Component, id).map(|ix| Cause::Hung(ComponentIx(ix)));
        }
        if let Some(id) = &c.off {
            return self.find(What::Component, id).map(|ix| Cause::Off(ComponentIx(ix)));
        }
        if let Some(id) = &c.open {
            return self.find(What::Connection, id).map(|ix| Cause::Open(ConnectionIx(ix)));
        }
        let id = c.within.as_ref()?;
        self.find(What::Condition, id).map(|ix| Cause::In(ConditionIx(ix)))
    }
}
