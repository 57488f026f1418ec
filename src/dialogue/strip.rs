//! Typed lines of a strip-down: what is told while something is taken apart.
//!
//! Goes by the phrases of `strip_phrases`. A phrase is taken whole or not at all; only where a name, a
//! value or a page is awaited may other words be one. Leaves to `strip` what may follow what.

use super::file::Language;
use super::line::{is_question, normalise};
use super::meaning::{Meaning, Talk};
use super::pattern::MOST_WORDS;
use super::strip_phrases::{StripExpect, TOLD, Told};
use super::{Sentence, Tone};
use crate::job;
use crate::quantity::{LengthUnit, Unit};
use crate::strip::{Command, Kind, MOST, Things, told_by};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// What was meant by something said while something is taken apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StripMeaning {
    /// Something told or asked.
    Told(Command),
    /// About the talk itself.
    Talk(Talk),
    /// Nothing that is known. It may be a name or a value, where one is awaited.
    Words,
    /// Words that deny or doubt something that could have been told; they are no name either.
    Denied,
    /// Put as a question, and no question that is known. It tells nothing, and is no name, value or page.
    Asked,
}

/// The longest line, in letters, that is looked at: a value of many stages with its page fits in.
const LONGEST_LINE: usize = 240;

/// What stood in the slots.
#[derive(Debug, Clone, Default)]
struct Slots {
    things: Option<Things>,
    size: Option<Decimal>,
}

impl Language {
    /// Understands a typed line of a strip-down.
    pub fn strip_meant(&self, line: &str) -> StripMeaning {
        let meaning = self.strip_worded(line);
        let harmless = match &meaning {
            // The text of a note is the user's own, whatever marks stand in it.
            StripMeaning::Told(Command::Note(_)) => true,
            StripMeaning::Told(command) => Meaning::Strip(command.clone()).only_asks(),
            StripMeaning::Talk(talk) => Meaning::Talk(*talk).only_asks(),
            StripMeaning::Words | StripMeaning::Denied | StripMeaning::Asked => false,
        };
        if is_question(line) && !harmless { StripMeaning::Asked } else { meaning }
    }

    fn strip_worded(&self, line: &str) -> StripMeaning {
        // Nothing that can be told is so long, nor any name: only a note.
        if line.chars().count() > LONGEST_LINE {
            let note = self.typed_note(line).map(|text| StripMeaning::Told(Command::Note(job::Note::Typed(text))));
            return note.unwrap_or(StripMeaning::Denied);
        }
        let normal = normalise(line);
        let words: Vec<&str> = normal.split_whitespace().collect();
        for (key, told) in TOLD {
            let text = matches!(told, Told::Name | Told::Page);
            // What is longer than any phrase can still be a phrase with words of the user's own.
            for pattern in self.strip_patterns(key).iter().filter(|_| text || words.len() <= MOST_WORDS) {
                if let Some(command) = self.strip_command(*told, pattern, &words, line) {
                    return StripMeaning::Told(command);
                }
            }
        }
        match self.typed_meaning(line, &nothing_awaited()) {
            // What only a job would take means nothing yet, and is no name either.
            Ok(Meaning::Command(command)) => told_by(&command).map_or(StripMeaning::Denied, StripMeaning::Told),
            Ok(Meaning::Talk(talk)) => StripMeaning::Talk(talk),
            Ok(Meaning::Value(_) | Meaning::Strip(_) | Meaning::Choose(_)) => StripMeaning::Denied,
            Err(_) if self.speaks_of_a_claim(line) => StripMeaning::Denied,
            Err(_) => StripMeaning::Words,
        }
    }

    /// Can these words, which were spoken where a name is awaited, be one? Talk that is listened for as such is none.
    pub fn is_name(&self, words: &str) -> bool {
        let normal = normalise(words).split_whitespace().collect::<Vec<_>>().join(" ");
        let letters = normal.chars().any(char::is_alphabetic);
        // What is left of a width that was half heard.
        let millimetre = Some(Unit::Length(LengthUnit::Millimetre));
        let width = normal.split(' ').any(|word| self.units().named(word) == millimetre);
        let denies = words_of(words).iter().any(|word| self.denies(word));
        letters
            && !width
            && !denies
            // A listener that writes a question mark has only heard a tone of voice.
            && self.strip_worded(words) == StripMeaning::Words
            && !self.decoys().contains(&normal)
    }

