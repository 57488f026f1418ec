//! The microphone, through cpal: any rate and channel count in, 16 kHz mono out.
//!
//! Knows devices and streams. The audio callback mixes its channels down into a lock-free ring and does nothing else:
//! it takes no lock, no memory, and says nothing. Whether and when to open the microphone again after a failure is for
//! its owner to decide.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, LazyLock, OnceLock, mpsc};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, ErrorKind, FromSample, I24, SampleFormat, SizedSample, StreamConfig, SupportedBufferSize};
use rtrb::{Consumer, Producer, RingBuffer};
use tracing::warn;

use super::input::sample;
use super::{ListenError, RATE};
use crate::resample::{RATES, Resampler};
use crate::stumble::{Opener, Stumbles};

/// Sound that the ring holds while nobody reads; what comes after that is lost.
const ROOM_SECONDS: u32 = 10;
/// What one callback should bring.
const PERIOD: Duration = Duration::from_millis(20);
/// Some devices take more than a second to bring their first sound.
const FIRST_CALLBACK: Duration = Duration::from_secs(3);
/// A device that brings nothing for so long has died without saying so, as a sound server does that is ended.
const STALLED: Duration = Duration::from_secs(3);
/// Sound that comes later than it should by more than this has a hole in it; devices bring it in lumps shorter than that.
const LATE: Duration = Duration::from_millis(200);
/// How long a device gets to close.
const CLOSING: Duration = Duration::from_secs(1);
const LOOK: Duration = Duration::from_millis(5);

const REMEDY: &str = "plug one in, or name another with --microphone";

static MICROPHONES: LazyLock<Opener> = LazyLock::new(|| Opener::new("microphone"));

/// What the callbacks and the reader share.
#[derive(Default)]
struct State {
    /// How often the device has brought sound. From the first time on it is known to work.
    brought: AtomicU64,
    closing: AtomicBool,
    /// Samples that found the ring full.
    lost: AtomicU64,
    /// How often the device said that sound was lost on its side.
    glitches: AtomicU64,
    failure: OnceLock<String>,
}

/// An open microphone.
pub struct Microphone {
    device: String,
    ring: Consumer<f32>,
    resampler: Resampler,
    /// Samples of the device in a second.
    rate: u32,
    state: Arc<State>,
    /// When sound last came.
    heard: Instant,
    /// How many lost samples and glitches have been told of.
    told_lost: u64,
    told_glitches: u64,
    /// Of what is missing ahead of the sound that was read last, and of what is read next, how long it was.
    gap: Option<Duration>,
    next_gap: Option<Duration>,
    /// A stream is opened and closed by one thread, because it need not stand being handed to another.
    owner: Option<JoinHandle<()>>,
}

struct Opened {
    device: String,
    rate: u32,
    ring: Consumer<f32>,
}

impl Microphone {
    /// Opens the device of this name or id, or the default one, and waits for its first sound: only that proves it.
    pub fn open(device: Option<&str>) -> Result<Self, ListenError> {
        let wanted = device.map(str::to_owned);
        let name = device.map_or_else(|| "default microphone".to_owned(), |name| format!("microphone {name}"));
        let refuse = |reason: String| ListenError::Microphone {
            device: name.clone(),
            // Some reasons are sentences; here they stand within one.
            reason: reason.trim_end_matches('.').to_owned(),
            remedy: REMEDY,
        };
        let state = Arc::new(State::default());
        let for_owner = state.clone();
        let opened = MICROPHONES.open(move |tell| own(wanted.as_deref(), &for_owner, tell));
        let (opened, owner) = opened.inspect_err(|_| state.closing.store(true, Ordering::Release)).map_err(refuse)?;
        let resampler = Resampler::new(opened.rate, RATE).map_err(|e| refuse(e.to_string()))?;
        Ok(Self {
            device: opened.device,
            ring: opened.ring,
            resampler,
            rate: opened.rate,
            state,
            heard: Instant::now(),
            told_lost: 0,
            told_glitches: 0,
            gap: None,
            next_gap: None,
            owner: Some(owner),
        })
    }

    /// The name of the device that was opened.
    pub fn device(&self) -> &str {
        &self.device
    }

