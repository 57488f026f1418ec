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

/// What a command about the talk concerns, which says where it may be given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Concern {
    /// How it is spoken and listened: wherever somebody talks with the program.
    Talking,
    /// A note: where there is something to keep it with.
    Note,
    /// The user's tools: where there is a job.
    Tools,
}

impl Talk {
    /// What it concerns.
    pub fn concern(self) -> Concern {
        match self {
            Talk::Repeat
            | Talk::Help
            | Talk::Slower
            | Talk::Faster
            | Talk::Louder
            | Talk::Quieter
            | Talk::Quiet
            | Talk::StopListening
            | Talk::StartListening => Concern::Talking,
            Talk::StartNote | Talk::EndNote => Concern::Note,
            Talk::LayOut | Talk::Adapter(_) | Talk::AdapterAngle(_) | Talk::NoAdapter => Concern::Tools,
        }
    }
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

/// The key of readings.
pub(super) const READING: &str = "reading";

/// The key of values asked by name.
pub(super) const VALUE_OF: &str = "value_of";

/// A row of the table: one meaning.
pub(super) struct Row {
    /// Its key in the language file, in `[phrases]` and `[typed]`.
    pub key: &'static str,
    /// What it means.
    pub shape: Shape,
    /// In which states of a job it may be said.
    when: fn(&Expect) -> bool,
}

impl Row {
    /// May it be said in this state?
    pub fn allowed(&self, expect: &Expect) -> bool {
        (self.when)(expect)
    }
}

const fn row(key: &'static str, shape: Shape, when: fn(&Expect) -> bool) -> Row {
    Row { key, shape, when }
}

const ALWAYS: fn(&Expect) -> bool = |_| true;
const FASTENER: fn(&Expect) -> bool = |e| e.fastener;
/// Not by the state of the job: pages of values allow it, or it ends a state of the talk and is offered in no other.
const NEVER: fn(&Expect) -> bool = |_| false;

/// Everything that can be said about a job and the talk, one row each, in the order in which help lists it. What may be said in a
/// state, what is typed, help, the learning of a voice, the denied forms and the check of a language file follow from it; what is
/// at stake, and with it what a mistake costs, is the command's ([`Meaning::stake`]).
pub(super) const MEANINGS: &[Row] = &[
    row("place", Shape::Place, |e| !e.places.is_empty()),
    row("yes", command(Command::Yes), |e| e.yes_no),
    row("no", command(Command::No), |e| e.yes_no),
    row("not_begun", command(Command::NotBegun), |e| e.angle),
    row("finished", command(Command::Finished), |e| e.angle),
    row("done", command(Command::Done), ALWAYS),
    row(READING, Shape::Reading, |e| e.reading.is_some()),
    row("next", command(Command::Next), ALWAYS),
    row("value", ask(Ask::Value), |e| e.fastener || e.reading.is_some()),
    row("repeat", talk(Talk::Repeat), ALWAYS),
    row("which", ask(Ask::Which), FASTENER),
    row("size", ask(Ask::Size), FASTENER),
    row("tool", ask(Ask::Tool), FASTENER),
    row("how_many_left", ask(Ask::HowManyLeft), ALWAYS),
    row("back", command(Command::Back), ALWAYS),
    row("go_to", Shape::GoTo, |e| e.steps > 0),
    row("where_am_i", command(Command::WhereAmI), ALWAYS),
    row("skip", command(Command::Skip), ALWAYS),
    row("in_unit", Shape::InUnit, FASTENER),
    row(VALUE_OF, Shape::ValueOf, NEVER),
    row("last_value", ask(Ask::LastValue), ALWAYS),
    row("cautions", ask(Ask::Cautions), ALWAYS),
    row("why", ask(Ask::Why), ALWAYS),
    row("source", ask(Ask::Source), ALWAYS),
    row("parts", ask(Ask::Parts), ALWAYS),
    row("open", ask(Ask::Open), ALWAYS),
    row("not_done", ask(Ask::ToDo), ALWAYS),
    row("how_long", ask(Ask::HowLong), ALWAYS),
    row("not_sure", command(Command::NotSure), |e| e.angle || e.fastener),
    row("mark", command(Command::Mark), ALWAYS),
    row("undo", command(Command::Undo), ALWAYS),
    row("correct", command(Command::Correct), ALWAYS),
    row("stuck", command(Command::Stuck), ALWAYS),
    row("broken", command(Command::Damaged(Damage::Broken)), FASTENER),
    row("stripped", command(Command::Damaged(Damage::Stripped)), FASTENER),
    row("lost", command(Command::Damaged(Damage::Lost)), FASTENER),
    row("lay_out", talk(Talk::LayOut), ALWAYS),
    row("start_note", talk(Talk::StartNote), ALWAYS),
    row("end_note", talk(Talk::EndNote), NEVER),
    row("adapter", Shape::Adapter, FASTENER),
    row("adapter_angle", Shape::AdapterAngle, FASTENER),
    row("no_adapter", talk(Talk::NoAdapter), FASTENER),
    row("timer", Shape::Timer, ALWAYS),
    row("pause", command(Command::TakeBreak), ALWAYS),
    row("finish", command(Command::Finish), ALWAYS),
    row("help", talk(Talk::Help), ALWAYS),
    row("slower", talk(Talk::Slower), ALWAYS),
    row("faster", talk(Talk::Faster), ALWAYS),
    row("louder", talk(Talk::Louder), ALWAYS),
    row("quieter", talk(Talk::Quieter), ALWAYS),
    row("quiet", talk(Talk::Quiet), ALWAYS),
    row("stop_listening", talk(Talk::StopListening), ALWAYS),
    row("start_listening", talk(Talk::StartListening), NEVER),
];

/// The row of this key.
pub(super) fn row_of(key: &str) -> Option<&'static Row> {
    MEANINGS.iter().find(|row| row.key == key)
}

/// Everything in the table that is said without a number, a unit, a place or a name, by its key.
pub fn commands() -> impl Iterator<Item = (&'static str, &'static Meaning)> {
    MEANINGS.iter().filter_map(|row| match &row.shape {
        Shape::Plain(meaning) => Some((row.key, meaning)),
        _ => None,
    })
}

impl Shape {
    /// Does it claim, move, give up or answer, so that its denied forms must stand against it?
    pub(super) fn can_be_denied(&self) -> bool {
        match self {
            Shape::GoTo | Shape::Reading | Shape::Timer | Shape::Place => true,
            Shape::InUnit | Shape::Adapter | Shape::AdapterAngle | Shape::ValueOf => false,
            Shape::Plain(meaning) => meaning.stake() > Stake::Nothing || *meaning == Meaning::Command(Command::No),
        }
    }
}
