//! What judging by phones costs beside the network: the tree of what may be said, and how likely each phrase is.

use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use std::path::Path;
use wrenchside::dialogue::Language;
use wrenchside::hearing::moment::Moment;
use wrenchside::listen::{Lexicon, PHONES, PhoneTree, anything};

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

criterion_group!(benches, judge);
criterion_main!(benches);