    /// The sound since the last call as 16 kHz mono, possibly none; does not wait. Once the device has failed and all
    /// of its sound is read, an error.
    pub fn read(&mut self) -> Result<Vec<i16>, ListenError> {
        let failure = self.state.failure.get().cloned();
        let waiting = self.ring.slots();
        if waiting > 0 {
            self.look_for_gaps(waiting);
            self.heard = Instant::now();
        }
        let failed = |reason: String| ListenError::Microphone {
            device: self.device.clone(),
            reason,
            remedy: "connect it again",
        };
        if waiting == 0 {
            if let Some(reason) = failure {
                return Err(failed(reason));
            } else if self.heard.elapsed() > STALLED {
                return Err(failed("no sound comes from it any more".into()));
            }
        }
        let mut even = Vec::new();
        let chunk = self.ring.read_chunk(waiting).map_err(|e| failed(e.to_string()))?;
        let (first, second) = chunk.as_slices();
        for part in [first, second] {
            self.resampler.push(part, &mut even).map_err(|e| failed(e.to_string()))?;
        }
        chunk.commit_all();
        Ok(even.into_iter().map(sample).collect())
    }

    /// How much is missing ahead of the sound that was read last, if anything is.
    pub fn gap(&mut self) -> Option<Duration> {
        self.gap.take()
    }

    /// Is anything missing ahead of the sound that waits, or behind it?
    fn look_for_gaps(&mut self, waiting: usize) {
        let seconds = |samples: u64| Duration::from_secs_f64(samples as f64 / f64::from(self.rate));
        let late = self.heard.elapsed().saturating_sub(seconds(waiting as u64));
        let glitches = self.state.glitches.load(Ordering::Relaxed);
        let lost = self.state.lost.load(Ordering::Relaxed);
        let glitched = std::mem::replace(&mut self.told_glitches, glitches) != glitches;
        let missed = lost - std::mem::replace(&mut self.told_lost, lost);
        self.gap = self.next_gap.take().or(glitched.then_some(Duration::ZERO));
        if missed > 0 {
            warn!("{}: {missed} samples were lost, because nobody read them", self.device);
            // The ring was full of what had come before.
            self.next_gap = Some(seconds(missed));
        } else if late > LATE && self.gap.is_none_or(|gap| gap < late) {
            self.gap = Some(late);
        }
    }
}

impl Drop for Microphone {
    fn drop(&mut self) {
        self.state.closing.store(true, Ordering::Release);
        let Some(owner) = self.owner.take() else { return };
        owner.thread().unpark();
        // A device may hang in closing; that must not hang the program.
        let patience = Instant::now() + CLOSING;
        while !owner.is_finished() && Instant::now() < patience {
            thread::sleep(LOOK);
        }
    }
}

/// The life of the thread that owns the stream.
fn own(wanted: Option<&str>, state: &Arc<State>, tell: &mpsc::Sender<Result<Opened, String>>) {
    quieten();
    let opened = open(wanted, state).and_then(|(stream, opened)| {
        let patience = Instant::now() + FIRST_CALLBACK;
        while state.brought.load(Ordering::Acquire) == 0 {
            if let Some(reason) = state.failure.get() {
                return Err(reason.clone());
            }
            if Instant::now() > patience {
                return Err("it was opened and then brought no sound".into());
            }
            thread::sleep(LOOK);
        }
        Ok((stream, opened))
    });
    match opened {
        Ok((stream, opened)) => {
            if tell.send(Ok(opened)).is_err() {
                return;
            }
            // Until it is closed or fails. A dead server reports errors by the million: the stream goes at the first.
            while !state.closing.load(Ordering::Acquire) && state.failure.get().is_none() {
                thread::park();
            }
            drop(stream);
        }
        // Nobody there to hear it means that nobody waits for a microphone.
        Err(reason) => drop(tell.send(Err(reason))),
    }
}

/// Keeps alsa-lib from writing to standard error, on this thread.
fn quieten() {
    #[cfg(target_os = "linux")]
    // If that fails, it writes; no harm done.
    let _ = alsa::Output::local_error_handler();
}

fn open(wanted: Option<&str>, state: &Arc<State>) -> Result<(cpal::Stream, Opened), String> {
    let device = find(wanted)?;
    let name = device.to_string();
    let supported = device.default_input_config().map_err(|e| e.to_string())?;
    let rate = supported.sample_rate();
    if !RATES.contains(&rate) {
        return Err(format!("it gives {rate} samples a second"));
    }
    let mut config: StreamConfig = supported.config();
    if config.channels == 0 {
        return Err("it has no channels".into());
    }
    let period = (PERIOD.as_secs_f64() * f64::from(rate)) as u32;
    if let SupportedBufferSize::Range { min, max } = *supported.buffer_size()
        && min <= max
    {
        config.buffer_size = BufferSize::Fixed(period.clamp(min, max));
    }
    let attempt = |config: &StreamConfig| {
        let (fill, ring) = RingBuffer::new((rate * ROOM_SECONDS) as usize);
        let stream = stream(&device, config, supported.sample_format(), fill, state)?;
        stream.play().map_err(|e| e.to_string())?;
        Ok((stream, Opened { device: name.clone(), rate, ring }))
    };
    attempt(&config).or_else(|first: String| {
        // Some devices name a range and then refuse what lies in it.
        config.buffer_size = BufferSize::Default;
        attempt(&config).map_err(|_| first)
    })
}

