//! A profile as bytes: CBOR, an envelope with everything that must be known before its takes can be read, and the takes.
//!
//! The envelope names the format, the encoder and the checksum of the takes, so that bytes of another version, by another encoder,
//! cut or damaged are refused with what to do, and never half read. Pure.

use std::fmt;

use half::f16;
use serde::de::{DeserializeOwned, Error, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::frames::Frames;
use super::profile::{Origin, Profile, Take};

/// What stands first in the file.
const KIND: &str = "wrenchside own voice";
/// The format written here.
const FORMAT: u32 = 1;
/// What a profile must fit to.
#[derive(Debug, Clone, Copy)]
pub struct Wanted<'a> {
    /// The name of the encoder in use.
    pub features: &'a str,
    /// The language in use.
    pub language: &'a str,
}

/// Why the bytes of a profile are refused.
#[derive(Debug, thiserror::Error, PartialEq, Eq)]
pub enum Refusal {
    /// Something else.
    #[error("this is no profile of a voice; name another file, or learn the voice anew")]
    NotOne,
    /// Of another version.
    #[error(
        "this profile is of format {0}, and this version reads format {FORMAT}; use the version that it was learnt with, or learn the voice anew"
    )]
    Format(u32),
    /// By another encoder.
    #[error(
        "this profile was learnt with another model of the second listener ({found}, now {wanted}) and cannot be compared; learn the voice anew, or put back that model"
    )]
    Features {
        /// The name in the file.
        found: String,
        /// The name of the one in use.
        wanted: String,
    },
    /// For another language.
    #[error(
        "this profile was learnt in the language \"{found}\", and \"{wanted}\" is in use; learn the voice in that language"
    )]
    Language {
        /// The language of the file.
        found: String,
        /// The language in use.
        wanted: String,
    },
    /// It ends too soon, or is damaged.
    #[error("this profile is cut off or damaged; put back a copy of it, or learn the voice anew")]
    Damaged,
    /// Whole, but not as a profile is.
    #[error("this profile holds takes of a wrong shape; put back a copy of it, or learn the voice anew")]
    Shape,
}

#[derive(Serialize, Deserialize)]
struct Envelope {
    kind: String,
    format: u32,
    #[serde(default)]
    features: String,
    #[serde(default)]
    name: String,
    #[serde(default)]
    microphone: String,
    #[serde(default)]
    language: String,
    #[serde(default)]
    width: u32,
    #[serde(default)]
    checksum: u32,
    #[serde(default)]
    takes: Bytes,
}

#[derive(Serialize, Deserialize)]
struct Written {
    phrase: String,
    learnt: i64,
    origin: Origin,
    /// Of each copy all rows, as halves with the least byte first.
    copies: Vec<Bytes>,
}

/// A string of bytes, which serde would write as a list of numbers.
#[derive(Default)]
struct Bytes(Vec<u8>);

impl Profile {
    /// Reads a profile, whatever is in use.
    pub fn parse(bytes: &[u8]) -> Result<Self, Refusal> {
        // A file that is cut or damaged is told from another kind of file by how it begins.
        let damaged = || if begins_like_one(bytes) { Refusal::Damaged } else { Refusal::NotOne };
        let envelope: Envelope = whole(bytes).ok_or_else(damaged)?;
        if envelope.kind != KIND {
            return Err(Refusal::NotOne);
        }
        if envelope.format != FORMAT {
            return Err(Refusal::Format(envelope.format));
        }
        if crc32fast::hash(&envelope.takes.0) != envelope.checksum {
            return Err(Refusal::Damaged);
        }
        let takes: Vec<Written> = whole(&envelope.takes.0).ok_or(Refusal::Shape)?;
        let mut profile = Profile::new(&envelope.name, &envelope.features, &envelope.microphone, &envelope.language);
        for take in takes {
            let copies: Option<Vec<Frames>> = take.copies.iter().map(|copy| rows(&copy.0, envelope.width)).collect();
            let copies = copies.ok_or(Refusal::Shape)?;
            if !profile.learn(&take.phrase, Take { learnt: take.learnt, origin: take.origin, copies }) {
                return Err(Refusal::Shape);
            }
        }
        Ok(profile)
    }

    /// Can it be used with this encoder and in this language?
    pub fn fits(&self, wanted: Wanted) -> Result<(), Refusal> {
        if self.features() != wanted.features {
            return Err(Refusal::Features { found: self.features().into(), wanted: wanted.features.into() });
        }
        if self.language() != wanted.language {
            return Err(Refusal::Language { found: self.language().into(), wanted: wanted.language.into() });
        }
        Ok(())
    }

    /// As it stands in a file.
    pub fn to_bytes(&self) -> Vec<u8> {
        let bytes = |frames: &Frames| Bytes(frames.halves().iter().flat_map(|half| half.to_le_bytes()).collect());
        let takes = self.phrases().flat_map(|(phrase, takes)| {
            takes.iter().map(move |take| Written {
                phrase: phrase.to_owned(),
                learnt: take.learnt,
                origin: take.origin,
                copies: take.copies.iter().map(bytes).collect(),
            })
        });
        let takes = cbor(&takes.collect::<Vec<_>>());
        cbor(&Envelope {
            kind: KIND.into(),
            format: FORMAT,
            features: self.features().into(),
            name: self.name().into(),
            microphone: self.microphone().into(),
            language: self.language().into(),
            width: self.width().unwrap_or_default() as u32,
            checksum: crc32fast::hash(&takes),
            takes: Bytes(takes),
        })
    }
}

