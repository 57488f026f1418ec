//! A strip-down told as it goes: what came off, counted, sized and named, and at the turning point what the book says of it.
//!
//! Pure, as `job` is: the same commands give the same log. Knows the table of what may follow what. It is no job yet: at the
//! turning point [`book`] writes the procedure that a job then goes by, with the strip as its first steps. `journal`
//! keeps it, `dialogue` has the words.
//!
//! Entries are numbered and never go away; what is taken back is marked so. [`StripLog::apply`] is the way in; what was
//! spoken comes through [`StripLog::hear`], which lets nothing count twice that was said before its echo had been heard, and what a
//! journal has through [`StripLog::follow`].

pub mod book;
pub mod command;
mod hung;
pub mod of_book;
mod turning;

pub use command::{
    Answered, Class, Command, Deed, Entry, Kind, MOST, Name, Question, Refused, Reply, Say, Things, What, told_by,
};

pub use turning::{read, written};

use crate::job::{At, Stake};
use rust_decimal::Decimal;

/// Longest name, in letters: what can be kept in mind by ear.
pub const LONGEST_NAME: usize = 60;

/// Longest spoken name, in milliseconds: it is played back in the middle of sentences.
pub const LONGEST_SPOKEN_NAME: u64 = 6_000;

/// Widths across flats that there are, in millimetres.
const LARGEST_SIZE: u32 = 120;

/// What was taken apart so far.
#[derive(Debug, Clone, Default)]
pub struct StripLog {
    title: String,
    entries: Vec<Entry>,
    /// What was asked back and is answered by yes or no. All else that waits for an answer is worked out.
    asked_back: Option<Question>,
    /// The entry whose name is awaited.
    unnamed: Option<usize>,
    /// It goes together again.
    turned: bool,
    /// Orders of tightening are asked for.
    asks_order: bool,
    /// What was answered since, in order.
    answers: Vec<(Question, Answered)>,
    /// What can be taken back since, one for each command.
    since: Vec<turning::Step>,
    /// When what was put to the user last had been said to its end; `None` before that.
    announced: Option<At>,
}

impl StripLog {
    /// A log in which nothing is told yet.
    pub fn new(title: &str) -> StripLog {
        StripLog { title: title.chars().filter(|letter| is_text(*letter)).collect(), ..StripLog::default() }
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
        match self.asked_back {
            Some(asked) => Some(asked),
            None if self.turned => self.next_answer(),
            None if !self.has(|what| matches!(what, What::Support | What::OnWheels)) => Some(Question::Support),
            None => self.unnamed.map(Question::Name),
        }
    }

