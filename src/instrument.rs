//! A measuring tool that sends its readings by itself: what a line of it looks like, as the settings describe it (`{number}
//! {unit}`, `ID,{number},{unit},{any}`), and the reading in it.
//!
//! Pure. Knows quantities. Leaves to `session` where the lines come from, and to the job whether a reading is awaited. A line is read from its first character to its last, or not at all: of half a number nobody knows the other half.

use crate::quantity::{Quantity, Unit};
use std::collections::BTreeMap;
use std::ops::Range;

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
    /// Nobody could tell where the number begins.
    #[error("pattern: \"{0}\" right before {{number}} could be part of it; put something else between them")]
    Beside(char),
    /// A comma could be the decimal sign.
    #[error("pattern: a comma beside {{number}} could be its decimal sign; say which it is, as in decimal = \".\"")]
    Comma,
    /// Something without a name.
    #[error("units: what the tool calls {0} is left empty, or begins like a number")]
    Name(String),
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
        let sign = match decimal.unwrap_or(".") {
            "." => '.',
            "," => ',',
            other => return Err(FormError::Decimal(other.to_owned())),
        };
        apart(&parts, sign, decimal.is_some())?;
        let decimal = sign;
        if let Some((_, means)) = units.iter().find(|(name, _)| name.trim().chars().next().is_none_or(of_numbers)) {
            return Err(FormError::Name(means.clone()));
        }
        let named = units.iter().map(|(name, means)| Ok((name.trim().to_owned(), unit(means)?)));
        let mut units = named.collect::<Result<Vec<_>, FormError>>()?;
        units.sort_by_key(|(name, _)| std::cmp::Reverse(name.len()));
        Ok(Form { parts, units, always: always.map(unit).transpose()?, decimal })
    }

    /// The reading in a line; nothing if the line is not of this form from one end to the other.
    pub fn read(&self, line: &str) -> Option<Quantity> {
        self.find(line).map(|(reading, _)| reading)
    }

    /// The same, with where its number stands in the line.
    pub fn find(&self, line: &str) -> Option<(Quantity, Range<usize>)> {
        let line = line.trim_end();
        let mut rest = line.trim_start();
        let (mut number, mut unit) = (None, self.always);
        for (n, part) in self.parts.iter().enumerate() {
            let next = self.parts.get(n + 1);
            rest = match part {
                Part::Text(text) => after(rest, text)?,
                Part::Number => {
                    let end = rest.find(|c: char| !self.of_number(c)).unwrap_or(rest.len());
                    // A sign that separates it from what follows is no part of it.
                    let digits = rest[..end].trim_end_matches(self.decimal);
                    let begin = line.len() - rest.len();
                    let stands = begin..begin + digits.len();
                    if !self.begins(n, &line[..stands.start]) || !self.ends(n, &line[stands.end..]) {
                        return None;
                    }
                    number = Some(stands);
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
        let number = number?;
        let digits = line[number.clone()].replace(self.decimal, ".");
        Some((format!("{digits} {}", unit?).parse().ok()?, number))
    }

    /// Can the number, the part of this index, begin behind this? Half a number is none.
    fn begins(&self, part: usize, before: &str) -> bool {
        let mut back = before.chars().rev();
        match (back.next(), back.next()) {
            // As the pattern has it, which was looked at.
            (Some(','), _) => self.text(part.checked_sub(1)).is_some_and(|text| text.ends_with(',')),
            (Some('.'), _) => self.text(part.checked_sub(1)).is_some_and(|text| text.ends_with('.')),
            (Some('e' | 'E'), Some(c)) => !of_numbers(c),
            (before, _) => !before.is_some_and(of_numbers),
        }
    }

    /// Can it end before this?
    fn ends(&self, part: usize, after: &str) -> bool {
        let mut next = after.chars();
        let Some(first) = next.next().filter(|c| !c.is_whitespace()) else { return true };
        if matches!(first, 'e' | 'E') && next.next().is_some_and(of_numbers) {
            return false;
        }
        match self.text(Some(part + 1)).map(str::trim_start) {
            Some("") => !of_numbers(first) && self.parts.get(part + 2) == Some(&Part::Unit),
            Some(text) => text.starts_with(first),
            None => !of_numbers(first),
        }
    }

    /// The literal text at this index.
    fn text(&self, part: Option<usize>) -> Option<&str> {
        match self.parts.get(part?)? {
            Part::Text(text) => Some(text),
            _ => None,
        }
    }

    fn of_number(&self, c: char) -> bool {
        c.is_ascii_digit() || c == self.decimal || matches!(c, '+' | '-')
    }

    /// The unit at the beginning of a text, and what is behind it.
    fn unit<'a>(&self, text: &'a str, next: Option<&Part>) -> Option<(Unit, &'a str)> {
        let end = length(text, next)?;
        let known = self.units.iter().find_map(|(name, unit)| {
            let after = text.strip_prefix(name.as_str())?;
            // All of it up to what the pattern says follows, and not the beginning of another.
            let whole = match next {
                Some(Part::Text(next)) if next.trim().is_empty() => {
                    after.is_empty() || after.starts_with(char::is_whitespace)
                }
                Some(Part::Text(next)) => after.trim_start().starts_with(next.trim()),
                _ => after.is_empty(),
            };
            whole.then_some((*unit, after))
        });
        known.or_else(|| Some((text[..end].trim().parse().ok()?, &text[end..])))
    }
}

/// Can it be part of a number?
fn of_numbers(c: char) -> bool {
    c.is_numeric() || matches!(c, '.' | ',' | '+' | '-' | '\u{2212}')
}

/// Can the number be told from the texts of the pattern on both sides of it? `named`: the settings say the decimal sign.
fn apart(parts: &[Part], decimal: char, named: bool) -> Result<(), FormError> {
    for pair in parts.windows(2) {
        match pair {
            [Part::Text(text), Part::Number] => match text.chars().next_back() {
                Some(',') if decimal != ',' && !named => return Err(FormError::Comma),
                Some(',' | '.') if text.ends_with(decimal) => return Err(FormError::Beside(decimal)),
                Some(',' | '.') => {}
                Some(c) if of_numbers(c) => return Err(FormError::Beside(c)),
                _ => {}
            },
            [Part::Number, Part::Text(text)] if text.trim_start().starts_with(',') && !named => {
                return Err(FormError::Comma);
            }
            _ => {}
        }
    }
    Ok(())
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

/// What comes after a literal text at the beginning of another.
fn after<'a>(mut rest: &'a str, text: &str) -> Option<&'a str> {
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
        let units = BTreeMap::from([("NM".to_owned(), "N·m".to_owned())]);
        let long = Form::new("W1,{any},{number},{unit};{any}", &units, None, Some(".")).unwrap();
        assert_eq!(read(&long, "W1,0007,38.5,NM;OK"), "38.5 N·m");
        assert_eq!(read(&long, "W2,0007,38.5,NM;OK"), "");
        assert_eq!(read(&long, "W1,0007,38.5,NM"), "");
    }

    #[test]
    fn no_number_is_cut_out_of_another() {
        let bare = |pattern: &str, decimal| Form::new(pattern, &BTreeMap::new(), Some("N·m"), decimal).unwrap();
        for (pattern, line, reading) in [
            ("{number} {any}", "38,5 Nm", ""),
            ("{number} {any}", "1.385E+02 Nm", ""),
            ("{number} {any}", "1.385e2", ""),
            ("{number} {any}", "38.5x7", ""),
            ("{number} {any}", "38.5 x7", "38.5 N·m"),
            ("1 {number}", "138.5", ""),
            ("1 {number}", "1 38.5", "38.5 N·m"),
            ("- {number}", "-38.5", ""),
            ("T, {number}", "T,5", ""),
            ("{any}E{number}", "1.385E02", ""),
            ("T{number}", "T38.5", "38.5 N·m"),
            ("{number};{any}", "38.5;OK", "38.5 N·m"),
            ("{number};{any}", "38.5 ;OK", ""),
        ] {
            assert_eq!(read(&bare(pattern, None), line), reading, "{pattern} {line}");
        }
        assert_eq!(read(&form("{number} {unit} {any}"), "1.3E2 NM x"), "");
        let told = |pattern: &str, decimal| Form::new(pattern, &BTreeMap::new(), Some("N·m"), decimal).unwrap_err();
        for pattern in ["T,{number}", "{number},{any}", "{number} ,{any}"] {
            assert_eq!(told(pattern, None), FormError::Comma);
            assert!(Form::new(pattern, &BTreeMap::new(), Some("N·m"), Some(".")).is_ok());
        }
        // "1,5" would be 5.
        assert_eq!(told("{any},{number}", Some(",")), FormError::Beside(','));
        assert_eq!(told("W1{number}", None), FormError::Beside('1'));
        assert_eq!(told("{any}.{number}", None), FormError::Beside('.'));
        assert_eq!(told("+{number}", None), FormError::Beside('+'));
    }

    #[test]
    fn no_unit_is_the_beginning_of_another() {
        let units = [("LB", "lbf·ft"), ("NM", "N·m")];
        let units = units.iter().map(|(a, b)| (a.to_string(), b.to_string())).collect();
        let form = |pattern| Form::new(pattern, &units, None, None).unwrap();
        for (pattern, line, reading) in [
            ("{number} {unit}", "28 LB", "28 lbf·ft"),
            ("{number} {unit}", "28 LB-IN", "28 lbf·in"),
            ("{number} {unit}", "28 LB-YD", ""),
            ("{number} {unit} {any}", "28 LB-YD OK", ""),
            ("{number} {unit} {any}", "28 LB OK", "28 lbf·ft"),
            ("{number} {unit};{any}", "28 LB-IN;OK", "28 lbf·in"),
            ("{number} {unit};{any}", "28 LB-YD;OK", ""),
            ("{number} {unit} ;{any}", "28 LB ;OK", "28 lbf·ft"),
        ] {
            assert_eq!(read(&form(pattern), line), reading, "{pattern} {line}");
        }
        let empty = BTreeMap::from([(" ".to_owned(), "N·m".to_owned())]);
        assert_eq!(Form::new("{number} {unit}", &empty, None, None).unwrap_err(), FormError::Name("N·m".into()));
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
        /// What is read stands in the line, digit for digit, and is no part of a longer number.
        #[test]
        fn nothing_is_read_that_is_not_there(line in "[ -~]{0,12}|[0-9.,+-eE]{0,3}[0-9]{1,3}[0-9.,+ eE-]{0,6} ?(NM|Nm|D|deg|x|)|a?[0-9]{0,2} ?[0-9.,+-]{1,8} ?(NM|Nm|D|deg|x)") {
            let bare = |pattern, decimal| Form::new(pattern, &BTreeMap::new(), Some("N·m"), decimal).unwrap();
            let forms = [
                form("{number} {unit}"),
                form("{any} {number} {unit}"),
                form("a{number}{unit}"),
                bare("{number} {any}", None),
                bare("1 {number} {any}", Some(",")),
                bare("{any}x{number}", None),
            ];
            for form in forms {
                let Some((reading, stands)) = form.find(&line) else { continue };
                let digits = line[stands.clone()].replace(form.decimal, ".");
                prop_assert_eq!(digits.parse().ok(), Some(reading.amount()), "{:?}", &line);
                let beside = [line[..stands.start].chars().next_back(), line[stands.end..].chars().next()];
                prop_assert!(!beside.into_iter().flatten().any(of_numbers), "{:?} {}", &line, reading);
            }
        }
    }
}
