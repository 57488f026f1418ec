//! The way from the program to the audio callback: a ring of samples that can be cut off from outside.
//!
//! Knows samples; not what a device is. [`Feed::fill`] is all that runs in the callback: it takes no lock, allocates
//! nothing and does not wait.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering};
use std::time::Duration;

use cpal::{FromSample, Sample};
use rtrb::{Consumer, Producer, RingBuffer};

use super::sentence::count;

/// How long it takes to fall silent: too short would click.
const FADE: Duration = Duration::from_millis(5);
/// How long it takes to step back behind the user, and forward again.
const STEP: Duration = Duration::from_millis(40);
/// The level while the user speaks: 14 dB less. The voice goes on, so that a cough does not cost a sentence.
const SOFT: f32 = 0.2;
/// Room for what was played and not looked at yet; the rest is lost to whoever looks.
const TAP: Duration = Duration::from_secs(1);

/// Positions count samples since the beginning.
struct Shared {
    /// Put in so far.
    put: AtomicU64,
    /// Taken out so far, played or thrown away.
    taken: AtomicU64,
    /// What lies before this is not to be played any more.
    cut: AtomicU64,
    /// How often there was a stop: tells one who waits for room that nobody wants his samples now.
    stops: AtomicU64,
    /// Frames of silence since the last sample that was played.
    silence: AtomicU32,
    /// Frames that lie between the callback and the ear.
    latency: AtomicU32,
    /// The user is speaking.
    softly: AtomicBool,
}

/// The program's end.
pub struct Queue {
    ring: Producer<f32>,
    shared: Arc<Shared>,
}

/// The callback's end.
pub struct Feed {
    ring: Consumer<f32>,
    shared: Arc<Shared>,
    rate: u32,
    taken: u64,
    /// Level while falling silent; 1 otherwise.
    level: f32,
    /// How much the level falls with each sample.
    slope: f32,
    /// Level on account of the user, between [`SOFT`] and 1.
    loudness: f32,
    /// How much of it changes with each sample.
    step: f32,
    /// Takes what is played, silence included.
    tap: Option<Producer<f32>>,
}

/// Stops playback, or holds it back, from any thread.
#[derive(Clone)]
pub struct Stop(Arc<Shared>);

/// Both ends of a ring that holds `length` of sound at `rate` samples a second.
pub fn queue(length: Duration, rate: u32) -> (Queue, Feed) {
    let (producer, consumer) = RingBuffer::new(count(length, rate).max(1));
    let shared = Arc::new(Shared {
        put: AtomicU64::new(0),
        taken: AtomicU64::new(0),
        cut: AtomicU64::new(0),
        stops: AtomicU64::new(0),
        silence: AtomicU32::new(u32::MAX),
        latency: AtomicU32::new(0),
        softly: AtomicBool::new(false),
    });
    let queue = Queue { ring: producer, shared: shared.clone() };
    let feed = Feed {
        ring: consumer,
        shared,
        rate,
        taken: 0,
        level: 1.0,
        slope: 1.0 / count(FADE, rate).max(1) as f32,
        loudness: 1.0,
        step: (1.0 - SOFT) / count(STEP, rate).max(1) as f32,
        tap: None,
    };
    (queue, feed)
}

impl Queue {
    /// Puts in as many of `samples` as there is room for; says how many.
    pub fn put(&mut self, samples: &[f32]) -> usize {
        let room = self.ring.slots().min(samples.len());
        // Counted before they are there, so that a stop in between reaches them too.
        self.shared.put.fetch_add(room as u64, Ordering::AcqRel);
        let (put, _) = self.ring.push_partial_slice(&samples[..room]);
        debug_assert_eq!(put.len(), room);
        room
    }

    /// The same on behalf of somebody who began when there had been so many stops. If there was one since, nobody wants his
    /// samples any more, and none of them is heard.
    pub fn put_since(&mut self, stops: u64, samples: &[f32]) -> Option<usize> {
        let stopped = |shared: &Shared| shared.stops.load(Ordering::Acquire) != stops;
        if stopped(&self.shared) {
            return None;
        }
        let put = self.put(samples);
        if stopped(&self.shared) {
            // It came while they were put in, and may have reached only some of them.
            self.shared.cut.fetch_max(self.shared.put.load(Ordering::Acquire), Ordering::AcqRel);
            return None;
        }
        Some(put)
    }

    /// Whether something is still to be heard: in the ring, or on its way from the callback to the ear.
    pub fn is_playing(&self) -> bool {
        let shared = &self.shared;
        let (put, taken) = (shared.put.load(Ordering::Acquire), shared.taken.load(Ordering::Acquire));
        put > taken.max(shared.cut.load(Ordering::Acquire))
            || shared.silence.load(Ordering::Acquire) < shared.latency.load(Ordering::Acquire)
    }

