//! A sentence of instruction that is plain: one verb, one thing.
//!
//! "Remove the two cover bolts." is; anything with a where, a how or an and is not, unless each half of it is.

use super::amounts::{self, Stage};

/// What is done to a thing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Verb {
    Slacken,
    Remove,
    HandStart,
    Tighten,
    TakeOff,
    PutOn,
    Hang,
    Disconnect,
    Connect,
    Clean,
    Apply,
}

impl Verb {
    /// As an act is called.
    pub fn key(self) -> &'static str {
        match self {
            Verb::Slacken => "slacken",
            Verb::Remove => "remove",
            Verb::HandStart => "hand_start",
            Verb::Tighten => "tighten",
            Verb::TakeOff => "take_off",
            Verb::PutOn => "put_on",
            Verb::Hang => "hang",
            Verb::Disconnect => "disconnect",
            Verb::Connect => "connect",
            Verb::Clean => "clean",
            Verb::Apply => "apply",
        }
    }
}

/// A thing as a sentence names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Thing {
    /// Its name, without article, count and "new".
    pub name: String,
    /// How many, if that is said.
    pub count: Option<u32>,
    /// It is said to be new.
    pub new: bool,
}

/// One act.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Act {
    pub verb: Verb,
    pub thing: Thing,
    /// The value it is tightened to.
    pub stages: Option<Vec<Stage>>,
}

/// Verbs as they are written, the longer ones first; for a fastener and for anything else.
const VERBS: [(&str, Option<Verb>, Option<Verb>); 28] = [
    ("take out", Some(Verb::Remove), None),
    ("take off", None, Some(Verb::TakeOff)),
    ("lift off", None, Some(Verb::TakeOff)),
    ("lift out", None, Some(Verb::TakeOff)),
    ("pull off", None, Some(Verb::TakeOff)),
    ("put on", None, Some(Verb::PutOn)),
    ("hang up", None, Some(Verb::Hang)),
    ("plug in", None, Some(Verb::Connect)),
    ("unscrew", Some(Verb::Remove), None),
    ("undo", Some(Verb::Remove), None),
    ("remove", Some(Verb::Remove), Some(Verb::TakeOff)),
    ("withdraw", Some(Verb::Remove), Some(Verb::TakeOff)),
    ("detach", None, Some(Verb::TakeOff)),
    ("slacken", Some(Verb::Slacken), None),
    ("loosen", Some(Verb::Slacken), None),
    ("tighten", Some(Verb::Tighten), Some(Verb::Tighten)),
    ("torque", Some(Verb::Tighten), Some(Verb::Tighten)),
    ("start", Some(Verb::HandStart), None),
    ("refit", None, Some(Verb::PutOn)),
    ("reinstall", None, Some(Verb::PutOn)),
    ("install", None, Some(Verb::PutOn)),
    ("fit", None, Some(Verb::PutOn)),
    ("disconnect", None, Some(Verb::Disconnect)),
    ("unplug", None, Some(Verb::Disconnect)),
    ("reconnect", None, Some(Verb::Connect)),
    ("connect", None, Some(Verb::Connect)),
    ("clean", Some(Verb::Clean), Some(Verb::Clean)),
    ("apply", None, Some(Verb::Apply)),
];

/// Words that make more of a sentence than one verb and one thing.
const MORE: &[&str] = &[
    "and",
    "or",
    "with",
    "without",
    "from",
    "to",
    "until",
    "till",
    "by",
    "in",
    "into",
    "on",
    "onto",
    "at",
    "so",
    "if",
    "when",
    "while",
    "for",
    "of",
    "then",
    "before",
    "after",
    "not",
    "only",
    "using",
    "but",
    "unless",
    "except",
    "where",
    "wherever",
    "whenever",
    "whether",
    "which",
    "that",
    "who",
    "it",
    "they",
    "is",
    "are",
    "was",
    "were",
    "be",
    "has",
    "have",
    "as",
    "because",
    "since",
    "once",
    "provided",
    "providing",
    "otherwise",
    "else",
    "either",
    "never",
    "instead",
    "should",
    "must",
    "may",
    "can",
    "cannot",
    "already",
];

