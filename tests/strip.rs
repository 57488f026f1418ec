//! Taking something apart without a procedure: told line by line, kept on disk, and at the end a book that the rebuild goes by.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use proptest::prelude::*;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use wrenchside::dialogue::{Language, Manner};
use wrenchside::job::{self, At, Job, Note, Say as JobSay};
use wrenchside::journal::{Folder, StripFolder, strips};
use wrenchside::procedure::{self, Act, Deed as BookDeed, Phase, ToldOrder};
use wrenchside::session::StripTalk;
use wrenchside::strip::{Command, Deed, Kind, Name, Question, Refused, Say, StripLog, Things, What, book, of_book};
use wrenchside::values::{self, Shelf};

const BEGAN: i64 = 1_750_000_000_000;

fn begin(root: &Path, shelf: Shelf) -> StripTalk {
    let folder = StripFolder::begin(root, "Water pump", None, At(BEGAN)).unwrap();
    StripTalk::new(Language::english(), Manner::default(), StripLog::new("Water pump"), folder, shelf)
}

fn again(path: &Path) -> StripTalk {
    let (folder, log, torn) = StripFolder::open(path).unwrap();
    assert!(!torn);
    StripTalk::new(Language::english(), Manner::default(), log, folder, Shelf::default())
}

/// What is written in answer to a line.
fn told(talk: &mut StripTalk, line: &str) -> String {
    let at = At(BEGAN + 60_000 * (1 + talk.log().entries().len() as i64));
    let turn = talk.read(line, at).unwrap();
    turn.sentences.iter().map(|sentence| sentence.written.as_str()).collect::<Vec<_>>().join(" ")
}

fn tell(talk: &mut StripTalk, lines: &[&str]) {
    for line in lines {
        told(talk, line);
    }
}

#[test]
fn what_comes_off_is_read_back_and_named() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), Shelf::default());
    for (line, answer) in [
        (
            "took out two bolts, thirteen millimetre",
            "First say what holds the vehicle. First, what holds the vehicle. Say: stand in place, or: on its wheels.",
        ),
        ("stand in place", "A support is in place. Now its name, or: no name."),
        ("sill, left", "Called: sill, left."),
        ("took out two bolts, thirteen millimetre", "Out: 2 bolts, 13 mm. Now its name, or: no name."),
        ("water pump, lower", "Called: water pump, lower."),
        ("Unplugged a connector", "Unplugged: a connector. Now its name, or: no name."),
        ("no name", "No name."),
        ("clip off", "Off: a clip. Now its name, or: no name."),
        ("took off a cover", "Off: a cover. Now its name, or: no name."),
        ("hung it up", "Hung up: a cover. Now its name, or: no name."),
        ("hung it up", "Hung up: a cover. Now its name, or: no name."),
        ("took out 3 nuts", "Out: 3 nuts. Now its name, or: no name."),
        ("10 mm", "Out: 3 nuts, 10 mm. Now its name, or: no name."),
        ("stuck behind something", "Unscrewed, stuck behind something: 3 nuts, 10 mm. Now its name, or: no name."),
        ("scratch that", "Take back: 3 nuts, 10 mm, unscrewed, stuck behind something?"),
        ("yes", "Taken back: 3 nuts, 10 mm, unscrewed, stuck behind something. Now its name, or: no name."),
        ("put back to hold", "Put back to hold: 3 nuts, 10 mm?"),
        ("yes", "Put back to hold: 3 nuts, 10 mm. Now its name, or: no name."),
        ("no name", "No name."),
        ("no name", "There is no question to answer."),
        ("200 mm", "That width cannot be right. Say it again."),
        ("note the gasket is torn", "Note taken."),
        (
            "what came off",
            "Told so far: 2 bolts, 13 mm, water pump, lower; a connector; a clip; a cover, hung up; 3 nuts, 10 mm, put back to hold.",
        ),
        ("how tight", "I do not know that. To hear what can be told, say: what can I say."),
    ] {
        assert_eq!(told(&mut talk, line), answer, "{line}");
    }
}

/// Denied, doubted and asked, a claim is neither a claim nor the name of a thing.
#[test]
fn what_is_denied_is_not_taken_down() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), Shelf::default());
    tell(&mut talk, &["on its wheels", "took out a bolt"]);
    let before = talk.log().entries().to_vec();
    for line in [
        "didn't take out two bolts",
        "did not take out two bolts",
        "never took out two bolts",
        "nearly took out two bolts",
        "did you take off a cover",
        "not took off a cover",
        "took out two",
        "took out two bolts maybe",
        "haven't unplugged a connector",
        "took out zero bolts",
        "took out two bolt",
        "took out a cover",
        "that is not everything",
        "is that everything",
        "not hung it up",
        "cover off",
        "two bolts off",
        "hose out",
        "fifty bolts out",
        "two bolts and a nut out",
        "the cover came off",
        "removed a bracket",
        "undid two nuts",
        "three bolts",
        "two long bolts",
        "still in",
        "I've hung it up",
        "Hang it up",
        "That's everything",
        "Take off the cover",
        "Unplug the connector",
        "They're out now",
        "Make that three",
        "I don't know",
        "We haven't got those yet",
        "couldn't see it",
        "What is it called",
    ] {
        told(&mut talk, line);
        assert_eq!(talk.log().entries(), before, "{line}");
        assert_eq!(talk.log().question(), Some(Question::Name(1)), "{line}");
    }
}

/// A name may begin as a claim does, as long as it is none.
#[test]
fn names_that_begin_like_a_support_are_names() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), Shelf::default());
    assert_eq!(told(&mut talk, "stand in place"), "A support is in place. Now its name, or: no name.");
    assert_eq!(told(&mut talk, "stand, left"), "Called: stand, left.");
    told(&mut talk, "took out a bolt");
    assert_eq!(told(&mut talk, "on the left, lower"), "Called: on the left, lower.");
    told(&mut talk, "took out a nut");
    assert_eq!(told(&mut talk, "call it cover off"), "Called: cover off.");
}

