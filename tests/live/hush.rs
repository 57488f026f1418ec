//! The voice that is silent when it is told to, and that does not hear itself.

use crate::children::Waits;
use crate::session::{BOOK, SILENCE, Session, journal, recording};
use crate::sound_server::{LOUD, RATE, Server};
use std::time::{Duration, Instant};

#[test]
fn silence_is_kept_within_150_ms_of_the_decision() {
    let Some(server) = Server::with_microphone() else { return };
    server.loudspeaker_into_microphone(0.3);
    let jobs = tempfile::tempdir().unwrap();
    let tape = server.record();
    let session = Session::start(&server, jobs.path(), &["start", "procedures/tarnfell-front-lower-arm-left.toml"]);
    session.waits_for("Lay out the tools", 0);
    let mut at = 0;
    // Again if need be, as a user would: over the voice not every word is heard.
    for _ in 0..5 {
        while tape.first_loud(at).is_none() {
            std::thread::sleep(Duration::from_millis(10));
        }
        // For the first seconds the echo canceller does not know the room, and hears the user badly.
        std::thread::sleep(Duration::from_millis(3_000));
        for phrase in ["stop-talking", "silence-please"] {
            let from = session.written().len();
            let quiet = || session.written()[from..].contains("(quiet)");
            server.speak(&recording(phrase), 1.0);
            let patience = Instant::now() + Duration::from_millis(2_500);
            while !quiet() && Instant::now() < patience {
                std::thread::sleep(Duration::from_millis(1));
            }
            let decided = tape.now();
            let mut waits = Waits::of(&[server.processes(&[&tape]), vec![session.process.id()]].concat());
            if !quiet() {
                continue;
            }
            std::thread::sleep(Duration::from_millis(150));
            let waited = waits.look();
            tape.until(decided + RATE);
            // Only what was being said can be broken off.
            if tape.samples()[decided - RATE..decided].iter().all(|sample| sample.unsigned_abs() <= LOUD) {
                continue;
            }
            let went_on = tape.last_loud(decided).map_or(0, |last| (last - decided) * 1_000 / RATE);
            println!("spoke on for {went_on} ms after the decision; threads waited {waited:?} for a processor");
            assert!(went_on <= 150 + waited.as_millis() as usize, "it spoke on for {went_on} ms");
            return;
        }
        tape.until_silent(at, SILENCE);
        at = session.hears(&server, &tape, "say-again");
    }
    panic!("it is not heard over the voice:\n{}", session.written());
}

#[test]
fn the_programs_own_voice_does_nothing_and_can_be_talked_over() {
    let Some(server) = Server::with_microphone() else { return };
    // As loud at the microphone as the user is, or a little louder.
    server.loudspeaker_into_microphone(0.5);
    let jobs = tempfile::tempdir().unwrap();
    let tape = server.record();
    let session = Session::start(&server, jobs.path(), &["start", BOOK]);
    session.waits_for("Look at the bracket.", 0);
    tape.until_silent(0, SILENCE);
    // It reads out what may be said: its own commands, one after the other, into its own microphone.
    let from = session.written().len();
    session.say(&server, &tape, "what-can-i-say");
    let written = session.written()[from..].to_owned();
    let mut commands = written.lines().filter(|line| line.starts_with("> "));
    assert!(commands.all(|command| command == "> what can i say"), "it heard itself:\n{written}");
    assert_eq!(journal(jobs.path()).lines().count(), 2, "{}", journal(jobs.path()));

    let from = session.written().len();
    let heard = || session.written()[from..].contains("> where am i");
    let pause = |ms| std::thread::sleep(Duration::from_millis(ms));
    for _ in 0..5 {
        // The list once more: some seconds of voice.
        let at = tape.position();
        server.speak(&recording("say-again"), 1.0);
        while tape.first_loud(at).is_none() {
            pause(10);
        }
        pause(1_500);
        // A command over the voice; again if need be, as a user would, as long as the voice goes on.
        loop {
            let before = tape.position();
            server.speak(&recording("where-am-i"), 1.0);
            for _ in 0..20 {
                pause(100);
                if heard() {
                    return;
                }
            }
            if tape.first_loud(before).is_none() {
                break;
            }
        }
        tape.until_silent(at, SILENCE);
    }
    panic!("it cannot be talked over:\n{}", session.written());
}
