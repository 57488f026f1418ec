//! A job that is put down within hearing: nothing but what takes it up again is listened for, and that at next to no cost.

#[path = "common/ears.rs"]
mod ears;
#[path = "common/talk.rs"]
mod talk;

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use ears::{Second, listener, sound, speech};
use talk::talk;
use wrenchside::dialogue::{Language, Manner, Meaning};
use wrenchside::glance::Board;
use wrenchside::job::{At, Command};
use wrenchside::listen::{Harm, Hypothesis, ListenError, Phrase, Utterance};
use wrenchside::session::live::Input;
use wrenchside::session::{
    Choice, Conversation, Delivery, Ear, Habits, Scene, Screen, Shown, Source, Talker, Turn, Ways, run,
};

fn heard(talk: &mut Conversation, phrase: Option<&str>, nearly: Option<&str>, at: i64) -> Turn {
    let said = Utterance {
        phrase: phrase.map(str::to_owned),
        nearly: nearly.map(str::to_owned),
        heard: Hypothesis { text: phrase.or(nearly).unwrap_or_default().into(), confidence: 1.0 },
        judgement: None,
        written: None,
        own: None,
        began: 0,
        ended: 0,
        decided: 0,
        thinking: Duration::ZERO,
    };
    talk.announced(At(at - 1));
    talk.hear(&said, At(at), At(at)).unwrap()
}

fn words(turn: &Turn) -> String {
    turn.sentences.iter().map(|sentence| sentence.written.as_str()).collect::<Vec<_>>().join(" ")
}

/// Put down, and waiting.
fn waiting(jobs: &std::path::Path) -> Conversation {
    let mut talk = talk(jobs);
    let turn = talk.command(Command::Pause, At(10)).unwrap();
    assert!(turn.over);
    let turn = talk.wait(&turn);
    assert!(!turn.over && words(&turn).ends_with("To go on, say: carry on."), "{}", words(&turn));
    talk
}

#[test]
fn only_what_takes_it_up_again_is_listened_for() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = waiting(jobs.path());
    let harmful: Vec<Phrase> = talk.phrases().into_iter().filter(|phrase| phrase.harm != Harm::Decoy).collect();
    assert_eq!(harmful, [Phrase { text: "carry on".into(), harm: Harm::Moves }]);
    for phrase in ["next step", "yes please", "stage complete", "take a break", "don't carry on"] {
        assert_eq!(heard(&mut talk, Some(phrase), None, 20), Turn::default(), "{phrase}");
    }
    assert!(words(&talk.read("next step", At(21)).unwrap()).contains("carry on"));
    assert!(talk.is_waiting() && talk.job().is_paused());
    let turn = heard(&mut talk, Some("carry on"), None, 30);
    assert!(words(&turn).starts_with("Resuming"), "{}", words(&turn));
    assert!(turn.recorded && !talk.is_waiting() && !talk.job().is_paused());
    // It means what it always means again.
    assert_eq!(heard(&mut talk, Some("carry on"), None, 60_000).meaning, Some(Meaning::Command(Command::Next)));
}

struct Nobody;

impl Screen for Nobody {
    fn heard(&mut self, _utterance: &Utterance) {}
    fn turn(&mut self, _turn: &Turn, _job: &Shown) {}
    fn notice(&mut self, _text: &str) {}
}

#[test]
fn the_page_tells_what_it_waits_for() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = talk(jobs.path());
    let (page, seen) = tokio::sync::watch::channel(String::new());
    let mut nobody = Nobody;
    let mut board = Board::new(&mut nobody, Language::english(), Manner::default(), true, page);
    let turn = talk.command(Command::Pause, At(10)).unwrap();
    let turn = talk.wait(&turn);
    board.stands(&Scene::of(&talk));
    board.turn(&turn, &Shown::of(talk.job()));
    assert!(seen.borrow().contains("Say “carry on”"), "{}", *seen.borrow());
    let turn = heard(&mut talk, Some("carry on"), None, 20);
    board.stands(&Scene::of(&talk));
    board.turn(&turn, &Shown::of(talk.job()));
    assert!(seen.borrow().contains("Listening"), "{}", *seen.borrow());
}

