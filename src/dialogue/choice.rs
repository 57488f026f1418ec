//! The words of a choice among jobs: a numbered list, and a number to choose from it.

use super::file::Language;
use super::grammar::Grammar;
use super::line::{is_question, normalise};
use super::meaning::{Concern, Meaning, commands};
use super::templates::Templates;
use super::{Sentence, Tone};
use crate::job::{Command, Expect};
use minijinja::context;

/// So many are told to choose from, and can be chosen by voice; more are not kept in mind.
pub const MOST_TOLD: usize = 5;

impl Language {
    /// Which job? The first few, numbered; written all of them.
    pub fn which_job(&self, titles: &[String]) -> Vec<Sentence> {
        self.which("which_job", titles)
    }

    /// The same where one was closed.
    pub fn which_next(&self, titles: &[String]) -> Vec<Sentence> {
        self.which("which_next", titles)
    }

    fn which(&self, key: &str, titles: &[String]) -> Vec<Sentence> {
        let numbered = |(at, title): (usize, &String)| format!("{}, {title}", self.choice_number(at));
        let all = |most: usize| titles.iter().enumerate().take(most).map(numbered).collect::<Vec<_>>();
        let things = |spoken| if spoken { all(MOST_TOLD) } else { all(titles.len()) };
        vec![self.told(key, Tone::Plain, |spoken| context! { things => things(spoken) })]
    }

    /// Asks whether this one is to begin.
    pub fn begin_this(&self, title: &str) -> Sentence {
        self.told("begin_this", Tone::Question, |_| context! { title })
    }

    /// The job that was chosen cannot be begun.
    pub fn cannot_begin(&self, title: &str) -> Sentence {
        self.told("cannot_begin", Tone::Plain, |_| context! { title })
    }

    /// "Number two".
    fn choice_number(&self, at: usize) -> String {
        format!("{} {}", self.word("choose_number"), self.numbers().say_whole(at as u64 + 1))
    }

    /// What may be said: a number of the list, an answer where one was chosen, and what is about the talk itself.
    pub fn choice_grammar(&self, titles: usize, chosen: bool, listening: bool) -> Grammar {
        let expect = Expect { yes_no: chosen, ..Expect::default() };
        let grammar = self.grammar(&expect, listening).only(wanted);
        let mut all = Grammar::default();
        if listening {
            for at in 0..titles.min(MOST_TOLD) {
                all.add(self.choice_number(at), Some(Meaning::Choose(at)));
            }
        }
        for (text, meaning) in grammar.iter() {
            all.add(text.to_owned(), meaning.cloned());
        }
        all
    }

    /// What a typed line means here: a number, or a command. What is put as a question chooses and answers nothing.
    pub fn chosen(&self, line: &str, titles: usize) -> Option<Meaning> {
        self.chosen_by(line, titles).filter(|meaning| meaning.only_asks() || !is_question(line))
    }

    fn chosen_by(&self, line: &str, titles: usize) -> Option<Meaning> {
        let normal = normalise(line).split_whitespace().collect::<Vec<_>>().join(" ");
        let number = (0..titles).find(|at| {
            normal == (at + 1).to_string()
                || normal == self.numbers().say_whole(*at as u64 + 1)
                || normal == self.choice_number(*at)
        });
        let plain = || {
            commands().filter(|(_, meaning)| wanted(meaning)).find_map(|(key, meaning)| {
                let all = self.patterns(key).iter().chain(self.typed_patterns(key));
                all.into_iter().any(|pattern| pattern.text == normal).then(|| meaning.clone())
            })
        };
        number.map(Meaning::Choose).or_else(plain)
    }
}

fn wanted(meaning: &Meaning) -> bool {
    match meaning {
        Meaning::Command(command) => {
            matches!(command, Command::Yes | Command::No | Command::TakeBreak | Command::Pause)
        }
        Meaning::Talk(talk) => talk.concern() == Concern::Talking,
        Meaning::Choose(_) => true,
        Meaning::Value(_) | Meaning::Strip(_) => false,
    }
}

/// Its templates of `[sentences]`, each with the variables that it may use.
pub(super) const SENTENCES: &Templates = &[
    ("which_job", &["things"]),
    ("which_next", &["things"]),
    ("begin_this", &["title"]),
    ("cannot_begin", &["title"]),
];
