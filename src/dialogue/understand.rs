//! Words to meanings: what a typed line, or a reading in any words, means.

use super::file::Language;
use super::line::{is_question, normalise};
use super::meaning::{MEANINGS, Meaning, READING, Row, Shape, Talk, row_of};
use super::pattern::{MOST_WORDS, Pattern, Slots};
use super::units;
use crate::job::{Ask, Command, Expect, Note, Reading};
use crate::quantity::{Kind, Unit};
use rust_decimal::prelude::ToPrimitive;

/// A line that is no command.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("no command: \"{line}\"")]
pub struct NotUnderstood {
    /// The line as it was typed.
    pub line: String,
    /// Phrases that may be said now and are near to it, the nearest first; may be empty.
    pub near: Vec<String>,
    /// Where it begins with a reading: the words after that, which add nothing that is known. A reading is whole or none.
    pub left_over: Option<String>,
    /// What is wrong with it, where that is known.
    pub odd: Option<Odd>,
}

/// What is wrong with a line that is nearly a command.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Odd {
    /// It would be a claim, a move or an answer, but it is put as a question.
    Asked,
    /// A number in it has a comma.
    Comma,
    /// It is a reading below zero, of what there is never less than nothing of.
    BelowZero,
    /// Its unit may be milli or mega, or is spelled as the one that it never is.
    Prefix,
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
            Shape::Place | Shape::ValueOf => return None,
        })
    }
}

/// The keys of claims that something is done, and of what says that it is not.
const DONE: [&str; 2] = ["done", "finished"];
const NOT_DONE: &str = "not_done";

/// A reading in the unit that its words mean where this is awaited.
fn meant(meaning: Meaning, expect: &Expect) -> Meaning {
    match (meaning, expect.reading) {
        (Meaning::Command(Command::Reading(Reading { amount, unit: Some(unit) })), Some(about)) => {
            let unit = units::meant_where(unit, about.unit()).ok();
            Meaning::Command(Command::Reading(Reading { amount, unit }))
        }
        (meaning, _) => meaning,
    }
}

fn is_below_zero(meaning: &Meaning) -> bool {
    matches!(meaning, Meaning::Command(Command::Reading(reading)) if reading.amount.is_sign_negative())
}

/// Does a comma stand between two figures?
fn has_comma(line: &str) -> bool {
    let chars: Vec<char> = line.chars().collect();
    chars.windows(3).any(|three| three[0].is_ascii_digit() && three[1] == ',' && three[2].is_ascii_digit())
}

/// Can it have been heard? Most units are said only where they are awaited.
fn can_be_heard(meaning: &Meaning, expect: &Expect) -> bool {
    let Meaning::Command(Command::Reading(reading)) = meaning else { return true };
    let awaited = expect.reading.map(|about| about.kind());
    reading.unit.is_none_or(|unit| awaited == Some(unit.kind()) || units::is_always_heard(unit.kind()))
}

/// Can it be meant? Of few things there is ever less than nothing.
fn can_be(meaning: &Meaning, expect: &Expect) -> bool {
    let Meaning::Command(Command::Reading(reading)) = meaning else { return true };
    let awaited = expect.reading.map(|about| about.kind());
    let kind = reading.unit.map(|unit| unit.kind()).or(awaited);
    !reading.amount.is_sign_negative() || kind.is_some_and(Kind::may_be_negative)
}

impl Language {
    /// Understands a typed line: every phrase that can be said in any state, the short forms of the keyboard, and
    /// digits for numbers. What does not fit the state is for the job to refuse, which can say why.
    ///
    /// Whoever puts a question claims nothing: with its mark only what changes nothing is taken.
    pub fn understand_typed(&self, line: &str, expect: &Expect) -> Result<Meaning, NotUnderstood> {
        let meaning = self.typed_meaning(line, expect)?;
        // The text of a note is the user's own, whatever marks stand in it.
        let note = matches!(meaning, Meaning::Command(Command::Note(_)));
        if is_question(line) && !note && !meaning.only_asks() {
            return Err(NotUnderstood {
                line: line.to_owned(),
                near: Vec::new(),
                left_over: None,
                odd: Some(Odd::Asked),
            });
        }
        Ok(meaning)
    }

