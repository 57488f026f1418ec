//! Any text as a scenario.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::path::Path;
use wrenchside::replay::Scenario;

fuzz_target!(|text: &str| {
    match Scenario::parse(Path::new("folder/fuzz.toml"), text) {
        Ok(scenario) => {
            let _ = scenario.begins();
            assert!(scenario.turns.iter().all(|turn| turn.given().is_some()));
        }
        Err(error) => _ = error.to_string(),
    }
});
