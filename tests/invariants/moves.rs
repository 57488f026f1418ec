//! Random things to say, some of them fitting what was asked.

use proptest::prelude::*;
use rust_decimal::Decimal;
use wrenchside::dialogue::{Meaning, commands};
use wrenchside::job::{Ask, Command, Damage, Job, Note, Question, Reading};
use wrenchside::quantity::{TorqueUnit, Unit};

/// Something to say, once it is known where the job stands.
#[derive(Debug, Clone)]
pub enum Move {
    /// Just this.
    Say(Command),
    /// An answer that fits the question, if one stands; which of them, the number says. Else "done".
    Answer(u8),
    /// A number that is so many per cent of what is awaited.
    Read(u32),
    /// The number awaited, bare, where another unit was heard last; which of them, the number says.
    Bare(u8),
}

impl Move {
    /// The command it is now.
    pub fn command(&self, job: &Job) -> Command {
        match self {
            Move::Say(command) => command.clone(),
            Move::Answer(which) => answer(job, *which),
            Move::Read(percent) => {
                let awaited = job.expects().reading.map_or(Decimal::TEN, |q| q.amount());
                let amount = (awaited * Decimal::from(*percent) / Decimal::ONE_HUNDRED).round_dp(1);
                Command::Reading(Reading { amount, unit: None })
            }
            Move::Bare(which) => bare(job, *which),
        }
    }
}

fn bare(job: &Job, which: u8) -> Command {
    let newton_metre = Unit::Torque(TorqueUnit::NewtonMetre);
    let (amount, unit) = job.expects().reading.map_or((Decimal::TEN, newton_metre), |q| (q.amount(), q.unit()));
    let units = Unit::all(unit.kind());
    let heard = units[usize::from(which) % units.len()];
    Command::Number { amount, unit: heard, own: which.is_multiple_of(2).then_some(unit) }
}

fn answer(job: &Job, which: u8) -> Command {
    let yes = || if which % 4 == 3 { Command::No } else { Command::Yes };
    match job.question() {
        None => Command::Done,
        Some(Question::Angle(_)) => match which % 3 {
            0 => Command::NotBegun,
            1 => Command::Finished,
            _ => Command::NotSure,
        },
        Some(Question::Which { .. }) => Command::Place(usize::from(which) % 5),
        Some(Question::Damaged { .. }) if which % 5 == 4 => Command::Place(usize::from(which) % 3),
        // As many rounds as not.
        Some(Question::Until { .. } | Question::Ask { .. }) if which.is_multiple_of(2) => Command::No,
        Some(_) => yes(),
    }
}

fn said() -> impl Strategy<Value = Command> {
    let damage = prop_oneof![Just(Damage::Broken), Just(Damage::Stripped), Just(Damage::Lost)];
    let any = commands().filter_map(|(_, meaning)| match meaning {
        Meaning::Command(command) => Some(command.clone()),
        _ => None,
    });
    prop_oneof![
        // One of all that is said without a number or a name; some of them oftener.
        12 => prop::sample::select(any.collect::<Vec<_>>()),
        6 => Just(Command::Next),
        2 => Just(Command::Back),
        4 => (0..14u32).prop_map(Command::GoTo),
        3 => Just(Command::Skip),
        6 => Just(Command::Undo),
        5 => Just(Command::Correct),
        3 => Just(Command::Rest(Decimal::new(5, 1))),
        2 => Just(Command::Resume),
        1 => Just(Command::Pause),
        1 => Just(Command::TakeBreak),
        2 => Just(Command::NotSure),
        2 => damage.prop_map(Command::Damaged),
        1 => (0..4usize).prop_map(Command::Place),
        1 => (0..20u32).prop_map(Command::Timer),
        1 => Just(Command::TimeUp),
        1 => Just(Command::Open),
        1 => Just(Command::Number { amount: Decimal::from(52), unit: Unit::Torque(TorqueUnit::NewtonMetre), own: None }),
        1 => (0..120i64).prop_map(|amount| Command::FromTool { amount: amount.into(), unit: Unit::Torque(TorqueUnit::NewtonMetre), tool: "wrench".into() }),
        1 => Just(Command::Ask(Ask::InUnit(TorqueUnit::PoundForceFoot))),
        1 => Just(Command::Note(Note::Typed("it is torn".into()))),
    ]
}

/// Up to `length` things to say.
pub fn talks(length: usize) -> impl Strategy<Value = Vec<Move>> {
    let per_cent = prop_oneof![4 => Just(100u32), 2 => Just(80), 1 => Just(20), 2 => Just(130), 1 => Just(400)];
    let one = prop_oneof![
        10 => Just(Move::Say(Command::Done)),
        8 => any::<u8>().prop_map(Move::Answer),
        6 => said().prop_map(Move::Say),
        2 => per_cent.prop_map(Move::Read),
        1 => any::<u8>().prop_map(Move::Bare),
    ];
    prop::collection::vec(one, 1..=length)
}
