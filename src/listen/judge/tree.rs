//! All phrases that may be said as one tree of words, each word a small tree of the ways to say it; and how likely each of
//! them is, by the rows of a network of phones.
//!
//! A row holds, for some stretch of the sound, the log probabilities of "nothing new" and of each phone. A line of outputs, one
//! a row, says the phones that are left of it once each is taken once as long as it goes on, and "nothing new" is dropped
//! (connectionist temporal classification; Graves et al., 2006). How likely a string of phones is, is the sum over all lines
//! that say it; how likely a phrase is, the sum over the ways to say its words. Both are exact here: nothing is left out but
//! what is further behind the likeliest than [`FAINT`].
//!
//! "Nothing new" fits anywhere, so a pause between two words costs nothing.
//!
//! Knows words, their phones and rows; not the network, and not what is believed.

use std::collections::HashMap;
use std::ops::Range;

use super::lexicon::{Lexicon, NOTHING_NEW, PHONES};
use crate::listen::Phrase;

/// Numbers in a row.
pub const OUTPUTS: usize = 1 + PHONES.len();
/// What each phone costs that [`anything`] says, in nats.
pub const COST: f64 = 2.0;
/// Beside the likeliest, which is kept above [`LOW`], what is less than this is nothing: 460 nats behind at least.
const FAINT: f64 = 1e-250;
/// The probabilities are raised again once all are below this.
const LOW: f64 = 1e-50;

/// The tree.
#[derive(Debug)]
pub struct PhoneTree {
    /// The phone at each place. Place 0 is the beginning, at which none was said yet.
    phones: Vec<u8>,
    /// For each place where its part of `before` begins, and the end of all.
    starts: Vec<u32>,
    /// The places that one may have been at before, all of them lower.
    before: Vec<u32>,
    said: Vec<Said>,
    /// The last places of each phrase.
    ends: Vec<u32>,
    /// Phrases that have a word without a pronunciation, and that word.
    left_out: Vec<(usize, String)>,
}

/// A phrase in the tree.
#[derive(Debug)]
struct Said {
    phrase: usize,
    phones: usize,
    ends: Range<usize>,
}

/// How likely a phrase is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Likely {
    /// Its number among those that the tree was made of.
    pub phrase: usize,
    /// Phones in its longest pronunciation.
    pub phones: usize,
    /// Log of its probability; minus infinity if it cannot be what was said.
    pub log: f32,
}

/// The end of a word after certain others.
struct Word {
    ends: Vec<u32>,
    phones: usize,
}

impl PhoneTree {
    /// The tree of these phrases. One with a word that the lexicon lacks is left out: it is never likely.
    pub fn new(phrases: &[Phrase], lexicon: &Lexicon) -> Self {
        let mut tree = Self {
            phones: vec![NOTHING_NEW],
            starts: vec![0, 0],
            before: Vec::new(),
            said: Vec::with_capacity(phrases.len()),
            ends: Vec::new(),
            left_out: Vec::new(),
        };
        let mut words = vec![Word { ends: vec![0], phones: 0 }];
        let mut known: HashMap<(usize, &str), usize> = HashMap::new();
        for (phrase, Phrase { text, .. }) in phrases.iter().enumerate() {
            if let Some(strange) = text.split_whitespace().find(|word| lexicon.ways(word).is_empty()) {
                tree.left_out.push((phrase, strange.to_owned()));
                continue;
            }
            let mut at = 0;
            for word in text.split_whitespace() {
                at = *known.entry((at, word)).or_insert_with(|| {
                    let next = tree.word(&words[at], lexicon.ways(word));
                    words.push(next);
                    words.len() - 1
                });
            }
            if at == 0 {
                // Without a word nothing can be said.
                continue;
            }
            let from = tree.ends.len();
            tree.ends.extend_from_slice(&words[at].ends);
            tree.said.push(Said { phrase, phones: words[at].phones, ends: from..tree.ends.len() });
        }
        tree
    }

    /// The numbers of the phrases that are not in it, each with the first word that the lexicon lacks.
    pub fn left_out(&self) -> &[(usize, String)] {
        &self.left_out
    }

