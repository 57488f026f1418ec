//! From lines to a draft: each becomes a part of the head, a list entry, a caution, a value or a step; or a remark at its place.

use super::amounts::{self, Stage};
use super::draft::{Draft, Group, Item, Step, alike};
use super::lines::{Line, Marker};
use super::phrase::{self, Act, Thing, Verb};
use super::words::{LISTS, Listed, PHASES, holds, is_heading, page_of, sentences, signal};
use super::{Given, id_of};
use std::collections::HashSet;

/// The draft of a text.
pub(super) fn read(given: &Given, lines: &[Line]) -> Draft {
    let mut reader = Reader {
        draft: Draft { given: given.clone(), ..Draft::default() },
        numbered: lines.iter().any(|line| matches!(line.marker, Marker::Number(_))),
        tightened: tightened(lines),
        phase: None,
        listed: None,
        cautions: Vec::new(),
        open_signal: None,
        number: String::new(),
        ids: HashSet::new(),
        heads: HashSet::new(),
        below_heading: false,
    };
    for (at, line) in lines.iter().enumerate() {
        reader.line(at, line);
    }
    reader.end();
    reader.draft
}

/// The keys of everything that is tightened somewhere in the text: it is a fastener, whatever it is called.
fn tightened(lines: &[Line]) -> HashSet<String> {
    let acts = lines.iter().flat_map(|line| sentences(&line.text)).filter_map(|s| phrase::acts(&page_of(s).0));
    let named = lines.iter().filter_map(|line| {
        let (name, value) = line.text.split_once(':')?;
        let (value, _) = page_of(value);
        amounts::stages(&value).and(phrase::thing(name)).map(|thing| key(&thing))
    });
    let tight = acts.flatten().filter(|act| act.verb == Verb::Tighten).map(|act| key(&act.thing));
    tight.chain(named).collect()
}

fn key(thing: &Thing) -> String {
    id_of(&phrase::single(&thing.name))
}

struct Reader {
    draft: Draft,
    /// Does the text number its steps?
    numbered: bool,
    tightened: HashSet<String>,
    phase: Option<&'static str>,
    listed: Option<Listed>,
    /// Cautions for the step to come.
    cautions: Vec<(&'static str, String)>,
    /// A signal word that stands alone on its line.
    open_signal: Option<&'static str>,
    /// The number of the step above parts "a)", "b)".
    number: String,
    ids: HashSet<String>,
    /// Keys of the head that were met.
    heads: HashSet<String>,
    /// The line before was a heading.
    below_heading: bool,
}

impl Reader {
    fn line(&mut self, at: usize, line: &Line) {
        self.draft.kept.clear();
        let count = self.draft.items.len();
        let fine = self.meant(line);
        if !fine {
            self.draft.marked.insert(at, line.raw.len());
        }
        // Whatever the entries do not say in the words of the line is kept as it was.
        let kept = std::mem::take(&mut self.draft.kept);
        if !holds(&kept, &line.raw.join(" ")) {
            let raw = line.raw.iter().map(|raw| raw.trim().to_owned());
            match self.draft.items.get_mut(count) {
                Some(Item::Step(step)) => step.kept = raw.collect(),
                _ => self.draft.items.splice(count..count, raw.map(Item::Kept)).for_each(drop),
            }
        }
    }

    /// A text stands in the file.
    fn say(&mut self, text: &str) {
        self.draft.kept.push(' ');
        self.draft.kept.push_str(text);
    }

    /// Makes of a line what it means; false if its author has to settle something.
    fn meant(&mut self, line: &Line) -> bool {
        if let Some(signal) = self.open_signal.take()
            && line.marker == Marker::None
        {
            return self.caution(signal, &line.text, line.indent);
        }
        if line.marker == Marker::Heading || (line.marker == Marker::None && is_heading(&line.text)) {
            return self.heading(line);
        }
        if let Some((signal, rest)) = signal(&line.text) {
            if rest.is_empty() {
                self.open_signal = Some(signal);
                return true;
            }
            return self.caution(signal, rest, line.indent);
        }
        if let Some((name, rest)) = line.text.split_once(':').map(|(name, rest)| (name.trim(), rest.trim()))
            && let Some(fine) = self.keyed(name, rest)
        {
            return fine;
        }
        let below = std::mem::take(&mut self.below_heading);
        if matches!(line.marker, Marker::Number(_)) || (line.apart && !below && line.marker == Marker::None) {
            self.listed = None;
        }
        if let Some(listed) = self.listed {
            return self.entry(listed, &line.text);
        }
        match &line.marker {
            Marker::Number(number) => self.steps(number, &line.text),
            Marker::Bullet => self.steps("", &line.text),
            _ if !self.numbered => self.steps("", &line.text),
            _ => self.ask(&line.raw, "Is this a step, a caution, or nothing to be said?"),
        }
    }

