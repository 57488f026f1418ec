//! Plays trials and keeps what both listeners made of them.
//!
//! Through the listener in use, frame by frame, so that computing before the end of an utterance counts where it is not
//! done in time. Which rule then decides is for `tally`.

use super::HearingError;
use super::mix::Mixer;
use super::moment::{Allowed, Moment};
use super::trial::{Meant, Trial};
use crate::listen::{
    FRAME, Hypothesis, Judgement, Listener, Lost, Opinion, OwnRule, OwnVoice, Phrase, RATE, Scored, Utterance, Written,
};
use serde::{Deserialize, Serialize};
use std::collections::HashMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// A trial with what was heard in it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Played {
    /// What was played.
    pub trial: Trial,
    /// Stretches of speech that were found, in order.
    pub heard: Vec<Heard>,
    /// What became no such stretch.
    pub lost: Lost,
    /// How long the sound is, in seconds.
    pub seconds: f64,
    /// How much of a core's time it took to work through, in seconds.
    pub computing: f64,
}

/// What the listeners made of a stretch of speech.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Heard {
    /// vosk's words.
    pub text: String,
    /// vosk's confidence.
    pub confidence: f32,
    /// The second listener's word, if there is one.
    pub judged: Option<Judged>,
    /// What the second listener wrote freely, if a claim was believed or nearly.
    #[serde(default)]
    pub written: Option<Written>,
    /// What the user's own voice says to the nearest phrases, to the first listener's and to the second's.
    #[serde(default)]
    pub own: Option<Vec<Near>>,
    /// From the last sample of the words to the moment of the decision, in milliseconds; 0 where nothing was meant.
    pub wait_ms: f64,
    /// Computing after that, in milliseconds of one core's time, for sound that comes at its own pace.
    pub thinking_ms: f64,
}

/// What the second listener thinks.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Judged {
    /// The phrase it likes best.
    pub best: Option<String>,
    /// See [`Judgement`].
    pub average: f32,
    /// See [`Judgement`].
    pub over_noise: f32,
    /// See [`Judgement`].
    pub margin: f32,
}

/// How near a sound comes to a phrase, in the user's own voice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Near {
    /// The phrase.
    pub text: String,
    /// See [`Scored`].
    pub cost: f32,
    /// See [`Scored`].
    pub likeness: f32,
}

/// So many of the nearest phrases are kept.
const NEAREST: usize = 3;

impl Heard {
    fn new(said: &Utterance, thinking: Duration, phrases: &[Phrase], words_end: u64, meant: bool) -> Self {
        let judged = said.judgement.as_ref().map(|judgement| Judged {
            best: judgement.best.and_then(|at| phrases.get(at)).map(|phrase| phrase.text.clone()),
            // JSON knows no infinity.
            average: judgement.average.max(-1e6),
            over_noise: judgement.over_noise.max(-1e6),
            margin: judgement.margin,
        });
        let wait = if meant { said.decided as f64 - words_end as f64 } else { 0.0 };
        Self {
            text: said.heard.text.clone(),
            confidence: said.heard.confidence,
            judged,
            written: said.written.clone(),
            own: said.own.as_ref().map(|own| nearest(own, said, phrases)),
            wait_ms: wait * 1_000.0 / f64::from(RATE),
            thinking_ms: thinking.as_secs_f64() * 1_000.0,
        }
    }

    /// What the user's own voice says, as the rule takes it; `phrases` are those that it was asked about.
    pub fn opinion(&self, phrases: &[Phrase]) -> Option<Opinion> {
        let place = |near: &Near| {
            let phrase = phrases.iter().position(|phrase| phrase.text == near.text)?;
            Some(Scored { phrase, cost: near.cost, likeness: near.likeness })
        };
        self.own.as_ref().map(|own| Opinion { scored: own.iter().filter_map(place).collect() })
    }

    /// As the rule for accepting takes it.
    pub fn hypothesis(&self) -> Hypothesis {
        Hypothesis { text: self.text.clone(), confidence: self.confidence }
    }

    /// The same of the second listener; `phrases` are those that it was asked about.
    pub fn judgement(&self, phrases: &[Phrase]) -> Option<Judgement> {
        self.judged.as_ref().map(|judged| Judgement {
            best: judged.best.as_ref().and_then(|text| phrases.iter().position(|phrase| phrase.text == *text)),
            average: judged.average,
            over_noise: judged.over_noise,
            margin: judged.margin,
        })
    }
}

fn nearest(own: &Opinion, said: &Utterance, phrases: &[Phrase]) -> Vec<Near> {
    let best = said.judgement.as_ref().and_then(|judgement| judgement.best);
    let near = own.scored.iter().enumerate().filter_map(|(place, scored)| {
        let text = &phrases.get(scored.phrase)?.text;
        let wanted = place < NEAREST || *text == said.heard.text || best == Some(scored.phrase);
        wanted.then(|| Near { text: text.clone(), cost: scored.cost, likeness: scored.likeness })
    });
    near.collect()
}

/// The own voice of whoever speaks in a trial, if one was learnt.
pub type Known<'a> = dyn Fn(&Trial) -> Option<Arc<dyn OwnVoice>> + Sync + 'a;

