//! From lines to a draft: each becomes a part of the head, a list entry, a caution, a value or a step; or a remark at its place.

use super::amounts;
use super::draft::{Draft, Item, Step};
use super::lines::{Line, Marker};
use super::phrase::{self, Act, Verb};
use super::words::{LISTS, Listed, PHASES, holds, is_heading, page_of, sentences, signal};
use super::{Given, id_of};
use std::collections::HashSet;

mod named;
mod told;

use named::{key, named};

/// The draft of a text.
pub(super) fn read(given: &Given, lines: &[Line]) -> Draft {
    let mut reader = Reader {
        draft: Draft { given: given.clone(), ..Draft::default() },
        numbered: lines.iter().any(|line| matches!(line.marker, Marker::Number(_))),
        tightened: tightened(lines),
        done: done(lines),
        valued: None,
        phase: None,
        listed: None,
        cautions: Vec::new(),
        open_signal: None,
        signalled: false,
        number: String::new(),
        ids: HashSet::new(),
        heads: HashSet::new(),
        below_heading: false,
        indent: 0,
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
        amounts::stages(&value).and(named(name)).map(|thing| key(&thing))
    });
    let tight = acts.flatten().filter(|act| act.verb == Verb::Tighten).map(|act| key(&act.thing));
    tight.chain(named).collect()
}

/// The keys of everything that a sentence of the text does something to.
fn done(lines: &[Line]) -> HashSet<String> {
    let acts = lines.iter().flat_map(|line| sentences(&line.text)).filter_map(|s| phrase::acts(&page_of(s).0));
    acts.flatten().map(|act| key(&act.thing)).collect()
}

