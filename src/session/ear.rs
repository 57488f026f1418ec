//! A source of sound and the listener on it, kept to the phrases of the moment.

use super::awaited::Key;
use super::notes::{self, Became, Recorder};
use super::{LearntVoice, Talker, Trouble, Turn};
use crate::dialogue::Notice;
use crate::job::At;
use crate::journal::JournalError;
use crate::listen::{Halt, ListenError, Listener, Microphone, Open, Phrase, RATE, SoundFile, Utterance};
use std::collections::HashSet;
use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::{self, Receiver, TryRecvError};
use std::time::{Duration, Instant};

/// Where sound comes from: 16 kHz mono.
pub trait Source {
    /// The sound since the last call, possibly none; `None` once there will be no more.
    fn read(&mut self) -> Result<Option<Vec<i16>>, ListenError>;
    /// The name of the device that it comes from, if it is one.
    fn name(&self) -> Option<&str> {
        None
    }
    /// What is missing ahead of the sound that was read last: so many samples never came, as far as that is known. What is on
    /// both sides of it does not belong together.
    fn gap(&mut self) -> Option<usize> {
        None
    }
    /// Does it come by itself, at the pace of the clock?
    fn is_live(&self) -> bool;
    /// Troubles since the last call that it goes on after, each to be told once.
    fn troubles(&mut self) -> Vec<Trouble> {
        Vec::new()
    }
}

/// A microphone that fails is tried again so soon, because it may only have stumbled.
const FIRST_RETRY: Duration = Duration::from_millis(300);
/// How often it is tried again after that.
const RETRY: Duration = Duration::from_secs(3);

/// A microphone that brings nothing at all for so long is dead, whatever it says; silence is sound too.
const STALLED: Duration = Duration::from_secs(3);

/// The microphone. One that dies is told, and opened again as soon as it is back. Opening may take seconds, so a thread
/// of its own does it: the session goes on meanwhile, and can be ended.
pub struct LiveSound {
    device: Option<String>,
    state: Microphones,
    /// Why it was lost, until it is tried again for the first time: one that merely stumbled is no news.
    stumbled: Option<String>,
    troubles: Vec<Trouble>,
    /// When sound last came from one that was lost, until sound comes again.
    broke: Option<Instant>,
    /// What is missing ahead of the sound that was read last.
    gap: Option<usize>,
}

enum Microphones {
    /// With the moment of its last sound.
    Open(Box<Microphone>, Instant),
    /// None; it is to be tried again at this moment.
    Lost(Instant),
    Opening(Receiver<Result<Microphone, ListenError>>),
}
impl LiveSound {
    /// The microphone with this name, or the default one. It must open now.
    pub fn open(device: Option<String>) -> Result<LiveSound, ListenError> {
        let microphone = Microphone::open(device.as_deref())?;
        Ok(LiveSound {
            device,
            state: Microphones::Open(Box::new(microphone), Instant::now()),
            stumbled: None,
            troubles: Vec::new(),
            broke: None,
            gap: None,
        })
    }

    fn try_again(&self) -> Microphones {
        let (tell, told) = mpsc::channel();
        let device = self.device.clone();
        let opening = std::thread::Builder::new().name("microphone again".into()).spawn(move || {
            // A session that has ended meanwhile has no use for it.
            let _ = tell.send(Microphone::open(device.as_deref()));
        });
        match opening {
            Ok(_) => Microphones::Opening(told),
            Err(_) => Microphones::Lost(Instant::now() + RETRY),
        }
    }
}

