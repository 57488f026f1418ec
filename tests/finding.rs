//! Procedures and jobs found by name, number, path or words of their titles, from outside.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use std::cell::{Cell, RefCell};
use std::fs;
use std::path::Path;
use std::rc::Rc;
use std::sync::Arc;
use std::time::Duration;
use wrenchside::dialogue::{Language, Manner};
use wrenchside::job::{At, Job};
use wrenchside::journal::{Folder, JournalError, StripFolder};
use wrenchside::listen::{Hypothesis, Utterance};
use wrenchside::procedure;
use wrenchside::session::{Choice, Conversation, Delivery, Known, Offers, StripSession, StripTalk, Talker, Turn};
use wrenchside::strip::StripLog;
use wrenchside::values::Shelf;

const ARM: &str = "procedures/tarnfell-front-lower-arm-left.toml";

/// Settings with the folder of procedures, in a folder for jobs of its own; gives exit code, output, errors.
fn run(dir: &Path, args: &[&str], lines: &str) -> (i32, String, String) {
    let settings = dir.join("config.toml");
    if !settings.exists() {
        let procedures = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures");
        fs::write(&settings, format!("procedures = [{:?}]\njobs = \"jobs\"\n", procedures.display().to_string()))
            .unwrap();
    }
    let output = wrenchside().arg("--config").arg(&settings).args(args).write_stdin(lines).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

#[test]
fn a_procedure_is_started_by_words_number_or_name() {
    let dir = tempfile::tempdir().unwrap();
    let (_, list, _) = run(dir.path(), &["procedures"], "");
    assert_eq!(list.lines().count(), 7, "{list}");
    assert!(
        list.contains("  6  Front lower arm, left: replace  Tarnfell 15, light van  tarnfell-front-lower-arm-left"),
        "{list}"
    );
    for wanted in
        ["lower arm", "LEFT Front", "6", "tarnfell-front-lower-arm-left", "Front lower arm, left: replace", ARM]
    {
        let (code, shown, errors) = run(dir.path(), &["start", wanted, "--typed"], "");
        assert_eq!(code, 0, "{wanted}: {errors}");
        assert!(shown.contains("Front lower arm, left: replace"), "{wanted}: {shown}");
    }
}

#[test]
fn several_are_told_and_none_is_taken() {
    let dir = tempfile::tempdir().unwrap();
    let (code, shown, errors) = run(dir.path(), &["start", "front", "--typed"], "");
    assert_eq!((code, shown.as_str()), (2, ""));
    assert!(
        errors.contains("tarnfell-front-brakes (") && errors.contains("tarnfell-front-lower-arm-left ("),
        "{errors}"
    );
    assert!(!errors.contains("cylinder"), "{errors}");
    for wanted in ["starter motor", "brak", "8", "0", "15", "front brakes and more"] {
        let (code, _, errors) = run(dir.path(), &["start", wanted, "--typed"], "");
        assert_eq!(code, 2, "{wanted}");
        assert!(errors.contains("no procedure of that name"), "{wanted}: {errors}");
    }
    assert!(!dir.path().join("jobs").exists());
}

#[test]
fn one_title_of_two_is_not_taken() {
    let dir = tempfile::tempdir().unwrap();
    let arm = procedure::open(ARM.as_ref()).unwrap().text().to_owned();
    fs::write(dir.path().join("arm-a.toml"), &arm).unwrap();
    fs::write(dir.path().join("arm-b.toml"), arm.replace("Tarnfell 15, light van", "Tarnfell 15, long van")).unwrap();
    fs::write(dir.path().join("config.toml"), "procedures = [\".\"]\njobs = \"jobs\"\n").unwrap();
    let title = "Front lower arm, left: replace";
    let (code, shown, errors) = run(dir.path(), &["start", title, "--typed"], "");
    assert_eq!((code, shown.as_str()), (2, ""), "{errors}");
    assert!(errors.contains("several") && errors.contains("light van") && errors.contains("long van"), "{errors}");
    let (code, shown, errors) = run(dir.path(), &["start", "--typed"], &format!("{title}\nlong van\nwhere am i\n"));
    assert!(code == 0 && shown.contains("long van") && shown.contains("Step 1 of"), "{shown}{errors}");
    run(dir.path(), &["start", "1", "--typed"], "");
    let (code, _, errors) = run(dir.path(), &["record", title], "");
    assert!(code == 2 && errors.contains("several jobs: 1 (") && errors.contains("begun "), "{errors}");
    // A number is one of the list, whatever else has it.
    let (code, _, errors) = run(dir.path(), &["record", "2026"], "");
    assert!(code == 2 && !errors.contains("several"), "{errors}");
}

#[test]
fn without_a_name_a_short_list_is_told_and_a_number_or_words_choose() {
    let dir = tempfile::tempdir().unwrap();
    for answer in ["6", "six", "number six", "\nnonsense\nlower arm"] {
        // The line behind the answer belongs to the session.
        let (code, shown, errors) = run(dir.path(), &["start", "--typed"], &format!("{answer}\nwhere am i\n"));
        assert_eq!(code, 0, "{answer}: {errors}");
        assert!(shown.starts_with("Which job?\n  1  "), "{shown}");
        assert!(
            shown.contains("Front lower arm, left: replace.") && shown.contains("Step 1 of 36"),
            "{answer}: {shown}"
        );
    }
    let (code, _, errors) = run(dir.path(), &["start", "--typed"], "front\n");
    assert_eq!(code, 2, "{errors}");
}

#[test]
fn jobs_show_where_they_stand_and_are_taken_up_by_number_or_words() {
    let dir = tempfile::tempdir().unwrap();
    run(dir.path(), &["start", "lower arm", "--typed"], "next step\nyes please\nnext step\nyes please\n");
    run(dir.path(), &["start", "brake discs", "--typed"], "");
    let (_, list, _) = run(dir.path(), &["jobs"], "");
    let lines: Vec<&str> = list.lines().collect();
    assert!(lines[0].starts_with("  2  Front lower arm, left: replace  tarnfell-front-lower-arm-left-"), "{list}");
    assert!(lines[1].starts_with("     step 3 of 36, not closed; begun "), "{list}");
    assert!(lines.iter().any(|line| line.starts_with("     open: ")), "{list}");
    assert!(list.contains("\n  1  Front brake discs and pads: replace  tarnfell-front-brakes-"), "{list}");
    for wanted in ["2", "arm left"] {
        let (code, record, errors) = run(dir.path(), &["record", wanted], "");
        assert_eq!(code, 0, "{errors}");
        assert!(record.contains("Front lower arm, left: replace"), "{record}");
    }
    let (code, _, errors) = run(dir.path(), &["resume", "front", "--typed"], "");
    assert_eq!(code, 2);
    assert!(
        errors.contains("1 (Front brake discs and pads: replace, ") && errors.contains("2 (Front lower arm"),
        "{errors}"
    );
    assert_eq!(run(dir.path(), &["resume", "3", "--typed"], "").0, 2);
    let (code, shown, _) = run(dir.path(), &["resume", "2", "--typed"], "");
    assert!(code == 0 && shown.contains("Step 3 of 36"), "{shown}");
    // Now it is the one worked on last.
    assert!(run(dir.path(), &["jobs"], "").1.contains("  1  Front lower arm, left"));
}

#[test]
fn a_closed_job_is_listed_so_and_names_the_next() {
    let dir = tempfile::tempdir().unwrap();
    run(dir.path(), &["start", "brake discs", "--typed"], "");
    let lines = "finish job\n".to_owned() + &"yes\n".repeat(12);
    let (_, shown, errors) = run(dir.path(), &["start", "lower arm", "--typed"], &lines);
    assert!(
        shown.contains(
            "Unfinished: Front brake discs and pads: replace. To go on: wrenchside resume tarnfell-front-brakes-"
        ),
        "{shown}{errors}"
    );
    let (_, list, _) = run(dir.path(), &["jobs"], "");
    assert!(
        list.contains("  1  Front lower arm, left: replace") && list.contains("     closed with something open; begun"),
        "{list}"
    );
}

#[test]
fn a_shell_is_offered_names_and_files() {
    let dir = tempfile::tempdir().unwrap();
    let settings = dir.path().join("wrenchside");
    fs::create_dir(&settings).unwrap();
    let procedures = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures");
    fs::write(settings.join("config.toml"), format!("procedures = [{:?}]\n", procedures.display().to_string()))
        .unwrap();
    let offered = |words: &[&str]| {
        let mut command = wrenchside();
        command
            .env("XDG_CONFIG_HOME", dir.path())
            .env("COMPLETE", "bash")
            .env("_CLAP_COMPLETE_INDEX", (words.len() - 1).to_string());
        let output = command.arg("--").args(words).output().unwrap();
        String::from_utf8(output.stdout).unwrap()
    };
    let start = offered(&["wrenchside", "start", "tarnfell-front-l"]);
    assert!(start.contains("tarnfell-front-lower-arm-left") && !start.contains("brakes"), "{start}");
    assert!(offered(&["wrenchside", "start", "procedures/FORM"]).contains("procedures/FORMAT.md"));
    assert!(offered(&["wrenchside", "res"]).contains("resume"));
    run(dir.path(), &["start", "lower arm", "--typed"], "");
    let settings = settings.join("config.toml");
    let more = format!("{}jobs = {:?}\n", fs::read_to_string(&settings).unwrap(), dir.path().join("jobs"));
    fs::write(&settings, more).unwrap();
    let resume = offered(&["wrenchside", "resume", "tarn"]);
    assert!(resume.contains("tarnfell-front-lower-arm-left-20"), "{resume}");
    assert!(!offered(&["wrenchside", "resume", "water"]).contains("tarnfell"));
    // Strip-downs are among them, and each command that takes a job offers the same.
    run(dir.path(), &["strip", "Water pump", "--typed"], "on its wheels\n");
    for command in ["resume", "record"] {
        let water = offered(&["wrenchside", command, "water"]);
        assert!(water.contains("water-pump-20") && !water.contains("tarnfell"), "{command}: {water}");
        assert!(offered(&["wrenchside", command, "tarn"]).contains("tarnfell-front-lower-arm-left-20"), "{command}");
    }
    assert!(!offered(&["wrenchside", "start", "water-pump-20"]).contains("water-pump-20"));
    for shell in ["bash", "zsh", "fish"] {
        let output = wrenchside().env("COMPLETE", shell).output().unwrap();
        assert!(output.status.success() && !output.stdout.is_empty(), "{shell}");
    }
}

fn said(phrase: &str) -> Utterance {
    Utterance {
        phrase: Some(phrase.to_owned()),
        nearly: None,
        heard: Hypothesis { text: phrase.into(), confidence: 1.0 },
        judgement: None,
        written: None,
        own: None,
        began: 0,
        ended: 0,
        decided: 0,
        thinking: Duration::ZERO,
    }
}

fn words(turn: &Turn) -> String {
    turn.sentences.iter().map(|sentence| sentence.written.as_str()).collect::<Vec<_>>().join(" ")
}

/// By voice a number chooses, and only a yes that was said when the question had been heard begins the job.
#[test]
fn a_job_is_chosen_by_voice_and_begun_on_a_yes() {
    let dir = tempfile::tempdir().unwrap();
    let begun = Rc::new(Cell::new(None));
    let (jobs, seen) = (dir.path().to_owned(), begun.clone());
    let begin = move |n: usize, at: At, _: i64| {
        seen.set(Some(n));
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(ARM);
        let whole = procedure::open(&path).unwrap();
        let book = Arc::new(whole.procedure().unwrap());
        let folder = Folder::create(&jobs, whole.text(), &book, at)?;
        let mut talk = Conversation::new(Language::english(), Manner::default(), Job::new(book), folder);
        let first = talk.begin(at)?;
        Ok((talk, first))
    };
    let titles = ["Front brakes", "Lower arm", "Cylinder head"].map(str::to_owned).to_vec();
    let mut choice = Choice::new(Language::english(), Delivery::default(), titles, Box::new(begin));
    assert_eq!(
        words(&choice.first()),
        "Jobs: number one, Front brakes; number two, Lower arm; number three, Cylinder head. Say a number."
    );
    let mut now = 0;
    let mut hear = |choice: &mut Choice, phrase: &str, heard_out: bool| {
        now += 10_000;
        if heard_out {
            choice.announced(At(now - 1));
        }
        words(&choice.hear(&said(phrase), At(now), At(now)).unwrap())
    };
    // Nothing is chosen yet, and there is no fourth.
    assert_eq!(hear(&mut choice, "yes please", true), "");
    assert_eq!(hear(&mut choice, "number four", true), "");
    assert_eq!(hear(&mut choice, "number one", true), "Begin Front brakes?");
    assert!(hear(&mut choice, "no thanks", true).starts_with("Jobs: "));
    assert_eq!(hear(&mut choice, "number two", true), "Begin Lower arm?");
    assert_eq!(hear(&mut choice, "yes please", false), "Begin Lower arm?", "it was not heard out");
    assert!(choice.conversation().is_none() && begun.get().is_none());
    assert!(hear(&mut choice, "yes please", true).contains("Front lower arm, left: replace"));
    assert_eq!((begun.get(), choice.conversation().is_some()), (Some(1), true));
    // From here on it is that job.
    assert!(choice.job().is_some() && !hear(&mut choice, "where am i", true).is_empty());
}

/// A job of one step.
const LOOK: &str = r#"format = 1
procedure = { id = "look", title = "Side cover: look", vehicle = "Tarnfell 15, light van", language = "en", revision = "1", author = "us" }
source = { title = "Tarnfell 15 Workshop Manual", edition = "first edition, invented" }
step = [{ id = "look", phase = "inspect", say = "Look at the side cover." }]
"#;

/// Nobody has a hand free for the keyboard between two jobs: a closed one is followed by the choice, and a file that cannot be read
/// by the same choice.
#[test]
fn behind_a_closed_job_the_next_one_is_chosen() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().to_owned();
    let begin = move |n: usize, at: At, ahead: i64| {
        let text = if n == 1 { "no procedure" } else { LOOK };
        let book = procedure::parse("look.toml", text)
            .map_err(|report| JournalError::Procedure { path: "look.toml".into(), reason: report.to_string() })?;
        let mut folder = Folder::create(&jobs, text, &book, at)?;
        folder.clock_set(ahead);
        let mut talk = Conversation::new(Language::english(), Manner::default(), Job::new(Arc::new(book)), folder);
        let first = talk.begin(at)?;
        Ok((talk, first))
    };
    let titles = ["Look", "Torn file"].map(str::to_owned).to_vec();
    let mut choice = Choice::new(Language::english(), Delivery::default(), titles, Box::new(begin));
    let mut now = 0;
    let mut hear = |choice: &mut Choice, phrase: &str| {
        now += 10_000;
        choice.announced(At(now - 1));
        let turn = choice.hear(&said(phrase), At(now), At(now)).unwrap();
        assert!(!turn.over, "{phrase}: {turn:?}");
        words(&turn)
    };
    let jobs = "number one, Look; number two, Torn file. Say a number";
    assert_eq!(words(&choice.first()), format!("Jobs: {jobs}."));
    hear(&mut choice, "number two");
    let told = hear(&mut choice, "yes please");
    assert_eq!(told, format!("Torn file can't be started. The screen says why. Jobs: {jobs}."));
    assert!(choice.conversation().is_none());
    // A second yes begins nothing.
    assert_eq!(hear(&mut choice, "yes please"), "");
    let mut folders = Vec::new();
    for _ in 0..2 {
        hear(&mut choice, "number one");
        assert!(hear(&mut choice, "yes please").contains("Look at the side cover."));
        folders.push(choice.folder().to_owned());
        hear(&mut choice, "that is finished");
        let closed = hear(&mut choice, "finish job");
        let closed = if closed.contains("closed") { closed } else { hear(&mut choice, "yes please") };
        assert!(
            closed.contains("closed") && closed.ends_with(&format!("Next job: {jobs}, or: take a break.")),
            "{closed}"
        );
        // The page goes on showing it, and what is said is about the choice.
        assert!(choice.job().is_some_and(|job| job.closed().is_some()) && hear(&mut choice, "where am i").is_empty());
        assert_eq!(hear(&mut choice, "say again"), format!("Next job: {jobs}, or: take a break."));
    }
    assert_ne!(folders[0], folders[1]);
    let before = journal_of(&folders[1]);
    now += 10_000;
    let turn = choice.hear(&said("take a break"), At(now), At(now)).unwrap();
    assert!(turn.over && turn.hush && turn.tone.is_some(), "the list falls silent: {turn:?}");
    // A closed job is not paused.
    assert_eq!(journal_of(&folders[1]), before);
}

