//! What a rule would have done with what was heard, counted.
//!
//! Knows trials and rules for accepting; not sound.

use super::bed::Bed;
use super::moment::{Allowed, Moment};
use super::play::{Heard, Played};
use super::set::Part;
use super::trial::{Meant, Stretch, Trial, Way};
use crate::listen::{
    Decided, Harm, Hypothesis, Judgement, Opinion, OwnRule, Phrase, Rule, Verdict, near, plainly, whole,
};
use crate::replay::percentile;
use serde::Serialize;
use std::borrow::Cow;
use std::cmp::Reverse;
use std::collections::BTreeMap;

/// Who listens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Ears {
    /// The first listener, believed whatever its confidence, so long as it is a whole phrase: what the listening model hears.
    VoskNoRule,
    /// The first listener, by its stricter rule.
    VoskAlone,
    /// The second, believed wherever it would confirm the first.
    SecondAlone,
    /// Both, as in use.
    Both,
    /// Both, and the user's own voice.
    Own,
}

impl Ears {
    /// All that listen where no voice was learnt.
    pub const ALL: [Ears; 4] = [Ears::VoskNoRule, Ears::VoskAlone, Ears::SecondAlone, Ears::Both];

    /// Could they ask back? Who believes whatever vosk says has nothing to ask, and the second alone is nobody who could.
    pub fn ask(self) -> bool {
        matches!(self, Ears::VoskAlone | Ears::Both | Ears::Own)
    }

    /// Their name in tables.
    pub fn name(self) -> &'static str {
        match self {
            Ears::VoskNoRule => "vosk, no rule",
            Ears::VoskAlone => "vosk alone",
            Ears::SecondAlone => "second alone",
            Ears::Both => "both",
            Ears::Own => "and own voice",
        }
    }
}

/// Who speaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Who {
    /// People.
    People,
    /// Synthetic voices, and the noises with nobody in them.
    Voices,
}

impl Who {
    /// People first, because they are what it is for.
    pub const ALL: [Who; 2] = [Who::People, Who::Voices];

    /// Their name in tables.
    pub fn name(self) -> &'static str {
        match self {
            Who::People => "people",
            Who::Voices => "synthetic voices",
        }
    }

    /// Whose trial is it?
    pub fn of(trial: &Trial) -> Who {
        if trial.person.is_some() { Who::People } else { Who::Voices }
    }
}

/// What a command of a person is heard through, as a column of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Column {
    /// As it was recorded.
    Clean,
    /// So many decibels above a noise.
    Noise(Reverse<i32>),
    /// In the band of a telephone.
    Telephone,
    /// In a room.
    Room,
}

impl Column {
    /// That of a trial.
    pub fn of(trial: &Trial) -> Column {
        match (&trial.way, trial.level) {
            (Way::Plain, None) => Column::Clean,
            (Way::Plain, Some(level)) => Column::Noise(Reverse(level)),
            (Way::Telephone, _) => Column::Telephone,
            (Way::Room(_), _) => Column::Room,
        }
    }

    /// Its name.
    pub fn name(self) -> String {
        match self {
            Column::Clean => "clean".into(),
            Column::Noise(Reverse(level)) => format!("{level} dB"),
            Column::Telephone => "8 kHz".into(),
            Column::Room => "room".into(),
        }
    }
}

/// What kind of thing a person says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Said {
    /// An answer to a question.
    YesNo,
    /// A number of one word.
    Number,
    /// A longer one.
    LongNumber,
    /// Any other phrase.
    Other,
    /// A number once more, in a grammar of numbers alone.
    AmongNumbers,
}

impl Said {
    fn of(trial: &Trial, meant: &str, number: bool) -> Said {
        match trial.moment {
            Moment::Numbers => Said::AmongNumbers,
            _ if number && meant.contains(' ') => Said::LongNumber,
            _ if number => Said::Number,
            Moment::Question => Said::YesNo,
            _ => Said::Other,
        }
    }

    /// Its name in tables.
    pub fn name(self) -> &'static str {
        match self {
            Said::YesNo => "yes, no",
            Said::Number => "numbers of one word",
            Said::LongNumber => "longer numbers",
            Said::Other => "other phrases",
            Said::AmongNumbers => "numbers, in a list of numbers",
        }
    }
}

