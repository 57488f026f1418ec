//! What is said while values are told from the open book: what is asked for, what is read back, what is not taken.
//!
//! Knows the types of a page that grows. A value is read back here number by number, for a page as for a group of a strip-down.

use super::file::Language;
use super::named::NO_BOOK;
use super::render::Draft;
use super::strip::StripMeaning;
use super::templates::Templates;
use super::values::Teller;
use super::{Digits, Manner, Sentence, Tone};
use crate::strip::Command;
use crate::values::{self, Entry, Refused, Value, Wanted};
use minijinja::context;

/// How a value is typed.
const EXAMPLE: &str = "62 N·m + 50 deg, 7-1";

/// One thing to say while values are told.
#[derive(Debug, Clone, PartialEq)]
pub enum BookSay<'a> {
    /// What is to be told next.
    Wanted(Wanted<'a>),
    /// A value was kept for this thing.
    Kept(&'a str),
    /// What was kept, or called so, is taken back.
    TakenBack(&'a str),
    /// The book has no value for it.
    NoValue,
    /// It is left for another time.
    Later,
    /// It is not taken.
    Refused(&'a Refused),
    /// It could not be written, and why.
    NotKept(&'a str),
    /// Nothing is asked that this answers.
    NothingAsked,
    /// There is nothing to take back.
    NothingToUndo,
    /// It is over, with so many things left.
    Over(usize),
}

impl Language {
    /// Puts it into words.
    pub fn book_says(&self, say: &BookSay<'_>, manner: &Manner) -> Vec<Sentence> {
        if let BookSay::Wanted(Wanted::Yes(entry)) = say {
            return vec![self.reads_back(
                &|teller| teller.entry_name(entry).to_owned(),
                &entry.value,
                Some(&entry.page),
                manner,
            )];
        }
        let teller = |spoken| Teller { language: self, book: &NO_BOOK, manner, spoken };
        let (voice, eye) = (teller(true).book_say(say), teller(false).book_say(say));
        voice.into_iter().zip(eye).map(|(voice, eye)| self.finish(voice, eye)).collect()
    }

    /// Asks whether this is the whole value that was told for the thing of this name, number by number.
    pub(super) fn reads_back(
        &self,
        name: &dyn Fn(&Teller<'_>) -> String,
        value: &Value,
        page: Option<&str>,
        manner: &Manner,
    ) -> Sentence {
        let digits = Manner { digits: Digits::All, ..*manner };
        let draft = |spoken| {
            let teller = |manner| Teller { language: self, book: &NO_BOOK, manner, spoken };
            let (name, teller) = (name(&teller(manner)), teller(&digits));
            let other = page.map_or_else(String::new, |page| teller.page_of(page));
            let things = teller.published(value, digits.unit);
            Draft { tone: Tone::Question, ..Draft::new("strip_offer_heard", context! { name, other, things }) }
        };
        self.finish(draft(true), draft(false))
    }

    /// What can be said while values are told: spoken the few most useful.
    pub fn book_help(&self) -> Sentence {
        let told = ["no_value", "later"].into_iter().filter_map(|key| self.strip_patterns(key).first().cloned());
        let more =
            ["undo", "repeat", "pause"].into_iter().filter_map(|key| Some(self.patterns(key).first()?.text.clone()));
        let phrases: Vec<String> = told.chain(more).map(|phrase| self.shown(&phrase)).collect();
        let help = self.told("help_spoken", Tone::Plain, |_| context! { phrases => &phrases });
        Sentence { written: format!("{}\n{EXAMPLE}", phrases.join(" · ")), ..help }
    }

    /// A typed value with its page behind a comma: "62 N·m + 50 deg, 7-1". Whatever its words, it is no claim yet.
    pub fn value_typed(&self, line: &str) -> Command {
        let (stages, page) = values::behind_value(line.trim());
        let page = match self.strip_meant(page) {
            StripMeaning::Told(Command::Page(page)) => page,
            _ => page.trim().to_owned(),
        };
        Command::Value { stages: stages.trim().to_owned(), page: Some(page).filter(|page| !page.is_empty()) }
    }

    /// A page as a page of values has it, with the word for it where it is a number only.
    pub fn page_written(&self, page: &str) -> String {
        let page = page.trim();
        // Anything else in it is no number, and not to be made to look like a page.
        let number = |c: char| c.is_ascii_digit() || matches!(c, '-' | '–' | '.' | '/' | ',' | ' ');
        match page.starts_with(|c: char| c.is_ascii_digit()) && page.chars().all(number) {
            true => self.value(false, "strip_book_page", context! { name => page }),
            false => page.to_owned(),
        }
    }
}

impl Teller<'_> {
    fn book_say(&self, say: &BookSay<'_>) -> Vec<Draft> {
        let draft = match say {
            BookSay::Wanted(Wanted::Name) => Draft::bare("book_ask_name"),
            BookSay::Wanted(Wanted::Value(name)) => Draft::new("strip_ask_value", context! { name => *name }),
            BookSay::Wanted(Wanted::Page(_)) => Draft::bare("book_ask_page"),
            BookSay::Wanted(Wanted::Yes(_) | Wanted::Nothing) => return Vec::new(),
            BookSay::Kept(name) => Draft::new("book_kept", context! { name => *name }),
            BookSay::TakenBack(name) => Draft::new("strip_taken_back", context! { name => *name }),
            BookSay::NoValue => Draft::bare("strip_value_none"),
            BookSay::Later => Draft::bare("strip_value_later"),
            BookSay::Refused(Refused::Name) => refusal(Draft::bare("strip_no_name_taken")),
            BookSay::Refused(Refused::Check { what, right }) => {
                refusal(Draft::new("book_refused", context! { what, right }))
            }
            BookSay::Refused(Refused::There(entry)) => return self.there(entry),
            BookSay::NotKept(why) => refusal(Draft::new("book_not_kept", context! { what => *why })),
            BookSay::NothingAsked => refusal(Draft::bare("refused_nothing_asked")),
            BookSay::NothingToUndo => refusal(Draft::bare("refused_nothing_to_undo")),
            BookSay::Over(count) => Draft::new("book_over", context! { count => *count }),
        };
        vec![draft]
    }

    /// What the page has of a thing already.
    fn there(&self, entry: &Entry) -> Vec<Draft> {
        let (name, things) = (self.entry_name(entry), self.published(&entry.value, self.manner.unit));
        let told = Draft::new("value_told", context! { name, things, page => self.page_of(&entry.page) });
        vec![refusal(Draft::bare("book_there")), told]
    }
}

fn refusal(draft: Draft) -> Draft {
    Draft { tone: Tone::Refusal, ..draft }
}

/// Its templates of `[sentences]`, each with the variables that it may use.
pub(super) const SENTENCES: &Templates = &[
    ("book_ask_name", &[]),
    ("book_ask_page", &[]),
    ("book_kept", &["name"]),
    ("book_there", &[]),
    ("book_refused", &["right", "what"]),
    ("book_not_kept", &["what"]),
    ("book_over", &["count"]),
];