/// Plays all trials, each listener on a thread of its own; `told` is called now and then with how many are done.
pub fn play(
    trials: &[Trial],
    moments: &[(Moment, Allowed)],
    mixer: &Mixer,
    listeners: Vec<Listener>,
    known: &Known,
    told: &(dyn Fn(usize) + Sync),
) -> Result<Vec<Played>, HearingError> {
    let allowed: HashMap<Moment, &Allowed> = moments.iter().map(|(moment, allowed)| (*moment, allowed)).collect();
    // By moment, because another grammar costs the second listener its tree of phrases; the longest first, so that no
    // thread is left alone with one at the end.
    let mut order: Vec<usize> = (0..trials.len()).collect();
    order.sort_by_key(|&at| (matches!(trials[at].meant, Meant::Phrase(_)), trials[at].moment, at));
    let next = AtomicUsize::new(0);
    let done = Mutex::new(vec![None; trials.len()]);
    let failed = Mutex::new(None);
    std::thread::scope(|scope| {
        for mut listener in listeners {
            scope.spawn({
                let (order, next, done, failed, allowed) = (&order, &next, &done, &failed, &allowed);
                move || {
                    while let Some(&at) = order.get(next.fetch_add(1, Ordering::Relaxed)) {
                        let Some(allowed) = allowed.get(&trials[at].moment) else { continue };
                        listener.know(known(&trials[at]).map(|own| (own, OwnRule::IN_USE)));
                        match one(&trials[at], allowed, mixer, &mut listener) {
                            Ok(played) => lock(done)[at] = Some(played),
                            Err(error) => {
                                *lock(failed) = Some(error);
                                // The others stop at their next trial.
                                next.store(order.len(), Ordering::Relaxed);
                            }
                        }
                        told(next.load(Ordering::Relaxed).min(order.len()));
                    }
                }
            });
        }
    });
    match lock(&failed).take() {
        Some(error) => Err(error),
        None => Ok(lock(&done).drain(..).flatten().collect()),
    }
}

fn lock<T>(of: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    of.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
}

fn one(trial: &Trial, allowed: &Allowed, mixer: &Mixer, listener: &mut Listener) -> Result<Played, HearingError> {
    let sound = mixer.sound(trial)?;
    listener.listen_for(&allowed.phrases)?;
    listener.also_for(allowed.open.clone());
    listener.reset()?;
    // What was lost before is no part of this.
    listener.lost();
    let words_end = listener.position() + sound.words_end as u64;
    let began = busy();
    let mut said = Vec::new();
    // How far the computing is behind the sound.
    let mut behind = Duration::ZERO;
    for frame in sound.samples.chunks(FRAME) {
        behind = behind.saturating_sub(Duration::from_secs_f64(frame.len() as f64 / f64::from(RATE)));
        let mut before = busy();
        let mut utterance = listener.push(frame)?;
        loop {
            let after = busy();
            behind += after.saturating_sub(before);
            before = after;
            let Some(one) = utterance else { break };
            said.push((one, behind));
            utterance = listener.push(&[])?;
        }
    }
    let mut before = busy();
    while let Some(one) = listener.finish()? {
        let after = busy();
        said.push((one, after.saturating_sub(before)));
        before = after;
    }
    let meant = matches!(trial.meant, Meant::Phrase(_));
    let heard = |(one, thinking): &(Utterance, Duration)| {
        Heard::new(one, *thinking, &allowed.offered(&one.heard.text), words_end, meant)
    };
    Ok(Played {
        trial: trial.clone(),
        heard: said.iter().map(heard).collect(),
        lost: listener.lost(),
        seconds: sound.samples.len() as f64 / f64::from(RATE),
        computing: (busy().saturating_sub(began)).as_secs_f64(),
    })
}

/// How much of a core listening takes while nobody speaks: the share of a minute of the faint hiss of a room.
pub fn idle(moments: &[(Moment, Allowed)], listener: &mut Listener) -> Result<f64, HearingError> {
    if let Some((_, allowed)) = moments.first() {
        listener.listen_for(&allowed.phrases)?;
        listener.also_for(allowed.open.clone());
    }
    listener.reset()?;
    let mut chance = super::noise::Chance::of(&["idle"]);
    let seconds = 60;
    let hiss: Vec<i16> = (0..seconds * RATE as usize).map(|_| chance.below(7) as i16 - 3).collect();
    let began = busy();
    for frame in hiss.chunks(FRAME) {
        listener.push(frame)?;
    }
    Ok((busy().saturating_sub(began)).as_secs_f64() / seconds as f64)
}

/// Time that this thread has had of a core, so that other programs do not count; elsewhere than on Linux the time that
/// has gone by.
fn busy() -> Duration {
    let read = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanoseconds = read.as_deref().and_then(|text| text.split(' ').next()).and_then(|first| first.parse().ok());
    nanoseconds.map_or_else(
        || {
            static BEGAN: std::sync::OnceLock<Instant> = std::sync::OnceLock::new();
            BEGAN.get_or_init(Instant::now).elapsed()
        },
        Duration::from_nanos,
    )
}
