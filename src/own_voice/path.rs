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
