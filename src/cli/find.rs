//! Finding procedures and jobs: listed, by number, by name, by path, by words of their titles, or chosen from a short list.
//!
//! Knows where they are kept. By whole words and nothing else, as values are found: several are told and none of them is taken.

use super::config::Config;
use super::{Failure, ask, ledger, parts};
use crate::dialogue::{Language, Meaning};
use crate::files;
use crate::journal::{self, Kept, Summary};
use crate::procedure::{self, Headline};
use crate::strip::Say;
use crate::values::{Names, letters};
use clap_complete::engine::{ArgValueCompleter, CompletionCandidate, PathCompleter, ValueCompleter};
use std::ffi::OsStr;
use std::path::{Path, PathBuf};

/// So many are told to choose from; more are not kept in mind.
const TOLD: usize = 5;

/// So many are named where one was asked for that is not there.
const NAMED: usize = 10;

/// So many open points of a job stand in the list.
const POINTS: usize = 3;

/// A procedure in a list of procedures.
struct Listed {
    path: PathBuf,
    head: Headline,
}

impl Listed {
    /// What it is called on a command line.
    fn name(&self) -> String {
        self.path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
    }

    fn told(&self) -> String {
        format!("{} ({}, {})", self.name(), self.head.title, self.head.vehicle)
    }
}

/// The procedures in the folders of the settings, each folder in the order of its names. A file that is no procedure, such as a
/// page of values, is passed over.
fn kept(config: &Config) -> Vec<Listed> {
    let mut all: Vec<Listed> = Vec::new();
    for folder in config.procedure_folders() {
        let entries = std::fs::read_dir(&folder).into_iter().flatten().flatten();
        let mut paths: Vec<PathBuf> = entries.map(|entry| entry.path()).collect();
        paths.retain(|path| path.extension().is_some_and(|ending| ending == "toml"));
        paths.sort();
        for path in paths {
            let head = files::text(&path).ok().and_then(|text| procedure::headline(&text));
            if let Some(head) = head.filter(|_| all.iter().all(|other| other.path != path)) {
                all.push(Listed { path, head });
            }
        }
    }
    all
}

/// Lists the procedures.
pub fn procedures(config: &Config) -> Result<(), Failure> {
    let folders = config.procedure_folders();
    // A folder that is named is meant to be there.
    if let (Some(folder), false) = (folders.iter().find(|f| !f.is_dir()), config.procedures.is_empty()) {
        return Err(Failure::Unreadable(format!(
            "{}: there is no such folder; see `procedures` in the settings",
            folder.display()
        )));
    }
    let all = kept(config);
    if all.is_empty() {
        let folders: Vec<String> = folders.iter().map(|f| f.display().to_string()).collect();
        outln!(
            "No procedures in {} yet. `procedures = [\"FOLDER\"]` in the settings names other folders.",
            folders.join(", ")
        );
    }
    for (at, one) in all.iter().enumerate() {
        outln!("{:3}  {}  {}  {}", at + 1, one.head.title, one.head.vehicle, one.name());
    }
    Ok(())
}

/// What a name stands for among things with names and titles.
enum Found {
    One(usize),
    Several(Vec<usize>),
    None,
}

/// Finds by exact name or title, then by words: of the title, or of the name.
fn find<'a>(things: impl Iterator<Item = (&'a str, &'a str)> + Clone, wanted: &str) -> Found {
    let exact = things.clone().enumerate().filter(|(_, (name, title))| *name == wanted || *title == wanted);
    match exact.map(|(at, _)| at).collect::<Vec<_>>()[..] {
        [] => {}
        [one] => return Found::One(one),
        ref several => return Found::Several(several.to_vec()),
    }
    let names = Names::new(things.map(|(name, title)| {
        let (name, title) = (letters(name).join(" "), letters(title).join(" "));
        let both = format!("{title} {name}");
        vec![title, name, both]
    }));
    let asked = letters(wanted);
    let asked: Vec<&str> = asked.iter().map(String::as_str).collect();
    match names.find(&asked)[..] {
        [] => Found::None,
        [one] => Found::One(one),
        ref several => Found::Several(several.to_vec()),
    }
}

/// Which of so many a number names, counted from 1. A number is one of the list, or nothing: words and dates have numbers too.
fn numbered(wanted: &str, of: usize) -> Option<Found> {
    if wanted.is_empty() || !wanted.chars().all(|c| c.is_ascii_digit()) {
        return None;
    }
    Some(match wanted.parse::<usize>() {
        Ok(n) if (1..=of).contains(&n) => Found::One(n - 1),
        _ => Found::None,
    })
}

