//! The form of a language file: its tables, as they are written.

use super::denials::Denials;
use super::numbers::{Confusable, NumberWords};
use super::speakable::Speakable;
use super::strip_phrases::{Nouns, StripPhrases};
use super::units::UnitWords;
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

/// The file as it is written. Everything that can be wrong in itself keeps its place.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Written {
    pub language: String,
    pub phrases: BTreeMap<String, Spanned<Vec<Spanned<String>>>>,
    pub typed: BTreeMap<String, Spanned<Vec<Spanned<String>>>>,
    pub shown: BTreeMap<String, String>,
    pub decoys: Decoys,
    pub typing: Typing,
    pub denials: Denials,
    pub strip: StripPhrases,
    pub strip_things: Nouns,
    pub numbers: Spanned<NumberWords>,
    pub confusable: Confusable,
    pub units: BTreeMap<String, Spanned<UnitWords>>,
    pub speakable: Speakable,
    pub names: BTreeMap<String, Spanned<String>>,
    pub labels: BTreeMap<String, Spanned<String>>,
    pub values: BTreeMap<String, Spanned<String>>,
    pub sentences: BTreeMap<String, Spanned<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Decoys {
    pub words: Vec<Spanned<String>>,
    /// With these talk begins, and no name of a thing.
    pub talk: Vec<String>,
}

/// Words of whoever types, which no recogniser has to know.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Typing {
    /// At the beginning or the end of a line they change nothing of what it means.
    pub polite: Vec<String>,
    /// A line that holds one of them denies or doubts: it is no name, and no claim is near to it.
    pub denying: Vec<String>,
    /// What a word for several things has at its end that a word for one has not.
    pub plurals: Vec<String>,
}
