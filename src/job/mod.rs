//! The job in hand: position, ledger of every fastener and support, tightening programmes, audit.
//!
//! Pure: the same commands in give the same replies out. Knows the procedure and quantities. Never reads a clock,
//! touches a file or speaks: it is told the moment of each command, `journal` writes, `dialogue` finds the words.
//!
//! [`Job::apply`] is the only way in; what was spoken comes through [`Job::hear`], which first asks whether it only repeats
//! what was said a moment ago (`said_twice`, `sent`). It looks at the question that stands, if one does (`question`), else at what
//! the step needs next (`work`), which is worked out from the [`Ledger`] each time. What it records are facts, each
//! with the changes it made, so that the last one can be taken back (`facts`).

mod again;
mod answer;
mod aside;
mod at;
mod audit;
mod branch;
pub mod command;
mod correct;
mod counted;
mod digest;
mod due;
mod edition;
mod fact;
mod facts;
mod jump;
pub mod ledger;
mod moves;
mod open;
mod pending;
mod question;
mod reading;
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
pub use at::At;
pub use command::{Command, Damage, Note, Reading, Stake};
pub use edition::Edition;
pub use fact::{Fact, Recorded};
pub use ledger::{ComponentState, Item, ItemState, Ledger, StepState};
pub use open::{Open, TooFar};
pub use pending::{Counted, Follows, Pending, Remedy, ThingState};
pub use reply::{Between, On, Question, Refusal, Reply, Say, Waiting};
pub use verdict::Verdict;

