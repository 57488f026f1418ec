//! What a strip-down answers, in words; and the words of the book that it writes.

use super::file::Language;
use super::named::NO_BOOK;
use super::render::Draft;
use super::strip_phrases::{TOLD, Told};
use super::templates::Templates;
use super::told::order_word;
use super::values::Teller;
use super::{Manner, Sentence, Tone};
use crate::procedure::{StageKind, ToldOrder};
use crate::quantity::{LengthUnit, Unit};
use crate::strip::book::Words;
use crate::strip::{Answered, Deed, Kind, Name, Question, Refused, Say, StripLog, Things, What};
use crate::values::{Entry, Refused as NotTaken, Value};
use minijinja::context;

/// In what is spoken, the recording of the name of entry n stands as the nth letter from here on: letters of the user's own, which no
/// text has.
pub const RECORDED: std::ops::RangeInclusive<char> = '\u{E000}'..='\u{F8FF}';

/// The entry whose recorded name this letter stands for.
pub fn recorded(letter: char) -> Option<usize> {
    RECORDED.contains(&letter).then(|| letter as usize - *RECORDED.start() as usize)
}
use rust_decimal::Decimal;

/// The letter that stands for the recorded name of this entry; nothing where there are not so many letters.
pub fn recording_letter(id: usize) -> Option<char> {
    let letter = char::from_u32(*RECORDED.start() as u32 + u32::try_from(id).ok()?);
    letter.filter(|letter| RECORDED.contains(letter))
}

impl Language {
    /// Puts what a strip-down answers into words.
    pub fn strip_says(&self, says: &[Say], log: &StripLog, manner: &Manner) -> Vec<Sentence> {
        let teller = |spoken| Teller { language: self, book: &NO_BOOK, manner, spoken };
        let (voice, eye) = (teller(true), teller(false));
        let both = |say: &Say| self.finish(voice.strip_say(say, log), eye.strip_say(say, log));
        says.iter().map(both).collect()
    }

    /// Asks whether a value of a page of values is the one of this group.
    pub fn strip_offers(&self, group: usize, entry: &Entry, log: &StripLog, manner: &Manner) -> Sentence {
        let draft = |spoken| {
            let teller = Teller { language: self, book: &NO_BOOK, manner, spoken };
            let (name, things) = (teller.entry_told(group, log), teller.published(&entry.value, manner.unit));
            let said = teller.entry_name(entry);
            Draft { tone: Tone::Question, ..Draft::new("strip_offer", context! { name, other => said, things }) }
        };
        self.finish(draft(true), draft(false))
    }

    /// Asks whether this is the whole value that was spoken for this group, number by number.
    pub fn strip_offers_heard(
        &self,
        group: usize,
        (stages, page): (Vec<StageKind>, Option<&str>),
        log: &StripLog,
        manner: &Manner,
    ) -> Sentence {
        self.reads_back(&|teller| teller.entry_told(group, log), &Value::Stages(stages), page, manner)
    }

    /// That something told is no value, and why.
    pub fn strip_no_value(&self, why: &NotTaken) -> Sentence {
        let (what, right) = match why {
            NotTaken::Check { what, right } => (what.as_str(), right.as_str()),
            NotTaken::Name | NotTaken::There(_) => ("", ""),
        };
        self.told("strip_no_value", Tone::Refusal, |_| context! { what, right })
    }

