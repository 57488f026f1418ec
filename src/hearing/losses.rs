//! Where words are lost: of each command in a quiet room, whether it was heard, and else the place at which it came to nothing.
//!
//! Knows what the listeners made of the sound, and asks the very functions of `listen` that decide; no rule stands here.

use super::moment::{Allowed, Moment};
use super::play::{Heard, Played};
use super::set::Part;
use super::tally::{Column, Ears, Who, accept, decided, verdict};
use super::trial::Meant;
use crate::listen::{Harm, Rule, Verdict};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write;

/// What became of a command, in the order in which it goes through the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fate {
    /// What was meant, once, and nothing else.
    Right,
    /// No voice was noticed.
    NeverBegun,
    /// Taken for a knock.
    Knock,
    /// Taken for a voice in the background.
    Background,
    /// A voice in which neither listener found words.
    Wordless,
    /// Heard in pieces, or a part of it.
    Cut,
    /// The first listener heard words that are no phrase.
    NoPhrase,
    /// It heard a word of talk that is listened for.
    Decoy,
    /// It heard another phrase, and that was not done.
    AnotherPhrase,
    /// It heard it with too little confidence, and the second did not like it well enough.
    Unsure,
    /// The second listener was against it.
    SecondListener,
    /// It is a number that one of them has not heard to its end.
    Number,
    /// What the second listener wrote freely, or a word of denial, spoke against it.
    FreeReading,
    /// Something else was done, or it was done twice.
    Wrong,
}

impl Fate {
    /// All of them.
    pub const ALL: [Fate; 14] = [
        Fate::Right,
        Fate::NeverBegun,
        Fate::Knock,
        Fate::Background,
        Fate::Wordless,
        Fate::Cut,
        Fate::NoPhrase,
        Fate::Decoy,
        Fate::AnotherPhrase,
        Fate::Unsure,
        Fate::SecondListener,
        Fate::Number,
        Fate::FreeReading,
        Fate::Wrong,
    ];

    /// Its name in tables.
    pub fn name(self) -> &'static str {
        match self {
            Fate::Right => "right",
            Fate::NeverBegun => "no voice noticed",
            Fate::Knock => "taken for a knock",
            Fate::Background => "taken for a voice in the background",
            Fate::Wordless => "no words found",
            Fate::Cut => "cut",
            Fate::NoPhrase => "words that are no phrase",
            Fate::Decoy => "a word of talk",
            Fate::AnotherPhrase => "another phrase, not done",
            Fate::Unsure => "too little confidence",
            Fate::SecondListener => "second listener against it",
            Fate::Number => "a number not whole",
            Fate::FreeReading => "free reading against it",
            Fate::Wrong => "something else done",
        }
    }

    /// Is it worth telling as what it was heard?
    fn is_told(self) -> bool {
        matches!(self, Fate::Cut | Fate::NoPhrase | Fate::Decoy | Fate::AnotherPhrase | Fate::Wrong)
    }
}

/// What became of some commands.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Losses {
    /// So many came to this.
    pub fates: BTreeMap<Fate, usize>,
    /// Said, and heard as.
    pub heard: BTreeMap<(Fate, String, String), usize>,
}

impl Losses {
    /// All of them.
    pub fn of(&self) -> usize {
        self.fates.values().sum()
    }
}

/// What became of the commands in a quiet room: of people by where their recordings come from, of the synthetic voices together.
pub fn losses(
    played: &[Played],
    part: Part,
    moments: &[(Moment, Allowed)],
    rule: &Rule,
) -> BTreeMap<(Who, String), Losses> {
    let mut all: BTreeMap<(Who, String), Losses> = BTreeMap::new();
    for one in played.iter().filter(|one| one.trial.part == part) {
        let trial = &one.trial;
        if Column::of(trial) != Column::Clean || trial.moment == Moment::Numbers {
            continue;
        }
        let Meant::Phrase(meant) = &trial.meant else { continue };
        let Some((_, allowed)) = moments.iter().find(|(moment, _)| *moment == trial.moment) else { continue };
        let who = Who::of(trial);
        let source = trial.person.clone().unwrap_or_else(|| who.name().to_owned());
        let losses = all.entry((who, source)).or_default();
        let fate = fate(one, meant, allowed, rule);
        *losses.fates.entry(fate).or_default() += 1;
        if fate.is_told() {
            let heard: Vec<&str> = one.heard.iter().map(|heard| heard.text.as_str()).collect();
            *losses.heard.entry((fate, meant.clone(), heard.join(" + "))).or_default() += 1;
        }
    }
    all
}

