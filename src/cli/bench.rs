//! `bench-hearing`: a set of recordings played, and counted.

use super::args::BenchHearing;
use super::config::Config;
use super::{Failure, parts};
use crate::assets::Places;
use crate::files;
use crate::hearing::bed::Bed;
use crate::hearing::calibrate::Grid;
use crate::hearing::learnt::Takes;
use crate::hearing::mix::Mixer;
use crate::hearing::moment::{self, Allowed, Moment};
use crate::hearing::play::{self, Played};
use crate::hearing::recorded::Recorded;
use crate::hearing::report::OfPart;
use crate::hearing::set::{self, Clip, Part};
use crate::hearing::tally::{Ears, Who, tally};
use crate::hearing::trial::{self, Meant, Noises, Trial, Way};
use crate::hearing::{calibrate, losses, report};
use crate::listen::{ByPhones, Harm, Lexicon, ListenError, Listener, PhoneTree, RATE, Rule, Second};
use crate::session::denying;
use crate::speak::wav;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::io::{IsTerminal, Write};
use std::path::Path;
use std::sync::Arc;

/// What the listeners made of a set; kept, because listening takes long.
#[derive(Serialize, Deserialize)]
struct Scores {
    /// Share of a core while nobody speaks.
    idle: f64,
    /// The network of phones, with its lexicon, that the second listener judged by, if it did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    phones: Option<String>,
    played: Vec<Played>,
}

/// Measures. Exit code 1 if a listener fails; how well it hears is no failure.
pub fn bench_hearing(config: &Config, args: &BenchHearing) -> Result<(), Failure> {
    let language = parts::language(config)?;
    let asks = language.asks(&parts::shelf(config, &config.values)?);
    let mut moments = moment::all(&language, &asks);
    let mut clips = set::read(&args.set).map_err(Failure::unreadable)?;
    let takes = args.takes.as_deref().map(Takes::read).transpose().map_err(Failure::unreadable)?;
    if let Some(takes) = &takes {
        clips.retain(|clip| !takes.has(&clip.path));
        let words = moment::words(&language, &takes.texts());
        moments
            .iter_mut()
            .filter(|(moment, _)| *moment == Moment::Words)
            .for_each(|(_, allowed)| *allowed = words.clone());
    }
    let recorded = args.noise.as_deref().map(Recorded::read).transpose().map_err(Failure::unreadable)?;
    let noises = Noises { all: args.all_noises, recorded: recorded.as_ref(), for_all: args.noise_for_all };
    let plan = trial::plan(&clips, &moments, &noises);
    if !plan.unknown.is_empty() {
        errln!("not in the language any more, left out: {}", plan.unknown.join(", "));
    }
    let wanted = |trial: &Trial| {
        let named = |only: &String| {
            trial.part.name() == only || trial.voice == *only || trial.person.as_ref().is_some_and(|from| from == only)
        };
        // Nobody is asked to hear commands by who was not learnt; their talk, like a radio's, is heard beside a profile too.
        let nothing = matches!(trial.meant, Meant::Nothing(_));
        let learnt = takes.as_ref().is_none_or(|takes| nothing || takes.voices().any(|voice| voice == trial.voice));
        learnt && args.only.as_ref().is_none_or(named) && trial::chosen(trial, &clips, args.every)
    };
    let trials: Vec<Trial> = plan.trials.into_iter().filter(wanted).collect();
    if trials.is_empty() {
        return Err(Failure::Unreadable(format!("{}: nothing in it is chosen", args.set.display())));
    }
    if let Some(folder) = &args.sounds {
        return lay_out(folder, &clips, &moments, &trials, recorded.as_ref());
    }
    let second = parts::second(config, args.phones.as_deref())?;
    let phones = second.as_ref().and_then(|second| second.phones().ok());
    if let (Some(phones), Some(_)) = (phones, &args.phones) {
        can_be_said(phones, &moments)?;
    }
    let by = phones.map(ByPhones::name).transpose().map_err(Failure::unreadable)?;
    let scores = match &args.scores {
        Some(path) if path.exists() => read(path, by.as_deref())?,
        path => {
            let mixer = Mixer::new(&clips, &trials, recorded.as_ref()).map_err(Failure::unreadable)?;
            let heard = listen(config, args, second.as_ref(), (&clips, takes.as_ref()), &mixer, &moments, &trials)?;
            let scores = Scores { phones: by, ..heard };
            if let Some(path) = path {
                write(path, &scores)?;
            }
            scores
        }
    };
    let (mut rule, grid) = match phones {
        Some(phones) => (Rule::by_phones().sounding(Some(phones.lexicon.clone())), Grid::PHONES),
        None => (Rule::by_decoder(), Grid::DECODER),
    };
    if args.calibrate {
        if phones.is_none() {
            rule = rule.sounding(sounds(config)?.map(Arc::new));
        }
        if !scores.played.iter().any(|one| one.trial.part == Part::Tune) {
            return Err(Failure::Unreadable("nothing that may be tuned on was played".into()));
        }
        rule = calibrate::calibrate(&scores.played, Part::Tune, &moments, grid, &rule);
        outln!(
            "The rule that does best on the people and voices tuned on; all counts are by it.\n\n{}",
            calibrate::written(&rule)
        );
    }
    let played = &scores.played;
    let mut parts: Vec<OfPart> = Vec::new();
    for part in Part::ALL.into_iter().filter(|part| played.iter().any(|one| one.trial.part == *part)) {
        let ears = Ears::ALL.into_iter().chain(takes.is_some().then_some(Ears::Own));
        let count = |who| ears.clone().map(|ears| (ears, tally(played, (part, who), &moments, ears, &rule))).collect();
        let there = |who: &Who| played.iter().any(|one| one.trial.part == part && Who::of(&one.trial) == *who);
        let tallies = Who::ALL.into_iter().filter(there).map(|who| (who, count(who))).collect();
        parts.push(OfPart { part, tallies, losses: losses::losses(played, part, &moments, &rule) });
    }
    for OfPart { part, tallies, losses } in &parts {
        for (who, tallies) in tallies {
            outln!("{}", report::tables(*part, *who, tallies));
            if let (Part::HeldOut, Who::Voices, Some((_, both))) =
                (part, who, tallies.iter().find(|(ears, _)| *ears == Ears::Both))
            {
                outln!("{}", report::goals(both, scores.idle));
            }
        }
        outln!("{}", losses::table(losses));
    }
    match &args.report {
        Some(path) => write(path, &report::report(scores.idle, &parts)),
        None => Ok(()),
    }
}

