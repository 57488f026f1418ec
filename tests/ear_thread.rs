//! The ear on its own thread: what it hears keeps its order and its place whatever it waits for, what does not fit is told, and
//! nobody waits for it.

#[path = "common/ears.rs"]
mod ears;
#[path = "common/talk.rs"]
mod talk;

use std::cell::Cell;
use std::collections::VecDeque;
use std::future::Future;
use std::rc::Rc;
use std::sync::mpsc::{self, Receiver, Sender};
use std::time::{Duration, Instant};

use ears::{Loud, Reader, listener, sound, speech};
use talk::talk;
use tempfile::TempDir;
use wrenchside::dialogue::{Language, Notice, Sentence};
use wrenchside::job::{At, Expect};
use wrenchside::listen::{
    Harm, Judge, JudgeThread, Judgement, ListenError, Listener, Meter, Phrase, RATE, Recogniser, Utterance, Word,
};
use wrenchside::own_voice::{Profile, ProfileError};
use wrenchside::session::ear::Recording;
use wrenchside::session::ear_thread::{Heard, Piece, Told};
use wrenchside::session::lesson_loop::Desk;
use wrenchside::session::live::Input;
use wrenchside::session::notes::{self, Became};
use wrenchside::session::overhear::Cleaner;
use wrenchside::session::tryout::{Panel, Tried, TryOut};
use wrenchside::session::{
    Conversation, Delivery, Ear, EarThread, Habits, Learning, Screen, Shown, Source, Turn, learn, run,
};
use wrenchside::speak::Tone;

/// What a live source brings at a time.
const PIECE: usize = RATE as usize / 10;

struct Bay {
    talk: Conversation,
    ear: EarThread,
    _jobs: TempDir,
}

impl Bay {
    fn new(listener: Listener, cleaner: Option<Box<dyn Cleaner>>) -> Bay {
        let jobs = tempfile::tempdir().unwrap();
        let talk = talk(jobs.path());
        let mut ear = EarThread::start(Ear::new(listener), cleaner, true, At(0)).unwrap();
        ear.attune(&talk, "");
        Bay { talk, ear, _jobs: jobs }
    }

    /// Hands sound over as it would come, but as fast as it can be; gives what was told of room.
    fn hear(&mut self, samples: &[i16], voiced: bool) -> Vec<Option<Notice>> {
        let pieces = samples.chunks(PIECE).map(|piece| Piece { samples: piece.to_vec(), voiced, ..Piece::default() });
        pieces.filter_map(|piece| self.ear.hear(piece)).map(|trouble| trouble.notice).collect()
    }

    fn next(&mut self) -> Told {
        soon(self.ear.next()).expect("it tells something")
    }

    fn heard(&mut self) -> Box<Heard> {
        match self.next() {
            Told::Heard(heard) => heard,
            Told::Trouble(trouble) => panic!("{trouble:?}"),
            Told::Failed(error) => panic!("{error}"),
            Told::NoteOver | Told::Done => panic!("nothing was heard"),
        }
    }

    /// All that is heard up to this phrase, and what is told of what is not heard.
    fn all_to(&mut self, last: &str) -> Vec<Result<String, Notice>> {
        let mut all = Vec::new();
        while !all.contains(&Ok(last.to_owned())) {
            let heard = match self.next() {
                Told::Heard(heard) => heard,
                Told::Trouble(trouble) => {
                    all.push(Err(trouble.notice.unwrap_or_else(|| panic!("{trouble:?}"))));
                    continue;
                }
                _ => panic!("nothing was heard"),
            };
            all.extend(heard.said.phrase.clone().map(Ok));
            let became = self.answer(&heard);
            self.ear.answered(became, &self.talk, "");
        }
        all
    }

    fn answer(&mut self, heard: &Heard) -> Became {
        let (_, became) = notes::answer(&mut self.talk, self.ear.note(), &heard.said, At(0), At(0)).unwrap();
        became
    }
}

