//! The procedure of the other side: "left" for "right" and the other way round, in what is said.
//!
//! In titles, names, places and sentences, and in the ids that go with them. What tells where something stands in the manual, and
//! for which vehicle, is left alone; so is every line in which left or right may be a way of turning or mean "correct". What is
//! left is told.

use super::MARK;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A file of the other side.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mirrored {
    /// Its text.
    pub toml: String,
    /// The lines that were changed, by number, as they are now.
    pub changed: Vec<(usize, String)>,
    /// The lines that name a side and were left, by number.
    pub left: Vec<(usize, String)>,
}

/// Keys whose texts are of the vehicle, the manual or the maker, not of the side.
const KEPT: [&str; 6] = ["vehicle", "source", "number", "thread", "drive", "stages"];

/// Words beside which left or right is a way of turning.
const TURNS: [&str; 13] = [
    "thread",
    "threads",
    "threaded",
    "turn",
    "turns",
    "turned",
    "turning",
    "rotate",
    "clockwise",
    "anticlockwise",
    "angle",
    "drive",
    "handed",
];

/// Before "turn" and "turns" these make an amount of it: "by half a turn".
const SO_MUCH: [&str; 16] = [
    "a", "one", "two", "three", "four", "five", "six", "half", "quarter", "full", "whole", "few", "each", "per", "2",
    "3",
];

/// Words that name a side and are not changed.
const OTHER_SIDES: [&str; 8] = ["lh", "rh", "lhs", "rhs", "nearside", "offside", "ns", "os"];

/// The same file with the sides of its words changed over; nothing where it is no TOML.
/// `name` is what it is called.
pub fn mirror(name: &str, text: &str) -> Result<Mirrored, toml::de::Error> {
    let mut texts = Vec::new();
    for (key, value) in DeTable::parse(text)?.get_ref() {
        of_value(key.get_ref(), value, &mut texts);
    }
    texts.sort_by_key(|span: &Range<usize>| span.start);
    let ask =
        format!("{MARK} The other side of {name}: look up each page, part number, place and value for this side.");
    let ask = ask.replace(char::is_control, " ");
    // What an editor is told stands in the first line.
    let first = usize::from(text.starts_with("#:"));
    let mut mirrored = Mirrored { toml: String::with_capacity(text.len()), changed: Vec::new(), left: Vec::new() };
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let (mut start, mut number) = (0, 0);
    for at in 0..=lines.len() {
        if at == first.min(lines.len()) {
            if !mirrored.toml.is_empty() && !mirrored.toml.ends_with('\n') {
                mirrored.toml.push('\n');
            }
            mirrored.toml.push_str(&ask);
            mirrored.toml.push('\n');
            number += 1;
        }
        let Some(line) = lines.get(at) else { break };
        let end = start + line.len();
        let swapped = line_of(text, start..end, &texts);
        number += 1;
        if swapped != *line {
            mirrored.changed.push((number, swapped.trim().to_owned()));
        }
        // A side that stands as it did, in a comment, a page or a number.
        let kept = words(line)
            .zip(words(&swapped))
            .any(|(was, is)| (other(was).is_some() && was == is) || OTHER_SIDES.contains(&was.to_lowercase().as_str()));
        if kept {
            mirrored.left.push((number, swapped.trim().to_owned()));
        }
        mirrored.toml.push_str(&swapped);
        start = end;
    }
    Ok(mirrored)
}

/// Where the texts below a key stand that may be changed.
fn of_value(key: &str, value: &Spanned<DeValue>, texts: &mut Vec<Range<usize>>) {
    if KEPT.contains(&key) {
        return;
    }
    match value.get_ref() {
        DeValue::String(_) => texts.push(value.span()),
        DeValue::Array(all) => all.iter().for_each(|one| of_value(key, one, texts)),
        DeValue::Table(table) => table.iter().for_each(|(key, value)| of_value(key.get_ref(), value, texts)),
        _ => {}
    }
}

/// A line with the sides changed over in its texts. All of it is left where one of them may not be touched: half a line would be
/// worse than none.
fn line_of(text: &str, line: Range<usize>, texts: &[Range<usize>]) -> String {
    let within = texts.iter().map(|span| span.start.max(line.start)..span.end.min(line.end));
    let within: Vec<Range<usize>> = within.filter(|span| span.start < span.end).collect();
    // A text of several lines is one text.
    let whole = texts.iter().filter(|span| span.start < line.end && span.end > line.start);
    if whole.clone().any(|span| is_of_turning(&text[span.clone()])) {
        return text[line].to_owned();
    }
    let (mut out, mut from) = (String::new(), line.start);
    for span in within {
        out.push_str(&text[from..span.start]);
        out.push_str(&swap(&text[span.clone()]));
        from = span.end;
    }
    out.push_str(&text[from..line.end]);
    out
}

/// May left or right be a way of turning in this text, or "right" be "correct"?
fn is_of_turning(text: &str) -> bool {
    let words: Vec<String> = words(text).map(str::to_lowercase).collect();
    if !words.iter().any(|word| other(word).is_some()) {
        return false;
    }
    words.iter().enumerate().any(|(at, word)| {
        let before = at.checked_sub(1).map_or("", |at| words[at].as_str());
        let after = words.get(at + 1).map_or("", String::as_str);
        match word.as_str() {
            "turn" | "turns" => !SO_MUCH.contains(&before),
            // The hub's drive shaft has a side, the vehicle's drive is another matter.
            "drive" => after != "shaft" && after != "shafts",
            "right" => {
                let correct = ["is", "are", "all", "not", "if", "whether", "until", "looks", "sits", "just", "come"];
                // "Is the gap right?"
                (after.is_empty() && before != "the" && text.to_lowercase().contains("right?"))
                    || correct.contains(&before)
                    || ["way", "order", "size", "amount", "value", "time", "away", "through", "down", "up", "into"]
                        .contains(&after)
            }
            // "Left as it is", "no play is left".
            "left" => ["is", "are", "be", "was", "has", "none", "nothing", "play"].contains(&before) || after == "over",
            word => TURNS.contains(&word),
        }
    })
}

/// The words of a text.
fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty())
}

fn swap(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut from = 0;
    let mut word = |text: &str| out.push_str(other(text).unwrap_or(text));
    for (at, c) in text.char_indices() {
        if !c.is_alphanumeric() {
            word(&text[from..at]);
            word(&text[at..at + c.len_utf8()]);
            from = at + c.len_utf8();
        }
    }
    word(&text[from..]);
    out
}

fn other(word: &str) -> Option<&'static str> {
    Some(match word {
        "left" => "right",
        "right" => "left",
        "Left" => "Right",
        "Right" => "Left",
        "LEFT" => "RIGHT",
        "RIGHT" => "LEFT",
        _ => return None,
    })
}