    /// Does this word deny or doubt?
    fn denies(&self, word: &str) -> bool {
        let (words, endings) = self.denying();
        words.iter().any(|known| known == word) || endings.iter().any(|ending| word.ends_with(ending.as_str()))
    }

    /// What stands for a name of which there is only the recording.
    pub fn spoken_name(&self) -> String {
        self.word("strip_spoken_name").to_owned()
    }

    /// Do these words deny or doubt what could have been told, or begin as a claim, or as talk, does? They must never become a name:
    /// "did not take out two bolts" would be read back as one.
    fn speaks_of_a_claim(&self, line: &str) -> bool {
        if self.tells_a_thing(line) {
            return true;
        }
        let words = words_of(line);
        let whole = words.join(" ");
        if self.begins_as_talk(line) || words.first().is_some_and(|word| self.is_stem(word)) {
            return true;
        }
        let told = || TOLD.iter().filter(|(_, told)| told.claims());
        let claims = || told().flat_map(|(key, _)| self.strip_patterns(key));
        // A support is told by what it is or where, which names begin with as well: two words must be alike.
        let begins = || {
            told().any(|(key, _)| {
                let alike = if matches!(*key, "supported" | "on_wheels") { 2 } else { 1 };
                let begun = |phrase: &String| {
                    let first: Vec<&str> = phrase.split(' ').take(alike.min(words.len())).collect();
                    words.iter().take(alike).eq(first.iter().copied()) && !phrase.starts_with('{')
                };
                self.strip_patterns(key).iter().any(begun) && !words.is_empty()
            })
        };
        let of_a_claim = |word: &str| claims().any(|phrase| phrase.split(' ').any(|known| known == word));
        let ends = |word: &String| self.denying().1.iter().any(|ending| word.ends_with(ending.as_str()));
        begins()
            || words.iter().any(ends)
            || words.iter().any(|word| self.typing().denying.contains(word))
            || words.iter().any(|word| self.denies(word)) && words.iter().any(|word| of_a_claim(word))
            || self.strip_denied(true).any(|form| whole.starts_with(form))
    }

    /// Does the line begin as talk does, or a question, and the name of a thing never: "I've hung it up", "let's go on"?
    pub fn begins_as_talk(&self, line: &str) -> bool {
        let opens = |word: &String| self.talk().iter().any(|known| Some(known.as_str()) == word.split('\'').next());
        words_of(line).first().is_some_and(opens)
    }

    /// Does what was done go on with this word where it is denied: "take" of "did not take out"? So commands begin.
    fn is_stem(&self, word: &str) -> bool {
        let done = |told: Told| match told {
            Told::Fasteners(_) | Told::Opened | Told::TakenOff => true,
            Told::Plain(command) => matches!(command(), Command::HungUp | Command::Changed(_)),
            Told::Size | Told::Name | Told::Page => false,
        };
        let forms = TOLD
            .iter()
            .filter(|(_, told)| done(*told))
            .filter_map(|(key, _)| self.strip_table().get(*key))
            .flat_map(|(_, denied)| denied);
        forms.into_iter().any(|form| {
            let mut words = form.split(' ');
            words.by_ref().any(|before| self.denies(before)) && words.next() == Some(word)
        })
    }

