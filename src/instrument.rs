//! A measuring tool that sends its readings by itself: what a line of it looks like, as the settings describe it (`{number}
//! {unit}`, `ID,{number},{unit},{any}`), and the reading in it.
//!
//! Pure. Knows quantities. Leaves to `session` where the lines come from, and to the job whether a reading is awaited. A line is read from its first character to its last, or not at all: of half a number nobody knows the other half.

use crate::quantity::{Quantity, Unit};
use std::collections::BTreeMap;

/// Why a description of lines is of no use.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FormError {
    /// The number must be in it, once.
    #[error("pattern: it needs {{number}} once, as in \"{{number}} {{unit}}\"")]
    Number,
    /// The unit may be in it once.
    #[error("pattern: {{unit}} stands in it twice")]
    Units,
    /// Nobody says the unit.
    #[error("pattern: without {{unit}} in it, the settings must name the unit: unit = \"N·m\"")]
    NoUnit,
    /// Both say the unit.
    #[error("unit: the pattern has {{unit}} in it already; leave one of them out")]
    TwoUnits,
    /// Something else in braces, or two things in braces with nothing between them.
    #[error("pattern: \"{0}\" cannot stand there; {{number}}, {{unit}} and {{any}} can, with something between them")]
    Slot(String),
    /// This is no unit.
    #[error("{0}")]
    Unit(String),
    /// A decimal sign that is none.
    #[error("decimal: \"{0}\" is neither \".\" nor \",\"")]
    Decimal(String),
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Part {
    /// This very text; each blank in it stands for any number of them, or none.
    Text(String),
    Number,
    Unit,
    /// Whatever it is, up to what follows in the pattern.
    Any,
}

/// What a line looks like.
#[derive(Debug, Clone)]
pub struct Form {
    parts: Vec<Part>,
    /// What the tool calls units, longest first.
    units: Vec<(String, Unit)>,
    /// The unit of lines that name none.
    always: Option<Unit>,
    decimal: char,
}

impl Form {
    /// A form by its pattern, what the tool calls units, the unit of all lines if they name none, and its decimal sign.
    pub fn new(
        pattern: &str,
        units: &BTreeMap<String, String>,
        always: Option<&str>,
        decimal: Option<&str>,
    ) -> Result<Form, FormError> {
        let unit = |text: &str| text.parse::<Unit>().map_err(|e| FormError::Unit(e.to_string()));
        let parts = parts(pattern)?;
        let count = |wanted: &Part| parts.iter().filter(|part| *part == wanted).count();
        if count(&Part::Number) != 1 {
            return Err(FormError::Number);
        }
        match (count(&Part::Unit), always) {
            (0, None) => return Err(FormError::NoUnit),
            (0, Some(_)) | (1, None) => {}
            (1, Some(_)) => return Err(FormError::TwoUnits),
            _ => return Err(FormError::Units),
        }
        let decimal = match decimal.unwrap_or(".") {
            "." => '.',
            "," => ',',
            other => return Err(FormError::Decimal(other.to_owned())),
        };
        let named = units.iter().map(|(name, means)| Ok((name.trim().to_owned(), unit(means)?)));
        let mut units = named.collect::<Result<Vec<_>, FormError>>()?;
        units.sort_by_key(|(name, _)| std::cmp::Reverse(name.len()));
        Ok(Form { parts, units, always: always.map(unit).transpose()?, decimal })
    }

    /// The reading in a line; nothing if the line is not of this form from one end to the other.
    pub fn read(&self, line: &str) -> Option<Quantity> {
        let mut rest = line.trim();
        let (mut number, mut unit) = (None, self.always);
        for (n, part) in self.parts.iter().enumerate() {
            let next = self.parts.get(n + 1);
            rest = match part {
                Part::Text(text) => behind(rest, text)?,
                Part::Number => {
                    let end = rest.find(|c: char| !self.of_number(c)).unwrap_or(rest.len());
                    // A sign that separates it from what follows is no part of it.
                    let digits = rest[..end].trim_end_matches(self.decimal);
                    number = Some(digits);
                    &rest[digits.len()..]
                }
                Part::Unit => {
                    let (found, after) = self.unit(rest, next)?;
                    unit = Some(found);
                    after
                }
                Part::Any => &rest[length(rest, next)?..],
            };
        }
        if !rest.trim().is_empty() {
            return None;
        }
        // The one way in which numbers of a sensible size are read.
        format!("{} {}", number?.replace(self.decimal, "."), unit?).parse().ok()
    }

    fn of_number(&self, c: char) -> bool {
        c.is_ascii_digit() || c == self.decimal || matches!(c, '+' | '-')
    }

    /// The unit at the beginning of a text, and what is behind it.
    fn unit<'a>(&self, text: &'a str, next: Option<&Part>) -> Option<(Unit, &'a str)> {
        let end = length(text, next)?;
        let known = self.units.iter().find_map(|(name, unit)| {
            let after = text.strip_prefix(name.as_str())?;
            // All of the word, and not the beginning of another.
            let whole = name.len() == end || !after.starts_with(char::is_alphanumeric);
            whole.then_some((*unit, after))
        });
        known.or_else(|| Some((text[..end].trim().parse().ok()?, &text[end..])))
    }
}

/// How long a stretch is that goes on to what follows in the pattern.
fn length(text: &str, next: Option<&Part>) -> Option<usize> {
    match next {
        None => Some(text.len()),
        Some(Part::Text(next)) if next.trim().is_empty() => Some(text.find(char::is_whitespace).unwrap_or(text.len())),
        Some(Part::Text(next)) => text.find(next.trim()),
        Some(_) => None,
    }
}

