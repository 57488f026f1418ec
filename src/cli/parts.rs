//! Puts the parts together that settings and command line name: language, listeners, voice.

use super::Failure;
use super::config::Config;
use crate::assets::Places;
use crate::dialogue::{LONGEST_NAMES, Language, Manner};
use crate::files;
use crate::job::Expect;
use crate::listen::{
    Judge, JudgeThread, Listener, Moonshine, OwnRule, RecogniserProcess, Second, VoskRecogniser, vocabulary,
};
use crate::onnx;
use crate::own_voice::{Profile, Wanted};
use crate::procedure::{self, Code, LoadError, Procedure, Report, Whole};
use crate::quantity::{Quantity, TorqueUnit, Unit};
use crate::session::{Delivery, Ear, LearntVoice, Mouth, denying};
use crate::speak::{Piper, SpeakError};
use crate::toolbox::Toolbox;
use crate::values::{self, Ears, Page, Shelf};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// The language named, or English.
pub fn language(config: &Config) -> Result<Language, Failure> {
    let Some(path) = &config.language else { return Ok(Language::english()) };
    let text = files::text(path)
        .map_err(|e| Failure::Unreadable(format!("{}: the language file cannot be read: {e}", path.display())))?;
    Language::from_toml(&path.display().to_string(), &text).map_err(Failure::unreadable)
}

/// The user's tools, if they have written them down.
pub fn toolbox(config: &Config) -> Result<Option<Toolbox>, Failure> {
    let Some(path) = config.toolbox_file() else { return Ok(None) };
    let text = files::text(&path)
        .map_err(|e| Failure::Unreadable(format!("{}: the toolbox cannot be read: {e}", path.display())))?;
    Toolbox::parse(&path.display().to_string(), &text).map(Some).map_err(Failure::unreadable)
}

/// What is wrong with a page of values, names that the recogniser does not know among it.
pub fn check_values(config: &Config, name: &str, text: &str) -> Result<Report, Failure> {
    let language = language(config)?;
    let words = Places::here().listener(config.model.as_deref()).ok().and_then(|folder| vocabulary(&folder));
    let ears = Ears {
        as_heard: &|name| language.as_heard(name),
        // A model that does not list its words, or none, is no reason to find fault with them.
        knows: &|word| words.as_ref().is_none_or(|words| words.contains(word)),
    };
    Ok(values::check(name, text, Some(&ears)))
}

/// Pages of values, as one list. Whatever must be put right in one of them is shown, and is an error; names that can only
/// be typed are told.
pub fn shelf(config: &Config, files: &[PathBuf]) -> Result<Shelf, Failure> {
    together(config, pages(config, files)?)
}

/// The pages for a job on this vehicle. Another vehicle's is refused where it was named for this job, and left out where the
/// settings name it for every job.
pub fn shelf_for(config: &Config, vehicle: &str) -> Result<Shelf, Failure> {
    let words = |text: &str| {
        let words = text.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty());
        words.map(str::to_lowercase).collect::<Vec<_>>()
    };
    let of_settings = config.values.len().saturating_sub(config.values_named);
    let mut kept = Vec::new();
    for (at, (name, page)) in pages(config, &config.values)?.into_iter().enumerate() {
        if words(&page.vehicle) == words(vehicle) {
            kept.push((name, page));
            continue;
        }
        let what = format!("{name}: its values are for \"{}\", and the job is on \"{vehicle}\"", page.vehicle);
        if at >= of_settings {
            return Err(Failure::Unreadable(format!(
                "{what}. Leave it out, or write the vehicle as the procedure does if it is the same"
            )));
        }
        errln!("wrenchside: {what}; left out");
    }
    together(config, kept)
}

fn pages(config: &Config, files: &[PathBuf]) -> Result<Vec<(String, Page)>, Failure> {
    let mut pages = Vec::new();
    for path in files {
        let name = path.display().to_string();
        let text = procedure::read_text(path).map_err(Failure::unreadable)?;
        let report = check_values(config, &name, &text)?;
        let page = values::parse(&name, &text).ok().filter(|_| report.errors() == 0);
        let Some(page) = page else {
            super::check::show(&report);
            return Err(Failure::Unreadable(format!(
                "{name}: {}; a page of values has to be free of them",
                super::check::errors(report.errors())
            )));
        };
        let unheard = report.findings.into_iter().filter(|finding| finding.code == Code::WordUnheard).collect();
        let unheard = Report::new(&name, &text, unheard);
        if !unheard.findings.is_empty() {
            errln!("{unheard}");
        }
        pages.push((name, page));
    }
    Ok(pages)
}

