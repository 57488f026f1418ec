//! The book that a strip-down writes: a procedure with the strip as it was told, and the rebuild drafted from it in reverse.
//!
//! Says nothing that was not told: what an author must look at is marked `??`. Words come from whoever has the
//! language. What is written passes `check` with nothing to put right; the tests see to that with random logs.

use super::{Answered, Class, Deed, Entry, Kind, Name, Question, StripLog, Things, What};
use crate::job;
use crate::procedure::{self, Report, StageKind, ToldOrder, draft_rebuild, latin};
use rust_decimal::Decimal;
use std::collections::{HashMap, HashSet};
use std::fmt::Write;

/// The words that a book is written in.
pub trait Words {
    /// Its tag, as BCP 47 writes it.
    fn tag(&self) -> String;
    /// A thing of this kind, or several.
    fn kind(&self, kind: Kind, several: bool) -> String;
    /// A count before such things: "two hoses".
    fn things(&self, things: Things) -> String;
    /// A thing of a kind that has a name: "water pump bolts".
    fn called(&self, kind: &str, name: &str) -> String;
    /// Things that have no name, but the lot that they belong to: "bolts of the first lot".
    fn of_lot(&self, kind: &str, lot: &str) -> String;
    /// Where the nth of several sits, from 1.
    fn place(&self, n: u32) -> String;
    /// A text with a name in it, by its key.
    fn text(&self, key: &'static str, name: &str) -> String;
    /// What the tool must fit; nothing where it was not said.
    fn drive(&self, size: Option<Decimal>) -> String;
}

/// What the log does not know itself.
#[derive(Debug, Clone, Copy, Default)]
pub struct Known<'a> {
    /// The vehicle.
    pub vehicle: Option<&'a str>,
}

/// The text of the book, the strip with its rebuild. An error is a fault of this program: a log gives a whole strip.
pub fn book(log: &StripLog, known: Known<'_>, words: &dyn Words) -> Result<String, Report> {
    let strip = Writer::new(log, words).write(known);
    draft_rebuild("procedure.toml", &strip)
}

/// The entries that are steps of their own.
pub(super) fn steps(log: &StripLog) -> impl Iterator<Item = (usize, &Entry)> {
    log.standing().filter(|(_, entry)| {
        !matches!(entry.what, What::OnWheels | What::Note(_) | What::Changed { instead: true, .. })
    })
}

/// A short name for files and folders.
pub fn slug(title: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
    let text: String = latin(title).chars().map(plain).collect();
    let words: Vec<&str> = text.split('-').filter(|word| !word.is_empty()).take(6).collect();
    let slug: String = words.join("-").chars().take(48).collect();
    match slug.trim_matches('-') {
        "" => "strip".to_owned(),
        slug if slug.starts_with(|c: char| c.is_ascii_digit()) => format!("strip-{slug}"),
        slug => slug.to_owned(),
    }
}

struct Writer<'a> {
    log: &'a StripLog,
    words: &'a dyn Words,
    /// The name of each entry, unlike all others.
    names: Vec<String>,
    /// The one source that has all values, if they are all from one.
    source: Option<(&'a str, &'a str)>,
    out: String,
}

