//! Said twice counts once, by sound: recordings of a claim, said again a moment later while the answer is being spoken, and
//! once more behind it. The listener is the one in use; the voice is a clock that runs for as long as the answer takes.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use wrenchside::assets::Places;
use wrenchside::dialogue::{Language, Manner};
use wrenchside::job::{At, Fact, Job};
use wrenchside::journal::Folder;
use wrenchside::listen::{Harm, Listener, RATE, Second, VoskRecogniser, read_sound};
use wrenchside::session::{Conversation, Ear};
use wrenchside::{onnx, procedure};

const BOOK: &str = "tests/data/bench-angles.toml";
const PIECE: usize = RATE as usize / 10;
/// Milliseconds that the voice takes for a word.
const WORD: i64 = 350;
/// Pause between the end of a claim and the same claim again.
const GAPS: [i64; 7] = [200, 400, 600, 900, 1_500, 2_200, 3_000];

/// A claim by one voice.
#[derive(Clone)]
struct Claim {
    voice: String,
    text: String,
    file: PathBuf,
}

/// What came of one claim said twice in a row, and once more after the answer.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
struct Counts {
    of: usize,
    /// Counted twice although the second began before the answer was at its end. Must never be.
    twice: usize,
    /// Not counted at all in two tries, because it was not understood.
    unheard: usize,
    /// Began after the end of the answer and was understood, but did not count. Must never be.
    lost: usize,
    /// Began after the end of the answer and was not understood.
    missed: usize,
}

/// A job with its listener and a clock.
struct Bay {
    talk: Conversation,
    ear: Ear,
    now: i64,
    /// Until when the voice speaks, while it says what has to be heard.
    speaks: Option<i64>,
    /// Claims understood.
    heard: usize,
}

impl Bay {
    /// At the torque of the first bolt, which is announced.
    fn new(jobs: &Path, mut ear: Ear) -> Bay {
        let text = std::fs::read_to_string(BOOK).unwrap();
        let book = Arc::new(procedure::load(Path::new(BOOK)).unwrap());
        let folder = Folder::create(jobs, &text, &book, At(0)).unwrap();
        let mut talk = Conversation::new(Language::english(), Manner::default(), Job::new(book), folder);
        talk.begin(At(0)).unwrap();
        for _ in 0..2 {
            talk.read("done", At(0)).unwrap();
        }
        talk.announced(At(0));
        ear.reset().unwrap();
        Bay { talk, ear, now: 0, speaks: None, heard: 0 }
    }

    /// Stages recorded.
    fn counted(&self) -> usize {
        self.talk.job().facts().iter().filter(|f| matches!(f.fact, Fact::Stage { .. })).count()
    }

    fn hear(&mut self, sound: &[i16]) {
        for piece in sound.chunks(PIECE) {
            if let Some(end) = self.speaks.filter(|&end| self.now >= end) {
                self.talk.announced(At(end));
                self.speaks = None;
            }
            self.ear.attune(&self.talk, "").unwrap();
            let mut utterance = self.ear.push(piece).unwrap();
            self.now += milliseconds(piece.len());
            while let Some(said) = utterance {
                let ago = milliseconds((self.ear.taken() - said.began) as usize);
                let (began, now) = (At(self.now - ago), At(self.now));
                self.heard += usize::from(said.phrase.is_some());
                let turn = self.ear.answer(&mut self.talk, &said, began, now).unwrap();
                if turn.hush {
                    self.speaks = None;
                }
                if turn.announces {
                    let words: usize = turn.sentences.iter().map(|s| s.spoken.split(' ').count()).sum();
                    self.speaks = Some(self.now + WORD * words as i64);
                }
                self.ear.attune(&self.talk, "").unwrap();
                utterance = self.ear.push(&[]).unwrap();
            }
        }
    }

    fn silence(&mut self, milliseconds: i64) {
        self.hear(&vec![0; usize::try_from(milliseconds).unwrap() * RATE as usize / 1_000]);
    }
}

fn milliseconds(samples: usize) -> i64 {
    i64::try_from(samples * 1_000 / RATE as usize).unwrap()
}

/// From the first to the last sample that is loud.
fn trimmed(sound: &[i16]) -> &[i16] {
    let loud = |s: &i16| s.unsigned_abs() > 600;
    let (first, last) = (sound.iter().position(loud).unwrap_or(0), sound.iter().rposition(loud).unwrap_or(0));
    &sound[first..=last]
}

fn ear() -> Ear {
    let places = Places::here();
    onnx::load(&places.onnx_runtime(None).unwrap()).unwrap();
    let judge = Second::find(&places, None).unwrap().open().unwrap();
    let vosk = VoskRecogniser::open(&places.listener(None).unwrap()).unwrap();
    Ear::new(Listener::new(Box::new(vosk), Some(judge)))
}