/// Nothing that is said in between makes the support, or an awaited name, be forgotten.
#[test]
fn the_support_is_asked_for_until_it_is_told() {
    let mut log = StripLog::new("Any job");
    let bolts = || Command::Fasteners { things: Things { count: 2, kind: Kind::Bolt }, size: None, deed: Deed::Out };
    for command in [Command::Note(Note::Typed("a".to_owned())), Command::Undo, Command::No, Command::Undo, Command::Yes]
    {
        log.apply(command, At(BEGAN));
        assert!(!log.apply(bolts(), At(BEGAN)).recorded);
    }
    assert_eq!(log.question(), Some(Question::Support));
    log.apply(Command::Supported, At(BEGAN));
    assert_eq!(log.apply(Command::OnWheels, At(BEGAN)).says[0], Say::Refused(Refused::SupportStands));
    log.apply(bolts(), At(BEGAN));
    log.apply(Command::Everything, At(BEGAN));
    log.apply(Command::No, At(BEGAN));
    assert_eq!(log.question(), Some(Question::Name(2)));
}

/// A name is never taken away by "no name" said once more, and what only says more of a thing has no name of its own.
#[test]
fn a_name_stands_until_another_is_given() {
    let mut log = StripLog::new("Any job");
    let name = |text: &str| Command::Name(Name::Typed(text.to_owned()));
    log.apply(Command::OnWheels, At(BEGAN));
    log.apply(
        Command::Fasteners { things: Things { count: 2, kind: Kind::Bolt }, size: None, deed: Deed::Out },
        At(BEGAN),
    );
    log.apply(name("pump"), At(BEGAN));
    assert_eq!(log.apply(Command::NoName, At(BEGAN)).says[0], Say::Refused(Refused::NothingAsked));
    log.apply(Command::Changed(Deed::Held), At(BEGAN));
    assert_eq!(log.apply(name("pump, lower"), At(BEGAN)).says[0], Say::Named(1));
    assert_eq!(log.apply(Command::Size(13.into()), At(BEGAN)).says[0], Say::Sized(1));
    assert_eq!(log.apply(Command::Size(200.into()), At(BEGAN)).says[0], Say::Refused(Refused::Width));
    // Asked for again it stands, and "no name" gives no other.
    log.apply(Command::Rename, At(BEGAN));
    assert_eq!(log.apply(Command::NoName, At(BEGAN)).says[0], Say::Named(1));
    assert_eq!(log.entries()[1].name.as_ref().and_then(Name::words), Some("pump, lower"));
}

/// A width that was told is another's, perhaps: a second one is asked back.
#[test]
fn a_second_width_is_asked_back() {
    let mut log = StripLog::new("Any job");
    let things = Things { count: 2, kind: Kind::Bolt };
    log.apply(Command::OnWheels, At(BEGAN));
    log.apply(Command::Fasteners { things, size: Some(13.into()), deed: Deed::Out }, At(BEGAN));
    let width = |log: &StripLog| match log.entries()[1].what {
        What::Fasteners { size, .. } => size,
        _ => None,
    };
    assert_eq!(log.apply(Command::Size(13.into()), At(BEGAN)).says[0], Say::Sized(1));
    for (answer, becomes) in [(Command::No, 13), (Command::Yes, 15)] {
        let reply = log.apply(Command::Size(15.into()), At(BEGAN));
        assert_eq!(reply.says, [Say::Question(Question::Width { of: 1, size: 15.into() })]);
        assert!(reply.recorded && width(&log) == Some(13.into()));
        log.apply(answer, At(BEGAN));
        assert_eq!(width(&log), Some(becomes.into()));
    }
}

/// What stands for a recording in what is said is in no name and no title.
#[test]
fn a_name_has_letters_that_can_be_written() {
    let mut log = StripLog::new("Any\u{E001} job");
    assert_eq!(log.title(), "Any job");
    log.apply(Command::Supported, At(BEGAN));
    for odd in ["pump \u{E001}", "pump\u{7}", "pump \u{F0001}"] {
        let reply = log.apply(Command::Name(Name::Typed(odd.to_owned())), At(BEGAN));
        assert_eq!(reply.says[0], Say::Refused(Refused::NoName), "{odd:?}");
    }
}

/// Which part hangs, if it is not the one told last, only the user knows.
#[test]
fn a_part_that_hangs_is_asked_for_where_it_is_unclear() {
    let mut log = StripLog::new("Any job");
    let cover = Command::TakenOff(Things { count: 1, kind: Kind::Cover });
    for command in [Command::OnWheels, cover, Command::Opened(Things { count: 1, kind: Kind::Hose })] {
        log.apply(command, At(BEGAN));
    }
    assert_eq!(log.apply(Command::HungUp, At(BEGAN)).says, [Say::Question(Question::Hung(1))]);
    log.apply(Command::Yes, At(BEGAN));
    assert!(!log.apply(Command::HungUp, At(BEGAN)).recorded, "told twice");
    assert_eq!(log.entries().len(), 4);
}

/// A log that goes together, with a group that came out and one that is still in.
fn turned() -> StripLog {
    let mut log = StripLog::new("Any job");
    let things = Things { count: 2, kind: Kind::Bolt };
    for command in [
        Command::OnWheels,
        Command::Fasteners { things, size: None, deed: Deed::Out },
        Command::Fasteners { things, size: None, deed: Deed::StillIn },
        Command::Everything,
        Command::Yes,
    ] {
        assert!(log.apply(command, At(BEGAN)).recorded);
    }
    log
}

/// After the turning point each command is taken back by one undo, and new ones are asked for what came out only.
#[test]
fn answers_are_taken_back_one_command_at_a_time() {
    let mut log = turned();
    let value = Command::Value { stages: "25 N·m".into(), page: Some("7-1".into()) };
    log.apply(value, At(BEGAN));
    assert_eq!(log.question(), Some(Question::Value(1)), "what is still in is not renewed");
    log.apply(Command::Note(Note::Typed("torn".to_owned())), At(BEGAN));
    assert_eq!(log.apply(Command::Undo, At(BEGAN)).says[0], Say::TakenBack(3));
    log.apply(Command::Undo, At(BEGAN));
    assert_eq!((log.question(), log.answered(Question::Page(2))), (Some(Question::Value(2)), None));
    for command in [Command::Later, Command::Later, Command::Yes] {
        log.apply(command, At(BEGAN));
    }
    assert_eq!(log.question(), Some(Question::Whole));
    log.apply(Command::No, At(BEGAN));
    assert!(!log.is_ready());
    log.apply(Command::Yes, At(BEGAN));
    assert!(log.is_ready());
    assert_eq!(log.apply(Command::Undo, At(BEGAN)).says[0], Say::AnswerTakenBack(Question::Whole));
    assert_eq!(log.apply(Command::Undo, At(BEGAN)).says[0], Say::AnswerTakenBack(Question::New(1)));
    for _ in 0..2 {
        log.apply(Command::Undo, At(BEGAN));
    }
    assert_eq!(log.apply(Command::Undo, At(BEGAN)).says[0], Say::GoesOn);
    assert!(!log.is_turned());
}

