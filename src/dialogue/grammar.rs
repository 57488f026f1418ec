//! What may be said now: whole phrases, each with its meaning, and decoys that mean nothing.
//!
//! Of numbers there is no end, so the phrases hold only those that are likely, and the pieces of all others; what a reading in
//! other words means, and what might have been said in place of one, is told for the words that were heard.

use super::file::Language;
use super::meaning::{MEANINGS, Meaning, READING, Row, Shape, Talk, commands};
use super::numbers::LARGEST_HEARD;
use super::pattern::{Pattern, Token};
use super::speakable::DigitsOf;
use super::strip_phrases::StripExpect;
use super::units;
use crate::job::{Ask, Command, Expect, Reading};
use crate::quantity::{Kind, Quantity, TorqueUnit, Unit};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use std::collections::HashMap;

/// No grammar holds more phrases than this.
pub const LONGEST_GRAMMAR: usize = 3200;

/// Largest number of a reading that is listened for.
const LARGEST_READING: u32 = 400;

/// Minutes a timer can be set to by voice.
const LONGEST_TIMER: u32 = 60;

/// Adapters that can be asked for by voice; more can be typed.
const MOST_ADAPTERS: u32 = 9;

/// Degrees from one angle of an adapter to the next, by voice; others can be typed.
const ANGLE_STEP: u32 = 15;

/// The phrases that may be said now.
#[derive(Debug, Clone, Default)]
pub struct Grammar {
    phrases: Vec<(String, Option<Meaning>)>,
    index: HashMap<String, usize>,
    /// Where a reading may be said.
    readings: Option<(Language, Expect)>,
    /// Where something is told that came off, or what the book says of it.
    pub(super) strip: Option<(Language, StripExpect)>,
}

impl Grammar {
    /// All phrases, lower case with single spaces; `None` for a decoy.
    pub fn iter(&self) -> impl Iterator<Item = (&str, Option<&Meaning>)> {
        self.phrases.iter().map(|(text, meaning)| (text.as_str(), meaning.as_ref()))
    }

    /// The meaning of a whole phrase of the list; `None` for a decoy and for anything that may not be said now.
    pub fn lookup(&self, text: &str) -> Option<&Meaning> {
        self.phrases[*self.index.get(text)?].1.as_ref()
    }

    /// The meaning of whatever may be said now: a phrase of the list, or a reading in any words.
    pub fn meaning(&self, text: &str) -> Option<Meaning> {
        match self.index.get(text) {
            Some(at) => self.phrases[*at].1.clone(),
            None => self.reading(text),
        }
    }

    /// The meaning of words that are a reading from the first to the last, in the list or not.
    pub fn reading(&self, text: &str) -> Option<Meaning> {
        if let Some((language, expect)) = &self.strip {
            return language.strip_heard(text, expect).map(Meaning::Strip);
        }
        let (language, expect) = self.readings.as_ref()?;
        language.reading_heard(text, expect)
    }

    /// Do these words begin as a reading does, with a number, without being one? What follows the number is part of it, so
    /// it must be asked for again.
    pub fn broken_reading(&self, text: &str) -> bool {
        if self.index.contains_key(text) || self.reading(text).is_some() {
            return false;
        }
        text.match_indices(' ').any(|(space, _)| self.reading(&text[..space]).is_some())
    }

    /// What might have been said where a reading was heard, as far as it is no phrase of the list: the same number going on,
    /// units of every kind after it, and numbers that sound like it. A listener that compares these cannot take a part of a
    /// number for the whole.
    pub fn instead_of(&self, text: &str) -> Vec<String> {
        let of = self.strip.as_ref().map(|(language, _)| language);
        let of = of.or(self.readings.as_ref().map(|(language, _)| language));
        let Some((language, meaning)) = of.zip(self.reading(text)) else { return Vec::new() };
        if let Meaning::Strip(command) = &meaning {
            let mut all = language.strip_instead_of(text, command);
            all.retain(|other| !self.index.contains_key(other) && other != text);
            return all;
        }
        let mut all = language.numbers().sounding_like(text);
        let unit = matches!(meaning, Meaning::Command(Command::Reading(Reading { unit: Some(_), .. })));
        if !unit {
            let awaited = self.readings.as_ref().and_then(|(_, expect)| expect.reading);
            // A word of units that says no more than the number does is the beginning of some that do: "degrees".
            let says_no_more = |word: &str| {
                let said = language.units().named(word).zip(awaited);
                said.is_some_and(|(said, about)| units::meant_where(said, about.unit()).is_err())
            };
            let number =
                text.rsplit_once(' ').filter(|(_, word)| says_no_more(word)).map_or(text, |(number, _)| number);
            all.extend(language.numbers().going_on(number));
            let units = awaited.into_iter().flat_map(|about| language.units().heard_where(about.kind()));
            all.extend(units.map(|unit| format!("{number} {unit}")));
        }
        all.retain(|other| !self.index.contains_key(other) && other != text);
        all
    }

