//! What can be told while something is taken apart, and what is kept of it.

use crate::job::{self, At, Note, Stake};
use crate::procedure::ToldOrder;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// What a fastener is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// A bolt.
    Bolt,
    /// A screw.
    Screw,
    /// A nut.
    Nut,
    /// A stud.
    Stud,
    /// An electrical connector.
    Connector,
    /// A clip.
    Clip,
    /// A hose.
    Hose,
    /// A pipe.
    Pipe,
    /// A cover.
    Cover,
    /// A bracket.
    Bracket,
    /// A wheel.
    Wheel,
    /// Any other part.
    Part,
}

/// How a thing is held, which decides what can become of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Class {
    /// Screwed: it is counted, sized and tightened again.
    Fastener,
    /// Plugged or clipped: opened and closed.
    Connection,
    /// Taken off or hung up, and put on again.
    Part,
}

impl Kind {
    /// All of them, with the key that the language file knows them by.
    pub const ALL: [(&'static str, Kind); 12] = [
        ("bolt", Kind::Bolt),
        ("screw", Kind::Screw),
        ("nut", Kind::Nut),
        ("stud", Kind::Stud),
        ("connector", Kind::Connector),
        ("clip", Kind::Clip),
        ("hose", Kind::Hose),
        ("pipe", Kind::Pipe),
        ("cover", Kind::Cover),
        ("bracket", Kind::Bracket),
        ("wheel", Kind::Wheel),
        ("part", Kind::Part),
    ];

    /// How such a thing is held.
    pub fn class(self) -> Class {
        match self {
            Kind::Bolt | Kind::Screw | Kind::Nut | Kind::Stud => Class::Fastener,
            Kind::Connector | Kind::Clip | Kind::Hose | Kind::Pipe => Class::Connection,
            Kind::Cover | Kind::Bracket | Kind::Wheel | Kind::Part => Class::Part,
        }
    }
}

/// Things of one kind, as many as were counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Things {
    /// How many; never none.
    pub count: u32,
    /// What they are.
    pub kind: Kind,
}

/// More of one kind at once are not counted by ear.
pub const MOST: u32 = 40;

/// What was done to fasteners.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Deed {
    /// Taken out.
    Out,
    /// Loosened, still in.
    StillIn,
    /// Unscrewed, but stuck behind something.
    Stuck,
    /// Put back to hold.
    Held,
}

/// What a thing is called.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Name {
    /// As it was typed.
    Typed(String),
    /// As it was said: the recording is the name, and words that were made of it are a draft for whoever edits the file.
    Sound {
        /// The file, below the folder of the job.
        file: String,
        /// How long it is.
        milliseconds: u64,
        /// What a listener made of it.
        draft: Option<String>,
    },
}

impl Name {
    /// Its words, as far as there are any.
    pub fn words(&self) -> Option<&str> {
        match self {
            Name::Typed(text) => Some(text),
            Name::Sound { draft, .. } => draft.as_deref(),
        }
    }
}

