//! Plays a scenario into a conversation.

use super::compare::differences;
use super::report::{Report, Times, TurnReport};
use super::{Given, Scenario};
use crate::dialogue::{Language, Manner, recorded};
use crate::job::{At, Job};
use crate::journal::{Begin, Folder, JournalError, StripFolder};
use crate::listen::{ListenError, RATE, Utterance};
use crate::procedure::{self, Procedure};
use crate::resample::{self, ResampleError};
use crate::session::ear::PIECE;
use crate::session::{
    Begun, Conversation, Ear, Known, Mouth, Order, Screen, Shown, StripSession, StripTalk, Talker, Turn,
};
use crate::speak::wav::{Side, StereoTape};
use crate::speak::{Sink, SpeakError};
use crate::strip::StripLog;
use crate::values::Shelf;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Why a replay could not be run to its end.
#[derive(Debug, thiserror::Error)]
pub enum ReplayError {
    /// The job could not be written.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// Hearing failed.
    #[error(transparent)]
    Listen(#[from] ListenError),
    /// Speaking failed.
    #[error(transparent)]
    Speak(#[from] SpeakError),
    /// A recording could not be converted.
    #[error(transparent)]
    Rate(#[from] ResampleError),
    /// A sound is in the scenario, but there is no ear.
    #[error("turn {turn}: it has sound, and the recogniser is not there; wrenchside doctor says what is missing")]
    Deaf {
        /// Which turn, from 1.
        turn: usize,
    },
}

/// What a replay is played with.
pub struct Options<'a> {
    /// The language.
    pub language: Language,
    /// How values are said.
    pub manner: Manner,
    /// Pages of values.
    pub shelf: Shelf,
    /// Where the job is kept.
    pub jobs: PathBuf,
    /// Played at the pace of the clock instead of as fast as possible.
    pub real_time: bool,
    /// What is heard with; a scenario of typed lines needs none.
    pub ear: Option<&'a mut Ear>,
    /// What is spoken with, if the answers are to be spoken.
    pub mouth: Option<&'a mut Mouth>,
    /// Sound of both sides, microphone left and voice right.
    pub tape: Option<&'a mut StereoTape>,
    /// Where the conversation is shown as it goes.
    pub screen: Option<&'a mut dyn Screen>,
    /// Reads a recording as 16 kHz mono.
    pub read_sound: &'a dyn Fn(&Path) -> Result<Vec<i16>, ListenError>,
}

/// Sound that follows each recording: long enough for the listener to find its end.
const AFTER: usize = RATE as usize * 3 / 2;
/// Pause that the user of a recording leaves after an answer.
const BREATH: Duration = Duration::from_millis(400);

/// What a replay begins.
pub enum Begins<'a> {
    /// A job by a procedure: the text of its file, and the book that was read from it.
    Job(&'a str, &'a Arc<Procedure>),
    /// A strip-down of this title, on this vehicle.
    Strip(&'a str, Option<&'a str>),
}

/// Plays a scenario. Returns the report and the job's folder.
pub fn run(
    scenario: &Scenario,
    begin: At,
    begins: &Begins<'_>,
    options: Options<'_>,
) -> Result<(Report, PathBuf), ReplayError> {
    let (talk, first): (Box<dyn Talker>, Turn) = match begins {
        Begins::Job(text, book) => {
            // Nobody is asked here, but a job that is kept says what it goes by.
            let unchecked = procedure::check(&book.id, text).errors();
            let folder = Folder::begin(&Begin { root: &options.jobs, text, book, file: None, unchecked, at: begin })?;
            let mut talk = options.conversation(Job::new((*book).clone()), folder);
            let first = talk.begin(begin)?;
            (Box::new(talk), first)
        }
        Begins::Strip(title, vehicle) => {
            let folder = StripFolder::begin(&options.jobs, title, *vehicle, begin)?;
            let mut talk = options.strip(StripLog::new(title), folder);
            let first = talk.begin(begin)?;
            (Box::new(talk), first)
        }
    };
    let path = talk.folder().to_owned();
    let mut player =
        Player { talk: Some(talk), clock: begin, played: 0, turn: (0, begin), options, answers: Vec::new() };
    player.answer(&first)?;
    let mut turns = Vec::new();
    for (i, turn) in scenario.turns.iter().enumerate() {
        let Some(given) = turn.given() else { continue };
        let mut outcome = player.give(i, &given, scenario)?;
        if let Some(talk) = &player.talk {
            outcome.differences = differences(turn, &outcome, talk.job());
        }
        turns.push(outcome);
    }
    let mut answer_ms = player.answers;
    answer_ms.sort_by(f64::total_cmp);
    Ok((Report { title: scenario.title.clone(), turns, answer_ms }, path))
}

impl Options<'_> {
    fn conversation(&self, job: Job, folder: Folder) -> Conversation {
        Conversation::new(self.language.clone(), self.manner, job, folder).with_values(self.shelf.clone())
    }

