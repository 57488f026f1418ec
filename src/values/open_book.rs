//! A page that grows: values told from the open book, one thing after the other.
//!
//! Pure: knows the text of the page as it stands and what was told of the thing in hand, and gives the text as it is to be. What a
//! page must not have is refused with what `check` says of it; what is read back before it is kept is read from the very text that
//! would be written. Leaves to its owner the words, the disk and what counts as a yes.

use super::written::Head as Keys;
use super::{Ears, Entry, Form, Page, check, form};
use crate::procedure::{Code, Report, Severity};
use std::collections::VecDeque;

/// A longer name is none that anybody says.
const LONGEST_NAME: usize = 100;

/// Where the values of a new page come from, and for which vehicle they are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head<'a> {
    /// The vehicle.
    pub vehicle: &'a str,
    /// Title of the book.
    pub title: &'a str,
    /// Its edition.
    pub edition: &'a str,
    /// Language of the names, as a BCP 47 tag.
    pub language: &'a str,
}

impl Head<'_> {
    /// The text of a page that has no values yet; `name` is what its file is called.
    pub fn text(&self, name: &str) -> String {
        let Head { vehicle, title, edition, language } = self;
        let english = *language == "en";
        match form(name) {
            Form::Toml => {
                let language = if english { String::new() } else { format!("language = {}\n", quoted(language)) };
                let (vehicle, title, edition) = (quoted(vehicle), quoted(title), quoted(edition));
                format!("format = 1\nvehicle = {vehicle}\n{language}\n[source]\ntitle = {title}\nedition = {edition}\n")
            }
            Form::Csv | Form::Lines => {
                let language = if english { String::new() } else { format!("language: {language}\n") };
                format!("vehicle: {vehicle}\nsource: {title}\nedition: {edition}\n{language}\n")
            }
        }
    }
}

/// Why something told is not taken.
#[derive(Debug, Clone, PartialEq)]
pub enum Refused {
    /// `check` would find this in the page.
    Check {
        /// What is wrong.
        what: String,
        /// What would be right.
        right: String,
    },
    /// A page cannot have a thing of this name.
    Name,
    /// The thing is on the page already.
    There(Box<Entry>),
}

