//! A strip-down told as it goes: what came off, counted, sized and named, and at the turning point what the book says of it.
//!
//! Pure, as `job` is: the same commands give the same log. Knows the table of what may follow what. It is no job yet: at the
//! turning point [`book`] writes the procedure that a job then goes by, with the strip as its first steps. `journal`
//! keeps it, `dialogue` has the words.
//!
//! Entries are numbered and never go away; what is taken back is marked so. [`StripLog::apply`] is the only way in; what was
//! spoken comes through [`StripLog::hear`], which lets nothing count twice that was said before its echo had been heard.

pub mod book;
pub mod command;
mod turning;

pub use command::{
    Answered, Class, Command, Deed, Entry, Kind, MOST, Name, Question, Refused, Reply, Say, Things, What,
};

pub use turning::written;

use crate::job::{At, Stake};
use rust_decimal::Decimal;

/// Longest name, in letters: what can be kept in mind by ear.
pub const LONGEST_NAME: usize = 60;

/// Widths across flats that there are, in millimetres.
const LARGEST_SIZE: u32 = 120;

/// What was taken apart so far.
#[derive(Debug, Clone, Default)]
pub struct StripLog {
    title: String,
    entries: Vec<Entry>,
    /// What waits for an answer, but for what the turning point asks, which is worked out.
    question: Option<Question>,
    /// It goes together again.
    turned: bool,
    /// What was answered since, in order.
    answers: Vec<(Question, Answered)>,
    /// When what was put to the user last had been said to its end; `None` before that.
    announced: Option<At>,
}

impl StripLog {
    /// A log in which nothing is told yet.
    pub fn new(title: &str) -> StripLog {
        StripLog { title: title.to_owned(), question: Some(Question::Support), ..StripLog::default() }
    }

    /// What the job is called.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// All entries, those taken back among them.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The entries that stand, with their numbers, in order.
    pub fn standing(&self) -> impl DoubleEndedIterator<Item = (usize, &Entry)> {
        self.entries.iter().enumerate().filter(|(_, entry)| !entry.taken_back)
    }

    /// Does it go together again?
    pub fn is_turned(&self) -> bool {
        self.turned
    }

    /// Everything is answered, and the book can be written.
    pub fn is_ready(&self) -> bool {
        self.turned && self.question().is_none()
    }

    /// What waits for an answer.
    pub fn question(&self) -> Option<Question> {
        self.question.or_else(|| if self.turned { self.next_answer() } else { None })
    }

    /// The first words.
    pub fn opening(&self) -> Vec<Say> {
        self.with_question(vec![Say::Opening])
    }

    /// The first words when it is taken up again.
    pub fn resumed(&self) -> Vec<Say> {
        let last = self.last().map(Say::Told).filter(|_| !self.turned);
        self.with_question([Say::Resumed].into_iter().chain(last).collect())
    }

    /// Applies a command that was spoken, its first sound at `began`. A claim that began before the answer to the last one had
    /// been said can only repeat it.
    pub fn hear(&mut self, command: Command, began: At, at: At) -> Reply {
        let claims = command.stake() == Stake::Ledger;
        if claims && self.announced.is_none_or(|ended| began < ended) {
            self.announced = None;
            return Reply { says: self.where_it_stands(), recorded: false };
        }
        self.apply(command, at)
    }

    /// What was said last had been said to its end at this moment.
    pub fn announced(&mut self, at: At) {
        self.announced.get_or_insert(at);
    }

    /// Applies a command given at that moment.
    pub fn apply(&mut self, command: Command, at: At) -> Reply {
        let reply = match command {
            Command::Where => Reply { says: self.where_it_stands(), recorded: false },
            Command::WhatCameOff => Reply { says: self.with_question(vec![Say::CameOff]), recorded: false },
            Command::Pause => Reply { says: vec![Say::Paused], recorded: false },
            Command::Note(note) => {
                self.entries.push(Entry { what: What::Note(note), at, name: None, taken_back: false });
                self.done(vec![Say::Noted])
            }
            Command::Yes | Command::No => self.answer(command == Command::Yes, at),
            Command::Undo => self.ask_undo(),
            command if self.question.is_some_and(Question::is_yes_no) => {
                let _ = command;
                self.refuse(Refused::AnswerFirst)
            }
            command if self.turned => self.turning(command),
            Command::Supported => self.told(What::Support, at),
            Command::OnWheels => self.told(What::OnWheels, at),
            Command::Value { .. } | Command::Page(_) | Command::NoPage | Command::NoValue | Command::Later => {
                self.refuse(Refused::NothingAsked)
            }
            _ if self.question == Some(Question::Support) => self.refuse(Refused::SupportFirst),
            Command::Fasteners { things, size, deed } => self.fasteners(things, size, deed, at),
            Command::Opened(things) if things.kind.class() == Class::Connection => {
                self.counted(things, What::Opened(things), at)
            }
            Command::TakenOff(things) if things.kind.class() == Class::Part => {
                self.counted(things, What::Part { things, hung: false }, at)
            }
            Command::Opened(_) | Command::TakenOff(_) => self.refuse(Refused::Count),
            Command::HungUp => self.hung_up(at),
            Command::Changed(deed) => self.changed(deed, at),
            Command::Size(size) => self.size(size),
            Command::Name(name) => self.name(Some(name)),
            Command::NoName => self.name(None),
            Command::Everything => self.ask_everything(),
        };
        if reply.recorded {
            self.announced = None;
        }
        reply
    }

