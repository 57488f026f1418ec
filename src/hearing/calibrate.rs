//! The rule that does best on what was played.
//!
//! What a phrase needs is looked for by its harm and by how vosk's words stand to it, each by itself, because each
//! stretch of speech belongs to one of these cases only. Of all thresholds on a grid those are taken that are worth most:
//! a command that is heard right counts one, and one that is done without being meant counts as many less as [`MISTAKEN`]
//! and [`FALSE`] say. Of thresholds worth the same the strictest are taken. A case that is worth nothing is never believed; nor is a
//! claim where vosk has heard another phrase, nor, where the decoder judges, one of which it has heard neither half nor what sounds
//! near, whatever either would be worth here. vosk's own confidence comes first;
//! what is asked of both where they heard the same is found on what that leaves over.
//!
//! A voice that said much must not outweigh a hundred people who said a few words each. So within each harm every person and
//! every synthetic voice weighs alike: what they say counts, heard right, so much that each has the same sum, and all together
//! one for each command, as if all weighed one. But no command counts more than [`HEAVIEST`], so that one recording does not
//! decide. What a mistake costs stays as it is, whoever it was made with. A number in a list of numbers alone is left out: no
//! session has such a list.

use super::moment::{Allowed, Moment};
use super::play::Played;
use super::set::Part;
use super::tally::class;
use super::trial::{Meant, Trial};
use crate::listen::{Harm, Judgement, NEVER, Needs, Phrase, Relation, Rule, Thresholds, Verdict, plainly, whole};
use std::collections::BTreeMap;

/// So many commands heard right are worth as much as one that is mistaken for another: what was understood is read back,
/// and somebody is there to hear it.
pub const MISTAKEN: i64 = 10;
/// And as one that nobody gave: a harmless one, a move, a claim.
pub const FALSE: [i64; 3] = [30, 60, 200];

/// So much at most counts a command heard right.
const HEAVIEST: i64 = 3;
/// Weights and costs are counted in parts of one, so that they are whole numbers.
const ONE: i64 = 1_000;

/// Less of vosk's confidence is never enough, by harm, however well it did here: what is heard with little of it is rare,
/// and a few recordings tell nothing.
const LEAST: [f32; 3] = [0.6, 0.95, 0.95];

/// Thresholds of the second listener that are tried, each from lax to strict.
#[derive(Debug, Clone, Copy)]
pub struct Grid {
    average: &'static [f32],
    over_noise: &'static [f32],
    margin: &'static [f32],
    /// Whether a claim is tried of which vosk has heard nothing.
    unheard: bool,
}

impl Grid {
    /// For moonshine's decoder.
    pub const DECODER: Grid = Grid {
        average: &[-4.0, -3.5, -3.0, -2.5, -2.0, -1.6, -1.2, -0.8, -0.5, -0.3],
        over_noise: &[2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0, 18.0, 22.0],
        margin: &[0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0],
        unheard: false,
    };
    /// For one that judges by phones. A word of three phones can be 6 ahead of anything at most, and what is behind it is
    /// something else.
    pub const PHONES: Grid = Grid {
        average: &[-4.0, -3.0, -2.5, -2.0, -1.6, -1.2, -1.0, -0.8, -0.6, -0.5, -0.4, -0.3, -0.2, -0.1],
        over_noise: &[-4.0, -2.0, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 15.0, 18.0, 22.0],
        unheard: true,
        ..Grid::DECODER
    };

    fn thresholds(self) -> impl Iterator<Item = Thresholds> {
        let pairs =
            self.average.iter().flat_map(move |average| self.over_noise.iter().map(move |over| (average, over)));
        pairs.flat_map(move |(average, over_noise)| {
            self.margin.iter().map(|margin| Thresholds { average: *average, over_noise: *over_noise, margin: *margin })
        })
    }
}

/// vosk's confidence, the last one out of reach.
const CONFIDENCE: [f32; 12] = [0.5, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 0.98, 1.0, 1.1];

/// Speech that a rule may believe.
struct Case<T> {
    evidence: T,
    /// What it is worth to believe it.
    worth: i64,
}

