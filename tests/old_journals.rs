//! Journals that every version of the program wrote, replayed by this one: each comes to the ledger that the version
//! which wrote it told.
//!
//! They lie in `tests/data/journals/VERSION/NAME`: the folder of a job as that version left it (`procedure.toml`,
//! `journal.jsonl`), and in `ledger.json` what its own record says, without the words, which may change. They come from
//! the scenarios in `tests/data/journals/scenarios`. Nothing in the folder of a version is ever changed again. A release
//! adds its own:
//!
//! ```text
//! cargo test --test old_journals -- --ignored
//! WRENCHSIDE_PROGRAM=PATH cargo test --test old_journals -- --ignored      with another program than this one
//! ```

use serde_json::{Value, json};
use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use wrenchside::dialogue::{Language, Manner};
use wrenchside::job::At;
use wrenchside::journal::{self, Folder};
use wrenchside::record::{Evidence, Given, collect};

fn journals() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/journals")
}

fn folders(of: &Path) -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> = fs::read_dir(of).unwrap().map(|entry| entry.unwrap().path()).collect();
    all.retain(|path| path.is_dir() && path.file_name().is_some_and(|name| name != "scenarios"));
    all.sort();
    all
}

/// What a record claims, without its words, in few lines: the wording of a version is no part of what it holds.
fn ledger(record: &Value) -> Value {
    let each = |list: &Value, look: &dyn Fn(&Value) -> Value| -> Value {
        list.as_array().into_iter().flatten().map(look).collect()
    };
    let when = |moment: &Value| moment["utc"].clone();
    let item = |item: &Value| {
        let stages = each(&item["stages"], &|s| json!([s["stage"], when(&s["at"]), s["reading"]]));
        json!([item["place"], item["state"], item["new"], item["over"], item["runs"], stages])
    };
    let words: HashMap<&str, Value> = HashMap::from([
        ("fasteners", each(&record["fasteners"], &|group| json!([group["id"], each(&group["items"], &item)]))),
        (
            "measurements",
            each(&record["measurements"], &|m| json!([m["step"], m["reading"], m["within"], when(&m["at"])])),
        ),
        ("parts", each(&record["parts"], &|part| part["held"].clone())),
        ("steps", each(&record["steps"], &|step| json!([step["state"], when(&step["at"]), step["marked"]]))),
        ("cautions", each(&record["cautions"], &|c| json!([c["say"], c["standing"], c["steps"], c["times"]]))),
        ("open", json!(record["open"].as_array().map_or(0, Vec::len))),
        ("confirmed", each(&record["confirmed"], &|c| json!([when(&c["at"]), c["step"]]))),
        ("notes", each(&record["notes"], &|note| json!([when(&note["at"]), note["step"], note["text"]]))),
        (
            "facts",
            each(&record["facts"], &|f| json!([when(&f["at"]), f["step"], f["reading"], when(&f["taken_back"])])),
        ),
        ("job", json!([record["job"]["state"], record["job"]["step"], when(&record["job"]["closed"])])),
        ("procedure", record["procedure"]["sha256"].clone()),
    ]);
    json!(words)
}

/// One line for each thing, so that a difference is easy to see.
fn written(ledger: &Value) -> String {
    let mut text = String::from("{");
    for (n, (key, value)) in ledger.as_object().unwrap().iter().enumerate() {
        text += if n > 0 { ",\n" } else { "\n" };
        match value.as_array() {
            Some(all) if !all.is_empty() => {
                let all: Vec<String> = all.iter().map(|one| format!("  {one}")).collect();
                text += &format!("{key:?}: [\n{}\n]", all.join(",\n"));
            }
            _ => text += &format!("{key:?}: {value}"),
        }
    }
    text + "\n}\n"
}

/// The record that this program makes of a job.
fn record(path: &Path) -> Value {
    let mut evidence = Evidence::default();
    let looked = journal::look(path, &mut |seen| evidence.see(seen.job, seen.command, seen.at, seen.reply)).unwrap();
    assert_eq!(looked.broken, None, "{}", path.display());
    let given = Given {
        name: "",
        sha256: &looked.sha256,
        began: looked.began,
        now: looked.began,
        zone: jiff::tz::TimeZone::UTC,
        read_note: &|_| None,
        read_picture: &|_| None,
        put_right: &looked.put_right,
        unchecked: looked.unchecked,
        broken: None,
    };
    let language = Language::english();
    let record = collect(&looked.job, &evidence, &given, &language.words(looked.job.book(), &Manner::default()));
    serde_json::to_value(record).unwrap()
}

