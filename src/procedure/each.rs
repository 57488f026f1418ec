//! Steps written once and done for each of several places: before anything else is read of them they become ordinary steps,
//! one after the other, place by place.
//!
//! A run of steps (`for_each`, with `up_to` where it is more than one) is repeated as a whole. `{place}` in its texts becomes the
//! place in words, in ids and references the place as an id. Nobody behind this knows of it: the job, the ledger and `check`
//! see steps as if each had been written out. What is found in one of them is told of the line as it stands in the
//! file, with the place ([`Copies`]).

use super::code::Code;
use super::finding::Finding;
use super::shape::{list, nearest};
use crate::files;
use std::borrow::Cow;
use std::collections::{HashMap, HashSet};
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeArray, DeTable, DeValue};

/// What stands for the place.
pub(super) const PLACE: &str = "{place}";

/// Where the steps that were made stand: each copy in a stretch of its own behind the text, so that two are told apart.
#[derive(Debug, Default)]
pub(super) struct Copies {
    /// Length of a stretch. What lies within the first one stands there as it is.
    stretch: usize,
    /// For each copy the run that it is of, and its place.
    made: Vec<(usize, String)>,
    /// How many copies there are of each run.
    of_run: Vec<usize>,
}

impl Copies {
    /// Where something stands in the text, and which copy it is of.
    fn original(&self, span: &Range<usize>) -> (Range<usize>, Option<usize>) {
        let copy = span.start.checked_div(self.stretch).unwrap_or(0).min(self.made.len());
        let base = copy * self.stretch;
        (span.start - base..span.end.saturating_sub(base), copy.checked_sub(1))
    }

    /// Tells findings of the text as it is written. One that is the same at each place is told once, any other with its place.
    pub fn told(&self, findings: Vec<Finding>) -> Vec<Finding> {
        if self.made.is_empty() {
            return findings;
        }
        let mut same: HashMap<(Code, Range<usize>, String, String), HashSet<usize>> = HashMap::new();
        let told: Vec<(Finding, Option<usize>)> = findings
            .into_iter()
            .map(|finding| {
                let (span, copy) = self.original(&finding.span);
                let also = finding.also.into_iter().map(|(span, why)| (self.original(&span).0, why)).collect();
                if let Some(copy) = copy {
                    let key = (finding.code, span.clone(), finding.what.clone(), finding.right.clone());
                    same.entry(key).or_default().insert(copy);
                }
                (Finding { span, also, ..finding }, copy)
            })
            .collect();
        let name = |(finding, copy): (Finding, Option<usize>)| {
            let Some((copy, (run, place))) = copy.and_then(|copy| Some((copy, self.made.get(copy)?))) else {
                return Some(finding);
            };
            let key = (finding.code, finding.span.clone(), finding.what.clone(), finding.right.clone());
            let at = same.get(&key);
            if at.is_some_and(|at| at.len() == self.of_run.get(*run).copied().unwrap_or(0)) {
                return (at.and_then(|at| at.iter().min()) == Some(&copy)).then_some(finding);
            }
            let what = format!("at \"{place}\": {}", finding.what);
            Some(Finding { what, ..finding })
        };
        told.into_iter().filter_map(name).collect()
    }
}

