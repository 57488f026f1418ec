//! Tools, lay-out list, notes and the record, from outside.

#[path = "common/browser.rs"]
mod browser;
#[path = "common/program.rs"]
mod program;

use browser::{BROWSER, Browser, has};
use program::wrenchside;
use std::fs;
use std::path::{Path, PathBuf};

const ARM: &str = "procedures/tarnfell-front-lower-arm-left.toml";
const TOOLBOX: &str = "docs/toolbox.toml";

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn run(args: &[&str]) -> (i32, String, String) {
    let output = wrenchside().args(args).output().unwrap();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

/// Runs a typed session; gives what was printed.
fn typed(jobs: &Path, args: &[&str], lines: &str) -> String {
    let output = wrenchside().arg("--jobs").arg(jobs).args(args).arg("--typed").write_stdin(lines).output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    text(&output.stdout)
}

fn only_job(jobs: &Path) -> PathBuf {
    let all: Vec<_> = fs::read_dir(jobs).unwrap().map(|e| e.unwrap().path()).collect();
    assert_eq!(all.len(), 1, "{all:?}");
    all[0].clone()
}

const SCENARIOS: [&str; 3] = ["tarnfell-front-lower-arm-left", "tarnfell-cylinder-head", "tarnfell-front-brakes"];

fn scenario(name: &str) -> String {
    format!("audio-fixtures/scenarios/{name}-typed.toml")
}

/// The typed lines of the whole job on the arm.
fn whole_job() -> Vec<String> {
    let text = fs::read_to_string(scenario(SCENARIOS[0])).unwrap();
    let scenario: toml::Value = toml::from_str(&text).unwrap();
    let turns = scenario["turn"].as_array().unwrap();
    turns.iter().filter_map(|t| Some(t.get("typed")?.as_str()?.to_owned())).collect()
}

#[test]
fn set_without_a_toolbox_converts_and_assumes_nothing() {
    let (code, out, _) = run(&["set", "70 N·m"]);
    assert_eq!(code, 0);
    assert!(out.contains("≈ 51.63 lbf·ft") && out.contains("no wrench is assumed"), "{out}");
    let (code, _, err) = run(&["set", "70 N·m", "--adapter", "48 mm@0 deg"]);
    assert_eq!(code, 2);
    assert!(err.contains("--length"), "{err}");
    // FAA AC 43.13-1B, figure 7-2.
    let (code, out, _) = run(&["set", "30 in-lb", "--adapter", "1.5 in@0 deg", "--length", "10 in"]);
    assert_eq!(code, 0);
    assert!(out.contains("26.09 lbf·in"), "{out}");
}

#[test]
fn set_takes_the_wrench_and_says_what_rounding_does() {
    let (code, out, _) = run(&["set", "140 Nm", "--toolbox", TOOLBOX]);
    assert_eq!(code, 0);
    assert!(out.contains("big wrench: set 103 lbf·ft\n"), "{out}");
    assert!(out.contains("rounded to its graduation from 103.3 lbf·ft; at the fastener that is 139.6 N·m"), "{out}");
    let (_, out, _) = run(&["set", "70.0..70.2 Nm", "--toolbox", TOOLBOX]);
    assert!(out.contains("OUTSIDE the window"), "{out}");
    let (_, out, _) = run(&["set", "28 lbf·ft", "--toolbox", TOOLBOX]);
    assert!(out.contains("lowest fifth"), "{out}");
    let (code, _, err) = run(&["set", "300 Nm", "--toolbox", TOOLBOX]);
    assert_eq!(code, 1);
    assert!(err.contains("the highest mark is 150 lbf·ft"), "{err}");
}

#[test]
fn set_refuses_what_it_cannot_read_with_code_2() {
    for (args, says) in [
        (vec!["set", "70"], "unit is missing"),
        (vec!["set", "0 Nm"], "more than 0"),
        (vec!["set", "-5 Nm"], "unexpected argument"),
        (vec!["set", "70 Nm", "--toolbox", "no-such.toml"], "no-such.toml: the toolbox cannot be read"),
        (vec!["set", "70 Nm", "--toolbox", ARM], "front-lower-arm-left.toml: line 6: unknown field"),
        (vec!["set", "70 Nm", "--toolbox", TOOLBOX, "--wrench", "huge"], "big wrench"),
        (vec!["set", "70 Nm", "--toolbox", TOOLBOX, "--adapter", "48"], "LENGTH@ANGLE"),
    ] {
        let (code, _, err) = run(&args);
        assert_eq!(code, 2, "{args:?}: {err}");
        assert!(err.contains(says), "{args:?}: {err}");
    }
}

/// Typed lines that lead to the pinch bolt, the first thing that is tightened.
fn to_the_pinch_bolt() -> String {
    whole_job()[..32].join("\n") + "\nwhat torque\n"
}

#[test]
fn while_tightening_the_wrench_and_the_mark_are_said() {
    let dir = tempfile::tempdir().unwrap();
    let start = ["--toolbox", TOOLBOX, "start", ARM];
    let shown = typed(dir.path(), &start, &to_the_pinch_bolt());
    assert!(shown.contains("38 N·m"), "{shown}");
    assert!(shown.contains("Take the big wrench; set 28 lbf·ft"), "{shown}");
    assert!(shown.contains("lowest fifth"), "{shown}");
    // With the adapter the setting is worked out anew, and a number is no longer the torque at the fastener.
    let lines = "what torque\nadapter 2\nadapter 1\nadapter at 0\nreading 24\nno adapter\nreading 38\nyes\n";
    let shown = typed(dir.path(), &["--toolbox", TOOLBOX, "resume"], lines);
    for piece in [
        "Settings are for no adapter.",
        "no adapter 2 in the toolbox",
        "Crowfoot, at 90°. Settings are worked out",
        "Take the big wrench with the crowfoot; set 28 lbf·ft",
        "Crowfoot, at 0°.",
        "set 25 lbf·ft (37.36 N·m at the fastener)",
        "does not show the torque at the fastener",
        "Is that 38 N·m, not foot pounds?",
        "Logged 38 N·m, asked for 38 N·m.",
    ] {
        assert!(shown.contains(piece), "{piece} is missing in {shown}");
    }
    let journal = fs::read_to_string(only_job(dir.path()).join("journal.jsonl")).unwrap();
    assert!(!journal.contains("adapter") && !journal.contains("\"24\""), "{journal}");
}

#[test]
fn without_a_toolbox_nothing_is_assumed_about_tools() {
    let dir = tempfile::tempdir().unwrap();
    let lines = to_the_pinch_bolt() + "adapter 1\n";
    let shown = typed(dir.path(), &["start", ARM], &lines);
    assert!(shown.contains("38 N·m") && !shown.contains("Take the big wrench"), "{shown}");
    assert!(!shown.contains("; set "), "{shown}");
    assert!(shown.contains("No toolbox is named"), "{shown}");
}

/// The three documents of a job.
fn record(jobs: &Path, into: &Path) -> (String, String, serde_json::Value) {
    let [html, markdown, json] = ["r.html", "r.md", "r.json"].map(|name| into.join(name));
    let output = wrenchside()
        .env("TZ", "Europe/Berlin")
        .arg("--jobs")
        .arg(jobs)
        .arg("record")
        .args([Path::new("--html"), &html, Path::new("--markdown"), &markdown, Path::new("--json"), &json])
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    let read = |path| fs::read_to_string(path).unwrap();
    let (html, markdown) = (read(html), read(markdown));
    all_of_it(&html, &markdown);
    (html, markdown, serde_json::from_str(&read(json)).unwrap())
}

/// All that stands on the page stands in the Markdown as often, but for the drawings and what explains them.
fn all_of_it(html: &str, markdown: &str) {
    let mut rest = html.to_owned();
    for (begin, end) in
        [("<head>", "</head>"), ("<svg", "</svg>"), ("<p class=\"legend", "</p>"), ("<p class=\"small scheme", "</p>")]
    {
        while let Some(at) = rest.find(begin) {
            let to = at + rest[at..].find(end).unwrap() + end.len();
            rest.replace_range(at..to, "");
        }
    }
    let mut plain = String::new();
    let mut signs = markdown.chars();
    while let Some(sign) = signs.next() {
        plain.extend(if sign == '\\' { signs.next() } else { Some(sign) });
    }
    let texts = rest.split('<').filter_map(|piece| piece.split_once('>')).map(|(_, text)| {
        [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&#39;", "'"), ("&amp;", "&")]
            .iter()
            .fold(text.trim().to_owned(), |text, (coded, sign)| text.replace(coded, sign))
    });
    let mut there: std::collections::BTreeMap<String, usize> = std::collections::BTreeMap::new();
    texts.filter(|text| text.chars().any(char::is_alphanumeric)).for_each(|text| *there.entry(text).or_default() += 1);
    assert!(there.len() > 50, "{there:?}");
    for (text, times) in there {
        let wanted = if text.chars().count() > 12 { times } else { 1 };
        assert!(plain.matches(&text).count() >= wanted, "{text} stands {times} times on the page:\n{markdown}");
    }
}

/// Plays the whole job of a scenario and keeps it.
fn play(jobs: &Path, name: &str) {
    let output =
        wrenchside().arg("--jobs").arg(jobs).args(["replay", "--silent", "--keep", &scenario(name)]).output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stdout));
}

