//! A group of fasteners as a picture: where each one sits, in which order it is tightened, how far it is.
//!
//! Knows the procedure and the states of the ledger. The picture is a scheme, worked out from the words for the places
//! and the order of tightening: nobody measured it. It is drawn in black and white; every state has a shape of its own.

mod place;

pub use place::{Spot, spots};

use crate::job::{Item, ItemState};
use crate::procedure::Fastener;
use maud::{Markup, html};

/// Distance of neighbours, in units of the drawing.
const PITCH: f64 = 84.0;
/// Radius of a fastener.
const RADIUS: f64 = 19.0;
/// Room round the outermost ones, for their labels.
const MARGIN: f64 = 52.0;

/// What a fastener looks like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Look {
    /// Nothing was done to it: a thin ring.
    Untouched,
    /// Slackened, out, trapped or only holding: a broken ring.
    Loose,
    /// Started by hand: a thick ring.
    Started,
    /// So many stages of so many: a part of the disc is filled.
    Stage(usize, usize),
    /// Brought to its end state: a full disc with a tick.
    Final,
    /// In doubt, or tightened too far: a question mark.
    Doubt,
    /// Scrapped: a cross.
    Scrapped,
}

impl Look {
    /// The look of an item.
    pub fn of(item: &Item, fastener: &Fastener) -> Look {
        // To be locked is one thing more to do.
        let all = fastener.finish.len() + usize::from(fastener.lock.is_some());
        match item.state {
            _ if item.over => Look::Doubt,
            ItemState::AsFound | ItemState::Unlocked => Look::Untouched,
            ItemState::Slackened | ItemState::Out | ItemState::Trapped | ItemState::Holding => Look::Loose,
            ItemState::HandStarted => Look::Started,
            ItemState::AtStage(done) => Look::Stage(done, all),
            ItemState::Final if fastener.lock.is_some() => Look::Stage(fastener.finish.len(), all),
            ItemState::Final | ItemState::Locked => Look::Final,
            ItemState::InDoubt => Look::Doubt,
            ItemState::Scrapped => Look::Scrapped,
        }
    }
}

/// The drawing of a group. `pending` is the item in hand; `below` gives the line under each place, such as a reading.
pub fn svg(
    fastener: &Fastener,
    items: &[Item],
    pending: Option<usize>,
    title: &str,
    below: impl Fn(usize) -> Option<String>,
) -> Markup {
    let spots = spots(fastener);
    let most = |f: fn(&Spot) -> f64| spots.iter().map(f).fold(0.0, f64::max);
    let (width, height) = (most(|s| s.x) * PITCH + 2.0 * MARGIN, most(|s| s.y) * PITCH + 2.0 * MARGIN);
    let rank = |item: usize| fastener.order.iter().position(|&i| i == item).map_or(0, |r| r + 1);
    html! {
        svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label=(title)
            viewBox={ "0 0 " (shown(width)) " " (shown(height)) } width=(shown(width)) height=(shown(height)) {
            title { (title) }
            @for (i, (spot, item)) in spots.iter().zip(items).enumerate() {
                // Below the second ring, if there is one.
                @let label = if pending == Some(i) { 20.0 } else { 14.0 };
                g transform={ "translate(" (shown(spot.x * PITCH + MARGIN)) " " (shown(spot.y * PITCH + MARGIN)) ")" } {
                    @if pending == Some(i) {
                        circle r=(RADIUS + 7.0) fill="none" stroke="currentColor" stroke-width="4" {}
                        path d="M-8 -38 L8 -38 L0 -28 Z" fill="currentColor" {}
                    }
                    (disc(Look::of(item, fastener)))
                    @if spots.len() > 1 {
                        text x=(RADIUS + if pending == Some(i) { 10.0 } else { 3.0 }) y=(3.0 - RADIUS) class="rank" font-size="15" font-weight="bold" fill="currentColor" { (rank(i)) }
                    }
                    text y=(RADIUS + label) text-anchor="middle" font-size="12" fill="currentColor" { (fastener.places[i]) }
                    @if let Some(below) = below(i) {
                        text y=(RADIUS + label + 13.0) text-anchor="middle" font-size="11" fill="currentColor" { (below) }
                    }
                }
            }
        }
    }
}

/// One fastener by itself, for a legend.
pub fn symbol(look: Look) -> Markup {
    html! {
        svg xmlns="http://www.w3.org/2000/svg" class="symbol" viewBox="-24 -24 48 48" width="18" height="18" aria-hidden="true" { (disc(look)) }
    }
}

fn disc(look: Look) -> Markup {
    let ring = |width: f64, dash: Option<&str>| {
        html! { circle r=(RADIUS) fill="none" stroke="currentColor" stroke-width=(width) stroke-dasharray=[dash] {} }
    };
    html! {
        @match look {
            Look::Untouched => (ring(1.5, None)),
            Look::Loose => (ring(2.5, Some("6 5"))),
            Look::Started => (ring(5.0, None)),
            Look::Stage(done, of) => {
                (ring(2.5, None))
                path d=(wedge(done, of)) fill="currentColor" {}
            }
            Look::Final => {
                circle r=(RADIUS) fill="currentColor" {}
                path class="tick" d="M-9 0 L-3 7 L9 -7" fill="none" stroke="var(--paper, #fff)" stroke-width="4" {}
            }
            Look::Doubt => {
                (ring(2.5, None))
                circle r=(RADIUS - 5.0) fill="none" stroke="currentColor" stroke-width="1.5" {}
                text y="7" text-anchor="middle" font-size="20" font-weight="bold" fill="currentColor" { "?" }
            }
            Look::Scrapped => {
                (ring(2.5, None))
                path d="M-12 -12 L12 12 M-12 12 L12 -12" stroke="currentColor" stroke-width="4" {}
            }
        }
    }
}

/// The part of the disc that is filled, from the top clockwise.
fn wedge(done: usize, of: usize) -> String {
    let part = (done as f64 / of.max(1) as f64).clamp(0.0, 0.999);
    let turn = part * std::f64::consts::TAU;
    let (x, y) = (RADIUS * turn.sin(), -RADIUS * turn.cos());
    format!("M0 0 L0 {} A{RADIUS} {RADIUS} 0 {} 1 {} {} Z", -RADIUS, u8::from(part > 0.5), shown(x), shown(y))
}

/// A coordinate with as many digits as can be seen.
fn shown(value: f64) -> String {
    format!("{:.1}", value + 0.0).trim_end_matches('0').trim_end_matches('.').to_owned()
}
