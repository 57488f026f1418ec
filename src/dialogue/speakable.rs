//! Written text to speakable text: numbers, units, threads, pages and signs in words.
//!
//! Texts of a procedure are written by people for the eye ("M12 x 1.5", "18 mm", "page 4-12"). The voice gets words
//! only. What is not known here is left as it stands and never dropped; no digit is left.

use super::numbers::Numbers;
use super::units::{UnitWords, Units};
use serde::Deserialize;
use std::collections::BTreeMap;

/// The table `[speakable]` of a language file.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Speakable {
    thread: String,
    thread_coarse: String,
    by: String,
    to: String,
    dash: String,
    over: String,
    plural_before: Vec<String>,
    fractions: BTreeMap<String, String>,
    signs: BTreeMap<String, String>,
}

/// Longest run of digits that is said as one number; longer ones are names and read digit by digit.
const LONGEST_NUMBER: usize = 5;

/// Which confusable numbers are read digit by digit as well.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum DigitsOf {
    /// Those with a unit.
    Amounts,
    /// All, as for the size of a tool ("T15").
    All,
    /// None: the words are to be heard.
    Nothing,
}

/// Turns written text into speakable text.
pub(super) struct Speaker<'a> {
    pub numbers: &'a Numbers,
    pub units: &'a Units,
    pub words: &'a Speakable,
}

/// What a scan found at a place: how many characters it covers, and the words for them.
type Found = Option<(usize, String)>;