impl<'a> Writer<'a> {
    fn new(log: &'a StripLog, words: &'a dyn Words) -> Writer<'a> {
        let mut used: HashSet<String> = HashSet::new();
        let mut unnamed: HashMap<String, u32> = HashMap::new();
        let names = log.entries().iter().map(|entry| {
            if entry.taken_back {
                return String::new();
            }
            let own = entry.name.as_ref().and_then(Name::words).map(plain).filter(|name| !name.is_empty());
            let of = own.unwrap_or_else(|| without_name(entry, words, &mut unnamed));
            let mut name = of.clone();
            let mut n = 2;
            // Told apart from all others by what each is called in the end.
            while !used.insert(titled(entry, &kind(entry, words), true, &name, words).to_lowercase()) {
                name = format!("{of}, {}", words.place(n));
                n += 1;
            }
            name
        });
        Writer { names: names.collect(), source: one_source(log), log, words, out: String::new() }
    }

    fn write(mut self, known: Known<'_>) -> String {
        let w = self.words;
        let title = or(&plain(self.log.title()), &w.text("strip_book_untold", ""));
        let untold = w.text("strip_book_untold", "");
        self.note("Written from a strip-down as it was told. Go through it with the manual open, and settle and take out each");
        self.note("line that begins with \"??\". Nothing here was guessed, and what was not told is not here.");
        self.line(&format!("\nformat = {}\n", procedure::FORMAT));
        self.note("?? For which vehicle exactly is it, and who answers for it?");
        self.line("[procedure]");
        self.text("id", &slug(self.log.title()));
        self.text("title", &title);
        self.text("vehicle", &or(&plain(known.vehicle.unwrap_or_default()), &untold));
        self.text("language", &w.tag());
        self.text("revision", "1");
        self.text("author", &untold);
        self.line("");
        self.note("?? Which manual, and which edition of it?");
        self.line("[source]");
        let (source, edition) = match self.source {
            Some((source, edition)) => (source.to_owned(), edition.to_owned()),
            // Each value that a list had names its own.
            None if has_lists(self.log) => (w.text("strip_book_sources", ""), w.text("strip_book_editions", "")),
            None => (w.text("strip_book_no_source", ""), w.text("strip_book_no_edition", "")),
        };
        self.text("title", &source);
        self.text("edition", &edition);
        for (id, entry) in steps(self.log) {
            self.thing(id, entry);
        }
        let mut prepares = true;
        for (id, entry) in steps(self.log) {
            prepares &= entry.what == What::Support;
            self.step(id, entry, if prepares { "prepare" } else { "strip" });
        }
        self.out
    }

    /// A thing that steps speak of.
    fn thing(&mut self, id: usize, entry: &Entry) {
        match entry.what {
            What::Support => {
                self.plain_thing("support", &key(id, entry), &self.words.text("strip_book_support", &self.names[id]))
            }
            What::Opened(things) => self.plain_thing("connection", &key(id, entry), &self.called(things, id)),
            What::Part { things, .. } => self.plain_thing("component", &key(id, entry), &self.called(things, id)),
            What::Fasteners { things, size, .. } => self.fastener(id, entry, things, size),
            What::Hung { .. } | What::Changed { .. } | What::OnWheels | What::Note(_) => return,
        }
        if let Some(Name::Sound { file, .. }) = &entry.name {
            self.note(&format!("?? The name was spoken ({}); its words above are only a draft.", one_line(file)));
        }
    }

    fn plain_thing(&mut self, table: &str, id: &str, name: &str) {
        self.line(&format!("\n[[{table}]]"));
        self.text("id", id);
        self.text("name", name);
    }

    /// The order of tightening, as far as it was told. Where the value is told in the rebuild the order is, too.
    fn order(&mut self, id: usize, things: Things) {
        let log = self.log;
        let (several, many) = (things.count > 1, things.count as usize >= job::ORDERED);
        let told = match log.answered(Question::Order(id)) {
            Some(Answered::Order(order)) => Some(*order),
            _ => None,
        };
        match told {
            _ if !several => return,
            None if many && log.value_is_later(id) && log.asks_order() => {
                self.note("?? The order of tightening was left for later. Write a pattern or an order.");
                return;
            }
            None => {
                self.note(
                    "?? The order was not told; they are worked as they are numbered. Does the manual have another?",
                );
            }
            Some(ToldOrder::Crosswise) => {
                self.note("Told: across and across. The places are numbered round the circle.")
            }
            Some(ToldOrder::FromTheMiddle) => {
                self.note("Told: from the middle outward. The places are numbered along one row, then along the other in the same direction.");
            }
            Some(ToldOrder::InTurn) => self.note("Told: in turn, from one end."),
            Some(ToldOrder::AsNumbered) => {
                self.note("Told: as in the drawing of the manual. The places have its numbers.");
            }
            Some(ToldOrder::Unordered) => {
                self.note("Told: the manual has no order. They are worked as they are numbered.")
            }
        }
        self.text("pattern", told.map_or("in turn", ToldOrder::pattern));
    }

    fn fastener(&mut self, id: usize, entry: &Entry, things: Things, size: Option<Decimal>) {
        let (log, words) = (self.log, self.words);
        let new = log.answered(Question::New(id)) == Some(&Answered::New(true));
        let several = things.count > 1;
        self.line("\n[[fastener]]");
        self.text("id", &key(id, entry));
        self.text("name", &self.one(things, id));
        if several {
            self.text("plural", &self.called(things, id));
        }
        let places: Vec<String> = (1..=things.count).map(|n| quoted(&words.place(n))).collect();
        self.line(&format!("places = [{}]", places.join(", ")));
        self.text("drive", &words.drive(size));
        if size.is_none() {
            self.note("?? The width was not told.");
        }
        if new {
            self.line("single_use = true");
        }
        self.order(id, things);
        match log.answered(Question::Value(id)) {
            Some(Answered::Value(_)) => {
                let stages: Vec<String> = log.stages(id).iter().map(stage).collect();
                if several && stages.len() > 1 {
                    let together = log.answered(Question::Runs(id)) == Some(&Answered::StageByStage(true));
                    self.text("runs", if together { "stage by stage" } else { "one at a time" });
                }
                self.line(&format!("stages = [{}]", stages.join(", ")));
                match log.answered(Question::Page(id)) {
                    Some(Answered::Page(Some(page))) if page.starts_with(|c: char| c.is_ascii_digit()) => {
                        self.text("source", &words.text("strip_book_page", page));
                    }
                    Some(Answered::Page(Some(page))) => self.text("source", page),
                    Some(Answered::Listed { page, title, edition }) => {
                        let page = match page.starts_with(|c: char| c.is_ascii_digit()) {
                            true => words.text("strip_book_page", page),
                            false => page.clone(),
                        };
                        match self.source {
                            Some(_) => self.text("source", &page),
                            None => self.text("source", &format!("{page}, {title}, {edition}")),
                        }
                    }
                    _ => {
                        self.note("?? On which page does the value stand?");
                        self.text("source", &words.text("strip_book_no_page", ""));
                    }
                }
            }
            Some(Answered::NoValue) => self.text("no_value", &words.text("strip_book_no_value", "")),
            _ => {
                self.note("?? The value was left for later. Write stages or no_value in place of this.");
                self.line("value_later = true");
            }
        }
        self.note("?? What becomes of one that was tightened too far? The careful answer stands here.");
        self.text("over", "renew");
        if new {
            self.line("\n[[part]]");
            self.text("id", &format!("new-{}", key(id, entry)));
            self.text("name", &self.one(things, id));
            self.line(&format!("count = {}", things.count));
            self.text("renews", &key(id, entry));
        }
    }

    /// "water pump bolt".
    fn one(&self, things: Things, id: usize) -> String {
        titled(&self.log.entries()[id], &self.words.kind(things.kind, false), false, &self.names[id], self.words)
    }

    /// "water pump bolts"; of what has no count of its own in a book, "two hoses, water pump".
    fn called(&self, things: Things, id: usize) -> String {
        let several = things.count > 1;
        let kind = match things.kind.class() {
            Class::Fastener => self.words.kind(things.kind, several),
            _ if several => return format!("{}, {}", self.words.things(things), self.names[id]),
            _ => self.words.kind(things.kind, false),
        };
        titled(&self.log.entries()[id], &kind, several, &self.names[id], self.words)
    }

    fn step(&mut self, id: usize, entry: &Entry, phase: &str) {
        let (log, words) = (self.log, self.words);
        let of = |group: usize| match log.entries().get(group).map(|entry| (&entry.what, entry)) {
            Some((What::Fasteners { things, .. } | What::Part { things, .. }, entry)) => {
                (self.called(*things, group), key(group, entry))
            }
            _ => Default::default(),
        };
        let (text, act, (name, key)) = match entry.what {
            What::Support => {
                ("strip_book_place", "place", (words.text("strip_book_support", &self.names[id]), key(id, entry)))
            }
            What::Opened(things) => ("strip_book_open", "disconnect", (self.called(things, id), key(id, entry))),
            What::Part { hung: true, .. } => ("strip_book_hang", "hang", of(id)),
            What::Part { hung: false, .. } => ("strip_book_take_off", "take_off", of(id)),
            What::Hung { of: part } => ("strip_book_hang", "hang", of(part)),
            What::Fasteners { deed, .. } => {
                let instead = log.standing().find_map(|(_, entry)| match entry.what {
                    What::Changed { of, deed, instead: true } if of == id => Some(deed),
                    _ => None,
                });
                let (text, act) = done(instead.unwrap_or(deed));
                (text, act, of(id))
            }
            What::Changed { of: group, deed, .. } => {
                let (text, act) = done(deed);
                (text, act, of(group))
            }
            What::OnWheels | What::Note(_) => return,
        };
        self.line("\n[[step]]");
        self.text("id", &format!("told-{}", id + 1));
        self.text("phase", phase);
        self.text("say", &words.text(text, &name));
        self.line(&format!("do = [{{ {act} = {} }}]", quoted(&key)));
    }

    fn text(&mut self, key: &str, text: &str) {
        self.line(&format!("{key} = {}", quoted(text)));
    }

    fn line(&mut self, line: &str) {
        let _ = writeln!(self.out, "{line}");
    }

    fn note(&mut self, note: &str) {
        let _ = writeln!(self.out, "# {note}");
    }
}

