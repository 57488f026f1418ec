//! Orders of tightening: those that a file knows by a name, and those that a user tells.

use serde::{Deserialize, Serialize};

/// The order of tightening that a book has, as a user tells it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ToldOrder {
    /// Across and across; the places are numbered round the circle.
    Crosswise,
    /// One after the other, from one end.
    InTurn,
    /// From the middle outwards, over two rows alike.
    FromTheMiddle,
    /// By the numbers of the book's drawing, which the places have as well.
    AsNumbered,
    /// The book has none.
    Unordered,
}

impl ToldOrder {
    /// The name of its pattern in a file.
    pub fn pattern(self) -> &'static str {
        match self {
            ToldOrder::Crosswise => "cross",
            ToldOrder::FromTheMiddle => "spiral",
            ToldOrder::InTurn | ToldOrder::AsNumbered | ToldOrder::Unordered => "in turn",
        }
    }

    /// So many places in this order; nothing where they have none such, as no two rows alike.
    pub fn of(self, count: usize) -> Option<Vec<usize>> {
        match self {
            ToldOrder::Crosswise => Some(cross(count)),
            ToldOrder::FromTheMiddle if count >= 4 && count.is_multiple_of(2) => Some(spiral(count)),
            ToldOrder::FromTheMiddle => None,
            ToldOrder::InTurn | ToldOrder::AsNumbered | ToldOrder::Unordered => Some((0..count).collect()),
        }
    }
}

/// Round a circle, always as nearly opposite as can be: for an odd number in steps of half the circle (the star of
/// five), for an even one pair by pair of opposites, each pair as far from the last as can be.
pub(crate) fn cross(count: usize) -> Vec<usize> {
    if count % 2 == 1 {
        let step = count / 2;
        return (0..count).map(|n| n * step % count).collect();
    }
    let half = count / 2;
    // The pairs themselves lie round half a circle; go over them with the widest step that meets each one.
    let step = (1..=half / 2).rev().find(|s| gcd(*s, half) == 1).unwrap_or(1);
    (0..half).map(|n| n * step % half).flat_map(|first| [first, first + half]).collect()
}

fn gcd(a: usize, b: usize) -> usize {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// Two rows written one after the other, from the middle outwards: round and round in a growing circle.
pub(crate) fn spiral(count: usize) -> Vec<usize> {
    let row = count / 2;
    let (mut left, mut right) = ((row - 1) / 2, row / 2);
    let mut order = Vec::with_capacity(count);
    if left == right {
        // A middle column of its own.
        order.extend([left, row + left]);
    } else {
        order.extend([left, row + right, right, row + left]);
    }
    while left > 0 || right + 1 < row {
        left = left.saturating_sub(1);
        right = (right + 1).min(row - 1);
        order.extend([left, row + right, right, row + left]);
    }
    order
}
