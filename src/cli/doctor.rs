//! `doctor`: is every part there, in which version, does it open, and what to do if not.

use super::config::Config;
use super::{Failure, parts, versions, voices};
use crate::assets::{self, Places};
use crate::listen::{Harm, Microphone, PhoneTree, Phrase, Second};
use crate::procedure::{self, Code};
use crate::session::phrases;
use crate::session::port::Port;
use crate::speak::Loudspeaker;
use crate::values;
use std::fmt::Display;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// How long the microphone is listened to for its level.
const LISTEN: Duration = Duration::from_millis(1200);

/// Looks at every part. Exit code 1 if a part that cannot be done without does not work; a missing sound card is told,
/// but leaves typed lines and recordings.
pub fn doctor(config: &Config) -> Result<(), Failure> {
    let mut failed = 0;
    let mut tell = |name: &str, found: Result<Vec<String>, String>| {
        let (sign, lines) = match found {
            Ok(lines) => ("ok  ", lines),
            Err(text) => {
                failed += 1;
                ("FAIL", vec![text])
            }
        };
        part(sign, name, &lines);
    };
    outln!("wrenchside {}", env!("CARGO_PKG_VERSION"));
    tell("settings", config.jobs_folder().map(|p| vec![format!("jobs are kept in {}", p.display())]).map_err(text));
    tell(
        "language",
        parts::language(config)
            .map(|l| vec![format!("{}, {} phrases in all", l.tag(), l.grammar(&parts::everything(), true).len())])
            .map_err(text),
    );
    tell("recogniser", recogniser(config));
    match parts::second(config, None) {
        Ok(None) if config.one_listener => {
            part("--", "second listener", &["switched off: vosk decides alone, by its stricter rule".into()]);
        }
        Ok(None) => {
            let lines = [
                "its model is not there: vosk decides alone, by its stricter rule".to_owned(),
                assets::FETCH.to_owned(),
            ];
            part("--", "second listener", &lines);
        }
        found => tell("second listener", found.map_err(text).and_then(|second| judge(config, second.as_ref()))),
    }
    match &config.own_voice {
        Some(_) => tell("own voice", own_voice(config)),
        None => part("--", "own voice", &["none is named; wrenchside learn NAME learns yours".to_owned()]),
    }
    for page in &config.values {
        tell("page of values", page_of_values(config, page));
    }
    tell("ONNX Runtime", onnx_runtime());
    tell("voice", voice(config));
    tell("phoneme data", phonemes(config));
    // A language that cannot be read was told above.
    let called = parts::language(config).map_or_else(|_| "tool".to_owned(), |l| l.label("default_tool").to_owned());
    match config.instrument(&called) {
        Some(tool) => match Port::try_out(&tool) {
            Err(error) if error.is_off() => {
                let lines =
                    [error.to_string(), "a session begins without it, and takes it once it is there".to_owned()];
                part("--", "tool", &lines);
            }
            found => {
                let told = format!("{} at {}, opens", tool.name, tool.device.display());
                tell("tool", found.map(|()| vec![told]).map_err(|e| e.to_string()));
            }
        },
        None => part("--", "tool", &["none sends its readings; [tool] in the settings names one".to_owned()]),
    }
    match config.keys().map(|keys| keys.len()) {
        Ok(0) | Err(_) => part("--", "keys", &["none are named; [keys] in the settings names them".to_owned()]),
        Ok(count) => part("ok", "keys", &[format!("{count} named in the settings")]),
    }
    device("microphone", Microphone::open(config.microphone.as_deref()).map(level));
    part("", "", &["to try it with three phrases: wrenchside try-microphone".to_owned()]);
    device("loudspeaker", Loudspeaker::open(config.loudspeaker.as_deref()).map(|l| format!("{}, opens", l.device())));
    if failed > 0 { Err(Failure::Failed(format!("{failed} parts do not work"))) } else { Ok(()) }
}

/// A part: what is said first of it beside its name, the rest below.
fn part(sign: &str, name: &str, lines: &[String]) {
    for (n, line) in lines.iter().enumerate() {
        let (sign, name) = if n == 0 { (sign, name) } else { ("", "") };
        outln!("{sign:4}  {name:16}  {line}");
    }
}

/// Both of its networks, or why only one of them judges.
fn judge(config: &Config, second: Option<&Second>) -> Result<Vec<String>, String> {
    let Some(second) = second else { return Ok(Vec::new()) };
    let began = Instant::now();
    parts::open(second, false).map_err(text)?;
    let opened = ms(began);
    let folder = second.moonshine();
    let version = versions::of_file(&folder.join("encoder_model.ort"))?;
    versions::of_file(&folder.join("decoder_model_merged.ort"))?;
    versions::of_file(&folder.join("tokenizer.bin"))?;
    let moonshine = format!("moonshine tiny-en, {version}");
    match second.phones() {
        Ok(phones) => {
            let language = parts::language(config).map_err(text)?;
            let said = phrases(&language.grammar(&parts::everything(), true));
            let said: Vec<Phrase> = said.into_iter().filter(|phrase| phrase.harm > Harm::Decoy).collect();
            let mut strange: Vec<String> =
                PhoneTree::new(&said, &phones.lexicon).left_out().iter().map(|(_, word)| word.clone()).collect();
            strange.sort_unstable();
            strange.dedup();
            let print = versions::fingerprint(&phones.network);
            let mut lines =
                vec![format!("judges by phones (network {print}), writes by {moonshine}, opened in {opened}")];
            if !strange.is_empty() {
                lines.push(format!(
                    "not known how these words of the language sound, and not judged: {}",
                    strange.join(", ")
                ));
            }
            lines.extend([&phones.network, &phones.words].map(|path| path.display().to_string()));
            lines.push(folder.display().to_string());
            Ok(lines)
        }
        Err(why) => Ok(vec![
            format!("{moonshine}, opened in {opened}, judges by its decoder"),
            format!("not by phones: {why}"),
            folder.display().to_string(),
        ]),
    }
}

