//! Being interrupted: commands said while the program speaks, and the program's own voice alone in the microphone.
//!
//! The voice reaches the microphone through a small loudspeaker and a room, both made here by number: it comes 80 ms
//! late, a little bent, with an echo that takes 0.35 s to die. Its level is given against the user's. What is compared
//! is what is heard (as it comes, or behind the echo canceller) and what is listened for (everything, everything but
//! what is being said, only what stops the voice).

use std::path::{Path, PathBuf};
use wrenchside::assets::Places;
use wrenchside::dialogue::{Language, Meaning, Talk};
use wrenchside::job::Expect;
use wrenchside::listen::{Echo, Harm, Listener, Moonshine, Phrase, RATE, Utterance, VoskRecogniser, read_sound};
use wrenchside::session::{harm, spoken_in};
use wrenchside::speak::sentence::{GAP, whole_sentence};
use wrenchside::speak::{Piper, Voice};
use wrenchside::{onnx, resample};

const R: usize = RATE as usize;
/// Loudness of the user: an ordinary voice at an ordinary microphone.
const USER: f32 = 0.05;
/// From one command to the next.
const EVERY: usize = 4 * R;
/// Samples in a piece that the listener is handed.
const PIECE: usize = R * 3 / 100;

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
    blocks.sort_by(f32::total_cmp);
    let loudest = blocks.last().copied().unwrap_or(0.0);
    blocks.retain(|b| *b > loudest / 10.0);
    (blocks.iter().map(|b| b * b).sum::<f32>() / blocks.len() as f32).sqrt()
}

fn scaled(samples: &[f32], to: f32) -> Vec<f32> {
    let factor = to / loudness(samples);
    samples.iter().map(|s| s * factor).collect()
}

