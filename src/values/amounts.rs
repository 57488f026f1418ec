//! A value as a manual writes it ("62 Nm then a further 50°"), as the stages of a procedure: for a page of values, and for a text of
//! which a procedure is drafted.
//!
//! All of it or nothing: where one piece cannot be read, or two can be read in two ways, there is no value.

use crate::procedure::in_two_units;
use crate::quantity::{Angle, Limits, Torque};

/// A stage, its amount as the program writes it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Stage {
    Torque { amount: String, also: Option<String> },
    Angle(String),
}

/// What stands between two amounts; the longest first.
const BETWEEN: [(&str, Between); 8] = [
    (" followed by ", Between::Then),
    (" and then ", Between::Then),
    (" plus ", Between::More),
    (" then ", Between::Then),
    (" and ", Between::Bare),
    ("+", Between::More),
    (";", Between::Bare),
    (",", Between::Bare),
];

/// How an amount follows the one before it, the plainest last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Between {
    /// Nothing says that it comes after it: it may be the same amount again, in another unit.
    Bare,
    /// It is added, or it comes after it.
    More,
    /// It comes after it.
    Then,
}

/// Words before an amount that say nothing more of it than its unit does.
const BEFORE: [&str; 4] = ["tightening torque", "torque", "then", "tighten"];

/// Words before an angle. Before a torque they would make another one of it.
const BEFORE_ANGLE: [&str; 8] =
    ["tightening angle", "angle", "turn", "a further", "an additional", "another", "by", "through"];

/// The stages of a value. Nothing where any of it cannot be read, or can be read in two ways.
pub(crate) fn stages(text: &str) -> Option<Vec<Stage>> {
    let text = text.trim().trim_end_matches('.').trim_end();
    // Behind the sign something is missing.
    if text.ends_with('+') {
        return None;
    }
    let mut all: Vec<Piece> = Vec::new();
    for (between, text) in pieces(text) {
        let piece = piece(text.trim(), all.len() + 1)?;
        let Some(last) = all.last_mut() else {
            all.push(piece);
            continue;
        };
        match (&mut *last, &piece) {
            (
                Piece { amount: Amount::Torque(first, also @ None), .. },
                Piece { amount: Amount::Torque(second, None), numbered: false, .. },
            ) if between == Between::Bare => {
                // "62 Nm, 46 lbf ft" is one amount; two of one unit, or two that disagree, are not to be told apart from a slip.
                if !in_two_units(first, second) {
                    return None;
                }
                *also = Some(*second);
            }
            (Piece { amount: Amount::Torque(first, _), .. }, Piece { amount: Amount::Torque(second, _), numbered, .. }) => {
                // "40 Nm then 20 Nm" and "40 Nm + 20 Nm" may mean 60.
                let higher = second.low() > first.high() && second.low().unit == first.low().unit;
                if !higher || (between != Between::Then && !numbered) {
                    return None;
                }
                all.push(piece);
            }
            (Piece { amount: Amount::Torque(..), .. }, Piece { amount: Amount::Angle(_), .. }) => all.push(piece),
            (Piece { amount: Amount::Angle(_), .. }, Piece { amount: Amount::Angle(_), numbered, to })
                // "90° then to 120°" may be the whole angle.
                if !to && (between != Between::Bare || *numbered) =>
            {
                all.push(piece);
            }
            (_, Piece { numbered: true, .. }) => all.push(piece),
            _ => return None,
        }
    }
    let stages = all.into_iter().map(|piece| match piece.amount {
        Amount::Torque(torque, also) => {
            Stage::Torque { amount: torque.to_string(), also: also.map(|also| also.to_string()) }
        }
        Amount::Angle(angle) => Stage::Angle(angle.to_string()),
    });
    Some(stages.collect::<Vec<_>>()).filter(|stages| !stages.is_empty())
}

fn pieces(text: &str) -> Vec<(Between, &str)> {
    // Small letters of ASCII stand where the large ones did.
    let lower = text.to_ascii_lowercase();
    let (mut pieces, mut from, mut depth) = (Vec::new(), 0, 0u32);
    let (mut at, mut before) = (0, Between::Bare);
    while let Some(c) = text[at..].chars().next() {
        match c {
            '(' => depth += 1,
            ')' => depth = depth.saturating_sub(1),
            _ => {}
        }
        let between = BETWEEN.iter().find(|(between, _)| depth == 0 && lower[at..].starts_with(between));
        match between.filter(|_| !lower[at..].starts_with("+/-")) {
            Some((between, kind)) => {
                // ", then" leaves nothing between its two.
                match text[from..at].trim().is_empty() && !pieces.is_empty() {
                    true => before = before.max(*kind),
                    false => {
                        pieces.push((before, &text[from..at]));
                        before = *kind;
                    }
                }
                // The space behind a word may be the one before the next.
                at += if between.ends_with(' ') { between.len() - 1 } else { between.len() };
                from = at;
            }
            None => at += c.len_utf8(),
        }
    }
    if pieces.is_empty() || !text[from..].trim().is_empty() {
        pieces.push((before, &text[from..]));
    }
    pieces
}

enum Amount {
    Torque(Limits<Torque>, Option<Limits<Torque>>),
    Angle(Limits<Angle>),
}

struct Piece {
    amount: Amount,
    /// It says which stage it is.
    numbered: bool,
    /// "to" stands before it.
    to: bool,
}

fn piece(text: &str, number: usize) -> Option<Piece> {
    let (mut piece, mut numbered) = (text, false);
    if let Some(rest) = strip_word(piece, "then") {
        piece = rest;
    }
    if let Some(rest) = strip_word(piece, "stage") {
        let end = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
        // "Stage 2" in the first place would be another order than the one that is written.
        if rest[..end].parse() != Ok(number) {
            return None;
        }
        numbered = true;
        piece = rest[end..].trim_start().trim_start_matches(':').trim_start();
    }
    let (mut to, mut of_angle) = (false, false);
    loop {
        let strip = |words: &[&str]| words.iter().find_map(|word| strip_word(piece, word));
        let rest = if let Some(rest) = strip(&BEFORE) {
            rest
        } else if let Some(rest) = strip(&BEFORE_ANGLE) {
            of_angle = true;
            rest
        } else if let Some(rest) = strip(&["to"]) {
            to = true;
            rest
        } else {
            break;
        };
        piece = rest.trim_start_matches(':').trim_start();
    }
    let (amount, also) = match piece.strip_suffix(')').and_then(|piece| piece.split_once('(')) {
        Some((amount, also)) => (amount.trim(), Some(also.trim())),
        None => (piece, None),
    };
    if let Ok(torque) = amount.parse::<Limits<Torque>>() {
        let also = match also {
            Some(also) => {
                let also = also.parse().ok()?;
                Some(also).filter(|also| in_two_units(&torque, also)).map(Some)?
            }
            None => None,
        };
        return (!of_angle).then_some(Piece { amount: Amount::Torque(torque, also), numbered, to });
    }
    let angle = amount.replace("degrees", "deg").replace("degree", "deg").parse::<Limits<Angle>>().ok()?;
    also.is_none().then_some(Piece { amount: Amount::Angle(angle), numbered, to })
}

fn strip_word<'a>(text: &'a str, word: &str) -> Option<&'a str> {
    let head = text.get(..word.len())?;
    let rest = &text[word.len()..];
    (head.eq_ignore_ascii_case(word) && rest.starts_with([' ', ':'])).then(|| rest.trim_start())
}
