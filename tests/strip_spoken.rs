//! Taking something apart by voice: what is heard is held to what a job holds it to, and names are the user's own recordings.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::time::Duration;
use wrenchside::dialogue::{Language, Manner, recorded};
use wrenchside::job::{At, Fact, Note};
use wrenchside::journal::{Folder, StripFolder};
use wrenchside::listen::{Harm, Hypothesis, RATE, Utterance, Written};
use wrenchside::session::{Conversation, Mouth, Order, StripTalk, Talker, Turn};
use wrenchside::speak::{Sink, SpeakError, Tone, Voice};
use wrenchside::strip::{Command, Name, Question, StripLog};
use wrenchside::values::{self, Shelf};

const BEGAN: i64 = 1_750_000_000_000;

/// Somebody who speaks, each time when the answer to the last has been heard.
struct Mechanic {
    talk: StripTalk,
    now: i64,
}

fn said(phrase: Option<&str>, nearly: Option<&str>, heard: &str, written: Option<&str>) -> Utterance {
    Utterance {
        phrase: phrase.map(str::to_owned),
        nearly: nearly.map(str::to_owned),
        heard: Hypothesis { text: heard.into(), confidence: 1.0 },
        judgement: None,
        written: written.map(|text| Written { text: text.into(), ahead: 0.0 }),
        own: None,
        began: 0,
        ended: 0,
        decided: 0,
        thinking: Duration::ZERO,
    }
}

impl Mechanic {
    fn begin(jobs: &Path, shelf: Shelf) -> Mechanic {
        let folder = StripFolder::begin(jobs, "Water pump", None, At(BEGAN)).unwrap();
        let log = StripLog::new("Water pump");
        let mut talk = StripTalk::new(Language::english(), Manner::default(), log, folder, shelf);
        talk.begin();
        Mechanic { talk, now: BEGAN }
    }

    /// The program was started anew.
    fn again(path: &Path) -> Mechanic {
        let (folder, log, torn) = StripFolder::open(path).unwrap();
        assert!(!torn);
        let mut talk = StripTalk::new(Language::english(), Manner::default(), log, folder, Shelf::default());
        talk.resume(false);
        Mechanic { talk, now: BEGAN + 60_000_000 }
    }

    /// The answer is heard to its end, then this is heard.
    fn hear(&mut self, said: &Utterance) -> Turn {
        self.now += 10_000;
        self.talk.announced(At(self.now - 1));
        self.talk.hear(said, At(self.now), At(self.now)).unwrap()
    }

    /// This is heard before the answer had been said to its end.
    fn early(&mut self, said: &Utterance) -> Turn {
        self.now += 100;
        self.talk.hear(said, At(self.now), At(self.now)).unwrap()
    }

    fn say_early(&mut self, phrase: &str) -> Turn {
        self.early(&said(Some(phrase), None, phrase, None))
    }

    fn say(&mut self, phrase: &str) -> String {
        words(&self.hear(&said(Some(phrase), None, phrase, None)))
    }

    /// Words that are no phrase, as the second listener writes them, and their sound.
    fn name(&mut self, text: &str, sound: &[i16]) -> Turn {
        self.talk.own_words(sound.to_vec());
        self.hear(&said(None, None, "what the other", Some(text)))
    }

    fn name_early(&mut self, text: &str) -> Turn {
        self.talk.own_words(sound(1));
        self.early(&said(None, None, "what the other", Some(text)))
    }

    /// As long after the answer had been heard.
    fn name_after(&mut self, milliseconds: i64, text: &str) -> Turn {
        self.talk.announced(At(self.now + 1));
        self.now += milliseconds;
        self.talk.own_words(sound(1));
        let said = said(None, None, "what the other", Some(text));
        self.talk.hear(&said, At(self.now), At(self.now)).unwrap()
    }

    fn question(&self) -> Option<Question> {
        self.talk.log().question()
    }

    fn tell(&mut self, phrases: &[&str]) {
        for phrase in phrases {
            self.say(phrase);
        }
    }

    fn expects_name(&self) -> bool {
        matches!(self.talk.log().question(), Some(Question::Name(_)))
    }
}

fn words(turn: &Turn) -> String {
    turn.sentences.iter().map(|sentence| sentence.written.as_str()).collect::<Vec<_>>().join(" ")
}

