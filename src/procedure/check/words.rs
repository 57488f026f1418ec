//! The words: short sentences with one instruction each (ASD-STE100), warnings in their place, nothing that the voice
//! cannot say, no two names that sound alike.
//!
//! Knows English. Of texts in another language only what holds in any is looked at.

use super::Sight;
use crate::procedure::code::Code;
use crate::procedure::each::PLACE;
use crate::procedure::finding::Finding;
use crate::procedure::written::Text;
use std::collections::HashMap;

/// Most words in a sentence of instruction, by ASD-STE100, rule 5.1.
const MOST_WORDS: usize = 20;

pub(super) fn check(sight: &Sight<'_>, findings: &mut Vec<Finding>) {
    let w = sight.written;
    let language = w.procedure.language.to_lowercase();
    let english = language == "en" || language.starts_with("en-");
    let mut spoken: Vec<&Text> = vec![&w.procedure.title];
    for step in &w.step {
        spoken
            .extend([&step.say].into_iter().chain(&step.hold).chain(&step.why).chain(&step.stuck).chain(&step.helper));
        spoken.extend(step.until.iter().chain(&step.otherwise).chain(&step.ask).chain(&step.late).chain(&step.later));
        let questions = step.hold.iter().chain(&step.ask).chain(&step.until);
        for text in
            [&step.say].into_iter().chain(questions).chain(&step.helper).chain(&step.otherwise).chain(&step.late)
        {
            long(text, findings);
        }
        for caution in &step.cautions {
            let said = [&caution.note, &caution.caution, &caution.warning, &caution.danger].into_iter().flatten();
            for text in said {
                long(text, findings);
                spoken.push(text);
            }
        }
        if english {
            two(&step.say, findings);
            late(&step.say, findings);
        }
    }
    for standing in &w.standing {
        long(&standing.say, findings);
        spoken.push(&standing.say);
    }
    for f in &w.fastener {
        spoken.extend([&f.name].into_iter().chain(&f.plural).chain(&f.no_value).chain(&f.preparation).chain(&f.lock));
        let stages = f.stages.iter().flat_map(|stages| stages.value.iter());
        for text in stages.flat_map(|stage| stage.meanwhile.iter().chain(&stage.until)) {
            long(text, findings);
            spoken.push(text);
        }
        spoken.extend(f.places.iter());
    }
    spoken.extend(w.variant.iter().map(|v| &v.name));
    spoken.extend(w.stock.iter().map(|s| &s.name));
    spoken.extend(w.tool.iter().flat_map(|t| [&t.name].into_iter().chain(&t.stand_in)));
    spoken.extend(w.part.iter().map(|p| &p.name));
    spoken.extend(w.component.iter().map(|c| &c.name));
    spoken.extend([&w.condition, &w.support, &w.connection].into_iter().flatten().map(|t| &t.name));
    let (left, spoken): (Vec<&Text>, Vec<&Text>) =
        spoken.into_iter().partition(|text| text.as_bytes().contains(&b'{') && text.contains(PLACE));
    left.into_iter().for_each(|text| left_over(text, findings));
    if english {
        for text in spoken {
            unsayable(text, findings);
        }
        alike(w.variant.iter().map(|v| &v.name), findings);
        alike(w.fastener.iter().map(|f| &f.name), findings);
        alike(w.component.iter().map(|c| &c.name).chain(w.support.iter().map(|s| &s.name)), findings);
        for f in &w.fastener {
            alike(f.places.iter(), findings);
        }
    }
}

/// The sentences of a text. A point inside a number ends nothing.
fn sentences(text: &str) -> impl Iterator<Item = &str> {
    let bytes = text.as_bytes();
    let mut from = 0;
    std::iter::from_fn(move || {
        loop {
            let rest = bytes.get(from..).filter(|rest| !rest.is_empty())?;
            let ends = |(at, b): (usize, &u8)| match b {
                b'?' | b'!' | b';' => true,
                b'.' => rest.get(at + 1).is_none_or(|next| *next == b' '),
                _ => false,
            };
            let length = rest.iter().enumerate().position(ends).map_or(rest.len(), |at| at + 1);
            let sentence = text.get(from..from + length).unwrap_or_default().trim();
            from += length;
            if !sentence.is_empty() {
                return Some(sentence);
            }
        }
    })
}

