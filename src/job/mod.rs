//! The job in hand: position, ledger of every fastener and support, tightening programmes, audit.
//!
//! Pure: the same commands in give the same replies out. Knows the procedure and quantities. Never reads a clock,
//! touches a file or speaks: it is told the moment of each command, `journal` writes, `dialogue` finds the words.
//!
//! [`Job::apply`] is the only way in. It looks at the question that stands, if one does (`question`), else at what
//! the step needs next (`work`), which is worked out from the [`Ledger`] each time. What it records are facts, each
//! with the changes it made, so that the last one can be taken back (`facts`).

mod answer;
mod audit;
pub mod command;
mod facts;
pub mod ledger;
mod moves;
mod question;
mod reading;
pub mod reply;
#[cfg(test)]
mod tests;
mod work;

pub use command::{Ask, At, Command, Damage, Note, Reading, Stake};
pub use facts::Recorded;
pub use ledger::{ComponentState, Item, ItemState, Ledger, StepState};
pub use reply::{Answer, Fact, Follows, Open, Pending, Question, Refusal, Remedy, Reply, Say, ThingState, Verdict};

use crate::procedure::{Act, FastenerIx, Phase, Procedure};
use crate::quantity::Quantity;
use std::sync::Arc;
use work::Work;

/// What may be said now, so that only that is listened for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Expect {
    /// How many steps there are to go to.
    pub steps: usize,
    /// A yes-or-no question stands.
    pub yes_no: bool,
    /// The question after an interrupted angle stage stands.
    pub angle: bool,
    /// A stage or a measurement is pending, so a reading may be said; its unit, and about how large it may be.
    pub reading: Option<Quantity>,
    /// A fastener is in hand.
    pub fastener: bool,
}

/// A job: one procedure, worked through once.
#[derive(Debug, Clone)]
pub struct Job {
    book: Arc<Procedure>,
    ledger: Ledger,
    step: usize,
    question: Option<Question>,
    facts: Vec<Recorded>,
    /// The phase that was announced last.
    phase: Option<Phase>,
    /// The stage said last, and the step it was said in, to know how much of the next one must be said.
    said: Option<(usize, Pending)>,
    /// When running timers are due.
    timers: Vec<At>,
    /// When the wait of a step is over, by step.
    waits: Vec<Option<At>>,
    paused: bool,
    /// Points confirmed as open while the job is being closed.
    confirmed_open: Vec<Open>,
    closed: Option<Vec<Open>>,
    last: At,
    /// Set by whatever changes the job while a command is applied.
    changed: bool,
}

impl Job {
    /// A job on which nothing was done yet.
    pub fn new(book: Arc<Procedure>) -> Job {
        Job {
            ledger: Ledger::new(&book),
            step: 0,
            question: None,
            facts: Vec::new(),
            phase: None,
            said: None,
            timers: Vec::new(),
            waits: vec![None; book.steps.len()],
            paused: false,
            confirmed_open: Vec::new(),
            closed: None,
            last: At(0),
            changed: false,
            book,
        }
    }

