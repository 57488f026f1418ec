//! The phrases of a strip-down: what each tells, which may be told in which state, and their checking.
//!
//! Knows the tables `[strip]` and `[strip_things]` of a language file. How words that were typed or heard are read by them is left to
//! `strip` and `strip_heard`.

use super::denials::{self, Denials};
use super::problem::LanguageProblem;
use crate::job;
use crate::procedure::ToldOrder;
use crate::strip::{Command, Deed, Kind, Question, StripLog};
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

/// A noun, with the ways to say one of it.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Noun {
    /// One of them, as it is written.
    pub one: String,
    /// Several.
    pub many: String,
    /// The ways to say one of them, the program's own first.
    pub single: Vec<String>,
}

/// The tables as they are written.
pub(super) type StripPhrases = BTreeMap<String, Spanned<Vec<Spanned<String>>>>;
pub(super) type Nouns = BTreeMap<String, Spanned<Noun>>;

/// What a phrase of `[strip]` tells.
#[derive(Debug, Clone, Copy)]
pub(super) enum Told {
    /// Just this.
    Plain(fn() -> Command),
    /// Fasteners, with what was done to them.
    Fasteners(Deed),
    /// Connections.
    Opened,
    /// Parts.
    TakenOff,
    /// A width.
    Size,
    /// A name, in words that follow.
    Name,
    /// A page, in words that follow.
    Page,
}

/// Every key of `[strip]`, with what it tells; in the order in which help lists them.
pub(super) const TOLD: &[(&str, Told)] = &[
    ("out", Told::Fasteners(Deed::Out)),
    ("loosened", Told::Fasteners(Deed::StillIn)),
    ("opened", Told::Opened),
    ("taken_off", Told::TakenOff),
    ("hung_up", Told::Plain(|| Command::HungUp)),
    ("still_in", Told::Plain(|| Command::Changed(Deed::StillIn))),
    ("stuck_behind", Told::Plain(|| Command::Changed(Deed::Stuck))),
    ("put_back", Told::Plain(|| Command::Changed(Deed::Held))),
    ("out_now", Told::Plain(|| Command::Changed(Deed::Out))),
    ("supported", Told::Plain(|| Command::Supported)),
    ("on_wheels", Told::Plain(|| Command::OnWheels)),
    ("width", Told::Size),
    ("name", Told::Name),
    ("no_name", Told::Plain(|| Command::NoName)),
    ("rename", Told::Plain(|| Command::Rename)),
    ("what_came_off", Told::Plain(|| Command::WhatCameOff)),
    ("everything", Told::Plain(|| Command::Everything)),
    ("no_value", Told::Plain(|| Command::NoValue)),
    ("later", Told::Plain(|| Command::Later)),
    ("page", Told::Page),
    ("no_page", Told::Plain(|| Command::NoPage)),
    ("crosswise", Told::Plain(|| Command::Order(ToldOrder::Crosswise))),
    ("in_turn", Told::Plain(|| Command::Order(ToldOrder::InTurn))),
    ("from_the_middle", Told::Plain(|| Command::Order(ToldOrder::FromTheMiddle))),
    ("as_numbered", Told::Plain(|| Command::Order(ToldOrder::AsNumbered))),
    ("unordered", Told::Plain(|| Command::Order(ToldOrder::Unordered))),
];

impl Told {
    /// Does it claim something, so that its denied forms must stand against it?
    pub(super) fn claims(self) -> bool {
        match self {
            Told::Plain(command) => command().stake() > job::Stake::Nothing,
            Told::Fasteners(_) | Told::Opened | Told::TakenOff => true,
            // Words of the user's own, and numbers, are too manifold to be denied.
            Told::Size | Told::Name | Told::Page => false,
        }
    }

    /// The slot that its phrases have.
    pub(super) fn slot(self) -> Option<&'static str> {
        match self {
            Told::Plain(_) => None,
            Told::Fasteners(_) | Told::Opened | Told::TakenOff => Some("{things}"),
            Told::Size => Some("{size}"),
            Told::Name | Told::Page => Some("{text}"),
        }
    }
}

/// By key, the phrases and what stands against them.
pub(super) type Claims = BTreeMap<String, (Vec<String>, Vec<String>)>;

