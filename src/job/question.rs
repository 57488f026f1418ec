//! Questions that stand until they are answered, and what each answer does.

use super::ledger::Change;
use super::work::{self, Work};
use super::{
    Act, Answer, At, Command, Damage, Edition, Fact, FastenerIx, Item, ItemState, Job, Pending, Question, Refusal, Say,
    Waiting,
};
use crate::procedure::ConditionIx;
use crate::quantity::Quantity;

impl Job {
    /// Does the question that stands take a number?
    pub(super) fn takes_readings(&self) -> bool {
        self.question.as_ref().is_some_and(|question| self.is_open_to_readings(question))
    }

    /// Is a number an answer to this question, or taken beside it?
    pub(super) fn is_open_to_readings(&self, question: &Question) -> bool {
        match question {
            Question::Reading { .. } | Question::Correct { .. } | Question::Unit { .. } => true,
            // It waits for the answer, as one does that brought the question about.
            Question::InTime { .. } => self.edition >= Edition::Fourth,
            _ => false,
        }
    }

    /// Is a number that a tool sends taken beside the question that stands?
    pub(super) fn takes_readings_of_tools(&self) -> bool {
        match self.question {
            Some(Question::Reading { .. }) => true,
            Some(Question::InTime { .. }) => self.edition >= Edition::Fourth,
            _ => false,
        }
    }

    /// Does the question that stands give way to a command that asks one of its own? So that one question stands at a
    /// time, and "yes" answers the one that was asked last.
    pub(super) fn gives_way_to(&self, command: &Command) -> bool {
        match self.question {
            None => false,
            // Both can be what an interruption was about. Nothing else may push it aside.
            Some(Question::Angle(_)) => matches!(command, Command::Undo | Command::Damaged(_)),
            Some(_) => self.edition >= Edition::Second,
        }
    }

    /// Asks what a command asks in place of the question that stands; one that is refused leaves that standing.
    pub(super) fn instead(&mut self, command: &Command) -> Vec<Say> {
        if let Some(says) = self.withdrawn(command) {
            return says;
        }
        let stood = self.question.take();
        let says = match command {
            Command::Skip => self.ask_skip(),
            Command::Undo => self.undo(),
            Command::Correct => self.correct(),
            Command::Damaged(damage) => self.damaged(*damage),
            _ => self.finish(),
        };
        if !self.changed {
            self.question = stood;
        }
        says
    }

    /// "Undo" and "wrong number" are about what is being asked, not about a fact before it: nothing is recorded of that yet,
    /// so nothing is taken back, nor put right. `None` where the question is none of what was just said.
    fn withdrawn(&mut self, command: &Command) -> Option<Vec<Say>> {
        if self.edition < Edition::Fourth {
            return None;
        }
        match (self.question.clone()?, command) {
            // What it takes back is named, and an interruption may have been about what came before.
            (Question::Undo(_) | Question::Angle(_), _) => None,
            // The fact is taken back already. What is asked is whether it was one, and no word but no ends that doubt.
            (Question::Turned { .. }, Command::Undo) => Some(self.answer_first()),
            (Question::Pause { instead: Some(question) }, Command::Undo) => Some(self.ask(*question)),
            (_, Command::Undo) => {
                self.drop_question();
                Some(self.left_as_it_is())
            }
            (Question::Reading { value, .. }, Command::Correct)
            | (Question::InTime { reading: Some(Waiting { value, .. }), .. }, Command::Correct) => {
                Some(self.not_that_number(value))
            }
            (Question::Unit { value, not }, Command::Correct) => {
                Some(self.not_that_number(Quantity::new(value.amount(), not)))
            }
            _ => None,
        }
    }

    /// A number that was asked about is the wrong one: it is to be read again.
    fn not_that_number(&mut self, value: Quantity) -> Vec<Say> {
        self.drop_question();
        let mut says = vec![Say::NotLogged { value }];
        says.extend(self.announce());
        says
    }

    /// A question that stood before a command and stands behind it is said again where something else was said last
    /// that could be taken for what is answered.
    pub(super) fn ask_again(&self, stood: Option<&Question>, says: &mut Vec<Say>) {
        let Some(question) = self.question.as_ref().filter(|q| stood == Some(*q)) else { return };
        let about_the_stage = |answer: &Answer| {
            matches!(
                answer,
                Answer::Value(_)
                    | Answer::InUnit { .. }
                    | Answer::Which(_)
                    | Answer::LastValue(_)
                    | Answer::HowManyLeft { .. }
            )
        };
        let again = match says.last() {
            Some(Say::Refused(refusal)) => !matches!(refusal, Refusal::AnswerFirst(_)),
            Some(Say::TimeUp | Say::Noted { .. } | Say::TimerStarted { .. }) => true,
            // Whatever is said of an interrupted stage ends with the question about it.
            Some(Say::Answer(answer)) => matches!(question, Question::Angle(_)) && about_the_stage(answer),
            _ => false,
        };
        if again {
            says.push(Say::Question(question.clone()));
        }
    }

