//! Being interrupted: commands said while the program speaks, and the program's own voice alone in the microphone.
//!
//! The voice reaches the microphone through a small loudspeaker and a room, both made here by number: it comes 80 ms
//! late, a little bent, with an echo that takes 0.35 s to die. Its level is given against the user's. `table` compares
//! ways of listening; the other test holds what is shipped to its figures.

#[path = "common/talk.rs"]
mod talk;

use std::path::{Path, PathBuf};
use talk::talk;
use wrenchside::assets::Places;
use wrenchside::listen::{Harm, Listener, Phrase, RATE, Second, Utterance, VoskRecogniser, read_sound};
use wrenchside::session::Conversation;
use wrenchside::session::overhear::{Cleaner, Overhear};
use wrenchside::speak::sentence::{GAP, whole_sentence};
use wrenchside::speak::{Piper, Voice};
use wrenchside::{onnx, resample};

const R: usize = RATE as usize;
/// Loudness of the user: an ordinary voice at an ordinary microphone.
const USER: f32 = 0.05;
/// From one command to the next.
const EVERY: usize = 4 * R;
/// Where the first command is.
const FIRST: usize = 6 * R;
/// Samples in a piece that the listener is handed: a look of the session.
const PIECE: usize = R * 3 / 100;
/// Pieces that pass until the loudspeaker follows a wish.
const SLOW: usize = 3;
/// Time the voice takes to the microphone.
const DELAY: usize = R * 8 / 100;
/// What stops the voice; counted by themselves.
const STOPS: [&str; 2] = ["silence please", "stop talking"];

/// Numbers that are always the same.
struct Dice(u32);

impl Dice {
    fn roll(&mut self) -> f32 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (self.0 >> 8) as f32 / (1 << 23) as f32 - 1.0
    }
}

/// Loudness where there is sound at all.
fn loudness(samples: &[f32]) -> f32 {
    let mut blocks: Vec<f32> =
        samples.chunks(R / 50).map(|b| (b.iter().map(|s| s * s).sum::<f32>() / b.len() as f32).sqrt()).collect();
    let loudest = blocks.iter().copied().fold(0.0, f32::max);
    blocks.retain(|b| *b > loudest / 10.0);
    (blocks.iter().map(|b| b * b).sum::<f32>() / blocks.len() as f32).sqrt()
}

/// Strength of the room's answer, each so many samples after the one before.
const SPARSE: usize = 41;

fn taps() -> Vec<f32> {
    let mut dice = Dice(7);
    let length = R * 35 / 100 / SPARSE;
    let late = |n: usize| 0.3 * 10f32.powf(-3.0 * n as f32 / length as f32);
    (0..length).map(|n| if n == 0 { 1.0 } else { late(n) * dice.roll() }).collect()
}

fn bent(sample: f32) -> f32 {
    (sample * 1.5).tanh() / 1.5
}

/// Loudness of the whole voice after the room, for a fair level.
fn loudness_in_the_room(voice: &[f32], taps: &[f32]) -> f32 {
    let some = &voice[..voice.len().min(20 * R)];
    let room: Vec<f32> = (0..some.len())
        .map(|n| {
            taps.iter().enumerate().map_while(|(k, t)| Some(t * bent(*some.get(n.checked_sub(k * SPARSE)?)?))).sum()
        })
        .collect();
    loudness(&room)
}

/// What the program says, one sentence after the other, and where each begins.
struct Speech {
    samples: Vec<f32>,
    sentences: Vec<(usize, String)>,
}

/// Every sentence that the program can say, as the wording tests have it, each `step`th.
fn sentences(step: usize) -> Vec<String> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/snapshots/wording__everything_said.snap");
    let text = std::fs::read_to_string(path).unwrap();
    let kinds = ["Plain", "Question", "Refusal", "Note", "Caution", "Warning", "Danger"];
    let spoken = text.lines().filter_map(|line| {
        let (kind, rest) = line.split_once(' ')?;
        kinds.contains(&kind).then(|| rest.trim().to_owned())
    });
    spoken.step_by(step).collect()
}