const FASTENERS: [&str; 5] = ["bolt", "nut", "screw", "stud", "capscrew"];

const NUMBERS: [&str; 12] =
    ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];

/// Behind a number these make a size of it.
const UNITS: [&str; 22] = [
    "mm",
    "cm",
    "m",
    "km",
    "millimetre",
    "millimetres",
    "centimetre",
    "in",
    "inch",
    "inches",
    "ml",
    "cl",
    "l",
    "litre",
    "litres",
    "g",
    "kg",
    "gram",
    "grams",
    "bar",
    "degree",
    "degrees",
];

/// How something is done, where that is no part of its name and changes nothing.
const HOW: [&str; 14] = [
    "evenly",
    "carefully",
    "fully",
    "completely",
    "gently",
    "slowly",
    "gradually",
    "progressively",
    "uniformly",
    "again",
    "diagonally",
    "crosswise",
    "alternately",
    "firmly",
];

/// Verbs that begin an instruction though no act is made of them.
const OTHER_VERBS: [&str; 12] = [
    "check",
    "measure",
    "replace",
    "renew",
    "secure",
    "adjust",
    "raise",
    "ensure",
    "repeat",
    "retighten",
    "snug",
    "note",
];

/// A word that makes a size of the number before it.
pub(super) fn is_unit(word: &str) -> bool {
    UNITS.contains(&word.to_lowercase().as_str())
}

/// Does it begin as an instruction does? Then it is no name. "Torque rod bolt" is one, "torque the rod bolt" is not.
pub(super) fn is_instruction(text: &str) -> bool {
    let lower = text.to_ascii_lowercase();
    let begins = |verb: &str| lower.strip_prefix(verb).and_then(|rest| rest.strip_prefix(' '));
    VERBS.iter().map(|(verb, ..)| *verb).chain(OTHER_VERBS).any(|verb| {
        begins(verb).is_some_and(|rest| verb != "torque" || is_pointed_at(rest.split(' ').next().unwrap_or_default()))
    })
}

/// Words that stand before a thing in a sentence.
fn is_pointed_at(word: &str) -> bool {
    matches!(word, "the" | "a" | "an" | "its" | "all" | "both" | "each" | "new") || count(word).is_some()
}

/// A count, as a figure or a word.
pub(super) fn count(word: &str) -> Option<u32> {
    let small = word.to_lowercase();
    let named = NUMBERS.iter().position(|number| *number == small).and_then(|at| u32::try_from(at + 1).ok());
    named.or_else(|| small.parse().ok()).filter(|n| (1..=200).contains(n))
}

/// The acts of a sentence, if all of it is plain.
pub(super) fn acts(sentence: &str) -> Option<Vec<Act>> {
    let sentence = sentence.trim().trim_end_matches('.').trim();
    if let Some(act) = act(sentence) {
        return Some(vec![act]);
    }
    for between in [" and then ", ", then ", " and ", " then "] {
        for (at, _) in sentence.match_indices(between) {
            if let Some(first) = act(&sentence[..at])
                && let Some(others) = acts(&sentence[at + between.len()..])
            {
                return Some(std::iter::once(first).chain(others).collect());
            }
        }
    }
    None
}

