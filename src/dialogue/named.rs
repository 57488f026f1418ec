//! Values asked by name: which phrases ask for which entries of the pages, and what is answered.
//!
//! Knows the pages and how their names are said. Never takes a word for another: what was asked is found by whole words, or it
//! is not there. Where several things have the words, they are offered, and then a name alone may be said.

use super::file::Language;
use super::grammar::Grammar;
use super::meaning::{Asked, Meaning, VALUE_OF};
use super::pattern::{Pattern, Token};
use super::render::Draft;
use super::templates::Templates;
use super::values::Teller;
use super::{Manner, Sentence, Tone};
use crate::procedure::{Procedure, Source, StageKind};
use crate::quantity::{Limits, Quantity, TorqueUnit};
use crate::values::{Entry, Names, Page, Shelf, Value};
use minijinja::context;
use std::collections::HashSet;
use std::sync::LazyLock;

/// No grammar holds more phrases for names than this, beside all others.
pub const LONGEST_NAMES: usize = 1500;

/// So many things are offered to choose from; of more it is said how many there are.
const MOST_OFFERED: usize = 4;

/// How the entries of the pages are asked for.
#[derive(Debug, Clone, Default)]
pub struct Asks {
    names: Names,
    /// The name of each entry, as it is heard.
    heard: Vec<String>,
    /// Phrases with the words of the name in them and the entries that these give, class by class, the likeliest first.
    classes: Vec<Vec<(String, String, Vec<usize>)>>,
}

impl Asks {
    /// The names as they are listened for, in the order of the entries.
    pub fn heard(&self) -> impl Iterator<Item = &str> {
        self.heard.iter().map(String::as_str)
    }

    /// How many phrases the grammar gets for the names.
    pub fn phrases(&self) -> usize {
        self.listened_for().map(Vec::len).sum()
    }

    /// The classes that there is room for, each whole: half a class would be heard by chance. With the first that does not fit
    /// it ends: shorter forms of names whose whole names are not listened for would only be taken for them.
    fn listened_for(&self) -> impl Iterator<Item = &Vec<(String, String, Vec<usize>)>> {
        let mut room = LONGEST_NAMES;
        self.classes.iter().take_while(move |class| {
            let fits = class.len() <= room;
            if fits {
                room -= class.len();
            }
            fits
        })
    }
}

/// One thing to say about values asked by name.
#[derive(Debug, Clone, PartialEq)]
pub enum ValueSay<'a> {
    /// What the pages hold, said before anything is asked.
    Page {
        /// The page.
        page: &'a Page,
        /// A source that is told anyway: one of the same title and edition is not told again.
        told: Option<&'a Source>,
    },
    /// A value.
    Told {
        /// The thing.
        entry: &'a Entry,
        /// The unit its torques are said in first, if not that of the user.
        unit: Option<TorqueUnit>,
        /// The source, where there are several that it could be from.
        source: Option<&'a Source>,
    },
    /// Several things have the words.
    Which(Vec<&'a Entry>),
    /// Nothing has them.
    Nothing {
        /// The words.
        words: &'a str,
    },
    /// Where a value comes from, or all of a page.
    Source {
        /// The source.
        source: &'a Source,
        /// The thing whose value it is.
        of: Option<&'a Entry>,
    },
    /// A command that needs a job, where there is none.
    NoJob,
    /// The session is over.
    Over,
}

impl Language {
    /// The ways to ask for the entries of the pages.
    pub fn asks(&self, shelf: &Shelf) -> Asks {
        let heard: Vec<String> = shelf.entries().map(|(_, entry)| self.as_heard(entry.said())).collect();
        let written = shelf.entries().map(|(_, entry)| self.as_heard(&entry.name));
        let forms = heard.iter().cloned().zip(written).map(|(heard, written)| vec![heard, written]);
        let names = Names::new(forms);
        let turned = shelf.entries().filter_map(|(_, entry)| {
            let (thing, which) = entry.said().split_once(',')?;
            Some(format!("{} {}", self.as_heard(which), self.as_heard(thing)).trim().to_owned())
        });
        let turned: Vec<String> = turned.collect();
        // Fewer words than the whole name: runs of its words that not too many names have.
        let short = heard.iter().flat_map(|name| {
            let words: Vec<&str> = name.split(' ').collect();
            let runs =
                (1..words.len()).rev().flat_map(|long| (0..=words.len() - long).map(move |from| from..from + long));
            runs.map(|run| words[run].join(" ")).collect::<Vec<_>>()
        });
        let short: Vec<String> = short.collect();
        let mut classes = Vec::new();
        let mut seen: HashSet<String> = HashSet::new();
        for names_said in [&heard, &turned, &short] {
            let mut kind: Vec<(&String, Vec<usize>)> = Vec::new();
            for said in names_said.iter().filter(|said| !said.is_empty()) {
                if seen.insert(said.clone()) {
                    let found = names.find(&said.split(' ').collect::<Vec<_>>());
                    if !found.is_empty() && found.len() <= MOST_OFFERED {
                        kind.push((said, found));
                    }
                }
            }
            for pattern in self.patterns(VALUE_OF) {
                let phrase = |(said, found): &(&String, Vec<usize>)| {
                    (pattern.text.replace("{name}", said), (*said).clone(), found.clone())
                };
                classes.push(kind.iter().map(phrase).collect());
            }
        }
        Asks { names, heard, classes }
    }

