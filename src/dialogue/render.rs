//! What the job says, put into words: the sentences of steps, stages and readings. Questions and refusals stand in `questions`, answers
//! in `answers`.
//!
//! Each thing said is one template of the language file or a few, rendered once for the voice and once for the eye
//! with the same variables. Which words there are is the language file's; this file only says what goes into them.

use super::file::{Language, capital};
use super::speakable::DigitsOf;
use super::templates::Templates;
use super::values::Teller;
use super::{Manner, Sentence, Tone};
use crate::job::{Follows, ItemState, Pending, Remedy, Say, Verdict};
use crate::procedure::{Act, Bounds, Caution, Deed, FastenerIx, Measurement, Phase, Procedure, Signal};
use crate::quantity::TorqueUnit;
use minijinja::{Value, context};

/// The variables of a template about a stage, as [`Teller::pending`] gives them.
pub(super) const PENDING: &[&str] =
    &["act", "item", "items", "name", "new", "once", "place", "plural", "rank", "stage", "stages"];
const GROUP: &[&str] = &["items", "name", "plural", "stage", "state"];

/// One sentence to be: which template, with what, and how it is marked.
pub(super) struct Draft {
    pub(super) key: &'static str,
    pub(super) context: Value,
    pub(super) tone: Tone,
    pub(super) signal: Option<Signal>,
    pub(super) digits_of: DigitsOf,
}

impl Draft {
    pub(super) fn new(key: &'static str, context: Value) -> Draft {
        Draft { key, context, tone: Tone::Plain, signal: None, digits_of: DigitsOf::Amounts }
    }

    pub(super) fn bare(key: &'static str) -> Draft {
        Draft::new(key, context! {})
    }
}

impl Language {
    /// Puts what the job says into words, in order. One thing said may take several sentences.
    pub fn render(&self, says: &[Say], book: &Procedure, manner: &Manner) -> Vec<Sentence> {
        let teller = |spoken| Teller { language: self, book, manner, spoken };
        let (voice, eye) = (teller(true), teller(false));
        says.iter()
            .flat_map(|say| voice.say(say).into_iter().zip(eye.say(say)))
            .map(|(v, e)| self.finish(v, e))
            .collect()
    }

    pub(super) fn finish(&self, voice: Draft, eye: Draft) -> Sentence {
        let spoken = self.speak(&self.sentence(true, voice.key, voice.context), voice.digits_of);
        let written = self.sentence(false, eye.key, eye.context);
        Sentence { spoken: capitals(&spoken), written: capital(&written), signal: eye.signal, tone: eye.tone }
    }
}

