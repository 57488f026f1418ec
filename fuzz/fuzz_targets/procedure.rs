//! Any text as a procedure: loaded, checked, shown, drafted from. Nothing may panic, and what one way in lets through
//! the others must let through too.
#![no_main]

use libfuzzer_sys::fuzz_target;
use wrenchside::procedure;

fuzz_target!(|text: &str| {
    let loaded = procedure::parse("fuzz", text);
    let checked = procedure::check("fuzz", text);
    // What is shown cuts pieces out of the text, so every place must be one.
    let _ = (checked.to_string(), checked.to_json());
    for finding in &checked.findings {
        assert!(text.get(finding.span.clone()).is_some(), "{finding:?}");
        assert!(finding.also.iter().all(|(span, _)| text.get(span.clone()).is_some()), "{finding:?}");
    }
    assert!(loaded.is_ok() || checked.errors() > 0, "checked without an error, and not loaded");
    if loaded.is_err() {
        assert!(procedure::draft_rebuild("fuzz", text).is_err(), "not loaded, and drafted from");
    } else if let Ok(draft) = procedure::draft_rebuild("fuzz", text) {
        // The draft is to be edited, but it must be read.
        if let Err(report) = procedure::parse("draft", &draft) {
            panic!("{report}\n{draft}");
        }
    }
});
