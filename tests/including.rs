//! What several procedures share: put in its place, told where it stands, refused where it does not fit.

use assert_cmd::Command;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use wrenchside::procedure::{self, LoadError, Report};

const HEAD: &str = r#"format = 1

[procedure]
id = "side-cover"
title = "Side cover: take off and refit"
vehicle = "Tarnfell 15, light van"
language = "en"
revision = "1"
author = "The Wrenchside authors"

[source]
title = "Tarnfell 15 Workshop Manual"
edition = "first edition, invented"
"#;

const SHARED: &str = r#"# What holds the van.
[[group]]
id = "chock"

[[support]]
id = "chocks"
name = "wheel chocks"

[[step]]
id = "chock"
phase = "prepare"
say = "Chock the rear wheels."
do = [{ place = "chocks" }]

# And away again.
[[group]]
id = "clear"  # at the end

[[step]]
id = "chocks-out"
phase = "close"
say = "Take away the wheel chocks."
do = [{ take_away = "chocks" }]"#;

const STEP: &str = r#"
[[step]]
id = "look"
phase = "inspect"
say = "Look at the side cover."
"#;

fn include(file: &str, group: &str) -> String {
    match group {
        "" => format!("\n[[include]]\nfile = {file:?}\n"),
        _ => format!("\n[[include]]\nfile = {file:?}\ngroup = {group:?}\n"),
    }
}

fn good() -> String {
    let (first, last) = (include("shared/van.toml", "chock"), include("shared/van.toml", "clear"));
    format!("{HEAD}{first}{STEP}{last}")
}

/// A folder with a procedure and a shared file.
fn folder(procedure: &str, shared: &str) -> (TempDir, PathBuf) {
    let dir = tempfile::tempdir().unwrap();
    fs::create_dir(dir.path().join("shared")).unwrap();
    fs::write(dir.path().join("shared/van.toml"), shared).unwrap();
    let file = dir.path().join("side-cover.toml");
    fs::write(&file, procedure).unwrap();
    (dir, file)
}

fn wrenchside() -> Command {
    let mut command = Command::cargo_bin("wrenchside").unwrap();
    command.env("XDG_CONFIG_HOME", "/nonexistent");
    command
}

fn shown(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Why a file is refused: each finding as file name, line, code and what is wrong.
fn refused(file: &Path) -> Vec<String> {
    let report = match procedure::open(file) {
        Ok(whole) => whole.check(),
        Err(LoadError::Rejected(report)) => report,
        Err(error) => panic!("{error}"),
    };
    told(&report)
}

fn told(report: &Report) -> Vec<String> {
    let one = |f: &procedure::Finding| {
        let place = report.whole.place(&f.span);
        let name = Path::new(place.name()).file_name().unwrap_or_default().to_string_lossy();
        assert!(!f.right.is_empty());
        format!("{name}:{} {} {}", place.begins().0, f.code, f.what)
    };
    report.findings.iter().map(one).collect()
}

#[test]
fn what_is_included_stands_in_its_place() {
    let (_dir, file) = folder(&good(), SHARED);
    assert_eq!(refused(&file), [""; 0]);
    let book = procedure::load(&file).unwrap();
    assert_eq!(book.steps.iter().map(|step| step.id.as_str()).collect::<Vec<_>>(), ["chock", "look", "chocks-out"]);
    // The text stands by itself.
    let whole = procedure::open(&file).unwrap();
    assert_eq!(procedure::parse("copy", whole.text()).unwrap(), book);
    assert!(whole.text().contains("# From shared/van.toml, \"chock\":\n") && !whole.text().contains("[[include]]"));
    assert_eq!(whole.own_text(), good());
}

/// Whatever is taken out of a procedure into a shared file comes in again as it was, wherever it stood.
#[test]
fn any_entries_can_stand_in_another_file() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures/tarnfell-cylinder-head.toml");
    let text = fs::read_to_string(&path).unwrap();
    let book = procedure::load(&path).unwrap();
    let starts: Vec<usize> = text.match_indices("\n[[").map(|(at, _)| at + 1).chain([text.len()]).collect();
    assert!(starts.len() > 40);
    for (at, window) in starts.windows(4).enumerate() {
        let (from, middle, to) = (window[0], window[1], window[3]);
        let shared =
            format!("[[group]]\nid = \"b\"\n{}[[group]]\nid = \"a\"\n{}", &text[middle..to], &text[from..middle]);
        let include = |group| include("shared/van.toml", group);
        let main = format!("{}{}{}{}", &text[..from], include("a"), include("b"), &text[to..]);
        let (_dir, file) = folder(&main, &shared);
        assert_eq!(procedure::load(&file).unwrap_or_else(|e| panic!("{at}: {e}")), book, "{at}");
    }
}

