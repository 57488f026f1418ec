//! Any text as an amount, a window or a unit: what is taken must come out again as it went in, and convert.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::fmt::{Debug, Display};
use std::str::FromStr;
use wrenchside::quantity::{Angle, Kind, Limits, Quantity, Torque, TorqueUnit, Unit};

/// Taken, written, and taken again.
fn back<T>(text: &str) -> Option<T>
where
    T: FromStr<Err: Display> + Display + PartialEq + Debug,
{
    match text.parse::<T>() {
        Err(error) => {
            let _ = error.to_string();
            None
        }
        Ok(value) => {
            let written = value.to_string();
            match written.parse::<T>() {
                Ok(again) => assert_eq!(again, value, "{written}"),
                Err(error) => panic!("{error}"),
            }
            Some(value)
        }
    }
}

fuzz_target!(|text: &str| {
    back::<Torque>(text);
    back::<Angle>(text);
    back::<Limits<Torque>>(text);
    back::<Limits<Angle>>(text);
    back::<TorqueUnit>(text);
    back::<Unit>(text);
    if let Some(quantity) = back::<Quantity>(text) {
        for unit in Kind::ALL.iter().flat_map(|kind| Unit::all(*kind)) {
            if let Some(other) = quantity.in_unit(unit) {
                assert_eq!(other.kind(), quantity.kind());
                let _ = other.to_string();
            }
        }
    }
});
