//! One conversation about one job: words in, sentences out, every fact on disk in between.
//!
//! Knows the language, the job and its folder. Has no clock and no sound: it is told the moment and the words, and
//! whoever holds it listens and speaks. The microphone, a recording, a typed line and a replay all end here.

use super::lookup::Lookup;
use super::notes;
use super::readings::Readings;
use super::repair::{Answered, Repair};
use super::spoken::Spoken;
use super::tools::Tools;
use crate::dialogue::{Grammar, Language, Manner, Meaning, Notice, Sentence, Talk};
use crate::job::{Ask, At, Command, Expect, Job, Reading, Refusal, Say, Stake};
use crate::journal::{self, Folder, JournalError};
use crate::listen::{Denying, Harm, Open, Phrase, Utterance};
use crate::procedure::Phase;
use crate::quantity::Quantity;
use crate::speak::Tone;
use crate::toolbox::Toolbox;
use crate::values::Shelf;
use std::sync::Arc;

/// Steps in which the voice is made faster or slower, and louder or quieter.
const PACE_STEP: f32 = 1.15;
const PACES: std::ops::RangeInclusive<f32> = 0.6..=1.8;
const GAIN_STEP: f32 = 1.41;
const GAINS: std::ops::RangeInclusive<f32> = 0.25..=2.0;

/// That a reading of a tool is of no use is told again after this, milliseconds.
const TOLD_AGAIN: i64 = 15_000;

/// A reading that a tool sends again within this is the same one, milliseconds. No bolt is tightened so soon after another.
const SENT_TWICE: i64 = 3_000;

/// How the voice speaks now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Delivery {
    /// 1.0 is the voice's own speed, 2.0 twice as fast.
    pub pace: f32,
    /// Factor on the samples.
    pub gain: f32,
}

impl Delivery {
    /// Slower, faster, louder or quieter; says what it does, or that it goes no further. Nothing for other talk.
    pub(super) fn turn(&mut self, talk: Talk) -> Option<Notice> {
        Some(match talk {
            Talk::Slower => turned(&mut self.pace, 1.0 / PACE_STEP, PACES, Notice::Slower),
            Talk::Faster => turned(&mut self.pace, PACE_STEP, PACES, Notice::Faster),
            Talk::Louder => turned(&mut self.gain, GAIN_STEP, GAINS, Notice::Louder),
            Talk::Quieter => turned(&mut self.gain, 1.0 / GAIN_STEP, GAINS, Notice::Quieter),
            _ => return None,
        })
    }
}

impl Default for Delivery {
    fn default() -> Self {
        Delivery { pace: 1.0, gain: 1.0 }
    }
}

/// What follows from something that was heard.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Turn {
    /// What it was understood as; `None` when it was not understood, or when nobody said anything.
    pub meaning: Option<Meaning>,
    /// What to say.
    pub sentences: Vec<Sentence>,
    /// A tone to give before that.
    pub tone: Option<Tone>,
    /// Fall silent before anything else.
    pub hush: bool,
    /// The job was put down or closed: the session is over.
    pub over: bool,
    /// Something was written into the journal.
    pub recorded: bool,
    /// The sentences put something to the user that has to be heard to its end before it can be claimed or answered: whoever
    /// says them tells [`Conversation::announced`].
    pub announces: bool,
}

/// One conversation about one job.
pub struct Conversation {
    language: Language,
    manner: Manner,
    delivery: Delivery,
    job: Job,
    folder: Folder,
    listening: bool,
    /// A note is recorded.
    noting: bool,
    /// The job is put down, and taken up again by the phrase for it.
    waiting: bool,
    tools: Tools,
    /// The pages of values.
    lookup: Lookup,
    /// What was said last, for "say again".
    last: Vec<Sentence>,
    /// Whether that put something to the user.
    last_announces: bool,
    repair: Repair,
    spoken: Spoken,
    /// What was said to the last reading of a tool that was of no use, and when; no words if it came too soon.
    unwanted: Option<(Option<Vec<Sentence>>, At)>,
    /// The last reading of a tool that was of use, and when it came last.
    taken: Option<(Quantity, At)>,
}

