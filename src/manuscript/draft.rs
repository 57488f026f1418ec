//! The entries of a procedure as they are drafted, with what could not be told.

use super::Given;
use super::lines::Line;
use super::phrase::Verb;
use crate::procedure::StageKind;
use crate::quantity::{Limits, Torque};
use crate::values::{Shelf, Value, letters};
use std::collections::BTreeMap;

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
    pub marked: BTreeMap<usize, usize>,
    /// Words that stand in the file because of the line in hand.
    pub kept: String,
}

/// A group of fasteners.
#[derive(Debug, Default)]
pub(super) struct Group {
    pub key: String,
    pub name: String,
    pub plural: Option<String>,
    pub count: Option<u32>,
    pub stages: Vec<String>,
    /// Thread and property class, as a page of values has them.
    pub thread: Option<String>,
    pub class: Option<String>,
    pub source: Option<String>,
    /// It has two values, and so none.
    pub disputed: bool,
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
    /// How far its line is indented.
    pub indent: usize,
}

impl Draft {
    pub(super) fn read(given: &Given, lines: &[Line], shelf: &Shelf) -> Draft {
        let mut draft = super::reader::read(given, lines);
        draft.values_of(shelf);
        draft
    }

    /// How many lines of the text are marked.
    pub(super) fn marked_lines(&self) -> usize {
        self.marked.values().sum()
    }

    /// Gives groups without a value the one that a page has for just their name, if it is a page of the manual of the file.
    fn values_of(&mut self, shelf: &Shelf) {
        for group in &mut self.groups {
            let names = [Some(&group.name), group.plural.as_ref()];
            let is = |name: &str| names.iter().flatten().any(|own| letters(own) == letters(name));
            let Some((page, entry)) = shelf.entries().find(|(_, entry)| is(&entry.name)) else { continue };
            let Value::Stages(stages) = &entry.value else { continue };
            let mut also = entry.also;
            let stages: Vec<String> = stages.iter().map(|stage| stage_of(stage, &mut also)).collect();
            let source = &page.source;
            let other = |own: &str, its: &str| !own.is_empty() && letters(own) != letters(its);
            let elsewhere = other(&self.given.manual, &source.title) || other(&self.given.edition, &source.edition);
            let place = format!("{}, {}, {}", source.title, source.edition, entry.page);
            if group.disputed {
                group.ask.push(format!("The page of values says {} ({place}).", stages.join(", ")));
            } else if group.stages.is_empty() && elsewhere {
                let stages = stages.join(", ");
                group.ask.push(format!("The page of values says {stages}, from another manual or edition ({place})."));
            } else if group.stages.is_empty() {
                if self.given.manual.is_empty() || self.given.edition.is_empty() {
                    group.ask.push(format!("The value is from {place}: is that the manual of this file?"));
                }
                (group.stages, group.source) = (stages, Some(entry.page.clone()));
                (group.thread, group.class) = (entry.thread.clone(), entry.class.clone());
            } else if !alike(&group.stages, &stages) {
                let (text, page) = (group.stages.join(", "), stages.join(", "));
                group.ask.push(format!("The text says {text}, the page of values says {page}. Which?"));
                group.stages.clear();
                group.source = None;
                group.disputed = true;
            } else if !elsewhere {
                // The page says the same, and perhaps more.
                if stages.join("").len() > group.stages.join("").len() {
                    group.stages = stages;
                }
                (group.thread, group.class) = (entry.thread.clone(), entry.class.clone());
            }
        }
    }
}

/// A stage of a page of values as a procedure writes it; the first torque with its second unit, which is used up by that.
fn stage_of(stage: &StageKind, also: &mut Option<Limits<Torque>>) -> String {
    let quoted = super::quote::quoted;
    match stage {
        StageKind::Torque(torque) => {
            let (torque, also) = (torque.to_string(), also.take().map(|also| also.to_string()));
            super::amounts::Stage::Torque { amount: torque, also }.toml()
        }
        StageKind::Angle(angle) => format!("{{ angle = {} }}", quoted(&angle.to_string())),
        StageKind::BackOff(angle) => format!("{{ back_off = {} }}", quoted(&angle.to_string())),
        StageKind::Slot(most) => format!("{{ slot = {} }}", quoted(&most.to_string())),
        StageKind::Slacken => "{ slacken = true }".to_owned(),
    }
}

/// Are two programmes the same? A second unit may be told by one of them only.
pub(super) fn alike(one: &[String], other: &[String]) -> bool {
    let parts = |stage: &str| {
        let stage = stage.trim_end_matches([' ', '}']).to_owned();
        let (amount, also) = stage.split_once(", also = ").map_or((stage.as_str(), None), |(a, b)| (a, Some(b)));
        (amount.to_owned(), also.map(str::to_owned))
    };
    one.len() == other.len()
        && one.iter().zip(other).all(|(one, other)| {
            let ((one, one_also), (other, other_also)) = (parts(one), parts(other));
            one == other && (one_also.is_none() || other_also.is_none() || one_also == other_also)
        })
}
