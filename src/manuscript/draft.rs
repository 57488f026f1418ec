//! From lines to the entries of a procedure, with what could not be told.
//!
//! Each line becomes a part of the head, a list entry, a caution, a value or a step; or a remark at its place.

use super::amounts::{self, Stage};
use super::lines::{Line, Marker};
use super::phrase::{self, Act, Thing, Verb};
use super::{Given, id_of};
use crate::procedure::StageKind;
use crate::values::{Shelf, Value, letters};
use std::collections::{BTreeMap, HashSet};

/// A file as it grows.
#[derive(Debug, Default)]
pub(super) struct Draft {
    pub given: Given,
    pub consumables: Vec<String>,
    pub tools: Vec<String>,
    pub parts: Vec<(u32, String)>,
    pub groups: Vec<Group>,
    pub components: Vec<(String, String)>,
    pub connections: Vec<(String, String)>,
    pub items: Vec<Item>,
    /// Lines of the text that are marked, by the number of their logical line, with how many there are.
    marked: BTreeMap<usize, usize>,
    /// Words that stand in the file because of the line in hand.
    kept: String,
}

/// A group of fasteners.
#[derive(Debug, Default)]
pub(super) struct Group {
    pub key: String,
    pub name: String,
    pub plural: Option<String>,
    pub count: Option<u32>,
    pub stages: Vec<String>,
    pub source: Option<String>,
    /// What the author has to settle.
    pub ask: Vec<String>,
}

/// Something among the steps.
#[derive(Debug)]
pub(super) enum Item {
    Step(Step),
    /// A line that is only kept.
    Kept(String),
    /// A line that the author has to place.
    Ask(String),
}

#[derive(Debug, Default)]
pub(super) struct Step {
    pub id: String,
    pub phase: Option<&'static str>,
    pub say: String,
    pub cautions: Vec<(&'static str, String)>,
    pub source: Option<String>,
    /// Each with the key of what it is done to.
    pub acts: Vec<(Verb, String)>,
    pub ask: Vec<String>,
    pub kept: Vec<String>,
}

/// What a list holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Listed {
    Tools,
    Parts,
    Consumables,
    Values,
}

const SIGNALS: [&str; 4] = ["danger", "warning", "caution", "note"];

/// Headings, by a word in them, with the phase below them.
const PHASES: [(&str, &str); 17] = [
    ("preparation", "prepare"),
    ("preparing", "prepare"),
    ("before", "prepare"),
    ("removal", "strip"),
    ("removing", "strip"),
    ("dismantling", "strip"),
    ("disassembly", "strip"),
    ("strip", "strip"),
    ("inspection", "inspect"),
    ("inspecting", "inspect"),
    ("cleaning", "inspect"),
    ("installation", "rebuild"),
    ("refitting", "rebuild"),
    ("fitting", "rebuild"),
    ("reassembly", "rebuild"),
    ("assembly", "rebuild"),
    ("completion", "close"),
];

const LISTS: [(&str, Listed); 11] = [
    ("tools", Listed::Tools),
    ("special tools", Listed::Tools),
    ("parts", Listed::Parts),
    ("new parts", Listed::Parts),
    ("consumables", Listed::Consumables),
    ("materials", Listed::Consumables),
    ("torque values", Listed::Values),
    ("tightening torques", Listed::Values),
    ("torques", Listed::Values),
    ("values", Listed::Values),
    ("torque settings", Listed::Values),
];

impl Draft {
    pub(super) fn read(given: &Given, lines: &[Line], shelf: &Shelf) -> Draft {
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
        let mut draft = reader.draft;
        draft.values_of(shelf);
        draft
    }

    /// How many lines of the text are marked.
    pub(super) fn marked_lines(&self) -> usize {
        self.marked.values().sum()
    }

    /// Gives groups without a value the one that a page has for just their name.
    fn values_of(&mut self, shelf: &Shelf) {
        for group in &mut self.groups {
            let names = [Some(&group.name), group.plural.as_ref()];
            let is = |name: &str| names.iter().flatten().any(|own| letters(own) == letters(name));
            let Some(entry) = shelf.entries().map(|(_, entry)| entry).find(|entry| is(&entry.name)) else { continue };
            let Value::Stages(stages) = &entry.value else { continue };
            let stages: Vec<String> = stages.iter().map(stage_of).collect();
            if group.stages.is_empty() {
                (group.stages, group.source) = (stages, Some(entry.page.clone()));
            } else if !alike(&group.stages, &stages) {
                let (text, page) = (group.stages.join(", "), stages.join(", "));
                group.ask.push(format!("The text says {text}, the page of values says {page}. Which?"));
                group.stages.clear();
            }
        }
    }
}

