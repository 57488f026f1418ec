//! The ledger of a job as text.

use crate::job::{At, Item, ItemState, Job, StepState};
use crate::procedure::{ComponentIx, ConnectionIx, FastenerIx, SupportIx};
use std::fmt::Write;

/// A moment in the user's time zone.
pub fn moment(at: At) -> String {
    jiff::Timestamp::from_millisecond(at.0)
        .map(|t| t.to_zoned_datetime(jiff::tz::TimeZone::system()).strftime("%Y-%m-%d %H:%M %Z").to_string())
        .unwrap_or_else(|_| "an unknown moment".into())
}

/// Where everything stands: fasteners, supports, what is off or open, steps.
pub fn closing(job: &Job) -> String {
    let (book, ledger) = (job.book(), job.ledger());
    let mut text = String::from("Ledger\n");
    let width = book.fasteners.iter().map(|f| f.plural.chars().count()).max().unwrap_or(0);
    for (ix, fastener) in book.fasteners.iter().enumerate() {
        for (place, item) in fastener.places.iter().zip(ledger.items(FastenerIx(ix))) {
            let _ = writeln!(text, "  {:width$}  {place:14}  {}", fastener.name, describe(item, fastener.finish.len()));
        }
    }
    let mut loose = Vec::new();
    loose.extend(
        (0..book.supports.len())
            .filter(|&i| ledger.placed(SupportIx(i)))
            .map(|i| format!("{} in place", book.supports[i].name)),
    );
    for (i, component) in book.components.iter().enumerate() {
        match ledger.component(ComponentIx(i)) {
            crate::job::ComponentState::On => {}
            crate::job::ComponentState::Off => loose.push(format!("{} off", component.name)),
            crate::job::ComponentState::Hung => loose.push(format!("{} hanging", component.name)),
        }
    }
    loose.extend(
        (0..book.connections.len())
            .filter(|&i| !ledger.connected(ConnectionIx(i)))
            .map(|i| format!("{} open", book.connections[i].name)),
    );
    let _ = writeln!(
        text,
        "  besides: {}",
        if loose.is_empty() { "nothing off, hanging, open or propped".into() } else { loose.join(", ") }
    );
    let done = (0..book.steps.len()).filter(|&s| ledger.step(s) == StepState::Done).count();
    let skipped = (0..book.steps.len()).filter(|&s| ledger.step(s) == StepState::Skipped).count();
    let _ = writeln!(text, "  steps: {done} of {} done, {skipped} left open", book.steps.len());
    match job.closed() {
        Some([]) => text.push_str("  The job is closed; nothing is open.\n"),
        Some(open) => {
            let _ = writeln!(text, "  The job is closed with {} points confirmed as open.", open.len());
        }
        None => {
            let open = job.open_points(job.position()).len();
            let _ = writeln!(text, "  The job is not closed; {open} points are open.");
        }
    }
    text
}

fn describe(item: &Item, stages: usize) -> String {
    let mut text = match item.state {
        ItemState::AsFound => "as found".to_owned(),
        ItemState::Slackened => "slackened".into(),
        ItemState::Out => "out".into(),
        ItemState::Trapped => "unscrewed, trapped".into(),
        ItemState::Holding => "put back to hold only".into(),
        ItemState::HandStarted => "started by hand".into(),
        ItemState::AtStage(k) => format!("at stage {k} of {stages}"),
        ItemState::Final => format!("final, stage {stages} of {stages}"),
        ItemState::InDoubt => "IN DOUBT".into(),
        ItemState::Scrapped => "scrapped".into(),
    };
    if item.new {
        text.push_str(", new");
    }
    if item.over {
        text.push_str(", TIGHTENED TOO FAR");
    }
    for (stage, reading) in &item.readings {
        let _ = write!(text, ", read {reading} in stage {}", stage + 1);
    }
    text
}
