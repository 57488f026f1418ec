//! What the voice says is understood: every sentence with a number or a unit that the program can say in working through
//! the project's procedures is spoken once and heard back by a recogniser that knows all numbers and units and does not
//! know which of them to expect. Needs what `scripts/setup` fetches.

use std::collections::BTreeSet;
use std::fs;
use std::path::PathBuf;
use std::sync::Arc;
use wrenchside::assets::Places;
use wrenchside::dialogue::{Language, Manner, Meaning, commands};
use wrenchside::job::{Ask, At, Command, Job, Question, Reading, Reply, Say};
use wrenchside::listen::{Harm, Hypothesis, Phrase, RATE, Recogniser, VoskRecogniser};
use wrenchside::procedure;
use wrenchside::quantity::TorqueUnit;
use wrenchside::speak::phonemes::Phonemiser;
use wrenchside::speak::sentence::{GAP, whole_sentence};
use wrenchside::speak::{Piper, Voice, clauses::clauses, loudness};
use wrenchside::{onnx, resample};

/// Percent of the clauses that must come back right; the last measurement is in docs/voice.md.
const RIGHT: usize = 95;
/// Numbers that differ in no more than this share of their sounds are confusable. The seven pairs of the language file
/// do; the next pairs, at 0.25 and 0.29, are "eight" and "eighty", "seven" and "seventy".
const NEAR: f64 = 0.2;
/// Words that are not numbers or units by themselves but change one.
const POINT: &str = "point";

fn procedures() -> Vec<PathBuf> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("procedures");
    let mut all: Vec<_> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    all.retain(|p| p.extension().is_some_and(|e| e == "toml"));
    all.sort();
    all
}

/// What somebody says who does as he is told.
fn obedient(job: &Job, last: &Reply) -> Command {
    match job.question() {
        Some(Question::Angle(_)) => return Command::NotBegun,
        Some(_) => return Command::Yes,
        None => {}
    }
    for say in last.says.iter().rev() {
        match say {
            Say::LastStepDone => return Command::Finish,
            Say::AwaitMeasure { .. } | Say::AwaitCounted { .. } => {
                let about = job.expects().reading.unwrap();
                return Command::Reading(Reading { amount: about.amount(), unit: None });
            }
            _ => {}
        }
    }
    Command::Done
}

/// Everything said on the way through the procedures, with every question asked at every halt.
fn sentences(language: &Language) -> BTreeSet<String> {
    let manner = |unit| Manner { unit, ..Manner::default() };
    let manners = [manner(None), manner(Some(TorqueUnit::PoundForceFoot))];
    let in_unit = Meaning::Command(Command::Ask(Ask::InUnit(TorqueUnit::KilogramForceMetre)));
    let said = commands().map(|(_, meaning)| meaning).chain([&in_unit]);
    let asks: Vec<Command> = said
        .filter_map(|meaning| match meaning {
            Meaning::Command(command @ (Command::Ask(_) | Command::WhereAmI | Command::Stuck)) => Some(command.clone()),
            _ => None,
        })
        .collect();
    let mut all = BTreeSet::new();
    for path in procedures() {
        let mut job = Job::new(Arc::new(procedure::load(&path).unwrap()));
        let mut at = At(1_700_000_000_000);
        let mut reply = job.apply(Command::Open, at);
        for _ in 0..5_000 {
            let mut say = |reply: &Reply| {
                for manner in &manners {
                    all.extend(language.render(&reply.says, job.book(), manner).into_iter().map(|s| s.spoken));
                }
            };
            say(&reply);
            for command in &asks {
                say(&job.clone().apply(command.clone(), at));
            }
            if job.closed().is_some() {
                break;
            }
            // No wait is ever too short.
            at = At(at.0 + 3_600_000);
            let command = obedient(&job, &reply);
            reply = job.apply(command, at);
        }
        assert!(job.closed().is_some(), "{}", path.display());
    }
    all
}

fn words(text: &str) -> Vec<String> {
    let words = text.split(|c: char| !(c.is_alphanumeric() || c == '\''));
    words.filter(|w| !w.is_empty()).map(str::to_lowercase).collect()
}

