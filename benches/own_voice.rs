//! What the user's own voice costs once a command is over: a hundred phrases with three copies of each, compared with a sound.
//! The rows are made up; only their number and shape matter.

use criterion::{Criterion, criterion_group, criterion_main};
use half::f16;
use std::hint::black_box;
use wrenchside::own_voice::{Frames, Matcher, Origin, Profile, Take};

/// Rows in a second.
const SECOND: usize = 42;
const WIDTH: usize = 288;

/// So many rows of chance, always the same for a seed.
fn rows(count: usize, seed: u32) -> Frames {
    let mut state = seed;
    let mut chance = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f16::from_f32((state >> 8) as f32 / (1 << 23) as f32 - 1.0)
    };
    Frames::new(WIDTH, (0..count * WIDTH).map(|_| chance()).collect()).expect("it has a shape")
}

fn own_voice(c: &mut Criterion) {
    let numbers = ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];
    let mut profile = Profile::new("a", "b", "c", "en");
    let mut phrases: Vec<String> = (0..90).map(|at| format!("phrase {}", "a".repeat(at + 1))).collect();
    phrases.extend(numbers.map(str::to_owned));
    for (at, text) in (0u32..).zip(&phrases) {
        let copies = (0..3).map(|copy| rows(SECOND, 3 * at + copy)).collect();
        assert!(profile.learn(text, Take { learnt: 0, origin: Origin::Learning, copies }));
    }
    // And numbers of up to three words, joined.
    for one in numbers {
        for two in numbers {
            phrases.push(format!("{one} {two}"));
            phrases.extend(["one", "nine"].map(|three| format!("{one} {two} {three}")));
        }
    }
    let matcher = Matcher::new(&profile);
    println!("{} phrases, {:.1} MB in memory", phrases.len(), matcher.size() as f64 / 1e6);
    let mut group = c.benchmark_group("own voice");
    group.sample_size(20);
    for seconds in [1, 2, 3] {
        let heard = rows(SECOND * seconds, 99);
        group.bench_function(format!("{seconds} s of voice"), |b| {
            b.iter(|| matcher.compare(black_box(&heard), phrases.iter().map(String::as_str)));
        });
    }
    group.bench_function("a profile made ready", |b| b.iter(|| Matcher::new(black_box(&profile))));
    group.finish();
}

criterion_group!(benches, own_voice);
criterion_main!(benches);
