//! Words and figures to amounts: the other way of `numbers`, by the same table of the language.
//!
//! A text is taken whole or not at all: words that are left over are not dropped, they make it no number. Knows every form
//! that a number is said in (whole, decimal, quarters, fractions and thousandths of an inch, minus); not what it is for.

use super::numbers::{LARGEST_HEARD, NumberWords, Numbers};
use super::pattern::MOST_WORDS;
use crate::quantity::Kind;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// No amount is so large, and none has more decimals than this.
const TOO_LARGE: u32 = 1_000_000;
const MOST_DECIMALS: usize = 6;

/// A number that was said or typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Amount {
    pub number: Decimal,
    /// It can be of nothing but inches.
    pub inches: bool,
    /// It is less than one and was said as a part of one ("half", "three sixteenths"), so "of an" may follow.
    pub part: bool,
}

impl Amount {
    fn plain(number: Decimal) -> Amount {
        Amount { number, inches: false, part: false }
    }
}

impl Numbers {
    /// Understands words as a number, whatever form it has. `None` for anything else, and for what says its unit as well
    /// ("eleven thou").
    pub fn hear(&self, text: &str) -> Option<Decimal> {
        let words: Vec<&str> = text.split(' ').collect();
        self.amount(&words).filter(|amount| !amount.inches).map(|amount| amount.number)
    }

    /// Understands words or figures as an amount, all of them.
    pub(super) fn amount(&self, words: &[&str]) -> Option<Amount> {
        // Its ways to be parted grow with the third power of them.
        if words.len() > MOST_WORDS {
            return None;
        }
        let table = self.table();
        let words: Vec<&str> =
            words.iter().map(|word| table.typed_as.get(*word).map_or(*word, String::as_str)).collect();
        let mut words = words;
        let minus = match words.first().map(|first| (*first == table.minus, first.strip_prefix('-'))) {
            Some((true, _)) => {
                words.remove(0);
                true
            }
            Some((false, Some(figures))) => {
                words[0] = figures;
                true
            }
            _ => false,
        };
        let amount = self.thousandths(&words).or_else(|| self.part(&words)).or_else(|| self.mixed(&words))?;
        let amount =
            if minus && !amount.number.is_zero() { Amount { number: -amount.number, ..amount } } else { amount };
        let fits = amount.number.abs() < Decimal::from(TOO_LARGE) && amount.number.scale() as usize <= MOST_DECIMALS;
        fits.then_some(amount)
    }

    /// "Eleven thou", "two and a half thou".
    fn thousandths(&self, words: &[&str]) -> Option<Amount> {
        let inch = |number: Decimal| Amount { number: number.normalize(), inches: true, part: true };
        let thousandth = Decimal::new(1, 3);
        let (last, before) = words.split_last()?;
        let table = self.table();
        if table.one_thousandth.iter().any(|one| same(one, words)) {
            return Some(inch(thousandth));
        }
        table.thousandths.iter().any(|many| many == last).then_some(())?;
        let half = || self.of_a(before).find_map(|words| self.part(words));
        let many = self.mixed(before).or_else(half).filter(|amount| !amount.inches)?.number;
        (many < Decimal::from(1000)).then(|| inch(many * thousandth))
    }