fn act(sentence: &str) -> Option<Act> {
    // Small letters of ASCII stand where the large ones did.
    let lower = sentence.to_ascii_lowercase();
    let (written, for_fastener, for_other) =
        VERBS.iter().find(|(written, ..)| lower.strip_prefix(written).is_some_and(|rest| rest.starts_with(' ')))?;
    let mut object = sentence[written.len()..].trim();
    if *written == "apply" {
        // What is applied, and where, is one text; what else is done is none of it.
        let small = object.to_ascii_lowercase();
        if [" and ", " then ", ",", ";", ":"].iter().any(|between| small.contains(between)) {
            return None;
        }
        return Some(Act {
            verb: Verb::Apply,
            thing: Thing { name: object.to_owned(), count: None, new: false },
            stages: None,
        });
    }
    let mut stages = None;
    let mut by_hand = false;
    if *for_fastener == Some(Verb::Tighten)
        && let Some((at, behind)) = value_at(&lower[written.len()..])
    {
        let value = sentence[written.len()..].get(behind..)?;
        stages = Some(amounts::stages(value)?);
        object = sentence[written.len()..][..at].trim();
    }
    for how in [" by hand", " hand-tight", " hand tight", " finger-tight", " finger tight"] {
        if let Some(thing) = object.strip_suffix(how) {
            (object, by_hand) = (thing, true);
        }
    }
    // "Torque rod bolts: 62 Nm" names a thing.
    if *written == "torque" && !is_pointed_at(object.split(' ').next().unwrap_or_default().to_lowercase().as_str()) {
        return None;
    }
    let thing = thing(without_how(object)?)?;
    let fastener = is_fastener(&thing.name);
    let verb = match (by_hand, fastener) {
        // "Fit the bolts hand-tight", "start the bolts by hand", "tighten the bolts by hand".
        (true, true) if matches!(*written, "start" | "fit" | "refit" | "install" | "reinstall" | "tighten") => {
            Verb::HandStart
        }
        (true, _) => return None,
        (false, true) if *written == "start" => return None,
        (false, true) => (*for_fastener)?,
        (false, false) => (*for_other)?,
    };
    Some(Act { verb, thing, stages })
}

/// Where the value of a sentence begins, and where it stands: "… to 62 Nm", "…: 62 Nm".
pub(super) fn value_at(lower: &str) -> Option<(usize, usize)> {
    let to = lower.find(" to ").map(|at| (at, at + 4));
    let colon = lower.find(": ").map(|at| (at, at + 2));
    [to, colon].into_iter().flatten().min()
}

/// What something is done to, without how. Nothing where how it is done makes another thing of it ("tighten the bolts lightly").
fn without_how(object: &str) -> Option<&str> {
    let Some((rest, last)) = object.rsplit_once(' ') else { return Some(object) };
    let last = last.to_lowercase();
    match () {
        () if HOW.contains(&last.as_str()) => without_how(rest),
        () if last.ends_with("ly") && !["assembly", "supply"].iter().any(|name| last.ends_with(name)) => None,
        () => Some(object),
    }
}

/// A thing that is named and nothing more.
pub(super) fn thing(text: &str) -> Option<Thing> {
    let mut words: Vec<&str> = text.split_whitespace().collect();
    let (mut number, mut new) = (None, false);
    while let Some(first) = words.first() {
        let small = first.to_lowercase();
        if matches!(small.as_str(), "the" | "a" | "an" | "its" | "all" | "both" | "each") {
            if small == "both" {
                number = Some(2);
            }
        } else if let Some(count) =
            count(first).filter(|_| number.is_none() && words.get(1).is_some_and(|next| !is_unit(next)))
        {
            number = Some(count);
        } else if small == "new" && !new {
            new = true;
        } else {
            break;
        }
        words.remove(0);
    }
    let plain = |word: &&str| {
        word.chars().all(|c| c.is_alphanumeric() || c == '-') && !MORE.contains(&word.to_lowercase().as_str())
    };
    let named = !words.is_empty() && words.len() <= 5 && words.iter().all(plain);
    named.then(|| Thing { name: words.join(" "), count: number, new })
}

/// The last word of its name says so.
pub(super) fn is_fastener(name: &str) -> bool {
    let last = name.split_whitespace().last().unwrap_or_default().to_lowercase();
    FASTENERS.contains(&last.strip_suffix('s').unwrap_or(&last))
}

/// The name of one of them.
pub(super) fn single(name: &str) -> String {
    match is_fastener(name) {
        true => name.strip_suffix('s').unwrap_or(name).to_owned(),
        false => name.to_owned(),
    }
}