/// A stage of a page of values as a procedure writes it.
fn stage_of(stage: &StageKind) -> String {
    let quoted = super::write::quoted;
    match stage {
        StageKind::Torque(torque) => format!("{{ torque = {} }}", quoted(&torque.to_string())),
        StageKind::Angle(angle) => format!("{{ angle = {} }}", quoted(&angle.to_string())),
        StageKind::BackOff(angle) => format!("{{ back_off = {} }}", quoted(&angle.to_string())),
        StageKind::Slacken => "{ slacken = true }".to_owned(),
    }
}

/// Are two programmes the same but for a second unit?
fn alike(one: &[String], other: &[String]) -> bool {
    fn bare(stages: &[String]) -> impl Iterator<Item = &str> {
        stages.iter().filter_map(|stage| stage.trim_end_matches([' ', '}']).split(", also").next())
    }
    bare(one).eq(bare(other))
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

/// Words that are cut short with a stop, at which no sentence ends.
const SHORT: [&str; 5] = ["fig", "min", "max", "ref", "approx"];

/// Sentences, each of which is a step.
fn sentences(text: &str) -> Vec<&str> {
    let (mut all, mut from) = (Vec::new(), 0);
    for (at, _) in text.match_indices(". ") {
        let word = text[..at].rsplit(' ').next().unwrap_or_default();
        let next = text[at + 2..].chars().next();
        if word.chars().filter(|c| c.is_alphabetic()).count() > 2
            && !SHORT.contains(&word.to_lowercase().as_str())
            && next.is_some_and(char::is_uppercase)
        {
            all.push(&text[from..=at]);
            from = at + 2;
        }
    }
    all.push(&text[from..]);
    all
}

/// A text without the page behind it, and the page: "… (page 4-12)", "…, p. 4-12".
fn page_of(text: &str) -> (String, Option<String>) {
    let text = text.trim();
    let bare = text.trim_end_matches('.').trim_end();
    let lower = bare.to_ascii_lowercase();
    for (open, word) in [("(page ", "page "), ("(p. ", "p. "), (", page ", "page "), (", p. ", "p. ")] {
        let Some(at) = lower.rfind(open) else { continue };
        let number = bare[at + open.len()..].trim_end_matches(')').trim();
        let is_number = number.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '.' | '–'));
        if !number.is_empty() && is_number && number.chars().any(|c| c.is_ascii_digit()) {
            let before = bare[..at].trim_end();
            let stop = if text.ends_with('.') && !before.ends_with('.') { "." } else { "" };
            return (format!("{before}{stop}"), Some(format!("{word}{number}")));
        }
    }
    (text.to_owned(), None)
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

/// Are all words of one text in the other, as often as there?
fn holds(kept: &str, raw: &str) -> bool {
    let mut there = letters(kept);
    letters(raw).into_iter().all(|word| match there.iter().position(|other| *other == word) {
        Some(at) => {
            there.swap_remove(at);
            true
        }
        None => false,
    })
}

/// "Removal", "REFITTING:", "Special tools:".
fn is_heading(text: &str) -> bool {
    let bare = text.trim_end_matches(':').to_lowercase();
    (text.split_whitespace().count() <= 3 && !text.ends_with(['.', '!', '?']))
        && (LISTS.iter().any(|(word, _)| *word == bare) || PHASES.iter().any(|(word, _)| *word == bare))
}

/// A signal word with what it says.
fn signal(text: &str) -> Option<(&'static str, &str)> {
    let end = text.find(|c: char| !c.is_alphabetic()).unwrap_or(text.len());
    let (word, rest) = text.split_at(end);
    let signal = SIGNALS.iter().find(|signal| word.eq_ignore_ascii_case(signal))?;
    let rest = rest.trim_start();
    let told = rest.trim_start_matches([':', '!', '-', '–', '—', '.']);
    // "Note the position of the shim" is an instruction, "NOTE Mark the shim" is not.
    let shouted = word.chars().all(char::is_uppercase);
    (told.len() < rest.len() || rest.is_empty() || shouted).then(|| (*signal, told.trim()))
}
