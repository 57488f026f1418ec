//! What passes between the program and the process of its recogniser: frames of a kind, a length and that many bytes.
//!
//! Knows the two kinds (JSON, samples) and their limits. Has no opinion on what they mean.

use std::io::{self, Read, Write};

use serde::{Deserialize, Serialize, de::DeserializeOwned};

use super::super::{Phrase, Word};

/// What the program asks of the recogniser. Samples are a frame of their own kind and ask for the words so far.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
pub(super) enum Ask {
    /// Allow exactly these phrases from now on.
    ListenFor(Vec<Phrase>),
    /// End the utterance.
    Finish,
}

/// What the recogniser answers; one answer to each frame.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
pub(super) enum Answer {
    /// The model is loaded. The first of all answers, to no question.
    Ready,
    /// The phrases are taken.
    Listening,
    /// The words so far.
    Words(String),
    /// The utterance is over.
    Heard(Vec<Word>),
    /// The model lacks a word of a phrase.
    UnknownWord { phrase: String, word: String },
    /// It cannot be done, for this reason.
    Failed(String),
}

/// One frame as it was read.
#[derive(Debug, PartialEq)]
pub(super) enum Frame {
    /// JSON text.
    Json(Vec<u8>),
    /// 16 kHz mono.
    Samples(Vec<i16>),
}

const JSON: u8 = b'J';
const SAMPLES: u8 = b'S';
/// More than the longest list of phrases or stretch of sound; a length beyond it is no length.
const MOST: u32 = 1 << 26;

pub(super) fn write_json(to: &mut impl Write, message: &impl Serialize) -> io::Result<()> {
    write(to, JSON, &serde_json::to_vec(message)?)
}

pub(super) fn write_samples(to: &mut impl Write, samples: &[i16]) -> io::Result<()> {
    let bytes: Vec<u8> = samples.iter().flat_map(|sample| sample.to_le_bytes()).collect();
    write(to, SAMPLES, &bytes)
}

fn write(to: &mut impl Write, kind: u8, bytes: &[u8]) -> io::Result<()> {
    let length = u32::try_from(bytes.len()).ok().filter(|length| *length <= MOST);
    let length = length.ok_or_else(|| io::Error::new(io::ErrorKind::InvalidInput, "too much for one frame"))?;
    to.write_all(&[kind])?;
    to.write_all(&length.to_le_bytes())?;
    to.write_all(bytes)?;
    to.flush()
}

/// The next frame; `None` where the other side has ended.
pub(super) fn read(from: &mut impl Read) -> io::Result<Option<Frame>> {
    let mut head = [0; 5];
    if let Err(error) = from.read_exact(&mut head[..1]) {
        return if error.kind() == io::ErrorKind::UnexpectedEof { Ok(None) } else { Err(error) };
    }
    from.read_exact(&mut head[1..])?;
    let [kind, length @ ..] = head;
    let length = u32::from_le_bytes(length);
    let odd = |what: &str| io::Error::new(io::ErrorKind::InvalidData, what.to_owned());
    if length > MOST {
        return Err(odd("a frame of no sensible length"));
    }
    let mut bytes = vec![0; length as usize];
    from.read_exact(&mut bytes)?;
    match kind {
        JSON => Ok(Some(Frame::Json(bytes))),
        SAMPLES if length.is_multiple_of(2) => {
            Ok(Some(Frame::Samples(bytes.chunks_exact(2).map(|pair| i16::from_le_bytes([pair[0], pair[1]])).collect())))
        }
        _ => Err(odd("a frame of no known kind")),
    }
}

/// The message in a frame of JSON.
pub(super) fn message<T: DeserializeOwned>(frame: &Frame) -> io::Result<T> {
    match frame {
        Frame::Json(bytes) => Ok(serde_json::from_slice(bytes)?),
        Frame::Samples(_) => Err(io::Error::new(io::ErrorKind::InvalidData, "samples where a message was due")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_is_written_is_read(phrases: Vec<String>, samples: Vec<i16>, text: String, confidence in 0f32..=1.0, began: u32) {
            let mut bytes = Vec::new();
            let phrase = |text| Phrase { text, harm: crate::listen::Harm::Moves };
            let ask = Ask::ListenFor(phrases.into_iter().map(phrase).collect());
            let began = began as usize;
            let answer = Answer::Heard(vec![Word { text, confidence, began, ended: began + 1 }; 2]);
            write_json(&mut bytes, &ask).unwrap();
            write_samples(&mut bytes, &samples).unwrap();
            write_json(&mut bytes, &answer).unwrap();
            let from = &mut &bytes[..];
            prop_assert_eq!(message::<Ask>(&read(from).unwrap().unwrap()).unwrap(), ask);
            prop_assert_eq!(read(from).unwrap().unwrap(), Frame::Samples(samples));
            prop_assert_eq!(message::<Answer>(&read(from).unwrap().unwrap()).unwrap(), answer);
            prop_assert_eq!(read(from).unwrap(), None);
        }

        #[test]
        fn noise_on_the_line_is_an_error_at_worst(bytes: Vec<u8>) {
            let from = &mut &bytes[..];
            while let Ok(Some(frame)) = read(from) {
                let _ = message::<Answer>(&frame);
            }
        }
    }
}
