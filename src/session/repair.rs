//! What is done about words that were only half heard: a doubtful command is asked back, a second miss in a row brings
//! help.
//!
//! Knows what was asked last, and when; when the words it was about began, and when the question had been asked to its end,
//! before which nothing is an answer to it. The question is the conversation's own and no question of the job: until it is
//! answered with yes nothing has happened, and whatever else is said puts an end to it.

use crate::dialogue::{Grammar, Language, Meaning, Notice, Sentence, Talk};
use crate::job::{At, Command};
use crate::listen::Utterance;
use crate::strip;

/// A yes that comes later than this answers something else.
const WAITS: i64 = 20_000;

/// The state of it.
#[derive(Debug, Default)]
pub(super) struct Repair {
    asked: Option<Asked>,
    /// Commands in a row that were nearly heard.
    misses: u32,
    /// The words that a yes has just confirmed.
    confirmed: Option<String>,
}

/// A question that was asked back.
#[derive(Debug)]
struct Asked {
    words: String,
    meaning: Meaning,
    at: At,
    /// When the words that it is about began.
    began: At,
    /// When it had been asked to its end.
    ended: Option<At>,
}

/// What somebody's words are to a question that was asked back.
#[derive(Debug, PartialEq)]
pub(super) enum Answered {
    /// That was meant, by words that began at that moment.
    Yes(Meaning, At),
    /// A yes that began before the question was asked to its end: it answers something else, and the question stands.
    TooSoon,
    /// That was not meant.
    No,
    /// Nothing was asked, or these words are no answer to it.
    Other,
}

impl Repair {
    /// Asks whether these words were said and this was meant; they began at `began`.
    pub fn ask(&mut self, words: &str, meaning: Meaning, began: At, at: At) {
        self.asked = Some(Asked { words: words.to_owned(), meaning, at, began, ended: None });
        self.confirmed = None;
        self.misses = 0;
    }

    /// Asks whether words were said that were nearly a phrase; the question. Where something is asked already there is none, for one
    /// question stands at a time, and none is about the answer to one.
    pub fn ask_about(
        &mut self,
        said: &Utterance,
        grammar: &Grammar,
        asks: bool,
        (began, at): (At, At),
        language: &Language,
    ) -> Option<Sentence> {
        let nearly = said.nearly.as_deref().filter(|_| !asks)?;
        let answer = |meaning: &Meaning| matches!(meaning, Meaning::Strip(strip::Command::Yes | strip::Command::No));
        let meaning = grammar.meaning(nearly).filter(|meaning| !answer(meaning))?;
        self.ask(nearly, meaning, began, at);
        Some(language.did_you_say(nearly))
    }

    /// Words came to nothing that mean something or begin so; what is said of it beside the tone. Nothing for talk that was not
    /// meant for the program.
    pub fn lost(&mut self, heard: &str, grammar: &Grammar, language: &Language) -> Option<Vec<Sentence>> {
        if grammar.meaning(heard).is_none() && !grammar.broken_reading(heard) {
            return None;
        }
        Some(if self.missed() { vec![language.notice(Notice::Misheard)] } else { Vec::new() })
    }

    /// The words that were confirmed by what was understood last.
    pub fn confirmed(&self) -> Option<&str> {
        self.confirmed.as_deref()
    }

    /// What was asked last had been asked to its end at this moment.
    pub fn announced(&mut self, at: At) {
        if let Some(asked) = &mut self.asked {
            asked.ended.get_or_insert(at);
        }
    }

    /// Something else was put to the user: a yes is about that now.
    pub fn give_way(&mut self) {
        self.asked = None;
    }

    /// May yes and no be said?
    pub fn waits(&self) -> bool {
        self.asked.is_some()
    }