/// Puts the copies in the place of what was written once. `length` is that of the text.
pub(super) fn expand(file: &mut DeTable<'_>, length: usize, findings: &mut Vec<Finding>) -> Copies {
    let mut copies = Copies { stretch: length + 1, ..Copies::default() };
    let Some(DeValue::Array(steps)) = file.get_mut("step").map(Spanned::get_mut) else { return copies };
    if !steps.iter().any(|step| get(step, "for_each").or_else(|| get(step, "up_to")).is_some()) {
        return copies;
    }
    let mut by_id: HashMap<&str, usize> = HashMap::new();
    for (ix, step) in steps.iter().enumerate() {
        if let Some(id) = text(step, "id") {
            by_id.entry(id).or_insert(ix);
        }
    }
    let mut made = DeArray::new();
    let mut room = files::TEXT;
    let mut at = 0;
    while at < steps.len() {
        let behind = match run(steps, at, &by_id, findings) {
            Some(behind) => behind,
            None => {
                made.push(without_keys(&steps[at]));
                at += 1;
                continue;
            }
        };
        let run = Run::of(&steps[at..behind], findings);
        let size: usize = steps[at..behind].iter().map(size_of).sum();
        let size = (size as u64).saturating_mul(run.places.len() as u64);
        if size > room {
            let right = "Name fewer places";
            let what = "done for each of these places the procedure is larger than 8 MiB";
            findings.push(Finding::new(Code::EachUnfit, run.span.clone(), what, right));
        }
        room = room.saturating_sub(size);
        let before = copies.made.len();
        for place in run.places.iter().filter(|_| room > 0) {
            copies.made.push((copies.of_run.len(), place.words.clone()));
            let base = copies.made.len() * copies.stretch;
            for step in &steps[at..behind] {
                made.push(run.copy(step, place, base));
            }
        }
        copies.of_run.push(copies.made.len() - before);
        at = behind;
    }
    *steps = made;
    copies
}