fn schema() -> serde_json::Value {
    serde_json::from_str(&fs::read_to_string("docs/record.schema.json").unwrap()).unwrap()
}

#[test]
fn the_documented_schema_is_that_of_the_program() {
    let (code, out, _) = run(&["record", "--schema"]);
    assert_eq!(code, 0);
    let shown: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(shown, schema(), "write it anew: wrenchside record --schema > docs/record.schema.json");
    // It describes every key, and refuses what is no record.
    assert!(!jsonschema::validator_for(&shown).unwrap().is_valid(&serde_json::json!({ "format": 1 })));
    let described = shown["$defs"].as_object().unwrap().values();
    for properties in described.filter_map(|d| d["properties"].as_object()) {
        assert!(properties.values().all(|p| p["description"].is_string()), "{properties:?}");
    }
}

#[test]
fn whole_jobs_on_every_procedure_have_a_record_that_fits_its_schema() {
    let validator = jsonschema::validator_for(&schema()).unwrap();
    for name in SCENARIOS {
        let dir = tempfile::tempdir().unwrap();
        let jobs = dir.path().join("jobs");
        play(&jobs, name);
        let (html, markdown, json) = record(&jobs, dir.path());
        let errors: Vec<String> = validator.iter_errors(&json).map(|e| e.to_string()).collect();
        assert!(errors.is_empty(), "{name}: {errors:?}");
        assert_eq!(json["job"]["state"], "closed");
        let groups = json["fasteners"].as_array().unwrap();
        for item in groups.iter().flat_map(|g| g["items"].as_array().unwrap()) {
            assert_eq!(item["state"], "final", "{name}: {item}");
        }
        for group in groups {
            let stages = group["stages"].as_array().unwrap().len();
            for item in group["items"].as_array().unwrap() {
                assert_eq!(item["stages"].as_array().unwrap().len(), stages, "{name}: {item}");
            }
        }
        assert_eq!(html.matches("<svg").count() - html.matches("class=\"symbol\"").count(), groups.len());
        for page in [&html, &markdown] {
            assert!(
                page.contains("The vehicle maker's manual") || page.contains("The vehicle maker&#39;s manual"),
                "{name}"
            );
            assert!(page.contains("Tarnfell 15 Workshop Manual") && page.contains("Closed, nothing open"), "{name}");
            // A winter's morning in Berlin is an hour ahead.
            assert!(page.contains("+01:00 (") && page.contains(" UTC)"), "{name}");
        }
        assert!(markdown.contains("\nSignature: ...."), "{name}: nowhere to sign");
        nothing_from_outside(&html);
    }
}