/// A job begun before that is taken up leaves the list, and what stands behind it keeps its own beginning.
#[test]
fn a_job_begun_before_is_offered_first_and_once() {
    let dir = tempfile::tempdir().unwrap();
    let (jobs, asked) = (dir.path().to_owned(), Rc::new(RefCell::new(Vec::new())));
    let places = asked.clone();
    let begin = move |n: usize, at: At, _: i64| {
        places.borrow_mut().push(n);
        let book = procedure::parse("look.toml", LOOK).unwrap();
        let folder = Folder::create(&jobs, LOOK, &book, at)?;
        let mut talk = Conversation::new(Language::english(), Manner::default(), Job::new(Arc::new(book)), folder);
        let first = talk.begin(at)?;
        Ok((talk, first))
    };
    let offers = Offers::new(vec!["Front brakes, begun before".to_owned()], vec!["Look".to_owned()]);
    let mut choice = Choice::new(Language::english(), Delivery::default(), offers, Box::new(begin));
    let mut now = 0;
    let mut hear = |choice: &mut Choice, phrase: &str| {
        now += 10_000;
        choice.announced(At(now - 1));
        words(&choice.hear(&said(phrase), At(now), At(now)).unwrap())
    };
    assert_eq!(words(&choice.first()), "Jobs: number one, Front brakes, begun before; number two, Look. Say a number.");
    for _ in 0..2 {
        hear(&mut choice, "number one");
        hear(&mut choice, "yes please");
        hear(&mut choice, "that is finished");
        let closed = hear(&mut choice, "finish job");
        let closed = if closed.contains("closed") { closed } else { hear(&mut choice, "yes please") };
        assert!(closed.ends_with("Next job: number one, Look. Say a number, or: take a break."), "{closed}");
    }
    assert_eq!(*asked.borrow(), [0, 1]);
}

