//! What is in the background: the words of a radio are fainter than those of the person who speaks into the microphone.
//!
//! Three things follow. Sound that has fallen back to what the room was like before is silence, whatever voices are in it, and
//! is turned down, so that an utterance can end beside a radio ([`Background::frame`]). Of the words that were heard, those well
//! below all words of a phrase are not the speaker's ([`standing_out`]). And what comes right after a command, much fainter
//! than it, is no other command ([`Background::fainter`]).
//!
//! Knows levels; not words as such, and not whether a sound is a voice. Levels are in dB of the mean square of the sound
//! after a pre-emphasis `x[n] - 0.97 x[n-1]`, because what is low and loud in a workshop says little about voices. The limits
//! were chosen on the voices that may be tuned on (`docs/hearing.md`).

use std::ops::Range;

use super::activity::FRAME;
use super::{Word, text};

/// Of the pre-emphasis.
const EMPHASIS: f32 = 0.97;
/// Frames that the level of the room is the mean of: 1.5 s.
const ROOM: f32 = 94.0;
/// A voice that rises so far above the room stands out.
const STANDS_OUT: f32 = 15.0;
/// What is so far below the loudest of the voice, and no further above the room, is of the room.
const BELOW: f32 = 12.0;
const ABOVE_ROOM: f32 = 12.0;
/// The loudest is what so many frames in a row reach: a click is not a voice.
const HELD: usize = 4;
/// Frames in a row that must be of the room before they count: weak sounds within words are shorter. 144 ms.
const FALLEN_BACK: u32 = 9;
/// The room is turned down to this part, 20 dB.
const TURNED_DOWN: f32 = 0.1;
/// All other words must be so far below the faintest of a phrase for it to be told from them.
const GAP: f32 = 4.0;
/// What comes within so many frames of a command (3 s), and whose loudest is so far below the loudest of that, is not the
/// speaker's either, unless it stands out.
const SOON: u32 = 188;
const FAINTER: f32 = 8.0;

/// Levels of the room and of the voice that is going on.
#[derive(Debug, Default)]
pub(super) struct Background {
    /// The last sample of the frame before.
    last: f32,
    /// Mean level of the room, and of how many frames.
    room: f32,
    learnt: f32,
    /// The last levels of the utterance that goes on.
    recent: [f32; HELD],
    /// Its loudest.
    loudest: f32,
    /// Frames of the room in a row.
    back: u32,
    /// What the end of the last frame was turned down to.
    gain: Option<f32>,
    /// The loudest of the last command, and the frames since it was one.
    command: Option<(f32, u32)>,
}

impl Background {
    /// Takes the next frame, and turns it down if it is of the room while an utterance goes on. Says whether it is.
    pub(super) fn frame(&mut self, frame: &mut [i16; FRAME], speaking: bool) -> bool {
        let level = self.level(frame);
        self.command = self.command.map(|(loudest, ago)| (loudest, ago + 1)).filter(|(_, ago)| *ago <= SOON);
        if speaking {
            self.recent.rotate_left(1);
            self.recent[HELD - 1] = level;
            self.loudest = self.loudest.max(self.recent.iter().copied().fold(f32::INFINITY, f32::min));
        } else {
            self.recent = [0.0; HELD];
            self.loudest = 0.0;
        }
        let stands_out = self.loudest >= self.room();
        if !stands_out {
            self.learnt = (self.learnt + 1.0).min(ROOM);
            self.room += (level - self.room) / self.learnt;
        }
        let of_the_room = stands_out && level < self.loudest - BELOW && level < self.room + ABOVE_ROOM;
        self.back = if of_the_room { self.back + 1 } else { 0 };
        let fallen_back = self.back > FALLEN_BACK;
        self.turn(frame, if fallen_back { TURNED_DOWN } else { 1.0 });
        fallen_back
    }

    /// The utterance that goes on, or has just ended, is a command.
    pub(super) fn commanded(&mut self) {
        self.command = Some((self.loudest, 0));
    }

    /// Is it too faint to be from who has just given a command? In a room that is quiet nobody is: there it is another person, or
    /// the same with a lower voice.
    pub(super) fn fainter(&self) -> bool {
        self.loudest < self.room() && self.command.is_some_and(|(command, _)| self.loudest < command - FAINTER)
    }

    /// The level from which on a voice stands out from the room.
    pub(super) fn room(&self) -> f32 {
        self.room + STANDS_OUT
    }

    /// In dB, 0 at the least.
    fn level(&mut self, frame: &[i16; FRAME]) -> f32 {
        let before = std::mem::replace(&mut self.last, f32::from(frame[FRAME - 1]));
        level(before, frame)
    }

    /// From the last frame's gain to this one's, over the frame, so that it does not click.
    fn turn(&mut self, frame: &mut [i16; FRAME], gain: f32) {
        let from = self.gain.replace(gain).unwrap_or(gain);
        if from == 1.0 && gain == 1.0 {
            return;
        }
        for (at, sample) in frame.iter_mut().enumerate() {
            let part = (at + 1) as f32 / FRAME as f32;
            *sample = (f32::from(*sample) * (from + part * (gain - from))) as i16;
        }
    }
}

