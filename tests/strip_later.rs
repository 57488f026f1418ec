//! A value that was left for later at the turning point: told in the rebuild, and in the book from then on.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use std::fs;
use std::path::{Path, PathBuf};

const PAGE: &str = "vehicle: Tarnfell 15, light van\nsource: Workshop Manual\nedition: invented\n\
                    head cover bolt: 20 N·m + 90 deg, 7-1\n";

fn run(jobs: &Path, arguments: &[&str], lines: &str) -> String {
    let output = wrenchside().arg("--jobs").arg(jobs).args(arguments).write_stdin(lines).output().unwrap();
    let shown = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{shown}{}", String::from_utf8_lossy(&output.stderr));
    shown
}

fn folder(jobs: &Path) -> PathBuf {
    fs::read_dir(jobs).unwrap().next().unwrap().unwrap().path()
}

/// Four bolts and a nut come off; the bolts have their value left for later, and the nut has none.
const STRIP: &str = "on its wheels\ntook out a nut\ntensioner\ntook out four bolts 13 mm\nhead cover\n\
                     that is everything\nyes\nlater\nno\nlater\nno\nyes\n";

/// Up to the first step that tightens what has no value yet.
const UP_TO_THE_BOLTS: &str = "done\ndone\n";

fn left_for_later(jobs: &Path) {
    run(jobs, &["strip", "Head cover", "--vehicle", "Tarnfell 15, light van", "--typed"], STRIP);
}

/// Nothing is taken as tight before its value is told; what is told is asked whole and said back, and is in the book from a yes on,
/// whatever happens to the program in between.
#[test]
fn a_value_is_told_when_its_turn_comes() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    left_for_later(&jobs);
    let shown =
        run(&jobs, &["resume", "--typed"], &format!("{UP_TO_THE_BOLTS}done\nnext step\n25\n62 bar\n62 Nm, 62 Nm\n"));
    let asks = "Head cover bolts: the value was left for later. What does the book say?";
    assert!(shown.matches(asks).count() >= 3, "{shown}");
    for reason in ["the unit is missing", "no torque and no angle", "is no page"] {
        assert!(shown.contains(reason), "{reason}: {shown}");
    }
    // Broken off before the yes, nothing is kept but the question.
    let shown = run(&jobs, &["resume", "--typed"], "20 Nm + 90 deg\npage 7-1\nfrom the middle outward\n");
    assert!(shown.contains("Now the page, or: no page."), "{shown}");
    assert!(shown.contains("Which order? Across and across, in turn from one end,"), "{shown}");
    assert!(shown.contains("Do all of them get one stage before any gets the next?"), "{shown}");
    let shown = run(&jobs, &["resume", "--typed"], "yes\n");
    let whole = "Head cover bolts. The whole value: 20 N·m; then turn a further 90° (1½ flats), page 7-1, from the middle \
                 outward, one stage at a time over all of them. Is that right?";
    assert!(shown.contains(whole), "{shown}");
    let shown = run(&jobs, &["resume", "--typed"], "no\n18 Nm + 90 deg, 7-2\nfrom the middle\nyes\nyes\nwhere am i\n");
    assert!(shown.contains("Head cover bolt 1 of 4, first. Stage 1 of 2: 18 N·m."), "{shown}");
    // The journal comes to the same book, and an undo back to the question.
    let shown =
        run(&jobs, &["resume", "--typed"], "scratch that\nyes\n18 Nm + 90 deg, 7-2\nacross and across\nyes\nyes\n");
    assert!(shown.contains("Take back: the value for the head cover bolts?") && shown.contains(asks), "{shown}");
    let shown = run(&jobs, &["resume", "--typed"], &("done\n".repeat(10) + "no value in the book\nyes\n"));
    assert!(shown.contains("2 of 4, third."), "{shown}");
    assert!(
        shown.contains("Tensioner nut: the value was left for later.") && shown.contains("Kept: tensioner nut."),
        "{shown}"
    );
    let shown = run(&jobs, &["resume", "--typed"], &("done\n".repeat(4) + "note washer was bent\nfinish job\nyes\n"));
    assert!(shown.contains("Closed, nothing open"), "{shown}");
    assert!(shown.contains("The book is written. It is book.toml in the job's folder."), "{shown}");
    let text = fs::read_to_string(folder(&jobs).join("book.toml")).unwrap();
    for has in [
        "stages = [{ torque = \"18 N·m\" }, { angle = \"90°\" }]",
        "source = \"page 7-2\"",
        "pattern = \"cross\"",
        "runs = \"stage by stage\"",
        "no_value = ",
        "washer was bent",
    ] {
        assert!(text.contains(has), "{has}: {text}");
    }
    assert!(!text.contains("value_later"), "{text}");
    // The second time, nothing is asked.
    let book = folder(&jobs).join("book.toml").display().to_string();
    run(&jobs, &["check", &book], "");
    let shown = run(&jobs, &["start", &book, "--typed"], &("done\n".repeat(24) + "finish job\nyes\n"));
    assert!(shown.contains("Closed, nothing open") && !shown.contains("left for later"), "{shown}");
}

/// A value of a page is taken by its name, with its source.
#[test]
fn a_value_is_taken_from_a_page_by_its_name() {
    let dir = tempfile::tempdir().unwrap();
    let (jobs, page) = (dir.path().join("jobs"), dir.path().join("page.txt"));
    left_for_later(&jobs);
    fs::write(&page, PAGE).unwrap();
    let lines = format!("{UP_TO_THE_BOLTS}value for the head cover bolt\nas in the drawing\nno\nyes\n");
    let shown = run(&jobs, &["resume", "--typed", "--values", &page.display().to_string()], &lines);
    let whole = "Head cover bolts. The whole value: 20 N·m; then turn a further 90° (1½ flats), page 7-1, Workshop Manual, \
                 invented, as numbered on the drawing, one after the other, each with all its stages. Is that right?";
    assert!(shown.contains(whole) && shown.contains("Kept: head cover bolts."), "{shown}");
}

/// The book is not written over one that its user has changed meanwhile.
#[test]
fn a_book_that_was_changed_is_kept() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    left_for_later(&jobs);
    let book = folder(&jobs).join("book.toml");
    let mine = fs::read_to_string(&book).unwrap() + "# mine\n";
    fs::write(&book, &mine).unwrap();
    let lines = format!("{UP_TO_THE_BOLTS}25 Nm, 7-1\nno order in the book\nyes\n")
        + &"done\n".repeat(6)
        + "no value in the book\nyes\n"
        + &"done\n".repeat(4)
        + "finish job\nyes\n";
    let shown = run(&jobs, &["resume", "--typed"], &lines);
    assert!(shown.contains("You have changed the book, so the new one lies beside it. It is book-2.toml"), "{shown}");
    assert_eq!(fs::read_to_string(&book).unwrap(), mine);
    let beside = folder(&jobs).join("book-2.toml");
    assert!(fs::read_to_string(&beside).unwrap().contains("25 N·m"));
    // A power cut between the close and its book: it is written when the job is looked at again.
    fs::remove_file(&beside).unwrap();
    run(&jobs, &["resume", "--typed"], "");
    assert!(beside.exists());
}

/// "Later" leaves the step open, and the job says so at its end.
#[test]
fn what_is_never_told_stays_open() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    left_for_later(&jobs);
    let shown = run(&jobs, &["resume", "--typed"], &format!("{UP_TO_THE_BOLTS}later\nyes\nfinish job\n"));
    assert!(shown.contains("head cover bolts"), "{shown}");
    assert!(!shown.contains("Closed, nothing open"), "{shown}");
}
