//! Reading numbers and saying what is wrong with them.
//!
//! Only plain decimal numbers of a sensible size are read, so that no arithmetic done with them later can overflow.

use super::unit::Kind;
use rust_decimal::Decimal;

/// Most digits before the point.
const WHOLE_DIGITS: usize = 7;
/// Most digits after the point.
const PLACES: usize = 6;

/// A text that is not an amount: what was read, and which forms are allowed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is not {} {kind}: {problem}; a {kind} is written in {}", article(*kind), kind.forms())]
pub struct ParseError {
    /// What was read.
    pub text: String,
    /// What it should have been.
    pub kind: Kind,
    /// What is wrong with it.
    pub problem: Problem,
}

impl ParseError {
    /// This text is not of this kind, for this reason.
    pub(super) fn new(text: &str, kind: Kind, problem: Problem) -> ParseError {
        // A text of any length may come in; a message must stay readable.
        let mut text: String = text.trim().to_owned();
        if text.chars().count() > 60 {
            text = text.chars().take(60).chain(['…']).collect();
        }
        ParseError { text, kind, problem }
    }
}

/// What is wrong with a text that should be an amount.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Problem {
    /// It does not begin with a number.
    #[error("it does not begin with a number")]
    NoNumber,
    /// The number has a decimal comma.
    #[error("decimals follow a point, not a comma")]
    Comma,
    /// The number is not a plain decimal number.
    #[error("\"{0}\" is not a plain decimal number")]
    Number(String),
    /// The number has more digits than any real value.
    #[error(
        "\"{0}\" has more digits than a real value (at most {WHOLE_DIGITS} before the point and {PLACES} after it)"
    )]
    Digits(String),
    /// The unit is missing.
    #[error("the unit is missing")]
    NoUnit,
    /// The unit is of no kind known here.
    #[error("\"{0}\" is no unit of it")]
    UnknownUnit(String),
    /// The unit is that of another kind.
    #[error("\"{unit}\" is a unit of {kind}")]
    OtherKind {
        /// The unit as written.
        unit: String,
        /// What it is a unit of.
        kind: Kind,
    },
    /// The two ends of a window are the wrong way round or the same.
    #[error("the window must go from the smaller to the larger value")]
    Window,
    /// A window written in another way.
    #[error("a window is written with two dots (\"55..70\") or with ± (\"27 ± 3\")")]
    WindowForm,
    /// A window where one value is wanted.
    #[error("one value is wanted here, not a window")]
    NoWindow,
}

fn article(kind: Kind) -> &'static str {
    if kind == Kind::Angle { "an" } else { "a" }
}

/// Splits a text into the number it begins with and the rest, both trimmed.
pub(super) fn split_number(text: &str) -> (&str, &str) {
    let text = text.trim();
    let is_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '+' | '-' | '−');
    let end = text
        .char_indices()
        .find(|&(at, c)| !is_number(c) || text[at..].starts_with("..") || text[at..].starts_with("+/-"))
        .map_or(text.len(), |(at, _)| at);
    (text[..end].trim(), text[end..].trim())
}

/// Reads a plain decimal number.
pub(super) fn number(text: &str) -> Result<Decimal, Problem> {
    if text.is_empty() {
        return Err(Problem::NoNumber);
    }
    if text.contains(',') {
        return Err(Problem::Comma);
    }
    let (negative, digits) = match text.strip_prefix(['-', '−']) {
        Some(rest) => (true, rest),
        None => (false, text.strip_prefix('+').unwrap_or(text)),
    };
    let (whole, part) = digits.split_once('.').unwrap_or((digits, "0"));
    let plain = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    if !plain(whole) || !plain(part) {
        return Err(Problem::Number(text.to_owned()));
    }
    if whole.trim_start_matches('0').len() > WHOLE_DIGITS || part.len() > PLACES || whole.len() > 2 * WHOLE_DIGITS {
        return Err(Problem::Digits(text.chars().take(40).collect()));
    }
    let value = Decimal::from_str_exact(digits).map_err(|_| Problem::Number(text.to_owned()))?;
    Ok(if negative { -value } else { value })
}
