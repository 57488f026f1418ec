//! Checks of a language file beyond its shape: keys, phrases, templates.

use super::denials::{self, Denials};
use super::form::Written;
use super::meaning::{MEANINGS, Row, Shape, row_of};
use super::numbers::Numbers;
use super::pattern::{Pattern, Token};
use super::problem::LanguageProblem;
use super::templates::{ALWAYS, LABELS, LISTS, NAMES, NUMBERS, OPTIONAL, Templates};
use super::units::{UNITS, Units};
use super::{answers, choice, lesson, named, notice, open_book, questions, render, strip_says, things, tools, values};
use minijinja::{Environment, Value};
use std::collections::BTreeMap;
use toml::Spanned;

/// The templates of `[values]` and of `[sentences]`, by the files that fill them.
const VALUES: &[&Templates] = &[
    values::VALUES,
    things::VALUES,
    render::VALUES,
    questions::VALUES,
    named::VALUES,
    tools::VALUES,
    strip_says::VALUES,
];
const SENTENCES: &[&Templates] = &[
    render::SENTENCES,
    questions::SENTENCES,
    answers::SENTENCES,
    notice::SENTENCES,
    named::SENTENCES,
    strip_says::SENTENCES,
    super::told::SENTENCES,
    open_book::SENTENCES,
    choice::SENTENCES,
    lesson::SENTENCES,
    tools::SENTENCES,
];

/// What is wrong, and at which byte.
type Wrong = (usize, LanguageProblem);
type Phrases = BTreeMap<String, Spanned<Vec<Spanned<String>>>>;

/// Where a table begins, for what is missing in it.
pub(super) fn table(text: &str, name: &str) -> usize {
    text.find(&format!("\n[{name}]")).map_or(0, |at| at + 1)
}

/// Every key that must be there is there, and no other.
pub(super) fn keys(file: &Written, text: &str) -> Result<(), Wrong> {
    let meanings: Vec<&str> = MEANINGS.iter().map(|row| row.key).collect();
    let units: Vec<&str> = UNITS.iter().map(|(key, _)| *key).collect();
    let keys = |tables: &[&Templates]| tables.iter().flat_map(|table| table.iter()).map(|(key, _)| *key).collect();
    let (values, sentences): (Vec<&str>, Vec<&str>) = (keys(VALUES), keys(SENTENCES));
    same("phrases", &file.phrases, &meanings, text, true)?;
    same("typed", &file.typed, &meanings, text, false)?;
    same("units", &file.units, &units, text, true)?;
    same("names", &file.names, NAMES, text, true)?;
    same("labels", &file.labels, LABELS, text, true)?;
    same("values", &file.values, &values, text, true)?;
    same("sentences", &file.sentences, &sentences, text, true)
}

fn same<T>(
    table_name: &'static str,
    found: &BTreeMap<String, Spanned<T>>,
    wanted: &[&str],
    text: &str,
    all: bool,
) -> Result<(), Wrong> {
    if let Some((key, value)) = found.iter().find(|(key, _)| !wanted.contains(&key.as_str())) {
        let near = wanted.iter().map(|w| (strsim::jaro_winkler(key, w), w)).filter(|(score, _)| *score > 0.8);
        let near = near.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, w)| (*w).to_owned());
        return Err((value.span().start, LanguageProblem::UnknownKey { table: table_name, key: key.clone(), near }));
    }
    match wanted.iter().find(|key| all && !found.contains_key(**key)) {
        Some(key) => {
            let problem = LanguageProblem::MissingKey { table: table_name, key: (*key).to_owned() };
            Err((table(text, table_name), problem))
        }
        None => Ok(()),
    }
}

/// Reads the phrases. Those that are `heard` may hold only what a recogniser takes.
pub(super) fn patterns(table: &Phrases, heard: bool) -> Result<BTreeMap<String, Vec<Pattern>>, Wrong> {
    let mut all = BTreeMap::new();
    for (key, phrases) in table {
        let shape = row_of(key).map(|row| &row.shape);
        if heard && phrases.get_ref().is_empty() {
            return Err((phrases.span().start, LanguageProblem::NoPhrase(key.clone())));
        }
        let mut patterns = Vec::new();
        for phrase in phrases.get_ref() {
            let at = phrase.span().start;
            let odd = |why: String| (at, LanguageProblem::OddPhrase { phrase: phrase.get_ref().clone(), why });
            let pattern = Pattern::parse(phrase.get_ref()).map_err(|slot| odd(format!("{slot} is no slot")))?;
            words(&pattern).map_err(odd)?;
            slots(&pattern, shape).map_err(odd)?;
            patterns.push(pattern);
        }
        all.insert(key.clone(), patterns);
    }
    Ok(all)
}

