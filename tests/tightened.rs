//! What is told of fasteners while they are tightened, and kept of them: at the prompt and in the record.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// Two bolts, one at a time, to a torque and on by an angle.
const BOLTS: &str = r#"
format = 1
[procedure]
id = "tiny"
title = "Tiny"
vehicle = "Tarnfell 15, light van"
language = "en"
revision = "1"
author = "invented"
[source]
title = "Invented book"
edition = "first"
[[fastener]]
id = "a"
name = "cover bolt"
plural = "cover bolts"
places = ["one", "two"]
drive = "10 mm hex"
pattern = "in turn"
runs = "one at a time"
stages = [{ torque = "20 N·m" }, { angle = "45 deg" }]
over = "restart"
source = "page 6"
[[step]]
id = "off"
phase = "strip"
say = "Take out the cover bolts."
source = "page 6"
do = [{ remove = "a" }]
[[step]]
id = "on"
phase = "rebuild"
say = "Start the cover bolts by hand."
source = "page 6"
do = [{ hand_start = "a" }]
[[step]]
id = "tight"
phase = "rebuild"
say = "Tighten the cover bolts."
source = "page 6"
do = [{ tighten = "a" }]
"#;

struct Bench(TempDir);

impl Bench {
    fn new() -> Bench {
        Bench(tempfile::tempdir().expect("a folder"))
    }

    fn run(&self, args: &[&str], lines: &str) -> String {
        let jobs = self.0.path().join("jobs");
        let output = wrenchside().arg("--jobs").arg(jobs).args(args).write_stdin(lines).output().expect("it runs");
        let (out, err) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
        assert!(output.status.success(), "{out}{err}");
        out.into_owned()
    }

    /// Types lines into a job of this book, whatever the check says of it; gives what was said.
    fn typed(&self, book: &str, lines: &[&str]) -> String {
        let file = self.0.path().join("book.toml");
        fs::write(&file, book).expect("written");
        self.run(&["start", path(&file), "--typed", "--unchecked"], &(lines.join("\n") + "\n"))
    }

    /// The same, from the step that tightens on.
    fn tightening(&self, lines: &[&str]) -> String {
        self.typed(BOLTS, &[&["next step", "next step"], lines].concat())
    }
}

fn path(path: &Path) -> &str {
    path.to_str().expect("a path")
}

#[test]
fn what_was_tightened_too_far_is_called_so_wherever_it_is_listed() {
    for (lines, far, other) in [
        (&["reading 30 N·m", "yes"][..], "tightened too far (30 N·m)", "only started by hand"),
        (&["stage complete", "reading 200 degrees", "yes"], "turned too far (200°)", "stage 1 done"),
    ] {
        let bench = Bench::new();
        let shown = bench.tightening(&[lines, &["what is not done", "finish job", "yes", "yes"]].concat());
        let told = format!("over bolt, one: {far}, must be slackened");
        let wrong = [format!("over bolt, one: {other}"), format!("oth cover bolts: {other}")];
        assert_eq!(shown.matches(&told).count(), 3, "asked for, before the end, and in the ledger: {shown}");
        let jobs = bench.run(&["jobs"], "");
        let page = bench.0.path().join("record.html");
        let data = bench.0.path().join("record.json");
        bench.run(&["record", "--html", path(&page), "--json", path(&data)], "");
        let [page, data] = [page, data].map(|file| fs::read_to_string(file).expect("the record"));
        for text in [&shown, &jobs, &page, &data] {
            assert!(text.contains(&told), "{told}: {text}");
            assert!(!wrong.iter().any(|wrong| text.contains(wrong)), "{wrong:?}: {text}");
        }
        assert!(shown.contains("over bolt, two: only started by hand"), "{shown}");
    }
}

#[test]
fn what_is_taken_out_again_has_to_be_started_by_hand_again() {
    let bench = Bench::new();
    let all_done =
        [&["all done"; 6][..], &["go to step 1", "all done", "yes", "finish job", "yes", "yes", "yes"]].concat();
    let shown = bench.typed(BOLTS, &all_done);
    assert!(shown.contains("Open again, because their work was undone: steps 2, 3."), "{shown}");
    assert!(shown.contains("Steps: 1 of 3 done"), "{shown}");
}