#[test]
fn findings_stand_where_the_text_stands() {
    // In the shared file, with the column; behind it, in the procedure.
    let shared = SHARED.replace("place = \"chocks\"", "place = \"chock\"");
    let main = good().replace("phase = \"inspect\"", "phase = \"inpsect\"");
    let (dir, file) = folder(&main, &shared);
    let found = refused(&file);
    let line = |text: &str, piece: &str| text.lines().position(|line| line.contains(piece)).unwrap() + 1;
    assert!(found.contains(&format!(
        "side-cover.toml:{} choice-unknown \"inpsect\" is not a word for \"phase\"",
        line(&main, "inpsect")
    )));
    let at = line(&shared, "place = \"chock\"");
    assert!(found.iter().any(|one| one.starts_with(&format!("van.toml:{at} ref-unknown"))), "{found:?}");
    // For people and programs it is the same.
    let output = wrenchside().arg("check").arg(&file).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(shown(&output.stderr).contains(&format!("shared/van.toml:{at}:")), "{}", shown(&output.stderr));
    let output = wrenchside().args(["check", "--format", "json"]).arg(&file).output().unwrap();
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let of_shared = json[0]["findings"].as_array().unwrap().iter().find(|f| f["code"] == "ref-unknown").unwrap();
    assert_eq!(of_shared["file"], dir.path().join("shared/van.toml").to_str().unwrap());
    assert_eq!((&of_shared["line"], &of_shared["text"]), (&at.into(), &"\"chock\"".into()));
}

#[test]
fn ids_that_clash_are_told_with_both_places() {
    let clash = good().replace(
        "[[include]]\nfile = \"shared/van.toml\"\ngroup = \"chock\"",
        &format!("{}{}", STEP.replace("\"look\"", "\"chock\""), include("shared/van.toml", "chock")),
    );
    let (_dir, file) = folder(&clash, SHARED);
    let found = refused(&file);
    assert!(found.iter().any(|one| one.starts_with("van.toml:10 id-twice")), "{found:?}");
    let output = wrenchside().arg("check").arg(&file).output().unwrap();
    // The other place cannot be underlined beside it, so it is named.
    assert!(
        shown(&output.stderr).contains("see ") && shown(&output.stderr).contains("side-cover.toml:"),
        "{}",
        shown(&output.stderr)
    );
}

