//! Where an utterance begins and where it ends, frame by frame.
//!
//! Knows how voice-like each frame is and how far the words have come; not the sound, and no clock. A phrase that
//! nothing can follow ends after a short silence, one that could go on after a longer one, and what is no phrase
//! (yet) after a long one. In noise that passes for a voice the words decide: once they make a phrase and stay so, it
//! is over. And nothing goes on for ever.

use super::RATE;
use super::activity::FRAME;
use super::phrases::Progress;

/// Frames in so many milliseconds.
const fn frames(milliseconds: u32) -> u32 {
    (milliseconds * RATE / 1000).div_ceil(FRAME as u32)
}

/// From here on a frame counts as a voice when none was going on; less when one was, because words fade. Machines alone
/// stay below 0.56, people's voices rise above 0.7 even at 10 dB.
const VOICE_BEGINS: f32 = 0.6;
const VOICE_GOES_ON: f32 = 0.45;
/// Frames with a voice, out of the last four, that make a beginning: one alone is a click.
const BEGINNING: u32 = 3;
/// Silence after a phrase that nothing can follow.
const AFTER_WHOLE: u32 = frames(130);
/// Silence after a phrase that could go on ("go to step twenty" one).
const AFTER_COULD_GO_ON: u32 = frames(420);
/// Silence after anything else: time to think in the middle of a phrase.
const AFTER_UNFINISHED: u32 = frames(660);
/// The words come a little after the sound, so they must have stayed as they are for so long before they count, unless
/// they came so far into the silence that they were made from all of the voice.
const SETTLED: u32 = frames(100);
const ALL_HEARD: u32 = frames(120);
/// A phrase that stays unchanged for so long is over even if something goes on that passes for a voice; the longer time
/// is for one that could go on.
const STANDING: u32 = frames(700);
const STANDING_OPEN: u32 = frames(1_100);
/// Nothing that may be said takes longer.
const LONGEST: u32 = frames(10_000);
/// Less voice than this, and no words: a knock, not an utterance.
const KNOCK: u32 = frames(500);

/// What a frame meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Nobody speaks.
    Quiet,
    /// An utterance has begun, some frames ago: this many, this one included.
    Began(u32),
    /// An utterance goes on.
    Going,
    /// The utterance is over; its last frame of voice was so many frames ago.
    Ended(u32),
    /// It was no utterance.
    Dropped,
}

/// The state between two frames.
#[derive(Debug, Clone, Default)]
pub struct Endpointer {
    /// The last four frames, newest in the lowest bit: voice or not.
    recent: u8,
    /// Set while an utterance goes on.
    going: Option<Going>,
}

#[derive(Debug, Clone)]
struct Going {
    /// Frames since the beginning.
    length: u32,
    /// Frames with a voice among them.
    voiced: u32,
    /// Frames since the last one with a voice.
    silence: u32,
    progress: Progress,
    /// Frames since the words last changed.
    unchanged: u32,
    /// How long the silence was then.
    silence_then: u32,
}

impl Endpointer {
    /// Takes the next frame's likelihood of a voice.
    pub fn frame(&mut self, voice: f32) -> Step {
        let Some(going) = &mut self.going else {
            self.recent = (self.recent << 1 | u8::from(voice >= VOICE_BEGINS)) & 0b1111;
            if self.recent.count_ones() < BEGINNING {
                return Step::Quiet;
            }
            let length = 8 - self.recent.leading_zeros();
            self.recent = 0;
            self.going = Some(Going {
                length,
                voiced: BEGINNING,
                silence: 0,
                progress: Progress::Nothing,
                unchanged: 0,
                silence_then: 0,
            });
            return Step::Began(length);
        };
        going.length += 1;
        going.unchanged += 1;
        if voice >= VOICE_GOES_ON {
            going.voiced += 1;
            going.silence = 0;
        } else {
            going.silence += 1;
        }
        let step = going.step();
        if !matches!(step, Step::Going) {
            self.going = None;
        }
        step
    }

    /// Takes the words as they stand now.
    pub fn words(&mut self, progress: Progress, changed: bool) {
        if let Some(going) = &mut self.going {
            going.progress = progress;
            if changed {
                going.unchanged = 0;
                going.silence_then = going.silence;
            }
        }
    }

    /// Whether an utterance goes on.
    pub fn speaking(&self) -> bool {
        self.going.is_some()
    }

    /// Ends what goes on, at the end of the sound. Returns how many frames ago its last voice was.
    pub fn cut(&mut self) -> Option<u32> {
        self.recent = 0;
        self.going.take().map(|going| going.silence)
    }
}

