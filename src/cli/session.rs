//! `start`, `resume`: a conversation with a person.

use super::args::{Channels, Resume, Start};
use super::config::Config;
use super::terminal::Terminal;
use super::{Failure, find, ledger, parts};
use crate::glance::{Board, Frame, GlanceError, Server};
use crate::job::{At, Job};
use crate::journal::{self, Begin, Folder, JournalError, Notice};
use crate::printing;
use crate::session::ear::{LiveSound, Recording};
use crate::session::live::Input;
use crate::session::port::Port;
use crate::session::{self, Choice, Conversation, Habits, Offers, Outlet, Talker, Turn, VoiceThread, Ways, now, run};
use std::path::{Path, PathBuf};
use tokio::sync::watch;

/// Samples a second of a WAV file of speech.
const FILE_RATE: u32 = 22_050;

/// Begins a job.
pub fn start(config: &Config, args: &Start) -> Result<(), Failure> {
    let path = match &args.procedure {
        Some(wanted) => find::procedure(config, wanted)?,
        // Whoever starts it by voice chooses by voice.
        None if !args.channels.typed => return choose(config, args),
        None => find::chosen(config)?,
    };
    let (whole, book) = parts::procedure(&path)?;
    let unchecked = parts::mistakes(&whole, args.unchecked)?;
    // All that may be refused comes before the job is begun, so that none is left behind.
    let (language, manner, toolbox) = (parts::language(config)?, parts::manner(config)?, parts::toolbox(config)?);
    let shelf = parts::shelf_for(config, &book.vehicle)?;
    let io = Io::open(config, &args.channels)?;
    let file = path.canonicalize().ok();
    let root = config.jobs_folder()?;
    let begin = Begin { root: &root, text: whole.text(), book: &book, file: file.as_deref(), unchecked, at: now() };
    let folder = Folder::begin(&begin).map_err(Failure::failed)?;
    outln!("Job {}", name(&folder));
    let talk = Conversation::new(language, manner, Job::new(book), folder).with_toolbox(toolbox).with_values(shelf);
    converse(config, talk, io, &args.channels, None)
}

/// Begins a job that is chosen from a short list, in the session itself.
fn choose(config: &Config, args: &Start) -> Result<(), Failure> {
    let (paths, titles) = find::listed(config)?;
    let (language, delivery) = (parts::language(config)?, parts::delivery(config));
    let io = Io::open(config, &args.channels)?;
    let paths = paths.into_iter().map(Next::Begin).collect();
    let mut talk = Choice::new(language, delivery, titles, begins(config, paths, args.unchecked));
    let first = talk.first();
    hold_choice(config, &mut talk, &first, io, &args.channels)
}

/// What may be chosen.
enum Next {
    /// A procedure, of which a job begins.
    Begin(PathBuf),
    /// A job that was begun before.
    TakeUp(PathBuf),
}

/// How each of these is begun. Why one cannot be is for whoever looks at the screen. `unchecked` holds for the first job only:
/// of the mistakes of the next procedure nobody knew when it was said.
fn begins(config: &Config, all: Vec<Next>, mut unchecked: bool) -> session::Begin {
    let config = config.clone();
    Box::new(move |at: usize, now: At, ahead: i64| {
        let (Next::Begin(path) | Next::TakeUp(path)) = &all[at];
        let begun = match &all[at] {
            Next::Begin(path) => chosen(&config, path, unchecked, now, ahead),
            Next::TakeUp(path) => taken_up(&config, path, now, ahead),
        };
        let begun = begun.map_err(|failure| {
            let reason = failure.told();
            errln!("wrenchside: {reason}");
            JournalError::Procedure { path: path.clone(), reason }
        })?;
        unchecked = false;
        Ok(begun)
    })
}

fn hold_choice(config: &Config, talk: &mut Choice, first: &Turn, io: Io, channels: &Channels) -> Result<(), Failure> {
    hold(config, talk, first, io, channels, &|talk: &Choice| match talk.conversation() {
        Some(job) => told(config, job),
        None => Ok(()),
    })
}

