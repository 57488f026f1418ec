//! The top of the page: which job, how far, who listens, and what is wrong with the sound.

use crate::dialogue::Language;
use maud::{Markup, html};

/// Who listens.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ears {
    /// Commands are heard.
    Listening,
    /// Only the word to begin again is heard, or the session is over.
    Off,
    /// Nothing is heard, whatever is said: the microphone is gone, or what listens to it.
    Deaf,
    /// A note is recorded.
    Noting,
    /// The job is put down; only what takes it up again is heard.
    Waiting,
    /// Commands are typed; nobody listens.
    Typed,
}

/// What stands at the top whatever else is shown.
pub struct Top<'a> {
    /// The words.
    pub language: &'a Language,
    /// What is worked on, if anything.
    pub title: Option<String>,
    /// How far it is, in words.
    pub place: Option<String>,
    /// The part of the job.
    pub phase: Option<String>,
    /// Who listens.
    pub ears: Ears,
    /// Whose learnt voice is listened with.
    pub own_voice: Option<&'a str>,
    /// The procedure has mistakes that nobody put right.
    pub unchecked: bool,
    /// What is wrong with the sound or a tool, as long as it is.
    pub troubles: &'a [String],
}

impl Top<'_> {
    /// As markup.
    pub fn markup(&self) -> Markup {
        html! {
            header {
                @if let Some(title) = &self.title { p.title { (title) } }
                div.line {
                    @if let Some(place) = &self.place { p.step { (place) } }
                    @if let Some(phase) = &self.phase { p.phase { (phase) } }
                    @if self.unchecked { p.unchecked { "⚠ " (self.language.label("glance_unchecked")) } }
                    (self.ears())
                }
                @for trouble in self.troubles { p.trouble { "✕ " (trouble) } }
            }
        }
    }

    fn ears(&self) -> Markup {
        // A shape for each: it must not hang on the colour.
        let (shape, class, key) = match self.ears {
            Ears::Listening => ("●", "on", "glance_listening"),
            Ears::Off => ("✕", "off", "glance_not_listening"),
            Ears::Deaf => ("✕", "off", "glance_deaf"),
            Ears::Noting => ("◉", "noting", "glance_noting"),
            Ears::Waiting => ("‖", "off", "glance_waiting"),
            Ears::Typed => ("▭", "typed", "glance_typed"),
        };
        // Nobody's voice is listened with where commands are typed, or nothing is heard.
        let own = self.own_voice.filter(|_| !matches!(self.ears, Ears::Typed | Ears::Deaf));
        html! {
            p class={ "ears " (class) } {
                span aria-hidden="true" { (shape) } " " (self.language.label(key))
                @if let Some(own) = own { " · " (self.language.label("glance_own_voice")) " " (own) }
            }
        }
    }
}
