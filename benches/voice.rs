//! From a decision to the first sample of speech: what was foreseen, and what was not. The goals are 50 ms and 250 ms.
//! Needs what `scripts/setup` fetches.

use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use std::sync::{Arc, Mutex};
use wrenchside::assets::Places;
use wrenchside::dialogue::{Sentence, Tone};
use wrenchside::onnx;
use wrenchside::session::{Mouth, Order};
use wrenchside::speak::sink::Nothing;
use wrenchside::speak::{Piper, SpeakError, Voice};

/// One clause, which is all that the first sample waits for.
fn first_clause(mouth: &mut Mouth, order: &Order) {
    black_box(mouth.say(order, &mut Nothing { rate: 48_000 }, &|| true)).expect("it speaks");
}

fn order(text: &str) -> Order {
    let sentence = Sentence { spoken: text.into(), written: text.into(), signal: None, tone: Tone::Plain };
    Order { tone: None, sentences: vec![sentence], ..Order::default() }
}

/// A voice that is loaded once and lent to many mouths, each of which remembers nothing yet.
struct Lent(Arc<Mutex<Piper>>);

impl Voice for Lent {
    fn rate(&self) -> u32 {
        22_050
    }
    fn say(&mut self, text: &str, pace: f32) -> Result<Vec<f32>, SpeakError> {
        self.0.lock().expect("nobody else has it").say(text, pace)
    }
}

fn speak(c: &mut Criterion) {
    let places = Places::here();
    onnx::load(&places.onnx_runtime(None).expect("the runtime")).expect("it loads");
    let folder = places.voice(None).expect("the voice");
    let voice = Piper::load(&folder, &places.phonemes(None).expect("phonemes")).expect("it loads");
    let voice = Arc::new(Mutex::new(voice));
    let mouth = || Mouth::new(Box::new(Lent(voice.clone())), "bench", true);
    let mut group = c.benchmark_group("first sample");
    group.sample_size(30);
    let cases = [
        ("a word", "Left."),
        ("a value", "Fifteen newton metres."),
        ("a long clause", "Unscrew the rear pivot bolt until its head meets the anti-roll bar."),
    ];
    for (name, text) in cases {
        let order = order(text);
        let mut knows = mouth();
        while !knows.prepare(&[text.to_owned()], 1.0).expect("it speaks") {}
        group.bench_function(format!("foreseen, {name}"), |b| b.iter(|| first_clause(&mut knows, &order)));
        group.bench_function(format!("not foreseen, {name}"), |b| {
            b.iter_batched_ref(mouth, |mouth| first_clause(mouth, &order), BatchSize::PerIteration);
        });
    }
    group.finish();
}

criterion_group!(benches, speak);
criterion_main!(benches);