/// That the clock was set is told once, and is no matter of the one job that was in hand then.
#[test]
fn a_job_begun_after_the_clock_was_set_has_right_times() {
    let set = 1_790_000_000_000;
    let journals = |told_in_the_first: bool| {
        let dir = tempfile::tempdir().unwrap();
        let jobs = dir.path().to_owned();
        let begin = move |_: usize, at: At, ahead: i64| {
            let book = procedure::parse("look.toml", LOOK).unwrap();
            let mut folder = Folder::create(&jobs, LOOK, &book, at)?;
            folder.clock_set(ahead);
            let mut talk = Conversation::new(Language::english(), Manner::default(), Job::new(Arc::new(book)), folder);
            let first = talk.begin(at)?;
            Ok((talk, first))
        };
        let titles = vec!["Look".to_owned()];
        let mut choice = Choice::new(Language::english(), Delivery::default(), titles, Box::new(begin));
        let typed = |choice: &mut Choice, lines: &[&str]| {
            for line in lines {
                choice.read(line, At(1_000)).unwrap();
            }
        };
        typed(&mut choice, &["1", "yes"]);
        if told_in_the_first {
            choice.clock_set(set);
        }
        typed(&mut choice, &["done", "finish", "yes"]);
        assert!(choice.is_choosing());
        let first = journal_of(choice.folder());
        if !told_in_the_first {
            choice.clock_set(set);
        }
        typed(&mut choice, &["1", "yes", "done"]);
        [first, journal_of(choice.folder())].map(|journal| journal.matches("\"wall\":1790000001000").count())
    };
    let ([told, behind], [before, after]) = (journals(true), journals(false));
    assert!(told >= 2 && behind >= 2 && before == 0 && after >= 2, "{told} {behind} {before} {after}");
}