impl Source for LiveSound {
    fn read(&mut self) -> Result<Option<Vec<i16>>, ListenError> {
        match &mut self.state {
            Microphones::Open(microphone, last) => {
                let trouble = match microphone.read() {
                    Ok(piece) if !piece.is_empty() => {
                        let lost = self.broke.take().map(|since| samples(since.elapsed()).saturating_sub(piece.len()));
                        self.gap = lost.or(microphone.gap().map(samples));
                        *last = Instant::now();
                        return Ok(Some(piece));
                    }
                    Ok(_) if last.elapsed() < STALLED => return Ok(Some(Vec::new())),
                    Ok(_) => format!("{}: no more sound comes from it", microphone.device()),
                    Err(error) => error.to_string(),
                };
                self.stumbled = Some(trouble);
                self.broke.get_or_insert(*last);
                self.state = Microphones::Lost(Instant::now() + FIRST_RETRY);
            }
            Microphones::Lost(again) => {
                if Instant::now() >= *again {
                    self.state = self.try_again();
                }
            }
            Microphones::Opening(told) => match told.try_recv() {
                Ok(Ok(microphone)) => {
                    if self.stumbled.take().is_none() {
                        self.troubles.push(Trouble::over(Notice::MicrophoneBack));
                    }
                    self.state = Microphones::Open(Box::new(microphone), Instant::now());
                }
                Err(TryRecvError::Empty) => {}
                Ok(Err(_)) | Err(TryRecvError::Disconnected) => {
                    // Told once; that it still fails is no news.
                    let stumbled = self.stumbled.take();
                    self.troubles.extend(stumbled.map(|reason| Trouble::lost(Notice::MicrophoneLost, reason)));
                    self.state = Microphones::Lost(Instant::now() + RETRY);
                }
            },
        }
        Ok(Some(Vec::new()))
    }

    fn name(&self) -> Option<&str> {
        match &self.state {
            Microphones::Open(microphone, _) => Some(microphone.device()),
            Microphones::Lost(_) | Microphones::Opening(_) => self.device.as_deref(),
        }
    }

    fn gap(&mut self) -> Option<usize> {
        self.gap.take()
    }

    fn is_live(&self) -> bool {
        true
    }

    fn troubles(&mut self) -> Vec<Trouble> {
        std::mem::take(&mut self.troubles)
    }
}

/// An answer goes into a hole of so many samples, whether or not anybody was heard to speak: "yes" and "no" take 0.15 to 0.35 s,
/// "all done" hardly more, and what is shorter a microphone seldom knows of.
pub(super) const HOLE: usize = RATE as usize / 5;

/// How many samples there are in so long a time.
fn samples(time: Duration) -> usize {
    (time.as_secs_f64() * f64::from(RATE)) as usize
}

/// Recorded sound, given in the pieces a microphone would give. A second of silence is added, so that its last word has an
/// end.
pub struct Recording {
    /// What is still to be read, until that was all.
    file: Option<SoundFile>,
    waiting: Vec<i16>,
    /// How much of that was given.
    at: usize,
}

impl Recording {
    /// A recording of 16 kHz mono samples.
    pub fn new(mut samples: Vec<i16>) -> Recording {
        samples.resize(samples.len() + RATE as usize, 0);
        Recording { file: None, waiting: samples, at: 0 }
    }

    /// A recording in a file, read as it is listened to.
    pub fn open(path: &Path) -> Result<Recording, ListenError> {
        Ok(Recording { file: Some(SoundFile::open(path)?), waiting: Vec::new(), at: 0 })
    }

    /// Sees to it that a whole piece waits, if there is still one.
    fn fill(&mut self) -> Result<(), ListenError> {
        while let Some(file) = self.file.as_mut().filter(|_| self.waiting.len() - self.at < PIECE) {
            self.waiting.drain(..self.at);
            self.at = 0;
            match file.read()? {
                Some(more) => self.waiting.extend(more),
                None => {
                    self.waiting.resize(self.waiting.len() + RATE as usize, 0);
                    self.file = None;
                }
            }
        }
        Ok(())
    }
}

/// Samples in a piece of recorded sound: 100 ms.
pub const PIECE: usize = RATE as usize / 10;

impl Source for Recording {
    fn read(&mut self) -> Result<Option<Vec<i16>>, ListenError> {
        self.fill()?;
        let rest = &self.waiting[self.at..];
        let piece = &rest[..rest.len().min(PIECE)];
        self.at += piece.len();
        Ok((!piece.is_empty()).then(|| piece.to_vec()))
    }