/// Begins the job of this file, where the machine's clock was set by so many milliseconds in this session.
fn chosen(config: &Config, path: &Path, unchecked: bool, now: At, ahead: i64) -> Result<(Conversation, Turn), Failure> {
    let (whole, book) = parts::procedure(path)?;
    let unchecked = parts::mistakes(&whole, unchecked)?;
    let (language, manner, toolbox) = (parts::language(config)?, parts::manner(config)?, parts::toolbox(config)?);
    let shelf = parts::shelf_for(config, &book.vehicle)?;
    let (file, root) = (path.canonicalize().ok(), config.jobs_folder()?);
    let begin = Begin { root: &root, text: whole.text(), book: &book, file: file.as_deref(), unchecked, at: now };
    let mut folder = Folder::begin(&begin).map_err(Failure::failed)?;
    folder.clock_set(ahead);
    outln!("Job {}", name(&folder));
    let mut talk = Conversation::new(language, manner, Job::new(book), folder).with_toolbox(toolbox).with_values(shelf);
    let first = talk.begin(now).map_err(Failure::failed)?;
    Ok((talk, first))
}

/// Takes up this job behind another one, likewise.
fn taken_up(config: &Config, path: &Path, now: At, ahead: i64) -> Result<(Conversation, Turn), Failure> {
    let (language, manner, toolbox) = (parts::language(config)?, parts::manner(config)?, parts::toolbox(config)?);
    let mut opened = Folder::open(path, false).map_err(Failure::unreadable)?;
    let shelf = parts::shelf_for(config, &opened.job.book().vehicle)?;
    opened.folder.clock_set(ahead);
    outln!("Job {}", name(&opened.folder));
    let talk = Conversation::new(language, manner, opened.job, opened.folder);
    let mut talk = talk.with_toolbox(toolbox).with_values(shelf);
    let first = talk.resume(&opened.notices, now).map_err(Failure::failed)?;
    Ok((talk, first))
}

/// Takes up a job that is chosen from those that are not closed, in the session itself.
pub fn resume_one(config: &Config, channels: &Channels) -> Result<(), Failure> {
    let root = config.jobs_folder()?;
    let open = journal::not_closed(&root);
    if open.is_empty() {
        let reason = format!("{}: no job here is still to be closed; `wrenchside jobs` lists them all", root.display());
        return Err(Failure::Unreadable(reason));
    }
    let (language, delivery) = (parts::language(config)?, parts::delivery(config));
    let titles = find::told_apart(&open);
    let io = Io::open(config, channels)?;
    let jobs = open.into_iter().map(|job| Next::TakeUp(job.path)).collect();
    let mut talk = Choice::new(language, delivery, Offers::new(titles, Vec::new()), begins(config, jobs, false));
    let first = talk.first();
    hold_choice(config, &mut talk, &first, io, channels)
}

/// Takes up a job.
pub fn resume(config: &Config, args: &Resume) -> Result<(), Failure> {
    let path = find::job(config, args.job.as_deref())?;
    let (language, manner, toolbox) = (parts::language(config)?, parts::manner(config)?, parts::toolbox(config)?);
    let io = Io::open(config, &args.channels)?;
    let opened = Folder::open(&path, args.salvage).map_err(|error| match error {
        JournalError::Busy { .. } => Failure::failed(error),
        _ => Failure::unreadable(error),
    })?;
    let shelf = parts::shelf_for(config, &opened.job.book().vehicle)?;
    // All of it is said in the conversation; where the dropped lines lie is for whoever sits at the keyboard.
    for notice in &opened.notices {
        if let Notice::Salvaged { kept, dropped, aside } = notice {
            let (path, aside) = (path.display(), aside.display());
            errln!("wrenchside: {path}: {kept} lines kept, {dropped} dropped; these are in {aside}");
        }
    }
    outln!("Job {}", name(&opened.folder));
    let talk = Conversation::new(language, manner, opened.job, opened.folder).with_toolbox(toolbox).with_values(shelf);
    converse(config, talk, io, &args.channels, Some(&opened.notices))
}

/// Input and voice, opened before a job is begun, so that a missing sound card leaves no empty job behind.
pub struct Io {
    input: Input,
    /// The keyboard, and a tool.
    ways: Ways,
    voice: Option<VoiceThread>,
    /// The page for the bay: what it shows, and who serves it.
    glance: Option<(watch::Sender<String>, Server)>,
}