/// What is no page is not taken as one.
#[test]
fn only_a_page_is_taken_as_a_page() {
    let mut log = turned();
    for page in ["65 Nm", "90 deg", "not 7-1", "maybe 7", "7 maybe", "page", "page 7: 3"] {
        let value = Command::Value { stages: "25 N·m".into(), page: Some(page.into()) };
        assert_eq!(log.apply(value, At(BEGAN)).says[0], Say::Refused(Refused::NoValue), "{page}");
    }
    log.apply(Command::Value { stages: "25 N·m".into(), page: None }, At(BEGAN));
    for page in ["65 Nm", "90 deg", "not 7-1", "maybe 7"] {
        assert_eq!(log.apply(Command::Page(page.into()), At(BEGAN)).says[0], Say::Refused(Refused::NoPage), "{page}");
    }
    assert_eq!(log.apply(Command::Page("7-1".into()), At(BEGAN)).says[0], Say::Page(2));
}

fn written(log: &StripLog) -> String {
    let text =
        book::book(log, book::Known::default(), &Language::english()).unwrap_or_else(|report| panic!("{report}"));
    let report = procedure::check("book.toml", &text);
    assert_eq!(report.errors(), 0, "{report}\n{text}");
    text
}

/// Each value keeps the source of the list that it was taken from, and the page as that list has it.
#[test]
fn a_value_taken_from_a_list_keeps_its_source() {
    let offered = |title: &str| Command::Offered {
        stages: "25 N·m".into(),
        page: "7-1, table 2: long form of it".into(),
        title: title.into(),
        edition: "invented".into(),
    };
    let mut one = turned();
    for command in [offered("First Manual"), offered("First Manual"), Command::No, Command::Yes] {
        assert!(one.apply(command, At(BEGAN)).recorded);
    }
    let text = written(&one);
    assert!(text.contains("title = \"First Manual\"") && !text.contains("form of it, First"), "{text}");
    let mut two = turned();
    for command in [offered("First Manual"), offered("Second Manual"), Command::No, Command::Yes] {
        assert!(two.apply(command, At(BEGAN)).recorded);
    }
    let text = written(&two);
    assert!(!text.contains("title = \"First Manual\""), "{text}");
    for title in ["First", "Second"] {
        assert!(
            text.contains(&format!("source = \"page 7-1, table 2: long form of it, {title} Manual, invented\"")),
            "{text}"
        );
    }
}

/// A strip-down without any fastener has a book; what was taken back leaves its name to others.
#[test]
fn covers_alone_make_a_book() {
    let mut log = StripLog::new("Any job");
    let cover = || Command::TakenOff(Things { count: 1, kind: Kind::Cover });
    let name = || Command::Name(Name::Typed("top 1.25".to_owned()));
    for command in [Command::OnWheels, cover(), name(), Command::Undo, Command::Yes, cover(), name()] {
        assert!(log.apply(command, At(BEGAN)).recorded);
    }
    for command in [Command::Everything, Command::Yes, Command::Yes] {
        assert!(log.apply(command, At(BEGAN)).recorded);
    }
    assert!(log.is_ready());
    let text = written(&log);
    assert!(text.contains("name = \"top 1.25 cover\""), "{text}");
}

/// A strip-down that became a job is not told on, and a damaged one goes on behind its last good line, if that is asked for.
#[test]
fn only_a_whole_strip_down_is_taken_up() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), Shelf::default());
    tell(&mut talk, &["stand in place", "sill"]);
    let path = talk.folder().path().to_owned();
    drop(talk);
    let journal = path.join("strip.jsonl");
    let text = fs::read_to_string(&journal).unwrap();
    fs::write(&journal, text.replacen("supported", "on_wheels", 1)).unwrap();
    let error = StripFolder::open(&path).unwrap_err().to_string();
    assert!(error.contains("line 2 is damaged") && error.contains("--salvage"), "{error}");
    // It is in the list, with what is wrong; and goes on behind the last good line, with the others kept.
    let listed = strips(jobs.path());
    assert!(listed.len() == 1 && listed[0].broken.as_deref().is_some_and(|why| why.contains("damaged")), "{listed:?}");
    let (_, log, torn, dropped) = StripFolder::take_up(&path, true).unwrap();
    let dropped = dropped.unwrap();
    assert_eq!((log.entries().len(), torn, dropped.kept, dropped.lines), (0, false, 1, 2));
    assert!(fs::read_to_string(&dropped.aside).unwrap().contains("on_wheels"));
    assert!(StripFolder::open(&path).is_ok() && strips(jobs.path())[0].broken.is_none());
    fs::write(&journal, text).unwrap();
    fs::write(path.join("journal.jsonl"), "").unwrap();
    let error = StripFolder::open(&path).unwrap_err().to_string();
    assert!(error.contains("is a job now"), "{error}");
}

#[test]
fn everything_told_is_on_disk_before_the_answer() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), Shelf::default());
    let path = talk.folder().path().to_owned();
    for line in [
        "stand in place",
        "sill",
        "took out two bolts",
        "loosened a nut",
        "19 mm",
        "scratch that",
        "yes",
        "clip off",
        "that is everything",
        "yes",
        "62 Nm",
    ] {
        told(&mut talk, line);
        let now = (talk.log().entries().to_vec(), talk.log().question());
        drop(talk);
        talk = again(&path);
        assert_eq!((talk.log().entries().to_vec(), talk.log().question()), now, "{line}");
    }
    drop(talk);
    // The last line is torn, as by a power cut.
    let journal = path.join("strip.jsonl");
    let text = fs::read(&journal).unwrap();
    fs::write(&journal, &text[..text.len() - 5]).unwrap();
    let (_, log, torn) = StripFolder::open(&path).unwrap();
    assert!(torn && matches!(log.question(), Some(Question::Value(_))), "{:?}", log.question());
}

