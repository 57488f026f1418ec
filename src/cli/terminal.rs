//! The conversation in the terminal: what was heard, what is said, where the job stands.

use crate::dialogue::{Meaning, Talk};
use crate::listen::Utterance;
use crate::procedure::Signal;
use crate::session::{Counter, Screen, Shown, Turn};
use std::io::IsTerminal;

/// Prints to standard output.
pub struct Terminal {
    colour: bool,
}

impl Terminal {
    /// With colours if standard output is a terminal and nobody asked for none (`NO_COLOR`).
    pub fn new() -> Terminal {
        Terminal { colour: std::io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none() }
    }

    fn paint(&self, code: &str, text: &str) -> String {
        if self.colour { format!("\x1b[{code}m{text}\x1b[0m") } else { text.to_owned() }
    }

    fn line(&self, text: &str) {
        outln!("{text}");
    }
}

impl Counter for Terminal {
    fn heard(&mut self, said: &Utterance) {
        self.show_heard(said);
    }

    fn turn(&mut self, turn: &Turn) {
        self.show_turn(turn);
    }

    fn notice(&mut self, text: &str) {
        errln!("wrenchside: {text}");
    }
}

impl Screen for Terminal {
    fn heard(&mut self, utterance: &Utterance) {
        self.show_heard(utterance);
    }

    fn turn(&mut self, turn: &Turn, _job: &Shown) {
        self.show_turn(turn);
    }

    fn told(&mut self, turn: &Turn) {
        self.show_turn(turn);
    }

    fn happens(&mut self, what: &str) {
        outln!("{}", self.paint("2", &format!("\n* {what}")));
    }

    fn notice(&mut self, text: &str) {
        errln!("wrenchside: {text}");
    }
}

impl Terminal {
    fn show_heard(&self, utterance: &Utterance) {
        let text = match &utterance.phrase {
            Some(phrase) => self.paint("1", &format!("\n> {phrase}")),
            None if utterance.heard.text.is_empty() => return,
            None => self.paint("2", &format!("\n  (not taken: {})", utterance.heard.text)),
        };
        self.line(&text);
    }

    fn show_turn(&self, turn: &Turn) {
        for sentence in &turn.sentences {
            let text = match sentence.signal {
                Some(Signal::Danger | Signal::Warning) => self.paint("1;7", &sentence.written),
                Some(Signal::Caution) => self.paint("1", &sentence.written),
                _ => sentence.written.clone(),
            };
            self.line(&format!("  {text}"));
        }
        if turn.sentences.is_empty() && matches!(turn.meaning, Some(Meaning::Talk(Talk::Quiet))) {
            self.line(&self.paint("2", "  (quiet)"));
        }
    }
}
