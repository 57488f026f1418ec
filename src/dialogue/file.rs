//! One language: the words of the program, as `load` has read and checked them.

use super::denials::Denials;
use super::form::Typing;
use super::numbers::{LARGEST_HEARD, Numbers};
use super::pattern::Pattern;
use super::speakable::{DigitsOf, Speakable, Speaker};
use super::strip_phrases::{Claims, Noun};
use super::units::{UNITS, Units};
use crate::quantity::Kind;
use minijinja::{Environment, Value};
use std::collections::BTreeMap;
use std::sync::Arc;

/// One language, read and checked. Cheap to clone.
#[derive(Debug, Clone)]
pub struct Language(pub(super) Arc<Inner>);

#[derive(Debug)]
pub(super) struct Inner {
    pub tag: String,
    pub phrases: BTreeMap<String, Vec<Pattern>>,
    pub typed: BTreeMap<String, Vec<Pattern>>,
    pub shown: BTreeMap<String, String>,
    pub decoys: Vec<String>,
    pub talk: Vec<String>,
    pub typing: Typing,
    pub denials: Denials,
    /// What stands against the phrases of a meaning, for those that have something to lose.
    pub denied: BTreeMap<String, Vec<String>>,
    /// What can be told while something is taken apart: by its key, the phrases and what stands against them.
    pub strip: Claims,
    pub nouns: BTreeMap<String, Noun>,
    pub numbers: Numbers,
    pub units: Units,
    pub speakable: Speakable,
    pub names: BTreeMap<String, String>,
    pub labels: BTreeMap<String, String>,
    pub values: BTreeMap<String, String>,
    pub sentences: BTreeMap<String, String>,
    pub spoken: Environment<'static>,
    pub written: Environment<'static>,
}

impl Language {
    /// Its tag, as BCP 47 writes it.
    pub fn tag(&self) -> &str {
        &self.0.tag
    }

    /// Its numbers, said and heard.
    pub fn numbers(&self) -> &Numbers {
        &self.0.numbers
    }

    /// Written text in words: digits, units, threads, signs.
    pub fn speakable(&self, text: &str) -> String {
        self.speak(text, DigitsOf::Amounts)
    }

    /// Everything of the file that may be listened for as words: phrases without slots, decoys, numbers and units.
    pub fn all_words(&self) -> std::collections::BTreeSet<String> {
        let phrases = self.0.phrases.values().flatten().map(|p| p.text.clone());
        let units = UNITS.iter().map(|(_, unit)| *unit);
        let units = units.flat_map(|unit| self.units().of(unit).heard.clone());
        let numbers = (0..=LARGEST_HEARD).flat_map(|n| self.numbers().variants(n));
        let minute = self.units().minute();
        let more = self.numbers().pieces(Kind::Length).into_iter().chain([minute.one.clone(), minute.many.clone()]);
        let denied = self.0.denied.values().flatten().cloned();
        let all = phrases.chain(self.0.decoys.iter().cloned()).chain(denied).chain(units).chain(numbers).chain(more);
        all.flat_map(|text| text.split(' ').map(str::to_owned).collect::<Vec<_>>())
            .filter(|word| !word.contains('{'))
            .collect()
    }

    pub(super) fn speak(&self, text: &str, digits_of: DigitsOf) -> String {
        Speaker { numbers: &self.0.numbers, units: &self.0.units, words: &self.0.speakable }.speak(text, digits_of)
    }

    pub(super) fn units(&self) -> &Units {
        &self.0.units
    }

    /// Words with which talk begins, and no name of a thing.
    pub(super) fn talk(&self) -> &[String] {
        &self.0.talk
    }

    /// Words that deny, doubt or are polite where they are typed.
    pub(super) fn typing(&self) -> &Typing {
        &self.0.typing
    }

    pub(super) fn decoys(&self) -> &[String] {
        &self.0.decoys
    }

    /// Denied, doubted, half-way and asked forms of the phrases of a meaning, if it has something to lose.
    pub(super) fn denied(&self, key: &str) -> &[String] {
        self.0.denied.get(key).map_or(&[], Vec::as_slice)
    }

    /// The same of one phrase whose slots are filled.
    pub(super) fn denied_forms(&self, key: &str, phrase: &str) -> Vec<String> {
        self.0.denials.of(key, phrase)
    }

    /// Words, and ends of words, that deny, doubt or come close.
    pub fn denying(&self) -> (&[String], &[String]) {
        (&self.0.denials.words, &self.0.denials.endings)
    }

    pub(super) fn strip_table(&self) -> &BTreeMap<String, (Vec<String>, Vec<String>)> {
        &self.0.strip
    }

    pub(super) fn noun(&self, key: &str) -> Option<&Noun> {
        self.0.nouns.get(key)
    }

    pub(super) fn patterns(&self, key: &str) -> &[Pattern] {
        self.0.phrases.get(key).map_or(&[], Vec::as_slice)
    }

    pub(super) fn typed_patterns(&self, key: &str) -> &[Pattern] {
        self.0.typed.get(key).map_or(&[], Vec::as_slice)
    }

    /// A phrase as it is shown to people.
    pub(super) fn shown(&self, phrase: &str) -> String {
        show(&self.0.shown, phrase)
    }

    /// A word of `[names]`.
    pub(super) fn word(&self, key: &str) -> &str {
        // `check::keys` made sure that every name asked for is there.
        self.0.names.get(key).map_or("", String::as_str)
    }

    /// A word or line of a page, from `[labels]`.
    pub fn label(&self, key: &str) -> &str {
        let label = self.0.labels.get(key);
        debug_assert!(label.is_some(), "`{key}` is not in the table of labels");
        label.map_or("", String::as_str)
    }

    pub(super) fn value(&self, spoken: bool, key: &str, context: Value) -> String {
        self.fill(self.0.values.get(key), spoken, key, context)
    }

    pub(super) fn sentence(&self, spoken: bool, key: &str, context: Value) -> String {
        self.fill(self.0.sentences.get(key), spoken, key, context)
    }

    fn fill(&self, template: Option<&String>, spoken: bool, key: &str, context: Value) -> String {
        let environment = if spoken { &self.0.spoken } else { &self.0.written };
        let Some(template) = template else {
            debug_assert!(false, "`{key}` is not in the tables");
            return String::new();
        };
        environment.render_named_str(key, template, context).unwrap_or_else(|error| {
            // Every template was rendered when the file was read, so this is a fault of the context given here.
            debug_assert!(false, "`{key}`: {error:#}");
            String::new()
        })
    }
}

pub(super) fn show(shown: &BTreeMap<String, String>, phrase: &str) -> String {
    let words = phrase.split(' ').map(|word| shown.get(word).map_or(word, String::as_str));
    words.collect::<Vec<_>>().join(" ")
}

/// The text with its first letter as a capital.
pub(super) fn capital(text: &str) -> String {
    let mut chars = text.trim().chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}