    /// What may have been told where these words, which tell nothing, were heard.
    pub fn perhaps(&self, heard: &str) -> Vec<String> {
        let Some((language, expect)) = &self.strip else { return Vec::new() };
        if self.index.contains_key(heard) { Vec::new() } else { language.strip_perhaps(heard, expect) }
    }

    /// What may have been said where a reading was heard of which a word was lost or taken for another, and where these words, of
    /// which one may have been a number: readings, as far as they mean something else; where a reading was heard, whatever sounds
    /// like one, too.
    pub fn a_word_off(&self, heard: &str) -> Vec<String> {
        let of = self.strip.as_ref().map(|(language, _)| language);
        let Some(language) = of.or(self.readings.as_ref().map(|(language, _)| language)) else { return Vec::new() };
        let meaning = self.reading(heard);
        if meaning.is_none() && (self.strip.is_some() || self.index.contains_key(heard)) {
            return Vec::new();
        }
        let mut all = language.numbers().a_word_off(heard, meaning.is_some());
        all.retain(|other| match self.reading(other) {
            Some(other) => meaning.as_ref() != Some(&other),
            None => meaning.is_some() && self.lookup(other).is_none(),
        });
        all
    }

    /// Is it that of a strip-down, in which one thing is told in many wordings?
    pub fn is_of_a_strip_down(&self) -> bool {
        self.strip.is_some()
    }

    /// How many phrases there are, decoys among them.
    pub fn len(&self) -> usize {
        self.phrases.len()
    }

    /// Can nothing be said?
    pub fn is_empty(&self) -> bool {
        self.phrases.is_empty()
    }

    /// Adds a phrase, unless it is there already: meanings come before decoys.
    pub(super) fn add(&mut self, text: String, meaning: Option<Meaning>) {
        if !self.index.contains_key(&text) {
            self.index.insert(text.clone(), self.phrases.len());
            self.phrases.push((text, meaning));
        }
    }

    /// Whatever else a phrase means is heard as itself and does nothing.
    pub fn only(mut self, wanted: impl Fn(&Meaning) -> bool) -> Grammar {
        for (_, meaning) in &mut self.phrases {
            *meaning = meaning.take().filter(&wanted);
        }
        self
    }

    /// Leaves out what a phrase may not mean here.
    pub fn without(self, unwanted: impl Fn(&Meaning) -> bool) -> Grammar {
        let mut grammar = Grammar { readings: self.readings, strip: self.strip, ..Grammar::default() };
        for (text, meaning) in self.phrases {
            if !meaning.as_ref().is_some_and(&unwanted) {
                grammar.add(text, meaning);
            }
        }
        grammar
    }

    /// Adds all of a class of phrases, or none of it: half a class would be heard by chance.
    pub(super) fn add_class(&mut self, class: Vec<(String, Meaning)>) {
        if self.phrases.len() + class.len() <= LONGEST_GRAMMAR {
            for (text, meaning) in class {
                self.add(text, Some(meaning));
            }
        }
    }
}

