//! A pattern on the first line, and behind it whatever a tool sends: a reading is a plain number of a unit, and nothing panics.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::collections::BTreeMap;
use wrenchside::instrument::Form;
use wrenchside::job::At;
use wrenchside::session::lines::{Framer, Line};

fuzz_target!(|bytes: &[u8]| {
    let end = bytes.iter().position(|byte| *byte == b'\n').unwrap_or(bytes.len());
    let (pattern, mut sent) = bytes.split_at(end);
    let pattern = String::from_utf8_lossy(pattern);
    let units = BTreeMap::from([("NM".to_owned(), "N·m".to_owned()), ("FT LB".to_owned(), "lbf·ft".to_owned())]);
    let forms: Vec<Form> = [None, Some(",")]
        .into_iter()
        .flat_map(|decimal| {
            [
                Form::new(&pattern, &units, None, decimal),
                Form::new(&pattern, &units, Some("N·m"), decimal),
                Form::new("{any};{number} {unit}", &units, None, decimal),
            ]
        })
        .flatten()
        .collect();
    let mut framer = Framer::default();
    while !sent.is_empty() {
        let (taken, line) = framer.push(sent, At(0));
        assert!(taken > 0);
        sent = &sent[taken..];
        let Some((Line::Text(line), _)) = line else { continue };
        for (reading, stands) in forms.iter().filter_map(|form| form.find(&line)) {
            assert_eq!(reading.to_string().parse(), Ok(reading));
            let beside = [line[..stands.start].chars().next_back(), line[stands.end..].chars().next()];
            for beside in beside.into_iter().flatten() {
                assert!(!beside.is_numeric() && !matches!(beside, '+' | '-'));
                // Where the pattern has one of these, it may stand there.
                assert!(!matches!(beside, '.' | ',') || pattern.contains(beside));
            }
        }
    }
});
