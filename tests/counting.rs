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
    said(folder, &["start", file, "--typed"], lines)
}

/// Types lines into the job that a command opens.
fn said(folder: &Path, args: &[&str], lines: &[&str]) -> String {
    let mut command = wrenchside();
    command.arg("--jobs").arg(folder.join("jobs")).args(args).write_stdin(lines.join("\n") + "\n");
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
    assert!(shown.contains("It must be -2.1..-0.1 N·m, below zero: check the reading that it counts from."), "{shown}");
    let (folder, file) = book(&NUT.replace(line, again));
    let shown = typed(folder.path(), &file, &["next step", "reading 4", "next step"]);
    assert!(shown.contains("It must be 1..3 N·m."), "{shown}");
}

/// A shim is measured, and another one chosen from those at hand.
const SHIMS: &str = r#"
format = 1
[procedure]
id = "shims"
title = "Shims"
vehicle = "Tarnfell 15, light van"
language = "en"
revision = "1"
author = "invented"
[source]
title = "Invented book"
edition = "first"
[[stock]]
id = "shims"
name = "shim"
sizes = ["0.10 mm", "0.20 mm", "0.30 mm"]
source = "page 9"
[[step]]
id = "old"
phase = "inspect"
say = "Measure the shim."
source = "page 1"
do = [{ measure = "shim", name = "shim", unit = "mm" }]
[[step]]
id = "new"
phase = "inspect"
say = "Choose a shim."
source = "page 1"
do = [{ measure = "new shim", among = "shims", least = "shim", most = "shim + 0.1 mm", otherwise = "Order it.", source = "page 2" }]
"#;

