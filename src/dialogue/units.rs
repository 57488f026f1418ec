//! Units in words: how they are said, written, heard and spelled.

use crate::quantity::*;
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
    /// Spelled on the keyboard behind a number that nothing follows: elsewhere it is an ordinary word.
    #[serde(default)]
    pub typed: Vec<String>,
}

/// Every key of `[units]`.
pub(super) const UNITS: &[(&str, Unit)] = &[
    ("newton_metre", Unit::Torque(TorqueUnit::NewtonMetre)),
    ("kilogram_force_metre", Unit::Torque(TorqueUnit::KilogramForceMetre)),
    ("pound_force_foot", Unit::Torque(TorqueUnit::PoundForceFoot)),
    ("pound_force_inch", Unit::Torque(TorqueUnit::PoundForceInch)),
    ("degree", Unit::Angle(AngleUnit::Degree)),
    ("quarter_turn", Unit::Angle(AngleUnit::QuarterTurn)),
    ("flat", Unit::Angle(AngleUnit::Flat)),
    ("point", Unit::Angle(AngleUnit::Point)),
    ("millimetre", Unit::Length(LengthUnit::Millimetre)),
    ("inch", Unit::Length(LengthUnit::Inch)),
    ("gram", Unit::Mass(MassUnit::Gram)),
    ("kilogram", Unit::Mass(MassUnit::Kilogram)),
    ("pound", Unit::Mass(MassUnit::Pound)),
    ("kilopascal", Unit::Pressure(PressureUnit::Kilopascal)),
    ("megapascal", Unit::Pressure(PressureUnit::Megapascal)),
    ("bar", Unit::Pressure(PressureUnit::Bar)),
    ("millibar", Unit::Pressure(PressureUnit::Millibar)),
    ("pound_per_square_inch", Unit::Pressure(PressureUnit::PoundForcePerSquareInch)),
    ("kilogram_per_square_centimetre", Unit::Pressure(PressureUnit::KilogramForcePerSquareCentimetre)),
    ("inch_of_mercury", Unit::Pressure(PressureUnit::InchOfMercury)),
    ("millilitre", Unit::Volume(VolumeUnit::Millilitre)),
    ("cubic_centimetre", Unit::Volume(VolumeUnit::CubicCentimetre)),
    ("litre", Unit::Volume(VolumeUnit::Litre)),
    ("us_fluid_ounce", Unit::Volume(VolumeUnit::UsFluidOunce)),
    ("us_pint", Unit::Volume(VolumeUnit::UsPint)),
    ("us_quart", Unit::Volume(VolumeUnit::UsQuart)),
    ("us_gallon", Unit::Volume(VolumeUnit::UsGallon)),
    ("imperial_fluid_ounce", Unit::Volume(VolumeUnit::ImperialFluidOunce)),
    ("imperial_pint", Unit::Volume(VolumeUnit::ImperialPint)),
    ("imperial_quart", Unit::Volume(VolumeUnit::ImperialQuart)),
    ("imperial_gallon", Unit::Volume(VolumeUnit::ImperialGallon)),
    ("degree_celsius", Unit::Temperature(TemperatureUnit::DegreeCelsius)),
    ("degree_fahrenheit", Unit::Temperature(TemperatureUnit::DegreeFahrenheit)),
    ("kelvin", Unit::Temperature(TemperatureUnit::Kelvin)),
    ("millisecond", Unit::Time(TimeUnit::Millisecond)),
    ("second", Unit::Time(TimeUnit::Second)),
    ("minute", Unit::Time(TimeUnit::Minute)),
    ("hour", Unit::Time(TimeUnit::Hour)),
    ("millivolt", Unit::Voltage(VoltageUnit::Millivolt)),
    ("volt", Unit::Voltage(VoltageUnit::Volt)),
    ("kilovolt", Unit::Voltage(VoltageUnit::Kilovolt)),
    ("milliampere", Unit::Current(CurrentUnit::Milliampere)),
    ("ampere", Unit::Current(CurrentUnit::Ampere)),
    ("milliohm", Unit::Resistance(ResistanceUnit::Milliohm)),
    ("ohm", Unit::Resistance(ResistanceUnit::Ohm)),
    ("kilohm", Unit::Resistance(ResistanceUnit::Kilohm)),
    ("megohm", Unit::Resistance(ResistanceUnit::Megohm)),
    ("newton", Unit::Force(ForceUnit::Newton)),
    ("kilonewton", Unit::Force(ForceUnit::Kilonewton)),
    ("kilogram_force", Unit::Force(ForceUnit::KilogramForce)),
    ("pound_force", Unit::Force(ForceUnit::PoundForce)),
    ("newton_per_millimetre", Unit::SpringRate(SpringRateUnit::NewtonPerMillimetre)),
    ("kilogram_force_per_millimetre", Unit::SpringRate(SpringRateUnit::KilogramForcePerMillimetre)),
    ("pound_force_per_inch", Unit::SpringRate(SpringRateUnit::PoundForcePerInch)),
    ("kilometre_per_hour", Unit::Speed(SpeedUnit::KilometrePerHour)),
    ("mile_per_hour", Unit::Speed(SpeedUnit::MilePerHour)),
    ("revolution_per_minute", Unit::RotationalSpeed(RotationalSpeedUnit::RevolutionPerMinute)),
    ("millilitre_per_minute", Unit::Flow(FlowUnit::MillilitrePerMinute)),
    ("litre_per_minute", Unit::Flow(FlowUnit::LitrePerMinute)),
    ("litre_per_hour", Unit::Flow(FlowUnit::LitrePerHour)),
    ("us_gallon_per_minute", Unit::Flow(FlowUnit::UsGallonPerMinute)),
    ("imperial_gallon_per_minute", Unit::Flow(FlowUnit::ImperialGallonPerMinute)),
    ("percent", Unit::Percentage(PercentageUnit::Percent)),
];

