//! Phrases of the language file with their slots, and how words fill these.
//!
//! Knows numbers and units. Which phrases there are, and what one means, is left to the callers.

use super::numbers::Numbers;
use super::units::Units;
use crate::quantity::{LengthUnit, Unit};
use rust_decimal::Decimal;

/// More words than any command has.
pub(super) const MOST_WORDS: usize = 20;

/// One word of a phrase of the language file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Token {
    /// This word.
    Word(String),
    /// A number.
    Number,
    /// A unit.
    Unit,
    /// The word for minutes.
    Minutes,
    /// Where a fastener sits.
    Place,
    /// The name of a value.
    Name,
}

/// A phrase of the language file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Pattern {
    pub text: String,
    pub tokens: Vec<Token>,
}

impl Pattern {
    /// Reads a phrase; the error is the slot that is not known.
    pub fn parse(text: &str) -> Result<Pattern, String> {
        let token = |word: &str| match word {
            "{number}" => Ok(Token::Number),
            "{unit}" => Ok(Token::Unit),
            "{minutes}" => Ok(Token::Minutes),
            "{place}" => Ok(Token::Place),
            "{name}" => Ok(Token::Name),
            slot if slot.contains(['{', '}']) => Err(slot.to_owned()),
            word => Ok(Token::Word(word.to_owned())),
        };
        Ok(Pattern { text: text.to_owned(), tokens: text.split(' ').map(token).collect::<Result<_, _>>()? })
    }

    /// Does it hold this slot?
    pub fn has(&self, token: &Token) -> bool {
        self.tokens.contains(token)
    }

    /// Does it hold nothing but slots?
    pub fn is_bare(&self) -> bool {
        !self.tokens.iter().any(|t| matches!(t, Token::Word(_)))
    }

    /// The slots, if the words follow this pattern from the first to the last.
    pub fn matches(&self, words: &[&str], numbers: &Numbers, units: &Units) -> Option<Slots> {
        fill(&self.tokens, words, numbers, units, Slots::default())
    }
}

/// What stood in the slots of a pattern.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Slots {
    pub number: Option<Decimal>,
    pub unit: Option<Unit>,
}

fn fill(tokens: &[Token], words: &[&str], numbers: &Numbers, units: &Units, slots: Slots) -> Option<Slots> {
    let Some((token, tokens)) = tokens.split_first() else {
        return words.is_empty().then_some(slots);
    };
    let go_on = |taken: usize, slots: Slots| fill(tokens, &words[taken..], numbers, units, slots);
    match token {
        Token::Word(word) => (words.first() == Some(&word.as_str())).then(|| go_on(1, slots)).flatten(),
        // Places are the procedure's words, and names those of a page: `place_meant` and `value_meant` know them.
        Token::Place | Token::Name => None,
        Token::Minutes => words.first().filter(|w| units.is_minute(w)).and_then(|_| go_on(1, slots)),
        Token::Number => (1..=words.len()).rev().find_map(|taken| {
            let amount = |words: &[&str]| numbers.amount(words);
            let found = amount(&words[..taken]).or_else(|| {
                // "Of an" stands before a unit only.
                let unit_follows = matches!(tokens.first(), Some(Token::Unit)) && taken < words.len();
                let part = || numbers.of_a(&words[..taken]).find_map(amount).filter(|amount| amount.part);
                unit_follows.then(part).flatten()
            })?;
            let unit = found.inches.then_some(Unit::Length(LengthUnit::Inch)).or(slots.unit);
            go_on(taken, Slots { number: Some(found.number), unit })
        }),
        Token::Unit => (1..=words.len()).rev().find_map(|taken| {
            let unit = units.named(&words[..taken].concat())?;
            // "Thirty eight point" is no unit of an angle, but a number that was broken off.
            let broken_off = words[..taken] == [numbers.point()] && slots.number != Some(Decimal::ONE);
            let another = slots.unit.is_some_and(|said| said != unit);
            if broken_off || another { None } else { go_on(taken, Slots { unit: Some(unit), ..slots }) }
        }),
    }
}
