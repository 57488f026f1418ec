//! The second listener by phones, from the sound to its word. The networks are of a few lines and hear tones
//! (`tests/data/phones/make.py`), so a phrase is said to them as a row of tones.

#[path = "common/program.rs"]
mod program;

use std::collections::{HashMap, HashSet};
use std::f32::consts::TAU;
use std::fs;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};

use program::wrenchside;
use wrenchside::assets::Places;
use wrenchside::dialogue::{Asks, Language};
use wrenchside::hearing::moment::{self, Allowed, Moment};
use wrenchside::job::Expect;
use wrenchside::listen::{
    Harm, Judge, JudgeThread, Judgement, Lexicon, ListenError, Moonshine, PHONES, PhoneTree, Phrase, RATE, Rule,
    Second, vocabulary,
};
use wrenchside::onnx;
use wrenchside::quantity::{AngleUnit, LengthUnit, Quantity, TorqueUnit, Unit};
use wrenchside::session::phrases;

/// Samples in a row of the networks.
const ROW: usize = 384;

fn root(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

fn lexicon() -> Lexicon {
    Lexicon::read(&root("models/listener-en/lexicon.txt")).unwrap()
}

/// A folder with one of the networks and the lexicon.
fn folder(network: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::copy(root(&format!("tests/data/phones/{network}.onnx")), folder.path().join("phones.onnx")).unwrap();
    fs::copy(root("models/listener-en/lexicon.txt"), folder.path().join("lexicon.txt")).unwrap();
    folder
}

fn moonshine() -> Moonshine {
    let places = Places::here();
    onnx::load(&places.onnx_runtime(None).unwrap()).unwrap();
    Moonshine::open(&places.judge(None).unwrap()).unwrap()
}

fn second(folder: &Path) -> Result<Second, ListenError> {
    let places = Places::here();
    onnx::load(&places.onnx_runtime(None).unwrap()).unwrap();
    Second::by_phones(places.judge(None).unwrap(), folder)
}

fn open(network: &str) -> Result<Box<dyn Judge + Send>, ListenError> {
    second(folder(network).path())?.open()
}

fn tightening() -> Allowed {
    Moment::Tightening.allowed(&Language::english())
}

/// Phones as tones of three rows each, with a row of silence after each, and some before and behind.
fn say(phones: &[&str]) -> Vec<f32> {
    let mut sound = vec![0.0; 5 * ROW];
    for phone in phones {
        let output = 1 + PHONES.iter().position(|known| known == phone).unwrap();
        let tone = 125.0 * (output + 2) as f32;
        sound.extend((0..3 * ROW).map(|n| 0.1 * (TAU * tone * n as f32 / RATE as f32).sin()));
        sound.extend([0.0; ROW]);
    }
    sound.extend([0.0; 10 * ROW]);
    sound
}

/// What is said by the first way to pronounce each word.
fn says(text: &str) -> Vec<&'static str> {
    let lexicon = lexicon();
    let way = |word: &str| lexicon.ways(word)[0].iter().map(|&at| PHONES[usize::from(at) - 1]).collect::<Vec<_>>();
    text.split(' ').flat_map(way).collect()
}

fn best<'a>(judgement: &Judgement, phrases: &'a [Phrase]) -> Option<&'a str> {
    judgement.best.map(|at| phrases[at].text.as_str())
}

