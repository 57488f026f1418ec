//! What becomes of each thing in the course of the steps, done one after the other as written.

use super::told::{as_if, component_words, done, places_of, words, worked_as_one};
use crate::procedure::code::Code;
use crate::procedure::conduct::When;
use crate::procedure::lawful::{self, ComponentState, ItemState, Lawful};
use crate::procedure::model::*;
use crate::procedure::resolve::What;

/// Where in the steps something is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    /// Nowhere: the thing was never touched.
    Nowhere,
    Phase(usize),
    Needs(usize),
    /// Step and act.
    Act(usize, usize),
}

/// Something that cannot be done as it is written, or is left open at the end.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// What sort of thing.
    pub code: Code,
    /// What is wrong.
    pub said: String,
    pub(super) right: String,
    /// The kind of thing; none for the steps themselves.
    pub(super) what: Option<What>,
    pub(super) place: Place,
}

impl Fault {
    /// The same, told with the way on which it comes up.
    pub(super) fn on(self, way: &str) -> Fault {
        Fault { said: format!("{way}: {}", self.said), ..self }
    }

    /// From this step on there are more things that steps are done after than are followed.
    pub(super) fn not_followed(step: usize, most: usize) -> Fault {
        Fault {
            code: Code::BranchUnfit,
            said: format!("it is not checked with and without this: steps are done after more than {most} things"),
            right: "Divide it into several procedures".into(),
            what: None,
            place: Place::Phase(step),
        }
    }

    /// Is it about the same place, and does it say the same, but for what is said before it?
    pub(super) fn repeats(&self, known: &Fault) -> bool {
        known.place == self.place && (self.said.ends_with(&known.said) || known.said.ends_with(&self.said))
    }

    /// The step it is in, and which act of the step where it is about one.
    pub fn place(&self) -> Option<(usize, Option<usize>)> {
        match self.place {
            Place::Nowhere => None,
            Place::Phase(step) | Place::Needs(step) => Some((step, None)),
            Place::Act(step, act) => Some((step, Some(act))),
        }
    }
}

impl Place {
    fn step(self) -> Option<usize> {
        match self {
            Place::Nowhere => None,
            Place::Phase(step) | Place::Needs(step) | Place::Act(step, _) => Some(step),
        }
    }
}

/// A state and the act that led to it.
#[derive(Debug, Clone)]
struct Now<S> {
    state: S,
    since: Place,
}

impl<S> Now<S> {
    fn first(state: S) -> Now<S> {
        Now { state, since: Place::Nowhere }
    }
}

/// The course of a procedure: everything in the state that the steps bring it to.
#[derive(Debug)]
pub struct Course<'a> {
    book: &'a Procedure,
    pub(super) faults: Vec<Fault>,
    items: Vec<Vec<Now<ItemState>>>,
    supports: Vec<Now<bool>>,
    components: Vec<Now<ComponentState>>,
    /// Closed?
    connections: Vec<Now<bool>>,
    conditions: Vec<Now<bool>>,
    /// Named measurements that were taken.
    measured: Vec<MeasureIx>,
}

/// Walks through a procedure to its end, through the steps that are not always done as well.
pub fn course(book: &Procedure) -> Course<'_> {
    course_through(book, |_| true)
}

/// The same, through those steps only of which what they are done after has come about.
pub(super) fn course_through(book: &Procedure, came: impl Fn(When) -> bool) -> Course<'_> {
    let done = |step: &Step| step.when.is_none_or(&came);
    let mut course = Course {
        book,
        faults: Vec::new(),
        items: book.fasteners.iter().map(|f| vec![Now::first(ItemState::AsFound); f.places.len()]).collect(),
        supports: vec![Now::first(false); book.supports.len()],
        components: vec![Now::first(ComponentState::On); book.components.len()],
        connections: vec![Now::first(true); book.connections.len()],
        conditions: vec![Now::first(false); book.conditions.len()],
        measured: Vec::new(),
    };
    let mut last = Phase::Prepare;
    for (ix, step) in book.steps.iter().enumerate().filter(|(_, step)| done(step)) {
        if step.phase < last {
            let said = format!("step \"{}\" goes back to an earlier phase", step.id);
            let right = "Give the steps in the order prepare, strip, inspect, rebuild, close";
            course.report(None, Code::PhaseOrder, Place::Phase(ix), said, right);
        }
        last = last.max(step.phase);
        course.step(ix, step);
        if let Some(until) = &step.until {
            course.again((until.from..ix + 1).filter(|&ix| done(&book.steps[ix])));
        }
    }
    course.end();
    course
}