    /// What can be told, as help writes it: spoken the few most useful, written all of it.
    pub fn strip_help(&self) -> Sentence {
        let bolts = self.noun("bolt").map_or("", |noun| noun.many.as_str());
        let two = format!("{} {bolts}", self.numbers().say_whole(2));
        let size =
            format!("{} {}", self.numbers().say_whole(13), self.units().of(Unit::Length(LengthUnit::Millimetre)).one);
        let single =
            |key: &str| self.noun(key).and_then(|noun| noun.single.first()).map_or("", String::as_str).to_owned();
        let shown = |told: Told, phrase: &String| {
            let things = match told {
                Told::Opened => single("connector"),
                Told::TakenOff => single("cover"),
                _ => two.clone(),
            };
            let text = phrase.replace("{things}", &things).replace("{size}", &size);
            self.shown(&text.replace("{text}", "…"))
        };
        let lines = TOLD.iter().map(|(key, told)| {
            self.strip_patterns(key).iter().map(|phrase| shown(*told, phrase)).collect::<Vec<_>>().join(" · ")
        });
        let lines = lines.collect::<Vec<_>>().join("\n");
        let few = ["out", "opened", "taken_off", "hung_up", "everything"];
        let first = |wanted: &str| {
            let (key, told) = TOLD.iter().find(|(key, _)| *key == wanted)?;
            self.strip_patterns(key).first().map(|phrase| shown(*told, phrase))
        };
        let phrases: Vec<String> = few.iter().filter_map(|key| first(key)).collect();
        let help = self.told("help_spoken", Tone::Plain, |_| context! { phrases => &phrases });
        Sentence { written: lines, ..help }
    }

    fn counted(&self, things: Things, spoken: bool) -> String {
        let key = Kind::ALL.iter().find(|(_, kind)| *kind == things.kind).map_or("", |(key, _)| *key);
        let Some(noun) = self.noun(key) else { return String::new() };
        match things.count {
            1 => noun.single.first().cloned().unwrap_or_default(),
            n if spoken => format!("{} {}", self.numbers().say_whole(u64::from(n)), noun.many),
            n => format!("{n} {}", noun.many),
        }
    }
}