/// What is told.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Command {
    /// A stand, chock or jack was put in place.
    Supported,
    /// The vehicle stands on its wheels, and nothing has to hold it.
    OnWheels,
    /// Fasteners were taken out, or loosened and are still in.
    Fasteners {
        /// How many, of which kind.
        things: Things,
        /// Width across flats, in millimetres, if it was said.
        size: Option<Decimal>,
        /// What was done: [`Deed::Out`] or [`Deed::StillIn`].
        deed: Deed,
    },
    /// Plugs, clips, hoses or pipes were opened.
    Opened(Things),
    /// Parts were taken off.
    TakenOff(Things),
    /// The part told last hangs; without one, another part does.
    HungUp,
    /// Something more about fasteners that were told before.
    Changed(Deed),
    /// The width across flats of those told last, in millimetres.
    Size(Decimal),
    /// What the thing told last is called.
    Name(Name),
    /// It has no name.
    NoName,
    /// The name given last was not right: it is asked for again, and stands until there is another.
    Rename,
    /// Something to be kept.
    Note(Note),
    /// Takes back what was told last; asks first.
    Undo,
    /// Yes to the question asked.
    Yes,
    /// No to the question asked.
    No,
    /// No to the last one that could be meant: none of those told before it.
    NoneOfThem,
    /// That was everything: from here it goes together again. Asks first.
    Everything,
    /// Yes to that having been everything; since then the order of tightening is asked as well.
    GoesTogether,
    /// What the book says of the group asked about: stages joined by "+", as a page of values has them.
    Value {
        /// The stages.
        stages: String,
        /// Where the book says so; asked for if it was not said.
        page: Option<String>,
    },
    /// The value that a page of values has for it, taken on a yes, with where it stands.
    Offered {
        /// The stages.
        stages: String,
        /// The page, as the list has it.
        page: String,
        /// What the source of the list is called.
        title: String,
        /// Its edition.
        edition: String,
    },
    /// The page of the value taken.
    Page(String),
    /// The page is not known.
    NoPage,
    /// The order of tightening that the book has for the group asked about.
    Order(ToldOrder),
    /// The book has no value for the group asked about.
    NoValue,
    /// The value of the group asked about is looked up later.
    Later,
    /// Where it stands: what was told last, or what is asked.
    Where,
    /// What has come off.
    WhatCameOff,
    /// Puts it down for now.
    Pause,
}

/// What a command to a job means while something is taken apart, if it means anything there.
pub fn told_by(command: &job::Command) -> Option<Command> {
    Some(match command {
        job::Command::Yes => Command::Yes,
        job::Command::No => Command::No,
        job::Command::Undo => Command::Undo,
        job::Command::WhereAmI => Command::Where,
        job::Command::TakeBreak | job::Command::Pause => Command::Pause,
        // Nothing is done yet but what came off; what is asked stands behind it.
        job::Command::Ask(job::Ask::Open) => Command::WhatCameOff,
        job::Command::Note(note) => Command::Note(note.clone()),
        _ => return None,
    })
}

impl Command {
    /// What it puts at stake if it was not meant.
    pub fn stake(&self) -> Stake {
        match self {
            Command::Where | Command::WhatCameOff | Command::Note(_) => Stake::Nothing,
            Command::No | Command::NoneOfThem => Stake::Nothing,
            // These ask before they act, or leave something open that can be filled in.
            Command::Undo | Command::Everything | Command::Pause | Command::NoName | Command::Rename => Stake::Position,
            _ => Stake::Ledger,
        }
    }
}

/// What an entry says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// Something holds the vehicle.
    Support,
    /// Nothing has to.
    OnWheels,
    /// Fasteners, as they were told.
    Fasteners {
        /// How many, of which kind.
        things: Things,
        /// Width across flats in millimetres.
        size: Option<Decimal>,
        /// What was done.
        deed: Deed,
    },
    /// Opened connections.
    Opened(Things),
    /// Parts that are off, or that hang from the first.
    Part {
        /// How many, of which kind.
        things: Things,
        /// Hung up without having been off.
        hung: bool,
    },
    /// A part told before hangs now.
    Hung {
        /// Its entry.
        of: usize,
    },
    /// Fasteners told before.
    Changed {
        /// Their entry.
        of: usize,
        /// What was done.
        deed: Deed,
        /// It puts right what had just been told, and was no act of its own.
        instead: bool,
    },
    /// A note.
    Note(Note),
}

/// One entry of the log. Its number is its place, and never another's.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// What it says.
    pub what: What,
    /// When it was told.
    pub at: At,
    /// What it is called.
    pub name: Option<Name>,
    /// It was taken back.
    pub taken_back: bool,
}