/// The words of a text: what stands between white space. Nearly all of it is plain letters, which need not be decoded.
fn words(text: &str) -> impl Iterator<Item = &str> {
    let mut rest = text;
    std::iter::from_fn(move || {
        let spaces = rest.bytes().take_while(|b| *b == b' ').count();
        rest = rest.get(spaces..).unwrap_or_default();
        if !rest.bytes().next().is_some_and(|b| b.is_ascii_graphic()) {
            rest = rest.trim_start();
        }
        let end = match rest.bytes().enumerate().find(|(_, b)| !b.is_ascii_graphic()) {
            Some((at, b' ')) => at,
            Some(_) => rest.find(char::is_whitespace).unwrap_or(rest.len()),
            None => rest.len(),
        };
        let (word, more) = rest.split_at(end);
        rest = more;
        (!word.is_empty()).then_some(word)
    })
}

fn long(text: &Text, findings: &mut Vec<Finding>) {
    // Shorter than that, or with fewer spaces, no sentence can be too long.
    if text.len() < 2 * MOST_WORDS || text.bytes().filter(u8::is_ascii_whitespace).count() < MOST_WORDS {
        return;
    }
    for sentence in sentences(text) {
        let words = words(sentence).count();
        if words > MOST_WORDS {
            let what = format!("a sentence has {words} words");
            let right = format!("Say it in at most {MOST_WORDS} words, or in two sentences or steps");
            findings.push(Finding::new(Code::SayLong, text.span.clone(), what, right));
        }
    }
}

/// The place stands only in steps that are done for each place; there it is in words by now.
fn left_over(text: &Text, findings: &mut Vec<Finding>) {
    let right = "Write the place, or in the step: for_each = [\"rear left\", \"rear right\"]";
    let what = "{place} stands for nothing here";
    findings.push(Finding::new(Code::PlaceholderUnknown, text.span.clone(), what, right));
}

/// Verbs that an instruction begins with, in the order of the alphabet.
#[rustfmt::skip]
const INSTRUCTIONS: [&str; 68] = [
    "align", "apply", "bend", "bleed", "check", "chock", "clean", "clip", "close", "connect", "cut", "disconnect",
    "drain", "draw", "drive", "feed", "fill", "fit", "hang", "hold", "insert", "install", "lay", "let", "lever",
    "lift", "loosen", "lower", "lubricate", "mark", "measure", "move", "open", "place", "plug", "press", "prise",
    "pry", "pull", "push", "put", "raise", "refit", "release", "remove", "renew", "replace", "rotate", "screw",
    "secure", "set", "slacken", "slide", "squeeze", "start", "support", "swing", "take", "tap", "tighten", "turn",
    "unbolt", "unclip", "undo", "unhook", "unplug", "unscrew", "wipe",
];

fn is_instruction(word: &str) -> bool {
    let word = word.trim_matches(|c: char| !c.is_alphabetic());
    let lower = word.bytes().map(|b| b.to_ascii_lowercase());
    // In the order of the alphabet, so that a long procedure is looked through quickly.
    INSTRUCTIONS.binary_search_by(|i| i.bytes().cmp(lower.clone())).is_ok()
}

/// Those of them that are things or shapes as often, behind "and" or a comma: "the pump and feed line".
const NAMES_TOO: [&str; 4] = ["bend", "chock", "cut", "feed"];

/// How something is done, such as "carefully" between "and" and what to do.
fn is_manner(word: &str) -> bool {
    const NAMES: [&str; 5] = ["assembly", "family", "ply", "subassembly", "supply"];
    word.ends_with("ly") && !NAMES.contains(&word)
}

