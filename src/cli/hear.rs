//! `hear` and `say`: the two ends by themselves, for trying.

use super::args::{Hear, Say};
use super::config::Config;
use super::why::{self, Moment};
use super::{Failure, find, parts};
use crate::dialogue::{Sentence, Tone};
use crate::job::{At, Command, Expect, Job};
use crate::journal;
use crate::listen::{RATE, Utterance};
use crate::session::ear::Recording;
use crate::session::{Delivery, Order, Source};
use crate::speak::sink::WavSink;
use crate::speak::{Loudspeaker, Sink};

/// Tells what is understood in recordings, and why what is not is not. Exit code 1 if in one of them nothing is.
pub fn hear(config: &Config, args: &Hear) -> Result<(), Failure> {
    let language = parts::language(config)?;
    let adapters = match (&args.procedure, &args.job) {
        (None, None) => true,
        _ => parts::toolbox(config)?.is_some_and(|own| !own.adapters.is_empty()),
    };
    let asks = language.asks(&parts::shelf(config, &config.values)?);
    let moment = Moment::new(&language, &expected(config, args)?, adapters, &asks);
    let mut listener = parts::listener(config)?;
    listener.know(parts::own_voice(config, &language)?.map(|own| own.known()));
    listener.listen_for(&moment.phrases).map_err(Failure::failed)?;
    listener.also_for(Some(moment.open.clone()));
    let mut nothing = false;
    for path in &args.files {
        let mut recording = Recording::open(path).map_err(Failure::unreadable)?;
        let from = listener.position();
        let mut understood = 0;
        let rule = listener.rule();
        let mut tell = |said: &Utterance| {
            understood += usize::from(said.phrase.is_some());
            let reason = moment.why_not(said, &rule).map(|why| format!(" ({why})")).unwrap_or_default();
            outln!("{}: {}{reason}{}; {}", path.display(), what(said), scores(said), times(said, from));
        };
        while let Some(piece) = recording.read().map_err(Failure::unreadable)? {
            let mut utterance = listener.push(&piece).map_err(Failure::failed)?;
            while let Some(said) = utterance {
                tell(&said);
                utterance = listener.push(&[]).map_err(Failure::failed)?;
            }
        }
        while let Some(said) = listener.finish().map_err(Failure::failed)? {
            tell(&said);
        }
        listener.reset().map_err(Failure::failed)?;
        let lost = why::lost(&listener.lost()).map(|lost| format!("; sound that came to nothing: {lost}"));
        if understood == 0 {
            outln!("{}: nothing understood{}", path.display(), lost.unwrap_or_default());
            nothing = true;
        }
    }
    if nothing { Err(Failure::Shown) } else { Ok(()) }
}

/// What a job awaits at the moment that is to be heard for.
fn expected(config: &Config, args: &Hear) -> Result<Expect, Failure> {
    if let Some(job) = &args.job {
        let path = find::job(config, Some(job))?;
        let looked = journal::look(&path, &mut |_| {}).map_err(Failure::unreadable)?;
        let mut job = looked.job;
        job.apply(Command::Resume, looked.last.unwrap_or(looked.began));
        return Ok(job.expects());
    }
    let Some(path) = &args.procedure else { return Ok(parts::everything()) };
    let mut job = Job::new(parts::procedure(path)?.1);
    let Some(step) = args.step else { return Ok(job.expects()) };
    let steps = job.book().steps.len();
    if step == 0 || step as usize > steps {
        return Err(Failure::Unreadable(format!("{}: it has no step {step}; it has {steps}", path.display())));
    }
    // It is asked back what lies between, and for this it does not matter.
    // Of several variants of the vehicle the first will do: what may be said is much the same.
    let first = job.is_undecided().then_some(Command::Yes);
    for command in [Command::Open].into_iter().chain(first).chain([Command::GoTo(step), Command::Yes]) {
        if command != Command::Yes || job.question().is_some() {
            job.apply(command, At(0));
        }
    }
    Ok(job.expects())
}

/// What was heard.
pub fn what(said: &Utterance) -> String {
    match &said.phrase {
        Some(phrase) => format!("\"{phrase}\""),
        None if said.heard.text.is_empty() => "speech, no words".into(),
        None => format!("not taken: \"{}\"", said.heard.text),
    }
}

/// What the listeners say to it, behind what was heard.
pub fn scores(said: &Utterance) -> String {
    let judged = said.judgement.as_ref().map_or(String::new(), |j| {
        format!(", second listener {:.2} (over noise {:.1}, margin {:.1})", j.average, j.over_noise, j.margin)
    });
    let own = said.own.as_ref().map_or(String::new(), |own| match own.scored.first() {
        Some(near) => format!(", own voice {:.2} from its nearest phrase", near.cost),
        None => ", own voice knows none of these phrases".into(),
    });
    format!(", confidence {:.2}{judged}{own}", said.heard.confidence)
}

fn times(said: &Utterance, from: u64) -> String {
    let seconds = |at: u64| at.saturating_sub(from) as f64 / f64::from(RATE);
    format!(
        "speech {:.2} s to {:.2} s, decided {:.0} ms after it, computed in {:.0} ms",
        seconds(said.began),
        seconds(said.ended),
        (seconds(said.decided) - seconds(said.ended)) * 1000.0,
        said.thinking.as_secs_f64() * 1000.0,
    )
}

/// Speaks a text.
pub fn say(config: &Config, args: &Say) -> Result<(), Failure> {
    let pace = args.pace.or(config.pace).unwrap_or(1.0);
    if !(0.5..=3.0).contains(&pace) {
        return Err(Failure::Unreadable(format!("--pace {pace}: it must be from 0.5 to 3")));
    }
    let spoken = parts::language(config)?.speakable(&args.text);
    let sentence = Sentence { spoken, written: args.text.clone(), signal: None, tone: Tone::Plain };
    let order =
        Order { tone: None, sentences: vec![sentence], delivery: Delivery { pace, gain: 1.0 }, ..Order::default() };
    let mut mouth = parts::mouth(config)?;
    if let Some(path) = &args.out {
        let mut file = WavSink::new(path, 22_050);
        mouth.say(&order, &mut file, &|| true).map_err(Failure::failed)?;
        return file.finish().map_err(Failure::failed);
    }
    let device = args.loudspeaker.as_deref().or(config.loudspeaker.as_deref());
    let mut loudspeaker = Loudspeaker::open(device)
        .map_err(|e| Failure::Failed(format!("{e}. With --out FILE it writes a WAV file instead.")))?;
    mouth.say(&order, &mut loudspeaker, &|| true).map_err(Failure::failed)?;
    while loudspeaker.is_playing() {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    loudspeaker.failure().map_or(Ok(()), |reason| Err(Failure::failed(reason)))
}