/// Only lower-case letters and single spaces: a recogniser's word list has nothing else, and one engine goes down on a
/// quotation mark.
fn words(pattern: &Pattern) -> Result<(), String> {
    for token in &pattern.tokens {
        if let Token::Word(word) = token {
            if word.is_empty() {
                return Err("empty, or more than one space between words".to_owned());
            }
            if let Some(c) = word.chars().find(|c| !c.is_alphabetic() || c.is_uppercase()) {
                return Err(format!("only lower-case letters and spaces can be heard, not {c:?}"));
            }
        }
    }
    Ok(())
}

fn slots(pattern: &Pattern, shape: Option<&Shape>) -> Result<(), String> {
    let count = |token| pattern.tokens.iter().filter(|t| **t == token).count();
    let (number, unit, minutes) = (count(Token::Number), count(Token::Unit), count(Token::Minutes));
    let right = match shape {
        Some(Shape::GoTo | Shape::Adapter | Shape::AdapterAngle) => number == 1 && unit == 0 && minutes == 0,
        Some(Shape::Timer) => number == 1 && unit == 0 && minutes <= 1,
        Some(Shape::Reading) => number == 1 && unit <= 1 && minutes == 0,
        Some(Shape::Place) => number + unit + minutes == 0 && count(Token::Place) == 1,
        Some(Shape::ValueOf) => {
            // A name alone would be any words at all.
            number + unit + minutes == 0 && count(Token::Name) == 1 && pattern.tokens.len() > 1
        }
        Some(Shape::InUnit) => number == 0 && unit == 1 && minutes == 0,
        _ => number + unit + minutes + count(Token::Place) + count(Token::Name) == 0,
    };
    if right { Ok(()) } else { Err("these slots do not belong to this meaning".to_owned()) }
}

/// What takes a job up again is a phrase that is listened for elsewhere too, so that it is known to be heard well.
pub(super) fn carry_on(
    names: &BTreeMap<String, Spanned<String>>,
    phrases: &BTreeMap<String, Vec<Pattern>>,
) -> Result<(), Wrong> {
    let (Some(name), Some(next)) = (names.get("carry_on"), phrases.get("next")) else { return Ok(()) };
    if next.iter().any(|pattern| pattern.text == *name.get_ref()) {
        return Ok(());
    }
    let why = "`carry_on` must be one of the phrases of `next`".to_owned();
    Err((name.span().start, LanguageProblem::OddPhrase { phrase: name.get_ref().clone(), why }))
}

/// No phrase means two things, and no decoy means anything.
pub(super) fn meanings(
    phrases_at: &Phrases,
    phrases: &BTreeMap<String, Vec<Pattern>>,
    typed_at: &Phrases,
    typed: &BTreeMap<String, Vec<Pattern>>,
    decoys: &[Spanned<String>],
    numbers: &Numbers,
    units: &Units,
) -> Result<(), Wrong> {
    let all: Vec<(&String, &Pattern, usize)> = [(phrases_at, phrases), (typed_at, typed)]
        .into_iter()
        .flat_map(|(places, table)| {
            table.iter().flat_map(move |(key, patterns)| {
                let places = places.get(key).map(|p| p.get_ref().as_slice()).unwrap_or_default();
                patterns.iter().zip(places).map(move |(pattern, place)| (key, pattern, place.span().start))
            })
        })
        .collect();
    let meaning_of = |text: &str, not: &str| {
        let words: Vec<&str> = text.split(' ').collect();
        let found = all
            .iter()
            .find(|(key, pattern, _)| key.as_str() != not && pattern.matches(&words, numbers, units).is_some());
        found.map(|(key, ..)| (*key).clone())
    };
    let two = |phrase: &str, first: &str, second: String| LanguageProblem::TwoMeanings {
        phrase: phrase.to_owned(),
        first: first.to_owned(),
        second,
    };
    // A number of each length of words stands for all of them.
    let samples = [numbers.say_whole(7), numbers.say_whole(42), numbers.say_whole(142), numbers.say_text("2.5")];
    for (key, pattern, at) in &all {
        for sample in &samples {
            for unit in UNITS.iter().map(|(_, unit)| *unit).take(4) {
                let text = pattern.text.replace("{number}", sample).replace("{unit}", &units.of(unit).many);
                let text = text.replace("{minutes}", &units.minute().many);
                if let Some(second) = meaning_of(&text, key) {
                    return Err((*at, two(&text, key, second)));
                }
            }
        }
    }
    for decoy in decoys {
        let odd = |why| (decoy.span().start, LanguageProblem::OddPhrase { phrase: decoy.get_ref().clone(), why });
        let pattern = Pattern::parse(decoy.get_ref()).map_err(|slot| odd(format!("{slot} is no slot here")))?;
        words(&pattern).map_err(odd)?;
        slots(&pattern, None).map_err(odd)?;
        // What may only be typed is no harm among the decoys: they are only heard.
        let words: Vec<&str> = decoy.get_ref().split(' ').collect();
        let heard = phrases
            .iter()
            .find(|(_, patterns)| patterns.iter().any(|pattern| pattern.matches(&words, numbers, units).is_some()));
        if let Some((key, _)) = heard {
            return Err((decoy.span().start, two(decoy.get_ref(), "decoys", key.clone())));
        }
    }
    Ok(())
}