impl Conversation {
    /// A conversation about a job that is open on disk. Say [`Conversation::begin`] or [`Conversation::resume`] first.
    pub fn new(language: Language, manner: Manner, job: Job, folder: Folder) -> Conversation {
        Conversation {
            language,
            manner,
            delivery: Delivery::default(),
            job,
            folder,
            listening: true,
            noting: false,
            waiting: false,
            tools: Tools::default(),
            lookup: Lookup::default(),
            last: Vec::new(),
            last_announces: false,
            repair: Repair::default(),
            spoken: Spoken::default(),
            unwanted: None,
            taken: None,
        }
    }

    /// The same with the user's tools.
    pub fn with_toolbox(mut self, toolbox: Option<Toolbox>) -> Conversation {
        self.tools = Tools::new(toolbox);
        self
    }

    /// The same with pages of values, which can be asked for by name at any moment.
    pub fn with_values(mut self, shelf: Shelf) -> Conversation {
        self.lookup = Lookup::new(&self.language, shelf);
        self
    }

    /// The first words of a new job.
    pub fn begin(&mut self, at: At) -> Result<Turn, JournalError> {
        let mut turn = self.command(Command::Open, at)?;
        self.tell_pages(&mut turn);
        if self.folder.unchecked() > 0 {
            let behind = turn.sentences.len().min(1);
            turn.sentences.insert(behind, self.language.notice(Notice::Unchecked));
            self.last.clone_from(&turn.sentences);
        }
        Ok(turn)
    }

    /// The first words of a job taken up again, with what was noticed about it on disk.
    pub fn resume(&mut self, noticed: &[journal::Notice], at: At) -> Result<Turn, JournalError> {
        let mut turn = self.command(Command::Resume, at)?;
        let told = noticed.iter().map(|notice| match notice {
            journal::Notice::TornLine { .. } => Notice::TornLine,
            journal::Notice::BookChanged => Notice::BookChanged,
            journal::Notice::Unchecked => Notice::Unchecked,
            journal::Notice::Older => Notice::Older,
            journal::Notice::Salvaged { dropped, .. } => Notice::Salvaged { dropped: *dropped },
        });
        // Behind the words that name the job, before those that tell where it stands.
        self.tell_pages(&mut turn);
        let behind = turn.sentences.len().min(1);
        turn.sentences.splice(behind..behind, told.map(|notice| self.language.notice(notice)));
        self.last.clone_from(&turn.sentences);
        Ok(turn)
    }

    /// Which pages may be asked, behind the words that name the job.
    fn tell_pages(&mut self, turn: &mut Turn) {
        let told = self.lookup.told_of_pages(&self.language, &self.manner);
        let behind = turn.sentences.len().min(1);
        turn.sentences.splice(behind..behind, told);
        self.last.clone_from(&turn.sentences);
    }

    /// The job was put down with this turn, but whoever did it stays within hearing: from now on only the phrase that takes it up
    /// again is listened for. The turn tells so.
    pub fn wait(&mut self, turn: &Turn) -> Turn {
        self.waiting = true;
        let mut turn = Turn { over: false, tone: Some(Tone::ListeningOff), ..turn.clone() };
        turn.sentences.push(self.language.notice(Notice::Waiting));
        self.remember(&turn.sentences, false);
        turn
    }

    /// The job was closed with this turn: tells which others are unfinished, if there are any.
    pub fn with_others(&self, turn: &Turn) -> Turn {
        let others = journal::unfinished(self.folder.path());
        let told = (!others.is_empty()).then(|| self.language.unfinished(&others));
        Turn { sentences: turn.sentences.iter().cloned().chain(told).collect(), ..turn.clone() }
    }

    /// Is the job put down until the phrase comes that takes it up again?
    pub fn is_waiting(&self) -> bool {
        self.waiting
    }

    /// The machine's clock was set, and is ahead by so many milliseconds of the one that the moments come from.
    pub fn clock_set(&mut self, ahead: i64) -> Turn {
        self.folder.clock_set(ahead);
        Turn { sentences: vec![self.language.notice(Notice::ClockSet)], ..Turn::default() }
    }

    /// Timers that are due by this moment.
    pub fn time_up(&mut self, at: At) -> Result<Turn, JournalError> {
        self.command(Command::TimeUp, at)
    }

    /// The words that a yes has confirmed by what was heard last, after they had been asked back.
    pub fn confirmed(&self) -> Option<&str> {
        self.repair.confirmed()
    }

