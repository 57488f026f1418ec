//! `try-microphone`: levels and three phrases, and why what was not taken was not.

use super::args::TryMicrophone;
use super::config::Config;
use super::why::{self, Moment};
use super::{Failure, hear, parts};
use crate::dialogue::{Asks, Sentence};
use crate::listen::{Fault, Meter};
use crate::printing;
use crate::session::ear::{LiveSound, Recording};
use crate::session::tryout::{Panel, Tried, TryOut};
use crate::session::{Outlet, Source, VoiceThread};
use std::io::IsTerminal;

/// Phrases that are asked for: one that claims, one that moves, one that does neither.
const PHRASES: usize = 3;
/// A noise that is never quieter than this costs commands, in dB below full scale.
const LOUD: f32 = -40.0;
/// The meter shows from here to full scale, so many decibels a mark.
const FAINTEST: f32 = -60.0;
const MARK: f32 = 3.0;

/// Tries a microphone. Exit code 1 if a phrase was not taken. Ctrl-C ends it, and nothing has to be tidied up.
pub fn try_microphone(config: &Config, args: &TryMicrophone) -> Result<(), Failure> {
    let language = parts::language(config)?;
    let mut source: Box<dyn Source> = match &args.wav {
        Some(wav) => Box::new(Recording::open(wav).map_err(Failure::unreadable)?),
        None => {
            let sound = LiveSound::open(args.microphone.clone().or(config.microphone.clone()));
            Box::new(sound.map_err(Failure::failed)?)
        }
    };
    let moment = Moment::new(&language, &parts::everything(), true, &Asks::default());
    let mut listener = parts::listener_for(config, source.is_live())?;
    listener.know(parts::own_voice(config, &language)?.map(|own| own.known()));
    listener.listen_for(&moment.phrases).map_err(Failure::failed)?;
    listener.also_for(Some(moment.open.clone()));
    let outlet = Outlet::Loudspeaker(args.loudspeaker.clone().or(config.loudspeaker.clone()));
    let voice =
        parts::mouth(config).and_then(|mouth| VoiceThread::start(move || Ok(mouth), outlet).map_err(Failure::failed));
    let voice = voice.inspect_err(|error| match error {
        Failure::Failed(text) | Failure::Unreadable(text) => errln!("wrenchside: {text}. What to say is printed only."),
        Failure::Shown => {}
    });
    let voice = voice.ok();
    if let Some(name) = source.name().map(str::to_owned) {
        outln!("{name}: quiet, please, for {} s", args.seconds);
    }
    if source.is_live() {
        // What came while the parts were loading, before anybody was asked to be quiet.
        source.read().map_err(Failure::failed)?;
    }
    let mut shown = Shown { moment, bar: std::io::stdout().is_terminal() };
    let phrases: Vec<String> = language.to_learn().into_iter().take(PHRASES).collect();
    let delivery = parts::delivery(config);
    let trial = TryOut { language: &language, listener, source, voice: voice.as_ref(), delivery };
    let taken = trial.run(args.seconds.into(), &phrases, &mut shown).map_err(Failure::failed)?;
    outln!("{taken} of {} phrases taken", phrases.len());
    if taken < phrases.len() { Err(Failure::Shown) } else { Ok(()) }
}

struct Shown {
    moment: Moment,
    /// One line that changes, on a terminal.
    bar: bool,
}

impl Panel for Shown {
    fn level(&mut self, meter: &Meter) {
        let (Some(now), Some(all), true) = (meter.now(), meter.levels(), self.bar) else { return };
        let marks = ((now - FAINTEST) / MARK).clamp(0.0, 20.0) as usize;
        out!("\r  [{:20}] {now:4.0} dBFS, loudest {:4.0} ", "#".repeat(marks), all.peak);
        printing::flush();
    }

    fn measured(&mut self, meter: &Meter) {
        if self.bar {
            outln!();
        }
        let Some(levels) = meter.levels() else {
            outln!("  no sound came");
            return;
        };
        outln!("  level {:.0} dBFS, loudest {:.0} dBFS, noise floor {:.0} dBFS", levels.rms, levels.peak, levels.floor);
        if levels.dead {
            outln!("  {}", why::fault(Fault::DeadSilence));
        }
        if levels.clipped {
            outln!("  {}", why::fault(Fault::Clipped));
        }
        if levels.floor > LOUD {
            outln!("  a noise as loud as this costs commands: switch it off, or move away from it");
        }
    }

    fn asks(&mut self, sentence: &Sentence) {
        outln!("{}", sentence.written);
    }

    fn tried(&mut self, tried: &Tried) {
        match &tried.said {
            None => outln!("  nothing heard"),
            Some(said) if tried.taken() => outln!("  taken{}", hear::scores(said)),
            Some(said) => {
                let what = hear::what(said);
                let reason = self.moment.why_not(said, &tried.rule).map(|why| format!(": {why}")).unwrap_or_default();
                outln!("  {what}{reason}{}", hear::scores(said));
            }
        }
        for fault in &tried.faults {
            outln!("  {}", why::fault(*fault));
        }
        if let Some(lost) = why::lost(&tried.lost).filter(|_| tried.said.is_none()) {
            outln!("  sound that came to nothing: {lost}");
        }
    }

    fn notice(&mut self, text: &str) {
        errln!("wrenchside: {text}");
    }
}
