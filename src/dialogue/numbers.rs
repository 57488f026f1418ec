//! Numbers in words: said and heard from one table of the language. Hearing them stands in `amounts`.
//!
//! Knows the table and nothing else. Which number is meant, and what for, is left to the callers.

use rust_decimal::Decimal;
use serde::Deserialize;
use std::collections::HashMap;

/// Largest whole number of which every wording is listed, for commands that take a number. Readings go further.
pub const LARGEST_HEARD: u32 = 999;

/// The table `[numbers]` of a language file.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct NumberWords {
    pub cardinals: Vec<String>,
    /// "One" before hundred and thousand, where it has a form of its own there.
    pub one_before: Option<String>,
    ordinals: Vec<String>,
    ordinal_endings: Vec<String>,
    pub hundreds: Vec<String>,
    pub hundreds_and_rest: Vec<String>,
    /// A nought between hundreds and ones ("one oh five"), heard only.
    pub hundreds_with_zero: Vec<String>,
    one_hundred: Vec<String>,
    one_hundred_and_rest: Vec<String>,
    pub thousands: String,
    pub thousands_and_rest: String,
    pub thousands_and_small_rest: String,
    /// Heard besides.
    pub thousands_heard: Vec<String>,
    pub point: String,
    pub minus: String,
    half: String,
    quarters_alone: [String; 3],
    pub quarters_after: [String; 3],
    pub quarters_written: [String; 3],
    /// Nought in a decimal, besides the cardinal.
    pub zeros: Vec<String>,
    /// Between a whole number and a part.
    pub and: String,
    pub parts: Vec<Part>,
    /// Of an inch: one, and after their number.
    pub one_thousandth: Vec<String>,
    pub thousandths: Vec<String>,
    /// Between a part and its unit.
    pub of_a: Vec<String>,
    /// Words that are typed and that no recogniser knows, each with the one that it stands for.
    pub typed_as: HashMap<String, String>,
}

/// What parts of one are called.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Part {
    /// How many of them make one.
    pub of: u32,
    /// Said of one of them.
    pub one: Vec<String>,
    /// Said of several, after their number; of halves there are none that are less than one.
    pub many: Option<String>,
    /// Are they parts of an inch wherever they are said? Nobody divides anything else so.
    #[serde(default)]
    pub inch: bool,
}

/// The table `[confusable]` of a language file.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Confusable {
    pairs: Vec<[u32; 2]>,
}

/// Numbers of one language, ready to say and to hear.
#[derive(Debug, Clone)]
pub struct Numbers {
    words: NumberWords,
    confusable: Vec<[u32; 2]>,
    heard: HashMap<String, u32>,
}

impl Numbers {
    /// Takes the tables as they stand in the file; the error is what is wrong with them.
    pub(super) fn new(words: NumberWords, confusable: Confusable) -> Result<Numbers, String> {
        if words.cardinals.len() != 100 {
            return Err(format!("`cardinals` must hold the words of 0 to 99, it holds {}", words.cardinals.len()));
        }
        for (name, patterns) in [("hundreds", &words.hundreds), ("hundreds_and_rest", &words.hundreds_and_rest)] {
            if patterns.is_empty() {
                return Err(format!("`{name}` must hold at least one pattern"));
            }
        }
        let mut numbers = Numbers { words, confusable: confusable.pairs, heard: HashMap::new() };
        for n in 0..=LARGEST_HEARD {
            for text in numbers.variants(n) {
                if let Some(other) = numbers.heard.insert(text.clone(), n)
                    && other != n
                {
                    return Err(format!("\"{text}\" is both {other} and {n}"));
                }
            }
        }
        Ok(numbers)
    }

    /// Every way to say a whole number that is also heard, the one the program says first. Empty past
    /// [`LARGEST_HEARD`].
    pub fn variants(&self, n: u32) -> Vec<String> {
        let card = |n: u32| self.words.cardinals[n as usize].as_str();
        let (hundreds, rest) = (n / 100, n % 100);
        let before = |n: u32| self.words.one_before.as_deref().filter(|_| n == 1).unwrap_or(card(n));
        match (hundreds, rest) {
            (0, _) => vec![card(n).to_owned()],
            (1..=9, 0) => {
                let also: &[String] = if hundreds == 1 { &self.words.one_hundred } else { &[] };
                let said = self.words.hundreds.iter().map(|p| p.replace("{hundreds}", before(hundreds)));
                said.chain(also.iter().cloned()).collect()
            }
            (1..=9, _) => {
                let also: &[String] = if hundreds == 1 { &self.words.one_hundred_and_rest } else { &[] };
                let patterns = self.words.hundreds_and_rest.iter().chain(also);
                patterns.map(|p| p.replace("{hundreds}", before(hundreds)).replace("{rest}", card(rest))).collect()
            }
            _ => Vec::new(),
        }
    }

