//! When what was put to the user had been said to its end: before that nobody can claim it.
//!
//! Knows which order of the voice says it and how long it takes to read. Leaves to the job what follows from it. Where no
//! voice says it, because there is none or it is lost or has failed, the time to read it stands for the time to hear it.
//! What is cut off by other words was never heard, and is never at its end.

use crate::dialogue::Sentence;
use std::time::{Duration, Instant};

/// So long sound takes from the voice to the user, and from the user through the microphone.
pub(super) const ON_ITS_WAY: Duration = Duration::from_millis(150);
/// Time to read a word.
const WORD: Duration = Duration::from_millis(300);

/// What is being said, and has to be heard to its end.
#[derive(Debug, Default)]
pub(super) struct Announcing(Option<Awaited>);

#[derive(Debug)]
struct Awaited {
    /// The order of the voice that says it.
    order: Option<u64>,
    /// By when it can be read.
    readable: Instant,
}

impl Announcing {
    /// Something is put to the user from now on.
    pub fn begin(&mut self, sentences: &[Sentence], order: Option<u64>, now: Instant) {
        let words: usize = sentences.iter().map(|s| s.written.split_whitespace().count()).sum();
        let readable = now + WORD.saturating_mul(u32::try_from(words).unwrap_or(u32::MAX));
        self.0 = Some(Awaited { order, readable });
    }

    /// Other words have cut it off, or it need not be heard any more.
    pub fn drop(&mut self) {
        self.0 = None;
    }

    /// When it had been said to its end, if that is so by now; told once. `ended`: the orders that were, and when.
    /// `silent`: no voice says anything.
    pub fn ended(&mut self, ended: &[(u64, Instant)], silent: bool, now: Instant) -> Option<Instant> {
        let awaited = self.0.as_ref()?;
        let heard = ended.iter().find(|(order, _)| Some(*order) == awaited.order).map(|(_, at)| *at + ON_ITS_WAY);
        let moment = heard.or_else(|| (silent && now >= awaited.readable).then_some(awaited.readable))?;
        self.0 = None;
        Some(moment)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dialogue::Tone;

    fn five_words() -> Vec<Sentence> {
        let text = "Stage two: ninety more degrees.";
        vec![Sentence { spoken: text.into(), written: text.into(), signal: None, tone: Tone::Plain }]
    }

    #[test]
    fn it_ends_when_the_voice_has_said_it_and_is_told_once() {
        let (mut announcing, now) = (Announcing::default(), Instant::now());
        announcing.begin(&five_words(), Some(7), now);
        let end = now + Duration::from_secs(3);
        assert_eq!(announcing.ended(&[(6, end)], false, end), None, "another order");
        assert_eq!(announcing.ended(&[(6, end), (7, end)], false, end), Some(end + ON_ITS_WAY));
        assert_eq!(announcing.ended(&[(7, end)], true, end), None);
    }

    #[test]
    fn without_a_voice_it_ends_when_it_can_be_read() {
        let (mut announcing, now) = (Announcing::default(), Instant::now());
        for order in [None, Some(7)] {
            announcing.begin(&five_words(), order, now);
            let read = now + WORD * 5;
            assert_eq!(announcing.ended(&[], true, now + WORD * 4), None);
            assert_eq!(announcing.ended(&[], false, read), None, "the voice has still to say it");
            assert_eq!(announcing.ended(&[], true, read), Some(read));
        }
    }

    #[test]
    fn what_was_cut_off_never_ends() {
        let (mut announcing, now) = (Announcing::default(), Instant::now());
        announcing.begin(&five_words(), Some(1), now);
        announcing.drop();
        assert_eq!(announcing.ended(&[(1, now)], true, now + Duration::from_secs(60)), None);
    }
}