/// The device of this id or name. That one is listed or even given as the default does not prove that it works.
fn find(wanted: Option<&str>) -> Result<cpal::Device, String> {
    let host = cpal::default_host();
    let Some(wanted) = wanted else {
        return host.default_input_device().ok_or_else(|| "there is no sound input on this machine".into());
    };
    let mut names = Vec::new();
    for device in host.input_devices().map_err(|e| e.to_string())? {
        let id = device.id().map_err(|e| e.to_string())?;
        if id.to_string() == wanted || id.id() == wanted || device.to_string() == wanted {
            return Ok(device);
        }
        names.push(id.to_string());
    }
    names.sort();
    names.dedup();
    let known = if names.is_empty() { "none".into() } else { names.join(", ") };
    Err(format!("there is no such input; those there are: {known}"))
}

fn stream(
    device: &cpal::Device,
    config: &StreamConfig,
    format: SampleFormat,
    fill: Producer<f32>,
    state: &Arc<State>,
) -> Result<cpal::Stream, String> {
    match format {
        SampleFormat::F32 => build::<f32>(device, config, fill, state),
        SampleFormat::F64 => build::<f64>(device, config, fill, state),
        SampleFormat::I8 => build::<i8>(device, config, fill, state),
        SampleFormat::I16 => build::<i16>(device, config, fill, state),
        SampleFormat::I24 => build::<I24>(device, config, fill, state),
        SampleFormat::I32 => build::<i32>(device, config, fill, state),
        SampleFormat::U8 => build::<u8>(device, config, fill, state),
        SampleFormat::U16 => build::<u16>(device, config, fill, state),
        SampleFormat::U32 => build::<u32>(device, config, fill, state),
        other => Err(format!("it gives samples of the kind {other}")),
    }
}

