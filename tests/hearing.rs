//! What the program hears, measured on the recordings in `audio-fixtures/`: through the listener as it is in use, with
//! vosk and its English model, and with the second listener.
//!
//! The voices are synthetic and some were in the model's training, so the figures say whether hearing has become worse,
//! not how well people are heard.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

use wrenchside::assets::Places;
use wrenchside::dialogue::Language;
use wrenchside::hearing::moment::Moment;
use wrenchside::job::Expect;
use wrenchside::listen::{
    Harm, Hypothesis, Judge, ListenError, Listener, Phrase, RATE, Recogniser, Rule, Second, Utterance, VoskRecogniser,
    read_sound,
};
use wrenchside::onnx;
use wrenchside::quantity::{Quantity, TorqueUnit, Unit};
use wrenchside::session::denying;

/// Talk that is near to commands.
const DECOYS: [&str; 36] = [
    "next door",
    "next time",
    "next week",
    "go on then",
    "go away",
    "back up",
    "go home",
    "where were you",
    "what time",
    "what now",
    "which way",
    "how many people",
    "no idea",
    "done that",
    "go back home",
    "this one",
    "that one",
    "all right",
    "hold on",
    "hold it",
    "wait a minute",
    "come on",
    "pass me that",
    "stop it",
    "start again",
    "be careful",
    "turn it on",
    "take it out",
    "yesterday",
    "not now",
    "not really",
    "nothing",
    "reading a book",
    "in a minute",
    "steps",
    "thank you",
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("audio-fixtures")
}

/// What a phrase can do, as the session has it.
fn harm(text: &str) -> Harm {
    let language = Language::english();
    let reading = Some(Quantity::new(70.into(), Unit::Torque(TorqueUnit::NewtonMetre)));
    let awaited = Expect {
        steps: 40,
        yes_no: true,
        no_claims: false,
        angle: true,
        reading,
        rest: false,
        book: None,
        fastener: true,
        places: Vec::new(),
    };
    let meaning = language.understand_typed(text, &awaited).unwrap_or_else(|not| panic!("{not}"));
    wrenchside::session::harm(Some(&meaning))
}

fn phrase(text: &str) -> Phrase {
    Phrase { text: text.into(), harm: harm(text) }
}

#[derive(Clone)]
struct Recording {
    file: String,
    text: String,
}

impl Recording {
    fn sound(&self) -> Vec<i16> {
        read_sound(&root().join(&self.file)).unwrap()
    }
}

fn recordings(folder: &str) -> Vec<Recording> {
    let manifest = fs::read_to_string(root().join("manifest.tsv")).unwrap();
    let rows = manifest.lines().skip(1).map(|line| line.split('\t').collect::<Vec<_>>());
    let found: Vec<_> = rows
        .filter(|row| row[0].split('/').next() == Some(folder))
        .map(|row| Recording { file: row[0].into(), text: row[1].into() })
        .collect();
    assert!(!found.is_empty(), "no recordings in {folder}");
    found
}

/// One recording of `text`.
fn recording(folder: &str, voice: &str, text: &str) -> Vec<i16> {
    read_sound(&root().join(format!("{folder}/{voice}-{}.flac", text.replace(' ', "-")))).unwrap()
}

/// Every command that there is a recording of, and the decoys.
fn all_phrases() -> Vec<Phrase> {
    let texts: BTreeSet<String> = recordings("clean").into_iter().map(|recording| recording.text).collect();
    let decoys = DECOYS.iter().map(|text| Phrase { text: (*text).into(), harm: Harm::Decoy });
    texts.iter().map(|text| phrase(text)).chain(decoys).collect()
}

fn vosk() -> VoskRecogniser {
    VoskRecogniser::open(&Places::here().listener(None).unwrap()).unwrap()
}

fn second() -> Box<dyn Judge + Send> {
    let places = Places::here();
    onnx::load(&places.onnx_runtime(None).unwrap()).unwrap();
    Second::find(&places, None).unwrap().open().unwrap()
}

fn listener(phrases: &[Phrase], judge: Option<Box<dyn Judge + Send>>) -> Listener {
    let mut listener = Listener::new(Box::new(vosk()), judge).heeding(denying(&Language::english()));
    listener.listen_for(phrases).unwrap();
    listener
}

