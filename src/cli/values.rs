//! `values`: questions for values, answered without a job.

use super::args::Values;
use super::config::Config;
use super::terminal::Terminal;
use super::{Failure, parts};
use crate::session::ear::{LiveSound, Recording};
use crate::session::{Outlet, Question, Source, ValuesTalk, VoiceThread, look_up};

/// Answers until it is told to stop, or the input ends.
pub fn values(config: &Config, args: &Values) -> Result<(), Failure> {
    let shelf = parts::shelf(config, &[&config.values[..], &args.files[..]].concat())?;
    if shelf.is_empty() {
        return Err(Failure::Unreadable("no page of values is named; docs/values.md says how to write one".into()));
    }
    let talk = ValuesTalk::new(parts::language(config)?, parts::manner(config)?, parts::delivery(config), shelf);
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
