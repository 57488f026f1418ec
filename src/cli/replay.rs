//! `replay`: scenarios played in and compared.

use super::args::Replay;
use super::config::Config;
use super::terminal::Terminal;
use super::{Failure, ledger, parts};
use crate::job::At;
use crate::journal::Folder;
use crate::listen::read_sound;
use crate::own_voice::Profile;
use crate::replay::{Begins, Given, Options, Report, Scenario, run};
use crate::session::learning::take_of;
use crate::session::{self, Ear, LearntVoice, Screen};
use crate::speak::wav::StereoTape;
use std::path::{Path, PathBuf};

const TAPE_RATE: u32 = 22_050;

/// Replays scenarios. Exit code 1 if anything differs.
pub fn replay(config: &Config, args: &Replay) -> Result<(), Failure> {
    if args.tape.is_some() && args.scenarios.len() > 1 {
        return Err(Failure::Unreadable("--tape takes one scenario".into()));
    }
    let scenarios: Vec<(&PathBuf, Scenario)> = args
        .scenarios
        .iter()
        .map(|path| Scenario::load(path).map(|s| (path, s)).map_err(Failure::unreadable))
        .collect::<Result<_, _>>()?;
    let sounding = scenarios.iter().flat_map(|(_, s)| &s.turns).any(|t| matches!(t.given(), Some(Given::Sound(_))));
    let mut ear = if sounding { Some(Ear::new(parts::listener(config)?)) } else { None };
    let mut mouth = if args.silent { None } else { Some(parts::mouth(config)?) };
    let mut tape = args.tape.as_ref().map(|_| StereoTape::new(TAPE_RATE));
    let jobs = Jobs::new(config, args.keep)?;
    let mut reports: Vec<Report> = Vec::new();
    for (path, scenario) in &scenarios {
        let begin = scenario.begins().map(At).ok_or_else(|| {
            Failure::Unreadable(format!("{}: begin must be a date and time with a zone", path.display()))
        })?;
        let read = |path: &PathBuf| parts::procedure(&scenario.folder.join(path));
        let book = scenario.procedure.as_ref().map(read).transpose()?;
        let strip = (scenario.strip.as_deref().unwrap_or_default(), scenario.vehicle.as_deref());
        let begins =
            book.as_ref().map_or(Begins::Strip(strip.0, strip.1), |(whole, book)| Begins::Job(whole.text(), book));
        let mut terminal = Terminal::new();
        let own = own_voice(config, scenario)?;
        if let Some(ear) = &mut ear {
            ear.reset().map_err(Failure::failed)?;
            ear.know(own);
        }
        let options = Options {
            language: parts::language(config)?,
            manner: parts::manner(config)?,
            shelf: parts::shelf(
                config,
                &scenario.values.iter().map(|page| scenario.folder.join(page)).collect::<Vec<_>>(),
            )?,
            jobs: jobs.folder.clone(),
            real_time: args.real_time,
            ear: ear.as_mut(),
            mouth: mouth.as_mut(),
            tape: tape.as_mut(),
            screen: args.show.then_some(&mut terminal as &mut dyn Screen),
            read_sound: &|path| read_sound(path),
        };
        let (report, folder) =
            run(scenario, begin, &begins, options).map_err(|e| Failure::failed(format!("{}: {e}", path.display())))?;
        outln!("{}{}", if args.show { "\n" } else { "" }, report.table());
        if args.show {
            if folder.join("journal.jsonl").exists() {
                let opened = Folder::open(&folder, false).map_err(Failure::failed)?;
                let (language, manner) = (parts::language(config)?, parts::manner(config)?);
                out!("{}", ledger::closing(&opened.job, &language.words(opened.job.book(), &manner)));
            }
            outln!(
                "The job is kept in {}.",
                if args.keep {
                    folder.display().to_string()
                } else {
                    "no place: it was a trial (--keep keeps it)".into()
                }
            );
        }
        reports.push(report);
    }
    if let (Some(path), Some(tape)) = (&args.tape, &tape) {
        tape.write(path).map_err(Failure::failed)?;
        outln!("Both sides of the conversation are in {}.", path.display());
    }
    if let Some(path) = &args.report {
        write_report(path, &reports)?;
    }
    if reports.iter().any(|r| r.failures() > 0) { Err(Failure::Shown) } else { Ok(()) }
}

/// The voice that a scenario has learnt from its recordings.
fn own_voice(config: &Config, scenario: &Scenario) -> Result<Option<LearntVoice>, Failure> {
    if scenario.learn.is_empty() {
        return Ok(None);
    }
    let language = parts::language(config)?;
    let grammar = language.grammar(&parts::everything(), true);
    let mut listener = parts::listener(config)?.keeping();
    listener.listen_for(&session::phrases(&grammar)).map_err(Failure::failed)?;
    let mut profile = Profile::new("scenario", &parts::features(config)?, "", language.tag());
    for (phrase, file) in &scenario.learn {
        let path = scenario.folder.join(file);
        let samples = read_sound(&path).map_err(Failure::unreadable)?;
        let take = take_of(&mut listener, &samples, 0).map_err(Failure::failed)?;
        if !take.is_some_and(|take| profile.learn(phrase, take)) {
            return Err(Failure::Unreadable(format!("{}: no voice is in it that could be learnt", path.display())));
        }
    }
    Ok(Some(LearntVoice::new(profile, parts::own_rule(config), None)))
}

fn write_report(path: &Path, reports: &[Report]) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(reports).map_err(Failure::failed)?;
    super::write(path, (text + "\n").as_bytes(), "the report cannot be written")
}

/// The folder for the jobs of a replay; thrown away with this value unless they are to be kept.
struct Jobs {
    folder: PathBuf,
    _trial: Option<tempfile::TempDir>,
}

impl Jobs {
    fn new(config: &Config, keep: bool) -> Result<Jobs, Failure> {
        if keep {
            return Ok(Jobs { folder: config.jobs_folder()?, _trial: None });
        }
        let trial = tempfile::Builder::new().prefix("wrenchside-replay-").tempdir();
        let trial = trial.map_err(|e| Failure::Failed(format!("no folder for a trial: {e}")))?;
        Ok(Jobs { folder: trial.path().to_owned(), _trial: Some(trial) })
    }
}