/// What becomes of the voice on its way through loudspeaker and room.
fn through_the_room(voice: &[f32]) -> Vec<f32> {
    let mut dice = Dice(7);
    let length = R * 35 / 100;
    let mut taps: Vec<f32> = (0..length)
        .map(|n| if n % 5 == 0 { 0.12 * dice.roll() * 10f32.powf(-3.0 * n as f32 / length as f32) } else { 0.0 })
        .collect();
    taps[0] = 1.0;
    let delay = R * 8 / 100;
    let mut room = vec![0.0; voice.len() + length + delay];
    for (n, sample) in voice.iter().enumerate() {
        let bent = (sample * 1.5).tanh() / 1.5;
        if bent != 0.0 {
            for (k, tap) in taps.iter().enumerate().step_by(5) {
                room[n + delay + k] += bent * tap;
            }
        }
    }
    room.truncate(voice.len());
    room
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

/// What may be said in the middle of a job.
fn phrases() -> Vec<(Phrase, bool)> {
    let expect = Expect { steps: 36, yes_no: false, angle: false, reading: None, fastener: true };
    let language = Language::english();
    let grammar = language.grammar(&expect, true);
    grammar
        .iter()
        .map(|(text, m)| {
            let stops = matches!(m, None | Some(Meaning::Talk(Talk::Quiet)));
            (Phrase { text: text.to_owned(), harm: harm(m) }, stops)
        })
        .collect()
}

#[derive(Clone, Copy, PartialEq)]
enum For {
    Everything,
    NotWhatIsSaid,
    Stops,
}

fn listener() -> Listener {
    let places = Places::here();
    let judge = places.judge(None).ok().map(|folder| Box::new(Moonshine::open(&folder).unwrap()) as Box<_>);
    Listener::new(Box::new(VoskRecogniser::open(&places.listener(None).unwrap()).unwrap()), judge)
}

/// Everything that is taken for a command.
fn hear(listener: &mut Listener, sound: &[i16], speech: &Speech, what: For) -> Vec<Utterance> {
    let all = phrases();
    let mut heard = Vec::new();
    let mut at = 0;
    let mut saying = usize::MAX;
    listener.reset().unwrap();
    let start = listener.position();
    for piece in sound.chunks(PIECE) {
        // The sentence that is being said; the one before may still be in the air.
        let now = speech.sentences.iter().rposition(|(begins, _)| *begins <= at).unwrap_or(0);
        if now != saying {
            saying = now;
            let said = [now.saturating_sub(1), now].map(|n| speech.sentences[n].1.as_str()).join(" ");
            let wanted: Vec<Phrase> = match what {
                For::Everything => all.iter().map(|(p, _)| p.clone()).collect(),
                For::Stops => all.iter().filter(|(_, stops)| *stops).map(|(p, _)| p.clone()).collect(),
                For::NotWhatIsSaid => all
                    .iter()
                    .map(|(p, _)| {
                        let harm = if spoken_in(&p.text, &said) { Harm::Decoy } else { p.harm };
                        Phrase { text: p.text.clone(), harm }
                    })
                    .collect(),
            };
            listener.listen_for(&wanted).unwrap();
        }
        let mut utterance = listener.push(piece).unwrap();
        while let Some(said) = utterance {
            heard.extend(
                Some(Utterance { began: said.began - start, ended: said.ended - start, ..said })
                    .filter(|u| u.phrase.is_some()),
            );
            utterance = listener.push(&[]).unwrap();
        }
        at += piece.len();
    }
    heard
}

struct Given {
    at: usize,
    length: usize,
    phrase: String,
}

fn recordings() -> Vec<(String, PathBuf)> {
    let known = phrases();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("audio-fixtures/clean");
    let mut all: Vec<(String, PathBuf)> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter_map(|path| {
            let name = path.file_stem()?.to_str()?.to_owned();
            let (voice, phrase) = name.split_once('-')?;
            let phrase = phrase.replace('-', " ");
            let known = known.iter().any(|(p, _)| p.text == phrase && p.harm != Harm::Decoy);
            (voice != "joe" && known).then_some((phrase, path))
        })
        .collect();
    all.sort();
    all
}

fn read(path: &Path) -> Vec<f32> {
    scaled(&read_sound(path).unwrap().into_iter().map(|s| f32::from(s) / 32_768.0).collect::<Vec<_>>(), USER)
}

fn to_i16(samples: &[f32]) -> Vec<i16> {
    samples.iter().map(|s| (s * 32_767.0).clamp(-32_768.0, 32_767.0) as i16).collect()
}

/// The user's commands over the voice, as the microphone hears it, and where each stands.
fn mixed(room: &[f32], commands: &[(String, PathBuf)]) -> (Vec<f32>, Vec<Given>) {
    let mut sound = room.to_vec();
    let mut dice = Dice(11);
    // A quiet shop behind all.
    sound.iter_mut().for_each(|s| *s += 0.0006 * dice.roll());
    let mut given = Vec::new();
    for (n, (phrase, path)) in commands.iter().enumerate() {
        let at = 6 * R + n * EVERY;
        let command = read(path);
        if at + command.len() + R > sound.len() {
            break;
        }
        sound[at..at + command.len()].iter_mut().zip(&command).for_each(|(s, c)| *s += c);
        given.push(Given { at, length: command.len(), phrase: phrase.clone() });
    }
    (sound, given)
}

/// Commands heard, heard as others, and acts that nobody gave cause for.
fn tally(given: &[Given], heard: &[Utterance]) -> (usize, usize, usize) {
    let (mut right, mut wrong, mut made_up) = (0, 0, 0);
    for utterance in heard {
        let (began, ended) = (utterance.began as usize, utterance.ended as usize);
        match given.iter().find(|g| began < g.at + g.length + R / 2 && ended + R / 5 > g.at) {
            Some(g) if utterance.phrase.as_deref() == Some(&g.phrase) => right += 1,
            Some(_) => wrong += 1,
            None => made_up += 1,
        }
    }
    (right, wrong, made_up)
}

#[test]
#[ignore = "a measurement of some minutes: cargo test --test over_voice -- --ignored --nocapture"]
fn table() {
    let speech = speech(&sentences(1));
    let commands = recordings();
    let normal: Vec<_> =
        commands.iter().filter(|(p, _)| !["silence please", "stop talking"].contains(&p.as_str())).collect();
    let stops: Vec<_> =
        commands.iter().filter(|(p, _)| ["silence please", "stop talking"].contains(&p.as_str())).collect();
    // Every fifth is one that stops the voice.
    let all: Vec<(String, PathBuf)> = (0..75)
        .map(|n| if n % 5 == 4 { stops[n / 5 % stops.len()] } else { normal[(n * 7) % normal.len()] }.clone())
        .collect();
    let room = through_the_room(&speech.samples);
    let minutes = |n: usize| n as f64 / R as f64 / 60.0;
    println!("voice {:.1} min, {} sentences", minutes(speech.samples.len()), speech.sentences.len());
    println!(
        "| voice against user | heard through | listened for | commands heard | stops heard | taken for others | voice took for a command |"
    );
    let mut listener = listener();
    let length = (6 * R + 75 * EVERY + 2 * R).min(room.len());
    for level in [0.0f32, -6.0, -12.0] {
        let room = scaled(&room, USER * 10f32.powf(level / 20.0));
        let (sound, given) = mixed(&room[..length], &all);
        let (alone, _) = mixed(&room, &[]);
        let far = to_i16(&speech.samples);
        let stops_of = |g: &Given| ["silence please", "stop talking"].contains(&g.phrase.as_str());
        for clean in [false, true] {
            let pass = |sound: &[f32]| -> Vec<i16> {
                let near = to_i16(sound);
                if !clean {
                    return near;
                }
                let mut echo = Echo::default();
                near.chunks(PIECE)
                    .zip(far.chunks(PIECE))
                    .flat_map(|(n, f)| echo.cancel(n, &f[..f.len().min(n.len())]).unwrap())
                    .collect()
            };
            let (with_user, without) = (pass(&sound), pass(&alone));
            for what in [For::Everything, For::NotWhatIsSaid, For::Stops] {
                let heard = hear(&mut listener, &with_user, &speech, what);
                let (of_stops, of_others): (Vec<Given>, Vec<Given>) = given
                    .iter()
                    .map(|g| Given { at: g.at, length: g.length, phrase: g.phrase.clone() })
                    .partition(stops_of);
                let (stops_right, _, _) = tally(&of_stops, &heard);
                let (right, _, _) = tally(&of_others, &heard);
                let (_, wrong, _) = tally(&given, &heard);
                let own = hear(&mut listener, &without, &speech, what);
                println!(
                    "| {level} dB | {} | {} | {right} of {} | {stops_right} of {} | {wrong} | {} in {:.1} min {:?} |",
                    if clean { "echo canceller" } else { "as it comes" },
                    match what {
                        For::Everything => "everything",
                        For::NotWhatIsSaid => "all but what is said",
                        For::Stops => "stops",
                    },
                    of_others.len(),
                    of_stops.len(),
                    own.len(),
                    minutes(without.len()),
                    own.iter().filter_map(|u| u.phrase.clone()).collect::<Vec<_>>(),
                );
            }
        }
    }
}
