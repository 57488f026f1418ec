//! The turning point: what the book says of each group of fasteners, asked group by group, the one told last first.
//!
//! Knows no value and no default. What was answered is a list, and what is asked next follows from it, so that the last answer
//! can be taken back.

use super::{Answered, Command, Deed, Question, Refused, Reply, Say, StripLog, What};
use crate::job::{self, At, Telling};
use crate::procedure::StageKind;
use crate::values;

/// What one command gave since the turning point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Step {
    /// So many answers.
    Answers(usize),
    /// A note, by its entry.
    Note(usize),
}

impl StripLog {
    /// The groups of fasteners that came off, the one told last first.
    pub fn groups(&self) -> impl Iterator<Item = usize> {
        self.standing().rev().filter(|(_, entry)| matches!(entry.what, What::Fasteners { .. })).map(|(id, _)| id)
    }

    /// What was answered to a question.
    pub fn answered(&self, question: Question) -> Option<&Answered> {
        self.answers.iter().find(|(asked, _)| *asked == question).map(|(_, answered)| answered)
    }

    /// The stages taken for a group.
    pub fn stages(&self, group: usize) -> Vec<StageKind> {
        match self.answered(Question::Value(group)) {
            Some(Answered::Value(text)) => read(text).unwrap_or_default(),
            _ => Vec::new(),
        }
    }

    /// That was everything; from here on orders are asked for as well.
    pub(super) fn goes_together(&mut self, at: At) -> Reply {
        match self.question() {
            Some(Question::Everything) => {
                self.asks_order = true;
                self.answer(true, at)
            }
            _ => self.refuse(Refused::NothingAsked),
        }
    }

    /// How many a group has.
    pub(super) fn count_of(&self, group: usize) -> usize {
        match self.entries().get(group).map(|entry| &entry.what) {
            Some(What::Fasteners { things, .. }) => things.count as usize,
            _ => 0,
        }
    }

    /// Is the value of a group to be told in the rebuild?
    pub fn value_is_later(&self, group: usize) -> bool {
        !matches!(self.answered(Question::Value(group)), Some(Answered::Value(_) | Answered::NoValue))
    }

    /// Are orders of tightening asked for? They were not always.
    pub fn asks_order(&self) -> bool {
        self.asks_order
    }

    /// The next question that is not answered.
    pub(super) fn next_answer(&self) -> Option<Question> {
        self.groups()
            .find_map(|group| {
                let stages = self.stages(group).len();
                let count = self.count_of(group);
                let wanted = [
                    (Question::Value(group), true),
                    (Question::Page(group), stages > 0),
                    (Question::Order(group), stages > 0 && count >= job::ORDERED && self.asks_order),
                    (Question::Runs(group), stages > 1 && count > 1),
                    // What never came out is not renewed.
                    (Question::New(group), matches!(self.deed_of(group), Some(Deed::Out | Deed::Held))),
                ];
                wanted.into_iter().find(|(question, asked)| *asked && self.answered(*question).is_none())
            })
            .map(|(question, _)| question)
            .or_else(|| self.answered(Question::Whole).is_none().then_some(Question::Whole))
    }

    /// What was told of a group in the rebuild takes the place of what was answered at the turning point.
    pub(super) fn tell_later(&mut self, group: usize, telling: &Telling) {
        let of = |asked: &Question| {
            let asked = *asked;
            [Question::Value(group), Question::Page(group), Question::Order(group), Question::Runs(group)]
                .contains(&asked)
        };
        self.answers.retain(|(asked, _)| !of(asked));
        let value = &telling.value;
        let stages = value.stages.clone().map_or(Answered::NoValue, Answered::Value);
        let page = match (&value.page, &value.list) {
            (Some(page), Some((title, edition))) => {
                Answered::Listed { page: page.clone(), title: title.clone(), edition: edition.clone() }
            }
            (page, _) => Answered::Page(page.clone()),
        };
        let order = telling.order.map(|order| (Question::Order(group), Answered::Order(order)));
        let runs = telling.together.map(|together| (Question::Runs(group), Answered::StageByStage(together)));
        let all = [Some((Question::Value(group), stages)), Some((Question::Page(group), page)), order, runs];
        self.answers.extend(all.into_iter().flatten());
    }

