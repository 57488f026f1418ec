//! Any pattern and any line of a tool: a reading is a plain number of a unit, whatever is sent.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::collections::BTreeMap;
use wrenchside::instrument::Form;
use wrenchside::session::lines::{Framer, Line};

fuzz_target!(|given: (&str, Vec<u8>, bool)| {
    let (pattern, bytes, comma) = given;
    let units = BTreeMap::from([("NM".to_owned(), "N·m".to_owned()), ("FT LB".to_owned(), "lbf·ft".to_owned())]);
    let decimal = comma.then_some(",");
    let forms = [
        Form::new(pattern, &units, None, decimal),
        Form::new(pattern, &units, Some("N·m"), decimal),
        Form::new("{any},{number} {unit}", &units, None, decimal),
    ];
    let mut framer = Framer::default();
    let mut rest = &bytes[..];
    while !rest.is_empty() {
        let (taken, line) = framer.push(rest, wrenchside::job::At(0));
        assert!(taken > 0);
        rest = &rest[taken..];
        let Some((Line::Text(line), _)) = line else { continue };
        for form in forms.iter().flatten() {
            if let Some(reading) = form.read(&line) {
                assert_eq!(reading.to_string().parse(), Ok(reading));
            }
        }
    }
});