/// The file of the procedure with this path, number, name, or words of its title.
pub fn procedure(config: &Config, wanted: &str) -> Result<PathBuf, Failure> {
    let path = Path::new(wanted);
    // What looks like a file is one, and is told as one if it is not there.
    if path.is_file() || path.components().count() > 1 || path.extension().is_some_and(|ending| ending == "toml") {
        return Ok(path.to_owned());
    }
    let all = kept(config);
    let list =
        |which: &mut dyn Iterator<Item = &Listed>| which.take(NAMED).map(Listed::told).collect::<Vec<_>>().join(", ");
    let by_words = |told: &[String]| {
        find(told.iter().zip(&all).map(|(name, one)| (name.as_str(), one.head.title.as_str())), wanted)
    };
    let told: Vec<String> = all.iter().map(Listed::name).collect();
    match numbered(wanted, all.len()).unwrap_or_else(|| by_words(&told)) {
        Found::One(at) => Ok(all[at].path.clone()),
        Found::Several(which) => {
            let there = list(&mut which.iter().map(|at| &all[*at]));
            Err(Failure::Unreadable(format!(
                "\"{wanted}\" names several procedures: {there}. Use one of the names, or more of the words"
            )))
        }
        // A folder, a pipe or a device is told as what it is.
        Found::None if path.exists() => Ok(path.to_owned()),
        Found::None if all.is_empty() => Err(Failure::Unreadable(format!(
            "{wanted}: there is no such file, and no folder with procedures; name a file, or folders by `procedures` in the settings"
        ))),
        Found::None => Err(Failure::Unreadable(format!(
            "{wanted}: there is no such file, and no procedure of that name. There are: {}. `wrenchside procedures` lists them",
            list(&mut all.iter())
        ))),
    }
}

/// The procedures in the folders of the settings: their files, and their titles, told apart.
pub fn listed(config: &Config) -> Result<(Vec<PathBuf>, Vec<String>), Failure> {
    let all = kept(config);
    if all.is_empty() {
        return Err(Failure::Unreadable(NO_PROCEDURE.into()));
    }
    let titles = titles(&all);
    Ok((all.into_iter().map(|one| one.path).collect(), titles))
}

/// The titles of jobs, those of the same one told apart by their names.
pub fn told_apart(jobs: &[Summary]) -> Vec<String> {
    let twice = |title: &str| jobs.iter().filter(|other| other.title == title).count() > 1;
    let title = |job: &Summary| match twice(&job.title) {
        true => format!("{} ({})", job.title, job.name),
        false => job.title.clone(),
    };
    jobs.iter().map(title).collect()
}

/// Where there is nothing to choose from.
const NO_PROCEDURE: &str = "name a procedure: `wrenchside start FILE`, or folders by `procedures` in the settings";

fn titles(all: &[Listed]) -> Vec<String> {
    let twice = |title: &str| all.iter().filter(|other| other.head.title == title).count() > 1;
    let title = |one: &Listed| match twice(&one.head.title) {
        true => format!("{} ({}, {})", one.head.title, one.head.vehicle, one.name()),
        false => one.head.title.clone(),
    };
    all.iter().map(title).collect()
}

/// A procedure chosen from a short list, on the terminal.
pub fn chosen(config: &Config) -> Result<PathBuf, Failure> {
    let all = kept(config);
    if all.is_empty() {
        return Err(Failure::Unreadable(NO_PROCEDURE.into()));
    }
    let language = parts::language(config)?;
    let titles = titles(&all);
    let at = choose(&language, language.label("choose_begin"), &titles)?;
    Ok(all[at].path.clone())
}