fn two(say: &Text, findings: &mut Vec<Finding>) {
    let mut instructions = 0;
    for sentence in sentences(say) {
        let mut before = "";
        for (n, word) in words(sentence).enumerate() {
            let joined = before.ends_with(',') || matches!(before, "and" | "then" | "or");
            if joined && is_manner(word) {
                continue;
            }
            if n == 0 && is_instruction(word)
                || joined
                    && is_instruction(word)
                    && !NAMES_TOO.contains(&word.trim_matches(|c: char| !c.is_alphabetic()))
            {
                instructions += 1;
            }
            before = word;
        }
    }
    if instructions > 1 {
        let what = format!("the sentence gives {instructions} instructions");
        findings.push(Finding::new(
            Code::SayTwo,
            say.span.clone(),
            what,
            "Give each its own step, or say the result only",
        ));
    }
}

/// A warning inside the sentence of the step is spoken with the act, or after it.
fn late(say: &Text, findings: &mut Vec<Finding>) {
    const SIGNALS: [&str; 4] = ["warning", "caution", "danger", "note"];
    const BEGINNINGS: [&str; 6] = ["do not ", "never ", "beware ", "take care ", "be careful ", "mind "];
    for (n, sentence) in sentences(say).enumerate() {
        let begins = |with: &str| sentence.get(..with.len()).is_some_and(|start| start.eq_ignore_ascii_case(with));
        let signal = SIGNALS.iter().any(|s| begins(s) && sentence[s.len()..].starts_with(':'));
        let after = n > 0 && BEGINNINGS.iter().any(|b| begins(b));
        if signal || after {
            let what = format!("\"{sentence}\" is a warning inside the instruction");
            let right =
                "Write it in \"cautions\" of the step, with its signal word, so that it is spoken before the act";
            findings.push(Finding::new(Code::WarningLate, say.span.clone(), what, right));
        }
    }
}

/// Shortened words that look like words.
const SHORTENED: [&str; 12] = ["approx", "assy", "incl", "max", "min", "qty", "ref", "temp", "spec", "lh", "rh", "etc"];

/// Letters of the longest of these.
const LONGEST_SHORTENED: usize = 6;

pub(crate) fn unsayable(text: &Text, findings: &mut Vec<Finding>) {
    if plain_words(text) {
        return;
    }
    for word in words(text) {
        if let Some(said) = unsayable_word(word) {
            let what = format!("\"{said}\" is not a word the voice can say");
            findings.push(Finding::new(Code::WordUnsayable, text.span.clone(), what, "Write it as it is to be spoken"));
        }
    }
}

/// Is every word of it letters, one of them a vowel, none but the first a capital, and none of them shortened? Nearly all texts
/// are so, and need to be gone through once only.
fn plain_words(text: &str) -> bool {
    let bytes = text.as_bytes();
    let mut at = 0;
    while at < bytes.len() {
        let (from, mut vowel) = (at, false);
        while let Some(b) = bytes.get(at).filter(|b| b.is_ascii_lowercase() || at == from && b.is_ascii_uppercase()) {
            vowel |= VOWELS & 1 << (b & 31) != 0;
            at += 1;
        }
        let word = from..at;
        while matches!(bytes.get(at), Some(b'.' | b',' | b'?')) {
            at += 1;
        }
        match bytes.get(at) {
            Some(b' ') => at += 1,
            None => {}
            Some(_) => return false,
        }
        let short = word.len() <= LONGEST_SHORTENED && text.get(word.clone()).is_some_and(is_shortened);
        // Two spaces side by side are no word.
        if !vowel && at > word.start + 1 || short {
            return false;
        }
    }
    true
}

/// The vowels, by their place in the alphabet.
const VOWELS: u32 = {
    let (letters, mut set, mut n) = (b"aeiouy", 0, 0);
    while n < letters.len() {
        set |= 1 << (letters[n] & 31);
        n += 1;
    }
    set
};

