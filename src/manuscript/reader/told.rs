//! Lines that name a thing and what is told of it: the head, lists, values.
//!
//! A value is of something that a step names, or of what stands right above it; otherwise it is asked.

use super::super::amounts::{self, Stage};
use super::super::draft::{Group, Item, alike};
use super::super::lines::Marker;
use super::super::phrase::{self, Thing, Verb};
use super::super::words::{LISTS, Listed, is_page, page_of};
use super::Reader;
use super::named::{TORQUE, key, more, named};

impl Reader {
    /// "Vehicle: …", "Tools: …", "Torque: …", "Cover bolts: 62 N·m"; nothing where it is none of these.
    pub(super) fn keyed(&mut self, marker: &Marker, name: &str, rest: &str) -> Option<bool> {
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
        // "1. Vehicle: raise it" is a step.
        if let Some(head) = head.filter(|_| !matches!(marker, Marker::Number(_))) {
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
            let mut fine = true;
            for entry in entries {
                fine &= self.entry(*listed, entry);
            }
            return Some(fine);
        }
        let (value, page) = page_of(rest);
        if TORQUE.contains(&lower.as_str()) {
            return Some(self.value_of_last(name, rest, &value, page));
        }
        if let Some(more) = more(name) {
            let written = match &self.valued {
                Some(written) => format!("{written} then {more}: {value}"),
                None => format!("{more}: {value}"),
            };
            return Some(self.value_of_last(name, rest, &written, page));
        }
        let stages = amounts::stages(&value)?;
        let thing = named(name)?;
        if self.listed != Some(Listed::Values) && !self.done.contains(&key(&thing)) {
            return Some(
                self.ask(&[format!("{name}: {rest}")], "Of which fasteners is this value? No step names them so."),
            );
        }
        Some(self.group(&thing, Some(&stages), page))
    }

    /// "Torque: …" is of the one group that the step above it tightens.
    fn value_of_last(&mut self, name: &str, raw: &str, value: &str, page: Option<String>) -> bool {
        // A further stage is one more of the same value, and does not stand against it.
        let so_far = self.valued.take();
        let last = self.draft.items.iter().rev().find(|item| !matches!(item, Item::Kept(_)));
        let group = match last {
            Some(Item::Step(step)) => match &step.acts[..] {
                [(Verb::Tighten, key)] => Some(key.clone()),
                _ => None,
            },
            _ => None,
        };
        let group = group.and_then(|key| self.draft.groups.iter_mut().find(|g| g.key == key));
        let stages = amounts::stages(value);
        let thing = group.map(|g| {
            if let Some(was) = so_far.as_deref().and_then(amounts::stages) {
                let was: Vec<String> = was.iter().map(Stage::toml).collect();
                if g.stages == was {
                    g.stages.clear();
                }
                // Half of a value is none.
                g.disputed |= stages.is_none();
            }
            Thing { name: g.plural.clone().unwrap_or(g.name.clone()), count: None, new: false }
        });
        match (thing, stages) {
            (Some(thing), Some(stages)) => {
                self.valued = Some(value.to_owned());
                self.group(&thing, Some(&stages), page)
            }
            (None, Some(_)) => self.ask(&[format!("{name}: {raw}")], "Of which fasteners is this value?"),
            (_, None) => self.ask(&[format!("{name}: {raw}")], "What are the stages? Write each as FORMAT.md has it."),
        }
    }

    /// An entry of a list.
    pub(super) fn entry(&mut self, listed: Listed, text: &str) -> bool {
        let text = text.trim_end_matches('.');
        match listed {
            Listed::Tools => self.draft.tools.push(text.to_owned()),
            Listed::Consumables => self.draft.consumables.push(text.to_owned()),
            Listed::Parts => {
                let (first, rest) = text.split_once(' ').unwrap_or((text, ""));
                let times = rest.strip_prefix(['x', '×']).filter(|rest| rest.starts_with(' ')).map(str::trim);
                let sized = times.is_none() && phrase::is_unit(rest.split(' ').next().unwrap_or_default());
                let rest = times.unwrap_or(rest);
                let first = first.trim_end_matches(['x', '×']);
                match phrase::count(first).filter(|_| !rest.is_empty() && !sized) {
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
                // A third column may be anything: the angle, the value in another unit, a note.
                let page = parts.get(2).filter(|page| is_page(page)).map(|page| (*page).to_owned());
                if let [name, value] | [name, value, _] = parts[..]
                    && (parts.len() == 2 || page.is_some())
                    && let (Some(thing), Some(stages)) = (named(name), amounts::stages(value))
                {
                    return self.group(&thing, Some(&stages), page);
                }
                return self.ask(&[text.to_owned()], "Is this a value, and of which fasteners?");
            }
        }
        self.say(text);
        true
    }

    /// Makes sure that there is a group for a thing, and gives it what is said of it.
    pub(super) fn group(&mut self, thing: &Thing, stages: Option<&[Stage]>, page: Option<String>) -> bool {
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
        if group.disputed {
            // A third does not settle it.
            group.ask.push(format!("The text says {} too.", stages.join(", ")));
            return false;
        }
        if !group.stages.is_empty() && !alike(&group.stages, &stages) {
            let (first, second) = (group.stages.join(", "), stages.join(", "));
            group.ask.push(format!("The text says {first} and {second}. Which?"));
            group.stages.clear();
            group.source = None;
            group.disputed = true;
            return false;
        }
        // The one with a second unit says more.
        if stages.join("").len() >= group.stages.join("").len() {
            group.stages = stages;
        }
        if page.is_some() {
            group.source = page;
        }
        true
    }
}
