//! What the book says of a group whose value was left for later: told while the job is under way, said back whole, and from a
//! yes on a part of the book that the job goes by.
//!
//! Nothing of such a group is tightened before. What was told is a fact like any other, so the journal has it, and a replay comes
//! to the same book; what the file says stays in `whole`, to which an undo goes back. Knows what a value is (`values`), and
//! leaves to others in which words it was told.

use super::told::{BookAsks, BookValue, ORDERED, Telling};
use super::work::Work;
use super::{At, Command, Fact, Job, Question, Refusal, Say};
use crate::procedure::{Act, Deed, Fastener, FastenerIx, Finish, Runs, Stage, ToldOrder};
use crate::values;
use std::sync::Arc;

impl Telling {
    /// What is still to be asked of a group.
    fn next(&self, fastener: &Fastener) -> BookAsks {
        let count = fastener.places.len();
        let stages = self.value.read().map_or(0, |stages| stages.len());
        let Finish::Later { order, runs } = fastener.finish else { return BookAsks::Right };
        match () {
            () if stages > 0 && self.value.source().is_none() => BookAsks::Page,
            () if stages > 0 && order && count >= ORDERED && self.order.is_none() => BookAsks::Order,
            () if stages > 1 && runs && count > 1 && self.together.is_none() => BookAsks::Runs,
            () => BookAsks::Right,
        }
    }
}

impl Job {
    /// The group whose value has to be told before the step in hand goes on.
    pub fn untold(&self) -> Option<FastenerIx> {
        match self.work() {
            Work::Untold { group } => Some(group),
            _ => None,
        }
    }

    /// What is being told of the book, if a question about that stands.
    pub fn telling(&self) -> Option<&Telling> {
        match &self.question {
            Some(Question::Book(telling)) => Some(telling),
            _ => None,
        }
    }

    /// All that was told of the book in this job and stands, in order.
    pub fn told(&self) -> impl Iterator<Item = &Telling> {
        let standing = self.live.iter().filter_map(|&fact| self.facts.get(fact));
        standing.filter_map(|recorded| match &recorded.fact {
            Fact::Book(telling) => Some(&**telling),
            _ => None,
        })
    }

    /// Something was told of the book.
    pub(super) fn of_the_book(&mut self, command: &Command) -> Vec<Say> {
        match command.clone() {
            Command::BookValue(value) => self.book_value(value),
            Command::BookPage(page) => self.book_page(Some(page), None),
            Command::NoBookPage(instead) => self.book_page(None, Some(instead)),
            Command::BookOrder(order) => self.book_order(order),
            _ => Vec::new(),
        }
    }

    /// What the book says was told; what is missing is asked, and the whole said back.
    pub(super) fn book_value(&mut self, value: BookValue) -> Vec<Say> {
        let Some(group) = self.untold() else { return vec![Say::Refused(Refusal::NothingAsked)] };
        let whole = match &value.stages {
            Some(_) => value.read().is_some(),
            None => value.instead.as_ref().is_some_and(|words| !words.trim().is_empty()),
        };
        if !whole {
            return vec![Say::Refused(Refusal::NoValue), Say::Untold { group }];
        }
        // A list has its own ways to name where a value stands.
        if value.list.is_none() && value.page.as_deref().is_some_and(|page| !values::names_a_page(page, false)) {
            return vec![Say::Refused(Refusal::NoPage), Say::Untold { group }];
        }
        self.ask_of_book(Telling { group, value, order: None, together: None, asks: BookAsks::Right })
    }

    /// The page was told; or, with the words for that, that it is not known.
    pub(super) fn book_page(&mut self, page: Option<String>, instead: Option<String>) -> Vec<Say> {
        match self.telling().cloned() {
            Some(_) if page.as_deref().is_some_and(|page| !values::names_a_page(page, false)) => {
                let again = self.question.clone().map(Say::Question);
                [Say::Refused(Refusal::NoPage)].into_iter().chain(again).collect()
            }
            Some(telling) if telling.asks == BookAsks::Page => {
                let value = BookValue { page, instead, ..telling.value };
                match value.source() {
                    Some(_) => self.ask_of_book(Telling { value, ..telling }),
                    None => self.answer_first(),
                }
            }
            Some(_) => self.answer_first(),
            None => vec![Say::Refused(Refusal::NothingAsked)],
        }
    }

