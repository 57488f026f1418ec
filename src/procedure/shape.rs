//! The shape of a file: the JSON schema for editors, and the loader's walk over the file by that same schema. It is that of
//! a procedure, or of any other file whose entries are described by a type.
//!
//! The walk reports every key, type and word that does not fit, not only the first, and puts a stand-in where
//! something needed is missing, only so that the rest can still be looked at: whoever walks must not use what comes out
//! once there was a finding.

use super::code::Code;
use super::finding::Finding;
use super::written::Written;
use schemars::JsonSchema;
use serde_json::Value;
use std::collections::{BTreeMap, HashSet};
use std::sync::LazyLock;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The JSON schema of a procedure file, for editors.
pub fn json_schema() -> Value {
    schema_of::<Written>("Wrenchside procedure")
}

/// The JSON schema of a file that is read into `T`.
pub(crate) fn schema_of<T: JsonSchema>(title: &str) -> Value {
    let mut schema = plain(schemars::SchemaGenerator::default().into_root_schema_for::<T>().to_value());
    if let Value::Object(map) = &mut schema {
        map.insert("title".to_owned(), title.into());
    }
    schema
}

/// TOML knows no null, and no text of a procedure may be empty: the schema says both.
fn plain(value: Value) -> Value {
    match value {
        Value::Array(list) => Value::Array(list.into_iter().map(plain).collect()),
        Value::Object(mut map) => {
            if let Some(Value::Array(any)) = map.remove("anyOf") {
                // Either something or null: it is the something, kept with what is said about the key.
                if let Some(Value::Object(some)) = any.into_iter().find(|v| v.get("type") != Some(&"null".into())) {
                    for (key, value) in some {
                        map.entry(key).or_insert(value);
                    }
                }
            }
            if let Some(Value::Array(types)) = map.get("type") {
                let some = types.iter().find(|t| *t != "null").cloned();
                map.insert("type".to_owned(), some.unwrap_or(Value::Null));
            }
            if map.get("default").is_some_and(|d| d.is_null() || d.as_array().is_some_and(Vec::is_empty)) {
                map.remove("default");
            }
            if map.get("type") == Some(&"string".into()) && !map.contains_key("enum") && !map.contains_key("const") {
                map.insert("minLength".to_owned(), 1.into());
            }
            Value::Object(map.into_iter().map(|(key, value)| (key, plain(value))).collect())
        }
        other => other,
    }
}

/// A place in the text, in bytes.
type Span = std::ops::Range<usize>;

/// What may stand in one place.
#[derive(Debug)]
pub(crate) enum Shape {
    Text,
    Choice(Vec<String>),
    Integer { least: i64, most: i64 },
    Truth,
    List { of: Box<Shape>, least: usize },
    Table(BTreeMap<String, Key>),
}

#[derive(Debug)]
pub(crate) struct Key {
    shape: Shape,
    required: bool,
}

/// A whole procedure. Made from the schema once.
pub(super) static PROCEDURE: LazyLock<Shape> = LazyLock::new(shape_of::<Written>);

/// The shape of a whole file that is read into `T`.
pub(crate) fn shape_of<T: JsonSchema>() -> Shape {
    let settings = schemars::generate::SchemaSettings::default().with(|s| s.inline_subschemas = true);
    shape(&plain(settings.into_generator().into_root_schema_for::<T>().to_value()))
}

fn shape(schema: &Value) -> Shape {
    let words = |key: &str| schema.get(key).and_then(Value::as_array);
    if let Some(choices) = words("enum") {
        return Shape::Choice(choices.iter().filter_map(|c| c.as_str()).map(str::to_owned).collect());
    }
    if let Some(choices) = words("oneOf") {
        return Shape::Choice(choices.iter().filter_map(|c| c.get("const")?.as_str()).map(str::to_owned).collect());
    }
    let number = |key: &str| schema.get(key).and_then(Value::as_i64);
    match schema.get("type").and_then(Value::as_str) {
        Some("integer") => {
            let most = number("maximum").unwrap_or(i64::from(u32::MAX));
            Shape::Integer { least: number("minimum").unwrap_or(0), most }
        }
        Some("boolean") => Shape::Truth,
        Some("array") => {
            let least = number("minItems").and_then(|n| usize::try_from(n).ok()).unwrap_or(0);
            Shape::List { of: Box::new(schema.get("items").map_or(Shape::Text, shape)), least }
        }
        Some("object") => {
            let required: Vec<&str> = words("required").into_iter().flatten().filter_map(Value::as_str).collect();
            let keys = schema.get("properties").and_then(Value::as_object).into_iter().flatten();
            let key = |(name, inner): (&String, &Value)| {
                (name.clone(), Key { shape: shape(inner), required: required.contains(&name.as_str()) })
            };
            Shape::Table(keys.map(key).collect())
        }
        _ => Shape::Text,
    }
}

