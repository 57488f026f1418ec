//! What the log of a strip-down has to do with the book that came of it: what stands as done in its job, which of its things have spoken
//! names, and what was told of a group later.

use super::book::{key, plain, steps};
use super::{Entry, Name, StripLog, What};
use crate::job::{self, At, Telling};
use crate::procedure::Procedure;
use std::ops::Range;

/// The log as it would be had this been told of a group at the turning point; the group by its key in the book.
pub fn with_told(mut log: StripLog, group: &str, telling: &Telling) -> StripLog {
    let id = log.groups().find(|id| log.entries().get(*id).is_some_and(|entry| key(*id, entry) == group));
    if let Some(id) = id {
        log.tell_later(id, telling);
    }
    log
}

/// What the job has done before it begins: the steps of the strip, and the notes taken between them.
pub fn already_done(log: &StripLog) -> Vec<(job::Command, At)> {
    let began = log.entries().first().map_or(At(0), |entry| entry.at);
    let told = log.standing().filter_map(|(_, entry)| match &entry.what {
        What::Note(note) => Some((job::Command::Note(note.clone()), entry.at)),
        What::OnWheels | What::Changed { instead: true, .. } => None,
        _ => Some((job::Command::Done, entry.at)),
    });
    [(job::Command::Open, began)].into_iter().chain(told).collect()
}

/// The moments of the steps of the strip, in the order in which the book has them.
pub fn moments(log: &StripLog) -> Vec<At> {
    steps(log).map(|(_, entry)| entry.at).collect()
}

/// A thing whose name was spoken, as a book calls it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpokenThing {
    /// The entry of the log that has the recording.
    pub id: usize,
    /// What the book calls it: "bolts, water pump".
    pub called: String,
    /// The part of that which the recording stands for, in bytes.
    pub own: Range<usize>,
}

/// The things of this book whose names were spoken.
pub fn spoken_things(log: &StripLog, book: &Procedure) -> Vec<SpokenThing> {
    let spoken = log.standing().filter(|(_, entry)| matches!(entry.name, Some(Name::Sound { .. })));
    let of = |(id, entry): (usize, &Entry)| {
        let key = key(id, entry);
        let fasteners = book.fasteners.iter().filter(|f| f.id == key).flat_map(|f| [&f.name, &f.plural]);
        let components = book.components.iter().filter(|c| c.id == key).map(|c| &c.name);
        let things =
            book.connections.iter().map(|c| (&c.id, &c.name)).chain(book.supports.iter().map(|s| (&s.id, &s.name)));
        let things = things.filter(|(id, _)| **id == key).map(|(_, name)| name);
        let draft = entry.name.as_ref().and_then(Name::words).map(plain).filter(|draft| !draft.is_empty());
        let mut all: Vec<SpokenThing> = fasteners
            .chain(components)
            .chain(things)
            .filter_map(|called| {
                // What it is stands before its name, and behind that which of several it is.
                let from = called.find(", ")? + 2;
                let own = draft.as_ref().filter(|draft| called[from..].starts_with(draft.as_str()));
                let to = own.map_or(called.len(), |draft| from + draft.len());
                Some(SpokenThing { id, called: called.clone(), own: from..to })
            })
            .collect();
        all.dedup();
        all
    };
    spoken.flat_map(of).collect()
}
