//! The page for a screen in the bay: where the job stands, readable at three metres.
//!
//! Knows the job and the words of the language; changes nothing and takes no commands. One page is served on this
//! machine only; on another address only if it was asked for, and then only to whoever has the token. It serves, and
//! never calls out: there is no network client in the program.
//!
//! - [`view`]: what is on the page, as markup.
//! - [`server`]: the page and its changes, over HTTP, on a thread of its own; besides `session` the only place with
//!   `tokio`.

pub mod server;
pub mod view;

pub use server::{DEFAULT_ADDRESS, Frame, GlanceError, Server};
pub use view::{Ears, View};

use crate::dialogue::{Language, Manner, Meaning, Talk};
use crate::job::Job;
use crate::listen::Utterance;
use crate::session::{Screen, Turn};
use tokio::sync::watch;

/// A screen that keeps the page up to date and hands everything on to another screen.
pub struct Board<'a> {
    behind: &'a mut dyn Screen,
    language: Language,
    manner: Manner,
    ears: Ears,
    unchecked: bool,
    own_voice: Option<String>,
    page: watch::Sender<String>,
}

impl<'a> Board<'a> {
    /// A board in front of another screen, for whoever watches `page`. `listens`: there is a microphone or a recording.
    pub fn new(
        behind: &'a mut dyn Screen,
        language: Language,
        manner: Manner,
        listens: bool,
        page: watch::Sender<String>,
    ) -> Board<'a> {
        let ears = if listens { Ears::Listening } else { Ears::Typed };
        Board { behind, language, manner, ears, unchecked: false, own_voice: None, page }
    }

    /// The same where a learnt voice of this name is listened with.
    pub fn own_voice(self, own_voice: Option<String>) -> Board<'a> {
        Board { own_voice, ..self }
    }

    fn show(&mut self, turn: &Turn, job: &Job) {
        self.ears = match (self.ears, &turn.meaning) {
            (Ears::Typed, _) => Ears::Typed,
            (_, _) if job.is_paused() && !turn.over => Ears::Waiting,
            (Ears::Waiting, _) => Ears::Listening,
            (_, Some(Meaning::Talk(Talk::StopListening))) => Ears::Off,
            (_, Some(Meaning::Talk(Talk::StartNote))) => Ears::Noting,
            (Ears::Off, Some(Meaning::Talk(Talk::StartListening))) => Ears::Listening,
            // Any answer after a note began ends it.
            (Ears::Noting, _) => Ears::Listening,
            (ears, _) => ears,
        };
        let words = self.language.words(job.book(), &self.manner);
        let view = View {
            job,
            said: &turn.sentences,
            ears: self.ears,
            own_voice: self.own_voice.as_deref(),
            unchecked: self.unchecked,
        };
        self.page.send_replace(view.markup(&words).into_string());
    }
}

impl Screen for Board<'_> {
    fn heard(&mut self, utterance: &Utterance) {
        self.behind.heard(utterance);
    }

    fn turn(&mut self, turn: &Turn, job: &Job) {
        // Silence is no news; what was said last stays on the page.
        if !turn.sentences.is_empty() || turn.meaning.is_some() || turn.recorded {
            self.show(turn, job);
        }
        self.behind.turn(turn, job);
    }

    fn told(&mut self, turn: &Turn) {
        self.behind.told(turn);
    }

    fn unchecked(&mut self, unchecked: bool) {
        self.unchecked = unchecked;
        self.behind.unchecked(unchecked);
    }

    fn notice(&mut self, text: &str) {
        self.behind.notice(text);
    }
}
