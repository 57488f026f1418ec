//! What a job answers: facts to be put into words by `dialogue`, never words of its own.

use super::answer::Answer;
use super::at::At;
use super::command::Damage;
use super::fact::Fact;
use super::ledger::{Item, ItemState};
use super::open::Open;
use super::pending::{Counted, Pending, Remedy};
use super::refusal::Refusal;
use super::verdict::Verdict;
use crate::procedure::{Bounds, Caution, ConditionIx, FastenerIx, Phase, SupportIx, VariantIx};
use crate::quantity::{Quantity, Unit};

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
    Ahead(Caution),
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

/// Something that steps not done would see to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Between {
    /// A support to put in place.
    Set(SupportIx),
    /// A support to take away.
    TakeAway(SupportIx),
    /// The hold point of this step.
    Hold(usize),
    /// The question that ends the rounds of this step, or on which other steps depend.
    Until(usize),
    /// A group with fasteners to tighten.
    Tighten(FastenerIx),
    /// A group with fasteners to lock.
    Lock(FastenerIx),
}

/// A question of the job to the user.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub enum Question {
    /// The hold point of this step (its own text).
    Hold {
        /// Which step.
        step: usize,
    },
    /// Is the vehicle of this variant? Asked before the first step, one after the other.
    Variant {
        /// Which one.
        variant: VariantIx,
    },
    /// Was this step done in the time that there is for it?
    InTime {
        /// Which step.
        step: usize,
        /// The reading that waits for the answer.
        #[serde(skip_serializing_if = "Option::is_none")]
        reading: Option<Waiting>,
    },
    /// Is it so (the step's own text)? Other steps are done after a "no" only.
    Ask {
        /// Which step.
        step: usize,
    },
    /// Is it so (the step's own text)? With "no" the next round begins.
    Until {
        /// Which step.
        step: usize,
        /// Which round, from 1.
        round: u32,
    },
    /// This step is done already: was it done once more?
    Again {
        /// Which step.
        step: usize,
    },
    /// Leave this step open?
    Skip {
        /// Which step.
        step: usize,
    },
    /// Go to this step, past others that are not done?
    GoTo {
        /// Which step.
        step: usize,
        /// The steps before it that are not done.
        #[serde(skip)]
        not_done: Vec<usize>,
        /// What they would see to, each once: supports first, then hold points, then groups of fasteners.
        #[serde(skip)]
        between: Vec<Between>,
    },
    /// Take back this fact?
    Undo(Fact),
    /// Which number is right for this fact? With one that lies elsewhere than it should: is that right?
    Correct {
        /// The fact.
        fact: Fact,
        /// The number it was recorded with.
        was: Quantity,
        /// What the new number is held against, once there is one.
        #[serde(skip)]
        limits: Bounds,
        /// What was heard, where it lies, and whether it is so far off that it was probably misheard.
        value: Option<(Quantity, Verdict, bool)>,
    },
    /// The claim of a turn was taken back as soon as it was made, and the fastener is in doubt for it: was it turned at all?
    Turned {
        /// The stage.
        pending: Pending,
        /// The fastener as it was before the claim.
        before: Box<Item>,
    },
    /// Put the job down for now?
    Pause {
        /// The question that stood, and stands again after "no".
        instead: Option<Box<Question>>,
    },
    /// An angle stage was interrupted: not started, finished, or not sure?
    Angle(Pending),
    /// A reading off the mark: is it right?
    Reading {
        /// What was heard.
        value: Quantity,
        /// Where it lies.
        verdict: Verdict,
        /// So far off that it was probably misheard.
        far: bool,
        /// The tool that sent it, if nobody said it.
        #[serde(skip_serializing_if = "Option::is_none")]
        from: Option<String>,
        /// What it is held against.
        #[serde(skip)]
        limits: Bounds,
    },
    /// A number without a unit does not fit in the unit heard last and would fit in another: is it that one?
    Unit {
        /// The number in the unit in which it would fit.
        value: Quantity,
        /// The unit heard last.
        not: Unit,
    },
    /// Leave this measurement outside its limits?
    LeaveOutside {
        /// Which step.
        step: usize,
        /// Index into the acts of the step.
        act: usize,
        /// The last reading.
        value: Quantity,
    },
    /// Is this fastener broken, stripped, lost?
    Damaged {
        /// Which group.
        group: FastenerIx,
        /// Which item.
        item: usize,
        /// What happened to it.
        damage: Damage,
    },
    /// The step or stage waits for this state of the vehicle, and no step is left that brings it there: is it so?
    State(ConditionIx),
    /// Which fastener is broken, stripped, lost? Answered by [`super::Command::Place`].
    Which {
        /// What happened to it.
        damage: Damage,
        /// Group and item of each that it can be, named in this order by [`super::Expect::places`].
        choices: Vec<(FastenerIx, usize)>,
    },
    /// Close the job although these points of one kind are open? Asked kind by kind; empty: close the job?
    Finish {
        /// The points asked about now, all of one kind.
        open: Vec<Open>,
    },
    /// The step asks for time to pass; so many minutes are left. Has it passed?
    Wait {
        /// Minutes still to pass, of the time that the program watched.
        minutes_left: u32,
        /// The program was away since the wait began, so more of it may have passed.
        unwatched: bool,
    },
}

/// A reading that is not recorded before a question about it is answered.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Waiting {
    /// The reading.
    pub value: Quantity,
    /// The tool that sent it, if nobody said it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
}

/// What decides whether a step is to be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum On {
    /// Where this measurement lies.
    Measurement {
        /// Which step.
        step: usize,
        /// Index into the acts of the step.
        act: usize,
    },
    /// The answer to the question of a step.
    Answer {
        /// Which step.
        step: usize,
    },
}
