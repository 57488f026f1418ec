//! A sound server of the test's own, with a microphone that recordings are spoken into and a loudspeaker that nobody
//! hears but the test: PulseAudio with two null sinks, seen by ALSA as its default device. It runs at the pace of the
//! clock, as a sound card does.
#![allow(dead_code)] // Each test file uses a part of it.

use std::cell::Cell;
use std::fs;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Samples a second of what is recorded.
pub const RATE: usize = 48_000;
/// Louder than this is sound; a null sink gives exact silence.
pub const LOUD: u16 = 300;

/// Held by the one server that may run: on two cores another test beside it is a pause in the sound. The usual test
/// runner has a file's tests run side by side in one process; nextest keeps them apart by its own settings.
static ALONE: Mutex<()> = Mutex::new(());

pub struct Server {
    folder: tempfile::TempDir,
    process: Child,
    sinks: Vec<String>,
    _alone: MutexGuard<'static, ()>,
}

impl Server {
    /// With a loudspeaker only. `None`, and a loud word, if no such server can be started on this machine; where CI asks for all
    /// tests that is a failure.
    pub fn start() -> Option<Server> {
        Server::with_sinks(&["sink_name=spk rate=48000"])
    }

    /// With a microphone too.
    pub fn with_microphone() -> Option<Server> {
        Server::with_sinks(&["sink_name=mic rate=16000 channels=1", "sink_name=spk rate=48000"])
    }

