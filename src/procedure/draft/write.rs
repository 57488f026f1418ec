//! The words and the TOML of drafted steps.

use super::later::Later;
use crate::procedure::model::*;
use std::collections::HashSet;
use std::fmt::Write;

/// What a drafted step does.
pub(super) enum Drafted {
    /// Put components on and start fasteners by hand; those that hold for the time being come out first.
    Fit {
        on: Vec<ComponentIx>,
        holding: Vec<(FastenerIx, Vec<usize>)>,
        started: Vec<(FastenerIx, Vec<usize>)>,
    },
    Connect(ConnectionIx),
    TakeAway(SupportIx),
    Reach(ConditionIx),
    Leave(ConditionIx),
    Tighten {
        group: FastenerIx,
        items: Vec<usize>,
        through: Option<usize>,
    },
    Lock {
        group: FastenerIx,
        items: Vec<usize>,
    },
}

/// The draft as it grows.
pub(super) struct Draft<'p> {
    p: &'p Procedure,
    out: String,
    ids: HashSet<String>,
}

const HEAD: &str = "
# ================================================================ drafted rebuild
#
# Drafted from the strip, last off, first on. It knows nothing of the manual: go through it with the manual open, and
# settle and take out each line that begins with \"??\".
#
# ?? What must go on in another order than the strip in reverse?
# ?? Write the page of each step (source = \"page …\"), its minutes, and its hold points.
";

impl<'p> Draft<'p> {
    pub(super) fn new(p: &'p Procedure) -> Draft<'p> {
        Draft { p, out: HEAD.to_owned(), ids: p.steps.iter().map(|s| s.id.clone()).collect() }
    }

    pub(super) fn text(&self) -> &str {
        &self.out
    }

    /// A step that asks for what the manual has to be looked up for.
    pub(super) fn inspection(&mut self) {
        self.note("?? Which measurements and limits does the manual give, and what is cleaned?");
        let id = self.id("inspect");
        self.entry(
            &id,
            Phase::Inspect,
            "Clean the parts that go back on.",
            &["{ clean = \"the parts that go back on\" }".to_owned()],
        );
    }

    /// A measurement that torques of the file count from, and that no step takes yet.
    pub(super) fn measured(&mut self, measured: &Later) {
        let Later { name, unit, fastener } = measured;
        self.note(&format!("The torque of the {} counts from \"{name}\".", one_line(fastener)));
        self.note("?? Where in the rebuild does the manual measure it, how, and between which limits?");
        let id = self.id(name);
        let act = format!("{{ measure = {0}, name = {0}, unit = {1} }}", quoted(name), quoted(unit.symbol()));
        self.entry(&id, Phase::Rebuild, &format!("Measure: {}.", name.replace('-', " ")), &[act]);
    }

    /// A step that comes from undoing `from`. The notes go to the first step drafted from it.
    pub(super) fn step(&mut self, phase: Phase, from: &Step, notes: &mut Vec<String>, drafted: Drafted) {
        self.note(&format!("From step \"{}\": {}", from.id, one_line(&from.say)));
        if let Some(variant) = from.only.and_then(|ix| self.p.variants.get(ix.0)) {
            self.note(&format!(
                "?? It is for one variant only. Is this one, too? Then write: only = \"{}\"",
                variant.id
            ));
        }
        for note in notes.drain(..) {
            self.note(&format!("?? {note}"));
        }
        self.write(phase, &format!("{}-back", from.id), &drafted);
    }

    /// Notes on a step that gives nothing back.
    pub(super) fn aside(&mut self, from: &Step, notes: &[String]) {
        if notes.is_empty() {
            return;
        }
        self.note(&format!("From step \"{}\": {}", from.id, one_line(&from.say)));
        for note in notes {
            self.note(&format!("?? {note}"));
        }
        self.out.push('\n');
    }

    /// Tightening that had to wait for a state of the vehicle.
    pub(super) fn deferred(&mut self, phase: Phase, condition: ConditionIx, drafted: Drafted) {
        let name = self.condition(condition).to_owned();
        self.note(&format!("Tightened here, since it needs the vehicle {name}."));
        self.write(phase, "tighten", &drafted);
    }

    /// A change of the vehicle's state that no strip step speaks of.
    pub(super) fn state(&mut self, phase: Phase, drafted: Drafted) {
        let what = match &drafted {
            Drafted::Reach(_) => "?? How is the vehicle brought into this state, and how is that made safe?",
            _ => "?? How is the vehicle taken out of this state?",
        };
        self.note(what);
        self.write(phase, "state", &drafted);
    }

    fn write(&mut self, phase: Phase, id: &str, drafted: &Drafted) {
        let (id, say, acts) = match drafted {
            Drafted::Fit { on, holding, started } => {
                (id.to_owned(), self.fit(on, started), self.fit_acts(on, holding, started))
            }
            Drafted::Connect(ix) => {
                let (name, key) = self.p.connections.get(ix.0).map_or(("", ""), |c| (&c.name, &c.id));
                (id.to_owned(), format!("Connect the {name}."), vec![act("connect", key)])
            }
            Drafted::TakeAway(ix) => {
                let (name, key) = self.p.supports.get(ix.0).map_or(("", ""), |s| (&s.name, &s.id));
                (id.to_owned(), format!("Take away the {name}."), vec![act("take_away", key)])
            }
            Drafted::Reach(ix) => {
                let key = self.p.conditions.get(ix.0).map_or("", |c| &c.id);
                let say = format!("Bring the vehicle into its state: {}.", self.condition(*ix));
                (format!("reach-{key}"), say, vec![act("reach", key)])
            }
            Drafted::Leave(ix) => {
                let key = self.p.conditions.get(ix.0).map_or("", |c| &c.id);
                let say = format!("Take the vehicle out of its state: {}.", self.condition(*ix));
                (format!("leave-{key}"), say, vec![act("leave", key)])
            }
            Drafted::Tighten { group, items, through } => {
                let Some(fastener) = self.p.fasteners.get(group.0) else {
                    return;
                };
                let pass = if through.is_some() { ", the first passes" } else { "" };
                let say = format!("Tighten the {}{pass}.", name(fastener, items));
                let mut extra = items_key(fastener, items);
                if let Some(through) = through {
                    let _ = write!(extra, ", through = {through}");
                }
                let key = format!("{{ tighten = {}{extra} }}", quoted(&fastener.id));
                (format!("{}-tight", fastener.id), say, vec![key])
            }
            Drafted::Lock { group, items } => {
                let Some((fastener, lock)) = self.p.fasteners.get(group.0).and_then(|f| Some((f, f.lock.as_ref()?)))
                else {
                    return;
                };
                let say = format!("Lock the {} with the {lock}.", name(fastener, items));
                let key = format!("{{ lock = {}{} }}", quoted(&fastener.id), items_key(fastener, items));
                (format!("{}-lock", fastener.id), say, vec![key])
            }
        };
        let id = self.id(&id);
        self.entry(&id, phase, &say, &acts);
    }

    /// "Fit the new lower arm, with its new pivot bolt hand-tight."
    fn fit(&self, on: &[ComponentIx], started: &[(FastenerIx, Vec<usize>)]) -> String {
        let component = |ix: &ComponentIx| {
            let c = self.p.components.get(ix.0)?;
            Some(format!("the {}{}", if c.part.is_some() { "new " } else { "" }, c.name))
        };
        let fasteners = |(group, items): &(FastenerIx, Vec<usize>)| {
            let f = self.p.fasteners.get(group.0)?;
            Some(format!("{}{}", if f.single_use { "new " } else { "" }, name(f, items)))
        };
        let on = joined(on.iter().filter_map(component).collect());
        let started: Vec<String> = started.iter().filter_map(fasteners).collect();
        // A name of several parts ends with a comma, where more is said behind it.
        let pause = if started.last().is_some_and(|name| name.contains(',')) { "," } else { "" };
        let started = joined(started);
        match (on.is_empty(), started.is_empty()) {
            (false, true) => format!("Fit {on}."),
            (true, _) => format!("Start the {started}{pause} by hand."),
            (false, false) => format!("Fit {on}, with its {started}{pause} hand-tight."),
        }
    }

    fn fit_acts(
        &self,
        on: &[ComponentIx],
        holding: &[(FastenerIx, Vec<usize>)],
        started: &[(FastenerIx, Vec<usize>)],
    ) -> Vec<String> {
        let fasten = |verb: &'static str| {
            move |(group, items): &(FastenerIx, Vec<usize>)| {
                let f = self.p.fasteners.get(group.0)?;
                Some(format!("{{ {verb} = {}{} }}", quoted(&f.id), items_key(f, items)))
            }
        };
        let on = on.iter().filter_map(|ix| Some(act("put_on", &self.p.components.get(ix.0)?.id)));
        let out = holding.iter().filter_map(fasten("remove"));
        out.chain(on).chain(started.iter().filter_map(fasten("hand_start"))).collect()
    }