fn book_of(path: &Path) -> procedure::Procedure {
    let file = path.join("procedure.toml");
    let text = fs::read_to_string(&file).unwrap();
    let report = procedure::check("procedure.toml", &text);
    assert_eq!(report.errors(), 0, "{report}\n{text}");
    procedure::parse("procedure.toml", &text).unwrap()
}

fn told_value(page: &str) -> job::BookValue {
    job::BookValue { stages: None, page: Some(page.to_owned()), list: None, instead: None }
}

/// Goes on with a job by doing what it says, telling what was left for later, and closes it.
fn finish(mut job: Job) -> Job {
    let mut at = At(BEGAN + 86_400_000);
    let mut reply = job.apply(job::Command::Resume, at);
    for _ in 0..2_000 {
        at = At(at.0 + 3_600_000);
        let value = || job::BookValue { stages: Some("25 N·m + 90 deg".into()), ..told_value("page 7-1") };
        let command = match (job.question(), reply.says.iter().any(|say| matches!(say, JobSay::LastStepDone))) {
            (Some(job::Question::Angle(_)), _) => job::Command::NotBegun,
            (Some(job::Question::Book(telling)), _) if telling.asks == job::BookAsks::Order => {
                job::Command::BookOrder(ToldOrder::Crosswise)
            }
            (None, _) if job.untold().is_some() => job::Command::BookValue(value()),
            (Some(_), _) => job::Command::Yes,
            (None, true) => job::Command::Finish,
            (None, false) => job::Command::Done,
        };
        reply = job.apply(command, at);
        if job.closed().is_some() {
            break;
        }
    }
    job
}

#[test]
fn at_the_turning_point_it_writes_the_book_and_the_rebuild_is_a_job() {
    let jobs = tempfile::tempdir().unwrap();
    let page = "vehicle: v\nsource: Workshop Manual\nedition: invented\nwater pump bolt, lower: 25 N·m + 90 deg, 7-1\n";
    let page = values::parse("page.txt", page).unwrap_or_else(|report| panic!("{report}"));
    let shelf = Shelf::new(vec![("page.txt".to_owned(), page)]).unwrap();
    let mut talk = begin(jobs.path(), shelf);
    tell(
        &mut talk,
        &["stand in place", "sill", "took out two bolts 13 mm", "water pump, lower", "took off a cover", "no name"],
    );
    tell(&mut talk, &["note seal torn", "loosened a nut 19 mm", "tensioner", "unplugged two connectors", "no name"]);
    tell(&mut talk, &["took out three screws", "shield"]);
    assert_eq!(told(&mut talk, "that is everything"), "Has everything come off?");
    assert!(
        told(&mut talk, "yes")
            .ends_with("3 screws, shield. What does the book say? Or say: no value in the book, or: look it up later.")
    );
    assert!(told(&mut talk, "about tight").starts_with("I can't take that as a value."));
    assert!(
        told(&mut talk, "90 deg, 7-2").starts_with("I can't take that as a value."),
        "an angle counts from a torque"
    );
    assert_eq!(told(&mut talk, "no value in the book"), "No value in the book. New ones for 3 screws, shield?");
    assert!(told(&mut talk, "no").starts_with("A nut, 19 mm, tensioner. What"));
    assert_eq!(
        told(&mut talk, "later"),
        "Left for later. 2 bolts, 13 mm, water pump, lower. Water pump bolt, lower, by the page of values: 25 N·m; then turn a further 90° (1½ flats). Is that the one?"
    );
    assert_eq!(
        told(&mut talk, "yes"),
        "25 N·m; then turn a further 90° (1½ flats). Page 7-1. Do all of them get one stage before any gets the next?"
    );
    assert_eq!(told(&mut talk, "yes"), "New ones for 2 bolts, 13 mm, water pump, lower?");
    assert_eq!(told(&mut talk, "no"), "Is that all for the book?");
    assert_eq!(told(&mut talk, "yes"), "That is all the book needs.");
    let path = talk.folder().path().to_owned();
    let (folder, job) = talk.turn().unwrap();
    let book = book_of(&path);
    assert!(job.position() > 0 && job.book().steps[job.position()].phase == Phase::Inspect, "{}", job.position());
    // What came off stands as done at the moment when it was told.
    let done: Vec<At> = job.facts().iter().map(|fact| fact.at).collect();
    assert!(done.iter().all(|at| at.0 < BEGAN + 3_600_000), "{done:?}");
    drop(folder);
    let opened = Folder::open(&path, false).unwrap();
    assert_eq!(opened.job.digest(), job.digest());
    assert_eq!(finish(opened.job).closed(), Some(&[][..]));
    let text = fs::read_to_string(path.join("procedure.toml")).unwrap();
    assert!(text.contains("value_later = true"), "{text}");
    assert!(text.contains("source = \"page 7-1\"") && text.contains("# ?? "), "{text}");
    // The second time, the book exists.
    let second = Folder::create(jobs.path(), &text, &book, At(BEGAN + 1)).unwrap();
    assert_eq!(second.path().file_name().unwrap(), "water-pump-2025-06-15-2");
}

fn things(kinds: &'static [Kind]) -> impl Strategy<Value = Things> {
    (1..=12u32, prop::sample::select(kinds)).prop_map(|(count, kind)| Things { count, kind })
}

fn command() -> impl Strategy<Value = Command> {
    const FASTENERS: &[Kind] = &[Kind::Bolt, Kind::Screw, Kind::Nut, Kind::Stud];
    const OPENED: &[Kind] = &[Kind::Connector, Kind::Clip, Kind::Hose, Kind::Pipe];
    const PARTS: &[Kind] = &[Kind::Cover, Kind::Bracket, Kind::Wheel, Kind::Part];
    let deeds = prop::sample::select(&[Deed::Out, Deed::StillIn, Deed::Stuck, Deed::Held][..]);
    let name = prop::sample::select(
        &[
            "pump",
            "lower \"left\"",
            "Wasserpumpe, größer",
            "number 2",
            "M8 1.25",
            "pump, second",
            "13 mm",
            "second lot",
            "first",
            "a\\b # c",
            "[x] = 1",
        ][..],
    );
    let size = prop::option::of((8..24u32).prop_map(Into::into));
    prop_oneof![
        5 => (things(FASTENERS), size, any::<bool>()).prop_map(|(things, size, out)| {
            Command::Fasteners { things, size, deed: if out { Deed::Out } else { Deed::StillIn } }
        }),
        3 => things(OPENED).prop_map(Command::Opened),
        3 => things(PARTS).prop_map(Command::TakenOff),
        2 => Just(Command::HungUp),
        4 => deeds.prop_map(Command::Changed),
        4 => name.prop_map(|name| Command::Name(Name::Typed(name.to_owned()))),
        1 => Just(Command::NoName),
        1 => Just(Command::Supported),
        1 => Just(Command::Note(Note::Typed("torn".to_owned()))),
        2 => Just(Command::Undo),
        4 => Just(Command::Yes),
        1 => Just(Command::No),
        1 => Just(Command::Size(13.into())),
    ]
}