    /// Is it worded like something that came off, though no phrase takes it: a thing with its count, or the end of a claim? It
    /// would be lost, and the thing told before it be called so.
    fn tells_a_thing(&self, line: &str) -> bool {
        let normal = normalise(line);
        let words: Vec<&str> = normal.split_whitespace().collect();
        let nouns = || Kind::ALL.iter().filter_map(|(key, _)| self.noun(key));
        let articles = || {
            let first = |single: &String| single.split_once(' ').map(|(first, _)| first.to_owned());
            nouns().flat_map(move |noun| noun.single.iter().filter_map(first))
        };
        let counts = |word: &str| self.numbers().amount(&[word]).is_some() || articles().any(|article| article == word);
        let is_noun = |word: &str| nouns().any(|noun| noun.one == word || noun.many == word);
        let counted = words.iter().skip_while(|word| !counts(word)).skip(1).any(|word| is_noun(word));
        let claims = || TOLD.iter().filter(|(_, told)| told.claims()).flat_map(|(key, _)| self.strip_patterns(key));
        let ends = claims().any(|phrase| {
            let tokens: Vec<&str> = phrase.split(' ').collect();
            match tokens.iter().rposition(|token| token.starts_with('{')) {
                // Behind the thing: "{things} came off".
                Some(slot) => slot + 1 < tokens.len() && words.ends_with(&tokens[slot + 1..]),
                // The second half of a phrase: "loosened, still in".
                None => words.len() > 1 && tokens.ends_with(&words),
            }
        });
        counted || ends
    }

    /// What stands against the phrases that claim something.
    /// Of those for an order only where it is asked for.
    pub(super) fn strip_denied(&self, order: bool) -> impl Iterator<Item = &str> {
        let told = TOLD.iter().filter(move |(key, _)| order || !StripExpect::is_order(key));
        let forms = told.filter_map(|(key, _)| self.strip_table().get(*key));
        forms.flat_map(|(_, denied)| denied.iter().map(String::as_str))
    }

    pub(super) fn strip_patterns(&self, key: &str) -> &[String] {
        self.strip_table().get(key).map_or(&[], |(phrases, _)| phrases.as_slice())
    }

    pub(super) fn strip_command(&self, told: Told, pattern: &str, words: &[&str], line: &str) -> Option<Command> {
        if let Some(before) = pattern.strip_suffix(" {text}") {
            let before: Vec<&str> = before.split(' ').collect();
            // What follows is taken as it was typed.
            words.strip_prefix(&before[..]).filter(|rest| !rest.is_empty())?;
            let mut typed = line.trim();
            for _ in &before {
                typed = typed.split_once(char::is_whitespace)?.1.trim_start();
            }
            return Some(match told {
                Told::Page => Command::Page(typed.to_owned()),
                _ => Command::Name(crate::strip::Name::Typed(typed.to_owned())),
            });
        }
        let slots = self.strip_fill(&pattern.split(' ').collect::<Vec<_>>(), words, Slots::default())?;
        let command = match told {
            Told::Plain(command) => command(),
            Told::Fasteners(deed) => Command::Fasteners { things: slots.things?, size: slots.size, deed },
            Told::Opened => Command::Opened(slots.things?),
            Told::TakenOff => Command::TakenOff(slots.things?),
            Told::Size => Command::Size(slots.size?),
            Told::Name | Told::Page => return None,
        };
        Some(command).filter(fits)
    }

    fn strip_fill(&self, tokens: &[&str], words: &[&str], slots: Slots) -> Option<Slots> {
        let Some((token, tokens)) = tokens.split_first() else {
            return words.is_empty().then_some(slots);
        };
        match *token {
            "{things}" => (1..=words.len()).find_map(|taken| {
                let things = self.things_meant(&words[..taken])?;
                self.strip_fill(tokens, &words[taken..], Slots { things: Some(things), ..slots.clone() })
            }),
            "{size}" => (1..=words.len()).find_map(|taken| {
                let size = self.size_meant(&words[..taken])?;
                self.strip_fill(tokens, &words[taken..], Slots { size: Some(size), ..slots.clone() })
            }),
            word => (words.first() == Some(&word)).then(|| self.strip_fill(tokens, &words[1..], slots)).flatten(),
        }
    }