/// Its files are read where they lie, so what is wrong with one has to be found before anything is read from it.
#[test]
fn a_damaged_model_is_refused_by_the_name_of_its_file() {
    let places = Places::here();
    onnx::load(&places.onnx_runtime(None).unwrap()).unwrap();
    let whole = places.judge(None).unwrap();
    for damaged in ["encoder_model.ort", "decoder_model_merged.ort"] {
        for how in ["cut in half", "cut at its last bytes", "empty", "of another kind"] {
            let folder = tempfile::tempdir().unwrap();
            for name in ["encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin"] {
                symlink(whole.join(name), folder.path().join(name)).unwrap();
            }
            let mut bytes = fs::read(whole.join(damaged)).unwrap();
            match how {
                "cut in half" => bytes.truncate(bytes.len() / 2),
                "cut at its last bytes" => bytes.truncate(bytes.len() - 64),
                "empty" => bytes.clear(),
                _ => bytes[..64].fill(b'x'),
            }
            fs::remove_file(folder.path().join(damaged)).unwrap();
            fs::write(folder.path().join(damaged), bytes).unwrap();
            let error = Moonshine::open(folder.path()).err().map(|error| error.to_string());
            assert!(error.as_ref().is_some_and(|error| error.contains(damaged)), "{damaged}, {how}: {error:?}");
        }
    }
}

#[test]
fn a_phrase_is_told_from_all_others_and_from_what_is_none() {
    let allowed = tightening();
    let mut phones = open("tones").unwrap();
    for text in ["next step", "stage complete", "what torque", "reading sixty eight", "go to step twelve"] {
        let said = says(text);
        let found = phones.judge(&say(&said), &allowed.phrases).unwrap();
        assert_eq!(best(&found, &allowed.phrases), Some(text), "{found:?}");
        let most = 2.0 * said.len() as f32;
        assert!(found.average > -0.1 && (most - 1.0..=most + 0.01).contains(&found.over_noise), "{text}: {found:?}");
        assert!(found.margin > 3.0, "{text}: {found:?}");
    }
    // Other phones, and more phones than the phrase has.
    let other = phones.judge(&say(&["ZH", "OY", "UH", "TH", "NG", "ZH", "OY", "UH"]), &allowed.phrases).unwrap();
    assert!(other.over_noise < -20.0 && other.average < -2.0, "{other:?}");
    let more = [says("we can"), says("take a break"), says("when the rain stops")].concat();
    let more = phones.judge(&say(&more), &allowed.phrases).unwrap();
    assert!(more.over_noise < -20.0, "{more:?}");
    let silence = phones.judge(&vec![0.0; 20 * ROW], &allowed.phrases).unwrap();
    assert!(silence.over_noise < -4.0 && silence.average < -2.0, "{silence:?}");
    let short = phones.judge(&[0.0; 100], &allowed.phrases).unwrap();
    assert_eq!(short.best, None);
}

#[test]
fn a_number_outside_the_list_is_judged_as_it_is_offered() {
    let allowed = tightening();
    let mut phones = open("tones").unwrap();
    let text = "reading three hundred and six point two five";
    let offered = allowed.offered(text);
    assert!(offered.len() > allowed.phrases.len());
    let sound = say(&says(text));
    let found = phones.judge(&sound, &offered).unwrap();
    assert_eq!(best(&found, &offered), Some(text), "{found:?}");
    // The same number without "and" is no other phrase; where its pieces are all there is, something else was said.
    assert!(found.margin > 3.0, "{found:?}");
    let listed = phones.judge(&sound, &allowed.phrases).unwrap();
    assert!(listed.over_noise < 0.0, "{listed:?}");
}

#[test]
fn the_same_sound_is_written_and_encoded_as_before() {
    let (mut phones, mut moonshine) = (open("tones").unwrap(), moonshine());
    let sound = say(&says("stage complete"));
    assert_eq!(phones.encode(&sound).unwrap(), moonshine.encode(&sound).unwrap());
    assert!(moonshine.encode(&sound).unwrap().is_some());
    let written = phones.write(&sound, "stage complete").unwrap();
    assert!(written.is_some() && written == moonshine.write(&sound, "stage complete").unwrap(), "{written:?}");
}