/// Plays a sound in pieces, as a microphone would bring it, and the end of the sound with it.
fn play(listener: &mut Listener, sound: &[i16], piece: usize) -> Vec<Utterance> {
    let mut heard = Vec::new();
    for piece in sound.chunks(piece) {
        let mut utterance = listener.push(piece).unwrap();
        while let Some(said) = utterance {
            heard.push(said);
            utterance = listener.push(&[]).unwrap();
        }
    }
    while let Some(said) = listener.finish().unwrap() {
        heard.push(said);
    }
    heard
}

const PIECE: usize = RATE as usize / 10;

/// What came of one set of recordings under one rule.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
struct Count {
    of: usize,
    /// Exactly the command that was said, once.
    right: usize,
    /// Recordings in which a command was accepted that was not said: harmless ones, moves, claims.
    wrong: [usize; 3],
    /// Recordings that were not taken for what they are, and asked about rightly.
    asked: usize,
    /// Recordings in which something was asked about that was not said.
    asked_wrong: usize,
}

/// Plays a set to two listeners at a time; counts for vosk alone and for both listeners.
fn measure(folder: &str) -> [Count; 2] {
    let phrases = all_phrases();
    let recordings = recordings(folder);
    let next = AtomicUsize::new(0);
    let counts = Mutex::new([Count { of: recordings.len(), ..Count::default() }; 2]);
    thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                let mut listener = listener(&phrases, Some(second()));
                let alone = Rule::by_decoder();
                while let Some(recording) = recordings.get(next.fetch_add(1, Ordering::Relaxed)) {
                    listener.reset().unwrap();
                    let heard = play(&mut listener, &recording.sound(), PIECE);
                    let mut counts = counts.lock().unwrap();
                    for (count, judged) in counts.iter_mut().zip([false, true]) {
                        // With both it is what the listener makes of it; alone, what the rule would.
                        let named = |text: &Option<String>| phrases.iter().position(|p| Some(&p.text) == text.as_ref());
                        let believed = |said: &Utterance| match judged {
                            true => named(&said.phrase),
                            false => alone.decide(&phrases, &said.heard, None),
                        };
                        let accepted: Vec<&Phrase> =
                            heard.iter().filter_map(&believed).map(|at| &phrases[at]).collect();
                        if accepted.len() == 1 && accepted[0].text == recording.text {
                            count.right += 1;
                        }
                        let asked = heard.iter().filter_map(|said| match (believed(said), judged) {
                            (Some(_), _) => None,
                            (None, true) => named(&said.nearly),
                            (None, false) => alone.nearly(&phrases, &said.heard, None),
                        });
                        for at in asked {
                            let rightly = phrases[at].text == recording.text;
                            *if rightly { &mut count.asked } else { &mut count.asked_wrong } += 1;
                        }
                        for mistaken in accepted.iter().filter(|p| judged && p.text != recording.text) {
                            println!("{}: {:?}, by {heard:?}", recording.file, mistaken.text);
                        }
                        for (class, wrong) in [Harm::None, Harm::Moves, Harm::Claims].iter().zip(&mut count.wrong) {
                            *wrong +=
                                usize::from(accepted.iter().any(|p| p.harm == *class && p.text != recording.text));
                        }
                    }
                }
            });
        }
    });
    let counts = *counts.lock().unwrap();
    for (count, rule) in counts.iter().zip(["vosk alone", "both"]) {
        println!(
            "{folder:8} {rule:10} {:3} of {:3} right; wrong: harmless {}, moves {}, claims {}; asked back: {} rightly, {} wrongly",
            count.right, count.of, count.wrong[0], count.wrong[1], count.wrong[2], count.asked, count.asked_wrong
        );
    }
    counts
}