    /// "Two bolts", "a clip".
    pub(super) fn things_meant(&self, words: &[&str]) -> Option<Things> {
        let text = words.join(" ");
        Kind::ALL.iter().find_map(|(key, kind)| {
            let noun = self.noun(key)?;
            let count = match text.as_str() {
                text if noun.single.iter().any(|single| single == text) => 1,
                text => {
                    let before = text.strip_suffix(&noun.many).or_else(|| text.strip_suffix(&noun.one))?.trim_end();
                    let number = self.numbers().amount(&before.split(' ').collect::<Vec<_>>())?;
                    let number = Some(number.number).filter(|n| n.fract().is_zero())?.to_u32()?;
                    // "One bolts" and "two bolt" are half of something else.
                    let whole = (number == 1) == text.ends_with(&format!(" {}", noun.one)) || noun.one == noun.many;
                    number.ne(&0).then_some(number).filter(|_| whole)?
                }
            };
            Some(Things { count, kind: *kind })
        })
    }

    /// "Thirteen millimetre", "13 mm".
    pub(super) fn size_meant(&self, words: &[&str]) -> Option<Decimal> {
        let (unit, number) = words.split_last()?;
        let millimetre = Unit::Length(LengthUnit::Millimetre);
        let named = self.units().named(unit) == Some(millimetre) || *unit == self.units().of(millimetre).one;
        if !named {
            return None;
        }
        let number = self.numbers().amount(number).filter(|amount| !amount.inches)?;
        Some(number.number).filter(|number| *number > Decimal::ZERO)
    }

    /// Why a line that tells of things that came off is not taken, as far as that is known: a width that is not in millimetres, or
    /// more than one kind of thing at once.
    pub fn strip_why_not(&self, line: &str) -> Option<Sentence> {
        let normal = normalise(&line.chars().take(LONGEST_LINE).collect::<String>());
        let words: Vec<&str> = normal.split_whitespace().take(MOST_WORDS).collect();
        if !self.tells_a_thing(line) {
            return None;
        }
        let inch = Some(Unit::Length(LengthUnit::Inch));
        let is_inch = |word: &&str| self.units().named(word) == inch;
        let key = match () {
            () if words.iter().any(is_inch) => "strip_only_millimetres",
            () if self.kinds_told(&words) > 1 => "strip_one_kind",
            () => return None,
        };
        Some(self.told(key, Tone::Refusal, |_| minijinja::context! {}))
    }

    /// How many things with their counts stand in these words, one behind the other.
    fn kinds_told(&self, words: &[&str]) -> usize {
        let (mut count, mut from) = (0, 0);
        while from < words.len() {
            // The longest that begins here: "two bolts" is none of its own within "twenty two bolts".
            let taken = (from + 1..=words.len().min(from + 4)).rev().find(|to| {
                let bare = to - from == 1;
                !bare && self.things_meant(&words[from..*to]).is_some()
            });
            count += usize::from(taken.is_some());
            from = taken.unwrap_or(from + 1);
        }
        count
    }

    /// That a line is nothing that can be told.
    pub fn strip_not_understood(&self) -> Sentence {
        self.told("strip_not_understood", Tone::Refusal, |_| minijinja::context! {})
    }

    /// That a name is no longer awaited.
    pub fn strip_name_late(&self) -> Sentence {
        self.told("strip_name_late", Tone::Plain, |_| minijinja::context! {})
    }
}

/// The words of a line, in lower case and without marks.
fn words_of(line: &str) -> Vec<String> {
    let lower = line.to_lowercase().replace('’', "'");
    let words = lower.split(|c: char| !(c.is_alphanumeric() || c == '\''));
    words.filter(|word| !word.is_empty()).map(str::to_owned).collect()
}

fn fits(command: &Command) -> bool {
    use crate::strip::Class;
    match command {
        Command::Fasteners { things, .. } => things.kind.class() == Class::Fastener && things.count <= MOST,
        Command::Opened(things) => things.kind.class() == Class::Connection && things.count <= MOST,
        Command::TakenOff(things) => things.kind.class() == Class::Part && things.count <= MOST,
        _ => true,
    }
}

/// No job awaits anything.
fn nothing_awaited() -> job::Expect {
    job::Expect {
        steps: 0,
        yes_no: true,
        no_claims: false,
        angle: false,
        reading: None,
        rest: false,
        fastener: false,
        book: None,
        places: Vec::new(),
    }
}
