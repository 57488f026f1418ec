//! The loudspeaker, through cpal.
//!
//! Knows devices and streams. Whether and when to open it again after a failure is for its owner to decide; what is
//! played, and at which level, comes from outside.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, LazyLock, OnceLock, mpsc};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, ErrorKind, FromSample, I24, SampleFormat, SizedSample, StreamConfig, SupportedBufferSize};

use rtrb::Consumer;

use super::queue::{Feed, Queue, Stop, queue};
use super::{Sink, SpeakError};
use crate::resample::{RATES, Resampler};
use crate::stumble::{Opener, Stumbles};

/// Sound that fits between the program and the device. Longer than anything that is said in one go.
const ROOM: Duration = Duration::from_secs(60);
/// Asked of the device as one period. It keeps two: short enough to fall silent in time, long enough for a busy machine
/// (with 25 ms a sound server on one with two busy cores ran dry several times a minute).
const PERIOD: Duration = Duration::from_millis(40);
/// How long a device may take until its first callback.
const FIRST_CALLBACK: Duration = Duration::from_secs(3);
/// How long a device that hangs may delay closing.
const CLOSING: Duration = Duration::from_secs(1);
/// How often one who waits looks again.
const LOOK: Duration = Duration::from_millis(5);

static LOUDSPEAKERS: LazyLock<Opener> = LazyLock::new(|| Opener::new("loudspeaker"));

/// What the program, the owner of the stream and the callbacks share.
#[derive(Default)]
struct State {
    /// How often the device has asked for sound. From the first time on it is known to work.
    asked: AtomicU64,
    /// The program has no more use for it.
    closing: AtomicBool,
    /// The first error that ended it.
    failure: OnceLock<String>,
}

/// What a loudspeaker plays, for whoever has to tell it from other sounds.
pub struct Played {
    ring: Consumer<f32>,
    resampler: Resampler,
}

impl Played {
    /// What was played since the last call, at the rate that was asked for. Does not wait.
    pub fn read(&mut self) -> Result<Vec<f32>, SpeakError> {
        let mut even = Vec::new();
        if let Ok(chunk) = self.ring.read_chunk(self.ring.slots()) {
            let (first, second) = chunk.as_slices();
            self.resampler.push(first, &mut even)?;
            self.resampler.push(second, &mut even)?;
            chunk.commit_all();
        }
        Ok(even)
    }
}

/// An open loudspeaker. The stream belongs to a thread of its own, which drops it on the first error: a dead sound
/// server calls back with errors by the million.
pub struct Loudspeaker {
    device: String,
    rate: u32,
    queue: Queue,
    stop: Stop,
    tap: Option<Consumer<f32>>,
    /// How often it had been stopped when what is played was begun; `None` where nobody said when that was.
    begun: Option<u64>,
    state: Arc<State>,
    owner: Option<JoinHandle<()>>,
}

struct Opened {
    device: String,
    rate: u32,
    queue: Queue,
    tap: Consumer<f32>,
}

impl Loudspeaker {
    /// Opens a device by its identifier ("alsa:plughw:1,0") or name, or the default one, and waits until it plays.
    pub fn open(device: Option<&str>) -> Result<Self, SpeakError> {
        let wanted = device.map(str::to_owned);
        let name = device.map_or_else(|| "default loudspeaker".to_owned(), |name| format!("loudspeaker {name}"));
        let refuse = |reason: String| SpeakError::NoLoudspeaker {
            device: name.clone(),
            // Some reasons are sentences; here they stand within one.
            reason: reason.trim_end_matches('.').to_owned(),
        };
        let state = Arc::new(State::default());
        let for_owner = state.clone();
        let opened = LOUDSPEAKERS.open(move |tell| own(wanted.as_deref(), &for_owner, tell));
        let (opened, owner) = opened.inspect_err(|_| state.closing.store(true, Ordering::Release)).map_err(refuse)?;
        Ok(Self {
            device: opened.device,
            rate: opened.rate,
            stop: opened.queue.stop_handle(),
            queue: opened.queue,
            tap: Some(opened.tap),
            begun: None,
            state,
            owner: Some(owner),
        })
    }