    fn is_live(&self) -> bool {
        false
    }
}

/// What may be said at a moment of a conversation.
pub struct Moment {
    key: Key,
    phrases: Vec<Phrase>,
    readings: Arc<dyn Open>,
}

impl Key {
    /// What may be said in the conversation now, while the program says `said`, or has just said it.
    pub fn of(talk: &dyn Talker, note: &Recorder, said: &str) -> Key {
        Key { noting: talk.is_noting().then(|| note.number()), said: said.to_owned(), ..talk.awaits() }
    }

    /// All that belongs to it. `talk` is the conversation that it was taken from, unchanged.
    pub fn moment(self, talk: &dyn Talker) -> Moment {
        Moment { phrases: talk.phrases_beside(&self.said), readings: talk.readings_beside(&self.said), key: self }
    }
}

/// Tells a listener what may be said. Places and values are named in the words of a procedure or a page, and a model need not
/// know them all: what it cannot hear is left to the keyboard. The language's own words are checked by `doctor`. Words that the
/// model turned out to lack are kept, since each costs a telling.
pub(super) fn listen_for(
    listener: &mut Listener,
    mut phrases: Vec<Phrase>,
    unknown: &mut HashSet<String>,
) -> Result<(), ListenError> {
    phrases.retain(|phrase| !phrase.text.split(' ').any(|word| unknown.contains(word)));
    loop {
        match listener.listen_for(&phrases) {
            Err(ListenError::UnknownWord { phrase, word }) if phrases.len() > 1 => {
                tracing::warn!(phrase, word, "the model does not know a word; what has it is left out");
                phrases.retain(|p| p.text != phrase && !p.text.split(' ').any(|w| w == word));
                unknown.insert(word);
            }
            other => return other,
        }
    }
}

/// A listener that is told what may be said whenever that changes.
pub struct Ear {
    listener: Listener,
    /// What the phrases in force were made for.
    known: Option<Key>,
    /// Words of phrases that the model lacks.
    unknown: HashSet<String>,
    /// Samples taken, as the listener counts them.
    taken: u64,
    /// The note being recorded.
    note: Recorder,
    /// The user's own voice.
    own: Option<LearntVoice>,
    /// What could not be learnt of it, to be told.
    unlearnt: Vec<Trouble>,
}

impl Ear {
    /// An ear that knows no phrases yet.
    pub fn new(listener: Listener) -> Ear {
        let taken = listener.position();
        let (note, unknown) = (Recorder::default(), HashSet::new());
        Ear { listener, known: None, unknown, taken, note, own: None, unlearnt: Vec::new() }
    }

    /// Gives what was heard to the conversation, its first sound at `began`, and learns from what becomes of it.
    pub fn answer(&mut self, talk: &mut dyn Talker, said: &Utterance, began: At, at: At) -> Result<Turn, JournalError> {
        if let Some(sound) = self.take_own_words() {
            talk.own_words(sound);
        }
        let (turn, became) = notes::answer(talk, self.note(), said, began, at)?;
        self.learn(said, &became);
        Ok(turn)
    }

    /// Listens for what may be said in the conversation now. What the program's own voice says, as `said`, is no command
    /// where the microphone can hear it.
    pub fn attune(&mut self, talk: &dyn Talker, said: &str) -> Result<(), ListenError> {
        let key = Key::of(talk, &self.note, said);
        if self.known.as_ref() == Some(&key) {
            return Ok(());
        }
        self.attune_to(&key.moment(talk))
    }

    /// Listens for what may be said at this moment.
    pub fn attune_to(&mut self, moment: &Moment) -> Result<(), ListenError> {
        let Moment { key, phrases, readings } = moment;
        match key.noting {
            // The program's own voice, telling that the note begins, is no part of it.
            Some(number) if key.said.is_empty() => self.note.begin(number, self.taken),
            Some(_) => {}
            None => self.note.forget(),
        }
        listen_for(&mut self.listener, phrases.clone(), &mut self.unknown)?;
        self.listener.also_for(Some(readings.clone()));
        self.listener.rest(key.waiting);
        let named = key.strip.is_some_and(|strip| strip.name);
        self.listener.await_words(named && key.listening && key.noting.is_none());
        // The first of these lines tells from when on it listens.
        tracing::debug!(listening = key.listening, "it listens");
        self.known = Some(key.clone());
        Ok(())
    }

