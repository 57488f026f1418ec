//! Any text as a manual's, and as a file to be mirrored. Nothing may panic, what is drafted is TOML, and no value of it has to be
//! put right for how it is written.
#![no_main]

use libfuzzer_sys::fuzz_target;
use wrenchside::manuscript::{Given, from_text, mirror, told};
use wrenchside::procedure::{self, Code};
use wrenchside::values::Shelf;

fuzz_target!(|text: &str| {
    let drafted = from_text(&Given { id: "fuzz".into(), ..told(text) }, text, &Shelf::default());
    for finding in procedure::findings(&drafted.toml) {
        assert!(!matches!(finding.code, Code::TomlSyntax | Code::ValueUnreadable | Code::UnitMissing), "{finding:?}");
    }
    assert!(drafted.understood <= drafted.lines);
    let _ = mirror("fuzz", text);
});