#[test]
fn what_cannot_be_included_is_told() {
    let one = |include: &str, shared: &str, wanted: &str| {
        let (_dir, file) = folder(&format!("{HEAD}{include}{STEP}"), shared);
        let found = refused(&file);
        assert!(found.len() == 1 && found[0].contains(wanted), "{wanted}: {found:?}");
    };
    let van = |group: &str| include("shared/van.toml", group);
    one(
        &include("shared/none.toml", ""),
        SHARED,
        "side-cover.toml:16 include-unreadable \"shared/none.toml\" cannot be included: ",
    );
    for outside in ["/etc/hostname", "../van.toml", "shared/../../van.toml", ""] {
        let (_dir, file) = folder(&format!("{HEAD}{}{STEP}", include(outside, "")), SHARED);
        assert!(!refused(&file).is_empty(), "{outside}");
    }
    one(&include("/etc/hostname", ""), SHARED, "it does not lie in its folder");
    one(&include("shared", ""), SHARED, "it is a folder");
    one(&include("side-cover.toml", ""), SHARED, "side-cover.toml:16 include-unfit the file includes itself");
    one(&van("none"), SHARED, "side-cover.toml:17 include-unfit \"shared/van.toml\" has no group \"none\"");
    one(&van(""), SHARED, "has groups, and none is named");
    one(&van("chock"), STEP, "has no group \"chock\"");
    one(
        &format!("{}{}", van("chock"), van("chock")),
        SHARED,
        "side-cover.toml:20 include-unfit this is included already",
    );
    one("\n[[include]]\ngroup = \"chock\"\n", SHARED, "side-cover.toml:15 key-missing");
    one("\n[[include]]\nfile = \"shared/van.toml\"\ngrupp = \"chock\"\n", SHARED, "key-unknown");
    // Of the shared file itself.
    one(
        &van(""),
        &format!("{}{STEP}", include("other.toml", "")),
        "van.toml:2 include-unfit an included file includes nothing itself",
    );
    one(
        &van(""),
        &format!("consumables = []\n{STEP}"),
        "van.toml:1 include-unfit an included file has no \"consumables\" of its own",
    );
    one(&van(""), "step = [{ id = \"a\" }]\n", "van.toml:1 include-unfit \"step\" stands in no line of its own");
    one(&van(""), "[step]\nid = \"a\"\n", "van.toml:1");
    one(&van(""), "[[step.do]]\nplace = \"a\"\n", "van.toml:1");
    one(&van(""), "[[step]]\nid = \"a\n", "van.toml:2 toml-syntax");
    one(&van("chock"), &format!("{STEP}{SHARED}"), "van.toml:2 include-unfit it stands above the first group");
    one(&van("chock"), &SHARED.replace("\"clear\"", "\"chock\""), "id-twice");
    // What is below it would belong to another step.
    let split = format!("{HEAD}{STEP}{}\n[[step.do]]\nclean = \"the cover\"\n", van("chock"));
    let (_dir, file) = folder(&split, SHARED);
    let found = refused(&file);
    assert!(found.len() == 1 && found[0].contains("it cuts a [[step]] in two"), "{found:?}");
    let (_dir, file) = folder(&split.replace(&van("chock"), "").replace("include", ""), SHARED);
    assert!(procedure::load(&file).is_ok());
    // Without a step above it, it would belong to the last one of what is included.
    let bare = format!("{HEAD}{}\n[[step.do]]\nclean = \"the cover\"\n", van("chock"));
    let (_dir, file) = folder(&bare, SHARED);
    let found = refused(&file);
    assert!(found.len() == 1 && found[0].contains("\"step\" stands in no line of its own"), "{found:?}");
    // Written as a list it has no place.
    let listed = format!("include = [{{ file = \"shared/van.toml\" }}]\n{HEAD}{STEP}");
    let (_dir, file) = folder(&listed, SHARED);
    assert!(refused(&file)[0].contains("\"include\" is no entry"));
}

#[cfg(unix)]
#[test]
fn no_link_leads_out_of_the_folder_and_no_file_is_too_large() {
    let (dir, file) = folder(&format!("{HEAD}{}{STEP}", include("shared/link.toml", "")), SHARED);
    let elsewhere = tempfile::tempdir().unwrap();
    fs::write(elsewhere.path().join("secret.toml"), STEP).unwrap();
    std::os::unix::fs::symlink(elsewhere.path().join("secret.toml"), dir.path().join("shared/link.toml")).unwrap();
    assert!(refused(&file)[0].contains("it does not lie in its folder"));
    fs::remove_file(dir.path().join("shared/link.toml")).unwrap();
    fs::File::create(dir.path().join("shared/link.toml")).and_then(|file| file.set_len(9 << 20)).unwrap();
    assert!(refused(&file)[0].contains("larger than 8 MiB"));
}

/// A name with a line end in it cannot write lines of its own into the text.
#[test]
fn a_name_writes_nothing_into_the_text() {
    let main = format!("{HEAD}{}{STEP}", include("a\nconsumables = []", ""));
    let fetch = &mut |_: &str| Ok(("a".to_owned(), SHARED.split_once("[[group]]").unwrap().0.to_owned()));
    let whole = procedure::together("main", &main, fetch).unwrap();
    assert!(whole.text().contains("# From a consumables = []:\n"), "{}", whole.text());
}