fn fate(one: &Played, meant: &str, allowed: &Allowed, rule: &Rule) -> Fate {
    let done: Vec<_> = one.heard.iter().filter_map(|heard| accept(heard, allowed, Ears::Both, rule)).collect();
    match &done[..] {
        [] => {}
        [phrase] if allowed.same(meant, &phrase.text) => return Fate::Right,
        _ => return Fate::Wrong,
    }
    if one.heard.is_empty() {
        return match one.lost {
            lost if lost.knocks > 0 => Fate::Knock,
            lost if lost.background > 0 => Fate::Background,
            lost if lost.wordless > 0 => Fate::Wordless,
            _ => Fate::NeverBegun,
        };
    }
    // The rule believed it, and something else stopped it.
    for heard in &one.heard {
        match decided(heard, allowed, Ears::Both, rule) {
            Some((phrase, whole)) if allowed.same(meant, &phrase.text) => {
                if !whole {
                    return Fate::Number;
                }
                if verdict(heard, allowed, Ears::Both, &phrase) != Verdict::Stands {
                    return Fate::FreeReading;
                }
            }
            _ => {}
        }
    }
    if let Some(heard) = one.heard.iter().find(|heard| allowed.same(meant, &heard.text)) {
        return not_believed(heard, allowed, rule);
    }
    let [heard] = &one.heard[..] else { return Fate::Cut };
    match allowed.offered(&heard.text).iter().find(|phrase| phrase.text == heard.text) {
        _ if is_part(meant, &heard.text) => Fate::Cut,
        None => Fate::NoPhrase,
        Some(phrase) if phrase.harm == Harm::Decoy => Fate::Decoy,
        Some(_) => Fate::AnotherPhrase,
    }
}

/// Why the first listener's phrase was not believed.
fn not_believed(heard: &Heard, allowed: &Allowed, rule: &Rule) -> Fate {
    let phrases = allowed.offered(&heard.text);
    let first = phrases.iter().position(|phrase| phrase.text == heard.text);
    match heard.judgement(&phrases) {
        Some(judgement) if rule.unopposed(&phrases, first, judgement.best, &judgement).is_none() => {
            Fate::SecondListener
        }
        _ => Fate::Unsure,
    }
}

/// Are these some of the words of a text, not all, one after the other?
fn is_part(text: &str, words: &str) -> bool {
    let (all, some): (Vec<&str>, Vec<&str>) = (text.split(' ').collect(), words.split(' ').collect());
    some.len() < all.len() && all.windows(some.len()).any(|run| run == some)
}