/// Where the run ends that begins at this step: behind its last step. None for a step by itself.
fn run(
    steps: &[Spanned<DeValue<'_>>],
    at: usize,
    by_id: &HashMap<&str, usize>,
    findings: &mut Vec<Finding>,
) -> Option<usize> {
    let up_to = get(&steps[at], "up_to");
    let Some(each) = get(&steps[at], "for_each") else {
        if let Some(up_to) = up_to {
            let right = "Write above it: for_each = [\"rear left\", \"rear right\"]";
            let what = "\"up_to\" without \"for_each\"";
            findings.push(Finding::new(Code::EachUnfit, up_to.span(), what, right));
        }
        return None;
    };
    let Some((up_to, id)) = up_to.and_then(|up_to| Some((up_to, up_to.get_ref().as_str()?))) else {
        return Some(at + 1);
    };
    let ids = || steps[at + 1..].iter().filter_map(|step| text(step, "id"));
    let found = by_id.get(id).copied();
    let Some(last) = found.filter(|&last| last >= at) else {
        let what = match found.is_some() {
            true => format!("step \"{id}\" comes before this one"),
            false => format!("there is no step \"{id}\" to go up to"),
        };
        let near =
            nearest(id, ids().take(MOST_NAMED)).map_or(String::new(), |near| format!("did you mean \"{near}\"? "));
        let right = format!("{near}The steps behind this one are: {}", list(ids().take(MOST_NAMED)));
        findings.push(Finding::new(Code::EachUnfit, up_to.span(), what, right));
        return Some(at + 1);
    };
    for key in steps[at + 1..=last].iter().filter_map(|step| get(step, "for_each").or_else(|| get(step, "up_to"))) {
        let finding = Finding::new(
            Code::EachUnfit,
            key.span(),
            "the step is one of those that are done for each place already",
            "Take \"for_each\" out here, or end the steps above before this one",
        );
        findings.push(finding.with(each.span(), "these places"));
    }
    Some(last + 1)
}

/// So many ids are named, and compared with one that leads nowhere.
const MOST_NAMED: usize = 30;

/// A place, in words and as a part of an id.
struct Place {
    words: String,
    id: String,
}

/// Steps that are done for each of these places.
struct Run {
    places: Vec<Place>,
    span: Range<usize>,
    /// Their ids, which each copy has with its place behind them.
    ids: HashSet<String>,
}

impl Run {
    fn of(steps: &[Spanned<DeValue<'_>>], findings: &mut Vec<Finding>) -> Run {
        let each = steps.first().and_then(|step| get(step, "for_each"));
        let span = each.map_or(0..0, Spanned::span);
        let mut places: Vec<Place> = Vec::new();
        let mut known: HashMap<String, Range<usize>> = HashMap::new();
        for place in each.and_then(|each| each.get_ref().as_array()).into_iter().flat_map(|each| each.iter()) {
            let Some(words) = place.get_ref().as_str().filter(|words| !words.is_empty()) else { continue };
            let id = match id_of(words) {
                id if id.is_empty() => (places.len() + 1).to_string(),
                id => id,
            };
            if in_braces(words).is_some() {
                let what = format!("\"{words}\" has braces in it");
                findings.push(Finding::new(
                    Code::PlaceholderUnknown,
                    place.span(),
                    what,
                    "Write the place as it is said",
                ));
                continue;
            }
            if let Some(first) = known.get(&id) {
                let what = format!("\"{words}\" is there twice");
                let finding = Finding::new(Code::EachUnfit, place.span(), what, "Name each place once");
                findings.push(finding.with(first.clone(), "the first one"));
                continue;
            }
            known.insert(id.clone(), place.span());
            places.push(Place { words: words.to_owned(), id });
        }
        let ids = steps.iter().filter_map(|step| text(step, "id")).map(str::to_owned).collect();
        let mut named = false;
        for step in steps {
            placeholders(step, None, &mut named, findings);
        }
        if !named && !places.is_empty() {
            let right =
                "Write {place} where the place is to be said, such as say = \"Open the bleed nipple, {place}.\"";
            findings.push(Finding::new(Code::EachUnfit, span.clone(), "no text of these steps says the place", right));
            // They would all be the same, and found to be so.
            places.truncate(1);
        }
        Run { places, span, ids }
    }

    /// A step for one place, with its spans `base` further on.
    fn copy<'i>(&self, step: &Spanned<DeValue<'i>>, place: &Place, base: usize) -> Spanned<DeValue<'i>> {
        let mut copy = moved(step, base);
        if let DeValue::Table(keys) = copy.get_mut() {
            keys.remove("for_each");
            keys.remove("up_to");
            for (key, value) in keys.iter_mut() {
                match (key.get_ref().as_ref(), value.get_mut()) {
                    ("do", DeValue::Array(acts)) => {
                        for act in acts.iter_mut() {
                            let DeValue::Table(act) = act.get_mut() else { continue };
                            for (key, value) in act.iter_mut() {
                                // One that has no place in it was reported.
                                if let ("name", DeValue::String(name)) = (key.get_ref().as_ref(), value.get_mut())
                                    && !name.contains(PLACE)
                                {
                                    *name = format!("{name}-{}", place.id).into();
                                }
                                let is_id = !TEXTS_OF_ACTS.contains(&key.get_ref().as_ref());
                                fill(value, if is_id { &place.id } else { &place.words });
                            }
                        }
                    }
                    ("id" | "mirrors" | "again_from" | "if_no" | "after", DeValue::String(id)) => {
                        if self.ids.contains(id.as_ref()) && !id.contains(PLACE) {
                            *id = format!("{id}-{}", place.id).into();
                        }
                        fill(value, &place.id);
                    }
                    ("needs" | "if_outside", _) => fill(value, &place.id),
                    _ => fill(value, &place.words),
                }
            }
        }
        copy
    }
}

/// Keys of acts that hold words. All others name something.
const TEXTS_OF_ACTS: [&str; 7] = ["measure", "clean", "apply", "items", "otherwise", "source", "unit"];

/// Puts a place where it belongs, in all texts of a value.
fn fill(value: &mut Spanned<DeValue<'_>>, place: &str) {
    match value.get_mut() {
        DeValue::String(text) if text.contains(PLACE) => {
            let begins = text.starts_with(PLACE) && text.ends_with(['.', '?', '!']);
            let mut filled = text.replace(PLACE, place);
            // A sentence begins with a capital; a place by itself is a name.
            if let Some(first) = filled.chars().next().filter(|_| begins) {
                filled.replace_range(..first.len_utf8(), &first.to_uppercase().to_string());
            }
            *text = filled.into();
        }
        DeValue::Array(values) => values.iter_mut().for_each(|value| fill(value, place)),
        DeValue::Table(values) => values.iter_mut().for_each(|(_, value)| fill(value, place)),
        _ => {}
    }
}

