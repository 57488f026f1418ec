//! What a phrase means, by the name the language file gives it, and in which state it may be said.

use crate::job::{Ask, Command, Damage, Expect, Stake};
use crate::strip;

/// What was meant by something said or typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Meaning {
    /// A command to the job.
    Command(Command),
    /// About the talk itself; the job never hears of it.
    Talk(Talk),
    /// A value of the pages is asked for; the job never hears of that either.
    Value(Asked),
    /// Told or asked while something is taken apart, before there is a job.
    Strip(strip::Command),
    /// One of the jobs that were told to choose from, by its place in the list.
    Choose(usize),
}

/// What was asked of the pages of values.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Asked {
    /// The words of the name, as far as they were said.
    pub words: String,
    /// The entries that they name: none, one, or several to choose from.
    pub found: Vec<usize>,
    /// The words were said alone, in answer to a choice that was offered.
    pub chosen: bool,
}

impl Meaning {
    /// What it puts at stake if it was not meant.
    pub fn stake(&self) -> Stake {
        match self {
            Meaning::Command(command) => command.stake(),
            Meaning::Strip(command) => command.stake(),
            // Who is no longer listened to is left alone with the job.
            Meaning::Talk(Talk::StopListening) | Meaning::Choose(_) => Stake::Position,
            Meaning::Talk(_) | Meaning::Value(_) => Stake::Nothing,
        }
    }

    /// Is nothing claimed, moved or answered by it?
    pub fn only_asks(&self) -> bool {
        let no = matches!(self, Meaning::Command(Command::No) | Meaning::Strip(strip::Command::No));
        self.stake() == Stake::Nothing && !no
    }
}

impl From<Command> for Meaning {
    fn from(command: Command) -> Meaning {
        Meaning::Command(command)
    }
}

impl From<Talk> for Meaning {
    fn from(talk: Talk) -> Meaning {
        Meaning::Talk(talk)
    }
}

/// Commands about the talk itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Talk {
    /// Say the last thing again.
    Repeat,
    /// Say what can be said now.
    Help,
    /// Speak slower.
    Slower,
    /// Speak faster.
    Faster,
    /// Speak louder.
    Louder,
    /// Speak more quietly.
    Quieter,
    /// Stop speaking.
    Quiet,
    /// Listen only for the word to begin again.
    StopListening,
    /// Listen to everything again.
    StartListening,
    /// Say what to lay out for the job.
    LayOut,
    /// Record what is said from now on as a note.
    StartNote,
    /// The note is over.
    EndNote,
    /// Reckon with the adapter of this number in the toolbox, from 1.
    Adapter(u32),
    /// The adapter stands at so many degrees.
    AdapterAngle(u32),
    /// Reckon with no adapter.
    NoAdapter,
}

/// A meaning as the language file names it: complete, or with something to fill in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Shape {
    /// Complete.
    Plain(Meaning),
    /// To a step: a number.
    GoTo,
    /// A reading: a number, perhaps a unit.
    Reading,
    /// A timer: a number of minutes.
    Timer,
    /// The value in a unit.
    InUnit,
    /// An adapter of the toolbox: its number.
    Adapter,
    /// The angle of the adapter: a number of degrees.
    AdapterAngle,
    /// Where one of several fasteners sits.
    Place,
    /// A value of the pages: the words of a name. The state of the job does not allow it, the pages do (`named`).
    ValueOf,
}

const fn command(command: Command) -> Shape {
    Shape::Plain(Meaning::Command(command))
}

const fn ask(ask: Ask) -> Shape {
    command(Command::Ask(ask))
}

const fn talk(talk: Talk) -> Shape {
    Shape::Plain(Meaning::Talk(talk))
}

/// The key of values asked by name.
pub(super) const VALUE_OF: &str = "value_of";