/// A second of something.
fn sound(level: i16) -> Vec<i16> {
    vec![level; RATE as usize]
}

#[test]
fn the_recording_is_the_name_and_lies_on_disk_before_the_answer() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), Shelf::default());
    mechanic.tell(&["on its wheels"]);
    assert_eq!(
        mechanic.say("took out two bolts thirteen millimetre"),
        "Out: 2 bolts, 13 mm. Now its name, or: no name."
    );
    let turn = mechanic.name("Water pump, lower left.", &sound(700));
    assert_eq!((words(&turn).as_str(), turn.tone), ("Called: Water pump, lower left.", Some(Tone::Recorded)));
    let path = mechanic.talk.folder().path().to_owned();
    let Some(Name::Sound { file, milliseconds, draft }) = mechanic.talk.log().entries()[1].name.clone() else {
        panic!("a recording")
    };
    assert_eq!((milliseconds, draft.as_deref()), (1_000, Some("Water pump, lower left")));
    let kept = path.join(&file);
    assert!(kept.is_file() && fs::metadata(&kept).unwrap().permissions().mode() & 0o777 == 0o600, "{}", kept.display());
    assert!(hound::WavReader::open(&kept).unwrap().samples::<i16>().all(|sample| sample.unwrap() == 700));
    assert!(fs::read_to_string(path.join("strip.jsonl")).unwrap().contains(&file));
    // After a power cut it is there, and is what is played.
    drop(mechanic);
    let mechanic = Mechanic::again(&path);
    assert_eq!(mechanic.talk.recordings().get(&1).map(|sound| sound.to_vec()), Some(sound(700)));
    // One that is gone is the words of its draft.
    fs::remove_file(&kept).unwrap();
    drop(mechanic);
    let mut mechanic = Mechanic::again(&path);
    let turn = mechanic.hear(&said(Some("what came off"), None, "what came off", None));
    assert!(turn.sentences[0].spoken.contains("Water pump"), "{:?}", turn.sentences[0].spoken);
}

/// Says each text as silence, and keeps the texts.
struct Silent(std::sync::Arc<std::sync::Mutex<Vec<String>>>);

impl Voice for Silent {
    fn rate(&self) -> u32 {
        RATE
    }
    fn say(&mut self, text: &str, _pace: f32) -> Result<Vec<f32>, SpeakError> {
        self.0.lock().unwrap().push(text.to_owned());
        Ok(vec![0.0; 160])
    }
}

struct Ear(Vec<f32>);

impl Sink for Ear {
    fn rate(&self) -> u32 {
        RATE
    }
    fn play(&mut self, samples: &[f32]) -> Result<(), SpeakError> {
        self.0.extend_from_slice(samples);
        Ok(())
    }
    fn stop(&mut self) {}
    fn is_playing(&self) -> bool {
        false
    }
}

#[test]
fn the_recording_is_played_in_place_of_the_name() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), Shelf::default());
    mechanic.tell(&["on its wheels", "took out two bolts"]);
    let hum: Vec<i16> = (0..RATE).map(|n| if n % 40 < 20 { 4_000 } else { -4_000 }).collect();
    mechanic.name("Water pump", &hum);
    let turn = mechanic.hear(&said(Some("what came off"), None, "what came off", None));
    assert_eq!(turn.sentences[0].spoken.chars().filter_map(recorded).collect::<Vec<_>>(), [1]);
    assert!(!turn.sentences[0].written.chars().any(|letter| recorded(letter).is_some()));
    let texts = std::sync::Arc::default();
    let mut mouth = Mouth::new(Box::new(Silent(std::sync::Arc::clone(&texts))), "silent", false);
    let mut ear = Ear(Vec::new());
    let order = Order { sentences: turn.sentences, recordings: mechanic.talk.recordings(), ..Order::default() };
    mouth.say(&order, &mut ear, &|| true).unwrap();
    let heard = ear.0.iter().filter(|sample| sample.abs() > 0.02).count();
    assert!(heard as f64 > 0.9 * f64::from(RATE), "{heard}");
    assert_eq!(*texts.lock().unwrap(), ["Told so far:", "two bolts,"]);
}