/// Waits for it, but not for ever.
fn soon<T>(what: impl Future<Output = T>) -> Option<T> {
    within(Duration::from_secs(10), what)
}

fn within<T>(time: Duration, what: impl Future<Output = T>) -> Option<T> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build().unwrap();
    runtime.block_on(async { tokio::time::timeout(time, what).await.ok() })
}

fn phrase(heard: &Heard) -> Option<&str> {
    heard.said.phrase.as_deref()
}

fn said(words: &str) -> Vec<i16> {
    [speech(words), sound("", 1_000)].concat()
}

#[test]
fn sound_after_an_utterance_is_heard_with_what_may_be_said_after_its_turn() {
    let mut bay = Bay::new(listener(None), None);
    bay.hear(&said("go back"), false);
    // Taken in with the old phrases, and behind it what no longer listens for them.
    bay.hear(&said("say again"), false);
    let first = bay.heard();
    assert_eq!(phrase(&first), Some("go back"));
    assert!(within(Duration::from_millis(100), bay.ear.next()).is_none(), "it waits for what became of it");
    let became = bay.answer(&first);
    bay.talk.read("stop listening", At(1)).unwrap();
    bay.ear.answered(became, &bay.talk, "");
    let second = bay.heard();
    assert_eq!((second.said.heard.text.as_str(), phrase(&second)), ("say again", None), "it is a decoy now");
}

#[test]
fn sound_that_waits_keeps_what_the_voice_was_saying_in_it() {
    let mut bay = Bay::new(listener(None), None);
    bay.hear(&said("go back"), false);
    // The voice says these words from here on, and is silent again before the answer.
    bay.ear.attune(&bay.talk, "say again");
    bay.hear(&said("say again"), false);
    bay.ear.attune(&bay.talk, "");
    let first = bay.heard();
    let became = bay.answer(&first);
    bay.ear.answered(became, &bay.talk, "");
    let echo = bay.heard();
    assert_eq!((echo.said.heard.text.as_str(), phrase(&echo)), ("say again", None), "it may be the voice");
    let became = bay.answer(&echo);
    bay.ear.answered(became, &bay.talk, "");
    bay.ear.attune(&bay.talk, "");
    bay.hear(&said("say again"), false);
    assert_eq!(phrase(&bay.heard()), Some("say again"), "the voice has fallen silent before it");
}

/// A second listener that does not come back before it is let go.
struct Stuck(Receiver<()>);

impl Judge for Stuck {
    fn judge(&mut self, _samples: &[f32], _phrases: &[Phrase]) -> Result<Judgement, ListenError> {
        let _ = self.0.recv();
        Err(ListenError::Engine { engine: "second listener", reason: "it was away".into() })
    }
}

fn stuck() -> (Bay, Sender<()>) {
    let (go, wait) = mpsc::channel();
    (Bay::new(listener(Some(Box::new(Stuck(wait)))), None), go)
}

/// The same, loaded behind and soon given up.
fn hung() -> (Sender<()>, JudgeThread<Stuck>) {
    let (go, wait) = mpsc::channel();
    let hangs = JudgeThread::load(move || Ok(Stuck(wait))).unwrap().patient(Duration::from_millis(100));
    while !hangs.is_there() {
        std::thread::sleep(Duration::from_millis(1));
    }
    (go, hangs)
}

#[test]
fn a_listener_that_hangs_holds_nobody_up() {
    let (mut bay, _go) = stuck();
    bay.hear(&said("say again"), false);
    let limit = Instant::now() + Duration::from_secs(10);
    while !bay.ear.speaking() {
        assert!(Instant::now() < limit, "it notices that somebody speaks");
        std::thread::sleep(Duration::from_millis(1));
    }
    let began = Instant::now();
    bay.hear(&sound("", 60_000), false);
    assert!(bay.ear.speaking());
    drop(bay);
    assert!(began.elapsed() < Duration::from_millis(300), "{:?}", began.elapsed());
}

