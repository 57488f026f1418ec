//! `strip`: takes something apart without a procedure; what is told becomes one.

use super::args::{Channels, Strip};
use super::config::Config;
use super::{Failure, find, parts, session};
use crate::journal::{StripFolder, find_strip};
use crate::session::{Known, StripSession, StripTalk, now};
use crate::strip::StripLog;
use crate::values::Shelf;
use std::path::Path;

/// Begins a strip-down.
pub fn strip(config: &Config, args: &Strip) -> Result<(), Failure> {
    let set = Set::of(config, args.vehicle.as_deref())?;
    // All that may be refused comes before it is begun, so that nothing is left behind.
    let io = session::Io::open(config, &args.channels)?;
    let folder = StripFolder::begin(&config.jobs_folder()?, &args.title, args.vehicle.as_deref(), now());
    let folder = folder.map_err(Failure::failed)?;
    outln!("Strip-down {}", name(folder.path()));
    let talk = set.talk(config, StripLog::new(&args.title), folder)?;
    converse(config, talk, io, &args.channels, None)
}

/// Takes one up again, if this is one and no job yet.
pub fn resume(
    config: &Config,
    wanted: Option<&str>,
    channels: &Channels,
    salvage: bool,
) -> Option<Result<(), Failure>> {
    let exact = config.jobs_folder().ok().and_then(|root| find_strip(&root, wanted));
    let found = match (exact, wanted) {
        (None, Some(wanted)) => find::strip(config, wanted),
        (exact, _) => Ok(exact),
    };
    match found {
        Ok(path) => path.map(|path| taken_up(config, &path, channels, salvage)),
        Err(failure) => Some(Err(failure)),
    }
}

fn taken_up(config: &Config, path: &Path, channels: &Channels, salvage: bool) -> Result<(), Failure> {
    let io = session::Io::open(config, channels)?;
    let (folder, log, torn, dropped) = StripFolder::take_up(path, salvage).map_err(Failure::unreadable)?;
    if let Some(dropped) = dropped {
        let (path, aside) = (path.display(), dropped.aside.display());
        errln!("wrenchside: {path}: {} lines kept, {} dropped; these are in {aside}", dropped.kept, dropped.lines);
    }
    let set = Set::of(config, folder.vehicle())?;
    outln!("Strip-down {}", name(path));
    let talk = set.talk(config, log, folder)?;
    converse(config, talk, io, channels, Some(torn))
}

/// The pages of values.
struct Set {
    /// Those that may be asked by name.
    asked: Shelf,
    /// Those of the vehicle, which may be offered. Of an unknown vehicle nothing can be.
    offered: Shelf,
}

impl Set {
    fn of(config: &Config, vehicle: Option<&str>) -> Result<Set, Failure> {
        Ok(match vehicle {
            Some(vehicle) => {
                let shelf = parts::shelf_for(config, vehicle)?;
                Set { asked: shelf.clone(), offered: shelf }
            }
            None => Set { asked: parts::shelf(config, &config.values)?, offered: Shelf::default() },
        })
    }

    fn talk(self, config: &Config, log: StripLog, folder: StripFolder) -> Result<StripSession, Failure> {
        let (language, manner) = (parts::language(config)?, parts::manner(config)?);
        let mut talk = StripTalk::new(language, manner, log, folder, self.offered).with_values(self.asked.clone());
        talk.set_delivery(parts::delivery(config));
        let known = Known { manner, toolbox: parts::toolbox(config)?, shelf: self.asked };
        Ok(StripSession::new(talk, known))
    }
}

fn converse(
    config: &Config,
    mut talk: StripSession,
    io: session::Io,
    channels: &Channels,
    again: Option<bool>,
) -> Result<(), Failure> {
    let first = match again {
        Some(torn) => talk.resume(torn, now()),
        None => talk.begin(now()),
    };
    let first = first.map_err(Failure::failed)?;
    let in_hand = crate::session::Talker::folder(&talk).to_owned();
    if let Some((offers, begin)) = session::next_jobs(config, &in_hand, &io, channels) {
        talk = talk.with_next(offers, begin);
    }
    session::hold(config, &mut talk, &first, io, channels, &|talk: &StripSession| match talk.conversation() {
        Some(job) => {
            if let Some(book) = talk.book() {
                outln!("\nThe book is written: {}", book.display());
            }
            session::told(config, job)
        }
        None => {
            let path = crate::session::Talker::folder(talk);
            let typed = if channels.typed { " --typed" } else { "" };
            outln!(
                "\nThe strip-down is kept in {}.\nTo go on: wrenchside resume {}{typed}",
                path.display(),
                name(path)
            );
            Ok(())
        }
    })
}

fn name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}