/// In the rebuild things are called by the recordings as well, when it begins and when it is taken up again; the words are for the eye.
#[test]
fn in_the_rebuild_the_recordings_are_the_names() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), Shelf::default());
    mechanic.tell(&["on its wheels", "took out two bolts"]);
    mechanic.name("Water pump", &sound(700));
    mechanic.tell(&["took off a cover"]);
    mechanic.name("Housing 2, left", &sound(900));
    mechanic.tell(&["took out a nut", "no name"]);
    mechanic.tell(&["that is everything", "yes please", "no value in the book", "no thanks", "no value in the book"]);
    mechanic.tell(&["no thanks", "yes please"]);
    let (folder, job) = mechanic.talk.turn().unwrap();
    let path = folder.path().to_owned();
    let now = At(mechanic.now + 1);
    let mut talk = Conversation::new(Language::english(), Manner::default(), job, folder);
    // What the voice says at one go, with a number where a recording is played.
    let said = |talk: &Conversation, turn: Turn| {
        assert!(turn.sentences.iter().all(|sentence| !sentence.written.chars().any(|c| recorded(c).is_some())));
        let text = talk.voiced(turn.sentences).into_iter().map(|sentence| sentence.spoken);
        let shown = |letter: char| recorded(letter).map_or_else(|| letter.to_string(), |id| format!("<{id}>"));
        text.collect::<Vec<_>>().join(" ").chars().map(shown).collect::<String>()
    };
    let first = talk.resume(&[], now).unwrap();
    let mut all = said(&talk, first);
    for _ in 0..8 {
        let turn = talk.read("done", now).unwrap();
        all.push_str(&said(&talk, turn));
    }
    assert!(all.contains("Fit the cover, <2>") && all.contains("olts, <1>"), "{all}");
    // The first one is the title.
    assert_eq!(all.to_lowercase().matches("water pump").count(), 1, "{all}");
    assert!(!all.to_lowercase().contains("housing"), "{all}");
    let played = talk.recordings();
    assert_eq!((played[&1][0], played[&2][0], played.len()), (700, 900, 2));
    assert!(talk.foresee(now).iter().all(|text| !text.chars().any(|c| recorded(c).is_some())));
    drop(talk);
    let again = |recordings: usize| {
        let opened = Folder::open(&path, false).unwrap();
        let mut talk = Conversation::new(Language::english(), Manner::default(), opened.job, opened.folder);
        talk.resume(&opened.notices, now).unwrap();
        let turn = talk.read("where am i", now).unwrap();
        assert_eq!(talk.recordings().len(), recordings);
        said(&talk, turn)
    };
    let stands = again(2);
    assert!(stands.contains("<1>"), "{stands}");
    // Without the sound the words of the draft are said.
    fs::remove_dir_all(path.join("names")).unwrap();
    let stands = again(0);
    assert!(!stands.contains("<") && stands.to_lowercase().contains("olts, water pump"), "{stands}");
}

/// Whatever is worded like a claim, denied or not, is heard as that or as nothing, and is no name.
#[test]
fn what_is_no_name_is_not_kept_as_one() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), Shelf::default());
    mechanic.tell(&["on its wheels", "took out a bolt"]);
    let before = mechanic.talk.log().entries().to_vec();
    for text in [
        "Did not take out two bolts.",
        "I nearly took out two bolts.",
        "Took out two bolts.",
        "Two bolts out.",
        "No name.",
        "Yes please.",
        "Scratch that.",
        "Thank you.",
        "That is not everything.",
        "The cover came off.",
        "And millimeter.",
        "Ten millimetres.",
        "I've hung it up.",
        "Hang it up.",
        "That's everything.",
        "Take off the cover.",
        "Unplug the connector.",
        "They're out now.",
        "Make that three.",
        "I don't know.",
        "We haven't got those yet.",
        "Maybe the lower one.",
        "Took out the bolts.",
        "",
        "...",
    ] {
        mechanic.name(text, &sound(1));
        assert_eq!(mechanic.talk.log().entries(), before, "{text}");
        assert!(mechanic.expects_name(), "{text}");
    }
    // Too long to be played in the middle of a sentence.
    let turn = mechanic.name("The bolt behind the pump", &vec![1; 7 * RATE as usize]);
    assert_eq!(words(&turn), "That is not taken as a name. Now its name, or: no name.");
    assert!(!mechanic.talk.folder().path().join("names").exists());
    // A phrase is that phrase.
    assert_eq!(mechanic.say("no name"), "No name.");
    assert_eq!(mechanic.say("wrong name"), "There is nothing to name yet.");
}

