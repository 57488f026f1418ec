//! The loudspeaker: what is said when there is none, and, where a PulseAudio server can be started, what is really to
//! be heard. Without one those tests say so and do nothing.

mod sound_server;

use sound_server::Server;
use std::fs;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use wrenchside::speak::{Loudspeaker, Sink, SpeakError};

#[test]
fn an_unknown_device_is_named() {
    let told = Loudspeaker::open(Some("no such device")).err().unwrap();
    assert!(matches!(&told, SpeakError::NoLoudspeaker { device, .. } if device == "loudspeaker no such device"));
    assert!(told.to_string().contains("no such output"), "{told}");
}

/// This test program again, for one test, in a process whose sound system is what the environment says.
fn alone(test: &str) -> Command {
    let mut command = Command::new(std::env::current_exe().unwrap());
    command.args(["--exact", test, "--nocapture", "--ignored"]);
    command
}

#[test]
fn without_a_sound_card_there_is_one_clear_error() {
    let folder = tempfile::tempdir().unwrap();
    let nothing = folder.path().join("asound.conf");
    fs::write(&nothing, "").unwrap();
    let output = alone("opens_the_default").env("ALSA_CONFIG_PATH", &nothing).output().unwrap();
    let told = String::from_utf8_lossy(&output.stdout);
    assert!(told.contains("REFUSED default loudspeaker: "), "{told}");
    // alsa-lib would write there, once for each thing it misses.
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
}

#[test]
#[ignore = "is run by the test above, in an environment of its own"]
fn opens_the_default() {
    match Loudspeaker::open(None) {
        Ok(loudspeaker) => println!("OPENED {}", loudspeaker.device()),
        Err(e @ SpeakError::NoLoudspeaker { .. }) => println!("REFUSED {e}"),
        Err(e) => println!("WRONG {e}"),
    }
}

/// A second of it can hardly be mistaken for anything else.
fn hum(rate: u32, seconds: u32) -> Vec<f32> {
    (0..rate * seconds).map(|n| 0.5 * (n as f32 * 0.05).sin()).collect()
}

#[test]
fn what_is_played_is_heard_in_full() {
    let Some(server) = Server::start() else {
        return;
    };
    let recording = server.record();
    let output = server.around(alone("plays_a_second")).output().unwrap();
    let told = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(told.contains("PLAYED"), "{told}{}", String::from_utf8_lossy(&output.stderr));
    std::thread::sleep(Duration::from_millis(300));
    let heard = recording.loud_millis(0);
    assert!((980..=1_020).contains(&heard), "{heard} ms of 1000");
}

#[test]
#[ignore = "is run by the test above, beside a sound server"]
fn plays_a_second() {
    let mut loudspeaker = Loudspeaker::open(None).unwrap();
    let rate = loudspeaker.rate();
    loudspeaker.play(&hum(rate, 1)).unwrap();
    assert!(loudspeaker.is_playing());
    while loudspeaker.is_playing() {
        std::thread::sleep(Duration::from_millis(5));
    }
    println!("PLAYED");
}

#[test]
fn a_stop_is_silence_within_150_ms() {
    let Some(server) = Server::start() else {
        return;
    };
    let recording = server.record();
    let output = server.around(alone("stops_after_half_a_second")).output().unwrap();
    let told = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(told.contains("SILENT"), "{told}{}", String::from_utf8_lossy(&output.stderr));
    std::thread::sleep(Duration::from_millis(300));
    let heard = recording.loud_millis(0);
    let asked: usize =
        told.lines().find_map(|line| line.strip_prefix("SILENT ")).and_then(|millis| millis.parse().ok()).unwrap();
    // It may have begun a little late; it must not go on for longer than this.
    assert!((asked / 2..=asked + 150).contains(&heard), "{heard} ms, stopped after {asked} ms");
}

#[test]
#[ignore = "is run by the test above, beside a sound server"]
fn stops_after_half_a_second() {
    let mut loudspeaker = Loudspeaker::open(None).unwrap();
    let rate = loudspeaker.rate();
    let hum = hum(rate, 20);
    let began = Instant::now();
    loudspeaker.play(&hum).unwrap();
    std::thread::sleep(Duration::from_millis(500));
    loudspeaker.stop();
    let asked = began.elapsed().as_millis();
    let stopped = Instant::now();
    while loudspeaker.is_playing() {
        std::thread::sleep(Duration::from_millis(1));
    }
    assert!(stopped.elapsed() < Duration::from_millis(150), "{:?}", stopped.elapsed());
    std::thread::sleep(Duration::from_millis(500));
    println!("SILENT {asked}");
}

#[test]
fn a_server_that_dies_is_noticed() {
    let Some(mut server) = Server::start() else {
        return;
    };
    let mut other = server.around(alone("outlives_its_server")).stdout(Stdio::piped()).spawn().unwrap();
    std::thread::sleep(Duration::from_millis(1_500));
    server.kill();
    let patience = Instant::now() + Duration::from_secs(10);
    while other.try_wait().unwrap().is_none() {
        if Instant::now() > patience {
            other.kill().unwrap();
            panic!("the death of the server was not noticed");
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    let output = other.wait_with_output().unwrap();
    let told = String::from_utf8_lossy(&output.stdout);
    assert!(told.contains("LOST") && told.contains("REFUSED"), "{told}");
}

#[test]
#[ignore = "is run by the test above, beside a sound server"]
fn outlives_its_server() {
    let mut loudspeaker = Loudspeaker::open(None).unwrap();
    // It may stumble before the server dies; then it opens again.
    loop {
        while loudspeaker.failure().is_none() {
            std::thread::sleep(Duration::from_millis(10));
        }
        let rate = loudspeaker.rate();
        let told = loudspeaker.play(&hum(rate, 1)).unwrap_err();
        assert!(matches!(told, SpeakError::LoudspeakerLost { .. }), "{told}");
        assert!(!loudspeaker.is_playing());
        println!("LOST {told}");
        match Loudspeaker::open(None) {
            Ok(again) => loudspeaker = again,
            Err(e) => {
                println!("REFUSED {e}");
                return;
            }
        }
    }
}