impl Teller<'_> {
    fn say(&self, say: &Say) -> Vec<Draft> {
        let one = match say {
            Say::Opening => return self.opening(),
            Say::Question(question) => return vec![self.question(question)],
            Say::Refused(refusal) => return self.refusal(refusal),
            Say::Answer(answer) => return self.answer(answer),
            Say::Resumed { last } => {
                Draft::new("resumed", context! { title => &self.book.title, ago => self.ago(*last) })
            }
            Say::Paused => Draft::bare("paused"),
            Say::Closed { open } => Draft::new("closed", context! { count => open }),
            Say::Caution(caution) => self.caution("caution", caution),
            Say::Standing(caution) => self.caution("standing", caution),
            Say::Forewarning(caution) => self.caution("ahead", caution),
            Say::Step { step, phase } => {
                let phase = phase.map(|phase| self.language.word(phase_key(phase)));
                let itself = Draft::new("step", context! { step => step + 1, phase, say => self.step_text(*step) });
                let helper = self.book.steps[*step].helper.as_ref();
                let helper = helper.map(|say| Draft::new("helper", context! { say }));
                return self.left_hand_threads(*step).into_iter().chain([itself]).chain(helper).collect();
            }
            Say::Where { step, steps } => Draft::new("where", context! { step => step + 1, steps }),
            Say::Variant(ix) => Draft::new("variant", context! { name => self.variant(*ix) }),
            Say::Round { round, .. } => Draft::new("round", context! { round }),
            Say::Pending(pending) => {
                let key = match pending.follows {
                    Follows::Nothing => "pending_first",
                    Follows::SameStage => "pending_same_stage",
                    Follows::SameItem => "pending_same_item",
                    Follows::SameGroup => "pending_same_group",
                };
                Draft::new(key, self.pending(pending, self.manner.unit))
            }
            Say::AwaitMeasure { step, act } => match self.measurement(*step, *act) {
                Some(m) => {
                    let bounds = self.bounds_of(m);
                    let alone = self.number_alone(m);
                    let itself = Draft::new("await_measure", context! { what => &m.what, bounds, alone });
                    return [itself].into_iter().chain(self.at_hand(m, &m.limits)).collect();
                }
                None => return Vec::new(),
            },
            Say::AwaitCounted { step, act, limits, counted } => {
                let (what, parts, bounds) = (self.what(*step, *act), self.parts(counted), self.bounds(limits));
                let measurement = self.measurement(*step, *act);
                let alone = measurement.is_some_and(|m| self.number_alone(m));
                let itself = Draft::new("await_counted", context! { what, parts, bounds, alone });
                let at_hand = measurement.and_then(|m| self.at_hand(m, limits));
                return [itself].into_iter().chain(at_hand).collect();
            }
            Say::GroupDone { group, items, state } => self.group_done(*group, *items, *state),
            Say::ReadingTaken { value, verdict, from, limits } => {
                let key = match verdict {
                    Verdict::Under => "reading_under",
                    Verdict::Within => "reading_within",
                    Verdict::Over => "reading_over",
                };
                let against = self.against(limits, *verdict);
                Draft::new(key, context! { value => self.quantity(*value), tool => from, against })
            }
            Say::Corrected { fact, was, value, verdict, limits } => {
                let key = match verdict {
                    Verdict::Under => "corrected_under",
                    Verdict::Within => "corrected_within",
                    Verdict::Over => "corrected_over",
                };
                let (was, value) = (self.quantity(*was), self.quantity(*value));
                let (fact, against) = (self.fact(fact), self.against(limits, *verdict));
                Draft::new(key, context! { fact, was, value, against })
            }
            Say::Untold { group } => self.untold(*group),
            Say::BookTold { group } => Draft::new("book_kept", context! { name => self.group_named(*group) }),
            Say::OutsideLimits { step, act } => match self.measurement(*step, *act) {
                Some(m) => Draft::new("outside_limits", context! { what => &m.what, otherwise => &m.otherwise }),
                None => return Vec::new(),
            },
            Say::Lock { group } => Draft::new("lock_now", self.lock(*group)),
            Say::LastStepDone => Draft::bare("last_step_done"),
            Say::TakenBack(fact) => Draft::new("taken_back", context! { fact => self.taken_back(fact) }),
            Say::NowInDoubt(pending) => Draft::new("now_in_doubt", self.pending(pending, self.manner.unit)),
            Say::Remedy { group, item, remedy } => {
                let key = match remedy {
                    Remedy::Renew => "remedy_renew",
                    Remedy::Restart => "remedy_restart",
                    Remedy::Start => "remedy_start",
                };
                Draft::new(key, context! { item => self.item(*group, *item) })
            }
            Say::Noted { step } => Draft::new("noted", context! { step => step + 1 }),
            Say::Scrapped { group, item } => Draft::new("scrapped", context! { item => self.item(*group, *item) }),
            Say::OpenAgain { steps } => {
                let steps_list: Vec<_> = steps.iter().map(|step| step + 1).collect();
                Draft::new("open_again", context! { steps_list })
            }
            Say::NotNeeded { steps } => {
                let (steps_list, count) = (self.step_numbers(steps), steps.len());
                Draft::new("not_needed", context! { steps_list, count })
            }
            Say::Undecided { steps, on } => self.undecided(steps, *on),
            Say::Within { step } => match self.within(*step) {
                Some(context) => Draft::new("within", context),
                None => return Vec::new(),
            },
            Say::WithinUnwatched { step } => match self.within(*step) {
                Some(context) => Draft::new("within_unwatched", context),
                None => return Vec::new(),
            },
            Say::DueLater { steps } => {
                let draft = |&step: &usize| Draft::new("due_later", self.later(step));
                return steps.iter().map(draft).collect();
            }
            Say::Marked { step } => Draft::new("marked", context! { step => step + 1 }),
            Say::Skipped { step } => Draft::new("skipped", context! { step => step + 1 }),
            Say::LeftAsItIs => Draft::bare("left_as_it_is"),
            Say::NotLogged { value } => Draft::new("not_logged", context! { value => self.quantity(*value) }),
            Say::TimerStarted { minutes } => {
                Draft::new("timer_started", context! { minutes => self.minutes(*minutes) })
            }
            Say::TimeUp => Draft::bare("time_up"),
            Say::TimerLeft { minutes } => Draft::new("timer_left", context! { minutes => self.minutes(*minutes) }),
            Say::ClockSet => Draft::bare("clock_set"),
        };
        vec![one]
    }

    fn opening(&self) -> Vec<Draft> {
        let (book, source) = (self.book, &self.book.source);
        let mut drafts = vec![
            Draft::new("opening_job", context! { title => &book.title, vehicle => &book.vehicle }),
            Draft::new(
                "opening_source",
                context! { source_title => &source.title, edition => &source.edition, chapter => &source.chapter },
            ),
        ];
        drafts.extend(source.note.iter().map(|note| Draft::new("opening_note", context! { note })));
        drafts.push(Draft::bare("opening_defers"));
        drafts
    }

    pub(super) fn caution(&self, key: &'static str, caution: &Caution) -> Draft {
        let signal = self.language.word(signal_key(caution.signal));
        let draft = Draft::new(key, context! { signal, say => &caution.say });
        Draft { signal: Some(caution.signal), ..draft }
    }

    /// Which way left-hand threads turn that a step loosens or puts in, where its author does not say so. With each stage it is said
    /// there.
    fn left_hand_threads(&self, step: usize) -> Vec<Draft> {
        let step = &self.book.steps[step];
        let word = self.language.label("left_hand_thread").to_lowercase();
        let texts = step.cautions.iter().map(|caution| &caution.say).chain([&step.say]);
        if texts.into_iter().any(|text| text.to_lowercase().contains(&word)) {
            return Vec::new();
        }
        let mut told: Vec<(&'static str, FastenerIx, usize)> = Vec::new();
        for act in &step.acts {
            let Act::Fasten { group, items, deed } = act else { continue };
            let key = match deed {
                Deed::Slacken | Deed::Remove | Deed::Trap => "left_hand_loosens",
                Deed::Hold | Deed::HandStart => "left_hand_goes_in",
                Deed::Tighten(_) | Deed::Lock | Deed::Unlock => continue,
            };
            let new = !told.iter().any(|(other, of, _)| (*other, *of) == (key, *group));
            if self.book.fasteners[group.0].left_hand && new {
                told.push((key, *group, items.len()));
            }
        }
        let draft = |(key, group, count): (&'static str, FastenerIx, usize)| {
            let fastener = &self.book.fasteners[group.0];
            let name = if count == 1 { &fastener.name } else { &fastener.plural };
            let signal = self.language.word(signal_key(Signal::Note));
            Draft { signal: Some(Signal::Note), ..Draft::new(key, context! { signal, name, count }) }
        };
        told.into_iter().map(draft).collect()
    }

    /// Is the number of a reading to be said without its unit, because that is no word that can be heard?
    fn number_alone(&self, measurement: &Measurement) -> bool {
        self.language.units().of(measurement.unit).heard.is_empty()
    }

    /// What there is at hand that fits, where one of several sizes is chosen by a measurement.
    fn at_hand(&self, measurement: &Measurement, limits: &Bounds) -> Option<Draft> {
        let stock = self.book.stocks.get(measurement.among?.0)?;
        let name = &stock.name;
        Some(match self.fitting(stock, limits) {
            sizes if sizes.is_empty() => {
                Draft::new("at_hand_none", context! { name, otherwise => &measurement.otherwise })
            }
            sizes => Draft::new("at_hand", context! { name, things => sizes }),
        })
    }

    fn group_done(&self, group: FastenerIx, items: usize, state: ItemState) -> Draft {
        let (key, stage) = match state {
            // What locks it is still out: that belongs to how far it is.
            ItemState::Final if self.ends_tight(group) && self.book.fasteners[group.0].lock.is_none() => {
                ("group_final", 0)
            }
            ItemState::Final => ("group_final_loose", 0),
            ItemState::AtStage(stage) => ("group_at_stage", stage),
            ItemState::HandStarted => ("group_hand_started", 0),
            _ => ("group_other", 0),
        };
        let fastener = &self.book.fasteners[group.0];
        let (name, plural) = (&fastener.name, &fastener.plural);
        Draft::new(key, context! { name, plural, items, stage, state => self.item_state(group, state) })
    }

    /// A group and what locks it.
    pub(super) fn lock(&self, group: FastenerIx) -> Value {
        let fastener = &self.book.fasteners[group.0];
        let (name, plural, items) = (&fastener.name, &fastener.plural, fastener.places.len());
        context! { name, plural, items, lock => fastener.lock.as_deref().unwrap_or_default() }
    }

    /// Every variable that a template about a stage may use.
    pub(super) fn pending(&self, pending: &Pending, unit: Option<TorqueUnit>) -> Value {
        let fastener = &self.book.fasteners[pending.group.0];
        let new = pending.new.then(|| self.value("new", context! { short => short_name(&fastener.name) }));
        context! {
            name => &fastener.name,
            plural => &fastener.plural,
            place => self.place(pending.group, pending.item),
            item => self.item(pending.group, pending.item),
            rank => pending.rank + 1,
            items => pending.items,
            stage => pending.stage + 1,
            stages => pending.stages,
            new,
            act => self.act(pending, unit),
            once => self.once(pending),
        }
    }
}

