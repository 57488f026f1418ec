//! How the user says things: their own takes of phrases and words, and how near to them a sound is.
//!
//! - [`frames`]: what is kept of a take; [`noises`]: the copies with noise that it is kept in besides.
//! - [`space`]: where rows are compared; [`units`] and [`path`]: how whole phrases and joined words are found in a sound.
//! - [`Matcher`]: all takes of a profile, ready to be compared.
//! - [`Profile`]: one person's takes, [`envelope`]: it as bytes, and [`file`]: the file that they are kept in.
//! - [`check`]: whether a take is good enough to be kept; [`Lesson`]: which phrase is to be said next.
//!
//! Knows the encoder's rows, and texts as they are handed in; no grammar, no meaning, no clock. What its word counts for is
//! decided in `listen::decide`. Only [`file`] touches a disk.

mod check;
mod envelope;
mod file;
mod frames;
mod lesson;
mod matcher;
mod noises;
mod path;
mod profile;
mod space;
mod units;

pub use check::{Fault, Recording, check};
pub use envelope::{Refusal, Wanted};
pub use file::ProfileError;
pub use frames::{Frames, LONGEST};
pub use lesson::{Lesson, Outcome};
pub use matcher::Matcher;
pub use noises::{copies, rows};
pub use profile::{Origin, Profile, Take};
