//! Variants of a vehicle: one book for all of them, and the book as it is for one.
//!
//! Which one it is, is chosen when the job begins. From then on the job goes by a procedure that has the steps for that
//! variant and those for all, and nobody behind this knows that there were others.

use super::model::{Act, Measurement, Named, Procedure, Step, Until, VariantIx, When, Within};
use std::collections::HashSet;

impl Procedure {
    /// Has it still to be chosen which variant this is about?
    pub fn is_undecided(&self) -> bool {
        self.variant.is_none() && !self.variants.is_empty()
    }

    /// Is something needed that is for this variant only? Before one is chosen it may be.
    pub fn applies(&self, only: Option<VariantIx>) -> bool {
        only.is_none() || self.variant.is_none() || only == self.variant
    }

    /// A name, marked with its variant while it is not chosen which one it is.
    pub fn marked(&self, name: &str, only: Option<VariantIx>) -> String {
        let variant = only.filter(|_| self.variant.is_none()).and_then(|ix| self.variants.get(ix.0));
        variant.map_or_else(|| name.to_owned(), |variant| format!("{name}, {}", variant.name))
    }

    /// The steps of a variant, by their place in the whole.
    pub(crate) fn steps_of(&self, variant: VariantIx) -> Vec<usize> {
        let is_for_it = |step: &Step| step.only.is_none_or(|only| only == variant);
        self.steps.iter().enumerate().filter(|(_, step)| is_for_it(step)).map(|(ix, _)| ix).collect()
    }

    /// The procedure as it is for one variant.
    pub fn of(&self, variant: VariantIx) -> Procedure {
        let kept = self.steps_of(variant);
        // The step that takes the place of one that may have been left out: the next one that is there.
        let now = |step: usize| kept.partition_point(|&ix| ix < step);
        // A measurement leads only where there are steps for what it may come out with.
        let led: HashSet<usize> =
            kept.iter().filter_map(|&ix| self.steps[ix].when?.measurement()).map(|ix| ix.0).collect();
        let leads = |m: &Measurement| m.leads && m.name.is_some_and(|name| led.contains(&name.0));
        let step = |&ix: &usize| {
            let mut step = self.steps[ix].clone();
            for act in &mut step.acts {
                if let Act::Measure(m) = act {
                    m.leads = leads(m);
                }
            }
            let until = step.until.map(|until| Until { from: now(until.from), ..until });
            let when = step.when.map(|when| match when {
                When::No(asking) => When::No(now(asking)),
                When::Outside(_) => when,
            });
            let within = step.within.map(|within| Within { after: now(within.after), ..within });
            Step { until, when, within, ..step }
        };
        // What others count from is measured in every variant.
        let named = self.named.iter().map(|named| Named { step: now(named.step), ..named.clone() });
        Procedure {
            variant: Some(variant),
            steps: kept.iter().map(step).collect(),
            named: named.collect(),
            ..self.clone()
        }
    }
}