/// The word, if the voice would stumble over it.
fn unsayable_word(word: &str) -> Option<&str> {
    // Most words are these: letters, one of them a vowel, none but the first a capital. Only what is shortened is left.
    let stops = word.bytes().rev().take_while(|b| matches!(b, b'.' | b',' | b'?')).count();
    let end = word.get(..word.len() - stops).unwrap_or_default();
    let mut letters = end.bytes();
    if letters.next().is_some_and(|b| b.is_ascii_alphabetic()) && letters.all(|b| b.is_ascii_lowercase()) {
        let vowel = |b: u8| matches!(b.to_ascii_lowercase(), b'a' | b'e' | b'i' | b'o' | b'u' | b'y');
        if end.bytes().any(vowel) {
            return is_shortened(end).then_some(end);
        }
    }
    let bare =
        word.trim_matches(|c: char| matches!(c, '.' | ',' | ';' | ':' | '?' | '!' | '(' | ')' | '"' | '\'' | '’'));
    let plain = |c: char| c.is_alphanumeric() || matches!(c, '-' | '\'' | '’' | '.' | ',');
    if !bare.chars().all(plain) {
        return Some(bare);
    }
    let letters = bare.chars().filter(|c| c.is_alphabetic()).count();
    let digits = bare.chars().any(|c| c.is_ascii_digit());
    // "M12" and "T40" are spelt rightly; "18mm" is not.
    if digits && letters > 1 && bare.starts_with(|c: char| c.is_ascii_digit()) {
        return Some(bare);
    }
    let vowel = |c: char| matches!(c.to_ascii_lowercase(), 'a' | 'e' | 'i' | 'o' | 'u' | 'y') || !c.is_ascii();
    if !digits && letters > 1 && !bare.chars().any(vowel) {
        return Some(bare);
    }
    is_shortened(bare).then_some(bare)
}

fn is_shortened(word: &str) -> bool {
    (2..=LONGEST_SHORTENED).contains(&word.len()) && SHORTENED.iter().any(|s| word.eq_ignore_ascii_case(s))
}

pub(crate) fn alike<'a>(names: impl Iterator<Item = &'a Text>, findings: &mut Vec<Finding>) {
    let mut heard: HashMap<String, &Text> = HashMap::new();
    for name in names.filter(|n| !n.is_empty()) {
        match heard.get(&sound(name)) {
            // The same name is another matter; several groups may well be called alike.
            Some(first) if first.value != name.value => {
                let what = format!("\"{}\" sounds like \"{}\"", name.value, first.value);
                let right = "Give one of them a name that sounds different";
                findings.push(
                    Finding::new(Code::SoundsAlike, name.span.clone(), what, right)
                        .with(first.span.clone(), "the other"),
                );
            }
            Some(_) => {}
            None => {
                heard.insert(sound(name), name);
            }
        }
    }
}

/// What is left of a name in noise: consonants by the place they are made, vowels only as a gap.
fn sound(name: &str) -> String {
    let mut key = String::with_capacity(name.len());
    let lower = name
        .to_lowercase()
        .replace("ph", "f")
        .replace("ck", "k")
        .replace("gh", "")
        .replace("wr", "r")
        .replace("kn", "n");
    for word in lower.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()) {
        for c in word.chars() {
            let heard = match c {
                'a' | 'e' | 'i' | 'o' | 'u' | 'y' => 'a',
                'b' | 'p' => 'p',
                'd' | 't' => 't',
                'g' | 'k' | 'c' | 'q' => 'k',
                'v' | 'f' => 'f',
                's' | 'z' | 'x' => 's',
                'm' | 'n' => 'n',
                'h' => continue,
                c => c,
            };
            if !key.ends_with(heard) {
                key.push(heard);
            }
        }
        // A vowel at the end of a word is hardly heard.
        if key.ends_with('a') && word.len() > 2 {
            key.pop();
        }
        key.push(' ');
    }
    key
}