#[test]
fn what_was_said_while_the_program_asked_is_no_name() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), Shelf::default());
    mechanic.tell(&["on its wheels", "took out a bolt"]);
    let early = At(mechanic.now + 100);
    mechanic.talk.own_words(sound(1));
    let turn = mechanic.talk.hear(&said(None, None, "", Some("Now its name")), early, early).unwrap();
    assert_eq!((turn.sentences.len(), turn.recorded), (0, false));
    assert!(mechanic.expects_name());
    assert!(mechanic.name("Pump", &sound(1)).recorded);
}

#[test]
fn a_name_can_be_given_again_and_stands_until_then() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), Shelf::default());
    mechanic.tell(&["on its wheels", "took out a bolt"]);
    mechanic.name("Bump", &sound(1));
    assert_eq!(mechanic.say("wrong name"), "Now its name, or: no name.");
    assert_eq!(mechanic.talk.log().entries()[1].name.as_ref().and_then(Name::words), Some("Bump"));
    assert_eq!(words(&mechanic.name("Pump", &sound(2))), "Called: Pump.");
    assert_eq!(mechanic.talk.recordings().get(&1).map(|sound| sound[0]), Some(2));
    let path = mechanic.talk.folder().path().to_owned();
    drop(mechanic);
    let mechanic = Mechanic::again(&path);
    assert_eq!(mechanic.talk.log().entries()[1].name.as_ref().and_then(Name::words), Some("Pump"));
}

#[test]
fn said_twice_counts_once_and_in_doubt_it_is_asked_back() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), Shelf::default());
    mechanic.tell(&["on its wheels"]);
    assert!(mechanic.say("took out two bolts").starts_with("Out: 2 bolts."));
    // Before its answer had been heard.
    let again = said(Some("took out two bolts"), None, "took out two bolts", None);
    let early = At(mechanic.now + 500);
    assert!(!mechanic.talk.hear(&again, early, early).unwrap().recorded);
    assert_eq!(mechanic.talk.log().entries().len(), 2);
    // Half heard.
    let turn = mechanic.hear(&said(None, Some("took out three nuts"), "took out three", None));
    assert_eq!((words(&turn).as_str(), turn.recorded), ("Did you say: took out three nuts?", false));
    assert!(mechanic.say("no thanks").starts_with("Nothing changed. Now its name"));
    mechanic.hear(&said(None, Some("took out three nuts"), "took out three", None));
    assert!(mechanic.say("yes please").starts_with("Out: 3 nuts."));
    assert_eq!(mechanic.talk.log().entries().len(), 3);
}

#[test]
fn a_value_that_is_spoken_is_taken_on_a_yes_to_its_numbers() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), Shelf::default());
    mechanic.tell(&["on its wheels", "took out two bolts", "no name", "that is everything", "yes please"]);
    assert!(matches!(mechanic.talk.log().question(), Some(Question::Value(_))));
    let value = "sixty two newton metres then fifty degrees page seven dash one";
    let turn = mechanic.hear(&said(Some(value), None, value, None));
    let told = "2 bolts. The whole value: 62 N·m; then turn a further 50°, page 7-1. Is that right?";
    assert_eq!(words(&turn), told);
    assert!(turn.sentences[0].spoken.contains("six two") && turn.sentences[0].spoken.contains("five zero"));
    // A yes before the numbers had been heard is none.
    let (yes, early) = (said(Some("yes please"), None, "yes please", None), At(mechanic.now + 1));
    assert!(!mechanic.talk.hear(&yes, early, early).unwrap().recorded);
    assert_eq!(mechanic.talk.log().answered(Question::Value(1)), None);
    let told = mechanic.say("no thanks");
    assert!(told.contains("What does the book say?") && mechanic.talk.log().answered(Question::Value(1)).is_none());
    mechanic.say(value);
    assert!(mechanic.say("yes please").starts_with("62 N·m; then turn a further 50°."));
    assert!(mechanic.talk.log().answered(Question::Page(1)).is_some());
}