/// Tells at most five, and takes a number, as a figure or a word, or words of one of the titles. All can be named, told or not.
fn choose(language: &Language, question: &str, titles: &[String]) -> Result<usize, Failure> {
    let heard: Vec<String> = titles.iter().map(|title| language.as_heard(title)).collect();
    outln!("{question}");
    for (at, title) in titles.iter().enumerate().take(TOLD) {
        outln!("  {}  {title}", at + 1);
    }
    if titles.len() > TOLD {
        outln!("  {}", language.label("choose_more"));
    }
    loop {
        let Some(answer) = ask::line() else {
            return Err(Failure::Unreadable("nothing was chosen; name a procedure: `wrenchside start NAME`".into()));
        };
        let words = language.as_heard(&answer);
        if words.is_empty() {
            continue;
        }
        // "Number two", as it is said where it is told by voice.
        if let Some(Meaning::Choose(at)) = language.chosen(&answer, titles.len()) {
            return Ok(at);
        }
        if let Some(at) = (0..titles.len()).find(|at| language.as_heard(&(at + 1).to_string()) == words) {
            return Ok(at);
        }
        match find(heard.iter().map(|title| ("", title.as_str())), &words) {
            Found::One(at) => return Ok(at),
            Found::Several(which) => {
                for at in which.into_iter().take(TOLD) {
                    outln!("  {}  {}", at + 1, titles[at]);
                }
            }
            Found::None => {}
        }
        outln!("{}", language.label("choose_again"));
    }
}

/// The folder of the job with this number, name, path or words of its title, or of the one worked on last.
pub fn job(config: &Config, wanted: Option<&str>) -> Result<PathBuf, Failure> {
    let root = config.jobs_folder()?;
    let exact = journal::find(&root, wanted);
    let (Err(error), Some(wanted)) = (&exact, wanted) else { return exact.map_err(Failure::unreadable) };
    match among(&root, wanted)? {
        Some(Kept::Job(job)) => Ok(job.path),
        Some(Kept::Strip(strip)) => Err(Failure::Unreadable(format!(
            "{}: a strip-down, and no job yet. To go on: wrenchside resume {}",
            strip.title, strip.name
        ))),
        None => Err(Failure::unreadable(error)),
    }
}

/// The folder of the job or the strip-down with this number, name, path or words of its title, or of the one worked on last; and
/// whether it is a job.
pub fn job_or_strip(config: &Config, wanted: Option<&str>) -> Result<(PathBuf, bool), Failure> {
    let root = config.jobs_folder()?;
    if let Some(strip) = journal::find_strip(&root, wanted) {
        return Ok((strip, false));
    }
    match wanted.map(|wanted| strip(config, wanted)).transpose()?.flatten() {
        Some(strip) => Ok((strip, false)),
        None => job(config, wanted).map(|job| (job, true)),
    }
}

/// The strip-down with this number, name or words of its title, if it is one that these name.
pub fn strip(config: &Config, wanted: &str) -> Result<Option<PathBuf>, Failure> {
    // The name or path of a job is that job's, whatever words it has.
    let root = config.jobs_folder()?;
    if journal::find(&root, Some(wanted)).is_ok() {
        return Ok(None);
    }
    Ok(match among(&root, wanted)? {
        Some(Kept::Strip(strip)) => Some(strip.path),
        _ => None,
    })
}

/// The one that a number or words name, of all jobs and strip-downs.
fn among(root: &Path, wanted: &str) -> Result<Option<Kept>, Failure> {
    let all: Vec<Kept> = journal::kept(root).map_err(Failure::unreadable)?.into_iter().rev().collect();
    let by_words = || find(all.iter().map(|kept| (kept.name(), kept.title())), wanted);
    match numbered(wanted, all.len()).unwrap_or_else(by_words) {
        Found::One(at) => Ok(all.into_iter().nth(at)),
        Found::Several(which) => {
            let told = which.iter().take(NAMED).map(|at| {
                let kept = &all[*at];
                let strip = if matches!(kept, Kept::Strip(_)) { "strip-down, " } else { "" };
                let begun = kept.began().map_or_else(String::new, |at| format!(", begun {}", ledger::moment(at)));
                format!("{} ({strip}{}, {}{begun})", at + 1, kept.title(), kept.name())
            });
            let told = told.collect::<Vec<_>>().join(", ");
            Err(Failure::Unreadable(format!(
                "\"{wanted}\" names several jobs: {told}. Use a number, or more of the words"
            )))
        }
        Found::None => Ok(None),
    }
}