#[test]
fn each_round_of_a_job_is_in_its_record() {
    let validator = jsonschema::validator_for(&schema()).unwrap();
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    let file = "audio-fixtures/scenarios/rounds-and-a-power-cut.toml";
    let output = wrenchside().arg("--jobs").arg(&jobs).args(["replay", "--silent", "--keep", file]).output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stdout));
    let (html, markdown, json) = record(&jobs, dir.path());
    assert!(validator.is_valid(&json));
    assert_eq!(json["job"]["variant"], "without anti-lock brakes");
    let steps = json["steps"].as_array().unwrap();
    let rounds = |step: usize| steps[step - 1].get("rounds").and_then(|rounds| rounds.as_array()).map_or(0, Vec::len);
    // One no was taken back; the one that stands began the second round, and that ended with yes.
    assert_eq!((1..=steps.len()).map(rounds).sum::<usize>(), 1);
    assert_eq!((rounds(10), steps[9]["rounds"][0]["round"].as_u64()), (1, Some(1)));
    let told: Vec<_> =
        json["facts"].as_array().unwrap().iter().filter(|f| f["fact"] == "round 1 of step 10: no").collect();
    let taken_back: Vec<bool> = told.iter().map(|fact| fact["taken_back"].is_object()).collect();
    assert_eq!(taken_back, [true, false]);
    for page in [&html, &markdown] {
        assert!(page.contains("done, rounds: 2"), "{page}");
        assert!(page.contains("light van, without anti-lock brakes") && !page.contains("fuse"), "{page}");
        assert!(page.contains("Round 1 of step 10: no"));
        assert!(
            page.contains("Did the fluid come clear and without air?"),
            "the yes that ended it is confirmed by word"
        );
    }
}