/// What is listened for besides the sentence itself: every number up to 199 and the hundreds, digit by digit too, every
/// unit after them.
fn everything_numeric(language: &Language) -> Vec<String> {
    let numbers: Vec<String> =
        (0..200).chain([200, 250, 300, 400, 500]).map(|n| language.numbers().say_whole(n)).collect();
    let units = [
        "newton metres",
        "kilogram metres",
        "foot pounds",
        "inch pounds",
        "degrees",
        "millimetres",
        "millimetre",
        "grams",
        "kilograms",
        "inches",
        "minutes",
        "minute",
        "flats",
        "flat",
    ];
    let mut phrases: Vec<String> = numbers.iter().map(|n| n.replace('-', " ")).collect();
    phrases.extend(units.map(str::to_owned));
    for tens in 1..10u64 {
        for ones in 0..10u64 {
            phrases.push(format!("{} {}", language.numbers().say_whole(tens), language.numbers().say_whole(ones)));
        }
    }
    phrases.push(POINT.to_owned());
    phrases
}

fn hear(recogniser: &mut VoskRecogniser, samples: &[f32], rate: u32, phrases: &[Phrase]) -> Vec<String> {
    recogniser.listen_for(phrases).unwrap();
    let even = resample::convert(samples, rate, RATE).unwrap();
    // A room is never quite silent.
    let mut state = 1u32;
    let room: Vec<i16> = std::iter::repeat_n(0.0, RATE as usize / 5)
        .chain(even)
        .chain(std::iter::repeat_n(0.0, RATE as usize / 5))
        .map(|s| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (s * 32_767.0) as i16 + (state >> 28) as i16 - 8
        })
        .collect();
    for chunk in room.chunks(1_600) {
        recogniser.accept(chunk).unwrap();
    }
    words(&Hypothesis::of(&recogniser.finish().unwrap()).text)
}

#[test]
fn numbers_and_units_come_back_right() {
    let language = Language::english();
    let places = Places::here();
    onnx::load(&places.onnx_runtime(None).unwrap()).unwrap();
    let piper = Piper::load(&places.voice(None).unwrap(), &places.phonemes(None).unwrap()).unwrap();
    let mut voice = piper;
    let rate = voice.rate();
    let mut recogniser = VoskRecogniser::open(&places.listener(None).unwrap()).unwrap();
    let phrase = |text: &str| Phrase { text: text.to_owned(), harm: Harm::None };
    let mut numeric = everything_numeric(&language);
    // A unit that the recogniser never learnt cannot be heard by it.
    let unknown = recogniser.unknown_words(&numeric.iter().map(|t| phrase(t)).collect::<Vec<_>>());
    println!("not known to the recogniser: {}", unknown.join(", "));
    numeric.retain(|text| !words(text).iter().any(|w| unknown.contains(w)));
    let numeric_words: BTreeSet<String> = numeric.iter().flat_map(|p| words(p)).filter(|w| w != "and").collect();

    let all = sentences(&language);
    // The voice speaks clause by clause, so each of them is spoken once.
    let spoken: BTreeSet<String> = all.iter().flat_map(|s| clauses(s).map(|c| c.to_text())).collect();
    let (mut right, mut count) = (0, 0);
    // Where the recogniser lacks a word it hears others in its place, numbers too: that says nothing about the voice.
    let mut beyond_it = 0;
    let mut wrong = Vec::new();
    let (mut softest, mut loudest) = (f32::MAX, 0.0f32);
    for clause in &spoken {
        let sequence = words(clause);
        let said: Vec<&String> = sequence.iter().filter(|w| numeric_words.contains(*w)).collect();
        if said.is_empty() {
            continue;
        }
        if !sequence.iter().all(|word| recogniser_knows(&mut recogniser, word)) {
            beyond_it += 1;
            continue;
        }
        let samples = whole_sentence(&mut voice, clause, 1.0, GAP).unwrap();
        assert!(samples.iter().all(|s| s.abs() <= 0.98), "{clause}");
        let level = loudness::level(&samples, rate);
        (softest, loudest) = (softest.min(level), loudest.max(level));
        let phrases: Vec<Phrase> =
            with_any_number(&sequence, &numeric, &numeric_words).iter().map(|t| phrase(t)).collect();
        let heard = hear(&mut recogniser, &samples, rate, &phrases);
        let heard: Vec<&String> = heard.iter().filter(|w| numeric_words.contains(*w)).collect();
        count += 1;
        if heard == said {
            right += 1;
        } else {
            let joined = |words: &[&String]| words.iter().map(|w| w.as_str()).collect::<Vec<_>>().join(" ");
            wrong.push(format!("{clause}: said {}, heard {}", joined(&said), joined(&heard)));
        }
    }
    for line in &wrong {
        println!("{line}");
    }
    println!(
        "{} sentences of {} clauses; {right} of {count} clauses with numbers or units heard back right, {beyond_it} hold words that the recogniser lacks; level {softest:.3} to {loudest:.3}",
        all.len(),
        spoken.len(),
    );
    assert!(count > 300, "{count}");
    assert!(right * 100 >= count * RIGHT, "{right} of {count}");
    assert!(loudest / softest < 1.26, "clauses differ by more than 2 dB: {softest} to {loudest}");
}

