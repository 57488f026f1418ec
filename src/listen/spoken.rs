//! Where somebody speaks in a sound of which it is not asked what is said: a take that is being learnt.
//!
//! By the same voice activity and the same beginnings and ends as a command is heard by, so that a take and a command are cut
//! alike.

use std::ops::Range;

use super::activity::{Activity, Earshot, FRAME};
use super::endpoint::{Endpointer, Step};

/// The stretches of 16 kHz mono sound in which somebody speaks. What is shorter than a word is among them.
pub fn spoken(sound: &[i16]) -> Vec<Range<usize>> {
    let mut activity = Earshot::default();
    let mut endpointer = Endpointer::default();
    let mut found = Vec::new();
    let mut begin = 0;
    let mut position = 0;
    for frame in sound.as_chunks::<FRAME>().0 {
        position += FRAME;
        match endpointer.frame(activity.voice(frame)) {
            Step::Began(ago) => begin = position.saturating_sub(ago as usize * FRAME),
            Step::Ended(silence) | Step::Knock(silence) => {
                found.push(begin..position.saturating_sub(silence as usize * FRAME).max(begin));
            }
            Step::Quiet | Step::Going | Step::Paused(_) | Step::Standing(_) => {}
        }
    }
    if let Some(silence) = endpointer.cut() {
        found.push(begin..position.saturating_sub(silence as usize * FRAME).max(begin));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::listen::{RATE, read_sound};
    use std::path::Path;

    #[test]
    fn a_phrase_between_silences_is_one_stretch() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("audio-fixtures/clean/joe-what-torque.flac");
        let phrase = read_sound(&file).unwrap();
        let silence = vec![0i16; RATE as usize];
        let found = spoken(&[&silence[..], &phrase, &silence].concat());
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(found[0].start >= silence.len() - 4 * FRAME && found[0].end <= silence.len() + phrase.len());
        assert!(found[0].len() > RATE as usize / 3, "{found:?}");
        assert!(spoken(&silence).is_empty() && spoken(&[]).is_empty());
    }
}
