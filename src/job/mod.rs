//! The job in hand: position, ledger of every fastener and support, tightening programmes, audit.
//!
//! Pure: the same commands in give the same replies out. Knows the procedure and quantities. Never reads a clock,
//! touches a file or speaks: it is told the moment of each command, `journal` writes, `dialogue` finds the words.
//!
//! [`Job::apply`] is the only way in; what was spoken comes through [`Job::hear`], which first asks whether it only repeats
//! what was said a moment ago (`said_twice`, `sent`). It looks at the question that stands, if one does (`question`), else at what
//! the step needs next (`work`), which is worked out from the [`Ledger`] each time. What it records are facts, each
//! with the changes it made, so that the last one can be taken back (`facts`). What is done to the job goes through `effect`.

mod again;
mod answer;
mod apply;
mod aside;
mod asked;
mod at;
mod audit;
mod branch;
mod coming;
pub mod command;
mod correct;
mod counted;
mod digest;
mod due;
mod edition;
mod effect;
mod fact;
mod facts;
mod jump;
pub mod ledger;
mod moves;
mod open;
mod outdated;
mod pending;
mod question;
mod reading;
mod refusal;
pub mod reply;
mod rounds;
mod said_twice;
mod sent;
mod standing;
mod sum;
#[cfg(test)]
mod tests;
mod time;
mod variant;
mod verdict;
mod within;
mod work;

pub use answer::{Answer, Ask};
pub use asked::{Between, Question, Waiting};
pub use at::At;
pub use command::{Command, Damage, Note, Reading, Stake};
pub use edition::Edition;
pub use fact::{Fact, Recorded};
pub use ledger::{ComponentState, Item, ItemState, Ledger, StepState};
pub use open::{Open, TooFar};
pub use pending::{Counted, Follows, On, Pending, Remedy, ThingState};
pub use refusal::Refusal;
pub use reply::{Reply, Say};
pub use verdict::Verdict;

use crate::procedure::{Act, ConditionIx, FastenerIx, Phase, Procedure, lawful};
use crate::quantity::Quantity;
use std::sync::Arc;
use work::Work;

/// What may be said now, so that only that is listened for. By default nothing is awaited.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Expect {
    /// How many steps there are to go to.
    pub steps: usize,
    /// A yes-or-no question stands.
    pub yes_no: bool,
    /// "No" to it changes the ledger.
    pub no_claims: bool,
    /// The question after an interrupted angle stage stands.
    pub angle: bool,
    /// A stage or a measurement is pending, so a reading may be said; its unit, and about how large it may be.
    pub reading: Option<Quantity>,
    /// The last thing said of the job was a whole number, so its decimals may still come.
    pub rest: bool,
    /// A fastener is in hand.
    pub fastener: bool,
    /// Where the fasteners sit that can be meant now, in the words of the book and each unlike the others;
    /// [`Command::Place`] carries an index into it. Empty unless it was asked which one is broken.
    pub places: Vec<String>,
}

/// A job: one procedure, worked through once.
#[derive(Debug, Clone)]
pub struct Job {
    /// As it is for the variant of the vehicle that was chosen, if one was.
    book: Arc<Procedure>,
    /// With the steps of all variants.
    whole: Arc<Procedure>,
    ledger: Ledger,
    step: usize,
    /// Was the step in hand done already when the job came to it? "Done" then says more than that it is to go on.
    came_back: bool,
    question: Option<Question>,
    facts: Vec<Recorded>,
    /// The facts that stand: indices into `facts`, in order.
    live: Vec<usize>,
    /// The phase that was announced last.
    phase: Option<Phase>,
    /// The stage said last, and the step it was said in, to know how much of the next one must be said.
    said: Option<(usize, Pending)>,
    /// When running timers are due, in the time of `time`.
    timers: Vec<At>,
    paused: bool,
    /// Points confirmed as open while the job is being closed.
    confirmed_open: Vec<Open>,
    closed: Option<Vec<Open>>,
    last: At,
    watch: time::Watch,
    /// The watch at the command being applied.
    now: time::Watch,
    /// Set by what is done to the job while a command is applied (`effect`).
    changed: bool,
    /// Steps that the command being applied opened again.
    opened_again: Vec<usize>,
    /// Steps that were left open, and that by the command being applied are not to be done.
    not_needed_now: Vec<usize>,
    /// Whose rules commands are applied by.
    edition: Edition,
    /// What was put to the user last.
    announcement: said_twice::Announcement,
    sent: sent::Sent,
    /// When it was last asked to take something back.
    undo_asked: At,
    /// The tool that sent the number which the command being applied gives or confirms.
    from: Option<String>,
    /// Whether what goes on top of what is claimed has come apart, where the command being applied says so.
    apart: Option<bool>,
    /// An adapter is on the wrench, so that its scale does not show the torque at the fastener.
    distorted: bool,
}

