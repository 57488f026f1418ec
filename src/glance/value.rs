//! The value of a stage in three sizes: what stands above the number, the number, what stands below it.

use crate::dialogue::Words;
use crate::job::Pending;
use crate::procedure::StageKind;

/// A value, in three sizes.
pub(super) struct Value {
    pub above: String,
    pub big: String,
    pub below: String,
}

/// The value of a stage, below what it waits for.
pub(super) fn value(pending: &Pending, words: &Words<'_>) -> Value {
    let value = bare(&Pending { waits: None, ..pending.clone() }, words);
    match words.once(pending) {
        Some(once) => Value { above: format!("{}. {}", capital(&once), value.above).trim().to_owned(), ..value },
        None => value,
    }
}

/// The value by itself; the unit and the published value are part of it.
fn bare(pending: &Pending, words: &Words<'_>) -> Value {
    let whole = words.stage(pending);
    let split = |text: &str| match text.split_once(" (") {
        Some((big, below)) => (big.to_owned(), below.trim_end_matches(')').to_owned()),
        None => (text.to_owned(), String::new()),
    };
    match &pending.kind {
        Some(StageKind::Torque(_)) => {
            // "Left-hand thread" stands above the number, which stays the largest thing on the page.
            let torque = words.torque_of(pending).unwrap_or_default();
            let (above, value) = whole.strip_suffix(&torque).map_or(("", &whole), |above| (above, &torque));
            let (big, below) = split(value);
            Value { above: capital(above.trim_end_matches([',', ' '])), big, below }
        }
        // A turn that was begun or interrupted is told in full.
        Some(StageKind::Angle(_) | StageKind::BackOff(_) | StageKind::Slot(_))
            if pending.turned.is_none() && !pending.interrupted =>
        {
            let angle = words.angle_of(pending).unwrap_or_default();
            let above = whole.strip_suffix(&angle).unwrap_or_default().trim().to_owned();
            let (big, below) = split(&angle);
            Value { above: capital(&above), big, below }
        }
        _ => Value { above: String::new(), big: capital(&whole), below: String::new() },
    }
}

/// The text with its first letter as a capital.
pub(super) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dialogue::{Language, Manner};
    use crate::job::Follows;
    use crate::procedure::{FastenerIx, StageKind};
    use crate::quantity::TorqueUnit;

    #[test]
    fn the_torque_of_a_left_hand_thread_is_the_largest_thing_too() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/procedures/tarnfell-front-lower-arm-left.toml");
        let mut book = crate::procedure::load(path.as_ref()).unwrap();
        let group = book
            .fasteners
            .iter()
            .position(|f| matches!(f.finish.stage(0).map(|s| &s.kind), Some(StageKind::Torque(_))));
        let group = group.unwrap();
        let pending = Pending {
            group: FastenerIx(group),
            item: 0,
            rank: 0,
            items: 1,
            stage: 0,
            stages: 1,
            kind: Some(StageKind::Torque("38 N·m".parse().unwrap())),
            new: false,
            turned: None,
            interrupted: false,
            announced: false,
            counted: None,
            waits: None,
            follows: Follows::Nothing,
        };
        for (left_hand, above) in [(false, ""), (true, "Left-hand thread")] {
            book.fasteners[group].left_hand = left_hand;
            for unit in [None, Some(TorqueUnit::PoundForceFoot)] {
                let manner = Manner { unit, ..Manner::default() };
                let language = Language::english();
                let value = value(&pending, &language.words(&book, &manner));
                assert_eq!(value.above, above);
                let number = if unit.is_none() { "38 N·m" } else { "≈ 28 lbf·ft" };
                assert_eq!(value.big, number);
                assert_eq!(value.below.is_empty(), unit.is_none(), "{}", value.below);
            }
        }
    }
}