fn answers() -> impl Strategy<Value = Vec<u8>> {
    prop::collection::vec(any::<u8>(), 1..20)
}

fn cases() -> u32 {
    std::env::var("INVARIANT_CASES").ok().and_then(|n| n.parse().ok()).map_or(250, |cases: u32| cases.div_ceil(10))
}

/// What the strip leaves loose, open or off, by the acts of its steps; and the same of what the rebuild gives back.
fn came_and_went(book: &procedure::Procedure) -> (Vec<String>, Vec<String>) {
    let (mut off, mut back) = (Vec::new(), Vec::new());
    for step in &book.steps {
        for act in &step.acts {
            match act {
                Act::TakeOff(c) | Act::Hang(c) => off.push(format!("c{}", c.0)),
                Act::PutOn(c) => back.push(format!("c{}", c.0)),
                Act::Disconnect(c) => off.push(format!("o{}", c.0)),
                Act::Connect(c) => back.push(format!("o{}", c.0)),
                Act::Place(s) => off.push(format!("s{}", s.0)),
                Act::TakeAway(s) => back.push(format!("s{}", s.0)),
                Act::Fasten { group, items, deed } => {
                    let these = items.iter().map(|item| format!("f{}.{item}", group.0));
                    match deed {
                        BookDeed::Tighten(None) => back.extend(these),
                        _ if step.phase <= Phase::Strip => off.extend(these),
                        _ => {}
                    }
                }
                _ => {}
            }
        }
    }
    for list in [&mut off, &mut back] {
        list.sort();
        list.dedup();
    }
    (off, back)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: cases(), failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever is told: the book passes its check, gives back just what came off, the steps told stand as done, and the walk ends
    /// with nothing open. The same commands give the same log.
    #[test]
    fn any_strip_down_writes_a_book_that_brings_it_all_back(commands in prop::collection::vec(command(), 1..40), answers in answers(), first in any::<bool>(), part in any::<bool>()) {
        let mut log = StripLog::new("Any job");
        let mut journal = Vec::new();
        let mut apply = |log: &mut StripLog, command: Command| {
            let at = At(BEGAN + 1_000 * journal.len() as i64);
            let command = log.meant(command);
            if log.apply(command.clone(), at).recorded {
                journal.push((command, at));
            }
        };
        if first {
            apply(&mut log, Command::Supported);
        }
        for command in commands {
            apply(&mut log, command);
        }
        for _ in 0..60 {
            match log.question() {
                Some(Question::Support) => apply(&mut log, Command::OnWheels),
                Some(question) if question.is_yes_no() => apply(&mut log, Command::No),
                _ => break,
            }
        }
        apply(&mut log, match part {
            true => Command::TakenOff(Things { count: 1, kind: Kind::Cover }),
            false => Command::Fasteners { things: Things { count: 2, kind: Kind::Bolt }, size: None, deed: Deed::Out },
        });
        apply(&mut log, Command::Everything);
        apply(&mut log, Command::Yes);
        prop_assert!(log.is_turned());
        for n in 0..400 {
            let pick = answers[n % answers.len()];
            match log.question() {
                _ if !log.is_turned() => {
                    apply(&mut log, Command::Everything);
                    apply(&mut log, Command::Yes);
                }
                _ if n < 60 && pick % 7 == 0 => apply(&mut log, Command::Undo),
                _ if n < 60 && pick % 7 == 1 => apply(&mut log, Command::Note(Note::Typed("later".to_owned()))),
                None => break,
                Some(Question::Value(_)) => apply(&mut log, match pick % 5 {
                    0 => Command::NoValue,
                    1 => Command::Later,
                    3 => Command::Offered { stages: "25 N·m".into(), page: "7-1, table 2".into(), title: "Manual".into(), edition: "invented".into() },
                    2 => Command::Value { stages: "25 N·m + 90 deg".into(), page: None },
                    _ => Command::Value { stages: "24..30 N·m".into(), page: Some("7-1".into()) },
                }),
                Some(Question::Page(_)) => apply(&mut log, if pick % 2 == 0 { Command::NoPage } else { Command::Page("page 3".into()) }),
                // An order that the number of fasteners cannot have is refused, so that another one is told the next time.
                Some(Question::Order(_)) => apply(&mut log, match (usize::from(pick) + n) % 5 {
                    0 => Command::Later,
                    1 => Command::Order(ToldOrder::Crosswise),
                    2 => Command::Order(ToldOrder::AsNumbered),
                    3 => Command::Order(ToldOrder::FromTheMiddle),
                    _ => Command::Order(ToldOrder::Unordered),
                }),
                Some(Question::Whole) => apply(&mut log, Command::Yes),
                Some(_) => apply(&mut log, if pick % 2 == 0 { Command::Yes } else { Command::No }),
            }
        }
        prop_assert!(log.is_ready());
        let mut twin = StripLog::new("Any job");
        for (command, at) in &journal {
            prop_assert!(twin.apply(command.clone(), *at).recorded);
        }
        prop_assert_eq!(twin.entries(), log.entries());
        let text = book::book(&log, book::Known::default(), &Language::english()).unwrap_or_else(|report| panic!("{report}"));
        let of_twin = book::book(&twin, book::Known::default(), &Language::english()).unwrap_or_else(|report| panic!("{report}"));
        prop_assert_eq!(&of_twin, &text);
        let report = procedure::check("book.toml", &text);
        prop_assert!(report.errors() == 0, "{}\n{}", report, text);
        let book = Arc::new(procedure::parse("book.toml", &text).unwrap());
        let (off, back) = came_and_went(&book);
        prop_assert_eq!(off, back);
        let mut job = Job::new(book);
        job.apply(job::Command::Open, At(BEGAN));
        for at in of_book::moments(&log) {
            prop_assert!(job.apply(job::Command::Done, at).recorded);
        }
        prop_assert!(job.position() == of_book::moments(&log).len(), "{} {}", job.position(), text);
        let job = finish(job);
        prop_assert_eq!(job.closed(), Some(&[][..]));
        // With what was told in the rebuild the book is the one that the job went by.
        let fasteners = job.book().fasteners.clone();
        let told = job.told().fold(log, |log, telling| of_book::with_told(log, &fasteners[telling.group.0].id, telling));
        let text = book::book(&told, book::Known::default(), &Language::english()).unwrap_or_else(|report| panic!("{report}"));
        let report = procedure::check("book.toml", &text);
        prop_assert!(report.errors() == 0 && !text.contains("value_later"), "{}\n{}", report, text);
        let again = procedure::parse("book.toml", &text).unwrap();
        for (one, other) in again.fasteners.iter().zip(&fasteners) {
            prop_assert_eq!((&one.finish, &one.order, one.runs), (&other.finish, &other.order, other.runs));
        }
    }
}