    /// What stands before "of an" and its like, if the words end so.
    pub(super) fn of_a<'w>(&'w self, words: &'w [&'w str]) -> impl Iterator<Item = &'w [&'w str]> {
        self.table().of_a.iter().filter_map(|link| words.strip_suffix(&link.split(' ').collect::<Vec<_>>()[..]))
    }

    /// A part of one: "half", "three quarters", "five eighths", "5/8", "½".
    fn part(&self, words: &[&str]) -> Option<Amount> {
        if let [figures] = words
            && let Some(part) = self.part_in_figures(figures)
        {
            return Some(part);
        }
        self.table().parts.iter().find_map(|part| {
            if part.one.iter().any(|one| same(one, words)) {
                return portion(1, part.of, part.inch);
            }
            let many: Vec<&str> = part.many.as_ref()?.split(' ').collect();
            let count = words.strip_suffix(&many[..])?;
            let count = self.whole(count).or_else(|| figure(count)?.to_u64())?;
            portion(u32::try_from(count).ok().filter(|n| *n > 1)?, part.of, part.inch)
        })
    }

    fn part_in_figures(&self, figures: &str) -> Option<Amount> {
        if let Some(quarters) = self.table().quarters_written.iter().position(|sign| sign == figures) {
            return portion(quarters as u32 + 1, 4, false);
        }
        let (count, of) = figures.split_once('/')?;
        let whole = |text: &str| text.parse::<u32>().ok().filter(|_| text.bytes().all(|b| b.is_ascii_digit()));
        let (count, of) = (whole(count)?, whole(of)?);
        matches!(of, 2 | 4 | 8 | 16 | 32 | 64 | 1000).then(|| portion(count, of, of > 4)).flatten()
    }

    /// A plain number, or a whole one and a part.
    fn mixed(&self, words: &[&str]) -> Option<Amount> {
        if let Some(number) =
            figure(words).or_else(|| self.whole(words).map(Decimal::from)).or_else(|| self.decimal(words))
        {
            return Some(Amount::plain(number));
        }
        (1..words.len()).find_map(|at| {
            let (whole, rest) = words.split_at(at);
            let figures = figure(whole);
            // "3 and 0.5" is no number, and neither is "two point five and a half".
            let whole = figures.or_else(|| self.whole(whole).map(Decimal::from)).filter(|n| n.fract().is_zero())?;
            let part = self.quarters_after(rest).or_else(|| match rest.strip_prefix(&[self.table().and.as_str()]) {
                Some(rest) => self.part(rest),
                // "1 3/16" and "27½".
                None if figures.is_some() && rest.len() == 1 => self.part_in_figures(rest[0]),
                None => None,
            })?;
            Some(Amount { number: whole.checked_add(part.number)?.normalize(), inches: part.inches, part: false })
        })
    }

    /// "And a half" and its like, as they are said after whole numbers.
    fn quarters_after(&self, words: &[&str]) -> Option<Amount> {
        let found = self.quarter_endings().position(|ending| same(&ending, words))?;
        portion(found as u32 + 1, 4, false)
    }

    /// What is said for a quarter, a half and three quarters after a whole number.
    pub(super) fn quarter_endings(&self) -> impl Iterator<Item = String> {
        let bare = |pattern: &String| {
            let text = pattern.replace("{whole}", " ").replace("{things}", " ");
            text.split_whitespace().collect::<Vec<_>>().join(" ")
        };
        self.table().quarters_after.iter().map(bare)
    }

    /// A decimal, digit by digit; before the point a number, a word for nought, or nothing.
    fn decimal(&self, words: &[&str]) -> Option<Decimal> {
        let at = words.iter().position(|word| *word == self.table().point)?;
        let (whole, fraction) = (&words[..at], &words[at + 1..]);
        let whole = match whole {
            [] => 0,
            [zero] if self.is_zero(zero) => 0,
            _ => self.whole(whole)?,
        };
        if fraction.is_empty() || fraction.len() > MOST_DECIMALS {
            return None;
        }
        let digits: Option<String> = fraction.iter().map(|word| self.digit(word)).collect();
        Decimal::from_str_exact(&format!("{whole}.{}", digits?)).ok()
    }

    fn digit(&self, word: &str) -> Option<char> {
        if self.is_zero(word) {
            return Some('0');
        }
        let digit = self.table().cardinals[..10].iter().position(|c| c == word)?;
        char::from_digit(digit as u32, 10)
    }

    fn is_zero(&self, word: &str) -> bool {
        self.table().zeros.iter().any(|zero| zero == word)
    }

    /// A whole number below a million in words.
    fn whole(&self, words: &[&str]) -> Option<u64> {
        let small = |words: &[&str]| self.small(&words.join(" ")).map(u64::from);
        if let Some(n) = small(words) {
            return Some(n);
        }
        let table = self.table();
        let thousands = table.thousands_heard.iter().chain([
            &table.thousands,
            &table.thousands_and_rest,
            &table.thousands_and_small_rest,
        ]);
        for pattern in thousands {
            let before = |words: &[&str]| match words {
                [one] if table.one_before.as_deref() == Some(*one) => Some(1),
                _ => small(words).filter(|n| *n > 0),
            };
            let found = slots(pattern, words, &|name, words| match name {
                "{thousands}" => before(words),
                _ => small(words).filter(|n| *n > 0),
            });
            if let Some(found) = found {
                let of = |name| found.iter().find(|(slot, _)| *slot == name).map(|(_, n)| *n);
                return Some(1000 * of("{thousands}").unwrap_or(1) + of("{rest}").unwrap_or(0));
            }
        }
        // "Twelve hundred"; "twenty hundred" nobody says. "One oh five".
        for (pattern, tens) in table.hundreds_patterns() {
            let found = slots(pattern, words, &|name, words| {
                let n = small(words).filter(|n| (1..100).contains(n))?;
                let right = match name {
                    "{hundreds}" if tens => n > 10 && n % 10 != 0,
                    "{hundreds}" | "{ones}" => n < 10,
                    _ => true,
                };
                right.then_some(n)
            });
            if let Some(found) = found {
                return Some(found.iter().map(|(slot, n)| if *slot == "{hundreds}" { 100 * n } else { *n }).sum());
            }
        }
        None
    }

    /// Pieces that numbers of every form are put together from, as far as whole ones below a hundred do not have them: a
    /// recogniser that knows these can hear what it was given no list of. Parts of an inch are among them where a length is
    /// awaited; elsewhere "eight" would be heard as "eighths".
    pub(super) fn pieces(&self, kind: Kind) -> Vec<String> {
        let table = self.table();
        let length = kind == Kind::Length;
        let mut pieces: Vec<String> =
            table.cardinals[..10].iter().map(|digit| format!("{} {digit}", table.point)).collect();
        pieces.extend(table.zeros.iter().cloned());
        pieces.extend(table.zeros.iter().map(|zero| format!("{} {zero}", table.point)));
        pieces.push(table.minus.clone());
        pieces.extend(self.quarter_endings());
        let parts = || table.parts.iter().filter(|part| length || !part.inch);
        for part in parts() {
            pieces.extend(part.one.iter().cloned());
            pieces.extend(part.many.clone());
        }
        // Together, where by themselves they are heard as something else.
        let after = |n: usize, word: &String| format!("{} {word}", table.cardinals[n]);
        if length {
            pieces.extend(table.one_thousandth.iter().chain(&table.thousandths).cloned());
            pieces.extend(table.thousandths.iter().flat_map(|word| (2..20).map(move |n| after(n, word))));
        }
        let many = parts().filter_map(|part| Some((part.many.as_ref()?, part.of as usize)));
        pieces.extend(many.flat_map(|(word, of)| (3..of.min(20)).step_by(2).map(move |n| after(n, word))));
        let oh = |pattern: &String| {
            pattern.replace("{hundreds}", &table.cardinals[1]).replace("{ones}", &table.cardinals[1])
        };
        pieces.extend(table.hundreds_with_zero.iter().map(oh));
        for hundreds in 1..=LARGEST_HEARD / 100 {
            pieces.extend(self.variants(100 * hundreds));
            pieces.extend(self.variants(100 * hundreds + 1));
        }
        pieces.extend((1..10).map(|n| self.say_whole(1000 * n)));
        pieces.extend(table.thousands_heard.iter().filter(|pattern| !pattern.contains('{')).cloned());
        pieces
    }

    /// What may follow a whole number after a pause, one decimal or quarters, with the amount that it adds.
    pub(super) fn rests(&self) -> impl Iterator<Item = (String, Decimal)> {
        let table = self.table();
        let digits = table.cardinals[1..10].iter().map(|digit| format!("{} {digit}", table.point));
        digits.chain(self.quarter_endings()).filter_map(|text| Some((text.clone(), self.rest(&text)?)))
    }

    /// The amount that words add to a whole number before them: decimals or quarters, and more than nothing.
    pub(super) fn rest(&self, text: &str) -> Option<Decimal> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let decimals = || {
            let begins = words.first().is_some_and(|first| *first == self.table().point);
            begins.then(|| self.decimal(&words)).flatten()
        };
        let quarters = || self.quarters_after(&words).map(|amount| amount.number);
        decimals().or_else(quarters).filter(|rest| !rest.is_zero())
    }

    /// The words of a number going on.
    pub(super) fn going_on(&self, text: &str) -> Vec<String> {
        let table = self.table();
        let digits = || table.cardinals[..10].iter().chain(&table.zeros);
        let mut more: Vec<String> = digits().map(|digit| format!("{} {digit}", table.point)).collect();
        more.extend(digits().cloned());
        more.extend(self.quarter_endings());
        more.extend(table.parts.iter().filter_map(|part| part.many.clone()));
        more.extend(table.thousandths.iter().cloned());
        let last = |said: String| said.split(' ').next_back().map(str::to_owned);
        more.extend([100, 1000].into_iter().filter_map(|n| last(self.say_whole(n))));
        more.into_iter().map(|more| format!("{text} {more}")).collect()
    }

    /// Numbers that sound like one: "thirteen" for "thirty", and another last digit.
    pub(super) fn sounding_like(&self, text: &str) -> Vec<String> {
        let words: Vec<&str> = text.split(' ').collect();
        let last = words.iter().rposition(|word| self.small(word).is_some());
        let mut all = Vec::new();
        for (at, word) in words.iter().enumerate() {
            let Some(n) = self.small(word) else { continue };
            let digits =
                self.table().cardinals[..10].iter().filter(|digit| digit != word && n < 10 && Some(at) == last);
            let others = digits.chain(self.sounds_like(n));
            all.extend(others.map(|other| [&words[..at], &[other.as_str()], &words[at + 1..]].concat().join(" ")));
        }
        all
    }

    /// The same words with one of a number changed, or one more in between: what was said, perhaps, where a listener lost a digit
    /// ("two point zero" of "two point eight zero") or took it for another word ("two point it").
    ///
    /// Where no number was heard nothing is put in between: that would make one of any words.
    pub(super) fn a_word_off(&self, text: &str, number: bool) -> Vec<String> {
        let words: Vec<&str> = text.split(' ').collect();
        let with =
            |until: usize, word: &str, from: usize| [&words[..until], &[word], &words[from..]].concat().join(" ");
        let mut all = Vec::new();
        for word in self.single() {
            for at in 0..=words.len() {
                // What stands before the number says that it is one.
                let within = at > 0 || words.first().is_some_and(|first| self.single().any(|single| single == *first));
                if within && words.get(at).is_some_and(|there| *there != word) {
                    all.push(with(at, word, at + 1));
                }
                if within && number {
                    all.push(with(at, word, at));
                }
            }
        }
        all
    }

    /// The words that most numbers are said with, each by itself.
    fn single(&self) -> impl Iterator<Item = &str> {
        let table = self.table();
        let small = table.cardinals.iter().filter(|word| !word.contains(' ')).take(20);
        let tens = (2..10).filter_map(|ten| table.cardinals.get(10 * ten));
        small.chain(tens).chain(&table.zeros).chain([&table.point]).map(String::as_str)
    }
}

