//! The loudspeaker: what is said when there is none, and, where a PulseAudio server can be started, what is really to
//! be heard. Without `pulseaudio`, `parec` and the ALSA plug-in for it those tests say so and do nothing.

use std::fs;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use wrenchside::speak::{Loudspeaker, Sink, SpeakError};

#[test]
fn an_unknown_device_is_named() {
    let told = Loudspeaker::open(Some("no such device")).err().unwrap();
    assert!(matches!(&told, SpeakError::NoLoudspeaker { device, .. } if device == "no such device"));
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
    assert!(told.contains("REFUSED the loudspeaker (default) cannot be opened: "), "{told}");
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

/// A sound server of the test's own, with one output that nobody hears.
struct Server {
    folder: tempfile::TempDir,
    process: Child,
}

impl Server {
    /// `None` if there is no such server on this machine.
    fn start() -> Option<Self> {
        let there = |program: &str| {
            Command::new(program)
                .arg("--version")
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .status()
                .is_ok_and(|status| status.success())
        };
        let plug_in = ["x86_64-linux-gnu", "aarch64-linux-gnu", ""]
            .iter()
            .map(|triple| Path::new("/usr/lib").join(triple).join("alsa-lib/libasound_module_pcm_pulse.so"))
            .any(|path| path.exists());
        if !(there("pulseaudio") && there("parec") && plug_in) {
            println!("not tested: there is no pulseaudio, parec or ALSA plug-in for it here");
            return None;
        }
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("asound.conf"), "pcm.!default { type pulse }\nctl.!default { type pulse }\n")
            .unwrap();
        let process = Self::with_environment(folder.path(), Command::new("pulseaudio"))
            .args(["-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no"])
            .args(["-L", "module-native-protocol-unix"])
            .args(["-L", "module-null-sink sink_name=spk rate=48000"])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .process_group(0)
            .spawn()
            .unwrap();
        let server = Self { folder, process };
        let patience = Instant::now() + Duration::from_secs(10);
        while !server.command("pactl").args(["list", "short", "sinks"]).output().is_ok_and(|o| !o.stdout.is_empty()) {
            assert!(Instant::now() < patience, "the sound server does not start");
            std::thread::sleep(Duration::from_millis(100));
        }
        Some(server)
    }

    fn with_environment(folder: &Path, mut command: Command) -> Command {
        command
            .env("HOME", folder)
            .env("XDG_RUNTIME_DIR", folder)
            .env("XDG_CONFIG_HOME", folder)
            .env("PULSE_RUNTIME_PATH", folder.join("pulse"))
            .env("ALSA_CONFIG_PATH", format!("/usr/share/alsa/alsa.conf:{}", folder.join("asound.conf").display()))
            .env_remove("PULSE_SERVER");
        command
    }

    fn command(&self, program: &str) -> Command {
        Self::with_environment(self.folder.path(), Command::new(program))
    }

    fn test(&self, name: &str) -> Command {
        Self::with_environment(self.folder.path(), alone(name))
    }

    /// Records what is played until dropped.
    fn record(&self) -> Recording {
        let path = self.folder.path().join("heard.raw");
        let process = self
            .command("parec")
            .args(["--device=spk.monitor", "--format=s16le", "--rate=48000", "--channels=1", "--latency-msec=10"])
            .stdout(fs::File::create(&path).unwrap())
            .spawn()
            .unwrap();
        // It records silence too: once there is some, it has begun.
        let patience = Instant::now() + Duration::from_secs(10);
        while fs::metadata(&path).unwrap().len() == 0 {
            assert!(Instant::now() < patience, "the recording does not begin");
            std::thread::sleep(Duration::from_millis(20));
        }
        Recording { path, process }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

struct Recording {
    path: PathBuf,
    process: Child,
}

impl Recording {
    /// How many milliseconds were loud.
    fn loud_millis(mut self) -> usize {
        std::thread::sleep(Duration::from_millis(300));
        self.process.kill().unwrap();
        self.process.wait().unwrap();
        let bytes = fs::read(&self.path).unwrap();
        let samples: Vec<i16> = bytes.chunks_exact(2).map(|b| i16::from_le_bytes([b[0], b[1]])).collect();
        samples.chunks(48).filter(|ms| ms.iter().any(|s| s.unsigned_abs() > 1_000)).count()
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
    let output = server.test("plays_a_second").output().unwrap();
    let told = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(told.contains("PLAYED"), "{told}{}", String::from_utf8_lossy(&output.stderr));
    let heard = recording.loud_millis();
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
    let output = server.test("stops_after_half_a_second").output().unwrap();
    let told = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(told.contains("SILENT"), "{told}{}", String::from_utf8_lossy(&output.stderr));
    let heard = recording.loud_millis();
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

// Seen to lose its server too early on a loaded machine, before the second half of it; to be mended.
#[ignore]
#[test]
fn a_server_that_dies_is_noticed() {
    let Some(mut server) = Server::start() else {
        return;
    };
    let mut other = server.test("outlives_its_server").stdout(Stdio::piped()).spawn().unwrap();
    std::thread::sleep(Duration::from_millis(1_500));
    server.process.kill().unwrap();
    server.process.wait().unwrap();
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
    while loudspeaker.failure().is_none() {
        std::thread::sleep(Duration::from_millis(10));
    }
    let rate = loudspeaker.rate();
    let told = loudspeaker.play(&hum(rate, 1)).unwrap_err();
    assert!(matches!(told, SpeakError::LoudspeakerLost { .. }), "{told}");
    assert!(!loudspeaker.is_playing());
    println!("LOST {told}");
    if let Err(e) = Loudspeaker::open(None) {
        println!("REFUSED {e}");
    }
}
