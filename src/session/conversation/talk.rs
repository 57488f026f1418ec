//! What is said to the program and is no concern of the job's: to say again, to speak slower, to stop listening, a note.

use super::{Conversation, Delivery};
use crate::dialogue::{Manner, Meaning, Notice, Sentence, Talk};
use crate::job::{At, Command, Refusal, Say};
use crate::journal::JournalError;
use crate::session::{Turn, kept_sound};
use crate::speak::Tone;

impl Conversation {
    pub(super) fn talk(&mut self, talk: Talk, heard: bool, at: At) -> (Vec<Sentence>, Option<Tone>) {
        let pending = self.job.pending();
        let said = self.tools.talk(talk, &self.language, self.job.book(), pending, &self.manner, day(at));
        if let Some(sentences) = said {
            if let Some(unit) = self.tools.take_said_in() {
                self.spoken.set(self.job.pending(), unit);
            }
            self.remember(&sentences, false);
            return (sentences, None);
        }
        let say = |notice| vec![self.language.notice(notice)];
        let (notice, tone) = match talk {
            Talk::Repeat if self.last.is_empty() => (Notice::NothingToRepeat, None),
            Talk::Repeat => return (self.last.clone(), None),
            Talk::Help => {
                let mut help = self.language.help(&self.expect());
                if let Some(help) = help.first_mut().filter(|_| !self.lookup.is_empty()) {
                    help.written = format!("{}\n{}", help.written, self.language.help_values());
                }
                return (help, None);
            }
            // Whoever does not want to hear it has heard enough.
            Talk::Quiet => {
                self.announced(at);
                return (Vec::new(), None);
            }
            Talk::Slower | Talk::Faster | Talk::Louder | Talk::Quieter => {
                (self.delivery.turn(talk).unwrap_or(Notice::NoMore), None)
            }
            Talk::StopListening => {
                self.listening = false;
                (Notice::ListeningOff, Some(Tone::ListeningOff))
            }
            Talk::StartListening => {
                self.listening = true;
                (Notice::ListeningOn, Some(Tone::ListeningOn))
            }
            Talk::StartNote if self.job.closed().is_some() => {
                let says = [Say::Refused(Refusal::Closed)];
                return (self.language.render(&says, self.job.book(), &self.manner), None);
            }
            Talk::StartNote if !heard => (Notice::NoteTyped, None),
            Talk::StartNote => {
                self.noting = true;
                (Notice::NoteBegins, None)
            }
            // What was recorded comes by `keep_note`, and is answered there.
            Talk::EndNote => {
                self.noting = false;
                return (Vec::new(), None);
            }
            // The toolbox has answered these.
            Talk::LayOut | Talk::Adapter(_) | Talk::AdapterAngle(_) | Talk::NoAdapter => return (Vec::new(), None),
        };
        (say(notice), tone)
    }

    /// Keeps the sound of a note with the job; with no sound there is no note.
    pub fn keep_note(&mut self, samples: &[i16], at: At) -> Result<Turn, JournalError> {
        self.noting = false;
        if samples.is_empty() {
            let sentences = vec![self.language.notice(Notice::NoteNothing)];
            return Ok(Turn { sentences, ..Turn::default() });
        }
        let note = kept_sound::write_note(self.folder.path(), self.job.position(), samples)?;
        self.command(Command::Note(note), at)
    }

    /// A turn that was no concern of the job's; the question of the job that stands is put again at its end, so that a yes or a
    /// no is about what was said last.
    pub(super) fn and_the_question(&mut self, meaning: Meaning, mut sentences: Vec<Sentence>) -> Turn {
        let question = self.job.question().cloned().map(Say::Question).filter(|_| self.job.closed().is_none());
        let announces = question.is_some();
        sentences.extend(question.iter().flat_map(|say| {
            let manner = Manner { now: None, ..self.manner };
            self.language.render(std::slice::from_ref(say), self.job.book(), &manner)
        }));
        self.remember(&sentences, announces);
        Turn { meaning: Some(meaning), sentences, hush: true, announces, ..Turn::default() }
    }

    /// How the voice is to speak from now on, until the user changes it.
    pub fn set_delivery(&mut self, delivery: Delivery) {
        self.delivery = delivery;
    }

    /// How the voice speaks now.
    pub fn delivery(&self) -> Delivery {
        self.delivery
    }
}

/// The day of a moment, to tell how old a calibration is.
fn day(at: At) -> jiff::civil::Date {
    let moment = jiff::Timestamp::from_millisecond(at.0).unwrap_or_default();
    jiff::tz::TimeZone::UTC.to_datetime(moment).date()
}