#[test]
fn what_does_not_fit_is_told_once_and_counted() {
    let (mut bay, go) = stuck();
    let first = said("say again");
    bay.hear(&first, false);
    assert_eq!(bay.hear(&sound("", 60_000), false), [Some(Notice::HearingLost)]);
    drop(go);
    let became = {
        let heard = bay.heard();
        bay.answer(&heard)
    };
    bay.ear.answered(became, &bay.talk, "");
    let mut given = first.len() + RATE as usize * 60;
    let mut told = Vec::new();
    while told.is_empty() {
        told = bay.hear(&[0; PIECE], false);
        given += PIECE;
        std::thread::sleep(Duration::from_millis(1));
    }
    assert_eq!(told, [Some(Notice::HearingBack)]);
    // Up to the next silence it might be half of something.
    let pause = sound("", 600);
    bay.hear(&pause, false);
    given += pause.len();
    let at = At(1_000_000);
    let words = said("say again");
    let middle = words.len() / PIECE * PIECE;
    for piece in words[..middle].chunks(PIECE) {
        assert!(bay.ear.hear(Piece { samples: piece.to_vec(), at, ..Piece::default() }).is_none());
    }
    let heard = bay.heard();
    let from = heard.said.began.abs_diff(given as u64);
    assert!(from < u64::from(RATE) / 20, "{from} samples from where it was said");
    // The moments are those of the last piece that was taken.
    assert!((at.0 - 2_000..=at.0).contains(&heard.moment(heard.said.began).0));
}

#[test]
fn words_are_not_put_together_across_a_gap() {
    let (mut bay, go) = stuck();
    bay.hear(&said("say again"), false);
    // Fills the room to its last second, and then "go", whose end is lost.
    bay.hear(&sound("", 12_000), false);
    bay.hear(&[speech("go"), sound("go", 60_000)].concat(), false);
    drop(go);
    let heard = bay.heard();
    let became = bay.answer(&heard);
    bay.ear.answered(became, &bay.talk, "");
    while bay.hear(&[0; PIECE / 10], false).is_empty() {
        std::thread::sleep(Duration::from_millis(1));
    }
    bay.hear(&said("back"), false);
    bay.hear(&said("say again"), false);
    // "Go" was cut off by what is told already; who said "back" behind it waits for an answer.
    assert_eq!(bay.all_to("say again"), [Err(Notice::Unheard), Ok("say again".into())]);
}

#[test]
fn a_gap_in_the_sound_is_no_bridge_and_is_counted() {
    let mut bay = Bay::new(listener(None), None);
    bay.hear(&speech("go"), false);
    let gap = RATE as usize * 5;
    bay.ear.hear(Piece { samples: speech("back"), gap: Some(gap), ..Piece::default() });
    let pause = sound("", 1_000);
    bay.hear(&pause, false);
    let given = speech("go back").len() + gap + pause.len();
    bay.hear(&said("say again"), false);
    assert!(matches!(bay.next(), Told::Trouble(trouble) if trouble.notice == Some(Notice::Unheard)));
    let heard = bay.heard();
    assert_eq!(phrase(&heard), Some("say again"));
    assert!(heard.said.began.abs_diff(given as u64) < u64::from(RATE) / 20);
}

/// A hole in the sound at every place between the pieces of what is said, and what may be said told anew at every other.
#[test]
fn wherever_a_hole_comes_no_half_is_heard() {
    let pieces = [speech("go"), speech("back"), sound("", 1_000)];
    for hole in 0..=pieces.len() {
        for anew in 0..=pieces.len() {
            let mut listener = listener(None);
            let mut heard = Vec::new();
            for (n, piece) in pieces.iter().enumerate() {
                if hole == n {
                    listener.skip(100).unwrap();
                }
                if anew == n {
                    let phrases = ["back", "go back", "go"].map(|text| Phrase { text: text.into(), harm: Harm::Moves });
                    listener.listen_for(&phrases).unwrap();
                }
                let mut said = listener.push(piece).unwrap();
                while let Some(utterance) = said {
                    heard.extend(utterance.phrase);
                    said = listener.push(&[]).unwrap();
                }
            }
            let whole: &[&str] = if hole == pieces.len() { &["go back"] } else { &[] };
            assert_eq!(heard, whole, "hole {hole}, anew {anew}");
        }
    }
}

