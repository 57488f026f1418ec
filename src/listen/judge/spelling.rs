//! How the second listener would write a phrase: it was taught written English, with capitals, digits and marks, while
//! phrases are lower-case words.
//!
//! Knows English writing; not tokens, and not which spelling is right. Every one that it might choose is given.

/// More spellings than this would cost more than they bring.
const MOST: usize = 12;

const SMALL: [&str; 20] = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
];
const TENS: [&str; 8] = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"];

/// Two words that are often written as one.
const CONTRACTIONS: [(&str, &str, &str); 12] = [
    ("i", "am", "I'm"),
    ("i", "have", "I've"),
    ("what", "is", "what's"),
    ("that", "is", "that's"),
    ("it", "is", "it's"),
    ("where", "is", "where's"),
    ("will", "not", "won't"),
    ("do", "not", "don't"),
    ("is", "not", "isn't"),
    ("can", "not", "cannot"),
    ("have", "not", "haven't"),
    ("has", "not", "hasn't"),
];

/// Words that are spelled in two ways, the recogniser's first.
const VARIANTS: [(&str, &str); 6] = [
    ("metre", "meter"),
    ("metres", "meters"),
    ("millimetre", "millimeter"),
    ("millimetres", "millimeters"),
    ("okay", "OK"),
    ("litres", "liters"),
];

/// Parts of one that are written as fractions.
const PARTS: [(&str, u32); 4] = [("halves", 2), ("quarters", 4), ("eighths", 8), ("sixteenths", 16)];

/// Spellings of `phrase`, likely ones first, without closing marks. There is at least one.
pub(in crate::listen) fn spellings(phrase: &str) -> Vec<String> {
    let words: Vec<&str> = phrase.split_whitespace().collect();
    // Each entry is a list of written words, so that those of the next word can be added to it.
    let mut ways: Vec<Vec<String>> = vec![Vec::new()];
    let mut at = 0;
    while at < words.len() {
        let (used, choices) = written(&words[at..]);
        let mut longer = Vec::new();
        for way in &ways {
            for choice in &choices {
                let mut way = way.clone();
                way.push(choice.clone());
                longer.push(way);
            }
        }
        longer.truncate(MOST);
        ways = longer;
        at += used;
    }
    let mut spelled: Vec<String> = Vec::new();
    for way in ways {
        let plain = capitalised(&way.join(" "));
        // "Yes, please": the one place where a phrase is written with a comma.
        if let Some((first @ ("Yes" | "No"), rest)) = plain.split_once(' ') {
            spelled.push(format!("{first}, {rest}"));
        }
        spelled.push(plain);
    }
    spelled
}

/// How many words are written together here, and in which ways.
fn written(words: &[&str]) -> (usize, Vec<String>) {
    if let Some((used, choices)) = number(words) {
        return (used, choices);
    }
    let first = words[0];
    if let Some(second) = words.get(1)
        && let Some((_, _, short)) = CONTRACTIONS.iter().find(|(a, b, _)| *a == first && b == second)
    {
        return (2, vec![format!("{} {second}", single(first)), (*short).to_owned()]);
    }
    match VARIANTS.iter().find(|(here, _)| *here == first) {
        // It was taught American spelling.
        Some((here, there)) => (1, vec![(*there).to_owned(), (*here).to_owned()]),
        None => (1, vec![single(first)]),
    }
}

fn single(word: &str) -> String {
    if word == "i" { "I".to_owned() } else { word.to_owned() }
}

fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn small(word: &str) -> Option<u32> {
    SMALL.iter().position(|known| *known == word).map(|value| value as u32)
}

fn tens(word: &str) -> Option<u32> {
    TENS.iter().position(|known| *known == word).map(|value| 10 * (value as u32 + 2))
}

