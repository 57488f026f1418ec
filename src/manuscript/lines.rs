//! A text as lines that belong together, each with its marker ("3.", "b)", "-", "##").
//!
//! Knows nothing of what they mean.

/// What a line begins with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Marker {
    /// Nothing.
    None,
    /// A heading.
    Heading,
    /// A number, with its parts: "3", "3.2", "b".
    Number(String),
    /// A dash or a dot.
    Bullet,
}

/// A line with those that go on with it.
#[derive(Debug, Clone)]
pub(super) struct Line {
    /// The lines as they are in the text.
    pub raw: Vec<String>,
    pub marker: Marker,
    /// What stands behind the marker, without marks of emphasis, in one line.
    pub text: String,
    /// How far it is indented.
    pub indent: usize,
    /// There was an empty line before it.
    pub apart: bool,
}

/// The lines that have words.
pub(super) fn logical(text: &str) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    let mut apart = true;
    for raw in text.trim_start_matches('\u{feff}').lines() {
        // What no comment may hold would not be seen on paper either.
        let raw: String = raw.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        if !raw.chars().any(char::is_alphanumeric) {
            apart = true;
            continue;
        }
        let indent = raw.chars().take_while(|c| c.is_whitespace()).count();
        let plain: String = raw.trim().trim_start_matches('>').replace(['*', '`'], " ").replace("__", " ");
        // A star at the beginning is a bullet, twice it is emphasis.
        let star = raw.trim().starts_with("* ") || raw.trim().starts_with("+ ");
        let (marker, rest) = if star { (Marker::Bullet, plain.trim_start_matches('+')) } else { marker(plain.trim()) };
        let text = rest.split_whitespace().collect::<Vec<_>>().join(" ");
        let goes_on = !apart && marker == Marker::None && !keyed(&text);
        if let Some(last) = lines.last_mut().filter(|last| goes_on && takes_more(last, indent, &text)) {
            last.text = format!("{} {text}", last.text);
            last.raw.push(raw);
        } else {
            lines.push(Line { raw: vec![raw], marker, text, indent, apart });
        }
        apart = false;
    }
    lines
}

/// Is this line still part of the one before it? Only of one that has a marker, and was not at its end.
fn takes_more(last: &Line, indent: usize, text: &str) -> bool {
    let item = matches!(last.marker, Marker::Number(_) | Marker::Bullet);
    let ended = last.text.ends_with(['.', '!', '?', ':', ';']);
    let small = text.starts_with(|c: char| c.is_lowercase());
    (item && indent > last.indent && !ended) || ((item || keyed(&last.text)) && !ended && small)
}

/// "Caution: …", "Torque: …".
fn keyed(text: &str) -> bool {
    text.split_once(':').is_some_and(|(key, _)| key.split_whitespace().count() <= 4)
}

fn marker(line: &str) -> (Marker, &str) {
    if let Some(rest) = line.strip_prefix('#') {
        return (Marker::Heading, rest.trim_start_matches('#').trim_end_matches('#'));
    }
    for bullet in ["-", "–", "—", "•", "·", "+"] {
        if let Some(rest) = line.strip_prefix(bullet).filter(|rest| rest.starts_with(' ')) {
            return (Marker::Bullet, rest);
        }
    }
    let bare = line.strip_prefix("Step ").filter(|rest| rest.starts_with(|c: char| c.is_ascii_digit()));
    let open = line.strip_prefix('(');
    let body = bare.or(open).unwrap_or(line);
    let end = body.find(|c: char| !c.is_ascii_alphanumeric() && c != '.').unwrap_or(body.len());
    let (head, rest) = body.split_at(end);
    let number = head.trim_end_matches('.');
    let closed =
        rest.starts_with(')') || (open.is_none() && head.ends_with('.')) || (bare.is_some() && rest.starts_with(':'));
    let rest = rest.trim_start_matches([')', ':']);
    // "1.2 Remove" is numbered, "1.2 mm" is an amount.
    let dotted = number.contains('.') && rest.trim_start().starts_with(|c: char| c.is_uppercase());
    let spaced = rest.starts_with(' ');
    let parts = number.split('.').all(|part| !part.is_empty() && part.len() <= 4 && is_number(part));
    if parts && spaced && (closed || dotted) && number.len() <= 12 {
        return (Marker::Number(number.to_owned()), rest);
    }
    (Marker::None, line)
}

/// "12", "b", "iv".
fn is_number(part: &str) -> bool {
    part.chars().all(|c| c.is_ascii_digit())
        || (part.len() == 1 && part.chars().all(|c| c.is_ascii_alphabetic()))
        || part.chars().all(|c| matches!(c, 'i' | 'v' | 'x'))
}