/// Level of these samples in dB, 0 at the least; `before` is the sample before them.
fn level(before: f32, samples: &[i16]) -> f32 {
    let mut last = before;
    let mut power = 0.0;
    for &sample in samples {
        let sample = f32::from(sample);
        power += f64::from(sample - EMPHASIS * last).powi(2);
        last = sample;
    }
    (10.0 * (power / samples.len().max(1) as f64).max(1.0).log10()) as f32
}

/// The longest run of words, not all of them, that is a phrase and stands out from all the others; in this sound. The others
/// must lie below `room`: what is louder is the same person's, who speaks some words louder than others. `is_phrase` is also
/// told whether words follow.
pub(super) fn standing_out(
    words: &[Word],
    sound: &[i16],
    room: f32,
    is_phrase: impl Fn(&str, bool) -> bool,
) -> Option<Range<usize>> {
    let levels: Vec<f32> = words.iter().map(|word| level_of(word, sound)).collect();
    let lowest = |of: &[f32]| of.iter().copied().fold(f32::INFINITY, f32::min);
    let highest = |of: &[f32]| of.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let runs = (1..words.len()).rev().flat_map(|many| (0..=words.len() - many).map(move |at| at..at + many));
    runs.into_iter().find(|run| {
        let others = highest(&levels[..run.start]).max(highest(&levels[run.end..]));
        others < room
            && lowest(&levels[run.clone()]) >= others + GAP
            && is_phrase(&text(&words[run.clone()]), run.end < words.len())
    })
}

