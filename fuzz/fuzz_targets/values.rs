//! Any text as a page of values, in each of its forms: read, checked, shown, asked. Nothing may panic, and what one
//! way in lets through the other must let through too.
#![no_main]

use libfuzzer_sys::fuzz_target;
use wrenchside::dialogue::{Language, Manner};
use wrenchside::job::At;
use wrenchside::session::{Delivery, ValuesTalk};
use wrenchside::values::{self, Shelf};

fuzz_target!(|text: &str| {
    for name in ["fuzz.toml", "fuzz.csv", "fuzz.txt"] {
        let read = values::parse(name, text);
        let checked = values::check(name, text, None);
        let _ = (checked.to_string(), checked.to_json(), values::is_page(name, text));
        for finding in &checked.findings {
            assert!(text.get(finding.span.clone()).is_some(), "{finding:?}");
        }
        assert_eq!(read.is_ok(), checked.errors() == 0);
        let Ok(page) = read else { continue };
        let names: Vec<String> = page.entries.iter().take(5).map(|entry| entry.name.clone()).collect();
        let Ok(shelf) = Shelf::new(vec![(name.to_owned(), page)]) else { continue };
        let mut talk = ValuesTalk::new(Language::english(), Manner::default(), Delivery::default(), shelf);
        for name in names {
            let _ = talk.read(&format!("value {name}"), At(0));
        }
        let _ = talk.phrases();
    }
});
