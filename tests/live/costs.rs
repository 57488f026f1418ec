//! Measurements: what a start takes, and what a session costs.

use crate::cost;
use crate::session::{BOOK, SILENCE, Session, program};
use crate::sound_server::Server;
use std::process::Stdio;
use std::time::{Duration, Instant};

#[test]
#[ignore = "a measurement: docs/hearing.md has its figures"]
fn from_the_start_until_it_listens() {
    const TOLD: [&str; 3] = ["it listens", "the second listener is there", "the voice is there"];
    let Some(server) = Server::with_microphone() else { return };
    // A null sink that nobody listens to closely brings its first sound after two seconds, as no sound card does.
    let mut awake = ["mic.monitor", "spk.monitor"].map(|source| {
        let mut listener = server.command("parec");
        listener
            .args(["--latency-msec=20", "--device", source])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap()
    });
    std::thread::sleep(Duration::from_secs(3));
    let mut took: Vec<[Duration; 3]> = (0..20)
        .map(|_| {
            let jobs = tempfile::tempdir().unwrap();
            let mut command = server.around(program());
            command.env("WRENCHSIDE_LOG", "wrenchside=debug");
            let began = Instant::now();
            let session = Session::of(command, jobs.path(), &["start", BOOK]);
            let mut seen = TOLD.map(|text| (text, None));
            // The second listener is taken when it is first needed, or when sound comes after it is there.
            while seen.iter().any(|(_, at)| at.is_none()) {
                let written = session.written();
                seen.iter_mut()
                    .filter(|(text, at)| at.is_none() && written.contains(text))
                    .for_each(|(_, at)| *at = Some(began.elapsed()));
                assert!(began.elapsed() < Duration::from_secs(20), "{written}");
                std::thread::sleep(Duration::from_millis(2));
            }
            seen.map(|(_, at)| at.unwrap())
        })
        .collect();
    for (number, what) in TOLD.into_iter().enumerate() {
        took.sort_by_key(|times| times[number]);
        let ms = |at: usize| took[at][number].as_millis();
        println!(
            "{what}: after {} ms p50, {} ms at most, of {} starts",
            ms(took.len() / 2),
            ms(took.len() - 1),
            took.len()
        );
    }
    for listener in &mut awake {
        listener.kill().and_then(|()| listener.wait()).expect("parec could be started, so it can be ended");
    }
}

/// Prints what a stretch of time costs.
fn spent(program: u32, time: Duration, when: &str) {
    let (before, began) = (cost::computed(program), Instant::now());
    std::thread::sleep(time);
    let (after, took) = (cost::computed(program), began.elapsed());
    let part = |time: Duration| 100.0 * time.as_secs_f64() / took.as_secs_f64();
    let mut whole = Duration::ZERO;
    for (thread, time, given) in &after {
        let (_, earlier, given_earlier) =
            before.iter().find(|(of, ..)| of == thread).cloned().unwrap_or((thread.clone(), Duration::ZERO, 0));
        let (spent, times) = (*time - earlier, given - given_earlier);
        whole += spent;
        if times > 0 {
            let per_second = times as f64 / took.as_secs_f64();
            println!("{thread:?}: {:.2} % of a core, woken {per_second:.0} times a second", part(spent));
        }
    }
    println!("{when}: {:.2} % of a core, over {took:.0?}", part(whole));
}

/// Memory, over a session in which all kinds of things are said and answered, and time on a processor while nobody speaks.
#[test]
#[ignore = "a measurement: DEVELOPERS.md has its figures"]
fn what_a_session_costs() {
    const QUIET: Duration = Duration::from_secs(60);
    let Some(server) = Server::with_microphone() else { return };
    let jobs = tempfile::tempdir().unwrap();
    let tape = server.record();
    let session = Session::start(&server, jobs.path(), &["start", "procedures/tarnfell-front-lower-arm-left.toml"]);
    let program = session.process.id();
    let told = |when: &str| {
        let memory = cost::memory(program);
        let sum = |of: fn(&cost::Memory) -> u64| memory.iter().map(of).sum::<u64>();
        let (peak, now, own) = (sum(|m| m.peak), sum(|m| m.now), sum(|m| m.own));
        println!("{when}: peak {peak} MB, now {now} MB, of it {own} MB of its own; {memory:?}");
    };
    session.waits_for("Lay out the tools", 0);
    tape.until_silent(0, SILENCE);
    told("started");
    let mut said = 0;
    for name in ["next-step", "yes-please", "what-can-i-say", "where-am-i", "say-again", "all-done"] {
        session.say(&server, &tape, name);
        said += 1;
        told(name);
    }
    drop(tape);
    // What is foreseen is made first.
    std::thread::sleep(Duration::from_secs(15));
    told(&format!("{said} commands"));
    spent(program, QUIET, "while nobody speaks");
    let tape = server.record();
    session.say(&server, &tape, "take-a-break");
    session.say(&server, &tape, "yes-please");
    drop(tape);
    std::thread::sleep(Duration::from_secs(5));
    spent(program, QUIET, "while the job is put down");
    told("at the end");
}
