//! Phrases as paths through the units that were learnt: a phrase with a take of its own is one unit, any other the fewest that
//! it is made of.
//!
//! Knows texts only. Phrases that begin alike share the beginning of their paths, so that it is compared once.

use std::collections::HashMap;

/// A place on a path.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Node {
    /// Which unit leads here; the first node has none and is led to by nothing.
    pub unit: usize,
    /// Nodes that go on from here.
    pub next: Vec<usize>,
    /// The phrases that end here, by their index.
    pub ends: Vec<usize>,
}

/// All paths; the first node is where they begin.
#[derive(Debug)]
pub struct Paths {
    /// The nodes.
    pub nodes: Vec<Node>,
}

impl Paths {
    /// The paths of those phrases that are made of units.
    pub fn new<'a>(units: &HashMap<&str, usize>, phrases: impl IntoIterator<Item = &'a str>) -> Self {
        let mut nodes = vec![Node::default()];
        let mut steps: HashMap<(usize, usize), usize> = HashMap::new();
        for (phrase, text) in phrases.into_iter().enumerate() {
            let Some(path) = fewest(units, text) else { continue };
            let mut at = 0;
            for unit in path {
                at = *steps.entry((at, unit)).or_insert_with(|| {
                    nodes.push(Node { unit, ..Node::default() });
                    let new = nodes.len() - 1;
                    nodes[at].next.push(new);
                    new
                });
            }
            nodes[at].ends.push(phrase);
        }
        Self { nodes }
    }
}

/// The fewest units that a text is made of; nothing if it has a word that no unit has.
pub fn fewest(units: &HashMap<&str, usize>, text: &str) -> Option<Vec<usize>> {
    if let Some(&unit) = units.get(text) {
        return Some(vec![unit]);
    }
    let mut edges = vec![0];
    edges.extend(text.match_indices(' ').map(|(at, _)| at + 1));
    edges.push(text.len() + 1);
    // To each edge the fewest units, with the edge that the last of them begins at.
    let mut best: Vec<Option<(usize, usize, usize)>> = vec![None; edges.len()];
    for end in 1..edges.len() {
        for start in 0..end {
            let Some(before) = (if start == 0 { Some(0) } else { best[start].map(|(count, ..)| count) }) else {
                continue;
            };
            let Some(&unit) = text.get(edges[start]..edges[end] - 1).and_then(|part| units.get(part)) else { continue };
            if best[end].is_none_or(|(count, ..)| before + 1 < count) {
                best[end] = Some((before + 1, start, unit));
            }
        }
    }
    let mut path = Vec::new();
    let mut at = edges.len() - 1;
    while at > 0 {
        let (_, start, unit) = best[at]?;
        path.push(unit);
        at = start;
    }
    path.reverse();
    Some(path)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn units<'a>(texts: &[&'a str]) -> HashMap<&'a str, usize> {
        texts.iter().enumerate().map(|(at, text)| (*text, at)).collect()
    }

    #[test]
    fn a_phrase_is_made_of_the_fewest_units() {
        let units = units(&["reading", "thirty", "eight", "thirty eight", "go to step", "next step", "step"]);
        assert_eq!(fewest(&units, "reading thirty eight"), Some(vec![0, 3]));
        assert_eq!(fewest(&units, "reading eight"), Some(vec![0, 2]));
        assert_eq!(fewest(&units, "next step"), Some(vec![5]));
        assert_eq!(fewest(&units, "go to step eight"), Some(vec![4, 2]));
        for none in ["", "next", "reading nine", "reading  eight", " eight", "eight "] {
            assert_eq!(fewest(&units, none), None, "{none:?}");
        }
    }

    #[test]
    fn what_begins_alike_is_one_path() {
        let units = units(&["reading", "thirty", "eight"]);
        let paths = Paths::new(&units, ["reading thirty", "no", "reading thirty eight", "reading eight"]);
        assert_eq!(paths.nodes.len(), 5);
        assert_eq!(paths.nodes[0].next.len(), 1);
        let ends: Vec<&Vec<usize>> = paths.nodes.iter().map(|node| &node.ends).collect();
        assert_eq!(ends, [&vec![], &vec![], &vec![0], &vec![2], &vec![3]]);
    }

    proptest! {
        /// The units of a path, said one after the other, are the phrase.
        #[test]
        fn a_path_says_its_phrase(
            known in prop::collection::hash_set("[ab]( [ab]){0,2}", 1..6), text in "\\PC{0,8}|[ab]( [ab]){0,6}",
        ) {
            let texts: Vec<&str> = known.iter().map(String::as_str).collect();
            if let Some(path) = fewest(&units(&texts), &text) {
                let said: Vec<&str> = path.iter().map(|&unit| texts[unit]).collect();
                prop_assert_eq!(said.join(" "), text);
            }
        }
    }
}
