//! A second listener that is loaded on a thread of its own, so that the first one need not wait for it.
//!
//! Whoever asks for a judgement before it is there waits for it: without its word other phrases would be believed than
//! with it. The microphone goes on meanwhile; its ring holds far more than the loading takes.

use std::thread::{Builder, JoinHandle};

use tracing::debug;

use super::{Encoding, Judge, Judgement, ListenError, Phrase, Written};

type Loaded<J> = Result<J, ListenError>;

/// A second listener that is being loaded, or has been.
pub struct Behind<J> {
    loading: Option<JoinHandle<Loaded<J>>>,
    judge: Option<J>,
    /// Why there is none, until it is told.
    failure: Option<ListenError>,
}

impl<J: Judge + Send + 'static> Behind<J> {
    /// Begins to load it.
    pub fn load(load: impl FnOnce() -> Loaded<J> + Send + 'static) -> Result<Self, ListenError> {
        let loading = Builder::new().name("second listener".into()).spawn(load).map_err(|e| failed(e.to_string()))?;
        Ok(Self { loading: Some(loading), judge: None, failure: None })
    }

    /// Takes what was loaded, waiting for it if need be.
    fn take(&mut self) {
        let Some(loading) = self.loading.take() else { return };
        match loading.join() {
            Ok(Ok(judge)) => {
                debug!("the second listener is there");
                self.judge = Some(judge);
            }
            Ok(Err(error)) => self.failure = Some(error),
            Err(_) => self.failure = Some(failed("loading it ended without a word".into())),
        }
    }
}

/// What is being loaded is waited for: a process that ends while a thread is inside a library written in C++ takes from
/// under it what that library put up at its start, and is brought down instead of ending.
impl<J> Drop for Behind<J> {
    fn drop(&mut self) {
        if let Some(loading) = self.loading.take() {
            // Nobody is left to hear how it went.
            let _ = loading.join();
        }
    }
}

impl<J: Judge + Send + 'static> Judge for Behind<J> {
    fn judge(&mut self, samples: &[f32], phrases: &[Phrase]) -> Result<Judgement, ListenError> {
        self.take();
        match &mut self.judge {
            Some(judge) => judge.judge(samples, phrases),
            None => Err(failed("it could not be loaded".into())),
        }
    }

    fn write(&mut self, samples: &[f32], phrase: &str) -> Result<Option<Written>, ListenError> {
        self.take();
        match &mut self.judge {
            Some(judge) => judge.write(samples, phrase),
            None => Err(failed("it could not be loaded".into())),
        }
    }

    fn encode(&mut self, samples: &[f32]) -> Result<Option<Encoding>, ListenError> {
        self.take();
        match &mut self.judge {
            Some(judge) => judge.encode(samples),
            None => Err(failed("it could not be loaded".into())),
        }
    }

    fn look(&mut self) -> Result<(), ListenError> {
        if self.loading.as_ref().is_some_and(JoinHandle::is_finished) {
            self.take();
        }
        self.failure.take().map_or(Ok(()), Err)
    }

    fn is_there(&self) -> bool {
        self.judge.is_some()
    }
}

fn failed(reason: String) -> ListenError {
    ListenError::Engine { engine: "second listener", reason }
}
