//! Units in words: how they are said, written, heard and spelled.

use crate::quantity::{AngleUnit, LengthUnit, MassUnit, PressureUnit, TorqueUnit, Unit};
use serde::Deserialize;
use std::collections::BTreeMap;

/// The words of one unit.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct UnitWords {
    /// Said of one.
    pub one: String,
    /// Said of several.
    pub many: String,
    /// Written after digits, with its space if it has one.
    pub written: String,
    /// Heard after a number.
    pub heard: Vec<String>,
    /// Spelled in procedures and on the keyboard.
    pub spelled: Vec<String>,
}

/// Every key of `[units]`.
pub(super) const UNITS: &[(&str, Option<Unit>)] = &[
    ("newton_metre", Some(Unit::Torque(TorqueUnit::NewtonMetre))),
    ("kilogram_force_metre", Some(Unit::Torque(TorqueUnit::KilogramForceMetre))),
    ("pound_force_foot", Some(Unit::Torque(TorqueUnit::PoundForceFoot))),
    ("pound_force_inch", Some(Unit::Torque(TorqueUnit::PoundForceInch))),
    ("degree", Some(Unit::Angle(AngleUnit::Degree))),
    ("quarter_turn", Some(Unit::Angle(AngleUnit::QuarterTurn))),
    ("flat", Some(Unit::Angle(AngleUnit::Flat))),
    ("point", Some(Unit::Angle(AngleUnit::Point))),
    ("millimetre", Some(Unit::Length(LengthUnit::Millimetre))),
    ("inch", Some(Unit::Length(LengthUnit::Inch))),
    ("gram", Some(Unit::Mass(MassUnit::Gram))),
    ("kilogram", Some(Unit::Mass(MassUnit::Kilogram))),
    ("pound", Some(Unit::Mass(MassUnit::Pound))),
    ("kilopascal", Some(Unit::Pressure(PressureUnit::Kilopascal))),
    ("bar", Some(Unit::Pressure(PressureUnit::Bar))),
    ("pound_per_square_inch", Some(Unit::Pressure(PressureUnit::PoundForcePerSquareInch))),
    (MINUTE, None),
];

const MINUTE: &str = "minute";

/// The units of one language. Holds every key of [`UNITS`].
#[derive(Debug, Clone)]
pub(super) struct Units {
    table: Vec<(Option<Unit>, UnitWords)>,
}

impl Units {
    /// Takes the table of the file; the error is the key that is missing.
    pub fn new(mut words: BTreeMap<String, UnitWords>) -> Result<Units, &'static str> {
        let mut table = Vec::with_capacity(UNITS.len());
        for (key, unit) in UNITS {
            table.push((*unit, words.remove(*key).ok_or(*key)?));
        }
        Ok(Units { table })
    }

    /// The words of a unit.
    pub fn of(&self, unit: Unit) -> &UnitWords {
        self.find(Some(unit))
    }

    /// The words of the minute.
    pub fn minute(&self) -> &UnitWords {
        self.find(None)
    }

    fn find(&self, unit: Option<Unit>) -> &UnitWords {
        let at = self.table.iter().position(|(u, _)| *u == unit);
        // `new` put every unit there is into the table, in the order of `UNITS`.
        &self.table[at.unwrap_or(0)].1
    }

    /// The unit that is spelled at the start of the characters, the longest one. `alone`: no number stands before it,
    /// so only spellings that are no ordinary words count.
    pub fn spelled_at(&self, rest: &[char], alone: bool) -> Option<(&UnitWords, usize)> {
        let mut best: Option<(&UnitWords, usize)> = None;
        for (_, words) in &self.table {
            // The names of units without a spelling are ordinary words ("two points open").
            let named = !alone && !words.spelled.is_empty();
            let said = [&words.one, &words.many].into_iter().filter(|_| named);
            for spelling in words.spelled.iter().chain(said) {
                let length = spelling.chars().count();
                let longer = best.is_none_or(|(_, best)| length > best);
                if longer && length <= rest.len() && !(alone && ordinary(spelling)) {
                    let mut pairs = spelling.chars().zip(rest);
                    if pairs.all(|(a, b)| if alone { a == *b } else { a.to_lowercase().eq(b.to_lowercase()) }) {
                        best = Some((words, length));
                    }
                }
            }
        }
        best
    }

    /// What is heard for units of every kind, each unit's first.
    pub fn all_heard(&self) -> impl Iterator<Item = (Unit, &String)> {
        self.table.iter().filter_map(|(unit, words)| Some(((*unit)?, words.heard.first()?)))
    }

    /// The unit that typed or heard words name, whatever stands between its letters.
    pub fn named(&self, text: &str) -> Option<Unit> {
        let wanted = bare(text);
        let named = |words: &UnitWords| {
            let all = words.spelled.iter().chain(&words.heard).chain([&words.one, &words.many]);
            all.map(|s| bare(s)).any(|s| s == wanted)
        };
        if wanted.is_empty() {
            return None;
        }
        self.table.iter().find(|(unit, words)| unit.is_some() && named(words)).and_then(|(unit, _)| *unit)
    }

    /// Is this word one for minutes?
    pub fn is_minute(&self, word: &str) -> bool {
        let words = self.minute();
        words.one == word || words.many == word || words.heard.iter().chain(&words.spelled).any(|w| w == word)
    }
}

/// Could it be a word of ordinary text, or a mark of it?
fn ordinary(spelling: &str) -> bool {
    let lower = spelling.chars().all(|c| c.is_lowercase());
    (lower && spelling != "mm") || !spelling.chars().any(char::is_alphabetic)
}

fn bare(text: &str) -> String {
    text.chars()
        .filter(|c| c.is_alphanumeric() || matches!(c, '°' | '²' | '/' | '"' | '″'))
        .flat_map(char::to_lowercase)
        .collect()
}