    /// A whole number in words; from a million on digit by digit.
    pub fn say_whole(&self, n: u64) -> String {
        if n <= u64::from(LARGEST_HEARD) {
            return self.variants(n as u32).swap_remove(0);
        }
        if n >= 1_000_000 {
            return self.digits(&n.to_string());
        }
        let (thousands, rest) = (n / 1000, n % 1000);
        let before = self.words.one_before.clone().filter(|_| thousands == 1);
        let thousands = before.unwrap_or_else(|| self.say_whole(thousands));
        let pattern = match rest {
            0 => return self.words.thousands.replace("{thousands}", &thousands),
            1..100 => &self.words.thousands_and_small_rest,
            _ => &self.words.thousands_and_rest,
        };
        pattern.replace("{thousands}", &thousands).replace("{rest}", &self.say_whole(rest))
    }

    /// A number in words, with every digit it is written with: 70.0 is "seventy point zero".
    pub fn say(&self, n: Decimal) -> String {
        self.say_text(&n.to_string())
    }

    /// A number written with digits, an optional minus and an optional decimal point, in words.
    pub fn say_text(&self, text: &str) -> String {
        let (minus, text) = match text.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, text),
        };
        let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
        // A leading zero is part of a name, not of an amount.
        let mut said = match whole.parse::<u64>() {
            Ok(n) if !(whole.len() > 1 && whole.starts_with('0')) => self.say_whole(n),
            _ => self.digits(whole),
        };
        if !fraction.is_empty() {
            said = format!("{said} {} {}", self.words.point, self.digits(fraction));
        }
        if minus { format!("{} {said}", self.words.minus) } else { said }
    }

    /// The digits one by one; a decimal point by its word, anything else is left out.
    pub fn digits(&self, text: &str) -> String {
        let words = text.chars().filter_map(|c| match c {
            '.' => Some(self.words.point.as_str()),
            _ => c.to_digit(10).map(|d| self.words.cardinals[d as usize].as_str()),
        });
        words.collect::<Vec<_>>().join(" ")
    }

    /// Is there another number that sounds like it?
    pub fn confusable(&self, n: Decimal) -> bool {
        let tail = (n.abs().trunc() % Decimal::from(100)).to_string();
        tail.parse::<u32>().is_ok_and(|tail| self.confusable.as_flattened().contains(&tail))
    }

    /// The words of numbers below a hundred that sound like this one.
    pub(super) fn sounds_like(&self, n: u32) -> impl Iterator<Item = &String> {
        let other = move |[a, b]: &[u32; 2]| (*a == n).then_some(*b).or((*b == n).then_some(*a));
        self.confusable.iter().filter_map(other).filter_map(|n| self.words.cardinals.get(n as usize))
    }

    /// The n-th, if the language file goes that far.
    pub fn ordinal(&self, n: u64) -> Option<&str> {
        let at = usize::try_from(n.checked_sub(1)?).ok()?;
        self.words.ordinals.get(at).map(String::as_str)
    }

    /// What may stand after digits to make them an ordinal.
    pub(super) fn ordinal_endings(&self) -> &[String] {
        &self.words.ordinal_endings
    }

    /// The word for a decimal point.
    pub(super) fn point(&self) -> &str {
        &self.words.point
    }

    /// The word for a minus.
    pub(super) fn minus(&self) -> &str {
        &self.words.minus
    }

    /// So many quarters of a thing (1 to 3 of them past the whole ones), in words or written.
    pub(super) fn quarters(&self, quarters: u64, thing: &str, things: &str) -> String {
        let (whole, rest) = (quarters / 4, (quarters % 4) as usize);
        match (whole, rest) {
            (1, 0) => format!("{} {thing}", self.say_whole(1)),
            (_, 0) => format!("{} {things}", self.say_whole(whole)),
            (0, _) => self.words.quarters_alone[rest - 1].replace("{thing}", thing),
            _ => self.words.quarters_after[rest - 1]
                .replace("{whole}", &self.say_whole(whole))
                .replace("{things}", things),
        }
    }

    /// So many quarters as a number of them alone, "one and a half" without the thing.
    pub(super) fn quarters_bare(&self, quarters: u64) -> String {
        self.quarters(quarters, "", "").trim().to_owned()
    }

    /// So many quarters, written with digits and the sign of a fraction.
    pub(super) fn quarters_written(&self, quarters: u64) -> String {
        let sign = match quarters % 4 {
            0 => "",
            rest => &self.words.quarters_written[rest as usize - 1],
        };
        match quarters / 4 {
            0 if !sign.is_empty() => sign.to_owned(),
            whole => format!("{whole}{sign}"),
        }
    }

    /// The ways to say a whole number and a half, for the list of phrases.
    pub(super) fn and_a_half(&self, whole: u32) -> Vec<String> {
        self.variants(whole).iter().map(|said| format!("{said} {}", self.words.half)).collect()
    }

    /// A whole number that [`Numbers::variants`] lists.
    pub(super) fn small(&self, text: &str) -> Option<u32> {
        self.heard.get(text).copied()
    }

    pub(super) fn table(&self) -> &NumberWords {
        &self.words
    }
}