fn recogniser_knows(recogniser: &mut VoskRecogniser, word: &str) -> bool {
    recogniser.unknown_words(&[Phrase { text: word.to_owned(), harm: Harm::None }]).is_empty()
}

/// The clause with every number and unit in the place of each of its own, so that which one it is has to be heard.
fn with_any_number(clause: &[String], numeric: &[String], numeric_words: &BTreeSet<String>) -> Vec<String> {
    let mut phrases = vec![clause.join(" ")];
    let is_number = |word: &String| numeric_words.contains(word) || word == "and";
    let mut at = 0;
    while at < clause.len() {
        let length = clause[at..].iter().take_while(|w| is_number(w)).count();
        if length == 0 {
            at += 1;
            continue;
        }
        for number in numeric {
            let parts = [clause[..at].join(" "), number.clone(), clause[at + length..].join(" ")];
            phrases.push(parts.into_iter().filter(|p| !p.is_empty()).collect::<Vec<_>>().join(" "));
        }
        at += length;
    }
    phrases
}

/// How unlike two words are: the share of sounds that would have to change.
fn apart(a: &[char], b: &[char]) -> f64 {
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut corner = row[0];
        row[0] = i + 1;
        for (j, y) in b.iter().enumerate() {
            let change = corner + usize::from(x != y);
            corner = row[j + 1];
            row[j + 1] = change.min(corner + 1).min(row[j] + 1);
        }
    }
    row[b.len()] as f64 / a.len().max(b.len()) as f64
}

#[test]
fn the_confusable_pairs_are_the_ones_that_sound_most_alike() {
    let language = Language::english();
    let phonemiser = Phonemiser::new(&Places::here().phonemes(None).unwrap(), "en-us").unwrap();
    // The words that all numbers are made of, in phonemes: stress and length are left out, since they are what gets
    // lost first, and variants of one phoneme count as one ("thirty" has a flap where "thirteen" has a t).
    let parts: Vec<(u64, Vec<char>)> = (1..20)
        .chain((20..100).step_by(10))
        .map(|n| {
            let sounds = phonemiser.phonemes(&language.numbers().say_whole(n)).unwrap();
            let variant_of = |c| match c {
                'ɾ' => 't',
                'ᵻ' | 'ɪ' => 'i',
                'ɐ' => 'ə',
                other => other,
            };
            (n, sounds.chars().filter(|c| !"ˈˌː".contains(*c)).map(variant_of).collect())
        })
        .collect();
    let mut pairs: Vec<(f64, u64, u64)> = Vec::new();
    for (i, (n, a)) in parts.iter().enumerate() {
        pairs.extend(parts[i + 1..].iter().map(|(m, b)| (apart(a, b), *n, *m)));
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (apart, n, m) in &pairs[..12] {
        println!("{n} {m} {apart:.2}");
    }
    for n in 1..100u32 {
        let listed = language.numbers().confusable(n.into());
        let near = pairs.iter().any(|(apart, a, b)| *apart <= NEAR && [*a, *b].contains(&u64::from(n)));
        assert_eq!(listed, near, "{n}");
    }
}