    /// What was put to the user last had been said to its end at this moment.
    pub fn announced(&mut self, at: At) {
        self.job.announced(at);
        self.repair.announced(at);
    }

    /// A stretch of speech that the listener has decided on, its first sound at `began`.
    pub fn hear(&mut self, utterance: &Utterance, began: At, at: At) -> Result<Turn, JournalError> {
        let grammar = self.grammar();
        if let Some(meaning) = utterance.phrase.as_deref().and_then(|phrase| grammar.meaning(phrase)) {
            return self.understood(meaning, Some(began), at);
        }
        // Talk beside the job is met with silence. Only what nearly was a command gets a sign that it was lost.
        if !self.listening || self.noting || utterance.phrase.is_some() {
            return Ok(Turn::default());
        }
        let asked = utterance.nearly.as_deref().and_then(|nearly| Some((nearly, grammar.meaning(nearly)?)));
        // One question at a time, and none about the answer to one.
        let answer = |meaning: &Meaning| matches!(meaning, Meaning::Command(Command::Yes | Command::No));
        if let Some((phrase, meaning)) = asked.filter(|(_, m)| self.job.question().is_none() && !answer(m)) {
            let sentences = vec![self.language.did_you_say(phrase)];
            self.repair.ask(phrase, meaning, began, at);
            self.remember(&sentences, true);
            return Ok(Turn { tone: Some(Tone::NotUnderstood), sentences, announces: true, ..Turn::default() });
        }
        let heard = &utterance.heard.text;
        if grammar.meaning(heard).is_none() && !grammar.broken_reading(heard) {
            return Ok(Turn::default());
        }
        // Nobody who has put the job down wants to hear what else could be said.
        if self.waiting {
            return Ok(Turn { tone: Some(Tone::NotUnderstood), ..Turn::default() });
        }
        let sentences = if self.repair.missed() { vec![self.language.notice(Notice::Misheard)] } else { Vec::new() };
        Ok(Turn { tone: Some(Tone::NotUnderstood), sentences, ..Turn::default() })
    }

    /// Words whose meaning is clear, their first sound at `spoken` if they were spoken; they may answer what was asked back.
    fn understood(&mut self, meaning: Meaning, spoken: Option<At>, at: At) -> Result<Turn, JournalError> {
        match self.repair.understood(&meaning, spoken, at) {
            // What is meant was said when the doubtful words were.
            Answered::Yes(meant, began) => self.meant(meant, spoken.map(|_| began), at),
            Answered::No => {
                let sentences = self.language.render(&[Say::LeftAsItIs], self.job.book(), &self.manner);
                self.remember(&sentences, false);
                Ok(Turn { meaning: Some(meaning), sentences, hush: true, ..Turn::default() })
            }
            Answered::TooSoon => {
                let sentences = self.last.clone();
                Ok(Turn { meaning: Some(meaning), sentences, hush: true, announces: true, ..Turn::default() })
            }
            Answered::Other => self.meant(meaning, spoken, at),
        }
    }

    fn remember(&mut self, sentences: &[Sentence], announces: bool) {
        self.last = sentences.to_vec();
        self.last_announces = announces;
    }

    /// A typed line.
    pub fn read(&mut self, line: &str, at: At) -> Result<Turn, JournalError> {
        if self.waiting {
            let goes_on = line.trim().to_lowercase() == self.language.carry_on();
            return match goes_on {
                true => self.meant(Meaning::Command(Command::Resume), None, at),
                false => Ok(Turn { sentences: vec![self.language.notice(Notice::Waiting)], ..Turn::default() }),
            };
        }
        if let Some(chosen) = self.lookup.choice(&self.language, line, at) {
            return self.understood(Meaning::Value(chosen), None, at);
        }
        match self.language.understand_typed(line, &self.expect()) {
            Ok(meaning) => self.understood(meaning, None, at),
            Err(not) => match self.lookup.read(&self.language, line) {
                Some(_) if self.lookup.is_empty() => {
                    Ok(Turn { sentences: vec![self.language.notice(Notice::NoValues)], ..Turn::default() })
                }
                Some(asked) => self.understood(Meaning::Value(asked), None, at),
                None => Ok(Turn { sentences: vec![self.language.not_understood(&not)], ..Turn::default() }),
            },
        }
    }