/// Writes the commands as they are played, for another recogniser: `list.tsv` names them, and each moment's grammar lies
/// beside it in JSGF, the decoys left out.
fn lay_out(
    folder: &Path,
    clips: &[Clip],
    moments: &[(Moment, Allowed)],
    trials: &[Trial],
    recorded: Option<&Recorded>,
) -> Result<(), Failure> {
    let failed = |path: &Path, e: &dyn std::fmt::Display| Failure::Failed(format!("{}: {e}", path.display()));
    std::fs::create_dir_all(folder).map_err(|e| failed(folder, &e))?;
    for (moment, allowed) in moments {
        let said = allowed.phrases.iter().filter(|phrase| phrase.harm != Harm::Decoy);
        let phrases: Vec<&str> = said.map(|phrase| phrase.text.as_str()).collect();
        let grammar = format!("#JSGF V1.0;\ngrammar moment;\npublic <phrase> = {};\n", phrases.join(" | "));
        let path = folder.join(format!("{}.jsgf", slug(*moment)));
        super::write(&path, grammar.as_bytes(), "it cannot be written")?;
    }
    let mixer = Mixer::new(clips, trials, recorded).map_err(Failure::unreadable)?;
    let mut list = String::from("file\tmoment\tpart\tvoice\tlevel\tnoise\ttext\n");
    for (number, trial) in trials.iter().enumerate() {
        let (Meant::Phrase(text), Way::Plain) = (&trial.meant, &trial.way) else { continue };
        let name = format!("{number:06}.wav");
        let path = folder.join(&name);
        let sound = mixer.sound(trial).map_err(Failure::unreadable)?;
        let sound = wav::bytes(RATE, &sound.samples).map_err(|e| failed(&path, &e))?;
        super::write(&path, &sound, "it cannot be written")?;
        let level = trial.level.map_or("clean".into(), |db| db.to_string());
        let noise = trial.noise.as_ref().map_or("", Bed::name);
        let part = trial.part.name();
        list += &format!("{name}\t{}\t{part}\t{}\t{level}\t{noise}\t{text}\n", slug(trial.moment), trial.voice);
    }
    let path = folder.join("list.tsv");
    super::write(&path, list.as_bytes(), "it cannot be written")?;
    outln!("The commands are in {}.", folder.display());
    Ok(())
}

fn slug(moment: Moment) -> String {
    moment.name().replace(", ", "-").replace(' ', "-")
}

