//! The wiring: sound, typed lines and timers in, sentences out to the terminal and the voice. With `glance` the only room
//! with `tokio`, and the only one that reads a clock.
//!
//! - [`conversation`]: words in, sentences out, every fact on disk in between; no sound, no clock.
//! - `delivery`: how the voice speaks, as the user turned it.
//! - `clock`: the moments that a job is told; they only grow.
//! - [`ear`]: a source of sound and the listener on it, kept to the phrases of the moment.
//! - [`mouth`], [`outlet`], [`voice_thread`]: sentences to samples, where these go, and the thread that can be cut off.
//! - [`ways`]: the ways in beside the sound: [`keyboard`], with single keys, and [`port`], the tool that sends readings;
//!   [`lines`]: lines from bytes that come as they like.
//! - [`notes`]: spoken notes; `kept_sound`: these, and names that were spoken, in the folder of the job.
//! - `announcing`: when what was put to the user had been said to its end.
//! - [`bay`]: how noisy it is, and how loud the voice has to be for it.
//! - [`overhear`]: the user's words from under the program's own voice.
//! - [`trouble`]: what happens to the sound meanwhile.
//! - [`learning`]: a lesson in which the user's voice is learnt, and `lesson_loop`, which runs it;
//!   `lesson_thread` is its ear.
//! - `learnt`: the learnt voice in a session, which goes on learning.
//! - [`tryout`]: trying a microphone: its levels, and some phrases.
//! - `lookup`: values asked by name; `values_talk`: a session that answers them and has no job; `book_talk`: one in which they are
//!   told from the open book, and `page_file`, where they are kept; `values_loop` and `values_thread` run either.
//! - [`Talker`]: what the ear and the loop need of whoever talks with the user; [`Scene`]: what a screen needs of it;
//!   [`Shown`]: what it shows of the job.
//! - `choice`: a job chosen by voice, and then that job.
//! - `strip_talk`: what is told while something is taken apart, before there is a job; `strip_session`: that, and from its turning
//!   point on the job that it has become; `spoken_names`: the user's own recordings as names, in both.
//! - [`ear_thread`]: the ear on a thread of its own, with the sound that waits for it.
//! - [`live`]: the loop that runs them all for a person; `host`: what it tells them; `interrupts`: what ends
//!   it. `replay` runs the same ear, conversation and mouth without a clock.

mod announcing;
mod awaited;
pub mod bay;
mod book_talk;
mod choice;
mod clock;
pub mod conversation;
mod delivery;
pub mod ear;
pub mod ear_thread;
mod host;
#[cfg(test)]
mod interleavings;
mod interrupts;
mod kept_sound;
pub mod keyboard;
pub mod learning;
mod learnt;
pub mod lesson_loop;
mod lesson_thread;
pub mod lines;
pub mod live;
mod lookup;
pub mod mouth;
mod no_job;
pub mod notes;
pub mod outlet;
pub mod overhear;
mod page_file;
mod phrasing;
pub mod port;
mod readings;
mod repair;
mod scene;
mod screen;
mod shown;
mod spoken;
mod spoken_names;
mod strip_session;
mod strip_talk;
mod talker;
mod told_book;
mod tools;
pub mod trouble;
pub mod tryout;
mod turn;
mod values_loop;
mod values_talk;
mod values_thread;
pub mod voice_thread;
pub mod ways;

pub use book_talk::BookTalk;
pub use choice::{Begin, Choice, Offers};
pub use clock::now;
pub use conversation::{Conversation, phrases, phrases_for, without_adapters};
pub use delivery::Delivery;
pub use ear::{Ear, Source};
pub use ear_thread::EarThread;
pub use learning::Learning;
pub use learnt::LearntVoice;
pub use lesson_loop::learn;
pub use lesson_thread::SoFar;
pub use live::{Habits, run};
pub use mouth::{Begun, Mouth, Order, Recordings};
pub use no_job::NoJob;
pub use outlet::Outlet;
pub use page_file::PageFile;
pub use phrasing::{denying, harm};
pub use readings::readings;
pub use scene::Scene;
pub use screen::{Screen, SessionError};
pub use shown::{Measuring, Shown};
pub use strip_session::{Known, StripSession};
pub use strip_talk::{StripTalk, TurnError};
pub use talker::Talker;
pub use trouble::Trouble;
pub use turn::Turn;
pub use values_loop::{Counter, Question, look_up};
pub use values_talk::ValuesTalk;
pub use voice_thread::VoiceThread;
pub use ways::Ways;