/// A number at the beginning of `words`: how many words it takes, and its spellings in digits and in words.
fn number(words: &[&str]) -> Option<(usize, Vec<String>)> {
    let nought = usize::from(words.first() == Some(&"oh"));
    // "Point five" and "oh point five" are decimals as well; "oh" alone is no number.
    let (mut used, value) = match whole(words) {
        Some(found) => found,
        None if words.get(nought) == Some(&"point") => (nought, 0),
        None => return None,
    };
    let mut figures = vec![value.to_string()];
    if value >= 1000 {
        figures.insert(0, format!("{},{:03}", value / 1000, value % 1000));
    }
    let digit = |word: &&str| if *word == "oh" { Some(0) } else { small(word).filter(|&value| value < 10) };
    let mut text = hyphenated(&words[..used]);
    let decimals: Vec<u32> = match words.get(used) {
        Some(&"point") => words[used + 1..].iter().map_while(digit).collect(),
        _ => Vec::new(),
    };
    if !decimals.is_empty() {
        let after: String = decimals.iter().map(u32::to_string).collect();
        let said = words[used..=used + decimals.len()].join(" ");
        text = format!("{text} {said}").trim_start().to_owned();
        let bare = (used == 0).then(|| format!(".{after}"));
        figures = figures.into_iter().map(|whole| format!("{whole}.{after}")).chain(bare).collect();
        used += 1 + decimals.len();
    } else if used == nought {
        return None;
    } else if let Some(sign) = words.get(used).and_then(|word| PARTS.iter().find(|(name, _)| name == word)) {
        // "Three sixteenths" is written as a fraction, or as it is.
        used += 1;
        figures = vec![format!("{value}/{}", sign.1), format!("{value} {}", words[used - 1])];
        text = format!("{text} {}", words[used - 1]);
    } else if words[used..].starts_with(&["and", "a", "half"]) {
        used += 3;
        figures = vec![format!("{value} and a half"), format!("{value}.5"), format!("{value} 1/2")];
        text = format!("{text} and a half");
    }
    let mut choices = figures;
    for said in [text, words[..used].join(" ")] {
        if !choices.contains(&said) {
            choices.push(said);
        }
    }
    Some((used, choices))
}

/// A whole number below a million at the beginning of `words`.
fn whole(words: &[&str]) -> Option<(usize, u32)> {
    // "One oh five" is a hundred and five.
    if let [first, "oh", last, ..] = words
        && let (Some(hundreds @ 1..10), Some(ones @ 1..10)) = (small(first), small(last))
    {
        return Some((3, 100 * hundreds + ones));
    }
    let (mut used, mut value) = below_thousand(words)?;
    if words.get(used) == Some(&"thousand") {
        used += 1;
        value *= 1000;
        let skip = usize::from(words.get(used) == Some(&"and"));
        if let Some((more, rest)) = below_thousand(words.get(used + skip..)?) {
            used += skip + more;
            value += rest;
        }
    }
    Some((used, value))
}

fn below_thousand(words: &[&str]) -> Option<(usize, u32)> {
    // "a hundred" is "one hundred", and "a thousand" one.
    let hundred = matches!(words.get(1), Some(&"hundred" | &"thousand"));
    let ahead = match *words.first()? {
        "a" if hundred => Some((1, 1)),
        _ => below_hundred(words),
    };
    let (mut used, mut value) = ahead?;
    if words.get(used) == Some(&"hundred") && (1..100).contains(&value) {
        used += 1;
        value *= 100;
        let skip = usize::from(words.get(used) == Some(&"and"));
        if let Some((more, rest)) = words.get(used + skip..).and_then(below_hundred) {
            used += skip + more;
            value += rest;
        }
    }
    Some((used, value))
}

fn below_hundred(words: &[&str]) -> Option<(usize, u32)> {
    let first = words.first()?;
    if let Some(ten) = tens(first) {
        return match words.get(1).and_then(|word| small(word)) {
            Some(one @ 1..10) => Some((2, ten + one)),
            _ => Some((1, ten)),
        };
    }
    small(first).map(|value| (1, value))
}

