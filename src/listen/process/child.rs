//! The other side: the process that holds the recogniser, answering one question after the other until its standard
//! input ends.

use std::io::{self, BufReader, BufWriter};
use std::path::Path;

use super::super::{ListenError, Recogniser, VoskRecogniser};
use super::wire::{self, Answer, Ask, Frame};

/// Serves the model in `folder` on standard input and output. Whoever starts this has looked at the folder.
pub fn serve(folder: &Path) -> io::Result<()> {
    let mut from = BufReader::new(io::stdin().lock());
    let mut to = BufWriter::new(io::stdout().lock());
    let mut recogniser = match VoskRecogniser::load(folder) {
        Ok(recogniser) => recogniser,
        Err(error) => return wire::write_json(&mut to, &Answer::Failed(error.to_string())),
    };
    wire::write_json(&mut to, &Answer::Ready)?;
    while let Some(frame) = wire::read(&mut from)? {
        let answer = match &frame {
            Frame::Samples(samples) => recogniser.accept(samples).map(Answer::Words),
            Frame::Json(_) => match wire::message(&frame)? {
                Ask::ListenFor(phrases) => recogniser.listen_for(&phrases).map(|()| Answer::Listening),
                Ask::Finish => recogniser.finish().map(Answer::Heard),
            },
        };
        let answer = answer.unwrap_or_else(|error| match error {
            ListenError::UnknownWord { phrase, word } => Answer::UnknownWord { phrase, word },
            ListenError::Engine { reason, .. } => Answer::Failed(reason),
            other => Answer::Failed(other.to_string()),
        });
        wire::write_json(&mut to, &answer)?;
    }
    Ok(())
}
