//! The wall between the program and libvosk: the recogniser's process is killed on purpose, and that costs one
//! utterance.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};
use wrenchside::assets::Places;
use wrenchside::listen::{
    Harm, Hypothesis, ListenError, Listener, Phrase, RATE, Recogniser, RecogniserProcess, Utterance, VoskRecogniser,
    read_sound,
};

const PROGRAM: &str = env!("CARGO_BIN_EXE_wrenchside");
const PIECE: usize = RATE as usize / 10;

fn model() -> PathBuf {
    Places::here().listener(None).unwrap()
}

fn walled() -> RecogniserProcess {
    RecogniserProcess::start(Path::new(PROGRAM), &model()).unwrap()
}

fn phrases() -> Vec<Phrase> {
    ["next step", "say again", "how much torque", "where am i", "what size"]
        .map(|text| Phrase { text: text.into(), harm: Harm::None })
        .to_vec()
}

/// A command, with a second of silence around it.
fn said(name: &str) -> Vec<i16> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("audio-fixtures/clean/joe-{name}.flac"));
    let mut sound = vec![0; RATE as usize];
    sound.extend(read_sound(&file).unwrap());
    sound.resize(sound.len() + RATE as usize, 0);
    sound
}

fn push(listener: &mut Listener, sound: &[i16]) -> Vec<Utterance> {
    let pushed = sound.chunks(PIECE).map(|piece| listener.push(piece).expect("no death of it ends the listening"));
    pushed.flatten().collect()
}

fn kill(process: u32) {
    // The shell's own: not every machine has a program of this name.
    let done = Command::new("sh").args(["-c", &format!("kill -9 {process}")]).status().unwrap();
    assert!(done.success());
}

#[test]
fn behind_the_wall_it_hears_the_very_same() {
    let (mut there, mut here) = (walled(), VoskRecogniser::open(&model()).unwrap());
    for recogniser in [&mut there as &mut dyn Recogniser, &mut here] {
        recogniser.listen_for(&phrases()).unwrap();
    }
    for name in ["next-step", "how-much-torque"] {
        for piece in said(name).chunks(PIECE) {
            assert_eq!(there.accept(piece).unwrap(), here.accept(piece).unwrap());
        }
        let heard = there.finish().unwrap();
        assert_eq!(heard, here.finish().unwrap());
        assert_eq!(Hypothesis::of(&heard).text, name.replace('-', " "));
    }
    let strange = [Phrase { text: "next xyzzy".into(), harm: Harm::None }];
    let told = there.listen_for(&strange).unwrap_err();
    assert!(matches!(&told, ListenError::UnknownWord { word, .. } if word == "xyzzy"), "{told}");
}

/// A listener, and the number of its recogniser's process.
fn listener(program: &Path) -> (Listener, u32) {
    let recogniser = RecogniserProcess::start(program, &model()).unwrap();
    let process = recogniser.id().unwrap();
    let mut listener = Listener::new(Box::new(recogniser), None);
    listener.listen_for(&phrases()).unwrap();
    (listener, process)
}

#[test]
fn killed_in_the_middle_of_a_command_it_costs_nothing() {
    let (mut listener, process) = listener(Path::new(PROGRAM));
    let heard = push(&mut listener, &said("next-step"));
    assert_eq!(heard.len(), 1);
    assert_eq!(heard[0].phrase.as_deref(), Some("next step"));

    let second = said("how-much-torque");
    let middle = RATE as usize * 16 / 10;
    assert!(push(&mut listener, &second[..middle]).is_empty());
    assert!(listener.speaking());
    kill(process);
    let heard = push(&mut listener, &second[middle..]);
    assert_eq!(heard.last().unwrap().phrase.as_deref(), Some("how much torque"));
    assert!(listener.troubles().is_empty());
}

fn signal(process: u32, name: &str) {
    let done = Command::new("sh").args(["-c", &format!("kill -{name} {process}")]).status().unwrap();
    assert!(done.success());
}

#[test]
fn one_that_hangs_in_the_middle_of_a_command_is_replaced_and_costs_nothing() {
    let (mut listener, process) = listener(Path::new(PROGRAM));
    let command = said("how-much-torque");
    let middle = RATE as usize * 16 / 10;
    assert!(push(&mut listener, &command[..middle]).is_empty());
    signal(process, "STOP");
    let began = Instant::now();
    let heard = push(&mut listener, &command[middle..]);
    assert_eq!(heard.last().unwrap().phrase.as_deref(), Some("how much torque"));
    assert!(listener.troubles().is_empty());
    assert!(began.elapsed() < Duration::from_secs(9), "{:?}", began.elapsed());
    assert!(!Path::new(&format!("/proc/{process}")).exists(), "it is ended, and no zombie is left of it");
}

/// More than the pipe between the two holds.
#[test]
fn one_that_hangs_and_reads_nothing_holds_up_nobody_who_writes_to_it() {
    let mut recogniser = walled();
    recogniser.listen_for(&phrases()).unwrap();
    signal(recogniser.id().unwrap(), "STOP");
    let (began, halt) = (Instant::now(), recogniser.halt().unwrap());
    let waiting = std::thread::spawn(move || recogniser.accept(&vec![100; RATE as usize * 30]).map(drop));
    std::thread::sleep(Duration::from_millis(200));
    assert!(!waiting.is_finished());
    halt();
    let told = waiting.join().unwrap().unwrap_err();
    assert!(began.elapsed() < Duration::from_millis(700), "{:?}: {told}", began.elapsed());
}