/// "twenty seven" as it is written: "twenty-seven".
fn hyphenated(words: &[&str]) -> String {
    let mut text = String::new();
    for (at, word) in words.iter().enumerate() {
        if at > 0 {
            let joined = tens(words[at - 1]).is_some() && small(word).is_some();
            text.push(if joined { '-' } else { ' ' });
        }
        text.push_str(word);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn has(phrase: &str, wanted: &[&str]) {
        let found = spellings(phrase);
        for spelling in wanted {
            assert!(found.iter().any(|s| s == spelling), "{spelling:?} is not in {found:?}");
        }
    }

    #[test]
    fn phrases_are_written_as_english_is() {
        assert_eq!(spellings("next step"), ["Next step"]);
        has("where am i", &["Where am I"]);
        has("i am stuck", &["I am stuck", "I'm stuck"]);
        has("what is not done", &["What is not done", "What's not done"]);
        has("yes that is right", &["Yes, that is right", "Yes that's right", "Yes, that's right"]);
        has("yes", &["Yes"]);
        has("in newton metres", &["In newton meters", "In newton metres"]);
        assert_eq!(spellings(""), [""]);
    }

    #[test]
    fn numbers_are_written_in_digits_and_in_words() {
        has("go to step twelve", &["Go to step 12", "Go to step twelve"]);
        has("reading twenty seven point five", &["Reading 27.5", "Reading twenty-seven point five"]);
        has("reading one hundred and fifteen", &["Reading 115", "Reading one hundred and fifteen"]);
        has("reading a hundred", &["Reading 100", "Reading a hundred"]);
        has("reading one hundred twenty two newton metres", &["Reading 122 newton meters"]);
        has("reading zero point three", &["Reading 0.3"]);
        has("two thousand and five", &["2005", "Two thousand and five"]);
        has("reading nine hundred ninety nine", &["Reading 999"]);
        // Two numbers side by side stay two.
        has("one two", &["1 2"]);
        has("twenty eleven", &["20 11"]);
        has("next one", &["Next 1", "Next one"]);
        // What is no number on its own is left as it is.
        has("reading point five", &["Reading 0.5", "Reading .5", "Reading point five"]);
        has("reading oh point oh five", &["Reading 0.05", "Reading oh point oh five"]);
        has("reading one thousand two hundred", &["Reading 1,200", "Reading 1200", "Reading one thousand two hundred"]);
        has("reading twelve hundred and fifty", &["Reading 1250", "Reading twelve hundred and fifty"]);
        has("reading one oh five", &["Reading 105", "Reading one oh five"]);
        has("reading a thousand", &["Reading 1000", "Reading a thousand"]);
        has("reading three sixteenths", &["Reading 3/16", "Reading 3 sixteenths", "Reading three sixteenths"]);
        has(
            "reading thirty eight and a half bar",
            &["Reading 38 and a half bar", "Reading 38.5 bar", "Reading 38 1/2 bar"],
        );
        has("reading eleven thou", &["Reading 11 thou", "Reading eleven thou"]);
        has("point", &["Point"]);
        has("oh", &["Oh"]);
        has("point points", &["Point points"]);
        has("which page and a half", &["Which page and a half"]);
    }

    proptest! {
        /// Digits come out as the value that went in as words.
        #[test]
        fn words_and_digits_agree(value in 0u32..1_000) {
            let mut words = Vec::new();
            let rest = value % 100;
            if value >= 100 {
                words.push(SMALL[(value / 100) as usize]);
                words.push("hundred");
                if rest > 0 {
                    words.push("and");
                }
            }
            if rest >= 20 {
                words.push(TENS[(rest / 10 - 2) as usize]);
            }
            let ones = if rest >= 20 { rest % 10 } else { rest };
            if ones > 0 || value == 0 {
                words.push(SMALL[ones as usize]);
            }
            prop_assert_eq!(whole(&words), Some((words.len(), value)));
            prop_assert!(spellings(&words.join(" ")).contains(&value.to_string()));
        }

        /// Whatever the words, there are spellings, not too many, and none with a capital too few.
        #[test]
        fn any_words_can_be_written(words in prop::collection::vec("(yes|no|i|am|what|is|a|hundred|twenty|five|and|point|thousand|step)", 1..8)) {
            let found = spellings(&words.join(" "));
            prop_assert!((1..=2 * MOST).contains(&found.len()));
            for spelling in found {
                prop_assert!(!spelling.starts_with(|c: char| c.is_lowercase()));
            }
        }
    }
}
