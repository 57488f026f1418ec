//! A value as a manual writes it ("62 Nm then a further 50°"), as the stages of a procedure.
//!
//! All of it or nothing: where one piece cannot be read there is no value.

use crate::quantity::{Angle, Limits, Torque};

/// A stage, its amount as the program writes it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Stage {
    Torque { amount: String, also: Option<String> },
    Angle(String),
}

impl Stage {
    /// As a procedure writes it.
    pub fn toml(&self) -> String {
        let quoted = super::write::quoted;
        match self {
            Stage::Torque { amount, also: None } => format!("{{ torque = {} }}", quoted(amount)),
            Stage::Torque { amount, also: Some(also) } => {
                format!("{{ torque = {}, also = {} }}", quoted(amount), quoted(also))
            }
            Stage::Angle(amount) => format!("{{ angle = {} }}", quoted(amount)),
        }
    }
}

/// What stands between two stages; the longest first.
const BETWEEN: [&str; 8] = [" followed by ", " and then ", " plus ", " then ", " and ", "+", ";", ","];

/// Words before an amount that say nothing more of it than its unit does.
const BEFORE: [&str; 12] = [
    "tightening torque",
    "torque",
    "angle",
    "then",
    "turn",
    "tighten",
    "a further",
    "an additional",
    "another",
    "to",
    "by",
    "through",
];

/// The stages of a value. Nothing where any of it cannot be read.
pub(super) fn stages(text: &str) -> Option<Vec<Stage>> {
    let text = text.trim().trim_end_matches('.');
    let mut stages = Vec::new();
    for piece in pieces(text) {
        stages.push(stage(piece.trim(), stages.len() + 1)?);
    }
    (!stages.is_empty()).then_some(stages)
}

fn pieces(text: &str) -> Vec<&str> {
    // Small letters of ASCII stand where the large ones did.
    let lower = text.to_ascii_lowercase();
    let (mut pieces, mut from, mut depth) = (Vec::new(), 0, 0u32);
    let mut at = 0;
    while let Some(c) = text[at..].chars().next() {
        match c {
            '(' => depth += 1,
            ')' => depth = depth.saturating_sub(1),
            _ => {}
        }
        let between = BETWEEN.iter().find(|between| depth == 0 && lower[at..].starts_with(**between));
        match between.filter(|_| !lower[at..].starts_with("+/-")) {
            Some(between) => {
                pieces.push(&text[from..at]);
                // The space behind a word may be the one before the next.
                at += if between.ends_with(' ') { between.len() - 1 } else { between.len() };
                from = at;
            }
            None => at += c.len_utf8(),
        }
    }
    pieces.push(&text[from..]);
    // ", then" leaves nothing between its two.
    if pieces.len() > 1 {
        pieces.retain(|piece| !piece.trim().is_empty());
    }
    pieces
}

fn stage(piece: &str, number: usize) -> Option<Stage> {
    let mut piece = piece;
    if let Some(rest) = strip_word(piece, "stage") {
        let end = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
        // "Stage 2" in the first place would be another order than the one that is written.
        if rest[..end].parse() != Ok(number) {
            return None;
        }
        piece = rest[end..].trim_start().trim_start_matches(':').trim_start();
    }
    while let Some(rest) = BEFORE.iter().find_map(|word| strip_word(piece, word)) {
        piece = rest.trim_start_matches(':').trim_start();
    }
    let (amount, also) = match piece.strip_suffix(')').and_then(|piece| piece.split_once('(')) {
        Some((amount, also)) => (amount.trim(), Some(also.trim())),
        None => (piece, None),
    };
    let amount = window(amount);
    if let Ok(torque) = amount.parse::<Limits<Torque>>() {
        let also = match also.map(|also| window(also).parse::<Limits<Torque>>()) {
            Some(Err(_)) => return None,
            Some(Ok(also)) => Some(also.to_string()),
            None => None,
        };
        return Some(Stage::Torque { amount: torque.to_string(), also });
    }
    let angle = amount.replace("degrees", "deg").replace("degree", "deg").parse::<Limits<Angle>>().ok()?;
    also.is_none().then(|| Stage::Angle(angle.to_string()))
}

fn strip_word<'a>(text: &'a str, word: &str) -> Option<&'a str> {
    let head = text.get(..word.len())?;
    let rest = &text[word.len()..];
    (head.eq_ignore_ascii_case(word) && rest.starts_with([' ', ':'])).then(|| rest.trim_start())
}

/// "60-70 Nm" and "60 to 70 Nm" are windows.
fn window(amount: &str) -> String {
    for between in ["-", "–", " to "] {
        if let Some((low, high)) = amount.split_once(between) {
            let (low, high) = (low.trim(), high.trim());
            let number = |text: &str| !text.is_empty() && text.chars().all(|c| c.is_ascii_digit() || c == '.');
            if number(low) && high.starts_with(|c: char| c.is_ascii_digit()) {
                return format!("{low}..{high}");
            }
        }
    }
    amount.to_owned()
}
