//! Which variant of the vehicle it is: asked before anything else, one after the other, and said back.
//!
//! Nothing is done before it is known, so that no step is told that is not for this vehicle. It is a fact like any other;
//! it can be taken back while nothing else has been recorded, for that belongs to the steps of the variant, taken back or not.

use super::{At, Command, Fact, Job, Ledger, Question, Refusal, Say};
use crate::procedure::VariantIx;
use std::sync::Arc;

impl Job {
    /// Has it still to be said which variant of the vehicle this is?
    pub fn is_undecided(&self) -> bool {
        self.book.is_undecided()
    }

    /// Does a command wait until the variant is known?
    pub(super) fn waits_for_variant(&self, command: &Command) -> bool {
        let passes = match command {
            Command::Open | Command::Resume | Command::Pause | Command::TakeBreak => true,
            Command::Note(_) | Command::TimeUp => true,
            Command::Yes | Command::No => self.question.is_some(),
            _ => false,
        };
        self.is_undecided() && !passes
    }

    /// What a command that waits is answered with: the question that stands, or the first one.
    pub(super) fn variant_first(&mut self) -> Vec<Say> {
        match self.question {
            Some(_) => self.answer_first(),
            None => self.ask_variant(VariantIx(0)),
        }
    }

    pub(super) fn ask_variant(&mut self, variant: VariantIx) -> Vec<Say> {
        self.ask(Question::Variant { variant })
    }

    /// It is not this one: is it the next? After the last it begins with the first.
    pub(super) fn other_variant(&mut self, VariantIx(not): VariantIx) -> Vec<Say> {
        if not + 1 < self.book.variants.len() {
            return self.ask_variant(VariantIx(not + 1));
        }
        let mut says = vec![Say::Refused(Refusal::NoVariant)];
        says.extend(self.ask_variant(VariantIx(0)));
        says
    }

    /// It is this one.
    pub(super) fn choose(&mut self, variant: VariantIx, at: At) -> Vec<Say> {
        self.go_by(Some(variant));
        self.keep(at, Fact::Variant(variant), None, Vec::new());
        let mut says = vec![Say::Variant(variant)];
        says.extend(self.enter(0));
        says
    }

    /// Would only the choice be left to be taken back, and may it not be? What was recorded, and what was confirmed on the way, is
    /// told by the numbers of the steps that this variant has, even where it was taken back.
    pub(super) fn variant_stands(&self) -> bool {
        let is_choice = |fact: &Fact| matches!(fact, Fact::Variant(_));
        let last = self.live.last().map(|&last| &self.facts[last].fact);
        last.is_some_and(is_choice) && (self.step != 0 || !self.facts.iter().all(|fact| is_choice(&fact.fact)))
    }

    /// The choice was taken back: it is asked for again.
    pub(super) fn undecided_again(&mut self) -> Vec<Say> {
        self.go_by(None);
        self.ask_variant(VariantIx(0))
    }

    fn go_by(&mut self, variant: Option<VariantIx>) {
        self.book = match variant {
            Some(variant) => Arc::new(self.whole.of(variant)),
            None => Arc::clone(&self.whole),
        };
        self.ledger = Ledger::new(&self.book);
        self.ledger.follow(self.edition);
        self.stand_at(0, None, false);
        self.said = None;
        self.mark_the_moment();
    }
}