    fn ask(&mut self, raw: &[String], what: &str) -> bool {
        for line in raw {
            self.say(line);
            self.draft.items.push(Item::Ask(line.trim().to_owned()));
        }
        self.draft.items.push(Item::Ask(what.to_owned()));
        false
    }

    fn heading(&mut self, line: &Line) -> bool {
        let text = line.text.trim_end_matches(':').trim();
        let lower = text.to_lowercase();
        self.listed = LISTS.iter().find(|(word, _)| *word == lower).map(|(_, listed)| *listed);
        self.below_heading = true;
        let phase = lower.split(|c: char| !c.is_alphabetic()).find_map(|w| PHASES.iter().find(|(word, _)| *word == w));
        let first = line.marker == Marker::Heading
            && line.raw[0].trim_start().trim_start_matches('#').len() + 1 == line.raw[0].trim_start().len();
        if first && self.draft.given.title.is_empty() && self.draft.items.is_empty() {
            self.draft.given.title = text.to_owned();
            self.say(text);
            return true;
        }
        if self.listed.is_none() {
            self.phase = phase.map(|(_, phase)| *phase).or(self.phase.filter(|_| phase.is_none()));
        }
        true
    }

    /// "Caution: …": for the step to come, or for the one that it is indented below.
    fn caution(&mut self, signal: &'static str, text: &str, indent: usize) -> bool {
        self.say(signal);
        self.say(text);
        let last = self.draft.items.last_mut();
        if indent > 1
            && let Some(Item::Step(step)) = last
        {
            step.cautions.push((signal, text.to_owned()));
        } else {
            self.cautions.push((signal, text.to_owned()));
        }
        true
    }

    /// "Vehicle: …", "Tools: …", "Torque: …", "Cover bolts: 62 N·m"; nothing where it is none of these.
    fn keyed(&mut self, name: &str, rest: &str) -> Option<bool> {
        let lower = name.to_lowercase();
        let given = &mut self.draft.given;
        let head = match lower.as_str() {
            "title" | "job" => Some(&mut given.title),
            "vehicle" => Some(&mut given.vehicle),
            "source" | "manual" => Some(&mut given.manual),
            "edition" => Some(&mut given.edition),
            "chapter" => Some(&mut given.chapter),
            "author" => Some(&mut given.author),
            _ => None,
        };
        if let Some(head) = head {
            if head.is_empty() || head == rest {
                *head = rest.to_owned();
                // The file calls some of them otherwise, and holds each once.
                if !matches!(lower.as_str(), "job" | "source" | "manual") && self.heads.insert(lower) {
                    self.say(name);
                    self.say(rest);
                }
                return Some(true);
            }
            return None;
        }
        if let Some((_, listed)) = LISTS.iter().find(|(word, _)| *word == lower) {
            if rest.is_empty() {
                self.listed = Some(*listed);
                return Some(true);
            }
            let between = if rest.contains(';') { ';' } else { ',' };
            let entries = rest.trim_end_matches('.').split(between).map(str::trim).filter(|entry| !entry.is_empty());
            return Some(entries.fold(true, |fine, entry| self.entry(*listed, entry) && fine));
        }
        let (value, page) = page_of(rest);
        if matches!(lower.as_str(), "torque" | "tightening torque" | "torque value" | "tighten to") {
            return Some(self.value_of_last(name, rest, &value, page));
        }
        let stages = amounts::stages(&value)?;
        let thing = phrase::thing(name)?;
        Some(self.group(&thing, Some(&stages), page))
    }