/// Looks for the place in all texts of a step, and for anything else in braces.
fn placeholders(value: &Spanned<DeValue<'_>>, key: Option<&str>, named: &mut bool, findings: &mut Vec<Finding>) {
    match value.get_ref() {
        DeValue::String(text) => {
            *named |= text.contains(PLACE);
            if let Some(other) = in_braces(&text.replace(PLACE, "")) {
                let what = format!("\"{other}\" stands for nothing");
                let right = "Write {place} for the place; nothing else stands in braces";
                findings.push(Finding::new(Code::PlaceholderUnknown, value.span(), what, right));
            } else if key == Some("name") && !text.contains(PLACE) {
                let what = format!("the measurement \"{text}\" would have one name at each place");
                let right = format!("Write name = \"{text}-{PLACE}\"");
                findings.push(Finding::new(Code::EachUnfit, value.span(), what, right));
            }
        }
        DeValue::Array(values) => values.iter().for_each(|value| placeholders(value, key, named, findings)),
        DeValue::Table(values) => {
            for (key, value) in values.iter().filter(|(key, _)| !matches!(key.get_ref().as_ref(), "for_each" | "up_to"))
            {
                placeholders(value, Some(key.get_ref()), named, findings);
            }
        }
        _ => {}
    }
}

/// Something in braces, or a brace by itself.
fn in_braces(text: &str) -> Option<&str> {
    let from = text.find(['{', '}'])?;
    let end = text[from..].find('}').map_or(text.len(), |at| from + at + 1);
    text.get(from..end)
}

/// A place as a part of an id.
fn id_of(words: &str) -> String {
    let words = words.split(|c: char| !c.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
    words.map(str::to_ascii_lowercase).collect::<Vec<_>>().join("-")
}

fn get<'a, 'i>(step: &'a Spanned<DeValue<'i>>, key: &str) -> Option<&'a Spanned<DeValue<'i>>> {
    step.get_ref().as_table()?.get(key)
}

fn text<'a>(step: &'a Spanned<DeValue<'_>>, key: &str) -> Option<&'a str> {
    get(step, key)?.get_ref().as_str()
}

/// A step without the keys of this module, so that one of which they were wrong is still looked at.
fn without_keys<'i>(step: &Spanned<DeValue<'i>>) -> Spanned<DeValue<'i>> {
    let mut step = step.clone();
    if let DeValue::Table(keys) = step.get_mut() {
        keys.remove("for_each");
        keys.remove("up_to");
    }
    step
}

/// About how much text there is in a value.
fn size_of(value: &Spanned<DeValue<'_>>) -> usize {
    match value.get_ref() {
        DeValue::String(text) => text.len() + 1,
        DeValue::Array(values) => 1 + values.iter().map(size_of).sum::<usize>(),
        DeValue::Table(values) => {
            1 + values.iter().map(|(key, value)| key.get_ref().len() + size_of(value)).sum::<usize>()
        }
        _ => 1,
    }
}

/// The same value with its spans so much further on.
fn moved<'i>(value: &Spanned<DeValue<'i>>, by: usize) -> Spanned<DeValue<'i>> {
    let span = |span: Range<usize>| span.start + by..span.end + by;
    let inner = match value.get_ref() {
        DeValue::Array(values) => {
            let mut moved_values = DeArray::new();
            values.iter().for_each(|value| moved_values.push(moved(value, by)));
            DeValue::Array(moved_values)
        }
        DeValue::Table(values) => {
            DeValue::Table(values.iter().map(|(key, value)| (key_of(key, by), moved(value, by))).collect())
        }
        other => other.clone(),
    };
    Spanned::new(span(value.span()), inner)
}

fn key_of<'i>(key: &Spanned<Cow<'i, str>>, by: usize) -> Spanned<Cow<'i, str>> {
    let span = key.span();
    Spanned::new(span.start + by..span.end + by, key.get_ref().clone())
}
