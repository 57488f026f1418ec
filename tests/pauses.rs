//! When an utterance ends: the second listener is asked in the pause, and what both believe need not wait long; but nobody
//! is cut short who goes on after a pause.

#[path = "common/ears.rs"]
mod ears;

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use ears::{HUM, Second, listener, sound, speech};
use wrenchside::listen::{FRAME, RATE, Utterance};

/// What is heard of a second of silence behind this sound, in pieces of so many samples; and how often the second listener
/// was asked.
fn heard(sound_: &[i16], likes: bool, piece: usize) -> (Vec<Utterance>, usize) {
    let asked = Arc::new(AtomicUsize::new(0));
    let mut listener = listener(Some(Box::new(Second { likes, asked: asked.clone() })));
    let mut found = Vec::new();
    for piece in [sound_, &sound("", 1_000)].concat().chunks(piece) {
        let mut said = listener.push(piece).unwrap();
        while let Some(one) = said {
            found.push(one);
            said = listener.push(&[]).unwrap();
        }
    }
    (found, asked.load(Ordering::Relaxed))
}

fn phrases(said: &[Utterance]) -> Vec<Option<&str>> {
    said.iter().map(|one| one.phrase.as_deref()).collect()
}

/// Milliseconds from the end of this sound to the decision on it.
fn wait(sound: &[i16], likes: bool) -> u64 {
    let (said, _) = heard(sound, likes, FRAME);
    assert_eq!(said.len(), 1);
    (said[0].decided - sound.len() as u64) * 1_000 / u64::from(RATE)
}

#[test]
fn what_both_believe_in_the_pause_ends_sooner() {
    let (believed, doubted) = (wait(&speech("say again"), true), wait(&speech("say again"), false));
    assert!(believed < doubted && (90..=112).contains(&believed), "{believed} and {doubted} ms");
    let (believed, doubted) = (wait(&speech("go back"), true), wait(&speech("go back"), false));
    assert!(believed < doubted && (240..=280).contains(&believed), "it could go on: {believed} and {doubted} ms");
}

#[test]
fn it_is_asked_once_if_it_is_believed_and_again_at_the_end_if_not() {
    let (said, asked) = heard(&speech("say again"), true, FRAME);
    assert_eq!((phrases(&said), asked), (vec![Some("say again")], 1));
    assert!(said[0].judgement.as_ref().is_some_and(|judgement| judgement.best == Some(0)));
    let (said, asked) = heard(&speech("say again"), false, FRAME);
    assert_eq!((phrases(&said), asked), (vec![None], 2));
}

#[test]
fn who_goes_on_after_a_pause_is_not_cut_short() {
    for pause in [20, 80, 150, 220] {
        let sound_ = [speech("go back"), sound("", pause), speech("twice")].concat();
        let (said, _) = heard(&sound_, true, FRAME);
        assert_eq!(phrases(&said), [Some("go back twice")], "{pause} ms");
    }
    // Nothing is sure of half a phrase.
    let (said, _) = heard(&[speech("say"), sound("", 300), speech("again")].concat(), true, FRAME);
    assert_eq!(phrases(&said), [Some("say again")]);
}

#[test]
fn words_that_stand_in_a_noise_that_goes_on_end_sooner_if_both_believe_them() {
    for (text, sooner, at_last) in [("say again", 400, 700), ("go back", 700, 1_100)] {
        let sound_ = [speech(text), sound(HUM, 3_000)].concat();
        let until = |likes| {
            let (said, _) = heard(&sound_, likes, FRAME);
            assert_eq!(said[0].phrase.as_deref(), likes.then_some(text));
            (said[0].decided - speech(text).len() as u64) * 1_000 / u64::from(RATE)
        };
        // The last word stands from its beginning on, 250 ms before its end; sound is handed over in blocks.
        let close = |found: u64, meant: u64| found.abs_diff(meant - 250) <= 64;
        assert!(
            close(until(true), sooner) && close(until(false), at_last),
            "{text}: {}, {}",
            until(true),
            until(false)
        );
    }
}

#[test]
fn the_same_is_heard_whatever_pieces_the_sound_comes_in() {
    let sound_ = [
        speech("say again"),
        sound("", 500),
        speech("go back"),
        sound("", 150),
        speech("twice"),
        sound("", 700),
        speech("go"),
        sound(HUM, 200),
        speech("back"),
    ]
    .concat();
    for likes in [true, false] {
        let places = |piece| {
            let (said, asked) = heard(&sound_, likes, piece);
            (said.into_iter().map(|one| (one.phrase, one.began, one.ended, one.decided)).collect::<Vec<_>>(), asked)
        };
        let by_frame = places(FRAME);
        assert_eq!(by_frame.0.len(), 3);
        for piece in [1, 100, FRAME + 1, RATE as usize / 10, sound_.len()] {
            assert_eq!(places(piece), by_frame, "pieces of {piece}");
        }
    }
}
