//! How a page of values is written down: its keys, which TOML, a table and lines have alike, and the text of a value.
//!
//! A value is one text in all three: stages joined by "+", each as a procedure has it ("62 N·m + 50 deg").

use super::Value;
use super::amounts;
use crate::procedure::{Code, Finding, Shape, Spot, StageKind, Text, WrittenSource, WrittenStage, schema_of, shape_of};
use crate::quantity::{
    Amount, Angle, Current, Flow, Force, Kind, Length, Limits, Mass, ParseError, Percentage, Pressure, Problem,
    Quantity, Resistance, RotationalSpeed, Speed, SpringRate, Temperature, Time, Torque, Voltage, Volume,
};
use rust_decimal::Decimal;
use schemars::JsonSchema;
use serde::Deserialize;
use std::sync::LazyLock;
use toml::de::DeTable;

/// The format of pages that this program reads and writes.
pub(crate) const FORMAT: u32 = 1;

/// A page of values: things by name, each with its value and the page of the manual that has it.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Written {
    /// Number of this file format.
    #[schemars(range(min = 1))]
    #[allow(dead_code, reason = "looked at before the rest is read, since a newer file may hold anything")]
    pub format: u32,
    /// The vehicle it is for.
    pub vehicle: Option<Text>,
    /// Language of the names, as a BCP 47 tag; "en" if it is left out.
    pub language: Option<Text>,
    /// Where the values come from.
    pub source: Option<WrittenSource>,
    /// The values.
    #[serde(default)]
    pub value: Vec<Entry>,
}

/// A thing with its value.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Entry {
    /// Its name, as it is asked for.
    pub name: Text,
    /// How the name is said and heard, where the recogniser does not know its words.
    pub say_as: Option<Text>,
    /// The value: stages with "+" between them ("62 N·m + 50 deg"), or another amount ("2.2 bar", "at most 0.1 mm").
    pub value: Text,
    /// The first torque in a second unit, as the source prints it; it guards against typing errors.
    pub also: Option<Text>,
    /// Thread ("M12 x 1.5"), for a test of plausibility.
    pub thread: Option<Text>,
    /// Property class ("10.9").
    pub class: Option<Text>,
    /// Page of the value.
    pub page: Option<Text>,
}

/// The shape of the file. Made once.
pub(super) static PAGE: LazyLock<Shape> = LazyLock::new(shape_of::<Written>);

/// The JSON schema of a page of values, for editors.
pub fn json_schema() -> serde_json::Value {
    schema_of::<Written>("Wrenchside page of values")
}

/// Does a TOML text look like a page of values, whole or not?
pub(super) fn is_page(text: &str) -> bool {
    let (table, _) = DeTable::parse_recoverable(text);
    let has = |key: &str| table.get_ref().contains_key(key);
    (has("value") || has("vehicle")) && !has("procedure") && !has("step")
}

/// The stages of a value, each with the place of the whole value, as a procedure writes them. Empty for a value that has no
/// stages; then `limits` reads it.
pub(super) fn stages(text: &Text, also: Option<&Text>) -> Vec<Spot<WrittenStage>> {
    match stages_joined(text, also) {
        stages if stages.is_empty() => stages_told(text, also),
        stages => stages,
    }
}

/// The same of a value that is written as a manual has it: "45 Nm then 90 degrees", "45 Nm (33 lbf ft)". A second unit stands in one
/// place only.
fn stages_told(text: &Text, also: Option<&Text>) -> Vec<Spot<WrittenStage>> {
    let whole = text.value.trim();
    // Where a sign joins stages each must be whole: what stands behind the last one may be missing.
    if whole.replace("+/-", "").contains('+') || whole.ends_with([',', ';']) {
        return Vec::new();
    }
    let here = |piece: String| Some(Spot { value: piece, span: text.span.clone() });
    let mut also = also.cloned();
    let mut stages = Vec::new();
    for stage in amounts::stages(&text.value).unwrap_or_default() {
        let stage = match stage {
            amounts::Stage::Torque { also: Some(_), .. } if also.is_some() => return Vec::new(),
            amounts::Stage::Torque { amount, also: second } => {
                WrittenStage { torque: here(amount), also: second.and_then(here).or_else(|| also.take()), ..none() }
            }
            amounts::Stage::Angle(angle) => WrittenStage { angle: here(angle), ..none() },
        };
        stages.push(Spot { value: stage, span: text.span.clone() });
    }
    stages
}

