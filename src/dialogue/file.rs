//! A language file: reading it, and what is wrong with it.

use super::check;
use super::denials::Denials;
use super::numbers::{Confusable, NumberWords, Numbers};
use super::speakable::{DigitsOf, Speakable, Speaker};
use super::strip::{self, Nouns, StripPhrases};
use super::understand::Pattern;
use super::units::{UnitWords, Units};
use crate::quantity::Kind;
use minijinja::{Environment, UndefinedBehavior, Value};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};
use toml::Spanned;

/// The English language file, part of the program.
const ENGLISH: &str = include_str!("languages/en.toml");

/// One language, read and checked. Cheap to clone.
#[derive(Debug, Clone)]
pub struct Language(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    tag: String,
    phrases: BTreeMap<String, Vec<Pattern>>,
    typed: BTreeMap<String, Vec<Pattern>>,
    shown: BTreeMap<String, String>,
    decoys: Vec<String>,
    talk: Vec<String>,
    typing: Typing,
    denials: Denials,
    /// What stands against the phrases of a meaning, for those that have something to lose.
    denied: BTreeMap<String, Vec<String>>,
    /// What can be told while something is taken apart: by its key, the phrases and what stands against them.
    strip: BTreeMap<String, (Vec<String>, Vec<String>)>,
    nouns: BTreeMap<String, strip::Noun>,
    numbers: Numbers,
    units: Units,
    speakable: Speakable,
    names: BTreeMap<String, String>,
    labels: BTreeMap<String, String>,
    values: BTreeMap<String, String>,
    sentences: BTreeMap<String, String>,
    spoken: Environment<'static>,
    written: Environment<'static>,
}

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
}

/// What is wrong with a language file, and where.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{file}:{line}: {problem}")]
pub struct LanguageError {
    /// The name of the file.
    pub file: String,
    /// The line, from 1.
    pub line: usize,
    /// What is wrong there.
    pub problem: LanguageProblem,
}

/// What can be wrong with a language file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LanguageProblem {
    /// It is not TOML, or a key has a value of another kind, or a table or its key is not known.
    #[error("{0}")]
    Toml(String),
    /// A key that must be there is not.
    #[error("`{key}` is missing in [{table}]")]
    MissingKey {
        /// The table.
        table: &'static str,
        /// The key.
        key: String,
    },
    /// A key that means nothing.
    #[error("`{key}` is not a key of [{table}]{}", near.as_ref().map(|n| format!("; did you mean `{n}`?")).unwrap_or_default())]
    UnknownKey {
        /// The table.
        table: &'static str,
        /// The key.
        key: String,
        /// A key that is known and looks like it.
        near: Option<String>,
    },
    /// A meaning without a phrase.
    #[error("`{0}` needs at least one phrase")]
    NoPhrase(String),
    /// A phrase that no recogniser takes.
    #[error("\"{phrase}\": {why}")]
    OddPhrase {
        /// The phrase.
        phrase: String,
        /// What is odd about it.
        why: String,
    },
    /// A phrase that would mean two things, or a decoy that means something.
    #[error("\"{phrase}\" means both `{first}` and `{second}`")]
    TwoMeanings {
        /// The phrase.
        phrase: String,
        /// One meaning.
        first: String,
        /// The other.
        second: String,
    },
    /// A table of words that does not fit together.
    #[error("{0}")]
    Words(String),
    /// A template that does not compile, or that fails when it is rendered.
    #[error("`{key}`: {message}")]
    Template {
        /// Its key.
        key: String,
        /// What the template engine says.
        message: String,
    },
    /// A template that names a variable it does not get.
    #[error("`{key}` knows no variable `{variable}`; it has: {}", allowed.join(", "))]
    UnknownVariable {
        /// Its key.
        key: String,
        /// The variable.
        variable: String,
        /// What it may name.
        allowed: Vec<String>,
    },
}

impl Language {
    /// English.
    ///
    /// # Panics
    /// Not with the file that is part of the program: a test reads it.
    pub fn english() -> Language {
        static ENGLISH_READ: OnceLock<Language> = OnceLock::new();
        let read = || match Language::from_toml("en.toml", ENGLISH) {
            Ok(language) => language,
            Err(error) => panic!("the built-in language file is broken: {error}"),
        };
        ENGLISH_READ.get_or_init(read).clone()
    }

    /// Reads and checks a language file; `name` is used in errors.
    pub fn from_toml(name: &str, text: &str) -> Result<Language, LanguageError> {
        let at = |offset: usize, problem| LanguageError {
            file: name.to_owned(),
            line: text.get(..offset).unwrap_or_default().matches('\n').count() + 1,
            problem,
        };
        let file: Written = toml::from_str(text).map_err(|error| {
            let start = error.span().map_or(0, |span| span.start);
            at(start, LanguageProblem::Toml(error.message().to_owned()))
        })?;
        Language::build(file, text).map_err(|(offset, problem)| at(offset, problem))
    }

