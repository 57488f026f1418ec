//! Where the voice is heard: a loudspeaker, or a file.
//!
//! Knows how to open it, to wait until all is heard, and what the session may hold of it meanwhile. When to open a lost
//! loudspeaker again is for the voice's thread to decide.

use crate::files;
use crate::listen::RATE;
use crate::speak::playback::Played;
use crate::speak::queue::Stop;
use crate::speak::sink::WavSink;
use crate::speak::{Loudspeaker, Sink, SpeakError, Tone};
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// How often the thread looks whether the loudspeaker has fallen silent.
const LOOK: Duration = Duration::from_millis(15);
/// A loudspeaker that asks for no sound for so long is dead.
const STALLED: Duration = Duration::from_secs(2);

/// Where speech goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outlet {
    /// To the loudspeaker with this name, or the default one.
    Loudspeaker(Option<String>),
    /// Into a WAV file, at this many samples a second.
    File(PathBuf, u32),
}

/// What the session holds of the loudspeaker that is open at the moment. The voice's thread changes it only when it
/// opens another, so nobody waits for it; the audio callback has no part in it.
pub(super) type Hold = Arc<Mutex<Option<(Stop, Option<Played>)>>>;

/// What the voice's thread needs of a loudspeaker.
pub(super) trait Speaker: Sink {
    /// Its name.
    fn device(&self) -> &str;
    /// How often it has asked for sound.
    fn asked(&self) -> u64;
    /// Why it does not work any more, if so.
    fn lost(&self) -> Option<SpeakError>;
}

impl Speaker for Loudspeaker {
    fn device(&self) -> &str {
        Loudspeaker::device(self)
    }
    fn asked(&self) -> u64 {
        Loudspeaker::asked(self)
    }
    fn lost(&self) -> Option<SpeakError> {
        Loudspeaker::lost(self)
    }
}

/// An outlet that is open.
pub(super) enum Place {
    Loudspeaker(Box<dyn Speaker>),
    File(WavSink),
}

impl Place {
    /// Opens it, and lets the session have a hold on it.
    pub fn open(outlet: &Outlet, hold: &Hold) -> Result<Place, SpeakError> {
        match outlet {
            Outlet::Loudspeaker(device) => {
                let mut loudspeaker = Loudspeaker::open(device.as_deref())?;
                let held = (loudspeaker.stop_handle(), loudspeaker.played(RATE));
                if let Ok(mut hold) = hold.lock() {
                    *hold = Some(held);
                }
                Ok(Place::Loudspeaker(Box::new(loudspeaker)))
            }
            Outlet::File(path, rate) => {
                // Whoever has spoken for an hour is not to be told then.
                files::look_to_write(path)
                    .map_err(|error| SpeakError::Wav { path: path.clone(), reason: error.to_string() })?;
                Ok(Place::File(WavSink::new(path, *rate)))
            }
        }
    }

    /// What takes the samples.
    pub fn sink(&mut self) -> &mut dyn Sink {
        match self {
            Place::Loudspeaker(loudspeaker) => &mut **loudspeaker,
            Place::File(file) => file,
        }
    }

    /// Gives a tone.
    pub fn tone(&mut self, tone: Tone) -> Result<(), SpeakError> {
        let sink = self.sink();
        let samples = tone.samples(sink.rate());
        sink.play(&samples)
    }

    /// All that can still be heard of a voice that is at its end.
    pub fn last_tone(&mut self) {
        if let Place::Loudspeaker(_) = self {
            self.sink().begin();
            // Where that fails too there is nothing left to try; the terminal has the reason.
            let _ = self.tone(Tone::ListeningOff).and_then(|()| self.wait(&|| true));
        }
    }

    /// Waits until all is heard or is not wanted any more.
    pub fn wait(&mut self, wanted: &dyn Fn() -> bool) -> Result<(), SpeakError> {
        let Place::Loudspeaker(loudspeaker) = self else { return Ok(()) };
        let (mut asked, mut at) = (loudspeaker.asked(), Instant::now());
        while loudspeaker.is_playing() && wanted() {
            std::thread::sleep(LOOK);
            if loudspeaker.asked() != asked {
                (asked, at) = (loudspeaker.asked(), Instant::now());
            } else if at.elapsed() > STALLED {
                let device = loudspeaker.device().to_owned();
                return Err(SpeakError::LoudspeakerLost { device, reason: "it takes no more sound".into() });
            }
        }
        loudspeaker.lost().map_or(Ok(()), Err)
    }

    /// Why it does not work any more, if so.
    pub fn failure(&self) -> Option<SpeakError> {
        match self {
            Place::Loudspeaker(loudspeaker) => loudspeaker.lost(),
            Place::File(_) => None,
        }
    }
}
