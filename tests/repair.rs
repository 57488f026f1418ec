//! Half-heard commands: nothing happens by them, what would do something is asked back, and a second miss brings help.

#[path = "common/talk.rs"]
mod talk;

use talk::talk;
use wrenchside::job::At;
use wrenchside::listen::{Hypothesis, Utterance};
use wrenchside::session::{Conversation, Turn};

fn utterance(phrase: Option<&str>, nearly: Option<&str>, text: &str) -> Utterance {
    Utterance {
        phrase: phrase.map(str::to_owned),
        nearly: nearly.map(str::to_owned),
        heard: Hypothesis { text: text.into(), confidence: 0.7 },
        judgement: None,
        written: None,
        own: None,
        began: 0,
        ended: 0,
        decided: 0,
        thinking: Default::default(),
    }
}

fn half(talk: &mut Conversation, text: &str, at: i64) -> Turn {
    talk.hear(&utterance(None, Some(text), text), At(at), At(at)).unwrap()
}

/// Words that follow once all is said.
fn whole(talk: &mut Conversation, text: &str, at: i64) -> Turn {
    talk.announced(At(at));
    talk.hear(&utterance(Some(text), None, text), At(at), At(at)).unwrap()
}

fn written(turn: &Turn) -> String {
    turn.sentences.iter().map(|s| s.written.as_str()).collect::<Vec<_>>().join(" ")
}

fn journal(talk: &Conversation) -> String {
    std::fs::read_to_string(talk.folder().path().join("journal.jsonl")).unwrap()
}

#[test]
fn a_doubtful_command_is_done_only_after_a_yes() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = talk(jobs.path());
    let (before, step) = (journal(&talk), talk.job().position());
    assert!(!talk.expects().0.yes_no);
    let turn = half(&mut talk, "mark this step", 1_000);
    assert_eq!(written(&turn), "Did you say: mark this step?");
    assert!(talk.expects().0.yes_no && talk.phrases().iter().any(|p| p.text == "yes please"));
    assert_eq!((journal(&talk), talk.job().position()), (before, step));
    let turn = whole(&mut talk, "yes please", 2_000);
    assert_eq!(written(&turn), "Step 3 is marked.");
    assert!(!talk.expects().0.yes_no);
}

#[test]
fn a_no_or_anything_else_leaves_it() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = talk(jobs.path());
    let before = journal(&talk);
    half(&mut talk, "mark this step", 1_000);
    assert_eq!(written(&whole(&mut talk, "no thanks", 2_000)), "Nothing changed.");
    half(&mut talk, "mark this step", 3_000);
    assert!(written(&whole(&mut talk, "where am i", 4_000)).contains("Step 3 of 36."));
    // By now it is not even listened for.
    assert_eq!(written(&whole(&mut talk, "yes please", 5_000)), "");
    half(&mut talk, "mark this step", 6_000);
    // Too late for that question.
    assert_eq!(written(&whole(&mut talk, "yes please", 60_000)), "There is no question to answer.");
    assert_eq!(journal(&talk), before);
}

#[test]
fn a_question_of_the_job_is_never_mixed_with_one_asked_back() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = talk(jobs.path());
    whole(&mut talk, "skip this step", 1_000);
    assert!(talk.job().question().is_some());
    let turn = half(&mut talk, "mark this step", 2_000);
    assert!(turn.sentences.is_empty(), "{turn:?}");
    whole(&mut talk, "no thanks", 3_000);
    assert!(talk.job().question().is_none());
}

#[test]
fn harmless_words_are_not_asked_back_and_two_misses_bring_help() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = talk(jobs.path());
    let missed = utterance(None, None, "how much torque");
    let turn = talk.hear(&missed, At(1_000), At(1_000)).unwrap();
    assert!(turn.sentences.is_empty() && turn.tone.is_some());
    let turn = talk.hear(&missed, At(2_000), At(2_000)).unwrap();
    assert_eq!(written(&turn), "I did not get that. To hear what can be said, say: what can I say.");
    // Talk beside the job gets no answer at all.
    let turn = talk.hear(&utterance(None, None, "cup of tea"), At(3_000), At(3_000)).unwrap();
    assert_eq!(turn, Turn::default());
}

/// At the first bolt of the bench, 15 N·m, announced by 1,000.
fn at_the_bolt(jobs: &std::path::Path) -> Conversation {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/bench-bracket.toml");
    let text = std::fs::read_to_string(&path).unwrap();
    let book = std::sync::Arc::new(wrenchside::procedure::load(&path).unwrap());
    let folder = wrenchside::journal::Folder::create(jobs, &text, &book, At(0)).unwrap();
    let (language, job) = (wrenchside::dialogue::Language::english(), wrenchside::job::Job::new(book));
    let mut talk = Conversation::new(language, Default::default(), job, folder);
    talk.begin(At(0)).unwrap();
    for line in ["done", "yes", "done", "done"] {
        talk.read(line, At(1)).unwrap();
    }
    talk.announced(At(1_000));
    talk
}

fn sent(talk: &mut Conversation, reading: &str, at: i64) -> String {
    written(&talk.measured(reading.parse().unwrap(), "wrench", At(at), At(at)).unwrap())
}

#[test]
fn a_reading_that_a_tool_sends_twice_counts_once() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = at_the_bolt(jobs.path());
    assert!(sent(&mut talk, "15 N·m", 2_000).contains("Logged 15 N·m from the wrench"));
    let before = journal(&talk);
    assert_eq!(sent(&mut talk, "15 N·m", 2_300), "");
    // Nor the next bolt, even where that was announced within the blink of an eye.
    talk.announced(At(2_400));
    assert_eq!(sent(&mut talk, "15.0 N·m", 4_900), "");
    assert_eq!(sent(&mut talk, "15 N·m", 7_800), "", "it goes on sending");
    assert_eq!(journal(&talk), before);
    assert!(sent(&mut talk, "15 N·m", 20_000).contains("Logged"));
}

#[test]
fn another_one_that_comes_too_soon_is_named() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = at_the_bolt(jobs.path());
    sent(&mut talk, "15 N·m", 2_000);
    assert_eq!(sent(&mut talk, "14.8 N·m", 2_500), "Not logged: 14.8 N·m came too soon.");
    assert_eq!(sent(&mut talk, "14.7 N·m", 2_600), "", "told once");
}

#[test]
fn a_yes_answers_what_was_asked_about_a_reading_and_not_what_was_asked_before() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = at_the_bolt(jobs.path());
    half(&mut talk, "mark this step", 2_000);
    assert!(sent(&mut talk, "18 N·m", 3_000).contains("Is that right?"));
    let turn = whole(&mut talk, "yes please", 5_000);
    assert!(written(&turn).contains("Logged 18 N·m from the wrench"), "{turn:?}");
    assert!(!journal(&talk).contains("mark"), "{}", journal(&talk));
}
