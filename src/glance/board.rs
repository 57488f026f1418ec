//! When the page changes: a screen that keeps it up to date and hands everything on to another screen.

use super::top::{Ears, Top};
use super::view::{View, without_job};
use crate::dialogue::{Language, Manner, Notice, Sentence};
use crate::listen::Utterance;
use crate::session::{Scene, Screen, Shown, Turn};
use tokio::sync::watch;

/// So many sentences that came by themselves are kept beside what was said.
const ASIDES: usize = 2;

/// The page for whoever looks.
pub struct Board<'a> {
    behind: &'a mut dyn Screen,
    language: Language,
    manner: Manner,
    listens: bool,
    own_voice: Option<String>,
    scene: Scene,
    /// The session has ended with the last turn.
    over: bool,
    /// What is wrong with the sound or a tool, as long as it is.
    troubles: Vec<Notice>,
    /// What was said last.
    said: Vec<Sentence>,
    /// What came by itself since, or was not understood: it takes nothing off the page.
    asides: Vec<Sentence>,
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
        Board {
            behind,
            language,
            manner,
            listens,
            own_voice: None,
            scene: Scene { listening: true, ..Scene::default() },
            over: false,
            troubles: Vec::new(),
            said: Vec::new(),
            asides: Vec::new(),
            page,
        }
    }

    /// The same where a learnt voice of this name is listened with.
    pub fn own_voice(self, own_voice: Option<String>) -> Board<'a> {
        Board { own_voice, ..self }
    }

    fn ears(&self) -> Ears {
        let lost = |notice| self.troubles.contains(&notice);
        match &self.scene {
            _ if !self.listens => Ears::Typed,
            _ if self.over => Ears::Off,
            _ if lost(Notice::MicrophoneLost) || lost(Notice::HearingLost) => Ears::Deaf,
            Scene { waiting: true, .. } => Ears::Waiting,
            Scene { noting: true, .. } => Ears::Noting,
            Scene { listening: false, .. } => Ears::Off,
            _ => Ears::Listening,
        }
    }

    fn take(&mut self, turn: &Turn) {
        self.over = turn.over;
        let standing: Vec<String> = self.troubles.iter().map(|trouble| self.written(*trouble)).collect();
        let by_itself = turn.meaning.is_none() && !turn.recorded && !turn.over && !self.said.is_empty();
        if !by_itself {
            self.said.clone_from(&turn.sentences);
            self.asides.clear();
            return;
        }
        for sentence in turn.sentences.iter().filter(|s| !standing.contains(&s.written)) {
            self.asides.retain(|aside| aside != sentence);
            self.asides.push(sentence.clone());
        }
        let old = self.asides.len().saturating_sub(ASIDES);
        self.asides.drain(..old);
    }

    fn written(&self, notice: Notice) -> String {
        self.language.notice(notice).written
    }

    fn show(&mut self, job: Option<&Shown>) {
        let said: Vec<Sentence> = self.said.iter().chain(&self.asides).cloned().collect();
        let troubles: Vec<String> = self.troubles.iter().map(|trouble| self.written(*trouble)).collect();
        let top = Top {
            language: &self.language,
            title: self.scene.strip.clone(),
            place: None,
            phase: None,
            ears: self.ears(),
            own_voice: self.own_voice.as_deref(),
            unchecked: self.scene.unchecked,
            troubles: &troubles,
        };
        let markup = match job {
            Some(job) => {
                let words = self.language.words(&job.book, &self.manner);
                let title = format!("{} · {}", job.book.title, job.book.vehicle);
                if self.scene.choosing {
                    let place = Some(self.language.label("choose_begin").to_owned());
                    without_job(&Top { unchecked: false, place, ..top }, &said, 1, Some((job, &words)))
                } else {
                    let view = View { job, said: &said };
                    let place = Some(view.place(&self.language));
                    let phase = Some(words.phase(job.book.steps[job.step].phase).to_owned());
                    view.markup(&Top { title: Some(title), place, phase, ..top }, &words)
                }
            }
            None => {
                // What was understood, and what is awaited next.
                let (key, large) = if self.scene.strip.is_some() { ("glance_strip", 2) } else { ("choose_begin", 1) };
                let place = Some(self.language.label(key).to_owned());
                without_job(&Top { place, ..top }, &said, large, None)
            }
        };
        self.page.send_replace(markup.into_string());
    }
}

impl Screen for Board<'_> {
    fn heard(&mut self, utterance: &Utterance) {
        // Whatever it was, the microphone brings something.
        self.troubles.retain(|trouble| *trouble != Notice::MicrophoneSilent);
        self.behind.heard(utterance);
    }

    fn turn(&mut self, turn: &Turn, job: &Shown) {
        // Silence is no news; what was said last stays on the page.
        if !turn.sentences.is_empty() || turn.meaning.is_some() || turn.recorded {
            self.take(turn);
            self.show(Some(job));
        }
        self.behind.turn(turn, job);
    }

    fn told(&mut self, turn: &Turn) {
        if !turn.sentences.is_empty() || turn.meaning.is_some() || turn.over {
            self.take(turn);
            self.show(None);
        }
        self.behind.told(turn);
    }

    fn stands(&mut self, scene: &Scene) {
        self.scene.clone_from(scene);
        self.behind.stands(scene);
    }

    fn trouble(&mut self, notice: Notice) {
        let over = match notice {
            Notice::MicrophoneBack => vec![Notice::MicrophoneLost, Notice::MicrophoneSilent],
            Notice::LoudspeakerBack => vec![Notice::LoudspeakerLost],
            Notice::HearingBack => vec![Notice::HearingLost],
            Notice::ToolBack => vec![Notice::ToolLost],
            _ => Vec::new(),
        };
        self.troubles.retain(|trouble| !over.contains(trouble) && *trouble != notice);
        if matches!(
            notice,
            Notice::MicrophoneLost
                | Notice::MicrophoneSilent
                | Notice::LoudspeakerLost
                | Notice::HearingLost
                | Notice::EchoLost
                | Notice::SecondLost
                | Notice::ToolLost
        ) {
            self.troubles.push(notice);
        }
        self.behind.trouble(notice);
    }

    fn happens(&mut self, what: &str) {
        self.behind.happens(what);
    }

    fn notice(&mut self, text: &str) {
        self.behind.notice(text);
    }
}
