//! Why a stretch of speech was not taken for a phrase, for whoever tries a microphone or a recording.
//!
//! Goes by the same rule as the decision itself, after it, and changes nothing. Knows phrases and what the listeners made of
//! the sound; which words it is told in is for others.

use super::decide::Rule;
use super::{Denying, Harm, Hypothesis, Judgement, Open, Phrase, Utterance, Verdict, number, plainly};

/// Why it was not taken.
#[derive(Debug, Clone, PartialEq)]
pub enum Why {
    /// A voice, and no words in it.
    NoWords,
    /// Words that stand in the list only so that they are not taken for others.
    Decoy,
    /// Words that are no phrase at this moment.
    NotNow,
    /// The first listener is less sure of the words than it must be.
    Unsure {
        /// How sure it is, 0 to 1.
        confidence: f32,
        /// How sure it must be.
        needed: f32,
    },
    /// The second listener likes another phrase better.
    Another {
        /// That phrase.
        best: String,
    },
    /// To the second listener it may as well have been noise.
    LikeNoise {
        /// How far the phrase leads.
        lead: f32,
        /// How far it must.
        needed: f32,
    },
    /// To the second listener another phrase is nearly as likely.
    TooClose {
        /// How far the phrase leads.
        lead: f32,
        /// How far it must.
        needed: f32,
    },
    /// To the second listener it does not sound enough like the phrase.
    Unlike {
        /// How likely it finds it, a token.
        average: f32,
        /// How likely it must.
        needed: f32,
    },
    /// A word beside it denies it.
    Denied {
        /// What was heard or written.
        text: String,
    },
    /// The second listener, free to write what it hears, writes something else.
    Else {
        /// What it writes.
        text: String,
    },
    /// It sounds nothing like the user's own voice saying it.
    NotYourVoice,
}

/// Why `said` was not taken while these phrases could be said, by the rule that it was decided by; nothing if it was.
pub fn why(
    said: &Utterance,
    phrases: &[Phrase],
    open: Option<&dyn Open>,
    denying: &Denying,
    rule: &Rule,
) -> Option<Why> {
    if said.phrase.is_some() {
        return None;
    }
    let heard = &said.heard;
    if heard.text.is_empty() {
        return Some(Why::NoWords);
    }
    let offered = number::offered(phrases, open, &heard.text);
    let first = offered.iter().find(|phrase| phrase.text == heard.text);
    let best = said.judgement.as_ref().and_then(|judgement| offered.get(judgement.best?));
    if let Some(phrase) = said.nearly.as_ref().and_then(|text| offered.iter().find(|p| p.text == *text)).or(first)
        && let Some(why) = stopped(phrase, said, denying)
    {
        return Some(why);
    }
    let Some(first) = first else { return Some(Why::NotNow) };
    let at = offered.iter().position(|phrase| phrase.text == first.text)?;
    if first.harm == Harm::Decoy {
        return Some(Why::Decoy);
    }
    let needs = rule.needs(first.harm)?;
    let Some(judgement) = &said.judgement else {
        return Some(unsure(heard, needs.alone));
    };
    if said.own.is_some() && rule.decide(&offered, heard, Some(judgement)).is_some() {
        return Some(Why::NotYourVoice);
    }
    match best {
        Some(best) if best.text != first.text => Some(Why::Another { best: best.text.clone() }),
        _ if !number::whole(&offered, at, &heard.text, Some(judgement), rule.number, open) => {
            Some(Why::TooClose { lead: judgement.margin, needed: rule.number })
        }
        _ => Some(short(judgement, &needs.same).unwrap_or_else(|| unsure(heard, needs.sure))),
    }
}

fn unsure(heard: &Hypothesis, needed: f32) -> Why {
    Why::Unsure { confidence: heard.confidence, needed }
}

