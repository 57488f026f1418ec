//! What may be said while something is taken apart: the list of phrases, and what of it has no list.
//!
//! Counts, widths, values and pages are numbers, so of most of them only the pieces are in the list. What was heard is read with
//! the same rules as a typed line, from the first word to the last; and what might have been said in its place is told, so
//! that the second listener compares the counts, and the denials, with one another.

use super::file::Language;
use super::grammar::Grammar;
use super::meaning::{Concern, MEANINGS, Meaning, Row, Shape};
use super::numbers::LARGEST_HEARD;
use super::strip_phrases::{StripExpect, TOLD, Told};
use crate::job;
use crate::procedure::StageKind;
use crate::quantity::{Angle, AngleUnit, Kind as Measure, LengthUnit, Limits, Torque, TorqueUnit, Unit};
use crate::strip::{self, Class, Command, Kind, Things, written};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// Counts that are in the list; larger ones are made of the pieces.
const COUNTED: u32 = 12;

/// Widths that are in the list, in millimetres: those of common tools.
const WIDTHS: [u32; 18] = [7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 21, 22, 24, 27, 30];

/// Pages that are in the list, by their number alone and by that of their chapter; others are made of the pieces.
const PAGES: u32 = 99;
const CHAPTERS: u32 = 12;
const PAGES_OF_ONE: u32 = 30;

/// No claim has more words.
const MOST_WORDS: usize = 16;

/// So many claims are compared where none was heard.
const MOST_NEAR: usize = 6;

/// Stages that one value has, by voice.
const MOST_STAGES: usize = 6;

impl Language {
    /// What may be said in this state of a strip-down; while not listening only the phrase to begin again.
    pub fn strip_grammar(&self, expect: StripExpect, listening: bool) -> Grammar {
        if !listening {
            return self.grammar(&job::Expect::default(), false);
        }
        let mut grammar = Grammar::default();
        for (key, told) in TOLD.iter().filter(|(key, _)| expect.allows(key)) {
            if let Told::Plain(command) = told {
                // A single word that says what was done is for the keyboard: it would be heard too easily.
                let listened = |phrase: &&String| {
                    phrase.contains(' ') || !matches!(command(), Command::Changed(_) | Command::Order(_))
                };
                for phrase in self.strip_patterns(key).iter().filter(listened) {
                    grammar.add(phrase.clone(), Some(Meaning::Strip(command())));
                }
            }
        }
        for (key, meaning) in self.shared(expect) {
            for pattern in self.patterns(key) {
                grammar.add(pattern.text.clone(), Some(meaning.clone()));
            }
        }
        if !expect.turned {
            self.things_told(&mut grammar);
        }
        if expect.page {
            self.pages_told(&mut grammar);
        }
        self.strip_decoys(&mut grammar, expect);
        self.strip_pieces(&mut grammar, expect);
        grammar.strip = Some((self.clone(), expect));
        grammar
    }

    /// What means here what it means in a job, by its key.
    fn shared(&self, expect: StripExpect) -> impl Iterator<Item = (&'static str, Meaning)> {
        MEANINGS.iter().filter_map(move |row| {
            let Shape::Plain(meaning) = &row.shape else { return None };
            let told = match meaning {
                Meaning::Command(job::Command::Yes | job::Command::No) if !expect.yes_no => return None,
                Meaning::Command(command) => strip::told_by(command)?,
                Meaning::Talk(talk) => {
                    let here = talk.concern() != Concern::Tools && row.allowed(&job::Expect::default());
                    return here.then(|| (row.key, meaning.clone()));
                }
                Meaning::Value(_) | Meaning::Strip(_) | Meaning::Choose(_) => return None,
            };
            Some((row.key, Meaning::Strip(told)))
        })
    }

    /// Things that come off, counted, in every way to tell them that has no width.
    fn things_told(&self, grammar: &mut Grammar) {
        for (key, told) in TOLD.iter().filter(|(_, told)| told.slot() == Some("{things}")) {
            let mut class = Vec::new();
            for phrase in self.strip_patterns(key).iter().filter(|phrase| !phrase.contains("{size}")) {
                for (said, things) in self.counted_things() {
                    if let Some(command) = told.of(things) {
                        class.push((phrase.replace("{things}", &said), Meaning::Strip(command)));
                    }
                }
            }
            grammar.add_class(class);
        }
        let widths = WIDTHS.iter().flat_map(|width| {
            let size = Decimal::from(*width);
            self.widths(*width).into_iter().map(move |said| (said, Meaning::Strip(Command::Size(size))))
        });
        grammar.add_class(widths.collect());
    }

