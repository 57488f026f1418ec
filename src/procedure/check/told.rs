//! What the course of a procedure calls the states it brings things to, and the state it goes on with where a deed cannot be done.

use crate::procedure::lawful::{ComponentState, ItemState};
use crate::procedure::model::{Deed, Fastener};
use crate::procedure::shape::list;

/// The state of a fastener after a deed that cannot be done to it, as if it could.
pub(super) fn as_if(state: ItemState, deed: Deed, stages: usize) -> ItemState {
    match deed {
        Deed::Slacken => ItemState::Slackened,
        Deed::Remove => ItemState::Out,
        Deed::Trap => ItemState::Trapped,
        Deed::Hold => ItemState::Holding,
        Deed::HandStart => ItemState::HandStarted,
        Deed::Unlock => state,
        Deed::Lock => ItemState::Locked,
        Deed::Tighten(_) if matches!(state, ItemState::AtStage(_) | ItemState::Final | ItemState::Locked) => state,
        Deed::Tighten(through) => ItemState::with_stages(through.unwrap_or(stages), stages),
    }
}

pub(super) fn words(state: ItemState) -> String {
    match state {
        ItemState::AsFound => "as it was found".to_owned(),
        ItemState::Slackened => "slackened".to_owned(),
        ItemState::Out => "out".to_owned(),
        ItemState::Trapped => "undone, and cannot come out yet".to_owned(),
        ItemState::Holding => "put back only to hold things together".to_owned(),
        ItemState::HandStarted => "started by hand".to_owned(),
        ItemState::AtStage(k) => format!("tightened through stage {k}"),
        ItemState::Final => "in its end state".to_owned(),
        ItemState::Locked => "locked".to_owned(),
        ItemState::Unlocked => "unlocked".to_owned(),
        // No book brings a fastener here.
        ItemState::InDoubt => "perhaps turned, perhaps not".to_owned(),
        ItemState::Scrapped => "scrapped".to_owned(),
    }
}

/// Two states that differ among fasteners that one act takes out or starts by hand: of those, one act before forgot some. What
/// could not come out yet may be started with the others.
pub(super) fn worked_as_one(deed: Deed, before: &[ItemState]) -> Option<(ItemState, ItemState)> {
    let loosened = |state: &ItemState| match (deed, state) {
        (Deed::Remove, ItemState::AsFound) | (Deed::HandStart, ItemState::Slackened) => Some(false),
        (Deed::Remove, ItemState::Slackened) | (Deed::HandStart, ItemState::Out) => Some(true),
        _ => None,
    };
    let one = before.iter().find(|state| loosened(state) == Some(true))?;
    let other = before.iter().find(|state| loosened(state) == Some(false))?;
    Some((*one, *other))
}

pub(super) fn component_words(state: ComponentState) -> &'static str {
    match state {
        ComponentState::On => "on",
        ComponentState::Off => "off",
        ComponentState::Hung => "hung up",
    }
}

pub(super) fn places_of(fastener: &Fastener, places: &[&str]) -> String {
    if fastener.places.len() == 1 || places.len() == fastener.places.len() {
        format!("fastener \"{}\"", fastener.id)
    } else {
        format!("fastener \"{}\" at {}", fastener.id, list(places.iter().copied()))
    }
}

pub(super) fn done(deed: Deed) -> &'static str {
    match deed {
        Deed::Slacken => "slackened",
        Deed::Remove => "removed",
        Deed::Trap => "unscrewed",
        Deed::Hold => "put back to hold",
        Deed::HandStart => "started by hand",
        Deed::Tighten(_) => "tightened",
        Deed::Unlock => "unlocked",
        Deed::Lock => "locked",
    }
}
