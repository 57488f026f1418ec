//! The numbers of the rule, by whoever judges: those of one scale say nothing on the other.
//!
//! They are what `wrenchside bench-hearing --calibrate` found on the people and voices that may be tuned on, by the worth that
//! `hearing::calibrate` tells of. Those after the three harms, and whatever says so, were set by hand: a false question costs a
//! "no" and never acts, so what is worth one was checked on the fixed set only.

use super::{NEVER, Needs, Rule, Thresholds};

const fn needs(average: f32, over_noise: f32, margin: f32) -> Thresholds {
    Thresholds { average, over_noise, margin }
}

impl Rule {
    /// Where moonshine's decoder judges, and where nobody does.
    pub const fn by_decoder() -> Rule {
        Rule {
            none: Needs {
                // By hand. On a third of `tune` 0.6 was found; with it a phrase that nobody gave was heard in the fixed set of CI.
                alone: 0.95,
                sure: 0.95,
                same: needs(-3.5, 6.0, 1.5),
                half: needs(-3.5, 6.0, 0.0),
                near: needs(-1.2, 6.0, 1.0),
                nothing: needs(-1.2, 6.0, 1.0),
                another: NEVER,
            },
            moves: Needs {
                alone: 0.95,
                sure: 0.95,
                same: needs(-1.6, 15.0, 1.0),
                half: needs(-0.3, 18.0, 2.0),
                near: NEVER,
                nothing: NEVER,
                another: needs(-0.8, 15.0, 2.0),
            },
            claims: Needs {
                alone: 1.0,
                sure: 1.0,
                same: needs(-2.0, 6.0, 2.0),
                half: needs(-2.5, 10.0, 6.0),
                near: NEVER,
                nothing: NEVER,
                another: NEVER,
            },
            // Chosen on the voices that may be tuned on: with less its veto cost more than it kept out.
            liked: needs(-1.6, 10.0, 2.0),
            // "We can take a break when the rain stops", of which vosk is sure that it is "take a break". It costs three to eight of
            // 736 commands.
            something_else: -4.0,
            something_else_where_it_counts: -4.0,
            number: 0.0,
            doubtful: needs(-4.0, 2.0, 0.0),
            plain: needs(-1.2, 6.0, 2.0),
            apart_from_takes: false,
            sounds: None,
        }
    }

    /// Where phones judge. `over_noise` is 2 a phone at most, so "no" never has more than 4.
    ///
    /// On every fourth recording of the part `tune` and every second of its people, with the free hand that so few leave: where
    /// `--calibrate` found nothing to choose by, the stricter number stands. A claim that vosk did not hear at all is let pass by
    /// phones that are none of them in doubt: of what was said otherwise, or to others, none came near to that.
    pub const fn by_phones() -> Rule {
        Rule {
            none: Needs {
                alone: 0.95,
                sure: 0.95,
                same: needs(-1.6, 1.0, 1.0),
                half: needs(-1.6, -1.0, 3.0),
                near: needs(-0.8, 3.0, 3.0),
                nothing: needs(-1.6, 1.0, 3.0),
                another: needs(-0.5, 8.0, 3.0),
            },
            moves: Needs {
                alone: 0.95,
                sure: 0.95,
                same: needs(-1.0, 4.0, 2.0),
                half: needs(-1.2, 4.0, 2.0),
                near: NEVER,
                nothing: needs(-0.6, 8.0, 6.0),
                another: needs(-0.6, 15.0, 2.0),
            },
            claims: Needs {
                alone: 1.0,
                sure: 0.95,
                same: needs(-1.6, 3.0, 2.0),
                half: needs(-1.2, 4.0, 4.0),
                near: needs(-1.0, 2.0, 4.0),
                // At least three phones, none of them in doubt.
                nothing: needs(-0.3, 5.0, 4.0),
                another: NEVER,
            },
            // However little it is ahead: where two numbers sound alike ("fifty", "fifteen") and the listeners differ, neither is
            // taken.
            liked: needs(-0.6, 4.0, 0.0),
            // A sentence with a phrase in it has -20 and less; of 719 right phrases of which vosk is sure none has less than -4. Of what
            // vosk is sure to hear in a machine's noise and nobody said, as "go back", the phones had -1 and less.
            something_else: -8.0,
            something_else_where_it_counts: 1.0,
            // As where vosk is not sure: of 392 decimals it lost a digit of eight, three times surely.
            number: 2.0,
            doubtful: needs(-2.0, -2.0, 0.0),
            // The next may mean the same: "millimetre", "millimetres".
            plain: needs(-0.6, 5.0, 0.5),
            apart_from_takes: true,
            sounds: None,
        }
    }
}