    /// A key that means this was pressed. Like words it is about what had been put to the user by then, so pressed twice it
    /// counts once.
    pub fn press(&mut self, meaning: &Meaning, at: At) -> Result<Turn, JournalError> {
        let answer = self.repair.waits() && matches!(meaning, Meaning::Command(Command::Yes | Command::No));
        if self.waiting && !answer {
            return Ok(Turn { sentences: vec![self.language.notice(Notice::Waiting)], ..Turn::default() });
        }
        self.understood(meaning.clone(), Some(at), at)
    }

    /// A reading that a tool sent, its first byte at `began`. It is held to the same as one that is spoken; but one that comes
    /// too soon, or is refused, was perhaps nobody's, so it is told once and cuts nothing off, however often it comes.
    pub fn measured(&mut self, value: Quantity, tool: &str, began: At, at: At) -> Result<Turn, JournalError> {
        // A job that is put down is measured by nobody, and into a note nothing is answered.
        if self.waiting || self.noting {
            return Ok(Turn::default());
        }
        // Some tools send each reading twice, or go on sending it.
        if let Some((taken, last)) = &mut self.taken
            && *taken == value
            && began.0.saturating_sub(last.0) < SENT_TWICE
        {
            *last = began;
            return Ok(Turn::default());
        }
        let command = Command::FromTool { amount: value.amount(), unit: value.unit(), tool: tool.to_owned() };
        let last = (self.last.clone(), self.last_announces);
        let too_soon = self.job.repeats(&command, began);
        let turn = match too_soon {
            true => {
                let says = [Say::Refused(Refusal::TooSoon { value })];
                let sentences = self.language.render(&says, self.job.book(), &self.manner);
                Turn { sentences, ..Turn::default() }
            }
            false => self.give(command, Some(began), at)?,
        };
        if turn.recorded {
            self.lookup.forget();
            (self.unwanted, self.taken) = (None, Some((value, began)));
            // What was asked last is what a yes answers.
            self.repair.give_way();
            return Ok(Turn { hush: true, ..turn });
        }
        (self.last, self.last_announces) = last;
        let what = (!too_soon).then(|| turn.sentences.clone());
        let told = self
            .unwanted
            .as_ref()
            .is_some_and(|(said, last)| *said == what && at.0.saturating_sub(last.0) < TOLD_AGAIN);
        if told {
            return Ok(Turn::default());
        }
        self.lookup.forget();
        self.unwanted = Some((what, at));
        Ok(Turn { tone: Some(Tone::NotUnderstood), announces: false, ..turn })
    }

    /// `spoken`: when its first sound was, if it was spoken.
    fn meant(&mut self, meaning: Meaning, spoken: Option<At>, at: At) -> Result<Turn, JournalError> {
        // Names were offered last: whoever says yes or no may mean them, so the job's question is put again first.
        let unclear = matches!(meaning, Meaning::Command(Command::Yes | Command::No)) && self.lookup.offers(at);
        if unclear && self.job.question().is_some() {
            self.lookup.forget();
            return Ok(self.and_the_question(meaning, Vec::new()));
        }
        if let Some(sentences) = self.lookup.answer(&meaning, &self.language, &self.manner, at) {
            return Ok(self.and_the_question(meaning, sentences));
        }
        match meaning.clone() {
            Meaning::Value(_) => Ok(Turn::default()),
            // Before the work begins "parts list" means all of what has to lie ready.
            Meaning::Command(Command::Ask(Ask::Parts)) if self.prepares() => {
                let (sentences, _) = self.talk(Talk::LayOut, spoken.is_some(), at);
                Ok(Turn { meaning: Some(meaning), sentences, hush: true, ..Turn::default() })
            }
            Meaning::Command(Command::Resume) => {
                self.waiting = false;
                let turn = self.resume(&[], at)?;
                Ok(Turn { meaning: Some(meaning), tone: Some(Tone::ListeningOn), hush: true, ..turn })
            }
            Meaning::Command(command) => {
                let turn = self.give(command, spoken, at)?;
                Ok(Turn { meaning: Some(meaning), hush: true, ..turn })
            }
            Meaning::Talk(talk) => {
                // To repeat what was put to the user is to put it again.
                let announces = talk == Talk::Repeat && self.last_announces;
                let (sentences, tone) = self.talk(talk, spoken.is_some(), at);
                self.job.scale_is_distorted(self.tools.distorts_scale());
                Ok(Turn { meaning: Some(meaning), sentences, tone, hush: true, announces, ..Turn::default() })
            }
        }
    }