/// How a group goes together again, as far as it was answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answered {
    /// What the book says: stages, as a page of values has them.
    Value(String),
    /// The book has no value.
    NoValue,
    /// It is looked up later.
    Later,
    /// The page of the value; nothing where it is not known.
    Page(Option<String>),
    /// The page of a value that a list had, with the source of that list.
    Listed {
        /// The page.
        page: String,
        /// The title of the source.
        title: String,
        /// Its edition.
        edition: String,
    },
    /// The order of tightening.
    Order(ToldOrder),
    /// All go through a stage before the next stage begins.
    StageByStage(bool),
    /// New ones go in.
    New(bool),
    /// That was all for the book.
    Whole,
}

/// What waits for an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Question {
    /// What holds the vehicle.
    Support,
    /// What an entry is called.
    Name(usize),
    /// Is it these fasteners that something more was done to?
    Changed {
        /// Their entry.
        of: usize,
        /// What was done.
        deed: Deed,
    },
    /// Is it this part that hangs?
    Hung(usize),
    /// Have these fasteners this width, and not the one that was told?
    Width {
        /// Their entry.
        of: usize,
        /// The width.
        size: Decimal,
    },
    /// Shall this be taken back?
    Undo(usize),
    /// Was that everything?
    Everything,
    /// What does the book say of this group?
    Value(usize),
    /// On which page?
    Page(usize),
    /// In which order is this group tightened?
    Order(usize),
    /// Do all go through a stage before the next one begins?
    Runs(usize),
    /// Do new ones go in?
    New(usize),
    /// Is that all for the book?
    Whole,
}

impl Question {
    /// Does "yes" answer it?
    pub fn is_yes_no(self) -> bool {
        match self {
            Question::Support | Question::Name(_) | Question::Value(_) | Question::Page(_) | Question::Order(_) => {
                false
            }
            Question::Changed { .. } | Question::Hung(_) | Question::Undo(_) | Question::Everything => true,
            Question::Width { .. } | Question::Runs(_) | Question::New(_) | Question::Whole => true,
        }
    }
}

/// What is answered. Entries are named by their number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Say {
    /// It begins.
    Opening,
    /// It is taken up again.
    Resumed,
    /// An entry, as it was taken.
    Told(usize),
    /// A width was taken for this entry.
    Sized(usize),
    /// A name was taken for this entry.
    Named(usize),
    /// This entry stays without one.
    Unnamed(usize),
    /// A note was taken.
    Noted,
    /// What has come off, counted.
    CameOff,
    /// This entry was taken back.
    TakenBack(usize),
    /// The answer to this question was taken back.
    AnswerTakenBack(Question),
    /// What the book says of a group was taken.
    Value(usize),
    /// The page of a value was taken.
    Page(usize),
    /// The order of tightening of a group was taken.
    Order(usize),
    /// It was not everything yet: more can come off.
    GoesOn,
    /// Nothing was changed.
    LeftAsItIs,
    /// It is put down.
    Paused,
    /// All was answered: the book can be written.
    Ready,
    /// A question.
    Question(Question),
    /// Why nothing was done.
    Refused(Refused),
}

/// Why nothing was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Refused {
    /// First it must be known what holds the vehicle.
    SupportFirst,
    /// One question first.
    AnswerFirst,
    /// Nothing is asked that this answers.
    NothingAsked,
    /// There is nothing to take back.
    NothingToUndo,
    /// Nothing told so far can be in that state.
    NoSuchFasteners(Deed),
    /// Nothing was told that has a width, or a name.
    NothingToName,
    /// Nothing has come off.
    NothingOff,
    /// It goes together already.
    GoesTogether,
    /// The value cannot be read, or cannot be right.
    NoValue,
    /// That is no page.
    NoPage,
    /// So many are not two rows alike.
    NoTwoRows,
    /// A support stands under it.
    SupportStands,
    /// It stands on its wheels, and one of them was to come off.
    OnWheels,
    /// No tool is that wide.
    Width,
    /// The count is none, or too large to be sure of.
    Count,
    /// The name is empty, or too long.
    NoName,
}

/// The answer to a command.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Reply {
    /// What is said.
    pub says: Vec<Say>,
    /// It changed the log, and belongs on disk before it is said.
    pub recorded: bool,
}
