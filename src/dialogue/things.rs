//! Names of the things a job deals with, and of their states: items, facts, open points.

use super::templates::Templates;
use super::values::Teller;
use crate::job::{At, Between, ComponentState, Damage, Fact, Item, ItemState, Open, Remedy, ThingState, TooFar};
use crate::procedure::{Act, ConditionIx, Deed, FastenerIx, Measurement, StageKind, VariantIx};
use crate::quantity::{Quantity, Unit};
use minijinja::context;

impl Teller<'_> {
    pub(super) fn place(&self, group: FastenerIx, item: usize) -> Option<&str> {
        self.book.fasteners[group.0].places.get(item).map(String::as_str).filter(|place| !place.is_empty())
    }

    /// "Pivot bolt, front".
    pub(super) fn item(&self, group: FastenerIx, item: usize) -> String {
        let name = &self.book.fasteners[group.0].name;
        self.value("item", context! { name, place => self.place(group, item) })
    }

    /// Some items of a group; all of them are named by the group alone.
    pub(super) fn items(&self, group: FastenerIx, items: &[usize]) -> String {
        let fastener = &self.book.fasteners[group.0];
        let (plural, count, total) = (&fastener.plural, items.len(), fastener.places.len());
        match items {
            [item] => self.item(group, *item),
            _ if count == total => self.value("all_items", context! { plural, count }),
            items => {
                let places = items.iter().filter_map(|item| self.place(group, *item).map(str::to_owned));
                let places: Vec<String> = places.collect();
                self.value("items", context! { plural, places, count, total })
            }
        }
    }

    /// Numbers of steps; three and more in a row become one range.
    pub(super) fn step_numbers(&self, steps: &[usize]) -> Vec<String> {
        let number = |step: usize| (step + 1).to_string();
        let runs = steps.chunk_by(|a, b| a + 1 == *b);
        let told = runs.flat_map(|run| match *run {
            [first, _, .., last] => {
                vec![self.value("range", context! { low => number(first), high => number(last) })]
            }
            _ => run.iter().map(|&step| number(step)).collect(),
        });
        told.collect()
    }

    pub(super) fn step_text(&self, step: usize) -> &str {
        &self.book.steps[step].say
    }

    pub(super) fn measurement(&self, step: usize, act: usize) -> Option<&Measurement> {
        match self.book.steps.get(step)?.acts.get(act)? {
            Act::Measure(measurement) => Some(measurement),
            _ => None,
        }
    }

    pub(super) fn what(&self, step: usize, act: usize) -> &str {
        self.measurement(step, act).map_or("", |m| &m.what)
    }

    /// A variant of the vehicle.
    pub(super) fn variant(&self, ix: VariantIx) -> &str {
        self.book.variants.get(ix.0).map_or("", |variant| &variant.name)
    }

    /// Did somebody say no where a round ended at this step? Where a measurement decides, nobody was asked.
    fn ends_with_a_question(&self, step: usize) -> bool {
        self.book.steps.get(step).and_then(|step| step.until.as_ref()).is_some_and(|until| until.ask.is_some())
    }

    pub(super) fn fact(&self, fact: &Fact) -> String {
        let stage =
            |key, group, item, stage| self.value(key, context! { item => self.item(group, item), stage => stage + 1 });
        match *fact {
            Fact::Variant(ix) => self.value("fact_variant", context! { name => self.variant(ix) }),
            Fact::StepDone(step) => self.value("fact_step_done", context! { step => step + 1 }),
            Fact::StepSkipped(step) => self.value("fact_step_skipped", context! { step => step + 1 }),
            Fact::Again(step) => self.value("fact_again", context! { step => step + 1 }),
            Fact::InTime(step) => self.value("fact_in_time", context! { step => step + 1 }),
            Fact::Answered { step, yes } => {
                let key = if yes { "fact_answered_yes" } else { "fact_answered_no" };
                let say = self.book.steps[step].ask.as_deref().unwrap_or_default();
                self.value(key, context! { step => step + 1, say })
            }
            Fact::Round { step, round } => {
                let key = if self.ends_with_a_question(step) { "fact_round" } else { "fact_round_unasked" };
                self.value(key, context! { step => step + 1, round })
            }
            Fact::Stage { group, item, stage: s } => stage("fact_stage", group, item, s),
            Fact::Measured { step, act } => self.value("fact_measured", context! { what => self.what(step, act) }),
            Fact::LeftOutside { step, act } => {
                self.value("fact_left_outside", context! { what => self.what(step, act) })
            }
            Fact::Acts { step, .. } => self.value("fact_acts", context! { step => step + 1 }),
            Fact::WaitBegun(step) => self.value("fact_wait_begun", context! { step => step + 1 }),
            Fact::Waited(step) => self.value("fact_waited", context! { step => step + 1 }),
            Fact::Reading { group, item, stage: s } => stage("fact_reading", group, item, s),
            Fact::NotBegun { group, item, stage: s } => stage("fact_not_begun", group, item, s),
            Fact::Scrapped { group, item, damage } => {
                let damage = self.language.word(damage_key(damage));
                self.value("fact_scrapped", context! { item => self.item(group, item), damage })
            }
            Fact::Item { group, item, state } => {
                let state = self.item_state(group, state);
                self.value("fact_item", context! { item => self.item(group, item), state })
            }
            Fact::Note { step, .. } => self.value("fact_note", context! { step => step + 1 }),
            Fact::State(condition) => {
                self.value("fact_state", context! { name => &self.book.conditions[condition.0].name })
            }
            Fact::Book(ref telling) => self.value("fact_book", context! { name => self.group_named(telling.group) }),
            Fact::Mark(step) => self.value("fact_mark", context! { step => step + 1 }),
        }
    }

    /// A fact, as it is named where it is taken back: what was claimed does not sound as if it still were so.
    pub(super) fn taken_back(&self, fact: &Fact) -> String {
        match *fact {
            Fact::StepDone(step) => self.value("back_step_done", context! { step => step + 1 }),
            Fact::StepSkipped(step) => self.value("back_step_skipped", context! { step => step + 1 }),
            Fact::Again(step) => self.value("back_again", context! { step => step + 1 }),
            Fact::InTime(step) => self.value("back_in_time", context! { step => step + 1 }),
            Fact::Answered { step, .. } => self.value("back_answered", context! { step => step + 1 }),
            Fact::Round { step, round } => {
                let key = if self.ends_with_a_question(step) { "back_round" } else { "back_round_unasked" };
                self.value(key, context! { step => step + 1, round })
            }
            Fact::LeftOutside { step, act } => {
                self.value("back_left_outside", context! { what => self.what(step, act) })
            }
            Fact::NotBegun { group, item, stage } => {
                let item = self.item(group, item);
                self.value("back_not_begun", context! { item, stage => stage + 1 })
            }
            Fact::Scrapped { group, item, damage } => {
                let damage = self.language.word(damage_key(damage));
                self.value("back_scrapped", context! { item => self.item(group, item), damage })
            }
            Fact::Item { group, item, state } => {
                let state = self.item_state(group, state);
                self.value("back_item", context! { item => self.item(group, item), state })
            }
            Fact::State(condition) => {
                self.value("back_state", context! { name => &self.book.conditions[condition.0].name })
            }
            _ => self.fact(fact),
        }
    }

    pub(super) fn open_list(&self, open: &[Open]) -> Vec<String> {
        open.iter().map(|open| self.open(open)).collect()
    }

    /// A step that is due later, and when.
    pub(super) fn later(&self, step: usize) -> minijinja::Value {
        let this = &self.book.steps[step];
        context! { step => step + 1, say => this.say.trim_end_matches('.'), name => this.later.as_deref().unwrap_or_default() }
    }

    pub(super) fn open(&self, open: &Open) -> String {
        let book = self.book;
        let steps = |key, list: &[usize]| {
            self.value(key, context! { steps_list => self.step_numbers(list), count => list.len() })
        };
        match open {
            Open::Fasteners { group, items, state, over } => {
                let mut told: Vec<String> = Vec::new();
                let others = items.iter().copied().filter(|item| !over.iter().any(|over| over.item == *item));
                let others: Vec<usize> = others.collect();
                if !others.is_empty() {
                    let state = self.item_state(*group, *state);
                    told.push(self.value("open_fasteners", context! { item => self.items(*group, &others), state }));
                }
                told.extend(over.iter().map(|over| {
                    let state = self.too_far(*group, *state, over);
                    self.value("open_fasteners", context! { item => self.item(*group, over.item), state })
                }));
                told.join("; ")
            }
            Open::Support(support) => self.value("open_support", context! { name => &book.supports[support.0].name }),
            Open::Component(component, state) => {
                let state = self.plain_state(ThingState::Component(*state));
                self.value("open_component", context! { name => &book.components[component.0].name, state })
            }
            Open::Connection(connection) => {
                self.value("open_connection", context! { name => &book.connections[connection.0].name })
            }
            Open::Skipped(list) => steps("open_skipped", list),
            Open::NotDone(list) => steps("open_not_done", list),
            Open::Due(steps) => {
                let due = |&step: &usize| self.value("open_due", self.later(step));
                steps.iter().map(due).collect::<Vec<_>>().join("; ")
            }
            Open::Outside { step, act, value } => {
                let (what, value) = (self.what(*step, *act), self.quantity(*value));
                self.value("open_outside", context! { what, value })
            }
        }
    }

    /// What a step that is not done would see to.
    pub(super) fn between(&self, between: &Between) -> String {
        let book = self.book;
        match *between {
            Between::Set(ix) => self.value("between_set", context! { name => &book.supports[ix.0].name }),
            Between::TakeAway(ix) => self.value("between_take_away", context! { name => &book.supports[ix.0].name }),
            Between::Hold(step) => self.value("between_hold", context! { step => step + 1 }),
            Between::Until(step) => self.value("between_until", context! { step => step + 1 }),
            Between::Tighten(ix) | Between::Lock(ix) => {
                let key = if matches!(between, Between::Lock(_)) { "between_lock" } else { "between_tighten" };
                let (name, plural) = (&book.fasteners[ix.0].name, &book.fasteners[ix.0].plural);
                self.value(key, context! { name, plural, items => book.fasteners[ix.0].places.len() })
            }
        }
    }

    /// What an act is about, and what it does to it.
    pub(super) fn thing_and_deed(&self, act: &Act, item: usize) -> (String, &str) {
        let book = self.book;
        let condition = |ix: ConditionIx| self.value("condition", context! { name => &book.conditions[ix.0].name });
        let (thing, deed) = match act {
            Act::Place(ix) => (book.supports[ix.0].name.clone(), "deed_place"),
            Act::TakeAway(ix) => (book.supports[ix.0].name.clone(), "deed_take_away"),
            Act::Reach(ix) => (condition(*ix), "deed_reach"),
            Act::Leave(ix) => (condition(*ix), "deed_leave"),
            Act::Fasten { group, deed, .. } => (self.item(*group, item), deed_key(*deed)),
            Act::TakeOff(ix) => (book.components[ix.0].name.clone(), "deed_take_off"),
            Act::Hang(ix) => (book.components[ix.0].name.clone(), "deed_hang"),
            Act::PutOn(ix) => (book.components[ix.0].name.clone(), "deed_put_on"),
            Act::Disconnect(ix) => (book.connections[ix.0].name.clone(), "deed_disconnect"),
            Act::Connect(ix) => (book.connections[ix.0].name.clone(), "deed_connect"),
            Act::Measure(m) => (m.what.clone(), "deed_measure"),
            Act::Clean(what) => (what.clone(), "deed_clean"),
            Act::Apply(what) => (what.clone(), "deed_apply"),
        };
        (thing, self.language.word(deed))
    }

    /// The state of a fastener of this group. The end of a programme is named by what is done last in it: one that ends
    /// with turning back leaves nothing tight.
    pub(super) fn item_state(&self, group: FastenerIx, state: ItemState) -> String {
        let name = self.language.word(item_state_key(state));
        match (state, self.last_stage(group)) {
            (ItemState::AtStage(stage), _) => name.replace("{number}", &stage.to_string()),
            (ItemState::Locked, _) => {
                let end = self.end(group);
                self.value("final_locked", context! { end })
            }
            (ItemState::Final, _) if self.book.fasteners[group.0].lock.is_some() => {
                let end = self.end(group);
                self.value("final_not_locked", context! { end })
            }
            (ItemState::Final, _) => self.end(group),
            _ => name.to_owned(),
        }
    }

    /// The state of a fastener with what the ledger holds besides: one that was tightened too far is in no state that the
    /// book knows, whatever stage it had come to.
    pub(super) fn item_as_it_is(&self, group: FastenerIx, item: usize, entry: &Item) -> String {
        match TooFar::of(&self.book.fasteners[group.0], item, entry) {
            Some(over) => self.too_far(group, entry.state, &over),
            None => self.item_state(group, entry.state),
        }
    }

    fn too_far(&self, group: FastenerIx, state: ItemState, over: &TooFar) -> String {
        // Slack, or out, it is that as well.
        let loose = state.stages_done(self.book.fasteners[group.0].finish.len()).is_none();
        let state = loose.then(|| self.item_state(group, state));
        let turned = matches!(over.read, Some(Quantity::Angle(_)));
        let read = over.read.map(|read| self.quantity(read));
        let slacken = over.remedy == Some(Remedy::Restart);
        self.value("too_far", context! { state, turned, read, slacken, renew => over.remedy == Some(Remedy::Renew) })
    }

    /// The end of the programme of this group, without what locks it.
    fn end(&self, group: FastenerIx) -> String {
        match self.last_stage(group) {
            // Of a window nobody knows how far it was.
            Some(StageKind::BackOff(limits)) => {
                let exact = (!limits.is_window()).then(|| limits.low());
                let value = exact.map(|angle| self.amounts(angle.amount, None, Unit::Angle(angle.unit)));
                self.value("final_backed_off", context! { value })
            }
            Some(StageKind::Slacken) => self.value("final_slackened", context! {}),
            _ => self.language.word("final").to_owned(),
        }
    }

    /// Does the programme of this group end tight?
    pub(super) fn ends_tight(&self, group: FastenerIx) -> bool {
        !matches!(self.last_stage(group), Some(StageKind::BackOff(_) | StageKind::Slacken))
    }

    fn last_stage(&self, group: FastenerIx) -> Option<&StageKind> {
        let finish = &self.book.fasteners[group.0].finish;
        finish.stage(finish.len().saturating_sub(1)).map(|s| &s.kind)
    }

    /// The state of what an act is about.
    pub(super) fn thing_state(&self, act: &Act, state: ThingState) -> String {
        match (act, state) {
            (Act::Fasten { group, .. }, ThingState::Item(state)) => self.item_state(*group, state),
            (_, state) => self.plain_state(state).to_owned(),
        }
    }

    fn plain_state(&self, state: ThingState) -> &str {
        let key = match state {
            ThingState::Item(state) => item_state_key(state),
            ThingState::Placed(true) => "placed",
            ThingState::Placed(false) => "not_placed",
            ThingState::Component(ComponentState::On) => "on",
            ThingState::Component(ComponentState::Off) => "off",
            ThingState::Component(ComponentState::Hung) => "hung",
            ThingState::Connected(true) => "connected",
            ThingState::Connected(false) => "not_connected",
            ThingState::In(true) => "reached",
            ThingState::In(false) => "not_reached",
        };
        self.language.word(key)
    }

    /// How long ago something was, if it is known what time it is and it was not just now.
    pub(super) fn ago(&self, then: At) -> Option<String> {
        let minutes = self.manner.now?.0.saturating_sub(then.0) / 60_000;
        let (key, n) = match minutes {
            i64::MIN..=0 => return None,
            1..=59 => ("minutes_ago", minutes),
            60..=2879 => ("hours_ago", minutes / 60),
            _ => ("days_ago", minutes / 1440),
        };
        Some(self.value(key, context! { n }))
    }
}