    /// A turn that was no concern of the job's; the question of the job that stands is put again at its end, so that a yes or a
    /// no is about what was said last.
    fn and_the_question(&mut self, meaning: Meaning, mut sentences: Vec<Sentence>) -> Turn {
        let question = self.job.question().cloned().map(Say::Question).filter(|_| self.job.closed().is_none());
        let announces = question.is_some();
        sentences.extend(question.iter().flat_map(|say| {
            let manner = Manner { now: None, ..self.manner };
            self.language.render(std::slice::from_ref(say), self.job.book(), &manner)
        }));
        self.remember(&sentences, announces);
        Turn { meaning: Some(meaning), sentences, hush: true, announces, ..Turn::default() }
    }

    /// The beginnings of what may have to be said next, likeliest first, so that they can be made in time. The job is
    /// pure, so what it would answer is found by asking a copy of it.
    pub fn foresee(&self, at: At) -> Vec<String> {
        let expects = self.job.expects();
        let mut commands = Vec::new();
        if expects.yes_no {
            commands.extend([Command::Yes, Command::No]);
        }
        if expects.angle {
            commands.extend([Command::Finished, Command::NotBegun, Command::NotSure]);
        }
        commands.extend([Command::Done, Command::Next]);
        let asks = [Ask::Value, Ask::Size, Ask::Which, Ask::HowManyLeft, Ask::Tool, Ask::LastValue, Ask::Cautions];
        commands.extend(asks.map(Command::Ask));
        commands.extend([Command::WhereAmI, Command::Back]);
        let mut texts: Vec<String> = Vec::new();
        for command in commands {
            let reply = self.job.clone().apply(command, at);
            let sentences = self.language.render(&reply.says, self.job.book(), &self.manner);
            if let Some(first) = sentences.into_iter().next()
                && !texts.contains(&first.spoken)
            {
                texts.push(first.spoken);
            }
        }
        texts
    }

    /// Applies a command that was not spoken; what it changed is on disk before its answer is returned.
    pub fn command(&mut self, command: Command, at: At) -> Result<Turn, JournalError> {
        let turn = self.give(command, None, at)?;
        if !turn.sentences.is_empty() {
            self.lookup.forget();
        }
        Ok(turn)
    }

    fn give(&mut self, command: Command, spoken: Option<At>, at: At) -> Result<Turn, JournalError> {
        let command = self.with_unit(command);
        let before = self.job.pending();
        let reply = match spoken {
            Some(began) => self.job.hear(command.clone(), began, at),
            None => self.job.apply(command.clone(), at),
        };
        if reply.recorded {
            self.folder.append(&command, at, &self.job)?;
        }
        let book = self.job.book().clone();
        let manner = Manner { now: Some(at), ..self.manner };
        let sentences = self.tools.render(&self.language, &reply.says, before.as_ref(), &book, &manner);
        self.spoken.said(&reply.says, &manner);
        if let Some(unit) = self.tools.take_said_in() {
            self.spoken.set(&self.job, unit);
        }
        let over = reply.says.iter().any(|s| matches!(s, Say::Paused | Say::Closed { .. }));
        let claimed = command.stake() == Stake::Ledger && reply.recorded && !reply.says.iter().any(asks);
        self.remember(&sentences, reply.announces);
        Ok(Turn {
            meaning: None,
            sentences,
            tone: claimed.then_some(Tone::Recorded),
            hush: false,
            over,
            recorded: reply.recorded,
            announces: reply.announces,
        })
    }

    /// A number without a unit gets the one that was said last of what is read.
    fn with_unit(&self, command: Command) -> Command {
        match (&command, self.expect().reading) {
            (Command::Reading(Reading { amount, unit: None }), Some(about)) => {
                Command::Number { amount: *amount, unit: about.unit() }
            }
            _ => command,
        }
    }

