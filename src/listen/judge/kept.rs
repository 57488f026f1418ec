//! What is made of a set of phrases, and kept: a conversation goes back and forth between few, and making it anew costs as
//! much as judging by it.
//!
//! What only one utterance adds stands at the end of its phrases (numbers), so what was made of the beginning serves. Knows
//! texts; not what is made of them.

use crate::listen::Phrase;

/// Sets that are kept.
const SETS: usize = 6;
/// So many phrases more than a set that is kept are taken in beside it.
const BESIDE: usize = 128;

/// What was made of some sets of phrases, that used last at the end.
pub(super) struct Kept<T> {
    sets: Vec<(Vec<String>, T)>,
}

impl<T> Default for Kept<T> {
    fn default() -> Self {
        Self { sets: Vec::new() }
    }
}

impl<T> Kept<T> {
    /// What was made of the longest set that these phrases begin with, and how many of them it is. Without one that leaves few
    /// beside it, it is made of all of them.
    pub(super) fn of(&mut self, phrases: &[Phrase], make: impl FnOnce(&[Phrase]) -> T) -> (&T, usize) {
        let begins = |texts: &[String]| {
            let rest = phrases.len().checked_sub(texts.len());
            rest.is_some_and(|rest| rest <= BESIDE)
                && texts.iter().eq(phrases[..texts.len()].iter().map(|phrase| &phrase.text))
        };
        let known = self.sets.iter().enumerate().filter(|(_, (texts, _))| begins(texts));
        let set = match known.max_by_key(|(_, (texts, _))| texts.len()).map(|(at, _)| at) {
            Some(at) => self.sets.remove(at),
            None => {
                if self.sets.len() >= SETS {
                    self.sets.remove(0);
                }
                (phrases.iter().map(|phrase| phrase.text.clone()).collect(), make(phrases))
            }
        };
        let count = set.0.len();
        self.sets.push(set);
        (&self.sets[self.sets.len() - 1].1, count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::listen::Harm;

    fn phrases(texts: &[&str]) -> Vec<Phrase> {
        texts.iter().map(|text| Phrase { text: (*text).into(), harm: Harm::None }).collect()
    }

    /// How often something was made, and of how many phrases what is given was made.
    fn asked(kept: &mut Kept<usize>, made: &mut usize, texts: &[&str]) -> (usize, usize) {
        let phrases = phrases(texts);
        let (of, count) = kept.of(&phrases, |phrases| {
            *made += 1;
            phrases.len()
        });
        assert_eq!(*of, count);
        (*made, count)
    }

    #[test]
    fn the_same_phrases_are_made_once_and_what_goes_on_from_them_is_beside_them() {
        let (mut kept, mut made) = (Kept::default(), 0);
        let mut asked = |texts: &[&str]| asked(&mut kept, &mut made, texts);
        assert_eq!(asked(&["yes", "no"]), (1, 2));
        assert_eq!(asked(&["yes", "no"]), (1, 2));
        assert_eq!(asked(&["yes", "no", "one"]), (1, 2));
        // Another order, or fewer, is another set.
        assert_eq!(asked(&["no", "yes", "one"]), (2, 3));
        assert_eq!(asked(&["no"]), (3, 1));
        // The longest one that it begins with.
        assert_eq!(asked(&["no", "yes", "one", "two"]), (3, 3));
        let many: Vec<String> = (0..=BESIDE).map(|n| format!("n{n}")).collect();
        let many: Vec<&str> = ["yes", "no"].into_iter().chain(many.iter().map(String::as_str)).collect();
        assert_eq!(asked(&many), (4, BESIDE + 3), "too many beside it");
    }

    #[test]
    fn what_was_used_longest_ago_goes_first() {
        let (mut kept, mut made) = (Kept::default(), 0);
        let names: Vec<String> = (0..=SETS).map(|n| format!("n{n}")).collect();
        for name in &names[..SETS] {
            asked(&mut kept, &mut made, &[name]);
        }
        assert_eq!(asked(&mut kept, &mut made, &["n0"]).0, SETS);
        assert_eq!(asked(&mut kept, &mut made, &[&names[SETS]]).0, SETS + 1);
        assert_eq!(asked(&mut kept, &mut made, &["n0"]).0, SETS + 1, "used since");
        assert_eq!(asked(&mut kept, &mut made, &["n1"]).0, SETS + 2);
    }
}
