//! `record` and `layout`: documents about a job and before a job.

use super::args::{Layout as LayoutArgs, Record as RecordArgs};
use super::config::Config;
use super::{Failure, find, parts};
use crate::dialogue::Language;
use crate::files;
use crate::journal::{self, Broken};
use crate::layout::Layout;
use crate::procedure::picture;
use crate::record::{Evidence, Given, collect, html, json_schema, layout_page, markdown};
use crate::session::now;
use crate::strip::book::{self, Known};
use crate::strip::{StripLog, of_book};
use jiff::tz::TimeZone;
use std::path::Path;

/// The most of a note that goes into a page: an hour, where notes of this program end after five minutes.
const NOTE: u64 = 128 << 20;

/// Writes the record of a job. With no file named it goes to standard output as Markdown.
pub fn record(config: &Config, args: &RecordArgs) -> Result<(), Failure> {
    if args.schema {
        outln!("{:#}", json_schema());
        return Ok(());
    }
    let (path, is_job) = find::job_or_strip(config, args.job.as_deref())?;
    let (language, manner) = (parts::language(config)?, parts::manner(config)?);
    let mut evidence = Evidence::default();
    let mut see = |seen: journal::Seen<'_>| evidence.see(seen.job, seen.command, seen.at, seen.reply);
    let looked = match is_job {
        true => journal::look(&path, &mut see),
        // As the job that it would be if that were everything.
        false => {
            errln!(
                "wrenchside: a strip-down, and no job yet: what was told so far, and the rebuild as it would be drafted of it"
            );
            journal::look_at_strip(&path, |log, vehicle| so_far(log, vehicle, &language), &mut see)
        }
    };
    let looked = looked.map_err(Failure::unreadable)?;
    let words = language.words(looked.job.book(), &manner);
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let given = Given {
        name: &name,
        sha256: &looked.sha256,
        began: looked.began,
        now: now(),
        zone: TimeZone::system(),
        read_note: &|note| read_note(&path, note),
        read_picture: &|name| picture::read(&path.join(journal::PICTURES), name).ok(),
        put_right: &looked.put_right,
        unchecked: looked.unchecked,
        broken: looked.broken.as_ref(),
    };
    let record = collect(&looked.job, &evidence, &given, &words);
    let mut written = false;
    if let Some(file) = &args.html {
        write(file, &html::page(&record, &words))?;
        written = true;
    }
    if let Some(file) = &args.markdown {
        write(file, &markdown::document(&record, &words))?;
        written = true;
    }
    if let Some(file) = &args.json {
        let text = serde_json::to_string_pretty(&record).map_err(Failure::failed)?;
        write(file, &(text + "\n"))?;
        written = true;
    }
    if !written {
        out!("{}", markdown::document(&record, &words));
    }
    match looked.broken {
        None => Ok(()),
        Some(Broken { line, why }) => Err(Failure::Failed(format!(
            "{}: the record holds what stands before line {line} of the journal, and says so: {why}",
            path.display()
        ))),
    }
}

/// The book of a strip-down, if nothing more came off.
fn so_far(log: &StripLog, vehicle: Option<&str>, language: &Language) -> Result<String, String> {
    if of_book::moments(log).is_empty() {
        return Err("nothing was told yet that a record could hold".to_owned());
    }
    book::book(log, Known { vehicle }, language).map_err(|report| report.to_string())
}

/// The bytes of a note. Only a plain file in the job's own folder for notes is read, whatever a journal names.
fn read_note(job: &Path, note: &Path) -> Option<Vec<u8>> {
    let inside = note.parent() == Some(Path::new("notes"));
    inside.then(|| files::inside(job, note, NOTE).ok()).flatten()
}

/// Lists what to lay out.
pub fn layout(config: &Config, args: &LayoutArgs) -> Result<(), Failure> {
    let (_, book) = parts::procedure(&find::procedure(config, &args.procedure)?)?;
    let toolbox = parts::toolbox(config)?;
    let (language, manner) = (parts::language(config)?, parts::manner(config)?);
    let words = language.words(&book, &manner);
    let today = jiff::ZonedDateTime::now().date();
    let layout = Layout::new(&book, toolbox.as_ref(), today);
    if let Some(file) = &args.html {
        write(file, &layout_page::page(&layout, &book, &words))?;
    }
    out!("{}", layout_page::text(&layout, &book, &words));
    Ok(())
}

fn write(path: &Path, text: &str) -> Result<(), Failure> {
    super::write(path, text.as_bytes(), "cannot be written")
}