fn together(config: &Config, pages: Vec<(String, Page)>) -> Result<Shelf, Failure> {
    let language = language(config)?;
    let shelf = Shelf::heard(pages, &|name| language.as_heard(name)).map_err(Failure::unreadable)?;
    if shelf.len() > LONGEST_NAMES {
        errln!(
            "wrenchside: {} names are more than can be listened for ({LONGEST_NAMES}); they can be typed",
            shelf.len()
        );
    }
    Ok(shelf)
}

/// How values are said.
pub fn manner(config: &Config) -> Result<Manner, Failure> {
    Ok(Manner { unit: config.unit().map_err(Failure::Unreadable)?, ..Manner::default() })
}

/// A procedure with its text.
pub fn procedure(path: &Path) -> Result<(Whole, Arc<Procedure>), Failure> {
    let read = procedure::open(path).and_then(|whole| match whole.procedure() {
        Ok(book) => Ok((whole, Arc::new(book))),
        Err(report) => Err(LoadError::Rejected(report)),
    });
    read.map_err(|error| {
        if let LoadError::Rejected(report) = &error {
            super::check::show(report);
        }
        Failure::unreadable(error)
    })
}

/// How much must be put right in a procedure before a job may go by it. Where something must, it is shown, and without
/// `unchecked` it is an error.
pub fn mistakes(whole: &Whole, unchecked: bool) -> Result<usize, Failure> {
    let report = whole.check();
    let errors = report.errors();
    if errors > 0 {
        super::check::show(&report);
    }
    match (errors, unchecked) {
        (0, _) | (_, true) => Ok(errors),
        _ => Err(Failure::Unreadable(format!(
            "{}: {}, so no job is started. Fix what is shown, or start anyway with --unchecked; the job's record will \
             say so.",
            whole.name(),
            super::check::errors(errors)
        ))),
    }
}

/// The recogniser, alone and in this process.
pub fn recogniser(config: &Config) -> Result<VoskRecogniser, Failure> {
    let folder = Places::here().listener(config.model.as_deref()).map_err(refused(config.model.is_some()))?;
    VoskRecogniser::open(&folder).map_err(refused(config.model.is_some()))
}

/// Which second listener there is, if it is wanted: the one by the phones in a folder that is named, else the one in use. Whoever
/// names a folder wants nothing less.
pub fn second(config: &Config, phones: Option<&Path>) -> Result<Option<Second>, Failure> {
    let places = Places::here();
    match (phones, config.one_listener) {
        (Some(_), true) => Err(Failure::Failed("--phones needs the second listener, which is switched off".into())),
        (Some(folder), false) => {
            let moonshine = places.judge(None).map_err(Failure::failed)?;
            Second::by_phones(moonshine, folder).map(Some).map_err(Failure::unreadable)
        }
        (None, true) => Ok(None),
        (None, false) => Ok(Second::find(&places, config.model.as_deref())),
    }
}

/// Loads one, whole; `named` tells whether the user named what it judges by.
pub fn open(second: &Second, named: bool) -> Result<Box<dyn Judge + Send>, Failure> {
    load_onnx()?;
    second.open().map_err(refused(named))
}

/// The second listener, if its model is there and it is wanted. Without it the first works alone, by a stricter rule.
fn judge(config: &Config) -> Result<Option<Box<dyn Judge + Send>>, Failure> {
    second(config, None)?.map(|second| open(&second, false)).transpose()
}

/// The same, loaded behind: of what is wrong with it, this tells what can be seen at once.
fn judge_behind(config: &Config) -> Result<Option<Box<dyn Judge + Send>>, Failure> {
    let Some(second) = second(config, None)? else { return Ok(None) };
    load_onnx()?;
    second.look().map_err(Failure::failed)?;
    Ok(Some(Box::new(JudgeThread::load(move || second.open()).map_err(Failure::failed)?)))
}

/// Both listeners, with voice activity and endpointing. The recogniser runs in a process of its own: this program once
/// more.
pub fn listener(config: &Config) -> Result<Listener, Failure> {
    let listener = Listener::new(Box::new(first_listener(config)?), judge(config)?);
    Ok(listener.heeding(denying(&language(config)?)))
}

/// The listener for a microphone or for a recording. Who speaks is not kept waiting: the second listener is loaded behind,
/// and given up where it hangs. A recording waits for both as long as they take, so that what is heard in it never depends on
/// how busy the machine is.
pub fn listener_for(config: &Config, live: bool) -> Result<Listener, Failure> {
    if live { listener_at_once(config) } else { listener(config) }
}

/// Both listeners, as soon as the first of them is there.
pub fn listener_at_once(config: &Config) -> Result<Listener, Failure> {
    let listener = Listener::new(Box::new(first_listener(config)?), judge_behind(config)?);
    Ok(listener.heeding(denying(&language(config)?)))
}