    /// The order of tightening was told.
    pub(super) fn book_order(&mut self, order: ToldOrder) -> Vec<Say> {
        match self.telling().cloned() {
            Some(telling) if telling.asks == BookAsks::Order => {
                match order.of(self.fastener(telling.group).places.len()) {
                    Some(_) => self.ask_of_book(Telling { order: Some(order), ..telling }),
                    None => {
                        vec![Say::Refused(Refusal::NoTwoRows), Say::Question(Question::Book(Box::new(telling)))]
                    }
                }
            }
            Some(_) => self.answer_first(),
            None => vec![Say::Refused(Refusal::NothingAsked)],
        }
    }

    fn ask_of_book(&mut self, telling: Telling) -> Vec<Say> {
        let asks = telling.next(self.fastener(telling.group));
        self.ask(Question::Book(Box::new(Telling { asks, ..telling })))
    }

    /// A yes or a no to what is asked of the book.
    pub(super) fn book_answered(&mut self, telling: Telling, yes: bool, at: At) -> Vec<Say> {
        match (telling.asks, yes) {
            (BookAsks::Runs, together) => self.ask_of_book(Telling { together: Some(together), ..telling }),
            (_, true) => self.book_grows(telling, at),
            (_, false) => {
                let mut says = vec![Say::LeftAsItIs];
                says.extend(self.announce());
                says
            }
        }
    }

    /// From here on the job goes by what was told.
    fn book_grows(&mut self, telling: Telling, at: At) -> Vec<Say> {
        let group = telling.group;
        let Some(fastener) = grown(self.fastener(group), &telling) else {
            return vec![Say::Refused(Refusal::NoValue), Say::Untold { group }];
        };
        self.go_by_fastener(group, fastener);
        self.record(at, Fact::Book(Box::new(telling)), None, Vec::new());
        self.said = None;
        let mut says = vec![Say::BookTold { group }];
        says.extend(self.announce());
        says
    }

    /// What was told of a group is taken back: the value is asked for again.
    pub(super) fn book_shrinks(&mut self, group: FastenerIx) {
        if let Some(fastener) = self.whole.fasteners.get(group.0).cloned() {
            self.go_by_fastener(group, fastener);
        }
    }

    fn go_by_fastener(&mut self, group: FastenerIx, fastener: Fastener) {
        let book = Arc::make_mut(&mut self.book);
        if let Some(known) = book.fasteners.get_mut(group.0) {
            *known = fastener;
        }
        self.reorder(group);
    }

    /// What a step does to the whole of a group it does in the order of the book.
    fn reorder(&mut self, group: FastenerIx) {
        let book = Arc::make_mut(&mut self.book);
        let Some(order) = book.fasteners.get(group.0).map(|fastener| fastener.order.clone()) else { return };
        for act in book.steps.iter_mut().flat_map(|step| &mut step.acts) {
            if let Act::Fasten { group: of, items, deed: Deed::Tighten(_) } = act
                && *of == group
            {
                items.sort_by_key(|item| order.iter().position(|at| at == item));
            }
        }
    }
}

/// The group with what was told of it; nothing where that is no value.
fn grown(fastener: &Fastener, telling: &Telling) -> Option<Fastener> {
    let value = &telling.value;
    let finish = match (&value.stages, value.read()) {
        (Some(_), Some(kinds)) => Finish::Stages(kinds.into_iter().map(Stage::plain).collect()),
        (None, _) => Finish::NoValue { instead: value.instead.clone()? },
        (Some(_), None) => return None,
    };
    let order = match telling.order {
        Some(order) => order.of(fastener.places.len())?,
        None => fastener.order.clone(),
    };
    let runs = match telling.together {
        Some(true) => Runs::StageByStage,
        Some(false) => Runs::OneAtATime,
        None => fastener.runs,
    };
    Some(Fastener { finish, order, runs, source: value.source(), ..fastener.clone() })
}
