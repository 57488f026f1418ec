//! Steps that are done only after a measurement that failed, or after a "no": which measurement or question it is, and that it
//! comes before them.

use super::{Resolver, What};
use crate::procedure::code::Code;
use crate::procedure::conduct::When;
use crate::procedure::model::MeasureIx;
use crate::procedure::written::{Step, Text, Written};
use std::collections::HashSet;

impl Resolver<'_, '_> {
    /// What a step is done after, if it is not always done.
    pub(super) fn when(&mut self, steps: &[Step], ix: usize) -> Option<When> {
        let step = steps.get(ix)?;
        match (&step.if_outside, &step.if_no) {
            (Some(_), Some(no)) => {
                let right = "Keep one of them, or make two steps of it";
                self.report(
                    Code::BranchUnfit,
                    no.span.clone(),
                    "the step has both \"if_outside\" and \"if_no\"",
                    right,
                );
                None
            }
            (Some(name), None) => self.outside(steps, ix, name),
            (None, Some(id)) => self.no(steps, ix, id),
            (None, None) => None,
        }
    }

    fn outside(&mut self, steps: &[Step], ix: usize, name: &Text) -> Option<When> {
        let measurement = self.find(What::Measurement, name)?;
        let (at, n) = *self.measured_at.get(name.as_str())?;
        let act = &steps.get(at)?.acts.get(n)?.value;
        let (what, right) = if at >= ix {
            let what = format!("\"{}\" is measured no earlier than in this step", name.value);
            (what, "Put the step that measures it before this one")
        } else if act.least.is_none() && act.most.is_none() {
            let what = format!("\"{}\" has no limits that it could lie outside of", name.value);
            (what, "Give the measurement \"least\" or \"most\", and \"otherwise\"")
        } else {
            return Some(When::Outside(MeasureIx(measurement)));
        };
        self.report(Code::BranchUnfit, name.span.clone(), what, right);
        None
    }

    fn no(&mut self, steps: &[Step], ix: usize, id: &Text) -> Option<When> {
        let at = self.find(What::Step, id)?;
        let asking = steps.get(at)?;
        let only = |step: &Step| step.only.as_ref().map(|only| only.value.clone());
        let (what, right) = if at >= ix {
            let what = format!("step \"{}\" comes no earlier than this one", id.value);
            (what, "Name an earlier step, which asks the question")
        } else if asking.ask.is_none() {
            let what = format!("step \"{}\" asks nothing that could be answered with no", id.value);
            (what, "Give that step its question: ask = \"Does the lamp go out?\"")
        } else if asking.only.is_some() && only(asking) != only(&steps[ix]) {
            let what = format!("step \"{}\" is for one variant of the vehicle only, and this one is not", id.value);
            (what, "Write the same \"only\" in both")
        } else {
            return Some(When::No(at));
        };
        self.report(Code::BranchUnfit, id.span.clone(), what, right);
        None
    }

    /// Questions that no step depends on, or that stand beside another one.
    pub(super) fn branches(&mut self, written: &Written) {
        let wanted: HashSet<&str> =
            written.step.iter().filter_map(|step| Some(step.if_no.as_ref()?.as_str())).collect();
        for step in &written.step {
            let Some(ask) = &step.ask else { continue };
            let (what, right) = if step.hold.is_some() || step.until.is_some() {
                ("the step asks two questions", "Give one of them a step of its own")
            } else if !wanted.contains(step.id.as_str()) {
                let right = "Write the steps for a no with if_no, or ask with \"hold\" what must be answered with yes";
                ("no step is done after a no", right)
            } else {
                continue;
            };
            self.report(Code::BranchUnfit, ask.span.clone(), what, right);
        }
    }
}
