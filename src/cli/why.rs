//! What was made of an utterance, and why it was not taken, in words for whoever tries out hearing.

use crate::dialogue::{Asks, Language};
use crate::job::Expect;
use crate::listen::{Denying, Fault, Lost, Open, Phrase, Rule, Utterance, Why, why};
use crate::session::{denying, phrases_for, readings, without_adapters};
use std::sync::Arc;

/// What may be said at a moment.
pub struct Moment {
    pub phrases: Vec<Phrase>,
    pub open: Arc<dyn Open>,
    denying: Denying,
}

impl Moment {
    /// What may be said while this is expected, and what asks for values.
    pub fn new(language: &Language, expect: &Expect, adapters: bool, asks: &Asks) -> Moment {
        let grammar = language.grammar(expect, true);
        let grammar = if adapters { grammar } else { without_adapters(grammar) };
        let grammar = language.with_values(grammar, asks, &[], false);
        let phrases = phrases_for(&grammar, expect);
        Moment { phrases, open: readings(grammar), denying: denying(language) }
    }

    /// Why it was not taken, by this rule, behind what was heard; nothing if it was.
    pub fn why_not(&self, said: &Utterance, rule: &Rule) -> Option<String> {
        let told = told(&why(said, &self.phrases, Some(&*self.open), &self.denying, rule)?);
        Some(match &said.nearly {
            Some(nearly) => format!("{told}; in a job it would be asked back: \"{nearly}\""),
            None => told,
        })
    }
}

fn told(why: &Why) -> String {
    match why {
        Why::NoWords => "a voice, but no words in it".into(),
        Why::Decoy => "near to a command, and none".into(),
        Why::NotNow => "nothing that can be said now".into(),
        Why::Unsure { confidence, needed } => {
            format!("the recogniser is not sure enough ({confidence:.2}, needs {needed:.2})")
        }
        Why::Another { best } => format!("the second listener hears \"{best}\""),
        Why::LikeNoise { lead, needed } => {
            format!("to the second listener it may be noise (lead {lead:.1}, needs {needed:.1})")
        }
        Why::TooClose { lead, needed } => {
            format!("to the second listener another phrase is as likely (lead {lead:.1}, needs {needed:.1})")
        }
        Why::Unlike { average, needed } => {
            format!("to the second listener it is not like enough ({average:.1}, needs {needed:.1})")
        }
        Why::Denied { text } => format!("it is denied: \"{text}\""),
        Why::Else { text } if text.is_empty() => "the second listener writes nothing of it".into(),
        Why::Else { text } => format!("the second listener writes something else: \"{text}\""),
        Why::NotYourVoice => "it sounds nothing like your own voice saying it".into(),
    }
}

/// What is wrong with the sound, and what helps.
pub fn fault(fault: Fault) -> &'static str {
    match fault {
        Fault::DeadSilence => "no sound at all: is the microphone muted?",
        Fault::Faint => "too faint: speak up, move nearer, or turn the microphone up",
        Fault::Clipped => "cut off at full scale: turn the microphone down",
        Fault::Hum => "hardly louder than the noise beside it: move nearer, or away from the noise",
    }
}

/// Sound that came to nothing, if there was any.
pub fn lost(lost: &Lost) -> Option<String> {
    let count = |count: usize, what: &str| (count > 0).then(|| format!("{count} {what}"));
    let all = [
        count(lost.knocks, "taken for a knock"),
        count(lost.background, "from further away than who spoke before"),
        count(lost.wordless, "without words"),
    ];
    let all: Vec<String> = all.into_iter().flatten().collect();
    (!all.is_empty()).then(|| all.join(", "))
}