impl Teller<'_> {
    fn strip_say(&self, say: &Say, log: &StripLog) -> Draft {
        let name = |id: &usize| self.entry_told(*id, log);
        match say {
            Say::Opening => Draft::new("strip_opening", context! { title => log.title() }),
            Say::Resumed => Draft::new("strip_resumed", context! { title => log.title() }),
            Say::Told(id) | Say::Sized(id) => self.entry_read_back(*id, log),
            Say::Named(id) => Draft::new("strip_named", context! { name => self.own_name(*id, log) }),
            Say::Unnamed(_) => Draft::bare("strip_unnamed"),
            Say::Noted => Draft::bare("strip_noted"),
            Say::CameOff => Draft::new("strip_came_off", context! { things => self.came_off(log) }),
            Say::TakenBack(id) => Draft::new("strip_taken_back", context! { name => name(id) }),
            Say::AnswerTakenBack(asked) => match asked {
                Question::Value(id) => Draft::new("strip_value_back", context! { name => name(id) }),
                Question::Page(id) => Draft::new("strip_page_back", context! { name => name(id) }),
                Question::Order(id) => Draft::new("strip_order_back", context! { name => name(id) }),
                Question::Runs(id) => Draft::new("strip_runs_back", context! { name => name(id) }),
                Question::New(id) => Draft::new("strip_new_back", context! { name => name(id) }),
                _ => Draft::bare("strip_answer_back"),
            },
            Say::Value(id) => match log.answered(Question::Value(*id)) {
                Some(Answered::Value(_)) => {
                    let value = Value::Stages(log.stages(*id));
                    Draft::new("strip_value", context! { things => self.published(&value, self.manner.unit) })
                }
                Some(Answered::NoValue) => Draft::bare("strip_value_none"),
                _ => Draft::bare("strip_value_later"),
            },
            Say::Page(id) => {
                let page = match log.answered(Question::Page(*id)) {
                    Some(Answered::Page(Some(page)) | Answered::Listed { page, .. }) => self.page_of(page),
                    _ => String::new(),
                };
                Draft::new("strip_page", context! { name => page })
            }
            Say::Order(id) => match log.answered(Question::Order(*id)) {
                Some(Answered::Order(order)) => {
                    let count = match order {
                        ToldOrder::Crosswise => "order_count_round",
                        ToldOrder::FromTheMiddle => "order_count_rows",
                        ToldOrder::AsNumbered => "order_count_drawing",
                        ToldOrder::InTurn | ToldOrder::Unordered => "",
                    };
                    let other = if count.is_empty() { String::new() } else { self.word(count) };
                    Draft::new("strip_order", context! { name => self.word(order_word(*order)), other })
                }
                _ => Draft::bare("strip_value_later"),
            },
            Say::GoesOn => Draft::bare("strip_goes_on"),
            Say::LeftAsItIs => Draft::bare("left_as_it_is"),
            Say::Paused => Draft::bare("strip_paused"),
            Say::Ready => Draft::bare("strip_ready"),
            Say::Question(question) => self.strip_question(*question, log),
            Say::Refused(why) => Draft { tone: Tone::Refusal, ..self.strip_refusal(*why) },
        }
    }

    fn strip_question(&self, question: Question, log: &StripLog) -> Draft {
        let name = |id: usize| self.entry_told(id, log);
        let draft = match question {
            Question::Support => Draft::bare("strip_ask_support"),
            Question::Name(_) => Draft::bare("strip_ask_name"),
            Question::Changed { of, deed } => {
                Draft::new("strip_ask_changed", context! { name => name(of), state => self.deed(deed) })
            }
            Question::Hung(id) => {
                Draft::new("strip_ask_changed", context! { name => name(id), state => self.word("hung") })
            }
            Question::Width { of, size } => {
                let other = self.amounts(size, None, Unit::Length(LengthUnit::Millimetre));
                Draft::new("strip_ask_width", context! { name => name(of), other })
            }
            Question::Undo(id) => Draft::new("strip_ask_undo", context! { name => name(id) }),
            Question::Everything => Draft::bare("strip_ask_everything"),
            Question::Value(id) => Draft::new("strip_ask_value", context! { name => name(id) }),
            Question::Page(_) => Draft::bare("strip_ask_page"),
            Question::Order(id) => Draft::new("strip_ask_order", context! { name => name(id) }),
            Question::Runs(_) => Draft::bare("strip_ask_runs"),
            Question::New(id) => Draft::new("strip_ask_new", context! { name => name(id) }),
            Question::Whole => Draft::bare("strip_ask_whole"),
        };
        if question.is_yes_no() { Draft { tone: Tone::Question, ..draft } } else { draft }
    }

    fn strip_refusal(&self, why: Refused) -> Draft {
        match why {
            Refused::SupportFirst => Draft::bare("strip_support_first"),
            Refused::AnswerFirst => Draft::bare("refused_answer_first"),
            Refused::NothingAsked => Draft::bare("refused_nothing_asked"),
            Refused::NothingToUndo => Draft::bare("refused_nothing_to_undo"),
            Refused::NoSuchFasteners(deed) => {
                Draft::new("strip_no_such_fasteners", context! { state => self.deed(deed) })
            }
            Refused::NothingToName => Draft::bare("strip_nothing_to_name"),
            Refused::NothingOff => Draft::bare("strip_nothing_off"),
            Refused::GoesTogether => Draft::bare("strip_goes_together"),
            Refused::NoValue => Draft::new("strip_no_value", context! { what => "", right => "" }),
            Refused::NoPage => Draft::bare("strip_no_page_taken"),
            Refused::NoTwoRows => Draft::bare("strip_no_two_rows"),
            Refused::OnWheels => Draft::bare("strip_wheel_on_wheels"),
            Refused::SupportStands => Draft::bare("strip_support_stands"),
            Refused::Width => Draft::bare("strip_width"),
            Refused::Count => Draft::bare("strip_count"),
            Refused::NoName => Draft::bare("strip_no_name_taken"),
        }
    }

    /// What was taken: what was done, then what to, the width last.
    fn entry_read_back(&self, id: usize, log: &StripLog) -> Draft {
        let Some(entry) = log.entries().get(id) else { return Draft::bare("left_as_it_is") };
        let told = |state: String, things: String| Draft::new("strip_told", context! { state, name => things });
        match &entry.what {
            What::Support => Draft::bare("strip_support_told"),
            What::OnWheels => Draft::bare("strip_on_wheels_told"),
            What::Note(_) => Draft::bare("strip_noted"),
            What::Fasteners { things, size, .. } => {
                told(self.deed(log.deed_of(id).unwrap_or(Deed::Out)), self.sized(*things, *size))
            }
            What::Opened(things) => {
                let state = if things.kind == Kind::Connector { "strip_opened" } else { "off" };
                told(self.word(state), self.sized(*things, None))
            }
            What::Part { things, hung } => {
                told(self.word(if *hung { "hung" } else { "off" }), self.sized(*things, None))
            }
            What::Hung { of } => told(self.word("hung"), self.entry_told(*of, log)),
            What::Changed { of, deed, .. } => told(self.deed(*deed), self.entry_told(*of, log)),
        }
    }

    fn word(&self, key: &str) -> String {
        self.language.word(key).to_owned()
    }

    fn deed(&self, deed: Deed) -> String {
        self.word(match deed {
            Deed::Out => "out",
            Deed::StillIn => "strip_still_in",
            Deed::Stuck => "strip_stuck",
            Deed::Held => "strip_held",
        })
    }

    fn sized(&self, things: Things, size: Option<Decimal>) -> String {
        let things = self.language.counted(things, self.spoken);
        match size {
            Some(size) => format!("{things}, {}", self.amounts(size, None, Unit::Length(LengthUnit::Millimetre))),
            None => things,
        }
    }

    /// A thing told before: how many, how wide, and its name.
    fn entry_told(&self, id: usize, log: &StripLog) -> String {
        let Some(entry) = log.entries().get(id) else { return String::new() };
        let things = match &entry.what {
            What::Support => self.word("strip_support"),
            What::OnWheels => self.word("strip_on_wheels"),
            What::Note(_) => self.word("strip_note"),
            What::Fasteners { things, size, .. } => self.sized(*things, *size),
            What::Opened(things) | What::Part { things, .. } => self.sized(*things, None),
            What::Hung { of } => format!("{}, {}", self.entry_told(*of, log), self.word("hung")),
            What::Changed { of, deed, .. } => format!("{}, {}", self.entry_told(*of, log), self.deed(*deed)),
        };
        match self.own_name(id, log) {
            name if name.is_empty() => things,
            name => format!("{things}, {name}"),
        }
    }

    fn own_name(&self, id: usize, log: &StripLog) -> String {
        match log.entries().get(id).and_then(|entry| entry.name.as_ref()) {
            // Spoken, it is the user's own recording.
            Some(Name::Sound { .. }) if self.spoken => recording_letter(id).map_or_else(String::new, String::from),
            Some(name) => name.words().map_or_else(|| self.word("strip_spoken_name"), str::to_owned),
            None => String::new(),
        }
    }

    /// What is off or loose, each once, in the order in which it was told; what is not simply off, with how it is.
    fn came_off(&self, log: &StripLog) -> Vec<String> {
        let counts = |what: &What| matches!(what, What::Fasteners { .. } | What::Opened(_) | What::Part { .. });
        let hangs = |id: usize| log.standing().any(|(_, entry)| entry.what == What::Hung { of: id });
        let told = |(id, entry): (usize, &crate::strip::Entry)| {
            let state = match (&entry.what, log.deed_of(id)) {
                (_, Some(deed)) if deed != Deed::Out => self.deed(deed),
                (What::Part { hung, .. }, _) if *hung || hangs(id) => self.word("hung"),
                _ => return self.entry_told(id, log),
            };
            format!("{}, {state}", self.entry_told(id, log))
        };
        log.standing().filter(|(_, entry)| counts(&entry.what)).map(told).collect()
    }
}