fn speech(sentences: &[String]) -> Speech {
    let places = Places::here();
    onnx::load(&places.onnx_runtime(None).unwrap()).unwrap();
    let mut voice = Piper::load(&places.voice(None).unwrap(), &places.phonemes(None).unwrap()).unwrap();
    let mut speech = Speech { samples: Vec::new(), sentences: Vec::new() };
    for sentence in sentences {
        let samples = whole_sentence(&mut voice, sentence, 1.0, GAP).unwrap();
        speech.sentences.push((speech.samples.len(), sentence.clone()));
        speech.samples.extend(resample::convert(&samples, voice.rate(), RATE).unwrap());
        speech.samples.resize(speech.samples.len() + R * 12 / 100, 0.0);
    }
    speech
}

/// How the microphone is listened to, in the middle of a job, where no question stands.
#[derive(Clone, Copy, PartialEq)]
enum Way {
    /// Everything that may be said is listened for, in the microphone's sound as it comes.
    Open,
    /// Everything but what is being said, behind the echo canceller.
    Cancelled,
    /// The same, and the voice goes soft while somebody else is heard: this is what is shipped.
    Behind,
}

impl Way {
    fn phrases(self, talk: &Conversation, said: &str) -> Vec<Phrase> {
        match self {
            Way::Open => talk.phrases(),
            Way::Cancelled | Way::Behind => talk.phrases_beside(said),
        }
    }
}

fn listener() -> Listener {
    let places = Places::here();
    let judge = Second::find(&places, None).map(|second| second.open().unwrap());
    Listener::new(Box::new(VoskRecogniser::open(&places.listener(None).unwrap()).unwrap()), judge)
}

fn to_i16(samples: &[f32]) -> Vec<i16> {
    samples.iter().map(|s| (s * 32_767.0).clamp(-32_768.0, 32_767.0) as i16).collect()
}

/// Plays `speech` and the user's sound at once, and gives everything that is taken for a command. `voice_gain` is what
/// brings the voice to its level at the microphone.
fn hear(
    listener: &mut Listener,
    talk: &Conversation,
    user: &[f32],
    speech: &Speech,
    gain: f32,
    way: Way,
) -> Vec<Utterance> {
    let taps = taps();
    let mut echo = vec![0.0f32; speech.samples.len() + DELAY + taps.len() * SPARSE];
    let mut dice = Dice(11);
    let mut overhear = Overhear::default();
    let mut wishes = std::collections::VecDeque::from([false; SLOW]);
    let (mut saying, mut loud) = (usize::MAX, 1.0f32);
    let mut heard = Vec::new();
    listener.reset().unwrap();
    let start = listener.position();
    for (n, user) in user.chunks(PIECE).enumerate() {
        let at = n * PIECE;
        let Some(voice) = speech.samples.get(at..at + user.len()) else { break };
        // The sentence that is being said; the one before may still be in the air.
        let now = speech.sentences.iter().rposition(|(begins, _)| *begins <= at).unwrap_or(0);
        if now != saying {
            saying = now;
            let said = [now.saturating_sub(1), now].map(|n| speech.sentences[n].1.as_str()).join(" ");
            listener.listen_for(&way.phrases(talk, &said)).unwrap();
        }
        let behind = wishes.pop_front().unwrap_or(false);
        let mut played = Vec::with_capacity(voice.len());
        for (k, sample) in voice.iter().enumerate() {
            loud += ((if behind { 0.2 } else { 1.0 }) - loud).clamp(-0.00125, 0.00125);
            played.push(sample * loud);
            let direct = bent(sample * loud) * gain;
            if direct != 0.0 {
                let reached = echo[at + k + DELAY..].iter_mut().step_by(SPARSE);
                reached.zip(&taps).for_each(|(sample, tap)| *sample += direct * tap);
            }
        }
        // A quiet shop behind all.
        let near: Vec<f32> = user.iter().enumerate().map(|(k, u)| u + echo[at + k] + 0.0006 * dice.roll()).collect();
        let near = to_i16(&near);
        let near = match way {
            Way::Cancelled | Way::Behind => overhear.clean(&near, &to_i16(&played), listener.speaking()).unwrap(),
            _ => near,
        };
        let mut utterance = listener.push(&near).unwrap();
        wishes.push_back(way == Way::Behind && listener.speaking());
        while let Some(said) = utterance {
            if said.phrase.is_some() {
                heard.push(Utterance { began: said.began - start, ended: said.ended - start, ..said });
            }
            utterance = listener.push(&[]).unwrap();
        }
    }
    heard
}