/// The learnt voice, and whether it was learnt with the microphone in use.
fn own_voice(config: &Config) -> Result<Vec<String>, String> {
    let language = parts::language(config).map_err(text)?;
    let own = parts::own_voice(config, &language).map_err(text)?.ok_or("none is named")?;
    let mut lines = vec![format!("{}: {}", own.name(), voices::describe(own.profile()))];
    let others = if config.others {
        "others may give commands, too"
    } else {
        "claims that sound nothing like you are asked back; it is no lock against others"
    };
    lines.push(others.to_owned());
    let microphone =
        Microphone::open(config.microphone.as_deref()).ok().map(|microphone| microphone.device().to_owned());
    if let Some(microphone) = microphone.filter(|name| name != own.profile().microphone()) {
        lines.push(format!(
            "the microphone in use is \"{microphone}\": learn it anew with that one if you are heard badly"
        ));
    }
    Ok(lines)
}

/// A page of values, and which of its names cannot be heard.
fn page_of_values(config: &Config, page: &Path) -> Result<Vec<String>, String> {
    let name = page.display().to_string();
    let text = procedure::read_text(page).map_err(|e| e.to_string())?;
    let report = parts::check_values(config, &name, &text).map_err(self::text)?;
    if report.errors() > 0 {
        return Err(format!("{name}: {}; wrenchside check shows them", super::check::errors(report.errors())));
    }
    let count = values::parse(&name, &text).map_or(0, |page| page.entries.len());
    let unheard = report.findings.iter().filter(|finding| finding.code == Code::WordUnheard);
    Ok([format!("{name}, {count} values")]
        .into_iter()
        .chain(unheard.map(|f| format!("{}. {}", f.what, f.right)))
        .collect())
}

fn onnx_runtime() -> Result<Vec<String>, String> {
    let library = Places::here().onnx_runtime(None).map_err(|e| e.to_string())?;
    let version = crate::onnx::check(&library).map_err(|e| e.to_string())?;
    versions::of_file(&library)?;
    Ok(vec![version, library.display().to_string()])
}

fn voice(config: &Config) -> Result<Vec<String>, String> {
    let began = Instant::now();
    parts::mouth(config).map_err(text)?;
    let opened = ms(began);
    let folder = Places::here().voice(config.voice.as_deref()).map_err(|e| e.to_string())?;
    let network = network_of(&folder).ok_or_else(|| format!("{}: it holds no network", folder.display()))?;
    Ok(vec![format!("{}, opened in {opened}", versions::of_file(&network)?), folder.display().to_string()])
}

fn network_of(folder: &Path) -> Option<PathBuf> {
    let files = std::fs::read_dir(folder).ok()?.filter_map(|entry| Some(entry.ok()?.path()));
    files.filter(|path| path.extension().is_some_and(|e| e == "onnx")).min()
}

fn phonemes(config: &Config) -> Result<Vec<String>, String> {
    let folder = Places::here().phonemes(config.phonemes.as_deref()).map_err(|e| e.to_string())?;
    // Opening the voice has compared it with its own list.
    let print = versions::fingerprint(&folder.join("SHA256SUMS"));
    Ok(vec![format!("espeak-ng data, every file as its list has it ({print})"), folder.display().to_string()])
}

fn recogniser(config: &Config) -> Result<Vec<String>, String> {
    let began = Instant::now();
    let mut recogniser = parts::recogniser(config).map_err(text)?;
    let opened = ms(began);
    let language = parts::language(config).map_err(text)?;
    let grammar = language.grammar(&parts::everything(), true);
    let (against, said): (Vec<Phrase>, Vec<Phrase>) =
        phrases(&grammar).into_iter().partition(|phrase| phrase.harm == Harm::Decoy);
    let unknown = recogniser.unknown_words(&said);
    let folder = Places::here().listener(config.model.as_deref()).map_err(|e| e.to_string())?;
    if !unknown.is_empty() {
        let words = unknown.join(", ");
        return Err(format!(
            "{}: the model does not know these words of the language: {words}. Use another model or language.",
            folder.display()
        ));
    }
    let library = versions::loaded("libvosk.so");
    let version = library.as_deref().map_or_else(|| Ok("vosk".to_owned()), versions::of_file)?;
    let network = ["am/final.mdl", "final.mdl"].map(|name| folder.join(name)).into_iter().find(|file| file.is_file());
    let print = network.map(|file| format!(" (network {})", versions::fingerprint(&file))).unwrap_or_default();
    let mut lines = vec![format!("{version}, model opened in {opened}, knows every word of the language")];
    // What stands only against other phrases may be left out, but then talk is more easily taken for one of them.
    let unknown = recogniser.unknown_words(&against);
    if !unknown.is_empty() {
        lines[0] += ", but for words that only keep talk from being taken for commands";
        lines.push(format!("not known, and not listened for: {}", unknown.join(", ")));
    }
    lines.extend(library.map(|path| path.display().to_string()));
    lines.push(format!("{}{print}", folder.display()));
    Ok(lines)
}

/// A sound device: told, but no failure.
fn device(name: &str, found: Result<String, impl Display>) {
    match found {
        Ok(text) => part("ok", name, &[text]),
        Err(error) => part("--", name, &[format!("{error}"), "--typed and --wav work without it".to_owned()]),
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