/// Version 0.1 told of the new fasteners only in how many places there is one, and none that were on no list. Used up
/// were those, and more where one was renewed again.
fn count_by_place(found: &mut Value, told: &Value) {
    let (found, told) = (found["parts"].as_array_mut().unwrap(), told["parts"].as_array().unwrap());
    found.truncate(told.len());
    for (found, told) in found.iter_mut().zip(told) {
        if let (Some(used), Some(places)) = (found["new_fasteners"].as_u64(), told["new_fasteners"].as_u64()) {
            assert!(used >= places, "{used} used in {places} places");
            *found = told.clone();
        }
    }
}

#[test]
fn every_journal_there_is_comes_to_the_ledger_that_its_version_told() {
    let mut count = 0;
    for version in folders(&journals()) {
        for job in folders(&version) {
            let told: Value = serde_json::from_str(&fs::read_to_string(job.join("ledger.json")).unwrap()).unwrap();
            let mut found = ledger(&record(&job));
            if version.ends_with("0.1.0") {
                count_by_place(&mut found, &told);
            }
            let (told, found) = (written(&told), written(&found));
            let differ = told.lines().zip(found.lines()).find(|(a, b)| a != b);
            assert!(told == found, "{}: told, and found now: {differ:?}", job.display());
            count += 1;
        }
    }
    assert!(count >= 10, "{count}");
}

/// Taken up by this program they stand where they stood, and go on.
#[test]
fn every_journal_there_is_is_taken_up_and_written_on() {
    let root = tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir()).unwrap();
    for job in folders(&journals()).iter().flat_map(|version| folders(version)) {
        let copy = root.path().join("job");
        fs::create_dir(&copy).unwrap();
        for file in ["procedure.toml", "journal.jsonl"] {
            fs::copy(job.join(file), copy.join(file)).unwrap();
        }
        let first = job.parent().is_some_and(|version| version.ends_with("0.1.0"));
        let looked = journal::look(&job, &mut |_| {}).unwrap();
        let mut opened = Folder::open(&copy, false).unwrap();
        assert_eq!(opened.job.digest(), looked.job.digest(), "{}", job.display());
        assert_eq!(opened.notices, if first { vec![journal::Notice::Older] } else { Vec::new() });
        let (command, at) = (wrenchside::job::Command::Resume, At(looked.last.unwrap().0 + 1_000));
        assert!(opened.job.apply(command.clone(), at).recorded);
        opened.folder.append(&command, at, &opened.job).unwrap();
        let digest = opened.job.digest();
        drop(opened);
        let again = Folder::open(&copy, false).unwrap();
        assert_eq!((again.job.digest(), again.notices.len()), (digest, 0), "{}", job.display());
        assert_eq!(ledger(&record(&copy))["facts"], ledger(&record(&job))["facts"], "{}", job.display());
        drop(again);
        fs::remove_dir_all(&copy).unwrap();
    }
}

#[test]
#[ignore = "writes the journals of a version; for a release"]
fn journals_of_this_version_are_kept() {
    let program = std::env::var("WRENCHSIDE_PROGRAM").unwrap_or_else(|_| env!("CARGO_BIN_EXE_wrenchside").to_owned());
    let run = |arguments: &[&str], jobs: &Path| {
        let mut command = Command::new(&program);
        command.current_dir(env!("CARGO_MANIFEST_DIR")).arg("--config").arg(jobs.join("config.toml"));
        let output = command.arg("--jobs").arg(jobs.join("jobs")).args(arguments).output().unwrap();
        assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    };
    let scratch = tempfile::tempdir().unwrap();
    fs::write(scratch.path().join("config.toml"), "").unwrap();
    let version = run(&["--version"], scratch.path()).trim().replace("wrenchside ", "");
    let mut scenarios: Vec<PathBuf> =
        fs::read_dir(journals().join("scenarios")).unwrap().map(|entry| entry.unwrap().path()).collect();
    scenarios.sort();
    for scenario in scenarios {
        let jobs = scratch.path().join("jobs");
        let _ = fs::remove_dir_all(&jobs);
        let place = scenario.strip_prefix(env!("CARGO_MANIFEST_DIR")).unwrap();
        run(&["replay", "--silent", "--keep", place.to_str().unwrap()], scratch.path());
        let to = journals().join(&version).join(scenario.file_stem().unwrap());
        fs::create_dir_all(&to).unwrap();
        let job = folders(&jobs).pop().unwrap();
        for file in ["procedure.toml", "journal.jsonl"] {
            fs::copy(job.join(file), to.join(file)).unwrap();
        }
        let record = scratch.path().join("record.json");
        run(&["record", "--json", record.to_str().unwrap()], scratch.path());
        let record: Value = serde_json::from_str(&fs::read_to_string(record).unwrap()).unwrap();
        fs::write(to.join("ledger.json"), written(&ledger(&record))).unwrap();
    }
}
