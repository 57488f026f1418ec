//! What takes long to load is loaded on a thread of its own: the first listener listens meanwhile, and nothing is said out of order,
//! decided by less than was promised, or lost.

#[path = "common/ears.rs"]
mod ears;
#[path = "common/talk.rs"]
mod talk;

use std::sync::mpsc::{self, Receiver, Sender};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use ears::{Second, listener, sound, speech};
use talk::talk;
use wrenchside::dialogue::{Sentence, Tone};
use wrenchside::job::At;
use wrenchside::listen::{
    FRAME, Hypothesis, Judge, JudgeThread, Judgement, ListenError, Listener, Phrase, Rule, Utterance,
};
use wrenchside::session::{Ear, Mouth, Order, Outlet, VoiceThread};
use wrenchside::speak::{SpeakError, Voice};

/// Keeps what it is given to say.
struct Diary(Arc<Mutex<Vec<String>>>);

impl Voice for Diary {
    fn rate(&self) -> u32 {
        8_000
    }
    fn say(&mut self, text: &str, _pace: f32) -> Result<Vec<f32>, SpeakError> {
        self.0.lock().unwrap().push(text.to_owned());
        Ok(vec![0.1; 80])
    }
}

fn order(text: &str) -> Order {
    let sentence = Sentence { spoken: text.into(), written: text.into(), signal: None, tone: Tone::Plain };
    Order { tone: None, sentences: vec![sentence], ..Order::default() }
}

#[test]
fn what_is_ordered_while_the_voice_loads_is_said_in_order() {
    let folder = tempfile::tempdir().unwrap();
    let said = Arc::new(Mutex::new(Vec::new()));
    let (loaded, wait) = mpsc::channel::<()>();
    let diary = Diary(said.clone());
    let load = move || {
        wait.recv().unwrap();
        Ok(Mouth::new(Box::new(diary), "diary", false))
    };
    // It comes back although the voice is not there, so that listening can begin.
    let voice = VoiceThread::start(load, Outlet::File(folder.path().join("said.wav"), 8_000)).unwrap();
    for text in ["One.", "Two.", "Three."] {
        voice.say(order(text));
    }
    assert!(voice.is_speaking() && !voice.has_failed());
    assert!(said.lock().unwrap().is_empty());
    loaded.send(()).unwrap();
    voice.finish().unwrap();
    assert_eq!(*said.lock().unwrap(), ["One.", "Two.", "Three."]);
}

#[test]
fn a_voice_that_cannot_be_loaded_is_told_by_its_own_error() {
    let folder = tempfile::tempdir().unwrap();
    let load = || Err(SpeakError::NotAVoice { path: "some/voice".into(), reason: "it has a cold".into() });
    let voice = VoiceThread::start(load, Outlet::File(folder.path().join("said.wav"), 8_000)).unwrap();
    voice.say(order("One."));
    while !voice.has_failed() {
        std::thread::sleep(Duration::from_millis(1));
    }
    assert_eq!(voice.finish().unwrap_err().to_string(), "some/voice: this is not a voice: it has a cold");
}

/// Panics at every text that says so.
struct Frail(Diary);

impl Voice for Frail {
    fn rate(&self) -> u32 {
        8_000
    }
    fn say(&mut self, text: &str, pace: f32) -> Result<Vec<f32>, SpeakError> {
        assert!(!text.contains("Trouble"), "no such phoneme");
        self.0.say(text, pace)
    }
}

#[test]
fn a_voice_with_a_fault_loses_what_it_cannot_say_and_tells_and_is_given_up_if_that_is_all() {
    let folder = tempfile::tempdir().unwrap();
    let said = Arc::new(Mutex::new(Vec::new()));
    let voice = |texts: &[&str]| {
        let frail = Frail(Diary(said.clone()));
        let load = move || Ok(Mouth::new(Box::new(frail), "frail", false));
        let voice = VoiceThread::start(load, Outlet::File(folder.path().join("said.wav"), 8_000)).unwrap();
        for text in texts {
            voice.say(order(text));
        }
        while voice.is_speaking() {
            std::thread::sleep(Duration::from_millis(1));
        }
        voice
    };
    let one = voice(&["Trouble one.", "Trouble two.", "Three."]);
    let told: Vec<_> = one.troubles().into_iter().filter_map(|trouble| trouble.reason).collect();
    assert!(told.len() == 2 && told.iter().all(|reason| reason.contains("no such phoneme")), "{told:?}");
    assert!(!one.has_failed());
    one.finish().unwrap();
    assert_eq!(*said.lock().unwrap(), ["Three."]);
    let all = voice(&["Trouble one.", "Trouble two.", "Trouble three.", "Four."]);
    assert!(all.has_failed());
    assert!(all.finish().unwrap_err().to_string().contains("no such phoneme"));
}