/// What is told of words that a hole in the sound cut off, or may have swallowed.
#[test]
fn what_could_not_be_heard_is_told_once_nobody_speaks() {
    let hole = |samples| Some(samples);
    // What comes ahead of the hole, how long that is, what comes behind it, whether it is told, and whether by the voice.
    let cases = [
        ("in the middle", speech("go"), hole(0), speech("back"), Some(true)),
        ("at the end", speech("go back"), hole(0), sound("", 100), Some(true)),
        ("at the beginning", sound("", 500), hole(100), speech("go back"), Some(true)),
        ("a whole answer may be in it", sound("", 500), hole(RATE as usize / 5), sound("", 100), Some(true)),
        ("no answer goes into it", sound("", 500), hole(RATE as usize / 8), sound("", 100), Some(false)),
        ("none", speech("go back"), None, sound("", 100), None),
    ];
    for voiced in [false, true] {
        for (case, ahead, gap, behind, lost) in &cases {
            let mut bay = Bay::new(listener(None), None);
            bay.hear(ahead, voiced);
            bay.ear.hear(Piece { samples: behind.clone(), gap: *gap, voiced, ..Piece::default() });
            bay.hear(&sound("", 1_000), voiced);
            bay.hear(&said("say again"), voiced);
            if *lost == Some(true) {
                let Told::Trouble(trouble) = bay.next() else { panic!("{case}: it tells") };
                assert_eq!(trouble.notice, Some(Notice::Unheard), "{case}, under the voice: {voiced}");
                assert!(trouble.reason.is_some(), "{case}");
            }
            let whole: &[_] = if lost.is_none() { &[Ok("go back".into())] } else { &[] };
            assert_eq!(bay.all_to("say again"), [whole, &[Ok("say again".into())]].concat(), "{case}");
        }
    }
}

/// A radio beside a microphone with holes in its sound, and a machine that cannot keep up while it speaks.
#[test]
fn what_could_not_be_heard_is_said_once_until_something_is_understood() {
    let mut bay = Bay::new(listener(None), None);
    let hole = |bay: &mut Bay| {
        bay.hear(&speech("go"), false);
        bay.ear.hear(Piece { samples: said("back"), gap: Some(0), ..Piece::default() });
        let Told::Trouble(trouble) = bay.next() else { panic!("it tells") };
        assert!(trouble.reason.is_some());
        trouble.notice
    };
    assert_eq!([(); 3].map(|()| hole(&mut bay)), [Some(Notice::Unheard), None, None]);
    bay.hear(&said("say again"), false);
    assert_eq!(bay.all_to("say again"), [Ok("say again".into())]);
    assert_eq!([(); 2].map(|()| hole(&mut bay)), [Some(Notice::Unheard), None]);
}

#[test]
fn a_hole_that_is_told_is_told_once_and_nobody_is_missed_who_was_asked_not_to_be_heard() {
    let mut bay = Bay::new(listener(None), None);
    bay.hear(&sound("", 500), false);
    bay.ear.hear(Piece { samples: sound("", 1_000), gap: Some(RATE as usize * 9), told: true, ..Piece::default() });
    bay.hear(&said("say again"), false);
    assert_eq!(bay.all_to("say again"), [Ok("say again".into())]);
    bay.talk.read("stop listening", At(1)).unwrap();
    bay.ear.attune(&bay.talk, "");
    bay.hear(&speech("go"), false);
    bay.ear.hear(Piece { samples: said("back"), gap: Some(0), ..Piece::default() });
    bay.hear(&said("say again"), false);
    assert_eq!(phrase(&bay.heard()), None, "it is a decoy now");
}