/// The best rule on a part of what was played, of those on a grid; what was set by hand, and how words sound, is that of `base`.
pub fn calibrate(played: &[Played], part: Part, moments: &[(Moment, Allowed)], grid: Grid, base: &Rule) -> Rule {
    let needs = |harm| needs(played, part, moments, harm, (grid, base));
    Rule { none: needs(Harm::None), moves: needs(Harm::Moves), claims: needs(Harm::Claims), ..base.clone() }
}

fn needs(
    played: &[Played],
    part: Part,
    moments: &[(Moment, Allowed)],
    harm: Harm,
    (grid, base): (Grid, &Rule),
) -> Needs {
    let mut alone = Vec::new();
    let mut sure = Vec::new();
    // With vosk's confidence, where it counts.
    let mut judged: Vec<(Relation, f32, Case<Judgement>)> = Vec::new();
    let chosen = |one: &&Played| one.trial.part == part && one.trial.moment != Moment::Numbers;
    let played: Vec<&Played> = played.iter().filter(chosen).collect();
    let weights = weights(&played, moments, harm);
    for one in played {
        let Some(allowed) = allowed(moments, &one.trial) else { continue };
        let worth = |said: &Phrase| match &one.trial.meant {
            Meant::Phrase(meant) if allowed.same(meant, &said.text) => {
                weights.get(one.trial.voice.as_str()).copied().unwrap_or(ONE)
            }
            Meant::Phrase(_) => -MISTAKEN * ONE,
            Meant::Nothing(_) => -FALSE[class(harm)] * ONE,
        };
        for heard in &one.heard {
            let phrases = &allowed.offered(&heard.text)[..];
            let first = phrases.iter().position(|phrase| phrase.text == heard.text);
            if let Some(first) = first.map(|at| &phrases[at]).filter(|first| first.harm == harm) {
                alone.push(Case { evidence: heard.confidence, worth: worth(first) });
            }
            let Some(judgement) = heard.judgement(phrases) else { continue };
            let unopposed = base.unopposed(phrases, first, judgement.best, &judgement);
            // What is stopped in any case is not the thresholds' to keep out.
            let stands = |at: usize| {
                let phrase = &phrases[at];
                let plain = plainly(phrase, &heard.hypothesis());
                whole(phrases, at, &heard.text, Some(&judgement), base.number, allowed.open.as_deref())
                    && allowed.denying.verdict(phrase, &heard.text, heard.written.as_ref(), plain) == Verdict::Stands
            };
            if let Some(first) = unopposed.filter(|at| phrases[*at].harm == harm && stands(*at)) {
                sure.push(Case { evidence: heard.confidence, worth: worth(&phrases[first]) });
            }
            let Some(at) = judgement.best.filter(|at| *at < phrases.len()) else { continue };
            let best = &phrases[at];
            if best.harm == harm && stands(at) {
                let relation = Relation::of(phrases, at, &heard.text, base.sounds.as_deref());
                let confidence = unopposed.map_or(0.0, |_| heard.confidence);
                judged.push((relation, confidence, Case { worth: worth(best), evidence: judgement }));
            }
        }
    }
    let enough = |cases: &[Case<f32>]| {
        let cases: Vec<&Case<f32>> = cases.iter().collect();
        let best = strictest(&cases, CONFIDENCE, |needed, confidence| confidence >= needed);
        best.map_or(f32::INFINITY, |best| best.max(LEAST[class(harm)]))
    };
    let sure = enough(&sure);
    let best = |relation: Relation| {
        let cases: Vec<&Case<Judgement>> = judged
            .iter()
            .filter(|(r, confidence, _)| *r == relation && (*r != Relation::Same || *confidence < sure))
            .map(|(.., case)| case)
            .collect();
        strictest(&cases, grid.thresholds(), |needed, judgement| needed.met_by(judgement)).unwrap_or(NEVER)
    };
    Needs {
        alone: enough(&alone),
        sure,
        same: best(Relation::Same),
        half: best(Relation::Half),
        near: best(Relation::Near),
        nothing: if harm == Harm::Claims && !grid.unheard { NEVER } else { best(Relation::Nothing) },
        another: if harm == Harm::Claims { NEVER } else { best(Relation::Another) },
    }
}

fn allowed<'a>(moments: &'a [(Moment, Allowed)], trial: &Trial) -> Option<&'a Allowed> {
    moments.iter().find(|(moment, _)| *moment == trial.moment).map(|(_, allowed)| allowed)
}