struct Reader {
    draft: Draft,
    /// Does the text number its steps?
    numbered: bool,
    tightened: HashSet<String>,
    done: HashSet<String>,
    /// The value below the step in hand, as it is written so far.
    valued: Option<String>,
    phase: Option<&'static str>,
    listed: Option<Listed>,
    /// Cautions for the step to come.
    cautions: Vec<(&'static str, String)>,
    /// A signal word that stands alone on its line, with the number of the line.
    open_signal: Option<(&'static str, usize)>,
    /// Something below it was said with it.
    signalled: bool,
    /// The number of the step above parts "a)", "b)".
    number: String,
    ids: HashSet<String>,
    /// Keys of the head that were met.
    heads: HashSet<String>,
    /// The line before was a heading.
    below_heading: bool,
    /// How far the line of the last step is indented.
    indent: usize,
}

impl Reader {
    fn line(&mut self, at: usize, line: &Line) {
        self.draft.kept.clear();
        let count = self.draft.items.len();
        let before = self.said();
        let mut fine = self.meant(at, line);
        let numbered = matches!(line.marker, Marker::Number(_));
        if fine && (numbered || signal(&line.text).is_some_and(|(_, rest)| !rest.is_empty())) && self.said() == before {
            // It was told as a step or a caution, and is neither in the file.
            self.draft.items.push(Item::Ask("Is the line above a step, or a caution?".to_owned()));
            fine = false;
        }
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

    /// How many steps and cautions there are.
    fn said(&self) -> usize {
        let steps = self.draft.items.iter().map(|item| match item {
            Item::Step(step) => 1 + step.cautions.len(),
            _ => 0,
        });
        self.cautions.len() + steps.sum::<usize>()
    }

    /// A text stands in the file.
    fn say(&mut self, text: &str) {
        self.draft.kept.push(' ');
        self.draft.kept.push_str(text);
    }

    /// Makes of a line what it means; false if its author has to settle something.
    fn meant(&mut self, at: usize, line: &Line) -> bool {
        let open = self.open_signal.take();
        if let Some((word, told)) = open {
            // What is an act may be the next step as well.
            let plain = matches!(line.marker, Marker::None | Marker::Bullet)
                && signal(&line.text).is_none()
                && !is_heading(&line.text)
                && phrase::acts(&line.text).is_none();
            if plain {
                // Points below it are all said.
                self.open_signal = open.filter(|_| line.marker == Marker::Bullet);
                self.signalled = true;
                return self.caution(word, &line.text, line.indent);
            }
            if !self.signalled {
                self.no_caution(word, told);
            }
        }
        if line.marker == Marker::Heading
            && let Some((word, rest)) = signal(&line.text)
            && (rest.is_empty() || line.text[word.len()..].trim_start().starts_with([':', '!', '-', '–', '—']))
        {
            return self.signal(at, line, word, rest);
        }
        if line.marker == Marker::Heading || (line.marker == Marker::None && is_heading(&line.text)) {
            return self.heading(line);
        }
        if let Some((word, rest)) = signal(&line.text) {
            return self.signal(at, line, word, rest);
        }
        if let Some((name, rest)) = line.text.split_once(':').map(|(name, rest)| (name.trim(), rest.trim()))
            && !phrase::is_instruction(name)
            && let Some(fine) = self.keyed(&line.marker, name, rest)
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
            Marker::Number(number) => self.steps(number, line),
            Marker::Bullet => self.steps("", line),
            _ if !self.numbered => self.steps("", line),
            _ => {
                // It may be a heading, of which the phase is not known.
                if line.text.split_whitespace().count() <= 4 && !line.text.ends_with(['.', '!', '?']) {
                    self.phase = None;
                }
                self.ask(&line.raw, "Is this a step, a caution, or nothing to be said?")
            }
        }
    }

    /// A signal word with what it says, or alone.
    fn signal(&mut self, at: usize, line: &Line, word: &'static str, rest: &str) -> bool {
        if rest.is_empty() {
            self.open_signal = Some((word, at));
            self.signalled = false;
            return true;
        }
        self.caution(word, rest, line.indent)
    }

    /// Nothing tells what a signal word says.
    fn no_caution(&mut self, word: &str, told: usize) {
        self.draft.marked.insert(told, 1);
        self.draft.items.push(Item::Ask(format!("{word}: what is said, and before which step?")));
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
        let words = lower.split(|c: char| !c.is_alphabetic());
        let mut phases: Vec<&str> =
            words.filter_map(|w| PHASES.iter().find(|(word, _)| *word == w)).map(|(_, phase)| *phase).collect();
        phases.dedup();
        let first = line.marker == Marker::Heading
            && line.raw[0].trim_start().trim_start_matches('#').len() + 1 == line.raw[0].trim_start().len();
        if first && self.draft.given.title.is_empty() && self.draft.items.is_empty() {
            self.draft.given.title = text.to_owned();
            self.say(text);
            return true;
        }
        if self.listed.is_none() {
            // Of a heading that says none, or two, each step is asked.
            self.phase = match phases[..] {
                [phase] => Some(phase),
                _ => None,
            };
        }
        true
    }

    /// "Caution: …": for the step to come, or for the one that it is indented below.
    fn caution(&mut self, signal: &'static str, text: &str, indent: usize) -> bool {
        self.say(signal);
        self.say(text);
        // What is only kept stands between, such as a value below its step.
        let last = self.draft.items.iter_mut().rev().find(|item| !matches!(item, Item::Kept(_)));
        match last {
            Some(Item::Step(step)) if indent > step.indent => step.cautions.push((signal, text.to_owned())),
            Some(Item::Ask(_)) if indent > self.indent => {
                self.draft.items.push(Item::Ask(format!("{signal}: {text}")));
                self.draft.items.push(Item::Ask("With which step is this said?".to_owned()));
                return false;
            }
            _ => self.cautions.push((signal, text.to_owned())),
        }
        true
    }

    /// The sentences of a line, each a step.
    fn steps(&mut self, number: &str, line: &Line) -> bool {
        self.indent = line.indent;
        let nested = !number.is_empty() && number.chars().all(|c| c.is_ascii_lowercase());
        if !nested && !number.is_empty() {
            self.number = number.to_owned();
        }
        let number =
            if nested && !self.number.is_empty() { format!("{} {number}", self.number) } else { number.to_owned() };
        let mut fine = true;
        for sentence in sentences(&line.text) {
            fine &= self.step(&number, sentence);
        }
        fine
    }

    fn step(&mut self, number: &str, sentence: &str) -> bool {
        self.valued = None;
        let (say, source) = page_of(sentence);
        let mut step = Step { phase: self.phase, say, source, indent: self.indent, ..Step::default() };
        step.cautions = std::mem::take(&mut self.cautions);
        let acts = phrase::acts(&step.say);
        if let Some([Act { verb: Verb::Tighten, stages: Some(_), .. }]) = acts.as_deref() {
            // The value is spoken stage by stage, from the fastener's own entry.
            let at = phrase::value_at(&step.say.to_ascii_lowercase()).map_or(step.say.len(), |(at, _)| at);
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
        if let Some((word, told)) = self.open_signal.take()
            && !self.signalled
        {
            self.no_caution(word, told);
        }
    }
}