/// Dies once, and what is there in its place finds no words in what was being said.
#[derive(Default)]
struct Reborn {
    reader: Reader,
    died: bool,
    ended: bool,
}

impl Recogniser for Reborn {
    fn listen_for(&mut self, phrases: &[Phrase]) -> Result<(), ListenError> {
        self.reader.listen_for(phrases)
    }
    fn accept(&mut self, chunk: &[i16]) -> Result<String, ListenError> {
        if !std::mem::replace(&mut self.died, true) {
            return Err(ListenError::Died { how: "it gave no answer".into() });
        }
        self.reader.accept(chunk)
    }
    fn finish(&mut self) -> Result<Vec<Word>, ListenError> {
        let words = self.reader.finish()?;
        Ok(if std::mem::replace(&mut self.ended, true) { words } else { Vec::new() })
    }
}

#[test]
fn what_a_recogniser_that_died_took_with_it_is_told() {
    for words in ["hum", "go back"] {
        let mut bay = Bay::new(Listener::with_activity(Box::<Reborn>::default(), None, Box::new(Loud)), None);
        bay.hear(&said(words), false);
        let Told::Trouble(trouble) = bay.next() else { panic!("it tells that {words} is lost") };
        assert_eq!(trouble.notice, Some(Notice::Misheard));
        bay.hear(&said("say again"), false);
        assert_eq!(phrase(&bay.heard()), Some("say again"), "and is told once");
    }
}

/// A microphone that brings these pieces, each behind a gap or not, and falls silent until the session has heard the last.
struct Holed(VecDeque<(Vec<i16>, Option<usize>)>, Option<usize>, Rc<Cell<bool>>, Instant);

impl Source for Holed {
    fn read(&mut self) -> Result<Option<Vec<i16>>, ListenError> {
        let Some((samples, gap)) = self.0.pop_front() else {
            let over = self.2.get() || self.3.elapsed() > Duration::from_secs(10);
            return Ok((!over).then(Vec::new));
        };
        self.1 = gap;
        Ok(Some(samples))
    }
    fn gap(&mut self) -> Option<usize> {
        self.1.take()
    }
    fn is_live(&self) -> bool {
        true
    }
}

/// Keeps what is heard, and what is told.
struct Kept(Vec<Option<String>>, Rc<Cell<bool>>, Vec<String>);

impl Screen for Kept {
    fn heard(&mut self, utterance: &Utterance) {
        self.0.push(utterance.phrase.clone());
        self.1.set(utterance.phrase.as_deref() == Some("say again"));
    }
    fn turn(&mut self, turn: &Turn, _job: &Shown) {
        self.2.extend(turn.sentences.iter().map(|sentence| sentence.written.clone()));
    }
    fn notice(&mut self, _text: &str) {}
}

#[test]
fn a_session_puts_nothing_together_across_a_hole_of_its_microphone() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = talk(jobs.path());
    let pieces = [(speech("go"), None), (speech("back"), Some(0)), (sound("", 1_000), None), (said("say again"), None)];
    let over = Rc::new(Cell::new(false));
    let source = Holed(pieces.into(), None, over.clone(), Instant::now());
    let input = Input::Sound(Box::new(Ear::new(listener(None))), Box::new(source));
    let habits = Habits { headset: false, pause: Duration::ZERO };
    let mut screen = Kept(Vec::new(), over, Vec::new());
    run(&mut talk, &Turn::default(), input, wrenchside::session::Ways::default(), None, habits, &mut screen).unwrap();
    assert_eq!(screen.0, [Some("say again".into())]);
    let told = screen.2.iter().filter(|told| *told == "I could not hear you for a moment.");
    assert_eq!(told.count(), 1, "{:?}", screen.2);
}