    /// Its name.
    pub fn device(&self) -> &str {
        &self.device
    }

    /// Why it does not work any more; `None` while it does. After that only opening anew helps.
    pub fn failure(&self) -> Option<&str> {
        self.state.failure.get().map(String::as_str)
    }

    /// What is played from its opening on, at `rate` samples a second; to be had once.
    pub fn played(&mut self, rate: u32) -> Option<Played> {
        let ring = self.tap.take()?;
        let resampler = Resampler::new(self.rate, rate).ok()?;
        Some(Played { ring, resampler })
    }

    /// A handle that stops playback from another thread. A [`Sink::play`] under way then returns at once.
    pub fn stop_handle(&self) -> Stop {
        self.stop.clone()
    }

    /// How often the device has asked for sound. One that plays and asks no more is dead, whatever it says.
    pub fn asked(&self) -> u64 {
        self.state.asked.load(Ordering::Acquire)
    }

    /// Why it does not work any more, as an error.
    pub fn lost(&self) -> Option<SpeakError> {
        self.failure().map(|reason| SpeakError::LoudspeakerLost { device: self.device.clone(), reason: reason.into() })
    }
}

impl Sink for Loudspeaker {
    fn rate(&self) -> u32 {
        self.rate
    }

    fn begin(&mut self) {
        self.begun = Some(self.stop.count());
    }

    /// Waits only if a minute of sound is waiting already.
    fn play(&mut self, samples: &[f32]) -> Result<(), SpeakError> {
        let stops = self.begun.unwrap_or_else(|| self.stop.count());
        let mut rest = samples;
        loop {
            if let Some(lost) = self.lost() {
                return Err(lost);
            }
            match self.queue.put_since(stops, rest) {
                Some(put) => rest = &rest[put..],
                None => return Ok(()),
            }
            if rest.is_empty() {
                return Ok(());
            }
            thread::sleep(LOOK);
        }
    }

    fn stop(&mut self) {
        self.stop.stop();
    }

    fn is_playing(&self) -> bool {
        self.failure().is_none() && self.queue.is_playing()
    }
}

impl Drop for Loudspeaker {
    fn drop(&mut self) {
        self.state.closing.store(true, Ordering::Release);
        let Some(owner) = self.owner.take() else {
            return;
        };
        owner.thread().unpark();
        let patience = Instant::now() + CLOSING;
        while !owner.is_finished() && Instant::now() < patience {
            thread::sleep(LOOK);
        }
    }
}

/// The life of a stream: opens it, tells the program, and drops it when it fails or is not needed any more.
fn own(wanted: Option<&str>, state: &Arc<State>, tell: &mpsc::Sender<Result<Opened, String>>) {
    quieten();
    let opened = open(wanted, state).and_then(|(stream, opened)| {
        let patience = Instant::now() + FIRST_CALLBACK;
        while state.asked.load(Ordering::Acquire) == 0 {
            if let Some(reason) = state.failure.get() {
                return Err(reason.clone());
            }
            if Instant::now() > patience {
                return Err("it was opened and then asked for no sound".into());
            }
            thread::sleep(LOOK);
        }
        Ok((stream, opened))
    });
    let stream = match opened {
        Ok((stream, opened)) => {
            if tell.send(Ok(opened)).is_err() {
                return;
            }
            stream
        }
        Err(reason) => {
            // Nobody there to hear it means that nobody waits for a loudspeaker.
            let _ = tell.send(Err(reason));
            return;
        }
    };
    while !state.closing.load(Ordering::Acquire) && state.failure.get().is_none() {
        thread::park();
    }
    drop(stream);
}

/// Keeps alsa-lib, on this thread, from writing to standard error: what it has to say comes as an error anyway.
fn quieten() {
    #[cfg(target_os = "linux")]
    // If that fails, it writes; no harm done.
    let _ = alsa::Output::local_error_handler();
}

