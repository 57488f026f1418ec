//! Written words for the things of one job, for documents and pages.
//!
//! The same words as in the sentences, one by one: a record and a spoken answer call a state by the same name.

use super::file::Language;
use super::render::{phase_key, signal_key};
use super::values::Teller;
use super::{Manner, Sentence};
use crate::job::{Fact, Item, ItemState, Open, Pending, Say};
use crate::procedure::{Bounds, FastenerIx, MeasureIx, Measurement, Phase, Procedure, Signal, StageKind};
use crate::quantity::{Limits, Quantity, Torque};
use crate::toolbox::Uncovered;

/// The written words of one language for one procedure.
pub struct Words<'a> {
    teller: Teller<'a>,
}

impl Language {
    /// The written words for a procedure.
    pub fn words<'a>(&'a self, book: &'a Procedure, manner: &'a Manner) -> Words<'a> {
        Words { teller: Teller { language: self, book, manner, spoken: false } }
    }
}

impl Words<'_> {
    /// A word or line of a page, by its key in `[labels]`.
    pub fn label(&self, key: &str) -> &str {
        self.teller.language.label(key)
    }

    /// Tag of the language.
    pub fn tag(&self) -> &str {
        self.teller.language.tag()
    }

    /// A fastener by name and place.
    pub fn item(&self, group: FastenerIx, item: usize) -> String {
        self.teller.item(group, item)
    }

    /// The state of a fastener.
    pub fn item_state(&self, group: FastenerIx, state: ItemState) -> String {
        self.teller.item_state(group, state)
    }

    /// The state of a fastener as the ledger has it, that it was tightened too far with it.
    pub fn item_as_it_is(&self, group: FastenerIx, item: usize, entry: &Item) -> String {
        self.teller.item_as_it_is(group, item, entry)
    }

    /// A fact.
    pub fn fact(&self, fact: &Fact) -> String {
        self.teller.fact(fact)
    }

    /// A point that is open.
    pub fn open(&self, open: &Open) -> String {
        self.teller.open(open)
    }

    /// What a stage asks for, in the unit of the user first if they have chosen one.
    pub fn stage(&self, pending: &Pending) -> String {
        self.teller.act(pending, self.teller.manner.unit)
    }

    /// The torque of a stage that has one, as it stands in it.
    pub fn torque_of(&self, pending: &Pending) -> Option<String> {
        let Some(StageKind::Torque(torque)) = &pending.kind else { return None };
        let (teller, unit) = (&self.teller, self.teller.manner.unit);
        let stage = teller.book.fasteners[pending.group.0].finish.stage(pending.stage);
        let published = stage.is_none_or(|stage| stage.from.is_none() && stage.share.is_none());
        Some(if published { teller.torque(torque, unit) } else { teller.torque_counted(torque, unit) })
    }

    /// What a stage waits for, if it must not be done yet.
    pub fn once(&self, pending: &Pending) -> Option<String> {
        self.teller.once(pending)
    }

    /// The angle of a stage that turns by one.
    pub fn angle_of(&self, pending: &Pending) -> Option<String> {
        match &pending.kind {
            Some(StageKind::Angle(angle)) => Some(self.teller.angle(angle)),
            Some(StageKind::BackOff(limits)) => Some(self.teller.angle_up_to(limits)),
            Some(StageKind::Slot(most)) => Some(self.teller.angle_at_most(*most)),
            _ => None,
        }
    }

    /// One amount.
    pub fn quantity(&self, quantity: Quantity) -> String {
        self.teller.quantity(quantity)
    }

    /// A torque that counts from a measurement, before that is taken.
    pub fn counted(&self, from: MeasureIx, by: &Limits<Torque>) -> String {
        self.teller.torque_added(from, by)
    }

    /// Between which values a measurement must lie, as the book has it.
    pub fn bounds_of(&self, measurement: &Measurement) -> String {
        self.teller.bounds_of(measurement)
    }

    /// Between which values a measurement must lie.
    pub fn bounds(&self, bounds: &Bounds) -> String {
        self.teller.bounds(bounds)
    }

    /// So many minutes.
    pub fn minutes(&self, minutes: u32) -> String {
        self.teller.minutes(minutes)
    }

    /// How long so many minutes of work are, in hours and minutes.
    pub fn work_time(&self, minutes: u32) -> String {
        self.teller.work_time(minutes)
    }

    /// The name of a phase.
    pub fn phase(&self, phase: Phase) -> &str {
        self.teller.language.word(phase_key(phase))
    }

    /// A signal word.
    pub fn signal(&self, signal: Signal) -> &str {
        self.teller.language.word(signal_key(signal))
    }

    /// What the job says, as it is written.
    pub fn says(&self, says: &[Say]) -> Vec<Sentence> {
        self.teller.language.render(says, self.teller.book, self.teller.manner)
    }

    /// Why no wrench covers a value.
    pub fn uncovered(&self, uncovered: &Uncovered) -> String {
        let says = [super::ToolSay::Uncovered(uncovered)];
        let said = self.teller.language.tool_says(&says, self.teller.book, self.teller.manner);
        said.into_iter().map(|s| s.written).collect::<Vec<_>>().join(" ")
    }
}
