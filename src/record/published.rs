//! What a stage asks for, as the book publishes it: no sum worked out, no unit changed.

use crate::procedure::{Procedure, Stage, StageKind};
use crate::quantity::{Limits, Torque};

/// The value of a stage as it stands in the book; `None` of one that has none.
pub(super) fn value(book: &Procedure, stage: &Stage) -> Option<String> {
    Some(match &stage.kind {
        StageKind::Torque(value) => {
            let named = stage.from.and_then(|from| book.named.get(from.0));
            match (named, stage.share) {
                (Some(named), _) => counted(&named.id, value),
                (None, Some(share)) => format!("{share} %"),
                (None, None) => value.to_string(),
            }
        }
        StageKind::Angle(value) => value.to_string(),
        StageKind::BackOff(value) => value.to_string(),
        StageKind::Slot(most) => most.to_string(),
        StageKind::Slacken => return None,
    })
}

/// What is added to a measurement, or taken away from it, the smaller number first.
fn counted(id: &str, by: &Limits<Torque>) -> String {
    if !by.high().amount.is_sign_negative() {
        return format!("{id} + {by}");
    }
    let minus = |torque: Torque| Torque::new(-torque.amount, torque.unit);
    let by = match *by {
        Limits::Exactly(by) => Limits::Exactly(minus(by)),
        Limits::Window { low, high } => Limits::Window { low: minus(high), high: minus(low) },
    };
    format!("{id} - {by}")
}

#[cfg(test)]
mod tests {
    use super::counted;

    #[test]
    fn what_is_taken_away_stands_behind_a_minus_as_it_was_written() {
        for (by, shown) in [
            ("85 N·m", "drag + 85 N·m"),
            ("20..30 N·m", "drag + 20..30 N·m"),
            ("-1 N·m", "drag - 1 N·m"),
            ("-2..-1.5 N·m", "drag - 1.5..2 N·m"),
        ] {
            assert_eq!(counted("drag", &by.parse().expect("a torque")), shown);
        }
    }
}