    fn talk(&mut self, talk: Talk, heard: bool, at: At) -> (Vec<Sentence>, Option<Tone>) {
        if let Some(sentences) = self.tools.talk(talk, &self.language, &self.job, &self.manner, day(at)) {
            if let Some(unit) = self.tools.take_said_in() {
                self.spoken.set(&self.job, unit);
            }
            self.remember(&sentences, false);
            return (sentences, None);
        }
        let say = |notice| vec![self.language.notice(notice)];
        let (notice, tone) = match talk {
            Talk::Repeat if self.last.is_empty() => (Notice::NothingToRepeat, None),
            Talk::Repeat => return (self.last.clone(), None),
            Talk::Help => {
                let mut help = self.language.help(&self.expect());
                if let Some(help) = help.first_mut().filter(|_| !self.lookup.is_empty()) {
                    help.written = format!("{}\n{}", help.written, self.language.help_values());
                }
                return (help, None);
            }
            // Whoever does not want to hear it has heard enough.
            Talk::Quiet => {
                self.announced(at);
                return (Vec::new(), None);
            }
            Talk::Slower | Talk::Faster | Talk::Louder | Talk::Quieter => {
                (self.delivery.turn(talk).unwrap_or(Notice::NoMore), None)
            }
            Talk::StopListening => {
                self.listening = false;
                (Notice::ListeningOff, Some(Tone::ListeningOff))
            }
            Talk::StartListening => {
                self.listening = true;
                (Notice::ListeningOn, Some(Tone::ListeningOn))
            }
            Talk::StartNote if self.job.closed().is_some() => {
                let says = [Say::Refused(Refusal::Closed)];
                return (self.language.render(&says, self.job.book(), &self.manner), None);
            }
            Talk::StartNote if !heard => (Notice::NoteTyped, None),
            Talk::StartNote => {
                self.noting = true;
                (Notice::NoteBegins, None)
            }
            // What was recorded comes by `keep_note`, and is answered there.
            Talk::EndNote => {
                self.noting = false;
                return (Vec::new(), None);
            }
            // The toolbox has answered these.
            Talk::LayOut | Talk::Adapter(_) | Talk::AdapterAngle(_) | Talk::NoAdapter => return (Vec::new(), None),
        };
        (say(notice), tone)
    }

    /// Keeps the sound of a note with the job; with no sound there is no note.
    pub fn keep_note(&mut self, samples: &[i16], at: At) -> Result<Turn, JournalError> {
        self.noting = false;
        if samples.is_empty() {
            let sentences = vec![self.language.notice(Notice::NoteNothing)];
            return Ok(Turn { sentences, ..Turn::default() });
        }
        let note = notes::write(self.folder.path(), self.job.position(), samples)?;
        self.command(Command::Note(note), at)
    }

    /// Is a note recorded?
    pub fn is_noting(&self) -> bool {
        self.noting
    }

    /// Is everything listened to, and not only the word to begin again?
    pub fn is_listening(&self) -> bool {
        self.listening
    }

    /// Is the job still at what comes before the work?
    fn prepares(&self) -> bool {
        self.job.book().steps[self.job.position()].phase == Phase::Prepare
    }

    /// What may be said now.
    fn grammar(&self) -> Grammar {
        if self.waiting {
            return self.language.waiting_grammar(self.repair.waits());
        }
        if self.noting {
            return self.language.note_grammar();
        }
        let grammar = self.language.grammar(&self.expect(), self.listening);
        let grammar = if self.tools.has_adapters() { grammar } else { without_adapters(grammar) };
        if self.listening { self.lookup.grammar(&self.language, grammar) } else { grammar }
    }

    /// What may be said now, with what a mistake would cost.
    pub fn phrases(&self) -> Vec<Phrase> {
        phrases_for(&self.grammar(), &self.job.expects())
    }

    /// What may be said while the program says `said`, or has just said it. Its own words may come back through the
    /// microphone; heard as themselves they do nothing.
    pub fn phrases_beside(&self, said: &str) -> Vec<Phrase> {
        let mut phrases = self.phrases();
        let said = words(said);
        for phrase in phrases.iter_mut().filter(|phrase| contains(&said, &words(&phrase.text))) {
            phrase.harm = Harm::Decoy;
        }
        phrases
    }

    /// The readings that may be said while the program says `said`, for which there is no list.
    pub fn readings_beside(&self, said: &str) -> Arc<dyn Open> {
        Arc::new(Readings::beside(self.grammar(), said))
    }

    /// What the job awaits, to know when [`Conversation::phrases`] would differ.
    pub fn expects(&self) -> (Expect, bool) {
        (self.expect(), self.listening)
    }