    /// Adds to a grammar what asks for values: by name; by a name alone where several were offered; and, once one was told, in
    /// another unit.
    pub fn with_values(&self, mut grammar: Grammar, asks: &Asks, offered: &[usize], told: bool) -> Grammar {
        for at in offered {
            let Some(name) = asks.heard.get(*at) else { continue };
            let telling = asks.names.telling(*at, offered);
            // A word that means something else already ("two", where a reading is awaited) keeps its meaning; then only the
            // whole name chooses.
            let telling = telling.filter(|words| grammar.lookup(words).is_none());
            for words in telling.into_iter().chain([name.clone()]) {
                let asked = Asked { words: words.clone(), found: vec![*at], chosen: true };
                grammar.add(words, Some(Meaning::Value(asked)));
            }
        }
        for (phrase, words, found) in asks.listened_for().flatten() {
            let asked = Asked { words: words.clone(), found: found.clone(), chosen: false };
            grammar.add(phrase.clone(), Some(Meaning::Value(asked)));
        }
        if told {
            self.in_units(&mut grammar);
        }
        grammar
    }

    /// What a typed line asks of the pages, if it does.
    pub fn value_meant(&self, line: &str, asks: &Asks, offered: &[usize]) -> Option<Asked> {
        let line: String = line.chars().take(LONGEST_LINE).collect();
        let heard = self.as_heard(&line);
        let words: Vec<&str> = heard.split_whitespace().collect();
        let chosen = asks.names.find_among(offered, &words);
        if !chosen.is_empty() {
            return Some(Asked { words: words.join(" "), found: chosen, chosen: true });
        }
        // Without a page only what could be nothing else is a question for one.
        let typed = if asks.heard.is_empty() { &[][..] } else { self.typed_patterns(VALUE_OF) };
        let mut none: Option<Asked> = None;
        for pattern in self.patterns(VALUE_OF).iter().chain(typed) {
            let Some(name) = name_in(pattern, &words).filter(|name| self.numbers().amount(name).is_none()) else {
                continue;
            };
            let mut found = asks.names.find(name);
            if found.is_empty() {
                found.extend(asks.names.find_in_another_number(name, &self.typing().plurals));
            }
            let asked = Asked { words: name.join(" "), found, chosen: false };
            if !asked.found.is_empty() {
                return Some(asked);
            }
            // The pattern that leaves the fewest words says best what was asked for.
            if none.as_ref().is_none_or(|other| asked.words.len() < other.words.len()) {
                none = Some(asked);
            }
        }
        none
    }

    /// How values are asked for, as help writes it.
    pub fn help_values(&self) -> String {
        let slot = format!("‹{}›", self.word("slot_name"));
        let all = self.patterns(VALUE_OF).iter().map(|pattern| pattern.text.replace("{name}", &slot));
        all.collect::<Vec<_>>().join(" · ")
    }

    /// That the maker's manual and others come first.
    pub fn defers(&self) -> Sentence {
        self.told("opening_defers", Tone::Plain, |_| context! {})
    }

    /// What can be said where only values are asked for: spoken the few most useful, with one of the names to ask for, written
    /// all of it.
    pub fn values_help(&self, asks: &Asks) -> Sentence {
        let name = asks.heard().next().unwrap_or_default();
        let first = |key: &str| Some(self.shown(&self.patterns(key).first()?.text.replace("{name}", name)));
        let keys = [VALUE_OF, "source", "repeat", "slower", "stop_listening", "pause"];
        let phrases: Vec<String> = keys.iter().filter_map(|key| first(key)).collect();
        let more = [
            "in_unit",
            "source",
            "repeat",
            "slower",
            "faster",
            "louder",
            "quieter",
            "quiet",
            "stop_listening",
            "pause",
        ];
        let unit = format!("‹{}›", self.word("slot_unit"));
        let line = |key: &str| {
            let all = self.patterns(key).iter().map(|pattern| self.shown(&pattern.text.replace("{unit}", &unit)));
            all.collect::<Vec<_>>().join(" · ")
        };
        let lines = [self.help_values()].into_iter().chain(more.into_iter().map(line)).collect::<Vec<_>>().join("\n");
        let help = self.told("help_spoken", Tone::Plain, |_| context! { phrases => &phrases });
        Sentence { written: lines, ..help }
    }

