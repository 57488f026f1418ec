//! How the voice speaks: its pace and its loudness, as the user turned them.

use crate::dialogue::{Notice, Talk};

/// Steps in which the voice is made faster or slower, and louder or quieter.
const PACE_STEP: f32 = 1.15;
const PACES: std::ops::RangeInclusive<f32> = 0.6..=1.8;
const GAIN_STEP: f32 = 1.41;
const GAINS: std::ops::RangeInclusive<f32> = 0.25..=2.0;

/// How the voice speaks now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Delivery {
    /// 1.0 is the voice's own speed, 2.0 twice as fast.
    pub pace: f32,
    /// Factor on the samples.
    pub gain: f32,
}

impl Delivery {
    /// Slower, faster, louder or quieter; says what it does, or that it goes no further. Nothing for other talk.
    pub(super) fn turn(&mut self, talk: Talk) -> Option<Notice> {
        Some(match talk {
            Talk::Slower => turned(&mut self.pace, 1.0 / PACE_STEP, PACES, Notice::Slower),
            Talk::Faster => turned(&mut self.pace, PACE_STEP, PACES, Notice::Faster),
            Talk::Louder => turned(&mut self.gain, GAIN_STEP, GAINS, Notice::Louder),
            Talk::Quieter => turned(&mut self.gain, 1.0 / GAIN_STEP, GAINS, Notice::Quieter),
            _ => return None,
        })
    }
}

impl Default for Delivery {
    fn default() -> Self {
        Delivery { pace: 1.0, gain: 1.0 }
    }
}

/// Turns a knob by a factor; says what it does, or that it goes no further.
fn turned(knob: &mut f32, factor: f32, range: std::ops::RangeInclusive<f32>, notice: Notice) -> Notice {
    let wanted = (*knob * factor).clamp(*range.start(), *range.end());
    if wanted == *knob {
        return Notice::NoMore;
    }
    *knob = wanted;
    notice
}