#[test]
fn a_network_that_is_none_of_phones_is_refused() {
    let refused = [
        ("narrow", "it gives 39 numbers a row, and not 40"),
        ("unnormed", "a row's probabilities add up to "),
        ("deaf", "it wants [\"speech\"], and not \"sound\" alone"),
        ("renamed", "it gives [\"letters\"], and not \"phones\""),
    ];
    for (network, reason) in refused {
        let folder = folder(network);
        let told = second(folder.path()).unwrap().open().err().unwrap().to_string();
        let path = folder.path().join("phones.onnx");
        assert!(told.starts_with(&format!("{}: this is no network of phones: ", path.display())), "{told}");
        assert!(told.contains(reason), "{told}");
    }
    let other = folder("tones");
    fs::write(other.path().join("phones.onnx"), "wibble").unwrap();
    assert!(second(other.path()).unwrap().open().err().unwrap().to_string().contains("phones.onnx: "));
    fs::write(other.path().join("lexicon.txt"), "a AH0\n").unwrap();
    let told = second(other.path()).err().unwrap().to_string();
    assert!(told.contains("lexicon.txt: line 1: \"AH0\" is no phone"), "{told}");
}

/// Folders laid out as the project's models, with one of the networks among them, and a listening model with this list of words.
fn models(network: &str, words: Option<&str>) -> (tempfile::TempDir, Places) {
    let folder = tempfile::tempdir().unwrap();
    for name in ["phones-en", "listener-en"] {
        fs::create_dir(folder.path().join(name)).unwrap();
    }
    fs::copy(root(&format!("tests/data/phones/{network}.onnx")), folder.path().join("phones-en/phones.onnx")).unwrap();
    if let Some(words) = words {
        fs::write(folder.path().join("listener-en/lexicon.txt"), words).unwrap();
    }
    let here = Places::here();
    onnx::load(&here.onnx_runtime(None).unwrap()).unwrap();
    let places = Places { models: vec![folder.path().into()], ..here };
    (folder, places)
}

const WORDS: &str = "next N EH K S T\nstep S T EH P\nyes Y EH S\n";

#[test]
fn whoever_judges_is_taken_at_its_own_scale() {
    let (folder, places) = models("tones", Some(WORDS));
    let found = Second::find(&places, None).unwrap();
    assert_eq!(found.phones().unwrap().network, folder.path().join("phones-en/phones.onnx"));
    let lexicon = found.phones().unwrap().lexicon.clone();
    let by_phones = Rule::by_phones().sounding(Some(lexicon));
    assert_eq!(found.open().unwrap().rule(), by_phones);
    // Loaded on its own thread it is known what its word counts for once it has one.
    let mut judge = JudgeThread::load(move || found.open()).unwrap();
    let phrases = ["next step", "yes"].map(|text| Phrase { text: text.into(), harm: Harm::Claims });
    let judged = judge.judge(&say(&says("next step")), &phrases).unwrap();
    assert_eq!((judged.best, judge.rule()), (Some(0), by_phones));
    // The decoder judges where a lexicon of these phones, or the network, is missing.
    let why = |second: &Second| second.phones().unwrap_err().to_owned();
    let decoder = |second: &Second, reason: &str| {
        assert!(why(second).contains(reason), "{}", why(second));
        let mut judge = second.open().unwrap();
        assert_eq!(judge.rule(), Rule::by_decoder());
        assert!(judge.judge(&say(&says("yes")), &phrases).is_ok());
    };
    let other = tempfile::tempdir().unwrap();
    decoder(&Second::find(&places, Some(other.path())).unwrap(), "lexicon.txt: ");
    fs::write(other.path().join("lexicon.txt"), "ja j a:\n").unwrap();
    decoder(&Second::find(&places, Some(other.path())).unwrap(), "\"j\" is no phone");
    fs::remove_file(folder.path().join("phones-en/phones.onnx")).unwrap();
    decoder(&Second::find(&places, None).unwrap(), "network of phones (phones-en) was not found");
    assert!(Second::find(&Places { fetched: vec![], ..places }, None).is_none(), "nobody without moonshine");
}

