//! Reading a language file: its tables checked and made into a [`Language`].

use super::check;
use super::file::{Inner, Language, capital, show};
use super::form::Written;
use super::numbers::Numbers;
use super::problem::{LanguageError, LanguageProblem};
use super::strip_phrases;
use super::units::Units;
use minijinja::{Environment, UndefinedBehavior};
use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};
use toml::Spanned;

/// The English language file, part of the program.
const ENGLISH: &str = include_str!("languages/en.toml");

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
        let told = strip_phrases::read(&file.strip, &file.strip_things, &file.denials)?;
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
}

fn plain(table: &BTreeMap<String, Spanned<String>>) -> BTreeMap<String, String> {
    table.iter().map(|(key, text)| (key.clone(), text.get_ref().clone())).collect()
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