#[test]
fn what_is_on_the_bench_is_not_to_be_slackened() {
    let shown = Bench::new().typed(BOLTS, &["all done", "skip this step", "yes", "go to step 2", "all done"]);
    assert!(!shown.contains("slacken"), "{shown}");
    // Where the book starts nothing by hand before it tightens, the tightening does.
    let without = BOLTS.replace("do = [{ hand_start = \"a\" }]", "do = [{ clean = \"cover bolts\" }]");
    let shown = Bench::new().typed(&without, &["all done"; 3]);
    assert!(shown.contains("Cover bolt, one: start it by hand. Then say: "), "{shown}");
    assert!(!shown.contains("slacken"), "{shown}");
}

#[test]
fn who_takes_back_what_came_before_a_turn_was_not_interrupted() {
    for angle in ["angle = \"45 deg\"", "back_off = \"45 deg\"", "slot = \"30 deg\""] {
        let book = BOLTS.replace("angle = \"45 deg\"", angle);
        let again = ["stage complete", "undo the last one", "yes", "stage complete", "next step", "what torque"];
        let shown = Bench::new().typed(&book, &[&["next step"; 2][..], &again].concat());
        let told = "Cover bolt, one: stage 2 was announced before you took that back. Did you turn it? Say: ";
        assert_eq!(shown.matches(told).count(), 3, "{angle}: {shown}");
        assert!(shown.contains(", perhaps turned already."), "{angle}: {shown}");
        assert!(!shown.contains("interrupted"), "{angle}: {shown}");
        // Somebody who does leave it, and comes back, is asked as before.
        let lines = ["next step", "next step", "stage complete", "go back", "next step"];
        let shown = Bench::new().typed(&book, &lines);
        assert!(shown.contains("You were interrupted on the cover bolt, one, stage 2."), "{shown}");
    }
}

#[test]
fn a_doubtful_turn_is_no_dead_end_where_it_is_started_by_hand() {
    let turned = ["stage complete", "stage complete", "undo the last one", "yes", "yes"];
    let too_far = ["stage complete", "reading 200 degrees", "yes", "undo the last one", "yes", "yes"];
    let undone = ["undo the last one", "yes"].repeat(2);
    let ways = ["next step", "all done", "all done", "what torque"];
    for lines in [&turned[..], &too_far] {
        let shown = Bench::new().tightening(&[lines, &undone, &ways].concat());
        let (_, after) = shown.rsplit_once("Taken back").expect("it was taken back");
        let told = "First, cover bolt, one: slacken it fully and start it by hand. Then say: ";
        assert!(after.contains(told) && !after.contains("cannot be started by hand"), "{shown}");
        assert!(
            after.contains("Step 3. Tighten the cover bolts.") && after.contains("Stage 1 of 2: 20 N·m"),
            "{shown}"
        );
    }
}

#[test]
fn a_step_that_tightens_never_says_that_it_does_not() {
    let doubt = ["stage complete", "go back", "next step", "not sure"];
    for ask in ["not sure", "what torque", "which bolt now", "in foot pounds"] {
        let shown = Bench::new().tightening(&[&doubt[..], &[ask]].concat());
        let told = "Cover bolt, one: slacken it fully and start it by hand. Then say: ";
        assert_eq!(shown.matches(told).count(), 2, "{ask}: {shown}");
        assert!(!shown.contains("Nothing is being tightened") && !shown.contains("no torque"), "{ask}: {shown}");
    }
    // Where what comes before it is not done.
    let ways = ["go to step 3", "yes", "not sure", "what torque"];
    let shown = Bench::new().typed(BOLTS, &[&["next step"][..], &ways].concat());
    assert!(!shown.contains("Nothing is being tightened") && !shown.contains("no torque"), "{shown}");
    assert!(shown.contains("Step 2 is open."), "{shown}");
}