/// Said before the answer to the last thing told had been heard to its end, it is that thing once more.
#[test]
fn said_twice_counts_once() {
    let mut log = StripLog::new("Any job");
    log.apply(Command::OnWheels, At(BEGAN));
    log.announced(At(BEGAN + 2_000));
    let bolts = || Command::Fasteners { things: Things { count: 2, kind: Kind::Bolt }, size: None, deed: Deed::Out };
    assert!(log.hear(bolts(), At(BEGAN + 3_000), At(BEGAN + 4_000)).recorded);
    assert!(!log.hear(bolts(), At(BEGAN + 4_500), At(BEGAN + 5_500)).recorded);
    log.announced(At(BEGAN + 8_000));
    assert!(!log.hear(bolts(), At(BEGAN + 7_000), At(BEGAN + 8_500)).recorded);
    log.announced(At(BEGAN + 9_000));
    assert!(log.hear(bolts(), At(BEGAN + 9_500), At(BEGAN + 10_500)).recorded);
    assert_eq!(log.entries().iter().filter(|entry| matches!(entry.what, What::Fasteners { .. })).count(), 2);
}

#[test]
fn what_could_be_several_is_asked() {
    let mut log = StripLog::new("Any job");
    log.apply(Command::OnWheels, At(BEGAN));
    let out = |kind| Command::Fasteners { things: Things { count: 2, kind }, size: None, deed: Deed::Out };
    log.apply(out(Kind::Bolt), At(BEGAN + 1));
    log.apply(out(Kind::Nut), At(BEGAN + 2));
    let reply = log.apply(Command::Changed(Deed::Held), At(BEGAN + 3));
    assert_eq!(reply.says, [Say::Question(Question::Changed { of: 2, deed: Deed::Held })]);
    let reply = log.apply(out(Kind::Stud), At(BEGAN + 4));
    assert_eq!(reply.says[0], Say::Refused(Refused::AnswerFirst));
    assert_eq!(
        log.apply(Command::No, At(BEGAN + 5)).says,
        [Say::Question(Question::Changed { of: 1, deed: Deed::Held })]
    );
    log.apply(Command::Yes, At(BEGAN + 6));
    assert_eq!((log.deed_of(1), log.deed_of(2)), (Some(Deed::Held), Some(Deed::Out)));
}

fn run(jobs: &Path, arguments: &[&str], lines: &str) -> String {
    let mut command = wrenchside();
    command.arg("--jobs").arg(jobs).args(arguments);
    let output = command.write_stdin(lines).output().unwrap();
    let shown = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{shown}{}", String::from_utf8_lossy(&output.stderr));
    shown
}

/// A whole afternoon at the keyboard: stripped, put down, taken up, turned, rebuilt, closed; checked, and begun again.
#[test]
fn a_whole_job_by_typing() {
    let folder = tempfile::tempdir().unwrap();
    let jobs = folder.path().join("jobs");
    let shown =
        run(&jobs, &["strip", "Water pump", "--typed"], "stand in place\nsill\ntook out two bolts 13 mm\nwater pump\n");
    assert!(
        shown.contains("Called: water pump.") && shown.contains("To go on: wrenchside resume water-pump-"),
        "{shown}"
    );
    let listed = run(&jobs, &["jobs"], "");
    assert!(listed.contains("; strip-down, no job yet\n     last told "), "{listed}");
    assert!(listed.contains(". Told so far: 2 bolts, 13 mm, water pump.\n"), "{listed}");
    let lines = "where am i\ntook off a cover\nno name\nthat is everything\nyes\n25 Nm, 7-1\nno\nyes\n";
    let shown = run(&jobs, &["resume", "--typed"], lines);
    assert!(shown.contains("Out: 2 bolts, 13 mm") && shown.contains("The book is written: "), "{shown}");
    let mut lines = "done\n".repeat(12);
    lines += "finish\nyes\n";
    let shown = run(&jobs, &["resume", "--typed"], &lines);
    assert!(shown.contains("25 N·m"), "{shown}");
    assert!(!run(&jobs, &["jobs"], "").contains("no job yet"));
    let path: PathBuf = fs::read_dir(&jobs).unwrap().next().unwrap().unwrap().path();
    let book = path.join("book.toml").display().to_string();
    run(&jobs, &["check", &book], "");
    let record = run(&jobs, &["record"], "");
    assert!(record.contains("Water pump"), "{record}");
    // The same job once more, by the file, to its close.
    let lines = "done\n".repeat(20) + "finish job\nyes\n";
    let shown = run(&jobs, &["start", &book, "--typed"], &lines);
    assert!(shown.contains("Put the support, sill, in place.") && shown.contains("25 N·m"), "{shown}");
    assert!(shown.contains("Closed, nothing open"), "{shown}");
}