/// Counts of commands.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Count {
    /// Commands played.
    pub of: usize,
    /// What was meant, once, and nothing else.
    pub right: usize,
    /// Something was done that was not meant: harmless, a move, a claim. By the worst of it.
    pub wrong: [usize; 3],
    /// Nothing was done.
    pub missed: usize,
    /// Of those missed: asked back ("Did you say: …?") by what was meant, and by something else.
    pub asked: [usize; 2],
    /// Of those right: from the last sample of the words to the decision, computing included, in milliseconds, sorted.
    #[serde(skip)]
    pub waits: Vec<f64>,
}

impl Count {
    /// All that was wrong.
    pub fn all_wrong(&self) -> usize {
        self.wrong.iter().sum()
    }

    fn add(&mut self, outcome: &Outcome) {
        self.of += 1;
        match outcome {
            Outcome::Right(wait) => {
                self.right += 1;
                let at = self.waits.partition_point(|other| other < wait);
                self.waits.insert(at, *wait);
            }
            Outcome::Wrong(harm) => self.wrong[class(*harm)] += 1,
            Outcome::Missed(asked) => {
                self.missed += 1;
                if let Some(meant) = asked {
                    self.asked[usize::from(!meant)] += 1;
                }
            }
        }
    }

    /// The wait that a share of the right ones stayed within.
    pub fn wait(&self, share: f64) -> Option<f64> {
        percentile(&self.waits, share)
    }
}

/// Counts of what was done where nothing was meant.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct False {
    /// How long it was.
    pub hours: f64,
    /// In how many pieces.
    pub of: usize,
    /// What was done: harmless, moves, claims.
    pub actions: [usize; 3],
    /// What was asked back.
    pub asked: usize,
    /// Understood as that something is not done, and answered by what is still to do.
    pub not_done: usize,
    /// The phrases that were taken to be said.
    pub phrases: BTreeMap<String, usize>,
}

impl False {
    /// Everything done, in an hour.
    pub fn an_hour(&self) -> f64 {
        self.actions.iter().sum::<usize>() as f64 / self.hours.max(1e-9)
    }
}

/// Where nothing was meant: at which moment, in what.
pub type Where = (Moment, Stretch, Option<String>, Option<i32>);

/// Everything that is told of one part of the voices and one pair of ears.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    /// By level of noise.
    pub levels: BTreeMap<Option<i32>, Count>,
    /// By voice and level.
    pub voices: BTreeMap<(String, Option<i32>), Count>,
    /// By noise and level.
    pub noises: BTreeMap<(String, i32), Count>,
    /// By moment, in a quiet room.
    pub moments: BTreeMap<Moment, Count>,
    /// In a quiet room, by whether a longer phrase begins with the one that was said, as readings with a unit do.
    pub could_go_on: BTreeMap<bool, Count>,
    /// What is heard as what, in a quiet room and at 10 dB.
    pub mistaken: BTreeMap<(String, String), usize>,
    /// Of people, by what they say.
    pub said: BTreeMap<(Said, Column), Count>,
    /// Of people, by where their recordings come from.
    pub sources: BTreeMap<(String, Column), Count>,
    /// Of people where nothing was meant, by where the recordings come from.
    pub talk: BTreeMap<String, False>,
    /// Where nothing was meant.
    pub nothing: BTreeMap<Where, False>,
}

impl Tally {
    /// All levels together.
    pub fn all(&self) -> Count {
        let mut all = Count::default();
        for count in self.levels.values() {
            all.of += count.of;
            all.right += count.right;
            all.missed += count.missed;
            all.asked.iter_mut().zip(count.asked).for_each(|(sum, one)| *sum += one);
            all.wrong.iter_mut().zip(count.wrong).for_each(|(sum, one)| *sum += one);
        }
        all
    }
}

enum Outcome {
    Right(f64),
    Wrong(Harm),
    /// Whether it was asked back, and if so whether by what was meant.
    Missed(Option<bool>),
}

