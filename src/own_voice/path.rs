//! The cheapest way through the sound along the paths of phrases: one-pass dynamic time warping.
//!
//! Each row of the sound costs once, so that all ways through it are as long and can be compared: the row's distance from the
//! row of the take that it is laid on, or [`Costs::beside`] where it is laid on none, before, between and after units. From row to
//! row of the sound a take goes on by none, one or two of its own.
//!
//! Knows distances and paths; no words.

use super::units::Paths;

/// What ways cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Costs {
    /// A row of the sound that is in no unit.
    pub beside: f32,
    /// A row of the sound in which a take does not go on, besides its distance.
    pub standing: f32,
    /// A row of a take that is leapt over.
    pub leaping: f32,
}

/// The distances of the sound's rows from those of a take.
pub struct Laid {
    /// Rows of the take.
    pub length: usize,
    /// For each row of the sound, those from all rows of the take.
    pub distances: Vec<f32>,
}

/// For each phrase the cost of the cheapest way that says it, if it is among the paths. `units` are the takes of each unit, all laid
/// on a sound of `rows` rows.
pub fn cheapest(paths: &Paths, units: &[Vec<Laid>], rows: usize, phrases: usize, costs: Costs) -> Vec<Option<f32>> {
    let mut found = vec![None; phrases];
    let Some(first) = paths.nodes.first() else { return found };
    // What a way costs to the row where the next unit may begin.
    let before: Vec<f32> = (0..=rows).map(|row| row as f32 * costs.beside).collect();
    let mut waiting: Vec<(usize, Vec<f32>)> = first.next.iter().map(|&node| (node, before.clone())).collect();
    let mut old = Vec::new();
    let mut new = Vec::new();
    while let Some((at, entry)) = waiting.pop() {
        let Some(node) = paths.nodes.get(at) else { continue };
        let mut exit = vec![f32::INFINITY; rows + 1];
        for laid in units.get(node.unit).into_iter().flatten() {
            through(laid, &entry, &mut exit, costs, (&mut old, &mut new));
        }
        for row in 1..=rows {
            exit[row] = exit[row].min(exit[row - 1] + costs.beside);
        }
        for &phrase in &node.ends {
            let cost = exit[rows];
            if cost.is_finite()
                && found.get(phrase).is_some_and(|known: &Option<f32>| known.is_none_or(|one| cost < one))
            {
                found[phrase] = Some(cost);
            }
        }
        if exit.iter().any(|cost| cost.is_finite()) {
            waiting.extend(node.next.iter().map(|&next| (next, exit.clone())));
        }
    }
    found
}

/// Goes through one take from wherever it may be entered, and notes where it may be left for less than was known.
fn through(laid: &Laid, entry: &[f32], exit: &mut [f32], costs: Costs, (old, new): (&mut Vec<f32>, &mut Vec<f32>)) {
    let length = laid.length;
    if length == 0 {
        return;
    }
    old.clear();
    old.resize(length, f32::INFINITY);
    new.clear();
    new.resize(length, f32::INFINITY);
    for (row, distances) in laid.distances.chunks_exact(length).enumerate() {
        let entered = entry.get(row).copied().unwrap_or(f32::INFINITY);
        for at in 0..length {
            let stays = old[at] + costs.standing;
            let steps = if at > 0 { old[at - 1] } else { entered };
            let leaps = match at {
                0 => f32::INFINITY,
                1 => entered + costs.leaping,
                _ => old[at - 2] + costs.leaping,
            };
            new[at] = stays.min(steps).min(leaps) + distances[at];
        }
        let last = new[length - 1];
        let but_one = length.checked_sub(2).map_or(f32::INFINITY, |at| new[at] + costs.leaping);
        if let Some(exit) = exit.get_mut(row + 1) {
            *exit = exit.min(last.min(but_one));
        }
        std::mem::swap(old, new);
    }
}

#[cfg(test)]
mod tests {
    use super::super::units::Paths;
    use super::*;
    use proptest::prelude::*;
    use std::collections::HashMap;

    const COSTS: Costs = Costs { beside: 0.9, standing: 0.1, leaping: 0.2 };

    /// The cheapest way, by trying all of them: from this row of the sound, in the take and row of it that was laid on last.
    fn tried(units: &[Vec<Laid>], path: &[usize], row: usize, rows: usize, costs: Costs) -> f32 {
        let rest = |from: usize, path: &[usize]| tried(units, path, from, rows, costs);
        let Some((&unit, later)) = path.split_first() else { return (rows - row) as f32 * costs.beside };
        let mut best = if row < rows { costs.beside + rest(row + 1, path) } else { f32::INFINITY };
        for laid in &units[unit] {
            for (at, cost) in [(0, 0.0), (1, costs.leaping)] {
                best = best.min(within(laid, at, row, rows, costs, &|end| rest(end, later)) + cost);
            }
        }
        best
    }

    fn within(laid: &Laid, at: usize, row: usize, rows: usize, costs: Costs, after: &dyn Fn(usize) -> f32) -> f32 {
        if row >= rows || at >= laid.length {
            return f32::INFINITY;
        }
        let go = |at: usize| within(laid, at, row + 1, rows, costs, after);
        let mut best = (go(at) + costs.standing).min(go(at + 1)).min(go(at + 2) + costs.leaping);
        if at + 1 == laid.length {
            best = best.min(after(row + 1));
        } else if at + 2 == laid.length {
            best = best.min(after(row + 1) + costs.leaping);
        }
        best + laid.distances[row * laid.length + at]
    }

    proptest! {
        /// The way that is found is the cheapest that there is.
        #[test]
        fn no_way_is_cheaper(
            lengths in prop::collection::vec(prop::collection::vec(1usize..4, 1..3), 2),
            rows in 0usize..5, distances in prop::collection::vec(0.0f32..2.0, 64),
        ) {
            let mut given = distances.iter().copied().cycle();
            let units: Vec<Vec<Laid>> = lengths
                .iter()
                .map(|takes| {
                    let lay = |&length: &usize| Laid { length, distances: given.by_ref().take(length * rows).collect() };
                    takes.iter().map(lay).collect()
                })
                .collect();
            let texts: HashMap<&str, usize> = [("a", 0), ("b", 1)].into();
            let phrases = ["a", "b", "a b", "b a b"];
            let found = cheapest(&Paths::new(&texts, phrases), &units, rows, phrases.len(), COSTS);
            for (path, found) in [&[0][..], &[1], &[0, 1], &[1, 0, 1]].into_iter().zip(found) {
                let cheapest = tried(&units, path, 0, rows, COSTS);
                match found {
                    Some(found) => prop_assert!((found - cheapest).abs() < 1e-4, "{found} {cheapest}"),
                    None => prop_assert!(cheapest.is_infinite()),
                }
            }
        }
    }
}