/// Fails if less is right, or more is wrong, than this. Measured with the rule and the recordings as they are: of vosk
/// alone and of both 280 and 281 of 286 clean, 68 and 69 of 72 at 20 dB, 62 and 69 of 72 at 10 dB. Wrong is one, at each: "stop
/// listening" by one voice is "start listening" to both listeners. No session hears both at once: that is the only
/// thing to say where nobody listens, and means nothing elsewhere. Of 40 sentences of talk none is taken for a command. A few are
/// let go, because another processor's rounding may turn them; a claim never is.
fn hold(folder: &str, right: [usize; 2], wrong: [[usize; 3]; 2]) {
    for ((count, right), wrong) in measure(folder).iter().zip(right).zip(wrong) {
        assert!(count.right >= right, "{folder}: {} right, {right} expected", count.right);
        for (found, allowed) in count.wrong.iter().zip(wrong) {
            assert!(*found <= allowed, "{folder}: wrong {:?}, at most {wrong:?} expected", count.wrong);
        }
    }
}

#[test]
fn clean_commands_are_heard() {
    hold("clean", [276, 278], [[0; 3], [1, 0, 0]]);
}

#[test]
fn commands_at_20_db_are_heard() {
    hold("noise20", [65, 66], [[1, 0, 0]; 2]);
}

#[test]
fn commands_at_10_db_are_heard_or_left() {
    hold("noise10", [58, 66], [[1, 1, 0]; 2]);
}

#[test]
fn talk_is_left_alone() {
    hold("chatter", [0, 0], [[1, 0, 0]; 2]);
}

#[test]
fn machines_are_left_alone() {
    hold("noise", [0, 0], [[0; 3]; 2]);
}

/// What denies, doubts, asks for or comes close to a claim is never taken for it, by one listener or by both, at any moment where
/// it could be; at most it is answered by what is still to do.
#[test]
fn denials_claim_nothing() {
    let recordings = recordings("denied");
    let mut taken = Vec::new();
    for at in [Moment::Tightening, Moment::Turning, Moment::Interrupted, Moment::Question, Moment::Measuring] {
        let allowed = at.allowed(&Language::english());
        let mut listener = listener(&allowed.phrases, Some(second()));
        for recording in &recordings {
            listener.reset().unwrap();
            for said in play(&mut listener, &recording.sound(), PIECE) {
                let alone = Rule::by_decoder()
                    .decide(&allowed.phrases, &said.heard, None)
                    .map(|at| allowed.phrases[at].text.clone());
                for phrase in [said.phrase.clone(), alone].into_iter().flatten() {
                    if !allowed.is_not_done(&phrase) {
                        taken.push(format!(
                            "{}, {}: \"{}\" for \"{phrase}\"",
                            at.name(),
                            recording.file,
                            recording.text
                        ));
                    }
                }
            }
        }
    }
    assert!(recordings.len() >= 24 && taken.is_empty(), "{taken:#?}");
}

/// Talk as from a radio, 15 dB below the commands, from a second before each to two after it.
#[test]
fn commands_beside_a_radio_are_heard() {
    let phrases = all_phrases();
    let talk: Vec<i16> = recordings("chatter").iter().flat_map(Recording::sound).filter(|s| s.abs() > 30).collect();
    let power = |sound: &[i16]| sound.iter().map(|&s| f64::from(s).powi(2)).sum::<f64>() / sound.len() as f64;
    let commands: Vec<Recording> = recordings("clean").into_iter().step_by(11).collect();
    let (before, after) = (RATE as usize, 2 * RATE as usize);
    let mut listener = listener(&phrases, Some(second()));
    let (mut right, mut wrong) = (0, Vec::new());
    for (number, command) in commands.iter().enumerate() {
        let spoken = command.sound();
        let sound = [vec![0; before], spoken.clone(), vec![0; after]].concat();
        let voiced: Vec<i16> = spoken.into_iter().filter(|s| s.abs() > 100).collect();
        let scale = (power(&voiced) / power(&talk) / 10f64.powf(1.5)).sqrt();
        let radio = talk.iter().cycle().skip(number * 31_337);
        let sound: Vec<i16> =
            sound.iter().zip(radio).map(|(s, r)| (f64::from(*s) + scale * f64::from(*r)) as i16).collect();
        listener.reset().unwrap();
        let heard = play(&mut listener, &sound, PIECE);
        let accepted: Vec<&str> = heard.iter().filter_map(|said| said.phrase.as_deref()).collect();
        match accepted[..] {
            [] => {}
            [one] if one == command.text => right += 1,
            _ => wrong.push((command.text.clone(), accepted.iter().map(|text| (*text).to_owned()).collect::<Vec<_>>())),
        }
    }
    println!("beside a radio: {right} of {} right, wrong {wrong:?}", commands.len());
    assert!(right >= 14 && wrong.is_empty(), "{right} of {} right, wrong {wrong:?}", commands.len());
}