#[test]
fn a_value_of_the_pages_is_asked_by_name_and_the_question_stands() {
    let page = values::parse("values.toml", include_str!("../docs/values.toml")).unwrap();
    let shelf = Shelf::new(vec![("values.toml".to_owned(), page)]).unwrap();
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), shelf);
    mechanic.tell(&["on its wheels", "took out a bolt"]);
    let told = mechanic.say("value for the gearbox mount rear");
    assert_eq!(told, "Gearbox mount, rear: 80 N·m (page 7-1). Now its name, or: no name.");
    let typed = words(&mechanic.talk.read("torque for the gearbox drain plug", At(mechanic.now)).unwrap());
    assert!(typed.starts_with("Gearbox drain plug: 32–38 N·m") || typed.contains("38 N·m"), "{typed}");
    assert!(mechanic.expects_name());
}

#[test]
fn a_note_is_kept_and_goes_into_the_job() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), Shelf::default());
    mechanic.tell(&["on its wheels", "took out a bolt", "no name", "start note"]);
    assert!(mechanic.talk.is_noting());
    assert_eq!(mechanic.say("took out two bolts"), "");
    let turn = mechanic.talk.keep_note(&sound(3), At(mechanic.now)).unwrap();
    assert_eq!(words(&turn), "Note taken.");
    assert!(!mechanic.talk.is_noting() && mechanic.talk.folder().path().join("notes").is_dir());
    mechanic.tell(&["that is everything", "yes please", "no value in the book", "no thanks", "yes please"]);
    assert!(mechanic.talk.log().is_ready());
    let (folder, job) = mechanic.talk.turn().unwrap();
    let notes = job.facts().iter().filter_map(|record| match &record.fact {
        Fact::Note { note, .. } => Some(note),
        _ => None,
    });
    let notes: Vec<&Note> = notes.collect();
    let [Note::Sound { file, .. }] = notes[..] else { panic!("one note: {notes:?}") };
    assert!(folder.path().join(file).is_file());
}

#[test]
fn a_no_that_claims_something_counts_once() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), Shelf::default());
    let harm = |mechanic: &Mechanic| {
        let phrases = mechanic.talk.phrases_beside("");
        phrases.iter().find(|phrase| phrase.text == "no thanks").map(|phrase| phrase.harm)
    };
    mechanic.tell(&["on its wheels", "took off a cover", "no name", "took off a bracket", "no name", "clip off"]);
    mechanic.tell(&["no name", "hung it up"]);
    assert_eq!((mechanic.question(), harm(&mechanic)), (Some(Question::Hung(2)), Some(Harm::Claims)));
    mechanic.say("no thanks");
    assert_eq!(mechanic.question(), Some(Question::Hung(1)));
    assert!(!mechanic.say_early("no thanks").recorded);
    assert_eq!(mechanic.question(), Some(Question::Hung(1)));
    mechanic.tell(&["yes please", "took out two bolts", "no name", "that is everything"]);
    assert_eq!((mechanic.question(), harm(&mechanic)), (Some(Question::Everything), Some(Harm::None)));
    mechanic.tell(&["yes please", "thirty newton metres then fifty degrees page seven", "yes please"]);
    assert!(matches!(mechanic.question(), Some(Question::Runs(_))));
    mechanic.say("no thanks");
    assert!(matches!(mechanic.question(), Some(Question::New(_))));
    assert!(!mechanic.say_early("no thanks").recorded);
    assert!(matches!(mechanic.question(), Some(Question::New(_))));
    mechanic.say("no thanks");
    assert_eq!(mechanic.question(), Some(Question::Whole));
}

/// Two groups: of three nuts, told last, there is no value; the value of two bolts is asked for behind "yes" to new nuts.
fn asked_for_the_bolts(jobs: &Path) -> Mechanic {
    let mut mechanic = Mechanic::begin(jobs, Shelf::default());
    mechanic.tell(&["on its wheels", "took out two bolts", "no name", "took out three nuts", "no name"]);
    mechanic.tell(&["that is everything", "yes please", "no value in the book", "yes please"]);
    assert_eq!(mechanic.question(), Some(Question::Value(1)));
    mechanic
}

