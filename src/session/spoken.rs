//! The unit in which the torque of the stage in hand was said last: a number that comes back without a unit has that one.
//!
//! Knows what was said and not what is heard. The job is given the unit together with the number, so that the journal
//! holds it; whether a number fits is the job's to judge.

use crate::dialogue::Manner;
use crate::job::{Answer, Expect, Pending, Refusal, Say};
use crate::procedure::{FastenerIx, StageKind};
use crate::quantity::{Quantity, TorqueUnit, Unit};
use rust_decimal::Decimal;

/// What was said last of which stage.
#[derive(Debug, Default)]
pub(super) struct Spoken {
    /// Group and stage, and the unit.
    last: Option<((FastenerIx, usize), TorqueUnit)>,
}

impl Spoken {
    /// The job has said this.
    pub fn said(&mut self, says: &[Say], manner: &Manner) {
        for say in says {
            let (pending, unit) = match say {
                Say::Pending(pending)
                | Say::Answer(Answer::Value(pending))
                | Say::Refused(Refusal::Unfinished { pending, .. }) => (pending, manner.unit),
                Say::Answer(Answer::InUnit { pending, unit }) => (pending, Some(*unit)),
                _ => continue,
            };
            if let Some(StageKind::Torque(limits)) = &pending.kind {
                self.last = Some((stage(pending), unit.unwrap_or(limits.high().unit)));
            }
        }
    }

    /// What to set on a wrench was said behind it, in the unit of its scale.
    pub fn set(&mut self, pending: Option<Pending>, unit: TorqueUnit) {
        if let Some(pending) = pending {
            self.last = Some((stage(&pending), unit));
        }
    }

    /// What the job awaits: of the stage in hand, where no question stands before it, in the unit said last, and about as large
    /// as its value is in that.
    pub fn expect(&self, expect: Expect, in_hand: Option<Pending>) -> Expect {
        let unit = match (in_hand, self.last) {
            (Some(pending), Some((of, unit))) if of == stage(&pending) => Unit::Torque(unit),
            _ => return expect,
        };
        let about = expect.reading.filter(|about| about.unit() != unit).and_then(|about| about.in_unit(unit));
        match about {
            Some(about) => Expect { reading: Some(rounded(about)), ..expect },
            None => expect,
        }
    }
}

fn stage(pending: &Pending) -> (FastenerIx, usize) {
    (pending.group, pending.stage)
}

/// As a scale shows it.
fn rounded(about: Quantity) -> Quantity {
    let places = u32::from(about.amount() < Decimal::TEN);
    Quantity::new(about.amount().round_dp(places), about.unit())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{Ask, At, Command, Job};
    use crate::procedure;
    use std::path::Path;
    use std::sync::Arc;

    #[test]
    fn the_unit_said_last_of_a_stage_is_that_of_its_numbers() {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/bench-bracket.toml");
        let mut job = Job::new(Arc::new(procedure::load(&path).unwrap()));
        let mut spoken = Spoken::default();
        let pounds = Some(TorqueUnit::PoundForceFoot);
        let mut say = |command: Command, unit: Option<TorqueUnit>| {
            let reply = job.apply(command, At(0));
            spoken.said(&reply.says, &Manner { unit, ..Manner::default() });
            let in_hand = job.pending().filter(|_| job.question().is_none());
            spoken.expect(job.expects(), in_hand).reading.map(|about| about.to_string())
        };
        for command in [Command::Open, Command::Done, Command::Yes, Command::Done] {
            assert_eq!(say(command, None), None);
        }
        assert_eq!(say(Command::Done, None), Some("15 N·m".into()));
        let asked = |unit| Command::Ask(Ask::InUnit(unit));
        assert_eq!(say(asked(TorqueUnit::PoundForceFoot), None), Some("11 lbf·ft".into()));
        assert_eq!(say(Command::WhereAmI, None), Some("15 N·m".into()), "it was said anew");
        assert_eq!(say(asked(TorqueUnit::KilogramForceMetre), None), Some("1.5 kgf·m".into()));
        // The other bolt is announced in the user's own unit.
        assert_eq!(say(Command::Done, pounds), Some("11 lbf·ft".into()));
        assert_eq!(say(Command::Next, None), Some("15 N·m".into()));
        let unit = Some(Unit::Torque(TorqueUnit::PoundForceFoot));
        let far = Command::Reading(crate::job::Reading { amount: 90.into(), unit });
        assert_eq!(say(far, None), Some("90 lbf·ft".into()), "as the question about it says it");
    }
}
