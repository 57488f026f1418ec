//! `new`: a procedure file begun by questions, by a manual's text, or by the file of the other side. Never over a file that is there.

use super::args::New;
use super::config::Config;
use super::{Failure, ask, find, parts};
use crate::files;
use crate::manuscript::{self, Given};
use crate::values::{self, Shelf};
use std::io::Write;
use std::path::Path;

/// Begins a file.
pub fn new(config: &Config, args: &New) -> Result<(), Failure> {
    // Before anything is asked, and again when it is written.
    if args.file.symlink_metadata().is_ok() {
        return Err(there(&args.file));
    }
    let folder = args.file.parent().filter(|folder| !folder.as_os_str().is_empty());
    if let Some(folder) = folder.filter(|folder| !folder.is_dir()) {
        return Err(Failure::Unreadable(format!(
            "{}: there is no folder {}; make it first, or name another file",
            args.file.display(),
            folder.display()
        )));
    }
    if args.from.is_none() && config.values_named > 0 {
        return Err(Failure::Unreadable("--values gives the values of a text; name the text with --from".into()));
    }
    match (&args.from, &args.mirror) {
        (_, Some(other)) => mirrored(config, &args.file, other),
        (Some(text), None) => from(config, &args.file, text),
        (None, None) => {
            let given = asked(Given { id: id(&args.file), ..Given::default() });
            write(&args.file, &manuscript::blank(&given))?;
            outln!("{}: begun. `wrenchside check` says what is still to be put right.", args.file.display());
            Ok(())
        }
    }
}

fn from(config: &Config, file: &Path, path: &Path) -> Result<(), Failure> {
    let text = read(path)?;
    if is_table(path) || values::parse(&path.display().to_string(), &text).is_ok() {
        return Err(Failure::Unreadable(format!(
            "{0}: a page of values, and no text with steps. To take values from it: --from TEXT --values {0}",
            path.display()
        )));
    }
    let given = asked(Given { id: id(file), ..manuscript::told(&text) });
    let shelf = match given.vehicle.is_empty() {
        true => Shelf::default(),
        false => parts::shelf_for(config, &given.vehicle)?,
    };
    if given.vehicle.is_empty() && config.values_named > 0 {
        return Err(Failure::Unreadable(
            "values are for one vehicle: name it, so that the pages can be compared with it".into(),
        ));
    }
    let drafted = manuscript::from_text(&given, &text, &shelf);
    write(file, &drafted.toml)?;
    outln!(
        "{}: {} of {} lines understood, {} with something to settle; {} places are marked \"# ??\".",
        file.display(),
        drafted.understood,
        drafted.lines,
        drafted.lines - drafted.understood,
        drafted.marks
    );
    Ok(())
}

fn mirrored(config: &Config, file: &Path, other: &str) -> Result<(), Failure> {
    let other = find::procedure(config, other)?;
    let name = other.file_name().unwrap_or_default().to_string_lossy();
    let mirrored = manuscript::mirror(&name, &read(&other)?)
        .map_err(|e| Failure::Unreadable(format!("{}: {}", other.display(), e.message())))?;
    if mirrored.changed.is_empty() {
        return Err(Failure::Failed(format!("{}: nothing in it says left or right", other.display())));
    }
    write(file, &mirrored.toml)?;
    outln!("{}: {} lines changed:", file.display(), mirrored.changed.len());
    for (line, text) in &mirrored.changed {
        outln!("{line:5}  {text}");
    }
    if !mirrored.left.is_empty() {
        outln!("{} lines name a side and were left as they are:", mirrored.left.len());
    }
    for (line, text) in &mirrored.left {
        outln!("{line:5}  {text}");
    }
    outln!("Pages, part numbers and values are those of the other side: look each up.");
    Ok(())
}

/// Asks for what is not known yet; a line each, an empty one for what is to be settled later.
fn asked(mut given: Given) -> Given {
    let questions = [
        ("Title of the job", &mut given.title),
        ("Vehicle", &mut given.vehicle),
        ("Title of the manual that the values come from", &mut given.manual),
        ("Its edition or date", &mut given.edition),
        ("Its chapter (empty for none)", &mut given.chapter),
        ("Your name", &mut given.author),
    ];
    for (question, answer) in questions {
        if answer.is_empty() {
            *answer = ask::question(question);
        }
    }
    let supports = ask::question("What supports the vehicle, with commas between (empty for nothing)");
    let supports = supports.split(',').map(|one| one.trim().to_owned()).filter(|one| !one.is_empty());
    given.supports = supports.collect();
    given
}

/// Is it a table of a spreadsheet, which has values and no steps?
fn is_table(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("csv"))
}

/// The id that goes with the name of a file.
fn id(file: &Path) -> String {
    manuscript::id_of(&file.file_stem().unwrap_or_default().to_string_lossy())
}

fn read(path: &Path) -> Result<String, Failure> {
    files::text(path).map_err(|e| Failure::Unreadable(format!("{}: cannot be read: {e}", path.display())))
}

fn there(file: &Path) -> Failure {
    Failure::Unreadable(format!(
        "{}: it is there already, and nothing is written over; name another file",
        file.display()
    ))
}

fn write(file: &Path, text: &str) -> Result<(), Failure> {
    let refused = |e: std::io::Error| match e.kind() {
        std::io::ErrorKind::AlreadyExists => there(file),
        _ => Failure::Unreadable(format!("{}: cannot be written: {e}", file.display())),
    };
    let mut new = std::fs::File::create_new(file).map_err(refused)?;
    new.write_all(text.as_bytes()).map_err(refused)
}
