//! Where the fasteners of a group are drawn, worked out from the words for their places and from their order.
//!
//! In turn are tried: words of direction ("upper left"); rows of the same words ("intake one", "exhaust one"); the two
//! rows of a spiral; the circle of a cross; one row.

use crate::procedure::{Fastener, cross, spiral};
use std::collections::HashSet;

/// Where a fastener is drawn, in distances of neighbours from the upper left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// To the right.
    pub x: f64,
    /// Downwards.
    pub y: f64,
}

/// Fasteners in one row before the next row begins.
const LONGEST_ROW: usize = 10;

/// The spots of a group, by place.
pub fn spots(fastener: &Fastener) -> Vec<Spot> {
    let places = &fastener.places;
    let n = places.len();
    if n == 1 {
        return vec![Spot { x: 0.0, y: 0.0 }];
    }
    let spots = by_direction(places).or_else(|| by_rows(places)).or_else(|| {
        if n >= 6 && n.is_multiple_of(2) && fastener.order == spiral(n) {
            return Some(rows(n, n / 2));
        }
        (n >= 3 && fastener.order == cross(n)).then(|| circle(n))
    });
    spread(spots.unwrap_or_else(|| rows(n, LONGEST_ROW)))
}

/// Words of direction and where they point. The front of the vehicle is drawn at the top.
const DIRECTIONS: &[(&str, f64, f64)] = &[
    ("left", -1.0, 0.0),
    ("right", 1.0, 0.0),
    ("top", 0.0, -1.4),
    ("bottom", 0.0, 1.4),
    ("upper", 0.0, -0.75),
    ("lower", 0.0, 0.75),
    ("front", 0.0, -0.75),
    ("rear", 0.0, 0.75),
    ("back", 0.0, 0.75),
    ("middle", 0.0, 0.0),
    ("centre", 0.0, 0.0),
    ("center", 0.0, 0.0),
];

fn by_direction(places: &[String]) -> Option<Vec<Spot>> {
    let mut seen = HashSet::new();
    let mut spots = Vec::with_capacity(places.len());
    for place in places {
        let (mut x, mut y, mut found) = (0.0, 0.0, false);
        for word in place.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()) {
            let (_, dx, dy) = DIRECTIONS.iter().find(|(name, ..)| word.eq_ignore_ascii_case(name))?;
            (x, y, found) = (x + dx, y + dy, true);
        }
        if !found || !seen.insert(((x * 100.0) as i64, (y * 100.0) as i64)) {
            return None;
        }
        spots.push(Spot { x, y });
    }
    Some(spots)
}

/// Rows of places that begin with the same words and end with a word of their own.
fn by_rows(places: &[String]) -> Option<Vec<Spot>> {
    let mut names: Vec<(&str, usize)> = Vec::new();
    let mut spots = Vec::with_capacity(places.len());
    for place in places {
        let (row, _) = place.rsplit_once(' ')?;
        let at = names.iter().position(|(name, _)| *name == row).unwrap_or_else(|| {
            names.push((row, 0));
            names.len() - 1
        });
        spots.push(Spot { x: names[at].1 as f64, y: at as f64 });
        names[at].1 += 1;
    }
    let even = names.iter().all(|(_, count)| *count == names[0].1);
    (names.len() > 1 && names[0].1 > 1 && even).then_some(spots)
}

fn rows(n: usize, length: usize) -> Vec<Spot> {
    (0..n).map(|i| Spot { x: (i % length) as f64, y: (i / length) as f64 }).collect()
}

fn circle(n: usize) -> Vec<Spot> {
    let radius = 0.55 / (std::f64::consts::PI / n as f64).sin();
    let angle = |i: usize| i as f64 / n as f64 * std::f64::consts::TAU;
    (0..n).map(|i| Spot { x: radius * angle(i).sin(), y: -radius * angle(i).cos() }).collect()
}

/// Moves all of them to the upper left corner, and apart if two are too near for their labels.
fn spread(mut spots: Vec<Spot>) -> Vec<Spot> {
    let mut nearest = f64::MAX;
    for (i, a) in spots.iter().enumerate() {
        for b in &spots[i + 1..] {
            nearest = nearest.min((a.x - b.x).hypot(a.y - b.y));
        }
    }
    let factor = if nearest < 1.05 { 1.05 / nearest.max(0.1) } else { 1.0 };
    let least = |f: fn(&Spot) -> f64| spots.iter().map(f).fold(f64::MAX, f64::min);
    let (left, top) = (least(|s| s.x), least(|s| s.y));
    for spot in &mut spots {
        *spot = Spot { x: (spot.x - left) * factor, y: (spot.y - top) * factor };
    }
    spots
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn group(places: &[&str], order: Vec<usize>) -> Fastener {
        let arm = concat!(env!("CARGO_MANIFEST_DIR"), "/procedures/tarnfell-front-lower-arm-left.toml");
        let book = crate::procedure::load(arm.as_ref()).expect("the procedure loads");
        Fastener { places: places.iter().map(|p| (*p).to_owned()).collect(), order, ..book.fasteners[0].clone() }
    }

    #[test]
    fn words_of_direction_are_followed() {
        let five = spots(&group(&["top", "upper right", "lower right", "lower left", "upper left"], cross(5)));
        assert!(five[0].y < five[1].y && five[1].y < five[2].y, "{five:?}");
        assert!(five[4].x < five[0].x && five[0].x < five[1].x, "{five:?}");
        assert_eq!((five[1].y, five[2].x), (five[4].y, five[1].x));
        let two = spots(&group(&["front", "rear"], vec![0, 1]));
        assert!(two[0].x == two[1].x && two[0].y < two[1].y);
    }

    #[test]
    fn rows_circles_and_lines() {
        let head = ["in one", "in two", "in three", "out one", "out two", "out three"];
        let rows = spots(&group(&head, spiral(6)));
        assert!(rows[0].y == rows[2].y && rows[3].y > rows[0].y && rows[0].x == rows[3].x, "{rows:?}");
        let numbers = ["one", "two", "three", "four", "five", "six"];
        assert_eq!(spots(&group(&numbers, spiral(6))), rows);
        let ring = spots(&group(&numbers, cross(6)));
        assert!(ring[0].y < ring[1].y && ring[3].y > ring[2].y, "{ring:?}");
        let line = spots(&group(&numbers, (0..6).collect()));
        assert!(line.iter().all(|s| s.y == 0.0));
    }

    proptest! {
        #[test]
        fn no_two_are_drawn_on_each_other(places in proptest::collection::hash_set("(upper |lower |front )?(left|right|one|two|[a-z]{1,5})", 1..16), shape in 0u8..3) {
            let places: Vec<String> = places.into_iter().collect();
            let n = places.len();
            let order = match shape { 0 if n >= 3 => cross(n), 1 if n >= 4 && n.is_multiple_of(2) => spiral(n), _ => (0..n).collect() };
            let fastener = Fastener { places, ..group(&["x"], order) };
            let spots = spots(&fastener);
            prop_assert_eq!(spots.len(), n);
            for (i, a) in spots.iter().enumerate() {
                prop_assert!(a.x >= 0.0 && a.y >= 0.0 && a.x < 40.0 && a.y < 40.0, "{:?}", a);
                for b in &spots[i + 1..] {
                    prop_assert!((a.x - b.x).hypot(a.y - b.y) > 0.99, "{:?}", spots);
                }
            }
        }
    }
}