impl NumberWords {
    /// Patterns of hundreds that [`Numbers::variants`] does not list; whether their hundreds are more than nine.
    fn hundreds_patterns(&self) -> impl Iterator<Item = (&String, bool)> {
        let many = self.hundreds.iter().chain(&self.hundreds_and_rest).map(|pattern| (pattern, true));
        many.chain(self.hundreds_with_zero.iter().map(|pattern| (pattern, false)))
    }
}

fn same(text: &str, words: &[&str]) -> bool {
    text.split(' ').eq(words.iter().copied())
}

/// So many parts of one, less than one.
fn portion(count: u32, of: u32, inches: bool) -> Option<Amount> {
    let number = Decimal::from(count).checked_div(Decimal::from(of))?;
    (count > 0 && count < of).then(|| Amount { number: number.normalize(), inches, part: true })
}

/// A number in figures, with the decimals that it was written with.
fn figure(words: &[&str]) -> Option<Decimal> {
    let [figures] = words else { return None };
    let plain = figures.bytes().all(|b| b.is_ascii_digit() || b == b'.') && figures.bytes().any(|b| b.is_ascii_digit());
    // Exactly: what has more digits than can be held is no amount, and must not be rounded to one.
    plain.then(|| Decimal::from_str_exact(figures).ok()).flatten()
}

type Found<'p> = Vec<(&'p str, u64)>;

/// The numbers in the slots of a pattern, if the words follow it from the first to the last.
fn slots<'p>(pattern: &'p str, words: &[&str], number: &dyn Fn(&str, &[&str]) -> Option<u64>) -> Option<Found<'p>> {
    let Some((token, pattern)) = pattern.split_once(' ').or((!pattern.is_empty()).then_some((pattern, ""))) else {
        return words.is_empty().then(Vec::new);
    };
    if !token.starts_with('{') {
        return (words.first() == Some(&token)).then(|| slots(pattern, &words[1..], number)).flatten();
    }
    (1..=words.len()).rev().find_map(|taken| {
        let n = number(token, &words[..taken])?;
        let mut found = slots(pattern, &words[taken..], number)?;
        found.push((token, n));
        Some(found)
    })
}