    /// A command that is given while it goes together.
    pub(super) fn turning(&mut self, command: Command) -> Reply {
        match (command, self.next_answer()) {
            (Command::Value { stages, page }, Some(Question::Value(group))) => self.value(group, &stages, page),
            (Command::Offered { stages, page, title, edition }, Some(Question::Value(group))) => {
                let listed = Answered::Listed { page, title, edition };
                self.take_value(group, &stages, Some(listed))
            }
            (Command::NoValue, Some(asked @ Question::Value(_))) => self.take(asked, Answered::NoValue),
            (Command::Later, Some(asked @ Question::Value(_))) => self.take(asked, Answered::Later),
            (Command::Page(page), Some(asked @ Question::Page(_))) if values::names_a_page(&page, true) => {
                self.take(asked, Answered::Page(Some(page)))
            }
            (Command::Order(order), Some(asked @ Question::Order(group))) => match order.of(self.count_of(group)) {
                Some(_) => self.take(asked, Answered::Order(order)),
                None => self.refuse(Refused::NoTwoRows),
            },
            (Command::Later, Some(asked @ Question::Order(_))) => self.take(asked, Answered::Later),
            (Command::NoPage, Some(asked @ Question::Page(_))) => self.take(asked, Answered::Page(None)),
            (Command::Value { .. } | Command::Page(_), Some(Question::Page(_))) => self.refuse(Refused::NoPage),
            (Command::Page(_), Some(Question::Value(_))) => self.refuse(Refused::NoValue),
            (Command::Everything, _) => self.refuse(Refused::GoesTogether),
            (_, Some(_)) => self.refuse(Refused::AnswerFirst),
            (_, None) => self.refuse(Refused::GoesTogether),
        }
    }

    fn value(&mut self, group: usize, stages: &str, page: Option<String>) -> Reply {
        if page.as_deref().is_some_and(|page| !values::names_a_page(page, true)) {
            return self.refuse(Refused::NoValue);
        }
        self.take_value(group, stages, page.map(|page| Answered::Page(Some(page))))
    }

    fn take_value(&mut self, group: usize, stages: &str, page: Option<Answered>) -> Reply {
        if read(stages).is_none() {
            return self.refuse(Refused::NoValue);
        }
        let paged = page.as_ref().map(|_| Say::Page(group));
        self.since.push(Step::Answers(1 + usize::from(page.is_some())));
        self.answers.push((Question::Value(group), Answered::Value(stages.trim().to_owned())));
        self.answers.extend(page.map(|page| (Question::Page(group), page)));
        self.done([Say::Value(group)].into_iter().chain(paged).collect())
    }

    fn take(&mut self, asked: Question, answered: Answered) -> Reply {
        let say = match (asked, &answered) {
            (Question::Value(group), _) => Some(Say::Value(group)),
            (Question::Page(group), Answered::Page(Some(_))) => Some(Say::Page(group)),
            (Question::Order(group), _) => Some(Say::Order(group)),
            _ => None,
        };
        self.since.push(Step::Answers(1));
        self.answers.push((asked, answered));
        self.done(say.into_iter().collect())
    }

    pub(super) fn answer_turning(&mut self, asked: Question, yes: bool) -> Reply {
        match asked {
            Question::Runs(_) => self.take(asked, Answered::StageByStage(yes)),
            Question::Whole if !yes => self.refuse(Refused::GoesTogether),
            Question::Whole => self.take(asked, Answered::Whole),
            _ => self.take(asked, Answered::New(yes)),
        }
    }

    /// Takes back what the last command gave; behind the first, that it goes together.
    pub(super) fn undo_turning(&mut self) -> Reply {
        match self.since.pop() {
            Some(Step::Answers(count)) => {
                let back = self.answers.split_off(self.answers.len() - count);
                self.done(back.first().map(|(asked, _)| Say::AnswerTakenBack(*asked)).into_iter().collect())
            }
            Some(Step::Note(id)) => {
                self.entries[id].taken_back = true;
                self.done(vec![Say::TakenBack(id)])
            }
            None => {
                (self.turned, self.asks_order) = (false, false);
                self.done(vec![Say::GoesOn])
            }
        }
    }
}

/// Stages as a value is written: "62 N·m + 50 deg".
pub fn written(stages: &[StageKind]) -> String {
    let stage = |stage: &StageKind| match stage {
        StageKind::Torque(torque) => torque.to_string(),
        StageKind::Angle(angle) => angle.to_string(),
        StageKind::BackOff(angle) => format!("back off {angle}"),
        StageKind::Slot(most) => format!("slot {most}"),
        StageKind::Slacken => "slacken".to_owned(),
    };
    stages.iter().map(stage).collect::<Vec<_>>().join(" + ")
}

/// The stages of a value; nothing where it cannot be read, is no tightening, or cannot be right.
pub fn read(stages: &str) -> Option<Vec<StageKind>> {
    if stages.contains([':', ',', '\n', '#']) {
        return None;
    }
    values::stages(stages.trim())
}