fn build<T>(
    device: &cpal::Device,
    config: &StreamConfig,
    mut fill: Producer<f32>,
    state: &Arc<State>,
) -> Result<cpal::Stream, String>
where
    T: SizedSample,
    f32: FromSample<T>,
{
    let channels = usize::from(config.channels);
    let (for_data, for_errors) = (state.clone(), state.clone());
    let owner = thread::current();
    let mut stumbles = Stumbles::default();
    device
        .build_input_stream(
            *config,
            move |data: &[T], _: &cpal::InputCallbackInfo| {
                let lost = mix_down(data, channels, &mut fill);
                for_data.lost.fetch_add(lost, Ordering::Relaxed);
                for_data.brought.fetch_add(1, Ordering::Release);
            },
            move |error: cpal::Error| match error.kind() {
                // The stream goes on behind a hole.
                ErrorKind::Xrun => drop(for_errors.glitches.fetch_add(1, Ordering::Relaxed)),
                // News; the stream goes on.
                ErrorKind::DeviceChanged | ErrorKind::RealtimeDenied => {}
                // Only the first counts; there may be very many.
                _ if for_errors.failure.get().is_some() => {}
                ErrorKind::BackendError if stumbles.may_pass(for_errors.brought.load(Ordering::Acquire)) => {}
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

/// Puts the mean of each frame's channels into the ring, as far as there is room; returns how many had none.
fn mix_down<T>(data: &[T], channels: usize, fill: &mut Producer<f32>) -> u64
where
    T: SizedSample,
    f32: FromSample<T>,
{
    let frames = data.chunks_exact(channels);
    let count = frames.len();
    let room = fill.slots().min(count);
    let written = match fill.write_chunk_uninit(room) {
        Ok(chunk) => chunk.fill_from_iter(frames.map(|frame| {
            let sum: f32 = frame.iter().map(|&sample| f32::from_sample_(sample)).sum();
            sum / channels as f32
        })),
        // There was room for so many, and only this side takes any.
        Err(_) => 0,
    };
    (count - written) as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn channels_are_mixed_and_what_has_no_room_is_counted() {
        let (mut fill, mut ring) = RingBuffer::new(3);
        let lost = mix_down(&[16_384i16, 0, -16_384, -16_384, 0, 0, 32_767, 32_767, 1, 1], 2, &mut fill);
        assert_eq!(lost, 2);
        let heard: Vec<f32> = std::iter::from_fn(|| ring.pop().ok()).collect();
        assert_eq!(heard, [0.25, -0.5, 0.0]);
    }

    #[test]
    fn a_half_frame_is_left_out() {
        let (mut fill, ring) = RingBuffer::new(8);
        assert_eq!(mix_down(&[0.5f32, 0.5, 0.5], 2, &mut fill), 0);
        assert_eq!(ring.slots(), 1);
    }

    #[test]
    fn a_microphone_that_is_not_there_is_told_with_its_name() {
        let told = Microphone::open(Some("no such thing")).map(|m| m.device().to_owned()).unwrap_err().to_string();
        assert!(told.starts_with("microphone no such thing: "), "{told}");
    }

    /// A microphone whose device is the test, with room for so many samples.
    struct Fake {
        microphone: Microphone,
        fill: Producer<f32>,
    }

    const PIECE: usize = RATE as usize / 10;

    impl Fake {
        fn with_room(room: usize) -> Fake {
            let (fill, ring) = RingBuffer::new(room);
            let microphone = Microphone {
                device: "fake".into(),
                ring,
                resampler: Resampler::new(RATE, RATE).unwrap(),
                rate: RATE,
                state: Arc::default(),
                heard: Instant::now(),
                told_lost: 0,
                told_glitches: 0,
                gap: None,
                next_gap: None,
                owner: None,
            };
            Fake { microphone, fill }
        }

        /// Brings sound as a callback does.
        fn brings(&mut self, samples: usize) {
            let lost = mix_down(&vec![0.1f32; samples], 1, &mut self.fill);
            self.microphone.state.lost.fetch_add(lost, Ordering::Relaxed);
        }

        /// Reads what there is; gives the milliseconds that are missing ahead of it.
        fn gap(&mut self) -> Option<u128> {
            self.microphone.read().unwrap();
            self.microphone.gap().map(|gap| gap.as_millis())
        }
    }

    #[test]
    fn a_hole_that_the_device_tells_of_is_a_gap_once() {
        let mut fake = Fake::with_room(10 * PIECE);
        fake.brings(PIECE);
        assert_eq!(fake.gap(), None);
        fake.microphone.state.glitches.fetch_add(2, Ordering::Relaxed);
        assert_eq!(fake.gap(), None, "there is nothing behind it yet");
        fake.brings(PIECE);
        assert_eq!(fake.gap(), Some(0));
        fake.brings(PIECE);
        assert_eq!(fake.gap(), None);
    }

    #[test]
    fn what_found_the_ring_full_is_missing_behind_what_it_held() {
        let mut fake = Fake::with_room(2 * PIECE);
        fake.brings(5 * PIECE);
        assert_eq!(fake.gap(), None, "this came before it");
        fake.brings(PIECE);
        assert_eq!(fake.gap(), Some(300));
        fake.brings(PIECE);
        assert_eq!(fake.gap(), None);
    }

    #[test]
    fn sound_that_comes_late_has_a_hole_before_it_and_lumps_have_none() {
        let mut fake = Fake::with_room(10 * PIECE);
        let ago = |fake: &mut Fake, ms| {
            fake.microphone.heard = Instant::now().checked_sub(Duration::from_millis(ms)).unwrap()
        };
        ago(&mut fake, 250);
        fake.brings(PIECE);
        assert_eq!(fake.gap(), None, "a lump");
        ago(&mut fake, 1_100);
        fake.brings(PIECE);
        assert!(fake.gap().is_some_and(|gap| (1_000..1_100).contains(&gap)));
        // Told of and late as well: it is as long as it is late.
        fake.microphone.state.glitches.fetch_add(1, Ordering::Relaxed);
        ago(&mut fake, 600);
        fake.brings(PIECE);
        assert!(fake.gap().is_some_and(|gap| (500..600).contains(&gap)));
    }

    #[test]
    fn one_that_falls_silent_is_dead_once_its_sound_is_read() {
        let mut fake = Fake::with_room(10 * PIECE);
        fake.brings(PIECE);
        fake.microphone.state.failure.set("unplugged".into()).unwrap();
        assert!(fake.microphone.read().is_ok());
        assert!(fake.microphone.read().unwrap_err().to_string().contains("unplugged"));
        let mut fake = Fake::with_room(10 * PIECE);
        fake.microphone.heard = Instant::now().checked_sub(STALLED + LATE).unwrap();
        assert!(fake.microphone.read().unwrap_err().to_string().contains("no sound comes"));
    }
}