fn journal_of(folder: &Path) -> String {
    fs::read_to_string(folder.join("journal.jsonl")).unwrap()
}

/// A strip-down's own job is followed by the choice like any other, and its book stays known behind the next one.
#[test]
fn behind_the_job_of_a_strip_down_the_next_one_is_chosen() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().to_owned();
    let begin = move |_: usize, at: At, _: i64| {
        let book = procedure::parse("look.toml", LOOK).unwrap();
        let folder = Folder::create(&jobs, LOOK, &book, at)?;
        let mut talk = Conversation::new(Language::english(), Manner::default(), Job::new(Arc::new(book)), folder);
        let first = talk.begin(at)?;
        Ok((talk, first))
    };
    let folder = StripFolder::begin(dir.path(), "Water pump", None, At(0)).unwrap();
    let strip =
        StripTalk::new(Language::english(), Manner::default(), StripLog::new("Water pump"), folder, Shelf::default());
    let mut talk = StripSession::new(strip, Known::default()).with_next(vec!["Look".to_owned()], Box::new(begin));
    talk.begin(At(0)).unwrap();
    let mut now = 0;
    let mut typed = |talk: &mut StripSession, line: &str| {
        now += 60_000;
        talk.announced(At(now - 1));
        let turn = talk.read(line, At(now)).unwrap();
        assert!(!turn.over, "{line}: {turn:?}");
        words(&turn)
    };
    let told: Vec<String> = ["on its wheels", "took off a cover", "no name", "that is everything", "yes", "yes"]
        .map(|line| typed(&mut talk, line))
        .into();
    let book = talk.book().unwrap_or_else(|| panic!("no book is written: {told:#?}")).to_owned();
    assert!(book.is_file() && !talk.is_choosing());
    let mut told = String::new();
    for line in std::iter::repeat_n("done", 12).chain(["finish", "yes"]) {
        told = typed(&mut talk, line);
    }
    assert!(
        talk.is_choosing() && told.ends_with("Next job: number one, Look. Say a number, or: take a break."),
        "{told}"
    );
    typed(&mut talk, "number one");
    assert!(typed(&mut talk, "yes").contains("Look at the side cover."));
    assert_eq!(talk.book(), Some(&*book), "the book is that of the strip-down");
    let in_hand = talk.conversation().map(|job| job.folder().path().join("procedure.toml"));
    assert!(in_hand.is_some_and(|path| path != book));
}

