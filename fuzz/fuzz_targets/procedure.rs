//! Any text as a procedure: loaded, checked, shown, drafted from. Nothing may panic, and what one way in lets through
//! the others must let through too. Where a line "#---" stands in it, what is below that line is a file to be included.
#![no_main]

use libfuzzer_sys::fuzz_target;
use wrenchside::procedure;

/// A text with another that it includes.
fn included(text: &str, shared: &str) {
    let fetch = &mut |_: &str| Ok(("shared".to_owned(), shared.to_owned()));
    let report = match procedure::together("fuzz", text, fetch) {
        Ok(whole) => {
            // What was put together stands by itself.
            if let Ok(book) = whole.procedure() {
                assert!(procedure::parse("copy", whole.text()).is_ok_and(|copy| copy == book));
            }
            let drafted = whole.draft_rebuild();
            assert!(drafted.is_err() || whole.procedure().is_ok());
            whole.check()
        }
        Err(report) => {
            assert!(report.errors() > 0);
            report
        }
    };
    let _ = (report.to_string(), report.to_json(), report.diagnostics().count());
    let _ = procedure::check_shared("shared", shared).to_string();
}

fuzz_target!(|text: &str| {
    if let Some((text, shared)) = text.split_once("#---\n") {
        included(text, shared);
    }
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
