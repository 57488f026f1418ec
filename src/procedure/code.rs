//! The codes of the findings: one table with the weight of each and why it matters.
//!
//! A code never changes its meaning; one that is no longer given is not used again.

use super::finding::Severity;

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
    // Values.
    UnitMissing = "unit-missing", Error, "A number without its unit can be taken for another value.";
    ValueUnreadable = "value-unreadable", Error, "A value that is not understood must not be guessed.";
    ValueNotPositive = "value-not-positive", Error, "A fastener is turned by an amount greater than nothing.";
    LimitsMissing = "limits-missing", Error, "A measurement without a limit decides nothing.";
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
}

impl std::fmt::Display for Code {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.as_str())
    }
}