    /// A handle that stops playback.
    pub fn stop_handle(&self) -> Stop {
        Stop(self.shared.clone())
    }
}

impl Stop {
    /// Lets the sound fade out within a few milliseconds and throws away all that was put in so far.
    pub fn stop(&self) {
        self.0.stops.fetch_add(1, Ordering::AcqRel);
        self.0.cut.fetch_max(self.0.put.load(Ordering::Acquire), Ordering::AcqRel);
    }

    /// Speaks softly from now on, because the user speaks; or no longer.
    pub fn play_softly(&self, softly: bool) {
        self.0.softly.store(softly, Ordering::Release);
    }

    /// How often playback was stopped.
    pub fn count(&self) -> u64 {
        self.0.stops.load(Ordering::Acquire)
    }
}

impl Feed {
    /// What is played from now on, sample by sample as the device is given it, silence included.
    pub fn tap(&mut self) -> Consumer<f32> {
        let (tap, played) = RingBuffer::new(count(TAP, self.rate).max(1));
        self.tap = Some(tap);
        played
    }

    /// Fills a buffer of frames of `channels` samples each, the same in all channels; silence if there is no sound.
    pub fn fill<T: Sample + FromSample<f32>>(&mut self, buffer: &mut [T], channels: usize) {
        let cut = self.shared.cut.load(Ordering::Acquire);
        let mut silence = self.shared.silence.load(Ordering::Relaxed);
        let wanted = if self.shared.softly.load(Ordering::Acquire) { SOFT } else { 1.0 };
        for frame in buffer.chunks_mut(channels.max(1)) {
            if self.taken < cut {
                self.level -= self.slope;
                if self.level <= 0.0 {
                    self.throw_away(cut);
                }
            } else {
                self.level = 1.0;
            }
            let sample = match self.ring.pop() {
                Ok(sample) => {
                    self.taken += 1;
                    silence = 0;
                    self.loudness += (wanted - self.loudness).clamp(-self.step, self.step);
                    sample * self.level * self.loudness
                }
                Err(_) => {
                    silence = silence.saturating_add(1);
                    0.0
                }
            };
            frame.fill(T::from_sample(sample));
            if let Some(tap) = &mut self.tap {
                // Whoever does not look in time has no use for it.
                let _ = tap.push(sample);
            }
        }
        self.shared.silence.store(silence, Ordering::Release);
        self.shared.taken.store(self.taken, Ordering::Release);
    }

    /// Writes down how long it takes from the callback to the ear.
    pub fn note_latency(&mut self, latency: Duration) {
        let frames = count(latency.min(Duration::from_secs(2)), self.rate);
        self.shared.latency.store(frames as u32, Ordering::Release);
    }