/// The learnt voice that is listened with, if one is named; it must be there.
pub fn own_voice(config: &Config, language: &Language) -> Result<Option<LearntVoice>, Failure> {
    let Some(name) = &config.own_voice else { return Ok(None) };
    let path = super::voices::file(config, name)?;
    let Some(profile) = profile(&path, &features(config)?, language)? else {
        return Err(Failure::Unreadable(format!(
            "{}: no voice of this name was learnt; wrenchside learn {name} learns it",
            path.display()
        )));
    };
    Ok(Some(LearntVoice::new(profile, own_rule(config), Some(path))))
}

/// What the word of a learnt voice counts for.
pub fn own_rule(config: &Config) -> OwnRule {
    OwnRule { others: config.others, ..OwnRule::IN_USE }
}

/// A listener that is told what may be said, with the learnt voice if one is named.
pub fn ear(config: &Config, listener: Listener) -> Result<Ear, Failure> {
    let own = own_voice(config, &language(config)?)?;
    let mut ear = Ear::new(listener);
    ear.know(own);
    Ok(ear)
}

/// The name of what the second listener's encoder gives: a learnt voice belongs to it.
pub fn features(config: &Config) -> Result<String, Failure> {
    let folder = Places::here().judge(None).map_err(Failure::failed)?;
    if config.one_listener {
        return Err(Failure::Failed("a learnt voice needs the second listener, which is switched off".into()));
    }
    Moonshine::features(&folder).map_err(Failure::failed)
}

/// A learnt voice, if there is a file of it; it must fit the encoder and the language.
pub fn profile(path: &Path, features: &str, language: &Language) -> Result<Option<Profile>, Failure> {
    if !path.exists() {
        return Ok(None);
    }
    let wanted = Wanted { features, language: language.tag() };
    Profile::read(path, wanted).map(Some).map_err(Failure::unreadable)
}

/// A part that does not open. One that the user named is a file that cannot be read.
fn refused<E: std::fmt::Display>(named: bool) -> impl Fn(E) -> Failure {
    move |error| if named { Failure::unreadable(error) } else { Failure::failed(error) }
}

fn first_listener(config: &Config) -> Result<RecogniserProcess, Failure> {
    let program =
        std::env::current_exe().map_err(|e| Failure::Failed(format!("the program's own file cannot be found: {e}")))?;
    let folder = Places::here().listener(config.model.as_deref()).map_err(refused(config.model.is_some()))?;
    RecogniserProcess::start(&program, &folder).map_err(refused(config.model.is_some()))
}

/// The voice.
pub fn mouth(config: &Config) -> Result<Mouth, Failure> {
    mouth_later(config)?().map_err(refused(config.voice.is_some()))
}

/// How the voice is loaded, for whoever has something better to do meanwhile. What can be seen at once to be wrong with it
/// is told here.
pub fn mouth_later(
    config: &Config,
) -> Result<impl FnOnce() -> Result<Mouth, SpeakError> + Send + 'static + use<>, Failure> {
    let places = Places::here();
    let folder = places.voice(config.voice.as_deref()).map_err(refused(config.voice.is_some()))?;
    let phonemes = places.phonemes(config.phonemes.as_deref()).map_err(refused(config.phonemes.is_some()))?;
    load_onnx()?;
    let voice = Piper::find(&folder, &phonemes, config.reads.as_deref())
        .map_err(refused(config.voice.is_some() || config.phonemes.is_some()))?;
    let (tones, pause) = (!config.no_tones, config.pause);
    Ok(move || {
        let mut mouth = Mouth::new(Box::new(voice.load()?), &folder.display().to_string(), tones);
        if let Some(pause) = pause {
            mouth.set_pause(Duration::from_millis(pause));
        }
        Ok(mouth)
    })
}

/// How the voice speaks until it is told otherwise.
pub fn delivery(config: &Config) -> Delivery {
    let own = Delivery::default();
    Delivery { pace: config.pace.unwrap_or(own.pace), ..own }
}

fn load_onnx() -> Result<(), Failure> {
    let library = Places::here().onnx_runtime(None).map_err(Failure::failed)?;
    onnx::load(&library).map_err(Failure::failed)
}

/// Everything that may be said in any state of a job of up to 99 steps, for looking at the language as a whole.
pub fn everything() -> Expect {
    let reading = Quantity::new(100.into(), Unit::Torque(TorqueUnit::NewtonMetre));
    Expect {
        steps: 99,
        yes_no: true,
        angle: true,
        reading: Some(reading),
        rest: true,
        fastener: true,
        ..Expect::default()
    }
}
