//! `learn`, `voices`, `forget`: the voices of the people who use the program.

use super::args::{Forget, Learn};
use super::config::Config;
use super::{Failure, ledger, parts};
use crate::files;
use crate::job::At;
use crate::listen::Utterance;
use crate::own_voice::{Profile, ProfileError};
use crate::printing;
use crate::session::ear::{LiveSound, Recording};
use crate::session::lesson_loop::Desk;
use crate::session::{self, Learning, Outlet, Source, Turn, VoiceThread};
use std::path::PathBuf;

/// What a profile's file is called behind its name.
const ENDING: &str = "voice";
/// The microphone's name where there is none.
const RECORDED: &str = "a recording";

/// Learns a voice, or goes on with it.
pub fn learn(config: &Config, args: &Learn) -> Result<(), Failure> {
    let language = parts::language(config)?;
    if args.list {
        for phrase in language.to_learn() {
            outln!("{phrase}");
        }
        return Ok(());
    }
    printing::apart();
    let path = file(config, &args.name)?;
    let features = parts::features(config)?;
    let (source, microphone): (Box<dyn Source>, String) = match &args.wav {
        Some(wav) => {
            let recording = Recording::open(wav).map_err(Failure::unreadable)?;
            (Box::new(recording), RECORDED.to_owned())
        }
        None => {
            let device = args.microphone.clone().or(config.microphone.clone());
            let sound = LiveSound::open(device).map_err(Failure::failed)?;
            let name = sound.name().unwrap_or_default().to_owned();
            (Box::new(sound), name)
        }
    };
    let listener = parts::listener_for(config, source.is_live())?.keeping();
    let profile = match parts::profile(&path, &features, &language)? {
        Some(profile) => profile,
        None => Profile::new(&args.name, &features, &microphone, language.tag()),
    };
    if profile.microphone() != microphone {
        outln!(
            "This voice was learnt with \"{}\"; what is learnt now comes from \"{microphone}\".",
            profile.microphone()
        );
    }
    let outlet = Outlet::Loudspeaker(args.loudspeaker.clone().or(config.loudspeaker.clone()));
    let mouth = parts::mouth(config)?;
    let voice = match VoiceThread::start(move || Ok(mouth), outlet) {
        Ok(voice) => Some(voice),
        Err(error) if args.wav.is_some() => {
            errln!("wrenchside: {error}. What would be said is printed only.");
            None
        }
        Err(error) => return Err(Failure::failed(error)),
    };
    let grammar = language.grammar(&parts::everything(), true);
    let lesson = Learning::new(language, grammar, profile, usize::from(args.takes));
    let mut desk = Paper { path: path.clone() };
    let ended = session::learn(lesson, listener, source, voice.as_ref(), parts::delivery(config), &mut desk);
    let spoken = voice.map_or(Ok(()), VoiceThread::finish);
    let learnt = ended.map_err(Failure::failed)?;
    spoken.map_err(Failure::failed)?;
    let (done, of) = learnt.progress;
    if learnt.profile.phrases().next().is_none() {
        outln!("\nNothing was learnt, and nothing is kept.");
        return Ok(());
    }
    outln!("\n{} phrases are known of {}, kept in {}.", learnt.profile.phrases().count(), args.name, path.display());
    if done < of {
        outln!("To go on: wrenchside learn {}", args.name);
    }
    outln!(
        "To be heard by it: wrenchside --own-voice {} start PROCEDURE, or own_voice = \"{0}\" in the settings.",
        args.name
    );
    Ok(())
}

/// Lists what was learnt. A profile that cannot be read is told in its place.
pub fn list(config: &Config) -> Result<(), Failure> {
    let folder = config.voices_folder()?;
    let mut paths: Vec<PathBuf> = match std::fs::read_dir(&folder) {
        Ok(entries) => entries.filter_map(|entry| Some(entry.ok()?.path())).collect(),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Vec::new(),
        Err(error) => return Err(Failure::Unreadable(format!("{}: cannot be read: {error}", folder.display()))),
    };
    paths.retain(|path| path.extension().is_some_and(|ending| ending == ENDING));
    paths.sort();
    if paths.is_empty() {
        outln!("No voice was learnt yet. To begin: wrenchside learn NAME");
    }
    for path in paths {
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let used = if config.own_voice.as_deref() == Some(&name) { ", in use" } else { "" };
        let read = files::read(&path, files::DATA).map_err(|e| e.to_string());
        match read.and_then(|bytes| Profile::parse(&bytes).map_err(|e| e.to_string())) {
            Ok(profile) => outln!("{name}  {}{used}", describe(&profile)),
            Err(reason) => outln!("{name}  {reason}"),
        }
    }
    Ok(())
}

/// What there is to tell of a profile.
pub fn describe(profile: &Profile) -> String {
    let takes: usize = profile.phrases().map(|(_, takes)| takes.len()).sum();
    let last = profile.phrases().flat_map(|(_, takes)| takes).map(|take| take.learnt).max();
    let last = last.map(|at| format!(", last on {}", ledger::moment(At(at.saturating_mul(1_000))))).unwrap_or_default();
    format!("{} phrases, {takes} takes{last}, with \"{}\"", profile.phrases().count(), profile.microphone())
}

/// Deletes a profile.
pub fn forget(config: &Config, args: &Forget) -> Result<(), Failure> {
    let path = file(config, &args.name)?;
    if !path.exists() {
        return Err(Failure::Failed(format!("{}: no voice of this name was learnt", path.display())));
    }
    Profile::delete(&path).map_err(Failure::failed)?;
    outln!("Nothing is kept of {} any more.", args.name);
    Ok(())
}

/// Where a profile is kept.
pub fn file(config: &Config, name: &str) -> Result<PathBuf, Failure> {
    Ok(config.voices_folder()?.join(name).with_extension(ENDING))
}

/// Shows a lesson in the terminal, and keeps its takes.
struct Paper {
    path: PathBuf,
}

impl Desk for Paper {
    fn heard(&mut self, said: &Utterance) {
        let heard = said.phrase.as_deref().unwrap_or(&said.heard.text);
        outln!("    (heard: {})", if heard.is_empty() { "no words" } else { heard });
    }

    fn turn(&mut self, turn: &Turn) {
        for sentence in &turn.sentences {
            outln!("  {}", sentence.written);
        }
    }

    fn notice(&mut self, text: &str) {
        errln!("wrenchside: {text}");
    }

    fn keep(&mut self, profile: &Profile) -> Result<(), ProfileError> {
        profile.write(&self.path)
    }
}