/// Keeps what is said, and fails when something is heard.
#[derive(Default)]
struct Torn(Vec<String>, Option<Tone>);

impl Screen for Torn {
    fn heard(&mut self, _utterance: &Utterance) {
        panic!("no such colour");
    }
    fn turn(&mut self, turn: &Turn, _job: &Shown) {
        self.1 = turn.tone;
        self.0.extend(turn.sentences.iter().map(|sentence| sentence.written.clone()));
    }
    fn notice(&mut self, _text: &str) {}
}

#[test]
fn a_fault_of_the_session_itself_is_told_before_it_ends() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = talk(jobs.path());
    let input = Input::Sound(Box::new(Ear::new(listener(None))), Box::new(Recording::new(said("say again"))));
    let habits = Habits { headset: false, pause: Duration::ZERO };
    let mut screen = Torn::default();
    let ended =
        run(&mut talk, &Turn::default(), input, wrenchside::session::Ways::default(), None, habits, &mut screen);
    assert!(ended.unwrap_err().to_string().contains("no such colour"));
    assert!(screen.0.iter().any(|said| said.starts_with("I have to stop.")), "{:?}", screen.0);
    assert_eq!(screen.1, Some(Tone::ListeningOff));
}

/// Fails as the library of the canceller might.
struct Broken(bool);

impl Cleaner for Broken {
    fn clean(&mut self, _heard: &[i16], _played: &[i16], _speaking: bool) -> Result<Vec<i16>, ListenError> {
        assert!(!self.0, "out of range");
        Err(ListenError::Engine { engine: "the echo canceller", reason: "bad stream".into() })
    }
}

#[test]
fn without_the_canceller_nothing_is_heard_under_the_voice_and_all_else_is() {
    for panics in [false, true] {
        let mut bay = Bay::new(listener(None), Some(Box::new(Broken(panics))));
        bay.hear(&said("go back"), true);
        let Told::Trouble(trouble) = bay.next() else { panic!("it tells that the canceller is lost") };
        assert_eq!(trouble.notice, Some(Notice::EchoLost));
        assert!(trouble.reason.is_some_and(|reason| reason.contains(if panics {
            "out of range"
        } else {
            "bad stream"
        })));
        bay.hear(&sound("", 600), false);
        bay.hear(&said("say again"), false);
        assert_eq!(phrase(&bay.heard()), Some("say again"));
    }
}

#[test]
fn what_is_half_under_the_voice_is_not_heard_by_halves() {
    for begun_under_it in [true, false] {
        let mut bay = Bay::new(listener(None), Some(Box::new(Broken(false))));
        bay.hear(&sound("", 200), false);
        assert!(matches!(bay.next(), Told::Trouble(trouble) if trouble.notice == Some(Notice::EchoLost)));
        // "Go back say again" is no command, and neither half of it was one.
        bay.hear(&speech("go back"), begun_under_it);
        bay.hear(&speech("say again"), !begun_under_it);
        bay.hear(&sound("", 1_000), false);
        bay.hear(&said("go back"), false);
        bay.hear(&said("say again"), false);
        // What was said in the clear, and cut off by the voice or begun under it, is told.
        let all = [Err(Notice::Unheard), Ok("go back".into()), Ok("say again".into())];
        assert_eq!(bay.all_to("say again"), all, "{begun_under_it}");
    }
}

/// Reads well, except that it panics at the first so many sounds.
struct Frail(Reader, u32);

impl Recogniser for Frail {
    fn listen_for(&mut self, phrases: &[Phrase]) -> Result<(), ListenError> {
        self.0.listen_for(phrases)
    }
    fn accept(&mut self, chunk: &[i16]) -> Result<String, ListenError> {
        self.1 = self.1.saturating_sub(1);
        assert!(self.1 == 0, "index out of bounds");
        self.0.accept(chunk)
    }
    fn finish(&mut self) -> Result<Vec<Word>, ListenError> {
        self.0.finish()
    }
}