fn level_of(word: &Word, sound: &[i16]) -> f32 {
    let ended = word.ended.min(sound.len());
    let began = word.began.min(ended);
    level(sound.get(began.wrapping_sub(1)).copied().map_or(0.0, f32::from), &sound[began..ended])
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Noise of an amplitude, from a seed.
    fn noise(amplitude: f32, samples: usize, seed: u32) -> Vec<i16> {
        let mut state = seed.wrapping_mul(2_654_435_761).wrapping_add(1);
        let mut next = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 16) as f32 / 32_768.0 - 1.0
        };
        (0..samples).map(|_| (next() * amplitude) as i16).collect()
    }

    /// How many frames of it are of the room, and what becomes of it.
    fn hear(background: &mut Background, sound: &[i16], speaking: bool) -> (usize, Vec<i16>) {
        let mut of_the_room = 0;
        let mut heard = Vec::new();
        for frame in sound.as_chunks::<FRAME>().0 {
            let mut frame = *frame;
            of_the_room += usize::from(background.frame(&mut frame, speaking));
            heard.extend(frame);
        }
        (of_the_room, heard)
    }

    fn times(db: f32) -> f32 {
        10f32.powf(db / 20.0)
    }

    #[test]
    fn what_falls_back_to_the_room_is_turned_down() {
        let mut background = Background::default();
        let room = noise(300.0, 60 * FRAME, 1);
        assert_eq!(hear(&mut background, &room, false), (0, room.clone()));
        let voice = noise(300.0 * times(20.0), 40 * FRAME, 2);
        assert_eq!(hear(&mut background, &voice, true), (0, voice.clone()));
        let (of_the_room, heard) = hear(&mut background, &room, true);
        assert_eq!(of_the_room, 60 - FALLEN_BACK as usize);
        let (kept, turned) = heard.split_at((FALLEN_BACK as usize + 1) * FRAME);
        assert_eq!(kept[..FALLEN_BACK as usize * FRAME], room[..FALLEN_BACK as usize * FRAME]);
        assert!(turned.iter().all(|&sample| sample.abs() <= 31), "20 dB less");
        // The voice goes on: at once as it is, but for the frame in which it is turned up.
        let (of_the_room, heard) = hear(&mut background, &voice, true);
        assert_eq!((of_the_room, &heard[FRAME..]), (0, &voice[FRAME..]));
        // Outside of an utterance nothing is touched.
        hear(&mut background, &room, true);
        let (of_the_room, heard) = hear(&mut background, &room, false);
        assert_eq!((of_the_room, &heard[FRAME..]), (0, &room[FRAME..]));
    }

    #[test]
    fn weak_sounds_in_a_quiet_room_and_a_voice_that_hardly_stands_out_are_kept() {
        for (room, weak) in [(3.0, 300.0), (1_000.0, 1_000.0)] {
            let mut background = Background::default();
            hear(&mut background, &noise(room, 60 * FRAME, 1), false);
            let voice = noise(3_000.0, 40 * FRAME, 2);
            assert_eq!(hear(&mut background, &voice, true).0, 0);
            let weak = noise(weak, 40 * FRAME, 3);
            assert_eq!(hear(&mut background, &weak, true), (0, weak.clone()), "{room}");
        }
    }

    #[test]
    fn what_is_much_fainter_right_after_a_command_is_somebody_elses() {
        let loud = noise(3_000.0, 20 * FRAME, 2);
        for (room, level, wait, fainter) in [
            (300.0, -12.0, 60, true),
            (300.0, -12.0, 200, false),
            (300.0, -4.0, 60, false),
            (300.0, 0.0, 60, false),
            (30.0, -12.0, 60, false),
        ] {
            let mut background = Background::default();
            hear(&mut background, &noise(room, 60 * FRAME, 1), false);
            hear(&mut background, &loud, true);
            assert!(!background.fainter(), "there was none before");
            background.commanded();
            hear(&mut background, &noise(room, wait * FRAME, 3), false);
            hear(&mut background, &noise(3_000.0 * times(level), 20 * FRAME, 4), true);
            assert_eq!(background.fainter(), fainter, "{level} dB after {wait} in {room}");
        }
    }

    #[test]
    fn a_click_does_not_make_a_voice_of_the_room() {
        let mut background = Background::default();
        let room = noise(300.0, 60 * FRAME, 1);
        hear(&mut background, &room, false);
        hear(&mut background, &noise(30_000.0, 2 * FRAME, 2), true);
        assert_eq!(hear(&mut background, &room, true), (0, room));
    }

    /// Words one after the other, each as long as it is, at these levels (dB).
    fn said(words: &[(&str, f32)]) -> (Vec<Word>, Vec<i16>) {
        let mut sound = Vec::new();
        let words = words.iter().enumerate().map(|(at, (text, level))| {
            let began = sound.len();
            sound.extend(noise(times(*level), 4_000, at as u32));
            Word { text: (*text).into(), confidence: 1.0, began, ended: sound.len() }
        });
        (words.collect(), sound)
    }

    fn phrase(text: &str, _followed: bool) -> bool {
        ["next step", "step", "reading fifty", "reading fifty eight"].contains(&text)
    }

    #[test]
    fn a_phrase_stands_out_from_fainter_words() {
        for (words, found) in [
            (&[("so", 60.0), ("next step", 70.0), ("today", 61.0)][..], Some(1..2)),
            (&[("so", 67.0), ("next step", 70.0)], None),
            (&[("reading", 70.0), ("fifty", 69.0), ("eight", 60.0), ("now", 61.0)], Some(0..2)),
            (&[("reading", 70.0), ("fifty", 69.0), ("eight", 67.0), ("now", 60.0)], Some(0..3)),
            (&[("reading", 70.0), ("fifty", 63.0), ("now", 60.0)], None),
            (&[("next step", 70.0), ("today", 60.0), ("next step", 70.0)], None),
            (&[("next step", 70.0)], None),
            (&[], None),
        ] {
            let (words, sound) = said(words);
            assert_eq!(standing_out(&words, &sound, 80.0, phrase), found, "{words:?}");
            assert_eq!(standing_out(&words, &sound, 30.0, phrase), None, "in a quiet room");
        }
    }

    #[test]
    fn words_that_lie_outside_of_the_sound_are_silent_and_no_panic() {
        let word = |began, ended| Word { text: "step".into(), confidence: 1.0, began, ended };
        let sound = noise(1_000.0, 2_000, 1);
        let words = [word(0, 2_000), word(5_000, 9_000), word(7, 3), word(usize::MAX, usize::MAX)];
        assert_eq!(standing_out(&words, &sound, 80.0, phrase), Some(0..1));
    }

    proptest! {
        /// What stands out is a phrase, and each word of it is louder than each that does not.
        #[test]
        fn nothing_stands_out_but_a_louder_phrase(
            words in prop::collection::vec((prop::sample::select(vec!["next step", "reading", "fifty", "eight", "so"]), 30f32..80.0), 0..7),
        ) {
            let (heard, sound) = said(&words);
            if let Some(run) = standing_out(&heard, &sound, 90.0, phrase) {
                prop_assert!(run.len() < words.len());
                prop_assert!(phrase(&text(&heard[run.clone()]), false));
                let quietest = words[run.clone()].iter().map(|word| word.1).fold(f32::INFINITY, f32::min);
                for (_, other) in words[..run.start].iter().chain(&words[run.end..]) {
                    prop_assert!(quietest >= other + GAP - 1.0);
                }
            }
        }

        /// Whatever comes, nothing is made louder and nothing is of the room outside of an utterance.
        #[test]
        fn nothing_is_made_louder(levels in prop::collection::vec((0f32..90.0, any::<bool>()), 1..200)) {
            let mut background = Background::default();
            for (at, (level, speaking)) in levels.into_iter().enumerate() {
                let sound = noise(times(level), FRAME, at as u32);
                let (of_the_room, heard) = hear(&mut background, &sound, speaking);
                prop_assert!(speaking || of_the_room == 0);
                prop_assert!(heard.iter().zip(&sound).all(|(heard, was)| heard.abs() <= was.abs()));
            }
        }
    }
}