fn none() -> WrittenStage {
    WrittenStage {
        torque: None,
        also: None,
        angle: None,
        back_off: None,
        slot: None,
        slacken: None,
        meanwhile: None,
        until: None,
        needs: None,
        source: None,
    }
}

fn stages_joined(text: &Text, also: Option<&Text>) -> Vec<Spot<WrittenStage>> {
    let mut also = also.cloned();
    let mut stages = Vec::new();
    for piece in pieces(text) {
        // A finding marks the whole value: where a piece of it stands depends on how its text is escaped.
        let here = |piece: &str| Some(Spot { value: piece.trim().to_owned(), span: text.span.clone() });
        let stage = match piece {
            "slacken" => WrittenStage { slacken: Some(Spot { value: true, span: text.span.clone() }), ..none() },
            piece => match piece.strip_prefix("back off ") {
                Some(angle) => WrittenStage { back_off: here(angle), ..none() },
                None if piece.parse::<Limits<Angle>>().is_ok() => WrittenStage { angle: here(piece), ..none() },
                None if piece.parse::<Limits<Torque>>().is_ok() => {
                    WrittenStage { torque: here(piece), also: also.take(), ..none() }
                }
                None => return Vec::new(),
            },
        };
        stages.push(Spot { value: stage, span: text.span.clone() });
    }
    stages
}

/// What to do about a value that has more in it than an amount.
pub(super) const MORE: &str = "Write the value as the source has it, with its unit; a further stage behind a \"+\" (\"62 N·m + 50 deg\"), \
    and the same torque in a second unit as `also`";

/// Is this text a value, as far as it can be read?
pub(super) fn is_value(text: &str) -> bool {
    let text = Spot { value: text.trim().to_owned(), span: 0..0 };
    !stages(&text, None).is_empty() || limits(&text).is_ok()
}

/// What is wrong with a page: something that belongs to the value stands in it, or it is no page at all. A stage behind a comma
/// would be lost otherwise, and the value told cut short.
pub(crate) fn no_page(page: &str, english: bool) -> Option<String> {
    let mut pieces = page.split(',').map(str::trim);
    let first = pieces.next().unwrap_or_default();
    if !is_page_number(first, english) {
        return Some(first.to_owned());
    }
    pieces.find(|piece| belongs_to_value(piece)).map(str::to_owned)
}

/// "page 7-1", "pp. 3-4", "7-1", "BR-12". Other languages have their own word before the number.
fn is_page_number(text: &str, english: bool) -> bool {
    let number = |text: &str| {
        let letters = text.chars().take_while(|c| c.is_alphabetic()).count();
        let rest: String = text.chars().skip(letters).collect();
        letters <= 3
            && rest.contains(|c: char| c.is_ascii_digit())
            && rest.chars().all(|c| c.is_ascii_digit() || matches!(c, '-' | '–' | '.' | '/'))
    };
    if number(text) {
        return true;
    }
    let word: String = text.chars().take_while(|c| c.is_alphabetic()).collect();
    let behind = text[word.len()..].trim_start_matches('.');
    match english {
        true => matches!(word.to_lowercase().as_str(), "page" | "pages" | "p" | "pp"),
        false => !word.is_empty(),
    }
    .then(|| behind.trim())
    .is_some_and(|behind| behind.split_whitespace().next().is_some_and(number))
}

/// Has a piece behind the page to do with the value?
fn belongs_to_value(piece: &str) -> bool {
    let lower = piece.to_lowercase();
    let amount = || {
        let unit = piece.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | ' '));
        unit.len() < piece.len() && unit.starts_with(|c: char| c.is_alphabetic() || matches!(c, '°' | '±' | '+'))
    };
    ["slacken", "back off", "also ", "say ", "at least ", "at most "].iter().any(|word| lower.starts_with(word))
        || is_value(piece)
        || amount()
}

/// The pieces between the signs that join stages.
fn pieces(text: &str) -> Vec<&str> {
    let mut from = 0;
    let mut pieces = Vec::new();
    // A window may be written "27 +/- 3 N·m".
    let ends = text.match_indices('+').map(|(at, _)| at).filter(|at| !text[*at..].starts_with("+/-"));
    for end in ends.chain([text.len()]) {
        pieces.push(text[from..end].trim());
        from = end + 1;
    }
    pieces
}