    /// Applies a command given at that moment.
    pub fn apply(&mut self, command: Command, at: At) -> Reply {
        self.changed = false;
        let before = self.last;
        let mut says = match command {
            _ if self.closed.is_some() && changes_things(&command) => vec![Say::Refused(Refusal::Closed)],
            Command::Open => self.open(),
            Command::Resume => self.resume(before),
            Command::Ask(ask) => self.answer(ask, at),
            Command::WhereAmI => self.where_am_i(),
            Command::Stuck => vec![Say::Answer(Answer::Stuck { step: self.step })],
            Command::TimeUp => self.time_up(at),
            Command::Timer(minutes) => self.start_timer(minutes, at),
            Command::Mark => self.mark(at),
            // What was spoken is on disk already, so a question that stands does not keep it out.
            Command::Note(note) => self.note(note, at),
            Command::Pause => self.pause(),
            Command::Back => self.back(),
            Command::GoTo(number) => self.go_to(number),
            Command::Yes | Command::No | Command::NotBegun | Command::Finished | Command::NotSure
                if self.question.is_some() =>
            {
                self.resolve(&command, at)
            }
            // A new number in place of the one asked about is a correction.
            Command::Reading(reading) if !self.blocks_reading() => self.reading(reading, at),
            _ if self.question.is_some() => self.answer_first(),
            Command::Reading(reading) => self.reading(reading, at),
            Command::Next => self.next(at),
            Command::Done => self.done(at),
            Command::Skip => self.ask(Question::Skip { step: self.step }),
            Command::NotSure => self.not_sure(at),
            Command::Damaged(damage) => self.damaged(damage),
            Command::Undo => self.undo(),
            Command::Finish => self.finish(),
            Command::Yes | Command::No | Command::NotBegun | Command::Finished => {
                vec![Say::Refused(Refusal::NothingAsked)]
            }
        };
        if self.changed {
            self.last = at;
        }
        self.shorten(&mut says);
        Reply { says, recorded: self.changed }
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

    /// When the next timer is due.
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
            (Some(Question::Reading { value, .. }), _) => Some(*value),
            (Some(_), _) => None,
            (None, Work::Stage(pending)) => reading::awaited(pending),
            (None, Work::Measure { act }) => match &self.book.steps[self.step].acts[*act] {
                Act::Measure(m) => m.limits.most.or(m.limits.least),
                _ => None,
            },
            _ => None,
        };
        Expect {
            steps: self.book.steps.len(),
            yes_no: self.question.as_ref().is_some_and(|q| !matches!(q, Question::Angle(_))),
            angle: matches!(self.question, Some(Question::Angle(_))),
            reading: reading.filter(|_| self.closed.is_none()),
            fastener: self.book.steps[self.step].acts.iter().any(|a| matches!(a, Act::Fasten { .. })),
        }
    }

    /// What the step in hand needs next. A step that counts as done needs nothing, whatever came after.
    fn work(&self) -> Work {
        match self.ledger.step(self.step) {
            StepState::Done => Work::Nothing,
            _ => work::work(&self.book, &self.ledger, self.step),
        }
    }

    fn open(&mut self) -> Vec<Say> {
        self.changed = true;
        let mut says = vec![Say::Opening];
        says.extend(self.enter(0));
        says
    }

    /// Takes the job up again. Whatever angle stage was pending may have been turned before the program went away.
    fn resume(&mut self, last: At) -> Vec<Say> {
        self.changed = true;
        self.paused = false;
        self.said = None;
        self.suspect_pending();
        let mut says = vec![Say::Resumed { last }, Say::Where { step: self.step, steps: self.book.steps.len() }];
        if self.closed.is_some() {
            says.push(Say::Refused(Refusal::Closed));
            return says;
        }
        says.extend(self.standing(|_| true));
        match &self.question {
            Some(question) => says.push(Say::Question(question.clone())),
            None => says.extend(self.announce()),
        }
        says
    }

    fn pause(&mut self) -> Vec<Say> {
        self.changed = true;
        self.paused = true;
        self.drop_question();
        self.suspect_pending();
        vec![Say::Paused]
    }

    /// A pending angle stage that is left may have been turned: ask when it comes back.
    fn suspect_pending(&mut self) {
        let Work::Stage(pending) = self.work() else { return };
        if pending.kind.as_ref().is_some_and(|k| k.is_angle()) {
            let mut item = self.ledger.item(pending.group, pending.item).clone();
            item.suspect = true;
            self.change(ledger::Change::Item(pending.group, pending.item, Box::new(item)));
        }
    }

    /// What the step needs next, put to the user; asks where it must be asked.
    fn announce(&mut self) -> Vec<Say> {
        match self.work() {
            Work::Doubtful(pending) => self.ask(Question::Angle(pending)),
            Work::Stage(pending) => {
                let mut says: Vec<Say> = self.stage_in_the_way(&pending).map(Say::Refused).into_iter().collect();
                says.push(Say::Pending(pending));
                says
            }
            Work::Remedy { group, item, remedy } => vec![Say::Remedy { group, item, remedy }],
            Work::Measure { act } => vec![Say::AwaitMeasure { step: self.step, act }],
            Work::Hold => self.ask(Question::Hold { step: self.step }),
            Work::Blocked { act, item, state } => vec![Say::Refused(self.unlawful(act, item, state))],
            Work::Acts { .. } | Work::Wait { .. } | Work::Nothing => Vec::new(),
        }
    }

    /// Puts a question, which stands until it is answered or dropped.
    fn ask(&mut self, question: Question) -> Vec<Say> {
        self.changed = true;
        self.question = Some(question.clone());
        vec![Say::Question(question)]
    }

    fn drop_question(&mut self) {
        if self.question.take().is_some() {
            self.changed = true;
        }
    }

    fn answer_first(&self) -> Vec<Say> {
        self.question.iter().map(|q| Say::Refused(Refusal::AnswerFirst(Box::new(q.clone())))).collect()
    }

    /// A state of the vehicle that the pending stage waits for.
    fn stage_in_the_way(&self, pending: &Pending) -> Option<Refusal> {
        let finish = &self.book.fasteners[pending.group.0].finish;
        let needs = work::stage_needs(finish, pending.stage)?;
        (!self.ledger.is_in(needs)).then_some(Refusal::NotInState(needs))
    }

    fn unlawful(&self, act: usize, item: usize, state: ThingState) -> Refusal {
        let act = &self.book.steps[self.step].acts[act];
        Refusal::Unlawful {
            act: act.clone(),
            item,
            state,
            open_step: work::open_step_before(&self.book, &self.ledger, self.step, act),
        }
    }

    /// Works out how much of each pending stage has to be said after the one before, and remembers the last.
    fn shorten(&mut self, says: &mut [Say]) {
        for say in says {
            let Say::Pending(pending) = say else { continue };
            pending.follows = match &self.said {
                Some((step, before)) if *step == self.step && before.group == pending.group => {
                    match (before.item == pending.item, before.stage == pending.stage) {
                        (true, true) => Follows::Nothing,
                        (true, false) => Follows::SameItem,
                        (false, true) => Follows::SameStage,
                        (false, false) => Follows::SameGroup,
                    }
                }
                _ => Follows::Nothing,
            };
            self.said = Some((self.step, pending.clone()));
        }
    }

    fn fastener(&self, group: FastenerIx) -> &crate::procedure::Fastener {
        &self.book.fasteners[group.0]
    }
}

/// Commands that a closed job no longer follows.
fn changes_things(command: &Command) -> bool {
    !matches!(command, Command::Ask(_) | Command::WhereAmI | Command::Stuck | Command::Resume)
}