impl Speaker<'_> {
    /// The text in words.
    pub fn speak(&self, text: &str, digits_of: DigitsOf) -> String {
        let chars: Vec<char> = text.chars().collect();
        let mut out = String::with_capacity(text.len() * 2);
        let mut at = 0;
        while at < chars.len() {
            let rest = &chars[at..];
            let before = at.checked_sub(1).map(|i| chars[i]);
            let found = self
                .thread(rest, before)
                .or_else(|| self.number(rest, before, digits_of))
                .or_else(|| self.unit_alone(rest, before))
                .or_else(|| self.sign(rest));
            match found {
                Some((length, words)) => {
                    separate(&mut out);
                    out.push_str(&words);
                    at += length;
                    if chars.get(at).is_some_and(|c| c.is_alphanumeric() || *c == '"') {
                        out.push(' ');
                    }
                }
                None => {
                    out.push(chars[at]);
                    at += 1;
                }
            }
        }
        tidy(&out)
    }

    /// "M12", "M12 x 1.5".
    fn thread(&self, rest: &[char], before: Option<char>) -> Found {
        if before.is_some_and(char::is_alphanumeric) || rest.first() != Some(&'M') {
            return None;
        }
        let (size, length) = figure(&rest[1..])?;
        let mut end = 1 + length;
        if let Some((pitch, length)) = self.after(&rest[end..], &["x", "×", "X"]) {
            end += length;
            let words = self.words.thread.replace("{size}", &self.numbers.say_text(&size));
            return ends_here(rest, end).then(|| (end, words.replace("{pitch}", &self.numbers.say_text(&pitch))));
        }
        let words = self.words.thread_coarse.replace("{size}", &self.numbers.say_text(&size));
        ends_here(rest, end).then_some((end, words))
    }

    /// Anything that begins with a digit, or with a minus before one.
    fn number(&self, rest: &[char], before: Option<char>, digits_of: DigitsOf) -> Found {
        let inside_word = before.is_some_and(|c| c.is_alphanumeric());
        if matches!(rest.first(), Some('-' | '−' | '–')) && !before.is_some_and(|c| !c.is_whitespace() && c != '(')
        {
            let (length, words) = self.number(&rest[1..], None, digits_of)?;
            return Some((length + 1, format!("{} {words}", self.numbers.minus())));
        }
        let (first, mut end) = figure(rest)?;
        if !inside_word && let Some((words, length)) = self.ordinal(&first, &rest[end..]) {
            return Some((end + length, words));
        }
        if let Some((second, length)) = self.after(&rest[end..], &["/"]) {
            let key = format!("{first}/{second}");
            let fraction = match self.words.fractions.get(&key) {
                Some(words) => words.clone(),
                None => format!("{} {} {}", self.say(&first), self.words.over, self.say(&second)),
            };
            end += length;
            return Some(match self.unit_after(&rest[end..]) {
                Some((unit, length)) => (end + length, format!("{fraction} {}", unit.one)),
                None => (end, fraction),
            });
        }
        let joined = self
            .after(&rest[end..], &["...", "..", "…", "–", "—"])
            .map(|(second, length)| (second, length, self.words.to.as_str(), true))
            .or_else(|| {
                let (second, length) = self.after(&rest[end..], &["-"])?;
                // "55-70°" is a window, "page 4-12" is a name.
                let window = self.unit_after(&rest[end + length..]).is_some();
                Some((second, length, if window { &self.words.to } else { &self.words.dash }, window))
            })
            .or_else(|| {
                let (second, length) = self.after(&rest[end..], &["x", "×"])?;
                Some((second, length, self.words.by.as_str(), true))
            });
        let mut figures = vec![first];
        let mut words = self.say(&figures[0]);
        let mut joint = "";
        if let Some((second, length, joint_word, _)) = joined {
            joint = joint_word;
            words = format!("{words} {joint} {}", self.say(&second));
            figures.push(second);
            end += length;
        }
        let mut digits_wanted = digits_of == DigitsOf::All;
        if !inside_word && let Some((unit, length)) = self.unit_after(&rest[end..]) {
            let written: String = rest[end..end + length].iter().collect();
            end += length;
            // Where the unit is written as a word, its author chose the number of it.
            let one = match written.trim() {
                word if word == unit.one => true,
                word if word == unit.many => false,
                _ => figures.len() == 1 && figures[0] == "1" || self.describes(&rest[end..]),
            };
            words = format!("{words} {}", if one { &unit.one } else { &unit.many });
            digits_wanted = true;
        }
        let confusable = |f: &String| f.len() <= LONGEST_NUMBER && f.parse().is_ok_and(|n| self.numbers.confusable(n));
        if digits_wanted && digits_of != DigitsOf::Nothing && figures.iter().any(confusable) {
            let digits: Vec<String> = figures.iter().map(|f| self.numbers.digits(f)).collect();
            words = format!("{words}, {}", digits.join(&format!(" {joint} ")));
            // A pause after the digits too, where the sentence goes on.
            if rest.get(end) == Some(&' ') {
                words.push(',');
            }
        }
        Some((end, words))
    }

    fn say(&self, figure: &str) -> String {
        let whole = figure.split('.').next().unwrap_or_default();
        if whole.len() > LONGEST_NUMBER { self.numbers.digits(figure) } else { self.numbers.say_text(figure) }
    }

    fn ordinal(&self, figure: &str, rest: &[char]) -> Option<(String, usize)> {
        let ending = self.numbers.ordinal_endings().iter().find(|e| starts_with(rest, e))?;
        let length = ending.chars().count();
        let words = self.numbers.ordinal(figure.parse().ok()?)?;
        ends_here(rest, length).then(|| (words.to_owned(), length))
    }

    /// A second number after one of these joints, spaces allowed.
    fn after(&self, rest: &[char], joints: &[&str]) -> Option<(String, usize)> {
        let spaces = leading_spaces(rest);
        let joint = joints.iter().find(|joint| starts_with(&rest[spaces..], joint))?;
        let mut at = spaces + joint.chars().count();
        let more = leading_spaces(&rest[at..]);
        // "bolt 2 - 3 turns" is a dash between thoughts, not a name.
        if *joint == "-" && spaces + more > 0 {
            return None;
        }
        at += more;
        let (figure, length) = figure(&rest[at..])?;
        Some((figure, at + length))
    }

    /// A unit after a number, one space allowed.
    fn unit_after(&self, rest: &[char]) -> Option<(&UnitWords, usize)> {
        let spaces = leading_spaces(rest).min(1);
        let (unit, length) = self.units.spelled_at(&rest[spaces..], false)?;
        ends_here(rest, spaces + length).then_some((unit, spaces + length))
    }

    /// A unit that stands without a number, where it is not a word as well.
    fn unit_alone(&self, rest: &[char], before: Option<char>) -> Found {
        if before.is_some_and(char::is_alphanumeric) {
            return None;
        }
        let (unit, length) = self.units.spelled_at(rest, true)?;
        ends_here(rest, length).then(|| (length, unit.many.clone()))
    }

    fn sign(&self, rest: &[char]) -> Found {
        let longest = self.words.signs.iter().filter(|(sign, _)| starts_with(rest, sign));
        let (sign, words) = longest.max_by_key(|(sign, _)| sign.len())?;
        Some((sign.chars().count(), words.clone()))
    }

    /// Does a word follow that the amount describes ("18 mm hex")?
    fn describes(&self, rest: &[char]) -> bool {
        if rest.first() != Some(&' ') {
            return false;
        }
        let word: String = rest[1..].iter().take_while(|c| c.is_alphanumeric()).collect();
        let letters = !word.is_empty() && word.chars().all(char::is_alphabetic);
        letters && !self.words.plural_before.iter().any(|w| *w == word.to_lowercase())
    }
}