/// Counts what `rule` makes of a part of what was played.
pub fn tally(
    played: &[Played],
    (part, who): (Part, Who),
    moments: &[(Moment, Allowed)],
    ears: Ears,
    rule: &Rule,
) -> Tally {
    let mut tally = Tally::default();
    let numbers = moments.iter().find(|(moment, _)| *moment == Moment::Numbers).map(|(_, allowed)| allowed);
    for one in played.iter().filter(|one| one.trial.part == part && Who::of(&one.trial) == who) {
        let Some((_, allowed)) = moments.iter().find(|(moment, _)| *moment == one.trial.moment) else { continue };
        let accepted: Vec<(&Heard, Phrase)> =
            one.heard.iter().filter_map(|heard| Some((heard, accept(heard, allowed, ears, rule)?))).collect();
        let mut asked = one.heard.iter().filter_map(|heard| asked_back(heard, allowed, ears, rule));
        let trial = &one.trial;
        match &trial.meant {
            Meant::Phrase(meant) => {
                let outcome = outcome(meant, &accepted, asked.next(), allowed);
                let number = numbers.is_some_and(|numbers| numbers.means(meant));
                tally.person(trial, Said::of(trial, meant, number), &outcome);
                if trial.moment == Moment::Numbers || trial.way != Way::Plain {
                    continue;
                }
                tally.levels.entry(trial.level).or_default().add(&outcome);
                tally.voices.entry((trial.voice.clone(), trial.level)).or_default().add(&outcome);
                if let (Some(noise), Some(level)) = (&trial.noise, trial.level) {
                    tally.noises.entry((noise.name().to_owned(), level)).or_default().add(&outcome);
                }
                if trial.level.is_none() {
                    tally.moments.entry(trial.moment).or_default().add(&outcome);
                    tally.could_go_on.entry(allowed.could_go_on(meant)).or_default().add(&outcome);
                }
                if matches!(outcome, Outcome::Wrong(_)) && trial.level.is_none_or(|level| level >= 10) {
                    let heard: Vec<&str> = accepted.iter().map(|(_, phrase)| &phrase.text[..]).collect();
                    *tally.mistaken.entry((meant.clone(), heard.join(" + "))).or_default() += 1;
                }
            }
            Meant::Nothing(stretch) => {
                let noise = trial.noise.as_ref().filter(|_| trial.level.is_none()).map(|noise| match noise {
                    Bed::Made(noise) => noise.name().to_owned(),
                    Bed::Recorded { .. } => "recorded noises".to_owned(),
                });
                let asked = asked.count();
                let add = |nothing: &mut False| {
                    nothing.hours += one.seconds / 3_600.0;
                    nothing.of += 1;
                    nothing.asked += asked;
                    for (_, phrase) in &accepted {
                        if *stretch == Stretch::Denial && allowed.is_not_done(&phrase.text) {
                            nothing.not_done += 1;
                            continue;
                        }
                        nothing.actions[class(phrase.harm)] += 1;
                        *nothing.phrases.entry(phrase.text.clone()).or_default() += 1;
                    }
                };
                add(tally.nothing.entry((trial.moment, *stretch, noise, trial.level)).or_default());
                if let Some(source) = &trial.person {
                    add(tally.talk.entry(source.clone()).or_default());
                }
            }
        }
    }
    tally
}

impl Tally {
    fn person(&mut self, trial: &Trial, said: Said, outcome: &Outcome) {
        let Some(source) = &trial.person else { return };
        let column = Column::of(trial);
        self.said.entry((said, column)).or_default().add(outcome);
        if said != Said::AmongNumbers {
            self.sources.entry((source.clone(), column)).or_default().add(outcome);
        }
    }
}

/// The phrase that is done.
pub(super) fn accept(heard: &Heard, allowed: &Allowed, ears: Ears, rule: &Rule) -> Option<Phrase> {
    believed(heard, allowed, ears, rule).filter(|phrase| verdict(heard, allowed, ears, phrase) == Verdict::Stands)
}

/// What speaks against a phrase that is believed, or nearly.
pub(super) fn verdict(heard: &Heard, allowed: &Allowed, ears: Ears, phrase: &Phrase) -> Verdict {
    let written = heard.written.as_ref().filter(|_| matches!(ears, Ears::Both | Ears::Own));
    let own = ears == Ears::Own && plainly_own(heard, allowed, phrase);
    let plain = own || plainly(phrase, &heard.hypothesis());
    match ears {
        Ears::Both | Ears::Own | Ears::VoskAlone => allowed.denying.verdict(phrase, &heard.text, written, plain),
        Ears::VoskNoRule | Ears::SecondAlone => Verdict::Stands,
    }
}

/// Is a phrase plainly in the user's own voice?
fn plainly_own(heard: &Heard, allowed: &Allowed, phrase: &Phrase) -> bool {
    let Some(ear) = Ear::new(heard, allowed, Ears::Own) else { return false };
    let at = ear.phrases.iter().position(|one| one.text == phrase.text);
    at.zip(ear.own.as_ref()).is_some_and(|(at, own)| OwnRule::IN_USE.plainly(at, own))
}