/// The table, people first, and as what was heard what was not heard as itself.
pub fn table(all: &BTreeMap<(Who, String), Losses>) -> String {
    let mut text = String::new();
    if all.is_empty() {
        return text;
    }
    let mut columns: Vec<(String, Losses)> = Vec::new();
    let mut people = Losses::default();
    for ((who, _), losses) in all {
        if *who == Who::People {
            losses.fates.iter().for_each(|(fate, count)| *people.fates.entry(*fate).or_default() += count);
        }
    }
    if people.of() > 0 {
        columns.push(("people".into(), people));
    }
    columns.extend(all.iter().map(|((_, source), losses)| (source.clone(), losses.clone())));
    let _ = writeln!(text, "\nWhere commands are lost, clean, both listeners");
    let _ = write!(text, "{:30}", "");
    for (name, _) in &columns {
        let _ = write!(text, " {name:>16}");
    }
    text.push('\n');
    for fate in Fate::ALL {
        if columns.iter().all(|(_, losses)| !losses.fates.contains_key(&fate)) {
            continue;
        }
        let _ = write!(text, "{:30}", fate.name());
        for (_, losses) in &columns {
            let _ = write!(text, " {:>16}", losses.fates.get(&fate).copied().unwrap_or_default());
        }
        text.push('\n');
    }
    let _ = write!(text, "{:30}", "of");
    for (_, losses) in &columns {
        let _ = write!(text, " {:>16}", losses.of());
    }
    text.push('\n');
    for who in Who::ALL {
        let mut heard: BTreeMap<&(Fate, String, String), usize> = BTreeMap::new();
        for (_, losses) in all.iter().filter(|((of, _), _)| *of == who) {
            losses.heard.iter().for_each(|(name, count)| *heard.entry(name).or_default() += count);
        }
        let mut heard: Vec<_> = heard.into_iter().collect();
        // The most frequent first.
        heard.sort_by_key(|(name, count)| (name.0, std::cmp::Reverse(*count), *name));
        if !heard.is_empty() {
            let _ = writeln!(text, "\nLost as what, {}, clean: said, heard, times", who.name());
        }
        for ((fate, said, as_what), count) in heard {
            let _ = writeln!(text, "  {:26} {said:34} {as_what:40} {count}", fate.name());
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::super::play::Judged;
    use super::super::trial::{Trial, Way};
    use super::*;
    use crate::dialogue::Language;
    use crate::listen::{Lost, Written};

    fn played(meant: &str, heard: Vec<Heard>, lost: Lost) -> Played {
        let trial = Trial {
            part: Part::Tune,
            moment: Moment::Bare,
            meant: Meant::Phrase(meant.into()),
            voice: "p".into(),
            person: Some("sc".into()),
            way: Way::Plain,
            level: None,
            noise: None,
            clips: vec![0],
            number: 0,
        };
        Played { trial, heard, lost, seconds: 1.0, computing: 0.0 }
    }

    fn heard(text: &str, confidence: f32, best: &str, over_noise: f32) -> Heard {
        let judged = Judged { best: Some(best.into()), average: -0.1, over_noise, margin: 9.0 };
        let (wait_ms, thinking_ms) = (0.0, 0.0);
        Heard { text: text.into(), confidence, judged: Some(judged), written: None, own: None, wait_ms, thinking_ms }
    }

    #[test]
    fn each_command_is_lost_in_one_place_and_the_sum_is_all_of_them() {
        let language = Language::english();
        let moments = vec![(Moment::Bare, Moment::Bare.allowed(&language))];
        let none = Lost::default();
        let written = Some(Written { text: "A boat in the road.".into(), ahead: 20.0 });
        let nearly = |text: &str| Heard { judged: None, ..heard(text, 0.1, "", 0.0) };
        let cases = vec![
            (Fate::Right, played("next step", vec![heard("carry on", 1.0, "carry on", 30.0)], none)),
            (Fate::NeverBegun, played("five", vec![], none)),
            (Fate::Knock, played("five", vec![], Lost { knocks: 1, ..none })),
            (Fate::Background, played("five", vec![], Lost { background: 1, ..none })),
            (Fate::Wordless, played("five", vec![], Lost { wordless: 1, ..none })),
            (Fate::Cut, played("next step", vec![nearly("next"), nearly("step")], none)),
            (Fate::Cut, played("twenty five", vec![nearly("twenty")], none)),
            (Fate::NoPhrase, played("five", vec![nearly("the market")], none)),
            (Fate::Decoy, played("five", vec![nearly("next door")], none)),
            (Fate::AnotherPhrase, played("five", vec![nearly("nine")], none)),
            (Fate::Unsure, played("five", vec![nearly("five")], none)),
            (Fate::SecondListener, played("five", vec![heard("five", 1.0, "next door", 30.0)], none)),
            (
                Fate::FreeReading,
                played("five", vec![Heard { written, confidence: 0.9, ..heard("five", 0.9, "five", 30.0) }], none),
            ),
            (Fate::Wrong, played("five", vec![heard("nine", 1.0, "nine", 30.0)], none)),
        ];
        for (fate, one) in &cases {
            let all = losses(std::slice::from_ref(one), Part::Tune, &moments, &Rule::by_decoder());
            let found = &all[&(Who::People, "sc".to_owned())];
            assert_eq!(found.fates.keys().collect::<Vec<_>>(), [fate], "{:?}", one.heard);
        }
        let count = cases.len();
        let all = losses(
            &cases.into_iter().map(|(_, one)| one).collect::<Vec<_>>(),
            Part::Tune,
            &moments,
            &Rule::by_decoder(),
        );
        assert_eq!(all[&(Who::People, "sc".to_owned())].of(), count);
        let shown = table(&all);
        assert!(shown.contains("a word of talk") && shown.contains("next door"), "{shown}");
    }

    #[test]
    fn a_part_is_fewer_words_in_a_row() {
        assert!(is_part("go to step two", "step two") && is_part("twenty five", "five"));
        assert!(!is_part("five", "five") && !is_part("go to step two", "go step") && !is_part("five", "[unk]"));
    }
}