#[test]
fn words_lie_where_they_were_said() {
    let mut vosk = vosk();
    vosk.listen_for(&["next step", "go back", "go to step two"].map(phrase)).unwrap();
    let sound = recording("clean", "us", "go to step two");
    let mut said = Vec::new();
    // Each utterance counts from its own beginning, though vosk counts on.
    for _ in 0..3 {
        vosk.accept(&sound).unwrap();
        said.push(vosk.finish().unwrap());
    }
    for words in &said {
        let texts: Vec<&str> = words.iter().map(|word| word.text.as_str()).collect();
        assert_eq!(texts, ["go to step", "two"]);
        // 300 ms before the words and 800 ms after them.
        let (first, last) = (&words[0], &words[1]);
        let ms = |samples: usize| samples * 1_000 / RATE as usize;
        assert!(ms(first.began) < 450 && first.ended <= last.began, "{words:?}");
        assert!(ms(last.ended).abs_diff(ms(sound.len()) - 800) < 250, "{words:?} of {}", sound.len());
        for (word, same) in words.iter().zip(&said[0]) {
            assert!(ms(word.began).abs_diff(ms(same.began)) <= 60, "{said:?}");
        }
    }
}

#[test]
fn phrases_that_would_end_the_process_are_refused() {
    let mut vosk = vosk();
    // Not all of these are commands.
    let phrase = |text: &str| Phrase { text: text.into(), harm: Harm::None };
    assert!(matches!(vosk.listen_for(&[]), Err(ListenError::NoPhrases)));
    assert!(matches!(vosk.accept(&[0; 160]), Err(ListenError::NoPhrases)));
    assert!(matches!(vosk.finish(), Err(ListenError::NoPhrases)));
    for bad in ["say \"next\"", "next\\", "", "Next step", "next  step"] {
        assert!(matches!(vosk.listen_for(&[phrase(bad)]), Err(ListenError::BadPhrase { .. })), "{bad:?}");
    }
    let told = vosk.listen_for(&[phrase("next step"), phrase("next frobnicator")]).unwrap_err().to_string();
    assert!(told.contains("next frobnicator") && told.contains("\"frobnicator\""), "{told}");
    let phrases = ["next frobnicator", "go back", "wibble frobnicator"].map(phrase);
    assert_eq!(vosk.unknown_words(&phrases), ["frobnicator", "wibble"]);
    // It is still of use.
    vosk.listen_for(&[phrase("next step"), phrase("go back")]).unwrap();
    vosk.accept(&recording("clean", "us", "next step")).unwrap();
    assert_eq!(Hypothesis::of(&vosk.finish().unwrap()).text, "next step");
}

#[test]
fn a_damaged_model_is_refused_by_name() {
    let whole = Places::here().listener(None).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let mut todo = vec![PathBuf::new()];
    while let Some(part) = todo.pop() {
        fs::create_dir_all(folder.path().join(&part)).unwrap();
        for entry in fs::read_dir(whole.join(&part)).unwrap() {
            let entry = entry.unwrap();
            let name = part.join(entry.file_name());
            if entry.file_type().unwrap().is_dir() {
                todo.push(name);
            } else {
                fs::copy(entry.path(), folder.path().join(&name)).unwrap();
            }
        }
    }
    VoskRecogniser::open(folder.path()).unwrap();
    let network = folder.path().join("am/final.mdl");
    let bytes = fs::read(&network).unwrap();
    fs::write(&network, &bytes[..bytes.len() / 2]).unwrap();
    let told = VoskRecogniser::open(folder.path()).err().unwrap().to_string();
    assert!(told.starts_with(&network.display().to_string()) && told.contains("cut short"), "{told}");
}