/// One claim, the same again after `gap`, and again once the answer is at its end.
fn say(claim: &Claim, gap: i64, jobs: &Path, ear: Ear, counts: &Mutex<Counts>) -> Ear {
    let sound = read_sound(&claim.file).unwrap();
    let sound = trimmed(&sound);
    let mut bay = Bay::new(jobs, ear);
    bay.silence(500);
    bay.hear(sound);
    bay.silence(gap);
    let (spoken_over, before) = (bay.speaks.is_some() || bay.counted() == 0, bay.counted());
    bay.hear(sound);
    bay.silence(1_500);
    let counted = bay.counted();
    // The answer, whatever it says by now, is heard to its end.
    while bay.speaks.is_some() {
        bay.silence(100);
    }
    bay.silence(400);
    let heard = bay.heard;
    bay.hear(sound);
    bay.silence(1_500);
    let mut counts = counts.lock().unwrap();
    counts.of += 1;
    let most = if spoken_over { before.max(1) } else { before + 1 };
    if counted > most {
        counts.twice += 1;
        eprintln!("counted twice: {} by {}, again after {gap} ms", claim.text, claim.voice);
    }
    counts.unheard += usize::from(counted == 0);
    match (bay.heard > heard, bay.counted() == counted + 1) {
        (true, false) => {
            counts.lost += 1;
            eprintln!("lost: {} by {}, after two {gap} ms apart", claim.text, claim.voice);
        }
        (false, _) => counts.missed += 1,
        _ => {}
    }
    bay.ear
}

fn measure(said: &[(Claim, i64)]) -> Counts {
    let (next, counts) = (AtomicUsize::new(0), Mutex::new(Counts::default()));
    let jobs = tempfile::tempdir().unwrap();
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                let mut ear = ear();
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    let Some((claim, gap)) = said.get(at) else { break };
                    let folder = jobs.path().join(at.to_string());
                    ear = say(claim, *gap, &folder, ear, &counts);
                }
            });
        }
    });
    counts.into_inner().unwrap()
}

#[test]
fn a_claim_said_twice_counts_once_and_one_after_the_answer_counts() {
    let voices = ["joe", "us", "rp", "f3", "slt", "rms"];
    let texts = ["stage complete", "that one is done", "all done"];
    let mut said = Vec::new();
    for (v, voice) in voices.iter().enumerate() {
        for (t, text) in texts.iter().enumerate() {
            let file = PathBuf::from(format!("audio-fixtures/clean/{voice}-{}.flac", text.replace(' ', "-")));
            let claim = Claim { voice: (*voice).into(), text: (*text).into(), file };
            // Each voice and each phrase meets gaps of every size.
            said.extend([0, 3].map(|more| (claim.clone(), GAPS[(v + 2 * t + more) % GAPS.len()])));
        }
    }
    let counts = measure(&said);
    println!("{counts:?}");
    assert_eq!((counts.twice, counts.lost), (0, 0), "{counts:?}");
    assert!(counts.unheard <= 2 && counts.missed <= 2, "{counts:?}");
}

/// "No" to most questions does nothing; to this one it makes the angle pending again.
#[test]
fn no_has_to_be_heard_as_surely_as_a_claim_where_it_is_one() {
    let jobs = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(BOOK).unwrap();
    let book = Arc::new(procedure::load(Path::new(BOOK)).unwrap());
    let folder = Folder::create(jobs.path(), &text, &book, At(0)).unwrap();
    let mut talk = Conversation::new(Language::english(), Manner::default(), Job::new(book), folder);
    talk.begin(At(0)).unwrap();
    let harm = |talk: &Conversation| talk.phrases().into_iter().find(|p| p.text == "no thanks").map(|p| p.harm);
    for line in ["done", "done", "done", "done", "undo"] {
        talk.read(line, At(0)).unwrap();
    }
    assert_eq!(harm(&talk), Some(Harm::None));
    let turn = talk.read("yes", At(0)).unwrap();
    assert!(turn.sentences.iter().any(|s| s.written.ends_with("was it turned at all?")), "{turn:?}");
    assert_eq!(harm(&talk), Some(Harm::Claims));
}

/// All claims of a set made by `scripts/make-hearing-set --only command`, in the folder that HEARING_SET names.
#[test]
#[ignore = "a measurement: docs/hearing.md has its figures"]
fn many_voices_at_every_gap() {
    let folder = PathBuf::from(std::env::var("HEARING_SET").unwrap_or_else(|_| "out/hearing-set".into()));
    let manifest = std::fs::read_to_string(folder.join("manifest.tsv")).expect("scripts/make-hearing-set makes it");
    let rows = manifest.lines().skip(1).map(|line| line.split('\t').collect::<Vec<_>>());
    let claims: Vec<Claim> = rows
        .filter(|row| row[1] == "command" && row[3] == "done")
        .map(|row| Claim { voice: row[4].into(), text: row[2].into(), file: folder.join(row[0]) })
        .collect();
    let voices: std::collections::BTreeSet<&str> = claims.iter().map(|c| c.voice.as_str()).collect();
    let mut said = Vec::new();
    for (v, voice) in voices.iter().enumerate() {
        let own: Vec<&Claim> = claims.iter().filter(|c| c.voice == *voice).collect();
        // Each voice meets every gap, and its phrases take turns.
        said.extend(GAPS.iter().enumerate().map(|(g, gap)| (own[(v + g) % own.len()].clone(), *gap)));
    }
    let counts = measure(&said);
    println!("{} voices: {counts:?}", voices.len());
    assert_eq!((counts.twice, counts.lost), (0, 0), "{counts:?}");
}
