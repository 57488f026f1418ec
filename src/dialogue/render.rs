//! What the job says, put into words.
//!
//! Each thing said is one template of the language file or a few, rendered once for the voice and once for the eye
//! with the same variables. Which words there are is the language file's; this file only says what goes into them.

use super::file::{Language, capital};
use super::speakable::DigitsOf;
use super::values::Teller;
use super::{Manner, Sentence, Tone};
use crate::job::{Answer, Damage, Fact, Follows, ItemState, Pending, Question, Refusal, Remedy, Say, Verdict};
use crate::procedure::{Act, Bounds, Caution, Deed, FastenerIx, Part, Phase, Procedure, Signal, StageKind, Until};
use crate::quantity::{Quantity, TorqueUnit};
use minijinja::{Value, context};

/// Things passed by a jump that are named; of more only how many.
const MOST_BETWEEN: usize = 3;

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
            Say::Ahead(caution) => self.caution("ahead", caution),
            Say::Step { step, phase } => {
                let phase = phase.map(|phase| self.language.word(phase_key(phase)));
                let itself = Draft::new("step", context! { step => step + 1, phase, say => self.step_text(*step) });
                return self.left_hand_threads(*step).into_iter().chain([itself]).collect();
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
                    Draft::new("await_measure", context! { what => &m.what, bounds })
                }
                None => return Vec::new(),
            },
            Say::AwaitCounted { step, act, limits, counted } => {
                let (what, parts, bounds) = (self.what(*step, *act), self.parts(counted), self.bounds(limits));
                Draft::new("await_counted", context! { what, parts, bounds })
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
            Say::Marked { step } => Draft::new("marked", context! { step => step + 1 }),
            Say::Skipped { step } => Draft::new("skipped", context! { step => step + 1 }),
            Say::LeftAsItIs => Draft::bare("left_as_it_is"),
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

    fn caution(&self, key: &'static str, caution: &Caution) -> Draft {
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

    fn question(&self, question: &Question) -> Draft {
        let draft = match question {
            Question::Hold { step } => {
                let hold = self.book.steps[*step].hold.as_deref();
                Draft::new("ask_hold", context! { say => hold.unwrap_or(&self.book.steps[*step].say) })
            }
            Question::Variant { variant } => Draft::new("ask_variant", context! { name => self.variant(*variant) }),
            Question::Until { step, .. } => {
                Draft::new("ask_until", context! { say => self.until(*step).map_or("", |until| &until.ask) })
            }
            Question::Again { step } => Draft::new("ask_again", context! { step => step + 1 }),
            Question::Skip { step } => Draft::new("ask_skip", context! { step => step + 1 }),
            Question::GoTo { step, not_done, between } => {
                let things: Vec<String> = between.iter().take(MOST_BETWEEN).map(|b| self.between(b)).collect();
                let more = between.len().saturating_sub(MOST_BETWEEN);
                let (steps_list, count) = (self.step_numbers(not_done), not_done.len());
                Draft::new("ask_go_to", context! { step => step + 1, steps_list, count, things, more })
            }
            Question::Undo(fact) => Draft::new("ask_undo", context! { fact => self.taken_back(fact) }),
            Question::Turned { pending, .. } => Draft::new("ask_turned", self.pending(pending, self.manner.unit)),
            Question::Pause { .. } => Draft::bare("ask_pause"),
            Question::Angle(pending) => {
                let key = if pending.announced { "ask_angle_announced" } else { "ask_angle" };
                Draft::new(key, self.pending(pending, self.manner.unit))
            }
            Question::Correct { fact, was, value: None, .. } => {
                Draft::new("ask_correct", context! { instead => self.instead(fact, *was) })
            }
            Question::Reading { value, verdict, far, from, limits } => {
                self.ask_reading((*value, *verdict, *far), limits, None, from.as_deref())
            }
            Question::Correct { fact, was, limits, value: Some(value) } => {
                self.ask_reading(*value, limits, Some(self.instead(fact, *was)), None)
            }
            Question::Unit { value, not } => {
                let unit = &self.language.units().of(*not).many;
                Draft::new("ask_unit", context! { value => self.quantity(*value), unit })
            }
            Question::LeaveOutside { step, act, value } => {
                Draft::new("ask_leave_outside", self.outside(*step, *act, *value))
            }
            Question::Damaged { group, item, damage } => {
                let key = match damage {
                    Damage::Broken => "ask_broken",
                    Damage::Stripped => "ask_stripped",
                    Damage::Lost => "ask_lost",
                };
                Draft::new(key, context! { item => self.item(*group, *item) })
            }
            Question::State(condition) => {
                Draft::new("ask_state", context! { name => &self.book.conditions[condition.0].name })
            }
            Question::Which { damage, choices } => {
                let key = match damage {
                    Damage::Broken => "ask_which_broken",
                    Damage::Stripped => "ask_which_stripped",
                    Damage::Lost => "ask_which_lost",
                };
                let places_list: Vec<_> = choices.iter().map(|&(group, item)| self.item(group, item)).collect();
                Draft::new(key, context! { places_list })
            }
            Question::Finish { open } if open.is_empty() => Draft::bare("ask_finish"),
            Question::Finish { open } => Draft::new("ask_finish_open", context! { open_list => self.open_list(open) }),
            Question::Wait { minutes_left: 0, .. } => Draft::bare("ask_wait_over"),
            Question::Wait { minutes_left, unwatched } => {
                let key = if *unwatched { "ask_wait_unwatched" } else { "ask_wait" };
                Draft::new(key, context! { minutes => self.minutes(*minutes_left) })
            }
        };
        Draft { tone: Tone::Question, ..draft }
    }

    /// What ends the rounds of a step.
    fn until(&self, step: usize) -> Option<&Until> {
        self.book.steps.get(step)?.until.as_ref()
    }

    /// Is this number right, in place of another if it corrects one?
    fn ask_reading(
        &self,
        (value, verdict, far): (Quantity, Verdict, bool),
        limits: &Bounds,
        instead: Option<String>,
        tool: Option<&str>,
    ) -> Draft {
        let key = match verdict {
            _ if far => "ask_reading_far",
            Verdict::Under => "ask_reading_under",
            Verdict::Within => "ask_reading_within",
            Verdict::Over => "ask_reading_over",
        };
        let (value, against) = (self.quantity(value), self.against(limits, verdict));
        Draft::new(key, context! { value, against, instead, tool })
    }

    fn instead(&self, fact: &Fact, was: Quantity) -> String {
        self.value("instead", context! { fact => self.fact(fact), was => self.quantity(was) })
    }

    /// A measurement outside its limits.
    fn outside(&self, step: usize, act: usize, value: Quantity) -> Value {
        let measurement = self.measurement(step, act);
        context! {
            what => self.what(step, act),
            value => self.quantity(value),
            bounds => measurement.map(|m| self.bounds_of(m)).unwrap_or_default(),
            otherwise => measurement.map_or("", |m| &m.otherwise),
        }
    }

    /// A group and what locks it.
    fn lock(&self, group: FastenerIx) -> Value {
        let fastener = &self.book.fasteners[group.0];
        let (name, plural, items) = (&fastener.name, &fastener.plural, fastener.places.len());
        context! { name, plural, items, lock => fastener.lock.as_deref().unwrap_or_default() }
    }

    fn refusal(&self, refusal: &Refusal) -> Vec<Draft> {
        let draft = match refusal {
            Refusal::Unfinished { items, stages, pending } => {
                let left = self.value("left", context! { items, stages });
                let (item, act) = (self.item(pending.group, pending.item), self.act(pending, self.manner.unit));
                let (stage, of) = (pending.stage + 1, pending.stages);
                Draft::new("refused_unfinished", context! { left, item, act, stage, stages => of })
            }
            Refusal::Unmeasured { step, act } => {
                let what = self.measurement(*step, *act).map_or("", |m| &m.what);
                Draft::new("refused_unmeasured", context! { what })
            }
            Refusal::NotInState(condition) => {
                Draft::new("refused_not_in_state", context! { needs => &self.book.conditions[condition.0].name })
            }
            Refusal::Unlawful { act, item, state, open_step } => {
                let (thing, deed) = self.thing_and_deed(act, *item);
                let (state, open_step) = (self.thing_state(act, *state), open_step.map(|step| step + 1));
                Draft::new("refused_unlawful", context! { thing, deed, state, open_step })
            }
            Refusal::NoSuchStep { asked, steps } => Draft::new("refused_no_such_step", context! { asked, steps }),
            Refusal::AtFirst => Draft::bare("refused_at_first"),
            Refusal::AtLast => Draft::bare("refused_at_last"),
            Refusal::NothingPending => Draft::bare("refused_nothing_pending"),
            Refusal::NoReadingAwaited => Draft::bare("refused_no_reading_awaited"),
            Refusal::WrongKind { value, wanted } => {
                let unit = &self.language.units().of(*wanted).many;
                Draft::new("refused_wrong_kind", context! { value => self.quantity(*value), unit })
            }
            Refusal::TooSoon { value } => Draft::new("refused_too_soon", context! { value => self.quantity(*value) }),
            Refusal::Outside { step, act, value } => Draft::new("refused_outside", self.outside(*step, *act, *value)),
            Refusal::NothingAsked => Draft::bare("refused_nothing_asked"),
            Refusal::AnswerFirst(question) => {
                let first = Draft { tone: Tone::Refusal, ..Draft::bare("refused_answer_first") };
                return vec![first, self.question(question)];
            }
            Refusal::NothingToUndo => Draft::bare("refused_nothing_to_undo"),
            Refusal::NothingToCorrect => Draft::bare("refused_nothing_to_correct"),
            Refusal::RestOfNumber => Draft::bare("refused_rest_of_number"),
            Refusal::RemedyFirst { group, item, remedy } => {
                let key = match remedy {
                    Remedy::Renew => "refused_remedy_renew",
                    Remedy::Restart => "refused_remedy_restart",
                    Remedy::Start => "refused_remedy_start",
                };
                Draft::new(key, context! { item => self.item(*group, *item) })
            }
            Refusal::NotLocked { group } => Draft::new("refused_not_locked", self.lock(*group)),
            Refusal::AdapterOn => Draft::bare("refused_adapter_on"),
            Refusal::NoVariant => Draft::bare("refused_no_variant"),
            Refusal::VariantStands => Draft::bare("refused_variant_stands"),
            Refusal::RoundsOver { step } => {
                let until = self.until(*step);
                let otherwise = until.and_then(|until| until.otherwise.as_deref()).unwrap_or_default();
                let rounds = until.and_then(|until| until.at_most).unwrap_or_default();
                Draft::new("refused_rounds_over", context! { rounds, otherwise })
            }
            Refusal::Closed => Draft::bare("refused_closed"),
        };
        vec![Draft { tone: Tone::Refusal, ..draft }]
    }

    fn answer(&self, answer: &Answer) -> Vec<Draft> {
        let book = self.book;
        let unit = self.manner.unit;
        let one = match answer {
            Answer::Value(pending) => Draft::new("answer_value", self.pending(pending, unit)),
            Answer::InUnit { pending, unit } => {
                let torque = matches!(pending.kind, Some(StageKind::Torque(_)));
                let key = if torque { "answer_in_unit" } else { "answer_in_unit_none" };
                Draft::new(key, self.pending(pending, Some(*unit)))
            }
            Answer::LastValue(pending) => Draft::new("answer_last_value", self.pending(pending, unit)),
            Answer::NothingPending => Draft::bare("answer_nothing_pending"),
            Answer::Size(groups) if groups.is_empty() => Draft::bare("answer_size_none"),
            Answer::Size(groups) => {
                let size = |group: &FastenerIx| {
                    let fastener = &book.fasteners[group.0];
                    let draft =
                        Draft::new("answer_size", context! { name => &fastener.name, drive => &fastener.drive });
                    Draft { digits_of: DigitsOf::All, ..draft }
                };
                return groups.iter().map(size).collect();
            }
            Answer::Tool(groups) if groups.is_empty() => Draft::bare("answer_tool_none"),
            Answer::Tool(groups) => return groups.iter().map(|group| self.tool(*group)).collect(),
            Answer::Which(pending) => Draft::new("answer_which", self.pending(pending, unit)),
            Answer::HowManyLeft { items, stages } => {
                let left = self.value("left", context! { items, stages });
                Draft::new("answer_left", context! { left, stages })
            }
            Answer::Cautions(cautions) if cautions.is_empty() => Draft::bare("answer_no_cautions"),
            Answer::Cautions(cautions) => return cautions.iter().map(|c| self.caution("caution", c)).collect(),
            Answer::Why { step } => match &book.steps[*step].why {
                Some(say) => Draft::new("answer_why", context! { say }),
                None => Draft::bare("answer_why_none"),
            },
            Answer::Stuck { step } => match &book.steps[*step].stuck {
                Some(say) => Draft::new("answer_stuck", context! { say }),
                None => Draft::bare("answer_stuck_none"),
            },
            Answer::Source { page } => {
                let source = &book.source;
                let (source_title, edition, chapter) = (&source.title, &source.edition, &source.chapter);
                Draft::new("answer_source", context! { source_title, edition, chapter, page })
            }
            Answer::Parts if !book.parts.iter().any(|part| book.applies(part.only)) => Draft::bare("answer_parts_none"),
            Answer::Parts => {
                let part = |part: &Part| {
                    let (name, count, part_number) = (&part.name, part.count, &part.number);
                    Draft::new("answer_parts", context! { name, count, part_number })
                };
                return book.parts.iter().filter(|part| book.applies(part.only)).map(part).collect();
            }
            Answer::Open(open) if open.is_empty() => Draft::bare("answer_open_none"),
            Answer::Open(open) => Draft::new("answer_open", context! { open_list => self.open_list(open) }),
            Answer::HowLong { minutes, without, timers } => {
                let work = match (minutes, without) {
                    (0, 1..) => Draft::bare("answer_how_long_unknown"),
                    _ => Draft::new("answer_how_long", context! { minutes => self.minutes(*minutes), without }),
                };
                let timer = |left: &u32| Draft::new("answer_timer", context! { minutes => self.minutes(*left) });
                return std::iter::once(work).chain(timers.iter().map(timer)).collect();
            }
        };
        vec![one]
    }

    fn tool(&self, group: FastenerIx) -> Draft {
        let fastener = &self.book.fasteners[group.0];
        let name = &fastener.name;
        let draft = match fastener.tool {
            Some(tool) => {
                let tool = &self.book.tools[tool.0];
                Draft::new("answer_tool", context! { name, tool => &tool.name, stand_in => &tool.stand_in })
            }
            None => Draft::new("answer_tool_unknown", context! { name, drive => &fastener.drive }),
        };
        Draft { digits_of: DigitsOf::All, ..draft }
    }

    /// Every variable that a template about a stage may use.
    fn pending(&self, pending: &Pending, unit: Option<TorqueUnit>) -> Value {
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
