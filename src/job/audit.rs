//! What is open in the job, and closing it only when each kind of it was confirmed.

use super::{Act, ComponentState, Edition, ItemState, Job, Open, Question, Say, StepState, TooFar, Verdict, work};
use crate::procedure::{ComponentIx, ConnectionIx, FastenerIx, Measurement, SupportIx};

/// Kinds of open points, in the order they are asked about: what can hurt comes first.
fn kind(open: &Open) -> u8 {
    match open {
        Open::Fasteners { .. } => 0,
        Open::Component(..) => 1,
        Open::Connection(_) => 2,
        Open::Support(_) => 3,
        Open::Outside { .. } => 4,
        Open::Skipped(_) => 5,
        Open::NotDone(_) => 6,
        Open::Due(_) => 7,
    }
}

impl Job {
    /// Everything that is open, grouped. Steps not done count up to before `until`.
    pub fn open_points(&self, until: usize) -> Vec<Open> {
        let book = &self.book;
        let mut open = Vec::new();
        for group in (0..book.fasteners.len()).map(FastenerIx) {
            let fastener = &book.fasteners[group.0];
            let mut groups: Vec<((ItemState, bool), Vec<usize>)> = Vec::new();
            for (i, item) in self.ledger.items(group).iter().enumerate() {
                // Tightened too far is as open as not tightened: its rule has not been followed yet.
                if item.state.is_settled(fastener) && !item.over {
                    continue;
                }
                let alike = (item.state, item.over && self.edition >= Edition::Third);
                match groups.iter_mut().find(|(of, _)| *of == alike) {
                    Some((_, items)) => items.push(i),
                    None => groups.push((alike, vec![i])),
                }
            }
            open.extend(groups.into_iter().map(|((state, _), items)| {
                let over = items.iter().filter_map(|&i| TooFar::of(fastener, i, self.ledger.item(group, i))).collect();
                Open::Fasteners { group, items, state, over }
            }));
        }
        for ix in (0..book.components.len()).map(ComponentIx) {
            let state = self.ledger.component(ix);
            if state != ComponentState::On {
                open.push(Open::Component(ix, state));
            }
        }
        let loose = (0..book.connections.len()).map(ConnectionIx).filter(|&ix| !self.ledger.connected(ix));
        open.extend(loose.map(Open::Connection));
        let placed = (0..book.supports.len()).map(SupportIx).filter(|&ix| self.ledger.placed(ix));
        open.extend(placed.map(Open::Support));
        for (step, this) in book.steps.iter().enumerate() {
            for (act, measure) in this.acts.iter().enumerate() {
                let (Act::Measure(Measurement { leads, .. }), Some(value)) = (measure, self.ledger.measured(step, act))
                else {
                    continue;
                };
                // Until version 0.3 the steps that the book has for that case were all that there was to it.
                if *leads && self.edition < Edition::Fourth {
                    continue;
                }
                if self.judge(step, act, value) != Verdict::Within {
                    open.push(Open::Outside { step, act, value });
                }
            }
        }
        let due_now = |s: &usize| book.steps[*s].later.is_none();
        let steps = |state| (0..until).filter(due_now).filter(|&s| self.ledger.step(s) == state).collect::<Vec<_>>();
        let skipped: Vec<usize> =
            (0..book.steps.len()).filter(due_now).filter(|&s| self.ledger.step(s) == StepState::Skipped).collect();
        if !skipped.is_empty() {
            open.push(Open::Skipped(skipped));
        }
        let not_done = steps(StepState::Open);
        if !not_done.is_empty() {
            open.push(Open::NotDone(not_done));
        }
        // They belong to what is left when the job is closed, not to what was passed on the way.
        let later: Vec<usize> = self.later_steps().filter(|_| until >= book.steps.len()).collect();
        if !later.is_empty() {
            open.push(Open::Due(later));
        }
        open
    }

    /// Asks about the first kind of open points; with none open, whether to close.
    pub(super) fn finish(&mut self) -> Vec<Say> {
        self.confirmed_open.clear();
        self.ask_next_kind()
    }

    fn ask_next_kind(&mut self) -> Vec<Say> {
        let all = self.open_points(self.book.steps.len());
        let asked = self.confirmed_open.last().map(kind);
        let next = all.iter().map(kind).find(|&k| asked.is_none_or(|a| k > a));
        match next {
            Some(k) => {
                let open = all.into_iter().filter(|o| kind(o) == k).collect();
                self.ask(Question::Finish { open })
            }
            None if asked.is_none() => self.ask(Question::Finish { open: Vec::new() }),
            None => self.close(),
        }
    }

    /// One kind was confirmed as open: on to the next, or close.
    pub(super) fn finish_confirmed(&mut self, open: Vec<Open>) -> Vec<Say> {
        if open.is_empty() {
            return self.close();
        }
        self.confirm_open(open);
        self.ask_next_kind()
    }

    fn close(&mut self) -> Vec<Say> {
        vec![Say::Closed { open: self.close_with_confirmed() }]
    }

    /// Items and stages still to do in this step.
    pub fn left(&self) -> (usize, usize) {
        match self.ledger.step(self.step) {
            StepState::Done | StepState::NotNeeded => (0, 0),
            _ => work::left(&self.book, &self.ledger, self.step),
        }
    }
}