    fn done(&self, says: Vec<Say>) -> Reply {
        Reply { says: self.with_question(says), recorded: true }
    }

    fn refuse(&self, why: Refused) -> Reply {
        Reply { says: self.with_question(vec![Say::Refused(why)]), recorded: false }
    }

    fn ask(&mut self, question: Question) -> Reply {
        self.question = Some(question);
        Reply { says: vec![Say::Question(question)], recorded: true }
    }

    /// What is said, and behind it the question that stands.
    fn with_question(&self, mut says: Vec<Say>) -> Vec<Say> {
        says.extend(self.question().map(Say::Question));
        says.extend(self.is_ready().then_some(Say::Ready));
        says
    }

    fn where_it_stands(&self) -> Vec<Say> {
        let last = if self.turned { None } else { self.last() };
        let says = last.map_or(vec![Say::CameOff], |last| vec![Say::Told(last)]);
        self.with_question(says)
    }

    /// The entry told last that is a fact of its own.
    fn last(&self) -> Option<usize> {
        self.standing().rev().find(|(_, entry)| !matches!(entry.what, What::Note(_))).map(|(at, _)| at)
    }

    /// Takes an entry, and asks what it is called if it is a thing.
    fn told(&mut self, what: What, at: At) -> Reply {
        let named = !matches!(what, What::OnWheels | What::Hung { .. } | What::Changed { .. });
        let id = self.entries.len();
        self.entries.push(Entry { what, at, name: None, taken_back: false });
        self.question = named.then_some(Question::Name(id));
        self.done(vec![Say::Told(id)])
    }

    fn counted(&mut self, things: Things, what: What, at: At) -> Reply {
        match (1..=MOST).contains(&things.count) {
            true => self.told(what, at),
            false => self.refuse(Refused::Count),
        }
    }

    fn fasteners(&mut self, things: Things, size: Option<Decimal>, deed: Deed, at: At) -> Reply {
        let fits = things.kind.class() == Class::Fastener && size.is_none_or(is_size);
        if !fits || !matches!(deed, Deed::Out | Deed::StillIn) {
            return self.refuse(Refused::Count);
        }
        self.counted(things, What::Fasteners { things, size, deed }, at)
    }

    /// A part that was just taken off hangs now; else what hangs was never told, and is a part by itself.
    fn hung_up(&mut self, at: At) -> Reply {
        match self.last().map(|last| (last, &self.entries[last].what)) {
            Some((of, What::Part { hung: false, .. })) => self.told(What::Hung { of }, at),
            _ => self.told(What::Part { things: Things { count: 1, kind: Kind::Part }, hung: true }, at),
        }
    }

    /// How a group is now; nothing for an entry that is none.
    pub fn deed_of(&self, group: usize) -> Option<Deed> {
        let What::Fasteners { deed, .. } = self.entries.get(group)?.what else { return None };
        let changes = self.standing().filter_map(|(_, entry)| match entry.what {
            What::Changed { of, deed, .. } if of == group => Some(deed),
            _ => None,
        });
        changes.last().or(Some(deed))
    }

    fn changed(&mut self, deed: Deed, at: At) -> Reply {
        // Said right behind a group it is about that one, and tells what was really done to it.
        if let Some(of) = self.last().filter(|last| self.deed_of(*last) == Some(Deed::Out))
            && matches!(deed, Deed::StillIn | Deed::Stuck)
        {
            return self.told(What::Changed { of, deed, instead: true }, at);
        }
        let can: Vec<usize> = self
            .standing()
            .filter(|(id, _)| self.deed_of(*id).is_some_and(|now| may_follow(now, deed)))
            .map(|(id, _)| id)
            .collect();
        match can[..] {
            [] => self.refuse(Refused::NoSuchFasteners(deed)),
            [only] if self.last() == Some(only) => self.told(What::Changed { of: only, deed, instead: false }, at),
            // The one told last is the likeliest; which one it is, only the user knows.
            [.., of] => self.ask(Question::Changed { of, deed }),
        }
    }

