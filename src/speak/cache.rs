//! What was said before, and what is foreseen, kept in memory: a clause that is needed again costs nothing.
//!
//! Knows texts, paces and samples. The unit is the clause, as many sentences share some ("seventy newton metres."). Samples are
//! kept as 16 bits, as they go to most loudspeakers and files anyway: half the memory.

use std::collections::HashMap;
use std::sync::Arc;
use std::time::Instant;

use tracing::debug;

use super::clauses::clauses;
use super::{SpeakError, Voice};

/// What tells one stretch of speech from another.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Key {
    voice: String,
    /// The bits of the pace: equal if it is exactly the same.
    pace: u32,
    text: String,
}

struct Kept {
    samples: Arc<[i16]>,
    used: u64,
}

/// Samples by voice, pace and text, up to so many bytes; the one unused for longest goes first.
pub struct Cache {
    kept: HashMap<Key, Kept>,
    limit: usize,
    bytes: usize,
    clock: u64,
}

impl Cache {
    /// A cache of at most `limit` bytes. A minute of speech takes about two and a half million.
    pub fn new(limit: usize) -> Self {
        Self { kept: HashMap::new(), limit, bytes: 0, clock: 0 }
    }

    /// The samples of `text`, if they are kept; they then count as used just now.
    pub fn get(&mut self, voice: &str, pace: f32, text: &str) -> Option<Arc<[i16]>> {
        self.clock += 1;
        let kept = self.kept.get_mut(&key(voice, pace, text))?;
        kept.used = self.clock;
        Some(kept.samples.clone())
    }

    /// Keeps `samples`, and lets go of others if there is no room; too long a sound is not kept at all.
    pub fn put(&mut self, voice: &str, pace: f32, text: &str, samples: Arc<[i16]>) {
        self.clock += 1;
        let key = key(voice, pace, text);
        let size = size(&key, &samples);
        if size > self.limit {
            return;
        }
        self.remove(&key);
        while self.bytes + size > self.limit {
            // There are a few hundred at most, and making one takes far longer than looking at all of them.
            let Some(oldest) = self.kept.iter().min_by_key(|(_, kept)| kept.used).map(|(key, _)| key.clone()) else {
                break;
            };
            self.remove(&oldest);
        }
        self.bytes += size;
        let used = self.clock;
        self.kept.insert(key, Kept { samples, used });
    }

    /// Bytes in use.
    pub fn bytes(&self) -> usize {
        self.bytes
    }

    fn remove(&mut self, key: &Key) {
        if let Some(kept) = self.kept.remove(key) {
            self.bytes -= size(key, &kept.samples);
        }
    }
}

fn key(voice: &str, pace: f32, text: &str) -> Key {
    Key { voice: voice.into(), pace: pace.to_bits(), text: text.into() }
}

fn size(key: &Key, samples: &[i16]) -> usize {
    size_of_val(samples) + key.text.len() + key.voice.len() + size_of::<(Key, Kept)>()
}

/// A voice that remembers. To be used like any other; [`CachedVoice::prepare`] makes it say things beforehand.
pub struct CachedVoice {
    voice: Box<dyn Voice>,
    name: String,
    cache: Cache,
}

impl CachedVoice {
    /// `name` tells the voice from others; at most `limit` bytes are kept.
    pub fn new(voice: Box<dyn Voice>, name: impl Into<String>, limit: usize) -> Self {
        Self { voice, name: name.into(), cache: Cache::new(limit) }
    }

    /// Whether the samples of `text` are there already.
    pub fn knows(&self, text: &str, pace: f32) -> bool {
        self.cache.kept.contains_key(&key(&self.name, pace, text))
    }

    /// Makes the next clause of `text` that is not there yet. Says whether all are there now: call it again while it
    /// says no and there is time.
    pub fn prepare(&mut self, text: &str, pace: f32) -> Result<bool, SpeakError> {
        let mut made = false;
        for clause in clauses(text) {
            let clause = clause.to_text();
            if self.cache.get(&self.name, pace, &clause).is_none() {
                if made {
                    return Ok(false);
                }
                self.say(&clause, pace)?;
                made = true;
            }
        }
        Ok(true)
    }
}

impl Voice for CachedVoice {
    fn rate(&self) -> u32 {
        self.voice.rate()
    }

    fn say(&mut self, text: &str, pace: f32) -> Result<Vec<f32>, SpeakError> {
        if let Some(kept) = self.cache.get(&self.name, pace, text) {
            return Ok(from_kept(&kept));
        }
        let began = Instant::now();
        let samples = self.voice.say(text, pace)?;
        debug!(text, ms = began.elapsed().as_millis(), "made");
        let kept = to_keep(&samples);
        self.cache.put(&self.name, pace, text, kept.clone());
        // As it will be the next time.
        Ok(from_kept(&kept))
    }
}