impl Io {
    pub fn open(config: &Config, channels: &Channels) -> Result<Io, Failure> {
        printing::apart();
        let glance = channels.glance.as_deref().map(|address| glance(config, address)).transpose()?;
        let way_out = "With --typed it works without sound.";
        let no_sound = |e: &dyn std::fmt::Display| Failure::Failed(format!("{e}. {way_out}"));
        let ways = ways(config, channels)?;
        if channels.typed && channels.out.is_none() {
            return Ok(Io { input: Input::Typed, ways, voice: None, glance });
        }
        let outlet = match &channels.out {
            Some(path) => Outlet::File(path.clone(), FILE_RATE),
            None => Outlet::Loudspeaker(channels.loudspeaker.clone().or(config.loudspeaker.clone())),
        };
        if !channels.typed && channels.wav.is_none() {
            let (input, voice) = live(config, channels, outlet, &no_sound)?;
            return Ok(Io { input, ways, voice: Some(voice), glance });
        }
        let input = match &channels.wav {
            Some(path) if !channels.typed => {
                let source = Recording::open(path).map_err(Failure::unreadable)?;
                Input::Sound(Box::new(parts::ear(config, parts::listener(config)?)?), Box::new(source))
            }
            _ => Input::Typed,
        };
        let mouth = parts::mouth(config)?;
        // Recorded sound on a machine without a loudspeaker is still worth hearing: the answers stand in the terminal.
        let voice = match (VoiceThread::start(move || Ok(mouth), outlet), &channels.wav) {
            (Ok(voice), _) => Some(voice),
            (Err(error), Some(_)) if channels.out.is_none() => {
                errln!("wrenchside: {error}. The answers are printed only; --out FILE writes them to a WAV file.");
                None
            }
            (Err(error), _) => return Err(no_sound(&error)),
        };
        Ok(Io { input, ways, voice, glance })
    }
}

/// The keyboard, with the keys that are named, and the tool. Recorded sound was made without either.
fn ways(config: &Config, channels: &Channels) -> Result<Ways, Failure> {
    if channels.wav.is_some() {
        return Ok(Ways::default());
    }
    let keys = config.keys().map_err(Failure::Unreadable)?;
    let language = parts::language(config)?;
    let tool = config.instrument(language.label("default_tool"));
    let port = tool.map(|tool| Port::open(tool, now)).transpose().map_err(Failure::unreadable)?;
    Ok(Ways::open(keys, port))
}

/// A microphone and a voice. Somebody may speak as soon as the program runs, so nothing that the first listener can do
/// without is waited for: the second and the voice are loaded behind, and the devices, which take their time, are opened
/// meanwhile.
fn live(
    config: &Config,
    channels: &Channels,
    outlet: Outlet,
    no_sound: &dyn Fn(&dyn std::fmt::Display) -> Failure,
) -> Result<(Input, VoiceThread), Failure> {
    let device = channels.microphone.clone().or(config.microphone.clone());
    let microphone = std::thread::spawn(move || LiveSound::open(device));
    let ear = parts::listener_at_once(config).and_then(|listener| parts::ear(config, listener));
    let mouth = parts::mouth_later(config);
    let Ok(source) = microphone.join() else {
        return Err(Failure::Failed(
            "the microphone cannot be opened: a fault of the program; please report it".into(),
        ));
    };
    // Of several troubles the microphone's is told first, because without one nothing else matters.
    let source = source.map_err(|e| no_sound(&e))?;
    let ear = ear?;
    let voice = VoiceThread::start(mouth?, outlet).map_err(|e| no_sound(&e))?;
    Ok((Input::Sound(Box::new(ear), Box::new(source)), voice))
}

/// Holds the conversation; with what was noticed on disk if the job is taken up again.
fn converse(
    config: &Config,
    mut talk: Conversation,
    io: Io,
    channels: &Channels,
    again: Option<&[Notice]>,
) -> Result<(), Failure> {
    talk.set_delivery(parts::delivery(config));
    let first = match again {
        None => talk.begin(now()),
        Some(noticed) => talk.resume(noticed, now()),
    };
    let first = first.map_err(Failure::failed)?;
    if let Some((offers, begin)) = next_jobs(config, talk.folder().path(), &io, channels) {
        let mut talk = Choice::after(talk, offers, begin);
        return hold_choice(config, &mut talk, &first, io, channels);
    }
    hold(config, &mut talk, &first, io, channels, &|talk| told(config, talk))
}