    fn size(&mut self, size: Decimal) -> Reply {
        let last = self.last();
        let Some((id, entry)) = last.and_then(|id| Some((id, self.entries.get_mut(id)?))) else {
            return self.refuse(Refused::NothingToName);
        };
        match &mut entry.what {
            What::Fasteners { size: known, .. } if is_size(size) => *known = Some(size),
            _ => return self.refuse(Refused::NothingToName),
        }
        self.done(vec![Say::Sized(id)])
    }

    fn name(&mut self, name: Option<Name>) -> Reply {
        // Said again, it puts the name right that was taken last.
        let nameable =
            |id: &usize| !matches!(self.entries[*id].what, What::OnWheels | What::Hung { .. } | What::Changed { .. });
        let waits = match self.question {
            Some(Question::Name(id)) => Some(id),
            _ => self.last().filter(nameable),
        };
        let Some(id) = waits else { return self.refuse(Refused::NothingToName) };
        if let Some(Name::Typed(text)) = &name
            && (text.chars().count() > LONGEST_NAME || !text.chars().any(char::is_alphanumeric))
        {
            return self.refuse(Refused::NoName);
        }
        self.question = None;
        let say = if name.is_some() { Say::Named(id) } else { Say::Unnamed(id) };
        self.entries[id].name = name;
        self.done(vec![say])
    }

    fn ask_undo(&mut self) -> Reply {
        if self.turned && !self.answers.is_empty() {
            self.answers.pop();
            return self.done(vec![Say::AnswerTakenBack]);
        }
        let last = self.standing().next_back().map(|(id, _)| id);
        match last {
            _ if self.turned => {
                self.turned = false;
                self.done(vec![Say::AnswerTakenBack])
            }
            Some(id) => self.ask(Question::Undo(id)),
            None => self.refuse(Refused::NothingToUndo),
        }
    }

    fn ask_everything(&mut self) -> Reply {
        let off = self
            .standing()
            .any(|(_, entry)| matches!(entry.what, What::Fasteners { .. } | What::Opened(_) | What::Part { .. }));
        if off { self.ask(Question::Everything) } else { self.refuse(Refused::NothingOff) }
    }

    /// Yes or no to the question that stands.
    fn answer(&mut self, yes: bool, at: At) -> Reply {
        let Some(question) = self.question().filter(|question| question.is_yes_no()) else {
            return self.refuse(Refused::NothingAsked);
        };
        if let Question::Runs(_) | Question::New(_) = question {
            return self.answer_turning(question, yes);
        }
        self.question = None;
        match question {
            Question::Changed { of, deed } if yes => self.told(What::Changed { of, deed, instead: false }, at),
            // Not that one: the one told before it, if there is one.
            Question::Changed { of, deed } => {
                let earlier = self.standing().filter(|(id, _)| *id < of);
                let next = earlier.filter(|(id, _)| self.deed_of(*id).is_some_and(|now| may_follow(now, deed))).last();
                match next.map(|(id, _)| id) {
                    Some(of) => self.ask(Question::Changed { of, deed }),
                    None => self.done(vec![Say::LeftAsItIs]),
                }
            }
            Question::Undo(id) if yes => {
                self.entries[id].taken_back = true;
                if self.standing().all(|(_, entry)| !matches!(entry.what, What::Support | What::OnWheels)) {
                    self.question = Some(Question::Support);
                }
                self.done(vec![Say::TakenBack(id)])
            }
            Question::Everything if yes => {
                self.turned = true;
                self.done(vec![Say::CameOff])
            }
            _ => self.done(vec![Say::LeftAsItIs]),
        }
    }
}

/// May this be done to fasteners in that state?
fn may_follow(now: Deed, then: Deed) -> bool {
    matches!(
        (now, then),
        (Deed::StillIn | Deed::Stuck | Deed::Held, Deed::Out)
            | (Deed::StillIn, Deed::Stuck)
            | (Deed::Out | Deed::Stuck, Deed::Held)
    )
}

fn is_size(size: Decimal) -> bool {
    size > Decimal::ONE && size <= Decimal::from(LARGEST_SIZE)
}
