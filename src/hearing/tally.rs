//! What a rule would have done with what was heard, counted.
//!
//! Knows trials and rules for accepting; not sound.

use super::moment::{Allowed, Moment};
use super::noise::Noise;
use super::play::{Heard, Played};
use super::set::Part;
use super::trial::{Meant, Stretch};
use crate::listen::{Harm, Hypothesis, Rule, Verdict, nearly, plainly};
use crate::replay::percentile;
use serde::Serialize;
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
}

impl Ears {
    /// All of them.
    pub const ALL: [Ears; 4] = [Ears::VoskNoRule, Ears::VoskAlone, Ears::SecondAlone, Ears::Both];

    /// Could they ask back? Who believes whatever vosk says has nothing to ask, and the second alone is nobody who could.
    pub fn ask(self) -> bool {
        matches!(self, Ears::VoskAlone | Ears::Both)
    }

    /// Their name in tables.
    pub fn name(self) -> &'static str {
        match self {
            Ears::VoskNoRule => "vosk, no rule",
            Ears::VoskAlone => "vosk alone",
            Ears::SecondAlone => "second alone",
            Ears::Both => "both",
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
pub type Where = (Moment, Stretch, Option<Noise>, Option<i32>);

/// Everything that is told of one part of the voices and one pair of ears.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    /// By level of noise.
    pub levels: BTreeMap<Option<i32>, Count>,
    /// By voice and level.
    pub voices: BTreeMap<(String, Option<i32>), Count>,
    /// By noise and level.
    pub noises: BTreeMap<(Noise, i32), Count>,
    /// By moment, in a quiet room.
    pub moments: BTreeMap<Moment, Count>,
    /// In a quiet room, by whether a longer phrase begins with the one that was said, as readings with a unit do.
    pub could_go_on: BTreeMap<bool, Count>,
    /// What is heard as what, in a quiet room and at 10 dB.
    pub mistaken: BTreeMap<(String, String), usize>,
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
pub fn tally(played: &[Played], part: Part, moments: &[(Moment, Allowed)], ears: Ears, rule: &Rule) -> Tally {
    let mut tally = Tally::default();
    for one in played.iter().filter(|one| one.trial.part == part) {
        let Some((_, allowed)) = moments.iter().find(|(moment, _)| *moment == one.trial.moment) else { continue };
        let accepted: Vec<(&Heard, usize)> =
            one.heard.iter().filter_map(|heard| Some((heard, accept(heard, allowed, ears, rule)?))).collect();
        let mut asked = one.heard.iter().filter_map(|heard| asked_back(heard, allowed, ears, rule));
        let trial = &one.trial;
        match &trial.meant {
            Meant::Phrase(meant) => {
                let outcome = outcome(meant, &accepted, asked.next(), allowed);
                tally.levels.entry(trial.level).or_default().add(&outcome);
                tally.voices.entry((trial.voice.clone(), trial.level)).or_default().add(&outcome);
                if let (Some(noise), Some(level)) = (trial.noise, trial.level) {
                    tally.noises.entry((noise, level)).or_default().add(&outcome);
                }
                if trial.level.is_none() {
                    tally.moments.entry(trial.moment).or_default().add(&outcome);
                    tally.could_go_on.entry(allowed.could_go_on(meant)).or_default().add(&outcome);
                }
                if matches!(outcome, Outcome::Wrong(_)) && trial.level.is_none_or(|level| level >= 10) {
                    let heard: Vec<&str> = accepted.iter().map(|(_, at)| &allowed.phrases[*at].text[..]).collect();
                    *tally.mistaken.entry((meant.clone(), heard.join(" + "))).or_default() += 1;
                }
            }
            Meant::Nothing(stretch) => {
                let place = (trial.moment, *stretch, trial.noise.filter(|_| trial.level.is_none()), trial.level);
                let nothing = tally.nothing.entry(place).or_default();
                nothing.hours += one.seconds / 3_600.0;
                nothing.of += 1;
                nothing.asked += asked.count();
                for (_, at) in accepted {
                    let phrase = &allowed.phrases[at];
                    if *stretch == Stretch::Denial && allowed.is_not_done(&phrase.text) {
                        nothing.not_done += 1;
                        continue;
                    }
                    nothing.actions[class(phrase.harm)] += 1;
                    *nothing.phrases.entry(phrase.text.clone()).or_default() += 1;
                }
            }
        }
    }
    tally
}

fn accept(heard: &Heard, allowed: &Allowed, ears: Ears, rule: &Rule) -> Option<usize> {
    believed(heard, allowed, ears, rule).filter(|&at| verdict(heard, allowed, ears, at) == Verdict::Stands)
}

/// What speaks against a phrase that is believed, or nearly.
fn verdict(heard: &Heard, allowed: &Allowed, ears: Ears, at: usize) -> Verdict {
    let written = heard.written.as_ref().filter(|_| ears == Ears::Both);
    let phrase = &allowed.phrases[at];
    let plain = plainly(phrase, &heard.hypothesis());
    match ears {
        Ears::Both | Ears::VoskAlone => allowed.denying.verdict(phrase, &heard.text, written, plain),
        Ears::VoskNoRule | Ears::SecondAlone => Verdict::Stands,
    }
}

fn believed(heard: &Heard, allowed: &Allowed, ears: Ears, rule: &Rule) -> Option<usize> {
    let phrases = &allowed.phrases;
    let judgement = heard.judgement(phrases);
    match ears {
        Ears::VoskNoRule => {
            phrases.iter().position(|phrase| phrase.text == heard.text).filter(|at| phrases[*at].harm != Harm::Decoy)
        }
        Ears::VoskAlone => rule.decide(phrases, &heard.hypothesis(), None),
        Ears::Both => rule.decide(phrases, &heard.hypothesis(), judgement.as_ref()),
        Ears::SecondAlone => {
            // As if the first had heard the same.
            let text = heard.judged.as_ref()?.best.clone()?;
            rule.decide(phrases, &Hypothesis { text, confidence: 0.0 }, Some(&judgement?))
        }
    }
}

/// What is asked back where nothing is believed.
fn asked_back(heard: &Heard, allowed: &Allowed, ears: Ears, rule: &Rule) -> Option<usize> {
    if !ears.ask() {
        return None;
    }
    if let Some(at) = believed(heard, allowed, ears, rule) {
        return (verdict(heard, allowed, ears, at) == Verdict::Doubtful).then_some(at);
    }
    let judgement = heard.judgement(&allowed.phrases).filter(|_| ears == Ears::Both);
    let nearly = nearly(&allowed.phrases, &heard.hypothesis(), judgement.as_ref());
    nearly.filter(|&at| verdict(heard, allowed, ears, at) != Verdict::Falls)
}

fn outcome(meant: &str, accepted: &[(&Heard, usize)], asked: Option<usize>, allowed: &Allowed) -> Outcome {
    let same = |at: usize| allowed.same(meant, &allowed.phrases[at].text);
    match accepted {
        [] => Outcome::Missed(asked.map(same)),
        [(heard, at)] if same(*at) => Outcome::Right(heard.wait_ms + heard.thinking_ms),
        // Twice the right one is wrong as well: it acts twice.
        all => Outcome::Wrong(all.iter().map(|(_, at)| allowed.phrases[*at].harm).max().unwrap_or(Harm::None)),
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