    /// Drops what lies before `cut`, as far as it is in the ring already; the rest is faded (to nothing) as it comes.
    fn throw_away(&mut self, cut: u64) {
        let wanted = usize::try_from(cut - self.taken).unwrap_or(usize::MAX);
        let length = wanted.min(self.ring.slots());
        if let Ok(chunk) = self.ring.read_chunk(length) {
            chunk.commit_all();
            self.taken += length as u64;
        }
        self.level = if self.taken < cut { 0.0 } else { 1.0 };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const RATE: u32 = 1_000;

    fn take(feed: &mut Feed, frames: usize) -> Vec<f32> {
        let mut buffer = vec![9.0f32; frames];
        feed.fill(&mut buffer, 1);
        buffer
    }

    #[test]
    fn samples_come_out_in_order_in_every_channel_then_silence() {
        let (mut queue, mut feed) = queue(Duration::from_secs(1), RATE);
        assert!(!queue.is_playing());
        assert_eq!(queue.put(&[0.25, 0.5]), 2);
        assert!(queue.is_playing());
        let mut buffer = [9i16; 6];
        feed.fill(&mut buffer, 2);
        assert_eq!(buffer, [8_192, 8_192, 16_384, 16_384, 0, 0]);
        assert!(!queue.is_playing());
    }

    #[test]
    fn sound_on_its_way_to_the_ear_is_still_playing() {
        let (mut queue, mut feed) = queue(Duration::from_secs(1), RATE);
        feed.note_latency(Duration::from_millis(20));
        assert!(!queue.is_playing());
        queue.put(&[0.5; 10]);
        take(&mut feed, 15);
        assert!(queue.is_playing());
        take(&mut feed, 14);
        assert!(queue.is_playing());
        take(&mut feed, 1);
        assert!(!queue.is_playing());
    }

    #[test]
    fn a_stop_fades_and_forgets_and_the_next_sound_is_whole() {
        let (mut queue, mut feed) = queue(Duration::from_secs(1), RATE);
        queue.put(&[0.8; 500]);
        assert_eq!(take(&mut feed, 10), [0.8; 10]);
        queue.stop_handle().stop();
        assert!(!queue.is_playing() || queue.shared.silence.load(Ordering::Relaxed) == 0);
        queue.put(&[0.3; 5]);
        let rest = take(&mut feed, 20);
        assert!(rest[..4].windows(2).all(|w| w[1] < w[0]), "{rest:?}");
        assert!(rest[..4].iter().all(|s| *s < 0.8), "{rest:?}");
        let next = rest.iter().position(|s| *s == 0.3).unwrap();
        assert!(next <= 5, "{rest:?}");
        assert_eq!(rest[next..next + 5], [0.3; 5]);
        assert!(rest[next + 5..].iter().all(|s| *s == 0.0));
    }

    /// A clause that was being made when silence was asked for.
    #[test]
    fn what_was_begun_before_a_stop_is_not_heard_after_it() {
        let (mut queue, mut feed) = queue(Duration::from_secs(1), RATE);
        let began = queue.stop_handle().count();
        assert_eq!(queue.put_since(began, &[0.5; 10]), Some(10));
        queue.stop_handle().stop();
        assert_eq!(queue.put_since(began, &[0.7; 100]), None);
        assert!(take(&mut feed, 200)[5..].iter().all(|sample| *sample == 0.0));
        let again = queue.stop_handle().count();
        assert_eq!(queue.put_since(again, &[0.3; 5]), Some(5));
        assert_eq!(take(&mut feed, 5), [0.3; 5]);
    }

    #[test]
    fn a_full_ring_takes_no_more_and_a_stop_makes_room() {
        let (mut queue, mut feed) = queue(Duration::from_millis(100), RATE);
        assert_eq!(queue.put(&[0.5; 150]), 100);
        assert_eq!(queue.put(&[0.5; 1]), 0);
        queue.stop_handle().stop();
        take(&mut feed, 20);
        assert_eq!(queue.put(&[0.5; 150]), 100);
        assert_eq!(queue.stop_handle().count(), 1);
    }

    #[test]
    fn behind_the_user_it_is_soft_and_what_was_played_can_be_looked_at() {
        let (mut queue, mut feed) = queue(Duration::from_secs(1), RATE);
        let mut tap = feed.tap();
        queue.put(&[0.5; 300]);
        queue.stop_handle().play_softly(true);
        let soft = take(&mut feed, 100);
        assert!(soft.windows(2).all(|w| w[1] <= w[0]), "{soft:?}");
        assert!((soft[99] - 0.5 * SOFT).abs() < 1e-4, "{}", soft[99]);
        queue.stop_handle().play_softly(false);
        let loud = take(&mut feed, 250);
        assert!((loud[150] - 0.5).abs() < 1e-4, "{}", loud[150]);
        let played: Vec<f32> = std::iter::from_fn(|| tap.pop().ok()).collect();
        assert_eq!(played, [soft, loud].concat());
    }

    proptest! {
        /// Without a stop nothing is lost, doubled or changed, however it is cut up.
        #[test]
        fn nothing_is_lost(steps in prop::collection::vec((0usize..60, 0usize..60), 1..40)) {
            let (mut queue, mut feed) = queue(Duration::from_millis(50), RATE);
            let (mut next, mut expected) = (1u32, 1u32);
            for (put, taken) in steps {
                let samples: Vec<f32> = (next..).take(put).map(|n| n as f32).collect();
                next += queue.put(&samples) as u32;
                for sample in take(&mut feed, taken) {
                    if expected < next {
                        prop_assert_eq!(sample, expected as f32);
                        expected += 1;
                    } else {
                        prop_assert_eq!(sample, 0.0);
                    }
                }
                prop_assert_eq!(queue.is_playing(), expected < next);
            }
        }

        /// Whatever happens, a sound put in before a stop is not heard beyond the fade.
        #[test]
        fn a_stop_is_a_stop(before in 0usize..200, played in 0usize..100, after in 0usize..50) {
            let (mut queue, mut feed) = queue(Duration::from_secs(1), RATE);
            queue.put(&vec![1.0; before]);
            take(&mut feed, played);
            queue.stop_handle().stop();
            queue.put(&vec![-1.0; after]);
            let rest = take(&mut feed, 300);
            let old = rest.iter().rposition(|s| *s > 0.0).map_or(0, |n| n + 1);
            prop_assert!(old <= 5, "the old sound goes on for {} samples", old);
            prop_assert_eq!(rest.iter().filter(|s| **s == -1.0).count(), after);
            prop_assert!(!queue.is_playing());
        }
    }
}