/// Rows of a width, from bytes.
fn rows(bytes: &[u8], width: u32) -> Option<Frames> {
    let (pairs, rest) = bytes.as_chunks::<2>();
    if !rest.is_empty() {
        return None;
    }
    Frames::new(width as usize, pairs.iter().map(|pair| f16::from_le_bytes(*pair)).collect())
}

fn cbor(what: &impl Serialize) -> Vec<u8> {
    let mut bytes = Vec::new();
    // Into memory, and of types that have no way to fail.
    if ciborium::into_writer(what, &mut bytes).is_err() {
        bytes.clear();
    }
    bytes
}

/// Reads something that the bytes hold from the first to the last.
fn whole<T: DeserializeOwned>(mut bytes: &[u8]) -> Option<T> {
    let read = ciborium::from_reader(&mut bytes).ok()?;
    bytes.is_empty().then_some(read)
}

/// Do bytes begin as those of a profile do, as far as they go?
fn begins_like_one(bytes: &[u8]) -> bool {
    let start = Envelope {
        kind: KIND.into(),
        format: FORMAT,
        features: String::new(),
        name: String::new(),
        microphone: String::new(),
        language: String::new(),
        width: 0,
        checksum: 0,
        takes: Bytes::default(),
    };
    let known = cbor(&start);
    // The head of the map, the word "kind" and what follows it.
    let known = &known[..known.len().min(1 + 5 + 1 + KIND.len())];
    !bytes.is_empty() && bytes.iter().zip(known).all(|(one, other)| one == other)
}

impl Serialize for Bytes {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_bytes(&self.0)
    }
}

impl<'de> Deserialize<'de> for Bytes {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct OfBytes;
        impl Visitor<'_> for OfBytes {
            type Value = Bytes;
            fn expecting(&self, to: &mut fmt::Formatter) -> fmt::Result {
                to.write_str("bytes")
            }
            fn visit_bytes<E: Error>(self, bytes: &[u8]) -> Result<Bytes, E> {
                Ok(Bytes(bytes.to_vec()))
            }
            fn visit_byte_buf<E: Error>(self, bytes: Vec<u8>) -> Result<Bytes, E> {
                Ok(Bytes(bytes))
            }
        }
        deserializer.deserialize_byte_buf(OfBytes)
    }
}

#[cfg(test)]
mod tests {
    use super::super::profile::tests::learnt;
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn bytes_that_are_none_are_refused_by_what_they_are() {
        let bytes = learnt().to_bytes();
        #[derive(Serialize)]
        struct Later {
            kind: &'static str,
            format: u32,
            more: [u8; 3],
        }
        assert_eq!(Profile::parse(&cbor(&Later { kind: KIND, format: 2, more: [0; 3] })), Err(Refusal::Format(2)));
        assert_eq!(Profile::parse(&[]), Err(Refusal::NotOne));
        assert_eq!(Profile::parse(&[bytes.clone(), vec![0]].concat()), Err(Refusal::Damaged));
    }

    #[test]
    fn takes_of_a_wrong_shape_are_refused() {
        let with = |width: u32, copies: &[&[u8]]| {
            let copies = copies.iter().map(|copy| Bytes(copy.to_vec())).collect();
            let takes = cbor(&[Written { phrase: "yes".into(), learnt: 0, origin: Origin::Job, copies }]);
            let (checksum, takes) = (crc32fast::hash(&takes), Bytes(takes));
            let empty = String::new;
            let (features, name, microphone, language) = (empty(), empty(), empty(), empty());
            let (kind, format) = (KIND.into(), FORMAT);
            Profile::parse(&cbor(&Envelope {
                kind,
                format,
                features,
                name,
                microphone,
                language,
                width,
                checksum,
                takes,
            }))
        };
        assert!(with(2, &[&[0; 8]]).is_ok());
        for (width, copies) in
            [(0, &[&[0u8; 8][..]][..]), (3, &[&[0; 8]]), (2, &[&[0; 7]]), (2, &[]), (2, &[&[]]), (1, &[&[0, 0x7c]])]
        {
            assert_eq!(with(width, copies), Err(Refusal::Shape), "{width} {copies:?}");
        }
    }

    proptest! {
        /// Whatever the bytes are, they are read or refused.
        #[test]
        fn no_bytes_bring_it_down(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
            let _ = Profile::parse(&bytes);
        }

        /// The same for whatever stands where the takes should be, with its checksum.
        #[test]
        fn no_takes_bring_it_down(takes in prop::collection::vec(any::<u8>(), 0..200), width in 0u32..5) {
            let empty = String::new;
            let bytes = cbor(&Envelope {
                kind: KIND.into(),
                format: FORMAT,
                features: empty(),
                name: empty(),
                microphone: empty(),
                language: empty(),
                width,
                checksum: crc32fast::hash(&takes),
                takes: Bytes(takes),
            });
            let _ = Profile::parse(&bytes);
        }

        /// A profile that is cut is refused, and one with a byte changed is refused, or is one that can be written.
        #[test]
        fn a_damaged_file_is_refused_or_whole(at in any::<prop::sample::Index>(), with in any::<u8>(), cut in any::<bool>()) {
            let mut bytes = learnt().to_bytes();
            let at = at.index(bytes.len());
            if cut {
                bytes.truncate(at);
                prop_assert!(Profile::parse(&bytes).is_err());
            } else {
                bytes[at] = with;
                if let Ok(read) = Profile::parse(&bytes) {
                    prop_assert_eq!(Profile::parse(&read.to_bytes()), Ok(read));
                }
            }
        }
    }
}
