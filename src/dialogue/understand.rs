//! Words to meanings: patterns with slots, and the commands typed on the keyboard.

use super::file::Language;
use super::meaning::{MEANINGS, Meaning, Shape, Talk};
use super::numbers::Numbers;
use super::units::Units;
use crate::job::{Ask, Command, Expect, Note, Reading};
use crate::quantity::Unit;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// A line that is no command.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("no command: \"{line}\"")]
pub struct NotUnderstood {
    /// The line as it was typed.
    pub line: String,
    /// Phrases that may be said now and are near to it, the nearest first; may be empty.
    pub near: Vec<String>,
}

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
    fn is_bare(&self) -> bool {
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
    number: Option<Decimal>,
    unit: Option<Unit>,
}

fn fill(tokens: &[Token], words: &[&str], numbers: &Numbers, units: &Units, slots: Slots) -> Option<Slots> {
    let Some((token, tokens)) = tokens.split_first() else {
        return words.is_empty().then_some(slots);
    };
    let go_on = |taken: usize, slots: Slots| fill(tokens, &words[taken..], numbers, units, slots);
    match token {
        Token::Word(word) => (words.first() == Some(&word.as_str())).then(|| go_on(1, slots)).flatten(),
        // Places are the procedure's words; `Language::place_meant` knows them.
        Token::Place => None,
        Token::Minutes => words.first().filter(|w| units.is_minute(w)).and_then(|_| go_on(1, slots)),
        Token::Number => (1..=words.len()).rev().find_map(|taken| {
            let number = number(&words[..taken], numbers)?;
            go_on(taken, Slots { number: Some(number), ..slots })
        }),
        Token::Unit => (1..=words.len()).rev().find_map(|taken| {
            let unit = units.named(&words[..taken].concat())?;
            go_on(taken, Slots { unit: Some(unit), ..slots })
        }),
    }
}

fn number(words: &[&str], numbers: &Numbers) -> Option<Decimal> {
    match words {
        [figure] if figure.starts_with(|c: char| c.is_ascii_digit()) => figure.parse().ok(),
        _ => numbers.hear(&words.join(" ")),
    }
}

impl Shape {
    /// The meaning with its slots filled in; `None` where they do not fit.
    pub(super) fn filled(&self, slots: Slots) -> Option<Meaning> {
        let whole = || slots.number.filter(|n| n.fract().is_zero()).and_then(|n| n.to_u32());
        Some(match self {
            Shape::Plain(meaning) => meaning.clone(),
            Shape::GoTo => Meaning::Command(Command::GoTo(whole()?)),
            Shape::Adapter => Meaning::Talk(Talk::Adapter(whole()?)),
            Shape::AdapterAngle => Meaning::Talk(Talk::AdapterAngle(whole().filter(|degrees| *degrees <= 180)?)),
            Shape::Timer => Meaning::Command(Command::Timer(whole().filter(|m| *m > 0)?)),
            Shape::Reading => Meaning::Command(Command::Reading(Reading { amount: slots.number?, unit: slots.unit })),
            Shape::InUnit => match slots.unit? {
                Unit::Torque(unit) => Meaning::Command(Command::Ask(Ask::InUnit(unit))),
                _ => return None,
            },
            Shape::Place => return None,
        })
    }
}

/// More words than any command has.
const MOST_WORDS: usize = 20;

impl Language {
    /// Understands a typed line: every phrase that can be said in any state, the short forms of the keyboard, and
    /// digits for numbers. What does not fit the state is for the job to refuse, which can say why.
    pub fn understand_typed(&self, line: &str, expect: &Expect) -> Result<Meaning, NotUnderstood> {
        if let Some(text) = self.typed_note(line) {
            return Ok(Meaning::Command(Command::Note(Note::Typed(text))));
        }
        let normal = normalise(line);
        let words: Vec<&str> = normal.split_whitespace().collect();
        if let Some(place) = self.place_meant(&normal, expect) {
            return Ok(Meaning::Command(Command::Place(place)));
        }
        if !words.is_empty() && words.len() <= MOST_WORDS {
            for (key, shape) in MEANINGS {
                for pattern in self.patterns(key).iter().chain(self.typed_patterns(key)) {
                    // A bare number means something only where one is awaited.
                    if pattern.is_bare() && expect.reading.is_none() {
                        continue;
                    }
                    let slots = pattern.matches(&words, self.numbers(), self.units());
                    if let Some(meaning) = slots.and_then(|slots| shape.filled(slots)) {
                        return Ok(meaning);
                    }
                }
            }
        }
        Err(NotUnderstood { line: line.to_owned(), near: self.near(&normal, expect) })
    }