    /// "Torque: …" is of the one group that the step above it tightens.
    fn value_of_last(&mut self, name: &str, raw: &str, value: &str, page: Option<String>) -> bool {
        let group = match self.draft.items.last() {
            Some(Item::Step(step)) => match &step.acts[..] {
                [(Verb::Tighten, key)] => Some(key.clone()),
                _ => None,
            },
            _ => None,
        };
        let thing = group.and_then(|key| self.draft.groups.iter().find(|g| g.key == key)).map(|g| Thing {
            name: g.plural.clone().unwrap_or(g.name.clone()),
            count: None,
            new: false,
        });
        match (thing, amounts::stages(value)) {
            (Some(thing), Some(stages)) => self.group(&thing, Some(&stages), page),
            (None, Some(_)) => self.ask(&[format!("{name}: {raw}")], "Of which fasteners is this value?"),
            (_, None) => self.ask(&[format!("{name}: {raw}")], "What are the stages? Write each as FORMAT.md has it."),
        }
    }

    /// An entry of a list.
    fn entry(&mut self, listed: Listed, text: &str) -> bool {
        let text = text.trim_end_matches('.');
        match listed {
            Listed::Tools => self.draft.tools.push(text.to_owned()),
            Listed::Consumables => self.draft.consumables.push(text.to_owned()),
            Listed::Parts => {
                let (first, rest) = text.split_once(' ').unwrap_or((text, ""));
                let rest = rest.trim_start_matches(['x', '×']).trim();
                let first = first.trim_end_matches(['x', '×']);
                match phrase::count(first).filter(|_| !rest.is_empty()) {
                    Some(count) => {
                        self.draft.parts.push((count, rest.to_owned()));
                        self.say(first);
                        self.say(rest);
                        return true;
                    }
                    None => return self.ask(&[text.to_owned()], "How many of this part?"),
                }
            }
            Listed::Values => {
                let parts: Vec<&str> = text.split('|').map(str::trim).filter(|part| !part.is_empty()).collect();
                let page = |n: usize| parts.get(n).map(|page| (*page).to_owned());
                if let [name, value] | [name, value, _] = parts[..]
                    && let (Some(thing), Some(stages)) = (phrase::thing(name), amounts::stages(value))
                {
                    return self.group(&thing, Some(&stages), page(2));
                }
                return self.ask(&[text.to_owned()], "Is this a value, and of which fasteners?");
            }
        }
        self.say(text);
        true
    }

    /// Makes sure that there is a group for a thing, and gives it what is said of it.
    fn group(&mut self, thing: &Thing, stages: Option<&[Stage]>, page: Option<String>) -> bool {
        let key = key(thing);
        let single = phrase::single(&thing.name);
        let at = self.draft.groups.iter().position(|g| g.key == key).unwrap_or_else(|| {
            self.draft.groups.push(Group { key, name: single.clone(), ..Group::default() });
            self.draft.groups.len() - 1
        });
        let group = &mut self.draft.groups[at];
        if single != thing.name && group.plural.is_none() {
            group.plural = Some(thing.name.clone());
        }
        if let Some(count) = thing.count {
            match group.count {
                Some(other) if other != count => {
                    group.ask.push(format!("The text says {other} and {count} of them. How many?"))
                }
                _ => group.count = Some(count),
            }
        }
        if thing.new {
            let ask = "The text says new: single_use = true, and a [[part]] that renews them?";
            if !group.ask.iter().any(|other| other == ask) {
                group.ask.push(ask.to_owned());
            }
        }
        let Some(stages) = stages else { return true };
        let stages: Vec<String> = stages.iter().map(Stage::toml).collect();
        let other = !group.stages.is_empty() && !alike(&group.stages, &stages);
        if other {
            let (first, second) = (group.stages.join(", "), stages.join(", "));
            group.ask.push(format!("The text says {first} and {second}. Which?"));
            group.stages.clear();
        } else {
            group.stages = stages;
        }
        if page.is_some() {
            group.source = page;
        }
        !other
    }

    /// The sentences of a line, each a step.
    fn steps(&mut self, number: &str, text: &str) -> bool {
        let nested = !number.is_empty() && number.chars().all(|c| c.is_ascii_lowercase());
        if !nested && !number.is_empty() {
            self.number = number.to_owned();
        }
        let number =
            if nested && !self.number.is_empty() { format!("{} {number}", self.number) } else { number.to_owned() };
        let mut fine = true;
        for sentence in sentences(text) {
            fine &= self.step(&number, sentence);
        }
        fine
    }

