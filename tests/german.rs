//! Another language is a language file, a procedure and a voice: a small job in German, typed and spoken.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use wrenchside::dialogue::{Language, Manner};
use wrenchside::job::{Ask, At, Command as Order, Job};
use wrenchside::journal::StripFolder;
use wrenchside::procedure;
use wrenchside::session::{Delivery, NoJob, StripTalk, ValuesTalk};
use wrenchside::strip::StripLog;
use wrenchside::values::{self, Shelf};

const LANGUAGE: &str = "src/dialogue/languages/de.toml";
const BOOK: &str = "tests/data/werkbank-halter.toml";

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn german() -> Language {
    Language::from_toml(LANGUAGE, &fs::read_to_string(root().join(LANGUAGE)).unwrap()).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn the_job_is_done_by_typed_german() {
    let replay = ["--language", LANGUAGE, "replay", "--silent", "tests/data/werkbank-halter-getippt.toml"];
    let output = wrenchside().args(replay).output().unwrap();
    let table = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success() && table.contains("0 different"), "{table}");
}

#[test]
fn the_voice_gets_german_words_only() {
    let language = german();
    assert_eq!(language.tag(), "de");
    let mut job = Job::new(Arc::new(procedure::load(&root().join(BOOK)).unwrap()));
    let mut said = String::new();
    let orders = [Order::Open, Order::Next, Order::Yes, Order::Done, Order::Done, Order::Ask(Ask::Value)];
    for order in orders {
        let reply = job.apply(order, At(0));
        for sentence in language.render(&reply.says, job.book(), &Manner::default()) {
            let odd = |c: char| !(c.is_alphabetic() || " .,:;?!'-".contains(c));
            assert!(!sentence.spoken.contains(odd), "{:?}", sentence.spoken);
            said += &sentence.spoken;
        }
    }
    // Fifteen sounds like fifty in German as well.
    assert!(said.contains("fünfzehn Newtonmeter, eins fünf"), "{said}");
    assert_eq!(language.numbers().say_whole(121), "ein hundert einundzwanzig");
}

#[test]
fn a_value_is_asked_for_by_name_in_german() {
    let page = "vehicle: Werkbank\nsource: Werkbuch\nedition: erfunden\nlanguage: de\n\
                getriebehalter, vorn: 62 N·m + 90 deg, Seite 7\ngetriebehalter, hinten: 80 N·m, 8\n";
    let page = values::parse("werte.txt", page).unwrap_or_else(|report| panic!("{report}"));
    let shelf = Shelf::new(vec![("werte.txt".into(), page)]).unwrap();
    let mut talk = ValuesTalk::new(german(), Manner::default(), Delivery::default(), shelf);
    let mut told = |line: &str| talk.read(line, At(0)).sentences[0].written.clone();
    assert_eq!(told("moment für getriebehalter"), "Getriebehalter, vorn, oder getriebehalter, hinten?");
    assert_eq!(told("hinten"), "Getriebehalter, hinten: 80 N·m (Seite 8).");
    assert_eq!(told("wert getriebehalter"), "Getriebehalter, vorn, oder getriebehalter, hinten?");
    assert!(told("vorn").starts_with("Getriebehalter, vorn: 62 N·m; dann "));
    assert_eq!(told("wert schraube"), "Nicht auf der Wertetafel: schraube.");
    assert_eq!(told("wert hintere getriebehalter"), "Nicht auf der Wertetafel: hintere getriebehalter.");
}

#[test]
fn what_comes_off_is_told_in_german() {
    let jobs = tempfile::tempdir().unwrap();
    let folder = StripFolder::begin(jobs.path(), "Halter", None, At(0)).unwrap();
    let mut talk = StripTalk::new(german(), Manner::default(), StripLog::new("Halter"), folder, Shelf::default());
    let mut told = |line: &str| talk.read(line, At(0)).unwrap().sentences[0].written.clone();
    assert_eq!(told("steht auf den rädern"), "Er steht auf den Rädern.");
    assert_eq!(told("zwei schrauben 13 mm heraus"), "Ausgebaut: 2 schrauben, 13 mm.");
    assert!(told("nicht zwei schrauben heraus").starts_with("Das kenne ich nicht."));
    assert_eq!(told("Halter, vorn"), "Name: Halter, vorn.");
    assert_eq!(told("ein stecker ab"), "Gelöst: ein stecker.");
}

#[test]
fn the_answers_are_spoken_by_german_phonemes() {
    let folder = tempfile::tempdir().unwrap();
    let sound = |name: &str, settings: &str| -> Vec<u8> {
        let config = folder.path().join("config.toml");
        fs::write(&config, settings).unwrap();
        let out = folder.path().join(name);
        let mut command = wrenchside();
        command.arg("--config").arg(&config).args(["say", "Ich höre zwölf Züge durch Köln.", "--out"]).arg(&out);
        let output = command.output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        assert!(output.stderr.is_empty(), "{}", String::from_utf8_lossy(&output.stderr));
        fs::read(out).unwrap()
    };
    let shown = |path: &str| Path::new(env!("CARGO_MANIFEST_DIR")).join(path).display().to_string();
    let (language, phonemes) = (shown(LANGUAGE), shown("models/espeak-de"));
    let german = sound("de.wav", &format!("language = \"{language}\"\nphonemes = \"{phonemes}\"\nreads = \"de\""));
    // Two to four seconds of it.
    assert!((60_000..220_000).contains(&german.len()), "{} bytes", german.len());

    let job = folder.path().join("job.wav");
    let mut start = wrenchside();
    start.arg("--config").arg(folder.path().join("config.toml")).arg("--jobs").arg(folder.path().join("jobs"));
    start.args(["start", BOOK, "--typed", "--out"]).arg(&job).write_stdin("nächster schritt\nja bitte\n");
    let output = start.output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let seconds = fs::metadata(&job).unwrap().len() / 44_100;
    assert!((15..60).contains(&seconds), "{seconds} s");
    // Without its data German is refused, not read as English.
    fs::write(folder.path().join("config.toml"), "reads = \"de\"").unwrap();
    let mut say = wrenchside();
    say.arg("--config").arg(folder.path().join("config.toml")).args(["say", "Köln", "--out"]).arg(&job);
    assert!(!say.output().unwrap().status.success());
}