fn frail(times: u32) -> Bay {
    let recogniser = Frail(Reader::default(), times + 1);
    Bay::new(Listener::with_activity(Box::new(recogniser), None, Box::new(Loud)), None)
}

#[test]
fn a_fault_of_the_program_costs_what_was_being_said() {
    let mut bay = frail(1);
    bay.hear(&said("go back"), false);
    let Told::Trouble(trouble) = bay.next() else { panic!("it tells the fault") };
    assert_eq!(trouble.notice, Some(Notice::Misheard));
    assert!(trouble.reason.is_some_and(|reason| reason.contains("index out of bounds")));
    // What is left of "go back" is no command.
    bay.hear(&said("say again"), false);
    let heard = bay.heard();
    assert_eq!(phrase(&heard), Some("say again"));
    let from = heard.said.began.abs_diff(said("go back").len() as u64);
    assert!(from < u64::from(RATE) / 50, "{from} samples from where it was said");
}

/// Reads well, except that it panics when it is first told what to listen for.
struct Stiff(Reader, bool);

impl Recogniser for Stiff {
    fn listen_for(&mut self, phrases: &[Phrase]) -> Result<(), ListenError> {
        assert!(std::mem::replace(&mut self.1, true), "no such grammar");
        self.0.listen_for(phrases)
    }
    fn accept(&mut self, chunk: &[i16]) -> Result<String, ListenError> {
        self.0.accept(chunk)
    }
    fn finish(&mut self) -> Result<Vec<Word>, ListenError> {
        self.0.finish()
    }
}

#[test]
fn a_fault_does_not_cost_what_is_to_be_listened_for() {
    let recogniser = Box::new(Stiff(Reader::default(), false));
    let mut bay = Bay::new(Listener::with_activity(recogniser, None, Box::new(Loud)), None);
    assert!(matches!(bay.next(), Told::Trouble(trouble) if trouble.notice == Some(Notice::Misheard)));
    bay.hear(&[sound("", 600), said("say again")].concat(), false);
    assert_eq!(phrase(&bay.heard()), Some("say again"));
}

#[test]
fn a_fault_that_comes_each_time_is_the_end_of_hearing_and_says_so() {
    let mut bay = frail(1_000);
    for _ in 0..3 {
        bay.hear(&said("go back"), false);
    }
    let failed = loop {
        match bay.next() {
            Told::Failed(error) => break error,
            Told::Trouble(_) => {}
            _ => panic!("nothing can be heard"),
        }
    };
    assert!(failed.to_string().contains("index out of bounds"), "{failed}");
}

#[test]
fn a_second_listener_that_hangs_is_told_and_the_session_hears_on() {
    let (_never, hangs) = hung();
    let mut bay = Bay::new(listener(Some(Box::new(hangs))), None);
    bay.hear(&said("say again"), false);
    let Told::Trouble(trouble) = bay.next() else { panic!("it tells that it hears less") };
    assert_eq!(trouble.notice, Some(Notice::SecondLost));
    let first = bay.heard();
    assert_eq!(phrase(&first), Some("say again"));
    let became = bay.answer(&first);
    bay.ear.answered(became, &bay.talk, "");
    bay.hear(&said("say again"), false);
    assert_eq!(phrase(&bay.heard()), Some("say again"), "told once");
}

/// Keeps what a lesson says, and counts it where the microphone can see that.
struct Lessons(Vec<String>, Rc<Cell<bool>>);

impl Desk for Lessons {
    fn heard(&mut self, _said: &Utterance) {}
    fn turn(&mut self, turn: &Turn) {
        self.0.extend(turn.sentences.iter().map(|sentence| sentence.written.clone()));
        self.1.set(self.0.len() > 2);
    }
    fn notice(&mut self, _text: &str) {}
    fn keep(&mut self, _profile: &Profile) -> Result<(), ProfileError> {
        panic!("nothing was learnt")
    }
}