    pub(super) fn typed_meaning(&self, line: &str, expect: &Expect) -> Result<Meaning, NotUnderstood> {
        if let Some(text) = self.typed_note(line) {
            return Ok(Meaning::Command(Command::Note(Note::Typed(text))));
        }
        let normal = normalise(line);
        let words: Vec<&str> = normal.split_whitespace().collect();
        let polite = self.units().typed_at_the_end(self.without_politeness(&words).to_vec());
        let words = self.units().typed_at_the_end(words);
        match self.words_meant(&words, expect) {
            Err(_) if !polite.is_empty() && polite.len() < words.len() => self.words_meant(&polite, expect),
            meant => meant,
        }
        .map_err(|odd| {
            let comma = expect.reading.is_some() && has_comma(line);
            let prefix = expect.reading.is_some() && words.iter().any(|word| units::has_unclear_prefix(word));
            let odd = comma.then_some(Odd::Comma).or(odd).or(prefix.then_some(Odd::Prefix));
            let left_over = self.left_over(&words, expect);
            NotUnderstood {
                line: line.to_owned(),
                near: self.suggested(line, &polite.join(" "), expect),
                left_over,
                odd,
            }
        })
    }

    /// The words without those at the beginning and the end that are only polite.
    fn without_politeness<'w, 'l>(&self, words: &'w [&'l str]) -> &'w [&'l str] {
        let polite = |word: &&str| self.typing().polite.iter().any(|known| known == word);
        let from = words.iter().position(|word| !polite(word)).unwrap_or(words.len());
        let to = words.iter().rposition(|word| !polite(word)).map_or(from, |last| last + 1);
        &words[from..to]
    }

    /// The meaning of words; or what is wrong with them, where that is known.
    fn words_meant(&self, words: &[&str], expect: &Expect) -> Result<Meaning, Option<Odd>> {
        let normal = words.join(" ");
        if let Some(place) = self.place_meant(&normal, expect) {
            return Ok(Meaning::Command(Command::Place(place)));
        }
        // By itself it goes on from the number before; it is none of its own.
        if expect.rest
            && words.len() <= MOST_WORDS
            && let Some(rest) = self.numbers().rest(&normal)
        {
            return Ok(Meaning::Command(Command::Rest(rest)));
        }
        let mut odd = None;
        if !words.is_empty() && words.len() <= MOST_WORDS {
            for Row { key, shape, .. } in MEANINGS {
                for pattern in self.patterns(key).iter().chain(self.typed_patterns(key)) {
                    // A bare number means something only where one is awaited.
                    if pattern.is_bare() && expect.reading.is_none() {
                        continue;
                    }
                    let slots = pattern.matches(words, self.numbers(), self.units());
                    let meaning = slots.and_then(|slots| shape.filled(slots)).map(|meaning| meant(meaning, expect));
                    match meaning {
                        Some(meaning) if can_be(&meaning, expect) => return Ok(meaning),
                        Some(meaning) if expect.reading.is_some() && is_below_zero(&meaning) => {
                            odd = Some(Odd::BelowZero);
                        }
                        _ => {}
                    }
                }
            }
        }
        Err(odd)
    }

    /// Understands words that were heard as a reading, whatever form its number has, if one is awaited. All of them, or
    /// not at all: what was said after a number is part of it.
    pub(super) fn reading_heard(&self, words: &str, expect: &Expect) -> Option<Meaning> {
        expect.reading?;
        let words: Vec<&str> = words.split(' ').collect();
        if words.len() > MOST_WORDS {
            return None;
        }
        let patterns = self.patterns(READING).iter();
        let mut slots = patterns.filter_map(|pattern| pattern.matches(&words, self.numbers(), self.units()));
        slots.find_map(|slots| {
            let meaning = Shape::Reading.filled(slots).map(|meaning| meant(meaning, expect));
            meaning.filter(|meaning| can_be(meaning, expect) && can_be_heard(meaning, expect))
        })
    }

    /// What is left of a line after the longest beginning of it that is a reading.
    fn left_over(&self, words: &[&str], expect: &Expect) -> Option<String> {
        expect.reading?;
        let reading = |words: &[&str]| {
            let all = self.patterns(READING).iter().chain(self.typed_patterns(READING));
            // Even a number by itself: the line says more than that.
            let bare = self.numbers().amount(words).is_some_and(|amount| !amount.part);
            bare || all.into_iter().any(|pattern| pattern.matches(words, self.numbers(), self.units()).is_some())
        };
        if words.len() > MOST_WORDS {
            return None;
        }
        (1..words.len()).rev().find(|end| reading(&words[..*end])).map(|end| words[end..].join(" "))
    }

    /// The text of a typed note: what stands behind the word for it, just as it was typed.
    pub(super) fn typed_note(&self, line: &str) -> Option<String> {
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

    /// Phrases that may be said now and look like the words of the line. For what is denied, doubted or asked no claim, move or answer
    /// is offered, but where it is about something being done, that it is not.
    fn suggested(&self, line: &str, words: &str, expect: &Expect) -> Vec<String> {
        /// Below this a phrase only shares letters with the line.
        const NEAR: f64 = 0.6;
        let doubted = is_question(line) || self.doubts(line, words);
        let line: String = words.chars().take(80).collect();
        let mut scored: Vec<(f64, &str, String)> = Vec::new();
        for Row { key, shape, .. } in MEANINGS.iter().filter(|row| row.allowed(expect)) {
            let plain = matches!(shape, Shape::Plain(_) | Shape::Place);
            let best = self.phrases_of(key, expect).into_iter().map(|phrase| {
                // Of a phrase with a slot only the words before it can be compared.
                let text = phrase.split('{').next().unwrap_or_default().trim();
                let length = if plain { usize::MAX } else { text.chars().count() };
                let line: String = line.chars().take(length).collect();
                (strsim::normalized_damerau_levenshtein(&line, text), *key, self.shown(&phrase))
            });
            scored.extend(best.max_by(|a, b| a.0.total_cmp(&b.0)).filter(|(score, ..)| *score >= NEAR));
        }
        scored.sort_by(|a, b| b.0.total_cmp(&a.0));
        if doubted {
            let is_done = |key: &str| DONE.contains(&key);
            let ends = |pattern: &Pattern| {
                let last = pattern.text.rsplit(' ').next().unwrap_or_default();
                last.chars().count() > 2 && line.split(' ').any(|word| word == last)
            };
            let about = scored.iter().any(|(_, key, _)| is_done(key))
                || DONE.iter().any(|key| self.patterns(key).iter().chain(self.typed_patterns(key)).any(ends));
            let harmless = |key: &str| !row_of(key).is_some_and(|row| row.shape.can_be_denied());
            scored.retain(|(_, key, _)| harmless(key) && *key != NOT_DONE);
            let not_done = self.patterns(NOT_DONE).first().filter(|_| about);
            scored.splice(0..0, not_done.map(|p| (1.0, NOT_DONE, self.shown(&p.text))));
        }
        scored.into_iter().take(3).map(|(_, _, text)| text).collect()
    }

    /// Do these words deny or doubt, by a word of theirs or as one of the forms that stand against a phrase?
    fn doubts(&self, line: &str, words: &str) -> bool {
        let (denying, endings) = self.denying();
        let lower = line.to_lowercase().replace('’', "'");
        let said = || lower.split(|c: char| !(c.is_alphanumeric() || c == '\'')).filter(|word| !word.is_empty());
        let denies = |word: &str| {
            denying.iter().chain(&self.typing().denying).any(|known| known == word)
                || endings.iter().any(|end| word.ends_with(end.as_str()))
        };
        said().any(denies) || MEANINGS.iter().any(|row| self.denied(row.key).iter().any(|form| form == words))
    }
}
