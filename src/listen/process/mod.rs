//! The first listener behind a wall: in a process of its own, because libvosk ends the whole process on some inputs
//! and nothing can catch that. The checks before it keep what is known to do so from it; this is for the rest.
//!
//! Knows how to start that process, talk to it, notice its death and start another. Each death is told once, as
//! [`ListenError::Died`]; whoever still has the sound can have it heard again by the new one.

mod child;
mod wire;

pub use child::serve;

use std::io::{BufReader, BufWriter};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{self, Receiver};
use std::thread;
use std::time::Duration;

use wire::{Answer, Ask};

use super::{ListenError, Phrase, Recogniser, Word, model_files, phrases};

/// The hidden word of the command line that starts the process: `wrenchside recogniser FOLDER`.
pub const VERB: &str = "recogniser";
/// Loading the model takes a tenth of a second; on a machine that is busy, more.
const LOADING: Duration = Duration::from_secs(30);
/// An answer takes milliseconds. A process that says nothing for so long is as good as dead.
const ANSWER: Duration = Duration::from_secs(10);
/// So many starts in a row that came to nothing, and it is given up.
const TRIES: u32 = 3;

/// A recogniser in a process of its own.
pub struct RecogniserProcess {
    program: PathBuf,
    folder: PathBuf,
    running: Option<Running>,
    /// What it listens for, to tell a new one.
    phrases: Vec<Phrase>,
}

struct Running {
    child: Child,
    to: BufWriter<ChildStdin>,
    /// What its reader thread read; closed at the end of its output.
    answers: Receiver<Answer>,
}

impl Drop for Running {
    fn drop(&mut self) {
        // Both fail only on a process that is gone already, which is what is wanted.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl RecogniserProcess {
    /// Starts `program`, this very program in a test's case another path to it, with the model in `folder`.
    pub fn start(program: &Path, folder: &Path) -> Result<Self, ListenError> {
        model_files::check(folder)?;
        let running = Running::start(program, folder)?;
        Ok(Self { program: program.into(), folder: folder.into(), running: Some(running), phrases: Vec::new() })
    }

    /// The number of the process, while there is one.
    pub fn id(&self) -> Option<u32> {
        self.running.as_ref().map(|running| running.child.id())
    }

    /// Asks, and if the process has died of it, starts another one that listens for the same.
    fn ask(&mut self, question: impl FnOnce(&mut Running) -> std::io::Result<()>) -> Result<Answer, ListenError> {
        if self.running.is_none() {
            self.start_again()?;
        }
        let Some(running) = &mut self.running else { return Err(failed("it does not run")) };
        let answer = question(running).ok().and_then(|()| running.answers.recv_timeout(ANSWER).ok());
        match answer {
            Some(Answer::Failed(reason)) => Err(failed(&reason)),
            Some(Answer::UnknownWord { phrase, word }) => Err(ListenError::UnknownWord { phrase, word }),
            Some(answer) => Ok(answer),
            None => {
                let how = running.child.try_wait().ok().flatten();
                let how = how.map_or_else(|| "it gave no answer".to_owned(), |status| status.to_string());
                self.running = None;
                self.start_again()?;
                Err(ListenError::Died { how })
            }
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
                Err(error) if tries == TRIES => return Err(error),
                Err(_) => {}
            }
        }
    }

    fn try_again(&self) -> Result<Running, ListenError> {
        let mut running = Running::start(&self.program, &self.folder)?;
        if self.phrases.is_empty() {
            return Ok(running);
        }
        let told = wire::write_json(&mut running.to, &listen_for(&self.phrases));
        match told.map(|()| running.answers.recv_timeout(ANSWER)) {
            Ok(Ok(Answer::Listening)) => Ok(running),
            _ => Err(failed("it ends when it is told what to listen for")),
        }
    }
}

impl Running {
    fn start(program: &Path, folder: &Path) -> Result<Self, ListenError> {
        let mut command = Command::new(program);
        command.arg(VERB).arg(folder).stdin(Stdio::piped()).stdout(Stdio::piped());
        // Ctrl-C is for the program, which has words to say yet; this one ends with its standard input.
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        let mut child = command.spawn().map_err(|e| failed(&format!("{}: {e}", program.display())))?;
        let (Some(to), Some(from)) = (child.stdin.take(), child.stdout.take()) else {
            return Err(failed("it has no standard input and output"));
        };
        let (tell, answers) = mpsc::channel();
        let read = move || {
            let mut from = BufReader::new(from);
            while let Ok(Some(frame)) = wire::read(&mut from) {
                let Ok(answer) = wire::message(&frame) else { break };
                if tell.send(answer).is_err() {
                    break;
                }
            }
        };
        let reader = thread::Builder::new().name("recogniser".into()).spawn(read);
        let running = Running { child, to: BufWriter::new(to), answers };
        reader.map_err(|e| failed(&e.to_string()))?;
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
        match self.ask(|running| wire::write_json(&mut running.to, &question)) {
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
        match self.ask(|running| wire::write_samples(&mut running.to, chunk))? {
            Answer::Words(words) => Ok(words),
            other => Err(failed(&format!("it answers sound with {other:?}"))),
        }
    }

    fn finish(&mut self) -> Result<Vec<Word>, ListenError> {
        match self.ask(|running| wire::write_json(&mut running.to, &Ask::Finish))? {
            Answer::Heard(words) => Ok(words),
            other => Err(failed(&format!("it ends an utterance with {other:?}"))),
        }
    }
}

fn listen_for(phrases: &[Phrase]) -> Ask {
    Ask::ListenFor(phrases.to_vec())
}

fn failed(reason: &str) -> ListenError {
    ListenError::Engine { engine: "vosk", reason: reason.to_owned() }
}