    /// Puts something about values asked by name into words.
    pub fn value_says(&self, say: &ValueSay<'_>, manner: &Manner) -> Vec<Sentence> {
        let teller = |spoken| Teller { language: self, book: &NO_BOOK, manner, spoken };
        let (voice, eye) = (teller(true).value_say(say), teller(false).value_say(say));
        voice.into_iter().zip(eye).map(|(v, e)| self.finish(v, e)).collect()
    }
}

/// More of a line is no name.
const LONGEST_LINE: usize = 200;

/// The words that stand for the name, if the others are those of the pattern.
fn name_in<'a, 'w>(pattern: &Pattern, words: &'a [&'w str]) -> Option<&'a [&'w str]> {
    let at = pattern.tokens.iter().position(|token| *token == Token::Name)?;
    let behind = pattern.tokens.len() - at - 1;
    let end = words.len().checked_sub(behind).filter(|end| *end > at)?;
    let same = |tokens: &[Token], words: &[&str]| {
        tokens.iter().zip(words).all(|(token, word)| matches!(token, Token::Word(known) if known == word))
    };
    (same(&pattern.tokens[..at], &words[..at]) && same(&pattern.tokens[at + 1..], &words[end..]))
        .then(|| &words[at..end])
}

/// A page has values and no procedure; what tells a value asks nothing of one.
pub(super) static NO_BOOK: LazyLock<Procedure> = LazyLock::new(|| {
    let none = String::new;
    Procedure {
        id: none(),
        title: none(),
        vehicle: none(),
        language: none(),
        revision: none(),
        author: none(),
        source: Source { title: none(), edition: none(), chapter: None, note: None },
        variants: Vec::new(),
        variant: None,
        tools: Vec::new(),
        parts: Vec::new(),
        consumables: Vec::new(),
        fasteners: Vec::new(),
        supports: Vec::new(),
        components: Vec::new(),
        connections: Vec::new(),
        conditions: Vec::new(),
        standing: Vec::new(),
        named: Vec::new(),
        stocks: Vec::new(),
        steps: Vec::new(),
    }
});