#[test]
fn a_value_is_that_of_the_group_whose_question_was_heard() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = asked_for_the_bolts(jobs.path());
    // It may be about the nuts.
    let told = words(&mechanic.say_early("sixty five newton metres"));
    assert!(told.contains("2 bolts. What does the book say?") && !told.contains("65"), "{told}");
    mechanic.say("yes please");
    assert_eq!(mechanic.question(), Some(Question::Value(1)));
    let told = mechanic.say("sixty five newton metres");
    assert_eq!(told, "2 bolts. The whole value: 65 N·m. Is that right?");
}

#[test]
fn an_offer_is_taken_back_and_no_answer_before_it() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = asked_for_the_bolts(jobs.path());
    mechanic.say("sixty five newton metres");
    let told = mechanic.say("scratch that");
    assert!(told.starts_with("2 bolts. What does the book say?"), "{told}");
    assert!(mechanic.talk.log().answered(Question::New(2)).is_some());
    // The first that is no answer to an offer says what it takes back; said again at once it is the same.
    assert!(!mechanic.say_early("scratch that").recorded);
    let told = mechanic.say("scratch that");
    assert!(told.starts_with("Taken back: new ones or not, for 3 nuts."), "{told}");
    assert!(!mechanic.say_early("scratch that").recorded);
    assert_eq!(mechanic.question(), Some(Question::New(2)));
    assert!(mechanic.say("scratch that").starts_with("Taken back: the value for 3 nuts."));
}

/// What the program says in between is no answer to its question, and neither is what is said over it.
#[test]
fn behind_every_reply_the_question_has_to_be_heard_again() {
    let jobs = tempfile::tempdir().unwrap();
    let page = values::parse("values.toml", include_str!("../docs/values.toml")).unwrap();
    let shelf = Shelf::new(vec![("values.toml".to_owned(), page)]).unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), shelf);
    mechanic.tell(&["on its wheels", "took out a bolt"]);
    for phrase in ["what came off", "say again", "value for the gearbox mount rear", "what can i say", "talk slower"] {
        mechanic.say(phrase);
        assert!(!mechanic.name_early("Lower mount").recorded && mechanic.expects_name(), "{phrase}");
    }
    mechanic.tell(&["no name", "that is everything", "yes please", "no value in the book"]);
    assert_eq!(mechanic.question(), Some(Question::New(1)));
    mechanic.say("value for the gearbox mount rear");
    assert!(!mechanic.say_early("yes please").recorded);
    assert_eq!(mechanic.question(), Some(Question::New(1)));
}

#[test]
fn a_name_comes_soon_and_is_written_by_the_second_listener() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), Shelf::default());
    mechanic.tell(&["on its wheels", "took out a bolt"]);
    let late = words(&mechanic.name_after(25_000, "And now the weather"));
    assert_eq!(late, "That came too late for a name. To name it, say: another name.");
    let later = mechanic.name_after(30_000, "And now the weather");
    assert!(later.sentences.is_empty() && !later.recorded && mechanic.expects_name());
    assert_eq!(mechanic.say("another name"), "Now its name, or: no name.");
    // What only the first listener heard, or nobody.
    for written in [None, Some("")] {
        mechanic.talk.own_words(sound(1));
        assert!(!mechanic.hear(&said(None, None, "what the other", written)).recorded);
        assert!(mechanic.expects_name(), "{written:?}");
    }
    mechanic.say("say again");
    assert!(mechanic.name("Lower mount", &sound(1)).recorded);
}

/// "No name" that is said at once is heard beside the question's own words, and is asked for again.
#[test]
fn a_quick_answer_in_the_questions_words_brings_the_question_again() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), Shelf::default());
    mechanic.tell(&["on its wheels", "took out a bolt"]);
    mechanic.talk.own_words(sound(1));
    let heard = said(None, None, "no name", Some("No name."));
    let told = words(&mechanic.hear(&heard));
    assert!(told.ends_with("Now its name, or: no name."), "{told}");
    // Not for ever: it may be its echo.
    assert!(!words(&mechanic.hear(&heard)).ends_with("no name."));
    assert_eq!(mechanic.say("no name"), "No name.");
}