#[cfg(test)]
mod tests {
    use super::{sound, unsayable_word};

    #[test]
    fn names_that_sound_alike_have_one_key() {
        assert_eq!(sound("bracket bolt"), sound("bracked bold"));
        assert_eq!(sound("clip"), sound("clib"));
        assert_ne!(sound("front"), sound("rear"));
        assert_ne!(sound("upper left"), sound("upper right"));
        assert_ne!(sound("pivot bolt"), sound("pinch bolt"));
        assert_ne!(sound("1"), sound("2"));
    }

    #[test]
    fn instructions_are_found_whatever_their_case() {
        assert!(super::INSTRUCTIONS.is_sorted());
        assert_eq!(super::SHORTENED.iter().map(|s| s.len()).max(), Some(super::LONGEST_SHORTENED));
        assert!(super::is_instruction("Tighten") && super::is_instruction("put,") && !super::is_instruction("bolt"));
    }

    #[test]
    fn a_name_behind_and_is_no_second_instruction() {
        let found = |say: &str| {
            let mut findings = Vec::new();
            super::two(&super::Text { span: 0..0, value: say.to_owned() }, &mut findings);
            !findings.is_empty()
        };
        for say in [
            "Unscrew the pump and feed line.",
            "Take off the cover, chock and strap.",
            "Fit the bolt and supply set.",
            "Take away the wheel, chock, and strap.",
        ] {
            assert!(!found(say), "{say}");
        }
        for say in
            ["Chock the wheels and set the stand.", "Undo the nut and carefully lift the arm.", "Feed it in. Turn it."]
        {
            assert!(found(say), "{say}");
        }
    }

    #[test]
    fn sentences_end_where_they_end() {
        let found: Vec<&str> = super::sentences("Set 2.5 bar. Is it so? Yes!  Good; done").collect();
        assert_eq!(found, ["Set 2.5 bar.", "Is it so?", "Yes!", "Good;", "done"]);
        assert_eq!(super::sentences(" . ").collect::<Vec<_>>(), ["."]);
        assert_eq!(super::sentences("").count(), 0);
    }

    #[test]
    fn words_stand_between_white_space_of_any_kind() {
        for text in ["", " ", "one", " Two  words ", "a\tb\u{a0}c\nd", "é\u{2009}ü x", "N·m 90°, \u{1}x \u{b}y"] {
            assert!(super::words(text).eq(text.split_whitespace()), "{text:?}");
        }
    }

    #[test]
    fn texts_of_plain_words_are_those_in_which_no_word_is_found() {
        for text in [
            "Slacken the bolts, front first.",
            "",
            " ",
            "Two  spaces. ",
            "a",
            "Is it so?",
            "M12 bolt",
            "18mm",
            "the mm",
            "Take it approx. off",
            "MAX",
            "max",
            "maximum",
            "Rhythm by my",
            "by",
            "b",
            "x y",
            "w/o",
            "tab\there",
            "r\u{e9}sum\u{e9}",
            "crwth",
            "don't",
            "T",
            "(left)",
            "temp",
            "Temp?",
            "etc...",
            "tempo",
            "it, .",
            "NaN",
            "aB",
            ".",
            "?.",
            "in-turn",
        ] {
            let none = super::words(text).all(|word| unsayable_word(word).is_none());
            assert!(none || !super::plain_words(text), "{text:?}");
        }
        assert!(super::plain_words("Slacken the bolts, front first. Is it so?"));
        assert!(!super::plain_words("Slacken the mm bolts."));
    }

    #[test]
    fn words_are_told_from_abbreviations() {
        for word in ["bolt", "M12", "T40", "T", "30", "2.5", "lower-arm,", "why?", "(left)", "by"] {
            assert_eq!(unsayable_word(word), None, "{word}");
        }
        for word in ["18mm", "mm", "assy", "RH", "w/o", "N·m", "&", "approx."] {
            assert!(unsayable_word(word).is_some(), "{word}");
        }
    }
}