#[test]
fn a_shared_file_is_checked_by_itself() {
    let (dir, _) = folder("", SHARED);
    let file = dir.path().join("shared/van.toml");
    let check = || wrenchside().arg("check").arg(&file).output().unwrap();
    let output = check();
    assert_eq!(output.status.code(), Some(0), "{}", shown(&output.stderr));
    let told = "to be included; its ids, steps and values are checked with each procedure that does.";
    assert!(shown(&output.stdout).contains(told), "{}", shown(&output.stdout));
    fs::write(&file, SHARED.replace("say = \"Chock", "says = \"Chock")).unwrap();
    let output = check();
    assert_eq!(output.status.code(), Some(1));
    assert!(shown(&output.stderr).contains("key-unknown"), "{}", shown(&output.stderr));
    // Without groups it may be a procedure whose head was forgotten.
    fs::write(&file, STEP).unwrap();
    let output = check();
    assert_eq!(output.status.code(), Some(1));
    assert!(shown(&output.stderr).contains("key-missing"), "{}", shown(&output.stderr));
}

/// Opened by a link it is the same procedure: its includes lie beside the file itself, and a job that was begun by the link finds it
/// unchanged.
#[cfg(unix)]
#[test]
fn a_procedure_may_be_a_link() {
    let (_dir, file) = folder(&good(), SHARED);
    let elsewhere = tempfile::tempdir().unwrap();
    let link = elsewhere.path().join("link.toml");
    std::os::unix::fs::symlink(&file, &link).unwrap();
    assert_eq!(procedure::open(&link).unwrap().text(), procedure::open(&file).unwrap().text());
    let jobs = elsewhere.path().join("jobs");
    let run = |arguments: &[&str]| {
        let mut command = wrenchside();
        command.arg("--jobs").arg(&jobs).args(arguments).arg("--typed");
        let output = command.write_stdin("").output().unwrap();
        assert!(output.status.success(), "{}", shown(&output.stderr));
        shown(&output.stdout)
    };
    run(&["start", link.to_str().unwrap()]);
    assert!(!run(&["resume"]).contains("was changed"));
}

#[test]
fn a_job_goes_by_the_text_that_it_was_begun_with() {
    let (dir, file) = folder(&good(), SHARED);
    let jobs = dir.path().join("jobs");
    let run = |arguments: &[&str], typed: &str| {
        let mut command = wrenchside();
        let output =
            command.arg("--jobs").arg(&jobs).args(arguments).arg("--typed").write_stdin(typed).output().unwrap();
        assert!(output.status.success(), "{}", shown(&output.stderr));
        shown(&output.stdout)
    };
    assert!(run(&["start", file.to_str().unwrap()], "done\n").contains("Look at the side cover."));
    let told = "The procedure file was changed since the job began.";
    assert!(!run(&["resume"], "").contains(told));
    // What is shared was changed.
    let shared = dir.path().join("shared/van.toml");
    fs::write(&shared, SHARED.replace("Take away", "Pull away")).unwrap();
    let again = run(&["resume"], "done\n");
    assert!(again.contains(told) && again.contains("Take away the wheel chocks."), "{again}");
    fs::write(&shared, SHARED).unwrap();
    assert!(!run(&["resume"], "").contains(told));
    // It is gone, which tells nothing of what it would say, and the job goes on.
    fs::remove_file(&shared).unwrap();
    let again = run(&["resume"], "done\nfinish\nyes\n");
    assert!(!again.contains(told) && again.contains("closed"), "{again}");
}

#[test]
fn a_draft_keeps_the_includes() {
    let strip = STEP
        .replace("inspect", "strip")
        .replace("\"Look at the side cover.\"", "\"Take off the side cover.\"\ndo = [{ take_off = \"cover\" }]");
    let main = format!(
        "{HEAD}\n[[component]]\nid = \"cover\"\nname = \"side cover\"\n{}{strip}",
        include("shared/van.toml", "chock")
    );
    let (dir, file) = folder(&main, SHARED);
    let output = wrenchside().arg("draft-rebuild").arg(&file).output().unwrap();
    assert!(output.status.success(), "{}", shown(&output.stderr));
    let drafted = shown(&output.stdout);
    assert!(drafted.starts_with(main.trim_end()) && drafted.contains("take_away = \"chocks\""), "{drafted}");
    let whole = dir.path().join("whole.toml");
    fs::write(&whole, &drafted).unwrap();
    assert_eq!(procedure::open(&whole).unwrap().check().errors(), 0);
}