#[test]
fn a_number_that_could_go_on_is_waited_for() {
    let phrases =
        ["go to step two", "go to step twelve", "go to step twenty", "go to step twenty one", "go back"].map(phrase);
    let mut listener = listener(&phrases, None);
    let mut waits = [Vec::new(), Vec::new()];
    for (text, voices) in [
        ("go to step two", &["us", "rp", "slt", "f3", "rms"][..]),
        ("go to step twelve", &["us", "rp", "slt", "f3", "rms", "joe"]),
        ("go to step twenty", &["us", "rp", "slt", "f3", "rms", "joe"]),
        ("go to step twenty one", &["slt", "joe"]),
    ] {
        for voice in voices {
            let heard = play(&mut listener, &recording("clean", voice, text), PIECE);
            let texts: Vec<_> = heard.iter().map(|said| said.heard.text.as_str()).collect();
            listener.reset().unwrap();
            // Cut short, one phrase would come out as another. That a word is missed is for other tests to count.
            assert!(
                heard.len() == 1 && !phrases.iter().any(|p| p.text == texts[0] && p.text != text),
                "{voice}: {texts:?}"
            );
            if texts == [text] {
                waits[usize::from(text == "go to step twenty")].push(heard[0].decided - heard[0].ended);
            }
        }
    }
    assert!(waits[0].len() + waits[1].len() >= 13 && !waits[1].is_empty(), "{waits:?}");
    let (shortest_open, all) = (*waits[1].iter().min().unwrap(), &mut waits[0]);
    all.sort_unstable();
    let median = all[all.len() / 2];
    assert!(shortest_open > median, "{shortest_open} {median}");
    // In samples: a whole phrase is over after a third of a second, as a rule.
    assert!(median < u64::from(RATE) * 33 / 100, "{median}");
}

#[test]
fn pieces_of_any_length_give_the_same_utterances() {
    let phrases = all_phrases();
    let mut sound = Vec::new();
    for text in ["next step", "what size", "go to step twenty", "reading ninety two", "yes please"] {
        sound.extend(recording("clean", "us", text));
        sound.extend(recording("clean", "slt", text));
    }
    sound.extend(recordings("chatter")[0].sound());
    let plays: Vec<Vec<Utterance>> = [160, 1_600, 16_000, 333, sound.len()]
        .iter()
        .map(|&piece| {
            let mut heard = play(&mut listener(&phrases, None), &sound, piece);
            heard.iter_mut().for_each(|said| said.thinking = Default::default());
            heard
        })
        .collect();
    assert!(plays[0].len() >= 10, "{:?}", plays[0]);
    for other in &plays[1..] {
        assert_eq!(&plays[0], other);
    }
}

#[test]
fn positions_are_those_of_the_words() {
    let mut listener = listener(&all_phrases(), None);
    let quiet = vec![0; 2 * RATE as usize];
    assert!(play(&mut listener, &quiet, PIECE).is_empty());
    let start = listener.position();
    let sound = recording("clean", "us", "what size");
    let heard = play(&mut listener, &sound, PIECE);
    assert_eq!(heard.len(), 1);
    let ms = |at: u64| at.saturating_sub(start) * 1000 / u64::from(RATE);
    let words_end = (sound.len() as u64 * 1000) / u64::from(RATE) - 800;
    // The recordings have 300 ms before the words and 800 ms after them.
    assert!((200..450).contains(&ms(heard[0].began)), "{}", ms(heard[0].began));
    assert!(ms(heard[0].ended).abs_diff(words_end) < 150, "{} {words_end}", ms(heard[0].ended));
    // "socket" could follow, and by itself vosk does not name a joined word before it knows that it does not go on.
    assert!(heard[0].decided > heard[0].ended && ms(heard[0].decided) < words_end + 800, "{}", ms(heard[0].decided));
}

#[test]
fn a_change_of_phrases_loses_nothing() {
    let mut listener = listener(&["carry on", "go back"].map(phrase), None);
    let sound = recording("clean", "us", "what size");
    let middle = sound.len() / 2;
    assert_eq!(listener.push(&sound[..middle]).unwrap(), None);
    assert!(listener.speaking());
    listener.listen_for(&["carry on", "what size", "how long"].map(phrase)).unwrap();
    let heard = play(&mut listener, &sound[middle..], PIECE);
    assert_eq!(heard.iter().map(|said| said.phrase.as_deref()).collect::<Vec<_>>(), [Some("what size")]);
}