impl Course<'_> {
    /// What is wrong.
    pub fn faults(&self) -> &[Fault] {
        &self.faults
    }

    /// State of a fastener at the end.
    pub fn item(&self, group: FastenerIx, item: usize) -> ItemState {
        self.items[group.0][item].state
    }

    /// What brought the vehicle into the state in which it is at the end, or out of it.
    pub(super) fn since(&self, ix: ConditionIx) -> Place {
        self.conditions[ix.0].since
    }

    /// Is the vehicle in this state at the end?
    pub fn is_in(&self, ix: ConditionIx) -> bool {
        self.conditions[ix.0].state
    }

    fn report(
        &mut self,
        what: impl Into<Option<What>>,
        code: Code,
        place: Place,
        said: String,
        right: impl Into<String>,
    ) {
        self.faults.push(Fault { code, said, right: right.into(), what: what.into(), place });
    }

    fn step(&mut self, ix: usize, step: &Step) {
        if let Some(needs) = lawful::step_needs(step, |_| false) {
            self.needs(needs, Place::Needs(ix), &format!("step \"{}\"", step.id));
        }
        for (n, act) in step.acts.iter().enumerate() {
            let works = matches!(act, Act::Measure(_) | Act::Fasten { deed: Deed::Tighten(_), .. });
            if let (Some(needs), true) = (step.needs, works) {
                self.needs(needs, Place::Needs(ix), &format!("step \"{}\"", step.id));
            }
            self.act(act, Place::Act(ix, n));
        }
    }

    /// Goes through steps once more that are done in rounds. What one round leaves is what the next one finds, and since each
    /// act brings a thing into one state, a third round finds what the second did.
    fn again(&mut self, steps: impl Iterator<Item = usize>) {
        let steps: Vec<usize> = steps.collect();
        let in_it = |place: Place| place.step().is_some_and(|step| steps.contains(&step));
        // What is wrong the first time would only be told twice.
        if self.faults.iter().any(|fault| in_it(fault.place)) {
            return;
        }
        let (book, before) = (self.book, self.faults.len());
        for ix in steps {
            self.step(ix, &book.steps[ix]);
        }
        for fault in self.faults.iter_mut().skip(before) {
            fault.said = format!("when it is done again: {}", fault.said);
        }
    }

    fn needs(&mut self, ix: ConditionIx, place: Place, who: &str) {
        if self.conditions.get(ix.0).is_some_and(|now| !now.state) {
            let name = self.book.conditions.get(ix.0).map_or("", |c| c.name.as_str());
            let said = format!("{who} needs the vehicle {name}, and it is not at that point");
            let right = "Put a step with \"reach\" before it, or move it to where the state holds";
            if self.faults.last().is_some_and(|fault| fault.place == place && fault.said == said) {
                return;
            }
            self.report(What::Condition, Code::ConditionUnmet, place, said, right);
        }
    }

    fn act(&mut self, act: &Act, place: Place) {
        let book = self.book;
        match act {
            Act::Place(ix) | Act::TakeAway(ix) => {
                let to = matches!(act, Act::Place(_));
                let Some(now) = self.supports.get_mut(ix.0) else { return };
                if bring(now, lawful::support(now.state, to), to, place) {
                    let name = book.supports.get(ix.0).map_or("", |s| s.name.as_str());
                    let said = format!("\"{name}\" is {} already", if to { "in place" } else { "away" });
                    let right = if to { "Take it away first" } else { "Place it first" };
                    self.report(What::Support, Code::SupportUnlawful, place, said, right);
                }
            }
            Act::Reach(ix) | Act::Leave(ix) => {
                let to = matches!(act, Act::Reach(_));
                let Some(now) = self.conditions.get_mut(ix.0) else { return };
                if bring(now, lawful::condition(now.state, to), to, place) {
                    let name = book.conditions.get(ix.0).map_or("", |c| c.name.as_str());
                    let said = format!("the vehicle {} {name}", if to { "is already" } else { "is not" });
                    let right = if to { "Leave the state first" } else { "Put a step with \"reach\" before it" };
                    self.report(What::Condition, Code::ConditionUnlawful, place, said, right);
                }
            }
            Act::TakeOff(ix) => self.component(*ix, ComponentState::Off, place),
            Act::Hang(ix) => self.component(*ix, ComponentState::Hung, place),
            Act::PutOn(ix) => self.component(*ix, ComponentState::On, place),
            Act::Disconnect(ix) | Act::Connect(ix) => {
                let to = matches!(act, Act::Connect(_));
                let Some(now) = self.connections.get_mut(ix.0) else { return };
                if bring(now, lawful::connection(now.state, to), to, place) {
                    let name = book.connections.get(ix.0).map_or("", |c| c.name.as_str());
                    let said = format!("\"{name}\" is {} already", if to { "closed" } else { "open" });
                    let right = "Take this act out, or put in the one that is missing before it";
                    self.report(What::Connection, Code::ConnectionUnlawful, place, said, right);
                }
            }
            Act::Fasten { group, items, deed } => self.fasten(*group, items, *deed, place),
            Act::Measure(m) => {
                for from in m.from.into_iter().chain(m.more.iter().map(|term| term.of)) {
                    self.counts_from(Some(from), place, &format!("the measurement \"{}\"", m.what));
                }
                self.measured.extend(m.name);
            }
            Act::Clean(_) | Act::Apply(_) => {}
        }
    }

    /// Is what a value counts from measured by now?
    fn counts_from(&mut self, from: Option<MeasureIx>, place: Place, who: &str) {
        let Some(from) = from.filter(|from| !self.measured.contains(from)) else { return };
        let name = self.book.named.get(from.0).map_or("", |named| named.id.as_str());
        let said = format!("{who} counts from \"{name}\", which is not measured by then");
        let right = "Put the step that measures it before this one";
        self.report(What::Measurement, Code::MeasureLater, place, said, right);
    }

    fn component(&mut self, ix: ComponentIx, to: ComponentState, place: Place) {
        let Some(now) = self.components.get_mut(ix.0) else { return };
        if bring(now, lawful::component(now.state, to), to, place) {
            let name = self.book.components.get(ix.0).map_or("", |c| c.name.as_str());
            let said = format!("\"{name}\" is {} already", component_words(to));
            let right = "Take this act out, or put in the one that is missing before it";
            self.report(What::Component, Code::ComponentUnlawful, place, said, right);
        }
    }

    fn fasten(&mut self, group: FastenerIx, items: &[usize], deed: Deed, place: Place) {
        let Some(fastener) = self.book.fasteners.get(group.0) else { return };
        let Some(states) = self.items.get_mut(group.0) else { return };
        let stages = fastener.finish.len();
        let mut refused: Vec<(ItemState, &'static str, Vec<&str>)> = Vec::new();
        let mut from = stages;
        let before: Vec<ItemState> = items.iter().filter_map(|&item| Some(states.get(item)?.state)).collect();
        let mixed = worked_as_one(deed, &before);
        for &item in items {
            let (Some(now), Some(at)) = (states.get_mut(item), fastener.places.get(item)) else {
                continue;
            };
            from = from.min(now.state.stages_done(stages).unwrap_or(0));
            let after = now.state.after(deed, fastener).by_the_book().unwrap_or_else(|why| {
                match refused.iter_mut().find(|(state, _, _)| *state == now.state) {
                    Some((_, _, places)) => places.push(at),
                    None => refused.push((now.state, why, vec![at])),
                }
                as_if(now.state, deed, stages)
            });
            *now = Now { state: after, since: place };
        }
        if let Some((one, other)) = mixed.filter(|_| refused.is_empty()) {
            let said = format!(
                "of \"{}\" some are {} and some {} when they are {}",
                fastener.id,
                words(one),
                words(other),
                done(deed)
            );
            let right = "Bring all of them to one state in an earlier act, or name the \"items\" of each act";
            self.report(What::Fastener, Code::FastenerMixed, place, said, right);
        }
        for (state, why, places) in refused {
            let places = places_of(fastener, &places);
            let said = format!("{} is {} and cannot be {}", places, words(state), done(deed));
            let right = format!("Correct the order of the steps: {why}");
            self.report(What::Fastener, Code::FastenerUnlawful, place, said, right);
        }
        if let Deed::Tighten(through) = deed {
            for k in from..through.unwrap_or(stages) {
                let counts = fastener.finish.stage(k).and_then(|s| s.from);
                self.counts_from(counts, place, &format!("stage {} of \"{}\"", k + 1, fastener.id));
                if let Some(needs) = fastener.finish.stage(k).and_then(|s| s.needs) {
                    self.needs(needs, place, &format!("stage {} of \"{}\"", k + 1, fastener.id));
                }
            }
        }
    }

    /// What is left open at the end.
    fn end(&mut self) {
        let book = self.book;
        let no_rebuild = no_rebuild(book);
        let mut left: Vec<(&Fastener, Now<ItemState>, Vec<&str>)> = Vec::new();
        for (fastener, states) in book.fasteners.iter().zip(&self.items) {
            let group = left.len();
            for (now, place) in states.iter().zip(&fastener.places).filter(|(now, _)| !now.state.is_settled(fastener)) {
                match left[group..].iter_mut().find(|(_, n, _)| n.state == now.state && n.since == now.since) {
                    Some((_, _, places)) => places.push(place),
                    None => left.push((fastener, now.clone(), vec![place])),
                }
            }
        }
        for (fastener, now, places) in left {
            let (code, right) = match now.state {
                ItemState::HandStarted => (Code::FastenerHandTight, "Add a later step that tightens it"),
                ItemState::Holding => {
                    (Code::FastenerHolding, "Add a later step that takes it out, and one that fits it for good")
                }
                ItemState::AtStage(_) => (Code::FastenerHalfDone, "Add a later step that tightens it to the end"),
                ItemState::Final | ItemState::Unlocked => (Code::FastenerUnlocked, "Add a later step that locks it"),
                _ => (Code::FastenerUnfinished, "Add later steps that start it by hand and tighten it"),
            };
            let right = if no_rebuild { DRAFT } else { right };
            let end = if now.state == ItemState::Final { "not locked".to_owned() } else { words(now.state) };
            let said = format!("{} is still {end} at the end", places_of(fastener, &places));
            self.report(What::Fastener, code, now.since, said, right);
        }
        for (support, now) in book.supports.iter().zip(self.supports.clone()).filter(|(_, now)| now.state) {
            let said = format!("\"{}\" is still in place at the end", support.name);
            let right = if no_rebuild { DRAFT } else { "Add a later step that takes it away" };
            self.report(What::Support, Code::SupportLeft, now.since, said, right);
        }
        for (component, now) in book.components.iter().zip(self.components.clone()) {
            let code = match now.state {
                ComponentState::On => continue,
                ComponentState::Off => Code::ComponentOff,
                ComponentState::Hung => Code::ComponentHung,
            };
            let said = format!("\"{}\" is still {} at the end", component.name, component_words(now.state));
            let right = if no_rebuild { DRAFT } else { "Add a later step that puts it on" };
            self.report(What::Component, code, now.since, said, right);
        }
        for (connection, now) in book.connections.iter().zip(self.connections.clone()).filter(|(_, now)| !now.state) {
            let said = format!("\"{}\" is still open at the end", connection.name);
            let right = if no_rebuild { DRAFT } else { "Add a later step that closes it" };
            self.report(What::Connection, Code::ConnectionOpen, now.since, said, right);
        }
        for (condition, now) in book.conditions.iter().zip(self.conditions.clone()).filter(|(_, now)| now.state) {
            // What comes before the work, or of putting together, is what the vehicle is worked at and handed back in.
            let step = now.since.step().and_then(|step| book.steps.get(step));
            let Some(step) = step.filter(|step| matches!(step.phase, Phase::Strip | Phase::Inspect)) else { continue };
            let said = format!("at the end the vehicle is still {}, as step \"{}\" left it", condition.name, step.id);
            let right = if no_rebuild { DRAFT } else { LEAVE };
            self.report(What::Condition, Code::ConditionLeft, now.since, said, right);
        }
    }
}

pub(super) fn no_rebuild(book: &Procedure) -> bool {
    book.steps.iter().all(|step| step.phase < Phase::Rebuild)
}

/// The way out for a file that ends before anything is put back.
pub(super) const DRAFT: &str =
    "The file has no rebuild yet: \"wrenchside draft-rebuild FILE\" drafts it from the strip";

/// The way out for a state that a test was done in.
const LEAVE: &str = "Add a later step with \"leave\"; what the vehicle is handed back in is reached in the rebuild";

/// Brings a thing to where an act wants it, lawful or not, so that one mistake is one finding; was it unlawful?
fn bring<S>(now: &mut Now<S>, lawful: Lawful<S>, to: S, since: Place) -> bool {
    *now = Now { state: to, since };
    lawful.by_the_book().is_err()
}