impl Going {
    fn step(&self) -> Step {
        let (enough, standing) = match self.progress {
            Progress::Whole => (AFTER_WHOLE, STANDING),
            Progress::CouldGoOn => (AFTER_COULD_GO_ON, STANDING_OPEN),
            Progress::Unfinished | Progress::Nothing => (AFTER_UNFINISHED, LONGEST),
        };
        let settled = self.unchanged >= SETTLED || self.silence_then.min(self.silence) >= ALL_HEARD;
        if self.silence >= enough && (settled || self.silence >= AFTER_UNFINISHED) {
            let knock = self.progress == Progress::Nothing && self.voiced < KNOCK;
            if knock { Step::Dropped } else { Step::Ended(self.silence) }
        } else if self.unchanged >= standing {
            // The words came at about the end of the sound that made them.
            Step::Ended(self.unchanged.max(self.silence).min(self.length))
        } else if self.length >= LONGEST {
            Step::Ended(self.silence)
        } else {
            Step::Going
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Speaks for `spoken` frames, the words standing at `progress` from the last of them on, then keeps silent.
    /// Returns how many silent frames it took.
    fn silence_needed(progress: Progress, spoken: u32) -> u32 {
        let mut ends = Endpointer::default();
        for _ in 0..spoken {
            ends.frame(0.9);
        }
        ends.words(progress, true);
        for silent in 1.. {
            match ends.frame(0.0) {
                Step::Ended(ago) => {
                    assert_eq!(ago, silent);
                    return silent;
                }
                Step::Going => assert!(silent < LONGEST),
                other => panic!("{other:?}"),
            }
        }
        unreachable!()
    }

    #[test]
    fn the_surer_the_words_the_sooner_the_end() {
        let whole = silence_needed(Progress::Whole, 50);
        let could_go_on = silence_needed(Progress::CouldGoOn, 50);
        let unfinished = silence_needed(Progress::Unfinished, 50);
        assert_eq!([whole, could_go_on, unfinished], [AFTER_WHOLE, AFTER_COULD_GO_ON, AFTER_UNFINISHED]);
        assert!(whole < could_go_on && could_go_on < unfinished);
    }

    #[test]
    fn words_that_have_just_changed_wait_to_settle() {
        let mut ends = Endpointer::default();
        for _ in 0..30 {
            ends.frame(0.9);
        }
        for _ in 0..ALL_HEARD - 1 {
            assert_eq!(ends.frame(0.0), Step::Going);
        }
        ends.words(Progress::Whole, true);
        for _ in 0..SETTLED - 1 {
            assert_eq!(ends.frame(0.0), Step::Going);
        }
        assert_eq!(ends.frame(0.0), Step::Ended(ALL_HEARD + SETTLED - 1));
    }

    #[test]
    fn words_made_from_all_of_the_voice_need_not_settle() {
        let mut ends = Endpointer::default();
        for _ in 0..30 {
            ends.frame(0.9);
        }
        for _ in 0..2 * AFTER_WHOLE {
            assert_eq!(ends.frame(0.0), Step::Going);
        }
        ends.words(Progress::Whole, true);
        assert_eq!(ends.frame(0.0), Step::Ended(2 * AFTER_WHOLE + 1));
    }

    #[test]
    fn a_click_begins_nothing_and_a_knock_is_dropped() {
        let mut ends = Endpointer::default();
        for voice in [0.9, 0.0, 0.0, 0.9, 0.9, 0.0, 0.0] {
            assert_eq!(ends.frame(voice), Step::Quiet);
        }
        ends.frame(0.9);
        ends.frame(0.9);
        assert_eq!(ends.frame(0.9), Step::Began(3));
        let last = (0..AFTER_UNFINISHED).map(|_| ends.frame(0.0)).last();
        assert_eq!(last, Some(Step::Dropped));
        assert!(!ends.speaking());
    }

    #[test]
    fn a_phrase_in_noise_ends_when_it_stands() {
        let mut ends = Endpointer::default();
        for _ in 0..100 {
            ends.frame(0.9);
        }
        ends.words(Progress::Whole, true);
        for _ in 0..STANDING - 1 {
            assert_eq!(ends.frame(0.9), Step::Going);
        }
        assert_eq!(ends.frame(0.9), Step::Ended(STANDING));
    }

    proptest! {
        /// Whatever comes, an utterance that begins ends within the longest time, and ends lie within it.
        #[test]
        fn nothing_goes_on_for_ever(voices in prop::collection::vec((0.0f32..1.0, 0u8..8), 1..3_000)) {
            let mut ends = Endpointer::default();
            let mut length = None::<u32>;
            for (voice, words) in voices {
                let step = ends.frame(voice);
                match (step, &mut length) {
                    (Step::Quiet, None) => {}
                    (Step::Began(ago), None) => {
                        prop_assert!((BEGINNING..=4).contains(&ago));
                        length = Some(ago);
                    }
                    (Step::Going, Some(length)) => *length += 1,
                    (Step::Ended(ago), Some(gone)) => {
                        prop_assert!(ago <= *gone + 1);
                        length = None;
                    }
                    (Step::Dropped, Some(_)) => length = None,
                    (step, length) => prop_assert!(false, "{:?} after {:?}", step, length),
                }
                prop_assert!(length.unwrap_or(0) < LONGEST);
                prop_assert_eq!(ends.speaking(), length.is_some());
                let progress = [Progress::Nothing, Progress::Unfinished, Progress::CouldGoOn, Progress::Whole];
                ends.words(progress[usize::from(words % 4)], words < 4);
            }
        }
    }
}
