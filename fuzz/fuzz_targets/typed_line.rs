//! Any lines typed into a session: understood, applied to the job, and the reply put into words. A line that begins
//! with a number and a colon lets so many milliseconds pass before the rest of it.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::sync::{Arc, LazyLock};
use wrenchside::dialogue::{Language, Manner, Meaning};
use wrenchside::job::{At, Command, Job};
use wrenchside::procedure::{self, Procedure};

static ENGLISH: LazyLock<Language> = LazyLock::new(Language::english);
static BOOKS: LazyLock<Vec<Arc<Procedure>>> = LazyLock::new(|| {
    let read = |text| Arc::new(procedure::parse("book", text).expect("the procedure is good"));
    vec![
        read(include_str!("../seeds/procedure/tarnfell-front-brakes.toml")),
        read(include_str!("../seeds/procedure/tarnfell-front-lower-arm-left.toml")),
        read(include_str!("../seeds/procedure/tarnfell-cylinder-head.toml")),
    ]
});

fuzz_target!(|text: &str| {
    let book = BOOKS[text.len() % BOOKS.len()].clone();
    let mut job = Job::new(book.clone());
    let mut now = At(0);
    let manner = |now| Manner { now: Some(now), ..Manner::default() };
    let reply = job.apply(Command::Open, now);
    ENGLISH.render(&reply.says, &book, &manner(now));
    for line in text.lines() {
        let (wait, line) = match line.split_once(':').map(|(n, rest)| (n.parse::<i64>(), rest)) {
            Some((Ok(wait), rest)) => (wait, rest),
            _ => (0, line),
        };
        now = At(now.0.saturating_add(wait));
        match ENGLISH.understand_typed(line, &job.expects()) {
            Ok(Meaning::Command(command)) => {
                let reply = job.apply(command, now);
                ENGLISH.render(&reply.says, &book, &manner(now));
            }
            Ok(Meaning::Talk(_)) => {}
            Err(no) => _ = ENGLISH.not_understood(&no),
        }
    }
});
