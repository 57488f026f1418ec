//! Values that count from a measurement, and measurements without limits, from outside: what is laid out, said, and kept in
//! the record.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// A nut with a left-hand thread whose torque counts from its drag, measured in the step before.
const NUT: &str = r#"
format = 1
[procedure]
id = "drag"
title = "Drag"
vehicle = "Tarnfell 15, light van"
language = "en"
revision = "1"
author = "invented"
[source]
title = "Invented book"
edition = "first"
[[fastener]]
id = "a"
name = "pinion nut"
places = ["pinion"]
drive = "30 mm hex"
left_hand = true
stages = [{ torque = "drag + 25 N·m" }, { angle = "45 deg" }]
over = "restart"
source = "page 6"
[[step]]
id = "off"
phase = "strip"
say = "Take out the pinion nut."
source = "page 6"
do = [{ remove = "a" }]
[[step]]
id = "m"
phase = "inspect"
say = "Measure the drag."
source = "page 6"
do = [{ measure = "drag of the nut", name = "drag", unit = "N·m" }]
[[step]]
id = "on"
phase = "rebuild"
say = "Start the pinion nut by hand."
source = "page 6"
do = [{ hand_start = "a" }]
[[step]]
id = "tight"
phase = "rebuild"
say = "Tighten the pinion nut."
source = "page 6"
do = [{ tighten = "a" }]
"#;

fn run(folder: &Path, args: &[&str]) -> String {
    let output = wrenchside().arg("--jobs").arg(folder.join("jobs")).args(args).output().expect("it runs");
    let (out, err) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(output.status.success(), "{out}{err}");
    out.into_owned()
}

/// A folder with the procedure in it, and its path.
fn book(text: &str) -> (TempDir, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("drag.toml");
    fs::write(&file, text).expect("written");
    let named = file.to_str().expect("a path").to_owned();
    (folder, named)
}

/// Types lines into a job; gives what was said.
fn typed(folder: &Path, file: &str, lines: &[&str]) -> String {
    let mut command = wrenchside();
    command
        .arg("--jobs")
        .arg(folder.join("jobs"))
        .args(["start", file, "--typed"])
        .write_stdin(lines.join("\n") + "\n");
    let output = command.output().expect("it runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

#[test]
fn a_torque_that_counts_from_a_measurement_has_no_setting_before_the_job() {
    let (folder, file) = book(NUT);
    let page = folder.path().join("layout.html");
    let list = ["layout", &file, "--toolbox", "docs/toolbox.toml", "--html", page.to_str().expect("a path")];
    let shown = run(folder.path(), &list);
    let html = fs::read_to_string(&page).expect("the page");
    for text in [&shown, &html] {
        assert!(text.contains("Pinion nut, Stage 1: drag of the nut plus 25 N·m, measured in step 2"), "{text}");
        assert!(!text.contains("set 25 N·m") && !text.contains("Stage 1: 25 N·m"), "{text}");
    }
}

/// The record of the only job, as a page, as Markdown and as data.
fn records(folder: &Path) -> [String; 3] {
    ["html", "markdown", "json"].map(|form| {
        let file = folder.join(format!("record.{form}"));
        run(folder, &["record", &format!("--{form}"), file.to_str().expect("a path")]);
        fs::read_to_string(&file).expect("the record")
    })
}

#[test]
fn what_has_no_limits_is_never_called_inside_them() {
    let (folder, file) = book(NUT);
    typed(folder.path(), &file, &["next step", "reading 0.9"]);
    for text in records(folder.path()) {
        assert!(text.contains("0.9 N·m") && !text.contains("within the limits"), "{text}");
        assert!(!text.contains("\"within\": true"), "{text}");
    }
}

#[test]
fn a_reading_without_limits_is_put_right_in_a_whole_sentence() {
    let (folder, file) = book(NUT);
    let shown = typed(folder.path(), &file, &["next step", "reading 2", "correction", "reading 0.9"]);
    let told = "The reading of drag of the nut: was 2 N·m, now 0.9 N·m.";
    assert!(shown.contains(told) && !shown.contains(", ."), "{shown}");
}

#[test]
fn the_record_has_the_torque_that_a_measurement_came_to() {
    let (folder, file) = book(NUT);
    typed(folder.path(), &file, &["next step", "reading 0.9", "next step", "next step", "reading 25.9"]);
    for text in records(folder.path()) {
        assert!(text.contains("drag of the nut 0.9 plus 25 N·m, that is 25.9 N·m"), "{text}");
    }
    let data: serde_json::Value =
        serde_json::from_str(&fs::read_to_string(folder.path().join("record.json")).expect("the record"))
            .expect("JSON");
    let stages = &data["fasteners"][0]["stages"];
    assert_eq!((&stages[0]["published"], &stages[0]["comes_to"]), (&"drag + 25 N·m".into(), &"25.9 N·m".into()));
    assert!(stages[1].get("comes_to").is_none(), "{stages}");
}

#[test]
fn a_sum_of_mixed_units_is_as_fine_as_what_it_is_made_of() {
    // 8 lbf·in are 0.904 N·m.
    let (folder, file) = book(NUT);
    let lines = ["next step", "reading 8 inch pounds", "next step", "next step", "reading 25.9"];
    let shown = typed(folder.path(), &file, &lines);
    assert!(shown.contains("8 lbf·in plus 25 N·m, that is 25.9 N·m"), "{shown}");
    assert!(!shown.contains("Too low") && shown.contains("Stage 2"), "{shown}");
}

#[test]
fn limits_that_come_out_below_nothing_are_called_so() {
    let again = r#"do = [{ measure = "drag of the nut", name = "drag", unit = "N·m" }]
[[step]]
id = "m2"
phase = "inspect"
say = "Measure it again."
source = "page 6"
do = [{ measure = "drag of the pinion", least = "drag - 3 N·m", most = "drag - 1 N·m", otherwise = "Choose another shim." }]
"#;
    let line = "do = [{ measure = \"drag of the nut\", name = \"drag\", unit = \"N·m\" }]\n";
    let (folder, file) = book(&NUT.replace(line, again));
    let shown = typed(folder.path(), &file, &["next step", "reading 0.9", "next step"]);
    assert!(shown.contains("It must be -2.1..-0.1 N·m, which nothing can be: check what it counts from."), "{shown}");
    let (folder, file) = book(&NUT.replace(line, again));
    let shown = typed(folder.path(), &file, &["next step", "reading 4", "next step"]);
    assert!(shown.contains("It must be 1..3 N·m."), "{shown}");
}