    fn strip(&self, log: StripLog, folder: StripFolder) -> StripSession {
        let shelf = self.shelf.clone();
        let talk = StripTalk::new(self.language.clone(), self.manner, log, folder, shelf.clone());
        StripSession::new(talk, Known { manner: self.manner, toolbox: None, shelf })
    }
}

struct Player<'a> {
    /// Taken out only while the program is "away".
    talk: Option<Box<dyn Talker>>,
    /// The job's clock.
    clock: At,
    /// How far the tape has run, as time.
    played: u64,
    /// The turn in hand: position of its first sample, and when that was.
    turn: (u64, At),
    options: Options<'a>,
    answers: Vec<f64>,
}

impl Player<'_> {
    fn give(&mut self, i: usize, given: &Given<'_>, scenario: &Scenario) -> Result<TurnReport, ReplayError> {
        let mut outcome = TurnReport {
            given: match given {
                Given::Sound(path) => path.file_stem().unwrap_or_default().to_string_lossy().into_owned(),
                Given::Typed(line) => format!("\"{line}\""),
                Given::Wait(minutes) => format!("{minutes} minutes pass"),
                Given::Restart(0) => "the power goes; the program is started anew".into(),
                Given::Restart(minutes) => {
                    format!("the power goes; {minutes} minutes later the program is started anew")
                }
            },
            heard: Vec::new(),
            rejected: Vec::new(),
            confidence: Vec::new(),
            judged: Vec::new(),
            said: Vec::new(),
            recordings: 0,
            differences: Vec::new(),
            times: Times::default(),
        };
        if !matches!(given, Given::Sound(_))
            && let Some(screen) = &mut self.options.screen
        {
            screen.happens(&outcome.given);
        }
        match given {
            Given::Sound(path) => {
                let samples = (self.options.read_sound)(&scenario.folder.join(path))?;
                self.sound(i, samples, &mut outcome)?;
            }
            Given::Typed(line) => {
                let at = self.clock;
                if let Some(talk) = &mut self.talk {
                    let turn = talk.read(line, at)?;
                    self.say(&turn, &mut outcome)?;
                }
            }
            Given::Wait(minutes) => {
                self.pass(Duration::from_secs(u64::from(*minutes) * 60));
                let at = self.clock;
                if let Some(talk) = &mut self.talk
                    && talk.until_due(at).is_some_and(|left| left <= 0)
                {
                    let turn = talk.time_up(at)?;
                    self.say(&turn, &mut outcome)?;
                }
            }
            Given::Restart(minutes) => self.restart(*minutes, &mut outcome)?,
        }
        Ok(outcome)
    }

    /// The program goes away without a word, as at a power cut, and comes back so many minutes later.
    fn restart(&mut self, minutes: u32, outcome: &mut TurnReport) -> Result<(), ReplayError> {
        let Some(talk) = self.talk.take() else { return Ok(()) };
        let (path, is_job) = (talk.folder().to_owned(), talk.job().is_some());
        drop(talk); // lets go of the lock
        self.pass(Duration::from_secs(u64::from(minutes) * 60));
        let (talk, turn): (Box<dyn Talker>, Turn) = if is_job {
            let opened = Folder::open(&path, false)?;
            let mut talk = self.options.conversation(opened.job, opened.folder);
            let turn = talk.resume(&opened.notices, self.clock)?;
            (Box::new(talk), turn)
        } else {
            let (folder, log, torn) = StripFolder::open(&path)?;
            let mut talk = self.options.strip(log, folder);
            let turn = talk.resume(torn, self.clock)?;
            (Box::new(talk), turn)
        };
        self.talk = Some(talk);
        if let Some(ear) = &mut self.options.ear {
            ear.reset()?;
        }
        self.say(&turn, outcome).map(drop)
    }

    fn sound(&mut self, i: usize, samples: Vec<i16>, outcome: &mut TurnReport) -> Result<(), ReplayError> {
        // Its speaker waited for the answer. Within the recording nobody could: there nothing has been announced.
        if let (Some(ear), Some(talk)) = (self.options.ear.as_deref(), &mut self.talk) {
            self.turn = (ear.taken(), self.clock);
            talk.announced(self.clock);
        }
        self.record(Side::Left, &samples)?;
        let end = samples.len();
        let silence = std::iter::repeat_n(0, AFTER);
        let stream: Vec<i16> = samples.into_iter().chain(silence).collect();
        let mut given = 0;
        for piece in stream.chunks(PIECE) {
            let (Some(ear), Some(talk)) = (self.options.ear.as_deref_mut(), &mut self.talk) else {
                return Err(ReplayError::Deaf { turn: i + 1 });
            };
            ear.attune(&**talk, "")?;
            let mut utterance = ear.push(piece)?;
            given += piece.len();
            self.pass(Duration::from_secs_f64(piece.len() as f64 / f64::from(RATE)));
            while let Some(said) = utterance.take() {
                self.utterance(&said, outcome)?;
                if let (Some(ear), Some(talk)) = (self.options.ear.as_deref_mut(), &mut self.talk) {
                    ear.attune(&**talk, "")?;
                    utterance = ear.push(&[])?;
                }
            }
            // Nobody waits longer than the listener does.
            let still = self.options.ear.as_ref().is_some_and(|e| e.speaking());
            if given >= end + 5 * PIECE && !still {
                break;
            }
        }
        Ok(())
    }

    fn utterance(&mut self, said: &Utterance, outcome: &mut TurnReport) -> Result<(), ReplayError> {
        if let Some(screen) = &mut self.options.screen {
            screen.heard(said);
        }
        match &said.phrase {
            Some(phrase) => outcome.heard.push(phrase.clone()),
            None => outcome.rejected.push(said.heard.text.clone()),
        }
        outcome.confidence.push(said.heard.confidence);
        outcome.judged.extend(said.judgement.as_ref().map(|j| j.average));
        let began = Instant::now();
        let at = self.clock;
        let (Some(ear), Some(talk)) = (self.options.ear.as_deref_mut(), &mut self.talk) else { return Ok(()) };
        let (from, then) = self.turn;
        let into = said.began.saturating_sub(from) * 1_000 / u64::from(RATE);
        let spoken = At(then.0.saturating_add(i64::try_from(into).unwrap_or(i64::MAX)));
        let turn = ear.answer(&mut **talk, said, spoken, at)?;
        let decided = began.elapsed();
        let begun = self.say(&turn, outcome)?;
        if said.phrase.is_some() {
            let endpoint = said.decided.saturating_sub(said.ended) as f64 * 1000.0 / f64::from(RATE);
            outcome.times.endpoint_ms = Some(endpoint);
            let sound = begun.map_or(Duration::ZERO, |b| b.sound);
            let computing = (said.thinking + decided + sound).as_secs_f64() * 1000.0;
            outcome.times.computing_ms = Some(computing);
            if self.options.mouth.is_some() {
                self.answers.push(endpoint + computing);
            }
            if let Some(begun) = begun
                && let Some(speech) = begun.speech
            {
                outcome.times.speech_ms = Some((decided + speech).as_secs_f64() * 1000.0);
                outcome.times.foreseen = Some(begun.foreseen);
            }
        }
        Ok(())
    }

    fn say(&mut self, turn: &Turn, outcome: &mut TurnReport) -> Result<Option<Begun>, ReplayError> {
        outcome.said.extend(turn.sentences.iter().map(|s| s.written.clone()));
        if let Some(talk) = &self.talk {
            let there = talk.recordings();
            let voiced = talk.voiced(turn.sentences.clone());
            let letters = voiced.iter().flat_map(|sentence| sentence.spoken.chars()).filter_map(recorded);
            outcome.recordings += letters.filter(|id| there.contains_key(id)).count();
        }
        self.answer(turn)
    }

    /// Shows and speaks a turn; says how soon it was begun.
    fn answer(&mut self, turn: &Turn) -> Result<Option<Begun>, ReplayError> {
        let Some(talk) = &self.talk else { return Ok(None) };
        if let Some(screen) = &mut self.options.screen {
            match talk.job() {
                Some(job) => screen.turn(turn, &Shown::of(job)),
                None => screen.told(turn),
            }
        }
        let delivery = talk.delivery();
        let (tone, sentences) = (turn.tone, talk.voiced(turn.sentences.clone()));
        let order = Order { tone, sentences, delivery, recordings: talk.recordings() };
        let Some(mouth) = &mut self.options.mouth else { return Ok(None) };
        let rate = self.options.tape.as_ref().map_or(22_050, |t| t.rate());
        let mut sink = Collected { rate, samples: Vec::new() };
        let begun = mouth.say(&order, &mut sink, &|| true)?;
        // While the answer is heard, an idle core makes the beginnings of what may follow.
        let foreseen = talk.foresee(self.clock);
        while !mouth.prepare(&foreseen, delivery.pace)? {}
        let spoken = Duration::from_secs_f64(sink.samples.len() as f64 / f64::from(rate));
        if let Some(tape) = &mut self.options.tape {
            let at = usize::try_from(self.played * u64::from(rate) / 1000).unwrap_or(usize::MAX);
            tape.put(Side::Right, at, &sink.samples);
        }
        if !sink.samples.is_empty() {
            self.pass(spoken + BREATH);
        }
        Ok(begun)
    }

    fn record(&mut self, side: Side, samples: &[i16]) -> Result<(), ReplayError> {
        if let Some(tape) = &mut self.options.tape {
            let floats: Vec<f32> = samples.iter().map(|&s| f32::from(s) / 32_768.0).collect();
            let at = usize::try_from(self.played * u64::from(tape.rate()) / 1000).unwrap_or(usize::MAX);
            tape.put(side, at, &resample::convert(&floats, RATE, tape.rate())?);
        }
        Ok(())
    }

    /// Lets time pass for the job's clock and the tape, and for real if that was asked for.
    fn pass(&mut self, time: Duration) {
        let ms = u64::try_from(time.as_millis()).unwrap_or(0);
        self.clock = At(self.clock.0.saturating_add(i64::try_from(ms).unwrap_or(i64::MAX)));
        // Minutes that merely pass are not put on the tape.
        if time < Duration::from_secs(60) {
            self.played += ms;
            if self.options.real_time {
                std::thread::sleep(time);
            }
        }
    }
}

/// Keeps what is played.
struct Collected {
    rate: u32,
    samples: Vec<f32>,
}

impl Sink for Collected {
    fn rate(&self) -> u32 {
        self.rate
    }
    fn play(&mut self, samples: &[f32]) -> Result<(), SpeakError> {
        self.samples.extend_from_slice(samples);
        Ok(())
    }
    fn stop(&mut self) {}
    fn is_playing(&self) -> bool {
        false
    }
}