const MINUTE: Unit = Unit::Time(TimeUnit::Minute);

/// Kinds whose units may be said wherever a number may: those of what hands turn, and of what gauges show most. A word more in
/// a recogniser's list is a word more to be misheard, so units of the others are in it only where one of them is awaited.
const ALWAYS_HEARD: [Kind; 5] = [Kind::Torque, Kind::Angle, Kind::Length, Kind::Mass, Kind::Pressure];

/// The units of one language. Holds every key of [`UNITS`].
#[derive(Debug, Clone)]
pub(super) struct Units {
    table: Vec<(Unit, UnitWords)>,
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
        let at = self.table.iter().position(|(u, _)| *u == unit);
        // `new` put every unit there is into the table, in the order of `UNITS`.
        &self.table[at.unwrap_or(0)].1
    }

    /// The words of the minute.
    pub fn minute(&self) -> &UnitWords {
        self.of(MINUTE)
    }

    /// The words of the hour.
    pub fn hour(&self) -> &UnitWords {
        self.of(Unit::Time(TimeUnit::Hour))
    }

    /// The unit that is spelled at the start of the characters, the longest one. `alone`: no number stands before it,
    /// so only spellings that are no ordinary words count.
    pub fn spelled_at(&self, rest: &[char], alone: bool) -> Option<(&UnitWords, usize)> {
        let mut best: Option<(&UnitWords, usize)> = None;
        let prefix_here = prefix(rest);
        let same_prefix = |spelling: &str| prefix(&spelling.chars().collect::<Vec<_>>()) == prefix_here;
        // Of two that differ by a capital alone, as milli and mega do, the one that is spelled so.
        let as_spelled = |words: &UnitWords, length: usize| {
            words.spelled.iter().any(|s| s.chars().count() == length && s.chars().zip(rest).all(|(a, b)| a == *b))
        };
        for (_, words) in &self.table {
            // The names of units without a spelling are ordinary words ("two points open").
            let named = !alone && !words.spelled.is_empty();
            let said = [&words.one, &words.many].into_iter().filter(|_| named);
            for spelling in words.spelled.iter().chain(said) {
                let length = spelling.chars().count();
                let longer = best.is_none_or(|(other, best)| {
                    length > best || length == best && as_spelled(words, length) && !as_spelled(other, length)
                });
                if longer && length <= rest.len() && !(alone && ordinary(spelling)) && same_prefix(spelling) {
                    let mut pairs = spelling.chars().zip(rest);
                    // A single letter is a unit only as it is spelled: "5 A", but not "5 a side".
                    let exact = alone || length == 1;
                    if pairs.all(|(a, b)| if exact { a == *b } else { a.to_lowercase().eq(b.to_lowercase()) }) {
                        best = Some((words, length));
                    }
                }
            }
        }
        best
    }

    /// What is heard for units where one of this kind is awaited, each unit's first.
    pub fn heard_where(&self, awaited: Kind) -> impl Iterator<Item = &String> {
        let may_be = move |unit: &Unit| unit.kind() == awaited || is_always_heard(unit.kind());
        self.table.iter().filter(move |(unit, _)| may_be(unit)).filter_map(|(_, words)| words.heard.first())
    }

    /// The unit that typed or heard words name, whatever stands between its letters. None if they name two.
    pub fn named(&self, text: &str) -> Option<Unit> {
        let wanted = bare(text);
        let named = |words: &UnitWords| {
            let all = words.spelled.iter().chain(&words.heard).chain([&words.one, &words.many]);
            all.map(|s| bare(s)).any(|s| s == wanted)
        };
        if wanted.is_empty() {
            return None;
        }
        let mut found = self.table.iter().filter(|(_, words)| named(words)).map(|(unit, _)| *unit);
        found.next().filter(|_| found.next().is_none())
    }

    /// The words of a typed line, with what is a unit only behind a number at its end by the unit's own name ("0.10 in").
    pub fn typed_at_the_end<'a>(&'a self, mut words: Vec<&'a str>) -> Vec<&'a str> {
        if let [.., number, last] = &mut words[..]
            && number.ends_with(|c: char| c.is_numeric())
            && let Some((_, words)) = self.table.iter().find(|(_, words)| words.typed.iter().any(|typed| typed == last))
        {
            *last = &words.many;
        }
        words
    }

    /// Is this word one for minutes?
    pub fn is_minute(&self, word: &str) -> bool {
        let words = self.minute();
        words.one == word || words.many == word || words.heard.iter().chain(&words.spelled).any(|w| w == word)
    }
}