    /// Pages by their number, and those of a chapter: what is in the list is heard more surely than what is made of pieces.
    pub(super) fn pages_told(&self, grammar: &mut Grammar) {
        let page = |page: String| Meaning::Strip(Command::Page(page));
        let said = |n: u32| self.numbers().say_whole(u64::from(n));
        for word in self.page_words() {
            grammar.add_class((1..=PAGES).map(|n| (format!("{word} {}", said(n)), page(n.to_string()))).collect());
            let dash = self.word("strip_dash");
            let both = (1..=CHAPTERS).flat_map(|chapter| (1..=PAGES_OF_ONE).map(move |n| (chapter, n)));
            let both = both.map(|(chapter, n)| {
                (format!("{word} {} {dash} {}", said(chapter), said(n)), page(format!("{chapter}-{n}")))
            });
            grammar.add_class(both.collect());
        }
    }

    fn widths(&self, width: u32) -> Vec<String> {
        let unit = self.units().of(Unit::Length(LengthUnit::Millimetre));
        let said = self.numbers().say_whole(u64::from(width));
        [&unit.one, &unit.many].map(|unit| format!("{said} {unit}")).into()
    }

    /// "A bolt", "two bolts" and so on of every kind, as they are said.
    fn counted_things(&self) -> Vec<(String, Things)> {
        let mut all = Vec::new();
        for (key, kind) in Kind::ALL {
            let Some(noun) = self.noun(key) else { continue };
            all.extend(noun.single.iter().map(|said| (said.clone(), Things { count: 1, kind })));
            all.extend((2..=COUNTED).map(|count| {
                (format!("{} {}", self.numbers().say_whole(u64::from(count)), noun.many), Things { count, kind })
            }));
        }
        all
    }

    /// What is heard as itself and does nothing: what may be told at other moments, talk, and what denies.
    fn strip_decoys(&self, grammar: &mut Grammar, expect: StripExpect) {
        for (key, told) in TOLD {
            // An order is told at one moment only, and its words stand in the way of others at all the rest.
            if matches!(told, Told::Plain(_)) && (expect.order || !StripExpect::is_order(key)) {
                self.strip_patterns(key).iter().for_each(|phrase| grammar.add(phrase.clone(), None));
            }
        }
        for Row { key, shape, .. } in MEANINGS {
            if matches!(shape, Shape::Plain(_)) {
                self.patterns(key).iter().for_each(|pattern| grammar.add(pattern.text.clone(), None));
            }
        }
        let denied = self.strip_denied(expect.order).map(str::to_owned).collect::<Vec<_>>();
        let shared = self.shared(expect).flat_map(|(key, _)| self.denied(key).to_vec()).collect::<Vec<_>>();
        let words = self.denying().0.iter().cloned();
        for text in self.decoys().iter().cloned().chain(denied).chain(shared).chain(words) {
            grammar.add(text, None);
        }
    }

    /// Words that by themselves mean nothing, so that a recogniser can hear what no list holds.
    pub(super) fn strip_pieces(&self, grammar: &mut Grammar, expect: StripExpect) {
        let mut pieces = Vec::new();
        let first = |unit: Unit| self.units().of(unit).heard.first().cloned();
        let torques = TorqueUnit::ALL.iter().filter_map(|unit| first(Unit::Torque(*unit)));
        let angles = AngleUnit::ALL.iter().filter_map(|unit| first(Unit::Angle(*unit)));
        if !expect.turned {
            pieces.extend(self.counted_things().into_iter().map(|(said, _)| said));
            pieces.extend(
                [LengthUnit::Millimetre, LengthUnit::Inch].into_iter().filter_map(|unit| first(Unit::Length(unit))),
            );
        }
        if expect.value {
            pieces.extend(self.numbers().pieces(Measure::Torque));
            pieces.extend(torques.chain(angles));
            pieces.push(self.word("strip_then").to_owned());
        }
        if expect.value || expect.page {
            pieces.extend(self.page_words().map(str::to_owned));
            pieces.push(self.word("strip_dash").to_owned());
        }
        if !expect.turned || expect.value || expect.page {
            let most = if expect.turned { 99 } else { 40 };
            pieces.extend((0..=most).flat_map(|n| self.numbers().variants(n)));
        }
        for piece in pieces {
            grammar.add(piece, None);
        }
    }