    /// Puts in a word after another.
    fn word(&mut self, after: &Word, ways: &[Vec<u8>]) -> Word {
        // Ways that begin alike have their beginning in common: the place before, the phone, its place.
        let mut steps: Vec<(u32, u8, u32)> = Vec::new();
        let mut ends = Vec::with_capacity(ways.len());
        for way in ways {
            let mut at = 0;
            for (number, &phone) in way.iter().enumerate() {
                let known = steps.iter().find(|(before, step, _)| (*before, *step) == (at, phone));
                at = match known {
                    Some((.., to)) => *to,
                    None => {
                        let to = match number {
                            0 => self.place(phone, &after.ends),
                            _ => self.place(phone, &[at]),
                        };
                        steps.push((at, phone, to));
                        to
                    }
                };
            }
            ends.push(at);
        }
        let longest = ways.iter().map(Vec::len).max().unwrap_or(0);
        Word { ends, phones: after.phones + longest }
    }

    fn place(&mut self, phone: u8, before: &[u32]) -> u32 {
        let place = self.phones.len() as u32;
        self.phones.push(phone);
        self.before.extend_from_slice(before);
        self.starts.push(self.before.len() as u32);
        place
    }

    /// How many places it has: what it costs to go through.
    pub fn places(&self) -> usize {
        self.phones.len()
    }

    /// How likely each phrase is, in the order of the phrases; `rows` are log probabilities, [`OUTPUTS`] a row.
    pub fn likely(&self, rows: &[f32]) -> Vec<Likely> {
        let (ways, raised) = self.forward(rows);
        let log = |said: &Said| {
            let sum: f64 = self.ends[said.ends.clone()].iter().map(|&end| ways[end as usize]).map(|[a, b]| a + b).sum();
            (sum.ln() - raised) as f32
        };
        self.said.iter().map(|said| Likely { phrase: said.phrase, phones: said.phones, log: log(said) }).collect()
    }

    /// For each place the probability that the phones up to it were said, and no others: with it still going on, and with
    /// "nothing new" after it. All of them are raised by the same factor, whose log comes with them.
    fn forward(&self, rows: &[f32]) -> (Vec<[f64; 2]>, f64) {
        let mut ways = vec![[0.0, 0.0]; self.phones.len()];
        ways[0] = [0.0, 1.0];
        let mut raised = 0.0;
        let kept = |probability: f64| if probability < FAINT { 0.0 } else { probability };
        for row in rows.chunks_exact(OUTPUTS) {
            let likely = probabilities(row);
            let nothing = likely[usize::from(NOTHING_NEW)];
            let mut most = 0.0f64;
            // From the ends on, so that what a place begins from is still that of the row before.
            for place in (0..ways.len()).rev() {
                let phone = self.phones[place];
                let mut begins = 0.0;
                for &before in &self.before[self.starts[place] as usize..self.starts[place + 1] as usize] {
                    let [on, after] = ways[before as usize];
                    // The same phone twice is two only with something between.
                    begins += if self.phones[before as usize] == phone { after } else { on + after };
                }
                let [on, after] = ways[place];
                // At the beginning no phone goes on: there `on` is 0 and nothing begins.
                let now = [kept(likely[usize::from(phone)] * (on + begins)), kept(nothing * (on + after))];
                most = most.max(now[0]).max(now[1]);
                ways[place] = now;
            }
            if most > 0.0 && most < LOW {
                raised -= most.ln();
                ways.iter_mut().flatten().for_each(|probability| *probability /= most);
            }
        }
        (ways, raised)
    }
}

/// Log of the sum, over all strings of phones, the empty one too, of their probability times exp(-[`COST`]) for each phone.
///
/// What the sound is at all, if it need not be a phrase. The phrase is one of these strings (with several ways to say it, some
/// of them), so log P(phrase) - `anything` is at most [`COST`] for each of its phones, and the more below that, the more likely
/// it is that other phones were said, or more, or fewer.
pub fn anything(rows: &[f32]) -> f32 {
    let cost = (-COST).exp();
    // Where each phone goes on; and where "nothing new" came last, or nothing yet.
    let mut on = [0.0f64; OUTPUTS];
    let mut after = 1.0f64;
    let mut raised = 0.0;
    for row in rows.chunks_exact(OUTPUTS) {
        let likely = probabilities(row);
        let all: f64 = after + on.iter().sum::<f64>();
        for (on, likely) in on.iter_mut().zip(&likely).skip(1) {
            *on = likely * (*on + cost * (all - *on).max(0.0));
        }
        after = likely[usize::from(NOTHING_NEW)] * all;
        let most = on.iter().copied().fold(after, f64::max);
        if most > 0.0 && most < LOW {
            raised -= most.ln();
            on.iter_mut().chain([&mut after]).for_each(|probability| *probability /= most);
        }
    }
    ((after + on.iter().sum::<f64>()).ln() - raised) as f32
}