impl Language {
    /// What may be said in this state; while not listening only the phrase to begin again.
    pub fn grammar(&self, expect: &Expect, listening: bool) -> Grammar {
        let mut grammar = Grammar::default();
        let allowed = |row: &Row| match row.shape {
            Shape::Plain(Meaning::Talk(Talk::StartListening)) => !listening,
            _ => listening && row.allowed(expect),
        };
        for row in MEANINGS.iter().filter(|row| allowed(row)) {
            if let Shape::Plain(meaning) = &row.shape {
                for pattern in self.patterns(row.key) {
                    grammar.add(pattern.text.clone(), Some(meaning.clone()));
                }
            }
        }
        if expect.rest && listening {
            for (text, rest) in self.numbers().rests() {
                grammar.add(text, Some(Meaning::Command(Command::Rest(rest))));
            }
        }
        // What may not be said now is still heard as itself, and does nothing.
        for row in MEANINGS.iter().filter(|row| !allowed(row)) {
            if matches!(row.shape, Shape::Plain(_)) {
                for pattern in self.patterns(row.key) {
                    grammar.add(pattern.text.clone(), None);
                }
            }
        }
        for decoy in self.decoys() {
            grammar.add(decoy.clone(), None);
        }
        for row in MEANINGS.iter().filter(|row| allowed(row)) {
            for denied in self.denied(row.key) {
                grammar.add(denied.clone(), None);
            }
        }
        // So that one is heard beside any phrase, in a form of words that nobody thought of.
        for word in self.denying().0.iter().filter(|_| listening) {
            grammar.add(word.clone(), None);
        }
        for Row { key, shape, .. } in MEANINGS.iter().filter(|row| allowed(row)) {
            match shape {
                Shape::Plain(_) => {}
                Shape::GoTo => {
                    let last = u32::try_from(expect.steps).unwrap_or(u32::MAX).min(LARGEST_HEARD);
                    let class = self.numbered(key, 1..=last, Command::GoTo);
                    grammar.add_class(class);
                }
                Shape::Adapter => grammar.add_class(self.numbered(key, 1..=MOST_ADAPTERS, Talk::Adapter)),
                Shape::AdapterAngle => {
                    let all = self.numbered(key, 0..=180, Talk::AdapterAngle);
                    let even = |m: &Meaning| matches!(m, Meaning::Talk(Talk::AdapterAngle(n)) if n % ANGLE_STEP == 0);
                    grammar.add_class(all.into_iter().filter(|(_, m)| even(m)).collect());
                }
                Shape::Timer => grammar.add_class(self.numbered(key, 1..=LONGEST_TIMER, Command::Timer)),
                Shape::InUnit => self.in_units(&mut grammar),
                Shape::ValueOf => {}
                Shape::Place => {
                    for (i, place) in expect.places.iter().enumerate() {
                        let place = self.as_heard(place);
                        for pattern in self.patterns(key) {
                            let text = pattern.text.replace("{place}", &place);
                            let denied = self.denied_forms(key, &text);
                            grammar.add(text, Some(Meaning::Command(Command::Place(i))));
                            for denied in denied {
                                grammar.add(denied, None);
                            }
                        }
                    }
                }
                Shape::Reading => {}
            }
        }
        if let Some(awaits) = expect.book.filter(|_| listening) {
            self.book_told(&mut grammar, awaits);
        }
        // Last, for numbers fill whatever room there is, and would leave none for a command.
        if let Some(about) = expect.reading.filter(|_| listening) {
            self.readings(&mut grammar, READING, about);
            grammar.readings = Some((self.clone(), expect.clone()));
        }
        grammar
    }

    /// Adds the ways to ask for a torque in another unit.
    pub(super) fn in_units(&self, grammar: &mut Grammar) {
        for unit in TorqueUnit::ALL {
            for heard in &self.units().of(Unit::Torque(*unit)).heard {
                for pattern in self.patterns("in_unit") {
                    let text = pattern.text.replace("{unit}", heard);
                    grammar.add(text, Some(Meaning::Command(Command::Ask(Ask::InUnit(*unit)))));
                }
            }
        }
    }

    /// What may be said while a note is recorded: only its end. Every other phrase is heard as itself and does nothing, so
    /// that talk in the note is not taken for its end.
    pub fn note_grammar(&self) -> Grammar {
        let mut grammar = Grammar::default();
        for (key, meaning) in commands() {
            let ends = *meaning == Meaning::Talk(Talk::EndNote);
            for pattern in self.patterns(key) {
                grammar.add(pattern.text.clone(), ends.then(|| meaning.clone()));
            }
        }
        for decoy in self.decoys() {
            grammar.add(decoy.clone(), None);
        }
        grammar
    }

    /// What may be said while the job is put down: only what takes it up again, and an answer where that was `asked` back. Every
    /// other phrase is heard as itself and does nothing.
    pub fn waiting_grammar(&self, asked: bool) -> Grammar {
        let mut grammar = Grammar::default();
        let carry_on = self.carry_on();
        grammar.add(carry_on.to_owned(), Some(Meaning::Command(Command::Resume)));
        for denied in self.denied_forms("next", carry_on) {
            grammar.add(denied, None);
        }
        for (key, meaning) in commands() {
            let answers = asked && matches!(meaning, Meaning::Command(Command::Yes | Command::No));
            for pattern in self.patterns(key) {
                grammar.add(pattern.text.clone(), answers.then(|| meaning.clone()));
            }
        }
        for word in self.decoys().iter().chain(self.denying().0) {
            grammar.add(word.clone(), None);
        }
        grammar
    }

    /// What takes up a job that was put down.
    pub fn carry_on(&self) -> &str {
        self.word("carry_on")
    }