struct Given {
    at: usize,
    length: usize,
    phrase: String,
}

/// Recordings by others than the program's own voice, of what may be said now.
fn recordings(talk: &Conversation) -> Vec<(String, PathBuf)> {
    let known = talk.phrases();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("audio-fixtures/clean");
    let mut all: Vec<(String, PathBuf)> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter_map(|path| {
            let name = path.file_stem()?.to_str()?.to_owned();
            let (voice, phrase) = name.split_once('-')?;
            let phrase = phrase.replace('-', " ");
            let known = known.iter().any(|p| p.text == phrase && p.harm != Harm::Decoy);
            (voice != "joe" && known).then_some((phrase, path))
        })
        .collect();
    all.sort();
    all
}

/// So many commands, every fifth of them one that stops the voice.
fn commands(talk: &Conversation, count: usize) -> Vec<(String, PathBuf)> {
    let (stops, others): (Vec<_>, Vec<_>) =
        recordings(talk).into_iter().partition(|(phrase, _)| STOPS.contains(&phrase.as_str()));
    let pick = |n: usize| if n % 5 == 4 { &stops[n / 5 % stops.len()] } else { &others[n * 7 % others.len()] };
    (0..count).map(|n| pick(n).clone()).collect()
}

/// The user's side: the commands, and silence between.
fn user(commands: &[(String, PathBuf)], length: usize) -> (Vec<f32>, Vec<Given>) {
    let mut sound = vec![0.0; length];
    let mut given = Vec::new();
    for (n, (phrase, path)) in commands.iter().enumerate() {
        let at = FIRST + n * EVERY;
        let command: Vec<f32> = read_sound(path).unwrap().into_iter().map(|s| f32::from(s) / 32_768.0).collect();
        let factor = USER / loudness(&command);
        if at + command.len() + R > length {
            break;
        }
        sound[at..at + command.len()].iter_mut().zip(&command).for_each(|(s, c)| *s = c * factor);
        given.push(Given { at, length: command.len(), phrase: phrase.clone() });
    }
    (sound, given)
}

#[derive(Default)]
struct Tally {
    stops: (usize, usize),
    others: (usize, usize),
    /// What was taken for another command than the one meant, or for one where none was: what was meant, and what was heard.
    mistakes: Vec<(Option<String>, Utterance)>,
}

impl Tally {
    /// Commands heard as another one.
    fn wrong(&self) -> usize {
        self.mistakes.len() - self.made_up()
    }

    /// Commands that nobody gave.
    fn made_up(&self) -> usize {
        self.mistakes.iter().filter(|(meant, _)| meant.is_none()).count()
    }
}

fn tally(given: &[Given], heard: &[Utterance]) -> Tally {
    let mut tally = Tally::default();
    let over =
        |u: &Utterance, g: &Given| (u.began as usize) < g.at + g.length + R / 2 && u.ended as usize + R / 5 > g.at;
    for g in given {
        let right = heard.iter().any(|u| over(u, g) && u.phrase.as_deref() == Some(&g.phrase));
        let count = if STOPS.contains(&g.phrase.as_str()) { &mut tally.stops } else { &mut tally.others };
        count.0 += usize::from(right);
        count.1 += 1;
    }
    for u in heard {
        let meant = given.iter().find(|g| over(u, g)).map(|g| g.phrase.clone());
        // `hear` gives only what was taken for a command, so what nobody meant is never equal to it.
        if meant != u.phrase {
            tally.mistakes.push((meant, u.clone()));
        }
    }
    tally
}