/// A strip-down stands among the jobs, with a number of its own, and is found as they are.
#[test]
fn a_strip_down_is_found_as_jobs_are() {
    let dir = tempfile::tempdir().unwrap();
    run(dir.path(), &["start", "lower arm", "--typed"], "");
    run(dir.path(), &["strip", "Water pump", "--typed"], "on its wheels\ntook off a cover\nno name\n");
    let (_, list, _) = run(dir.path(), &["jobs"], "");
    assert!(list.contains("  2  Front lower arm, left: replace  ") && list.contains("\n  1  Water pump  "), "{list}");
    assert!(list.contains("; strip-down, no job yet\n     last told "), "{list}");
    for wanted in ["1", "pump", "WATER pump"] {
        let (code, shown, errors) = run(dir.path(), &["resume", wanted, "--typed"], "what came off\n");
        assert!(code == 0 && shown.contains("Told so far: a cover."), "{wanted}: {shown}{errors}");
        let (code, record, errors) = run(dir.path(), &["record", wanted], "");
        assert!(code == 0 && errors.contains("a strip-down, and no job yet"), "{errors}");
        assert!(record.contains("# Water pump") && record.contains("cover"), "{record}");
    }
    let (code, shown, errors) = run(dir.path(), &["resume", "2", "--typed"], "");
    assert!(code == 0 && shown.contains("Front lower arm, left"), "{shown}{errors}");
    // Now the job is number 1.
    let (code, shown, errors) = run(dir.path(), &["resume", "2", "--typed"], "");
    assert!(code == 0 && shown.contains("Strip-down water-pump"), "{shown}{errors}");
    let (code, _, errors) = run(dir.path(), &["resume", "3", "--typed"], "");
    assert_eq!(code, 2, "{errors}");
    run(dir.path(), &["strip", "Fuel pump", "--typed"], "");
    let (code, _, errors) = run(dir.path(), &["resume", "pump", "--typed"], "");
    assert!(code == 2 && errors.contains("several jobs: 1 (strip-down, Fuel pump, fuel-pump-"), "{errors}");
}