impl Job {
    /// A job on which nothing was done yet.
    pub fn new(book: Arc<Procedure>) -> Job {
        Job {
            ledger: Ledger::new(&book),
            step: 0,
            came_back: false,
            question: None,
            facts: Vec::new(),
            live: Vec::new(),
            phase: None,
            said: None,
            timers: Vec::new(),
            paused: false,
            confirmed_open: Vec::new(),
            closed: None,
            last: At(0),
            watch: time::Watch::default(),
            now: time::Watch::default(),
            changed: false,
            opened_again: Vec::new(),
            not_needed_now: Vec::new(),
            edition: Edition::NOW,
            announcement: said_twice::Announcement::default(),
            sent: sent::Sent::default(),
            undo_asked: At(0),
            from: None,
            apart: None,
            distorted: false,
            whole: Arc::clone(&book),
            book,
        }
    }

    /// From now on commands are applied by the rules of this edition: for lines of a journal that an older program wrote.
    pub fn follow(&mut self, edition: Edition) {
        self.edition = edition;
        self.ledger.follow(edition);
    }

    /// Tells whether the scale of the wrench shows something else than the torque at the fastener: an adapter changes its
    /// lever. It is no fact of the job, and no number of such a scale becomes one.
    pub fn scale_is_distorted(&mut self, distorted: bool) {
        self.distorted = distorted;
    }

    /// The procedure this job follows.
    pub fn book(&self) -> &Arc<Procedure> {
        &self.book
    }

    /// The state of everything.
    pub fn ledger(&self) -> &Ledger {
        &self.ledger
    }

    /// The step the job stands at, from 0.
    pub fn position(&self) -> usize {
        self.step
    }

    /// The question that waits for an answer.
    pub fn question(&self) -> Option<&Question> {
        self.question.as_ref()
    }

    /// All facts recorded, the ones taken back among them, in order.
    pub fn facts(&self) -> &[Recorded] {
        &self.facts
    }

    /// The points left open when the job was closed; `None` while it is not closed.
    pub fn closed(&self) -> Option<&[Open]> {
        self.closed.as_deref()
    }

    /// Was the job put down for now?
    pub fn is_paused(&self) -> bool {
        self.paused
    }

    /// When the next timer is due, in the job's own time; [`Job::until_due`] tells how long that is.
    pub fn next_due(&self) -> Option<At> {
        self.timers.iter().copied().min()
    }

    /// When something was last recorded.
    pub fn last_change(&self) -> At {
        self.last
    }

    /// The stage pending in the step the job stands at.
    pub fn pending(&self) -> Option<Pending> {
        match self.work() {
            Work::Stage(pending) | Work::Doubtful(pending) => Some(pending),
            _ => None,
        }
    }

    /// What may be said now.
    pub fn expects(&self) -> Expect {
        let work = self.work();
        let reading = match (&self.question, &work) {
            (Some(Question::Reading { value, .. } | Question::Unit { value, .. }), _) => Some(*value),
            (Some(Question::Correct { .. }), _) => self.correctable().map(|(_, value)| value),
            (Some(question), _) if !self.is_open_to_readings(question) => None,
            (_, Work::Stage(pending)) => reading::awaited(pending),
            (_, _) => self.measurement_awaited().and_then(|act| {
                let limits = self.limits(self.step, act);
                limits.most.or(limits.least).or_else(|| self.only_recorded(act))
            }),
        };
        Expect {
            steps: self.book.steps.len(),
            yes_no: self.question.is_some() && !self.asks_about_angle(),
            no_claims: self.no_claims(),
            angle: self.asks_about_angle(),
            reading: reading.filter(|_| self.closed.is_none()),
            rest: self.closed.is_none() && self.begun_number().is_some(),
            fastener: self.book.steps[self.step].acts.iter().any(|a| matches!(a, Act::Fasten { .. })),
            places: self.places(),
        }
    }

    fn asks_about_angle(&self) -> bool {
        matches!(self.question, Some(Question::Angle(_)))
    }

    /// What the step in hand needs next. A step that counts as done needs nothing, whatever came after.
    fn work(&self) -> Work {
        match self.ledger.step(self.step) {
            StepState::Done | StepState::NotNeeded => Work::Nothing,
            _ => match self.hangs_on(self.step) {
                Some(on) => Work::Undecided(on),
                None => work::work(&self.book, &self.ledger, self.step),
            },
        }
    }

    /// A state of the vehicle that the step waits for.
    fn step_in_the_way(&self) -> Option<ConditionIx> {
        let step = &self.book.steps[self.step];
        let needs = match self.edition {
            // A step that was to bring the vehicle there itself, or had brought it away, waited for it all the same.
            Edition::First => step.needs,
            _ => lawful::step_needs(step, |act| self.ledger.act_recorded(self.step, act)),
        };
        needs.filter(|&needs| !self.ledger.is_in(needs))
    }

    fn unlawful(&self, act: usize, item: usize, state: ThingState) -> Refusal {
        let act = &self.book.steps[self.step].acts[act];
        Refusal::Unlawful {
            act: act.clone(),
            item,
            state,
            open_step: work::open_step_before(&self.book, &self.ledger, self.step, act, item),
        }
    }

    fn fastener(&self, group: FastenerIx) -> &crate::procedure::Fastener {
        &self.book.fasteners[group.0]
    }
}