#[test]
fn a_network_that_is_not_what_its_list_says_is_refused() {
    let (folder, places) = models("tones", Some(WORDS));
    let sums = folder.path().join("phones-en/SHA256SUMS");
    fs::write(&sums, format!("{}  phones.onnx\n", "0".repeat(64))).unwrap();
    let found = Second::find(&places, None).unwrap();
    found.look().unwrap();
    let told = found.open().err().unwrap().to_string();
    assert!(told.contains("phones.onnx: the file is damaged or cut short"), "{told}");
    let (_folder, places) = models("narrow", Some(WORDS));
    let told = Second::find(&places, None).unwrap().open().err().unwrap().to_string();
    assert!(told.contains("this is no network of phones"), "{told}");
}

/// Names of values and places are phrases too, and a page or a procedure has words of its own.
#[test]
fn a_phrase_with_a_word_without_a_pronunciation_stops_no_judgement() {
    let (_folder, places) = models("tones", Some(WORDS));
    let mut judge = Second::find(&places, None).unwrap().open().unwrap();
    let phrase = |text: &str| Phrase { text: text.into(), harm: Harm::Claims };
    let all = [phrase("next wibble"), phrase("next step"), phrase("wibble")];
    let found = judge.judge(&say(&says("next step")), &all).unwrap();
    assert_eq!(found.best, Some(1), "{found:?}");
    assert!(found.margin > 3.0, "{found:?}");
    // Nor one that only this utterance adds.
    let more = [&all[..], &[phrase("wibble yes"), phrase("yes")]].concat();
    assert_eq!(judge.judge(&say(&says("yes")), &more).unwrap().best, Some(4));
    let strange = judge.judge(&say(&says("yes")), &[phrase("wibble")]).unwrap();
    assert_eq!(strange.best, None);
}

/// What was made of the phrases is kept from one judgement to the next.
#[test]
fn the_same_sound_is_judged_the_same_whatever_was_judged_before() {
    let moments = [Moment::Tightening, Moment::Question].map(|moment| moment.allowed(&Language::english()));
    let text = "reading three hundred and six point two five";
    let sounds = [says("stage complete"), says("no"), says(text)].map(|phones| say(&phones));
    let all = |judge: &mut dyn Judge, sound: &[f32]| -> Vec<Judgement> {
        let offered = moments.iter().flat_map(|at| [at.phrases.clone(), at.offered(text).into_owned()]);
        offered.map(|phrases| judge.judge(sound, &phrases).unwrap()).collect()
    };
    let mut used = open("tones").unwrap();
    for sound in &sounds {
        let before = all(&mut used, sound);
        assert_eq!(all(&mut used, sound), before);
        assert_eq!(all(&mut open("tones").unwrap(), sound), before);
    }
}

#[test]
fn doctor_tells_of_both_networks_and_why_one_does_not_judge() {
    let (folder, _) = models("tones", None);
    let here = tempfile::tempdir().unwrap();
    fs::rename(folder.path(), here.path().join("models")).unwrap();
    fs::remove_dir(here.path().join("models/listener-en")).unwrap();
    let doctor = |more: &[&str]| {
        let output = wrenchside().current_dir(here.path()).args(more).arg("doctor").output().unwrap();
        String::from_utf8_lossy(&output.stdout).into_owned()
    };
    let told = doctor(&[]);
    let line = told.lines().find(|line| line.contains("second listener")).unwrap();
    assert!(line.starts_with("ok") && line.contains("judges by phones (network SHA-256 "), "{told}");
    assert!(line.contains("writes by moonshine tiny-en, ") && told.contains("phones.onnx\n"), "{told}");
    // A listening model that others made.
    let other = here.path().join("other");
    fs::create_dir(&other).unwrap();
    for name in ["am", "conf", "graph"] {
        symlink(root("models/listener-en").join(name), other.join(name)).unwrap();
    }
    let told = doctor(&["--model", "other"]);
    let line = told.lines().find(|line| line.contains("second listener")).unwrap();
    assert!(line.starts_with("ok") && line.contains("judges by its decoder"), "{told}");
    assert!(told.contains("not by phones: other/lexicon.txt: "), "{told}");
}