fn listen(
    config: &Config,
    args: &BenchHearing,
    second: Option<&Second>,
    (clips, takes): (&[Clip], Option<&Takes>),
    mixer: &Mixer,
    moments: &[(Moment, Allowed)],
    trials: &[Trial],
) -> Result<Scores, Failure> {
    // The recogniser in this process, so that its computing is counted too; it hears the very same behind the wall.
    let denying = denying(&parts::language(config)?);
    let listener = || {
        let judge = second.map(|second| parts::open(second, args.phones.is_some())).transpose()?;
        let listener = Listener::new(Box::new(parts::recogniser(config)?), judge);
        Ok(listener.heeding(denying.clone()))
    };
    let mut listeners: Vec<Listener> = (0..args.threads.max(1)).map(|_| listener()).collect::<Result<_, Failure>>()?;
    let idle = match listeners.first_mut() {
        Some(listener) => play::idle(moments, listener).map_err(Failure::failed)?,
        None => 0.0,
    };
    let mut known = BTreeMap::new();
    if let (Some(takes), Some(second)) = (takes, second) {
        let mut judge = parts::open(second, args.phones.is_some())?;
        known = takes.learn(judge.as_mut(), &mut |told| errln!("{told}")).map_err(Failure::failed)?;
    }
    let own = |trial: &Trial| {
        let voice = trial.voice.as_str();
        if !args.strangers
            && let Some(own) = known.get(voice)
        {
            return Some(own.clone());
        }
        // Another one of the same part: the next in the order of the alphabet, for what nobody learnt says each in turn.
        let part = |name: &str| clips.iter().find(|clip| clip.voice == name).map(|clip| clip.part);
        let others: Vec<_> =
            known.iter().filter(|(name, _)| part(name) == Some(trial.part) && *name != voice).collect();
        let turn = match known.contains_key(voice) {
            true => others.iter().position(|(name, _)| name.as_str() > voice).unwrap_or(0),
            false => trial.clips.first().copied().unwrap_or(0) + trial.number,
        };
        others.get(turn % others.len().max(1)).map(|(_, own)| Arc::clone(own))
    };
    let shown = std::io::stderr().is_terminal();
    let told = |done: usize| {
        // On a terminal one line that changes, elsewhere one for each tenth.
        if shown {
            // It is only progress.
            let mut shown = std::io::stderr();
            let _ = write!(shown, "\r{done} of {} played", trials.len()).and_then(|()| shown.flush());
        } else if (done * 10 / trials.len()) > ((done.saturating_sub(1)) * 10 / trials.len()) {
            errln!("{done} of {} played", trials.len());
        }
    };
    let played = play::play(trials, moments, mixer, listeners, &own, &told).map_err(Failure::failed)?;
    if shown {
        errln!("");
    }
    Ok(Scores { idle, phones: None, played })
}

/// How words sound, by the lexicon of the listening model, if it has one.
fn sounds(config: &Config) -> Result<Option<Lexicon>, Failure> {
    let path = Places::here().listener(config.model.as_deref()).map_err(Failure::failed)?.join("lexicon.txt");
    path.exists().then(|| Lexicon::read(&path)).transpose().map_err(Failure::unreadable)
}

/// Phones that are named for counting them must have a pronunciation for all that may be said: what has none is not judged, and
/// what would be counted then is the first listener alone.
fn can_be_said(phones: &ByPhones, moments: &[(Moment, Allowed)]) -> Result<(), Failure> {
    for (_, allowed) in moments {
        let tree = PhoneTree::new(&allowed.phrases, &phones.lexicon);
        let strange = tree.left_out().iter().find(|(at, _)| allowed.phrases[*at].harm > Harm::Decoy);
        if let Some((at, word)) = strange {
            let told = ListenError::UnknownWord { phrase: allowed.phrases[*at].text.clone(), word: word.clone() };
            return Err(Failure::Unreadable(format!("{}: {told}", phones.words.display())));
        }
    }
    Ok(())
}

/// Scores that were kept, if the second listener judged by these phones, or by none.
fn read(path: &Path, phones: Option<&str>) -> Result<Scores, Failure> {
    // Counts of every phrase of a large set, so not held to the size of a text.
    let bytes = files::read(path, files::DATA).map_err(|e| Failure::Unreadable(format!("{}: {e}", path.display())))?;
    let scores: Scores = serde_json::from_slice(&bytes).map_err(|e| {
        Failure::Unreadable(format!("{}: these are no scores ({e}); remove the file to measure anew", path.display()))
    })?;
    if scores.phones.as_deref() != phones {
        let by = |phones: Option<&str>| phones.map_or("none".into(), |name| format!("those of {name}"));
        return Err(Failure::Unreadable(format!(
            "{}: these are the scores of another second listener: the phones that it judged by are {}, and now they are {}; \
             name the same folder with --phones as then, or another file",
            path.display(),
            by(scores.phones.as_deref()),
            by(phones)
        )));
    }
    Ok(scores)
}

fn write(path: &Path, what: &impl Serialize) -> Result<(), Failure> {
    let text = serde_json::to_string(what).map_err(Failure::failed)?;
    super::write(path, (text + "\n").as_bytes(), "it cannot be written")
}