    fn with_sinks(sinks: &[&str]) -> Option<Server> {
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
            let demanded = std::env::var("CI").is_ok_and(|ci| ci == "true");
            assert!(!demanded, "pulseaudio, pulseaudio-utils and libasound2-plugins are not installed here");
            eprintln!(
                "\n*** NOT TESTED: pulseaudio, pulseaudio-utils and libasound2-plugins are not installed here ***\n"
            );
            return None;
        }
        // A test that failed with it leaves nothing behind that another would mind.
        let alone = ALONE.lock().unwrap_or_else(PoisonError::into_inner);
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("asound.conf"), "pcm.!default { type pulse }\nctl.!default { type pulse }\n")
            .unwrap();
        let sinks: Vec<String> = sinks.iter().map(|s| (*s).to_owned()).collect();
        let process = Server::spawn(folder.path(), &sinks);
        let server = Server { folder, process, sinks, _alone: alone };
        server.wait();
        Some(server)
    }

    fn spawn(folder: &Path, sinks: &[String]) -> Child {
        let mut command = Server::with_environment(folder, Command::new("pulseaudio"));
        command.args(["-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no"]);
        command.args(["-L", "module-native-protocol-unix"]);
        for sink in sinks {
            command.arg("-L").arg(format!("module-null-sink {sink}"));
        }
        command.stdout(Stdio::null()).stderr(Stdio::null()).process_group(0).spawn().unwrap()
    }

    fn wait(&self) {
        let patience = Instant::now() + Duration::from_secs(20);
        let ready = || {
            let listed = self.command("pactl").args(["list", "short", "sinks"]).output();
            listed.is_ok_and(|o| o.stdout.iter().filter(|b| **b == b'\n').count() == self.sinks.len())
        };
        while !ready() {
            assert!(Instant::now() < patience, "the sound server does not start");
            std::thread::sleep(Duration::from_millis(100));
        }
        let set = |what: &str, name: &str| {
            assert!(self.command("pactl").args([what, name]).status().unwrap().success(), "{what} {name}");
        };
        set("set-default-sink", "spk");
        if self.sinks.len() > 1 {
            set("set-default-source", "mic.monitor");
        }
    }

    /// The processes of the sound system that sound goes through on its way to these tapes.
    pub fn processes(&self, tapes: &[&Recording]) -> Vec<u32> {
        std::iter::once(&self.process).chain(tapes.iter().map(|tape| &tape.process)).map(Child::id).collect()
    }

    /// As a crash would.
    pub fn kill(&mut self) {
        self.process.kill().unwrap();
        self.process.wait().unwrap();
    }

    /// After [`Server::kill`].
    pub fn start_again(&mut self) {
        self.process = Server::spawn(self.folder.path(), &self.sinks);
        self.wait();
    }

    /// A program whose sound system this server is.
    pub fn command(&self, program: &str) -> Command {
        Server::with_environment(self.folder.path(), Command::new(program))
    }

    /// The same for a command that is put together already.
    pub fn around(&self, command: Command) -> Command {
        Server::with_environment(self.folder.path(), command)
    }

    fn with_environment(folder: &Path, mut command: Command) -> Command {
        command
            .env("XDG_RUNTIME_DIR", folder)
            .env("XDG_CONFIG_HOME", folder)
            .env("PULSE_RUNTIME_PATH", folder.join("pulse"))
            .env("PULSE_STATE_PATH", folder.join("state"))
            .env("PULSE_COOKIE", folder.join("cookie"))
            .env("ALSA_CONFIG_PATH", format!("/usr/share/alsa/alsa.conf:{}", folder.join("asound.conf").display()))
            .env_remove("PULSE_SERVER");
        command
    }

    /// Speaks a recording into the microphone, at `volume` (1 is as it is); returns when it is over.
    pub fn speak(&self, recording: &Path, volume: f32) {
        let spoken = self
            .command("paplay")
            .arg("--device=mic")
            .arg(format!("--volume={}", (65_536.0 * volume.cbrt()) as u32))
            .arg(recording)
            .status()
            .unwrap();
        assert!(spoken.success(), "{}", recording.display());
    }

    /// Lets the loudspeaker be heard by the microphone, at `volume`, as in a small room.
    pub fn loudspeaker_into_microphone(&self, volume: f32) {
        let looped = self
            .command("pactl")
            .args(["load-module", "module-loopback", "source=spk.monitor", "sink=mic", "latency_msec=40"])
            .status()
            .unwrap();
        assert!(looped.success());
        let listed = self.command("pactl").args(["list", "short", "sink-inputs"]).output().unwrap();
        let id = String::from_utf8_lossy(&listed.stdout)
            .lines()
            .last()
            .and_then(|l| l.split('\t').next().map(str::to_owned))
            .unwrap();
        let linear = format!("{}", (65_536.0 * volume.cbrt()) as u32);
        assert!(self.command("pactl").args(["set-sink-input-volume", &id, &linear]).status().unwrap().success());
    }

    /// Records what is played until it is dropped.
    pub fn record(&self) -> Recording {
        let path = self.folder.path().join(format!("heard-{:?}.raw", Instant::now()).replace(' ', ""));
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
        let recording = Recording { path, process, began: Cell::new(Instant::now()) };
        recording.position();
        recording
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

pub struct Recording {
    path: PathBuf,
    process: Child,
    /// When its first sample was taken, as near as is known: it never brings one early, and on a busy machine some late.
    began: Cell<Instant>,
}

impl Recording {
    /// Waits until it has come so far.
    pub fn until(&self, sample: usize) {
        let patience = Instant::now() + Duration::from_secs(20);
        while self.position() < sample {
            assert!(Instant::now() < patience, "the recording stands still");
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// What was played so far.
    pub fn samples(&self) -> Vec<i16> {
        self.position();
        let bytes = fs::read(&self.path).unwrap();
        bytes.chunks_exact(2).map(|b| i16::from_le_bytes([b[0], b[1]])).collect()
    }

    /// Where samples are loud.
    pub fn loud(samples: &[i16]) -> impl DoubleEndedIterator<Item = usize> {
        samples.iter().enumerate().filter(|(_, s)| s.unsigned_abs() > LOUD).map(|(at, _)| at)
    }

    /// Where it is now, in samples.
    pub fn position(&self) -> usize {
        let position = fs::metadata(&self.path).unwrap().len() as usize / 2;
        let length = Duration::from_secs_f64(position as f64 / RATE as f64);
        self.began.set(self.began.get().min(Instant::now() - length));
        position
    }

    /// Where it would be now if it brought all at once, as it does where nothing else keeps the machine busy.
    pub fn now(&self) -> usize {
        self.position().max((self.began.get().elapsed().as_secs_f64() * RATE as f64) as usize)
    }

    /// How many milliseconds were loud from sample `from` on.
    pub fn loud_millis(&self, from: usize) -> usize {
        let loud = |ms: &&[i16]| ms.iter().any(|s| s.unsigned_abs() > LOUD);
        self.samples()[from..].chunks(RATE / 1000).filter(loud).count()
    }

    /// The last loud sample, if there is one from `from` on.
    pub fn last_loud(&self, from: usize) -> Option<usize> {
        Recording::loud(self.samples().get(from..)?).next_back().map(|n| from + n)
    }

    /// The first loud sample from `from` on.
    pub fn first_loud(&self, from: usize) -> Option<usize> {
        Recording::loud(self.samples().get(from..)?).next().map(|n| from + n)
    }

    /// Waits until something was played from `from` on and then nothing for `silence`; gives what was played.
    pub fn until_silent(&self, from: usize, silence: Duration) -> Vec<i16> {
        let quiet = silence.as_millis() as usize * RATE / 1000;
        let patience = Instant::now() + Duration::from_secs(60);
        loop {
            let last = self.last_loud(from);
            if last.is_some_and(|last| last + quiet <= self.position()) {
                return self.samples()[from..].to_vec();
            }
            assert!(Instant::now() < patience, "nothing is played, or it does not end");
            std::thread::sleep(Duration::from_millis(100));
        }
    }
}

impl Drop for Recording {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}
