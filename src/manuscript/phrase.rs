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
const MORE: [&str; 27] = [
    "and", "or", "with", "without", "from", "to", "until", "till", "by", "in", "into", "on", "onto", "at", "so", "if",
    "when", "while", "for", "of", "then", "before", "after", "not", "only", "using", "but",
];

const FASTENERS: [&str; 5] = ["bolt", "nut", "screw", "stud", "capscrew"];

const NUMBERS: [&str; 12] =
    ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];

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
        // What is applied, and where, is one text.
        return Some(Act {
            verb: Verb::Apply,
            thing: Thing { name: object.to_owned(), count: None, new: false },
            stages: None,
        });
    }
    let mut stages = None;
    let mut by_hand = false;
    if *for_fastener == Some(Verb::Tighten)
        && let Some(at) = lower[written.len()..].find(" to ")
    {
        let value = sentence[written.len()..].get(at + 4..)?;
        stages = Some(amounts::stages(value)?);
        object = sentence[written.len()..][..at].trim();
    }
    for how in [" by hand", " hand-tight", " hand tight", " finger-tight", " finger tight"] {
        if let Some(thing) = object.strip_suffix(how) {
            (object, by_hand) = (thing, true);
        }
    }
    let thing = thing(object)?;
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

/// A thing that is named and nothing more.
pub(super) fn thing(text: &str) -> Option<Thing> {
    let mut words: Vec<&str> = text.split_whitespace().collect();
    let (mut number, mut new) = (None, false);
    loop {
        let Some(first) = words.first() else { break };
        let small = first.to_lowercase();
        if matches!(small.as_str(), "the" | "a" | "an" | "its" | "all" | "both" | "each") {
            if small == "both" {
                number = Some(2);
            }
        } else if let Some(count) = count(first).filter(|_| words.len() > 1 && number.is_none()) {
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
    let named = !words.is_empty() && words.len() <= 5 && words.iter().all(|word| plain(word));
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
