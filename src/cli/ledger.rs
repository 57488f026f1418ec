//! The ledger of a job as text, in the words of the language.

use crate::dialogue::Words;
use crate::job::{At, Item, Job, StepState};
use crate::procedure::FastenerIx;
use std::fmt::Write;

/// A moment in the user's time zone.
pub fn moment(at: At) -> String {
    if !at.may_be_right() {
        return "before the clock was set".into();
    }
    jiff::Timestamp::from_millisecond(at.0)
        .map(|t| t.to_zoned_datetime(jiff::tz::TimeZone::system()).strftime("%Y-%m-%d %H:%M %Z").to_string())
        .unwrap_or_else(|_| "an unknown moment".into())
}

/// Where everything stands: each fastener, the steps, what is open.
pub fn closing(job: &Job, words: &Words<'_>) -> String {
    let (book, ledger) = (job.book(), job.ledger());
    let l = |key| words.label(key);
    let mut text = format!("{}\n", l("ledger"));
    let longest = |texts: &mut dyn Iterator<Item = &String>| texts.map(|t| t.chars().count()).max().unwrap_or(0);
    let name = longest(&mut book.fasteners.iter().map(|f| &f.name));
    let place = longest(&mut book.fasteners.iter().flat_map(|f| &f.places));
    for (ix, fastener) in book.fasteners.iter().enumerate() {
        for (n, (at, item)) in fastener.places.iter().zip(ledger.items(FastenerIx(ix))).enumerate() {
            let state = describe((FastenerIx(ix), n), item, words);
            let _ = writeln!(text, "  {:name$}  {at:place$}  {state}", fastener.name);
        }
    }
    let count = |state| (0..book.steps.len()).filter(|&s| ledger.step(s) == state).count();
    let (done, skipped) = (count(StepState::Done), count(StepState::Skipped));
    let not_needed = count(StepState::NotNeeded);
    let of = l("glance_of");
    let _ = writeln!(text, "{}: {done} {of} {} {}", l("steps"), book.steps.len(), l("step_done"));
    if skipped > 0 {
        let _ = writeln!(text, "{}: {skipped} {}", l("steps"), l("step_skipped"));
    }
    if not_needed > 0 {
        let _ = writeln!(text, "{}: {not_needed} {}", l("steps"), l("step_not_needed"));
    }
    let now = job.open_points(job.position());
    let (open, state) = match job.closed() {
        Some([]) => (&[][..], "job_closed"),
        Some(open) => (open, "job_closed_open"),
        None if job.is_paused() => (&now[..], "job_paused"),
        None => (&now[..], "job_running"),
    };
    for (n, point) in open.iter().enumerate() {
        let head = if n == 0 { format!("{}:", l("glance_open")) } else { String::new() };
        let _ = writeln!(text, "{head:6} {}", words.open(point));
    }
    let _ = writeln!(text, "{}", l(state));
    text
}

fn describe((group, n): (FastenerIx, usize), item: &Item, words: &Words<'_>) -> String {
    let mut text = words.item_as_it_is(group, n, item);
    if item.new {
        let _ = write!(text, ", {}", words.label("new"));
    }
    for (stage, reading) in &item.readings {
        let (stage_word, read) = (words.label("stage"), words.label("read"));
        let _ = write!(text, "; {stage_word} {}: {read} {}", stage + 1, words.quantity(*reading));
    }
    text
}