/// Half a second of speech, and a second of silence. Words that stand still for longer would end it before the silence.
fn speech_and_silence() -> (Vec<i16>, Vec<i16>) {
    (speech("say again"), sound("", 1_000))
}

/// One that likes nothing.
fn stern() -> Second {
    Second { likes: false, asked: Arc::default() }
}

/// A second listener whose loading waits for a word.
fn stern_on_a_thread(load: impl FnOnce() -> Result<Second, ListenError> + Send + 'static) -> (Listener, Sender<()>) {
    let (go, wait): (Sender<()>, Receiver<()>) = mpsc::channel();
    let judge = JudgeThread::load(move || {
        wait.recv().unwrap();
        load()
    });
    (listener(Some(Box::new(judge.unwrap()))), go)
}

#[test]
fn it_listens_before_the_second_listener_is_there_and_decides_nothing_without_it() {
    let (speech, silence) = speech_and_silence();
    // The first alone would believe it.
    let mut alone = listener(None);
    assert_eq!(alone.push(&speech).unwrap(), None);
    assert_eq!(alone.push(&silence).unwrap().unwrap().phrase.as_deref(), Some("say again"));

    let (mut listener, go) = stern_on_a_thread(|| Ok(stern()));
    assert_eq!(listener.push(&speech).unwrap(), None);
    assert!(listener.speaking());
    assert_eq!(listener.words(), "say again");
    let later = std::thread::spawn(move || {
        // Whatever the machine is doing, this is most likely after it was asked.
        std::thread::sleep(Duration::from_millis(200));
        go.send(()).unwrap();
    });
    let said = listener.push(&silence).unwrap().unwrap();
    later.join().unwrap();
    assert!(said.judgement.is_some());
    assert_eq!(said.phrase, None);
}

#[test]
fn a_second_listener_that_cannot_be_loaded_is_told_whether_somebody_speaks_or_not() {
    let reason = "models/judge: it is asleep; wake it";
    let fails =
        || Err(ListenError::Model { path: "models/judge".into(), reason: "it is asleep".into(), remedy: "wake it" });
    let (mut listener, go) = stern_on_a_thread(fails);
    go.send(()).unwrap();
    let told = loop {
        if let Err(error) = listener.push(&[0; FRAME]) {
            break error;
        }
        std::thread::sleep(Duration::from_millis(1));
    };
    assert_eq!(told.to_string(), reason);

    let (mut listener, go) = stern_on_a_thread(fails);
    let (speech, silence) = speech_and_silence();
    listener.push(&speech).unwrap();
    go.send(()).unwrap();
    assert_eq!(listener.push(&silence).unwrap_err().to_string(), reason);
}

/// A process that ends while a thread still loads an ONNX model is brought down by the library's own tidying up.
#[test]
fn what_is_still_being_loaded_is_waited_for_before_anything_ends() {
    let folder = tempfile::tempdir().unwrap();
    let (tell, told) = mpsc::channel();
    let slowly = |name: &'static str| {
        let tell = tell.clone();
        move || {
            std::thread::sleep(Duration::from_millis(200));
            tell.send(name).unwrap();
        }
    };
    let (second, mouth) = (slowly("the second listener"), slowly("the voice"));
    drop(JudgeThread::load(move || {
        second();
        Ok(stern())
    }));
    assert_eq!(told.try_recv(), Ok("the second listener"));

    let path = folder.path().join("said.wav");
    let said = Arc::new(Mutex::new(Vec::new()));
    let diary = Diary(said.clone());
    let load = move || {
        mouth();
        Ok(Mouth::new(Box::new(diary), "diary", false))
    };
    let voice = VoiceThread::start(load, Outlet::File(path, 8_000)).unwrap();
    voice.say(order("Nobody waits for this."));
    drop(voice);
    assert_eq!(told.try_recv(), Ok("the voice"));
    assert!(said.lock().unwrap().is_empty(), "nobody would have heard it");
}

#[test]
fn a_note_of_one_job_does_not_go_on_in_the_next() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = talk(jobs.path());
    let said = Utterance {
        phrase: Some("start note".into()),
        nearly: None,
        heard: Hypothesis { text: "start note".into(), confidence: 1.0 },
        judgement: None,
        written: None,
        own: None,
        began: 0,
        ended: 0,
        decided: 0,
        thinking: Duration::ZERO,
    };
    talk.hear(&said, At(2), At(2)).unwrap();
    let mut ear = Ear::new(listener(None));
    ear.attune(&talk, "").unwrap();
    ear.push(&speech_and_silence().0).unwrap();
    ear.reset().unwrap();
    assert!(ear.note().take().is_none());
}