#[test]
#[ignore = "a measurement of some minutes: cargo test --test over_voice -- --ignored --nocapture"]
fn table() {
    let jobs = tempfile::tempdir().unwrap();
    let talk = talk(jobs.path());
    let speech = speech(&sentences(2));
    let commands = commands(&talk, 75);
    let minutes = speech.samples.len() as f64 / R as f64 / 60.0;
    let gain = USER / loudness_in_the_room(&speech.samples, &taps());
    let (with, given) = user(&commands, speech.samples.len().min(FIRST + 77 * EVERY));
    let without = vec![0.0; speech.samples.len()];
    println!("{} sentences, {minutes:.1} min of voice", speech.sentences.len());
    println!(
        "| voice against user | way | commands heard | stops heard | taken for others | made up | voice alone took for commands |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- |");
    let row = &|level: f32, name: &str, way: Way| {
        let gain = gain * 10f32.powf(level / 20.0);
        let mut listener = listener();
        let t = tally(&given, &hear(&mut listener, &talk, &with, &speech, gain, way));
        let own = hear(&mut listener, &talk, &without, &speech, gain, way);
        println!(
            "| {level} dB | {name} | {} of {} | {} of {} | {} | {} | {} in {minutes:.1} min |",
            t.others.0,
            t.others.1,
            t.stops.0,
            t.stops.1,
            t.wrong(),
            t.made_up(),
            own.len(),
        );
        for (meant, said) in &t.mistakes {
            println!("{level} dB, {name}: {meant:?} taken for {:?}", said.phrase);
        }
    };
    let ways = [
        ("as it comes", Way::Open),
        ("echo canceller, all but what is said", Way::Cancelled),
        ("the same, the voice steps back", Way::Behind),
    ];
    std::thread::scope(|threads| {
        for (name, way) in ways {
            threads.spawn(move || [0.0f32, -6.0, -12.0].iter().for_each(|&level| row(level, name, way)));
        }
        // A headset: nothing of the voice gets to the microphone.
        threads.spawn(move || row(f32::NEG_INFINITY, "as it comes", Way::Open));
    });
}

#[test]
fn commands_are_heard_over_the_voice_and_the_voice_itself_does_nothing() {
    let jobs = tempfile::tempdir().unwrap();
    let talk = talk(jobs.path());
    let speech = speech(&sentences(4));
    let gain = USER / loudness_in_the_room(&speech.samples, &taps());
    let (with, given) = user(&commands(&talk, 25), speech.samples.len());
    assert!(given.len() >= 20, "{}", given.len());
    let mut listener = listener();
    let t = tally(&given, &hear(&mut listener, &talk, &with, &speech, gain * 0.5, Way::Behind));
    let heard = t.others.0 + t.stops.0;
    println!("{heard} of {} heard at -6 dB", given.len());
    assert!(heard * 10 >= given.len() * 4, "{heard} of {}", given.len());
    // The voice says the same sentence a little differently every time, and among 200 commands said over it one was taken
    // for another ("silence please" for "help please"). None may change the ledger, and of 25 more than two are a fault.
    let claims = |u: &Utterance| {
        let said = |p: &Phrase| Some(p.text.as_str()) == u.phrase.as_deref() && p.harm == Harm::Claims;
        talk.phrases().iter().any(said)
    };
    assert!(!t.mistakes.iter().any(|(_, u)| claims(u)), "{:#?}", t.mistakes);
    assert!(t.wrong() <= 2 && t.made_up() == 0, "{:#?}", t.mistakes);
    // As loud as the user, and nobody there.
    let own = hear(&mut listener, &talk, &vec![0.0; speech.samples.len()], &speech, gain, Way::Behind);
    assert!(own.is_empty(), "{own:?}");
}