/// A wheel comes off nothing that stands on its wheels. A journal that was written while it did replays as it did.
#[test]
fn no_wheel_comes_off_a_vehicle_on_its_wheels() {
    let wheel = || Command::TakenOff(Things { count: 1, kind: Kind::Wheel });
    let mut log = StripLog::new("Any job");
    log.apply(Command::OnWheels, At(BEGAN));
    let reply = log.apply(wheel(), At(BEGAN));
    assert_eq!((&reply.says[0], reply.recorded), (&Say::Refused(Refused::OnWheels), false));
    assert!(log.apply(Command::Supported, At(BEGAN)).recorded);
    // The support is taken back before the wheel comes off.
    for command in [Command::Undo, Command::Yes] {
        log.apply(command, At(BEGAN));
    }
    assert_eq!(log.apply(wheel(), At(BEGAN)).says[0], Say::Refused(Refused::OnWheels));
    assert!(log.apply(Command::Supported, At(BEGAN)).recorded && log.apply(wheel(), At(BEGAN)).recorded);
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), Shelf::default());
    tell(&mut talk, &["on its wheels"]);
    assert_eq!(
        told(&mut talk, "took off a wheel"),
        "It stands on its wheels. First say what holds the vehicle: stand in place."
    );
    let path = talk.folder().path().to_owned();
    drop(talk);
    let (mut folder, mut log, _) = StripFolder::open(&path).unwrap();
    assert!(log.follow(wheel(), At(BEGAN)).recorded);
    folder.append(&wheel(), At(BEGAN)).unwrap();
    drop(folder);
    let mut talk = again(&path);
    assert!(matches!(talk.log().entries()[1].what, What::Part { .. }), "{:?}", talk.log().entries());
    tell(&mut talk, &["no name", "took off a wheel"]);
    assert_eq!(talk.log().entries().len(), 2);
}

/// What is not taken is told with the reason, in the strip and at the turning point.
#[test]
fn what_is_not_taken_has_a_reason() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), Shelf::default());
    tell(&mut talk, &["on its wheels"]);
    let millimetres = "Nothing taken down. Give the width in millimetres.";
    for (line, answer) in [
        ("took out two bolts half inch", millimetres),
        ("took out two bolts thirteen inches", millimetres),
        ("took out two bolts and a nut", "Nothing taken down. Tell me one kind of thing at a time."),
        ("two bolts and three nuts out", "Nothing taken down. Tell me one kind of thing at a time."),
        ("took out a dozen bolts", "I do not know that. To hear what can be told, say: what can I say."),
    ] {
        assert_eq!(told(&mut talk, line), answer, "{line}");
        assert_eq!(talk.log().entries().len(), 1, "{line}");
    }
    tell(&mut talk, &["took out two bolts", "no name", "that is everything", "yes"]);
    for (line, reason) in [
        ("62", "the unit is missing"),
        ("62 bar", "\"62 bar\" is no torque and no angle"),
        ("62 Nm + 50", "the unit is missing"),
        ("62 Nm, 65 Nm", "\"65 Nm\" is no page"),
    ] {
        let answer = told(&mut talk, line);
        let has = answer.to_lowercase().contains(&reason.to_lowercase());
        assert!(answer.starts_with("I can't take that as a value. ") && has, "{line}: {answer}");
        assert!(matches!(talk.log().question(), Some(Question::Value(_))), "{line}");
    }
    // As a manual writes it.
    assert!(told(&mut talk, "45 Nm (33 lbf ft) then 90 degrees, 7-1").starts_with("45 N·m; then turn a further 90°"));
}

/// The word that people have for it is no name.
#[test]
fn trapped_is_told() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), Shelf::default());
    tell(&mut talk, &["on its wheels"]);
    for (line, answer) in [
        ("took out twenty bolts", "Out: 20 bolts. Now its name, or: no name."),
        ("trapped", "Unscrewed, stuck behind something: 20 bolts. Now its name, or: no name."),
        ("no name", "No name."),
        ("loosened two nuts 13 mm", "Loosened, still in: 2 nuts, 13 mm. Now its name, or: no name."),
        (
            "what is not done",
            "Told so far: 20 bolts, unscrewed, stuck behind something; 2 nuts, 13 mm, loosened, still in. Now its name, or: no name.",
        ),
    ] {
        assert_eq!(told(&mut talk, line), answer, "{line}");
    }
    let listened = Language::english().strip_grammar(Default::default(), true);
    assert!(listened.lookup("trapped").is_none() && listened.lookup("stuck behind something").is_some());
}

/// Killed in the strip, it has what was answered.
#[test]
fn killed_in_the_strip_it_has_what_was_told() {
    use std::io::{BufRead, BufReader, Write};
    use std::process::Stdio;
    let jobs = tempfile::tempdir().unwrap();
    let mut program = std::process::Command::new(env!("CARGO_BIN_EXE_wrenchside"))
        .arg("--jobs")
        .arg(jobs.path())
        .args(["strip", "Water pump", "--typed"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = program.stdin.take().unwrap();
    let mut shown = BufReader::new(program.stdout.take().unwrap()).lines();
    for (line, answer) in [("stand in place", "A support"), ("sill", "Called: sill"), ("took out two bolts", "Out: 2")]
    {
        writeln!(input, "{line}").unwrap();
        assert!(shown.any(|shown| shown.unwrap().contains(answer)), "{line}");
    }
    // On Unix it is sent SIGKILL.
    program.kill().unwrap();
    program.wait().unwrap();
    let shown = run(jobs.path(), &["resume", "--typed"], "what came off\n");
    assert!(shown.contains("Told so far: 2 bolts.") && shown.contains("Now its name"), "{shown}");
}

/// What came off last goes on first.
#[test]
fn the_rebuild_goes_the_other_way_round() {
    let mut log = StripLog::new("Any job");
    let part = |kind| Command::TakenOff(Things { count: 1, kind });
    let hose = Command::Opened(Things { count: 1, kind: Kind::Hose });
    for command in [Command::Supported, part(Kind::Cover), hose, part(Kind::Bracket), part(Kind::Wheel)] {
        assert!(log.apply(command, At(BEGAN)).recorded);
    }
    for command in [Command::Everything, Command::Yes, Command::Yes] {
        assert!(log.apply(command, At(BEGAN)).recorded);
    }
    let book = procedure::parse("book.toml", &written(&log)).unwrap();
    let (mut off, mut back) = (Vec::new(), Vec::new());
    for act in book.steps.iter().flat_map(|step| &step.acts) {
        match act {
            Act::TakeOff(c) => off.push(format!("c{}", c.0)),
            Act::Disconnect(c) => off.push(format!("o{}", c.0)),
            Act::PutOn(c) => back.push(format!("c{}", c.0)),
            Act::Connect(c) => back.push(format!("o{}", c.0)),
            _ => {}
        }
    }
    back.reverse();
    assert_eq!((off.len(), off), (4, back));
}

/// What is put as a question tells nothing, answers nothing, and is no name, value or page.
#[test]
fn a_question_is_told_as_one_and_takes_nothing_down() {
    const ASKED: &str = "That was a question, so nothing changed. To claim it, leave out the question mark.";
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), Shelf::default());
    assert_eq!(told(&mut talk, "stand in place?"), ASKED);
    tell(&mut talk, &["on its wheels", "took out two bolts"]);
    let check = |talk: &mut StripTalk, lines: &[&str]| {
        let before = (talk.log().entries().to_vec(), talk.log().question());
        for line in lines {
            assert_eq!(told(talk, line), ASKED, "{line}");
            assert_eq!((talk.log().entries().to_vec(), talk.log().question()), before, "{line}");
        }
    };
    check(
        &mut talk,
        &["took out two bolts?", "is the cover off ?", "still in?", "no name?", "hub bolts?", "13 mm?", "name it hub?"],
    );
    check(&mut talk, &["that is everything?", "undo?", "pause?"]);
    tell(&mut talk, &["hub bolts", "that is everything"]);
    check(&mut talk, &["yes?", "yes please?", "no?"]);
    tell(&mut talk, &["yes"]);
    check(&mut talk, &["62 N·m?", "62 N·m, 7-1?", "no value in the book?", "later?", "page 7-1?"]);
    tell(&mut talk, &["62 N·m"]);
    check(&mut talk, &["7-1?", "page 7-1?", "no page?"]);
    assert!(told(&mut talk, "what came off?").starts_with("Told so far: "));
    assert!(told(&mut talk, "what can I say?").contains("took out"));
    assert_eq!(told(&mut talk, "note is the seal torn?"), "Note taken. Now the page, or: no page.");
}