impl Words for Language {
    fn tag(&self) -> String {
        Language::tag(self).to_owned()
    }

    fn kind(&self, kind: Kind, several: bool) -> String {
        let key = Kind::ALL.iter().find(|(_, known)| *known == kind).map_or("", |(key, _)| *key);
        let word = self.noun(key).map(|noun| if several { &noun.many } else { &noun.one });
        word.cloned().unwrap_or_default()
    }

    fn things(&self, things: Things) -> String {
        self.counted(things, true)
    }

    fn called(&self, kind: &str, name: &str) -> String {
        self.value(false, "strip_book_called", context! { kind, name })
    }

    fn of_lot(&self, kind: &str, lot: &str) -> String {
        self.value(false, "strip_book_lot", context! { kind, name => lot })
    }

    fn place(&self, n: u32) -> String {
        let said = || self.numbers().say_whole(u64::from(n));
        self.numbers().ordinal(u64::from(n)).map_or_else(said, str::to_owned)
    }

    fn text(&self, key: &'static str, name: &str) -> String {
        self.value(false, key, context! { name })
    }

    fn drive(&self, size: Option<Decimal>) -> String {
        match size {
            Some(size) => self.value(false, "strip_book_drive", context! { name => size.normalize().to_string() }),
            None => self.value(false, "strip_book_untold", context! { name => "" }),
        }
    }
}