/// Lists the jobs.
pub fn jobs(config: &Config) -> Result<(), Failure> {
    let root = config.jobs_folder()?;
    let all = journal::kept(&root).map_err(Failure::unreadable)?;
    if all.is_empty() {
        outln!("No jobs in {} yet.", root.display());
    }
    let (language, manner) = (parts::language(config)?, parts::manner(config)?);
    for (at, kept) in all.iter().enumerate() {
        // Number 1 is the one worked on last, which `resume` takes up by itself.
        outln!("{:3}  {}  {}", all.len() - at, kept.title(), kept.name());
        let begun = kept.began().map_or_else(String::new, |at| format!("begun {}; ", ledger::moment(at)));
        let job = match kept {
            Kept::Job(job) => job,
            Kept::Strip(strip) => {
                let broken = strip.broken.as_ref().map_or_else(String::new, |reason| format!("; {reason}"));
                outln!("     {begun}strip-down, no job yet{broken}");
                if let Some(log) = journal::strip_log(&strip.path) {
                    let asked = log.question().map(Say::Question);
                    let told =
                        language.strip_says(&Vec::from_iter([Say::CameOff].into_iter().chain(asked)), &log, &manner);
                    let told: Vec<&str> = told.iter().map(|sentence| sentence.written.as_str()).collect();
                    outln!("     last told {}. {}", ledger::moment(strip.last), told.join(" "));
                }
                continue;
            }
        };
        let looked = match journal::look(&job.path, &mut |_| {}) {
            Ok(looked) => looked,
            Err(error) => {
                outln!("     {begun}{error}");
                continue;
            }
        };
        let moment = |at| ledger::moment(*looked.put_right.get(&at).unwrap_or(&at));
        let (book, open) = (looked.job.book(), looked.job.open_points(looked.job.position()));
        let (state, open) = match looked.job.closed() {
            Some([]) => ("closed".to_owned(), &[][..]),
            Some(open) => ("closed with something open".to_owned(), open),
            None => (format!("step {} of {}, not closed", looked.job.position() + 1, book.steps.len()), &open[..]),
        };
        let last = looked.last.map_or_else(String::new, |last| format!(", last worked on {}", moment(last)));
        outln!("     {state}; begun {}{last}", moment(looked.began));
        let words = language.words(book, &manner);
        for point in open.iter().take(POINTS) {
            outln!("     open: {}", words.open(point));
        }
        if open.len() > POINTS {
            outln!("     open: {} more", open.len() - POINTS);
        }
        if let Some(broken) = looked.broken {
            outln!("     cannot be followed from line {}: {}", broken.line, broken.why);
        }
    }
    Ok(())
}

/// Behind a job that is closed: what else is unfinished, and how it is taken up.
pub fn next(closed: &Path) {
    let jobs = closed.parent().and_then(|root| journal::list(root).ok()).unwrap_or_default();
    let open = |job: &Summary| journal::look(&job.path, &mut |_| {}).is_ok_and(|looked| looked.job.closed().is_none());
    let others = jobs.iter().rev().filter(|job| job.path != closed).filter(|job| open(job));
    for job in others.take(TOLD) {
        // A number is another job's as soon as one is worked on.
        outln!("Unfinished: {}. To go on: wrenchside resume {}", job.title, job.name);
    }
}

/// What a shell offers for a procedure: the names in the folders of the user's own settings, and files.
pub fn complete_procedures() -> ArgValueCompleter {
    ArgValueCompleter::new(|begun: &OsStr| {
        let names = own().map_or_else(Vec::new, |config| kept(&config));
        let named =
            names.iter().map(|one| CompletionCandidate::new(one.name()).help(Some(one.head.title.clone().into())));
        beginning(begun, named).into_iter().chain(PathCompleter::file().complete(begun)).collect()
    })
}

/// What a shell offers for a job: the names in the user's own folder, and folders.
pub fn complete_jobs() -> ArgValueCompleter {
    ArgValueCompleter::new(|begun: &OsStr| {
        let root = own().and_then(|config| config.jobs_folder().ok());
        let all = root.and_then(|root| journal::kept(&root).ok()).unwrap_or_default();
        let named = all
            .iter()
            .rev()
            .map(|kept| CompletionCandidate::new(kept.name()).help(Some(kept.title().to_owned().into())));
        beginning(begun, named).into_iter().chain(PathCompleter::dir().complete(begun)).collect()
    })
}

fn own() -> Option<Config> {
    Config::load(None).ok()
}

fn beginning(begun: &OsStr, all: impl Iterator<Item = CompletionCandidate>) -> Vec<CompletionCandidate> {
    let begun = begun.to_string_lossy();
    all.filter(|one| one.get_value().to_string_lossy().starts_with(begun.as_ref())).collect()
}
