//! The whole way in real time: recordings spoken into a microphone, the answers taken from a loudspeaker and heard back.
//! Both are virtual (see `sound_server`); the program is the real one, as a user starts it. Without a PulseAudio server
//! these tests say so and do nothing; in CI that is a failure.
//!
//! They keep time with the sound and not with the clock of a machine that may be busy with other work: what is to come is waited
//! for with patience, and what must not take longer than so long is given what its threads had to wait for a processor.

#[path = "../common/children.rs"]
mod children;
#[path = "../common/cost.rs"]
mod cost;
#[path = "../sound_server/mod.rs"]
mod sound_server;

mod costs;
mod faults;
mod hush;
mod job;
mod session;
mod ways;