/// What stands against the phrases that have something to lose. A form that is a phrase with nothing at stake is that
/// phrase, and none of these; one that is a phrase with something at stake would be no denial.
pub(super) fn denied(
    denials: &Denials,
    phrases: &BTreeMap<String, Vec<Pattern>>,
    numbers: &Numbers,
    units: &Units,
) -> Result<BTreeMap<String, Vec<String>>, Wrong> {
    for form in &denials.forms {
        if let Some(key) = form.get_ref().keys().find(|key| !phrases.contains_key(*key)) {
            let problem = LanguageProblem::UnknownKey { table: "denials", key: key.clone(), near: None };
            return Err((form.span().start, problem));
        }
    }
    let at = denials.forms.first().map_or(0, |form| form.span().start);
    let mut all = BTreeMap::new();
    for Row { key, shape, .. } in MEANINGS.iter().filter(|row| row.shape.can_be_denied()) {
        let mut forms: Vec<String> = Vec::new();
        for pattern in phrases.get(*key).into_iter().flatten().filter(|_| *shape != Shape::Place) {
            for text in denials.of(key, &denials::spoken_part(pattern)) {
                if let Some(why) = denials::fault(&text) {
                    return Err((at, LanguageProblem::OddPhrase { phrase: text, why }));
                }
                let words: Vec<&str> = text.split(' ').collect();
                let means = phrases.iter().find(|(_, patterns)| {
                    patterns.iter().any(|pattern| pattern.matches(&words, numbers, units).is_some())
                });
                match means.map(|(second, _)| (second, row_of(second))) {
                    Some((second, Some(row))) if row.shape.can_be_denied() => {
                        let first = format!("{key}, denied");
                        return Err((at, LanguageProblem::TwoMeanings { phrase: text, first, second: second.clone() }));
                    }
                    Some(_) => {}
                    None if forms.contains(&text) => {}
                    None => forms.push(text),
                }
            }
        }
        all.insert((*key).to_owned(), forms);
    }
    Ok(all)
}

/// Every template compiles, names only variables that it gets, and can be rendered in both ways.
pub(super) fn templates(
    table: &str,
    templates: &BTreeMap<String, Spanned<String>>,
    spoken: &Environment<'_>,
    written: &Environment<'_>,
) -> Result<(), Wrong> {
    let wanted = if table == "values" { VALUES } else { SENTENCES };
    for (key, text) in templates {
        let at = text.span().start;
        let broken = |error: minijinja::Error| {
            (at, LanguageProblem::Template { key: key.clone(), message: format!("{error:#}") })
        };
        let allowed = wanted.iter().flat_map(|table| table.iter()).find(|(k, _)| k == key);
        let allowed = allowed.map_or(&[][..], |(_, variables)| *variables);
        let template = spoken.template_from_named_str(key, text.get_ref()).map_err(broken)?;
        let unknown = template.undeclared_variables(false);
        if let Some(variable) = unknown.iter().find(|v| !allowed.contains(&v.as_str()) && !ALWAYS.contains(&v.as_str()))
        {
            let allowed = allowed.iter().map(|v| (*v).to_owned()).collect();
            let problem = LanguageProblem::UnknownVariable { key: key.clone(), variable: variable.clone(), allowed };
            return Err((at, problem));
        }
        for full in [true, false] {
            let sample = sample(allowed, full);
            for environment in [spoken, written] {
                environment.render_named_str(key, text.get_ref(), &sample).map_err(broken)?;
            }
        }
    }
    Ok(())
}

/// Variables of the kinds that `render` gives, once with everything and once with as little as there can be.
fn sample(variables: &[&str], full: bool) -> BTreeMap<String, Value> {
    let value = |variable: &&str| match *variable {
        v if OPTIONAL.contains(&v) && !full => Value::from(()),
        v if NUMBERS.contains(&v) => Value::from(if full { 2 } else { 1 }),
        v if LISTS.contains(&v) => Value::from(if full { vec!["one", "two"] } else { vec![] }),
        _ => Value::from("text"),
    };
    variables.iter().map(|v| ((*v).to_owned(), value(v))).collect()
}