/// What is to be told next.
#[derive(Debug, Clone, PartialEq)]
pub enum Wanted<'a> {
    /// What the next thing is called.
    Name,
    /// What the book says of this thing.
    Value(&'a str),
    /// The page of the book that says so.
    Page(&'a str),
    /// Whether this is what the book says.
    Yes(&'a Entry),
    /// All the names have been asked for.
    Nothing,
}

/// The page, and what is told of the thing in hand.
#[derive(Debug, Clone)]
pub struct OpenBook {
    name: String,
    form: Form,
    text: String,
    page: Page,
    /// Names that are still to be asked for.
    ahead: VecDeque<String>,
    /// Are the names told as well?
    asks_names: bool,
    thing: Option<String>,
    value: Option<String>,
    /// What waits for a yes, with the text that has it.
    offered: Option<(String, Entry)>,
    /// How many things were left for another time.
    later: usize,
    /// The things kept, each with the text before it.
    kept: Vec<(String, String)>,
}

impl OpenBook {
    /// The page with this text, in a file of this name, whose things are told by name. One in which something must be put right is
    /// none: a value told would stand beside values that are never told.
    pub fn open(name: &str, text: &str) -> Result<OpenBook, Report> {
        let (page, mut findings) = check::read(form(name), text, None);
        // That it has no values yet is what it is opened for.
        findings.retain(|finding| !(finding.code == Code::TextEmpty && finding.span == (0..0)));
        let report = Report::new(name, text, findings);
        match page {
            Some(page) if report.errors() == 0 => Ok(OpenBook {
                name: name.to_owned(),
                form: form(name),
                text: text.to_owned(),
                page,
                ahead: VecDeque::new(),
                asks_names: true,
                thing: None,
                value: None,
                offered: None,
                later: 0,
                kept: Vec::new(),
            }),
            _ => Err(report),
        }
    }

    /// Asks for these things in their order, and for no other. Those that the page has are left out. An error is the name that it cannot
    /// have. `heard` gives the words that a name is heard in.
    pub fn asking_for(
        mut self,
        names: &[String],
        heard: &dyn Fn(&str) -> String,
    ) -> Result<OpenBook, (String, Refused)> {
        for name in names {
            match self.takes(name, heard) {
                Ok(()) => self.ahead.push_back(name.trim().to_owned()),
                Err(Refused::There(_)) => {}
                Err(why) => return Err((name.clone(), why)),
            }
        }
        self.asks_names = false;
        self.goes_on();
        Ok(self)
    }

    /// What its file is called.
    pub fn called(&self) -> &str {
        &self.name
    }

    /// The page as it stands.
    pub fn page(&self) -> &Page {
        &self.page
    }

    /// The text as it stands.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// How many things wait for their values: those still to be asked for, and those left for another time.
    pub fn left(&self) -> usize {
        self.ahead.len() + self.later + usize::from(self.thing.is_some())
    }

    /// What is to be told next.
    pub fn wanted(&self) -> Wanted<'_> {
        match (&self.thing, &self.value, &self.offered) {
            (_, _, Some((_, entry))) => Wanted::Yes(entry),
            (Some(thing), Some(_), None) => Wanted::Page(thing),
            (Some(thing), None, None) => Wanted::Value(thing),
            (None, ..) if self.asks_names => Wanted::Name,
            (None, ..) => Wanted::Nothing,
        }
    }

    /// The next thing is called so.
    pub fn name(&mut self, name: &str, heard: &dyn Fn(&str) -> String) -> Result<(), Refused> {
        self.takes(name, heard)?;
        self.thing = Some(name.trim().to_owned());
        Ok(())
    }

    /// The book says this of the thing in hand, perhaps on this page of it. It takes the place of what was told of it before.
    pub fn value(&mut self, value: &str, page: Option<&str>, heard: &dyn Fn(&str) -> String) -> Result<(), Refused> {
        let Some(thing) = self.thing.clone() else { return Err(Refused::Name) };
        // By itself first, so that what is wrong with the value is not told only behind its page.
        check::one(value).map_err(|findings| refused(&Report::new(&self.name, value, findings)))?;
        match page {
            Some(page) => self.offer(&thing, value, page, heard)?,
            None => self.offered = None,
        }
        self.value = Some(value.to_owned());
        Ok(())
    }

    /// And so on that page.
    pub fn on_page(&mut self, page: &str, heard: &dyn Fn(&str) -> String) -> Result<(), Refused> {
        let (Some(thing), Some(value)) = (self.thing.clone(), self.value.clone()) else { return Err(Refused::Name) };
        self.offer(&thing, &value, page, heard)
    }

    /// What was read back, or told so far, is not what the book says: it is told anew.
    pub fn anew(&mut self) {
        (self.value, self.offered) = (None, None);
    }

    /// The thing in hand is left without a value: for another time, or because the book has none.
    pub fn leave(&mut self, later: bool) {
        self.later += usize::from(later && self.thing.is_some());
        self.goes_on();
    }

    /// The text with what was read back.
    pub fn to_be(&self) -> Option<&str> {
        self.offered.as_ref().map(|(text, _)| text.as_str())
    }

    /// What was read back is kept: its text is on disk. The name of it.
    pub fn keep(&mut self) -> Option<String> {
        let (text, entry) = self.offered.take()?;
        let before = std::mem::replace(&mut self.text, text);
        let name = entry.name.clone();
        self.page.entries.push(entry);
        self.kept.push((name.clone(), before));
        self.goes_on();
        Some(name)
    }

    /// The thing kept last, with the text before it.
    pub fn last(&self) -> Option<(&str, &str)> {
        self.kept.last().map(|(name, before)| (name.as_str(), before.as_str()))
    }

    /// What was kept last is taken back: the text before it is on disk. Its value is asked for again. The name of it.
    pub fn take_back(&mut self) -> Option<String> {
        let (name, before) = self.kept.pop()?;
        self.text = before;
        self.page.entries.pop();
        self.anew();
        if let Some(other) = self.thing.replace(name.clone()) {
            self.ahead.push_front(other);
        }
        Some(name)
    }

    /// A name that was told and has no value yet is taken back. The name of it.
    pub fn forget_name(&mut self) -> Option<String> {
        let told = self.asks_names && self.value.is_none() && self.offered.is_none();
        if told { self.thing.take() } else { None }
    }

    fn goes_on(&mut self) {
        self.anew();
        self.thing = self.ahead.pop_front();
    }

    /// Can the page have a thing of this name, and has it none?
    fn takes(&self, name: &str, heard: &dyn Fn(&str) -> String) -> Result<(), Refused> {
        let name = name.trim();
        let fits = name.chars().count() <= LONGEST_NAME && !name.chars().any(char::is_control);
        // In a line it would be read as something else.
        let other = name.contains(':') || name.starts_with('#') || Keys::KEYS.contains(&name.to_lowercase().as_str());
        if !fits || name.is_empty() || self.form == Form::Lines && other {
            return Err(Refused::Name);
        }
        let words = heard(name);
        let same = |entry: &&Entry| entry.name == name || heard(entry.said()) == words && !words.is_empty();
        if let Some(there) = self.page.entries.iter().find(same) {
            return Err(Refused::There(Box::new(there.clone())));
        }
        // With some value and some page: what is found then is about the name.
        self.with(name, "1 N·m", "page 1", heard).map(|_| ())
    }

    fn offer(&mut self, thing: &str, value: &str, page: &str, heard: &dyn Fn(&str) -> String) -> Result<(), Refused> {
        self.offered = Some(self.with(thing, value, page, heard)?);
        Ok(())
    }

    /// The text with one more value, and that value as it is read from there.
    fn with(
        &self,
        name: &str,
        value: &str,
        page: &str,
        heard: &dyn Fn(&str) -> String,
    ) -> Result<(String, Entry), Refused> {
        let text = self.written(name, value.trim(), page.trim());
        let ears = Ears { as_heard: heard, knows: &|_| true };
        let (read, findings) = check::read(self.form, &text, Some(&ears));
        let report = Report::new(&self.name, &text, findings);
        if report.errors() > 0 {
            return Err(refused(&report));
        }
        let mut read = read.ok_or(Refused::Name)?;
        let entry = read.entries.pop().filter(|_| read.entries == self.page.entries).ok_or(Refused::Name)?;
        let whole = entry.name == name
            && entry.page == page.trim()
            && (&entry.say_as, &entry.also, &entry.thread, &entry.class) == (&None, &None, &None, &None);
        if whole { Ok((text, entry)) } else { Err(Refused::Name) }
    }

    fn written(&self, name: &str, value: &str, page: &str) -> String {
        let mut text = self.text.clone();
        if !text.is_empty() && !text.ends_with('\n') {
            text.push('\n');
        }
        match self.form {
            Form::Toml => {
                let (name, value, page) = (quoted(name), quoted(value), quoted(page));
                text + &format!("\n[[value]]\nname = {name}\nvalue = {value}\npage = {page}\n")
            }
            Form::Csv | Form::Lines => text + &format!("{name}: {value}, {page}\n"),
        }
    }
}

/// What `check` says first of what must be put right.
pub(super) fn refused(report: &Report) -> Refused {
    match report.findings.iter().find(|finding| finding.severity() == Severity::Error) {
        Some(finding) => Refused::Check { what: finding.what.clone(), right: finding.right.clone() },
        None => Refused::Name,
    }
}

fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}
