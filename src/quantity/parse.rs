//! Reading numbers and saying what is wrong with them.
//!
//! Only plain numbers of a sensible size are read, so that no arithmetic done with them later can overflow. A fraction is
//! read as manuals print it ("1/2", "1 1/2", "1-1/2", "1½"), and only where it has an end as a decimal number.

use super::kind::Kind;
use rust_decimal::Decimal;

/// Most digits before the point.
const WHOLE_DIGITS: usize = 7;
/// Most digits after the point.
const PLACES: usize = 6;
/// Most bytes of a number as it is printed, signs, spaces and fraction counted.
const LONGEST: usize = 40;

/// A text that is not an amount: what was read, and which forms are allowed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is not {} {kind}: {problem}; {} {kind} is written in {}", article(*kind), article(*kind), kind.forms())]
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
    /// The unit is of one size in the United States and of another elsewhere.
    #[error("\"{0}\" is of two sizes: write it with US or imp, as the source means it")]
    TwoSizes(String),
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
    #[error("a window is written with two dots (\"55..70\"), as printed (\"55-70\") or with ± (\"27 ± 3\")")]
    WindowForm,
    /// A fraction that is none, or that no decimal number is equal to.
    #[error("\"{0}\" is no fraction that a decimal number is equal to")]
    Fraction(String),
    /// A window where one value is wanted.
    #[error("one value is wanted here, not a window")]
    NoWindow,
}

/// Words for a thousandth of an inch, the longest first, as manuals print it behind a number.
const THOUSANDTHS: &[&str] = &[
    "thousandths of an inch",
    "thousandth of an inch",
    "thousandths inch",
    "thousandths in.",
    "thousandths in",
    "thousandths",
    "thousandth",
    "thou.",
    "thou",
];

/// A text in thousandths of an inch with inches in their place ("8-10 thou" as "8-10 in"), a thousand times too large; `None` for
/// any other text.
pub(super) fn thousandths(text: &str) -> Option<String> {
    const NAMED: &str = "\u{1}";
    let text = text.trim();
    if text.len() > 2 * LONGEST + 60 {
        return None;
    }
    let lower = text.to_ascii_lowercase();
    THOUSANDTHS.iter().find(|word| lower.ends_with(**word))?;
    let marked = THOUSANDTHS.iter().fold(lower, |text, word| text.replace(word, NAMED));
    // Nothing else may be named: "8 in to 10 thou" has two units.
    let bare = marked.replace(" to ", " ");
    let other = |c: char| c.is_alphabetic() || matches!(c, '"' | '″' | '°' | '%');
    (!bare.contains(other)).then(|| marked.replace(NAMED, " in"))
}

/// What so many thousandths come to; `Err` if that has more places than are read.
pub(super) fn by_thousand(amount: Decimal) -> Result<Decimal, Problem> {
    let mut small = amount;
    let places = amount.scale() + 3;
    let fits = places as usize <= PLACES && small.set_scale(places).is_ok();
    if fits { Ok(small) } else { Err(Problem::Digits(amount.to_string())) }
}

fn article(kind: Kind) -> &'static str {
    if kind == Kind::Angle { "an" } else { "a" }
}

/// Splits a text into the number it begins with and the rest, both trimmed.
pub(super) fn split_number(text: &str) -> (&str, &str) {
    let text = text.trim();
    let end = text.char_indices().find(|&(at, c)| !belongs(text, at, c)).map_or(text.len(), |(at, _)| at);
    (text[..end].trim(), text[end..].trim())
}

/// Does the mark at this place still belong to the number that the text begins with?
fn belongs(text: &str, at: usize, mark: char) -> bool {
    let rest = &text[at..];
    match mark {
        _ if rest.starts_with("..") || rest.starts_with("+/-") => false,
        '0'..='9' | '.' | ',' | '+' | '-' | '−' => true,
        '/' => rest[1..].starts_with(|c: char| c.is_ascii_digit()),
        // "1 1/2", but not "1 in". Few spaces only, so that no run of them is looked through again and again.
        ' ' => {
            let after = rest.trim_start_matches(' ');
            rest.len() - after.len() <= 3 && fraction_begins(after)
        }
        _ => printed_fraction(mark).is_some(),
    }
}

/// Does a text begin with a fraction, such as "1/2 in" or "½ in"?
fn fraction_begins(text: &str) -> bool {
    let digits = text.trim_start_matches(|c: char| c.is_ascii_digit());
    let plain = digits.len() < text.len() && digits.starts_with('/');
    plain && digits[1..].starts_with(|c: char| c.is_ascii_digit())
        || text.starts_with(|c: char| printed_fraction(c).is_some())
}