    /// What stands before a page.
    fn page_words(&self) -> impl Iterator<Item = &str> {
        self.strip_patterns("page").iter().filter_map(|phrase| phrase.strip_suffix(" {text}"))
    }

    /// What words mean that were heard and may be in no list: all of them, or nothing.
    pub(super) fn strip_heard(&self, text: &str, expect: &StripExpect) -> Option<Command> {
        if expect.value
            && let Some(value) = self.value_heard(text)
        {
            return Some(value);
        }
        if expect.page
            && let Some(page) = self.page_words().find_map(|word| text.strip_prefix(word)?.strip_prefix(' '))
        {
            return self.page_heard(page).map(Command::Page);
        }
        if expect.turned {
            return None;
        }
        let words: Vec<&str> = text.split(' ').collect();
        let slotted = TOLD.iter().filter(|(_, told)| matches!(told.slot(), Some("{things}" | "{size}")));
        slotted
            .flat_map(|(key, told)| self.strip_patterns(key).iter().map(move |phrase| (told, phrase)))
            .find_map(|(told, phrase)| self.strip_command(*told, phrase, &words, text))
    }

    /// "Sixty two newton metres then fifty degrees page seven dash one".
    fn value_heard(&self, text: &str) -> Option<Command> {
        let paged = self.page_words().find_map(|word| text.split_once(&format!(" {word} ")));
        let (stages, page) = match paged {
            Some((stages, page)) => (stages, Some(self.page_heard(page)?)),
            None => (text, None),
        };
        let then = format!(" {} ", self.word("strip_then"));
        let stages: Option<Vec<StageKind>> = stages.split(&then).map(|stage| self.stage_heard(stage)).collect();
        let stages = stages.filter(|stages| stages.len() <= MOST_STAGES)?;
        Some(Command::Value { stages: written(&stages), page })
    }

    fn stage_heard(&self, text: &str) -> Option<StageKind> {
        let words: Vec<&str> = text.split(' ').collect();
        (1..words.len()).find_map(|at| {
            let amount = self.numbers().amount(&words[..at]).filter(|amount| !amount.inches)?.number;
            let amount = Some(amount).filter(|amount| *amount > Decimal::ZERO)?;
            match self.units().named(&words[at..].concat())? {
                Unit::Torque(unit) => Some(StageKind::Torque(Limits::Exactly(Torque::new(amount, unit)))),
                Unit::Angle(unit) => Some(StageKind::Angle(Limits::Exactly(Angle::new(amount, unit)))),
                _ => None,
            }
        })
    }

    /// "Seven dash one".
    fn page_heard(&self, text: &str) -> Option<String> {
        let dash = format!(" {} ", self.word("strip_dash"));
        let number = |text: &str| {
            let number = self.numbers().hear(text).filter(|n| n.fract().is_zero())?.to_u32()?;
            (number > 0 && number <= 10 * LARGEST_HEARD).then(|| number.to_string())
        };
        let parts: Option<Vec<String>> = text.split(&dash).map(number).collect();
        parts.filter(|parts| parts.len() <= 3).map(|parts| parts.join("-"))
    }

    /// What might have been said where this was heard: other counts and numbers, more of it, and the same denied.
    pub(super) fn strip_instead_of(&self, text: &str, command: &Command) -> Vec<String> {
        let mut all = self.numbers().sounding_like(text);
        match command {
            Command::Fasteners { size: None, .. } => {
                let widths = WIDTHS.iter().filter_map(|width| self.widths(*width).into_iter().next());
                all.extend(widths.map(|width| format!("{text} {width}")));
                all.extend(self.told_denied(text));
            }
            Command::Fasteners { .. } | Command::Opened(_) | Command::TakenOff(_) => all.extend(self.told_denied(text)),
            Command::Value { page: None, .. } | Command::Page(_) => all.extend(self.numbers().going_on(text)),
            _ => {}
        }
        all
    }