    fn condition(&self, ix: ConditionIx) -> &'p str {
        self.p.conditions.get(ix.0).map_or("", |c| &c.name)
    }

    /// An id that no step has yet.
    fn id(&mut self, wanted: &str) -> String {
        let mut id = wanted.to_owned();
        let mut n = 2;
        while !self.ids.insert(id.clone()) {
            id = format!("{wanted}-{n}");
            n += 1;
        }
        id
    }

    fn note(&mut self, text: &str) {
        // The first note of an entry stands apart from what is before it.
        let last = self.out.lines().last().unwrap_or_default();
        if !last.is_empty() && (!last.starts_with('#') || self.out.len() == HEAD.len()) {
            self.out.push('\n');
        }
        let _ = writeln!(self.out, "# {text}");
    }

    fn entry(&mut self, id: &str, phase: Phase, say: &str, acts: &[String]) {
        let phase = match phase {
            Phase::Prepare => "prepare",
            Phase::Strip => "strip",
            Phase::Inspect => "inspect",
            Phase::Rebuild => "rebuild",
            Phase::Close => "close",
        };
        let _ = write!(
            self.out,
            "[[step]]\nid = {}\nphase = \"{phase}\"\nsay = {}\ndo = [{}]\n",
            quoted(id),
            quoted(say),
            acts.join(", ")
        );
    }
}

fn act(verb: &str, id: &str) -> String {
    format!("{{ {verb} = {} }}", quoted(id))
}

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// Comments end with their line.
fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// One or several of a group, and where, if not all of them.
fn name(fastener: &Fastener, items: &[usize]) -> String {
    let one = items.len() == 1;
    let name = if one { &fastener.name } else { &fastener.plural };
    if items.len() >= fastener.places.len() {
        return name.clone();
    }
    let places: Vec<String> = items.iter().filter_map(|ix| fastener.places.get(*ix)).cloned().collect();
    format!("{name} ({})", joined(places))
}

fn items_key(fastener: &Fastener, items: &[usize]) -> String {
    if items.len() >= fastener.places.len() {
        return String::new();
    }
    let places: Vec<String> = items.iter().filter_map(|ix| fastener.places.get(*ix)).map(|p| quoted(p)).collect();
    format!(", items = [{}]", places.join(", "))
}

/// "a", "a and b", "a, b and c".
fn joined(mut words: Vec<String>) -> String {
    match words.pop() {
        None => String::new(),
        Some(last) if words.is_empty() => last,
        Some(last) => format!("{} and {last}", words.join(", ")),
    }
}