/// What does not fit on a sheet, or stands one over the other, in words.
const ON_A_SHEET: &str = r#"(() => {
  const faults = [];
  const named = (e) => e.tagName + " “" + e.textContent.trim().slice(0, 40) + "”";
  const box = (e) => e.getBoundingClientRect();
  for (const e of document.querySelectorAll("h1, h2, h3, p, li, th, td, .signature span")) {
    if (box(e).right > innerWidth + 1 || box(e).left < -1) faults.push("off the sheet: " + named(e));
    if (e.scrollWidth > e.clientWidth + 1 && e.clientWidth) faults.push("cut: " + named(e));
  }
  for (const drawing of document.querySelectorAll("section.group svg")) {
    const labels = [...drawing.querySelectorAll("text")];
    const edge = box(drawing);
    labels.forEach((a, n) => {
      const p = box(a);
      if (p.left < edge.left - 1 || p.right > edge.right + 1 || p.bottom > edge.bottom + 1) faults.push("cut: " + named(a));
      for (const b of labels.slice(n + 1)) {
        const q = box(b);
        const [x, y] = [Math.min(p.right, q.right) - Math.max(p.left, q.left), Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top)];
        if (x > 1 && y > 1) faults.push("one over the other: " + named(a) + " and " + named(b));
      }
    });
  }
  return faults;
})()"#;

