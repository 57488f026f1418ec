//! Faults of the thread itself, over a loudspeaker that is none.

use super::super::outlet::Speaker;
use super::*;
use crate::dialogue::Sentence;
use crate::speak::{Sink, Voice};
use std::sync::Mutex;

/// Keeps how loud what it plays is at most, and has a fault when it is looked at, or is well.
struct Fake {
    faulty: bool,
    played: Arc<Mutex<Vec<f32>>>,
}

impl Sink for Fake {
    fn rate(&self) -> u32 {
        8_000
    }
    fn play(&mut self, samples: &[f32]) -> Result<(), SpeakError> {
        self.played.lock().unwrap().push(samples.iter().fold(0.0, |most: f32, sample| most.max(sample.abs())));
        Ok(())
    }
    fn stop(&mut self) {}
    fn is_playing(&self) -> bool {
        false
    }
}

impl Speaker for Fake {
    fn device(&self) -> &str {
        "fake"
    }
    fn asked(&self) -> u64 {
        0
    }
    fn lost(&self) -> Option<SpeakError> {
        assert!(!self.faulty, "no such device");
        None
    }
}

/// Can say nothing.
struct Dumb;

impl Voice for Dumb {
    fn rate(&self) -> u32 {
        8_000
    }
    fn say(&mut self, _text: &str, _pace: f32) -> Result<Vec<f32>, SpeakError> {
        Err(SpeakError::Voice { reason: "it has a cold".into() })
    }
}

struct Bench {
    worker: Worker,
    troubles: Receiver<Trouble>,
    tasks: Sender<Task>,
    inbox: Receiver<Task>,
    played: Arc<Mutex<Vec<f32>>>,
}

fn bench(faulty: bool) -> Bench {
    let ((trouble, troubles), (tasks, inbox)) = (mpsc::channel(), mpsc::channel());
    let played = Arc::new(Mutex::new(Vec::new()));
    let worker = Worker {
        mouth: Mouth::new(Box::new(Dumb), "dumb", false),
        outlet: Outlet::Loudspeaker(None),
        place: Some(Place::Loudspeaker(Box::new(Fake { faulty, played: played.clone() }))),
        again: Instant::now(),
        stumbled: None,
        unsaid: None,
        hold: Hold::default(),
        state: Arc::default(),
        trouble,
        end: mpsc::channel().0,
        ahead: (Vec::new(), 1.0),
        over: None,
        faults: 0,
    };
    Bench { worker, troubles, tasks, inbox, played }
}

#[test]
fn a_fault_while_it_looks_after_its_loudspeaker_is_told_and_is_its_end_if_that_is_all() {
    let Bench { worker, troubles, tasks: _tasks, inbox, .. } = bench(true);
    let state = worker.state.clone();
    // The last tone fails in the same way.
    let ended = unless_it_panics(|| worker.run(&inbox));
    assert!(ended.unwrap_err().to_string().contains("no such device"));
    assert!(state.failed.load(Ordering::SeqCst), "the session hears of it");
    let told: Vec<_> = troubles.try_iter().filter_map(|trouble| trouble.reason).collect();
    assert_eq!(told.len(), FAULTS as usize, "{told:?}");
}

#[test]
fn the_last_that_is_heard_of_a_voice_that_is_given_up_is_a_tone() {
    let Bench { worker, tasks, inbox, played, .. } = bench(false);
    let state = worker.state.clone();
    for number in 0..u64::from(FAULTS) {
        let sentence = Sentence {
            spoken: "One.".into(),
            written: "One.".into(),
            signal: None,
            tone: crate::dialogue::Tone::Plain,
        };
        let order = Order { tone: None, sentences: vec![sentence], ..Order::default() };
        state.orders.fetch_add(1, Ordering::SeqCst);
        tasks.send(Task::Say(Ordered { number, hushes: 0, order })).unwrap();
    }
    assert!(worker.run(&inbox).unwrap_err().to_string().contains("it has a cold"));
    let played = played.lock().unwrap();
    assert_eq!(played.len(), FAULTS as usize, "a tone for each, and the last one among them: {played:?}");
    assert!(played.iter().all(|loud| *loud > 0.01), "{played:?}");
}

#[test]
fn a_fault_while_the_voice_is_loaded_is_told_as_any_reason_why_there_is_none() {
    let folder = tempfile::tempdir().unwrap();
    let outlet = Outlet::File(folder.path().join("said.wav"), 8_000);
    let voice = VoiceThread::start(|| panic!("no such phoneme"), outlet).unwrap();
    voice.say(Order::default());
    let began = Instant::now();
    while !voice.has_failed() {
        assert!(began.elapsed() < Duration::from_secs(20), "nobody is told that there is no voice");
        std::thread::sleep(Duration::from_millis(2));
    }
    assert!(voice.finish().unwrap_err().to_string().contains("a fault of the program: no such phoneme"));
}
