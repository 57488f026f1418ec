//! By when a step has to be done, and what is due only after the job is closed.

use super::{Resolver, What};
use crate::procedure::code::Code;
use crate::procedure::conduct::Within;
use crate::procedure::model::{self, Act};
use crate::procedure::written::{Step, Written};
use crate::quantity::{Time, TimeUnit};
use rust_decimal::Decimal;

/// More time than that is no limit to work by.
const LONGEST: i64 = 48 * 3_600_000;

impl Resolver<'_, '_> {
    /// The time that there is for a step.
    pub(super) fn within(&mut self, steps: &[Step], ix: usize) -> Option<Within> {
        let step = steps.get(ix)?;
        let Some(text) = &step.within else {
            for (key, text) in [("after", &step.after), ("late", &step.late)] {
                if let Some(text) = text {
                    let right = "Write the time that there is, such as within = \"10 min\"";
                    self.report(Code::WithinUnfit, text.span.clone(), format!("\"{key}\" without \"within\""), right);
                }
            }
            return None;
        };
        let (Some(id), Some(late)) = (&step.after, &step.late) else {
            let right = "Write after = \"the id of a step\" and late = \"what to do when the time is over\"";
            let what = "\"within\" has to say from which step the time counts, and what to do when it is over";
            self.report(Code::WithinUnfit, text.span.clone(), what, right);
            return None;
        };
        let time: Time = self.value(text)?;
        if time.in_unit(TimeUnit::Millisecond).amount > Decimal::from(LONGEST) {
            let what = format!("\"{}\" is more than two days", text.value);
            let right = "What has so much time is due \"later\", or needs no limit";
            self.report(Code::WithinUnfit, text.span.clone(), what, right);
            return None;
        }
        let after = self.find(What::Step, id)?;
        let only = |step: &Step| step.only.as_ref().map(|only| only.value.clone());
        let asking = steps.get(after)?;
        let (what, right) = if after >= ix {
            (
                format!("step \"{}\" comes no earlier than this one", id.value),
                "Name an earlier step, from whose end it counts",
            )
        } else if asking.only.is_some() && only(asking) != only(step) {
            let what = format!("step \"{}\" is for one variant of the vehicle only, and this one is not", id.value);
            (what, "Write the same \"only\" in both")
        } else {
            return Some(Within { time, after, late: late.value.clone() });
        };
        self.report(Code::WithinUnfit, id.span.clone(), what, right);
        None
    }

    /// Steps that are due only later: the last ones, and without anything that would be left open till then.
    pub(super) fn due_later(&mut self, written: &Written, steps: &[model::Step]) {
        let last = written.step.iter().rposition(|step| step.later.is_none());
        for (ix, (step, meant)) in written.step.iter().zip(steps).enumerate() {
            let Some(later) = &step.later else { continue };
            let asks = [&step.ask, &step.until, &step.if_outside, &step.if_no, &step.again_from, &step.within];
            let stays = |act: &Act| matches!(act, Act::Measure(_) | Act::Clean(_) | Act::Apply(_));
            let named = |act: &Act| matches!(act, Act::Measure(m) if m.name.is_some());
            let (what, right) = if last.is_none_or(|last| last > ix) {
                ("behind it comes a step that is due now", "Put what is due later at the end")
            } else if !meant.acts.iter().all(stays) {
                (
                    "it leaves something in another state",
                    "Let it measure, clean or apply only; what is taken apart again is a job of its own",
                )
            } else if asks.iter().any(|key| key.is_some())
                || meant.acts.iter().any(named)
                || meant.wait_minutes.is_some()
            {
                ("other steps of the job depend on it, or it on them", "Keep what is due later by itself")
            } else {
                continue;
            };
            self.report(Code::LaterUnfit, later.span.clone(), format!("step \"{}\": {what}", step.id.value), right);
        }
    }
}