    /// Applies an answer to the question that stands.
    pub(super) fn resolve(&mut self, answer: &Command, at: At) -> Vec<Say> {
        let Some(question) = self.question.clone() else { return vec![Say::Refused(Refusal::NothingAsked)] };
        let fits = match question {
            Question::Angle(_) => matches!(answer, Command::NotBegun | Command::Finished | Command::NotSure),
            Question::Turned { .. } => true,
            Question::Which { .. } | Question::Correct { value: None, .. } => matches!(answer, Command::No),
            _ => matches!(answer, Command::Yes | Command::No),
        };
        if !fits {
            return self.answer_first();
        }
        if self.may_be_late_by(&question, answer) {
            return self.ask_in_time();
        }
        self.drop_question();
        match (question, answer) {
            (Question::Angle(pending), answer) => self.angle_answered(&pending, answer, at),
            (Question::Turned { pending, before }, answer) => self.turn_answered(&pending, *before, answer, at),
            (Question::Pause { instead: Some(question) }, Command::No) => self.ask(*question),
            (Question::Variant { variant }, Command::No) => self.other_variant(variant),
            (Question::InTime { step, reading }, Command::No) => self.too_late(step, reading),
            (Question::Ask { step }, answer) => self.which_way(step, *answer == Command::Yes, at),
            (Question::Until { step, .. }, Command::No) => self.another_round(step, at),
            (Question::Apart { again, .. }, answer) => self.apart_answered(*answer == Command::Yes, again, at),
            (_, Command::No) | (Question::Which { .. } | Question::Correct { value: None, .. }, _) => {
                self.left_as_it_is()
            }
            (Question::Correct { fact, value: Some((value, ..)), .. }, _) => self.put_right(&fact, value, at),
            (Question::Hold { step }, _) => self.held(step, at),
            (Question::InTime { step, reading }, _) => self.in_time(step, reading, at),
            (Question::Variant { variant }, _) => self.choose(variant, at),
            (Question::Until { .. }, _) => self.step_done(at, Vec::new()),
            (Question::Again { .. }, _) => self.again(at),
            (Question::Skip { .. }, _) => self.skip(at),
            (Question::State(state), _) => self.state_reached(state, at),
            (Question::Undo(asked), _) => self.take_back_asked(&asked),
            (Question::GoTo { step, .. }, _) => self.move_to(step),
            (Question::Reading { value, .. } | Question::Unit { value, .. }, _) => self.reading_confirmed(value, at),
            (Question::LeaveOutside { act, .. }, _) => self.leave_outside(act, at),
            (Question::Damaged { group, item, damage }, _) => self.scrap(group, item, damage, at),
            (Question::Finish { open }, _) => self.finish_confirmed(open),
            (Question::Wait { .. }, _) => self.end_wait(at),
            (Question::Pause { .. }, _) => self.pause(),
        }
    }

    /// Nothing happens. The question about an interrupted turn comes back if another had taken its place.
    fn left_as_it_is(&mut self) -> Vec<Say> {
        self.confirmed_open.clear();
        let mut says = vec![Say::LeftAsItIs];
        if let (Work::Doubtful(pending), true) = (self.work(), self.edition >= Edition::Second) {
            says.extend(self.ask(Question::Angle(pending)));
        }
        says
    }

    fn held(&mut self, step: usize, at: At) -> Vec<Say> {
        let made = vec![self.make(Change::Held(step, true))];
        self.step_done(at, made)
    }

    /// A state of the vehicle is missing. Where a step that brings it there is not done, that step is the way; else only
    /// the user can say.
    pub(super) fn missing_state(&mut self, needs: ConditionIx) -> Vec<Say> {
        let book = &self.book;
        let second = self.edition >= Edition::Second;
        let leads_there = |step: usize| {
            let still_to_do = |(n, act): (usize, &Act)| {
                *act == Act::Reach(needs) && !(second && (step == self.step || self.ledger.act_recorded(step, n)))
            };
            !self.ledger.is_over(step) && book.steps[step].acts.iter().enumerate().any(still_to_do)
        };
        match (0..book.steps.len()).any(leads_there) {
            true => vec![Say::Refused(Refusal::NotInState(needs))],
            false => self.ask(Question::State(needs)),
        }
    }

    fn state_reached(&mut self, state: ConditionIx, at: At) -> Vec<Say> {
        let made = vec![self.make(Change::Condition(state, true))];
        self.record(at, Fact::State(state), None, made);
        self.announce()
    }