    /// Ways to tell the things, and the width, that are among these words, of which at least half of the words were heard. With a
    /// word that denies, or another thing or number beside them, there is none.
    pub(super) fn strip_perhaps(&self, heard: &str, expect: &StripExpect) -> Vec<String> {
        let words: Vec<&str> = heard.split(' ').collect();
        let (denying, endings) = self.denying();
        let denies = |word: &&str| {
            denying.iter().any(|known| known == word) || endings.iter().any(|ending| word.ends_with(ending.as_str()))
        };
        if expect.turned || words.len() > MOST_WORDS || words.iter().any(denies) {
            return Vec::new();
        }
        let runs = |longest: usize| {
            let words = &words;
            (0..words.len())
                .flat_map(move |from| (from + 1..=words.len().min(from + longest)).map(move |to| &words[from..to]))
        };
        let things: Vec<String> =
            runs(4).filter(|run| self.things_meant(run).is_some()).map(|run| run.join(" ")).collect();
        let sizes: Vec<String> =
            runs(6).filter(|run| self.size_meant(run).is_some()).map(|run| run.join(" ")).collect();
        // The longest of them holds the others: "twenty two millimetre", "two millimetre".
        let size = sizes.iter().max_by_key(|size| size.len());
        let mut all = Vec::new();
        for (_, phrase) in self.things_patterns().filter(|(_, phrase)| phrase.contains("{size}") == size.is_some()) {
            for things in &things {
                let text = phrase.replace("{things}", things).replace("{size}", size.map_or("", String::as_str));
                if half_heard(&text, &words)
                    && !self.counts_more(&text, &words)
                    && self.strip_heard(&text, expect).is_some()
                    && !all.contains(&text)
                {
                    all.push(text);
                }
            }
        }
        all.truncate(MOST_NEAR);
        all
    }

    /// Was a thing or a number heard that a text lacks?
    fn counts_more(&self, text: &str, heard: &[&str]) -> bool {
        let mut rest = heard.to_vec();
        for word in text.split(' ') {
            if let Some(at) = rest.iter().position(|other| *other == word) {
                rest.remove(at);
            }
        }
        let noun = |word: &str| {
            Kind::ALL.iter().filter_map(|(key, _)| self.noun(key)).any(|noun| noun.one == word || noun.many == word)
        };
        rest.iter().any(|word| noun(word) || self.numbers().amount(&[word]).is_some())
    }

    /// The phrases with a thing in them, with their keys.
    fn things_patterns(&self) -> impl Iterator<Item = (&'static str, &String)> {
        let slotted = TOLD.iter().filter(|(_, told)| told.slot() == Some("{things}"));
        slotted.flat_map(|(key, _)| self.strip_patterns(key).iter().map(move |phrase| (*key, phrase)))
    }

    /// The denied forms of a phrase with a thing in it, with that thing.
    fn told_denied(&self, text: &str) -> Vec<String> {
        let mut all = Vec::new();
        for (key, phrase) in self.things_patterns() {
            let Some((before, after)) = phrase.split_once("{things}") else { continue };
            let after = after.replace(" {size}", "");
            let Some(thing) = text.strip_prefix(before).and_then(|rest| rest.strip_suffix(&after)) else { continue };
            let bare = [before.trim(), after.trim()].join(" ");
            for form in self.denied_forms(key, bare.trim()) {
                let denied = if before.is_empty() { format!("{thing} {form}") } else { format!("{form} {thing}") };
                if !all.contains(&denied) {
                    all.push(denied);
                }
            }
        }
        all
    }
}

/// Are at least half of the words of a text among those heard, in their order?
fn half_heard(text: &str, heard: &[&str]) -> bool {
    let mut rest = heard.iter();
    let said: Vec<&str> = text.split(' ').collect();
    let there = said.iter().filter(|word| rest.clone().any(|other| other == *word) && rest.any(|other| other == *word));
    2 * there.count() >= said.len()
}

