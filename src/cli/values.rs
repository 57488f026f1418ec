//! `values`: questions for values, answered without a job; and with `--add`, values told from the open book and kept on a page.

use super::args::Values;
use super::config::Config;
use super::terminal::Terminal;
use super::{Failure, ask, parts};
use crate::dialogue::Language;
use crate::files;
use crate::printing;
use crate::session::ear::{LiveSound, Recording};
use crate::session::{BookTalk, NoJob, Outlet, PageFile, Question, Source, ValuesTalk, VoiceThread, look_up};
use crate::values::{Head, OpenBook, Refused};
use std::path::Path;

/// Answers until it is told to stop, or the input ends.
pub fn values(config: &Config, args: &Values) -> Result<(), Failure> {
    if let Some(path) = &args.add {
        return add(config, args, path);
    }
    let shelf = parts::shelf(config, &[&config.values[..], &args.files[..]].concat())?;
    if shelf.is_empty() {
        return Err(Failure::Unreadable("no page of values is named; docs/values.md says how to write one".into()));
    }
    let talk = ValuesTalk::new(parts::language(config)?, parts::manner(config)?, parts::delivery(config), shelf);
    hold(config, args, Box::new(talk))
}

fn hold(config: &Config, args: &Values, talk: Box<dyn NoJob>) -> Result<(), Failure> {
    printing::apart();
    let mut terminal = Terminal::new();
    if args.typed {
        return look_up(talk, Question::Typed, None, &mut terminal).map_err(Failure::failed);
    }
    let source: Box<dyn Source> = match &args.wav {
        Some(wav) => Box::new(Recording::open(wav).map_err(Failure::unreadable)?),
        None => {
            let device = args.microphone.clone().or(config.microphone.clone());
            let sound = LiveSound::open(device);
            Box::new(sound.map_err(|e| Failure::Failed(format!("{e}. With --typed it works without sound.")))?)
        }
    };
    let listener = Box::new(parts::listener_for(config, source.is_live())?);
    let outlet = Outlet::Loudspeaker(args.loudspeaker.clone().or(config.loudspeaker.clone()));
    let mouth = parts::mouth(config)?;
    let voice = match VoiceThread::start(move || Ok(mouth), outlet) {
        Ok(voice) => Some(voice),
        Err(error) if args.wav.is_some() => {
            errln!("wrenchside: {error}. The answers are printed only.");
            None
        }
        Err(error) => return Err(Failure::failed(error)),
    };
    let ended = look_up(talk, Question::Sound(listener, source), voice.as_ref(), &mut terminal);
    let spoken = voice.map_or(Ok(()), VoiceThread::finish);
    ended.map_err(Failure::failed)?;
    spoken.map_err(Failure::failed)
}

/// Adds to a page what is told from the open book.
fn add(config: &Config, args: &Values, path: &Path) -> Result<(), Failure> {
    let name = path.display().to_string();
    let ending = path.extension().map(|ending| ending.to_ascii_lowercase());
    if !ending.is_some_and(|ending| ending == "txt" || ending == "toml") {
        let what = "values are added to lines (a file that ends in .txt) or to TOML (.toml); name such a file";
        return Err(Failure::Unreadable(format!("{name}: {what}")));
    }
    let language = parts::language(config)?;
    let file = PageFile::open(path).map_err(Failure::unreadable)?;
    let text = match file.text() {
        Some(text) => text.to_owned(),
        None => head(&language, &name)?,
    };
    let book = OpenBook::open(&name, &text).map_err(|report| {
        super::check::show(&report);
        let errors = super::check::errors(report.errors());
        Failure::Unreadable(format!("{name}: {errors}; nothing is added to a page before they are put right"))
    })?;
    let book = match names(args)? {
        Some(names) => book.asking_for(&names, &|name| language.as_heard(name)).map_err(|(wrong, why)| {
            let why = match why {
                Refused::Check { what, right } => format!("{what}. {right}"),
                Refused::Name | Refused::There(_) => "a page cannot have it".to_owned(),
            };
            Failure::Unreadable(format!("\"{wrong}\" cannot be the name of a value: {why}"))
        })?,
        None => book,
    };
    let talk = BookTalk::new(language, parts::manner(config)?, parts::delivery(config), book, file);
    hold(config, args, Box::new(talk))?;
    // Whatever ended it, what is on the page is what the file holds now.
    match PageFile::open(path).map_err(Failure::failed)?.text().map(|text| OpenBook::open(&name, text)) {
        Some(Ok(book)) => {
            outln!("\n{name}: {} on the page. To ask: wrenchside values {name}", book.page().entries.len())
        }
        Some(Err(report)) => super::check::show(&report),
        None => outln!("\nNothing was kept, and no page was begun."),
    }
    Ok(())
}

/// The head of a new page. Its source is asked for before any value is.
fn head(language: &Language, name: &str) -> Result<String, Failure> {
    let title = ask::question("Title of the book that the values come from");
    let edition = ask::question("Its edition or date");
    let vehicle = ask::question("Vehicle");
    if [&title, &edition, &vehicle].into_iter().any(|answer| answer.is_empty()) {
        return Err(Failure::Unreadable(format!(
            "{name}: a value is worth nothing without its book, the edition and the vehicle; nothing was begun"
        )));
    }
    Ok(Head { vehicle: &vehicle, title: &title, edition: &edition, language: language.tag() }.text(name))
}

/// The names to ask for. By voice there must be some, for a name of the user's own is in no list of words; nothing where they are typed one
/// by one.
fn names(args: &Values) -> Result<Option<Vec<String>>, Failure> {
    if let Some(path) = &args.names {
        let text = files::text(path)
            .map_err(|e| Failure::Unreadable(format!("{}: the names cannot be read: {e}", path.display())))?;
        let lines = text.lines().map(|line| line.trim_start_matches('\u{feff}').trim());
        return Ok(Some(lines.filter(|line| !line.is_empty()).map(str::to_owned).collect()));
    }
    if args.typed {
        return Ok(None);
    }
    outln!("The things whose values you are going to say, a name a line; an empty line ends the list.");
    let mut names = Vec::new();
    loop {
        match ask::question("Name") {
            name if name.is_empty() => return Ok(Some(names)),
            name => names.push(name),
        }
    }
}
