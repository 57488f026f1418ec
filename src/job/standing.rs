//! Standing cautions: spoken as soon as their cause begins, at each step that touches it, at each phase, on resuming.
//!
//! Knows the causes in the ledger and in the acts of the step. A caution is worded for the time when its cause stands, so
//! it is spoken once what begins it is recorded. Only where more is done in the same breath, before anything is recorded,
//! it is a forewarning.

use super::{Act, Edition, Job, Say, work};
use crate::procedure::{Cause, Deed};

impl Job {
    /// Standing cautions whose cause stands and passes `wanted`.
    pub(super) fn standing(&self, wanted: impl Fn(Cause) -> bool) -> Vec<Say> {
        let stands = self.book.standing.iter().filter(|s| self.ledger.stands(s.cause) && wanted(s.cause));
        stands.map(|s| Say::Standing(s.caution.clone())).collect()
    }

    /// Standing cautions whose cause the step in hand begins, with more to be done before that is recorded.
    pub(super) fn forewarnings(&self) -> Vec<Say> {
        // Version 0.1 did not say these, and the record lists what was said.
        if self.edition < Edition::Second {
            return Vec::new();
        }
        let acts = &self.book.steps[self.step].acts;
        let begins_midway = |cause: Cause| {
            let plain = |act: &Act| !matches!(act, Act::Measure(_) | Act::Fasten { deed: Deed::Tighten(_), .. });
            acts.windows(2).any(|pair| begins(&pair[0], cause) && plain(&pair[1]))
        };
        let midway = self.book.standing.iter().filter(|s| !self.ledger.stands(s.cause) && begins_midway(s.cause));
        midway.map(|s| Say::Forewarning(s.caution.clone())).collect()
    }

    /// Does the step in hand do anything to what causes a caution?
    pub(super) fn touches(&self, cause: Cause) -> bool {
        self.book.steps[self.step].acts.iter().any(|act| work::thing(act) == Some(thing(cause)))
    }

    /// The cautions that hold where the job stands, each once: standing ones, those that the step in hand begins, its own. Of a
    /// job that is closed only what stands all the same.
    pub fn in_force(&self) -> Vec<Say> {
        let plain = |say| match say {
            Say::Standing(caution) => Say::Caution(caution),
            other => other,
        };
        let mut all: Vec<Say> = self.standing(|_| true).into_iter().map(plain).collect();
        if self.closed.is_none() {
            all.extend(self.forewarnings());
            all.extend(self.book.steps[self.step].cautions.iter().cloned().map(Say::Caution));
        }
        let mut each: Vec<Say> = Vec::new();
        for say in all {
            if !each.contains(&say) {
                each.push(say);
            }
        }
        each
    }

    /// Which causes stand, in the order of the standing cautions.
    pub(super) fn causes(&self) -> Vec<bool> {
        self.book.standing.iter().map(|s| self.ledger.stands(s.cause)).collect()
    }

    /// Puts the cautions whose cause began by this command before whatever is to be done next.
    pub(super) fn warn_of_new(&self, stood: &[bool], says: &mut Vec<Say>) {
        // Version 0.1 did not say these, and the record lists what was said.
        if self.closed.is_some() || self.edition < Edition::Second {
            return;
        }
        for (standing, stood) in self.book.standing.iter().zip(stood) {
            if *stood || !self.ledger.stands(standing.cause) {
                continue;
            }
            // Said for the first time, it is no repetition.
            says.retain(|say| *say != Say::Standing(standing.caution.clone()));
            let caution = Say::Caution(standing.caution.clone());
            if !says.contains(&caution) {
                says.insert(says.iter().position(comes_after).unwrap_or(says.len()), caution);
            }
        }
    }
}

/// Is this said behind the cautions?
fn comes_after(say: &Say) -> bool {
    !matches!(
        say,
        Say::OpenAgain { .. }
            | Say::GroupDone { .. }
            | Say::ReadingTaken { .. }
            | Say::TakenBack(_)
            | Say::NowInDoubt(_)
            | Say::Skipped { .. }
            | Say::NotNeeded { .. }
            | Say::Undecided { .. }
            | Say::Round { .. }
    )
}

fn begins(act: &Act, cause: Cause) -> bool {
    match (act, cause) {
        (Act::Place(a), Cause::Placed(b)) => *a == b,
        (Act::Hang(a), Cause::Hung(b)) | (Act::TakeOff(a), Cause::Off(b)) => *a == b,
        (Act::Disconnect(a), Cause::Open(b)) => *a == b,
        (Act::Reach(a), Cause::In(b)) => *a == b,
        _ => false,
    }
}

/// The thing whose being touched brings a standing caution back.
fn thing(cause: Cause) -> work::Thing {
    match cause {
        Cause::Placed(ix) => work::Thing::Support(ix.0),
        Cause::Hung(ix) | Cause::Off(ix) => work::Thing::Component(ix.0),
        Cause::Open(ix) => work::Thing::Connection(ix.0),
        Cause::In(ix) => work::Thing::Condition(ix.0),
    }
}