    fn step(&mut self, number: &str, sentence: &str) -> bool {
        let (say, source) = page_of(sentence);
        let mut step = Step { phase: self.phase, say, source, ..Step::default() };
        step.cautions = std::mem::take(&mut self.cautions);
        let acts = phrase::acts(&step.say);
        if let Some([Act { verb: Verb::Tighten, stages: Some(_), .. }]) = acts.as_deref() {
            // The value is spoken stage by stage, from the fastener's own entry.
            let at = step.say.to_ascii_lowercase().find(" to ").unwrap_or(step.say.len());
            step.say = format!("{}.", &step.say[..at]);
        } else if acts.iter().flatten().any(|act| act.stages.is_some()) {
            step.ask.push("The values stand with the fasteners; leave them out of what is said.".to_owned());
        }
        let mut fine = step.ask.is_empty();
        match acts {
            Some(acts) => {
                for act in acts {
                    match self.act(&act, step.source.clone(), &mut fine) {
                        Some(act) => step.acts.push(act),
                        None => {
                            step.ask.push("What does it do, to which things? do = [{ … }]".to_owned());
                            step.acts.clear();
                            fine = false;
                            break;
                        }
                    }
                }
            }
            None => {
                let lower = step.say.to_lowercase();
                step.ask.push(match () {
                    () if lower.contains("reverse") => {
                        "Write the strip to its end, then `wrenchside draft-rebuild` writes its reverse.".to_owned()
                    }
                    () if lower.starts_with("measure") || lower.starts_with("check") => {
                        "What is measured, with which limits? do = [{ measure = \"…\", most = \"…\" }], or a question: hold = \"…?\"".to_owned()
                    }
                    () => "What does it do, to which things? do = [{ … }]".to_owned(),
                });
                fine = false;
            }
        }
        if step.phase.is_none() {
            step.ask.push("Which phase: prepare, strip, inspect, rebuild or close?".to_owned());
            fine = false;
        }
        step.id = self.id(&format!("step {number}"));
        let said = [step.id.as_str(), &step.say, step.source.as_deref().unwrap_or_default()].join(" ");
        self.say(&said);
        self.draft.items.push(Item::Step(step));
        fine
    }

    /// Enters what an act is done to. Nothing where that cannot be.
    fn act(&mut self, act: &Act, page: Option<String>, fine: &mut bool) -> Option<(Verb, String)> {
        let key = key(&act.thing);
        if key.is_empty() {
            return None;
        }
        let tightened = self.tightened.contains(&key);
        let verb = match act.verb {
            Verb::TakeOff if tightened => Verb::Remove,
            Verb::PutOn | Verb::Hang | Verb::Disconnect | Verb::Connect if tightened => return None,
            verb => verb,
        };
        let known = |list: &[(String, String)]| list.iter().any(|(id, _)| *id == key);
        match verb {
            Verb::Slacken | Verb::Remove | Verb::HandStart | Verb::Tighten => {
                *fine &= self.group(&act.thing, act.stages.as_deref(), act.stages.is_some().then_some(page).flatten());
            }
            // What is counted may be several things.
            _ if act.thing.count.is_some() => return None,
            Verb::TakeOff | Verb::PutOn | Verb::Hang => {
                if !known(&self.draft.components) {
                    self.draft.components.push((key.clone(), act.thing.name.clone()));
                }
            }
            Verb::Disconnect | Verb::Connect => {
                if !known(&self.draft.connections) {
                    self.draft.connections.push((key.clone(), act.thing.name.clone()));
                }
            }
            Verb::Clean | Verb::Apply => return Some((verb, act.thing.name.clone())),
        }
        Some((verb, key))
    }

    fn id(&mut self, wanted: &str) -> String {
        let wanted = id_of(wanted);
        let mut id = wanted.clone();
        let mut n = 1;
        while !self.ids.insert(id.clone()) || id == "step" {
            n += 1;
            // The parts of a number stand behind a dash already.
            id = if wanted == "step" { format!("line-{n}") } else { format!("{wanted}-next-{n}") };
        }
        id
    }

    /// Cautions that no step follows.
    fn end(&mut self) {
        for (signal, text) in std::mem::take(&mut self.cautions) {
            self.draft.items.push(Item::Ask(format!("{signal}: {text}")));
            self.draft.items.push(Item::Ask("Before which step is this said?".to_owned()));
        }
        if let Some(signal) = self.open_signal.take() {
            self.draft.items.push(Item::Ask(format!("{signal}: what is said?")));
        }
    }
}