    /// The text of a typed note: what stands behind the word for it, just as it was typed.
    fn typed_note(&self, line: &str) -> Option<String> {
        let (first, text) = line.trim().split_once(|c: char| c.is_whitespace() || c == ':')?;
        let text = text.trim_start_matches(|c: char| c.is_whitespace() || c == ':');
        (first.to_lowercase() == self.word("typed_note") && !text.is_empty()).then(|| text.to_owned())
    }

    /// The place named by a typed line, if places are asked about.
    fn place_meant(&self, line: &str, expect: &Expect) -> Option<usize> {
        let line = line.split_whitespace().collect::<Vec<_>>().join(" ");
        let patterns = || self.patterns("place").iter().chain(self.typed_patterns("place"));
        expect.places.iter().position(|place| {
            let place = normalise(place).split_whitespace().collect::<Vec<_>>().join(" ");
            patterns().any(|pattern| pattern.text.replace("{place}", &place) == line)
        })
    }

    /// Phrases that may be said now and look like the line.
    fn near(&self, line: &str, expect: &Expect) -> Vec<String> {
        /// Below this a phrase only shares letters with the line.
        const NEAR: f64 = 0.6;
        let line: String = line.chars().take(80).collect();
        let mut scored: Vec<(f64, String)> = Vec::new();
        for (key, shape) in MEANINGS.iter().filter(|(_, shape)| shape.allowed(expect)) {
            let plain = matches!(shape, Shape::Plain(_));
            let best = self.patterns(key).iter().map(|p| {
                // Of a phrase with a slot only the words before it can be compared.
                let text = p.text.split('{').next().unwrap_or_default().trim();
                let length = if plain { usize::MAX } else { text.chars().count() };
                let line: String = line.chars().take(length).collect();
                (strsim::normalized_damerau_levenshtein(&line, text), self.shown(&p.text))
            });
            scored.extend(best.max_by(|a, b| a.0.total_cmp(&b.0)).filter(|(score, _)| *score >= NEAR));
        }
        scored.sort_by(|a, b| b.0.total_cmp(&a.0));
        scored.into_iter().take(3).map(|(_, text)| text).collect()
    }
}

/// Lower case, no punctuation, digits apart from letters, the parts of a unit together ("27.5N·m" is "27.5 nm").
fn normalise(line: &str) -> String {
    let chars: Vec<char> = line.chars().collect();
    let mut out = String::with_capacity(line.len() + 8);
    for (at, &c) in chars.iter().enumerate() {
        let before = at.checked_sub(1).map(|i| chars[i]);
        let after = chars.get(at + 1).copied();
        let both = |is: fn(char) -> bool| before.is_some_and(is) && after.is_some_and(is);
        if c.is_alphanumeric() {
            let apart = before.is_some_and(|b| b.is_ascii_digit() != c.is_ascii_digit() && b.is_alphanumeric());
            if apart {
                out.push(' ');
            }
            out.extend(c.to_lowercase());
        } else if c == '°' {
            out.push_str(" ° ");
        } else if matches!(c, '.' | '·' | '-') && both(|c| c.is_ascii_digit()) {
            // "27.5" stays one figure; "4-12" is none and must not become one.
            out.push(if c == '.' { '.' } else { ' ' });
        } else if matches!(c, '.' | '·' | '-' | '\'' | '’') && both(char::is_alphabetic) {
            // Joins the letters of "N.m", "ft-lb", "I'm".
        } else if matches!(c, '-' | '−') && after.is_some_and(|c| c.is_ascii_digit()) {
            // A minus is kept, so that no one's "-5" is taken for 5.
            out.push_str(" -");
        } else {
            out.push(' ');
        }
    }
    out
}
