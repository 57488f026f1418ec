//! `hear` and `say`: the two ends by themselves, for trying.

use super::args::{Hear, Say};
use super::config::Config;
use super::{Failure, parts};
use crate::dialogue::{Sentence, Tone};
use crate::job::Job;
use crate::listen::{RATE, Utterance};
use crate::session::ear::Recording;
use crate::session::{Delivery, Order, Source, phrases, readings};
use crate::speak::sink::WavSink;
use crate::speak::{Loudspeaker, Sink};

/// Tells what is understood in recordings. Exit code 1 if in one of them nothing is.
pub fn hear(config: &Config, args: &Hear) -> Result<(), Failure> {
    let language = parts::language(config)?;
    let expect = match &args.procedure {
        Some(path) => Job::new(parts::procedure(path)?.1).expects(),
        None => parts::everything(),
    };
    let grammar = language.grammar(&expect, true);
    let phrases = phrases(&grammar);
    let mut listener = parts::listener(config)?;
    listener.know(parts::own_voice(config, &language)?.map(|own| own.known()));
    listener.listen_for(&phrases).map_err(Failure::failed)?;
    listener.also_for(Some(readings(grammar)));
    let mut nothing = false;
    for path in &args.files {
        let mut recording = Recording::open(path).map_err(Failure::unreadable)?;
        let from = listener.position();
        let mut understood = 0;
        while let Some(piece) = recording.read().map_err(Failure::unreadable)? {
            let mut utterance = listener.push(&piece).map_err(Failure::failed)?;
            while let Some(said) = utterance {
                understood += usize::from(said.phrase.is_some());
                outln!("{}: {}", path.display(), describe(&said, from));
                utterance = listener.push(&[]).map_err(Failure::failed)?;
            }
        }
        while let Some(said) = listener.finish().map_err(Failure::failed)? {
            understood += usize::from(said.phrase.is_some());
            outln!("{}: {}", path.display(), describe(&said, from));
        }
        listener.reset().map_err(Failure::failed)?;
        if understood == 0 {
            outln!("{}: nothing understood", path.display());
            nothing = true;
        }
    }
    if nothing { Err(Failure::Shown) } else { Ok(()) }
}

fn describe(said: &Utterance, from: u64) -> String {
    let seconds = |at: u64| at.saturating_sub(from) as f64 / f64::from(RATE);
    let what = match &said.phrase {
        Some(phrase) => format!("\"{phrase}\""),
        None if said.heard.text.is_empty() => "speech, no words".into(),
        None => format!("not taken: \"{}\"", said.heard.text),
    };
    let judged = said.judgement.as_ref().map_or(String::new(), |j| {
        format!(", second listener {:.2} (over noise {:.1}, margin {:.1})", j.average, j.over_noise, j.margin)
    });
    let own = said.own.as_ref().map_or(String::new(), |own| match own.scored.first() {
        Some(near) => format!(", own voice {:.2} from its nearest phrase", near.cost),
        None => ", own voice knows none of these phrases".into(),
    });
    format!(
        "{what}, confidence {:.2}{judged}{own}; speech {:.2} s to {:.2} s, decided {:.0} ms after it, computed in {:.0} ms",
        said.heard.confidence,
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
    let order = Order { tone: None, sentences: vec![sentence], delivery: Delivery { pace, gain: 1.0 } };
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