fn damage_key(damage: Damage) -> &'static str {
    match damage {
        Damage::Broken => "broken",
        Damage::Stripped => "stripped",
        Damage::Lost => "lost",
    }
}

fn deed_key(deed: Deed) -> &'static str {
    match deed {
        Deed::Slacken => "deed_slacken",
        Deed::Remove => "deed_remove",
        Deed::Trap => "deed_trap",
        Deed::Hold => "deed_hold",
        Deed::HandStart => "deed_hand_start",
        Deed::Tighten(_) => "deed_tighten",
        Deed::Unlock => "deed_unlock",
        Deed::Lock => "deed_lock",
    }
}

fn item_state_key(state: ItemState) -> &'static str {
    match state {
        ItemState::AsFound => "as_found",
        ItemState::Slackened => "slackened",
        ItemState::Out => "out",
        ItemState::Trapped => "trapped",
        ItemState::Holding => "holding",
        ItemState::HandStarted => "hand_started",
        ItemState::AtStage(_) => "at_stage",
        ItemState::Final => "final",
        ItemState::Locked => "locked",
        ItemState::Unlocked => "unlocked",
        ItemState::InDoubt => "in_doubt",
        ItemState::Scrapped => "scrapped",
    }
}

/// Its templates of `[values]`, each with the variables that it may use.
pub(super) const VALUES: &Templates = &[
    ("item", &["name", "place"]),
    ("items", &["count", "places", "plural", "total"]),
    ("all_items", &["count", "plural"]),
    ("final_backed_off", &["value"]),
    ("final_slackened", &[]),
    ("final_locked", &["end"]),
    ("final_not_locked", &["end"]),
    ("condition", &["name"]),
    ("fact_step_done", &["step"]),
    ("fact_step_skipped", &["step"]),
    ("fact_again", &["step"]),
    ("fact_stage", &["item", "stage"]),
    ("fact_measured", &["what"]),
    ("fact_left_outside", &["what"]),
    ("fact_acts", &["step"]),
    ("fact_wait_begun", &["step"]),
    ("fact_waited", &["step"]),
    ("fact_reading", &["item", "stage"]),
    ("fact_not_begun", &["item", "stage"]),
    ("fact_scrapped", &["damage", "item"]),
    ("fact_item", &["item", "state"]),
    ("fact_state", &["name"]),
    ("fact_book", &["name"]),
    ("fact_mark", &["step"]),
    ("fact_note", &["step"]),
    ("fact_round", &["round", "step"]),
    ("fact_round_unasked", &["round", "step"]),
    ("fact_variant", &["name"]),
    ("back_round", &["round", "step"]),
    ("back_round_unasked", &["round", "step"]),
    ("back_step_done", &["step"]),
    ("back_step_skipped", &["step"]),
    ("back_again", &["step"]),
    ("back_left_outside", &["what"]),
    ("back_not_begun", &["item", "stage"]),
    ("fact_answered_yes", &["say", "step"]),
    ("fact_answered_no", &["say", "step"]),
    ("back_answered", &["step"]),
    ("fact_in_time", &["step"]),
    ("back_in_time", &["step"]),
    ("open_due", &["name", "say", "step"]),
    ("back_scrapped", &["damage", "item"]),
    ("back_item", &["item", "state"]),
    ("back_state", &["name"]),
    ("open_fasteners", &["item", "state"]),
    ("too_far", &["read", "renew", "slacken", "state", "turned"]),
    ("open_support", &["name"]),
    ("open_component", &["name", "state"]),
    ("open_connection", &["name"]),
    ("open_skipped", &["count", "steps_list"]),
    ("open_not_done", &["count", "steps_list"]),
    ("open_outside", &["value", "what"]),
    ("between_set", &["name"]),
    ("between_take_away", &["name"]),
    ("between_hold", &["step"]),
    ("between_until", &["step"]),
    ("between_tighten", &["items", "name", "plural"]),
    ("between_lock", &["items", "name", "plural"]),
    ("minutes_ago", &["n"]),
    ("hours_ago", &["n"]),
    ("days_ago", &["n"]),
];
