//! What is broken off: by a hole in the sound, by a recogniser that died, or because it was not meant. It is forgotten, and what was
//! lost with it can be told.

use super::Listener;
use crate::listen::background::Background;
use crate::listen::endpoint::Endpointer;
use crate::listen::{ListenError, Utterance};
use tracing::warn;

impl Listener {
    /// Forgets the sound so far; positions go on counting. For when it was not meant, such as the program's own voice.
    pub fn reset(&mut self) -> Result<(), ListenError> {
        self.position += self.inbox.len() as u64;
        self.inbox.clear();
        self.activity.reset();
        self.background = Background::default();
        self.endpointer = Endpointer::default();
        self.clear();
        if self.phrases.is_empty() { Ok(()) } else { self.recogniser.listen_for(&self.phrases) }
    }

    /// The same where so many samples never came, or came to nothing: what follows does not belong to what was before, and up to
    /// the next silence it may be half of something.
    pub fn skip(&mut self, samples: u64) -> Result<(), ListenError> {
        self.position += samples;
        if self.speaking() {
            self.rest.lost();
        }
        self.rest.begin(false);
        self.reset()
    }

    /// In what never came there may have been words: to be told.
    pub fn missed(&mut self) {
        self.rest.lost();
    }

    /// Is it time to tell that? Once, when nobody speaks any more.
    pub fn take_missed(&mut self) -> bool {
        self.rest.take_lost()
    }

    /// The same after a fault of the program in the middle of a piece, which is told: the next sample is at this position, whatever
    /// was counted.
    pub fn go_on_at(&mut self, position: u64) -> Result<(), ListenError> {
        self.inbox.clear();
        self.position = position;
        self.rest.begin(true);
        self.reset()
    }

    /// A recogniser that has died of what was being said, twice, and is there again: that is lost, and no more.
    pub(super) fn outlive(&mut self, error: ListenError) -> Result<Option<Utterance>, ListenError> {
        let ListenError::Died { .. } = error else { return Err(error) };
        warn!("{error}");
        self.troubles.push(error.to_string());
        self.rest.begin(true);
        self.activity.reset();
        self.background = Background::default();
        self.endpointer = Endpointer::default();
        self.clear();
        Ok(None)
    }

    /// No words were found. Where the recogniser had to be started anew, that may be why.
    pub(super) fn came_to_nothing(&mut self) {
        if self.stumbled {
            self.troubles
                .push("the recogniser was started anew, and no words were found in what was being said".into());
        }
    }
}