#[test]
fn the_page_of_the_sizes_at_hand_is_named_where_one_is_chosen_and_in_the_record() {
    let (folder, file) = book(SHIMS);
    let shown = typed(folder.path(), &file, &["source", "reading 0.15", "next step", "source"]);
    let told = "Invented book, first, page 2. Shim sizes: page 9.";
    let flat = shown.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("Invented book, first, page 1.") && flat.contains(told), "{shown}");
    assert_eq!(flat.matches("page 9").count(), 1, "only where it is chosen from: {shown}");
    let [html, markdown, json] = records(folder.path());
    for text in [&html, &markdown] {
        assert!(text.contains("new shim (page 2; sizes: page 9)"), "{text}");
    }
    assert!(json.contains(r#""sizes_page": "page 9""#), "{json}");
}

/// What is too wide is changed and measured again.
const AGAIN: &str = r#"
format = 1
[procedure]
id = "again"
title = "Again"
vehicle = "Tarnfell 15, light van"
language = "en"
revision = "1"
author = "invented"
[source]
title = "Invented book"
edition = "first"
[[step]]
id = "gap"
phase = "inspect"
say = "Measure the gap."
source = "page 1"
do = [{ measure = "gap", name = "gap", most = "1 mm", otherwise = "Change it.", source = "page 1" }]
[[step]]
id = "change"
if_outside = "gap"
again_from = "gap"
phase = "inspect"
say = "Change it."
source = "page 1"
[[step]]
id = "end"
phase = "inspect"
say = "Look at it."
source = "page 1"
"#;

#[test]
fn of_a_round_that_ends_by_a_measurement_nobody_is_said_to_have_said_no() {
    let (folder, file) = book(AGAIN);
    let lines = ["reading 2", "yes", "next step", "done", "undo", "yes", "done", "reading 0.5"];
    let shown = typed(folder.path(), &file, &lines);
    assert!(shown.contains("Take back: the end of round 1, step 2?"), "{shown}");
    assert!(shown.contains("Taken back: the end of round 1, step 2."), "{shown}");
    for text in records(folder.path()) {
        assert!(!text.contains("with no") && !text.contains("the no of"), "{text}");
    }
    let [html, markdown, _] = records(folder.path());
    for text in [html, markdown] {
        assert!(text.to_lowercase().contains("round 1 ended with step 2, and it is measured again"), "{text}");
    }
}

/// How often it was done over, by both pages and the data.
fn told_of_step_2(folder: &Path) -> (bool, bool, serde_json::Value) {
    let [html, markdown, json] = records(folder);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let count = |n: usize| html.contains(&format!("rounds: {n}")) && markdown.contains(&format!("rounds: {n}"));
    (count(1), count(2), json["steps"][1]["rounds_done"].clone())
}

#[test]
fn a_round_that_a_measurement_in_order_ends_is_not_counted_twice() {
    let (folder, file) = book(AGAIN);
    typed(folder.path(), &file, &["reading 2", "yes", "next step", "done", "reading 0.5", "next step"]);
    assert_eq!(told_of_step_2(folder.path()), (true, false, 1.into()), "it was changed once");
}

#[test]
fn a_yes_to_the_last_round_there_may_be_is_no_round_of_its_own() {
    let ask = "until = \"Is it changed?\"\nat_most = 2\notherwise = \"Tell the office.\"\nsay = \"Change it.\"";
    let asking = AGAIN.replace("if_outside = \"gap\"\n", "").replacen("say = \"Change it.\"", ask, 1);
    let (folder, file) = book(&asking);
    let once = ["reading 0.5", "next step", "done"];
    let lines = [&once[..], &["no"], &once, &["no", "done", "yes"]].concat();
    let shown = typed(folder.path(), &file, &lines);
    assert!(shown.contains("Still not right after 2 rounds"), "{shown}");
    assert_eq!(told_of_step_2(folder.path()), (false, true, 2.into()), "twice it was done");
}

/// What is too wide is measured at the other end, and a shim is laid in.
#[test]
fn what_belongs_to_steps_that_are_not_needed_is_called_so() {
    let branch = AGAIN
        .replace("again_from = \"gap\"\n", "")
        .replacen("[[step]]\nid = \"gap\"", "[[component]]\nid = \"shim\"\nname = \"shim\"\npart = \"shim\"\n[[part]]\nid = \"shim\"\nname = \"new shim\"\ncount = 1\n[[step]]\nid = \"gap\"", 1)
        .replacen("[[step]]\nid = \"end\"", "[[step]]\nid = \"lay\"\nif_outside = \"gap\"\nphase = \"inspect\"\nsay = \"Lay the shim in.\"\nhelper = \"Hold the lamp.\"\nsource = \"page 1\"\ndo = [{ measure = \"depth\", most = \"9 mm\", otherwise = \"Stop.\", source = \"page 1\" }, { take_off = \"shim\" }, { put_on = \"shim\" }]\n[[step]]\nid = \"end\"", 1);
    let (folder, file) = book(&branch);
    typed(folder.path(), &file, &["next step"]);
    let [html, markdown, _] = records(folder.path());
    for text in [html, markdown] {
        assert!(text.contains("not measured") && !text.contains("not needed"), "not known yet: {text}");
        // Nor does what somebody else does run into what is done by whoever asks.
        assert!(text.contains("Lay the shim in. (Second person: Hold the lamp.)"), "{text}");
    }
    said(folder.path(), &["resume", "--typed"], &["reading 0.5", "next step"]);
    let [html, markdown, json] = records(folder.path());
    for text in [html, markdown] {
        assert!(
            text.contains("not needed") && !text.contains("not measured") && !text.contains("not put on"),
            "{text}"
        );
    }
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(
        (&json["measurements"][1]["not_needed"], &json["parts"][0]["held"]),
        (&true.into(), &"not_needed".into())
    );
}

/// A nut that holds itself: run down, measured while it turns, tightened by what that took and the value of the book.
#[test]
fn what_running_a_nut_down_takes_is_added_to_its_torque() {
    let measured = "{ measure = \"drag of the nut\", name = \"drag\", unit = \"N·m\" }";
    let rundown = "{ measure = \"rundown torque\", name = \"drag\", least = \"2 N·m\", most = \"15 N·m\", otherwise = \"Fit a new nut.\" }";
    let start = "[[step]]\nid = \"on\"";
    let tight = "[[step]]\nid = \"tight\"";
    let text = NUT.replacen("format = 1", "format = 2", 1).replacen(measured, rundown, 1);
    let (from, to) = (text.find("[[step]]\nid = \"m\"").expect("it"), text.find(start).expect("it"));
    let step = text[from..to].replacen("phase = \"inspect\"", "phase = \"rebuild\"", 1);
    let rest = format!("{}{}", &text[..from], &text[to..]);
    let text = rest.replacen(tight, &format!("{step}{tight}"), 1);
    let (folder, file) = book(&text);
    let shown = typed(
        folder.path(),
        &file,
        &[
            "next step",
            "next step",
            "reading 20 newton metres",
            "yes",
            "next step",
            "reading 3",
            "next step",
            "reading 28",
            "reading 45 degrees",
        ],
    );
    // Too hard to run down: it is held there, and nothing is added up.
    assert!(shown.contains("Fit a new nut.") && !shown.contains("45 N·m"), "{shown}");
    assert!(shown.contains("rundown torque 3 plus 25 N·m, that is 28 N·m"), "{shown}");
    assert!(shown.contains("fully tightened"), "{shown}");
    // Measured once it is tight, there is nothing to tighten it by.
    let late = folder.path().join("late.toml");
    fs::write(&late, format!("{rest}{step}")).expect("written");
    let output = wrenchside().arg("check").arg(&late).output().expect("it runs");
    let found = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(found.contains("measure-later"), "{found}");
}

/// A replayed scenario, its jobs kept; the record of it in JSON and Markdown.
fn kept(folder: &Path, scenario: &str) -> (serde_json::Value, String) {
    let file = format!("audio-fixtures/scenarios/{scenario}.toml");
    run(folder, &["replay", "--silent", "--keep", &file]);
    let (json, page) = (folder.join("r.json"), folder.join("r.md"));
    run(folder, &["record", "--json", json.to_str().expect("a path"), "--markdown", page.to_str().expect("a path")]);
    let read = |path| fs::read_to_string(path).expect("a record");
    (serde_json::from_str(&read(json)).expect("JSON"), read(page))
}

#[test]
fn the_record_names_each_end_state_and_what_was_begun_anew() {
    let dir = tempfile::tempdir().expect("a folder");
    let (json, page) = kept(dir.path(), "back-off-slot-and-lock");
    let group = |id: &str| {
        let all = json["fasteners"].as_array().expect("fasteners");
        all.iter().find(|group| group["id"] == id).expect("the fastener").clone()
    };
    for (id, state, text, runs) in [
        ("shaft-nut", "locked", "fully tightened, locked", 3),
        ("side-screw", "locked", "backed off, locked", 2),
        ("flange-nut", "final", "fully tightened", 1),
        ("cover-bolts", "final", "fully tightened", 1),
    ] {
        let item = &group(id)["items"][0];
        assert_eq!(
            (&item["state"], &item["state_text"], &item["runs"]),
            (&state.into(), &text.into(), &runs.into()),
            "{id}"
        );
    }
    assert_eq!((&group("side-screw")["left_hand"], &group("side-screw")["lock"]), (&true.into(), &"lock tab".into()));
    assert_eq!(group("cover-bolts")["stages"][0]["published"], "50 %");
    assert_eq!(group("flange-nut")["stages"][0]["comes_to"], "88.5 N·m");
    for told in ["fully tightened, locked, restarted", "backed off, locked, restarted", "left-hand thread, back off"] {
        assert!(page.contains(told), "{told}: {page}");
    }
}

#[test]
fn what_is_due_later_stands_in_the_list_of_jobs_and_a_second_person_in_the_record() {
    let dir = tempfile::tempdir().expect("a folder");
    let (json, page) = kept(dir.path(), "shims-and-a-power-cut");
    let said = run(dir.path(), &["jobs"]);
    let due = "open: due after 1,000 kilometres, step 57: Listen at the cam cover once more, with the engine cold";
    assert!(said.contains("closed with something open") && said.contains(due), "{said}");
    assert_eq!(json["open"].as_array().map(Vec::len), Some(1));
    assert!(page.contains("(Second person: Call out when the lobe points up.)"), "{page}");
}