    fn build(file: Written, text: &str) -> Result<Language, (usize, LanguageProblem)> {
        check::keys(&file, text)?;
        let numbers_at = file.numbers.span().start;
        let numbers = Numbers::new(file.numbers.into_inner(), file.confusable)
            .map_err(|why| (numbers_at, LanguageProblem::Words(why)))?;
        let units = file.units.into_iter().map(|(key, words)| (key, words.into_inner())).collect();
        let units = Units::new(units).map_err(|key| {
            (check::table(text, "units"), LanguageProblem::MissingKey { table: "units", key: key.to_owned() })
        })?;
        let phrases = check::patterns(&file.phrases, true)?;
        let typed = check::patterns(&file.typed, false)?;
        check::meanings(&file.phrases, &phrases, &file.typed, &typed, &file.decoys.words, &numbers, &units)?;
        check::carry_on(&file.names, &phrases)?;
        let denied = check::denied(&file.denials, &phrases, &numbers, &units)?;
        let told = strip::read(&file.strip, &file.strip_things, &file.denials)?;
        let first = phrases.iter().filter_map(|(key, patterns)| Some((key.clone(), patterns.first()?.text.clone())));
        let shown = file.shown;
        let carry_on = file.names.get("carry_on").map(|text| ("carry_on".to_owned(), text.get_ref().clone()));
        let of_strip =
            told.iter().filter_map(|(key, (texts, _))| Some((format!("strip_{key}"), texts.first()?.clone())));
        let first = first.chain(carry_on).chain(of_strip);
        let first: BTreeMap<String, String> = first.map(|(key, text)| (key, show(&shown, &text))).collect();
        let first = Arc::new(first);
        let inner = Inner {
            tag: file.language,
            shown,
            decoys: file.decoys.words.into_iter().map(Spanned::into_inner).collect(),
            talk: file.decoys.talk,
            typing: file.typing,
            denials: file.denials,
            denied,
            strip: told,
            nouns: file.strip_things.into_iter().map(|(key, noun)| (key, noun.into_inner())).collect(),
            numbers,
            units,
            speakable: file.speakable,
            names: plain(&file.names),
            labels: plain(&file.labels),
            values: plain(&file.values),
            sentences: plain(&file.sentences),
            spoken: environment(true, first.clone()),
            written: environment(false, first),
            phrases,
            typed,
        };
        check::templates("values", &file.values, &inner.spoken, &inner.written)?;
        check::templates("sentences", &file.sentences, &inner.spoken, &inner.written)?;
        Ok(Language(Arc::new(inner)))
    }

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
        let units = super::units::UNITS.iter().map(|(_, unit)| *unit);
        let units = units.flat_map(|unit| self.units().of(unit).heard.clone());
        let numbers = (0..=super::LARGEST_HEARD).flat_map(|n| self.numbers().variants(n));
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

    pub(super) fn noun(&self, key: &str) -> Option<&strip::Noun> {
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

fn plain(table: &BTreeMap<String, Spanned<String>>) -> BTreeMap<String, String> {
    table.iter().map(|(key, text)| (key.clone(), text.get_ref().clone())).collect()
}

fn show(shown: &BTreeMap<String, String>, phrase: &str) -> String {
    let words = phrase.split(' ').map(|word| shown.get(word).map_or(word, String::as_str));
    words.collect::<Vec<_>>().join(" ")
}

fn environment(spoken: bool, phrases: Arc<BTreeMap<String, String>>) -> Environment<'static> {
    let mut env = Environment::new();
    env.set_undefined_behavior(UndefinedBehavior::Strict);
    env.add_global("spoken", spoken);
    env.add_filter("cap", |text: String| capital(&text));
    env.add_filter("sentence", |text: String| ended(&capital(&text), '.'));
    env.add_filter("question", |text: String| ended(&capital(&text), '?'));
    env.add_filter("spelled", move |text: String| if spoken { spelled(&text) } else { text });
    env.add_function("phrase", move |key: String| {
        phrases
            .get(&key)
            .cloned()
            .ok_or_else(|| minijinja::Error::new(minijinja::ErrorKind::InvalidOperation, format!("no phrases `{key}`")))
    });
    env
}

/// The text with its first letter as a capital.
pub(super) fn capital(text: &str) -> String {
    let mut chars = text.trim().chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

/// The text with a mark at its end, if it has none.
fn ended(text: &str, mark: char) -> String {
    if text.ends_with(['.', '!', '?']) || text.is_empty() { text.to_owned() } else { format!("{text}{mark}") }
}

/// A catalogue number character by character, with a pause at its marks ("A204-30" is "A 2 0 4, 3 0").
fn spelled(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        if !c.is_alphanumeric() {
            out.push_str(if out.is_empty() || out.ends_with(',') { "" } else { "," });
        } else {
            out.extend(if out.is_empty() { None } else { Some(' ') });
            out.push(c);
        }
    }
    out
}