#[test]
fn in_doubt_it_is_asked_back() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = waiting(jobs.path());
    let turn = heard(&mut talk, None, Some("carry on"), 20);
    assert_eq!(words(&turn), "Did you say: carry on?");
    assert!(talk.job().is_paused());
    assert!(!heard(&mut talk, Some("no thanks"), None, 30).recorded);
    assert!(talk.job().is_paused());
    heard(&mut talk, None, Some("carry on"), 40);
    let yes = Language::english();
    let yes = yes.grammar(&talk.expects().0, true);
    let yes = yes.iter().find(|(_, meaning)| *meaning == Some(&Meaning::Command(Command::Yes))).unwrap().0;
    assert!(heard(&mut talk, Some(yes), None, 50).recorded);
    assert!(!talk.job().is_paused());
}

#[test]
fn the_second_listener_is_asked_only_about_a_command() {
    let asked = Arc::new(AtomicUsize::new(0));
    let mut listener = listener(Some(Box::new(Second { likes: true, asked: asked.clone() })));
    let phrases = [("say again", Harm::Decoy), ("go back", Harm::Moves), ("go back twice", Harm::Decoy)];
    listener.listen_for(&phrases.map(|(text, harm)| Phrase { text: text.into(), harm })).unwrap();
    listener.rest(true);
    let talk = [speech("say again"), sound("", 1_000), speech("twice"), sound("", 1_000)].concat();
    assert_eq!(listener.push(&talk).unwrap(), None);
    assert_eq!(asked.load(Ordering::Relaxed), 0);
    let said = listener.push(&[speech("go back"), sound("", 1_000)].concat()).unwrap().unwrap();
    assert_eq!(said.phrase.as_deref(), Some("go back"));
    assert_eq!(asked.load(Ordering::Relaxed), 1);
}

/// A microphone that brings nothing, or fails.
struct Dead(bool);

impl Source for Dead {
    fn read(&mut self) -> Result<Option<Vec<i16>>, ListenError> {
        let lost = ListenError::Engine { engine: "microphone", reason: "gone".into() };
        if self.0 { Err(lost) } else { Ok(Some(Vec::new())) }
    }
    fn is_live(&self) -> bool {
        true
    }
}

/// Keeps what is said.
#[derive(Default)]
struct Told(Vec<String>);

impl Screen for Told {
    fn heard(&mut self, _utterance: &Utterance) {}
    fn turn(&mut self, turn: &Turn, _job: &Shown) {
        self.0.push(words(turn));
    }
    fn told(&mut self, turn: &Turn) {
        self.0.push(words(turn));
    }
    fn notice(&mut self, _text: &str) {}
}

fn session(talk: &mut dyn Talker, fails: bool, pause: Duration) -> (bool, Vec<String>) {
    let input = Input::Sound(Box::new(Ear::new(listener(None))), Box::new(Dead(fails)));
    let mut screen = Told::default();
    let habits = Habits { headset: true, pause };
    let ended = run(talk, &Turn::default(), input, Ways::default(), None, habits, &mut screen);
    (ended.is_ok(), screen.0)
}

#[test]
fn it_says_when_it_has_waited_for_too_long() {
    let jobs = tempfile::tempdir().unwrap();
    let (well, told) = session(&mut waiting(jobs.path()), false, Duration::from_millis(50));
    assert!(well && told.last().unwrap().starts_with("I have stopped listening."), "{told:?}");
}

/// Nobody chooses the next job: the microphone is not left open without end.
#[test]
fn a_choice_that_nobody_makes_ends_as_a_break_does() {
    let nothing = Box::new(|_, _, _| panic!("nobody chose it"));
    let mut choice = Choice::new(Language::english(), Delivery::default(), vec!["Look".to_owned()], nothing);
    let (well, told) = session(&mut choice, false, Duration::from_millis(50));
    assert!(well && told.last().unwrap().starts_with("I have stopped listening."), "{told:?}");
}

#[test]
fn a_session_that_has_to_stop_does_not_wait() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = talk(jobs.path());
    talk.command(Command::Pause, At(10)).unwrap();
    let (well, told) = session(&mut talk, true, Duration::from_secs(3_600));
    assert!(!well && !talk.is_waiting());
    assert!(told.last().unwrap().starts_with("I have to stop.") && !told.concat().contains("carry on"), "{told:?}");
}