/// What a value says; nothing, with a finding, if it cannot be read.
pub(super) fn value(text: &Text, stages: &[Spot<WrittenStage>], findings: &mut Vec<Finding>) -> Option<Value> {
    if !stages.is_empty() {
        return stages.iter().map(|stage| kind(text, stage, findings)).collect::<Option<_>>().map(Value::Stages);
    }
    let pieces = pieces(text);
    let told = |(code, what): (Code, String)| {
        // What a manual says beside an amount has its own way to be written.
        let more = text.value.contains(['(', '+', ';', '/']) || text.value.split_whitespace().count() > 3;
        let right = if more { MORE } else { "Write the value as the source has it, with its unit" };
        Finding::new(code, text.span.clone(), what, right)
    };
    if let [piece] = pieces[..] {
        let value = limits(piece).map_err(|wrong| findings.push(told(wrong))).ok()?;
        findings.extend(below_nothing(text, &value));
        return Some(value);
    }
    // Of several stages it is said which one cannot be read.
    for piece in pieces {
        let wrong = match piece.strip_prefix("back off ") {
            Some(angle) => angle.parse::<Angle>().err().map(|error| (Code::ValueUnreadable, error.to_string())),
            None if piece == "slacken" => None,
            None => match limits(piece) {
                _ if piece.parse::<Limits<Torque>>().is_ok() || piece.parse::<Limits<Angle>>().is_ok() => None,
                Ok(_) => {
                    Some((Code::StageUnclear, format!("\"{piece}\" is no stage: a stage is a torque or an angle")))
                }
                Err(wrong) => Some(wrong),
            },
        };
        findings.extend(wrong.map(told));
    }
    None
}

/// What is less than nothing: of most kinds there is no such amount, and of the others a sign is soon typed in error.
fn below_nothing(text: &Text, value: &Value) -> Option<Finding> {
    let Value::Limits { least, most } = value else { return None };
    let below = [least, most].into_iter().flatten().find(|amount| amount.amount() < Decimal::ZERO)?;
    let (code, what) = match below.kind().may_be_negative() {
        // Frost is nothing odd.
        true if below.kind() == Kind::Temperature => return None,
        true => (Code::ValueNegative, format!("\"{}\" is less than nothing", text.value)),
        false => {
            (Code::ValueNotPositive, format!("\"{}\" is less than nothing, and there is no such amount", text.value))
        }
    };
    Some(Finding::new(code, text.span.clone(), what, "Compare the sign with the source"))
}

fn kind(text: &Text, stage: &WrittenStage, findings: &mut Vec<Finding>) -> Option<StageKind> {
    let kind = if let Some(torque) = &stage.torque {
        let limits = torque.parse::<Limits<Torque>>().ok()?;
        positive(limits.low().number()).then_some(StageKind::Torque(limits))
    } else if let Some(angle) = &stage.angle {
        let limits = angle.parse::<Limits<Angle>>().ok()?;
        positive(limits.low().number()).then_some(StageKind::Angle(limits))
    } else if let Some(angle) = &stage.back_off {
        match angle.parse::<Limits<Angle>>() {
            // "No more than a quarter turn" may be none at all.
            Ok(limits) => (limits.low().number() >= Decimal::ZERO && positive(limits.high().number()))
                .then_some(StageKind::BackOff(limits)),
            Err(error) => {
                let right = "Write the angle as the source has it, with its unit";
                findings.push(Finding::new(Code::ValueUnreadable, text.span.clone(), error.to_string(), right));
                return None;
            }
        }
    } else {
        Some(StageKind::Slacken)
    };
    if kind.is_none() {
        let what = format!("a stage of \"{}\" is not greater than nothing", text.value);
        let right = "Write the value as the source has it";
        findings.push(Finding::new(Code::ValueNotPositive, text.span.clone(), what, right));
    }
    kind
}

fn positive(number: Decimal) -> bool {
    number > Decimal::ZERO
}

/// Reads an amount of any kind, or what it must lie between.
fn limits(text: &str) -> Result<Value, (Code, String)> {
    if let Some(least) = text.strip_prefix("at least ") {
        return Ok(Value::Limits { least: Some(quantity(least)?), most: None });
    }
    if let Some(most) = text.strip_prefix("at most ") {
        return Ok(Value::Limits { least: None, most: Some(quantity(most)?) });
    }
    let window = |limits: Limits<Quantity>| Value::Limits { least: Some(limits.low()), most: Some(limits.high()) };
    any(text).map(window)
}

