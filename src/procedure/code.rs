//! The codes of the findings: one table with the weight of each and why it matters.
//!
//! A code never changes its meaning; one that is no longer given is not used again.

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// It may stay, but it could be better.
    Advice,
    /// It must be put right.
    Error,
}

macro_rules! codes {
    ($($(#[$doc:meta])* $name:ident = $text:literal, $severity:ident, $why:literal;)*) => {
        /// What sort of thing a finding is.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[non_exhaustive]
        pub enum Code {
            $(#[doc = $why] $name,)*
        }

        impl Code {
            /// All of them.
            pub const ALL: &'static [Code] = &[$(Code::$name),*];

            /// The word it is known by.
            pub fn as_str(self) -> &'static str {
                match self { $(Code::$name => $text,)* }
            }

            /// How much it weighs.
            pub fn severity(self) -> Severity {
                match self { $(Code::$name => Severity::$severity,)* }
            }

            /// Why it matters.
            pub fn why(self) -> &'static str {
                match self { $(Code::$name => $why,)* }
            }
        }
    };
}

codes! {
    // What keeps a file from being read.
    TomlSyntax = "toml-syntax", Error, "The file cannot be read past a mistake in its TOML.";
    FormatNewer = "format-newer", Error, "A newer file may mean something else by the same words, so nothing in it is trusted.";
    KeyUnknown = "key-unknown", Error, "A key that is not known would be passed over, and what it says would be lost.";
    KeyMissing = "key-missing", Error, "Without it the entry says too little to work by.";
    TypeWrong = "type-wrong", Error, "The value is not of the type that this key holds.";
    ChoiceUnknown = "choice-unknown", Error, "Only these words have a meaning here.";
    NumberRange = "number-range", Error, "The number is outside what makes sense here.";
    TextEmpty = "text-empty", Error, "An empty text would be spoken as silence.";
    NotReadable = "not-readable", Error, "The entry cannot be read.";
    // What is included.
    IncludeUnreadable = "include-unreadable", Error, "What stands there would be missing from the job.";
    IncludeUnfit = "include-unfit", Error, "What is included comes in whole and once, and changes nothing around it.";
    // Pictures.
    PictureMissing = "picture-missing", Error, "Whoever is told to look at the picture would find none.";
    // What is done for each of several places.
    EachUnfit = "each-unfit", Error, "Steps for each place become steps one after the other, each with its place, and nobody must have to guess which.";
    PlaceholderUnknown = "placeholder-unknown", Error, "What stands in braces would be spoken as it is.";
    // What is done again.
    RepeatUnfit = "repeat-unfit", Error, "Whoever goes by it must know what is done again, and which answer ends it.";
    // What is done after a failed measurement or a "no".
    BranchUnfit = "branch-unfit", Error, "Whoever goes by it must know when these steps are done and when not.";
    // Time.
    WithinUnfit = "within-unfit", Error, "Whoever has so much time must know from when on, and what to do when it is over.";
    LaterUnfit = "later-unfit", Error, "What is due only after the job is closed can leave nothing to be done in it.";
    // Variants of the vehicle.
    VariantUnfit = "variant-unfit", Error, "Whichever variant is chosen, there must be a job to do, and every value that is counted from.";
    // Values.
    UnitMissing = "unit-missing", Error, "A number without its unit can be taken for another value.";
    ValueUnreadable = "value-unreadable", Error, "A value that is not understood must not be guessed.";
    ValueNotPositive = "value-not-positive", Error, "A fastener is turned by an amount greater than nothing.";
    LimitsMissing = "limits-missing", Error, "A measurement without a limit decides nothing.";
    MeasureKind = "measure-kind", Error, "Amounts of two kinds cannot be added.";
    MeasureLater = "measure-later", Error, "Nobody could say the value, for what it counts from is not measured yet.";
    LimitsMixed = "limits-mixed", Error, "Two limits of one measurement must be in one unit, the lower one first.";
    // Names and references.
    IdForm = "id-form", Error, "Ids stand in file names, references and records, so they keep to one plain form.";
    IdTwice = "id-twice", Error, "A reference to it could mean either.";
    RefUnknown = "ref-unknown", Error, "The reference leads nowhere.";
    PlaceTwice = "place-twice", Error, "Two fasteners of a group in the same place cannot be told apart.";
    PlaceUnknown = "place-unknown", Error, "Nobody could find the fastener.";
    // Things that must say one thing and say more, or nothing.
    ActUnclear = "act-unclear", Error, "Each entry does one thing, so that the order of things is plain.";
    ActExtra = "act-extra", Error, "The key does not belong to this act, so it would be passed over.";
    StageUnclear = "stage-unclear", Error, "Each stage is one act; two angle stages are never one.";
    StageExtra = "stage-extra", Error, "The key does not belong to this stage, so it would be passed over.";
    ShareOfNothing = "share-of-nothing", Error, "A share of a torque is a value only where the whole is one.";
    StageUnknown = "stage-unknown", Error, "There is no such stage to tighten through.";
    CautionUnclear = "caution-unclear", Error, "A caution has one signal word.";
    CauseUnclear = "cause-unclear", Error, "A standing caution has one cause.";
    FinishMissing = "finish-missing", Error, "Nobody would know how the fastener is brought to its end state; a value is never made up.";
    FinishBoth = "finish-both", Error, "Either the source publishes values or it does not.";
    OrderMissing = "order-missing", Error, "The order of tightening decides whether a joint seats evenly.";
    OrderBoth = "order-both", Error, "Two orders could contradict each other.";
    OrderIncomplete = "order-incomplete", Error, "A pattern that misses a fastener leaves it loose; one that repeats it turns it twice.";
    StepsMissing = "steps-missing", Error, "A procedure without steps is no procedure.";
    MirrorAndDo = "mirror-and-do", Error, "What a mirroring step does follows from the step it mirrors.";
    MirrorLater = "mirror-later", Error, "Only what was done can be undone.";
    MirrorUnclear = "mirror-unclear", Error, "The step it mirrors does something that has no plain reverse.";
    // What becomes of things in the course of the steps.
    FastenerUnlawful = "fastener-unlawful", Error, "The fastener is not in a state in which this can be done, so a step before it is missing or in the wrong place.";
    FastenerUnfinished = "fastener-unfinished", Error, "It was loosened or taken out and would be left so.";
    FastenerHandTight = "fastener-hand-tight", Error, "A fastener left hand-tight works loose on the road.";
    FastenerHalfDone = "fastener-half-done", Error, "A programme that stops before its last stage leaves the joint without its clamp load.";
    FastenerHolding = "fastener-holding", Error, "A fastener put back only to hold things together does not carry the load of the road.";
    SupportUnlawful = "support-unlawful", Error, "A support is placed once and taken away once, in that order.";
    SupportLeft = "support-left", Error, "A chock or stand left in place stays under the vehicle when it is driven off.";
    ComponentUnlawful = "component-unlawful", Error, "What is off cannot be taken off, and what is on cannot be put on.";
    ComponentHung = "component-hung", Error, "What is hung up must be fitted again.";
    ComponentOff = "component-off", Error, "What is taken off must be put on again.";
    ConnectionUnlawful = "connection-unlawful", Error, "What is open cannot be opened, and what is closed cannot be closed.";
    ConnectionOpen = "connection-open", Error, "A plug or line left open fails on the road.";
    ConditionUnlawful = "condition-unlawful", Error, "The vehicle is brought into a state before it is taken out of it.";
    ConditionUnmet = "condition-unmet", Error, "The step or stage waits for a state that no step before it brings about.";
    PartMissing = "part-missing", Error, "A single-use fastener that is not bought new is put back old.";
    PartCount = "part-count", Error, "One new fastener too few is found out when the vehicle stands in pieces.";
    PhaseOrder = "phase-order", Advice, "Phases tell where the job stands; going back to an earlier one confuses that.";
    ThingUnused = "thing-unused", Advice, "What no step uses was forgotten, or need not be here.";
    FastenerMixed = "fastener-mixed", Advice, "Fasteners that one act works on come to it in one state; those that differ were forgotten before.";
    PlaceUntouched = "place-untouched", Advice, "A fastener of a group that is forgotten stays as it was found, and nothing later shows it.";
    StepDoubled = "step-doubled", Advice, "A step written twice by mistake is done twice.";
    StandingLeft = "standing-left", Advice, "What a caution warns of would go on after the job is closed.";
    ConditionLeft = "condition-left", Advice, "What was switched on or connected for a test stays so when the vehicle is handed back.";
    NotJudged = "not-judged", Advice, "Whether it helped shows only when it is measured again.";
    StandingNever = "standing-never", Advice, "The cause of the caution never comes about, so it is never spoken.";
    // Values that cannot be right.
    AlsoDisagrees = "also-disagrees", Error, "Two units were given for one value and they disagree by more than rounding, so one of them is wrong.";
    AlsoRounded = "also-rounded", Advice, "The source rounded one of the two more than the other. The first is the one that is said.";
    TorqueImplausible = "torque-implausible", Error, "The torque does not fit the thread and property class; a digit or a unit may be wrong. This is a test of plausibility only; the value of the source stands.";
    TorqueFalls = "torque-falls", Error, "A fastener that is tighter already does not move at a lower torque, so a digit is wrong or a slackening is missing.";
    WindowWide = "window-wide", Advice, "A window this wide decides nothing; a digit of one of its ends may be wrong.";
    WindowNarrow = "window-narrow", Advice, "Nothing is set or read as closely as that, so a digit of one of its ends may be wrong.";
    LimitsFar = "limits-far", Advice, "One limit far off from all its like may have a digit or a unit wrong.";
    LimitsApart = "limits-apart", Advice, "No reading lies within both, though it is the same that is measured.";
    SumUnfit = "sum-unfit", Error, "What is chosen by it would bring what it is chosen for out of its limits, so a sign or a digit is wrong.";
    SumBelowZero = "sum-below-zero", Error, "Nothing is tightened or measured to less than nothing, so a sign or a digit is wrong.";
    SumBackwards = "sum-backwards", Advice, "What fills a gap is thicker where the gap is wider.";
    StockOdd = "stock-odd", Advice, "A size that breaks the row of the others was copied wrong, or is not there.";
    AngleImplausible = "angle-implausible", Error, "No tightening stage turns a fastener by more than a whole turn.";
    AngleNoSnug = "angle-no-snug", Error, "An angle counts from a seated joint; without a torque before it, it means nothing.";
    FinishLoose = "finish-loose", Error, "The programme ends with the fastener loosened.";
    LockNone = "lock-none", Error, "Nobody is told what to lock it with.";
    FastenerUnlocked = "fastener-unlocked", Error, "A fastener with nothing in it that locks it turns loose on the road.";
    SlotNotLast = "slot-not-last", Error, "What turns it after that takes the slot away from the hole.";
    OverSingleUse = "over-single-use", Error, "A single-use fastener that was tightened too far has stretched; it is renewed, not used again.";
    SourceMissing = "source-missing", Error, "Every value must be traceable to its page.";
    ThreadUnreadable = "thread-unreadable", Advice, "Without thread and class the torque cannot be tested for plausibility.";
    TorqueUnguarded = "torque-unguarded", Advice, "Nothing in the file would show a typing error in this value.";
    PreparationMissing = "preparation-missing", Advice, "A torque holds only for the state of the thread that it was published for.";
    ToolMissing = "tool-missing", Advice, "Asked for the tool, the assistant could only give the drive size.";
    // Pages of values.
    ValueTwice = "value-twice", Error, "Asked by this name, either could be meant.";
    PageTwice = "page-twice", Advice, "Asked for its source, only the first page of a value is told.";
    ValueNegative = "value-negative", Advice, "A minus is soon typed, and few values are less than nothing.";
    NameUnheard = "name-unheard", Error, "A value is asked by the words of its name, so the words must tell it from all others.";
    WordUnheard = "word-unheard", Advice, "The recogniser knows only the words of its list, so the value can be asked for by typing alone.";
    // Drafting.
    RebuildThere = "rebuild-there", Error, "A second rebuild beside the first would fit everything twice.";
    // Words.
    WarningLate = "warning-late", Error, "A warning that comes after the act comes too late.";
    SayLong = "say-long", Advice, "ASD-STE100 allows 20 words in a sentence of instruction; longer ones are not kept in mind while working.";
    SayTwo = "say-two", Advice, "ASD-STE100 puts one instruction into a sentence; the second one is missed in noise.";
    WordUnsayable = "word-unsayable", Advice, "The voice would spell it, or say something else.";
    SoundsAlike = "sounds-alike", Advice, "Two names that sound alike cannot be told apart by ear.";
}

impl std::fmt::Display for Code {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.as_str())
    }
}
