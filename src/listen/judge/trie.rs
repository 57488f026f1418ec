//! All allowed phrases as one tree of tokens, and the search for those that a model finds likely.
//!
//! Knows token numbers and log probabilities; not the model. Only phrases of the tree can come out, whatever the model
//! would rather write.

use std::collections::HashMap;

/// Paths that are followed at a time.
pub(super) const BEAM: usize = 8;
/// A path whose tokens can no longer reach this on average is not worth following.
const HOPELESS: f32 = -4.5;

#[derive(Debug, Default, Clone)]
struct Node {
    children: Vec<(u32, u32)>,
    /// A phrase that ends here.
    phrase: Option<u32>,
    /// Tokens from the root to the deepest end below, this node's included.
    deepest: u32,
}

/// The tree.
#[derive(Debug, Clone)]
pub(super) struct Trie {
    nodes: Vec<Node>,
}

impl Trie {
    /// A tree of spellings: tokens, and the number of the phrase that they spell. If two phrases are spelled alike,
    /// the first keeps the spelling.
    pub(super) fn new(spellings: impl IntoIterator<Item = (Vec<u32>, u32)>) -> Self {
        let mut nodes = vec![Node::default()];
        let mut steps: HashMap<(u32, u32), u32> = HashMap::new();
        for (tokens, phrase) in spellings {
            let depth = tokens.len() as u32;
            let mut at = 0u32;
            nodes[0].deepest = nodes[0].deepest.max(depth);
            for token in tokens {
                let next = nodes.len() as u32;
                let to = *steps.entry((at, token)).or_insert(next);
                if to == next {
                    nodes[at as usize].children.push((token, to));
                    nodes.push(Node::default());
                }
                at = to;
                nodes[at as usize].deepest = nodes[at as usize].deepest.max(depth);
            }
            nodes[at as usize].phrase.get_or_insert(phrase);
        }
        Self { nodes }
    }

    /// The same tree with a few spellings more.
    pub(super) fn with(&self, spellings: impl IntoIterator<Item = (Vec<u32>, u32)>) -> Self {
        let mut nodes = self.nodes.clone();
        for (tokens, phrase) in spellings {
            let depth = tokens.len() as u32;
            let mut at = 0;
            nodes[0].deepest = nodes[0].deepest.max(depth);
            for token in tokens {
                let known = nodes[at].children.iter().find(|(step, _)| *step == token).map(|(_, to)| *to as usize);
                at = known.unwrap_or_else(|| {
                    let to = nodes.len();
                    nodes[at].children.push((token, to as u32));
                    nodes.push(Node::default());
                    to
                });
                nodes[at].deepest = nodes[at].deepest.max(depth);
            }
            nodes[at].phrase.get_or_insert(phrase);
        }
        Self { nodes }
    }
}

/// Gives log probabilities of every token, given those before it.
pub(super) trait Model {
    /// What may go wrong.
    type Error;
    /// Goes on from the rows of the last call, or from the beginning at the first: row `n` of the answer follows row
    /// `from[n].0` of the last one and its next token `from[n].1`.
    fn next(&mut self, from: &[(usize, u32)]) -> Result<Vec<Vec<f32>>, Self::Error>;
}

/// A phrase that was found.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Found {
    pub(super) phrase: u32,
    /// The spelling that was most likely.
    pub(super) tokens: Vec<u32>,
    /// Its log probability, closing included.
    pub(super) log: f32,
}

struct Path {
    node: u32,
    tokens: Vec<u32>,
    log: f32,
}

