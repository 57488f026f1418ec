//! `doctor`: is every part there, does it open, and what to do if not.

use super::config::Config;
use super::{Failure, parts};
use crate::assets::Places;
use crate::listen::{Harm, Microphone, Phrase};
use crate::speak::Loudspeaker;
use std::fmt::Display;
use std::time::{Duration, Instant};

/// How long the microphone is listened to for its level.
const LISTEN: Duration = Duration::from_millis(1200);

/// Looks at every part. Exit code 1 if a part that cannot be done without does not work; a missing sound card is told,
/// but leaves typed lines and recordings.
pub fn doctor(config: &Config) -> Result<(), Failure> {
    let mut failed = 0;
    let mut tell = |name: &str, found: Result<String, String>| {
        let (sign, text) = match found {
            Ok(text) => ("ok  ", text),
            Err(text) => {
                failed += 1;
                ("FAIL", text)
            }
        };
        outln!("{sign}  {name:16}  {text}");
    };
    outln!("wrenchside {}", env!("CARGO_PKG_VERSION"));
    tell("settings", config.jobs_folder().map(|p| format!("jobs are kept in {}", p.display())).map_err(text));
    tell(
        "language",
        parts::language(config)
            .map(|l| format!("{}, {} phrases in all", l.tag(), l.grammar(&parts::everything(), true).len()))
            .map_err(text),
    );
    tell("recogniser", recogniser(config));
    match (Places::here().judge(None), config.one_listener) {
        (_, true) => outln!("--    second listener   switched off: vosk decides alone, by its stricter rule"),
        (Err(_), _) => outln!(
            "--    second listener   its model is not there: vosk decides alone, by its stricter rule. scripts/setup fetches it."
        ),
        (Ok(path), _) => {
            let began = Instant::now();
            let found = parts::judge(config).map(|_| format!("{}, opened in {}", path.display(), ms(began)));
            tell("second listener", found.map_err(text));
        }
    }
    let library = Places::here().onnx_runtime(None).map_err(|e| e.to_string());
    tell(
        "ONNX Runtime",
        library.and_then(|p| match crate::onnx::check(&p) {
            Ok(_) => Ok(p.display().to_string()),
            Err(e) => Err(e.to_string()),
        }),
    );
    let began = Instant::now();
    tell("voice", parts::mouth(config).map(|_| format!("{}, opened in {}", voice(config), ms(began))).map_err(text));
    device("microphone", Microphone::open(config.microphone.as_deref()).map(level));
    device("loudspeaker", Loudspeaker::open(config.loudspeaker.as_deref()).map(|l| format!("{}, opens", l.device())));
    if failed > 0 { Err(Failure::Failed(format!("{failed} parts do not work"))) } else { Ok(()) }
}

fn voice(config: &Config) -> String {
    Places::here().voice(config.voice.as_deref()).map(|p| p.display().to_string()).unwrap_or_default()
}

fn recogniser(config: &Config) -> Result<String, String> {
    let began = Instant::now();
    let mut recogniser = parts::recogniser(config).map_err(text)?;
    let opened = ms(began);
    let language = parts::language(config).map_err(text)?;
    let grammar = language.grammar(&parts::everything(), true);
    let phrases: Vec<Phrase> =
        grammar.iter().map(|(text, _)| Phrase { text: text.to_owned(), harm: Harm::None }).collect();
    let unknown = recogniser.unknown_words(&phrases);
    let folder = Places::here().listener(config.model.as_deref()).map_err(|e| e.to_string())?;
    if unknown.is_empty() {
        Ok(format!("vosk with {}, opened in {opened}, knows every word of the language", folder.display()))
    } else {
        let words = unknown.join(", ");
        Err(format!(
            "{}: the model does not know these words of the language: {words}. Use another model or language.",
            folder.display()
        ))
    }
}

/// A sound device: told, but no failure.
fn device(name: &str, found: Result<String, impl Display>) {
    match found {
        Ok(text) => outln!("ok    {name:16}  {text}"),
        Err(error) => outln!("--    {name:16}  {error}. --typed and --wav work without it."),
    }
}

/// Listens for a moment and shows how loud it is.
fn level(mut microphone: Microphone) -> String {
    let began = Instant::now();
    let mut loudest = 0i32;
    let mut samples = 0usize;
    while began.elapsed() < LISTEN {
        std::thread::sleep(Duration::from_millis(30));
        match microphone.read() {
            Ok(piece) => {
                samples += piece.len();
                loudest = piece.iter().map(|&s| i32::from(s).abs()).fold(loudest, i32::max);
            }
            Err(error) => return format!("opens, and then: {error}"),
        }
    }
    let name = microphone.device().to_owned();
    if samples == 0 {
        return format!("{name}, opens, but no sound comes");
    }
    if loudest == 0 {
        return format!("{name}, opens, but is dead silent: is it muted?");
    }
    let db = 20.0 * (f64::from(loudest) / 32_768.0).log10();
    let bars = ((db + 60.0) / 3.0).clamp(0.0, 20.0) as usize;
    format!("{name}, loudest {db:.0} dBFS [{:20}]{}", "#".repeat(bars), if db > -1.0 { ", clipping" } else { "" })
}

fn ms(since: Instant) -> String {
    format!("{:.0} ms", since.elapsed().as_secs_f64() * 1000.0)
}

fn text(failure: Failure) -> String {
    match failure {
        Failure::Failed(text) | Failure::Unreadable(text) => text,
        Failure::Shown => String::new(),
    }
}