fn probabilities(row: &[f32]) -> [f64; OUTPUTS] {
    let mut likely = [0.0; OUTPUTS];
    for (likely, log) in likely.iter_mut().zip(row) {
        *likely = f64::from(*log).exp();
    }
    likely
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::listen::Harm;
    use proptest::prelude::*;

    const WORDS: &str = "a AA\nb AE\nc AA AE\nc AE\nd AA AA\nd AH AE AA\nd AH AE\ne AH";

    fn lexicon() -> Lexicon {
        Lexicon::parse(WORDS).unwrap()
    }

    fn phrases(texts: &[String]) -> Vec<Phrase> {
        texts.iter().map(|text| Phrase { text: text.clone(), harm: Harm::None }).collect()
    }

    /// Rows in which four outputs are likely, by these weights, and the others hardly.
    fn rows(weights: &[[f32; 4]]) -> Vec<f32> {
        beside(-8.0, weights)
    }

    /// The same with this weight for the others.
    fn beside(others: f32, weights: &[[f32; 4]]) -> Vec<f32> {
        let row = |weights: &[f32; 4]| {
            let mut row = [others; OUTPUTS];
            row[..4].copy_from_slice(weights);
            let total: f32 = row.iter().map(|log| log.exp()).sum();
            row.map(|log| log - total.ln())
        };
        weights.iter().flat_map(row).collect()
    }

    /// Every line of the first four outputs, one a row, with the log of its probability and the phones that it says.
    fn lines(rows: &[f32]) -> Vec<(f64, Vec<u8>)> {
        let mut lines = vec![(0.0, Vec::new())];
        for row in rows.chunks_exact(OUTPUTS) {
            let longer = lines.iter().flat_map(|(log, line): &(f64, Vec<u8>)| {
                (0..4).map(move |output| (log + f64::from(row[output]), [line, &[output as u8][..]].concat()))
            });
            lines = longer.collect();
        }
        for (_, line) in &mut lines {
            line.dedup();
            line.retain(|output| *output != NOTHING_NEW);
        }
        lines
    }

    fn log_sum(logs: impl Iterator<Item = f64>) -> f64 {
        logs.map(f64::exp).sum::<f64>().ln()
    }

    /// Every way to say a text.
    fn ways(text: &str) -> Vec<Vec<u8>> {
        let lexicon = lexicon();
        text.split(' ').fold(vec![Vec::new()], |ways, word| {
            let longer =
                |way: &Vec<u8>| lexicon.ways(word).iter().map(|more| [&way[..], more].concat()).collect::<Vec<_>>();
            ways.iter().flat_map(longer).collect()
        })
    }

    fn near(one: f64, other: f64) -> bool {
        one == other || (one - other).abs() < 1e-3
    }

    #[test]
    fn a_phone_that_goes_on_is_one_and_with_nothing_between_two_are_two() {
        let say = |outputs: &[usize]| {
            let weights: Vec<[f32; 4]> =
                outputs.iter().map(|&at| [0, 1, 2, 3].map(|n| if n == at { 0.0 } else { -30.0 })).collect();
            rows(&weights)
        };
        let tree = PhoneTree::new(&phrases(&["a".into(), "a a".into(), "c".into()]), &lexicon());
        let best = |outputs: &[usize]| {
            let likely = tree.likely(&say(outputs));
            likely.iter().max_by(|a, b| a.log.total_cmp(&b.log)).map(|best| best.phrase)
        };
        assert_eq!(best(&[0, 1, 1, 0]), Some(0));
        assert_eq!(best(&[1, 0, 1]), Some(1));
        assert_eq!(best(&[0, 1, 1, 0, 2, 0, 0]), Some(2));
        assert_eq!(best(&[2, 2]), Some(2), "said in its shorter way");
    }

    #[test]
    fn a_phrase_longer_than_the_sound_cannot_have_been_said() {
        let tree = PhoneTree::new(&phrases(&["b a e".into(), "b".into()]), &lexicon());
        let likely = tree.likely(&rows(&[[0.0; 4]; 2]));
        assert_eq!((likely[0].log, likely[0].phones), (f32::NEG_INFINITY, 3));
        assert!(likely[1].log > -3.0 && likely[1].phones == 1);
        assert!(tree.likely(&[]).iter().all(|one| one.log == f32::NEG_INFINITY));
        assert_eq!(anything(&[]), 0.0);
    }

    #[test]
    fn anything_is_any_of_the_phones() {
        let row: Vec<f32> = (0..OUTPUTS).map(|output| ((output + 1) as f32 / 820.0).ln()).collect();
        let truth = (1.0f64 / 820.0 + (-COST).exp() * 819.0 / 820.0).ln();
        assert!(near(anything(&row).into(), truth));
    }

    #[test]
    fn a_phrase_with_a_strange_word_is_left_out_and_told() {
        let strange = Phrase { text: "a wibble".into(), harm: Harm::Claims };
        let known = phrases(&["b".into()]).remove(0);
        let tree = PhoneTree::new(&[strange, known.clone()], &lexicon());
        assert_eq!(tree.likely(&rows(&[[0.0; 4]; 2])).iter().map(|one| one.phrase).collect::<Vec<_>>(), [1]);
        assert_eq!(tree.left_out(), [(0, "wibble".to_owned())]);
        assert!(PhoneTree::new(&[known], &lexicon()).left_out().is_empty());
    }

    #[test]
    fn sound_of_minutes_runs_out_of_no_numbers() {
        // 80 s in which nothing is likely, and one word in the middle.
        let flat = [-(OUTPUTS as f32).ln(); OUTPUTS];
        let mut long: Vec<f32> = flat.repeat(3_400);
        let at = 1_700 * OUTPUTS;
        long.splice(at..at + OUTPUTS, rows(&[[-20.0, -20.0, 5.0, -20.0]]));
        let tree = PhoneTree::new(&phrases(&["a".into(), "b".into()]), &lexicon());
        let likely = tree.likely(&long);
        assert!(likely.iter().all(|one| one.log.is_finite()) && likely[1].log > likely[0].log, "{likely:?}");
        assert!(anything(&long).is_finite());
        // Far behind is not the same as not at all, up to the 460 nats that are kept.
        let silent = rows(&[[0.0, -12.0, -12.0, -12.0]; 40]);
        let far = tree.likely(&silent);
        assert!(far.iter().all(|one| (-12.0..-7.0).contains(&one.log)), "{far:?}");
    }

    proptest! {
        /// Against all lines, one by one.
        #[test]
        fn phrases_are_as_likely_as_all_their_lines_together(
            weights in prop::collection::vec(prop::array::uniform4(-4.0f32..4.0), 1..7),
            texts in prop::collection::vec("[abcde]( [abcde]){0,2}", 1..6),
        ) {
            let rows = rows(&weights);
            let lines = lines(&rows);
            let tree = PhoneTree::new(&phrases(&texts), &lexicon());
            let likely = tree.likely(&rows);
            prop_assert_eq!(likely.len(), texts.len());
            for (one, text) in likely.iter().zip(&texts) {
                let ways = ways(text);
                // Two words may be put together alike in two ways; then both count.
                let each = |way: &Vec<u8>| log_sum(lines.iter().filter(|(_, line)| line == way).map(|(log, _)| *log));
                let truth = log_sum(ways.iter().map(each));
                prop_assert!(near(one.log.into(), truth), "{}: {} is not {}", text, one.log, truth);
                prop_assert_eq!(one.phones, ways.iter().map(Vec::len).max().unwrap());
            }
        }

        /// The same of all that may be said at all, where no other phone may be.
        #[test]
        fn anything_is_all_lines_with_what_their_phones_cost(weights in prop::collection::vec(prop::array::uniform4(-4.0f32..4.0), 1..7)) {
            let rows = beside(f32::NEG_INFINITY, &weights);
            let truth = log_sum(lines(&rows).iter().map(|(log, line)| log - COST * line.len() as f64));
            prop_assert!(near(anything(&rows).into(), truth), "{} is not {}", anything(&rows), truth);
        }

        /// A phrase is ahead of anything by no more than its phones cost.
        #[test]
        fn no_phrase_is_further_ahead_than_its_phones_cost(
            weights in prop::collection::vec(prop::array::uniform4(-6.0f32..6.0), 1..40),
            text in "[abe]( [abe]){0,5}",
        ) {
            let rows = rows(&weights);
            let tree = PhoneTree::new(&phrases(&[text]), &lexicon());
            let [one] = tree.likely(&rows)[..] else { unreachable!() };
            prop_assert!(one.log - anything(&rows) <= COST as f32 * one.phones as f32 + 1e-3);
        }
    }
}
