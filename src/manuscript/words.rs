//! What a piece of a text says by itself: signal words, headings, pages, where a sentence ends.

use crate::values::letters;

/// What a list holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Listed {
    Tools,
    Parts,
    Consumables,
    Values,
}

pub(super) const SIGNALS: [&str; 4] = ["danger", "warning", "caution", "note"];

/// Headings, by a word in them, with the phase below them.
pub(super) const PHASES: [(&str, &str); 24] = [
    ("preparation", "prepare"),
    ("preparing", "prepare"),
    ("before", "prepare"),
    ("removal", "strip"),
    ("removing", "strip"),
    ("remove", "strip"),
    ("dismantling", "strip"),
    ("disassembly", "strip"),
    ("strip", "strip"),
    ("inspection", "inspect"),
    ("inspecting", "inspect"),
    ("cleaning", "inspect"),
    ("installation", "rebuild"),
    ("refitting", "rebuild"),
    ("refit", "rebuild"),
    ("refitment", "rebuild"),
    ("install", "rebuild"),
    ("installing", "rebuild"),
    ("reinstallation", "rebuild"),
    ("reinstall", "rebuild"),
    ("fitting", "rebuild"),
    ("reassembly", "rebuild"),
    ("assembly", "rebuild"),
    ("completion", "close"),
];

pub(super) const LISTS: [(&str, Listed); 11] = [
    ("tools", Listed::Tools),
    ("special tools", Listed::Tools),
    ("parts", Listed::Parts),
    ("new parts", Listed::Parts),
    ("consumables", Listed::Consumables),
    ("materials", Listed::Consumables),
    ("torque values", Listed::Values),
    ("tightening torques", Listed::Values),
    ("torques", Listed::Values),
    ("values", Listed::Values),
    ("torque settings", Listed::Values),
];

/// Words that are cut short with a stop, at which no sentence ends.
const SHORT: [&str; 5] = ["fig", "min", "max", "ref", "approx"];

/// Sentences, each of which is a step.
pub(super) fn sentences(text: &str) -> Vec<&str> {
    let (mut all, mut from) = (Vec::new(), 0);
    for (at, _) in text.match_indices(". ") {
        let word = text[..at].rsplit(' ').next().unwrap_or_default();
        let next = text[at + 2..].chars().next();
        if word.chars().filter(|c| c.is_alphabetic()).count() > 2
            && !SHORT.contains(&word.to_lowercase().as_str())
            && next.is_some_and(char::is_uppercase)
        {
            all.push(&text[from..=at]);
            from = at + 2;
        }
    }
    all.push(&text[from..]);
    all
}

/// A text without the page behind it, and the page: "… (page 4-12)", "…, p. 4-12".
pub(super) fn page_of(text: &str) -> (String, Option<String>) {
    let text = text.trim();
    let bare = text.trim_end_matches('.').trim_end();
    let lower = bare.to_ascii_lowercase();
    for (open, word) in [("(page ", "page "), ("(p. ", "p. "), (", page ", "page "), (", p. ", "p. ")] {
        let Some(at) = lower.rfind(open) else { continue };
        let number = bare[at + open.len()..].trim_end_matches(')').trim();
        let is_number = number.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '.' | '–'));
        if !number.is_empty() && is_number && number.chars().any(|c| c.is_ascii_digit()) {
            let before = bare[..at].trim_end();
            let stop = if text.ends_with('.') && !before.ends_with('.') { "." } else { "" };
            return (format!("{before}{stop}"), Some(format!("{word}{number}")));
        }
    }
    (text.to_owned(), None)
}

/// A text that is a page and nothing else: "page 7-1", "p. 7-1".
pub(super) fn is_page(text: &str) -> bool {
    let (before, page) = page_of(&format!("({})", text.trim()));
    before.is_empty() && page.is_some()
}

/// Are all words of one text in the other, as often as there?
pub(super) fn holds(kept: &str, raw: &str) -> bool {
    let mut there = letters(kept);
    letters(raw).into_iter().all(|word| match there.iter().position(|other| *other == word) {
        Some(at) => {
            there.swap_remove(at);
            true
        }
        None => false,
    })
}

/// "Removal", "REFITTING:", "Special tools:".
pub(super) fn is_heading(text: &str) -> bool {
    let bare = text.trim_end_matches(':').to_lowercase();
    (text.split_whitespace().count() <= 3 && !text.ends_with(['.', '!', '?']))
        && (LISTS.iter().any(|(word, _)| *word == bare) || PHASES.iter().any(|(word, _)| *word == bare))
}

/// A signal word with what it says.
pub(super) fn signal(text: &str) -> Option<(&'static str, &str)> {
    let end = text.find(|c: char| !c.is_alphabetic()).unwrap_or(text.len());
    let (word, rest) = text.split_at(end);
    let signal = SIGNALS.iter().find(|signal| word.eq_ignore_ascii_case(signal))?;
    let rest = rest.trim_start();
    let told = rest.trim_start_matches([':', '!', '-', '–', '—', '.']);
    // "Note the position of the shim" is an instruction, "NOTE Mark the shim" is not.
    let shouted = word.chars().all(char::is_uppercase);
    (told.len() < rest.len() || rest.is_empty() || shouted).then(|| (*signal, told.trim()))
}
