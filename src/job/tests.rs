//! The rules of the job, one by one, on procedures small enough to be read.

use super::*;
use crate::quantity::{LengthUnit, TorqueUnit, Unit};
use crate::{procedure, quantity};
use book::*;
use procedure::{
    Cause, Caution, ComponentIx, ConditionIx, ConnectionIx, Deed, OverRule, Procedure, Runs, Signal, StageKind,
    StandingCaution, Step, SupportIx,
};

#[path = "../../tests/common/book.rs"]
mod book;

mod again;
mod asking;
mod branches;
mod correcting;
mod counting;
mod deferred;
mod doubt;
mod from_tool;
mod late;
mod locking;
mod readings;
mod rest_of_number;
mod rounds;
mod said_twice;
mod standing;
mod steps;
mod taking_back;
mod tightening;
mod time;
mod trouble;
mod variant;
mod within;

const G: FastenerIx = FastenerIx(0);
const MINUTE: i64 = 60_000;

/// A job with a clock of its own that moves on by a second with each command.
struct Bay {
    job: Job,
    now: i64,
}

impl Bay {
    fn new(fasteners: Vec<procedure::Fastener>, steps: Vec<Step>) -> Bay {
        Bay::with(book::book(fasteners, steps))
    }

    fn with(book: Procedure) -> Bay {
        let mut bay = Bay { job: Job::new(Arc::new(book)), now: 0 };
        bay.say(Command::Open);
        bay
    }

    fn say(&mut self, command: Command) -> Vec<Say> {
        self.now += 1_000;
        let reply = self.job.apply(command, At(self.now));
        assert!(!reply.says.is_empty(), "every command is answered");
        reply.says
    }

    /// Says a command whose first sound was at `began`.
    fn hear(&mut self, command: Command, began: i64) -> Reply {
        self.now = self.now.max(began) + 1_000;
        self.job.hear(command, At(began), At(self.now))
    }

    /// What was put to the user is said to its end now.
    fn announced(&mut self) {
        self.job.announced(At(self.now));
    }

    fn all(&mut self, commands: impl IntoIterator<Item = Command>) -> Vec<Say> {
        commands.into_iter().map(|c| self.say(c)).last().unwrap_or_default()
    }

    /// To a step, whatever lies between.
    fn go(&mut self, number: u32) -> Vec<Say> {
        let says = self.say(Command::GoTo(number));
        match self.job.question() {
            Some(Question::GoTo { .. }) => self.say(Command::Yes),
            _ => says,
        }
    }

    fn read(&mut self, amount: &str) -> Vec<Say> {
        self.say(Command::Reading(Reading { amount: amount.parse().unwrap(), unit: None }))
    }

    fn state(&self, item: usize) -> ItemState {
        self.job.ledger().item(G, item).state
    }

    fn states(&self) -> Vec<ItemState> {
        self.job.ledger().items(G).iter().map(|i| i.state).collect()
    }

    /// Item and stage that are pending.
    fn pending(&self) -> Option<(usize, usize)> {
        self.job.pending().map(|p| (p.item, p.stage))
    }
}

/// A bolt or several, started by hand in step 0 and tightened in step 1.
fn tightening(change: impl FnOnce(&mut procedure::Fastener), places: &[&str], stages: Vec<StageKind>) -> Bay {
    let items: Vec<usize> = (0..places.len()).collect();
    let mut bolts = group("bolt", places, stages);
    change(&mut bolts);
    let steps = vec![
        step(vec![fasten(0, &items, Deed::Remove), fasten(0, &items, Deed::HandStart)]),
        step(vec![fasten(0, &items, Deed::Tighten(None))]),
        step(Vec::new()),
    ];
    let mut bay = Bay::new(vec![bolts], steps);
    bay.say(Command::Done);
    bay
}

fn asks_angle(says: &[Say]) -> bool {
    says.iter().any(|s| matches!(s, Say::Question(Question::Angle(_))))
}

fn asks_remedy(says: &[Say], wanted: Remedy) -> bool {
    says.iter().any(|s| matches!(s, Say::Remedy { remedy, .. } if *remedy == wanted))
}

fn refused(says: &[Say]) -> Option<&Refusal> {
    says.iter().find_map(|s| match s {
        Say::Refused(refusal) => Some(refusal),
        _ => None,
    })
}
