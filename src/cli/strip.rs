//! `strip`: takes something apart without a procedure; what is told becomes one.

use super::args::{Channels, Strip};
use super::config::Config;
use super::terminal::Terminal;
use super::{Failure, parts, session};
use crate::journal::{StripFolder, find_strip, strips};
use crate::session::{Counter, StripTalk, now};
use crate::strip::StripLog;
use std::io::BufRead;
use std::path::Path;

/// Begins a strip-down.
pub fn strip(config: &Config, args: &Strip) -> Result<(), Failure> {
    typed(&args.channels)?;
    let (language, manner) = (parts::language(config)?, parts::manner(config)?);
    let shelf = offered(config, args.vehicle.as_deref())?;
    let folder = StripFolder::begin(&config.jobs_folder()?, &args.title, args.vehicle.as_deref(), now());
    let folder = folder.map_err(Failure::failed)?;
    outln!("Strip-down {}", name(folder.path()));
    let talk = StripTalk::new(language, manner, StripLog::new(&args.title), folder, shelf);
    converse(config, talk, &args.channels, None)
}

/// Takes one up again, if this is one and no job yet.
pub fn resume(config: &Config, wanted: Option<&str>, channels: &Channels) -> Option<Result<(), Failure>> {
    let path = config.jobs_folder().ok().and_then(|root| find_strip(&root, wanted))?;
    Some(taken_up(config, &path, channels))
}

fn taken_up(config: &Config, path: &Path, channels: &Channels) -> Result<(), Failure> {
    typed(channels)?;
    let (language, manner) = (parts::language(config)?, parts::manner(config)?);
    let (folder, log, torn) = StripFolder::open(path).map_err(Failure::unreadable)?;
    let shelf = offered(config, folder.vehicle())?;
    outln!("Strip-down {}", name(path));
    let talk = StripTalk::new(language, manner, log, folder, shelf);
    converse(config, talk, channels, Some(torn))
}

/// Lists those that are no job yet.
pub fn list(root: &Path) -> usize {
    let all = strips(root);
    for strip in &all {
        outln!("{}  begun {}  strip-down, no job yet: {}", strip.name, super::ledger::moment(strip.began), strip.title);
    }
    all.len()
}

/// The values that may be offered: those of the vehicle. Of an unknown vehicle nothing can be.
fn offered(config: &Config, vehicle: Option<&str>) -> Result<crate::values::Shelf, Failure> {
    vehicle.map_or_else(|| Ok(crate::values::Shelf::default()), |vehicle| parts::shelf_for(config, vehicle))
}

fn shelf(config: &Config, vehicle: Option<&str>) -> Result<crate::values::Shelf, Failure> {
    match vehicle {
        Some(vehicle) => parts::shelf_for(config, vehicle),
        None => parts::shelf(config, &config.values),
    }
}

fn typed(channels: &Channels) -> Result<(), Failure> {
    match channels.typed {
        true => Ok(()),
        false => Err(Failure::Unreadable("a strip-down is told by typing so far; start it with --typed".into())),
    }
}

fn converse(config: &Config, mut talk: StripTalk, channels: &Channels, again: Option<bool>) -> Result<(), Failure> {
    let mut terminal = Terminal::new();
    let first = match again {
        Some(torn) => talk.resume(torn),
        None => talk.begin(),
    };
    Counter::turn(&mut terminal, &first);
    let mut line = String::new();
    // Read as the job's session goes on reading, so that no line is lost between the two.
    let mut input = std::io::stdin().lock();
    while !talk.log().is_ready() {
        line.clear();
        let read = input.read_line(&mut line);
        if read.map_err(|e| Failure::Failed(format!("standard input: cannot be read: {e}")))? == 0 {
            break;
        }
        if line.trim().is_empty() {
            continue;
        }
        let turn = talk.read(&line, now()).map_err(Failure::failed)?;
        Counter::turn(&mut terminal, &turn);
        if turn.over {
            break;
        }
    }
    drop(input);
    let path = talk.folder().path().to_owned();
    if !talk.log().is_ready() {
        outln!("\nThe strip-down is kept in {}.\nTo go on: wrenchside resume {} --typed", path.display(), name(&path));
        return Ok(());
    }
    let vehicle = talk.folder().vehicle().map(str::to_owned);
    let (folder, job) = talk.turn().map_err(Failure::failed)?;
    outln!("The book is written: {}", path.join("procedure.toml").display());
    session::go_on(config, folder, job, shelf(config, vehicle.as_deref())?, channels)
}

fn name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}
