//! The turning point: what the book says of each group of fasteners, asked group by group, the one told last first.
//!
//! Knows no value and no default. What was answered is a list, and what is asked next follows from it, so that the last answer
//! can be taken back.

use super::{Answered, Command, Question, Refused, Reply, Say, StripLog, What};
use crate::procedure::StageKind;
use crate::values::{self, Value};

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
            Some(Answered::Value(text)) => read(text, None).unwrap_or_default(),
            _ => Vec::new(),
        }
    }

    /// The next question that is not answered.
    pub(super) fn next_answer(&self) -> Option<Question> {
        self.groups()
            .find_map(|group| {
                let stages = self.stages(group).len();
                let count = match self.entries()[group].what {
                    What::Fasteners { things, .. } => things.count,
                    _ => 0,
                };
                let wanted = [
                    (Question::Value(group), true),
                    (Question::Page(group), stages > 0),
                    (Question::Runs(group), stages > 1 && count > 1),
                    (Question::New(group), true),
                ];
                wanted.into_iter().find(|(question, asked)| *asked && self.answered(*question).is_none())
            })
            .map(|(question, _)| question)
    }

    /// A command that is given while it goes together.
    pub(super) fn turning(&mut self, command: Command) -> Reply {
        match (command, self.next_answer()) {
            (Command::Value { stages, page }, Some(Question::Value(group))) => self.value(group, &stages, page),
            (Command::NoValue, Some(asked @ Question::Value(_))) => self.take(asked, Answered::NoValue),
            (Command::Later, Some(asked @ Question::Value(_))) => self.take(asked, Answered::Later),
            (Command::Page(page), Some(asked @ Question::Page(_))) if is_page(&page) => {
                self.take(asked, Answered::Page(Some(page)))
            }
            (Command::NoPage, Some(asked @ Question::Page(_))) => self.take(asked, Answered::Page(None)),
            (Command::Value { .. } | Command::Page(_), Some(_)) => self.refuse(Refused::NoValue),
            (Command::Everything, _) => self.refuse(Refused::GoesTogether),
            (_, Some(_)) => self.refuse(Refused::AnswerFirst),
            (_, None) => self.refuse(Refused::GoesTogether),
        }
    }

    fn value(&mut self, group: usize, stages: &str, page: Option<String>) -> Reply {
        let fits = page.as_deref().is_none_or(is_page) && read(stages, page.as_deref()).is_some();
        if !fits {
            return self.refuse(Refused::NoValue);
        }
        self.answers.push((Question::Value(group), Answered::Value(stages.trim().to_owned())));
        if let Some(page) = page {
            self.answers.push((Question::Page(group), Answered::Page(Some(page))));
        }
        self.done(vec![Say::Value(group)])
    }

    fn take(&mut self, asked: Question, answered: Answered) -> Reply {
        self.answers.push((asked, answered));
        self.done(match asked {
            Question::Value(group) => vec![Say::Value(group)],
            _ => Vec::new(),
        })
    }

    pub(super) fn answer_turning(&mut self, asked: Question, yes: bool) -> Reply {
        self.take(asked, if let Question::Runs(_) = asked { Answered::StageByStage(yes) } else { Answered::New(yes) })
    }
}

/// Stages as a value is written: "62 N·m + 50 deg".
pub fn written(stages: &[StageKind]) -> String {
    let stage = |stage: &StageKind| match stage {
        StageKind::Torque(torque) => torque.to_string(),
        StageKind::Angle(angle) => angle.to_string(),
        StageKind::BackOff(angle) => format!("back off {angle}"),
        StageKind::Slacken => "slacken".to_owned(),
    };
    stages.iter().map(stage).collect::<Vec<_>>().join(" + ")
}

/// Is it the number of a page, and nothing more?
fn is_page(page: &str) -> bool {
    page.chars().count() <= 20 && page.chars().any(|c| c.is_ascii_digit()) && !page.contains([':', ','])
}

/// The stages of a value; nothing where it cannot be read, is no tightening, or cannot be right.
fn read(stages: &str, page: Option<&str>) -> Option<Vec<StageKind>> {
    if stages.contains([':', ',', '\n', '#']) {
        return None;
    }
    let page = page.unwrap_or("1");
    let text = format!("vehicle: v\nsource: s\nedition: e\nlanguage: x\nthe group: {}, {page}\n", stages.trim());
    let read = values::parse("value.txt", &text).ok()?;
    match read.entries.as_slice() {
        [entry] => match &entry.value {
            Value::Stages(stages) => Some(stages.clone()),
            Value::Limits { .. } => None,
        },
        _ => None,
    }
}
