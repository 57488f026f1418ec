//! Arguments, exit codes, and errors for people.
//!
//! Exit codes: 0 it worked; 1 what was asked for failed (a check with findings, a replay that differs, a device or model
//! that does not work); 2 the command line is wrong or a file cannot be read. Errors go to standard error: first the
//! path, then the reason, then the way out.

/// Prints to standard output. A reader that has gone away, as `head` does, ends what is shown and nothing else.
macro_rules! out {
    ($($what:tt)*) => { crate::printing::print(crate::printing::To::Output, format_args!($($what)*)) };
}

/// The same with a line end.
macro_rules! outln {
    () => { out!("\n") };
    ($($what:tt)*) => { out!("{}\n", format_args!($($what)*)) };
}

/// The same for what goes to standard error.
macro_rules! errln {
    ($($what:tt)*) => {
        crate::printing::print(crate::printing::To::Errors, format_args!("{}\n", format_args!($($what)*)))
    };
}

mod args;
mod ask;
mod bench;
mod check;
mod config;
mod doctor;
mod find;
mod hear;
mod ledger;
mod microphone;
mod named;
mod new;
mod parts;
mod record;
mod replay;
mod session;
mod set;
mod strip;
mod terminal;
mod values;
mod versions;
mod voices;
mod why;

use crate::listen::process;
use crate::{files, parting, printing};
use clap::{CommandFactory, Parser};
use std::fmt::Display;
use std::io::Write as _;
use std::path::Path;
use std::process::ExitCode;

/// Why a command ends without success.
enum Failure {
    /// What was asked for failed; exit code 1.
    Failed(String),
    /// The command line is wrong or a file cannot be read; exit code 2.
    Unreadable(String),
    /// The findings were shown already; exit code 1.
    Shown,
}

impl Failure {
    fn failed(error: impl Display) -> Failure {
        Failure::Failed(error.to_string())
    }

    fn unreadable(error: impl Display) -> Failure {
        Failure::Unreadable(error.to_string())
    }

    /// Why, in words.
    fn told(self) -> String {
        match self {
            Failure::Failed(reason) | Failure::Unreadable(reason) => reason,
            Failure::Shown => "its findings stand above".to_owned(),
        }
    }
}

/// Writes a file that the user named.
fn write(path: &Path, bytes: &[u8], otherwise: &str) -> Result<(), Failure> {
    let written = files::write(path, |file| file.write_all(bytes));
    written.map_err(|e| Failure::Failed(format!("{}: {otherwise}: {e}", path.display())))
}

/// Runs the program with the arguments of this process.
pub fn main() -> ExitCode {
    // A shell that completes a command line asks here, and gets its answer.
    clap_complete::CompleteEnv::with_factory(args::Args::command).complete();
    let args = args::Args::parse();
    let filter = tracing_subscriber::EnvFilter::try_from_env("WRENCHSIDE_LOG")
        .unwrap_or_else(|_| tracing_subscriber::EnvFilter::new("error"));
    tracing_subscriber::fmt().with_env_filter(filter).with_writer(|| printing::Errors).init();
    parting::leave(match run(args) {
        Ok(()) => 0,
        Err(Failure::Shown) => 1,
        Err(Failure::Failed(error)) => {
            errln!("wrenchside: {error}");
            1
        }
        Err(Failure::Unreadable(error)) => {
            errln!("wrenchside: {error}");
            2
        }
    })
}

/// What has to be settled while the process has no other thread.
#[allow(unsafe_code)]
fn settle() {
    #[cfg(target_os = "linux")]
    // SAFETY: this is the only thread so far.
    unsafe {
        crate::sound_system::settle();
    }
}

fn run(args: args::Args) -> Result<(), Failure> {
    if let args::Verb::Recogniser { folder } = &args.command {
        return process::serve(folder).map_err(Failure::failed);
    }
    settle();
    let config = config::Config::load(args.config.as_deref())?.with(&args.parts);
    match args.command {
        args::Verb::Start(start) => session::start(&config, &start),
        args::Verb::Strip(strip) => strip::strip(&config, &strip),
        // What is still taken apart is no job yet.
        args::Verb::Resume(resume) if resume.choose => session::resume_one(&config, &resume.channels),
        args::Verb::Resume(resume) => strip::resume(&config, resume.job.as_deref(), &resume.channels, resume.salvage)
            .unwrap_or_else(|| session::resume(&config, &resume)),
        args::Verb::Jobs => find::jobs(&config),
        args::Verb::New(new) => new::new(&config, &new),
        args::Verb::Procedures => find::procedures(&config),
        args::Verb::Values(values) => values::values(&config, &values),
        args::Verb::Set(set) => set::set(&config, &set),
        args::Verb::Layout(layout) => record::layout(&config, &layout),
        args::Verb::Record(record) => record::record(&config, &record),
        args::Verb::Check(check) => check::check(&config, &check),
        args::Verb::Outline(outline) => check::outline(&config, &outline),
        args::Verb::DraftRebuild(draft) => check::draft_rebuild(&draft),
        args::Verb::Replay(replay) => replay::replay(&config, &replay),
        args::Verb::Hear(hear) => hear::hear(&config, &hear),
        args::Verb::BenchHearing(bench) => bench::bench_hearing(&config, &bench),
        args::Verb::Learn(learn) => voices::learn(&config, &learn),
        args::Verb::Voices => voices::list(&config),
        args::Verb::Forget(forget) => voices::forget(&config, &forget),
        args::Verb::Say(say) => hear::say(&config, &say),
        args::Verb::TryMicrophone(trial) => microphone::try_microphone(&config, &trial),
        args::Verb::Doctor => doctor::doctor(&config),
        args::Verb::Recogniser { .. } => Ok(()),
    }
}
