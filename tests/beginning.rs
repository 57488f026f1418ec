//! `new` from outside: a file by questions, from a text, from the other side; never over another.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use std::fs;
use std::path::Path;

fn new(args: &[&str], file: &Path, answers: &str) -> (i32, String, String) {
    let output = wrenchside().arg("new").arg(file).args(args).write_stdin(answers).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

#[test]
fn a_file_by_questions_is_clean_and_can_be_started() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("side-cover.toml");
    let answers =
        "Side cover\nTarnfell 15, light van\nWorkshop Manual\nfirst\n\nA. N. Author\nwheel chocks, axle stand\n";
    let (code, shown, errors) = new(&[], &file, answers);
    assert_eq!(code, 0, "{errors}");
    assert!(shown.starts_with("Title of the job: Vehicle: "), "{shown}");
    let checked = wrenchside().arg("check").arg(&file).output().unwrap();
    assert_eq!(checked.status.code(), Some(0), "{}", String::from_utf8_lossy(&checked.stderr));
    let jobs = dir.path().join("jobs");
    let started =
        wrenchside().arg("--jobs").arg(jobs).arg("start").arg(&file).arg("--typed").write_stdin("").output().unwrap();
    assert!(
        String::from_utf8_lossy(&started.stdout).contains("Step 1. Lay out the tools"),
        "{}",
        String::from_utf8_lossy(&started.stdout)
    );
}

#[test]
fn nothing_is_written_over() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("mine.toml");
    fs::write(&file, "mine").unwrap();
    for args in [
        &[][..],
        &["--from", "tests/data/texts/side-cover.txt"],
        &["--mirror", "procedures/tarnfell-front-lower-arm-left.toml"],
    ] {
        let (code, shown, errors) = new(args, &file, "");
        assert_eq!((code, shown.as_str()), (2, ""), "{args:?}");
        assert!(errors.contains("it is there already"), "{errors}");
    }
    assert_eq!(fs::read_to_string(&file).unwrap(), "mine");
    let none = dir.path().join("none.toml");
    assert_eq!(new(&["--from", "no-such.txt"], &none, "").0, 2);
    assert_eq!(new(&["--mirror", "no-such.toml"], &none, "").0, 2);
    assert_eq!(new(&["--mirror", "procedures/tarnfell-cylinder-head.toml", "--from", "a"], &none, "").0, 2);
    assert!(!none.exists());
}

#[test]
fn what_cannot_be_done_is_told_before_anything_is_asked() {
    let dir = tempfile::tempdir().unwrap();
    let (code, shown, errors) = new(&[], &dir.path().join("none/mine.toml"), "Side cover\n");
    assert!(code == 2 && shown.is_empty() && errors.contains("there is no folder"), "{shown}{errors}");
    let (code, shown, errors) = new(&["--values", "values.txt"], &dir.path().join("mine.toml"), "Side cover\n");
    assert!(code == 2 && shown.is_empty() && errors.contains("--from"), "{shown}{errors}");
}

#[test]
fn a_text_and_a_page_of_values_make_a_file() {
    let dir = tempfile::tempdir().unwrap();
    let (file, page) = (dir.path().join("mount.toml"), dir.path().join("values.txt"));
    fs::write(&page, "vehicle: Tarnfell 15, light van\nsource: Manual\nedition: 1\nbracket nut: 35 N·m, page 7-2\n")
        .unwrap();
    let args = ["--from", "tests/data/texts/gearbox-mount.md", "--values", page.to_str().unwrap()];
    let (code, shown, errors) = new(&args, &file, "");
    assert_eq!(code, 0, "{errors}");
    assert!(shown.contains(" lines understood, ") && shown.contains("are marked \"# ??\""), "{shown}");
    let text = fs::read_to_string(&file).unwrap();
    assert!(text.contains("stages = [{ torque = \"35 N·m\" }]"), "{text}");
    // What is not settled cannot be worked by.
    assert_eq!(wrenchside().arg("check").arg(&file).output().unwrap().status.code(), Some(1));
    fs::write(&page, "vehicle: another\nsource: Manual\nedition: 1\nbracket nut: 35 N·m, page 7-2\n").unwrap();
    let (code, _, errors) = new(&args, &dir.path().join("other.toml"), "");
    assert!(code == 2 && errors.contains("for \"another\""), "{errors}");
}

/// A page of values has no steps. Beside a text it is taken, a table of a spreadsheet as well.
#[test]
fn a_page_of_values_is_no_text_and_is_taken_beside_one() {
    let dir = tempfile::tempdir().unwrap();
    let (table, lines) = (dir.path().join("values.csv"), dir.path().join("values.txt"));
    let head = "vehicle,\"Tarnfell 15, light van\"\nsource,Manual\nedition,1\n";
    fs::write(&table, format!("{head}name,value,page\nbracket nut,35 N·m,page 7-2\n")).unwrap();
    fs::write(&lines, "vehicle: Tarnfell 15, light van\nsource: Manual\nedition: 1\nbracket nut: 35 N·m, page 7-2\n")
        .unwrap();
    for page in [&table, &lines] {
        let file = dir.path().join("none.toml");
        let (code, _, errors) = new(&["--from", page.to_str().unwrap()], &file, "");
        assert!(code == 2 && errors.contains("a page of values") && errors.contains("--values"), "{errors}");
        assert!(!file.exists());
    }
    let file = dir.path().join("mount.toml");
    let args = ["--from", "tests/data/texts/gearbox-mount.md", "--values", table.to_str().unwrap()];
    let (code, _, errors) = new(&args, &file, "");
    assert_eq!(code, 0, "{errors}");
    assert!(fs::read_to_string(&file).unwrap().contains("stages = [{ torque = \"35 N·m\" }]"));
}

#[test]
fn the_other_side_is_told_line_by_line() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("tarnfell-front-lower-arm-right.toml");
    let (code, shown, _) = new(&["--mirror", "procedures/tarnfell-front-lower-arm-left.toml"], &file, "");
    assert_eq!(code, 0);
    // It includes the other wheel, from a file beside it.
    assert!(shown.contains("group = \"right-wheel-off\""), "{shown}");
    fs::create_dir(dir.path().join("shared")).unwrap();
    fs::copy("procedures/shared/tarnfell-15.toml", dir.path().join("shared/tarnfell-15.toml")).unwrap();
    assert!(shown.contains("title = \"Front lower arm, right: replace\"") && shown.contains("look each up"), "{shown}");
    assert_eq!(wrenchside().arg("check").arg(&file).output().unwrap().status.code(), Some(0));
}
