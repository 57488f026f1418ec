//! Variants of the vehicle, and what is for one of them only.

use super::{Resolver, What};
use crate::procedure::code::Code;
use crate::procedure::model::{Step, Variant, VariantIx};
use crate::procedure::written::{Text, Written};

impl Resolver<'_, '_> {
    /// The variant that something is for.
    pub(super) fn only(&mut self, only: &Option<Text>) -> Option<VariantIx> {
        only.as_ref().and_then(|id| self.find(What::Variant, id)).map(VariantIx)
    }

    /// The variants, each of which has steps and measures what others count from.
    pub(super) fn variants(&mut self, written: &Written, steps: &[Step]) -> Vec<Variant> {
        if let [alone] = &written.variant[..] {
            let right = "Write the other one as well, or take this one out";
            self.report(Code::VariantUnfit, alone.id.span.clone(), "the vehicle has one variant only", right);
        }
        for (ix, variant) in written.variant.iter().enumerate() {
            if !steps.is_empty() && steps.iter().all(|step| step.only.is_some_and(|only| only.0 != ix)) {
                let what = format!("no step is for the variant \"{}\"", variant.id.value);
                let right = "Write the steps for it; a step without \"only\" is for all";
                self.report(Code::VariantUnfit, variant.id.span.clone(), what, right);
            }
        }
        for step in written.step.iter().filter(|step| step.only.is_some()) {
            for name in step.acts.iter().filter_map(|act| act.value.name.as_deref()) {
                let what = format!("\"{}\" is measured in one variant only, and others may count from it", name.value);
                let right = "Measure it in a step for all, or leave its name out";
                self.report(Code::VariantUnfit, name.span.clone(), what, right);
            }
        }
        let variant =
            |v: &crate::procedure::written::Thing| Variant { id: v.id.value.clone(), name: v.name.value.clone() };
        written.variant.iter().map(variant).collect()
    }
}