/// Checks the phrases and gives them with what stands against each that claims something.
pub(super) fn read(
    phrases: &StripPhrases,
    nouns: &Nouns,
    denials: &Denials,
) -> Result<Claims, (usize, LanguageProblem)> {
    if let Some((key, _)) = Kind::ALL.iter().find(|(key, _)| !nouns.contains_key(*key)) {
        return Err((0, LanguageProblem::MissingKey { table: "strip_things", key: (*key).to_owned() }));
    }
    if let Some((key, noun)) = nouns.iter().find(|(key, _)| !Kind::ALL.iter().any(|(known, _)| known == key)) {
        let problem = LanguageProblem::UnknownKey { table: "strip_things", key: key.clone(), near: None };
        return Err((noun.span().start, problem));
    }
    if let Some((key, noun)) = nouns.iter().find(|(_, noun)| noun.get_ref().single.is_empty()) {
        return Err((noun.span().start, LanguageProblem::NoPhrase(key.clone())));
    }
    if let Some((key, list)) = phrases.iter().find(|(key, _)| !TOLD.iter().any(|(known, _)| known == key)) {
        let problem = LanguageProblem::UnknownKey { table: "strip", key: key.clone(), near: None };
        return Err((list.span().start, problem));
    }
    let mut all = BTreeMap::new();
    let mut seen: BTreeMap<String, String> = BTreeMap::new();
    for (key, told) in TOLD {
        let Some(list) = phrases.get(*key) else {
            return Err((0, LanguageProblem::MissingKey { table: "strip", key: (*key).to_owned() }));
        };
        if list.get_ref().is_empty() {
            return Err((list.span().start, LanguageProblem::NoPhrase((*key).to_owned())));
        }
        let (mut texts, mut denied) = (Vec::new(), Vec::new());
        for phrase in list.get_ref() {
            let (at, text) = (phrase.span().start, phrase.get_ref().clone());
            let odd = |why: &str| (at, LanguageProblem::OddPhrase { phrase: text.clone(), why: why.to_owned() });
            let words: Vec<&str> = text.split(' ').collect();
            let heard = |word: &&str| !word.is_empty() && word.chars().all(|c| c.is_alphabetic() && !c.is_uppercase());
            let (slots, plain): (Vec<&str>, Vec<&str>) = words.iter().partition(|word| word.starts_with('{'));
            if !plain.iter().all(heard) {
                return Err(odd("only lower-case letters and single spaces can be heard"));
            }
            let wanted = told.slot();
            let right = slots
                .iter()
                .all(|slot| Some(*slot) == wanted || (matches!(told, Told::Fasteners(_)) && *slot == "{size}"))
                && wanted.is_none_or(|wanted| slots.iter().filter(|slot| **slot == wanted).count() == 1)
                && (!plain.is_empty() || matches!(told, Told::Size));
            if !right {
                return Err(odd("these slots do not belong to this meaning"));
            }
            if let Some(first) = seen.insert(text.clone(), (*key).to_owned()) {
                let problem = LanguageProblem::TwoMeanings { phrase: text, first, second: (*key).to_owned() };
                return Err((at, problem));
            }
            if told.claims() {
                let shown = text.replace("{things}", " ").replace("{size}", " ");
                let bare = shown.split_whitespace().collect::<Vec<_>>().join(" ");
                for form in denials.of(key, &bare) {
                    if let Some(why) = denials::fault(&form) {
                        return Err(odd(&why));
                    }
                    if !denied.contains(&form) {
                        denied.push(form);
                    }
                }
            }
            texts.push(text);
        }
        all.insert((*key).to_owned(), (texts, denied));
    }
    Ok(all)
}

/// What a strip-down awaits, as far as it decides what may be said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub struct StripExpect {
    /// An answer by yes or no.
    pub yes_no: bool,
    /// It goes together again: what came off is told no more.
    pub turned: bool,
    /// What the book says of a group.
    pub value: bool,
    /// The page of it.
    pub page: bool,
    /// The order of tightening of it.
    pub order: bool,
    /// A name, in whatever words.
    pub name: bool,
    /// "No" changes the log.
    pub no_claims: bool,
}

impl StripExpect {
    /// What this log awaits. What was `asked` in the conversation comes before it: only an answer fits that.
    pub fn of(log: &StripLog, asked: bool) -> StripExpect {
        let question = log.question();
        StripExpect {
            yes_no: asked || question.is_some_and(Question::is_yes_no),
            turned: log.is_turned(),
            value: matches!(question, Some(Question::Value(_))),
            page: matches!(question, Some(Question::Page(_))),
            order: matches!(question, Some(Question::Order(_))),
            name: !asked && matches!(question, Some(Question::Name(_))),
            no_claims: !asked && log.no_claims(),
        }
    }

    /// Does this key tell an order of tightening?
    pub(super) fn is_order(key: &str) -> bool {
        matches!(key, "crosswise" | "in_turn" | "from_the_middle" | "as_numbered" | "unordered")
    }

    /// May something of this key be told?
    pub(super) fn allows(self, key: &str) -> bool {
        match key {
            "what_came_off" => true,
            "no_value" => self.value,
            "later" => self.value || self.order,
            "page" | "no_page" => self.page,
            key if StripExpect::is_order(key) => self.order,
            // Its words are the user's own: it is said by itself.
            "name" => false,
            "no_name" => self.name,
            _ => !self.turned,
        }
    }
}