/// The phrase that the rule believes, number or not, with whether it is heard to its end.
pub(super) fn decided(heard: &Heard, allowed: &Allowed, ears: Ears, rule: &Rule) -> Option<(Phrase, bool)> {
    let ear = Ear::new(heard, allowed, ears)?;
    let phrases = &ear.phrases;
    let at = match ears {
        Ears::VoskNoRule => {
            let first = phrases.iter().position(|phrase| phrase.text == heard.text);
            first.filter(|at| phrases[*at].harm != Harm::Decoy)
        }
        _ => ear.decided(rule).phrase,
    }?;
    Some((phrases[at].clone(), ear.whole(at, rule)))
}

fn believed(heard: &Heard, allowed: &Allowed, ears: Ears, rule: &Rule) -> Option<Phrase> {
    decided(heard, allowed, ears, rule).filter(|(_, whole)| *whole).map(|(phrase, _)| phrase)
}

/// What was heard, as these ears take it.
struct Ear<'a> {
    allowed: &'a Allowed,
    phrases: Cow<'a, [Phrase]>,
    first: Hypothesis,
    second: Option<Judgement>,
    own: Option<Opinion>,
}

impl<'a> Ear<'a> {
    /// None if they have not heard anything.
    fn new(heard: &Heard, allowed: &'a Allowed, ears: Ears) -> Option<Self> {
        let phrases = allowed.offered(&heard.text);
        let judgement = || heard.judgement(&phrases);
        let (first, second) = match ears {
            Ears::VoskNoRule | Ears::VoskAlone => (heard.hypothesis(), None),
            Ears::Both | Ears::Own => (heard.hypothesis(), judgement()),
            Ears::SecondAlone => {
                // As if the first had heard the same.
                let text = heard.judged.as_ref()?.best.clone()?;
                (Hypothesis { text, confidence: 0.0 }, judgement())
            }
        };
        let own = heard.opinion(&phrases).filter(|_| ears == Ears::Own);
        Some(Self { allowed, phrases, first, second, own })
    }

    fn decided(&self, rule: &Rule) -> Decided {
        let own = self.own.as_ref().map(|own| (&OwnRule::IN_USE, own));
        rule.with_own(&self.phrases, &self.first, self.second.as_ref(), own)
    }

    fn whole(&self, at: usize, rule: &Rule) -> bool {
        whole(&self.phrases, at, &self.first.text, self.second.as_ref(), rule.number, self.allowed.open.as_deref())
    }

    fn may_be(&self, at: usize) -> bool {
        let best = self.second.as_ref().and_then(|judgement| judgement.best);
        near(&self.phrases, at, &self.first.text, best, self.allowed.open.as_deref())
    }
}

/// What is asked back where nothing is believed.
fn asked_back(heard: &Heard, allowed: &Allowed, ears: Ears, rule: &Rule) -> Option<Phrase> {
    if !ears.ask() {
        return None;
    }
    if let Some(phrase) = believed(heard, allowed, ears, rule) {
        return (verdict(heard, allowed, ears, &phrase) == Verdict::Doubtful).then_some(phrase);
    }
    let ear = Ear::new(heard, allowed, ears)?;
    let at = ear.decided(rule).nearly.filter(|at| ear.whole(*at, rule) || ear.may_be(*at))?;
    let phrase = ear.phrases[at].clone();
    (verdict(heard, allowed, ears, &phrase) != Verdict::Falls).then_some(phrase)
}

fn outcome(meant: &str, accepted: &[(&Heard, Phrase)], asked: Option<Phrase>, allowed: &Allowed) -> Outcome {
    let same = |phrase: &Phrase| allowed.same(meant, &phrase.text);
    match accepted {
        [] => Outcome::Missed(asked.as_ref().map(same)),
        [(heard, phrase)] if same(phrase) => Outcome::Right(heard.wait_ms + heard.thinking_ms),
        // Twice the right one is wrong as well: it acts twice.
        all => Outcome::Wrong(all.iter().map(|(_, phrase)| phrase.harm).max().unwrap_or(Harm::None)),
    }
}

/// Where a harm stands in the counts.
pub fn class(harm: Harm) -> usize {
    match harm {
        Harm::Decoy | Harm::None => 0,
        Harm::Moves => 1,
        Harm::Claims => 2,
    }
}
