//! What is loose, off, open or in place at the end of the strip, and which step is undone to give it back.

use crate::procedure::model::*;
use std::collections::{BTreeMap, BTreeSet};

/// How a fastener is left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Loose {
    Slackened,
    Out,
    Trapped,
    /// Out, but put back for the time being.
    Holding,
    HandStarted,
    /// Tight, but what locks it is out.
    Unlocked,
}

impl Loose {
    /// Must it be started by hand before it can be tightened?
    pub(super) fn is_loose(self) -> bool {
        !matches!(self, Loose::HandStarted | Loose::Unlocked)
    }
}

/// A fastener and the step that is undone to bring it back.
#[derive(Debug, Clone, Copy)]
pub(super) struct Track {
    pub loose: Loose,
    pub at: usize,
}

/// The state of everything at the end of the steps there are. Values are steps.
#[derive(Debug, Default)]
pub(super) struct Tracks {
    /// Fasteners, by group and item.
    pub items: BTreeMap<(usize, usize), Track>,
    /// Components that are off or hang.
    pub components: BTreeMap<usize, usize>,
    /// Connections that are open.
    pub connections: BTreeMap<usize, usize>,
    /// Supports that are in place.
    pub supports: BTreeMap<usize, usize>,
    /// States that the vehicle was taken out of.
    pub left: BTreeMap<usize, usize>,
    /// States that the vehicle is in.
    pub held: BTreeSet<usize>,
    /// Steps that put a fastener back to hold, or took that one out again.
    pub temporary: BTreeSet<usize>,
    /// Steps that placed or took away a support that is gone at the end.
    pub lent: BTreeSet<usize>,
}

impl Tracks {
    pub(super) fn of(p: &Procedure) -> Tracks {
        let mut t = Tracks::default();
        for (ix, step) in p.steps.iter().enumerate() {
            for act in &step.acts {
                t.act(ix, act);
            }
        }
        t
    }

    fn act(&mut self, ix: usize, act: &Act) {
        match act {
            Act::Place(s) => {
                self.supports.insert(s.0, ix);
            }
            Act::TakeAway(s) => {
                if let Some(placed) = self.supports.remove(&s.0) {
                    self.lent.extend([placed, ix]);
                }
            }
            Act::Reach(c) => {
                self.held.insert(c.0);
                self.left.remove(&c.0);
            }
            Act::Leave(c) => {
                self.held.remove(&c.0);
                self.left.insert(c.0, ix);
            }
            Act::TakeOff(c) | Act::Hang(c) => {
                self.components.insert(c.0, ix);
            }
            Act::PutOn(c) => {
                self.components.remove(&c.0);
            }
            Act::Disconnect(c) => {
                self.connections.insert(c.0, ix);
            }
            Act::Connect(c) => {
                self.connections.remove(&c.0);
            }
            Act::Fasten { group, items, deed } => {
                for item in items {
                    self.fasten(ix, (group.0, *item), *deed);
                }
            }
            Act::Measure(_) | Act::Clean(_) | Act::Apply(_) => {}
        }
    }

    fn fasten(&mut self, ix: usize, key: (usize, usize), deed: Deed) {
        let before = self.items.get(&key).copied();
        let was_holding = before.is_some_and(|t| t.loose == Loose::Holding);
        let loose = match deed {
            Deed::Slacken => Loose::Slackened,
            Deed::Remove => Loose::Out,
            Deed::Trap => Loose::Trapped,
            Deed::Hold => Loose::Holding,
            Deed::HandStart | Deed::Tighten(Some(_)) => Loose::HandStarted,
            Deed::Unlock if before.is_none() => Loose::Unlocked,
            Deed::Unlock => return,
            Deed::Tighten(None) | Deed::Lock => {
                self.items.remove(&key);
                return;
            }
        };
        // A temporary refit and its end are no part of what the rebuild undoes.
        let temporary = deed == Deed::Hold || (deed == Deed::Remove && was_holding);
        if temporary {
            self.temporary.insert(ix);
        }
        let at = before.filter(|_| temporary).map_or(ix, |t| t.at);
        self.items.insert(key, Track { loose, at });
    }

    /// Those of the fasteners that were put back for the time being, and must come out before they are fitted.
    pub(super) fn holding(&self, started: &[(FastenerIx, Vec<usize>)]) -> Vec<(FastenerIx, Vec<usize>)> {
        let held = |group: &FastenerIx, items: &Vec<usize>| -> Vec<usize> {
            let holding = |i: &usize| self.items.get(&(group.0, *i)).is_some_and(|t| t.loose == Loose::Holding);
            items.iter().copied().filter(holding).collect()
        };
        let held = started.iter().map(|(group, items)| (*group, held(group, items)));
        held.filter(|(_, items)| !items.is_empty()).collect()
    }
}
