//! Whoever talks with the user: a conversation about a job, or one in which something is taken apart.
//!
//! All that the ear, the loop and a replay need of either, so that both are heard, spoken and interrupted alike.

use super::awaited::Key;
use super::mouth::Recordings;
use super::{Conversation, Delivery, Turn};
use crate::dialogue::{Language, Meaning, Sentence};
use crate::job::{At, Command, Job};
use crate::journal::JournalError;
use crate::listen::{Open, Phrase, Utterance};
use crate::quantity::Quantity;
use std::path::Path;
use std::sync::Arc;

/// A conversation with somebody.
pub trait Talker {
    /// The language.
    fn language(&self) -> &Language;
    /// How the voice speaks now.
    fn delivery(&self) -> Delivery;
    /// The folder that it is kept in.
    fn folder(&self) -> &Path;
    /// The job that it is about, once there is one.
    fn job(&self) -> Option<&Job>;

    /// Does it go by a procedure with mistakes that nobody put right?
    fn unchecked(&self) -> bool {
        false
    }

    /// What is taken apart, while that is no job yet.
    fn taken_apart(&self) -> Option<&str> {
        None
    }

    /// What may be said now depends on this; on what is being recorded and said, beside it.
    fn awaits(&self) -> Key;
    /// What may be said while the program says `said`, or has just said it.
    fn phrases_beside(&self, said: &str) -> Vec<Phrase>;
    /// The same, of which there is no list.
    fn readings_beside(&self, said: &str) -> Arc<dyn Open>;

    /// The sound of what is heard next, where words of the user's own are awaited.
    fn own_words(&mut self, _sound: Vec<i16>) {}
    /// A stretch of speech that the listener has decided on, its first sound at `began`.
    fn hear(&mut self, said: &Utterance, began: At, at: At) -> Result<Turn, JournalError>;
    /// The words that a yes has confirmed by what was heard last.
    fn confirmed(&self) -> Option<&str>;
    /// A typed line.
    fn read(&mut self, line: &str, at: At) -> Result<Turn, JournalError>;
    /// A key that means this was pressed.
    fn press(&mut self, meaning: &Meaning, at: At) -> Result<Turn, JournalError>;
    /// A reading that a tool sent.
    fn measured(&mut self, _value: Quantity, _tool: &str, _began: At, _at: At) -> Result<Turn, JournalError> {
        Ok(Turn::default())
    }
    /// What was put to the user last had been said to its end at this moment.
    fn announced(&mut self, at: At);
    /// Puts it down, as nobody has asked for in words.
    fn put_down(&mut self, at: At) -> Result<Turn, JournalError>;

    /// Is a note recorded?
    fn is_noting(&self) -> bool;
    /// Keeps the sound of a note; with no sound there is no note.
    fn keep_note(&mut self, samples: &[i16], at: At) -> Result<Turn, JournalError>;

    /// Is it put down, within hearing, until the phrase comes that takes it up again?
    fn is_waiting(&self) -> bool {
        false
    }
    /// Is there no job in hand, and one to be chosen?
    fn is_choosing(&self) -> bool {
        false
    }
    /// It was put down with this turn, and is to wait within hearing; nothing where it cannot.
    fn wait(&mut self, _turn: &Turn) -> Option<Turn> {
        None
    }
    /// It has ended with this turn: what else there is to do.
    fn with_others(&self, _turn: &Turn) -> Option<Turn> {
        None
    }
    /// Milliseconds until a timer is due.
    fn until_due(&self, _at: At) -> Option<i64> {
        None
    }
    /// Timers that are due by this moment.
    fn time_up(&mut self, _at: At) -> Result<Turn, JournalError> {
        Ok(Turn::default())
    }
    /// The machine's clock was set, and is ahead by so many milliseconds.
    fn clock_set(&mut self, _ahead: i64) -> Turn {
        Turn::default()
    }
    /// The beginnings of what may have to be said next.
    fn foresee(&self, _at: At) -> Vec<String> {
        Vec::new()
    }
    /// Names that the user has spoken.
    fn recordings(&self) -> Recordings {
        Recordings::default()
    }
    /// Sentences as the voice is to say them, with those names in their places.
    fn voiced(&self, sentences: Vec<Sentence>) -> Vec<Sentence> {
        sentences
    }
}

impl Talker for Conversation {
    fn language(&self) -> &Language {
        Conversation::language(self)
    }

    fn delivery(&self) -> Delivery {
        Conversation::delivery(self)
    }

    fn folder(&self) -> &Path {
        Conversation::folder(self).path()
    }

    fn job(&self) -> Option<&Job> {
        Some(Conversation::job(self))
    }

    fn unchecked(&self) -> bool {
        Conversation::folder(self).unchecked() > 0
    }

    fn awaits(&self) -> Key {
        let (expect, listening) = self.expects();
        let waiting = Conversation::is_waiting(self);
        Key { expect, listening, waiting, offers: self.offers(), ..Key::default() }
    }

    fn phrases_beside(&self, said: &str) -> Vec<Phrase> {
        Conversation::phrases_beside(self, said)
    }

    fn readings_beside(&self, said: &str) -> Arc<dyn Open> {
        Conversation::readings_beside(self, said)
    }

    fn hear(&mut self, said: &Utterance, began: At, at: At) -> Result<Turn, JournalError> {
        Conversation::hear(self, said, began, at)
    }

    fn confirmed(&self) -> Option<&str> {
        Conversation::confirmed(self)
    }

    fn read(&mut self, line: &str, at: At) -> Result<Turn, JournalError> {
        Conversation::read(self, line, at)
    }

    fn press(&mut self, meaning: &Meaning, at: At) -> Result<Turn, JournalError> {
        Conversation::press(self, meaning, at)
    }

    fn measured(&mut self, value: Quantity, tool: &str, began: At, at: At) -> Result<Turn, JournalError> {
        Conversation::measured(self, value, tool, began, at)
    }

    fn announced(&mut self, at: At) {
        Conversation::announced(self, at);
    }

    fn put_down(&mut self, at: At) -> Result<Turn, JournalError> {
        self.command(Command::Pause, at)
    }

    fn is_noting(&self) -> bool {
        Conversation::is_noting(self)
    }

    fn keep_note(&mut self, samples: &[i16], at: At) -> Result<Turn, JournalError> {
        Conversation::keep_note(self, samples, at)
    }

    fn is_waiting(&self) -> bool {
        Conversation::is_waiting(self)
    }

    fn wait(&mut self, turn: &Turn) -> Option<Turn> {
        // A pause that could not be written down is none, and its session ends for another reason.
        let put_down = turn.recorded && Conversation::job(self).is_paused() && !Conversation::is_waiting(self);
        put_down.then(|| Conversation::wait(self, turn))
    }

    fn with_others(&self, turn: &Turn) -> Option<Turn> {
        Conversation::job(self).closed().map(|_| Conversation::with_others(self, turn))
    }

    fn until_due(&self, at: At) -> Option<i64> {
        Conversation::job(self).until_due(at)
    }

    fn time_up(&mut self, at: At) -> Result<Turn, JournalError> {
        Conversation::time_up(self, at)
    }

    fn clock_set(&mut self, ahead: i64) -> Turn {
        Conversation::clock_set(self, ahead)
    }

    fn foresee(&self, at: At) -> Vec<String> {
        self.names().before(Conversation::foresee(self, at))
    }

    fn recordings(&self) -> Recordings {
        self.names().recordings()
    }

    fn voiced(&self, sentences: Vec<Sentence>) -> Vec<Sentence> {
        self.names().put(sentences)
    }
}