    fn has(&self, is: impl Fn(&What) -> bool) -> bool {
        self.standing().any(|(_, entry)| is(&entry.what))
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

    /// Does "no" to the question that stands change the log?
    pub fn no_claims(&self) -> bool {
        let question = self.question();
        matches!(question, Some(Question::Runs(_) | Question::New(_) | Question::Hung(_) | Question::Changed { .. }))
    }

    /// Applies a command that was spoken, its first sound at `began`. A claim that began before the answer to the last one had
    /// been said can only repeat it.
    pub fn hear(&mut self, command: Command, began: At, at: At) -> Reply {
        let claims = match command {
            Command::No | Command::NoneOfThem => self.no_claims(),
            // Where it goes together it does not ask first.
            Command::Undo => self.turned,
            _ => command.stake() == Stake::Ledger,
        };
        if claims && !self.was_announced(began) {
            self.announced = None;
            return Reply { says: self.where_it_stands(), recorded: false };
        }
        self.apply(command, at)
    }

    /// Something else was put to the user: what is answered to it comes when that had been said.
    pub fn put(&mut self) {
        self.announced = None;
    }

    /// Had what was said last been said to its end by this moment?
    pub fn was_announced(&self, by: At) -> bool {
        self.since_announced(by).is_some()
    }

    /// How long before this moment what was said last had been said to its end, in milliseconds; nothing if it had not.
    pub fn since_announced(&self, by: At) -> Option<i64> {
        self.announced.map(|ended| by.0.saturating_sub(ended.0)).filter(|since| *since >= 0)
    }

    /// What was said last had been said to its end at this moment.
    pub fn announced(&mut self, at: At) {
        self.announced.get_or_insert(at);
    }

    /// Applies a command given at that moment.
    pub fn apply(&mut self, command: Command, at: At) -> Reply {
        match self.asked_back.is_none().then(|| self.unsafe_now(&command)).flatten() {
            Some(why) => self.refuse(why),
            None => self.follow(command, at),
        }
    }

    /// What holds the vehicle does not allow it: a wheel comes off nothing that stands on its wheels.
    fn unsafe_now(&self, command: &Command) -> Option<Refused> {
        let stands = !self.has(|what| *what == What::Support) && self.has(|what| *what == What::OnWheels);
        let wheel = matches!(command, Command::TakenOff(things) if things.kind == Kind::Wheel);
        (wheel && stands && !self.turned).then_some(Refused::OnWheels)
    }

    /// Applies a command of a journal. What is refused by now was taken once, and such a journal replays as it did.
    pub fn follow(&mut self, command: Command, at: At) -> Reply {
        let reply = match command {
            Command::Where => Reply { says: self.where_it_stands(), recorded: false },
            Command::WhatCameOff => Reply { says: self.with_question(vec![Say::CameOff]), recorded: false },
            Command::Pause => Reply { says: vec![Say::Paused], recorded: false },
            Command::Note(note) => {
                self.since.extend(self.turned.then_some(turning::Step::Note(self.entries.len())));
                self.entries.push(Entry { what: What::Note(note), at, name: None, taken_back: false });
                self.done(vec![Say::Noted])
            }
            Command::Yes | Command::No => self.answer(command == Command::Yes, at),
            Command::NoneOfThem => self.none_of_them(),
            Command::GoesTogether => self.goes_together(at),
            Command::Undo => self.ask_undo(),
            _ if self.asked_back.is_some() => self.refuse(Refused::AnswerFirst),
            command if self.turned => self.turning(command),
            Command::Supported => self.told(What::Support, at),
            Command::OnWheels => self.on_wheels(at),
            Command::Value { .. }
            | Command::Offered { .. }
            | Command::Page(_)
            | Command::NoPage
            | Command::Order(_)
            | Command::NoValue
            | Command::Later => self.refuse(Refused::NothingAsked),
            _ if self.question() == Some(Question::Support) => self.refuse(Refused::SupportFirst),
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
            Command::Rename => self.rename(),
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
        self.asked_back = Some(question);
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
        // What only says more of an earlier thing leaves that one's name awaited.
        if named {
            self.unnamed = Some(id);
        }
        self.done(vec![Say::Told(id)])
    }

    fn counted(&mut self, things: Things, what: What, at: At) -> Reply {
        match (1..=MOST).contains(&things.count) {
            true => self.told(what, at),
            false => self.refuse(Refused::Count),
        }
    }

    fn fasteners(&mut self, things: Things, size: Option<Decimal>, deed: Deed, at: At) -> Reply {
        if size.is_some_and(|size| !is_size(size)) {
            return self.refuse(Refused::Width);
        }
        let fits = things.kind.class() == Class::Fastener;
        if !fits || !matches!(deed, Deed::Out | Deed::StillIn) {
            return self.refuse(Refused::Count);
        }
        self.counted(things, What::Fasteners { things, size, deed }, at)
    }

    /// It cannot stand on its wheels and on a stand.
    fn on_wheels(&mut self, at: At) -> Reply {
        let before = self.standing().find(|(_, entry)| entry.what == What::OnWheels).map(|(id, _)| id);
        match before {
            _ if self.has(|what| *what == What::Support) => self.refuse(Refused::SupportStands),
            Some(id) => Reply { says: self.with_question(vec![Say::Told(id)]), recorded: false },
            None => self.told(What::OnWheels, at),
        }
    }

    /// How a group is now; nothing for an entry that is none.
    pub fn deed_of(&self, group: usize) -> Option<Deed> {
        let What::Fasteners { deed, .. } = self.entries.get(group)?.what else { return None };
        let mut changes = self.standing().filter_map(|(_, entry)| match entry.what {
            What::Changed { of, deed, .. } if of == group => Some(deed),
            _ => None,
        });
        changes.next_back().or(Some(deed))
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

    /// The thing that was spoken of last: what only says more of an earlier one is about that one.
    fn subject(&self) -> Option<usize> {
        let last = self.last()?;
        Some(match self.entries[last].what {
            What::Hung { of } | What::Changed { of, .. } => of,
            _ => last,
        })
    }

    /// A width that was told already is another group's, perhaps, and is replaced on a yes only.
    fn size(&mut self, size: Decimal) -> Reply {
        if !is_size(size) {
            return self.refuse(Refused::Width);
        }
        match self.subject().map(|of| (of, &self.entries[of].what)) {
            Some((of, What::Fasteners { size: Some(known), .. })) if *known != size => {
                self.ask(Question::Width { of, size })
            }
            Some((of, What::Fasteners { .. })) => self.sized(of, size),
            _ => self.refuse(Refused::NothingToName),
        }
    }

    fn sized(&mut self, of: usize, width: Decimal) -> Reply {
        if let What::Fasteners { size, .. } = &mut self.entries[of].what {
            *size = Some(width);
        }
        self.done(vec![Say::Sized(of)])
    }

    /// Takes a name, or that there is none. Said again, a name puts right the one that was taken last; "no name" only answers.
    fn name(&mut self, name: Option<Name>) -> Reply {
        let again = || self.subject().filter(|id| self.entries[*id].what != What::OnWheels);
        let Some(id) = self.unnamed.or_else(|| if name.is_some() { again() } else { None }) else {
            return self.refuse(if name.is_some() { Refused::NothingToName } else { Refused::NothingAsked });
        };
        let fits = |text: &str| {
            let long = text.chars().count() > LONGEST_NAME;
            !long && text.chars().any(char::is_alphanumeric) && text.chars().all(is_text)
        };
        let takes = match &name {
            Some(Name::Typed(text)) => fits(text),
            // The words are a draft, and the recording is the name.
            Some(Name::Sound { milliseconds, draft, .. }) => {
                (1..=LONGEST_SPOKEN_NAME).contains(milliseconds) && draft.as_deref().is_none_or(fits)
            }
            None => true,
        };
        if !takes {
            return self.refuse(Refused::NoName);
        }
        self.unnamed = None;
        let known = &mut self.entries[id].name;
        // Asked for again, the one that it has stands until there is another.
        *known = name.or(known.take());
        let say = if known.is_some() { Say::Named(id) } else { Say::Unnamed(id) };
        self.done(vec![say])
    }

    /// Asks for the name of the thing told last once more.
    fn rename(&mut self) -> Reply {
        if matches!(self.question(), Some(Question::Name(_))) {
            return Reply { says: self.with_question(Vec::new()), recorded: false };
        }
        match self.subject().filter(|id| self.entries[*id].name.is_some()) {
            Some(id) => {
                self.unnamed = Some(id);
                self.done(Vec::new())
            }
            None => self.refuse(Refused::NothingToName),
        }
    }

    fn ask_undo(&mut self) -> Reply {
        if self.turned {
            return self.undo_turning();
        }
        let last = self.standing().next_back().map(|(id, _)| id);
        match last {
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
        if let Question::Runs(_) | Question::New(_) | Question::Whole = question {
            return self.answer_turning(question, yes);
        }
        self.asked_back = None;
        match question {
            Question::Changed { of, deed } if yes => self.told(What::Changed { of, deed, instead: false }, at),
            // Not that one: the one told before it, if there is one.
            Question::Changed { of, deed } => {
                let fits = |id: usize| id < of && self.deed_of(id).is_some_and(|now| may_follow(now, deed));
                let next = self.standing().map(|(id, _)| id).rfind(|id| fits(*id));
                match next {
                    Some(of) => self.ask(Question::Changed { of, deed }),
                    None => self.done(vec![Say::LeftAsItIs]),
                }
            }
            Question::Hung(of) if yes => self.told(What::Hung { of }, at),
            Question::Hung(of) => self.ask_hung(of, at),
            Question::Width { of, size } if yes => self.sized(of, size),
            Question::Undo(id) if yes => {
                self.entries[id].taken_back = true;
                self.unnamed = self.unnamed.filter(|unnamed| *unnamed != id);
                self.done(vec![Say::TakenBack(id)])
            }
            Question::Everything if yes => {
                (self.turned, self.unnamed) = (true, None);
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

/// Letters that a name can have. Those for private use stand for recordings in what is said.
fn is_text(letter: char) -> bool {
    !letter.is_control() && !matches!(letter, '\u{E000}'..='\u{F8FF}' | '\u{F0000}'..)
}

fn is_size(size: Decimal) -> bool {
    size > Decimal::ONE && size <= Decimal::from(LARGEST_SIZE)
}