/// One that answers once it is let go, which is never.
struct Hangs(Receiver<()>);

impl Judge for Hangs {
    fn judge(&mut self, _samples: &[f32], _phrases: &[Phrase]) -> Result<Judgement, ListenError> {
        let _ = self.0.recv();
        Err(ListenError::Engine { engine: "second listener", reason: "it was away".into() })
    }
}

#[test]
fn a_second_listener_that_hangs_is_given_up_and_told_once_and_the_first_decides_alone() {
    let (let_go, wait) = mpsc::channel();
    let hangs = JudgeThread::load(move || Ok(Hangs(wait))).unwrap().patient(Duration::from_millis(300));
    // One that is being loaded is waited for longer.
    while !hangs.is_there() {
        std::thread::sleep(Duration::from_millis(1));
    }
    let mut listener = listener(Some(Box::new(hangs)));
    let (speech, silence) = speech_and_silence();
    for told in [true, false] {
        let began = Instant::now();
        assert_eq!(listener.push(&speech).unwrap(), None);
        let said = listener.push(&silence).unwrap().unwrap();
        // By the rule for one, which is the stricter.
        assert_eq!((said.phrase.as_deref(), said.judgement), (Some("say again"), None));
        assert!(began.elapsed() < Duration::from_millis(if told { 3_000 } else { 1_000 }), "{:?}", began.elapsed());
        assert_eq!(listener.second_lost().is_some(), told);
    }
    // One that comes back after all is left out, and nothing ends by it.
    let_go.send(()).unwrap();
    std::thread::sleep(Duration::from_millis(100));
    assert_eq!(listener.push(&speech).unwrap(), None);
    assert_eq!(listener.push(&silence).unwrap().unwrap().phrase.as_deref(), Some("say again"));
    assert!(listener.second_lost().is_none());
    let began = Instant::now();
    drop(listener);
    assert!(began.elapsed() < Duration::from_secs(1), "its end waits for nobody");
}

/// Fails as a library might, once.
struct Stumbles(bool);

impl Judge for Stumbles {
    fn judge(&mut self, _samples: &[f32], phrases: &[Phrase]) -> Result<Judgement, ListenError> {
        assert!(std::mem::replace(&mut self.0, true), "no such tensor");
        let best = phrases.iter().position(|phrase| phrase.text == "say again");
        Ok(Judgement { best, average: -0.1, over_noise: 30.0, margin: 30.0 })
    }
}

#[test]
fn a_fault_of_the_second_listener_costs_its_word_and_no_more() {
    let mut listener = listener(Some(Box::new(JudgeThread::load(|| Ok(Stumbles(false))).unwrap())));
    let (speech, silence) = speech_and_silence();
    let mut judged = Vec::new();
    for _ in 0..2 {
        listener.push(&speech).unwrap();
        judged.push(listener.push(&silence).unwrap().unwrap().judgement.is_some());
        assert_eq!(listener.second_lost(), None);
    }
    assert_eq!(judged.last(), Some(&true), "it is asked again");
}

/// Hears in everything what is no phrase, by this much, and has a rule of its own about that.
struct Scaled(Option<Rule>);

impl Judge for Scaled {
    fn judge(&mut self, _samples: &[f32], _phrases: &[Phrase]) -> Result<Judgement, ListenError> {
        Ok(Judgement { best: None, average: -9.0, over_noise: -10.0, margin: 0.0 })
    }
    fn rule(&self) -> Rule {
        self.0.clone().unwrap_or_else(Rule::by_decoder)
    }
}

#[test]
fn it_is_decided_by_the_rule_of_whoever_judges() {
    let lenient = Rule { something_else: -20.0, something_else_where_it_counts: -20.0, ..Rule::by_decoder() };
    let said = |judge: Box<dyn Judge + Send>| {
        let mut listener = listener(Some(judge));
        let sound = [sound("", 500), speech("go back twice"), sound("", 1_500)].concat();
        let mut said: Vec<Utterance> = sound.chunks(FRAME).filter_map(|frame| listener.push(frame).unwrap()).collect();
        said.extend(listener.finish().unwrap());
        (said.into_iter().filter_map(|one| one.phrase).collect::<Vec<_>>(), listener.rule())
    };
    for (rule, expected) in [(None, vec![]), (Some(lenient), vec!["go back twice".to_owned()])] {
        let by = Scaled(rule.clone()).rule();
        assert_eq!(said(Box::new(Scaled(rule.clone()))), (expected.clone(), by.clone()));
        // Loaded on a thread of its own as well.
        assert_eq!(said(Box::new(JudgeThread::load(move || Ok(Scaled(rule))).unwrap())), (expected, by));
    }
}