/// The text with a capital at the start of each sentence: numbers become words only at the end.
fn capitals(text: &str) -> String {
    text.split_inclusive(". ")
        .map(|sentence| {
            let mut chars = sentence.chars();
            chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
        })
        .collect()
}

/// The last word of a name, where it can stand for it ("bolt" for "inner pivot bolt").
fn short_name(name: &str) -> Option<&str> {
    let word = name.rsplit(' ').next()?;
    (!name.contains([',', '(']) && word.chars().all(char::is_alphabetic)).then_some(word)
}

pub(super) fn phase_key(phase: Phase) -> &'static str {
    match phase {
        Phase::Prepare => "prepare",
        Phase::Strip => "strip",
        Phase::Inspect => "inspect",
        Phase::Rebuild => "rebuild",
        Phase::Close => "close",
    }
}

pub(super) fn signal_key(signal: Signal) -> &'static str {
    match signal {
        Signal::Note => "note",
        Signal::Caution => "caution",
        Signal::Warning => "warning",
        Signal::Danger => "danger",
    }
}

/// Its templates of `[values]`, each with the variables that it may use.
pub(super) const VALUES: &Templates = &[("new", &["short"])];

/// Its templates of `[sentences]`, each with the variables that it may use.
pub(super) const SENTENCES: &Templates = &[
    ("opening_job", &["title", "vehicle"]),
    ("opening_source", &["chapter", "edition", "source_title"]),
    ("opening_note", &["note"]),
    ("opening_defers", &[]),
    ("resumed", &["ago", "title"]),
    ("paused", &[]),
    ("closed", &["count"]),
    ("caution", &["say", "signal"]),
    ("standing", &["say", "signal"]),
    ("ahead", &["say", "signal"]),
    ("step", &["phase", "say", "step"]),
    ("helper", &["say"]),
    ("left_hand_loosens", &["count", "name", "signal"]),
    ("left_hand_goes_in", &["count", "name", "signal"]),
    ("where", &["step", "steps"]),
    ("round", &["round"]),
    ("variant", &["name"]),
    ("pending_first", PENDING),
    ("pending_same_stage", PENDING),
    ("pending_same_item", PENDING),
    ("pending_same_group", PENDING),
    ("await_measure", &["alone", "bounds", "what"]),
    ("await_counted", &["alone", "bounds", "parts", "what"]),
    ("at_hand", &["name", "things"]),
    ("at_hand_none", &["name", "otherwise"]),
    ("group_final", GROUP),
    ("group_final_loose", GROUP),
    ("group_at_stage", GROUP),
    ("group_hand_started", GROUP),
    ("group_other", GROUP),
    ("reading_under", &["against", "tool", "value"]),
    ("reading_within", &["against", "tool", "value"]),
    ("reading_over", &["against", "tool", "value"]),
    ("corrected_under", &["against", "fact", "value", "was"]),
    ("corrected_within", &["against", "fact", "value", "was"]),
    ("corrected_over", &["against", "fact", "value", "was"]),
    ("outside_limits", &["otherwise", "what"]),
    ("last_step_done", &[]),
    ("taken_back", &["fact"]),
    ("now_in_doubt", PENDING),
    ("remedy_renew", &["item"]),
    ("remedy_restart", &["item"]),
    ("remedy_start", &["item"]),
    ("lock_now", &["items", "lock", "name", "plural"]),
    ("scrapped", &["item"]),
    ("open_again", &["steps_list"]),
    ("marked", &["step"]),
    ("noted", &["step"]),
    ("skipped", &["step"]),
    ("not_needed", &["count", "steps_list"]),
    ("undecided", &["asks", "count", "steps_list", "what"]),
    ("within", &["from", "late", "step", "value"]),
    ("within_unwatched", &["from", "late", "step", "value"]),
    ("due_later", &["name", "say", "step"]),
    ("left_as_it_is", &[]),
    ("not_logged", &["value"]),
    ("timer_started", &["minutes"]),
    ("timer_left", &["minutes"]),
    ("clock_set", &[]),
    ("time_up", &[]),
];
