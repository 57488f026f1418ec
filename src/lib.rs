//! Wrenchside: an offline, voice-driven, hands-free step assistant for repair work.
//!
//! Sound comes in on one side and goes out on the other; each room knows the one before it only through a small
//! type:
//!
//! ```text
//! microphone / WAV ─► listen ─► Utterance ─► dialogue ─► Command ─► job ─► Reply ─► dialogue ─► Sentence ─► speak ─► loudspeaker / WAV
//!                                                                    │  ▲
//!                                                                    ▼  │
//!                                                                journal (disk)        procedure (what the book says) ─► job, dialogue
//! ```
//!
//! - [`quantity`]: torque, angle, length; exact units. Knows nothing else.
//! - [`procedure`]: what the book says. Knows `quantity`; not that a job, a clock or sound exists.
//! - [`job`]: the job in hand. Pure: the same commands give the same replies.
//! - [`journal`]: the job on disk, one fact a line. Decides nothing.
//! - [`toolbox`]: the user's wrenches and sockets: which to take, what to set. Knows `quantity` only.
//! - [`instrument`]: the lines of a tool that sends its readings by itself. Pure.
//! - [`values`]: a page of values, asked by name. Knows what `procedure` knows of values and findings.
//! - [`layout`]: what a procedure needs at hand, compared with a toolbox.
//! - [`outline`]: the steps of a procedure and every way through them, as text.
//! - [`dialogue`]: phrases to commands and replies to sentences; one language file holds all words.
//! - [`listen`]: frames of sound to utterances.
//! - [`speak`]: sentences to samples.
//! - [`own_voice`]: how the user says things: takes, profiles, and how near to them a sound is.
//! - [`session`]: the wiring, and with `glance` the only room with `tokio`.
//! - [`drawing`]: a group of fasteners as a picture.
//! - [`record`]: the running or finished job as a document for people and machines. Changes nothing.
//! - [`glance`]: the page for a screen in the bay. Reads only.
//! - [`replay`]: scenarios of recorded sound, played in, compared and measured.
//! - [`hearing`]: how well all of this hears, in counts.
//! - `sound_system`: how the process speaks to a PulseAudio server, so that one that dies leaves nothing behind.
//! - [`files`]: opens what a user or a file named, if it is a file.
//! - `printing`: what is printed, without a wait for whoever reads it; `parting`: going without a wait for what hangs.
//! - [`cli`]: arguments, exit codes and errors for people.
#![deny(unsafe_code)]
#![warn(missing_docs)]

pub mod assets;
pub mod cli;
pub mod dialogue;
pub mod drawing;
pub mod files;
pub mod glance;
pub mod hearing;
mod hurry;
pub mod instrument;
pub mod job;
pub mod journal;
pub mod layout;
pub mod listen;
pub mod manuscript;
pub mod onnx;
pub mod outline;
pub mod own_voice;
mod parting;
mod printing;
pub mod procedure;
pub mod quantity;
pub mod record;
pub mod replay;
pub mod resample;
pub mod session;
#[cfg(target_os = "linux")]
pub mod sound_system;
pub mod speak;
pub mod strip;
pub mod stumble;
pub mod toolbox;
pub mod values;