/// What a thing is called: what it is and its name, or the name alone where that says what it is. A recording stands behind what it is,
/// and so does a name of several parts.
fn titled(entry: &Entry, kind: &str, several: bool, name: &str, words: &dyn Words) -> String {
    let (What::Fasteners { things, .. } | What::Opened(things) | What::Part { things, .. }) = entry.what else {
        return format!("{kind}, {name}");
    };
    let lot = entry.name.is_none() && matches!(entry.what, What::Fasteners { size: None, .. });
    let spoken = matches!(entry.name, Some(Name::Sound { .. }));
    if spoken || name.contains(',') || name.to_lowercase().starts_with("the ") {
        return format!("{kind}, {name}");
    }
    if lot {
        return words.of_lot(kind, name);
    }
    let (one, many) = (words.kind(things.kind, false), words.kind(things.kind, true));
    let is_noun = |word: &str| word.to_lowercase() == one || word.to_lowercase() == many;
    if name.split(' ').any(is_noun) {
        let word = |word| {
            if !is_noun(word) {
                word
            } else if several {
                many.as_str()
            } else {
                one.as_str()
            }
        };
        return name.split(' ').map(word).collect::<Vec<_>>().join(" ");
    }
    // Every name is that of a part.
    match things.kind {
        Kind::Part if entry.name.is_some() => name.to_owned(),
        _ => words.called(kind, name),
    }
}