/// Of samples from -1 to 1; what lies outside is drawn to the nearer end.
fn to_keep(samples: &[f32]) -> Arc<[i16]> {
    samples.iter().map(|&sample| (sample.clamp(-1.0, 1.0) * 32_767.0).round() as i16).collect()
}

fn from_kept(kept: &[i16]) -> Vec<f32> {
    kept.iter().map(|&sample| f32::from(sample) / 32_767.0).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::sync::atomic::{AtomicUsize, Ordering};

    struct Counter(Arc<AtomicUsize>);

    impl Voice for Counter {
        fn rate(&self) -> u32 {
            8_000
        }
        fn say(&mut self, text: &str, _pace: f32) -> Result<Vec<f32>, SpeakError> {
            self.0.fetch_add(1, Ordering::Relaxed);
            Ok(vec![0.1; text.len()])
        }
    }

    #[test]
    fn nothing_is_made_twice_but_for_another_pace() {
        let made = Arc::new(AtomicUsize::new(0));
        let mut voice = CachedVoice::new(Box::new(Counter(made.clone())), "counter", 100_000);
        let first = voice.say("Seventy.", 1.0).unwrap();
        assert_eq!(voice.say("Seventy.", 1.0).unwrap(), first);
        assert_eq!(made.load(Ordering::Relaxed), 1);
        voice.say("Seventy.", 1.5).unwrap();
        assert_eq!(made.load(Ordering::Relaxed), 2);
    }

    #[test]
    fn preparing_goes_one_clause_at_a_time() {
        let made = Arc::new(AtomicUsize::new(0));
        let mut voice = CachedVoice::new(Box::new(Counter(made.clone())), "counter", 100_000);
        let text = "Stage one: seventy. Then stop.";
        assert!(!voice.prepare(text, 1.0).unwrap());
        assert_eq!(made.load(Ordering::Relaxed), 1);
        assert!(!voice.prepare(text, 1.0).unwrap());
        assert!(voice.prepare(text, 1.0).unwrap());
        assert!(voice.prepare(text, 1.0).unwrap());
        assert_eq!(made.load(Ordering::Relaxed), 3);
        let end = crate::speak::say_sentence(&mut voice, text, 1.0, std::time::Duration::ZERO, &mut |_| {
            std::ops::ControlFlow::Continue(())
        });
        assert!(end.unwrap().is_continue());
        assert_eq!(made.load(Ordering::Relaxed), 3);
    }

    #[test]
    fn what_is_kept_sounds_as_what_was_made() {
        let samples = [0.0, 0.5, -0.25, 1.0, -1.0, 1.5, f32::NAN];
        let again = from_kept(&to_keep(&samples));
        for (made, kept) in samples.iter().zip(&again).take(5) {
            assert!((made - kept).abs() < 1.0 / 32_767.0, "{made} {kept}");
        }
        assert_eq!(&again[5..], [1.0, 0.0]);
    }

    #[test]
    fn what_is_too_long_is_not_kept() {
        let mut cache = Cache::new(500);
        cache.put("v", 1.0, "long", vec![0; 1_000].into());
        assert!(cache.get("v", 1.0, "long").is_none());
        assert_eq!(cache.bytes(), 0);
    }

    proptest! {
        /// Against a list in order of use.
        #[test]
        fn the_one_unused_for_longest_goes_first(steps in prop::collection::vec((0usize..8, any::<bool>(), 1usize..300), 1..80)) {
            let limit = 2_000;
            let mut cache = Cache::new(limit);
            let mut model: Vec<(usize, usize)> = Vec::new();
            for (name, put, length) in steps {
                let text = name.to_string();
                let samples: Arc<[i16]> = vec![1; length].into();
                let cost = |length: usize| size(&key("v", 1.0, &text), &vec![0; length]);
                if put {
                    cache.put("v", 1.0, &text, samples);
                    if cost(length) <= limit {
                        model.retain(|(n, _)| *n != name);
                        model.push((name, length));
                        while model.iter().map(|(_, l)| cost(*l)).sum::<usize>() > limit {
                            model.remove(0);
                        }
                    }
                } else {
                    let found = cache.get("v", 1.0, &text).map(|s| s.len());
                    let place = model.iter().position(|(n, _)| *n == name);
                    prop_assert_eq!(found, place.map(|p| model[p].1));
                    if let Some(place) = place {
                        let used = model.remove(place);
                        model.push(used);
                    }
                }
                prop_assert!(cache.bytes() <= limit);
                prop_assert_eq!(cache.bytes(), model.iter().map(|(_, l)| cost(*l)).sum::<usize>());
            }
        }
    }
}