    /// Knows the user's own voice from now on, or nobody's, and goes on learning it.
    pub fn know(&mut self, own: Option<LearntVoice>) {
        if own.is_some() {
            self.listener.keep_sound();
        }
        self.listener.know(own.as_ref().map(LearntVoice::known));
        self.own = own;
    }

    /// Learns from what became of an utterance: what was asked back and confirmed is how the user says it.
    pub fn learn(&mut self, said: &Utterance, became: &Became) {
        let kept = self.listener.take_kept();
        let Some(own) = &mut self.own else { return };
        match own.learn(&mut self.listener, said, kept, &became.turn, became.confirmed.as_deref(), became.at) {
            Ok(false) => {}
            Ok(true) => self.listener.know(Some(own.known())),
            Err(reason) => self.unlearnt.push(Trouble::failure(reason)),
        }
    }

    /// Takes a piece of sound; gives an utterance once one is complete. Push an empty piece until there is none.
    pub fn push(&mut self, piece: &[i16]) -> Result<Option<Utterance>, ListenError> {
        // Counted first: it came, whatever becomes of it.
        self.taken += piece.len() as u64;
        let utterance = self.listener.push(piece)?;
        self.note.lay(piece, utterance.is_some() || self.listener.speaking());
        Ok(utterance)
    }

    /// The sound of the utterance given last, if words of the user's own were awaited and it may be such.
    pub fn take_own_words(&mut self) -> Option<Vec<i16>> {
        self.listener.take_own_words()
    }

    /// So many samples never came. What was being said is not put together across them; a note has silence there.
    pub fn skip(&mut self, samples: usize) -> Result<(), ListenError> {
        self.taken += samples as u64;
        self.note.fill(self.taken);
        self.listener.skip(samples as u64)
    }

    /// In what never came there may have been words of which nobody tells.
    pub fn missed(&mut self) {
        self.listener.missed();
    }

    /// Is it time to tell that? Where the program was told not to listen, or the job is put down, hardly anybody speaks to it.
    pub fn take_missed(&mut self) -> bool {
        let awaits = self.known.as_ref().is_some_and(|key| key.listening && !key.waiting);
        self.listener.take_missed() && awaits
    }

    /// Goes on after a fault of the program: what was being said is lost, and positions are what they would have been.
    pub fn outlive(&mut self) -> Result<(), ListenError> {
        self.note.fill(self.taken);
        self.listener.go_on_at(self.taken)
    }

    /// The note being recorded, if one is.
    pub fn note(&self) -> &Recorder {
        &self.note
    }

    /// What breaks off a wait of this ear, from another thread and for good.
    pub fn halt(&self) -> Option<Halt> {
        self.listener.halt()
    }

    /// Troubles of hearing since the last call that it went on after, each to be told once.
    pub fn troubles(&mut self) -> Vec<Trouble> {
        let lost = |reason| Trouble::lost(Notice::Misheard, reason);
        let second = self.listener.second_lost().map(|reason| Trouble::lost(Notice::SecondLost, reason));
        self.listener.troubles().into_iter().map(lost).chain(second).chain(self.unlearnt.drain(..)).collect()
    }

    /// Is somebody speaking, as far as it is known?
    pub fn speaking(&self) -> bool {
        self.listener.speaking()
    }

    /// Samples taken so far: where the next piece begins.
    pub fn taken(&self) -> u64 {
        self.taken
    }

    /// Samples worked through.
    pub fn position(&self) -> u64 {
        self.listener.position()
    }

    /// Forgets the sound so far, a note among it, and the conversation that it came from: what comes next may belong to
    /// another job.
    pub fn reset(&mut self) -> Result<(), ListenError> {
        self.note.take();
        self.known = None;
        self.listener.reset()
    }
}