use crate::procedure::{Act, ConditionIx, FastenerIx, Phase, Procedure, VariantIx, lawful};
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
    /// Set by whatever changes the job while a command is applied.
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

    /// Applies a command given at that moment.
    pub fn apply(&mut self, command: Command, at: At) -> Reply {
        self.changed = false;
        let before = self.last;
        let stood = self.question.clone();
        self.now = self.watch_after(&command, at);
        let (matter, causes) = (self.matter(), self.causes());
        let claims = said_twice::claims_what_is_pending(&command);
        self.from = self.sent_by(&command);
        if command == Command::Undo {
            self.undo_asked = at;
        }
        let mut says = match command {
            _ if self.closed.is_some() && changes_things(&command) => vec![Say::Refused(Refusal::Closed)],
            _ if self.waits_for_variant(&command) => self.variant_first(),
            Command::Open => self.open(),
            Command::Resume => self.resume(before, at),
            Command::Ask(ask) => self.asked(ask),
            Command::WhereAmI => self.where_am_i(),
            Command::Stuck => vec![Say::Answer(Answer::Stuck { step: self.step })],
            Command::TimeUp => self.time_up(),
            Command::Timer(minutes) => self.start_timer(minutes),
            // What was spoken is on disk already, so a question that stands does not keep it out.
            Command::Note(note) => self.note(note, at),
            Command::Pause => self.pause(),
            Command::TakeBreak => self.ask_pause(),
            Command::Back => self.back(),
            Command::GoTo(number) => self.go_to(number),
            Command::Yes | Command::No | Command::NotBegun | Command::Finished | Command::NotSure
                if self.question.is_some() =>
            {
                self.resolve(&command, at)
            }
            Command::Skip | Command::Undo | Command::Correct | Command::Damaged(_) | Command::Finish
                if self.gives_way_to(&command) =>
            {
                self.instead(&command)
            }
            Command::Place(place) => self.place(place),
            // A new number in place of the one asked about is a correction.
            Command::Reading(_) | Command::Number { .. } if !self.blocks_reading() => self.reading(&command, at),
            Command::Rest(rest) => self.rest_of_number(rest, at),
            // What was wrong before only the user can put right.
            Command::FromTool { .. } if self.takes_of_tools() => self.reading(&command, at),
            _ if self.question.is_some() => self.answer_first(),
            Command::Reading(_) | Command::Number { .. } | Command::FromTool { .. } => self.reading(&command, at),
            Command::Next => self.next(at),
            Command::Done => self.done(at),
            Command::Skip => self.ask_skip(),
            Command::Mark => self.mark(at),
            Command::NotSure => self.not_sure(at),
            Command::Damaged(damage) => self.damaged(damage),
            Command::Undo => self.undo(),
            Command::Correct => self.correct(),
            Command::Finish => self.finish(),
            Command::Yes | Command::No | Command::NotBegun | Command::Finished => {
                vec![Say::Refused(Refusal::NothingAsked)]
            }
        };
        if self.changed {
            (self.last, self.watch) = (at, self.now);
            self.paused = says.contains(&Say::Paused);
        }
        if !self.not_needed_now.is_empty() {
            says.insert(0, Say::NotNeeded { steps: std::mem::take(&mut self.not_needed_now) });
        }
        if !self.opened_again.is_empty() {
            says.insert(0, Say::OpenAgain { steps: std::mem::take(&mut self.opened_again) });
        }
        if says.is_empty() {
            says = self.where_am_i();
        }
        self.ask_again(stood.as_ref(), &mut says);
        self.warn_of_new(&causes, &mut says);
        self.shorten(&mut says);
        let news = self.changed && (claims || self.matter() != matter);
        let announces = self.announce_by(&says, news);
        Reply { says, recorded: self.changed, announces }
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

    fn open(&mut self) -> Vec<Say> {
        self.changed = true;
        self.drop_question();
        self.suspect_pending();
        self.said = None;
        let mut says = vec![Say::Opening];
        says.extend(match self.is_undecided() {
            true => self.ask_variant(VariantIx(0)),
            false => self.enter(0),
        });
        says
    }

    /// Takes the job up again. Whatever angle stage was pending may have been turned before the program went away. A job
    /// that ended before its first word is begun now.
    fn resume(&mut self, last: At, at: At) -> Vec<Say> {
        if self.phase.is_none() {
            return self.open();
        }
        self.changed = true;
        self.said = None;
        // How long ago that was is not known where the clock was set.
        let mut says = match self.clock_was_set() {
            true => vec![Say::Resumed { last: at }, Say::ClockSet],
            false => vec![Say::Resumed { last }],
        };
        says.push(Say::Where { step: self.step, steps: self.book.steps.len() });
        says.extend(self.round_in_hand());
        if self.closed.is_some() {
            says.push(Say::Refused(Refusal::Closed));
            return says;
        }
        self.suspect_pending();
        says.extend(self.standing(|_| true));
        says.extend(self.time_for(self.step));
        says.extend(self.times_running());
        if !self.ledger.is_over(self.step) && self.hangs_on(self.step).is_none() {
            says.extend(self.ahead());
            says.extend(self.book.steps[self.step].cautions.iter().cloned().map(Say::Caution));
        }
        if self.edition >= Edition::Second {
            says.extend(self.timers_left());
            if let Some(asked) = self.wait_taken_up() {
                says.extend(asked);
                return says;
            }
        }
        match &self.question {
            Some(question) => says.push(Say::Question(question.clone())),
            None => match self.announce() {
                nothing if nothing.is_empty() => says.push(Say::Step { step: self.step, phase: None }),
                announced => says.extend(announced),
            },
        }
        says
    }

    /// "Take a break": asked back, because it ends the listening as well. A question that stands waits behind it.
    fn ask_pause(&mut self) -> Vec<Say> {
        let instead = match self.question.take() {
            Some(Question::Pause { instead }) => instead,
            other => other.map(Box::new),
        };
        self.ask(Question::Pause { instead })
    }

    fn pause(&mut self) -> Vec<Say> {
        self.changed = true;
        self.drop_question();
        self.suspect_pending();
        vec![Say::Paused]
    }

    /// A pending stage that turns by an angle may have been turned when it is left: ask when it comes back. One that was
    /// refused, because the vehicle is not in the state for it, was not. Nobody claims it, so it is no fact.
    fn suspect_pending(&mut self) {
        self.suspect(false);
    }

    /// The same where the user did not leave it, but took back or put right what came before it.
    fn suspect_announced(&mut self) {
        self.suspect(true);
    }

    fn suspect(&mut self, announced: bool) {
        // Nothing was told of a step before it is known which of them are for this vehicle.
        if self.is_undecided() {
            return;
        }
        let Work::Stage(pending) = self.work() else { return };
        if work::turns(pending.kind.as_ref()) && pending.waits.is_none() {
            let mut item = self.ledger.item(pending.group, pending.item).clone();
            (item.suspect, item.announced) = (true, announced);
            self.make(ledger::Change::Item(pending.group, pending.item, Box::new(item)));
        }
    }

    /// What the step needs next, put to the user; asks where it must be asked.
    fn announce(&mut self) -> Vec<Say> {
        match self.work() {
            Work::Doubtful(pending) => self.ask(Question::Angle(pending)),
            // What it waits for, if anything, is part of it.
            Work::Stage(pending) => vec![Say::Pending(pending)],
            _ => self.due(),
        }
    }

    /// The tool that sent the number which this command gives, or confirms.
    fn sent_by(&self, command: &Command) -> Option<String> {
        match (command, &self.question) {
            (Command::FromTool { tool, .. }, _) => Some(tool.clone()),
            (Command::Yes, Some(Question::Reading { from, .. })) => from.clone(),
            (Command::Yes, Some(Question::InTime { reading: Some(waiting), .. })) => waiting.from.clone(),
            _ => None,
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