/// The fractions that are one character, as they are written with two numbers.
fn printed_fraction(mark: char) -> Option<&'static str> {
    Some(match mark {
        '½' => "1/2",
        '¼' => "1/4",
        '¾' => "3/4",
        '⅛' => "1/8",
        '⅜' => "3/8",
        '⅝' => "5/8",
        '⅞' => "7/8",
        _ => return None,
    })
}

/// Where a window as manuals print it ("55-70", "55 - 70", "55–70", "55 to 70") goes from its low to its high end.
///
/// A unit may be written with both ends; then no digit stands before the word.
pub(super) fn printed_window(text: &str) -> Option<(&str, &str)> {
    let ends = |text: &str| text.trim_end().ends_with(|c: char| c.is_ascii_digit() || printed_fraction(c).is_some());
    let begins = |text: &str| {
        let text = text.trim_start();
        let text = text.strip_prefix('.').unwrap_or(text);
        text.starts_with(|c: char| c.is_ascii_digit() || printed_fraction(c).is_some())
    };
    // Where the word stands, a dash can only be that of "1-1/2".
    if let Some((low, high)) = text.split_once(" to ") {
        return begins(high).then_some((low, high));
    }
    let dash = text.char_indices().filter(|(_, c)| matches!(c, '-' | '−' | '–' | '—'));
    let mut windows = dash
        .map(|(at, c)| (&text[..at], &text[at + c.len_utf8()..]))
        .filter(|(low, high)| ends(low) && begins(high) && !mixed(low, high));
    let first = windows.next()?;
    windows.next().is_none().then_some(first)
}

/// Is the dash between these two that of "1-1/2"? Only a whole number that touches it, before a fraction that does; and
/// nobody writes a half as nought and a half, so "0-1/2" goes from nothing to a half.
fn mixed(low: &str, high: &str) -> bool {
    let whole = low.rsplit(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '/'))).next().unwrap_or_default();
    let plain = !whole.is_empty() && whole.bytes().all(|b| b.is_ascii_digit());
    plain && whole.bytes().any(|b| b != b'0') && fraction_begins(high)
}

/// Reads a number as it is printed: a decimal number, a fraction, or a whole number and a fraction.
pub(super) fn number(text: &str) -> Result<Decimal, Problem> {
    if text.len() > LONGEST {
        return Err(Problem::Digits(text.chars().take(LONGEST).collect()));
    }
    let no_fraction = || Problem::Fraction(text.to_owned());
    // A fraction that is one character is the end of its number.
    let end = text.chars().next_back().and_then(|mark| Some((text.strip_suffix(mark)?, printed_fraction(mark)?)));
    let plain = end.map_or_else(|| text.to_owned(), |(whole, fraction)| format!("{whole} {fraction}"));
    let Some((over, under)) = plain.trim().split_once('/') else {
        return if plain.contains(|c: char| printed_fraction(c).is_some()) {
            Err(no_fraction())
        } else {
            decimal(text)
        };
    };
    let (whole, over) = match over.rsplit_once([' ', '-']) {
        // Nobody writes a half as nought and a half, so it is another thing that was meant.
        Some((whole, _)) if whole.bytes().all(|b| matches!(b, b'0' | b' ')) => return Err(no_fraction()),
        Some((whole, over)) => (whole.trim(), over),
        None => ("0", over),
    };
    let plain = |s: &str| !s.is_empty() && s.len() <= 4 && s.bytes().all(|b| b.is_ascii_digit());
    if !plain(over) || !plain(under) || whole.contains('.') {
        return Err(no_fraction());
    }
    let (whole, over, under) = (decimal(whole)?, decimal(over)?, decimal(under)?);
    let part = over.checked_div(under).filter(|part| part.scale() as usize <= PLACES).ok_or_else(no_fraction)?;
    if whole.is_sign_negative() || part >= Decimal::ONE && !whole.is_zero() {
        return Err(no_fraction());
    }
    Ok((whole + part).normalize())
}

/// Reads a plain decimal number.
fn decimal(text: &str) -> Result<Decimal, Problem> {
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
    // American manuals print ".008".
    let digits = if digits.starts_with('.') { format!("0{digits}") } else { digits.to_owned() };
    let (whole, part) = digits.split_once('.').unwrap_or((&digits, "0"));
    let plain = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    if !plain(whole) || !plain(part) {
        return Err(Problem::Number(text.to_owned()));
    }
    if whole.trim_start_matches('0').len() > WHOLE_DIGITS || part.len() > PLACES || whole.len() > 2 * WHOLE_DIGITS {
        return Err(Problem::Digits(text.chars().take(40).collect()));
    }
    let value = Decimal::from_str_exact(&digits).map_err(|_| Problem::Number(text.to_owned()))?;
    Ok(if negative { -value } else { value })
}