/// Its templates of `[values]`, each with the variables that it may use.
pub(super) const VALUES: &Templates = &[
    ("strip_book_number", &["name"]),
    ("strip_book_called", &["kind", "name"]),
    ("strip_book_lot", &["kind", "name"]),
    ("strip_book_support", &["name"]),
    ("strip_book_place", &["name"]),
    ("strip_book_open", &["name"]),
    ("strip_book_take_off", &["name"]),
    ("strip_book_hang", &["name"]),
    ("strip_book_out", &["name"]),
    ("strip_book_still_in", &["name"]),
    ("strip_book_stuck", &["name"]),
    ("strip_book_held", &["name"]),
    ("strip_book_drive", &["name"]),
    ("strip_book_untold", &["name"]),
    ("strip_book_no_source", &["name"]),
    ("strip_book_no_edition", &["name"]),
    ("strip_book_sources", &["name"]),
    ("strip_book_editions", &["name"]),
    ("strip_book_page", &["name"]),
    ("strip_book_no_page", &["name"]),
    ("strip_book_no_value", &["name"]),
];

/// Its templates of `[sentences]`, each with the variables that it may use.
pub(super) const SENTENCES: &Templates = &[
    ("strip_opening", &["title"]),
    ("strip_resumed", &["title"]),
    ("strip_told", &["name", "state"]),
    ("strip_named", &["name"]),
    ("strip_unnamed", &[]),
    ("strip_noted", &[]),
    ("strip_support_told", &[]),
    ("strip_on_wheels_told", &[]),
    ("strip_came_off", &["things"]),
    ("strip_taken_back", &["name"]),
    ("strip_answer_back", &[]),
    ("strip_value_back", &["name"]),
    ("strip_page_back", &["name"]),
    ("strip_runs_back", &["name"]),
    ("strip_order_back", &["name"]),
    ("strip_order", &["name", "other"]),
    ("strip_no_two_rows", &[]),
    ("strip_new_back", &["name"]),
    ("strip_value", &["things"]),
    ("strip_value_none", &[]),
    ("strip_value_later", &[]),
    ("strip_paused", &[]),
    ("strip_ready", &[]),
    ("strip_ask_support", &[]),
    ("strip_ask_name", &[]),
    ("strip_ask_changed", &["name", "state"]),
    ("strip_ask_width", &["name", "other"]),
    ("strip_ask_undo", &["name"]),
    ("strip_ask_everything", &[]),
    ("strip_ask_value", &["name"]),
    ("strip_ask_page", &[]),
    ("strip_ask_runs", &[]),
    ("strip_ask_new", &["name"]),
    ("strip_offer", &["name", "other", "things"]),
    ("strip_offer_heard", &["name", "other", "things"]),
    ("strip_support_first", &[]),
    ("strip_no_such_fasteners", &["state"]),
    ("strip_nothing_to_name", &[]),
    ("strip_nothing_off", &[]),
    ("strip_goes_together", &[]),
    ("strip_no_value", &["right", "what"]),
    ("strip_only_millimetres", &[]),
    ("strip_one_kind", &[]),
    ("strip_wheel_on_wheels", &[]),
    ("strip_count", &[]),
    ("strip_no_name_taken", &[]),
    ("strip_name_late", &[]),
    ("strip_page", &["name"]),
    ("strip_goes_on", &[]),
    ("strip_ask_whole", &[]),
    ("strip_no_page_taken", &[]),
    ("strip_support_stands", &[]),
    ("strip_width", &[]),
    ("strip_not_understood", &[]),
];
