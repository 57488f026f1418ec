//! How many rounds there were of steps that are done until a question is answered with yes, counted from the facts.
//!
//! Knows how the job counts them; the facts are given one by one, in order.

/// How many rounds there were of a step.
#[derive(Debug, Clone, Default)]
pub(super) struct Rounds {
    all: usize,
    /// Those with no since the rounds were begun last.
    with_no: u32,
    any_no: bool,
}

impl Rounds {
    pub fn with_no(&mut self, round: u32) {
        (self.all, self.with_no, self.any_no) = (self.all + 1, round, true);
    }

    /// The round that came out with yes is one more, but for the last that there may be: it is asked about again, not done again.
    /// Where the measurement was in order, no more followed.
    pub fn done(&mut self, at_most: Option<u32>) {
        self.all += usize::from(at_most.is_none_or(|most| self.with_no < most));
        self.with_no = 0;
    }

    /// None where there was but one, with yes.
    pub fn told(&self) -> Option<usize> {
        Some(self.all).filter(|all| self.any_no || *all > 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The rounds with no by their numbers, 0 for what ended them.
    fn told(at_most: Option<u32>, facts: &[u32]) -> Option<usize> {
        let mut rounds = Rounds::default();
        for fact in facts {
            match fact {
                0 => rounds.done(at_most),
                round => rounds.with_no(*round),
            }
        }
        rounds.told()
    }

    #[test]
    fn rounds_that_were_begun_anew_are_added_to_those_before() {
        assert_eq!(told(None, &[]), None);
        assert_eq!(told(None, &[0]), None, "it was done once");
        assert_eq!(told(None, &[1]), Some(1));
        assert_eq!(told(None, &[1, 0]), Some(2));
        assert_eq!(told(Some(2), &[1, 2, 0]), Some(2), "the last is asked about again, not done again");
        assert_eq!(told(Some(2), &[1, 0, 1, 0]), Some(4), "done again from the beginning");
        assert_eq!(told(Some(2), &[1, 2, 0, 0]), Some(3));
        assert_eq!(told(None, &[0, 0]), Some(2));
    }
}
