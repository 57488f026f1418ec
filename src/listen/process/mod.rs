//! The first listener behind a wall: in a process of its own, because libvosk ends the whole process on some inputs
//! and nothing can catch that. The checks before it keep what is known to do so from it; this is for the rest.
//!
//! Knows how to start that process, talk to it, notice its death and start another. One that gives no answer in time, or
//! none that makes sense, counts as dead. Each death is told once, as [`ListenError::Died`]; whoever still has the sound
//! can have it heard again by the new one. No wait here is without an end, and [`Recogniser::halt`] ends each at once.

mod child;
mod leash;
mod wire;

pub use child::serve;

use std::io::{BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread;
use std::time::Duration;

use leash::Leash;
use wire::{Answer, Ask};

use super::{Halt, ListenError, Phrase, Recogniser, Word, model_files, phrases};

/// The hidden word of the command line that starts the process: `wrenchside recogniser FOLDER`.
pub const VERB: &str = "recogniser";
/// Loading the model takes a tenth of a second; on a machine that is busy, more.
const LOADING: Duration = Duration::from_secs(30);
/// An answer takes milliseconds, and to the sound of a long utterance at once a second. A process that says nothing for so
/// long is as good as dead.
const ANSWER: Duration = Duration::from_secs(4);
/// So many starts in a row that came to nothing, and it is given up.
const TRIES: u32 = 3;

/// A recogniser in a process of its own.
pub struct RecogniserProcess {
    program: PathBuf,
    folder: PathBuf,
    running: Option<Running>,
    /// What it listens for, to tell a new one.
    phrases: Vec<Phrase>,
    leash: Arc<Leash>,
}

struct Running {
    /// To the thread that writes: a process that does not read would hold up whoever writes to it.
    to: Sender<Vec<u8>>,
    /// What its reader thread read; closed at the end of its output.
    answers: Receiver<Answer>,
    leash: Arc<Leash>,
}

impl Drop for Running {
    fn drop(&mut self) {
        self.leash.kill();
    }
}

impl RecogniserProcess {
    /// Starts `program`, this very program in a test's case another path to it, with the model in `folder`.
    pub fn start(program: &Path, folder: &Path) -> Result<Self, ListenError> {
        model_files::check(folder)?;
        let leash = Arc::new(Leash::default());
        let running = Running::start(program, folder, &leash)?;
        Ok(Self { program: program.into(), folder: folder.into(), running: Some(running), phrases: Vec::new(), leash })
    }

    /// The number of the process, while there is one.
    pub fn id(&self) -> Option<u32> {
        self.leash.id()
    }

    /// Asks, and if the process has died of it or does not do its work, starts another one that listens for the same.
    fn ask(&mut self, question: impl FnOnce(&mut Vec<u8>) -> std::io::Result<()>) -> Result<Answer, ListenError> {
        if self.running.is_none() {
            self.start_again()?;
        }
        let Some(running) = &mut self.running else { return Err(failed("it does not run")) };
        let mut frame = Vec::new();
        question(&mut frame).map_err(|e| failed(&e.to_string()))?;
        let answer = running.to.send(frame).ok().and_then(|()| running.answers.recv_timeout(ANSWER).ok());
        match answer {
            Some(Answer::Failed(reason)) => Err(self.anew(reason)),
            Some(Answer::UnknownWord { phrase, word }) => Err(ListenError::UnknownWord { phrase, word }),
            Some(answer) => Ok(answer),
            None => {
                let how = self.leash.ended().unwrap_or_else(|| "it gave no answer".to_owned());
                Err(self.anew(how))
            }
        }
    }

    /// Another one in its place; gives the error that tells it.
    fn anew(&mut self, how: String) -> ListenError {
        self.running = None;
        match self.start_again() {
            Ok(()) => ListenError::Died { how },
            Err(error) => error,
        }
    }

    fn start_again(&mut self) -> Result<(), ListenError> {
        let mut tries = 0;
        loop {
            tries += 1;
            match self.try_again() {
                Ok(running) => {
                    self.running = Some(running);
                    return Ok(());
                }
                Err(error) if tries == TRIES || self.leash.is_halted() => return Err(error),
                Err(_) => {}
            }
        }
    }

    fn try_again(&self) -> Result<Running, ListenError> {
        let running = Running::start(&self.program, &self.folder, &self.leash)?;
        if self.phrases.is_empty() {
            return Ok(running);
        }
        let mut frame = Vec::new();
        let told = wire::write_json(&mut frame, &listen_for(&self.phrases)).is_ok() && running.to.send(frame).is_ok();
        match running.answers.recv_timeout(ANSWER) {
            Ok(Answer::Listening) if told => Ok(running),
            _ => Err(failed("it ends when it is told what to listen for")),
        }
    }
}

impl Running {
    fn start(program: &Path, folder: &Path, leash: &Arc<Leash>) -> Result<Self, ListenError> {
        let mut command = Command::new(program);
        command.arg(VERB).arg(folder).stdin(Stdio::piped()).stdout(Stdio::piped());
        // Ctrl-C is for the program, which has words to say yet; this one ends with its standard input.
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        let mut child = command.spawn().map_err(|e| failed(&format!("{}: {e}", program.display())))?;
        let (to, from) = (child.stdin.take(), child.stdout.take());
        leash.hold(child);
        let (tell, answers) = mpsc::channel();
        let (send, frames) = mpsc::channel::<Vec<u8>>();
        // From here on its end is this one's.
        let running = Running { to: send, answers, leash: leash.clone() };
        let (Some(mut to), Some(from)) = (to, from) else {
            return Err(failed("it has no standard input and output"));
        };
        let read = move || {
            let mut from = BufReader::new(from);
            while let Ok(Some(frame)) = wire::read(&mut from) {
                let Ok(answer) = wire::message(&frame) else { break };
                if tell.send(answer).is_err() {
                    break;
                }
            }
        };
        // What cannot be written is told by the answer that does not come.
        let write = move || while frames.recv().is_ok_and(|frame| to.write_all(&frame).is_ok()) {};
        let start = |name: &str, work: Box<dyn FnOnce() + Send>| thread::Builder::new().name(name.into()).spawn(work);
        start("recogniser", Box::new(read))
            .and_then(|_| start("to recogniser", Box::new(write)))
            .map_err(|e| failed(&e.to_string()))?;
        match running.answers.recv_timeout(LOADING) {
            Ok(Answer::Ready) => Ok(running),
            Ok(Answer::Failed(reason)) => Err(failed(&reason)),
            _ => Err(failed("its process ends when it loads the model")),
        }
    }
}

impl Recogniser for RecogniserProcess {
    fn listen_for(&mut self, phrases: &[Phrase]) -> Result<(), ListenError> {
        phrases::check(phrases)?;
        let before = std::mem::replace(&mut self.phrases, phrases.to_vec());
        let question = listen_for(phrases);
        match self.ask(|frame| wire::write_json(frame, &question)) {
            Ok(_) => Ok(()),
            // The new process has been told the phrases already, and nothing else is lost.
            Err(ListenError::Died { .. }) => Ok(()),
            Err(error) => {
                self.phrases = before;
                Err(error)
            }
        }
    }

    fn accept(&mut self, chunk: &[i16]) -> Result<String, ListenError> {
        match self.ask(|frame| wire::write_samples(frame, chunk))? {
            Answer::Words(words) => Ok(words),
            other => Err(self.anew(format!("it answers sound with {other:?}"))),
        }
    }

    fn finish(&mut self) -> Result<Vec<Word>, ListenError> {
        match self.ask(|frame| wire::write_json(frame, &Ask::Finish))? {
            Answer::Heard(words) => Ok(words),
            other => Err(self.anew(format!("it ends an utterance with {other:?}"))),
        }
    }

    fn halt(&self) -> Option<Halt> {
        let leash = self.leash.clone();
        Some(Arc::new(move || leash.halt()))
    }
}

fn listen_for(phrases: &[Phrase]) -> Ask {
    Ask::ListenFor(phrases.to_vec())
}

fn failed(reason: &str) -> ListenError {
    ListenError::Engine { engine: "vosk", reason: reason.to_owned() }
}