fn quantity(text: &str) -> Result<Quantity, (Code, String)> {
    match any(text)? {
        Limits::Exactly(quantity) => Ok(quantity),
        Limits::Window { .. } => {
            Err((Code::ValueUnreadable, format!("\"{}\" is a window, and one amount is wanted", text.trim())))
        }
    }
}

/// Limits of whichever kind the unit is of. An error speaks of that kind, or where the unit is missing, of torque.
fn any(text: &str) -> Result<Limits<Quantity>, (Code, String)> {
    fn read<T: Amount + Into<Quantity>>(text: &str) -> Result<Limits<Quantity>, ParseError> {
        text.parse::<Limits<T>>().map(|limits| limits.map(Into::into))
    }
    let mut errors = Vec::new();
    // Every kind there is, as for measurements of a procedure; those of stages first.
    let kinds = [
        read::<Torque>,
        read::<Angle>,
        read::<Length>,
        read::<Mass>,
        read::<Pressure>,
        read::<Volume>,
        read::<Temperature>,
        read::<Time>,
        read::<Voltage>,
        read::<Current>,
        read::<Resistance>,
        read::<Force>,
        read::<SpringRate>,
        read::<Speed>,
        read::<RotationalSpeed>,
        read::<Flow>,
        read::<Percentage>,
    ];
    const _: () = assert!(Kind::ALL.len() == 17, "another kind belongs into this list");
    for read in kinds {
        match read(text) {
            Ok(limits) => return Ok(limits),
            Err(error) => errors.push(error),
        }
    }
    let other = |error: &ParseError| matches!(error.problem, Problem::OtherKind { .. } | Problem::UnknownUnit(_));
    let Some(error) = errors.iter().find(|error| !other(error)) else {
        let unit = errors.iter().find_map(|error| match &error.problem {
            Problem::UnknownUnit(unit) => Some(unit.as_str()),
            _ => None,
        });
        let what = format!("\"{}\" is no amount: \"{}\" is no unit", text.trim(), unit.unwrap_or_default());
        return Err((Code::ValueUnreadable, what));
    };
    let code = if error.problem == Problem::NoUnit { Code::UnitMissing } else { Code::ValueUnreadable };
    Err((code, error.to_string()))
}

/// The head of a page in a form that has no tables: one key and its text at a time.
#[derive(Debug, Default)]
pub(super) struct Head {
    vehicle: Option<Text>,
    language: Option<Text>,
    source: Option<Text>,
    edition: Option<Text>,
    chapter: Option<Text>,
    note: Option<Text>,
}

impl Head {
    /// The keys of it.
    pub const KEYS: [&str; 6] = ["vehicle", "source", "edition", "chapter", "note", "language"];

    /// Takes the text of a key, if there is such a key.
    pub fn take(&mut self, key: &str, text: Text, findings: &mut Vec<Finding>) -> bool {
        let place = match key {
            "vehicle" => &mut self.vehicle,
            "source" => &mut self.source,
            "edition" => &mut self.edition,
            "chapter" => &mut self.chapter,
            "note" => &mut self.note,
            "language" => &mut self.language,
            _ => return false,
        };
        if text.value.is_empty() {
            findings.push(Finding::new(Code::TextEmpty, text.span, format!("\"{key}\" is empty"), "Write the text"));
        } else if let Some(first) = place {
            let what = format!("\"{key}\" is written twice");
            let finding = Finding::new(Code::NotReadable, text.span, what, "Keep one of them; a page has one source");
            findings.push(finding.with(first.span.clone(), "the first one"));
        } else {
            *place = Some(text);
        }
        true
    }

    /// The page with these entries.
    pub fn with(self, value: Vec<Entry>, findings: &mut Vec<Finding>) -> Written {
        let source = match (self.source, self.edition) {
            (Some(title), Some(edition)) => {
                Some(WrittenSource { title, edition, chapter: self.chapter, note: self.note })
            }
            (Some(title), None) => {
                let right = "Write its edition or date as well (edition)";
                findings.push(Finding::new(Code::KeyMissing, title.span.clone(), "the source has no edition", right));
                // So that it is not missed a second time.
                let edition = Spot { value: String::new(), span: title.span.clone() };
                Some(WrittenSource { title, edition, chapter: self.chapter, note: self.note })
            }
            // That there is none is found for every form alike.
            (None, _) => None,
        };
        Written { format: 1, vehicle: self.vehicle, language: self.language, source, value }
    }
}