/// Talks nonsense, or says that it cannot, whenever it gets sound, until a file is there.
#[test]
fn one_that_answers_nonsense_or_fails_is_replaced_and_told() {
    for answer in
        ["J\\005\\000\\000\\000oops!", "J\\017\\000\\000\\000{\"Failed\":\"no\"}", "J\\007\\000\\000\\000\"Ready\""]
    {
        let folder = tempfile::tempdir().unwrap();
        let cured = folder.path().join("cured");
        let program = folder.path().join("program");
        let ready = "J\\007\\000\\000\\000\"Ready\"J\\013\\000\\000\\000\"Listening\"";
        // It is told the phrases first; whatever it gets then it answers in its own way.
        let script = format!(
            "#!/bin/sh\nif [ -e '{}' ]; then exec '{PROGRAM}' \"$@\"; fi\nprintf '{ready}'\ndd bs=1 count=2000 >/dev/null 2>&1\n\
             printf '{answer}'\nexec cat >/dev/null\n",
            cured.display()
        );
        std::fs::write(&program, script).unwrap();
        std::fs::set_permissions(&program, std::os::unix::fs::PermissionsExt::from_mode(0o755)).unwrap();
        let (mut listener, _) = listener(&program);
        let command = said("next-step");
        let heard = push(&mut listener, &command);
        assert!(heard.iter().all(|utterance| utterance.phrase.is_none()), "{heard:?}");
        let troubles = listener.troubles();
        assert!(!troubles.is_empty() && troubles[0].contains("say it once more"), "{answer}: {troubles:?}");
        std::fs::write(&cured, "").unwrap();
        let heard = push(&mut listener, &command);
        assert_eq!(heard.last().unwrap().phrase.as_deref(), Some("next step"));
    }
}

#[test]
fn killed_while_nobody_speaks_it_costs_nothing() {
    let (mut listener, process) = listener(Path::new(PROGRAM));
    assert_eq!(push(&mut listener, &said("say-again")).len(), 1);
    kill(process);
    let heard = push(&mut listener, &said("where-am-i"));
    assert_eq!(heard.last().unwrap().phrase.as_deref(), Some("where am i"));
    assert!(listener.troubles().is_empty());
}

/// As it would be with a sound that libvosk cannot stand: the process dies whenever it gets sound, until a file is
/// there.
#[test]
fn sound_that_kills_it_each_time_costs_one_utterance() {
    let folder = tempfile::tempdir().unwrap();
    let cured = folder.path().join("cured");
    let program = folder.path().join("program");
    // Lets the phrases through and little sound, and then dies, as long as it is not cured.
    let script = format!(
        "#!/bin/sh\nif [ -e '{}' ]; then exec '{PROGRAM}' \"$@\"; fi\ndd bs=1 count=500 2>/dev/null | '{PROGRAM}' \"$@\"\n",
        cured.display()
    );
    std::fs::write(&program, script).unwrap();
    std::fs::set_permissions(&program, std::os::unix::fs::PermissionsExt::from_mode(0o755)).unwrap();

    let (mut listener, _) = listener(&program);
    let command = said("next-step");
    let heard = push(&mut listener, &command);
    assert!(heard.iter().all(|utterance| utterance.phrase.is_none()), "{heard:?}");
    let troubles = listener.troubles();
    assert!(!troubles.is_empty() && troubles[0].contains("say it once more"), "{troubles:?}");

    std::fs::write(&cured, "").unwrap();
    let heard = push(&mut listener, &command);
    assert_eq!(heard.last().unwrap().phrase.as_deref(), Some("next step"));
}

#[test]
fn a_whole_replay_goes_on_as_if_nothing_had_been() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let jobs = tempfile::tempdir().unwrap();
    let mut replay = Command::new(PROGRAM)
        .current_dir(root)
        .arg("--jobs")
        .arg(jobs.path())
        .args(["replay", "--silent", "audio-fixtures/scenarios/noisy.toml"])
        .stdout(std::process::Stdio::null())
        .spawn()
        .unwrap();
    let mut killed = 0;
    let mut before = String::new();
    let status = loop {
        if let Some(status) = replay.try_wait().unwrap() {
            break status;
        }
        let children = std::fs::read_to_string(format!("/proc/{0}/task/{0}/children", replay.id())).unwrap_or_default();
        let before = std::mem::replace(&mut before, children.clone());
        // Only what was there at the last look: a busy machine may still be loading the first, without which nothing begins.
        for child in children.split_whitespace().filter(|child| before.split_whitespace().any(|there| there == *child))
        {
            // One that has just ended by itself is no matter.
            let done = Command::new("sh").args(["-c", &format!("kill -9 {child}")]).status().unwrap();
            killed += u32::from(done.success());
        }
        // Far enough apart that no command meets two deaths, which would cost it.
        std::thread::sleep(std::time::Duration::from_millis(1_200));
    };
    assert!(killed >= 1, "killed {killed} times only");
    assert!(status.success(), "{status}, killed {killed} times");
}

#[test]
fn a_program_that_is_none_is_refused() {
    let refused = |program: &str| RecogniserProcess::start(Path::new(program), &model()).err().unwrap().to_string();
    assert!(refused("no/such/program").contains("no/such/program"));
    assert!(refused("/bin/true").contains("ends when it loads the model"), "{}", refused("/bin/true"));
}