#[test]
fn the_record_and_the_lay_out_list_fit_a_sheet() {
    if !has(BROWSER, "the record on paper") {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let mut pages = Vec::new();
    for name in ["tarnfell-cylinder-head", "tarnfell-front-brakes", "tarnfell-angle-gearbox"] {
        let (jobs, into) = (dir.path().join(format!("{name}-jobs")), dir.path().join(name));
        fs::create_dir(&into).unwrap();
        play(&jobs, name);
        record(&jobs, &into);
        pages.push(into.join("r.html"));
    }
    let list = dir.path().join("list.html");
    let (code, _, err) = run(&["--toolbox", TOOLBOX, "layout", ARM, "--html", list.to_str().unwrap()]);
    assert_eq!(code, 0, "{err}");
    pages.push(list);
    for page in pages {
        let mut browser = Browser::open(&format!("file://{}", page.display()));
        browser.until("document.readyState === 'complete'");
        browser.ask("Emulation.setEmulatedMedia", serde_json::json!({ "media": "print" }));
        // A4 between its margins.
        browser.screen(695, 1000);
        let faults = browser.value(ON_A_SHEET);
        assert_eq!(faults, serde_json::json!([]), "{}", page.display());
    }
}

/// No address but those in the page itself and the name of the drawing language.
fn nothing_from_outside(html: &str) {
    let rest = html.replace("http://www.w3.org/2000/svg", "");
    for outside in ["http:", "https:", "//", "<script", "<link", "@import", "url("] {
        assert!(!rest.contains(outside), "{outside}");
    }
}

/// A job with something of everything that can be left open.
const TROUBLE: &[&str] = &[
    "what torque",
    "done",
    "not sure",
    "done",
    "done",
    "reading 70",
    "undo",
    "yes",
    "not sure",
    "note the <b>boot</b> is torn | left",
    "mark it",
    "skip",
    "yes",
    "finish",
    "yes",
    "yes",
    "yes",
    "yes",
    "yes",
    "yes",
    "yes",
];

#[test]
fn what_is_doubted_skipped_and_left_open_is_in_the_record() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    let lines = whole_job()[..32].join("\n") + "\n" + &TROUBLE.join("\n") + "\n";
    let shown = typed(&jobs, &["start", ARM], &lines);
    assert!(shown.contains("Note taken at step 24."), "{shown}");
    let (html, markdown, json) = record(&jobs, dir.path());
    assert!(jsonschema::validator_for(&schema()).unwrap().is_valid(&json));
    assert_eq!(json["job"]["state"], "closed_with_open_points", "{shown}");
    assert_eq!(json["steps"][23]["state"], "skipped");
    assert_eq!(json["steps"][23]["marked"], true);
    let pinch = json["fasteners"].as_array().unwrap().iter().find(|g| g["id"] == "pinch").unwrap();
    assert_ne!(pinch["items"][0]["state"], "final");
    let texts = |key: &str, field: &str| -> Vec<String> {
        let all = json[key].as_array().unwrap().iter();
        all.map(|v| v[field].as_str().unwrap_or_default().to_owned()).collect()
    };
    assert!(texts("confirmed", "question").iter().any(|q| q == "Leave step 24 open?"), "{json:#}");
    // Each kind of what stayed open had a question of its own, and a yes.
    let open: Vec<String> =
        texts("confirmed", "question").into_iter().filter(|q| q.starts_with("Still open: ")).collect();
    let kinds = ["started by hand", "not connected", "in place", "left open", "not done"];
    for kind in kinds {
        assert_eq!(open.iter().filter(|q| q.contains(kind)).count(), 1, "{kind}: {open:#?}");
    }
    assert!(open.iter().all(|q| kinds.iter().filter(|k| q.contains(*k)).count() <= 1), "{open:#?}");
    assert!(texts("facts", "fact").iter().any(|f| f.contains("not certain")), "{json:#}");
    assert!(json["facts"].as_array().unwrap().iter().any(|f| f["taken_back"].is_object()), "{json:#}");
    assert!(!json["open"].as_array().unwrap().is_empty());
    // What somebody typed is text, whatever signs it has.
    assert_eq!(json["notes"][0]["text"], "the <b>boot</b> is torn | left");
    assert!(html.contains("the &lt;b&gt;boot&lt;/b&gt; is torn | left") && !html.contains("<b>boot"));
    assert!(markdown.contains("the \\<b\\>boot\\</b\\> is torn \\| left"), "{markdown}");
    nothing_from_outside(&html);
}

#[test]
fn a_third_bolt_used_means_three_in_the_record() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    // The new pinch bolt breaks, and so does the one after it.
    let broken = "the bolt broke\nyes\ndone\nbroke\nyes\ndone\n";
    let lines = whole_job()[..32].join("\n") + "\n" + broken;
    let shown = typed(&jobs, &["start", ARM], &lines);
    let (html, markdown, json) = record(&jobs, dir.path());
    let pinch = json["fasteners"].as_array().unwrap().iter().find(|g| g["id"] == "pinch").unwrap();
    assert_eq!(pinch["items"][0]["new_used"], 3, "{shown}");
    let part = json["parts"].as_array().unwrap().iter().find(|p| p["name"] == "pinch bolt with nut").unwrap();
    assert_eq!((&part["count"], &part["held"]["new_fasteners"]), (&1.into(), &3.into()), "the book asks for one");
    for page in [&html, &markdown] {
        assert!(page.contains("3 fitted as new") && page.contains("3 new ones used"), "{page}");
    }
}

#[test]
fn a_running_job_is_recorded_while_another_process_works_on_it() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_wrenchside"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg("--jobs")
        .arg(&jobs)
        .args(["start", ARM, "--typed"])
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = std::io::BufRead::lines(std::io::BufReader::new(child.stdout.take().unwrap()));
    assert!(lines.any(|line| line.unwrap().contains("Step 1.")));
    let journal = only_job(&jobs).join("journal.jsonl");
    let before = fs::read(&journal).unwrap();
    let (_, _, json) = record(&jobs, dir.path());
    assert_eq!(fs::read(&journal).unwrap(), before);
    child.kill().unwrap();
    child.wait().unwrap();
    assert_eq!(json["job"]["state"], "running");
    assert!(json["job"]["closed"].is_null());
    assert!(json["fasteners"].as_array().unwrap().iter().all(|g| g["items"][0]["state"] == "as_found"));
    assert!(json["measurements"].as_array().unwrap().iter().all(|m| m["reading"].is_null() && m["within"].is_null()));
}