    fn angle_answered(&mut self, pending: &Pending, answer: &Command, at: At) -> Vec<Say> {
        let Pending { group, item, stage, .. } = *pending;
        match answer {
            Command::Finished => self.stage_done(pending, None, at),
            Command::NotBegun => {
                let mut entry = self.ledger.item(group, item).clone();
                (entry.suspect, entry.announced) = (false, false);
                let made = vec![self.make(Change::Item(group, item, Box::new(entry)))];
                self.record(at, Fact::NotBegun { group, item, stage }, None, made);
                self.announce()
            }
            _ => {
                self.doubt(group, item, at);
                self.announce()
            }
        }
    }

    /// Whether a turn that was claimed and taken back at once was made at all. Only a plain no ends the doubt.
    fn turn_answered(&mut self, pending: &Pending, before: Item, answer: &Command, at: At) -> Vec<Say> {
        let Pending { group, item, stage, .. } = *pending;
        let mut says = Vec::new();
        if matches!(answer, Command::No | Command::NotBegun) {
            let entry = Item { suspect: false, announced: false, ..before };
            let made = vec![self.make(Change::Item(group, item, Box::new(entry)))];
            self.record(at, Fact::NotBegun { group, item, stage }, None, made);
        } else {
            says.push(Say::NowInDoubt(pending.clone()));
        }
        says.extend(self.announce());
        says
    }

    /// "Not sure" without having been asked: only a stage that may have been turned by an angle is put in doubt by it.
    /// A torque stage is simply pending; to go to the same torque once more does no harm.
    pub(super) fn not_sure(&mut self, at: At) -> Vec<Say> {
        match self.work() {
            Work::Stage(p) | Work::Doubtful(p) if work::turns(p.kind.as_ref()) => {
                self.doubt(p.group, p.item, at);
                self.announce()
            }
            Work::Stage(pending) => vec![Say::Pending(pending)],
            work => vec![self.no_stage(&work).unwrap_or(Say::Refused(Refusal::NothingPending))],
        }
    }

    /// Asks whether the fastener in hand is to be scrapped; first which one, where that is not plain.
    pub(super) fn damaged(&mut self, damage: Damage) -> Vec<Say> {
        let in_hand = match self.work() {
            Work::Stage(p) | Work::Doubtful(p) => Some((p.group, p.item)),
            Work::Remedy { group, item, .. } => Some((group, item)),
            _ => None,
        };
        let touched = self.touched();
        match (in_hand, touched.as_slice()) {
            (Some((group, item)), _) | (None, &[(group, item)]) => self.ask(Question::Damaged { group, item, damage }),
            (None, []) => vec![Say::Refused(Refusal::NothingPending)],
            (None, _) => self.ask(Question::Which { damage, choices: touched }),
        }
    }

    /// The user says which fastener is broken, stripped or lost. Good in place of "yes" too: it is another one.
    pub(super) fn place(&mut self, place: usize) -> Vec<Say> {
        let damage = match self.question {
            Some(Question::Which { damage, .. } | Question::Damaged { damage, .. }) => damage,
            Some(_) => return self.answer_first(),
            None => return vec![Say::Refused(Refusal::NothingAsked)],
        };
        match self.touched().get(place) {
            Some(&(group, item)) => self.ask(Question::Damaged { group, item, damage }),
            None => self.answer_first(),
        }
    }

    /// What the answers to "which one" are called; each unlike the others.
    pub(super) fn places(&self) -> Vec<String> {
        if !matches!(self.question, Some(Question::Which { .. } | Question::Damaged { .. })) {
            return Vec::new();
        }
        let touched = self.touched();
        let one_group = touched.iter().all(|(group, _)| *group == touched[0].0);
        let name = |&(group, item): &(FastenerIx, usize)| {
            let fastener = self.fastener(group);
            match one_group {
                true => fastener.places[item].clone(),
                false => format!("{} {}", fastener.name, fastener.places[item]),
            }
        };
        touched.iter().map(name).collect()
    }

    /// Every fastener that this step does something to, once, group by group.
    fn touched(&self) -> Vec<(FastenerIx, usize)> {
        let mut touched: Vec<(FastenerIx, usize)> = Vec::new();
        for act in &self.book.steps[self.step].acts {
            if let Act::Fasten { group, items, .. } = act {
                touched.extend(items.iter().map(|&item| (*group, item)));
            }
        }
        touched.sort_unstable();
        touched.dedup();
        touched
    }

    fn scrap(&mut self, group: FastenerIx, item: usize, damage: Damage, at: At) -> Vec<Say> {
        let entry = self.ledger.item(group, item).stopped(ItemState::Scrapped);
        let made = vec![self.make(Change::Item(group, item, Box::new(entry)))];
        self.record(at, Fact::Scrapped { group, item, damage }, None, made);
        match self.work() {
            Work::Remedy { .. } => self.announce(),
            // Taken apart as it is, the new one is due when the book starts it by hand.
            _ => vec![Say::Scrapped { group, item }],
        }
    }
}
