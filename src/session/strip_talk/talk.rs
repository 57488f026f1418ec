//! What is said while something is taken apart and is no concern of the log's: to say again, to speak slower, to stop listening, a
//! note.

use super::super::kept_sound;
use super::StripTalk;
use crate::dialogue::{Meaning, Notice, Talk};
use crate::job::At;
use crate::journal::JournalError;
use crate::session::Turn;
use crate::speak::Tone;
use crate::strip::Command;

impl StripTalk {
    /// `heard`: it was spoken.
    pub(super) fn talk(&mut self, talk: Talk, meaning: Meaning, heard: bool, at: At) -> Turn {
        let turn = Turn { meaning: Some(meaning), hush: true, ..Turn::default() };
        let (notice, tone) = match talk {
            Talk::Repeat if self.last.is_empty() => (Notice::NothingToRepeat, None),
            Talk::Repeat => return self.puts(Turn { sentences: self.last.clone(), ..turn }),
            Talk::Help => {
                let mut help = self.language.strip_help();
                if !self.lookup.is_empty() {
                    help.written = format!("{}\n{}", help.written, self.language.help_values());
                }
                return self.puts(Turn { sentences: vec![help], ..turn });
            }
            // Whoever does not want to hear it has heard enough.
            Talk::Quiet => {
                self.log.announced(at);
                self.repair.announced(at);
                return turn;
            }
            Talk::StopListening => {
                self.listening = false;
                (Notice::ListeningOff, Some(Tone::ListeningOff))
            }
            Talk::StartListening => {
                self.listening = true;
                (Notice::ListeningOn, Some(Tone::ListeningOn))
            }
            Talk::StartNote if !heard => (Notice::NoteTyped, None),
            Talk::StartNote => {
                self.noting = true;
                (Notice::NoteBegins, None)
            }
            // What was recorded comes by `keep_note`, and is answered there.
            Talk::EndNote => {
                self.noting = false;
                return turn;
            }
            talk => match self.delivery.turn(talk) {
                Some(notice) => (notice, None),
                None => return Turn { hush: false, ..self.not_understood() },
            },
        };
        self.puts(Turn { sentences: vec![self.language.notice(notice)], tone, ..turn })
    }

    /// Keeps the sound of a note; with no sound there is no note.
    pub(super) fn note_kept(&mut self, samples: &[i16], at: At) -> Result<Turn, JournalError> {
        self.noting = false;
        if samples.is_empty() {
            let sentences = vec![self.language.notice(Notice::NoteNothing)];
            return Ok(self.puts(Turn { sentences, ..Turn::default() }));
        }
        let note = kept_sound::write_note(self.folder.path(), self.log.entries().len(), samples)?;
        self.tell(Command::Note(note), None, at)
    }
}
