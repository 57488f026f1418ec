//! How words are pronounced: a list of `word PHONE PHONE ...`, with a line for each way.
//!
//! Knows the phones and how the list is written (`models/training/listener/lexicon.py` writes it); not what is said.

use std::collections::HashMap;
use std::path::Path;

use crate::files;
use crate::listen::ListenError;

/// The phones, in the order of the network's outputs.
pub const PHONES: [&str; 39] = [
    "AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G", "HH", "IH", "IY", "JH", "K",
    "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T", "TH", "UH", "UW", "V", "W", "Y", "Z", "ZH",
];

/// The network's output that stands for "nothing new"; that of a phone is its place in [`PHONES`] and one.
pub const NOTHING_NEW: u8 = 0;

/// Is the phone of an output a vowel?
pub fn is_vowel(output: u8) -> bool {
    let phone = usize::from(output).checked_sub(1).and_then(|at| PHONES.get(at));
    phone.is_some_and(|phone| phone.starts_with(['A', 'E', 'I', 'O', 'U']))
}

/// Pronunciations of words.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Lexicon {
    words: HashMap<String, Vec<Vec<u8>>>,
}

impl Lexicon {
    /// Reads a list from a file.
    pub fn read(path: &Path) -> Result<Self, ListenError> {
        let text = files::text(path).map_err(|e| ListenError::model(path, e.to_string()))?;
        Self::parse(&text).map_err(|reason| ListenError::model(path, reason))
    }

    /// Reads a list; the error says in which line what is wrong.
    pub fn parse(text: &str) -> Result<Self, String> {
        let mut words: HashMap<String, Vec<Vec<u8>>> = HashMap::new();
        for (number, line) in (1..).zip(text.lines()) {
            let mut parts = line.split_whitespace();
            let Some(word) = parts.next() else { continue };
            let phone = |name: &str| {
                let at = PHONES.iter().position(|known| *known == name);
                // There are fewer than a byte can count.
                at.map(|at| at as u8 + 1)
                    .ok_or_else(|| format!("line {number}: {name:?} is no phone; allowed are {}", PHONES.join(" ")))
            };
            let phones = parts.map(phone).collect::<Result<Vec<u8>, String>>()?;
            if phones.is_empty() {
                return Err(format!("line {number}: no phones follow {word:?}; a line is: word PHONE PHONE ..."));
            }
            let ways = words.entry(word.to_owned()).or_default();
            if !ways.contains(&phones) {
                ways.push(phones);
            }
        }
        if words.is_empty() {
            return Err("there are no words in it; a line is: word PHONE PHONE ...".into());
        }
        Ok(Self { words })
    }

    /// The ways to say a word, as outputs of the network; none if it is not in the list.
    pub fn ways(&self, word: &str) -> &[Vec<u8>] {
        self.words.get(word).map_or(&[], Vec::as_slice)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_word_has_each_of_its_ways_once() {
        let lexicon = Lexicon::parse("a AH\na EY\n\nto T UW\na AH\n").unwrap();
        assert_eq!(lexicon.ways("a"), [vec![3], vec![13]]);
        assert_eq!(lexicon.ways("to"), [vec![31, 34]]);
        assert!(lexicon.ways("b").is_empty());
    }

    #[test]
    fn what_is_no_line_of_a_list_is_told() {
        let told = |text: &str| Lexicon::parse(text).unwrap_err();
        assert!(told("a AH\nb XX").starts_with("line 2: \"XX\" is no phone; allowed are AA AE "));
        assert!(told("a AH\nb B IY1").contains("line 2: \"IY1\""));
        assert_eq!(told("a AH\n\nb"), "line 3: no phones follow \"b\"; a line is: word PHONE PHONE ...");
        assert!(told("").contains("no words"));
        let path = Path::new("no/such/lexicon.txt");
        assert!(Lexicon::read(path).unwrap_err().to_string().starts_with("no/such/lexicon.txt: "));
    }

    #[test]
    fn fifteen_phones_are_vowels() {
        let vowels: Vec<&str> = (0..=40).filter(|at| is_vowel(*at)).map(|at| PHONES[usize::from(at) - 1]).collect();
        assert_eq!(vowels.join(" "), "AA AE AH AO AW AY EH ER EY IH IY OW OY UH UW");
    }

    /// The network is trained with the phones in the order in which the training has them.
    #[test]
    fn the_phones_are_those_of_the_training() {
        let training = Path::new(env!("CARGO_MANIFEST_DIR")).join("models/training/listener/lexicon.py");
        let text = std::fs::read_to_string(training).unwrap();
        let list = text.split_once("PHONES = (\"").and_then(|(_, rest)| rest.split_once('"')).unwrap().0;
        assert_eq!(list.split(' ').collect::<Vec<_>>(), PHONES);
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in "([a-z]{1,3}( (AH|B|ZH|x))*\n){0,5}") {
            if let Ok(lexicon) = Lexicon::parse(&text) {
                let known = |word: &str| lexicon.ways(word).iter().all(|way| way.iter().all(|at| (1..=39).contains(at)));
                prop_assert!(text.split_whitespace().all(known));
            }
        }
    }
}