#[test]
fn while_it_does_not_listen_only_the_word_to_begin_again_counts() {
    let jobs = tempfile::tempdir().unwrap();
    let mut mechanic = Mechanic::begin(jobs.path(), Shelf::default());
    mechanic.tell(&["on its wheels", "took out a bolt", "stop listening"]);
    mechanic.tell(&["no name", "took out two bolts"]);
    assert!(!mechanic.name("Pump", &sound(1)).recorded);
    assert_eq!(mechanic.talk.log().entries().len(), 2);
    mechanic.say("start listening");
    assert_eq!(mechanic.say("no name"), "No name.");
}

/// A journal tells the same log again, whatever its names are.
#[test]
fn names_replay() {
    let mut log = StripLog::new("Water pump");
    let name = Name::Sound { file: "names/name-001.wav".into(), milliseconds: 900, draft: None };
    let jobs = tempfile::tempdir().unwrap();
    let mut folder = StripFolder::begin(jobs.path(), "Water pump", None, At(0)).unwrap();
    for command in [Command::OnWheels, Command::HungUp, Command::Name(name), Command::Rename] {
        assert!(log.apply(command.clone(), At(1)).recorded);
        folder.append(&command, At(1)).unwrap();
    }
    let path = folder.path().to_owned();
    drop(folder);
    let (_, again, torn) = StripFolder::open(&path).unwrap();
    assert_eq!((again.entries(), again.question(), torn), (log.entries(), log.question(), false));
    assert!(matches!(log.entries()[1].name, Some(Name::Sound { milliseconds: 900, draft: None, .. })));
    let long = Name::Sound { file: "names/name-002.wav".into(), milliseconds: 9_000, draft: None };
    assert!(!log.apply(Command::Name(long), At(2)).recorded);
}

fn recording(file: &str) -> Vec<i16> {
    wrenchside::listen::read_sound(&Path::new("audio-fixtures").join(file)).unwrap()
}

/// One recording after the other in one file, as somebody says them who has listened.
fn told(path: &Path, files: &[&str]) {
    let spec =
        hound::WavSpec { channels: 1, sample_rate: RATE, bits_per_sample: 16, sample_format: hound::SampleFormat::Int };
    let mut writer = hound::WavWriter::create(path, spec).unwrap();
    for file in files {
        let silence = std::iter::repeat_n(0, RATE as usize * 4);
        recording(file).into_iter().chain(silence).for_each(|sample| writer.write_sample(sample).unwrap());
    }
    writer.finalize().unwrap();
}

/// The command itself, told by a recording, and taken up again by another.
#[test]
fn it_is_told_by_recordings_and_taken_up_again() {
    let folder = tempfile::tempdir().unwrap();
    let jobs = folder.path().join("jobs");
    let run = |arguments: &[&str], files: &[&str]| {
        let wav = folder.path().join("told.wav");
        told(&wav, files);
        let output = wrenchside()
            .arg("--jobs")
            .arg(&jobs)
            .args(arguments)
            .arg("--wav")
            .arg(&wav)
            .arg("--out")
            .arg(folder.path().join("said.wav"))
            .output()
            .unwrap();
        let shown = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(output.status.success(), "{shown}{}", String::from_utf8_lossy(&output.stderr));
        shown
    };
    let shown = run(
        &["strip", "Water pump"],
        &[
            "strip/joe-stand-in-place.flac",
            "strip/joe-sill-left.flac",
            "strip/joe-took-out-two-bolts-thirteen-millimetre.flac",
            // It was asked back.
            "clean/joe-yes-please.flac",
            "strip/joe-water-pump-lower.flac",
        ],
    );
    assert!(
        shown.contains("Out: 2 bolts, 13 mm.") && shown.contains("To go on: wrenchside resume water-pump-"),
        "{shown}"
    );
    let kept: PathBuf = fs::read_dir(&jobs).unwrap().next().unwrap().unwrap().path().join("names");
    assert_eq!(fs::read_dir(&kept).unwrap().count(), 2, "{shown}");
    let shown = run(&["resume"], &["strip/joe-what-came-off.flac"]);
    assert!(shown.contains("Resuming: Water pump.") && shown.contains("Told so far: 2 bolts, 13 mm, "), "{shown}");
}