#[test]
fn in_a_lesson_a_take_with_a_hole_in_it_is_asked_for_again_and_not_kept() {
    let language = Language::english();
    let grammar = language.grammar(&Expect::default(), true);
    let lesson = Learning::new(language, grammar, Profile::new("ann", "none", "none", "en"), 1);
    // A microphone that is lost in the middle of a phrase, and back for the rest of it.
    let pieces = [(speech("go"), None), (speech("back"), Some(RATE as usize)), (sound("", 1_000), None)];
    let over = Rc::new(Cell::new(false));
    let source = Holed(pieces.into(), None, over.clone(), Instant::now());
    let mut desk = Lessons(Vec::new(), over);
    learn(lesson, listener(None).keeping(), Box::new(source), None, Delivery::default(), &mut desk).unwrap();
    let asked = desk.0.iter().filter(|said| **said == desk.0[1]).count();
    assert_eq!(asked, 2, "{:?}", desk.0);
}

/// The whole of a lesson, kept in one place.
#[derive(Default)]
struct Desktop(Vec<String>);

impl Desk for Desktop {
    fn heard(&mut self, _said: &Utterance) {}
    fn turn(&mut self, _turn: &Turn) {}
    fn notice(&mut self, text: &str) {
        self.0.push(text.to_owned());
    }
    fn keep(&mut self, _profile: &Profile) -> Result<(), ProfileError> {
        panic!("nothing was learnt")
    }
}

#[test]
fn a_lesson_whose_second_listener_hangs_says_so_and_ends() {
    let language = Language::english();
    let grammar = language.grammar(&Expect::default(), true);
    let lesson = Learning::new(language, grammar, Profile::new("ann", "none", "none", "en"), 1);
    let (_never, hangs) = hung();
    let source = Holed([(said("go back"), None)].into(), None, Rc::default(), Instant::now());
    let mut desk = Desktop::default();
    let listener = listener(Some(Box::new(hangs))).keeping();
    let began = Instant::now();
    let ended = learn(lesson, listener, Box::new(source), None, Delivery::default(), &mut desk);
    // It has no other ear for what it learns, so it learns no more; the microphone would have gone on for ten seconds.
    let reason = ended.expect_err("it cannot go on").to_string();
    assert!(reason.contains("it does not answer any more"), "{reason}");
    assert!(began.elapsed() < Duration::from_secs(5), "{:?}", began.elapsed());
    assert!(desk.0.iter().any(|told| told.contains("the second listener has not answered")), "{:?}", desk.0);
}

/// Keeps what a trial shows.
#[derive(Default)]
struct Bench {
    taken: Vec<bool>,
    told: Vec<String>,
}

impl Panel for Bench {
    fn level(&mut self, _meter: &Meter) {}
    fn measured(&mut self, _meter: &Meter) {}
    fn asks(&mut self, _sentence: &Sentence) {}
    fn tried(&mut self, tried: &Tried) {
        self.taken.push(tried.taken());
    }
    fn notice(&mut self, text: &str) {
        self.told.push(text.to_owned());
    }
}

#[test]
fn a_trial_whose_second_listener_hangs_says_so_once_and_goes_on() {
    let (_never, hangs) = hung();
    let trial = TryOut {
        language: &Language::english(),
        listener: listener(Some(Box::new(hangs))),
        source: Box::new(Recording::new([said("say again"), said("go back")].concat())),
        voice: None,
        delivery: Delivery::default(),
    };
    let mut bench = Bench::default();
    let phrases = ["say again", "go back"].map(str::to_owned);
    assert_eq!(trial.run(0, &phrases, &mut bench).unwrap(), 2);
    assert_eq!(bench.taken, [true, true]);
    let [told] = &bench.told[..] else { panic!("{:?}", bench.told) };
    assert!(told.contains("the second listener has not answered"), "{told}");
}
