//! Steps that are done again until a question is answered with yes: which they are, and that each is in one such round only.

use super::{Resolver, What};
use crate::procedure::code::Code;
use crate::procedure::conduct::Until;
use crate::procedure::written::{Step, Text};

impl Resolver<'_, '_> {
    /// What ends the rounds of a step, if it is done in rounds.
    pub(super) fn until(&mut self, steps: &[Step], ix: usize) -> Option<Until> {
        let step = steps.get(ix)?;
        if step.until.is_none()
            && let (Some(name), Some(id)) = (&step.if_outside, &step.again_from)
        {
            return self.until_within(steps, ix, name, id);
        }
        let Some(ask) = &step.until else {
            let at_most = step.at_most.as_ref().map(|most| &most.span);
            let keys = [("again_from", step.again_from.as_ref().map(|id| &id.span)), ("at_most", at_most)];
            let otherwise = ("otherwise", step.otherwise.as_ref().map(|text| &text.span));
            for (key, span) in keys.into_iter().chain([otherwise]) {
                let Some(span) = span else { continue };
                let right = "Write the question that ends it, such as until = \"Does the fluid come without air?\"";
                self.report(Code::RepeatUnfit, span.clone(), format!("\"{key}\" without \"until\""), right);
            }
            return None;
        };
        if let Some(hold) = &step.hold {
            let what = "the step asks two questions, \"hold\" and \"until\"";
            let right = "Give one of them a step of its own";
            self.report(Code::RepeatUnfit, hold.span.clone(), what, right);
        }
        let from = match &step.again_from {
            Some(id) => self.first(steps, ix, id)?,
            None => ix,
        };
        match (&step.at_most, &step.otherwise) {
            (Some(most), None) => {
                let right = "Write otherwise = \"what to do when it is not so by then\"";
                self.report(Code::KeyMissing, most.span.clone(), "\"at_most\" has no \"otherwise\"", right);
            }
            (None, Some(text)) => {
                let right = "Write at_most = 10, or leave \"otherwise\" out";
                self.report(Code::RepeatUnfit, text.span.clone(), "\"otherwise\" without \"at_most\"", right);
            }
            _ => {}
        }
        Some(Until {
            ask: Some(ask.value.clone()),
            from,
            at_most: step.at_most.as_ref().map(|most| most.value),
            otherwise: step.otherwise.as_ref().map(|text| text.value.clone()),
        })
    }

    /// Steps that are done again until a measurement among them lies within its limits.
    fn until_within(&mut self, steps: &[Step], ix: usize, name: &Text, id: &Text) -> Option<Until> {
        let from = self.first(steps, ix, id)?;
        let step = &steps[ix];
        let asks = step.hold.as_ref().or(step.ask.as_ref());
        let limit = step.at_most.as_ref().map(|most| &most.span).or(step.otherwise.as_ref().map(|text| &text.span));
        let measures = |step: &Step| {
            step.acts.iter().any(|act| act.value.name.as_deref().is_some_and(|named| named.value == name.value))
        };
        let (span, what, right) = if let Some(text) = asks {
            let what = "a step that leads back to a measurement asks nothing";
            (text.span.clone(), what.to_owned(), "Give the question a step of its own")
        } else if let Some(span) = limit {
            let what = "a step that leads back to a measurement does so until that is in order";
            (
                span.clone(),
                what.to_owned(),
                "Leave \"at_most\" and \"otherwise\" out, or write the question as \"until\"",
            )
        } else if !steps[from..ix].iter().any(measures) {
            let what = format!("\"{}\" is not measured again from step \"{}\" on", name.value, id.value);
            (id.span.clone(), what, "Name the step that measures it, or one before it")
        } else {
            return Some(Until { ask: None, from, at_most: None, otherwise: None });
        };
        self.report(Code::RepeatUnfit, span, what, right);
        None
    }

    /// The first step of a round, which is one that comes before, in the same phase, with no round in between.
    fn first(&mut self, steps: &[Step], ix: usize, id: &Text) -> Option<usize> {
        let from = self.find(What::Step, id)?;
        let between = steps.get(from..ix);
        let what = match between {
            None => format!("step \"{}\" comes later", id.value),
            Some(between) if between.iter().any(|step| step.until.is_some() || step.again_from.is_some()) => {
                format!("between step \"{}\" and this one others are done again already", id.value)
            }
            Some(between) if between.iter().any(|step| step.phase.value != steps[ix].phase.value) => {
                format!("step \"{}\" and this one are not in one phase", id.value)
            }
            Some(_) => return Some(from),
        };
        let right = "Name a step before this one, behind the last that has \"until\", and in the same phase";
        self.report(Code::RepeatUnfit, id.span.clone(), what, right);
        None
    }
}
