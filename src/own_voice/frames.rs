//! What is kept of a take: the rows that the second listener's encoder made of the voice in it, as halves.
//!
//! Knows rows of numbers and where in a sound they lie. What is said in them, and who says it, is known elsewhere.

use std::ops::Range;

use half::f16;
use half::slice::HalfFloatSliceExt;

use crate::listen::Encoding;

/// No take is as long: ten seconds of the encoder's rows, of which there are 42 in a second.
pub const LONGEST: usize = 420;
/// The widest row that is taken.
pub const WIDEST: usize = 4_096;

/// Rows of one width, at least one and at most [`LONGEST`].
#[derive(Debug, Clone, PartialEq)]
pub struct Frames {
    width: usize,
    halves: Vec<f16>,
}

impl Frames {
    /// The rows of an encoding that lie in `voice`, a range of its samples; nothing if there are none or too many.
    pub fn of(encoding: &Encoding, voice: Range<usize>) -> Option<Self> {
        let width = encoding.width;
        let count = encoding.states.len().checked_div(width)?;
        // What of a row lies in the voice belongs to it.
        let each = (encoding.samples as f64 / count.max(1) as f64).max(1.0);
        let first = ((voice.start as f64 / each) as usize).min(count);
        let end = ((voice.end as f64 / each).ceil() as usize).min(count);
        let rows = encoding.states.get(first * width..end.max(first) * width)?;
        let mut halves = vec![f16::ZERO; rows.len()];
        halves.as_mut_slice().convert_from_f32_slice(rows);
        Self::new(width, halves)
    }

    /// Rows one after the other; nothing unless they are whole, of a likely width and number, and of numbers.
    pub fn new(width: usize, halves: Vec<f16>) -> Option<Self> {
        let whole = (1..=WIDEST).contains(&width) && halves.len().is_multiple_of(width);
        let likely = whole && (1..=LONGEST).contains(&(halves.len() / width));
        (likely && halves.iter().all(|half| half.is_finite())).then_some(Self { width, halves })
    }

    /// Numbers in a row.
    pub fn width(&self) -> usize {
        self.width
    }

    /// How many rows there are.
    pub fn count(&self) -> usize {
        self.halves.len() / self.width
    }

    /// All of them, one after the other.
    pub fn halves(&self) -> &[f16] {
        &self.halves
    }

    /// The same in full.
    pub fn full(&self) -> Vec<f32> {
        self.halves.to_f32_vec()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn encoding(rows: usize) -> Encoding {
        let states = (0..rows).flat_map(|row| [row as f32, 1.0]).collect();
        Encoding { samples: rows * 384, width: 2, states }
    }

    #[test]
    fn only_the_voice_is_kept() {
        let frames = Frames::of(&encoding(10), 384 * 2 + 5..384 * 4 + 1).unwrap();
        assert_eq!(frames.full(), [2.0, 1.0, 3.0, 1.0, 4.0, 1.0]);
        assert_eq!(Frames::of(&encoding(10), 0..usize::MAX).unwrap().count(), 10);
        assert_eq!(Frames::of(&encoding(10), 5_000..5_000), None);
        assert_eq!(Frames::of(&encoding(0), 0..5_000), None);
    }

    #[test]
    fn rows_that_are_none_are_not_taken() {
        let one = f16::ONE;
        assert!(Frames::new(2, vec![one; 6]).is_some());
        for (width, halves) in [
            (0, vec![one; 6]),
            (4, vec![one; 6]),
            (2, Vec::new()),
            (1, vec![one; LONGEST + 1]),
            (WIDEST + 1, vec![one; WIDEST + 1]),
            (1, vec![f16::NAN]),
            (1, vec![f16::INFINITY]),
        ] {
            assert_eq!(Frames::new(width, halves), None);
        }
    }

    proptest! {
        /// Any range of any encoding gives rows within it, or none.
        #[test]
        fn no_range_is_too_far(rows in 0usize..500, start in any::<usize>(), length in any::<usize>()) {
            let frames = Frames::of(&encoding(rows), start..start.saturating_add(length));
            prop_assert!(frames.is_none_or(|frames| frames.count() <= rows));
        }
    }
}