/// What words beside it, or freely written, have against a phrase.
fn stopped(phrase: &Phrase, said: &Utterance, denying: &Denying) -> Option<Why> {
    let written = said.written.as_ref();
    let verdict = denying.verdict(phrase, &said.heard.text, written, plainly(phrase, &said.heard));
    if verdict == Verdict::Stands {
        return None;
    }
    let of = |text: &str| denying.denies(&phrase.text, text).then(|| Why::Denied { text: text.to_owned() });
    let text = written.map_or("", |written| &written.text);
    of(&said.heard.text).or_else(|| of(text)).or(Some(Why::Else { text: text.to_owned() }))
}

/// Where the second listener's opinion falls short of what it takes.
fn short(judgement: &Judgement, needed: &super::Thresholds) -> Option<Why> {
    let Judgement { average, over_noise, margin, .. } = *judgement;
    match () {
        () if over_noise < needed.over_noise => Some(Why::LikeNoise { lead: over_noise, needed: needed.over_noise }),
        () if margin < needed.margin => Some(Why::TooClose { lead: margin, needed: needed.margin }),
        () if average < needed.average => Some(Why::Unlike { average, needed: needed.average }),
        () => None,
    }
}

#[cfg(test)]
mod tests {
    use super::super::Written;
    use super::*;

    fn phrases() -> Vec<Phrase> {
        let of = |text: &str, harm| Phrase { text: text.into(), harm };
        vec![of("that one is done", Harm::Claims), of("next step", Harm::Claims), of("that one", Harm::Decoy)]
    }

    fn heard(text: &str, confidence: f32) -> Utterance {
        Utterance {
            phrase: None,
            nearly: None,
            heard: Hypothesis { text: text.into(), confidence },
            judgement: None,
            written: None,
            own: None,
            began: 0,
            ended: 0,
            decided: 0,
            thinking: std::time::Duration::ZERO,
        }
    }

    fn judged(text: &str, best: usize, [average, over_noise, margin]: [f32; 3]) -> Utterance {
        let judgement = Some(Judgement { best: Some(best), average, over_noise, margin });
        Utterance { judgement, ..heard(text, 0.7) }
    }

    fn told(said: &Utterance) -> Option<Why> {
        why(said, &phrases(), None, &Denying::new(&["not".into()], &["n't".into()]), &Rule::by_decoder())
    }

    #[test]
    fn each_reason_is_told_for_what_it_is() {
        assert_eq!(told(&Utterance { phrase: Some("next step".into()), ..heard("next step", 1.0) }), None);
        assert_eq!(told(&heard("", 0.0)), Some(Why::NoWords));
        assert_eq!(told(&heard("the boat is in the road", 0.9)), Some(Why::NotNow));
        assert_eq!(told(&heard("that one", 1.0)), Some(Why::Decoy));
        assert_eq!(told(&heard("next step", 0.7)), Some(Why::Unsure { confidence: 0.7, needed: 1.0 }));
        let good = [0.0, 99.0, 99.0];
        assert_eq!(told(&judged("next step", 0, good)), Some(Why::Another { best: "that one is done".into() }));
        assert!(matches!(told(&judged("next step", 1, [0.0, 1.0, 99.0])), Some(Why::LikeNoise { lead: 1.0, .. })));
        assert!(matches!(told(&judged("next step", 1, [0.0, 99.0, 0.1])), Some(Why::TooClose { .. })));
        assert!(matches!(told(&judged("next step", 1, [-9.0, 99.0, 99.0])), Some(Why::Unlike { .. })));
    }

    #[test]
    fn what_is_written_freely_stops_a_phrase_and_is_told() {
        let written = |text: &str| Utterance {
            written: Some(Written { text: text.into(), ahead: 20.0 }),
            ..judged("that one is done", 0, [0.0, 99.0, 99.0])
        };
        let denied = "That one isn't done.";
        assert_eq!(told(&written(denied)), Some(Why::Denied { text: denied.into() }));
        let other = "The boat is in the road.";
        assert_eq!(told(&written(other)), Some(Why::Else { text: other.into() }));
    }
}