fn open(wanted: Option<&str>, state: &Arc<State>) -> Result<(cpal::Stream, Opened), String> {
    let device = find(wanted)?;
    let name = device.to_string();
    let supported = device.default_output_config().map_err(|e| e.to_string())?;
    let rate = supported.sample_rate();
    if !RATES.contains(&rate) {
        return Err(format!("it wants {rate} samples a second"));
    }
    let mut config: StreamConfig = supported.config();
    let period = (PERIOD.as_secs_f64() * f64::from(rate)) as u32;
    if let SupportedBufferSize::Range { min, max } = *supported.buffer_size()
        && min <= max
    {
        config.buffer_size = BufferSize::Fixed(period.clamp(min, max));
    }
    let attempt = |config: &StreamConfig| {
        let (queue, mut feed) = queue(ROOM, rate);
        let tap = feed.tap();
        let stream = stream(&device, config, supported.sample_format(), feed, state)?;
        stream.play().map_err(|e| e.to_string())?;
        Ok((stream, Opened { device: name.clone(), rate, queue, tap }))
    };
    attempt(&config).or_else(|first: String| {
        // Some devices name a range and then refuse what lies in it.
        config.buffer_size = BufferSize::Default;
        attempt(&config).map_err(|_| first)
    })
}

/// The device that is wanted: by identifier, by the part of it after the host's name, or by name.
fn find(wanted: Option<&str>) -> Result<cpal::Device, String> {
    let host = cpal::default_host();
    let Some(wanted) = wanted else {
        return host.default_output_device().ok_or_else(|| "there is no sound output on this machine".into());
    };
    let mut names = Vec::new();
    for device in host.output_devices().map_err(|e| e.to_string())? {
        let id = device.id().map_err(|e| e.to_string())?;
        if id.to_string() == wanted || id.id() == wanted || device.to_string() == wanted {
            return Ok(device);
        }
        names.push(id.to_string());
    }
    names.sort();
    names.dedup();
    let known = if names.is_empty() { "none".into() } else { names.join(", ") };
    Err(format!("there is no such output; those there are: {known}"))
}

fn stream(
    device: &cpal::Device,
    config: &StreamConfig,
    format: SampleFormat,
    feed: Feed,
    state: &Arc<State>,
) -> Result<cpal::Stream, String> {
    match format {
        SampleFormat::F32 => build::<f32>(device, config, feed, state),
        SampleFormat::F64 => build::<f64>(device, config, feed, state),
        SampleFormat::I8 => build::<i8>(device, config, feed, state),
        SampleFormat::I16 => build::<i16>(device, config, feed, state),
        SampleFormat::I24 => build::<I24>(device, config, feed, state),
        SampleFormat::I32 => build::<i32>(device, config, feed, state),
        SampleFormat::U8 => build::<u8>(device, config, feed, state),
        SampleFormat::U16 => build::<u16>(device, config, feed, state),
        SampleFormat::U32 => build::<u32>(device, config, feed, state),
        other => Err(format!("it wants samples of the kind {other}")),
    }
}

fn build<T: SizedSample + FromSample<f32>>(
    device: &cpal::Device,
    config: &StreamConfig,
    mut feed: Feed,
    state: &Arc<State>,
) -> Result<cpal::Stream, String> {
    let channels = usize::from(config.channels);
    let (for_data, for_errors) = (state.clone(), state.clone());
    let owner = thread::current();
    let mut stumbles = Stumbles::default();
    device
        .build_output_stream(
            *config,
            move |buffer: &mut [T], info: &cpal::OutputCallbackInfo| {
                let time = info.timestamp();
                feed.note_latency(time.playback.saturating_duration_since(time.callback));
                feed.fill(buffer, channels);
                for_data.asked.fetch_add(1, Ordering::Release);
            },
            move |error: cpal::Error| match error.kind() {
                // A glitch, or news; the stream goes on.
                ErrorKind::Xrun | ErrorKind::DeviceChanged | ErrorKind::RealtimeDenied => {}
                // Only the first counts; there may be very many.
                _ if for_errors.failure.get().is_some() => {}
                ErrorKind::BackendError if stumbles.may_pass(for_errors.asked.load(Ordering::Acquire)) => {}
                _ => {
                    if for_errors.failure.set(error.to_string()).is_ok() {
                        owner.unpark();
                    }
                }
            },
            None,
        )
        .map_err(|e| e.to_string())
}