    /// Something was understood, its first sound at `spoken` if it was spoken. Whatever it is, unless it came too soon,
    /// nothing is asked any more; but the question may be said again.
    pub fn understood(&mut self, meaning: &Meaning, spoken: Option<At>, at: At) -> Answered {
        self.misses = 0;
        self.confirmed = None;
        let Some(mut asked) = self.asked.take() else { return Answered::Other };
        match meaning {
            Meaning::Talk(Talk::Repeat) => {
                self.asked = Some(Asked { at, ..asked });
                Answered::Other
            }
            _ if at.0.saturating_sub(asked.at.0) > WAITS => Answered::Other,
            Meaning::Command(Command::No) | Meaning::Strip(strip::Command::No) => Answered::No,
            Meaning::Command(Command::Yes) | Meaning::Strip(strip::Command::Yes) => match spoken {
                Some(began) if asked.ended.is_none_or(|ended| began < ended) => {
                    asked.ended = None;
                    asked.at = at;
                    self.asked = Some(asked);
                    Answered::TooSoon
                }
                _ => {
                    self.confirmed = Some(asked.words);
                    Answered::Yes(asked.meaning, asked.began)
                }
            },
            _ => Answered::Other,
        }
    }

    /// Something was nearly heard, and lost; says whether it is the second in a row.
    pub fn missed(&mut self) -> bool {
        self.misses += 1;
        let second = self.misses == 2;
        if second {
            self.misses = 0;
        }
        second
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SKIP: Meaning = Meaning::Command(Command::Skip);
    const YES: Meaning = Meaning::Command(Command::Yes);
    const NO: Meaning = Meaning::Command(Command::No);

    /// A question asked at 0 and to its end by 1,000, about words that began at -500.
    fn asked() -> Repair {
        let mut repair = Repair::default();
        repair.ask("skip this step", SKIP, At(-500), At(0));
        repair.announced(At(1_000));
        repair
    }

    fn said(repair: &mut Repair, meaning: &Meaning, at: i64) -> Answered {
        repair.understood(meaning, Some(At(at)), At(at))
    }

    #[test]
    fn a_question_is_answered_once_and_in_time() {
        assert_eq!(said(&mut Repair::default(), &YES, 0), Answered::Other);
        let mut repair = asked();
        assert!(repair.waits());
        assert_eq!(repair.confirmed(), None);
        assert_eq!(said(&mut repair, &YES, WAITS), Answered::Yes(SKIP, At(-500)));
        assert_eq!(repair.confirmed(), Some("skip this step"));
        assert_eq!(said(&mut repair, &YES, WAITS), Answered::Other);
        assert_eq!(repair.confirmed(), None);
        assert_eq!(said(&mut asked(), &NO, 1_000), Answered::No);
        assert_eq!(said(&mut asked(), &YES, WAITS + 1), Answered::Other);
    }

    #[test]
    fn other_words_put_an_end_to_it() {
        let mut repair = asked();
        assert_eq!(said(&mut repair, &Meaning::Command(Command::Next), 1_000), Answered::Other);
        assert!(!repair.waits());
        assert_eq!(said(&mut repair, &YES, 2_000), Answered::Other);
    }

    #[test]
    fn a_yes_before_the_end_of_the_question_answers_something_else() {
        let mut repair = asked();
        assert_eq!(said(&mut repair, &YES, 999), Answered::TooSoon);
        assert_eq!(said(&mut repair, &YES, 5_000), Answered::TooSoon, "it has to be asked again first");
        repair.announced(At(6_000));
        assert_eq!(said(&mut repair, &YES, 6_000), Answered::Yes(SKIP, At(-500)));
        // What is typed is deliberate, and a no does nothing.
        assert_eq!(asked().understood(&YES, None, At(1)), Answered::Yes(SKIP, At(-500)));
        assert_eq!(said(&mut asked(), &NO, 1), Answered::No);
    }

    #[test]
    fn said_again_it_still_stands() {
        let mut repair = asked();
        assert_eq!(said(&mut repair, &Meaning::Talk(Talk::Repeat), WAITS), Answered::Other);
        assert_eq!(said(&mut repair, &YES, 2 * WAITS), Answered::Yes(SKIP, At(-500)));
    }

    #[test]
    fn every_second_miss_in_a_row_counts() {
        let mut repair = Repair::default();
        assert_eq!([repair.missed(), repair.missed(), repair.missed()], [false, true, false]);
        said(&mut repair, &SKIP, 0);
        assert!(!repair.missed());
    }
}
