//! What listening costs: a grammar, each time that other phrases may be said, and the sound of a command.
//! Needs what `scripts/setup` fetches.

use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use std::path::Path;
use wrenchside::assets::Places;
use wrenchside::dialogue::Language;
use wrenchside::hearing::moment::Moment;
use wrenchside::listen::{FRAME, Judge, Listener, RATE, Recogniser, Second, VoskRecogniser, read_sound};
use wrenchside::onnx;

fn vosk() -> VoskRecogniser {
    VoskRecogniser::open(&Places::here().listener(None).expect("the model")).expect("it loads")
}

/// Tells a listener all of a sound, as a session does.
fn hear(listener: &mut Listener, sound: &[i16]) {
    let mut said = Vec::new();
    for frame in sound.chunks(FRAME) {
        said.extend(listener.push(frame).expect("it listens"));
    }
    said.extend(listener.finish().expect("it listens"));
    assert_eq!(said.first().map(|one| one.heard.text.as_str()), Some("what torque"));
}

fn listen(c: &mut Criterion) {
    let language = Language::english();
    let mut group = c.benchmark_group("grammar");
    group.sample_size(20);
    let mut recogniser = vosk();
    for moment in [Moment::Tightening, Moment::Question, Moment::Asleep] {
        let phrases = moment.allowed(&language).phrases;
        let name = format!("{}, {} phrases", moment.name(), phrases.len());
        group.bench_function(name, |b| b.iter(|| recogniser.listen_for(black_box(&phrases)).expect("it takes them")));
    }
    group.finish();

    let places = Places::here();
    onnx::load(&places.onnx_runtime(None).expect("the runtime")).expect("it loads");
    let judge = Second::find(&places, None).expect("the second listener").open().expect("it loads");
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("audio-fixtures/clean/joe-what-torque.flac");
    let mut sound = read_sound(&file).expect("it is there");
    sound.resize(sound.len() + RATE as usize, 0);
    let seconds = sound.len() as f64 / f64::from(RATE);
    let phrases = Moment::Tightening.allowed(&language).phrases;
    let mut group = c.benchmark_group("hearing");
    group.sample_size(20);
    let both: Option<Box<dyn Judge + Send>> = Some(judge);
    for (name, judge) in [("vosk alone", None), ("both", both)] {
        let mut listener = Listener::new(Box::new(vosk()), judge);
        listener.listen_for(&phrases).expect("it takes them");
        group.bench_function(format!("{name}, {seconds:.1} s"), |b| b.iter(|| hear(&mut listener, &sound)));
    }
    group.finish();
}

criterion_group!(benches, listen);
criterion_main!(benches);
