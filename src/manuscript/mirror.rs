//! The procedure of the other side: "left" for "right" and the other way round, in what is said.
//!
//! In titles, names, places and sentences, and in the ids that go with them. What tells where something stands in the manual is
//! left alone: it stands elsewhere for the other side, or it does not, and only the author can look.

use super::MARK;

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

/// Keys whose texts are of the manual or the maker, not of the side.
const KEPT: [&str; 2] = ["source", "number"];

/// The same file with the sides of its words changed over.
/// `name` is what it is called.
pub fn mirror(name: &str, text: &str) -> Mirrored {
    let mut mirrored = Mirrored { toml: String::with_capacity(text.len()), changed: Vec::new(), left: Vec::new() };
    let mut of_source = false;
    // What an editor is told stands in the first line.
    let first = usize::from(text.starts_with("#:"));
    let ask =
        format!("{MARK} The other side of {name}: look up each page, part number, place and value for this side.");
    let ask = ask.replace(char::is_control, " ");
    let mut lines: Vec<&str> = text.lines().collect();
    lines.insert(first.min(lines.len()), &ask);
    for (at, line) in lines.into_iter().enumerate() {
        let bare = line.trim_start();
        if bare.starts_with('[') && !bare.starts_with("[{") && bare.ends_with(']') {
            of_source = bare == "[source]";
        }
        let swapped = match of_source || bare.starts_with('#') {
            true => line.to_owned(),
            false => line_of(line),
        };
        if swapped != line {
            mirrored.changed.push((at + 1, swapped.trim().to_owned()));
        }
        if line == ask {
            mirrored.toml.push_str(&ask);
            mirrored.toml.push('\n');
            continue;
        }
        // A side that stands as it did, in a comment, a page or a number.
        if sides(line).zip(sides(&swapped)).any(|(was, is)| was.eq_ignore_ascii_case(is)) {
            mirrored.left.push((at + 1, swapped.trim().to_owned()));
        }
        mirrored.toml.push_str(&swapped);
        mirrored.toml.push('\n');
    }
    mirrored
}

/// A line of TOML with the sides changed over in its texts, but for those of keys that are kept and for its comment.
fn line_of(line: &str) -> String {
    let mut out = String::with_capacity(line.len());
    let mut key = String::new();
    let mut rest = line;
    while let Some(at) = rest.find(['"', '\'', '#']) {
        let (before, quote) = rest.split_at(at);
        if quote.starts_with('#') {
            break;
        }
        out.push_str(before);
        if let Some(named) = before.trim_end().strip_suffix('=') {
            key = named
                .trim_end()
                .rsplit(|c: char| !c.is_alphanumeric() && c != '_')
                .next()
                .unwrap_or_default()
                .to_owned();
        }
        let end = end_of(quote);
        let (text, behind) = quote.split_at(end);
        match KEPT.contains(&key.as_str()) {
            true => out.push_str(text),
            false => out.push_str(&swap(text)),
        }
        rest = behind;
    }
    out.push_str(rest);
    out
}

/// Where a text ends that begins with its quote.
fn end_of(text: &str) -> usize {
    let quote = text.chars().next();
    let mut escaped = false;
    for (at, c) in text.char_indices().skip(1) {
        match c {
            _ if escaped => escaped = false,
            '\\' if quote == Some('"') => escaped = true,
            c if Some(c) == quote => return at + 1,
            _ => {}
        }
    }
    text.len()
}

/// The words of a text that name a side.
fn sides(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !c.is_alphanumeric()).filter(|word| other(word).is_some())
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