#[test]
fn what_was_not_meant_is_forgotten() {
    let mut listener = listener(&["carry on", "what size"].map(phrase), None);
    let sound = recording("clean", "us", "what size");
    let (first, rest) = sound.split_at(sound.len() / 2);
    assert_eq!(listener.push(first).unwrap(), None);
    listener.reset().unwrap();
    assert!(!listener.speaking());
    assert_eq!(listener.position(), first.len() as u64);
    assert!(play(&mut listener, &vec![0; rest.len()], PIECE).is_empty());
}

#[test]
fn what_was_forgotten_leaves_no_trace() {
    let phrases = ["carry on", "what size"].map(phrase);
    let sound = recording("clean", "us", "what size");
    let told = |listener: &mut Listener| -> Vec<_> {
        let from = listener.position();
        let heard = play(listener, &sound, PIECE);
        heard.into_iter().map(|u| (u.phrase, u.heard, u.judgement, u.began - from, u.decided - from)).collect()
    };
    let mut used = listener(&phrases, Some(second()));
    // Broken off at places that are no multiple of a frame, in the middle of words and at their end.
    for part in [3, 2, 1] {
        let other = recording("clean", "joe", "carry on");
        used.push(&other[..other.len() / part - 7]).unwrap();
        used.reset().unwrap();
        assert_eq!(told(&mut used), told(&mut listener(&phrases, Some(second()))));
        used.reset().unwrap();
    }
}

#[test]
fn sound_without_end_does_not_hang() {
    let mut listener = listener(&all_phrases(), None);
    let babble: Vec<i16> =
        recordings("noise").into_iter().filter(|r| r.file.contains("babble")).flat_map(|r| r.sound()).collect();
    let long: Vec<i16> = babble.iter().copied().cycle().take(40 * RATE as usize).collect();
    let heard = play(&mut listener, &long, PIECE);
    assert!(heard.len() >= 3, "{heard:?}");
    for said in &heard {
        assert!(said.decided - said.began <= 11 * u64::from(RATE), "{said:?}");
        assert!(said.thinking.as_secs() < 2, "{said:?}");
    }
    // A second of quiet, and it listens as before.
    let mut after = vec![0; RATE as usize];
    after.extend(recording("clean", "us", "next step"));
    let heard = play(&mut listener, &after, PIECE);
    assert_eq!(heard.last().and_then(|said| said.phrase.as_deref()), Some("next step"), "{heard:?}");
}

#[test]
fn knocks_are_no_utterances() {
    let mut listener = listener(&all_phrases(), None);
    // Blows of 15 ms, one every second, at nearly full level.
    let mut sound = vec![0i16; 6 * RATE as usize];
    for blow in 0..6 {
        for n in 0..240 {
            let at = blow * RATE as usize + 4_000 + n;
            sound[at] = (30_000.0 * (-(n as f32) / 60.0).exp() * (n as f32 * 1.1).sin()) as i16;
        }
    }
    assert!(play(&mut listener, &sound, PIECE).is_empty());
}

/// A phrase that was changed in the language file and not in the model's graph is still heard, but comes apart: see
/// `models/training/README.md`, "Adding words".
#[test]
fn the_model_has_the_pieces_of_all_phrases_as_single_words() {
    let words = fs::read_to_string("models/listener-en/graph/words.txt").unwrap();
    let words: BTreeSet<&str> = words.lines().filter_map(|line| line.split(' ').next()).collect();
    let language: toml::Table = include_str!("../src/dialogue/languages/en.toml").parse().unwrap();
    let patterns = language["phrases"].as_table().unwrap().values().flat_map(|patterns| patterns.as_array().unwrap());
    let mut pieces = 0;
    // What asks for a thing by its name is put together from words, as the name is, which no model can have beforehand.
    for pattern in patterns.map(|pattern| pattern.as_str().unwrap()).filter(|pattern| !pattern.contains("{name}")) {
        // What stands between the slots.
        for piece in pattern.split(['{', '}']).step_by(2).map(str::trim).filter(|piece| piece.contains(' ')) {
            let joined = piece.replace(' ', "_");
            assert!(
                words.contains(&joined[..]) && words.contains(&format!("{joined}~")[..]),
                "\"{piece}\" is not joined"
            );
            pieces += 1;
        }
    }
    assert!(pieces > 90, "{pieces}");
}