#[test]
fn a_note_of_sound_is_played_from_the_page_and_its_loss_is_said() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    typed(&jobs, &["start", ARM], "");
    // A note as the session keeps it: the file, then the fact.
    let job = only_job(&jobs);
    let folder = job.join("notes");
    fs::create_dir(&folder).unwrap();
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 16_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut wav = hound::WavWriter::create(folder.join("note-001-step-1.wav"), spec).unwrap();
    (0..8_000).for_each(|_| wav.write_sample(7i16).unwrap());
    wav.finalize().unwrap();
    let mut opened = wrenchside::journal::Folder::open(&job, false).unwrap();
    let note = wrenchside::job::Note::Sound { file: "notes/note-001-step-1.wav".to_owned(), milliseconds: 500 };
    let command = wrenchside::job::Command::Note(note);
    let at = wrenchside::job::At(1_790_000_000_000);
    opened.job.apply(command.clone(), at);
    opened.folder.append(&command, at, &opened.job).unwrap();
    drop(opened);
    let (html, markdown, json) = record(&jobs, dir.path());
    assert!(markdown.contains("notes/note-001-step-1.wav, 0.5 s\n"), "{markdown}");
    assert!(html.contains("<audio controls src=\"data:audio/wav;base64,UklGR"), "{html}");
    assert_eq!((&json["notes"][0]["seconds"], &json["notes"][0]["step"]), (&0.5.into(), &1.into()));
    fs::remove_dir_all(&folder).unwrap();
    let (html, ..) = record(&jobs, dir.path());
    assert!(!html.contains("<audio") && html.contains("not in the folder of the job any more"));
}

#[test]
fn the_lay_out_list_is_printed_compared_and_made_a_page() {
    let dir = tempfile::tempdir().unwrap();
    let page = dir.path().join("layout.html");
    let (code, out, err) = run(&[
        "layout",
        "procedures/tarnfell-cylinder-head.toml",
        "--toolbox",
        TOOLBOX,
        "--html",
        page.to_str().unwrap(),
    ]);
    assert_eq!(code, 0, "{err}");
    for piece in [
        "[ ] T 55 bit socket (yours: T55, 1/2 in)",
        "[ ] 10 × cylinder head bolt (T15-20-214)",
        "[ ] coolant",
        "Small wrench: set 9 N·m",
        "Big wrench: set 44 lbf·ft",
        "Estimated time: 5 h 45 min\n",
    ] {
        assert!(out.contains(piece), "{piece} is missing in {out}");
    }
    let html = fs::read_to_string(&page).unwrap();
    let ticks = html.matches("type=\"checkbox\"").count();
    assert_eq!(ticks, out.matches("[ ] ").count());
    nothing_from_outside(&html);
    assert!(html.contains("Estimated time: 5 h 45 min<"));
    let (_, out, _) = run(&["layout", "procedures/tarnfell-brake-bleeding.toml"]);
    assert!(out.contains("[ ] fuse puller, with anti-lock brakes\n") && out.contains("[ ] measuring jug\n"), "{out}");
    let (_, out, _) = run(&["layout", ARM]);
    assert!(out.contains("Not compared with a toolbox.") && out.contains("In its place: the wheel brace"), "{out}");
    assert!(!out.contains("not in your toolbox"), "{out}");
}

#[test]
fn the_lay_out_list_is_said_on_request_and_by_parts_list_before_the_work() {
    let dir = tempfile::tempdir().unwrap();
    let lines = whole_job()[..16].join("\n") + "\nparts list\nlay out list\n";
    let shown = typed(dir.path(), &["start", ARM], &("parts list\n".to_owned() + &lines));
    assert_eq!(shown.matches("Tools: 19 mm").count() + shown.matches("Tools: 19 millimetre").count(), 2, "{shown}");
    assert!(shown.contains("New fasteners, single use: 2 of pivot bolt"), "{shown}");
    assert!(shown.contains("Pivot bolt with washer: 2"), "{shown}");
}