impl Told {
    /// What it tells of these things; nothing where they do not fit.
    fn of(self, things: Things) -> Option<Command> {
        let class = things.kind.class();
        match self {
            Told::Fasteners(deed) if class == Class::Fastener => Some(Command::Fasteners { things, size: None, deed }),
            Told::Opened if class == Class::Connection => Some(Command::Opened(things)),
            Told::TakenOff if class == Class::Part => Some(Command::TakenOff(things)),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dialogue::Talk;
    use crate::job::Stake;
    use crate::strip::Deed;
    use std::collections::HashSet;

    fn told() -> StripExpect {
        StripExpect::default()
    }

    fn value() -> StripExpect {
        StripExpect { turned: true, value: true, ..StripExpect::default() }
    }

    #[test]
    fn what_is_heard_is_read_whole_or_not_at_all() {
        let language = Language::english();
        let heard = |text: &str, expect: &StripExpect| language.strip_heard(text, expect);
        let bolts = |count, size: Option<u32>| Command::Fasteners {
            things: Things { count, kind: Kind::Bolt },
            size: size.map(Decimal::from),
            deed: Deed::Out,
        };
        assert_eq!(heard("took out two bolts", &told()), Some(bolts(2, None)));
        assert_eq!(heard("took out sixteen bolts thirteen millimetres", &told()), Some(bolts(16, Some(13))));
        assert_eq!(heard("two bolts ten millimetre out", &told()), Some(bolts(2, Some(10))));
        let page = |page: &str| Some(page.to_owned());
        let stages = |stages: &str, page| Some(Command::Value { stages: stages.to_owned(), page });
        assert_eq!(heard("sixty two newton metres", &value()), stages("62 N·m", None));
        assert_eq!(
            heard("sixty two newton metres then fifty degrees page seven dash one", &value()),
            stages("62 N·m + 50°", page("7-1"))
        );
        let paged = StripExpect { turned: true, page: true, ..StripExpect::default() };
        assert_eq!(heard("page one hundred and twelve", &paged), Some(Command::Page("112".into())));
        for nothing in ["did not take out two bolts", "took out two", "took out two bolts maybe", "took out two bolt"] {
            assert_eq!(heard(nothing, &told()), None, "{nothing}");
        }
        for nothing in [
            "sixty two",
            "newton metres",
            "not sixty two newton metres",
            "sixty two newton metres then",
            "sixty two newton metres page",
            "sixty two newton metres page seven dash",
            "zero newton metres",
            "about sixty two newton metres",
        ] {
            assert_eq!(heard(nothing, &value()), None, "{nothing}");
        }
        assert_eq!(heard("sixty two newton metres", &told()), None);
        assert_eq!(heard("took out two bolts", &value()), None);
    }

    #[test]
    fn what_may_be_said_fits_and_only_what_is_awaited_means_something() {
        let language = Language::english();
        let grammar = language.strip_grammar(told(), true);
        assert!(grammar.len() < super::super::LONGEST_GRAMMAR / 2, "{}", grammar.len());
        assert!(grammar.lookup("took out two bolts").is_some() && grammar.lookup("no value in the book").is_none());
        assert!(grammar.lookup("yes please").is_none() && grammar.lookup("next step").is_none());
        let grammar = language.strip_grammar(value(), true);
        assert!(grammar.lookup("took out two bolts").is_none() && grammar.lookup("no value in the book").is_some());
        assert!(grammar.lookup("thirteen").is_none() && grammar.iter().any(|(text, _)| text == "thirteen"));
        let off = language.strip_grammar(told(), false);
        let means: Vec<&Meaning> = off.iter().filter_map(|(_, meaning)| meaning).collect();
        assert!(means.iter().all(|meaning| **meaning == Meaning::Talk(Talk::StartListening)) && !means.is_empty());
    }

    /// Whatever claims that something came off stands against the same denied.
    #[test]
    fn a_claim_is_compared_with_its_denials_and_other_counts() {
        let language = Language::english();
        let grammar = language.strip_grammar(told(), true);
        let claims: Vec<&str> = grammar
            .iter()
            .filter(|(_, meaning)| meaning.is_some_and(|meaning| meaning.stake() == Stake::Ledger))
            .filter(|(text, _)| grammar.reading(text).is_some())
            .map(|(text, _)| text)
            .collect();
        assert!(claims.len() > 300, "{}", claims.len());
        for claim in claims.iter().filter(|claim| !claim.ends_with("millimetre") && !claim.ends_with("millimetres")) {
            let others: HashSet<String> = grammar.instead_of(claim).into_iter().collect();
            assert!(others.iter().any(|other| other.contains("not ")), "{claim}: {others:?}");
        }
        let others = grammar.instead_of("took out two bolts");
        for other in
            ["did not take out two bolts", "nearly took out two bolts", "took out two bolts thirteen millimetre"]
        {
            assert!(others.iter().any(|known| known == other), "{other}: {others:?}");
        }
        assert_eq!(
            grammar.perhaps("the out two bolts thirteen millimetre")[0],
            "took out two bolts thirteen millimetre"
        );
        assert_eq!(grammar.perhaps("out two bolts")[0], "took out two bolts");
        for heard in [
            "did not take out two bolts",
            "never out two bolts",
            "two bolts",
            "cup of tea",
            "took out two",
            "took out two bolts and three nuts",
            "took out two bolts three",
            "two bolts out and a nut",
        ] {
            assert_eq!(grammar.perhaps(heard), Vec::<String>::new(), "{heard}");
        }
        let others = language.strip_grammar(value(), true).instead_of("thirty newton metres");
        assert!(others.iter().any(|other| other == "thirteen newton metres"), "{others:?}");
    }
}