/// What things like this one are.
fn kind(entry: &Entry, words: &dyn Words) -> String {
    match entry.what {
        What::Fasteners { things, .. } | What::Opened(things) | What::Part { things, .. } => {
            words.kind(things.kind, true)
        }
        _ => String::new(),
    }
}

/// What a thing is called that has no name: by its width, and which of those that are alike it is.
fn without_name(entry: &Entry, words: &dyn Words, seen: &mut HashMap<String, u32>) -> String {
    let kind = kind(entry, words);
    let size = if let What::Fasteners { size, .. } = entry.what { size } else { None };
    let size = size.map(|size| format!("{} mm", size.normalize()));
    let n = seen.entry(format!("{kind} {}", size.as_deref().unwrap_or_default())).or_insert(0);
    *n += 1;
    let lot = || words.text("strip_book_number", &words.place(*n));
    match (size, matches!(entry.what, What::Fasteners { .. })) {
        (Some(size), _) if *n == 1 => size,
        (Some(size), _) => format!("{size}, {}", lot()),
        (None, true) => lot(),
        (None, false) => words.place(*n),
    }
}

/// Title and edition of the list that all values were taken from; nothing where one of them was not.
fn one_source(log: &StripLog) -> Option<(&str, &str)> {
    let valued = log.groups().filter(|group| matches!(log.answered(Question::Value(*group)), Some(Answered::Value(_))));
    let mut sources = valued.map(|group| match log.answered(Question::Page(group)) {
        Some(Answered::Listed { title, edition, .. }) => Some((title.as_str(), edition.as_str())),
        _ => None,
    });
    let first = sources.next()??;
    sources.all(|source| source == Some(first)).then_some(first)
}

/// Was any value taken from a list, so that its source is known?
fn has_lists(log: &StripLog) -> bool {
    log.groups().any(|group| matches!(log.answered(Question::Page(group)), Some(Answered::Listed { .. })))
}

fn done(deed: Deed) -> (&'static str, &'static str) {
    match deed {
        Deed::Out => ("strip_book_out", "remove"),
        Deed::StillIn => ("strip_book_still_in", "slacken"),
        Deed::Stuck => ("strip_book_stuck", "trap"),
        Deed::Held => ("strip_book_held", "hold"),
    }
}

/// The key of an entry: its number never becomes another's.
pub(super) fn key(id: usize, entry: &Entry) -> String {
    let kind = match entry.what {
        What::Support => "support",
        What::Opened(_) => "connection",
        What::Part { .. } => "part",
        _ => "group",
    };
    format!("{kind}-{}", id + 1)
}

fn stage(kind: &StageKind) -> String {
    match kind {
        StageKind::Torque(torque) => format!("{{ torque = {} }}", quoted(&torque.to_string())),
        StageKind::Angle(angle) => format!("{{ angle = {} }}", quoted(&angle.to_string())),
        StageKind::BackOff(angle) => format!("{{ back_off = {} }}", quoted(&angle.to_string())),
        StageKind::Slot(most) => format!("{{ slot = {} }}", quoted(&most.to_string())),
        StageKind::Slacken => "{ slacken = true }".to_owned(),
    }
}

/// What the voice can say of a text: letters, figures and a few signs.
pub(super) fn plain(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let digit = |at: Option<usize>| at.and_then(|at| chars.get(at)).is_some_and(char::is_ascii_digit);
    let kept = |(at, &c): (usize, &char)| match c {
        '.' | '/' if digit(at.checked_sub(1)) && digit(Some(at + 1)) => c,
        ',' | '-' | '\'' => c,
        c if c.is_alphanumeric() => c,
        _ => ' ',
    };
    let text: String = chars.iter().enumerate().map(kept).collect();
    text.split_whitespace().collect::<Vec<_>>().join(" ").trim_matches([',', ' ']).to_owned()
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn or(text: &str, otherwise: &str) -> String {
    if text.trim().is_empty() { otherwise.to_owned() } else { text.to_owned() }
}

fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}