    /// What was offered of the values, and whether one was told: the phrases depend on that as well.
    pub fn offers(&self) -> (Vec<usize>, bool) {
        self.lookup.state()
    }

    /// What the job awaits, and an answer to what was asked back.
    fn expect(&self) -> Expect {
        let expect = self.spoken.expect(&self.job);
        Expect { yes_no: expect.yes_no || self.repair.waits(), ..expect }
    }

    /// How the voice is to speak from now on, until the user changes it.
    pub fn set_delivery(&mut self, delivery: Delivery) {
        self.delivery = delivery;
    }

    /// How the voice speaks now.
    pub fn delivery(&self) -> Delivery {
        self.delivery
    }

    /// The job.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// The language.
    pub fn language(&self) -> &Language {
        &self.language
    }

    /// The job's folder.
    pub fn folder(&self) -> &Folder {
        &self.folder
    }

    /// Lets go of the job, as the end of the process would.
    pub fn into_folder(self) -> Folder {
        self.folder
    }
}

/// The day of a moment, to tell how old a calibration is.
fn day(at: At) -> jiff::civil::Date {
    let moment = jiff::Timestamp::from_millisecond(at.0).unwrap_or_default();
    jiff::tz::TimeZone::UTC.to_datetime(moment).date()
}

/// Turns a knob by a factor; says what it does, or that it goes no further.
fn turned(knob: &mut f32, factor: f32, range: std::ops::RangeInclusive<f32>, notice: Notice) -> Notice {
    let wanted = (*knob * factor).clamp(*range.start(), *range.end());
    if wanted == *knob {
        return Notice::NoMore;
    }
    *knob = wanted;
    notice
}

fn asks(say: &Say) -> bool {
    matches!(say, Say::Question(_) | Say::Refused(_))
}

/// A grammar for somebody who has no adapters.
pub fn without_adapters(grammar: Grammar) -> Grammar {
    grammar.without(|m| matches!(m, Meaning::Talk(Talk::Adapter(_) | Talk::AdapterAngle(_) | Talk::NoAdapter)))
}

/// The phrases of a grammar, with what a mistake would cost.
pub fn phrases(grammar: &Grammar) -> Vec<Phrase> {
    grammar.iter().map(|(text, meaning)| Phrase { text: text.to_owned(), harm: harm(meaning) }).collect()
}

/// The same for what is expected at a moment of a job, where a "no" may claim something.
pub fn phrases_for(grammar: &Grammar, expect: &Expect) -> Vec<Phrase> {
    let mut phrases = phrases(grammar);
    if expect.no_claims {
        let no = |text: &str| grammar.lookup(text) == Some(&Meaning::Command(Command::No));
        phrases.iter_mut().filter(|phrase| no(&phrase.text)).for_each(|phrase| phrase.harm = Harm::Claims);
    }
    phrases
}

/// What a phrase costs if it was not meant. The one place that says so: the session, the bench and the tests go by it.
pub fn harm(meaning: Option<&Meaning>) -> Harm {
    match meaning.map(Meaning::stake) {
        None => Harm::Decoy,
        Some(Stake::Nothing) => Harm::None,
        Some(Stake::Position) => Harm::Moves,
        Some(Stake::Ledger) => Harm::Claims,
    }
}

/// The words of a language that stop a phrase beside which they are heard.
pub fn denying(language: &Language) -> Denying {
    let (words, endings) = language.denying();
    Denying::new(words, endings)
}

/// The words of a text in lower case, without marks.
pub(super) fn words(text: &str) -> Vec<String> {
    let words = text.split(|c: char| !(c.is_alphanumeric() || c == '\''));
    words.filter(|word| !word.is_empty()).map(str::to_lowercase).collect()
}

/// Is a phrase among the words that are being said?
pub(super) fn contains(said: &[String], phrase: &[String]) -> bool {
    !phrase.is_empty() && said.windows(phrase.len()).any(|window| window == phrase)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_being_said_is_found_whatever_stands_between_the_words() {
        let said = words("You can say: next step, Stage complete. I'm stuck.");
        for phrase in ["next step", "stage complete", "i'm stuck"] {
            assert!(contains(&said, &words(phrase)), "{phrase}");
        }
        for phrase in ["", "next stage", "complete i", "step next"] {
            assert!(!contains(&said, &words(phrase)), "{phrase}");
        }
    }
}