/// What a command of this harm counts for each speaker, heard right.
fn weights<'a>(played: &[&'a Played], moments: &[(Moment, Allowed)], harm: Harm) -> BTreeMap<&'a str, i64> {
    let mut said: BTreeMap<&str, i64> = BTreeMap::new();
    for one in played {
        let (Some(allowed), Meant::Phrase(meant)) = (allowed(moments, &one.trial), &one.trial.meant) else { continue };
        if allowed.offered(meant).iter().any(|phrase| phrase.text == *meant && phrase.harm == harm) {
            *said.entry(&one.trial.voice).or_default() += 1;
        }
    }
    even(&said)
}

/// The same sum for each speaker of so many commands, and one on average, but for those that would count too much.
fn even<'a>(said: &BTreeMap<&'a str, i64>) -> BTreeMap<&'a str, i64> {
    let (all, speakers) = (said.values().sum::<i64>(), said.len() as i64);
    said.iter().map(|(speaker, count)| (*speaker, (ONE * all / (speakers * count)).clamp(1, HEAVIEST * ONE))).collect()
}

/// The last of the thresholds worth most, from the laxest to the strictest; `None` if none is worth anything.
fn strictest<N, E>(
    cases: &[&Case<E>],
    thresholds: impl IntoIterator<Item = N>,
    met: impl Fn(&N, &E) -> bool,
) -> Option<N> {
    let mut best = None;
    let mut most = 1;
    for needed in thresholds {
        let all: i64 = cases.iter().filter(|case| met(&needed, &case.evidence)).map(|case| case.worth).sum();
        if all >= most {
            most = all;
            best = Some(needed);
        }
    }
    best
}

/// The rule as `src/listen/decide/numbers.rs` writes it.
pub fn written(rule: &Rule) -> String {
    let number = |value: f32| if value.is_finite() { format!("{value:?}") } else { "f32::INFINITY".into() };
    let thresholds = |needed: &Thresholds| {
        if *needed == NEVER {
            return "NEVER".to_owned();
        }
        format!("needs({}, {}, {})", number(needed.average), number(needed.over_noise), number(needed.margin))
    };
    let mut text = String::new();
    for (name, needs) in [("none", &rule.none), ("moves", &rule.moves), ("claims", &rule.claims)] {
        let (alone, sure) = (number(needs.alone), number(needs.sure));
        text += &format!("{name}: Needs {{\n    alone: {alone},\n    sure: {sure},\n");
        let columns = [
            ("same", needs.same),
            ("half", needs.half),
            ("near", needs.near),
            ("nothing", needs.nothing),
            ("another", needs.another),
        ];
        for (name, needed) in columns {
            text += &format!("    {name}: {},\n", thresholds(&needed));
        }
        text += "},\n";
    }
    text
}

#[cfg(test)]
mod tests {
    use super::super::play::{Heard, Judged};
    use super::super::trial::{Stretch, Way};
    use super::*;
    use crate::dialogue::Language;
    use crate::listen::{Lexicon, Lost};
    use std::sync::Arc;

    fn best(of: &[(f32, i64)]) -> Option<f32> {
        let cases: Vec<Case<f32>> = of.iter().map(|&(evidence, worth)| Case { evidence, worth }).collect();
        strictest(&cases.iter().collect::<Vec<_>>(), CONFIDENCE, |needed, confidence| confidence >= needed)
    }

    #[test]
    fn a_false_one_outweighs_as_many_right_ones_as_it_costs() {
        let heard = |cost: i64| [(0.62, 1), (0.72, -cost), (0.9, 1), (0.9, 1), (1.0, 1)];
        // The one right below the false one is not worth it; without a cost of the false one it is.
        assert_eq!(best(&heard(5)), Some(0.9));
        assert_eq!(best(&heard(0)), Some(0.6));
        assert_eq!(best(&[(1.0, 1), (1.0, -5)]), None);
        assert_eq!(best(&[]), None);
    }

