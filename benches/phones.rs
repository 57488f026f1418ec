//! What judging by phones costs: the tree of what may be said, how likely each phrase is, and all of it with the network beside
//! what the decoder takes. The network is that of the models, or the one in the folder that `PHONES` names; without any, only the
//! decoder is asked. Needs what `scripts/setup` fetches.

use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use std::path::Path;
use wrenchside::assets::Places;
use wrenchside::dialogue::Language;
use wrenchside::hearing::moment::Moment;
use wrenchside::listen::{Judge, Lexicon, Moonshine, PHONES, PhoneTree, RATE, Second, anything, read_sound};
use wrenchside::onnx;

/// About as many as a command has, with what is before and behind it.
const ROWS: usize = 100;

/// Rows in which now this phone is likely and now that.
fn rows() -> Vec<f32> {
    let outputs = 1 + PHONES.len();
    let row = |number: usize| {
        let mut row: Vec<f32> = (0..outputs).map(|output| ((output * 7 + number * 13) % 11) as f32 / -2.0).collect();
        row[number * 5 % outputs] += 4.0;
        let total: f32 = row.iter().map(|log| log.exp()).sum();
        row.into_iter().map(move |log| log - total.ln())
    };
    (0..ROWS).flat_map(row).collect()
}

fn judge(c: &mut Criterion) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("models/listener-en/lexicon.txt");
    let lexicon = Lexicon::read(&path).expect("the lexicon");
    let rows = rows();
    let mut group = c.benchmark_group("phones");
    for moment in [Moment::Tightening, Moment::Question] {
        let phrases = moment.allowed(&Language::english()).phrases;
        let tree = PhoneTree::new(&phrases, &lexicon);
        let about = format!("{}, {} phrases, {} places", moment.name(), phrases.len(), tree.places());
        group.bench_function(format!("tree, {about}"), |b| b.iter(|| PhoneTree::new(black_box(&phrases), &lexicon)));
        group.bench_function(format!("{ROWS} rows, {about}"), |b| b.iter(|| tree.likely(black_box(&rows))));
    }
    group.bench_function(format!("anything, {ROWS} rows"), |b| b.iter(|| anything(black_box(&rows))));
    group.finish();
}

/// Two sounds of so many seconds with a command in them: what was encoded last is not encoded again, so they are judged in turn.
fn sounds(seconds: usize) -> [Vec<f32>; 2] {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("audio-fixtures/clean/joe-what-torque.flac");
    let mut sound: Vec<f32> =
        read_sound(&file).expect("it is there").iter().map(|sample| f32::from(*sample) / 32_768.0).collect();
    sound.resize(seconds * RATE as usize, 0.0);
    let fainter = sound.iter().map(|sample| sample / 2.0).collect();
    [sound, fainter]
}

fn both(c: &mut Criterion) {
    let places = Places::here();
    onnx::load(&places.onnx_runtime(None).expect("the runtime")).expect("it loads");
    let folder = places.judge(None).expect("the second listener");
    let second = match std::env::var_os("PHONES") {
        Some(named) => Second::by_phones(folder.clone(), named.as_ref()).ok(),
        None => Second::find(&places, None),
    };
    let decoder: Box<dyn Judge + Send> = Box::new(Moonshine::open(&folder).expect("it loads"));
    let mut judges = vec![("decoder", decoder)];
    if let Some(second) = second.filter(|second| second.phones().is_ok()) {
        judges.push(("phones", second.open().expect("it loads")));
    }
    let phrases = Moment::Tightening.allowed(&Language::english()).phrases;
    let mut group = c.benchmark_group("judge");
    group.sample_size(20);
    for seconds in [1, 2] {
        let mut sounds = sounds(seconds).into_iter().cycle();
        for (name, judge) in &mut judges {
            group.bench_function(format!("{name}, {seconds} s"), |b| {
                b.iter(|| judge.judge(black_box(&sounds.next().expect("it goes round")), &phrases).expect("it judges"))
            });
        }
        let moonshine = &mut judges[0].1;
        group.bench_function(format!("moonshine's encoder alone, {seconds} s"), |b| {
            b.iter(|| moonshine.encode(black_box(&sounds.next().expect("it goes round"))).expect("it encodes"))
        });
    }
    group.finish();
}

criterion_group!(benches, judge, both);
criterion_main!(benches);