/// Of the jobs that are not closed one is chosen by its number, and taken up where it stands.
#[test]
fn an_unfinished_job_is_chosen_by_its_number() {
    let dir = tempfile::tempdir().unwrap();
    let (code, _, errors) = run(dir.path(), &["resume", "--choose", "--typed"], "number one\n");
    assert!(code == 2 && errors.contains("still to be closed"), "{errors}");
    run(dir.path(), &["start", "lower arm", "--typed"], "done\n");
    run(dir.path(), &["start", "front brakes", "--typed"], "done\n");
    let (code, shown, errors) = run(dir.path(), &["resume", "--choose", "--typed"], "number two\nyes\nwhere am i\n");
    assert_eq!(code, 0, "{errors}");
    let taken = shown.find("Resuming: Front lower arm, left").unwrap_or_else(|| panic!("{shown}"));
    assert!(shown[..taken].contains("Front brake discs") && !shown[taken..].contains("Front brake discs"), "{shown}");
    assert!(shown[taken..].contains("Step 1 of 36."), "{shown}");
}

/// A job whose journal tells nothing any more is listed with the reason, as one is that is damaged further on.
#[test]
fn a_job_with_an_empty_journal_is_listed_with_the_reason() {
    for damage in ["", "\n", "{\"format\":2", "no line of a journal\n"] {
        let dir = tempfile::tempdir().unwrap();
        run(dir.path(), &["start", "lower arm", "--typed"], "");
        let folder = fs::read_dir(dir.path().join("jobs")).unwrap().next().unwrap().unwrap().path();
        fs::write(folder.join("journal.jsonl"), damage).unwrap();
        let (code, list, errors) = run(dir.path(), &["jobs"], "");
        let lines: Vec<&str> = list.lines().collect();
        assert_eq!(code, 0, "{errors}");
        assert!(lines[0].starts_with("  1  Front lower arm, left: replace  tarnfell-"), "{damage:?}: {list}");
        assert!(
            lines.len() == 2 && lines[1].contains("journal.jsonl") && !lines[1].contains("1970"),
            "{damage:?}: {list}"
        );
        for wanted in [&["resume", "--typed"][..], &["resume", "1", "--typed"], &["resume", "lower arm", "--typed"]] {
            let (code, _, errors) = run(dir.path(), wanted, "");
            assert!(code == 2 && errors.contains("journal.jsonl"), "{damage:?} {wanted:?}: {errors}");
        }
    }
}