/// Follows the likeliest paths. Returns each phrase found once, with its likeliest spelling; in no order.
pub(super) fn search<M: Model>(
    trie: &Trie,
    model: &mut M,
    begin: u32,
    closings: &[u32],
) -> Result<Vec<Found>, M::Error> {
    let mut found: HashMap<u32, Found> = HashMap::new();
    let mut paths = vec![Path { node: 0, tokens: Vec::new(), log: 0.0 }];
    let mut from = vec![(0, begin)];
    while !paths.is_empty() {
        let rows = model.next(&from)?;
        let mut candidates: Vec<(f32, usize, u32, u32)> = Vec::new();
        for (at, (path, row)) in paths.iter().zip(&rows).enumerate() {
            let node = &trie.nodes[path.node as usize];
            if let Some(phrase) = node.phrase {
                let closing: f32 =
                    closings.iter().filter_map(|&mark| row.get(mark as usize)).map(|log| log.exp()).sum();
                let log = path.log + closing.ln();
                let known = found.get(&phrase).map_or(f32::NEG_INFINITY, |known| known.log);
                if log > known {
                    found.insert(phrase, Found { phrase, tokens: path.tokens.clone(), log });
                }
            }
            for &(token, child) in &node.children {
                // A token beyond the model's list cannot be said.
                let Some(step) = row.get(token as usize) else { continue };
                let log = path.log + step;
                // Were all that may follow certain, would it be enough? One more token closes.
                if log >= HOPELESS * (trie.nodes[child as usize].deepest + 1) as f32 {
                    candidates.push((log, at, token, child));
                }
            }
        }
        candidates.sort_by(|a, b| b.0.total_cmp(&a.0));
        candidates.truncate(BEAM);
        from.clear();
        let mut next = Vec::with_capacity(candidates.len());
        for (log, at, token, node) in candidates {
            let mut tokens = paths[at].tokens.clone();
            tokens.push(token);
            from.push((at, token));
            next.push(Path { node, tokens, log });
        }
        paths = next;
    }
    Ok(found.into_values().collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::convert::Infallible;

    const END: u32 = 2;

    /// A model whose probabilities depend on the tokens so far by a sum, over ten tokens.
    struct Made {
        seed: u32,
        rows: Vec<Vec<u32>>,
    }

    impl Made {
        fn row(&self, tokens: &[u32]) -> Vec<f32> {
            let mut weights = Vec::new();
            for token in 0..10 {
                let mut mixed = self.seed ^ token;
                for before in tokens {
                    mixed = mixed.wrapping_mul(31).wrapping_add(*before + 7);
                }
                weights.push((mixed.wrapping_mul(2_654_435_761) >> 24) as f32 / 64.0);
            }
            let total: f32 = weights.iter().map(|w| w.exp()).sum();
            weights.iter().map(|w| w - total.ln()).collect()
        }

        fn log(&self, tokens: &[u32]) -> f32 {
            let mut before = vec![1];
            let mut log = 0.0;
            for &token in tokens.iter().chain([&END]) {
                log += self.row(&before)[token as usize];
                before.push(token);
            }
            log
        }
    }

    impl Model for Made {
        type Error = Infallible;
        fn next(&mut self, from: &[(usize, u32)]) -> Result<Vec<Vec<f32>>, Infallible> {
            let rows = from.iter().map(|&(row, token)| {
                let mut tokens = self.rows.get(row).cloned().unwrap_or_default();
                tokens.push(token);
                tokens
            });
            self.rows = rows.collect();
            Ok(self.rows.iter().map(|tokens| self.row(tokens)).collect())
        }
    }

    #[test]
    fn phrases_spelled_alike_keep_the_first() {
        let trie = Trie::new([(vec![5, 6], 0), (vec![5, 6], 1), (vec![5], 2)]);
        let mut model = Made { seed: 1, rows: Vec::new() };
        let mut found = search(&trie, &mut model, 1, &[END]).unwrap();
        found.sort_by_key(|f| f.phrase);
        assert_eq!(found.iter().map(|f| f.phrase).collect::<Vec<_>>(), [0, 2]);
        assert_eq!(found[0].tokens, [5, 6]);
    }

    #[test]
    fn tokens_the_model_lacks_are_never_said() {
        let trie = Trie::new([(vec![5, 99], 0), (vec![7], 1)]);
        let mut model = Made { seed: 3, rows: Vec::new() };
        let found = search(&trie, &mut model, 1, &[END, 98]).unwrap();
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].phrase, 1);
    }

    #[test]
    fn an_empty_tree_gives_nothing() {
        assert!(search(&Trie::new([]), &mut Made { seed: 0, rows: Vec::new() }, 1, &[END]).unwrap().is_empty());
    }

    proptest! {
        /// With no more phrases than paths, every phrase that has a hope is found with its true probability.
        #[test]
        fn few_phrases_are_scored_exactly(
            spellings in prop::collection::vec((prop::collection::vec(3u32..10, 1..5), 0u32..6), 1..=BEAM),
            seed in any::<u32>(),
        ) {
            let trie = Trie::new(spellings.clone());
            let found = search(&trie, &mut Made { seed, rows: Vec::new() }, 1, &[END]).unwrap();
            let truth = Made { seed, rows: Vec::new() };
            for one in &found {
                prop_assert!((one.log - truth.log(&one.tokens)).abs() < 1e-3);
                prop_assert!(spellings.iter().any(|(tokens, _)| *tokens == one.tokens));
            }
            for (tokens, _) in &spellings {
                // Alike spellings belong to the first phrase that has them.
                let phrase = spellings.iter().find(|(other, _)| other == tokens).unwrap().1;
                let log = truth.log(tokens);
                if log / (tokens.len() + 1) as f32 > HOPELESS {
                    let known = found.iter().find(|f| f.phrase == phrase);
                    prop_assert!(known.is_some_and(|f| f.log >= log - 1e-3), "{:?} at {} is not in {:?}", tokens, log, found);
                }
            }
        }
    }
}