/// What may be chosen when the job in hand is closed: whoever speaks has no hand for the keyboard then, either. Jobs that were begun
/// before come first.
pub fn next_jobs(config: &Config, in_hand: &Path, io: &Io, channels: &Channels) -> Option<(Offers, session::Begin)> {
    let speaks = matches!(io.input, Input::Sound(..)) && channels.wav.is_none();
    speaks.then(|| offered(config, in_hand)).flatten()
}

fn offered(config: &Config, in_hand: &Path) -> Option<(Offers, session::Begin)> {
    let language = parts::language(config).ok()?;
    let begun = journal::unfinished(in_hand);
    let (paths, titles) = find::listed(config).unwrap_or_default();
    let as_begun = |title: &str| format!("{title}, {}", language.label("choose_begun"));
    let offers = Offers::new(begun.iter().map(|job| as_begun(&job.title)).collect(), titles);
    let all: Vec<Next> =
        begun.into_iter().map(|job| Next::TakeUp(job.path)).chain(paths.into_iter().map(Next::Begin)).collect();
    (!all.is_empty()).then(|| (offers, begins(config, all, false)))
}

/// Runs the session of whoever talks, and tells at its end what has become of it.
pub fn hold<T: Talker>(
    config: &Config,
    talk: &mut T,
    first: &Turn,
    io: Io,
    channels: &Channels,
    told: &dyn Fn(&T) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let habits = Habits { headset: channels.headset || config.headset, pause: config.pause() };
    let mut terminal = Terminal::new();
    let ended = match io.glance {
        None => run(talk, first, io.input, io.ways, io.voice.as_ref(), habits, &mut terminal),
        Some((page, _server)) => {
            let listens = !matches!(io.input, Input::Typed);
            let (language, manner) = (talk.language().clone(), parts::manner(config)?);
            let board = Board::new(&mut terminal, language, manner, listens, page);
            // Typed lines are nobody's voice, and the page leaves it out then.
            let own = config.own_voice.clone();
            let mut board = board.own_voice(own);
            run(talk, first, io.input, io.ways, io.voice.as_ref(), habits, &mut board)
        }
    };
    let spoken = io.voice.map_or(Ok(()), VoiceThread::finish);
    told(talk)?;
    ended.map_err(Failure::failed)?;
    spoken.map_err(Failure::failed)
}

/// Tells where a job stands, where it is kept, and how to go on.
pub fn told(config: &Config, talk: &Conversation) -> Result<(), Failure> {
    let (language, manner, book) = (talk.language().clone(), parts::manner(config)?, talk.job().book().clone());
    out!("\n{}", ledger::closing(talk.job(), &language.words(&book, &manner)));
    outln!("The job is kept in {}.", talk.folder().path().display());
    match talk.job().closed() {
        None => outln!("To go on: wrenchside resume {}", name(talk.folder())),
        Some(_) => find::next(talk.folder().path()),
    }
    Ok(())
}

/// Serves the page, and says where.
fn glance(config: &Config, address: &str) -> Result<(watch::Sender<String>, Server), Failure> {
    let language = parts::language(config)?;
    let frame = Frame {
        language: language.tag().to_owned(),
        title: "Wrenchside".to_owned(),
        lost: language.label("glance_connection_lost").to_owned(),
    };
    let page = watch::Sender::new(String::new());
    let lost = |why| errln!("wrenchside: the page for the bay is not served any more: {why}");
    let server = Server::start(address, frame, page.subscribe(), lost).map_err(|error| match error {
        GlanceError::Address(_) => Failure::unreadable(error),
        _ => Failure::failed(error),
    })?;
    outln!("Page for the bay: {}", server.url());
    Ok((page, server))
}

fn name(folder: &Folder) -> String {
    folder.path().file_name().unwrap_or_default().to_string_lossy().into_owned()
}
