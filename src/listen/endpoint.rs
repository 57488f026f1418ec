//! Where an utterance begins and where it ends, frame by frame.
//!
//! Knows how voice-like each frame is and how far the words have come; not the sound, and no clock. A phrase that
//! nothing can follow ends after a short silence, one that could go on after a longer one, and what is no phrase
//! (yet) after a long one. In noise that passes for a voice the words decide: once they make a phrase and stay so, it
//! is over. And nothing goes on for ever.
//!
//! The waits are shorter for a phrase that is [sure](Endpointer::sure), so it tells early when an end may be near: at a
//! pause of the voice, and where the words have stood still for some time.

use super::RATE;
use super::activity::FRAME;
use super::phrases::Progress;

/// Frames in so many milliseconds.
pub(super) const fn frames(milliseconds: u32) -> u32 {
    (milliseconds * RATE / 1000).div_ceil(FRAME as u32)
}

/// From here on a frame counts as a voice when none was going on; less when one was, because words fade. Machines alone
/// stay below 0.56, people's voices rise above 0.7 even at 10 dB.
pub(super) const VOICE_BEGINS: f32 = 0.6;
pub(super) const VOICE_GOES_ON: f32 = 0.45;
/// Frames with a voice, out of the last four, that make a beginning: one alone is a click.
pub(super) const BEGINNING: u32 = 3;
/// Silence from which on it is a pause; shorter ones are within words.
const PAUSE: u32 = frames(60);
/// Silence after a phrase that nothing can follow, and after one that is sure besides.
const AFTER_WHOLE: u32 = frames(130);
const AFTER_SURE: u32 = frames(95);
/// Silence after a phrase that could go on ("go to step twenty" one), likewise.
const AFTER_COULD_GO_ON: u32 = frames(420);
const AFTER_SURE_OPEN: u32 = frames(250);
/// Silence after anything else: time to think in the middle of a phrase.
const AFTER_UNFINISHED: u32 = frames(660);
/// The words come a little after the sound, so they must have stayed as they are for so long before they count, unless
/// they came so far into the silence that they were made from all of the voice.
const SETTLED: u32 = frames(100);
const ALL_HEARD: u32 = frames(120);
/// A phrase that stays unchanged for so long is over even if something goes on that passes for a voice; the shorter time
/// is for one that is sure.
const STANDING: u32 = frames(700);
const STANDING_SURE: u32 = frames(400);
/// The same for a phrase that could go on.
const STANDING_OPEN: u32 = frames(1_100);
const STANDING_OPEN_SURE: u32 = frames(700);
/// Nothing that may be said takes longer.
const LONGEST: u32 = frames(10_000);
/// Less voice than this, and no words yet: a knock, unless the recogniser has heard a word in it at last.
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
    /// An utterance goes on, but its voice pauses; its last frame of voice was so many frames ago.
    Paused(u32),
    /// An utterance goes on, but its words have stood still for so many frames that it is over if they are sure.
    Standing(u32),
    /// The utterance is over; its last frame of voice was so many frames ago.
    Ended(u32),
    /// The same, with hardly any voice and not a word so far: a knock, or one short word.
    Knock(u32),
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
    /// How far the phrase has come that is sure, until a voice goes on or the words change.
    sure: Option<Progress>,
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
                sure: None,
            });
            return Step::Began(length);
        };
        going.length += 1;
        going.unchanged += 1;
        if voice >= VOICE_GOES_ON {
            going.voiced += 1;
            going.silence = 0;
            going.sure = None;
        } else {
            going.silence += 1;
        }
        let step = going.step();
        if matches!(step, Step::Ended(_) | Step::Knock(_)) {
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
                going.sure = None;
            }
        }
    }

    /// Takes word, in a pause, that a phrase was surely said, and how far that has come. It holds until a voice goes on or
    /// the words change.
    pub fn sure(&mut self, progress: Progress) {
        if let Some(going) = &mut self.going {
            going.sure = Some(progress);
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
        let enough = match (self.sure, self.progress) {
            (Some(Progress::CouldGoOn), _) => AFTER_SURE_OPEN,
            (Some(_), _) => AFTER_SURE,
            (None, Progress::Whole) => AFTER_WHOLE,
            (None, Progress::CouldGoOn) => AFTER_COULD_GO_ON,
            (None, Progress::Unfinished | Progress::Nothing) => AFTER_UNFINISHED,
        };
        let (standing, standing_sure) = match self.progress {
            Progress::Whole => (STANDING, STANDING_SURE),
            Progress::CouldGoOn => (STANDING_OPEN, STANDING_OPEN_SURE),
            Progress::Unfinished | Progress::Nothing => (LONGEST, LONGEST),
        };
        let settled =
            self.sure.is_some() || self.unchanged >= SETTLED || self.silence_then.min(self.silence) >= ALL_HEARD;
        if self.silence >= enough && (settled || self.silence >= AFTER_UNFINISHED) {
            let knock = self.sure.is_none() && self.progress == Progress::Nothing && self.voiced < KNOCK;
            if knock { Step::Knock(self.silence) } else { Step::Ended(self.silence) }
        } else if self.unchanged >= standing {
            Step::Ended(self.stood())
        } else if self.length >= LONGEST {
            Step::Ended(self.silence)
        } else if self.silence >= PAUSE {
            Step::Paused(self.silence)
        } else if self.unchanged == standing_sure {
            Step::Standing(self.stood())
        } else {
            Step::Going
        }
    }

    /// How many frames ago the words ended that stand: they came at about the end of the sound that made them.
    fn stood(&self) -> u32 {
        self.unchanged.max(self.silence).min(self.length)
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
                Step::Going | Step::Paused(_) => assert!(silent < LONGEST),
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

    /// One in whose middle a voice has been for `spoken` frames.
    fn after_speech(spoken: u32) -> Endpointer {
        let mut ends = Endpointer::default();
        for _ in 0..spoken {
            ends.frame(0.9);
        }
        ends
    }

    /// Silence, in which nothing ends.
    fn stay_silent(ends: &mut Endpointer, frames: u32) {
        for _ in 0..frames {
            assert!(matches!(ends.frame(0.0), Step::Going | Step::Paused(_)));
        }
    }

    #[test]
    fn a_pause_is_told_from_its_beginning_to_its_end() {
        let mut ends = after_speech(30);
        for _ in 1..PAUSE {
            assert_eq!(ends.frame(0.0), Step::Going);
        }
        assert_eq!(ends.frame(0.0), Step::Paused(PAUSE));
        assert_eq!(ends.frame(0.0), Step::Paused(PAUSE + 1));
        assert_eq!(ends.frame(0.9), Step::Going);
    }

    #[test]
    fn what_is_sure_ends_sooner_and_later_if_it_could_go_on() {
        for (progress, enough) in [(Progress::Whole, AFTER_SURE), (Progress::CouldGoOn, AFTER_SURE_OPEN)] {
            // Whatever the first listener makes of it meanwhile.
            for words in [Progress::Nothing, Progress::Unfinished, Progress::CouldGoOn, Progress::Whole] {
                let mut ends = after_speech(30);
                ends.words(words, true);
                stay_silent(&mut ends, PAUSE);
                ends.sure(progress);
                let last = (PAUSE..enough).map(|_| ends.frame(0.0)).last();
                assert_eq!(last, Some(Step::Ended(enough)));
            }
        }
        const { assert!(PAUSE < AFTER_SURE && AFTER_SURE < AFTER_WHOLE && AFTER_SURE_OPEN < AFTER_COULD_GO_ON) };
    }

    #[test]
    fn it_is_sure_no_more_once_a_voice_goes_on_or_the_words_change() {
        let mut ends = after_speech(30);
        ends.words(Progress::CouldGoOn, true);
        stay_silent(&mut ends, PAUSE);
        ends.sure(Progress::Whole);
        ends.frame(0.9);
        stay_silent(&mut ends, AFTER_COULD_GO_ON - 1);

        let mut ends = after_speech(30);
        stay_silent(&mut ends, PAUSE);
        ends.sure(Progress::Whole);
        ends.words(Progress::CouldGoOn, true);
        stay_silent(&mut ends, AFTER_SURE);
    }

    #[test]
    fn words_that_have_just_changed_wait_to_settle() {
        let mut ends = after_speech(30);
        stay_silent(&mut ends, ALL_HEARD - 1);
        ends.words(Progress::Whole, true);
        stay_silent(&mut ends, SETTLED - 1);
        assert_eq!(ends.frame(0.0), Step::Ended(ALL_HEARD + SETTLED - 1));
    }

    #[test]
    fn words_made_from_all_of_the_voice_need_not_settle() {
        let mut ends = after_speech(30);
        stay_silent(&mut ends, 2 * AFTER_WHOLE);
        ends.words(Progress::Whole, true);
        assert_eq!(ends.frame(0.0), Step::Ended(2 * AFTER_WHOLE + 1));
    }

    #[test]
    fn a_click_begins_nothing_and_a_knock_is_told_as_one() {
        let mut ends = Endpointer::default();
        for voice in [0.9, 0.0, 0.0, 0.9, 0.9, 0.0, 0.0] {
            assert_eq!(ends.frame(voice), Step::Quiet);
        }
        ends.frame(0.9);
        ends.frame(0.9);
        assert_eq!(ends.frame(0.9), Step::Began(3));
        let last = (0..AFTER_UNFINISHED).map(|_| ends.frame(0.0)).last();
        assert_eq!(last, Some(Step::Knock(AFTER_UNFINISHED)));
        assert!(!ends.speaking());
    }

    #[test]
    fn a_phrase_in_noise_ends_when_it_stands() {
        for (progress, sure, at_last) in
            [(Progress::Whole, STANDING_SURE, STANDING), (Progress::CouldGoOn, STANDING_OPEN_SURE, STANDING_OPEN)]
        {
            let mut ends = after_speech(100);
            ends.words(progress, true);
            for stood in 1..at_last {
                // Told once, so that it can be ended then.
                let expected = if stood == sure { Step::Standing(sure) } else { Step::Going };
                assert_eq!(ends.frame(0.9), expected);
            }
            assert_eq!(ends.frame(0.9), Step::Ended(at_last));
        }
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
                    (Step::Paused(ago) | Step::Standing(ago), Some(length)) => {
                        *length += 1;
                        prop_assert!(ago <= *length);
                    }
                    (Step::Ended(ago) | Step::Knock(ago), Some(gone)) => {
                        prop_assert!(ago <= *gone + 1);
                        length = None;
                    }
                    (step, length) => prop_assert!(false, "{:?} after {:?}", step, length),
                }
                prop_assert!(length.unwrap_or(0) < LONGEST);
                prop_assert_eq!(ends.speaking(), length.is_some());
                let progress = [Progress::Nothing, Progress::Unfinished, Progress::CouldGoOn, Progress::Whole];
                ends.words(progress[usize::from(words % 4)], words < 4);
                if words == 7 {
                    ends.sure(Progress::Whole);
                }
            }
        }
    }
}