    /// "Eight" that comes out as "it", and talk that comes out as that, too, and is less like it to the second.
    #[test]
    fn what_sounds_near_is_found_by_itself_and_with_a_lexicon_only() {
        let moments = vec![(Moment::Bare, Moment::Bare.allowed(&Language::english()))];
        let played = |meant: Meant, heard: &str, average: f32| {
            let (way, clips) = (Way::Plain, vec![0]);
            let (voice, person) = (String::from("p"), Some(String::from("sc")));
            let (part, moment) = (Part::Tune, Moment::Bare);
            let trial = Trial { part, moment, meant, voice, person, way, level: None, noise: None, clips, number: 0 };
            let judged = Some(Judged { best: Some("eight".into()), average, over_noise: 7.0, margin: 4.0 });
            let (written, own, wait_ms, thinking_ms) = (None, None, 0.0, 0.0);
            let text = heard.into();
            let heard = vec![Heard { text, confidence: 0.4, judged, written, own, wait_ms, thinking_ms }];
            Played { trial, heard, lost: Lost::default(), seconds: 1.0, computing: 0.0 }
        };
        let eight = || Meant::Phrase("eight".into());
        let all = [
            played(eight(), "it", -0.3),
            played(eight(), "it", -0.7),
            played(Meant::Nothing(Stretch::Talk), "it", -1.3),
            played(eight(), "", -0.1),
        ];
        let lexicon = Arc::new(Lexicon::parse("eight EY T\nit IH T").unwrap());
        let found = |grid, base: Rule| calibrate(&all, Part::Tune, &moments, grid, &base);
        let rule = found(Grid::DECODER, Rule::by_decoder().sounding(Some(lexicon.clone())));
        assert_eq!(rule.claims.near, Thresholds { average: -0.8, over_noise: 6.0, margin: 4.0 });
        assert_eq!((rule.claims.half, rule.claims.nothing), (NEVER, NEVER));
        assert!(written(&rule).contains("near: needs(-0.8, 6.0, 4.0),"), "{}", written(&rule));
        assert_eq!((rule.liked, rule.sounds), (Rule::by_decoder().liked, Some(lexicon.clone())));
        let rule = found(Grid::PHONES, Rule::by_phones().sounding(Some(lexicon)));
        assert_eq!(rule.claims.near, Thresholds { average: -0.8, over_noise: 7.0, margin: 4.0 });
        // Of which vosk has heard nothing at all.
        assert_eq!(rule.claims.nothing, Thresholds { average: -0.1, over_noise: 7.0, margin: 4.0 });
        assert_eq!(rule.plain, Rule::by_phones().plain);
        // Without a lexicon the talk and the two commands are in one case with what is like nothing.
        let rule = found(Grid::PHONES, Rule::by_phones());
        assert_eq!((rule.claims.near, rule.claims.nothing.average), (NEVER, -0.8));
        assert_eq!(found(Grid::DECODER, Rule::by_decoder()).claims.near, NEVER);
    }

    #[test]
    fn every_speaker_weighs_alike_but_no_single_word_decides() {
        // Four speakers, 400 commands: 100 each would be their share.
        let weights = even(&BTreeMap::from([("voice", 290), ("much", 60), ("some", 45), ("once", 5)]));
        assert_eq!(weights["voice"], ONE * 100 / 290);
        assert_eq!((weights["much"], weights["some"]), (1_666, 2_222));
        assert_eq!(weights["once"], HEAVIEST * ONE, "not twenty");
        // Alike from the start, nothing changes.
        assert_eq!(even(&BTreeMap::from([("a", 7), ("b", 7)])), BTreeMap::from([("a", ONE), ("b", ONE)]));
        assert!(even(&BTreeMap::new()).is_empty());
    }

    #[test]
    fn the_grid_goes_from_lax_to_strict_in_each_direction() {
        for grid in [Grid::DECODER, Grid::PHONES] {
            for steps in [grid.average, grid.over_noise, grid.margin, &CONFIDENCE] {
                assert!(steps.is_sorted());
            }
            let all = grid.average.len() * grid.over_noise.len() * grid.margin.len();
            assert_eq!(grid.thresholds().count(), all);
        }
    }

    #[test]
    fn a_rule_is_written_as_the_source_has_it() {
        let text = written(&Rule::by_decoder());
        assert!(text.contains("moves: Needs {\n    alone: "), "{text}");
        assert!(text.contains("another: NEVER,\n}") && text.contains("needs(-"), "{text}");
    }
}