#[test]
fn a_note_typed_without_words_says_how() {
    let dir = tempfile::tempdir().unwrap();
    let shown = typed(
        dir.path(),
        &["start", ARM],
        "note
Note: Boot torn, left.
undo
yes
",
    );
    assert!(shown.contains("Type a note here"), "{shown}");
    assert!(shown.contains("Note taken at step 1.") && shown.contains("Taken back: the note at step 1."), "{shown}");
    let journal = fs::read_to_string(only_job(dir.path()).join("journal.jsonl")).unwrap();
    assert!(journal.contains(r#"{"note":{"typed":"Boot torn, left."}}"#), "{journal}");
}

/// Plays recordings, with so many seconds of silence behind each, to a session on a new job; gives the job's folder and
/// what was printed.
fn heard(dir: &Path, said: &[(&str, usize)]) -> (PathBuf, String) {
    let file = dir.join("all.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 16_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut wav = hound::WavWriter::create(&file, spec).unwrap();
    for (name, silence) in said {
        let sound = wrenchside::listen::read_sound(&recording(name)).unwrap();
        sound.into_iter().chain(std::iter::repeat_n(0, 16_000 * silence)).for_each(|s| wav.write_sample(s).unwrap());
    }
    wav.finalize().unwrap();
    let jobs = dir.join("jobs");
    let output = wrenchside()
        .arg("--jobs")
        .arg(&jobs)
        .args(["start", ARM, "--wav"])
        .arg(&file)
        .arg("--out")
        .arg(dir.join("answers.wav"))
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    (only_job(&jobs), text(&output.stdout))
}

fn recording(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("audio-fixtures").join(name)
}

const START: &str = "notes/slt-start-note.flac";
const WORDS: &str = "notes/slt-boot-is-torn.flac";
const END: &str = "notes/slt-end-of-note.flac";
const WHERE: &str = "clean/joe-what-step-is-this.flac";

#[test]
fn a_spoken_note_is_kept_without_the_words_that_end_it() {
    let dir = tempfile::tempdir().unwrap();
    let (job, shown) = heard(dir.path(), &[(START, 1), (WORDS, 1), (END, 1), (WHERE, 1)]);
    assert!(shown.contains("> end of note") && shown.contains("Note taken at step 1."), "{shown}");
    assert!(shown.contains("Step 1 of 36."), "{shown}");
    let mut note = hound::WavReader::open(job.join("notes/note-001-step-1.wav")).unwrap();
    assert_eq!((note.spec().sample_rate, note.spec().channels), (16_000, 1));
    // All of the words are in it as they were spoken, and the phrase behind them is not.
    let kept: Vec<i16> = note.samples::<i16>().map(Result::unwrap).collect();
    let holds = |name: &str| {
        let sound = wrenchside::listen::read_sound(&recording(name)).unwrap();
        let middle = &sound[sound.len() / 2..sound.len() / 2 + 1600];
        kept.windows(middle.len()).any(|w| w == middle)
    };
    assert!(holds(WORDS) && !holds(END) && !holds(START));
    let journal = fs::read_to_string(job.join("journal.jsonl")).unwrap();
    assert!(journal.contains("notes/note-001-step-1.wav"), "{journal}");
}

#[test]
fn a_pause_ends_a_note_and_silence_is_none() {
    let dir = tempfile::tempdir().unwrap();
    let (job, shown) = heard(dir.path(), &[(START, 1), (WORDS, 10), (WHERE, 1)]);
    assert!(shown.contains("Note taken at step 1.") && shown.contains("Step 1 of 36."), "{shown}");
    let note = hound::WavReader::open(job.join("notes/note-001-step-1.wav")).unwrap();
    assert!(note.duration() < 16_000 * 6, "the pause is not kept");
    let dir = tempfile::tempdir().unwrap();
    let (job, shown) = heard(dir.path(), &[(START, 10), (WHERE, 1)]);
    assert!(shown.contains("Nothing was said. No note is kept.") && !job.join("notes").exists(), "{shown}");
}

/// The smallest picture there is: one dot.
const DOT: &[u8] = &[
    0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', 0, 0, 0, 13, b'I', b'H', b'D', b'R', 0, 0, 0, 1, 0, 0, 0, 1, 8,
    0, 0, 0, 0, 0x3a, 0x7e, 0x9b, 0x55, 0, 0, 0, 10, b'I', b'D', b'A', b'T', 0x78, 0xda, 0x63, 0x68, 0, 0, 0, 0x82, 0,
    0x81, 0xdd, 0x43, 0x6a, 0xf4, 0, 0, 0, 0, b'I', b'E', b'N', b'D', 0xae, 0x42, 0x60, 0x82,
];

/// A procedure of two steps, each with a picture, in a folder of its own.
fn pictured(pictures: [&str; 2]) -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().unwrap();
    let step = |n: usize| {
        format!("[[step]]\nid = \"s{n}\"\nphase = \"inspect\"\nsay = \"Look at it.\"\npicture = \"{}\"\n", pictures[n])
    };
    let text = format!(
        "format = 2\n[procedure]\nid = \"look\"\ntitle = \"Look\"\nvehicle = \"Tarnfell 15\"\nlanguage = \"en\"\nrevision = \"1\"\n\
         author = \"invented\"\n[source]\ntitle = \"Invented\"\nedition = \"first\"\n{}hold = \"Is it so?\"\n{}",
        step(0),
        step(1)
    );
    fs::create_dir(folder.path().join("figures")).unwrap();
    fs::write(folder.path().join("figures/dot.png"), DOT).unwrap();
    fs::write(folder.path().join("text.png"), "no picture").unwrap();
    let file = folder.path().join("look.toml");
    fs::write(&file, text).unwrap();
    let named = file.to_str().unwrap().to_owned();
    (folder, named)
}

#[test]
fn a_picture_that_cannot_be_shown_is_told_where_it_is_named() {
    for (name, why) in [
        ("figures/none.png", "No such file"),
        ("../look.png", "it does not lie in its folder"),
        ("/etc/look.png", "it does not lie in its folder"),
        ("text.png", "it is no picture in PNG, JPEG, GIF or WebP"),
        ("look.toml", "it is no picture in PNG, JPEG, GIF or WebP"),
        ("figures.png", "No such file"),
    ] {
        let (_folder, file) = pictured(["figures/dot.png", name]);
        let (code, out, err) = run(&["check", &file, "--format", "json"]);
        let json: serde_json::Value = serde_json::from_str(&out).unwrap_or_else(|e| panic!("{e}: {out}{err}"));
        let findings = json[0]["findings"].as_array().unwrap();
        assert_eq!((code, findings.len()), (1, 1), "{name}: {out}");
        let what = findings[0]["what"].as_str().unwrap();
        assert_eq!((&findings[0]["code"], &findings[0]["line"]), (&"picture-missing".into(), &22.into()), "{out}");
        assert!(what.contains(name) && what.contains(why), "{what}");
    }
    let (folder, file) = pictured(["figures/dot.png", "fig. 12, page 3-21"]);
    assert_eq!(run(&["check", &file]).0, 0);
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("/etc/hostname", folder.path().join("out.png")).unwrap();
        fs::write(&file, fs::read_to_string(&file).unwrap().replace("fig. 12, page 3-21", "out.png")).unwrap();
        let (code, _, err) = run(&["check", &file]);
        assert!(code == 1 && err.contains("it does not lie in its folder"), "{err}");
    }
    drop(folder);
}

#[test]
fn a_picture_is_in_the_record_wherever_the_procedure_is_by_then() {
    let (folder, file) = pictured(["figures/dot.png", "figures/dot.png"]);
    let jobs = folder.path().join("jobs");
    typed(&jobs, &["start", &file], "next step\n");
    let job = only_job(&jobs);
    assert_eq!(fs::read(job.join("pictures/figures/dot.png")).unwrap(), DOT);
    fs::remove_dir_all(folder.path().join("figures")).unwrap();
    let page = folder.path().join("record.html");
    let record = || {
        let args = ["--jobs", jobs.to_str().unwrap(), "record", "--html", page.to_str().unwrap()];
        assert_eq!(run(&args).0, 0);
        fs::read_to_string(&page).unwrap()
    };
    // Once, with both steps, and nothing comes from elsewhere.
    let html = record();
    assert_eq!(html.matches("<img src=\"data:image/png;base64,iVBORw0KGgo").count(), 1, "{html}");
    assert!(html.contains("figures/dot.png · Step 1, 2") && html.contains("img-src data:"), "{html}");
    // What is not a picture any more, or leads out of the folder, is only named.
    fs::write(job.join("pictures/figures/dot.png"), "<script>").unwrap();
    let html = record();
    assert!(!html.contains("<img") && html.contains("figures/dot.png") && !html.contains("<script>"), "{html}");
}
