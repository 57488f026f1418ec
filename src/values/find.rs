//! Finding entries by the words of their names.
//!
//! By whole words: what is found has every word that was asked for, and no word is ever taken for another. One word in another number is the
//! same word, where that leads to one thing only.

use std::collections::HashMap;

/// A shorter word has no plural here: what is left of "gas" is no gas.
const SHORTEST: usize = 3;

/// The names of things, each in one or more forms, as words.
#[derive(Debug, Clone, Default)]
pub struct Names {
    forms: Vec<Vec<Vec<String>>>,
    /// Which things have a word in one of their forms.
    having: HashMap<String, Vec<usize>>,
}

impl Names {
    /// The names of things, in their order, each in its forms: words with single spaces.
    pub fn new(things: impl IntoIterator<Item = Vec<String>>) -> Names {
        let words = |form: String| form.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
        let forms: Vec<Vec<Vec<String>>> =
            things.into_iter().map(|forms| forms.into_iter().map(words).collect()).collect();
        let mut having: HashMap<String, Vec<usize>> = HashMap::new();
        for (at, forms) in forms.iter().enumerate() {
            for word in forms.iter().flatten() {
                let things = having.entry(word.clone()).or_default();
                if things.last() != Some(&at) {
                    things.push(at);
                }
            }
        }
        Names { forms, having }
    }

    /// The things that these words name, in their order. Those named by just these words, in this order, before those named by
    /// just these words; and those before the ones whose names have all of the words and more.
    pub fn find(&self, asked: &[&str]) -> Vec<usize> {
        let Some(rarest) =
            asked.iter().map(|word| self.having.get(*word).map_or(&[][..], Vec::as_slice)).min_by_key(|h| h.len())
        else {
            return Vec::new();
        };
        best(rarest.iter().filter_map(|&at| Some((self.nearness(at, asked)?, at))))
    }

    /// The same among some of the things only.
    pub fn find_among(&self, things: &[usize], asked: &[&str]) -> Vec<usize> {
        if asked.is_empty() {
            return Vec::new();
        }
        best(things.iter().filter_map(|&at| Some((self.nearness(at, asked)?, at))))
    }

    /// The one thing that has these words where some are in another number than in its name ("bolts" of a "cover bolt"): one of two
    /// alike words has one of these endings more. Nothing where no thing has them so, or several.
    pub fn find_in_another_number(&self, asked: &[&str], endings: &[String]) -> Option<usize> {
        let longer = |long: &str, short: &str| {
            let ends = |ending: &String| long.strip_suffix(ending.as_str()) == Some(short);
            short.chars().count() >= SHORTEST && endings.iter().any(ends)
        };
        let same = |one: &str, other: &str| one == other || longer(one, other) || longer(other, one);
        let has = |form: &Vec<String>| {
            let mut rest: Vec<&String> = form.iter().collect();
            let mut takes = |word: &str| {
                let at = rest.iter().position(|known| same(known, word))?;
                Some(rest.swap_remove(at))
            };
            asked.iter().all(|word| takes(word).is_some())
        };
        let mut found = (0..self.forms.len()).filter(|at| self.forms[*at].iter().any(has));
        found.next().filter(|_| !asked.is_empty() && found.next().is_none())
    }

    /// How near a name is to the words asked for; 0 is the name itself. Nothing if it lacks one of them.
    fn nearness(&self, at: usize, asked: &[&str]) -> Option<u8> {
        let near = |form: &Vec<String>| {
            let count = |word: &str| form.iter().filter(|other| *other == word).count();
            if !asked.iter().all(|word| count(word) >= asked.iter().filter(|other| *other == word).count()) {
                return None;
            }
            Some(match form.len() == asked.len() {
                true if form.iter().zip(asked).all(|(a, b)| a == b) => 0,
                true => 1,
                false => 2,
            })
        };
        self.forms.get(at)?.iter().filter_map(near).min()
    }

    /// The words of one thing that none of the others has, in the order of its first form: enough to tell it from them. Nothing
    /// if there is no such word.
    pub fn telling(&self, at: usize, others: &[usize]) -> Option<String> {
        let forms = |at: usize| self.forms.get(at).into_iter().flatten();
        let foreign =
            |word: &&String| !others.iter().filter(|o| **o != at).any(|o| forms(*o).flatten().any(|w| w == *word));
        let words: Vec<&str> = forms(at).next()?.iter().filter(foreign).map(String::as_str).collect();
        (!words.is_empty()).then(|| words.join(" "))
    }
}

fn best(found: impl Iterator<Item = (u8, usize)>) -> Vec<usize> {
    let found: Vec<(u8, usize)> = found.collect();
    let nearest = found.iter().map(|(near, _)| *near).min();
    found.into_iter().filter(|(near, _)| Some(*near) == nearest).map(|(_, at)| at).collect()
}

/// What can be heard of a written name, whatever the language: its words, small, digits apart from letters.
pub(crate) fn letters(name: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut last: Option<bool> = None;
    for c in name.chars() {
        let kind = c.is_alphanumeric().then(|| c.is_numeric());
        if let Some(digit) = kind {
            if last != Some(digit) {
                words.push(String::new());
            }
            if let Some(word) = words.last_mut() {
                word.extend(c.to_lowercase());
            }
        }
        last = kind;
    }
    words
}