impl Shape {
    /// What is wanted, in words.
    fn wanted(&self) -> &'static str {
        match self {
            Shape::Text | Shape::Choice(_) => "a text in quotes",
            Shape::Integer { .. } => "a whole number",
            Shape::Truth => "true or false",
            Shape::List { .. } => "a list in square brackets",
            Shape::Table(_) => "a table",
        }
    }

    /// Something of this shape, to go on looking with.
    fn stand_in(&self) -> DeValue<'static> {
        match self {
            Shape::Text => DeValue::String("".into()),
            Shape::Choice(words) => DeValue::String(words.first().cloned().unwrap_or_default().into()),
            // The least that is ever asked for is 0 or 1, and 1 serves for both.
            Shape::Integer { .. } => DeValue::parse("1").map_or(DeValue::Boolean(false), Spanned::into_inner),
            Shape::Truth => DeValue::Boolean(false),
            Shape::List { .. } => DeValue::Array(Default::default()),
            Shape::Table(keys) => {
                let required = keys.iter().filter(|(_, key)| key.required);
                let entry = |(name, key): (&String, &Key)| {
                    (Spanned::new(0..0, name.clone().into()), Spanned::new(0..0, key.shape.stand_in()))
                };
                DeValue::Table(required.map(entry).collect())
            }
        }
    }
}

/// The word of the list that is nearest to `word`, if one is near.
pub(crate) fn nearest<'a>(word: &str, of: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let score = |w: &&str| strsim::normalized_damerau_levenshtein(word, w).max(strsim::jaro_winkler(word, w) - 0.25);
    of.into_iter()
        .map(|w| (score(&w), w))
        .filter(|(score, _)| *score >= 0.6)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, w)| w)
}

/// Words in quotes with commas between them.
pub(crate) fn list<'a>(words: impl IntoIterator<Item = &'a str>) -> String {
    let quoted: Vec<String> = words.into_iter().map(|w| format!("\"{w}\"")).collect();
    quoted.join(", ")
}

/// Walks over a whole file of a shape. What does not fit is reported, and taken out or replaced by a stand-in; returns where the
/// stand-ins are, since whatever is found out about one of those says nothing about the file.
pub(super) fn walk(shape: &Shape, file: &mut Spanned<DeTable<'_>>, findings: &mut Vec<Finding>) -> HashSet<Span> {
    let span = file.span();
    let mut walk = Walk { findings, stand_ins: HashSet::new() };
    if let Shape::Table(keys) = shape {
        // Something missing at the top is missing at the start of the file.
        walk.table(keys, file.get_mut(), span.start..span.start, None);
    }
    walk.stand_ins
}

struct Walk<'f> {
    findings: &'f mut Vec<Finding>,
    stand_ins: HashSet<Span>,
}

