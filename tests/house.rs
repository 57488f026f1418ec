//! The house's own order: no source files that `use` one another in a circle, and none too long to be read in one go.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// The most lines of a source file.
const LONGEST: usize = 500;

/// Names of modules, from the root of the program on.
type Name = Vec<String>;

/// Every source file of the program but its tests.
fn sources() -> BTreeMap<Name, String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let (mut folders, mut found) = (vec![root.clone()], BTreeMap::new());
    while let Some(folder) = folders.pop() {
        for path in std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                let stem = path.strip_prefix(&root).unwrap().with_extension("");
                let mut name: Name = stem.iter().map(|part| part.to_str().unwrap().to_owned()).collect();
                name.pop_if(|last| matches!(last.as_str(), "mod" | "lib"));
                found.insert(name, std::fs::read_to_string(&path).unwrap());
            }
        }
    }
    found.retain(|name, _| !name.iter().any(|part| part == "tests"));
    found
}

/// What stands in `use` statements that begin a line: whether it is passed on to others, and the path, as written.
fn used(text: &str) -> Vec<(bool, String)> {
    let code = text.split("#[cfg(test)]\nmod ").next().unwrap_or_default();
    let (mut found, mut rest) = (Vec::new(), code);
    while let Some(line) = rest.lines().next() {
        let (public, tree) = match line.split_once("use ") {
            Some(("", _)) => (false, true),
            Some((before, _)) => (true, before.starts_with("pub") && !before.trim_end().contains(' ')),
            None => (false, false),
        };
        let end = if tree { rest.find(';').unwrap_or(line.len()) } else { line.len() };
        if tree {
            let whole = rest[..end].split_once("use ").unwrap().1.replace(" as ", "@");
            found.extend(paths(whole.split_whitespace().collect()).into_iter().map(|path| (public, path)));
        }
        rest = rest[end..].split_once('\n').map_or("", |(_, after)| after);
    }
    found
}

/// Each path of a tree: `a::{b, c}` is `a::b` and `a::c`. Worked out from the innermost branches.
fn paths(mut tree: String) -> Vec<String> {
    while let Some(open) = tree.rfind('{') {
        let close = open + tree[open..].find('}').unwrap();
        let from = tree[..open].rfind([',', '{']).map_or(0, |at| at + 1);
        let branches = tree[open + 1..close].split(',').filter(|branch| !branch.is_empty());
        let all: Vec<String> = branches.map(|branch| format!("{}{branch}", &tree[from..open])).collect();
        tree.replace_range(from..=close, &all.join(","));
    }
    tree.split(',').map(str::to_owned).collect()
}

/// A path from the root on, without what it is called here; nothing of what is not the program's own.
fn from_root(here: &Name, path: &str, files: &BTreeMap<Name, String>) -> Option<Name> {
    let mut parts: Name = path.split('@').next()?.split("::").map(str::to_owned).collect();
    parts.pop_if(|last| last == "self");
    let up = parts.iter().take_while(|part| *part == "super").count();
    let child = || here.iter().chain(parts.first()).cloned().collect::<Name>();
    let (base, skip) = match parts.first().map(String::as_str) {
        Some("crate") => (0, 1),
        Some("super") => (here.len().checked_sub(up)?, up),
        Some("self") => (here.len(), 1),
        _ if files.contains_key(&child()) => (here.len(), 0),
        _ => return None,
    };
    Some(here[..base].iter().chain(&parts[skip..]).cloned().collect())
}

#[test]
fn no_files_use_one_another_in_a_circle() {
    let files = sources();
    assert!(files.len() > 200, "the sources were not found");
    let (mut passed_on, mut named) = (BTreeMap::new(), Vec::new());
    for (here, text) in &files {
        for (public, path) in used(text) {
            let called = path.rsplit(['@', ':']).next().unwrap_or_default().to_owned();
            match (public, from_root(here, &path, &files)) {
                (true, Some(name)) => drop(passed_on.insert((here.clone(), called), name)),
                (false, Some(name)) => named.push((here, name)),
                (_, None) => {}
            }
        }
    }
    // The file that a name comes from, through whoever passes it on.
    let comes_from = |mut name: Name| loop {
        let at = (0..=name.len()).rev().find(|&at| files.contains_key(&name[..at])).unwrap();
        let next = name.get(at).and_then(|called| passed_on.get(&(name[..at].to_vec(), called.clone())));
        match next {
            Some(next) if *next != name => name = next.iter().chain(&name[at + 1..]).cloned().collect(),
            _ => return name[..at].to_vec(),
        }
    };
    let mut needs: BTreeMap<&Name, BTreeSet<Name>> = BTreeMap::new();
    for (here, name) in named {
        let from = comes_from(name);
        if from != *here {
            needs.entry(here).or_default().insert(from);
        }
    }
    assert!(needs.values().map(BTreeSet::len).sum::<usize>() > 500, "what files use was not found");
    // Whoever needs nobody that is left, or is needed by nobody, can go. What stays is a circle, or lies between two.
    loop {
        let needed: BTreeSet<Name> = needs.values().flatten().cloned().collect();
        let left: BTreeSet<Name> = needs.keys().map(|name| (*name).clone()).collect();
        needs.retain(|name, all| needed.contains(*name) && !all.is_disjoint(&left));
        if needs.len() == left.len() {
            break;
        }
    }
    let circle: Vec<String> = needs.keys().map(|name| name.join("::")).collect();
    assert!(circle.is_empty(), "in a circle, or between two: {circle:?}");
}

#[test]
fn no_source_file_is_too_long() {
    let long = |(name, text): (Name, String)| (text.lines().count() > LONGEST).then(|| name.join("::"));
    let long: Vec<String> = sources().into_iter().filter_map(long).collect();
    assert!(long.is_empty(), "more than {LONGEST} lines: {long:?}");
}
