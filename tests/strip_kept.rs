//! What a strip-down leaves behind: its folder, the moments in it, and the source that its book names.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use std::fs;
use std::path::Path;
use wrenchside::dialogue::{Language, Manner};
use wrenchside::job::At;
use wrenchside::journal::{Folder, StripFolder, strips};
use wrenchside::session::{Conversation, StripTalk, Talker};
use wrenchside::strip::StripLog;
use wrenchside::values::{self, Shelf};

const BEGAN: i64 = 1_750_000_000_000;
const DAY: i64 = 24 * 3_600_000;

fn begin(root: &Path, vehicle: Option<&str>, shelf: Shelf) -> StripTalk {
    let folder = StripFolder::begin(root, "Water pump", vehicle, At(BEGAN)).unwrap();
    StripTalk::new(Language::english(), Manner::default(), StripLog::new("Water pump"), folder, shelf)
}

fn tell(talk: &mut StripTalk, at: i64, lines: &[&str]) {
    for (n, line) in lines.iter().enumerate() {
        talk.read(line, At(at + n as i64)).unwrap();
    }
}

/// The first words of the job that it has become.
fn opening(talk: StripTalk) -> String {
    let (folder, job) = talk.turn().unwrap();
    let book = job.book().clone();
    drop(folder);
    let root = tempfile::tempdir().unwrap();
    let text = "";
    let job = wrenchside::job::Job::new(book);
    let folder = Folder::create(root.path(), text, job.book(), At(BEGAN)).unwrap();
    let mut talk = Conversation::new(Language::english(), Manner::default(), job, folder);
    let turn = talk.begin(At(BEGAN)).unwrap();
    turn.sentences.iter().map(|sentence| sentence.written.as_str()).collect::<Vec<_>>().join(" ")
}

/// Where nobody has named the book, that is said, and no book is made up; where values came from a page, each names its own.
#[test]
fn the_book_of_the_values_is_told_as_far_as_it_is_known() {
    let taken_apart = [
        "on its wheels",
        "took out two bolts",
        "no name",
        "took out a nut",
        "gearbox mount, rear",
        "that is everything",
        "yes",
    ];
    let rest = ["no", "25 N·m, 7-1", "no", "yes"];
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), None, Shelf::default());
    tell(&mut talk, BEGAN, &taken_apart);
    tell(&mut talk, BEGAN + 100, &["80 N·m, 7-1"]);
    tell(&mut talk, BEGAN + 200, &rest);
    let told = opening(talk);
    assert!(told.contains("The values come from a book that nobody has named, of no known edition."), "{told}");

    let page = values::parse("values.toml", include_str!("../docs/values.toml")).unwrap();
    let vehicle = page.vehicle.clone();
    let shelf = Shelf::new(vec![("values.toml".to_owned(), page)]).unwrap();
    let mut talk = begin(jobs.path(), Some(&vehicle), shelf);
    tell(&mut talk, BEGAN, &taken_apart);
    tell(&mut talk, BEGAN + 100, &["yes"]);
    tell(&mut talk, BEGAN + 200, &rest);
    assert!(talk.log().is_ready());
    let path = talk.folder().path().to_owned();
    let told = opening(talk);
    assert!(told.contains("The values come from the books that the values name, as far as they were told."), "{told}");
    let text = fs::read_to_string(path.join("procedure.toml")).unwrap();
    assert!(text.contains("Tarnfell 15 Workshop Manual"), "{text}");
}

/// The clock is set while something is taken apart, and set back between two sessions: all stays to be followed, and the moments are those
/// of the clock that is right.
#[test]
fn a_clock_that_is_set_spoils_no_strip_down() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = begin(jobs.path(), None, Shelf::default());
    tell(&mut talk, BEGAN + 1_000, &["on its wheels", "took out two bolts"]);
    // The machine had no clock that runs without power: it was ten days behind.
    assert!(!talk.clock_set(10 * DAY).sentences.is_empty());
    tell(&mut talk, BEGAN + 3_000, &["no name"]);
    let path = talk.folder().path().to_owned();
    drop(talk);
    assert_eq!(strips(jobs.path())[0].began, At(BEGAN + 10 * DAY));
    // A day later somebody has set it back by a year, before the program was started.
    let (folder, log, torn) = StripFolder::open(&path).unwrap();
    assert!(!torn);
    let mut talk = StripTalk::new(Language::english(), Manner::default(), log, folder, Shelf::default());
    let back = BEGAN - 365 * DAY;
    tell(&mut talk, back, &["took out a nut", "no name", "that is everything", "yes"]);
    tell(&mut talk, back + 100, &["no value in the book", "no", "no value in the book", "no", "yes"]);
    assert!(talk.log().is_ready(), "{:?}", talk.log().question());
    let (folder, job) = talk.turn().unwrap();
    let done: Vec<i64> = job.facts().iter().map(|fact| fact.at.0).collect();
    let (first, second) = (BEGAN + 1_001 + 10 * DAY, back);
    assert!(done.contains(&first) && done.contains(&second), "{done:?}");
    assert!(!done.contains(&(BEGAN + 1_001)), "{done:?}");
    drop(folder);
    let opened = Folder::open(&path, false).unwrap();
    assert_eq!(opened.job.digest(), job.digest());
}

/// A folder is called by the day that the user's clock shows, and its name has what the letters of the title are.
#[test]
fn a_folder_has_the_users_day_and_the_letters_of_the_title() {
    let jobs = tempfile::tempdir().unwrap();
    let begin = |zone: &str| {
        let mut command = wrenchside();
        command.env("TZ", zone).arg("--jobs").arg(jobs.path()).args(["strip", "Kühlmittelpumpe für Émile", "--typed"]);
        let output = command.write_stdin("on its wheels\n").output().unwrap();
        let shown = String::from_utf8_lossy(&output.stdout).into_owned();
        let name = shown.lines().find_map(|line| line.strip_prefix("Strip-down ")).unwrap_or_default().to_owned();
        assert!(jobs.path().join(&name).is_dir() && !name.is_empty(), "{shown}");
        name.strip_prefix("kuehlmittelpumpe-fuer-emile-").unwrap_or_else(|| panic!("{name}")).to_owned()
    };
    // Twenty-six hours apart, so never on one day.
    let (east, west) = (begin("EAST-14"), begin("WEST12"));
    assert!(east > west && east.len() == west.len(), "{east} {west}");
}