/// Whatever may be said at any moment, values and numbers among it.
fn everything() -> Vec<Phrase> {
    let language = Language::english();
    let mut all: Vec<Phrase> =
        moment::all(&language, &Asks::default()).into_iter().flat_map(|(_, at)| at.phrases).collect();
    let quantities = [
        Quantity::new(70.into(), Unit::Torque(TorqueUnit::NewtonMetre)),
        Quantity::new(60.into(), Unit::Angle(AngleUnit::Degree)),
        Quantity::new(2.into(), Unit::Length(LengthUnit::Millimetre)),
    ];
    for reading in quantities {
        let expect = Expect {
            steps: 99,
            yes_no: true,
            angle: true,
            reading: Some(reading),
            rest: true,
            fastener: true,
            ..Expect::default()
        };
        all.extend(phrases(&language.grammar(&expect, true)));
    }
    let mut seen = HashSet::new();
    all.retain(|phrase| seen.insert(phrase.text.clone()));
    all
}

#[test]
fn every_phrase_of_the_language_can_be_said_in_phones() {
    let (all, lexicon) = (everything(), lexicon());
    assert!(all.len() > 1_000, "{}", all.len());
    let tree = PhoneTree::new(&all, &lexicon);
    // A sound of any phones at all, long enough for each.
    let flat = [-(40.0f32.ln()); 40].repeat(120);
    let likely = tree.likely(&flat);
    let found: HashSet<usize> = likely.iter().filter(|one| one.log.is_finite()).map(|one| one.phrase).collect();
    let lost: Vec<&Phrase> = all.iter().enumerate().filter(|(at, _)| !found.contains(at)).map(|(_, one)| one).collect();
    assert!(lost.is_empty(), "{lost:?}");
    let places = PhoneTree::new(&tightening().phrases, &lexicon).places();
    assert!((1_000..60_000).contains(&places), "{places} places");
}

/// Names of values may be of any words that the first listener knows.
#[test]
fn every_word_of_the_listening_model_can_be_said_in_phones() {
    let (words, lexicon) = (vocabulary(&root("models/listener-en")).unwrap(), lexicon());
    // Joined words are pieces of phrases; the others are signs.
    let words: Vec<String> =
        words.into_iter().filter(|word| word.chars().all(|c| c.is_alphabetic() || c == '\'')).collect();
    assert!(words.len() > 6_000, "{}", words.len());
    let lost: Vec<&String> = words.iter().filter(|word| lexicon.ways(word).is_empty()).collect();
    assert!(lost.is_empty(), "{lost:?}");
}

/// A phrase that sounds like another one cannot be told from it, and would never be believed.
#[test]
fn no_two_phrases_of_a_moment_are_said_alike() {
    let (language, lexicon) = (Language::english(), lexicon());
    for (moment, allowed) in moment::all(&language, &Asks::default()) {
        let mut ways: HashMap<Vec<u8>, &Phrase> = HashMap::new();
        let mut alike = Vec::new();
        for phrase in &allowed.phrases {
            let mut all = vec![Vec::new()];
            for word in phrase.text.split(' ') {
                let longer =
                    |way: &Vec<u8>| lexicon.ways(word).iter().map(|more| [&way[..], more].concat()).collect::<Vec<_>>();
                all = all.iter().flat_map(longer).collect();
            }
            for way in all {
                let first = ways.entry(way).or_insert(phrase);
                if first.text != phrase.text && (first.harm, phrase.harm) != (Harm::Decoy, Harm::Decoy) {
                    alike.push((first.text.clone(), phrase.text.clone()));
                }
            }
        }
        alike.dedup();
        assert!(alike.is_empty(), "{}: {alike:?}", moment.name());
    }
}
