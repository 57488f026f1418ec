//! How long checking takes: a file of 10,000 steps is to be checked in less than 100 ms.

use criterion::{Criterion, criterion_group, criterion_main};
use std::fmt::Write;
use std::hint::black_box;
use wrenchside::procedure;

/// The lower arm, with its steps followed by as many again of its clamp being slackened and tightened.
fn long_procedure(steps: usize) -> String {
    let arm = procedure::open("procedures/tarnfell-front-lower-arm-left.toml".as_ref()).expect("the lower arm is read");
    let mut text = arm.text().to_owned();
    let there = text.matches("\n[[step]]").count();
    for n in (there..steps).step_by(2) {
        write!(
            text,
            r#"
[[step]]
id = "clamp-slack-{n}"
phase = "close"
say = "Slacken the bolts of the left anti-roll bar clamp."
why = "With the clamp open the bar drops, and makes room for the rear pivot bolt."
cautions = [{{ caution = "The bar is under load until both bolts are loose." }}]
minutes = 5
source = "page 4-8"
do = [{{ slacken = "clamp" }}, {{ clean = "the clamp" }}]

[[step]]
id = "clamp-tight-{n}"
phase = "close"
say = "Tighten the bolts of the anti-roll bar clamp."
hold = "Does the rubber sit square in the clamp?"
minutes = 6
source = "page 4-15"
do = [{{ hand_start = "clamp" }}, {{ tighten = "clamp" }}]
"#
        )
        .expect("writing to a string");
    }
    text
}

fn check(c: &mut Criterion) {
    let text = long_procedure(10_000);
    assert_eq!(text.matches("\n[[step]]").count(), 10_000);
    let findings = procedure::findings(&text);
    assert!(findings.is_empty(), "{findings:?}");
    c.bench_function("check 10,000 steps", |b| b.iter(|| procedure::findings(black_box(&text))));
    c.bench_function("load 10,000 steps", |b| b.iter(|| procedure::parse("bench", black_box(&text))));
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20);
    targets = check
}
criterion_main!(benches);
