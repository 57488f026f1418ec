//! The lesson in which a voice is learnt: what is to be said next, and what becomes of what was said.
//!
//! Knows phrases as they are handed in, how many takes of each are wanted, and what was wrong with a take. Leaves the sound,
//! the words it is told in and the disk to others. Pure.

use std::collections::VecDeque;

use super::check::Fault;

/// So often a phrase is tried before it is left out.
const TRIES: u32 = 3;

/// The phrases that are still to be said.
#[derive(Debug, Clone)]
pub struct Lesson {
    left: VecDeque<String>,
    of: usize,
    tries: u32,
}

/// What becomes of a take.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// It is kept; the next phrase comes.
    Kept,
    /// It is to be said again.
    Again,
    /// It was tried often enough; the next phrase comes.
    LeftOut,
}

impl Lesson {
    /// A lesson of these phrases, the most useful first: `takes` of each are wanted, `known` says how many there are already.
    /// All are said once before any is said again, so that a lesson broken off is of use.
    pub fn new(phrases: &[String], takes: usize, known: impl Fn(&str) -> usize) -> Self {
        let mut left = VecDeque::new();
        for taken in 0..takes {
            left.extend(phrases.iter().filter(|phrase| known(phrase) <= taken).cloned());
        }
        Self { of: takes * phrases.len(), left, tries: 0 }
    }

    /// The phrase that is to be said; nothing once the lesson is over.
    pub fn now(&self) -> Option<&str> {
        self.left.front().map(String::as_str)
    }

    /// How many takes there are, or were given up, and how many are wanted in all.
    pub fn progress(&self) -> (usize, usize) {
        (self.of - self.left.len(), self.of)
    }

    /// The phrase was said, with these faults.
    pub fn took(&mut self, faults: &[Fault]) -> Outcome {
        self.tries += 1;
        if faults.is_empty() {
            self.next();
            Outcome::Kept
        } else if self.tries < TRIES {
            Outcome::Again
        } else {
            self.leave();
            Outcome::LeftOut
        }
    }

    /// The user does not want to say it.
    pub fn leave(&mut self) {
        let left = self.left.pop_front();
        self.tries = 0;
        // Whoever gives up on a phrase is not asked for it in the next round.
        self.left.retain(|phrase| Some(phrase) != left.as_ref());
    }

    fn next(&mut self) {
        self.left.pop_front();
        self.tries = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn phrases(texts: &[&str]) -> Vec<String> {
        texts.iter().map(|&text| text.to_owned()).collect()
    }

    /// What is asked for if everything is said well.
    fn asked(mut lesson: Lesson) -> Vec<String> {
        let mut asked = Vec::new();
        while let Some(phrase) = lesson.now() {
            asked.push(phrase.to_owned());
            assert_eq!(lesson.took(&[]), Outcome::Kept);
        }
        asked
    }

    #[test]
    fn all_are_said_once_before_any_is_said_again() {
        let all = phrases(&["next step", "say again", "yes"]);
        assert_eq!(asked(Lesson::new(&all, 1, |_| 0)), all);
        assert_eq!(asked(Lesson::new(&all, 2, |_| 0)), [all.clone(), all.clone()].concat());
        assert_eq!(asked(Lesson::new(&all, 0, |_| 0)), Vec::<String>::new());
    }

    #[test]
    fn a_lesson_goes_on_where_it_was_broken_off() {
        let all = phrases(&["next step", "say again", "yes"]);
        let known = |phrase: &str| if phrase == "yes" { 0 } else { 1 };
        let lesson = Lesson::new(&all, 1, known);
        assert_eq!(lesson.progress(), (2, 3));
        assert_eq!(asked(lesson), ["yes"]);
        assert_eq!(asked(Lesson::new(&all, 2, known)), ["yes", "next step", "say again", "yes"]);
        assert_eq!(asked(Lesson::new(&all, 1, |_| 2)), Vec::<String>::new());
    }

    #[test]
    fn what_fails_three_times_is_left_out_for_good() {
        let mut lesson = Lesson::new(&phrases(&["next step", "yes"]), 2, |_| 0);
        assert_eq!(lesson.took(&[Fault::Faint]), Outcome::Again);
        assert_eq!(lesson.took(&[Fault::Faint]), Outcome::Again);
        assert_eq!(lesson.took(&[Fault::Faint]), Outcome::LeftOut);
        assert_eq!(asked(lesson), ["yes", "yes"]);
    }

    proptest! {
        /// Whatever goes wrong, it comes to its end, and what is done never gets less.
        #[test]
        fn it_ends(count in 0usize..12, takes in 0usize..3, said in prop::collection::vec(0u8..3, 0..200)) {
            let all: Vec<String> = (0..count).map(|n| format!("phrase {n}")).collect();
            let mut lesson = Lesson::new(&all, takes, |_| 0);
            let mut done = 0;
            for how in said.into_iter().chain(std::iter::repeat_n(1, 200)) {
                let before = lesson.now().map(str::to_owned);
                match how {
                    0 => { lesson.took(&[]); }
                    1 => { lesson.took(&[Fault::Noisy]); }
                    _ => lesson.leave(),
                }
                prop_assert!(lesson.progress().0 >= done && lesson.progress().1 == count * takes);
                done = lesson.progress().0;
                if before.is_none() {
                    prop_assert_eq!(done, count * takes);
                }
            }
            prop_assert_eq!(lesson.now(), None);
        }
    }
}