    /// Words of a procedure or a page as a recogniser's word list has them: lower case, letters only.
    pub fn as_heard(&self, text: &str) -> String {
        let spoken = self.speak(text, DigitsOf::Nothing).to_lowercase();
        let words = spoken.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty());
        words.collect::<Vec<_>>().join(" ")
    }

    fn numbered<M: Into<Meaning>>(
        &self,
        key: &str,
        range: std::ops::RangeInclusive<u32>,
        meaning: impl Fn(u32) -> M,
    ) -> Vec<(String, Meaning)> {
        let minute = self.units().minute();
        let mut class = Vec::new();
        for n in range {
            for said in self.numbers().variants(n) {
                for pattern in self.patterns(key) {
                    let minutes = if n == 1 { &minute.one } else { &minute.many };
                    let text = pattern.text.replace("{number}", &said).replace("{minutes}", minutes);
                    class.push((text, meaning(n).into()));
                }
            }
        }
        class
    }

    /// Readings about as large as what is awaited, in classes by how likely each is to be said.
    fn readings(&self, grammar: &mut Grammar, key: &str, about: Quantity) {
        // With these words a recogniser can hear numbers and units that no class holds; by themselves they mean nothing.
        for piece in
            self.numbers().pieces(about.kind()).into_iter().chain(self.units().heard_where(about.kind()).cloned())
        {
            grammar.add(piece, None);
        }
        let (without, with): (Vec<_>, Vec<_>) =
            self.patterns(key).iter().partition::<Vec<&Pattern>, _>(|p| !p.has(&Token::Unit));
        let numbers = self.reading_numbers(about);
        let class = |patterns: &[&Pattern], numbers: &[(Decimal, Vec<String>)], unit: Option<Unit>, other: bool| {
            let heard: &[String] = unit.map_or(&[][..], |unit| &self.units().of(unit).heard);
            let blank = [String::new()];
            let heard = if unit.is_none() { &blank[..] } else { heard };
            let mut class = Vec::new();
            for (amount, said) in numbers {
                let said = if other { said.get(1..).unwrap_or_default() } else { said.get(..1).unwrap_or_default() };
                for (said, pattern, heard) in said
                    .iter()
                    .flat_map(|said| patterns.iter().map(move |pattern| (said, pattern)))
                    .flat_map(|(said, pattern)| heard.iter().map(move |heard| (said, pattern, heard)))
                {
                    let text = pattern.text.replace("{number}", said).replace("{unit}", heard);
                    class.push((text, Meaning::Command(Command::Reading(Reading { amount: *amount, unit }))));
                }
            }
            class
        };
        grammar.add_class(class(&without, &numbers, None, false));
        grammar.add_class(class(&with, &numbers, Some(about.unit()), false));
        grammar.add_class(class(&without, &numbers, None, true));
        if about.kind() == Kind::Torque {
            for unit in TorqueUnit::ALL.iter().map(|unit| Unit::Torque(*unit)).filter(|unit| *unit != about.unit()) {
                if let Some(about) = about.in_unit(unit) {
                    let about = Quantity::new(about.amount().round(), unit);
                    grammar.add_class(class(&with, &self.reading_numbers(about), Some(unit), false));
                }
            }
        }
        grammar.add_class(class(&with, &numbers, Some(about.unit()), true));
    }

    /// The numbers that a reading may be, with the ways to say each, the program's own first.
    fn reading_numbers(&self, about: Quantity) -> Vec<(Decimal, Vec<String>)> {
        let amount = about.amount().abs();
        let double = (amount.trunc().to_u32().unwrap_or(u32::MAX)).saturating_mul(2);
        let numbers = self.numbers();
        // Far off readings must be heard as well, so that they can be questioned.
        let whole = double.clamp(100, LARGEST_READING);
        let mut all: Vec<(Decimal, Vec<String>)> =
            (0..=whole).map(|n| (Decimal::from(n), numbers.variants(n))).collect();
        // Wrenches and gauges show the decimals of the value; gauges always show some.
        let gauge = !matches!(about.kind(), Kind::Torque | Kind::Angle);
        let places = amount.normalize().scale().max(u32::from(gauge)).min(2);
        if places == 0 {
            return all;
        }
        // Hundredths are said of small things only.
        let (places, below) = match places {
            2 if double < 8 => (2, double.max(1) + 2),
            _ => (1, double.clamp(10, 100)),
        };
        let step = Decimal::new(1, places);
        let mut n = step;
        while n < Decimal::from(below) {
            let n_plain = n.normalize();
            if !n_plain.fract().is_zero() {
                let mut said = vec![numbers.say(n_plain)];
                if n_plain.fract() == Decimal::new(5, 1) {
                    said.extend(numbers.and_a_half(n_plain.trunc().to_u32().unwrap_or(0)));
                }
                all.push((n_plain, said));
            }
            n += step;
        }
        all
    }
}
