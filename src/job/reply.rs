//! What a job answers: facts to be put into words by `dialogue`, never words of its own.

use super::answer::Answer;
use super::asked::Question;
use super::at::At;
use super::fact::Fact;
use super::ledger::ItemState;
use super::pending::{Counted, On, Pending, Remedy};
use super::refusal::Refusal;
use super::verdict::Verdict;
use crate::procedure::{Bounds, Caution, FastenerIx, Phase, VariantIx};
use crate::quantity::Quantity;

/// The answer to one command.
#[derive(Debug, Clone, PartialEq)]
pub struct Reply {
    /// What to say, in order. Never empty.
    pub says: Vec<Say>,
    /// Did the command change the job? Then it belongs into the journal.
    pub recorded: bool,
    /// Does it put something to the user that has to be heard to its end before it can be claimed? Then whoever speaks
    /// tells [`super::Job::announced`].
    pub announces: bool,
}

/// One thing to say. Steps, stages and items count from 0 here; words count from 1.
#[derive(Debug, Clone, PartialEq)]
pub enum Say {
    /// A job begins: title, vehicle, deference to the maker's manual, source of the values and its note.
    Opening,
    /// The variant of the vehicle that was chosen, said back.
    Variant(VariantIx),
    /// A job is taken up again, last worked on at that moment.
    Resumed {
        /// When the last fact was recorded.
        last: At,
    },
    /// The job was put down for now.
    Paused,
    /// The job is closed; so many open points were confirmed as open.
    Closed {
        /// How many points stay open.
        open: usize,
    },
    /// A caution to give before the step.
    Caution(Caution),
    /// A standing caution, repeated.
    Standing(Caution),
    /// A standing caution whose cause begins within the step, before more is done in it.
    Forewarning(Caution),
    /// The step, with its sentence.
    Step {
        /// Which step.
        step: usize,
        /// Set when it is the first step of a phase to be entered.
        phase: Option<Phase>,
    },
    /// Short answer to "where am I": the step, and what is pending comes after it.
    Where {
        /// Which step.
        step: usize,
        /// Of how many.
        steps: usize,
    },
    /// Another round of steps that are done until a question is answered with yes: it begins, or the job stands in it.
    Round {
        /// The step that asks.
        step: usize,
        /// Which round, from 1.
        round: u32,
    },
    /// The stage to be done now.
    Pending(Pending),
    /// What the book says of this group is told first; nothing of it is tightened before.
    Untold {
        /// Which group.
        group: FastenerIx,
    },
    /// What was told of this group is what the job goes by now.
    BookTold {
        /// Which group.
        group: FastenerIx,
    },
    /// The reading that is awaited now, for a measurement whose limits count from another one.
    AwaitCounted {
        /// Step and act that hold the [`crate::procedure::Measurement`].
        step: usize,
        /// Index into the acts of the step.
        act: usize,
        /// Between which values it must lie.
        limits: Bounds,
        /// What they are made of.
        counted: Counted,
    },
    /// The reading that is awaited now, for a measurement.
    AwaitMeasure {
        /// Step and act that hold the [`crate::procedure::Measurement`].
        step: usize,
        /// Index into the acts of the step.
        act: usize,
    },
    /// All items of an act reached the stage asked for.
    GroupDone {
        /// Which group.
        group: FastenerIx,
        /// How many items.
        items: usize,
        /// Their state now: `Final`, `AtStage` or `HandStarted`.
        state: ItemState,
    },
    /// A reading was recorded for a stage or measurement.
    ReadingTaken {
        /// The reading.
        value: Quantity,
        /// Where it lies.
        verdict: Verdict,
        /// The tool that sent it, if nobody said it.
        from: Option<String>,
        /// What it was held against.
        limits: Bounds,
    },
    /// A number that was recorded was put right.
    Corrected {
        /// What it belongs to.
        fact: Fact,
        /// The number until now.
        was: Quantity,
        /// The number from now on.
        value: Quantity,
        /// Where it lies.
        verdict: Verdict,
        /// What it was held against.
        limits: Bounds,
    },
    /// A measurement lies outside its limits: what the book says to do.
    OutsideLimits {
        /// Step and act that hold the measurement.
        step: usize,
        /// Index into the acts of the step.
        act: usize,
    },
    /// A group is tightened, and what locks it is to be fitted now; then "done".
    Lock {
        /// Which group.
        group: FastenerIx,
    },
    /// The step is done, and it is the last.
    LastStepDone,
    /// A fact was taken back.
    TakenBack(Fact),
    /// An angle stage that was taken back counts as in doubt, since the turn cannot be unmade.
    NowInDoubt(Pending),
    /// What to do with an item in doubt, scrapped or tightened too far, before its programme starts again; then "done".
    Remedy {
        /// Which group.
        group: FastenerIx,
        /// Which item.
        item: usize,
        /// What has to be done to it.
        remedy: Remedy,
    },
    /// A fastener is no longer fit for use, and the step in hand does not fit a new one: that comes later.
    Scrapped {
        /// Which group.
        group: FastenerIx,
        /// Which item.
        item: usize,
    },
    /// Steps that were done are open again, because what was done now undoes their work.
    OpenAgain {
        /// Which steps.
        steps: Vec<usize>,
    },
    /// A mark was put into the record at this step.
    Marked {
        /// Which step.
        step: usize,
    },
    /// A note was put into the record at this step.
    Noted {
        /// Which step.
        step: usize,
    },
    /// The time that there is for a step, from an earlier one on.
    Within {
        /// Which step.
        step: usize,
    },
    /// The same, where the program was away since it began to run: only the user knows whether there is time left.
    WithinUnwatched {
        /// Which step.
        step: usize,
    },
    /// Steps that are due only after the job is closed.
    DueLater {
        /// Which steps. Never empty.
        steps: Vec<usize>,
    },
    /// Steps that are passed over, because what they are done after did not come about.
    NotNeeded {
        /// Which steps. Never empty.
        steps: Vec<usize>,
    },
    /// Steps that are passed over, because it is not known whether they are to be done.
    Undecided {
        /// Which steps. Never empty.
        steps: Vec<usize>,
        /// What they depend on.
        on: On,
    },
    /// A step was left open.
    Skipped {
        /// Which step.
        step: usize,
    },
    /// Nothing was changed after "no".
    LeftAsItIs,
    /// A reading that waited for an answer was not recorded.
    NotLogged {
        /// The reading.
        value: Quantity,
    },
    /// A timer runs.
    TimerStarted {
        /// Its minutes.
        minutes: u32,
    },
    /// A timer has run out.
    TimeUp,
    /// The job was taken up again, and this much is left on a timer by what the program saw of it.
    TimerLeft {
        /// Minutes, rounded up.
        minutes: u32,
    },
    /// The machine's clock was set since the last entry.
    ClockSet,
    /// A question to be answered by yes or no, or as it says.
    Question(Question),
    /// The command cannot be followed, and why.
    Refused(Refusal),
    /// An answer to a question of the user.
    Answer(Answer),
}
