//! Values that are offered while something is taken apart, and wait for a yes: those of a page, and those that were spoken.

use super::{Offered, StripTalk};
use crate::dialogue::Sentence;
use crate::session::Turn;
use crate::strip::{self, Command, Question, Say, written};
use crate::values::Value;

impl StripTalk {
    /// A value that was spoken is put once more, number by number, and taken on a yes.
    pub(super) fn offer_heard(&mut self, group: usize, stages: String, page: Option<String>) -> Turn {
        self.offered = None;
        let Some(read) = strip::read(&stages) else {
            let says = [Some(Say::Refused(strip::Refused::NoValue)), self.log.question().map(Say::Question)];
            let sentences = self.worded(&says.into_iter().flatten().collect::<Vec<_>>());
            return self.said(sentences);
        };
        let offer = self.language.strip_offers_heard(group, (read, page.as_deref()), &self.log, &self.manner);
        let sentences = self.with_recordings(vec![offer]);
        self.offered = Some(Offered::Heard(Command::Value { stages, page }));
        self.said(sentences)
    }

    /// The value of an entry, as it is taken.
    pub(super) fn taken(&self, entry: usize) -> Option<Command> {
        let (list, entry) = self.shelf.get(entry)?;
        let Value::Stages(stages) = &entry.value else { return None };
        let (title, edition) = (list.source.title.clone(), list.source.edition.clone());
        Some(Command::Offered { stages: written(stages), page: entry.page.clone(), title, edition })
    }

    /// The one entry of the pages that has all the words of a group's name; nothing where several have, or none.
    fn offer_for(&self, group: usize) -> Option<usize> {
        if self.declined.contains(&group) {
            return None;
        }
        let entry = self.log.entries().get(group)?;
        let name = self.language.as_heard(entry.name.as_ref()?.words()?);
        let words: Vec<&str> = name.split_whitespace().collect();
        let found: Vec<usize> = self.names.find(&words);
        let [only] = found[..] else { return None };
        let (_, entry) = self.shelf.get(only)?;
        matches!(entry.value, Value::Stages(_)).then_some(only)
    }

    /// The same, with a value offered in place of the question for one.
    pub(super) fn worded_with_offer(&mut self, says: &[Say]) -> Vec<Sentence> {
        let mut sentences = Vec::new();
        for say in says {
            let offer = match say {
                Say::Question(Question::Value(group)) => self.offer_for(*group).map(|entry| (*group, entry)),
                _ => None,
            };
            match offer.and_then(|(group, at)| Some((group, at, self.shelf.get(at)?.1))) {
                Some((group, at, entry)) => {
                    let offer = self.language.strip_offers(group, entry, &self.log, &self.manner);
                    sentences.extend(self.with_recordings(vec![offer]));
                    self.offered = Some(Offered::Listed { group, entry: at });
                }
                None => sentences.extend(self.worded(std::slice::from_ref(say))),
            }
        }
        sentences
    }
}