impl Teller<'_> {
    fn value_say(&self, say: &ValueSay<'_>) -> Vec<Draft> {
        let draft = match say {
            ValueSay::Page { page, told } => return self.page(page, *told),
            ValueSay::Told { entry, unit, source } => {
                let (name, things) = (self.entry_name(entry), self.published(&entry.value, unit.or(self.manner.unit)));
                let page = self.page_of(&entry.page);
                let page = source.map_or(page.clone(), |source| format!("{}, {page}", source.title));
                let torque = match &entry.value {
                    Value::Stages(stages) => stages.iter().any(|stage| matches!(stage, StageKind::Torque(_))),
                    Value::Limits { least, most } => {
                        [least, most].into_iter().flatten().any(|limit| matches!(limit, Quantity::Torque(_)))
                    }
                };
                let key = if unit.is_some() && !torque { "value_no_torque" } else { "value_told" };
                Draft::new(key, context! { name, things, page })
            }
            ValueSay::Which(entries) if entries.len() > MOST_OFFERED => {
                Draft { tone: Tone::Refusal, ..Draft::new("value_many", context! { count => entries.len() }) }
            }
            ValueSay::Which(entries) => {
                let things: Vec<String> = entries.iter().map(|entry| self.entry_name(entry).to_owned()).collect();
                Draft { tone: Tone::Question, ..Draft::new("value_which", context! { things }) }
            }
            ValueSay::Nothing { words } => {
                Draft { tone: Tone::Refusal, ..Draft::new("value_none", context! { name => *words }) }
            }
            ValueSay::Source { source, of } => Draft::new(
                if of.is_some() { "value_source" } else { "answer_source" },
                context! {
                    name => of.map(|entry| self.entry_name(entry)),
                    source_title => &source.title,
                    edition => &source.edition,
                    chapter => &source.chapter,
                    page => of.map(|entry| self.page_of(&entry.page)),
                },
            ),
            ValueSay::NoJob => Draft { tone: Tone::Refusal, ..Draft::bare("value_no_job") },
            ValueSay::Over => Draft::bare("values_over"),
        };
        vec![draft]
    }

    fn page(&self, page: &Page, told: Option<&Source>) -> Vec<Draft> {
        let source = &page.source;
        let (vehicle, count) = (&page.vehicle, page.entries.len());
        let mut drafts = vec![Draft::new("values_page", context! { vehicle, count })];
        if told.is_some_and(|told| (&told.title, &told.edition) == (&source.title, &source.edition)) {
            return drafts;
        }
        drafts.push(Draft::new(
            "opening_source",
            context! { source_title => &source.title, edition => &source.edition, chapter => &source.chapter },
        ));
        drafts.extend(source.note.iter().map(|note| Draft::new("opening_note", context! { note })));
        drafts
    }

    /// The voice says a name as it can be said back.
    pub(super) fn entry_name<'e>(&self, entry: &'e Entry) -> &'e str {
        if self.spoken { entry.said() } else { &entry.name }
    }

    /// Where a page is written as its number only, the word for it is added.
    pub(super) fn page_of(&self, page: &str) -> String {
        match page.starts_with(|c: char| c.is_ascii_digit()) {
            true => self.value("page_number", context! { page }),
            false => page.to_owned(),
        }
    }

    /// One amount, a torque in this unit first.
    fn limit(&self, limit: Quantity, unit: Option<TorqueUnit>) -> String {
        match limit {
            Quantity::Torque(torque) => self.torque(&Limits::Exactly(torque), unit),
            other => self.quantity(other),
        }
    }

    /// A value, stage by stage.
    pub(super) fn published(&self, value: &Value, unit: Option<TorqueUnit>) -> Vec<String> {
        let stage = |kind: &StageKind| match kind {
            StageKind::Torque(limits) => self.value("torque", context! { value => self.torque(limits, unit) }),
            StageKind::Angle(limits) => self.value("angle", context! { value => self.angle(limits) }),
            StageKind::Slot(most) => self.value("slot", context! { value => self.angle_at_most(*most) }),
            StageKind::BackOff(limits) => self.value("back_off", context! { value => self.angle_up_to(limits) }),
            StageKind::Slacken => self.value("slacken", context! {}),
        };
        match value {
            Value::Stages(stages) => stages.iter().map(stage).collect(),
            Value::Limits { least: Some(least), most: Some(most) } if least == most => vec![self.limit(*least, unit)],
            Value::Limits { least: Some(Quantity::Torque(low)), most: Some(Quantity::Torque(high)) } => {
                let value = self.torque(&Limits::Window { low: *low, high: *high }, unit);
                vec![self.value("between", context! { value })]
            }
            Value::Limits { least: Some(least @ Quantity::Torque(_)), most: None } => {
                vec![self.value("least", context! { value => self.limit(*least, unit) })]
            }
            Value::Limits { least: None, most: Some(most @ Quantity::Torque(_)) } => {
                vec![self.value("most", context! { value => self.limit(*most, unit) })]
            }
            Value::Limits { least, most } => {
                vec![self.bounds(&crate::procedure::Bounds { least: *least, most: *most })]
            }
        }
    }
}

/// Its templates of `[values]`, each with the variables that it may use.
pub(super) const VALUES: &Templates = &[("page_number", &["page"])];

/// Its templates of `[sentences]`, each with the variables that it may use.
pub(super) const SENTENCES: &Templates = &[
    ("values_page", &["count", "vehicle"]),
    ("values_over", &[]),
    ("value_told", &["name", "page", "things"]),
    ("value_no_torque", &["name", "page", "things"]),
    ("value_source", &["edition", "name", "page", "source_title"]),
    ("value_which", &["things"]),
    ("value_many", &["count"]),
    ("value_none", &["name"]),
    ("value_no_job", &[]),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_of_a_torque_are_told_in_another_unit() {
        let head = "vehicle: v\nsource: s\nedition: e\nlanguage: en\n";
        let lines = "hub play torque: 2..4 N·m, 1\ndrag: at most 3 N·m, 1\ngap: 0.2..0.3 mm, 1\n";
        let page = crate::values::parse("a.txt", &format!("{head}{lines}")).unwrap();
        let told = |at: usize| {
            let say = ValueSay::Told { entry: &page.entries[at], unit: Some(TorqueUnit::PoundForceFoot), source: None };
            Language::english().value_says(&say, &Manner::default())[0].written.clone()
        };
        assert!(told(0).contains("lbf·ft") && told(0).contains("N·m"), "{}", told(0));
        assert!(told(1).contains("lbf·ft") && told(1).contains("not more than"), "{}", told(1));
        assert!(!told(2).contains("lbf·ft"), "{}", told(2));
    }
}
