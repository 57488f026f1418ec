//! Any text as a language file; one that is taken must be able to say and to hear.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::sync::{Arc, LazyLock};
use wrenchside::dialogue::{Language, Manner};
use wrenchside::job::{At, Command, Job};
use wrenchside::procedure::{self, Procedure};

static READ: LazyLock<Arc<Procedure>> = LazyLock::new(|| {
    let text = include_str!("../seeds/procedure/tarnfell-front-brakes.toml");
    Arc::new(procedure::parse("brakes", text).expect("the procedure is good"))
});

fuzz_target!(|text: &str| {
    match Language::from_toml("fuzz", text) {
        Err(error) => _ = error.to_string(),
        Ok(language) => {
            let mut job = Job::new(READ.clone());
            let reply = job.apply(Command::Open, At(0));
            language.render(&reply.says, job.book(), &Manner::default());
            language.grammar(&job.expects(), true);
            let _ = language.understand_typed("twenty seven point five newton metres", &job.expects());
        }
    }
});