/// Digits with an optional decimal part at the start: the figure without separators of thousands, and its length.
fn figure(rest: &[char]) -> Option<(String, usize)> {
    let digits = |from: usize| rest[from..].iter().take_while(|c| c.is_ascii_digit()).count();
    let mut end = digits(0);
    if end == 0 {
        return None;
    }
    let mut figure: String = rest[..end].iter().collect();
    while rest.get(end) == Some(&',') && digits(end + 1) == 3 {
        figure.extend(&rest[end + 1..end + 4]);
        end += 4;
    }
    if rest.get(end) == Some(&'.') && digits(end + 1) > 0 {
        let length = digits(end + 1);
        figure.push('.');
        figure.extend(&rest[end + 1..end + 1 + length]);
        end += 1 + length;
    }
    Some((figure, end))
}

fn starts_with(rest: &[char], text: &str) -> bool {
    let mut rest = rest.iter();
    text.chars().all(|c| rest.next() == Some(&c))
}

fn leading_spaces(rest: &[char]) -> usize {
    rest.iter().take_while(|c| **c == ' ').count()
}

/// Is there no letter or digit at `end`, so that a word ends there?
fn ends_here(rest: &[char], end: usize) -> bool {
    !rest.get(end).is_some_and(|c| c.is_alphanumeric())
}

/// Puts a space before words that follow a letter or a closing mark directly ("T40").
fn separate(out: &mut String) {
    if out.chars().next_back().is_some_and(|c| c.is_alphanumeric() || matches!(c, '.' | ',' | '-')) {
        out.push(' ');
    }
}

/// Single spaces, none before a mark, and no two marks in a row.
fn tidy(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if c.is_whitespace() {
            if !out.is_empty() && !out.ends_with(' ') {
                out.push(' ');
            }
        } else if matches!(c, ',' | '.' | ';' | ':' | '!' | '?') {
            while out.ends_with(' ') {
                out.pop();
            }
            match out.chars().next_back() {
                None => {}
                Some(',' | ';' | ':') => {
                    out.pop();
                    out.push(if c == ',' { ',' } else { c });
                }
                Some('.' | '!' | '?') if c != '!' && c != '?' => {}
                _ => out.push(c),
            }
        } else {
            out.push(c);
        }
    }
    out.trim_end_matches([' ', ',']).to_owned()
}