/// Every key of `[phrases]`, with what it means; in the order in which help lists them.
pub(super) const MEANINGS: &[(&str, Shape)] = &[
    ("place", Shape::Place),
    ("yes", command(Command::Yes)),
    ("no", command(Command::No)),
    ("not_begun", command(Command::NotBegun)),
    ("finished", command(Command::Finished)),
    ("done", command(Command::Done)),
    ("reading", Shape::Reading),
    ("next", command(Command::Next)),
    ("value", ask(Ask::Value)),
    ("repeat", talk(Talk::Repeat)),
    ("which", ask(Ask::Which)),
    ("size", ask(Ask::Size)),
    ("tool", ask(Ask::Tool)),
    ("how_many_left", ask(Ask::HowManyLeft)),
    ("back", command(Command::Back)),
    ("go_to", Shape::GoTo),
    ("where_am_i", command(Command::WhereAmI)),
    ("skip", command(Command::Skip)),
    ("in_unit", Shape::InUnit),
    (VALUE_OF, Shape::ValueOf),
    ("last_value", ask(Ask::LastValue)),
    ("cautions", ask(Ask::Cautions)),
    ("why", ask(Ask::Why)),
    ("source", ask(Ask::Source)),
    ("parts", ask(Ask::Parts)),
    ("open", ask(Ask::Open)),
    ("not_done", ask(Ask::ToDo)),
    ("how_long", ask(Ask::HowLong)),
    ("not_sure", command(Command::NotSure)),
    ("mark", command(Command::Mark)),
    ("undo", command(Command::Undo)),
    ("correct", command(Command::Correct)),
    ("stuck", command(Command::Stuck)),
    ("broken", command(Command::Damaged(Damage::Broken))),
    ("stripped", command(Command::Damaged(Damage::Stripped))),
    ("lost", command(Command::Damaged(Damage::Lost))),
    ("lay_out", talk(Talk::LayOut)),
    ("start_note", talk(Talk::StartNote)),
    ("end_note", talk(Talk::EndNote)),
    ("adapter", Shape::Adapter),
    ("adapter_angle", Shape::AdapterAngle),
    ("no_adapter", talk(Talk::NoAdapter)),
    ("timer", Shape::Timer),
    ("pause", command(Command::TakeBreak)),
    ("finish", command(Command::Finish)),
    ("help", talk(Talk::Help)),
    ("slower", talk(Talk::Slower)),
    ("faster", talk(Talk::Faster)),
    ("louder", talk(Talk::Louder)),
    ("quieter", talk(Talk::Quieter)),
    ("quiet", talk(Talk::Quiet)),
    ("stop_listening", talk(Talk::StopListening)),
    ("start_listening", talk(Talk::StartListening)),
];

impl Shape {
    /// Does it claim, move, give up or answer, so that its denied forms must stand against it?
    pub(super) fn can_be_denied(&self) -> bool {
        match self {
            Shape::GoTo | Shape::Reading | Shape::Timer | Shape::Place => true,
            Shape::InUnit | Shape::Adapter | Shape::AdapterAngle | Shape::ValueOf => false,
            Shape::Plain(meaning) => meaning.stake() > Stake::Nothing || *meaning == Meaning::Command(Command::No),
        }
    }

    /// May it be said in this state?
    pub(super) fn allowed(&self, expect: &Expect) -> bool {
        match self {
            Shape::GoTo => expect.steps > 0,
            Shape::Reading => expect.reading.is_some(),
            Shape::Timer => true,
            Shape::InUnit | Shape::Adapter | Shape::AdapterAngle => expect.fastener,
            Shape::Place => !expect.places.is_empty(),
            Shape::ValueOf => false,
            Shape::Plain(Meaning::Value(_) | Meaning::Strip(_) | Meaning::Choose(_)) => false,
            Shape::Plain(Meaning::Talk(Talk::NoAdapter)) => expect.fastener,
            // Each ends a state of its own, and is offered in no other.
            Shape::Plain(Meaning::Talk(talk)) => !matches!(talk, Talk::StartListening | Talk::EndNote),
            Shape::Plain(Meaning::Command(command)) => match command {
                Command::Yes | Command::No => expect.yes_no,
                Command::NotBegun | Command::Finished => expect.angle,
                Command::NotSure => expect.angle || expect.fastener,
                Command::Ask(Ask::Value) => expect.fastener || expect.reading.is_some(),
                Command::Ask(Ask::Size | Ask::Tool | Ask::Which) | Command::Damaged(_) => expect.fastener,
                _ => true,
            },
        }
    }
}
