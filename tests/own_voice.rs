//! What the user's own voice changes in a listener, and that without one nothing changes.

#[path = "common/ears.rs"]
mod ears;

use std::ops::Range;
use std::sync::Arc;

use ears::{Second, listener, sound, speech};
use wrenchside::listen::{
    Encoding, FRAME, Judge, Judgement, ListenError, Listener, Opinion, OwnRule, OwnVoice, Phrase, Scored, Utterance,
};

/// A second listener with an encoder: the loudness of each frame.
struct Encodes(Second);

impl Judge for Encodes {
    fn judge(&mut self, samples: &[f32], phrases: &[Phrase]) -> Result<Judgement, ListenError> {
        self.0.judge(samples, phrases)
    }
    fn encode(&mut self, samples: &[f32]) -> Result<Option<Encoding>, ListenError> {
        let states = samples.chunks(FRAME).map(|frame| frame.iter().fold(0.0f32, |most, s| most.max(*s))).collect();
        Ok(Some(Encoding { samples: samples.len(), width: 1, states }))
    }
}

/// Knows all phrases, and finds this one nearest. Sees to it that it is asked about the voice, and not the silence around it.
struct Nearest(&'static str);

impl OwnVoice for Nearest {
    fn hear(&self, encoding: &Encoding, voice: Range<usize>, phrases: &[Phrase]) -> Opinion {
        let each = encoding.samples / encoding.states.len();
        let loud = |at: usize| encoding.states[(at / each).min(encoding.states.len() - 1)] > 0.0;
        assert!(loud(voice.start + FRAME) && loud(voice.end - 2 * FRAME), "{voice:?} of {}", encoding.samples);
        let cost = |phrase: &Phrase| if phrase.text == self.0 { 0.1 } else { 0.9 };
        let score = |(at, phrase)| Scored { phrase: at, cost: cost(phrase), likeness: -0.2 };
        let mut scored: Vec<Scored> = phrases.iter().enumerate().map(score).collect();
        scored.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        Opinion { scored }
    }
}

fn hear(mut listener: Listener, text: &str) -> Vec<Utterance> {
    let mut said = Vec::new();
    let sound = [sound("", 500), speech(text), sound("", 1_500)].concat();
    for frame in sound.chunks(FRAME) {
        said.extend(listener.push(frame).unwrap());
    }
    said.extend(listener.finish().unwrap());
    said
}

fn with(likes: bool, own: Option<&'static str>, rule: OwnRule) -> Listener {
    let mut listener = listener(Some(Box::new(Encodes(Second { likes, asked: Arc::default() }))));
    listener.know(own.map(|text| (Arc::new(Nearest(text)) as Arc<dyn OwnVoice>, rule)));
    listener
}

/// What was done, and what is asked.
fn done(said: &[Utterance]) -> Vec<(Option<&str>, Option<&str>)> {
    said.iter().map(|one| (one.phrase.as_deref(), one.nearly.as_deref())).collect()
}

#[test]
fn what_sounds_nothing_like_the_user_is_asked_back() {
    let said = hear(with(true, Some("say again"), OwnRule::IN_USE), "go back");
    assert_eq!(done(&said), [(None, Some("go back"))]);
    let others = OwnRule { others: true, ..OwnRule::IN_USE };
    assert_eq!(done(&hear(with(true, Some("say again"), others), "go back")), [(Some("go back"), None)]);
    assert_eq!(done(&hear(with(true, Some("go back"), OwnRule::IN_USE), "go back")), [(Some("go back"), None)]);
    let harmless = hear(with(true, Some("go back"), OwnRule::IN_USE), "say again");
    assert_eq!(done(&harmless), [(Some("say again"), None)], "it does no harm");
}

#[test]
fn what_a_listener_doubts_passes_when_it_sounds_like_the_user_and_does_no_harm() {
    for (text, passes) in [("say again", true), ("go back", false)] {
        let before = hear(with(false, None, OwnRule::IN_USE), text);
        assert!(before.iter().all(|one| one.phrase.is_none()), "{before:?}");
        let said = hear(with(false, Some(text), OwnRule::IN_USE), text);
        // The second listener likes another phrase, and a move does not pass against it.
        assert_eq!(said.iter().any(|one| one.phrase.as_deref() == Some(text)), passes, "{said:?}");
    }
}

#[test]
fn without_a_profile_or_an_encoder_nothing_changes() {
    for text in ["go back", "say again", "go back twice", "go", "again back"] {
        for likes in [true, false] {
            let plain = || listener(Some(Box::new(Second { likes, asked: Arc::default() })));
            let strip = |said: Vec<Utterance>| -> Vec<Utterance> {
                said.into_iter().map(|one| Utterance { thinking: Default::default(), ..one }).collect()
            };
            let before = strip(hear(plain(), text));
            assert_eq!(strip(hear(with(likes, None, OwnRule::IN_USE), text)), before);
            let mut deaf = plain();
            deaf.know(Some((Arc::new(Nearest("go back")), OwnRule::IN_USE)));
            assert_eq!(strip(hear(deaf, text)), before);
        }
    }
}