impl Walk<'_> {
    fn report(&mut self, code: Code, span: Span, what: String, right: String) {
        self.findings.push(Finding::new(code, span, what, right));
    }

    /// Walks over a table that stands under `key`; the file itself stands under none.
    fn table(&mut self, keys: &BTreeMap<String, Key>, table: &mut DeTable<'_>, span: Span, key: Option<&str>) {
        let (mut unknown, mut there) = (Vec::new(), 0);
        for (name, value) in table.iter_mut() {
            match keys.get(name.get_ref().as_ref()) {
                Some(inner) => {
                    there += usize::from(inner.required);
                    self.entry(&inner.shape, value, name.get_ref());
                }
                None => unknown.push(name.clone()),
            }
        }
        for name in unknown {
            let allowed = keys.keys().map(String::as_str);
            let near = nearest(name.get_ref(), allowed.clone());
            let near = near.map_or(String::new(), |near| format!("did you mean \"{near}\"? "));
            let right = format!("{near}Allowed here: {}", list(allowed));
            let what = format!("{} has no key \"{}\"", called(key, table), name.get_ref());
            self.report(Code::KeyUnknown, name.span(), what, right);
            table.remove(&name);
        }
        let required = || keys.iter().filter(|(_, inner)| inner.required);
        if there == required().count() {
            return;
        }
        for (name, inner) in required() {
            if table.contains_key(name.as_str()) {
                continue;
            }
            let right = match &inner.shape {
                Shape::Choice(words) => format!("Write: {name} = one of {}", list(words.iter().map(String::as_str))),
                shape => format!("Write: {name} = {}", shape.wanted()),
            };
            let what = format!("{} has no \"{name}\"", called(key, table));
            self.report(Code::KeyMissing, span.clone(), what, right);
            let here = |name: &str| Spanned::new(span.clone(), name.to_owned().into());
            table.insert(here(name), Spanned::new(span.clone(), inner.shape.stand_in()));
            self.stand_ins.insert(span.clone());
        }
    }

    /// Puts a stand-in where the value does not fit.
    fn entry(&mut self, shape: &Shape, value: &mut Spanned<DeValue<'_>>, key: &str) {
        if !self.fits(shape, value, key) {
            *value.get_mut() = shape.stand_in();
            self.stand_ins.insert(value.span());
        }
    }

    /// Does the value fit? What does not has been reported; inside lists and tables it has also been replaced.
    fn fits(&mut self, shape: &Shape, value: &mut Spanned<DeValue<'_>>, key: &str) -> bool {
        let span = value.span();
        let found = value.get_ref().type_str();
        match (shape, value.get_mut()) {
            (Shape::Text, DeValue::String(text)) => {
                if !text.starts_with(|c: char| c.is_ascii_graphic()) && text.trim().is_empty() {
                    let right = "Write the text, or leave the key out".to_owned();
                    self.report(Code::TextEmpty, span.clone(), format!("\"{key}\" is empty"), right);
                    self.stand_ins.insert(span);
                    *text = "".into();
                }
                true
            }
            (Shape::Choice(words), DeValue::String(text)) => {
                let fits = words.iter().any(|w| w == text);
                if !fits {
                    let words = words.iter().map(String::as_str);
                    let near =
                        nearest(text, words.clone()).map_or(String::new(), |n| format!("did you mean \"{n}\"? "));
                    let right = format!("{near}Allowed here: {}", list(words));
                    self.report(Code::ChoiceUnknown, span, format!("\"{text}\" is not a word for \"{key}\""), right);
                }
                fits
            }
            (Shape::Integer { least, most }, DeValue::Integer(number)) => {
                let n = i64::from_str_radix(&number.as_str().replace('_', ""), number.radix()).ok();
                let fits = n.is_some_and(|n| (*least..=*most).contains(&n));
                if !fits {
                    let what = format!("{} is no number for \"{key}\"", number.as_str());
                    let range = match most {
                        most if *most == i64::from(u32::MAX) => format!("{least} or more"),
                        most => format!("from {least} to {most}"),
                    };
                    self.report(Code::NumberRange, span, what, format!("Write a whole number, {range}"));
                }
                fits
            }
            (Shape::Truth, DeValue::Boolean(_)) => true,
            (Shape::List { of, least }, DeValue::Array(list)) => {
                if list.len() < *least {
                    let right = "Write at least one entry".to_owned();
                    self.report(Code::TextEmpty, span.clone(), format!("\"{key}\" is empty"), right);
                    self.stand_ins.insert(span);
                }
                for entry in list.iter_mut() {
                    self.entry(of, entry, key);
                }
                true
            }
            (Shape::Table(keys), DeValue::Table(inner)) => {
                self.table(keys, inner, span, Some(key));
                true
            }
            (Shape::Text, DeValue::Integer(_) | DeValue::Float(_)) if is_value(key) => {
                let right = format!("Write it in quotes with its unit, such as {key} = \"{}\"", example(key));
                self.report(Code::UnitMissing, span, format!("\"{key}\" has a number without a unit"), right);
                false
            }
            (shape, _) => {
                let what = format!("\"{key}\" should be {}, found {found}", shape.wanted());
                self.report(Code::TypeWrong, span, what, format!("Write {}", shape.wanted()));
                false
            }
        }
    }
}

/// What to call a table in a message.
fn called(key: Option<&str>, table: &DeTable<'_>) -> String {
    let id = ["id", "name"].iter().find_map(|key| table.get(*key)?.get_ref().as_str());
    match (key, id) {
        (None, _) => "the file".to_owned(),
        (Some(key), Some(id)) => format!("{key} \"{id}\""),
        (Some(key), None) => format!("\"{key}\""),
    }
}

/// Is it a key that holds an amount?
fn is_value(key: &str) -> bool {
    matches!(key, "torque" | "also" | "angle" | "back_off" | "least" | "most" | "value")
}

fn example(key: &str) -> &'static str {
    match key {
        "torque" | "value" => "70 N·m",
        "also" => "52 lbf·ft",
        "angle" | "back_off" => "90 deg",
        _ => "2 mm",
    }
}