/// Could it be a word of ordinary text, or a mark of it?
fn ordinary(spelling: &str) -> bool {
    if spelling.chars().count() == 1 {
        return true;
    }
    let lower = spelling.chars().all(|c| c.is_lowercase());
    (lower && spelling != "mm") || !spelling.chars().any(char::is_alphabetic)
}

fn bare(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let (before, rest) = prefix(&chars).map_or(("", &chars[..]), |prefix| (prefix, &chars[1..]));
    let kept = |c: &&char| c.is_alphanumeric() || matches!(c, '°' | '²' | '/' | '"' | '″' | '%');
    before.chars().chain(rest.iter().filter(kept).flat_map(|c| c.to_lowercase())).collect()
}

/// What the first letter of a unit stands for where its capital alone tells milli from mega, written out: a thousand million lies
/// between the two. A megavolt is no unit here, and so none that is spelled like it is a millivolt; a unit that is written in capitals
/// throughout says nothing by them ("5 MM").
pub(super) fn prefix(unit: &[char]) -> Option<&'static str> {
    let (first, rest) = unit.split_first()?;
    let rest = rest.iter().skip_while(|c| c.is_whitespace());
    let letters = rest.take_while(|c| c.is_alphabetic()).collect::<String>();
    let ohm = letters.starts_with(['Ω', '\u{2126}']);
    match (first, letters.as_str()) {
        ('m', _) if ohm => Some("milli"),
        ('M', _) if ohm || letters.to_lowercase().starts_with("ohm") => Some("meg"),
        ('m', "Pa" | "PA") => Some("milli"),
        ('M', "V" | "v" | "A" | "a" | "m" | "l" | "L" | "s" | "bar") => Some("mega"),
        _ => None,
    }
}

/// Is it spelled so that it may be milli or mega, or with the one of the two that it never has?
pub(super) fn has_unclear_prefix(word: &str) -> bool {
    let never = |prefix: &str, units: &[&str]| word.strip_prefix(prefix).is_some_and(|rest| units.contains(&rest));
    matches!(word, "mω" | "mohm" | "mohms")
        || never("milli", &["pa"])
        || never("mega", &["v", "a", "m", "l", "s", "bar"])
}

/// May units of this kind be said wherever a number may?
pub(super) fn is_always_heard(kind: Kind) -> bool {
    ALWAYS_HEARD.contains(&kind)
}

/// The unit that a word means where a value of this unit is awaited, if it means another one there: of a temperature "degrees"
/// are its own, of a force "pounds" and "kilograms" are no masses. `Err` where it says no more than the number does.
pub(super) fn meant_where(said: Unit, awaited: Unit) -> Result<Unit, ()> {
    match (said, awaited) {
        (Unit::Angle(AngleUnit::Degree), Unit::Temperature(_)) => Err(()),
        (Unit::Mass(MassUnit::Pound), Unit::Force(_)) => Ok(Unit::Force(ForceUnit::PoundForce)),
        (Unit::Mass(MassUnit::Kilogram), Unit::Force(_)) => Ok(Unit::Force(ForceUnit::KilogramForce)),
        _ => Ok(said),
    }
}