/// Behind the last part that could be meant a no takes nothing down. A journal that was written while it did replays as it did.
#[test]
fn a_no_to_every_part_makes_no_part_of_its_own() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), Shelf::default());
    tell(&mut talk, &["stand in place", "no name", "took off a cover", "top cover", "took out two bolts", "no name"]);
    assert_eq!(told(&mut talk, "hung it up"), "Hung up: a cover, top cover?");
    assert_eq!(told(&mut talk, "no"), "Nothing changed.");
    assert_eq!((talk.log().entries().len(), talk.log().question()), (3, None));
    let (path, log) = (talk.folder().path().to_owned(), talk.log().entries().to_vec());
    drop(talk);
    assert_eq!(again(&path).log().entries(), log);

    let (mut folder, mut log, _) = StripFolder::open(&path).unwrap();
    for command in [Command::HungUp, Command::No] {
        assert!(log.apply(command.clone(), At(BEGAN)).recorded);
        folder.append(&command, At(BEGAN)).unwrap();
    }
    drop(folder);
    let part = What::Part { things: Things { count: 1, kind: Kind::Part }, hung: true };
    assert_eq!(again(&path).log().entries().last().map(|entry| &entry.what), Some(&part));
}

/// What is said to be still there is denied to have come off, and is no name.
#[test]
fn what_denies_without_a_claim_is_no_name() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), Shelf::default());
    tell(&mut talk, &["on its wheels", "took out two bolts"]);
    for line in [
        "still on",
        "still there",
        "both still there",
        "bolts still fitted",
        "not yet",
        "not there",
        "almost",
        "it stays",
    ] {
        told(&mut talk, line);
        assert_eq!(talk.log().entries()[1].name, None, "{line}");
        assert_eq!(talk.log().question(), Some(Question::Name(1)), "{line}");
    }
    for line in ["half shaft", "far side"] {
        assert_eq!(told(&mut talk, line), format!("Called: {line}."));
        tell(&mut talk, &["took out two bolts"]);
    }
}

/// However long a line is, it is answered at once.
#[test]
fn a_long_line_is_answered_at_once() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), Shelf::default());
    tell(&mut talk, &["on its wheels", "took out 1 bolt"]);
    let before = talk.log().entries().to_vec();
    let began = std::time::Instant::now();
    for line in [
        format!("name {}", "long ".repeat(80)),
        format!("name {}", "long ".repeat(800)),
        "long ".repeat(47),
        "a ".repeat(119),
        "l".repeat(4000),
        format!("took out {}", "two bolts and ".repeat(15)),
        format!("took out {}", "two bolts and ".repeat(200)),
        "not out ".repeat(29),
        "not out ".repeat(500),
        "one thousand and ".repeat(14) + "mm",
    ] {
        told(&mut talk, &line);
        assert_eq!(talk.log().entries(), before, "{line}");
    }
    assert!(began.elapsed().as_secs() < 10, "{:?}", began.elapsed());
    assert_eq!(told(&mut talk, &format!("note {}", "long ".repeat(200))), "Note taken. Now its name, or: no name.");
}

/// The book speaks of things as people do: the name alone where it says what the thing is, and what is said behind a name of several
/// parts apart from it.
#[test]
fn the_book_calls_things_as_people_do() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), Shelf::default());
    tell(
        &mut talk,
        &[
            "stand in place",
            "front stand",
            "took off a part",
            "alternator",
            "unplugged a connector",
            "cam plug",
            "took off a cover",
            "timing cover",
            "took out three screws",
            "no name",
            "took out two bolts, 13 mm",
            "no name",
            "took out two nuts",
            "water pump, lower",
            "took out a bolt",
            "hub bolt",
            "took out two bolts",
            "water pump",
            "that is everything",
            "yes",
        ],
    );
    let log = talk.log().clone();
    let text = book::book(&log, book::Known::default(), &Language::english()).unwrap();
    let said: Vec<&str> = text.lines().filter_map(|line| line.strip_prefix("say = ")).collect();
    for sentence in [
        "Put the support, front stand, in place.",
        "Take off the alternator.",
        "Open the cam plug connector.",
        "Take off the timing cover.",
        "Take out the screws of the first lot.",
        "Take out the 13 mm bolts.",
        "Take out the nuts, water pump, lower.",
        "Take out the hub bolt.",
        "Take out the water pump bolts.",
        "Start the hub bolt by hand.",
        "Start the nuts, water pump, lower, by hand.",
        "Start the 13 mm bolts by hand.",
        "Fit the timing cover.",
        "Connect the cam plug connector.",
        "Fit the alternator.",
        "Tighten the screws of the first lot.",
        "Take away the support, front stand.",
    ] {
        assert!(said.contains(&format!("\"{sentence}\"").as_str()), "{sentence}: {said:#?}");
    }
}
