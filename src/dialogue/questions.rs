//! Questions of the job to the user, and why it does not follow a command, put into words.

use super::Tone;
use super::render::{Draft, PENDING};
use super::templates::Templates;
use super::values::Teller;
use crate::job::{Damage, Fact, On, Question, Refusal, Remedy, Verdict};
use crate::procedure::{Bounds, Until};
use crate::quantity::Quantity;
use minijinja::{Value, context};

/// Things passed by a jump that are named; of more only how many.
const MOST_BETWEEN: usize = 3;

impl Teller<'_> {
    pub(super) fn question(&self, question: &Question) -> Draft {
        let draft = match question {
            Question::Hold { step } => {
                let hold = self.book.steps[*step].hold.as_deref();
                Draft::new("ask_hold", context! { say => hold.unwrap_or(&self.book.steps[*step].say) })
            }
            Question::Variant { variant } => Draft::new("ask_variant", context! { name => self.variant(*variant) }),
            Question::InTime { step, reading } => {
                let reading = reading.as_ref().map(|waiting| self.quantity(waiting.value));
                let within = self.within(*step).unwrap_or_default();
                Draft::new("ask_in_time", context! { reading, ..within })
            }
            Question::Ask { step } => Draft::new("ask_until", context! { say => &self.book.steps[*step].ask }),
            Question::Until { step, .. } => {
                Draft::new("ask_until", context! { say => self.until(*step).map(|until| &until.ask) })
            }
            Question::Apart { steps, .. } => {
                let steps_list = self.step_numbers(steps);
                Draft::new("ask_apart", context! { steps_list, count => steps.len() })
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

    /// The time that there is for a step.
    pub(super) fn within(&self, step: usize) -> Option<Value> {
        let within = self.book.steps.get(step)?.within.as_ref()?;
        let (value, late) = (self.quantity(Quantity::Time(within.time)), &within.late);
        Some(context! { step => step + 1, from => within.after + 1, value, late })
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

    /// What decides whether steps are to be done: what is measured, or the number of the step that asks.
    fn decided_by(&self, on: On) -> (Option<&str>, Option<usize>) {
        match on {
            On::Measurement { step, act } => (self.measurement(step, act).map(|m| m.what.as_str()), None),
            On::Answer { step } => (None, Some(step + 1)),
        }
    }

    /// Steps of which it is not known yet whether they are to be done.
    pub(super) fn undecided(&self, steps: &[usize], on: On) -> Draft {
        let (steps_list, count, (what, asks)) = (self.step_numbers(steps), steps.len(), self.decided_by(on));
        Draft::new("undecided", context! { steps_list, count, what, asks })
    }

    pub(super) fn refusal(&self, refusal: &Refusal) -> Vec<Draft> {
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
            Refusal::NoTorque(counted) => {
                let step = self.book.named.get(counted.from.0).map_or(0, |named| named.step + 1);
                Draft::new("refused_no_torque", context! { parts => self.parts(counted), step })
            }
            Refusal::NotNeeded { step, on } => {
                let (what, asks) = on.map(|on| self.decided_by(on)).unwrap_or_default();
                Draft::new("refused_not_needed", context! { step => step + 1, what, asks })
            }
            Refusal::Undecided { step, on } => self.undecided(&[*step], *on),
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
            Refusal::TooLate { step } => Draft::new("refused_too_late", self.within(*step).unwrap_or_default()),
            Refusal::Closed => Draft::bare("refused_closed"),
        };
        vec![Draft { tone: Tone::Refusal, ..draft }]
    }
}

/// Its templates of `[values]`, each with the variables that it may use.
pub(super) const VALUES: &Templates = &[("instead", &["fact", "was"]), ("left", &["items", "stages"])];

/// Its templates of `[sentences]`, each with the variables that it may use.
pub(super) const SENTENCES: &Templates = &[
    ("ask_hold", &["say"]),
    ("ask_until", &["say"]),
    ("ask_in_time", &["from", "late", "reading", "step", "value"]),
    ("ask_variant", &["name"]),
    ("ask_again", &["step"]),
    ("ask_apart", &["count", "steps_list"]),
    ("ask_skip", &["step"]),
    ("ask_go_to", &["count", "more", "step", "steps_list", "things"]),
    ("ask_correct", &["instead"]),
    ("ask_unit", &["unit", "value"]),
    ("ask_leave_outside", &["bounds", "otherwise", "value", "what"]),
    ("ask_undo", &["fact"]),
    ("ask_angle", PENDING),
    ("ask_angle_announced", PENDING),
    ("ask_turned", PENDING),
    ("ask_pause", &[]),
    ("ask_reading_under", &["against", "instead", "tool", "value"]),
    ("ask_reading_within", &["against", "instead", "tool", "value"]),
    ("ask_reading_over", &["against", "instead", "tool", "value"]),
    ("ask_reading_far", &["against", "instead", "tool", "value"]),
    ("ask_broken", &["item"]),
    ("ask_stripped", &["item"]),
    ("ask_lost", &["item"]),
    ("ask_state", &["name"]),
    ("ask_which_broken", &["places_list"]),
    ("ask_which_stripped", &["places_list"]),
    ("ask_which_lost", &["places_list"]),
    ("ask_finish", &[]),
    ("ask_finish_open", &["open_list"]),
    ("ask_wait", &["minutes"]),
    ("ask_wait_over", &[]),
    ("ask_wait_unwatched", &["minutes"]),
    ("refused_unfinished", &["act", "item", "left", "stage", "stages"]),
    ("refused_unmeasured", &["what"]),
    ("refused_no_torque", &["parts", "step"]),
    ("refused_outside", &["bounds", "otherwise", "value", "what"]),
    ("refused_not_needed", &["asks", "step", "what"]),
    ("refused_not_in_state", &["needs"]),
    ("refused_unlawful", &["deed", "open_step", "state", "thing"]),
    ("refused_no_such_step", &["asked", "steps"]),
    ("refused_at_first", &[]),
    ("refused_at_last", &[]),
    ("refused_nothing_pending", &[]),
    ("refused_no_reading_awaited", &[]),
    ("refused_wrong_kind", &["unit", "value"]),
    ("refused_too_soon", &["value"]),
    ("refused_nothing_asked", &[]),
    ("refused_answer_first", &[]),
    ("refused_nothing_to_undo", &[]),
    ("refused_nothing_to_correct", &[]),
    ("refused_rest_of_number", &[]),
    ("refused_remedy_renew", &["item"]),
    ("refused_remedy_restart", &["item"]),
    ("refused_remedy_start", &["item"]),
    ("refused_not_locked", &["items", "lock", "name", "plural"]),
    ("refused_adapter_on", &[]),
    ("refused_no_variant", &[]),
    ("refused_variant_stands", &[]),
    ("refused_rounds_over", &["otherwise", "rounds"]),
    ("refused_too_late", &["from", "late", "step", "value"]),
    ("refused_closed", &[]),
];