/// What is behind a literal text at the beginning of another.
fn behind<'a>(mut rest: &'a str, text: &str) -> Option<&'a str> {
    for c in text.chars() {
        rest = match c.is_whitespace() {
            true => rest.trim_start(),
            false => rest.strip_prefix(c)?,
        };
    }
    Some(rest)
}

fn parts(pattern: &str) -> Result<Vec<Part>, FormError> {
    let mut parts = Vec::new();
    let mut rest = pattern.trim();
    while !rest.is_empty() {
        let slot = match rest.strip_prefix('{') {
            None => {
                let end = rest.find('{').unwrap_or(rest.len());
                parts.push(Part::Text(rest[..end].to_owned()));
                rest = &rest[end..];
                continue;
            }
            Some(slot) => slot,
        };
        let end = slot.find('}').ok_or_else(|| FormError::Slot(rest.to_owned()))?;
        let part = match &slot[..end] {
            "number" => Part::Number,
            "unit" => Part::Unit,
            "any" => Part::Any,
            _ => return Err(FormError::Slot(rest[..end + 2].to_owned())),
        };
        // "38.5Nm" can be told apart, two of the others cannot.
        let before = parts.last();
        if !matches!((before, &part), (None | Some(Part::Text(_)), _) | (Some(Part::Number), Part::Unit)) {
            return Err(FormError::Slot(rest[..end + 2].to_owned()));
        }
        parts.push(part);
        rest = &slot[end + 1..];
    }
    Ok(parts)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn form(pattern: &str) -> Form {
        let units = [("NM", "N·m"), ("FT LB", "lbf·ft"), ("D", "deg")];
        let units = units.iter().map(|(a, b)| (a.to_string(), b.to_string())).collect();
        Form::new(pattern, &units, None, None).unwrap()
    }

    fn read(form: &Form, line: &str) -> String {
        form.read(line).map_or_else(String::new, |reading| reading.to_string())
    }

    #[test]
    fn a_line_is_read_whole_or_not_at_all() {
        let plain = form("{number} {unit}");
        for (line, reading) in [
            ("38.5 Nm", "38.5 N·m"),
            ("  38.5\tNM\r", "38.5 N·m"),
            ("38.5NM", "38.5 N·m"),
            ("28 FT LB", "28 lbf·ft"),
            ("90 D", "90°"),
            ("90 deg", "90°"),
            ("38.5", ""),
            ("38.5 Nm 2", ""),
            ("Nm", ""),
            ("38,5 Nm", ""),
            ("38.5.1 Nm", ""),
            ("3 8.5 Nm", ""),
            ("99999999999 Nm", ""),
            ("38.5 furlongs", ""),
            ("38.5 NMX", ""),
            ("\u{0}38.5 Nm", ""),
            ("", ""),
        ] {
            assert_eq!(read(&plain, line), reading, "{line:?}");
        }
        let long = form("W1,{any},{number},{unit};{any}");
        assert_eq!(read(&long, "W1,0007,38.5,NM;OK"), "38.5 N·m");
        assert_eq!(read(&long, "W2,0007,38.5,NM;OK"), "");
        assert_eq!(read(&long, "W1,0007,38.5,NM"), "");
    }

    #[test]
    fn a_unit_or_a_comma_may_be_agreed_on() {
        let bare = Form::new("T {number}", &BTreeMap::new(), Some("N·m"), Some(",")).unwrap();
        assert_eq!(read(&bare, "T 38,5"), "38.5 N·m");
        assert_eq!(read(&bare, "T38,5"), "38.5 N·m");
        assert_eq!(read(&bare, "T 38.5"), "");
        assert_eq!(read(&bare, "T 1.038,5"), "");
        let commas = Form::new("{number},{unit}", &BTreeMap::new(), None, Some(",")).unwrap();
        assert_eq!(read(&commas, "38,5,Nm"), "38.5 N·m");
    }

    #[test]
    fn a_form_that_cannot_work_is_told() {
        let none = BTreeMap::new();
        let told = |pattern: &str, unit| Form::new(pattern, &none, unit, None).unwrap_err();
        assert_eq!(told("{unit}", None), FormError::Number);
        assert_eq!(told("{number} {number} {unit}", None), FormError::Number);
        assert_eq!(told("{number}", None), FormError::NoUnit);
        assert_eq!(told("{number} {unit}", Some("N·m")), FormError::TwoUnits);
        assert_eq!(told("{number} {unit} {unit}", None), FormError::Units);
        assert!(matches!(told("{any}{number} {unit}", None), FormError::Slot(_)));
        assert!(matches!(told("{nummer}", None), FormError::Slot(_)));
        assert!(matches!(told("{number", None), FormError::Slot(_)));
        assert!(matches!(told("{number}", Some("furlong")), FormError::Unit(_)));
        assert!(Form::new("{number}", &none, Some("N·m"), Some(";")).is_err());
    }

    proptest! {
        /// What is read stands in the line, digit for digit.
        #[test]
        fn nothing_is_read_that_is_not_there(line in "[ -~]{0,12}|[0-9.,+-]{1,8} ?(NM|Nm|D|deg|x)") {
            for form in [form("{number} {unit}"), form("{any} {number} {unit}"), form("a{number}{unit}{any}".trim_end_matches("{any}"))] {
                if let Some(reading) = form.read(&line) {
                    let digits = reading.amount().abs().normalize().to_string();
                    let zeros = line.replace('+', "");
                    prop_assert!(zeros.contains(digits.trim_start_matches("0.")) , "{line:?} {reading}");
                }
            }
        }
    }
}
